"""The paper every figure is drawn on: size, type, ink, title, notes, and the files it ends in.

A figure must say everything in black and white: lines differ in their dashes, areas in their
hatching, and names stand beside what they name. The few colours only help.

Matplotlib keeps its drawing rules in one table for the whole process. `drawing_rules` sets ours
for the length of a block, whatever a user's own settings are, puts the old ones back, and lets
one thread in at a time.
"""

from __future__ import annotations

import functools
import io
import threading
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, NamedTuple

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.text import Text
from matplotlib.textpath import text_to_path
from matplotlib.ticker import MaxNLocator
from scipy.optimize import isotonic_regression

from sweatline.errors import StoreError

INK: Final = "#1a1a1a"
GREY: Final = "#5c5c5c"
FAINT: Final = "#b9b9b9"
COLD: Final = "#1d4f7c"
WARM: Final = "#99400f"

WIDTH: Final = 6.9  # in, of every figure
SIZE: Final = 10.5  # pt
SMALL: Final = 9.5  # pt, the least that is used
_Dashes = tuple[float, tuple[float, ...]]
DASHED: Final[_Dashes] = (0.0, (6.0, 2.0))
DOTTED: Final[_Dashes] = (0.0, (1.2, 2.2))
DASH_DOT: Final[_Dashes] = (0.0, (8.0, 2.0, 1.0, 2.0))
HATCHED: Final[dict[str, Any]] = {
    "facecolor": "none",
    "edgecolor": FAINT,
    "linewidth": 0.0,
    "zorder": 0.5,
    "hatch": "////",
}
_TITLE: Final = 12.5  # pt
_FAMILY: Final = ("STIXGeneral", "DejaVu Sans")  # both come with matplotlib
_MARGIN: Final = 0.12  # in
_INDENT: Final = 0.3  # in, of notes that hang beside a mark
_LEADING: Final = 1.3  # from line to line, in type sizes
_DPI: Final = 160

_RULES: Final[dict[Any, Any]] = {
    "font.family": list(_FAMILY),
    "font.size": SIZE,
    "axes.labelsize": SIZE,
    "axes.labelcolor": INK,
    "axes.edgecolor": INK,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.unicode_minus": True,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "xtick.direction": "out",
    "ytick.direction": "out",
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.major.width": 0.7,
    "ytick.major.width": 0.7,
    "xtick.major.size": 3.5,
    "ytick.major.size": 3.5,
    "text.color": INK,
    "text.parse_math": False,
    "lines.linewidth": 1.3,
    "lines.solid_capstyle": "round",
    "hatch.linewidth": 0.5,
    "hatch.color": "edge",
    "svg.fonttype": "path",
    "svg.hashsalt": "sweatline",
    "path.simplify": True,
}

# What a file says of date and maker, taken out, so that the same figure is the same bytes.
_UNDATED: Final[dict[str, dict[str, None]]] = {
    "svg": {"Date": None, "Creator": None},
    "png": {"Software": None},
}

_ONE_AT_A_TIME = threading.RLock()


@contextmanager
def drawing_rules() -> Iterator[None]:
    """Draw with the project's own rules; the caller's come back at the end."""
    with _ONE_AT_A_TIME, matplotlib.rc_context(), warnings.catch_warnings():
        # A name on the bench may hold letters no shipped type has; an empty box stands for them.
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_RULES)
        yield


def _type(size: float, weight: str = "normal") -> FontProperties:
    return FontProperties(family=list(_FAMILY), size=size, weight=weight)


@functools.cache
def _ruler() -> RendererAgg:
    return RendererAgg(8, 8, _DPI)  # type: ignore[no-untyped-call]


def text_width(text: str, size: float = SIZE, weight: str = "normal") -> float:
    """Width of one line of text, the wider of on a screen's grid and as an outline. [in]"""
    font = _type(size, weight)
    ruler: Any = _ruler()
    fitted, *_ = ruler.get_text_width_height_descent(text, font, ismath=False)
    outline, *_ = text_to_path.get_text_width_height_descent(text, font, ismath=False)
    return max(float(fitted) / _DPI, float(outline) / 72.0)


def wrapped(text: str, width: float, size: float = SIZE, weight: str = "normal") -> list[str]:
    """Text broken at spaces into lines no wider than `width` [in]; a word too long is cut."""

    def fits(line: str) -> bool:
        return text_width(line, size, weight) <= width

    lines = [""]
    for word in text.replace("\n", " ").split(" "):
        rest = word
        while rest:
            # All of a word that fits on a line by itself, else as many letters as do.
            keep = next((n for n in range(len(rest), 1, -1) if fits(rest[:n])), 1)
            longer = f"{lines[-1]} {rest[:keep]}".lstrip(" ")
            if fits(longer) or not lines[-1]:
                lines[-1] = longer
            else:
                lines.append(rest[:keep])
            rest = rest[keep:]
    return lines


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places at least `gap` apart, as near as can be to those wanted, which rise.

    Neighbours that crowd are set evenly about the middle of where they want to be.
    """
    if not wanted:
        return []
    steps = gap * np.arange(len(wanted))
    eased = isotonic_regression(np.asarray(wanted) - steps).x
    places: list[float] = (np.clip(eased, low, high - steps[-1]) + steps).tolist()
    return places


def line_height(size: float = SIZE) -> float:
    """From one line of text to the next. [in]"""
    return size * _LEADING / 72.0


def _note_height(indent: float) -> float:
    """Height of a line of a note; a ring needs more of it. [in]"""
    return line_height(SMALL) * (1.22 if indent else 1.0)


def mark(
    axes: Axes,
    x: float,
    y: float,
    marker: Any = "o",
    *,
    size: float = 6.0,
    color: str = INK,
    filled: bool = True,
    clip: bool = True,
) -> None:
    """One point, drawn above all lines."""
    axes.plot([x], [y], color=color, zorder=6, clip_on=clip, **look(marker, size, color, filled))


def look(marker: Any, size: float, color: str = INK, filled: bool = True) -> dict[str, Any]:
    """How a point looks, on axes and in a key."""
    fill = color if filled else "white"
    return {"ls": "None", "marker": marker, "ms": size, "mfc": fill, "mec": color, "mew": 1.3}


class Note(NamedTuple):
    """A paragraph beneath a figure, with a ringed mark before it if there is one."""

    text: str
    mark: str = ""


@dataclass(slots=True)
class Paper:
    """A figure that grows downward: title, then drawing, then notes, in inches.

    Parameters
    ----------
    title : str
        Bold first lines.
    subtitle : str
        What the figure shows.
    height : float
        Of the space for drawing between subtitle and notes. [in]
    notes : sequence of Note
        Paragraphs beneath.
    """

    title: str
    subtitle: str
    height: float
    notes: Sequence[Note] = ()
    width: float = WIDTH
    figure: Figure = field(init=False)
    top: float = field(init=False)  # in, upper edge of the space for drawing
    bottom: float = field(init=False)  # in, its lower edge
    full: float = field(init=False)  # in, height of the whole figure

    def __post_init__(self) -> None:
        room = self.width - 2.0 * _MARGIN
        heads = wrapped(self.title, room, _TITLE, "bold")
        subs = wrapped(self.subtitle, room)
        # Notes with a mark hang beside it.
        feet = [
            (note.mark if k == 0 else "", _INDENT if note.mark else 0.0, line)
            for note in self.notes
            for k, line in enumerate(
                wrapped(note.text, room - (_INDENT if note.mark else 0.0), SMALL)
            )
        ]
        head = len(heads) * line_height(_TITLE) + len(subs) * line_height() + 0.1
        foot = sum(_note_height(f[1]) for f in feet) + (0.08 if feet else 0.0)
        self.full = head + self.height + foot + 2.0 * _MARGIN
        self.bottom = _MARGIN + foot
        self.top = self.bottom + self.height
        self.figure = Figure(figsize=(self.width, self.full), dpi=_DPI, facecolor="white")
        FigureCanvasAgg(self.figure)
        y = self.full - _MARGIN
        for line in heads:
            self.write(_MARGIN, y, line, size=_TITLE, weight="bold", va="top")
            y -= line_height(_TITLE)
        for line in subs:
            self.write(_MARGIN, y, line, color=GREY, va="top")
            y -= line_height()
        y = self.bottom - 0.08
        for mark, indent, line in feet:
            self.write(_MARGIN + indent, y, line, size=SMALL, color=GREY, va="top")
            if mark:
                middle = y - 0.5 * SMALL / 72.0
                self.write(_MARGIN + 0.11, middle, mark, size=SMALL, ha="center", ringed=True)
            y -= _note_height(indent)

    def axes(
        self,
        left: float,
        low: float,
        width: float,
        height: float,
        *,
        share: Axes | None = None,
        title: str = "",
        ticks: tuple[int, int] = (8, 6),
    ) -> Axes:
        """Axes at a place counted from the left edge and from `bottom`. [in]

        Parameters
        ----------
        share : Axes, optional
            Axes above or below, with the same horizontal limits.
        title : str
            Above the upper left corner.
        ticks : (2,) ints
            At most so many, across and upward.
        """
        frame = (
            left / self.width,
            (self.bottom + low) / self.full,
            width / self.width,
            height / self.full,
        )
        ax = self.figure.add_axes(frame, sharex=share, facecolor="white")
        for axis, most in zip((ax.xaxis, ax.yaxis), ticks, strict=True):
            axis.set_major_locator(MaxNLocator(most, steps=[1, 2, 4, 5, 10], min_n_ticks=3))
        if title:
            white = {"boxstyle": "square,pad=0.05", "facecolor": "white", "edgecolor": "none"}
            ax.set_title(title, loc="left", fontsize=SIZE, pad=4.0, bbox=white)
        return ax

    def write(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = SIZE,
        color: str = INK,
        weight: str = "normal",
        ha: str = "left",
        va: str = "baseline",
        ringed: bool = False,
    ) -> Text:
        """Text at a place counted from the lower left corner of the figure. [in]"""
        if ringed:
            va = "center"
        ring = {"boxstyle": "circle,pad=0.12", "facecolor": "white", "edgecolor": INK, "lw": 0.8}
        return self.figure.text(
            x / self.width,
            y / self.full,
            text,
            fontproperties=_type(size, weight),
            color=color,
            horizontalalignment=ha,
            verticalalignment=va,
            parse_math=False,
            bbox=ring if ringed else None,
        )

    def line(self, x: Sequence[float], y: Sequence[float], *, color: str = GREY) -> None:
        """Thin line, beneath everything, through places counted as in `write`. [in]"""
        self.figure.add_artist(
            Line2D(
                [v / self.width for v in x],
                [v / self.full for v in y],
                color=color,
                linewidth=0.7,
                zorder=-1.0,
                transform=self.figure.transFigure,
            )
        )

    def svg(self) -> str:
        """The figure as SVG, without a date."""
        return self._drawn("svg", _UNDATED["svg"]).decode()

    def _drawn(self, form: str, nobody: dict[str, None]) -> bytes:
        drawn = io.BytesIO()
        title = {"Title": f"{self.title}. {self.subtitle}"}
        self.figure.savefig(drawn, format=form, dpi=_DPI, metadata=nobody | title)
        return drawn.getvalue()

    def save(self, folder: Path, stem: str) -> list[Path]:
        """Write `stem`.svg and `stem`.png: the same bytes for the same figure, no dates.

        Raises
        ------
        StoreError
            The folder or a file in it cannot be written.
        """
        written = []
        for form, nobody in _UNDATED.items():
            path = folder / f"{stem}.{form}"
            try:
                folder.mkdir(parents=True, exist_ok=True)
                path.write_bytes(self._drawn(form, nobody))
            except OSError as error:
                reason = error.strerror or type(error).__name__
                raise StoreError(
                    what=f"a figure cannot be written: {reason}", path=str(path)
                ) from error
            written.append(path)
        return written

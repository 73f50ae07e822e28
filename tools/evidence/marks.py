"""What all pictures of the evidence page share: marks, numbers at axes, and the file they become.

Each picture carries in its description the numbers that it shows, rounded, so that a picture that
is out of date can be told from one that another machine drew a hair differently.
"""

import io
import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator
from tools.evidence.values import STATUSES, Value

from sweatline.report.paper import COLD, INK, SMALL, WARM, Paper, drawing_rules

WIDTH = 3.6  # in: as wide as a phone shows without shrinking the type
BAND = "#e7e7e7"
WHITE = "#ffffff"

# marker, filled, size: told apart in black and white
MARKS = {
    "PUBLISHED": ("o", True, 4.6),
    "MEMORY": ("o", False, 4.6),
    "common practice": ("D", False, 4.4),
}


def slug(text: str) -> str:
    """A text as a file name and an anchor."""
    simple = text.casefold().replace("ü", "ue").replace("°", "deg ").replace("%", "percent")
    return re.sub(r"[^a-z0-9]+", "-", simple).strip("-")


@contextmanager
def rules() -> Iterator[None]:
    """The figures' rules, but with text that stays text: it can be read aloud and searched."""
    with drawing_rules():
        matplotlib.rcParams["svg.fonttype"] = "none"
        yield


_FONT = re.compile(r"'STIXGeneral', 'DejaVu Sans'")
_COORDINATE = re.compile(r"(?<=[ \"])-?\d+\.\d{3,}(?=[ \"\n])")


def svg(paper: Paper, shown: str) -> str:
    drawn = io.BytesIO()
    facts = {"Date": None, "Creator": None, "Title": paper.title, "Description": shown}
    paper.figure.savefig(drawn, format="svg", metadata=facts)
    text = drawn.getvalue().decode("utf-8")
    head, body = text.split("</metadata>", 1)
    # The type of the figures is as wide as Times, which is what other machines have.
    body = _FONT.sub("'STIX Two Text', 'Times New Roman', Times, serif", body)
    body = _COORDINATE.sub(lambda found: f"{float(found[0]):.2f}", body)
    return f"{head}</metadata>{body}"


def put_marks(axes: Axes, points: Sequence[tuple[float, float, Value]]) -> None:
    """A mark for each value: its status by the shape, what is not met in another colour."""
    groups: defaultdict[tuple[bool, str], list[tuple[float, float]]] = defaultdict(list)
    for x, y, value in points:
        groups[not value.met, value.word].append((x, y))
    for (missed, word), places in sorted(groups.items()):
        marker, filled, size = MARKS[word]
        color = WARM if missed else COLD
        axes.plot(
            [x for x, _ in places], [y for _, y in places], linestyle="none", marker=marker,
            markersize=size, markeredgewidth=1.0, markeredgecolor=color,
            markerfacecolor=color if filled else WHITE, zorder=4.0 if missed else 3.0,
            clip_on=False,
        )  # fmt: skip


def look(word: str) -> dict[str, Any]:
    """How a mark is drawn beside its name."""
    marker, filled, size = MARKS.get(word, ("s", True, 4.6))
    color = COLD if word in MARKS else WARM
    return {
        "linestyle": "none", "marker": marker, "markersize": size, "markeredgewidth": 1.0,
        "markeredgecolor": color, "markerfacecolor": color if filled else WHITE,
    }  # fmt: skip


def legend(axes: Axes, values: Sequence[Value]) -> None:
    words = [word for word in STATUSES if any(v.word == word for v in values)]
    words += ["not met"] * (not all(v.met for v in values))
    for k, word in enumerate(words):
        place: dict[str, Any] = {"transform": axes.transAxes, "zorder": 5.0}
        y = 0.955 - 0.075 * k
        axes.plot([0.045], [y], **look(word), **place)
        axes.text(0.085, y, word, fontsize=SMALL, va="center", color=INK, **place)


def keys_in_rows(paper: Paper, words: Sequence[str], top: float) -> None:
    """Marks and their names, in rows of three, from `top` [in] above the lower edge."""
    for k, word in enumerate(words):
        x, y = 0.2 + 1.1 * (k % 3), paper.bottom + top - 0.2 * (k // 3)
        mark = Line2D(
            [x / paper.width], [y / paper.full], transform=paper.figure.transFigure, **look(word)
        )
        paper.figure.add_artist(mark)
        paper.write(x + 0.09, y - 0.045, word, size=SMALL)


_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def plain(x: float, _place: int = 0) -> str:
    """A number at an axis."""
    if x == 0.0 or 1e-3 <= abs(x) < 1e5:
        return f"{x:.6g}".replace("-", "−")
    digits, power = f"{x:.1e}".split("e")
    digits = digits.removesuffix(".0").replace("-", "−")
    raised = str(int(power)).translate(_RAISED)
    return f"10{raised}" if digits == "1" else f"{digits}·10{raised}"


def even(count: int) -> MaxNLocator:
    return MaxNLocator(count, steps=[1, 2, 5, 10])

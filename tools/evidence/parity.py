"""Parity plots: ours over printed, and beneath it how far off each value is."""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from matplotlib.axes import Axes
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator
from tools.evidence.marks import (
    BAND,
    WHITE,
    WIDTH,
    even,
    legend,
    plain,
    put_marks,
    rules,
    slug,
    svg,
)
from tools.evidence.values import Record, Value

from sweatline.report.paper import FAINT, GREY, SIZE, SMALL, WARM, Note, Paper, spread

LEAST = 5  # different printed values in one unit that make a parity plot
DECADES = 1.3  # of the printed values, from which on axes are logarithmic


@dataclass(frozen=True, slots=True)
class Panel:
    """Values of one model in one unit, with their numbers in the model's table."""

    model: str
    unit: str
    values: tuple[tuple[int, Value], ...]

    @property
    def stem(self) -> str:
        """Name of the picture."""
        return slug(f"{self.model} {self.unit}")

    @property
    def shown(self) -> str:
        """What the picture shows, in numbers."""
        return "; ".join(
            f"{i} {v.word} {v.printed:.5g} {v.ours:.5g} {v.tolerance:.3g} "
            f"{'met' if v.met else 'not met'}"
            for i, v in self.values
        )


def panels(record: Record) -> list[Panel]:
    """Parity plots: at least `LEAST` different printed values other than 0 in one unit.

    A printed 0 is a difference and no quantity: it has no place on an axis of sizes.
    """
    found = []
    for model, values in record.models.items():
        groups: defaultdict[str, list[tuple[int, Value]]] = defaultdict(list)
        for i, value in enumerate(values, start=1):
            if value.printed != 0.0 and math.isfinite(value.ours):
                groups[value.unit].append((i, value))
        for unit, numbered in groups.items():
            if len({f"{v.printed:.4g}" for _, v in numbered}) >= LEAST:
                found.append(Panel(model, unit, tuple(numbered)))
    return found


def _log_ticks(low: float, high: float) -> list[float]:
    decades = math.log10(high / low)
    steps = (1.0,) if decades > 3.0 else (1.0, 3.0) if decades > 1.6 else (1.0, 2.0, 5.0)
    first, last = math.floor(math.log10(low)), math.ceil(math.log10(high))
    every = max(1, math.ceil(decades / 5.0))
    return [
        step * 10.0**k
        for k in range(first, last + 1, every)
        for step in steps
        if low <= step * 10.0**k <= high
    ]


def _limits(panel: Panel) -> tuple[bool, float, float]:
    values = [v for _, v in panel.values]
    seen = [v.printed for v in values] + [v.ours for v in values]
    low, high = min(seen), max(seen)
    log = low > 0.0 and math.log10(high / low) > DECADES
    if log:
        room = (high / low) ** 0.07
        return True, low / room, high * room
    room = 0.07 * (high - low)
    return False, low - room, high + room


def _in_percent(panel: Panel) -> bool:
    """Whether deviations are better told as a share of the printed value."""
    relative = sum(v.kind == "relative" for _, v in panel.values)
    return 2 * relative >= len(panel.values)


def _off(value: Value, *, percent: bool) -> tuple[float, float]:
    """Deviation and tolerance."""
    size = abs(value.printed)
    half = value.tolerance * (size if value.kind == "relative" else 1.0)
    scale = 100.0 / size if percent else 1.0
    return scale * (value.ours - value.printed), scale * half


def _band(axes: Axes, panel: Panel, low: float, high: float, *, percent: bool | None) -> None:
    """What is allowed: one band where all values allow the same, else a bar at each.

    About the diagonal, or about zero in per cent or not.
    """
    values = [v for _, v in panel.values]
    if len({(v.kind, v.tolerance) for v in values}) == 1:
        points = 60
        if axes.get_xscale() == "log":
            x = [low * (high / low) ** (k / points) for k in range(points + 1)]
        else:
            x = [low + (high - low) * k / points for k in range(points + 1)]
        like = values[0]
        at = [replace(like, printed=v, ours=v) for v in x if v != 0.0]
        half = [_off(v, percent=bool(percent))[1] for v in at]
        middle = [v.printed if percent is None else 0.0 for v in at]
        axes.fill_between(
            [v.printed for v in at],
            [m - h for m, h in zip(middle, half, strict=True)],
            [m + h for m, h in zip(middle, half, strict=True)],
            color=BAND,
            linewidth=0.0,
            zorder=0.5,
        )
        return
    for v in values:
        half_width = _off(v, percent=bool(percent))[1]
        centre = v.printed if percent is None else 0.0
        axes.plot(
            [v.printed] * 2, [centre - half_width, centre + half_width], color=BAND, linewidth=4.5,
            solid_capstyle="butt", zorder=0.5,
        )  # fmt: skip


COLUMNS = 2  # of row numbers beside a plot


def _numbers(axes: Axes, missed: Sequence[tuple[int, Value]]) -> None:
    """Row numbers of the values not met, beside the plot at the height of their marks."""
    height = axes.bbox.height / axes.figure.dpi
    gap = LABEL_GAP / height
    to_axes = axes.transData + axes.transAxes.inverted()
    marks = []
    for i, value in missed:
        x, y = to_axes.transform((value.printed, value.ours))
        marks.append((float(y), float(x), i))
    marks.sort()
    count = math.ceil(len(marks) / _rows_of_labels(height))
    for c in range(count):
        column = marks[c::count]
        heights = spread([y for y, _, _ in column], gap, 0.0, 1.0)
        side = 1.03 + 0.105 * c
        for (y, x, i), at in zip(column, heights, strict=True):
            axes.plot(
                [x, side - 0.008], [y, at], color=FAINT, linewidth=0.6, transform=axes.transAxes,
                clip_on=False, zorder=1.0 - 0.1 * c,
            )  # fmt: skip
            axes.text(
                side, at, str(i), fontsize=SMALL, color=WARM, transform=axes.transAxes,
                va="center", ha="left", zorder=2.0,
                bbox={"facecolor": WHITE, "edgecolor": "none", "pad": 0.4},
            )  # fmt: skip


LABEL_GAP = 1.08 * SMALL / 72.0  # in, from one row number to the next


def _rows_of_labels(height: float) -> int:
    return int(height / LABEL_GAP) + 1


def draw(panel: Panel) -> str:
    """Ours over printed with the band of the tolerance, and beneath it how far off each is."""
    values = [v for _, v in panel.values]
    unit = panel.unit or "no unit"
    missed = [(i, v) for i, v in panel.values if not v.met]
    left, side = 0.6, 2.42
    labelled = sorted(missed, key=lambda m: -abs(m[1].share))[: COLUMNS * _rows_of_labels(side)]
    note = "Grey: what is allowed."
    if missed:
        which = "" if len(labelled) == len(missed) else f", the {len(labelled)} farthest off"
        note += f" Numbers: values not met, as in the table{which}."
    met = sum(v.met for v in values)
    with rules():
        paper = Paper(
            title=panel.model[:1].upper() + panel.model[1:],
            subtitle=f"Ours against printed, {unit}; {met} of {len(values)} met",
            height=4.4,
            notes=[Note(note)],
            width=WIDTH,
        )
        above = paper.axes(left, 1.86, side, side)
        below = paper.axes(left, 0.5, side, 1.0, share=above)
        log, low, high = _limits(panel)
        for axes in (above, below):
            if log:
                axes.set_xscale("log")
            axes.set_xlim(low, high)
        if log:
            above.set_yscale("log")
        above.set_ylim(low, high)
        for axis in (above.xaxis, above.yaxis):
            axis.set_minor_locator(NullLocator())
            axis.set_major_locator(FixedLocator(_log_ticks(low, high)) if log else even(4))
            axis.set_major_formatter(FuncFormatter(plain))
        above.tick_params(labelbottom=False)
        above.plot([low, high], [low, high], color=GREY, linewidth=0.8, zorder=1.0)
        _band(above, panel, low, high, percent=None)
        percent = _in_percent(panel)
        off = [_off(v, percent=percent) for v in values]
        most = 1.08 * max(max(abs(deviation), half) for deviation, half in off)
        below.set_ylim(-most, most)
        below.axhline(0.0, color=GREY, linewidth=0.8, zorder=1.0)
        _band(below, panel, low, high, percent=percent)
        below.yaxis.set_major_locator(even(4))
        below.yaxis.set_major_formatter(FuncFormatter(plain))
        put_marks(above, [(v.printed, v.ours, v) for v in values])
        put_marks(below, [(v.printed, d, v) for v, (d, _) in zip(values, off, strict=True)])
        by = "%" if percent else panel.unit
        above.text(0.0, 1.03, "ours", fontsize=SIZE, transform=above.transAxes)
        below.text(0.0, 1.08, f"off by{', ' * bool(by)}{by}", transform=below.transAxes)
        below.set_xlabel("printed")
        legend(above, values)
        paper.figure.draw_without_rendering()
        _numbers(above, labelled)
        return svg(paper, panel.shown)

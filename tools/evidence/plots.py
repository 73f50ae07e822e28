"""Pictures of the evidence page: ours against printed, and all deviations on one scale.

Each picture carries in its description the numbers that it shows, rounded, so that a picture that
is out of date can be told from one that another machine drew a hair differently.
"""

import io
import math
import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullLocator
from tests.evidence import Section
from tools.evidence.values import ORDER, STATUSES, Record, Value, by_basis

from sweatline.report.paper import (
    COLD,
    FAINT,
    GREY,
    INK,
    SIZE,
    SMALL,
    WARM,
    Note,
    Paper,
    drawing_rules,
    spread,
    text_width,
    wrapped,
)

WIDTH = 3.6  # in: as wide as a phone shows without shrinking the type
LEAST = 5  # different printed values in one unit that make a parity plot
DECADES = 1.3  # of the printed values, from which on axes are logarithmic
BAND = "#e7e7e7"
WHITE = "#ffffff"

# marker, filled, size: told apart in black and white
MARKS = {
    "PUBLISHED": ("o", True, 4.6),
    "MEMORY": ("o", False, 4.6),
    "common practice": ("D", False, 4.4),
    "COMPUTED": ("+", True, 5.4),
}


@dataclass(frozen=True, slots=True)
class Panel:
    """Values of one model in one unit, with their numbers in the model's table."""

    model: str
    unit: str
    computed: bool
    values: tuple[tuple[int, Value], ...]

    @property
    def stem(self) -> str:
        """Name of the picture."""
        return slug(f"{self.model} {self.unit} {'computed' * self.computed}")

    @property
    def shown(self) -> str:
        """What the picture shows, in numbers."""
        return "; ".join(
            f"{i} {v.word} {v.printed:.5g} {v.ours:.5g} {v.tolerance:.3g} "
            f"{'met' if v.met else 'not met'}"
            for i, v in self.values
        )


def slug(text: str) -> str:
    """A text as a file name and an anchor."""
    plain = text.casefold().replace("ü", "ue").replace("°", "deg ").replace("%", "percent")
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")


def panels(record: Record) -> list[Panel]:
    """Parity plots: at least `LEAST` different printed values other than 0 in one unit.

    A printed 0 is a difference and no quantity: it has no place on an axis of sizes. Computed
    values have plots of their own, or they would hide those from outside.
    """
    found = []
    for model, values in record.models.items():
        groups: defaultdict[tuple[bool, str], list[tuple[int, Value]]] = defaultdict(list)
        for i, value in enumerate(values, start=1):
            if value.printed != 0.0 and math.isfinite(value.ours):
                groups[value.status == "COMPUTED", value.unit].append((i, value))
        for (computed, unit), numbered in sorted(groups.items(), key=lambda g: g[0][0]):
            if len({f"{v.printed:.4g}" for _, v in numbered}) >= LEAST:
                found.append(Panel(model, unit, computed, tuple(numbered)))
    return found


@contextmanager
def _rules() -> Iterator[None]:
    """The figures' rules, but with text that stays text: it can be read aloud and searched."""
    with drawing_rules():
        matplotlib.rcParams["svg.fonttype"] = "none"
        yield


_FONT = re.compile(r"'STIXGeneral', 'DejaVu Sans'")
_COORDINATE = re.compile(r"(?<=[ \"])-?\d+\.\d{3,}(?=[ \"\n])")


def _svg(paper: Paper, shown: str) -> str:
    drawn = io.BytesIO()
    facts = {"Date": None, "Creator": None, "Title": paper.title, "Description": shown}
    paper.figure.savefig(drawn, format="svg", metadata=facts)
    text = drawn.getvalue().decode("utf-8")
    head, body = text.split("</metadata>", 1)
    # The type of the figures is as wide as Times, which is what other machines have.
    body = _FONT.sub("'STIX Two Text', 'Times New Roman', Times, serif", body)
    body = _COORDINATE.sub(lambda found: f"{float(found[0]):.2f}", body)
    return f"{head}</metadata>{body}"


def _put(axes: Axes, points: Sequence[tuple[float, float, Value]]) -> None:
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


def _look(word: str) -> dict[str, Any]:
    """How a mark is drawn beside its name."""
    marker, filled, size = MARKS.get(word, ("s", True, 4.6))
    color = COLD if word in MARKS else WARM
    return {
        "linestyle": "none", "marker": marker, "markersize": size, "markeredgewidth": 1.0,
        "markeredgecolor": color, "markerfacecolor": color if filled else WHITE,
    }  # fmt: skip


def _legend(axes: Axes, values: Sequence[Value]) -> None:
    words = [word for word in STATUSES if any(v.word == word for v in values)]
    words += ["not met"] * (not all(v.met for v in values))
    for k, word in enumerate(words):
        place: dict[str, Any] = {"transform": axes.transAxes, "zorder": 5.0}
        y = 0.955 - 0.075 * k
        axes.plot([0.045], [y], **_look(word), **place)
        axes.text(0.085, y, word, fontsize=SMALL, va="center", color=INK, **place)


def _keys(paper: Paper, words: Sequence[str], top: float) -> None:
    """Marks and their names, in rows of three, from `top` [in] above the lower edge."""
    for k, word in enumerate(words):
        x, y = 0.2 + 1.1 * (k % 3), paper.bottom + top - 0.2 * (k // 3)
        mark = Line2D(
            [x / paper.width], [y / paper.full], transform=paper.figure.transFigure, **_look(word)
        )
        paper.figure.add_artist(mark)
        paper.write(x + 0.09, y - 0.045, word, size=SMALL)


_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def _plain(x: float, _place: int = 0) -> str:
    """A number at an axis."""
    if x == 0.0 or 1e-3 <= abs(x) < 1e5:
        return f"{x:.6g}".replace("-", "−")
    digits, power = f"{x:.1e}".split("e")
    digits = digits.removesuffix(".0").replace("-", "−")
    raised = str(int(power)).translate(_RAISED)
    return f"10{raised}" if digits == "1" else f"{digits}·10{raised}"


def _even(count: int) -> MaxNLocator:
    return MaxNLocator(count, steps=[1, 2, 5, 10])


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


def parity(panel: Panel) -> str:
    """Ours over printed with the band of the tolerance, and beneath it how far off each is."""
    values = [v for _, v in panel.values]
    unit = panel.unit or "no unit"
    printed = "computed" if panel.computed else "printed"
    missed = [(i, v) for i, v in panel.values if not v.met]
    left, side = 0.6, 2.42
    labelled = sorted(missed, key=lambda m: -abs(m[1].share))[: COLUMNS * _rows_of_labels(side)]
    note = "Grey: what is allowed."
    if missed:
        which = "" if len(labelled) == len(missed) else f", the {len(labelled)} farthest off"
        note += f" Numbers: values not met, as in the table{which}."
    met = sum(v.met for v in values)
    with _rules():
        paper = Paper(
            title=panel.model[:1].upper() + panel.model[1:],
            subtitle=f"Ours against {printed}, {unit}; {met} of {len(values)} met",
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
            axis.set_major_locator(FixedLocator(_log_ticks(low, high)) if log else _even(4))
            axis.set_major_formatter(FuncFormatter(_plain))
        above.tick_params(labelbottom=False)
        above.plot([low, high], [low, high], color=GREY, linewidth=0.8, zorder=1.0)
        _band(above, panel, low, high, percent=None)
        percent = _in_percent(panel)
        off = [_off(v, percent=percent) for v in values]
        most = 1.08 * max(max(abs(deviation), half) for deviation, half in off)
        below.set_ylim(-most, most)
        below.axhline(0.0, color=GREY, linewidth=0.8, zorder=1.0)
        _band(below, panel, low, high, percent=percent)
        below.yaxis.set_major_locator(_even(4))
        below.yaxis.set_major_formatter(FuncFormatter(_plain))
        _put(above, [(v.printed, v.ours, v) for v in values])
        _put(below, [(v.printed, d, v) for v, (d, _) in zip(values, off, strict=True)])
        by = "%" if percent else panel.unit
        above.text(0.0, 1.03, "ours", fontsize=SIZE, transform=above.transAxes)
        below.text(0.0, 1.08, f"off by{', ' * bool(by)}{by}", transform=below.transAxes)
        below.set_xlabel(printed)
        _legend(above, values)
        paper.figure.draw_without_rendering()
        _numbers(above, labelled)
        return _svg(paper, panel.shown)


def _bent(share: float) -> float:
    """Place on the strip: true to scale while allowed, by decades beyond."""
    if abs(share) <= 1.0:
        return share
    return math.copysign(1.0 + math.log10(abs(share)), share)


def _swarm(places: Sequence[float], apart: float, room: float) -> list[float]:
    """Heights at which marks at rising `places` do not cover each other, within +-`room`."""
    steps = [0.0]
    for k in range(1, 60):
        steps += [0.25 * k * apart, -0.25 * k * apart]
    steps = [step for step in steps if abs(step) <= room] or [0.0]
    taken: list[tuple[float, float]] = []
    for x in places:
        near = [(px, py) for px, py in taken if x - px < apart]
        free = (
            step for step in steps
            if all((x - px) ** 2 + (step - py) ** 2 >= apart**2 for px, py in near)
        )  # fmt: skip
        # Where there is no room left, marks lie on each other rather than outside the strip.
        taken.append((x, next(free, steps[len(taken) % len(steps)])))
    return [y for _, y in taken]


STRIPS = {
    "measurements": ("measured", "similar", "fitted"),
    "print": ("practice", "table", "rule", "example", "equation"),
    "programs": ("program", "unstated"),
}
STRIP_TITLES = {
    "measurements": "Against measurements",
    "print": "Against print and practice",
    "programs": "Against other programs",
}


def strip_rows(record: Record, name: str) -> list[tuple[str, str, list[Value]]]:
    """Basis, model and values of each line of a strip plot."""
    assert set(sum(STRIPS.values(), ())) == set(ORDER)
    return [
        (basis, model, values)
        for basis, models in by_basis(record.values).items()
        if basis in STRIPS[name]
        for model, values in models.items()
    ]


def strip_shown(record: Record, name: str) -> str:
    """What a strip plot shows, in numbers."""
    lines = []
    for basis, model, values in strip_rows(record, name):
        shares = sorted(v.share for v in values)
        lines.append(f"{basis}, {model}: " + " ".join(f"{share:.2f}" for share in shares))
    return "; ".join(lines)


def strip(record: Record, name: str) -> str:
    """Every deviation of one group of bases, in tolerances, a line for each model."""
    rows = strip_rows(record, name)
    count = sum(len(values) for _, _, values in rows)
    met = sum(v.met for _, _, values in rows for v in values)
    reach = max([1.0, *(abs(v.share) for v in record.values if math.isfinite(v.share))])
    with _rules():
        high, room = 0.5, WIDTH - 0.42
        heads = {basis for basis, _, _ in rows}
        words = [w for w in STATUSES if any(v.word == w for _, _, vs in rows for v in vs)]
        keys = [*words, *["not met"] * (met < count)]
        height = high * len(rows) + 0.28 * len(heads) + 0.95 + 0.2 * (len(keys) > 3)
        paper = Paper(
            title=STRIP_TITLES[name],
            subtitle=f"All {count} deviations in tolerances; {met} met",
            height=height,
            width=WIDTH,
            notes=[Note("Grey: allowed. Beyond it the scale runs by decades.")],
        )
        _keys(paper, keys, height - 0.1)
        axes = paper.axes(0.2, 0.42, room, height - 0.75 - 0.2 * (len(keys) > 3))
        edge = _bent(reach) * 1.05
        axes.set_xlim(-edge, edge)
        per_inch = 2.0 * edge / room
        apart = 0.062  # in, between marks
        y = 0.0
        last = ""
        points: list[tuple[float, float, Value]] = []
        for basis, model, values in rows:
            if basis != last:
                y -= 0.28
                axes.text(-edge, y + 0.06, basis, fontsize=SIZE, color=INK, weight="bold")
                last = basis
            count_met = f"{sum(v.met for v in values)}/{len(values)}"
            spare = room - text_width(count_met, SMALL) - 0.1
            label = wrapped(model[:1].upper() + model[1:], spare, SMALL)
            label_text = label[0] + ("…" if len(label) > 1 else "")
            axes.text(-edge, y - 0.12, label_text, fontsize=SMALL, color=INK)
            axes.text(edge, y - 0.12, count_met, fontsize=SMALL, color=INK, ha="right")
            drawn = sorted((v for v in values if math.isfinite(v.share)), key=lambda v: v.share)
            places = [_bent(v.share) for v in drawn]
            middle = y - 0.31
            heights = _swarm([x / per_inch for x in places], apart, 0.11)
            axes.fill_between([-1.0, 1.0], middle - 0.15, middle + 0.15, color=BAND, linewidth=0.0)
            axes.plot([0.0, 0.0], [middle - 0.15, middle + 0.15], color=GREY, linewidth=0.8)
            axes.plot([-edge, edge], [middle, middle], color=FAINT, linewidth=0.5)
            points += zip(places, [middle + up for up in heights], drawn, strict=True)
            y -= high
        _put(axes, points)
        axes.set_ylim(y, 0.0)
        axes.yaxis.set_visible(False)
        axes.spines["left"].set_visible(False)
        ticks = [s * t for t in (1.0, 2.0, 5.0, 10.0) if t <= reach for s in (-1.0, 1.0)]
        axes.xaxis.set_major_locator(FixedLocator([_bent(t) for t in sorted([0.0, *ticks])]))
        labels = [_plain(t) for t in sorted([0.0, *ticks])]
        axes.xaxis.set_major_formatter(FuncFormatter(lambda _x, k: labels[k]))
        axes.set_xlabel("deviation, in tolerances")
        return _svg(paper, strip_shown(record, name))


def section_shown(section: Section) -> str:
    """What the plot of a section shows, in numbers."""
    return "; ".join(
        f"{s.name}: " + " ".join(f"{x:.4g} {y:.4g}" for x, y in zip(s.x, s.y, strict=True))
        for s in section.series
    )


def of_section(section: Section) -> str:
    """Points of a section, a mark of its own for each series."""
    marks = "osD^v<>p*hX"
    with _rules():
        paper = Paper(
            title=section.title,
            subtitle=f"{section.y} over {section.x}",
            height=3.1 + 0.2 * len(section.series),
            width=WIDTH,
        )
        axes = paper.axes(0.62, 0.5 + 0.2 * len(section.series), 2.75, 2.45)
        xs = [x for s in section.series for x in s.x]
        ys = [y for s in section.series for y in s.y]
        low, high = min(xs), max(xs)
        if section.diagonal:
            low, high = min(low, *ys), max(high, *ys)
            axes.plot([low, high], [low, high], color=GREY, linewidth=0.8)
        for k, series in enumerate(section.series):
            color, filled = (COLD, WARM, INK)[k % 3], k % 2 == 0
            style = {
                "linestyle": "none", "marker": marks[k % len(marks)], "markersize": 5.0,
                "markeredgecolor": color, "markerfacecolor": color if filled else WHITE,
            }  # fmt: skip
            axes.plot(list(series.x), list(series.y), clip_on=False, **style)
            at = -0.3 - 0.2 / 2.45 * k
            place = {"transform": axes.transAxes, "clip_on": False}
            axes.plot([0.02], [at], **style, **place)
            axes.text(0.06, at, series.name, fontsize=SMALL, va="center", transform=axes.transAxes)
        axes.set_xlabel(section.x)
        axes.set_ylabel(section.y)
        axes.xaxis.set_major_locator(_even(5))
        axes.yaxis.set_major_locator(_even(5))
        return _svg(paper, section_shown(section))

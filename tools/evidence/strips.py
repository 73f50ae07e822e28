"""Strip plots of all deviations on one scale, and the plot of a section."""

import math
from collections.abc import Sequence
from typing import Any

from matplotlib.ticker import FixedLocator, FuncFormatter
from tests.evidence import Section
from tools.evidence.marks import (
    BAND,
    WHITE,
    WIDTH,
    even,
    keys_in_rows,
    plain,
    put_marks,
    rules,
    svg,
)
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
    text_width,
    wrapped,
)


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
}
STRIP_TITLES = {
    "measurements": "Against measurements",
    "print": "Against print and practice",
}


def rows_of(record: Record, name: str) -> list[tuple[str, str, list[Value]]]:
    """Basis, model and values of each line of a strip plot."""
    assert set(sum(STRIPS.values(), ())) == set(ORDER)
    return [
        (basis, model, values)
        for basis, models in by_basis(record.values).items()
        if basis in STRIPS[name]
        for model, values in models.items()
    ]


def shown(record: Record, name: str) -> str:
    """What a strip plot shows, in numbers."""
    lines = []
    for basis, model, values in rows_of(record, name):
        shares = sorted(v.share for v in values)
        lines.append(f"{basis}, {model}: " + " ".join(f"{share:.2f}" for share in shares))
    return "; ".join(lines)


def draw(record: Record, name: str) -> str:
    """Every deviation of one group of bases, in tolerances, a line for each model."""
    rows = rows_of(record, name)
    count = sum(len(values) for _, _, values in rows)
    met = sum(v.met for _, _, values in rows for v in values)
    reach = max([1.0, *(abs(v.share) for v in record.values if math.isfinite(v.share))])
    with rules():
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
        keys_in_rows(paper, keys, height - 0.1)
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
        put_marks(axes, points)
        axes.set_ylim(y, 0.0)
        axes.yaxis.set_visible(False)
        axes.spines["left"].set_visible(False)
        ticks = [s * t for t in (1.0, 2.0, 5.0, 10.0) if t <= reach for s in (-1.0, 1.0)]
        axes.xaxis.set_major_locator(FixedLocator([_bent(t) for t in sorted([0.0, *ticks])]))
        labels = [plain(t) for t in sorted([0.0, *ticks])]
        axes.xaxis.set_major_formatter(FuncFormatter(lambda _x, k: labels[k]))
        axes.set_xlabel("deviation, in tolerances")
        return svg(paper, shown(record, name))


def section_shown(section: Section) -> str:
    """What the plot of a section shows, in numbers."""
    return "; ".join(
        f"{s.name}: " + " ".join(f"{x:.4g} {y:.4g}" for x, y in zip(s.x, s.y, strict=True))
        for s in section.series
    )


def draw_section(section: Section) -> str:
    """Points of a section, a mark of its own for each series."""
    marks = "osD^v<>p*hX"
    with rules():
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
            style: dict[str, Any] = {
                "color": color, "marker": marks[k % len(marks)], "markersize": 5.0,
                "markerfacecolor": color if filled else WHITE, "linewidth": 0.6,
                "linestyle": "-" if list(series.x) == sorted(series.x) else "none",
            }  # fmt: skip
            axes.plot(list(series.x), list(series.y), clip_on=False, **style)
            at = -0.3 - 0.2 / 2.45 * k
            place = {"transform": axes.transAxes, "clip_on": False}
            axes.plot([0.02], [at], **style, **place)
            axes.text(0.06, at, series.name, fontsize=SMALL, va="center", transform=axes.transAxes)
        axes.set_xlabel(section.x)
        axes.set_ylabel(section.y)
        axes.xaxis.set_major_locator(even(5))
        axes.yaxis.set_major_locator(even(5))
        return svg(paper, section_shown(section))

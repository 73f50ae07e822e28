"""Combinations of parts side by side: dependable water, its range, and the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from matplotlib.ticker import MaxNLocator

from sweatline.design.match import Candidate
from sweatline.errors import JobError
from sweatline.report.captions import room_words
from sweatline.report.paper import FAINT, GREY, INK, SIZE, SMALL, Note, Paper, line_height, wrapped
from sweatline.report.scales import Scale, scale
from sweatline.units.showing import System

if TYPE_CHECKING:
    from matplotlib.axes import Axes


MOST: Final = 20  # combinations in one figure

_ROW: Final = 0.43  # in, least height of a row
_NAME: Final = 2.05  # in, width of the column of names
_BARS: Final = 2.2  # in
_VERDICT: Final = 1.55  # in
_BAR: Final = 0.22  # in
_AIR: Final = 0.07  # in between the words of two rows
_GAP: Final = 0.14  # in between columns
_EDGE: Final = 0.12  # in
_HEAD: Final = 0.42  # in, for the headings
_FOOT: Final = 0.3  # in, for the axis
_WATER: Final = "water_kg_per_s"


def draw_ranking(candidates: Sequence[Candidate], system: System) -> Paper:
    """Bars of the dependable water, in the order given, best first.

    Raises
    ------
    JobError
        There is nothing to rank.
    """
    if not candidates:
        raise JobError(what="nothing to rank: no combination of these parts has a steady state")
    shown = list(candidates[:MOST])
    build = shown[0].build
    unit = scale("water removal", system)
    notes = [
        Note(
            "Bar: dependable water, the mean over the trial runs with every faulty one counted as "
            "none. Line: likely range (9 in 10) of the water, faults aside, with its median. At "
            "the right: how often in 100 it runs clean."
        )
    ]
    if any(c.stopped for c in shown):
        notes.append(Note("Hatched: must not go ahead."))
    if any(_WATER not in c.bands for c in shown):
        notes.append(Note("No line: too few trial runs to give a range."))
    left_out = len(candidates) - len(shown)
    if left_out:
        notes.append(Note(f"The {left_out} that rank lower are left out."))
    names = [_name_lines(k, c) for k, c in enumerate(shown, start=1)]
    verdicts = [_verdict_lines(c) for c in shown]
    heights = [
        max(_ROW, _height(left) + _AIR, _height(right) + _AIR)
        for left, right in zip(names, verdicts, strict=True)
    ]
    total = sum(heights)
    middles = [sum(heights[:k]) + 0.5 * h for k, h in enumerate(heights)]
    paper = Paper(
        build.job.title,
        f"Parts ranked by dependable water, in a room of {room_words(build, system)}",
        _HEAD + total + _FOOT,
        notes,
    )
    limits = _EDGE + _NAME + _GAP
    ax = paper.axes(limits, _FOOT, _BARS, total)
    ax.set_ylim(total, 0.0)
    ax.set_yticks([])
    reach = [c.dependable_water for c in shown] + [
        c.bands[_WATER].high for c in shown if _WATER in c.bands
    ]
    ax.set_xlim(0.0, 1.04 * max(unit.one(max(reach)), 1e-9))
    ax.xaxis.set_major_locator(MaxNLocator(5))
    for y, height, c in zip(middles, heights, shown, strict=True):
        _draw_bar(ax, y, height, c, unit)

    base = paper.bottom + _FOOT + total
    verdict = limits + _BARS + _GAP
    chance = paper.width - _EDGE
    for x, text, ha in (
        (_EDGE, "parts", "left"),
        (limits, f"water, {unit.unit}", "left"),
        (verdict, "verdict", "left"),
        (chance, "runs clean", "right"),
    ):
        paper.write(x, base + 0.12, text, color=GREY, ha=ha)
    paper.line((_EDGE, chance), (base + 0.05, base + 0.05))
    for y, c, left, right in zip(middles, shown, names, verdicts, strict=True):
        paper.column(_EDGE, base - y, left)
        paper.column(verdict, base - y, right)
        paper.write(chance, base - y, f"{100.0 * c.chance_clean:.0f} %", ha="right", va="center")
    return paper


def _draw_bar(ax: Axes, y: float, height: float, c: Candidate, unit: Scale) -> None:
    """One bar with its whisker; place and height of its row in inches from the top."""
    ax.barh(
        y,
        unit.one(c.dependable_water),
        height=_BAR,
        facecolor="#dfe5ea",
        edgecolor=INK,
        linewidth=0.8,
        zorder=2,
    )
    band = c.bands.get(_WATER)
    if c.stopped:
        ax.barh(
            y,
            ax.get_xlim()[1],
            height=0.8 * height,
            facecolor="none",
            edgecolor=FAINT,
            hatch="////",
            linewidth=0.0,
            zorder=0.5,
        )
    if band is not None:
        low, middle, high = (unit.one(v) for v in (band.low, band.middle, band.high))
        ax.plot([low, high], [y, y], color=INK, lw=1.2, zorder=4)
        for x, size in ((low, 5.0), (high, 5.0), (middle, 9.0)):
            ax.plot([x], [y], ls="None", marker="|", ms=size, mew=1.2, color=INK, zorder=4)


def _name_lines(rank: int, c: Candidate) -> list[tuple[str, float, str]]:
    head = wrapped(f"{rank}  {c.parts.refrigerant}, {c.parts.compressor}", _NAME, SIZE)
    rest = wrapped(c.parts.capillary, _NAME, SMALL)
    return [*((text, SIZE, INK) for text in head), *((text, SMALL, GREY) for text in rest)]


def _verdict_lines(c: Candidate) -> list[tuple[str, float, str]]:
    lines = [(text, SIZE, INK) for text in wrapped(c.word, _VERDICT, SIZE)]
    worst = c.worst
    if worst is not None and worst.state != "fails":
        more = wrapped(f"may be: {worst.fault}", _VERDICT, SMALL)
        lines += [(text, SMALL, GREY) for text in more]
    return lines


def _height(lines: Sequence[tuple[str, float, str]]) -> float:
    return sum(line_height(size) for _text, size, _color in lines)

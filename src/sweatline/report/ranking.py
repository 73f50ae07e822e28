"""Combinations of parts side by side: dependable water, its range, and the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from matplotlib.axes import Axes

from sweatline.design.match import Candidate, MatchAnswer
from sweatline.errors import JobError
from sweatline.report.axes import Axis, quantity, scale_for
from sweatline.report.paper import (
    GREY,
    HATCHED,
    INK,
    SIZE,
    SMALL,
    Note,
    Paper,
    line_height,
    wrapped,
)
from sweatline.units.showing import System

MOST: Final = 20  # combinations in one figure

_ROW: Final = 0.43  # in, least height of a row
_NAME: Final = 2.05  # in, width of the column of names
_BARS: Final = 2.0  # in
_VERDICT: Final = 1.55  # in
_BAR: Final = 0.22  # in
_AIR: Final = 0.07  # in between the words of two rows
_GAP: Final = 0.14  # in between columns
_EDGE: Final = 0.12  # in
_HEAD: Final = 0.42  # in, for the headings
_FOOT: Final = 0.3  # in, for the axis
_WATER: Final = quantity("water")


class _Line(NamedTuple):
    """A line of a cell."""

    text: str
    size: float = SIZE
    color: str = INK

    @property
    def height(self) -> float:
        """From this line to the next. [in]"""
        return line_height(self.size)


def draw_ranking(answer: MatchAnswer, system: System) -> Paper:
    """Bars of the dependable water, or of the water where there are no trial runs, best first.

    Raises
    ------
    JobError
        There is nothing to rank.
    """
    if not answer.ranked:
        raise JobError(what="nothing to rank: no combination of these parts has a steady state")
    shown = answer.ranked[:MOST]
    build = shown[0].build
    scale = scale_for(build, system)
    unit = scale.axis(_WATER.kind)
    drawn = any(c.draws for c in shown)
    notes = [
        Note(
            "Bar: dependable water, the mean over the trial runs with every faulty one counted as "
            "none. Line: likely range (9 in 10) of the water, faults aside, with its median. At "
            "the right: how often in 100 it runs clean."
            if drawn
            else "Bar: water, without trial runs."
        )
    ]
    if any(c.stopped for c in shown):
        notes.append(Note("Hatched: must not go ahead."))
    if drawn and any(_WATER.key not in c.bands for c in shown):
        notes.append(Note("No line: too few trial runs to give a range."))
    left_out = len(answer.ranked) - len(shown)
    if left_out:
        notes.append(Note(f"The {left_out} that rank lower are left out."))
    names = [_name(k, c) for k, c in enumerate(shown, start=1)]
    verdicts = [_verdict(c) for c in shown]
    heights = [
        max(_ROW, *(sum(line.height for line in cell) + _AIR for cell in cells))
        for cells in zip(names, verdicts, strict=True)
    ]
    total = sum(heights)
    middles = [sum(heights[:k]) + 0.5 * h for k, h in enumerate(heights)]
    paper = Paper(
        build.job.title,
        f"Parts ranked by {'dependable ' if drawn else ''}water, in a room at {scale.room(build)}",
        _HEAD + total + _FOOT,
        notes,
    )
    bars = _EDGE + _NAME + _GAP
    verdict = bars + _BARS + _GAP
    chance = paper.width - _EDGE
    ax = paper.axes(bars, _FOOT, _BARS, total, ticks=(5, 5))
    ax.set_ylim(total, 0.0)
    ax.set_yticks([])
    ranges = [c.bands[_WATER.key] for c in shown if _WATER.key in c.bands]
    waters = [c.dependable_water if drawn else c.steady.water for c in shown]
    reach = max(waters + [r.high for r in ranges])
    ax.set_xlim(0.0, 1.04 * max(unit.one(reach), 1e-9))

    base = paper.bottom + _FOOT + total
    for x, text, ha in (
        (_EDGE, "parts", "left"),
        (bars, f"{_WATER.label}, {unit.unit}", "left"),
        (verdict, "verdict", "left"),
        (chance, "runs clean" if drawn else "", "right"),
    ):
        paper.write(x, base + 0.12, text, color=GREY, ha=ha)
    paper.line((_EDGE, chance), (base + 0.05, base + 0.05))
    for k, (y, height, c) in enumerate(zip(middles, heights, shown, strict=True)):
        _draw_bar(ax, y, height, c, unit.one(waters[k]), unit)
        _write_cell(paper, _EDGE, base - y, names[k])
        _write_cell(paper, verdict, base - y, verdicts[k])
        if drawn:
            clean = f"{100.0 * c.chance_clean:.0f} in 100"
            paper.write(chance, base - y, clean, ha="right", va="center")
    return paper


def _draw_bar(ax: Axes, y: float, height: float, c: Candidate, water: float, unit: Axis) -> None:
    """One bar with its range; place and height of its row in inches from the top."""
    ax.barh(y, water, _BAR, facecolor="#dfe5ea", edgecolor=INK, linewidth=0.8, zorder=2)
    if c.stopped:
        ax.barh(y, ax.get_xlim()[1], 0.8 * height, **HATCHED)
    band = c.bands.get(_WATER.key)
    if band is not None:
        low, middle, high = (unit.one(v) for v in (band.low, band.middle, band.high))
        ax.plot([low, high], [y, y], color=INK, lw=1.2, zorder=4)
        for x, size in ((low, 5.0), (high, 5.0), (middle, 9.0)):
            ax.plot([x], [y], ls="None", marker="|", ms=size, mew=1.2, color=INK, zorder=4)


def _name(rank: int, c: Candidate) -> list[_Line]:
    parts = c.parts
    head = wrapped(f"{rank}  {parts.refrigerant}, {parts.compressor}", _NAME, SIZE)
    rest = wrapped(parts.capillary, _NAME, SMALL)
    return [*(_Line(text) for text in head), *(_Line(text, SMALL, GREY) for text in rest)]


def _verdict(c: Candidate) -> list[_Line]:
    lines = [_Line(text) for text in wrapped(c.word, _VERDICT, SIZE)]
    worst = c.worst
    if worst is not None and worst.state != "fails":
        more = wrapped(f"watch for {worst.fault}", _VERDICT, SMALL)
        lines += [_Line(text, SMALL, GREY) for text in more]
    return lines


def _write_cell(paper: Paper, x: float, middle: float, lines: Sequence[_Line]) -> None:
    """Lines of text, centred in height on `middle`. [in]"""
    y = middle + 0.5 * sum(line.height for line in lines)
    for line in lines:
        paper.write(
            x, y - 0.5 * line.height, line.text, size=line.size, color=line.color, va="center"
        )
        y -= line.height

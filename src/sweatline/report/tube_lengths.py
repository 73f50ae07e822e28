"""Lengths of every bore on the shelf side by side: right, cut first, and what is there."""

from __future__ import annotations

from typing import Final

from matplotlib.axes import Axes

from sweatline.design.metering import MeteringAnswer, StockCut
from sweatline.errors import JobError
from sweatline.report.axes import Axis, scale_for
from sweatline.report.paper import GREY, INK, SMALL, Note, Paper, look, wrapped
from sweatline.units.showing import System

_WIDTH: Final = 4.8  # in, readable on a phone
_ROW: Final = 0.62  # in
_FOOT: Final = 0.48  # in
_EDGE: Final = 0.12  # in
_BAND: Final = 0.17  # in
_ROOM: Final = 1.15  # of the longest cut, across


def draw_tube_lengths(answer: MeteringAnswer, system: System) -> Paper:
    """A row for each tube: its likely range, the right length in it, and the tube on the shelf.

    Raises
    ------
    JobError
        None of the tubes can pass the flow.
    """
    usable = [c.cut.start_length for c in answer.cuts if c.cut.start_length is not None]
    if not usable:
        raise JobError(what="no tube on the shelf passes the flow: there are no lengths to draw")
    scale = scale_for(answer.build, system)
    unit = scale.axis("length")
    paper = Paper(
        f"{answer.refrigerant}, {answer.compressor}",
        f"Length of each capillary, in a room at {scale.room(answer.build)}",
        _ROW * len(answer.cuts) + _FOOT,
        [
            Note(
                "Band: where the length ends up (9 in 10); its right end is the length to cut "
                "first. Line: the right length. Diamond: what is in the machine or on the shelf; "
                "an arrow: more than is drawn."
            )
        ],
        width=_WIDTH,
    )
    height = _ROW * len(answer.cuts)
    ax = paper.axes(0.2, _FOOT, _WIDTH - 0.45, height, ticks=(6, 6))
    ax.set_ylim(height, 0.0)
    ax.set_yticks([])
    ax.set_xlabel(f"length, {unit.unit}")
    reach = _ROOM * unit.one(max(usable))
    ax.set_xlim(0.0, reach)
    for row, c in enumerate(answer.cuts):
        _draw_tube(ax, c, unit, row * _ROW + 0.42, reach)
        name = f"{c.stock}, {scale.words(c.cut.bore, 'bore')}"
        if c.cut.length is not None:
            name += f": {scale.words(c.cut.length, 'length')}"
        else:
            name += ": too narrow at any length"
        y = paper.bottom + _FOOT + height - row * _ROW - 0.2
        paper.write(0.26, y, wrapped(name, _WIDTH - 0.4, SMALL)[0], size=SMALL)
    return paper


def _draw_tube(ax: Axes, c: StockCut, unit: Axis, y: float, reach: float) -> None:
    cut = c.cut
    if cut.shortest is not None and cut.start_length is not None and cut.length is not None:
        low, right, high = (unit.one(v) for v in (cut.shortest, cut.length, cut.start_length))
        ax.barh(y, high - low, _BAND, left=low, facecolor="#dfe5ea", edgecolor=INK, linewidth=0.8)
        ax.plot([right, right], [y - 0.5 * _BAND, y + 0.5 * _BAND], color=INK, lw=2.0)
    else:
        ax.plot([0.0, reach], [y, y], color=GREY, lw=0.8)
    if c.on_the_shelf is not None:
        there = unit.one(c.on_the_shelf)
        beyond = there > reach
        style = look(">" if beyond else "D", 6.0, filled=c.fitted)
        ax.plot([min(there, 0.985 * reach)], [y], clip_on=False, zorder=6, **style)

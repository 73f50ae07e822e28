"""A study in one picture: what each case gives, a row for each choice of parts."""

from __future__ import annotations

from typing import Final

import numpy as np

from sweatline.report.paper import COLD, FAINT, INK, SMALL, Note, Paper, wrapped
from sweatline.study.study import SweepAnswer

_ROW: Final = 0.34  # in
_FOOT: Final = 0.5
_LEFT: Final = 3.0
_MOST: Final = 30  # rows
_SPREAD: Final = 0.28  # of a row, over which points are shaken apart


def draw_sweep(answer: SweepAnswer) -> Paper:
    """Points of every case, and their middle; the choice of parts with the best middle on top."""
    groups: dict[str, list[float]] = {}
    for row in answer.table.to_pylist():
        value = row[answer.rank_by]
        if row["failed"] is None and value is not None and not row.get("stopped"):
            name = f"{row['compressor']}, {row['refrigerant']}, {row['capillary']}"
            groups.setdefault(name, []).append(value)
    ranked = sorted(groups.items(), key=lambda one: -float(np.median(one[1])))[:_MOST]
    height = _ROW * max(len(ranked), 1)
    paper = Paper(
        answer.title,
        f"{answer.rank_by} of {answer.done} cases",
        height + _FOOT,
        [Note("Each point is a case; the line is the middle of a choice of parts.")],
    )
    ax = paper.axes(_LEFT, _FOOT, paper.width - _LEFT - 0.25, height, ticks=(6, 6))
    ax.set_ylim(len(ranked) - 0.5, -0.5)
    ax.set_yticks([])
    ax.set_xlabel(answer.rank_by)
    shaken = np.random.default_rng(0)
    for y, (name, values) in enumerate(ranked):
        place = y + _SPREAD * (shaken.random(len(values)) - 0.5)
        ax.plot(values, place, ".", ms=3.0, color=COLD, alpha=0.5)
        middle = float(np.median(values))
        ax.plot([middle, middle], [y - 0.3, y + 0.3], color=INK, lw=1.6)
        ax.axhline(y + 0.5, color=FAINT, lw=0.4)
        at = paper.bottom + _FOOT + height - (y + 0.5) * _ROW + 0.07
        paper.write(0.2, at, wrapped(name, _LEFT - 0.3, SMALL)[0], size=SMALL)
    return paper

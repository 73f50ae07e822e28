"""Figures of a diagnosis: how likely each cause is, and how far each reading lies off."""

from __future__ import annotations

from typing import Final

from sweatline.constants import NINE_TENTHS
from sweatline.diagnosis.diagnosis import Diagnosis
from sweatline.log.channels import CHANNELS
from sweatline.report.axes import scale_for
from sweatline.report.paper import FAINT, GREY, INK, SIZE, Note, Paper, line_height, look, wrapped
from sweatline.units.showing import System

_ROW: Final = 0.42  # in
_NAME: Final = 2.6  # in, width of the column of names
_EDGE: Final = 0.12
_GAP: Final = 0.14
_BARS: Final = 2.6
_HEAD: Final = 0.25
_FOOT: Final = 0.5
_BAR: Final = 0.24
_FAR: Final = 6.0  # standard deviations that an axis shows at least


def draw_causes(answer: Diagnosis, system: System) -> Paper:
    """Bars of the chance of each cause, with the chance it had before any reading."""
    shown = answer.suspects
    scale = scale_for(answer.build, system)
    read = ", ".join(
        f"{CHANNELS[r.channel].heading} {scale.words(r.read_SI, r.kind)}" for r in answer.readings
    )
    paper = Paper(
        answer.job.title,
        f"What may be wrong: {scale.machine(answer.build)}",
        _HEAD + _ROW * len(shown) + _FOOT,
        [
            Note("Bar: chance that it is there, alone or with another."),
            Note("Tick: the chance before any reading."),
            Note(f"By {read}."),
        ],
    )
    ax = paper.axes(_EDGE + _NAME + _GAP, _FOOT, _BARS, _ROW * len(shown), ticks=(5, 5))
    ax.set_ylim(_ROW * len(shown), 0.0)
    ax.set_yticks([])
    ax.set_xlim(0.0, 100.0)
    ax.set_xlabel("chance, in 100")
    base = paper.bottom + _FOOT + _ROW * len(shown)
    for k, one in enumerate(shown):
        y = (k + 0.5) * _ROW
        ax.barh(y, 100.0 * one.probability, _BAR, facecolor="#dfe5ea", edgecolor=INK, linewidth=0.8)
        ax.plot([100.0 * one.before], [y], ls="None", marker="|", ms=11.0, mew=1.4, color=INK)
        lines = wrapped(one.name, _NAME, SIZE)[:2]
        for i, text in enumerate(lines):
            up = (0.5 * (len(lines) - 1) - i) * line_height(SIZE)
            paper.write(_EDGE, base - y + up, text, va="center")
        text = f"{100.0 * one.probability:.0f}"
        paper.write(_EDGE + _NAME + _GAP + _BARS + 0.1, base - y, text, va="center")
    return paper


def draw_readings(answer: Diagnosis, system: System) -> Paper:
    """Each reading against a machine in order, and against what the likeliest cause explains."""
    shown = answer.readings
    scale = scale_for(answer.build, system)
    paper = Paper(
        answer.job.title,
        f"Readings against the machine: {scale.machine(answer.build)}",
        _HEAD + _ROW * len(shown) + _FOOT,
        [
            Note(f"Filled: against a machine in order. Open: against {answer.suspects[0].name}."),
            Note("Between the two lines lie 9 in 10 readings of a machine that is as said."),
        ],
    )
    ax = paper.axes(_EDGE + _NAME + _GAP, _FOOT, _BARS, _ROW * len(shown), ticks=(5, 5))
    reach = max(_FAR, *(1.1 * max(abs(r.off), abs(r.left)) for r in shown))
    ax.set_xlim(-reach, reach)
    ax.set_ylim(_ROW * len(shown), 0.0)
    ax.set_yticks([])
    ax.set_xlabel("reading less expected, in standard deviations")
    ax.axvline(0.0, color=INK, lw=0.7)
    for end in (-NINE_TENTHS, NINE_TENTHS):
        ax.axvline(end, color=FAINT, lw=0.8)
    base = paper.bottom + _FOOT + _ROW * len(shown)
    for k, r in enumerate(shown):
        y = (k + 0.5) * _ROW
        ax.plot([r.left, r.off], [y, y], color=GREY, lw=0.8)
        ax.plot([r.off], [y], **look("o", 6.0))
        ax.plot([r.left], [y], **look("o", 6.0, filled=False))
        paper.write(_EDGE, base - y, CHANNELS[r.channel].heading, va="center")
        paper.write(
            _EDGE + _NAME, base - y, scale.words(r.read_SI, r.kind), va="center", ha="right"
        )
    return paper

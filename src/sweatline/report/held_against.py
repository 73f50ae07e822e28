"""Readings held against a band, each in the widths of its own band: what lies outside is seen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sweatline.answers import Range
from sweatline.constants import NINE_TENTHS
from sweatline.log.channels import CHANNELS
from sweatline.report.diagnosis import in_a_hundred
from sweatline.report.strokes import dot, line, rect, svg, text

if TYPE_CHECKING:
    from sweatline.bench.proof.proof import ProofAnswer
    from sweatline.diagnosis.diagnosis import Diagnosis
    from sweatline.units import Scale

_LEFT, _RIGHT = 138.0, 312.0  # of the drawing, between the words
_MIDDLE: Final = 0.5 * (_LEFT + _RIGHT)
_BAND: Final = 30.0  # half of a band
_ROW: Final = 26.0
_TOP: Final = 24.0


@dataclass(frozen=True, slots=True)
class HeldRow:
    """One reading: its words, its band, itself with its own range. [any unit, one for all]"""

    label: str
    shown: str
    band: Range
    read: Range


def held_picture(rows: Sequence[HeldRow], band: str, told: str) -> str:
    """All bands under one another, of one width; readings as points with their own ranges.

    Parameters
    ----------
    band : str
        What the band is, in words.
    told : str
        What the drawing shows, for those who do not see it.

    Returns
    -------
    str
        An SVG element; empty without rows.
    """
    if not rows:
        return ""
    bottom = _TOP + _ROW * len(rows)
    parts = [
        rect(_MIDDLE - _BAND, _TOP - 4.0, 2.0 * _BAND, bottom - _TOP, "band"),
        text(_MIDDLE, 13.0, band, "grey", "middle"),
        line(_MIDDLE, _TOP - 4.0, _MIDDLE, bottom - 4.0, "faint", 0.8),
    ]
    for n, row in enumerate(rows):
        y = _TOP + _ROW * (n + 0.5) - 4.0
        outside = not row.band.low <= row.read.middle <= row.band.high
        ink = "ink" if outside else "grey"
        parts.append(text(2.0, y + 4.0, row.label, ink))
        parts.append(text(398.0, y + 4.0, row.shown, ink, "end"))
        low, at, high = (_place(v, row.band) for v in (row.read.low, row.read.middle,
                                                         row.read.high))  # fmt: skip
        parts.append(line(low, y, high, y, "ink", 1.2))
        if _LEFT < at < _RIGHT:
            parts.append(dot(at, y, "ink"))
        else:
            parts.append(text(at, y + 5.0, "◀" if at <= _LEFT else "▶", "ink", "middle"))
    return svg(parts, bottom + 4.0, told)


def _place(value: float, band: Range) -> float:
    """Where a value stands, the ends of its band at fixed places. [of the drawing]"""
    half = 0.5 * (band.high - band.low)
    off = (value - band.low - half) / half if half > 0.0 else 0.0
    return min(max(_MIDDLE + _BAND * off, _LEFT), _RIGHT) if math.isfinite(off) else _MIDDLE


def proof_picture(a: ProofAnswer, scale: Scale) -> str:
    """Every quantity that was read, against what this build should show."""
    rows = [
        HeldRow(one.what, scale.show(one.read_SI.middle, one.kind, 2 if "water" in one.what else 3),
                one.expected_SI, one.read_SI)
        for one in a.judged
    ]  # fmt: skip
    return held_picture(
        rows, "what this build shows, 9 in 10",
        "Each reading beside the band of what this build should show",
    )  # fmt: skip


_BAR: Final = 296.0  # of the drawing, that is all of the probability
_SUSPECT: Final = 36.0  # height of one cause


def diagnosis_picture(a: Diagnosis, scale: Scale) -> str:
    """How likely each cause is, then every reading beside what a machine in order shows."""
    rows = []
    for r in a.readings:
        reach = NINE_TENTHS * r.sd_SI
        own = Range(low=r.read_SI - reach, middle=r.read_SI, high=r.read_SI + reach)
        rows.append(HeldRow(CHANNELS[r.channel].heading, scale.show(r.read_SI, r.kind),
                            r.in_order_SI, own))  # fmt: skip
    return _chances(a) + held_picture(
        rows, "a machine in order, 9 in 10",
        "Each reading beside the band of what a machine in order shows",
    )  # fmt: skip


def _chances(a: Diagnosis) -> str:
    """A bar for each cause, the likeliest first."""
    parts = []
    for n, suspect in enumerate(a.suspects):
        y = _SUSPECT * n
        parts.append(text(2.0, y + 13.0, suspect.name, "ink"))
        parts.append(rect(2.0, y + 19.0, _BAR, 8.0, "band"))
        parts.append(rect(2.0, y + 19.0, max(_BAR * suspect.probability, 1.0), 8.0, "ink"))
        parts.append(text(398.0, y + 27.0, in_a_hundred(suspect.probability), "ink", "end"))
    return svg(parts, _SUSPECT * len(a.suspects) + 4.0, "How likely each cause is")

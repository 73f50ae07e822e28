"""Which number to measure before a verdict is believed, and what measuring it would do.

A verdict is a margin: a number of the machine less its limit. Its variance is shared out among the
uncertain numbers (:mod:`sweatline.assembly.sensitivity`). A number that somebody measures takes
its share out of the doubt, save what the better instrument leaves; the chance of the fault then
moves to one side or the other, by how much follows for a normal margin from the share alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Final

from sweatline.assembly.sensitivity import Share

if TYPE_CHECKING:
    from sweatline.assembly.parameters import Uncertain

__all__ = ["Cause", "Doubt", "doubt", "instrument", "settled"]

# Below and above these chances a verdict is as good as settled.
_SETTLED: Final = (0.02, 0.98)
_WORTH_MEASURING: Final = 0.05  # share of the doubt

_NORMAL: Final = NormalDist()


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One uncertain number behind a doubtful verdict."""

    name: str
    share: float  # of the margin's variance
    origin: str
    note: str
    how: str  # what measures it better than it is known; empty when nothing at a bench does
    # Chance of the fault once it is measured and turns out one standard deviation to either side.
    chance_low: float
    chance_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Where the doubt about one verdict comes from."""

    unmeasured: tuple[Cause, ...]  # the three that matter most among those nobody measured
    measure_first: tuple[Cause, ...]  # what a bench can know better, largest share first


@dataclass(frozen=True, slots=True, kw_only=True)
class _Instrument:
    """A better way to know a number than is usual at a bench; common practice throughout."""

    ending: str  # of the number's name
    words: str
    absolute: float = 0.0  # SI
    relative: float = 0.0


# The first whose ending fits counts.
_INSTRUMENTS: Final = (
    _Instrument(ending="room humidity", words="a wet-bulb reading at the inlet", absolute=0.015),
    _Instrument(ending="room temperature", words="a good thermometer at the inlet", absolute=0.2),
    _Instrument(ending="airflow", words="an anemometer over the whole grille", relative=0.05),
    _Instrument(ending="fan power", words="a wattmeter on the fan alone", relative=0.02),
    _Instrument(ending="line bore", words="a calliper on the tube", absolute=0.1e-3),
    _Instrument(ending="line length", words="a tape along the tube", absolute=5e-3, relative=0.01),
    _Instrument(ending="soldered length", words="a tape along the tube", absolute=5e-3),
    _Instrument(ending=" bore", words="pin gauges", absolute=5e-6),
    _Instrument(ending="fin pitch", words="fins counted over 100 mm", relative=0.005),
    _Instrument(ending="fin thickness", words="a micrometer on a fin", absolute=5e-6),
    _Instrument(ending="tube wall", words="a micrometer on a cut end", absolute=0.01e-3),
    _Instrument(ending="tube outer diameter", words="a micrometer", absolute=0.01e-3),
    _Instrument(ending="fouling", words="cleaning the fins", absolute=0.03),
    _Instrument(ending="oil volume", words="draining the oil into a measure", relative=0.03),
    _Instrument(ending="drier volume", words="the drier's data sheet", relative=0.1),
    _Instrument(ending="displacement", words="the maker's data sheet", relative=0.01),
    _Instrument(ending="limit of the high side", words="the limit on the part's plate"),
    _Instrument(ending="floor area", words="a tape", relative=0.01),
    _Instrument(ending="room volume", words="a tape", relative=0.01),
)
_GAIN: Final = 0.8  # an instrument that leaves more than this of the uncertainty is no better


def instrument(number: Uncertain) -> tuple[str, float]:
    """What measures a number better than it is known, and the share of its sd that is left then.

    Empty and 1 when nothing at a bench does: models, ratings, or what is measured well already.
    """
    if number.origin != "model":
        for tool in _INSTRUMENTS:
            if number.name.endswith(tool.ending):
                left = max(tool.absolute, tool.relative * abs(number.value)) / number.sd
                return (tool.words, left) if left < _GAIN else ("", 1.0)
    return "", 1.0


def settled(probability: float) -> bool:
    """Whether a chance is so near to never or always that nothing need be measured."""
    return not _SETTLED[0] <= probability <= _SETTLED[1]


def doubt(
    probability: float, shares: Sequence[Share], uncertain: Sequence[Uncertain]
) -> Doubt | None:
    """Causes of the doubt about a fault; None when no number stands out.

    Parameters
    ----------
    probability : float
        Of the fault.
    shares : sequence of Share
        Of the variance of the margin to the limit, largest first.
    """
    if not shares:
        return None
    by_name = {u.name: u for u in uncertain}
    causes = []
    for s in shares:
        how, left = instrument(by_name[s.name])
        low, high = _narrowed(probability, s.share * (1.0 - left * left) if how else s.share)
        causes.append(
            Cause(
                name=s.name,
                share=s.share,
                origin=s.origin,
                note=s.note,
                how=how,
                chance_low=low,
                chance_high=high,
            )
        )
    return Doubt(
        unmeasured=tuple([c for c in causes if c.origin != "measured"][:3]),
        measure_first=tuple([c for c in causes if c.how and c.share >= _WORTH_MEASURING][:3]),
    )


def _narrowed(probability: float, share: float) -> tuple[float, float]:
    """Chance of the fault when a share of the variance has turned out one sd to either side."""
    share = min(share, 0.999)
    at = _NORMAL.inv_cdf(probability)
    left = math.sqrt(1.0 - share)
    return (
        _NORMAL.cdf((at - math.sqrt(share)) / left),
        _NORMAL.cdf((at + math.sqrt(share)) / left),
    )

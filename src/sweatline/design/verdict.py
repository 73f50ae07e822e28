"""What a verdict is, and what to measure first when it is doubtful.

A verdict compares a number of the machine with its limit; the difference is its margin. The
variance of the margin is shared out among the parameters: :mod:`sweatline.uncertainty.sensitivity`.
A parameter that is measured better takes its share out of that variance, save what the better
instrument leaves. The probability of the fault then moves up or down; by how much follows from the
share alone when the margin is normal.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Shown
from sweatline.answers.fields import SI_UNITS
from sweatline.uncertainty.parameter import Parameter
from sweatline.uncertainty.sensitivity import Share
from sweatline.units.kinds import Kind

State = Literal["holds", "fails", "note"]

# Below and above these probabilities a verdict is as good as settled.
_SETTLED: Final = (0.02, 0.98)
_WORTH_MEASURING: Final = 0.05  # share of the margin's variance
_GAIN: Final = 0.8  # an instrument that leaves more than this of the uncertainty is no better

_NORMAL: Final = NormalDist()


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause(Share):
    """One parameter behind a doubtful verdict."""

    share: float
    """Of the variance of the verdict's number less its limit, 0 to 1."""
    how: str
    """What measures it better; empty when nothing at a bench does."""
    chance_low: float
    """Probability of the fault once it is known and is one standard deviation to the good side."""
    chance_high: float
    """The same to the bad side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementPriority(Answer):
    """Why a verdict is doubtful, and what to measure first."""

    unmeasured: tuple[Cause, ...]
    """The three that matter most among the parameters nobody measured."""
    measure_first: tuple[Cause, ...]
    """What a bench can know better, largest share first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact(Answer):
    """A number that a verdict rests on, beside the one that is compared."""

    label: str
    value: float
    """In the SI unit of its kind."""
    kind: Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict(Answer):
    """One judgement on one machine."""

    key: str
    """Short, stable word for machines."""
    fault: str
    """The trade's word for what goes wrong; in a note, what to see to."""
    state: State
    """Whether the machine passes; a note neither passes nor fails."""
    number: float | None = None
    limit: float | None = None
    kind: Kind | None = None
    """Kind of quantity of number and limit; pressures are absolute."""
    facts: tuple[Fact, ...] = ()
    probability: float | None = None
    """Of the fault, from the trial runs."""
    source: str
    """Where the limit comes from."""
    sentence: str
    safety: bool = False
    final: bool = False
    """The rebuild must not go ahead while this fails."""
    barred: bool = False
    """A rule forbids it, and no decision in the job opens it."""
    doubt: MeasurementPriority | None = None
    """Null for a verdict that is settled, or from which no number stands out."""

    @property
    def unit(self) -> Annotated[str, Shown()]:
        """SI unit of number and limit; 1 for a ratio, empty without a number."""
        if self.kind is None:
            return ""
        return SI_UNITS[self.kind].replace("_per_", "/").replace("_", "*") or "1"


def better_instrument(parameter: Parameter) -> tuple[str, float]:
    """What measures a parameter better than it is known, and the share of its sd that it leaves.

    Empty and 1 when nothing at a bench does: models, ratings, or what is measured well already.
    """
    tool = parameter.instrument
    if tool is None or parameter.origin == "model":
        return "", 1.0
    left = tool.sd(parameter.value) / parameter.sd
    return (tool.name, left) if left < _GAIN else ("", 1.0)


def settled(probability: float) -> bool:
    """Whether a probability is so near to 0 or 1 that nothing need be measured."""
    return not _SETTLED[0] <= probability <= _SETTLED[1]


def measurement_priority(
    probability: float, shares: Sequence[Share], parameters: Sequence[Parameter]
) -> MeasurementPriority | None:
    """Parameters behind a doubtful verdict; None when none stands out.

    Parameters
    ----------
    probability : float
        Of the fault.
    shares : sequence of Share
        Of the variance of the margin to the limit, largest first.
    """
    if not shares:
        return None
    by_key = {p.key: p for p in parameters}
    causes = []
    for s in shares:
        how, left = better_instrument(by_key[s.key])
        low, high = _once_known(probability, s.share * (1.0 - left * left) if how else s.share)
        causes.append(
            Cause(
                key=s.key,
                label=s.label,
                share=s.share,
                origin=s.origin,
                note=s.note,
                how=how,
                chance_low=low,
                chance_high=high,
            )
        )
    return MeasurementPriority(
        unmeasured=tuple([c for c in causes if c.origin != "measured"][:3]),
        measure_first=tuple([c for c in causes if c.how and c.share >= _WORTH_MEASURING][:3]),
    )


def _once_known(probability: float, share: float) -> tuple[float, float]:
    """Probability of the fault when a share of the variance has turned out one sd to each side."""
    share = min(share, 0.999)
    at = _NORMAL.inv_cdf(probability)
    left = math.sqrt(1.0 - share)
    return (
        _NORMAL.cdf((at - math.sqrt(share)) / left),
        _NORMAL.cdf((at + math.sqrt(share)) / left),
    )

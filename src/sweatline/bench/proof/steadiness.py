"""Whether readings are steady enough to count, by a rule that is stated.

Readings count when the machine has run for half an hour, when a quarter of an hour has gone by
since the charge was last changed (the time that charging practice for capillary machines and a
state's reference appendix for acceptance tests both ask for), and when over the time that is looked
at every reading stands still and the room is the same. A reading stands still when

- its exponentially weighted standard deviation with forgetting factor 0.7 a look, one look in two
  minutes, is within the rest of a transient that no longer matters, and
- the straight line through it changes by no more than that in ten minutes.

References
----------
Breuker, "Evaluating the performance of a fault detection and diagnostic system for vapor
compression equipment", 1997, as told in a report on rooftop units (forgetting factor 0.6 to 0.8,
0.7 in the field). The limits on the size are those at which charging takes a reading for settled.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np

from sweatline.answers import Answer, Q
from sweatline.log.channels import CHANNELS, CHARACTERS
from sweatline.units import Kind

AFTER_START: Final = 1800.0  # s (common practice)
AFTER_CHANGE: Final = 900.0  # s of charge (PUBLISHED, see above)
FORGETTING: Final = 0.7  # a look (PUBLISHED, see above)
LOOK: Final = 120.0  # s from look to look
DRIFT: Final = 600.0  # s in which a reading may change by no more than its limit
SHORTEST: Final = 600.0  # s that a reading is followed at least
FEWEST: Final = 3  # looks at one reading at least

# Where nothing is followed while charging: air and watts of a room that stands still. [SI]
_LIMITS: Final = {"temperature": 0.5, "relative humidity": 0.03, "current": 0.05, "voltage": 5.0}
# How far the room may go in the whole time. [SI]
ROOM: Final = {"air in": 1.5, "room humidity": 0.05}

Verdict = Literal["steady", "not steady", "not shown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SteadyReading(Answer):
    """How still one reading stood. SI, in the unit of its channel."""

    channel: str
    kind: Kind
    looks: int
    scatter_SI: float
    """Exponentially weighted standard deviation at the end."""
    change_SI: float
    """Of the straight line through it, in ten minutes."""
    limit_SI: float
    """What both may be at most."""
    moved_SI: float
    """Of the straight line from begin to end."""
    still: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Steadiness(Answer):
    """Whether the readings count, and why."""

    verdict: Verdict
    reason: str
    duration: Annotated[float, Q("time", "looked at for", digits=2)]
    readings: tuple[SteadyReading, ...] = ()


def stood_still(reading: str, looks: Sequence[tuple[float, float]]) -> SteadyReading | None:
    """How still a reading stood; None where too little was read to say it.

    Parameters
    ----------
    looks : sequence of (float, float)
        Time [s] and value [SI], in the order of time.
    """
    times, values = _thinned(looks)
    if len(times) < FEWEST or times[-1] - times[0] < SHORTEST:
        return None
    kind = CHANNELS[reading].kind
    character = CHARACTERS.get(reading)
    limit = character.tolerance if character is not None else _LIMITS.get(kind, math.inf)
    t, y = np.array(times), np.array(values)
    slope = float(np.polyfit(t - t[0], y, 1)[0])
    scatter = weighted_deviation(values)
    # Below a thousandth of what matters it is the rounding of the fit.
    slope = slope if abs(slope * DRIFT) > 1e-3 * limit else 0.0
    change = slope * DRIFT
    moved = slope * (times[-1] - times[0])
    still = scatter <= limit and abs(change) <= limit and abs(moved) <= ROOM.get(reading, math.inf)
    return SteadyReading(
        channel=reading, kind=kind, looks=len(times), scatter_SI=scatter, change_SI=change,
        limit_SI=limit, moved_SI=moved, still=still,
    )  # fmt: skip


def weighted_deviation(values: Sequence[float], forgetting: float = FORGETTING) -> float:
    """Exponentially weighted standard deviation at the end of a series. [of the values]

    Mean and variance go on from look to look, m = f m + (1 - f) y and
    v = f (v + (1 - f) (y - m)^2), with m of before in v.
    """
    mean, variance = values[0], 0.0
    for y in values[1:]:
        variance = forgetting * (variance + (1.0 - forgetting) * (y - mean) ** 2)
        mean = forgetting * mean + (1.0 - forgetting) * y
    return math.sqrt(variance)


def _thinned(looks: Sequence[tuple[float, float]]) -> tuple[list[float], list[float]]:
    """Means over two minutes: a sensor that sends every second makes no sixty looks a minute."""
    slots: dict[int, list[tuple[float, float]]] = {}
    for at, value in looks:
        slots.setdefault(int((at - looks[0][0]) // LOOK), []).append((at, value))
    pairs = [np.mean(slot, axis=0) for slot in slots.values()]
    return [float(p[0]) for p in pairs], [float(p[1]) for p in pairs]


def judged(series: Mapping[str, Sequence[tuple[float, float]]], duration: float) -> Steadiness:
    """The verdict over the readings that were followed.

    Parameters
    ----------
    series : mapping
        Of each channel, as :func:`stood_still` takes them.
    duration : float
        That is looked at. [s]
    """
    found = [stood_still(name, looks) for name, looks in series.items()]
    rows = tuple(row for row in found if row is not None)
    moving = [CHANNELS[row.channel].heading for row in rows if not row.still]
    if moving:
        room = all(row.channel in ROOM for row in rows if not row.still)
        reason = "the room changed meanwhile: " if room else "still moving: "
        return Steadiness(
            verdict="not steady", reason=reason + ", ".join(moving), duration=duration,
            readings=rows,
        )  # fmt: skip
    if not rows:
        return Steadiness(
            verdict="not shown", duration=duration,
            reason=f"nothing was read {FEWEST} times over ten minutes or more",
        )  # fmt: skip
    return Steadiness(
        verdict="steady", duration=duration, readings=rows,
        reason=f"{len(rows)} readings stood still" if len(rows) > 1 else "one reading stood still",
    )  # fmt: skip

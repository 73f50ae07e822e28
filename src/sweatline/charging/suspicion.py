"""Whether the readings of a charging speak of a machine whose target a dose approaches.

A dose is told to a machine that is starved and not to one that only looks so: behind a blocked tube
each dose goes into the condenser, air in the circuit lifts the head, a wrong instrument asks for
gas that nobody misses. Far below the right charge a dose does no harm even so, and the readings of
a starved machine tell least. So the next step is a look and not a dose when one of these is as good
as sure, or when the dose could well be too much for a machine that has it, or to stop could leave
it short: the one reading that tells it from the rest. Where a part of the dose could hardly be too
much, that part comes first. Once the reading is entered, the charging goes on or has its reason not
to. Dirt, slow air and a tired compressor are no reason to stop: the charge they ask for is the one
that is approached.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from sweatline.assembly.build import Build
from sweatline.charging.settling import Outlook
from sweatline.charging.stop_rule import Obstacle
from sweatline.charging.tracker import ChargeState, at_place
from sweatline.constants import NINE_TENTHS
from sweatline.diagnosis.causes import CAUSES
from sweatline.diagnosis.diagnosis import named
from sweatline.diagnosis.next_reading import next_readings
from sweatline.diagnosis.observed import SHOWS
from sweatline.diagnosis.weighed import Earlier, Reading, Weighed
from sweatline.diagnosis.weighing import Weighing
from sweatline.log.entries import sd_of
from sweatline.units import show

_Round = TypeVar("_Round")
_ROUNDS: Final = (0, -3, -1)  # of those before this one that are weighed with it
_SURE: Final = 0.9  # chance of being misled from which a look comes before any dose
_LIKELY: Final = 0.3  # from which it is waited until the readings have settled
_HARM: Final = 0.15  # chance of being misled into a wrong charge, from which it comes (judged)
# Wrong, against the charge that is right once what misleads is mended: after a dose, and where the
# charging would end.
_TOO_MUCH: Final = 1.10
_TOO_LITTLE: Final = 0.85
# K by which the end of a reading is missed beyond its outlook: the gas follows the shell, which
# warms for half an hour. Of simulated machines in order, root mean square.
SLOW: Final[Mapping[str, float]] = {"discharge gas": 3.0, "suction gas": 0.4}
_LEAST_ERROR: Final = 0.01  # of the charge, however well the scale reads
# With these no dose approaches a target.
_MISLEADING: Final = frozenset(
    {"restriction", "foreign gas", "leak", "wrong instrument", "swapped", "unknown"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspicion:
    """What the readings say of being misled."""

    look: Obstacle | None
    """What to look at before another dose; None while doses approach their target."""
    dose: float
    """As asked about, or what of it can hardly be too much. [kg]"""
    settle: bool
    """Before a dose or a look the readings are to settle."""


def suspicion(
    build: Build,
    weighing: Weighing,
    now: ChargeState,
    dose: float = 0.0,
    *,
    smallest: float = math.inf,
) -> Suspicion:
    """What the readings say before another dose [kg], or before the end.

    Parameters
    ----------
    smallest : float
        Dose that is worth while. [kg]
    """
    readings = _readings(build, now)
    weighed = weighing.weigh(readings, pairs=False, earlier=_earlier(build, now))
    misled = _misled(weighed)
    # A dose that could be too much is made smaller first: it brings nearer what tells.
    while misled < _SURE and dose >= 2.0 * smallest and look_first(weighed, dose / now.charge):
        dose *= 0.5
    look = None
    if look_first(weighed, dose / now.charge):
        look = _look(build, weighing, weighed, readings)
    settle = misled >= _LIKELY or look is not None
    return Suspicion(look=look, dose=dose, settle=settle)


def look_first(weighed: Weighed, more: float) -> bool:
    """Whether a look comes before so much more, as a share of what is in; or before the end."""
    harmed = 0.0
    for grid, chance in zip(weighed.grids, weighed.chance, strict=True):
        if _MISLEADING & set(grid.hypothesis.causes):
            wrong = grid.share * (1.0 + more) > _TOO_MUCH
            if more == 0.0:
                wrong |= grid.share < _TOO_LITTLE
            harmed += float(chance) * float(grid.weights[wrong].sum())
    return _misled(weighed) >= _SURE or harmed >= _HARM


def _misled(weighed: Weighed) -> float:
    """Chance that one of the causes with which no dose approaches a target is there."""
    found = zip(weighed.grids, weighed.chance, strict=True)
    return sum(float(c) for g, c in found if _MISLEADING & set(g.hypothesis.causes))


def _readings(build: Build, now: ChargeState) -> list[Reading]:
    """Where the readings settle, those that were taken beside them, and what was weighed in."""
    found = {r.channel: r for r in (*_settled(now, now.outlooks), *_beside(build, now, now.charge))}
    sd = math.hypot(now.charge_sd, _LEAST_ERROR * now.charge)
    found["charge weighed"] = Reading(channel="charge weighed", value=now.charge, sd=sd)
    return list(found.values())


def weighed_rounds(earlier: Sequence[_Round]) -> list[_Round]:
    """Of all rounds before this one, those that are weighed with it."""
    places = dict.fromkeys(i % len(earlier) for i in _ROUNDS if -len(earlier) <= i < len(earlier))
    return [earlier[i] for i in places]


def _earlier(build: Build, now: ChargeState) -> list[Earlier]:
    """Some rounds with less in the machine, and all that was read beside any."""
    found = {
        one.charge: (one.at, _settled(now, one.outlooks))
        for one in weighed_rounds(now.earlier)
        if one.charge < now.charge
    }
    for charge in {charge for charge, _entry in now.beside.values()} - {0.0, now.charge}:
        then = max(e.happened_at for c, e in now.beside.values() if c == charge)
        at, told = found.get(charge, (then, []))
        found[charge] = at, [*told, *_beside(build, now, charge)]
    return [
        Earlier(part=charge / now.charge, readings=tuple(told), ago=max(now.at - at, 0.0))
        for charge, (at, told) in found.items()
    ]


def _beside(build: Build, now: ChargeState, charge: float) -> list[Reading]:
    """What was last read at a charge [kg] of what is not followed."""
    found = []
    for name, (then, entry) in now.beside.items():
        if name in SHOWS and then == charge:
            atmosphere = entry.atmosphere or build.job.place.atmospheric_pressure
            sd, _source = sd_of(entry, now.instruments, atmosphere)
            found.append(Reading(channel=name, value=at_place(entry, build), sd=sd or 0.03))
    return found


def _settled(now: ChargeState, outlooks: Mapping[str, Outlook]) -> list[Reading]:
    """Where the readings of a round settle, as far as their instruments are still known."""
    found = []
    for name, o in outlooks.items():
        if name in SHOWS and name in now.errors:
            fresh = math.hypot((o.high - o.low) / (2.0 * NINE_TENTHS), SLOW.get(name, 0.0))
            sd = math.hypot(fresh, now.sd(name))
            found.append(Reading(channel=name, value=o.settled, sd=sd, fresh=fresh))
    return found


def _look(build: Build, weighing: Weighing, weighed: Weighed, readings: list[Reading]) -> Obstacle:
    present = [
        (key, about, chance)
        for (key, about), chance in weighed.present().items()
        if key in _MISLEADING
    ]
    key, about, chance = present[0]
    text = f"{named(CAUSES[key], about)}, {100.0 * chance:.0f} in 100"
    asked = [n for n in next_readings(weighing, weighed, readings) if n.channel != "charge weighed"]
    if not asked or CAUSES[key].part == "time":
        mend = CAUSES[key].do.format(" and ".join(about))
        return Obstacle(key="look first", sentence=f"{text}; {mend}", cause=key)
    one = asked[0]
    system = build.job.unit_system
    zero = build.job.place.atmospheric_pressure
    shows = ", ".join(
        f"{show(f.expected_SI.low, one.kind, system, atmosphere=zero)} to "
        f"{show(f.expected_SI.high, one.kind, system, atmosphere=zero)} if {f.cause}"
        for f in one.separates
    )
    text += f". Before any more gas: {one.how}, and write it down as {one.channel}: {shows}"
    return Obstacle(key="look first", sentence=text, cause=key, read=one.channel)

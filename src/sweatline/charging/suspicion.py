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
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from sweatline.assembly.build import Build
from sweatline.charging.settling import Outlook
from sweatline.charging.stop_rule import Obstacle, goes_on
from sweatline.charging.tracker import ChargeState, at_place
from sweatline.constants import NINE_TENTHS
from sweatline.diagnosis.causes import CAUSES
from sweatline.diagnosis.diagnosis import named
from sweatline.diagnosis.next_reading import next_readings
from sweatline.diagnosis.observed import SHOWS
from sweatline.diagnosis.weighed import Earlier, Hypothesis, Reading, Weighed
from sweatline.diagnosis.weighing import Weighing
from sweatline.log.channels import BLOCKED_TUBE
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
_IN_SPITE: Final = 0.5  # chance of what was ruled out, from which that is said
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
    in_spite: str
    """What is said of the likeliest cause where that was ruled out; empty else."""


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
    out = now.ruled_out
    # A tube that is not blocked may still be narrower than the job says, and reads the same.
    weighed = weighing.weigh(
        readings,
        pairs=False,
        earlier=_earlier(build, now),
        ruled_out=out - {BLOCKED_TUBE},
    )
    misled = _misled(weighed, out)
    # A dose that could be too much is made smaller first: it brings nearer what tells.
    while misled < _SURE and dose >= 2.0 * smallest and look_first(weighed, dose / now.charge, out):
        dose *= 0.5
    look = None
    if look_first(weighed, dose / now.charge, out):
        look = _look(build, weighing, weighed, readings, out)
    settle = misled >= _LIKELY or look is not None
    return Suspicion(look=look, dose=dose, settle=settle, in_spite=_in_spite(weighed, out))


def _in_spite(weighed: Weighed, ruled_out: Collection[str]) -> str:
    """What is said of a cause that was ruled out and is the likeliest all the same; else empty.

    A tube that is not blocked and lets through less is another than the job says.
    """
    (key, about), chance = next(iter(weighed.present().items()))
    sizes = weighed.of_size(key)
    if chance < _IN_SPITE or not _is_out(key, about, ruled_out):
        return ""
    if key == "restriction" and sizes is not None:
        size = sizes.range()
        low, middle, high = (f"{100.0 * v:.0f}" for v in (size.low, size.middle, size.high))
        return (
            f"by these readings the tube lets through {middle} % ({low} to {high} %) of what the "
            "job says: correct its bore or length there. Were it blocked after all, this would be "
            "too much"
        )
    return (
        f"the readings still speak for {named(CAUSES[key], about)}, {100.0 * chance:.0f} in 100, "
        "though that was ruled out: look once more before you leave it"
    )


def look_first(weighed: Weighed, more: float, ruled_out: Collection[str] = ()) -> bool:
    """Whether a look comes before so much more, as a share of what is in; or before the end.

    Parameters
    ----------
    ruled_out : collection of str
        What was looked at and is in order, as the log calls it.
    """
    harmed = 0.0
    for grid, chance in zip(weighed.grids, weighed.chance, strict=True):
        if _misleads(grid.hypothesis, ruled_out):
            wrong = grid.share * (1.0 + more) > _TOO_MUCH
            if more == 0.0:
                wrong |= grid.share < _TOO_LITTLE
            harmed += float(chance) * float(grid.weights[wrong].sum())
    return _misled(weighed, ruled_out) >= _SURE or harmed >= _HARM


def _misleads(one: Hypothesis, ruled_out: Collection[str]) -> bool:
    """Whether there is a cause with which no dose approaches a target, and which may be there."""
    return any(
        key in _MISLEADING and not _is_out(key, one.channels, ruled_out) for key in one.causes
    )


def _is_out(key: str, about: Sequence[str], ruled_out: Collection[str]) -> bool:
    return any(name in ruled_out for name in CAUSES[key].ruled_out_as(about))


def _misled(weighed: Weighed, ruled_out: Collection[str]) -> float:
    """Chance that one of the causes with which no dose approaches a target is there."""
    found = zip(weighed.grids, weighed.chance, strict=True)
    return sum(float(c) for g, c in found if _misleads(g.hypothesis, ruled_out))


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


def _look(
    build: Build,
    weighing: Weighing,
    weighed: Weighed,
    readings: Sequence[Reading],
    ruled_out: Collection[str],
) -> Obstacle:
    """What to look at, and how to write down what was seen."""
    key, about, chance = next(
        (key, about, chance)
        for (key, about), chance in weighed.present().items()
        if key in _MISLEADING and not _is_out(key, about, ruled_out)
    )
    cause, text = CAUSES[key], f"{named(CAUSES[key], about)}, {100.0 * chance:.0f} in 100"
    sound = cause.ruled_out_as(about)
    asked = [n for n in next_readings(weighing, weighed, readings) if n.channel != "charge weighed"]
    if not asked or cause.part == "time":
        text += f"; {cause.do.format(' and '.join(about))}"
        if sound:
            text += f". {goes_on(sound)}"
        return Obstacle(key="look first", sentence=text, cause=key, ruled_out=sound)
    one = asked[0]
    system = build.job.unit_system
    zero = build.job.place.atmospheric_pressure
    shows = ", ".join(
        f"{show(f.expected_SI.low, one.kind, system, atmosphere=zero)} to "
        f"{show(f.expected_SI.high, one.kind, system, atmosphere=zero)} if {f.cause}"
        for f in one.separates
    )
    text += f". Before any more gas: {one.how}, and write it down as {one.channel}: {shows}"
    return Obstacle(key="look first", sentence=text, cause=key, read=one.channel, ruled_out=sound)

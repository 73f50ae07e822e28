"""Ranges of many states of one machine: along its charge, and from room to room.

Each draw is one machine that is carried through all of the states, as the machine on the floor
would be. That costs no more than linearising every state about its best values, and holds where
a line does not: where superheat or subcooling reaches zero, a linearised range can be half as wide
again or miss half of what the draws show.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweatline.answers import Range, range_of, ranges_of
from sweatline.answers.range import FEWEST
from sweatline.assembly.trial_runs import TRIAL_TOLERANCE
from sweatline.constants import ZERO_CELSIUS
from sweatline.errors import SolveError
from sweatline.uncertainty.sampling import normal_samples

if TYPE_CHECKING:
    from sweatline.assembly.build import Build
    from sweatline.machine.balance import SteadyState, Target
    from sweatline.machine.charge_curve import ChargeEvent
    from sweatline.machine.room_map import RoomMap

__all__ = [
    "ChargeSpread",
    "RoomSpread",
    "Walks",
    "Waypoint",
    "along_the_charge",
    "bands_at",
    "crossing",
    "few_of",
    "from_room_to_room",
    "level_band",
    "walks",
]


# At so many charges of a curve and rooms of a map (temperatures, humidities) ranges are worked out.
_CHARGES_WITH_RANGES = 11
_ROOMS_WITH_RANGES = (4, 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waypoint:
    """One state the draws are carried to: what the best values give there, and where it is."""

    balance: SteadyState
    charge: float | None  # kg; None: what each draw was charged with in the job's room
    room: tuple[float, float] | None  # K, relative humidity; None: the job's room as drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class Walks:
    """Draws carried through a row of states."""

    first: tuple[SteadyState, ...]  # each draw as it was charged in the job's room
    balances: tuple[
        tuple[SteadyState | None, ...], ...
    ]  # a row for each draw; None: no balance there
    draws: int


def walks(
    build: Build,
    known: SteadyState,
    target: Target,
    way: Sequence[Waypoint],
    *,
    count: int = 32,
    progress: Callable[[], None] | None = None,
) -> Walks:
    """Charge every draw in the job's room as `target` says, and carry it through the states.

    Parameters
    ----------
    known : SteadyState
        What the best values give with `target`.
    way : sequence of Waypoint
        In an order in which neighbours are like each other.
    """
    from sweatline.machine.balance import fixed_charge, solve
    from sweatline.machine.room_map import in_room

    table = build.refrigerant.table
    pressure = build.job.place.atmospheric_pressure
    firsts, rows = [], []
    draws = normal_samples(len(build.parameters), count)
    for z in draws:
        if progress is not None:
            progress()
        machine, line = build.moved(build.by_key(z))
        try:
            first = solve(table, line, machine, target, near=known, tolerance=TRIAL_TOLERANCE)
        except SolveError:
            continue
        shift = np.array(first.unknowns) - np.array(known.unknowns)
        row: list[SteadyState | None] = []
        for stop in way:
            there = machine if stop.room is None else in_room(machine, *stop.room, pressure)
            charge = stop.charge if stop.charge is not None else first.charge
            middle = np.array(stop.balance.unknowns)
            try:
                found = solve(
                    table,
                    line,
                    there,
                    fixed_charge(charge),
                    near=stop.balance,
                    guess=middle + shift,
                    tolerance=TRIAL_TOLERANCE,
                )
            except SolveError:
                row.append(None)
                continue
            shift = np.array(found.unknowns) - middle
            row.append(found)
        firsts.append(first)
        rows.append(tuple(row))
    return Walks(first=tuple(firsts), balances=tuple(rows), draws=len(draws))


def bands_at(found: Walks, stop: int) -> Mapping[str, Range]:
    """Range of each quantity in one of the states; empty where too few draws have a balance."""
    return ranges_of([b for row in found.balances if (b := row[stop]) is not None])


def crossing(at: Sequence[float], values: Sequence[float]) -> float | None:
    """First place at which values along a line change sign, by straight pieces. [of `at`]"""
    for (x0, y0), (x1, y1) in pairwise(zip(at, values, strict=True)):
        if (y0 < 0.0) != (y1 < 0.0):
            return x0 + (x1 - x0) * y0 / (y0 - y1)
    return None


def level_band(
    found: Walks,
    stops: Sequence[int],
    at: Sequence[float],
    nominal: float,
    level: Callable[[SteadyState], float],
    middle: Sequence[SteadyState],
) -> Range | None:
    """Range of where a quantity passes zero along some of the states.

    The states lie far apart, so a place between two of them is rough; how far the same straight
    pieces put the best values from where they are known to pass is taken off every draw.

    Parameters
    ----------
    stops : sequence of int
        Positions of the states in a row, in the order of `at`.
    at : sequence of float
        Where each state lies, for instance its charge.
    nominal : float
        Where the best values pass zero.
    middle : sequence of SteadyState
        The best values in these states.

    Returns
    -------
    Range or None
        None when fewer than three quarters of the draws pass at all: the range would leave out
        those that do not.
    """
    rough = crossing(at, [level(b) for b in middle])
    if rough is None:
        return None
    passed = []
    for row in found.balances:
        pairs = [(x, b) for x, k in zip(at, stops, strict=True) if (b := row[k]) is not None]
        place = crossing([x for x, _ in pairs], [level(b) for _, b in pairs])
        if place is not None:
            passed.append(place - rough + nominal)
    if len(passed) < max(FEWEST, 0.75 * found.draws):
        return None
    return range_of(passed)


def few_of(count: int, most: int) -> list[int]:
    """Positions of at most `most` of `count` things, evenly spread, with both ends."""
    if count <= most:
        return list(range(count))
    step = (count - 1) / (most - 1)
    return sorted({math.floor(i * step + 0.5) for i in range(most)})


class ChargeSpread(NamedTuple):
    """What the draws show along a charge curve."""

    stop: Mapping[str, Range]
    events: tuple[Range | None, ...]
    ranges: tuple[tuple[SteadyState, Mapping[str, Range]], ...]
    draws: int


def along_the_charge(
    build: Build,
    target: Target,
    stop: SteadyState,
    curve: Sequence[SteadyState],
    events: Sequence[ChargeEvent],
    draws: int,
    progress: Callable[[float], None] | None,
) -> ChargeSpread | None:
    """What the draws show along a charge curve; None when it was interrupted."""
    from sweatline.machine.balance import fixed_charge

    picked = [curve[i] for i in few_of(len(curve), _CHARGES_WITH_RANGES)]
    done = 0

    def step() -> None:
        nonlocal done
        done += 1
        if progress is not None:
            progress(min(done / draws, 1.0))

    try:
        known = build.solve(target, near=stop)
        way = [
            Waypoint(
                balance=build.solve(fixed_charge(b.charge), near=b), charge=b.charge, room=None
            )
            for b in picked
        ]
        # From the stop outwards, so that a draw always starts from a neighbour it has solved.
        order = sorted(range(len(way)), key=lambda i: abs(picked[i].charge - stop.charge))
        found = walks(build, known, target, [way[i] for i in order], count=draws, progress=step)
    except KeyboardInterrupt:
        return None
    at = [order.index(i) for i in range(len(picked))]
    charges = [b.charge for b in picked]
    middle = [w.balance for w in way]
    return ChargeSpread(
        stop=ranges_of(found.first),
        events=tuple(level_band(found, at, charges, e.charge, e.level, middle) for e in events),
        ranges=tuple((b, bands_at(found, at[i])) for i, b in enumerate(picked)),
        draws=found.draws,
    )


class RoomSpread(NamedTuple):
    """What the draws show in the rooms of a map."""

    frost: tuple[Range | None, ...]
    ranges: tuple[tuple[int, int, Mapping[str, Range]], ...]
    draws: int


def from_room_to_room(
    build: Build,
    target: Target,
    known: SteadyState,
    found: RoomMap,
    frost_line: Sequence[tuple[float, float]],
    draws: int,
    progress: Callable[[float], None] | None,
) -> RoomSpread | None:
    """What the draws show in some of the rooms of a map; None when it was interrupted.

    Each draw is charged as the machine was: to the superheat in the job's room, or by weight.
    """
    weighed = target.charge if target.with_charge == 1 else None
    rows = few_of(len(found.temperatures), _ROOMS_WITH_RANGES[0])
    columns = few_of(len(found.humidities), _ROOMS_WITH_RANGES[1])
    places, way = [], []
    for turn, j in enumerate(columns):
        # To and fro, so that a draw always starts from the room next to the last one.
        for i in rows if turn % 2 else reversed(rows):
            b = found.balances[i][j]
            if b is not None:
                room = (float(found.temperatures[i]), float(found.humidities[j]))
                places.append((i, j))
                way.append(Waypoint(balance=b, charge=weighed, room=room))
    done = 0

    def step() -> None:
        nonlocal done
        done += 1
        if progress is not None:
            progress(min(done / draws, 1.0))

    try:
        spread = walks(build, known, target, way, count=draws, progress=step)
    except KeyboardInterrupt:
        return None
    line = dict(frost_line)
    known_bands: dict[float, Range] = {}
    for j in columns:
        rh = float(found.humidities[j])
        there = sorted(k for k, (_i, column) in enumerate(places) if column == j)
        there.sort(key=lambda k: places[k][0])
        if rh in line:
            frost = level_band(
                spread,
                there,
                [float(found.temperatures[places[k][0]]) for k in there],
                line[rh],
                lambda b: b.coil_temperature - ZERO_CELSIUS,
                [way[k].balance for k in there],
            )
            if frost is not None:
                known_bands[rh] = replace(frost, middle=line[rh])
    return RoomSpread(
        frost=tuple(_between(known_bands, rh, t) for rh, t in frost_line),
        ranges=tuple((*places[k], bands_at(spread, k)) for k in range(len(places))),
        draws=spread.draws,
    )


def _between(bands: Mapping[float, Range], at: float, middle: float) -> Range | None:
    """Range about `middle` from those known on both sides; None outside of them."""
    places = sorted(bands)
    if not places or not places[0] <= at <= places[-1]:
        return None
    low = np.interp(at, places, [bands[p].low - bands[p].middle for p in places])
    high = np.interp(at, places, [bands[p].high - bands[p].middle for p in places])
    return Range(low=middle + float(low), middle=middle, high=middle + float(high))

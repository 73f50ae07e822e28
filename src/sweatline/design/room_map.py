"""What does one charged machine do in other rooms? Water, watts and frost on a grid of rooms."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Annotated, ClassVar

import numpy as np

from sweatline.answers import Answer, Hidden, Q, Range, Shown, ranges_of
from sweatline.assembly.build import build_for
from sweatline.assembly.trial_runs import State, few_of, range_of_crossing, trial_states
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.balance import BuildAnswer, JobHead, part_of_progress
from sweatline.errors import JobError
from sweatline.job.model import Job
from sweatline.machine.balance import BY_CHARGE, SteadyState, Target, filled, fixed_charge
from sweatline.machine.room_map import RoomMap, map_rooms

Grid = tuple[tuple[float | None, ...], ...]
"""A row for each temperature; None where there is no balance."""

_ROOMS_WITH_RANGES = (4, 3)  # temperatures, humidities


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostPoint(Answer):
    """Room temperature below which the coldest surface freezes, at one humidity."""

    relative_humidity: float
    room_temperature: Annotated[float, Q("temperature")]
    band: Annotated[
        Range | None, Q("temperature", "", "Null when it was not looked for or runs off the map.")
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomRanges(Answer):
    """What may be seen in one room."""

    temperature: Annotated[float, Q("temperature")]
    relative_humidity: float
    bands: Mapping[str, Range]
    """Likely ranges (9 in 10); keys as in a steady state."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomAnswer(BuildAnswer, JobHead):
    """`sweatline room-map --json`: grids with a row for each temperature."""

    CHARGE: ClassVar[str] = "charge"
    known: Annotated[SteadyState, Hidden()]  # in the job's room
    map: Annotated[RoomMap, Hidden()]
    frost_line: tuple[FrostPoint, ...]
    ranges: tuple[RoomRanges, ...]
    """In some of the rooms; those between lie between."""
    draws: int
    """Trial runs behind the ranges; 0 without them."""
    complete: bool
    """False when it was interrupted."""

    @property
    def charge(self) -> Annotated[float, Q("mass", "charge")]:
        """The same in every room. [kg]"""
        return self.known.charge

    @property
    def temperatures(self) -> Annotated[tuple[float, ...], Q("temperature")]:
        """Of the rooms, rising. [K]"""
        return tuple(float(t) for t in self.map.temperatures)

    @property
    def relative_humidities(self) -> Annotated[tuple[float, ...], Shown()]:
        """Of the rooms, rising; 0 to 1."""
        return tuple(float(r) for r in self.map.humidities)

    def grid(self, of: Callable[[SteadyState], float | None]) -> Grid:
        """Any quantity of a steady state over the rooms."""
        return tuple(tuple(None if b is None else of(b) for b in row) for row in self.map.balances)

    @property
    def water(self) -> Annotated[Grid, Q("water removal")]:
        """Taken from the rooms. [kg/s]"""
        return self.grid(lambda b: b.water)

    @property
    def total_power(self) -> Annotated[Grid, Q("power")]:
        """Compressor and all fans. [W]"""
        return self.grid(lambda b: b.total_power)

    @property
    def water_per_energy(self) -> Annotated[Grid, Q("water per energy")]:
        """Water for each joule. [kg/J]"""
        return self.grid(lambda b: b.water_per_energy)

    @property
    def coil_temperature(self) -> Annotated[Grid, Q("temperature")]:
        """Coldest surface of the evaporator. [K]"""
        return self.grid(lambda b: b.coil_temperature)

    @property
    def superheat(self) -> Annotated[Grid, Q("temperature difference")]:
        """At the evaporator's outlet. [K]"""
        return self.grid(lambda b: b.superheat)

    @property
    def discharge_pressure(self) -> Annotated[Grid, Q("pressure")]:
        """Condenser inlet. [Pa]"""
        return self.grid(lambda b: b.discharge_pressure)

    @property
    def reasons(self) -> Annotated[tuple[tuple[str, ...], ...], Shown()]:
        """Why there is no balance; empty where there is one, or where it was not looked for."""
        return self.map.reasons


def room_map(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    temperatures: Sequence[float],
    humidities: Sequence[float],
    length: float | None = None,
    charge: float | None = None,
    draws: int = 32,
    progress: Callable[[float], None] | None = None,
) -> RoomAnswer:
    """Charge the machine in the job's room, then carry it through a grid of rooms.

    An interrupt keeps the rooms that have been solved.

    Parameters
    ----------
    temperatures, humidities : sequences
        Rising. [K], [0..1]

    Raises
    ------
    JobError
        The rooms do not rise.
    """
    if any(b <= a for a, b in pairwise(temperatures)) or any(
        b <= a for a, b in pairwise(humidities)
    ):
        raise JobError(what="the rooms of a map must be given in rising order", field="rooms")
    build = build_for(
        job, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    target = filled(superheat=job.targets.superheat) if charge is None else fixed_charge(charge)
    known = build.solve(target, near=build.designed)
    partial: list[list[SteadyState | None]] = []
    complete = True
    try:
        found = map_rooms(
            build.refrigerant.table,
            build.line,
            build.machine,
            known,
            temperatures,
            humidities,
            job.place.atmospheric_pressure,
            progress=part_of_progress(progress, 0.0, 0.4 if draws else 1.0),
            into=partial,
        )
    except KeyboardInterrupt:
        complete = False
        found = RoomMap(
            temperatures=np.asarray(temperatures, dtype=float),
            humidities=np.asarray(humidities, dtype=float),
            balances=tuple(tuple(row) for row in partial),
            reasons=tuple(tuple("" for _ in humidities) for _ in temperatures),
        )
    answer = RoomAnswer(
        build=build,
        known=known,
        map=found,
        frost_line=tuple(_frost_line(found)),
        ranges=(),
        draws=0,
        complete=complete,
    )
    if complete and draws:
        with suppress(KeyboardInterrupt):
            return _with_ranges(answer, target, draws, part_of_progress(progress, 0.4, 1.0))
    return answer


def _frost_line(found: RoomMap) -> Iterator[FrostPoint]:
    """Room temperature at which the coldest surface freezes, for each humidity."""
    coil = found.field(lambda b: b.coil_temperature)
    for j, rh in enumerate(found.humidities):
        for i in range(len(found.temperatures) - 1):
            a, b = coil[i, j] - ZERO_CELSIUS, coil[i + 1, j] - ZERO_CELSIUS
            if a * b < 0.0:  # never where a room has no balance
                w = a / (a - b)
                t = found.temperatures[i] + w * (found.temperatures[i + 1] - found.temperatures[i])
                yield FrostPoint(relative_humidity=float(rh), room_temperature=float(t), band=None)
                break


def _with_ranges(
    answer: RoomAnswer, target: Target, draws: int, progress: Callable[[float], None] | None
) -> RoomAnswer:
    """The map with what the trial runs show in some of its rooms.

    Each is charged as the machine was: to the superheat in the job's room, or by weight.
    """
    found, weighed = answer.map, target.charge if target.charged == BY_CHARGE else None
    rows = few_of(len(found.temperatures), _ROOMS_WITH_RANGES[0])
    columns = few_of(len(found.humidities), _ROOMS_WITH_RANGES[1])
    places, states = [], []
    for turn, j in enumerate(columns):
        # To and fro, so that a trial run always starts from the room next to the last one.
        for i in rows if turn % 2 else reversed(rows):
            b = found.balances[i][j]
            if b is not None:
                room = (float(found.temperatures[i]), float(found.humidities[j]))
                places.append((i, j))
                states.append(State(balance=b, charge=weighed, room=room))
    spread = trial_states(
        answer.build, answer.known, target, states, count=draws, progress=progress
    )
    line = {point.relative_humidity: point.room_temperature for point in answer.frost_line}
    frost_ranges: dict[float, Range] = {}
    for j in columns:
        rh = float(found.humidities[j])
        column = sorted(
            (k for k, place in enumerate(places) if place[1] == j), key=places.__getitem__
        )
        if rh in line:
            frost = range_of_crossing(
                spread,
                column,
                [float(found.temperatures[places[k][0]]) for k in column],
                line[rh],
                lambda b: b.coil_temperature - ZERO_CELSIUS,
                [states[k].balance for k in column],
            )
            if frost is not None:
                frost_ranges[rh] = replace(frost, middle=line[rh])
    return replace(
        answer,
        frost_line=tuple(
            replace(p, band=_between(frost_ranges, p.relative_humidity, p.room_temperature))
            for p in answer.frost_line
        ),
        ranges=tuple(
            RoomRanges(
                temperature=float(found.temperatures[i]),
                relative_humidity=float(found.humidities[j]),
                bands=ranges_of(spread.solved(k)),
            )
            for (i, j), k in sorted(zip(places, range(len(places)), strict=True))
        ),
        draws=spread.count,
    )


def _between(ranges: Mapping[float, Range], at: float, middle: float) -> Range | None:
    """Range about `middle` from those known on both sides; None outside of them."""
    places = sorted(ranges)
    if not places or not places[0] <= at <= places[-1]:
        return None
    low = np.interp(at, places, [ranges[p].low - ranges[p].middle for p in places])
    high = np.interp(at, places, [ranges[p].high - ranges[p].middle for p in places])
    return Range(low=middle + float(low), middle=middle, high=middle + float(high))

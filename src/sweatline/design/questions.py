"""The questions a technician asks before cutting copper, one function each.

Everything above (command, page) comes in through here and through :mod:`sweatline.design.match`;
nothing below knows what a job file or a screen is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from sweatline.answers import Range, quantities_of, range_of, ranges_of
from sweatline.answers.range import FEWEST
from sweatline.assembly.build import Build, build_for
from sweatline.assembly.propagation import along_the_charge, from_room_to_room
from sweatline.assembly.trial_runs import (
    COLDER,
    Trial,
    colder_balance,
    shares_of,
    solved_of,
    trials,
)
from sweatline.design.verdicts import Verdict, judge, judged
from sweatline.errors import JobError
from sweatline.machine.balance import SteadyState
from sweatline.machine.circuit import Inventory
from sweatline.uncertainty.sensitivity import Share

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sweatline.job.model import CapillaryStock, Job
    from sweatline.machine.capillary_cut import Cut
    from sweatline.machine.charge_curve import ChargeEvent
    from sweatline.machine.room_map import RoomMap
    from sweatline.uncertainty.parameter import Parameter

__all__ = [
    "CELLS",
    "BalanceAnswer",
    "ChargeAnswer",
    "MeteringAnswer",
    "RoomAnswer",
    "balance",
    "charge_curve",
    "in_other_room",
    "metering",
    "room_map",
]

# Cells per row of a coil in every answer but the charge curve; eight leave 0.04 K of evaporating
# temperature and 0.4 per cent of water against forty-eight.
CELLS = 8


def in_other_room(
    job: Job, *, temperature: float | None = None, relative_humidity: float | None = None
) -> Job:
    """The same bench in another room. [K], [0..1]"""
    room = job.room
    if temperature is not None:
        room = replace(room, temperature=replace(room.temperature, value=temperature))
    if relative_humidity is not None:
        room = replace(
            room, relative_humidity=replace(room.relative_humidity, value=relative_humidity)
        )
    return replace(job, room=room)


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceAnswer:
    """One machine in one room: what it settles at, how sure, and what that means."""

    build: Build
    balance: SteadyState
    verdicts: tuple[Verdict, ...]
    bands: Mapping[str, Range]  # nine tenths, by key
    places: Mapping[str, Range]  # nine tenths of the charge in each place [kg]
    shares: dict[str, tuple[Share, ...]]  # of each quantity's variance, largest first
    draws: int
    unsolved: int


def balance(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    charge: float | None = None,
    draws: int = 128,
    cells: int = CELLS,
) -> BalanceAnswer:
    """Steady state of one combination in the job's room.

    Parameters
    ----------
    length : float, optional
        Of the capillary. [m] By default a fitted tube keeps its own and stock is cut to suit.
    charge : float, optional
        [kg] By default the machine is charged until its evaporator is filled.
    """
    from sweatline.machine.balance import filled, fixed_charge

    build = build_for(
        job,
        compressor=compressor,
        refrigerant=refrigerant,
        capillary=capillary,
        length=length,
        cells=cells,
    )
    target = filled(superheat=job.targets.superheat) if charge is None else fixed_charge(charge)
    found = build.solve(target, near=build.designed, profiles=True)
    cold = colder_balance(build, found, COLDER) if draws else None
    runs = trials(build, found, target, count=draws, look_colder=True, cold=cold) if draws else []
    over = judged(build, runs)
    solved = solved_of(runs)
    return BalanceAnswer(
        build=build,
        balance=found,
        verdicts=tuple(judge(build, found, cold, runs, over)),
        bands=ranges_of(solved),
        places=_places(solved),
        shares=shares_of(build, runs, quantities_of(SteadyState)),
        draws=len(runs),
        unsolved=len(runs) - int(over.solved.sum()),
    )


def _places(solved: Sequence[SteadyState]) -> Mapping[str, Range]:
    """Range of the charge in each place; empty when the states are too few. [kg]"""
    if len(solved) < FEWEST:
        return {}
    return {
        place: range_of([getattr(b.charge_by_place, place) for b in solved])
        for place in Inventory._fields
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class MeteringAnswer:
    """Lengths of every bore on the shelf for one compressor and refrigerant."""

    build: Build
    balance: SteadyState  # the design balance the lengths are for
    cuts: tuple[tuple[str, Cut, float | None], ...]  # stock name, cut, length on the shelf [m]
    bands: Mapping[str, Range]  # nine tenths of the design balance, by key
    draws: int


def metering(
    job: Job, *, compressor: int, refrigerant: str, draws: int = 64, cells: int = CELLS
) -> MeteringAnswer:
    """Capillary length for every bore, with superheat and subcooling at the job's targets.

    The range of a length is that of the flow and pressures the machine will want and that of the
    tube, drawn together. Without draws it is that of the tube alone.
    """
    from sweatline.machine.balance import design
    from sweatline.machine.capillary_cut import cut_for

    build = build_for(
        job, compressor=compressor, refrigerant=refrigerant, capillary=0, length=1.0, cells=cells
    )
    aim = design(superheat=job.targets.superheat, subcooling=job.targets.subcooling)
    found = build.solve(aim)
    build = replace(build, parameters=(*build.parameters, *_other_tubes(build)))
    runs = trials(build, found, aim, count=draws) if draws else []
    cuts = []
    for stock in job.capillaries:
        cut = cut_for(
            build.refrigerant.table,
            found,
            bore=stock.bore.value,
            bore_sd=stock.bore.sd,
            roughness=stock.roughness.value,
        )
        known = range_of([*_lengths(build, stock, runs)]) if len(runs) >= FEWEST else None
        if known is not None and cut.length > 0.0:
            cut = replace(cut, start_length=math.exp(known.high), shortest=math.exp(known.low))
        shelf = stock.length.value if stock.length is not None else None
        cuts.append((stock.name, cut, shelf))
    solved = solved_of(runs)
    return MeteringAnswer(
        build=build,
        balance=found,
        cuts=tuple(cuts),
        bands=ranges_of(solved)
        | {
            f"{name}_Pa": range_of([getattr(b, name) for b in solved])
            for name in ("evaporating_pressure", "liquid_pressure")
            if len(solved) >= FEWEST
        },
        draws=len(runs),
    )


def _other_tubes(build: Build) -> list[Parameter]:
    """Parameters of the capillaries that are not in the build."""
    from sweatline.assembly.assemble import tube
    from sweatline.assembly.parameters import Sample

    sample = Sample()
    for stock in build.job.capillaries:
        tube(stock, None, sample)
    known = {p.key for p in build.parameters}
    return [p for p in sample.seen.values() if p.key not in known]


def _lengths(build: Build, stock: CapillaryStock, runs: Sequence[Trial]) -> Iterator[float]:
    """Logarithm of the length that every draw asks of one stock; draws it cannot serve count as
    none of it."""
    from sweatline.assembly.assemble import tube
    from sweatline.assembly.parameters import Sample, transferred_prior
    from sweatline.parts.capillary_flow import length_for

    prior = transferred_prior(build.job, build.compressor, build.refrigerant.name, stock)
    for t in runs:
        if t.balance is None:
            continue
        drawn = tube(stock, None, Sample(z=build.by_key(t.z)).about(prior))
        length = length_for(
            build.refrigerant.table,
            bore=drawn.bore,
            mass_flow=t.balance.flow,
            inlet_pressure=t.balance.liquid_pressure,
            inlet_enthalpy=t.balance.metering_enthalpy,
            outlet_pressure=t.balance.evaporating_pressure,
            roughness=drawn.roughness,
            flow_multiplier=drawn.flow_multiplier,
        ).length
        yield math.log(max(length, 1e-3))


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeAnswer:
    """What gauges and thermometers do from empty to overfull, and where to stop."""

    build: Build
    stop: SteadyState  # evaporator filled: superheat at the job's target
    curve: tuple[SteadyState, ...]  # rising charge
    events: tuple[ChargeEvent, ...]
    stop_bands: Mapping[str, Range]  # nine tenths of what the stop shows, by key
    event_bands: tuple[Range | None, ...]  # charge of each event [kg]; None: not in every draw
    # At some states of the curve, rising charge.
    ranges: tuple[tuple[SteadyState, Mapping[str, Range]], ...]
    draws: int
    complete: bool  # False when the sweep was interrupted or ended early
    ended: tuple[str, ...]  # why a direction ended early


def charge_curve(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    low: float = 0.35,
    high: float = 1.6,
    step: float = 0.025,
    cells: int = 24,
    draws: int = 32,
    progress: Callable[[float], None] | None = None,
) -> ChargeAnswer:
    """Sweep the charge of one combination. An interrupt keeps what has been found.

    Ranges are worked out at some of the charges, for every machine that the draws make. The curve
    has three times the usual cells: with few, the coldest surface steps as dry-out moves between
    them.
    """
    from sweatline.machine.balance import filled
    from sweatline.machine.charge_curve import events, sweep_charge

    parts = {"compressor": compressor, "capillary": capillary}
    plain = build_for(job, refrigerant=refrigerant, length=length, cells=CELLS, **parts)
    # The tube is that of the other answers; only the coils are looked at more finely.
    fine = build_for(job, refrigerant=refrigerant, length=plain.length, cells=cells, **parts)
    build = replace(fine, cut=plain.cut, designed=None)
    target = filled(superheat=job.targets.superheat)
    stop = build.solve(target, near=plain.designed)
    curve = [stop]
    complete = True
    try:
        for b in sweep_charge(
            build.refrigerant.table,
            build.line,
            build.machine,
            stop,
            low=low,
            high=high,
            step=step,
            progress=_part(progress, 0.0, 0.4 if draws else 1.0),
        ):
            curve.append(b)
    except KeyboardInterrupt:
        complete = False
    curve.sort(key=lambda b: b.charge)
    ended = []
    if complete and curve[-1].charge < (high - 2 * step) * stop.charge:
        ended.append("the machine has no balance with more charge than the most shown")
    if complete and curve[0].charge > (low + 2 * step) * stop.charge:
        ended.append("the machine has no balance with less charge than the least shown")
    limit = job.limits.high_side_pressure
    found = events(
        curve,
        superheat=job.targets.superheat,
        high_limit=limit.value if limit is not None else None,
    )
    spread = None
    if complete and draws:
        spread = along_the_charge(
            plain, target, stop, curve, found, draws, _part(progress, 0.4, 1.0)
        )
    return ChargeAnswer(
        build=build,
        stop=stop,
        curve=tuple(curve),
        events=tuple(found),
        stop_bands=spread.stop if spread is not None else {},
        event_bands=spread.events if spread is not None else (None,) * len(found),
        ranges=spread.ranges if spread is not None else (),
        draws=spread.draws if spread is not None else 0,
        complete=complete and not ended,
        ended=tuple(ended),
    )


def _part(
    progress: Callable[[float], None] | None, start: float, end: float
) -> Callable[[float], None] | None:
    """Progress of a part of the work as progress of the whole."""
    if progress is None:
        return None
    tell = progress
    return lambda done: tell(start + done * (end - start))


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomAnswer:
    """One charged machine over temperature and humidity."""

    build: Build
    known: SteadyState
    map: RoomMap
    frost_line: tuple[tuple[float, float], ...]  # (humidity 0..1, temperature K) at 0 °C surface
    frost_bands: tuple[Range | None, ...]  # of the temperatures of that line [K]
    # Nine tenths in some of the rooms: row and column of the map, by key.
    ranges: tuple[tuple[int, int, Mapping[str, Range]], ...]
    draws: int
    complete: bool


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
    cells: int = CELLS,
    draws: int = 32,
    progress: Callable[[float], None] | None = None,
) -> RoomAnswer:
    """Charge the machine in the job's room, then carry it through a grid of rooms.

    Parameters
    ----------
    temperatures, humidities : sequences
        Rising. [K], [0..1]
    """
    from sweatline.machine.balance import filled, fixed_charge
    from sweatline.machine.room_map import RoomMap, map_rooms

    if any(b <= a for a, b in pairwise(temperatures)) or any(
        b <= a for a, b in pairwise(humidities)
    ):
        raise JobError(what="the rooms of a map must be given in rising order", field="room-map")
    build = build_for(
        job,
        compressor=compressor,
        refrigerant=refrigerant,
        capillary=capillary,
        length=length,
        cells=cells,
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
            progress=_part(progress, 0.0, 0.4 if draws else 1.0),
            into=partial,
        )
    except KeyboardInterrupt:
        import numpy as np

        complete = False
        found = RoomMap(
            temperatures=np.asarray(temperatures, dtype=float),
            humidities=np.asarray(humidities, dtype=float),
            balances=tuple(tuple(row) for row in partial),
            reasons=tuple(tuple("interrupted" for _ in humidities) for _ in temperatures),
        )
    frost_line = tuple(_frost_line(found))
    spread = None
    if complete and draws:
        spread = from_room_to_room(
            build, target, known, found, frost_line, draws, _part(progress, 0.4, 1.0)
        )
    return RoomAnswer(
        build=build,
        known=known,
        map=found,
        frost_line=frost_line,
        frost_bands=spread.frost if spread is not None else (None,) * len(frost_line),
        ranges=spread.ranges if spread is not None else (),
        draws=spread.draws if spread is not None else 0,
        complete=complete,
    )


def _frost_line(found: RoomMap) -> list[tuple[float, float]]:
    """Room temperature at which the coldest surface reaches 0 °C, for each humidity."""
    coil = found.field(lambda b: b.coil_temperature)
    line = []
    for j, rh in enumerate(found.humidities):
        for i in range(len(found.temperatures) - 1):
            a, b = coil[i, j] - 273.15, coil[i + 1, j] - 273.15
            if a * b < 0.0:  # never where a room has no balance
                w = a / (a - b)
                t = found.temperatures[i] + w * (found.temperatures[i + 1] - found.temperatures[i])
                line.append((float(rh), float(t)))
                break
    return line

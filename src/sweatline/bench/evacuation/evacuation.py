"""Is it dry and empty? Pump-down through the real hoses, water, and the rise test read."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import sweatline
from sweatline.answers import Range, range_of
from sweatline.bench.bench_records import (
    BoilOffRecord,
    ConnectionRecord,
    CriterionRecord,
    EvacuationRecord,
    PumpedRecord,
    RiseRecord,
)
from sweatline.errors import JobError
from sweatline.log.extract import NO_LOG, Account

if TYPE_CHECKING:
    from sweatline.bench.evacuation.pump_down import Circuit, Segment
    from sweatline.bench.evacuation.rise_test import Cause, RiseReading, RiseResult
    from sweatline.job.model import Job

__all__ = ["CRITERIA", "Criterion", "EvacuationAsked", "PumpAsked", "evacuation"]

_MICRON: Final = 0.133322  # Pa


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """A limit for a vacuum that is shut off."""

    name: str
    limit: float  # Pa
    after: float  # s
    source: str
    status: str


CRITERIA: Final = (
    Criterion(
        name="500 micron after 1 h",
        limit=500.0 * _MICRON,
        after=3600.0,
        source="US guide specification UFGS 15182, pulled to 300 micron",
        status="PUBLISHED",
    ),
    Criterion(
        name="700 micron after 15 min",
        limit=700.0 * _MICRON,
        after=900.0,
        source="equipment manual, pulled to 250 micron",
        status="PUBLISHED",
    ),
    Criterion(
        name="1000 micron after 10 min",
        limit=1000.0 * _MICRON,
        after=600.0,
        source="training text",
        status="PUBLISHED",
    ),
    Criterion(
        name="1500 micron after 10 min",
        limit=1500.0 * _MICRON,
        after=600.0,
        source="ASHRAE 15 and mechanical code, pulled to 500 micron",
        status="MEMORY 0.65",
    ),
)

_DO: Final[dict[str, str]] = {
    "none": "it holds: break the vacuum with refrigerant vapour and charge",
    "leak": "break the vacuum with dry nitrogen and look for the leak under pressure; valves, "
    "hoses and their seals come first, for they leak more often than the machine. Pumping longer "
    "does not help",
    "moisture": "break the vacuum with dry nitrogen, warm the cold places of the circuit, and "
    "pump again from both sides with gas ballast open; a new drier goes in last. When the water "
    "froze, let it thaw under nitrogen first",
    "outgassing": "refrigerant out of the oil or gas out of walls: pump on with the shell warm, "
    "shut off and read again; the rise must become slower each time",
    "undecided": "the readings fit several causes: read on before doing anything",
}
_SURE: Final = 0.75
_SAME: Final = 1e-3  # relative; a gauge that shows the limit itself meets it


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpAsked:
    """Pump and hoses. A side without a hose is not connected."""

    speed: float  # m3/s
    ultimate: float  # Pa
    low_hose: Sequence[Segment]
    high_hose: Sequence[Segment]
    capillary: Segment
    low_volume: float  # m3
    high_volume: float  # m3
    gas_load: float  # Pa*m3/s


@dataclass(frozen=True, slots=True, kw_only=True)
class EvacuationAsked:
    """Everything one question about evacuation may hold."""

    atmosphere: float  # Pa
    room: float  # K
    target: float  # Pa
    refrigerant: str | None
    pump: PumpAsked | None
    water: float | None  # kg
    pumped: Sequence[RiseReading]  # looks at the gauge at the pump, since it was started
    rise: Sequence[RiseReading]
    volume: float | None  # m3 of what was shut off
    gauge_share: float
    gauge_floor: float  # Pa
    never_start: str | None = None  # by a log, empty when the vacuum was broken since
    account: Account = NO_LOG
    job: Job | None = None


def evacuation(asked: EvacuationAsked) -> EvacuationRecord:
    """Answer everything that was asked about evacuation.

    Raises
    ------
    JobError
        A number is missing.
    OutOfRange
        Nothing to evacuate, a frozen room, readings out of order.
    """
    from sweatline.job.summary import summary_of
    from sweatline.refrigerant.refrigerant import load
    from sweatline.safety.cautions import cautions_of
    from sweatline.safety.vacuum_start import start_rule

    if asked.water is not None and asked.pump is None:
        raise JobError(
            what="how fast water leaves depends on pump and hose",
            allowed="give both",
            field="--pump",
        )
    notes: list[str] = list(asked.account.notes)
    connections: tuple[ConnectionRecord, ...] = ()
    sweeps = None
    water: tuple[BoilOffRecord, ...] = ()
    if asked.pump is not None:
        connections, sweeps = _connections(asked, asked.pump)
        notes.append(
            "times leave out moisture and gas that the oil gives up, unless a gas load was "
            "given; real pump-downs take longer"
        )
        if asked.water is not None:
            water = _water(asked, asked.pump, asked.water)
    pumped = _pumped(asked, notes)
    rise = _rise(asked, notes) if asked.rise else None
    name = load(asked.refrigerant).name if asked.refrigerant is not None else None
    return EvacuationRecord(
        command="evacuation",
        version=sweatline.__version__,
        job=summary_of(asked.job) if asked.job is not None else None,
        cautions=cautions_of([name], work={"evacuating"}),
        notes=tuple(notes),
        atmospheric_pressure_Pa=asked.atmosphere,
        log_path=asked.account.path,
        taken=asked.account.taken,
        refrigerant=name,
        room_temperature_K=asked.room,
        low_volume_m3=asked.pump.low_volume if asked.pump is not None else None,
        high_volume_m3=asked.pump.high_volume if asked.pump is not None else None,
        target_Pa=asked.target,
        connections=connections,
        sweeps=sweeps,
        pumped=pumped,
        water=water,
        rise=rise,
        never_start=start_rule(pressure=None, let_in_since=False).reason
        if asked.never_start is None
        else asked.never_start,
    )


def _circuit(asked: EvacuationAsked, pump: PumpAsked, low: bool, high: bool) -> Circuit:
    from sweatline.bench.evacuation.pump_down import Circuit, air_way

    # A side that has no hose of its own is tried with the other's.
    low_hose = pump.low_hose or pump.high_hose
    high_hose = pump.high_hose or pump.low_hose
    return Circuit(
        low_volume=pump.low_volume,
        high_volume=pump.high_volume,
        capillary=air_way([pump.capillary], asked.room),
        low=air_way(low_hose, asked.room) if low else None,
        high=air_way(high_hose, asked.room) if high else None,
        speed=pump.speed,
        ultimate=pump.ultimate,
        gas_load=pump.gas_load,
    )


def _connections(
    asked: EvacuationAsked, pump: PumpAsked
) -> tuple[tuple[ConnectionRecord, ...], int | None]:
    from sweatline.bench.evacuation.pump_down import pump_down, sweeps_needed

    given = (bool(pump.low_hose), bool(pump.high_hose))
    found = []
    both_time = None
    sweeps = None
    ways: tuple[tuple[Literal["both", "low", "high"], bool, bool], ...] = (
        ("both", True, True),
        ("low", True, False),
        ("high", False, True),
    )
    for word, low, high in ways:
        run = pump_down(
            _circuit(asked, pump, low, high), start=asked.atmosphere, target=asked.target
        )
        if word == "both":
            both_time = run.reached_after
        elif (low, high) == given and both_time is not None and math.isfinite(both_time):
            # What one side reaches in half an hour or in the time both sides take.
            import numpy as np

            worse = np.maximum(run.low, run.high)
            at = float(np.exp(np.interp(max(both_time, 1800.0), run.time, np.log(worse))))
            if asked.target < at < asked.atmosphere:
                sweeps = sweeps_needed(reached=at, target=asked.target, atmosphere=asked.atmosphere)
        found.append(
            ConnectionRecord(
                connected=word,
                asked=(low, high) == given,
                reached_after_s=run.reached_after,
                gauge_when_reached_Pa=run.gauge_when_reached,
                ultimate_Pa=run.ultimate,
            )
        )
    return tuple(found), sweeps


# A gauge so many times above what an empty circuit would show is held up by gas (the model of
# hoses whose bores are known to a tenth is good to a factor of two in pressure, judged).
_HELD_UP: Final = 3.0


def _pumped(asked: EvacuationAsked, notes: list[str]) -> tuple[PumpedRecord, ...]:
    """What the gauge showed while pumping, against pump and hoses by themselves."""
    if not asked.pumped:
        return ()
    import numpy as np

    from sweatline.bench.evacuation.pump_down import pump_down

    pump = asked.pump
    empty: list[float | None] = [None] * len(asked.pumped)
    if pump is not None:
        from dataclasses import replace

        tight = _circuit(
            asked, replace(pump, gas_load=0.0), bool(pump.low_hose), bool(pump.high_hose)
        )
        lowest = 0.5 * min(min(r.pressure for r in asked.pumped), asked.target)
        target = max(lowest, 1.05 * pump.ultimate)
        run = pump_down(tight, start=asked.atmosphere, target=target)
        empty = [
            float(np.exp(np.interp(r.time, run.time, np.log(run.at_pump)))) for r in asked.pumped
        ]
    found = []
    for look, bare in zip(asked.pumped, empty, strict=True):
        load = None
        if pump is not None and bare is not None and look.pressure > _HELD_UP * bare:
            # What the pump takes away at that pressure, and is made up for.
            load = pump.speed * max(look.pressure - max(bare, pump.ultimate), 0.0)
        found.append(
            PumpedRecord(
                time_s=look.time,
                read_Pa=look.pressure,
                empty_Pa=bare,
                gas_load_Pa_m3_per_s=load,
            )
        )
    if pump is None:
        notes.append(
            "what the gauge should show by now depends on pump and hoses: give --pump with "
            "--low-hose or --high-hose"
        )
    elif found[-1].gas_load_Pa_m3_per_s is not None:
        notes.append(
            "the gauge is held up by gas that keeps coming: water, refrigerant out of the oil, or "
            "a leak, the seals of valves and hoses first; shut off and read the rise"
        )
    return tuple(found)


def _water(asked: EvacuationAsked, pump: PumpAsked, mass: float) -> tuple[BoilOffRecord, ...]:
    from sweatline.bench.evacuation.boil_off import boil_off, tube_heat

    places: tuple[tuple[Literal["bare tube", "coil or shell"], float | None], ...] = (
        ("bare tube", tube_heat(outer_diameter=9.52e-3, wall=0.7e-3)),
        ("coil or shell", None),
    )
    found = []
    for place, heat in places:
        run = boil_off(
            mass,
            room=asked.room,
            heat=heat,
            segments=pump.low_hose or pump.high_hose,
            speed=pump.speed,
            ultimate=pump.ultimate,
        )
        found.append(
            BoilOffRecord(
                place=place,
                water_kg=mass,
                time_s=run.time if math.isfinite(run.time) else None,
                temperature_K=run.temperature,
                pressure_Pa=run.pressure,
                at_pump_Pa=run.at_pump,
                freezes=run.freezes,
                limited_by_heat=run.limited_by_heat,
            )
        )
    return tuple(found)


def _rise(asked: EvacuationAsked, notes: list[str]) -> RiseRecord:
    from sweatline.air.moist import saturation_pressure
    from sweatline.bench.evacuation.rise_test import read_rise

    found = read_rise(
        asked.rise,
        water_pressure=float(saturation_pressure(asked.room)),
        gauge_share=asked.gauge_share,
        gauge_floor=asked.gauge_floor,
    )
    best: Cause = max(found.probability, key=lambda cause: found.probability[cause])
    likeliest: Cause | Literal["undecided"] = best
    if found.probability[best] < _SURE:
        likeliest = "undecided"
    air = loss = None
    if found.probability["leak"] > 0.02:
        air, loss = _leak(asked, found)
        if asked.volume is None:
            notes.append("without the volume that was shut off the leak has no rate")
    if found.last > 0.3 * asked.atmosphere:
        notes.append("so near the atmosphere a leak slows down: read the first part by itself")
    return RiseRecord(
        first_Pa=found.first,
        last_Pa=found.last,
        duration_s=found.duration,
        chance_none=found.probability["none"],
        chance_leak=found.probability["leak"],
        chance_moisture=found.probability["moisture"],
        chance_outgassing=found.probability["outgassing"],
        likeliest=likeliest,
        what_to_do=_DO[likeliest],
        plateau_Pa=found.plateau,
        decide_after_s=found.decide_after,
        air_Pa_m3_per_s=air,
        loss_kg_per_s=loss,
        criteria=tuple(_judged(c, asked.rise) for c in CRITERIA),
    )


def _judged(criterion: Criterion, rise: Sequence[RiseReading]) -> CriterionRecord:
    start = rise[0].time
    met: bool | None = None
    # A vacuum that is above the limit before the time is up has failed already.
    within = [r for r in rise if r.time - start <= criterion.after]
    limit = criterion.limit * (1.0 + _SAME)
    if any(r.pressure > limit for r in within):
        met = False
    elif rise[-1].time - start >= criterion.after:
        before = within[-1]
        after = next((r for r in rise if r.time - start >= criterion.after), before)
        span = after.time - before.time
        share = (start + criterion.after - before.time) / span if span > 0.0 else 0.0
        met = before.pressure + share * (after.pressure - before.pressure) <= limit
    return CriterionRecord(
        name=criterion.name,
        limit_Pa=criterion.limit,
        after_s=criterion.after,
        met=met,
        source=criterion.source,
        status=criterion.status,
    )


def _leak(asked: EvacuationAsked, found: RiseResult) -> tuple[Range | None, Range | None]:
    """Air that the leak draws in, and refrigerant that it will lose."""

    from sweatline.bench.leak_channel import channels_for, drawn_shapes, permanent, vapour
    from sweatline.bench.permanent_gas import AIR
    from sweatline.refrigerant.refrigerant import load

    if asked.volume is None:
        return None, None
    rates = found.leak_rates * asked.volume

    if asked.refrigerant is None:
        return range_of(rates), None
    fluid = load(asked.refrigerant)
    rest = fluid.saturation_pressure_dew(asked.room)
    if rest <= asked.atmosphere:
        return range_of(rates), None
    air = permanent(AIR, pressure=asked.atmosphere, temperature=asked.room)
    length, number = drawn_shapes(rates.size)
    shapes = channels_for(
        # Rates rise along the draws; the shapes are even in every part of them.
        rates * air.molar_mass / air.per_amount,
        length=length,
        number=number,
        inside=asked.atmosphere,
        outside=min(found.last, 0.5 * asked.atmosphere),
        gas=air,
    )
    gas = vapour(fluid, pressure=rest, temperature=asked.room)
    return range_of(rates), range_of(shapes.flow(inside=rest, outside=asked.atmosphere, gas=gas))

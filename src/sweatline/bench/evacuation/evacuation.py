"""Is it dry and empty? Pump-down through the real hoses, water, and the rise test read."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Final

import numpy as np

from sweatline.air.moist import saturation_pressure
from sweatline.air.permanent_gas import AIR, NITROGEN
from sweatline.answers import Answer, Q, Range, ask, range_of
from sweatline.assembly.assemble import circuit_pieces, side_volume
from sweatline.assembly.build import choose_compressor
from sweatline.bench.answer import BenchAnswer, refrigerant_of, room_temperature
from sweatline.bench.evacuation.pump_down import (
    BoilOff,
    Circuit,
    PumpDown,
    Segment,
    air_way,
    boil_off,
    pump_down,
    sweeps_needed,
    tube_heat,
)
from sweatline.bench.evacuation.rise_test import FEWEST, RiseReading, RiseResult, read_rise
from sweatline.bench.leak_channel import Channels, permanent, possible_channels, vapour
from sweatline.bench.tightness.pressure_hold import SETTLES, HoldInstruments, hold_time
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.job.explanation import summary_of
from sweatline.job.model import Job
from sweatline.refrigerant.refrigerant import find, load
from sweatline.safety.cautions import Work, cautions_of
from sweatline.safety.start_gear import start_rule
from sweatline.units.kinds import MICRON

_SAME: Final = 1e-3  # relative; a gauge that shows the limit itself meets it
_LEAST_LEAK: Final = 0.02  # chance from which a leak gets a rate
# A gauge so many times above what an empty circuit would show is held up by gas (the model of
# hoses whose bores are known to a tenth is good to a factor of two in pressure, judged).
_HELD_UP: Final = 3.0
# A test with nitrogen after a rise that was left undecided: above the atmosphere; leaks that may
# escape it; a volume where none is known, which only tells how a leak's way through narrow
# channels changes with the pressure; what it costs more than a look, for the circuit has to be
# filled and pumped again; the longest worth it (all judged).
_TEST: Final = 1e6  # Pa
_LEAST_OF_LEAKS: Final = 0.1
_USUAL_VOLUME: Final = 1e-3  # m3
_PUMPED_AGAIN: Final = 7200.0  # s
_LONGEST_TEST: Final = 86400.0  # s


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion(Answer):
    """A limit from print for a vacuum that is shut off, and whether it was kept."""

    name: str
    limit: Annotated[float, Q("absolute pressure")]
    after: Annotated[float, Q("time")]
    met: bool | None = None
    """Null when the readings do not reach that far, or prove nothing."""
    source: str
    status: str


CRITERIA: Final = (
    Criterion(
        name="500 micron after 1 h",
        limit=500.0 * MICRON,
        after=3600.0,
        source="US guide specification UFGS 15182, pulled to 300 micron",
        status="PUBLISHED",
    ),
    Criterion(
        name="700 micron after 15 min",
        limit=700.0 * MICRON,
        after=900.0,
        source="equipment manual, pulled to 250 micron",
        status="PUBLISHED",
    ),
    Criterion(
        name="1000 micron after 10 min",
        limit=1000.0 * MICRON,
        after=600.0,
        source="training text",
        status="PUBLISHED",
    ),
    Criterion(
        name="1500 micron after 10 min",
        limit=1500.0 * MICRON,
        after=600.0,
        source="ASHRAE 15 and mechanical code, pulled to 500 micron",
        status="MEMORY 0.65",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class EvacuationRequest:
    """What may be asked about an evacuation; what is None is not asked, or taken from the job."""

    atmosphere: float = STANDARD_ATMOSPHERE  # Pa
    job: Job | None = None
    # Why a compressor must not be started now, where somebody knows; empty when it may.
    start_refused: str | None = None
    pump: float | None = ask(
        'Speed of the pump, as "2 cfm".',
        "volume flow",
        1e-6,
        1.0,
        metavar="S",
        label="speed of the pump",
    )  # m3/s
    ultimate: float = ask(
        "What it reaches by itself.", "absolute pressure", 1e-3, 5e3, usual="20 micron",
        metavar="P", label="lowest vacuum of the pump"
    )  # fmt: skip
    # A side without a hose is not connected.
    low_hose: Sequence[Segment] = ask(
        'Tube between pump and low side, as "4.8 mm, 1.5 m"; again for each further one in the '
        "way, valve cores and fittings too.", default=(), metavar="BORE, LENGTH",
        label="hose to the low side",
    )  # fmt: skip
    high_hose: Sequence[Segment] = ask(
        "Tube between pump and high side, likewise.",
        default=(),
        metavar="BORE, LENGTH",
        label="hose to the high side",
    )
    low_volume: float | None = ask(
        "Inside volume of the low side; else the job's.",
        "volume",
        1e-6,
        10.0,
        metavar="V",
        label="volume of the low side",
    )  # m3
    high_volume: float | None = ask(
        "Of the high side.", "volume", 1e-6, 10.0, metavar="V", label="volume of the high side"
    )  # m3
    capillary: Segment | None = ask("Between the sides; else the job's.", metavar="BORE, LENGTH")
    compressor: str | None = ask("Of the job, by name or number.", metavar="NAME")
    target: float = ask(
        "To be reached by both sides.", "absolute pressure", 0.1, 5e4, usual="500 micron",
        metavar="P", label="vacuum wanted"
    )  # fmt: skip
    gas_load: float = ask(
        'What leaks and gasses, as "1e-4 mbar L/s".', "gas throughput", 0.0, 10.0, default=0.0,
        metavar="Q", label="gas that keeps coming"
    )  # fmt: skip
    water: float | None = ask(
        'Water inside, as "2 g": how long to boil it off?',
        "mass",
        1e-6,
        1.0,
        metavar="M",
        label="water inside",
    )  # kg
    room: float | None = ask(
        "Temperature of the machine; else the job's, or 20 °C.", "temperature", 243.15, 333.15,
        metavar="T", label="temperature of the machine"
    )  # fmt: skip
    rise: Sequence[RiseReading] = ask(
        'One look after the valve was shut, as "5 min, 420 micron". Give three or more.',
        default=(), metavar="TIME, P", taken="rise",
    )  # fmt: skip
    allowed_leak: float | None = ask(
        'Air that a leak may draw in and still not matter, as "1e-6 mbar L/s"; else any that the '
        "gauge could show.", "gas throughput", 0.0, 10.0, metavar="Q",
        label="leak that does not matter",
    )  # fmt: skip
    pumped: Sequence[RiseReading] = ask(
        'One look at the gauge at the pump since it was started, as "40 min, 400 micron".',
        default=(), metavar="TIME, P", taken="pump-down",
    )  # fmt: skip
    volume: float | None = ask(
        "What was shut off; else both sides.",
        "volume",
        1e-6,
        10.0,
        metavar="V",
        label="volume shut off",
    )  # m3
    refrigerant: str | None = ask(
        "To come, for the loss by a leak.", metavar="NAME", taken="refrigerant"
    )
    gauge_share: float = ask(
        "How well it repeats.", "ratio", 1e-3, 0.5, usual="5 %", metavar="X",
        option="gauge-error", taken="gauge's error",
    )  # fmt: skip
    gauge_floor: float = ask(
        "How much it wanders near the lowest pressure.", "absolute pressure", 0.01, 1e4,
        usual="10 micron", metavar="P", option="gauge-noise", taken="gauge's noise",
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Pumped(Answer):
    """A look at the vacuum gauge while pumping, beside what pump and hoses by themselves give."""

    time: Annotated[float, Q("time", doc="Since the pump was started.")]
    read: Annotated[float, Q("absolute pressure")]
    empty: Annotated[
        float | None,
        Q("absolute pressure",
          doc="At the pump, of a circuit that gives off nothing; null without pump and hoses."),
    ]  # fmt: skip
    gas_load: Annotated[
        float | None,
        Q("gas throughput",
          doc="That holds the gauge where it stands; null while the pump-down explains it."),
    ]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class AirLeak(Answer):
    """What a leak lets in under vacuum, and what it will lose; if there is one."""

    air: Annotated[Range, Q("gas throughput", "air it draws in", digits=2)]
    loss: Annotated[
        Range | None,
        Q("leak rate", "would lose", "Of the refrigerant at rest, by the same leak.", digits=2),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureTest(Answer):
    """A test with dry nitrogen that decides a rise where reading on would not."""

    pressure: Annotated[float, Q("pressure")]
    hold: Annotated[
        float,
        Q("time", doc="Until it has shown nine in ten of the leaks that the rise leaves open."),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class EvacuationAnswer(BenchAnswer):
    """Pump-down, water, and the rise test."""

    refrigerant: str | None
    room_temperature: Annotated[float, Q("temperature")]
    low_volume: Annotated[float | None, Q("volume")]
    high_volume: Annotated[float | None, Q("volume")]
    target: Annotated[float, Q("absolute pressure")]
    connections: tuple[PumpDown, ...]
    sweeps: int | None
    """Evacuations broken with dry nitrogen that leave as little air, from one side in the time
    that both sides take; null where they do not help."""
    pumped: tuple[Pumped, ...]
    water: tuple[BoilOff, ...]
    rise: RiseResult | None
    leak: AirLeak | None
    """Null without a rise, without a volume, and when a leak is out of the question."""
    pressure_test: PressureTest | None
    """Null when the rise has its verdict, when reading on decides sooner, and when it would take
    more than a day."""
    leak_unseen: Annotated[
        float | None,
        Q("gas throughput", doc="A leak that draws in less would not have shown in the rise; null "
          "without a rise or a volume."),
    ]  # fmt: skip
    criteria: tuple[Criterion, ...]
    """Empty without a rise."""
    never_start: str
    """Why a compressor is not started now; empty when a log says that the vacuum was broken."""


def evacuation(request: EvacuationRequest) -> EvacuationAnswer:
    """Answer everything that was asked about evacuation.

    Raises
    ------
    JobError
        A number is missing; its field names the quantity.
    OutOfRange
        Nothing to evacuate, a frozen room, readings out of order.
    """
    asked = _completed(request)
    room = room_temperature(asked.job, asked.room)
    notes: list[str] = []
    circuit = None
    connections: tuple[PumpDown, ...] = ()
    sweeps = None
    water: tuple[BoilOff, ...] = ()
    if asked.pump is not None:
        circuit = _circuit(asked, asked.pump, room)
        connections, sweeps = _connections(asked, circuit)
        notes.append(
            "times leave out moisture and gas that the oil gives up, unless a gas load was "
            "given; real pump-downs take longer"
        )
    if asked.water is not None:
        water = _water(asked, asked.water, room)
    pumped = _pumped(asked, circuit, notes)
    rise = leak = test = None
    work: set[Work] = {"evacuating"}
    if asked.rise:
        rise = read_rise(
            asked.rise,
            water_pressure=float(saturation_pressure(room)),
            gauge_share=asked.gauge_share,
            gauge_floor=asked.gauge_floor,
            allowed=_allowed(asked),
            atmosphere=asked.atmosphere,
        )
        test = _pressure_test(asked, rise, room)
        if test is not None:
            rise = replace(rise, decide_after=None, decide_chance=None)
        if rise.leak > _LEAST_LEAK and rise.likeliest != "fell":
            work.add("pressurising")  # a leak is sought under nitrogen
            leak = _leak(asked, rise, room)
            if leak is None:
                notes.append("without the volume that was shut off the leak has no rate")
        if rise.last > 0.3 * asked.atmosphere:
            notes.append("so near the atmosphere a leak slows down: read the first part by itself")
    name = asked.refrigerant
    refused = asked.start_refused
    if refused is None:
        refused = start_rule(pressure=None, let_in_since=False).reason
    return EvacuationAnswer(
        job=summary_of(asked.job) if asked.job is not None else None,
        cautions=cautions_of([name], work=work),
        notes=tuple(notes),
        atmospheric_pressure=asked.atmosphere,
        refrigerant=name,
        room_temperature=room,
        low_volume=asked.low_volume if asked.pump is not None else None,
        high_volume=asked.high_volume if asked.pump is not None else None,
        target=asked.target,
        connections=connections,
        sweeps=sweeps,
        pumped=pumped,
        water=water,
        rise=rise,
        leak=leak,
        pressure_test=test,
        leak_unseen=rise.unseen * asked.volume if rise and asked.volume else None,
        criteria=tuple(_judged(c, asked.rise, rise) for c in CRITERIA) if rise else (),
        never_start=refused,
    )


def _completed(request: EvacuationRequest) -> EvacuationRequest:
    """The request with what the job says where it says nothing itself."""
    if 0 < len(request.rise) < FEWEST:
        raise JobError(what="a rise is read three times or more", allowed="read on", field="rise")
    low, high = request.low_volume, request.high_volume
    name = refrigerant_of(request.job, request.refrigerant)
    if request.job is not None:
        compressor = choose_compressor(request.job, request.compressor)
        pieces = circuit_pieces(request.job, compressor)
        low = side_volume(pieces, "low")[0] if low is None else low
        high = side_volume(pieces, "high")[0] if high is None else high
    whole = low + high if low is not None and high is not None else None
    return replace(
        request,
        low_volume=low,
        high_volume=high,
        volume=whole if request.volume is None else request.volume,
        refrigerant=find(name) if name is not None else None,
    )


def _circuit(asked: EvacuationRequest, speed: float, room: float) -> Circuit:
    """Machine and pump with the hoses that were given."""
    if not (asked.low_hose or asked.high_hose):
        raise JobError(
            what="a pump without a hose", allowed="give one or both", field="low_hose, high_hose"
        )
    for volume, field in ((asked.low_volume, "low_volume"), (asked.high_volume, "high_volume")):
        if volume is None:
            raise JobError(
                what="how long a pump takes depends on the inside volume",
                allowed="give it, or a job file from which it follows",
                field=field,
            )
    capillary = asked.capillary
    if capillary is None and asked.job is not None:
        # That in the machine, or the first on the shelf.
        shelf = asked.job.capillaries
        stock = next((c for c in shelf if c.fitted), shelf[0])
        length = stock.length.value if stock.length is not None else 2.0
        capillary = Segment(bore=stock.bore.value, length=length)
    if capillary is None:
        raise JobError(
            what="the capillary joins the sides, and must be known",
            allowed='write its bore and length, as "0.8 mm, 3 m"',
            field="capillary",
        )
    return Circuit(
        low_volume=asked.low_volume or 0.0,
        high_volume=asked.high_volume or 0.0,
        capillary=air_way([capillary], room),
        low=air_way(asked.low_hose, room) if asked.low_hose else None,
        high=air_way(asked.high_hose, room) if asked.high_hose else None,
        speed=speed,
        ultimate=asked.ultimate,
        gas_load=asked.gas_load,
    )


def _connections(
    asked: EvacuationRequest, circuit: Circuit
) -> tuple[tuple[PumpDown, ...], int | None]:
    """Both sides, the low and the high side alone; and sweeps that make up for one side."""
    # A side that has no hose of its own is tried with the other's.
    low, high = circuit.low or circuit.high, circuit.high or circuit.low
    runs = []
    for way in (
        replace(circuit, low=low, high=high),
        replace(circuit, low=low, high=None),
        replace(circuit, low=None, high=high),
    ):
        given = (way.low is None, way.high is None) == (circuit.low is None, circuit.high is None)
        run = pump_down(way, start=asked.atmosphere, target=asked.target)
        runs.append(replace(run, asked=given))
    both = runs[0].reached_after
    run = next(r for r in runs if r.asked)
    sweeps = None
    if run.connected != "both" and both is not None and math.isfinite(both):
        # What one side reaches in half an hour or in the time both sides take.
        worse = np.maximum(run.low, run.high)
        at = float(np.exp(np.interp(max(both, 1800.0), run.time, np.log(worse))))
        if asked.target < at < asked.atmosphere:
            sweeps = sweeps_needed(reached=at, target=asked.target, atmosphere=asked.atmosphere)
    return tuple(runs), sweeps


def _pumped(
    asked: EvacuationRequest, circuit: Circuit | None, notes: list[str]
) -> tuple[Pumped, ...]:
    """What the gauge showed while pumping, against pump and hoses by themselves."""
    if not asked.pumped:
        return ()
    if circuit is None:
        notes.append("what the gauge should show by now depends on pump and hoses: give both")
        return tuple(
            Pumped(time=look.time, read=look.pressure, empty=None, gas_load=None)
            for look in asked.pumped
        )
    lowest = 0.5 * min(min(r.pressure for r in asked.pumped), asked.target)
    run = pump_down(
        replace(circuit, gas_load=0.0),
        start=asked.atmosphere,
        target=max(lowest, 1.05 * circuit.ultimate),
    )
    found = []
    for look in asked.pumped:
        empty = float(np.exp(np.interp(look.time, run.time, np.log(run.at_pump))))
        # What the pump takes away at that pressure, and is made up for.
        taken = circuit.speed * max(look.pressure - max(empty, circuit.ultimate), 0.0)
        load = taken if look.pressure > _HELD_UP * empty else None
        found.append(Pumped(time=look.time, read=look.pressure, empty=empty, gas_load=load))
    if found[-1].gas_load is not None:
        notes.append(
            "the gauge is held up by gas that keeps coming: water, refrigerant out of the oil, or "
            "a leak, the seals of valves and hoses first; shut off and read the rise"
        )
    return tuple(found)


def _water(asked: EvacuationRequest, mass: float, room: float) -> tuple[BoilOff, ...]:
    """Water in a bare tube, and where the room's heat reaches it freely."""
    speed, hoses = asked.pump, asked.low_hose or asked.high_hose
    if speed is None:
        raise JobError(
            what="how fast water leaves depends on pump and hose", allowed="give both", field="pump"
        )
    return tuple(
        boil_off(
            mass,
            room=room,
            heat=heat,
            segments=hoses,
            speed=speed,
            ultimate=asked.ultimate,
        )
        for heat in (tube_heat(outer_diameter=9.52e-3, wall=0.7e-3), None)
    )


def _allowed(asked: EvacuationRequest) -> float:
    """Rate of a rise by a leak that does not matter. [Pa/s]"""
    if asked.allowed_leak is None:
        return 0.0
    if asked.volume is None:
        raise JobError(
            what="how fast a leak lets the gauge rise depends on the volume that was shut off",
            allowed="give it, or a job file from which it follows",
            field="volume",
        )
    return asked.allowed_leak / asked.volume


def _judged(criterion: Criterion, rise: Sequence[RiseReading], found: RiseResult) -> Criterion:
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
    if found.likeliest == "fell" and met:
        met = None  # a gauge that falls keeps every limit and proves none
    return replace(criterion, met=met)


def _leak(asked: EvacuationRequest, rise: RiseResult, room: float) -> AirLeak | None:
    """Air that the leak draws in, and refrigerant that it will lose."""
    if asked.volume is None:
        return None
    rates = rise.leak_rates * asked.volume
    loss = None
    fluid = load(asked.refrigerant) if asked.refrigerant is not None else None
    rest = fluid.saturation_pressure_dew(room) if fluid is not None else 0.0
    if fluid is not None and rest > asked.atmosphere:
        shapes = _channels(asked, rise, asked.volume, room)
        gas = vapour(fluid, pressure=rest, temperature=room)
        loss = range_of(shapes.flow(inside=rest, outside=asked.atmosphere, gas=gas))
    return AirLeak(air=range_of(rates), loss=loss)


def _pressure_test(asked: EvacuationRequest, rise: RiseResult, room: float) -> PressureTest | None:
    """Nitrogen that shows the leaks left open, where that is done sooner than reading on."""
    if rise.likeliest != "undecided":
        return None
    volume, inside = asked.volume or _USUAL_VOLUME, asked.atmosphere + _test_pressure(asked)
    gas = permanent(NITROGEN, pressure=inside, temperature=room)
    shapes = _channels(asked, rise, volume, room)
    rates = shapes.flow(inside=inside, outside=asked.atmosphere, gas=gas) / gas.density
    hold = hold_time(
        NITROGEN,
        float(np.quantile(rates, _LEAST_OF_LEAKS)),
        pressure=inside,
        temperature=room,
        volume=volume,
        instruments=HoldInstruments(),
        atmosphere=asked.atmosphere,
    )
    if hold is None or hold > _LONGEST_TEST:
        return None
    hold = max(hold, SETTLES)
    now = asked.rise[-1].time
    if rise.decide_after is not None and rise.decide_after - now < hold + _PUMPED_AGAIN:
        return None
    return PressureTest(pressure=inside, hold=hold)


def _test_pressure(asked: EvacuationRequest) -> float:
    """Of nitrogen above the atmosphere, never above what the job says of a side. [Pa]"""
    limits = asked.job.limits if asked.job is not None else None
    sides = (limits.low_side_pressure, limits.high_side_pressure) if limits is not None else ()
    return min([_TEST, *(p.value - asked.atmosphere for p in sides if p is not None)])


def _channels(asked: EvacuationRequest, rise: RiseResult, volume: float, room: float) -> Channels:
    """Shapes that draw in what the rise says; rates rise along them, and shapes are even."""
    air = permanent(AIR, pressure=asked.atmosphere, temperature=room)
    return possible_channels(
        rise.leak_rates * volume * air.density,
        rise.leak_rates.size,
        inside=asked.atmosphere,
        outside=min(rise.last, 0.5 * asked.atmosphere),
        gas=air,
    )

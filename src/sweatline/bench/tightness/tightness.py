"""Is it tight? A pressure test read or planned, the past of a machine, and where to look."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Final

import numpy as np
from numpy.typing import NDArray

from sweatline.air.permanent_gas import GasName, PermanentGas, gas_named
from sweatline.answers import Answer, Q, ask, error_of, need
from sweatline.assembly.assemble import CircuitPiece, circuit_pieces, total_volume
from sweatline.assembly.build import choose_compressor
from sweatline.bench.answer import BenchAnswer, refrigerant_of, room_temperature
from sweatline.bench.leak_channel import Channels, LeakGas, permanent, possible_channels
from sweatline.bench.tightness.leak import (
    SHAPES,
    AtRest,
    History,
    Leak,
    implied_by_the_past,
    sampled_rates,
)
from sweatline.bench.tightness.leak_search import (
    Method,
    Piece,
    SearchPlan,
    plan_search,
    ways_of_looking,
)
from sweatline.bench.tightness.pressure_hold import (
    SETTLES,
    Hold,
    HoldInstruments,
    HoldReading,
    TestGas,
    expected_pressure,
    hold_time,
    leak_rate,
)
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.job.explanation import summary_of
from sweatline.job.model import Job
from sweatline.refrigerant.refrigerant import Refrigerant, find, load
from sweatline.safety.cautions import cautions_of
from sweatline.units import System, show

FloatArray = NDArray[np.float64]

# Beyond this a straight line is no longer one: practice of pressure-decay tests (PUBLISHED).
_MUCH: Final = 0.1
_COLD_COIL: Final = 258.15  # K, evaporating temperature of a cold machine
_WARMING: Final = 10.0  # K, of a shop over a day


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureLimit:
    """What one part withstands, absolute."""

    part: str = need("Its name.")
    pressure: float = need("That it withstands.", "pressure")  # Pa


@dataclass(frozen=True, slots=True, kw_only=True)
class TightnessRequest(HoldInstruments):
    """What may be asked about tightness; what is None is not asked, or is taken from the job."""

    atmosphere: float = STANDARD_ATMOSPHERE  # Pa
    job: Job | None = None
    unit_system: System = "SI"  # in which a refusal and a note are told
    readings: Sequence[HoldReading] = ask(
        'One look at the gauge, as "0 h, 10 bar(g), 21 C" or with the barometer as a fourth, '
        '"24 h, 9.9 bar(g), 20 C, 1009 hPa abs". Give two or more.',
        metavar="R", default=(), option="reading", label="look at the gauge",
        taken="pressure test",
    )  # fmt: skip
    pressure: float | None = ask(
        "Of a test to come: how long must it last?", "pressure", metavar="P", label="test pressure"
    )  # Pa absolute, of a test to come, or behind a measured rate
    measured: float | None = ask(
        "A leak rate of the gas under that pressure, read by an instrument: what will it lose?",
        "gas throughput", 1e-14, 10.0, metavar="Q", label="measured leak rate"
    )  # fmt: skip
    # Pa*m3/s of the test gas
    see: float = ask(
        "Leak that a test to come should show.", "leak rate", 3e-15, 1e-3, usual="5 g/yr",
        metavar="RATE", label="leak to be seen"
    )  # fmt: skip
    # kg/s of refrigerant
    refrigerant: str | None = ask(
        "What the machine will hold.", metavar="NAME", taken="refrigerant"
    )
    gas: TestGas = ask(
        "In the circuit; nitrogen where nobody says it. Never oxygen or compressed air.",
        default="nitrogen", taken="gas",
    )  # fmt: skip
    volume: float | None = ask(
        'Inside volume, as "2.8 ± 0.3 L"; else from the job.', "volume", 1e-6, 10.0, error=0.1,
        metavar="V", label="inside volume"
    )  # fmt: skip
    # m3
    volume_sd: float | None = None  # m3
    compressor: str | None = ask("Of the job, by name or number.", metavar="NAME")
    limits: Sequence[PressureLimit] = ask(
        'Limit of a part, as "evaporator=12 bar(g)"; again for each.', metavar="PART=P",
        default=(), option="limit", divider="=", example="evaporator=12 bar(g)",
        label="limits of parts",
    )  # fmt: skip
    # besides those of the job
    held: float | None = ask(
        "The past: mass that the machine held when full.", "mass", 1e-3, 50.0, error=0.05,
        metavar="M", label="mass it held"
    )  # fmt: skip
    # kg
    held_sd: float | None = None  # kg
    held_refrigerant: str | None = ask(
        "Which it was; else the job's original.", metavar="NAME", label="refrigerant it held"
    )
    after: float | None = ask(
        'And when it was weak or empty, as "18 months".', "time", 3600.0, 2e9, error=0.2,
        metavar="TIME", label="time until weak or empty"
    )  # fmt: skip
    # s
    after_sd: float | None = None  # s
    left: float | None = ask(
        'Left then, as "70 %" of a weak one; else empty.',
        "ratio",
        0.01,
        0.99,
        metavar="SHARE",
        label="left by then",
    )
    rest_temperature: float | None = ask(
        "Of the machine at rest; else the room's.",
        "temperature",
        243.15,
        333.15,
        metavar="T",
        label="temperature at rest",
    )  # K
    sealed_gauge: bool = ask("Gauge that does not feel the weather.", default=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredLeak(Answer):
    """A leak measured in another way, as with helium at a joint."""

    gas: GasName
    pressure: Annotated[float, Q("pressure")]
    rate: Annotated[float, Q("gas throughput")]


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldPlan(Answer):
    """How long a pressure test must last to show a leak."""

    pressure: Annotated[float, Q("pressure")]
    temperature: Annotated[float, Q("temperature")]
    see: Annotated[float, Q("leak rate", doc="Of the refrigerant at rest.")]
    rate: Annotated[
        float,
        Q("gas throughput", "such a leak loses",
          "Of the test gas at the test pressure.", digits=2),
    ]  # fmt: skip
    hold: Annotated[float | None, Q("time", "test for", "Null beyond sixty days.", digits=2)]
    hold_barometer_read: Annotated[
        float | None,
        Q("time", "with a barometer",
          "The same when a barometer is read as well, or the gauge is sealed.", digits=2),
    ]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class TightnessAnswer(BenchAnswer):
    """A pressure test, a plan for one, what the past says, ways of looking, and where to look."""

    refrigerant: str | None
    rest_temperature: Annotated[
        float, Q("temperature", doc="Of the machine at rest, for the loss of refrigerant.")
    ]
    volume: Annotated[float | None, Q("volume", "inside volume")]
    volume_sd: Annotated[float | None, Q("volume")]
    limit_pressure: Annotated[
        float | None, Q("pressure", doc="Of the weakest part; null when nobody said it.")
    ]
    limit_part: str
    hold: Hold | None
    measured: MeasuredLeak | None
    leak: Leak | None
    """Of the test or of the measured rate; null without a refrigerant."""
    plan: HoldPlan | None
    history: History | None
    methods: tuple[Method, ...]
    search: SearchPlan | None


def tightness(request: TightnessRequest) -> TightnessAnswer:
    """Answer everything that was asked about tightness.

    Raises
    ------
    JobError
        A test pressure above what the weakest part withstands, or a number that is missing; its
        field names the quantity.
    OutOfRange
        Outside a gas's equation of state or a refrigerant's table.
    """
    asked, pieces = _completed(request)
    gas = gas_named(asked.gas)
    weakest = min(asked.limits, key=lambda limit: limit.pressure, default=None)
    _refuse(asked, weakest)
    fluid = load(asked.refrigerant) if asked.refrigerant is not None else None
    notes = [*_notes(asked, gas, weakest), *(_below_atmosphere(fluid, asked) if fluid else ())]
    before = rest = None if fluid is None else AtRest.of(fluid, _warm(asked), asked.atmosphere)
    known: Channels | None = None  # shapes of the leak that was found, implied or is to be seen
    history = hold = measured = leak = plan = None
    if asked.held is not None and asked.after is not None:
        before = AtRest.of(load(_held_refrigerant(asked)), _warm(asked), asked.atmosphere)
        history, known = implied_by_the_past(
            before,
            held=asked.held,
            held_sd=error_of(asked, "held"),
            after=asked.after,
            after_sd=error_of(asked, "after"),
            left_share=asked.left,
            volume=_volume(asked, "how long the last of the gas lasts depends on"),
        )
    if asked.readings:
        hold = leak_rate(
            gas,
            asked.readings,
            volume=_volume(asked, "a pressure test says nothing without"),
            volume_sd=asked.volume_sd or 0.0,
            instruments=asked,
            atmosphere=asked.atmosphere,
        )
        shapes = None
        if rest is not None and rest.loses and hold.pressure > asked.atmosphere:
            tested = permanent(gas, pressure=hold.pressure, temperature=hold.temperature)
            shapes, blank = (
                _shapes(asked, tested, hold.pressure, rates)
                for rates in (sampled_rates(hold), np.full(SHAPES, hold.smallest_seen))
            )
            leak = rest.leak(shapes, found=hold.found, smallest=blank)
        if history is None and hold.found:
            known = shapes
        notes += _doubts(hold, leak, history)
    if asked.measured is not None:
        if rest is None or asked.pressure is None:
            raise JobError(
                what="a measured rate tells the loss of a refrigerant only with its pressure and "
                "with the refrigerant",
                allowed="give both",
                field="pressure" if asked.pressure is None else "refrigerant",
            )
        tested = permanent(gas, pressure=asked.pressure, temperature=_warm(asked))
        shapes = _shapes(asked, tested, asked.pressure, np.full(SHAPES, asked.measured))
        measured = MeasuredLeak(gas=gas.name, pressure=asked.pressure, rate=asked.measured)
        leak = rest.leak(shapes, found=True)
        known = shapes if history is None else known
    # Of a test to come, else of the one that was read: how long would it have had to last?
    pressure = asked.pressure
    if pressure is None and asked.readings:
        pressure = asked.readings[0].pressure
    if asked.volume is not None and rest is not None and rest.loses and pressure is not None:
        plan = _plan(asked, gas, rest, pressure)
        if known is None and not (hold is not None and hold.found):
            # No leak is known: what could find the one that is to be seen?
            known = rest.losing(asked.see)
    methods: tuple[Method, ...] = ()
    if before is not None and known is not None:
        methods = ways_of_looking(before, known, before.pressure if pressure is None else pressure)
    names = {asked.refrigerant, _held_refrigerant(asked) if history else None} - {None}
    return TightnessAnswer(
        job=summary_of(asked.job) if asked.job is not None else None,
        cautions=cautions_of(names or [None], work={"pressurising"}),
        notes=tuple(notes),
        atmospheric_pressure=asked.atmosphere,
        refrigerant=fluid.name if fluid is not None else None,
        rest_temperature=_warm(asked),
        volume=asked.volume,
        volume_sd=asked.volume_sd,
        limit_pressure=weakest.pressure if weakest is not None else None,
        limit_part=weakest.part if weakest is not None else "",
        hold=hold,
        measured=measured,
        leak=leak,
        plan=plan,
        history=history,
        methods=methods,
        search=_search(asked, gas, pieces, hold, plan),
    )


def _completed(request: TightnessRequest) -> tuple[TightnessRequest, tuple[CircuitPiece, ...]]:
    """The request with what the job says where it says nothing itself, and the job's circuit."""
    if len(request.readings) == 1:
        raise JobError(what="one reading is no test", allowed="give two or more", field="readings")
    if (request.held is None) != (request.after is None):
        raise JobError(what="one says nothing without the other", field="held, after")
    read = sum(look.barometer is not None for look in request.readings)
    if 0 < read < len(request.readings):
        raise JobError(
            what="a barometer helps only when it stands in every reading",
            read=f"{read} of {len(request.readings)}",
            field="readings",
        )
    asked = replace(
        request,
        barometer=0.0 if read or request.sealed_gauge else request.barometer,
        volume_sd=None if request.volume is None else error_of(request, "volume"),
    )
    job = request.job
    if asked.refrigerant is not None:
        asked = replace(asked, refrigerant=find(asked.refrigerant))
    if job is None:
        return asked, ()
    pieces = circuit_pieces(job, choose_compressor(job, request.compressor))
    if asked.volume is None:
        volume, sd = total_volume(pieces)
        asked = replace(asked, volume=volume, volume_sd=sd)
    refrigerant = refrigerant_of(job, asked.refrigerant)
    if refrigerant is None:
        raise JobError(
            what="the job lists several refrigerants",
            allowed=f"choose {', '.join(job.refrigerants)}",
            field="refrigerant",
        )
    limits = (*_job_limits(job), *asked.limits)
    return replace(asked, refrigerant=refrigerant, limits=limits), pieces


def _held_refrigerant(asked: TightnessRequest) -> str:
    """What the machine held: as told, else the job's original."""
    name = asked.held_refrigerant or (asked.job.original.refrigerant if asked.job else None)
    if name is None:
        raise JobError(
            what="which refrigerant was held?", allowed="name it", field="held_refrigerant"
        )
    return find(name)


def _job_limits(job: Job) -> list[PressureLimit]:
    """Limits of a job for a test of the whole circuit."""
    return [
        PressureLimit(
            part=f"{side} ({limit.note or 'as written in the job'})", pressure=limit.value
        )
        for side, limit in (
            ("low side", job.limits.low_side_pressure),
            ("high side", job.limits.high_side_pressure),
        )
        if limit is not None
    ]


def _warm(asked: TightnessRequest) -> float:
    return room_temperature(asked.job, asked.rest_temperature)


def _volume(asked: TightnessRequest, why: str) -> float:
    if asked.volume is None:
        raise JobError(
            what=f"{why} the inside volume",
            allowed="give it, or a job file from which it follows",
            field="volume",
        )
    return asked.volume


def _refuse(asked: TightnessRequest, weakest: PressureLimit | None) -> None:
    """Stop at a pressure that is too high, and at questions that lack something."""
    if weakest is not None:
        pressures = [(f"readings {i}", r.pressure) for i, r in enumerate(asked.readings, 1)]
        if asked.pressure is not None:
            pressures.append(("pressure", asked.pressure))
        for field, pressure in pressures:
            if pressure > weakest.pressure * (1.0 + 1e-9):
                said, most = (
                    show(p, "pressure", asked.unit_system, atmosphere=asked.atmosphere)
                    for p in (pressure, weakest.pressure)
                )
                raise JobError(
                    what=f"{said} is above what the weakest part stands: {weakest.part}",
                    allowed=f"at most {most}; a test of the whole circuit loads every part alike",
                    field=field,
                )
    if asked.measured is not None and asked.readings:
        raise JobError(
            what="a pressure test and a measured rate are two questions",
            allowed="ask them one after the other",
            field="measured",
        )
    if asked.pressure is not None and not (asked.readings or asked.held or asked.measured):
        for value, what, field in (
            (asked.volume, "the inside volume", "volume"),
            (asked.refrigerant, "the refrigerant to come", "refrigerant"),
        ):
            if value is None:
                raise JobError(
                    what=f"how long a pressure test must last depends on {what}",
                    allowed="give it, or a job file from which it follows",
                    field=field,
                )


def _notes(asked: TightnessRequest, gas: PermanentGas, weakest: PressureLimit | None) -> list[str]:
    notes = []
    if weakest is None:
        notes.append(
            "nobody has said what the weakest part stands, so no pressure is vouched for here: "
            "read the low-side test pressure on the plate"
        )
    elif _warms_above(asked, gas, weakest.pressure):
        warmer = show(_WARMING, "temperature difference", asked.unit_system, 2)
        notes.append(
            f"{warmer} warmer, in the sun or by a stove, this test stands above what the weakest "
            f"part stands ({weakest.part}): start lower"
        )
    if asked.readings:
        if asked.readings[-1].time - asked.readings[0].time < SETTLES:
            notes.append(
                "gas that was just let in is not at the wall's temperature yet: a test of minutes "
                "measures its cooling"
            )
        if asked.barometer > 0.0:
            notes.append(
                "no barometer was read: the weather moves a gauge from one day to the next, and "
                "its error is in the range"
            )
    return notes


def _warms_above(asked: TightnessRequest, gas: PermanentGas, limit: float) -> bool:
    """Whether a warmer afternoon takes a test over the limit it starts below."""
    starts = [(r.pressure, r.temperature) for r in asked.readings[:1]]
    if asked.pressure is not None:
        starts.append((asked.pressure, _warm(asked)))
    return any(
        expected_pressure(gas, pressure=p, temperature=t, later=t + _WARMING) > limit
        for p, t in starts
    )


def _below_atmosphere(fluid: Refrigerant, asked: TightnessRequest) -> list[str]:
    """What a leak does where the machine stands or runs below the atmosphere."""
    if fluid.saturation_pressure_dew(_warm(asked)) <= asked.atmosphere:
        return [
            f"{fluid.name} at rest stands below the atmosphere here: a leak draws air and water "
            "in, and no loss in mass is told"
        ]
    if fluid.saturation_pressure_dew(_COLD_COIL) <= asked.atmosphere:
        cold = fluid.saturation_temperature(asked.atmosphere).dew
        return [
            f"a low side with {fluid.name} colder than "
            f"{show(cold, 'temperature', asked.unit_system, 2)} runs below the atmosphere: a leak "
            "there draws air and water in while it runs"
        ]
    return []


def _doubts(hold: Hold, leak: Leak | None, history: History | None) -> list[str]:
    """What speaks against the straight line, and against one leak behind test and past."""
    notes = []
    if hold.found and leak is not None and history is not None:
        if leak.loss.low > 2.0 * history.rate.high:
            notes.append(
                "the test finds a leak far larger than the past implies: one that is new (a cut, "
                "a fitting of the test, a joint opened since) beside the old one, or in its place"
            )
        if leak.loss.high < 0.5 * history.rate.low:
            notes.append(
                "the test finds far less than the past implies: the old leak may open only warm, "
                "cold or shaken, or oil closes it; test again with the machine warm"
            )
    if abs(hold.lost_share) > _MUCH:
        notes.insert(
            0,
            "more than a tenth of the gas has gone: the rate is a mean over a falling pressure; "
            "a shorter test says it better",
        )
    return notes


def _shapes(
    asked: TightnessRequest, before: LeakGas, pressure: float, rates: FloatArray
) -> Channels:
    """Shapes that leak the test gas at given throughputs."""
    return possible_channels(
        rates * before.density, SHAPES, inside=pressure, outside=asked.atmosphere, gas=before
    )


def _time(
    asked: TightnessRequest,
    gas: PermanentGas,
    rate: float,
    *,
    pressure: float,
    volume: float,
    instruments: HoldInstruments,
) -> float | None:
    """How long a test must last; never shorter than the gas takes to settle. [s]"""
    time = hold_time(
        gas,
        rate,
        pressure=pressure,
        temperature=_warm(asked),
        volume=volume,
        instruments=instruments,
        atmosphere=asked.atmosphere,
    )
    return None if time is None else max(time, SETTLES)


def _plan(asked: TightnessRequest, gas: PermanentGas, rest: AtRest, pressure: float) -> HoldPlan:
    """How long a test at this pressure must last to show the leak that is sought."""
    before = permanent(gas, pressure=pressure, temperature=rest.temperature)
    sought = rest.losing(asked.see)
    flow = sought.flow(inside=pressure, outside=asked.atmosphere, gas=before)
    rate = float(np.median(flow)) / before.density
    volume = asked.volume or 0.0
    plain, read = (
        _time(asked, gas, rate, pressure=pressure, volume=volume, instruments=instruments)
        for instruments in (asked, replace(asked, barometer=0.0))
    )
    return HoldPlan(
        pressure=pressure,
        temperature=rest.temperature,
        see=asked.see,
        rate=rate,
        hold=plain,
        hold_barometer_read=read,
    )


def _search(
    asked: TightnessRequest,
    gas: PermanentGas,
    pieces: Sequence[CircuitPiece],
    hold: Hold | None,
    plan: HoldPlan | None,
) -> SearchPlan | None:
    """Division of the circuit, with the time each test needs for the leak that is sought."""
    if not pieces:
        return None
    leak = hold if hold is not None and hold.found else plan

    def time(volume: float) -> float | None:
        if leak is None or not np.isfinite(leak.rate):
            return None
        return _time(
            asked, gas, leak.rate, pressure=leak.pressure, volume=volume, instruments=asked
        )

    return plan_search(
        [Piece(name=p.name, weight=float(p.joints), volume=p.volume) for p in pieces], hold=time
    )

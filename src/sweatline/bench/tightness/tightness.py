"""Is it tight? A pressure test read or planned, the past of a machine, and where to look."""

from __future__ import annotations

import collections
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated, Final, Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Answer, Q, Range, range_of
from sweatline.assembly.build import choose_compressor
from sweatline.assembly.inside_volume import CircuitPiece, circuit_pieces, total_volume
from sweatline.bench.answer import BenchAnswer
from sweatline.bench.leak_channel import (
    Channels,
    LeakGas,
    Regime,
    channels_for,
    drawn_shapes,
    even_draws,
    liquid_flow,
    permanent,
    regime,
)
from sweatline.bench.permanent_gas import GasName, PermanentGas, gas_named
from sweatline.bench.tightness.leak_history import (
    SHAPES,
    History,
    Past,
    at_rest,
    implied_by_the_past,
)
from sweatline.bench.tightness.leak_search import (
    Method,
    Piece,
    SearchPlan,
    plan_search,
    ways_of_looking,
)
from sweatline.bench.tightness.pressure_hold import (
    Hold,
    HoldInstruments,
    HoldReading,
    expected_pressure,
    hold_time,
    leak_rate,
)
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.job.model import Job
from sweatline.job.summary import summary_of
from sweatline.refrigerant.refrigerant import Refrigerant, load
from sweatline.safety.cautions import cautions_of
from sweatline.units import System, show

FloatArray = NDArray[np.float64]
TestGas = Literal["nitrogen", "helium"]

# Gas that was just let in takes so long to come to the wall's temperature (common practice).
_SETTLES: Final = 900.0  # s
# Beyond this a straight line is no longer one: practice of pressure-decay tests (PUBLISHED).
_MUCH: Final = 0.1
_COLD_COIL: Final = 258.15  # K, evaporating temperature of a cold machine
_WARMING: Final = 10.0  # K, of a shop over a day
_VOLUME_SD: Final = 0.1  # relative, of a volume whose error nobody stated
_ROOM: Final = 293.15  # K, where no job says it
_GRAM_PER_YEAR: Final = 1e-3 / (365.25 * 86400.0)  # kg/s


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureLimit:
    """What one part withstands, absolute."""

    part: str
    pressure: float  # Pa


@dataclass(frozen=True, slots=True, kw_only=True)
class TightnessRequest:
    """What may be asked about tightness; what is None is not asked, or is taken from the job."""

    atmosphere: float = STANDARD_ATMOSPHERE  # Pa
    job: Job | None = None
    compressor: str | None = None  # of the job, by name or number
    gas: TestGas = "nitrogen"
    refrigerant: str | None = None  # to come
    rest_temperature: float | None = None  # K, of the machine at rest
    volume: float | None = None  # m3
    volume_sd: float | None = None  # m3
    readings: Sequence[HoldReading] = ()
    instruments: HoldInstruments = field(default_factory=HoldInstruments)
    pressure: float | None = None  # Pa absolute, of a test to come, or behind a measured rate
    measured: float | None = None  # Pa*m3/s of the test gas, read by another instrument
    see: float = 5.0 * _GRAM_PER_YEAR  # kg/s of refrigerant
    limits: Sequence[PressureLimit] = ()  # besides those of the job
    past: Past | None = None
    unit_system: System = "SI"  # in which a refusal and a note are told


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredLeak(Answer):
    """A leak measured in another way, as with helium at a joint."""

    gas: GasName
    pressure: Annotated[float, Q("pressure")]
    rate: Annotated[float, Q("gas throughput")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak(Answer):
    """What a leak, found in a test or measured, does to the refrigerant at rest."""

    loss: Annotated[Range, Q("leak rate", doc="Over the shapes that a leak may have.", digits=2)]
    regime: Regime | None
    """How the refrigerant gets out; null when no leak was found."""
    bore: Annotated[
        float | None, Q("roughness", "as one round hole", "Median of the shapes.", digits=2)
    ]
    liquid_factor: float | None
    """How many times as much the same leak loses below a liquid level, at most."""
    smallest_seen: Annotated[
        float | None,
        Q("leak rate", "smallest leak it shows",
          "On the refrigerant, by the test that was read; median of the shapes.", digits=2),
    ]  # fmt: skip


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
    pieces = _pieces(request)
    asked = _completed(request, pieces)
    gas = gas_named(asked.gas)
    weakest = min(asked.limits, key=lambda limit: limit.pressure, default=None)
    _refuse(asked, weakest)
    fluid = load(asked.refrigerant) if asked.refrigerant is not None else None
    notes = [*_notes(asked, gas, weakest), *(_below_atmosphere(fluid, asked) if fluid else ())]
    known: Channels | None = None  # shapes of the leak that was found or implied
    held_before = fluid
    history = implied = hold = measured = leak = None
    if asked.past is not None:
        held_before = load(asked.past.refrigerant)
        history, implied = implied_by_the_past(
            held_before,
            asked.past,
            temperature=_rest(asked),
            volume=_volume(asked, "how long the last of the gas lasts depends on"),
            outside=asked.atmosphere,
        )
    if asked.readings:
        hold = leak_rate(
            gas,
            asked.readings,
            volume=_volume(asked, "a pressure test says nothing without"),
            volume_sd=asked.volume_sd or 0.0,
            instruments=asked.instruments,
            atmosphere=asked.atmosphere,
        )
        if fluid is not None:
            leak, known = _leak_of_hold(asked, gas, fluid, hold)
        notes += _doubts(hold, leak, history)
    if asked.measured is not None:
        measured, leak, known = _measured(asked, gas, fluid, asked.measured)
    plan = None
    # Of a test to come, else of the one that was read: how long would it have had to last?
    pressure = asked.pressure
    if pressure is None and asked.readings:
        pressure = asked.readings[0].pressure
    if asked.volume is not None and fluid is not None and pressure is not None:
        plan = _plan(asked, gas, fluid, pressure)
    looked_for = None
    if history is not None:
        looked_for = implied
    elif fluid is not None and (measured or (hold is not None and hold.found)):
        looked_for = known
    elif plan is not None and fluid is not None:
        # No leak is known: what could find the one that is to be seen?
        looked_for = _sought(asked, fluid)
    names = {asked.refrigerant, asked.past.refrigerant if asked.past else None} - {None}
    return TightnessAnswer(
        job=summary_of(asked.job) if asked.job is not None else None,
        cautions=cautions_of(names or [None], work={"pressurising"}),
        notes=tuple(notes),
        atmospheric_pressure=asked.atmosphere,
        refrigerant=fluid.name if fluid is not None else None,
        rest_temperature=_rest(asked),
        volume=asked.volume,
        volume_sd=asked.volume_sd,
        limit_pressure=weakest.pressure if weakest is not None else None,
        limit_part=weakest.part if weakest is not None else "",
        hold=hold,
        measured=measured,
        leak=leak,
        plan=plan,
        history=history,
        methods=_methods(asked, held_before, looked_for, pressure),
        search=_search(asked, gas, pieces, hold, plan),
    )


def _pieces(request: TightnessRequest) -> tuple[CircuitPiece, ...]:
    if request.job is None:
        return ()

    return circuit_pieces(request.job, choose_compressor(request.job, request.compressor))


def _completed(request: TightnessRequest, pieces: tuple[CircuitPiece, ...]) -> TightnessRequest:
    """The request with what the job says where it says nothing itself."""
    volume, sd = request.volume, request.volume_sd
    if volume is None and pieces:
        volume, sd = total_volume(pieces)
    elif volume is not None and sd is None:
        sd = _VOLUME_SD * volume
    limits = list(request.limits)
    rest = request.rest_temperature
    if request.job is not None:
        limits = [*_job_limits(request.job), *limits]
        rest = request.job.room.temperature.value if rest is None else rest
    return replace(
        request,
        volume=volume,
        volume_sd=sd,
        limits=limits,
        rest_temperature=_ROOM if rest is None else rest,
    )


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


def _rest(asked: TightnessRequest) -> float:
    assert asked.rest_temperature is not None
    return asked.rest_temperature


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
        pressures = [(f"reading {i}", r.pressure) for i, r in enumerate(asked.readings, 1)]
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
    if asked.pressure is not None and not (asked.readings or asked.past or asked.measured):
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
        if asked.readings[-1].time - asked.readings[0].time < _SETTLES:
            notes.append(
                "gas that was just let in is not at the wall's temperature yet: a test of minutes "
                "measures its cooling"
            )
        if asked.instruments.barometer > 0.0:
            notes.append(
                "no barometer was read: the weather moves a gauge from one day to the next, and "
                "its error is in the range"
            )
    return notes


def _warms_above(asked: TightnessRequest, gas: PermanentGas, limit: float) -> bool:
    """Whether a warmer afternoon takes a test over the limit it starts below."""
    starts = [(r.pressure, r.temperature) for r in asked.readings[:1]]
    if asked.pressure is not None:
        starts.append((asked.pressure, _rest(asked)))
    return any(
        expected_pressure(gas, pressure=p, temperature=t, later=t + _WARMING) > limit
        for p, t in starts
    )


def _below_atmosphere(fluid: Refrigerant, asked: TightnessRequest) -> list[str]:
    """What a leak does where the machine stands or runs below the atmosphere."""
    if fluid.saturation_pressure_dew(_rest(asked)) <= asked.atmosphere:
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


def _leak_of_hold(
    asked: TightnessRequest, gas: PermanentGas, fluid: Refrigerant, hold: Hold
) -> tuple[Leak | None, Channels | None]:
    rest, vapour = at_rest(fluid, _rest(asked))
    if hold.pressure <= asked.atmosphere or rest <= asked.atmosphere:
        return None, None
    before = permanent(gas, pressure=hold.pressure, temperature=hold.temperature)
    channels = _shapes(asked, before, hold.pressure, _drawn_rates(hold))
    blank = _shapes(asked, before, hold.pressure, np.full(SHAPES, hold.smallest_seen))
    smallest = np.median(blank.flow(inside=rest, outside=asked.atmosphere, gas=vapour))
    leak = _leak(asked, fluid, channels, found=hold.found)
    return replace(leak, smallest_seen=float(smallest)), channels


def _measured(
    asked: TightnessRequest, gas: PermanentGas, fluid: Refrigerant | None, rate: float
) -> tuple[MeasuredLeak, Leak, Channels]:
    if fluid is None or asked.pressure is None:
        raise JobError(
            what="a measured rate tells the loss of a refrigerant only with its pressure and with "
            "the refrigerant",
            allowed="give both",
            field="pressure" if asked.pressure is None else "refrigerant",
        )
    before = permanent(gas, pressure=asked.pressure, temperature=_rest(asked))
    channels = _shapes(asked, before, asked.pressure, np.full(SHAPES, rate))
    measured = MeasuredLeak(gas=gas.name, pressure=asked.pressure, rate=rate)
    return measured, _leak(asked, fluid, channels, found=True), channels


def _drawn_rates(hold: Hold) -> FloatArray:
    """Rates that the readings allow: a normal law cut off at none."""
    from scipy.special import ndtr, ndtri

    u = even_draws(SHAPES, 3, seed=1)[:, 2]
    cut = ndtr(-hold.rate / hold.rate_sd)
    z = ndtri(np.clip(cut + u * (1.0 - cut), 1e-12, 1.0 - 1e-12))
    return np.asarray(np.maximum(hold.rate + hold.rate_sd * z, 1e-4 * hold.rate_sd))


def _shapes(
    asked: TightnessRequest, before: LeakGas, pressure: float, rates: FloatArray
) -> Channels:
    """Shapes that leak the test gas at given throughputs."""
    length, number = drawn_shapes(rates.size)
    return channels_for(
        rates * before.molar_mass / before.per_amount,
        length=length,
        number=number,
        inside=pressure,
        outside=asked.atmosphere,
        gas=before,
    )


def _leak(asked: TightnessRequest, fluid: Refrigerant, channels: Channels, *, found: bool) -> Leak:
    """What these shapes lose of the refrigerant; their looks only when there is a leak."""
    rest, vapour = at_rest(fluid, _rest(asked))
    flow = channels.flow(inside=rest, outside=asked.atmosphere, gas=vapour)
    return Leak(
        loss=range_of(flow),
        regime=_regime(channels, flow, rest, asked.atmosphere, vapour) if found else None,
        bore=float(np.median(channels.bore)) if found else None,
        liquid_factor=_liquid_factor(channels, flow, fluid, rest, asked) if found else None,
        smallest_seen=None,
    )


def _regime(
    channels: Channels, flow: FloatArray, inside: float, outside: float, gas: LeakGas
) -> Regime:
    """How the refrigerant gets through most of the shapes."""
    counts = collections.Counter(
        regime(bore=float(b), inside=inside, outside=outside, gas=gas, flow=float(m / n))
        for b, m, n in zip(channels.bore, flow, channels.number, strict=True)
    )
    return counts.most_common(1)[0][0]


def _liquid_factor(
    channels: Channels,
    flow: FloatArray,
    fluid: Refrigerant,
    rest: float,
    asked: TightnessRequest,
) -> float:
    bubble = fluid.saturation_pressure_bubble(_rest(asked))
    liquid = fluid.state(p=bubble, quality=0.0)
    as_liquid = channels.number * liquid_flow(
        channels.bore,
        channels.length,
        drop=rest - asked.atmosphere,
        density=liquid.density,
        viscosity=liquid.viscosity,
    )
    return float(np.median(as_liquid / flow))


def _sought(asked: TightnessRequest, fluid: Refrigerant) -> Channels:
    """Shapes of a leak that loses as much refrigerant at rest as is to be seen."""
    rest, vapour = at_rest(fluid, _rest(asked))
    length, number = drawn_shapes(SHAPES)
    return channels_for(
        asked.see, length=length, number=number, inside=rest, outside=asked.atmosphere, gas=vapour
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
        temperature=_rest(asked),
        volume=volume,
        instruments=instruments,
        atmosphere=asked.atmosphere,
    )
    return None if time is None else max(time, _SETTLES)


def _plan(
    asked: TightnessRequest, gas: PermanentGas, fluid: Refrigerant, pressure: float
) -> HoldPlan | None:
    """How long a test at this pressure must last to show the leak that is sought."""
    rest, _ = at_rest(fluid, _rest(asked))
    if rest <= asked.atmosphere:
        return None
    before = permanent(gas, pressure=pressure, temperature=_rest(asked))
    flow = _sought(asked, fluid).flow(inside=pressure, outside=asked.atmosphere, gas=before)
    rate = float(np.median(flow)) * before.per_amount / before.molar_mass
    plain, read = (
        _time(
            asked,
            gas,
            rate,
            pressure=pressure,
            volume=asked.volume or 0.0,
            instruments=instruments,
        )
        for instruments in (asked.instruments, replace(asked.instruments, barometer=0.0))
    )
    return HoldPlan(
        pressure=pressure,
        temperature=_rest(asked),
        see=asked.see,
        rate=rate,
        hold=plain,
        hold_barometer_read=read,
    )


def _methods(
    asked: TightnessRequest,
    fluid: Refrigerant | None,
    channels: Channels | None,
    pressure: float | None,
) -> tuple[Method, ...]:
    if fluid is None or channels is None:
        return ()
    rest, vapour = at_rest(fluid, _rest(asked))
    return ways_of_looking(
        channels,
        pressure=rest if pressure is None else pressure,
        temperature=_rest(asked),
        rest=rest,
        refrigerant=vapour,
        outside=asked.atmosphere,
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
            asked,
            gas,
            leak.rate,
            pressure=leak.pressure,
            volume=volume,
            instruments=asked.instruments,
        )

    return plan_search(
        [Piece(name=p.name, weight=float(p.joints), volume=p.volume) for p in pieces], hold=time
    )

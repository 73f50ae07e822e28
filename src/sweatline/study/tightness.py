"""Is it tight? A pressure hold read, a hold planned, the past of a machine, and where to look."""

from __future__ import annotations

import collections
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import sweatline
from sweatline.errors import JobError
from sweatline.study.bench_records import (
    HistoryRecord,
    HoldPlanRecord,
    HoldRecord,
    LeakMethodRecord,
    MeasuredLeakRecord,
    SearchRecord,
    SearchStepRecord,
    TightnessRecord,
    WayRecord,
)
from sweatline.study.record_parts import BandRecord

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sweatline.bench.leak_channel import Channels, LeakGas
    from sweatline.bench.permanent_gas import PermanentGas
    from sweatline.bench.pressure_hold import HoldInstruments, HoldReading, HoldResult
    from sweatline.job.model import Job
    from sweatline.refrigerant.refrigerant import Refrigerant
    from sweatline.study.inside_volume import CircuitPiece
    from sweatline.units import System

    FloatArray = NDArray[np.float64]

__all__ = ["Asked", "History", "PressureLimit", "job_limits", "tightness"]

TestGas = Literal["nitrogen", "helium"]

# Beyond this a straight line is no longer one: practice of pressure-decay tests (PUBLISHED).
_MUCH: Final = 0.1
_DRAWS: Final = 128
_COLD_COIL: Final = 258.15  # K, evaporating temperature of a cold machine
_WARMING: Final = 10.0  # K, of a shop over a day
_QUICK: Final = 900.0  # s


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureLimit:
    """What one part stands, absolute."""

    part: str
    pressure: float  # Pa


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """What the person remembers of the machine."""

    refrigerant: str
    held: float  # kg
    held_sd: float  # kg
    after: float  # s
    after_sd: float  # s
    left_share: float | None  # None: empty


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Everything one tightness question may hold; what is None was not asked."""

    gas: TestGas
    refrigerant: str | None
    rest_temperature: float  # K
    atmosphere: float  # Pa
    volume: float | None  # m3
    volume_sd: float  # m3
    readings: Sequence[HoldReading]
    instruments: HoldInstruments
    pressure: float | None  # Pa absolute, of a hold to come, or under which a rate was measured
    measured: float | None  # Pa*m3/s of the test gas, read by another instrument
    see: float  # kg/s of refrigerant
    limits: Sequence[PressureLimit]
    history: History | None
    unit_system: System = "SI"  # in which a refusal is told
    pieces: Sequence[CircuitPiece] = ()
    job: Job | None = None


def job_limits(job: Job) -> list[PressureLimit]:
    """Limits of a job for a hold of the whole circuit."""
    found = []
    for side, limit in (
        ("low side", job.limits.low_side_pressure),
        ("high side", job.limits.high_side_pressure),
    ):
        if limit is not None:
            why = limit.note or "as written in the job"
            found.append(PressureLimit(part=f"{side} ({why})", pressure=limit.value))
    return found


def tightness(asked: Asked) -> TightnessRecord:
    """Answer everything that was asked about tightness.

    Raises
    ------
    JobError
        A test pressure above what the weakest part stands, or a number that is missing.
    OutOfRange
        Outside a gas's equation of state or a refrigerant's table.
    """
    from sweatline.bench.permanent_gas import gas_named
    from sweatline.refrigerant.refrigerant import load
    from sweatline.study.recording import cautions, job_record

    gas = gas_named(asked.gas)
    weakest = min(asked.limits, key=lambda limit: limit.pressure) if asked.limits else None
    _refuse(asked, weakest)
    if asked.readings and asked.volume is None:
        raise JobError(
            what="a hold says nothing without the inside volume",
            allowed="give it, or a job file from which it follows",
            field="--volume",
        )
    fluid = load(asked.refrigerant) if asked.refrigerant is not None else None
    notes = _notes(asked, weakest)
    if fluid is not None:
        notes += _below_atmosphere(fluid, asked)
    if asked.measured is not None and asked.readings:
        raise JobError(
            what="a hold and a measured rate are two questions",
            allowed="ask them one after the other",
            field="--measured",
        )
    history, implied = (None, None)
    if asked.history is not None:
        history, implied = _history(asked, asked.history)
    hold, channels = (None, None)
    if asked.readings:
        hold, channels = _hold(asked, gas, fluid)
    measured = None
    if asked.measured is not None:
        measured, channels = _measured(asked, gas, fluid, asked.measured)
    plan = None
    if asked.pressure is not None and asked.volume is not None and fluid is not None:
        plan = _plan(asked, gas, fluid)
    methods: tuple[LeakMethodRecord, ...] = ()
    if implied is not None and history is not None:
        methods = _methods(asked, gas, load(history.refrigerant), implied)
    elif channels is not None and fluid is not None and (measured or (hold and hold.found)):
        methods = _methods(asked, gas, fluid, channels)
    if hold is not None and abs(hold.lost_share) > _MUCH:
        notes.append(
            "more than a tenth of the gas has gone: the rate is a mean over a falling pressure; "
            "a shorter hold says it better"
        )
    if hold is not None and history is not None and hold.found:
        notes += _at_odds(hold, history)
    return TightnessRecord(
        command="tightness",
        version=sweatline.__version__,
        job=job_record(asked.job) if asked.job is not None else None,
        cautions=cautions(
            {name for name in (asked.refrigerant, history.refrigerant if history else None) if name}
            or [None],
            {"pressurising"},
        ),
        notes=tuple(notes),
        atmospheric_pressure_Pa=asked.atmosphere,
        refrigerant=fluid.name if fluid is not None else None,
        rest_temperature_K=asked.rest_temperature,
        volume_m3=asked.volume,
        volume_sd_m3=asked.volume_sd if asked.volume is not None else None,
        limit_pressure_Pa=weakest.pressure if weakest is not None else None,
        limit_part=weakest.part if weakest is not None else "",
        hold=hold,
        measured=measured,
        plan=plan,
        history=history,
        methods=methods,
        search=_search(asked, gas, hold, plan),
    )


def _refuse(asked: Asked, weakest: PressureLimit | None) -> None:
    if weakest is None:
        return
    from sweatline.units import show

    pressures = [(f"--reading {i}", r.pressure) for i, r in enumerate(asked.readings, 1)]
    if asked.pressure is not None:
        pressures.append(("--pressure", asked.pressure))
    for where, pressure in pressures:
        if pressure > weakest.pressure * (1.0 + 1e-9):
            said = show(pressure, "pressure", asked.unit_system, atmosphere=asked.atmosphere)
            most = show(
                weakest.pressure, "pressure", asked.unit_system, atmosphere=asked.atmosphere
            )
            raise JobError(
                what=f"{said} is above what the weakest part stands: {weakest.part}",
                allowed=f"at most {most}; a hold of the whole circuit loads every part alike",
                field=where,
            )


def _notes(asked: Asked, weakest: PressureLimit | None) -> list[str]:
    notes = []
    if weakest is None:
        notes.append(
            "nobody has said what the weakest part stands, so no pressure is vouched for here: "
            "read the low-side test pressure on the plate"
        )
    else:
        notes += _warming(asked, weakest)
    if asked.readings:
        last = asked.readings[-1].time - asked.readings[0].time
        if last < _QUICK:
            notes.append(
                "gas that was just let in is not at the wall's temperature yet: a hold of minutes "
                "measures its cooling"
            )
        if asked.instruments.barometer > 0.0:
            notes.append(
                "no barometer was read: the weather moves a gauge by some hundred pascal a day, "
                "and its error is in the range"
            )
    return notes


def _at_odds(hold: HoldRecord, history: HistoryRecord) -> list[str]:
    """Whether the leak held and the leak remembered can be the same."""
    now, then = hold.loss_kg_per_s, history.rate_kg_per_s
    if now is None or now.low is None or now.high is None or then.low is None or then.high is None:
        return []
    if now.low > 2.0 * then.high:
        return [
            "the hold finds a leak far larger than the past implies: one that is new (a cut, a "
            "fitting of the test, a joint opened since) beside the old one, or in its place"
        ]
    if now.high < 0.5 * then.low:
        return [
            "the hold finds far less than the past implies: the old leak may open only warm, cold "
            "or shaken, or oil closes it; hold again with the machine warm"
        ]
    return []


def _warming(asked: Asked, weakest: PressureLimit) -> list[str]:
    """Whether a warmer afternoon takes a hold over the limit it starts below."""
    from sweatline.bench.permanent_gas import gas_named
    from sweatline.bench.pressure_hold import expected_pressure

    starts = [(r.pressure, r.temperature) for r in asked.readings[:1]]
    if asked.pressure is not None:
        starts.append((asked.pressure, asked.rest_temperature))
    for pressure, temperature in starts:
        warm = expected_pressure(
            gas_named(asked.gas),
            pressure=pressure,
            temperature=temperature,
            later=temperature + _WARMING,
        )
        if warm > weakest.pressure:
            return [
                f"{_WARMING:.0f} K warmer, in the sun or by a stove, this hold stands above what "
                f"the weakest part stands ({weakest.part}): start lower"
            ]
    return []


def _below_atmosphere(fluid: Refrigerant, asked: Asked) -> list[str]:
    """What a leak does where the machine stands or runs below the atmosphere."""
    if fluid.saturation_pressure_dew(asked.rest_temperature) <= asked.atmosphere:
        return [
            f"{fluid.name} at rest stands below the atmosphere here: a leak draws air and water "
            "in, and no loss in mass is told"
        ]
    if fluid.saturation_pressure_dew(_COLD_COIL) <= asked.atmosphere:
        return [
            f"a low side with {fluid.name} colder than "
            f"{fluid.saturation_temperature(asked.atmosphere).dew - 273.15:.0f} °C runs below the "
            "atmosphere: a leak there draws air and water in while it runs"
        ]
    return []


def _gas_before(gas: PermanentGas, pressure: float, temperature: float) -> LeakGas:
    from sweatline.bench.leak_channel import permanent

    return permanent(gas, pressure=pressure, temperature=temperature)


def _at_rest(fluid: Refrigerant, temperature: float) -> tuple[float, LeakGas]:
    from sweatline.bench.leak_channel import vapour

    pressure = fluid.saturation_pressure_dew(temperature)
    return pressure, vapour(fluid, pressure=pressure, temperature=temperature)


def _band(values: FloatArray) -> BandRecord:
    import numpy as np

    low, median, high = (float(v) for v in np.percentile(values, [5.0, 50.0, 95.0]))
    return BandRecord(low=low, median=median, high=high)


def _hold(
    asked: Asked, gas: PermanentGas, fluid: Refrigerant | None
) -> tuple[HoldRecord, Channels | None]:
    import numpy as np

    from sweatline.bench.pressure_hold import leak_rate

    assert asked.volume is not None
    found = leak_rate(
        gas,
        asked.readings,
        volume=asked.volume,
        volume_sd=asked.volume_sd,
        instruments=asked.instruments,
        atmosphere=asked.atmosphere,
    )
    loss = smallest = bore = factor = None
    word = ""
    channels = None
    if fluid is not None and found.pressure > asked.atmosphere:
        rest, vapour = _at_rest(fluid, asked.rest_temperature)
        if rest > asked.atmosphere:
            rates = _drawn_rates(found)
            channels = _channels(asked, gas, found.pressure, found.temperature, rates)
            flow = channels.flow(inside=rest, outside=asked.atmosphere, gas=vapour)
            loss = _band(flow)
            if found.found:
                bore = float(np.median(channels.bore))
                word = _regime(channels, flow, rest, asked.atmosphere, vapour)
                factor = _liquid_factor(channels, flow, fluid, rest, asked)
            blank = _channels(
                asked, gas, found.pressure, found.temperature,
                np.full(_DRAWS, found.smallest),
            )  # fmt: skip
            smallest = float(
                np.median(blank.flow(inside=rest, outside=asked.atmosphere, gas=vapour))
            )
    return (
        HoldRecord(
            gas=asked.gas,
            pressure_Pa=found.pressure,
            temperature_K=found.temperature,
            duration_s=found.duration,
            expected_last_pressure_Pa=found.expected_last,
            last_pressure_Pa=asked.readings[-1].pressure,
            lost_share=found.lost,
            rate_Pa_m3_per_s=found.rate,
            rate_sd_Pa_m3_per_s=found.sd,
            found=found.found,
            rose=found.rose,
            settling=found.settling,
            smallest_seen_Pa_m3_per_s=found.smallest,
            smallest_seen_kg_per_s=smallest,
            loss_kg_per_s=loss,
            regime=word,
            bore_m=bore,
            liquid_factor=factor,
        ),
        channels,
    )


def _measured(
    asked: Asked, gas: PermanentGas, fluid: Refrigerant | None, rate: float
) -> tuple[MeasuredLeakRecord, Channels]:
    import numpy as np

    if fluid is None or asked.pressure is None:
        raise JobError(
            what="a measured rate tells the loss of a refrigerant only with its pressure and with "
            "the refrigerant",
            allowed="give both",
            field="--pressure" if asked.pressure is None else "--refrigerant",
        )
    rest, vapour = _at_rest(fluid, asked.rest_temperature)
    channels = _channels(asked, gas, asked.pressure, asked.rest_temperature, np.full(_DRAWS, rate))
    flow = channels.flow(inside=rest, outside=asked.atmosphere, gas=vapour)
    return (
        MeasuredLeakRecord(
            gas=asked.gas,
            pressure_Pa=asked.pressure,
            rate_Pa_m3_per_s=rate,
            loss_kg_per_s=_band(flow),
            regime=_regime(channels, flow, rest, asked.atmosphere, vapour),
        ),
        channels,
    )


def _drawn_rates(found: HoldResult) -> FloatArray:
    """Rates that the readings allow: a normal law cut off at none."""
    import numpy as np
    from scipy.special import ndtr, ndtri

    from sweatline.bench.leak_channel import even_draws

    u = even_draws(_DRAWS, 3, seed=1)[:, 2]
    cut = ndtr(-found.rate / found.sd)
    z = ndtri(np.clip(cut + u * (1.0 - cut), 1e-12, 1.0 - 1e-12))
    return np.asarray(np.maximum(found.rate + found.sd * z, 1e-4 * found.sd))


def _channels(
    asked: Asked, gas: PermanentGas, pressure: float, temperature: float, rates: FloatArray
) -> Channels:
    """Shapes that leak the test gas at given throughputs."""
    from sweatline.bench.leak_channel import channels_for, drawn_shapes

    before = _gas_before(gas, pressure, temperature)
    length, number = drawn_shapes(rates.size)
    return channels_for(
        rates * before.molar_mass / before.per_amount,
        length=length,
        number=number,
        inside=pressure,
        outside=asked.atmosphere,
        gas=before,
    )


def _regime(
    channels: Channels, flow: FloatArray, inside: float, outside: float, gas: LeakGas
) -> str:
    from sweatline.bench.leak_channel import regime

    words = collections.Counter(
        regime(bore=float(b), inside=inside, outside=outside, gas=gas, flow=float(m / n))
        for b, m, n in zip(channels.bore, flow, channels.number, strict=True)
    )
    return words.most_common(1)[0][0]


def _liquid_factor(
    channels: Channels, flow: FloatArray, fluid: Refrigerant, rest: float, asked: Asked
) -> float:
    import numpy as np

    from sweatline.bench.leak_channel import liquid_flow

    bubble = fluid.saturation_pressure_bubble(asked.rest_temperature)
    liquid = fluid.state(p=bubble, quality=0.0)
    as_liquid = channels.number * liquid_flow(
        channels.bore,
        channels.length,
        drop=rest - asked.atmosphere,
        density=liquid.density,
        viscosity=liquid.viscosity,
    )
    return float(np.median(as_liquid / flow))


def _plan(asked: Asked, gas: PermanentGas, fluid: Refrigerant) -> HoldPlanRecord | None:
    from dataclasses import replace

    from sweatline.bench.pressure_hold import hold_time

    assert asked.pressure is not None
    assert asked.volume is not None
    rate = _test_rate(asked, gas, fluid, asked.pressure)
    if rate is None:
        return None

    def long(instruments: HoldInstruments) -> float | None:
        assert asked.pressure is not None
        assert asked.volume is not None
        return hold_time(
            gas,
            rate,
            pressure=asked.pressure,
            temperature=asked.rest_temperature,
            volume=asked.volume,
            instruments=instruments,
            atmosphere=asked.atmosphere,
        )

    return HoldPlanRecord(
        pressure_Pa=asked.pressure,
        temperature_K=asked.rest_temperature,
        see_kg_per_s=asked.see,
        rate_Pa_m3_per_s=rate,
        hold_s=long(asked.instruments),
        hold_barometer_read_s=long(replace(asked.instruments, barometer=0.0)),
    )


def _test_rate(
    asked: Asked, gas: PermanentGas, fluid: Refrigerant, pressure: float
) -> float | None:
    """Throughput of the test gas through a leak that loses so much refrigerant at rest."""
    import numpy as np

    from sweatline.bench.leak_channel import channels_for, drawn_shapes

    rest, vapour = _at_rest(fluid, asked.rest_temperature)
    if rest <= asked.atmosphere:
        return None
    length, number = drawn_shapes(_DRAWS)
    channels = channels_for(
        asked.see, length=length, number=number, inside=rest, outside=asked.atmosphere, gas=vapour
    )
    before = _gas_before(gas, pressure, asked.rest_temperature)
    flow = channels.flow(inside=pressure, outside=asked.atmosphere, gas=before)
    return float(np.median(flow)) * before.per_amount / before.molar_mass


def _history(asked: Asked, told: History) -> tuple[HistoryRecord, Channels]:
    import numpy as np
    from scipy.special import ndtri

    from sweatline.bench.leak_channel import channels_for, drawn_shapes, even_draws
    from sweatline.bench.leak_history import implied_leak
    from sweatline.refrigerant.refrigerant import load

    if asked.volume is None:
        raise JobError(
            what="how long the last of the gas lasts depends on the inside volume",
            allowed="give it, or a job file from which it follows",
            field="--volume",
        )
    fluid = load(told.refrigerant)
    rest, vapour = _at_rest(fluid, asked.rest_temperature)
    ways: tuple[Literal["choked", "viscous", "molecular", "liquid"], ...] = (
        "choked", "viscous", "molecular", "liquid",
    )  # fmt: skip
    found = [
        implied_leak(
            fluid,
            way,
            held=told.held,
            left_share=told.left_share,
            after=told.after,
            temperature=asked.rest_temperature,
            volume=asked.volume,
            outside=asked.atmosphere,
        )
        for way in ways
    ]
    # The gas gets out in one of three ways, nobody knows which; what was told has errors.
    u = even_draws(_DRAWS, 3, seed=2)
    which = np.minimum((3.0 * u[:, 0]).astype(int), 2)
    rates = np.array([leak.rate for leak in found])[which]
    held = 1.0 + told.held_sd / told.held * ndtri(u[:, 1])
    after = np.exp(told.after_sd / told.after * ndtri(u[:, 2]))
    rates = rates * np.maximum(held, 0.1) / after
    length, number = drawn_shapes(_DRAWS)
    channels = channels_for(
        rates, length=length, number=number, inside=rest, outside=asked.atmosphere, gas=vapour
    )
    record = HistoryRecord(
        refrigerant=fluid.name,
        held_kg=told.held,
        after_s=told.after,
        left_share=told.left_share,
        rest_pressure_Pa=rest,
        ways=tuple(
            WayRecord(
                way=leak.way,
                rate_kg_per_s=leak.rate,
                liquid_gone_after_s=leak.liquid_gone_after,
            )
            for leak in found
        ),
        rate_kg_per_s=_band(rates),
    )
    return record, channels


def _methods(
    asked: Asked, gas: PermanentGas, fluid: Refrigerant, channels: Channels
) -> tuple[LeakMethodRecord, ...]:
    """Which ways of looking could find a leak of these shapes."""
    import numpy as np

    from sweatline.bench.leak_channel import throughput
    from sweatline.bench.leak_search import METHODS, chance_to_find
    from sweatline.bench.permanent_gas import HELIUM, NITROGEN

    pressure = asked.pressure
    if pressure is None:
        pressure = asked.readings[0].pressure if asked.readings else None
    rest, vapour = _at_rest(fluid, asked.rest_temperature)
    if pressure is None:
        pressure = rest

    def through(of: PermanentGas, inside: float, outside: float) -> FloatArray:
        return channels.number * throughput(
            channels.bore,
            channels.length,
            inside=inside,
            outside=outside,
            gas=_gas_before(of, inside, asked.rest_temperature),
        )

    found = []
    for method in METHODS:
        if method.of == "refrigerant":
            rates = (
                channels.flow(inside=rest, outside=asked.atmosphere, gas=vapour)
                if rest > asked.atmosphere
                else np.zeros(channels.bore.size)
            )
        elif method.of == "nitrogen":
            rates = through(NITROGEN, pressure, asked.atmosphere)
        elif method.of == "helium":
            rates = through(HELIUM, pressure, asked.atmosphere)
        else:
            rates = through(HELIUM, asked.atmosphere, 0.0)
        found.append(
            LeakMethodRecord(
                key=method.key,
                name=method.name,
                chance=chance_to_find(rates, least=method.least, sure=method.sure),
                status=method.status,
                note=method.note,
            )
        )
    return tuple(found)


def _search(
    asked: Asked, gas: PermanentGas, hold: HoldRecord | None, plan: HoldPlanRecord | None
) -> SearchRecord | None:
    """Division of the circuit, with the time each hold needs for the leak that is sought."""
    if not asked.pieces:
        return None
    from sweatline.bench.leak_search import Piece, plan_search
    from sweatline.bench.pressure_hold import hold_time

    found = plan_search(
        [Piece(name=p.name, weight=float(p.joints), volume=p.volume) for p in asked.pieces]
    )
    rate = pressure = None
    if hold is not None and hold.found:
        rate, pressure = hold.rate_Pa_m3_per_s, hold.pressure_Pa
    elif plan is not None:
        rate, pressure = plan.rate_Pa_m3_per_s, plan.pressure_Pa
    steps = []
    for step in found.steps:
        time = None
        if rate is not None and pressure is not None and math.isfinite(rate):
            time = hold_time(
                gas,
                rate,
                pressure=pressure,
                temperature=asked.rest_temperature,
                volume=step.volume,
                instruments=asked.instruments,
                atmosphere=asked.atmosphere,
            )
        steps.append(
            SearchStepRecord(
                depth=step.depth,
                hold=step.first,
                against=step.rest,
                chance=step.chance_first,
                volume_m3=step.volume,
                hold_s=time,
            )
        )
    return SearchRecord(
        steps=tuple(steps),
        expected_holds=found.expected_holds,
        worst_holds=found.worst_holds,
        expected_cuts=found.expected_cuts,
        one_by_one=found.one_by_one,
        one_by_one_cuts=found.one_by_one_cuts,
    )

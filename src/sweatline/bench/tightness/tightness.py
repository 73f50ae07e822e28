"""Is it tight? A pressure hold read, a hold planned, the past of a machine, and where to look."""

from __future__ import annotations

import collections
from typing import TYPE_CHECKING, Final

import sweatline
from sweatline.answers import range_of
from sweatline.bench.bench_records import (
    HistoryRecord,
    HoldPlanRecord,
    HoldRecord,
    LeakMethodRecord,
    MeasuredLeakRecord,
    TightnessRecord,
)
from sweatline.bench.tightness.leak_finding import implied_by_the_past, search_plan, ways_of_looking
from sweatline.bench.tightness.request import (
    DRAWS,
    SETTLES,
    Asked,
    PressureLimit,
    at_rest,
    gas_before,
)
from sweatline.errors import JobError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sweatline.bench.leak_channel import Channels, LeakGas
    from sweatline.bench.permanent_gas import PermanentGas
    from sweatline.bench.tightness.pressure_hold import HoldInstruments, HoldResult
    from sweatline.refrigerant.refrigerant import Refrigerant

    FloatArray = NDArray[np.float64]

__all__ = ["tightness"]


# Beyond this a straight line is no longer one: practice of pressure-decay tests (PUBLISHED).
_MUCH: Final = 0.1
_COLD_COIL: Final = 258.15  # K, evaporating temperature of a cold machine
_WARMING: Final = 10.0  # K, of a shop over a day


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
    from sweatline.job.summary import summary_of
    from sweatline.refrigerant.refrigerant import load
    from sweatline.safety.cautions import cautions_of

    gas = gas_named(asked.gas)
    weakest = min(asked.limits, key=lambda limit: limit.pressure) if asked.limits else None
    _refuse(asked, weakest)
    if asked.readings and asked.volume is None:
        raise JobError(
            what="a hold says nothing without the inside volume",
            allowed="give it, or a job file from which it follows",
            field="--volume",
        )
    if asked.pressure is not None and not (asked.readings or asked.history or asked.measured):
        _enough_for_a_plan(asked)
    fluid = load(asked.refrigerant) if asked.refrigerant is not None else None
    notes = [*asked.account.notes, *_notes(asked, weakest)]
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
        history, implied = implied_by_the_past(asked, asked.history)
    hold, channels = (None, None)
    if asked.readings:
        hold, channels = _hold(asked, gas, fluid)
    measured = None
    if asked.measured is not None:
        measured, channels = _measured(asked, gas, fluid, asked.measured)
    plan = None
    if asked.volume is not None and fluid is not None:
        # Of a hold to come, else of the one that was read: how long would it have had to last?
        pressure = asked.pressure
        if pressure is None and asked.readings:
            pressure = asked.readings[0].pressure
        if pressure is not None:
            plan = _plan(asked, gas, fluid, pressure)
    methods: tuple[LeakMethodRecord, ...] = ()
    if implied is not None and history is not None:
        methods = ways_of_looking(asked, gas, load(history.refrigerant), implied)
    elif channels is not None and fluid is not None and (measured or (hold and hold.found)):
        methods = ways_of_looking(asked, gas, fluid, channels)
    elif plan is not None and fluid is not None:
        # No leak is known: what could find the one that is to be seen?
        methods = ways_of_looking(asked, gas, fluid, _sought(asked, fluid))
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
        job=summary_of(asked.job) if asked.job is not None else None,
        cautions=cautions_of(
            {name for name in (asked.refrigerant, history.refrigerant if history else None) if name}
            or [None],
            work={"pressurising"},
        ),
        notes=tuple(notes),
        atmospheric_pressure_Pa=asked.atmosphere,
        log_path=asked.account.path,
        taken=asked.account.taken,
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
        search=search_plan(asked, gas, hold, plan),
    )


def _refuse(asked: Asked, weakest: PressureLimit | None) -> None:
    if weakest is None:
        return
    from sweatline.units import show

    from_log = any(one.what == "hold" and one.source == "log" for one in asked.account.taken)
    word = "look at the gauge, number" if from_log else "--reading"
    pressures = [(f"{word} {i}", r.pressure) for i, r in enumerate(asked.readings, 1)]
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


def _enough_for_a_plan(asked: Asked) -> None:
    for value, what, field in (
        (asked.volume, "the inside volume", "--volume"),
        (asked.refrigerant, "the refrigerant to come", "--refrigerant"),
    ):
        if value is None:
            raise JobError(
                what=f"how long a hold must last depends on {what}",
                allowed="give it, or a job file from which it follows",
                field=field,
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
        if last < SETTLES:
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
    from sweatline.bench.tightness.pressure_hold import expected_pressure

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


def _hold(
    asked: Asked, gas: PermanentGas, fluid: Refrigerant | None
) -> tuple[HoldRecord, Channels | None]:
    import numpy as np

    from sweatline.bench.tightness.pressure_hold import leak_rate

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
        rest, vapour = at_rest(fluid, asked.rest_temperature)
        if rest > asked.atmosphere:
            rates = _drawn_rates(found)
            channels = _channels(asked, gas, found.pressure, found.temperature, rates)
            flow = channels.flow(inside=rest, outside=asked.atmosphere, gas=vapour)
            loss = range_of(flow)
            if found.found:
                bore = float(np.median(channels.bore))
                word = _regime(channels, flow, rest, asked.atmosphere, vapour)
                factor = _liquid_factor(channels, flow, fluid, rest, asked)
            blank = _channels(
                asked, gas, found.pressure, found.temperature,
                np.full(DRAWS, found.smallest),
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
    rest, vapour = at_rest(fluid, asked.rest_temperature)
    channels = _channels(asked, gas, asked.pressure, asked.rest_temperature, np.full(DRAWS, rate))
    flow = channels.flow(inside=rest, outside=asked.atmosphere, gas=vapour)
    return (
        MeasuredLeakRecord(
            gas=asked.gas,
            pressure_Pa=asked.pressure,
            rate_Pa_m3_per_s=rate,
            loss_kg_per_s=range_of(flow),
            regime=_regime(channels, flow, rest, asked.atmosphere, vapour),
        ),
        channels,
    )


def _drawn_rates(found: HoldResult) -> FloatArray:
    """Rates that the readings allow: a normal law cut off at none."""
    import numpy as np
    from scipy.special import ndtr, ndtri

    from sweatline.bench.leak_channel import even_draws

    u = even_draws(DRAWS, 3, seed=1)[:, 2]
    cut = ndtr(-found.rate / found.sd)
    z = ndtri(np.clip(cut + u * (1.0 - cut), 1e-12, 1.0 - 1e-12))
    return np.asarray(np.maximum(found.rate + found.sd * z, 1e-4 * found.sd))


def _channels(
    asked: Asked, gas: PermanentGas, pressure: float, temperature: float, rates: FloatArray
) -> Channels:
    """Shapes that leak the test gas at given throughputs."""
    from sweatline.bench.leak_channel import channels_for, drawn_shapes

    before = gas_before(gas, pressure, temperature)
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


def _plan(
    asked: Asked, gas: PermanentGas, fluid: Refrigerant, pressure: float
) -> HoldPlanRecord | None:
    from dataclasses import replace

    from sweatline.bench.tightness.pressure_hold import hold_time

    assert asked.volume is not None
    volume = asked.volume
    rate = _test_rate(asked, gas, fluid, pressure)
    if rate is None:
        return None

    def long(instruments: HoldInstruments) -> float | None:
        time = hold_time(
            gas,
            rate,
            pressure=pressure,
            temperature=asked.rest_temperature,
            volume=volume,
            instruments=instruments,
            atmosphere=asked.atmosphere,
        )
        return None if time is None else max(time, SETTLES)

    return HoldPlanRecord(
        pressure_Pa=pressure,
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

    rest, _vapour = at_rest(fluid, asked.rest_temperature)
    if rest <= asked.atmosphere:
        return None
    before = gas_before(gas, pressure, asked.rest_temperature)
    flow = _sought(asked, fluid).flow(inside=pressure, outside=asked.atmosphere, gas=before)
    return float(np.median(flow)) * before.per_amount / before.molar_mass


def _sought(asked: Asked, fluid: Refrigerant) -> Channels:
    """Shapes of a leak that loses as much refrigerant at rest as is to be seen."""
    from sweatline.bench.leak_channel import channels_for, drawn_shapes

    rest, vapour = at_rest(fluid, asked.rest_temperature)
    length, number = drawn_shapes(DRAWS)
    return channels_for(
        asked.see, length=length, number=number, inside=rest, outside=asked.atmosphere, gas=vapour
    )

"""The leak that a machine's past implies, which ways of looking find a leak, and where to look."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

from sweatline.answers import range_of
from sweatline.bench.bench_records import (
    HistoryRecord,
    HoldPlanRecord,
    HoldRecord,
    LeakMethodRecord,
    SearchRecord,
    SearchStepRecord,
    WayRecord,
)
from sweatline.bench.tightness.request import (
    DRAWS,
    SETTLES,
    Asked,
    History,
    at_rest,
    gas_before,
)
from sweatline.errors import JobError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sweatline.bench.leak_channel import Channels
    from sweatline.bench.permanent_gas import PermanentGas
    from sweatline.refrigerant.refrigerant import Refrigerant

    FloatArray = NDArray[np.float64]

__all__ = ["implied_by_the_past", "search_plan", "ways_of_looking"]


def implied_by_the_past(asked: Asked, told: History) -> tuple[HistoryRecord, Channels]:
    """Leak rate that the past implies, and shapes that leak as much."""
    import numpy as np
    from scipy.special import ndtri

    from sweatline.bench.leak_channel import channels_for, drawn_shapes, even_draws
    from sweatline.bench.tightness.leak_history import implied_leak
    from sweatline.refrigerant.refrigerant import load

    if asked.volume is None:
        raise JobError(
            what="how long the last of the gas lasts depends on the inside volume",
            allowed="give it, or a job file from which it follows",
            field="--volume",
        )
    fluid = load(told.refrigerant)
    rest, vapour = at_rest(fluid, asked.rest_temperature)
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
    u = even_draws(DRAWS, 3, seed=2)
    which = np.minimum((3.0 * u[:, 0]).astype(int), 2)
    rates = np.array([leak.rate for leak in found])[which]
    held = 1.0 + told.held_sd / told.held * ndtri(u[:, 1])
    after = np.exp(told.after_sd / told.after * ndtri(u[:, 2]))
    rates = rates * np.maximum(held, 0.1) / after
    length, number = drawn_shapes(DRAWS)
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
        rate_kg_per_s=range_of(rates),
    )
    return record, channels


def ways_of_looking(
    asked: Asked, gas: PermanentGas, fluid: Refrigerant, channels: Channels
) -> tuple[LeakMethodRecord, ...]:
    """Which ways of looking could find a leak of these shapes."""
    import numpy as np

    from sweatline.bench.leak_channel import throughput
    from sweatline.bench.permanent_gas import HELIUM, NITROGEN
    from sweatline.bench.tightness.leak_search import METHODS, chance_to_find

    pressure = asked.pressure
    if pressure is None:
        pressure = asked.readings[0].pressure if asked.readings else None
    rest, vapour = at_rest(fluid, asked.rest_temperature)
    if pressure is None:
        pressure = rest

    def through(of: PermanentGas, inside: float, outside: float) -> FloatArray:
        return channels.number * throughput(
            channels.bore,
            channels.length,
            inside=inside,
            outside=outside,
            gas=gas_before(of, inside, asked.rest_temperature),
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


def search_plan(
    asked: Asked, gas: PermanentGas, hold: HoldRecord | None, plan: HoldPlanRecord | None
) -> SearchRecord | None:
    """Division of the circuit, with the time each hold needs for the leak that is sought."""
    if not asked.pieces:
        return None
    from sweatline.bench.tightness.leak_search import Piece, plan_search
    from sweatline.bench.tightness.pressure_hold import hold_time

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
            time = None if time is None else max(time, SETTLES)
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

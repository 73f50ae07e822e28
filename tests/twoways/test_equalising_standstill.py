"""How long the sides take to come equal: the drawn times of a stop against the standing machine.

The drawn times know gas as isothermal flow with friction and draw what heat does; the standing
machine takes the capillary's own homogeneous flow and reckons the heat.
"""

from pathlib import Path

import numpy as np
import pytest
from tests.dehumidifiers import Dehumidifier

from sweatline.assembly.build import build_for
from sweatline.bench.start_gear.equalising import equalising_times, gas_time, sides_at_stop
from sweatline.job.reading import read_job
from sweatline.machine.balance import filled
from sweatline.machine.standstill import (
    StandstillState,
    StandstillStep,
    advance_standstill,
    sides_of,
)
from sweatline.machine.transient import Transient
from sweatline.machine.transient_step import HeatCapacities
from sweatline.parts.capillary import CapillaryParameters
from sweatline.parts.shell import ShellParameters
from sweatline.refrigerant.table import enthalpy_vapour, full_state, state
from sweatline.safety.start_gear import EQUAL_ENOUGH

EXAMPLES = Path(__file__).parents[2] / "examples"
CAPACITIES = HeatCapacities(shell=5000.0, evaporator=900.0, condenser=1200.0, liquid_lag=10.0)
STEP = 0.05  # s


@pytest.mark.parametrize(("name", "high"), [("R-134a", 4e5), ("R-290", 4e5), ("R-407C", 2e5)])
def test_gas_alone_takes_the_same_time_both_ways(name: str, high: float) -> None:
    """To 15 %: adiabatic flow through the tube is slower than isothermal flow."""
    table, _line, machine = Dehumidifier(
        refrigerant=name,
        displacement=10e-6,
        temperature=293.15,
        relative_humidity=0.6,
        airflow=0.08,
        capillary_length=0.7,
    ).build()
    machine = machine._replace(shell=ShellParameters(0.0, 0.0, 4.5, 0.3))
    room = machine.air.ambient
    sides = sides_of(machine, fan=True)._replace(
        in_series=0,
        evaporator_air=room,
        condenser_air=room,
        evaporator_conductance=1e5,  # so much that both sides stay at the room's temperature
        condenser_conductance=1e5,
    )
    low, left = 1e5, 0.1e5
    h = [float(enthalpy_vapour(table, p, room)) for p in (low, high)]
    cold = float(sides.low_volume / state(table, low, h[0])[1])
    warm = float(sides.high_volume / state(table, high, h[1])[1])
    now = StandstillState(cold, 0.0, room, low, h[0], high, h[1], 0.0)
    time = 0.0
    while now.high_pressure - now.low_pressure > left:
        now = advance_standstill(
            StandstillStep(
                *(table, machine.expansion, machine.shell, sides, CAPACITIES),
                *(now, cold + warm, STEP, 0.0),
            )
        )
        time += STEP
    mean = 0.5 * (high + now.high_pressure)
    _t, v, _s, _cp, mu, _k, _x = full_state(table, mean, float(enthalpy_vapour(table, mean, room)))
    tube = machine.expansion
    assert isinstance(tube, CapillaryParameters)
    other = gas_time(
        high,
        low,
        sides.high_volume,
        sides.low_volume,
        mean * v,
        mu,
        tube.bore,
        tube.length,
        tube.roughness,
        left,
    )
    assert time == pytest.approx(other, rel=0.15)


@pytest.mark.parametrize("name", ["seed-store", "timber-store", "boat-shed"])
def test_a_stop_comes_equal_within_the_drawn_times(name: str) -> None:
    job = read_job(EXAMPLES / f"{name}.toml")
    build = build_for(job, compressor=0, refrigerant=job.refrigerants[0], capillary=0)
    settled = build.solve(filled(superheat=job.targets.superheat), near=build.designed)
    drawn = equalising_times(*sides_at_stop(build, settled), left=EQUAL_ENOUGH)
    times = []
    for fan in (False, True):
        run = Transient(build.refrigerant.table, build.line, build.machine, settled, CAPACITIES)
        run.stop(fan=fan)
        now = run.snapshot
        while now.discharge_pressure - now.suction_pressure > EQUAL_ENOUGH:
            now = run.run(1.0)
        times.append(now.time)
    # A fan that runs on warms the evaporator, which is at the quick end of what was drawn.
    assert np.quantile(drawn, 0.05) < times[0] < np.quantile(drawn, 0.95)
    assert drawn[0] < times[1] < drawn[-1]

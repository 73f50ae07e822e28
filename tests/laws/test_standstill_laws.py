"""A machine that stops, stands and starts again: masses, energy, rest and the way back."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import pytest
from tests.dehumidifiers import MOVED

from sweatline.air.saturation_line import SaturationLine
from sweatline.errors import SolveError
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.machine.circuit import MachineParameters
from sweatline.machine.standstill import (
    Sides,
    StandstillState,
    StandstillStep,
    advance_standstill,
    shell_gas,
    sides_of,
)
from sweatline.machine.transient import Transient
from sweatline.machine.transient_step import HeatCapacities
from sweatline.parts.shell import ShellParameters
from sweatline.refrigerant.table import Table, bubble_pressure, dew_pressure, saturation, state

CAPACITIES = HeatCapacities(shell=5000.0, evaporator=900.0, condenser=1200.0, liquid_lag=10.0)
NO_SHELL = ShellParameters(0.0, 0.0, 4.5, 0.3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A machine, solved with its evaporator filled."""

    table: Table
    line: SaturationLine
    machine: MachineParameters
    full: SteadyState

    def moving(self, start: SteadyState | None = None) -> Transient:
        return Transient(self.table, self.line, self.machine, start or self.full, CAPACITIES)


@pytest.fixture(scope="module", params=MOVED, ids=lambda m: m.refrigerant)
def unit(request: pytest.FixtureRequest) -> Unit:
    table, line, machine = request.param.build()
    balance = solve(table, line, machine, filled(superheat=5.0))
    return Unit(table=table, line=line, machine=machine, full=balance)


def stood(run: Transient) -> tuple[StandstillState, Sides]:
    assert run._standing is not None
    assert run._sides is not None
    return run._standing, run._sides


def held(unit: Unit, standing: StandstillState, sides: Sides) -> tuple[float, float]:
    """What both sides hold, added up from pressures and temperatures. [kg]"""
    low = sides.low_volume / state(unit.table, standing.low_pressure, standing.low_enthalpy)[1]
    high = sides.high_volume / state(unit.table, standing.high_pressure, standing.high_enthalpy)[1]
    pressure = standing.high_pressure if sides.shell_high else standing.low_pressure
    shell = standing.oil + shell_gas(unit.table, unit.machine.shell, pressure, standing.shell)
    return (low, high + shell) if sides.shell_high else (low + shell, high)


@pytest.mark.parametrize("fan", [False, True])
def test_ten_minutes_off_and_it_comes_back_to_its_balance(unit: Unit, fan: bool) -> None:
    balance = unit.full
    run = unit.moving()
    run.run(10.0)
    run.stop(fan=fan)
    assert not run.running
    off = run.run(600.0)
    assert off.power == off.compressor_flow == 0.0
    # The low side has come up, the condenser down, and most of the charge lies in the colder coil.
    assert off.discharge_pressure < balance.discharge_pressure
    assert off.suction_pressure > balance.suction_pressure
    run.start()
    assert run.running
    begun = run.run(1.0, step=0.5)
    assert begun.discharge_pressure - begun.suction_pressure < 0.6 * (
        balance.discharge_pressure - balance.suction_pressure
    )
    settled = run.run(4.0 * 3600.0, step=5.0)
    assert settled.charge == balance.charge
    assert settled.suction_pressure == pytest.approx(balance.suction_pressure, rel=1e-4)
    assert settled.discharge_pressure == pytest.approx(balance.discharge_pressure, rel=1e-4)
    assert settled.power == pytest.approx(balance.compressor_power, rel=1e-4)
    assert settled.superheat == pytest.approx(5.0, abs=0.05)


def test_mass_closes_while_it_stands_and_across_the_start(unit: Unit) -> None:
    run = unit.moving()
    charge = run.charge
    run.stop()
    low = run.snapshot.low_side
    for _ in range(120):
        now = run.run(2.0)
        assert now.low_side - low == pytest.approx(2.0 * now.metering_flow, abs=1e-15)
        low = now.low_side
        parts = held(unit, *stood(run))
        assert parts[0] == pytest.approx(low, abs=1e-8 * charge)
        assert math.fsum(parts) == pytest.approx(charge, rel=1e-8)
    run.start()
    now = run.run(1.0, step=1.0)
    assert now.charge == charge
    assert now.low_side - low == pytest.approx(now.metering_flow - now.compressor_flow, abs=1e-9)


def test_sides_come_equal_and_no_vapour_is_made_of_nothing(unit: Unit) -> None:
    run = unit.moving()
    run.stop()
    gaps = []
    for _ in range(60):
        now = run.run(10.0)
        gaps.append(now.discharge_pressure - now.suction_pressure)
    assert all(b < a + 600.0 for a, b in pairwise(gaps))
    assert abs(gaps[-1]) < 0.03e5
    assert gaps[0] > 0.5e5


def test_after_a_long_time_it_has_the_pressure_of_its_liquid_in_the_room(unit: Unit) -> None:
    run = unit.moving()
    room = unit.machine.air.ambient
    run.stop(fan=True)
    run.run(4.0 * 3600.0, step=30.0)
    standing, _sides = stood(run)
    cold = state(unit.table, standing.low_pressure, standing.low_enthalpy)
    warm = state(unit.table, standing.high_pressure, standing.high_enthalpy)
    assert cold[0] == pytest.approx(room, abs=0.02)
    assert warm[0] == pytest.approx(room, abs=0.02)
    liquid = [x < 1.0 for x in (cold[3], warm[3])]
    assert any(liquid)
    low, high = dew_pressure(unit.table, room), bubble_pressure(unit.table, room)
    for pressure in (standing.low_pressure, standing.high_pressure):
        assert 0.999 * low < pressure < 1.001 * high
    assert standing.low_pressure == pytest.approx(standing.high_pressure, rel=1e-3)


def test_a_poor_charge_leaves_gas_alone_below_saturation() -> None:
    table, line, machine = MOVED[0].build()
    machine = machine._replace(shell=ShellParameters(4e-3, 0.3e-3, 4.5, 0.3))
    full = solve(table, line, machine, filled(superheat=5.0))
    poor = solve(table, line, machine, fixed_charge(0.35 * full.charge), near=full)
    run = Transient(table, line, machine, poor, CAPACITIES)
    run.stop(fan=True)
    run.run(4 * 3600.0, step=30.0)
    standing, _sides = stood(run)
    room = machine.air.ambient
    assert standing.low_pressure < 0.97 * dew_pressure(table, room)
    for p, h in (
        (standing.low_pressure, standing.low_enthalpy),
        (standing.high_pressure, standing.high_enthalpy),
    ):
        assert state(table, p, h)[3] > 1.0


def test_energy_stays_when_no_air_and_no_shell_takes_any(unit: Unit) -> None:
    machine = unit.machine._replace(shell=NO_SHELL)
    sides = sides_of(machine, fan=False)._replace(
        evaporator_conductance=0.0, condenser_conductance=0.0
    )
    balance = unit.full
    low, high = balance.suction_pressure, balance.discharge_pressure
    hl, hg = saturation(unit.table, low)[2:4]
    cold = float(hl + 0.4 * (hg - hl))
    hl, hg = saturation(unit.table, high)[2:4]
    warm = float(hl + 0.05 * (hg - hl))
    volumes = [
        sides.low_volume / state(unit.table, low, cold)[1],
        sides.high_volume / state(unit.table, high, warm)[1],
    ]
    charge = float(sum(volumes))
    now = StandstillState(float(volumes[0]), 0.0, 300.0, low, cold, high, warm, 0.0)

    def energy(s: StandstillState) -> float:
        total = 0.0
        for p, h, volume, metal in (
            (s.low_pressure, s.low_enthalpy, sides.low_volume, CAPACITIES.evaporator),
            (s.high_pressure, s.high_enthalpy, sides.high_volume, CAPACITIES.condenser),
        ):
            t, v, _s, _x = state(unit.table, p, h)
            total += volume / v * h - p * volume + metal * t
        return float(total)

    begin = energy(now)
    for _ in range(150):
        now = advance_standstill(
            StandstillStep(
                unit.table,
                machine.expansion,
                machine.shell,
                sides,
                CAPACITIES,
                now,
                charge,
                2.0,
                0.0,
            )
        )
        assert energy(now) == pytest.approx(begin, abs=0.05)  # of 700 kJ
    assert now.low > float(volumes[0])
    assert now.high_pressure - now.low_pressure < 0.3 * (high - low)


def test_vapour_let_into_a_standing_machine_raises_it(unit: Unit) -> None:
    ends = []
    for added in (0.0, 0.01):
        run = unit.moving()
        run.stop()
        run.run(60.0)
        run.add(added)
        ends.append(run.run(60.0))
    assert ends[1].charge == pytest.approx(ends[0].charge + 0.01)
    assert ends[1].suction_pressure > ends[0].suction_pressure
    assert ends[1].shell_temperature == pytest.approx(ends[0].shell_temperature)


def test_more_than_fits_as_liquid_is_said() -> None:
    table, line, machine = MOVED[0].build()
    full = solve(table, line, machine, filled(superheat=5.0))
    run = Transient(table, line, machine, full, CAPACITIES)
    run.stop()
    run.add(2.0, rate=0.05)
    with pytest.raises(SolveError, match="holds more than fits into it as liquid"):
        run.run(120.0)
    assert run.snapshot.charge < full.charge + 1.0  # what was seen last still stands


@pytest.mark.parametrize("rate", [0.2e-3, 5e-3])
def test_vapour_added_slowly_or_quickly_ends_in_one_rest(unit: Unit, rate: float) -> None:
    start = solve(
        unit.table, unit.line, unit.machine, fixed_charge(0.8 * unit.full.charge), near=unit.full
    )
    run = unit.moving(start)
    run.add(unit.full.charge - start.charge, rate=rate)
    settled = run.run(5.0 * 3600.0, step=5.0)
    assert settled.charge == pytest.approx(unit.full.charge)
    assert settled.suction_pressure == pytest.approx(unit.full.suction_pressure, rel=1e-4)
    assert settled.discharge_pressure == pytest.approx(unit.full.discharge_pressure, rel=1e-4)


def test_overcharged_machine_comes_back_to_a_wet_balance(unit: Unit) -> None:
    """The bound on liquid after a start has gone when it rests."""
    charge = fixed_charge(1.5 * unit.full.charge)
    wet = solve(unit.table, unit.line, unit.machine, charge, near=unit.full)
    assert wet.suction_quality < 0.995
    run = unit.moving(wet)
    run.stop(fan=True)
    run.run(300.0)
    run.start()
    settled = run.run(5.0 * 3600.0, step=5.0)
    assert settled.suction_pressure == pytest.approx(wet.suction_pressure, rel=1e-4)
    assert settled.discharge_pressure == pytest.approx(wet.discharge_pressure, rel=1e-4)

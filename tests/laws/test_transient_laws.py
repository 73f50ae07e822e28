"""A machine that moves: it comes to rest at its balance, and keeps its mass on the way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from tests.dehumidifiers import MOVED

from sweatline.air.saturation_line import SaturationLine
from sweatline.errors import SolveError
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve, subcooled
from sweatline.machine.circuit import MachineParameters
from sweatline.machine.transient import Snapshot, Transient
from sweatline.machine.transient_step import HeatCapacities
from sweatline.parts.valves import thermostatic_valve
from sweatline.refrigerant.table import Table

CAPACITIES = HeatCapacities(shell=5000.0, evaporator=900.0, condenser=1200.0, liquid_lag=10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A machine, solved with its evaporator filled."""

    table: Table
    line: SaturationLine
    machine: MachineParameters
    full: SteadyState

    def at(self, share: float) -> SteadyState:
        """Steady state at a share of the full charge."""
        target = fixed_charge(share * self.full.charge)
        return solve(self.table, self.line, self.machine, target, near=self.full)

    def moving(self, start: SteadyState, capacities: HeatCapacities = CAPACITIES) -> Transient:
        return Transient(self.table, self.line, self.machine, start, capacities)


@pytest.fixture(scope="module", params=MOVED, ids=lambda m: m.refrigerant)
def unit(request: pytest.FixtureRequest) -> Unit:
    table, line, machine = request.param.build()
    balance = solve(table, line, machine, filled(superheat=5.0))
    return Unit(table=table, line=line, machine=machine, full=balance)


def same(snapshot: Snapshot, balance: SteadyState, rel: float) -> None:
    assert snapshot.suction_pressure == pytest.approx(balance.suction_pressure, rel=rel)
    assert snapshot.discharge_pressure == pytest.approx(balance.discharge_pressure, rel=rel)
    assert snapshot.power == pytest.approx(balance.compressor_power, rel=rel)
    assert snapshot.compressor_flow == pytest.approx(balance.flow, rel=rel)
    assert snapshot.water == pytest.approx(balance.water, rel=10.0 * rel)


def test_balance_stays_where_it_is(unit: Unit) -> None:
    balance = unit.full
    run = unit.moving(balance)
    same(run.snapshot, balance, 1e-7)
    same(run.run(600.0, step=5.0), balance, 1e-6)


def test_it_comes_to_rest_at_the_balance_of_its_charge(unit: Unit) -> None:
    balance = unit.full
    run = unit.moving(unit.at(0.85))
    for _ in range(5):
        run.add(0.03 * balance.charge)
        run.run(20.0)
    assert run.charge == pytest.approx(balance.charge)
    unsettled = run.snapshot
    assert unsettled.metering_flow != pytest.approx(unsettled.compressor_flow, rel=1e-3)
    run.run(4 * 3600.0, step=10.0)
    same(run.snapshot, balance, 1e-4)
    assert run.snapshot.superheat == pytest.approx(5.0, abs=0.05)


def test_mass_goes_only_where_it_flows(unit: Unit) -> None:
    balance = unit.full
    run = unit.moving(unit.at(0.9))
    run.add(0.05 * balance.charge)
    charge = run.charge
    for _ in range(60):
        before = run.snapshot.low_side if run.time > 0.0 else None
        now = run.run(2.0)
        if before is not None:
            gathered = 2.0 * (now.metering_flow - now.compressor_flow) + now.charge - charge
            assert now.low_side - before == pytest.approx(gathered, abs=1e-12)
        charge = now.charge
    assert now.charge == pytest.approx(0.95 * balance.charge)


def test_half_the_step_tells_the_same(unit: Unit) -> None:
    balance = unit.full
    ends = []
    for step in (2.0, 1.0, 0.5):
        run = unit.moving(unit.at(0.9))
        run.add(0.05 * balance.charge)
        ends.append([run.run(12.0, step=step).suction_pressure for _ in range(10)])
    rough, finer, finest = np.array(ends)
    assert np.abs(finer - finest).sum() < np.abs(rough - finer).sum()
    assert finest == pytest.approx(finer, rel=0.01)


def test_heavy_shell_is_slow(unit: Unit) -> None:
    balance = unit.full
    start = unit.at(0.7)
    warmth = []
    for heavy in (2000.0, 20000.0):
        run = unit.moving(start, CAPACITIES._replace(shell=heavy))
        run.add(0.3 * balance.charge)
        before = run.snapshot.shell_temperature
        warmth.append(run.run(150.0).shell_temperature - before)
    assert abs(warmth[1]) < 0.5 * abs(warmth[0])


def test_emptied_machine_says_so(unit: Unit) -> None:
    balance = unit.full
    run = unit.moving(balance)
    run.add(-0.98 * balance.charge, rate=20e-3)
    with pytest.raises(
        SolveError, match=r"holds more or less than any pressure accounts for|pumped empty"
    ):
        run.run(600.0)
    assert np.isfinite(run.snapshot.suction_pressure)


def test_machine_with_an_expansion_valve_rests_at_its_balance_too() -> None:
    table, line, machine = MOVED[0].build()
    valve = thermostatic_valve(
        table, area=1.5e-6, static_superheat=4.0, opening_superheat=5.0, external=True
    )
    machine = machine._replace(expansion=valve)
    start = solve(table, line, machine, subcooled(subcooling=5.0))
    run = Transient(table, line, machine, start, CAPACITIES)
    same(run.run(600.0, step=5.0), start, 1e-6)
    run.add(0.03 * start.charge)
    end = solve(table, line, machine, fixed_charge(1.03 * start.charge), near=start)
    settled = run.run(3600.0, step=5.0)
    same(settled, end, 1e-4)
    assert settled.superheat == pytest.approx(end.superheat, abs=0.01)
    # The valve holds its superheat; what was added is found before it.
    assert settled.superheat == pytest.approx(start.superheat, abs=0.2)
    assert settled.subcooling > start.subcooling + 0.5


def test_short_pieces_of_time_tell_the_same(unit: Unit) -> None:
    ends = []
    for piece in (0.03, 1.0):
        run = unit.moving(unit.at(0.9))
        run.add(0.05 * unit.full.charge)
        while run.time < 12.0 - 1e-9:
            run.run(piece, step=1.0)
        ends.append(run.snapshot)
    assert ends[1].suction_pressure == pytest.approx(ends[0].suction_pressure, rel=0.01)
    assert ends[1].charge == pytest.approx(ends[0].charge)

"""Faults: a machine rests at the balance of its faulted numbers; instruments move readings only."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from sweatline.assembly.build import Build, build_for
from sweatline.diagnosis.faults import ANY, FAULTS, Fault, fault_of, faulted
from sweatline.errors import JobError
from sweatline.job.reading import read_job
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.refrigerant.table import bubble_pressure, saturation
from sweatline.training.simulated_machine import SimulatedMachine, simulated_machine

SEED = Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml"
OF_MACHINE = (
    "little-air",
    "fouled-condenser",
    "fouled-evaporator",
    "restriction",
    "non-condensable",
    "worn-valves",
)


@cache
def bench() -> tuple[Build, SteadyState]:
    job = read_job(SEED)
    build = build_for(job, compressor=2, refrigerant="R-134a", capillary=1)
    return build, build.solve(filled(superheat=5.0), near=build.designed)


def hidden(key: str, seed: int = 3) -> SimulatedMachine:
    build, full = bench()
    return simulated_machine(
        build, full, seed, fault=fault_of(key, seed, full.charge) if key else None
    )


def at_rest(machine: SimulatedMachine) -> SteadyState:
    run = machine.run
    return solve(run.table, run.line, run.machine, fixed_charge(run.charge), near=machine.start)


@pytest.mark.parametrize("key", OF_MACHINE)
def test_faulted_machine_rests_at_the_balance_of_its_numbers(key: str) -> None:
    machine = hidden(key)
    machine.run.add(0.2 * machine.start.charge)
    machine.run.run(60.0)
    snapshot = machine.run.run(4 * 3600.0, step=10.0)
    balance = at_rest(machine)
    assert snapshot.suction_pressure == pytest.approx(balance.suction_pressure, rel=1e-4)
    assert snapshot.discharge_pressure == pytest.approx(balance.discharge_pressure, rel=1e-4)
    assert snapshot.compressor_flow == pytest.approx(balance.flow, rel=1e-4)
    assert snapshot.power == pytest.approx(balance.compressor_power, rel=1e-4)
    assert snapshot.subcooling == pytest.approx(balance.subcooling, abs=0.02)
    # And that is not the balance of the machine without its fault.
    well = hidden("")
    healthy = solve(
        well.run.table,
        well.run.line,
        well.run.machine,
        fixed_charge(machine.run.charge),
        near=well.full,
    )
    assert abs(balance.suction_pressure / healthy.suction_pressure - 1.0) > 0.01


@pytest.mark.parametrize("key", [*FAULTS, ""])
def test_the_same_seed_is_the_same_machine(key: str) -> None:
    assert hidden(key).full.charge == hidden("").full.charge
    assert hidden(key).run.capacities == hidden("").run.capacities


def test_a_leak_takes_what_it_says() -> None:
    machine = hidden("leak")
    assert machine.fault is not None
    before = machine.run.charge
    machine.wait(600.0)
    gone = 10.0 * machine.fault.size
    assert machine.lost == pytest.approx(gone)
    assert machine.run.charge == pytest.approx(before - gone, rel=1e-9)
    # Dosed meanwhile, the books still close.
    machine.add(0.02)
    machine.wait(120.0)
    put_in = machine.run.charge - before + machine.lost
    assert put_in == pytest.approx(0.02, rel=0.25)
    assert machine.lost == pytest.approx(12.0 * machine.fault.size)


@pytest.mark.parametrize("key", ["gauge", "thermometer"])
def test_an_instrument_moves_its_reading_and_nothing_else(key: str) -> None:
    wrong, right = hidden(key), hidden("")
    for machine in (wrong, right):
        machine.add(0.35 * machine.best)
        machine.wait(180.0)
    assert wrong.run.snapshot == right.run.snapshot
    seen, true = wrong.read_all(), right.read_all()
    fault = wrong.fault
    assert fault is not None
    for name, value in true.items():
        if name != fault.place:
            assert seen[name] == value
        elif key == "gauge":
            assert seen[name] - value == pytest.approx(fault.size)
        else:
            ambient = wrong.run.machine.air.ambient
            assert seen[name] == pytest.approx(value + fault.size * (ambient - value))
            assert abs(seen[name] - value) > 1.0


def test_non_condensable_gas_adds_to_the_head_and_to_apparent_subcooling() -> None:
    build, full = bench()
    # Enough is in that the refrigerant is all liquid at its own pressure too, and so little that
    # the suction stays dry: a wet one cools the oil, which takes the liquid up.
    near = build.solve(fixed_charge(0.9 * full.charge), near=full)
    before = near
    for pressure in (0.3e5, 0.6e5, 1.0e5):
        machine = build.machine._replace(non_condensable_pressure=pressure)
        found = solve(
            build.refrigerant.table, build.line, machine, fixed_charge(near.charge), near=before
        )
        assert found.discharge_pressure > before.discharge_pressure
        assert found.subcooling > before.subcooling
        assert found.compressor_power > before.compressor_power
        # The refrigerant itself condenses at what is left, and the books close at that.
        own = float(saturation(build.refrigerant.table, found.liquid_pressure - pressure)[0])
        apparent = float(saturation(build.refrigerant.table, found.liquid_pressure)[0])
        assert found.liquid_temperature <= own + 0.01
        assert found.subcooling == pytest.approx(apparent - found.liquid_temperature, abs=1e-6)
        assert apparent - own > 1.0
        assert found.charge_by_place.total == pytest.approx(near.charge, rel=1e-7)
        before = found


def test_part_of_the_gas_is_made_good_by_the_flow() -> None:
    """The higher head drives more through the capillary."""
    build, full = bench()
    near = build.solve(fixed_charge(1.1 * full.charge), near=full)
    machine = build.machine._replace(non_condensable_pressure=1.0e5)
    target = fixed_charge(near.charge)
    found = solve(build.refrigerant.table, build.line, machine, target, near=near)
    assert found.discharge_pressure - near.discharge_pressure < 1.0e5


def test_non_condensable_gas_stands_above_saturation_at_rest() -> None:
    """What a standing-pressure check looks for (common practice)."""
    excess = []
    for key in ("", "non-condensable"):
        machine = hidden(key)
        machine.add(0.5 * machine.best)
        machine.wait(120.0)
        machine.switch(on=False)
        for _ in range(12):
            machine.wait(600.0)
        table = machine.build.refrigerant.table
        saturated = float(bubble_pressure(table, machine.run.machine.air.ambient))
        shown = machine.read()
        true = {n: shown[f"{n} gauge"] - machine.offsets[f"{n} gauge"] for n in ("suction", "head")}
        excess.append(true["suction"] - saturated)
        assert true["head"] == pytest.approx(true["suction"], abs=0.1e5)
    fault = machine.fault
    assert fault is not None
    assert abs(excess[0]) < 0.1e5
    spread = fault.size * machine.build.job.place.atmospheric_pressure
    assert excess[1] - excess[0] == pytest.approx(spread, abs=0.1e5)


def test_worn_valves_pump_less_for_the_work() -> None:
    build, full = bench()
    fault = Fault(kind=FAULTS["worn-valves"], size=0.7)
    worn = faulted(build.machine, fault, build)
    found = solve(build.refrigerant.table, build.line, worn, fixed_charge(full.charge), near=full)
    assert found.suction_pressure > full.suction_pressure
    assert found.discharge_pressure < full.discharge_pressure
    assert found.cooling / found.compressor_power < full.cooling / full.compressor_power


def test_sizes_stay_between_their_ends_and_any_is_any() -> None:
    told: dict[str, int] = {}
    for seed in range(300):
        found = fault_of(ANY, seed, 0.25)
        key = "none" if found is None else found.kind.key
        told[key] = told.get(key, 0) + 1
        assert found == fault_of(ANY, seed, 0.25)
        if found is None:
            continue
        reach = {"leak": 0.25, "gauge": 3.0}.get(key, 1.0)
        assert abs(found.size) <= found.kind.sizes[1] * reach
        assert abs(found.size) >= found.kind.sizes[0] * min(reach, 1.0)
        assert bool(found.place) == (not found.kind.of_machine)
    assert set(told) == {*FAULTS, "none"}
    # Ten kinds of equal chance: 30 each, within four standard deviations.
    assert np.abs(np.array(list(told.values())) - 30).max() < 4 * np.sqrt(30 * 0.9)


@pytest.mark.parametrize("key", ["fouled-condenser", "fouled-evaporator"])
def test_a_coil_with_circuits_of_its_own_can_be_fouled(key: str) -> None:
    job = replace(read_job(SEED), coils="tube by tube")
    build = build_for(job, compressor=2, refrigerant="R-134a", capillary=1)
    fault = fault_of(key, 3, 0.25)
    assert fault is not None
    which = key.removeprefix("fouled-")
    before, after = (
        getattr(m, which) for m in (build.machine, faulted(build.machine, fault, build))
    )
    assert after.air_multiplier == pytest.approx(fault.size * before.air_multiplier)


def test_no_such_fault() -> None:
    with pytest.raises(JobError, match="no fault of that name"):
        fault_of("gremlins", 1, 0.25)

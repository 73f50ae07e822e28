"""What must hold for a whole machine: balances, ways to the same state, directions, continuity."""

from __future__ import annotations

import dataclasses
import functools
import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from tests.dehumidifiers import PRESSURE, Dehumidifier

from sweatline.air.moist import (
    enthalpy,
    humidity_ratio,
    moist_heat_capacity,
    specific_volume,
    temperature,
)
from sweatline.air.saturation_line import SaturationLine, saturation_line
from sweatline.errors import SolveError
from sweatline.machine.balance import (
    BY_CHARGE,
    SteadyState,
    Target,
    design,
    filled,
    fixed_charge,
    solve,
)
from sweatline.machine.capillary_cut import cut_for
from sweatline.machine.charge_curve import events, sweep_charge
from sweatline.machine.circuit import AFTER, BEFORE, BETWEEN, SEPARATE, MachineParameters
from sweatline.machine.room_map import in_room, map_rooms
from sweatline.parts.capillary_flow import length_for
from sweatline.parts.compressor import compress
from sweatline.parts.shell import accumulator_charge, shell_charge, tube_charge
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    dew_pressure,
    enthalpy_liquid,
    saturation,
    state,
)

WATER_HEAT = 4186.0  # J/(kg*K), liquid water
BUILDS = {
    "R-134a": Dehumidifier(
        refrigerant="R-134a",
        displacement=9e-6,
        temperature=299.15,
        relative_humidity=0.60,
        airflow=0.09,
        capillary_length=0.30,
        capillary_bore=1.2e-3,
        cells=6,
    ),
    "R-152a": Dehumidifier(
        refrigerant="R-152a",
        displacement=10e-6,
        temperature=294.15,
        relative_humidity=0.65,
        airflow=0.08,
        capillary_length=0.40,
        cells=6,
    ),
    "R-290": Dehumidifier(
        refrigerant="R-290",
        displacement=6e-6,
        temperature=299.15,
        relative_humidity=0.55,
        airflow=0.09,
        capillary_length=0.70,
        cells=6,
    ),
    "R-454C": Dehumidifier(
        refrigerant="R-454C",
        displacement=6e-6,
        kind="rotary",
        temperature=299.15,
        relative_humidity=0.60,
        airflow=0.09,
        capillary_length=0.35,
        cells=6,
    ),
}
every_machine = pytest.mark.parametrize("name", BUILDS)
Parts = tuple[Table, SaturationLine, MachineParameters]


@functools.cache
def parts(name: str) -> Parts:
    return BUILDS[name].build()


@functools.cache
def full(name: str) -> SteadyState:
    return solve(*parts(name), filled(superheat=5.0))


def balanced(name: str, target: Target) -> SteadyState:
    return solve(*parts(name), target, near=full(name))


def targets(name: str) -> dict[str, Target]:
    charge = full(name).charge
    return {
        "design": design(superheat=5.0, subcooling=5.0),
        "no superheat, flash gas": design(superheat=0.0, subcooling=-0.05),
        "filled": filled(superheat=8.0),
        "fixed": fixed_charge(charge),
        "short": fixed_charge(0.7 * charge),
        "over": fixed_charge(1.25 * charge),
    }


KINDS = ("design", "no superheat, flash gas", "filled", "fixed", "short", "over")


def pressure_change(a: SteadyState, b: SteadyState) -> float:
    """Largest relative difference of the four unknowns."""
    logs = [abs(math.expm1(x - y)) for x, y in zip(a.unknowns[:3], b.unknowns[:3], strict=True)]
    return max(*logs, abs(a.unknowns[3] - b.unknowns[3]) / 2e4)


@every_machine
@pytest.mark.parametrize("kind", KINDS)
def test_energy_and_mass_close(name: str, kind: str) -> None:
    table, line, machine = parts(name)
    target = targets(name)[kind]
    b = solve(table, line, machine, target, near=full(name), profiles=True)
    assert b.cooling + b.compressor_power - b.shell_heat == pytest.approx(b.heating, rel=1e-6)
    assert math.fsum(b.charge_by_place) == pytest.approx(b.charge, rel=1e-12)
    assert min(b.charge_by_place) >= 0.0
    # The compressor pumps this flow from the suction it sees.
    suction = b.suction_pressure
    quality_hl, quality_hg = saturation(table, suction)[2:4]
    h_out = quality_hl + b.suction_quality * (quality_hg - quality_hl)
    flow, power, _h2, _h2s = compress(
        table, machine.compressor, suction, h_out, math.exp(b.unknowns[1])
    )
    assert flow == pytest.approx(b.flow, rel=1e-6)
    assert power == pytest.approx(b.compressor_power, rel=1e-6)
    assert b.cooling == pytest.approx(b.flow * (h_out - b.unknowns[3]), rel=1e-6)
    if target.with_expansion:
        assert b.metered_flow == pytest.approx(b.flow, rel=1e-6)
    if target.charged == BY_CHARGE:
        assert b.charge == pytest.approx(target.charge, rel=1e-6)
    if kind == "design":
        assert b.superheat == pytest.approx(5.0, abs=1e-3)
        assert b.subcooling == pytest.approx(5.0, abs=1e-3)
    if kind == "no superheat, flash gas":
        assert b.suction_quality == pytest.approx(1.0, abs=1e-6)
        assert b.liquid_quality == pytest.approx(0.05, abs=1e-6)
    assert b.residual < 1e-7


@every_machine
@pytest.mark.parametrize("kind", ["filled", "short", "over"])
def test_room_air_gains_the_electricity_and_the_heat_of_the_water(name: str, kind: str) -> None:
    """Over the whole machine: air gains compressor and fan power, less shell loss, and gives up
    the enthalpy of the condensate, which leaves no warmer than the room's dew point."""
    table, line, machine = parts(name)
    b = solve(table, line, machine, targets(name)[kind], near=full(name), profiles=True)
    air = machine.air
    gain = air.flow * (enthalpy(*b.air_out) - enthalpy(air.temperature, air.humidity))
    electric = b.total_power - b.shell_heat
    condensate = gain - electric  # negative: what the water carries off
    assert -condensate >= b.water * WATER_HEAT * (b.coil_temperature - 273.15) - 1e-4 * electric
    assert -condensate <= b.water * WATER_HEAT * 25.0 + 1e-4 * electric
    assert b.water == pytest.approx(air.flow * (air.humidity - b.air_out[1]), rel=1e-9)


@every_machine
def test_design_then_cut_then_charge_is_the_same_state(name: str) -> None:
    """Free capillary and charge; the tube cut to suit; filled, and charged by weight."""
    table, line, machine = parts(name)
    wanted = solve(table, line, machine, design(superheat=5.0, subcooling=5.0))
    cut = length_for(
        table,
        bore=machine.expansion.bore,
        mass_flow=wanted.flow,
        inlet_pressure=wanted.liquid_pressure,
        inlet_enthalpy=wanted.unknowns[3],
        outlet_pressure=wanted.evaporating_pressure,
    )
    fitted = machine._replace(expansion=machine.expansion._replace(length=cut.length))
    by_superheat = solve(table, line, fitted, filled(superheat=5.0))
    by_weight = solve(table, line, fitted, fixed_charge(wanted.charge))
    assert pressure_change(by_superheat, wanted) < 1e-6
    assert pressure_change(by_weight, wanted) < 1e-6
    assert by_superheat.charge == pytest.approx(wanted.charge, rel=1e-6)
    metered = cut_for(table, wanted, bore=machine.expansion.bore, bore_sd=0.02e-3)
    assert metered.length == pytest.approx(cut.length, rel=1e-9)
    assert metered.shortest < metered.length < metered.start_length


@every_machine
@pytest.mark.parametrize("share", [0.75, 1.0, 1.2])
def test_start_does_not_matter(name: str, share: float) -> None:
    """From the design state, from a neighbour, from a bad guess: one state."""
    table, line, machine = parts(name)
    target = fixed_charge(share * full(name).charge)
    cold = solve(table, line, machine, target)
    warm = solve(table, line, machine, target, near=full(name))
    assert pressure_change(cold, warm) < 1e-6
    for sign in (-1.0, 1.0):
        guess = np.array(cold.unknowns) + sign * np.array([0.15, -0.12, 0.2, 8e3])
        far = solve(table, line, machine, target, guess=guess)
        assert pressure_change(far, cold) < 1e-6
    # and the same numbers every time
    again = solve(table, line, machine, target)
    assert again.unknowns == cold.unknowns


@functools.cache
def curve(name: str) -> tuple[SteadyState, ...]:
    table, line, machine = parts(name)
    around = full(name)
    found = [around, *sweep_charge(table, line, machine, around, low=0.5, high=1.5, step=0.02)]
    return tuple(sorted(found, key=lambda b: b.charge))


@every_machine
def test_directions_along_the_charge(name: str) -> None:
    """More charge: wetter suction, more liquid before the tube, more flow, colder discharge gas."""
    c = curve(name)
    assert len(c) >= 50
    assert c[0].charge == pytest.approx(0.5 * full(name).charge, rel=1e-6)
    assert c[-1].charge == pytest.approx(1.5 * full(name).charge, rel=1e-6)
    for a, b in pairwise(c):
        assert b.suction_quality < a.suction_quality
        assert b.liquid_quality < a.liquid_quality
        assert b.superheat <= a.superheat
        assert b.subcooling >= a.subcooling
        assert b.flow > a.flow
        assert b.charge_by_place.condenser > a.charge_by_place.condenser
    # Up to the filled evaporator suction and head rise; how they go on beyond is not a law.
    filling = [b for b in c if b.superheat > 5.0]
    for a, b in pairwise(filling):
        assert b.suction_pressure > a.suction_pressure
        assert b.discharge_pressure > a.discharge_pressure
        assert b.cooling > a.cooling


@every_machine
def test_charge_curve_has_no_steps(name: str) -> None:
    """No step of a fiftieth of the charge stands out from its neighbours."""
    c = curve(name)
    charges = np.array([b.charge for b in c])
    for of in (
        "suction_pressure",
        "discharge_pressure",
        "suction_quality",
        "liquid_quality",
        "flow",
        "compressor_power",
        "cooling",
        "water",
    ):
        values = np.array([getattr(b, of) for b in c])
        slope = np.abs(np.diff(values) / np.diff(charges))
        beside = np.maximum(np.append(slope[1:], 0.0), np.append(0.0, slope[:-1]))
        steep = slope >= 6.0 * np.ptp(values) / np.ptp(charges)
        assert (slope[steep] < 1.5 * beside[steep]).all(), of


@every_machine
def test_events_come_in_the_order_of_filling(name: str) -> None:
    found = events(list(curve(name)), superheat=5.0, high_limit=None)
    assert [e.charge for e in found] == sorted(e.charge for e in found)
    at: dict[str, float] = {}
    for e in found:
        at.setdefault(e.what, e.charge)
    filled = at["target superheat reached"]
    assert filled == pytest.approx(full(name).charge, rel=2e-3)
    liquid = next(charge for what, charge in at.items() if "before the capillary" in what)
    assert liquid < filled < at["floodback begins"]


def changed_air(name: str, **changes: float) -> SteadyState:
    table, line, machine = parts(name)
    moved = machine._replace(air=machine.air._replace(**changes))
    return solve(table, line, moved, design(superheat=5.0, subcooling=5.0), near=full(name))


@every_machine
def test_directions_in_the_room(name: str) -> None:
    air = parts(name)[2].air
    here = changed_air(name)
    windier = changed_air(name, flow=1.15 * air.flow)
    assert windier.evaporating_temperature > here.evaporating_temperature
    assert windier.discharge_pressure < here.discharge_pressure
    damper = changed_air(name, humidity=1.1 * air.humidity)
    assert damper.water > here.water
    assert damper.evaporating_temperature > here.evaporating_temperature
    warmer = changed_air(name, temperature=air.temperature + 2.0, ambient=air.temperature + 2.0)
    assert warmer.evaporating_temperature > here.evaporating_temperature
    assert warmer.discharge_pressure > here.discharge_pressure


@every_machine
def test_directions_of_the_parts(name: str) -> None:
    table, line, machine = parts(name)
    aim = design(superheat=5.0, subcooling=5.0)

    def changed(**groups: dict[str, float]) -> SteadyState:
        new = {key: getattr(machine, key)._replace(**to) for key, to in groups.items()}
        return solve(table, line, machine._replace(**new), aim, near=full(name))

    here = changed()
    bigger = changed(compressor={"displacement": 1.1 * machine.compressor.displacement})
    assert bigger.evaporating_temperature < here.evaporating_temperature
    assert bigger.compressor_power > here.compressor_power
    assert bigger.cooling > here.cooling
    dirty = changed(condenser={"air_multiplier": 0.7})
    assert dirty.discharge_pressure > here.discharge_pressure
    assert dirty.compressor_power > here.compressor_power
    frosted = changed(evaporator={"air_multiplier": 0.7})
    assert frosted.evaporating_temperature < here.evaporating_temperature
    assert frosted.cooling < here.cooling
    worn = changed(compressor={"filling": 0.9 * machine.compressor.filling})
    assert worn.evaporating_temperature > here.evaporating_temperature
    assert worn.cooling < here.cooling
    longer = machine._replace(
        expansion=machine.expansion._replace(length=1.2 * machine.expansion.length)
    )
    starved = solve(table, line, longer, fixed_charge(full(name).charge), near=full(name))
    assert starved.flow < full(name).flow
    assert starved.superheat > full(name).superheat
    assert starved.suction_pressure < full(name).suction_pressure
    assert starved.subcooling > full(name).subcooling


@pytest.mark.parametrize("name", ["R-152a"])
def test_altitude(name: str) -> None:
    """Thin air of the same volume flow carries less heat: colder coil, higher head."""
    high = 80e3
    table, line, machine = parts(name)
    build = BUILDS[name]
    w = humidity_ratio(build.temperature, build.relative_humidity, high)
    flow = build.airflow / specific_volume(build.temperature, w, high)
    thin = machine._replace(air=machine.air._replace(humidity=w, flow=flow))
    aim = design(superheat=5.0, subcooling=5.0)
    low_down = solve(table, line, machine, aim)
    high_up = solve(table, saturation_line(high), thin, aim)
    assert high_up.discharge_pressure > low_down.discharge_pressure
    assert high_up.air_out[0] > low_down.air_out[0]
    assert high_up.evaporating_temperature < low_down.evaporating_temperature


@every_machine
def test_fan_warms_the_air_where_it_stands(name: str) -> None:
    table, line, machine = parts(name)
    aim = design(superheat=5.0, subcooling=5.0)

    def at(position: int) -> SteadyState:
        moved = machine._replace(air=machine.air._replace(fan_position=position))
        return solve(table, line, moved, aim, near=full(name))

    before, between, after = at(BEFORE), at(BETWEEN), at(AFTER)
    rise = machine.air.fan_power / (machine.air.flow * moist_heat_capacity(machine.air.humidity))
    assert 0.2 < rise < 1.0
    assert before.evaporating_temperature > after.evaporating_temperature
    assert before.evaporating_temperature - after.evaporating_temperature < rise
    assert between.evaporating_pressure != after.evaporating_pressure
    assert between.discharge_pressure > after.discharge_pressure
    no_fan = machine._replace(air=machine.air._replace(fan_power=0.0))
    still = solve(table, line, no_fan, aim, near=full(name))
    # After both coils the fan changes nothing but the outlet.
    assert pressure_change(still, after) < 1e-6
    lift = after.air_out[0] - still.air_out[0]
    assert lift == pytest.approx(
        machine.air.fan_power / (machine.air.flow * moist_heat_capacity(after.air_out[1])),
        rel=1e-6,
    )


def test_condenser_in_its_own_stream() -> None:
    """With the same air for both coils, SEPARATE differs from SERIES only by what dries it."""
    table, line, machine = parts("R-152a")
    aim = design(superheat=5.0, subcooling=5.0)
    series = solve(table, line, machine, aim)
    apart = machine._replace(
        air=machine.air._replace(
            arrangement=SEPARATE,
            condenser_temperature=series.air_between[0],
            condenser_humidity=series.air_between[1],
            condenser_flow=machine.air.flow,
        )
    )
    same = solve(table, line, apart, aim)
    assert pressure_change(same, series) < 1e-6
    hotter = apart._replace(
        air=apart.air._replace(condenser_temperature=series.air_between[0] + 10.0)
    )
    assert solve(table, line, hotter, aim).discharge_pressure > series.discharge_pressure


def test_suction_exchanger() -> None:
    """Heat from the liquid to the gas: warmer gas, drier suction, energy still closed."""
    table, line, machine = parts("R-134a")
    aim = design(superheat=2.0, subcooling=3.0)
    plain = solve(table, line, machine, aim)
    with_one = machine._replace(lines=machine.lines._replace(exchanger_conductance=3.0))
    b = solve(table, line, with_one, aim, near=plain)
    assert b.suction_temperature > plain.suction_temperature + 3.0
    assert b.discharge_temperature > plain.discharge_temperature
    assert b.flow < plain.flow
    assert b.cooling + b.compressor_power - b.shell_heat == pytest.approx(b.heating, rel=1e-6)
    assert b.suction_temperature < b.liquid_temperature


def test_solder_that_comes_late_passes_less() -> None:
    """The same heat, but less of it before the flash point: the tube lets less through."""
    table, line, machine = parts("R-134a")
    soldered = machine._replace(lines=machine.lines._replace(exchanger_conductance=3.0))
    aim = design(superheat=3.0, subcooling=3.0)
    early = solve(table, line, soldered, aim)
    assert early.metering_enthalpy == pytest.approx(early.unknowns[3], abs=1e-6)
    late_one = soldered._replace(lines=soldered.lines._replace(exchanger_ahead=0.4))
    late = solve(table, line, late_one, aim)
    # In design the tube is free: the circuit is the same, and the tube for it is shorter.
    assert late.unknowns == pytest.approx(early.unknowns, rel=1e-6)
    given = late.liquid_pressure
    exchanged = (late.metering_enthalpy - late.unknowns[3]) / 0.6
    assert exchanged > 1e3
    liquid = enthalpy_liquid(table, given, late.liquid_temperature)
    assert late.unknowns[3] + exchanged == pytest.approx(liquid, abs=20.0)
    cuts = [cut_for(table, b, bore=1.1e-3, bore_sd=0.0).length for b in (early, late)]
    assert cuts[1] < cuts[0]
    # With the tube kept, less flow: the evaporator is filled less.
    tube = machine.expansion._replace(length=cuts[0], bore=1.1e-3)
    both = [
        solve(table, line, m._replace(expansion=tube), filled(superheat=3.0))
        for m in (soldered, late_one)
    ]
    assert both[1].subcooling > both[0].subcooling


@functools.cache
def rooms(name: str) -> tuple[tuple[SteadyState, ...], ...]:
    table, line, machine = parts(name)
    found = map_rooms(
        table,
        line,
        machine,
        full(name),
        [291.15, 295.15, 299.15, 303.15],
        [0.4, 0.5, 0.6, 0.7, 0.8],
        PRESSURE,
    )
    assert all(reason == "" for row in found.reasons for reason in row)
    rows = []
    for row in found.balances:
        kept = tuple(b for b in row if b is not None)
        assert len(kept) == len(row)
        rows.append(kept)
    return tuple(rows)


@pytest.mark.parametrize("name", ["R-134a", "R-290"])
def test_directions_over_the_rooms(name: str) -> None:
    """One charge everywhere; damper air gives more water, warmer air a higher head."""
    grid = rooms(name)
    for row in grid:
        for dry, damp in pairwise(row):
            assert damp.water > dry.water
            assert damp.charge == pytest.approx(full(name).charge, rel=1e-6)
            assert damp.coil_temperature > dry.coil_temperature - 0.2
    for column in zip(*grid, strict=True):
        for cool, warm in pairwise(column):
            assert warm.discharge_pressure > cool.discharge_pressure
            assert warm.coil_temperature > cool.coil_temperature
            assert warm.evaporating_temperature > cool.evaporating_temperature


@pytest.mark.parametrize("name", ["R-134a", "R-290"])
def test_room_map_does_not_depend_on_its_path(name: str) -> None:
    """A corner solved on its own is the corner of the map."""
    table, line, machine = parts(name)
    corner = in_room(machine, 303.15, 0.8, PRESSURE)
    alone = solve(table, line, corner, fixed_charge(full(name).charge))
    assert pressure_change(alone, rooms(name)[-1][-1]) < 1e-6
    volume = corner.air.flow * specific_volume(303.15, corner.air.humidity, PRESSURE)
    assert volume == pytest.approx(BUILDS[name].airflow, rel=1e-12)


def along(name: str, to: Callable[[float], MachineParameters], xs: np.ndarray) -> list[SteadyState]:
    table, line, _machine = parts(name)
    found: list[SteadyState] = []
    near = full(name)
    for x in xs:
        near = solve(table, line, to(float(x)), fixed_charge(full(name).charge), near=near)
        found.append(near)
    return found


@pytest.mark.parametrize("name", ["R-134a", "R-290"])
def test_room_humidity_has_no_steps(name: str) -> None:
    """From a dry coil to a wet one at fixed charge: nothing that is solved for jumps."""
    machine = parts(name)[2]
    t = machine.air.temperature
    xs = np.linspace(0.20, 0.80, 61)
    found = along(name, lambda rh: in_room(machine, t, rh, PRESSURE), xs)
    assert found[0].wet_share == 0.0
    assert found[-1].wet_share > 0.5
    names = ("evaporating_pressure", "discharge_pressure", "flow", "compressor_power")
    for of in (*names, "cooling", "water"):
        values = np.array([getattr(b, of) for b in found])
        assert np.abs(np.diff(values)).max() < 6.0 * np.ptp(values) / (len(xs) - 1), of


@pytest.mark.parametrize("name", ["R-152a", "R-290"])
def test_a_hair_of_anything_moves_the_answer_a_hair(name: str) -> None:
    """Change of one part in a hundred thousand: the response is that of one in a thousand."""
    table, line, machine = parts(name)
    # A little over full: with R-152a a cell of the evaporator falls dry just where it is full.
    target = fixed_charge(1.02 * full(name).charge)

    def water_and_pressure(factor: float, group: str, field: str) -> np.ndarray:
        old = getattr(machine, group)
        new = old._replace(**{field: factor * getattr(old, field)})
        b = solve(table, line, machine._replace(**{group: new}), target, near=full(name))
        return np.array([b.evaporating_pressure, b.discharge_pressure, b.flow, b.compressor_power])

    here = water_and_pressure(1.0, "air", "flow")
    for group, field in (
        ("air", "flow"),
        ("air", "humidity"),
        ("expansion", "bore"),
        ("compressor", "displacement"),
        ("evaporator", "air_multiplier"),
        ("condenser", "inner_multiplier"),
        ("shell", "oil_volume"),
    ):
        small = (water_and_pressure(1.0 + 1e-5, group, field) / here - 1.0) / 1e-5
        large = (water_and_pressure(1.0 + 1e-3, group, field) / here - 1.0) / 1e-3
        assert np.abs(small - large).max() < 0.05 * max(np.abs(large).max(), 0.2), field


def test_no_balance_is_said_in_words() -> None:
    table, line, machine = parts("R-134a")
    thread = machine._replace(expansion=machine.expansion._replace(bore=0.25e-3, length=5.0))
    with pytest.raises(SolveError) as caught:
        solve(table, line, thread, filled(superheat=5.0))
    error = caught.value
    assert "capillary" in error.condition
    assert error.tried
    assert set(error.best) >= {"evaporating_pressure_Pa", "discharge_pressure_Pa"}


@pytest.mark.parametrize("cells", [(6, 12), (8, 24)])
def test_cells_of_a_machine(cells: tuple[int, int]) -> None:
    """Eight cells a row are enough: a tenth of a kelvin in the coil, two per cent of the water."""
    coarse, fine = (
        solve(
            *dataclasses.replace(BUILDS["R-134a"], cells=n).build(),
            design(superheat=5.0, subcooling=5.0),
        )
        for n in cells
    )
    assert coarse.evaporating_temperature == pytest.approx(fine.evaporating_temperature, abs=0.15)
    assert coarse.condensing_temperature == pytest.approx(fine.condensing_temperature, abs=0.15)
    assert coarse.water == pytest.approx(fine.water, rel=0.02)
    assert coarse.compressor_power == pytest.approx(fine.compressor_power, rel=0.005)
    assert coarse.charge == pytest.approx(fine.charge, rel=0.01)


# Oil and lines.


@every_machine
def test_shell_and_oil(name: str) -> None:
    """More pressure dissolves more, warmer oil less; gas in the shell follows its density."""
    table, _line, machine = parts(name)
    shell = machine.shell
    p = dew_pressure(table, 280.0)
    hg = saturation(table, p)[3]
    gas, oil = shell_charge(table, shell, p, hg + 3e4, 330.0)
    assert gas == pytest.approx(shell.gas_volume / state(table, p, hg + 3e4)[1], rel=1e-12)
    assert shell_charge(table, shell, 1.1 * p, hg + 3e4, 330.0)[1] > oil
    assert shell_charge(table, shell, p, hg + 3e4, 335.0)[1] < oil
    twice = shell._replace(oil_volume=2.0 * shell.oil_volume, gas_volume=2.0 * shell.gas_volume)
    doubled = shell_charge(table, twice, p, hg + 3e4, 330.0)
    assert doubled == pytest.approx((2.0 * gas, 2.0 * oil), rel=1e-12)
    # Solubility stands still above the last temperature for which it has a saturation pressure.
    end = min(400.0, 0.985 * table.t_crit, saturation(table, table.p_max)[0]) - 0.01
    hot = [
        math.log(shell_charge(table, shell, p, hg + 3e4, float(t))[1])
        for t in np.linspace(285.0, end, 300)
    ]
    assert all(0.0 < a - b < 0.1 for a, b in pairwise(hot))
    last = shell_charge(table, shell, p, hg + 3e4, end + 5.0)[1]
    assert last <= math.exp(hot[-1]) * (1.0 + 1e-12)


@every_machine
def test_tube_charge(name: str) -> None:
    """All liquid, all vapour, and in between always between; monotone and without steps."""
    table = parts(name)[0]
    p = bubble_pressure(table, 310.0)
    hl, hg, vl, vg = saturation(table, p)[2:6]
    volume = 0.25 * math.pi * 6e-3**2 * 0.5
    xs = np.linspace(-0.1, 1.2, 400)
    content = [tube_charge(table, p, hl + x * (hg - hl), 5e-3, 6e-3, 0.5) for x in xs]
    assert all(b < a for a, b in pairwise(content))
    at_liquid = tube_charge(table, p, hl, 5e-3, 6e-3, 0.5)
    assert at_liquid == pytest.approx(volume / vl, rel=1e-9)
    assert tube_charge(table, p, hg, 5e-3, 6e-3, 0.5) == pytest.approx(volume / vg, rel=1e-9)
    almost = tube_charge(table, p, hl + 1e-9 * (hg - hl), 5e-3, 6e-3, 0.5)
    assert almost == pytest.approx(at_liquid, rel=1e-3)
    # Slip keeps more liquid in the tube than a well-stirred flow would.
    half = tube_charge(table, p, 0.5 * (hl + hg), 5e-3, 6e-3, 0.5)
    assert half > volume / (0.5 * (vl + vg))


@every_machine
def test_an_accumulator_holds_the_liquid_that_comes_back(name: str) -> None:
    """Gas while the suction is dry, then more and more liquid, without a step, until it is full."""
    table = parts(name)[0]
    p = dew_pressure(table, 275.0)
    hl, hg, vl, vg = saturation(table, p)[2:6]
    volume = 2e-4
    xs = np.linspace(1.2, 0.5, 701)
    content = [accumulator_charge(table, p, hl + x * (hg - hl), 8e-3, volume) for x in xs]
    assert all(b >= a for a, b in pairwise(content))
    at_dew = accumulator_charge(table, p, hg, 8e-3, volume)
    assert at_dew == pytest.approx(volume / vg, rel=1e-9)
    assert max(b - a for a, b in pairwise(content)) < 0.05 * volume / vl
    assert 0.9 * volume / vl < content[-1] <= volume / vl
    # Twice the flow is as much liquid at half the wetness.
    one = accumulator_charge(table, p, hg - 0.02 * (hg - hl), 8e-3, volume)
    two = accumulator_charge(table, p, hg - 0.01 * (hg - hl), 16e-3, volume)
    assert one == pytest.approx(two, rel=1e-12)
    assert one > 1.2 * at_dew


def test_outlet_air_is_told_with_the_fan() -> None:
    """The temperature that is shown is the one of the air's enthalpy."""
    b = full("R-134a")
    t = temperature(enthalpy(*b.air_out), b.air_out[1])
    assert t == pytest.approx(b.air_out[0], rel=1e-9)

"""What must hold for a machine whose coils breathe two airs: a window unit, a cabinet."""

from __future__ import annotations

import functools
import itertools

import pytest
from tests.dehumidifiers import PRESSURE, Dehumidifier

from sweatline.air.moist import enthalpy, humidity_ratio, moist_heat_capacity, specific_volume
from sweatline.air.saturation_line import SaturationLine
from sweatline.machine.balance import SteadyState, design, fixed_charge, solve
from sweatline.machine.circuit import (
    AFTER,
    BEFORE,
    BETWEEN,
    OUTSIDE,
    SEPARATE,
    AirParameters,
    MachineParameters,
)
from sweatline.machine.room_map import in_room
from sweatline.refrigerant.table import Table

WATER_HEAT = 4186.0  # J/(kg*K), liquid water
INSIDE, OUTDOORS = (300.15, 0.55), (308.15, 0.40)  # K, relative humidity
AIM = design(superheat=6.0, subcooling=5.0)


def air(
    *,
    fan: float = 40.0,
    position: int = AFTER,
    condenser_fan: float = 60.0,
    condenser_position: int = BEFORE,
) -> AirParameters:
    w_in = humidity_ratio(*INSIDE, PRESSURE)
    w_out = humidity_ratio(*OUTDOORS, PRESSURE)
    return AirParameters(
        arrangement=SEPARATE,
        temperature=INSIDE[0],
        humidity=w_in,
        flow=0.08 / specific_volume(INSIDE[0], w_in, PRESSURE),
        condenser_temperature=OUTDOORS[0],
        condenser_humidity=w_out,
        condenser_flow=0.16 / specific_volume(OUTDOORS[0], w_out, PRESSURE),
        fan_power=fan,
        fan_position=position,
        ambient=OUTDOORS[0],
        condenser_fan_power=condenser_fan,
        condenser_fan_position=condenser_position,
    )


@functools.cache
def window_unit() -> tuple[Table, SaturationLine, MachineParameters]:
    table, line, machine = Dehumidifier(
        refrigerant="R-134a",
        displacement=10e-6,
        temperature=INSIDE[0],
        relative_humidity=INSIDE[1],
        airflow=0.08,
        cells=6,
    ).build()
    return table, line, machine._replace(air=air())


@functools.cache
def plain() -> SteadyState:
    return solve(*window_unit(), AIM)


def streams(a: AirParameters, b: SteadyState) -> tuple[float, float]:
    """Heat that the room's air loses and that the outdoor air gains, fans included. [W]"""
    room = a.flow * (enthalpy(a.temperature, a.humidity) - enthalpy(*b.air_between))
    out = a.condenser_flow * (
        enthalpy(*b.air_out) - enthalpy(a.condenser_temperature, a.condenser_humidity)
    )
    return room, out


POSITIONS = (
    *itertools.product((BEFORE, BETWEEN, AFTER, OUTSIDE), (BEFORE, AFTER)),
    (AFTER, OUTSIDE),
)


@pytest.mark.parametrize(("position", "condenser_position"), POSITIONS)
def test_energy_of_machine_and_both_airs_closes(position: int, condenser_position: int) -> None:
    table, line, machine = window_unit()
    a = air(position=position, condenser_position=condenser_position)
    b = solve(table, line, machine._replace(air=a), AIM, near=plain())
    room, out = streams(a, b)
    warms = 0.0 if position == OUTSIDE else a.fan_power
    blows = 0.0 if condenser_position == OUTSIDE else a.condenser_fan_power
    # Water leaves with the enthalpy of liquid between the coldest surface and the air: at most
    # some 25 K above the zero of enthalpy.
    carried = b.water * WATER_HEAT * 25.0
    assert b.water > 0.0
    assert b.cooling - warms - 1e-3 < room < b.cooling - warms + carried
    assert out == pytest.approx(b.heating + blows, rel=1e-6)
    assert b.cooling + b.compressor_power - b.shell_heat == pytest.approx(b.heating, rel=1e-6)
    assert b.water == pytest.approx(a.flow * (a.humidity - b.air_between[1]), rel=1e-9)
    assert b.air_out[1] == pytest.approx(a.condenser_humidity, rel=1e-14)
    assert b.fan_power == a.fan_power + a.condenser_fan_power
    assert b.total_power == pytest.approx(b.compressor_power + b.fan_power)


def test_a_fan_behind_its_coil_only_warms_what_leaves() -> None:
    table, line, machine = window_unit()
    found = {
        (p, c): solve(
            table,
            line,
            machine._replace(air=air(position=p, condenser_position=c)),
            AIM,
            near=plain(),
        )
        for p, c in ((AFTER, AFTER), (OUTSIDE, OUTSIDE), (BEFORE, AFTER), (AFTER, BEFORE))
    }
    behind, outside = found[AFTER, AFTER], found[OUTSIDE, OUTSIDE]
    assert behind.unknowns == pytest.approx(outside.unknowns, rel=1e-7)
    a = machine.air
    cold_rise = a.fan_power / (a.flow * moist_heat_capacity(behind.air_between[1]))
    warm_rise = a.condenser_fan_power / (a.condenser_flow * moist_heat_capacity(behind.air_out[1]))
    assert behind.air_between[0] - outside.air_between[0] == pytest.approx(cold_rise, rel=1e-4)
    assert behind.air_out[0] - outside.air_out[0] == pytest.approx(warm_rise, rel=1e-4)
    # Before its coil each one is a load.
    assert found[BEFORE, AFTER].evaporating_pressure > behind.evaporating_pressure
    assert found[AFTER, BEFORE].discharge_pressure > behind.discharge_pressure


def test_a_condenser_fan_of_no_power_is_none() -> None:
    """The numbers of an air path that names no condenser fan are those of one without power."""
    table, line, machine = window_unit()
    a = air(condenser_fan=0.0)
    short = AirParameters(*a[:10])
    assert short.condenser_fan_power == 0.0
    one, other = (
        solve(table, line, machine._replace(air=x), AIM, near=plain()) for x in (a, short)
    )
    assert one.unknowns == pytest.approx(other.unknowns, rel=1e-9)


def test_rooms_move_the_streams_apart() -> None:
    """A warmer room feeds the evaporator, a warmer day the condenser; fans keep their volume."""
    machine = window_unit()[2]
    inside = in_room(machine, 296.15, 0.5, PRESSURE)
    before, after = machine.air, inside.air
    assert after.temperature == 296.15
    assert after.humidity == humidity_ratio(296.15, 0.5, PRESSURE)
    kept = specific_volume(after.temperature, after.humidity, PRESSURE) * after.flow
    assert kept == pytest.approx(0.08, rel=1e-12)
    for name in ("condenser_temperature", "condenser_humidity", "condenser_flow", "ambient"):
        assert getattr(after, name) == getattr(before, name)
    out = in_room(machine, 296.15, 0.5, PRESSURE, outdoors=(313.15, 0.3)).air
    assert (out.condenser_temperature, out.ambient) == (313.15, 313.15)
    kept = specific_volume(out.condenser_temperature, out.condenser_humidity, PRESSURE)
    assert kept * out.condenser_flow == pytest.approx(0.16, rel=1e-12)
    assert (out.temperature, out.flow) == (after.temperature, after.flow)


def test_a_hot_day_raises_the_head_and_a_hot_room_the_suction() -> None:
    table, line, machine = window_unit()
    target = fixed_charge(plain().charge)
    tube = solve(table, line, machine, AIM)
    length = machine.expansion._replace(length=0.25)
    machine = machine._replace(expansion=length)
    here = solve(table, line, machine, target, near=tube)
    day = in_room(machine, *INSIDE, PRESSURE, outdoors=(314.15, 0.3))
    room = in_room(machine, 305.15, 0.5, PRESSURE)
    hot_day = solve(table, line, day, target, near=here)
    hot_room = solve(table, line, room, target, near=here)
    assert hot_day.discharge_pressure > 1.08 * here.discharge_pressure
    assert hot_room.evaporating_pressure > 1.03 * here.evaporating_pressure
    assert hot_day.cooling < here.cooling < hot_room.cooling

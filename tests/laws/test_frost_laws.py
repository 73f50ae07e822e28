"""What must hold when a coil freezes: mass, energy, the fan, and time."""

from __future__ import annotations

import functools
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from sweatline.air.moist import enthalpy as air_enthalpy
from sweatline.air.moist import specific_volume
from sweatline.assembly.build import Build, build_for
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.frost import frost as frost_question
from sweatline.flow.finned_surface import frost_conductivity_lee, frost_density_silva
from sweatline.job.reading import read_job
from sweatline.machine.balance import SteadyState, filled, fixed_charge
from sweatline.machine.circuit import MachineParameters
from sweatline.machine.frost import BLOCKED, FrostRun, run_frost
from sweatline.machine.room_map import in_room
from sweatline.parts.coil import PROFILE, CoilParameters
from sweatline.parts.frost import (
    HEAT_OF_FUSION,
    AirPath,
    Frost,
    air_path,
    air_through,
    bare,
    freezing,
    frosted,
    half_gap,
)

EXAMPLE = Path(__file__).parents[2] / "examples" / "seed-store.toml"
COLUMN = {name: n for n, name in enumerate(PROFILE)}


@functools.cache
def charged() -> tuple[Build, SteadyState]:
    job = replace(read_job(EXAMPLE), coils="tube by tube")
    build = build_for(job, compressor=0, refrigerant="R-134a", capillary=0)
    return build, build.solve(filled(superheat=5.0))


@functools.cache
def in_the_cold(
    celsius: float, humidity: float
) -> tuple[Build, MachineParameters, SteadyState, AirPath]:
    build, warm = charged()
    pressure = build.job.place.atmospheric_pressure
    machine = in_room(build.machine, ZERO_CELSIUS + celsius, humidity, pressure)
    cold = replace(build, machine=machine)
    air, coil = machine.air, machine.evaporator
    path = air_path(
        coil,
        machine.condenser.fins,
        face_ratio=machine.condenser.face_area / coil.face_area,
        air_flow=air.flow,
        temperature=air.temperature,
        humidity=air.humidity,
        density=(1.0 + air.humidity) / specific_volume(air.temperature, air.humidity, pressure),
        shut_off=None,
    )
    return cold, machine, cold.solve(fixed_charge(warm.charge), near=warm), path


def run(celsius: float = 4.0, humidity: float = 0.8, **changes: float) -> FrostRun:
    build, machine, start, path = in_the_cold(celsius, humidity)
    pressure = build.job.place.atmospheric_pressure
    return run_frost(build.refrigerant.table, build.line, machine, start, path, pressure, **changes)


def test_ice_is_the_integral_of_the_water_that_froze() -> None:
    """To the last digits, summed up from the states alone; nothing melts, nothing is lost."""
    found = run()
    integral = 0.0
    for s in found.steps:
        assert s.ice == pytest.approx(integral, rel=1e-9, abs=1e-15)
        profile = s.balance.evaporator_profile
        assert profile is not None
        surface, water = (
            profile[:, COLUMN[c]] for c in ("surface_temperature_K", "water_kg_per_s")
        )
        frozen = float((water * np.clip((ZERO_CELSIUS - surface) / 0.5, 0.0, 1.0)).sum())
        assert s.freezing == pytest.approx(frozen, rel=1e-9)
        assert 0.0 < s.freezing <= s.balance.water * (1.0 + 1e-9)
        integral += frozen * s.seconds
    assert integral > 0.1


def test_air_leaves_with_what_the_ice_gave_back() -> None:
    """Energy of both streams closes with ice carried at its own enthalpy, not at that of water."""
    _rig, machine, _start, _path = in_the_cold(4.0, 0.8)
    s = run().steps[0]
    air = machine.air
    profile = s.balance.evaporator_profile
    assert profile is not None
    water = profile[:, COLUMN["water_kg_per_s"]]
    surface = profile[:, COLUMN["surface_temperature_K"]]
    frozen = np.clip((ZERO_CELSIUS - surface) / 0.5, 0.0, 1.0)
    carried = float((water * (4186.0 * (surface - ZERO_CELSIUS) - HEAT_OF_FUSION * frozen)).sum())
    t, w = s.balance.air_between
    lost = s.airflow * air.flow * (air_enthalpy(air.temperature, air.humidity) - air_enthalpy(t, w))
    # What little is left comes from cells with a phase line, whose pieces differ in temperature.
    assert lost == pytest.approx(s.balance.cooling + carried, rel=2e-3)
    assert carried < -10.0


def test_blocked_coil_has_half_the_air_and_came_there_steadily() -> None:
    found = run()
    assert found.ended == "blocked"
    assert found.steps[-1].airflow <= BLOCKED < found.steps[-2].airflow
    assert all(b.airflow <= a.airflow for a, b in pairwise(found.steps))
    assert all(b.ice > a.ice for a, b in pairwise(found.steps))
    assert all(b.coil_drop >= a.coil_drop for a, b in pairwise(found.steps))
    fins = in_the_cold(4.0, 0.8)[1].evaporator.fins
    assert found.steps[-1].thickest <= 1.01 * half_gap(fins)
    half = found.when(BLOCKED)
    assert half is not None
    assert found.steps[-2].time < half <= found.steps[-1].time
    assert found.when(0.8) < half
    assert found.when(0.1) is None


def test_time_to_block_does_not_hang_on_the_steps() -> None:
    rough, fine = run().when(BLOCKED), run(finer=3.0).when(BLOCKED)
    assert rough == pytest.approx(fine, rel=0.01)


def test_denser_frost_takes_longer_and_weighs_more() -> None:
    light, heavy = run(density_factor=0.7), run(density_factor=1.4)
    assert light.when(BLOCKED) < run().when(BLOCKED) < heavy.when(BLOCKED)
    assert light.ice < run().ice < heavy.ice


def test_colder_air_of_the_same_humidity_starts_with_more_ice_on_more_of_the_coil() -> None:
    cold, mild = run(4.0, 0.8).steps[0], run(8.0, 0.8, hours=0.2).steps[0]
    assert cold.freezing > mild.freezing
    assert cold.balance.frost_share > mild.balance.frost_share


def test_coil_above_zero_stays_bare() -> None:
    found = run(15.0, 0.75)
    assert found.ended == "bare"
    assert found.ice == 0.0
    assert len(found.steps) == 1
    assert found.steps[0].airflow == pytest.approx(1.0, abs=1e-9)


def layer(coil: CoilParameters, thickness: float, rows: slice = slice(None)) -> Frost:
    mass, density = np.zeros(coil.layer.shape), np.full(coil.layer.shape, 250.0)
    mass[rows] = 250.0 * thickness
    return Frost(mass=mass, density=density)


def test_fan_and_resistance_meet_on_the_fans_curve() -> None:
    _rig, machine, _start, path = in_the_cold(4.0, 0.8)
    coil = machine.evaporator
    assert air_through(coil, bare(coil), path)[0] == pytest.approx(1.0, abs=1e-9)
    flows = []
    for thickness in np.linspace(0.05e-3, 0.8e-3, 12):
        x, speed, drop = air_through(coil, layer(coil, float(thickness)), path)
        fan = path.shut_off - (path.shut_off - (path.coil_drop + path.other_drop)) * x**2
        assert fan == pytest.approx(drop + path.other_drop * x**2, rel=1e-9)
        assert speed == pytest.approx(np.ones(speed.shape), rel=1e-9)
        flows.append(x)
    assert all(b < a for a, b in pairwise(flows))
    stiff = path._replace(shut_off=4.0 * (path.coil_drop + path.other_drop))
    thick = layer(coil, 0.6e-3)
    assert air_through(coil, thick, stiff)[0] > air_through(coil, thick, path)[0]


def test_air_leaves_the_channels_that_close() -> None:
    _rig, machine, _start, path = in_the_cold(4.0, 0.8)
    coil = machine.evaporator
    frost = layer(coil, 0.0)
    frost.mass[:, 0] = 250.0 * 0.7e-3
    x, speed, _drop = air_through(coil, frost, path)
    assert x < 1.0
    assert speed[0, 0] < 0.4 * speed[1, 0]
    assert np.average(speed[:, 0], weights=coil.layout.height_times) == pytest.approx(1.0, rel=1e-9)


def test_layer_resists_as_thick_as_it_is_and_bare_coil_is_unchanged() -> None:
    _rig, machine, _start, path = in_the_cold(4.0, 0.8)
    coil = machine.evaporator
    under = frosted(coil, layer(coil, 0.4e-3), path, coil.speed)
    assert under.layer == pytest.approx(0.4e-3 / frost_conductivity_lee(250.0), rel=1e-9)
    assert (under.coefficient > 0.0).all()
    clean = frosted(coil, bare(coil), path, coil.speed)
    assert (clean.layer == 0.0).all()
    assert (clean.coefficient == 1.0).all()


def test_nothing_freezes_on_a_warm_profile() -> None:
    build, warm = charged()
    again = build.solve(fixed_charge(warm.charge), near=warm, profiles=True)
    assert again.evaporator_profile is not None
    coil = build.machine.evaporator
    assert (freezing(coil, again.evaporator_profile) == 0.0).all()


def test_density_rises_with_the_surface_and_falls_with_the_dew_point() -> None:
    cold, warm = (frost_density_silva(ZERO_CELSIUS + t, ZERO_CELSIUS) for t in (-12.0, -2.0))
    assert 50.0 <= cold < warm <= 600.0
    assert frost_density_silva(268.15, 283.15) < frost_density_silva(268.15, 273.15)
    assert frost_density_silva(280.0, 273.15) == frost_density_silva(273.15, 273.15)


def test_answer_holds_together() -> None:
    answer = frost_question(
        read_job(EXAMPLE),
        compressor=0,
        refrigerant="R-134a",
        capillary=0,
        room_temperature=ZERO_CELSIUS + 4.0,
        room_humidity=0.8,
    )
    light, likely, dense = answer.blocked
    assert light < likely < dense
    need, cycle = answer.defrost, answer.cycle
    assert need is not None
    assert cycle is not None
    assert need.energy > need.ice * HEAT_OF_FUSION + need.metal
    assert need.energy < 1.15 * need.ice * HEAT_OF_FUSION + need.metal
    assert cycle.run < likely
    assert cycle.rest is not None
    assert cycle.running_share == pytest.approx(cycle.run / (cycle.run + cycle.rest))
    assert answer.verdict.state == "fails"
    bare_one = frost_question(read_job(EXAMPLE), compressor=0, refrigerant="R-134a", capillary=0)
    assert bare_one.verdict.state == "holds"
    assert (bare_one.defrost, bare_one.cycle) == (None, None)
    assert bare_one.blocked == (None, None, None)


def test_room_near_freezing_cannot_thaw_a_coil() -> None:
    answer = frost_question(
        read_job(EXAMPLE),
        compressor=0,
        refrigerant="R-134a",
        capillary=0,
        room_temperature=ZERO_CELSIUS + 1.0,
        room_humidity=0.9,
        hours=1.0,
    )
    assert answer.defrost is not None
    assert answer.defrost.rest is None
    assert answer.defrost.hot_gas > 0.0


def test_a_fan_that_builds_up_more_pressure_keeps_a_coil_open_longer() -> None:
    job = read_job(EXAMPLE)
    from sweatline.uncertainty.parameter import Measured

    cold = {"room_temperature": ZERO_CELSIUS + 4.0, "room_humidity": 0.8}
    parts = {"compressor": 0, "refrigerant": "R-134a", "capillary": 0}
    strong = replace(job, fan=replace(job.fan, shut_off_pressure=Measured(value=400.0)))
    plain, held = frost_question(job, **parts, **cold), frost_question(strong, **parts, **cold)
    assert held.blocked[1] > plain.blocked[1]
    assert any("shut_off_pressure" in n for n in plain.notes)
    assert not any("shut_off_pressure" in n for n in held.notes)

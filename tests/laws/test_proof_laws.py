"""Laws of a proof: heat in is heat out, what moves does not count, and water is water."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweatline.assembly.build import Build, build_for, choose
from sweatline.bench.proof.bucket import Bucket
from sweatline.bench.proof.heat import heat_flows
from sweatline.bench.proof.observables import OBSERVABLES
from sweatline.bench.proof.proof import ProofAnswer, ProofRequest, prove
from sweatline.bench.proof.steadiness import (
    FORGETTING,
    LOOK,
    judged,
    stood_still,
    weighted_deviation,
)
from sweatline.job.reading import read_job
from sweatline.machine.balance import SteadyState, filled, solve
from sweatline.machine.circuit import AFTER, BEFORE, BETWEEN, OUTSIDE, MachineParameters

SEED = Path(__file__).parents[2] / "examples" / "seed-store.toml"
PARTS = {"compressor": "drinks", "refrigerant": "R-134a", "capillary": "1.4"}


@pytest.fixture(scope="module")
def build() -> Build:
    job = read_job(str(SEED))
    i, name, j = choose(job, **PARTS)
    return build_for(job, compressor=i, refrigerant=name, capillary=j)


def solved(build: Build, fan: int) -> tuple[MachineParameters, SteadyState]:
    air = build.machine.air._replace(fan_position=fan)
    machine = build.machine._replace(air=air)
    target = filled(superheat=5.0)
    table = build.refrigerant.table
    return machine, solve(table, build.line, machine, target, near=build.designed)


def exact(build: Build, machine: MachineParameters, b: SteadyState) -> dict[str, float]:
    """What exact instruments show of it."""
    pressure, room = build.job.place.atmospheric_pressure, build.job.room
    shown = {o.field: o.shown(b, machine, pressure) for o in OBSERVABLES}
    return {**shown, "room_temperature": room.temperature.value,
            "room_humidity": room.relative_humidity.value}  # fmt: skip


@pytest.mark.parametrize("fan", [BEFORE, BETWEEN, AFTER, OUTSIDE])
def test_the_heat_balance_closes_on_exact_readings(build: Build, fan: int) -> None:
    machine, b = solved(build, fan)
    pressure = build.job.place.atmospheric_pressure
    found = heat_flows(exact(build, machine, b), machine, build.refrigerant.table, pressure)
    assert found["flow"] == pytest.approx(b.flow, rel=1e-6)
    # The liquid's pressure is taken at the head gauge, before the condenser's own loss.
    assert found["cooling"] == pytest.approx(b.cooling, rel=1e-4)
    # The water that drains is a degree or so warmer than the coldest place of the coil.
    assert found["cooling_by_air"] == pytest.approx(b.cooling, rel=1e-3)
    warmth = b.heating - b.cooling + (0.0 if fan == OUTSIDE else b.fan_power)
    assert found["released"] == pytest.approx(warmth, rel=1e-6)
    assert found["released_by_air"] == pytest.approx(warmth, rel=5e-3)
    assert found["water_by_air"] == pytest.approx(b.water, rel=1e-6)
    assert 0.0 < found["latent_share"] < 1.0


def test_without_an_anemometer_the_balance_gives_the_airflow(build: Build) -> None:
    machine, b = solved(build, AFTER)
    pressure = build.job.place.atmospheric_pressure
    read = exact(build, machine, b)
    known = read.pop("airflow")
    found = heat_flows(read, machine, build.refrigerant.table, pressure)
    assert found["airflow_by_watts"] == pytest.approx(known, rel=5e-3)
    assert found["airflow"] == pytest.approx(known, rel=1e-6)
    assert "cooling_by_air" not in found


def proved(build: Build, **more: float) -> ProofAnswer:
    """The machine of best values, its room read exactly, in the job's own room."""
    machine, b = solved(build, build.machine.air.fan_position)
    read = exact(build, machine, b)
    names = ("suction", "head", "suction_gas", "liquid_line", "watts")
    return prove(
        ProofRequest(
            atmosphere=build.job.place.atmospheric_pressure, job=build.job, stood_still=1800.0,
            bucket=Bucket(amount=more.pop("share", 1.0) * b.water * 7200.0, time=7200.0),
            room_temperature=read["room_temperature"], room_humidity=read["room_humidity"],
            draws=64, **PARTS, **{n: read[n] for n in names}, **more,
        )
    )  # fmt: skip


def test_the_machine_of_best_values_passes(build: Build) -> None:
    found = proved(build)
    assert found.verdict == "passes"
    assert {one.verdict for one in found.judged} == {"inside"}
    assert found.chance_together is not None
    assert found.chance_together > 0.5
    assert found.superheat is not None
    assert found.superheat.middle == pytest.approx(5.0, abs=1e-3)


def test_half_of_the_water_fails(build: Build) -> None:
    found = proved(build, share=0.5)
    assert found.verdict == "fails"
    assert "below" in {one.verdict for one in found.judged if "water" in one.what}


def test_a_wilder_discharge_is_no_failure_but_no_pass(build: Build) -> None:
    assert proved(build, discharge_gas=400.0).verdict == "look"


def test_what_lets_more_through_is_more_in_every_room(build: Build) -> None:
    few, many = proved(build, share=0.9), proved(build, share=1.1)
    for a, b in zip(few.rooms, many.rooms, strict=True):
        assert a.water.middle < b.water.middle


NUMBERS = st.lists(st.floats(-50.0, 50.0), min_size=3, max_size=30)


@given(NUMBERS, st.floats(-10.0, 10.0), st.floats(0.1, 10.0))
def test_a_deviation_moves_with_the_scale_not_with_the_zero(
    values: list[float], zero: float, scale: float
) -> None:
    moved = [zero + scale * y for y in values]
    plain = weighted_deviation(values)
    assert weighted_deviation(moved) == pytest.approx(scale * plain, rel=1e-6, abs=1e-6)
    assert plain >= 0.0


def test_a_ramp_has_the_deviation_of_its_own_lag() -> None:
    # Steady ramp of slope r a look: the mean lags r f/(1-f), so v = f (v + r^2/(1-f)).
    f = FORGETTING
    expected = math.sqrt(f / (1.0 - f) / (1.0 - f))
    assert weighted_deviation([float(n) for n in range(200)]) == pytest.approx(expected, rel=1e-6)


def series(drift: float, noise: float, seed: int = 3) -> list[tuple[float, float]]:
    """Half an hour of a clamp thermometer; the drift in kelvin an hour."""
    rng = np.random.default_rng(seed)
    times = np.arange(0.0, 1801.0, LOOK)
    values = 280.0 + drift * times / 3600.0 + noise * rng.standard_normal(times.size)
    return list(zip(times.tolist(), values.tolist(), strict=True))


def test_a_series_that_drifts_is_refused_and_one_that_stands_is_not() -> None:
    still = judged({"liquid line": series(0.3, 0.1)}, 1800.0)
    assert still.verdict == "steady"
    for drift in (4.0, -4.0, 12.0):
        found = judged({"liquid line": series(drift, 0.1), "watts": [(0.0, 1.0)]}, 1800.0)
        assert found.verdict == "not steady"
        assert found.reason == "still moving: liquid line"


def test_a_series_that_hunts_is_refused() -> None:
    swing = [(t, 280.0 + 2.0 * math.sin(t / 95.0)) for t in np.arange(0.0, 1801.0, 30.0)]
    assert judged({"liquid line": swing}, 1800.0).verdict == "not steady"


def test_two_looks_show_nothing() -> None:
    assert stood_still("liquid line", [(0.0, 280.0), (1800.0, 280.0)]) is None
    assert judged({"liquid line": [(0.0, 280.0)]}, 0.0).verdict == "not shown"


def test_a_sensor_every_second_is_no_surer_than_a_look_in_two_minutes() -> None:
    often = [(float(t), 280.0 + 4.0 * t / 3600.0) for t in range(1801)]
    seldom = [(float(t), 280.0 + 4.0 * t / 3600.0) for t in range(0, 1801, 120)]
    a, b = stood_still("liquid line", often), stood_still("liquid line", seldom)
    assert a is not None
    assert b is not None
    assert a.scatter_SI == pytest.approx(b.scatter_SI, rel=0.15)
    assert a.change_SI == pytest.approx(b.change_SI, rel=0.02)

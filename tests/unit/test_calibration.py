"""Calibration to a known machine: what is told, set aside, carried, and said to be too little."""

import functools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.known_machines import showing

from sweatline.assembly.calibration import MISFIT, Calibration, calibrate, calibrated, with_rebuild
from sweatline.assembly.known_machine import PLATE, known_machine, runs_of
from sweatline.errors import JobError, SolveError
from sweatline.job.model import Job
from sweatline.job.reading import read_job
from sweatline.uncertainty.parameter import Key

EXAMPLES = Path(__file__).parents[2] / "examples"
TIMBER = EXAMPLES / "timber-store.toml"


@functools.cache
def timber() -> Job:
    return read_job(TIMBER)


@functools.cache
def found() -> Calibration:
    return calibrate(timber())


def means(calibration: Calibration) -> dict[Key, float]:
    known = calibration.posterior
    return {p.key: mean for p, mean in zip(known.parameters, known.mean.tolist(), strict=True)}


def test_the_readings_are_closer_after_than_before() -> None:
    def miss(which: str) -> float:
        return sum(((getattr(r, which) - r.measured) / r.sd) ** 2 for r in found().readings)

    assert miss("after") < 0.2 * miss("before")
    assert found().set_aside == ()
    assert found().settled
    assert found().notes == ()


def test_no_number_is_less_sure_than_before_in_any_direction() -> None:
    assert np.linalg.eigvalsh(found().posterior.covariance).max() <= 1.0 + 1e-9
    assert all(0.0 < n.left < 1.0 for n in found().parameters)
    assert 0.0 < found().independent < len(found().readings)


def test_what_only_works_together_is_told_together() -> None:
    """Watts are motor or valves, flow through the tube its bore or the model's own error."""
    groups = [set(group) for group in found().ties]
    assert any({"compressor power", "original compressor motor and valves"} <= g for g in groups)
    assert any({"capillary flow", "the one in the machine bore"} <= g for g in groups)
    assert not any({"airflow", "boiling"} <= g for g in groups)


def test_the_model_reads_what_a_balance_says() -> None:
    machine = known_machine(timber())
    z = np.zeros(len(machine.parameters))
    shown = dict(zip(((r.run, r.key) for r in machine.readings), machine.predict(z), strict=True))
    april = machine.balance(machine.runs[1], z)
    assert shown[1, "suction_pressure"] == april.suction_pressure
    assert shown[1, "head_pressure"] == april.discharge_pressure
    assert shown[1, "power"] == april.total_power
    assert shown[1, "air_out_temperature"] == april.air_out[0]
    assert april.charge == pytest.approx(timber().original.charge.value, rel=1e-5)
    assert {run.name for run in machine.runs} == {PLATE, "April", "September"}


def test_a_reading_that_jumped_by_an_atmosphere_is_named_and_not_believed() -> None:
    april = timber().ran_well[0]
    wrong = april.head_pressure.value + 1.5e5
    other = calibrate(showing(timber(), {("April", "head_pressure"): wrong}))
    ((named),) = other.set_aside
    assert (named.run, named.key) == ("April", "head_pressure")
    assert named.off > MISFIT
    assert named.expected == pytest.approx(april.head_pressure.value, abs=0.6e5)
    # What is left says what it said without that reading.
    without = showing(timber(), {})
    runs = (replace(without.ran_well[0], head_pressure=None), without.ran_well[1])
    alone = calibrate(replace(without, ran_well=runs))
    z = means(alone)
    for key, mean in means(other).items():
        assert mean == pytest.approx(z[key], abs=0.05), key


def test_the_order_of_the_sets_does_not_matter() -> None:
    turned = calibrate(replace(timber(), ran_well=timber().ran_well[::-1]))
    z = means(turned)
    for key, mean in means(found()).items():
        assert mean == pytest.approx(z[key], abs=5e-3), key


def test_an_exact_reading_of_the_fan_s_air_recovers_it() -> None:
    """Everything else known exactly: the air that leaves tells the airflow and nothing else."""
    job = timber()
    exact = {
        "fan": replace(job.fan, power=replace(job.fan.power, sd=0.0)),
        "ran_well": (replace(job.ran_well[0], suction_temperature=None),),
    }
    machine = known_machine(replace(job, **exact))
    i = machine.keys.index(("fan", "volume_flow"))
    z = np.zeros(len(machine.parameters))
    z[i] = 0.7
    shown = machine.predict(z)
    from sweatline.uncertainty.posterior import most_probable

    def of_airflow(y: np.ndarray) -> np.ndarray | None:
        moved = np.zeros(len(machine.parameters))
        moved[i] = y[0]
        return machine.predict(moved)

    posterior = most_probable(of_airflow, measured=shown, spread=1e-5 * np.abs(shown), parameters=1)
    assert posterior.mean[0] == pytest.approx(0.7, abs=2e-3)
    assert posterior.covariance[0, 0] < 1e-4


def test_one_reading_is_said_to_be_too_few() -> None:
    job = timber()
    only = replace(
        job,
        original=replace(job.original, power=None, water_removal=None),
        ran_well=(replace(job.ran_well[1], suction_pressure=None, head_pressure=None, power=None),),
    )
    few = calibrate(only)
    assert len(few.readings) == 1
    assert any("only one reading" in note for note in few.notes)
    assert any("no gauge was read" in note for note in few.notes)
    assert any("no watts" in note for note in few.notes)
    assert few.independent < 1.0


def test_an_unknown_charge_is_worked_out_and_said() -> None:
    job = timber()
    unweighed = calibrate(replace(job, original=replace(job.original, charge=None)))
    assert any("charge was not weighed" in note for note in unweighed.notes)
    charge = {n.key: n for n in unweighed.rooms}["original", "charge"]
    assert charge.after == pytest.approx(0.39, rel=0.3)
    assert charge.left < 0.9


def test_amperes_count_with_what_is_known_of_the_motor() -> None:
    job = timber()
    april = job.ran_well[0]
    from sweatline.uncertainty.parameter import Measured

    amps = Measured(value=1.9, sd=0.06, note="clamp meter")
    runs = (replace(april, current=amps, power=None), replace(job.ran_well[1], power=None))
    machine = known_machine(replace(job, ran_well=runs))
    light = machine.keys.index(("compressor", "original compressor", "light_power_factor"))
    z = np.zeros(len(machine.parameters))
    at = [r.key for r in machine.readings].index("current")
    balance = machine.balance(machine.runs[1], z)
    assert machine.predict(z)[at] == balance.total_current
    assert balance.total_power < 230.0 * balance.total_current
    z[light] = 1.0  # a better power factor at a light load: fewer amps
    assert machine.predict(z)[at] < balance.total_current


def test_what_it_needs_is_said_in_one_sentence() -> None:
    boat = read_job(EXAMPLES / "boat-shed.toml")
    assert runs_of(boat) == ()
    assert calibrated(boat) is boat
    with pytest.raises(JobError, match="which compressor ran"):
        calibrate(boat)
    job = timber()
    bare = replace(job, ran_well=(), original=replace(job.original, power=None, water_removal=None))
    with pytest.raises(JobError, match="nothing to calibrate to"):
        calibrate(bare)


def test_a_machine_that_could_not_have_run_is_named_with_its_room(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from sweatline.assembly import known_machine as module

    def none(*_args: object, **_kwargs: object) -> None:
        raise SolveError(condition="the capillary is too tight")

    monkeypatch.setattr(module, "solve", none)
    with pytest.raises(SolveError, match=r"as it ran \(the plate\) has no balance: the capillary"):
        calibrate(timber())


def test_a_rebuild_becomes_surer_where_what_stays_decides() -> None:
    job = calibrated(timber())
    assert job.posterior is not None
    assert calibrated(job) is job
    choice = {"compressor": 0, "refrigerant": "R-134a", "capillary": 1}
    rebuild = with_rebuild(found(), timber(), **choice, draws=32).rebuild
    before, after = rebuild.before, rebuild.after

    def width(bands, key: str) -> float:
        return bands[key].high - bands[key].low

    for key in ("suction_pressure_Pa", "discharge_pressure_Pa", "coil_temperature_K"):
        assert width(after, key) < 0.85 * width(before, key), key


@pytest.mark.parametrize("name", [PLATE, "charge"])
def test_a_set_of_readings_may_be_called_anything(name: str) -> None:
    """Each keeps a room and a charge of its own, whatever it is called."""
    job = timber()
    weighed = replace(job.original.charge, value=0.37)
    april = replace(job.ran_well[0], charge=weighed)
    plain = known_machine(replace(job, ran_well=(april, job.ran_well[1])))
    named = replace(job, ran_well=(replace(april, name=name), job.ran_well[1]))
    machine = known_machine(named)
    assert machine.keys == plain.keys
    assert sum(key[0] == "run" for key in machine.keys) == 5  # two of each room, one charge
    z = np.linspace(-0.4, 0.4, len(machine.keys))
    np.testing.assert_array_equal(machine.predict(z), plain.predict(z))

"""Numbers of the job reader a second way: equations of state and psychrometrics of others."""

import json
import math
from pathlib import Path

import CoolProp
import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI

from sweatline.cli.main import main
from sweatline.job.defaults import atmospheric_pressure
from sweatline.job.explanation import explain
from sweatline.job.reading import read_job_text
from sweatline.job.vocabulary import REFRIGERANTS, design_pressures
from sweatline.refrigerant.refrigerant import load


def reference_name(name: str) -> str:
    plain = {"R-152a": "R152A"}.get(name, name.replace("-", ""))
    return f"{plain}.mix" if load(name).kind == "mixture" else plain


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_design_pressures_agree_with_the_equation_of_state(name: str) -> None:
    ours = design_pressures(name)
    for pressure, celsius in zip(ours, (26.7, 63.0), strict=True):
        theirs = PropsSI("P", "T", celsius + 273.15, "Q", 0, reference_name(name))
        # The table keeps 0.01 bar; the equation of state is the same, so nothing but rounding.
        assert math.isclose(pressure, theirs, abs_tol=0.006e5), CoolProp.__version__


@pytest.mark.parametrize("altitude", [-400.0, 0.0, 640.0, 1500.0, 5000.0])
def test_the_atmosphere_agrees_with_psychrolib(altitude: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    theirs = psychrolib.GetStandardAtmPressure(altitude)
    assert math.isclose(atmospheric_pressure(altitude), theirs, rel_tol=1e-9)


BOAT = (Path(__file__).parents[2] / "examples" / "boat-shed.toml").read_text()

# What `check` says an error does, per cent of the answer for a per cent of the number (for a
# kelvin), against two balances of the same bench. What is changed, by how much, which answer.
CHANGES = [
    ("room.temperature", '"64 °F"', '"65.8 °F"', 1.0),
    ("room.humidity", '"70 %RH"', '"73 %RH"', 100.0 * math.log(73.0 / 70.0)),
    ("fan.airflow", "[evaporator]", '[fan]\nairflow = "103.1 cfm"\n\n[evaporator]', 22.3),
    ("compressor[1].displacement", '"6.6 cc"', '"6.93 cc"', 4.88),
    ("capillary[2].bore", '"0.042 in"', '"0.04284 in"', 1.98),
    ("compressor[1].oil_volume", '"POE"', '"POE"\noil_volume = "300 cm3"', 18.2),
]


def balance(text: str, path: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, float]:
    path.write_text(text)
    parts = ["--compressor", "1", "--refrigerant", "R-134a", "--capillary", "2", "--draws", "8"]
    assert main(["balance", str(path), *parts, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    return {
        "water": found["steady"]["water_kg_per_s"],
        "charge": found["steady"]["charge_kg"],
        "length of capillary": found["parts"]["capillary_length_m"],
    }


def test_what_an_error_does_is_what_two_balances_say(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    declared = {item.key: item.matters for item in explain(read_job_text(BOAT))}
    before = balance(BOAT, tmp_path / "boat.toml", capsys)
    for key, old, new, percent in CHANGES:
        assert BOAT.count(old) >= 1, old
        after = balance(BOAT.replace(old, new, 1), tmp_path / "boat.toml", capsys)
        matters = declared[key]
        assert matters is not None, key
        moved = abs(100.0 * math.log(after[matters.answer] / before[matters.answer])) / percent
        # One figure for all machines: of this one it is within a third.
        assert math.isclose(moved, matters.percent, rel_tol=0.35), (key, moved)

"""The door for scripts: its names, its units, its mistakes, and what it leaves unimported."""

from __future__ import annotations

import inspect
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import sweatline as sl
from sweatline.errors import JobError, UnitError

SEED = str(Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml")
PARTS = {"compressor": "drinks cooler", "refrigerant": "R-513A", "capillary": "1.4"}


def test_every_public_name_is_there_and_listed_once() -> None:
    assert len(set(sl.__all__)) == len(sl.__all__)
    for name in sl.__all__:
        assert getattr(sl, name) is not None
    assert set(sl.__all__) <= set(dir(sl))
    with pytest.raises(AttributeError, match="no_such_name"):
        sl.no_such_name  # noqa: B018 - the look-up is what is tested


def test_nothing_heavy_is_imported_before_it_is_needed() -> None:
    program = (
        "import sys, sweatline\n"
        "heavy = {'numpy', 'scipy', 'numba', 'click', 'rich', 'pydantic', 'matplotlib'}\n"
        "assert not heavy & set(sys.modules), heavy & set(sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_a_string_and_its_si_value_are_the_same_question() -> None:
    written = sl.saturation("R-134a", temperature="5 degC")
    assert written == sl.saturation("R-134a", temperature=278.15)
    assert written.dew.pressure > 3e5


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"pressure": "27 psi"}, "gauge or absolute"),
        ({"pressure": "27"}, "unit"),
        ({"temperature": True}, "not a quantity"),
        ({}, "either"),
    ],
)
def test_a_mistake_is_one_sentence(wrong: dict[str, object], words: str) -> None:
    with pytest.raises(JobError, match=words):
        sl.saturation("R-134a", **wrong)  # type: ignore[arg-type]


def test_a_combination_answers_as_the_command_does() -> None:
    build = sl.read_job(SEED).combination(**PARTS)
    cold = build.balance(room_temperature="10 degC")
    assert cold.steady.water < build.balance().steady.water
    assert cold.to_dict()["steady"]["suction_pressure_Pa"] == cold.steady.suction_pressure
    assert "suction gauge" in str(cold)
    assert "<table>" in cold._repr_html_()


def test_a_ranking_without_trial_runs_still_looks_for_floodback() -> None:
    ranking = sl.read_job(SEED).match(samples=0)
    assert len(ranking) == len(list(ranking)) > 20
    for found in ranking.answer.ranked:
        assert "flooding_back" in {v.key for v in found.verdicts}
    assert ranking[0].compressor in str(ranking).splitlines()[0]
    assert ranking.to_dict()["ranked"][0]["parts"]["compressor"] == ranking[0].compressor


@pytest.mark.parametrize(
    ("ask", "answers", "field"),
    [
        (sl.tightness, {"volume": "2 psi"}, "volume"),
        (sl.tightness, {"readings": [("0 h", "9 bar", "15 C")]}, "readings 1"),
        (sl.tightness, {"held": "300 g"}, "held, after"),
        (sl.tightness, {"limits": ["9 bar(g)"]}, "limits 1"),
        (sl.evacuation, {"pump": "2 cfm"}, "low_hose, high_hose"),
        (sl.evacuation, {"rise": ["5 min, 300 micron", "4 min, 310 micron"]}, "rise 2"),
        (sl.hose, {"refrigerant": "R-290", "hoses": ["4.8 mm, 1 m, gas"]}, "hoses 1"),
        (sl.hose, {"refrigerant": "R-290", "want": 900.0}, "want"),
        (sl.start_gear, {"capacitor": "108-88 uF, 125 V"}, "capacitor"),
        (sl.start_gear, {"draws": "many"}, "draws"),
        (sl.start_gear, {"device": "triac"}, "device"),
    ],
)
def test_a_mistake_at_the_bench_names_the_keyword(
    ask: Callable[..., object], answers: dict[str, object], field: str
) -> None:
    assert field.split(" ")[0].rstrip(",") in inspect.signature(ask).parameters
    with pytest.raises(JobError) as caught:
        ask(**answers)
    assert caught.value.field == field


def test_a_record_is_one_text_or_its_fields() -> None:
    written = sl.hose("R-290", hoses=["4.8 mm, 1 m, liquid"], want="0.2 kg")
    assert written == sl.hose("R-290", hoses=[(4.8e-3, 1.0, "liquid")], want=0.2)
    assert written == sl.hose(
        "R-290", hoses=[{"bore": "4.8 mm", "length": 1.0, "state": "liquid"}], want="200 g"
    )


def test_answers_plot() -> None:
    build = sl.read_job(SEED).combination(**PARTS)
    assert len(sl.plot(build.balance())) == 3


def test_names_that_fit_nothing_are_told() -> None:
    with pytest.raises(JobError, match="compressor"):
        sl.read_job(SEED).combination(compressor="no such one")


def machine(**changes: object) -> sl.Machine:
    coil = {
        "tube_outer_diameter": "3/8 in", "tubes_per_row": 10, "transverse_pitch": "25.4 mm",
        "longitudinal_pitch": "22 mm", "finned_length": "0.3 m", "fin_pitch": "14 fpi",
    }  # fmt: skip
    whole = sl.Machine(
        refrigerant="R-134a",
        compressor=sl.Compressor(kind="reciprocating", displacement="9 cc"),
        evaporator=sl.Coil(rows=2, **coil),  # type: ignore[arg-type]
        condenser=sl.Coil(rows=3, **coil),  # type: ignore[arg-type]
        expansion=sl.CapillaryTube(bore="1.2 mm", length="1.5 m"),
        air=sl.AirStream(
            temperature="20 degC", relative_humidity="60 %RH", flow="250 m3/h", fan_power="40 W"
        ),
    )
    return replace(whole, **changes)  # type: ignore[arg-type]


def test_a_machine_closes_its_energy_whatever_lets_the_liquid_down() -> None:
    outside = sl.AirStream(temperature="30 degC", relative_humidity=0.4, flow="500 m3/h")
    for changes, target in (
        ({}, {"superheat": "5 K"}),
        ({"expansion": sl.ThermostaticValve(port_area="1 mm2")}, {"subcooling": "5 K"}),
        ({"expansion": sl.AutomaticValve(port_area="1 mm2", setting="2 bar(g)")},
         {"subcooling": "5 K"}),
        ({"condenser_air": outside}, {"superheat": "5 K"}),
    ):  # fmt: skip
        state = machine(**changes).balance(**target)  # type: ignore[arg-type]
        # First law: heat given off is heat taken up and work, less what the shell loses.
        assert state.heating <= state.cooling + state.compressor_power
        assert state.heating > state.cooling


def test_a_machine_in_another_room_is_the_same_machine() -> None:
    here = machine()
    other = here.with_air(temperature="10 degC")
    assert other.air == replace(here.air, temperature="10 degC")
    assert replace(other, air=here.air) == here


def test_a_machine_wants_one_way_to_be_charged() -> None:
    with pytest.raises(JobError, match="needs a charge"):
        machine().balance()
    with pytest.raises(JobError, match="needs a charge"):
        machine().balance(charge="200 g", superheat="5 K")
    with pytest.raises(UnitError, match="mass"):
        machine().balance(charge="200 K")


def test_less_charge_starves_a_machine() -> None:
    full = machine().balance(superheat="5 K")
    short = machine().balance(charge=0.9 * full.charge, near=full)
    assert short.superheat > full.superheat
    assert short.suction_pressure < full.suction_pressure


def test_a_log_takes_what_the_command_takes(tmp_path: Path) -> None:
    path = tmp_path / "shed.log"
    with sl.open_log(path, new=True, refrigerant="R-134a", units="US") as log:
        written = log.add("14:10", "suction", "24 psig")
        log.add("14:00 suction 20 psig; added 12 oz")
        with pytest.raises(JobError, match="not understood"):
            log.add("14:20 head 150 psig; nonsense")
        with pytest.raises(JobError, match="nothing to write down"):
            log.add("done")
    assert [e.text for e in written.entries] == ["24 psig"]
    with sl.open_log(path) as log:
        assert [e.text for e in log.readings()] == ["20 psig", "24 psig"]
        assert len(log.contents().entries) == 3
        assert "24 psig" in str(log)


def test_charging_refuses_a_log_of_another_refrigerant() -> None:
    with sl.open_log(refrigerant="R-134a") as log, pytest.raises(JobError, match="R-134a"):
        sl.read_job(SEED).charging(log, **PARTS)

"""The command `start-gear`: mistakes in one sentence, and what every answer owes."""

import contextlib
import io
import json
from pathlib import Path
from typing import Any

import pytest

from sweatline.cli.main import main

SEED = str(Path(__file__).parents[2] / "examples" / "seed-store.toml")
GEAR = "start-gear"
ONE = (SEED, "--compressor", "1", "--refrigerant", "R-134a", "--capillary", "1", "--draws", "8")
REST = (
    *("--tube", "0.8 mm, 3 m", "--refrigerant", "R-134a", "--head", "9 bar(g)"),
    *("--suction", "1.5 bar(g)", "--high-volume", "0.8 L", "--low-volume", "1.5 L"),
)
CAP = ("--capacitor", "15 uF, 370 V")


def run(*arguments: str) -> tuple[int, str, list[str]]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main((GEAR, *arguments))
    told = [line for line in err.getvalue().splitlines() if not line.startswith("Compiling ")]
    return code, out.getvalue(), told


def record(*arguments: str) -> dict[str, Any]:
    code, out, err = run(*arguments, "--json")
    assert code == 0, err
    found: dict[str, Any] = json.loads(out)
    return found


@pytest.fixture(autouse=True)
def not_debugging(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SWEATLINE_DEBUG", raising=False)


MISTAKES: tuple[tuple[tuple[str, ...], int, tuple[str, ...]], ...] = (
    ((), 2, ("--capacitor", "--device")),
    (("--amps", "1.8"), 2, ("--amps", "without a unit")),
    (("--volts", "230 V", "--amps", "1.9 A", "--watts", "500 W"), 3, ("power factor", "wrong")),
    (("--capacitor", "15 uF"), 2, ("--capacitor", "capacitance, voltage")),
    (("--capacitor", "108-88 uF, 125 V"), 2, ("backwards",)),
    (("--capacitor", "15 F, 370 V"), 2, ("--capacitor", "not believable here")),
    (("--reads", "14 uF"), 2, ("--reads", "--capacitor")),
    ((*CAP, "--instead", "15 uF"), 2, ("--instead", "capacitance, voltage")),
    ((*CAP, "--resistor", "1 ohm"), 2, ("--resistor",)),
    (("--cord", "15 m"), 2, ("--cord", "length, wire")),
    (("--cord", "15 m, thick"), 2, ("--cord",)),
    (("--cord", "15 m, 14 AWG"), 2, ("--volts",)),
    (("--cord", "15 m, 14 AWG", "--volts", "115 V"), 2, ("--plate-amps",)),
    (("--cord", "15 m, 50 AWG", "--volts", "115 V", "--plate-amps", "5 A"), 3, ("gauge",)),
    (("--motor", "1/4 hp"), 2, ("--plate-volts",)),
    (("--device", "triac"), 2, ("triac", "ptc")),
    (("--device", "ptc", "--torque", "high"), 2, ("--torque", "start capacitor")),
    (("--off-time", "3 min"), 2, ("--off-time", "--tube")),
    (REST[:2], 2, ("--refrigerant",)),
    (REST[:4], 2, ("--head",)),
    ((*REST[:4], "--head", "1 bar(g)", *REST[6:]), 2, ("--head", "not above")),
    ((*REST, "--liquid", "5 kg"), 2, ("--liquid", "does not go into")),
    ((*ONE, "--head", "9 bar(g)"), 2, ("--head", "--suction")),
    ((*ONE, "--altitude", "10 m"), 2, ("--altitude",)),
    (("--device", "ptc", "--compressor", "1"), 2, ("--compressor", "none")),
)


@pytest.mark.parametrize(("typed", "code", "words"), MISTAKES)
def test_a_mistake_about_start_gear_is_one_sentence(
    typed: tuple[str, ...], code: int, words: tuple[str, ...]
) -> None:
    found, out, err = run(*typed)
    assert (found, out) == (code, ""), err
    (line,) = err
    for word in words:
        assert word in line


@pytest.mark.parametrize("typed", [CAP, ("--device", "ptc"), ("--amps", "2 A"), REST])
def test_every_answer_tells_to_drain_and_to_replace_like_for_like(typed: tuple[str, ...]) -> None:
    _, out, err = run(*typed)
    assert not err
    said = " ".join(out.split())
    assert "drain capacitors through a resistor" in said
    assert "only by the identical type" in said
    assert "replaces neither the plate nor the law" in said


def test_an_unknown_gas_is_warned_of_as_a_flammable_one() -> None:
    keys = {c["key"] for c in record(*CAP)["cautions"]}
    assert {"isolate", "like-for-like", "vacuum-no-power", "no-approval"} <= keys
    assert "like-for-like" not in {
        c["key"] for c in record(*CAP, "--refrigerant", "R-134a")["cautions"]
    }


def test_no_screwdriver() -> None:
    _, out, _ = run(*CAP)
    said = " ".join(out.split())
    assert "never a screwdriver" in said
    assert "the meter decides" in said


def test_a_motor_of_low_torque_needs_time_and_a_ptc_needs_more() -> None:
    soon = record(*REST, "--torque", "low", "--device", "current", "--off-time", "1 s")
    late = record(*REST, "--torque", "low", "--device", "current", "--off-time", "2 h")
    hot = record(*REST, "--device", "ptc", "--off-time", "4 min")
    assert soon["equalising"]["verdict"] == "wrong"
    assert soon["equalising"]["chance_start"] == 0.0
    assert late["equalising"]["verdict"] == "ok"
    assert late["equalising"]["chance_start"] == 1.0
    assert hot["relay"]["starting_torque"] == "low"
    assert hot["equalising"]["chance_start"] == 0.0
    high = record(*REST, "--device", "potential", "--off-time", "1 s")["equalising"]
    assert (high["verdict"], high["chance_start"]) == ("ok", None)
    unnamed = record(*REST, "--torque", "low", "--off-time", "4 min")["equalising"]
    assert (unnamed["verdict"], unnamed["chance_start"]) == ("marginal", None)
    # What plainly cannot start is not in doubt because its start device is not named.
    at_once = record(*REST, "--torque", "low", "--off-time", "1 s")["equalising"]
    assert at_once["verdict"] == "wrong"
    apart = ("--standing-head", "4 bar(g)", "--standing-suction", "1 bar(g)")
    _, out, _ = run("--torque", "low", "--off-time", "1 min", *apart)
    assert out.startswith("FAULT: The sides are not equal yet, let it stand")
    more = record(*REST, "--liquid", "150 g")["equalising"]["time_s"]
    assert more["middle"] > soon["equalising"]["time_s"]["middle"]


def test_readings_are_held_against_the_plate_with_the_meter_s_error() -> None:
    plate = ("--plate-volts", "230 V", "--plate-amps", "1.9 A", "--plate-watts", "290 W")
    read = ("--volts", "230 V", "--amps", "1.9 A", "--watts", "290 W")
    even = record(*read, *plate)["motor"]
    assert even["power_factor"] == pytest.approx(290.0 / (230.0 * 1.9))
    assert even["chance_watts_over"] == pytest.approx(0.5)
    assert even["verdict"] == "marginal"
    well = record("--volts", "230 V", "--amps", "1.5 A", "--watts", "220 W", *plate)["motor"]
    assert well["verdict"] == "ok"
    ill = record("--volts", "230 V", "--amps", "2.6 A", "--watts", "300 W", *plate)
    assert ill["motor"]["verdict"] == "wrong"
    assert any("run capacitor" in note for note in ill["notes"])
    assert record("--volts", "230 V")["motor"] is None
    assert record("--volts", "200 V", *plate)["motor"]["supply"]["holds"] is False
    low = record("--volts", "200 V", "--amps", "1.9 A", *plate)["motor"]
    assert low["supply"]["holds"] is False


def test_a_thin_long_cord_is_told() -> None:
    plate = ("--plate-volts", "115 V", "--plate-amps", "6 A")
    thin = record("--cord", "100 ft, 18 AWG", *plate)["cord"]
    thick = record("--cord", "15 ft, 12 AWG", *plate)["cord"]
    assert not thin["running"]["holds"]
    assert thick["running"]["holds"]
    assert thin["drop"]["starting_torque"][1] < thick["drop"]["starting_torque"][1]


def test_a_job_gives_load_and_rest_and_the_fan_is_told_apart() -> None:
    motor = record(*ONE, "--watts", "320 W")["motor"]
    assert motor["plate_power_W"] == 290.0
    assert motor["verdict"] == "wrong"
    # Thirty-two trial runs: the ends of a range of eight are no quantiles yet.
    found = record(*ONE[:-1], "32", "--watts", "320 W", "--at-plug", "--off-time", "10 min")
    assert found["motor"]["plate_power_W"] == 420.0
    assert found["motor"]["verdict"] == "ok"
    load = found["pull_down"]
    for end in ("low", "middle", "high"):
        assert load["hardest_power_W"][end] >= load["settled_power_W"][end]
        watts, amps = load["settled_power_W"][end], load["settled_current_A"][end]
        assert 230.0 * amps > watts  # no power factor above one
        assert load["hardest_current_A"][end] >= amps
    # Its plate's 1.9 A belong to 290 W; with less load the power factor falls.
    middle, amps = load["settled_power_W"]["middle"], load["settled_current_A"]["middle"]
    assert amps * 290.0 / (middle * 1.9) == pytest.approx(1.0, abs=0.25)
    assert (middle < 290.0) == (amps * 290.0 > middle * 1.9)
    rest = found["equalising"]
    assert rest["sides"]["high_pressure_Pa"] > rest["sides"]["low_pressure_Pa"]
    assert 0.0 < rest["time_s"]["low"] < rest["time_s"]["high"]
    assert rest["verdict"] == "ok"


def test_a_job_that_knows_a_motor_by_its_size_alone_is_answered(tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "examples" / "boat-shed.toml").read_text("utf-8")
    plate = 'rated_voltage = "115 V"\nrated_current = "2.6 A"'
    job = tmp_path / "sized.toml"
    job.write_text(text.replace(plate, 'motor_size = "1/4 hp"'), "utf-8")
    found = record(str(job), "--refrigerant", "R-134a", "--capillary", "reel", "--draws", "8")
    assert found["usual_start_size"] is not None
    assert any("start capacitor is for that of the supply" in note for note in found["notes"])


def test_a_plate_of_amps_judges_the_load() -> None:
    boat = str(Path(__file__).parents[2] / "examples" / "boat-shed.toml")
    parts = ("--refrigerant", "R-134a", "--capillary", "reel", "--draws", "8")
    load = record(boat, *parts)["pull_down"]
    assert load["plate_power_W"] is None
    assert load["plate_current_A"] == pytest.approx(2.6, rel=0.03)
    assert load["verdict"] in ("marginal", "wrong")


def test_a_type_that_is_named_stands_before_the_torque_of_the_job() -> None:
    """PUBLISHED: universal motors of one household range start low or high, by their gear."""
    plain, named = record(*ONE), record(*ONE, "--motor-kind", "csir")
    assert plain["relay"]["starting_torque"] == "low"
    assert named["relay"]["starting_torque"] == "high"
    assert named["rest"] is None
    assert [m["kind"] for m in named["to_fit"]["motors"]] == ["csir"]
    assert any("the job calls the starting torque low" in note for note in named["notes"])
    assert not any("the job calls" in note for note in plain["notes"])

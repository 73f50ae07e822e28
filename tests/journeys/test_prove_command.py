"""A machine is proved: a log kept by commands, the answer first, mistakes in one sentence."""

from __future__ import annotations

import contextlib
import io
import json
from pathlib import Path

import pytest

import sweatline as sl
from sweatline.cli.main import main
from sweatline.cli.schemas import read_back

SEED = str(Path(__file__).parents[2] / "examples" / "seed-store.toml")
BOAT = str(Path(__file__).parents[2] / "examples" / "boat-shed.toml")
PARTS = (
    "--compressor", "drinks cooler", "--refrigerant", "R-513A", "--capillary", "1.4 on the reel",
)  # fmt: skip
DAY = "2026-05-02"
# Every reading with what it does in ten minutes.
STILL = {
    "suction-gauge": (2.36, "bar(g)"),
    "head-gauge": (6.5, "bar(g)"),
    "suction-gas": (5.5, "C"),
    "liquid-line": (21.0, "C"),
    "air-in": (15.2, "C"),
    "room-humidity": (74.0, "%RH"),
    "watts": (284.0, "W"),
}


def typed(*arguments: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(list(arguments))
    return code, out.getvalue(), err.getvalue()


def write(path: str, at: str, *words: str) -> None:
    code, _out, err = typed("log", *words[:1], path, *words[1:], "--at", f"{DAY} {at}")
    assert code == 0, err


@pytest.fixture
def log(tmp_path: Path) -> str:
    path = str(tmp_path / "run.log")
    code, _out, err = typed("log", "new", path, "--altitude", "640 m", "--refrigerant", "R-513A")
    assert code == 0, err
    write(path, "08:00", "event", "started")
    for minute in (45, 50, 55):
        for channel, (value, unit) in STILL.items():
            write(path, f"09:{minute}", "read", channel, f"{value} {unit}")
    write(path, "09:00", "read", "water", "0.10 L")
    write(path, "10:00", "read", "water", "0.63 L")
    return path


def test_a_proof_tells_the_answer_first(log: str) -> None:
    code, out, err = typed("prove", SEED, log, *PARTS)
    assert code == 0, err
    first, second, *_rest = out.splitlines()
    assert first == "It does what this build should do: water 13 L/day, 1.9 L/kWh."
    assert second.startswith("  Everything that was read lies inside its likely range")
    for told in ("superheat", "subcooling", "water in an hour", "Heat balance", "Steady",
                 "no certified rating", "From the log"):  # fmt: skip
        assert told in out, told


def test_its_json_is_what_its_schema_says_and_what_a_script_gets(log: str) -> None:
    code, out, err = typed("prove", SEED, log, *PARTS, "--json")
    assert code == 0, err
    read_back("prove", out)
    found = json.loads(out)
    build = sl.read_job(SEED).combination(
        compressor="drinks cooler", refrigerant="R-513A", capillary="1.4 on the reel"
    )
    answer = build.prove(log)
    assert answer.verdict == found["verdict"] == "passes"
    assert found["water_kg_per_s"]["middle"] == answer.to_dict()["water_kg_per_s"]["middle"]
    assert found["steadiness"]["verdict"] == "steady"
    assert {one["source"] for one in found["taken"] if one["entries"]} == {"log"}


def test_what_is_typed_beats_the_log(log: str) -> None:
    code, out, err = typed("prove", SEED, log, *PARTS, "--water", "0.2 L in 1 h", "--json")
    assert code == 0, err
    found = json.loads(out)
    assert found["verdict"] == "fails"
    assert "water" in found["reason"]


def test_a_dose_makes_it_wait(log: str) -> None:
    write(log, "10:02", "added", "10 g")
    write(log, "10:05", "read", "watts", "285 W")
    code, out, err = typed("prove", SEED, log, *PARTS)
    assert code == 0, err
    assert out.startswith("These readings do not count yet")
    assert "its charge was changed at" in " ".join(out.split())
    assert "In the rooms of the test procedures" not in out


def test_an_american_without_a_scale(log: str) -> None:
    code, out, err = typed(
        "prove", BOAT, "--compressor", "1", "--refrigerant", "R-134a", "--capillary", "1",
        "--water", "a cup in 25 min", "--watts", "270 W", "--air-in", "62 F",
    )  # fmt: skip
    assert code == 0, err
    assert "pints/day" in out
    assert "fl oz" in out
    assert "L/day" not in out
    assert "°C" not in out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "--water: nothing of the machine was read"),
        (("--water", "0.7 L"), "--water: amount and time belong here"),
        (("--water", "0.7 L in 2 h", "--watts", "284"), "--watts"),
        (("--suction-gauge", "9 bar(g)", "--head-gauge", "2 bar(g)"), "hoses swapped"),
        (("no-such.log",), "no-such.log"),
    ],
)
def test_a_mistake_is_one_sentence(arguments: tuple[str, ...], said: str) -> None:
    code, out, err = typed("prove", SEED, *arguments, *PARTS)
    assert code != 0
    assert out == ""
    assert said in err
    assert len(err.strip().splitlines()) == 1

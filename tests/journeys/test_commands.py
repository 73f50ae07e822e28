"""What a person does with the command: a look-up, a job checked, matched, cut, filled, mapped."""

import contextlib
import functools
import io
import json
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

import sweatline
import sweatline.season.worth
import sweatline.season.year
from sweatline.cli.main import main
from sweatline.cli.schemas import COMMANDS, read_back, schema
from sweatline.cli.terminal import listing
from sweatline.job.model import Job
from sweatline.machine.circuit import Inventory

EXAMPLES = Path(__file__).parents[2] / "examples"
BOAT = str(EXAMPLES / "boat-shed.toml")
SEED = str(EXAMPLES / "seed-store.toml")
TIMBER = str(EXAMPLES / "timber-store.toml")
ONE = ("--refrigerant", "R-134a", "--capillary", "reel")

ROWS = str(Path(tempfile.mkdtemp()) / "rows")
STORE = ("--compressor", "1", "--refrigerant", "R-134a", "--capillary", "1")

QUESTIONS: dict[str, tuple[str, ...]] = {
    "check": ("check", BOAT),
    "saturation": ("saturation", "R-134a", "--pressure", "27 psig"),
    "refrigerants": ("refrigerants",),
    "capillary": (
        *("capillary", "--refrigerant", "R-134a", "--bore", "0.042 in", "--length", "8 ft"),
        *("--inlet-pressure", "150 psig", "--subcooling", "8 K", "--outlet-pressure", "27 psig"),
    ),
    "calibrate": ("calibrate", TIMBER, "--capillary", "1.5 on the reel", "--draws", "8"),
    "balance": ("balance", BOAT, *ONE, "--draws", "8"),
    "match": ("match", BOAT, "--draws", "4", "--top", "1"),
    "metering": ("metering", BOAT, "--refrigerant", "R-134a"),
    "charge-curve": ("charge-curve", BOAT, *ONE),
    "room-map": (
        *("room-map", BOAT, *ONE, "--temperatures", "6:26:10 C", "--humidities", "40:90:25 %"),
    ),
    "frost": ("frost", BOAT, *ONE, "--room-temperature", "42 F"),
    "year": ("year", TIMBER, *STORE, "--draws", "8"),
    "worth": ("worth", TIMBER, *STORE, "--draws", "8"),
    "sweep": (
        "sweep",
        str(EXAMPLES / "studies" / "shelf-study.toml"),
        "--into",
        ROWS,
        "--top",
        "2",
    ),
    "diagnose": (
        *("diagnose", BOAT, *ONE),
        "suction 18 psig; head 120 psig; suction-gas 60 F; liquid-line 75 F; watts 380 W",
    ),
    "practice": ("practice", BOAT, *ONE, "--by", "habit", "--fault", "gauge"),
    "tightness": (
        *("tightness", SEED, "--compressor", "1", "--refrigerant", "R-134a"),
        *("--pressure", "10 bar(g)"),
        *("--reading", "0 h, 9.9 bar(g), 16 C", "--reading", "20 h, 9.7 bar(g), 15 C"),
        *("--held", "330 g", "--after", "2 yr"),
    ),
    "evacuation": (
        *("evacuation", BOAT, "--compressor", "1", "--pump", "3 cfm", "--refrigerant", "R-134a"),
        *("--low-hose", "4.8 mm, 1.5 m", "--low-hose", "1.6 mm, 12 mm", "--water", "1 g"),
        *("--rise", "0 min, 300 micron", "--rise", "5 min, 420 micron"),
        *("--rise", "15 min, 660 micron"),
    ),
    "hose": (
        *("hose", SEED, "--refrigerant", "R-290", "--hose", "4.8 mm, 0.9 m, mixed"),
        *("--container", "1250 g, 1180 g", "--container", "800 g, 740 g", "--want", "120 g"),
        *("--cylinder-pressure", "5.5 bar(g)", "--fuel", "--cylinder-volume", "1 L"),
        *("--fill", "300 g"),
    ),
    "prove": (
        *("prove", BOAT, *ONE, "--water", "2 pints in 3 h", "--watts", "310 W", "--draws", "16"),
        *("--suction-gauge", "20 psig", "--head-gauge", "110 psig", "--liquid-line", "80 F"),
        *("--air-in", "65 F", "--room-humidity", "70 %RH", "--air-out", "85 F"),
    ),
    "start-gear": (
        *("start-gear", SEED, "--compressor", "1", "--refrigerant", "R-134a", "--capillary", "1"),
        *("--amps", "1.8 A", "--watts", "300 W", "--cord", "12 m, 1.5 mm2", "--off-time", "3 min"),
        *("--device", "ptc", "--capacitor", "5 uF, 400 V", "--reads", "4.4 uF", "--draws", "8"),
    ),
}
ON_A_MACHINE = (
    *("calibrate", "balance", "match", "metering", "charge-curve", "room-map", "frost"),
    *("year", "worth"),
    *("tightness", "evacuation", "hose", "start-gear", "prove"),
)


@dataclass(frozen=True)
class Run:
    """What one command left behind."""

    code: int
    out: str
    err: str


@functools.cache
def run(*arguments: str) -> Run:
    """A command in this process; the same one is run once only."""
    return run_anew(*arguments)


def run_anew(*arguments: str) -> Run:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(arguments)
    return Run(code, out.getvalue(), err.getvalue())


def from_shell(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", "sweatline.cli.main", *arguments],
        env=os.environ | environment,
        capture_output=True,
        text=True,
        check=False,
        encoding="utf-8",
    )


@pytest.fixture(scope="module", autouse=True)
def _asked_once() -> Iterator[None]:
    """A year, and its worth, are computed once for the text and for the JSON of a question."""
    with pytest.MonkeyPatch.context() as patch:
        for module, name in ((sweatline.season.year, "year"), (sweatline.season.worth, "worth")):
            patch.setattr(module, name, _kept(getattr(module, name)))
        yield


def _kept(answer: Callable[..., Any]) -> Callable[..., Any]:
    known: dict[tuple[str, Any], Any] = {}

    def once(job: Job, asked: Any, **how: Any) -> Any:
        key = job.digest, asked
        if key not in known:
            known[key] = answer(job, asked, **how)
        return known[key]

    return once


@pytest.fixture(autouse=True)
def eighty_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    monkeypatch.delenv("SWEATLINE_DEBUG", raising=False)


# What every command owes to whoever runs it.


@pytest.mark.parametrize("command", QUESTIONS)
def test_the_answer_is_plain_text_in_eighty_columns(command: str) -> None:
    done = run(*QUESTIONS[command])
    assert done.code == 0, done.err
    lines = done.out.splitlines()
    assert max(len(line) for line in lines) <= 80
    assert all(line == line.rstrip() for line in lines)
    assert "\x1b" not in done.out
    assert "nan" not in done.out.split()
    assert "None" not in done.out
    assert "\n\n\n" not in done.out


def test_a_list_of_nothing_takes_no_line(capsys: pytest.CaptureFixture[str]) -> None:
    listing(())
    assert capsys.readouterr().out == ""


def test_a_narrow_terminal_wraps_words_and_cuts_no_number(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    assert max(map(len, run_anew("check", SEED).out.splitlines())) <= 60
    assert "…" not in run_anew("check", SEED, "--details").out
    curve = run_anew("charge-curve", SEED, *STORE, "--draws", "0").out
    assert "…" not in curve
    assert max(map(len, curve.splitlines())) > 60  # a table runs over


@pytest.mark.parametrize("command", QUESTIONS)
def test_json_goes_back_through_its_own_types_and_its_published_schema(command: str) -> None:
    done = run(*QUESTIONS[command], "--json")
    assert done.code == 0, done.err
    record = read_back(command, done.out)
    assert record.command == command
    assert record.version == sweatline.__version__
    published = json.loads(run("schema", command).out)
    assert published == schema(command)
    assert list(complaints(json.loads(done.out), published, published)) == []


@pytest.mark.parametrize("command", QUESTIONS)
def test_the_schema_refuses_what_is_no_such_record(command: str) -> None:
    published = schema(command)
    record = json.loads(run(*QUESTIONS[command], "--json").out)
    for spoilt in (
        {**record, "extra": 1},
        {k: v for k, v in record.items() if k != "version"},
        {**record, "version": 1},
    ):
        assert list(complaints(spoilt, published, published))


@pytest.mark.parametrize("command", [*QUESTIONS, "schema"])
def test_every_command_has_help(command: str) -> None:
    done = run(command, "--help")
    assert done.code == 0
    assert done.out.startswith("Usage: sweatline " + command)
    assert ("\n  --json " in done.out) is (command != "schema")


@pytest.mark.parametrize("command", ON_A_MACHINE)
def test_cautions_end_with_who_decides(command: str) -> None:
    told = run(*QUESTIONS[command]).out
    assert " ".join(told.split()).endswith("Local codes and licensed practice decide.")
    record = json.loads(run(*QUESTIONS[command], "--json").out)
    assert record["cautions"][-1]["key"] == "no-approval"
    kept = [c["stop"] for c in record["cautions"]]
    assert kept == sorted(kept, reverse=True)


NARROW_RISE = (
    *QUESTIONS["evacuation"][: QUESTIONS["evacuation"].index("--rise")],
    *("--rise", "0 min, 300 micron", "--rise", "5 min, 330 micron", "--rise", "10 min, 345 micron"),
)


@pytest.mark.parametrize(
    ("question", "step"),
    [
        (
            QUESTIONS["evacuation"],
            r"three more looks, evenly spread, the last [\d.]+ (min|h) after the valve was shut; "
            r"enough in \d of 10 such cases",
        ),
        (
            NARROW_RISE,
            r"dry nitrogen at [\d.]+ psig for [\d.]+ h, read before and after; shows 9 in 10 of "
            "the leaks that may be behind this rise",
        ),
    ],
    ids=["looks", "nitrogen"],
)
def test_a_rise_left_undecided_says_what_decides(question: tuple[str, ...], step: str) -> None:
    told = " ".join(run(*question).out.split())
    assert told.startswith("Undecided:")
    assert re.search("what decides " + step, told)


def keys(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from keys(inner)


_UNITLESS = re.compile(r"pressure|temperature|length|bore|charge|water|power|flow")
_UNIT = re.compile(
    r"_(Pa|K|m|kg|W|kg_per_s|kg_per_J|kg_per_kg|kg_per_m3|m3|J_per_kg|m_per_s|mm|bore|bore_m|tube)$"
)
_WORDS = {"charged_to", "charge_as", "flow_change_per_20_um_bore", "flow_change_per_10_mm"}
_WORDS |= {"power_factor", "plate_power_factor"}  # ratios
_WORDS |= set(Inventory._fields)  # of charge_by_place_kg, which has the unit


@pytest.mark.parametrize("command", QUESTIONS)
def test_keys_of_quantities_end_in_their_unit(command: str) -> None:
    published = schema(command)
    tables = [published, *published.get("$defs", {}).values()]
    named = {key: rule for table in tables for key, rule in table.get("properties", {}).items()}
    for key, rule in named.items():
        numeric = '"number"' in json.dumps(rule) and "$ref" not in json.dumps(rule)
        if numeric and _UNITLESS.search(key) and key not in _WORDS:
            assert _UNIT.search(key), key


# A small validator of the part of JSON schema that is published.


def complaints(value: Any, rule: Any, root: Any, where: str = "") -> Iterator[str]:
    """What a schema has against a value; names every keyword it does not know."""
    known = {
        *("$ref", "$defs", "$schema", "anyOf", "type", "enum", "const", "properties", "required"),
        *("additionalProperties", "items", "title", "description"),
    }
    assert set(rule) <= known, set(rule) - known
    if "$ref" in rule:
        yield from complaints(value, root["$defs"][rule["$ref"].rpartition("/")[2]], root, where)
    if "anyOf" in rule and all(list(complaints(value, r, root, where)) for r in rule["anyOf"]):
        yield f"{where}: fits none of its kinds"
    if "enum" in rule and value not in rule["enum"]:
        yield f"{where}: not one of {rule['enum']}"
    if "const" in rule and value != rule["const"]:
        yield f"{where}: not {rule['const']}"
    kinds = {
        "object": dict,
        "array": list,
        "string": str,
        "boolean": bool,
        "null": type(None),
        "number": (int, float),
        "integer": int,
    }
    if "type" in rule:
        kind = rule["type"]
        if not isinstance(value, kinds[kind]) or (isinstance(value, bool) and kind != "boolean"):
            yield f"{where}: not of type {kind}"
            return
    if isinstance(value, dict) and rule.get("type") == "object":
        for name in rule.get("required", []):
            if name not in value:
                yield f"{where}.{name}: missing"
        for name, inner in value.items():
            further = rule.get("properties", {}).get(name, rule.get("additionalProperties", {}))
            if further is False:
                yield f"{where}.{name}: unknown"
            elif further is not True:
                yield from complaints(inner, further, root, f"{where}.{name}")
    if isinstance(value, list):
        for i, inner in enumerate(value):
            yield from complaints(inner, rule.get("items", {}), root, f"{where}[{i}]")


# A look at a gauge, before anything is on the bench.


def test_a_gauge_reading_becomes_a_temperature_in_the_units_it_was_read_in() -> None:
    told = run(*QUESTIONS["saturation"]).out
    assert "31.1 °F" in told  # R-134a boils at 31.1 °F at 27 psig on every printed chart
    assert "27.0 psig" in told
    assert "41.7 psia" in told
    assert "class A1" in told
    metric = run("saturation", "R-134a", "--pressure", "27 psig", "--units", "si").out
    assert "1.86 bar(g)" in metric
    assert "-0.5 °C" in metric


def test_altitude_moves_the_zero_of_the_gauge() -> None:
    sea = json.loads(run("saturation", "R-134a", "--pressure", "2 bar(g)", "--json").out)
    high = json.loads(
        run("saturation", "R-134a", "--pressure", "2 bar(g)", "--altitude", "2000 m", "--json").out
    )
    assert sea["dew"]["pressure_Pa"] == pytest.approx(301325.0)
    assert high["dew"]["pressure_Pa"] == pytest.approx(279500.0, rel=1e-3)
    absolute = json.loads(
        run("saturation", "R-134a", "--pressure", "3 bar(a)", "--altitude", "2000 m", "--json").out
    )
    assert absolute["dew"]["pressure_Pa"] == pytest.approx(3e5)


def test_a_blend_is_told_with_bubble_and_dew_and_what_counts_from_where() -> None:
    told = run("saturation", "R-407C", "--pressure", "4 bar(g)").out
    assert "bubble" in told
    assert "dew" in told
    assert "Superheat is counted from dew, subcooling from bubble." in told
    pure = run("saturation", "R-134a", "--pressure", "4 bar(g)").out
    assert "bubble" not in pure


def test_temperature_and_pressure_lead_back_to_each_other() -> None:
    first = json.loads(run("saturation", "R-454C", "--temperature", "5 C", "--json").out)
    assert first["bubble"]["temperature_K"] == pytest.approx(278.15)
    assert first["dew"]["temperature_K"] == pytest.approx(278.15)
    kpa = f"{first['dew']['pressure_Pa'] / 1e3!r} kPa abs"
    second = json.loads(run("saturation", "R-454C", "--pressure", kpa, "--json").out)
    assert second["dew"]["temperature_K"] == pytest.approx(278.15, abs=1e-6)
    assert second["bubble"]["temperature_K"] == pytest.approx(278.15 - second["glide_K"], abs=1e-6)


def test_a_flammable_refrigerant_is_told_as_one() -> None:
    told = " ".join(run("saturation", "propane", "--temperature", "0 C").out.split())
    assert "R-290, safety class A3" in told
    assert "burns" in told


def test_the_list_of_refrigerants_has_class_oil_and_doubt() -> None:
    record = json.loads(run("refrigerants", "--json").out)
    rows = {r["name"]: r for r in record["refrigerants"]}
    assert all(r["tabulated"] for r in rows.values())
    line = next(s for s in run("refrigerants").out.splitlines() if s.strip().startswith("R-1270"))
    assert "A3" in line
    assert rows["R-1270"]["status"]["lfl"] == "CONFLICT"
    assert "42?" in line


# One tube by itself.


def test_length_and_flow_of_a_tube_lead_back_to_each_other() -> None:
    asked = json.loads(run(*QUESTIONS["capillary"], "--json").out)
    flow = f"{asked['mass_flow_kg_per_s'] * 3600.0!r} kg/h"
    back = json.loads(
        run(
            *("capillary", "--refrigerant", "R-134a", "--bore", "0.042 in", "--flow", flow),
            *("--inlet-pressure", "150 psig", "--subcooling", "8 K"),
            *("--outlet-pressure", "27 psig", "--json"),
        ).out
    )
    assert back["length_m"] == pytest.approx(8 * 0.3048, rel=1e-6)
    assert back["length_band_m"]["low"] < back["length_m"] < back["length_band_m"]["high"]
    assert asked["mass_flow_band_kg_per_s"]["low"] < asked["mass_flow_kg_per_s"]
    assert [o["within_range"] for o in asked["opinions"]] == [True, True]


def test_gas_at_the_entrance_lessens_the_flow_and_leaves_no_second_opinion_in_range() -> None:
    base = QUESTIONS["capillary"]
    with_gas = tuple({"--subcooling": "--quality", "8 K": "0.08"}.get(word, word) for word in base)
    wet, gassy = (json.loads(run(*q, "--json").out) for q in (base, with_gas))
    assert gassy["mass_flow_kg_per_s"] < wet["mass_flow_kg_per_s"]
    assert gassy["liquid_length_m"] == 0.0
    assert [o["within_range"] for o in gassy["opinions"]] == [False, False]
    assert "outside of that here" in " ".join(run(*with_gas).out.split())


def test_liquid_all_through_a_tube_is_told_without_second_opinions() -> None:
    cold = tuple({"8 K": "70 K"}.get(word, word) for word in QUESTIONS["capillary"])
    record = json.loads(run(*cold, "--json").out)
    assert record["choked"] is False
    assert record["liquid_length_m"] == pytest.approx(record["length_m"])
    assert [o["mass_flow_kg_per_s"] for o in record["opinions"]] == [None, None]


# A job: checked, matched, cut, filled, carried through other rooms.


def test_check_tells_what_to_measure_first_and_what_is_assumed() -> None:
    told = run("check", BOAT).out
    record = json.loads(run("check", BOAT, "--json").out)
    assumed = record["assumed"]
    assert f"{len(assumed)} values are assumed" in " ".join(told.split())
    tail = " ".join(told.partition("Assumed, because nobody wrote it")[2].split())
    for item in record["items"]:
        if item["key"] in assumed:
            assert item["label"] in tail
    flat = " ".join(told.split())
    for one in record["measure_first"]:
        assert f"{one['moves']} ± {one['percent']:.0f} %. Better: {one['how']}." in flat


@pytest.mark.parametrize("job", ["boat-shed", "seed-store", "timber-store"])
def test_check_is_short_and_the_rest_stands_behind_details(job: str) -> None:
    path = str(EXAMPLES / f"{job}.toml")
    short, long = run("check", path).out, run("check", path, "--details").out
    assert short.count("\n") <= 40
    assert all(len(line) <= 80 for line in (short + long).split("\n"))
    record = json.loads(run("check", path, "--json").out)
    flat = " ".join(long.split())
    for item in record["items"]:
        assert item["label"].split()[0] in flat
    if job == "boat-shed":
        assert "64.0 °F" in long
        assert "thermometer, 0.9 °F" in long


def test_match_ranks_every_combination_and_says_why_each_other_one_loses() -> None:
    record = json.loads(run(*QUESTIONS["match"], "--json").out)
    assert record["complete"] is True
    assert record["combinations"] == record["finished"] == 4
    assert len(record["ranked"]) + len(record["lost"]) == 4
    sure = [(c["stopped"], -c["dependable_water_kg_per_s"]) for c in record["ranked"]]
    assert sure == sorted(sure)
    assert "--top 4 lists all" in run(*QUESTIONS["match"]).out
    told = run(*QUESTIONS["match"], "--details").out
    losers = told.partition("Why the others lose")[2].partition("Cautions")[0]
    for rank in range(2, len(record["ranked"]) + 1):  # the table is short, the reasons are not
        assert re.search(rf"^ +{rank} ", losers, re.MULTILINE)


def test_safety_comes_first_and_no_option_hides_it() -> None:
    for question in (QUESTIONS["match"], QUESTIONS["balance"]):
        told = run(*question).out
        record = json.loads(run(*question, "--json").out)
        verdicts = record.get("verdicts") or record["ranked"][0]["verdicts"]
        safety = [v["fault"] for v in verdicts if v["safety"]]
        assert safety
        part = " ".join(told.partition("\nSafety\n")[2].partition("\nWorking\n")[0].split())
        assert all(fault in part for fault in safety)
        flags = [v["safety"] for v in verdicts]
        assert flags == sorted(flags, reverse=True)


def test_a_charge_above_the_rooms_limit_stops_a_rebuild(tmp_path: Path) -> None:
    cupboard = tmp_path / "cupboard.toml"
    text = Path(BOAT).read_text(encoding="utf-8")
    text = text.replace('floor_area = "300 ft2"', 'floor_area = "6 ft2"')
    text = text.replace('["R-134a", "R-290"]', '["R-290"]')
    text = text.replace('altitude = "580 ft"', 'altitude = "580 ft"\ncountry = "US"')
    cupboard.write_text(text, encoding="utf-8")
    question = ("match", str(cupboard), "--draws", "0", "--top", "1")
    told = run(*question).out
    assert "None may be built as it stands" in told
    assert "STOP:" in told
    record = json.loads(run(*question, "--json").out)
    assert all(c["stopped"] for c in record["ranked"])
    plain = " ".join(told.split())
    assert "The rebuild must not go ahead with this." in plain


def test_balance_tells_numbers_ranges_and_where_the_charge_is() -> None:
    told = run(*QUESTIONS["balance"]).out
    record = json.loads(run(*QUESTIONS["balance"], "--json").out)
    for words in ("suction gauge", "head gauge", "superheat", "coldest coil surface", "water"):
        assert words in told
    steady = record["steady"]
    total = sum(steady["charge_by_place_kg"].values())
    assert total == pytest.approx(steady["charge_kg"], rel=1e-9)
    assert steady["superheat_K"] == pytest.approx(record["job"]["target_superheat_K"], abs=1e-3)
    assert "as wanted" in told
    assert set(record["bands"]) <= set(steady)
    for band in record["bands"].values():
        assert band["low"] <= band["middle"] <= band["high"]
    for shares in record["shares"].values():
        assert sum(s["share"] for s in shares) <= 1.0 + 1e-9


def test_a_calibration_shows_before_and_after_and_what_it_does_to_the_rebuild() -> None:
    short = run(*QUESTIONS["calibrate"]).out
    long = run(*QUESTIONS["calibrate"], "--details").out
    assert "Calibrated: 14 readings used; airflow +17.3 % against the job" in short
    assert len(short.splitlines()) <= 40
    for words in (
        "What stays in the machine",
        "airflow",
        "The rebuild: drinks cooler + R-134a + 1.5 on the reel, cut to",
    ):
        assert words in short, words
        assert words in long, words
    for words in (
        "The plate",
        "April",
        "September",
        "Two terms correct the charge",
        "Could not be told apart",
    ):
        assert words not in short, words
        assert words in long, words
    record = json.loads(run(*QUESTIONS["calibrate"], "--json").out)
    assert record["job"]["calibration_readings"] == len(record["readings"]) == 14
    airflow = next(n for n in record["parameters"] if n["label"] == "airflow")
    assert airflow["stays"]
    assert airflow["left"] < 0.6
    band = "coil_temperature_K"
    before, after = (record["rebuild"][k][band] for k in ("before", "after"))
    assert after["high"] - after["low"] < 0.9 * (before["high"] - before["low"])


def test_a_calibration_of_a_us_job_shows_us_units_only(tmp_path: Path) -> None:
    job = tmp_path / "us.toml"
    text = Path(TIMBER).read_text(encoding="utf-8")
    assert text.count('units = "SI"') == 1
    job.write_text(text.replace('units = "SI"', 'units = "US"'), encoding="utf-8")
    question = ("calibrate", str(job), "--capillary", "1.5 on the reel", "--draws", "8")
    told = run(*question, "--details").out
    for unit in ("psig", "°F", "in³", "pints/day"):
        assert unit in told, unit
    for unit in ("bar", "°C", " K ", "cm³", " g ", "L/day", "…"):  # nothing is cut off either
        assert unit not in told, unit


def test_every_answer_starts_from_the_calibration_unless_told_otherwise() -> None:
    parts = ("balance", TIMBER, "--capillary", "1.5 on the reel", "--draws", "0")
    told = run(*parts)
    assert "Calibrated to 14 readings of the machine as it ran." in " ".join(told.out.split())
    taught = json.loads(run(*parts, "--json").out)
    plain = json.loads(run(*parts, "--uncalibrated", "--json").out)
    assert taught["job"]["calibration_readings"] == 14
    assert plain["job"]["calibration_readings"] == 0
    # The fan moves a fifth more than the plate let one think: the coil stays warmer.
    assert taught["steady"]["coil_temperature_K"] > plain["steady"]["coil_temperature_K"] + 0.3


def test_a_reading_that_does_not_fit_is_named(tmp_path: Path) -> None:
    text = Path(TIMBER).read_text(encoding="utf-8")
    bad = tmp_path / "misread.toml"
    bad.write_text(text.replace('"10.7 bar(g)"', '"12.2 bar(g)"'), encoding="utf-8")
    done = run("calibrate", str(bad))
    assert done.code == 0
    told = " ".join(done.out.split())
    assert "Does not fit, so not used - April: head gauge 12.2 bar(g)" in told
    assert "Probably misread or written in another unit" in told
    assert "13 readings used" in told


def test_a_given_charge_and_length_are_kept() -> None:
    record = json.loads(
        run(
            *("balance", BOAT, *ONE, "--charge", "8 oz", "--length", "32 in"),
            *("--draws", "0", "--room-temperature", "20 C", "--room-humidity", "60 %", "--json"),
        ).out
    )
    assert record["steady"]["charge_kg"] == pytest.approx(8 * 0.028349523125, rel=1e-6)
    assert record["parts"]["capillary_length_m"] == pytest.approx(32 * 0.0254)
    assert record["charged_to"] == "charge"
    assert record["job"]["room_temperature_K"] == pytest.approx(293.15)
    assert record["job"]["room_relative_humidity"] == pytest.approx(0.6)
    assert record["bands"] == {}


def test_metering_cuts_longer_first_and_looks_at_the_shelf(tmp_path: Path) -> None:
    short = tmp_path / "short.toml"
    text = Path(BOAT).read_text(encoding="utf-8").replace('"20 ft"', '"9 in"')
    short.write_text(text, encoding="utf-8")
    question = ("metering", str(short), "--refrigerant", "R-134a")
    record = json.loads(run(*question, "--json").out)
    for cut in (c["cut"] for c in record["cuts"]):
        assert cut["shortest_m"] < cut["length_m"] < cut["start_length_m"]
        assert cut["trim_step_m"] > 0.0
    assert [c["enough"] for c in record["cuts"] if c["stock"] == "reel"] == [False]
    assert re.search(r"reel +not enough: 9\.\d+ in on the shelf", run(*question).out)
    plain = " ".join(run(*question).out.split())
    assert "A capillary can be shortened, not lengthened." in plain


def test_a_charge_curve_rises_through_its_stop() -> None:
    record = json.loads(run(*QUESTIONS["charge-curve"], "--json").out)
    charges = [b["charge_kg"] for b in record["curve"]]
    assert charges == sorted(charges)
    assert charges[0] < record["stop"]["charge_kg"] < charges[-1]
    events = [e["charge_kg"] for e in record["events"]]
    assert events == sorted(events)
    told = run(*QUESTIONS["charge-curve"]).out
    assert told.count("<- stop") == 1
    assert told.strip().startswith("Stop at ")


def test_a_room_map_marks_frost_in_letters_too() -> None:
    record = json.loads(run(*QUESTIONS["room-map"], "--json").out)
    assert [round(t - 273.15, 6) for t in record["temperatures_K"]] == [6.0, 16.0, 26.0]
    assert [round(h, 6) for h in record["relative_humidities"]] == [0.40, 0.65, 0.90]
    for name in ("water_kg_per_s", "total_power_W", "coil_temperature_K"):
        assert [len(row) for row in record[name]] == [3, 3, 3]
    told = run(*QUESTIONS["room-map"]).out
    grid = told.partition("Coldest coil surface (* freezes)")[2].partition("Frost line")[0]
    cold = sum(t is not None and t < 273.15 for row in record["coil_temperature_K"] for t in row)
    assert grid.count("*") == cold


@pytest.mark.parametrize(
    ("command", "drawn"),
    [
        ("balance", ("state-diagram", "air-path", "coils")),
        ("match", ("ranking",)),
        ("charge-curve", ("charge-curve",)),
        ("room-map", ("room-map",)),
        ("frost", ("frost",)),
    ],
)
def test_figures_are_drawn_where_they_were_asked_for(
    command: str, drawn: tuple[str, ...], tmp_path: Path
) -> None:
    folder = tmp_path / "new" / "folder"
    done = run_anew(*QUESTIONS[command], "--figures", str(folder))
    assert done.code == 0, done.err
    assert done.out == run(*QUESTIONS[command]).out
    written = {path.name for path in folder.iterdir()}
    assert written == {f"boat-shed-{name}.{kind}" for name in drawn for kind in ("svg", "png")}
    assert done.err.count("Figure: ") == len(written)
    assert all(str(folder / name) in done.err for name in written)


# Interrupted work keeps what is finished.


def test_an_interrupted_match_shows_what_is_finished(monkeypatch: pytest.MonkeyPatch) -> None:
    from sweatline.design import match as matching

    whole = matching.as_completed

    def interrupted(*args: Any, **kwargs: Any) -> Iterator[Any]:
        for count, one in enumerate(whole(*args, **kwargs)):
            if count == 2:
                raise KeyboardInterrupt
            yield one

    monkeypatch.setattr(matching, "as_completed", interrupted)
    done = run_anew("match", BOAT, "--draws", "0")
    assert done.code == 130
    assert "Interrupted: 2 of 4 combinations are finished" in " ".join(done.out.split())
    record = json.loads(run_anew("match", BOAT, "--draws", "0", "--json").out)
    assert record["complete"] is False
    assert record["finished"] == 2


def test_an_interrupted_sweep_shows_what_it_has(monkeypatch: pytest.MonkeyPatch) -> None:
    from sweatline.design import charge_curve

    whole = charge_curve.sweep_charge

    def interrupted(*args: Any, **kwargs: Any) -> Iterator[Any]:
        for count, one in enumerate(whole(*args, **kwargs)):
            if count == 3:
                raise KeyboardInterrupt
            yield one

    monkeypatch.setattr(charge_curve, "sweep_charge", interrupted)
    done = run_anew("charge-curve", BOAT, *ONE)
    assert done.code == 130
    assert "Interrupted" in done.out
    record = json.loads(run_anew("charge-curve", BOAT, *ONE, "--json").out)
    assert len(record["curve"]) == 4


def test_an_interrupted_map_shows_what_it_has(monkeypatch: pytest.MonkeyPatch) -> None:
    from sweatline.machine import room_map

    whole = room_map.solve
    calls: list[int] = []

    def interrupted(*args: Any, **kwargs: Any) -> Any:
        calls.append(1)
        if len(calls) > 4:
            raise KeyboardInterrupt
        return whole(*args, **kwargs)

    monkeypatch.setattr(room_map, "solve", interrupted)
    done = run_anew(*QUESTIONS["room-map"], "--json")
    assert done.code == 130
    record = json.loads(done.out)
    assert record["complete"] is False
    assert sum(w is not None for row in record["water_kg_per_s"] for w in row) == 4


def test_an_interrupt_elsewhere_is_one_word_and_no_traceback(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from sweatline.design import balance

    def interrupted(*_args: Any, **_kwargs: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(balance, "balance", interrupted)
    done = run_anew(*QUESTIONS["balance"])
    assert (done.code, done.out) == (130, "")
    assert done.err.splitlines()[-1] == "Interrupted."
    assert "Traceback" not in done.err


# From a real shell.


def test_the_first_run_says_once_that_it_compiles_and_where(tmp_path: Path) -> None:
    question = QUESTIONS["saturation"]
    compiling = {"SWEATLINE_CACHE": str(tmp_path), "NUMBA_DISABLE_JIT": "0"}
    first = from_shell(*question, **compiling)
    assert first.returncode == 0, first.stderr
    (line,) = first.stderr.splitlines()
    assert str(tmp_path) in line
    assert line.startswith("Compiling the numerical kernels once")
    second = from_shell(*question, **compiling)
    assert second.stderr == ""
    assert second.stdout == first.stdout == run(*question).out


@pytest.mark.parametrize("name", ["saturation", "capillary", "tightness", "evacuation", "hose"])
def test_what_needs_no_solver_does_not_wait_for_the_compiler(name: str, tmp_path: Path) -> None:
    question = QUESTIONS[name]
    done = from_shell(*question, SWEATLINE_CACHE=str(tmp_path))
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == run(*question).out
    assert list(tmp_path.rglob("*.nbi")) == []


LOOKED_UP = """
import json
from sweatline.refrigerant.names import NAMES
from sweatline.refrigerant.refrigerant import load
from sweatline.design.refrigerants import saturation
found = {}
for name in NAMES:
    low, high = load(name).pressure_range
    for share in (0.0, 0.05, 0.3, 0.8, 1.0):
        p = low + share * (high - low)
        point = saturation(name, pressure=p, atmosphere=1e5)
        found[f"{name} {share}"] = [
            point.bubble.temperature, point.dew.temperature, point.latent_heat,
            point.bubble.density, point.dew.density,
        ]
        if 0.0 < share < 0.9:
            back = saturation(name, temperature=point.bubble.temperature, atmosphere=1e5)
            found[f"{name} {share}"] += [back.bubble.pressure, back.dew.pressure]
"""


def test_interpreted_and_compiled_kernels_look_up_the_same() -> None:
    compiled: dict[str, Any] = {}
    exec(LOOKED_UP, compiled)
    done = subprocess.run(
        [sys.executable, "-c", LOOKED_UP + "print(json.dumps(found))"],
        env=os.environ | {"NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    interpreted = json.loads(done.stdout)
    assert interpreted.keys() == compiled["found"].keys()
    for key, values in compiled["found"].items():
        # The compiler may join a multiplication and an addition; the splines magnify that little.
        assert interpreted[key] == pytest.approx(values, rel=1e-10), key


def test_a_terminal_without_the_letters_is_no_reason_to_fail() -> None:
    done = from_shell(
        "refrigerants", PYTHONIOENCODING="ascii", PYTHONUTF8="0", LC_ALL="C", LANG="C"
    )
    assert done.returncode == 0, done.stderr
    assert "R-134a" in done.stdout


def test_a_reader_that_goes_away_leaves_no_noise() -> None:
    program = (
        f"import sys; from sweatline.cli.main import main; sys.exit(main(['check', {SEED!r}]))"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        process.stdout.close()
        assert process.stderr is not None
        noise = process.stderr.read()
        process.wait()
    assert noise == ""


def test_commands_without_a_machine_do_without_the_compiler() -> None:
    program = f"""
import sys
from sweatline.cli.main import main
assert main(["--version"]) == 0
assert main(["--help"]) == 0
assert main(["check", {SEED!r}]) == 0
assert main(["refrigerants"]) == 0
heavy = {{"numba", "scipy", "matplotlib"}} & set(sys.modules)
assert not heavy, heavy
"""
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_a_look_up_does_without_reader_and_pictures() -> None:
    program = """
import sys
from sweatline.cli.main import main
assert main(["saturation", "R-134a", "--pressure", "27 psig"]) == 0
heavy = {"pydantic", "matplotlib", "scipy.optimize", "scipy.stats"} & set(sys.modules)
assert not heavy, heavy
"""
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_every_record_has_a_question_here() -> None:
    # A log is kept in a file of its own: test_log_command.py, test_charging_commands.py and
    # test_sheet.py ask it.
    assert set(QUESTIONS) == set(COMMANDS) - {"log", "charge", "charge-line", "sheet"}

"""A whole day at the bench kept in one log: the commands take from it what options would say."""

from __future__ import annotations

import contextlib
import io
import json
from pathlib import Path
from typing import Any

import pytest

from sweatline.cli.main import main
from sweatline.cli.schemas import read_back

SEED = str(Path(__file__).parents[2] / "examples" / "seed-store.toml")
TIMBER = str(Path(__file__).parents[2] / "examples" / "timber-store.toml")
DAY = "2026-03-14"
# Everything typed at the bench, in the order it was typed.
WORK = """
09:00 event pressurised | dry nitrogen
09:30 read suction-gauge | 9.00 bar(g) | blue gauge
09:30 read circuit | 15.0 C | strap
12:00 read suction-gauge | 8.90 bar(g) | blue gauge
12:00 read circuit | 15.3 C | strap
12:20 read head-gauge | 8.9 bar(g)
18:00 read suction-gauge | 8.60 bar(g) | blue gauge
18:00 read circuit | 15.6 C | strap
18:20 event opened | joint at the drier brazed again
18:30 read suction-gauge | 0 bar(g) | blue gauge
18:40 event evacuating
18:55 read vacuum-gauge | 900 micron
19:25 read vacuum-gauge | 320 micron
19:30 event isolated
19:31 read vacuum-gauge | 250 micron
19:40 read vacuum-gauge | 255 micron
20:00 read vacuum-gauge | 245 micron
20:32 read vacuum-gauge | 252 micron
20:40 read cylinder-gauge | 4.2 bar(g)
20:40 read cylinder | 15.5 C
20:41 read scale | 1500 g
20:42 event vacuum-broken | with vapour
20:43 added 60 g
20:45 event started
21:00 added 76 g
21:20 read scale | 1364 g
21:30 read watts | 240 W
21:30 read amps | 1.9 A
21:30 read volts | 228 V
21:30 read head-gauge | 6.6 bar(g)
21:30 read suction-gauge | 2.3 bar(g)
21:40 event hose-left | 4.8 mm, 0.9 m, pulled back, 2 bar(g)
21:41 event vented | 2 ± 1 g
21:45 event stopped
21:50 read head-gauge | 3.9 bar(g)
21:50 read suction-gauge | 3.8 bar(g)
"""


def typed(*arguments: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(list(arguments))
    return code, out.getvalue(), err.getvalue()


def log(*arguments: str) -> None:
    code, _out, err = typed("log", *arguments)
    assert (code, err) == (0, ""), err


def written(path: str, until: str = "24:00", without: str = "nothing") -> str:
    log("new", path, "--machine", "shelf unit", "--refrigerant", "R-134a", "--altitude", "640 m")
    for line in WORK.strip().splitlines():
        at, rest = line.split(" ", 1)
        if at >= until or without in line:
            continue
        head, *more = (part.strip() for part in rest.split("|"))
        by = ("--by", more[1]) if len(more) > 1 else ()
        if head.startswith("added"):
            words: tuple[str, ...] = ("added", path, head.removeprefix("added "))
        else:
            kind, what = head.split()
            words = (kind, path, what, *more[:1])
        log(*words, *by, "--at", f"{DAY} {at}")
    return path


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> str:
    return written(str(tmp_path_factory.mktemp("bench") / "shelf.sweat"))


def asked(*arguments: str) -> dict[str, Any]:
    code, out, err = typed(*arguments, "--json")
    assert code == 0, err
    read_back(arguments[0], out)
    return dict(json.loads(out))


def alike(fed: dict[str, Any], told: dict[str, Any], but: tuple[str, ...] = ()) -> None:
    """All numbers are the same; only what the log adds and where they came from differs."""
    assert fed["taken"]
    assert told["taken"] == []
    for key in told:
        if key not in ("log_path", "taken", *but):
            assert fed[key] == told[key], key


def sources(record: dict[str, Any]) -> dict[str, tuple[str, list[int]]]:
    return {one["what"]: (one["source"], one["entries"]) for one in record["taken"]}


PARTS = (SEED, "--compressor", "1")
HOLD = (
    *("--reading", "0 h, 9.00 bar(g), 15.0 C", "--reading", "2.5 h, 8.90 bar(g), 15.3 C"),
    *("--reading", "8.5 h, 8.60 bar(g), 15.6 C"),
)


def test_tightness(book: str) -> None:
    fed = asked("tightness", *PARTS, "--log", book)
    told = asked("tightness", *PARTS, "--refrigerant", "R-134a", *HOLD)
    alike(fed, told)
    assert fed["hold"]["found"]
    assert fed["plan"]["hold_s"] > 8.5 * 3600.0
    where = sources(fed)
    assert where["pressure test"] == ("log", [2, 3, 4, 5, 7, 8])
    assert where["gas"] == ("log", [1])
    assert where["refrigerant"][0] == "log"
    assert where["gauge's error"][0] == "assumed"


def test_what_is_typed_wins_over_the_log(book: str) -> None:
    fed = asked(
        *("tightness", *PARTS, "--log", book, "--gas", "helium", "--refrigerant", "R-290"),
        *("--gauge-error", "3 kPa"),
    )
    assert fed["hold"]["gas"] == "helium"
    assert fed["refrigerant"] == "R-290"
    where = sources(fed)
    assert where["pressure test"][0] == "log"
    assert {where[w][0] for w in ("gas", "refrigerant", "gauge's error")} == {"option"}
    told = asked("tightness", *PARTS, "--log", book, *HOLD)
    assert sources(told)["pressure test"] == ("option", [])
    assert told["hold"]["duration_s"] == 8.5 * 3600.0


def test_what_is_known_of_the_instruments(tmp_path: Path) -> None:
    path = written(str(tmp_path / "shelf.sweat"), until="18:10")
    log("instrument", path, "blue gauge", "--repeats", "1 kPa", "--error", "0.5 %")
    log("instrument", path, "strap", "--repeats", "0.1 K", "--error", "1 K")
    fed = asked("tightness", *PARTS, "--log", path)
    told = asked(
        *("tightness", *PARTS, "--refrigerant", "R-134a", *HOLD, "--gauge-error", "1 kPa"),
        *("--gauge-scale", "0.5 %", "--thermometer-error", "0.1 K"),
    )
    alike(fed, told)
    assert {one["text"] for one in fed["taken"]} >= {"of blue gauge", "of strap"}
    # Said once; another error of the same name is another instrument.
    code, _out, err = typed("log", "instrument", path, "strap", "--error", "0.5 K")
    assert code == 5
    assert "another instrument is called strap" in err


def test_a_barometer_read_beside_the_gauge(tmp_path: Path) -> None:
    path = written(str(tmp_path / "shelf.sweat"), until="18:10")
    for at, hpa in (("09:30", 940), ("12:00", 938), ("18:00", 931)):
        log("read", path, "barometer", f"{hpa} hPa abs", "--at", f"{DAY} {at}")
    fed = asked("tightness", *PARTS, "--log", path)
    readings = (
        *("--reading", "0 h, 9.00 bar(g), 15.0 C, 940 hPa abs"),
        *("--reading", "2.5 h, 8.90 bar(g), 15.3 C, 938 hPa abs"),
        *("--reading", "8.5 h, 8.60 bar(g), 15.6 C, 931 hPa abs"),
    )
    alike(fed, asked("tightness", *PARTS, "--refrigerant", "R-134a", *readings))
    assert not any("barometer" in note for note in fed["notes"])


PUMP = ("--pump", "2 cfm", "--low-hose", "4.8 mm, 1.5 m", "--high-hose", "4.8 mm, 1.5 m")


def test_evacuation(book: str) -> None:
    fed = asked("evacuation", *PARTS, *PUMP, "--log", book)
    told = asked(
        *("evacuation", *PARTS, *PUMP, "--refrigerant", "R-134a"),
        *("--pumped", "15 min, 900 micron", "--pumped", "45 min, 320 micron"),
        *("--rise", "1 min, 250 micron", "--rise", "10 min, 255 micron"),
        *("--rise", "30 min, 245 micron", "--rise", "62 min, 252 micron"),
    )
    alike(fed, told, but=("never_start",))
    # The log goes on: the vacuum was broken and the machine ran.
    assert fed["never_start"] == ""
    assert "cool" in told["never_start"]
    assert fed["rise"]["likeliest"] == "none"
    assert [p["time_s"] for p in fed["pumped"]] == [900.0, 2700.0]
    # The gauge stands far above what pump and hoses alone would leave: something gives gas.
    assert all(p["gas_load_Pa_m3_per_s"] > 0.0 for p in fed["pumped"])
    assert sources(fed)["rise"][0] == "log"


def test_only_the_last_evacuation_counts(tmp_path: Path) -> None:
    path = written(str(tmp_path / "shelf.sweat"), until="20:35")
    log("event", path, "evacuating", "--at", f"{DAY} 20:40")
    log("read", path, "vacuum-gauge", "150 micron", "--at", f"{DAY} 21:10")
    fed = asked("evacuation", *PARTS, *PUMP, "--log", path)
    assert [(p["time_s"], round(p["read_Pa"], 1)) for p in fed["pumped"]] == [(1800.0, 20.0)]
    assert fed["rise"] is None  # it was not shut off again
    assert "no gas to cool it" in fed["never_start"]
    log("event", path, "isolated", "--at", f"{DAY} 21:11")
    for at, micron in (("21:12", 160), ("21:20", 190), ("21:40", 200)):
        log("read", path, "vacuum-gauge", f"{micron} micron", "--at", f"{DAY} {at}")
    assert asked("evacuation", *PARTS, "--log", path)["rise"]["duration_s"] == 28 * 60.0


def test_a_rise_alone_needs_no_pump(book: str) -> None:
    fed = asked("evacuation", *PARTS, "--log", book)
    assert fed["rise"]["likeliest"] == "none"
    assert fed["connections"] == []


def test_hose(book: str) -> None:
    fed = asked("hose", "--log", book)
    told = asked(
        *("hose", "--refrigerant", "R-134a", "--altitude", "640 m", "--units", "SI"),
        *("--container", "1500 g, 1364 g", "--vented", "2 ± 1 g"),
        *("--hose", "4.8 mm, 0.9 m, pulled back, 2 bar(g)"),
    )
    alike(fed, told, but=("cylinder",))
    assert 0.133 < fed["machine"]["mass_kg"] < 0.135
    cylinder = asked(
        *("hose", "--refrigerant", "R-134a", "--altitude", "640 m", "--temperature", "15.5 C"),
        *("--cylinder-pressure", "4.2 bar(g)"),
    )
    assert fed["cylinder"] == cylinder["cylinder"]
    # Without the scale, what was written down as added.
    assert sources(fed)["weighed out"] == ("log", [21, 26])


def test_weighed_by_what_was_added(tmp_path: Path) -> None:
    path = written(str(tmp_path / "shelf.sweat"), without="scale")
    fed = asked("hose", "--log", path)
    assert fed["machine"]["weighed_kg"] == pytest.approx(0.136)
    assert sources(fed)["weighed out"][0] == "log"


def test_start_gear(book: str) -> None:
    at = ("--at", f"{DAY} 21:52", "--device", "ptc", "--plate-watts", "250 W")
    fed = asked("start-gear", "--log", book, *at)
    told = asked(
        *("start-gear", "--refrigerant", "R-134a", "--altitude", "640 m", *at[2:]),
        *("--off-time", "7 min", "--standing-head", "3.9 bar(g)"),
        *("--standing-suction", "3.8 bar(g)", "--watts", "240 W", "--amps", "1.9 A"),
        *("--volts", "228 V"),
    )
    alike(fed, told, but=("running", "starts_last_hour"))
    assert fed["standing"]["verdict"] == "ok"
    assert fed["running"] is False
    assert fed["starts_last_hour"] is None
    assert fed["barred"] == ""
    # A minute after the stop the PTC is hot, whatever the gauges say.
    soon = asked("start-gear", "--log", book, "--at", f"{DAY} 21:51:30", *at[2:])
    assert soon["standing"]["verdict"] == "ok"
    hot = asked("start-gear", "--log", book, "--at", f"{DAY} 21:46", "--device", "ptc")
    assert hot["standing"] is None
    assert any("read both gauges" in note for note in hot["notes"])
    running = asked("start-gear", "--log", book, "--at", f"{DAY} 21:35")
    assert running["running"] is True
    assert running["starts_last_hour"] == 1


def test_gauges_read_before_gas_was_let_in_do_not_count(tmp_path: Path) -> None:
    path = written(str(tmp_path / "shelf.sweat"))
    ask = ("start-gear", "--log", path, "--at", f"{DAY} 22:10", "--device", "ptc")
    assert asked(*ask)["standing"]["verdict"] == "ok"
    log("added", path, "20 g", "--at", f"{DAY} 22:00")
    assert asked(*ask)["standing"] is None
    log("read", path, "head-gauge", "5.0 bar(g)", "--at", f"{DAY} 22:05")
    log("read", path, "suction-gauge", "4.1 bar(g)", "--at", f"{DAY} 22:05")
    assert asked(*ask)["standing"]["verdict"] == "wrong"


def test_start_gear_of_a_job_takes_the_pressures_of_the_stop(book: str) -> None:
    parts = (SEED, "--compressor", "drinks cooler", "--capillary", "1", "--draws", "8")
    fed = asked("start-gear", *parts, "--log", book, "--at", f"{DAY} 21:52")
    told = asked(
        *("start-gear", *parts, "--refrigerant", "R-134a", "--off-time", "7 min"),
        *("--head", "6.6 bar(g)", "--suction", "2.3 bar(g)", "--watts", "240 W"),
        *("--amps", "1.9 A", "--volts", "228 V"),
        *("--standing-head", "3.9 bar(g)", "--standing-suction", "3.8 bar(g)"),
    )
    # The zero of the log's gauges is that of the job's place.
    alike(fed, told, but=("running", "starts_last_hour"))
    assert fed["equalising"]["sides"]["high_pressure_Pa"] == pytest.approx(
        6.6e5 + 93876.0, abs=50.0
    )


def test_start_gear_takes_what_the_machine_taught() -> None:
    parts = (TIMBER, "--capillary", "1", "--draws", "8")
    taught, plain = asked("start-gear", *parts), asked("start-gear", *parts, "--uncalibrated")
    assert taught["job"]["calibration_readings"] > 5
    assert plain["job"]["calibration_readings"] == 0
    assert taught["pull_down"]["settled_power_W"] != plain["pull_down"]["settled_power_W"]


def test_the_same_log_feeds_the_charging(book: str) -> None:
    parts = ("--compressor", "drinks cooler", "--refrigerant", "R-134a", "--capillary", "1")
    fed = asked("charge", SEED, book, *parts)
    # Weighed out less what was vented and what stayed in the hose, as `hose` has it.
    mass = asked("hose", "--log", book)["machine"]["mass_kg"]
    assert fed["charge_kg"] == pytest.approx(mass, abs=1e-4)


@pytest.mark.parametrize(
    ("words", "gas", "told"),
    [
        ("helium 4.6", "helium", "log"),
        ("nitrogen with 10 % helium", "nitrogen", "log"),
        ("N2 from the small cylinder", "nitrogen", "log"),
        ("to 9 bar(g)", "nitrogen", "assumed"),
    ],
)
def test_the_gas_is_the_one_that_was_let_in(
    tmp_path: Path, words: str, gas: str, told: str
) -> None:
    path = str(tmp_path / "shelf.sweat")
    log("new", path)
    log("event", path, "pressurised", words, "--at", f"{DAY} 09:00")
    for at in ("09:30", "15:30"):
        log("read", path, "head-gauge", "9 bar(g)", "--at", f"{DAY} {at}")
        log("read", path, "circuit", "15 C", "--at", f"{DAY} {at}")
    fed = asked("tightness", "--volume", "2.5 L", "--log", path)
    assert fed["hold"]["gas"] == gas
    assert sources(fed)["gas"][0] == told


def test_a_circuit_under_vacuum_is_not_started(tmp_path: Path) -> None:
    path = written(str(tmp_path / "shelf.sweat"), until="19:45")
    fed = asked("start-gear", "--log", path, "--at", f"{DAY} 19:45")
    assert "no gas to cool it" in fed["barred"]
    code, out, _err = typed("start-gear", "--log", path, "--at", f"{DAY} 19:45")
    assert code == 0
    assert "STOP: not to be started now" in out


@pytest.mark.parametrize(
    ("until", "command", "words"),
    [
        ("09:00", ("tightness", *PARTS), "does not say that the circuit was pressurised"),
        ("09:20", ("tightness", *PARTS), "the log has none"),
        ("09:40", ("tightness", *PARTS), "the log has 1"),
        ("18:00", ("evacuation", *PARTS), "does not say that the circuit was evacuated"),
        ("18:50", ("evacuation", *PARTS), "no look at the vacuum gauge since the pump"),
        ("19:26", ("evacuation", *PARTS), "record `sweatline log event LOG isolated`"),
        ("19:45", ("evacuation", *PARTS), "since it was shut off the log has 2; read on"),
        ("20:30", ("hose",), "the log has no weights since 2026-03-14 18:40"),
        ("18:00", ("start-gear",), "does not say when the compressor was started or stopped"),
    ],
)
def test_what_is_missing_is_asked_for_in_one_sentence(
    tmp_path: Path, until: str, command: tuple[str, ...], words: str
) -> None:
    path = written(str(tmp_path / "shelf.sweat"), until=until)
    code, out, err = typed(*command, "--log", path)
    assert code == 2
    assert out == ""
    assert words in err
    assert err.count("\n") == 1


def test_a_hold_without_temperatures_asks_for_them(tmp_path: Path) -> None:
    path = written(str(tmp_path / "shelf.sweat"), until="18:10", without="circuit")
    code, _out, err = typed("tightness", *PARTS, "--log", path)
    assert code == 2
    assert "none of 3" in err
    assert "log read LOG circuit" in err
    log("read", path, "air-in", "15 C", "--at", f"{DAY} 09:20")
    log("read", path, "air-in", "15 C", "--at", f"{DAY} 17:50")
    fed = asked("tightness", *PARTS, "--log", path)
    assert any("1 look at the gauge left out" in note for note in fed["notes"])


def test_a_circuit_filled_with_oxygen_is_not_read(tmp_path: Path) -> None:
    path = str(tmp_path / "shelf.sweat")
    log("new", path)
    log("event", path, "pressurised", "oxygen", "--at", f"{DAY} 09:00")
    for at in ("09:10", "12:10"):
        log("read", path, "head-gauge", "9 bar(g)", "--at", f"{DAY} {at}")
        log("read", path, "circuit", "15 C", "--at", f"{DAY} {at}")
    code, _out, err = typed("tightness", *PARTS, "--log", path)
    assert code == 2
    assert "burn with oil" in err


def test_limits_are_held_by_what_the_log_says_too(tmp_path: Path) -> None:
    path = str(tmp_path / "shelf.sweat")
    log("new", path, "--refrigerant", "R-134a", "--altitude", "640 m")
    log("event", path, "pressurised", "nitrogen", "--at", f"{DAY} 09:00")
    for at in ("09:10", "12:10"):
        log("read", path, "head-gauge", "14 bar(g)", "--at", f"{DAY} {at}")
        log("read", path, "circuit", "15 C", "--at", f"{DAY} {at}")
    code, _out, err = typed("tightness", *PARTS, "--log", path)
    assert code == 2
    assert "look at the gauge, number 1" in err
    assert "low side" in err


def test_a_blend_let_in_as_vapour_is_told(tmp_path: Path) -> None:
    path = str(tmp_path / "shelf.sweat")
    log("new", path, "--refrigerant", "R-407C")
    log("added", path, "200 g", "--as", "vapour", "--at", f"{DAY} 09:00")
    fed = asked("hose", "--log", path)
    assert any("was let in as vapour (200 g)" in note for note in fed["notes"])


def test_several_containers_and_a_can(tmp_path: Path) -> None:
    path = str(tmp_path / "shelf.sweat")
    log("new", path, "--refrigerant", "R-134a")
    log("event", path, "evacuating", "--at", f"{DAY} 08:00")
    log("event", path, "vacuum-broken", "--at", f"{DAY} 09:00")
    for at, grams in (("09:01", 800), ("09:20", 450)):
        log("read", path, "scale", f"{grams} g", "--at", f"{DAY} {at}")
    log("event", path, "cylinder-changed", "--at", f"{DAY} 09:25")
    for at, grams in (("09:26", 810), ("09:40", 700)):
        log("read", path, "scale", f"{grams} g", "--at", f"{DAY} {at}")
    log("event", path, "can-emptied", "170 g, 0.25 L, 1 bar(g)", "--at", f"{DAY} 10:00")
    fed = asked("hose", "--log", path)
    told = asked(
        *("hose", "--refrigerant", "R-134a", "--container", "800 g, 450 g"),
        *("--container", "810 g, 700 g", "--can", "170 g, 0.25 L, 1 bar(g)"),
    )
    alike(fed, told)
    # A cylinder that got heavier without being changed is asked about.
    code, _out, err = typed("log", "read", path, "scale", "900 g", "--at", f"{DAY} 09:44")
    assert "the scale went up" in err
    # Until somebody says which it was, nothing is concluded from it.
    left = asked("hose", "--log", path)
    assert left["machine"] == fed["machine"]
    assert any(note.startswith("entry 9 of the log looks like a slip") for note in left["notes"])
    log("confirm", path, "9")
    code, _out, err = typed("hose", "--log", path)
    assert code == 2
    assert "cylinder-changed" in err


@pytest.mark.parametrize(
    ("what", "text"),
    [("hose-left", "4.8 mm"), ("hose-left", "4.8 mm, 0.9 m, gas"), ("vented", "some"),
     ("can-emptied", "170 g")],
)  # fmt: skip
def test_an_event_with_numbers_is_read_when_it_is_typed(
    tmp_path: Path, what: str, text: str
) -> None:
    path = str(tmp_path / "shelf.sweat")
    log("new", path)
    code, _out, err = typed("log", "event", path, what, text)
    assert code == 2
    assert err.count("\n") == 1
    assert json.loads(typed("log", "show", path, "--json")[1])["entries"] == []

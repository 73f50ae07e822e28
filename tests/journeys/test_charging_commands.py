"""Charging from the command line: a log that grows, and a machine to practise on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from sweatline.cli.main import main
from sweatline.cli.schemas import read_back

ROOT = Path(__file__).resolve().parents[2]
SEED = str(ROOT / "examples" / "seed-store.toml")
PARTS = ("--compressor", "1", "--refrigerant", "R-134a", "--capillary", "1")


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = main(list(arguments))
    out, err = capsys.readouterr()
    return code, out, err


def asked(capsys: pytest.CaptureFixture[str], book: str) -> Any:
    code, out, err = run(capsys, "charge", SEED, book, *PARTS, "--json")
    assert code == 0, err
    found = read_back("charge", out)
    assert type(found).__name__ == "ChargeAdvice"
    return found


def readings(
    capsys: pytest.CaptureFixture[str], book: str, clock: str, low: str, high: str, gas: str
) -> None:
    for what, value in (
        ("suction-gauge", f"{low} bar(g)"),
        ("head-gauge", f"{high} bar(g)"),
        ("suction-gas", f"{gas} C"),
    ):
        assert run(capsys, "log", "read", book, what, value, "--at", clock)[0] == 0


def test_more_readings_then_wait_then_a_dose(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = str(tmp_path / "shelf.sweat")
    run(capsys, "log", "new", book, "--refrigerant", "R-134a", "--altitude", "640 m")
    run(capsys, "log", "added", book, "220 g", "--at", "2026-03-14 09:00")
    run(capsys, "log", "event", book, "started", "--at", "2026-03-14 09:01")
    first = asked(capsys, book)
    assert first.action == "read"
    assert "suction gauge, head gauge and suction gas" in first.reason
    assert first.charge_kg == pytest.approx(0.220)
    readings(capsys, book, "2026-03-14 09:02", "1.75", "5.1", "14.6")
    early = asked(capsys, book)
    assert early.action == "wait"
    for minute, low in ((6, "1.42"), (10, "1.36"), (14, "1.34"), (18, "1.33"), (22, "1.33")):
        readings(capsys, book, f"2026-03-14 09:{minute:02d}", low, "5.0", "15.0")
    later = asked(capsys, book)
    assert later.action == "add"
    assert later.dose_kg is not None
    assert 0.005 < later.dose_kg < 0.05
    assert later.chance_over is not None
    assert later.chance_over <= 0.05
    by_name = {o.what: o for o in later.outlooks}
    after = by_name["suction gauge"].expected_after_SI
    assert after is not None
    assert after.middle > by_name["suction gauge"].last_SI
    code, out, _err = run(capsys, "charge", SEED, book, *PARTS)
    assert code == 0
    assert out.splitlines()[1].startswith("ADD ")
    assert len(out.strip().splitlines()) <= 10
    assert "Local codes and licensed practice decide" in out
    details = run(capsys, "charge", SEED, book, *PARTS, "--details")[1]
    assert "Cautions" in details
    assert "evaporator wet to its end" in details
    # What was opened is empty again.
    run(capsys, "log", "event", book, "opened", "--at", "2026-03-14 10:00")
    assert asked(capsys, book).charge_kg == 0.0


def test_log_of_another_refrigerant_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = str(tmp_path / "shelf.sweat")
    run(capsys, "log", "new", book, "--refrigerant", "R-22")
    code, _out, err = run(capsys, "charge", SEED, book, *PARTS)
    assert code == 2
    assert "this log is about R-22" in err
    assert err.count("\n") == 1


def test_practice_both_ways(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _err = run(capsys, "practice", SEED, *PARTS, "--seed", "3", "--by", "advice")
    assert code == 0
    assert "the best charge of" in out
    share = float(out.split(" in, ")[1].split("%")[0])
    assert share <= 8.0
    assert run(capsys, "practice", SEED, *PARTS, "--seed", "3", "--by", "habit")[0] == 0


def test_a_clock_alone_in_a_file_is_of_the_day_before_it_and_never_todays(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book, lines = str(tmp_path / "shelf.sweat"), tmp_path / "day.txt"
    run(capsys, "log", "new", book, "--refrigerant", "R-134a", "--altitude", "640 m")
    lines.write_text("09:04 watts 285 W\n2026-03-14 09:05 watts 286 W\n09:06 watts 287 W\n")
    fed = ("charge", SEED, book, *PARTS, str(lines))
    code, _out, err = run(capsys, *fed)
    assert code == 2
    assert "line 1: a clock without a date, and nothing before it says the day" in err
    lines.write_text(f"2026-03-14 {lines.read_text()}")
    assert run(capsys, *fed)[0] == 0
    lines.write_text("09:07 watts 288 W\n")
    assert run(capsys, *fed)[0] == 0
    found = read_back("log", run(capsys, "log", "show", book, "--json")[1])
    kept = [e.happened[:16] for e in found.entries if e.kind == "reading"]
    assert kept == [f"2026-03-14T09:0{minute}" for minute in (4, 5, 6, 7)]

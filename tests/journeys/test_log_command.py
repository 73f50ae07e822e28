"""A log kept from the command line: what a person types, slips included, and nothing lost."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest

from sweatline.cli.main import main
from sweatline.cli.schemas import read_back


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = main(["log", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


@pytest.fixture(autouse=True)
def late_in_the_day(monkeypatch: pytest.MonkeyPatch) -> None:
    """A time of day without a date has been already, whenever the tests are run."""
    clock = time.time
    now = clock()
    late = time.mktime((*time.localtime(now)[:3], 23, 0, 0, 0, 0, -1)) - now
    monkeypatch.setattr(time, "time", lambda: clock() + late)


@pytest.fixture
def book(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    path = str(tmp_path / "shelf.sweat")
    told = ("--machine", "shelf unit", "--refrigerant", "r134a", "--altitude", "640 m")
    assert run(capsys, "new", path, *told)[0] == 0
    return path


def record(capsys: pytest.CaptureFixture[str], book: str) -> Any:
    code, out, _err = run(capsys, "show", book, "--json")
    assert code == 0
    found = read_back("log", out)
    assert type(found).__name__ == "LogContents"
    return found


def test_a_morning_at_the_machine(book: str, capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "event", book, "evacuating", "--at", "2026-03-14 09:00")
    run(capsys, "read", book, "vacuum-gauge", "400 micron", "--at", "2026-03-14 09:40")
    code, _out, err = run(capsys, "event", book, "started", "--at", "2026-03-14 09:41")
    assert code == 3
    assert "never run or tested under vacuum" in err
    assert err.count("\n") == 1
    run(capsys, "added", book, "150 g", "--as", "vapour", "--at", "2026-03-14 09:50")
    assert run(capsys, "event", book, "started", "--at", "2026-03-14 09:55")[0] == 0
    code, _out, err = run(capsys, "read", book, "suction-gauge", "1.9 bar(g)", "--at", "10:00")
    assert (code, err) == (0, "")
    found = record(capsys, book)
    assert found.about["refrigerant"] == "R-134a"
    assert [e.channel or e.kind for e in found.entries] == [
        "evacuating",
        "vacuum gauge",
        "note",
        "addition",
        "started",
        "suction gauge",
    ]
    assert found.entries[2].text.startswith("a start was refused")
    # The gauge's zero is that of 640 m.
    assert found.entries[-1].value_SI == pytest.approx(1.9e5 + 93876.0, abs=30.0)


def test_slip_is_asked_about_kept_and_corrected(
    book: str, capsys: pytest.CaptureFixture[str]
) -> None:
    run(capsys, "read", book, "head-gauge", "6.9 bar(g)", "--at", "10:00")
    code, _out, err = run(capsys, "read", book, "head-gauge", "7.84 bar(g)", "--at", "10:01")
    assert code == 0
    assert "gauge or absolute?" in err
    assert "correct it to 6.901 bar(g)" in err
    assert "log correct" in err
    assert run(capsys, "correct", book, "2", "6.9 bar(g)")[0] == 0
    found = record(capsys, book)
    assert [(e.id, e.holds) for e in found.entries] == [(1, True), (2, False), (3, True)]
    assert found.entries[2].happened_at_s == found.entries[1].happened_at_s
    shown = run(capsys, "show", book)[1]
    assert "7.84" not in shown
    assert "7.84" in run(capsys, "show", book, "--all")[1]
    assert run(capsys, "withdraw", book, "3", "wrong machine")[0] == 0
    assert "6.9" in run(capsys, "show", book)[1]
    assert [e.holds for e in record(capsys, book).entries] == [True, False, False, False]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("read", "BOOK", "suction-gauge", "27"), "a pressure without a unit"),
        (("read", "BOOK", "suction-gauge", "27 psi"), "gauge or absolute"),
        (("read", "BOOK", "air", "20 C"), "several readings begin like that"),
        (("read", "BOOK", "mood", "good"), "no reading of that name"),
        (("read", "BOOK", "watts", "390 V"), "V is a unit of voltage"),
        (("read", "BOOK", "watts", "390 W", "--at", "25:00"), "not a time"),
        (("added", "BOOK", "0 g"), "more than nothing"),
        (("added", "BOOK", "-5 g"), "more than nothing"),
        (("added", "BOOK", "5 g", "--refrigerant", "R-999"), "R-999"),
        (("event", "BOOK", "exploded"), "no event of that name"),
        (("correct", "BOOK", "9", "27 psig"), "no entry 9 to correct"),
        (("confirm", "BOOK", "9"), "no reading or addition 9 to confirm"),
        (("instrument", "BOOK", "gauge"), "nothing was said about gauge"),
        (("instrument", "BOOK", "gauge", "--class", "1.6"), "without its range"),
        (("instrument", "BOOK", "gauge", "--error", "good"), "not an error of pressure"),
        (("show", "nowhere.sweat"), "no such log"),
        (("new", "BOOK"), "there is a file of that name already"),
        (("export", "BOOK", "out.txt"), "say --as json or --as csv"),
        (("import", "BOOK", "nothing.json"), "nothing.json"),
    ],
)
def test_mistakes_end_in_one_sentence(
    book: str, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], words: str
) -> None:
    code, _out, err = run(capsys, *(book if a == "BOOK" else a for a in arguments))
    assert code != 0
    assert words in err
    assert err.count("\n") == 1
    assert record(capsys, book).entries == ()


def test_export_and_import(book: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "read", book, "watts", "390 W", "--by", "plug meter")
    run(capsys, "correct", book, "1", "383 W")
    for name in ("out.json", "out.csv"):
        there = str(tmp_path / name)
        assert run(capsys, "export", book, there)[0] == 0
        copy = str(tmp_path / f"copy-{name}.sweat")
        assert "2 entries added" in run(capsys, "import", copy, there)[1]
        assert "0 entries added" in run(capsys, "import", copy, there)[1]
        assert record(capsys, copy).entries == record(capsys, book).entries
    piped = run(capsys, "export", book, "-", "--as", "json")[1]
    assert json.loads(piped)["entries"][1]["corrects"] == 1


def minute_by_minute(
    capsys: pytest.CaptureFixture[str], book: str, *rows: tuple[str, str, str]
) -> list[str]:
    """Readings typed one after the other; what each one was asked."""
    return [run(capsys, "read", book, what, value, "--at", at)[2] for at, what, value in rows]


@pytest.mark.parametrize(
    ("rows", "asked", "offer"),
    [
        # A gauge that jumped by an atmosphere, in both units.
        ((("10:00", "suction-gauge", "27 psig"), ("10:01", "suction-gauge", "41.7 psig")),
         "gauge or absolute?", "27 psig"),
        ((("10:00", "head-gauge", "6.9 bar(g)"), ("10:01", "head-gauge", "7.85 bar(g)")),
         "gauge or absolute?", "6.911 bar(g)"),
        # kPa for psi, and °F for °C.
        ((("10:00", "suction-gauge", "27 psig"), ("10:01", "suction-gauge", "186 psig")),
         "fits another unit", "26.98 psig"),
        ((("10:00", "suction-gas", "15 C"), ("10:01", "suction-gas", "59 C")),
         "fits another unit", "15 °C"),
        # Pairs that cannot be.
        ((("10:00", "suction-gauge", "27 psig"), ("10:01", "suction-gas", "-40 F")),
         "cannot both be right", ""),
        ((("10:00", "suction-gauge", "27 psig"), ("10:01", "suction-gas", "10.4 F")),
         "cannot both be right", "50.72 °F"),
        # No slip of units makes it: a number of °C is not converted before it is typed as °C.
        ((("10:00", "suction-gauge", "27 psig"), ("10:01", "suction-gas", "-12 C")),
         "cannot both be right", ""),
        ((("10:00", "head-gauge", "120 psig"), ("10:01", "liquid-line", "140 F")),
         "cannot both be right", ""),
        ((("10:00", "head-gauge", "5 bar(g)"), ("10:01", "suction-gauge", "6 bar(g)")),
         "are the hoses swapped", ""),
        # Order, twice, and a scale that went up.
        ((("10:05", "watts", "290 W"), ("10:01", "watts", "280 W")), "is the time right?", ""),
        ((("10:05", "watts", "290 W"), ("10:05", "watts", "290 W")), "typed twice?", ""),
        ((("10:00", "scale", "1250 g"), ("10:01", "scale", "1262 g")), "the scale went up", ""),
    ],
)  # fmt: skip
def test_bad_input_is_asked_about_kept_and_put_right(
    book: str,
    capsys: pytest.CaptureFixture[str],
    rows: tuple[tuple[str, str, str], ...],
    asked: str,
    offer: str,
) -> None:
    run(capsys, "event", book, "started", "--at", "09:59")
    *before, last = minute_by_minute(capsys, book, *rows)
    assert before == [""] * len(before)
    assert asked in last
    assert "log confirm" in last
    assert (f'log correct {book} 3 "{offer}"' in last) == bool(offer)
    found = record(capsys, book)
    assert [e.text for e in found.entries[1:]] == [value for _, _, value in rows]
    assert [e.in_doubt for e in found.entries] == [False, False, True]
    assert run(capsys, "show", book)[1].count("in doubt") == 1
    # Said to be right, it is no longer asked about, and what follows is held against it.
    _at, what, value = rows[-1]
    assert run(capsys, "confirm", book, "3")[2] == ""
    assert [e.holds for e in record(capsys, book).entries] == [True, True, False, True]
    later = "10:06"
    assert minute_by_minute(capsys, book, (later, what, value)) == [""]


def test_readings_after_a_doubted_one_are_not_held_against_it(
    book: str, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = minute_by_minute(
        capsys,
        book,
        ("10:00", "head-gauge", "6.9 bar(g)"),
        ("10:01", "head-gauge", "7.84 bar(g)"),
        ("10:02", "head-gauge", "6.91 bar(g)"),
    )
    assert [bool(a) for a in asked] == [False, True, False]


def test_clock_of_the_machine_that_was_set_back(
    book: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = 1.8e9
    monkeypatch.setattr(time, "time", lambda: clock)
    assert run(capsys, "read", book, "watts", "290 W")[2] == ""
    clock -= 3600.0
    err = run(capsys, "read", book, "watts", "291 W")[2]
    assert "the clock of this machine has been set back" in err
    assert "log confirm" in err
    assert run(capsys, "confirm", book, "2")[2] == ""
    clock += 60.0
    assert run(capsys, "read", book, "watts", "292 W")[2] == ""
    assert [e.text for e in record(capsys, book).entries] == ["290 W", "291 W", "291 W", "292 W"]


def test_instrument_is_described_once(book: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "read", book, "suction-gauge", "1.9 bar(g)", "--by", "blue dial")[0] == 0
    told = ("--class", "1.6", "--range", "-1 to 3 bar")
    code, out, _err = run(capsys, "instrument", book, "blue dial", *told)
    assert code == 0
    assert "class 1.6, -1 to 3 bar" in out
    assert run(capsys, "instrument", book, "blue dial", *told)[0] == 0
    code, _out, err = run(capsys, "instrument", book, "blue dial", "--error", "9 kPa")
    assert code == 5
    assert "give this one its own name" in err
    kept = json.loads(run(capsys, "export", book, "-", "--as", "json")[1])["instruments"]
    # 1.6 % of 4 bar, over the root of three.
    assert kept[0]["absolute"] == pytest.approx(0.016 * 4e5 / 3**0.5)


def test_thermometers_that_changed_places_are_exchanged(
    book: str, capsys: pytest.CaptureFixture[str]
) -> None:
    day = "2026-03-14"
    run(capsys, "added", book, "150 g", "--at", f"{day} 09:00")
    run(capsys, "event", book, "started", "--at", f"{day} 09:01")
    for what, value in (
        ("suction-gauge", "27 psig"), ("head-gauge", "100 psig"), ("suction-gas", "140 F"),
    ):  # fmt: skip
        assert run(capsys, "read", book, what, value, "--at", f"{day} 09:20")[2] == ""
    err = run(capsys, "read", book, "discharge-gas", "41 F", "--at", f"{day} 09:20")[2]
    assert "are the two swapped?" in err
    assert f"`sweatline log swap {book} 6 5`" in err
    assert record(capsys, book).entries[5].in_doubt
    assert run(capsys, "swap", book, "6", "5")[::2] == (0, "")
    held = {e.channel: e.text for e in record(capsys, book).entries if e.holds}
    assert (held["suction gas"], held["discharge gas"]) == ("41 F", "140 F")
    assert not any(e.in_doubt for e in record(capsys, book).entries)
    code, _out, err = run(capsys, "swap", book, "3", "5")
    assert code == 2
    assert "two readings of one kind" in err


def test_a_reading_of_tomorrow_is_asked_about_and_the_next_is_not(
    book: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = time.mktime((2026, 3, 14, 10, 0, 0, 0, 0, -1))
    monkeypatch.setattr(time, "time", lambda: clock)
    at = ("--at", "2026-03-14 11:00")
    err = run(capsys, "read", book, "suction-gauge", "27 psig", *at)[2]
    assert "still to come" in err
    assert f'`sweatline log correct {book} 1 "27 psig" --at "2026-03-14 10:00"`' in err
    err = run(capsys, "event", book, "started", "--at", "2026-03-15 09:00")[2]
    assert "still to come" in err
    assert run(capsys, "read", book, "suction-gauge", "26.5 psig")[2] == ""
    assert run(capsys, "correct", book, "1", "27 psig", "--at", "2026-03-14 09:59")[2] == ""
    assert run(capsys, "confirm", book, "2")[2] == ""
    assert not any(e.in_doubt for e in record(capsys, book).entries)


def test_a_tube_at_three_thousand_degrees_is_asked_about(
    book: str, capsys: pytest.CaptureFixture[str]
) -> None:
    err = run(capsys, "read", book, "suction-gas", "3000 F")[2]
    assert "beyond what such a machine can show" in err
    assert record(capsys, book).entries[0].in_doubt
    err = run(capsys, "read", book, "room-humidity", "0.55 %")[2]
    assert "As 55 %RH it would fit" in err

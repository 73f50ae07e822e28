"""A start of a compressor under vacuum: every way by which one could come into a log."""

from __future__ import annotations

import json
import time
from pathlib import Path

import pytest

from sweatline.cli.main import main
from sweatline.log.entries import Entry, active_entries
from sweatline.log.logbook import new_start_in_vacuum
from sweatline.log.store import Log

SEED = str(Path(__file__).parents[2] / "examples" / "seed-store.toml")


def log(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    code = main(["log", *arguments])
    return code, capsys.readouterr().err


def done(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    code, err = log(capsys, *arguments)
    assert code == 0, err
    return err


def stopped(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    code, err = log(capsys, *arguments)
    assert code in (3, 5), err
    assert err.count("\n") == 1
    assert "under vacuum" in err
    return err


def no_start_in_vacuum(book: str) -> bool:
    with Log(Path(book)) as opened:
        return not new_start_in_vacuum([], opened.entries())


@pytest.fixture
def book(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """Evacuated, broken with vapour, started: entries 1 to 3."""
    path = str(tmp_path / "shelf.sweat")
    done(capsys, "new", path, "--refrigerant", "R-134a")
    done(capsys, "event", path, "evacuating", "--at", "2026-03-14 09:00")
    done(capsys, "event", path, "vacuum-broken", "with vapour", "--at", "2026-03-14 10:00")
    done(capsys, "event", path, "started", "--at", "2026-03-14 10:05")
    return path


@pytest.mark.parametrize(
    "before",
    [
        (("event", "evacuating", "", "11:00"),),
        (("read", "vacuum-gauge", "400 micron", "11:00"),),
        # No vacuum gauge: the compound gauge of a machine at rest says it too.
        (("event", "stopped", "", "10:50"), ("read", "suction-gauge", "29 inHg vacuum", "11:00")),
        (("event", "stopped", "", "10:50"), ("read", "head-gauge", "0.1 bar abs", "11:00")),
        (("event", "evacuating", "", "11:00"), ("event", "isolated", "", "11:10")),
    ],
)
def test_a_start_typed(
    book: str, capsys: pytest.CaptureFixture[str], before: tuple[tuple[str, ...], ...]
) -> None:
    for kind, what, text, at in before:
        done(capsys, kind, book, what, *([text] if text else []), "--at", f"2026-03-14 {at}")
    stopped(capsys, "event", book, "started", "--at", "2026-03-14 11:20")
    # Now, without a time, is later than all of it.
    stopped(capsys, "event", book, "started")
    with Log(Path(book)) as opened:
        notes = [e.text for e in opened.entries() if e.kind == "note"]
    assert len(notes) == 2
    assert all(n.startswith("a start was refused: ") for n in notes)
    assert no_start_in_vacuum(book)
    done(capsys, "event", book, "vacuum-broken", "with vapour")
    done(capsys, "event", book, "started")


def test_what_made_a_start_right_is_not_taken_away_under_it(
    book: str, capsys: pytest.CaptureFixture[str]
) -> None:
    told = stopped(capsys, "withdraw", book, "2", "was the other machine")
    assert "started at 2026-03-14 10:05" in told
    assert "withdraw it first" in told
    # Moved behind the start by a correction of its time.
    stopped(capsys, "correct", book, "2", "with vapour", "--at", "2026-03-14 10:10")
    # The start moved before it.
    stopped(capsys, "correct", book, "3", "again", "--at", "2026-03-14 09:30")
    # A reading or an evacuation put in afterwards, between the two.
    stopped(capsys, "read", book, "vacuum-gauge", "350 micron", "--at", "2026-03-14 10:04")
    stopped(capsys, "event", book, "evacuating", "--at", "2026-03-14 10:03")
    assert no_start_in_vacuum(book)
    # What was typed is not lost.
    with Log(Path(book)) as opened:
        notes = " ".join(e.text for e in opened.entries() if e.kind == "note")
    assert "350 micron" in notes
    # The start was a slip: then the rest may go.
    done(capsys, "withdraw", book, "3", "never started")
    done(capsys, "withdraw", book, "2", "was the other machine")
    # A withdrawn start does not come back by a correction.
    stopped(capsys, "correct", book, "3", "after all")
    assert no_start_in_vacuum(book)


@pytest.mark.parametrize("form", ["json", "csv"])
def test_a_start_read_in(
    book: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], form: str
) -> None:
    whole = str(tmp_path / f"whole.{form}")
    done(capsys, "export", book, whole)
    done(capsys, "import", str(tmp_path / "copy.sweat"), whole)
    # The same file with the broken vacuum taken out of it.
    text = Path(whole).read_text()
    if form == "json":
        document = json.loads(text)
        document["entries"] = [e for e in document["entries"] if e["channel"] != "vacuum broken"]
        text = json.dumps(document)
    else:
        text = "".join(r for r in text.splitlines(keepends=True) if "vacuum broken" not in r)
    bad = tmp_path / f"bad.{form}"
    bad.write_text(text)
    other = str(tmp_path / "other.sweat")
    assert "nothing was added" in stopped(capsys, "import", other, str(bad))
    with Log(Path(other)) as opened:
        assert opened.entries() == []
    # A start alone, into a log whose circuit stands under vacuum at that time.
    done(capsys, "new", str(tmp_path / "pumping.sweat"))
    done(capsys, "event", str(tmp_path / "pumping.sweat"), "evacuating", "--at", "2026-03-14 10:02")
    stopped(capsys, "import", str(tmp_path / "pumping.sweat"), whole)


def test_a_clock_that_went_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = str(tmp_path / "shelf.sweat")
    nine = 1_773_478_800.0
    clock = {"now": nine}
    monkeypatch.setattr(time, "time", lambda: clock["now"])
    done(capsys, "new", path)
    done(capsys, "added", path, "100 g")
    clock["now"] = nine + 3600.0
    done(capsys, "event", path, "evacuating")
    # Set back by three hours: by the clock nothing has been evacuated yet, by the log it has.
    clock["now"] = nine - 7200.0
    stopped(capsys, "event", path, "started")
    # And the other way: evacuated by the wrong clock, before what was let in by the right one.
    clock["now"] = nine - 7000.0
    done(capsys, "event", path, "vacuum-broken")
    done(capsys, "event", path, "evacuating")
    clock["now"] = nine + 7200.0
    stopped(capsys, "event", path, "started")
    assert no_start_in_vacuum(path)


def test_a_start_said_to_have_been_before_is_asked_about(
    book: str, capsys: pytest.CaptureFixture[str]
) -> None:
    done(capsys, "event", book, "stopped", "--at", "2026-03-14 10:30")
    done(capsys, "event", book, "evacuating", "--at", "2026-03-14 11:00")
    told = done(capsys, "event", book, "started", "--at", "2026-03-14 10:40")
    assert "is the time right?" in told
    assert "stop it at once" in told  # no stop was recorded since
    done(capsys, "event", book, "stopped", "--at", "2026-03-14 10:50")


def test_the_pump_on_a_running_machine_is_asked_about(
    book: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "stop it at once" in done(capsys, "event", book, "evacuating")
    assert "stop it at once" not in done(capsys, "read", book, "vacuum-gauge", "20 mbar abs")


def test_a_start_in_a_session_of_charging(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, lines = str(tmp_path / "shelf.sweat"), tmp_path / "typed.txt"
    done(capsys, "new", path, "--refrigerant", "R-134a", "--altitude", "640 m")
    done(capsys, "event", path, "evacuating", "--at", "2026-03-14 09:00")
    lines.write_text("2026-03-14 09:30 started\n2026-03-14 09:40 added 60 g\n", encoding="utf-8")
    parts = ("--compressor", "1", "--refrigerant", "R-134a", "--capillary", "1")
    main(["charge", SEED, path, str(lines), *parts])
    out, err = capsys.readouterr()
    assert "never run or tested under vacuum" in " ".join((out + err).split())
    with Log(Path(path)) as opened:
        rows = opened.entries()
    assert [e.channel or e.kind for e in rows] == ["evacuating", "note", "addition"]
    assert no_start_in_vacuum(path)


def test_a_try_repeated_is_the_same_start(book: str) -> None:
    from sweatline.log.logbook import keep

    with Log(Path(book)) as opened:
        first = keep(opened, kind="event", channel="stopped", text="", key="a", at=1.8e9)
        start = keep(opened, kind="event", channel="started", text="", key="b", at=1.8e9 + 1.0)
        keep(opened, kind="event", channel="stopped", text="", at=1.8e9 + 2.0)
        keep(opened, kind="event", channel="evacuating", text="", at=1.8e9 + 3.0)
        again = keep(opened, kind="event", channel="started", text="", key="b", at=1.8e9 + 1.0)
        assert again.entry == start.entry
        assert first.entry.id < start.entry.id


def test_order_of_writing_and_of_happening() -> None:
    rows = [
        Entry(kind="note", happened_at=10.0, text="first typed", id=1),
        Entry(kind="note", happened_at=5.0, text="earlier", id=2),
        Entry(kind="note", happened_at=4.0, text="corrected", corrects=1, id=3),
    ]
    assert [e.text for e in active_entries(rows)] == ["corrected", "earlier"]
    assert [e.text for e in active_entries(rows, order="written")] == ["corrected", "earlier"]
    assert [e.text for e in active_entries(rows[:2], order="written")] == ["first typed", "earlier"]


def test_a_refused_start_is_told_in_the_units_of_the_log(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = str(tmp_path / "us.sweat")
    done(capsys, "new", path, "--refrigerant", "R-134a", "--units", "US")
    done(capsys, "read", path, "vacuum-gauge", "4000 micron", "--at", "2026-03-14 09:00")
    err = stopped(capsys, "event", path, "started", "--at", "2026-03-14 09:05")
    assert "stands at 4000 micron" in err
    assert "Pa" not in err
    assert "230 V" not in err
    job = tmp_path / "us.toml"
    job.write_text(Path(SEED).read_text(encoding="utf-8").replace('"SI"', '"US"'))
    done(capsys, "event", path, "evacuating", "--at", "2026-03-14 10:00")
    done(capsys, "event", path, "isolated", "--at", "2026-03-14 10:20")
    for minute, micron in (("20", 400), ("25", 900), ("30", 1200)):
        done(capsys, "read", path, "vac", f"{micron} micron", "--at", f"2026-03-14 10:{minute}")
    assert main(["evacuation", str(job), "--log", path, "--compressor", "1"]) == 0
    assert "the circuit stands at 1200 micron" in " ".join(capsys.readouterr().out.split())

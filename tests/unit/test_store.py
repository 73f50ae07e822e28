"""The log file: append-only, loud about what is wrong, and the same after a trip through text."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from sweatline.errors import StoreError
from sweatline.log.entries import Entry, Instrument, active_entries
from sweatline.log.logbook import open_log
from sweatline.log.store import STEPS, Log, from_csv, from_json, to_csv, to_json


def reading(value: float, at: float = 0.0, **other: object) -> Entry:
    entry = Entry(
        kind="reading",
        happened_at=at,
        text=f"{value:g} psig",
        channel="suction pressure",
        quantity="pressure",
        value=value,
        unit="psig",
        atmosphere=101325.0,
    )
    return replace(entry, **other)  # type: ignore[arg-type]


@pytest.fixture
def log(tmp_path: Path) -> Log:
    return Log(tmp_path / "machine.sweat")


def test_entries_come_back_as_written(log: Log) -> None:
    gauge = Instrument(name="blue gauge", absolute=3000.0, relative=0.01, note="class 1.6")
    log.add_instrument(gauge)
    log.add_instrument(gauge)
    first = log.append(reading(2.87e5, 5.5, instrument="blue gauge", sd=1234.5678901234567))
    second = log.append(Entry(kind="note", happened_at=6.0, text='"quoted", ünïcode\nand a line'))
    assert (first.id, second.id) == (1, 2)
    assert first.key
    assert first.written_at > 1.7e9
    assert log.entries() == [first, second]
    assert log.entries(after=1) == [second]
    with Log(log.path, must_exist=True) as again:
        assert again.entries() == [first, second]
        assert again.instruments() == [gauge]
        assert again.damage() == ""


def test_repeated_key_is_one_entry(log: Log) -> None:
    once = log.append(reading(1e5, key="abc"))
    assert log.append(reading(1e5, key="abc")) == once
    with pytest.raises(StoreError, match="belongs to another entry"):
        log.append(reading(2e5, key="abc"))
    assert log.entries() == [once]


def test_corrections_stand_in_place_and_nothing_is_changed(log: Log) -> None:
    a = log.append(reading(1e5, 1.0))
    b = log.append(reading(2e5, 2.0))
    c = log.append(reading(1.1e5, 1.0, corrects=a.id))
    d = log.append(reading(1.2e5, 1.0, corrects=c.id))
    assert active_entries(log.entries()) == [d, b]
    log.append(Entry(kind="withdrawal", happened_at=3.0, text="wrong gauge", corrects=b.id))
    assert active_entries(log.entries()) == [d]
    assert log.entries()[:3] == [a, b, c]
    with pytest.raises(StoreError, match="no entry 99"):
        log.append(reading(1e5, corrects=99))
    raw = sqlite3.connect(log.path)
    for change in ("UPDATE entry SET value = 0", "DELETE FROM entry"):
        with pytest.raises(sqlite3.IntegrityError, match="append a"):
            raw.execute(change)
    raw.close()


def test_all_or_none(log: Log) -> None:
    with pytest.raises(StoreError):
        log.append_all([reading(1e5), reading(2e5, corrects=50)])
    with pytest.raises(StoreError, match="refused"):
        log.append(replace(reading(1e5), value=None))
    with pytest.raises(StoreError, match="refused"):
        log.append(reading(1e5, instrument="never heard of"))
    assert log.entries() == []


def test_full_disk_is_said_and_keeps_what_was_there(log: Log) -> None:
    kept = log.append(reading(1e5))
    pages = log._open.execute("PRAGMA page_count").fetchone()[0]
    log._open.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(StoreError, match="disk is full; the entry was not written"):
        log.append(Entry(kind="note", happened_at=0.0, text="x" * 100_000))
    log._open.execute("PRAGMA max_page_count = 1000000")
    after = log.append(reading(2e5))
    assert log.entries() == [kept, after]
    assert log.damage() == ""


def test_locked_log_is_said(log: Log, monkeypatch: pytest.MonkeyPatch) -> None:
    other = sqlite3.connect(log.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    log._open.execute("PRAGMA busy_timeout = 50")
    with pytest.raises(StoreError, match="another program has been writing"):
        log.append(reading(1e5))
    assert log.entries() == []  # reading goes on meanwhile
    other.execute("ROLLBACK")
    other.close()
    assert log.append(reading(1e5)).id == 1


def test_what_is_not_a_log_is_left_alone(tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("suction 27 psig\n" * 400, encoding="utf-8")
    before = text.read_bytes()
    with pytest.raises(StoreError, match="not a log"):
        Log(text)
    assert text.read_bytes() == before
    other = tmp_path / "other.db"
    raw = sqlite3.connect(other)
    raw.execute("CREATE TABLE cats (name TEXT)")
    raw.commit()
    raw.close()
    with pytest.raises(StoreError, match="not a log of sweatline"):
        Log(other)
    with pytest.raises(StoreError, match="no such log"):
        Log(tmp_path / "none.sweat", must_exist=True)
    with pytest.raises(StoreError, match="no such folder"):
        Log(tmp_path / "nowhere" / "x.sweat")


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="rights of POSIX")
def test_read_only_file_is_said(log: Log) -> None:
    log.append(reading(1e5))
    log._open.execute("PRAGMA query_only = ON")
    with pytest.raises(StoreError, match="read-only"):
        log.append(reading(2e5))


def test_newer_log_is_refused_and_older_is_carried_over(tmp_path: Path) -> None:
    path = tmp_path / "machine.sweat"
    with Log(path) as log:
        kept = log.append(reading(1e5))
    further = "ALTER TABLE entry ADD COLUMN colour TEXT NOT NULL DEFAULT 'grey';"
    with Log(path, steps=(*STEPS, further)) as log:
        assert log.entries() == [kept]
        assert log._open.execute("SELECT colour FROM entry").fetchone() == ("grey",)
    known = len(STEPS)
    words = rf"newer sweatline \(format {known + 1}, this one reads up to {known}\)"
    with pytest.raises(StoreError, match=words):
        Log(path)


def test_first_format_is_carried_over(tmp_path: Path) -> None:
    path = tmp_path / "machine.sweat"
    with Log(path, steps=STEPS[:1]) as log:
        log._open.execute("INSERT INTO instrument VALUES ('blue dial', 4e3, 0.0, 'class 1.6')")
        log._open.execute(
            "INSERT INTO entry (key, kind, happened_at, written_at, text, channel, value) "
            "VALUES ('a', 'reading', 1.0, 2.0, '1 bar(g)', 'suction gauge', 2e5)"
        )
    with Log(path) as log:
        assert [e.text for e in log.entries()] == ["1 bar(g)"]
        assert log.instruments() == [
            Instrument(name="blue dial", absolute=4e3, note="class 1.6", repeats=None)
        ]
        log.add_instrument(Instrument(name="strap", absolute=0.5, repeats=0.1))
    with Log(path) as log:
        assert log.instruments()[1].repeats == 0.1


def test_failed_migration_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "machine.sweat"
    with Log(path) as log:
        kept = log.append(reading(1e5))
    broken = "ALTER TABLE entry ADD COLUMN a TEXT; ALTER TABLE nothing ADD COLUMN b TEXT;"
    with pytest.raises(StoreError, match="refused"):
        Log(path, steps=(*STEPS, broken))
    with Log(path) as log:
        assert log.entries() == [kept]


@pytest.fixture
def filled(log: Log) -> Log:
    log.set_about({"machine": "shelf unit", "refrigerant": "R-134a"})
    log.add_instrument(Instrument(name="scale", absolute=1e-3, note="1 g steps"))
    a = log.append(reading(1.0 / 3.0 * 1e6, 0.1 + 0.2))
    log.append(reading(-0.0, 1e-300, corrects=a.id, text=' 27,5 "psig"\n= x'))
    log.append(
        Entry(
            kind="addition",
            happened_at=1e9,
            text="15 g",
            value=0.015,
            unit="g",
            instrument="scale",
            refrigerant="R-134a",
            phase="vapour",
        )
    )
    log.append(Entry(kind="event", happened_at=2e9, text="", channel="started"))
    return log


@pytest.mark.parametrize("way", [(to_json, from_json), (to_csv, from_csv)])
def test_there_and_back_without_loss(filled: Log, tmp_path: Path, way: tuple) -> None:  # type: ignore[type-arg]
    out, back = way
    text = out(filled)
    with Log(tmp_path / "copy.sweat") as copy:
        assert back(text, copy) == 4
        assert copy.entries() == filled.entries()
        assert back(text, copy) == 0
        assert out(copy) == text or out is to_csv
    # Into a log that has something else: numbers move, meaning does not.
    with Log(tmp_path / "other.sweat") as other:
        mine = other.append(Entry(kind="note", happened_at=0.0, text="mine"))
        assert back(text, other) == 4
        there = other.entries()
        assert there[0] == mine
        assert [e.text for e in there[1:]] == [e.text for e in filled.entries()]
        assert [e.corrects for e in there if e.corrects is not None] == [2]


def test_spoiled_exports_are_refused_whole(filled: Log, tmp_path: Path) -> None:
    good = to_csv(filled)
    lines = good.splitlines()
    spoiled = {
        "head line": good.replace("happened_at", "when", 1),
        "cells": "\n".join([lines[0], lines[-1] + ",1"]),
        "not a number": good.replace("1000000000.0", "soon"),
        "no such kind": good.replace("addition", "gift"),
    }
    with Log(tmp_path / "copy.sweat") as copy:
        for words, text in spoiled.items():
            with pytest.raises(StoreError, match=words):
                from_csv(text, copy, name="x.csv")
        for text in ("{", "[]", '{"format": "sweatline log 1"}'):
            with pytest.raises(StoreError):
                from_json(text, copy)
        assert copy.entries() == []


@pytest.fixture
def shelf() -> Iterator[Path]:
    """A folder that nobody can write to once `locked` was called on it."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


@pytest.fixture
def locked() -> Iterator[Callable[[Path], None]]:
    """Takes the right to write from a folder and what lies in it, from root as well."""

    def lock(folder: Path) -> None:
        for path in folder.iterdir():
            path.chmod(0o444)
        folder.chmod(0o555)
        if os.geteuid() == 0:
            os.seteuid(65534)

    yield lock
    if os.getuid() == 0:
        os.seteuid(0)


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="rights of POSIX")
@pytest.mark.parametrize("killed", [False, True])
def test_a_log_where_nothing_can_be_written_is_read(
    shelf: Path, locked: Callable[[Path], None], killed: bool
) -> None:
    """Also with entries that only its journal holds, as a killed program leaves them."""
    with Log(shelf / "a.sweat") as log:
        kept = log.append(reading(1e5))
        for path in sorted(shelf.iterdir()):
            if killed and not path.name.endswith("-shm"):
                shutil.copyfile(path, path.with_name(path.name.replace("a.sweat", "b.sweat")))
    path = shelf / ("b.sweat" if killed else "a.sweat")
    locked(shelf)
    with Log(path, must_exist=True) as log:
        assert log.entries() == [kept]
        with pytest.raises(StoreError, match="cannot be written"):
            log.append(reading(2e5))


def journal_of(folder: Path, count: int) -> Path:
    """A log that was killed with entries that only its journal holds."""
    with Log(folder / "a.sweat") as log:
        log.append(reading(0.0))
        log._open.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        for n in range(count):
            log.append(reading(1e5 * (n + 1)))
        for end in ("", "-wal"):
            shutil.copyfile(f"{log.path}{end}", folder / f"b.sweat{end}")
    return folder / "b.sweat"


def test_damaged_entries_are_told_once_and_for_ever(tmp_path: Path) -> None:
    path = journal_of(tmp_path, 8)
    journal = Path(f"{path}-wal")
    content = bytearray(journal.read_bytes())
    content[len(content) // 2] ^= 0x55
    journal.write_bytes(content)
    with pytest.raises(StoreError, match=r"the last \d things .* are lost") as caught:
        Log(path)
    assert "b.sweat-damaged" in str(caught.value)
    assert (tmp_path / "b.sweat-damaged").read_bytes() == content
    with Log(path) as log:
        entries = log.entries()
        assert entries[0].value == 0.0
        assert 1 < len(entries) < 9
        assert "are lost" in entries[-1].text
        assert log.damage() == ""


def test_a_sound_journal_and_one_that_was_cut_off_are_no_damage(tmp_path: Path) -> None:
    path = journal_of(tmp_path, 8)
    with Log(path) as log:
        assert len(log.entries()) == 9
    (tmp_path / "cut").mkdir()
    path = journal_of(tmp_path / "cut", 8)
    journal = Path(f"{path}-wal")
    journal.write_bytes(journal.read_bytes()[:-100])
    with Log(path) as log:
        assert len(log.entries()) == 8


def test_a_new_log_that_fails_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "new.sweat"

    def full(*_: object) -> None:
        raise StoreError(what="the disk is full")

    with monkeypatch.context() as disk:
        disk.setattr(Log, "set_about", full)
        with pytest.raises(StoreError, match="full"):
            open_log(str(path), new=True, refrigerant="R-134a")
    assert list(tmp_path.iterdir()) == []
    open_log(str(path), new=True, refrigerant="R-134a").close()


def test_a_disk_that_cannot_be_written_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A log that was closed has no journal: on a full disk it cannot be given one."""
    path = tmp_path / "a.sweat"
    Log(path).close()

    def fails(*_: object, **__: object) -> None:
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorcode = sqlite3.SQLITE_IOERR_SHMSIZE
        raise error

    monkeypatch.setattr(sqlite3, "connect", fails)
    with pytest.raises(StoreError, match="the disk is full, or it fails"):
        Log(path)


def test_deeply_nested_json_is_no_log(log: Log) -> None:
    with pytest.raises(StoreError, match="not JSON"):
        from_json("[" * 100_000, log)

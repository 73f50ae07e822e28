"""The log file: one SQLite database, written by one writer, in which nothing is ever changed.

An entry that `append` has returned is on the disk: every one is a transaction of its own, and the
journal is flushed before the call returns. Killing the program, or the mains, at any moment loses
at most the entry that was not yet acknowledged.

As JSON or CSV it holds every column of every row, numbers with all their digits, corrections
included. Reading one into a log that has some of it already adds only what is missing, by the
entries' keys.
"""

from __future__ import annotations

import csv
import io
import json
import math
import shutil
import sqlite3
import time
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import asdict, fields, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final, Self, get_args

from sweatline.errors import StoreError
from sweatline.log.entries import Entry, Instrument, Kind, Phase

IN_MEMORY: Final = ":memory:"  # path of a log that is gone when it is closed

_APPLICATION: Final = 0x53574C47  # "SWLG": whose file it is, in the database's `application_id`

# Schema of the file, as numbered steps from an empty file to the present; the number of the last
# one stands in `user_version`. A released step is never changed: a change is a further step.
_FIRST: Final = """
CREATE TABLE about (
    name  TEXT PRIMARY KEY,
    value TEXT NOT NULL
) WITHOUT ROWID;

CREATE TABLE instrument (
    name     TEXT PRIMARY KEY,
    absolute REAL NOT NULL CHECK (absolute >= 0.0),  -- standard uncertainty, SI of what it reads
    relative REAL NOT NULL CHECK (relative >= 0.0),
    note     TEXT NOT NULL
) WITHOUT ROWID;

CREATE TABLE entry (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    key         TEXT NOT NULL UNIQUE,
    kind        TEXT NOT NULL
                CHECK (kind IN ('reading', 'addition', 'note', 'event', 'withdrawal')),
    happened_at REAL NOT NULL,                -- s since 1970-01-01 UTC, as the person says
    written_at  REAL NOT NULL,                -- s, as the clock of the machine said
    corrects    INTEGER REFERENCES entry (id),
    text        TEXT NOT NULL,                -- as typed
    channel     TEXT NOT NULL DEFAULT '',     -- what was read, or which event
    quantity    TEXT NOT NULL DEFAULT '',     -- kind of quantity
    value       REAL,                         -- SI, pressures absolute
    sd          REAL,                         -- SI, stated with the reading
    unit        TEXT NOT NULL DEFAULT '',
    instrument  TEXT REFERENCES instrument (name),
    atmosphere  REAL,                         -- Pa, the zero of the gauges then
    refrigerant TEXT NOT NULL DEFAULT '',
    phase       TEXT NOT NULL DEFAULT '' CHECK (phase IN ('', 'liquid', 'vapour')),
    CHECK (kind NOT IN ('reading', 'addition') OR value IS NOT NULL),
    CHECK (kind <> 'reading' OR channel <> ''),
    CHECK (kind <> 'withdrawal' OR corrects IS NOT NULL),
    CHECK (corrects IS NULL OR corrects < id)
);

CREATE INDEX entry_by_channel ON entry (channel, happened_at);

CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry
BEGIN SELECT RAISE (ABORT, 'an entry is never changed: append a correction'); END;

CREATE TRIGGER entry_is_never_removed BEFORE DELETE ON entry
BEGIN SELECT RAISE (ABORT, 'an entry is never removed: append a withdrawal'); END;
"""

_SECOND: Final = """
ALTER TABLE instrument
    ADD COLUMN repeats REAL CHECK (repeats IS NULL OR repeats > 0.0);  -- from reading to reading
"""

STEPS: Final = (_FIRST, _SECOND)

_PATIENCE: Final = 5.0  # s to wait for another writer
_NOT_WRITTEN: Final = (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN)

_NAMES: Final = tuple(f.name for f in fields(Entry))
_COLUMNS: Final = tuple(name for name in _NAMES if name != "id")
_OF_INSTRUMENT: Final = tuple(f.name for f in fields(Instrument))
_SELECT: Final = f"SELECT id, {', '.join(_COLUMNS)} FROM entry"
_INSERT: Final = (
    f"INSERT INTO entry ({', '.join(_COLUMNS)}) VALUES ({', '.join('?' * len(_COLUMNS))})"
)

FORMAT: Final = "sweatline log 1"

# Given all rows without and with those read in; says why they must not be, or nothing.
Check = Callable[[Sequence[Entry], Sequence[Entry]], str]

_WHOLE: Final = frozenset({"id", "corrects"})
_REAL: Final = frozenset({"happened_at", "written_at", "value", "sd", "atmosphere"})
_MAYBE: Final = frozenset({"corrects", "value", "sd", "atmosphere"})


# What each primary result code of SQLite means for a log (sqlite.org, "Result and Error Codes").
_MEANINGS: Final = {
    sqlite3.SQLITE_FULL: "the disk is full; the entry was not written, all earlier ones are safe",
    sqlite3.SQLITE_IOERR: "the disk is full, or it fails: nothing of this was written; make room "
    "or look to the disk, then try again",
    sqlite3.SQLITE_READONLY: "the log cannot be written: the file or its folder is read-only",
    sqlite3.SQLITE_CANTOPEN: "the log cannot be opened: no such folder, or no right to it",
    **dict.fromkeys(
        (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED),
        f"another program has been writing to this log for {_PATIENCE:.0f} s; "
        "nothing of yours was written, try again",
    ),
    **dict.fromkeys(
        (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT),
        "not a log of sweatline, or damaged; the file was left as it is",
    ),
}


def _told(error: sqlite3.Error, path: Path) -> StoreError:
    """The store's failure in words that say what to do."""
    what = _MEANINGS.get(_code(error), f"the log refused it: {error}")
    return StoreError(what=what, path=str(path))


def _code(error: sqlite3.Error) -> int:
    """Primary result code, the lowest byte of an extended one; errors of the module have none."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def _copied(path: Path) -> tuple[sqlite3.Connection, int]:
    """A log of a place where nothing can be written, in memory, and what its journal lost."""
    held = sqlite3.connect(IN_MEMORY, isolation_level=None)
    with TemporaryDirectory() as folder:
        copy = Path(folder) / "log"
        shutil.copyfile(path, copy)
        if _journal(path).exists():
            shutil.copyfile(_journal(path), _journal(copy))
        with closing(sqlite3.connect(copy, isolation_level=None)) as there:
            lost = _lost(there, copy)
            there.backup(held)
    return held, lost


def _loss(lost: int) -> Entry:
    """The note that tells of damaged entries."""
    text = f"the last {lost} things written before this were damaged on the disk and are lost"
    return Entry(kind="note", happened_at=time.time(), text=text)


def _journal(path: Path) -> Path:
    return path.with_name(f"{path.name}-wal")


# Journals that were looked at: path and salts, which a journal that begins anew changes.
_LOOKED_AT: Final[set[tuple[str, bytes]]] = set()


def _lost(db: sqlite3.Connection, path: Path) -> int:
    """Transactions of the journal that are damaged, and that SQLite passes over without a word.

    It reads the journal up to the first frame whose checksum is wrong. One transaction behind it
    may have been cut off before it was acknowledged; where there are more, entries are lost. Every
    frame carries the salts of the journal's head, the last of a transaction the size of the file
    (sqlite.org, "WAL-mode File Format").
    """
    try:
        content = _journal(path).read_bytes()
    except OSError:
        return 0
    salts = content[16:24]
    size = 24 + int(db.execute("PRAGMA page_size").fetchone()[0])
    ends = [
        n
        for n, at in enumerate(range(32, len(content) - size + 1, size), start=1)
        if content[at + 8 : at + 16] == salts and any(content[at + 4 : at + 8])
    ]
    if not ends or (str(path), salts) in _LOOKED_AT:
        return 0
    _busy, read, _moved = db.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
    with _journal(path).open("rb") as now:
        if read < 0 or now.read(24)[16:] != salts:  # somebody else writes: it is in order
            return 0
    _LOOKED_AT.add((str(path), salts))
    damaged = sum(n > read for n in ends)
    return damaged if damaged > 1 else 0


class Log:
    """An open log file; use it in a ``with`` statement.

    Parameters
    ----------
    path : Path
        The file; made if it does not exist, unless `must_exist`.
    must_exist : bool
        Refuse to make a new file.
    steps : sequence of str
        Migrations; only tests give others.

    Raises
    ------
    StoreError
        Not a log, made by a newer version, locked, not to be opened, or damaged: once, then a note
        in the log tells of it. One that cannot be written can be read.
    """

    def __init__(
        self, path: Path, *, must_exist: bool = False, steps: Sequence[str] = STEPS
    ) -> None:
        self.path = path
        if must_exist and not path.exists():
            raise StoreError(what="there is no such log", path=str(path))
        self._db: sqlite3.Connection | None = None
        try:
            self._db = sqlite3.connect(path, timeout=_PATIENCE, isolation_level=None)
            self._prepare(steps)
        except sqlite3.Error as error:
            self.close()
            if _code(error) not in _NOT_WRITTEN or not path.is_file():
                raise _told(error, path) from error
            self._read_only(steps, error)
        except StoreError:
            self.close()
            raise

    def _read_only(self, steps: Sequence[str], error: sqlite3.Error) -> None:
        """Read a log that cannot be written where it stands; `error` is why."""
        try:
            self._db, lost = _copied(self.path)
            self._prepare(steps)
            if lost:
                self.append(_loss(lost))
            self._open.execute("PRAGMA query_only = ON")
        except (sqlite3.Error, OSError):  # not to be read either
            self.close()
            raise _told(error, self.path) from error

    @property
    def _open(self) -> sqlite3.Connection:
        if self._db is None:
            raise StoreError(what="this log has been closed", path=str(self.path))
        return self._db

    def _prepare(self, steps: Sequence[str]) -> None:
        db = self._open
        db.execute("PRAGMA foreign_keys = ON")
        mark = db.execute("PRAGMA application_id").fetchone()[0]
        version = db.execute("PRAGMA user_version").fetchone()[0]
        tables = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if tables and mark != _APPLICATION:
            raise StoreError(what="a database, but not a log of sweatline", path=str(self.path))
        if version > len(steps):
            raise StoreError(
                what=f"this log was written by a newer sweatline (format {version}, this one "
                f"reads up to {len(steps)}); the file was left as it is",
                path=str(self.path),
            )
        lost = _lost(db, self.path)
        aside = self.path.with_name(f"{self.path.name}-damaged")
        if lost:
            try:
                shutil.copyfile(_journal(self.path), aside)
            except OSError as error:
                what = f"{_loss(lost).text}, and they cannot be set aside: {error.strerror}"
                raise StoreError(what=what, path=str(self.path)) from error
        # Readers are not held up by the writer; what is acknowledged is flushed.
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        if version < len(steps):
            self._migrate(steps)
        if lost:
            self.append(_loss(lost))
            raise StoreError(
                what=f"{_loss(lost).text}; a note in the log says where. The damaged part is kept "
                f"as {aside.name}. Write down again what is missing: the log opens from now on",
                path=str(self.path),
            )

    def _migrate(self, steps: Sequence[str]) -> None:
        """Bring the file to the present schema."""
        with self._writing() as writer:
            # Asked again inside the lock: somebody else may have migrated meanwhile.
            version = writer.execute("PRAGMA user_version").fetchone()[0]
            for number, script in enumerate(steps[version:], start=version + 1):
                for statement in _statements(script):
                    writer.execute(statement)
                writer.execute(f"PRAGMA user_version = {number}")
            writer.execute(f"PRAGMA application_id = {_APPLICATION}")

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """A transaction that is either wholly on the disk afterwards or not there at all."""
        db = self._open
        try:
            db.execute("BEGIN IMMEDIATE")
            try:
                yield db
                db.execute("COMMIT")
            except BaseException:
                if db.in_transaction:
                    db.execute("ROLLBACK")
                raise
        except sqlite3.Error as error:
            raise _told(error, self.path) from error

    def close(self) -> None:
        """Close the file; closing twice does nothing."""
        if self._db is not None:
            self._db.close()
            self._db = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def append(self, entry: Entry) -> Entry:
        """Write one entry; when this returns, it is on the disk.

        An entry whose key is in the log already is not written again: the earlier one is returned,
        so that a try may be repeated.

        Raises
        ------
        StoreError
            The key belongs to another entry, the entry corrects one that is not there, the disk
            is full, or the log is locked. Nothing is written then.
        """
        return self.append_all([entry])[0]

    def append_all(self, entries: Sequence[Entry]) -> list[Entry]:
        """Write several entries, all or none."""
        with self._writing() as db:
            return [self._insert(db, entry) for entry in entries]

    def merge(
        self,
        entries: Sequence[Entry],
        *,
        name: str = "",
        check: Check | None = None,
    ) -> int:
        """Add the entries of another log whose keys are not here yet; how many were added.

        Rows get new numbers here, and what corrects them follows. All or none is written; none
        when `check`, which is given all rows without and with them, says why.
        """
        where = name or str(self.path)
        before_all = self.entries()
        number: dict[int, int] = {}
        added = 0
        with self._writing() as db:
            for entry in sorted(entries, key=lambda e: e.id):
                if entry.corrects is not None and entry.corrects not in number:
                    raise StoreError(
                        what=f"entry {entry.id} corrects {entry.corrects}, which is not in it",
                        path=where,
                    )
                before = db.execute("SELECT count(*) FROM entry").fetchone()[0]
                corrects = None if entry.corrects is None else number[entry.corrects]
                here = self._insert(db, replace(entry, id=0, corrects=corrects))
                if here.written_at != entry.written_at:
                    raise StoreError(
                        what=f"entry {entry.id} was written at another time than the one of its "
                        f"key in the log (number {here.id})",
                        path=where,
                    )
                number[entry.id] = here.id
                added += db.execute("SELECT count(*) FROM entry").fetchone()[0] - before
            refused = check(before_all, self.entries()) if check is not None and added else ""
            if refused:
                raise StoreError(what=refused, path=where)
        return added

    def _insert(self, db: sqlite3.Connection, entry: Entry) -> Entry:
        key = entry.key or uuid.uuid4().hex
        row = db.execute(f"{_SELECT} WHERE key = ?", (key,)).fetchone()
        if row is not None:
            known = _entry(row)
            if replace(entry, id=known.id, written_at=known.written_at) != known:
                raise StoreError(
                    what=f"the key {key} belongs to another entry (number {known.id})",
                    path=str(self.path),
                )
            return known
        if (
            entry.corrects is not None
            and not db.execute(
                "SELECT count(*) FROM entry WHERE id = ?", (entry.corrects,)
            ).fetchone()[0]
        ):
            raise StoreError(
                what=f"there is no entry {entry.corrects} to correct", path=str(self.path)
            )
        full = replace(entry, key=key, written_at=entry.written_at or time.time())
        values = asdict(full)
        values["instrument"] = full.instrument or None
        cursor = db.execute(_INSERT, [values[name] for name in _COLUMNS])
        return replace(full, id=int(cursor.lastrowid or 0))

    def entries(self, *, after: int = 0) -> list[Entry]:
        """All rows with a number above `after`, as written; see `active_entries` for what holds."""
        return [_entry(row) for row in self._rows(f"{_SELECT} WHERE id > ? ORDER BY id", (after,))]

    @property
    def last_id(self) -> int:
        """Number of the last row; 0 for an empty log."""
        return int(self._rows("SELECT max(id) FROM entry")[0][0] or 0)

    def number_of(self, key: str) -> int | None:
        """Number of the row that was written with a key; None where there is none."""
        found = self._rows("SELECT id FROM entry WHERE key = ?", (key,))
        return int(found[0][0]) if found else None

    def _rows(self, query: str, values: tuple[object, ...] = ()) -> list[Any]:
        try:
            return self._open.execute(query, values).fetchall()
        except sqlite3.Error as error:
            raise _told(error, self.path) from error

    def instruments(self) -> list[Instrument]:
        """Instruments that readings may name."""
        rows = self._rows(f"SELECT {', '.join(_OF_INSTRUMENT)} FROM instrument ORDER BY name")
        return [Instrument(**dict(zip(_OF_INSTRUMENT, row, strict=True))) for row in rows]

    def add_instrument(self, instrument: Instrument) -> None:
        """Make an instrument known; one of the same name must be the same.

        What was only named so far may be described once; a name alone changes nothing.
        """
        known = {i.name: i for i in self.instruments()}.get(instrument.name)
        bare = Instrument(name=instrument.name)
        if known == instrument or (known is not None and instrument == bare):
            return
        if known is not None and known != bare:
            raise StoreError(
                what=f"another instrument is called {instrument.name}; give this one its own name",
                path=str(self.path),
            )
        with self._writing() as db:
            db.execute(
                f"INSERT INTO instrument ({', '.join(_OF_INSTRUMENT)}) VALUES (?, ?, ?, ?, ?) "
                "ON CONFLICT (name) DO UPDATE SET absolute = excluded.absolute, "
                "relative = excluded.relative, note = excluded.note, repeats = excluded.repeats",
                list(asdict(instrument).values()),
            )

    def about(self) -> dict[str, str]:
        """What the log is about: machine, refrigerant, job file and the like."""
        return dict(self._rows("SELECT name, value FROM about ORDER BY name"))

    def set_about(self, facts: Mapping[str, str]) -> None:
        """State or restate what the log is about."""
        with self._writing() as db:
            db.executemany(
                "INSERT INTO about (name, value) VALUES (?, ?) "
                "ON CONFLICT (name) DO UPDATE SET value = excluded.value",
                list(facts.items()),
            )

    def damage(self) -> str:
        """What the file's own check finds wrong; empty when nothing."""
        bad = [line for (line,) in self._rows("PRAGMA integrity_check") if line != "ok"]
        loose = self._rows("PRAGMA foreign_key_check")
        return "; ".join([*bad, *(f"row without its parent: {row}" for row in loose)])


def _statements(script: str) -> Iterator[str]:
    """The statements of a script; a trigger holds semicolons of its own."""
    held = ""
    for part in script.split(";"):
        held += part + ";"
        if sqlite3.complete_statement(held):
            if held.strip(" \n;"):
                yield held
            held = ""


def _entry(row: tuple[object, ...]) -> Entry:
    values = dict(zip(("id", *_COLUMNS), row, strict=True))
    values["instrument"] = values["instrument"] or ""
    return Entry(**values)  # type: ignore[arg-type]


def to_json(log: Log) -> str:
    """Everything in a log, as one JSON document."""
    document = {
        "format": FORMAT,
        "about": log.about(),
        "instruments": [asdict(i) for i in log.instruments()],
        "entries": [asdict(e) for e in log.entries()],
    }
    return json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def to_csv(log: Log) -> str:
    """The entries of a log, one a line, with a head line; facts and instruments are not in it."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_NAMES)
    writer.writerows(asdict(entry).values() for entry in log.entries())
    return out.getvalue()


def from_json(text: str, into: Log, *, name: str = "", check: Check | None = None) -> int:
    """Add what a JSON document holds and the log does not; the number of rows added.

    Raises
    ------
    StoreError
        Not such a document, or an entry that cannot be; nothing is added then.
    """
    try:
        document = json.loads(text)
    except (json.JSONDecodeError, RecursionError) as error:
        raise StoreError(what=f"not JSON: {error}", path=name) from error
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise StoreError(what=f"not a log: its format is not {FORMAT!r}", path=name)
    try:
        instruments = [Instrument(**i) for i in document.get("instruments", [])]
        facts = {str(k): str(v) for k, v in document.get("about", {}).items()}
        rows = list(document["entries"])
    except (AttributeError, KeyError, TypeError) as error:
        raise StoreError(what="the document is not complete", path=name) from error
    entries = [_read(row, f"entry {n}", name) for n, row in enumerate(rows, start=1)]
    for one in instruments:
        into.add_instrument(one)
    known = into.about()
    into.set_about({k: v for k, v in facts.items() if k not in known})
    return into.merge(entries, name=name, check=check)


def from_csv(text: str, into: Log, *, name: str = "", check: Check | None = None) -> int:
    """Add what a CSV table holds and the log does not; the number of rows added.

    Instruments that the readings name are made known without an uncertainty if they are not yet.
    """
    reader = csv.reader(io.StringIO(text, newline=""))
    head = next(reader, [])
    if sorted(head) != sorted(_NAMES):
        missing = ", ".join(sorted(set(_NAMES) - set(head))) or "none"
        raise StoreError(
            what=f"not a log: the head line must name {', '.join(_NAMES)} (missing: {missing})",
            path=name,
        )
    entries = []
    for row in reader:
        if len(row) != len(head):
            raise StoreError(
                what=f"line {reader.line_num} has {len(row)} cells, not {len(head)}", path=name
            )
        entries.append(_read(dict(zip(head, row, strict=True)), f"line {reader.line_num}", name))
    known = {i.name for i in into.instruments()}
    for one in sorted({e.instrument for e in entries if e.instrument} - known):
        into.add_instrument(Instrument(name=one))
    return into.merge(entries, name=name, check=check)


def _read(row: Any, where: str, path: str) -> Entry:
    if not isinstance(row, dict) or set(row) != set(_NAMES):
        raise StoreError(what=f"{where} does not have the columns of an entry", path=path)
    values: dict[str, Any] = {}
    for name in _NAMES:
        cell = row[name]
        try:
            if name in _MAYBE and cell in (None, ""):
                values[name] = None
            elif name in _WHOLE:
                values[name] = int(cell)
            elif name in _REAL:
                values[name] = float(cell)
                if not math.isfinite(values[name]):
                    raise ValueError
            else:
                values[name] = str(cell)
        except (TypeError, ValueError) as error:
            raise StoreError(
                what=f"{where}: {name} is not a number ({cell!r})", path=path
            ) from error
    for name, allowed in (("kind", get_args(Kind)), ("phase", get_args(Phase))):
        if values[name] not in allowed:
            raise StoreError(what=f"{where}: no such {name} ({values[name]!r})", path=path)
    if not values["key"]:
        raise StoreError(what=f"{where}: an entry without a key", path=path)
    return Entry(**values)

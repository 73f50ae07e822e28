"""Schema of the log file, as numbered steps from an empty file to the present.

A step is never changed once it has been released; a change of the schema is a further step. The
number of the last step stands in the file (`user_version`), and the mark that says whose file it
is in `application_id`.
"""

from __future__ import annotations

from typing import Final

__all__ = ["APPLICATION", "STEPS"]

APPLICATION: Final = 0x53574C47  # "SWLG"

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

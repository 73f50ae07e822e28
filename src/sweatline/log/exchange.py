"""A log as JSON or CSV and back, without loss.

Both hold every column of every row, numbers with all their digits, corrections included. Reading
one into a log that has some of it already adds only what is missing, by the entries' keys.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Callable, Sequence
from dataclasses import asdict, fields
from typing import Any, Final, get_args

from sweatline.errors import StoreError
from sweatline.log.entries import Entry, Instrument, Kind, Phase
from sweatline.log.store import Log

FORMAT: Final = "sweatline log 1"

# Given all rows without and with those read in; says why they must not be, or nothing.
Check = Callable[[Sequence[Entry], Sequence[Entry]], str]

_NAMES: Final = tuple(f.name for f in fields(Entry))
_WHOLE: Final = frozenset({"id", "corrects"})
_REAL: Final = frozenset({"happened_at", "written_at", "value", "sd", "atmosphere"})
_MAYBE: Final = frozenset({"corrects", "value", "sd", "atmosphere"})


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
    for entry in log.entries():
        values = asdict(entry)
        writer.writerow([_cell(values[name]) for name in _NAMES])
    return out.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    return repr(value) if isinstance(value, float) else str(value)


def from_json(text: str, into: Log, *, name: str = "", check: Check | None = None) -> int:
    """Add what a JSON document holds and the log does not; the number of rows added.

    Raises
    ------
    StoreError
        Not such a document, or an entry that cannot be; nothing is added then.
    """
    try:
        document = json.loads(text)
    except json.JSONDecodeError as error:
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

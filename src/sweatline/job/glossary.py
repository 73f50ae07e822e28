"""Every key a job file may hold, as a list for documentation and as a JSON schema for editors."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sweatline.job.keys import Key, Table, keys_of
from sweatline.job.model import Job
from sweatline.job.values import Quantity
from sweatline.job.vocabulary import INSTRUMENTS


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One key of a job file in the table where it stands.

    Parameters
    ----------
    table : str
        Header under which it stands, empty at the top of the file.
    path : tuple of str
        Names of the tables that lead to it.
    key : Key
        Its declaration.
    needed : bool
        Nothing can stand in for it.
    """

    table: str
    path: tuple[str, ...]
    key: Key
    needed: bool

    @property
    def name(self) -> str:
        """The key as it is written."""
        return self.key.name

    @property
    def uncertainty(self) -> str:
        """What a reading without a stated uncertainty is taken to be worth."""
        value = self.key.value
        tool = value.tool if isinstance(value, Quantity) else ""
        return INSTRUMENTS[tool].words("SI") if tool else ""


def _entries(part: type, table: Table | None, path: tuple[str, ...]) -> Iterator[Entry]:
    header = ".".join(path)
    if header:
        header = f"[[{header}]]" if table is not None and table.many else f"[{header}]"
    inner: list[tuple[type, Table]] = []
    for field, key, needed in keys_of(part, table).values():
        if key is not None:
            yield Entry(table=header, path=path, key=key, needed=needed)
        elif field.part is not None and field.table is not None:
            inner.append((field.part, field.table))
    for one, below in inner:
        yield from _entries(one, below, (*path, below.name))


def glossary() -> tuple[Entry, ...]:
    """Every key of a job file, table by table."""
    return tuple(_entries(Job, None, ()))


def job_schema() -> dict[str, Any]:
    """JSON schema of a job file, for editors that complete and check TOML by one.

    Quantities are strings with a unit; what units a kind takes is told in the description, and
    only the reader checks it.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "sweatline job file",
        **_table_schema(Job, None, ()),
    }


def _table_schema(part: type, table: Table | None, path: tuple[str, ...]) -> dict[str, Any]:
    properties: dict[str, Any] = {}
    for entry in _entries(part, table, path):
        if entry.path == path:
            described = f"{entry.key.meaning}; written as {entry.key.written}"
            if entry.uncertainty:
                described += f"; without a stated uncertainty taken as {entry.uncertainty}"
            properties[entry.name] = {**entry.key.schema, "description": described}
    required = []
    for name, (field, key, needed) in keys_of(part, table).items():
        if key is None and field.part is not None and field.table is not None:
            inner = _table_schema(field.part, field.table, (*path, name))
            if field.table.many:
                inner = {"type": "array", "minItems": 1, "items": inner}
            properties[name] = inner
        if needed:
            required.append(name)
    found = {"type": "object", "additionalProperties": False, "properties": properties}
    return {**found, "required": required} if required else found

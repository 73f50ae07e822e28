"""What stands in a log: readings, additions of refrigerant, notes, events, and what corrects them.

All numbers are SI, pressures absolute; beside them stands what the person typed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

__all__ = ["Entry", "Instrument", "Kind", "Phase", "active_entries"]

Kind = Literal["reading", "addition", "note", "event", "withdrawal"]
Phase = Literal["", "liquid", "vapour"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """What reads a quantity, and how well."""

    name: str
    absolute: float = 0.0  # standard uncertainty, SI of what it reads
    relative: float = 0.0
    note: str = ""
    # Standard uncertainty from one reading to the next; None when nobody said it.
    repeats: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One row of a log. The store gives `id` and `written_at`.

    A row that `corrects` an earlier one stands in its place; a withdrawal takes it away. The
    earlier row stays in the file.
    """

    kind: Kind
    happened_at: float  # s since 1970-01-01 UTC
    text: str  # as typed
    key: str = ""  # chosen by the writer, so that a repeated try is not a second entry
    channel: str = ""  # what was read, or which event
    quantity: str = ""  # kind of quantity, as in sweatline.units
    value: float | None = None  # SI, pressures absolute
    sd: float | None = None  # SI, where the person stated one
    unit: str = ""  # that it was typed in
    instrument: str = ""
    atmosphere: float | None = None  # Pa, the zero of the gauges then
    refrigerant: str = ""
    phase: Phase = ""
    corrects: int | None = None
    id: int = 0
    written_at: float = 0.0  # s

    @property
    def number(self) -> float:
        """Its value; 0 for an entry without one. [SI]"""
        return float(self.value or 0.0)


def active_entries(
    entries: Iterable[Entry], *, order: Literal["happened", "written"] = "happened"
) -> list[Entry]:
    """The entries that hold: corrected ones in their latest form, withdrawn ones left out.

    In the order in which things happened, what happened together in the order written; or all in
    the order written, a correction in the place of what it corrects.
    """
    latest: dict[int, Entry] = {}
    first: dict[int, int] = {}  # of a row, the row that it goes back to
    for entry in sorted(entries, key=lambda e: e.id):
        origin = entry.id
        if entry.corrects is not None:
            origin = first.get(entry.corrects, entry.corrects)
        first[entry.id] = origin
        latest[origin] = entry
    held = [e for e in latest.values() if e.kind != "withdrawal"]
    if order == "written":
        return sorted(held, key=lambda e: first[e.id])
    return sorted(held, key=lambda e: (e.happened_at, first[e.id]))

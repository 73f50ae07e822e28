"""What stands in a log: readings, additions of refrigerant, notes, events, and what corrects them.

All numbers are SI, pressures absolute; beside them stands what the person typed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Literal

from sweatline.answers import Answer, Q

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
class Entry(Answer):
    """One row of a log. The store gives `id` and `written_at`.

    A row that `corrects` an earlier one stands in its place; a withdrawal takes it away. The
    earlier row stays in the file.
    """

    kind: Kind
    happened_at: Annotated[float, Q("time", doc="Since 1970-01-01, UTC.")]
    text: str
    """As typed."""
    key: str = ""
    """Chosen by the writer, so that a repeated try is not a second entry."""
    channel: str = ""
    """What was read, or which event; empty for the others."""
    quantity: str = ""
    """Kind of quantity."""
    value: Annotated[float | None, Q("ratio", doc="SI, pressures absolute.", unit="SI")] = None
    sd: Annotated[float | None, Q("ratio", doc="Where the person stated it.", unit="SI")] = None
    unit: str = ""
    """That it was typed in."""
    instrument: str = ""
    atmosphere: Annotated[float | None, Q("absolute pressure", doc="Zero of the gauges then.")] = (
        None
    )
    refrigerant: str = ""
    phase: Phase = ""
    corrects: int | None = None
    """Number of the row whose place it takes."""
    id: int = 0
    """Number of the row."""
    written_at: Annotated[float, Q("time")] = 0.0

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

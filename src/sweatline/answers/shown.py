"""Any answer as text for a terminal or as HTML for a notebook, from its fields alone."""

from __future__ import annotations

import html
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, is_dataclass
from typing import Any

from sweatline.answers.answer import members_of, quantities_of
from sweatline.answers.range import Range
from sweatline.answers.rows import rows_of
from sweatline.units.kinds import Kind
from sweatline.units.scale import SI_SCALE, Scale

_RANGE = "likely range (9 in 10)"
_MOST_ROWS = 40  # of one table; the rest is counted


@dataclass(frozen=True, slots=True)
class _Table:
    """One table under its title."""

    title: str
    heads: tuple[str, ...]
    rows: list[tuple[str, ...]]


def scale_of(answer: object) -> Scale:
    """How an answer's numbers are shown: in the units of the job it is about, else in SI."""
    job = getattr(answer, "job", None)
    system = getattr(job, "unit_system", None)
    if system is None:
        return SI_SCALE
    return Scale(system, getattr(job, "atmospheric_pressure", SI_SCALE.atmosphere))


def as_text(answer: object, scale: Scale | None = None) -> str:
    """An answer as plain text tables."""
    lines: list[str] = []
    for table in _tables(answer, scale or scale_of(answer)):
        columns = list(zip(table.heads, *table.rows, strict=True))
        widths = [max(len(cell) for cell in column) for column in columns]
        lines += ["", table.title] if lines else [table.title]
        for row in (table.heads, *table.rows) if any(table.heads) else table.rows:
            cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
            lines.append(("  " + "  ".join(cells)).rstrip())
    return "\n".join(lines)


def as_html(answer: object, scale: Scale | None = None) -> str:
    """An answer as HTML tables, without any style of its own."""
    parts = []
    for table in _tables(answer, scale or scale_of(answer)):
        heads = "".join(f"<th>{html.escape(head)}</th>" for head in table.heads)
        body = "".join(
            "<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in row) + "</tr>"
            for row in table.rows
        )
        parts.append(
            f"<table><caption>{html.escape(table.title)}</caption>"
            f"<thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>"
        )
    return "".join(parts)


def _tables(answer: object, scale: Scale, title: str = "", depth: int = 0) -> Iterator[_Table]:
    """Own quantities and words first, then what hangs below, two levels deep."""
    ranges = getattr(answer, "ranges", None)
    ranges = ranges if isinstance(ranges, Mapping) else {}
    own = [
        (
            row.label,
            scale.show(row.value, row.kind, row.digits),
            _between(row.range, scale, row.kind, row.digits),
        )
        for row in rows_of(answer, ranges)
        if not math.isnan(row.value)
    ]
    below: list[tuple[str, Any]] = []
    for member in members_of(type(answer)):
        value = getattr(answer, member.name)
        name = member.name.replace("_", " ")
        if member.q is not None:
            if isinstance(value, Range):
                label = member.q.label or name
                kind, digits = member.q.kind, member.q.digits
                own.append((label, scale.show(value.middle, kind, digits),
                            _between(value, scale, kind, digits)))  # fmt: skip
        elif isinstance(value, str) and value:
            own.append((name, value, ""))
        elif isinstance(value, bool | int):
            own.append((name, str(value), ""))
        elif value is not None and not isinstance(value, float | str):
            below.append((name, value))
    if own:
        told = any(cell for *_rest, cell in own)
        heads = ("", "value", _RANGE) if told else ("", "value")
        yield _Table(
            title or type(answer).__name__, heads, [row if told else row[:2] for row in own]
        )
    if depth < 2:
        for name, value in below:
            yield from _below(name, value, ranges, scale, depth)


def _below(
    name: str, value: Any, ranges: Mapping[str, Range], scale: Scale, depth: int
) -> Iterator[_Table]:
    if is_dataclass(value) and not isinstance(value, Range):
        yield from _tables(value, scale, name, depth + 1)
    elif isinstance(value, Sequence) and value and is_dataclass(value[0]):
        shown = quantities_of(type(value[0]))
        words = [m.name for m in members_of(type(value[0])) if m.type is str]
        heads = (*(w.replace("_", " ") for w in words), *(q.label for q in shown))
        rows = [
            (
                *(str(getattr(item, word)) for word in words),
                *(scale.show(q.of(item), q.kind, q.digits) for q in shown),
            )
            for item in value[:_MOST_ROWS]
        ]
        more = len(value) - len(rows)
        yield _Table(f"{name} ({len(value)}{f', {more} not shown' if more else ''})", heads, rows)
    elif isinstance(value, Sequence) and value and all(isinstance(v, str) for v in value):
        yield _Table(name, ("",), [(text,) for text in value])


def _between(found: Range | None, scale: Scale, kind: Kind, digits: int) -> str:
    if found is None or math.isnan(found.low):
        return ""
    return scale.range(found, kind, digits)

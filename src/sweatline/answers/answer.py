"""Base of every answer: what all of them can do, from their fields alone.

Any answer is JSON, text for a terminal or HTML for a notebook.
"""

from __future__ import annotations

import html
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, is_dataclass
from textwrap import TextWrapper
from typing import Any

from sweatline.answers.fields import members_of, quantities_of, to_json
from sweatline.answers.note import told
from sweatline.answers.range import Range
from sweatline.units.kinds import Kind
from sweatline.units.showing import SI_SCALE, Scale

_RANGE = "likely range (9 in 10)"
_WORDS = ("",)  # heads of a list of sentences
_TOLD_ELSEWHERE = ("job", "bands", "ranges")
_WIDTH = 80  # columns
_LONG = 40  # letters; a longer text stands by itself
_MOST_ROWS = 40  # of one table; the rest is counted


class Answer:
    """Base of what a computation returns to a person or a program."""

    __slots__ = ()

    def to_dict(self) -> dict[str, Any]:
        """As `--json` prints it, without the command's head."""
        found: dict[str, Any] = to_json(self)
        return found

    def __str__(self) -> str:
        return as_text(self)

    def _repr_html_(self) -> str:
        return as_html(self)


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
        if table.heads == _WORDS:
            wrap = TextWrapper(_WIDTH, initial_indent="  - ", subsequent_indent="    ")
            lines += [line for (text,) in table.rows for line in wrap.wrap(text)]
            continue
        for row in (table.heads, *table.rows):
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


def _tables(
    answer: object,
    scale: Scale,
    title: str = "",
    depth: int = 0,
    ranges: Mapping[str, Range] | None = None,
) -> Iterator[_Table]:
    """Own quantities first, then the answers below, two levels deep, and words last.

    Of the job only its title is told, of cautions and the like only their text.
    """
    title = title or getattr(getattr(answer, "job", None), "title", "") or type(answer).__name__
    found = getattr(answer, "bands", None)
    ranges = found if isinstance(found, Mapping) else ranges or {}
    own: list[tuple[str, str, str]] = []
    below: list[tuple[str, Any]] = []
    for member in members_of(type(answer)):
        value = getattr(answer, member.name)
        name = member.name.replace("_", " ")
        if value is None or member.name in _TOLD_ELSEWHERE:
            continue
        if member.q is not None and isinstance(value, float | Range):
            middle = value.middle if isinstance(value, Range) else value
            if math.isfinite(middle):
                band = value if isinstance(value, Range) else ranges.get(member.key)
                kind, digits = member.q.kind, member.q.digits
                shown = scale.show(middle, kind, digits)
                own.append((member.q.label or name, shown, _between(band, scale, kind, digits)))
        elif isinstance(value, str):
            if len(value) > _LONG:
                below.append((name, (value,)))
            elif value:
                own.append((name, value, ""))
        elif isinstance(value, bool):
            own.append((name, "yes" if value else "no", ""))
        elif isinstance(value, int):
            own.append((name, str(value), ""))
        else:
            below.append((name, value))
    if own:
        told = any(cell for *_rest, cell in own)
        heads = ("", "value", _RANGE) if told else ("", "value")
        yield _Table(title, heads, [row if told else row[:2] for row in own])
    if depth < 2:
        tables = [t for name, value in below for t in _below(name, value, ranges, scale, depth)]
        yield from sorted(tables, key=lambda table: table.heads == _WORDS)


def _below(
    name: str, value: Any, ranges: Mapping[str, Range], scale: Scale, depth: int
) -> Iterator[_Table]:
    if is_dataclass(value) and not isinstance(value, Range):
        yield from _tables(value, scale, name, depth + 1, ranges)
        return
    if not isinstance(value, Sequence) or not value:
        return
    first = value[0]
    if isinstance(first, str):
        yield _Table(name, _WORDS, [(told(text, scale),) for text in value])
    elif max(len(getattr(item, "text", "")) for item in value) > _LONG:
        yield _Table(name, _WORDS, [(item.text,) for item in value])
    elif is_dataclass(first):
        numbers = quantities_of(type(first))
        words = [
            m.name
            for m in members_of(type(first))
            if m.type is str and max(len(getattr(item, m.name)) for item in value) <= _LONG
        ]
        rows = [
            (
                *(str(getattr(item, word)) for word in words),
                *(scale.show(q.of(item), q.kind, q.digits) for q in numbers),
            )
            for item in value[:_MOST_ROWS]
        ]
        if words or numbers:
            more = len(value) - len(rows)
            count = f"{len(value)}, {more} not shown" if more else f"{len(value)}"
            heads = (*(w.replace("_", " ") for w in words), *(q.label for q in numbers))
            yield _Table(f"{name} ({count})", heads, rows)


def _between(found: Range | None, scale: Scale, kind: Kind, digits: int) -> str:
    if found is None or math.isnan(found.low):
        return ""
    return scale.range(found, kind, digits)

"""Rows of a table: an answer's labelled quantities with their ranges, not yet in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sweatline.answers.fields import quantities_of
from sweatline.answers.range import Range
from sweatline.units.kinds import Kind

# Relative width below which a range is no range: what closes the circuit is the same in every run.
_NO_WIDTH = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One quantity as a person reads it."""

    name: str
    label: str
    value: float  # SI
    kind: Kind
    digits: int
    range: Range | None
    wanted: bool  # the same in every trial run, because it was asked for


def rows_of(answer: object, ranges: Mapping[str, Range] | None = None) -> tuple[Row, ...]:
    """Labelled quantities of an answer in their order.

    Parameters
    ----------
    ranges : mapping, optional
        By the quantity's JSON key.
    """
    rows = []
    for q in quantities_of(type(answer)):
        found = (ranges or {}).get(q.key)
        wanted = found is not None and found.high - found.low <= _NO_WIDTH * abs(found.high)
        rows.append(
            Row(
                name=q.name,
                label=q.label,
                value=q.of(answer),
                kind=q.kind,
                digits=q.digits,
                range=None if wanted else found,
                wanted=wanted,
            )
        )
    return tuple(rows)

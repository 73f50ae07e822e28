"""One part of an answer of the bench in words: what command and page both lay out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from sweatline.answers import Range
from sweatline.answers.fields import members_of
from sweatline.units import Scale

LIKELY: Final = "likely range, 9 in 10"


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Sentences, the first of which says most, then labels with their values."""

    title: str = ""
    sentences: tuple[str, ...] = ()
    rows: tuple[tuple[str, str], ...] = ()
    after: str = ""
    """Stands behind the rows."""


def how_known(status: str) -> str:
    """Where a number of the trade comes from, in words."""
    if status.startswith("MEMORY"):
        return "not checked in print"
    return {"PUBLISHED": "in print", "COMPUTED": "calculated"}.get(status, status)


def quantity_rows(answer: object, scale: Scale, *names: str) -> Iterator[tuple[str, str]]:
    """Label and value of an answer's quantities; with ± where the field `<name>_sd` exists."""
    for member in (m for name in names for m in members_of(type(answer)) if m.name == name):
        value, q = getattr(answer, member.name), member.q
        if value is None or q is None:
            continue
        if isinstance(value, Range):
            told = f"{scale.range(value, q.kind, q.digits)} ({LIKELY})"
        else:
            told = scale.show(value, q.kind, q.digits)
            sd = getattr(answer, f"{member.name}_sd", None)
            told += f" ± {scale.show(sd, q.kind, 2)}" if sd is not None else ""
        yield q.label, told

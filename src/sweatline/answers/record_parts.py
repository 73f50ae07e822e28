"""What all records share: their head, the job they are about, cautions and ranges."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sweatline.answers import Answer


@dataclass(frozen=True, slots=True, kw_only=True)
class Part(Answer):
    """Any piece of a record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record(Part):
    """Head of every record."""

    command: str
    """The command that made the record, and the name of its schema."""
    version: str
    """Of sweatline."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobAnswer(Record):
    job: Any
    cautions: tuple[Any, ...]
    """Local codes and licensed practice decide."""

"""What every answer of the bench carries: its job, cautions, notes, and where numbers came from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from sweatline.answers import Answer, Q
from sweatline.job.explanation import JobSummary
from sweatline.log.extract import Taken
from sweatline.safety.cautions import Caution


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchAnswer(Answer):
    """Head of the answers of the bench."""

    job: JobSummary | None
    """Null when all numbers were given as options."""
    cautions: tuple[Caution, ...]
    """Local codes and licensed practice decide."""
    notes: tuple[str, ...]
    """What limits the answer."""
    atmospheric_pressure: Annotated[float, Q("absolute pressure", doc="Zero of every gauge.")]
    log_path: str | None = None
    """Null when no log was given."""
    taken: tuple[Taken, ...] = ()
    """Empty when no log was given."""

"""Head of the records of charging and practice, until each is one answer."""

from __future__ import annotations

from dataclasses import dataclass

from sweatline.answers.record_parts import Record
from sweatline.job.summary import JobSummary
from sweatline.safety.cautions import Caution


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchRecord(Record):
    """Head of the records of the bench."""

    job: JobSummary | None
    """Null when all numbers were given as options."""
    cautions: tuple[Caution, ...]
    """Local codes and licensed practice decide."""
    notes: tuple[str, ...]
    atmospheric_pressure_Pa: float

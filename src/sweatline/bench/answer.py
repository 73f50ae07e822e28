"""What every answer of the bench carries: its job, cautions, notes, and where numbers came from.

And the temperature that all of them take where nobody read it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final

from sweatline.answers import Answer, Q
from sweatline.errors import JobError
from sweatline.job.explanation import JobSummary
from sweatline.job.model import Job
from sweatline.log.extract import Taken
from sweatline.safety.cautions import Caution

_ROOM: Final = 293.15  # K, where no job says it


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


def check_later(time: float, before: float) -> None:
    """Refuse a reading that is not later than the one before it. [s]"""
    if time <= before:
        raise JobError(
            what="not later than the reading before it",
            allowed="give readings in the order of time",
        )


def refrigerant_of(job: Job | None, told: str | None) -> str | None:
    """Refrigerant as told, or the only one of the job."""
    if told is not None or job is None or len(job.refrigerants) != 1:
        return told
    return job.refrigerants[0]


def room_temperature(job: Job | None, told: float | None) -> float:
    """Temperature of a machine at rest, hoses and cylinders: as told, the job's room, or 20 °C. [K]

    Parameters
    ----------
    told : float, optional
        [K]
    """
    if told is not None:
        return told
    return _ROOM if job is None else job.room.temperature.value

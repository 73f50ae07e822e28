"""The job an answer is about, as every answer tells it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from sweatline.answers import Q
from sweatline.job.model import Job


@dataclass(frozen=True, slots=True, kw_only=True)
class JobSummary:
    """The job an answer is about."""

    title: str
    path: str
    """File it was read from."""
    digest_sha256: str
    """Of the file's bytes, hexadecimal."""
    unit_system: Literal["US", "SI"]
    """Unit system of the text output; JSON is in SI always."""
    atmospheric_pressure: Annotated[float, Q("absolute pressure", doc="Zero of every gauge.")]
    altitude: Annotated[float, Q("altitude")]
    room_temperature: Annotated[float, Q("temperature")]
    room_relative_humidity: Annotated[float, Q("relative humidity", doc="0 to 1.")]
    target_superheat: Annotated[
        float, Q("temperature difference", doc="Wanted at the evaporator's outlet.")
    ]
    calibration_readings: int
    """Readings of the machine as it ran that the answer rests on; 0 when there are none."""


def summary_of(job: Job) -> JobSummary:
    """The job an answer is about."""
    return JobSummary(
        title=job.title,
        path=job.path,
        digest_sha256=job.digest,
        unit_system=job.unit_system,
        atmospheric_pressure=job.place.atmospheric_pressure,
        altitude=job.place.altitude,
        room_temperature=job.room.temperature.value,
        room_relative_humidity=job.room.relative_humidity.value,
        target_superheat=job.targets.superheat,
        calibration_readings=job.posterior.readings if job.posterior is not None else 0,
    )

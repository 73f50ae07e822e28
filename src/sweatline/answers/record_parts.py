"""What all records share: their head, the job they are about, cautions and ranges."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "BandRecord",
    "CautionRecord",
    "JobAnswer",
    "JobRecord",
    "Part",
    "PartsRecord",
    "Record",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Any piece of a record; unknown keys are refused when one is read back."""

    __pydantic_config__: ClassVar[Mapping[str, object]] = {
        "extra": "forbid",
        "use_attribute_docstrings": True,
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRecord(Part):
    """The job an answer is about."""

    title: str
    path: str
    """File it was read from."""
    digest_sha256: str
    """Of the file's bytes, hexadecimal."""
    unit_system: Literal["US", "SI"]
    """Unit system of the text output; records are in SI always."""
    atmospheric_pressure_Pa: float
    """Zero of every gauge."""
    altitude_m: float
    room_temperature_K: float
    room_relative_humidity: float
    """0 to 1."""
    target_superheat_K: float
    """Wanted at the evaporator's outlet."""
    calibration_readings: int
    """Readings of the machine as it ran that the answer rests on; 0 when there are none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionRecord(Part):
    """One thing to be told before and while working."""

    key: str
    text: str
    stop: bool
    """The person has to decide before going on."""
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Record(Part):
    """Head of every record."""

    command: str
    """The command that made the record, and the name of its schema."""
    version: str
    """Of sweatline."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobAnswer(Record):
    job: JobRecord
    cautions: tuple[CautionRecord, ...]
    """Local codes and licensed practice decide."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BandRecord(Part):
    """Median of the draws and the range that holds nine tenths of them."""

    low: float | None
    """5 % point."""
    median: float | None
    high: float | None
    """95 % point."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsRecord(Part):
    """One choice of parts."""

    compressor: str
    refrigerant: str
    capillary: str
    capillary_bore_m: float
    capillary_length_m: float
    capillary_cut: bool
    """True when the length was worked out here, false when it was given."""

"""What `sweatline calibrate --json` prints."""

from __future__ import annotations

from dataclasses import dataclass

from sweatline.answers import Range
from sweatline.answers.record_parts import JobAnswer, Part
from sweatline.assembly.build import Parts

__all__ = [
    "CalibrationRecord",
    "NumberFitRecord",
    "ReadingFitRecord",
    "RebuildRecord",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingFitRecord(Part):
    """One reading of the machine as it ran, against the model. SI, in the unit named."""

    run: str
    """Which set of readings, or the plate."""
    key: str
    unit: str
    measured: float
    sd: float
    """Standard deviation of the instrument."""
    origin: str
    before: float
    """By the model as the job describes the machine."""
    after: float | None
    """By the calibrated model."""
    expected: float | None
    """What the other readings alone lead one to expect."""
    expected_sd: float | None
    """Of the difference between that and the reading."""
    off: float | None
    """How far the reading lies from it, in standard deviations."""
    set_aside: bool
    """It does not fit: a misreading, or a fault at that time. It was not used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberFitRecord(Part):
    """One uncertain number before and after, in SI; a model's multiplier about one."""

    name: str
    origin: str
    before: float
    before_sd: float
    after: float
    after_sd: float
    moved: float
    """In standard deviations of before."""
    left: float
    """Share of the standard deviation of before that is left."""
    stays: bool
    """Whether it stays in the machine when compressor, capillary and refrigerant change."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RebuildRecord(Part):
    """One rebuild without and with what the readings taught."""

    parts: Parts
    before: dict[str, Range]
    after: dict[str, Range]
    draws: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationRecord(JobAnswer):
    """What readings of the machine as it ran teach. A record of ``calibrate``."""

    compressor: str
    refrigerant: str
    capillary: str
    readings: tuple[ReadingFitRecord, ...]
    numbers: tuple[NumberFitRecord, ...]
    """What was learned of the machine, most first."""
    rooms: tuple[NumberFitRecord, ...]
    """What the readings say of rooms, charge and power factor at the time."""
    ties: tuple[tuple[str, ...], ...]
    """Groups of numbers that the readings could not tell apart."""
    independent: float
    """How many independent things the readings tell."""
    coil_contents_multiplier: float
    """First of the two terms that correct the charge: on what the coils hold."""
    coil_contents_multiplier_sd: float
    liquid_left_out_m3: float
    """Second of them: liquid that stands where nobody measured."""
    liquid_left_out_sd_m3: float
    settled: bool
    notes: tuple[str, ...]
    rebuild: RebuildRecord | None
    """None when no combination of parts was named."""

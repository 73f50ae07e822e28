"""What may be asked about start gear."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from sweatline.log.extract import NO_LOG, Account

if TYPE_CHECKING:
    from sweatline.assembly.build import Parts
    from sweatline.bench.start_gear.equalising import GasTube, Sides
    from sweatline.bench.start_gear.motor_load import Load
    from sweatline.job.model import Job

__all__ = [
    "CapacitorAsked",
    "CordAsked",
    "Device",
    "Judged",
    "MeterAsked",
    "RestAsked",
    "StandingAsked",
    "StartGearAsked",
    "Torque",
]

Device = Literal["ptc", "current", "potential", "unknown"]
Torque = Literal["low", "high", "unknown"]
Judged = Literal["ok", "marginal", "wrong"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacitorAsked:
    """A capacitor on the bench."""

    use: Literal["start", "run"]
    low: float  # F, of the marking
    high: float  # F
    voltage: float  # V
    read: float | None = None  # F
    offered: tuple[float, float] | None = None  # F, V
    resistor: float = 20e3  # ohm


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterAsked:
    """Readings of the running motor and its plate. Anything may be missing."""

    voltage: float | None = None  # V
    current: float | None = None  # A
    power: float | None = None  # W
    plate: str = "the plate"
    plate_voltage: float | None = None  # V
    plate_current: float | None = None  # A
    plate_power: float | None = None  # W
    error: float = 0.02  # of current and power, relative, one standard deviation


@dataclass(frozen=True, slots=True, kw_only=True)
class CordAsked:
    """The cord to the motor."""

    length: float  # m
    area: float  # m2
    stranded: float  # resistance over that of solid copper of this section


@dataclass(frozen=True, slots=True, kw_only=True)
class RestAsked:
    """A machine at rest that no job describes."""

    tube: GasTube
    sides: Sides


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingAsked:
    """Both gauges of a machine that stands."""

    head: float  # Pa
    suction: float  # Pa


@dataclass(frozen=True, slots=True, kw_only=True)
class StartGearAsked:
    """Everything one question about start gear may hold."""

    atmosphere: float  # Pa
    refrigerant: str | None
    frequency: float | None  # Hz
    motor_power: float | None  # W, shaft, for the usual capacitor
    capacitor: CapacitorAsked | None
    meter: MeterAsked
    cord: CordAsked | None
    device: Device | None
    torque: Torque | None
    off_time: float | None  # s
    rest: RestAsked | None
    load: Load | None  # of the job's machine
    standing: StandingAsked | None = None
    running: bool | None = None  # by the log
    starts: int | None = None  # within the last hour, by the log
    barred: str = ""  # why the log says that it must not be started
    account: Account = NO_LOG
    job: Job | None = None
    parts: Parts | None = None

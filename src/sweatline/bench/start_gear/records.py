"""What `start-gear --json` prints, in SI."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sweatline.answers import Range
from sweatline.answers.record_parts import Part
from sweatline.assembly.build import Parts
from sweatline.bench.bench_records import LoggedRecord

__all__ = [
    "CapacitorRecord",
    "CordRecord",
    "DischargeRecord",
    "EqualisingRecord",
    "MotorRecord",
    "PullDownRecord",
    "RelayRecord",
    "StandingRecord",
    "StartGearRecord",
    "UsualSizeRecord",
]

Verdict = Literal["ok", "marginal", "wrong"]


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualSizeRecord(Part):
    """Start capacitor that is usual for a motor of this size."""

    low_F: float
    high_F: float
    voltage_class: str
    sentence: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DischargeRecord(Part):
    """How to empty the capacitor."""

    resistance_ohm: float
    start_V: float
    """The most it may hold, direct."""
    safe_V: float
    energy_J: float
    time_s: float
    """Until the safe voltage."""
    hold_s: float
    """To hold the resistor there."""
    first_power_W: float
    first_current_A: float
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacitorRecord(Part):
    """The capacitor as marked, as read, and what is offered instead."""

    use: Literal["start", "run"]
    marked_low_F: float
    marked_high_F: float
    voltage_V: float
    reactance_ohm: float | None
    """Null without a mains frequency."""
    current_A: float | None
    """At its rated voltage."""
    reactive_var: float | None
    read_F: float | None
    read_verdict: Verdict | None
    read_sentence: str
    allowed_low_F: float
    allowed_high_F: float
    allowed_status: str
    offered_F: float | None
    offered_voltage_V: float | None
    offered_verdict: Verdict | None
    offered_sentence: str
    discharge: DischargeRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorRecord(Part):
    """What a meter shows against the plate."""

    voltage_V: float | None
    current_A: float | None
    power_W: float | None
    power_factor: float | None
    apparent_VA: float | None
    plate: str
    """Whose plate it is held against."""
    plate_voltage_V: float | None
    plate_current_A: float | None
    plate_power_W: float | None
    plate_power_factor: float | None
    amps_ratio: float | None
    watts_ratio: float | None
    chance_amps_over: float | None
    """That the true current is above the plate, by the meter's error."""
    chance_watts_over: float | None
    voltage_sentence: str
    voltage_holds: bool | None
    verdict: Verdict | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PullDownRecord(Part):
    """Load of the motor by the model of the job's machine: settled, and in the hardest minute."""

    settled_power_W: Range
    """Of the compressor, without the fan."""
    hardest_power_W: Range
    settled_current_A: Range | None
    """At the plate's power factor and the job's voltage; null when the plate does not give it."""
    hardest_current_A: Range | None
    hardest_evaporating_K: float
    """Median."""
    plate_power_W: float | None
    chance_settled_over: float | None
    chance_hardest_over: float | None
    draws: int
    verdict: Verdict | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CordRecord(Part):
    """Voltage behind the cord. Two values: with four and with six times the rated current."""

    length_m: float
    area_m2: float
    resistance_one_way_ohm: float
    supply_V: float
    current_A: float
    running_drop_V: float
    running_share: float
    """Of the supply."""
    running_holds: bool
    running_sentence: str
    starting_current_A: tuple[float, ...]
    starting_voltage_V: tuple[float, ...]
    starting_torque_share: tuple[float, ...]
    """Of the torque at the supply's full voltage."""
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayRecord(Part):
    """What starts the motor."""

    device: Literal["ptc", "current", "potential", "unknown"]
    starting_torque: Literal["low", "high", "unknown"]
    wait_s: float
    """Of the device alone, before it can start again."""
    behaviour: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EqualisingRecord(Part):
    """How long after a stop the sides are equal."""

    high_pressure_Pa: float
    low_pressure_Pa: float
    high_gas_volume_m3: float
    low_gas_volume_m3: float
    liquid_kg: float
    """Before the tube at the stop."""
    bore_m: float
    length_m: float
    equal_enough_Pa: float
    time_s: Range
    off_time_s: float | None
    chance_equal: float | None
    """After that off time."""
    chance_start: float | None
    """That a sound motor of low torque starts then; null for others, and while a device
    that nobody named might be hot."""
    verdict: Verdict
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingRecord(Part):
    """Both gauges of the machine as it stands."""

    head_Pa: float
    suction_Pa: float
    equal_enough_Pa: float
    off_time_s: float | None
    verdict: Verdict
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StartGearRecord(LoggedRecord):
    """`sweatline start-gear --json`: capacitor, relay, start against pressure, load, cord."""

    parts: Parts | None
    """Null when no combination of the job was looked at."""
    refrigerant: str | None
    usual_start_size: UsualSizeRecord | None
    capacitor: CapacitorRecord | None
    relay: RelayRecord | None
    equalising: EqualisingRecord | None
    standing: StandingRecord | None
    running: bool | None
    """By the log; null without one."""
    starts_last_hour: int | None
    barred: str
    """Why the log says that it must not be started now; empty when it may."""
    motor: MotorRecord | None
    pull_down: PullDownRecord | None
    cord: CordRecord | None
    like_for_like: str
    """What comes first, and the duty with a flammable refrigerant."""

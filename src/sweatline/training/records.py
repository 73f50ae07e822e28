"""What `sweatline practice --json` prints, in SI like every record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sweatline.answers import Range
from sweatline.answers.record_parts import Part
from sweatline.bench.bench_records import BenchRecord

__all__ = [
    "AttemptRecord",
    "DoseRecord",
    "FaultRecord",
    "PassedLimitRecord",
    "PracticeRecord",
    "SlipRecord",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class AttemptRecord(Part):
    """How one way of charging ended on the machine."""

    way: Literal["hand", "advice", "habit"]
    charge_kg: float
    most_kg: float
    """Ever in the machine."""
    additions: int | None
    """Null where the machine could not be followed to the end."""
    time_s: float
    gave_up: str
    """Why it was broken off; empty when it was not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseRecord(Part):
    """One addition, held against what could be known when it was made."""

    time_s: float
    weighed_kg: float
    phase: Literal["liquid", "vapour"]
    running: bool
    """Whether the compressor ran."""
    waited_s: float
    """Since the addition before it, a stop or a start, or the beginning."""
    readings: Literal["settled", "foretold", "unsure"]
    """All had settled; their ends could be told well enough to act on; or neither."""
    unsure: tuple[str, ...]
    """Readings whose end could not be told well enough."""
    advised: Literal["wait", "add", "stop", "take out"]
    """What the advice would have said then."""
    advised_kg: float | None
    """Null unless it is to add or to take out; negative to take out."""
    best_then_kg: Range | None
    """What the readings up to then say of the best charge; null without readings."""
    odd: bool
    """Less than one chance in a thousand that such a machine in order shows these readings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PassedLimitRecord(Part):
    """A limit that was passed while charging."""

    what: Literal["head pressure", "discharge gas", "frozen coil", "flooding back", "vacuum"]
    reached_SI: float
    """The worst of it: pressure absolute, temperature, or seconds of liquid at the compressor."""
    limit_SI: float
    time_s: float | None
    """For how long; null where only the worst moment was kept."""
    at_start: bool
    """So from the beginning, before anything was done."""
    at_end: bool
    """Still so when the exercise ended."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlipRecord(Part):
    """A slip of the pen."""

    time_s: float
    what: str
    written: str
    meant: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultRecord(Part):
    """What was wrong with the machine or its instruments."""

    key: str
    name: str
    place: str
    """The instrument; empty for faults of the machine."""
    size_SI: float
    """Share, loss in kg a minute, or pressure."""
    size_of: Literal["ratio", "mass", "pressure difference"]
    means: str
    """What the size means, with {} where it stands."""
    source: str
    """Where the range of sizes comes from."""
    shows: str
    mend: str
    of_machine: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeRecord(BenchRecord):
    """`sweatline practice --json`: how a machine that exists only here was charged."""

    machine: str
    seed: int
    way: Literal["hand", "advice", "habit"]
    ended: Literal["done", "interrupted", "broken off"]
    broken_off: str
    """Why the machine could not be followed any further; empty when it was not broken off."""
    begun_kg: float
    charge_kg: float
    """Really in at the end."""
    weighed_kg: float
    """In by the scale."""
    lost_kg: float
    """Through a leak."""
    best_charge_kg: float | None
    """That fills its evaporator as it stands, with its fault; null when none does."""
    mended_charge_kg: float
    """The same once its fault is mended."""
    most_kg: float
    """Ever in."""
    additions: int
    time_s: float
    doses: tuple[DoseRecord, ...]
    """Of a charging by hand."""
    limits: tuple[PassedLimitRecord, ...]
    charge_as: Literal["liquid", "either"]
    """How this refrigerant is to be taken from its cylinder."""
    largest_liquid_kg: float
    """Largest dose let into the running low side as liquid; 0 when there was none."""
    slips: tuple[SlipRecord, ...]
    fault: FaultRecord | None
    """Null: nothing was wrong."""
    fault_hidden: bool
    """Nobody was told what it is."""
    named: str
    """Fault that the person named: a key, `none`, or empty."""
    naming: Literal["right", "close", "wrong", "not named"]
    next: Literal["wait", "add", "stop", "take out", "mend"]
    """What would have been the best next thing."""
    next_kg: float | None
    best_by_readings_kg: Range | None
    """What the readings alone say of the best charge."""
    odd_from_s: float | None
    """When the readings first could hardly be those of a machine in order; null when they could."""
    others: tuple[AttemptRecord, ...]
    """The same machine charged in other ways."""

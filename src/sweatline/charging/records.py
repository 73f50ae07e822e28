"""What `sweatline charge --json` prints, in SI like every record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sweatline.answers import Range
from sweatline.answers.record_parts import Part, Record
from sweatline.bench.bench_records import BenchRecord
from sweatline.design.machine_records import VerdictRecord

__all__ = [
    "ChargingLineRecord",
    "ChargingRecord",
    "DoubtfulRecord",
    "OutlookRecord",
    "ReadingErrorRecord",
    "RuleRecord",
]

Action = Literal["wait", "add", "stop", "take out", "read"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlookRecord(Part):
    """A reading that may still move, and where it will settle; or what follows from readings."""

    what: str
    """As in the log; besides: superheat and subcooling, and the coldest surface by the model."""
    state: Literal["settled", "drifting", "disturbed"]
    last_SI: float | None
    """As last read, pressures absolute."""
    settles_SI: Range
    look_again_s: float
    """Until the rest of its way no longer matters."""
    expected_after_SI: Range | None
    """What it should come to after the dose; null where there is none, or it is not foretold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleRecord(Part):
    """One condition of the stop rule, held against where the readings settle."""

    what: str
    state: Literal["yes", "no", "in doubt", "not read"]
    settles_SI: Range | None
    limit_SI: float | None
    kind: Literal["temperature", "temperature difference", "pressure", "power"]
    by: Literal["reading", "model"]
    """Whether an instrument shows it, or the drawn machines that agree with the readings."""
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtfulRecord(Part):
    """An entry that looks like a slip; nothing follows it until it is confirmed or corrected."""

    number: int
    what: str
    text: str
    """As typed."""
    questions: tuple[str, ...]
    offered: str
    """What was probably meant; empty where no slip tells."""
    holds_up: bool
    """No dose is told before this is settled; false where a later reading has taken its place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingErrorRecord(Part):
    """How well one instrument is taken to read."""

    what: str
    sd_SI: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargingRecord(BenchRecord):
    """What to do next while charging."""

    action: Action
    reason: str
    dose_kg: float | None
    """Negative: to be taken out."""
    charge_kg: float
    """In the machine: weighed in, less what was vented and what stands in the hoses."""
    charge_sd_kg: float
    best_charge_kg: Range | None
    """That fills the evaporator, by the readings so far."""
    chance_over: float | None
    """That the dose ends more than 5 % above it."""
    look_again_s: float | None
    """When the next look is worth it; null where the next step waits for nothing."""
    outlooks: tuple[OutlookRecord, ...]
    stop_rule: tuple[RuleRecord, ...]
    obstacles: tuple[str, ...]
    """Why this machine cannot be charged right, as far as its readings tell."""
    foreseen: tuple[VerdictRecord, ...]
    """What will be wrong with it when it is charged right, by the job's best values."""
    doubtful: tuple[DoubtfulRecord, ...]
    reading_errors: tuple[ReadingErrorRecord, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargingLineRecord(Record):
    """The answer to one line of a live session; a `charge` record stands before and after all."""

    line: int
    """Counted from 1."""
    text: str
    """As it came."""
    kept: tuple[int, ...]
    """Numbers of the log's entries that hold it."""
    known: tuple[int, ...]
    """Numbers of entries that held it before: nothing was written twice."""
    problem: str
    """Why it could not be understood; a note of it is kept. Empty else."""
    questions: tuple[str, ...]
    action: Action
    reason: str
    dose_kg: float | None
    charge_kg: float
    best_charge_kg: Range | None
    chance_over: float | None
    look_again_s: float | None
    outlooks: tuple[OutlookRecord, ...]
    stop_rule: tuple[RuleRecord, ...]
    obstacles: tuple[str, ...]
    doubtful: tuple[DoubtfulRecord, ...]

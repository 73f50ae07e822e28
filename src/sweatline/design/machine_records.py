"""What `--json` prints about machines: steady, ranked, cut, charged, in other rooms, freezing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sweatline.answers import Range
from sweatline.answers.record_parts import JobAnswer, Part
from sweatline.assembly.build import Parts
from sweatline.design.measurement_priority import MeasurementPriority
from sweatline.machine.balance import SteadyState
from sweatline.uncertainty.sensitivity import Share

__all__ = [
    "BalanceRecord",
    "CandidateRecord",
    "ChargeRangeRecord",
    "ChargeRecord",
    "CutRecord",
    "CycleRecord",
    "DefrostRecord",
    "EventRecord",
    "FrostRecord",
    "FrostStepRecord",
    "FrostingRecord",
    "LostRecord",
    "MatchRecord",
    "MeteringRecord",
    "RoomRangeRecord",
    "RoomRecord",
    "VerdictRecord",
]

State = Literal["holds", "fails", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictRecord(Part):
    """One judgement on one machine."""

    key: str
    """Short, stable word for machines."""
    fault: str
    state: State
    number: float | None
    limit: float | None
    unit: str
    """SI unit of number and limit; pressures absolute; 1 for a fraction, empty without number."""
    kind: str
    """Kind of quantity of number and limit."""
    probability: float | None
    """Of the fault, from the draws."""
    source: str
    """Where the limit comes from."""
    sentence: str
    safety: bool
    final: bool
    """The rebuild must not go ahead while this fails."""
    doubt: MeasurementPriority | None
    """Null for a verdict that is settled, or from which no number stands out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceRecord(JobAnswer):
    """`sweatline balance --json`: what one machine settles at."""

    parts: Parts
    charged_to: Literal["superheat", "charge"]
    """What closes the circuit: the wanted superheat, or a given charge."""
    steady: SteadyState
    bands: dict[str, Range]
    """Over the draws; keys as in `steady`."""
    place_bands_kg: dict[str, Range]
    """Of the charge in each place; keys as in `charge_by_place_kg`."""
    draws: int
    unsolved: int
    """Draws without a balance."""
    verdicts: tuple[VerdictRecord, ...]
    """Safety first."""
    matters: tuple[Share, ...]
    """What the spread of the water comes from, largest first."""
    shares: dict[str, tuple[Share, ...]]
    """The same for every quantity with a range; keys as in `bands`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CandidateRecord(Part):
    """One combination, solved and judged."""

    rank: int
    parts: Parts
    steady: SteadyState
    chance_no_fault: float
    sure_water_kg_per_s: float
    """Mean water with every faulty draw counted as none: what the ranking goes by."""
    stopped: bool
    """A final verdict forbids this rebuild."""
    word: str
    """One word for the machine: balanced, or its fault."""
    verdicts: tuple[VerdictRecord, ...]
    bands: dict[str, Range]
    draws: int
    unsolved: int
    matters: tuple[Share, ...]
    """Uncertain numbers that carry most of the spread of the water; only of the best."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LostRecord(Part):
    """A combination without a balance."""

    compressor: str
    refrigerant: str
    capillary: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchRecord(JobAnswer):
    """`sweatline match --json`: every combination of the parts, ranked."""

    combinations: int
    finished: int
    complete: bool
    """False when it was interrupted."""
    ranked: tuple[CandidateRecord, ...]
    """Best first."""
    lost: tuple[LostRecord, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRecord(Part):
    """How to cut one bore; null lengths when the bore cannot pass the flow."""

    stock: str
    fitted: bool
    bore_m: float
    on_the_shelf_m: float | None
    length_m: float | None
    start_length_m: float | None
    """To cut first: nineteen times in twenty not too short."""
    shortest_m: float | None
    """5 % point of the length that will turn out right."""
    flow_change_per_10_mm: float | None
    """Relative gain of flow when 10 mm are cut off."""
    flow_change_per_20_um_bore: float | None
    """Relative gain of flow for 0.02 mm more bore."""
    length_change_per_20_um_bore_m: float | None
    trim_step_m: float | None
    """Cut that raises the flow by 2 %."""
    choked: bool
    liquid_velocity_m_per_s: float | None
    enough: bool | None
    """The shelf holds the length to cut first; null when its length is not known."""
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeteringRecord(JobAnswer):
    """`sweatline metering --json`: capillary length for every bore."""

    compressor: str
    refrigerant: str
    steady: SteadyState
    """The design balance the lengths are for."""
    bands: dict[str, Range]
    """Nine tenths of that balance; keys as in `steady`."""
    draws: int
    """Behind the ranges; 0: the ranges of the lengths are those of the tube alone."""
    cuts: tuple[CutRecord, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EventRecord(Part):
    """Something a person sees happen as charge goes in."""

    charge_kg: float
    band_kg: Range | None
    """Range of that charge; null when it was not looked for or not every draw shows the event."""
    what: str
    suction_pressure_Pa: float
    discharge_pressure_Pa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeRangeRecord(Part):
    """What may be read at one charge."""

    charge_kg: float
    bands: dict[str, Range]
    """Nine tenths; keys as in the curve."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeRecord(JobAnswer):
    """`sweatline charge-curve --json`: from nearly empty to overfull."""

    parts: Parts
    stop: SteadyState
    """Where to stop: superheat at the target."""
    stop_bands: dict[str, Range]
    """Nine tenths of what is read there; keys as in `stop`."""
    curve: tuple[SteadyState, ...]
    """Rising charge."""
    ranges: tuple[ChargeRangeRecord, ...]
    """At some of the charges of the curve."""
    events: tuple[EventRecord, ...]
    draws: int
    """Behind the ranges; 0 without them."""
    complete: bool
    ended: tuple[str, ...]
    """Why a direction ended early."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostRecord(Part):
    """Room temperature below which the coldest surface freezes, at one humidity."""

    relative_humidity: float
    room_temperature_K: float
    band_K: Range | None
    """Range of that temperature; null when it was not looked for or runs off the map."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomRangeRecord(Part):
    """What may be seen in one room."""

    temperature_K: float
    relative_humidity: float
    bands: dict[str, Range]
    """Nine tenths; keys as in a steady state."""


Grid = tuple[tuple[float | None, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomRecord(JobAnswer):
    """`sweatline room-map --json`: grids with a row for each temperature."""

    parts: Parts
    charge_kg: float
    temperatures_K: tuple[float, ...]
    relative_humidities: tuple[float, ...]
    water_kg_per_s: Grid
    power_W: Grid
    water_per_energy_kg_per_J: Grid
    coil_temperature_K: Grid
    superheat_K: Grid
    discharge_pressure_Pa: Grid
    reasons: tuple[tuple[str, ...], ...]
    """Why there is no balance; empty where there is one."""
    frost_line: tuple[FrostRecord, ...]
    ranges: tuple[RoomRangeRecord, ...]
    """In some of the rooms; those between lie between."""
    draws: int
    """Behind the ranges; 0 without them."""
    complete: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostStepRecord(Part):
    """A freezing machine at one moment."""

    time_s: float
    air_share: float
    """Airflow over that of the clean machine."""
    freezing_kg_per_s: float
    ice_kg: float
    thickest_m: float
    evaporating_temperature_K: float
    coil_temperature_K: float
    power_W: float
    water_kg_per_s: float
    """Out of the air, frozen or not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DefrostRecord(Part):
    """What melts the ice off the coil."""

    ice_kg: float
    energy_J: float
    """Fusion, and warming of ice and metal."""
    metal_J: float
    rest_s: float | None
    """Compressor off and fan on in this room; null where the room is too cold."""
    hot_gas_s: float
    """At least: with all heat of the compressor in the coil."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleRecord(Part):
    """Run and rest that keep the coil open."""

    run_s: float
    """Until the airflow is down to four fifths."""
    rest_s: float | None
    stop_at_K: float | None
    """Evaporating temperature at the end of the run; null when it hardly falls."""
    start_at_K: float
    """Of the coil's tube."""
    running_share: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostingRecord(JobAnswer):
    """`sweatline frost --json`: whether and how soon a coil is blocked by frost."""

    parts: Parts
    room_temperature_K: float
    """In which it runs."""
    room_relative_humidity: float
    charge_kg: float
    ended: Literal["blocked", "bare", "settled", "time", "no balance"]
    """Bare: nothing freezes. Settled: the frost no longer grows."""
    verdict: VerdictRecord
    blocked_s: tuple[float | None, ...]
    """Until the airflow is halved, with light, expected and dense frost."""
    steps: tuple[FrostStepRecord, ...]
    defrost: DefrostRecord | None
    cycle: CycleRecord | None
    notes: tuple[str, ...]

"""What `--json` prints for the work with hoses on, in SI like every record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sweatline.answers import Range
from sweatline.answers.record_parts import Part, Record
from sweatline.job.summary import JobSummary
from sweatline.log.extract import Taken
from sweatline.safety.cautions import Caution

__all__ = [
    "BenchRecord",
    "BoilOffRecord",
    "ChargeLimitRecord",
    "ConnectionRecord",
    "CriterionRecord",
    "CylinderRecord",
    "EvacuationRecord",
    "FillRecord",
    "FractionationRecord",
    "HistoryRecord",
    "HoldPlanRecord",
    "HoldRecord",
    "HoseContentRecord",
    "HoseRecord",
    "LeakMethodRecord",
    "LoggedRecord",
    "MachineChargeRecord",
    "MeasuredLeakRecord",
    "PumpedRecord",
    "RiseRecord",
    "SearchRecord",
    "SearchStepRecord",
    "TightnessRecord",
    "WayRecord",
    "WeighOutRecord",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchRecord(Record):
    """Head of the records of the bench."""

    job: JobSummary | None
    """Null when all numbers were given as options."""
    cautions: tuple[Caution, ...]
    """Local codes and licensed practice decide."""
    notes: tuple[str, ...]
    atmospheric_pressure_Pa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedRecord(BenchRecord):
    """Head of the records of commands that a log may feed."""

    log_path: str | None
    """Null when no log was given."""
    taken: tuple[Taken, ...]
    """Empty when no log was given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldRecord(Part):
    """A pressure hold, read."""

    gas: Literal["nitrogen", "helium"]
    pressure_Pa: float
    temperature_K: float
    duration_s: float
    expected_last_pressure_Pa: float
    """What a tight machine would show at the last temperature."""
    last_pressure_Pa: float
    lost_share: float
    """Of the gas, 0 to 1; negative when it seemed to grow."""
    rate_Pa_m3_per_s: float
    """Of the test gas at the test pressure; positive outward."""
    rate_sd_Pa_m3_per_s: float
    found: bool
    """Above what five tight machines in a hundred would show."""
    rose: bool
    """The gas seemed to grow by more than the errors allow."""
    settling: bool
    """The loss slows down by more than the errors allow."""
    smallest_seen_Pa_m3_per_s: float
    """Seen in 95 of 100 such holds, with 5 false alarms."""
    smallest_seen_kg_per_s: float | None
    """The same leak on the refrigerant, median of the shapes it may have."""
    loss_kg_per_s: Range | None
    """Of the refrigerant at rest; null without a refrigerant."""
    regime: str
    """How the refrigerant gets out: choked, viscous, transition or molecular."""
    bore_m: float | None
    """Of the leak, median of the shapes."""
    liquid_factor: float | None
    """How many times as much the same leak loses below a liquid level, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredLeakRecord(Part):
    """A leak measured in another way, as with helium at a joint."""

    gas: Literal["nitrogen", "helium"]
    pressure_Pa: float
    rate_Pa_m3_per_s: float
    loss_kg_per_s: Range
    """Of the refrigerant at rest."""
    regime: str
    """How the refrigerant gets out: choked, viscous, transition or molecular."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldPlanRecord(Part):
    """How long to hold to see a leak."""

    pressure_Pa: float
    temperature_K: float
    see_kg_per_s: float
    """Of the refrigerant at rest."""
    rate_Pa_m3_per_s: float
    """What such a leak takes of the test gas at the test pressure."""
    hold_s: float | None
    """Null beyond sixty days."""
    hold_barometer_read_s: float | None
    """The same when a barometer is read as well, or the gauge is sealed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WayRecord(Part):
    """Leak that a past implies, for one way of getting out."""

    way: Literal["choked", "viscous", "molecular", "liquid"]
    rate_kg_per_s: float
    """At the start, at rest."""
    liquid_gone_after_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryRecord(Part):
    """What the past of the machine says of its leak."""

    refrigerant: str
    held_kg: float
    after_s: float
    left_share: float | None
    """Null: empty."""
    rest_pressure_Pa: float
    ways: tuple[WayRecord, ...]
    rate_kg_per_s: Range
    """Over the ways gas gets out, and the errors of what was told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakMethodRecord(Part):
    """A way of looking, and whether it could find this leak."""

    key: str
    name: str
    chance: float
    status: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchStepRecord(Part):
    """One division of the circuit."""

    depth: int
    hold: tuple[str, ...]
    against: tuple[str, ...]
    chance: float
    """That the leak is in the part held."""
    volume_m3: float
    hold_s: float | None
    """To see a leak as large as the one sought; null when not known or beyond sixty days."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchRecord(Part):
    """Plan of holds that ends at one piece of the circuit."""

    steps: tuple[SearchStepRecord, ...]
    expected_holds: float
    worst_holds: int
    expected_cuts: float
    """Places opened and closed off, on average."""
    one_by_one: float
    """Holds on average when pieces are tried in turn, likeliest first."""
    one_by_one_cuts: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TightnessRecord(LoggedRecord):
    """`sweatline tightness --json`: a pressure hold, a plan for one, what the past says."""

    refrigerant: str | None
    rest_temperature_K: float
    """Of the machine at rest, for the loss of refrigerant."""
    volume_m3: float | None
    volume_sd_m3: float | None
    limit_pressure_Pa: float | None
    """Of the weakest part; null when nobody said it."""
    limit_part: str
    hold: HoldRecord | None
    measured: MeasuredLeakRecord | None
    plan: HoldPlanRecord | None
    history: HistoryRecord | None
    methods: tuple[LeakMethodRecord, ...]
    search: SearchRecord | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ConnectionRecord(Part):
    """An evacuation from one side or from both."""

    connected: Literal["both", "low", "high"]
    asked: bool
    """Whether these are the hoses that were given; the others are shown for comparison."""
    reached_after_s: float | None
    """Both sides at the target; null within thirty days."""
    gauge_when_reached_Pa: float | None
    """At the pump at that moment, while the worse side is at the target."""
    ultimate_Pa: float
    """Of the worse side, in the end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpedRecord(Part):
    """A look at the vacuum gauge while pumping, beside what pump and hoses by themselves give."""

    time_s: float
    """Since the pump was started."""
    read_Pa: float
    empty_Pa: float | None
    """At the pump, of a circuit that gives off nothing; null without pump and hoses."""
    gas_load_Pa_m3_per_s: float | None
    """That holds the gauge where it stands; null while the pump-down itself explains it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilOffRecord(Part):
    """Water that leaves under vacuum."""

    place: Literal["bare tube", "coil or shell"]
    water_kg: float
    time_s: float | None
    """Null when it never ends."""
    temperature_K: float
    pressure_Pa: float
    at_pump_Pa: float
    freezes: bool
    limited_by_heat: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionRecord(Part):
    """A limit from print for a vacuum that is shut off."""

    name: str
    limit_Pa: float
    after_s: float
    met: bool | None
    """Null when the readings do not reach that far."""
    source: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RiseRecord(Part):
    """A vacuum shut off and watched."""

    first_Pa: float
    last_Pa: float
    duration_s: float
    chance_none: float
    chance_leak: float
    chance_moisture: float
    chance_outgassing: float
    likeliest: Literal["none", "leak", "moisture", "outgassing", "undecided"]
    what_to_do: str
    plateau_Pa: float | None
    decide_after_s: float | None
    """Since the valve was shut: when the two likeliest causes will differ."""
    air_Pa_m3_per_s: Range | None
    """Drawn in by the leak, if there is one; null without a volume."""
    loss_kg_per_s: Range | None
    """Of the refrigerant at rest, by the same leak."""
    criteria: tuple[CriterionRecord, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EvacuationRecord(LoggedRecord):
    """`sweatline evacuation --json`: pump-down, water, and the rise test."""

    refrigerant: str | None
    room_temperature_K: float
    low_volume_m3: float | None
    high_volume_m3: float | None
    target_Pa: float
    connections: tuple[ConnectionRecord, ...]
    sweeps: int | None
    """Evacuations broken with dry nitrogen that leave as little air, from one side in the time
    that both sides take; null where they do not help."""
    pumped: tuple[PumpedRecord, ...]
    water: tuple[BoilOffRecord, ...]
    rise: RiseRecord | None
    never_start: str
    """Why a compressor is not started now; empty when a log says that the vacuum was broken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoseContentRecord(Part):
    """One hose at the end."""

    bore_m: float
    length_m: float
    state: Literal["liquid", "gas", "mixed", "pulled back"]
    pressure_Pa: float
    holds_kg: float
    sd_kg: float
    returned_kg: float
    """That went back into the low side when it was pulled; 0 for other states."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineChargeRecord(Part):
    """What of the weighed mass is in the machine."""

    mass_kg: Range
    weighed_kg: float
    weighed_sd_kg: float
    in_hoses_kg: float
    in_hoses_sd_kg: float
    vented_kg: float
    vented_sd_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighOutRecord(Part):
    """What the scale has to show for a wanted charge."""

    want_kg: float
    weigh_out_kg: float
    sd_kg: float
    """Of the charge that results."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderRecord(Part):
    """A cylinder's pressure against saturation."""

    pressure_Pa: float
    temperature_K: float
    saturation_Pa: float
    excess_Pa: float
    excess_sd_Pa: float
    non_condensable_share: float
    """Of the vapour by volume, if that is what the excess is; negative below saturation."""
    non_condensable_sd: float
    chance_over_limit: float
    limit: float
    limit_source: str
    verdict: Literal["as it should be", "above saturation", "below saturation"]
    sees: tuple[str, ...]
    blind_to: tuple[str, ...]
    propane_with_isobutane: float | None
    """Fuel gas: mole share of propane that would show this pressure with isobutane."""
    propane_with_butane: float | None
    propylene_with_propane: float | None
    glide_K: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FractionationRecord(Part):
    """A blend taken as vapour."""

    taken_share: float
    light: tuple[str, ...]
    nominal_mass_share: float
    taken_mass_share: float
    left_mass_share: float
    bound: bool
    """Three components or more: the largest shift of all ways to lump them."""
    bubble_rise_share: float
    """How much higher the bubble pressure of what is in the machine is than the blend's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FillRecord(Part):
    """How full a cylinder may be."""

    volume_m3: float
    temperature_K: float
    most_kg: float
    asked_kg: float | None
    too_much: bool
    liquid_full_K: float | None
    """Temperature at which what was asked leaves no room for vapour."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeLimitRecord(Part):
    """Charge against the limit of the room, flammable refrigerants only."""

    limit_kg: float
    mass_kg: float
    over: bool
    source: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HoseRecord(LoggedRecord):
    """`sweatline hose --json`: what is in the hoses, in the machine and in the cylinder."""

    refrigerant: str
    temperature_K: float
    charge_as: Literal["liquid", "either"]
    hoses: tuple[HoseContentRecord, ...]
    machine: MachineChargeRecord | None
    weigh_out: WeighOutRecord | None
    charge_limit: ChargeLimitRecord | None
    cylinder: CylinderRecord | None
    fractionation: FractionationRecord | None
    fill: FillRecord | None

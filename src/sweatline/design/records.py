"""What `--json` prints: typed records in SI, every key ending in its unit.

A record is a plain frozen dataclass, so that making one costs nothing at start. The published
JSON schema of each is derived from it, its descriptions from the strings under the fields, and a
test reads real output back through the same types. Pressures are absolute; what is not known or
not finite is null.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

from sweatline.answers import Range, to_json
from sweatline.answers.record_parts import Part, Record
from sweatline.answers.schema import model_of, schema_of
from sweatline.assembly.build import Parts
from sweatline.assembly.calibration import Calibration
from sweatline.bench.evacuation.evacuation import EvacuationAnswer
from sweatline.bench.hoses.hoses import HoseAnswer
from sweatline.bench.start_gear.start_gear import StartGearAnswer
from sweatline.bench.tightness.tightness import TightnessAnswer
from sweatline.charging.adviser import ChargeAdvice
from sweatline.charging.session import ChargeLine
from sweatline.design.machine_records import (
    BalanceRecord,
    CandidateRecord,
    ChargeRangeRecord,
    ChargeRecord,
    CutRecord,
    CycleRecord,
    DefrostRecord,
    EventRecord,
    FrostingRecord,
    FrostRecord,
    FrostStepRecord,
    LostRecord,
    MatchRecord,
    MeteringRecord,
    RoomRangeRecord,
    RoomRecord,
    VerdictRecord,
)
from sweatline.job.explanation import Check
from sweatline.job.summary import JobSummary
from sweatline.log.logbook import LogContents
from sweatline.safety.cautions import Caution
from sweatline.training.debrief import Debrief

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "RECORDS",
    "BalanceRecord",
    "CandidateRecord",
    "CapillaryRecord",
    "Caution",
    "ChargeRangeRecord",
    "ChargeRecord",
    "CutRecord",
    "CycleRecord",
    "DefrostRecord",
    "EventRecord",
    "FrostRecord",
    "FrostStepRecord",
    "FrostingRecord",
    "JobSummary",
    "LostRecord",
    "MatchRecord",
    "MeteringRecord",
    "OpinionRecord",
    "Parts",
    "Range",
    "Record",
    "RefrigerantRecord",
    "RefrigerantsRecord",
    "RoomRangeRecord",
    "RoomRecord",
    "SaturatedRecord",
    "SaturationRecord",
    "VerdictRecord",
    "plain",
    "read_back",
    "schema",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class SaturatedRecord(Part):
    """Boiling liquid or condensing vapour."""

    pressure_Pa: float
    temperature_K: float
    density_kg_per_m3: float
    enthalpy_J_per_kg: float
    """From the arbitrary zero of the table; only differences mean anything."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SaturationRecord(Record):
    """`sweatline saturation --json`: one point of the saturation line."""

    refrigerant: str
    safety_class: str
    kind: Literal["pure", "pseudo-pure", "mixture"]
    atmospheric_pressure_Pa: float
    given: Literal["pressure", "temperature"]
    bubble: SaturatedRecord
    """Subcooling is counted from here."""
    dew: SaturatedRecord
    """Superheat is counted from here."""
    glide_K: float
    """Dew minus bubble temperature at the pressure given, else at the bubble pressure."""
    latent_heat_J_per_kg: float
    """At the same pressure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RefrigerantRecord(Part):
    """What is known about one refrigerant; statuses say how well."""

    name: str
    family: str
    safety_class: str
    tabulated: bool
    """Its property table is installed."""
    boiling_point_K: float | None
    lower_flammable_limit_kg_per_m3: float | None
    concentration_limit_kg_per_m3: float | None
    gwp_ar4: float | None
    gwp_ar5: float | None
    gwp_ar6: float | None
    odp: float | None
    oils: tuple[str, ...]
    oils_limited: tuple[str, ...]
    charge_as: str
    status: dict[str, str]
    """Of each value: PUBLISHED, MEMORY with its confidence, COMPUTED, CONFLICT, unknown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RefrigerantsRecord(Record):
    """`sweatline refrigerants --json`."""

    refrigerants: tuple[RefrigerantRecord, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpinionRecord(Part):
    """The same tube by another correlation."""

    name: str
    mass_flow_kg_per_s: float | None
    within_range: bool
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CapillaryRecord(Record):
    """`sweatline capillary --json`: one tube between two pressures."""

    refrigerant: str
    asked: Literal["flow", "length"]
    atmospheric_pressure_Pa: float
    bore_m: float
    length_m: float | None
    length_low_m: float | None
    """5 % point for the wanted flow; null when a length was given."""
    length_high_m: float | None
    mass_flow_kg_per_s: float
    mass_flow_low_kg_per_s: float
    """5 % point: scatter of the model, tolerance of the bore, roughness."""
    mass_flow_high_kg_per_s: float
    inlet_pressure_Pa: float
    inlet_temperature_K: float
    inlet_quality: float
    """Below 0 when subcooled."""
    outlet_pressure_Pa: float
    end_pressure_Pa: float
    end_pressure_band_Pa: Range
    choked: bool
    liquid_length_m: float
    liquid_length_band_m: Range
    roughness_m: float
    metastable: bool
    opinions: tuple[OpinionRecord, ...]
    notes: tuple[str, ...]


RECORDS: Final[Mapping[str, type[Any]]] = {
    "check": Check,
    "saturation": SaturationRecord,
    "refrigerants": RefrigerantsRecord,
    "capillary": CapillaryRecord,
    "calibrate": Calibration,
    "balance": BalanceRecord,
    "match": MatchRecord,
    "metering": MeteringRecord,
    "charge-curve": ChargeRecord,
    "room-map": RoomRecord,
    "charge": ChargeAdvice,
    "practice": Debrief,
    "charge-line": ChargeLine,
    "log": LogContents,
    "frost": FrostingRecord,
    "tightness": TightnessAnswer,
    "evacuation": EvacuationAnswer,
    "hose": HoseAnswer,
    "start-gear": StartGearAnswer,
}


def plain(record: Record) -> dict[str, Any]:
    """Record as nested dictionaries, ready for JSON."""
    found: dict[str, Any] = to_json(record)
    return found


def schema(name: str) -> dict[str, Any]:
    """JSON schema of a command's record, or of a job file under the name ``job``.

    Raises
    ------
    JobError
        No schema of that name.
    """
    if name == "job":
        from sweatline.job.glossary import job_schema

        return job_schema()
    if name not in RECORDS:
        from sweatline.errors import JobError

        raise JobError(
            what="no schema of that name",
            read=name[:40],
            allowed="there are: job, " + ", ".join(RECORDS),
        )
    return schema_of(RECORDS[name], title=f"sweatline {name} --json", head=_head(RECORDS[name]))


def _head(answer: type) -> dict[str, Any]:
    """Command and version, which the printer puts before an answer that has none of its own."""
    if issubclass(answer, Record):
        return {}
    return {
        "command": (str, "The command that gave the answer, and the name of its schema."),
        "version": (str, "Of sweatline."),
    }


def read_back(name: str, text: str | bytes) -> Any:
    """Answer from the JSON a command printed; refuses anything its schema does not allow."""
    answer = RECORDS[name]
    return model_of(answer, tuple(_head(answer).items())).model_validate_json(text, strict=True)

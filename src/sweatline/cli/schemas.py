"""The answer of each command: its JSON schema, and reading its JSON back."""

from __future__ import annotations

import importlib
from typing import Any, Final

from sweatline.answers.schema import model_of, schema_of

# Module and class of the answer of each command.
_ANSWERS: Final = {
    "check": ("job.explanation", "Check"),
    "calibrate": ("assembly.calibration", "Calibration"),
    "match": ("design.match", "MatchAnswer"),
    "balance": ("design.balance", "BalanceAnswer"),
    "metering": ("design.metering", "MeteringAnswer"),
    "charge-curve": ("design.charge_curve", "ChargeAnswer"),
    "room-map": ("design.room_map", "RoomAnswer"),
    "frost": ("design.frost", "FrostAnswer"),
    "year": ("season.year", "YearAnswer"),
    "worth": ("season.worth", "WorthAnswer"),
    "sweep": ("study.study", "SweepAnswer"),
    "charge": ("charging.adviser", "ChargeAdvice"),
    "charge-line": ("charging.session", "ChargeLine"),
    "prove": ("bench.proof.proof", "ProofAnswer"),
    "diagnose": ("diagnosis.diagnosis", "Diagnosis"),
    "practice": ("training.debrief", "Debrief"),
    "log": ("log.logbook", "LogContents"),
    "tightness": ("bench.tightness.tightness", "TightnessAnswer"),
    "evacuation": ("bench.evacuation.evacuation", "EvacuationAnswer"),
    "hose": ("bench.hoses.hoses", "HoseAnswer"),
    "start-gear": ("bench.start_gear.start_gear", "StartGearAnswer"),
    "saturation": ("design.refrigerants", "SaturationAnswer"),
    "refrigerants": ("design.refrigerants", "RefrigerantsAnswer"),
    "capillary": ("design.capillary", "CapillaryAnswer"),
    "sheet": ("report.sheet.sheet", "SheetAnswer"),
}
COMMANDS: Final = tuple(_ANSWERS)

# What `--json` puts in front of an answer.
_HEAD: Final[tuple[tuple[str, Any], ...]] = (
    ("command", (str, "The command that gave the answer, and the name of its schema.")),
    ("version", (str, "Of sweatline.")),
)


def answer_of(name: str) -> type:
    """Class of the answer of a command; imported now, because some bring the compiler along.

    Raises
    ------
    JobError
        No such command.
    """
    if name not in COMMANDS:
        from sweatline.errors import JobError

        raise JobError(
            what="no schema of that name",
            read=name[:40],
            allowed="there are: job, " + ", ".join(COMMANDS),
        )
    module, cls = _ANSWERS[name]
    found: type = getattr(importlib.import_module(f"sweatline.{module}"), cls)
    return found


def _head(cls: type) -> tuple[tuple[str, Any], ...]:
    return () if "command" in cls.__dataclass_fields__ else _HEAD  # type: ignore[attr-defined]


def schema(name: str) -> dict[str, Any]:
    """JSON schema of a command's answer, or of a job file under the name ``job``.

    Raises
    ------
    JobError
        No schema of that name.
    """
    if name == "job":
        from sweatline.job.explanation import job_schema

        return job_schema()
    cls = answer_of(name)
    return schema_of(cls, title=f"sweatline {name} --json", head=dict(_head(cls)))


def read_back(name: str, text: str | bytes) -> Any:
    """Answer from the JSON a command printed; refuses anything its schema does not allow."""
    cls = answer_of(name)
    return model_of(cls, _head(cls)).model_validate_json(text, strict=True)

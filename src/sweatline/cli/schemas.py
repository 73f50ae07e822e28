"""The answer of each command: its JSON schema, and reading its JSON back."""

from __future__ import annotations

from functools import cache
from typing import Any, Final

from sweatline.answers.schema import model_of, schema_of

COMMANDS: Final = (
    "check", "calibrate", "match", "balance", "metering", "charge-curve", "room-map", "frost",
    "charge", "charge-line", "practice", "log", "tightness", "evacuation", "hose", "start-gear",
    "saturation", "refrigerants", "capillary",
)  # fmt: skip

# What `--json` puts in front of an answer.
_HEAD: Final[tuple[tuple[str, Any], ...]] = (
    ("command", (str, "The command that gave the answer, and the name of its schema.")),
    ("version", (str, "Of sweatline.")),
)


@cache
def _answers() -> dict[str, type]:
    """Class of each command's answer. Imported here, because some bring the compiler along."""
    from sweatline.assembly.calibration import Calibration
    from sweatline.bench.evacuation.evacuation import EvacuationAnswer
    from sweatline.bench.hoses.hoses import HoseAnswer
    from sweatline.bench.start_gear.start_gear import StartGearAnswer
    from sweatline.bench.tightness.tightness import TightnessAnswer
    from sweatline.charging.adviser import ChargeAdvice
    from sweatline.charging.session import ChargeLine
    from sweatline.design.balance import BalanceAnswer
    from sweatline.design.capillary import CapillaryAnswer
    from sweatline.design.charge_curve import ChargeAnswer
    from sweatline.design.frost import FrostAnswer
    from sweatline.design.match import MatchAnswer
    from sweatline.design.metering import MeteringAnswer
    from sweatline.design.refrigerants import RefrigerantsAnswer, SaturationAnswer
    from sweatline.design.room_map import RoomAnswer
    from sweatline.job.explanation import Check
    from sweatline.log.logbook import LogContents
    from sweatline.training.debrief import Debrief

    return {
        "check": Check,
        "calibrate": Calibration,
        "match": MatchAnswer,
        "balance": BalanceAnswer,
        "metering": MeteringAnswer,
        "charge-curve": ChargeAnswer,
        "room-map": RoomAnswer,
        "frost": FrostAnswer,
        "charge": ChargeAdvice,
        "charge-line": ChargeLine,
        "practice": Debrief,
        "log": LogContents,
        "tightness": TightnessAnswer,
        "evacuation": EvacuationAnswer,
        "hose": HoseAnswer,
        "start-gear": StartGearAnswer,
        "saturation": SaturationAnswer,
        "refrigerants": RefrigerantsAnswer,
        "capillary": CapillaryAnswer,
    }


def answer_of(name: str) -> type:
    """Class of the answer of a command.

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
    return _answers()[name]


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

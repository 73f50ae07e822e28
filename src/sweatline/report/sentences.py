"""Words that several answers share: the parts, the room, a value with its range."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sweatline.answers import Range
    from sweatline.assembly.build import Parts
    from sweatline.design.balance import Assessment
    from sweatline.design.match import MatchAnswer
    from sweatline.design.verdict import Verdict
    from sweatline.errors import OutOfRange
    from sweatline.job.explanation import JobSummary
    from sweatline.units import Kind, Scale


# Verdicts whose number is a vapour quality, and the part of the flow that is at fault.
_PART_OF_THE_FLOW: Final[Mapping[str, Callable[[float], float]]] = {
    "starved": lambda quality: quality,
    "flooding_back": lambda quality: 1.0 - quality,
}


def between(found: Range | None, kind: Kind, scale: Scale, digits: int = 3) -> str:
    """Range behind a value, in brackets; nothing without one."""
    return f" [{scale.range(found, kind, digits)}]" if found is not None else ""


def verdict_number(value: float, kind: Kind | None, scale: Scale) -> str:
    """Number or limit of a verdict."""
    return "" if kind is None else scale.show(value, kind)


def chance(probability: float, draws: int) -> str:
    """Probability of a fault as far as the trial runs can tell."""
    least = 1.0 / (draws + 1.0)
    if probability < least:
        return f"chance below {max(100 * least, 1):.0f} %"
    if probability > 1.0 - least:
        return f"chance above {min(100 * (1.0 - least), 99):.0f} %"
    return f"chance {100 * probability:.0f} %"


def judgement(verdict: Verdict, scale: Scale, draws: int) -> str:
    """Fault, number, limit and chance of one verdict, without its source."""
    text = verdict.fault
    number, limit = verdict.number, verdict.limit
    part = _PART_OF_THE_FLOW.get(verdict.key)
    if part is not None and number is not None:
        share = max(part(number), 0.0)
        text += ": none" if share < 0.005 else f": {100 * share:.0f} % of the flow"
    elif number is not None:
        text += f": {verdict_number(number, verdict.kind, scale)}"
        if limit is not None and limit != float("inf"):
            # The side on which the limit lies shows in how the number stands to it.
            lower = (number > limit) == (verdict.state == "holds")
            side = "at least" if lower else "at most"
            text += f", {side} {verdict_number(limit, verdict.kind, scale)}"
        elif verdict.key == "flammable_charge":
            text += ", no limit"
    if verdict.probability is not None and draws:
        text += f"; {chance(verdict.probability, draws)}"
    return text


def named(parts: Parts, scale: Scale) -> str:
    """Compressor, refrigerant and capillary with its length, as a name."""
    length = scale.show(parts.capillary_length, "length")
    return f"{parts.compressor} + {parts.refrigerant} + {parts.capillary}, {length}"


def headline_of_match(answer: MatchAnswer, scale: Scale) -> str:
    """The answer of a ranking in one line: what is best, or why there is nothing."""
    if not answer.ranked:
        return "No combination has a balance in this room." if answer.finished else "Nothing yet."
    best = answer.ranked[0]
    if best.stopped:
        return f"None may be built as it stands. The first, {named(best.parts, scale)}:"
    return f"Best: {named(best.parts, scale)}"


def outcome(found: Assessment, scale: Scale) -> str:
    """The answer in one line: whether it works, what it does, how sure that is."""
    word = f"{found.word[:1].upper()}{found.word[1:]}"
    if found.stopped:
        word = f"STOP: {found.word}"
    elif found.worst is not None and found.worst.state == "fails":
        word = f"Fault: {found.word}"
    text = (
        f"{word}. Water {scale.show(found.steady.water, 'water removal', 2)} for "
        f"{scale.show(found.steady.total_power, 'power')}, charge "
        f"{scale.show(found.steady.charge, 'mass')}"
    )
    if found.draws and not found.stopped:
        text += f"; runs clean, {100 * found.chance_clean:.0f} in 100"
    return f"{text}."


def gauges_line(found: Assessment, scale: Scale) -> str:
    """What gauges will show on it, without a full stop."""
    s, bands = found.steady, found.bands
    suction = scale.show(s.suction_pressure, "pressure")
    suction += between(bands.get("suction_pressure_Pa"), "pressure", scale)
    head = scale.show(s.discharge_pressure, "pressure")
    head += between(bands.get("discharge_pressure_Pa"), "pressure", scale)
    return f"Suction {suction}, head {head}"


def parts_line(parts: Parts, scale: Scale) -> str:
    """Compressor, refrigerant and capillary with its length, in words."""
    length = scale.show(parts.capillary_length, "length")
    how = "cut to" if parts.capillary_cut else "of"
    return f"{parts.compressor} + {parts.refrigerant} + {parts.capillary}, {how} {length}"


def room_line(job: JobSummary, scale: Scale) -> str:
    """Where the machine stands."""
    return (
        f"Room {scale.show(job.room_temperature, 'temperature')}, "
        f"{scale.show(job.room_relative_humidity, 'relative humidity', 2)}; "
        f"altitude {scale.show(job.altitude, 'altitude')}."
        + (
            f" Calibrated to {job.calibration_readings} readings of the machine as it ran."
            if job.calibration_readings
            else ""
        )
    )


def trial_runs(draws: int, unsolved: int = 0) -> str:
    """What the ranges of an answer rest on; empty without trial runs."""
    if not draws:
        return ""
    lost = f", {unsolved} of them without a balance" if unsolved else ""
    return f"Likely range (9 in 10): from {draws} trial runs{lost}."


def outside(error: OutOfRange, scale: Scale) -> str:
    """A value outside a table, in the units a person wrote it in."""
    kinds: dict[str, Kind] = {"Pa": "pressure", "K": "temperature"}
    kind = kinds.get(error.unit)
    if kind is None or not error.name or "difference" in error.name:
        return str(error)
    low, high = scale.show(error.low, kind), scale.show(error.high, kind)
    return f"{error.what}: {error.name} {scale.show(error.value, kind)}, allowed {low} to {high}"

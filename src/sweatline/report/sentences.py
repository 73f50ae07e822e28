"""Words that several answers share: the parts, the room, a value with its range."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Final

from sweatline.log.channels import CHANNELS

if TYPE_CHECKING:
    from sweatline.answers import Range
    from sweatline.assembly.build import Parts
    from sweatline.charging.adviser import ChargeAdvice, NextStep, ReadingOutlook
    from sweatline.charging.stop_rule import StopCondition
    from sweatline.design.balance import Assessment
    from sweatline.design.match import MatchAnswer
    from sweatline.design.verdict import Verdict
    from sweatline.errors import OutOfRange
    from sweatline.job.explanation import JobSummary
    from sweatline.log.logbook import LogRow
    from sweatline.units import Kind, Scale


# Verdicts whose number is a vapour quality, and the part of the flow that is at fault.
_PART_OF_THE_FLOW: Final[Mapping[str, Callable[[float], float]]] = {
    "starved": lambda quality: quality,
    "flooding_back": lambda quality: 1.0 - quality,
}
# How the error of a reading is told: as a difference.
_ERROR_KINDS: Final[Mapping[Kind, Kind]] = {
    "pressure": "pressure difference",
    "temperature": "temperature difference",
}
_SHUT: Final = 0.5e-3  # kg short of a dose at which the hose is shut
_MET: Final = {"yes": "yes", "no": "NO", "in doubt": "not sure", "not read": "not read"}


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
        least = "a trace" if verdict.state == "fails" else "none"
        text += f": {least}" if share < 0.005 else f": {100 * share:.0f} % of the flow"
    elif number is not None:
        shown = verdict_number(number, verdict.kind, scale)
        text += f": {shown}"
        if limit is not None and limit != float("inf"):
            # The side on which the limit lies shows in how the number stands to it.
            lower = (number > limit) == (verdict.state == "holds")
            side = "at least" if lower else "at most"
            bound = verdict_number(limit, verdict.kind, scale)
            text += ", on its limit" if shown == bound else f", {side} {bound}"
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


def sentence(text: str) -> str:
    """Words as a sentence."""
    asked = text.endswith("?")
    return text[:1].upper() + text[1:].rstrip(".") + ("" if asked else ".")


def duration(seconds: float) -> str:
    """A time to wait, as it is said."""
    if seconds < 55.0:
        return f"{max(seconds, 1.0):.0f} s"
    return f"{seconds / 60.0:.0f} min"


def step_in_words(step: NextStep, scale: Scale) -> str:
    """What to do next while charging, in a few large words."""
    if step.action == "wait":
        return f"WAIT {duration(step.look_again or 0.0)}"
    if step.action == "add":
        return f"ADD {scale.show(step.dose, 'mass')}"
    if step.action == "take out":
        return f"TAKE OUT {scale.show(-(step.dose or 0.0), 'mass')}"
    if step.action == "read":
        return "READ: more readings are needed"
    return f"{'STOP AND LOOK' if _look(step) else 'STOP'}: add no more"


def step_in_one_word(step: NextStep, scale: Scale) -> str:
    """The same to be read across the room."""
    word = step_in_words(step, scale)
    return word.partition(":")[0] if step.action == "read" or _look(step) else word


def _look(step: NextStep) -> bool:
    """What a stop asks for is to look, unless it is full."""
    return step.action == "stop" and (bool(step.obstacles) or step.best_charge is None)


def charged_so_far(step: NextStep, scale: Scale) -> str:
    """What is in the machine, and what the readings say of the best charge."""
    text = f"Charged {scale.show(step.charge, 'mass')}"
    if step.best_charge is not None:
        best = step.best_charge
        text += (
            f"; target now {scale.show(best.middle, 'mass')} "
            f"(likely range {scale.range(best, 'mass')})"
        )
    return f"{text}."


def reading_title(what: str) -> str:
    """What a table calls a reading, or what follows from readings."""
    if what in CHANNELS:
        return CHANNELS[what].heading
    return "coldest coil" if what == "coldest surface" else what


def reading_now(o: ReadingOutlook, scale: Scale) -> tuple[str, str, str]:
    """A reading: its value, its saturation temperature, where it settles and what follows then."""
    s, after = o.settles_SI, o.expected_after_SI
    unit, cells = scale.column(
        (o.last_SI, s.middle, s.low, s.high, None if after is None else after.middle), o.kind
    )
    saturation = "" if o.saturation is None else scale.show(o.saturation, "temperature")
    settles = f"settles at {cells[1]} ({cells[2]} to {cells[3]})"
    if after is not None:
        settles += f", then {cells[4]}"
    return "-" if o.last_SI is None else f"{cells[0]} {unit}".rstrip(), saturation, settles


def condition_met(rule: StopCondition, scale: Scale) -> str:
    """Whether a condition of the stop rule is met, by what, and where its limit lies."""
    text = "not yet" if rule.key == "filled" and rule.state == "no" else _MET[rule.state]
    if rule.settles_SI is not None:
        text += f": {scale.show(rule.settles_SI.middle, rule.kind)}"
        if rule.limit_SI is not None:
            text += f", {rule.side} {scale.show(rule.limit_SI, rule.kind)}"
        if rule.by == "model":
            text += ", by the model"
    return text


def instrument_errors(advice: ChargeAdvice, scale: Scale) -> str:
    """How well scale and instruments are taken to read; empty where nothing was read."""
    told = []
    if advice.charge_sd > 0.0:
        told.append(f"charge {scale.show(advice.charge_sd, 'mass', 2)}")
    for e in advice.reading_errors:
        kind = CHANNELS[e.what].kind
        error = scale.show(e.sd_SI, _ERROR_KINDS.get(kind, kind), 2)
        told.append(f"{e.what} {error} ({e.source})")
    return f"Errors of the instruments: {', '.join(told)}." if told else ""


def entry_in_words(entry: LogRow) -> str:
    """An entry of a log in one line, with its time and without its number."""
    words = [entry.happened[11:19]]
    if entry.kind == "addition":
        words += [
            "added",
            entry.text,
            entry.refrigerant,
            f"as {entry.phase}" if entry.phase else "",
        ]
    elif entry.kind == "withdrawal":
        words += [f"entry {entry.corrects} withdrawn:", entry.text]
    else:
        words += [entry.channel, entry.text]
    if entry.instrument:
        words.append(f"({entry.instrument})")
    if entry.corrects is not None and entry.kind != "withdrawal":
        words.append(f"[corrects {entry.corrects}]")
    return " ".join(" ".join(w for w in words if w).split())


def dose_left(gone: float, dose: float | None, scale: Scale) -> tuple[str, str]:
    """A dose on its way by the scale under the cylinder: what is left in large words, and why."""
    told = f"{scale.show(gone, 'mass')} have left the cylinder by the scale"
    if dose is None:
        return f"{scale.show(gone, 'mass')} GONE", f"{told}; write down what was let in."
    if gone < dose - _SHUT:
        return f"{scale.show(dose - gone, 'mass')} MORE", f"{told}, of {scale.show(dose, 'mass')}."
    return "SHUT", f"{told}: the dose of {scale.show(dose, 'mass')} is in."

"""Numbers and judgements in words, in the job's unit system."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sweatline.answers import Range
    from sweatline.assembly.build import Parts
    from sweatline.design.records import VerdictRecord
    from sweatline.errors import OutOfRange
    from sweatline.job.summary import JobSummary
    from sweatline.units import Kind, Scale

__all__ = [
    "between",
    "chance",
    "judgement",
    "outside",
    "parts_line",
    "share_line",
    "verdict_number",
]

# Kinds of a verdict's number that are shown as another kind of the unit reader.
_KINDS: Final[Mapping[str, Kind]] = {
    "gauge_pressure": "pressure",
    "pressure_difference": "pressure difference",
    "temperature": "temperature",
    "temperature_difference": "temperature difference",
    "power": "power",
    "mass": "mass",
    "length": "length",
    "mass_flow": "water removal",
    "voltage": "voltage",
    "frequency": "frequency",
}
_LB_PER_1000_FT3: Final = 0.45359237 / (1000.0 * 0.3048**3)  # kg/m3


def verdict_number(value: float, kind: str, scale: Scale) -> str:
    """Number or limit of a verdict."""
    if kind == "concentration":
        if scale.system == "US":
            return f"{value / _LB_PER_1000_FT3:.3g} lb/1000 ft³"
        return f"{value * 1e3:.3g} g/m³"
    if kind == "fraction":
        return f"{value:.2f}"
    return scale.show(value, _KINDS[kind])


def between(band: Range | None, kind: Kind, scale: Scale) -> str:
    """Range behind a value, in brackets; nothing without one."""
    return f" [{scale.range(band, kind)}]" if band is not None else ""


def chance(probability: float, draws: int) -> str:
    """Probability of a fault as far as the draws can tell."""
    least = 1.0 / (draws + 1.0)
    if probability < least:
        return f"chance below {max(100 * least, 1):.0f} %"
    if probability > 1.0 - least:
        return f"chance above {min(100 * (1.0 - least), 99):.0f} %"
    return f"chance {100 * probability:.0f} %"


def judgement(verdict: VerdictRecord, scale: Scale, draws: int) -> str:
    """Fault, number, limit and chance of one verdict, without its source."""
    text = verdict.fault
    number, limit = verdict.number, verdict.limit
    if number is not None:
        text += f": {verdict_number(number, verdict.kind, scale)}"
        if limit is not None:
            # The side on which the limit lies shows in how the number stands to it.
            lower = (number > limit) == (verdict.state == "holds")
            side = "at least" if lower else "at most"
            text += f", {side} {verdict_number(limit, verdict.kind, scale)}"
        elif verdict.key == "flammable_charge":
            text += ", no limit"
    if verdict.probability is not None and draws:
        text += f"; {chance(verdict.probability, draws)}"
    return text


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


def share_line(values: Sequence[tuple[str, float]]) -> str:
    """Names with their shares of a whole, largest first."""
    return ", ".join(f"{name} {100 * share:.0f} %" for name, share in values)


def outside(error: OutOfRange, scale: Scale) -> str:
    """A value outside a table, in the units a person wrote it in."""
    kinds: dict[str, Kind] = {"Pa": "pressure", "K": "temperature"}
    kind = kinds.get(error.unit)
    if kind is None or not error.name or "difference" in error.name:
        return str(error)
    low, high = scale.show(error.low, kind), scale.show(error.high, kind)
    return f"{error.what}: {error.name} {scale.show(error.value, kind)}, allowed {low} to {high}"

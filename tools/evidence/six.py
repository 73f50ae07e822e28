"""Six lines on what a person at the machine wants to know: how far off, and how it was found."""

import re
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from tools.evidence.values import Record, Value
from tools.evidence.words import fitted, met

COLUMNS = ("what", "typical error", "worst", "fitted or predicted", "held against")


@dataclass(frozen=True, slots=True)
class Line:
    """One thing a person reads off, and the values from print that speak for it."""

    what: str
    model: str
    quantity: str  # pattern
    against: str
    factor: float = 1.0  # errors of the thing for each error of the value


# The flow of a capillary goes with about the root of its length.
LENGTH_PER_FLOW = 2.1

LINES = (
    Line(
        "suction pressure",
        "Whole machine with a (capillary|thermostatic valve)",
        "pressure at the evaporator outlet",
        "one bench machine, a fan slowed; its parts fitted with both fans at full speed",
    ),
    Line(
        "head pressure",
        "Whole machine with a (capillary|thermostatic valve)",
        "head pressure",
        "the same bench; farther off with an automatic valve set very low",
    ),
    Line(
        "watts",
        "Calibrated dehumidifier",
        r"watts at ",
        "six measured dehumidifiers in eleven rooms, after readings in one other room",
    ),
    Line("water", "Calibrated dehumidifier", r"water, L/day at ", "the same rooms"),
    Line(
        "tube length",
        r"Capillary \(homogeneous equilibrium\)",
        "condensing at .* subcooled$",
        "flows by two published correlations; an error of the flow counts about twice",
        LENGTH_PER_FLOW,
    ),
    Line(
        "charge",
        "Substitution, whole machine",
        "^charge, ",
        "two machines weighed with two refrigerants each: the ratio only",
    ),
)


def _off(value: Value) -> float:
    return abs(value.ours - value.printed) / abs(value.printed)


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def of(record: Record, line: Line) -> Sequence[Value]:
    """The values that speak for a line."""
    return [
        value
        for value in record.values
        if re.fullmatch(line.model, value.model)
        and re.search(line.quantity, value.quantity)
        and value.printed != 0.0
    ]


def rows(record: Record) -> list[tuple[str, ...]]:
    """Median and largest error of each line; a line that nothing speaks for is left out."""
    found = []
    for line in LINES:
        values = of(record, line)
        if values:
            off = [line.factor * _off(value) for value in values]
            found.append(
                (
                    line.what,
                    _percent(statistics.median(off)),
                    _percent(max(off)),
                    fitted(values),
                    f"{line.against} ({met(values)} within tolerance)",
                )
            )
    return found


def note(record: Record) -> str:
    """What the same machine was off by before its readings were used."""
    told = []
    for what in ("watts", "water"):
        off = [
            value.ours
            for value in record.values
            if f"mean deviation of the {what}" in value.quantity and "before" in value.quantity
        ]
        if not off:
            return ""
        told.append(f"{_percent(min(off))} and {_percent(max(off))} in {what}")
    return (
        "The rows for watts and water need readings of the machine from when it ran well. "
        f"Without them, with parts of usual size, it was off by {' and '.join(told)} (two "
        "refrigerants)."
    )

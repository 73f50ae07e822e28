"""What a verdict is: the trade's word, the number, its limit, the source, the probability."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from sweatline.answers import Answer, Shown
from sweatline.answers.fields import SI_UNITS
from sweatline.design.measurement_priority import MeasurementPriority
from sweatline.units.kinds import Kind

State = Literal["holds", "fails", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact(Answer):
    """A number that a verdict rests on, beside the one that is compared."""

    label: str
    value: float
    """In the SI unit of its kind."""
    kind: Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict(Answer):
    """One judgement on one machine."""

    key: str
    """Short, stable word for machines."""
    fault: str
    """The trade's word for what goes wrong."""
    state: State
    """Whether the machine passes; a note neither passes nor fails."""
    number: float | None = None
    limit: float | None = None
    kind: Kind | None = None
    """Kind of quantity of number and limit; pressures are absolute."""
    facts: tuple[Fact, ...] = ()
    probability: float | None = None
    """Of the fault, from the trial runs."""
    source: str
    """Where the limit comes from."""
    sentence: str
    safety: bool = False
    final: bool = False
    """The rebuild must not go ahead while this fails."""
    doubt: MeasurementPriority | None = None
    """Null for a verdict that is settled, or from which no number stands out."""

    @property
    def unit(self) -> Annotated[str, Shown()]:
        """SI unit of number and limit; 1 for a ratio, empty without a number."""
        if self.kind is None:
            return ""
        return SI_UNITS[self.kind].replace("_per_", "/").replace("_", "*") or "1"

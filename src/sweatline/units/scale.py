"""How numbers are shown: one unit system, one zero of the gauges."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Protocol

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.units.kinds import Kind
from sweatline.units.showing import System, show, show_limits, show_spread

_ROUGH: Final = 2  # figures


class Ends(Protocol):
    """Anything with a low and a high end, as a range has."""

    @property
    def low(self) -> float: ...

    @property
    def high(self) -> float: ...


@dataclass(frozen=True, slots=True)
class Scale:
    """How numbers are shown: the unit system and the zero of the gauges."""

    system: System
    atmosphere: float = STANDARD_ATMOSPHERE  # Pa

    def show(self, value: float | None, kind: Kind, digits: int = 3) -> str:
        """Value with its unit; a dash when there is none."""
        if value is None or not math.isfinite(value):
            return "-"
        text = show(value, kind, self.system, digits, atmosphere=self.atmosphere)
        number, _, unit = text.partition(" ")
        if digits <= _ROUGH:  # of what is known so roughly no further figures are shown
            number = _rough(number, digits)
        if unit == "day" and number != "1":
            unit = "days"
        return f"{number} {unit}".rstrip()

    def spread(self, sd: float, value: float, kind: Kind, digits: int = 2) -> str:
        """Standard uncertainty of a value, in the value's unit; empty when there is none."""
        return show_spread(sd, value, kind, self.system, digits, atmosphere=self.atmosphere)

    def limits(self, low: float | None, high: float | None, kind: Kind) -> str:
        """What is allowed, in words: ``1.0 g to 2.00 kg``, ``at least 1.0 g``."""
        return show_limits(low, high, kind, self.system, atmosphere=self.atmosphere)

    def column(
        self, values: Iterable[float | None], kind: Kind, digits: int = 3
    ) -> tuple[str, list[str]]:
        """One unit for a whole column, and the cells without it, all with the same decimals.

        The unit is empty, and each cell carries its own, when they need different ones.
        """
        cells = [self.show(v, kind, digits) for v in values]
        units = {cell.partition(" ")[2] for cell in cells if cell != "-"}
        if len(units) != 1:
            return "", cells
        numbers = [cell.partition(" ")[0] for cell in cells]
        largest = max((n for n in numbers if n != "-"), key=lambda n: abs(float(n)))
        decimals = len(largest.partition(".")[2]) if "e" not in largest else 0
        return units.pop(), [n if n == "-" else _fixed(float(n), decimals) for n in numbers]

    def range(self, found: Ends | None, kind: Kind, digits: int = 3) -> str:
        """Both ends of a range, as in ``94 to 107 g``; empty when there is none."""
        if found is None or not (math.isfinite(found.low) and math.isfinite(found.high)):
            return ""
        unit, (low, high) = self.column([found.low, found.high], kind, digits)
        return f"{low} to {high} {unit}".rstrip()


def _rough(number: str, digits: int) -> str:
    """A whole number of more figures than are meant, with noughts for the others."""
    if "." in number or "e" in number or len(number.lstrip("-")) <= digits:
        return number
    return f"{float(f'{float(number):.{digits - 1}e}'):.0f}"


def _fixed(number: float, decimals: int) -> str:
    text = f"{number:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


SI_SCALE: Final = Scale("SI")

"""From a value in SI to what a technician reads: one unit system, one zero of the gauges."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal, Protocol

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.units.kinds import FORMS, Kind, Unit, units_of

System = Literal["US", "SI"]

_PRINTED: Final = {
    "um": "µm", "uin": "µin", "uF": "µF", "in2": "in²", "in3": "in³", "ft2": "ft²",
    "cm2": "cm²", "m2": "m²", "cm3": "cm³", "ft3": "ft³",
    "m3": "m³", "m3/h": "m³/h", "g/m3": "g/m³", "kg/m3": "kg/m³", "lb/ft3": "lb/ft³",
    "lb/1000 ft3": "lb/1000 ft³", "ohm": "Ω", "std cc/s": "std cm³/s", "atm cm3/s": "std cm³/s",
}  # fmt: skip

# Unit in which a difference of two such values is written.
_DIFFERENCE: Final = {
    "psig": "psi", "psia": "psi", "bar(g)": "bar", "bar(a)": "bar", "inHg vacuum": "inHg",
    "Pa abs": "Pa", "°C": "K",
}  # fmt: skip

# Digits behind the point beyond which a kind with an arbitrary zero says nothing.
_OFFSET_KINDS: Final[frozenset[Kind]] = frozenset(
    {"pressure", "gauge pressure", "temperature", "relative humidity"}
)


# Decimals that tape, scale and thermometer can show: from this number on, so many. They hold
# where no more than three digits are asked for.
_FINEST: Final[Mapping[tuple[Kind, str], tuple[tuple[float, int], ...]]] = {
    ("length", "in"): ((0.0, 4), (0.01, 3), (1.0, 2), (36.0, 1)),
    ("mass", "oz"): ((0.0, 2), (0.5, 1)),
    ("mass", "g"): ((0.0, 1), (10.0, 0)),
    ("temperature difference", "°F"): ((0.0, 1),),
    ("temperature difference", "K"): ((0.0, 1),),
}


_NOTHING: Final = 2e-3  # of the largest in a column: what is less may be shown as 0


@cache
def _steps(kind: Kind, system: System) -> tuple[tuple[float, Unit], ...]:
    """Units in which a kind is shown, each with the SI magnitude from which on it is used."""
    form = FORMS[kind]
    by_name = {unit.name: unit for unit in reversed(units_of(kind))}
    first, *others = (form.us if system == "US" or not form.metric else form.metric).split("|")
    found = [(0.0, by_name[first])]
    for step in others:
        least, _, name = step.partition(" ")
        found.append((float(least), by_name[name]))
    return tuple(found)


def display_unit(
    value: float, kind: Kind, system: System, *, atmosphere: float = STANDARD_ATMOSPHERE
) -> Unit:
    """Unit in which a value of a kind is shown in a unit system."""
    unit = [unit for least, unit in _steps(kind, system) if abs(value) >= least or not least][-1]
    if unit.name == "psig" and value < atmosphere * (1.0 - 1e-9):
        return next(u for u in units_of(kind) if u.name == "inHg vacuum")
    return unit


def _finest(number: float, kind: Kind, unit: str) -> int | None:
    """Most decimals that a person can use; None where the digits alone decide."""
    found = None
    for least, decimals in _FINEST.get((kind, unit), ()):
        if abs(number) >= least:
            found = decimals
    return found


def _rounded(number: float, digits: int, *, most: int = 12) -> str:
    """Number with at least `digits` significant digits, whole digits never lost."""
    if number == 0.0:
        return f"{0.0:.{most}f}" if most < 12 else "0"
    if abs(number) < 1e-6 or abs(number) >= 1e15:
        return f"{number:.{max(digits - 1, 0)}e}"
    # The exponent after rounding: 9.996 is 10.0 to three digits, not 10.00.
    exponent = int(f"{number:.{max(digits - 1, 0)}e}".partition("e")[2])
    decimals = max(0, min(digits - 1 - exponent, most))
    text = f"{number:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def show(
    value: float,
    kind: Kind,
    system: System,
    digits: int = 3,
    *,
    atmosphere: float = STANDARD_ATMOSPHERE,
) -> str:
    """Value with its unit in a unit system, as a technician reads it.

    Parameters
    ----------
    value : float
        Value in SI; pressures absolute. [SI]
    kind : str
        Kind of quantity.
    system : str
        ``US`` or ``SI``.
    digits : int
        Significant digits, at least; digits before the point are never dropped. Kinds with an
        arbitrary zero (gauge pressure, temperature) keep `digits` - 2 behind the point at most.
    atmosphere : float
        Local atmospheric pressure, the zero of every gauge. [Pa]

    Returns
    -------
    str
        For example ``27.0 psig``, ``62.0 °F``, ``10.25 in``, ``12.5 L/day``. Lengths, doses and
        temperature differences end where tape, scale and thermometer do, unless `digits` asks for
        more than three.
    """
    if not math.isfinite(value):
        return "not known"
    unit = display_unit(value, kind, system, atmosphere=atmosphere)
    number = unit.number(value, atmosphere)
    most = max(digits - 2, 0) if kind in _OFFSET_KINDS else 12
    if unit.name == "bar(g)":
        most = max(digits - 1, 0)
    if kind == "bore" and unit.name == "in":
        return f"{number:.{max(digits, 3)}f} in"
    finest = _finest(number, kind, unit.name) if digits <= 3 and number != 0.0 else None
    if finest is not None and kind == "length" and digits == 3:
        return f"{number:.{finest}f} in"  # as a tape or calliper reads, also past three digits
    if finest is not None:
        most = min(most, finest)
    text = _rounded(number, digits, most=most)
    return f"{text} {_PRINTED.get(unit.name, unit.name)}"


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
        if sd == 0.0:
            return ""
        unit = display_unit(value, kind, self.system, atmosphere=self.atmosphere)
        number = sd * unit.factor / value**2 if unit.reciprocal else sd / unit.factor
        name = _DIFFERENCE.get(unit.name, unit.name)
        most = 4 if name == "in" else 12
        return f"{_rounded(number, digits, most=most)} {_PRINTED.get(name, name)}"

    def limits(self, low: float | None, high: float | None, kind: Kind) -> str:
        """What is allowed, in words: ``1 g to 2 kg``, ``at least 1 g``."""
        ends = []
        for end in (low, high):
            if end is not None:
                number, _, unit = self.show(end, kind).partition(" ")
                number = number.rstrip("0").rstrip(".") if "." in number else number
                ends.append(f"{number} {unit}".rstrip())
        if len(ends) == 2:
            return f"{ends[0]} to {ends[1]}"
        return f"{'at least' if low is not None else 'at most'} {ends[0]}"

    def column(
        self, values: Iterable[float | None], kind: Kind, digits: int = 3
    ) -> tuple[str, list[str]]:
        """One unit for a whole column, and the cells without it, all with the same decimals.

        The unit is empty, and each cell carries its own, when they need different ones.
        """
        found = list(values)
        cells = [self.show(v, kind, digits) for v in found]
        units = {cell.partition(" ")[2] for cell in cells if cell != "-"}
        if len(units) > 1 and "pressure" not in kind:
            return self._in_the_largest(found, kind, digits) or ("", cells)
        if len(units) != 1:
            return "", cells
        numbers = [cell.partition(" ")[0] for cell in cells]
        largest = max((n for n in numbers if n != "-"), key=lambda n: abs(float(n)))
        decimals = len(largest.partition(".")[2]) if "e" not in largest else 0
        return units.pop(), [n if n == "-" else _fixed(float(n), decimals) for n in numbers]

    def _in_the_largest(
        self, values: Sequence[float | None], kind: Kind, digits: int
    ) -> tuple[str, list[str]] | None:
        """A column in the unit of its largest value; None where another would lose its digits."""
        most = max((v for v in values if v is not None), key=abs)
        unit = display_unit(most, kind, self.system)
        numbers = [None if v is None else unit.number(v, self.atmosphere) for v in values]
        largest = max(abs(n) for n in numbers if n is not None)
        decimals = len(_rounded(largest, digits).partition(".")[2])
        least = 10.0 ** (1 - decimals)
        if any(n is not None and _NOTHING * largest < abs(n) < least for n in numbers):
            return None
        shown = ["-" if n is None else _fixed(n, decimals) for n in numbers]
        return _PRINTED.get(unit.name, unit.name), shown

    def plain(self, values: Sequence[float], kind: Kind | None, digits: int = 3) -> str:
        """One number, or several with `to` between them, of at most so many digits and one unit.

        Without a kind they are pure numbers.
        """
        unit = None
        if kind is not None:
            unit = display_unit(values[-1], kind, self.system, atmosphere=self.atmosphere)
            values = [unit.number(value, self.atmosphere) for value in values]
        numbers = " to ".join(f"{float(f'{value:.{digits}g}'):g}" for value in values)
        return numbers if unit is None else f"{numbers} {_PRINTED.get(unit.name, unit.name)}"

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


@cache
def _before_units() -> re.Pattern[str]:
    """The space between a number and a unit."""
    found = {_PRINTED.get(u.name, u.name) for kind in FORMS for u in units_of(kind)} | {"days"}
    names = "|".join(re.escape(name) for name in sorted(found, key=len, reverse=True) if name)
    return re.compile(rf"(?<=\d) (?=(?:{names})(?!\w))")


def unbroken(text: str) -> str:
    """A text in which no line ends between a number and its unit: a no-break space is there."""
    return _before_units().sub("\N{NO-BREAK SPACE}", text)


SI_SCALE: Final = Scale("SI")

"""From a value in SI to what a technician reads: one unit system, one zero of the gauges."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal, Protocol

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.units.kinds import Kind, Unit, units_of

System = Literal["US", "SI"]

# Output units of each kind and system, each with the SI magnitude from which it is used.
_Steps = tuple[tuple[float, str], ...]
_OUT: Final[Mapping[Kind, tuple[_Steps, _Steps]]] = {
    "pressure": (((0.0, "psig"),), ((0.0, "bar(g)"),)),
    "gauge pressure": (((0.0, "psig"),), ((0.0, "bar(g)"),)),
    "absolute pressure": (
        ((0.0, "micron"), (3e3, "psia")),
        ((0.0, "Pa abs"), (3e3, "bar(a)")),
    ),
    "pressure difference": (
        ((0.0, "inH2O"), (2e3, "psi")),
        ((0.0, "Pa"), (2e3, "kPa"), (1e5, "bar")),
    ),
    "temperature": (((0.0, "°F"),), ((0.0, "°C"),)),
    "temperature difference": (((0.0, "°F"),), ((0.0, "K"),)),
    "length": (((0.0, "in"), (3.048, "ft")), ((0.0, "mm"), (1.0, "m"))),
    "bore": (((0.0, "in"),), ((0.0, "mm"),)),
    "roughness": (((0.0, "uin"), (2.54e-5, "mil")), ((0.0, "um"),)),
    "altitude": (((0.0, "ft"),), ((0.0, "m"),)),
    "fin pitch": (((0.0, "fpi"),), ((0.0, "mm"),)),
    "area": (((0.0, "in2"), (0.0929, "ft2")), ((0.0, "cm2"), (0.1, "m2"))),
    "volume": (
        ((0.0, "in3"), (1e-4, "fl oz"), (3.785411784e-3, "gal")),
        ((0.0, "cm3"), (1e-3, "L")),
    ),
    "room volume": (((0.0, "ft3"),), ((0.0, "m3"),)),
    "mass": (((0.0, "oz"), (2.0, "lb")), ((0.0, "g"), (2.0, "kg"))),
    "power": (((0.0, "W"),), ((0.0, "W"),)),
    "cooling capacity": (((0.0, "BTU/h"),), ((0.0, "W"),)),
    "current": (((0.0, "A"),), ((0.0, "A"),)),
    "voltage": (((0.0, "V"),), ((0.0, "V"),)),
    "frequency": (((0.0, "Hz"),), ((0.0, "Hz"),)),
    "volume flow": (((0.0, "cfm"),), ((0.0, "m3/h"),)),
    "mass flow": (((0.0, "lb/h"),), ((0.0, "kg/h"),)),
    "water removal": (((0.0, "pints/day"),), ((0.0, "L/day"),)),
    "leak rate": (((0.0, "oz/yr"),), ((0.0, "g/yr"),)),
    "gas throughput": (((0.0, "std cc/s"),), ((0.0, "mbar L/s"),)),
    "relative humidity": (((0.0, "%RH"),), ((0.0, "%RH"),)),
    "ratio": (((0.0, "%"),), ((0.0, "%"),)),
    "time": (
        ((0.0, "s"), (120.0, "min"), (7200.0, "h"), (172800.0, "day"), (63115200.0, "yr")),
        ((0.0, "s"), (120.0, "min"), (7200.0, "h"), (172800.0, "day"), (63115200.0, "yr")),
    ),
    "capacitance": (((0.0, "uF"),), ((0.0, "uF"),)),
    "resistance": (((0.0, "ohm"),), ((0.0, "ohm"),)),
    "energy": (((0.0, "Wh"), (3.6e6, "kWh")), ((0.0, "Wh"), (3.6e6, "kWh"))),
    "water per energy": (((0.0, "pints/kWh"),), ((0.0, "L/kWh"),)),
    "speed": (((0.0, "ft/min"),), ((0.0, "m/s"),)),
    "rotation": (((0.0, "rpm"),), ((0.0, "rpm"),)),
    "concentration": (((0.0, "lb/1000 ft3"), (1.0, "lb/ft3")), ((0.0, "g/m3"), (1.0, "kg/m3"))),
}

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


def display_unit(
    value: float, kind: Kind, system: System, *, atmosphere: float = STANDARD_ATMOSPHERE
) -> Unit:
    """Unit in which a value of a kind is shown in a unit system."""
    steps = _OUT[kind][0 if system == "US" else 1]
    name = steps[0][1]
    for least, candidate in steps:
        if abs(value) >= least:
            name = candidate
    if name == "psig" and value < atmosphere * (1.0 - 1e-9):
        name = "inHg vacuum"
    if name == "std cc/s":
        name = "atm cm3/s"
    return next(u for u in units_of(kind) if u.name == name)


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


def show_spread(
    sd: float,
    value: float,
    kind: Kind,
    system: System,
    digits: int = 2,
    *,
    atmosphere: float = STANDARD_ATMOSPHERE,
) -> str:
    """Standard uncertainty of a value, in the unit in which the value is shown."""
    if sd == 0.0:
        return ""
    unit = display_unit(value, kind, system, atmosphere=atmosphere)
    if unit.reciprocal:
        number = sd * unit.factor / value**2
    else:
        number = sd / unit.factor
    name = _DIFFERENCE.get(unit.name, unit.name)
    most = 4 if name == "in" else 12
    return f"{_rounded(number, digits, most=most)} {_PRINTED.get(name, name)}"


def show_limits(
    low: float | None,
    high: float | None,
    kind: Kind,
    system: System,
    *,
    atmosphere: float = STANDARD_ATMOSPHERE,
) -> str:
    """What is allowed, in words: ``1.0 g to 2.00 kg``, ``at least 1.0 g``."""
    ends = [
        show(end, kind, system, atmosphere=atmosphere) for end in (low, high) if end is not None
    ]
    if len(ends) == 2:
        return f"{ends[0]} to {ends[1]}"
    return f"{'at least' if low is not None else 'at most'} {ends[0]}"


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

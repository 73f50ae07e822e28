"""Axes and words of a figure in one unit system: from values in SI to what a person reads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sweatline.air.moist import relative_humidity
from sweatline.answers import Quantity, quantities_of
from sweatline.assembly.build import Build
from sweatline.machine.balance import SteadyState
from sweatline.units.kinds import Kind
from sweatline.units.showing import Scale, System, display_unit

FloatArray = NDArray[np.float64]

BTU_PER_POUND: Final = 2326.0  # J/kg, exact for the international table BTU
GRAINS_PER_POUND: Final = 7000.0  # exact by definition
_INCH_OF_MERCURY: Final = 3386.389  # Pa, conventional, mercury at 0 °C

# A value of each kind at which the unit of an axis is chosen.
_TYPICAL: Final[dict[Kind, float]] = {"gauge pressure": 1e6, "pressure": 1e6, "length": 3.0}
# Of a decade, the numbers that get a tick on a logarithmic axis, from many to few.
_LADDERS: Final = ((1, 2, 3, 5, 7), (1, 2, 3, 5), (1, 2, 5), (1, 3), (1,))


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """How an axis counts: number = value/factor - offset."""

    unit: str
    factor: float = 1.0
    offset: float = 0.0

    def __call__(self, value: ArrayLike) -> FloatArray:
        """Numbers on the axis for values in SI."""
        return np.asarray(value, dtype=float) / self.factor - self.offset

    def one(self, value: float) -> float:
        """Number on the axis for one value in SI."""
        return value / self.factor - self.offset

    def si(self, number: ArrayLike) -> FloatArray:
        """Values in SI for numbers on the axis."""
        return (np.asarray(number, dtype=float) + self.offset) * self.factor


class FigureScale(Scale):
    """Unit system and gauge zero of a figure: its axes, ticks and words."""

    __slots__ = ()

    def axis(self, kind: Kind) -> Axis:
        """Axis of a kind of quantity. Pressures are gauge; below zero they count as vacuum."""
        typical = _TYPICAL.get(kind, 0.0)
        unit = display_unit(typical, kind, self.system, atmosphere=self.atmosphere)
        zero = self.atmosphere / unit.factor if unit.reference == "gauge" else 0.0
        return Axis(unit=unit.name, factor=unit.factor, offset=unit.offset + zero)

    def axis_of(self, largest: float, kind: Kind) -> Axis:
        """Axis in the unit in which its largest value is shown."""
        unit = display_unit(largest, kind, self.system, atmosphere=self.atmosphere)
        return Axis(unit=unit.name, factor=unit.factor, offset=unit.offset)

    def enthalpy_axis(self) -> Axis:
        """Specific enthalpy: BTU/lb or kJ/kg."""
        if self.system == "US":
            return Axis(unit="BTU/lb", factor=BTU_PER_POUND)
        return Axis(unit="kJ/kg", factor=1e3)

    def humidity_ratio_axis(self) -> Axis:
        """Water per dry air: grains a pound or grams a kilogram."""
        if self.system == "US":
            return Axis(unit="gr/lb", factor=1.0 / GRAINS_PER_POUND)
        return Axis(unit="g/kg", factor=1e-3)

    def words(self, value: float, kind: Kind, digits: int = 3) -> str:
        """Value with its unit as printed: a true minus sign, no line break before the unit."""
        text = self.show(value, kind, digits)
        return text.replace("-", "\N{MINUS SIGN}", 1).replace(" ", "\N{NO-BREAK SPACE}")

    def room(self, build: Build) -> str:
        """The air that a machine breathes."""
        air = build.machine.air
        pressure = build.job.place.atmospheric_pressure
        humidity = relative_humidity(air.temperature, air.humidity, pressure)
        return self.air(air.temperature, humidity)

    def air(self, temperature: float, humidity: float) -> str:
        """Temperature [K] and relative humidity [0..1] of air."""
        warmth = self.words(temperature, "temperature")
        return f"{warmth}, {self.words(humidity, 'relative humidity', 2)}"

    def machine(self, build: Build) -> str:
        """Refrigerant, compressor and capillary of a machine."""
        parts, length = build.parts, self.words(build.length, "length")
        return f"{parts.refrigerant}, {parts.compressor}, {parts.capillary} ({length})"

    def gauge_zero(self, build: Build) -> str:
        """What a gauge at this altitude calls zero."""
        pressure = self.words(self.atmosphere, "absolute pressure")
        altitude = self.words(build.job.place.altitude, "altitude")
        return f"gauge zero is {pressure} (altitude {altitude})"

    def gauge_ticks(self, low: float, high: float, most: int = 8) -> tuple[list[float], list[str]]:
        """Places [Pa absolute] and words of round gauge readings for a logarithmic axis.

        A gauge is read from its own zero, so the round numbers are those of the gauge; below its
        zero stands what a compound gauge shows there.
        """
        axis = self.axis("gauge pressure")
        numbers = _round_numbers(max(axis.one(low), 0.0), axis.one(high), most)
        marks = [(float(axis.si(n)), f"{n:g}") for n in reversed(numbers)]
        marks.append((self.atmosphere, "0"))
        if self.system == "US":
            marks += [
                (self.atmosphere - v * _INCH_OF_MERCURY, f"{v:g} inHg vac.") for v in (10, 20, 25)
            ]
        else:
            marks += [
                (self.atmosphere - v * 1e5, f"\N{MINUS SIGN}{v:g}") for v in (0.3, 0.5, 0.7, 0.9)
            ]
        # Readings close to zero crowd together on a logarithmic axis of absolute pressure.
        gap = math.log(high / low) / (2.2 * most)
        places: list[float] = []
        words: list[str] = []
        for place, word in marks:
            inside = low <= place <= high
            if inside and (not places or math.log(places[-1] / place) > gap):
                places.append(place)
                words.append(word)
        return places, words


def scale_for(build: Build, system: System) -> FigureScale:
    """Unit system and gauge zero of a machine's figure."""
    return FigureScale(system, build.job.place.atmospheric_pressure)


def quantity(name: str) -> Quantity:
    """Key, label and kind of a quantity of a steady state."""
    return next(q for q in quantities_of(SteadyState) if q.name == name)


def _round_numbers(low: float, high: float, most: int) -> Sequence[float]:
    """Round numbers between two ends, at most `most` unless powers of ten alone are more."""
    found: list[float] = []
    for ladder in _LADDERS:
        found = [s * 10.0**d for d in range(-3, 6) for s in ladder if low <= s * 10.0**d <= high]
        if len(found) <= most:
            break
    return found

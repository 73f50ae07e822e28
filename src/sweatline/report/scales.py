"""Axes in the job's unit system: from values in SI to the numbers a person reads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sweatline.units.kinds import Kind
from sweatline.units.showing import System, display_unit

FloatArray = NDArray[np.float64]

BTU_PER_POUND: Final = 2326.0  # J/kg, exact for the international table BTU
GRAINS_PER_POUND: Final = 7000.0  # exact by definition
_INCH_OF_MERCURY: Final = 3386.389  # Pa, conventional, mercury at 0 °C

# A value of each kind at which the unit of an axis is chosen.
_TYPICAL: Final[dict[Kind, float]] = {"gauge pressure": 1e6, "pressure": 1e6, "length": 3.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
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


def scale(kind: Kind, system: System, *, atmosphere: float = 101325.0) -> Scale:
    """Axis for a kind of quantity. Pressures are gauge; below zero they count as vacuum."""
    unit = display_unit(_TYPICAL.get(kind, 0.0), kind, system, atmosphere=atmosphere)
    zero = atmosphere / unit.factor if unit.reference == "gauge" else 0.0
    return Scale(unit=unit.name, factor=unit.factor, offset=unit.offset + zero)


def enthalpy_scale(system: System) -> Scale:
    """Specific enthalpy: BTU/lb or kJ/kg."""
    if system == "US":
        return Scale(unit="BTU/lb", factor=BTU_PER_POUND)
    return Scale(unit="kJ/kg", factor=1e3)


def humidity_ratio_scale(system: System) -> Scale:
    """Water per dry air: grains a pound or grams a kilogram."""
    if system == "US":
        return Scale(unit="gr/lb", factor=1.0 / GRAINS_PER_POUND)
    return Scale(unit="g/kg", factor=1e-3)


def _round_numbers(low: float, high: float, most: int, ladder: Sequence[float]) -> list[float]:
    """Numbers of a ladder 1, 2, 5 ... between two ends, thinned to at most `most`."""
    decades = range(-3, 6)
    numbers = sorted(s * 10.0**d for d in decades for s in ladder)
    inside = [n for n in numbers if low <= n <= high]
    if len(inside) <= most or len(ladder) == 1:
        return inside
    thinner = {5: (1.0, 2.0, 3.0, 5.0), 4: (1.0, 2.0, 5.0), 3: (1.0, 3.0), 2: (1.0,)}
    return _round_numbers(low, high, most, thinner[len(ladder)])


def gauge_ticks(
    low: float, high: float, system: System, *, atmosphere: float, most: int = 8
) -> tuple[list[float], list[str]]:
    """Places [Pa absolute] and words of round gauge readings for a logarithmic axis.

    A gauge is read from its own zero, so the round numbers are those of the gauge; below its
    zero stands what a compound gauge shows there.
    """
    unit = scale("gauge pressure", system, atmosphere=atmosphere)
    ladder = (1.0, 2.0, 3.0, 5.0, 7.0)
    numbers = _round_numbers(max(unit.one(low), 0.0), unit.one(high), most, ladder)
    # Readings close to zero crowd together on a logarithmic axis of absolute pressure.
    gap = math.log(high / low) / (2.2 * most)
    places: list[float] = []
    words: list[str] = []
    for number in sorted(numbers, reverse=True):
        place = float(unit.si(number))
        if not places or math.log(places[-1] / place) > gap:
            places.append(place)
            words.append(f"{number:g}")
    if low <= atmosphere <= high and (not places or math.log(places[-1] / atmosphere) > gap):
        places.append(atmosphere)
        words.append("0")
    vacuums = (10.0, 20.0, 25.0) if system == "US" else (0.3, 0.5, 0.7, 0.9)
    for vacuum in vacuums:
        step = _INCH_OF_MERCURY if system == "US" else 1e5
        place = atmosphere - vacuum * step
        if low <= place <= high and (not places or math.log(places[-1] / place) > gap):
            places.append(place)
            words.append(f"{vacuum:g} inHg vac." if system == "US" else f"\N{MINUS SIGN}{vacuum:g}")
    return places, words

"""Kinds of quantity and the units a technician writes for each.

A kind is finer than a dimension: a temperature is not a temperature difference, and a gauge
pressure is not an absolute one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal, get_args

from sweatline.constants import ZERO_CELSIUS
from sweatline.units.spellings import (
    ABSOLUTE_BY_CUSTOM,
    JOINED,
    LENGTH,
    PLAIN,
    PRESSURES,
    RECIPROCAL,
    REFERENCES,
    Row,
)

Kind = Literal[
    "pressure",
    "gauge pressure",
    "absolute pressure",
    "pressure difference",
    "temperature",
    "temperature difference",
    "length",
    "bore",
    "roughness",
    "altitude",
    "fin pitch",
    "area",
    "volume",
    "room volume",
    "mass",
    "power",
    "cooling capacity",
    "current",
    "voltage",
    "frequency",
    "volume flow",
    "mass flow",
    "water removal",
    "leak rate",
    "gas throughput",
    "relative humidity",
    "ratio",
    "time",
    "capacitance",
    "resistance",
    "energy",
    "water per energy",
    "speed",
    "rotation",
    "concentration",
]

KINDS: Final[tuple[Kind, ...]] = get_args(Kind)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One unit: how a number written in it becomes a value in SI.

    Parameters
    ----------
    name : str
        Preferred spelling.
    factor : float
        SI value of one unit; of the reciprocal when `reciprocal`.
    offset : float
        Added to the number before the factor (temperatures).
    reciprocal : bool
        The unit counts per SI unit, as fins per inch for a fin pitch.
    reference : str
        Zero of a pressure: ``gauge``, ``absolute``, ``vacuum`` (counted downward), or empty.
    """

    name: str
    factor: float
    offset: float = 0.0
    reciprocal: bool = False
    reference: Literal["", "gauge", "absolute", "vacuum"] = ""

    def si(self, number: float, atmosphere: float) -> float:
        """Value in SI of `number` in this unit; pressures become absolute. [SI]"""
        if self.reciprocal:
            return self.factor / number
        value = (number + self.offset) * self.factor
        if self.reference == "gauge":
            return atmosphere + value
        if self.reference == "vacuum":
            return atmosphere - value
        return value

    def number(self, value: float, atmosphere: float) -> float:
        """Number in this unit for an SI value: the inverse of `si`."""
        if self.reciprocal:
            return self.factor / value
        if self.reference == "gauge":
            value = value - atmosphere
        elif self.reference == "vacuum":
            value = atmosphere - value
        return value / self.factor - self.offset

    def spread(self, sd: float, number: float) -> float:
        """Standard uncertainty in SI of `number` +- `sd` in this unit. [SI]"""
        if self.reciprocal:
            return self.factor * sd / number**2
        return sd * self.factor


EXAMPLES: Final[Mapping[Kind, str]] = {
    "pressure": "27 psig, 1.9 bar(g), 290 kPa abs, 10 inHg vacuum",
    "gauge pressure": "27 psig, 1.9 bar(g), 10 inHg vacuum",
    "absolute pressure": "94 kPa abs, 13.6 psia, 500 micron",
    "pressure difference": "25 Pa, 0.1 inH2O, 3 psi",
    "temperature": "62 °F, 17 °C, 290 K",
    "temperature difference": "8 K, 8 °F",
    "length": "9.52 mm, 0.42 m, 3/8 in, 8 ft",
    "bore": "0.8 mm, 0.042 in",
    "roughness": "0.75 um, 30 microinch",
    "altitude": "640 m, 2100 ft",
    "fin pitch": "14 fpi, 1.8 mm",
    "area": "14 m2, 150 ft2",
    "volume": "4.9 cc, 0.3 L, 0.3 in3, 12 fl oz",
    "room volume": "40 m3, 1400 ft3",
    "mass": "310 g, 11 oz, 1 lb 2 oz",
    "power": "390 W, 1/2 hp",
    "cooling capacity": "390 W, 4000 BTU/h",
    "current": "2.1 A",
    "voltage": "115 V",
    "frequency": "60 Hz",
    "volume flow": "250 m3/h, 150 cfm",
    "mass flow": "9.5 kg/h, 21 lb/h",
    "water removal": "22 pints/day, 12 L/day",
    "leak rate": "5 g/yr, 0.2 oz/yr",
    "gas throughput": "1e-5 mbar L/s, 1e-6 Pa m3/s",
    "relative humidity": "55 %RH",
    "ratio": "0.8, 80 %",
    "time": "90 s, 15 min, 2 h",
    "capacitance": "15 uF, 88 mfd",
    "resistance": "4.7 ohm",
    "energy": "2.4 kWh",
    "water per energy": "1.8 L/kWh, 3.8 pints/kWh, 0.55 kWh/L",
    "speed": "1.2 m/s, 240 ft/min",
    "rotation": "2850 rpm",
    "concentration": "2.4 g/m3, 0.15 lb/1000 ft3, 1.2 kg/m3",
}


def with_article(kind: Kind) -> str:
    """Kind with its article, for a sentence: `an altitude`, `a length`."""
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


# Symbols whose letters in another case mean another unit, a thousand times off or more.
_CASED: Final = ("MPa", "mW", "MW", "mA", "mV", "MJ", "mTorr")

_IGNORED: Final = str.maketrans({"µ": "u", "μ": "u", **dict.fromkeys(" .()[]_·*^", "")})


def squeeze(text: str) -> str:
    """Spelling without what carries no meaning: spaces, dots, brackets, powers, ``per``."""
    words = ("/" if word.casefold() == "per" else word for word in text.split())
    return "".join(words).translate(_IGNORED)


def _rows(rows: tuple[Row, ...], *, reciprocal: bool = False) -> list[tuple[Unit, list[str]]]:
    out = []
    for factor, spelled in rows:
        names = spelled.split("|")
        out.append((Unit(name=names[0], factor=factor, reciprocal=reciprocal), names))
    return out


def _pressures(*references: Literal["gauge", "absolute", "vacuum"]) -> list[tuple[Unit, list[str]]]:
    out = []
    for reference in references:
        ends = REFERENCES[reference]
        for factor, spelled in PRESSURES:
            stems = spelled.split("|")
            first = stems[0]
            if reference == "vacuum":
                name = f"{first} vacuum"
            elif reference == "gauge":
                name = JOINED.get((first, reference), f"{first}(g)")
            else:
                shown = f"{first}(a)" if first == "bar" else f"{first} abs"
                name = JOINED.get((first, reference), shown)
            unit = Unit(name=name, factor=factor, reference=reference)
            out.append((unit, [stem + end for end in ends for stem in stems]))
    if "absolute" in references:
        for factor, spelled in ABSOLUTE_BY_CUSTOM:
            stems = spelled.split("|")
            unit = Unit(name=stems[0], factor=factor, reference="absolute")
            out.append((unit, stems + [s + end for s in stems for end in REFERENCES["absolute"]]))
    return out


def _temperatures() -> list[tuple[Unit, list[str]]]:
    celsius = "°C|C|degC|deg C|celsius|degree celsius|degrees celsius|degrees C|C°"
    fahrenheit = "°F|F|degF|deg F|fahrenheit|degree fahrenheit|degrees fahrenheit|degrees F|F°"
    return [
        (Unit(name="°C", factor=1.0, offset=ZERO_CELSIUS), celsius.split("|")),
        (Unit(name="°F", factor=5.0 / 9.0, offset=459.67), fahrenheit.split("|")),
        (Unit(name="K", factor=1.0), ["K", "kelvin", "kelvins", "degK", "°K"]),
        (Unit(name="°R", factor=5.0 / 9.0), ["°R", "degR", "rankine"]),
    ]


@cache
def _table(kind: Kind) -> tuple[tuple[Unit, tuple[str, ...]], ...]:
    if kind == "pressure":
        rows = _pressures("gauge", "absolute", "vacuum")
    elif kind == "gauge pressure":
        rows = _pressures("gauge", "vacuum")
    elif kind == "absolute pressure":
        rows = _pressures("absolute")
    elif kind == "temperature":
        rows = _temperatures()
    elif kind == "fin pitch":
        rows = _rows(RECIPROCAL[kind], reciprocal=True) + _rows(LENGTH)
    else:
        rows = _rows(PLAIN[kind])
        if kind in RECIPROCAL:
            rows += _rows(RECIPROCAL[kind], reciprocal=True)
    if kind == "volume":
        rows = [(u, [*names, *(n + "/rev" for n in names)]) for u, names in rows]
    return tuple((unit, tuple(names)) for unit, names in rows)


def units_of(kind: Kind) -> tuple[Unit, ...]:
    """Units accepted for a kind, the usual ones first."""
    return tuple(unit for unit, _ in _table(kind))


@cache
def spellings(kind: Kind) -> Mapping[str, Unit]:
    """Every squeezed spelling accepted for a kind, exact case first, then any case."""
    exact: dict[str, Unit] = {}
    loose: dict[str, Unit] = {}
    for unit, names in _table(kind):
        for name in names:
            key = squeeze(name)
            exact.setdefault(key, unit)
            if not name.startswith(_CASED):
                loose.setdefault(key.casefold(), unit)
    return {**loose, **exact}


@cache
def bare_pressures() -> Mapping[str, str]:
    """Squeezed pressure spellings that say neither gauge nor absolute, and what to write."""
    out = {}
    for _, spelled in PRESSURES:
        stems = spelled.split("|")
        first = stems[0]
        if first == "psi":
            advice = "write psig or psia"
        elif first in {"inHg", "mmHg", "cmHg"}:
            advice = f"write {first} vacuum, {first}(g) or {first} abs"
        elif first == "bar":
            advice = "write bar(g) or bar(a)"
        else:
            advice = f"write {first}(g) or {first} abs"
        for stem in stems:
            out[squeeze(stem).casefold()] = advice
    return out

"""Kinds of quantity, and the units a technician writes for each with their factors to SI.

A kind is finer than a dimension: a temperature is not a temperature difference, and a gauge
pressure is not an absolute one. Each factor is exact by definition (inch, pound, standard gravity,
international table calorie) or follows from exact ones by arithmetic. The density of water, which
turns a measured volume of condensate into a mass, is the one measured number among them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal, get_args

from sweatline.constants import GRAVITY, HORSEPOWER, STANDARD_ATMOSPHERE, ZERO_CELSIUS

INCH: Final = 0.0254  # m, exact
POUND: Final = 0.45359237  # kg, exact
OUNCE: Final = POUND / 16.0
PSI: Final = POUND * GRAVITY / INCH**2
MM_MERCURY: Final = 13.5951 * GRAVITY  # Pa, conventional millimetre of mercury
MICRON: Final = 1e-3 * MM_MERCURY
MM_WATER: Final = GRAVITY  # Pa, conventional millimetre of water, 1000 kg/m3
BTU: Final = 1055.05585262  # J, international table, exact
CALORIE: Final = 4.1868  # J, international table, exact
US_GALLON: Final = 231.0 * INCH**3
US_PINT: Final = US_GALLON / 8.0
FOOT: Final = 12.0 * INCH
HOUR: Final = 3600.0
DAY: Final = 86400.0
YEAR: Final = 365.25 * DAY
WATER_DENSITY: Final = 998.2  # kg/m3 at 20 degrees Celsius, turns a measured volume into a mass


# One row a unit: factor, then every accepted spelling, the preferred one first. Case, spaces,
# dots and brackets do not matter when a spelling is looked up (see `squeeze`).
Row = tuple[float, str]

LENGTH: Final[tuple[Row, ...]] = (
    (1.0, "m|meter|metre|meters|metres"),
    (1e-3, "mm|millimeter|millimetre|millimeters|millimetres"),
    (1e-2, "cm|centimeter|centimetre|centimeters|centimetres"),
    (1e-6, "um|micron|microns|micrometer|micrometre|micrometers|micrometres"),
    (INCH, "in|inch|inches"),
    (INCH * 1e-3, "mil|mils|thou"),
    (INCH * 1e-6, "uin|microinch|microinches|micro-inch|micro-inches"),
    (FOOT, "ft|foot|feet"),
    (3.0 * FOOT, "yd|yard|yards"),
)

_VOLUME: Final[tuple[Row, ...]] = (
    (1e-6, "cm3|cc|ccm|ml|milliliter|millilitre|cubic centimeter|cubic centimetre|ccs"),
    (1e-3, "L|liter|litre|liters|litres|dm3"),
    (1.0, "m3|cubic meter|cubic metre|cubic meters|cubic metres|cbm"),
    (1e-9, "mm3"),
    (INCH**3, "in3|cu in|cubic inch|cubic inches|cuin"),
    (FOOT**3, "ft3|cu ft|cubic foot|cubic feet|cuft"),
    (US_PINT, "pint|pints|pt|pts|us pint|us pints"),
    (US_GALLON, "gal|gallon|gallons|us gallon|us gallons"),
    (US_GALLON / 16.0, "cup|cups|us cup|us cups"),
    (US_GALLON / 128.0, "fl oz|fluid ounce|fluid ounces|us fl oz"),
)

_MASS: Final[tuple[Row, ...]] = (
    (1e-3, "g|gram|grams|gramme|grammes|gm|gms"),
    (1.0, "kg|kilogram|kilograms|kilo|kilos"),
    (1e-6, "mg|milligram|milligrams"),
    (OUNCE, "oz|ounce|ounces"),
    (POUND, "lb|lbs|pound|pounds|lbm"),
)

_POWER: Final[tuple[Row, ...]] = (
    (1.0, "W|watt|watts"),
    (1e3, "kW|kilowatt|kilowatts"),
    (1e-3, "mW|milliwatt|milliwatts"),
    (BTU / HOUR, "BTU/h|BTUh|BTU/hr|Btu/hour"),
    (1e3 * CALORIE / HOUR, "kcal/h|kcal/hr|kcalh"),
    (12000.0 * BTU / HOUR, "ton|tons|TR|ton refrigeration|tons of refrigeration"),
)

# Horsepower is what a motor gives at its shaft, never what it takes from the mains.
_MOTOR_SIZE: Final[tuple[Row, ...]] = (
    (HORSEPOWER, "hp|horsepower"),
    (75.0 * GRAVITY, "PS|metric hp|metric horsepower"),
    *_POWER[:2],
)

_VOLUME_FLOW: Final[tuple[Row, ...]] = (
    (1.0 / HOUR, "m3/h|m3/hr|cmh|m3h|cbm/h"),
    (1.0, "m3/s"),
    (1.0 / 60.0, "m3/min|cmm"),
    (1e-3, "L/s"),
    (1e-3 / 60.0, "L/min|lpm"),
    (1e-3 / HOUR, "L/h"),
    (FOOT**3 / 60.0, "cfm|ft3/min|cu ft/min|cuft/min|cubic feet/minute|scfm"),
)

_MASS_FLOW: Final[tuple[Row, ...]] = (
    (1.0 / HOUR, "kg/h|kg/hr"),
    (1.0, "kg/s"),
    (1e-3, "g/s"),
    (1e-3 / 60.0, "g/min"),
    (1e-3 / HOUR, "g/h|g/hr"),
    (POUND / HOUR, "lb/h|lb/hr|lbs/h|lbs/hr|pph"),
    (POUND / 60.0, "lb/min|lbs/min"),
)

_WATER: Final[tuple[Row, ...]] = (
    (WATER_DENSITY * 1e-3 / DAY, "L/day|L/d|L/24h|liter/day|litre/day|liters/day|litres/day"),
    (WATER_DENSITY * US_PINT / DAY, "pints/day|pint/day|pt/day|pts/day|pints/24h|pint/24h|ppd"),
    (WATER_DENSITY * US_PINT / HOUR, "pints/h|pint/h|pints/hr|pints/hour"),
    (WATER_DENSITY * US_GALLON / DAY, "gal/day|gallon/day|gallons/day"),
    (WATER_DENSITY * 1e-3 / HOUR, "L/h|L/hr|L/hour"),
    (WATER_DENSITY * 1e-6 / HOUR, "mL/h|mL/hr|cc/h|cm3/h|mL/hour"),
    (WATER_DENSITY * 1e-6 / 60.0, "mL/min|cc/min|cm3/min"),
    (1.0 / DAY, "kg/day|kg/d|kg/24h"),
    *_MASS_FLOW,
)

PLAIN: Final[Mapping[str, tuple[Row, ...]]] = {
    "pressure difference": (
        (1.0, "Pa|pascal|pascals"),
        (1e3, "kPa"),
        (1e2, "mbar|hPa|millibar"),
        (1e5, "bar"),
        (1e6, "MPa"),
        (PSI, "psi|psid|lb/in2|lbf/in2"),
        (25.4 * MM_WATER, "inH2O|in wc|in wg|inwater|in w.g.|in w.c.|iwc"),
        (MM_WATER, "mmH2O|mm wc|mm wg"),
        (25.4 * MM_MERCURY, "inHg"),
        (MM_MERCURY, "mmHg|torr"),
        (MICRON, "micron|microns|umHg"),
    ),
    "temperature difference": (
        (1.0, "K|kelvin|kelvins|degK|°K|delta K|ΔK"),
        (1.0, "°C|C|degC|C°|deg C|delta C|celsius|degree celsius|degrees celsius"),
        (5.0 / 9.0, "°F|F|degF|F°|deg F|delta F|fahrenheit|degree fahrenheit|degrees fahrenheit"),
        (5.0 / 9.0, "°R|degR|rankine"),
    ),
    "length": LENGTH,
    "bore": LENGTH,
    "roughness": LENGTH,
    "altitude": (LENGTH[0], *(row for row in LENGTH if row[1].startswith("ft")), (1e3, "km")),
    "area": (
        (1.0, "m2|sq m|square meter|square metre|square meters|square metres|sqm"),
        (1e-4, "cm2|sq cm"),
        (1e-6, "mm2|sq mm"),
        (FOOT**2, "ft2|sq ft|square foot|square feet|sqft"),
        (INCH**2, "in2|sq in|square inch|square inches|sqin"),
    ),
    "volume": _VOLUME,
    "room volume": _VOLUME,
    "mass": _MASS,
    "power": _POWER,
    "motor size": _MOTOR_SIZE,
    "cooling capacity": _POWER,
    "current": ((1.0, "A|amp|amps|ampere|amperes"), (1e-3, "mA|milliamp|milliamps")),
    "voltage": (
        (1.0, "V|volt|volts|VAC|V AC|V~"),
        (1e-3, "mV"),
        (1e3, "kV"),
    ),
    "frequency": ((1.0, "Hz|hertz|cps|cycles|/s|1/s"), (1e3, "kHz")),
    "volume flow": _VOLUME_FLOW,
    "mass flow": _MASS_FLOW,
    "water removal": _WATER,
    "leak rate": (
        (1e-3 / YEAR, "g/yr|g/year|g/a|gram/year|grams/year"),
        (OUNCE / YEAR, "oz/yr|oz/year|ounces/year"),
        (POUND / YEAR, "lb/yr|lb/year|lbs/yr"),
        (1.0 / YEAR, "kg/yr|kg/year|kg/a"),
        *_MASS_FLOW,
    ),
    "gas throughput": (
        (1.0, "Pa m3/s|Pam3/s"),
        (0.1, "mbar L/s|mbarl/s"),
        (STANDARD_ATMOSPHERE * 1e-6, "atm cm3/s|atm cc/s|std cc/s|std cm3/s|sccs"),
        (MM_MERCURY * 1e-3, "torr L/s|mmHg L/s"),
    ),
    "air change": ((1.0 / HOUR, "/h|1/h|an hour|per hour|ach|/hour"), (1.0 / DAY, "/day|a day")),
    "latitude": ((1.0, "°N|N|deg N|north"), (-1.0, "°S|S|deg S|south")),
    "relative humidity": ((1e-2, "%RH|%|percent|RH%|RH|%rF|% r.H.|percent RH|%humidity"),),
    "ratio": ((1e-2, "%|percent"), (1.0, "|times|x")),
    "time": (
        (1.0, "s|sec|secs|second|seconds"),
        (60.0, "min|mins|minute|minutes"),
        (HOUR, "h|hr|hrs|hour|hours"),
        (DAY, "day|days|d"),
        (7.0 * DAY, "week|weeks|wk|wks"),
        (YEAR / 12.0, "month|months|mo"),
        (YEAR, "yr|year|years|a"),
    ),
    "capacitance": (
        (1e-6, "uF|mfd|uFd|microfarad|microfarads"),
        (1e-9, "nF|nanofarad"),
        (1e-12, "pF|picofarad"),
        (1.0, "F|farad|farads"),
    ),
    "resistance": (
        (1.0, "ohm|ohms|Ω"),
        (1e3, "kohm|kΩ|kilohm|kilohms"),
    ),
    "energy": (
        (3.6e6, "kWh|kW h"),
        (3600.0, "Wh|W h"),
        (1.0, "J|joule|joules"),
        (1e3, "kJ"),
        (1e6, "MJ"),
        (BTU, "BTU|BTUs"),
    ),
    "speed": (
        (1.0, "m/s"),
        (FOOT / 60.0, "ft/min|fpm|feet/minute"),
        (1.0 / 3.6, "km/h|kph"),
        (1609.344 / HOUR, "mph"),
    ),
    "rotation": ((1.0 / 60.0, "rpm|rev/min|/min|1/min|r/min"), (1.0, "rev/s|1/s|rps")),
    "concentration": (
        (1e-3, "g/m3"),
        (1.0, "kg/m3"),
        (POUND / FOOT**3, "lb/ft3"),
        (1e-3 * POUND / FOOT**3, "lb/1000 ft3"),
    ),
    "mass flux": ((1.0, "kg/(m2*s)"), (POUND / FOOT**2, "lb/(s*ft2)")),
    "heat flux": (
        (1e3, "kW/m2"),
        (1.0, "W/m2"),
        (BTU / HOUR / FOOT**2, "BTU/(h*ft2)"),
    ),
    "water per energy": (
        (WATER_DENSITY * 1e-3 / 3.6e6, "L/kWh|liter/kWh|litre/kWh|liters/kWh|litres/kWh"),
        (WATER_DENSITY * US_PINT / 3.6e6, "pints/kWh|pint/kWh|pt/kWh"),
        (1.0 / 3.6e6, "kg/kWh"),
        (1.0, "kg/J"),
    ),
}

# Units that count per SI unit, written after the plain ones of their kind.
RECIPROCAL: Final[Mapping[str, tuple[Row, ...]]] = {
    "fin pitch": (
        (INCH, "fpi|fins/in|fins/inch|fin/in"),
        (1e-2, "fins/cm|fpcm"),
        (0.1, "fins/10cm|fins/dm"),
        (1.0, "fins/m"),
    ),
    "water per energy": (
        (WATER_DENSITY * 1e-3 / 3.6e6, "kWh/L|kWh/liter|kWh/litre"),
        (WATER_DENSITY * US_PINT / 3.6e6, "kWh/pint|kWh/pt"),
        (1.0 / 3.6e6, "kWh/kg"),
    ),
}

PRESSURES: Final[tuple[Row, ...]] = (
    (PSI, "psi|lb/in2|lbf/in2|lbs/in2"),
    (1e5, "bar|bars"),
    (1e3, "kPa"),
    (1e6, "MPa"),
    (1.0, "Pa"),
    (1e2, "hPa"),
    (1e2, "mbar|millibar"),
    (25.4 * MM_MERCURY, "inHg|inches Hg|inch Hg|inches of mercury|in of mercury|in mercury"),
    (MM_MERCURY, "mmHg|mm of mercury"),
    (1e2 * MM_MERCURY / 10.0, "cmHg"),
    (STANDARD_ATMOSPHERE, "atm"),
    (GRAVITY * 1e4, "kgf/cm2|kg/cm2|kp/cm2|at"),
)

# Vacuum gauges in these read absolute by custom, so no word is needed.
ABSOLUTE_BY_CUSTOM: Final[tuple[Row, ...]] = (
    (MICRON, "micron|microns|umHg|um Hg|micron Hg|microns Hg|microns of mercury"),
    (STANDARD_ATMOSPHERE / 760.0, "torr"),
    (STANDARD_ATMOSPHERE / 760e3, "mTorr|millitorr"),
)

REFERENCES: Final[Mapping[Literal["gauge", "absolute", "vacuum"], tuple[str, ...]]] = {
    "gauge": ("g", "ga", "gauge", "gage", "(g)"),
    "absolute": ("a", "abs", "absolute", "(a)"),
    "vacuum": ("vacuum", "vac"),
}

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
    "motor size",
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
    "mass flux",
    "heat flux",
    "air change",
    "latitude",
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


@dataclass(frozen=True, slots=True)
class Form:
    """How a kind of quantity is written.

    Parameters
    ----------
    si : str
        SI unit, as it ends a JSON key.
    examples : str
        What a person may write, divided by commas.
    us, metric : str
        Units in which it is shown in each system, divided by bars; each but the first after the
        SI magnitude from which on it is used. The same in both when `metric` is empty.
    """

    si: str
    examples: str
    us: str
    metric: str = ""


FORMS: Final[Mapping[Kind, Form]] = {
    "pressure": Form("Pa", "27 psig, 1.9 bar(g), 290 kPa abs, 10 inHg vacuum", "psig", "bar(g)"),
    "gauge pressure": Form("Pa", "27 psig, 1.9 bar(g), 10 inHg vacuum", "psig", "bar(g)"),
    "absolute pressure": Form(
        "Pa", "94 kPa abs, 13.6 psia, 500 micron", "micron|3e3 psia", "Pa abs|3e3 bar(a)"
    ),
    "pressure difference": Form(
        "Pa", "25 Pa, 0.1 inH2O, 3 psi", "inH2O|2e3 psi", "Pa|2e3 kPa|1e5 bar"
    ),
    "temperature": Form("K", "62 °F, 17 °C, 290 K", "°F", "°C"),
    "temperature difference": Form("K", "8 K, 8 °F", "°F", "K"),
    "length": Form("m", "9.52 mm, 0.42 m, 3/8 in, 14 in, 8 ft", "in|3.04 ft", "mm|1 m"),
    "bore": Form("m", "0.8 mm, 0.042 in", "in", "mm"),
    "roughness": Form("m", "0.75 um, 30 microinch", "uin|2.54e-5 mil", "um"),
    "altitude": Form("m", "640 m, 2100 ft", "ft", "m"),
    "fin pitch": Form("m", "14 fpi, 1.8 mm", "fpi", "mm"),
    "area": Form("m2", "14 m2, 150 ft2", "in2|0.0929 ft2", "cm2|0.1 m2"),
    "volume": Form(
        "m3", "4.9 cc, 0.3 L, 0.3 in3, 12 fl oz", "in3|1e-4 fl oz|3.785411784e-3 gal", "cm3|1e-3 L"
    ),
    "room volume": Form("m3", "40 m3, 1400 ft3", "ft3", "m3"),
    "mass": Form("kg", "310 g, 11 oz, 1 lb 2 oz", "oz|2 lb", "g|2 kg"),
    "power": Form("W", "390 W, 0.39 kW", "W"),
    "motor size": Form("W", "1/2 hp, 370 W", "hp", "W"),
    "cooling capacity": Form("W", "390 W, 4000 BTU/h", "BTU/h", "W"),
    "current": Form("A", "2.1 A", "A"),
    "voltage": Form("V", "115 V", "V"),
    "frequency": Form("Hz", "60 Hz", "Hz"),
    "volume flow": Form("m3_per_s", "250 m3/h, 34 L/min, 150 cfm, 1.2 cfm", "cfm", "m3/h"),
    "mass flow": Form("kg_per_s", "9.5 kg/h, 21 lb/h", "lb/h", "kg/h"),
    "water removal": Form("kg_per_s", "22 pints/day, 12 L/day", "pints/day", "L/day"),
    "leak rate": Form("kg_per_s", "5 g/yr, 0.2 oz/yr", "oz/yr", "g/yr"),
    "gas throughput": Form("Pa_m3_per_s", "1e-5 mbar L/s, 1e-6 Pa m3/s", "atm cm3/s", "mbar L/s"),
    "relative humidity": Form("", "55 %RH", "%RH"),
    "ratio": Form("", "0.8, 80 %", "%"),
    "time": Form("s", "90 s, 15 min, 2 h", "s|120 min|7200 h|172800 day|63115200 yr"),
    "capacitance": Form("F", "15 uF, 88 mfd", "uF"),
    "resistance": Form("ohm", "4.7 ohm", "ohm"),
    "energy": Form("J", "2.4 kWh", "Wh|3.6e6 kWh"),
    "water per energy": Form(
        "kg_per_J", "1.8 L/kWh, 3.8 pints/kWh, 0.55 kWh/L", "pints/kWh", "L/kWh"
    ),
    "speed": Form("m_per_s", "1.2 m/s, 240 ft/min", "ft/min", "m/s"),
    "rotation": Form("per_s", "2850 rpm", "rpm"),
    "concentration": Form(
        "kg_per_m3", "2.4 g/m3, 0.15 lb/1000 ft3, 1.2 kg/m3", "lb/1000 ft3|1 lb/ft3", "g/m3|1 kg/m3"
    ),
    "mass flux": Form("kg_per_s_m2", "41 kg/(m2*s), 8.4 lb/(s*ft2)", "lb/(s*ft2)", "kg/(m2*s)"),
    "heat flux": Form("W_per_m2", "2 kW/m2, 630 BTU/(h*ft2)", "BTU/(h*ft2)", "kW/m2"),
    "air change": Form("per_s", "0.3 /h", "/h"),
    "latitude": Form("deg", "47 °N, 34 °S", "°N"),
}

EXAMPLES: Final[Mapping[Kind, str]] = {kind: form.examples for kind, form in FORMS.items()}


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


Reference = Literal["gauge", "absolute", "vacuum"]


def _pressure_name(unit: str, reference: Reference) -> str:
    """A unit of pressure with its zero, as the trade prints it."""
    if reference == "vacuum":
        return f"{unit} vacuum"
    if unit == "psi":
        return f"{unit}{reference[0]}"
    return f"{unit} abs" if reference == "absolute" and unit != "bar" else f"{unit}({reference[0]})"


def _pressures(*references: Reference) -> list[tuple[Unit, list[str]]]:
    out = []
    for reference in references:
        ends = REFERENCES[reference]
        for factor, spelled in PRESSURES:
            stems = spelled.split("|")
            name = _pressure_name(stems[0], reference)
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
        zeros: tuple[Reference, ...] = ("vacuum", "gauge", "absolute")
        vacuum, gauge, absolute = (_pressure_name(stems[0], zero) for zero in zeros)
        custom = f"{vacuum}, " if stems[0].endswith("Hg") else ""
        advice = f"write {custom}{gauge} or {absolute}"
        for stem in stems:
            out[squeeze(stem).casefold()] = advice
    return out

"""Every conversion factor a second way: the pint library, and the constants of scipy.

Tolerance 1e-12 relative: both sides are exact definitions, only rounding of doubles differs.
"""

import math

import pint
import pytest
from scipy import constants

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.units import KINDS, WATER_DENSITY, Kind, parse
from sweatline.units.kinds import Unit, units_of

REGISTRY = pint.UnitRegistry()
WATER = WATER_DENSITY * REGISTRY("kg/m^3")

# Name of each unit here, its expression in pint. Conventional mercury and water are pint's own.
EXPRESSIONS = {
    "g/m3": "g/m^3", "kg/m3": "kg/m^3", "lb/ft3": "pound/foot^3",
    "lb/1000 ft3": "pound/(1000*foot^3)",
    "kg/(m2*s)": "kg/(m^2*s)", "lb/(s*ft2)": "pound/(s*foot^2)", "kW/m2": "kW/m^2",
    "W/m2": "W/m^2", "BTU/(h*ft2)": "Btu_it/(hour*foot^2)",
    "m": "m", "mm": "mm", "cm": "cm", "um": "um", "in": "inch", "mil": "thou", "ft": "foot",
    "uin": "microinch", "yd": "yard", "km": "km",
    "m2": "m^2", "cm2": "cm^2", "mm2": "mm^2", "ft2": "foot^2", "in2": "inch^2",
    "cm3": "cm^3", "L": "liter", "m3": "m^3", "mm3": "mm^3", "in3": "inch^3", "ft3": "foot^3",
    "pint": "pint", "gal": "gallon", "fl oz": "fluid_ounce", "g": "gram", "kg": "kg", "mg": "mg",
    "oz": "ounce", "lb": "pound", "W": "watt", "kW": "kW", "mW": "mW", "BTU/h": "Btu_it/hour",
    "hp": "foot * 550 * force_pound / second", "PS": "75 * kgf * m / s",
    "kcal/h": "kilointernational_calorie/hour", "ton": "12000 * Btu_it/hour",
    "A": "ampere", "mA": "mA", "V": "volt", "mV": "mV", "kV": "kV", "Hz": "1/s", "kHz": "1000/s",
    "m3/h": "m^3/hour", "m3/s": "m^3/s", "m3/min": "m^3/min", "L/s": "liter/s",
    "L/min": "liter/min", "L/h": "liter/hour", "cfm": "foot^3/minute", "kg/h": "kg/hour",
    "kg/s": "kg/s", "g/s": "g/s", "g/min": "g/min", "g/h": "g/hour", "lb/h": "pound/hour",
    "lb/min": "pound/min", "g/yr": "g/year", "oz/yr": "ounce/year", "lb/yr": "pound/year",
    "kg/yr": "kg/year", "kg/day": "kg/day", "K": "kelvin", "°C": "kelvin", "°F": "delta_degF",
    "°R": "degR", "s": "s", "min": "min", "h": "hour", "day": "day", "yr": "year",
    "week": "week", "month": "month",
    "uF": "uF", "nF": "nF", "pF": "pF", "F": "farad", "ohm": "ohm", "kohm": "kohm",
    "kWh": "kWh", "Wh": "Wh", "J": "J", "kJ": "kJ", "MJ": "MJ", "BTU": "Btu_it",
    "m/s": "m/s", "ft/min": "foot/min", "km/h": "km/hour", "mph": "mile/hour",
    "rpm": "1/min", "rev/s": "1/s", "kg/kWh": "kg/kWh", "kg/J": "kg/J",
    "Pa": "Pa", "kPa": "kPa", "mbar": "mbar", "bar": "bar", "MPa": "MPa", "hPa": "hPa",
    "psi": "psi", "inH2O": "2.54 * cmH2O", "mmH2O": "0.1 * cmH2O",
    "inHg": "inch_Hg", "mmHg": "mmHg", "cmHg": "10 * mmHg", "atm": "atm", "torr": "torr",
    "mTorr": "torr / 1000", "kgf/cm2": "kgf/cm^2", "Pa m3/s": "Pa m^3/s",
    "mbar L/s": "mbar liter/s", "atm cm3/s": "atm cm^3/s", "torr L/s": "mmHg liter/s",
    "cup": "cup", "/h": "1/hour", "/day": "1/day", "°N": "1", "°S": "-1",
    "%RH": "1/100", "%": "1/100", "": "1",
}  # fmt: skip

VOLUMES_OF_WATER = {
    "L/day": "liter/day", "pints/day": "pint/day", "pints/h": "pint/hour", "gal/day": "gallon/day",
    "L/h": "liter/hour", "mL/h": "mL/hour", "mL/min": "mL/minute", "L/kWh": "liter/kWh",
    "pints/kWh": "pint/kWh",
}  # fmt: skip

COUNTS = {
    "fpi": "1/inch", "fins/cm": "1/cm", "fins/10cm": "1/dm", "fins/m": "1/m",
    "kWh/kg": "kWh/kg",
}  # fmt: skip

COUNTS_OF_WATER = {"kWh/L": "kWh/liter", "kWh/pint": "kWh/pint"}

ENDINGS = ("(g)", "(a)", " abs", " vacuum")


def stem(name: str) -> str:
    for ending in ENDINGS:
        name = name.removesuffix(ending)
    return {"psig": "psi", "psia": "psi"}.get(name, name)


def expected(unit: Unit, kind: Kind) -> float:
    """SI factor of a unit according to pint."""
    name = stem(unit.name)
    if kind in {"water removal", "water per energy"} and name in VOLUMES_OF_WATER:
        return (REGISTRY(VOLUMES_OF_WATER[name]) * WATER).to_base_units().magnitude
    if unit.reciprocal:
        if name in COUNTS_OF_WATER:
            return (WATER / REGISTRY(COUNTS_OF_WATER[name])).to_base_units().magnitude
        return (1 / REGISTRY(COUNTS[name])).to_base_units().magnitude
    if name == "micron":
        return REGISTRY("mmHg").to("Pa").magnitude / 1000
    quantity = REGISTRY.parse_expression(EXPRESSIONS[name])
    if not isinstance(quantity, pint.Quantity):
        return float(quantity)
    return quantity.to_base_units().magnitude


@pytest.mark.parametrize("kind", KINDS)
def test_every_factor_agrees_with_pint(kind: Kind) -> None:
    for unit in units_of(kind):
        assert math.isclose(unit.factor, expected(unit, kind), rel_tol=1e-12), unit.name


@pytest.mark.parametrize("number", [-40.0, 0.0, 32.0, 62.0, 212.0])
@pytest.mark.parametrize(("name", "other"), [("°F", "degF"), ("°C", "degC")])
def test_temperatures_agree_with_pint_at_every_zero(number: float, name: str, other: str) -> None:
    value = REGISTRY.Quantity(number, other).to("kelvin").magnitude
    assert math.isclose(parse(f"{number} {name}", "temperature").value, value, rel_tol=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("1 in", "length", constants.inch),
        ("1 ft", "length", constants.foot),
        ("1 mil", "length", constants.mil),
        ("1 oz", "mass", constants.oz),
        ("1 lb", "mass", constants.lb),
        ("1 hp", "motor size", constants.hp),
        ("1 BTU/h", "power", constants.Btu / constants.hour),
        ("1 BTU", "energy", constants.Btu),
        ("1 psi", "pressure difference", constants.psi),
        ("1 bar", "pressure difference", constants.bar),
        ("1 atm abs", "pressure", constants.atm),
        ("1 torr", "absolute pressure", constants.torr),
        ("1 gal", "volume", constants.gallon),
        ("1 fl oz", "volume", constants.fluid_ounce),
        ("1 kgf/cm2 abs", "pressure", constants.kgf / constants.centi**2),
        ("1 mph", "speed", constants.mph),
        ("1 °F", "temperature difference", constants.degree_Fahrenheit),
        ("1 yr", "time", constants.Julian_year),
    ],
)
def test_factors_agree_with_scipy(text: str, kind: Kind, value: float) -> None:
    assert math.isclose(parse(text, kind).value, value, rel_tol=1e-12)


def test_standard_atmosphere_agrees_with_scipy() -> None:
    assert constants.atm == STANDARD_ATMOSPHERE

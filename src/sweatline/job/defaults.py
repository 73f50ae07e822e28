"""What is assumed for everything nobody measured: a value, a wide uncertainty and the reason.

Figures without a named source are common practice in small sealed machines; their uncertainty is
meant to cover what is met in the trade.
"""

from __future__ import annotations

from typing import Final

from sweatline.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from sweatline.job.model import Original
from sweatline.job.names import design_pressures
from sweatline.uncertainty.measured import Measured, default, inferred
from sweatline.units import WATER_DENSITY

__all__ = [
    "accumulator_volume",
    "airflow",
    "atmospheric_pressure",
    "discharge_temperature",
    "drier_volume",
    "exchanger_length",
    "fan_power",
    "fin_thickness",
    "fouling",
    "high_side_pressure",
    "line_bore",
    "line_length",
    "low_side_pressure",
    "oil_volume",
    "rating_condition",
    "roughness",
    "shell_volume",
    "tube_wall",
]

_PINT_PER_DAY: Final = WATER_DENSITY * 231.0 * 0.0254**3 / 8.0 / 86400.0  # kg/s
_CFM: Final = 0.3048**3 / 60.0  # m3/s

# Water removal against room, mean curve of six tested machines relative to 26.7 degrees Celsius
# and 60 %RH: Winkler, Christensen and Tomerlin 2011, T in degrees Celsius, R in percent.
_WATER_CURVE: Final = (
    -1.162525707,
    0.02271469,
    -0.000113208,
    0.021110538,
    -0.0000693034,
    0.000378843,
)


def atmospheric_pressure(altitude: float) -> float:
    """Pressure of the standard atmosphere at an altitude in metres. [Pa]

    ASHRAE Handbook Fundamentals, chapter on psychrometrics, eq. (3): -5000 to 11000 m.
    """
    return float(STANDARD_ATMOSPHERE * (1.0 - 2.25577e-5 * altitude) ** 5.2559)


def water_curve(temperature: float, relative_humidity: float) -> float:
    """Water removal relative to 26.7 degrees Celsius and 60 %RH."""

    def curve(t: float, r: float) -> float:
        a, b, c, d, e, f = _WATER_CURVE
        return a + b * t + c * t * t + d * r + e * r * r + f * t * r

    t = temperature - ZERO_CELSIUS
    return curve(t, 100.0 * relative_humidity) / curve(26.67, 60.0)


def rating_condition(unit_system: str) -> tuple[Measured, Measured]:
    """Room in which a plate without a stated condition was probably rated. [K], [0..1]"""
    if unit_system == "US":
        note = "plates in US units were rated at 80 °F and 60 %RH for decades"
        return default(299.817, 3.0, note), default(0.60, 0.05, note)
    note = "plates in litres a day usually mean 30 °C and 80 %RH"
    return default(303.15, 2.0, note), default(0.80, 0.08, note)


def airflow(original: Original, face_area: float) -> Measured:
    """Airflow from the plate's water removal, or else from the face of the evaporator. [m3/s]

    Tested machines move about 2.75 cfm for each pint a day at 26.7 degrees Celsius and 60 %RH
    (Winkler, Christensen and Tomerlin 2011); the plate is brought to that room by their curve.
    """
    water, t, rh = (
        original.water_removal,
        original.rating_temperature,
        original.rating_relative_humidity,
    )
    if water is not None and t is not None and rh is not None:
        ratio = water_curve(t.value, rh.value)
        if 0.3 < ratio < 2.5:
            flow = 2.75 * _CFM * (water.value / ratio) / _PINT_PER_DAY
            return inferred(
                flow,
                0.25 * flow,
                "2.75 cfm for each pint a day of the plate, brought to 80 °F and 60 %RH "
                "(Winkler, Christensen and Tomerlin 2011)",
            )
    flow = 1.2 * face_area
    return inferred(flow, 0.35 * flow, "1.2 m/s through the face of the evaporator, as is usual")


def fan_power(volume_flow: float) -> Measured:
    """Power of the fan. [W]"""
    watts = 500.0 * volume_flow
    return default(watts, 0.5 * watts, "500 W for each m3/s, shaded-pole motor and small fan")


def tube_wall(outer_diameter: float) -> Measured:
    """Wall of a coil tube. [m]"""
    wall = min(0.35e-3, 0.08 * outer_diameter)
    return default(wall, 0.2 * wall, "copper coil tube is drawn 0.3 to 0.4 mm thick")


def fin_thickness() -> Measured:
    """Thickness of a plain aluminium fin. [m]"""
    return default(0.11e-3, 0.02e-3, "plain aluminium fins are 0.09 to 0.13 mm thick")


def fouling() -> Measured:
    """Multiplier on the air-side coefficient."""
    return default(1.0, 0.1, "taken as cleaned")


def oil_volume(kind: str) -> Measured:
    """Oil charge of a compressor. [m3]"""
    if kind == "rotary":
        return default(3.0e-4, 0.8e-4, "small rotary compressors hold 200 to 400 cm3 of oil")
    return default(2.5e-4, 0.8e-4, "small reciprocating compressors hold 150 to 350 cm3 of oil")


def shell_volume(kind: str) -> Measured:
    """Free gas volume inside a compressor's shell. [m3]"""
    if kind == "rotary":
        return default(0.8e-3, 0.3e-3, "free gas volume in the shell of a small rotary compressor")
    return default(1.6e-3, 0.5e-3, "free gas volume in the shell of a small reciprocating one")


def roughness() -> Measured:
    """Roughness of a drawn copper capillary. [m]"""
    return default(0.75e-6, 0.4e-6, "drawn copper capillary: 0.3 to 1.5 um")


def line_bore(line: str) -> Measured:
    """Bore of a line. [m]"""
    if line == "suction":
        return default(6.7e-3, 1.2e-3, "suction tube of 5/16 in or 8 mm outside")
    return default(4.8e-3, 0.8e-3, "tube of 1/4 in or 6 mm outside")


def line_length(line: str) -> Measured:
    """Length of a line. [m]"""
    length = {"suction": 0.8, "discharge": 0.8, "liquid": 0.4}[line]
    return default(length, 0.4 * length, "usual inside a portable cabinet")


def drier_volume() -> Measured:
    """Free volume of a filter drier. [m3]"""
    return default(2.0e-5, 1.0e-5, "free volume of a small copper drier, 10 to 15 g of desiccant")


def accumulator_volume() -> Measured:
    """Volume of a suction accumulator. [m3]"""
    return default(0.0, 0.0, "none stated")


def exchanger_length() -> Measured:
    """Length of capillary soldered to the suction line. [m]"""
    return default(0.0, 0.0, "none stated")


def high_side_pressure(refrigerant: str | None) -> Measured | None:
    """Pressure for which the high side was surely made. [Pa]"""
    if refrigerant is None:
        return None
    pressure = design_pressures(refrigerant)[1]
    return default(
        pressure,
        0.03 * pressure,
        f"saturation of the original {refrigerant} at 63 °C, the air-cooled design temperature "
        "of EN 378-2 for 43 °C ambient; a plate's own limit is better",
    )


def low_side_pressure(refrigerant: str | None) -> Measured | None:
    """Pressure for which the low side was surely made. [Pa]"""
    if refrigerant is None:
        return None
    pressure = design_pressures(refrigerant)[0]
    return default(
        pressure,
        0.03 * pressure,
        f"saturation of the original {refrigerant} at 26.7 °C, the least design temperature of "
        "ASHRAE 15; a plate's own limit is better",
    )


def discharge_temperature() -> Measured:
    """Discharge gas temperature that oil and valves stand. [K]"""
    return default(
        393.15, 5.0, "measured at the outlet; hotter gas breaks the oil down at the valves"
    )

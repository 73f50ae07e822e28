"""What is assumed for everything nobody measured: a value, a wide uncertainty and the reason.

Figures without a named source are common practice in small sealed machines; their uncertainty is
meant to cover what is met in the trade.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from sweatline.answers import Amount, Note
from sweatline.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from sweatline.job.keys import Assumed
from sweatline.job.vocabulary import design_pressures
from sweatline.uncertainty.parameter import Measured
from sweatline.units import WATER_DENSITY
from sweatline.units.kinds import DAY, US_PINT

PINT_PER_DAY: Final = WATER_DENSITY * US_PINT / DAY  # kg/s
_CFM: Final = 0.3048**3 / 60.0  # m3/s

NONE_STATED: Final = Assumed(0.0, 0.0, "none stated")
NOT_STATED: Final = Assumed("unknown", note="not stated")

FIN_THICKNESS: Final = Assumed(
    0.11e-3,
    0.02e-3,
    "plain aluminium fins are 0.09 to 0.13 mm thick",
    us="plain aluminum fins are 0.0035 to 0.005 in thick",
)
FOULING: Final = Assumed(1.0, 0.1, "taken as cleaned")
ROUGHNESS: Final = Assumed(
    0.75e-6,
    0.4e-6,
    "drawn copper capillary: 0.3 to 1.5 um",
    us="drawn copper capillary: 12 to 60 microinch",
)
SUCTION_BORE: Final = Assumed(
    6.7e-3,
    1.2e-3,
    "suction tube of 5/16 in or 8 mm outside",
    us="suction tube of 5/16 in outside",
)
LINE_BORE: Final = Assumed(
    4.8e-3, 0.8e-3, "tube of 1/4 in or 6 mm outside", us="tube of 1/4 in outside"
)
DRIER_VOLUME: Final = Assumed(
    2.0e-5,
    1.0e-5,
    "free volume of a small copper drier, 10 to 15 g of desiccant",
    us="free volume of a small copper drier, 0.35 to 0.5 oz of desiccant",
)
DISCHARGE_TEMPERATURE: Final = Assumed(
    393.15, 5.0, "measured at the outlet; hotter gas breaks the oil down at the valves"
)

# By kind of compressor.
OIL_VOLUME: Final[Mapping[str, Assumed]] = {
    "reciprocating": Assumed(
        2.5e-4,
        0.8e-4,
        "small reciprocating compressors hold 150 to 350 cm3 of oil",
        us="small reciprocating compressors hold 5 to 12 fl oz of oil",
    ),
    "rotary": Assumed(
        3.0e-4,
        0.8e-4,
        "small rotary compressors hold 200 to 400 cm3 of oil",
        us="small rotary compressors hold 7 to 14 fl oz of oil",
    ),
}
SHELL_VOLUME: Final[Mapping[str, Assumed]] = {
    "reciprocating": Assumed(
        1.6e-3, 0.5e-3, "free gas volume in the shell of a small reciprocating one"
    ),
    "rotary": Assumed(0.8e-3, 0.3e-3, "free gas volume in the shell of a small rotary compressor"),
}
# Room in which a plate without a stated condition was probably rated, by its unit system.
_METRIC_PLATE: Final = "plates in litres a day usually mean 30 °C and 80 %RH"
_US_PLATE: Final = "plates in US units were rated at 80 °F and 60 %RH for decades"
RATING_TEMPERATURE: Final[Mapping[str, Assumed]] = {
    "SI": Assumed(303.15, 2.0, _METRIC_PLATE),
    "US": Assumed(299.817, 3.0, _US_PLATE),
}
RATING_HUMIDITY: Final[Mapping[str, Assumed]] = {
    "SI": Assumed(0.80, 0.08, _METRIC_PLATE),
    "US": Assumed(0.60, 0.05, _US_PLATE),
}


def atmospheric_pressure(altitude: float) -> float:
    """Pressure of the standard atmosphere at an altitude in metres. [Pa]

    ASHRAE Handbook Fundamentals, chapter on psychrometrics, eq. (3): -5000 to 11000 m.
    """
    return float(STANDARD_ATMOSPHERE * (1.0 - 2.25577e-5 * altitude) ** 5.2559)


def water_curve(temperature: float, relative_humidity: float) -> float:
    """Water removal relative to that at 26.7 degrees Celsius and 60 %RH. [temperature in K]

    Mean curve of six tested machines, T in degrees Celsius and R in percent: Winkler, Christensen
    and Tomerlin 2011.
    """

    def curve(t: float, r: float) -> float:
        drier = -1.162525707 + 0.02271469 * t - 0.000113208 * t * t
        return drier + 0.021110538 * r - 0.0000693034 * r * r + 0.000378843 * t * r

    t = temperature - ZERO_CELSIUS
    return curve(t, 100.0 * relative_humidity) / curve(26.67, 60.0)


# Why, where the value depends on other numbers of the job.
AIRFLOW_OF_PLATE: Final = (
    "2.75 cfm for each pint a day of the plate, brought to 80 °F and 60 %RH "
    "(Winkler, Christensen and Tomerlin 2011)"
)
AIRFLOW_OF_FACE: Final = Note(
    "{} through the face of the evaporator, as is usual", Amount("speed", (1.2,), 2)
)
FAN_POWER: Final = Note(
    "25 W for each {}, shaded-pole motor and small fan", Amount("volume flow", (0.05,))
)
TUBE_WALL: Final = Note("copper coil tube is drawn {} thick", Amount("length", (0.3e-3, 0.4e-3), 2))


def side_note(refrigerant: str = "refrigerant", *, high: bool) -> Note:
    """Why a side of a circuit is taken to stand what it does."""
    begin = f"saturation of the original {refrigerant} at "
    end = "; a plate's own limit is better"
    said, celsius = (
        ("{}, the air-cooled design temperature of EN 378-2 for {} ambient", (63.0, 43.0))
        if high
        else ("{}, the least design temperature of ASHRAE 15", (26.7,))
    )
    amounts = (Amount("temperature", (t + ZERO_CELSIUS,)) for t in celsius)
    return Note(begin + said + end, *amounts)


def airflow(
    water: Measured | None,
    temperature: Measured | None,
    humidity: Measured | None,
    face_area: float,
) -> Assumed:
    """Airflow from the plate's water removal, or else from the face of the evaporator. [m3/s]

    Tested machines move about 2.75 cfm for each pint a day at 26.7 degrees Celsius and 60 %RH
    (Winkler, Christensen and Tomerlin 2011); the plate is brought to that room by their curve.
    """
    if water is not None and temperature is not None and humidity is not None:
        ratio = water_curve(temperature.value, humidity.value)
        if 0.3 < ratio < 2.5:
            flow = 2.75 * _CFM * (water.value / ratio) / PINT_PER_DAY
            return Assumed(flow, 0.25 * flow, AIRFLOW_OF_PLATE, origin="inferred")
    flow = 1.2 * face_area
    return Assumed(
        flow,
        0.35 * flow,
        AIRFLOW_OF_FACE,
        origin="inferred",
    )


def fan_power(volume_flow: float) -> Assumed:
    """Power of the fan. [W]"""
    watts = 500.0 * volume_flow
    return Assumed(
        watts,
        0.5 * watts,
        FAN_POWER,
    )


def tube_wall(outer_diameter: float) -> Assumed:
    """Wall of a coil tube. [m]"""
    wall = min(0.35e-3, 0.08 * outer_diameter)
    return Assumed(
        wall,
        0.2 * wall,
        TUBE_WALL,
    )


def line_length(length: float) -> Assumed:
    """Length of a line. [m]"""
    return Assumed(length, 0.4 * length, "usual inside a portable cabinet")


def side_pressure(refrigerant: str | None, *, high: bool) -> Assumed | None:
    """Pressure for which the high or the low side was surely made. [Pa]"""
    if refrigerant is None:
        return None
    pressure = design_pressures(refrigerant)[high]
    return Assumed(pressure, 0.03 * pressure, side_note(refrigerant, high=high))

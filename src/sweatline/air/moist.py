r"""Moist air after the ASHRAE formulation: perfect gases, Hyland-Wexler saturation pressure.

Enthalpies are per kilogram of *dry* air and zero for dry air at 0 °C. Below the triple point of
water, saturation is over ice. Every function is a compiled kernel on floats, meant to be called
from other kernels as well as from Python.

Validity: dry-bulb temperature -70 to +90 °C, pressure 60 to 110 kPa. Treating moist air as a
perfect gas costs at most 0.7 % in humidity ratio at saturation at 1 atm (enhancement factor).

Symbols of the functions below. A function's own list of parameters tells what differs there::

    T  dry-bulb temperature [K]
    W  humidity ratio: water per dry air [kg/kg]
    p  total pressure [Pa]

References
----------
ASHRAE Handbook, Fundamentals (SI), chapter "Psychrometrics"; equation numbers of the 2017 edition.
Hyland and Wexler, "Formulations for the thermodynamic properties of the saturated phases of H2O
from 173.15 K to 473.15 K", ASHRAE Transactions, 89(2A), pages 500-519, 1983.
"""

import math
from typing import Final

from sweatline.compiled import kernel
from sweatline.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS

MASS_RATIO: Final = 0.621945  # molar mass of water over that of dry air, ASHRAE eq. (20)
DRY_AIR_GAS_CONSTANT: Final = 287.042  # J/(kg*K), ASHRAE eq. (1)
DRY_AIR_HEAT_CAPACITY: Final = 1006.0  # J/(kg*K), ASHRAE eq. (30)
VAPOR_HEAT_CAPACITY: Final = 1860.0  # J/(kg*K), ASHRAE eq. (30)
WATER_HEAT_CAPACITY: Final = 4186.0  # J/(kg*K), ASHRAE eq. (33)
LATENT_VAPORIZATION: Final = 2.501e6  # J/kg at 0 C, ASHRAE eq. (30)
TRIPLE_POINT: Final = 273.16  # K, of water

_COLDEST: Final = 173.15  # K, lower end of Hyland and Wexler's ice equation
_HOTTEST: Final = 473.15  # K, upper end of their water equation


@kernel
def _log_saturation_pressure(T: float) -> tuple[float, float]:
    """ln of the saturation pressure and its derivative: ASHRAE eqs. (5) and (6)."""
    if T < TRIPLE_POINT:
        value = (
            -5.6745359e3 / T
            + 6.3925247
            + T * (-9.677843e-3 + T * (6.2215701e-7 + T * (2.0747825e-9 + T * -9.484024e-13)))
            + 4.1635019 * math.log(T)
        )
        slope = (
            5.6745359e3 / T**2
            - 9.677843e-3
            + T * (2 * 6.2215701e-7 + T * (3 * 2.0747825e-9 + T * 4 * -9.484024e-13))
            + 4.1635019 / T
        )
    else:
        value = (
            -5.8002206e3 / T
            + 1.3914993
            + T * (-4.8640239e-2 + T * (4.1764768e-5 + T * -1.4452093e-8))
            + 6.5459673 * math.log(T)
        )
        slope = (
            5.8002206e3 / T**2
            - 4.8640239e-2
            + T * (2 * 4.1764768e-5 + T * 3 * -1.4452093e-8)
            + 6.5459673 / T
        )
    return value, slope


@kernel
def saturation_pressure(T: float) -> float:
    """Saturation pressure of water vapour, over ice below the triple point and over water above.

    Parameters
    ----------
    T : float
        Temperature. [K]

    Returns
    -------
    float
        Saturation pressure. [Pa]

    Notes
    -----
    Valid from 173.15 to 473.15 K. The two branches meet at 273.16 K within 1 part in 10^8.

    References
    ----------
    Hyland and Wexler (1983); ASHRAE Fundamentals 2017, chapter 1, eqs. (5) and (6).
    """
    return math.exp(_log_saturation_pressure(T)[0])


@kernel
def saturation_pressure_slope(T: float) -> float:
    """Derivative of `saturation_pressure` with temperature.

    Parameters
    ----------
    T : float
        Temperature. [K]

    Returns
    -------
    float
        Slope. At the triple point it jumps by a ninth, the heat of fusion. [Pa/K]
    """
    value, slope = _log_saturation_pressure(T)
    return math.exp(value) * slope


@kernel
def _humidity_ratio_from_vapor(vapor_pressure: float, p: float) -> float:
    return MASS_RATIO * vapor_pressure / (p - vapor_pressure)


@kernel
def humidity_ratio(T: float, rh: float, p: float) -> float:
    """Humidity ratio from relative humidity.

    Parameters
    ----------
    rh : float
        Relative humidity, 0 to 1. [-]

    Returns
    -------
    float
        Water per dry air. [kg/kg]

    References
    ----------
    ASHRAE Fundamentals 2017, chapter 1, eqs. (12) and (20).
    """
    return _humidity_ratio_from_vapor(rh * saturation_pressure(T), p)


@kernel
def relative_humidity(T: float, W: float, p: float) -> float:
    """Relative humidity from humidity ratio; above 1 where the air is fogged.

    Returns
    -------
    float
        Relative humidity, over ice below 0.01 °C. [-]
    """
    return p * W / (MASS_RATIO + W) / saturation_pressure(T)


@kernel
def enthalpy(T: float, W: float) -> float:
    """Enthalpy of moist air, zero for dry air at 0 °C and liquid water at 0 °C.

    Returns
    -------
    float
        Enthalpy per dry air. [J/kg]

    References
    ----------
    ASHRAE Fundamentals 2017, chapter 1, eq. (30): h = 1.006 t + W (2501 + 1.86 t), kJ/kg and °C.
    """
    t = T - ZERO_CELSIUS
    return DRY_AIR_HEAT_CAPACITY * t + W * (LATENT_VAPORIZATION + VAPOR_HEAT_CAPACITY * t)


@kernel
def temperature(h: float, W: float) -> float:
    """Dry-bulb temperature from enthalpy; the inverse of `enthalpy`.

    Parameters
    ----------
    h : float
        Enthalpy per dry air. [J/kg]

    Returns
    -------
    float
        Dry-bulb temperature. [K]
    """
    return ZERO_CELSIUS + (h - W * LATENT_VAPORIZATION) / moist_heat_capacity(W)


@kernel
def moist_heat_capacity(W: float) -> float:
    """Heat capacity of moist air per kilogram of dry air.

    Returns
    -------
    float
        Heat capacity per dry air. [J/(kg*K)]
    """
    return DRY_AIR_HEAT_CAPACITY + VAPOR_HEAT_CAPACITY * W


@kernel
def saturated_humidity_ratio(T: float, p: float) -> float:
    """Humidity ratio of saturated air.

    Parameters
    ----------
    T : float
        Temperature, below boiling at `p`. [K]

    Returns
    -------
    float
        Humidity ratio. [kg/kg]

    References
    ----------
    ASHRAE Fundamentals 2017, chapter 1, eq. (21).
    """
    return _humidity_ratio_from_vapor(saturation_pressure(T), p)


@kernel
def dew_point(W: float, p: float) -> float:
    """Dew point, or frost point below 0.01 °C.

    Returns
    -------
    float
        Temperature at which the vapour pressure is that of saturation, held between 173.15 and
        473.15 K. [K]
    """
    vapor_pressure = p * W / (MASS_RATIO + W)
    if not vapor_pressure > saturation_pressure(_COLDEST):
        return _COLDEST
    target = math.log(vapor_pressure)
    T = TRIPLE_POINT
    for _ in range(50):
        value, slope = _log_saturation_pressure(T)
        # ln p is nearly linear in 1/T, so Newton in 1/T takes three or four steps
        inverse = 1.0 / T + (value - target) / (slope * T**2)
        new = min(max(1.0 / max(inverse, 1.0 / _HOTTEST), _COLDEST), _HOTTEST)
        if abs(new - T) < 1e-10:
            return new
        T = new
    return T


@kernel
def specific_volume(T: float, W: float, p: float) -> float:
    """Volume of moist air per kilogram of dry air.

    Returns
    -------
    float
        Specific volume per dry air. [m3/kg]

    References
    ----------
    ASHRAE Fundamentals 2017, chapter 1, eq. (26): v = 287.042 T (1 + 1.607858 W)/p.
    """
    return DRY_AIR_GAS_CONSTANT * T * (1.0 + 1.607858 * W) / p


@kernel
def viscosity(T: float) -> float:
    """Dynamic viscosity of dry air by Sutherland's law; humidity changes it by less than 1 %.

    Parameters
    ----------
    T : float
        Temperature, 200 to 400 K. [K]

    Returns
    -------
    float
        Viscosity. [Pa*s]

    References
    ----------
    U.S. Standard Atmosphere, 1976, eq. (51).
    """
    return 1.458e-6 * T * math.sqrt(T) / (T + 110.4)


@kernel
def conductivity(T: float) -> float:
    """Thermal conductivity of dry air.

    Parameters
    ----------
    T : float
        Temperature, 200 to 400 K. [K]

    Returns
    -------
    float
        Thermal conductivity. [W/(m*K)]

    References
    ----------
    U.S. Standard Atmosphere, 1976, eq. (53).
    """
    k: float = 2.64638e-3 * T * math.sqrt(T) / (T + 245.4 * 10.0 ** (-12.0 / T))
    return k


@kernel
def standard_pressure(altitude: float) -> float:
    """Barometric pressure of the standard atmosphere.

    Parameters
    ----------
    altitude : float
        Height above sea level, -5000 to 11000 m. [m]

    Returns
    -------
    float
        Pressure. [Pa]

    References
    ----------
    ASHRAE Fundamentals 2017, chapter 1, eq. (3).
    """
    p: float = STANDARD_ATMOSPHERE * (1.0 - 2.25577e-5 * altitude) ** 5.2559
    return p

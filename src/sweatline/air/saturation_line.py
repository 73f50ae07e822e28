r"""Saturated air as a fast table: what a wet coil asks for thousands of times in a solve.

The saturation pressure over temperature is kept as a cubic in each half-kelvin interval (values
and slopes match the direct equation at the nodes), with a node on the triple point so that the
one physical kink, the heat of fusion, stays where it is. Humidity ratio and enthalpy follow from
it exactly. The relative error against `sweatline.air.moist` is below 1e-7.
"""

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air import moist
from sweatline.air.moist import (
    DRY_AIR_HEAT_CAPACITY,
    LATENT_VAPORIZATION,
    MASS_RATIO,
    TRIPLE_POINT,
    VAPOR_HEAT_CAPACITY,
)
from sweatline.compiled import kernel
from sweatline.constants import ZERO_CELSIUS
from sweatline.errors import OutOfRange

_STEP: Final = 0.5  # K
_BELOW: Final = 141  # intervals below the triple point: from -70.5 C
_ABOVE: Final = 180  # intervals above it: up to 90 C
_STEEPEST: Final = 0.6  # share of vapour in the total pressure beyond which the table ends


class SaturationLine(NamedTuple):
    """Saturated moist air over temperature at one total pressure; made by `saturation_line`.

    Attributes
    ----------
    p : float
        Total pressure. [Pa]
    low : float
        Coldest node. [K]
    high : float
        Hottest temperature of the table, 90 °C or where vapour makes 60 % of the pressure. [K]
    cubic : (n, 4) array
        Saturation pressure in each interval as a cubic of the fraction of the step. [Pa]
    rate : float
        Relative slope of the saturation pressure at `low`, used for colder air. [1/K]
    W_high : float
        Humidity ratio at `high`. [kg/kg]
    slope_high : float
        Slope of the humidity ratio at `high`, used for hotter air. [1/K]
    """

    p: float
    low: float
    high: float
    cubic: NDArray[np.float64]
    rate: float
    W_high: float
    slope_high: float


def saturation_line(p: float) -> SaturationLine:
    """Table of saturated air at a total pressure.

    Parameters
    ----------
    p : float
        Total pressure, 20 to 200 kPa. [Pa]

    Returns
    -------
    SaturationLine
        Argument of `saturated_air` and `dew_point_fast`.

    Raises
    ------
    OutOfRange
        The pressure is not that of air a machine can stand in.
    """
    if not 20e3 <= p <= 200e3:
        raise OutOfRange("air pressure", "p", p, 20e3, 200e3, "Pa")
    count = _BELOW + _ABOVE
    nodes = TRIPLE_POINT + _STEP * (np.arange(count + 1) - _BELOW)
    value = np.array([moist.saturation_pressure(T) for T in nodes])
    # the slope has two values at the joint: each interval takes the one of its own side
    left = np.array([moist.saturation_pressure_slope(T) for T in nodes[:-1]])
    right = np.array([moist.saturation_pressure_slope(T) for T in nodes[1:]])
    right[_BELOW - 1] = moist.saturation_pressure_slope(math.nextafter(TRIPLE_POINT, 0.0))
    a, b = value[:-1], value[1:]
    m, n = _STEP * left, _STEP * right
    cubic = np.column_stack((a, m, 3 * (b - a) - 2 * m - n, 2 * (a - b) + m + n))
    high = min(float(nodes[-1]), moist.dew_point(MASS_RATIO * _STEEPEST / (1.0 - _STEEPEST), p))
    pressure = moist.saturation_pressure(high)
    return SaturationLine(
        p=float(p),
        low=float(nodes[0]),
        high=float(high),
        cubic=np.ascontiguousarray(cubic),
        rate=float(left[0] / a[0]),
        W_high=float(MASS_RATIO * pressure / (p - pressure)),
        slope_high=float(
            MASS_RATIO * p * moist.saturation_pressure_slope(high) / (p - pressure) ** 2
        ),
    )


@kernel
def saturated_air(line: SaturationLine, T: float) -> tuple[float, float, float, float]:
    """Saturated air and its slopes from the table.

    Parameters
    ----------
    line : SaturationLine
        Table for the total pressure.
    T : float
        Temperature. Below the table the humidity ratio falls off exponentially, above it grows in
        a straight line, so that a solver that strays comes back. [K]

    Returns
    -------
    h : float
        Enthalpy per dry air. [J/kg]
    slope_h : float
        Its derivative, the effective heat capacity of saturated air. [J/(kg*K)]
    W : float
        Humidity ratio. [kg/kg]
    slope_W : float
        Its derivative. [1/K]
    """
    if line.high <= T:
        W = line.W_high + line.slope_high * (T - line.high)
        slope_W = line.slope_high
    else:
        if line.low <= T:
            s = (T - line.low) / _STEP
            i = min(int(s), line.cubic.shape[0] - 1)
            s -= i
            c0, c1, c2, c3 = line.cubic[i, 0], line.cubic[i, 1], line.cubic[i, 2], line.cubic[i, 3]
            vapor = c0 + s * (c1 + s * (c2 + s * c3))
            slope = (c1 + s * (2.0 * c2 + s * 3.0 * c3)) / _STEP
        else:
            vapor = line.cubic[0, 0] * math.exp(line.rate * (T - line.low))
            slope = line.rate * vapor
        dry = 1.0 / (line.p - vapor)
        W = MASS_RATIO * vapor * dry
        slope_W = MASS_RATIO * line.p * slope * dry * dry
    t = T - ZERO_CELSIUS
    heat = LATENT_VAPORIZATION + VAPOR_HEAT_CAPACITY * t
    h = DRY_AIR_HEAT_CAPACITY * t + W * heat
    slope_h = DRY_AIR_HEAT_CAPACITY + W * VAPOR_HEAT_CAPACITY + slope_W * heat
    return h, slope_h, W, slope_W

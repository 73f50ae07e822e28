r"""How long after a stop the two sides of a capillary machine take to come equal.

First the liquid that stands before the tube runs through it, then gas follows. The gas stage is
steady isothermal flow with friction at every moment (textbook),

    G^2 (f L/D + 2 ln(p1/p2)) = (p1^2 - p2^2)/(p v),

p2 no lower than G sqrt(p v), where the flow chokes, between two volumes at one temperature. The
entrance is left out: beside the friction of a capillary it is nothing. So is heat: vapour
condenses on a cold coil and holds its pressure down, and liquid left in a warm condenser boils and
holds it up. Nobody knows both; `equalising_times` draws them
between their bounds, so that the answer is a range.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

from sweatline.compiled import kernel
from sweatline.errors import OutOfRange
from sweatline.flow.friction import darcy_friction_churchill

__all__ = ["GasTube", "Sides", "choking_share", "equalising_times", "gas_flow", "gas_time"]

FloatArray = NDArray[np.float64]

_INTERVALS = 64
_FLOW_SD = 0.10  # of the gas flow: friction, entrance, coil of the tube
_SEED = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class GasTube:
    """A capillary and the gas that goes through it."""

    bore: float  # m
    bore_sd: float  # m
    length: float  # m
    roughness: float  # m
    elasticity: float  # J/kg, pressure times specific volume of the gas
    viscosity: float  # Pa*s


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """Both sides at the moment of the stop."""

    high_pressure: float  # Pa
    rest_pressure: float  # Pa, to which a cooling condenser falls by itself: that of the room
    low_pressure: float  # Pa
    high_volume: float  # m3 of gas
    low_volume: float  # m3 of gas
    volume_sd: float  # of both, relative
    liquid: float  # kg before the tube
    liquid_sd: float  # kg
    liquid_flow: float  # kg/s that the tube passes at the stop


@kernel
def choking_share(drag: float) -> float:
    """Pressure at a choked end over that before the tube: f L/D = 1/r^2 - 1 + 2 ln r. [-]

    Parameters
    ----------
    drag : float
        Friction factor times length over bore, above 0. [-]
    """
    low, high = 0.0, 1.0
    for _ in range(50):
        r = 0.5 * (low + high)
        if 1.0 / (r * r) - 1.0 + 2.0 * math.log(r) > drag:
            low = r
        else:
            high = r
    return 0.5 * (low + high)


@kernel
def gas_flow(
    p1: float,
    p2: float,
    elasticity: float,
    viscosity: float,
    bore: float,
    length: float,
    roughness: float,
) -> float:
    """Mass flow of gas through a tube, isothermal, with friction, choked where it must be. [kg/s]

    Parameters
    ----------
    p1, p2 : float
        Before and behind the tube; no flow unless p1 > p2. [Pa]
    elasticity : float
        Pressure times specific volume. [J/kg]
    viscosity : float
        [Pa*s]
    bore, length, roughness : float
        [m]
    """
    if p1 <= p2:
        return 0.0
    g = math.sqrt((p1 * p1 - p2 * p2) / (elasticity * (0.03 * length / bore + 1.5)))
    for _ in range(60):
        drag = darcy_friction_churchill(g * bore / viscosity, roughness / bore) * length / bore
        end = max(p2, choking_share(drag) * p1)
        new = math.sqrt((p1 * p1 - end * end) / (elasticity * (drag + 2.0 * math.log(p1 / end))))
        # Half a step in the logarithm: the laminar side would swing otherwise.
        new = math.sqrt(new * g)
        done = abs(new - g) < 1e-10 * g
        g = new
        if done:
            break
    return g * 0.25 * math.pi * bore * bore


@kernel
def gas_time(
    high: float,
    low: float,
    high_volume: float,
    low_volume: float,
    elasticity: float,
    viscosity: float,
    bore: float,
    length: float,
    roughness: float,
    left: float,
) -> float:
    """Time until two volumes of gas differ by no more than `left`. [s]

    Mass that leaves one volume enters the other, so the lower pressure follows from the higher
    and the time is one integral, taken over the root of the difference.

    Parameters
    ----------
    high, low : float
        Pressures at the start. [Pa]
    high_volume, low_volume : float
        [m3]
    elasticity : float
        Pressure times specific volume. [J/kg]
    viscosity : float
        [Pa*s]
    bore, length, roughness : float
        [m]
    left : float
        Difference that counts as none, above 0. [Pa]
    """
    start = high - low
    if start <= left:
        return 0.0
    ratio = high_volume / low_volume
    x0, x1 = math.sqrt(left), math.sqrt(start)
    step = (x1 - x0) / _INTERVALS
    total = 0.0
    for i in range(_INTERVALS + 1):
        x = x0 + i * step
        p1 = high - (start - x * x) / (1.0 + ratio)
        flow = gas_flow(p1, p1 - x * x, elasticity, viscosity, bore, length, roughness)
        weight = 1.0 if i in (0, _INTERVALS) else (4.0 if i % 2 else 2.0)
        total += weight * 2.0 * x / ((1.0 + ratio) * flow)
    return high_volume / elasticity * total * step / 3.0


def equalising_times(tube: GasTube, sides: Sides, *, left: float, draws: int = 256) -> FloatArray:
    """Times from the stop until the sides differ by no more than `left`, rising. [s]

    Drawn: bore, gas flow, volumes, liquid, the mean flow of the liquid (half to all of that at
    the stop, since the difference falls), the pressure to which the condenser has cooled when
    the gas stage begins, and how much a cold evaporator swallows (its volume counted once to ten
    times).

    Parameters
    ----------
    left : float
        Difference that counts as none. [Pa]

    Raises
    ------
    OutOfRange
        A pressure, a volume or a size that is not positive.
    """
    for name, value, unit in (
        ("bore", tube.bore, "m"),
        ("length", tube.length, "m"),
        ("gas volume of the high side", sides.high_volume, "m3"),
        ("gas volume of the low side", sides.low_volume, "m3"),
        ("low pressure", sides.low_pressure, "Pa"),
        ("difference that counts as none", left, "Pa"),
    ):
        if not (math.isfinite(value) and value > 0.0):
            raise OutOfRange(
                what="the time to equalise cannot be reckoned", name=name, value=value, low=0.0,
                high=math.inf, unit=unit,
            )  # fmt: skip
    exponent = max(math.ceil(math.log2(draws)), 3)
    u = qmc.Sobol(8, scramble=True, rng=np.random.default_rng(_SEED)).random_base2(exponent)
    z = ndtri(np.clip(u[:, :5], 1e-6, 1.0 - 1e-6))
    bore = np.maximum(tube.bore + tube.bore_sd * z[:, 0], 0.5 * tube.bore)
    gas = np.exp(_FLOW_SD * z[:, 1])
    high_volume = sides.high_volume * np.exp(sides.volume_sd * z[:, 2])
    low_volume = sides.low_volume * np.exp(sides.volume_sd * z[:, 3]) * 10.0 ** u[:, 7]
    liquid = np.maximum(sides.liquid + sides.liquid_sd * z[:, 4], 0.0)
    cooled = min(max(sides.rest_pressure, sides.low_pressure), sides.high_pressure)
    begin = sides.high_pressure * (cooled / sides.high_pressure) ** u[:, 6]
    times = np.zeros(bore.size)
    if sides.liquid_flow > 0.0:
        # A wider bore passes more, about as bore to the power 2.5.
        flow = sides.liquid_flow * (bore / tube.bore) ** 2.5 * (0.5 + 0.5 * u[:, 5])
        times += liquid / flow
    for i in range(bore.size):
        times[i] += (
            gas_time(
                float(begin[i]),
                sides.low_pressure,
                float(high_volume[i]),
                float(low_volume[i]),
                tube.elasticity,
                tube.viscosity,
                float(bore[i]),
                tube.length,
                tube.roughness,
                left,
            )
            / gas[i]
        )
    return np.sort(times)

r"""One leak with two gases: what nitrogen loses in a test against what refrigerant will lose.

A leak is taken as a straight round channel of bore d and length L, or as several equal ones side
by side. Its isothermal throughput Q = p dV/dt is laminar and molecular flow after Knudsen,

    Q = [ pi d^4 pm/(128 eta L) + Z pi d^3 v/(12 (L + 4d/3)) ] (p1 - pe)
    Z = (1 + w)/(1 + 1.24 w),   w = sqrt(M/(R T)) d pm/eta

(Knudsen, Ann. Phys. 333, 75 (1909), as in textbooks of vacuum) with pm the mean pressure and v the
mean speed of the molecules; an entrance and acceleration loss (1.5 + 2 ln(p1/pe)) rho u^2/2 is
added, and the flow is choked where the exit would exceed the isothermal speed of sound. Nobody
knows the channel, so one measured rate fits many pairs of bore and length; they are sampled, and
the other gas is worked out for each.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.air.permanent_gas import PermanentGas
from sweatline.constants import GAS_CONSTANT
from sweatline.errors import OutOfRange
from sweatline.refrigerant.refrigerant import Refrigerant

FloatArray = NDArray[np.float64]
Regime = Literal["choked", "viscous", "transition", "molecular"]

# What a leak may look like, judged: from a thin wall or a chafed spot to the depth of a soldered
# joint, one pore or a porous seam.
SHORTEST: Final = 0.3e-3  # m
LONGEST: Final = 10e-3  # m
MOST: Final = 30.0  # channels side by side

_NARROWEST, _WIDEST = 1e-9, 1e-2  # m
_HALVINGS: Final = 46


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakGas:
    """A gas on the inside of a leak, at its temperature."""

    name: str
    molar_mass: float  # kg/mol
    viscosity: float  # Pa*s
    temperature: float  # K
    compressibility: float = 1.0  # mean of Z over the way down in pressure

    @property
    def per_amount(self) -> float:
        """Throughput of one mole per second. [Pa*m3/mol]"""
        return GAS_CONSTANT * self.temperature

    @property
    def density(self) -> float:
        """Mass flow over throughput. [kg/(Pa*m3)]"""
        return self.molar_mass / self.per_amount


def permanent(gas: PermanentGas, *, pressure: float, temperature: float) -> LeakGas:
    """Nitrogen or helium before a leak.

    Parameters
    ----------
    pressure : float
        Absolute. [Pa]
    temperature : float
        [K]
    """
    z = gas.compressibility(pressure, temperature)
    return LeakGas(
        name=gas.name,
        molar_mass=gas.molar_mass,
        viscosity=gas.viscosity(temperature),
        temperature=temperature,
        compressibility=1.0 - 2.0 / 3.0 * (1.0 - z),
    )


def vapour(fluid: Refrigerant, *, pressure: float, temperature: float) -> LeakGas:
    """Refrigerant vapour before a leak; saturated where the pressure is that of saturation.

    Parameters
    ----------
    pressure : float
        Absolute, at most the dew pressure at this temperature. [Pa]
    temperature : float
        [K]

    Raises
    ------
    OutOfRange
        Outside the refrigerant's table.
    """
    dew = fluid.saturation_pressure_dew(temperature)
    if pressure >= dew * (1.0 - 1e-9):
        at = fluid.state(p=dew, quality=1.0)
    else:
        at = fluid.state(p=pressure, T=temperature)
    z = at.pressure * at.volume * fluid.molar_mass / (GAS_CONSTANT * temperature)
    return LeakGas(
        name=fluid.name,
        molar_mass=fluid.molar_mass,
        viscosity=at.viscosity,
        temperature=temperature,
        # Integral of p/Z over p with Z falling in a straight line, to first order.
        compressibility=1.0 - 2.0 / 3.0 * (1.0 - z),
    )


def _laminar(
    bore: FloatArray, length: FloatArray, p1: float, pe: FloatArray, gas: LeakGas
) -> FloatArray:
    """Conductance at the mean pressure. [m3/s]"""
    mean = 0.5 * (p1 + pe)
    speed = math.sqrt(8.0 * GAS_CONSTANT * gas.temperature / (math.pi * gas.molar_mass))
    viscous = math.pi * bore**4 * mean / (128.0 * gas.viscosity * length)
    w = math.sqrt(gas.molar_mass / (GAS_CONSTANT * gas.temperature)) * bore * mean / gas.viscosity
    share = (1.0 + w) / (1.0 + 1.24 * w)
    # An opening as short as it is wide passes no more than the mouth lets in.
    molecular = math.pi * bore**3 * speed / (12.0 * (length + 4.0 / 3.0 * bore))
    found: FloatArray = viscous + share * molecular
    return found


def throughput(
    bore: FloatArray, length: FloatArray, *, inside: float, outside: float, gas: LeakGas
) -> FloatArray:
    """Throughput of one channel, counted at the gas's temperature as an ideal gas. [Pa*m3/s]

    Parameters
    ----------
    bore, length : (n,) array
        [m]
    inside, outside : float
        Absolute pressures. [Pa]
    gas : LeakGas
        What is inside.

    Returns
    -------
    (n,) array
        [Pa*m3/s]; zero where the outside has the higher pressure. Divide by R T for moles.
    """
    bore, length = np.broadcast_arrays(np.asarray(bore, float), np.asarray(length, float))
    if inside <= outside:
        return np.zeros(bore.shape)
    area = 0.25 * math.pi * bore**2
    sound = math.sqrt(GAS_CONSTANT * gas.temperature / gas.molar_mass)
    inertia = 1.0 / (sound * area) ** 2
    high = np.minimum(
        _laminar(bore, length, inside, np.full(bore.shape, outside), gas) * (inside - outside),
        inside * area * sound,
    )
    low = np.zeros(bore.shape)
    for _ in range(_HALVINGS):
        q = 0.5 * (low + high)
        pe = np.minimum(np.maximum(outside, q / (area * sound)), inside * (1.0 - 1e-9))
        squares = inside**2 - pe**2
        needs = q * (inside + pe) / _laminar(bore, length, inside, pe, gas)
        needs = needs + (1.5 + 2.0 * np.log(inside / pe)) * inertia * q**2
        too_much = needs > squares
        high = np.where(too_much, q, high)
        low = np.where(too_much, low, q)
    return np.asarray(0.5 * (low + high) / gas.compressibility)


def even_samples(count: int, dimensions: int, *, seed: int = 0) -> FloatArray:
    """Points that fill the unit cube evenly, shifted by the seed.

    An additive recurrence on powers of the generalised golden ratio; (count, dimensions) array.
    """
    g = 2.0
    for _ in range(60):
        g = (1.0 + g) ** (1.0 / (dimensions + 1.0))
    steps = g ** -np.arange(1.0, dimensions + 1.0)
    start = np.random.default_rng(seed).random(dimensions)
    points: FloatArray = (start + np.outer(np.arange(1, count + 1), steps)) % 1.0
    return np.clip(points, 1e-9, 1.0 - 1e-9)


def sampled_shapes(count: int, *, seed: int = 0) -> tuple[FloatArray, FloatArray]:
    """Lengths and numbers of channels that a leak may have: even in the logarithm. [m], [-]"""
    u = even_samples(count, 2, seed=seed)
    length = SHORTEST * (LONGEST / SHORTEST) ** u[:, 0]
    number = np.maximum(np.floor(MOST ** u[:, 1]), 1.0)
    return length, number


@dataclass(frozen=True, slots=True, kw_only=True)
class Channels:
    """Shapes that all leak as much as was measured."""

    bore: FloatArray  # (n,) m
    length: FloatArray  # (n,) m
    number: FloatArray  # (n,)

    def flow(self, *, inside: float, outside: float, gas: LeakGas) -> FloatArray:
        """Mass lost by each shape. [kg/s]

        Parameters
        ----------
        inside, outside : float
            Absolute pressures. [Pa]
        gas : LeakGas
            What is inside.
        """
        q = throughput(self.bore, self.length, inside=inside, outside=outside, gas=gas)
        return np.asarray(self.number * q * gas.molar_mass / gas.per_amount)


def channels_for(
    mass_flow: FloatArray | float,
    *,
    length: FloatArray,
    number: FloatArray,
    inside: float,
    outside: float,
    gas: LeakGas,
) -> Channels:
    """Bores that lose a measured mass flow, one for each length and number of channels.

    Parameters
    ----------
    mass_flow : (n,) array or float
        Of the whole leak. [kg/s]
    length : (n,) array
        [m]
    number : (n,) array
        Channels side by side. [-]
    inside, outside : float
        Absolute pressures. [Pa]
    gas : LeakGas
        What leaked when it was measured.

    Raises
    ------
    OutOfRange
        The pressure inside is not above that outside, or no bore below 10 mm leaks as much.
    """
    length = np.asarray(length, float)
    wanted = np.broadcast_to(np.asarray(mass_flow, float), length.shape)
    each = wanted * gas.per_amount / (gas.molar_mass * number)
    if inside <= outside:
        raise OutOfRange(
            "a leak outward needs the higher pressure inside",
            "pressure inside", inside, outside, math.inf, "Pa",
        )  # fmt: skip
    low = np.full(length.shape, math.log(_NARROWEST))
    high = np.full(length.shape, math.log(_WIDEST))
    most = throughput(np.exp(high), length, inside=inside, outside=outside, gas=gas)
    if np.any(each > most):
        raise OutOfRange(
            "the rate is no leak any more but an open tube",
            "throughput", float(each.max()), 0.0, float(most.min()), "Pa m3/s",
        )  # fmt: skip
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        q = throughput(np.exp(middle), length, inside=inside, outside=outside, gas=gas)
        low = np.where(q < each, middle, low)
        high = np.where(q < each, high, middle)
    return Channels(bore=np.exp(0.5 * (low + high)), length=length, number=np.asarray(number))


def possible_channels(
    mass_flow: FloatArray | float, count: int, *, inside: float, outside: float, gas: LeakGas
) -> Channels:
    """Shapes that a leak of a mass flow [kg/s] may have, spread over lengths and numbers.

    Parameters and errors as :func:`channels_for`.
    """
    length, number = sampled_shapes(count)
    return channels_for(
        mass_flow, length=length, number=number, inside=inside, outside=outside, gas=gas
    )


def regime(*, bore: float, inside: float, outside: float, gas: LeakGas, flow: float) -> Regime:
    """Word for how a gas gets through a channel.

    Parameters
    ----------
    bore : float
        [m]
    inside, outside : float
        Absolute pressures. [Pa]
    gas : LeakGas
        What is inside.
    flow : float
        Mass flow of this one channel. [kg/s]

    Notes
    -----
    By the mean free path over the bore: below 0.01 viscous, above 1 molecular (textbook). A
    channel whose exit reaches two thirds of the speed of sound is called choked.
    """
    mean = 0.5 * (inside + outside)
    path = (
        gas.viscosity
        / mean
        * math.sqrt(math.pi * GAS_CONSTANT * gas.temperature / (2.0 * gas.molar_mass))
    )
    knudsen = path / bore
    if knudsen > 1.0:
        return "molecular"
    sound = math.sqrt(GAS_CONSTANT * gas.temperature / gas.molar_mass)
    end = flow * sound**2 / (0.25 * math.pi * bore**2 * sound)  # exit pressure at sonic speed
    if end > 2.0 / 3.0 * outside:
        return "choked"
    return "viscous" if knudsen < 0.01 else "transition"


def liquid_flow(
    bore: FloatArray, length: FloatArray, *, drop: float, density: float, viscosity: float
) -> FloatArray:
    """Liquid through a channel of a leak: laminar with an entrance and exit loss. [kg/s]

    Flashing on the way holds some of it back, so this is the most that liquid can do.

    Parameters
    ----------
    bore, length : (n,) array
        [m]
    drop : float
        Pressure difference. [Pa]
    density : float
        [kg/m3]
    viscosity : float
        [Pa*s]
    """
    # drop = 32 mu L u/d^2 + 1.5 rho u^2/2, solved for u without a difference of near numbers
    linear = 32.0 * viscosity * length / bore**2
    square = 0.75 * density
    speed = 2.0 * drop / (linear + np.sqrt(linear**2 + 4.0 * square * drop))
    return np.asarray(density * speed * 0.25 * math.pi * bore**2)

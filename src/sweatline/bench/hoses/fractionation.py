r"""How far a blend shifts when vapour is taken from its cylinder instead of liquid.

The lighter components leave first. Bubble and dew pressure of the blend give the vapour pressures
of two lumps, light and heavy, in an ideal mixture,

    p_bubble = z P_l + (1 - z) P_h,   1/p_dew = z/P_l + (1 - z)/P_h

and with the relative volatility a = P_l/P_h Rayleigh's law of simple distillation,

    n/n0 = (x/x0)^(1/(a-1)) ((1-x0)/(1-x))^(a/(a-1)),

follows the liquid. Components are lumped at every place of their order, and the largest shift is
told: a bound for blends of three and more, an estimate for two.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from sweatline.answers import Answer
from sweatline.errors import OutOfRange
from sweatline.refrigerant.refrigerant import Refrigerant

# Normal boiling points [K] (R-744: sublimes) and molar masses [kg/mol] of components; textbook.
_COMPONENTS: Final[Mapping[str, tuple[float, float]]] = {
    "R-744": (194.7, 44.01e-3),
    "R-32": (221.5, 52.02e-3),
    "R-125": (225.1, 120.02e-3),
    "R-143a": (225.9, 84.04e-3),
    "R-1234yf": (243.7, 114.04e-3),
    "R-134a": (247.1, 102.03e-3),
    "R-1234ze(E)": (254.2, 114.04e-3),
}
# Mass shares of the blends whose tables hold no composition: ASHRAE 34 (PUBLISHED).
_BY_MASS: Final[Mapping[str, Mapping[str, float]]] = {
    "R-404A": {"R-125": 0.44, "R-143a": 0.52, "R-134a": 0.04},
    "R-407C": {"R-32": 0.23, "R-125": 0.25, "R-134a": 0.52},
    "R-410A": {"R-32": 0.50, "R-125": 0.50},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Fractionation(Answer):
    """Shift of a blend by taking vapour."""

    taken_share: float
    """Of the mass in the cylinder, taken as vapour."""
    light: tuple[str, ...]
    """Components in the light lump of the largest shift."""
    nominal: float
    """Mass share of the light lump in the blend."""
    taken: float
    """In what was taken as vapour."""
    left: float
    """In the liquid that is left."""
    volatility: float
    """Vapour pressure of the light lump over that of the heavy one."""
    bound: bool
    """Three components or more: the largest shift of all ways to lump them."""
    bubble_ratio: float
    """Bubble pressure of what was taken over that of the blend."""


def mole_shares(fluid: Refrigerant) -> dict[str, float]:
    """Mole shares of a blend's components, lightest first; empty for a pure refrigerant."""
    shares = dict(fluid.composition)
    if not shares and fluid.name in _BY_MASS:
        moles = {k: m / _COMPONENTS[k][1] for k, m in _BY_MASS[fluid.name].items()}
        total = sum(moles.values())
        shares = {k: n / total for k, n in moles.items()}
    return dict(sorted(shares.items(), key=lambda item: _COMPONENTS[item[0]][0]))


def volatility(*, light_share: float, bubble: float, dew: float) -> tuple[float, float]:
    """Vapour pressures of a light and a heavy lump in an ideal mixture. [Pa]

    Parameters
    ----------
    light_share : float
        Mole share of the light lump. [-]
    bubble, dew : float
        Of the mixture at one temperature. [Pa]

    Notes
    -----
    With q = p_bubble/p_dew the root above p_bubble is taken; q = 1 is an azeotrope.
    """
    z = light_share
    # (1 - z) P_h = p_b - z P_l put into the second equation: a quadratic in u = P_l/p_b.
    q = max(bubble / dew, 1.0)
    # z (1 - z u) + (1 - z)^2 u = q u (1 - z u)
    a = q * z
    b = (1.0 - z) ** 2 - z * z - q
    c = z
    u = (-b + math.sqrt(max(b * b - 4.0 * a * c, 0.0))) / (2.0 * a)
    light = u * bubble
    heavy = (bubble - z * light) / (1.0 - z)
    return light, heavy


def rayleigh_liquid(*, start: float, left: float, volatility: float) -> float:
    """Mole share of the light lump in the liquid when a share of the moles is left. [-]

    Parameters
    ----------
    start : float
        Mole share at the start. [-]
    left : float
        Moles left over moles at the start. [-]
    volatility : float
        Relative volatility, 1 or more. [-]
    """
    if volatility <= 1.0 + 1e-9:
        return start
    a = volatility
    low, high = 1e-12, start
    for _ in range(80):
        x = 0.5 * (low + high)
        n = (math.log(x / start) + a * math.log((1.0 - start) / (1.0 - x))) / (a - 1.0)
        low, high = (low, x) if n > math.log(left) else (x, high)
    return 0.5 * (low + high)


def fractionation(
    fluid: Refrigerant, *, temperature: float, taken_share: float
) -> Fractionation | None:
    """Shift of a blend when a share of its cylinder is taken as vapour; None for a pure one.

    Parameters
    ----------
    temperature : float
        Of the cylinder. [K]
    taken_share : float
        Of the mass in the cylinder, between 0 and 1. [-]

    Raises
    ------
    OutOfRange
        Nothing or all is taken.
    """
    if not 0.0 < taken_share < 1.0:
        raise OutOfRange(
            "a shift needs a part of the cylinder", name="share taken", value=taken_share,
            low=0.0, high=1.0, unit="",
        )  # fmt: skip
    shares = mole_shares(fluid)
    if len(shares) < 2:
        return None
    bubble = fluid.saturation_pressure_bubble(temperature)
    dew = fluid.saturation_pressure_dew(temperature)
    names = list(shares)
    found = [
        _lumped(names[:k], names[k:], shares, bubble, dew, taken_share)
        for k in range(1, len(names))
    ]
    return max(found, key=lambda f: abs(f.taken - f.nominal))


def _lumped(
    light: list[str],
    heavy: list[str],
    shares: Mapping[str, float],
    bubble: float,
    dew: float,
    taken_share: float,
) -> Fractionation:
    z = sum(shares[n] for n in light)
    m_light = sum(shares[n] * _COMPONENTS[n][1] for n in light) / z
    m_heavy = sum(shares[n] * _COMPONENTS[n][1] for n in heavy) / (1.0 - z)

    def by_mass(x: float) -> float:
        return x * m_light / (x * m_light + (1.0 - x) * m_heavy)

    def mass(n: float, x: float) -> float:
        return n * (x * m_light + (1.0 - x) * m_heavy)

    p_light, p_heavy = volatility(light_share=z, bubble=bubble, dew=dew)
    a = p_light / p_heavy
    # Moles left so that the wanted mass has gone.
    low, high = 0.0, 1.0
    for _ in range(60):
        n = 0.5 * (low + high)
        x = rayleigh_liquid(start=z, left=max(n, 1e-12), volatility=a)
        low, high = (n, high) if mass(n, x) < (1.0 - taken_share) * mass(1.0, z) else (low, n)
    n = 0.5 * (low + high)
    x = rayleigh_liquid(start=z, left=n, volatility=a)
    y = (z - n * x) / (1.0 - n)
    return Fractionation(
        taken_share=taken_share,
        light=tuple(light),
        nominal=by_mass(z),
        taken=by_mass(y),
        left=by_mass(x),
        volatility=a,
        bound=len(light) + len(heavy) > 2,
        bubble_ratio=(y * p_light + (1.0 - y) * p_heavy) / bubble,
    )

r"""What a cylinder holds: its pressure, how full it may be, a blend's shift when vapour is taken.

At rest, liquid and vapour stand at the saturation pressure of their temperature. More is gas that
does not condense, or a lighter fluid; less is no liquid, a heavier fluid or a wrong temperature.
One pressure cannot tell these apart, and it sees neither water nor oil nor odorant at all.

When vapour of a blend is taken instead of liquid, the lighter components leave first. Bubble and
dew pressure of the blend give the vapour pressures of two lumps, light and heavy, in an ideal
mixture,

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
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Q
from sweatline.errors import OutOfRange
from sweatline.refrigerant.refrigerant import Refrigerant

NCG_LIMIT: Final = 0.015  # of the vapour by volume: AHRI 700 (PUBLISHED)
FULLEST: Final = 0.80  # of the volume as liquid, recovery cylinders (MEMORY 0.85)
_CLEAR: Final = 0.95  # chance from which a pressure counts as above or below
# n-butane over isobutane, vapour pressure at 20 C (COMPUTED: 2.08 over 3.02 bar).
_NORMAL_BUTANE: Final = 0.688

SEES: Final = (
    "air or nitrogen in the vapour, from about twice the error of gauge and thermometer",
    "a fluid that boils clearly higher or lower",
    "a cylinder without liquid, which stands below saturation",
)
BLIND: Final = (
    "water: 10 ppm, the limit for refrigerants, does not move a gauge",
    "oil, dust and acid",
    "what is dissolved in small shares: odorant, sulphur, olefins",
)
BLIND_FUEL: Final = (
    "air from propylene or ethane: each raises the pressure",
    "n-butane from isobutane, and a light and a heavy gas that make up for each other",
    "the odorant of fuel gas, a sulphur compound that eats copper and spoils oil",
    "water, which fuel gas may hold many times over: ice stops a capillary and a drier fills",
    "oil, dust and acid",
)

Verdict = Literal["as it should be", "above saturation", "below saturation"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SaturationCheck(Answer):
    """A cylinder's or a resting machine's pressure against saturation."""

    pressure: Annotated[float, Q("pressure", "read")]
    temperature: Annotated[float, Q("temperature")]
    saturation: Annotated[float, Q("pressure", "saturation", "Bubble, at the temperature read.")]
    excess: Annotated[float, Q("pressure difference")]
    excess_sd: Annotated[float, Q("pressure difference")]
    share: float
    """Of the vapour by volume that does not condense, if that is what the excess is; negative
    below saturation."""
    share_sd: float
    chance_over: float
    """That the share is above the limit for refrigerants."""
    chance_below: float
    """That the pressure lies below saturation."""
    limit: float = NCG_LIMIT
    limit_source: str = "AHRI 700 (PUBLISHED), of the vapour by volume"
    sees: tuple[str, ...] = SEES
    """What one pressure can tell."""
    blind_to: tuple[str, ...] = BLIND
    """What it cannot."""

    @property
    def verdict(self) -> Annotated[Verdict, "part of the answer"]:
        """Above or below saturation when the errors leave one chance in twenty against it."""
        if self.chance_below > _CLEAR:
            return "below saturation"
        return "above saturation" if self.chance_below < 1.0 - _CLEAR else "as it should be"


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelGuess(Answer):
    """Mixtures of hydrocarbons that would show a pressure; all that one pressure can say."""

    propane_with_isobutane: float | None
    """Mole share of propane when the rest is isobutane."""
    propane_with_butane: float | None
    """Mole share of propane when the rest is n-butane."""
    propylene_with_propane: float | None
    """Mole share of propylene when the rest is propane."""
    glide: Annotated[
        float | None,
        Q("temperature difference", doc="At this pressure for the first of them, by Raoult."),
    ]


def _normal(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def saturation_check(
    fluid: Refrigerant,
    *,
    pressure: float,
    pressure_sd: float,
    temperature: float,
    temperature_sd: float,
) -> SaturationCheck:
    """Compare a pressure at rest with saturation.

    Parameters
    ----------
    pressure, pressure_sd : float
        Absolute. [Pa]
    temperature, temperature_sd : float
        Of the liquid. [K]

    Raises
    ------
    OutOfRange
        Outside the refrigerant's table.
    """
    saturation = fluid.saturation_pressure_bubble(temperature)
    step = 0.05
    slope = (
        fluid.saturation_pressure_bubble(temperature + step)
        - fluid.saturation_pressure_bubble(temperature - step)
    ) / (2.0 * step)
    excess = pressure - saturation
    sd = math.hypot(pressure_sd, slope * temperature_sd)
    share_sd = sd / pressure
    share = excess / pressure
    return SaturationCheck(
        pressure=pressure,
        temperature=temperature,
        saturation=saturation,
        excess=excess,
        excess_sd=sd,
        share=share,
        share_sd=share_sd,
        chance_over=_normal((share - NCG_LIMIT) / share_sd),
        chance_below=_normal(-excess / sd),
    )


def fuel_guess(
    *,
    pressure: float,
    temperature: float,
    propane: Refrigerant,
    isobutane: Refrigerant,
    propylene: Refrigerant,
) -> FuelGuess:
    """Which mixtures of hydrocarbons would show this pressure over their liquid, by Raoult.

    Parameters
    ----------
    pressure : float
        Absolute. [Pa]
    temperature : float
        Of the liquid. [K]
    propane, isobutane, propylene : Refrigerant
        R-290, R-600a and R-1270.
    """
    heavy = isobutane.saturation_pressure_bubble(temperature)
    middle = propane.saturation_pressure_bubble(temperature)
    light = propylene.saturation_pressure_bubble(temperature)

    def share(low: float, high: float) -> float | None:
        x = (pressure - low) / (high - low)
        return x if 0.0 <= x <= 1.0 else None

    with_isobutane = share(heavy, middle)
    return FuelGuess(
        propane_with_isobutane=with_isobutane,
        propane_with_butane=share(_NORMAL_BUTANE * heavy, middle),
        propylene_with_propane=share(middle, light),
        glide=_glide(with_isobutane, temperature, pressure, propane, isobutane)
        if with_isobutane is not None
        else None,
    )


def _glide(
    x: float, bubble: float, pressure: float, light: Refrigerant, heavy: Refrigerant
) -> float:
    """Dew less bubble temperature of an ideal mixture. [K]"""

    def dew(t: float) -> float:
        a = light.saturation_pressure_bubble(t)
        b = heavy.saturation_pressure_bubble(t)
        return 1.0 / (x / a + (1.0 - x) / b)

    low, high = bubble, bubble + 40.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if dew(middle) < pressure else (low, middle)
    return 0.5 * (low + high) - bubble


def largest_fill(fluid: Refrigerant, *, volume: float, temperature: float) -> float:
    """Most that a cylinder may hold: four fifths of its volume as liquid. [kg]

    Parameters
    ----------
    volume : float
        Of the cylinder. [m3]
    temperature : float
        Warmest at which it is stored. [K]
    """
    bubble = fluid.saturation_pressure_bubble(temperature)
    dew = fluid.saturation_pressure_dew(temperature)
    liquid = fluid.state(p=bubble, quality=0.0).density
    gas = fluid.state(p=dew, quality=1.0).density
    return volume * (FULLEST * liquid + (1.0 - FULLEST) * gas)


def liquid_full_temperature(fluid: Refrigerant, *, mass: float, volume: float) -> float | None:
    """Temperature at which a cylinder is full of liquid and nothing gives any more. [K]

    None when there is room up to the end of the table.

    Parameters
    ----------
    mass : float
        [kg]
    volume : float
        [m3]

    Raises
    ------
    OutOfRange
        It would not even go in as liquid at the cold end of the table.
    """
    wanted = mass / volume
    p_low, p_high = fluid.pressure_range

    def liquid(p: float) -> float:
        return fluid.state(p=p, quality=0.0).density

    if wanted > liquid(p_low):
        raise OutOfRange(
            "as much does not go into the cylinder as liquid",
            "mass", mass, 0.0, liquid(p_low) * volume, "kg",
        )  # fmt: skip
    if wanted < liquid(p_high):
        return None
    low, high = math.log(p_low), math.log(p_high)
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if liquid(math.exp(middle)) > wanted else (low, middle)
    return fluid.saturation_temperature(math.exp(0.5 * (low + high))).bubble


# Normal boiling points [K] (R-744: sublimes) and molar masses [kg/mol] of components; textbook.
_COMPONENTS: Final[Mapping[str, tuple[float, float]]] = {
    "R-744": (194.7, 44.01e-3),
    "R-32": (221.5, 52.02e-3),
    "R-125": (225.1, 120.02e-3),
    "R-1270": (225.5, 42.08e-3),
    "R-143a": (225.9, 84.04e-3),
    "R-290": (231.0, 44.10e-3),
    "R-12": (243.4, 120.91e-3),
    "R-1234yf": (243.7, 114.04e-3),
    "R-134a": (247.1, 102.03e-3),
    "R-152a": (249.1, 66.05e-3),
    "R-1234ze(E)": (254.2, 114.04e-3),
    "R-600a": (261.4, 58.12e-3),
    "R-600": (272.7, 58.12e-3),
}
# Mass shares of the blends whose tables hold no composition: ASHRAE 34 (PUBLISHED).
_BY_MASS: Final[Mapping[str, Mapping[str, float]]] = {
    "R-404A": {"R-125": 0.44, "R-143a": 0.52, "R-134a": 0.04},
    "R-407C": {"R-32": 0.23, "R-125": 0.25, "R-134a": 0.52},
    "R-410A": {"R-32": 0.50, "R-125": 0.50},
    "R-507A": {"R-125": 0.50, "R-143a": 0.50},
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
            "a shift needs a part of the cylinder", "share taken", taken_share, 0.0, 1.0
        )
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

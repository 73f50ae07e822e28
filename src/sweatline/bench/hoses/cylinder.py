"""What a cylinder's pressure says of its content, and how full it may be.

At rest, liquid and vapour stand at the saturation pressure of their temperature. More is gas that
does not condense, or a lighter fluid; less is no liquid, a heavier fluid or a wrong temperature.
One pressure cannot tell these apart, and it sees neither water nor oil nor odorant at all.
"""

from __future__ import annotations

import math
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
            name="mass",
            value=mass,
            low=0.0,
            high=liquid(p_low) * volume,
            unit="kg",
        )
    if wanted < liquid(p_high):
        return None
    low, high = math.log(p_low), math.log(p_high)
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if liquid(math.exp(middle)) > wanted else (low, middle)
    return fluid.saturation_temperature(math.exp(0.5 * (low + high))).bubble

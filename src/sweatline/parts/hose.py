"""Refrigerant that is in the hoses and not in the machine, and what of the weighed mass got in.

    mass in the machine = weighed out - left in the hoses - vented

A hose full of liquid holds as much as a sixth of a small charge; pulled back into the low side it
leaves its gas behind.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Q, Range, ask, need
from sweatline.constants import NINE_TENTHS
from sweatline.errors import JobError, OutOfRange
from sweatline.refrigerant.refrigerant import Refrigerant

HoseState = Literal["liquid", "gas", "mixed", "pulled back"]

# A hose sold by its outside is what it is inside only to some tenths (MEMORY 0.65).
BORE_SD: Final = 0.2e-3  # m
_LENGTH_SD: Final = 0.02  # relative
_NET_SD: Final = 0.01  # relative, filling of small cans (MEMORY 0.4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hose:
    """One hose at the end of the work."""

    bore: float = need("Inside.", "bore", 0.5e-3, 0.05, error=0.0)  # m
    length: float = need("Of the hose.", "length", 1e-3, 100.0)  # m
    state: HoseState = need("As it is left.")
    pressure: float | None = ask("In it, if known.", "pressure")  # Pa absolute; None: saturation
    bore_sd: float = BORE_SD  # m

    def check(self, _before: Hose | None) -> None:
        """Refuse a hose of gas whose pressure nobody said."""
        if self.state in ("gas", "pulled back") and self.pressure is None:
            raise JobError(
                what=f"how much gas a hose holds depends on its pressure (state {self.state})",
                allowed='add it as a fourth field, as "2 bar(g)"',
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class HoseContent(Answer):
    """What a hose holds at the end, and how well that is known."""

    bore: Annotated[float, Q("bore")]
    length: Annotated[float, Q("length")]
    state: HoseState
    pressure: Annotated[float, Q("pressure")]
    mass: Annotated[float, Q("mass")]
    sd: Annotated[float, Q("mass", doc="Standard deviation.")]
    returned: Annotated[
        float, Q("mass", doc="Went back into the low side when it was pulled; 0 for other states.")
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Container:
    """A cylinder or can on the scale, before and after."""

    before: float = need("Before.", "mass", 0.0, 200.0)  # kg
    after: float = need("And after.", "mass", 0.0, 200.0)  # kg

    def check(self, _other: Container | None) -> None:
        """Refuse masses in the wrong order."""
        if self.after > self.before:
            raise JobError(
                what="a container that was charged from weighs more than before",
                allowed="the mass before comes first",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Can:
    """A small can nobody weighed: what its label says, less the gas that stays in it."""

    net: float = need("By its label.", "mass", 1e-3, 20.0)  # kg
    volume: float = need("Of the can.", "volume", 1e-5, 0.1)  # m3
    pressure: float = need("At the end.", "pressure")  # Pa absolute


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineCharge(Answer):
    """What of the weighed mass is in the machine."""

    mass: Annotated[float, Q("mass", "in the machine")]
    sd: Annotated[float, Q("mass", doc="Standard deviation.")]
    weighed: Annotated[float, Q("mass", "weighed out", "Out of all containers.")]
    weighed_sd: Annotated[float, Q("mass")]
    in_hoses: Annotated[float, Q("mass", "left in hoses", digits=2)]
    in_hoses_sd: Annotated[float, Q("mass")]
    vented: Annotated[float, Q("mass", "vented or lost", digits=2)]
    vented_sd: Annotated[float, Q("mass")]

    @property
    def likely(self) -> Annotated[Range, Q("mass", doc="Range that holds the mass 9 times in 10.")]:
        """Range that holds the mass 9 times in 10. [kg]"""
        reach = NINE_TENTHS * self.sd
        return Range(low=self.mass - reach, middle=self.mass, high=self.mass + reach)


def _densities(
    fluid: Refrigerant, temperature: float, pressure: float | None
) -> tuple[float, float, float]:
    """Liquid and gas density [kg/m3] and the pressure they stand at [Pa]."""
    bubble = fluid.saturation_pressure_bubble(temperature)
    dew = fluid.saturation_pressure_dew(temperature)
    if pressure is not None and pressure > bubble:
        liquid = fluid.state(p=pressure, T=temperature).density
    else:
        liquid = fluid.state(p=bubble, quality=0.0).density
    if pressure is not None and pressure < dew * (1.0 - 1e-9):
        gas = fluid.state(p=pressure, T=temperature).density
    else:
        gas = fluid.state(p=dew, quality=1.0).density
    return liquid, gas, bubble if pressure is None else pressure


def hose_content(fluid: Refrigerant, hose: Hose, temperature: float) -> HoseContent:
    """Refrigerant in a hose.

    Parameters
    ----------
    temperature : float
        Of the hose. [K]

    Notes
    -----
    *mixed* is anything between gas and liquid, each share as likely. *pulled back* was full of
    liquid and was drawn empty into the low side at its pressure.

    Raises
    ------
    OutOfRange
        Outside the refrigerant's table, or liquid below its saturation pressure.
    """
    volume = 0.25 * math.pi * hose.bore**2 * hose.length
    relative = math.hypot(2.0 * hose.bore_sd / hose.bore, _LENGTH_SD)
    liquid, gas, pressure = _densities(fluid, temperature, hose.pressure)
    bubble = fluid.saturation_pressure_bubble(temperature)
    returned = spread = 0.0
    if hose.state == "liquid":
        if hose.pressure is not None and hose.pressure < 0.9 * bubble:
            raise OutOfRange(
                "a hose below saturation holds no liquid",
                "pressure", hose.pressure, bubble, fluid.pressure_range[1], "Pa",
            )  # fmt: skip
        density = liquid
    elif hose.state == "mixed":
        density = 0.5 * (liquid + gas)
        spread = (liquid - gas) / math.sqrt(12.0)
    else:
        density = gas
        if hose.state == "pulled back":
            full = fluid.state(p=bubble, quality=0.0).density
            returned = volume * (full - gas)
    return HoseContent(
        bore=hose.bore,
        length=hose.length,
        state=hose.state,
        mass=volume * density,
        sd=volume * math.hypot(relative * density, spread),
        returned=returned,
        pressure=pressure,
    )


def can_used(fluid: Refrigerant, can: Can, temperature: float) -> tuple[float, float]:
    """Mass out of a can and its standard deviation. [kg]

    Parameters
    ----------
    temperature : float
        Of the can at the end. [K]

    Raises
    ------
    OutOfRange
        More gas stays in it than it held.
    """
    _, gas, _ = _densities(fluid, temperature, can.pressure)
    used = can.net - can.volume * gas
    if used < 0.0:
        raise OutOfRange(
            "more gas stays in the can than it held", "volume", can.volume, 0.0, can.net / gas, "m3"
        )
    return used, math.hypot(_NET_SD * can.net, 0.1 * can.volume * gas)


def in_machine(
    fluid: Refrigerant,
    *,
    containers: Sequence[Container],
    cans: Sequence[Can],
    hoses: Sequence[HoseContent],
    lost: Sequence[tuple[float, float]],
    temperature: float,
    scale_step: float,
    scale_share: float,
) -> MachineCharge:
    """Mass in the machine with its uncertainty.

    Parameters
    ----------
    containers : sequence of Container
        Weighed before and after.
    cans : sequence of Can
        Not weighed.
    hoses : sequence of HoseContent
        As they are left.
    lost : sequence of (float, float)
        What was vented or lost at changes of container, and the standard deviation. [kg]
    temperature : float
        Of the cans. [K]
    scale_step : float
        Smallest step of the scale. [kg]
    scale_share : float
        Its calibration error, relative; the same in all weighings. [-]

    Raises
    ------
    OutOfRange
        A container weighs more afterwards by more than the scale's steps.
    """
    weighed = variance = 0.0
    for c in containers:
        if c.after > c.before + 2.0 * scale_step:
            raise OutOfRange(
                "a container that was charged from weighs more than before",
                "mass afterwards", c.after, 0.0, c.before, "kg",
            )  # fmt: skip
        weighed += c.before - c.after
        variance += 2.0 * scale_step**2 / 12.0
    variance += (scale_share * weighed) ** 2
    for can in cans:
        used, sd = can_used(fluid, can, temperature)
        weighed += used
        variance += sd**2
    left = sum(h.mass for h in hoses)
    # Bores that came off one reel are wrong together, so their errors add.
    left_sd = sum(h.sd for h in hoses)
    vented = sum(mass for mass, _ in lost)
    vented_sd = math.sqrt(sum(sd**2 for _, sd in lost))
    return MachineCharge(
        mass=weighed - left - vented,
        sd=math.sqrt(variance + left_sd**2 + vented_sd**2),
        weighed=weighed,
        weighed_sd=math.sqrt(variance),
        in_hoses=left,
        in_hoses_sd=left_sd,
        vented=vented,
        vented_sd=vented_sd,
    )

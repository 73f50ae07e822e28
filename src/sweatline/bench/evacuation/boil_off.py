r"""Water in a circuit under vacuum: how fast it boils away, and when it freezes instead.

The vapour leaves as fast as hose and pump take it, and takes its latent heat with it. The water
cools until as much heat comes from the room:

    S(p) p M/(R T) h = UA (T_room - T_w),   p = saturation at T_w

Where that balance lies below the triple point the water freezes and the ice sublimes, more slowly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from sweatline.air.moist import saturation_pressure
from sweatline.answers import Answer, Hidden, Q
from sweatline.bench.evacuation.pump_down import Segment, before_pump, way_for
from sweatline.constants import GAS_CONSTANT
from sweatline.errors import OutOfRange

WATER_MOLAR_MASS: Final = 18.015268e-3  # kg/mol
TRIPLE: Final = 273.16  # K
_EVAPORATION: Final = 2.50e6  # J/kg near 0 C, textbook
_SUBLIMATION: Final = 2.834e6  # J/kg, textbook
_COLDEST: Final = 213.15  # K


def _viscosity(temperature: float) -> float:
    """Viscosity of thin water vapour. [Pa*s] Textbook: 9.2e-6 at 0 C, rising as T**1.1."""
    return float(9.2e-6 * (temperature / 273.15) ** 1.1)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilOff(Answer):
    """How water leaves under vacuum once the air is gone."""

    place: Literal["bare tube", "coil or shell"]
    water: Annotated[float, Q("mass")]
    rate: Annotated[float, Hidden()]  # kg/s
    time: Annotated[float, Q("time", doc="Null when it never ends.")]
    temperature: Annotated[float, Q("temperature", doc="Of the water while it boils.")]
    pressure: Annotated[float, Q("absolute pressure", doc="Over the water.")]
    at_pump: Annotated[float, Q("absolute pressure")]
    freezes: bool
    limited_by_heat: bool
    """More than half of the rate without that limit is lost to cooling."""


def vapour_volume(mass: float, *, pressure: float, temperature: float) -> float:
    """Volume of so much water as vapour. [m3]

    Parameters
    ----------
    mass : float
        [kg]
    pressure : float
        [Pa]
    temperature : float
        [K]
    """
    return mass * GAS_CONSTANT * temperature / (WATER_MOLAR_MASS * pressure)


def tube_heat(*, outer_diameter: float, wall: float, air_side: float = 8.0) -> float:
    """Heat that reaches a drop in a bare copper tube, along the tube as a fin. [W/K]

    Parameters
    ----------
    outer_diameter, wall : float
        [m]
    air_side : float
        Still air and radiation. [W/(m2*K)] 8 is common for small tubes (textbook 6 to 12).

    Notes
    -----
    UA = 2 sqrt(h P k A): two long fins, perimeter P and metal section A, k of copper 390 W/(m K).
    """
    perimeter = math.pi * outer_diameter
    metal = math.pi * (outer_diameter - wall) * wall
    return 2.0 * math.sqrt(air_side * perimeter * 390.0 * metal)


def boil_off(
    mass: float,
    *,
    room: float,
    heat: float | None,
    segments: Sequence[Segment],
    speed: float,
    ultimate: float,
) -> BoilOff:
    """Steady boiling of water under vacuum.

    Parameters
    ----------
    mass : float
        [kg]
    room : float
        Temperature of the room, above freezing. [K]
    heat : float or None
        Conductance from the room to the water; None when heat is no limit, as in a finned coil
        or a warm shell. [W/K]
    segments : sequence of Segment
        Tubes between water and pump.
    speed : float
        Of the pump. [m3/s]
    ultimate : float
        Of the pump. [Pa]

    Raises
    ------
    OutOfRange
        The room freezes, or the pump cannot reach the vapour pressure of its ice.
    """
    if not TRIPLE < room < 333.15:
        raise OutOfRange(
            "water is dried out of a circuit above freezing only",
            name="room temperature",
            value=room,
            low=TRIPLE,
            high=333.15,
            unit="K",
        )

    def leaving(t: float) -> tuple[float, float]:
        """Mass flow and pressure before the pump with the water at a temperature."""
        way = way_for(
            segments, molar_mass=WATER_MOLAR_MASS, viscosity=_viscosity(room), temperature=room
        )
        p = float(saturation_pressure(t))
        if p <= ultimate:
            return 0.0, ultimate
        pump = before_pump([(way, p)], speed=speed, ultimate=ultimate)
        flow = speed * (pump - ultimate)
        return flow * WATER_MOLAR_MASS / (GAS_CONSTANT * room), pump

    free, _ = leaving(room)
    if free <= 0.0:
        raise OutOfRange("the pump does not reach the vapour pressure of water in this room")
    temperature = room
    if heat is not None:

        def missing(t: float) -> float:
            latent = _EVAPORATION if t >= TRIPLE else _SUBLIMATION
            return leaving(t)[0] * latent - heat * (room - t)

        low, high = _COLDEST, room
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if missing(middle) > 0.0 else (middle, high)
        temperature = 0.5 * (low + high)
    rate, pump = leaving(temperature)
    return BoilOff(
        place="coil or shell" if heat is None else "bare tube",
        water=mass,
        rate=rate,
        time=mass / rate if rate > 0.0 else math.inf,
        temperature=temperature,
        pressure=float(saturation_pressure(temperature)),
        at_pump=pump,
        freezes=temperature < TRIPLE,
        limited_by_heat=rate < 0.5 * free,
    )

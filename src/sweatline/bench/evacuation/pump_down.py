r"""Evacuation through real hoses: how long until both sides of a machine are empty, and dry.

Two volumes, joined by the capillary, each with its own way to the pump or none. A way is tubes in
series; its throughput is the sum of viscous and molecular flow, as vacuum handbooks have it,

    Q = (p1^2 - p2^2)/(2 Rv) + (p1 - p2)/Rm
    Rv = sum 128 eta L/(pi d^4),   Rm = sum 12 (L + 4d/3)/(pi d^3 v)

and the pump takes Q = S (p - pu) from where the ways meet. With these the pressure before the pump
is the root of a quadratic, and the two volumes are two ordinary differential equations.

Water vapour leaves as fast as hose and pump take it, and takes its latent heat with it. The water
cools until as much heat comes from the room:

    S(p) p M/(R T) h = UA (T_room - T_w),   p = saturation at T_w

Where that balance lies below the triple point the water freezes and the ice sublimes, more slowly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import TRIPLE_POINT, saturation_pressure
from sweatline.air.permanent_gas import AIR
from sweatline.answers import Answer, Hidden, Q, need
from sweatline.constants import GAS_CONSTANT
from sweatline.errors import OutOfRange

FloatArray = NDArray[np.float64]

_LONGEST = 30.0 * 86400.0  # s


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """One tube of a way: a hose, a fitting, a valve core, a capillary."""

    bore: float = need("Inside.", "bore", 0.1e-3, 0.1)  # m
    length: float = need("Of the tube.", "length", 0.5e-3, 100.0)  # m


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """Resistance of tubes in series to one gas at one temperature."""

    viscous: float  # Rv, s*Pa/m3
    molecular: float  # Rm, s/m3

    def throughput(self, before: float, behind: float) -> float:
        """Throughput from one pressure to another, negative backwards. [Pa*m3/s]

        Parameters
        ----------
        before, behind : float
            [Pa]
        """
        drop = before - behind
        return drop * (0.5 * (before + behind) / self.viscous + 1.0 / self.molecular)

    def conductance(self, pressure: float) -> float:
        """Throughput per pressure difference at a mean pressure. [m3/s]

        Parameters
        ----------
        pressure : float
            [Pa]
        """
        return pressure / self.viscous + 1.0 / self.molecular


def way_for(
    segments: Sequence[Segment], *, molar_mass: float, viscosity: float, temperature: float
) -> Way:
    """Resistance of tubes in series to a gas.

    Parameters
    ----------
    segments : sequence of Segment
        At least one.
    molar_mass : float
        [kg/mol]
    viscosity : float
        [Pa*s]
    temperature : float
        [K]

    Raises
    ------
    ValueError
        No tube at all.
    """
    if not segments:
        raise ValueError("a way needs a tube")
    speed = math.sqrt(8.0 * GAS_CONSTANT * temperature / (math.pi * molar_mass))
    viscous = sum(128.0 * viscosity * s.length / (math.pi * s.bore**4) for s in segments)
    molecular = sum(
        12.0 * (s.length + 4.0 / 3.0 * s.bore) / (math.pi * s.bore**3 * speed) for s in segments
    )
    return Way(viscous=viscous, molecular=molecular)


def air_way(segments: Sequence[Segment], temperature: float) -> Way:
    """Resistance of tubes in series to air.

    Parameters
    ----------
    temperature : float
        [K]
    """
    return way_for(
        segments,
        molar_mass=AIR.molar_mass,
        viscosity=AIR.viscosity(temperature),
        temperature=temperature,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """A machine at the pump."""

    low_volume: float  # m3
    high_volume: float  # m3
    capillary: Way
    low: Way | None  # from the low side to the pump; None when it is not connected
    high: Way | None
    speed: float  # m3/s of the pump
    ultimate: float  # Pa, of the pump alone
    gas_load: float = 0.0  # Pa*m3/s that leaks and comes out of the walls and the oil


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpDown(Answer):
    """Course of an evacuation from one side or from both."""

    connected: Literal["both", "low", "high"]
    asked: bool = True
    """Whether these are the hoses that were given; the others are shown for comparison."""
    time: Annotated[FloatArray, Hidden()]  # s
    low: Annotated[FloatArray, Hidden()]  # Pa
    high: Annotated[FloatArray, Hidden()]  # Pa
    at_pump: Annotated[FloatArray, Hidden()]  # Pa
    reached_after: Annotated[
        float | None, Q("time", doc="Both sides at the target; null within thirty days.")
    ]
    gauge_when_reached: Annotated[
        float | None,
        Q("absolute pressure", doc="At the pump at that moment, the worse side at the target."),
    ]
    ultimate: Annotated[float, Q("absolute pressure", doc="Of the worse side, in the end.")]


def before_pump(
    ways: Sequence[tuple[Way | None, float]], *, speed: float, ultimate: float
) -> float:
    """Pressure where the ways meet: what flows in is what the pump takes. [Pa]

    Parameters
    ----------
    ways : sequence of (Way or None, float)
        Each with the pressure at its far end; None is not connected. [Pa]
    speed : float
        Of the pump. [m3/s]
    ultimate : float
        Of the pump. [Pa]
    """
    a = b = c = 0.0
    for way, p in ways:
        if way is not None:
            a += 0.5 / way.viscous
            b += 1.0 / way.molecular
            c += 0.5 * p * p / way.viscous + p / way.molecular
    b += speed
    c += speed * ultimate
    # a p^2 + b p - c = 0, in the form without a difference of near numbers
    return 2.0 * c / (b + math.sqrt(b * b + 4.0 * a * c))


def pump_down(circuit: Circuit, *, start: float, target: float) -> PumpDown:
    """Course of the pressures from a start until the target or the end of what the pump can do.

    The load of gas is shared by the volumes.

    Parameters
    ----------
    circuit : Circuit
        Machine, hoses and pump.
    start : float
        Pressure of both sides. [Pa]
    target : float
        To be reached by both sides. [Pa]

    Raises
    ------
    OutOfRange
        No side is connected, or the target is not below the start.
    """
    from scipy.integrate import solve_ivp

    if circuit.low is None and circuit.high is None:
        raise OutOfRange("neither side is connected to the pump")
    if not 0.0 < target < start:
        raise OutOfRange("nothing to evacuate", "target", target, 0.0, start, "Pa")
    whole = circuit.low_volume + circuit.high_volume

    def at(low: float, high: float) -> float:
        ways = ((circuit.low, low), (circuit.high, high))
        return before_pump(ways, speed=circuit.speed, ultimate=circuit.ultimate)

    def rates(_t: float, y: FloatArray) -> list[float]:
        # A pump without an end of its own would go to nothing.
        low, high = math.exp(max(y[0], -30.0)), math.exp(max(y[1], -30.0))
        pump = at(low, high)
        across = circuit.capillary.throughput(high, low)
        out_low = circuit.low.throughput(low, pump) if circuit.low is not None else 0.0
        out_high = circuit.high.throughput(high, pump) if circuit.high is not None else 0.0
        share = circuit.gas_load / whole
        return [
            ((across - out_low) / circuit.low_volume + share) / low,
            ((-across - out_high) / circuit.high_volume + share) / high,
        ]

    def worse(_t: float, y: FloatArray) -> float:
        return float(max(y[0], y[1]) - math.log(target))

    worse.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(
        rates,
        (0.0, _LONGEST),
        [math.log(start)] * 2,
        method="BDF",
        events=worse,
        rtol=1e-6,
        atol=1e-8,
        first_step=1e-4,
    )
    low, high = np.exp(found.y[0]), np.exp(found.y[1])
    at_pump = np.array([at(a, b) for a, b in zip(low, high, strict=True)])
    reached = float(found.t_events[0][0]) if found.t_events[0].size else None
    if reached is None:
        ultimate = float(max(low[-1], high[-1]))
    else:
        rest = solve_ivp(rates, (0.0, _LONGEST), found.y[:, -1], method="BDF", rtol=1e-5, atol=1e-7)
        ultimate = float(np.exp(np.maximum(rest.y[:, -1], -30.0)).max())
    return PumpDown(
        connected="high" if circuit.low is None else "low" if circuit.high is None else "both",
        time=found.t,
        low=low,
        high=high,
        at_pump=at_pump,
        reached_after=reached,
        gauge_when_reached=float(at_pump[-1]) if reached is not None else None,
        ultimate=ultimate,
    )


def sweeps_needed(*, reached: float, target: float, atmosphere: float) -> int:
    """Evacuations broken with dry nitrogen that leave no more air than one to the target.

    Each dilutes what is left by the pressure reached over the atmosphere.

    Parameters
    ----------
    reached : float
        Pressure at the end of each. [Pa]
    target : float
        Of the one evacuation they stand for. [Pa]
    atmosphere : float
        To which the vacuum is broken each time. [Pa]

    Raises
    ------
    OutOfRange
        No evacuation at all.
    """
    if not 0.0 < reached < atmosphere:
        raise OutOfRange("nothing is diluted", "pressure", reached, 0.0, atmosphere, "Pa")
    if target >= reached:
        return 1
    return math.ceil(math.log(target / atmosphere) / math.log(reached / atmosphere) - 1e-9)


WATER_MOLAR_MASS: Final = 18.015268e-3  # kg/mol
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
    if not TRIPLE_POINT < room < 333.15:
        raise OutOfRange(
            "water is dried out of a circuit above freezing only",
            "room temperature", room, TRIPLE_POINT, 333.15, "K",
        )  # fmt: skip

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
            latent = _EVAPORATION if t >= TRIPLE_POINT else _SUBLIMATION
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
        freezes=temperature < TRIPLE_POINT,
        limited_by_heat=rate < 0.5 * free,
    )

r"""What a leak loses of the refrigerant at rest: by a test, or by a machine's past.

The past says what the machine held, and how long until it was weak or empty.
While liquid remains a machine at rest stands at saturation and loses at a constant rate; after
the last liquid the vapour's pressure falls with its mass. With m'(p) = m'0 f(p) the time is

    t = (1/m'0) * [ (m0 - mv) + integral from m_end to mv of dm/f(p(m)) ]

so the rate at the start is an effective mass over a time. f follows from how the gas gets out:
choked p, viscous p^2 - pa^2, molecular p (refrigerant diffuses out by its own pressure). A leak
below a liquid level loses liquid first, and its gas some ten times more slowly.
"""

from __future__ import annotations

import collections
import math
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from sweatline.answers import Answer, Hidden, Q, Range, range_of
from sweatline.bench.leak_channel import (
    Channels,
    LeakGas,
    Regime,
    even_samples,
    liquid_flow,
    possible_channels,
    regime,
    vapour,
)
from sweatline.bench.tightness.pressure_hold import Hold
from sweatline.errors import OutOfRange
from sweatline.refrigerant.refrigerant import Refrigerant

FloatArray = NDArray[np.float64]
SHAPES: Final = 128  # of a leak that are looked at


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak(Answer):
    """What a leak, found in a test or measured, does to the refrigerant at rest."""

    loss: Annotated[Range, Q("leak rate", doc="Over the shapes that a leak may have.", digits=2)]
    regime: Regime | None
    """How the refrigerant gets out; null when no leak was found."""
    bore: Annotated[
        float | None, Q("roughness", "as one round hole", "Median of the shapes.", digits=2)
    ]
    liquid_factor: float | None
    """How many times as much the same leak loses below a liquid level, at most."""
    smallest_seen: Annotated[
        float | None,
        Q("leak rate", "smallest leak it shows", "By the test that was read.", digits=2),
    ]


@dataclass(frozen=True, slots=True)
class AtRest:
    """A machine that stands: liquid refrigerant and its vapour, against the air outside."""

    fluid: Refrigerant
    temperature: float  # K
    outside: float  # Pa
    pressure: float  # Pa
    gas: LeakGas

    @classmethod
    def of(cls, fluid: Refrigerant, temperature: float, outside: float) -> AtRest:
        """The machine at a temperature [K], the air outside at a pressure. [Pa]"""
        pressure = fluid.saturation_pressure_dew(temperature)
        gas = vapour(fluid, pressure=pressure, temperature=temperature)
        return cls(fluid, temperature, outside, pressure, gas)

    @property
    def loses(self) -> bool:
        """Whether a leak lets refrigerant out, and not air in."""
        return self.pressure > self.outside

    def flow(self, channels: Channels) -> FloatArray:
        """Refrigerant lost by each shape. [kg/s]"""
        return channels.flow(inside=self.pressure, outside=self.outside, gas=self.gas)

    def losing(self, mass_flow: FloatArray | float) -> Channels:
        """Shapes of a leak that loses so much. [kg/s]"""
        return possible_channels(
            mass_flow, SHAPES, inside=self.pressure, outside=self.outside, gas=self.gas
        )

    def leak(self, channels: Channels, *, found: bool, smallest: Channels | None = None) -> Leak:
        """Loss through these shapes; their looks only when a leak was found.

        Parameters
        ----------
        smallest : Channels, optional
            Shapes of the smallest leak that the test could have shown.
        """
        flow = self.flow(channels)
        least = None if smallest is None else float(np.median(self.flow(smallest)))
        return Leak(
            loss=range_of(flow),
            regime=self._regime(channels, flow) if found else None,
            bore=float(np.median(channels.bore)) if found else None,
            liquid_factor=self._liquid_factor(channels, flow) if found else None,
            smallest_seen=least,
        )

    def _regime(self, channels: Channels, flow: FloatArray) -> Regime:
        """How the refrigerant gets through most of the shapes."""
        ends = {"inside": self.pressure, "outside": self.outside}
        counts = collections.Counter(
            regime(bore=float(b), gas=self.gas, flow=float(m / n), **ends)
            for b, m, n in zip(channels.bore, flow, channels.number, strict=True)
        )
        return counts.most_common(1)[0][0]

    def _liquid_factor(self, channels: Channels, flow: FloatArray) -> float:
        bubble = self.fluid.saturation_pressure_bubble(self.temperature)
        liquid = self.fluid.state(p=bubble, quality=0.0)
        as_liquid = channels.number * liquid_flow(
            channels.bore,
            channels.length,
            drop=self.pressure - self.outside,
            density=liquid.density,
            viscosity=liquid.viscosity,
        )
        return float(np.median(as_liquid / flow))


def sampled_rates(hold: Hold) -> FloatArray:
    """Rates that the readings allow: a normal law cut off at none. [Pa*m3/s]"""
    u = even_samples(SHAPES, 3, seed=1)[:, 2]
    cut = ndtr(-hold.rate / hold.rate_sd)
    z = ndtri(np.clip(cut + u * (1.0 - cut), 1e-12, 1.0 - 1e-12))
    return np.asarray(np.maximum(hold.rate + hold.rate_sd * z, 1e-4 * hold.rate_sd))


Way = Literal["choked", "viscous", "molecular", "liquid"]

_STEPS = 400
# Where a machine counts as empty: the gauge shows this little, or the vapour this little more
# than the air around it. Judged: nobody tells less from nothing on a service gauge.
_NOTHING = 10e3  # Pa


@dataclass(frozen=True, slots=True, kw_only=True)
class ImpliedLeak(Answer):
    """Rate at the start that a past implies, for one way of getting out."""

    way: Way
    rate: Annotated[float, Q("leak rate", doc="At the start, while liquid remains, at rest.")]
    liquid_gone_after: Annotated[float, Q("time")]
    mass_left: Annotated[float, Hidden()]  # kg, at the end


@dataclass(frozen=True, slots=True, kw_only=True)
class History(Answer):
    """What the past of the machine says of its leak."""

    refrigerant: str
    held: Annotated[float, Q("mass")]
    after: Annotated[float, Q("time")]
    left_share: float | None
    """Null: empty."""
    rest_pressure: Annotated[float, Q("pressure")]
    ways: tuple[ImpliedLeak, ...]
    rate: Annotated[
        Range, Q("leak rate", doc="Over the ways gas gets out, and the errors of what was told.")
    ]


def implied_by_the_past(
    rest: AtRest,
    *,
    held: float,
    held_sd: float,
    after: float,
    after_sd: float,
    left_share: float | None,
    volume: float,
) -> tuple[History, Channels]:
    """Leak rate that the past implies, and shapes that leak as much.

    Parameters
    ----------
    rest : AtRest
        The machine with the refrigerant that it held.
    held, held_sd : float
        Mass that it held when full, and its standard deviation. [kg]
    after, after_sd : float
        How long until it was weak or empty, and the standard deviation. [s]
    left_share : float or None
        Of the mass, left then; None for empty. [-]
    volume : float
        Inside volume. [m3]

    Raises
    ------
    OutOfRange
        As :func:`implied_leak`.
    """
    ways: tuple[Way, ...] = ("choked", "viscous", "molecular", "liquid")
    found = tuple(
        implied_leak(
            rest.fluid,
            way,
            held=held,
            left_share=left_share,
            after=after,
            temperature=rest.temperature,
            volume=volume,
            outside=rest.outside,
        )
        for way in ways
    )
    # The gas gets out in one of three ways, nobody knows which; what was told has errors.
    u = even_samples(SHAPES, 3, seed=2)
    which = np.minimum((3.0 * u[:, 0]).astype(int), 2)
    rates = np.array([leak.rate for leak in found])[which]
    more_held = 1.0 + held_sd / held * ndtri(u[:, 1])
    longer = np.exp(after_sd / after * ndtri(u[:, 2]))
    rates = rates * np.maximum(more_held, 0.1) / longer
    history = History(
        refrigerant=rest.fluid.name,
        held=held,
        after=after,
        left_share=left_share,
        rest_pressure=rest.pressure,
        ways=found,
        rate=range_of(rates),
    )
    return history, rest.losing(rates)


def mass_at_rest(
    fluid: Refrigerant, *, pressure: float, temperature: float, volume: float
) -> float:
    """Vapour in a volume below saturation. [kg]

    Parameters
    ----------
    pressure : float
        Absolute. [Pa]
    temperature : float
        [K]
    volume : float
        [m3]
    """
    dew = fluid.saturation_pressure_dew(temperature)
    if pressure >= dew * (1.0 - 1e-9):
        return volume / fluid.state(p=dew, quality=1.0).volume
    return volume / fluid.state(p=pressure, T=temperature).volume


def _share(way: Way, p: FloatArray, start: float, outside: float, gas_share: float) -> FloatArray:
    """Rate over that at the start, for pressures below saturation."""
    if way == "molecular":
        return np.asarray(p / start)
    if way == "viscous":
        return np.asarray((p**2 - outside**2) / (start**2 - outside**2))
    # Through a short opening: choked down to some twice the outside, then towards rest.
    ratio = np.clip(outside / p, 0.0, 1.0)
    opening = np.where(ratio < 0.5, 1.0, np.sqrt(np.maximum(1.0 - (2.0 * ratio - 1.0) ** 2, 0.0)))
    first = outside / start
    at_start = 1.0 if first < 0.5 else math.sqrt(max(1.0 - (2.0 * first - 1.0) ** 2, 1e-12))
    found = p / start * opening / at_start
    return np.asarray(gas_share * found if way == "liquid" else found)


def implied_leak(
    fluid: Refrigerant,
    way: Way,
    *,
    held: float,
    left_share: float | None,
    after: float,
    temperature: float,
    volume: float,
    outside: float,
) -> ImpliedLeak:
    """Leak rate that makes a machine weak or empty in a given time.

    Parameters
    ----------
    fluid : Refrigerant
        What it held.
    way : str
        ``choked``, ``viscous``, ``molecular`` or ``liquid``.
    held : float
        Mass at the start. [kg]
    left_share : float or None
        Share of it left at the end; None for empty, no pressure on the gauge. [-]
    after : float
        [s]
    temperature : float
        Of the machine at rest. [K]
    volume : float
        Inside volume. [m3]
    outside : float
        Atmosphere. [Pa]

    Raises
    ------
    OutOfRange
        Saturation is not above the atmosphere, or as much could not have left.
    """
    start = fluid.saturation_pressure_dew(temperature)
    if start <= outside + _NOTHING:
        raise OutOfRange(
            f"{fluid.name} at this temperature stands at or below the atmosphere: a leak draws "
            "air in, and says nothing by what was lost",
            "pressure at rest", start, outside + _NOTHING, math.inf, "Pa",
        )  # fmt: skip
    vapour = mass_at_rest(fluid, pressure=start, temperature=temperature, volume=volume)
    empty = mass_at_rest(fluid, pressure=outside + _NOTHING, temperature=temperature, volume=volume)
    end = empty if left_share is None else left_share * held
    if not empty * (1.0 - 1e-9) <= end < held:
        raise OutOfRange("as much cannot have left by itself", "mass left", end, empty, held, "kg")
    gas_share = 1.0
    if way == "liquid":
        # Through one opening at one drop, mass goes with the root of the density.
        bubble = fluid.saturation_pressure_bubble(temperature)
        liquid = 1.0 / fluid.state(p=bubble, quality=0.0).volume
        gas_share = math.sqrt(vapour / volume / liquid)
    boiling = max(held - max(vapour, end), 0.0)
    falling = 0.0
    top = min(vapour, held)
    if end < top:
        falling = _falling(fluid, way, end, top, start, temperature, volume, outside, gas_share)
    rate = (boiling + falling) / after
    return ImpliedLeak(
        way=way, rate=rate, liquid_gone_after=max(held - vapour, 0.0) / rate, mass_left=end
    )


def _falling(
    fluid: Refrigerant,
    way: Way,
    end: float,
    top: float,
    start: float,
    temperature: float,
    volume: float,
    outside: float,
    gas_share: float,
) -> float:
    """Integral of dm/f over the part where only vapour is left. [kg]"""
    p = np.geomspace(outside + 0.5 * _NOTHING, start, _STEPS)
    m = [mass_at_rest(fluid, pressure=v, temperature=temperature, volume=volume) for v in p]
    at = np.linspace(end, top, _STEPS)
    pressure = np.interp(at, m, p)
    inverse = 1.0 / _share(way, pressure, start, outside, gas_share)
    return float(np.trapezoid(inverse, at))

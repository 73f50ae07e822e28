"""What a leak that a test gas showed does to the refrigerant of the machine at rest."""

from __future__ import annotations

import collections
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from sweatline.answers import Answer, Q, Range, range_of
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

r"""What each instrument shows of a machine, in quantities that go smoothly through every corner.

A thermometer on the suction tube shows the dew temperature as long as liquid leaves the evaporator,
and that corner is where most machines run. So a state is described by quantities that go on beyond
it: superheat and subcooling below zero, as what is missing of them. What a thermometer then shows,
with a superheat known to be :math:`u \sim N(m, s^2)`, has the mean and the slope

.. math:: E[\max(u, 0)] = m\,\Phi(m/s) + s\,\varphi(m/s), \qquad \Phi(m/s) .

Pressures, watts, charge and water are logarithms. The table of channels says which reading shows
which of these quantities.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.assemble import circuit_pieces
from sweatline.assembly.build import Build
from sweatline.diagnosis.faults import at_rest
from sweatline.machine.balance import SteadyState
from sweatline.machine.circuit import MachineParameters
from sweatline.parts.capillary import CapillaryParameters
from sweatline.parts.coil import CoilParameters
from sweatline.refrigerant.table import (
    dew_pressure,
    saturation,
    saturation_transport,
    state,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class Seen(NamedTuple):
    """A machine in a steady state, and what belongs to it."""

    build: Build
    machine: MachineParameters
    balance: SteadyState  # with the profiles of both coils
    room: tuple[float, float]  # K, 0..1


@dataclass(frozen=True, slots=True, kw_only=True)
class Trait:
    """One quantity that describes a state."""

    name: str
    of: Callable[[Seen], float]
    model_sd: float
    """By how much the model is off beside its parameters; judged."""
    logarithm: bool = False


def _superheat(s: Seen) -> float:
    """Below zero as what is missing of it. [K]"""
    b, table = s.balance, s.build.refrigerant.table
    if b.suction_quality >= 1.0:
        return b.superheat
    _tb, _td, hl, hv, *_ = saturation(table, b.suction_pressure)
    capacity = saturation_transport(table, b.suction_pressure)[5]
    return float((b.suction_quality - 1.0) * (hv - hl) / capacity)


def _at_compressor(s: Seen) -> float:
    """The same of the gas at the compressor. [K]"""
    above = s.balance.suction_temperature - s.balance.evaporating_temperature
    return above if above > 1e-3 else _superheat(s)


def _subcooling(s: Seen) -> float:
    """Below zero as what is missing of it. [K]"""
    b, table = s.balance, s.build.refrigerant.table
    if b.liquid_quality <= 0.0:
        return b.subcooling
    _tb, _td, hl, hv, *_ = saturation(table, b.liquid_pressure)
    return float(-b.liquid_quality * (hv - hl) / saturation_transport(table, b.liquid_pressure)[4])


def _bend(s: Seen, coil: CoilParameters, profile: FloatArray | None) -> float:
    """Temperature of the refrigerant half way through a coil's first circuit. [K]"""
    assert profile is not None
    layout = coil.layout
    row = profile[int(np.sum(layout.tubes[2] == 0)) * layout.cells // 2]
    return float(state(s.build.refrigerant.table, float(row[2]), float(row[3]))[0])


def _standing(s: Seen) -> float:
    """Pressure once it has stood in its room, foreign gas included. [Pa]

    Of the refrigerant: of liquid, or of gas that is all there is.
    """
    table = s.build.refrigerant.table
    p = float(dew_pressure(table, s.room[0]))
    volume = sum(piece.volume for piece in circuit_pieces(s.build.job, s.build.compressor))
    _tb, _td, _hl, _hv, _vl, vg, *_ = saturation(table, p)
    p *= min(s.balance.charge * vg / volume, 1.0)
    return p + at_rest(s.build, s.machine.non_condensable_pressure)


def _water(s: Seen) -> float:
    return max(s.balance.water, 1e-7)


def _tube(s: Seen) -> float:
    """What a capillary passes of its best value, by bore, length and multiplier alone."""
    tube = s.machine.expansion
    assert isinstance(tube, CapillaryParameters)
    return float(tube.flow_multiplier * tube.bore**2.5 / tube.length**0.5)


def _amps(s: Seen) -> float:
    current = s.balance.total_current
    assert current is not None  # a job has a supply
    return current


TRAITS: Final = (
    Trait(name="suction", of=lambda s: s.balance.suction_pressure, model_sd=0.01, logarithm=True),
    Trait(name="head", of=lambda s: s.balance.discharge_pressure, model_sd=0.01, logarithm=True),
    Trait(name="dew", of=lambda s: s.balance.evaporating_temperature, model_sd=0.3),
    Trait(name="superheat", of=_superheat, model_sd=0.5),
    Trait(name="superheat at the compressor", of=_at_compressor, model_sd=1.0),
    Trait(name="condensing", of=lambda s: s.balance.condensing_temperature, model_sd=0.3),
    Trait(name="subcooling", of=_subcooling, model_sd=0.7),
    Trait(name="discharge", of=lambda s: s.balance.discharge_temperature, model_sd=2.0),
    Trait(name="watts", of=lambda s: s.balance.total_power, model_sd=0.01, logarithm=True),
    Trait(name="amps", of=_amps, model_sd=0.02, logarithm=True),
    Trait(name="coil", of=lambda s: s.balance.coil_temperature, model_sd=0.5),
    Trait(name="air between", of=lambda s: s.balance.air_between_temperature, model_sd=0.4),
    Trait(name="air out", of=lambda s: s.balance.air_out_temperature, model_sd=0.4),
    Trait(name="water", of=_water, model_sd=0.05, logarithm=True),
    Trait(
        name="evaporator bend",
        of=lambda s: _bend(s, s.machine.evaporator, s.balance.evaporator_profile),
        model_sd=0.5,
    ),
    Trait(
        name="condenser bend",
        of=lambda s: _bend(s, s.machine.condenser, s.balance.condenser_profile),
        model_sd=0.7,
    ),
    Trait(name="charge", of=lambda s: s.balance.charge, model_sd=0.02, logarithm=True),
    Trait(name="standing", of=_standing, model_sd=0.005, logarithm=True),
    Trait(name="airflow", of=lambda s: s.machine.air.flow, model_sd=0.0, logarithm=True),
    Trait(
        name="evaporator surface",
        of=lambda s: s.machine.evaporator.air_multiplier,
        model_sd=0.0,
        logarithm=True,
    ),
    Trait(
        name="condenser surface",
        of=lambda s: s.machine.condenser.air_multiplier,
        model_sd=0.0,
        logarithm=True,
    ),
    Trait(
        name="pumping",
        of=lambda s: s.machine.compressor.displacement * s.machine.compressor.flow_multiplier,
        model_sd=0.0,
        logarithm=True,
    ),
    Trait(name="tube", of=_tube, model_sd=0.0, logarithm=True),
    Trait(name="foreign gas", of=lambda s: s.machine.non_condensable_pressure, model_sd=0.0),
    Trait(name="room", of=lambda s: s.room[0], model_sd=0.0),
    Trait(name="humidity", of=lambda s: s.room[1], model_sd=0.0),
)
MODEL_SD: Final = np.array([t.model_sd for t in TRAITS])
_PLACE: Final[Mapping[str, int]] = {t.name: i for i, t in enumerate(TRAITS)}


def place_of(name: str) -> int:
    """Place of a trait among all."""
    return _PLACE[name]


def traits_of(seen: Seen) -> FloatArray:
    """All traits of a state, logarithms where said. (t,)"""
    found = [t.of(seen) for t in TRAITS]
    return np.array([math.log(v) if t.logarithm else v for t, v in zip(TRAITS, found, strict=True)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Show:
    """How a channel shows traits of a state."""

    trait: str
    """Read as it is; of a corner, the temperature it departs from."""
    beyond: str = ""
    """Of a corner, the trait that counts only above zero."""
    sign: float = 1.0
    """With which it counts."""
    logarithm: bool = False


SHOWS: Final[Mapping[str, Show]] = {
    "suction gauge": Show(trait="suction", logarithm=True),
    "head gauge": Show(trait="head", logarithm=True),
    "suction gas": Show(trait="dew", beyond="superheat"),
    "return gas": Show(trait="dew", beyond="superheat at the compressor"),
    "discharge gas": Show(trait="discharge"),
    "liquid line": Show(trait="condensing", beyond="subcooling", sign=-1.0),
    "evaporator bend": Show(trait="evaporator bend"),
    "condenser bend": Show(trait="condenser bend"),
    "coil": Show(trait="coil"),
    "air in": Show(trait="room"),
    "air between": Show(trait="air between"),
    "air out": Show(trait="air out"),
    "room humidity": Show(trait="humidity"),
    "watts": Show(trait="watts", logarithm=True),
    "amps": Show(trait="amps", logarithm=True),
    "water rate": Show(trait="water", logarithm=True),
    "charge weighed": Show(trait="charge", logarithm=True),
    "standing pressure": Show(trait="standing", logarithm=True),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shows:
    """How some channels show the traits: which trait, which beyond its corner, with which sign."""

    base: IntArray  # (m,)
    beyond: IntArray  # (m,); that of `base` where there is no corner
    sign: FloatArray  # (m,); 0 where there is no corner

    @classmethod
    def of(cls, channels: Sequence[str]) -> Shows:
        """Of channels by their names."""
        shows = [SHOWS[c] for c in channels]
        return cls(
            base=np.array([_PLACE[s.trait] for s in shows], dtype=np.int64),
            beyond=np.array([_PLACE[s.beyond or s.trait] for s in shows], dtype=np.int64),
            sign=np.array([s.sign if s.beyond else 0.0 for s in shows]),
        )

    def beside(self, first: IntArray) -> Shows:
        """The same with traits of several rounds side by side, those of each reading from there."""
        return replace(self, base=self.base + first, beyond=self.beyond + first)

    def shown(
        self, traits: FloatArray, covariance: FloatArray, at: IntArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Readings of many states, each known up to a covariance.

        Parameters
        ----------
        traits : (n, t) array
            Means.
        covariance : (x, t, t) array
        at : (n,) array of int
            Which of them belongs to each state.

        Returns
        -------
        mean : (n, m) array
            Logarithms where the channel says so.
        corner : (n, m) array
            Slope in the trait beyond the corner.
        more : (n, m) array
            Variance that the corner adds.
        """
        from scipy.special import ndtr

        mean = traits[:, self.base]
        corner, more = np.zeros(mean.shape), np.zeros(mean.shape)
        bent = np.flatnonzero(self.sign)
        if bent.size:
            k, sign = self.beyond[bent], self.sign[bent]
            u = traits[:, k]
            s = np.sqrt(np.maximum(covariance[:, k, k], 1e-12))[at]
            inside = ndtr(u / s)
            density = np.exp(-0.5 * (u / s) ** 2) / math.sqrt(2.0 * math.pi)
            first = u * inside + s * density
            second = (u * u + s * s) * inside + u * s * density
            mean[:, bent] += sign * first
            corner[:, bent] = sign * inside
            more[:, bent] = np.maximum(second - first**2 - (inside * s) ** 2, 0.0)
        return mean, corner, more

    def blocks(self, covariance: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Covariances of what the readings show: base, beyond with base, beyond. (x, m, m) each"""
        a, b = self.base, self.beyond
        return (
            covariance[:, a[:, None], a],
            covariance[:, b[:, None], a],
            covariance[:, b[:, None], b],
        )

    def covariance(
        self, blocks: tuple[FloatArray, FloatArray, FloatArray], at: IntArray, corner: FloatArray
    ) -> FloatArray:
        """Of the readings, instruments left out; blocks as of `blocks`. (n, m, m)"""
        found, across, beyond = (b[at] for b in blocks)
        across *= corner[:, :, None]
        beyond *= corner[:, :, None] * corner[:, None, :]
        found += across + across.transpose(0, 2, 1)
        found += beyond
        return found


def without_error(channels: Sequence[str], traits: FloatArray) -> list[float]:
    """What exact instruments show of one state. [SI]"""
    found = []
    for channel in channels:
        show = SHOWS[channel]
        value = float(traits[_PLACE[show.trait]])
        if show.beyond:
            value += show.sign * max(float(traits[_PLACE[show.beyond]]), 0.0)
        found.append(math.exp(value) if show.logarithm else value)
    return found

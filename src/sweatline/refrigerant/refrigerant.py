"""Refrigerants by name: saturation, states and what is known about each.

This is the readable face of the tables. It refuses what lies outside them, where the kernels of
:mod:`sweatline.refrigerant.table` would clamp or continue straight.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

from sweatline.errors import NoSuchState, OutOfRange
from sweatline.refrigerant import table as kernels
from sweatline.refrigerant.hydrocarbons import read_mixture
from sweatline.refrigerant.names import find as find
from sweatline.refrigerant.names import hydrocarbon_shares, table_file
from sweatline.refrigerant.spline import TABLE_FOLDER, read_table
from sweatline.refrigerant.table import Table

Kind = Literal["pure", "pseudo-pure", "mixture"]
Phase = Literal["liquid", "two-phase", "vapour"]


class SaturationTemperatures(NamedTuple):
    """Bubble and dew temperature at one pressure; equal for a pure refrigerant. [K]"""

    bubble: float
    dew: float


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """One equilibrium state, in SI units.

    `quality` is (h - hl)/(hg - hl): the mass fraction of vapour between 0 and 1, below 0 in
    subcooled liquid, above 1 in superheated vapour. In the two-phase region `heat_capacity`,
    `viscosity` and `conductivity` are quality-weighted means of the saturated phases.
    """

    phase: Phase
    pressure: float  # Pa
    temperature: float  # K
    volume: float  # m3/kg
    enthalpy: float  # J/kg
    entropy: float  # J/(kg*K)
    quality: float
    heat_capacity: float  # J/(kg*K)
    viscosity: float  # Pa*s
    conductivity: float  # W/(m*K)

    @property
    def density(self) -> float:
        """Mass per volume. [kg/m3]"""
        return 1.0 / self.volume


def load(name: str) -> Refrigerant:
    """A refrigerant by name, in any spelling that `find` understands."""
    return _load(find(name))


@functools.cache
def _load(name: str) -> Refrigerant:
    shares = hydrocarbon_shares(name)
    path = TABLE_FOLDER / table_file(name)
    table, metadata = read_mixture(path, shares) if shares else read_table(path)
    return Refrigerant(
        name=name,
        kind=metadata["kind"],
        table=table,
        composition=MappingProxyType(metadata["composition"]),
        metadata=MappingProxyType(metadata),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Refrigerant:
    """A refrigerant and its property table.

    Parameters
    ----------
    name : str
        As in `names`.
    kind : str
        ``pure``; ``pseudo-pure``, a blend with one equation of state of its own, whose
        temperature is taken as straight in quality between bubble and dew; or ``mixture``,
        computed from its components.
    table : Table
        Splines for the kernels of :mod:`sweatline.refrigerant.table`.
    composition : mapping of str to float
        Mole fractions of the components of a mixture; empty otherwise.
    metadata : mapping
        Origin of the numbers: equation of state, transport models and their uncertainty.
    """

    name: str
    kind: Kind
    table: Table
    composition: Mapping[str, float]
    metadata: Mapping[str, Any]

    @property
    def molar_mass(self) -> float:
        """Mass of a mole. [kg/mol]"""
        return self.table.molar_mass

    @property
    def critical_temperature(self) -> float:
        """[K]"""
        return self.table.t_crit

    @property
    def critical_pressure(self) -> float:
        """[Pa]"""
        return self.table.p_crit

    @property
    def pressure_range(self) -> tuple[float, float]:
        """Lowest and highest pressure of the table. [Pa]"""
        return self.table.p_min, self.table.p_max

    def enthalpy_limits(self, p: float) -> tuple[float, float]:
        """Lowest and highest enthalpy of the table at a pressure. [J/kg]"""
        self._check_pressure(p)
        return kernels.enthalpy_limits(self.table, p)

    def saturation_pressure_bubble(self, temperature: float) -> float:
        """Pressure of boiling liquid. [Pa]

        Raises
        ------
        OutOfRange
            The temperature lies outside the saturation line of the table.
        """
        low, high = (self._temperatures(p).bubble for p in self.pressure_range)
        self._check("bubble temperature", temperature, low, high, "K")
        return kernels.bubble_pressure(self.table, temperature)

    def saturation_pressure_dew(self, temperature: float) -> float:
        """Pressure of condensing vapour. [Pa]

        Raises
        ------
        OutOfRange
            The temperature lies outside the saturation line of the table.
        """
        low, high = (self._temperatures(p).dew for p in self.pressure_range)
        self._check("dew temperature", temperature, low, high, "K")
        return kernels.dew_pressure(self.table, temperature)

    def saturation_temperature(self, p: float) -> SaturationTemperatures:
        """Bubble and dew temperature at a pressure. [K]

        Raises
        ------
        OutOfRange
            The pressure lies outside the table.
        """
        self._check_pressure(p)
        return self._temperatures(p)

    def latent_heat(self, p: float) -> float:
        """Enthalpy from bubble to dew at constant pressure. [J/kg]"""
        self._check_pressure(p)
        _, _, hl, hg, *_ = kernels.saturation(self.table, p)
        return hg - hl

    def surface_tension(self, p: float) -> float:
        """Surface tension of boiling liquid. [N/m]"""
        self._check_pressure(p)
        return kernels.saturation_transport(self.table, p)[6]

    def state(
        self,
        *,
        p: float,
        h: float | None = None,
        T: float | None = None,
        s: float | None = None,
        quality: float | None = None,
    ) -> State:
        """State at a pressure and one other property.

        Parameters
        ----------
        p : float
            Absolute pressure. [Pa]
        h, T, s, quality : float
            Exactly one of specific enthalpy [J/kg], temperature [K], entropy [J/(kg*K)] and
            quality [-].

        Raises
        ------
        OutOfRange
            The state lies outside the table.
        NoSuchState
            Pressure and temperature do not fix a state because both phases occur together.
        """
        given = [value for value in (h, T, s, quality) if value is not None]
        if len(given) != 1:
            raise TypeError("state() needs p and exactly one of h, T, s, quality")
        self._check_pressure(p)
        if T is not None:
            low, high = (kernels.state(self.table, p, e)[0] for e in self.enthalpy_limits(p))
            self._check("temperature", T, low, high, "K")
            h = self._enthalpy_at(p, T)
        elif s is not None:
            h = kernels.enthalpy_from_entropy(self.table, p, s)
        elif quality is not None:
            self._check("quality", quality, 0.0, 1.0, "")
            _, _, hl, hg, *_ = kernels.saturation(self.table, p)
            h = hl + quality * (hg - hl)
        assert h is not None
        self._check("enthalpy", h, *self.enthalpy_limits(p), "J/kg")
        return self._state(p, h)

    def superheat(self, *, p: float, T: float) -> float:
        """Temperature above dew at a pressure; negative when colder. [K]"""
        return T - self.saturation_temperature(p).dew

    def subcooling(self, *, p: float, T: float) -> float:
        """Temperature below bubble at a pressure; negative when warmer. [K]"""
        return self.saturation_temperature(p).bubble - T

    def _temperatures(self, p: float) -> SaturationTemperatures:
        bubble, dew, *_ = kernels.saturation(self.table, p)
        return SaturationTemperatures(bubble, dew)

    def _enthalpy_at(self, p: float, temperature: float) -> float:
        bubble, dew = self._temperatures(p)
        if temperature > dew:
            return kernels.enthalpy_vapour(self.table, p, temperature)
        if temperature < bubble:
            return kernels.enthalpy_liquid(self.table, p, temperature)
        raise NoSuchState(
            f"{self.name} at {p:.6g} Pa boils between {bubble:.6g} K and {dew:.6g} K: "
            f"pressure and a temperature of {temperature:.6g} K do not fix a state, "
            "give its enthalpy or its quality"
        )

    def _state(self, p: float, h: float) -> State:
        temperature, v, s, cp, mu, k, quality = kernels.full_state(self.table, p, h)
        phase: Phase = "liquid" if quality < 0.0 else "vapour" if quality > 1.0 else "two-phase"
        return State(
            phase=phase,
            pressure=p,
            temperature=temperature,
            volume=v,
            enthalpy=h,
            entropy=s,
            quality=quality,
            heat_capacity=cp,
            viscosity=mu,
            conductivity=k,
        )

    def _check_pressure(self, p: float) -> None:
        self._check("pressure", p, self.table.p_min, self.table.p_max, "Pa")

    def _check(self, name: str, value: float, low: float, high: float, unit: str) -> None:
        # Limits come out of splines, so a value taken from them may miss by a rounding error.
        slack = 1e-9 * (abs(low) + abs(high))
        if not (low - slack <= value <= high + slack):
            raise OutOfRange(
                f"outside the table of {self.name}", name, float(value), low, high, unit
            )

"""Blends without an equation of state of their own, computed by CoolProp from their components.

CoolProp's flash finds the saturation lines of these blends only when it is led along them from a
low pressure with the last answer as a guess, and its transport properties of blends are not
usable for liquid. Both are made good here.
"""

from __future__ import annotations

from typing import Any

import CoolProp.CoolProp as CP
import numpy as np
from scipy.interpolate import CubicSpline, make_interp_spline

from reference_fluids import (
    FLUIDS,
    THIN_VAPOUR,
    Phase,
    ReferenceFluid,
    thin_terms,
)
from sweatline.refrigerant.hydrocarbons import DEGREE

# name -> CoolProp string, whether quality flashes can be trusted
MIXTURES: dict[str, tuple[str, bool]] = {
    "R-417A": ("R417A.mix", True),
    "R-422B": ("R422B.mix", True),
    "R-422D": ("R422D.mix", True),
    "R-427A": ("R427A.mix", True),
    "R-448A": ("R448A.mix", True),
    "R-449A": ("R449A.mix", True),
    "R-450A": ("R450A.mix", True),
    "R-452A": ("R452A.mix", True),
    "R-454B": ("R454B.mix", True),
    "R-454C": ("R454C.mix", True),
    "R-455A": ("R455A.mix", True),
    "R-500": ("R500.mix", False),  # azeotrope
    "R-513A": ("R513A.mix", False),  # near-azeotrope: quality may come back as 1 - quality
}
NAMES = {
    "CarbonDioxide": "R-744",
    "IsoButane": "R-600a",
    "Propylene": "R-1270",
    "R125": "R-125",
    "R143a": "R-143a",
    "n-Butane": "R-600",
    "n-Propane": "R-290",
} | {s: n for n, (s, _) in FLUIDS.items()}

P_MIN = 8e3  # Pa
STEPS = 400  # pressures along a line of constant quality
TOP_OF_LINES = 0.921  # of the critical pressure, as far as every line was found
QUALITIES = tuple(np.linspace(0.0, 1.0, 11))

# Typical deviation of the mixing rules from the fitted models of R-410A, R-407C and R-404A.
MIXING_UNCERTAINTY = {"viscosity": 0.06, "conductivity": 0.08}


class MixedFluid(ReferenceFluid):
    """A mixture of CoolProp with fixed composition."""

    top_reduced_pressure = 0.92
    p_low = P_MIN

    def __init__(self, name: str, string: str, *, trust_quality: bool) -> None:
        self.has_glide_shape = trust_quality
        self._lines: dict[float, dict[str, Any]] = {}
        super().__init__(name, string, self.p_low)

    @property
    def kind(self) -> str:
        return "mixture"

    def find_scattered(self) -> set[str]:
        self.components = list(self._free.fluid_names())
        self.mole = np.array(self._free.get_mole_fractions())
        self._parts = []
        for component in self.components:
            name = NAMES.get(component, component)
            string, p_min = FLUIDS.get(name, (component, 2e4))
            self._parts.append(Component(name, string, p_min))
        masses = np.array([part.molar_mass for part in self._parts])
        self.masses = masses
        self.mass = self.mole * masses / (self.mole @ masses)
        self.rho_crit = 1.0 / (self.mole @ (1.0 / np.array([p.rho_crit for p in self._parts])))
        return set()

    def find_critical_point(self) -> None:
        points = self._free.all_critical_points()
        stable = [point for point in points if point.stable and point.p > 0.0]
        self.t_crit, self.p_crit = stable[0].T, stable[0].p
        for quality in QUALITIES if self.has_glide_shape else (0.0, 1.0):
            self._lines[quality] = self._follow(float(quality))

    def _follow(self, quality: float) -> dict[str, Any]:
        """A line of constant molar quality from low pressure up, as splines over ln p."""
        saturated = quality in (0.0, 1.0)
        pressures = np.geomspace(
            self.p_low, TOP_OF_LINES * self.p_crit, STEPS if saturated else 100
        )
        guess = CP.PyGuessesStructure()
        state = self._free
        found, rows = [], []
        for p in pressures:
            try:
                # The flash takes guesses on the saturation lines only; between, some points fail.
                if saturated and rows:
                    state.update_with_guesses(CP.PQ_INPUTS, p, quality, guess)
                else:
                    state.update(CP.PQ_INPUTS, p, quality)
            except ValueError:
                if saturated:
                    raise
                continue
            guess.T = state.T()
            guess.rhomolar_liq = state.saturated_liquid_keyed_output(CP.iDmolar)
            guess.rhomolar_vap = state.saturated_vapor_keyed_output(CP.iDmolar)
            guess.x, guess.y = state.mole_fractions_liquid(), state.mole_fractions_vapor()
            rows.append((1.0 / state.T(), state.hmass(), np.log(state.rhomass()), state.smass()))
            found.append(p)
        values = np.array(rows)
        if saturated:
            reject_rough(self.name, values[:, 0])
        keys = ("inverse_t", "h", "ln_rho", "s")
        ln_p = np.log(found)
        return {
            k: make_interp_spline(ln_p, values[:, n], k=5 if saturated else 3)
            for n, k in enumerate(keys)
        }

    def saturation_temperatures(self, p: float) -> tuple[float, float]:
        bubble, dew = (1.0 / float(self._lines[q]["inverse_t"](np.log(p))) for q in (0.0, 1.0))
        return bubble, max(bubble, dew)

    def bubble_pressure(self, t: float) -> float:
        line = self._lines[0.0]["inverse_t"]
        return float(np.exp(CubicSpline(*reversed_line(line))(1.0 / t)))

    def _set(self, state: Any, phase: Phase, p: float, t: float) -> None:
        line = self._lines[0.0 if phase == "liquid" else 1.0]
        rho_sat = float(np.exp(line["ln_rho"](np.log(p))))
        try:
            state.update(CP.PT_INPUTS, p, t)
        except ValueError:
            self._newton(state, p, t, rho_sat)
        rho = state.rhomass()
        wrong = rho < 0.9 * rho_sat if phase == "liquid" else rho > 1.1 * rho_sat
        if wrong:
            self._newton(state, p, t, rho_sat)

    def _newton(self, state: Any, p: float, t: float, rho: float) -> None:
        for _ in range(60):
            state.update(CP.DmassT_INPUTS, rho, t)
            step = (p - state.p()) / state.first_partial_deriv(CP.iP, CP.iDmass, CP.iT)
            rho += float(np.clip(step, -0.1 * rho, 0.1 * rho))
            if abs(step) < 1e-12 * rho:
                state.update(CP.DmassT_INPUTS, rho, t)
                return
        raise ValueError(f"{self.name}: no density at {p} Pa, {t} K")

    def transport(self, state: Any, phase: Phase, p: float, t: float) -> tuple[float, float]:
        """Viscosity and conductivity from the components.

        Each component is taken at the reduced temperature and reduced density of the blend.
        Liquid viscosity then follows the mean of logarithms by mole, liquid conductivity that by
        mass, vapour viscosity Wilke's rule, and vapour conductivity the mean by mass.
        """
        rho = state.rhomolar() / self.rho_crit
        warmth = t / self.t_crit
        pairs = [
            part.at_density(phase, warmth * part.t_crit, rho * part.rho_crit)
            for part in self._parts
        ]
        mu, k = (np.array(column) for column in zip(*pairs, strict=True))
        if phase == "liquid":
            return float(np.exp(self.mole @ np.log(mu))), float(np.exp(self.mass @ np.log(k)))
        return mean_wilke(self.mole, mu, self.masses), float(self.mass @ k)

    def surface_tension(self, p: float, t: float) -> float:
        """Mean by mass of the components' at equal reduced temperature."""
        return float(self.mass @ [part.tension(t / self.t_crit) for part in self._parts])

    def glide_shape(self, p: float, quality: np.ndarray) -> np.ndarray:
        """Departures of T, v and s from straight lines in quality, as fractions of the width."""
        ln_p = np.log(p)
        points = []
        for line in self._lines.values():
            points.append(
                (
                    float(line["h"](ln_p)),
                    1.0 / float(line["inverse_t"](ln_p)),
                    float(np.exp(-line["ln_rho"](ln_p))),
                    float(line["s"](ln_p)),
                )
            )
        rows = np.array(points)
        shares = (rows - rows[0]) / (rows[-1] - rows[0])
        x = shares[:, 0]
        return CubicSpline(x, shares[:, 1:] - x[:, None], axis=0)(quality)

    def metadata(self) -> dict[str, Any]:
        rule = "components at equal reduced temperature and reduced density"
        rules = {
            "viscosity": f"{rule}; liquid mean of logarithms by mole, vapour Wilke",
            "conductivity": f"{rule}; liquid mean of logarithms by mass, vapour mean by mass",
        }
        models = {
            quantity: {
                "model": text,
                "source": "Wilke, J. Chem. Phys. 18, 517 (1950)",
                "relative_uncertainty": MIXING_UNCERTAINTY[quantity],
            }
            for quantity, text in rules.items()
        }
        names = [part.name for part in self._parts]
        return self.common_metadata() | {
            "equation": "multi-fluid Helmholtz mixture of the components' equations",
            "composition": dict(zip(names, self.mole.tolist(), strict=True)),
            "transport": dict.fromkeys(("liquid", "vapour"), models),
            "two_phase": (
                "temperature, volume and entropy tabulated over quality"
                if self.has_glide_shape
                else "straight in quality between bubble and dew (near-azeotrope)"
            ),
        }


LEAST_SHARE = 1e-3  # at a node, so that every node is a mixture of all three


class HydrocarbonMixture(MixedFluid):
    """A mixture of propylene, propane and isobutane by mass share.

    The reference pair of propylene and isobutane does not describe a mixture of these: its bubble
    pressure lies up to 12 % below Raoult's law and 4 % above it at another composition. It is
    replaced by the simple rule without fitted numbers, which stays within 2 % of the
    Peng-Robinson equation.
    """

    p_low = 20e3

    def __init__(self, shares: tuple[float, ...]) -> None:
        self._shares = shares
        super().__init__("hydrocarbons", "R1270&R290&R600a", trust_quality=True)

    def open_state(self) -> Any:
        """A state of the library with this composition."""
        return hydrocarbon_state(self._shares)


def hydrocarbon_state(shares: tuple[float, ...]) -> Any:
    """A state of the library for propylene, propane and isobutane by mass."""
    for parameter in ("betaT", "gammaT"):
        CP.set_mixture_binary_pair_data("115-07-1", "75-28-5", parameter, 1.0)
    here = [(n, w) for n, w in zip(("R1270", "R290", "R600a"), shares, strict=True) if w > 0.0]
    state = CP.AbstractState("HEOS", "&".join(name for name, _ in here))
    moles = np.array([w / CP.PropsSI("M", name) for name, w in here])
    state.set_mole_fractions(list(moles / moles.sum()))
    return state


def hydrocarbon_nodes() -> list[tuple[float, ...]]:
    """Mass shares at which tables are made: Chebyshev points of a triangle."""
    v = [(1.0 - np.cos(np.pi * n / DEGREE)) / 2.0 for n in range(DEGREE + 1)]
    nodes = []
    for i in range(DEGREE + 1):
        for j in range(DEGREE + 1 - i):
            k = DEGREE - i - j
            shares = np.array(
                [1 + 2 * v[i] - v[j] - v[k], 1 + 2 * v[j] - v[i] - v[k], 1 + 2 * v[k] - v[i] - v[j]]
            )
            shares = np.maximum(shares / 3.0, LEAST_SHARE)
            nodes.append(tuple((shares / shares.sum()).tolist()))
    return nodes


class Component(ReferenceFluid):
    """A component of a blend, which lends its transport properties and surface tension."""

    def __init__(self, name: str, string: str, p_min: float) -> None:
        super().__init__(name, string, p_min)
        self.rho_crit = self._free.rhomolar_critical()

    def saturation_temperatures(self, p: float) -> tuple[float, float]:
        return super().saturation_temperatures(
            max(p, 1.001 * self._free.trivial_keyed_output(CP.iP_triple))
        )

    def bubble_pressure(self, t: float) -> float:
        return super().bubble_pressure(min(t, 0.9 * self.t_crit))

    def at_density(self, phase: Phase, t: float, rho: float) -> tuple[float, float]:
        """Viscosity and conductivity at a temperature and a molar density."""
        state = self._imposed[phase]
        values = []
        for quantity in ("viscosity", "conductivity"):
            state.update(CP.DmolarT_INPUTS, rho, t)
            values.append(self._value(state, quantity, phase, t, rho))
        return values[0], values[1]

    def _value(self, state: Any, quantity: str, phase: Phase, t: float, rho: float) -> float:
        if phase == "vapour" and quantity in self.scattered and state.p() < THIN_VAPOUR:
            v = 1.0 / state.rhomass()
            if quantity not in self._thin:
                self._thin[quantity] = self._fit_thin(quantity)
                state.update(CP.DmolarT_INPUTS, rho, t)
            fitted = self._thin[quantity]
            if fitted is not None:
                return float(thin_terms(t, v) @ fitted)
        value = self.property_of(state, quantity, phase)
        if value is not None:
            return value
        for distance in (0.1, 0.3, 1.0, 3.0, 6.0, 12.0, 24.0):
            around = []
            for sign in (-1.0, 1.0):
                state.update(CP.DmolarT_INPUTS, rho, t + sign * distance)
                around.append(self.property_of(state, quantity, phase))
            colder, warmer = around
            if colder is not None and warmer is not None:
                return 0.5 * (colder + warmer)
        raise ValueError(f"{self.name}: no {quantity} at {t} K, {rho} mol/m3")

    def tension(self, reduced_temperature: float) -> float:
        """Surface tension; below the triple point continued with the exponent 1.26."""
        lowest = max(0.55, self._free.Ttriple() / self.t_crit + 0.01)
        r = max(reduced_temperature, lowest)
        self._free.update(CP.QT_INPUTS, 0.0, r * self.t_crit)
        scale = ((1.0 - reduced_temperature) / (1.0 - r)) ** 1.26
        return float(self._free.surface_tension() * scale)


def mean_wilke(mole: np.ndarray, mu: np.ndarray, mass: np.ndarray) -> float:
    """Viscosity of a gas mixture. [Pa*s]

    References
    ----------
    Wilke, "A viscosity equation for gas mixtures", J. Chem. Phys. 18, 517, 1950, eqs. (13), (14).
    """
    ratio = mass[None, :] / mass[:, None]
    phi = (1.0 + np.sqrt(mu[:, None] / mu[None, :]) * ratio**0.25) ** 2
    phi /= np.sqrt(8.0 * (1.0 + 1.0 / ratio))
    return float(np.sum(mole * mu / (phi @ mole)))


def reversed_line(line: Any) -> tuple[np.ndarray, np.ndarray]:
    """Points (1/T ascending, ln p) of a saturation line."""
    ln_p = np.linspace(*line.t[[0, -1]], STEPS)
    return line(ln_p)[::-1], ln_p[::-1]


def reject_rough(name: str, inverse_t: np.ndarray) -> None:
    """Refuse a line on which the flash jumped to another root."""
    third = np.abs(np.diff(inverse_t, 3))
    if third.max() > 1e-7:
        raise ValueError(f"{name}: the flash left the line")


def reference_fluid(name: str) -> ReferenceFluid:
    """The reference fluid of a shipped name."""
    CP.set_config_bool(CP.DONT_CHECK_PROPERTY_LIMITS, True)
    if name in MIXTURES:
        string, trust_quality = MIXTURES[name]
        return MixedFluid(name, string, trust_quality=trust_quality)
    string, p_min = FLUIDS[name]
    return ReferenceFluid(name, string, p_min)

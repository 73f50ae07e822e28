"""Refrigerants as CoolProp computes them, behind one face for pure, pseudo-pure and mixed."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Literal

import CoolProp
import CoolProp.CoolProp as CP
import numpy as np

Phase = Literal["liquid", "vapour"]
IMPOSED = {"liquid": CP.iphase_liquid, "vapour": CP.iphase_gas}

P_MIN = 5e3  # Pa, where the equation of state reaches so low
T_MAX = 450.0  # K, or the limit of the equation of state
BELOW_BUBBLE = 12.0  # K of subcooled liquid in the table at the lowest pressure
NOT_ASKED = float("nan")
THIN_VAPOUR = 400e3  # Pa, below which vapour counts as thin
COLDEST_FLASH = 202.0  # K, below which pseudo-pure saturation fails; only starts a search
ZERO_TEMPERATURE = 273.15
ZERO_ENTHALPY = 200e3
ZERO_ENTROPY = 1000.0


@dataclass(frozen=True, slots=True)
class Sample:
    """A state in a single phase, in SI units."""

    h: float
    v: float
    s: float
    cp: float
    mu: float = float("nan")
    k: float = float("nan")


# name -> CoolProp string, lowest pressure
FLUIDS: dict[str, tuple[str, float]] = {
    "R-12": ("R12", P_MIN),
    "R-22": ("R22", P_MIN),
    "R-32": ("R32", P_MIN),
    "R-134a": ("R134a", P_MIN),
    "R-152a": ("R152A", P_MIN),
    "R-290": ("R290", P_MIN),
    "R-600a": ("R600a", P_MIN),
    "R-1270": ("R1270", P_MIN),
    "R-1234yf": ("R1234yf", P_MIN),
    "R-1234ze(E)": ("R1234ze(E)", P_MIN),
    "R-404A": ("R404A", 15e3),
    "R-407C": ("R407C", 20e3),
    "R-410A": ("R410A", 15e3),
    "R-507A": ("R507A", 15e3),
}


def thin_terms(t: float, v: float) -> np.ndarray:
    """Terms of a thin vapour's transport property: powers of temperature and of density."""
    r = t / 300.0
    powers = np.array([r**k for k in range(7)])
    density = 0.1 / v
    return np.concatenate(
        [powers, density * powers, density**2 * powers[:4], density**3 * powers[:3]]
    )


# Viscosity taken from CoolProp's second model of the fluid. For R-22 the first one, a predictive
# residual-entropy scaling, lies 25 % below the fitted one for liquid and 11 % above for vapour;
# for vapour of R-152a and R-32 it lies 9 % and 6 % above.
SECOND_VISCOSITY = {
    "R22": ("liquid", "vapour"),
    "R152A": ("vapour",),
    "R32": ("vapour",),
}


def second_viscosity(string: str) -> tuple[str, dict[str, Any]]:
    """A copy of a fluid of CoolProp that computes viscosity by its second model."""
    source = json.loads(CP.get_fluid_param_string(string, "JSON"))[0]
    name = f"{string}-second"
    source["INFO"] |= {"NAME": name, "ALIASES": [], "CAS": name, "REFPROP_NAME": "N/A"}
    source["TRANSPORT"]["viscosity"] = source["TRANSPORT"]["viscosity"][1]
    if name not in CP.get_global_param_string("fluids_list").split(","):
        CP.add_fluids_as_JSON("HEOS", json.dumps([source]))
    return name, source


def answer(state: Any, quantity: str) -> float | None:
    """A transport property of a state, or None where CoolProp's model finds no answer."""
    try:
        return float(getattr(state, quantity)())
    except ValueError:
        return None


PSEUDO_PURE = ("R404A", "R407C", "R410A", "R507A")


class ReferenceFluid:
    """A pure or pseudo-pure fluid of CoolProp, with a common zero of enthalpy and entropy."""

    has_glide_shape = False
    top_reduced_pressure = 0.95

    def __init__(self, name: str, string: str, p_min: float) -> None:
        self.name = name
        self.string = string
        self.p_min = p_min
        self._free = self.open_state()
        self._imposed = {phase: self.open_state() for phase in IMPOSED}
        for phase, flag in IMPOSED.items():
            self._imposed[phase].specify_phase(flag)
        self._viscous = dict(self._imposed)
        for phase in SECOND_VISCOSITY.get(string, ()):
            self._viscous[phase] = CP.AbstractState("HEOS", second_viscosity(string)[0])
            self._viscous[phase].specify_phase(IMPOSED[phase])
        self.molar_mass = self._free.molar_mass()
        self.h_zero, self.s_zero = 0.0, 0.0
        self._thin: dict[str, np.ndarray | None] = {}
        self.scattered = self.find_scattered()
        self.find_critical_point()
        self.t_max = min(T_MAX, self._free.Tmax())
        self.t_min = self.saturation_temperatures(p_min)[0] - BELOW_BUBBLE
        p_zero = self.bubble_pressure(ZERO_TEMPERATURE)
        zero = self.sample("liquid", p_zero, ZERO_TEMPERATURE, transport=False)
        self.h_zero = zero.h - ZERO_ENTHALPY
        self.s_zero = zero.s - ZERO_ENTROPY

    def open_state(self) -> Any:
        """A state of the library for this fluid."""
        return CP.AbstractState("HEOS", self.string)

    def find_critical_point(self) -> None:
        self.t_crit, self.p_crit = self._free.T_critical(), self._free.p_critical()

    def find_scattered(self) -> set[str]:
        """Transport properties of vapour with a corresponding-states model."""
        described = self.describe_transport("vapour")
        return {q for q, d in described.items() if "corresponding" in d["model"]}

    def describe_transport(self, phase: Phase) -> dict[str, dict[str, Any]]:
        """Models behind viscosity and conductivity."""
        source = json.loads(CP.get_fluid_param_string(self.string, "JSON"))[0]
        second = source
        if phase in SECOND_VISCOSITY.get(self.string, ()):
            _, second = second_viscosity(self.string)
        return {
            "viscosity": describe_model(second["TRANSPORT"]["viscosity"]),
            "conductivity": describe_model(source["TRANSPORT"]["conductivity"]),
        }

    def property_of(self, state: Any, quantity: str, phase: Phase) -> float | None:
        """A transport property of a state by the chosen model."""
        if quantity == "viscosity" and self._viscous[phase] is not state:
            self._viscous[phase].update(CP.DmolarT_INPUTS, state.rhomolar(), state.T())
            return answer(self._viscous[phase], quantity)
        return answer(state, quantity)

    @property
    def kind(self) -> str:
        return "pseudo-pure" if self.string in PSEUDO_PURE else "pure"

    def saturation_temperatures(self, p: float) -> tuple[float, float]:
        """Bubble and dew temperature. [K]"""
        self._free.update(CP.PQ_INPUTS, p, 0.0)
        bubble = self._free.T()
        if self.kind == "pure":
            return bubble, bubble
        self._free.update(CP.PQ_INPUTS, p, 1.0)
        return bubble, self._free.T()

    def bubble_pressure(self, t: float) -> float:
        """Pressure of boiling liquid. [Pa]"""
        self._free.update(CP.QT_INPUTS, 0.0, t)
        return float(self._free.p())

    def sample(self, phase: Phase, p: float, t: float, *, transport: bool = True) -> Sample:
        """State of a phase at pressure and temperature."""
        state = self._imposed[phase]
        self._set(state, phase, p, t)
        mu, k = self.transport(state, phase, p, t) if transport else (NOT_ASKED, NOT_ASKED)
        return Sample(
            h=state.hmass() - self.h_zero,
            v=1.0 / state.rhomass(),
            s=state.smass() - self.s_zero,
            cp=state.cpmass(),
            mu=mu,
            k=k,
        )

    def transport(self, state: Any, phase: Phase, p: float, t: float) -> tuple[float, float]:
        """Viscosity and conductivity.

        The corresponding-states models find no answer, or a poor one, at scattered states: in
        thin vapour a fitted surface replaces them, elsewhere the mean of close neighbours.
        """
        values = []
        for quantity in ("viscosity", "conductivity"):
            if phase == "vapour" and p < THIN_VAPOUR and quantity in self.scattered:
                if quantity not in self._thin:
                    self._thin[quantity] = self._fit_thin(quantity)
                    self._set(state, phase, p, t)
                fitted = self._thin[quantity]
                if fitted is not None:
                    values.append(float(thin_terms(t, 1.0 / state.rhomass()) @ fitted))
                    continue
            value = self.property_of(state, quantity, phase)
            if value is None:
                value = self._mean_of_neighbours(state, quantity, phase, p, t)
                self._set(state, phase, p, t)
            values.append(value)
        return values[0], values[1]

    def _mean_of_neighbours(
        self, state: Any, quantity: str, phase: Phase, p: float, t: float
    ) -> float:
        for distance in (0.1, 0.3, 1.0, 3.0, 6.0, 12.0, 24.0):
            around = []
            for sign in (-1.0, 1.0):
                self._set(state, phase, p, t + sign * distance)
                around.append(self.property_of(state, quantity, phase))
            colder, warmer = around
            if colder is not None and warmer is not None:
                return 0.5 * (colder + warmer)
        raise ValueError(f"{self.name}: no {quantity} near {p} Pa, {t} K")

    def _fit_thin(self, quantity: str) -> np.ndarray | None:
        """Surface through a transport property of thin vapour, if the model leaves gaps there."""
        terms, values, missing = [], [], 0
        state = self._imposed["vapour"]
        for p in np.geomspace(self.p_min, 1.2 * THIN_VAPOUR, 24):
            _, dew = self.saturation_temperatures(p)
            for t in dew + (self.t_max - dew) * np.linspace(0.0, 1.0, 60) ** 2:
                self._set(state, "vapour", p, t)
                value = self.property_of(state, quantity, "vapour")
                missing += value is None
                if value is not None:
                    terms.append(thin_terms(t, 1.0 / state.rhomass()))
                    values.append(value)
        if missing == 0:
            return None
        a, b = np.array(terms), np.array(values)
        for _ in range(6):
            fitted = np.linalg.lstsq(a, b, rcond=None)[0]
            residual = np.abs(a @ fitted / b - 1.0)
            good = residual <= 4.0 * np.sqrt(np.mean(residual**2))
            a, b = a[good], b[good]
        return np.asarray(fitted)

    def _set(self, state: Any, phase: Phase, p: float, t: float) -> None:
        # CoolProp's own search may take the wrong root for a cold pseudo-pure liquid.
        if self.kind == "pseudo-pure" and phase == "liquid":
            self._solve_density(state, phase, p, t)
        else:
            state.update(CP.PT_INPUTS, p, t)

    def _solve_density(self, state: Any, phase: Phase, p: float, t: float) -> None:
        """Density by Newton from the saturated phase, where CoolProp's own search gives up."""
        self._free.update(CP.QT_INPUTS, 0.0 if phase == "liquid" else 1.0, max(t, COLDEST_FLASH))
        rho = self._free.rhomolar()
        for _ in range(50):
            state.update(CP.DmolarT_INPUTS, rho, t)
            step = (p - state.p()) / state.first_partial_deriv(CP.iP, CP.iDmolar, CP.iT)
            rho += step
            if abs(step) < 1e-12 * rho:
                state.update(CP.DmolarT_INPUTS, rho, t)
                return
        raise ValueError(f"{self.name}: no density at {p} Pa, {t} K")

    def sample_at_enthalpy(
        self, phase: Phase, p: float, h: float, start: float
    ) -> tuple[float, Sample]:
        """Temperature and state of a phase at pressure and enthalpy, by Newton on temperature."""
        t = start
        for _ in range(60):
            point = self.sample(phase, p, t, transport=False)
            step = (h - point.h) / point.cp
            t += max(-20.0, min(20.0, step))
            if abs(step) < 1e-9:
                break
        else:
            raise ValueError(f"{self.name}: no {phase} at {p} Pa, {h} J/kg")
        return t, self.sample(phase, p, t)

    def surface_tension(self, p: float, t: float) -> float:
        self._free.update(CP.PQ_INPUTS, p, 0.0)
        return float(self._free.surface_tension())

    def glide_shape(self, p: float, quality: np.ndarray) -> np.ndarray:
        raise NotImplementedError

    def metadata(self) -> dict[str, Any]:
        """What the table's readers must know about its origin."""
        source = json.loads(CP.get_fluid_param_string(self.string, "JSON"))[0]
        return self.common_metadata() | {
            "equation": source["EOS"][0]["BibTeX_EOS"],
            "composition": {},
            "transport": {phase: self.describe_transport(phase) for phase in ("liquid", "vapour")},
            "two_phase": (
                "one temperature at a pressure"
                if self.kind == "pure"
                else "temperature, volume and entropy straight in quality between bubble and dew"
            ),
        }

    def common_metadata(self) -> dict[str, Any]:
        """The part that every kind of fluid has."""
        return {
            "name": self.name,
            "kind": self.kind,
            "equation_range": [self._free.Tmin(), self._free.Tmax()],
            "coolprop": CoolProp.__version__,
            "coolprop_string": self.string,
            "molar_mass": self.molar_mass,
            "critical_temperature": self.t_crit,
            "critical_pressure": self.p_crit,
            "temperature_range": [self.t_min, self.t_max],
            "enthalpy_zero": "boiling liquid at 273.15 K: 200 kJ/kg, 1 kJ/(kg K)",
            "enthalpy_shift": self.h_zero,
            "entropy_shift": self.s_zero,
        }


def describe_model(model: Any) -> dict[str, Any]:
    """Kind of a transport model of CoolProp, and how well such a model is known."""
    model = model[0] if isinstance(model, list) else model
    kind = model.get("type")
    names = {None: "fitted to the fluid", "rhosr-CS": "residual-entropy scaling"}
    relative = {None: 0.03, "rhosr-CS": 0.08, "ECS": 0.06}
    return {
        "model": names.get(kind, "extended corresponding states"),
        "source": model.get("BibTeX", ""),
        "relative_uncertainty": relative[kind],
    }

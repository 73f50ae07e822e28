"""Refrigerant tables against the equations of state they were made from.

The random states are not those at which the tables were fitted. They lie below 0.9 of the
critical pressure and at least 0.5 K from saturation, half of them within a few kelvins of it.
"""

import importlib
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import CoolProp.CoolProp as CP
import numpy as np
import pytest

from sweatline.refrigerant import table as kernels
from sweatline.refrigerant.names import NAMES, hydrocarbon_shares, table_file
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.spline import TABLE_FOLDER

TOOLS = Path(__file__).resolve().parents[2] / "tools"

TEMPERATURE = 1e-4
VOLUME = 5e-4
ENTROPY = 2e-5
VISCOSITY = 1e-3

MIXED = [name for name in NAMES if load(name).kind == "mixture"]
BLENDS = [name for name in MIXED if not hydrocarbon_shares(name)]
OTHERS = [name for name in NAMES if name not in MIXED]


@pytest.fixture(scope="module")
def fluids() -> Iterator[ModuleType]:
    """The module that the tables were built with, for pure and pseudo-pure fluids."""
    sys.path.insert(0, str(TOOLS))
    CP.set_config_bool(CP.DONT_CHECK_PROPERTY_LIMITS, True)
    yield importlib.import_module("mixed_fluids")
    CP.set_config_bool(CP.DONT_CHECK_PROPERTY_LIMITS, False)
    sys.path.remove(str(TOOLS))


def random_states(name: str, phase: str, count: int, seed: int) -> Iterator[tuple[float, float]]:
    refrigerant = load(name)
    rng = np.random.default_rng(seed)
    low_p = np.log(refrigerant.table.p_min)
    high_p = np.log(0.9 * refrigerant.critical_pressure)
    for _ in range(count):
        p = float(np.exp(rng.uniform(low_p, high_p)))
        bubble, dew = refrigerant.saturation_temperature(p)
        edges = [kernels.state(refrigerant.table, p, h)[0] for h in refrigerant.enthalpy_limits(p)]
        near, far = (bubble - 0.5, edges[0]) if phase == "liquid" else (dew + 0.5, edges[1])
        yield p, near + rng.uniform() ** rng.choice((1.0, 4.0)) * (far - near)


@pytest.mark.parametrize("phase", ["liquid", "vapour"])
@pytest.mark.parametrize("name", OTHERS)
def test_single_phase_states(fluids: Any, name: str, phase: str) -> None:
    refrigerant = load(name)
    reference = fluids.reference_fluid(name)
    for p, t in random_states(name, phase, 150, seed=7):
        point = reference.sample(phase, p, t)
        ours = refrigerant.state(p=p, h=point.h)
        assert ours.phase == phase
        assert ours.temperature == pytest.approx(t, rel=TEMPERATURE)
        assert ours.volume == pytest.approx(point.v, rel=VOLUME)
        # Entropy has an arbitrary zero: heat capacity is the scale where it is small.
        scale = max(abs(point.s), point.cp)
        assert ours.entropy == pytest.approx(point.s, rel=0.0, abs=ENTROPY * scale)
        assert ours.heat_capacity == pytest.approx(point.cp, rel=1e-3)
        assert ours.viscosity == pytest.approx(point.mu, rel=VISCOSITY)
        assert ours.conductivity == pytest.approx(point.k, rel=2e-3)


@pytest.mark.parametrize("phase", ["liquid", "vapour"])
@pytest.mark.parametrize("name", BLENDS)
def test_single_phase_states_of_blends(name: str, phase: str) -> None:
    refrigerant = load(name)
    state = CP.AbstractState("HEOS", refrigerant.metadata["coolprop_string"])
    state.specify_phase(CP.iphase_liquid if phase == "liquid" else CP.iphase_gas)
    for p, t in random_states(name, phase, 60, seed=11):
        state.update(CP.PT_INPUTS, p, t)
        h = state.hmass() - refrigerant.metadata["enthalpy_shift"]
        s = state.smass() - refrigerant.metadata["entropy_shift"]
        ours = refrigerant.state(p=p, h=h)
        assert ours.temperature == pytest.approx(t, rel=TEMPERATURE)
        assert ours.density == pytest.approx(state.rhomass(), rel=VOLUME)
        scale = max(abs(s), state.cpmass())
        assert ours.entropy == pytest.approx(s, rel=0.0, abs=ENTROPY * scale)


@pytest.mark.parametrize("name", OTHERS)
def test_saturation(name: str) -> None:
    refrigerant = load(name)
    state = CP.AbstractState("HEOS", refrigerant.metadata["coolprop_string"])
    lowest = max(refrigerant.table.p_min, 30e3)
    for p in np.geomspace(lowest, 0.9 * refrigerant.critical_pressure, 40):
        bubble, dew, hl, hg, vl, vg, *_ = kernels.saturation(refrigerant.table, p)
        for quality, t, h, v in ((0.0, bubble, hl, vl), (1.0, dew, hg, vg)):
            state.update(CP.PQ_INPUTS, p, quality)
            assert t == pytest.approx(state.T(), rel=1e-6)
            assert v == pytest.approx(1.0 / state.rhomass(), rel=1e-5)
            shifted = state.hmass() - refrigerant.metadata["enthalpy_shift"]
            assert h == pytest.approx(shifted, rel=0.0, abs=5.0)


@pytest.mark.parametrize("name", BLENDS)
def test_saturation_of_blends(name: str) -> None:
    # The unguided flash of blends is trusted below half the critical pressure only.
    refrigerant = load(name)
    state = CP.AbstractState("HEOS", refrigerant.metadata["coolprop_string"])
    for p in np.geomspace(20e3, 0.5 * refrigerant.critical_pressure, 12):
        temperatures = refrigerant.saturation_temperature(p)
        for quality, t in zip((0.0, 1.0), temperatures, strict=True):
            state.update(CP.PQ_INPUTS, p, quality)
            assert t == pytest.approx(state.T(), rel=1e-5)


@pytest.mark.parametrize("name", [n for n in BLENDS if load(n).table.glide_cells])
def test_temperature_inside_the_glide(name: str) -> None:
    refrigerant = load(name)
    state = CP.AbstractState("HEOS", refrigerant.metadata["coolprop_string"])
    for p in (60e3, 300e3, 1200e3):
        bubble, dew = refrigerant.saturation_temperature(p)
        for quality in (0.15, 0.45, 0.75):
            state.update(CP.PQ_INPUTS, p, quality)
            h = state.hmass() - refrigerant.metadata["enthalpy_shift"]
            ours = refrigerant.state(p=p, h=h)
            assert ours.temperature == pytest.approx(state.T(), abs=0.01 * (dew - bubble))
            assert ours.density == pytest.approx(state.rhomass(), rel=2e-3)
            s = state.smass() - refrigerant.metadata["entropy_shift"]
            assert ours.entropy == pytest.approx(s, abs=0.2)


# Propylene, propane and isobutane by mass, none of them a mixture that the tables were made at.
MIXTURES = [
    (0.0, 0.56, 0.44),
    (0.0, 0.93, 0.07),
    (0.0, 0.1, 0.9),
    (0.3, 0.7, 0.0),
    (0.1, 0.0, 0.9),
    (0.85, 0.0, 0.15),
    (0.4, 0.4, 0.2),
    (0.15, 0.25, 0.6),
]


@pytest.mark.parametrize("shares", MIXTURES)
def test_hydrocarbon_mixtures_between_their_tables(
    fluids: Any, shares: tuple[float, float, float]
) -> None:
    parts = [(n, w) for n, w in zip(("R-1270", "R-290", "R-600a"), shares, strict=True) if w]
    names, numbers = zip(*parts, strict=True)
    mixture = load(f"{'/'.join(names)} {'/'.join(f'{100 * w:g}' for w in numbers)}")
    state = fluids.hydrocarbon_state(shares)
    zero: dict[str, float] = {}
    for p in (40e3, 150e3, 600e3, 2000e3):
        ours = mixture.saturation_temperature(p)
        for quality, t in zip((0.0, 1.0), ours, strict=True):
            state.update(CP.PQ_INPUTS, p, quality)
            assert t == pytest.approx(state.T(), abs=0.05)
        for name, quality, t in (("liquid", 0.0, ours.bubble - 5), ("vapour", 1.0, ours.dew + 20)):
            state.specify_phase(CP.iphase_liquid if quality == 0.0 else CP.iphase_gas)
            state.update(CP.PT_INPUTS, p, t)
            here = mixture.state(p=p, T=t)
            zero.setdefault("h", here.enthalpy - state.hmass())
            zero.setdefault("s", here.entropy - state.smass())
            assert here.phase == name
            assert here.enthalpy - state.hmass() == pytest.approx(zero["h"], abs=250.0)
            assert here.entropy - state.smass() == pytest.approx(zero["s"], abs=1.0)
            assert here.density == pytest.approx(state.rhomass(), rel=1e-3)
            state.unspecify_phase()


# Mole fractions as built into the reference library for the blends with fitted transport models.
FITTED = {
    "R404A": {"R-125": 0.35782, "R-134a": 0.03826, "R143a": 0.60392},
    "R407C": {"R-32": 0.38111, "R-125": 0.17956, "R-134a": 0.43933},
    "R507A": {"R-125": 0.41184, "R143a": 0.58816},
    "R410A": {"R-32": 0.69761, "R-125": 0.30239},
}
STRINGS = {"R-125": "R125", "R-134a": "R134a", "R-32": "R32", "R143a": "R143a"}


@pytest.mark.parametrize("blend", FITTED)
def test_mixing_rules_against_fitted_blends(fluids: Any, blend: str) -> None:
    """The scatter stated for transport properties of blends that have no fitted model."""
    names = list(FITTED[blend])
    mole = np.array([FITTED[blend][n] for n in names])
    parts = [fluids.Component(n, STRINGS[n], 20e3) for n in names]
    masses = np.array([part.molar_mass for part in parts])
    mass = mole * masses / (mole @ masses)
    state = CP.AbstractState("HEOS", blend)
    rho_crit = 1.0 / (mole @ (1.0 / np.array([part.rho_crit for part in parts])))
    critical = state.T_critical()
    deviations: dict[str, list[float]] = {"mu liquid": [], "mu vapour": [], "k liquid": []}
    deviations |= {"k vapour": [], "tension": []}
    for t in (250.0, 270.0, 290.0, 310.0):
        for phase, quality in (("liquid", 0.0), ("vapour", 1.0)):
            state.update(CP.QT_INPUTS, quality, t)
            reduced = state.rhomolar() / rho_crit
            pairs = [
                part.at_density(phase, t / critical * part.t_crit, reduced * part.rho_crit)
                for part in parts
            ]
            mu, k = (np.array(column) for column in zip(*pairs, strict=True))
            if phase == "liquid":
                ours_mu, ours_k = np.exp(mole @ np.log(mu)), np.exp(mass @ np.log(k))
                tension = mass @ [part.tension(t / critical) for part in parts]
                deviations["tension"].append(tension / state.surface_tension() - 1.0)
            else:
                ours_mu, ours_k = fluids.mean_wilke(mole, mu, masses), mass @ k
            deviations[f"mu {phase}"].append(ours_mu / state.viscosity() - 1.0)
            deviations[f"k {phase}"].append(ours_k / state.conductivity() - 1.0)
    worst = {quantity: float(np.abs(values).max()) for quantity, values in deviations.items()}
    assert worst["mu liquid"] < (0.15 if blend == "R507A" else 0.10)
    assert worst["mu vapour"] < 0.08
    assert worst["k liquid"] < 0.05
    assert worst["k vapour"] < 0.13
    assert worst["tension"] < 0.02


def test_files_stay_small() -> None:
    for name in NAMES:
        limit = 2_000_000 if hydrocarbon_shares(name) else 120_000
        assert (TABLE_FOLDER / table_file(name)).stat().st_size <= limit

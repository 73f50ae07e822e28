"""Identities of thermodynamics that every refrigerant table must obey, whatever made it."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweatline.constants import GAS_CONSTANT
from sweatline.refrigerant import table as kernels
from sweatline.refrigerant.names import NAMES
from sweatline.refrigerant.refrigerant import Refrigerant, load

PURE = [name for name in NAMES if load(name).kind == "pure"]
GLIDING = [name for name in NAMES if load(name).table.glide_cells > 0]


def pressures(refrigerant: Refrigerant, count: int = 25) -> list[float]:
    """Pressures over the table up to 0.9 of the critical, ends left out."""
    low = 1.05 * refrigerant.table.p_min
    high = 0.9 * refrigerant.critical_pressure
    return [float(p) for p in np.geomspace(low, high, count)]


def single_phase(refrigerant: Refrigerant) -> list[tuple[float, float]]:
    """States (p, h) of liquid and vapour, from near saturation to near the edge of the table."""
    states = []
    for p in pressures(refrigerant, 12):
        _, _, hl, hg, *_ = kernels.saturation(refrigerant.table, p)
        low, high = kernels.enthalpy_limits(refrigerant.table, p)
        for share in (0.02, 0.1, 0.3, 0.6, 0.95):
            states.append((p, hl + share * (low - hl)))
            states.append((p, hg + share * (high - hg)))
    return states


@pytest.mark.parametrize("name", PURE)
def test_clausius_clapeyron(name: str) -> None:
    refrigerant = load(name)
    for p in pressures(refrigerant):
        t, _, hl, hg, vl, vg, *_ = kernels.saturation(refrigerant.table, p)
        dt_dp = kernels.saturation_slopes(refrigerant.table, p)[0]
        assert 1.0 / dt_dp == pytest.approx((hg - hl) / (t * (vg - vl)), rel=2e-5)


@pytest.mark.parametrize("name", PURE)
def test_latent_heat_is_temperature_times_entropy(name: str) -> None:
    refrigerant = load(name)
    for p in pressures(refrigerant):
        t, _, hl, hg, _, _, sl, sg = kernels.saturation(refrigerant.table, p)
        assert hg - hl == pytest.approx(t * (sg - sl), rel=2e-6)


@pytest.mark.parametrize("name", PURE)
def test_saturated_phases_obey_the_fundamental_equation(name: str) -> None:
    """dh = T ds + v dp along each branch of the saturation line."""
    refrigerant = load(name)
    for p in pressures(refrigerant):
        step = 1e-4 * p
        lower = kernels.saturation(refrigerant.table, p - step)
        upper = kernels.saturation(refrigerant.table, p + step)
        here = kernels.saturation(refrigerant.table, p)
        for h, v, s in ((2, 4, 6), (3, 5, 7)):
            dh = upper[h] - lower[h]
            ds = upper[s] - lower[s]
            error = dh - here[0] * ds - here[v] * 2.0 * step
            assert abs(error) <= 3e-5 * max(abs(dh), here[v] * 2.0 * step)


@pytest.mark.parametrize("name", NAMES)
def test_properties_are_continuous_across_saturation(name: str) -> None:
    table = load(name).table
    for p in pressures(load(name)):
        bubble, dew, hl, hg, vl, vg, sl, sg = kernels.saturation(table, p)
        mul, mug, kl, kg, cpl, cpg, _ = kernels.saturation_transport(table, p)
        hair = 1e-13 * (hg - hl)  # vapour made by a hair must not show in the volume
        for h, here in (
            (hl, (bubble, vl, sl, cpl, mul, kl)),
            (hg, (dew, vg, sg, cpg, mug, kg)),
        ):
            for side in (h - hair, h + hair):
                row = kernels.full_state(table, p, side)[:6]
                assert row == pytest.approx(here, rel=1e-7)


@pytest.mark.parametrize("name", NAMES)
def test_heat_capacity_is_the_slope_of_enthalpy(name: str) -> None:
    table = load(name).table
    for p, h in single_phase(load(name)):
        step = 20.0
        warmer = kernels.state(table, p, h + step)[0]
        colder = kernels.state(table, p, h - step)[0]
        cp = kernels.full_state(table, p, h)[3]
        assert 2.0 * step / (warmer - colder) == pytest.approx(cp, rel=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_fundamental_equation_in_single_phase(name: str) -> None:
    """(dh/ds) at constant p is T; (dh/dp) at constant s is v."""
    table = load(name).table
    for p, h in single_phase(load(name)):
        t, v, s, _ = kernels.state(table, p, h)
        dh, dp = 20.0, 1e-3 * p
        ds = kernels.state(table, p, h + dh)[2] - kernels.state(table, p, h - dh)[2]
        assert 2.0 * dh / ds == pytest.approx(t, rel=1e-4)
        upper = kernels.enthalpy_from_entropy(table, p + dp, s)
        lower = kernels.enthalpy_from_entropy(table, p - dp, s)
        # In liquid v dp is a hundredth of a J/kg: an error of h that nothing feels shows here.
        slack = 1e-3 * v + 0.05 / (2.0 * dp)
        assert (upper - lower) / (2.0 * dp) == pytest.approx(v, rel=0.0, abs=slack)


@pytest.mark.parametrize("name", NAMES)
def test_maxwell_relation_in_vapour(name: str) -> None:
    """(dT/dp) at constant s is (dv/ds) at constant p."""
    table = load(name).table
    for p, h in single_phase(load(name)):
        _, _, s, quality = kernels.state(table, p, h)
        if quality < 1.0:
            continue
        dp, dh = 2e-3 * p, 200.0
        warm = kernels.state(table, p + dp, kernels.enthalpy_from_entropy(table, p + dp, s))[0]
        cold = kernels.state(table, p - dp, kernels.enthalpy_from_entropy(table, p - dp, s))[0]
        above = kernels.state(table, p, h + dh)
        below = kernels.state(table, p, h - dh)
        right = (above[1] - below[1]) / (above[2] - below[2])
        assert (warm - cold) / (2.0 * dp) == pytest.approx(right, rel=3e-3)


@pytest.mark.parametrize("name", GLIDING)
def test_blends_boil_with_dh_equal_to_t_ds(name: str) -> None:
    """Heating at constant pressure through the glide adds entropy dh/T."""
    table = load(name).table
    for p in (50e3, 300e3, 1500e3):
        _, _, hl, hg, _, _, sl, sg = kernels.saturation(table, p)
        h = np.linspace(hl, hg, 4001)
        rows = kernels.full_state_array(table, np.full(h.size, p), h)
        total = float(np.trapezoid(1.0 / rows[:, 0], h))
        assert total == pytest.approx(sg - sl, rel=2e-4)
        middle = slice(0, 2001)
        half = float(np.trapezoid(1.0 / rows[middle, 0], h[middle]))
        assert half == pytest.approx(rows[2000, 2] - sl, rel=5e-4)


@pytest.mark.parametrize("name", NAMES)
def test_monotonic_along_an_isobar(name: str) -> None:
    table = load(name).table
    for p in pressures(load(name), 12):
        low, high = kernels.enthalpy_limits(table, p)
        h = np.linspace(low, high, 600)
        rows = kernels.full_state_array(table, np.full(h.size, p), h)
        assert np.all(np.diff(rows[:, 0]) >= -1e-9)
        assert np.all(np.diff(rows[:, 1]) > 0.0)
        assert np.all(np.diff(rows[:, 2]) > 0.0)


@pytest.mark.parametrize("name", NAMES)
def test_monotonic_along_saturation(name: str) -> None:
    table = load(name).table
    along = np.geomspace(table.p_min, table.p_max, 400)
    rows = np.array([kernels.saturation(table, p) for p in along])
    bubble, dew, _, _, vl, vg, sl, sg = rows.T
    for rising in (bubble, dew, vl, sl, -vg, -(sg - sl)):
        assert np.all(np.diff(rising) > 0.0)
    assert np.all(dew - bubble >= -1e-4)
    # Above 0.7 pc the critical enhancement turns the conductivity of liquid up again.
    pressures = np.geomspace(table.p_min, 0.7 * table.p_crit, 200)
    transport = np.array([kernels.saturation_transport(table, p) for p in pressures])
    mul, mug, kl, kg, _, _, sigma = transport.T
    for falling in (mul, kl, sigma, -mug, -kg):
        assert np.all(np.diff(falling) < 0.0)
    assert np.all(sigma > 0.0)


@pytest.mark.parametrize("name", NAMES)
def test_thin_hot_vapour_is_an_ideal_gas(name: str) -> None:
    refrigerant = load(name)
    table = refrigerant.table
    _, hot = kernels.enthalpy_limits(table, table.p_min)
    t, v, *_ = kernels.state(table, table.p_min, hot)
    ideal = GAS_CONSTANT / refrigerant.molar_mass * t / table.p_min
    # Second virial coefficients of these fluids at 400 K stay below 0.5 L/mol.
    allowance = 0.5e-3 * table.p_min / (GAS_CONSTANT * t)
    assert 1.0 - allowance < v / ideal < 1.0


@pytest.mark.parametrize("name", NAMES)
def test_zero_of_enthalpy_and_entropy(name: str) -> None:
    table = load(name).table
    p = kernels.bubble_pressure(table, 273.15)
    _, _, hl, _, _, _, sl, _ = kernels.saturation(table, p)
    assert hl == pytest.approx(200e3, abs=2.0)
    assert sl == pytest.approx(1000.0, abs=0.01)


@given(
    name=st.sampled_from(NAMES),
    p=st.floats(-1e6, 1e8),
    h=st.floats(-2e6, 4e6),
)
def test_kernels_survive_any_iterate(name: str, p: float, h: float) -> None:
    table = load(name).table
    t, v, s, cp, mu, k, quality = kernels.full_state(table, p, h)
    assert all(map(math.isfinite, (t, v, s, cp, mu, k, quality)))
    assert min(t, v, cp, mu, k) > 0.0
    assert kernels.state(table, p, h) == pytest.approx((t, v, s, quality), rel=1e-12)


@given(name=st.sampled_from(NAMES), h=st.floats(-2e6, 4e6), share=st.floats(0.0, 1.0))
def test_continuation_beyond_the_table_is_continuous(name: str, h: float, share: float) -> None:
    table = load(name).table
    p = table.p_min * (table.p_max / table.p_min) ** share
    before = kernels.state(table, p, h - 1.0)
    after = kernels.state(table, p, h + 1.0)
    assert -1e-9 <= after[0] - before[0] < 0.02
    assert abs(after[2] - before[2]) < 0.2


@given(name=st.sampled_from(NAMES), place=st.floats(0.0, 1.0), share=st.floats(0.0, 1.0))
def test_inversions_return_to_the_state(name: str, place: float, share: float) -> None:
    table = load(name).table
    p = table.p_min * (table.p_max / table.p_min) ** place
    low, high = kernels.enthalpy_limits(table, p)
    margin = 0.2 * (high - low)
    h = low - margin + share * (high - low + 2.0 * margin)
    t, _, s, quality = kernels.state(table, p, h)
    width = 1e-8 * (high - low)
    assert kernels.enthalpy_from_entropy(table, p, s) == pytest.approx(h, rel=0.0, abs=10 * width)
    if quality > 1.0:
        assert kernels.enthalpy_vapour(table, p, t) == pytest.approx(h, rel=0.0, abs=width)
    elif quality < 0.0 and t > 30.0:
        assert kernels.enthalpy_liquid(table, p, t) == pytest.approx(h, rel=0.0, abs=width)


@given(name=st.sampled_from(NAMES), share=st.floats(0.0, 1.0))
def test_saturation_pressure_inverts_saturation_temperature(name: str, share: float) -> None:
    table = load(name).table
    p = table.p_min * (table.p_max / table.p_min) ** share
    bubble, dew, *_ = kernels.saturation(table, p)
    assert kernels.bubble_pressure(table, bubble) == pytest.approx(p, rel=1e-9)
    assert kernels.dew_pressure(table, dew) == pytest.approx(p, rel=1e-9)


@given(name=st.sampled_from(NAMES), share=st.floats(0.01, 0.99))
def test_slopes_are_the_derivatives_of_saturation(name: str, share: float) -> None:
    table = load(name).table
    p = table.p_min * (table.p_max / table.p_min) ** share
    step = 1e-5 * p
    upper = kernels.saturation(table, p + step)
    lower = kernels.saturation(table, p - step)
    slopes = kernels.saturation_slopes(table, p)
    for slope, high, low in zip(slopes, upper, lower, strict=False):
        noise = 1e-11 * abs(high) / step
        assert slope == pytest.approx((high - low) / (2.0 * step), rel=1e-5, abs=noise)


@given(name=st.sampled_from(NAMES), share=st.floats(0.0, 1.0))
def test_capillary_kernel_agrees_with_the_others(name: str, share: float) -> None:
    table = load(name).table
    p = table.p_min * (table.p_max / table.p_min) ** share
    _, _, hl, hg, vl, vg, _, _ = kernels.saturation(table, p)
    mul, mug, *_ = kernels.saturation_transport(table, p)
    _, _, *slopes = kernels.saturation_slopes(table, p)
    expected = (hl, hg, vl, vg, mul, mug, *slopes)
    assert kernels.saturation_capillary(table, p) == pytest.approx(expected, rel=1e-12)

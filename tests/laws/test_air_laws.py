"""Moist air: bounds, round trips, monotonicity, and the table against the equations."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sweatline.air import moist
from sweatline.air.saturation_line import saturated_air, saturation_line
from sweatline.errors import OutOfRange

pressures = st.floats(60e3, 110e3)
temperatures = st.floats(223.15, 333.15)
humidities = st.floats(0.02, 1.0)

LINES = {p: saturation_line(p) for p in (60e3, 84.6e3, 101325.0, 110e3)}
table_pressures = st.sampled_from(sorted(LINES))


@given(T=temperatures, rh=humidities, p=pressures)
def test_relative_humidity_round_trip(T: float, rh: float, p: float) -> None:
    W = moist.humidity_ratio(T, rh, p)
    assert moist.relative_humidity(T, W, p) == pytest.approx(rh, rel=1e-12)


@given(T=temperatures, W=st.floats(0.0, 0.08))
def test_enthalpy_round_trip(T: float, W: float) -> None:
    assert moist.temperature(moist.enthalpy(T, W), W) == pytest.approx(T, abs=1e-10)


@given(T=temperatures, p=pressures)
def test_dew_point_of_saturated_air_is_its_temperature(T: float, p: float) -> None:
    W = moist.saturated_humidity_ratio(T, p)
    assert moist.dew_point(W, p) == pytest.approx(T, abs=1e-8)


@given(t=st.floats(200.0, 400.0), step=st.floats(0.01, 5.0))
def test_saturation_pressure_rises(t: float, step: float) -> None:
    assert moist.saturation_pressure(t + step) > moist.saturation_pressure(t)


@given(T=st.floats(180.0, 460.0))
def test_slope_is_the_derivative(T: float) -> None:
    assume(abs(T - moist.TRIPLE_POINT) > 0.01)
    d = 1e-3
    numeric = (moist.saturation_pressure(T + d) - moist.saturation_pressure(T - d)) / (2 * d)
    assert moist.saturation_pressure_slope(T) == pytest.approx(numeric, rel=1e-6)


def test_heat_of_fusion_from_the_kink() -> None:
    """Clausius-Clapeyron: the jump of d ln p/dT at the triple point is h_fusion/(R T^2)."""
    T = moist.TRIPLE_POINT
    p = moist.saturation_pressure(T)
    below = moist.saturation_pressure_slope(math.nextafter(T, 0.0)) / p
    above = moist.saturation_pressure_slope(T) / p
    gas_constant = 8.314462618 / 0.018015268
    assert (below - above) * gas_constant * T**2 == pytest.approx(333.4e3, rel=0.01)
    assert above * gas_constant * T**2 == pytest.approx(moist.LATENT_VAPORIZATION, rel=0.002)


def test_the_two_branches_meet() -> None:
    T = moist.TRIPLE_POINT
    below = moist.saturation_pressure(math.nextafter(T, 0.0))
    assert below == pytest.approx(moist.saturation_pressure(T), rel=1e-8)


@given(T=st.floats(203.15, 363.0), p=table_pressures)
def test_table_against_equations(T: float, p: float) -> None:
    line = LINES[p]
    assume(line.high >= T)
    h, slope_h, water, slope_water = saturated_air(line, T)
    assert water == pytest.approx(moist.saturated_humidity_ratio(T, p), rel=1e-7)
    assert h == pytest.approx(
        moist.enthalpy(T, moist.saturated_humidity_ratio(T, p)), rel=1e-7, abs=1e-3
    )
    pressure = moist.saturation_pressure(T)
    slope = moist.MASS_RATIO * p * moist.saturation_pressure_slope(T) / (p - pressure) ** 2
    assert slope_water == pytest.approx(slope, rel=1e-5)
    heat = moist.LATENT_VAPORIZATION + moist.VAPOR_HEAT_CAPACITY * (T - 273.15)
    assert slope_h == pytest.approx(moist.moist_heat_capacity(water) + slope * heat, rel=1e-5)


@given(T=st.floats(100.0, 900.0), p=table_pressures)
def test_table_rises_everywhere(T: float, p: float) -> None:
    line = LINES[p]
    h, slope_h, _W, slope_W = saturated_air(line, T)
    assert math.isfinite(h)
    assert slope_W > 0.0
    assert slope_h > 0.0


@pytest.mark.parametrize("p", sorted(LINES))
def test_table_is_continuous_where_its_pieces_meet(p: float) -> None:
    line = LINES[p]
    for T in (line.low, moist.TRIPLE_POINT, line.high):
        below = saturated_air(line, math.nextafter(T, 0.0))
        above = saturated_air(line, T)
        assert above[0] == pytest.approx(below[0], rel=1e-9)
        assert above[2] == pytest.approx(below[2], rel=1e-9)
        if T != moist.TRIPLE_POINT:
            assert above[1] == pytest.approx(below[1], rel=1e-6)


@pytest.mark.parametrize("p", sorted(LINES))
def test_table_survives_a_number_that_is_none(p: float) -> None:
    assert all(math.isnan(value) for value in saturated_air(LINES[p], math.nan))


@pytest.mark.parametrize("p", [0.0, 19e3, 1e6, math.nan])
def test_air_pressure_out_of_range(p: float) -> None:
    with pytest.raises(OutOfRange, match="air pressure"):
        saturation_line(p)


@given(altitude=st.floats(-500.0, 4000.0))
def test_pressure_falls_with_altitude(altitude: float) -> None:
    assert moist.standard_pressure(altitude + 1.0) < moist.standard_pressure(altitude)


@given(T=st.floats(220.0, 380.0))
def test_prandtl_number_of_air(T: float) -> None:
    Pr = moist.viscosity(T) * moist.DRY_AIR_HEAT_CAPACITY / moist.conductivity(T)
    assert 0.68 < Pr < 0.74

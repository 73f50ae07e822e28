"""The fin correlations against a second coding of the printed equations."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweatline.flow.finned_surface import (
    air_pressure_drop,
    colburn_factor_wang,
    fin_geometry,
    friction_factor_wang,
)


def j_one_row(Re: float, Fp: float, Dc: float, Dh: float, Pt: float, Pl: float) -> float:
    ln = math.log(Re)
    terms = (
        (0.108, 1.0),
        (Re, -0.29),
        (Pt / Pl, 1.9 - 0.23 * ln),
        (Fp / Dc, -1.084),
        (Fp / Dh, -0.786),
        (Fp / Pt, -0.236 + 0.126 * ln),
    )
    return math.prod(base**exponent for base, exponent in terms)


def j_rows(Re: float, N: float, Fp: float, Dc: float, Dh: float, Pt: float, Pl: float) -> float:
    ln = math.log(Re)
    terms = (
        (0.086, 1.0),
        (Re, -0.361 - 0.042 * N / ln + 0.158 * (math.log(N) + 0.41 * math.log(Fp / Dc))),
        (N, -1.224 - 0.076 * (Pl / Dh) ** 1.42 / ln),
        (Fp / Dc, -0.083 + 0.058 * N / ln),
        (Fp / Dh, -5.735 + 1.21 * (ln - math.log(N))),
        (Fp / Pt, -0.93),
    )
    return math.prod(base**exponent for base, exponent in terms)


def f_rows(Re: float, N: float, Fp: float, Dc: float, Pt: float, Pl: float) -> float:
    ln = math.log(Re)
    terms = (
        (0.0267, 1.0),
        (Re, -0.764 + 0.739 * Pt / Pl + 0.177 * Fp / Dc - 0.00758 / N),
        (Pt / Pl, -15.689 + 64.021 / ln),
        (Fp / Dc, 1.696 - 15.695 / ln),
    )
    return math.prod(base**exponent for base, exponent in terms)


@settings(deadline=None)
@given(
    Re=st.floats(300.0, 2e4),
    N=st.integers(1, 6),
    Fp=st.floats(1.2e-3, 4e-3),
    Do=st.floats(6.4e-3, 12.7e-3),
    Pt=st.floats(20.4e-3, 31.75e-3),
    Pl=st.floats(12.7e-3, 27.5e-3),
)
def test_second_coding(Re: float, N: int, Fp: float, Do: float, Pt: float, Pl: float) -> None:
    g = fin_geometry(Do, 0.12e-3, Fp, Pt, Pl, float(N), True)
    if N == 1:
        j = j_one_row(Re, Fp, g.Dc, g.Dh, Pt, Pl)
    else:
        j = j_rows(Re, N, Fp, g.Dc, g.Dh, Pt, Pl)
    assert colburn_factor_wang(Re, float(N), Fp, g.Dc, g.Dh, Pt, Pl) == pytest.approx(j, rel=1e-10)
    f = f_rows(Re, N, Fp, g.Dc, Pt, Pl)
    assert friction_factor_wang(Re, float(N), Fp, g.Dc, Pt, Pl) == pytest.approx(f, rel=1e-10)


@settings(deadline=None)
@given(ratio=st.floats(0.85, 1.15), friction=st.floats(1.0, 2.2))
def test_pressure_drop_has_friction_and_acceleration(ratio: float, friction: float) -> None:
    """The printed sum, with the core's friction taken from the isothermal dry case."""
    g = fin_geometry(9.52e-3, 0.115e-3, 1.8e-3, 25.4e-3, 22e-3, 2.0, True)
    rho_in = 1.2
    rho_out = rho_in * ratio
    flux = 1.4
    isothermal = air_pressure_drop(flux, 300.0, 0.0, rho_in, rho_in, 1.0, g)
    Gc = flux / g.sigma
    expected = friction * isothermal * rho_in / (0.5 * (rho_in + rho_out)) + Gc**2 / (
        2 * rho_in
    ) * (1 + g.sigma**2) * (rho_in / rho_out - 1)
    ours = air_pressure_drop(flux, 300.0, 0.0, rho_in, rho_out, friction, g)
    assert ours == pytest.approx(expected, rel=1e-12)

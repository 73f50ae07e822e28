"""In-tube correlations against a second coding, every argument varied."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.second_opinions import hughmark_factor, void_fraction_hughmark

from sweatline.flow import boiling, condensation, inside_tube
from sweatline.flow import void_fraction as vf

quality = st.floats(0.01, 0.99)
mass_flux = st.floats(20.0, 800.0)
bore = st.floats(3e-3, 15e-3)
liquid_density = st.floats(450.0, 1400.0)
vapor_density = st.floats(1.0, 80.0)
liquid_viscosity = st.floats(7e-5, 4e-4)
vapor_viscosity = st.floats(6e-6, 1.6e-5)
tension = st.floats(2e-3, 2e-2)


@settings(deadline=None)
@given(
    x=quality, G=mass_flux, D=bore, rl=liquid_density, rg=vapor_density,
    mul=liquid_viscosity, mug=vapor_viscosity,
)  # fmt: skip
def test_two_phase_friction(
    x: float, G: float, D: float, rl: float, rg: float, mul: float, mug: float
) -> None:
    def one_phase(mu: float, rho: float) -> float:
        Re = G * D / mu
        f = 64 / Re if Re <= 1187 else 0.3164 * Re ** (-1 / 4)
        return f / D * G**2 / (2 * rho)

    a, b = one_phase(mul, rl), one_phase(mug, rg)
    printed = (a + 2 * (b - a) * x) * (1 - x) ** (1 / 3) + b * x**3
    ours = inside_tube.gradient_mueller_steinhagen_heck(G, x, D, 1 / rl, 1 / rg, mul, mug)
    # the two laws cross at Re = 1187.4: the larger is taken, 0.02 % from the printed switch
    assert ours == pytest.approx(printed, rel=3e-4)


@settings(deadline=None)
@given(
    G=mass_flux, D=bore, q=st.floats(100.0, 4e4), rl=liquid_density, rg=vapor_density,
    sigma=tension, latent=st.floats(1.2e5, 4.5e5),
)  # fmt: skip
def test_dryout(
    G: float, D: float, q: float, rl: float, rg: float, sigma: float, latent: float
) -> None:
    g = 9.80665
    weber = G**2 * D / (rg * sigma)
    froude = G**2 / (rg * (rl - rg) * g * D)
    critical = 0.131 * rg**0.5 * latent * (g * (rl - rg) * sigma) ** 0.25
    exponent = (
        0.52
        - 0.235 * weber**0.17 * froude**0.37 * (rg / rl) ** 0.25 * (q / critical) ** 0.70
    )  # fmt: skip
    ours = boiling.dryout_quality(G, D, q, 1 / rl, 1 / rg, sigma, latent)
    assert ours == pytest.approx(0.58 * math.exp(exponent), rel=1e-12)


@settings(deadline=None)
@given(
    x=quality, G=mass_flux, D=bore, rl=liquid_density, rg=vapor_density,
    mul=liquid_viscosity, sigma=tension,
)  # fmt: skip
def test_premoli(
    x: float, G: float, D: float, rl: float, rg: float, mul: float, sigma: float
) -> None:
    beta = x / rg / (x / rg + (1 - x) / rl)
    y = beta / (1 - beta)
    Re, We = G * D / mul, G**2 * D / (sigma * rl)
    E1 = 1.578 * Re**-0.19 * (rl / rg) ** 0.22
    E2 = 0.0273 * We * Re**-0.51 * (rl / rg) ** -0.08
    inside = y / (1 + y * E2) - y * E2
    slip = 1 + E1 * math.sqrt(inside) if inside > 0 else 1.0
    printed = 1 / (1 + slip * (1 - x) / x * rg / rl)
    ours = vf.void_fraction_premoli(x, G, D, 1 / rl, 1 / rg, mul, sigma)
    assert ours == pytest.approx(printed, rel=1e-9)


@settings(deadline=None)
@given(
    x=quality, G=mass_flux, D=bore, rl=liquid_density, rg=vapor_density,
    mul=liquid_viscosity, mug=vapor_viscosity,
)  # fmt: skip
def test_hughmark_solves_its_own_equation(
    x: float, G: float, D: float, rl: float, rg: float, mul: float, mug: float
) -> None:
    alpha = void_fraction_hughmark(x, G, D, 1 / rl, 1 / rg, mul, mug)
    beta = x / rg / (x / rg + (1 - x) / rl)
    reynolds = D * G / (mul + alpha * (mug - mul))
    froude = (G * x / (rg * beta * (1 - beta))) ** 2 / (9.80665 * D)
    Z = reynolds ** (1 / 6) * froude ** (1 / 8)
    assert alpha == pytest.approx(hughmark_factor(Z) * beta, rel=1e-9)


@settings(deadline=None)
@given(
    x=quality, G=mass_flux, D=bore, pr=st.floats(0.01, 0.5), pc=st.floats(3e6, 6e6),
    rl=liquid_density, rg=vapor_density, mul=liquid_viscosity, mug=vapor_viscosity,
    kl=st.floats(0.06, 0.12), cpl=st.floats(1200.0, 2900.0),
)  # fmt: skip
def test_condensation_shah_2009(
    x: float, G: float, D: float, pr: float, pc: float, rl: float, rg: float,
    mul: float, mug: float, kl: float, cpl: float,
) -> None:  # fmt: skip
    """As printed, outside the band in which the regimes are led into each other."""
    Re_lt, Re_ls, Pr = G * D / mul, G * (1 - x) * D / mul, mul * cpl / kl
    h_lt = 0.023 * Re_lt**0.8 * Pr**0.4 * kl / D
    bracket = (1 - x) ** 0.8 + 3.8 * x**0.76 * (1 - x) ** 0.04 / pr**0.38
    h_forced = h_lt * (mul / (14 * mug)) ** (0.0058 + 0.557 * pr) * bracket
    h_film = 1.32 * Re_ls ** (-1 / 3) * (rl * (rl - rg) * 9.80665 * kl**3 / mul**2) ** (1 / 3)
    J = x * G / math.sqrt(9.80665 * D * rg * (rl - rg))
    Z = (1 / x - 1) ** 0.8 * pr**0.4
    border = 0.98 * (Z + 0.263) ** -0.62
    no = math.nan
    ours = condensation.condensation_shah_2009(
        G, x, D,
        inside_tube.Phases(pr * pc, pc, no, 1 / rl, 1 / rg, no, mul, mug, kl, no, cpl, no, no),
    )  # fmt: skip
    if border * 1.1 < J:
        assert ours == pytest.approx(h_forced, rel=1e-9)
    elif border * 0.9 > J:
        assert ours == pytest.approx(h_forced + h_film, rel=1e-9)
    else:
        assert h_forced * (1 - 1e-9) <= ours <= (h_forced + h_film) * (1 + 1e-9)

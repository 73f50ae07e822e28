"""Flow in tubes and over fins: bounds, limits, monotonicity, continuity."""

import math
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests import second_opinions as others
from tests.second_opinions import fin_efficiency

from sweatline.flow import boiling, condensation, finned_surface, inside_tube
from sweatline.flow.void_fraction import void_fraction_premoli


class Saturated(NamedTuple):
    """A refrigerant at saturation, SI units (CoolProp 8)."""

    p: float
    pc: float
    M: float
    vl: float
    vg: float
    mul: float
    mug: float
    kl: float
    kg: float
    cpl: float
    cpg: float
    sigma: float
    latent: float


STATES = [
    Saturated(200603.0, 4059280.0, 0.102032, 1 / 1327.13, 1 / 10.0412, 3.03553e-4, 1.03615e-5,
              0.0964924, 0.0106556, 1315.56, 854.351, 1.28471e-2, 205968.0),
    Saturated(1016590.0, 4059280.0, 0.102032, 1 / 1146.74, 1 / 50.085, 1.6145e-4, 1.23729e-5,
              0.0747188, 0.0154485, 1498.41, 1144.51, 6.11492e-3, 163019.0),
    Saturated(406037.0, 4251170.0, 0.0440956, 1 / 535.271, 1 / 8.91034, 1.32235e-4, 7.30168e-6,
              0.108775, 0.0151854, 2456.96, 1695.38, 1.07733e-2, 381718.0),
    Saturated(58427.3, 3629000.0, 0.0581222, 1 / 608.274, 1 / 1.69313, 2.68271e-4, 6.25998e-6,
              0.108644, 0.0120106, 2159.32, 1471.2, 1.57369e-2, 376554.0),
]  # fmt: skip

states = st.sampled_from(STATES)
qualities = st.floats(0.0, 1.0)
inner = st.floats(1e-4, 1.0 - 1e-4)
fluxes = st.floats(20.0, 600.0)
diameters = st.floats(3e-3, 15e-3)
heat_fluxes = st.floats(0.0, 30e3)


# Void fraction


def every_void_fraction(s: Saturated, x: float, G: float, D: float) -> dict[str, float]:
    return {
        "Zivi": others.void_fraction_zivi(x, s.vl, s.vg),
        "Baroczy": others.void_fraction_baroczy(x, s.vl, s.vg, s.mul, s.mug),
        "Premoli": void_fraction_premoli(x, G, D, s.vl, s.vg, s.mul, s.sigma),
        "Hughmark": others.void_fraction_hughmark(x, G, D, s.vl, s.vg, s.mul, s.mug),
    }


@given(s=states, x=inner, G=fluxes, D=diameters)
def test_void_fraction_lies_below_the_homogeneous(
    s: Saturated, x: float, G: float, D: float
) -> None:
    bound = others.void_fraction_homogeneous(x, s.vl, s.vg)
    for name, alpha in every_void_fraction(s, x, G, D).items():
        assert 0.0 < alpha < 1.0, name
        assert alpha <= bound * (1 + 1e-12), name


@given(s=states, x=st.floats(0.0, 0.999), G=fluxes, D=diameters)
def test_void_fraction_rises_with_quality(s: Saturated, x: float, G: float, D: float) -> None:
    lower = every_void_fraction(s, x, G, D)
    upper = every_void_fraction(s, x + 1e-3, G, D)
    for name in lower:
        assert upper[name] >= lower[name], name


@given(s=states, G=fluxes, D=diameters)
def test_void_fraction_at_the_ends(s: Saturated, G: float, D: float) -> None:
    for x in (-0.3, 0.0):
        assert set(every_void_fraction(s, x, G, D).values()) == {0.0}
    for x in (1.0, 1.4):
        assert set(every_void_fraction(s, x, G, D).values()) == {1.0}


@given(G=fluxes, D=diameters, x=st.floats(0.05, 0.95))
def test_phases_of_one_density_do_not_slip_in_zivi(G: float, D: float, x: float) -> None:
    assert others.void_fraction_zivi(x, 1e-3, 1e-3) == pytest.approx(x, rel=1e-12)


@given(s=states, x=st.floats(0.01, 0.99), G=st.floats(30.0, 300.0), D=diameters)
def test_faster_flow_slips_less(s: Saturated, x: float, G: float, D: float) -> None:
    """More mass flux mixes the phases: less liquid is held in the forms that know mass flux."""
    slow, fast = every_void_fraction(s, x, G, D), every_void_fraction(s, x, 2 * G, D)
    for name in ("Premoli", "Hughmark"):
        assert fast[name] >= slow[name] - 1e-12, name


@pytest.mark.parametrize("s", STATES)
def test_order_of_the_charge(s: Saturated) -> None:
    """Weighed machines hold more than Zivi's; the homogeneous form is far below all."""
    mass = dict.fromkeys(("homogeneous", "Zivi", "Baroczy", "Premoli", "Hughmark"), 0.0)
    for x in np.linspace(0.0005, 0.9995, 1000):
        alphas = every_void_fraction(s, x, 100.0, 0.0065)
        alphas["homogeneous"] = others.void_fraction_homogeneous(x, s.vl, s.vg)
        for name, alpha in alphas.items():
            mass[name] += alpha / s.vg + (1 - alpha) / s.vl
    assert mass["homogeneous"] < 0.75 * mass["Zivi"]
    assert mass["Zivi"] < min(mass["Baroczy"], 1.02 * mass["Premoli"])
    assert mass["Hughmark"] > mass["Premoli"]
    assert mass["Hughmark"] > mass["Baroczy"]


# Friction


@given(Re=st.floats(1.0, 1500.0), roughness=st.floats(0.0, 0.03))
def test_laminar_friction(Re: float, roughness: float) -> None:
    assert inside_tube.darcy_friction_churchill(Re, roughness) == pytest.approx(64.0 / Re, rel=2e-3)


@given(roughness=st.floats(1e-4, 0.03))
def test_rough_friction(roughness: float) -> None:
    """At large Reynolds number von Karman's law of rough pipes."""
    f = (2.0 * math.log10(3.7 / roughness)) ** -2
    assert inside_tube.darcy_friction_churchill(1e9, roughness) == pytest.approx(f, rel=5e-3)


@given(Re=st.floats(5e3, 1e8), roughness=st.floats(0.0, 0.02))
def test_turbulent_friction_falls_with_reynolds_and_rises_with_roughness(
    Re: float, roughness: float
) -> None:
    f = inside_tube.darcy_friction_churchill(Re, roughness)
    assert inside_tube.darcy_friction_churchill(1.05 * Re, roughness) <= f * (1 + 1e-9)
    assert inside_tube.darcy_friction_churchill(Re, roughness + 0.01) > f


@pytest.mark.parametrize("Re", [0.0, -5.0, 1e-300, 1e-9])
def test_friction_survives_no_flow(Re: float) -> None:
    assert math.isfinite(inside_tube.darcy_friction_churchill(Re, 0.0))


@given(s=states, G=fluxes, D=diameters)
def test_two_phase_gradient_at_the_ends(s: Saturated, G: float, D: float) -> None:
    def blasius(mu: float, v: float) -> float:
        Re = G * D / mu
        return (64 / Re if Re < 1187 else 0.3164 / Re**0.25) * G * G * v / (2 * D)

    gradient = inside_tube.gradient_mueller_steinhagen_heck
    liquid = gradient(G, 0.0, D, s.vl, s.vg, s.mul, s.mug)
    vapor = gradient(G, 1.0, D, s.vl, s.vg, s.mul, s.mug)
    assert liquid == pytest.approx(blasius(s.mul, s.vl), rel=2e-4)
    assert vapor == pytest.approx(blasius(s.mug, s.vg), rel=2e-4)
    assert gradient(G, 1.0 - 1e-12, D, s.vl, s.vg, s.mul, s.mug) == pytest.approx(vapor, rel=1e-3)
    assert gradient(G, -1.0, D, s.vl, s.vg, s.mul, s.mug) == liquid
    assert gradient(G, 2.0, D, s.vl, s.vg, s.mul, s.mug) == vapor


@given(s=states, G=fluxes, D=diameters, x=qualities)
def test_gradients_rise_with_mass_flux_and_fall_with_bore(
    s: Saturated, G: float, D: float, x: float
) -> None:
    gradient = inside_tube.gradient_mueller_steinhagen_heck
    here = gradient(G, x, D, s.vl, s.vg, s.mul, s.mug)
    assert gradient(1.01 * G, x, D, s.vl, s.vg, s.mul, s.mug) > here > 0.0
    assert gradient(G, x, 1.01 * D, s.vl, s.vg, s.mul, s.mug) < here


@pytest.mark.parametrize("s", STATES)
def test_two_phase_gradient_is_continuous_over_the_laminar_border(s: Saturated) -> None:
    D = 6e-3
    for mu in (s.mul, s.mug):
        G = 1187.4 * mu / D
        grid = np.linspace(0.98 * G, 1.02 * G, 401)
        values = np.array(
            [
                inside_tube.gradient_mueller_steinhagen_heck(g, 0.4, D, s.vl, s.vg, s.mul, s.mug)
                for g in grid
            ]
        )
        assert np.max(np.abs(np.diff(values))) < 5e-4 * values[0]


# Heat transfer of one phase


@given(Re=st.floats(1.0, 2e5), Pr=st.floats(0.6, 10.0), step=st.floats(1e-6, 0.2))
def test_nusselt_never_falls_with_reynolds(Re: float, Pr: float, step: float) -> None:
    assert inside_tube.nusselt_gnielinski(Re * (1 + step), Pr) >= inside_tube.nusselt_gnielinski(
        Re, Pr
    )


@given(Pr=st.floats(0.6, 10.0), Re=st.sampled_from([2300.0, 4000.0]))
def test_nusselt_is_continuous(Pr: float, Re: float) -> None:
    below = inside_tube.nusselt_gnielinski(Re * (1 - 1e-10), Pr)
    assert inside_tube.nusselt_gnielinski(Re * (1 + 1e-10), Pr) == pytest.approx(below, rel=1e-8)


@given(s=states, G=fluxes, D=diameters)
def test_coefficient_of_one_phase_is_its_nusselt_number(s: Saturated, G: float, D: float) -> None:
    h = inside_tube.heat_transfer_single_phase(G, D, s.mul, s.kl, s.cpl)
    nusselt = inside_tube.nusselt_gnielinski(G * D / s.mul, s.mul * s.cpl / s.kl)
    assert h * D / s.kl == pytest.approx(nusselt, rel=1e-12)


# Boiling and condensation


def phases(s: Saturated) -> inside_tube.Phases:
    return inside_tube.Phases(
        s.p, s.pc, s.M, s.vl, s.vg, s.latent, s.mul, s.mug, s.kl, s.kg, s.cpl, s.cpg, s.sigma
    )


def boil(s: Saturated, G: float, x: float, D: float, q: float) -> float:
    return boiling.boiling_with_dryout(G, x, D, q, phases(s))


@given(s=states, G=fluxes, x=qualities, D=diameters, q=heat_fluxes)
def test_boiling_is_continuous_in_quality(
    s: Saturated, G: float, x: float, D: float, q: float
) -> None:
    start = boiling.dryout_quality(G, D, q, s.vl, s.vg, s.sigma, s.latent)
    for middle in (x, start, 1.0):
        below, above = boil(s, G, middle - 1e-7, D, q), boil(s, G, middle + 1e-7, D, q)
        assert above == pytest.approx(below, rel=1e-4)


@given(s=states, G=fluxes, D=diameters, q=heat_fluxes)
def test_boiling_ends_in_vapour(s: Saturated, G: float, D: float, q: float) -> None:
    vapor = inside_tube.heat_transfer_single_phase(G, D, s.mug, s.kg, s.cpg)
    assert boil(s, G, 1.0, D, q) == vapor
    assert boil(s, G, 1.3, D, q) == vapor


@given(s=states, G=fluxes, x=qualities, D=diameters, q=heat_fluxes)
def test_boiling_rises_with_heat_flux_before_dryout(
    s: Saturated, G: float, x: float, D: float, q: float
) -> None:
    def wet(flux: float) -> float:
        return boiling.boiling_liu_winterton(G, x, D, flux, phases(s))

    assert wet(q + 100.0) > wet(q) > 0.0
    assert wet(-50.0) == wet(0.0)


@given(G=st.floats(1.0, 600.0), D=diameters, s=states)
def test_froude_factors(G: float, D: float, s: Saturated) -> None:
    """As printed but for the scale that meets one at the border; never above one."""
    Fr = (G * s.vl) ** 2 / (9.80665 * D)
    enhancement, suppression = boiling.froude_factors(G, D, s.vl)
    if Fr >= 0.05:
        assert (enhancement, suppression) == (1.0, 1.0)
    else:
        assert enhancement == pytest.approx(Fr ** (0.1 - 2 * Fr), rel=1e-12)
        assert suppression == pytest.approx(math.sqrt(Fr / 0.05), rel=1e-12)
    assert 0.0 < enhancement <= 1.0
    assert 0.0 < suppression <= 1.0
    flux = math.sqrt(0.05 * 9.80665 * D) / s.vl
    below = boiling.froude_factors(flux * (1 - 1e-9), D, s.vl)
    above = boiling.froude_factors(flux * (1 + 1e-9), D, s.vl)
    assert below == pytest.approx(above, rel=1e-6)


@given(s=states, G=fluxes, D=diameters, q=heat_fluxes)
def test_dryout_comes_earlier_with_heat_flux(s: Saturated, G: float, D: float, q: float) -> None:
    early = boiling.dryout_quality(G, D, q + 500.0, s.vl, s.vg, s.sigma, s.latent)
    late = boiling.dryout_quality(G, D, q, s.vl, s.vg, s.sigma, s.latent)
    assert 0.0 < early < late <= 0.976


def condense(s: Saturated, G: float, x: float, D: float) -> float:
    return condensation.condensation_shah_2009_with_ends(G, x, D, phases(s))


@given(s=states, G=fluxes, x=qualities, D=diameters)
def test_condensation_is_continuous_in_quality(s: Saturated, G: float, x: float, D: float) -> None:
    for middle in (x, 0.0, 0.05, 0.95, 1.0):
        below, above = condense(s, G, middle - 1e-8, D), condense(s, G, middle + 1e-8, D)
        assert above == pytest.approx(below, rel=1e-4)


@given(s=states, G=fluxes, D=diameters)
def test_condensation_ends_in_one_phase(s: Saturated, G: float, D: float) -> None:
    one = inside_tube.heat_transfer_single_phase
    assert condense(s, G, -0.2, D) == one(G, D, s.mul, s.kl, s.cpl)
    assert condense(s, G, 1.2, D) == one(G, D, s.mug, s.kg, s.cpg)


@pytest.mark.parametrize("s", STATES)
def test_condensation_is_continuous_over_the_change_of_regime(s: Saturated) -> None:
    flux = np.geomspace(10.0, 1000.0, 4001)
    h = np.array([condensation.condensation_shah_2009(G, 0.5, 0.0065, phases(s)) for G in flux])
    assert np.max(np.abs(np.diff(h)) / h[:-1]) < 0.01


@given(s=states, G=fluxes, x=st.floats(0.05, 0.9), D=diameters)
def test_condensation_rises_with_quality_and_mass_flux(
    s: Saturated, G: float, x: float, D: float
) -> None:
    def shah(flux: float, bore: float) -> float:
        return condensation.condensation_shah(flux, x, bore, s.p, s.pc, s.mul, s.kl, s.cpl)

    assert shah(1.02 * G, D) > shah(G, D) > shah(G, 1.02 * D)


# Air over fins

BLOCKS = [
    finned_surface.fin_geometry(9.52e-3, 0.115e-3, 1.8e-3, 25.4e-3, 22e-3, 2.0, True),
    finned_surface.fin_geometry(9.52e-3, 0.13e-3, 2.5e-3, 25.4e-3, 22e-3, 1.0, True),
    finned_surface.fin_geometry(7.0e-3, 0.10e-3, 1.5e-3, 21e-3, 12.7e-3, 3.0, True),
]
blocks = st.sampled_from(BLOCKS)


@given(
    Do=st.floats(6e-3, 13e-3),
    t=st.floats(0.08e-3, 0.2e-3),
    Fp=st.floats(1.2e-3, 5e-3),
    Pt=st.floats(18e-3, 32e-3),
    Pl=st.floats(14e-3, 28e-3),
    rows=st.integers(1, 6),
)
def test_areas_add_up(Do: float, t: float, Fp: float, Pt: float, Pl: float, rows: int) -> None:
    g = finned_surface.fin_geometry(Do, t, Fp, Pt, Pl, float(rows), True)
    assert 0.0 < g.sigma < 1.0
    assert 0.0 < g.fin_fraction < 1.0
    assert g.Dh == pytest.approx(4 * g.sigma * g.depth / g.area_ratio, rel=1e-12)
    collars = g.area_ratio * (1 - g.fin_fraction)
    assert collars == pytest.approx(math.pi * g.Dc * (Fp - t) * rows / (Pt * Fp), rel=1e-9)
    twice = finned_surface.fin_geometry(Do, t, Fp, Pt, Pl, 2.0 * rows, True)
    assert twice.area_ratio == pytest.approx(2 * g.area_ratio, rel=1e-12)
    assert twice.Dh == pytest.approx(g.Dh, rel=1e-12)


@given(g=blocks, flux=st.floats(0.05, 4.0), step=st.floats(0.01, 0.3))
def test_more_air_more_heat_and_more_pressure(
    g: finned_surface.FinGeometry, flux: float, step: float
) -> None:
    coefficient, drop = finned_surface.air_side_coefficient, finned_surface.air_pressure_drop
    more = flux * (1 + step)
    assert coefficient(more, 300.0, 0.01, g) >= coefficient(flux, 300.0, 0.01, g) * (1 - 1e-12)
    assert drop(more, 300.0, 0.01, 1.17, 1.17, 1.0, g) > drop(flux, 300.0, 0.01, 1.17, 1.17, 1.0, g)


@given(g=blocks, border=st.sampled_from([200.0, 2e4]))
def test_factors_are_continuous_where_they_are_continued(
    g: finned_surface.FinGeometry, border: float
) -> None:
    for Re in (border * (1 - 1e-10), border * (1 + 1e-10)):
        at = finned_surface.colburn_factor_wang(border, g.rows, g.fin_pitch, g.Dc, g.Dh, g.Pt, g.Pl)
        j = finned_surface.colburn_factor_wang(Re, g.rows, g.fin_pitch, g.Dc, g.Dh, g.Pt, g.Pl)
        assert j == pytest.approx(at, rel=1e-8)
        at = finned_surface.friction_factor_wang(border, g.rows, g.fin_pitch, g.Dc, g.Pt, g.Pl)
        f = finned_surface.friction_factor_wang(Re, g.rows, g.fin_pitch, g.Dc, g.Pt, g.Pl)
        assert f == pytest.approx(at, rel=1e-8)


@given(g=blocks, flux=st.floats(0.5, 3.0))
def test_wet_fins_hold_the_air_back(g: finned_surface.FinGeometry, flux: float) -> None:
    ratio = finned_surface.WET_FRICTION_RATIO
    dry = finned_surface.air_pressure_drop(flux, 290.0, 0.01, 1.2, 1.2, 1.0, g)
    assert finned_surface.air_pressure_drop(flux, 290.0, 0.01, 1.2, 1.2, ratio, g) == pytest.approx(
        ratio * dry, rel=1e-12
    )


@given(
    h=st.floats(0.0, 500.0),
    k=st.floats(50.0, 400.0),
    t=st.floats(0.08e-3, 0.3e-3),
    r=st.floats(3e-3, 7e-3),
    Pt=st.floats(18e-3, 32e-3),
    Pl=st.floats(14e-3, 28e-3),
    staggered=st.booleans(),
)
def test_fin_efficiency(
    h: float, k: float, t: float, r: float, Pt: float, Pl: float, staggered: bool
) -> None:
    efficiency = fin_efficiency
    here = efficiency(h, k, t, r, Pt, Pl, staggered)
    assert 0.0 < here <= 1.0
    assert efficiency(h + 1.0, k, t, r, Pt, Pl, staggered) <= here
    assert efficiency(h, 1.1 * k, t, r, Pt, Pl, staggered) >= here
    assert efficiency(h, k, 1.1 * t, r, Pt, Pl, staggered) >= here
    assert efficiency(0.0, k, t, r, Pt, Pl, staggered) == 1.0

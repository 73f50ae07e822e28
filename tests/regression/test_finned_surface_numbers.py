"""The fin correlations as an earlier calculation of ours had them."""

from collections.abc import Callable

import pytest

from sweatline.flow import finned_surface as fins
from sweatline.flow.finned_surface import FinGeometry, fin_geometry

# Air of the earlier calculation: density, viscosity, conductivity, heat capacity.
DENSITY, VISCOSITY, CONDUCTIVITY, HEAT_CAPACITY = 1.177, 1.846e-5, 0.02624, 1007.0

# Do, t, Pt, Pl, Fp in mm, rows; Dh mm, sigma, Ao/Afr; V m/s, Re, j, f, h W/(m2 K), dp Pa.
REGRESSION = [
    ((9.52, 0.115, 25.4, 22.0, 1.8, 2), (2.275, 0.5768, 44.61),
     (0.8, 862.2, 0.02184, 0.06988, 45.2, 6.12)),
    ((9.52, 0.115, 25.4, 22.0, 1.8, 2), (2.275, 0.5768, 44.61),
     (1.2, 1293.4, 0.01703, 0.05437, 52.8, 10.71)),
    ((9.52, 0.115, 25.4, 22.0, 1.8, 2), (2.275, 0.5768, 44.61),
     (1.8, 1940.1, 0.01326, 0.04367, 61.7, 19.36)),
    ((9.52, 0.115, 25.4, 22.0, 2.5, 1), (3.154, 0.5878, 16.40),
     (1.2, 1269.1, 0.01587, 0.04970, 48.3, 3.40)),
    ((7.0, 0.10, 21.0, 12.7, 1.5, 2), (2.029, 0.6133, 30.71),
     (1.2, 898.2, 0.02162, 0.08379, 63.1, 9.45)),
    ((9.52, 0.13, 25.4, 19.05, 2.12, 3), (2.696, 0.5773, 48.95),
     (1.2, 1296.3, 0.01574, 0.05138, 48.8, 11.08)),
]  # fmt: skip


def block(mm: tuple[float, ...]) -> FinGeometry:
    Do, t, Pt, Pl, Fp, rows = mm
    return fin_geometry(1e-3 * Do, 1e-3 * t, 1e-3 * Fp, 1e-3 * Pt, 1e-3 * Pl, float(rows), True)


@pytest.mark.parametrize(("mm", "areas", "flow"), REGRESSION)
def test_regression(
    computed: Callable[..., None],
    mm: tuple[float, ...],
    areas: tuple[float, ...],
    flow: tuple[float, ...],
) -> None:
    g = block(mm)
    V, Re_printed, j_printed, f_printed, h_printed, dp_printed = flow
    Gc = DENSITY * V / g.sigma
    Re = Gc * g.Dc / VISCOSITY
    j = fins.colburn_factor_wang(Re, g.rows, g.fin_pitch, g.Dc, g.Dh, g.Pt, g.Pl)
    f = fins.friction_factor_wang(Re, g.rows, g.fin_pitch, g.Dc, g.Pt, g.Pl)
    Pr = VISCOSITY * HEAT_CAPACITY / CONDUCTIVITY
    h = j * Gc * HEAT_CAPACITY * Pr ** (-2 / 3)
    dp = Gc**2 / (2 * DENSITY) * f * g.area_ratio / g.sigma
    case = f"{mm[0]:g}/{mm[1]:g}/{mm[2]:g}/{mm[3]:g}/{mm[4]:g} mm, {mm[5]} rows"
    for quantity, unit, printed, ours in (
        ("hydraulic diameter", "mm", areas[0], 1e3 * g.Dh),
        ("free-flow share", "", areas[1], g.sigma),
        ("surface per face", "", areas[2], g.area_ratio),
        ("Reynolds number", "", Re_printed, Re),
        ("Colburn factor", "", j_printed, j),
        ("friction factor", "", f_printed, f),
        ("coefficient", "W/(m2*K)", h_printed, h),
        ("pressure drop", "Pa", dp_printed, dp),
    ):
        digits = len(f"{printed:g}".replace(".", "").lstrip("0"))
        computed(
            source="earlier calculation from the printed equations",
            quantity=f"{quantity}, {case}, {V:g} m/s",
            unit=unit,
            expected=printed,
            ours=ours,
            tolerance=0.6 * 10.0 ** (1 - digits) if digits > 1 else 0.05,
            reason="the digits kept",
        )


def test_coefficient_and_pressure_drop_call_the_factors(computed: Callable[..., None]) -> None:
    """The kernels a coil calls, at the state of the earlier calculation (300 K, dry)."""
    mm, _, flow = REGRESSION[1]
    g = block(mm)
    flux = DENSITY * flow[0]
    for quantity, unit, printed, ours in (
        ("coefficient", "W/(m2*K)", flow[4], fins.air_side_coefficient(flux, 300.0, 0.0, g)),
        (
            "pressure drop",
            "Pa",
            flow[5],
            fins.air_pressure_drop(flux, 300.0, 0.0, DENSITY, DENSITY, 1.0, g),
        ),
    ):
        computed(
            source="earlier calculation from the printed equations",
            quantity=f"{quantity} through the coil's kernel, 1.2 m/s",
            unit=unit,
            expected=printed,
            ours=ours,
            tolerance=2e-3,
            reason="our air properties at 300 K against the rounded ones of the calculation",
        )

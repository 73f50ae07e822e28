"""Gas through a tube: the closed form against the balances marched along the tube."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import solve_ivp

from sweatline.air.permanent_gas import NITROGEN
from sweatline.constants import GAS_CONSTANT
from sweatline.flow.inside_tube import darcy_friction_churchill
from sweatline.parts.capillary_gas import gas_flow

HEAT = 3.5 * GAS_CONSTANT / NITROGEN.molar_mass  # J/(kg K), of two atoms


@pytest.mark.parametrize(("inlet", "length"), [(1.8e5, 1.0), (3e5, 3.0)])
def test_a_march_in_pressure_ends_at_the_pressure_of_the_place(inlet: float, length: float) -> None:
    bore, roughness, warm, place = 1.1e-3, 0.75e-6, 293.15, 1.0e5
    passed = gas_flow(
        NITROGEN, bore=bore, length=length, roughness=roughness, inlet_pressure=inlet,
        outlet_pressure=place, temperature=warm,
    )  # fmt: skip
    flux = passed / (0.25 * math.pi * bore**2)
    of = GAS_CONSTANT / NITROGEN.molar_mass
    friction = darcy_friction_churchill(
        flux * bore / NITROGEN.viscosity(warm), roughness / bore
    )  # fmt: skip

    def state(p: float) -> tuple[float, float]:
        """Volume [m3/kg] and its slope dv/dp where total enthalpy and flux are given."""
        a, b, c = 0.5 * flux**2, HEAT * p / of, -HEAT * warm
        v = (-b + math.sqrt(b * b - 4.0 * a * c)) / (2.0 * a)
        return v, -(HEAT * v / of) / (HEAT * p / of + flux**2 * v)

    def slope(_z: float, y: list[float]) -> list[float]:
        v, dv = state(y[0])
        return [-friction * flux**2 * v / (2.0 * bore) / (1.0 + flux**2 * dv)]

    # Without loss into the tube, then half a velocity head, as so much more friction.
    entered = inlet
    for _ in range(50):
        v, _dv = state(entered)
        entered = inlet * (1.0 - 0.5 * (flux * v) ** 2 / (HEAT * warm)) ** 3.5
    whole = length + 0.5 * bore / friction
    found = solve_ivp(slope, (0.0, whole), [entered], rtol=1e-9, atol=1e-3)
    assert found.y[0, -1] == pytest.approx(place, rel=1e-4)

"""Nitrogen, helium and air of the bench against the reference library.

Tolerances are what a hold needs: 0.2 per cent of the moles at 60 bar and 0.3 per cent of the
pressure's answer to temperature are far below any gauge; viscosity enters a leak in proportion.
"""

import pytest

from sweatline.air.permanent_gas import AIR, HELIUM, NITROGEN, PermanentGas

CoolProp = pytest.importorskip("CoolProp.CoolProp")

GASES = ((NITROGEN, "Nitrogen"), (HELIUM, "Helium"), (AIR, "Air"))
every_gas = pytest.mark.parametrize(("gas", "name"), GASES, ids=[g.name for g, _ in GASES])


@every_gas
@pytest.mark.parametrize("temperature", [253.15, 293.15, 333.15])
@pytest.mark.parametrize("pressure", [2e5, 1e6, 3.5e6, 6e6])
def test_moles_in_a_volume(
    gas: PermanentGas, name: str, temperature: float, pressure: float
) -> None:
    theirs = CoolProp.PropsSI("Dmolar", "T", temperature, "P", pressure, name)
    assert gas.amount_density(pressure, temperature) == pytest.approx(theirs, rel=2e-3)
    ours = gas.amount_density(pressure, temperature)
    assert gas.pressure(ours, temperature) == pytest.approx(pressure, rel=1e-12)


@every_gas
@pytest.mark.parametrize("pressure", [1e6, 3.5e6])
def test_how_far_a_degree_moves_a_shut_volume(
    gas: PermanentGas, name: str, pressure: float
) -> None:
    rho = CoolProp.PropsSI("Dmolar", "T", 293.15, "P", pressure, name)
    theirs = CoolProp.PropsSI("P", "T", 303.15, "Dmolar", rho, name) - pressure
    ours = gas.pressure(gas.amount_density(pressure, 293.15), 303.15) - pressure
    assert ours == pytest.approx(theirs, rel=3e-3)


@every_gas
@pytest.mark.parametrize("temperature", [263.15, 293.15, 323.15])
def test_viscosity(gas: PermanentGas, name: str, temperature: float) -> None:
    theirs = CoolProp.PropsSI("V", "T", temperature, "P", 1e5, name)
    assert gas.viscosity(temperature) == pytest.approx(theirs, rel=1e-2)

"""Gas through a capillary tube: what more passes, what no longer matters, and the way back."""

from __future__ import annotations

from typing import Any, Final

import pytest

from sweatline.air.permanent_gas import AIR, NITROGEN
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.parts.capillary_gas import bore_of_gas_flow, friction_to_sonic, gas_flow

TUBE: Final = {
    "bore": 1.25e-3, "length": 1.0, "roughness": 0.75e-6, "inlet_pressure": 8e5,
    "outlet_pressure": STANDARD_ATMOSPHERE, "temperature": 293.15,
}  # fmt: skip


def flow(**changed: float) -> float:
    return gas_flow(NITROGEN, **{**TUBE, **changed})


def test_more_passes_a_wider_shorter_smoother_tube_under_more_pressure_and_cold() -> None:
    usual = flow()
    assert flow(bore=1.3e-3) > usual * (1.3 / 1.25) ** 2.3
    for more in ({"length": 0.9}, {"roughness": 0.0}, {"inlet_pressure": 8.5e5}):
        assert flow(**more) > usual
    assert flow(temperature=303.15) < usual
    assert gas_flow(AIR, **TUBE) == pytest.approx(usual, rel=0.03)


def test_behind_a_tube_that_chokes_the_pressure_does_not_matter() -> None:
    assert flow(outlet_pressure=8e4) == pytest.approx(flow(), rel=1e-9)
    low = {"inlet_pressure": 2e5}
    assert flow(**low, outlet_pressure=8e4) > 1.02 * flow(**low)
    assert flow(inlet_pressure=1.001 * STANDARD_ATMOSPHERE) < 0.05 * flow(**low)
    assert friction_to_sonic(1.0) == 0.0


@pytest.mark.parametrize("pressure", [2e5, 8e5])
@pytest.mark.parametrize("length", [0.3, 3.0])
def test_the_bore_is_found_again(pressure: float, length: float) -> None:
    known: Any = {**TUBE, "inlet_pressure": pressure, "length": length}
    bore = known.pop("bore")
    passed = gas_flow(NITROGEN, bore=bore, **known)
    assert bore_of_gas_flow(NITROGEN, flow=passed, **known) == pytest.approx(bore, rel=1e-6)

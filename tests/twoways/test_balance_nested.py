"""Steady state of a machine by Newton's method against one bracketed root inside another.

The two share the parts and nothing else: no derivatives, no step control, no common path.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.dehumidifiers import Dehumidifier
from tests.nested import solve_nested

from sweatline.machine.balance import Target, design, filled, fixed_charge, solve

MACHINES = {
    "R-134a": Dehumidifier(
        refrigerant="R-134a",
        displacement=9e-6,
        temperature=299.15,
        relative_humidity=0.60,
        airflow=0.09,
        capillary_length=0.17,
        cells=6,
    ),
    "R-290": Dehumidifier(
        refrigerant="R-290",
        displacement=6e-6,
        temperature=295.15,
        relative_humidity=0.70,
        airflow=0.07,
        capillary_length=0.70,
        cells=6,
    ),
    "R-454C": Dehumidifier(
        refrigerant="R-454C",
        displacement=6e-6,
        kind="rotary",
        temperature=299.15,
        relative_humidity=0.50,
        airflow=0.09,
        capillary_length=0.35,
        cells=6,
    ),
}
OVERCHARGE = 1.25
CASES = ("design", "filled", "overcharged", "undercharged")


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("case", CASES)
def test_newton_against_nested_roots(name: str, case: str) -> None:
    table, line, machine = MACHINES[name].build()
    full = solve(table, line, machine, filled(superheat=5.0))
    target: Target = {
        "design": design(superheat=5.0, subcooling=5.0),
        "filled": filled(superheat=5.0),
        "overcharged": fixed_charge(OVERCHARGE * full.charge),
        "undercharged": fixed_charge(0.85 * full.charge),
    }[case]
    newton = solve(table, line, machine, target)
    # Not started on the answer: a per cent off in pressures and flow, 100 J/kg in enthalpy.
    start = np.array(newton.unknowns) + np.array([0.01, 0.01, 0.01, 100.0])
    nested = solve_nested(table, line, machine, target, start=start, width=0.1)
    assert nested.residual < 1e-8
    for a, b in zip(newton.unknowns[:3], nested.unknowns[:3], strict=True):
        assert math.expm1(b - a) == pytest.approx(0.0, abs=1e-7)
    assert nested.unknowns[3] == pytest.approx(newton.unknowns[3], abs=0.05)
    names = ("cooling", "compressor_power", "charge", "superheat", "subcooling")
    for of in (*names, "discharge_temperature"):
        assert getattr(nested, of) == pytest.approx(getattr(newton, of), rel=1e-6, abs=1e-5), of
    assert nested.water == pytest.approx(newton.water, rel=1e-5)
    if case == "overcharged":
        assert newton.suction_quality < 1.0
    if case == "undercharged":
        assert newton.superheat > 10.0

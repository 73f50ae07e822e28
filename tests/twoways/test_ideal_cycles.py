"""Ideal cycles of one refrigerant and another against an earlier calculation."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import pytest

from sweatline.constants import ZERO_CELSIUS
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import (
    dew_pressure,
    enthalpy_from_entropy,
    enthalpy_liquid,
    enthalpy_vapour,
    state,
)


class Condition(NamedTuple):
    """Dew temperatures, return gas and liquid [C]."""

    evaporating: float
    condensing: float
    suction: float
    liquid: float


HBP = Condition(7.2, 54.4, 35.0, 46.1)
LBP = Condition(-23.3, 54.4, 32.2, 32.2)
MBP = Condition(-6.7, 48.9, 18.3, 48.9)

# CoolProp 8, isentropic, volumetric efficiency one, equal displacement. Substitute over
# baseline: capacity, COP, power, and the discharge temperature's difference in K.
IDEAL = [
    ("R-134a", "R-152a", HBP, 0.928, 1.011, 0.918, 9.4),
    ("R-12", "R-152a", LBP, 0.867, 0.983, 0.883, 11.8),
    ("R-134a", "R-600a", LBP, 0.560, 1.060, 0.528, -16.4),
    ("R-12", "R-600a", LBP, 0.527, 1.059, 0.498, -23.3),
    ("R-12", "R-134a", LBP, 0.942, 0.999, 0.943, -6.9),
    ("R-134a", "R-290", LBP, 1.577, 0.995, 1.584, -2.7),
    ("R-22", "R-290", HBP, 0.870, 1.022, 0.851, -17.6),
    ("R-12", "R-22", MBP, 1.596, 0.963, 1.657, 17.8),
]


class Ideal(NamedTuple):
    """Per cubic metre swept."""

    capacity: float
    power: float
    discharge: float


def ideal_cycle(name: str, at: Condition) -> Ideal:
    table = load(name).table
    te, tc, suction, liquid = (t + ZERO_CELSIUS for t in at)
    ps, pd = dew_pressure(table, te), dew_pressure(table, tc)
    h1 = enthalpy_vapour(table, ps, suction)
    _t, v1, s1, _x = state(table, ps, h1)
    h2 = enthalpy_from_entropy(table, pd, s1)
    h3 = enthalpy_liquid(table, pd, liquid)
    return Ideal((h1 - h3) / v1, (h2 - h1) / v1, state(table, pd, h2)[0])


@pytest.mark.parametrize("row", IDEAL, ids=lambda r: f"{r[0]} to {r[1]}")
def test_ideal_cycles(computed: Callable[..., None], row: Any) -> None:
    """Regression: arithmetic on property tables, no machine in it."""
    old, new, condition, capacity, cop, power, warmer = row
    a, b = ideal_cycle(old, condition), ideal_cycle(new, condition)
    ours = {
        "capacity": (b.capacity / a.capacity, capacity),
        "COP": (b.capacity / b.power / (a.capacity / a.power), cop),
        "power": (b.power / a.power, power),
    }
    where = f"{old} to {new}, {condition.evaporating:g}/{condition.condensing:g} °C"
    common: dict[str, Any] = {
        "source": "earlier calculation with CoolProp 8",
        "kind": "absolute",
    }
    for quantity, (found, printed) in ours.items():
        computed(
            quantity=f"{quantity}, {where}",
            unit="",
            expected=printed,
            ours=found,
            tolerance=0.001,
            reason="printed to three decimals; the last may be rounded either way",
            **common,
        )
    computed(
        quantity=f"discharge temperature, {where}",
        unit="K",
        expected=warmer,
        ours=b.discharge - a.discharge,
        tolerance=0.1,
        reason="printed to a tenth",
        **common,
    )

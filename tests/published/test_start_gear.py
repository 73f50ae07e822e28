"""Capacitors, their discharge and wire against values from print.

The capacitor figures are arithmetic on textbook equations, done apart from this code; the wire
tables are those of standards, from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from sweatline.bench.start_gear.motor import STRANDED, gauge_area, wire_resistance


@pytest.mark.parametrize(("gauge", "printed"), [(12, 5.211), (14, 8.286), (16, 13.17), (18, 20.95)])
def test_resistance_of_an_american_gauge(
    published: Callable[..., Any], gauge: int, printed: float
) -> None:
    published(
        model="cord", source="wire tables after ASTM B258", status="MEMORY 0.95", basis="rule",
        quantity=f"{gauge} AWG, solid copper at 20 °C", unit="ohm/km", printed=printed,
        ours=wire_resistance(length=1000.0, area=gauge_area(gauge), temperature=293.15),
        tolerance=1e-3, reason="four printed digits",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("square_millimetres", "printed"), [(0.75, 26.0), (1.0, 19.5), (1.5, 13.3), (2.5, 7.98)]
)
def test_resistance_of_a_flexible_cord(
    published: Callable[..., Any], square_millimetres: float, printed: float
) -> None:
    published(
        model="cord", source="IEC 60228 class 5, largest allowed", status="MEMORY 0.85",
        in_sample=True,  # the allowance for the strands was chosen from this table
        basis="rule", quantity=f"{square_millimetres:g} mm2 flexible copper at 20 °C",
        unit="ohm/km", printed=printed,
        ours=wire_resistance(
            length=1000.0, area=square_millimetres * 1e-6, temperature=293.15,
            stranded=STRANDED["metric"],
        ),
        tolerance=0.02, reason="one allowance for all sections; the table's lies within 2 % of it",
    )  # fmt: skip

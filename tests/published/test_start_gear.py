"""Capacitors, their discharge and wire against values from print.

The capacitor figures are arithmetic on textbook equations, done apart from this code; the wire
tables are those of standards, from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from sweatline.bench.start_gear.cord import STRANDED, gauge_area, wire_resistance
from sweatline.safety.capacitors import discharge
from sweatline.safety.start_gear import (
    capacitance,
    capacitor_current,
    capacitor_energy,
    capacitor_reactive_power,
    discharge_time,
)

MODEL = "motor capacitor"
BOOK = "textbook equation, worked by hand"


@pytest.mark.parametrize(
    ("microfarad", "volt", "hertz", "kvar", "ampere"),
    [
        (5.0, 370.0, 60.0, 0.2581, 0.697),
        (15.0, 370.0, 60.0, 0.7742, 2.092),
        (35.0, 440.0, 60.0, 2.5545, 5.806),
        (4.0, 400.0, 50.0, 0.2011, None),
    ],
)
def test_reactive_power_and_current_of_a_capacitor(
    published: Callable[..., Any],
    microfarad: float,
    volt: float,
    hertz: float,
    kvar: float,
    ampere: float | None,
) -> None:
    given: dict[str, float] = {
        "capacitance": microfarad * 1e-6,
        "voltage": volt,
        "frequency": hertz,
    }
    what = f"{microfarad:g} µF at {volt:g} V, {hertz:g} Hz"
    published(
        model=MODEL, source=BOOK, status="COMPUTED", quantity=f"reactive power, {what}",
        unit="kvar", printed=kvar, ours=capacitor_reactive_power(**given) / 1e3,
        tolerance=5e-5, kind="absolute", reason="half of the last printed digit",
    )  # fmt: skip
    if ampere is not None:
        published(
            model=MODEL, source=BOOK, status="COMPUTED", quantity=f"current, {what}", unit="A",
            printed=ampere, ours=capacitor_current(**given), tolerance=5.1e-4, kind="absolute",
            reason="half of the last printed digit",
        )  # fmt: skip


@pytest.mark.parametrize(("hertz", "printed"), [(60.0, 2652.6), (50.0, 3183.1)])
def test_microfarads_from_amperes_and_volts(
    published: Callable[..., Any], hertz: float, printed: float
) -> None:
    published(
        model=MODEL, source=BOOK, status="COMPUTED",
        quantity=f"capacitance that passes 1 A at 1 V, {hertz:g} Hz", unit="µF", printed=printed,
        ours=capacitance(current=1.0, voltage=1.0, frequency=hertz) * 1e6, tolerance=0.05,
        kind="absolute", reason="half of the last printed digit",
    )  # fmt: skip


def test_energy_and_discharge_of_a_capacitor(published: Callable[..., Any]) -> None:
    published(
        model=MODEL, source=BOOK, status="COMPUTED", quantity="energy of 100 µF at 330 V",
        unit="J", printed=5.45, ours=capacitor_energy(capacitance=100e-6, voltage=330.0),
        tolerance=5.1e-3, kind="absolute", reason="half of the last printed digit",
    )  # fmt: skip
    published(
        model=MODEL, source=BOOK, status="COMPUTED",
        quantity="100 µF through 15 kohm from 330 to 50 V", unit="s", printed=2.83,
        ours=discharge_time(capacitance=100e-6, resistance=15e3, start=330.0, end=50.0),
        tolerance=5e-3, kind="absolute", reason="half of the last printed digit",
    )  # fmt: skip
    # The plan starts from the peak of the voltage class: 330 V peak is 233 V effective.
    plan = discharge(capacitance=100e-6, voltage=330.0 / 2.0**0.5, resistance=15e3)
    assert plan.time == pytest.approx(2.83, abs=5e-3)
    assert plan.energy == pytest.approx(5.45, abs=5.1e-3)


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

"""Capacitors against textbook equations worked by hand."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from sweatline.safety.capacitors import discharge
from sweatline.safety.start_gear import (
    capacitance,
    capacitor_current,
    capacitor_energy,
    capacitor_reactive_power,
    discharge_time,
)

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
    computed: Callable[..., None],
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
    computed(
        source=BOOK, quantity=f"reactive power, {what}",
        unit="kvar", expected=kvar, ours=capacitor_reactive_power(**given) / 1e3,
        tolerance=5e-5, kind="absolute", reason="half of the last printed digit",
    )  # fmt: skip
    if ampere is not None:
        computed(
            source=BOOK, quantity=f"current, {what}", unit="A",
            expected=ampere, ours=capacitor_current(**given), tolerance=5.1e-4, kind="absolute",
            reason="half of the last printed digit",
        )  # fmt: skip


@pytest.mark.parametrize(("hertz", "printed"), [(60.0, 2652.6), (50.0, 3183.1)])
def test_microfarads_from_amperes_and_volts(
    computed: Callable[..., None], hertz: float, printed: float
) -> None:
    computed(
        source=BOOK,
        quantity=f"capacitance that passes 1 A at 1 V, {hertz:g} Hz", unit="µF", expected=printed,
        ours=capacitance(current=1.0, voltage=1.0, frequency=hertz) * 1e6, tolerance=0.05,
        kind="absolute", reason="half of the last printed digit",
    )  # fmt: skip


def test_energy_and_discharge_of_a_capacitor(computed: Callable[..., None]) -> None:
    computed(
        source=BOOK, quantity="energy of 100 µF at 330 V",
        unit="J", expected=5.45, ours=capacitor_energy(capacitance=100e-6, voltage=330.0),
        tolerance=5.1e-3, kind="absolute", reason="half of the last printed digit",
    )  # fmt: skip
    computed(
        source=BOOK,
        quantity="100 µF through 15 kohm from 330 to 50 V", unit="s", expected=2.83,
        ours=discharge_time(capacitance=100e-6, resistance=15e3, start=330.0, end=50.0),
        tolerance=5e-3, kind="absolute", reason="half of the last printed digit",
    )  # fmt: skip
    # The plan starts from the peak of the voltage class: 330 V peak is 233 V effective.
    plan = discharge(capacitance=100e-6, voltage=330.0 / 2.0**0.5, resistance=15e3)
    assert plan.time == pytest.approx(2.83, abs=5e-3)
    assert plan.energy == pytest.approx(5.45, abs=5.1e-3)

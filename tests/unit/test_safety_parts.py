"""Start gear.

Electrical numbers marked COMPUTED are plain arithmetic with textbook formulae: a guard, no more.
"""

import math

import pytest

from sweatline.errors import OutOfRange
from sweatline.safety import start_gear

# COMPUTED: farad, volt, hertz, then var and ampere.
CAPACITORS = [
    (5e-6, 370.0, 60.0, 258.1, 0.697),
    (15e-6, 370.0, 60.0, 774.2, 2.092),
    (35e-6, 440.0, 60.0, 2554.5, 5.806),
    (4e-6, 400.0, 50.0, 201.1, 0.503),
]


@pytest.mark.parametrize(("farad", "volt", "hertz", "var", "ampere"), CAPACITORS)
def test_capacitor(farad: float, volt: float, hertz: float, var: float, ampere: float) -> None:
    current = start_gear.capacitor_current(capacitance=farad, voltage=volt, frequency=hertz)
    assert current == pytest.approx(ampere, abs=0.0006)
    reactive = start_gear.capacitor_reactive_power(capacitance=farad, voltage=volt, frequency=hertz)
    assert reactive == pytest.approx(var, abs=0.06)
    back = start_gear.capacitance(current=current, voltage=volt, frequency=hertz)
    assert back == pytest.approx(farad, rel=1e-12)


# COMPUTED: microfarads per ampere and volt that electricians remember.
@pytest.mark.parametrize(("hertz", "constant"), [(60.0, 2652.6), (50.0, 3183.1)])
def test_rule_of_thumb_constant(hertz: float, constant: float) -> None:
    found = start_gear.capacitance(current=1.0, voltage=1.0, frequency=hertz)
    assert found * 1e6 == pytest.approx(constant, abs=0.06)


def test_discharge() -> None:
    # COMPUTED: 100 microfarad at 330 V peak, 15 kiloohm, down to 50 V
    assert start_gear.capacitor_energy(capacitance=100e-6, voltage=330.0) == pytest.approx(
        5.445, abs=0.006
    )
    time = start_gear.discharge_time(capacitance=100e-6, resistance=15e3, start=330.0, end=50.0)
    assert time == pytest.approx(2.83, abs=0.005)
    none = start_gear.discharge_time(capacitance=100e-6, resistance=15e3, start=40.0, end=50.0)
    assert none == 0.0


def test_power_factor() -> None:
    factor = start_gear.power_factor(power=290.0, voltage=230.0, current=1.9)
    assert factor == pytest.approx(0.6636, abs=1e-4)


def test_impossible_readings() -> None:
    with pytest.raises(OutOfRange, match="watts exceed"):
        start_gear.power_factor(power=500.0, voltage=230.0, current=1.9)
    with pytest.raises(OutOfRange, match="current"):
        start_gear.power_factor(power=500.0, voltage=230.0, current=0.0)
    with pytest.raises(OutOfRange, match="end voltage"):
        start_gear.discharge_time(capacitance=1e-4, resistance=1e4, start=330.0, end=0.0)


@pytest.mark.parametrize(
    ("torque", "difference", "verdict"),
    [
        ("low", 0.0, "ok"),
        ("low", 0.2e5, "ok"),
        ("low", 4e5, "wrong"),
        ("low", -4e5, "wrong"),
        ("high", 4e5, "ok"),
        ("unknown", 0.1e5, "ok"),
        ("unknown", 4e5, "marginal"),
    ],
)
def test_start(torque: str, difference: float, verdict: str) -> None:
    found = start_gear.start_verdict(starting_torque=torque, difference=difference)
    assert found.verdict == verdict
    assert found.wait == (0.0 if torque == "high" else 300.0)


def test_start_without_a_reading_is_refused() -> None:
    with pytest.raises(OutOfRange, match="pressure difference"):
        start_gear.start_verdict(starting_torque="low", difference=math.nan)


@pytest.mark.parametrize(
    ("supply", "plate", "drop", "holds"),
    [
        (230.0, 230.0, 0.0, True),
        (253.0, 230.0, 0.0, True),
        (260.0, 230.0, 0.0, False),
        (205.0, 230.0, 0.0, False),
        (230.0, 230.0, 8.0, False),
        (115.0, 230.0, 0.0, False),
    ],
)
def test_voltage(supply: float, plate: float, drop: float, holds: bool) -> None:
    found = start_gear.voltage_verdict(supply=supply, plate=plate, drop=drop)
    assert found.holds == holds
    assert found.ratio == pytest.approx((supply - drop) / plate)

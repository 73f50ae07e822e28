"""Pressures that parts are trusted with, and start gear.

Electrical numbers marked COMPUTED are plain arithmetic with textbook formulae: a guard, no more.
"""

import math

import pytest

from sweatline.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from sweatline.errors import OutOfRange
from sweatline.safety import start_gear
from sweatline.safety.reused_parts import (
    DESIGN_RULES,
    STRENGTH_TESTS,
    hold_pressure_limit,
    part_verdict,
    substitution_verdict,
)

# COMPUTED, reference equations of state: bubble pressures. [Pa]
R22_LOW, R22_HIGH = 10.93e5, 20.20e5  # 26.7 and 51.7 °C
R134A_HIGH, R410A_HIGH = 13.75e5, 31.93e5  # 51.7 °C


def judged(substitute: str, pressure: float) -> bool:
    return substitution_verdict(
        side="high",
        rule="ashrae15-high",
        original="R-22",
        substitute=substitute,
        original_saturation=R22_HIGH,
        substitute_pressure=pressure,
    ).holds


def test_milder_refrigerant_fits_and_a_stronger_one_does_not() -> None:
    assert judged("R-134a", R134A_HIGH)
    assert not judged("R-410A", R410A_HIGH)


def test_verdict_says_what_was_compared() -> None:
    found = substitution_verdict(
        side="high",
        rule="en378-high-43",
        original="R-134a",
        substitute="R-290",
        original_saturation=18.04e5,
        substitute_pressure=19.0e5,
    )
    assert not found.holds
    assert found.share == pytest.approx(19.0 / 18.04)
    assert "63 °C" in found.sentence
    assert "goes beyond" in found.sentence
    assert found.status == "MEMORY 0.85"
    assert "EN 378" in found.source


def test_rules_have_a_side_a_source_and_reasonable_temperatures() -> None:
    assert {r.side for r in DESIGN_RULES} == {"low", "high"}
    for rule in DESIGN_RULES:
        assert rule.source
        assert rule.status
        celsius = rule.temperature - ZERO_CELSIUS
        low, high = (20.0, 45.0) if rule.side == "low" else (50.0, 65.0)
        assert low < celsius < high
    assert len({r.key for r in DESIGN_RULES}) == len(DESIGN_RULES)


def test_rule_of_the_other_side_or_of_no_side_is_refused() -> None:
    with pytest.raises(ValueError, match="low side"):
        substitution_verdict(
            side="high",
            rule="ashrae15-low",
            original="R-22",
            substitute="R-290",
            original_saturation=R22_LOW,
            substitute_pressure=R22_LOW,
        )
    with pytest.raises(ValueError, match="no design rule"):
        substitution_verdict(
            side="high",
            rule="hearsay",
            original="R-22",
            substitute="R-290",
            original_saturation=R22_LOW,
            substitute_pressure=R22_LOW,
        )


def test_plate_of_a_part() -> None:
    assert part_verdict(pressure=20e5, rated=26e5, part="condenser").holds
    beyond = part_verdict(pressure=27e5, rated=26e5, part="condenser")
    assert not beyond.holds
    assert "condenser: above" in beyond.sentence
    with pytest.raises(OutOfRange, match="rated pressure"):
        part_verdict(pressure=27e5, rated=0.0, part="condenser")


def test_hold_stays_at_the_plate_of_the_low_side() -> None:
    plated = hold_pressure_limit(
        low_side_gauge=11e5, original_low_saturation=R22_LOW, atmosphere=STANDARD_ATMOSPHERE
    )
    assert plated.pressure == 11e5
    assert "plate" in plated.sentence
    bare = hold_pressure_limit(
        low_side_gauge=None, original_low_saturation=R22_LOW, atmosphere=STANDARD_ATMOSPHERE
    )
    assert bare.pressure == pytest.approx(R22_LOW - STANDARD_ATMOSPHERE)
    high_up = hold_pressure_limit(
        low_side_gauge=None, original_low_saturation=R22_LOW, atmosphere=80e3
    )
    assert high_up.pressure > bare.pressure


def test_strength_tests_are_multiples_of_gauge_pressure() -> None:
    high = next(t for t in STRENGTH_TESTS if t.side == "high")
    low = next(t for t in STRENGTH_TESTS if t.side == "low")
    assert high.gauge_pressure(5e5, 1e5) == pytest.approx(14e5)
    assert low.gauge_pressure(5e5, 1e5) == pytest.approx(20e5)
    assert high.gauge_pressure(5e5, 0.8e5) > high.gauge_pressure(5e5, 1e5)


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


def test_power_factor_and_current_are_inverse() -> None:
    factor = start_gear.power_factor(power=290.0, voltage=230.0, current=1.9)
    assert factor == pytest.approx(0.6636, abs=1e-4)
    assert start_gear.running_current(power=290.0, voltage=230.0, factor=factor) == pytest.approx(
        1.9
    )
    assert start_gear.running_current(power=290.0, voltage=115.0, factor=factor) == pytest.approx(
        3.8
    )


def test_impossible_readings() -> None:
    with pytest.raises(OutOfRange, match="watts exceed"):
        start_gear.power_factor(power=500.0, voltage=230.0, current=1.9)
    with pytest.raises(OutOfRange, match="current"):
        start_gear.power_factor(power=500.0, voltage=230.0, current=0.0)
    with pytest.raises(OutOfRange, match="power factor"):
        start_gear.running_current(power=290.0, voltage=230.0, factor=1.2)
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


def test_drop_counts_both_wires() -> None:
    assert start_gear.line_voltage_drop(current=4.0, resistance_one_way=0.5) == pytest.approx(4.0)

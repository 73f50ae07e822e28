"""Laws of capacitors, cords and of two sides that come equal through a capillary."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.special import ndtri

from sweatline.bench.start_gear.equalising import (
    GasTube,
    Sides,
    choking_share,
    equalising_times,
    gas_flow,
    gas_time,
)
from sweatline.bench.start_gear.motor import cord_drop, gauge_area, wire_resistance
from sweatline.errors import OutOfRange
from sweatline.safety.capacitors import (
    discharge,
    judge_reading,
    judge_replacement,
    usual_start_size,
)

E, MU = 2.1e4, 1.2e-5  # J/kg, Pa*s: about R-134a at 20 °C
TUBE = GasTube(
    bore=0.8e-3, bore_sd=0.02e-3, length=3.0, roughness=0.75e-6, elasticity=E, viscosity=MU
)
SIDES = Sides(
    high_pressure=10e5, rest_pressure=5.7e5, low_pressure=2.5e5, high_volume=0.8e-3,
    low_volume=1.5e-3, volume_sd=0.1, liquid=0.05, liquid_sd=0.015, liquid_flow=2e-3,
)  # fmt: skip
LEFT = 0.3e5


def flow(p1: float, p2: float, bore: float = 0.8e-3, length: float = 3.0) -> float:
    return float(gas_flow(p1, p2, E, MU, bore, length, 0.75e-6))


def time(high: float, low: float, **changed: float) -> float:
    g = {"high_volume": 0.8e-3, "low_volume": 1.5e-3, "bore": 0.8e-3, "length": 3.0, "left": LEFT}
    g |= changed
    return float(
        gas_time(
            high, low, g["high_volume"], g["low_volume"], E, MU, g["bore"], g["length"], 0.75e-6,
            g["left"],
        )
    )  # fmt: skip


def test_a_thin_slow_gas_flow_is_that_of_poiseuille() -> None:
    d, length, p1, p2 = 0.1e-3, 3.0, 2.0e5, 1.9e5
    expected = math.pi * d**4 * (p1**2 - p2**2) / (256.0 * MU * E * length)
    assert flow(p1, p2, d, length) == pytest.approx(expected, rel=1e-3)


def test_a_choked_end_carries_the_most_that_any_end_pressure_would() -> None:
    """The choking pressure is where the flow at a fixed friction factor is largest."""
    for drag in (0.1, 3.0, 100.0):
        r = np.linspace(1e-3, 0.9999, 20001)
        g2 = (1.0 - r * r) / (drag - 2.0 * np.log(r))
        assert float(choking_share(drag)) == pytest.approx(float(r[g2.argmax()]), abs=1e-3)


def test_a_pipe_without_length_passes_at_most_its_gas_at_the_isothermal_speed_of_sound() -> None:
    limit = 10e5 / math.sqrt(E) * 0.25 * math.pi * 0.8e-3**2
    short = flow(10e5, 1e5, length=1e-6)
    assert short < limit
    assert short == pytest.approx(limit, rel=0.01)
    assert flow(10e5, 2e5, length=0.01) == pytest.approx(flow(10e5, 1e5, length=0.01), rel=1e-9)


@given(st.floats(1.05, 20.0), st.floats(1.01, 3.0))
def test_gas_flow_rises_with_the_pressure_before_it(ratio: float, more: float) -> None:
    assert flow(1e5 * ratio * more, 1e5) > flow(1e5 * ratio, 1e5) > 0.0
    assert flow(1e5, 1e5 * ratio) == 0.0


def test_the_time_of_two_gases_is_that_of_their_differential_equation() -> None:
    """Both pressures integrated in time, each from its own mass, until they differ by little."""
    vh, vl = 0.8e-3, 1.5e-3

    def rate(_t: float, p: np.ndarray) -> list[float]:
        w = flow(float(p[0]), float(p[1]))
        return [-w * E / vh, w * E / vl]

    def near(_t: float, p: np.ndarray) -> float:
        return float(p[0] - p[1] - LEFT)

    near.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(rate, (0.0, 1e5), [10e5, 2.5e5], events=near, rtol=1e-8, atol=1.0)
    assert time(10e5, 2.5e5) == pytest.approx(float(run.t_events[0][0]), rel=1e-4)


def test_time_to_equalise_goes_the_right_way_with_everything() -> None:
    plain = time(10e5, 2.5e5)
    assert plain > 0.0
    assert time(10e5, 2.5e5, length=4.0) > plain
    assert time(10e5, 2.5e5, bore=0.7e-3) > plain
    assert time(10e5, 2.5e5, high_volume=1e-3, low_volume=1.875e-3) == pytest.approx(
        1.25 * plain, rel=1e-9
    )
    assert time(10e5, 2.5e5, left=0.5e5) < plain
    assert time(2.6e5, 2.5e5) == 0.0
    assert time(12e5, 2.5e5) > plain


def test_drawn_times_hold_the_bounds_of_what_is_drawn() -> None:
    times = equalising_times(TUBE, SIDES, left=LEFT)
    assert np.all(np.diff(times) >= 0.0)
    # No draw is quicker than all liquid at full flow and gas from the cooled condenser alone,
    # allowing for what the normal draws may do at their ends.
    edge = float(ndtri(1.0 - 0.5 / times.size))
    least = 0.2 * time(SIDES.rest_pressure, SIDES.low_pressure)
    most = (SIDES.liquid + edge * SIDES.liquid_sd) / (0.35 * SIDES.liquid_flow)
    most += 2.5 * time(SIDES.high_pressure, SIDES.low_pressure, low_volume=15e-3)
    assert least < times[0] < times[-1] < most
    dry = equalising_times(TUBE, replace(SIDES, liquid=0.0, liquid_sd=0.0), left=LEFT)
    assert np.median(dry) < np.median(times)
    with pytest.raises(OutOfRange):
        equalising_times(TUBE, replace(SIDES, low_volume=0.0), left=LEFT)


@given(st.floats(1e-6, 2e-3), st.floats(100.0, 500.0), st.floats(1e3, 1e6))
def test_a_capacitor_empties_with_resistance_times_capacitance(
    c: float, v: float, r: float
) -> None:
    one = discharge(capacitance=c, voltage=v, resistance=r)
    two = discharge(capacitance=c, voltage=v, resistance=2.0 * r)
    assert two.time == pytest.approx(2.0 * one.time)
    assert one.start * math.exp(-one.time / (r * c)) == pytest.approx(50.0)
    # Held that long it is as empty as the steps say: below 1 V.
    assert one.start * math.exp(-one.hold / (r * c)) <= 1.0 + 1e-9
    assert one.hold >= 5.0


@pytest.mark.parametrize(
    ("use", "marked", "read", "verdict"),
    [
        ("run", (15e-6, 15e-6), 15.5e-6, "ok"),
        ("run", (15e-6, 15e-6), 13.7e-6, "marginal"),
        ("run", (15e-6, 15e-6), 12e-6, "wrong"),
        ("run", (15e-6, 15e-6), 20e-6, "wrong"),
        ("start", (88e-6, 108e-6), 100e-6, "ok"),
        ("start", (88e-6, 108e-6), 86e-6, "marginal"),
        ("start", (88e-6, 108e-6), 60e-6, "wrong"),
        ("start", (100e-6, 100e-6), 118e-6, "ok"),
        ("start", (100e-6, 100e-6), 92e-6, "wrong"),
    ],
)
def test_a_capacitor_is_judged_by_its_marking(
    use: str, marked: tuple[float, float], read: float, verdict: str
) -> None:
    found = judge_reading(
        use=use,  # type: ignore[arg-type]
        marked_low=marked[0], marked_high=marked[1], read=read, meter_sd=0.02,
    )  # fmt: skip
    assert found.verdict == verdict


def test_a_replacement_has_the_value_and_no_lower_voltage() -> None:
    def judged(c: float, v: float) -> str:
        return judge_replacement(
            use="run", marked_low=15e-6, marked_high=15e-6, voltage=370.0, offered=c,
            offered_voltage=v,
        ).verdict  # fmt: skip

    assert judged(15e-6, 370.0) == "ok"
    assert judged(15e-6, 440.0) == "ok"
    assert judged(15e-6, 250.0) == "wrong"
    assert judged(20e-6, 440.0) == "wrong"


def test_usual_sizes_grow_with_the_motor_and_fall_with_the_voltage() -> None:
    sizes = [usual_start_size(hp * 745.7, 115.0) for hp in (1 / 8, 1 / 6, 1 / 4, 1 / 3, 1 / 2, 1)]
    lows = [s.low for s in sizes if s is not None]
    assert len(lows) == 6
    assert lows == sorted(lows)
    high = usual_start_size(745.7 / 4, 230.0)
    assert high is not None
    assert high.low == pytest.approx(lows[2] / 4.0)
    assert usual_start_size(5e3, 230.0) is None


@given(st.floats(0.5, 100.0), st.floats(0.5e-6, 10e-6), st.floats(0.5, 15.0))
def test_a_cord_takes_more_when_it_is_longer_and_when_the_motor_starts(
    length: float, area: float, current: float
) -> None:
    one = cord_drop(
        supply=230.0, current=current, resistance=wire_resistance(length=length, area=area)
    )
    two = cord_drop(
        supply=230.0, current=current, resistance=wire_resistance(length=2.0 * length, area=area)
    )
    assert two.running_drop == pytest.approx(2.0 * one.running_drop)
    assert two.starting_voltage[0] < one.starting_voltage[0]
    assert one.starting_voltage[1] < one.starting_voltage[0] < 230.0
    # What the motor does not get, the cord takes: both by the same current.
    for amps, volts in zip(one.starting_current, one.starting_voltage, strict=True):
        assert volts + 2.0 * amps * one.resistance == pytest.approx(230.0)


def test_three_gauges_are_half_the_section() -> None:
    assert gauge_area(14) / gauge_area(17) == pytest.approx(2.0, rel=6e-3)
    with pytest.raises(OutOfRange):
        gauge_area(40)

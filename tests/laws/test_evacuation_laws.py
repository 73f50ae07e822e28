"""Laws of the pump-down, of water under vacuum, of the rise test and of the start under vacuum."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import quad

from sweatline.bench.evacuation.pump_down import (
    WATER_MOLAR_MASS,
    Circuit,
    Segment,
    air_way,
    boil_off,
    pump_down,
    sweeps_needed,
    tube_heat,
)
from sweatline.bench.evacuation.rise_causes import (
    LEAK,
    MOISTURE,
    MOISTURE_BESIDE,
    Causes,
    Prior,
    believed,
)
from sweatline.bench.evacuation.rise_test import Cause, RiseReading, RiseResult, read_rise
from sweatline.constants import GAS_CONSTANT
from sweatline.errors import OutOfRange
from sweatline.safety.start_gear import start_rule

ATM = 101325.0
PUMP = 0.944e-3
WIDE = air_way([Segment(bore=0.1, length=0.01)], 293.15)
HOSE = air_way([Segment(bore=4.8e-3, length=1.5)], 293.15)
CAPILLARY = air_way([Segment(bore=0.8e-3, length=3.0)], 293.15)


def circuit(**changed: object) -> Circuit:
    common: dict[str, object] = {
        "low_volume": 1.2e-3,
        "high_volume": 0.8e-3,
        "capillary": CAPILLARY,
        "low": HOSE,
        "high": HOSE,
        "speed": PUMP,
        "ultimate": 2.0,
    }
    return Circuit(**(common | changed))  # type: ignore[arg-type]


def test_a_pump_alone_follows_the_logarithm() -> None:
    run = pump_down(
        circuit(low=WIDE, high=None, capillary=WIDE, ultimate=0.0), start=ATM, target=66.66
    )
    assert run.reached_after == pytest.approx(2e-3 / PUMP * math.log(ATM / 66.66), rel=1e-3)


def test_one_volume_through_a_hose_is_the_integral_of_its_conductance() -> None:
    """Against quadrature of dp/dt = -Q(p)/V with the pressure before the pump as a root."""

    def inverse(p: float) -> float:
        a, b = 0.5 / HOSE.viscous, 1.0 / HOSE.molecular
        roots = np.roots([a, b + PUMP, -(a * p * p + b * p + PUMP * 2.0)])
        return 2e-3 / (PUMP * (float(roots.max()) - 2.0))

    expected, _ = quad(lambda x: math.exp(x) * inverse(math.exp(x)), math.log(66.66), math.log(ATM))
    run = pump_down(circuit(high=None, capillary=WIDE), start=ATM, target=66.66)
    assert run.reached_after == pytest.approx(expected, rel=2e-3)


def test_gas_that_leaves_the_volumes_goes_through_the_pump() -> None:
    run = pump_down(circuit(high=None), start=ATM, target=66.66)
    lost = 1.2e-3 * (ATM - run.low[-1]) + 0.8e-3 * (ATM - run.high[-1])
    through = np.trapezoid(PUMP * (run.at_pump - 2.0), run.time)
    assert through == pytest.approx(lost, rel=5e-3)
    assert np.all(np.diff(run.low) <= 1e-9)
    assert np.all(np.diff(run.high) <= 1e-9)
    assert np.all(run.at_pump <= run.low * (1.0 + 1e-9))


def test_both_sides_wider_shorter_and_faster_take_less_time() -> None:
    def time(**changed: object) -> float:
        reached = pump_down(circuit(**changed), start=ATM, target=66.66).reached_after
        assert reached is not None
        return reached

    both = time()
    assert both < time(high=None) / 10.0
    assert both < time(low=None) / 10.0
    assert time(low=WIDE, high=WIDE) < both
    assert time(speed=2.0 * PUMP) < both
    assert time(low_volume=2.4e-3) > both
    assert time(ultimate=20.0) > both


def test_the_end_is_what_pump_and_gas_load_make_it() -> None:
    run = pump_down(circuit(gas_load=1e-4), start=ATM, target=200.0)
    # All gas passes the pump: S (p - pu) = Q there, and the hoses add their drop.
    at_pump = 2.0 + 1e-4 / PUMP
    assert run.ultimate > at_pump
    hopeless = pump_down(circuit(gas_load=1e-4), start=ATM, target=1.5)
    assert hopeless.reached_after is None
    assert hopeless.gauge_when_reached is None
    assert hopeless.ultimate == pytest.approx(run.ultimate, rel=1e-3)
    assert hopeless.at_pump[-1] == pytest.approx(at_pump, rel=1e-3)


def test_sweeps_dilute_each_by_the_same_share() -> None:
    assert sweeps_needed(reached=1e3, target=10.0, atmosphere=1e5) == 2
    assert sweeps_needed(reached=1e4, target=10.0, atmosphere=1e5) == 4
    assert sweeps_needed(reached=10.0, target=66.0, atmosphere=1e5) == 1
    with pytest.raises(OutOfRange):
        sweeps_needed(reached=2e5, target=10.0, atmosphere=1e5)


def test_what_cannot_be_evacuated_is_refused() -> None:
    with pytest.raises(OutOfRange, match="neither side"):
        pump_down(circuit(low=None, high=None), start=ATM, target=66.0)
    with pytest.raises(OutOfRange, match="target"):
        pump_down(circuit(), start=50.0, target=66.0)


PATH = [Segment(bore=4.8e-3, length=1.0)]


def test_water_balances_the_heat_of_the_room() -> None:
    heat = tube_heat(outer_diameter=9.52e-3, wall=0.7e-3)
    run = boil_off(2e-3, room=293.15, heat=heat, segments=PATH, speed=PUMP, ultimate=3.0)
    latent = 2.834e6 if run.freezes else 2.5e6
    assert run.rate * latent == pytest.approx(heat * (293.15 - run.temperature), rel=1e-6)
    through = PUMP * (run.at_pump - 3.0) * WATER_MOLAR_MASS / (GAS_CONSTANT * 293.15)
    assert run.rate == pytest.approx(through, rel=1e-9)
    assert run.time == pytest.approx(2e-3 / run.rate)


def test_a_faster_pump_freezes_and_a_warmer_place_does_not() -> None:
    common = {"room": 293.15, "segments": PATH, "ultimate": 3.0}
    slow = boil_off(1e-3, heat=0.1, speed=2e-5, **common)
    fast = boil_off(1e-3, heat=0.1, speed=PUMP, **common)
    warm = boil_off(1e-3, heat=20.0, speed=PUMP, **common)
    free = boil_off(1e-3, heat=None, speed=PUMP, **common)
    assert not slow.freezes
    assert fast.freezes
    assert fast.limited_by_heat
    assert not warm.freezes
    assert slow.rate < fast.rate < warm.rate < free.rate
    assert free.temperature == 293.15
    with pytest.raises(OutOfRange, match="freezing"):
        boil_off(1e-3, heat=0.1, speed=PUMP, **(common | {"room": 268.15}))
    with pytest.raises(OutOfRange, match="vapour pressure"):
        boil_off(1e-3, heat=0.1, speed=PUMP, **(common | {"ultimate": 5e3}))


MINUTES = np.array([0.0, 1.0, 2.0, 4.0, 7.0, 11.0, 16.0, 23.0, 32.0, 45.0]) * 60.0
WATER = 2338.8
COURSES: dict[Cause, Callable[[np.ndarray], np.ndarray]] = {
    "none": lambda t: 40.0 + 0.0 * t,
    "leak": lambda t: 40.0 + 3.0 * t,
    "moisture": lambda t: 40.0 + (WATER - 40.0) * -np.expm1(-t / 400.0),
    "outgassing": lambda t: 40.0 + 60.0 * np.log1p(t / 20.0),
}


@pytest.mark.parametrize("cause", COURSES)
def test_each_cause_is_told_from_a_clear_course(cause: Cause) -> None:
    readings = [
        RiseReading(time=float(t), pressure=float(p))
        for t, p in zip(MINUTES, COURSES[cause](MINUTES), strict=True)
    ]
    found = read_rise(readings, water_pressure=WATER, gauge_share=0.03)
    assert sum(found.probability.values()) == pytest.approx(1.0)
    assert max(found.probability, key=lambda c: found.probability[c]) == cause
    assert found.probability[cause] > 0.75
    if cause == "leak":
        low, high = np.percentile(found.leak_rates, [5.0, 95.0])
        assert low < 3.0 < high
        assert high / low < 1.2
    if cause == "moisture":
        assert found.plateau == pytest.approx(WATER, rel=0.1)


def rise(times: np.ndarray, pressures: np.ndarray, **more: float) -> RiseResult:
    return read_rise(
        [
            RiseReading(time=float(t), pressure=float(p))
            for t, p in zip(times, pressures, strict=True)
        ],
        water_pressure=WATER,
        **more,
    )


def test_a_leak_slows_down_as_the_atmosphere_is_reached() -> None:
    """dp/dt = r (1 - (p/pa)^2) of viscous flow, against a fine step by step solution."""
    prior = Prior(floor=1.3, plateau=2300.0, span=2700.0)
    numbers = np.array([[20.0, 1e-3, 100.0, 1e-3, 100.0]])
    found = Causes(numbers=numbers, prior=prior, atmosphere=ATM)
    times = np.linspace(0.0, 8000.0, 9)
    p, stepped = 0.0, [0.0]
    for _ in range(8):
        for _ in range(2000):
            p += 0.5 * 20.0 * (1.0 - (p / ATM) ** 2)
        stepped.append(p)
    assert found.rises(times)[0] == pytest.approx(stepped, rel=1e-3, abs=1.0)


def test_causes_add_and_each_keeps_its_shape() -> None:
    prior = Prior(floor=1.3, plateau=2300.0, span=2700.0)
    times = np.geomspace(1.0, 1e6, 40)
    alone = np.array(
        [
            [1e-2, 1e-9, 100.0, 1e-9, 100.0],
            [1e-9, 500.0, 300.0, 1e-9, 100.0],
            [1e-9, 1e-9, 100.0, 30.0, 60.0],
        ]
    )
    leak, water, gas = Causes(numbers=alone, prior=prior, atmosphere=ATM).rises(times)
    together = np.array([[1e-2, 500.0, 300.0, 30.0, 60.0]])
    both = Causes(numbers=together, prior=prior, atmosphere=ATM).rises(times)[0]
    assert both == pytest.approx(leak + water + gas, abs=1e-2)
    assert leak[-1] == pytest.approx(1e4, rel=5e-3)
    assert water[-1] == pytest.approx(500.0, rel=1e-4)
    assert gas[-1] == pytest.approx(30.0 * math.log(1e6 / 60.0), rel=1e-3)


def test_before_any_reading_the_chances_are_those_believed() -> None:
    prior = Prior(floor=1.3, plateau=2300.0, span=2700.0)
    found = believed(prior, atmosphere=ATM, points=20000)
    assert found.leaks.mean() == pytest.approx(LEAK, abs=0.01)
    # Where air comes in, water came in with it.
    assert found.wet[found.leaks].mean() == pytest.approx(0.9 * MOISTURE_BESIDE, abs=0.02)
    assert found.wet[~found.leaks].mean() == pytest.approx(0.9 * MOISTURE, abs=0.02)
    assert np.all(np.isfinite(prior.log_density(np.log(found.numbers))))


def test_more_leak_allowed_is_less_likely_exceeded() -> None:
    p = 40.0 + 0.01 * MINUTES
    chances = [rise(MINUTES, p, allowed=a).leak for a in (1e-4, 1e-2, 3e-2)]
    assert chances[0] > chances[1] > chances[2]
    assert chances[2] < 0.05


def test_a_gauge_that_falls_proves_nothing() -> None:
    """300 to 100 micron after the valve was shut: a pump that still draws, or gas that spreads."""
    micron = 0.133322
    t = np.array([0.0, 300.0, 600.0, 900.0])
    fell = rise(t, micron * np.array([300.0, 220.0, 150.0, 100.0]))
    assert fell.fell
    assert fell.likeliest == "fell"
    assert fell.chance is None
    assert fell.decide_after is None
    assert "valve" in fell.what_to_do
    assert fell.probability["none"] < 0.5
    # Once it has come to rest, the rise is read from there on.
    t = np.arange(12.0) * 300.0
    p = micron * np.array([300.0, 180.0, 110.0, 100.0] + 8 * [100.0])
    assert rise(t, p).likeliest == "none"
    p[4:] += 0.05 * (t[4:] - t[3])
    found = rise(t, p)
    assert found.fell
    assert found.likeliest == "leak"
    # Noise of the gauge is no fall.
    assert not rise(t, 40.0 * (1.0 + 0.05 * np.sin(np.arange(12.0)))).fell


@pytest.mark.parametrize("rate", [0.3, 1.0, 3.0])
@pytest.mark.parametrize("tau", [150.0, 900.0])
def test_water_beside_a_leak_does_not_hide_it(rate: float, tau: float) -> None:
    """A leak with water was told to be pumped on, and lay outside its range."""
    p = 40.0 + rate * MINUTES + 600.0 * -np.expm1(-MINUTES / tau)
    found = rise(MINUTES, p)
    low, high = np.percentile(found.leak_rates, [5.0, 95.0])
    assert low < rate < high
    assert found.likeliest not in ("none", "moisture", "outgassing")
    assert "pump on" not in found.what_to_do.casefold()


def test_water_that_only_bends_is_read_on() -> None:
    slow = 40.0 + (WATER - 40.0) * -np.expm1(-MINUTES / 3000.0)
    found = rise(MINUTES, slow)
    assert found.likeliest == "undecided"
    assert "levels off" in found.what_to_do


def test_a_first_reading_that_is_off_makes_no_leak() -> None:
    p = np.full(MINUTES.size, 60.0)
    p[0] = 52.0  # 2.4 times what the gauge repeats to
    found = read_rise(
        [RiseReading(time=float(a), pressure=float(b)) for a, b in zip(MINUTES, p, strict=True)],
        water_pressure=WATER,
    )
    assert found.probability["none"] > 0.4
    assert found.leak < 0.15


def test_a_plateau_far_from_that_of_water_is_hardly_free_water() -> None:
    def chance(plateau: float) -> float:
        p = 40.0 + plateau * -np.expm1(-MINUTES / 300.0)
        found = rise(MINUTES, p).probability
        return found["moisture"] + found["leak and moisture"]

    assert chance(WATER) > 0.95
    assert chance(4.0 * WATER) < 0.05


def test_many_readings_say_what_few_say_only_surer() -> None:
    rng = np.random.default_rng(2)
    t = np.linspace(0.0, 2700.0, 400)
    p = COURSES["leak"](t) * (1.0 + 0.03 * rng.normal(size=t.size))
    found = read_rise(
        [RiseReading(time=float(a), pressure=float(b)) for a, b in zip(t, p, strict=True)],
        water_pressure=WATER,
        gauge_share=0.03,
    )
    assert found.leak > 0.95


def test_what_is_no_rise_test_is_refused() -> None:
    one = RiseReading(time=0.0, pressure=40.0)
    for readings in (
        [one],
        [one, one, one],
        [one, RiseReading(time=9.0, pressure=-1.0), RiseReading(time=19.0, pressure=2.0)],
    ):
        with pytest.raises(OutOfRange):
            read_rise(readings, water_pressure=WATER)


def test_a_compressor_starts_on_gas_only() -> None:
    assert not start_rule(pressure=66.0, let_in_since=False).allowed
    assert not start_rule(pressure=66.0, let_in_since=True).allowed  # the gauge knows better
    assert not start_rule(pressure=None, let_in_since=False).allowed
    assert start_rule(pressure=63e3, let_in_since=True).allowed  # R-600a works below atmosphere
    assert start_rule(pressure=None, let_in_since=True).allowed
    assert "cool" in start_rule(pressure=66.0, let_in_since=False).reason

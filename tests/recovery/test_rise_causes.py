"""Rises made by a leak, moisture and gas from oil together: chances and ranges hold the truth."""

from __future__ import annotations

import math

import numpy as np

from sweatline.bench.evacuation.rise_causes import Causes, Prior
from sweatline.bench.evacuation.rise_test import RiseReading, RiseResult, read_rise

WATER = 2338.8
FIRST = 40.0
ATM = 101325.0


def watch(rng: np.random.Generator) -> tuple[np.ndarray, Causes]:
    """Five to ten looks in ten minutes to two hours, and what is behind them."""
    span = math.exp(rng.uniform(math.log(600.0), math.log(7200.0)))
    t = np.sort(np.concatenate([[0.0, span], rng.uniform(0.02, 0.98, rng.integers(3, 9)) * span]))
    prior = Prior(floor=1.3, plateau=WATER - FIRST, span=span)
    return t, Causes(numbers=np.exp(prior.drawn(rng, 1)), prior=prior, atmosphere=ATM)


def read(rng: np.random.Generator, t: np.ndarray, p: np.ndarray) -> RiseResult:
    p = np.maximum(p + np.hypot(0.05 * p, 1.3) * rng.normal(size=t.size), 1.0)
    return read_rise(
        [RiseReading(time=float(a), pressure=float(b)) for a, b in zip(t, p, strict=True)],
        water_pressure=WATER,
    )


def gauge_errors(t: np.ndarray, p: np.ndarray, true: Causes) -> float:
    """The leak's part of the rise, in errors of the last look."""
    return float(true.rate[0] * t[-1] / math.hypot(0.05 * p[-1], 1.3))


def test_chances_are_those_with_which_causes_turn_out() -> None:
    """Causes drawn alone and together: of what is called 80 per cent likely, some 80 are so."""
    rng = np.random.default_rng(60411)
    scores: list[tuple[float, bool]] = []
    for _ in range(80):
        t, true = watch(rng)
        p = FIRST + true.rises(t)[0]
        found = read(rng, t, p)
        leaks, wet = gauge_errors(t, p, true) >= 1.0, bool(true.wet[0])
        came = {
            "leak": leaks and not wet,
            "leak and moisture": leaks and wet,
            "moisture": wet and not leaks,
            "outgassing": bool(true.gassy[0]) and not leaks and not wet,
            "none": not (leaks or wet or true.gassy[0]),
        }
        scores += [(chance, came[name]) for name, chance in found.probability.items()]
    chances = np.array([c for c, _ in scores])
    came_true = np.array([y for _, y in scores], float)
    for low, high in ((0.0, 0.1), (0.1, 0.4), (0.4, 0.7), (0.7, 1.0)):
        here = (chances >= low) & (chances <= high)
        # three standard deviations of as many tries as fall into the class
        mean = chances[here].mean()
        room = 3.0 * math.sqrt(mean * (1.0 - mean) / here.sum()) + 0.02
        assert abs(came_true[here].mean() - mean) < room, (low, high)


def test_ranges_of_a_leak_with_moisture_hold_it_and_hardly_anybody_pumps_on() -> None:
    rng = np.random.default_rng(7100)
    held, tries, shown, pumped = 0, 0, 0, 0
    while tries < 140:
        t, true = watch(rng)
        p = FIRST + true.rises(t)[0]
        part = gauge_errors(t, p, true)
        if not (true.wet[0] and part >= 1.0):
            continue
        tries += 1
        found = read(rng, t, p)
        low, high = np.percentile(found.leak_rates, [5.0, 95.0])
        held += low <= true.rate[0] <= high
        if found.likeliest in ("none", "moisture", "outgassing"):
            assert found.leak < 0.25
            pumped += part > 3.0
        shown += part > 3.0
    assert 0.85 <= held / tries <= 0.95
    assert pumped / shown < 0.04

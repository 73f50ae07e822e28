"""The next dose: what must hold for any foreknowledge."""

from __future__ import annotations

import numpy as np
import pytest

from sweatline.bench.dosing import Dosing, Foreknowledge

SHARES = np.linspace(0.4, 1.5, 23)


def shown(share: float, machine: np.ndarray) -> np.ndarray:
    """Readings of an invented machine at a share of its best charge; `machine` (4,) moves them."""
    low, high, heat, watts = machine
    superheat = max(5.0 + 60.0 * (1.0 - share), 0.0)
    return np.array(
        [
            np.log(3e5) + low + 0.5 * min(share - 1.0, 0.05),
            np.log(9e5) + high + 0.25 * (share - 1.0),
            superheat * (1.0 + heat),
            max(4.0 + 20.0 * (share - 1.0), 0.0),
            np.log(250.0) + watts + 0.1 * (share - 1.0),
        ]
    )


def foreknown(seed: int, count: int = 96) -> tuple[Foreknowledge, np.ndarray]:
    chance = np.random.default_rng(seed)
    machines = 0.05 * chance.standard_normal((count, 4))
    best = 0.25 * np.exp(0.15 * chance.standard_normal(count))
    charges = 0.25 * SHARES
    readings = np.array(
        [[shown(c / b, m) for c in charges] for m, b in zip(machines, best, strict=True)]
    )
    return Foreknowledge(charges=charges, readings=readings, best=best), machines


ERRORS = np.array([0.015, 0.012, 0.8, 0.7, 0.012])
KNOWN, _MACHINES = foreknown(1)


def charged(seed: int) -> tuple[float, float, int]:
    """Follow the advice on a machine that is not among the foreknown: end, best and additions."""
    chance = np.random.default_rng(1000 + seed)
    machine = 0.05 * chance.standard_normal(4)
    best = 0.25 * float(np.exp(0.12 * chance.standard_normal()))
    charge = 0.55 * best
    dosing = Dosing(KNOWN)
    for additions in range(40):
        values = shown(charge / best, machine) + ERRORS * chance.standard_normal(5)
        values[2:4] = np.maximum(values[2:4], 0.0)
        dosing.told(charge, values, ERRORS)
        advice = dosing.advice(charge, smallest=2e-3, largest=0.03)
        if advice.action != "add":
            return charge, best, additions
        assert 2e-3 <= advice.dose <= 0.03
        assert advice.chance_over <= 0.05 + 1e-9
        charge += advice.dose
    raise AssertionError("never stopped")


def test_advice_ends_near_the_best_charge_and_seldom_above() -> None:
    ends = [charged(seed) for seed in range(60)]
    miss = np.array([charge / best - 1.0 for charge, best, _ in ends])
    assert np.mean(miss > 0.08) == 0.0
    assert np.mean(np.abs(miss) <= 0.05) >= 0.9
    assert np.mean([n for *_, n in ends]) < 12


def test_first_dose_is_bold_and_the_last_are_small() -> None:
    dosing = Dosing(KNOWN)
    dosing.told(0.12, shown(0.12 / 0.25, np.zeros(4)), ERRORS)
    first = dosing.advice(0.12, smallest=2e-3, largest=0.03)
    assert first.action == "add"
    assert first.dose == pytest.approx(0.03)
    dosing.told(0.235, shown(0.235 / 0.25, np.zeros(4)), ERRORS)
    late = dosing.advice(0.235, smallest=1e-3, largest=0.03)
    assert late.dose < 0.02
    low, median, high = late.best
    assert low < 0.25 < high
    assert median == pytest.approx(0.25, rel=0.04)


def test_overfull_machine_is_told_to_lose_some() -> None:
    dosing = Dosing(KNOWN)
    for share in (1.25, 1.3):
        dosing.told(0.25 * share, shown(share, np.zeros(4)), 0.5 * ERRORS)
    advice = dosing.advice(0.25 * 1.3, smallest=2e-3, largest=0.03)
    assert advice.action in ("stop", "take out")
    assert advice.dose <= 0.0


def test_expected_readings_hold_what_comes() -> None:
    held = []
    for seed in range(40):
        chance = np.random.default_rng(seed)
        machine = 0.05 * chance.standard_normal(4)
        best = 0.25 * float(np.exp(0.1 * chance.standard_normal()))
        dosing = Dosing(KNOWN)
        charge = 0.75 * best
        dosing.told(charge, shown(0.75, machine), ERRORS)
        advice = dosing.advice(charge, smallest=2e-3, largest=0.03)
        came = shown((charge + advice.dose) / best, machine)
        for j in (0, 1, 4):
            low, _median, high = advice.expected[j]
            held.append(low <= np.exp(came[j]) <= high)
    assert np.mean(held) >= 0.85


def test_missing_readings_are_left_out_and_absurd_ones_show() -> None:
    one, other = Dosing(KNOWN), Dosing(KNOWN)
    values = shown(0.8, np.zeros(4))
    one.told(0.2, values, ERRORS)
    assert one.misfit < 1.0
    other.told(0.2, np.array([*values[:3], np.nan, np.nan]), ERRORS)
    assert other.best_charge()[1] == pytest.approx(one.best_charge()[1], rel=0.05)
    absurd = Dosing(KNOWN)
    absurd.told(0.2, np.array([values[0], values[1], 40.0, 15.0, values[4] + 0.4]), ERRORS)
    assert absurd.misfit > 2.0

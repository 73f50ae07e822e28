"""The next dose: what must hold for any foreknowledge."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from sweatline.charging.dosing import READINGS, ChargePrior, Dosing

SHARES = np.linspace(0.4, 1.5, 23)


def curve(share: float, machine: np.ndarray) -> np.ndarray:
    """What an invented machine shows at a share of its best charge; `machine` (4,) moves it.

    Superheat and subcooling go on below zero.
    """
    low, high, heat, watts = machine
    return np.array(
        [
            np.log(3e5) + low + 0.5 * min(share - 1.0, 0.05),
            np.log(9e5) + high + 0.25 * (share - 1.0),
            5.0 + 60.0 * (1.0 - share) * (1.0 + heat),
            4.0 + 20.0 * (share - 1.0),
            np.log(250.0) + watts + 0.1 * (share - 1.0),
            330.0 + 20.0 * (1.0 - share),
            281.0 + 4.0 * (share - 1.0),
            np.log(1.8) + 0.7 * watts + 0.07 * (share - 1.0),
        ]
    )


def shown(share: float, machine: np.ndarray) -> np.ndarray:
    """The readings a person takes of it: five, and nothing below zero."""
    found = curve(share, machine)[:5]
    found[2:4] = np.maximum(found[2:4], 0.0)
    return found


def foreknown(
    seed: int, count: int = 96, *, charge: float = 0.25
) -> tuple[ChargePrior, np.ndarray]:
    chance = np.random.default_rng(seed)
    machines = 0.05 * chance.standard_normal((count, 4))
    best = charge * np.exp(0.15 * chance.standard_normal(count))
    readings = np.array([[curve(s, m) for s in SHARES] for m in machines])
    return ChargePrior(shares=SHARES, readings=readings, best=best), machines


ERRORS = np.array([0.015, 0.012, 0.8, 0.7, 0.012])
KNOWN, _MACHINES = foreknown(1)
SMALL, _OF_THEM = foreknown(2, charge=0.06)


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
    best = late.best
    low, median, high = best.low, best.middle, best.high
    assert low < 0.25 < high
    assert median == pytest.approx(0.25, rel=0.04)


def test_overfull_machine_is_told_to_lose_some() -> None:
    dosing = Dosing(KNOWN)
    for share in (1.25, 1.3):
        dosing.told(0.25 * share, shown(share, np.zeros(4)), 0.5 * ERRORS)
    advice = dosing.advice(0.25 * 1.3, smallest=2e-3, largest=0.03)
    assert advice.action in ("stop", "take out")
    assert advice.dose <= 0.0


def test_what_is_taken_out_comes_out_in_steps_and_not_below_the_best() -> None:
    """As carefully from above as from below: a gram too many out has to go in again."""
    ends = []
    for seed in range(40):
        chance = np.random.default_rng(seed)
        machine = 0.05 * chance.standard_normal(4)
        best = 0.06 * float(np.exp(0.12 * chance.standard_normal()))
        charge = 1.3 * best
        dosing = Dosing(SMALL)
        lowest = charge
        for _ in range(20):
            values = shown(charge / best, machine) + ERRORS * chance.standard_normal(5)
            values[2:4] = np.maximum(values[2:4], 0.0)
            dosing.told(charge, values, ERRORS)
            advice = dosing.advice(charge, smallest=1e-3, largest=7e-3)
            if advice.action != "take out":
                break
            assert -7e-3 - 1e-12 <= advice.dose <= -1e-3
            charge += advice.dose
            lowest = min(lowest, charge)
        ends.append(lowest / best - 1.0)
    miss = np.array(ends)
    assert np.mean(miss < -0.05) <= 0.05
    assert np.median(miss) < 0.05


def test_a_charge_that_no_such_machine_takes_is_not_believable() -> None:
    least, most = Dosing(KNOWN).believable
    assert 1e-3 < least < 0.45 * float(KNOWN.best.min())
    assert most > 2.0 * float(np.median(KNOWN.best))


def test_the_subcooling_that_hardly_any_machine_shows_falls_with_the_superheat() -> None:
    dosing = Dosing(KNOWN)
    most = [dosing.most_subcooling(superheat) for superheat in (2.0, 6.0, 12.0, 20.0, 30.0)]
    assert all(later <= earlier for earlier, later in itertools.pairwise(most))
    assert most[-1] > 0.0


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
            band = advice.expected[READINGS[j]]
            held.append(band.low <= np.exp(came[j]) <= band.high)
    assert np.mean(held) >= 0.85


def test_missing_readings_are_left_out_and_absurd_ones_show() -> None:
    one, other = Dosing(KNOWN), Dosing(KNOWN)
    values = shown(0.8, np.zeros(4))
    one.told(0.2, values, ERRORS)
    assert one.misfit < 1.0
    other.told(0.2, np.array([*values[:3], np.nan, np.nan]), ERRORS)
    assert other.best_charge().middle == pytest.approx(one.best_charge().middle, rel=0.05)
    absurd = Dosing(KNOWN)
    absurd.told(0.2, np.array([values[0], values[1], 40.0, 15.0, values[4] + 0.4]), ERRORS)
    assert absurd.misfit > 2.0


def gauge(error: float) -> np.ndarray:
    """A suction gauge that reads off by so much all day, as a share; nothing else errs."""
    standing = np.zeros((5, 1))
    standing[0, 0] = error
    return standing


def test_bands_hold_the_best_charge_nine_times_in_ten() -> None:
    held = []
    for seed in range(300):
        chance = np.random.default_rng(5000 + seed)
        machine = 0.05 * chance.standard_normal(4)
        # As widely spread as the draws and the scale of the charge together.
        best = 0.25 * float(np.exp(np.hypot(0.15, 0.10) * chance.standard_normal()))
        dosing = Dosing(KNOWN)
        for share in (0.6, 0.8, 0.93):
            values = shown(share, machine) + ERRORS * chance.standard_normal(5)
            values[2:4] = np.maximum(values[2:4], 0.0)
            dosing.told(share * best, values, ERRORS)
        found = dosing.best_charge()
        held.append(found.low <= best <= found.high)
    # What the model is taken to be off by makes the bands a little wider than these need.
    assert 0.86 <= np.mean(held) <= 0.99


def test_weights_agree_with_machines_drawn_one_by_one() -> None:
    """Two ways: the closed form against a million draws of the same normal curves, weighed."""
    dosing = Dosing(KNOWN)
    values = shown(0.8, np.array([0.03, -0.02, 0.04, 0.0]))
    values[3] = np.nan
    standing = gauge(0.02)
    dosing.told(0.19, values, ERRORS, standing)
    chance = np.random.default_rng(3)
    log_best = dosing._log_best
    p = dosing._scores.shape[1]
    count = 4000
    z = chance.standard_normal((count, p)) @ np.linalg.cholesky(dosing._open + 1e-12 * np.eye(p)).T
    mean, rows, alone = dosing._at(0.19)
    there = np.flatnonzero(np.isfinite(values))
    model = np.array([0.02, 0.02, 0.5, 1.0, 0.02])
    likelihood = np.zeros(log_best.size)
    offsets = chance.standard_normal((count, 6))
    for g in range(log_best.size):
        seen = mean[g, there] + (z + dosing._scores[g]) @ rows[g, there].T
        seen = seen + offsets[:, there] * model[there] + (offsets[:, 5:] @ standing.T)[:, there]
        sd = np.sqrt(alone[g, there] + ERRORS[there] ** 2)
        square = (((values[there] - seen) / sd) ** 2).sum(axis=1)
        likelihood[g] = np.mean(np.exp(-0.5 * square)) / sd.prod()
    weights = likelihood * np.exp(dosing._prior)
    weights /= weights.sum()
    middle = float(np.exp(weights @ log_best))
    spread = float(np.sqrt(weights @ log_best**2 - (weights @ log_best) ** 2))
    found = dosing.best_charge()
    low, median, high = found.low, found.middle, found.high
    assert median == pytest.approx(middle, rel=0.01)
    assert np.log(high / low) / 3.29 == pytest.approx(spread, rel=0.10)


def test_a_gauge_that_errs_all_day_tells_no_more_when_read_again() -> None:
    """A standing error is not averaged away: repeated readings at one charge narrow nothing."""
    only_low = np.array([*shown(0.8, np.zeros(4))[:1], *[np.nan] * 4])
    small = np.full(5, 1e-6)

    def width(times: int, standing: np.ndarray | None, fresh: np.ndarray) -> float:
        dosing = Dosing(KNOWN)
        for _ in range(times):
            dosing.told(0.2, only_low, fresh, standing)
        found = dosing.best_charge()
        return float(np.log(found.high / found.low))

    wide = np.array([0.05, 0.0, 0.0, 0.0, 0.0])
    assert width(9, gauge(0.05), small) == pytest.approx(width(1, gauge(0.05), small), rel=0.02)
    assert width(9, None, wide) < 0.97 * width(1, None, wide)


def test_misfit_is_about_one_for_machines_like_the_foreknown() -> None:
    found, odd = [], 0
    for seed in range(60):
        chance = np.random.default_rng(9000 + seed)
        machine = 0.05 * chance.standard_normal(4)
        dosing = Dosing(KNOWN)
        for share in (0.7, 0.9):
            values = shown(share, machine) + ERRORS * chance.standard_normal(5)
            values[2:4] = np.maximum(values[2:4], 0.0)
            dosing.told(0.25 * share, values, ERRORS)
        found.append(dosing.misfit)
        odd += dosing.odd
    assert 0.4 < np.mean(found) < 1.3
    assert odd <= 1


def test_where_nothing_fits_the_superheat_is_believed() -> None:
    """A machine of twice the size, with pressures no draw shows: short, full and too full."""
    strange = np.array([0.5, -0.4, 0.0, 0.6])
    done = {}
    for share in (0.75, 1.12):
        dosing = Dosing(KNOWN)
        values = shown(share, strange)
        dosing.told(0.5 * share, values, ERRORS)
        assert dosing.odd
        done[share] = dosing.advice(0.5 * share, smallest=2e-3, largest=0.03)
    assert done[0.75].action == "add"
    assert 2e-3 <= done[0.75].dose <= 0.03
    assert done[1.12].action in ("stop", "take out")


def test_a_charge_beyond_all_draws_is_no_proof_of_anything() -> None:
    """Far outside the shares that were drawn the readings say nothing: no sure, distant answer."""
    dosing = Dosing(KNOWN)
    dosing.told(0.008, shown(0.97, np.zeros(4)), ERRORS)
    found = dosing.best_charge()
    low, median, high = found.low, found.middle, found.high
    assert 0.02 < median < 0.4
    assert high > 1.3 * low


def test_a_gauge_that_was_changed_for_another_no_longer_leads_the_charging() -> None:
    """The first is 0.6 bar low, so that a full machine looks starved; the second is right."""
    machine, gauge = np.zeros(4), 4e3
    systematic = np.zeros((5, 7))
    systematic[0, 0], systematic[2, 0] = gauge / 3e5, -gauge / 1e4  # of ln pressure, of superheat
    ends = {}
    for changed in (False, True):
        dosing = Dosing(KNOWN)
        for share in (0.85, 0.95, 1.0):
            off = systematic[:, 0] * (-6e4 / gauge)
            dosing.told(0.25 * share, shown(share, machine) + off, ERRORS, systematic)
        if changed:
            dosing.renewed(0)
        dosing.told(0.25, shown(1.0, machine), ERRORS, systematic)
        ends[changed] = dosing.best_charge()
    assert ends[True].middle == pytest.approx(0.25, rel=0.03)
    assert abs(ends[True].middle - 0.25) < 0.5 * abs(ends[False].middle - 0.25)


def test_changing_an_instrument_twice_keeps_each_with_an_error_of_its_own() -> None:
    """Rounds of one instrument still share its error: their order among others does not matter."""
    systematic = np.zeros((5, 7))
    systematic[0, 0] = 0.02
    rounds = [(0.2, shown(0.8, np.zeros(4))), (0.22, shown(0.88, np.zeros(4)))]
    found = []
    for changes in (0, 1, 2):
        dosing = Dosing(KNOWN)
        for charge, values in rounds:
            dosing.told(charge, values, ERRORS, systematic)
            if changes:
                dosing.renewed(0)
        if changes == 2:
            dosing.renewed(0)
        dosing.told(0.23, shown(0.92, np.zeros(4)), ERRORS, systematic)
        found.append(dosing.best_charge())
    assert found[0].high - found[0].low < found[1].high - found[1].low
    # To change it again before it was read changes nothing.
    assert found[2].middle == pytest.approx(found[1].middle, rel=1e-3)

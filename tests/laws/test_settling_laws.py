"""Where a reading will settle: what must hold whatever machine it belongs to."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from sweatline.bench.settling import Character, Settling

GAUGE = Character(noise=2e3, span=6e4, tolerance=4e3)  # Pa


def path(end: float, *terms: tuple[float, float]) -> Callable[[float], float]:
    return lambda t: end + sum(a * math.exp(-t / tau) for a, tau in terms)


def followed(
    truth: Callable[[float], float],
    times: Iterator[float] | list[float],
    seed: int = 1,
    character: Character = GAUGE,
) -> Settling:
    noise = np.random.default_rng(seed)
    settling = Settling(character)
    for t in times:
        settling.update(t, truth(t) + character.noise * noise.standard_normal())
    return settling


def every(step: float, last: float) -> list[float]:
    return np.arange(0.0, last + 1e-9, step).tolist()


@pytest.mark.parametrize("step", [1.0, 20.0, 120.0])
def test_settled_value_is_told_while_it_still_moves(step: float) -> None:
    truth = path(290e3, (80e3, 200.0), (-25e3, 30.0))
    out = followed(truth, every(step, 480.0)).outlook()
    assert truth(480.0) - 290e3 > 7e3  # still on its way
    assert out.state == "drifting"
    assert out.low < 290e3 < out.high
    assert abs(out.settled - 290e3) < GAUGE.span / 3.0
    assert out.look_again > 60.0
    late = followed(truth, every(step, 2400.0)).outlook()
    assert late.high - late.low < out.high - out.low
    assert late.state == "settled"
    assert late.look_again == 0.0
    assert late.settled == pytest.approx(290e3, abs=GAUGE.tolerance)


def test_nine_tenths_hold_nine_tenths_on_machines_of_every_pace() -> None:
    """Ends, sizes and time constants drawn wide; bands of the end value counted."""
    chance = np.random.default_rng(20)
    held = []
    for seed in range(150):
        end = 250e3 + GAUGE.span * chance.standard_normal()
        terms = [
            (GAUGE.span * chance.standard_normal(), math.exp(chance.uniform(2.5, 6.5)))
            for _ in range(2)
        ]
        step = float(chance.choice([2.0, 15.0, 60.0, 120.0]))
        out = followed(path(end, *terms), every(step, chance.uniform(240.0, 900.0)), seed).outlook()
        held.append(out.low <= end <= out.high)
    # 150 draws: two standard deviations of the share are 0.05. Wide bands are the lesser fault.
    assert 0.85 <= np.mean(held) <= 0.99


def test_uneven_times_tell_the_same_as_even_ones() -> None:
    truth = path(290e3, (60e3, 240.0))
    quiet = Character(noise=200.0, span=6e4, tolerance=4e3)
    even = followed(truth, every(30.0, 600.0), character=quiet).outlook()
    chance = np.random.default_rng(3)
    times = sorted({0.0, 600.0, *chance.uniform(0.0, 600.0, 19).tolist()})
    uneven = followed(truth, times, character=quiet).outlook()
    assert uneven.settled == pytest.approx(even.settled, abs=6e3)


def test_one_slip_is_let_pass_and_two_begin_anew() -> None:
    settling = followed(lambda t: 290e3, every(20.0, 1200.0))
    before = settling.outlook()
    assert before.state == "settled"
    settling.update(1220.0, 390e3)
    assert settling.outlook().state == "disturbed"
    assert settling.outlook().settled == pytest.approx(before.settled, abs=500.0)
    settling.update(1240.0, 290e3)
    assert settling.outlook().state != "disturbed"
    for t in (1260.0, 1280.0, 1300.0, 1320.0):
        settling.update(t, 390e3)
    now = settling.outlook()
    assert now.state == "drifting"
    assert now.low < 390e3 < now.high


def test_what_was_done_opens_the_outlook() -> None:
    settling = followed(lambda t: 290e3, every(20.0, 1200.0))
    calm = settling.outlook()
    settling.disturb(1200.0, step=3e4)
    stirred = settling.outlook()
    assert stirred.state == "disturbed"
    assert stirred.high - stirred.low > 3.0 * (calm.high - calm.low)
    assert settling.foretold(1201.0)[0] == pytest.approx(290e3, abs=2e3)


def test_earlier_readings_are_left_out_and_none_is_refused() -> None:
    settling = Settling(GAUGE)
    with pytest.raises(ValueError, match="no reading"):
        settling.outlook()
    for t, p in ((0.0, 3e5), (60.0, 2.95e5)):
        settling.update(t, p)
    known = settling.outlook()
    settling.update(30.0, 1e5)
    assert settling.outlook() == known


def test_scale_and_zero_of_the_unit_do_not_matter() -> None:
    def told(factor: float, zero: float) -> list[float]:
        c = Character(noise=2e3 * factor, span=6e4 * factor, tolerance=4e3 * factor)
        s = Settling(c)
        for t in every(30.0, 300.0):
            s.update(t, zero + factor * (290e3 + 60e3 * math.exp(-t / 200.0)))
        o = s.outlook()
        return [(v - zero) / factor for v in (o.low, o.settled, o.high)]

    assert told(1e-5, 0.0) == pytest.approx(told(1.0, 0.0), rel=1e-6)
    assert told(1.0, -101325.0) == pytest.approx(told(1.0, 0.0), rel=1e-6)

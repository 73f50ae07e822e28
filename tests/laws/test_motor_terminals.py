"""The pins of a sealed motor by three resistances, whatever their order."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweatline.bench.start_gear.terminals import Windings, terminals


def _read(at: dict[str, int], run: float, start: float, both: float) -> Windings:
    """What a meter reads with C, R and S on these pins."""
    known = {
        frozenset((at["C"], at["R"])): run,
        frozenset((at["C"], at["S"])): start,
        frozenset((at["R"], at["S"])): both,
    }
    pairs = ((1, 2), (2, 3), (3, 1))
    one_two, two_three, three_one = (known[frozenset(pair)] for pair in pairs)
    return Windings(one_two=one_two, two_three=two_three, three_one=three_one)


@pytest.mark.parametrize("order", list(itertools.permutations("CRS")))
@given(run=st.floats(0.5, 40.0), times=st.floats(1.7, 8.0), error=st.floats(-0.02, 0.02))
def test_every_pin_is_found(order: tuple[str, ...], run: float, times: float, error: float) -> None:
    at = {name: pin for pin, name in enumerate(order, 1)}
    found = terminals(_read(at, run, times * run, (1.0 + error) * (1.0 + times) * run))
    assert found.pins == order
    assert found.verdict == "ok"
    assert (found.run, found.start) == (run, times * run)


def test_readings_that_do_not_add_up_are_told() -> None:
    found = terminals(Windings(one_two=4.0, two_three=11.0, three_one=40.0))
    assert found.verdict == "wrong"
    assert "do not add up" in found.sentence


def test_windings_that_read_alike_are_not_told_apart() -> None:
    found = terminals(Windings(one_two=10.0, two_three=20.1, three_one=10.1))
    assert found.verdict == "marginal"
    assert found.pins[0] == "C"

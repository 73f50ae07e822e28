"""Laws of the most probable numbers: what no reading can do, and what an exact one must."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweatline.uncertainty.posterior import inseparable, most_probable

seeds = st.integers(0, 2**31)


def linear(seed: int, readings: int = 5, numbers: int = 12):
    rng = np.random.default_rng(seed)
    g = rng.normal(size=(readings, numbers)) * rng.uniform(0.1, 3.0, size=numbers)
    base = rng.normal(size=readings)
    return rng, g, base, lambda z: base + g @ z


@given(seeds)
def test_no_readings_leave_the_prior(seed: int) -> None:
    found = most_probable(
        lambda z: np.zeros(0), measured=np.zeros(0), spread=np.zeros(0), parameters=7
    )
    assert np.array_equal(found.mean, np.zeros(7))
    assert np.array_equal(found.covariance, np.eye(7))
    assert found.learned == 0.0


@given(seeds)
def test_never_wider_than_the_prior(seed: int) -> None:
    rng, _g, base, predict = linear(seed)
    found = most_probable(
        predict, measured=base + rng.normal(size=5), spread=rng.uniform(0.1, 2.0, 5), parameters=12
    )
    # Along every direction, not only along the numbers themselves.
    assert np.linalg.eigvalsh(found.covariance).max() <= 1.0 + 1e-10
    assert 0.0 < found.learned <= 5.0


@given(seeds)
def test_the_closed_form_of_a_linear_machine(seed: int) -> None:
    """However few numbers are searched for, all of them come out as if all had been."""
    rng, g, base, predict = linear(seed)
    y, s = base + 2.0 * rng.normal(size=5), rng.uniform(0.2, 2.0, 5)
    found = most_probable(predict, measured=y, spread=s, parameters=12, most=3)
    c = g @ g.T + np.diag(s * s)
    np.testing.assert_allclose(found.mean, g.T @ np.linalg.solve(c, y - base), atol=1e-8)
    np.testing.assert_allclose(
        found.covariance, np.eye(12) - g.T @ np.linalg.solve(c, g), atol=1e-8
    )
    assert len(found.searched) <= 3


@given(seeds)
def test_the_order_of_the_readings_does_not_matter(seed: int) -> None:
    rng, _g, base, predict = linear(seed)
    y, s = base + rng.normal(size=5), rng.uniform(0.2, 2.0, 5)
    turned = rng.permutation(5)
    a = most_probable(predict, measured=y, spread=s, parameters=12)
    b = most_probable(
        lambda z: predict(z)[turned], measured=y[turned], spread=s[turned], parameters=12
    )
    np.testing.assert_allclose(b.mean, a.mean, atol=1e-8)
    np.testing.assert_allclose(b.covariance, a.covariance, atol=1e-8)
    np.testing.assert_allclose(b.surprise, a.surprise[turned], atol=1e-7)


@given(seeds)
def test_a_reading_left_out_is_met_as_if_it_had_never_been(seed: int) -> None:
    rng, g, base, predict = linear(seed)
    y, s = base + 3.0 * rng.normal(size=5), rng.uniform(0.2, 2.0, 5)
    found = most_probable(predict, measured=y, spread=s, parameters=12)
    others = most_probable(lambda z: predict(z)[:4], measured=y[:4], spread=s[:4], parameters=12)
    expected = base[4] + g[4] @ others.mean
    sd = np.sqrt(g[4] @ others.covariance @ g[4] + s[4] ** 2)
    assert found.expected[4] == pytest.approx(expected, abs=1e-6)
    assert found.expected_sd[4] == pytest.approx(sd, rel=1e-6)
    assert found.surprise[4] == pytest.approx((y[4] - expected) / sd, abs=1e-6)


@given(st.floats(-2.0, 2.0))
def test_an_exact_reading_of_one_number_recovers_it(truth: float) -> None:
    """Bent response: the search has to go there, one linear step would not."""

    def predict(z):
        return np.array([np.exp(0.4 * z[0])])

    found = most_probable(
        predict, measured=predict(np.array([truth, 0.0])), spread=np.array([1e-6]), parameters=2
    )
    assert found.mean[0] == pytest.approx(truth, abs=1e-4)
    assert found.covariance[0, 0] < 1e-8
    assert found.covariance[1, 1] == pytest.approx(1.0)
    assert found.settled


def test_a_sum_leaves_two_numbers_tied() -> None:
    found = most_probable(
        lambda z: np.array([z[0] + z[1]]),
        measured=np.array([1.0]),
        spread=np.array([0.01]),
        parameters=3,
    )
    assert inseparable(found, [0, 1, 2]) == [(0, 1)]
    c = found.covariance
    assert c[0, 1] / np.sqrt(c[0, 0] * c[1, 1]) == pytest.approx(-1.0, abs=1e-3)
    assert found.mean[:2] == pytest.approx([0.5, 0.5], abs=1e-3)


def test_where_there_is_no_machine_the_search_turns_back() -> None:
    def predict(z):
        return None if z[0] > 0.8 else np.array([np.sinh(z[0])])

    found = most_probable(predict, measured=np.array([2.0]), spread=np.array([0.01]), parameters=1)
    assert found.mean[0] > 0.6
    assert np.isfinite(found.covariance).all()


def test_what_cannot_be_asked() -> None:
    one = np.array([1.0])
    with pytest.raises(ValueError, match="error larger than zero"):
        most_probable(lambda z: z, measured=one, spread=0.0 * one, parameters=1)
    with pytest.raises(ValueError, match="centre of the prior"):
        most_probable(lambda z: None, measured=one, spread=one, parameters=1)

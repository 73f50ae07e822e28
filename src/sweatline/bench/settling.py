r"""Where a reading will settle, told while it still moves.

After a change a reading goes to its end value along a path with many time constants, none of them
known beforehand, while the end value itself wanders (the room warms, a coil gets wet). So the
reading is taken as

.. math::
    y = L + \sum_i a_i + \epsilon, \qquad \dot a_i = -a_i/\tau_i + \text{noise}, \qquad
    \dot L = \text{noise},

with time constants from ten seconds to an hour at once. Sums of such terms can rise, dip and come
back as a starting machine does. Kalman's recursion gives L and all a_i from readings at any times;
a few filters that differ in how restless they take the machine for are weighed by how well each
foretold the readings so far, older ones counting less. What is told is the mixture: the settled
value with its band, and how long the rest of the transient takes.

The noise in the a_i is a disturbance with a memory: it keeps a number that comes every second from
being taken for sixty independent ones a minute. The same recursion therefore serves a wire and a
person who types one reading every two minutes. A reading that no filter expected means that
something was done to the machine, or a slip; two in a row begin a new transient.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["Character", "Outlook", "Settling"]

FloatArray = NDArray[np.float64]

_TIMES: Final = np.array([10.0, 30.0, 90.0, 270.0, 800.0, 2400.0])  # s
# What a filter takes the machine for: how far it moves, in spans of the channel; how far its end
# value wanders in a quarter of an hour, how far each term is upset, and how far a trend carries
# the end value in half an hour, as shares of that.
_SCALES: Final = (0.5, 1.25, 3.0)
_RESTLESSNESS: Final = ((0.02, 0.02), (0.08, 0.06), (0.25, 0.12))
_TRENDS: Final = (0.05, 1.5)
_LEVELS: Final = np.array(
    [(k, k * q, k * u, k * d) for k in _SCALES for q, u in _RESTLESSNESS for d in _TRENDS]
)
_QUARTER: Final = 900.0  # s
_TREND: Final = 1200.0  # s that a trend of the end value lasts
_STEADY: Final = 20.0  # s between readings that say something new about which filter is right
_HORIZON: Final = 600.0  # s ahead for which the settled value is meant
_MEMORY: Final = 900.0  # s after which the weight of a foretelling has fallen to a third
_UNEXPECTED: Final = 4.5  # standard deviations
_NINE_TENTHS: Final = (0.05, 0.95)
_SHORTEST_WAIT: Final = 30.0  # s, sooner there is nothing new
_LONGEST_WAIT: Final = 1800.0  # s

# A reading is the end value and all terms, not the trend.
_SEEN: Final = np.concatenate([[1.0, 0.0], np.ones(_TIMES.size)])

State = Literal["settled", "drifting", "disturbed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Character:
    """What is known of a channel before its first reading, in its SI unit."""

    noise: float  # standard deviation of a single reading about the truth
    span: float  # by how much a usual change moves it
    tolerance: float  # rest of a transient that no longer matters


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What can be said of a channel at one moment."""

    state: State
    settled: float  # median of the value it goes to
    low: float  # nine tenths
    high: float
    remaining: float  # how far the reading is from it now
    look_again: float  # s until the rest of the transient is worth nothing; 0 when settled


class Settling:
    """Follows one channel; tell it the readings in the order of their times.

    Parameters
    ----------
    character : Character
        Of the channel.
    """

    def __init__(self, character: Character) -> None:
        self.character = character
        span = character.span
        self._scale: FloatArray = _LEVELS[:, 0]
        self._q: FloatArray = (_LEVELS[:, 1] * span) ** 2 / _QUARTER
        self._upsets: FloatArray = (_LEVELS[:, 2] * span) ** 2
        self._slope: FloatArray = (_LEVELS[:, 3] * span / 2.0 / _QUARTER) ** 2
        n, m = len(_LEVELS), 2 + _TIMES.size
        self._mean: FloatArray = np.zeros((n, m))
        self._cov: FloatArray = np.zeros((n, m, m))
        self._score: FloatArray = np.zeros(n)
        self._at = math.nan
        self._surprised = 0
        self._begun = math.nan

    @property
    def readings_seen(self) -> bool:
        """Whether there has been a reading."""
        return not math.isnan(self._at)

    def update(self, at: float, value: float, sd: float | None = None) -> None:
        """Take in a reading; one earlier than the last is left out.

        Parameters
        ----------
        at : float
            Time. [s]
        value : float
            Reading. [SI]
        sd : float, optional
            Its standard deviation, if not the usual one.
        """
        noise = self.character.noise if sd is None else sd
        if not self.readings_seen:
            self._begin(at, value)
            return
        if at < self._at:
            return
        mean, cov = self._carried(at)
        since = at - self._at
        self._score *= math.exp(-since / _MEMORY)
        gap, variance = self._innovation(mean, cov, value, noise)
        weights = self._weights()
        expected = float(weights @ (mean @ _SEEN))
        spread = math.sqrt(float(weights @ (variance + ((mean @ _SEEN) - expected) ** 2)))
        self._at = at
        if abs(value - expected) > _UNEXPECTED * spread:
            self._surprised += 1
            if self._surprised < 2:
                # Once may be a slip of the hand: keep what was thought, and wait.
                self._mean, self._cov = mean, cov
                return
            self._mean, self._cov = mean, cov
            self._stir(at, abs(value - expected))
            mean, cov = self._mean, self._cov
            gap, variance = self._innovation(mean, cov, value, noise)
        else:
            self._surprised = 0
        gain = cov @ _SEEN / variance[:, None]
        self._mean = mean + gain * gap[:, None]
        self._cov = cov - gain[:, :, None] * (_SEEN @ cov)[:, None, :]
        self._score -= 0.5 * min(since / _STEADY, 1.0) * (gap**2 / variance + np.log(variance))

    def disturb(self, at: float, step: float | None = None) -> None:
        """Something was done to the machine: a new transient begins.

        Parameters
        ----------
        at : float
            Time. [s]
        step : float, optional
            By about how much it moves the channel; its span by default. [SI]
        """
        if self.readings_seen and at >= self._at:
            self._mean, self._cov = self._carried(at)
            self._at = at
            self._stir(at, self.character.span if step is None else step)
            self._surprised = 0

    def _begin(self, at: float, value: float) -> None:
        self._mean[:] = 0.0
        self._mean[:, 0] = value
        self._cov[:] = 0.0
        self._cov[:, 0, 0] = self.character.noise**2
        self._at = at
        self._stir(at, self.character.span)

    def _stir(self, at: float, step: float) -> None:
        """Open the end value and all terms by `step`, the reading staying where it is."""
        m = _TIMES.size
        s = (step * self._scale) ** 2 / m
        # Each term takes from the end value what it adds to the reading.
        self._cov[:, 0, 0] += s * m
        self._cov[:, 0, 2:] -= s[:, None]
        self._cov[:, 2:, 0] -= s[:, None]
        self._cov[:, 2:, 2:] += s[:, None, None] * np.eye(m)
        self._cov[:, 1, 1] += self._slope * (step / self.character.span) ** 2
        self._score *= 0.3
        self._begun = at

    def _carried(self, at: float) -> tuple[FloatArray, FloatArray]:
        """Means and covariances of all filters at a later time."""
        dt = max(at - self._at, 0.0)
        last = math.exp(-dt / _TREND)
        step = np.diag(np.concatenate([[1.0, last], np.exp(-dt / _TIMES)]))
        step[0, 1] = _TREND * (1.0 - last)
        mean = self._mean @ step.T
        cov = step @ self._cov @ step.T
        cov[:, 0, 0] += self._q * dt
        cov[:, 1, 1] += self._slope * (1.0 - last * last)
        index = np.arange(2, step.shape[0])
        kept = np.diag(step)[2:]
        cov[:, index, index] += self._upsets[:, None] * (1.0 - kept**2)
        return mean, cov

    @staticmethod
    def _innovation(
        mean: FloatArray, cov: FloatArray, value: float, noise: float
    ) -> tuple[FloatArray, FloatArray]:
        gap: FloatArray = value - (mean @ _SEEN)
        variance: FloatArray = _SEEN @ cov @ _SEEN + noise * noise
        return gap, variance

    def _weights(self) -> FloatArray:
        w: FloatArray = np.exp(self._score - self._score.max())
        w /= w.sum()
        return w

    def outlook(self, now: float | None = None) -> Outlook:
        """What can be said now, by default at the last reading.

        Raises
        ------
        ValueError
            There has been no reading.
        """
        if not self.readings_seen:
            raise ValueError("no reading has been taken in yet")
        at = self._at if now is None else max(now, self._at)
        mean, _cov = self._carried(at)
        w = self._weights()
        later, later_cov = self._carried(at + _HORIZON)
        sd = np.sqrt(_SEEN @ later_cov @ _SEEN)
        centre = later @ _SEEN
        low, median, high = _quantiles(w, centre, sd, (_NINE_TENTHS[0], 0.5, _NINE_TENTHS[1]))
        tolerance = self.character.tolerance
        now_value = float(w @ (mean @ _SEEN))
        state: State = "drifting"
        if self._surprised or at - self._begun < 1e-9:
            state = "disturbed"
        elif abs(median - now_value) < tolerance and high - low < 6.0 * tolerance:
            state = "settled"
        return Outlook(
            state=state,
            settled=median,
            low=low,
            high=high,
            remaining=median - now_value,
            look_again=0.0 if state == "settled" else self._wait(mean, w),
        )

    def _wait(self, mean: FloatArray, weights: FloatArray) -> float:
        """Time until the known part of the transient is down to the tolerance. [s]"""
        terms = np.abs(weights @ mean[:, 2:])
        for wait in np.geomspace(_SHORTEST_WAIT, _LONGEST_WAIT, 40):
            if float(terms @ np.exp(-wait / _TIMES)) < self.character.tolerance:
                return float(wait)
        return _LONGEST_WAIT

    def foretold(self, at: float) -> tuple[float, float, float]:
        """Median and nine-tenths band of a reading at a later time. [SI]"""
        mean, cov = self._carried(at)
        sd = np.sqrt(_SEEN @ cov @ _SEEN + self.character.noise**2)
        low, median, high = _quantiles(
            self._weights(), (mean @ _SEEN), sd, (_NINE_TENTHS[0], 0.5, _NINE_TENTHS[1])
        )
        return median, low, high


def _normal(z: FloatArray) -> FloatArray:
    """Cumulative normal distribution."""
    from scipy.special import ndtr

    found: FloatArray = ndtr(z)
    return found


def _quantiles(
    weights: FloatArray, means: FloatArray, sds: FloatArray, shares: tuple[float, float, float]
) -> tuple[float, float, float]:
    """Quantiles of a mixture of normals, by halving. (3,)"""
    low = np.full(3, float((means - 8.0 * sds).min()))
    high = np.full(3, float((means + 8.0 * sds).max()))
    goal = np.array(shares)
    for _ in range(60):
        middle = 0.5 * (low + high)
        below = weights @ _normal((middle[None, :] - means[:, None]) / sds[:, None])
        under = below < goal
        low = np.where(under, middle, low)
        high = np.where(under, high, middle)
    a, b, c = 0.5 * (low + high)
    return float(a), float(b), float(c)

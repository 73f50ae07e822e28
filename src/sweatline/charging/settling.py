r"""Where a reading will settle, told while it still moves.

After a change a reading goes to its end value along a path with many time constants, none of them
known beforehand, while the end value itself wanders (the room warms, a coil gets wet) or drifts on
(a cabinet, a tank is pulled down). So the reading is taken as

.. math::
    y = L + \sum_i a_i + \epsilon, \qquad \dot a_i = -a_i/\tau_i + \text{noise}, \qquad
    \dot L = d + \text{noise}, \qquad \dot d = -d/\tau_d + \text{noise},

with time constants from ten seconds to forty minutes at once. Sums of such terms can rise, dip and
come back as a starting machine does. Kalman's recursion gives L, d and all a_i from readings at any
times. Filters that differ in what they take the machine for (how far this change moves it, how
restless it is, how strongly it drifts, how much of a change comes slowly) are weighed by how well
each foretold the readings so far. What is told is the mixture: the settled value with its band, and
how long the rest of the transient takes.

A change that was made begins a new transient. What was learned of the machine's kind is kept, what
was learned of the size of the last change in part: the next dose may be smaller.

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

from sweatline.compiled import kernel
from sweatline.log.channels import Character

FloatArray = NDArray[np.float64]

_TIMES: Final = np.array([10.0, 30.0, 90.0, 270.0, 800.0, 2400.0])  # s
_TERMS: Final = _TIMES.size
_READ: Final = np.concatenate([[1.0, 0.0], np.ones(_TERMS)])  # of the states, what is read
_TREND: Final = 2700.0  # s that a trend of the end value lasts

# What a filter takes the machine for, in spans of the channel, and how likely that is beforehand.
# How these were chosen: docs/why/settling.md.
_SIZES: Final = np.array([0.06, 0.18, 0.52, 1.5, 4.5])  # by how much a change moves it
_SIZE_WEIGHTS: Final = np.array([0.8, 1.0, 0.9, 0.6, 0.3])
# How far the end value wanders in a quarter of an hour, and how far each term is upset.
_RESTLESS: Final = ((0.01, 0.004), (0.04, 0.016), (0.14, 0.055), (0.5, 0.2))
_RESTLESS_WEIGHTS: Final = np.array([0.5, 0.85, 1.1, 1.3])
_TRENDS: Final = np.array([0.0, 0.16, 6.0])  # how far a trend carries it in half an hour
_TREND_WEIGHTS: Final = np.array([2.2, 1.6, 1.0])
# How the variance of a change is shared out among the terms, fast to slow.
_SHARES: Final = (
    (1.0, 1.0, 1.0, 1.0, 1.0, 1.0),
    (1.0, 1.0, 0.17, 0.03, 0.03, 0.03),
    (1.0, 1.0, 0.03, 0.001, 0.001, 0.001),
)
_SHARES_WEIGHTS: Final = np.array([1.0, 1.3, 2.4])

_STEADY: Final = 20.0  # s ahead, at least, for which a filter must foretell to be weighed by it
# The settled value: what the terms come to in twenty minutes, the end value itself in ten.
_AT_REST: Final = 1200.0  # s
_HORIZON: Final = 600.0  # s
_GOES_ON: Final = 0.5  # chance that a trend is more than the slow end of the transient
_MEMORY: Final = 2400.0  # s after which the weight of a foretelling has fallen to a third
# A reading to come may be of another kind than those so far: a plate that only begins to cool, an
# oil that has warmed through. Time in which two of three have changed.
_CHANGES: Final = 1500.0  # s
# Of what was learned, that a new change leaves: of the size of changes, of the kind of machine.
_KEPT_SIZE: Final = 0.4
_KEPT_KIND: Final = 1.0
_LEAST_CHANCE: Final = 1e-6  # of a filter, so that none is lost for good
_TREND_STIRRED: Final = 0.07  # of a trend's variance, by a change; a start opens all of it
_UNEXPECTED: Final = 4.5  # standard deviations
_SETTLED_BAND: Final = 5.0  # tolerances, at most, of what may be called settled
_SHORTEST_WAIT: Final = 30.0  # s, sooner there is nothing new
_LONGEST_WAIT: Final = 300.0  # s
_SOON: Final = 120.0  # s, the longest wait for a reading whose expected way is short
_QUARTER: Final = 900.0  # s
_LEVELS: Final = np.array([0.05, 0.5, 0.95])  # ends of the 90 % interval, and its middle

State = Literal["settled", "drifting", "disturbed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What can be said of a channel at one moment."""

    state: State
    settled: float  # median of the value it goes to
    low: float  # ends of the 90 % interval
    high: float
    look_again: float  # s until it is worth reading again; 0 when settled


class _Kinds:
    """The filters, one for each combination: size x restlessness x trend x shares."""

    def __init__(self) -> None:
        self.shape = (_SIZES.size, len(_RESTLESS), _TRENDS.size, len(_SHARES))
        size, restless, trend, shares = (i.ravel() for i in np.indices(self.shape))
        prior = (
            _SIZE_WEIGHTS[size]
            * _RESTLESS_WEIGHTS[restless]
            * _TREND_WEIGHTS[trend]
            * _SHARES_WEIGHTS[shares]
        )
        self.prior: FloatArray = prior / prior.sum()
        self.size: FloatArray = _SIZES[size]
        self.wander: FloatArray = np.array(_RESTLESS)[restless, 0]
        self.upset: FloatArray = np.array(_RESTLESS)[restless, 1]
        self.slope: FloatArray = _TRENDS[trend] / 2.0 / _QUARTER
        shared = np.array(_SHARES)
        shared /= shared.sum(axis=1, keepdims=True)
        self.shares: FloatArray = shared[shares]


_KINDS: Final = _Kinds()


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
        self._wander: FloatArray = (_KINDS.wander * span) ** 2 / _QUARTER
        self._upset: FloatArray = (_KINDS.upset * span) ** 2
        self._slope: FloatArray = (_KINDS.slope * span) ** 2
        n, m = _KINDS.prior.size, 2 + _TERMS
        self._mean: FloatArray = np.zeros((n, m))
        self._cov: FloatArray = np.zeros((n, m, m))
        self._log_prior: FloatArray = np.log(_KINDS.prior)
        self._score: FloatArray = np.zeros(n)
        self._at = math.nan
        # Where every filter stood when it was weighed last, and when that was.
        self._before: tuple[float, FloatArray, FloatArray] = (math.nan, self._mean, self._cov)
        self._surprised = 0
        self._begun = math.nan

    @property
    def readings_seen(self) -> bool:
        """Whether there has been a reading."""
        return not math.isnan(self._at)

    def update(self, at: float, value: float) -> None:
        """Take in a reading; one earlier than the last is left out.

        Parameters
        ----------
        at : float
            Time. [s]
        value : float
            Reading. [SI]
        """
        noise = self.character.noise
        if not self.readings_seen:
            self._begin(at, value)
            return
        if at < self._at:
            return
        self._score *= math.exp(-(at - self._at) / _MEMORY)
        self._mean, self._cov = self._later(at)
        self._at = at
        expected, variance = _shown(self._mean, self._cov, _READ)
        variance += noise * noise
        weights = self._weights()
        middle = float(weights @ expected)
        spread = math.sqrt(float(weights @ (variance + (expected - middle) ** 2)))
        if abs(value - middle) > _UNEXPECTED * spread:
            self._surprised += 1
            if self._surprised < 2:
                # Once may be a slip of the hand: keep what was thought, and wait.
                return
            self._stir(at, abs(value - middle))
            expected, variance = _shown(self._mean, self._cov, _READ)
            variance += noise * noise
        else:
            self._surprised = 0
        _correct(self._mean, self._cov, value - expected, variance)
        if at - self._before[0] >= _STEADY:
            # What the filters foretold of this reading when they stood before weighs them.
            expected, variance = _shown(*self._carried(at, *self._before), _READ)
            variance += noise * noise
            self._score -= 0.5 * ((value - expected) ** 2 / variance + np.log(variance))
            self._before = (at, self._mean, self._cov)

    def disturb(self, at: float) -> None:
        """Something was done to the machine: a new transient begins.

        Parameters
        ----------
        at : float
            Time. [s]
        """
        if self.readings_seen and at >= self._at:
            self._mean, self._cov = self._later(at)
            self._at = at
            self._stir(at, self.character.span)
            self._surprised = 0

    def _begin(self, at: float, value: float) -> None:
        self._mean[:] = 0.0
        self._mean[:, 0] = value
        self._cov[:] = 0.0
        self._cov[:, 0, 0] = self.character.noise**2
        self._cov[:, 1, 1] = (1.0 - _TREND_STIRRED) * self._slope
        self._at = at
        self._stir(at, self.character.span)

    def _stir(self, at: float, step: float) -> None:
        """Open the end value and all terms by `step`, the reading staying where it is."""
        variance = (step * _KINDS.size) ** 2
        # Each term takes from the end value what it adds to the reading.
        each = variance[:, None] * _KINDS.shares
        terms = np.arange(2, 2 + _TERMS)
        self._cov[:, 0, 0] += variance
        self._cov[:, 0, 2:] -= each
        self._cov[:, 2:, 0] -= each
        self._cov[:, terms, terms] += each
        self._cov[:, 1, 1] += _TREND_STIRRED * self._slope
        self._score = self._kept()
        self._before = (at, self._mean.copy(), self._cov.copy())
        self._begun = at

    def _kept(self) -> FloatArray:
        """Scores after a change: of what was learned, the size of changes fades, the kind stays."""
        learned = self._weights().reshape(_KINDS.shape)
        prior = _KINDS.prior.reshape(_KINDS.shape)
        kind = np.log(learned.sum(axis=0) / prior.sum(axis=0) + _LEAST_CHANCE)
        size = np.log(learned.sum(axis=(1, 2, 3)) / prior.sum(axis=(1, 2, 3)) + _LEAST_CHANCE)
        score: FloatArray = _KEPT_SIZE * size[:, None, None, None] + _KEPT_KIND * kind
        return score.ravel()

    def _later(self, at: float) -> tuple[FloatArray, FloatArray]:
        """Means and covariances of all filters at a later time."""
        return self._carried(at, self._at, self._mean, self._cov)

    def _carried(
        self, at: float, since: float, mean: FloatArray, cov: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        new_mean, new_cov = np.empty_like(mean), np.empty_like(cov)
        dt = float(max(at - since, 0.0))
        _carry(mean, cov, self._wander, self._upset, self._slope, _TIMES, dt, new_mean, new_cov)
        return new_mean, new_cov

    def _weights(self) -> FloatArray:
        log = self._log_prior + self._score
        w: FloatArray = np.exp(log - log.max())
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
        mean, cov = self._later(at)
        weights = self._weights()
        now_value = float(weights @ _shown(mean, cov, _READ)[0])
        low, median, high = self._at_rest(mean, cov, weights)
        tolerance = self.character.tolerance
        state: State = "drifting"
        if self._surprised or at - self._begun < 1e-9:
            state = "disturbed"
        elif abs(median - now_value) < tolerance and high - low < _SETTLED_BAND * tolerance:
            state = "settled"
        return Outlook(
            state=state,
            settled=median,
            low=low,
            high=high,
            look_again=0.0 if state == "settled" else self._wait(at, mean, weights, median),
        )

    def _wait(self, at: float, mean: FloatArray, weights: FloatArray, settled: float) -> float:
        """Time until the reading is likely within the tolerance of where it settles. [s]

        Kept between a third and a half of the time that the transient has gone on: what is read
        sooner tells little of its pace, and what is read later could have been read before.
        """
        gone = at - self._begun
        longest = min(max(gone / 2.0, _SHORTEST_WAIT), _LONGEST_WAIT)
        shortest = min(max(gone / 3.0, _SHORTEST_WAIT), _SOON)
        end, trend, *terms = weights @ mean
        waits = np.linspace(_SHORTEST_WAIT, _LONGEST_WAIT, 55)
        path = end + _GOES_ON * trend * _TREND * (1.0 - np.exp(-waits / _TREND))
        path += np.exp(-waits[:, None] / _TIMES) @ np.array(terms)
        far = np.flatnonzero(np.abs(path - settled) > self.character.tolerance)
        near = waits[min(far[-1] + 1, waits.size - 1)] if far.size else _SHORTEST_WAIT
        return float(min(max(near, shortest), longest))

    def _at_rest(
        self, mean: FloatArray, cov: FloatArray, weights: FloatArray
    ) -> tuple[float, float, float]:
        """5 %, median and 95 % of the settled value, a trend going on or ending now."""
        seen = _READ.copy()
        seen[2:] = np.exp(-(_AT_REST - _HORIZON) / _TIMES)
        going = _shown(*self._carried(_HORIZON, 0.0, mean, cov), seen)
        mean, cov = mean.copy(), cov.copy()
        mean[:, 1] = cov[:, 1, :] = cov[:, :, 1] = 0.0
        ending = _shown(*self._carried(_HORIZON, 0.0, mean, cov), seen)
        found = _quantiles(
            np.concatenate([_GOES_ON * weights, (1.0 - _GOES_ON) * weights]),
            np.concatenate([going[0], ending[0]]),
            np.sqrt(np.concatenate([going[1], ending[1]])),
            _LEVELS,
        )
        return float(found[0]), float(found[1]), float(found[2])

    def foretold(self, at: float) -> tuple[float, float, float]:
        """Median and 90 % interval of a reading at a later time. [SI]

        By then the machine may be of any kind again, the likelier the further ahead: that widens
        the interval, and leaves the median.
        """
        expected, variance = _shown(*self._later(at), _READ)
        variance += self.character.noise**2
        changed = -math.expm1(-max(at - self._at, 0.0) / _CHANGES)
        weights, spread = self._weights(), np.sqrt(variance)
        median = float(_quantiles(weights, expected, spread, _LEVELS[[1]])[0])
        weights = (1.0 - changed) * weights + changed * _KINDS.prior
        low, high = _quantiles(weights, expected, spread, _LEVELS[[0, 2]])
        return median, min(float(low), median), max(float(high), median)


@kernel
def _carry(
    mean: FloatArray,
    cov: FloatArray,
    wander: FloatArray,
    upset: FloatArray,
    slope: FloatArray,
    times: FloatArray,
    dt: float,
    new_mean: FloatArray,
    new_cov: FloatArray,
) -> None:
    """Means and covariances of all filters `dt` later; the states are L, d and the terms."""
    n, m = mean.shape
    last = math.exp(-dt / _TREND)
    reach = _TREND * (1.0 - last)  # s of trend that go into the end value
    stays = np.empty(m)
    stays[0], stays[1] = 1.0, last
    for i in range(2, m):
        stays[i] = math.exp(-dt / times[i - 2])
    for f in range(n):
        c, o = cov[f], new_cov[f]
        for i in range(m):
            new_mean[f, i] = stays[i] * mean[f, i]
            for j in range(i, m):
                o[i, j] = stays[i] * stays[j] * c[i, j]
        new_mean[f, 0] += reach * mean[f, 1]
        o[0, 0] += 2.0 * reach * c[0, 1] + reach * reach * c[1, 1] + wander[f] * dt
        for j in range(1, m):
            o[0, j] += reach * stays[j] * c[1, j]
        o[1, 1] += slope[f] * (1.0 - last * last)
        for i in range(2, m):
            o[i, i] += upset[f] * (1.0 - stays[i] * stays[i])
        for i in range(m):
            for j in range(i):
                o[i, j] = o[j, i]


@kernel
def _shown(mean: FloatArray, cov: FloatArray, seen: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and variance, by every filter, of the sum of states that `seen` weighs."""
    n, m = mean.shape
    expected, variance = np.zeros(n), np.zeros(n)
    for f in range(n):
        for i in range(m):
            expected[f] += seen[i] * mean[f, i]
            part = 0.5 * seen[i] * cov[f, i, i]
            for j in range(i):
                part += seen[j] * cov[f, i, j]
            variance[f] += 2.0 * seen[i] * part
        variance[f] = max(variance[f], 0.0)
    return expected, variance


@kernel
def _correct(mean: FloatArray, cov: FloatArray, gap: FloatArray, variance: FloatArray) -> None:
    """Kalman's correction of all filters by one reading, in place."""
    n, m = mean.shape
    along = np.empty(m)
    for f in range(n):
        for i in range(m):
            along[i] = cov[f, i, 0]
            for j in range(2, m):
                along[i] += cov[f, i, j]
        for i in range(m):
            mean[f, i] += along[i] / variance[f] * gap[f]
            for j in range(i, m):
                cov[f, i, j] -= along[i] * along[j] / variance[f]
                cov[f, j, i] = cov[f, i, j]


@kernel
def _quantiles(
    weights: FloatArray, means: FloatArray, sds: FloatArray, levels: FloatArray
) -> FloatArray:
    """Quantiles of a mixture of normals, by halving; as many as levels."""
    counted = weights > _LEAST_CHANCE
    lowest = (means - 5.0 * sds)[counted].min()
    highest = (means + 5.0 * sds)[counted].max()
    share = weights[counted].sum()
    found = np.empty(levels.size)
    for k in range(levels.size):
        goal = share * levels[k]
        low, high = lowest, highest
        for _ in range(48):
            middle = 0.5 * (low + high)
            below = 0.0
            for f in range(weights.size):
                if counted[f]:
                    away = (means[f] - middle) / max(sds[f], 1e-300)
                    below += weights[f] * 0.5 * math.erfc(math.sqrt(0.5) * away)
            if below < goal:
                low = middle
            else:
                high = middle
        found[k] = 0.5 * (low + high)
    return found

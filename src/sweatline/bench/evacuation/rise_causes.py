r"""What makes a vacuum rise that is shut off: a leak, moisture and gas from oil, all at once.

.. math::
    p(t) = p_0 + p_a \tanh(r t/p_a) + a_w (1 - e^{-t/\tau_w}) + a_g \ln(1 + t/\tau_g)

A leak in viscous flow goes with the difference of squares to the atmosphere, hence the hyperbolic
tangent; water goes to its vapour pressure at the wall, or stops below where a film gives it off;
gas out of oil, hoses and walls comes ever more slowly without a plateau; gas that comes over
through the capillary from a side that was pumped less levels off as water does, but at any height.
Each has a chance to be there at all: below that its size is too small to be seen, evenly in the
logarithm, so that what is absent and what is present are parts of one space. The posterior is drawn
by tempering: points of the prior are weighed by a rising power of the likelihood, chosen anew, and
moved by Metropolis steps (Del Moral, Doucet and Jasra, J. R. Stat. Soc. B 68, 411 (2006),
MEMORY 0.9). No start has to be guessed and no mode is lost; the draws are the same every time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# Chances before the test that a cause is there, judged: most circuits that come so far are tight
# and nearly dry; where air comes in, water came in with it.
LEAK, MOISTURE, MOISTURE_BESIDE, GAS = 0.30, 0.25, 0.40, 0.25
_MOST_LEAK: Final = 1e4  # Pa by a leak in the whole watch
_SLOW, _FAST = 20.0, 14400.0  # s, range of the times of moisture and gas
_WALL: Final = 0.15  # relative spread of a plateau of free water: 2 K of wall temperature
# What levels off may be free water, a film or a drier that stop below, or gas that comes over from
# the side that was pumped less: chances of the first two.
_FREE, _FILM = 0.3, 0.6
_SPREADING: Final = 3e4  # Pa, the most that comes over
_MOST_GAS: Final = 3e3  # Pa
_UNSEEN: Final = math.log(100.0)  # width of the part of a size that stands for nothing

_POINTS: Final = 2000
_FRESH: Final = 0.6  # of the points that a step of the temper leaves in effect
_MOVES: Final = 5
_LAST_MOVES: Final = 15
# Share of the pressure by which real courses differ from these: water in two places, a wall that
# warms, oil that gives off by a power of time. Chosen so that ranges hold of such courses, too.
_COURSE: Final = 0.05
_AT_FIRST: Final = 3.0  # errors of the first look within which the true pressure is sought
_COLUMNS: Final = 5  # ln r, ln a_w, ln tau_w, ln a_g, ln tau_g
# Which columns are drawn anew together, the first pressure, which is last, never.
_ANEW: Final = np.array([[1, 1, 1, 0, 0, 0], [0, 1, 1, 0, 0, 0], [0, 0, 0, 1, 1, 0]], bool)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """Of the logarithms of the five numbers, for a gauge, a wall and a watch.

    Parameters
    ----------
    floor : float
        Noise of the gauge at the lowest pressure. [Pa]
    plateau : float
        Rise at which free water stops. [Pa]
    span : float
        From the first look to the last. [s]
    """

    floor: float
    plateau: float
    span: float

    @property
    def least(self) -> tuple[float, float, float]:
        """Rate of a leak, moisture and gas from which they are there. [Pa/s], [Pa], [Pa]"""
        return self.floor / self.span, 4.0 * self.floor, 0.1 * self.floor

    @property
    def most(self) -> tuple[float, float, float]:
        """Largest of them; moisture also a little above. [Pa/s], [Pa], [Pa]"""
        return _MOST_LEAK / self.span, self.plateau, _MOST_GAS

    @property
    def wettest(self) -> float:
        """Rise that levels off above what water can make. [Pa]"""
        return self.plateau * math.exp(3.0 * _WALL)

    def drawn(
        self, chance: np.random.Generator, count: int, *, leak: FloatArray | None = None
    ) -> FloatArray:
        """Points; (count, 5) array. Logarithms of rates of the leak may be given."""
        x = np.empty((count, _COLUMNS))
        x[:, 0] = self._size(chance, np.full(count, LEAK), 0) if leak is None else leak
        share = np.where(x[:, 0] >= math.log(self.least[0]), MOISTURE_BESIDE, MOISTURE)
        x[:, 1] = self._size(chance, share, 1)
        there, kind = x[:, 1] >= math.log(self.least[1]), chance.random(count)
        z = math.log(self.plateau) + _WALL * chance.standard_normal(count)
        x[:, 1] = np.where(there & (kind < _FREE), z, x[:, 1])
        low, high = math.log(self.wettest), math.log(_SPREADING)
        over = there & (kind > _FREE + _FILM)
        x[:, 1] = np.where(over, low + chance.random(count) * (high - low), x[:, 1])
        x[:, 3] = self._size(chance, np.full(count, GAS), 2)
        x[:, 2::2] = math.log(_SLOW) + chance.random((count, 2)) * math.log(_FAST / _SLOW)
        return x

    def _size(self, chance: np.random.Generator, share: FloatArray, cause: int) -> FloatArray:
        low, high = math.log(self.least[cause]), math.log(self.most[cause])
        there, u = chance.random(share.size) < share, chance.random(share.size)
        return np.where(there, low + u * (high - low), low - u * _UNSEEN)

    def log_density(self, x: FloatArray) -> FloatArray:
        """Of points; (count,) array, minus infinity outside."""
        leaks = x[:, 0] >= math.log(self.least[0])
        shares = (
            np.full(x.shape[0], LEAK),
            np.where(leaks, MOISTURE_BESIDE, MOISTURE),
            np.full(x.shape[0], GAS),
        )
        density = np.ones(x.shape[0])
        for cause, (column, share) in enumerate(zip((0, 1, 3), shares, strict=True)):
            low, high = math.log(self.least[cause]), math.log(self.most[cause])
            v = x[:, column]
            there = np.where((v >= low) & (v <= high), 1.0 / (high - low), 0.0)
            if column == 1:
                z = (v - math.log(self.plateau)) / _WALL
                bell = np.exp(-0.5 * z * z) / (_WALL * math.sqrt(2.0 * math.pi))
                start, end = math.log(self.wettest), math.log(_SPREADING)
                over = np.where((v >= start) & (v <= end), 1.0 / (end - start), 0.0)
                there = _FILM * there + _FREE * bell + (1.0 - _FREE - _FILM) * over
            absent = np.where((v < low) & (v >= low - _UNSEEN), 1.0 / _UNSEEN, 0.0)
            density *= share * there + (1.0 - share) * absent
        times = x[:, 2::2]
        inside = (times >= math.log(_SLOW)) & (times <= math.log(_FAST))
        with np.errstate(divide="ignore"):
            return np.log(np.where(inside.all(axis=1), density, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Causes:
    """Equally likely points of the posterior."""

    numbers: FloatArray  # (n, 5): r, a_w, tau_w, a_g, tau_g [Pa/s], [Pa], [s], [Pa], [s]
    prior: Prior
    atmosphere: float  # Pa

    @property
    def rate(self) -> FloatArray:
        """Rise by the leak; (n,) array. [Pa/s]"""
        return self.numbers[:, 0]

    @property
    def moisture(self) -> FloatArray:
        """Rise by moisture at its plateau; (n,) array. [Pa]"""
        return self.numbers[:, 1]

    @property
    def leaks(self) -> NDArray[np.bool_]:
        """Where there is a leak, seen or not."""
        return self.numbers[:, 0] >= self.prior.least[0]

    @property
    def wet(self) -> NDArray[np.bool_]:
        """Where there is moisture."""
        at = self.numbers[:, 1]
        return (at >= self.prior.least[1]) & (at <= self.prior.wettest)

    @property
    def gassy(self) -> NDArray[np.bool_]:
        """Where gas comes out of oil and walls, or over from the other side."""
        over = self.numbers[:, 1] > self.prior.wettest
        return (self.numbers[:, 3] >= self.prior.least[2]) | over

    def levelled(self, after: float, weights: FloatArray) -> float:
        """Share of its plateau that moisture has come to on average, 0 without moisture. [-]"""
        wet = weights * self.wet
        if wet.sum() <= 0.0:
            return 0.0
        return float(wet @ -np.expm1(-after / self.numbers[:, 2]) / wet.sum())

    def rises(self, t: FloatArray) -> FloatArray:
        """Rises since the start at times; (n, t.size) array. [Pa]"""
        return _rises(self.numbers, t, self.atmosphere)

    def weighed_by_more(
        self, looks: FloatArray, *, first: float, gauge: Gauge, truths: NDArray[np.int64], seed: int
    ) -> tuple[FloatArray, FloatArray]:
        """What a gauge would show if some points were the truth, and what all then weigh.

        Parameters
        ----------
        looks : (k,) array
            Times since the start. [s]
        first : float
            Pressure at the start. [Pa]
        truths : (m,) array
            Points that are taken for the truth in turn; a point does not speak for itself.

        Returns
        -------
        (m, k) array, (m, n) array
            Pressures [Pa], weights of sum 1.
        """
        course = first + self.rises(looks)
        variance = _variance(course, gauge)
        chance = np.random.default_rng(seed)
        wrong = np.sqrt(variance[truths]) * chance.standard_normal((truths.size, looks.size))
        shown = course[truths] + wrong
        fit = -0.5 * ((shown[:, None] - course) ** 2 / variance + np.log(variance)).sum(axis=2)
        fit[np.arange(truths.size), truths] = -math.inf
        mass = np.exp(fit - fit.max(axis=1, keepdims=True))
        return shown, np.asarray(mass / mass.sum(axis=1, keepdims=True))


def _rises(numbers: FloatArray, t: FloatArray, atmosphere: float) -> FloatArray:
    rate, a, tau, gas, slow = numbers.T
    leak = atmosphere * np.tanh(rate[:, None] * t / atmosphere)
    water = a[:, None] * -np.expm1(-t / tau[:, None])
    return np.asarray(leak + water + gas[:, None] * np.log1p(t / slow[:, None]))


def _variance(course: FloatArray, gauge: Gauge, often: FloatArray | float = 1.0) -> FloatArray:
    """Of what a gauge shows, about a course that real ones follow nearly. [Pa2]"""
    repeats = ((gauge.share * course) ** 2 + gauge.floor**2) / often
    return np.asarray(repeats + (_COURSE * course) ** 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """How well it repeats; how it reads all along cancels nearly, for the rise is what counts."""

    share: float  # of what it shows
    floor: float  # Pa


def causes_of(
    t: FloatArray,
    p: FloatArray,
    *,
    gauge: Gauge,
    prior: Prior,
    atmosphere: float,
    looks: FloatArray | None = None,
    points: int = _POINTS,
    seed: int = 0,
) -> Causes:
    """What may have made a rise.

    Parameters
    ----------
    t, p : (n,) array
        Times from 0, and pressures. [s], [Pa]
    looks : (n,) array, optional
        How many readings each pressure is the mean of; 1 by default. [-]
    """
    chance = np.random.default_rng(seed)
    often = np.ones(t.size) if looks is None else looks
    first = math.hypot(gauge.share, gauge.floor / p[0])
    off = min(_AT_FIRST * first, 1.0)

    def likelihood(x: FloatArray) -> FloatArray:
        """Logarithm; the error goes with the true pressure, not with what was shown."""
        course = p[0] * np.exp(off * x[:, -1:]) + _rises(np.exp(x[:, :-1]), t, atmosphere)
        variance = _variance(course, gauge, often)
        return np.asarray(-0.5 * ((p - course) ** 2 / variance + np.log(variance)).sum(axis=1))

    def density(x: FloatArray) -> FloatArray:
        return prior.log_density(x[:, :-1]) - 0.5 * x[:, -1] ** 2

    def drawn() -> FloatArray:
        return np.column_stack([prior.drawn(chance, points), chance.standard_normal(points)])

    x = drawn()
    fit, dense, power = likelihood(x), density(x), 0.0
    while power < 1.0:
        step = _step(fit, 1.0 - power)
        power = min(power + step, 1.0)
        mass = np.exp(step * (fit - fit.max()))
        chosen = _chosen(mass, float(chance.random()))
        x, fit, dense = x[chosen], fit[chosen], dense[chosen]
        for move in range(_MOVES if power < 1.0 else _LAST_MOVES):
            anew = move % _MOVES == 0
            if anew:  # a leak with its moisture, moisture beside it, or gas, from the prior
                which = chance.integers(0, 3, size=(points, 1))
                beside = np.where(which == 1, x[:, :1], drawn()[:, :1])[:, 0]
                fresh = np.column_stack([prior.drawn(chance, points, leak=beside), x[:, -1]])
                tried = np.where(_ANEW[which[:, 0]], fresh, x)
            else:
                tried = _moved(x, chance)
            there = density(tried)
            found = np.where(np.isfinite(there), likelihood(tried), -math.inf)
            gain = power * (found - fit) + (0.0 if anew else there - dense)
            taken = np.log(chance.random(points)) < gain
            x[taken], fit[taken], dense[taken] = tried[taken], found[taken], there[taken]
    return Causes(numbers=np.exp(x[:, :-1]), prior=prior, atmosphere=atmosphere)


def believed(prior: Prior, *, atmosphere: float, points: int = _POINTS) -> Causes:
    """What is likely before anything was read."""
    x = prior.drawn(np.random.default_rng(0), points)
    return Causes(numbers=np.exp(x), prior=prior, atmosphere=atmosphere)


def _step(fit: FloatArray, left: float) -> float:
    """By how much the power may rise so that a set share of the points stays in effect."""

    def effective(step: float) -> float:
        mass = np.exp(step * (fit - fit.max()))
        return float(mass.sum() ** 2 / (mass @ mass)) / fit.size

    if effective(left) >= _FRESH:
        return left
    low, high = 0.0, left
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if effective(middle) >= _FRESH else (low, middle)
    return high


def _chosen(mass: FloatArray, shift: float) -> NDArray[np.int64]:
    """Indices in proportion to their mass, systematically."""
    at = (np.arange(mass.size) + shift) / mass.size
    found = np.searchsorted(np.cumsum(mass) / mass.sum(), at)
    return np.minimum(found, mass.size - 1)


def _moved(x: FloatArray, chance: np.random.Generator) -> FloatArray:
    """Points to try, by steps of all sizes along the way the points lie."""
    count, columns = x.shape
    spread = np.cov(x.T) + 1e-12 * np.eye(columns)
    size = np.exp(chance.uniform(math.log(0.03), math.log(1.2), count))
    steps = chance.standard_normal((count, columns)) @ np.linalg.cholesky(spread).T
    return np.asarray(x + size[:, None] * steps)

"""What readings leave of every hypothesis: its points, its chance, each quantity by all of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Range
from sweatline.diagnosis.causes import CAUSES
from sweatline.diagnosis.observed import SHOWS, Shows, place_of
from sweatline.log.channels import CHANNELS

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Standard deviation of an instrument that reads wrong, by its kind; of shares in ln.
_WRONG_GAUGE: Final[Mapping[str, float]] = {"suction gauge": 0.6e5, "head gauge": 1.8e5}
_WRONG_KELVIN: Final = 6.0
_WRONG_SHARE: Final = 0.2
_MISSED: Final = 0.05  # of what is looked for and is there, not found (judged)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading as it is weighed."""

    channel: str
    value: float
    """SI, pressures absolute."""
    sd: float
    """Of its instrument and of what has not settled. [SI]"""
    fresh: float = 0.0
    """The part of it that is new at every round: what has not settled. [SI]"""

    @property
    def y(self) -> float:
        """Its value, or the logarithm of it."""
        return math.log(self.value) if SHOWS[self.channel].logarithm else self.value

    @property
    def error(self) -> float:
        """Standard deviation of that."""
        return self.sd / self.value if SHOWS[self.channel].logarithm else self.sd

    @property
    def lasting(self) -> float:
        """The part of it that is the same in every round."""
        return self.error * math.sqrt(max(1.0 - (self.fresh / self.sd) ** 2, 0.0))

    @property
    def wrong(self) -> float:
        """Standard deviation of what it is off by where its instrument is wrong."""
        if self.channel in _WRONG_GAUGE:
            return _WRONG_GAUGE[self.channel] / self.value
        return _WRONG_SHARE if SHOWS[self.channel].logarithm else _WRONG_KELVIN


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """A round that was read before, at another charge of the same machine."""

    part: float
    """Of the charge that is in now, by what was weighed in."""
    readings: tuple[Reading, ...]
    ago: float = 0.0
    """Before this one. [s]"""


class Weighted(NamedTuple):
    """A quantity as values, and how much each counts. (n,), (n,)"""

    values: FloatArray
    weights: FloatArray

    @classmethod
    def of_normals(cls, mean: FloatArray, sd: FloatArray, weights: FloatArray) -> Weighted:
        """Of normal distributions that count so much. (n,) each"""
        nodes = np.linspace(-2.4, 2.4, 13)
        density = np.exp(-0.5 * nodes**2)
        values = mean[:, None] + sd[:, None] * nodes
        return cls(values.ravel(), (weights[:, None] * density / density.sum()).ravel())

    def _up_to(self) -> tuple[FloatArray, FloatArray]:
        """Its values in order, and the share up to the middle of each."""
        places, which = np.unique(self.values, return_inverse=True)
        share = np.bincount(which, self.weights)
        return places, (np.cumsum(share) - 0.5 * share) / share.sum()

    def range(self) -> Range:
        """5, 50 and 95 % points."""
        places, total = self._up_to()
        low, middle, high = np.interp((0.05, 0.5, 0.95), total, places)
        return Range(low=float(low), middle=float(middle), high=float(high))

    def below(self, value: float) -> float:
        """Share of it below a value."""
        places, total = self._up_to()
        return float(np.interp(value, places, total, left=0.0, right=1.0))


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """Some causes at once, and the instruments that they are about."""

    causes: tuple[str, ...]  # keys of CAUSES; none where nothing is wrong
    channels: tuple[str, ...] = ()

    @property
    def usual(self) -> float:
        """Odds against nothing being wrong."""
        return math.prod(CAUSES[c].usual for c in self.causes)

    def log_odds(self, channels: Sequence[str], ruled_out: Collection[str] = ()) -> float:
        """Their logarithm, where a cause about two of many instruments is shared out among them.

        What was looked for and not found is seldom there.
        """
        share = 1.0
        if "swapped" in self.causes:
            share = 2.0 / max(len(channels) * (len(channels) - 1), 1)
        if self.names_any(ruled_out):
            share *= _MISSED
        return math.log(self.usual * share)

    def names_any(self, ruled_out: Collection[str]) -> bool:
        """Whether one of its causes is among those that a log calls ruled out."""
        names = (n for c in self.causes for n in CAUSES[c].ruled_out_as(self.channels))
        return any(name in ruled_out for name in names)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """The points of one hypothesis, weighed; n points, m readings."""

    hypothesis: Hypothesis
    share: FloatArray  # (n,) of the right charge
    size: FloatArray  # (n, faults of the machine)
    prior: FloatArray  # (n,) sums to one
    traits: FloatArray  # (n, t) means
    covariance: FloatArray  # (x, t, t) of the traits
    at: IntArray  # (n,) which of them holds at each point
    shows: Shows
    mean: FloatArray  # (n, m) of the readings
    corner: FloatArray  # (n, m) slope of each reading in its trait beyond a corner
    trust: FloatArray  # (n, m) what an instrument shows of a change; 1 where it is right
    spread: FloatArray  # (n, m, m)
    given: FloatArray  # (m,) as weighed: swapped back where they were swapped
    log_likelihood: FloatArray  # (n,)

    @property
    def log_evidence(self) -> float:
        """Of the readings, given the hypothesis."""
        return _log_sum(self.log_likelihood + np.log(self.prior))

    @property
    def weights(self) -> FloatArray:
        """Of its points, given the readings. (n,)"""
        w = self.log_likelihood + np.log(self.prior)
        w = np.exp(w - w.max())
        found: FloatArray = w / w.sum()
        return found

    def left_out(self) -> FloatArray:
        """Logarithm of the density of each reading, given the others and the hypothesis. (m,)"""
        inverse = np.linalg.inv(self.spread)
        own = np.diagonal(inverse, axis1=1, axis2=2)
        away = (inverse @ (self.given - self.mean)[:, :, None])[:, :, 0]
        log = -0.5 * away**2 / own + 0.5 * np.log(own / (2.0 * math.pi))
        without = self.log_likelihood[:, None] - log + np.log(self.prior)[:, None]
        return np.array([self.log_evidence - _log_sum(without[:, j]) for j in range(log.shape[1])])

    def foretold(self, j: int) -> tuple[float, float]:
        """Mean and deviation of a reading before any."""
        return _mixed(self.prior, self.mean[:, j], self.spread[:, j, j])

    def explained(self, j: int) -> tuple[float, float]:
        """Mean and deviation of what is true behind a reading, given all."""
        mean, sd = self.behind(j)
        return _mixed(self.weights, mean, sd**2)

    def behind(self, j: int) -> tuple[FloatArray, FloatArray]:
        """The same at each point. (n,), (n,)"""
        base, beyond, sign = self.shows.base[j], self.shows.beyond[j], self.corner[:, j]
        cross = self._cross(base) + sign[:, None] * self._cross(beyond)
        own = self.shows.covariance(self.shows.blocks(self.covariance), self.at, self.corner)[
            :, j, j
        ]
        true = self.shows.shown(self.traits, self.covariance, self.at)[0][:, j]
        mean, variance = self._conditional(true, cross, own)
        return mean, np.sqrt(variance)

    def trait(self, name: str) -> tuple[float, float]:
        """Mean and standard deviation of a trait before any reading."""
        k = place_of(name)
        return _mixed(self.prior, self.traits[:, k], self.covariance[self.at, k, k])

    def after(self, name: str) -> tuple[FloatArray, FloatArray]:
        """Mean and standard deviation of a trait given the readings, at each point. (n,), (n,)"""
        k = place_of(name)
        mean, variance = self._conditional(
            self.traits[:, k], self._cross(k), self.covariance[self.at, k, k]
        )
        return mean, np.sqrt(variance)

    def to_come(self, channel: str, most: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Mean and deviation of a reading not yet taken, and the weights, at the likeliest points.

        At the most so many of them.
        """
        weights = self.weights
        few = np.argsort(-weights)[:most]
        g = replace(
            self, at=self.at[few], traits=self.traits[few], mean=self.mean[few],
            corner=self.corner[few], trust=self.trust[few], spread=self.spread[few],
        )  # fmt: skip
        one = Shows.of((channel,))
        mean, corner, more = one.shown(g.traits, g.covariance, g.at)
        base, beyond, part = one.base[0], one.beyond[0], corner[:, 0]
        cross = g._cross(base) + part[:, None] * g._cross(beyond)
        own = one.covariance(one.blocks(g.covariance), g.at, corner)[:, 0, 0] + more[:, 0]
        mean, variance = g._conditional(mean[:, 0], cross, own)
        known = CHANNELS[channel]
        logarithm = SHOWS[channel].logarithm
        error = known.sd / np.exp(mean) if logarithm and not known.relative else known.sd
        return mean, np.sqrt(variance + np.square(error)), weights[few]

    def _cross(self, trait: int) -> FloatArray:
        """Covariance of a trait with the readings. (n, m)"""
        row = self.covariance[self.at, trait]
        found: FloatArray = self.trust * (
            row[:, self.shows.base] + self.corner * row[:, self.shows.beyond]
        )
        return found

    def _conditional(
        self, mean: FloatArray, cross: FloatArray, own: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Mean and variance, given the readings, of what has a covariance with them. (n,), (n,)"""
        gain = np.linalg.solve(self.spread, cross[:, :, None])[:, :, 0]
        found = mean + np.einsum("nm,nm->n", gain, self.given - self.mean)
        variance = own - np.einsum("nm,nm->n", gain, cross)
        return found, np.maximum(variance, 1e-12)


def _mixed(w: FloatArray, mean: FloatArray, variance: FloatArray) -> tuple[float, float]:
    middle = float(w @ mean)
    return middle, math.sqrt(max(float(w @ (variance + (mean - middle) ** 2)), 1e-12))


def _log_sum(x: FloatArray) -> float:
    top = float(x.max())
    return top + math.log(float(np.exp(x - top).sum()))


def _all_of(parts: Sequence[Weighted]) -> Weighted:
    return Weighted(*(np.concatenate(column) for column in zip(*parts, strict=True)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weighed:
    """Readings, and what they leave of every hypothesis."""

    readings: tuple[Reading, ...]
    grids: tuple[Grid, ...]
    before: FloatArray  # chance of each before any reading
    chance: FloatArray  # of each now

    def of_trait(self, name: str, *, minus_share: bool = False) -> Weighted:
        """A trait, by all hypotheses; if wanted less the logarithm of the charge's share."""
        return self._over_all(
            lambda g: g.after(name), lambda g: np.log(g.share) if minus_share else 0.0
        )

    def behind(self, j: int) -> Weighted:
        """What is true behind a reading, by all hypotheses, in its unit or the logarithm of it."""
        return self._over_all(lambda g: g.behind(j))

    def _over_all(
        self,
        after: Callable[[Grid], tuple[FloatArray, FloatArray]],
        less: Callable[[Grid], FloatArray | float] = lambda _g: 0.0,
    ) -> Weighted:
        found = []
        for grid, chance in zip(self.grids, self.chance, strict=True):
            if chance >= 1e-3:
                mean, sd = after(grid)
                found.append(
                    Weighted.of_normals(mean - less(grid), sd, float(chance) * grid.weights)
                )
        return _all_of(found)

    def of_size(self, key: str) -> Weighted | None:
        """The size of a cause that is there, by all hypotheses that have it."""
        found = []
        for g, c in zip(self.grids, self.chance, strict=True):
            causes = g.hypothesis.causes
            if key not in causes:
                continue
            if CAUSES[key].part == "charge":
                found.append(Weighted(g.share, float(c) * g.weights))
            elif CAUSES[key].part == "machine":
                sized = [cause for cause in causes if CAUSES[cause].part == "machine"]
                found.append(Weighted(g.size[:, sized.index(key)], float(c) * g.weights))
        return _all_of(found) if found else None

    def present(self, *, before: bool = False) -> dict[tuple[str, tuple[str, ...]], float]:
        """Chance that each cause is there, alone or with another, the likeliest first.

        Parameters
        ----------
        before : bool
            As it was before any reading.
        """
        chances = self.before if before else self.chance
        found: dict[tuple[str, tuple[str, ...]], float] = {}
        for grid, chance in zip(self.grids, chances, strict=True):
            h = grid.hypothesis
            for cause in h.causes or ("nothing",):
                about = h.channels if CAUSES[cause].part == "instrument" else ()
                found[cause, about] = found.get((cause, about), 0.0) + float(chance)
        return dict(sorted(found.items(), key=lambda item: -item[1]))

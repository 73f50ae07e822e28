r"""The next dose of refrigerant, from what many possible machines would show.

Before charging, the model is sampled many times, and every sample taken along its charge: what its
gauges and thermometers show at each share of the charge that fills its own evaporator. Told in
shares of that best charge, machines are much alike: superheat is gone at the same place in all of
them. What differs is kept as a mean, a few directions in which the curves of readings vary, and
how those go with the best charge,

.. math::
    y(x) = \mu(x) + L(x)\,a, \qquad x = m/m_{best}, \qquad
    (a, \ln m_{best}) \sim \text{normal}.

For any one best charge the settled readings of the whole charging, at all charges so far, are then
linear in `a` and in the instruments' systematic errors (a gauge that reads high today does so all
day), so their likelihood is exact; the best charge itself runs over a grid. A reading of no
superheat, or of no subcooling, only says that it is not above what a thermometer can tell.

The dose is the largest that leaves at most one chance in fifty of ending more than the allowed
share above the best charge, and aims a little below its middle estimate. What is to be taken out
aims a little above it.

A dose that is safe whatever the readings come to needs no waiting; the weighing of the samples has
the width of every outlook in it already, so a bold dose that it allows is safe now. Only where
little is allowed, near the end, does a narrower outlook change what can be said.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Range
from sweatline.charging.settling import Outlook
from sweatline.log.channels import CHARACTERS

FloatArray = NDArray[np.float64]

# In the order of the last axis of `ChargePrior.readings`. Pressures, watts and amps are logarithms.
READINGS: Final = (
    "suction gauge",
    "head gauge",
    "superheat",
    "subcooling",
    "watts",
    "discharge gas",
    "coldest surface",
    "amps",
)
# Channels that are weighed, each with an instrument and a systematic error of its own.
INSTRUMENTS: Final = (
    "suction gauge", "head gauge", "suction gas", "liquid line", "discharge gas", "watts",
    "amps",
)  # fmt: skip
LOGARITHMIC: Final = (0, 1, 4, 7)
_SUPERHEAT, _SUBCOOLING = 2, 3
_BELOW_ZERO: Final = (2, 3)  # read as zero where there is none
_LEAST: Final = 1.0  # K of superheat or subcooling from which it is believed

# What of each channel counts as equally small when the directions are chosen. [as READINGS]
_ALIKE: Final = np.array([0.02, 0.02, 1.0, 1.0, 0.02, 2.0, 0.5, 0.02])
# By how much a model's settled reading is off a real machine's: at each charge anew, and through
# the whole charging. Beyond what the samples cover; the authors' judgement. [as READINGS]
_MODEL_FRESH: Final = np.array([0.004, 0.004, 0.3, 0.3, 0.004, 1.0, 0.3, 0.006])
_MODEL_SYSTEMATIC: Final = np.array([0.02, 0.02, 0.5, 1.0, 0.02, 3.0, 0.5, 0.03])
_EXPLAINED: Final = 0.998  # of the samples' variance by the directions kept
_MOST_DIRECTIONS: Final = 16
_GIVEN_UP: Final = 15.0  # times its own error, an instrument that was changed for another
_SCALE_SD: Final = 0.10  # of ln best charge beyond the samples: void fraction, oil, tubing
_GRID: Final = 141  # best charges looked at
_REACH: Final = 4.0  # standard deviations of ln best charge that they span
_OUTSIDE: Final = 0.1  # of ln share beyond those that were sampled, as good as one deviation
_IMPOSSIBLE: Final = 12.0  # nats that being outside may cost at most
_CHANCE: Final = 0.02  # of ending more than allowed above the best charge, at most
# Of the best charge, the quantile that is aimed at: a gram too many costs twice what a gram too few
# does, for it has to be taken out again (the authors' judgement).
_GOAL: Final = 1.0 / 3.0
_DOUBTED: Final = 2.0  # misfit from which only the superheat is believed
_PLAINLY: Final = 0.94  # share of the best charge below which nobody calls an evaporator full
_BELIEVABLE: Final = (0.2, 2.5)  # of the least and the most that samples take (judged)
_HARDLY_ANY: Final = 0.98  # of the samples: more than these show is no sound machine's
_OFF: Final = 2.0  # standard deviations beyond all samples
_CAREFUL: Final = 0.04  # of the charge in the machine, let in where only that is sure
_ODD: Final = 1e-3  # chance below which readings are called odd
_NODES: Final = np.linspace(-2.4, 2.4, 13)  # of a normal distribution, for quantiles of mixtures

SHORTEST: Final = 120.0  # s after anything was done before which no outlook is acted on
LONGEST: Final = 600.0  # s after which an outlook is taken as it is
LAST: Final = 1200.0  # s before a machine that may still be short is called done
SMALLEST: Final = 1e-3  # kg, what a kitchen scale still weighs out
LEAST_SHARE: Final = 0.012  # of the best charge: less changes nothing that can be read
LARGEST: Final = 0.12  # of the best charge, at once
_WIDE: Final = 5.0  # tolerances: an outlook wider than this is worth waiting for
_SHORT: Final = 0.05  # chance of being short that is left without waiting any longer
_BOLD: Final = 0.05  # of the charge in the machine: a dose as large as this shows in every reading


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargePrior:
    """What sampled machines show along their charge."""

    shares: FloatArray  # (n,) of each sample's best charge, rising
    # (k, n, 8) in the order of READINGS, superheat and subcooling going on below zero as what is
    # missing of them; NaN where a sample has no balance.
    readings: FloatArray
    best: FloatArray  # (k,) kg, evaporator filled


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseAdvice:
    """What to do next."""

    action: Literal["add", "stop", "take out"]
    dose: float  # kg; 0 for stop, to be taken out when negative
    best: Range  # kg, of the best charge
    chance_over: float  # that the charge after the dose is more than allowed above the best
    chance_short: float  # that it is more than allowed below the best
    expected: Mapping[str, Range]  # of READINGS after the dose, where something can be said [SI]
    odd: bool  # less than one chance in a thousand that a machine like this shows such readings


class _Told(NamedTuple):
    charge: float
    values: FloatArray
    fresh: FloatArray
    systematic: FloatArray


class _Posterior(NamedTuple):
    weights: FloatArray  # (g,)
    gain: FloatArray  # (g, n): K_uu^-1 (y - mean) of what was read
    inverse: FloatArray  # (g, n, n)
    rows: FloatArray  # (g, n, p) loadings of what was read
    channels: NDArray[np.int64]  # (n,)
    steps: NDArray[np.int64]  # (n,)
    square: float  # sum of squares of all readings about the best-fitting machines, whitened
    told: int  # how many readings


class Dosing:
    """Follows the charging of one machine.

    Parameters
    ----------
    prior : ChargePrior
        Of this machine as far as it is known.
    allowed : float
        Share above the best charge that is no harm. [-]
    """

    def __init__(self, prior: ChargePrior, *, allowed: float = 0.05) -> None:
        self.prior = prior
        self.allowed = allowed
        self._shares = prior.shares
        readings, kept = _completed(prior.readings)
        log_best = np.log(prior.best[kept])
        count, n, m = readings.shape
        flat = ((readings / _ALIKE).reshape(count, n * m)).copy()
        mean = flat.mean(axis=0)
        flat -= mean
        u, s, vt = np.linalg.svd(flat, full_matrices=False)
        share = np.cumsum(s**2) / max(float((s**2).sum()), 1e-300)
        p = min(int(np.searchsorted(share, _EXPLAINED)) + 1, _MOST_DIRECTIONS, s.size)
        scores = u[:, :p] * np.sqrt(count - 1.0)
        loadings = (s[:p, None] * vt[:p] / np.sqrt(count - 1.0)).T  # (n*m, p)
        left = flat - scores @ loadings.T
        self._mean = mean.reshape(n, m) * _ALIKE
        self._loadings = loadings.reshape(n, m, p) * _ALIKE[:, None]
        self._left = left.reshape(count, n, m).std(axis=0) * _ALIKE
        # The directions and the best charge together; the scale moves the charge alone.
        middle = float(log_best.mean())
        variance = float(log_best.var(ddof=1)) + _SCALE_SD**2
        along = scores.T @ (log_best - middle) / (count - 1.0)
        spread = np.sqrt(variance)
        self._log_best = middle + spread * np.linspace(-_REACH, _REACH, _GRID)
        self._prior = -0.5 * ((self._log_best - middle) / spread) ** 2
        self._scores = (self._log_best - middle)[:, None] * along / variance  # (g, p)
        self._open = np.eye(p) - np.outer(along, along) / variance
        self._told: list[_Told] = []
        self._posterior: _Posterior | None = None

    @property
    def believable(self) -> tuple[float, float]:
        """Least and most that anybody has in this machine while it is charged. [kg]"""
        low, high = _BELIEVABLE
        return low * float(self.prior.best.min()), high * float(self.prior.best.max())

    def most_subcooling(self, superheat: float) -> float:
        """Subcooling that hardly any machine shows at a superheat, the model's error on top. [K]

        At one superheat machines are much alike, whatever each takes: so this is seen long before
        the charge is wrong.

        Parameters
        ----------
        superheat : float
            At the evaporator's outlet. [K]
        """
        found = []
        for curve in self.prior.readings:
            known = curve[np.isfinite(curve[:, _SUPERHEAT])]
            if known.size:
                rising = -np.minimum.accumulate(known[:, _SUPERHEAT])
                found.append(np.interp(-superheat, rising, known[:, _SUBCOOLING]))
        off = math.hypot(float(_MODEL_FRESH[_SUBCOOLING]), float(_MODEL_SYSTEMATIC[_SUBCOOLING]))
        return max(float(np.quantile(found, _HARDLY_ANY)), 0.0) + _OFF * off

    @property
    def misfit(self) -> float:
        """Mean square of the readings about the best-fitting machines, in what is open: about 1."""
        found = self._weighed()
        return found.square / max(found.told, 1)

    @property
    def odd(self) -> bool:
        """Whether hardly any machine like this one would show such readings."""
        from scipy.special import chdtrc

        found = self._weighed()
        return found.told > 0 and float(chdtrc(found.told, found.square)) < _ODD

    def told(
        self,
        charge: float,
        values: FloatArray,
        errors: FloatArray,
        systematic: FloatArray | None = None,
    ) -> None:
        """Take in settled readings at a charge.

        Parameters
        ----------
        charge : float
            In the machine. [kg]
        values : (m,) array
            In the order of :data:`READINGS`, the last ones may be missing; NaN where nothing was
            read. [ln Pa, ln Pa, K, K, ln W, K, K]
        errors : (m,) array
            Standard deviations that are new at each charge: what has not settled, noise.
            [as `values`]
        systematic : (m, q) array, optional
            What each of q causes that stay the same through the whole charging does to every
            reading: by default one for each, of no size. A cause of unit standard deviation is for
            instance the error of a gauge. [as `values`]
        """
        m = len(READINGS)
        padded = np.full(m, np.nan)
        padded[: values.size] = values
        fresh = np.zeros(m)
        fresh[: errors.size] = np.nan_to_num(errors)
        causes = np.zeros((m, 1 if systematic is None else systematic.shape[1]))
        if systematic is not None:
            causes[: systematic.shape[0]] = np.nan_to_num(systematic)
        self._told.append(_Told(charge, padded, fresh, causes))
        self._posterior = None

    def renewed(self, cause: int) -> None:
        """A systematic cause is another one from now on, as where an instrument was changed.

        The one before is not trusted to its own error, for an instrument is mostly changed because
        it was doubted: then only changes that it showed tell.

        Parameters
        ----------
        cause : int
            Its place among those told.
        """
        most = max((t.systematic.shape[1] for t in self._told), default=0)
        for n, t in enumerate(self._told):
            causes = np.zeros((len(READINGS), most + 1))
            causes[:, : t.systematic.shape[1]] = t.systematic
            causes[:, most] = _GIVEN_UP * causes[:, cause]
            causes[:, cause] = 0.0
            self._told[n] = t._replace(systematic=causes)
        self._posterior = None

    def _at(self, charge: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Means (g, m), loadings (g, m, p) and variance beside them (g, m) at a charge."""
        x = charge / np.exp(self._log_best)
        shares = self._shares
        left = np.clip(np.searchsorted(shares, x) - 1, 0, shares.size - 2)
        # Beyond the shares that were sampled the ends are kept: a curve carried on would explain
        # anything there.
        part = np.clip((x - shares[left]) / (shares[left + 1] - shares[left]), 0.0, 1.0)
        mean = (1.0 - part)[:, None] * self._mean[left] + part[:, None] * self._mean[left + 1]
        rows = (1.0 - part)[:, None, None] * self._loadings[left] + part[:, None, None] * (
            self._loadings[left + 1]
        )
        rest = (1.0 - part)[:, None] * self._left[left] + part[:, None] * self._left[left + 1]
        return mean, rows, rest**2 + _MODEL_FRESH**2

    def _outside(self, charge: float) -> FloatArray:
        """What a charge outside the sampled shares speaks against each best charge. (g,)"""
        log_share = np.log(charge) - self._log_best
        low, high = np.log(self._shares[[0, -1]])
        beyond = np.maximum(np.maximum(low - log_share, log_share - high), 0.0)
        # No further than that: a charge beyond all samples prefers none of them.
        against: FloatArray = np.maximum(-0.5 * (beyond / _OUTSIDE) ** 2, -_IMPOSSIBLE)
        return against

    def _weighed(self) -> _Posterior:
        if self._posterior is None:
            found = self._infer(tuple(range(len(READINGS))))
            if found.square > _DOUBTED * max(found.told, 1):
                # What the superheat says depends least on how well the model knows this machine.
                least = self._infer((_SUPERHEAT,))
                found = least._replace(square=found.square, told=found.told)
            self._posterior = found
        return self._posterior

    def _infer(self, believed: tuple[int, ...]) -> _Posterior:
        """Weights of the best charges, given what was told in some of the channels."""
        from scipy.special import log_ndtr

        g, p = self._scores.shape
        seen: list[tuple[FloatArray, FloatArray, FloatArray]] = []
        values, channels, steps = [], [], []
        cut: list[tuple[FloatArray, FloatArray, FloatArray, int, int]] = []
        log_weight = self._prior.copy()
        for step, t in enumerate(self._told):
            mean, row, rest = self._at(t.charge)
            log_weight += self._outside(t.charge)
            for j in believed:
                if not np.isfinite(t.values[j]):
                    continue
                variance = rest[:, j] + t.fresh[j] ** 2
                if j in _BELOW_ZERO and t.values[j] < _LEAST:
                    cut.append((mean[:, j], row[:, j], variance, j, step))
                    continue
                seen.append((mean[:, j], row[:, j], variance))
                values.append(float(t.values[j]))
                channels.append(j)
                steps.append(step)
        count = len(seen)
        means, h, alone = np.zeros((g, count)), np.zeros((g, count, p)), np.zeros((g, count))
        for n, (mean_n, row_n, variance_n) in enumerate(seen):
            means[:, n], h[:, n], alone[:, n] = mean_n, row_n, variance_n
        which, when = np.array(channels, dtype=np.int64), np.array(steps, dtype=np.int64)
        k = h @ self._open @ h.transpose(0, 2, 1)
        if count:
            k += self._systematic(which, when, which, when)
        index = np.arange(count)
        k[:, index, index] += alone
        away = np.array(values) - means - (h @ self._scores[:, :, None])[:, :, 0]
        inverse: FloatArray = np.asarray(np.linalg.inv(k), dtype=np.float64)
        gain = (inverse @ away[:, :, None])[:, :, 0]
        square = np.einsum("gn,gn->g", away, gain)
        likelihood = -0.5 * (square + np.asarray(np.linalg.slogdet(k)[1], dtype=np.float64))
        misfit = float(square.min())
        found = _Posterior(log_weight, gain, inverse, h, which, when, misfit, count)
        for mean_j, row_j, alone_j, channel, at in cut:
            centre, variance = self._conditional(found, mean_j, row_j, channel, at)
            likelihood += log_ndtr((_LEAST - centre) / np.sqrt(variance + alone_j))
        # Readings that no machine explains are all believed less, as Birge does with measurements
        # that disagree: otherwise the least impossible machine, however far off, is sure to win.
        log_weight += likelihood / max(1.0, misfit / max(count, 1))
        weights = np.exp(log_weight - log_weight.max())
        return found._replace(weights=weights / weights.sum())

    def _systematic(
        self,
        channels: NDArray[np.int64],
        steps: NDArray[np.int64],
        others: NDArray[np.int64],
        other_steps: NDArray[np.int64],
    ) -> FloatArray:
        """Covariance, through systematic errors, of readings at any two steps."""
        most = max(t.systematic.shape[1] for t in self._told)
        causes = np.zeros((len(self._told), len(READINGS), most))
        for n, t in enumerate(self._told):
            causes[n, :, : t.systematic.shape[1]] = t.systematic
        found: FloatArray = causes[steps, channels] @ causes[other_steps, others].T
        same = channels[:, None] == others[None, :]
        return found + np.where(same, _MODEL_SYSTEMATIC[channels][:, None] ** 2, 0.0)

    def _conditional(
        self, found: _Posterior, mean: FloatArray, row: FloatArray, channel: int, step: int
    ) -> tuple[FloatArray, FloatArray]:
        """Mean and variance of one settled reading, given what was read, for each best charge."""
        centre = mean + np.einsum("gp,gp->g", row, self._scores)
        variance = np.einsum("gp,pq,gq->g", row, self._open, row)
        one, at = np.array([channel]), np.array([step])
        variance = variance + self._systematic(one, at, one, at)[0, 0]
        if found.channels.size:
            shared = self._systematic(one, at, found.channels, found.steps)[0]
            cross = (found.rows @ (self._open @ row.T).T[:, :, None])[:, :, 0] + shared
            centre = centre + np.einsum("gn,gn->g", cross, found.gain)
            variance = variance - np.einsum("gn,gnm,gm->g", cross, found.inverse, cross)
        return centre, np.maximum(variance, 1e-12)

    def best_charge(self) -> Range:
        """Charge that fills the evaporator. [kg]"""
        low, median, high = (self._quantile(q) for q in (0.05, 0.5, 0.95))
        return Range(low=low, middle=median, high=high)

    def _quantile(self, share: float) -> float:
        """Of the best charge. [kg]"""
        places, below = self._cumulative()
        return float(np.exp(np.interp(share, below, places)))

    def _chance_below(self, charge: float) -> float:
        """That the best charge is below this one."""
        places, below = self._cumulative()
        return float(np.interp(np.log(charge), places, below))

    def _cumulative(self) -> tuple[FloatArray, FloatArray]:
        """Logarithms of charges, and the chance that the best is below each. (g + 1,), (g + 1,)"""
        # Each weight is spread over its step of the grid.
        step = self._log_best[1] - self._log_best[0]
        places = np.concatenate([self._log_best - 0.5 * step, [self._log_best[-1] + 0.5 * step]])
        return places, np.concatenate([[0.0], np.cumsum(self._weighed().weights)])

    def advice(self, charge: float, *, smallest: float, largest: float) -> DoseAdvice:
        """The next dose, once readings were told.

        Parameters
        ----------
        charge : float
            In the machine. [kg]
        smallest, largest : float
            Doses that can be weighed and are safe to let in at once. [kg]
        """
        best = self.best_charge()
        # The charge that no more than one chance in fifty calls too much.
        ceiling = self._quantile(_CHANCE) * (1.0 + self.allowed)
        goal = self._quantile(_GOAL)
        dose = min(ceiling, goal) - charge
        action: Literal["add", "stop", "take out"] = "add"
        if dose < smallest and self._plainly_short():
            dose = max(_CAREFUL * charge, smallest)
        if dose < smallest:
            action, dose = "stop", 0.0
            if self._chance_below(charge / (1.0 + self.allowed)) > 0.5:
                # From above it aims above the middle, for what is taken out too much has to be
                # let in again; and what is far too much comes out in steps, as it went in.
                above = min(self._quantile(1.0 - _GOAL), (1.0 + self.allowed) * best.middle)
                if charge - above >= smallest:
                    action, dose = "take out", above - charge
        dose = min(max(dose, -largest), largest)
        after = charge + dose
        return DoseAdvice(
            action=action,
            dose=dose,
            best=best,
            chance_over=self._chance_below(after / (1.0 + self.allowed)),
            chance_short=1.0 - self._chance_below(after / (1.0 - self.allowed)),
            expected=self._expected(after),
            odd=self.odd,
        )

    def _plainly_short(self) -> bool:
        """Whether the last superheat was above what any sample shows near its best charge."""
        last = self._told[-1]
        value = float(last.values[_SUPERHEAT])
        if not np.isfinite(value):
            return False
        sd = float(np.hypot(last.fresh[_SUPERHEAT], np.linalg.norm(last.systematic[_SUPERHEAT])))
        near = int(np.searchsorted(self._shares, _PLAINLY))
        highest = float(np.nanmax(self.prior.readings[:, near, _SUPERHEAT]))
        return value > highest + _OFF * sd

    def _expected(self, charge: float) -> dict[str, Range]:
        """What each instrument would show at a charge. [SI]"""
        posterior = self._weighed()
        mean, row, rest = self._at(charge)
        normal = np.exp(-0.5 * _NODES**2)
        found = {}
        for j, name in enumerate(READINGS):
            centre, variance = self._conditional(
                posterior, mean[:, j], row[:, j], j, len(self._told) - 1
            )
            sd = np.sqrt(variance + rest[:, j])
            nodes = centre[:, None] + sd[:, None] * _NODES
            ends = _quantiles(nodes, posterior.weights[:, None] * normal)
            if j in LOGARITHMIC:
                ends = np.exp(ends)
            if j in _BELOW_ZERO:
                ends = np.maximum(ends, 0.0)
            if np.isfinite(ends).all():
                low, middle, high = (float(end) for end in ends)
                found[name] = Range(low=low, middle=middle, high=high)
        return found


def _completed(readings: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Curves without gaps, by straight lines from their own ends; which samples are kept."""
    _k, n, m = readings.shape
    there = np.asarray(np.isfinite(readings).all(axis=2))
    kept = there.sum(axis=1) >= max(n // 2, 2)
    filled = readings[kept].copy()
    place = np.arange(n, dtype=float)
    for curve, known in zip(filled, there[kept], strict=True):
        if known.all():
            continue
        at = place[known]
        for j in range(m):
            y = curve[known, j]
            curve[:, j] = np.interp(place, at, y)
            for ends, side in (((0, 1), place < at[0]), ((-1, -2), place > at[-1])):
                a, b = ends
                slope = (y[a] - y[b]) / (at[a] - at[b])
                curve[side, j] = y[a] + slope * (place[side] - at[a])
    return filled, kept


def _quantiles(values: FloatArray, weights: FloatArray) -> FloatArray:
    """5 %, median and 95 % of weighted values. (3,)"""
    order = np.argsort(values, axis=None)
    v, w = values.ravel()[order], weights.ravel()[order]
    total = np.cumsum(w)
    places = np.searchsorted(total / total[-1], (0.05, 0.5, 0.95))
    found: FloatArray = v[np.minimum(places, v.size - 1)]
    return found


def unsure(outlooks: Mapping[str, Outlook]) -> tuple[str, ...]:
    """Channels of which it cannot be told well yet where they settle."""
    return tuple(n for n, o in outlooks.items() if o.high - o.low > _WIDE * CHARACTERS[n].tolerance)


def still_moving(
    advice: DoseAdvice,
    charge: float,
    outlooks: Mapping[str, Outlook],
    waited: float,
    *,
    bold: bool = True,
) -> tuple[str, ...]:
    """Channels whose outlook is worth waiting for before the advice is followed.

    Parameters
    ----------
    advice : DoseAdvice
        By the outlooks as they are.
    charge : float
        In the machine. [kg]
    outlooks : mapping
        Of the channels that are weighed.
    waited : float
        Since anything was done. [s]
    bold : bool
        Whether a bold dose may be followed on a wide outlook; not where a limit speaks against it.

    Returns
    -------
    tuple of str
        Empty where the advice can be followed now.
    """
    disturbed = tuple(n for n, o in outlooks.items() if o.state == "disturbed")
    if disturbed and waited < LONGEST:
        return disturbed
    wide = unsure(outlooks)
    if waited < SHORTEST:
        return wide or tuple(outlooks)
    if advice.action == "stop" and waited < (LAST if advice.chance_short > _SHORT else LONGEST):
        # After a dose superheat dips and comes back for many minutes while the shell warms: what
        # settles further may still allow a dose.
        return wide or tuple(outlooks)
    if waited >= LONGEST or (bold and advice.action == "add" and advice.dose >= _BOLD * charge):
        return ()
    return wide

r"""The posterior of many parameters, given a few readings, and its transfer to another machine.

The parameters are counted in standard deviations of their priors, so that the prior is the standard
normal distribution. Those that matter most for the readings are searched for by Gauss-Newton steps
with Levenberg's damping; the others act on the readings through their slopes and widen the errors
of the readings,

.. math::
    R = \mathrm{diag}(s^2) + K K^T

with s the errors of the instruments and K the slopes of the readings in the parameters not searched
for. At the end all of them are taken together about the point found,

.. math::
    \Sigma = (I + G^T \mathrm{diag}(s^{-2}) G)^{-1}, \qquad
    m = \Sigma\, G^T \mathrm{diag}(s^{-2}) (y - f + G z)

which is exact where the readings are linear in the parameters. Two parameters of which the
readings tell only the sum stay correlated.

Prior transfer is what readings of one machine say of the parameters of another. A parameter belongs
to things, as to a compressor or a refrigerant. Where all of them are the same in both machines its
error is the same; where one is different the errors are correlated in part or not at all. The joint
normal distribution of the first machine then becomes that of the second: each error is `d` times
the old one plus an independent rest of variance `1 - d**2`.

References
----------
Tarantola, "Inverse Problem Theory", 1987: least squares with a normal prior (textbook form).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweatline.uncertainty.parameter import Key, MachinePosterior, Parameter

FloatArray = NDArray[np.float64]

# Readings (m,) at parameters (n,); None where there are none.
Predict = Callable[[FloatArray], FloatArray | None]

_SEARCH_STEP = 0.1  # standard deviations; differences while searching
FIRST_STEP = 0.3  # wider for the covariance: the slope over what is possible
_SEARCHED = 0.97  # share of the readings' variance that the parameters searched for shall carry
_AGAIN = 0.995  # share of the readings' variance whose slopes are worked out anew at the end
_ALIKE = 0.98  # cosine between the responses of two parameters that cannot be told apart
_LEAST_RESPONSE = 0.3  # standard deviations of the instruments; below it one does not count
_SETTLED = 1e-3  # standard deviations; a step below it ends the search


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Posterior:
    """What readings say of n parameters, in standard deviations of their priors.

    Parameters
    ----------
    mean : (n,) array
        Most probable values.
    covariance : (n, n) array
        Never wider than the unit matrix it was before.
    searched : (k,) array of int
        Which parameters were searched for; the rest were taken as linear.
    predicted : (m,) array
        Readings at the most probable values. [unit of each reading]
    expected, expected_sd : (m,) arrays
        What the other readings predict for each, and the standard deviation of the difference,
        its own error included. [unit of each reading]
    surprise : (m,) array
        How far each reading lies from that, in standard deviations.
    response : (m, n) array
        Slopes of the readings in the parameters, in standard deviations of the instruments.
    cost : float
        Half the sum of squares that was minimised, readings and priors together. [-]
    settled : bool
        Whether the search came to rest.
    """

    mean: FloatArray
    covariance: FloatArray
    searched: NDArray[np.int64]
    predicted: FloatArray
    expected: FloatArray
    expected_sd: FloatArray
    surprise: FloatArray
    response: FloatArray
    cost: float
    settled: bool

    @property
    def learned(self) -> float:
        """How many independent numbers the readings tell: n less the trace of the covariance."""
        return float(len(self.mean) - np.trace(self.covariance))


def slopes(
    predict: Predict,
    z: FloatArray,
    which: Sequence[int],
    *,
    step: float,
    at: FloatArray,
    both: bool = True,
) -> FloatArray:
    """Slopes of the readings in some of the parameters, by differences. (m, k)

    Where one side has no readings the other is used alone; where both have none, the slope is
    taken as zero.

    Parameters
    ----------
    z : (n,) array
        Where. [standard deviations]
    which : sequence of int
        Parameters to move.
    step : float
        How far. [standard deviations]
    at : (m,) array
        Readings at `z`.
    both : bool
        To both sides; else to the upper one only, where there are readings.
    """
    found = np.zeros((len(at), len(which)))
    for k, i in enumerate(which):
        moved = z.copy()
        moved[i] += step
        up = predict(moved)
        down = None
        if both or up is None:
            moved[i] -= 2.0 * step
            down = predict(moved)
        if up is not None and down is not None:
            found[:, k] = (up - down) / (2.0 * step)
        elif up is not None:
            found[:, k] = (up - at) / step
        elif down is not None:
            found[:, k] = (at - down) / step
    return found


def _matter(g: FloatArray, *, share: float, most: int) -> list[int]:
    """The parameters that carry most of the variance of the readings; `g` is in their errors."""
    total = 1.0 + np.sum(g * g, axis=1)
    weight = np.sum(g * g / total[:, None], axis=0)
    order = np.argsort(-weight, kind="stable")
    goal = share * float(np.sum(weight))
    chosen: list[int] = []
    carried = 0.0
    for i in order[:most]:
        if carried >= goal or weight[i] <= 0.0:
            break
        chosen.append(int(i))
        carried += float(weight[i])
    return sorted(chosen)


def most_probable(
    predict: Predict,
    *,
    measured: FloatArray,
    spread: FloatArray,
    parameters: int,
    most: int = 10,
    start: FloatArray | None = None,
    first: FloatArray | None = None,
) -> Posterior:
    """Most probable parameters given readings.

    Parameters
    ----------
    predict : callable
        Readings at given parameters; None where there are none, never at the prior's centre.
    measured : (m,) array
        Readings.
    spread : (m,) array
        Standard deviations of the instruments, positive. [unit of each reading]
    parameters : int
        How many parameters there are.
    most : int
        Parameters to search for at most.
    start : (n,) array, optional
        Where to start the search, if not at the prior's centre.
    first : (m, n) array, optional
        Slopes at the prior's centre, if they have been worked out already.

    Raises
    ------
    ValueError
        No readings at the prior's centre, or a spread that is not positive.
    """
    if not np.all(spread > 0.0):
        raise ValueError("a reading needs an error larger than zero")
    z = np.zeros(parameters)
    f = predict(z)
    if f is None:
        raise ValueError("there are no readings at the centre of the prior")
    y = measured / spread
    if first is None:
        first = slopes(predict, z, range(parameters), step=FIRST_STEP, at=f, both=False)
    g0 = first / spread[:, None]
    searched = _matter(g0, share=_SEARCHED, most=most)
    rest = [i for i in range(parameters) if i not in set(searched)]
    if start is not None:
        z[searched] = start[searched]
        at_start = predict(z)
        z, f = (z, at_start) if at_start is not None else (np.zeros(parameters), f)
    noise = np.linalg.cholesky(np.eye(len(y)) + g0[:, rest] @ g0[:, rest].T)

    def cost(at: FloatArray, readings: FloatArray) -> float:
        miss = np.linalg.solve(noise, y - readings / spread)
        return 0.5 * float(miss @ miss) + 0.5 * float(at @ at)

    now = cost(z, f)
    settled = not searched
    damping = 0.0
    steps = 0
    while not settled and steps < 40:
        steps += 1
        jacobian = np.linalg.solve(
            noise,
            slopes(predict, z, searched, step=_SEARCH_STEP, at=f, both=False) / spread[:, None],
        )
        miss = np.linalg.solve(noise, y - f / spread)
        gradient = jacobian.T @ miss - z[searched]
        normal = jacobian.T @ jacobian + np.eye(len(searched))
        while True:
            step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), gradient)
            step *= min(1.0, 2.0 / max(float(np.max(np.abs(step))), 1e-12))
            trial = z.copy()
            trial[searched] += step
            readings = predict(trial)
            then = cost(trial, readings) if readings is not None else math.inf
            if then <= now or float(np.max(np.abs(step))) < _SETTLED:
                break
            damping = max(4.0 * damping, 0.05)
        small = float(np.max(np.abs(step))) < _SETTLED
        if then <= now and readings is not None:
            settled = small or now - then < 1e-7 * (1.0 + now)
            z, f, now = trial, readings, then
            damping = 0.3 * damping if damping > 1e-3 else 0.0
        else:
            settled = True
    # The slopes of parameters that hardly matter are kept from the prior's centre.
    again = _matter(g0, share=_AGAIN, most=parameters)
    g = g0.copy()
    g[:, again] = slopes(predict, z, again, step=FIRST_STEP, at=f) / spread[:, None]
    # All parameters together, linear about the point found; `g` is in errors of the readings.
    d = (measured - f) / spread + g @ z
    covariance = np.linalg.inv(np.eye(parameters) + g.T @ g)
    covariance = 0.5 * (covariance + covariance.T)
    mean = covariance @ (g.T @ d)
    after = predict(mean)
    predicted = after if after is not None else f + spread * (g @ (mean - z))
    # Leaving one reading out of a linear fit: Rasmussen and Williams, "Gaussian Processes for
    # Machine Learning", 2006, eqs. (5.10) to (5.12), with C the covariance of all readings.
    inverse = np.linalg.inv(np.eye(len(d)) + g @ g.T)
    variance = 1.0 / np.diag(inverse)
    miss = (inverse @ d) * variance
    return Posterior(
        mean=mean,
        covariance=covariance,
        searched=np.array(searched, dtype=np.int64),
        predicted=predicted,
        expected=measured - spread * miss,
        expected_sd=spread * np.sqrt(variance),
        surprise=miss / np.sqrt(variance),
        response=g,
        cost=now,
        settled=settled,
    )


def inseparable(posterior: Posterior, which: Sequence[int]) -> list[tuple[int, ...]]:
    """Groups of parameters that the readings could not tell apart.

    Two parameters belong together when moving either moves all readings in the same proportions, so
    that the readings know only what they do together.

    Parameters
    ----------
    which : sequence of int
        Parameters to look at.
    """
    response = posterior.response
    size = np.linalg.norm(response, axis=0)
    groups: list[list[int]] = []
    for i in (i for i in which if size[i] >= _LEAST_RESPONSE):
        for group in groups:
            j = group[0]
            if abs(float(response[:, i] @ response[:, j])) >= _ALIKE * size[i] * size[j]:
                group.append(i)
                break
        else:
            groups.append([i])
    return [tuple(group) for group in groups if len(group) > 1]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointNormal:
    """Joint normal distribution of some parameters, in standard deviations of their priors.

    Parameters
    ----------
    keys : tuple of Key
        (n,)
    mean : (n,) array
    root : (n, n) array
        Symmetric square root of the covariance. A triangular one would make a parameter depend on
        the order of the others; with this one each still stands for itself when moved alone.
    """

    keys: tuple[Key, ...]
    mean: FloatArray
    root: FloatArray

    def left(self, key: Key) -> float:
        """Share of a parameter's prior standard deviation that is left; 1 if it is not here."""
        if key not in self.keys:
            return 1.0
        return float(np.linalg.norm(self.root[self.keys.index(key)]))

    def moved(self, z: Mapping[Key, float]) -> dict[Key, float]:
        """Samples of this distribution from independent standard normal ones; others as in `z`."""
        own = np.array([z.get(key, 0.0) for key in self.keys])
        at = self.mean + self.root @ own
        return {**z, **dict(zip(self.keys, at.tolist(), strict=True))}


def correlation(parameter: Parameter, same: frozenset[str], in_part: Mapping[str, float]) -> float:
    """Correlation of a parameter's error in one machine with that in another. [0..1]

    Parameters
    ----------
    same : frozenset of str
        Things that are the same in both.
    in_part : mapping
        Correlation that is left where a thing is not the same; zero for things not named.
    """
    return math.prod(1.0 if t in same else in_part.get(t, 0.0) for t in parameter.belongs_to)


def transferred(
    known: MachinePosterior, parts: frozenset[tuple[str, str]], in_part: Mapping[str, float]
) -> JointNormal | None:
    """What is known of the parameters of a machine made of `parts`; None when nothing is."""
    same = frozenset(thing for thing, _which in known.parts & parts)
    share = np.array([correlation(p, same, in_part) for p in known.parameters])
    kept = np.flatnonzero(share)
    if kept.size == 0:
        return None
    d = share[kept]
    covariance = known.covariance[np.ix_(kept, kept)]
    covariance = covariance * np.outer(d, d) + np.diag(1.0 - d * d)
    values, vectors = np.linalg.eigh(0.5 * (covariance + covariance.T))
    root: FloatArray = (vectors * np.sqrt(np.clip(values, 0.0, None))) @ vectors.T
    return JointNormal(
        keys=tuple(known.parameters[i].key for i in kept), mean=d * known.mean[kept], root=root
    )

"""Samples of many uncertain numbers, and each number's share in a result's variance.

Samples are scrambled Sobol points, made normal. The share of a parameter (first-order Sobol) is the
part of the variance that knowing it would remove on average, Var(E[y|z_i]) / Var(y). It is taken
from the samples that make the ranges: the result is written as a sum of Hermite polynomials of the
standard normal samples, first and second degree of one parameter each, and the squares of the
coefficients are the shares (Sudret, Reliability Engineering and System Safety 93, 964-979, 2008).
With more parameters than samples only the terms that stand out of the scatter are kept, one after
the other, and each square is lowered by its own variance, which would otherwise add up to a share
for everything.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Answer
from sweatline.uncertainty.parameter import Key, Parameter


def normal_samples(dimensions: int, count: int, seed: int = 20) -> NDArray[np.float64]:
    """Quasi-random standard normal samples, (n, dimensions), n the next power of two from `count`.

    Scrambled Sobol points are balanced (the same number in each half, quarter, eighth of every
    axis) only in sets of a power of two, so that is how many there are.
    """
    from scipy.special import ndtri
    from scipy.stats import qmc

    exponent = max(math.ceil(math.log2(count)), 0)
    u = qmc.Sobol(dimensions, scramble=True, rng=np.random.default_rng(seed)).random_base2(exponent)
    z: NDArray[np.float64] = ndtri(np.clip(u, 1e-6, 1.0 - 1e-6))
    return z


FloatArray = NDArray[np.float64]

# With fewer samples nothing but the very largest share stands out.
FEWEST_SAMPLES = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Share(Answer):
    """How much of a quantity's variance one parameter carries."""

    key: Key
    """Object and field of the parameter."""
    label: str
    share: float
    """Of the variance, 0 to 1."""
    origin: str
    note: str


def first_order(z: FloatArray, y: FloatArray) -> FloatArray:
    """First-order share of variance of each column of samples.

    Parameters
    ----------
    z : (n, d) array
        Independent standard normal samples. [-]
    y : (n,) array
        The result at each; rows that are not finite are left out. [any]

    Returns
    -------
    (d,) array
        Shares, from 0 to 1; their sum is below 1 where parameters act together, or where small
        ones do not stand out of the scatter of so few samples. [-]
    """
    from scipy.special import stdtrit

    kept = np.isfinite(y)
    z, y = z[kept], y[kept]
    n, d = z.shape
    shares = np.zeros(d)
    if n < FEWEST_SAMPLES:
        return shares
    y = y - y.mean()
    total = float(y @ y) / (n - 1)
    if total <= 0.0:
        return shares
    terms = np.hstack([z, (z * z - 1.0) / math.sqrt(2.0)])
    terms -= terms.mean(axis=0)
    length = np.linalg.norm(terms, axis=0)
    chosen: list[int] = []
    rest = y
    while len(chosen) < n // 3:
        projection = (rest @ terms) / length
        projection[chosen] = 0.0
        j = int(np.argmax(np.abs(projection)))
        left = float(rest @ rest) - float(projection[j]) ** 2
        # Student's t that the largest of so many terms of mere noise passes one time in twenty.
        free = n - len(chosen) - 2
        stands_out = float(stdtrit(free, 1.0 - 0.05 / (4 * d)))
        if float(projection[j]) ** 2 <= stands_out**2 * left / free:
            break
        chosen.append(j)
        coefficients = np.linalg.lstsq(terms[:, chosen], y, rcond=None)[0]
        rest = y - terms[:, chosen] @ coefficients
    if not chosen:
        return shares
    matrix = terms[:, chosen]
    variance = float(rest @ rest) / (n - len(chosen) - 1)
    own = variance * np.diag(np.linalg.inv(matrix.T @ matrix))
    for j, square in zip(chosen, coefficients**2 - own, strict=True):
        shares[j % d] += max(float(square), 0.0) / total
    return shares / max(float(shares.sum()), 1.0)


def largest(parameters: Sequence[Parameter], shares: FloatArray, most: int) -> tuple[Share, ...]:
    """The largest shares and their parameters, largest first; nothing below 0.5 %."""
    order = [int(i) for i in np.argsort(-shares) if shares[i] >= 0.005]
    return tuple(
        Share(
            key=parameters[i].key,
            label=parameters[i].label,
            share=float(shares[i]),
            origin=parameters[i].origin,
            note=parameters[i].note,
        )
        for i in order[:most]
    )

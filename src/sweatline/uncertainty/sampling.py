"""Samples of many independent uncertain numbers: scrambled Sobol points, made normal."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray


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

"""Prior transfer: what readings of one machine say of the parameters of another.

A parameter belongs to things, as to a compressor or a refrigerant. Where all of them are the same
in both machines its error is the same; where one is different the errors are correlated in part or
not at all. The joint normal distribution of the first machine then becomes that of the second:
each error is `d` times the old one plus an independent rest of variance `1 - d**2`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweatline.uncertainty.parameter import Key, MachinePosterior, Parameter

FloatArray = NDArray[np.float64]


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

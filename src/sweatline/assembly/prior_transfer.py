"""What a known machine teaches about a rebuild: which of its numbers stay, and how much of each.

A rebuild keeps coils, fan and lines. It may keep the capillary and the compressor, and it may hold
another refrigerant. What was learned of a number is carried over with a correlation: one where the
number stays what it was, nothing where its part has gone, in between where only the refrigerant
has changed, for the error of a correlation is partly the coil's and partly the fluid's.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from sweatline.job.model import CapillaryStock, Compressor
    from sweatline.uncertainty.measured import Learned

__all__ = ["OTHER_REFRIGERANT", "Carried", "carried", "carries", "correlation"]

FloatArray = NDArray[np.float64]

# Half of the variance of a correlation's error goes with the coil, half with the fluid. Judged:
# no published comparison at hand separates the two.
OTHER_REFRIGERANT: Final = 0.7

_FLUID: Final = ("boiling", "condensation", "inventory", "tube friction")
_FLOW_OF_COMPRESSOR: Final = ("volumetric", "compressor power")
_OF_COMPRESSOR: Final = ("oil volume", "shell volume", "shell to air")
_OF_CAPILLARY: Final = ("suction exchanger", "soldered length", "soldered position")
_STAYS: Final = ("airflow", "fan power", "liquid left out", "accumulator volume")
_PARTS_THAT_STAY: Final = (
    "evaporator ",
    "condenser ",
    "suction line ",
    "discharge line ",
    "liquid line ",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Carried:
    """Joint normal distribution of the numbers of a rebuild that a known machine teaches about."""

    names: tuple[str, ...]
    mean: FloatArray  # (n,) standard deviations of the prior
    root: FloatArray  # (n, n) symmetric square root of the covariance

    def left(self, name: str) -> float:
        """Standard deviation that is left of a number's prior one; one where none was learned."""
        if name not in self.names:
            return 1.0
        return float(np.linalg.norm(self.root[self.names.index(name)]))

    def moved(self, z: Mapping[str, float]) -> dict[str, float]:
        """Standard deviations of the prior for independent standard normal numbers `z`.

        The symmetric root is taken, not a triangular one, so that no number depends on the order
        of the others, and each still stands for itself when it is moved alone.
        """
        own = np.array([z.get(name, 0.0) for name in self.names])
        at = self.mean + self.root @ own
        return {**z, **dict(zip(self.names, at.tolist(), strict=True))}


def correlation(
    name: str,
    learned: Learned,
    *,
    same_compressor: bool,
    same_refrigerant: bool,
    same_oil: bool,
    capillary: str,
) -> float:
    """How much of what was learned of a number holds in a rebuild, 0 to 1."""
    same_capillary = capillary == learned.capillary
    if name.startswith(_PARTS_THAT_STAY) or name in _STAYS:
        return 1.0
    across = 1.0 if same_refrigerant else OTHER_REFRIGERANT
    if name in _FLUID:
        return across
    if name == "capillary flow":
        return across if same_capillary else 0.0
    if name in _FLOW_OF_COMPRESSOR:
        return across if same_compressor else 0.0
    if name == "oil solubility":
        return 1.0 if same_refrigerant and same_oil else 0.0
    if name in _OF_COMPRESSOR or name.startswith(f"{learned.compressor} "):
        return 1.0 if same_compressor else 0.0
    if name in _OF_CAPILLARY or name.startswith(f"{learned.capillary} "):
        return 1.0 if same_capillary else 0.0
    return 0.0  # the room, the drier (a new one is put in), the charge


def carries(name: str, compressor: str, capillary: str) -> bool:
    """Whether a number stays in the machine when compressor, capillary and refrigerant change."""
    if name.startswith((f"{compressor} ", f"{capillary} ")):
        return False
    return name.startswith(_PARTS_THAT_STAY) or name in (*_STAYS, *_FLUID)


def carried(
    learned: Learned, compressor: Compressor, refrigerant: str, capillary: CapillaryStock
) -> Carried | None:
    """What was learned, as far as it holds for a rebuild; None when nothing of it does."""
    return _carried(learned, compressor.name, compressor.oil, refrigerant, capillary.name)


@functools.lru_cache(maxsize=256)
def _carried(
    learned: Learned, compressor: str, oil: str, refrigerant: str, capillary: str
) -> Carried | None:
    share = np.array(
        [
            correlation(
                name,
                learned,
                same_compressor=compressor == learned.compressor,
                same_refrigerant=refrigerant == learned.refrigerant,
                same_oil=oil == learned.oil,
                capillary=capillary,
            )
            for name in learned.names
        ]
    )
    kept = np.flatnonzero(share)
    if kept.size == 0:
        return None
    d = share[kept]
    covariance = np.array(learned.covariance)[np.ix_(kept, kept)]
    # A number that is d times the old error plus an independent rest of its own.
    covariance = covariance * np.outer(d, d) + np.diag(1.0 - d * d)
    values, vectors = np.linalg.eigh(0.5 * (covariance + covariance.T))
    root: FloatArray = (vectors * np.sqrt(np.clip(values, 0.0, None))) @ vectors.T
    return Carried(
        names=tuple(learned.names[i] for i in kept),
        mean=d * np.array(learned.mean)[kept],
        root=root,
    )

"""Which ways of looking could have found a leak, and how to divide a circuit so the search ends.

Thresholds are those of the trade; each carries its status. A search by pressure holds divides the
circuit where it can be closed off; the plan with the fewest holds on average is found exactly.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "METHODS",
    "Method",
    "Piece",
    "SearchPlan",
    "SearchStep",
    "chance_to_find",
    "plan_search",
]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """A way of looking for a leak and what it can see.

    `of` says what the threshold counts: gas of the test at the test pressure [Pa*m3/s], or mass of
    refrigerant at rest [kg/s]. Between `sure` and `least` the chance rises with the logarithm.
    """

    key: str
    name: str
    of: Literal["nitrogen", "helium", "refrigerant", "helium into vacuum"]
    least: float  # what the best hand sees
    sure: float  # what anybody sees
    status: str
    note: str


_GRAM_PER_YEAR: Final = 1e-3 / (365.25 * 86400.0)  # kg/s

METHODS: Final = (
    Method(
        key="pressure-decay",
        name="pressure hold, read the next day",
        of="nitrogen",
        least=1e-5,
        sure=1e-3,
        status="MEMORY 0.65",
        note="1e-2 to 1e-4 mbar L/s; small volumes and steady temperature see least",
    ),
    Method(
        key="bubbles",
        name="bubble solution under nitrogen",
        of="nitrogen",
        least=1e-5,
        sure=1e-4,
        status="MEMORY 0.65",
        note="1e-3 to 1e-4 mbar L/s, where one can see and reach it; wait minutes at each joint",
    ),
    Method(
        key="sniffer",
        name="electronic sniffer on the refrigerant",
        of="refrigerant",
        least=3.0 * _GRAM_PER_YEAR,
        sure=5.0 * _GRAM_PER_YEAR,
        status="MEMORY 0.65",
        note="3 to 5 g/yr, in still air, kind of sensor fit for the gas; never a flame lamp",
    ),
    Method(
        key="helium-sniffer",
        name="helium inside, helium sniffer outside",
        of="helium",
        least=1e-8,
        sure=1e-7,
        status="MEMORY 0.65",
        note="1e-6 to 1e-7 mbar L/s",
    ),
    Method(
        key="helium-vacuum",
        name="vacuum inside, helium outside, mass spectrometer",
        of="helium into vacuum",
        least=1e-12,
        sure=1e-11,
        status="MEMORY 0.65",
        note="1e-10 to 1e-11 mbar L/s; a workshop with the instrument",
    ),
)


def chance_to_find(rates: FloatArray, *, least: float, sure: float) -> float:
    """Chance that a method sees a leak whose rate is known as draws. [-]

    Parameters
    ----------
    rates : (n,) array
        In the unit of the threshold. [Pa*m3/s or kg/s]
    least, sure : float
        Rates at which the chance is 0 and 1. [Pa*m3/s or kg/s]
    """
    logs = np.log(np.maximum(np.asarray(rates, float), 1e-300))
    span = math.log(sure) - math.log(least)
    return float(np.clip((logs - math.log(least)) / span, 0.0, 1.0).mean())


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A length of the circuit that can be closed off at both ends.

    `weight` says how likely the leak is there against the other pieces: joints, valve cores and
    places that chafe or corrode count, plain tube hardly.
    """

    name: str
    weight: float
    volume: float  # m3


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchStep:
    """One division: hold the first group of pieces; the leak is there or in the rest."""

    pieces: tuple[str, ...]
    first: tuple[str, ...]  # hold these
    rest: tuple[str, ...]
    chance_first: float  # that the leak is among the first
    volume: float  # m3 of the part that is held
    depth: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchPlan:
    """Division of the circuit with the fewest holds on average."""

    steps: tuple[SearchStep, ...]
    expected_holds: float
    worst_holds: int
    expected_cuts: float  # places opened and closed off, on average
    one_by_one: float  # holds on average when pieces are tried in turn, likeliest first
    one_by_one_cuts: float


def plan_search(pieces: Sequence[Piece]) -> SearchPlan:
    """Best plan of holds for a circuit of pieces in their order along the tube.

    The circuit is a ring: the first division closes it off at two places, every later one at one
    more. Of all ways to divide, the one with the smallest expected number of holds is found
    (optimal alphabetic tree by dynamic programming). Trying pieces in turn may need no more holds,
    but each piece in the middle is closed off at both ends.

    Parameters
    ----------
    pieces : sequence of Piece
        In the order in which the refrigerant meets them.

    Raises
    ------
    ValueError
        No pieces, or weights that are not positive.
    """
    if not pieces or any(not p.weight > 0.0 for p in pieces):
        raise ValueError("a search needs pieces, each with a weight above zero")
    total = sum(p.weight for p in pieces)
    w = [p.weight / total for p in pieces]

    @functools.cache
    def best(i: int, j: int) -> tuple[float, int]:
        """Weighted holds for pieces i to j - 1, and where to cut."""
        if j - i == 1:
            return 0.0, i
        share = sum(w[i:j])
        return min((share + best(i, k)[0] + best(k, j)[0], k) for k in range(i + 1, j))

    steps: list[SearchStep] = []

    def walk(i: int, j: int, depth: int) -> int:
        if j - i == 1:
            return depth
        k = best(i, j)[1]
        left, right = pieces[i:k], pieces[k:j]
        # Hold the smaller volume: its pressure falls sooner.
        a, b = (left, right) if _volume(left) <= _volume(right) else (right, left)
        steps.append(
            SearchStep(
                pieces=tuple(p.name for p in pieces[i:j]),
                first=tuple(p.name for p in a),
                rest=tuple(p.name for p in b),
                chance_first=sum(p.weight for p in a) / sum(p.weight for p in pieces[i:j]),
                volume=_volume(a),
                depth=depth,
            )
        )
        return max(walk(i, k, depth + 1), walk(k, j, depth + 1))

    worst = walk(0, len(pieces), 0)
    n = len(w)
    in_turn, in_turn_cuts = _in_turn(w)
    holds = best(0, n)[0]
    return SearchPlan(
        steps=tuple(steps),
        expected_holds=holds,
        worst_holds=worst,
        expected_cuts=holds + 1.0 if n > 1 else 0.0,
        one_by_one=in_turn,
        one_by_one_cuts=in_turn_cuts,
    )


def _in_turn(w: Sequence[float]) -> tuple[float, float]:
    """Holds and cuts on average when pieces of a ring are held one after the other."""
    n = len(w)
    closed: set[int] = set()
    holds = cuts = 0.0
    for i, k in enumerate(sorted(range(n), key=lambda j: -w[j])):
        # The last piece needs no hold of its own once all others are cleared.
        if i < n - 1:
            closed |= {k, (k + 1) % n}
        holds += w[k] * min(i + 1, n - 1)
        cuts += w[k] * len(closed)
    return holds, cuts


def _volume(pieces: Sequence[Piece]) -> float:
    return sum(p.volume for p in pieces)

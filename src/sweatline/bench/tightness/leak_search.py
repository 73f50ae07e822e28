"""Which ways of looking could have found a leak, and how to divide a circuit so the search ends.

Thresholds are those of the trade; each carries its status. A search by pressure tests divides the
circuit where it can be closed off; the plan with the fewest tests on average is found exactly.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Final, Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.air.permanent_gas import HELIUM, NITROGEN
from sweatline.answers import Answer, Hidden, Q
from sweatline.bench.leak_channel import Channels, permanent
from sweatline.bench.tightness.leak import AtRest
from sweatline.units.kinds import YEAR

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Method(Answer):
    """A way of looking for a leak, what it can see, and the chance that it sees this one.

    `of` says what the threshold counts: gas of the test at the test pressure [Pa*m3/s], or mass of
    refrigerant at rest [kg/s]. Between `sure` and `least` the chance rises with the logarithm.
    """

    key: str
    name: str
    of: Annotated[Literal["nitrogen", "helium", "refrigerant", "helium into vacuum"], Hidden()]
    least: Annotated[float, Hidden()]  # what the best hand sees
    sure: Annotated[float, Hidden()]  # what anybody sees
    chance: float = math.nan
    status: str
    note: str


_GRAM_PER_YEAR: Final = 1e-3 / YEAR  # kg/s

METHODS: Final = (
    Method(
        key="pressure-decay",
        name="pressure test, read the next day",
        of="nitrogen",
        least=1e-5,
        sure=1e-3,
        status="MEMORY 0.65",
        note="small volumes and steady temperature show least",
    ),
    Method(
        key="bubbles",
        name="bubble solution under nitrogen",
        of="nitrogen",
        least=1e-5,
        sure=1e-4,
        status="MEMORY 0.65",
        note="where one can see and reach it; wait minutes at each joint",
    ),
    Method(
        key="sniffer",
        name="electronic sniffer on the refrigerant",
        of="refrigerant",
        least=3.0 * _GRAM_PER_YEAR,
        sure=5.0 * _GRAM_PER_YEAR,
        status="MEMORY 0.65",
        note="in still air, kind of sensor fit for the gas; never a flame lamp",
    ),
    Method(
        key="helium-sniffer",
        name="helium inside, helium sniffer outside",
        of="helium",
        least=1e-8,
        sure=1e-7,
        status="MEMORY 0.65",
        note="at each joint, slowly",
    ),
    Method(
        key="helium-vacuum",
        name="vacuum inside, helium outside, mass spectrometer",
        of="helium into vacuum",
        least=1e-12,
        sure=1e-11,
        status="MEMORY 0.65",
        note="a workshop with the instrument",
    ),
)


def chance_to_find(rates: FloatArray, *, least: float, sure: float) -> float:
    """Chance that a method sees a leak whose rate is known as samples. [-]

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


def ways_of_looking(rest: AtRest, channels: Channels, pressure: float) -> tuple[Method, ...]:
    """Which ways of looking could find a leak of these shapes.

    Parameters
    ----------
    rest : AtRest
        The machine with its refrigerant.
    pressure : float
        Of the test. [Pa]
    """

    def rates(method: Method) -> FloatArray:
        if method.of == "refrigerant":
            return rest.flow(channels)
        vacuum = method.of == "helium into vacuum"
        inside, outside = (rest.outside, 0.0) if vacuum else (pressure, rest.outside)
        gas = permanent(
            NITROGEN if method.of == "nitrogen" else HELIUM,
            pressure=inside,
            temperature=rest.temperature,
        )
        return channels.flow(inside=inside, outside=outside, gas=gas) / gas.density

    return tuple(
        replace(m, chance=chance_to_find(rates(m), least=m.least, sure=m.sure)) for m in METHODS
    )


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
class SearchStep(Answer):
    """One division: test the first group of pieces; the leak is there or in the rest."""

    depth: int
    pieces: Annotated[tuple[str, ...], Hidden()]
    first: tuple[str, ...]
    """Pieces to test."""
    rest: tuple[str, ...]
    chance_first: float
    """That the leak is among the first."""
    volume: Annotated[float, Q("volume", doc="Of the part that is tested.")]
    hold: Annotated[
        float | None,
        Q(
            "time",
            doc="To see a leak as large as the one sought; null when not known or beyond "
            "sixty days.",
        ),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchPlan(Answer):
    """Division of the circuit with the fewest pressure tests on average."""

    steps: tuple[SearchStep, ...]
    expected_holds: float
    worst_holds: int
    expected_cuts: float
    """Places opened and closed off, on average."""
    one_by_one: float
    """Tests on average when pieces are tried in turn, likeliest first."""
    one_by_one_cuts: float


def plan_search(
    pieces: Sequence[Piece], *, hold: Callable[[float], float | None] | None = None
) -> SearchPlan:
    """Best plan of pressure tests for a circuit of pieces in their order along the tube.

    The circuit is a ring: the first division closes it off at two places, every later one at one
    more. Of all ways to divide, the one with the smallest expected number of tests is found
    (optimal alphabetic tree by dynamic programming). Trying pieces in turn may need no more tests,
    but each piece in the middle is closed off at both ends.

    Parameters
    ----------
    pieces : sequence of Piece
        In the order in which the refrigerant meets them.
    hold : callable, optional
        How long a part of so much volume [m3] must be tested, None when that is too long. [s]

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
        """Weighted tests for pieces i to j - 1, and where to cut."""
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
        # Test the smaller volume: its pressure falls sooner.
        a, b = (left, right) if _volume(left) <= _volume(right) else (right, left)
        steps.append(
            SearchStep(
                pieces=tuple(p.name for p in pieces[i:j]),
                first=tuple(p.name for p in a),
                rest=tuple(p.name for p in b),
                chance_first=sum(p.weight for p in a) / sum(p.weight for p in pieces[i:j]),
                volume=_volume(a),
                depth=depth,
                hold=None if hold is None else hold(_volume(a)),
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
    """Tests and cuts on average when pieces of a ring are tested one after the other."""
    n = len(w)
    closed: set[int] = set()
    holds = cuts = 0.0
    for i, k in enumerate(sorted(range(n), key=lambda j: -w[j])):
        # The last piece needs no test of its own once all others are cleared.
        if i < n - 1:
            closed |= {k, (k + 1) % n}
        holds += w[k] * min(i + 1, n - 1)
        cuts += w[k] * len(closed)
    return holds, cuts


def _volume(pieces: Sequence[Piece]) -> float:
    return sum(p.volume for p in pieces)

"""The way of the refrigerant through a coil, tube by tube, and the order in which to march it.

A path is a tuple of (row, tube): rows are counted from where the air enters, tubes from the top,
both from zero, the first tube being the one into which the refrigerant is fed. A circuiting is a
tuple of paths that use every tube of the coil once.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

Path = tuple[tuple[int, int], ...]
Circuiting = tuple[Path, ...]


def _split(tubes: int, circuits: int) -> list[range]:
    """Neighbouring tubes for each circuit; the first ones get one more where it does not divide."""
    each, more = divmod(tubes, circuits)
    starts = [c * each + min(c, more) for c in range(circuits + 1)]
    return [range(a, b) for a, b in pairwise(starts)]


def by_rows(rows: int, tubes: int, circuits: int, *, counter: bool) -> Circuiting:
    """Each circuit runs down a whole row, turns, and comes back through the next.

    Counter flow begins in the row where the air leaves, parallel flow where it enters.
    """
    order = range(rows - 1, -1, -1) if counter else range(rows)
    return tuple(
        tuple(
            (row, tube)
            for turn, row in enumerate(order)
            for tube in (mine if turn % 2 == 0 else reversed(mine))
        )
        for mine in _split(tubes, circuits)
    )


def zigzag(rows: int, tubes: int, circuits: int) -> Circuiting:
    """Each circuit crosses all rows at one height, steps to the next height and crosses back.

    It begins in the row where the air leaves.
    """
    return tuple(
        tuple(
            (row, tube)
            for turn, tube in enumerate(mine)
            for row in (range(rows - 1, -1, -1) if turn % 2 == 0 else range(rows))
        )
        for mine in _split(tubes, circuits)
    )


def circuiting_error(circuiting: Circuiting, rows: int, tubes: int) -> str:
    """What is wrong with a circuiting, in a few words that name the tube; empty when nothing is."""
    seen: set[tuple[int, int]] = set()
    for path in circuiting:
        if not path:
            return "a circuit has no tube"
        for place in path:
            row, tube = place
            if not (0 <= row < rows and 0 <= tube < tubes):
                return f"tube {_spelled(place)} is not in the coil"
            if place in seen:
                return f"tube {_spelled(place)} is used twice"
            seen.add(place)
    for row in range(rows):
        for tube in range(tubes):
            if (row, tube) not in seen:
                return f"tube {_spelled((row, tube))} is in no circuit"
    return ""


def _spelled(place: tuple[int, int]) -> str:
    return f"{'ABCDEFGHIJKL'[place[0] % 12]}{place[1] + 1}"


class CircuitGroup(NamedTuple):
    """Circuits that see the same air, and how many such groups the coil has."""

    paths: Circuiting  # tubes as in the coil
    times: int


def independent_groups(
    circuiting: Circuiting, profile: Sequence[float]
) -> tuple[CircuitGroup, ...]:
    """Groups of circuits that touch no other's air; equal groups are counted, not repeated.

    Parameters
    ----------
    profile : sequence of float
        (tubes,) speed of the air at each height. [any unit]
    """
    groups: list[list[Path]] = []
    for path in circuiting:
        heights = {tube for _row, tube in path}
        touching = [g for g in groups if any(t in heights for p in g for _r, t in p)]
        merged = [p for g in touching for p in g] + [path]
        groups = [g for g in groups if g not in touching] + [merged]
    found: dict[tuple[object, ...], CircuitGroup] = {}
    for group in groups:
        heights = {tube for p in group for _row, tube in p}
        low = min(heights)
        key = (
            tuple(tuple((row, tube - low) for row, tube in p) for p in group),
            tuple((t - low, profile[t]) for t in sorted(heights)),
        )
        before = found.get(key)
        found[key] = (
            CircuitGroup(tuple(group), 1)
            if before is None
            else before._replace(times=before.times + 1)
        )
    return tuple(found.values())


def marching_order(circuiting: Circuiting) -> tuple[list[int], list[bool]]:
    """Order in which to march the tubes, and which of them start from a guessed state.

    Tubes are numbered along the paths, one path after the other. A tube needs the air of the row
    in front of it at its height and the refrigerant of the tube before it. Taking a tube only when
    its air is known, and with its refrigerant known if there is such a one, leaves few guesses.
    """
    places = [place for path in circuiting for place in path]
    first = set()
    n = 0
    for path in circuiting:
        first.add(n)
        n += len(path)
    index = {place: i for i, place in enumerate(places)}
    waiting = list(range(n))
    done = [False] * n
    order: list[int] = []
    torn = [False] * n

    def air_known(i: int) -> bool:
        row, tube = places[i]
        return row == 0 or done[index[row - 1, tube]]

    while waiting:
        ready = [i for i in waiting if air_known(i)]
        fed = [i for i in ready if i in first or done[i - 1]]
        if fed:
            i = fed[0]
            if order and order[-1] + 1 in fed:
                i = order[-1] + 1
        else:
            # Guess where the guess opens the longest way: nearest the beginning of its circuit.
            i = min(ready, key=lambda j: (places[j][0], j))
            torn[i] = True
        done[i] = True
        waiting.remove(i)
        order.append(i)
    return order, torn

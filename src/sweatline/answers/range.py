"""Ranges: what the trial runs make of one number, and the rows of a table that show them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sweatline.answers.fields import quantities_of
from sweatline.units.kinds import Kind

# Fewer trial runs than this say too little of the ends for a range to be shown.
FEWEST = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """Middle of the trial runs, and the range that holds 9 in 10 of them."""

    low: float
    """5 % point."""
    middle: float
    """Median."""
    high: float
    """95 % point."""


def range_of(values: Iterable[float]) -> Range:
    """Likely range (9 in 10) of what the values are samples of.

    From twenty values on, quantiles by the rule that is median-unbiased for any distribution
    (Hyndman and Fan, "Sample quantiles in statistical packages", 1996, type 8); the usual rule
    lies too far inside. Fewer have no such ends yet: mean and standard deviation with Student's t,
    not below nothing where no value is. Values that are not finite are left out; of fewer than two
    nothing is known.
    """
    import numpy as np  # only here: a job is read without it

    found = np.asarray(values, dtype=float).ravel()
    found = found[np.isfinite(found)]
    if found.size < 2:
        nothing = math.nan
        return Range(low=nothing, middle=float(found[0]) if found.size else nothing, high=nothing)
    if found.size >= 20:
        low, middle, high = np.quantile(found, [0.05, 0.5, 0.95], method="median_unbiased")
        return Range(low=float(low), middle=float(middle), high=float(high))
    from scipy.special import stdtrit

    mean = float(found.mean())
    reach = float(stdtrit(found.size - 1, 0.95) * found.std(ddof=1))
    low = max(mean - reach, 0.0) if found.min() >= 0.0 else mean - reach
    return Range(low=low, middle=float(np.median(found)), high=mean + reach)


def ranges_of(answers: Sequence[object]) -> dict[str, Range]:
    """Range of every labelled quantity over answers of one class, by the quantity's JSON key.

    Empty when the answers are too few to show a range.
    """
    if len(answers) < FEWEST:
        return {}
    return {
        q.key: range_of([q.of(answer) for answer in answers])
        for q in quantities_of(type(answers[0]))
    }


# Relative width below which a range is no range: what closes the circuit is the same in every run.
_NO_WIDTH = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One quantity as a person reads it."""

    name: str
    label: str
    value: float  # SI
    kind: Kind
    digits: int
    range: Range | None
    wanted: bool  # the same in every trial run, because it was asked for


def rows_of(answer: object, ranges: Mapping[str, Range] | None = None) -> tuple[Row, ...]:
    """Labelled quantities of an answer in their order.

    Parameters
    ----------
    ranges : mapping, optional
        By the quantity's JSON key.
    """
    rows = []
    for q in quantities_of(type(answer)):
        found = (ranges or {}).get(q.key)
        wanted = found is not None and found.high - found.low <= _NO_WIDTH * abs(found.high)
        rows.append(
            Row(
                name=q.name,
                label=q.label,
                value=q.of(answer),
                kind=q.kind,
                digits=q.digits,
                range=None if wanted else found,
                wanted=wanted,
            )
        )
    return tuple(rows)

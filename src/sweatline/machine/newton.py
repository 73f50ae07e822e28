"""Newton's method with a matrix that is kept, damped, for the few unknowns of a machine.

A system of equations is a named tuple with everything its residuals need, and two kernels: its
residuals and its limits. :func:`newton_for` makes the search for them. So one text serves the
steady state, a step of a running machine and a step of a standing one.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.compiled import inner_kernel, kernel, with_names

FloatArray = NDArray[np.float64]

_DARING = 3  # full steps in a row that may climb before the search goes back to its best


class Scales(NamedTuple):
    """What counts as a large and as a small change of each unknown, (n,) each."""

    longest: FloatArray  # largest change in one step
    difference: FloatArray  # for slopes


def newton_for(
    residuals: Callable[..., Any], keep_inside: Callable[..., None]
) -> Callable[..., tuple[float, int, bool, Any]]:
    """:func:`newton` of one type of system.

    Parameters
    ----------
    residuals : kernel
        Of (system, y, r): fills the residuals r (n,) at unknowns y (n,), each in its own scale, and
        returns whatever else is worth knowing there.
    keep_inside : kernel
        Of (system, y): moves unknowns back inside what the residuals can bear.
    """
    return kernel(with_names(newton, _residuals=residuals, _keep_inside=keep_inside))


def _residuals(system: Any, y: FloatArray, r: FloatArray) -> Any:
    """Stands for the kernel that `newton_for` puts in its place."""


def _keep_inside(system: Any, y: FloatArray) -> None:
    """Stands for the kernel that `newton_for` puts in its place."""


@inner_kernel
def _copy(source: FloatArray, target: FloatArray) -> None:
    """Copy (n,) numbers; assigning a slice would compile the text of an error of shapes."""
    for i in range(source.shape[0]):
        target[i] = source[i]


@inner_kernel
def _move(
    y: FloatArray, step: FloatArray, longest: FloatArray, share: float, target: FloatArray
) -> None:
    """Fill (n,) unknowns: a share of a step away from `y`."""
    for j in range(y.shape[0]):
        target[j] = y[j] + share * step[j] * longest[j]


@kernel
def _merit(r: FloatArray) -> float:
    """Euclidean norm of the residuals; a large number when one of them is not a number."""
    total = 0.0
    for i in range(r.shape[0]):
        total += r[i] * r[i]
    if not total < 1e12:
        return 1e6
    return math.sqrt(total)


@kernel
def _newton_step(jacobian: FloatArray, r: FloatArray, step: FloatArray) -> float:
    """Solve jacobian @ step = -r by elimination with row exchange; the largest component, capped
    to one by scaling. A vanishing pivot is lifted, which turns the step along the rest."""
    n = r.shape[0]
    a = jacobian.copy()
    for i in range(n):
        step[i] = -r[i]
    scale = 0.0
    for i in range(n):
        for j in range(n):
            scale = max(scale, abs(a[i, j]))
    for k in range(n):
        best = k
        for i in range(k + 1, n):
            if abs(a[i, k]) > abs(a[best, k]):
                best = i
        if best != k:
            for j in range(n):
                a[k, j], a[best, j] = a[best, j], a[k, j]
            step[k], step[best] = step[best], step[k]
        if abs(a[k, k]) < 1e-12 * scale:
            a[k, k] = 1e-12 * scale if a[k, k] >= 0.0 else -1e-12 * scale
        for i in range(k + 1, n):
            w = a[i, k] / a[k, k]
            for j in range(k, n):
                a[i, j] -= w * a[k, j]
            step[i] -= w * step[k]
    largest = 0.0
    for k in range(n - 1, -1, -1):
        for j in range(k + 1, n):
            step[k] -= a[k, j] * step[j]
        step[k] /= a[k, k]
        largest = max(largest, abs(step[k]))
    if largest > 1.0:
        for k in range(n):
            step[k] /= largest
    return largest


@kernel
def _renew(
    jacobian: FloatArray,
    longest: FloatArray,
    y: FloatArray,
    trial: FloatArray,
    r: FloatArray,
    rt: FloatArray,
) -> None:
    """Broyden's rank-one update of the matrix with the step from `y` to `trial`."""
    n = y.shape[0]
    square = 0.0
    for j in range(n):
        square += ((trial[j] - y[j]) / longest[j]) ** 2
    if square <= 0.0:
        return
    for i in range(n):
        left = rt[i] - r[i]
        for j in range(n):
            left -= jacobian[i, j] * (trial[j] - y[j]) / longest[j]
        for j in range(n):
            jacobian[i, j] += left * (trial[j] - y[j]) / longest[j] / square


_V, _M = np.zeros(2), np.zeros((2, 2))
AHEAD: Final = (
    (_copy, _V, _V),
    (_merit, _V),
    (_move, _V, _V, _V, 1.0, _V),
    (_newton_step, _M, _V, _V),
    (_renew, _M, _V, _V, _V, _V, _V),
)
"""Kernels of every search, with arguments of the types they are called with."""


def newton(
    system: Any,
    scales: Scales,
    best: FloatArray,
    left: FloatArray,
    tolerance: float,
    most: int,
    jacobian: FloatArray,
    known: bool,
) -> tuple[float, int, bool, Any]:
    """Search from the unknowns `best` (n,) within about `most` residual calls.

    Finite differences make the matrix and Broyden's rank-one formula keeps it current; it is made
    anew when a step gains less than a tenth. The residuals have kinks (zero superheat, zero
    subcooling, a wet coil): a full step across one may climb and still land on the right side, so a
    few are allowed before the search returns to its best and shortens the step.

    Parameters
    ----------
    system : NamedTuple
        What the two kernels are about.
    best : (n,) array
        Where to begin; the best unknowns on exit. [as the system says]
    left : (n,) array
        Filled with the residuals there. [-]
    tolerance : float
        Norm of the residuals at which to end. [-]
    most : int
        With 0 the residuals are told where `best` stands, inside the limits or not.
    jacobian : (n, n) array
        Slopes of the residuals per longest step, if `known` from a solution near by; those at the
        end on exit. [-]

    Returns
    -------
    tuple
        Merit of the best unknowns, number of residual calls, whether `jacobian` now holds the
        matrix there, and what the residuals returned there.
    """
    n = best.shape[0]
    longest, difference = scales
    step = np.zeros(n)
    trial = best.copy()
    found = np.empty(n)
    y = np.empty(n)
    r = np.empty(n)
    if most > 0:
        _keep_inside(system, trial)
    placed = True  # the search begins, or begins anew, at the trial
    column = -1  # of the matrix, whose slopes are being taken
    calls = 0
    merit = 1e6
    best_merit = 1e6
    largest = 0.0
    shrink = 1.0
    fresh = False
    daring = 0
    cautious = False
    while True:
        # The only place that asks for residuals, because here they are compiled.
        seen = _residuals(system, trial, found)
        calls += 1
        if column >= 0:
            for i in range(n):
                jacobian[i, column] = (found[i] - r[i]) / difference[column] * longest[column]
            column += 1
        else:
            new = _merit(found)
            descends = new < merit * (1.0 - 0.1 * shrink) or new < tolerance
            if placed:
                placed = False
                _copy(trial, y)
                _copy(found, r)
                merit = new
                if calls == 1:
                    _copy(y, best)
                    _copy(r, left)
                    best_merit = merit
                    best_seen = seen
            elif fresh and cautious and not descends and shrink >= 0.02:
                shrink *= 0.4
                _move(y, step, longest, shrink, trial)
                _keep_inside(system, trial)
                continue
            elif descends:
                _renew(jacobian, longest, y, trial, r, found)
                if new > 0.9 * merit and largest < 1.0:
                    known = False
                _copy(trial, y)
                _copy(found, r)
                merit = new
                fresh = False
                if merit < best_merit:
                    _copy(y, best)
                    _copy(r, left)
                    best_merit = merit
                    best_seen = seen
                    daring = 0
            elif not fresh:
                known = False
            elif daring < _DARING and not cautious and new < 1e3:
                daring += 1
                _copy(trial, y)
                _copy(found, r)
                merit = new
                known = False
            elif not cautious:
                cautious = True
                _copy(best, y)
                _copy(left, r)
                merit = best_merit
                known = False
            else:
                # No descent with a fresh matrix: begin again beyond the kink, a third of a step on.
                cautious = False
                daring = 0
                known = False
                placed = True
                _move(best, step, longest, 0.3, trial)
                _keep_inside(system, trial)
                continue
            if best_merit < tolerance or calls >= most:
                break
            if not known:
                column = 0
        if 0 <= column < n:
            _copy(y, trial)
            trial[column] += difference[column]
            continue
        if column == n:
            column = -1
            fresh = True
            known = True
        largest = _newton_step(jacobian, r, step)
        if not largest < 1e12:
            break
        shrink = 1.0
        _move(y, step, longest, shrink, trial)
        _keep_inside(system, trial)
    return best_merit, calls, known, best_seen

"""Newton's method with a matrix that is kept, damped, for the few unknowns of a machine.

A system of equations is a named tuple with everything its residuals need. Its type says which
residuals and which limits belong to it (:func:`describes` registers them); a kernel is compiled for
each type. So one search serves the steady state, a step of a running machine and a step of a
standing one.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.compiled import choose_by_types, kernel

FloatArray = NDArray[np.float64]

_DARING = 3  # full steps in a row that may climb before the search goes back to its best


class Scales(NamedTuple):
    """What counts as a large and as a small change of each unknown, (n,) each."""

    longest: FloatArray  # largest change in one step
    difference: FloatArray  # for slopes


_LAWS: dict[type, tuple[Callable[..., Any], Callable[..., None]]] = {}


def describes(
    system: type, residuals: Callable[..., Any], keep_inside: Callable[..., None]
) -> None:
    """Say which kernels belong to a type of system.

    Parameters
    ----------
    system : type
        A NamedTuple.
    residuals : kernel
        Of (system, y, r): fills the residuals r (n,) at unknowns y (n,), each in its own scale, and
        returns whatever else is worth knowing there.
    keep_inside : kernel
        Of (system, y): moves unknowns back inside what the residuals can bear.
    """
    _LAWS[system] = residuals, keep_inside


def residuals_of(system: Any, y: FloatArray, r: FloatArray) -> Any:
    """Fill the residuals r (n,) of a system at y (n,); what its kernel returns."""
    return _LAWS[type(system)][0](system, y, r)


def _keep_inside(system: Any, y: FloatArray) -> None:
    _LAWS[type(system)][1](system, y)


def _residuals_for(kind: type) -> Callable[..., Any]:
    law = _LAWS[kind][0]
    return lambda system, y, r: law(system, y, r)


def _limits_for(kind: type) -> Callable[..., None]:
    law = _LAWS[kind][1]
    return lambda system, y: law(system, y)


choose_by_types(residuals_of, lambda system, y, r: _residuals_for(system.instance_class))
choose_by_types(_keep_inside, lambda system, y: _limits_for(system.instance_class))


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


@kernel
def newton(
    system: Any,
    scales: Scales,
    best: FloatArray,
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
        Of a type known to :func:`describes`.
    best : (n,) array
        Where to begin; the best unknowns on exit. [as the system says]
    tolerance : float
        Norm of the residuals at which to end. [-]
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
    trial = np.empty(n)
    found = np.empty(n)
    y = best.copy()
    _keep_inside(system, y)
    r = np.empty(n)
    seen = residuals_of(system, y, r)
    best_seen = seen
    calls = 1
    merit = _merit(r)
    best[:] = y
    best_r = r.copy()
    best_merit = merit
    fresh = False
    daring = 0
    cautious = False
    while best_merit >= tolerance and calls < most:
        if not known:
            for j in range(n):
                trial[:] = y
                trial[j] += difference[j]
                residuals_of(system, trial, found)
                for i in range(n):
                    jacobian[i, j] = (found[i] - r[i]) / difference[j] * longest[j]
            calls += n
            fresh = True
            known = True
        largest = _newton_step(jacobian, r, step)
        if not largest < 1e12:
            break
        shrink = 1.0
        descends = False
        new = 0.0
        while True:
            for j in range(n):
                trial[j] = y[j] + shrink * step[j] * longest[j]
            _keep_inside(system, trial)
            seen = residuals_of(system, trial, found)
            calls += 1
            new = _merit(found)
            descends = new < merit * (1.0 - 0.1 * shrink) or new < tolerance
            if descends or not (fresh and cautious) or shrink < 0.02:
                break
            shrink *= 0.4
        if descends:
            _renew(jacobian, longest, y, trial, r, found)
            if new > 0.9 * merit and largest < 1.0:
                known = False
            y[:] = trial
            r[:] = found
            merit = new
            fresh = False
            if merit < best_merit:
                best[:] = y
                best_r[:] = r
                best_merit = merit
                best_seen = seen
                daring = 0
        elif not fresh:
            known = False
        elif daring < _DARING and not cautious and new < 1e3:
            daring += 1
            y[:] = trial
            r[:] = found
            merit = new
            known = False
        elif not cautious:
            cautious = True
            y[:] = best
            r[:] = best_r
            merit = best_merit
            known = False
        else:
            # No descent with a fresh matrix: start again beyond the kink, a third of a step on.
            cautious = False
            daring = 0
            for j in range(n):
                y[j] = best[j] + 0.3 * step[j] * longest[j]
            _keep_inside(system, y)
            residuals_of(system, y, r)
            calls += 1
            merit = _merit(r)
            known = False
    return best_merit, calls, known, best_seen

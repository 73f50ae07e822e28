"""Residuals of a machine, and Newton's method on them.

Unknowns: logarithm of the pressure at the evaporator inlet and at the compressor outlet, logarithm
of the flow, and the enthalpy that enters the evaporator. Working in ln p and h, never in
temperature or quality, leaves nothing flat or jumping at zero superheat and zero subcooling.

Residuals: flow of the compressor; flow of the expansion device, or a wanted superheat; enthalpy at
the condenser outlet; charge, or a wanted subcooling or superheat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.saturation_line import SaturationLine
from sweatline.compiled import kernel
from sweatline.machine.circuit import (
    MachineParameters,
    Workspace,
    inventory,
    round_circuit,
    workspace,
)
from sweatline.refrigerant.table import Table, enthalpy_liquid, enthalpy_vapour, saturation

__all__ = [
    "Attempt",
    "Target",
    "Warm",
    "attempt",
    "design",
    "filled",
    "fixed_charge",
    "residuals",
    "residuals_at",
    "subcooled",
]

FloatArray = NDArray[np.float64]


class Target(NamedTuple):
    """What closes the circuit.

    Of expansion device and superheat exactly one is used, and so of charge and subcooling.
    """

    with_expansion: int  # 1: the expansion device decides the flow; 0: `superheat` does
    superheat: float  # K, against dew at the evaporator outlet; below 0 minus the wetness
    with_charge: int  # 1: `charge` is given; 0: `subcooling` is; 2: `superheat` is
    charge: float  # kg
    subcooling: float  # K, against bubble; a negative number is minus the quality of flash gas


def design(*, superheat: float = 5.0, subcooling: float = 5.0) -> Target:
    """Superheat and subcooling wanted; expansion device and charge are answers. [K], [K]"""
    return Target(0, superheat, 0, 1.0, subcooling)


def filled(*, superheat: float = 5.0) -> Target:
    """Capillary given, charged until the evaporator outlet shows `superheat`. [K]"""
    return Target(1, superheat, 2, 1.0, 5.0)


def subcooled(*, subcooling: float = 5.0) -> Target:
    """Expansion device given, charged until the condenser outlet shows `subcooling`. [K]

    The way to charge a machine with an expansion valve, which sees to its superheat itself.
    """
    return Target(1, 5.0, 0, 1.0, subcooling)


def fixed_charge(charge: float) -> Target:
    """Expansion device and charge given. [kg]"""
    return Target(1, 5.0, 1, charge, 5.0)


_LIMITS = np.array([0.12, 0.10, 0.25, 20e3])  # steps in ln p, ln p, ln m, J/kg
_DIFFERENCES = np.array([2e-6, 2e-6, 2e-6, 1.0])
_H_SCALE = 2e4  # J/kg
_SHIFTS = np.diag(_DIFFERENCES)


@kernel
def _residuals(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    space: Workspace,
    target: Target,
    points: FloatArray,
    residuals: FloatArray,
) -> None:
    """Residuals (k, 4) at unknowns (k, 4); the only way from the solvers into the parts."""
    for k in range(points.shape[0]):
        y = points[k]
        r = residuals[k]
        pe = math.exp(y[0])
        pd = math.exp(y[1])
        flow = math.exp(y[2])
        run = round_circuit(table, line, machine, space, pe, pd, flow, y[3], target.with_expansion)
        r[0] = math.log(run.compressor_flow / flow)
        if target.with_expansion == 1:
            r[1] = run.expansion.excess
        _tb, td, hl, hg, _vl, _vg, _sl, _sg = saturation(table, run.suction_pressure)
        if target.superheat >= 0.0:
            wanted = enthalpy_vapour(table, run.suction_pressure, td + target.superheat)
        else:
            wanted = hg + target.superheat * (hg - hl)
        dryness = (run.evaporator_outlet - wanted) / _H_SCALE
        if target.with_expansion == 0:
            r[1] = dryness
        r[2] = (run.liquid_enthalpy - run.assumed_liquid) / _H_SCALE
        if target.with_charge == 1:
            places = inventory(table, machine, run, pd, flow)
            total = 0.0
            for place in places:
                total += place
            r[3] = total / target.charge - 1.0
        elif target.with_charge == 2:
            r[3] = dryness
        else:
            tb, _td, hl, hg, _vl, _vg, _sl, _sg = saturation(table, run.liquid_pressure)
            if target.subcooling >= 0.0:
                wanted = enthalpy_liquid(table, run.liquid_pressure, tb - target.subcooling)
            else:
                wanted = hl - target.subcooling * (hg - hl)
            r[3] = (run.assumed_liquid - wanted) / _H_SCALE


@kernel
def _advance(
    y: FloatArray, step: FloatArray, share: float, p_min: float, p_max: float, trial: FloatArray
) -> None:
    """Write y + share*step into `trial`, held inside the table with the head above suction."""
    for j in range(4):
        trial[j] = y[j] + share * step[j] * _LIMITS[j]
    low = math.log(p_min * 1.02)
    high = math.log(p_max * 0.985)
    trial[0] = min(max(trial[0], low), high - 0.1)
    trial[1] = min(max(trial[1], trial[0] + 0.02), high)
    trial[2] = min(max(trial[2], -16.0), 0.0)


@kernel
def _merit(r: FloatArray) -> float:
    """Euclidean norm of the residuals; a large number when one of them is not a number."""
    total = 0.0
    for i in range(4):
        total += r[i] * r[i]
    if not total < 1e12:
        return 1e6
    return math.sqrt(total)


@kernel
def _newton_step(jacobian: FloatArray, r: FloatArray, step: FloatArray) -> float:
    """Solve jacobian @ step = -r by elimination with row exchange; the largest component, capped
    to one by scaling. A vanishing pivot is lifted, which turns the step along the rest."""
    a = jacobian.copy()
    for i in range(4):
        step[i] = -r[i]
    scale = 0.0
    for i in range(4):
        for j in range(4):
            scale = max(scale, abs(a[i, j]))
    for k in range(4):
        best = k
        for i in range(k + 1, 4):
            if abs(a[i, k]) > abs(a[best, k]):
                best = i
        if best != k:
            for j in range(4):
                a[k, j], a[best, j] = a[best, j], a[k, j]
            step[k], step[best] = step[best], step[k]
        if abs(a[k, k]) < 1e-12 * scale:
            a[k, k] = 1e-12 * scale if a[k, k] >= 0.0 else -1e-12 * scale
        for i in range(k + 1, 4):
            w = a[i, k] / a[k, k]
            for j in range(k, 4):
                a[i, j] -= w * a[k, j]
            step[i] -= w * step[k]
    largest = 0.0
    for k in range(3, -1, -1):
        for j in range(k + 1, 4):
            step[k] -= a[k, j] * step[j]
        step[k] /= a[k, k]
        largest = max(largest, abs(step[k]))
    if largest > 1.0:
        for k in range(4):
            step[k] /= largest
    return largest


@kernel
def _renew(
    jacobian: FloatArray, y: FloatArray, trial: FloatArray, r: FloatArray, rt: FloatArray
) -> None:
    """Broyden's rank-one update of the matrix with the step from `y` to `trial`."""
    square = 0.0
    for j in range(4):
        square += ((trial[j] - y[j]) / _LIMITS[j]) ** 2
    if square <= 0.0:
        return
    for i in range(4):
        left = rt[i] - r[i]
        for j in range(4):
            left -= jacobian[i, j] * (trial[j] - y[j]) / _LIMITS[j]
        for j in range(4):
            jacobian[i, j] += left * (trial[j] - y[j]) / _LIMITS[j] / square


@dataclass(frozen=True, slots=True, kw_only=True)
class Warm:
    """What a solved machine leaves for the next one: states between the rows, and the matrix."""

    space: Workspace
    jacobian: FloatArray | None
    modes: tuple[int, int]  # of the target the matrix belongs to


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """Where one Newton search ended."""

    y: FloatArray  # (4,) best unknowns
    good: bool
    merit: float
    calls: int
    warm: Warm


def residuals(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    target: Target,
    y: FloatArray,
    space: Workspace | None = None,
) -> FloatArray:
    """The four residuals at unknowns `y`, each in its own scale. (4,)"""
    space = space if space is not None else workspace(machine)
    row: FloatArray = residuals_at(table, line, machine, target, y.reshape(1, 4), space)[0]
    return row


def residuals_at(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    target: Target,
    points: FloatArray,
    space: Workspace,
) -> FloatArray:
    """The four residuals at several points (k, 4), one after the other in one workspace. (k, 4)"""
    found = np.empty_like(points)
    _residuals(table, line, machine, space, target, points, found)
    return found


_DARING = 3  # full steps in a row that may climb before the search goes back to its best


@kernel
def _newton(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    space: Workspace,
    target: Target,
    best: FloatArray,
    tolerance: float,
    most: int,
    jacobian: FloatArray,
    known: bool,
) -> tuple[float, int, bool]:
    """Search from the unknowns `best` (4,) within about `most` residual calls.

    `jacobian` (4, 4), if it is `known` from a solution near by, saves making the first matrix.
    Finite differences make it and Broyden's rank-one formula keeps it current; it is made anew
    when a step gains less than a tenth. The residuals have kinks (zero superheat, zero subcooling,
    a wet coil): a full step across one may climb and still land on the right side, so a few are
    allowed before the search returns to its best and shortens the step.

    Returns the merit of the best unknowns, which are left in `best`, the number of residual calls,
    and whether `jacobian` now holds the matrix there.
    """
    still = np.zeros(4)
    step = np.zeros(4)
    points = np.empty((1, 4))
    found = np.empty((1, 4))
    shifted = np.empty((4, 4))
    moved = np.empty((4, 4))
    y = np.empty(4)
    best_r = np.empty(4)
    _advance(best, still, 0.0, table.p_min, table.p_max, y)
    points[0] = y
    _residuals(table, line, machine, space, target, points, found)
    calls = 1
    r = found[0].copy()
    merit = _merit(r)
    best[:] = y
    best_r[:] = r
    best_merit = merit
    fresh = False
    daring = 0
    cautious = False
    while best_merit >= tolerance and calls < most:
        if not known:
            for k in range(4):
                for j in range(4):
                    shifted[k, j] = y[j] + _SHIFTS[k, j]
            _residuals(table, line, machine, space, target, shifted, moved)
            calls += 4
            for i in range(4):
                for j in range(4):
                    jacobian[i, j] = (moved[j, i] - r[i]) / _DIFFERENCES[j] * _LIMITS[j]
            fresh = True
            known = True
        largest = _newton_step(jacobian, r, step)
        if not largest < 1e12:
            break
        shrink = 1.0
        descends = False
        new = 0.0
        while True:
            _advance(y, step, shrink, table.p_min, table.p_max, points[0])
            _residuals(table, line, machine, space, target, points, found)
            calls += 1
            new = _merit(found[0])
            descends = new < merit * (1.0 - 0.1 * shrink) or new < tolerance
            if descends or not (fresh and cautious) or shrink < 0.02:
                break
            shrink *= 0.4
        if descends:
            _renew(jacobian, y, points[0], r, found[0])
            if new > 0.9 * merit and largest < 1.0:
                known = False
            y[:] = points[0]
            r[:] = found[0]
            merit = new
            fresh = False
            if merit < best_merit:
                best[:] = y
                best_r[:] = r
                best_merit = merit
                daring = 0
        elif not fresh:
            known = False
        elif daring < _DARING and not cautious and new < 1e3:
            daring += 1
            y[:] = points[0]
            r[:] = found[0]
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
            _advance(best, step, 0.3, table.p_min, table.p_max, y)
            points[0] = y
            _residuals(table, line, machine, space, target, points, found)
            calls += 1
            r[:] = found[0]
            merit = _merit(r)
            known = False
    return best_merit, calls, known


def attempt(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    target: Target,
    y: FloatArray,
    *,
    tolerance: float,
    most: int = 160,
    warm: Warm | None = None,
) -> Attempt:
    """One Newton search from `y`, started from what a near-by solution left, if given."""
    space = workspace(machine)
    modes = (target.with_expansion, target.with_charge)
    jacobian = np.empty((4, 4))
    known = False
    if warm is not None:
        for mine, theirs in zip(space, warm.space, strict=True):
            if mine.shape == theirs.shape:
                mine[:] = theirs
        if warm.jacobian is not None and warm.modes == modes:
            jacobian[:] = warm.jacobian
            known = True
    best = np.array(y, dtype=float)
    merit, calls, known = _newton(
        table, line, machine, space, target, best, tolerance, most, jacobian, known
    )
    return Attempt(
        y=best,
        good=merit < tolerance,
        merit=merit,
        calls=calls,
        warm=Warm(space=space, jacobian=jacobian if known else None, modes=modes),
    )

"""Following a curve of steady states, when a search from a guess does not reach the wanted one.

Three of the four residuals of a :class:`~sweatline.machine.steady.Target` leave a curve: the
machine filled more and more, the tube cut shorter and shorter. The curve is followed by its own
length, not by charge or pressure, so that it may turn round in any of them; where the fourth
residual changes sign is the wanted state. Where it does not, the ends of the curve say why: the
suction pressure leaves the table, the head comes to the critical point, the pressures meet.

Method: predictor along the tangent, Newton-Broyden corrector on the plane across it (Allgower and
Georg, Numerical Continuation Methods, 1990, ch. 3 and 6).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.machine.steady import Attempt, SteadyMachine, Warm, attempt, residuals_at

FloatArray = NDArray[np.float64]

End = Literal[
    "found",  # the dropped residual is zero
    "suction at the end of the table",
    "head at the end of the table",
    "pressures meet",
    "no flow",
    "all liquid",  # liquid fills the suction line
    "turned back",  # the dropped residual came near zero and went away again, past its start
    "stuck",  # the corrector fails at the smallest step: a break in the residuals
    "too long",  # more residual calls than allowed
]

_SCALE = np.array([1.0, 1.0, 1.0, 1e5])  # of one unit of arc
_SHIFT = np.array([2e-6, 2e-6, 2e-6, 0.3])
_SHIFTS = np.diag(_SHIFT)
_LONGEST, _SHORT, _SHORTEST = 0.15, 2e-5, 1e-6
_ON_CURVE = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """What following a curve came to."""

    end: End
    found: Attempt | None  # the wanted state, when `end` is "found"
    last: FloatArray  # (4,) unknowns where the curve was left
    value: float  # the dropped residual there
    nearest: float  # the dropped residual where it was closest to zero
    calls: int


@dataclass(slots=True)
class _Point:
    y: FloatArray
    r: FloatArray
    jacobian: FloatArray  # (4, 4) in scaled unknowns
    tangent: FloatArray  # (4,) scaled, of length one


@dataclass(slots=True)
class _Curve:
    """The curve on which all residuals but one vanish."""

    system: SteadyMachine
    drop: int
    kept: list[int]
    hand: float = 1.0  # which way along the curve
    calls: int = 0

    def residual(self, points: FloatArray) -> FloatArray:
        """Residuals (k, 4) at unknowns (k, 4)."""
        self.calls += len(points)
        return residuals_at(self.system, points)

    def point(self, y: FloatArray, r: FloatArray) -> _Point:
        """Matrix and tangent at a point of the curve.

        The determinant of the matrix with the tangent for a row keeps its sign along a curve, past
        folds and past kinks: it turns the tangent the way the curve is being followed.
        """
        moved = self.residual(y + _SHIFTS)
        jacobian = ((moved - r).T / _SHIFT) * _SCALE
        if not np.all(np.isfinite(jacobian)):
            return _Point(y, r, np.nan_to_num(jacobian), np.array([0.0, 0.0, 1.0, 0.0]))
        tangent = np.linalg.svd(jacobian[self.kept])[2][-1]
        if np.linalg.det(np.vstack([jacobian[self.kept], tangent])) * self.hand < 0.0:
            tangent = -tangent
        return _Point(y, r, jacobian, tangent)

    def correct(
        self, y: FloatArray, jacobian: FloatArray, tangent: FloatArray
    ) -> tuple[FloatArray, FloatArray, int] | None:
        """Back onto the curve within the plane through `y` across `tangent`, and steps taken."""
        start = y
        matrix = jacobian.copy()
        r = self.residual(y.reshape(1, 4))[0]
        first = float(np.linalg.norm(r[self.kept]))
        for count in range(10):
            now = float(np.linalg.norm(r[self.kept]))
            if not math.isfinite(now) or (count >= 4 and now > 0.3 * first):
                return None
            if now < _ON_CURVE:
                return y, r, count
            rows = np.vstack([matrix[self.kept], tangent])
            right = np.append(-r[self.kept], -((y - start) / _SCALE) @ tangent)
            try:
                step = np.linalg.solve(rows, right)
            except np.linalg.LinAlgError:
                return None
            largest = float(np.abs(step).max())
            if not math.isfinite(largest):
                return None
            step *= min(1.0, 0.3 / largest) if largest > 0.0 else 1.0
            new = y + step * _SCALE
            r_new = self.residual(new.reshape(1, 4))[0]
            if not np.all(np.isfinite(r_new)):
                return None
            square = float(step @ step)
            if square > 0.0:
                matrix += np.outer(r_new - r - matrix @ step, step) / square
            y, r = new, r_new
        return None

    def beyond_kink(self, here: _Point) -> _Point | None:
        """The first point beyond a kink that the corrector cannot pass.

        There the curve may turn by any angle. Its direction follows from the slopes on the far
        side; nearer than this, differences would straddle the kink.
        """
        for reach in (1e-4, 1e-3):
            probe = here.y + reach * here.tangent * _SCALE
            beyond = self.point(probe, self.residual(probe.reshape(1, 4))[0])
            for size in (reach, 3.0 * reach, 10.0 * reach):
                guess = here.y + size * beyond.tangent * _SCALE
                corrected = self.correct(guess, beyond.jacobian, beyond.tangent)
                if corrected is not None and not _far(corrected[0], guess, size):
                    return self.point(corrected[0], corrected[1])
        return None

    def outside(self, y: FloatArray) -> End | None:
        """Which limit of the tables a point is beyond."""
        if y[0] < math.log(self.system.table.p_min * 1.3):
            return "suction at the end of the table"
        if y[1] > math.log(self.system.table.p_max * 0.985):
            return "head at the end of the table"
        if y[1] - y[0] < 0.02:
            return "pressures meet"
        if y[2] < -16.0:
            return "no flow"
        if y[2] > 0.0:
            return "all liquid"
        return None


def follow(
    system: SteadyMachine,
    start: FloatArray,
    *,
    drop: int,
    upward: bool,
    tolerance: float,
    most: int = 2500,
    warm: Warm | None = None,
) -> Stretch:
    """Follow the steady states that lack one residual until that one vanishes too.

    Parameters
    ----------
    start : (4,) array
        Unknowns at which the three kept residuals vanish. [ln Pa, ln Pa, ln kg/s, J/kg]
    drop : int
        Index of the residual left out: 1 metering or superheat, 3 charge or subcooling.
    upward : bool
        Set out in the direction in which that residual rises.
    tolerance : float
        Norm of the residuals at which the wanted state counts as found. [-]
    most : int
        Residual calls after which to give up.
    """
    curve = _Curve(system.begun(warm), drop, [i for i in range(4) if i != drop])
    here = curve.point(start, curve.residual(start.reshape(1, 4))[0])
    begun = curve.correct(start, here.jacobian, here.tangent)
    if begun is not None and begun[2] > 0:
        here = curve.point(begun[0], begun[1])
    if (here.jacobian[drop] @ here.tangent > 0.0) != upward:
        curve.hand = -1.0
        here.tangent = -here.tangent
    size = 0.02
    first = nearest = float(here.r[drop])
    end: End = "too long"
    while curve.calls < most:
        guess = here.y + size * here.tangent * _SCALE
        out = curve.outside(guess)
        if out is not None:
            if size > 2e-3:
                size *= 0.4
                continue
            end = out
            break
        corrected = curve.correct(guess, here.jacobian, here.tangent)
        if corrected is None or _far(corrected[0], guess, size):
            size *= 0.4
            if size > _SHORT:
                continue
            passed = curve.beyond_kink(here)
            if passed is None and size > _SHORTEST:
                continue  # no kink then, but a bend: smaller steps
            if passed is None:
                end = "stuck"
                break
            there, count, size = passed, 9, 1e-4
        else:
            y, r, count = corrected
            there = curve.point(y, r)
            if there.tangent @ ((y - here.y) / _SCALE) < 0.0 and size > 2e-4:
                size *= 0.3  # past a corner, or onto another curve: look closer
                continue
        y, r = there.y, there.r
        turn = float(there.tangent @ here.tangent)
        value, last = float(r[drop]), float(here.r[drop])
        if value * last <= 0.0:
            found = _close(curve, here, there, tolerance)
            if found is not None:
                return Stretch(
                    end="found",
                    found=found,
                    last=found.y,
                    value=0.0,
                    nearest=0.0,
                    calls=curve.calls,
                )
            if size > 1e-5 and corrected is not None:
                size *= 0.25  # a kink between the two: come nearer
                continue
        if abs(value) < abs(nearest):
            nearest = value
        if abs(value) > 1.5 * max(abs(first), 0.5) and abs(nearest) < abs(first):
            here = there
            end = "turned back"
            break
        here = there
        if count <= 3 and turn > 0.9:
            size = min(1.8 * size, _LONGEST)
        elif count >= 6 or turn < 0.5:
            size = max(0.6 * size, min(size, 2e-4))
    return Stretch(
        end=end,
        found=None,
        last=here.y,
        value=float(here.r[drop]),
        nearest=nearest,
        calls=curve.calls,
    )


def _far(y: FloatArray, guess: FloatArray, size: float) -> bool:
    """Whether the corrector went further than the predictor: perhaps onto another curve."""
    return bool(np.abs((y - guess) / _SCALE).max() > 0.7 * size + 1e-7)


def _close(curve: _Curve, a: _Point, b: _Point, tolerance: float) -> Attempt | None:
    """The state between two points of the curve where the dropped residual changes sign."""
    system = curve.system
    begun = Warm(space=system.space, jacobian=None, modes=system.target.modes)
    for _ in range(12):
        ra, rb = float(a.r[curve.drop]), float(b.r[curve.drop])
        share = min(max(ra / (ra - rb), 0.1), 0.9) if ra != rb else 0.5
        middle = a.y + share * (b.y - a.y)
        apart = float(np.abs((b.y - a.y) / _SCALE).max())
        found = attempt(system, middle, tolerance=tolerance, most=60, warm=begun)
        curve.calls += found.calls
        if found.good and np.abs((found.y - middle) / _SCALE).max() < 2.0 * apart + 1e-4:
            return Attempt(y=found.y, good=True, merit=found.merit, calls=0, warm=found.warm)
        chord = (b.y - a.y) / _SCALE
        corrected = curve.correct(middle, a.jacobian, chord / np.linalg.norm(chord))
        if corrected is None:
            return None
        point = curve.point(corrected[0], corrected[1])
        if (float(point.r[curve.drop]) > 0.0) == (ra > 0.0):
            a = point
        else:
            b = point
    return None

r"""The next dose of refrigerant, from what many possible machines would show.

Before charging, the model is drawn many times and every draw is carried along its charge: what its
gauges and thermometers show at each charge, and the charge at which its evaporator is filled. A
particle is one draw together with a scale of its charge (void fraction, oil and the tubing between
the parts make a machine take more or less than any model says, and that hardly shows in anything
else). Readings that have settled weigh the particles; the weight of what was read at smaller
charges fades, because the model's own error is the same in all of them.

The dose is the largest that leaves at most one chance in twenty of ending more than the allowed
share above the best charge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["CHANNELS", "Advice", "Dosing", "Foreknowledge"]

FloatArray = NDArray[np.float64]

# In the order of the last axis of `Foreknowledge.readings`. Pressures and watts are logarithms.
CHANNELS: Final = ("suction gauge", "head gauge", "superheat", "subcooling", "watts")
_LOGARITHMIC: Final = (0, 1, 4)
_BELOW_ZERO: Final = (2, 3)  # read as zero where there is none: they say little there
_LEAST: Final = 1.0  # K of superheat or subcooling from which it is believed

_ERRORS: Final = 2.0  # times the instrument's: what the draws do not cover
_FADE: Final = 0.5  # of the weight of earlier readings at each new state
_SCALES: Final = np.exp(np.linspace(-0.30, 0.30, 31))
_SCALE_SD: Final = 0.10
_CHANCE: Final = 0.05  # of ending more than allowed above the best charge


@dataclass(frozen=True, slots=True, kw_only=True)
class Foreknowledge:
    """What drawn machines show along their charge."""

    charges: FloatArray  # (n,) kg, rising
    readings: FloatArray  # (k, n, 5), NaN where a draw has no balance
    best: FloatArray  # (k,) kg, evaporator filled


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to do next."""

    action: Literal["add", "stop", "take out"]
    dose: float  # kg; 0 for stop, to be taken out when negative
    best: tuple[float, float, float]  # kg: 5 %, median and 95 % of the best charge
    chance_over: float  # that the charge after the dose is more than allowed above the best
    expected: FloatArray  # (5, 3) of each channel after the dose: 5 %, median, 95 %
    # How well the best of the particles agrees with the readings: mean square in errors.
    misfit: float


class Dosing:
    """Follows the charging of one machine.

    Parameters
    ----------
    known : Foreknowledge
        Of this machine as far as it is known.
    allowed : float
        Share above the best charge that is no harm. [-]
    """

    def __init__(self, known: Foreknowledge, *, allowed: float = 0.05) -> None:
        self.known = known
        self.allowed = allowed
        k = known.best.size
        scale = np.log(_SCALES)
        self._prior: FloatArray = np.broadcast_to(
            -0.5 * (scale / _SCALE_SD) ** 2, (k, _SCALES.size)
        ).copy()
        self._score: FloatArray = np.zeros_like(self._prior)
        self._best: FloatArray = known.best[:, None] * _SCALES[None, :]
        self.misfit = 0.0

    def told(self, charge: float, values: FloatArray, errors: FloatArray) -> None:
        """Take in settled readings at a charge.

        Parameters
        ----------
        charge : float
            In the machine. [kg]
        values : (5,) array
            In the order of :data:`CHANNELS`; NaN where nothing was read. [ln Pa, ln Pa, K, K, ln W]
        errors : (5,) array
            Standard deviations: instrument and unsettled rest together. [as `values`]
        """
        shown = self._at(charge)
        square = np.zeros_like(self._score)
        count = 0
        for j in range(len(CHANNELS)):
            if not np.isfinite(values[j]) or (j in _BELOW_ZERO and values[j] < _LEAST):
                continue
            square += ((shown[:, :, j] - values[j]) / (_ERRORS * errors[j])) ** 2
            count += 1
        square = np.where(np.isfinite(square), square, 1e6)
        self._score = _FADE * self._score - 0.5 * square
        self.misfit = float(square.min()) / max(count, 1)

    def _at(self, charge: float) -> FloatArray:
        """Readings of every particle at a charge. (k, scales, 5)"""
        grid = self.known.charges
        place = np.interp(charge / _SCALES, grid, np.arange(grid.size))
        left = np.minimum(place.astype(int), grid.size - 2)
        share = (place - left)[None, :, None]
        found: FloatArray = (1.0 - share) * self.known.readings[:, left] + share * (
            self.known.readings[:, left + 1]
        )
        outside = (charge / _SCALES < grid[0] * 0.98) | (charge / _SCALES > grid[-1] * 1.02)
        found[:, outside] = np.nan
        return found

    def _weights(self) -> FloatArray:
        log = self._prior + self._score
        w: FloatArray = np.exp(log - log.max())
        w /= w.sum()
        return w

    def best_charge(self) -> tuple[float, float, float]:
        """5 %, median and 95 % of the charge that fills the evaporator. [kg]"""
        low, median, high = _weighted(self._best, self._weights(), (0.05, 0.5, 0.95))
        return low, median, high

    def advice(self, charge: float, *, smallest: float, largest: float) -> Advice:
        """The next dose.

        Parameters
        ----------
        charge : float
            In the machine. [kg]
        smallest, largest : float
            Doses that can be weighed and are safe to let in at once. [kg]
        """
        w = self._weights()
        best = self.best_charge()
        # The charge that no more than one chance in twenty calls too much.
        ceiling = _weighted(self._best * (1.0 + self.allowed), w, (_CHANCE, 0.5, 0.95))[0]
        dose = min(ceiling, best[1]) - charge
        action: Literal["add", "stop", "take out"] = "add"
        over = float(w[charge > self._best * (1.0 + self.allowed)].sum())
        if dose < smallest:
            action, dose = "stop", 0.0
            if over > 0.5:
                action, dose = "take out", best[1] - charge
        dose = min(dose, largest)
        after = charge + dose
        return Advice(
            action=action,
            dose=dose,
            best=best,
            chance_over=float(w[after > self._best * (1.0 + self.allowed)].sum()),
            expected=self._expected(after, w),
            misfit=self.misfit,
        )

    def _expected(self, charge: float, weights: FloatArray) -> FloatArray:
        shown = self._at(charge)
        out = np.full((len(CHANNELS), 3), np.nan)
        for j in range(len(CHANNELS)):
            there = np.isfinite(shown[:, :, j])
            if there.any():
                out[j] = _weighted(shown[:, :, j][there], weights[there], (0.05, 0.5, 0.95))
        for j in _LOGARITHMIC:
            out[j] = np.exp(out[j])
        return out


def _weighted(
    values: FloatArray, weights: FloatArray, shares: tuple[float, float, float]
) -> tuple[float, float, float]:
    """Quantiles of weighted values."""
    order = np.argsort(values, axis=None)
    v, w = values.ravel()[order], weights.ravel()[order]
    total = np.cumsum(w)
    total /= total[-1]
    a, b, c = (float(v[min(int(np.searchsorted(total, s)), v.size - 1)]) for s in shares)
    return a, b, c

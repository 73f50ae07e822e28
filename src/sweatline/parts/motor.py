r"""Motors of sealed compressors: what current a load takes.

The apparent power of a single-phase induction motor has a part that does work and a reactive one,

.. math::
    I = \frac{\sqrt{P^2 + Q^2}}{V}, \qquad
    Q = Q_0\left(\frac{V}{V_n}\right)^2 + b P^2\left(\frac{V_n}{V}\right)^2,

the magnetisation of the iron and the stray fields of the windings: the circle diagram of any text
on machines, near the part of the circle where a motor runs. Two points fix :math:`Q_0` and
:math:`b`: the rated load and half of it. Where a plate says watts and amperes the first point is
its own; the rest is the kind's.

Without a run capacitor the current falls little with the load, so a clamp tells the load badly;
with one, current and watts go together. That is why a motor nobody knows has a wide range.

The load curve of the losses is no part of this: it is in the compressor's own
(:mod:`sweatline.parts.compressor`), whose watts are electrical.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

MotorKind = Literal["rsir", "rscr", "psc", "csir", "csr"]
"""Types of single-phase sealed motor."""
AnyMotor = MotorKind | Literal["inverter", "unknown"]

LIGHT: Final = 0.5  # of the rated load: where the second point is taken
_LEAST_FACTOR: Final = 0.3
_BEST_FACTOR: Final = 0.995

# Of a fan's motor, shaded-pole 0.6 and with a capacitor 0.9 (common practice).
FAN_FACTOR: Final = 0.65
FAN_FACTOR_SD: Final = 0.12

# Current of a motor that stands still over its rated one; MEMORY 0.65, plates of two: 4.3 and 4.9.
LOCKED_ROTOR: Final = (4.0, 6.0)


class MotorParameters(NamedTuple):
    """A motor, and the fan beside it on the same mains."""

    voltage: float  # V, of the mains; 0 where nobody said
    magnetising: float  # var, Q0 at that voltage
    stray: float  # 1/W, b at that voltage
    fan_reactive: float = 0.0  # var for each watt of the fan


UNMETERED: Final = MotorParameters(0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualMotor:
    """Power factors of a kind at its rated load and at half of it, with one sd."""

    rated: float
    rated_sd: float
    light: float
    light_sd: float
    note: str


_MEMORY: Final = "power factor of the kind, not checked in print"
_WITHOUT: Final = "without a run capacitor 0.6 to 0.7, with one above 0.9; the type is not known"

# MEMORY 0.6, a run capacitor 0.65.
USUAL: Final[Mapping[AnyMotor, UsualMotor]] = {
    "rsir": UsualMotor(rated=0.60, rated_sd=0.04, light=0.44, light_sd=0.04, note=_MEMORY),
    "csir": UsualMotor(rated=0.65, rated_sd=0.04, light=0.49, light_sd=0.04, note=_MEMORY),
    "rscr": UsualMotor(rated=0.94, rated_sd=0.03, light=0.87, light_sd=0.06, note=_MEMORY),
    "psc": UsualMotor(rated=0.94, rated_sd=0.03, light=0.87, light_sd=0.06, note=_MEMORY),
    "csr": UsualMotor(rated=0.94, rated_sd=0.03, light=0.87, light_sd=0.06, note=_MEMORY),
    "inverter": UsualMotor(
        rated=0.75, rated_sd=0.13, light=0.66, light_sd=0.13, note="0.55 to 0.98 by its drive"
    ),
    "unknown": UsualMotor(rated=0.78, rated_sd=0.12, light=0.65, light_sd=0.14, note=_WITHOUT),
}


def reactive_power(power: float, factor: float) -> float:
    """Reactive power at a load and a power factor, 0.3 to 0.995. [var]"""
    held = min(max(factor, _LEAST_FACTOR), _BEST_FACTOR)
    return power * math.sqrt(1.0 / (held * held) - 1.0)


def from_factors(
    *, power: float, rated: float, light: float, plate_voltage: float, voltage: float
) -> MotorParameters:
    """A motor from its power factors at the rated load and at half of it.

    Parameters
    ----------
    power : float
        Rated input. [W]
    rated, light : float
        Power factors, 0 to 1. [-]
    plate_voltage, voltage : float
        For which it was made, and of the mains. [V]
    """
    full = reactive_power(power, rated)
    # Neither part can be negative: at half of the load there is no more reactive power than at all
    # of it, and no less than the stray fields' share.
    half = min(max(reactive_power(LIGHT * power, light), LIGHT * LIGHT * full), full)
    stray = (full - half) / ((1.0 - LIGHT * LIGHT) * power * power)
    return _at(full - stray * power * power, stray, voltage / plate_voltage, voltage)


def from_points(
    points: Sequence[tuple[float, float]], *, plate_voltage: float, voltage: float
) -> MotorParameters:
    """A motor from two or more printed points of watts and amperes.

    Parameters
    ----------
    points : sequence of tuple
        Input [W] and current [A] at the plate's voltage, of at least two different loads.
    plate_voltage : float
        At which the points were read. [V]
    voltage : float
        At which it runs. [V]
    """
    squares = [power * power for power, _ in points]
    reactive = [
        math.sqrt(max((plate_voltage * current) ** 2 - power * power, 0.0))
        for power, current in points
    ]
    n = len(points)
    middle, level = math.fsum(squares) / n, math.fsum(reactive) / n
    spread = math.fsum((s - middle) ** 2 for s in squares)
    both = math.fsum((s - middle) * (q - level) for s, q in zip(squares, reactive, strict=True))
    stray = min(max(both / spread, 0.0), level / middle) if spread > 0.0 else 0.0
    return _at(level - stray * middle, stray, voltage / plate_voltage, voltage)


def _at(magnetising: float, stray: float, ratio: float, voltage: float) -> MotorParameters:
    """A motor known at its plate's voltage, at another one."""
    square = ratio * ratio
    return MotorParameters(voltage, magnetising * square, stray / square)


def running_current(motor: MotorParameters, power: float, fan_power: float = 0.0) -> float | None:
    """Current at a load, of the motor alone or with its fan; None without a voltage. [A]

    Parameters
    ----------
    power : float
        Input of the compressor. [W]
    fan_power : float
        Of fans on the same mains. [W]
    """
    if motor.voltage <= 0.0:
        return None
    reactive = motor.magnetising + motor.stray * power * power + motor.fan_reactive * fan_power
    return math.hypot(power + fan_power, reactive) / motor.voltage

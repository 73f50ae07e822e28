r"""Why a compressor is never started under vacuum.

A hermetic motor is cooled by the gas around it, and that gas holds off the voltage between its
terminals. The breakdown voltage of a gap d falls with the pressure (Paschen, 1889),

    V = B p d/(ln(A p d) - ln ln(1 + 1/gamma))

with A = 11.25 1/(Pa m), B = 273.8 V/(Pa m) and gamma = 0.01 for air (textbook, MEMORY 0.85), down
to some 300 V; the peak of 230 V mains is 325 V, and a start winding sees more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

_A: Final = 11.25  # 1/(Pa*m)
_B: Final = 273.8  # V/(Pa*m)
_SECOND: Final = math.log(1.0 + 1.0 / 0.01)

# Below any suction pressure at which these machines work: R-600a at -47 C stands at 20 kPa.
DEEPEST_SUCTION: Final = 20e3  # Pa


@dataclass(frozen=True, slots=True, kw_only=True)
class StartRule:
    """Whether a start may be made, and why not."""

    allowed: bool
    reason: str  # empty when allowed


def breakdown_voltage(pressure: float, gap: float) -> float:
    """Voltage at which air between two terminals breaks down. [V]

    Infinite where the gas is too thin for an avalanche across this gap; a longer way round always
    exists in a shell, so that is no safety.

    Parameters
    ----------
    pressure : float
        Absolute. [Pa]
    gap : float
        [m]
    """
    x = pressure * gap
    below = math.log(_A * x) - math.log(_SECOND) if x > 0.0 else -math.inf
    return _B * x / below if below > 0.0 else math.inf


def start_rule(*, pressure: float | None, let_in_since: bool) -> StartRule:
    """Whether a compressor may be started or tested with voltage.

    Parameters
    ----------
    pressure : float or None
        In its shell, absolute; None when no gauge was read. [Pa]
    let_in_since : bool
        Whether refrigerant or dry gas was let in since the circuit was last evacuated.

    Notes
    -----
    Never energise a compressor under vacuum: application notes of compressor makers (PUBLISHED).
    """
    why = (
        "its motor has no gas to cool it, and thin gas breaks down at some 300 V, less than the "
        "peak of 230 V mains"
    )
    if pressure is not None and pressure < DEEPEST_SUCTION:
        return StartRule(
            allowed=False, reason=f"the circuit stands at {pressure:.0f} Pa absolute; {why}"
        )
    if pressure is None and not let_in_since:
        return StartRule(
            allowed=False, reason=f"nothing was let in since the circuit was evacuated; {why}"
        )
    return StartRule(allowed=True, reason="")

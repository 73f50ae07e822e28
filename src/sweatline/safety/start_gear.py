r"""Motor current, capacitors, whether a compressor will start, and why never under vacuum.

A low-starting-torque motor starts only against equal pressures. With a capillary the two sides
equalise after a stop, in minutes; until then the motor stalls and its protector opens. The formulae
are those of any electrical textbook.

A hermetic motor is cooled by the gas around it, and that gas holds off the voltage between its
terminals. The breakdown voltage of a gap d falls with the pressure (Paschen, 1889),

    V = B p d/(ln(A p d) - ln ln(1 + 1/gamma))

with A = 11.25 1/(Pa m), B = 273.8 V/(Pa m) and gamma = 0.01 for air (textbook, MEMORY 0.85), down
to some 300 V; the peak of 230 V mains is 325 V, and a start winding sees more.

Symbols of the functions below. A function's own list of parameters tells what differs there::

    power        active power [W]
    voltage      effective voltage across the load or the capacitor [V]
    current      effective current [A]
    capacitance  of the capacitor [F]
    frequency    of the mains [Hz]
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Final, Literal

from sweatline.answers import Amount, Note
from sweatline.errors import OutOfRange, check_positive

EQUAL_ENOUGH: Final = 0.3e5  # Pa, difference that counts as none; common practice, no standard
_COOL_DOWN: Final = 300.0  # s, a hot PTC needs this long; MEMORY 0.85
_VOLTAGE_BAND: Final = 0.10  # of the plate voltage; MEMORY 0.85
_BRANCH_DROP: Final = 0.03  # informational note of the US electrical code; MEMORY 0.85

NAMEPLATE_FIRST: Final = (
    "The plate's capacitor and relay come first. With a flammable refrigerant, replace relay, PTC "
    "and protector only by the identical type: others may not be free of sparks."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StartVerdict:
    """Whether a motor will start against a pressure difference."""

    verdict: Literal["ok", "marginal", "wrong"]
    sentence: str
    wait: float  # s to stand still before the next start
    source: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VoltageVerdict:
    """Voltage at the motor against its plate."""

    ratio: float  # of the plate voltage, at the motor
    drop_share: float  # of the supply voltage, lost in the branch
    holds: bool
    sentence: str
    status: str


_positive = functools.partial(check_positive, "motor current cannot be worked out")


def apparent_power(*, voltage: float, current: float) -> float:
    """Apparent power V I of a single-phase load. [VA]"""
    return voltage * current


def power_factor(*, power: float, voltage: float, current: float) -> float:
    """Power factor P/(V I) of a single-phase load. [-]

    Raises
    ------
    OutOfRange
        A value that is not positive, or readings that make it greater than 1.
    """
    _positive("power", power, "W")
    _positive("voltage", voltage, "V")
    _positive("current", current, "A")
    factor = power / apparent_power(voltage=voltage, current=current)
    if factor > 1.0:
        raise OutOfRange(
            "watts exceed volts times amperes; one of the readings is wrong",
            "power factor", factor, 0.0, 1.0,
        )  # fmt: skip
    return factor


def capacitor_current(*, capacitance: float, voltage: float, frequency: float) -> float:
    """Current 2 pi f C V through a capacitor. [A]"""
    return 2.0 * math.pi * frequency * capacitance * voltage


def capacitor_reactive_power(*, capacitance: float, voltage: float, frequency: float) -> float:
    """Reactive power 2 pi f C V^2 of a capacitor. [var]"""
    current = capacitor_current(capacitance=capacitance, voltage=voltage, frequency=frequency)
    return current * voltage


def capacitance(*, current: float, voltage: float, frequency: float) -> float:
    """Capacitance I/(2 pi f V) of a capacitor from a meter's readings. [F]"""
    _positive("voltage", voltage, "V")
    _positive("frequency", frequency, "Hz")
    return current / (2.0 * math.pi * frequency * voltage)


def capacitor_energy(*, capacitance: float, voltage: float) -> float:
    """Energy C V^2/2 left in a capacitor. [J]

    Parameters
    ----------
    voltage : float
        Across it, direct: up to 1.41 times the effective value. [V]
    """
    return 0.5 * capacitance * voltage**2


def discharge_time(*, capacitance: float, resistance: float, start: float, end: float) -> float:
    """Time R C ln(V0/V) for a capacitor to drain through a resistor. [s]

    Parameters
    ----------
    resistance : float
        [ohm]
    start, end : float
        Voltages across it. [V]
    """
    _positive("end voltage", end, "V")
    _positive("start voltage", start, "V")
    return max(resistance * capacitance * math.log(start / end), 0.0)


def start_verdict(
    *, starting_torque: Literal["low", "high", "unknown"], difference: float
) -> StartVerdict:
    """Judge a start against a pressure difference.

    Parameters
    ----------
    starting_torque : str
        ``low`` (RSIR, PSC, PTC), ``high`` (with a start capacitor) or ``unknown``.
    difference : float
        Discharge pressure less suction pressure at the moment of starting. [Pa]
    """
    if not math.isfinite(difference):
        raise OutOfRange(
            "start cannot be judged", "pressure difference", difference, 0.0, math.inf, "Pa"
        )
    equal = abs(difference) <= EQUAL_ENOUGH
    verdict: Literal["ok", "marginal", "wrong"] = "ok"
    wait = _COOL_DOWN if starting_torque != "high" else 0.0
    if starting_torque == "high":
        sentence = "A high-torque motor may start against a difference, given its start capacitor."
    elif equal:
        sentence = (
            "Both sides are equal, so it may start. After any stop let it stand five minutes: the "
            "capillary has to equalise and a PTC to cool."
        )
    elif starting_torque == "low":
        verdict = "wrong"
        sentence = (
            "A low-torque motor does not start against a difference: it hums until the protector "
            "opens. Let it stand five minutes, then look at the gauges again."
        )
    else:
        verdict = "marginal"
        sentence = (
            "The starting torque is not known. Without a start capacitor treat it as low: let the "
            "sides equalise first."
        )
    return StartVerdict(
        verdict=verdict,
        sentence=sentence,
        wait=wait,
        source="common practice of compressor makers",
        status="MEMORY 0.85",
    )


def voltage_verdict(*, supply: float, plate: float, drop: float = 0.0) -> VoltageVerdict:
    """Judge the voltage at the motor, which is the supply less the drop in the branch.

    Parameters
    ----------
    supply : float
        At the board. [V]
    plate : float
        On the motor's plate. [V]
    drop : float
        Lost in the branch. [V]
    """
    _positive("supply voltage", supply, "V")
    _positive("plate voltage", plate, "V")
    ratio = (supply - drop) / plate
    share = drop / supply
    near = abs(ratio - 1.0) <= _VOLTAGE_BAND + 1e-12
    if not near:
        sentence = (
            f"the motor sees {100.0 * ratio:.0f} % of its plate voltage; 90 to 110 % is meant"
        )
    elif share > _BRANCH_DROP:
        sentence = f"the branch loses {100.0 * share:.1f} % of the voltage; 3 % is usual at most"
    else:
        sentence = "voltage at the motor is within 10 % of its plate"
    return VoltageVerdict(
        ratio=ratio,
        drop_share=share,
        holds=near and share <= _BRANCH_DROP,
        sentence=sentence,
        status="MEMORY 0.85",
    )


# Below any suction pressure at which these machines work: R-600a at -47 C stands at 20 kPa.
DEEPEST_SUCTION: Final = 20e3  # Pa


@dataclass(frozen=True, slots=True, kw_only=True)
class StartRule:
    """Whether a start may be made, and why not."""

    allowed: bool
    reason: str  # empty when allowed


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
        "its motor has no gas to cool it, and thin gas breaks down at some 300 V, which its "
        "windings can reach"
    )
    if pressure is not None and pressure < DEEPEST_SUCTION:
        return StartRule(
            allowed=False,
            reason=Note(
                f"the circuit stands at {{}}; {why}", Amount("absolute pressure", (pressure,))
            ),
        )
    if pressure is None and not let_in_since:
        return StartRule(
            allowed=False, reason=f"nothing was let in since the circuit was evacuated; {why}"
        )
    return StartRule(allowed=True, reason="")

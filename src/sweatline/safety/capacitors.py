"""Motor capacitors: which size is usual, whether one at hand is good, and how to empty it.

The plate of the motor or the old part's marking decides; the usual sizes only tell whether a
marking is plausible. A capacitor keeps its charge after the plug is pulled.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Q
from sweatline.constants import HORSEPOWER
from sweatline.errors import OutOfRange, check_positive
from sweatline.safety.start_gear import capacitor_energy, discharge_time

SAFE_VOLTAGE: Final = 50.0  # V, direct; common practice
_EMPTY: Final = 1.0  # V, direct, as the steps below say
_SHORTEST_HOLD: Final = 5.0  # s

Use = Literal["start", "run"]

# Relative tolerance of a marking, down and up; MEMORY 0.65. A run capacitor is marked with 5, 6
# or 10 %: the usual 6 % is taken when none is given.
TOLERANCES: Final[dict[Use, tuple[float, float]]] = {"start": (0.0, 0.20), "run": (0.06, 0.06)}

DISCHARGE_STEPS: Final = (
    "Pull the plug and make sure that nobody can put it back.",
    "Measure the voltage across the terminals, with the meter on direct voltage and one hand in "
    "the pocket.",
    "Hold the resistor by insulated clips across the terminals for the time given, never a "
    "screwdriver: it burns, and breaks the capacitor inside.",
    "Measure again: below 1 V it is empty. A resistor may be broken, so the meter decides.",
    "Put a wire across the terminals while it is out of the circuit: some voltage comes back by "
    "itself.",
)

# Start capacitors of 115 V motors by size, from print remembered: horsepower, microfarads.
# MEMORY 0.4, all of it.
_START_115: Final = (
    (1.0 / 8.0, 75.0, 88.0),
    (1.0 / 6.0, 88.0, 108.0),
    (1.0 / 4.0, 108.0, 149.0),
    (1.0 / 3.0, 161.0, 193.0),
    (1.0 / 2.0, 216.0, 259.0),
    (3.0 / 4.0, 340.0, 400.0),
    (1.0, 400.0, 480.0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualSize(Answer):
    """Start capacitor that is usual for a motor of this size."""

    low: Annotated[float, Q("capacitance")]
    high: Annotated[float, Q("capacitance")]
    voltage_class: str
    sentence: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacitorVerdict(Answer):
    """Whether a capacitor will do."""

    verdict: Literal["ok", "marginal", "wrong"]
    sentence: str
    low: Annotated[float, Q("capacitance", doc="Smallest that the marking allows.")]
    high: Annotated[float, Q("capacitance", doc="Largest.")]
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Discharge(Answer):
    """How to empty a capacitor through a resistor."""

    resistance: Annotated[float, Q("resistance")]
    start: Annotated[float, Q("voltage", doc="The most it may hold, direct.")]
    safe: Annotated[float, Q("voltage")] = SAFE_VOLTAGE
    energy: Annotated[float, Q("energy", doc="At the start.")]
    time: Annotated[float, Q("time", doc="Until the safe voltage.")]
    hold: Annotated[float, Q("time", doc="To hold the resistor there: to 1 V, at least 5 s.")]
    first_power: Annotated[float, Q("power", doc="In the resistor at the first moment.")]
    first_current: Annotated[float, Q("current")]
    steps: tuple[str, ...] = DISCHARGE_STEPS


_positive = functools.partial(check_positive, "the capacitor cannot be judged")


def usual_start_size(power: float, voltage: float) -> UsualSize | None:
    """Start capacitor usual for a single-phase motor; None outside 1/8 to 1 hp.

    Capacitance goes with the current over the voltage, so for the same power it falls with the
    square of the voltage; the table is that of 115 V.

    Parameters
    ----------
    power : float
        Rated shaft power, 93 to 746 W (1/8 to 1 hp). [W]
    voltage : float
        On the plate. [V]
    """
    _positive("power", power, "W")
    _positive("voltage", voltage, "V")
    wanted = power / HORSEPOWER
    if not 0.9 / 8.0 <= wanted <= 1.1:
        return None
    _hp, low, high = min(_START_115, key=lambda row: abs(math.log(row[0] / wanted)))
    scale = (115.0 / voltage) ** 2 if voltage > 150.0 else 1.0
    return UsualSize(
        low=low * scale * 1e-6,
        high=high * scale * 1e-6,
        voltage_class="165, 250 or 330 V" if voltage > 150.0 else "110 to 125 V",
        sentence="small hermetic refrigerator motors often have 43 to 80 µF or none at all, and "
        "run capacitors of 4 to 15 µF; the plate and the old part come first",
        status="MEMORY 0.4",
    )


def judge_reading(
    *,
    use: Use,
    marked_low: float,
    marked_high: float,
    read: float,
    meter_sd: float,
) -> CapacitorVerdict:
    """Judge a capacitor by what a meter reads of it.

    Parameters
    ----------
    use : str
        ``start`` or ``run``.
    marked_low, marked_high : float
        Ends of the marking, equal when one number is marked. [F]
    read : float
        By a meter, the capacitor drained and out of the circuit. [F]
    meter_sd : float
        Standard error of the meter, relative, 0 to 0.5. [-]
    """
    for name, value in (("marking", marked_low), ("marking", marked_high), ("reading", read)):
        _positive(name, value, "F")
    if marked_high < marked_low:
        raise OutOfRange(
            "the marking runs backwards", "marking", marked_high, marked_low, math.inf, "F"
        )
    down, up = TOLERANCES[use]
    if marked_high > marked_low:
        down = up = 0.0
    low, high = marked_low * (1.0 - down), marked_high * (1.0 + up)
    slack = 2.0 * meter_sd * read
    verdict: Literal["ok", "marginal", "wrong"] = "ok"
    if low <= read <= high:
        sentence = "it reads within its marking"
    elif low - slack <= read <= high + slack:
        verdict = "marginal"
        sentence = "outside its marking by no more than the meter may be wrong"
    elif read < low:
        verdict = "wrong"
        sentence = "it has lost capacitance: the motor starts or runs weak and hot; replace it"
    else:
        verdict = "wrong"
        sentence = (
            "it reads more than it should: a winding was still connected, it leaks, or the "
            "marking is another part's; take it out of the circuit and read again"
        )
    return CapacitorVerdict(
        verdict=verdict,
        sentence=sentence,
        low=low,
        high=high,
        status="MEMORY 0.65" if marked_high == marked_low else "as marked",
    )


def judge_replacement(
    *,
    use: Use,
    marked_low: float,
    marked_high: float,
    voltage: float,
    offered: float,
    offered_voltage: float,
) -> CapacitorVerdict:
    """Judge another capacitor in place of the marked one.

    The value must lie within what the marking allows, and the voltage class must be no lower: the
    start winding sees more than the mains.

    Parameters
    ----------
    marked_low, marked_high, offered : float
        [F]
    voltage, offered_voltage : float
        Classes, alternating. [V]
    """
    fits = judge_reading(
        use=use, marked_low=marked_low, marked_high=marked_high, read=offered, meter_sd=0.0
    )
    _positive("voltage", voltage, "V")
    _positive("voltage", offered_voltage, "V")
    verdict: Literal["ok", "marginal", "wrong"] = "ok"
    if offered_voltage < voltage:
        verdict = "wrong"
        sentence = "its voltage class is lower than the original's; it will break down"
    elif fits.verdict != "ok":
        verdict = "wrong"
        sentence = "its value lies outside what the original's marking allows"
    else:
        sentence = "value and voltage class suit; its duty, start or run, must be the same too"
    return CapacitorVerdict(
        verdict=verdict, sentence=sentence, low=fits.low, high=fits.high, status="PUBLISHED"
    )


def discharge(*, capacitance: float, voltage: float, resistance: float) -> Discharge:
    """Empty a capacitor through a resistor.

    Parameters
    ----------
    capacitance : float
        [F]
    voltage : float
        The most it may have seen, effective; it may hold 1.41 times that. [V]
    resistance : float
        [ohm]
    """
    _positive("capacitance", capacitance, "F")
    _positive("voltage", voltage, "V")
    _positive("resistance", resistance, "ohm")
    start = math.sqrt(2.0) * voltage
    time = discharge_time(
        capacitance=capacitance, resistance=resistance, start=start, end=SAFE_VOLTAGE
    )
    return Discharge(
        resistance=resistance,
        start=start,
        energy=capacitor_energy(capacitance=capacitance, voltage=start),
        time=time,
        hold=max(
            discharge_time(capacitance=capacitance, resistance=resistance, start=start, end=_EMPTY),
            _SHORTEST_HOLD,
        ),
        first_power=start**2 / resistance,
        first_current=start / resistance,
    )

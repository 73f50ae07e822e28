"""A motor capacitor: as marked, as a meter reads it, and what is offered in its place."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Final

from sweatline.answers import Answer, Q, need
from sweatline.errors import JobError
from sweatline.safety.capacitors import (
    CapacitorVerdict,
    Discharge,
    Use,
    UsualSize,
    discharge,
    judge_reading,
    judge_replacement,
    usual_start_size,
)
from sweatline.safety.start_gear import capacitor_current, capacitor_reactive_power
from sweatline.units import quantity

_LEAST, _MOST = 1e-8, 5e-3  # F
_RANGE: Final = re.compile(r"^\s*(\d+(?:\.\d+)?)\s*(?:-|–|to)\s*(\d+(?:\.\d+)?)\s*(\D.*)$")
_RUN_AT_MOST: Final = 65e-6  # F; above it a motor capacitor is taken for a start capacitor


def _span(text: str) -> dict[str, float]:
    """A capacitance marked from one value to another, as "88-108 uF"."""
    span = _RANGE.match(text)
    if span is None:
        return {}
    low, high = (
        quantity(f"{end} {span[3]}", "capacitance", "", low=_LEAST, high=_MOST)
        for end in (span[1], span[2])
    )
    return {"capacitance": low, "up_to": high}


@dataclass(frozen=True, slots=True, kw_only=True)
class Marking:
    """What is marked on a capacitor."""

    capacitance: float = need("As marked.", "capacitance", _LEAST, _MOST, special=_span)  # F
    voltage: float = need("As marked.", "voltage", 10.0, 2000.0)  # V
    up_to: float | None = None  # F, where a span is marked

    def check(self, _before: Marking | None) -> None:
        """Refuse a span that runs backwards."""
        if self.highest < self.capacitance:
            raise JobError(
                what="the marking runs backwards", allowed='write for example "88-108 uF"'
            )

    @property
    def highest(self) -> float:
        """Upper end of the marking. [F]"""
        return self.capacitance if self.up_to is None else self.up_to

    @property
    def use(self) -> Use:
        """What a capacitor of this size is for."""
        return "run" if self.capacitance <= _RUN_AT_MOST else "start"


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacitor(Answer):
    """The capacitor as marked, as read, and what is offered instead."""

    use: Use
    marked_low: Annotated[float, Q("capacitance")]
    marked_high: Annotated[float, Q("capacitance")]
    voltage: Annotated[float, Q("voltage")]
    reactance: Annotated[float | None, Q("resistance", "reactance", "Null without a frequency.")]
    current: Annotated[float | None, Q("current", "at its voltage", "At its rated voltage.")]
    reactive: Annotated[float | None, Q("power", unit="var")]
    allowed_low: Annotated[float, Q("capacitance")]
    allowed_high: Annotated[float, Q("capacitance")]
    allowed_status: str
    read: Annotated[float | None, Q("capacitance", "reads")]
    reading: CapacitorVerdict | None
    """On what the meter reads."""
    offered: Annotated[float | None, Q("capacitance", "offered instead")]
    offered_voltage: Annotated[float | None, Q("voltage")]
    replacement: CapacitorVerdict | None
    """On what is offered."""
    discharge: Discharge


def usual_size(power: float, voltage: float | None, notes: list[str]) -> UsualSize | None:
    """Usual start capacitor for a motor of this size.

    Parameters
    ----------
    power : float
        At the shaft. [W]
    voltage : float or None
        On the plate. [V]

    Raises
    ------
    JobError
        The voltage is not known.
    """
    if voltage is None:
        raise JobError(
            what="the usual capacitor depends on the motor's voltage",
            allowed="give it",
            field="plate_volts",
        )
    found = usual_start_size(power, voltage)
    if found is None:
        notes.append("usual start capacitors are listed for motors of 1/8 to 1 hp only")
    return found


def judged_capacitor(
    told: Marking,
    notes: list[str],
    *,
    use: Use | None,
    reads: float | None,
    offered: Marking | None,
    frequency: float | None,
    meter_error: float,
    resistor: float,
) -> Capacitor:
    """A capacitor against its marking, and how to drain it.

    Parameters
    ----------
    reads : float or None
        By a meter. [F]
    frequency : float or None
        Of the mains. [Hz]
    meter_error : float
        One standard deviation, relative. [-]
    resistor : float
        To drain it through. [ohm]
    """
    low, high = told.capacitance, told.highest
    use = use or told.use
    read = judge_reading(
        use=use,
        marked_low=low,
        marked_high=high,
        read=reads if reads is not None else low,
        meter_sd=meter_error,
    )
    middle = 0.5 * (low + high)
    current = reactive = None
    if frequency is not None:
        current = capacitor_current(capacitance=middle, voltage=told.voltage, frequency=frequency)
        reactive = capacitor_reactive_power(
            capacitance=middle, voltage=told.voltage, frequency=frequency
        )
    if use == "start":
        notes.append(
            "a start capacitor is made for seconds: one that stays in circuit bursts; a bleeder of "
            "15 kohm 2 W across it spares the relay's contacts"
        )
    if use == "run" and not 1e-6 <= middle <= 100e-6:
        notes.append("run capacitors have 1.5 to 100 µF: this one looks like a start capacitor")
    replacement = None
    if offered is not None:
        replacement = judge_replacement(
            use=use,
            marked_low=low,
            marked_high=high,
            voltage=told.voltage,
            offered=offered.capacitance,
            offered_voltage=offered.voltage,
        )
    return Capacitor(
        use=use,
        marked_low=low,
        marked_high=high,
        voltage=told.voltage,
        reactance=told.voltage / current if current is not None else None,
        current=current,
        reactive=reactive,
        allowed_low=read.low,
        allowed_high=read.high,
        allowed_status=read.status,
        read=reads,
        reading=read if reads is not None else None,
        offered=offered.capacitance if offered is not None else None,
        offered_voltage=offered.voltage if offered is not None else None,
        replacement=replacement,
        discharge=discharge(capacitance=read.high, voltage=told.voltage, resistance=resistor),
    )

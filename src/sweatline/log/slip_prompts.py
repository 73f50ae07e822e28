"""What is asked about an entry that looks like a slip, and the correction that is offered."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from sweatline.log.channels import kind_of
from sweatline.log.entries import Entry
from sweatline.log.plausibility import Doubt
from sweatline.units import Kind, System, show
from sweatline.units.kinds import units_of

_DIGITS: Final = 4


def _told(value: float, kind: Kind, entry: Entry, atmosphere: float, system: System) -> str:
    """A value in the unit that the person just typed, where it is one of this kind."""
    for unit in units_of(kind):
        if unit.name == entry.unit:
            return f"{unit.number(value, atmosphere):.{_DIGITS}g} {unit.name}"
    return show(value, kind, system, _DIGITS, atmosphere=atmosphere)


def offered(entry: Entry, doubts: Sequence[Doubt], atmosphere: float, system: System) -> str:
    """What the person probably meant, as it would be typed; empty where no slip tells."""
    for doubt in doubts:
        if doubt.meant is not None:
            return _told(doubt.meant, kind_of(entry.channel), entry, atmosphere, system)
    return ""


def question(entry: Entry, doubt: Doubt, atmosphere: float, system: System) -> str:
    """One doubt as a question to the person who typed the entry."""
    clock = datetime.fromtimestamp(doubt.beside.happened_at).strftime("%H:%M:%S")
    if doubt.slip == "twice":
        what = "the addition of" if entry.kind == "addition" else entry.channel
        return f"{what} {entry.text} stands in the log already at {clock}: typed twice?"
    if doubt.slip == "earlier":
        return f"is the time right? A later {entry.channel}, of {clock}, is in the log already"
    if doubt.slip == "clock back":
        return "the clock of this machine has been set back since the last entry: is it right now?"
    kind: Kind = kind_of(entry.channel)
    other = _told(doubt.beside.number, kind_of(doubt.beside.channel), entry, atmosphere, system)
    meant = "" if doubt.meant is None else _told(doubt.meant, kind, entry, atmosphere, system)
    if doubt.slip == "scale went up":
        return (
            f"the scale went up from {other}: was the cylinder changed or the hose moved? "
            "Refrigerant does not go back by itself"
        )
    if doubt.slip == "suction above head":
        side = "above the head gauge" if entry.channel == "suction gauge" else "below the suction"
        return (
            f"the {entry.channel} reads {side} ({other}): are the hoses swapped, or the names? "
            "Then correct both"
        )
    if doubt.slip == "warmer than the air":
        air = _told(doubt.saturation or 0.0, "temperature", entry, atmosphere, system)
        hint = f" In the other degrees it would be {meant}" if meant else ""
        return (
            f"{entry.channel} {entry.text} is warmer than the air at the machine, {air}, which is "
            f"all that warms it: another unit, or the thermometer's seat?{hint}"
        )
    if doubt.saturation is not None:
        saturated = _told(doubt.saturation, "temperature", entry, atmosphere, system)
        side = "colder" if doubt.slip == "below saturation" else "warmer"
        hint = (
            f"As {meant} they would fit: another unit or zero?"
            if meant
            else "Check the gauge's zero, the thermometer's seat and the refrigerant"
        )
        return (
            f"{entry.channel} {entry.text} and {doubt.beside.channel} {other} cannot both be "
            f"right: the gas or liquid would be {side} than its saturation, {saturated}. {hint}"
        )
    if doubt.slip == "zero of the gauge":
        return (
            f"{entry.text} is one atmosphere from the last reading ({other} at {clock}): gauge or "
            f"absolute? If the other was meant, correct it to {meant}; or was the last one wrong?"
        )
    return f"{entry.text} fits another unit: the last was {other}. Correct it to {meant}?"

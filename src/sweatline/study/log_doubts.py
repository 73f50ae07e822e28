"""Questions about a reading that was just typed, from what stands in the log beside it."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Final, Literal

from sweatline.study.log_vocabulary import CHANNELS, EMPTIED

if TYPE_CHECKING:
    from sweatline.bench.plausible import Circumstances, Doubt, Reading
    from sweatline.store.entries import Entry
    from sweatline.units import Kind, System

__all__ = ["doubts_about", "question"]

_DIGITS: Final = 4


def doubts_about(
    entry: Entry, held: Sequence[Entry], facts: Mapping[str, str], atmosphere: float
) -> tuple[Doubt, ...]:
    """Slips that would explain a reading, held against what stands in the log."""
    from sweatline.bench.plausible import doubts

    before = [_reading(e) for e in held if e.kind == "reading"]
    before.sort(key=lambda r: r.written)
    return doubts(_reading(entry), before, _circumstances(held, facts, atmosphere))


def _reading(entry: Entry) -> Reading:
    from sweatline.bench.plausible import Reading

    kind: Literal["pressure", "temperature", "mass", "other"] = "other"
    if "pressure" in entry.quantity:
        kind = "pressure"
    elif entry.quantity in ("temperature", "mass"):
        kind = "temperature" if entry.quantity == "temperature" else "mass"
    return Reading(
        channel=entry.channel,
        kind=kind,
        value=float(entry.value or 0.0),
        at=entry.happened_at,
        written=entry.written_at or time.time(),
    )


def _circumstances(
    held: Sequence[Entry], facts: Mapping[str, str], atmosphere: float
) -> Circumstances:
    from sweatline.bench.plausible import Circumstances

    running = False
    disturbed = None
    name = facts.get("refrigerant", "")
    inside = name
    for e in held:
        if e.kind == "event":
            running = {"started": True, "stopped": False}.get(e.channel, running)
            if e.channel in EMPTIED:
                inside = ""
            elif e.channel == "vacuum broken" and "nitrogen" not in e.text.casefold():
                inside = name
        elif e.kind == "addition":
            inside = name
        if e.kind in ("event", "addition"):
            disturbed = e.happened_at
    if not inside:
        return Circumstances(atmosphere=atmosphere, running=running, disturbed_at=disturbed)
    from sweatline.refrigerant.refrigerant import load

    fluid = load(inside)

    def within(p: float) -> float:
        return min(max(p, fluid.table.p_min), fluid.table.p_max)

    return Circumstances(
        atmosphere=atmosphere,
        dew=lambda p: fluid.saturation_temperature(within(p)).dew,
        bubble=lambda p: fluid.saturation_temperature(within(p)).bubble,
        running=running,
        disturbed_at=disturbed,
    )


def question(entry: Entry, doubt: Doubt, atmosphere: float, system: System) -> str:
    """One doubt as a question to the person who typed the reading."""
    from sweatline.units import show
    from sweatline.units.kinds import units_of

    def told(value: float, kind: Kind) -> str:
        # In the unit that the person just typed, where it is one of this kind.
        for unit in units_of(kind):
            if unit.name == entry.unit:
                return f"{unit.number(value, atmosphere):.{_DIGITS}g} {unit.name}"
        return show(value, kind, system, _DIGITS, atmosphere=atmosphere)

    kind: Kind = CHANNELS[entry.channel]
    other = told(doubt.beside.value, CHANNELS[doubt.beside.channel])
    clock = datetime.fromtimestamp(doubt.beside.at).strftime("%H:%M:%S")
    if doubt.slip == "twice":
        return f"{entry.channel} {entry.text} stands in the log already at {clock}: typed twice?"
    if doubt.slip == "earlier":
        return f"is the time right? A later {entry.channel}, of {clock}, is in the log already"
    if doubt.slip == "clock back":
        return "the clock of this machine has been set back since the last entry: is it right now?"
    if doubt.slip == "scale went up":
        return (
            f"the scale went up from {other}: was the cylinder changed or the hose moved? "
            "Refrigerant does not go back by itself"
        )
    if doubt.slip == "suction above head":
        return f"the suction gauge reads above the head gauge ({other}): are the hoses swapped?"
    if doubt.saturation is not None:
        saturated = told(doubt.saturation, "temperature")
        side = "colder" if doubt.slip == "below saturation" else "warmer"
        return (
            f"{entry.channel} {entry.text} and {doubt.beside.channel} {other} cannot both be "
            f"right: the gas or liquid would be {side} than its saturation, {saturated}. "
            "Check the gauge's zero, the thermometer's seat and the refrigerant"
        )
    meant = "" if doubt.meant is None else told(doubt.meant, kind)
    if doubt.slip == "zero of the gauge":
        return (
            f"{entry.text} is one atmosphere from the last reading ({other}): gauge or absolute? "
            f"If the other was meant, correct it to {meant}"
        )
    return f"{entry.text} fits another unit: the last was {other}. Correct it to {meant}?"

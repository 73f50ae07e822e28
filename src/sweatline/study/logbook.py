"""Keeping a log at the machine: what a person types, made into entries, and questioned.

A reading is kept whatever it says. If it looks like a slip the person is asked, with the value
that was probably meant; the answer is a correction, which is a new row.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Final, Literal

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError, StoreError

if TYPE_CHECKING:
    from sweatline.bench.plausible import Circumstances, Doubt, Reading
    from sweatline.store.entries import Entry, Phase
    from sweatline.store.log import Log
    from sweatline.study.records import LogRecord
    from sweatline.units import Kind, System

__all__ = [
    "CHANNELS",
    "EVENTS",
    "Kept",
    "channel_named",
    "keep",
    "log_record",
    "moment",
    "open_log",
    "question",
    "start_refused",
]

# What can be read, and the kind of quantity it is.
CHANNELS: Final[Mapping[str, Kind]] = {
    "suction gauge": "pressure",
    "head gauge": "pressure",
    "vacuum gauge": "absolute pressure",
    "suction gas": "temperature",
    "discharge gas": "temperature",
    "liquid line": "temperature",
    "evaporator bend": "temperature",
    "condenser bend": "temperature",
    "coil": "temperature",
    "shell": "temperature",
    "air in": "temperature",
    "air between": "temperature",
    "air out": "temperature",
    "room humidity": "relative humidity",
    "air out humidity": "relative humidity",
    "watts": "power",
    "amps": "current",
    "volts": "voltage",
    "water": "volume",
    "scale": "mass",
}

# What can happen, and what it means for the circuit.
EVENTS: Final[Mapping[str, str]] = {
    "started": "the compressor was switched on",
    "stopped": "the compressor was switched off",
    "opened": "the circuit was opened to the air",
    "pressurised": "nitrogen or another test gas was let in",
    "evacuating": "the vacuum pump was started",
    "isolated": "the pump was valved off",
    "vacuum broken": "refrigerant or dry gas was let in on the vacuum",
    "cylinder changed": "another cylinder stands on the scale",
}

_DIGITS: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """An entry that is in the log, and what deserves a question about it."""

    entry: Entry
    questions: tuple[str, ...]


def channel_named(text: str) -> str:
    """A channel by its name or the beginning of it.

    Raises
    ------
    JobError
        None or several fit.
    """
    return _named(text, tuple(CHANNELS), "reading")


def _named(text: str, names: Sequence[str], what: str) -> str:
    wanted = " ".join(text.replace("-", " ").casefold().split())
    if wanted in names:
        return wanted
    near = [n for n in names if n.startswith(wanted)] if wanted else []
    if len(near) == 1:
        return near[0]
    raise JobError(
        what=f"no {what} of that name" if not near else f"several {what}s begin like that",
        read=text,
        allowed=f"choose one of: {', '.join(near or names)}",
    )


def moment(text: str | None, *, now: float | None = None) -> float:
    """Seconds since 1970 (UTC) of a time as typed: ``14:05``, ``14:05:30``, a full date and time.

    Times without a date are today's, times without a zone are local; nothing is now.

    Raises
    ------
    JobError
        Not a time.
    """
    current = time.time() if now is None else now
    if text is None:
        return current
    today = datetime.fromtimestamp(current).astimezone()
    typed = " ".join(text.split())
    try:
        if len(typed) <= 8 and ":" in typed:
            hour, minute, *rest = (int(part) for part in typed.split(":"))
            second = rest[0] if rest else 0
            found = today.replace(hour=hour, minute=minute, second=second, microsecond=0)
        else:
            found = datetime.fromisoformat(typed)
            if found.tzinfo is None:
                found = found.astimezone()
    except (ValueError, IndexError) as error:
        raise JobError(
            what="not a time", read=text, allowed="write 14:05, 14:05:30 or 2026-03-14 14:05"
        ) from error
    return found.timestamp()


def keep(
    log: Log,
    *,
    kind: Literal["reading", "addition", "note", "event", "withdrawal"],
    text: str,
    channel: str = "",
    at: float | None = None,
    instrument: str = "",
    refrigerant: str = "",
    phase: Phase = "",
    corrects: int | None = None,
    key: str = "",
) -> Kept:
    """Write what a person typed into a log, and ask about it if it looks like a slip.

    Parameters
    ----------
    text : str
        The quantity of a reading or an addition with its unit, else words.
    channel : str
        Name of the reading or of the event.
    at : float, optional
        When it happened. [s since 1970, UTC] Now by default.
    corrects : int, optional
        Number of the entry whose place it takes; an unset channel is then that one's.

    Raises
    ------
    JobError
        Not a quantity of that kind, or no such channel; nothing is written then.
    PhysicsError
        A start of a compressor in vacuum; it is not recorded, a note of the attempt is.
    StoreError
        The log cannot be written.
    """
    from sweatline.store.entries import Entry, standing
    from sweatline.units import parse

    facts = log.about()
    atmosphere = float(facts.get("atmosphere_Pa", STANDARD_ATMOSPHERE))
    rows = log.entries()
    held = standing(rows)
    if corrects is not None:
        corrected = next((e for e in rows if e.id == corrects), None)
        if corrected is None:
            raise StoreError(what=f"there is no entry {corrects} to correct", path=str(log.path))
        if kind != "withdrawal":
            kind, channel = corrected.kind, channel or corrected.channel
            refrigerant = refrigerant or corrected.refrigerant
            phase = phase or corrected.phase
            instrument = instrument or corrected.instrument
            at = corrected.happened_at if at is None else at
        held = [e for e in held if e.id != corrects]
    entry = Entry(
        kind=kind,
        happened_at=time.time() if at is None else at,
        text=text,
        key=key,
        instrument=instrument,
        refrigerant=refrigerant,
        phase=phase,
        corrects=corrects,
    )
    if kind == "reading":
        name = channel_named(channel)
        parsed = parse(text, CHANNELS[name], atmosphere=atmosphere)
        entry = replace(
            entry,
            channel=name,
            quantity=CHANNELS[name],
            value=parsed.value,
            sd=parsed.sd,
            unit=parsed.unit,
            atmosphere=atmosphere,
        )
    elif kind == "addition":
        parsed = parse(text, "mass")
        if parsed.value <= 0.0:
            raise JobError(
                what="an addition must be more than nothing",
                read=text,
                allowed="a note says what was let out",
            )
        entry = replace(
            entry,
            quantity="mass",
            value=parsed.value,
            sd=parsed.sd,
            unit=parsed.unit,
            refrigerant=refrigerant or facts.get("refrigerant", ""),
        )
    elif kind == "event":
        entry = replace(entry, channel=_named(channel, tuple(EVENTS), "event"))
        if entry.channel == "started":
            _refuse_start_in_vacuum(log, held, entry)
    questions: tuple[str, ...] = ()
    repeated = bool(key) and any(e.key == key for e in rows)
    asked: tuple[Doubt, ...] = ()
    if kind == "reading" and not repeated:
        asked = _doubts(entry, held, facts, atmosphere)
    written = log.append(entry)
    if asked:
        system: System = "US" if facts.get("units") == "US" else "SI"
        questions = tuple(question(written, d, atmosphere, system) for d in asked)
    return Kept(entry=written, questions=questions)


def open_log(
    path: str,
    *,
    new: bool = False,
    machine: str = "",
    refrigerant: str = "",
    atmosphere: float | None = None,
    system: str = "",
) -> Log:
    """A log file, ready to be written; `new` makes it and states what it is about."""
    from pathlib import Path

    from sweatline.store.log import Log

    place = Path(path)
    if new and place.exists():
        raise StoreError(what="there is a file of that name already", path=path)
    if new and refrigerant:
        from sweatline.refrigerant.refrigerant import find

        refrigerant = find(refrigerant)
    log = Log(place, must_exist=not new)
    if new:
        facts = {
            "machine": machine,
            "refrigerant": refrigerant,
            "units": system,
            "atmosphere_Pa": repr(STANDARD_ATMOSPHERE if atmosphere is None else atmosphere),
        }
        log.set_about({k: v for k, v in facts.items() if v})
    return log


def log_record(
    log: Log, *, only: Sequence[Entry] | None = None, questions: Sequence[str] = ()
) -> LogRecord:
    """What stands in a log; `only` some entries of it."""
    import sweatline
    from sweatline.store.entries import standing
    from sweatline.study.records import EntryRecord, LogRecord

    rows = log.entries()
    held = {e.id for e in standing(rows)}
    return LogRecord(
        command="log",
        version=sweatline.__version__,
        path=str(log.path),
        about=log.about(),
        entries=tuple(
            EntryRecord(
                number=e.id,
                kind=e.kind,
                happened=datetime.fromtimestamp(e.happened_at)
                .astimezone()
                .isoformat("T", "seconds"),
                happened_at_s=e.happened_at,
                what=e.channel,
                text=e.text,
                value_SI=e.value,
                quantity=e.quantity,
                instrument=e.instrument,
                refrigerant=e.refrigerant,
                phase=e.phase,
                corrects=e.corrects,
                holds=e.id in held,
            )
            for e in (rows if only is None else only)
        ),
        questions=tuple(questions),
    )


def start_refused(held: Sequence[Entry]) -> str:
    """Why a compressor must not be started as things stand in the log; empty when it may be.

    The rule is :func:`sweatline.safety.vacuum_start.start_rule`; here is only what the log says.
    """
    from sweatline.safety.vacuum_start import start_rule

    pressure: float | None = None
    let_in = True
    for e in held:
        if e.kind == "addition" or (e.kind == "event" and e.channel in _GAS_LET_IN):
            pressure, let_in = None, True
        elif e.kind == "event" and e.channel == "evacuating":
            pressure, let_in = None, False
        elif e.kind == "reading" and e.channel == "vacuum gauge":
            pressure = e.value
    return start_rule(pressure=pressure, let_in_since=let_in).reason


_GAS_LET_IN: Final = ("pressurised", "vacuum broken", "opened")


def _refuse_start_in_vacuum(log: Log, held: Sequence[Entry], entry: Entry) -> None:
    from sweatline.errors import PhysicsError
    from sweatline.store.entries import Entry

    reason = start_refused([e for e in held if e.happened_at <= entry.happened_at])
    if reason:
        log.append(
            Entry(
                kind="note",
                happened_at=entry.happened_at,
                text=f"a start was refused: {reason}",
                key=f"{entry.key}-refused" if entry.key else "",
            )
        )
        raise PhysicsError(
            what=f"not recorded as started: {reason}. A compressor is never run or tested under "
            "vacuum: break it with vapour and record that first"
        )


def _doubts(
    entry: Entry, held: Sequence[Entry], facts: Mapping[str, str], atmosphere: float
) -> tuple[Doubt, ...]:
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
    for e in held:
        if e.kind == "event":
            running = {"started": True, "stopped": False}.get(e.channel, running)
        if e.kind in ("event", "addition"):
            disturbed = e.happened_at
    name = facts.get("refrigerant", "")
    if not name:
        return Circumstances(atmosphere=atmosphere, running=running, disturbed_at=disturbed)
    from sweatline.refrigerant.refrigerant import load

    fluid = load(name)

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

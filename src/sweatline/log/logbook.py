"""Keeping a log at the machine: what a person types, made into entries, and questioned.

A reading is kept whatever it says. If it looks like a slip the person is asked, with the value
that was probably meant; the answer is a correction, which is a new row.

No log holds a start of a compressor under vacuum. It is kept so wherever an entry comes from: a
start typed, an earlier entry corrected or withdrawn, another one put in before the start, a log
read in. The rule itself is :func:`sweatline.safety.start_gear.start_rule`; here is only what the
log says.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Final, Literal

from sweatline.answers import Answer, Note, record_of, told
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError, PhysicsError, StoreError
from sweatline.log.channels import (
    ACKNOWLEDGED,
    CHANNELS,
    INSTRUMENT_CHANGED,
    LARGEST_ADDITION,
    RULED_OUT,
)
from sweatline.log.data_quality import DataQuality
from sweatline.log.entries import Entry, Instrument, Kind, Phase, active_entries
from sweatline.log.lines import (
    Instruction,
    acknowledgement,
    changed_instrument,
    channel_named,
    event_named,
    instructions,
    what_is_ruled_out,
)
from sweatline.log.plausibility import Mending, mending, question
from sweatline.log.store import IN_MEMORY, Log, from_csv, from_json
from sweatline.parts.hose import Can, Hose
from sweatline.refrigerant.refrigerant import find
from sweatline.safety.start_gear import DEEPEST_SUCTION, start_rule
from sweatline.units import Scale, System, parse, quantity

_LET_IN: Final = ("pressurised", "vacuum broken", "opened")
_SHOWN_AT_REST: Final = ("suction gauge", "head gauge")


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRow(Entry):
    """One row of a log, and whether it holds."""

    happened: str
    """Local date and time, ISO 8601."""
    holds: bool
    """False for a row that has been corrected or withdrawn."""
    in_doubt: bool
    """It looks like a slip, and nobody has confirmed it yet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogContents(Answer):
    """What stands in a log, or what has just been written into it."""

    path: str
    about: dict[str, str]
    entries: tuple[LogRow, ...]
    questions: tuple[str, ...]
    """About the entry just written, where it looks like a slip."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """An entry that is in the log, and what deserves a question about it."""

    entry: Entry
    questions: tuple[str, ...]
    mending: Mending | None = None  # what would put it right, were the slip what it looks like
    repeated: bool = False  # it stood in the log already under its key; nothing was written


def keep(
    log: Log,
    *,
    kind: Kind,
    text: str,
    channel: str = "",
    at: float | None = None,
    instrument: str = "",
    refrigerant: str = "",
    phase: Phase = "",
    corrects: int | None = None,
    key: str = "",
    quality: DataQuality | None = None,
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
        Number of the entry whose place it takes; an unset channel is then that one's. The same
        value again confirms it.
    quality : DataQuality, optional
        Of this log, kept by whoever writes many entries.

    Raises
    ------
    JobError
        Not a quantity of that kind, or no such channel; nothing is written then.
    PhysicsError
        A start of a compressor in vacuum; it is not recorded, a note of the attempt is.
    StoreError
        The log cannot be written.
    """
    facts = log.about()
    quality = DataQuality(facts) if quality is None else quality
    quality.catch_up(log)
    atmosphere = quality.atmosphere
    rows = quality.rows
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
        entry = _reading(entry, channel, atmosphere)
    elif kind == "addition":
        entry = _addition(entry, facts)
    elif kind == "event":
        entry = _event(entry, channel, atmosphere)
    known = next((e for e in rows if e.key == key), None) if key else None
    if known is not None:  # tried again: nothing new happens, and the first time stands
        entry = replace(entry, happened_at=known.happened_at)
        return Kept(entry=log.append(entry), questions=(), repeated=True)
    system: System = "US" if facts.get("units") == "US" else "SI"
    _refuse_start_in_vacuum(log, rows, entry, now=at is None, scale=Scale(system))
    questions = _questions(entry, quality)
    if entry.event == INSTRUMENT_CHANGED:
        log.add_instrument(Instrument(name=entry.instrument))
    written = log.append(entry)
    quality.catch_up(log)
    doubts = quality.in_doubt(written)
    return Kept(
        entry=written,
        questions=(*questions, *(question(written, d, atmosphere, system) for d in doubts)),
        mending=mending(written, doubts, atmosphere, system),
    )


def confirm(log: Log, number: int, *, key: str = "", quality: DataQuality | None = None) -> Kept:
    """Say that an entry was right as it was typed: a further row that says the same again.

    Raises
    ------
    JobError
        No such entry, or one that has no value.
    StoreError
        The log cannot be written.
    """
    quality = DataQuality(log.about()) if quality is None else quality
    quality.catch_up(log)
    row = quality.latest_of(number)
    if row is None or not (row.kind in ("reading", "addition") or quality.in_doubt(row)):
        raise JobError(what=f"there is no reading or addition {number} to confirm")
    return keep(log, kind=row.kind, text=row.text, corrects=number, key=key, quality=quality)


def swap(
    log: Log, one: int, other: int, *, key: str = "", quality: DataQuality | None = None
) -> Kept:
    """Exchange what two readings of one kind say: a correction of each.

    Raises
    ------
    JobError
        No such readings, or of different kinds; nothing is written then.
    StoreError
        The log cannot be written.
    """
    quality = DataQuality(log.about()) if quality is None else quality
    quality.catch_up(log)
    first, second = quality.latest_of(one), quality.latest_of(other)
    if (
        first is None or second is None or quality.first_of(one) == quality.first_of(other)
        or {first.kind, second.kind} != {"reading"} or first.quantity != second.quantity
    ):  # fmt: skip
        raise JobError(
            what=f"entries {one} and {other} cannot be exchanged",
            allowed="two readings of one kind, as two temperatures",
        )
    texts = {one: second.text, other: first.text}
    for number, text in texts.items():
        kept = keep(
            log, kind="reading", text=text, corrects=number, quality=quality,
            key=key and f"{key}-{number}",
        )  # fmt: skip
    return kept


def write_line(
    log: Log,
    line: str,
    *,
    at: float | None = None,
    key: str = "",
    quality: DataQuality | None = None,
    time_of: Callable[[str], float] | None = None,
) -> list[Kept]:
    """Write what a line says into a log: all of it, or nothing where a piece is not understood.

    Parameters
    ----------
    line : str
        As `sweatline charge` takes it; several things are divided by semicolons.
    at : float, optional
        When it happened, where the line does not say. [s since 1970, UTC] Now by default.
    key : str
        The same key with the same line again writes nothing.
    time_of : callable, optional
        Reads a time in the line; by default a clock without a date is today's. [s since 1970]

    Raises
    ------
    JobError
        Not understood, or nothing to write down.
    PhysicsError
        A start under vacuum; it is refused, and a note of it kept.
    StoreError
        The log cannot be written.
    """
    said = list(instructions(line, time_of))
    for one in said:
        if isinstance(one, JobError):
            raise one
    return [
        carry_out(log, one, at=at, key=key and f"{key}-{n}", quality=quality)
        for n, one in enumerate(said)
        if not isinstance(one, JobError)
    ]


def carry_out(
    log: Log,
    said: Instruction,
    *,
    at: float | None = None,
    key: str = "",
    quality: DataQuality | None = None,
) -> Kept:
    """Write down what one instruction of a line says; arguments and errors as of :func:`keep`."""
    quality = DataQuality(log.about()) if quality is None else quality
    quality.catch_up(log)
    if said.kind == "confirmation":
        return confirm(log, _meant(said.number, quality), key=key, quality=quality)
    if said.kind in ("correction", "withdrawal"):
        return keep(
            log,
            kind="withdrawal" if said.kind == "withdrawal" else "reading",
            text=said.text,
            corrects=_meant(said.number, quality),
            at=said.moved_to,
            key=key,
            quality=quality,
        )
    if said.kind == "exchange":
        return swap(log, said.number or 0, int(said.text), key=key, quality=quality)
    kind = said.kind
    if kind not in ("reading", "addition", "note", "event"):
        raise JobError(what="nothing to write down", read=kind)
    if said.instrument:
        log.add_instrument(Instrument(name=said.instrument))
    return keep(
        log,
        kind=kind,
        text=said.text,
        channel=said.channel,
        at=at if said.at is None else said.at,
        instrument=said.instrument,
        phase=said.phase,
        key=key,
        quality=quality,
    )


def _meant(number: int | None, quality: DataQuality) -> int:
    if number is None:
        doubted = sorted(quality.doubted)
        if len(doubted) != 1:
            listed = ", ".join(str(n) for n in doubted)
            raise JobError(
                what="which entry?" if doubted else "no entry is in doubt",
                read="confirm",
                allowed=f"in doubt are {listed}; as `confirm {doubted[0]}`" if doubted else "",
            )
        return doubted[0]
    if quality.latest_of(number) is None:
        raise JobError(what="there is no such entry", read=str(number))
    return number


def _reading(entry: Entry, channel: str, atmosphere: float) -> Entry:
    name = channel_named(channel, entry.text)
    kind = CHANNELS[name].kind
    parsed = parse(entry.text, kind, atmosphere=atmosphere)
    return replace(
        entry,
        channel=name,
        quantity=kind,
        value=parsed.value,
        sd=parsed.sd,
        unit=parsed.unit,
        atmosphere=atmosphere,
    )


def _mass(entry: Entry, what: str, allowed: str) -> Entry:
    parsed = parse(entry.text, "mass")
    if parsed.value <= 0.0:
        raise JobError(what=what, read=entry.text, allowed=allowed)
    quantity(entry.text, "mass", entry.channel or "added", high=LARGEST_ADDITION)
    return replace(entry, quantity="mass", value=parsed.value, sd=parsed.sd, unit=parsed.unit)


def _addition(entry: Entry, facts: Mapping[str, str]) -> Entry:
    weighed = _mass(
        entry,
        "an addition must be more than nothing",
        "what was let out is an event: vented, with its mass",
    )
    return replace(weighed, refrigerant=entry.refrigerant or facts.get("refrigerant", ""))


def _event(entry: Entry, channel: str, atmosphere: float) -> Entry:
    """An event; one that carries a quantity is read now, so that a slip is told now."""
    entry = replace(entry, channel=event_named(channel), atmosphere=atmosphere)
    if entry.channel == "vented":
        return _mass(entry, "what was let out has a mass", 'write for example "2 ± 1 g"')
    if entry.channel == "hose left":
        record_of(Hose, entry.text, where=entry.channel, zero=atmosphere)
    elif entry.channel == "can emptied":
        record_of(Can, entry.text, where=entry.channel, zero=atmosphere)
    elif entry.channel == ACKNOWLEDGED:
        acknowledgement(entry.text)
    elif entry.channel == RULED_OUT:
        what_is_ruled_out(entry.text)
    elif entry.channel == INSTRUMENT_CHANGED:
        _reading, name = changed_instrument(entry.text)
        return replace(entry, instrument=name)
    return entry


def _questions(entry: Entry, quality: DataQuality) -> tuple[str, ...]:
    plain = entry.kind in ("note", "addition", "reading") and entry.channel != "vacuum gauge"
    if plain and entry.corrects is None:
        return ()
    found: list[str] = []
    held = [e for e in quality.held() if e.id != entry.corrects]
    if entry.channel == "started" and start_refused(held):
        found.append(
            "is the time right? By the log the circuit stands under vacuum now, and this start is "
            "said to have been before: never start it as it stands"
        )
    with_it = sorted([*held, entry], key=lambda e: e.happened_at)
    if not pump_while_running(held) and pump_while_running(with_it):
        found.append(
            "by the log the compressor is running: stop it at once, a motor under vacuum has no "
            "gas to cool it; if it stands already, record that it was stopped"
        )
    return tuple(found)


def _refuse_start_in_vacuum(
    log: Log, rows: Sequence[Entry], entry: Entry, *, now: bool, scale: Scale
) -> None:
    """Stop an entry that would leave a start under vacuum in the log; a note of it is kept."""
    plain = entry.kind in ("note", "addition", "reading") and entry.corrects is None
    if plain and all(e.happened_at <= entry.happened_at for e in rows):
        return  # what comes last changes no start before it
    number = max((e.id for e in rows), default=0) + 1
    reason = ""
    if entry.event == "started":
        held = [e for e in active_entries(rows) if e.id != entry.corrects]
        reason = start_refused([e for e in held if e.happened_at <= entry.happened_at])
        if now and not reason:
            # The clock may have been set back: what was written before has happened before.
            reason = start_refused(active_entries(rows, order="written"))
    if reason:
        reason = told(reason, scale)
        tried = "a start was refused"
        what = (
            f"not recorded as started: {reason}. A compressor is never run or tested under "
            "vacuum: break it with vapour and record that first"
        )
    else:
        reason = new_start_in_vacuum(rows, [*rows, replace(entry, id=number)])
        if not reason:
            return
        reason = told(reason, scale)
        typed = " ".join(w for w in (entry.kind, entry.channel, entry.text) if w)
        tried = f"{typed!r} was refused"
        what = (
            f"not recorded: with it {reason}. If that start was not made, withdraw it first; if "
            "it was, write down in a note what happened"
        )
    log.append(
        Entry(
            kind="note",
            happened_at=entry.happened_at,
            text=f"{tried}: {reason}",
            key=f"{entry.key}-refused" if entry.key else "",
        )
    )
    raise PhysicsError(what=what)


def read_in(log: Log, text: str, way: Literal["json", "csv"], *, name: str) -> int:
    """Add what an exported log holds and this one does not; how many entries were added.

    Raises
    ------
    StoreError
        Not an exported log, or one with which a start would stand under vacuum; nothing is added.
    """

    def check(before: Sequence[Entry], after: Sequence[Entry]) -> str:
        reason = new_start_in_vacuum(before, after)
        return f"nothing was added: {reason}" if reason else ""

    reader = from_json if way == "json" else from_csv
    return reader(text, log, name=name, check=check)


def open_log(
    path: str | None,
    *,
    new: bool = False,
    machine: str = "",
    refrigerant: str = "",
    atmosphere: float | None = None,
    system: str = "",
    simulated: bool = False,
) -> Log:
    """A log, ready to be written; `new` makes it and states what it is about.

    Without a path it is one in memory. The time of a `simulated` machine is not the clock's.
    """
    place = Path(IN_MEMORY if path is None else path)
    if new and place.exists():
        raise StoreError(what="there is a file of that name already", path=str(place))
    if new and refrigerant:
        refrigerant = find(refrigerant)
    if not new:
        return Log(place, must_exist=True)
    facts = {
        "machine": machine,
        "refrigerant": refrigerant,
        "units": system,
        "atmosphere_Pa": repr(STANDARD_ATMOSPHERE if atmosphere is None else atmosphere),
        "clock": "simulated" if simulated else "",
    }
    with ExitStack() as failing:  # what was begun goes again, so that it can be tried again
        for end in ("", "-wal", "-shm", "-journal"):
            failing.callback(Path(f"{place}{end}").unlink, missing_ok=True)
        log = Log(place)
        failing.callback(log.close)
        log.set_about({k: v for k, v in facts.items() if v})
        failing.pop_all()
    return log


def contents_of(
    log: Log,
    *,
    only: Sequence[Entry] | None = None,
    questions: Sequence[str] = (),
    quality: DataQuality | None = None,
) -> LogContents:
    """What stands in a log; `only` some entries of it.

    Parameters
    ----------
    quality : DataQuality, optional
        Of this log, kept by whoever reads it again and again.
    """
    quality = DataQuality(log.about()) if quality is None else quality
    quality.catch_up(log)
    return LogContents(
        path=str(log.path),
        about=log.about(),
        entries=tuple(
            LogRow(
                **asdict(e),
                happened=_iso(e.happened_at),
                holds=quality.holds(e),
                in_doubt=quality.holds(e) and bool(quality.in_doubt(e)),
            )
            for e in (quality.rows if only is None else only)
        ),
        questions=tuple(questions),
    )


def _iso(moment: float) -> str:
    return datetime.fromtimestamp(moment).astimezone().isoformat("T", "seconds")


@dataclass(slots=True)
class _Circuit:
    """What is known of the circuit at one moment of a log."""

    vacuum: float | None = None  # Pa, of the vacuum gauge since the circuit last changed
    let_in: bool = True
    running: bool = False
    standing: float | None = None  # Pa, of a gauge since it was last changed or stopped

    @property
    def reason(self) -> str:
        """Why a compressor must not be started now; empty when it may be."""
        pressure = self.vacuum
        if pressure is None and self.standing is not None and self.standing < DEEPEST_SUCTION:
            pressure = self.standing
        return start_rule(pressure=pressure, let_in_since=self.let_in).reason

    def follow(self, e: Entry) -> None:
        """Take in one entry."""
        if e.kind == "addition" or e.event in _LET_IN:
            self.vacuum, self.standing, self.let_in = None, None, True
        elif e.event == "evacuating":
            self.vacuum, self.standing, self.let_in = None, None, False
        elif e.event in ("started", "stopped"):
            self.running, self.standing = e.event == "started", None
        elif e.kind == "reading" and e.channel == "vacuum gauge":
            self.vacuum = e.value
        elif e.kind == "reading" and e.channel in _SHOWN_AT_REST and not self.running:
            self.standing = e.value


def _at_the_end(held: Iterable[Entry]) -> _Circuit:
    circuit = _Circuit()
    for e in held:
        circuit.follow(e)
    return circuit


def start_refused(held: Sequence[Entry]) -> str:
    """Why a compressor must not be started as things stand in the log; empty when it may be."""
    return _at_the_end(held).reason


def _starts(rows: Iterable[Entry]) -> dict[str, tuple[Entry, str]]:
    """Starts under vacuum that hold, by the key of their row, each with its reason."""
    circuit = _Circuit()
    found: dict[str, tuple[Entry, str]] = {}
    for e in active_entries(rows):
        if e.event == "started" and circuit.reason:
            found[e.key or f"number {e.id}"] = (e, circuit.reason)
        circuit.follow(e)
    return found


def new_start_in_vacuum(before: Sequence[Entry], after: Sequence[Entry]) -> str:
    """What a change of a log would make it say of a start, in words; empty when nothing bad.

    Parameters
    ----------
    before, after : sequence of Entry
        All rows of the log, without and with the change.
    """
    known = _starts(before)
    for key, (e, reason) in _starts(after).items():
        if key not in known:
            clock = datetime.fromtimestamp(e.happened_at).strftime("%Y-%m-%d %H:%M")
            before_it = f"the compressor would have been started at {clock} under vacuum: "
            if not isinstance(reason, Note):
                return before_it + reason
            return Note(before_it + reason.words, *reason.amounts)
    return ""


def pump_while_running(held: Sequence[Entry]) -> bool:
    """Whether, as things stand, the compressor runs on a circuit that is being evacuated."""
    circuit = _at_the_end(held)
    return circuit.running and bool(circuit.reason)

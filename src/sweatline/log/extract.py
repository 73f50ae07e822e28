"""What a log holds of one piece of work, with the entries it stands in.

Only what was written since the work began counts: a pressure test since the gas was let in, a
rise since the valve was shut, a weighing since the circuit was last empty.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final, Generic, Literal, TypeVar

from sweatline.answers import Answer
from sweatline.errors import JobError
from sweatline.log.data_quality import DataQuality
from sweatline.log.entries import Entry, Instrument
from sweatline.log.store import Log

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)

# What changes the circuit, so that readings before and after it do not belong together.
CHANGES: Final = frozenset(
    {"started", "opened", "pressurised", "evacuating", "isolated", "vacuum broken"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found(Generic[T_co]):
    """Something that stands in a log: its value, how it was written, and in which entries.

    Without a text it is no part of the account.
    """

    value: T_co
    text: str
    entries: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Logged:
    """What a log says of one piece of work, by the fields of the request it belongs to."""

    found: Mapping[str, Found[Any] | None] = field(default_factory=dict)
    notes: Sequence[str] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken(Answer):
    """Where something came from that an option or a log could say."""

    what: str
    source: Literal["option", "log", "assumed"]
    text: str
    """As typed, or in words."""
    entries: tuple[int, ...]
    """Of the log, by number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """A log as it stands."""

    path: str
    held: tuple[Entry, ...]  # what holds and is not in doubt, in the order things happened
    doubted: tuple[Entry, ...]  # what looks like a slip and was not confirmed
    instruments: dict[str, Instrument]
    atmosphere: float | None  # Pa, the zero of its gauges; None when it does not say
    refrigerant: str  # empty when it does not say
    system: str  # US, SI or empty
    about: Mapping[str, str] = field(default_factory=dict)  # job and parts, as charging wrote them


def read_book(log: Log, quality: DataQuality | None = None) -> Book:
    """Everything a command may want of a log; what is in doubt is set apart.

    Parameters
    ----------
    quality : DataQuality, optional
        Kept by somebody who reads the same log again and again.
    """
    facts = log.about()
    quality = DataQuality(facts) if quality is None else quality
    quality.catch_up(log)
    rows = quality.held()
    zero = facts.get("atmosphere_Pa")
    return Book(
        path=str(log.path),
        held=tuple(e for e in rows if not quality.in_doubt(e)),
        doubted=tuple(e for e in rows if quality.in_doubt(e)),
        instruments={i.name: i for i in log.instruments()},
        atmosphere=float(zero) if zero is not None else None,
        refrigerant=facts.get("refrigerant", ""),
        system=facts.get("units", ""),
        about=facts,
    )


def stretch(
    held: Sequence[Entry], begin: str, *, ends: Collection[str] = CHANGES
) -> tuple[Entry, list[Entry]] | None:
    """The last event `begin` and what follows, up to what changes the circuit; None without it."""
    start = None
    after: list[Entry] = []
    open_ = False
    for e in held:
        if e.event == begin:
            start, after, open_ = e, [], True
        elif e.event in ends or e.kind == "addition":
            open_ = False
        elif open_:
            after.append(e)
    return None if start is None else (start, after)


def clock(entry: Entry) -> str:
    """When an entry happened, as people write it."""
    return datetime.fromtimestamp(entry.happened_at).strftime("%Y-%m-%d %H:%M")


def numbers(entries: Iterable[Entry]) -> tuple[int, ...]:
    """Numbers of entries, as the log shows them."""
    return tuple(e.id for e in entries)


def of_kind(rows: Iterable[Entry], kind: str, channel: str) -> list[Entry]:
    """Entries of one kind about one thing."""
    return [e for e in rows if e.kind == kind and e.channel == channel]


def reading_in(entry: Entry | None) -> Found[float] | None:
    """What one reading says; None without one."""
    if entry is None:
        return None
    return Found(value=entry.number, text=entry.text, entries=(entry.id,))


def last_reading(rows: Iterable[Entry], channel: str) -> Found[float] | None:
    """Last reading of a channel, None when it was not read."""
    return reading_in(next(reversed(of_kind(rows, "reading", channel)), None))


def nearest(rows: Iterable[Entry], look: Entry, within: float) -> Entry | None:
    """The entry that is nearest in time to another, not further away than `within`. [s]"""
    near = [e for e in rows if abs(e.happened_at - look.happened_at) <= within]
    return min(near, key=lambda e: abs(e.happened_at - look.happened_at), default=None)


def evenly(rows: Sequence[Entry], most: int) -> list[Entry]:
    """At most so many entries, evenly picked, the first and the last among them."""
    if len(rows) <= most:
        return list(rows)
    return [rows[round(i * (len(rows) - 1) / (most - 1))] for i in range(most)]


def joined(value: T, entries: Sequence[Entry], between: str = "; ") -> Found[T]:
    """One thing that several entries say together."""
    text = between.join(e.text for e in entries)
    return Found(value=value, text=text, entries=numbers(entries))


def error_of(book: Book, readings: Sequence[Entry]) -> Found[float] | None:
    """How far these readings may be off, as one standard deviation in SI, as far as anybody said.

    A range typed with the readings comes first (the middle one of several), then what is known of
    their instrument.
    """
    return _stated(readings) or _of(book, readings, "absolute")


def repeats_of(book: Book, readings: Sequence[Entry]) -> Found[float] | None:
    """How well these readings repeat: what is wrong alike in all of them left out. [SI]"""
    return _stated(readings) or _of(book, readings, "repeats")


def scale_of(book: Book, readings: Sequence[Entry]) -> Found[float] | None:
    """Error of the instrument of these readings as a share of what it shows, if anybody said it."""
    return _of(book, readings, "relative")


def _stated(readings: Sequence[Entry]) -> Found[float] | None:
    stated = [(e.sd, e) for e in readings if e.sd is not None and e.sd > 0.0]
    if not stated:
        return None
    stated.sort(key=lambda pair: pair[0])
    sd, e = stated[len(stated) // 2]
    return Found(value=sd, text=f"as typed, {e.text}", entries=numbers([e]))


def _of(
    book: Book, readings: Sequence[Entry], what: Literal["absolute", "relative", "repeats"]
) -> Found[float] | None:
    """A property of the instrument that the readings name, else of that with their own name."""
    if not readings:
        return None
    names = {e.instrument for e in readings if e.instrument}
    if len(names) > 1:
        raise JobError(
            what=f"readings that belong together were taken with several instruments: "
            f"{', '.join(sorted(names))}",
            allowed="give them as options, or withdraw those of one",
            path=book.path,
        )
    for name in names or {readings[0].channel}:
        one = book.instruments.get(name)
        value = getattr(one, what) if one is not None else None
        if value is not None and value > 0.0:
            return Found(value=value, text=f"of {name}", entries=())
    return None

"""Lines of a live session as a person types them, or a program sends them.

The words are those of `sweatline log`: a reading by its name and value, ``added 10 g``, an event, a
note, ``correct 12 27 psig``, ``confirm 12``, ``withdraw 12 wrong machine``. A time may stand before
them, and several readings of one moment may be divided by semicolons. Names of channels and events
may be shortened to the beginnings of their words.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Final, Literal

from sweatline.errors import JobError, NoDateError
from sweatline.log.channels import CHANNELS, EVENTS, RULED_OUT_BY
from sweatline.safety.cautions import CAUTIONS
from sweatline.units import Kind, parse

_CLOCK: Final = r"\d{1,2}:\d\d(?::\d\d(?:\.\d+)?)?"
_TIME: Final = re.compile(
    rf"(?:@|at\s+)?(\d{{4}}-\d\d-\d\d[ T]{_CLOCK}(?:Z|[+-]\d\d:?\d\d)?|{_CLOCK})[,:]?\s+"
)
_OPTION: Final = re.compile(r"""\s--(at|by|as)[ =]+("[^"]*"|'[^']*'|\S+(?:\s\d{1,2}:\d\d\S*)?)""")
_NUMERIC: Final = re.compile(r"[-+−]?[\d.,½¼¾⅛]")
_VERBS: Final = ("added", "confirm", "correct", "withdraw", "swap", "show", "done", "note")
_QUOTES: Final = ('"', "'")
_SHORTEST: Final = 4  # letters by which an event may be begun without the word event
# Events that are told in words, semicolons among them.
_WORDY: Final = ("hose left", "can emptied")

HELP: Final = (
    ("suction 1.42 bar(g)", "a reading: its name, or as much of it as is plain, and its value"),
    ("head 5.1 bar(g); liquid 22 C", "several of one moment, divided by semicolons"),
    ("14:05 watts 285 W", "a time before it, else it is now"),
    ("added 10 g", "let in; `added 10 g liquid`, `vented 2 g` and `hose left ...` likewise"),
    ("started, stopped, opened ...", "what happened"),
    ("instrument-changed suction-gauge by red dial", "another one reads it from now on"),
    (
        "ruled-out leak",
        "looked at and in order; `ruled-out blocked-tube`",
    ),
    ("correct 12 27 psig", "another value in the place of entry 12"),
    ("14:05 correct 12 27 psig", "and another time"),
    ("swap 12 13", "entries 12 and 13 in each other's place"),
    ("confirm 12", "entry 12 is right as typed"),
    ("withdraw 12 why", "entry 12 does not count"),
    ("note words", "anything"),
    ("show", "how things stand, cautions included"),
    ("done", "ends the session; the log goes on"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Instruction:
    """One thing that a line says."""

    kind: Literal[
        "reading", "addition", "event", "note", "correction", "confirmation", "withdrawal",
        "exchange", "show", "help", "done",
    ]  # fmt: skip
    text: str = ""
    channel: str = ""
    at: float | None = None  # s; None: now
    instrument: str = ""
    phase: Literal["", "liquid", "vapour"] = ""
    number: int | None = None  # of the entry meant; None: the only one in doubt
    moved_to: float | None = None  # s, the time that a correction gives


_ABOUT: Final[Mapping[str, tuple[Literal["correction", "withdrawal"], str]]] = {
    "correct": ("correction", "correct 12 27 psig"),
    "withdraw": ("withdrawal", "withdraw 12 wrong machine"),
}


def instructions(
    line: str, time_of: Callable[[str], float] | None = None
) -> Iterator[Instruction | JobError]:
    """What a line says, piece by piece; a mistake in the place of a piece that says nothing.

    Parameters
    ----------
    time_of : callable, optional
        Reads a time as written; :func:`moment` if not given. [s since 1970]
    """
    time_of = time_of or moment
    at: float | None = None
    pieces = line.split(";")
    while pieces:
        piece = pieces.pop(0).strip()
        if not piece:
            continue
        try:
            found = _read(piece, at, time_of)
            at = found.at
            if pieces and (
                found.kind in ("note", "withdrawal")
                or (found.kind == "event" and found.channel in _WORDY)
            ):
                found = replace(found, text=";".join([found.text, *pieces]).strip())
                pieces = []
            yield found
        except JobError as error:
            yield error


def _read(piece: str, at: float | None, time_of: Callable[[str], float]) -> Instruction:
    options = {m[1]: m[2].strip("\"'") for m in _OPTION.finditer(piece)}
    piece = _OPTION.sub("", piece).strip()
    own: float | None = None
    timed = _TIME.match(piece)
    if timed is not None:
        own = time_of(timed[1])
        piece = piece[timed.end() :]
    if "at" in options:
        own = time_of(options["at"])
    at = at if own is None else own
    words = piece.split()
    if not words:
        raise JobError(what="a time and nothing else", read=piece or "nothing")
    verb, rest = words[0].casefold(), piece[len(words[0]) :].strip()
    alone = len(words) == 1
    if verb in ("done", "quit", "exit", "end") and alone:
        return Instruction(kind="done", at=at)
    if verb in ("help", "?") and alone:
        return Instruction(kind="help", at=at)
    if verb == "show" and alone:
        return Instruction(kind="show", at=at)
    if verb == "note":
        return Instruction(kind="note", text=_bare(rest), at=at)
    if verb == "swap":
        return _exchange(rest, at)
    if verb in ("correct", "confirm", "withdraw"):
        return replace(_about_entry(verb, rest, at), moved_to=own if verb == "correct" else None)
    if verb in ("added", "add"):
        return _addition(rest, options.get("as", ""), at)
    if verb == "event":
        return _event(rest.split(), at)
    if verb == "read":
        words = rest.split()
    return _reading_or_event(words, options.get("by", ""), at)


def _bare(text: str) -> str:
    """Without quotation marks around it."""
    text = text.strip()
    if len(text) > 1 and text[0] in _QUOTES and text[-1] == text[0]:
        return text[1:-1].strip()
    return text


def _about_entry(verb: str, rest: str, at: float | None) -> Instruction:
    first, _space, more = rest.partition(" ")
    number = int(first) if first.isdigit() else None
    if verb == "confirm":
        if number is None and rest:
            raise JobError(what="which entry?", read=rest, allowed="as `confirm 12`")
        return Instruction(kind="confirmation", number=number, at=at)
    kind, example = _ABOUT[verb]
    if number is None or not more.strip():
        raise JobError(
            what="the number of an entry and what to put for it are wanted",
            read=rest or verb,
            allowed=f"as `{example}`",
        )
    return Instruction(kind=kind, number=number, text=_bare(more), at=at)


def _exchange(rest: str, at: float | None) -> Instruction:
    one, _space, other = rest.partition(" ")
    if not (one.isdigit() and other.strip().isdigit()):
        raise JobError(
            what="the numbers of two entries are wanted", read=rest or "swap",
            allowed="as `swap 12 13`",
        )  # fmt: skip
    return Instruction(kind="exchange", number=int(one), text=other.strip(), at=at)


def _addition(rest: str, option: str, at: float | None) -> Instruction:
    phase: Literal["", "liquid", "vapour"] = ""
    mass = _bare(rest)
    for name in ("liquid", "vapour"):
        said = re.search(rf"\s+(?:as\s+)?{name}$", mass)
        if said is not None:
            mass = mass[: said.start()]
        if said is not None or option == name:
            phase = "liquid" if name == "liquid" else "vapour"
    return Instruction(kind="addition", text=_bare(mass), phase=phase, at=at)


def _event(words: list[str], at: float | None) -> Instruction:
    """An event by its name or the beginning of it, and words after it."""
    for count in (2, 1):
        name = " ".join(words[:count]).replace("-", " ").casefold()
        if name in EVENTS:
            return Instruction(
                kind="event", channel=name, text=_bare(" ".join(words[count:])), at=at
            )
    name = event_named(words[0] if words else "")
    return Instruction(kind="event", channel=name, text=_bare(" ".join(words[1:])), at=at)


def _reading_or_event(words: list[str], by: str, at: float | None) -> Instruction:
    first = " ".join(words[:1]).replace("-", " ").casefold()
    if " ".join([first, *words[1:2]]).casefold() in EVENTS or first in EVENTS:
        return _event(words, at)
    quoted = [w.lstrip("\"'") for w in words]
    place = next((i for i, w in enumerate(quoted) if i and _NUMERIC.match(w)), None)
    if place is None:
        if len(first) >= _SHORTEST and any(name.startswith(first) for name in EVENTS):
            return _event(words, at)
        raise JobError(
            what="not understood",
            read=" ".join(words)[:60],
            allowed=_perhaps(*words[:1])
            or _perhaps(*words[:2])
            or "write a reading with its value and unit, as `suction 1.42 bar(g)`, `added "
            "10 g`, `started`, or `help`",
        )
    meant = _perhaps(first)
    if meant and not any(name.startswith(first) for name in CHANNELS):
        raise JobError(what="not understood", read=" ".join(words)[:60], allowed=meant)
    value = _bare(" ".join(words[place:]))
    channel = channel_named(" ".join(words[:place]), value)
    return Instruction(kind="reading", channel=channel, text=value, instrument=by, at=at)


def _perhaps(*typed: str) -> str:
    """The word of this vocabulary that a mistyped one is nearest to; empty where none is near."""
    import difflib  # only a mistake pays for it

    words = (*_VERBS, *EVENTS)
    near = difflib.get_close_matches(plain_name(" ".join(typed)), words, n=1, cutoff=0.8)
    return f"nearest: {near[0]}" if near else ""


def acknowledgement(text: str) -> tuple[str, str]:
    """Key of a caution and who read it, of ``before-the-torch by the bench``.

    Raises
    ------
    JobError
        No caution of that key, or no name.
    """
    key, _by, name = text.strip().partition(" by ")
    keys = [c.key for c in CAUTIONS]
    if key.strip() not in keys or not name.strip():
        raise JobError(
            what="which caution was read, and by whom?",
            read=text[:60],
            allowed=f"as `before-the-torch by NAME`; the cautions are {', '.join(keys)}",
        )
    return key.strip(), name.strip()


def changed_instrument(text: str) -> tuple[str, str]:
    """The reading, and the instrument that takes it from now on, of ``suction-gauge by red dial``.

    Raises
    ------
    JobError
        No such reading, or no name.
    """
    reading, _by, name = text.strip().partition(" by ")
    if not name.strip():
        raise JobError(
            what="which reading is taken by another instrument, and what is that called?",
            read=text[:60],
            allowed="as `suction-gauge by red dial`",
        )
    return channel_named(reading), name.strip()


def what_is_ruled_out(text: str) -> str:
    """What was looked at and is in order: ``leak``, ``blocked tube``, ``air``, or a reading.

    Raises
    ------
    JobError
        Nothing of that name can be ruled out by a look.
    """
    wanted = plain_name(text)
    near = [what for what in RULED_OUT_BY if wanted and what.startswith(wanted)]
    if near:
        return near[0]
    try:
        return channel_named(text)
    except JobError:
        raise JobError(
            what="say what was looked at and is in order",
            read=text[:60],
            allowed=f"it is one of {', '.join(RULED_OUT_BY)}, or a reading whose instrument was "
            "compared, as `ruled-out suction-gauge`",
        ) from None


def channel_named(text: str, value: str = "") -> str:
    """A channel by its name or the beginnings of its words.

    Parameters
    ----------
    value : str
        What was read, with its unit: where several names begin like that, the unit may decide.

    Raises
    ------
    JobError
        None or several fit.
    """
    return _named(text, tuple(CHANNELS), "reading", value)


def event_named(text: str) -> str:
    """An event by its name or the beginning of it.

    Raises
    ------
    JobError
        None or several fit.
    """
    return _named(text, tuple(EVENTS), "event")


def plain_name(text: str) -> str:
    """Small letters, single blanks, no hyphens."""
    return " ".join(text.replace("-", " ").casefold().split())


def _named(text: str, names: Sequence[str], what: str, value: str = "") -> str:
    wanted = plain_name(text)
    if wanted in names:
        return wanted
    if what == "reading":
        whole = [n for n, c in CHANNELS.items() if wanted in c.also]
        if whole:
            return whole[0]
    near = [n for n in names if n.startswith(wanted)] if wanted else []
    if not near and wanted:
        near = [n for n in names if _begins_like(n.split(), wanted.split())]
    if len(near) > 1 and value:
        near = [n for n in near if _is_of(value, CHANNELS[n].kind)] or near
    if len(near) == 1:
        return near[0]
    raise JobError(
        what=f"no {what} of that name" if not near else f"several {what}s begin like that",
        read=text,
        allowed=f"choose one of: {', '.join(near or names)}",
    )


def _begins_like(name: Sequence[str], typed: Sequence[str]) -> bool:
    return len(typed) <= len(name) and all(
        n.startswith(t) for n, t in zip(name, typed, strict=False)
    )


def _is_of(value: str, kind: Kind) -> bool:
    """Whether a value is one of a kind; of a pressure that need not say gauge or absolute."""
    kinds: tuple[Kind, ...] = (kind,)
    if kind == "pressure":
        kinds = (kind, "pressure difference")
    for one in kinds:
        try:
            parse(value, one)
        except JobError:
            continue
        return True
    return False


class FedTimes:
    """Times of a file, whose day is not today's: a clock alone is of the day of the time before.

    Parameters
    ----------
    day : date, optional
        Of what stood before the file; None where nothing did.
    """

    def __init__(self, day: date | None) -> None:
        self._day = day

    def moment(self, text: str) -> float:
        """Seconds since 1970 (UTC) of the next time in the file.

        Raises
        ------
        JobError
            Not a time.
        NoDateError
            A clock before any date.
        """
        if self._day is None and _is_clock(text):
            raise NoDateError(
                what="a clock without a date, and nothing before it says the day", read=text,
                allowed="write the first time of the file as 2026-03-14 14:05",
            )  # fmt: skip
        found = moment(text, self._day)
        self._day = datetime.fromtimestamp(found).date()
        return found


def _is_clock(text: str) -> bool:
    typed = " ".join(text.split())
    return len(typed) <= 8 and ":" in typed


def moment(text: str | None, day: date | None = None) -> float:
    """Seconds since 1970 (UTC) of a time as typed: ``14:05``, ``14:05:30``, a full date and time.

    Times without a date are of `day`, else today's; times without a zone are local; nothing is now.

    Raises
    ------
    JobError
        Not a time.
    """
    if text is None:
        return time.time()
    typed = " ".join(text.split())
    try:
        if _is_clock(typed):
            hour, minute, *rest = (int(part) for part in typed.split(":"))
            second = rest[0] if rest else 0
            of = day or datetime.fromtimestamp(time.time()).date()
            found = datetime(of.year, of.month, of.day, hour, minute, second).astimezone()
        else:
            found = datetime.fromisoformat(typed)
            if found.tzinfo is None:
                found = found.astimezone()
    except (ValueError, IndexError) as error:
        raise JobError(
            what="not a time", read=text, allowed="write 14:05, 14:05:30 or 2026-03-14 14:05"
        ) from error
    return found.timestamp()

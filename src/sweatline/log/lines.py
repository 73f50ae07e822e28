"""Lines of a live session as a person types them, or a program sends them.

The words are those of `sweatline log`: a reading by its name and value, ``added 10 g``, an event, a
note, ``correct 12 27 psig``, ``confirm 12``, ``withdraw 12 wrong machine``. A time may stand before
them, and several readings of one moment may be divided by semicolons.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

from sweatline.errors import JobError
from sweatline.log.vocabulary import EVENTS, channel_named, event_named, moment

_CLOCK: Final = r"\d{1,2}:\d\d(?::\d\d(?:\.\d+)?)?"
_TIME: Final = re.compile(
    rf"(?:@|at\s+)?(\d{{4}}-\d\d-\d\d[ T]{_CLOCK}(?:Z|[+-]\d\d:?\d\d)?|{_CLOCK})[,:]?\s+"
)
_OPTION: Final = re.compile(r"""\s--(at|by|as)[ =]+("[^"]*"|'[^']*'|\S+(?:\s\d{1,2}:\d\d\S*)?)""")
_NUMERIC: Final = re.compile(r"[-+−]?[\d.,½¼¾⅛]")
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
    ("correct 12 27 psig", "another value in the place of entry 12"),
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
        "show", "help", "done",
    ]  # fmt: skip
    text: str = ""
    channel: str = ""
    at: float | None = None  # s; None: now
    instrument: str = ""
    phase: Literal["", "liquid", "vapour"] = ""
    number: int | None = None  # of the entry meant; None: the only one in doubt


def instructions(line: str) -> Iterator[Instruction | JobError]:
    """What a line says, piece by piece; a mistake in the place of a piece that says nothing."""
    at: float | None = None
    pieces = line.split(";")
    while pieces:
        piece = pieces.pop(0).strip()
        if not piece:
            continue
        try:
            found = _read(piece, at)
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


def _read(piece: str, at: float | None) -> Instruction:
    options = {m[1]: m[2].strip("\"'") for m in _OPTION.finditer(piece)}
    piece = _OPTION.sub("", piece).strip()
    timed = _TIME.match(piece)
    if timed is not None:
        at = moment(timed[1])
        piece = piece[timed.end() :]
    if "at" in options:
        at = moment(options["at"])
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
    if verb in ("correct", "confirm", "withdraw"):
        return _about_entry(verb, rest, at)
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
    if number is None or not more.strip():
        example = "correct 12 27 psig" if verb == "correct" else "withdraw 12 wrong machine"
        raise JobError(
            what="the number of an entry and what to put for it are wanted",
            read=rest or verb,
            allowed=f"as `{example}`",
        )
    kind: Literal["correction", "withdrawal"] = "correction" if verb == "correct" else "withdrawal"
    return Instruction(kind=kind, number=number, text=_bare(more), at=at)


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
            allowed="write a reading with its value and unit, as `suction 1.42 bar(g)`, `added "
            "10 g`, `started`, or `help`",
        )
    value = _bare(" ".join(words[place:]))
    channel = channel_named(" ".join(words[:place]), value)
    return Instruction(kind="reading", channel=channel, text=value, instrument=by, at=at)

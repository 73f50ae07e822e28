"""What a log says was weighed in since the circuit was last empty."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import Any, Final, TypeVar

from sweatline.answers import record_of
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.log.channels import EMPTIED
from sweatline.log.entries import Entry
from sweatline.log.extract import (
    Book,
    Found,
    Logged,
    clock,
    error_of,
    joined,
    last_reading,
    nearest,
    numbers,
    of_kind,
    reading_in,
    scale_of,
)
from sweatline.parts.hose import Can, Container, Hose
from sweatline.refrigerant.safety_data import safety_data
from sweatline.units import show

T = TypeVar("T")

_UNSAID: Final = 0.3  # of a vented mass whose error nobody stated, relative
_NEAR: Final = 1800.0  # s between two readings of one state
_SEEN: Final = 0.9e-3  # kg that a kitchen scale shows
_ODD: Final = 5e-3  # kg between what the scale and what the additions say


def weighing_in(
    book: Book, *, typed: Collection[str] = ("containers",), alone: bool = False
) -> Logged:
    """Weights, hoses and the cylinder as a log has them.

    Parameters
    ----------
    typed : collection of str
        Fields of the request that the person answered: what was typed of the cylinder and its
        temperature wins over all that the log says of it.
    alone : bool
        Whether only the log can answer.

    Raises
    ------
    JobError
        Weights that do not belong together, or nothing where only the log can answer; the
        sentence says what to read.
    """
    begun = _after(book.held, EMPTIED)
    rows = book.held[begun:]
    notes = _as_vapour(rows)
    scale = of_kind(rows, "reading", "scale")
    hoses = of_kind(rows, "event", "hose left")
    cans = of_kind(rows, "event", "can emptied")
    vented = of_kind(rows, "event", "vented")
    out = [e.number for e in vented]
    sds = [e.sd if e.sd is not None else _UNSAID * e.number for e in vented]

    def read(record: type[T], e: Entry) -> T:
        zero = e.atmosphere or book.atmosphere or STANDARD_ATMOSPHERE
        return record_of(record, e.text, where=f"entry {e.id}", zero=zero)

    left = tuple(read(Hose, e) for e in hoses)
    emptied = tuple(read(Can, e) for e in cans)
    found: dict[str, Found[Any] | None] = {
        "refrigerant": _refrigerant(book, rows),
        "hoses": joined(left, hoses) if hoses else None,
        "containers": _containers(book, rows, notes),
        "cans": joined(emptied, cans) if cans else None,
        "vented": joined(math.fsum(out), vented, " + ") if vented else None,
        "vented_sd": Found(value=math.hypot(*sds), text="", entries=()) if vented else None,
        "scale_step": _step(book, scale),
        "scale_error": scale_of(book, scale),
        "temperature": last_reading(rows, "air in"),
    }
    if "cylinder_pressure" not in typed:
        found |= _cylinder(book, "temperature" in typed)
    if alone and not (found["containers"] or found["cans"] or found.get("cylinder_pressure")):
        since = f"since {clock(book.held[begun - 1])}" if begun else "since the log was begun"
        raise JobError(
            what=f"the log has no weights {since}",
            allowed='read scale before and after, as `sweatline log read LOG scale "1250 g"`, or '
            "write down what was `added`",
            path=book.path,
        )
    return Logged(found, notes)


def _cylinder(book: Book, warm: bool) -> dict[str, Found[Any] | None]:
    """The cylinder that stands there now, and its temperature beside the look at its gauge.

    Parameters
    ----------
    warm : bool
        Whether the person said the temperature.
    """
    there = book.held[_after(book.held, ("cylinder changed",)) :]
    look = next(reversed(of_kind(there, "reading", "cylinder gauge")), None)
    if look is None:
        return {}
    beside = nearest(of_kind(there, "reading", "cylinder"), look, _NEAR)
    if beside is None and not warm:
        raise JobError(
            what="the pressure of a cylinder says nothing without its temperature",
            allowed='read it beside the gauge, as `sweatline log read LOG cylinder "18 C"`, or '
            "say the temperature",
            path=book.path,
        )
    return {
        "cylinder_pressure": reading_in(look),
        "gauge_error": error_of(book, [look]),
        "cylinder_temperature": None if warm else reading_in(beside),
    }


def dose_on_scale(held: Sequence[Entry]) -> tuple[float, Entry] | None:
    """What the scale under the cylinder lost since something was last let in or done.

    Parameters
    ----------
    held : sequence of Entry
        What holds, in the order in which it happened.

    Returns
    -------
    tuple of float and Entry, or None
        The mass [kg], and the first reading that showed it going; None where the scale was not
        read before and after, or lost less than it can show.
    """
    done = [n for n, e in enumerate(held, 1) if e.done]
    since = done[-1] if done else 0
    after = of_kind(held[since:], "reading", "scale")
    there = held[_after(held, ("cylinder changed",)) : since]
    before = of_kind(there, "reading", "scale")[-1:] or after[:1]
    falling = [e for e in after if before[0].number - e.number > _SEEN]
    if not falling or after[-1] is not falling[-1]:
        return None
    return before[0].number - after[-1].number, falling[0]


def _after(rows: Sequence[Entry], events: Collection[str]) -> int:
    """Place behind the last of these events; 0 without one."""
    places = [n for n, e in enumerate(rows, 1) if e.event in events]
    return max(places, default=0)


def _as_vapour(rows: Sequence[Entry]) -> list[str]:
    """Blends that were let in as vapour."""
    wrong = [
        e
        for e in rows
        if e.kind == "addition"
        and e.phase == "vapour"
        and e.refrigerant
        and safety_data(e.refrigerant).charge_as == "liquid"
    ]
    if not wrong:
        return []
    return [
        f"{wrong[0].refrigerant} was let in as vapour ({', '.join(e.text for e in wrong)}): a "
        "blend is taken from the cylinder as liquid, for as vapour more of its light part "
        "comes"
    ]


def _refrigerant(book: Book, rows: Sequence[Entry]) -> Found[str] | None:
    added = [e for e in rows if e.kind == "addition" and e.refrigerant]
    names = {e.refrigerant for e in added}
    if len(names) > 1:
        raise JobError(
            what=f"two refrigerants were added to one circuit: {' and '.join(sorted(names))}",
            allowed="correct the wrong entry; a mixture is recovered, not topped up",
            path=book.path,
        )
    if not names:
        return None
    name = names.pop()
    return Found(value=name, text=name, entries=numbers(added))


def _containers(
    book: Book, rows: Sequence[Entry], notes: list[str]
) -> Found[tuple[Container, ...]] | None:
    """Cylinders by the scale, first reading and last of each; else by what was said to go in."""
    stands: list[list[Entry]] = [[]]
    for e in rows:
        if e.event == "cylinder changed":
            stands.append([])
        elif e.kind == "reading" and e.channel == "scale":
            stands[-1].append(e)
    added = [e for e in rows if e.kind == "addition"]
    total = math.fsum(e.number for e in added)
    read = [s for s in stands if s]
    if any(len(s) > 1 for s in read):
        for s in read:
            if len(s) < 2:
                raise JobError(
                    what=f"the cylinder that stood on the scale at {clock(s[0])} was weighed once",
                    read=s[0].text,
                    allowed="read the scale before and after each cylinder, or withdraw the entry",
                    path=book.path,
                )
            if s[-1].number > s[0].number:
                raise JobError(
                    what="a container that was charged from weighs more than before",
                    read=f"{s[0].text}, then {s[-1].text}",
                    allowed="record `cylinder-changed` where another was put on the scale, or "
                    "correct the reading",
                    path=book.path,
                )
        found = tuple(Container(before=s[0].number, after=s[-1].number) for s in read)
        out = math.fsum(c.before - c.after for c in found)
        if added and abs(out - total) > max(_ODD, 0.02 * out):
            notes.append(
                f"the scale went down by {_told(book, out)}, and {_told(book, total)} were written "
                "down as added: the scale is believed"
            )
        return Found(
            value=found,
            text="; ".join(f"{s[0].text} to {s[-1].text}" for s in read),
            entries=numbers(e for s in read for e in (s[0], s[-1])),
        )
    if not added:
        return None
    return joined((Container(before=total, after=0.0),), added, " + ")


def _told(book: Book, mass: float) -> str:
    return show(mass, "mass", "US" if book.system == "US" else "SI")


def _step(book: Book, scale: Sequence[Entry]) -> Found[float] | None:
    """Step of the scale: even between two marks, so its error is the step over the root of 12."""
    found = error_of(book, scale)
    return None if found is None else replace(found, value=found.value * math.sqrt(12.0))

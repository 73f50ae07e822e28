"""What a log says was weighed in since the circuit was last empty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sweatline.errors import JobError
from sweatline.log.extract import Book, Found, clock, error_of, numbers, scale_of
from sweatline.log.vocabulary import EMPTIED

if TYPE_CHECKING:
    from sweatline.log.entries import Entry
    from sweatline.parts.hose import Can, Container, Hose

__all__ = ["LoggedWeighing", "last_reading", "weighing_in"]

_UNSAID: Final = 0.3  # of a vented mass whose error nobody stated, relative
_NEAR: Final = 1800.0  # s between two readings of one state
_ODD: Final = 5e-3  # kg between what the scale and what the additions say


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedWeighing:
    """What was weighed in since the circuit was last empty."""

    since: str = ""
    refrigerant: Found[str] | None = None
    containers: Found[tuple[Container, ...]] | None = None
    cans: Found[tuple[Can, ...]] | None = None
    hoses: Found[tuple[Hose, ...]] | None = None
    vented: Found[tuple[float, float]] | None = None  # kg and its standard deviation
    temperature: Found[float] | None = None  # K
    scale_step: Found[float] | None = None  # kg
    scale_share: Found[float] | None = None
    cylinder: Found[float] | None = None  # Pa
    cylinder_error: Found[float] | None = None  # Pa
    cylinder_temperature: Found[float] | None = None  # K
    notes: tuple[str, ...] = ()


def weighing_in(book: Book, *, typed: float | None, otherwise: float) -> LoggedWeighing:
    """Weights, hoses and the cylinder as a log has them.

    Parameters
    ----------
    typed : float, optional
        Temperature of the hoses, where the person gave it: it wins over the log. [K]
    otherwise : float
        Where neither does. [K]

    Raises
    ------
    JobError
        Weights that do not belong together; the sentence says what to read.
    """
    last = max((n for n, e in enumerate(book.held) if _empties(e)), default=-1)
    rows = book.held[last + 1 :]
    since = f"since {clock(book.held[last])}" if last >= 0 else "since the log was begun"
    air = last_reading(rows, "air in")
    warm = typed if typed is not None else air.value if air is not None else otherwise
    notes = _as_vapour(rows)
    scale = [e for e in rows if e.kind == "reading" and e.channel == "scale"]
    cylinder, cylinder_warm, cylinder_error = _cylinder(book)
    return LoggedWeighing(
        since=since,
        refrigerant=_refrigerant(book, rows),
        containers=_containers(book, rows, notes),
        cans=_cans(book, rows),
        hoses=_hoses(book, rows, warm),
        vented=_vented(rows),
        temperature=air,
        scale_step=_step(book, scale),
        scale_share=scale_of(book, scale),
        cylinder=cylinder,
        cylinder_error=cylinder_error,
        cylinder_temperature=cylinder_warm,
        notes=tuple(notes),
    )


def _as_vapour(rows: Sequence[Entry]) -> list[str]:
    """Blends that were let in as vapour."""
    from sweatline.refrigerant.safety_data import safety_data

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


def _empties(e: Entry) -> bool:
    return e.kind == "event" and e.channel in EMPTIED


def last_reading(rows: Sequence[Entry], channel: str) -> Found[float] | None:
    """Last reading of a channel, None when it was not read."""
    found = [e for e in rows if e.kind == "reading" and e.channel == channel]
    if not found:
        return None
    e = found[-1]
    return Found(value=float(e.value or 0.0), text=e.text, entries=(e.id,))


def _refrigerant(book: Book, rows: Sequence[Entry]) -> Found[str] | None:
    added = [e for e in rows if e.kind == "addition" and e.refrigerant]
    names = {e.refrigerant for e in added}
    if len(names) > 1:
        raise JobError(
            what=f"two refrigerants were added to one circuit: {' and '.join(sorted(names))}",
            allowed="correct the wrong entry; a mixture is recovered, not topped up",
            path=book.path,
        )
    if names:
        name = names.pop()
        return Found(value=name, text=name, entries=numbers(added))
    if book.refrigerant:
        return Found(value=book.refrigerant, text=book.refrigerant, entries=())
    return None


def _containers(
    book: Book, rows: Sequence[Entry], notes: list[str]
) -> Found[tuple[Container, ...]] | None:
    """Cylinders by the scale, first reading and last of each; else by what was said to go in."""
    from sweatline.parts.hose import Container

    stands: list[list[Entry]] = [[]]
    for e in rows:
        if e.kind == "event" and e.channel == "cylinder changed":
            stands.append([])
        elif e.kind == "reading" and e.channel == "scale":
            stands[-1].append(e)
    added = [e for e in rows if e.kind == "addition"]
    total = math.fsum(float(e.value or 0.0) for e in added)
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
            if float(s[-1].value or 0.0) > float(s[0].value or 0.0):
                raise JobError(
                    what="a container that was charged from weighs more than before",
                    read=f"{s[0].text}, then {s[-1].text}",
                    allowed="record `cylinder-changed` where another was put on the scale, or "
                    "correct the reading",
                    path=book.path,
                )
        found = tuple(
            Container(before=float(s[0].value or 0.0), after=float(s[-1].value or 0.0))
            for s in read
        )
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
    return Found(
        value=(Container(before=total, after=0.0),),
        text=" + ".join(e.text for e in added),
        entries=numbers(added),
    )


def _told(book: Book, mass: float) -> str:
    from sweatline.units import show

    return show(mass, "mass", "US" if book.system == "US" else "SI")


def _hoses(book: Book, rows: Sequence[Entry], temperature: float) -> Found[tuple[Hose, ...]] | None:
    from sweatline.log.hoses import written_hose

    left = [e for e in rows if e.kind == "event" and e.channel == "hose left"]
    if not left:
        return None
    return Found(
        value=tuple(
            written_hose(e.text, f"entry {e.id}", temperature, _zero(book, e)) for e in left
        ),
        text="; ".join(e.text for e in left),
        entries=numbers(left),
    )


def _zero(book: Book, e: Entry) -> float:
    from sweatline.constants import STANDARD_ATMOSPHERE

    return e.atmosphere or book.atmosphere or STANDARD_ATMOSPHERE


def _cans(book: Book, rows: Sequence[Entry]) -> Found[tuple[Can, ...]] | None:
    from sweatline.log.hoses import written_can

    emptied = [e for e in rows if e.kind == "event" and e.channel == "can emptied"]
    if not emptied:
        return None
    return Found(
        value=tuple(written_can(e.text, f"entry {e.id}", _zero(book, e)) for e in emptied),
        text="; ".join(e.text for e in emptied),
        entries=numbers(emptied),
    )


def _vented(rows: Sequence[Entry]) -> Found[tuple[float, float]] | None:
    out = [e for e in rows if e.kind == "event" and e.channel == "vented"]
    if not out:
        return None
    masses = [float(e.value or 0.0) for e in out]
    sds = [e.sd if e.sd is not None else _UNSAID * m for e, m in zip(out, masses, strict=True)]
    return Found(
        value=(math.fsum(masses), math.hypot(*sds)),
        text=" + ".join(e.text for e in out),
        entries=numbers(out),
    )


def _step(book: Book, scale: Sequence[Entry]) -> Found[float] | None:
    """Step of the scale: even between two marks, so its error is the step over the root of 12."""
    found = error_of(book, scale)
    if found is None:
        return None
    return Found(value=found.value * math.sqrt(12.0), text=found.text, entries=found.entries)


def _cylinder(
    book: Book,
) -> tuple[Found[float] | None, Found[float] | None, Found[float] | None]:
    """Pressure and temperature of the cylinder that stands there, and the gauge's error."""
    rows = list(book.held)
    changed = [
        n for n, e in enumerate(rows) if e.kind == "event" and e.channel == "cylinder changed"
    ]
    rows = rows[changed[-1] + 1 :] if changed else rows
    gauges = [e for e in rows if e.kind == "reading" and e.channel == "cylinder gauge"]
    if not gauges:
        return None, None, None
    look = gauges[-1]
    near = [
        e
        for e in rows
        if e.kind == "reading"
        and e.channel == "cylinder"
        and abs(e.happened_at - look.happened_at) <= _NEAR
    ]
    warm = min(near, key=lambda e: abs(e.happened_at - look.happened_at), default=None)
    return (
        Found(value=float(look.value or 0.0), text=look.text, entries=(look.id,)),
        None
        if warm is None
        else Found(value=float(warm.value or 0.0), text=warm.text, entries=(warm.id,)),
        error_of(book, [look]),
    )

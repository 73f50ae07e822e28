"""How a machine ran last and how it rests, taken out of a log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sweatline.errors import JobError
from sweatline.log.entries import Entry
from sweatline.log.extract import Book, Found, clock, last_reading, numbers, scale_of
from sweatline.log.vacuum_start import start_refused
from sweatline.log.vocabulary import EMPTIED

_HOUR: Final = 3600.0  # s


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedRest:
    """How a machine ran last, and how it rests."""

    running: bool
    barred: str  # why it must not be started; empty when it may be
    off_time: Found[float] | None = None  # s since the last stop, while it rests
    volts: Found[float] | None = None  # V, A and W, last read while it ran
    amps: Found[float] | None = None
    watts: Found[float] | None = None
    meter_error: Found[float] | None = None
    head: Found[float] | None = None  # Pa, last read while it ran
    suction: Found[float] | None = None
    standing_head: Found[float] | None = None  # Pa, last read since it stopped
    standing_suction: Found[float] | None = None
    starts: Found[int] | None = None  # within the last hour


def rest_in(book: Book, *, now: float) -> LoggedRest:
    """Starts, stops and readings of the motor as a log has them.

    Parameters
    ----------
    now : float
        The moment of the question. [s since 1970]

    Raises
    ------
    JobError
        The log says nothing of a start or a stop.
    """

    rows = [e for e in book.held if e.happened_at <= now]
    turns = [
        n for n, e in enumerate(rows) if e.kind == "event" and e.channel in ("started", "stopped")
    ]
    barred = start_refused(rows)
    if not turns:
        if barred:
            return LoggedRest(running=False, barred=barred)
        raise JobError(
            what="the log does not say when the compressor was started or stopped",
            allowed="record it, as `sweatline log event LOG stopped`, or say how long it has stood",
            path=book.path,
        )
    last = rows[turns[-1]]
    running = last.channel == "started"
    begun = max((n for n in turns if rows[n].channel == "started"), default=None)
    ran = rows[begun : None if running else turns[-1]] if begun is not None else []
    rested = [] if running else rows[turns[-1] :]
    changed = max((n for n, e in enumerate(rested) if _disturbs(e)), default=-1)
    rested = rested[changed + 1 :]
    starts = [e for e in (rows[n] for n in turns) if e.channel == "started"]
    lately = [e for e in starts if now - e.happened_at <= _HOUR]
    return LoggedRest(
        running=running,
        barred=barred,
        off_time=None
        if running
        else Found(
            value=now - last.happened_at, text=f"stopped at {clock(last)}", entries=(last.id,)
        ),
        volts=last_reading(ran, "volts"),
        amps=last_reading(ran, "amps"),
        watts=last_reading(ran, "watts"),
        meter_error=_meter_error(book, ran),
        head=last_reading(ran, "head gauge"),
        suction=last_reading(ran, "suction gauge"),
        standing_head=last_reading(rested, "head gauge"),
        standing_suction=last_reading(rested, "suction gauge"),
        starts=Found(value=len(lately), text="", entries=numbers(lately)) if lately else None,
    )


def _meter_error(book: Book, ran: Sequence[Entry]) -> Found[float] | None:
    """The larger error of clamp and watt-meter, where they are two."""
    found = [
        scale_of(book, [e for e in ran if e.channel == channel]) for channel in ("amps", "watts")
    ]
    return max((f for f in found if f is not None), key=lambda f: f.value, default=None)


def _disturbs(e: Entry) -> bool:
    return e.kind == "addition" or (e.kind == "event" and e.channel in (*EMPTIED, "vacuum broken"))

"""An evacuation as a log has it: the vacuum gauge while pumping, and after it was shut off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sweatline.bench.evacuation.rise_test import RiseReading
from sweatline.errors import JobError
from sweatline.log.entries import Entry
from sweatline.log.extract import (
    Book,
    Found,
    clock,
    error_of,
    numbers,
    of_kind,
    repeats_of,
    scale_of,
    stretch,
    value_of,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedVacuum:
    """An evacuation as a log has it; times since its pump was started and since it was shut off."""

    pumped: Found[tuple[RiseReading, ...]] | None = None
    rise: Found[tuple[RiseReading, ...]] | None = None
    gauge_share: Found[float] | None = None
    gauge_floor: Found[float] | None = None  # Pa


def vacuum_in(book: Book) -> LoggedVacuum:
    """The last evacuation of a log: what the vacuum gauge showed pumping, and shut off.

    Raises
    ------
    JobError
        The log has none, or no look at the vacuum gauge since.
    """
    pumping = stretch(book.held, "evacuating")
    if pumping is None:
        raise JobError(
            what="the log does not say that the circuit was evacuated",
            allowed="record when the pump was started, as `sweatline log event LOG evacuating`, or "
            "give the readings",
            path=book.path,
        )
    began, after = pumping
    pumped = _looks(began, after)
    shut = stretch(book.held, "isolated")
    rise = None
    if shut is not None and shut[0].happened_at >= began.happened_at:
        rise = _looks(*shut)
    if pumped is None and rise is None:
        raise JobError(
            what=f"no look at the vacuum gauge since the pump was started at {clock(began)}",
            allowed='read it, as `sweatline log read LOG vacuum-gauge "450 micron"`',
            path=book.path,
        )
    entries = {*(pumped.entries if pumped else ()), *(rise.entries if rise else ())}
    gauges = [e for e in book.held if e.id in entries]
    return LoggedVacuum(
        pumped=pumped,
        rise=rise,
        gauge_share=scale_of(book, gauges),
        gauge_floor=repeats_of(book, gauges) or error_of(book, gauges),
    )


def _looks(began: Entry, after: Sequence[Entry]) -> Found[tuple[RiseReading, ...]] | None:
    rows: dict[float, Entry] = {}
    for e in of_kind(after, "reading", "vacuum gauge"):
        rows[e.happened_at - began.happened_at] = e  # of two at once the later word holds
    if not rows:
        return None
    return Found(
        value=tuple(RiseReading(time=t, pressure=value_of(e)) for t, e in sorted(rows.items())),
        text=f"{len(rows)} {'look' if len(rows) == 1 else 'looks'} since {clock(began)}",
        entries=(began.id, *numbers(rows.values())),
    )

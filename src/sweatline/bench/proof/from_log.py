"""What a log says of the running machine: the stretch that counts, its readings, the bucket."""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

from sweatline.bench.proof.bucket import Bucket, measured_by_marks
from sweatline.bench.proof.steadiness import (
    AFTER_CHANGE,
    AFTER_START,
    Steadiness,
    judged,
)
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.log.channels import CHANNELS, EMPTIED
from sweatline.log.entries import Entry, sd_of
from sweatline.log.extract import Book, Found, Logged, clock, numbers, of_kind
from sweatline.units import WATER_DENSITY, show

WINDOW: Final = 1200.0  # s before the last reading that are looked at, where no bucket ran longer
# Fields of the request by the channel that fills each.
_FIELDS: Final[Mapping[str, str]] = {
    "air in": "room_temperature",
    "room humidity": "room_humidity",
    "suction gauge": "suction",
    "head gauge": "head",
    "suction gas": "suction_gas",
    "return gas": "return_gas",
    "discharge gas": "discharge_gas",
    "liquid line": "liquid_line",
    "coil": "coil",
    "air between": "air_between",
    "air out": "air_out",
    "air out humidity": "air_out_humidity",
    "watts": "watts",
}
_MOVES: Final = ("vented", "hose left", "vacuum broken")
_EMPTIED_BY: Final = 0.05e-3  # m3 that a bucket loses when it is emptied, at least


@dataclass(frozen=True, slots=True)
class _Stretch:
    """The machine running, from its start or its last change on."""

    rows: tuple[Entry, ...]
    settled: float  # s since 1970, from which on readings count
    waits_for: str


def proof_in(book: Book, *, begin: float | None = None, end: float | None = None) -> Logged:
    """Readings and water of the last stretch in which the machine ran undisturbed.

    Parameters
    ----------
    begin, end : float, optional
        Look at this stretch instead. [s since 1970]

    Raises
    ------
    JobError
        The machine did not run, nothing was read since, or the bucket cannot be read; the
        sentence says what to do.
    """
    stretch = _stretch(book, begin, end)
    read = [e for e in stretch.rows if e.kind == "reading" and e.channel in (*_FIELDS, "water")]
    if not read:
        raise JobError(
            what=f"nothing was read since {stretch.waits_for}",
            allowed="read gauges, thermometers, watts and the water in the bucket",
            path=book.path,
        )
    counted = [e for e in read if e.happened_at >= stretch.settled]
    last = read[-1].happened_at
    looks = of_kind(counted, "reading", "water")
    first = max(last - WINDOW, stretch.settled)
    if len(looks) > 1:
        first = max(min(first, looks[0].happened_at - WINDOW / 2.0), stretch.settled)
    rows = [e for e in counted if e.happened_at >= first] or read[-len(_FIELDS) :]
    found: dict[str, Found[Any] | None] = {}
    notes: list[str] = []
    series = {}
    for channel, field in _FIELDS.items():
        mine = of_kind(rows, "reading", channel)
        if mine:
            series[channel] = [(e.happened_at, e.number) for e in mine]
            found |= _mean(book, field, mine)
    found["bucket"] = _bucket(book, of_kind(rows, "reading", "water"), notes)
    found["steadiness"] = Found(
        value=_steadiness(stretch, counted, series, last - first), text="", entries=()
    )
    for name in ("compressor", "capillary"):
        if book.about.get(name):
            found[name] = Found(value=book.about[name], text="", entries=())
    if book.about.get("length_m"):
        found["length"] = Found(value=float(book.about["length_m"]), text="", entries=())
    return Logged(found, tuple(notes))


def _stretch(book: Book, begin: float | None, end: float | None) -> _Stretch:
    """The last run of the machine, from its last change on."""
    held = [e for e in book.held if end is None or e.happened_at <= end]
    if begin is not None:
        rows = tuple(e for e in held if e.happened_at >= begin)
        return _Stretch(rows, begin, "then")
    starts = [n for n, e in enumerate(held) if e.event == "started"]
    if not starts:
        raise JobError(
            what="the log does not say that the machine was started",
            allowed="record it, as `sweatline log event LOG started`", path=book.path,
        )  # fmt: skip
    run = held[starts[-1] :]
    over = next((n for n, e in enumerate(run) if e.event in ("stopped", *EMPTIED)), len(run))
    run = run[:over]
    settled, since = run[0].happened_at + AFTER_START, f"it was started at {clock(run[0])}"
    changes = [n for n, e in enumerate(run) if e.kind == "addition" or e.event in _MOVES]
    if changes:
        change = run[changes[-1]]
        run = run[changes[-1] :]
        settled = max(settled, change.happened_at + AFTER_CHANGE)
        since = f"its charge was changed at {clock(change)}"
    return _Stretch(tuple(run), settled, since)


def _mean(book: Book, field: str, rows: Sequence[Entry]) -> dict[str, Found[Any] | None]:
    """The mean of one reading, and how well its instrument reads."""
    zero = rows[-1].atmosphere or book.atmosphere or STANDARD_ATMOSPHERE
    channel = CHANNELS[rows[0].channel]
    value = statistics.fmean(e.number for e in rows)
    text = rows[-1].text if len(rows) == 1 else f"mean of {len(rows)}, the last {rows[-1].text}"
    found: dict[str, Found[Any] | None] = {
        field: Found(value=value, text=text, entries=numbers(rows))
    }
    sd, _source = sd_of(rows[-1], book.instruments, zero)
    if sd > 0.0 and (channel.sd > 0.0 or rows[-1].sd or rows[-1].instrument):
        found[f"{field}_sd"] = Found(value=sd, text="", entries=())
    return found


def _bucket(book: Book, looks: Sequence[Entry], notes: list[str]) -> Found[Bucket] | None:
    """Water from look to look; what lies between a look and an emptied bucket is left out."""
    if len(looks) < 2:
        if looks:
            notes.append("water was read once: a rate needs the bucket looked at twice")
        return None
    gained = time = 0.0
    emptied = []
    for a, b in pairwise(looks):
        rise = b.number - a.number
        if rise < -_EMPTIED_BY:
            emptied.append(b)
            continue
        gained += rise
        time += b.happened_at - a.happened_at
    if emptied:
        notes.append(
            f"the bucket held less at {clock(emptied[-1])} than before: taken as emptied, and the "
            "time between these two looks is left out"
        )
    if gained <= 0.0 or time < 60.0:
        raise JobError(
            what="the bucket did not fill from one look to the next",
            allowed="look at it twice while it fills: just after emptying, and later",
            path=book.path,
        )
    told = show(gained, "volume", "US" if book.system == "US" else "SI")
    return Found(
        value=measured_by_marks(
            WATER_DENSITY * gained, time,
            sd=None if looks[-1].sd is None else WATER_DENSITY * looks[-1].sd,
        ),
        text=f"{told} in {time / 60.0:.0f} min", entries=numbers(looks),
    )  # fmt: skip


def _steadiness(
    stretch: _Stretch,
    counted: Sequence[Entry],
    series: Mapping[str, Sequence[tuple[float, float]]],
    duration: float,
) -> Steadiness:
    """Whether it counts: time gone by first, then what the readings say."""
    if not counted:
        last = stretch.rows[-1].happened_at
        left = max((stretch.settled - last) / 60.0, 1.0)
        return Steadiness(
            verdict="not steady", duration=0.0,
            reason=f"{stretch.waits_for}; readings count {left:.0f} min after the last one here",
        )  # fmt: skip
    return judged(series, max(duration, 0.0))

"""The readings of a log as a diagnosis weighs them: where each settles, and how well it is known.

A reading that was followed counts with where it settles, one that was read once with what it says.
Gauges read after the machine was stopped are its pressure at rest; two looks at the bucket are a
rate; what was let in since the circuit was empty is its charge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Final

from sweatline.assembly.build import Build
from sweatline.charging.settling import Settling
from sweatline.charging.tracker import at_place
from sweatline.constants import NINE_TENTHS
from sweatline.diagnosis.observed import SHOWS
from sweatline.diagnosis.weighed import Reading
from sweatline.errors import JobError
from sweatline.log.channels import CHANNELS, CHARACTERS, EMPTIED
from sweatline.log.data_quality import DataQuality
from sweatline.log.entries import Entry, Instrument, ruled_out_after, sd_of
from sweatline.log.lines import FedTimes
from sweatline.log.logbook import open_log, write_line
from sweatline.log.plausibility import question
from sweatline.log.store import Log

_RESTED: Final = 600.0  # s after a stop from which a gauge shows the pressure at rest
_HYGROMETER: Final = 0.03  # of relative humidity (common practice)
_WEIGHED: Final = 0.01  # of a charge, at least
_SHORTEST_CATCH: Final = 300.0  # s between two looks at the bucket


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """What a log says of a machine as it runs now."""

    readings: tuple[Reading, ...]
    notes: tuple[str, ...]
    ruled_out: frozenset[str] = frozenset()
    """What was looked at and is in order."""


def log_of_lines(build: Build, lines: Sequence[str], *, fed: bool = False) -> Log:
    """Readings typed as lines of a log, in a log of their own.

    Parameters
    ----------
    fed : bool
        They stand in a file: a clock without a date is of the day of the line before it.

    Raises
    ------
    JobError
        One was not understood; of a file with its line.
    """
    job = build.job
    log = open_log(
        None,
        new=True,
        machine="",
        refrigerant=build.refrigerant.name,
        atmosphere=job.place.atmospheric_pressure,
        system=job.unit_system,
    )
    time_of = FedTimes(None).moment if fed else None
    for number, line in enumerate(lines, 1):
        if line.strip() and not line.lstrip().startswith("#"):
            try:
                write_line(log, line, time_of=time_of)
            except JobError as error:
                error.line = number if fed else None
                raise
    return log


def round_of(log: Log, build: Build) -> Round:
    """The latest round of readings in a log.

    Raises
    ------
    JobError
        The log is about another refrigerant.
    """
    about = log.about()
    told = about.get("refrigerant", "")
    if told and told != build.refrigerant.name:
        raise JobError(what=f"this log is about {told}", read=build.refrigerant.name)
    quality = DataQuality(about, air=build.job.room.temperature.value)
    quality.catch_up(log)
    instruments = {i.name: i for i in log.instruments()}
    atmosphere = quality.atmosphere
    held, notes = [], []
    for entry in quality.held():
        doubts = quality.in_doubt(entry)
        if doubts:
            asked = question(entry, doubts[0], atmosphere, build.job.unit_system)
            notes.append(f"left out, in doubt: {asked}")
        else:
            held.append(entry)
    found = _running(held, build, instruments, atmosphere)
    return Round(
        readings=tuple(found.values()),
        notes=tuple(dict.fromkeys(notes)),
        ruled_out=reduce(ruled_out_after, held, frozenset()),
    )


def _running(
    held: Sequence[Entry], build: Build, instruments: dict[str, Instrument], atmosphere: float
) -> dict[str, Reading]:
    latest: dict[str, list[Entry]] = {}
    rest: Entry | None = None
    stopped: float | None = None
    charge, variance, empty = 0.0, 0.0, False
    changed = -math.inf
    for e in held:
        if e.kind == "event" and e.done:
            stopped = {"stopped": e.happened_at, "started": None}.get(e.channel, stopped)
            if e.event in EMPTIED:
                charge, variance, empty = 0.0, 0.0, True
                latest.clear()
            if e.event == "vented":
                charge -= e.number
            changed = e.happened_at
        elif e.renewed:
            latest.pop(e.renewed, None)  # it is the new instrument's turn
        elif e.kind == "addition":
            charge += e.number
            variance += (e.sd or 1e-3) ** 2
            changed = e.happened_at
        elif e.kind == "reading" and stopped is not None and e.channel.endswith("gauge"):
            if e.happened_at - stopped >= _RESTED:
                rest = e
        elif e.kind == "reading" and stopped is None:
            rows = latest.setdefault(e.channel, [])
            if rows and rows[-1].happened_at < changed:
                rows.clear()  # what was read before a change is not what it shows now
            rows.append(e)
    found: dict[str, Reading] = {}
    for channel, rows in latest.items():
        if channel in SHOWS:
            found[channel] = _settled(channel, rows, build, instruments, atmosphere)
    if rest is not None:
        sd, _source = sd_of(rest, instruments, rest.atmosphere or atmosphere)
        found["standing pressure"] = Reading(
            channel="standing pressure", value=at_place(rest, build), sd=sd
        )
    rate = _rate(latest.get("water", ()))
    if rate is not None:
        found["water rate"] = rate
    if charge > 0.0 and empty and "charge weighed" not in found:
        sd = math.hypot(math.sqrt(variance), _WEIGHED * charge)
        found["charge weighed"] = Reading(channel="charge weighed", value=charge, sd=sd)
    return found


def _settled(
    channel: str,
    rows: Sequence[Entry],
    build: Build,
    instruments: dict[str, Instrument],
    atmosphere: float,
) -> Reading:
    """Where a channel settles; what was read once is taken as settled."""
    last = rows[-1]
    sd, _source = sd_of(last, instruments, last.atmosphere or atmosphere)
    sd = sd or _HYGROMETER
    value = at_place(last, build)
    if len(rows) > 1 and channel in CHARACTERS:
        one = Settling(CHARACTERS[channel])
        for e in rows:
            one.update(e.happened_at, at_place(e, build))
        o = one.outlook(last.happened_at)
        value, sd = o.settled, math.hypot(sd, (o.high - o.low) / (2.0 * NINE_TENTHS))
    return Reading(channel=channel, value=value, sd=sd)


def _rate(looks: Sequence[Entry]) -> Reading | None:
    """Water by the hour, from two looks at the bucket."""
    if len(looks) < 2:
        return None
    first, last = looks[0], looks[-1]
    time, gained = last.happened_at - first.happened_at, last.number - first.number
    if time < _SHORTEST_CATCH or gained <= 0.0:
        return None
    rate = 1000.0 * gained / time  # kg/s, a litre being a kilogram
    return Reading(channel="water rate", value=rate, sd=CHANNELS["water rate"].sd * rate)

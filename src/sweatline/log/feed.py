"""Readings that instruments send by themselves: which sensor reads what, and how each behaves.

What a sensor reads is said once, in `sensors.toml` beside the logs. A sensor that is called like a
channel and sends its unit needs no line there. A reading is kept whatever it says; what looks
wrong with a sensor is shown beside it: it stopped, it repeats itself, it jumps, it changed places
with another.
"""

from __future__ import annotations

import csv
import hashlib
import io
import math
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal

from sweatline.answers import Answer
from sweatline.errors import JobError
from sweatline.log.channels import CHANNELS, SENSORS_FILE
from sweatline.log.entries import Entry, Instrument, described
from sweatline.log.lines import FedTimes, channel_named, plain_name
from sweatline.log.store import Log
from sweatline.units import one_line, parse

_AHEAD: Final = 120.0  # s that a sensor's clock may be ahead of this one
_LONGEST: Final = 64  # characters of a sensor's name
_LATE: Final = 5.0  # usual intervals without a word, and at least
_LEAST_LATE: Final = 10.0  # s
_SAME: Final = 30  # equal values in a row while others move
_JUMP: Final = 1.5  # usual steps of the channel (its span) from one reading to the next
_SHOWN: Final = 60.0  # s for which a jump or a swap is shown
_CROSSED: Final = 0.1  # of the old distance: how near two sensors come to each other's values
_HEAD: Final = re.compile(r"\s*(?P<sensor>.+?)\s*[\[(](?P<unit>.+?)[\])]\s*")

Trouble = Literal["", "stopped", "repeats", "jumps", "swapped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor(Answer):
    """What one sensor reads."""

    name: str
    """As it calls itself."""
    channel: str
    unit: str
    """Of its numbers where it sends none."""
    error: str = ""
    """Standard deviation, as written; empty for the channel's usual one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """One number that came in."""

    sensor: str
    value: float
    unit: str = ""
    at: float | None = None  # s since 1970; None: now


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What became of one number."""

    number: int | None  # of the log's entry; None where it was refused
    problem: str = ""


def read_sensors(folder: Path) -> dict[str, Sensor]:
    """Sensors that a folder's `sensors.toml` names; none where there is no such file.

    ::

        [[sensor]]
        name = "bench/t1"
        channel = "suction gas"
        unit = "°C"
        error = "0.5 K"

    Raises
    ------
    JobError
        The file cannot be read, or a sensor in it cannot be used.
    """
    path = folder / SENSORS_FILE
    try:
        tree = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, ValueError, RecursionError) as error:
        raise JobError(what=f"cannot be read as TOML: {error}", path=str(path)) from None
    rows = tree.get("sensor", [])
    if not isinstance(rows, list):
        raise JobError(what="sensors stand under [[sensor]]", path=str(path))
    found: dict[str, Sensor] = {}
    for number, row in enumerate(rows, 1):
        where = f"sensor {number}"
        if not isinstance(row, dict) or not all(isinstance(v, str) for v in row.values()):
            raise JobError(what="every value is a text in quotes", path=str(path), field=where)
        more = sorted(set(row) - {"name", "channel", "unit", "error"})
        if more or not {"name", "channel", "unit"} <= set(row):
            raise JobError(
                what=f"no such key: {more[0]}" if more else "a sensor needs name, channel and unit",
                allowed="name, channel, unit and error", path=str(path), field=where,
            )  # fmt: skip
        found[row["name"]] = checked(Sensor(**row))
    return found


def checked(sensor: Sensor) -> Sensor:
    """The sensor with its channel's full name.

    Raises
    ------
    JobError
        No such channel, a unit of another kind, or an error that is none.
    """
    name = channel_named(sensor.channel)
    try:
        parse(f"1 {sensor.unit}", CHANNELS[name].kind)
    except JobError as error:
        error.field = f"unit of {sensor.name}"
        raise
    if sensor.error:
        instrument_of(sensor)
    if not sensor.name or len(sensor.name) > _LONGEST:
        raise JobError(
            what=f"a sensor's name has 1 to {_LONGEST} characters", read=sensor.name[:80]
        )
    return Sensor(name=sensor.name, channel=name, unit=sensor.unit, error=sensor.error)


def instrument_of(sensor: Sensor) -> Instrument:
    """How the log knows the sensor."""
    if not sensor.error:
        return Instrument(name=sensor.name)
    return described(sensor.name, error=sensor.error)


def _sensor(sent: Sent, sensors: Mapping[str, Sensor]) -> Sensor:
    known = sensors.get(sent.sensor)
    if known is not None:
        return known
    name = plain_name(sent.sensor)
    if name in CHANNELS and sent.unit:
        return Sensor(name=sent.sensor, channel=name, unit=sent.unit)
    raise JobError(
        what="nobody has said what this sensor reads" if name not in CHANNELS else "no unit",
        read=sent.sensor[:_LONGEST],
        allowed=f"name it in {SENSORS_FILE}, or on the page under instruments",
    )


def take(
    log: Log, batch: Sequence[Sent], sensors: Mapping[str, Sensor], *, now: float, key: str = ""
) -> list[Taken]:
    """Write numbers that came in together; each is kept or refused by itself.

    A batch that is sent again with the same key, or a reading with a time of its own that is sent
    again, is not written twice.

    Parameters
    ----------
    now : float
        [s since 1970]
    key : str
        Chosen by the sender for this batch; empty for none.

    Raises
    ------
    StoreError
        The log cannot be written; nothing of the batch is in it then.
    """
    atmosphere = float(log.about().get("atmosphere_Pa", "nan"))
    outcome: list[Taken] = []
    entries: list[tuple[int, Entry]] = []
    instruments = {i.name for i in log.instruments()}
    for i, sent in enumerate(batch):
        try:
            sensor = _sensor(sent, sensors)
            entry = _entry(sent, sensor, atmosphere, now, f"{key}:{i}" if key else "")
            number = log.number_of(entry.key) if entry.key else None
            if number is not None:
                outcome.append(Taken(number=number))
                continue
            entries.append((i, entry))
            if sensor.name in sensors and sensor.name not in instruments:
                log.add_instrument(instrument_of(sensor))
                instruments.add(sensor.name)
            outcome.append(Taken(number=None))
        except JobError as error:
            outcome.append(Taken(number=None, problem=str(error)))
    written = log.append_all([entry for _, entry in entries])
    for (i, _), entry in zip(entries, written, strict=True):
        outcome[i] = Taken(number=entry.id)
    return outcome


def _entry(sent: Sent, sensor: Sensor, atmosphere: float, now: float, key: str) -> Entry:
    if not math.isfinite(sent.value):
        raise JobError(what="not a number", read=str(sent.value), field=sent.sensor)
    if sent.at is not None and sent.at > now + _AHEAD:
        raise JobError(
            what=f"dated {sent.at - now:.0f} s ahead of this machine's clock", field=sent.sensor,
            allowed="set the sender's clock, or send no time",
        )  # fmt: skip
    kind = CHANNELS[sensor.channel].kind
    text = f"{sent.value:.6f}".rstrip("0").rstrip(".") + f" {sent.unit or sensor.unit}"
    try:
        parsed = parse(text, kind, atmosphere=atmosphere)
    except JobError as error:
        error.field = sent.sensor
        raise
    at = now if sent.at is None else sent.at
    if not key and sent.at is not None:
        key = hashlib.sha256(f"{sent.sensor}|{sent.at!r}|{text}".encode()).hexdigest()[:40]
    return Entry(
        kind="reading", happened_at=at, text=text, key=f"sent-{key}" if key else "",
        channel=sensor.channel, quantity=kind, value=parsed.value, unit=parsed.unit,
        instrument=sensor.name if sensor.error else "", atmosphere=atmosphere,
    )  # fmt: skip


def from_table(text: str) -> Iterator[Sent]:
    """Numbers of a CSV table: a column of times, then one of each sensor, its unit in brackets.

    ::

        time,suction gauge [psig],bench/t1
        2026-03-14 14:05:10,24.1,4.2

    An empty cell is no reading. Times are local unless they carry a zone; a clock without a date is
    of the day of the row before it.

    Raises
    ------
    JobError
        No such table; the sentence names the line.
    """
    reader = csv.reader(io.StringIO(text, newline=""))
    times = FedTimes(None)
    try:
        head = [cell.strip() for cell in next(reader, [])]
        if len(head) < 2 or head[0].casefold() != "time":
            raise JobError(
                what="not a table of readings", allowed="the first column is called time",
                read=one_line(",".join(head))[:60],
            )  # fmt: skip
        columns = [(m["sensor"], m["unit"]) if (m := _HEAD.fullmatch(h)) else (h, "") for h in head]
        for row in reader:
            where = reader.line_num
            if not row:
                continue
            if len(row) != len(head):
                raise JobError(what=f"{len(row)} cells, the head line has {len(head)}", line=where)
            try:
                at = times.moment(row[0].strip())
            except JobError as error:
                error.line = where
                raise
            for (sensor, unit), cell in zip(columns[1:], row[1:], strict=True):
                if cell.strip():
                    yield Sent(sensor=sensor, value=_number(cell, where), unit=unit, at=at)
    except csv.Error as error:
        raise JobError(what=f"not a table: {error}", line=reader.line_num) from None


def _number(cell: str, line: int) -> float:
    try:
        return float(cell)
    except ValueError:
        raise JobError(what="not a number", read=one_line(cell)[:40], line=line) from None


@dataclass(slots=True)
class _Track:
    """What is remembered of one sensor."""

    channel: str
    last: float
    at: float
    interval: float = 0.0
    same: int = 0
    trouble: Trouble = ""
    until: float = 0.0  # s, to which a jump or a swap is shown
    beside: str = ""  # the other sensor of a swap
    before: float = math.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorState(Answer):
    """How a sensor behaves."""

    name: str
    channel: str
    age: float
    """Since its last word. [s]"""
    trouble: Trouble
    told: str
    """What looks wrong, in words; empty when nothing does."""


@dataclass(slots=True)
class SensorWatch:
    """Watches what every sensor sends; it keeps nothing back, it only says what looks wrong."""

    _tracks: dict[str, _Track] = field(default_factory=dict)
    _moves: int = 0  # changes of any sensor's value

    def take(self, sensor: str, channel: str, value: float, at: float) -> None:
        """A value of a sensor, in SI, when it came in."""
        track = self._tracks.get(sensor)
        if track is None:
            self._tracks[sensor] = _Track(channel=channel, last=value, at=at)
            return
        gap = at - track.at
        track.interval = gap if not track.interval else 0.9 * track.interval + 0.1 * gap
        step = abs(value - track.last)
        track.same = 0 if step else track.same + 1
        self._moves += bool(step)
        settling = CHANNELS[channel].settling
        if at >= track.until:
            track.trouble = "repeats" if track.same >= _SAME and self._moves > _SAME else ""
        if settling is not None and step > _JUMP * settling.span:
            track.trouble, track.until = "jumps", at + _SHOWN
            other = self._crossed(sensor, track, value)
            if other:
                for one, beside in ((track, other), (self._tracks[other], sensor)):
                    one.trouble, one.beside, one.until = "swapped", beside, at + _SHOWN
        track.before, track.last, track.at = track.last, value, at

    def _crossed(self, sensor: str, track: _Track, value: float) -> str:
        """A sensor of the same kind that went where this one was, as this one goes to its."""
        kind = CHANNELS[track.channel].kind
        for name, other in self._tracks.items():
            if name == sensor or CHANNELS[other.channel].kind != kind:
                continue
            apart = abs(track.last - other.before)
            there = abs(value - other.before) + abs(other.last - track.last)
            if apart and there < _CROSSED * apart:
                return name
        return ""

    def states(self, now: float) -> tuple[SensorState, ...]:
        """Every sensor heard so far, in the order of first hearing."""
        return tuple(self._state(name, track, now) for name, track in self._tracks.items())

    def _state(self, name: str, track: _Track, now: float) -> SensorState:
        age = max(now - track.at, 0.0)
        trouble, told = track.trouble, ""
        if age > max(_LEAST_LATE, _LATE * track.interval):
            trouble, told = "stopped", f"no word for {age:.0f} s"
        elif trouble == "repeats":
            told = f"the same value {track.same + 1} times while others move"
        elif trouble == "jumps":
            told = "its last value lies further off than such a reading moves at once"
        elif trouble == "swapped":
            told = f"it seems to have changed places with {track.beside}"
        return SensorState(name=name, channel=track.channel, age=age, trouble=trouble, told=told)


def batches(sent: Iterable[Sent], size: int = 500) -> Iterator[list[Sent]]:
    """The numbers in groups of at most `size`."""
    held: list[Sent] = []
    for one in sent:
        held.append(one)
        if len(held) == size:
            yield held
            held = []
    if held:
        yield held

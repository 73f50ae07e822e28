"""Readings of a machine known good, taken out of a log as a `[[ran_well]]` table of a job file.

The table is text for the person to paste; no file is touched. Pressures are written absolute, so
that it does not matter at which altitude the job says its gauges have their zero.
"""

from __future__ import annotations

import json
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from sweatline.errors import JobError
from sweatline.log.channels import CHANNELS, EMPTIED
from sweatline.log.entries import Entry
from sweatline.log.extract import Book, error_of, scale_of
from sweatline.log.weighing import weighing_in
from sweatline.units.kinds import DAY, Unit, units_of

SETTLES: Final = 1800.0  # s after a start or a change, before readings count (common practice)

# Keys of the table with the reading that fills each.
_KEYS: Final = {
    "room_temperature": "air in",
    "room_humidity": "room humidity",
    "suction_pressure": "suction gauge",
    "head_pressure": "head gauge",
    "suction_temperature": "return gas",
    "discharge_temperature": "discharge gas",
    "liquid_temperature": "liquid line",
    "air_out_temperature": "air out",
    "power": "watts",
    "current": "amps",
}
# Events after which it settles anew.
_MOVES: Final = ("started", "vented", "hose left", "vacuum broken")
_NEEDED: Final = ("room_temperature", "room_humidity")
# How far a settled reading may wander, by its kind: kelvin, else a share of the value.
_WANDERS_KELVIN: Final = 1.5
_WANDERS: Final = 0.04
_LITRE: Final = 1e-3  # m3


@dataclass(frozen=True, slots=True, kw_only=True)
class RanWellTable:
    """The table as text, and what has to be said beside it."""

    text: str
    notes: tuple[str, ...]


def ran_well_table(
    book: Book, *, name: str = "", begin: float | None = None, end: float | None = None
) -> RanWellTable:
    """A `[[ran_well]]` table from the readings of one settled stretch.

    Parameters
    ----------
    name : str
        What results will call it; the date by default.
    begin, end : float, optional
        The stretch [s since 1970]; by default from half an hour after the last start or change of
        the running machine until it was stopped.

    Raises
    ------
    JobError
        The machine did not run then, or nothing of it, or not of its room, was read.
    """
    first, last = _stretch(book, begin, end)
    rows = [e for e in book.held if e.kind == "reading" and first <= e.happened_at <= last]
    notes: list[str] = []
    lines = ["[[ran_well]]"]
    day = datetime.fromtimestamp(first).strftime("%Y-%m-%d")
    lines.append(f"name = {json.dumps(name or day, ensure_ascii=False)}")
    found = {key: [e for e in rows if e.channel == channel] for key, channel in _KEYS.items()}
    missing = [_KEYS[key] for key in _NEEDED if not found[key]]
    if missing:
        clocks = " to ".join(_clock(t) for t in (first, last) if math.isfinite(t))
        raise JobError(
            what=f"the room is not known: no reading of {' and '.join(missing)} from {clocks}",
            allowed="read it while the machine runs, or say from when to when",
            path=book.path,
        )
    if not any(found[key] for key in _KEYS if key not in _NEEDED):
        raise JobError(
            what="nothing of the machine was read in that stretch",
            allowed="read its gauges, thermometers or watts once it has settled",
            path=book.path,
        )
    charge = _charge(book, first, notes)
    for key in _KEYS:
        if key == "suction_pressure" and charge:
            lines.append(charge)
        if found[key]:
            lines.append(_line(book, key, found[key], notes))
    water = _water(book, rows, notes)
    if water:
        lines.append(water)
    if any(e.channel == "suction gas" for e in rows) and not found["suction_temperature"]:
        notes.append(
            "suction-gas is read at the evaporator's outlet and is left out: suction_temperature "
            "is that of the tube at the compressor, return-gas in a log"
        )
    if book.refrigerant:
        notes.append(
            f"it tells of a machine with {book.refrigerant}: paste it into a job whose [original] "
            "is this machine, with that refrigerant, its compressor and its capillary"
        )
    return RanWellTable(text="\n".join(lines) + "\n", notes=tuple(notes))


def _clock(at: float) -> str:
    return datetime.fromtimestamp(at).strftime("%Y-%m-%d %H:%M")


def _stretch(book: Book, begin: float | None, end: float | None) -> tuple[float, float]:
    """From and to when the machine ran settled."""
    if begin is None:
        starts = [e.happened_at for e in book.held if e.event == "started"]
        start = max((at for at in starts if end is None or at < end), default=None)
        if start is None:
            raise JobError(
                what="the log does not say that the machine was started",
                allowed="record it, as `sweatline log event LOG started`, or say from when",
                path=book.path,
            )
        stop = _stopped(book, start, end)
        changed = [
            e.happened_at
            for e in book.held
            if start <= e.happened_at <= stop and (e.kind == "addition" or e.event in _MOVES)
        ]
        begin = max(changed, default=start) + SETTLES
        if begin >= stop and math.isfinite(stop):
            raise JobError(
                what=f"it ran for less than half an hour after the last change, at "
                f"{_clock(begin - SETTLES)}",
                allowed="let it settle and read on, or say from when",
                path=book.path,
            )
    stop = _stopped(book, begin, end)
    if stop <= begin:
        raise JobError(what="the end is not later than the begin", field="end")
    return begin, stop


def _stopped(book: Book, after: float, end: float | None) -> float:
    ends = ("stopped", *EMPTIED)
    stops = [e.happened_at for e in book.held if e.event in ends and e.happened_at > after]
    return min([*stops, math.inf if end is None else end])


def _line(book: Book, key: str, readings: Sequence[Entry], notes: list[str]) -> str:
    """One key: the mean of its readings in the unit typed, with its error if one is known."""
    values = [e.number for e in readings]
    mean = statistics.fmean(values)
    kind = CHANNELS[readings[0].channel].kind
    zero = readings[0].atmosphere or book.atmosphere or 0.0
    unit = _unit(readings[0])
    comment = ""
    if kind == "pressure":
        gauge, unit = unit, _absolute(unit)
        if gauge.name != unit.name:
            comment = f"  # {_figure(gauge.number(mean, zero))} {gauge.name} by the gauge"
    sd = _error(book, readings, mean - zero if kind == "pressure" else mean)
    spread = ""
    if sd is not None:
        spread = f" ± {_figure(sd / unit.factor, 2)}"
    moved = values[-1] - values[0]
    allowed = _WANDERS_KELVIN if kind == "temperature" else _WANDERS * abs(mean)
    if len(values) > 1 and abs(moved) > max(allowed, 3.0 * (sd or 0.0)):
        notes.append(
            f"{readings[0].channel} went from {readings[0].text} to {readings[-1].text}: not "
            "settled, or the room changed; say from when"
        )
    return f'{key} = "{_figure(unit.number(mean, zero), 6)}{spread} {unit.name}"{comment}'


def _unit(e: Entry) -> Unit:
    kind = CHANNELS[e.channel].kind
    return next((u for u in units_of(kind) if u.name == e.unit), units_of(kind)[0])


def _absolute(unit: Unit) -> Unit:
    """The absolute unit of the same size."""
    return next(
        u
        for u in units_of("pressure")
        if u.reference == "absolute" and math.isclose(u.factor, unit.factor, rel_tol=1e-9)
    )


def _error(book: Book, readings: Sequence[Entry], told: float) -> float | None:
    """Error of the mean, where anything is known of it: repeats, calibration, scatter. [SI]

    With nothing known the job's own errors for its tools hold, and none is written.
    """
    repeats, calibration = error_of(book, readings), scale_of(book, readings)
    if repeats is None and calibration is None:
        return None
    values = [e.number for e in readings]
    scatter = statistics.stdev(values) / math.sqrt(len(values)) if len(values) > 2 else 0.0
    # One instrument reads all of them, so its error does not shrink with their number.
    return math.hypot(
        repeats.value if repeats is not None else 0.0,
        calibration.value * told if calibration is not None else 0.0,
        scatter,
    )


def _water(book: Book, rows: Sequence[Entry], notes: list[str]) -> str:
    """Water from the first look at the bucket to the last."""
    looks = [e for e in rows if e.channel == "water"]
    if len(looks) < 2:
        if looks:
            notes.append("water was read once: a rate needs the bucket looked at twice")
        return ""
    gained = looks[-1].number - looks[0].number
    time = looks[-1].happened_at - looks[0].happened_at
    if gained <= 0.0 or time <= 0.0:
        notes.append("the bucket did not fill from the first look to the last: water is left out")
        return ""
    per_day = gained / _LITRE * DAY / time
    spread = ""
    error = error_of(book, looks)
    if error is not None:
        sd = math.sqrt(2.0) * error.value / gained * per_day
        spread = f" ± {_figure(sd, 2)}"
    return f'water = "{_figure(per_day, 6)}{spread} L/day"  # over {time / 3600.0:.1f} h'


def _charge(book: Book, first: float, notes: list[str]) -> str:
    """What was weighed in, when the log knows the circuit from empty on."""
    from dataclasses import replace

    earlier = replace(book, held=tuple(e for e in book.held if e.happened_at <= first))
    if not any(e.event in EMPTIED for e in earlier.held):
        if any(e.kind == "addition" for e in earlier.held):
            notes.append(
                "the charge is left out: the log does not begin with an empty circuit, so what "
                "was added is not all that is in it"
            )
        return ""
    weighed = weighing_in(earlier).found
    containers, let_out = weighed["containers"], weighed["vented"]
    if containers is None:
        return ""
    out = math.fsum(c.before - c.after for c in containers.value)
    vented = let_out.value if let_out is not None else 0.0
    notes.append(
        "the charge is what was weighed out"
        + (" less what was vented" if vented else "")
        + ": take off what stands in the hoses (`sweatline hose` says how much)"
    )
    return f'charge = "{_figure(1e3 * (out - vented), 4)} g"'


def _figure(number: float, digits: int = 4) -> str:
    """A number with so many digits, without an exponent."""
    if number == 0.0:
        return "0"
    places = max(digits - 1 - math.floor(math.log10(abs(number))), 0)
    text = f"{number:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text

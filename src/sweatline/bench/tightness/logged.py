"""A pressure test as a log has it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from sweatline.bench.tightness.pressure_hold import HoldReading
from sweatline.errors import JobError
from sweatline.log.entries import Entry
from sweatline.log.extract import (
    CHANGES,
    Book,
    Found,
    clock,
    nearest,
    numbers,
    of_kind,
    repeats_of,
    scale_of,
    stretch,
    value_of,
)
from sweatline.units import parse

_GAUGES: Final = ("suction gauge", "head gauge")
# What tells the temperature of the gas in a machine at rest, best first.
_THERMOMETERS: Final = ("circuit", "coil", "shell", "air in")
_NEAR: Final = 1800.0  # s between a look at the gauge and one at the thermometer
_SAME_WEATHER: Final = 3.0 * 3600.0  # s between a look at the gauge and one at the barometer


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedHold:
    """A pressure test as a log has it."""

    readings: Found[tuple[HoldReading, ...]] | None = None
    barometer: bool = False  # whether one was read with every look
    gas: Found[Literal["nitrogen", "helium"]] | None = None
    gauge_error: Found[float] | None = None  # Pa
    gauge_scale: Found[float] | None = None
    thermometer_error: Found[float] | None = None  # K
    notes: tuple[str, ...] = ()


def hold_in(book: Book) -> LoggedHold:
    """The last pressure test of a log.

    Raises
    ------
    JobError
        The log has none, or not enough of it; the sentence says what to read.
    """
    found = stretch(book.held, "pressurised", ends=CHANGES - {"isolated"})
    if found is None:
        raise JobError(
            what="the log does not say that the circuit was pressurised",
            allowed="record it, as `sweatline log event LOG pressurised nitrogen`, or give the "
            "readings",
            path=book.path,
        )
    began, after = found
    gauge = _most_read(after, _GAUGES)
    looks = [e for e in after if e.channel == gauge]
    if len(looks) < 2:
        raise JobError(
            what="a pressure test needs two looks at the gauge or more, and since "
            f"{clock(began)} the log has {len(looks) or 'none'}",
            allowed="read suction-gauge and circuit (the temperature) again later",
            path=book.path,
        )
    readings, used, barometer, notes = _paired(book, looks, after)
    thermometers = [e for e in used if e.quantity == "temperature"]
    gauges = [e for e in used if e.channel == gauge]
    return LoggedHold(
        readings=Found(
            value=tuple(readings),
            text=f"{len(readings)} looks at the {gauge} and the {thermometers[0].channel}",
            entries=numbers(used),
        ),
        barometer=barometer,
        gas=_gas(book, began),
        gauge_error=repeats_of(book, gauges),
        gauge_scale=scale_of(book, gauges),
        thermometer_error=repeats_of(book, thermometers),
        notes=tuple(notes),
    )


def _gas(book: Book, began: Entry) -> Found[Literal["nitrogen", "helium"]] | None:
    words = began.text.casefold()
    if "oxygen" in words or "compressed air" in words:
        raise JobError(
            what="oxygen and compressed air burn with oil: a circuit is never pressurised with "
            "them, and no test with them is read",
            read=began.text,
            allowed="let it out in the open, away from flame, and use dry nitrogen or helium",
            path=book.path,
        )
    at = {"nitrogen": words.find("nitrogen"), "helium": words.find("helium")}
    if at["nitrogen"] < 0 and "n2" in words.split():
        at["nitrogen"] = words.find("n2")
    named = sorted((place, gas) for gas, place in at.items() if place >= 0)
    if not named:
        return None
    # Of a mixture the gas named first is its main part; a tenth of another in it hardly matters.
    gas: Literal["nitrogen", "helium"] = "helium" if named[0][1] == "helium" else "nitrogen"
    text = began.text if len(named) == 1 else f"{began.text}: a mixture, read as {gas}"
    return Found(value=gas, text=text, entries=(began.id,))


def _most_read(entries: Sequence[Entry], channels: Sequence[str]) -> str:
    """The channel that was read most; of two alike the first."""
    counts = [sum(e.channel == c for e in entries if e.kind == "reading") for c in channels]
    return channels[counts.index(max(counts))]


def _paired(
    book: Book, looks: Sequence[Entry], after: Sequence[Entry]
) -> tuple[list[HoldReading], list[Entry], bool, list[str]]:
    """Looks at the gauge with the temperature and the barometer of their time."""

    warm: list[Entry] = []
    for channel in _THERMOMETERS:
        warm = of_kind(after, "reading", channel)
        if any(nearest(warm, look, _NEAR) is not None for look in looks):
            break
    paired = [(e, nearest(warm, e, _NEAR)) for e in looks]
    kept = [(e, t) for e, t in paired if t is not None]
    if len(kept) < 2:
        raise JobError(
            what="a pressure test says nothing without the temperature at each look at the gauge, "
            f"and the log has one within half an hour for {len(kept) or 'none'} of {len(looks)}",
            allowed='read it with the gauge, as `sweatline log read LOG circuit "21 C"`',
            path=book.path,
        )
    notes = []
    if len(kept) < len(looks):
        left = len(looks) - len(kept)
        notes.append(
            f"{left} {'look' if left == 1 else 'looks'} at the gauge left out: no temperature was "
            "read within half an hour of it"
        )
    barometers = of_kind(after, "reading", "barometer")
    weather = [nearest(barometers, e, _SAME_WEATHER) for e, _ in kept]
    barometer = all(b is not None for b in weather)
    readings: list[HoldReading] = []
    used: list[Entry] = []
    for (e, t), b in zip(kept, weather, strict=True):
        pressure = e.value
        if barometer and b is not None:
            pressure = parse(e.text, "pressure", atmosphere=value_of(b)).value
            used.append(b)
        one = HoldReading(
            time=e.happened_at - kept[0][0].happened_at,
            pressure=float(pressure or 0.0),
            temperature=value_of(t),
        )
        if readings and one.time <= readings[-1].time:  # read twice at once: the later word holds
            readings[-1] = one
        else:
            readings.append(one)
        used += [e, t]
    unique = {e.id: e for e in used}
    return readings, [unique[i] for i in sorted(unique)], barometer, notes

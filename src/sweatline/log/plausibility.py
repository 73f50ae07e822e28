"""Readings that deserve a question before anybody acts on them.

A mistyped reading is no mistake of the machine. Each rule compares a new reading with those before
it and with the others of its minute, and says which slip would explain it. A reading is never
thrown away for it: it is kept as typed, asked about, and corrected by the person if it was wrong.
The question and the correction that is offered stand here too.
The thresholds are common practice, wide enough that an honest reading is rarely asked about.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from sweatline.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from sweatline.log.channels import CHANNELS, kind_of
from sweatline.log.entries import Entry
from sweatline.units import Kind, System, show
from sweatline.units.kinds import units_of

Slip = Literal[
    "earlier",
    "clock back",
    "twice",
    "zero of the gauge",
    "other unit",
    "below saturation",
    "above saturation",
    "warmer than the air",
    "suction above head",
    "scale went up",
]

_TOGETHER: Final = 600.0  # s within which two readings belong to one state of the machine
SAME_MOMENT: Final = 0.5  # s
_SAME_TIME: Final = 1e-3  # s between times that are the same; an instrument may send ten a second
_CLOCK: Final = 2.0  # s that a clock may be set back by its own upkeep
_ATMOSPHERE_SHARE: Final = 0.07  # how nearly a jump must be one atmosphere, as a share of it
_UNIT_SHARE: Final = 0.03  # how nearly a ratio must be that of two units
_BESIDE: Final = 4.0  # K on the wrong side of saturation: gauge and thermometer together
_AT_REST: Final = 10.0  # K more while nobody said that the machine runs
_SUCTION_BESIDE: Final = 0.1  # atmospheres: two gauges of class 1.6 together, running
_SUCTION_AT_REST: Final = 0.35  # atmospheres
_ABOVE_AIR: Final = 8.0  # K: nothing warms the gas that leaves an evaporator beyond the air
_LARGEST_SUPERHEAT: Final = 35.0  # K that explains a reading written in another unit
_SCALE_CREEP: Final = 3e-3  # kg

# Units that gauges and scales carry side by side. [Pa], and ratios of masses
_PRESSURES: Final = {"psi": 6894.757, "kPa": 1e3, "bar": 1e5, "MPa": 1e6}
_PRESSURE_RATIOS: Final = (6.894757, 14.50377, 100.0, 10.0)  # kPa/psi, psi/bar, kPa/bar, bar/MPa
_MASS_RATIOS: Final = (28.34952, 1000.0)  # g/oz, g/kg
_DIGITS: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """What is known beside the readings."""

    atmosphere: float  # Pa
    dew: Callable[[float], float] | None = None  # K at Pa, None where nothing is in the circuit
    bubble: Callable[[float], float] | None = None  # K at Pa
    running: bool = False
    disturbed_at: float | None = None  # s, last start, stop, opening or addition
    # s, of the row written last; None: the latest of the readings before.
    last_written: float | None = None
    air: float | None = None  # K, the warmest at the machine


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A reading that a slip would explain."""

    slip: Slip
    beside: Entry  # what it was held against
    meant: float | None = None  # what it would be without the slip, SI
    saturation: float | None = None  # K, where the slip is about it


def doubts(new: Entry, before: Sequence[Entry], circumstances: Circumstances) -> tuple[Doubt, ...]:
    """Everything about a new reading that deserves a question.

    Parameters
    ----------
    new : Entry
        Just typed or received.
    before : sequence of Entry
        Earlier ones, in the order written.
    circumstances : Circumstances
        Atmosphere, refrigerant, and what the machine is doing.

    Returns
    -------
    tuple of Doubt
        Empty for most readings.
    """
    found = [*_in_time(new, before, circumstances)]
    own = [r for r in before if r.channel == new.channel]
    last = own[-1] if own else None
    if last is not None and not any(d.slip == "twice" for d in found):
        found += _jumped(new, last, circumstances)
    if all(d.meant is None for d in found):
        # A slip that is explained already would only be asked about again.
        found += _against_others(new, before, circumstances)
    return tuple(found)


def _in_time(new: Entry, before: Sequence[Entry], c: Circumstances) -> Iterator[Doubt]:
    if before:
        latest = max(before, key=lambda r: r.written_at)
        clock = latest.written_at if c.last_written is None else c.last_written
        if new.written_at < clock - _CLOCK:
            yield Doubt(slip="clock back", beside=latest)
    own = [r for r in before if r.channel == new.channel]
    same = [r for r in own if abs(r.happened_at - new.happened_at) < _SAME_TIME]
    if same and same[-1].value == new.number:
        yield Doubt(slip="twice", beside=same[-1])
    elif own and new.happened_at < max(r.happened_at for r in own) - SAME_MOMENT:
        yield Doubt(slip="earlier", beside=max(own, key=lambda r: r.happened_at))


def _jumped(new: Entry, last: Entry, c: Circumstances) -> Iterator[Doubt]:
    undisturbed = c.disturbed_at is None or c.disturbed_at <= last.happened_at
    if new.happened_at - last.happened_at > _TOGETHER or not undisturbed:
        return
    step = new.number - last.number
    if "pressure" in new.quantity:
        # The atmosphere of the place, or the one that people add from memory.
        zeros = (c.atmosphere, STANDARD_ATMOSPHERE)
        zero = min(zeros, key=lambda z: abs(abs(step) - z))
        if abs(abs(step) / zero - 1.0) < _ATMOSPHERE_SHARE:
            meant = new.number - (zero if step > 0.0 else -zero)
            yield Doubt(slip="zero of the gauge", beside=last, meant=meant)
            return
        ratio = _ratio(new.number - c.atmosphere, last.number - c.atmosphere, _PRESSURE_RATIOS)
        if ratio is not None:
            meant = c.atmosphere + (new.number - c.atmosphere) / ratio
            yield Doubt(slip="other unit", beside=last, meant=meant)
    elif new.quantity == "mass":
        ratio = _ratio(new.number, last.number, _MASS_RATIOS)
        if ratio is not None:
            yield Doubt(slip="other unit", beside=last, meant=new.number / ratio)
        elif step > _SCALE_CREEP and new.channel == "scale":
            yield Doubt(slip="scale went up", beside=last)
    elif new.quantity == "temperature" and abs(step) > 8.0:
        # A number read in one of the two degrees and written in the other.
        for meant in _other_degrees(new.number):
            if abs(meant - last.number) < min(2.0, 0.2 * abs(step)):
                yield Doubt(slip="other unit", beside=last, meant=meant)
                return


def _ratio(new: float, last: float, ratios: Sequence[float]) -> float | None:
    """The ratio of two units that a reading differs from the last one by, if it does."""
    if last == 0.0 or new / last <= 0.0:
        return None
    for ratio in (*ratios, *(1.0 / r for r in ratios)):
        if abs(new / last / ratio - 1.0) < _UNIT_SHARE:
            return ratio
    return None


def _other_degrees(value: float) -> tuple[float, float]:
    """A number of °F written as °C, and the other way round. [K]"""
    number = value - ZERO_CELSIUS
    return (number - 32.0) / 1.8 + ZERO_CELSIUS, number * 1.8 + 32.0 + ZERO_CELSIUS


def _other_pressures(new: Entry, atmosphere: float) -> Iterator[float]:
    """What a gauge may have shown that was written with another zero or unit. [Pa]"""
    yield new.number + atmosphere
    yield new.number - atmosphere
    for unit, size in _PRESSURES.items():
        if new.unit.startswith(unit):
            for other in _PRESSURES.values():
                yield atmosphere + (new.number - atmosphere) * other / size


def _meant(new: Entry, c: Circumstances, fits: Callable[[float], bool]) -> float | None:
    """The value that a slip of unit or zero turned into this one, if one of them fits."""
    if "pressure" in new.quantity:
        tried = [p for p in _other_pressures(new, c.atmosphere) if p > 0.0]
    else:
        tried = list(_other_degrees(new.number))
    return next((value for value in tried if fits(value)), None)


def _against_others(new: Entry, before: Sequence[Entry], c: Circumstances) -> Iterator[Doubt]:
    now: dict[str, Entry] = {}
    for r in before:
        fresh = c.disturbed_at is None or r.happened_at >= c.disturbed_at
        if abs(new.happened_at - r.happened_at) <= _TOGETHER and fresh:
            now[r.channel] = r
    now[new.channel] = new
    found: list[Doubt] = []
    if c.dew is not None:
        found += _pair(new, now, "suction gas", c.dew, 1.0, c)
    if c.bubble is not None and c.running:
        # At rest liquid may stand anywhere, and be warmer than the pressure of the rest says.
        found += _pair(new, now, "liquid line", c.bubble, -1.0, c)
    if new.channel == "suction gas" and c.air is not None and not found:
        warmest = c.air + _ABOVE_AIR
        if new.number > warmest:
            meant = _meant(new, c, lambda t: warmest - _LARGEST_SUPERHEAT < t < warmest)
            yield Doubt(slip="warmer than the air", beside=new, meant=meant, saturation=c.air)
    yield from found
    yield from _swapped(new, now, c)


def _pair(
    new: Entry,
    now: Mapping[str, Entry],
    thermometer: str,
    saturation: Callable[[float], float],
    side: float,
    c: Circumstances,
) -> Iterator[Doubt]:
    """Gauge and thermometer of one place that cannot both be right.

    `side` is 1 where the thermometer must be above saturation, -1 where it must be below.
    """
    gauge = CHANNELS[thermometer].gauge
    if not (gauge in now and thermometer in now and new.channel in (gauge, thermometer)):
        return
    p, t = now[gauge], now[thermometer]

    def above(value: float) -> float:
        """By how much the thermometer is on its side, were the new reading this one. [K]"""
        pressure, temperature = (value, t.number) if new is p else (p.number, value)
        return side * (temperature - saturation(pressure))

    if above(new.number) < -_BESIDE - (0.0 if c.running else _AT_REST):
        yield Doubt(
            slip="below saturation" if side > 0.0 else "above saturation",
            beside=t if new is p else p,
            saturation=saturation(p.number),
            meant=_meant(new, c, lambda value: 0.0 < above(value) < _LARGEST_SUPERHEAT),
        )


def _swapped(new: Entry, now: Mapping[str, Entry], c: Circumstances) -> Iterator[Doubt]:
    """Hoses on each other's gauge, or one of the two gauges written wrongly."""
    if not {"suction gauge", "head gauge"} <= now.keys():
        return
    low, high = now["suction gauge"], now["head gauge"]
    margin = (_SUCTION_BESIDE if c.running else _SUCTION_AT_REST) * c.atmosphere
    if new in (low, high) and low.number > high.number + margin:
        yield Doubt(slip="suction above head", beside=high if new is low else low)


def _told(value: float, kind: Kind, entry: Entry, atmosphere: float, system: System) -> str:
    """A value in the unit that the person just typed, where it is one of this kind."""
    for unit in units_of(kind):
        if unit.name == entry.unit:
            return f"{unit.number(value, atmosphere):.{_DIGITS}g} {unit.name}"
    return show(value, kind, system, _DIGITS, atmosphere=atmosphere)


def offered(entry: Entry, doubts: Sequence[Doubt], atmosphere: float, system: System) -> str:
    """What the person probably meant, as it would be typed; empty where no slip tells."""
    for doubt in doubts:
        if doubt.meant is not None:
            return _told(doubt.meant, kind_of(entry.channel), entry, atmosphere, system)
    return ""


def question(entry: Entry, doubt: Doubt, atmosphere: float, system: System) -> str:
    """One doubt as a question to the person who typed the entry."""
    clock = datetime.fromtimestamp(doubt.beside.happened_at).strftime("%H:%M:%S")
    if doubt.slip == "twice":
        what = "the addition of" if entry.kind == "addition" else entry.channel
        return f"{what} {entry.text} stands in the log already at {clock}: typed twice?"
    if doubt.slip == "earlier":
        return f"is the time right? A later {entry.channel}, of {clock}, is in the log already"
    if doubt.slip == "clock back":
        return "the clock of this machine has been set back since the last entry: is it right now?"
    kind = kind_of(entry.channel)
    other = _told(doubt.beside.number, kind_of(doubt.beside.channel), entry, atmosphere, system)
    meant = "" if doubt.meant is None else _told(doubt.meant, kind, entry, atmosphere, system)
    if doubt.slip == "scale went up":
        return (
            f"the scale went up from {other}: was the cylinder changed or the hose moved? "
            "Refrigerant does not go back by itself"
        )
    if doubt.slip == "suction above head":
        side = "above the head gauge" if entry.channel == "suction gauge" else "below the suction"
        return (
            f"the {entry.channel} reads {side} ({other}): are the hoses swapped, or the names? "
            "Then correct both"
        )
    if doubt.slip == "warmer than the air":
        air = _told(doubt.saturation or 0.0, "temperature", entry, atmosphere, system)
        hint = f" In the other degrees it would be {meant}" if meant else ""
        return (
            f"{entry.channel} {entry.text} is warmer than the air at the machine, {air}, which is "
            f"all that warms it: another unit, or the thermometer's seat?{hint}"
        )
    if doubt.saturation is not None:
        saturated = _told(doubt.saturation, "temperature", entry, atmosphere, system)
        side = "colder" if doubt.slip == "below saturation" else "warmer"
        hint = (
            f"As {meant} they would fit: another unit or zero?"
            if meant
            else "Check the gauge's zero, the thermometer's seat and the refrigerant"
        )
        return (
            f"{entry.channel} {entry.text} and {doubt.beside.channel} {other} cannot both be "
            f"right: the gas or liquid would be {side} than its saturation, {saturated}. {hint}"
        )
    if doubt.slip == "zero of the gauge":
        return (
            f"{entry.text} is one atmosphere from the last reading ({other} at {clock}): gauge or "
            f"absolute? If the other was meant, correct it to {meant}; or was the last one wrong?"
        )
    return f"{entry.text} fits another unit: the last was {other}. Correct it to {meant}?"

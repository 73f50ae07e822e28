"""Readings that deserve a question before anybody acts on them.

A mistyped reading is no mistake of the machine. Each rule compares a new reading with those before
it and with the others of its minute, and says which slip would explain it. A reading is never
thrown away for it: it is kept as typed, asked about, and corrected by the person if it was wrong.
The question and the correction that is offered stand here too.
The thresholds are common practice, wide enough that an honest reading is rarely asked about.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from sweatline.answers import Answer
from sweatline.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from sweatline.log.channels import CHANNELS, kind_of
from sweatline.log.entries import Entry
from sweatline.log.orders import BY_KEY, ROWS_OF, Circumstances, Order, Row
from sweatline.units import Kind, System, show
from sweatline.units.kinds import units_of

Slip = (
    Order
    | Literal[
        "ahead of the clock",
        "earlier",
        "clock back",
        "twice",
        "zero of the gauge",
        "other unit",
        "beyond what a machine shows",
        "warmer than the air",
        "scale went up",
    ]
)

# Slips that a reading which was confirmed shows again each time it is read.
LASTING: Final = frozenset({*BY_KEY, "beyond what a machine shows", "warmer than the air"})
AHEAD: Final = 120.0  # s that a time may lie ahead of the clock: whole minutes, and two clocks

_TOGETHER: Final = 600.0  # s within which two readings belong to one state of the machine
SAME_MOMENT: Final = 0.5  # s
_SAME_TIME: Final = 1e-3  # s between times that are the same; an instrument may send ten a second
_CLOCK: Final = 2.0  # s that a clock may be set back by its own upkeep
_HALF_DAY: Final = 43200.0  # s
_ATMOSPHERE_SHARE: Final = 0.07  # how nearly a jump must be one atmosphere, as a share of it
_UNIT_SHARE: Final = 0.03  # how nearly a ratio must be that of two units
_ABOVE_AIR: Final = 8.0  # K: nothing warms the gas that leaves an evaporator beyond the air
_HOTTEST: Final = ZERO_CELSIUS + 90.0  # K, saturation that no gauge of these machines stands for
SCALE_CREEP: Final = 3e-3  # kg by which a scale may wander with nothing let in

# Units that gauges and scales carry side by side. [Pa], and ratios of masses
_PRESSURES: Final = {
    "psi": 6894.757, "kPa": 1e3, "bar": 1e5, "MPa": 1e6, "mbar": 100.0, "inHg": 3386.389,
}  # fmt: skip
_PRESSURE_RATIOS: Final = (6.894757, 14.50377, 100.0, 10.0)  # kPa/psi, psi/bar, kPa/bar, bar/MPa
_MASS_RATIOS: Final = (28.34952, 1000.0)  # g/oz, g/kg
# Of other quantities: W and kW, A and mA, per cent and shares.
_RATIOS: Final[Mapping[str, tuple[float, ...]]] = {
    "power": (1000.0,), "current": (1000.0,), "relative humidity": (100.0,),
}  # fmt: skip
_DIGITS: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A reading that a slip would explain."""

    slip: Slip
    beside: Entry  # what it was held against
    meant: float | None = None  # what it would be without the slip, SI
    limit: float | None = None  # K, the saturation or the air that it is on the wrong side of
    swapped: bool = False  # all would be in order with this reading and the other exchanged
    meant_at: float | None = None  # s, when it probably was


@dataclass(frozen=True, slots=True, kw_only=True)
class Mending(Answer):
    """What puts an entry right, if the slip is what it looks like."""

    number: int
    value: str = ""
    """As it would be typed; empty where two readings are exchanged."""
    at: str = ""
    """Another time; empty where that stands."""
    swapped_with: int | None = None
    """Number of the other reading."""

    @property
    def line(self) -> str:
        """In a live session."""
        if self.swapped_with is not None:
            return f"swap {self.number} {self.swapped_with}"
        return f"{self.at} correct {self.number} {self.value}".strip()


def doubts(
    new: Entry,
    before: Sequence[Entry],
    circumstances: Circumstances,
    *,
    doubted: Sequence[Entry] = (),
) -> tuple[Doubt, ...]:
    """Everything about a new reading that deserves a question.

    Parameters
    ----------
    new : Entry
        Just typed or received.
    before : sequence of Entry
        Earlier ones, in the order written.
    circumstances : Circumstances
        Atmosphere, refrigerant, and what the machine is doing.
    doubted : sequence of Entry
        Earlier ones that are in doubt: one of them may have changed places with the new one.

    Returns
    -------
    tuple of Doubt
        Empty for most readings.
    """
    found = [*_in_time(new, before, circumstances)]
    if any(d.slip == "ahead of the clock" for d in found):
        return tuple(found)  # what stood beside it is not known before its time is
    own = [r for r in before if r.channel == new.channel]
    last = own[-1] if own else None
    if last is not None and not any(d.slip == "twice" for d in found):
        for jump in _jumped(new, last, circumstances):
            if jump.meant is None or _believed(new, jump.meant, before, circumstances):
                found.append(jump)
    if all(d.meant is None for d in found):
        # A slip that is explained already would only be asked about again.
        found += _against_others(new, before, doubted, circumstances)
    return tuple(found)


def dated_ahead(entry: Entry, c: Circumstances) -> bool:
    """Whether an entry was dated into the future when it was written."""
    return not c.simulated and entry.happened_at > entry.written_at + AHEAD


def _in_time(new: Entry, before: Sequence[Entry], c: Circumstances) -> Iterator[Doubt]:
    if before:
        latest = max(before, key=lambda r: r.written_at)
        clock = latest.written_at if c.last_written is None else c.last_written
        if new.written_at < clock - _CLOCK:
            yield Doubt(slip="clock back", beside=latest)
    if dated_ahead(new, c):
        gap = new.happened_at - new.written_at
        meant = new.written_at if gap < _HALF_DAY else new.happened_at - 2.0 * _HALF_DAY
        likely = new.written_at - _HALF_DAY < meant <= new.written_at
        yield Doubt(slip="ahead of the clock", beside=new, meant_at=meant if likely else None)
        return
    own = [r for r in before if r.channel == new.channel and not dated_ahead(r, c)]
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
        elif step > SCALE_CREEP and new.channel == "scale":
            yield Doubt(slip="scale went up", beside=last)
    elif new.quantity == "temperature" and abs(step) > 8.0:
        # A number read in one of the two degrees and written in the other.
        for meant in _other_degrees(new):
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


def _other_degrees(new: Entry) -> tuple[float, ...]:
    """The number typed, in the degrees that it was not typed in. [K]"""
    number = new.number - ZERO_CELSIUS
    as_fahrenheit = (number - 32.0) / 1.8 + ZERO_CELSIUS
    as_celsius = number * 1.8 + 32.0 + ZERO_CELSIUS
    typed_in = {"°C": (as_fahrenheit,), "°F": (as_celsius,)}
    return typed_in.get(new.unit, (as_fahrenheit, as_celsius))


def _other_pressures(new: Entry, atmosphere: float) -> Iterator[float]:
    """What a gauge may have shown that was written with another zero or unit. [Pa]"""
    zero = 0.0 if new.quantity == "absolute pressure" else atmosphere
    if zero:
        yield new.number + zero
        yield new.number - zero
    for unit, size in _PRESSURES.items():
        if new.unit.startswith(unit):
            for other in _PRESSURES.values():
                yield zero + (new.number - zero) * other / size


def _alternatives(new: Entry, atmosphere: float) -> Iterator[float]:
    """What may have been read, were a unit or a zero mistaken, the commoner slips first. [SI]"""
    if "pressure" in new.quantity:
        yield from (p for p in _other_pressures(new, atmosphere) if p > 0.0)
    elif new.quantity == "temperature":
        yield from _other_degrees(new)
    else:
        for ratio in _RATIOS.get(new.quantity, ()):
            yield from (new.number * ratio, new.number / ratio)


def _limits(channel: str, c: Circumstances) -> tuple[float, float]:
    """What a channel can show, by its saturation where it is a gauge of the circuit. [SI]"""
    low, high = CHANNELS[channel].shows
    if CHANNELS[channel].kind in ("power", "current") and not c.running:
        low = 0.0
    if c.air is not None and channel == "suction gas":
        high = min(high, c.air + _ABOVE_AIR)
    return low, high


def _shows(channel: str, value: float, c: Circumstances) -> bool:
    low, high = _limits(channel, c)
    gauge = CHANNELS[channel]
    if gauge.saturation and not gauge.gauge and c.dew is not None and value > 0.0:
        return low <= value <= high and c.dew(value) < _HOTTEST
    return low <= value <= high


def _beside(new: Entry, rows: Sequence[Entry], c: Circumstances) -> dict[str, Entry]:
    """The last of each channel that belongs to the same state of the machine, and the new one."""
    since = -math.inf if c.disturbed_at is None else c.disturbed_at
    together = [r for r in rows if abs(new.happened_at - r.happened_at) <= _TOGETHER]
    return {**{r.channel: r for r in together if r.happened_at >= since}, new.channel: new}


def _believed(new: Entry, value: float, before: Sequence[Entry], c: Circumstances) -> bool:
    """Whether nothing would be asked about the reading, had this been typed. [SI]"""
    values = {n: r.number for n, r in _beside(new, before, c).items()} | {new.channel: value}
    rows = (row for row in ROWS_OF[new.channel] if row.holds(new.happened_at, c))
    return _shows(new.channel, value, c) and not any(row.broken(values, c) for row in rows)


def _against_others(
    new: Entry, before: Sequence[Entry], doubted: Sequence[Entry], c: Circumstances
) -> Iterator[Doubt]:
    """At most one question: what the reading is beyond by itself, or the order that it breaks."""
    now = _beside(new, before, c)
    values = {name: r.number for name, r in now.items()}
    asked = [row for row in ROWS_OF[new.channel] if row.holds(new.happened_at, c)]

    def in_order(value: float) -> bool:
        tried = {**values, new.channel: value}
        return _shows(new.channel, value, c) and all(row.fits(tried, c) for row in asked)

    def meant() -> float | None:
        return next((v for v in _alternatives(new, c.atmosphere) if in_order(v)), None)

    broken = [row for row in asked if row.broken(values, c)]
    there = _beside(new, [*before, *doubted], c) if doubted else now
    with_doubted = {name: r.number for name, r in there.items()}
    for row in asked if doubted else broken:
        other = _other_of(row, new, there)
        if (
            row.may_be_swapped
            and row.broken(with_doubted, c)
            and _in_order_swapped(new, other, values, c)
        ):
            yield Doubt(slip=row.key, beside=other, swapped=True)
            return
    if not _shows(new.channel, new.number, c):
        air = _limits(new.channel, c)[1] < CHANNELS[new.channel].shows[1]
        above = new.number > _limits(new.channel, c)[1]
        if air and above and c.air is not None:
            yield Doubt(slip="warmer than the air", beside=new, meant=meant(), limit=c.air)
        else:
            yield Doubt(slip="beyond what a machine shows", beside=new, meant=meant())
    elif broken:
        row = broken[0]
        term = row.lower if row.lower.saturation else row.upper
        limit = term.value(values, c) if "{limit}" in row.because else None
        yield Doubt(slip=row.key, beside=_other_of(row, new, now), meant=meant(), limit=limit)


def _other_of(row: Row, new: Entry, now: Mapping[str, Entry]) -> Entry:
    """The reading that a row holds against a new one; the new one where it stands alone."""
    return next((now[n] for n in row.channels if n != new.channel and n in now), new)


def _in_order_swapped(
    new: Entry, other: Entry, values: Mapping[str, float], c: Circumstances
) -> bool:
    """Whether all would be in order with the two readings in each other's place."""
    tried = {**values, new.channel: other.number, other.channel: new.number}
    pair = (new.channel, other.channel)
    return all(_shows(name, tried[name], c) for name in pair) and not any(
        row.holds(new.happened_at, c) and row.broken(tried, c)
        for name in pair
        for row in ROWS_OF[name]
    )


def _told(value: float, kind: Kind, entry: Entry, atmosphere: float, system: System) -> str:
    """A value in the unit that the person just typed, where it is one of this kind."""
    for unit in units_of(kind):
        if unit.name == entry.unit:
            return f"{unit.number(value, atmosphere):.{_DIGITS}g} {unit.name}"
    return show(value, kind, system, _DIGITS, atmosphere=atmosphere)


def mending(
    entry: Entry, doubts: Sequence[Doubt], atmosphere: float, system: System
) -> Mending | None:
    """What would put an entry right; None where no slip tells."""
    for doubt in doubts:
        if doubt.swapped:
            return Mending(number=entry.id, swapped_with=doubt.beside.id)
        if doubt.meant_at is not None:
            at = datetime.fromtimestamp(doubt.meant_at).strftime("%Y-%m-%d %H:%M")
            return Mending(number=entry.id, value=entry.text, at=at)
        if doubt.meant is not None:
            kind = kind_of(entry.channel)
            value = _told(doubt.meant, kind, entry, atmosphere, system)
            return Mending(number=entry.id, value=value)
    return None


def question(entry: Entry, doubt: Doubt, atmosphere: float, system: System) -> str:
    """One doubt as a question to the person who typed the entry."""
    then = datetime.fromtimestamp(doubt.beside.happened_at)
    clock = then.strftime("%H:%M:%S")
    if doubt.slip == "twice":
        what = "the addition of" if entry.kind == "addition" else entry.channel
        return f"{what} {entry.text} stands in the log already at {clock}: typed twice?"
    if doubt.slip == "earlier":
        return f"is the time right? A later {entry.channel}, of {clock}, is in the log already"
    if doubt.slip == "clock back":
        return "the clock of this machine has been set back since the last entry: is it right now?"
    if doubt.slip == "ahead of the clock":
        now = datetime.fromtimestamp(entry.written_at).strftime("%Y-%m-%d %H:%M")
        meant = ""
        if doubt.meant_at is not None:
            meant = f", or was it {datetime.fromtimestamp(doubt.meant_at):%Y-%m-%d %H:%M}"
        return (
            f"it is dated {then:%Y-%m-%d %H:%M}, which is still to come (it is {now}): is the "
            f"time right{meant}?"
        )
    kind = kind_of(entry.channel)
    other = _told(doubt.beside.number, kind_of(doubt.beside.channel), entry, atmosphere, system)
    meant = "" if doubt.meant is None else _told(doubt.meant, kind, entry, atmosphere, system)
    limit = (
        "" if doubt.limit is None else _told(doubt.limit, "temperature", entry, atmosphere, system)
    )
    if doubt.slip == "scale went up":
        return (
            f"the scale went up from {other}: was the cylinder changed or the hose moved? "
            "Refrigerant does not go back by itself"
        )
    if doubt.slip == "beyond what a machine shows":
        hint = f"As {meant} it would fit: another unit?" if meant else "Is it typed right?"
        return f"{entry.channel} {entry.text} is beyond what such a machine can show. {hint}"
    if doubt.slip == "warmer than the air":
        hint = f" In the other degrees it would be {meant}" if meant else ""
        return (
            f"{entry.channel} {entry.text} is warmer than the air at the machine, {limit}, which "
            f"is all that warms it: another unit, or the thermometer's seat?{hint}"
        )
    if doubt.slip == "zero of the gauge":
        return (
            f"{entry.text} is one atmosphere from the last reading ({other} at {clock}): gauge or "
            f"absolute? If the other was meant, correct it to {meant}; or was the last one wrong?"
        )
    if doubt.slip == "other unit":
        return f"{entry.text} fits another unit: the last was {other}. Correct it to {meant}?"
    row = BY_KEY[doubt.slip]
    beside = "" if doubt.beside is entry else f" and {doubt.beside.channel} {other}"
    if doubt.swapped:
        hint = f"{row.exchanged} Exchanged they would fit"
    elif meant:
        hint = f"as {meant} it would fit: another unit or zero?"
    else:
        hint = row.check
    return (
        f"{entry.channel} {entry.text}{beside} cannot {'both ' if beside else ''}be right: "
        f"{row.because.format(limit=limit)}; {hint}"
    )

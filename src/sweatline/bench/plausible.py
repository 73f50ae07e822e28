"""Readings that deserve a question before anybody acts on them.

A mistyped reading is no mistake of the machine. Each rule compares a new reading with those before
it and with the others of its minute, and says which slip would explain it. A reading is never
thrown away for it: it is kept as typed, asked about, and corrected by the person if it was wrong.
The thresholds are common practice, wide enough that an honest reading is rarely asked about.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from sweatline.constants import ZERO_CELSIUS

__all__ = ["Circumstances", "Doubt", "Reading", "Slip", "doubts"]

Slip = Literal[
    "earlier",
    "clock back",
    "twice",
    "zero of the gauge",
    "other unit",
    "below saturation",
    "above saturation",
    "suction above head",
    "scale went up",
]

_TOGETHER: Final = 600.0  # s within which two readings belong to one state of the machine
_SAME_MOMENT: Final = 0.5  # s
_CLOCK: Final = 2.0  # s that a clock may be set back by its own upkeep
_ATMOSPHERE_SHARE: Final = 0.07  # how nearly a jump must be one atmosphere, as a share of it
_UNIT_SHARE: Final = 0.03  # how nearly a ratio must be that of two units
_BESIDE: Final = 4.0  # K on the wrong side of saturation: gauge and thermometer together
_SCALE_CREEP: Final = 3e-3  # kg

# Ratios of units that gauges and scales carry side by side.
_PRESSURE_RATIOS: Final = (6.894757, 14.50377, 100.0, 10.0)  # kPa/psi, psi/bar, kPa/bar, bar/MPa
_MASS_RATIOS: Final = (28.34952, 1000.0)  # g/oz, g/kg


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading; pressures absolute. The channel is that of :mod:`sweatline.study.logbook`."""

    channel: str
    kind: Literal["pressure", "temperature", "mass", "other"]
    value: float  # SI
    at: float  # s
    written: float  # s, of the clock of the machine


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """What is known beside the readings."""

    atmosphere: float  # Pa
    dew: Callable[[float], float] | None = None  # K at Pa, None where nothing is in the circuit
    bubble: Callable[[float], float] | None = None  # K at Pa
    running: bool = False
    disturbed_at: float | None = None  # s, last start, stop, opening or addition


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A reading that a slip would explain."""

    slip: Slip
    beside: Reading  # what it was held against
    meant: float | None = None  # what it would be without the slip, SI
    saturation: float | None = None  # K, where the slip is about it


def doubts(
    new: Reading, before: Sequence[Reading], circumstances: Circumstances
) -> tuple[Doubt, ...]:
    """Everything about a new reading that deserves a question.

    Parameters
    ----------
    new : Reading
        Just typed or received.
    before : sequence of Reading
        Earlier ones, in the order written.
    circumstances : Circumstances
        Atmosphere, refrigerant, and what the machine is doing.

    Returns
    -------
    tuple of Doubt
        Empty for most readings.
    """
    found = [*_in_time(new, before)]
    own = [r for r in before if r.channel == new.channel]
    last = own[-1] if own else None
    if last is not None and not any(d.slip == "twice" for d in found):
        found += _jumped(new, last, circumstances)
    found += _against_others(new, before, circumstances)
    return tuple(found)


def _in_time(new: Reading, before: Sequence[Reading]) -> Iterator[Doubt]:
    if before:
        latest = max(before, key=lambda r: r.written)
        if new.written < latest.written - _CLOCK:
            yield Doubt(slip="clock back", beside=latest)
    own = [r for r in before if r.channel == new.channel]
    same = [r for r in own if abs(r.at - new.at) < _SAME_MOMENT]
    if same and same[-1].value == new.value:
        yield Doubt(slip="twice", beside=same[-1])
    elif own and new.at < max(r.at for r in own) - _SAME_MOMENT:
        yield Doubt(slip="earlier", beside=max(own, key=lambda r: r.at))


def _jumped(new: Reading, last: Reading, c: Circumstances) -> Iterator[Doubt]:
    undisturbed = c.disturbed_at is None or c.disturbed_at <= last.at
    if new.at - last.at > _TOGETHER or not undisturbed:
        return
    step = new.value - last.value
    if new.kind == "pressure":
        if abs(abs(step) / c.atmosphere - 1.0) < _ATMOSPHERE_SHARE:
            meant = new.value - (c.atmosphere if step > 0.0 else -c.atmosphere)
            yield Doubt(slip="zero of the gauge", beside=last, meant=meant)
            return
        ratio = _ratio(new.value - c.atmosphere, last.value - c.atmosphere, _PRESSURE_RATIOS)
        if ratio is not None:
            meant = c.atmosphere + (new.value - c.atmosphere) / ratio
            yield Doubt(slip="other unit", beside=last, meant=meant)
    elif new.kind == "mass":
        ratio = _ratio(new.value, last.value, _MASS_RATIOS)
        if ratio is not None:
            yield Doubt(slip="other unit", beside=last, meant=new.value / ratio)
        elif step > _SCALE_CREEP and new.channel == "scale":
            yield Doubt(slip="scale went up", beside=last)
    elif new.kind == "temperature" and abs(step) > 8.0:
        # A number read in one of the two degrees and written in the other.
        for meant in (
            (new.value - ZERO_CELSIUS - 32.0) / 1.8 + ZERO_CELSIUS,
            (new.value - ZERO_CELSIUS) * 1.8 + 32.0 + ZERO_CELSIUS,
        ):
            if abs(meant - last.value) < min(2.0, 0.2 * abs(step)):
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


def _against_others(new: Reading, before: Sequence[Reading], c: Circumstances) -> Iterator[Doubt]:
    now: dict[str, Reading] = {}
    for r in before:
        fresh = c.disturbed_at is None or r.at >= c.disturbed_at
        if abs(new.at - r.at) <= _TOGETHER and fresh:
            now[r.channel] = r
    now[new.channel] = new
    for gauge, thermometer, line, below in (
        ("suction gauge", "suction gas", c.dew, True),
        ("head gauge", "liquid line", c.bubble, False),
    ):
        if gauge in now and thermometer in now and line is not None and c.running:
            p, t = now[gauge], now[thermometer]
            if new not in (p, t):
                continue
            saturated = line(p.value)
            beyond = saturated - t.value if below else t.value - saturated
            if beyond > _BESIDE:
                yield Doubt(
                    slip="below saturation" if below else "above saturation",
                    beside=t if new is p else p,
                    saturation=saturated,
                )
    if c.running and {"suction gauge", "head gauge"} <= now.keys():
        low, high = now["suction gauge"], now["head gauge"]
        if new in (low, high) and low.value > high.value + 0.1 * c.atmosphere:
            yield Doubt(slip="suction above head", beside=high if new is low else low)

"""Going through the log of a charging: what is in, where every reading is heading.

Before every addition, what the readings had come to is told to the dosing, so that the whole
charging weighs the machines that this one may be and not only its last state.
"""

from __future__ import annotations

import copy
import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sweatline.charging.charge_prior import CHARACTERS, settled_readings
from sweatline.charging.dosing import ChargePrior, Dosing
from sweatline.charging.settling import Character, Outlook, Settling
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.log.instruments import scale_step, sd_of
from sweatline.log.vocabulary import EMPTIED

if TYPE_CHECKING:
    from sweatline.assembly.build import Build
    from sweatline.charging.stop_rule import Told
    from sweatline.log.entries import Entry, Instrument

__all__ = ["NEEDED", "SCALE_CREEP", "Following", "Present", "standing_value"]

NEEDED: Final = ("suction gauge", "head gauge", "suction gas")
SCALE_CREEP: Final = 3e-3  # kg by which a scale may wander with nothing let in
_NINE_TENTHS: Final = 1.645  # standard deviations to the 5 % and 95 % points

# Readings that the stop rule looks at and the dosing does not.
_BESIDE: Final[Mapping[str, Character]] = {
    "return gas": Character(noise=0.15, span=5.0, tolerance=0.5),
    "coil": Character(noise=0.15, span=4.0, tolerance=0.5),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Present:
    """How things stand at one moment of a charging."""

    build: Build
    at: float  # s, of the last entry
    quiet_since: float  # s, when something was last done to the machine
    charge: float  # kg
    charge_sd: float  # kg
    untold: float  # kg that the scale lost beyond what was said to be let in
    outlooks: Mapping[str, Outlook]
    last: Mapping[str, Entry]  # reading of each channel
    errors: Mapping[str, tuple[float, str]]  # standard deviation of each instrument, its source
    missing: tuple[str, ...]  # readings without which nothing can be said
    dosing: Dosing  # everything told

    def last_value(self, name: str) -> float:
        """A channel as last read. [SI]"""
        return standing_value(self.last[name], self.build)

    def told(self, name: str) -> Told:
        """Where a reading settles, its instrument's error included. [SI]"""
        o = self.outlooks[name]
        sd = math.hypot((o.high - o.low) / (2.0 * _NINE_TENTHS), self.errors[name][0])
        return o.settled - _NINE_TENTHS * sd, o.settled, o.settled + _NINE_TENTHS * sd

    def superheat(self, thermometer: str) -> Told | None:
        """Above the dew temperature of the suction gauge, where both were read. [K]"""
        if thermometer not in self.outlooks or "suction gauge" not in self.outlooks:
            return None
        return self._beside("suction gauge", thermometer, 1)

    def subcooling(self) -> Told | None:
        """Below the bubble temperature of the head gauge, where both were read. [K]"""
        if "liquid line" not in self.outlooks or "head gauge" not in self.outlooks:
            return None
        low, middle, high = self._beside("head gauge", "liquid line", 0)
        return -high, -middle, -low

    def _beside(self, gauge: str, thermometer: str, side: int) -> Told:
        from sweatline.refrigerant.table import saturation, saturation_slopes

        table = self.build.refrigerant.table
        p, t = self.told(gauge), self.told(thermometer)
        pressure = _within(p[1], table.p_min, table.p_max)
        slope = float(saturation_slopes(table, pressure)[side])
        middle = t[1] - float(saturation(table, pressure)[side])
        half = math.hypot(t[2] - t[1], slope * (p[2] - p[1]))
        return middle - half, middle, middle + half

    def difference(self, name: str) -> float | None:
        """Superheat or subcooling as last read; None where it was not. [K]"""
        from sweatline.refrigerant.table import saturation

        pairs = {
            "superheat": ("suction gauge", "suction gas", 1),
            "subcooling": ("head gauge", "liquid line", 0),
        }
        if name not in pairs:
            return None
        gauge, thermometer, side = pairs[name]
        if gauge not in self.last or thermometer not in self.last:
            return None
        table = self.build.refrigerant.table
        pressure = _within(self.last_value(gauge), table.p_min, table.p_max)
        above = self.last_value(thermometer) - float(saturation(table, pressure)[side])
        return above if side else -above


def standing_value(e: Entry, build: Build) -> float:
    """A reading, its gauge's zero being that of the job where the log was begun without one. [SI]

    A gauge compares with the air where it stands; a log that knows no altitude has written down
    what it would have shown by the sea.
    """
    value = float(e.value or 0.0)
    if e.atmosphere == STANDARD_ATMOSPHERE and e.quantity == "pressure" and e.unit in _gauges():
        value += build.job.place.atmospheric_pressure - STANDARD_ATMOSPHERE
    return value


@functools.cache
def _gauges() -> frozenset[str]:
    """Units that count from the atmosphere."""
    from sweatline.units.kinds import units_of

    return frozenset(u.name for u in units_of("pressure") if u.reference in ("gauge", "vacuum"))


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


class Following:
    """Takes the entries that hold, in the order in which they happened.

    Parameters
    ----------
    build : Build
        The machine.
    known : ChargePrior, optional
        Of it; None where it must not be charged, then only the charge is followed.
    """

    def __init__(self, build: Build, known: ChargePrior | None) -> None:
        self.build = build
        self.seen = 0
        self.instruments: Mapping[str, Instrument] = {}
        self.characters = {**CHARACTERS, **_BESIDE}
        self._dosing = Dosing(known) if known is not None else None
        self._settling: dict[str, Settling] = {}
        self._last: dict[str, Entry] = {}
        self._charge = 0.0
        self._variance = 0.0
        self._at = 0.0
        self._quiet_since = 0.0
        self._epoch = 0
        self._fresh = False
        self._scale: float | None = None  # kg, of the cylinder, as far as it is accounted for
        self._said = 0.0  # kg of additions that were told since
        self._untold = 0.0  # kg that the last reading of the scale shows beyond them

    def step(self, e: Entry, *, epoch: int, in_doubt: bool) -> None:
        """Take in the next entry; one in doubt is counted and not followed."""
        self.seen += 1
        if in_doubt:
            return
        if epoch != self._epoch:
            # The clock was set back: earlier times are not of this clock.
            self._epoch = epoch
            self._at = self._quiet_since = e.happened_at
            self._settling.clear()
            self._last.clear()
        if e.kind == "reading" and e.channel == "scale":
            self._weighed(e)
        elif e.kind == "reading" and e.channel in self.characters:
            self._at = max(self._at, e.happened_at)
            self._read(e)
        elif e.kind in ("addition", "event"):
            self._at = max(self._at, e.happened_at)
            self._done(e)

    def _read(self, e: Entry) -> None:
        one = self._settling.setdefault(e.channel, Settling(self.characters[e.channel]))
        one.update(e.happened_at, standing_value(e, self.build))
        self._last[e.channel] = e
        self._fresh = True

    def _weighed(self, e: Entry) -> None:
        """Hold the scale under the cylinder against what was said to have been let in."""
        value = float(e.value or 0.0)
        self._untold = 0.0 if self._scale is None else self._scale - value - self._said
        if self._scale is None or abs(self._untold) < SCALE_CREEP:
            self._scale, self._said, self._untold = value, 0.0, 0.0

    def _done(self, e: Entry) -> None:
        now = self._outlooks(e.happened_at)
        known = self._charge > 0.0 and all(n in now for n in NEEDED)
        if self._fresh and self._dosing is not None and known:
            self._tell(self._dosing, now)
        self._fresh = False
        self._quiet_since = e.happened_at
        emptied = e.kind == "event" and e.channel in EMPTIED
        if emptied or (e.kind == "event" and e.channel == "stopped"):
            self._settling.clear()
            self._last.clear()
        for one in self._settling.values():
            one.disturb(e.happened_at)
        if emptied:
            self._charge = self._variance = 0.0
        else:
            mass, sd = self._let_in(e)
            self._charge += mass
            self._variance += sd**2
            if e.kind == "addition":
                self._said += mass
                self._untold -= mass
        if emptied or e.channel == "cylinder changed":
            self._scale, self._untold = None, 0.0

    def _let_in(self, e: Entry) -> tuple[float, float]:
        """What an entry adds to the charge of the machine, and its standard deviation. [kg]"""
        from sweatline.log.hoses import written_can, written_hose
        from sweatline.parts.hose import can_used, hose_content

        room = self.build.job.room.temperature.value
        atmosphere = e.atmosphere or self.build.job.place.atmospheric_pressure
        if e.kind == "addition" or e.channel == "vented":
            # A dose is the difference of two readings of the scale.
            sd = e.sd if e.sd is not None else math.sqrt(2.0) * scale_step(self.instruments)
            return (1.0 if e.kind == "addition" else -1.0) * float(e.value or 0.0), sd
        if e.channel == "hose left":
            hose = written_hose(e.text, e.channel, room, atmosphere)
            content = hose_content(self.build.refrigerant, hose)
            return -content.mass, content.sd
        if e.channel == "can emptied":
            return can_used(
                self.build.refrigerant, written_can(e.text, e.channel, atmosphere), room
            )
        return 0.0, 0.0

    def _outlooks(self, now: float) -> dict[str, Outlook]:
        return {n: s.outlook(now) for n, s in self._settling.items() if s.readings_seen}

    def _errors(self) -> dict[str, tuple[float, str]]:
        atmosphere = self.build.job.place.atmospheric_pressure
        return {
            name: sd_of(e, self.instruments, e.atmosphere or atmosphere)
            for name, e in self._last.items()
        }

    def _tell(self, dosing: Dosing, outlooks: Mapping[str, Outlook]) -> None:
        errors = {name: sd for name, (sd, _source) in self._errors().items()}
        values, fresh, standing = settled_readings(
            self.build.refrigerant.table, outlooks, errors=errors
        )
        if "coil" in outlooks:
            coil = outlooks["coil"]
            values[-1] = coil.settled
            spread = (coil.high - coil.low) / (2.0 * _NINE_TENTHS)
            fresh[-1] = math.hypot(spread, errors["coil"])
        dosing.told(self._charge, values, fresh, np.nan_to_num(standing))

    def present(self) -> Present:
        """How things stand after the entries taken in so far."""
        outlooks = self._outlooks(self._at)
        missing = tuple(n for n in NEEDED if n not in outlooks)
        dosing = self._dosing
        if dosing is None:
            outlooks = {}
        elif not missing and self._charge > 0.0:
            # What is read now may change yet: it is told to a copy.
            dosing = copy.deepcopy(dosing)
            self._tell(dosing, outlooks)
        return Present(
            build=self.build,
            at=self._at,
            quiet_since=self._quiet_since,
            charge=self._charge,
            charge_sd=math.sqrt(self._variance),
            untold=self._untold if self._scale is not None else 0.0,
            outlooks=outlooks,
            last=dict(self._last),
            errors=self._errors(),
            missing=missing if dosing is not None else NEEDED,
            dosing=dosing,  # type: ignore[arg-type]  # not asked for where everything is missing
        )

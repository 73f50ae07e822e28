"""The charge tracker: going through a log, what is in, where every reading is heading.

Before every addition, what the readings had come to is told to the dosing, so that the whole
charging weighs the machines that this one may be and not only its last state.
"""

from __future__ import annotations

import copy
import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Range, record_of
from sweatline.assembly.build import Build
from sweatline.charging.dosing import INSTRUMENTS, READINGS, ChargePrior, Dosing
from sweatline.charging.settling import Outlook, Settling
from sweatline.constants import NINE_TENTHS, STANDARD_ATMOSPHERE
from sweatline.log.channels import CHANNELS, CHARACTERS, EMPTIED
from sweatline.log.entries import Entry, Instrument, ruled_out_after, scale_step, sd_of
from sweatline.log.plausibility import SCALE_CREEP
from sweatline.parts.hose import Can, Hose, can_used, hose_content
from sweatline.refrigerant.table import Table, saturation, saturation_slopes
from sweatline.units.kinds import units_of

FloatArray = NDArray[np.float64]

NEEDED: Final = ("suction gauge", "head gauge", "suction gas")
AT_REST: Final = "standing pressure"  # says something while the machine stands
# Thermometer behind a difference to the saturation of its gauge.
DIFFERENCES: Final[Mapping[str, str]] = {"superheat": "suction gas", "subcooling": "liquid line"}


class Told(NamedTuple):
    """A round of readings as it stood when the next thing was done."""

    charge: float  # kg, by what was weighed in
    at: float  # s
    outlooks: Mapping[str, Outlook]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeState:
    """How things stand at one moment of a charging."""

    build: Build
    at: float  # s, of the last entry
    quiet_since: float  # s, when something was last done to the machine
    running: bool
    charge: float  # kg
    charge_sd: float  # kg
    untold: float  # kg that the scale lost beyond what was said to be let in
    outlooks: Mapping[str, Outlook]
    last: Mapping[str, Entry]  # reading of each channel
    errors: Mapping[str, tuple[float, str]]  # standard deviation of each instrument, its source
    earlier: tuple[Told, ...]  # rounds before
    beside: Mapping[str, tuple[float, Entry]]  # last of what is not followed, and the charge [kg]
    ruled_out: frozenset[str]  # what was looked at and is in order
    instruments: Mapping[str, Instrument]
    missing: tuple[str, ...]  # readings without which nothing can be said
    dosing: Dosing  # everything told

    def last_value(self, name: str) -> float:
        """A channel as last read. [SI]"""
        return at_place(self.last[name], self.build)

    def settles(self, name: str) -> Range:
        """Where a reading settles, its instrument's error included. [SI]"""
        o = self.outlooks[name]
        reach = NINE_TENTHS * math.hypot((o.high - o.low) / (2.0 * NINE_TENTHS), self.sd(name))
        return Range(low=o.settled - reach, middle=o.settled, high=o.settled + reach)

    def sd(self, name: str) -> float:
        """Standard deviation of the instrument of a channel. [SI]"""
        return self.errors[name][0]

    def superheat(self, thermometer: str) -> Range | None:
        """Of a thermometer above the saturation of its gauge, where both were read. [K]"""
        gauge = CHANNELS[thermometer].gauge
        if thermometer not in self.outlooks or gauge not in self.outlooks:
            return None
        p, t = self.settles(gauge), self.settles(thermometer)
        side = _SIDES.index(CHANNELS[thermometer].saturation)
        slope = float(saturation_slopes(self._table, self._within(p.middle))[side])
        middle = t.middle - self._saturation(gauge, p.middle)
        half = math.hypot(t.high - t.middle, slope * (p.high - p.middle))
        return Range(low=middle - half, middle=middle, high=middle + half)

    def subcooling(self) -> Range | None:
        """Below the bubble temperature of the head gauge, where both were read. [K]"""
        above = self.superheat("liquid line")
        if above is None:
            return None
        return Range(low=-above.high, middle=-above.middle, high=-above.low)

    def difference(self, name: str) -> float | None:
        """Superheat or subcooling as last read; None where it was not. [K]"""
        thermometer = DIFFERENCES.get(name, "")
        if thermometer not in self.last or CHANNELS[thermometer].gauge not in self.last:
            return None
        gauge = CHANNELS[thermometer].gauge
        above = self.last_value(thermometer) - self._saturation(gauge, self.last_value(gauge))
        return above if name == "superheat" else -above

    def saturation(self, name: str) -> float | None:
        """Saturation temperature of a gauge as last read: dew of the suction, bubble of the head.

        None for other channels. [K]
        """
        channel = CHANNELS.get(name)
        if channel is None or channel.gauge or not channel.saturation or name not in self.last:
            return None
        return self._saturation(name, self.last_value(name))

    def _saturation(self, gauge: str, pressure: float) -> float:
        side = _SIDES.index(CHANNELS[gauge].saturation)
        return float(saturation(self._table, self._within(pressure))[side])

    @property
    def _table(self) -> Table:
        return self.build.refrigerant.table

    def _within(self, pressure: float) -> float:
        return min(max(pressure, self._table.p_min), self._table.p_max)


_SIDES: Final = ("bubble", "dew")  # in the order of the table's functions


def at_place(e: Entry, build: Build) -> float:
    """A reading, its gauge's zero being that of the job where the log was begun without one. [SI]

    A gauge compares with the air where it stands; a log that knows no altitude has written down
    what it would have shown by the sea.
    """
    value = e.number
    if e.atmosphere == STANDARD_ATMOSPHERE and e.quantity == "pressure" and e.unit in _gauges():
        value += build.job.place.atmospheric_pressure - STANDARD_ATMOSPHERE
    return value


@functools.cache
def _gauges() -> frozenset[str]:
    """Units that count from the atmosphere."""
    return frozenset(u.name for u in units_of("pressure") if u.reference in ("gauge", "vacuum"))


class ChargeTracker:
    """Takes the entries that hold, in the order in which they happened.

    Parameters
    ----------
    build : Build
        The machine.
    prior : ChargePrior, optional
        Of it; None where it must not be charged, then only the charge is followed.
    """

    def __init__(self, build: Build, prior: ChargePrior | None) -> None:
        self.build = build
        self.seen = 0
        self.instruments: Mapping[str, Instrument] = {}
        self._prior = prior
        self._dosing = Dosing(prior) if prior is not None else None
        self._settling: dict[str, Settling] = {}
        self._last: dict[str, Entry] = {}
        self._beside: dict[str, tuple[float, Entry]] = {}
        self._earlier: list[Told] = []
        self._ruled_out: frozenset[str] = frozenset()
        self._charge = 0.0
        self._variance = 0.0
        self._at = 0.0
        self._quiet_since = 0.0
        self._epoch = 0
        self._fresh = False
        self._running = True  # until the log says that it was stopped
        self._scale: float | None = None  # kg, of the cylinder, as far as it is accounted for
        self._said = 0.0  # kg of additions that were told since
        self._untold = 0.0  # kg that the last reading of the scale shows beyond them

    def copied(self) -> ChargeTracker:
        """Another that has come as far, and goes on by itself."""
        shared = (self.build, self.instruments, self._prior)
        return copy.deepcopy(self, {id(one): one for one in shared})

    def step(self, e: Entry, *, epoch: int, in_doubt: bool) -> None:
        """Take in the next entry; one in doubt is counted and not followed."""
        self.seen += 1
        if in_doubt:
            return
        self._ruled_out = ruled_out_after(self._ruled_out, e)
        if epoch != self._epoch:
            # The clock was set back: earlier times are not of this clock.
            self._epoch = epoch
            self._at = self._quiet_since = e.happened_at
            self._earlier = [one._replace(at=e.happened_at) for one in self._earlier]
            self._settling.clear()
            self._last.clear()
        if e.kind == "reading" and e.channel == "scale":
            self._weighed(e)
        elif e.kind == "reading" and e.channel in CHARACTERS:
            self._at = max(self._at, e.happened_at)
            self._read(e)
        elif e.kind == "reading" and (self._running or e.channel == AT_REST):
            self._beside[e.channel] = (self._charge, e)
        elif e.renewed:
            self._renewed(e.renewed)
        elif e.done:
            self._at = max(self._at, e.happened_at)
            self._done(e)

    def _read(self, e: Entry) -> None:
        if not self._running:  # at rest nothing is on its way to a settled value
            return
        one = self._settling.setdefault(e.channel, Settling(CHARACTERS[e.channel]))
        one.update(e.happened_at, at_place(e, self.build))
        self._last[e.channel] = e
        self._fresh = True

    def _renewed(self, channel: str) -> None:
        """Another instrument reads it: what the one before showed is not carried on."""
        for known in (self._settling, self._last, self._beside):
            known.pop(channel, None)
        self._earlier = [
            one._replace(outlooks={n: o for n, o in one.outlooks.items() if n != channel})
            for one in self._earlier
        ]
        if self._dosing is not None and channel in INSTRUMENTS:
            self._dosing.renewed(INSTRUMENTS.index(channel))

    def _weighed(self, e: Entry) -> None:
        """Hold the scale under the cylinder against what was said to have been let in."""
        value = e.number
        self._untold = 0.0 if self._scale is None else self._scale - value - self._said
        if self._scale is None or abs(self._untold) < SCALE_CREEP:
            self._scale, self._said, self._untold = value, 0.0, 0.0

    def _done(self, e: Entry) -> None:
        now = self._outlooks(e.happened_at)
        known = self._charge > 0.0 and all(n in now for n in NEEDED)
        if self._fresh and self._dosing is not None and known:
            self._tell(self._dosing, now)
            self._earlier.append(Told(self._charge, e.happened_at, now))
        self._fresh = False
        self._quiet_since = e.happened_at
        emptied = e.event in EMPTIED
        if e.kind == "event":
            self._running = {"started": True, "stopped": False}.get(e.channel, self._running)
        if emptied or not self._running:
            self._settling.clear()
            self._last.clear()
        for one in self._settling.values():
            one.disturb(e.happened_at)
        if emptied:
            self._charge = self._variance = 0.0
            self._earlier.clear()
            self._beside.clear()
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
        room = self.build.job.room.temperature.value
        atmosphere = e.atmosphere or self.build.job.place.atmospheric_pressure
        if e.kind == "addition" or e.channel == "vented":
            # A dose is the difference of two readings of the scale.
            sd = e.sd if e.sd is not None else math.sqrt(2.0) * scale_step(self.instruments)
            return (1.0 if e.kind == "addition" else -1.0) * e.number, sd
        if e.channel == "hose left":
            hose = record_of(Hose, e.text, where=e.channel, zero=atmosphere)
            content = hose_content(self.build.refrigerant, hose, room)
            return -content.mass, content.sd
        if e.channel == "can emptied":
            can = record_of(Can, e.text, where=e.channel, zero=atmosphere)
            return can_used(self.build.refrigerant, can, room)
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
        table = self.build.refrigerant.table
        dosing.told(self._charge, *settled_readings(table, outlooks, errors=errors))

    def state(self, now: float | None = None) -> ChargeState:
        """How things stand after the entries taken in so far, at the last of them by default.

        Parameters
        ----------
        now : float, optional
            A later moment. [s since 1970]
        """
        at = self._at if now is None else max(now, self._at)
        outlooks = self._outlooks(at)
        missing = tuple(n for n in NEEDED if n not in outlooks)
        dosing = self._dosing
        if dosing is None:
            outlooks = {}
        elif not missing and self._charge > 0.0:
            # What is read now may change yet: it is told to a copy.
            dosing = copy.deepcopy(dosing)
            self._tell(dosing, outlooks)
        return ChargeState(
            build=self.build,
            at=at,
            quiet_since=self._quiet_since,
            running=self._running,
            charge=self._charge,
            charge_sd=math.sqrt(self._variance),
            untold=self._untold if self._scale is not None else 0.0,
            outlooks=outlooks,
            last=dict(self._last),
            errors=self._errors(),
            earlier=tuple(self._earlier),
            beside=dict(self._beside),
            ruled_out=self._ruled_out,
            instruments=self.instruments,
            missing=missing if dosing is not None else NEEDED,
            dosing=dosing,  # type: ignore[arg-type]  # not asked for where everything is missing
        )


def settled_readings(
    table: Table, outlooks: Mapping[str, Outlook], *, errors: Mapping[str, float] | None = None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Foretold settled readings in the order and form of the dosing, and their errors.

    Parameters
    ----------
    errors : mapping of str to float, optional
        Standard deviation of each channel's instrument. [Pa, K, W, A] By default that of its
        channel.

    Returns
    -------
    values : (8,) array
        NaN where nothing was read.
    fresh : (8,) array
        Standard deviations of what has not settled yet; of the coil, its thermometer included.
    systematic : (8, 7) array
        What one standard deviation of each instrument's own error does to every value, in the
        order of `INSTRUMENTS`.
    """
    middle = {name: o.settled for name, o in outlooks.items()}
    width = {name: (o.high - o.low) / (2.0 * NINE_TENTHS) for name, o in outlooks.items()}
    nan = float("nan")
    ps, ps_sd = middle["suction gauge"], width["suction gauge"]
    pd, pd_sd = middle["head gauge"], width["head gauge"]
    watts, amps = middle.get("watts", nan), middle.get("amps", nan)
    dew, bubble = saturation(table, ps)[1], saturation(table, pd)[0]
    by_ps, by_pd = saturation_slopes(table, ps)[1], saturation_slopes(table, pd)[0]
    sd = {name: CHANNELS[name].sd for name in (*INSTRUMENTS, "coil")}
    sd["watts"] *= watts
    sd["amps"] *= amps
    sd.update(errors or {})
    values = np.array(
        [
            np.log(ps),
            np.log(pd),
            max(middle["suction gas"] - dew, 0.0),
            np.maximum(bubble - middle.get("liquid line", nan), 0.0),
            np.log(watts),
            middle.get("discharge gas", nan),
            middle.get("coil", nan),
            np.log(amps),
        ]
    )
    fresh = np.array(
        [
            ps_sd / ps,
            pd_sd / pd,
            np.hypot(width["suction gas"], by_ps * ps_sd),
            np.hypot(width.get("liquid line", 0.0), by_pd * pd_sd),
            width.get("watts", 0.0) / watts,
            width.get("discharge gas", 0.0),
            np.hypot(width.get("coil", 0.0), sd["coil"]),
            width.get("amps", 0.0) / amps,
        ]
    )
    systematic = np.zeros((len(READINGS), len(INSTRUMENTS)))
    systematic[0, 0] = sd["suction gauge"] / ps
    systematic[1, 1] = sd["head gauge"] / pd
    # A gauge that reads high makes the superheat look small and the subcooling large.
    systematic[2, (0, 2)] = -by_ps * sd["suction gauge"], sd["suction gas"]
    systematic[3, (1, 3)] = by_pd * sd["head gauge"], sd["liquid line"]
    systematic[5, 4] = sd["discharge gas"]
    systematic[4, 5] = sd["watts"] / watts
    systematic[7, 6] = sd["amps"] / amps
    return values, fresh, systematic

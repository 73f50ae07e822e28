"""Which settings of the control serve a room best: looked for, with what each of them is good for.

Time too damp comes first, then time iced up, then energy. Of the times less than a day in the year
is as good as none, and beyond that they are put in classes that double: only about half as much
damp is worth paying for. To the energy every device that must be bought adds what it has to save
to be worth fitting. Counted so, any two settings can be ranked and no circle can arise. The search
goes downhill over a grid as fine as knobs can be set, with long strides first, and over the kinds
of defrost; it ends where no neighbour is better.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Annotated, Any, Final, NamedTuple

from sweatline.answers import Answer, Hidden, Q, Shown
from sweatline.constants import ZERO_CELSIUS
from sweatline.job.year import Control as Switches
from sweatline.season.room_step import MachineMap, RoomParameters
from sweatline.season.totals import Totals, control_of, run, total_of
from sweatline.season.weather import Weather
from sweatline.units.kinds import DAY

SEARCH_STEPS: Final = 12  # in an hour; ranks alike with sixty at a fifth of the time
_DEVICE: Final = 10.0 * 3.6e6  # J a year that a device has to save
_STRIDES: Final = (4, 2, 1)
_BEGIN: Final = (-0.04, 0.0, 0.02)  # about the wished humidity, where the search looks first
_KINDS: Final = (
    ("none", "fan"), ("coil", "fan"), ("coil", "hot gas"), ("clock", "fan"), ("clock", "hot gas"),
)  # fmt: skip
_POINTS: Final = 0.02  # of relative humidity, by which the trade-off is told


class _Knob(NamedTuple):
    """Where a number can be set: from, to, in steps. [SI]"""

    low: float
    high: float
    step: float


_DIFFERENTIAL: Final = _Knob(0.02, 0.08, 0.01)
_COIL: Final = {
    "coil_stop": _Knob(268.15, 274.15, 0.5),
    "coil_delay": _Knob(600.0, 3600.0, 600.0),
    "rest": _Knob(300.0, 3600.0, 300.0),
}
_CLOCK: Final = {
    "run_stop": _Knob(1800.0, 14400.0, 900.0),
    "rest": _Knob(300.0, 3600.0, 300.0),
}
_WARMEST_CUT_OUT: Final = 18.0 + ZERO_CELSIUS
_TOGETHER: Final = {
    "humidity": ("humidity",),
    "differential": ("differential",),
    "cut_out": ("cut_out",),
    "defrost": ("defrost", "defrost_by", "coil_stop", "coil_delay", "run_stop", "rest"),
    "fan": ("fan",),
}
"""Keys of the job that are set together, by the one that names them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting(Answer):
    """One way to switch the machine, and the year that it gives."""

    control: Annotated[Switches, Hidden()]
    too_damp: Annotated[float, Q("time", "too damp")]
    iced_up: Annotated[float, Q("time", "iced up")]
    energy: Annotated[float, Q("energy", "energy")]

    @property
    def humidity(self) -> Annotated[float, Q("relative humidity", "humidistat")]:
        """Middle between starting and stopping."""
        return self.control.humidity

    @property
    def differential(self) -> Annotated[float, Q("relative humidity", "differential")]:
        """From where it starts the machine to where it stops it."""
        return self.control.differential

    @property
    def cut_out(self) -> Annotated[float | None, Q("temperature", "low-temperature cut-out")]:
        """Of the room; None without one."""
        return self.control.cut_out

    @property
    def defrost(self) -> Annotated[str, Shown()]:
        """None, coil or clock."""
        return self.control.defrost

    @property
    def melts_by(self) -> Annotated[str, Shown()]:
        """Fan, standing or hot gas; empty without a defrost."""
        return "" if self.control.defrost == "none" else self.control.defrost_by

    @property
    def coil_stop(self) -> Annotated[float | None, Q("temperature", "coil thermostat")]:
        """None without one."""
        return self.control.coil_stop if self.control.defrost == "coil" else None

    @property
    def coil_delay(self) -> Annotated[float | None, Q("time", "its delay")]:
        """None without a coil thermostat."""
        return self.control.coil_delay if self.control.defrost == "coil" else None

    @property
    def run_stop(self) -> Annotated[float | None, Q("time", "running time")]:
        """After which the clock defrosts; None without a clock."""
        return self.control.run_stop if self.control.defrost == "clock" else None

    @property
    def rest(self) -> Annotated[float | None, Q("time", "defrost time")]:
        """None without a defrost."""
        return None if self.control.defrost == "none" else self.control.rest

    @property
    def fan(self) -> Annotated[str, Shown()]:
        """When the fan runs."""
        return self.control.fan

    @property
    def rank(self) -> tuple[int, int, float]:
        """Less is better: classes of damp and of ice, energy with that of its devices [J]."""
        worth = float(self.energy) + _DEVICE * devices(self.control)
        return _class_of(self.too_damp), _class_of(self.iced_up), worth


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings(Answer):
    """Which settings serve best, and why."""

    best: Setting
    own: Setting
    """As the job has it."""
    why: Mapping[str, Setting]
    """For each key of the job that is set otherwise: the best, but this one as in the job."""
    drier: Setting
    """The best with its humidistat two points lower."""
    damper: Setting
    """The best with its humidistat two points higher."""
    others: tuple[Setting, ...]
    """The best that was found with each other kind of control, the best first."""


def _class_of(time: float) -> int:
    """0 below a day in the year, 1 below two, 2 below four days and so on."""
    return 0 if time < DAY else 1 + int(math.log2(time / DAY))


def devices(control: Switches) -> int:
    """What must be bought and wired beyond a humidistat: cut-out, defrost, hot gas valve."""
    found = int(control.cut_out is not None)
    if control.defrost != "none":
        found += 2 if control.defrost_by == "hot gas" else 1
    return found


def neighbours(
    at: Switches, wish: float, coldest: float, *, freezes: bool, stride: int = 1
) -> Iterator[Switches]:
    """Settings one stride away: each knob up and down, and the other kinds of control.

    Parameters
    ----------
    wish : float
        Humidity that the job names; the humidistat stays near it. [relative humidity]
    coldest : float
        Coldest that the room becomes: a cut-out below does nothing. [K]
    freezes : bool
        Whether the coil freezes in any of its rooms; else only the humidistat and the fan count.
    """
    knobs = {"humidity": _Knob(wish - 0.1, wish + 0.02, 0.01), "differential": _DIFFERENTIAL}
    if freezes and at.defrost != "none":
        knobs |= _COIL if at.defrost == "coil" else _CLOCK

    def to(name: str, value: Any) -> Switches:
        return replace(at, **{name: value})

    for name, knob in knobs.items():
        here = getattr(at, name)
        for way in (-1, 1):
            there = round(min(max(here + way * stride * knob.step, knob.low), knob.high), 9)
            if there != here:
                yield to(name, there)
    # Along the line where it starts at nearly the same humidity: a step of either alone is worse.
    for way in (-1, 1):
        humidity = round(at.humidity - way * 0.01 * stride, 9)
        differential = round(at.differential + way * _DIFFERENTIAL.step * stride, 9)
        inside = _DIFFERENTIAL.low <= differential <= _DIFFERENTIAL.high
        if inside and knobs["humidity"].low <= humidity <= knobs["humidity"].high:
            yield replace(at, humidity=humidity, differential=differential)
    other: Any = "always" if at.fan == "with the compressor" else "with the compressor"
    yield to("fan", other)
    if not freezes:
        return
    if at.cut_out is None:
        if coldest + stride <= _WARMEST_CUT_OUT:
            yield to("cut_out", coldest + stride)
    else:
        lower = at.cut_out - stride
        yield to("cut_out", lower if lower > coldest else None)
        if at.cut_out + stride <= _WARMEST_CUT_OUT:
            yield to("cut_out", at.cut_out + stride)
    for kind, by in _KINDS:
        if kind != at.defrost or (kind != "none" and by != at.defrost_by):
            begins: Any = kind
            melts: Any = by
            yield replace(at, defrost=begins, defrost_by=melts)


def settings_for(
    own: Switches,
    weather: Weather,
    room: RoomParameters,
    machine: MachineMap,
    coldest: float,
    *,
    fitted: Switches | None = None,
) -> Settings:
    """Look for the settings that serve a room best.

    Parameters
    ----------
    own : Control
        As the job has it; says what is wished.
    coldest : float
        Coldest that the room becomes in the year. [K]
    fitted : Control, optional
        Of a machine to which nothing can be fitted: its humidistat and its fan are set, beginning
        with these.
    """
    wished = control_of(own).wished
    floor = float(int(coldest)) + 0.15
    freezes = fitted is None and bool(machine.coil.min() < ZERO_CELSIUS)

    def at(control: Switches, steps: int) -> Setting:
        total: Totals = total_of(
            run(weather, room, machine, control_of(control)._replace(wished=wished), steps=steps)
        )
        return Setting(
            control=control, too_damp=total.too_damp, iced_up=total.iced_up, energy=total.energy
        )

    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        seen: dict[Switches, Setting] = {}

        def tried(controls: Iterable[Switches]) -> list[Setting]:
            wanted = list(dict.fromkeys(controls))
            new = [c for c in wanted if c not in seen]
            seen.update(zip(new, pool.map(lambda c: at(c, SEARCH_STEPS), new), strict=True))
            return [seen[c] for c in wanted]

        plain = replace(own, defrost="none", cut_out=None) if fitted is None else fitted

        def near(control: Switches, stride: int) -> Iterator[Switches]:
            return neighbours(control, own.humidity, floor, freezes=freezes, stride=stride)

        found = []
        for h in _BEGIN:
            there = replace(plain, humidity=round(own.humidity + h, 9))
            wide = (_DIFFERENTIAL.low, own.differential, _DIFFERENTIAL.high)
            starts = [fitted or own, *(replace(there, differential=d) for d in wide)]
            found.append(_downhill(starts, near, tried))
        best = min(found, key=lambda s: s.rank)
        why = {
            name: replace(best.control, **{key: getattr(own, key) for key in keys})
            for name, keys in _TOGETHER.items()
            if _differ(own, best.control, name)
        }
        trade = [
            replace(best.control, humidity=best.control.humidity + d) for d in (-_POINTS, _POINTS)
        ]
        kinds: dict[tuple[Any, ...], Setting] = {}
        for one in sorted(seen.values(), key=lambda s: s.rank):
            kinds.setdefault(_kind(one.control), one)
        others = [s.control for kind, s in kinds.items() if kind != _kind(best.control)]
        wanted = [best.control, own, *trade, *why.values(), *others]
        told = dict(zip(wanted, pool.map(lambda c: at(c, 60), wanted), strict=True))
    return Settings(
        best=told[best.control],
        own=told[own],
        why={name: told[control] for name, control in why.items()},
        drier=told[trade[0]],
        damper=told[trade[1]],
        others=tuple(sorted((told[c] for c in others), key=lambda s: s.rank)),
    )


def _downhill(
    starts: Iterable[Switches],
    near: Callable[[Switches, int], Iterable[Switches]],
    tried: Callable[[Iterable[Switches]], list[Setting]],
) -> Setting:
    """From the best of some starts to where no neighbour is better any more."""
    best = min(tried(starts), key=lambda s: s.rank)
    for stride in _STRIDES:
        while True:
            there = min(tried(near(best.control, stride)), key=lambda s: s.rank)
            if there.rank >= best.rank:
                break
            best = there
    return best


def _kind(control: Switches) -> tuple[Any, ...]:
    by = "" if control.defrost == "none" else control.defrost_by
    return control.defrost, by, control.cut_out is not None


def _differ(own: Switches, best: Switches, name: str) -> bool:
    """Whether a group of keys is set otherwise, as far as it is used."""
    if name == "defrost":
        if own.defrost == best.defrost == "none":
            return False
        used = {"none": (), "coil": _COIL, "clock": _CLOCK}[best.defrost]
        keys: Iterable[str] = ("defrost", "defrost_by", *used)
    else:
        keys = _TOGETHER[name]
    return any(getattr(own, key) != getattr(best, key) for key in keys)

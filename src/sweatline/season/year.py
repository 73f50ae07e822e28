"""A year with one machine in one room: is it dry enough, does it ice up, what does it take?

The machine comes as a map over rooms, solved once; the year is stepped minute by minute through it.
Ranges come from draws of the room, the weather, the humidistat and the machine together.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Annotated, Any, ClassVar, Final, Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Hidden, Q, Range, Shown, quantities_of, range_of
from sweatline.constants import NINE_TENTHS, ZERO_CELSIUS
from sweatline.design.balance import BuildAnswer, JobHead, part_of_progress
from sweatline.design.frost import FrostAnswer, frost
from sweatline.design.room_map import RoomAnswer, room_map
from sweatline.job.model import Job
from sweatline.job.year import Control as Switches
from sweatline.season.place import _SENSOR, _WATER, _WATTS, Knowledge, known_of, room_of, weather_of
from sweatline.season.room_step import Control, MachineMap
from sweatline.season.settings import Settings, settings_for
from sweatline.season.totals import (
    Month,
    Run,
    Totals,
    control_of,
    fields_of,
    no_machine,
    run,
    total_of,
)
from sweatline.season.weather import HOURS, MONTHS, Weather

FloatArray = NDArray[np.float64]

_HUMIDITIES: Final = (0.35, 0.5, 0.65, 0.8, 0.95)
_ROWS: Final = 6  # temperatures of the map
_COLDEST_ROOM: Final = 1.0 + ZERO_CELSIUS  # K, of the map
_PULL_DOWN: Final = 150.0  # s until most of the water comes (common practice: some minutes)
# kg of water on a square metre of wet fins (MEMORY 0.4: 0.1 to 0.2).
_HELD: Final = 0.12
_NOTHING: Final = Control(2.0, -1.0, *(0.0,) * 12, 1.0)  # never starts


@dataclass(frozen=True, slots=True, kw_only=True)
class YearRequest:
    """What a year, and whether it pays, is asked for."""

    compressor: int  # number in the job, from 0
    refrigerant: str
    capillary: int
    length: float | None = None  # m; by default cut to suit
    charge: float | None = None  # kg; by default until the evaporator is filled
    draws: int = 64  # behind the ranges; 0 for none
    settings: bool = True  # look for the settings that serve best
    switched: Literal["as in the job", "best"] = "as in the job"

    @property
    def parts(self) -> dict[str, Any]:
        """As every question about one choice of parts takes them."""
        return {
            "compressor": self.compressor,
            "refrigerant": self.refrigerant,
            "capillary": self.capillary,
            "length": self.length,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class YearAnswer(BuildAnswer, JobHead):
    """`sweatline year --json`: a year with the machine in the room of the job."""

    CHARGE: ClassVar[str] = "rooms.charge"
    rooms: Annotated[RoomAnswer, Hidden()]
    frost: Annotated[FrostAnswer | None, Hidden()]  # None where nothing freezes in its rooms
    weather: Annotated[Weather, Hidden()]
    machine: Annotated[MachineMap, Hidden()]
    knowledge: Annotated[Knowledge, Hidden()]
    hourly: Annotated[FloatArray, Hidden()] = field(repr=False)  # temperature, humidity, water, W
    alone: Annotated[FloatArray, Hidden()] = field(repr=False)  # the same without a machine
    outdoors: str
    """Where the weather comes from."""
    wished: Annotated[float, Q("relative humidity", "", "Above it an hour counts as too damp.")]
    total: Totals
    ranges: Mapping[str, Range]
    """Likely ranges (9 in 10) of the totals; keys as there."""
    months: tuple[Month, ...]
    without: Totals
    """The same room without any machine."""
    aired: Totals
    """The same room, aired by a fan whenever outdoor air is drier."""
    control: Annotated[Switches, Hidden()]  # as this year is switched
    samples: Annotated[tuple[FloatArray, ...], Hidden()]  # of each draw, by month; as `SUMS`
    settings: Settings | None
    """Which settings serve best, and why; null when it was not asked."""
    draws: int
    days: int
    """Measured days that narrowed the room."""
    notes: tuple[str, ...]

    @property
    def cost(self) -> Annotated[float | None, Shown()]:
        """Of the energy in a year, in the currency of the price; None without a price."""
        price = self.build.job.cost.electricity
        return None if price is None else price.amount * self.total.energy

    @property
    def currency(self) -> Annotated[str, Shown()]:
        """Of the cost; empty without a price."""
        price = self.build.job.cost.electricity
        return "" if price is None else price.currency

    @property
    def air_changes(self) -> Annotated[float, Q("air change", "air changes")]:
        """Of the room, as measured days or its kind have them. [1/s]"""
        return room_of(self.build.job, self.weather, self.knowledge.mean).air_changes

    @property
    def buckets_a_week(self) -> Annotated[float | None, Shown()]:
        """Mean over the year; None with a drain."""
        bucket = self.build.job.control.bucket
        return None if bucket is None else self.total.water / bucket.value / (HOURS / 168.0)


def machine_of(rooms: RoomAnswer, frosted: FrostAnswer | None, standby: float) -> MachineMap:
    """A solved map as the kernel sees it; a room without a balance gives no water."""

    def filled(name: str, nothing: float) -> FloatArray:
        found = rooms.map.field(lambda b: float(getattr(b, name)))
        middle = float(np.nanmedian(found))
        return np.where(np.isnan(found), middle if nothing < 0.0 else nothing, found)

    machine = rooms.build.machine
    coil, flow = machine.evaporator, machine.air.flow
    area = coil.fins.area_ratio * coil.face_area
    span, end, blocks = 3.0, math.inf, math.inf
    takes, spares, cools = 0.0, 0.0, 0.0
    if frosted is not None:
        first, last = frosted.steps[0], frosted.steps[-1]
        share = first.freezing / max(first.balance.water, 1e-12)
        cold = ZERO_CELSIUS - first.balance.coil_temperature
        if share > 0.0 and cold > 0.0:
            span = cold / min(share, 1.0)
        if frosted.ended == "blocked":
            blocks = last.ice
        else:
            end = max(last.ice, 1e-3)
        if last.ice > 0.0:
            a, b = first.balance, last.balance
            takes = max(1.0 - b.water / a.water, 0.0) / last.ice
            spares = max(1.0 - b.total_power / a.total_power, 0.0) / last.ice
            cools = max(a.coil_temperature - b.coil_temperature, 0.0) / last.ice
    return MachineMap(
        temperatures=rooms.map.temperatures,
        humidities=rooms.map.humidities,
        water=filled("water", 0.0),
        power=filled("total_power", -1.0),
        coil=filled("coil_temperature", -1.0),
        fan_power=rooms.build.job.fan.power.value,
        fan_flow=flow,
        pull_down=_PULL_DOWN,
        held=_HELD * area,
        coil_units=2.0,
        freezing_span=span,
        ice_end=end,
        ice_blocks=blocks,
        ice_takes=takes,
        ice_spares=spares,
        ice_cools=cools,
        standby=standby,
    )


def _spreads(rooms: RoomAnswer) -> tuple[float, float]:
    """Standard deviations of the logarithms of water and watts over the rooms of the map."""
    found = []
    for key in ("water_kg_per_s", "total_power_W"):
        widths = [
            math.log(r.bands[key].high / r.bands[key].low) / (2.0 * NINE_TENTHS)
            for r in rooms.ranges
            if key in r.bands and r.bands[key].low > 0.0
        ]
        found.append(float(np.median(widths)) if widths else 0.0)
    return found[0], found[1]


def year(
    job: Job, asked: YearRequest, *, progress: Callable[[float], None] | None = None
) -> YearAnswer:
    """Charge a machine in the job's room and take it through a year in its building.

    Raises
    ------
    JobError
        The weather cannot be read.
    """
    knowledge = known_of(job)
    weather = weather_of(job, knowledge.mean)
    room = room_of(job, weather, knowledge.mean)
    nothing = no_machine(room.pressure)
    alone = run(weather, room, nothing, _NOTHING, hourly=True)
    rooms = room_map(
        job,
        **asked.parts,
        temperatures=_temperatures(alone.hourly[:, 0]),
        humidities=_HUMIDITIES,
        charge=asked.charge,
        draws=min(asked.draws, 32),
        progress=part_of_progress(progress, 0.0, 0.5),
    )
    frosted = _frost_of(job, rooms, asked.parts)
    machine = machine_of(rooms, frosted, job.control.standby.value)
    settings = None
    if asked.settings or asked.switched == "best":
        coldest = float(alone.hourly[:, 0].min())
        settings = settings_for(job.control, weather, room, machine, coldest)
    switches = job.control
    if settings is not None and asked.switched == "best":
        switches = settings.best.control
    wished = control_of(job.control).wished
    control = control_of(switches)._replace(wished=wished)
    likely = run(weather, room, machine, control, hourly=True)
    damp = _NOTHING._replace(wished=wished)
    aired = room._replace(airing=2.0 / 3600.0, airing_power=room.volume * 2.0 * 0.25)
    draws = knowledge.draws(asked.draws) if asked.draws else np.empty((0, 0))
    drawn = [_machine_draw(rooms, machine, z) for z in draws]
    samples = samples_of(job, control, draws, drawn, part_of_progress(progress, 0.6, 1.0))
    return YearAnswer(
        build=rooms.build,
        rooms=rooms,
        frost=frosted,
        weather=weather,
        machine=machine,
        knowledge=knowledge,
        hourly=likely.hourly,
        alone=alone.hourly,
        outdoors=weather.name,
        wished=wished,
        total=total_of(likely),
        ranges=_ranges([s.sum(axis=0) for s in samples]),
        months=_months(likely, samples),
        without=total_of(run(weather, room, nothing, damp)),
        aired=total_of(run(weather, aired, nothing, damp._replace(stop_at=control.stop_at))),
        control=switches,
        samples=samples or (likely.sums,),
        settings=settings,
        draws=asked.draws,
        days=knowledge.days,
        notes=(*weather.notes, *_notes(job, total_of(likely))),
    )


def moved(
    answer: YearAnswer, *, switches: Switches | None = None, air_changes: float | None = None
) -> YearAnswer:
    """The same machine in the same year, switched otherwise or in a room that is aired otherwise.

    Without ranges: one run, for a control that is moved by hand.

    Parameters
    ----------
    switches : Control, optional
        Of the job file. By default those of the job.
    air_changes : float, optional
        [1/s]
    """
    job = answer.build.job
    switches = switches or job.control
    control = control_of(switches)
    room = room_of(job, answer.weather, answer.knowledge.mean)
    if air_changes is not None:
        room = room._replace(air_changes=air_changes)
    found = run(answer.weather, room, answer.machine, control, hourly=True)
    damp = _NOTHING._replace(wished=control.wished)
    alone = run(answer.weather, room, no_machine(room.pressure), damp, hourly=True)
    return replace(
        answer,
        hourly=found.hourly,
        alone=alone.hourly,
        wished=control.wished,
        total=total_of(found),
        without=total_of(alone),
        months=_months(found),
        ranges={},
        control=switches,
        samples=(),
        settings=None,
        draws=0,
    )


def _months(found: Run, samples: Sequence[FloatArray] = ()) -> tuple[Month, ...]:
    return tuple(
        Month(name=name, ranges=_ranges([s[n] for s in samples]), **fields_of(found.sums[n]))
        for n, name in enumerate(MONTHS)
    )


def _temperatures(found: FloatArray) -> tuple[float, ...]:
    """Rows of a map that covers the room through the year, and what the machine warms it by."""
    low = max(float(np.quantile(found, 0.002)) - 1.0, _COLDEST_ROOM)
    high = max(float(found.max()) + 5.0, low + 6.0)
    return tuple(float(t) for t in np.linspace(low, high, _ROWS))


def _frost_of(job: Job, rooms: RoomAnswer, parts: dict[str, Any]) -> FrostAnswer | None:
    """Frost in the coldest solved room of usual humidity; None where its coil stays warm."""
    coil = rooms.map.field(lambda b: b.coil_temperature)
    column = len(_HUMIDITIES) // 2
    frozen = [i for i, t in enumerate(coil[:, column]) if t < ZERO_CELSIUS - 0.5]
    if not frozen:
        return None
    return frost(
        job,
        **parts,
        charge=rooms.charge,
        room_temperature=float(rooms.map.temperatures[frozen[len(frozen) // 2]]),
        room_humidity=_HUMIDITIES[column],
    )


def _machine_draw(rooms: RoomAnswer, machine: MachineMap, z: FloatArray) -> MachineMap:
    """The machine at a draw of how far water and watts may lie from the map's."""
    water, watts = _spreads(rooms)
    return machine._replace(
        water=machine.water * math.exp(z[_WATER] * water),
        power=machine.power * math.exp(z[_WATTS] * watts),
    )


def samples_of(
    job: Job,
    control: Control,
    draws: FloatArray,
    machines: Sequence[MachineMap],
    progress: Callable[[float], None] | None = None,
) -> tuple[FloatArray, ...]:
    """Sums by month at each draw of the room, with the machine of that draw. (12, n) each"""

    # Only two months and a latitude leave the weather itself open.
    known = job.climate.weather is not None or job.climate.temperatures
    same = weather_of(job) if known else None

    def one(z: FloatArray, machine: MachineMap) -> FloatArray:
        weather = same or weather_of(job, z)
        sensor = job.control.error * float(z[_SENSOR])
        return run(weather, room_of(job, weather, z), machine, control, sensor=sensor).sums

    found: list[FloatArray] = []
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        for sums in pool.map(one, draws, machines):
            found.append(sums)
            if progress is not None:
                progress(len(found) / len(draws))
    return tuple(found)


def _ranges(sums: Sequence[FloatArray]) -> dict[str, Range]:
    """Likely ranges over draws of what was added up; none of it can be negative."""
    told = [fields_of(s) for s in sums]
    found = {key: range_of([t[name] for t in told]) for name, key in _KEYS.items() if told}
    return {key: replace(r, low=max(r.low, 0.0)) for key, r in found.items()}


def _notes(job: Job, total: Totals) -> list[str]:
    found = []
    if total.outside_map > 0.02 * max(total.running, 1.0):
        found.append(
            "it runs now and then in rooms beyond those that were solved: taken at their edge"
        )
    if (
        job.building.kind == "cellar"
        and job.climate.weather is None
        and not job.climate.temperatures
    ):
        found.append("the climate is only told by two months or assumed: a weather file says more")
    return found


_KEYS: Final[Mapping[str, str]] = {q.name: q.key for q in quantities_of(Totals)}

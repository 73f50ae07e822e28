"""A year with one machine in one room: is it dry enough, does it ice up, what does it take?

The machine comes as a map over rooms, solved once; the year is stepped minute by minute through it.
Ranges come from draws of the room, the weather, the humidistat and the machine together.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Annotated, ClassVar, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import humidity_ratio
from sweatline.answers import Answer, Hidden, Q, Range, Shown, quantities_of, range_of
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.balance import BuildAnswer, JobHead, part_of_progress
from sweatline.design.frost import FrostAnswer, frost
from sweatline.design.room_map import RoomAnswer, room_map
from sweatline.job.model import Job
from sweatline.job.year import Control as Switches
from sweatline.season.place import _SENSOR, _WATER, _WATTS, Knowledge, known_of, room_of, weather_of
from sweatline.season.room_step import SUMS, Control, MachineMap, RoomParameters, run_year
from sweatline.season.weather import HOURS, MONTHS, Weather
from sweatline.units import WATER_DENSITY

FloatArray = NDArray[np.float64]

STEPS: Final = 60  # in an hour
_SETTLING: Final = 120  # days before the year, for walls and floor to forget how they began
_HUMIDITIES: Final = (0.35, 0.5, 0.65, 0.8, 0.95)
_ROWS: Final = 6  # temperatures of the map
_COLDEST_ROOM: Final = 1.0 + ZERO_CELSIUS  # K, of the map
_PULL_DOWN: Final = 150.0  # s until most of the water comes (common practice: some minutes)
# kg of water on a square metre of wet fins (MEMORY 0.4: 0.1 to 0.2).
_HELD: Final = 0.12
_ABOVE: Final = 0.02  # of relative humidity beyond where the machine starts, before an hour counts
_NOTHING: Final = Control(2.0, -1.0, *(0.0,) * 12, 1.0)  # never starts


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals(Answer):
    """A year added up."""

    too_damp: Annotated[float, Q("time", "too damp", "Above the wished humidity.")]
    surface_damp: Annotated[
        float, Q("time", "walls above 80 %RH", "Air at the surfaces, where mould begins.")
    ]
    humidity: Annotated[float, Q("relative humidity", "mean humidity")]
    temperature: Annotated[float, Q("temperature", "mean temperature")]
    running: Annotated[float, Q("time", "running")]
    starts: float
    """In a day, mean over the year."""
    frozen: Annotated[float, Q("time", "with ice on the coil", "Running while water freezes on.")]
    iced_up: Annotated[float, Q("time", "iced up", "Running with the airflow halved by ice.")]
    too_cold: Annotated[float, Q("time", "held off by the cut-out")]
    bucket_full: Annotated[float, Q("time", "bucket full")]
    outside_map: Annotated[float, Q("time", "", "Running in rooms beyond the solved ones.")]
    water: Annotated[float, Q("volume", "water")]
    energy: Annotated[float, Q("energy", "energy")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Month(Totals):
    """One month added up."""

    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting(Answer):
    """One way to switch the machine, and the year that it gives."""

    control: Annotated[Switches, Hidden()]
    words: str
    too_damp: Annotated[float, Q("time", "too damp")]
    iced_up: Annotated[float, Q("time", "iced up")]
    energy: Annotated[float, Q("energy", "energy")]


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
    settings: tuple[Setting, ...]
    """Ways to switch it, the one that serves best first."""
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


class _Year(NamedTuple):
    """One run."""

    sums: FloatArray  # (12, n)
    books: FloatArray  # (8,)
    hourly: FloatArray


def run(
    weather: Weather,
    room: RoomParameters,
    machine: MachineMap,
    control: Control,
    *,
    sensor: float = 0.0,
    steps: int = STEPS,
    hourly: bool = False,
) -> _Year:
    """Take a room through a year, after some months for it to settle.

    Parameters
    ----------
    sensor : float
        What the humidistat shows too much. [relative humidity]
    steps : int
        In an hour.
    hourly : bool
        Keep the hours too.
    """
    start = max(room.heated_to, room.ground_mean)
    w = humidity_ratio(start, 0.6, room.pressure)
    state = np.array([start, w, start, 0.6, 0.0, 0.0, 0.0])
    before = _SETTLING * 24
    t, wo, months = weather.temperature, weather.humidity, weather.months
    none = np.empty((0, 4))
    # The ground's clock runs on: what settles the room ends where the year begins.
    late = room._replace(ground_coldest=room.ground_coldest - (HOURS - before) * 3600.0)
    run_year(
        t[-before - 1 :], wo[-before - 1 :], months[-before:], late, machine, control, sensor,
        state, steps, none,
    )  # fmt: skip
    kept = np.empty((HOURS, 4)) if hourly else none
    sums, books = run_year(t, wo, months, room, machine, control, sensor, state, steps, kept)
    return _Year(sums, books, kept)


def _fields(sums: FloatArray) -> dict[str, float]:
    """Totals from what was added up."""
    s = dict(zip(SUMS, sums, strict=True))
    hours = s["hours"]
    return {
        "too_damp": s["too_damp"],
        "surface_damp": s["surface_damp"],
        "humidity": s["humidity"] / hours,
        "temperature": s["temperature"] / hours,
        "running": s["running"],
        "starts": s["starts"] / (hours / 86400.0),
        "frozen": s["frozen"],
        "iced_up": s["iced_up"],
        "too_cold": s["too_cold"],
        "bucket_full": s["bucket_full"],
        "outside_map": s["outside_map"],
        "water": s["water"] / WATER_DENSITY,
        "energy": s["energy"],
    }


def total_of(found: _Year) -> Totals:
    """A year added up."""
    return Totals(**_fields(found.sums.sum(axis=0)))


def control_of(switches: Switches) -> Control:
    """How a machine is switched, as the kernel sees it."""
    start = switches.humidity + 0.5 * switches.differential
    fan = {"fan": 1.0, "standing": 0.0, "hot gas": 0.0}[switches.defrost_by]
    return Control(
        start_at=start,
        stop_at=switches.humidity - 0.5 * switches.differential,
        shortest_rest=switches.shortest_rest,
        cut_out=switches.cut_out or 0.0,
        cut_in=(switches.cut_out or 0.0) + 1.5,
        coil_stop=switches.coil_stop if switches.defrost == "coil" else 0.0,
        coil_delay=switches.coil_delay,
        run_stop=switches.run_stop if switches.defrost == "clock" else 0.0,
        longest_defrost=switches.rest,
        hot_gas=float(switches.defrost_by == "hot gas"),
        fan_rests=float(switches.fan == "always"),
        fan_melts=fan,
        bucket=0.0 if switches.bucket is None else WATER_DENSITY * switches.bucket.value,
        emptied_every=switches.emptied_every,
        wished=start + _ABOVE,
    )


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


def no_machine(pressure: float) -> MachineMap:
    """Nothing there."""
    two, none = np.array([250.0, 330.0]), np.zeros((2, 2))
    return MachineMap(
        two, np.array([0.0, 1.0]), none, none, np.full((2, 2), 300.0), 0.0, 0.0, 1.0, 0.0, 1.0, 1.0,
        math.inf, math.inf, *(0.0,) * 4,
    )  # fmt: skip


def _spreads(rooms: RoomAnswer) -> tuple[float, float]:
    """Standard deviations of the logarithms of water and watts over the rooms of the map."""
    found = []
    for key in ("water_kg_per_s", "total_power_W"):
        widths = [
            math.log(r.bands[key].high / r.bands[key].low) / 3.29
            for r in rooms.ranges
            if key in r.bands and r.bands[key].low > 0.0
        ]
        found.append(float(np.median(widths)) if widths else 0.0)
    return found[0], found[1]


def year(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    charge: float | None = None,
    draws: int = 64,
    progress: Callable[[float], None] | None = None,
) -> YearAnswer:
    """Charge a machine in the job's room and take it through a year in its building.

    Parameters
    ----------
    charge : float, optional
        [kg] By default the machine is charged until its evaporator is filled.
    draws : int
        Draws behind the ranges; 0 for none.

    Raises
    ------
    JobError
        The weather cannot be read.
    """
    knowledge = known_of(job)
    weather = weather_of(job, knowledge.mean)
    room = room_of(job, weather, knowledge.mean)
    alone = run(weather, room, no_machine(room.pressure), _NOTHING, hourly=True)
    parts = {"compressor": compressor, "refrigerant": refrigerant, "capillary": capillary}
    rooms = room_map(
        job,
        **parts,  # type: ignore[arg-type]
        temperatures=_temperatures(alone.hourly[:, 0]),
        humidities=_HUMIDITIES,
        length=length,
        charge=charge,
        draws=min(draws, 32),
        progress=part_of_progress(progress, 0.0, 0.5),
    )
    frosted = _frost_of(job, rooms, parts, length)
    control = control_of(job.control)
    machine = machine_of(rooms, frosted, job.control.standby.value)
    likely = run(weather, room, machine, control, hourly=True)
    wished = control.wished
    damp = _NOTHING._replace(wished=wished)
    aired = room._replace(airing=2.0 / 3600.0, airing_power=room.volume * 2.0 * 0.25)
    settings = _settings(job.control, weather, room, machine)
    ranges = ranges_over(
        job, knowledge, rooms, machine, control, draws, part_of_progress(progress, 0.6, 1.0)
    )
    nothing = no_machine(room.pressure)
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
        ranges=ranges,
        months=_months(likely),
        without=total_of(run(weather, room, nothing, damp)),
        aired=total_of(run(weather, aired, nothing, damp._replace(stop_at=control.stop_at))),
        settings=settings,
        draws=draws,
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
    control = control_of(switches or job.control)
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
        draws=0,
    )


def _months(found: _Year) -> tuple[Month, ...]:
    return tuple(
        Month(name=name, **_fields(sums)) for name, sums in zip(MONTHS, found.sums, strict=True)
    )


def _temperatures(found: FloatArray) -> tuple[float, ...]:
    """Rows of a map that covers the room through the year, and what the machine warms it by."""
    low = max(float(np.quantile(found, 0.002)) - 1.0, _COLDEST_ROOM)
    high = max(float(found.max()) + 5.0, low + 6.0)
    return tuple(float(t) for t in np.linspace(low, high, _ROWS))


def _frost_of(
    job: Job, rooms: RoomAnswer, parts: Mapping[str, object], length: float | None
) -> FrostAnswer | None:
    """Frost in the coldest solved room of usual humidity; None where its coil stays warm."""
    coil = rooms.map.field(lambda b: b.coil_temperature)
    column = len(_HUMIDITIES) // 2
    frozen = [i for i, t in enumerate(coil[:, column]) if t < ZERO_CELSIUS - 0.5]
    if not frozen:
        return None
    return frost(
        job,
        **parts,  # type: ignore[arg-type]
        length=length,
        charge=rooms.charge,
        room_temperature=float(rooms.map.temperatures[frozen[len(frozen) // 2]]),
        room_humidity=_HUMIDITIES[column],
    )


def machine_draw(rooms: RoomAnswer, machine: MachineMap, z: FloatArray) -> MachineMap:
    """The machine at a draw of how far water and watts may lie from the map's."""
    water, watts = _spreads(rooms)
    return machine._replace(
        water=machine.water * math.exp(z[_WATER] * water),
        power=machine.power * math.exp(z[_WATTS] * watts),
    )


def ranges_over(
    job: Job,
    knowledge: Knowledge,
    rooms: RoomAnswer,
    machine: MachineMap,
    control: Control,
    draws: int,
    progress: Callable[[float], None] | None = None,
) -> dict[str, Range]:
    """Likely ranges of the totals over draws of all that is uncertain."""
    if not draws:
        return {}

    def one(z: FloatArray) -> Totals:
        weather = weather_of(job, z)
        moved = machine_draw(rooms, machine, z)
        sensor = job.control.error * float(z[_SENSOR])
        return total_of(run(weather, room_of(job, weather, z), moved, control, sensor=sensor))

    found: list[Totals] = []
    samples = knowledge.draws(draws)
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        for total in pool.map(one, samples):
            found.append(total)
            if progress is not None:
                progress(len(found) / len(samples))
    return {key: range_of([getattr(t, name) for t in found]) for name, key in _KEYS.items()}


def _settings(
    own: Switches, weather: Weather, room: RoomParameters, machine: MachineMap
) -> tuple[Setting, ...]:
    """Ways to switch the machine; the least damp first, of equals the least energy."""
    ways: list[tuple[str, Switches]] = [("as in the job", own)]
    if machine.coil.min() < ZERO_CELSIUS:
        plain = replace(own, defrost="none", cut_out=None)
        ways.append(("no defrost, no cut-out", plain))
        ways += [
            (f"stops below a room of {t:g} °C", replace(plain, cut_out=t + ZERO_CELSIUS))
            for t in (8.0, 12.0, 15.0)
        ]
        ways += [
            (f"coil thermostat, defrost by {by}", replace(plain, defrost="coil", defrost_by=by))
            for by in ("fan", "hot gas")
        ]
        ways.append(
            (
                "clock, 20 min in 45 min of running, by fan",
                replace(plain, defrost="clock", defrost_by="fan", run_stop=2700.0, rest=1200.0),
            )
        )
    found = []
    for words, switches in ways:
        total = total_of(run(weather, room, machine, control_of(switches)))
        found.append(
            Setting(
                control=switches,
                words=words,
                too_damp=total.too_damp,
                iced_up=total.iced_up,
                energy=total.energy,
            )
        )
    # A day more or less of damp air in a year is no reason to choose; then energy decides.
    return tuple(sorted(found, key=lambda s: (round(s.too_damp / 172800.0), s.energy)))


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

"""The room of a job in numbers: what is told, what is assumed by its kind, and what a day showed.

The uncertain numbers are counted in standard deviations about what is usual, as everywhere: a draw
is one vector. Conductances and stores by the kind of room are common practice (masonry, timber and
plaster as they are met), each to a factor of about 1.4.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import humidity_ratio, saturated_humidity_ratio, specific_volume
from sweatline.constants import ZERO_CELSIUS
from sweatline.errors import JobError
from sweatline.job.model import Job
from sweatline.job.year import FLOOR, HEIGHT, DayRun
from sweatline.season.room_step import RoomParameters
from sweatline.season.weather import Weather, months_weather, place_weather, read_weather
from sweatline.uncertainty.parameter import Measured
from sweatline.units import WATER_DENSITY
from sweatline.units.kinds import DAY

FloatArray = NDArray[np.float64]

_HOUSE: Final = 20.0 + ZERO_CELSIUS  # K, heated and lived in (common practice)
# kg a day of each person: a family of four gives 7.1 with cooking and washing (national guide, as
# quoted); at work 50 g/h for eight hours.
_PERSON_WATER: Final = {"flat": 1.78}
_PERSON_AT_WORK: Final = 0.4
_PERSON_HEAT: Final = {"flat": 150.0}  # W with lamps and appliances, mean over the day
_HEAT_AT_WORK: Final = 40.0
_LAUNDRY: Final = 2.5  # kg for each load, 2.2 to 2.9 (1988 compilation, as quoted)
_AT_HUMIDITY: Final = 0.6  # of the room, for which the ground's water is told
# Times the heat of the air that follows it within minutes: furniture, goods, the skins of walls.
# 7 in an open dwelling model, from tests in a laboratory home; validations of others: 3.6 to 15.
_AIR_HEAT: Final = 7.0
_RELEASE: Final = 4.0 * 3600.0  # s: surfaces follow a change of humidity within some hours
_DRY_SURFACE: Final = 5.0  # W/(m2 K), air to walls and floor

# kg for all of the humidity from what the test of the buffer value moves: of 8 h damp and 16 h dry,
# at the release above, 0.851 of the store takes part.
_STORE: Final = 0.1 / 0.851
# g/(m2 %RH), moisture buffer values of the common classes: concrete and brick 0.4, plaster and
# shelves 0.8, timber and paper 1.5 (values MEMORY 0.75; method of DTU report R-126).
_BUFFER: Final = {"little": 0.4, "usual": 0.8, "much": 1.5}


class _Kind(NamedTuple):
    """For each square metre of floor, by the kind of room."""

    outer: float  # W/K to the outdoor air
    ground: float  # W/K
    ceiling: float  # W/K to a heated house above
    surfaces: float  # m2
    store: float  # J/K
    depth: float  # m, of the ground that it feels


_KINDS: Final = {
    "cellar": _Kind(0.4, 0.6, 0.8, 3.2, 6.0e5, 1.5),
    "crawl space": _Kind(0.8, 0.5, 0.5, 2.4, 2.5e5, 0.7),
    "shed": _Kind(6.0, 0.5, 0.0, 4.5, 1.2e5, 0.3),
    "flat": _Kind(1.5, 0.0, 0.0, 3.5, 3.0e5, 1.0),
    "shop": _Kind(2.5, 0.4, 0.0, 3.0, 3.0e5, 0.5),
}

FACTORS: Final = (
    "volume", "air changes", "water from the ground", "what takes up water", "heat through walls",
    "heat store", "heated to", "coldest month", "warmest month", "outdoor humidity",
    "humidistat", "water of the machine", "watts of the machine",
)  # fmt: skip
"""Uncertain numbers of a year, in the order of a draw."""
_V, _N, _G, _B, _U, _C, _T, _LOW, _HIGH, _RH, _SENSOR, _WATER, _WATTS = range(len(FACTORS))


def _log_sd(measured: Measured) -> float:
    """Standard deviation of the logarithm of a positive number."""
    if measured.value <= 0.0:
        return 0.0
    return math.sqrt(math.log1p((measured.sd / measured.value) ** 2))


def floor_of(job: Job) -> Measured:
    """Floor of the room, told or by its kind. [m2]"""
    kind, room = job.building.kind, job.room
    if room.floor_area is not None:
        return room.floor_area
    if room.volume is not None:
        height = HEIGHT[kind]
        return Measured(value=room.volume.value / height, sd=0.15 * room.volume.value / height)
    return Measured(value=FLOOR[kind], sd=0.4 * FLOOR[kind], origin="default")


def volume_of(job: Job) -> Measured:
    """Air in the room, told or by floor and kind. [m3]"""
    if job.room.volume is not None:
        return job.room.volume
    floor, height = floor_of(job), HEIGHT[job.building.kind]
    sd = height * math.hypot(floor.sd, 0.1 * floor.value)
    return Measured(value=height * floor.value, sd=sd, origin=floor.origin)


def weather_of(job: Job, z: FloatArray | None = None) -> Weather:
    """Outdoor air that a job names, moved by a draw where it is only told by two months.

    Raises
    ------
    JobError
        The file cannot be read, or the months are not twelve.
    """
    climate, pressure = job.climate, job.place.atmospheric_pressure
    at = np.zeros(len(FACTORS)) if z is None else z
    if climate.weather is not None:
        return read_weather(str(Path(job.path).parent / climate.weather), pressure)
    if climate.temperatures or climate.humidities:
        for found, name in (
            (climate.temperatures, "temperatures"),
            (climate.humidities, "humidities"),
        ):
            if len(found) != 12:
                raise JobError(
                    what=f"a year has twelve months, {len(found)} are told",
                    field=f"climate.{name}",
                    path=job.path,
                    allowed="write January first",
                )
        return months_weather(
            climate.temperatures,
            climate.humidities,
            daily_swing=climate.daily_swing,
            pressure=pressure,
        )
    humidity = climate.relative_humidity.at(float(at[_RH]))
    return place_weather(
        latitude=climate.latitude,
        coldest=climate.coldest_month.at(float(at[_LOW])),
        warmest=max(
            climate.warmest_month.at(float(at[_HIGH])), climate.coldest_month.at(float(at[_LOW]))
        ),
        relative_humidity=min(max(humidity, 0.2), 0.98),
        daily_swing=climate.daily_swing,
        pressure=pressure,
    )


def room_of(job: Job, weather: Weather, z: FloatArray | None = None) -> RoomParameters:
    """The room as the kernel sees it, at a draw of the uncertain numbers.

    Parameters
    ----------
    z : (len(FACTORS),) array, optional
        Standard deviations. By default what is most likely.
    """
    at = np.zeros(len(FACTORS)) if z is None else z
    building, kind = job.building, _KINDS[job.building.kind]
    volume = volume_of(job)
    v = volume.value * math.exp(at[_V] * _log_sd(volume))
    floor = floor_of(job).value * v / volume.value
    changes = building.air_changes
    ground = building.ground_water
    mean, swing, coldest = weather.ground(kind.depth)
    pressure = job.place.atmospheric_pressure
    heated = building.heated_to
    usual = heated.value if heated is not None else mean + 2.0
    gap = saturated_humidity_ratio(mean, pressure) - humidity_ratio(usual, _AT_HUMIDITY, pressure)
    # Ground water wells up even where the room's air holds more than the ground would give.
    gap = max(gap, 0.15 * saturated_humidity_ratio(mean, pressure))
    walls = math.exp(0.35 * at[_U])
    surfaces = kind.surfaces * floor
    person = _PERSON_WATER.get(building.kind, _PERSON_AT_WORK)
    heat = _PERSON_HEAT.get(building.kind, _HEAT_AT_WORK)
    return RoomParameters(
        volume=v,
        air_changes=changes.value * math.exp(at[_N] * _log_sd(changes)),
        outer_conductance=kind.outer * floor * walls,
        ground_conductance=kind.ground * floor * walls,
        house_conductance=kind.ceiling * floor * walls,
        house=_HOUSE,
        surface_conductance=_DRY_SURFACE * surfaces,
        air_heat=_AIR_HEAT,
        heat_store=kind.store * floor * math.exp(0.35 * at[_C]),
        water_store=_STORE * _BUFFER[building.store] * surfaces * math.exp(0.4 * at[_B]),
        water_rate=1.0 / _RELEASE,
        ground_vapour=ground.value * math.exp(at[_G] * _log_sd(ground)) / gap,
        source=building.people * person / DAY + building.laundry * _LAUNDRY / (7.0 * DAY),
        gains=building.people * heat,
        heated_to=0.0 if heated is None else heated.at(float(at[_T])),
        ground_mean=mean,
        ground_swing=swing,
        ground_coldest=coldest,
        airing=0.0,
        airing_power=0.0,
        pressure=pressure,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Knowledge:
    """What is known of the uncertain numbers: jointly normal, in standard deviations."""

    mean: FloatArray  # (n,)
    root: FloatArray  # (n, n), so that mean + root @ normal is a draw
    days: int  # that it was narrowed by

    def draws(self, count: int) -> FloatArray:
        """Draws for a year. (count, n)"""
        from sweatline.uncertainty.sensitivity import normal_samples

        return self.mean + normal_samples(len(self.mean), count) @ self.root.T


def expected_water(job: Job, day: DayRun, z: FloatArray) -> float:
    """Water that a machine must have taken in a day's run, by the balance of the room. [kg]"""
    pressure = job.place.atmospheric_pressure
    weather = weather_of(job, z)
    room = room_of(job, weather, z)
    t = day.temperature.value
    before, after = day.humidity_before.value, day.humidity_after.value
    w = humidity_ratio(t, 0.5 * (before + after), pressure)
    w_out = humidity_ratio(day.outdoor_temperature.value, day.outdoor_humidity.value, pressure)
    air = room.volume / specific_volume(t, w, pressure)
    ground = saturated_humidity_ratio(room.ground_mean, pressure)
    come = air * room.air_changes * (w_out - w) + room.ground_vapour * (ground - w) + room.source
    swept = air * (
        humidity_ratio(t, after, pressure) - humidity_ratio(t, before, pressure)
    ) + room.water_store * (after - before)
    return come * day.time - swept


def known_of(job: Job) -> Knowledge:
    """What is known of a year's uncertain numbers, narrowed by the days that were measured.

    Gauss-Newton about the prior, each day one equation: water in the bucket against the balance of
    the room. Hygrometers count twice where the humidity moved.
    """
    n = len(FACTORS)
    mean: FloatArray = np.zeros(n)
    covariance: FloatArray = np.eye(n)
    if not job.days:
        return Knowledge(mean=mean, root=np.eye(n), days=0)
    for _ in range(8):
        rows, left, weight = [], [], []
        for day in job.days:
            base = expected_water(job, day, mean)
            slope: FloatArray = np.zeros(n)
            for i in (_V, _N, _G, _B):
                step = np.zeros(n)
                step[i] = 0.05
                slope[i] = (expected_water(job, day, mean + step) - base) / 0.05
            store = room_of(job, weather_of(job), mean).water_store
            hygrometer = store * math.hypot(day.humidity_before.sd, day.humidity_after.sd)
            sd = math.hypot(WATER_DENSITY * day.water.sd, hygrometer, 0.1 * abs(base))
            rows.append(slope)
            left.append(WATER_DENSITY * day.water.value - base + slope @ mean)
            weight.append(1.0 / sd**2)
        a = np.array(rows)
        precision = np.eye(n) + a.T @ (np.array(weight)[:, None] * a)
        new = np.linalg.solve(precision, a.T @ (np.array(weight) * np.array(left)))
        moved = float(np.abs(new - mean).max())
        mean = mean + 0.7 * (new - mean)
        covariance = np.asarray(np.linalg.inv(precision), dtype=float)
        if moved < 1e-6:
            break
    return Knowledge(
        mean=mean, root=np.asarray(np.linalg.cholesky(covariance), dtype=float), days=len(job.days)
    )

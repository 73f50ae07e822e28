"""One run of a year, and the year added up."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import humidity_ratio
from sweatline.answers import Answer, Q, Range
from sweatline.job.year import Control as Switches
from sweatline.season.room_step import SUMS, Control, MachineMap, RoomParameters, run_year
from sweatline.season.weather import HOURS, Weather
from sweatline.units import WATER_DENSITY

FloatArray = NDArray[np.float64]

STEPS: Final = 60  # in an hour
_SETTLING: Final = 120  # days before the year, for walls and floor to forget how they began
_ABOVE: Final = 0.02  # of relative humidity beyond where the machine starts, before an hour counts


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
    ranges: Mapping[str, Range]
    """Likely ranges (9 in 10), keys as beside them."""


class Run(NamedTuple):
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
) -> Run:
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
    return Run(sums, books, kept)


def fields_of(sums: FloatArray) -> dict[str, float]:
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


def total_of(found: Run) -> Totals:
    """A year added up."""
    return Totals(**fields_of(found.sums.sum(axis=0)))


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


def no_machine(pressure: float) -> MachineMap:
    """Nothing there."""
    two, none = np.array([250.0, 330.0]), np.zeros((2, 2))
    return MachineMap(
        two, np.array([0.0, 1.0]), none, none, np.full((2, 2), 300.0), 0.0, 0.0, 1.0, 0.0, 1.0, 1.0,
        math.inf, math.inf, *(0.0,) * 4,
    )  # fmt: skip

"""Outdoor air, hour by hour through a year: from a file, from twelve months, or from a place.

No network: a file is read where it lies. Two forms of file are known. EPW is the open hourly form
that building simulation uses; of it the dry bulb, the dew point or humidity, and the height of the
place are read. A CSV has a line of names with units, ``temperature [°C], humidity [%RH]`` or
``dew point [°F]``, and then a line for each hour of one year.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import humidity_ratio, saturated_humidity_ratio
from sweatline.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from sweatline.errors import JobError
from sweatline.units import Kind, parse
from sweatline.units.kinds import YEAR

FloatArray = NDArray[np.float64]

HOURS: Final = 8760
MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
_DAYS: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_LARGEST: Final = 20_000_000  # bytes; an EPW has 1.6 million
_COLDEST_DAY: Final = 20.0  # of January in the north, half a year later in the south (textbook)
_WARMEST_HOUR: Final = 15.0  # common practice
# m2/s. Soils have 0.04 to 0.07 m2 a day; the middle is taken (textbook).
_SOIL: Final = 0.055 / 86400.0

# EPW: column counted from 0, what stands for "missing", and what is sensible.
_EPW_TEMPERATURE: Final = (6, 99.9, -70.0, 70.0)
_EPW_DEW_POINT: Final = (7, 99.9, -90.0, 70.0)
_EPW_HUMIDITY: Final = (8, 999.0, 0.0, 110.0)
_EPW_HEAD: Final = 8  # lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Outdoor air of one year.

    Parameters
    ----------
    name : str
        Where it comes from, for a reader.
    temperature : (8761,) array
        At the full hours; the last is the first of the next year. [K]
    humidity : (8761,) array
        Water per dry air. [kg/kg]
    notes : tuple of str
        What was filled in or assumed.
    """

    name: str
    temperature: FloatArray
    humidity: FloatArray
    notes: tuple[str, ...] = ()

    @property
    def months(self) -> NDArray[np.int64]:
        """Month of each hour, 0 to 11. (8760,)"""
        return np.repeat(np.arange(12), np.array(_DAYS) * 24)

    def ground(self, depth: float) -> tuple[float, float, float]:
        """Mean [K], swing [K] and moment of the lowest temperature [s] of the ground at a depth.

        Kusuda and Achenbach 1965: the year's first harmonic at the surface, damped and late. The
        surface is taken to follow the air.

        Parameters
        ----------
        depth : float
            Below the surface. [m]
        """
        t = self.temperature[:HOURS]
        angle = 2.0 * math.pi * (np.arange(HOURS) + 0.5) / HOURS
        a, b = 2.0 * np.mean(t * np.cos(angle)), 2.0 * np.mean(t * np.sin(angle))
        damping = depth * math.sqrt(math.pi / (YEAR * _SOIL))
        coldest = math.atan2(-b, -a) % (2.0 * math.pi)
        late = 0.5 * depth * math.sqrt(YEAR / (math.pi * _SOIL))
        moment = coldest / (2.0 * math.pi) * YEAR + late
        return float(np.mean(t)), float(math.hypot(a, b) * math.exp(-damping)), moment


def _year(
    name: str, temperature: FloatArray, humidity: FloatArray, pressure: float, notes: Sequence[str]
) -> Weather:
    """A year from its 8760 hours; water beyond saturation has fallen as dew."""
    most = np.array([saturated_humidity_ratio(t, pressure) for t in temperature])
    humidity = np.minimum(humidity, most)
    return Weather(
        name=name,
        temperature=np.append(temperature, temperature[0]),
        humidity=np.append(humidity, humidity[0]),
        notes=tuple(notes),
    )


def read_weather(path: str, pressure: float = STANDARD_ATMOSPHERE) -> Weather:
    """Hourly weather of a file, EPW or CSV by its first line.

    Parameters
    ----------
    path : str
        Of the file.
    pressure : float
        Atmospheric, at the machine. [Pa]

    Raises
    ------
    JobError
        It cannot be read; the sentence names the line.
    """
    file = Path(path)
    try:
        if file.exists() and not file.is_file():
            raise JobError(what="not a file", path=path)
        if file.exists() and file.stat().st_size > _LARGEST:
            raise JobError(what="far too large for a year of weather", path=path)
        text = file.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise JobError(what="no weather file of this name", path=path) from None
    except UnicodeDecodeError:
        raise JobError(what="not a text file", path=path) from None
    except (OSError, ValueError) as error:
        raise JobError(what=f"cannot be read: {error}", path=path) from None
    lines = text.splitlines()
    if not lines:
        raise JobError(what="the weather file is empty", path=path)
    if lines[0].upper().startswith("LOCATION"):
        return _epw(lines, file.name, path, pressure)
    return _csv(lines, file.name, path, pressure)


def _field(row: Sequence[str], of: tuple[int, float, float, float]) -> float:
    """A number of an EPW line; NaN where it is missing.

    Raises
    ------
    ValueError
        No number, or none that air can have.
    """
    column, missing, low, high = of
    value = float(row[column])
    if value >= missing:
        return math.nan
    if not low <= value <= high:
        raise ValueError
    return value


def _epw(lines: Sequence[str], name: str, path: str, pressure: float) -> Weather:
    rows: list[tuple[float, float]] = []
    before: tuple[int, int, int] | None = None
    for number, row in enumerate(csv.reader(lines), 1):
        if number <= _EPW_HEAD or not row:
            continue
        try:
            when = int(row[1]), int(row[2]), int(row[3])
            t, dew, rh = (
                _field(row, of) for of in (_EPW_TEMPERATURE, _EPW_DEW_POINT, _EPW_HUMIDITY)
            )
        except (ValueError, IndexError):
            raise JobError(
                what="this line holds no hour of weather",
                read=",".join(row)[:60],
                path=path,
                line=number,
                allowed="columns 2 to 4 are month, day and hour, 7 to 9 dry bulb, dew point in "
                "°C and humidity in %",
            ) from None
        if when == before:
            raise JobError(
                what="two lines for one hour",
                path=path,
                line=number,
                allowed="a file with one line for each hour is wanted",
            )
        before = when
        if when[:2] == (2, 29):
            continue
        if math.isnan(dew):
            w = humidity_ratio(t + ZERO_CELSIUS, min(rh, 100.0) / 100.0, pressure)
        else:
            w = saturated_humidity_ratio(dew + ZERO_CELSIUS, pressure)
        rows.append((t + ZERO_CELSIUS, w))
    # An hour's line stands for the hour that ends then; the year begins with the last of them.
    return _whole_year(rows, name, path, pressure, shift=1)


def _whole_year(
    rows: Sequence[tuple[float, float]], name: str, path: str, pressure: float, shift: int
) -> Weather:
    if len(rows) != HOURS:
        raise JobError(
            what=f"the file has {len(rows)} hours",
            path=path,
            allowed=f"a whole year has {HOURS}, without 29 February",
        )
    found = np.roll(np.array(rows), shift, axis=0)
    notes = []
    for column, what in ((0, "temperatures"), (1, "humidities")):
        lost = np.isnan(found[:, column])
        if lost.all() or lost.sum() > HOURS // 10:
            raise JobError(
                what=f"{int(lost.sum())} {what} are missing", path=path, allowed="a tenth at most"
            )
        if lost.any():
            known = np.flatnonzero(~lost)
            found[lost, column] = np.interp(
                np.flatnonzero(lost), known, found[known, column], period=HOURS
            )
            notes.append(f"{int(lost.sum())} missing {what} filled from their neighbours")
    return _year(name, found[:, 0].copy(), found[:, 1].copy(), pressure, notes)


# Names of the columns of a CSV, by kind of quantity.
_COLUMNS: Final[dict[str, tuple[Kind, tuple[str, ...]]]] = {
    "temperature": ("temperature", ("temperature", "dry bulb", "air")),
    "humidity": ("relative humidity", ("humidity", "relative humidity", "rh")),
    "dew point": ("temperature", ("dew point", "dewpoint")),
}
_CSV_HELP: Final = (
    'the first line names the columns with their units, for example "time, temperature [°C], '
    'humidity [%RH]"'
)


def _places(heads: Sequence[str], path: str) -> dict[str, tuple[int, str]]:
    """Where each quantity stands in a row, and its unit."""
    places: dict[str, tuple[int, str]] = {}
    for position, head in enumerate(heads):
        word, _bracket, unit = head.replace("(", "[").rstrip(")] ").partition("[")
        for column, (_kind, names) in _COLUMNS.items():
            if word.strip().casefold() in names:
                if not unit.strip():
                    raise JobError(
                        what=f"the column {word.strip()} has no unit", path=path, line=1,
                        allowed=_CSV_HELP,
                    )  # fmt: skip
                places[column] = position, unit.strip()
    return places


def _csv(lines: Sequence[str], name: str, path: str, pressure: float) -> Weather:
    divider = max(",;\t", key=lines[0].count)
    heads = [h.strip() for h in next(csv.reader(lines[:1], delimiter=divider))]
    places = _places(heads, path)
    if "temperature" not in places or not {"humidity", "dew point"} & set(places):
        raise JobError(
            what="no columns of temperature and humidity", read=lines[0][:60], path=path, line=1,
            allowed=_CSV_HELP,
        )  # fmt: skip
    times = [i for i, h in enumerate(heads) if h.casefold() in ("time", "date", "when")]
    rows: list[tuple[float, float]] = []
    before: datetime | None = None
    for number, row in enumerate(csv.reader(lines[1:], delimiter=divider), 2):
        if not any(cell.strip() for cell in row):
            continue
        try:
            if times:
                when = datetime.fromisoformat(row[times[0]].strip())
                if before is not None and when - before != timedelta(hours=1):
                    raise JobError(
                        what="this line is not one hour after the last",
                        read=row[times[0]],
                        path=path,
                        line=number,
                    )
                before = when
                if (when.month, when.day) == (2, 29):
                    continue
            found = {
                column: parse(f"{row[at].strip()} {unit}", _COLUMNS[column][0]).value
                for column, (at, unit) in places.items()
            }
        except JobError as error:
            if error.path:
                raise
            raise JobError(
                what=error.what, read=error.read, allowed=error.allowed, path=path, line=number
            ) from None
        except (ValueError, IndexError):
            raise JobError(
                what="this line holds no hour of weather",
                read=divider.join(row)[:60],
                path=path,
                line=number,
                allowed=_CSV_HELP,
            ) from None
        t, rh = found["temperature"], found.get("humidity", 0.0)
        if not 203.15 <= t <= 343.15 or not 0.0 <= rh <= 1.0:
            raise JobError(
                what="no outdoor air is like this",
                read=divider.join(row)[:60],
                path=path,
                line=number,
            )
        dew = found.get("dew point")
        w = (
            humidity_ratio(t, rh, pressure)
            if dew is None
            else saturated_humidity_ratio(dew, pressure)
        )
        rows.append((t, w))
    return _whole_year(rows, name, path, pressure, shift=0)


def months_weather(
    temperatures: Sequence[float],
    humidities: Sequence[float],
    *,
    daily_swing: float,
    pressure: float = STANDARD_ATMOSPHERE,
) -> Weather:
    """A smooth year through twelve monthly means, with a daily swing on top.

    Parameters
    ----------
    temperatures, humidities : sequences
        (12,) means of each month. [K], [0..1]
    daily_swing : float
        From the day's lowest to its highest temperature. [K]
    """
    t = _through(temperatures)
    # Vapour follows the months; over a day it hardly moves while the temperature swings.
    w = _through(
        [humidity_ratio(a, r, pressure) for a, r in zip(temperatures, humidities, strict=True)]
    )
    hour = np.arange(HOURS)
    t += 0.5 * daily_swing * np.cos(2.0 * np.pi * (hour - _WARMEST_HOUR) / 24.0)
    return _year(
        "twelve monthly means",
        t,
        np.maximum(w, 1e-5),
        pressure,
        ["single wet or cold weeks of a real year are not in monthly means"],
    )


def _through(means: Iterable[float]) -> FloatArray:
    """Smooth hourly values of a year with these monthly means. (8760,)"""
    wanted = np.array(list(means), dtype=float)
    edges = np.concatenate([[0], np.cumsum(_DAYS)]) * 24
    middle = 0.5 * (edges[:-1] + edges[1:])
    hours = np.arange(HOURS) + 0.5
    from scipy.interpolate import CubicSpline

    values = wanted.copy()
    for _ in range(40):
        spline = CubicSpline(
            np.append(middle, middle[0] + HOURS), np.append(values, values[0]), bc_type="periodic"
        )
        found: FloatArray = spline(np.where(hours < middle[0], hours + HOURS, hours))
        short = wanted - np.array([found[a:b].mean() for a, b in pairwise(edges)])
        if np.abs(short).max() < 1e-9 * max(np.abs(wanted).max(), 1e-12):
            break
        values = values + short
    return found


def place_weather(
    *,
    latitude: float,
    coldest: float,
    warmest: float,
    relative_humidity: float,
    daily_swing: float,
    pressure: float = STANDARD_ATMOSPHERE,
) -> Weather:
    """A year from where a place lies and the means of its coldest and its warmest month.

    Parameters
    ----------
    latitude : float
        North positive; says when it is winter. [degrees]
    coldest, warmest : float
        Monthly means. [K]
    relative_humidity : float
        Mean over the year. [0..1]
    """
    day = _COLDEST_DAY + (0.0 if latitude >= 0.0 else 182.6)
    middles = np.cumsum(_DAYS) - 0.5 * np.array(_DAYS)
    swing = 0.5 * (warmest - coldest)
    t = 0.5 * (warmest + coldest) - swing * np.cos(2.0 * np.pi * (middles - day) / 365.0)
    found = months_weather(
        t.tolist(), [relative_humidity] * 12, daily_swing=daily_swing, pressure=pressure
    )
    return Weather(
        name="a place of this latitude, its coldest and its warmest month",
        temperature=found.temperature,
        humidity=found.humidity,
        notes=found.notes,
    )

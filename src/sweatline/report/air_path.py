"""Air path through the machine on a psychrometric chart for the site's own pressure."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.markers import CARETDOWN, CARETUP
from numpy.typing import NDArray

from sweatline.air.moist import (
    dew_point,
    enthalpy,
    humidity_ratio,
    moist_heat_capacity,
    relative_humidity,
    saturated_humidity_ratio,
    temperature,
)
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.balance import BalanceAnswer
from sweatline.machine.balance import SteadyState
from sweatline.machine.circuit import AFTER, BEFORE, BETWEEN, MachineParameters
from sweatline.parts.coil import PROFILE, CoilParameters
from sweatline.report.axes import Axis, FigureScale, scale_for
from sweatline.report.labels import FAINT_LINE, Label, set_labels
from sweatline.report.paper import (
    COLD,
    DASHED,
    DOTTED,
    FAINT,
    GREY,
    INK,
    SMALL,
    WARM,
    Note,
    Paper,
    mark,
)
from sweatline.units.showing import System

FloatArray = NDArray[np.float64]

_ROW: Final = PROFILE.index("row")
_OUT: Final = PROFILE.index("air_out_temperature_K")
_WET: Final = PROFILE.index("air_out_humidity_ratio")
_PLACE: Final = PROFILE.index("position")
_HUMIDITIES: Final = (0.2, 0.4, 0.6, 0.8)


class AirPath(NamedTuple):
    """States of the air, temperature [K] and humidity ratio [kg/kg], (n, 2), as it flows."""

    evaporator: FloatArray  # from the inlet, mixed after every row
    condenser: FloatArray  # from the inlet, mixed after every row
    fan: tuple[FloatArray, ...]  # what the fan warms, (2, 2)


def air_path(machine: MachineParameters, balance: SteadyState) -> AirPath:
    """Mixed states of the air after every row of both coils."""
    air = machine.air
    room = np.array([air.temperature, air.humidity])
    entering = room.copy()
    leaving = np.array(balance.air_out)
    between = np.array(balance.air_between)
    rise = air.fan_power / (air.flow * moist_heat_capacity(air.humidity))
    fan = []
    if air.fan_position == BEFORE:
        entering[0] += rise
        fan.append(np.array([room, entering]))
    after_evaporator = between.copy()
    if air.fan_position == BETWEEN:
        after_evaporator[0] -= air.fan_power / (air.flow * moist_heat_capacity(between[1]))
        fan.append(np.array([after_evaporator, between]))
    after_condenser = leaving.copy()
    if air.fan_position == AFTER:
        after_condenser[0] -= air.fan_power / (air.flow * moist_heat_capacity(leaving[1]))
        fan.append(np.array([after_condenser, leaving]))
    cold = _rows(machine.evaporator, balance.evaporator_profile)
    warm = _rows(machine.condenser, balance.condenser_profile)
    return AirPath(
        np.vstack((entering, cold, after_evaporator)),
        np.vstack((between, warm, after_condenser)),
        tuple(fan),
    )


def _rows(coil: CoilParameters, profile: FloatArray | None) -> FloatArray:
    """State of the air after every row but the last, whose air is known mixed. (n, 2)"""
    if profile is None:
        return np.empty((0, 2))
    found = []
    for row in range(int(profile[:, _ROW].max())):
        cells = profile[profile[:, _ROW] == row]
        flow = coil.air_shares(cells[:, _PLACE])
        w = float(np.average(cells[:, _WET], weights=flow))
        h = float(np.average([enthalpy(t, x) for t, x in cells[:, [_OUT, _WET]]], weights=flow))
        found.append((temperature(h, w), w))
    return np.array(found).reshape(-1, 2)


def humidity_at_surface(b: SteadyState, humidity: float, pressure: float) -> float:
    """Humidity ratio of the air at the coldest surface: saturated where water condenses. [kg/kg]"""
    return min(saturated_humidity_ratio(b.coil_temperature, pressure), humidity)


def draw_air_path(answer: BalanceAnswer, system: System) -> Paper:
    """Room, air after the evaporator, air after the condenser, and the coldest surface."""
    build, b = answer.build, answer.steady
    place, air = build.job.place, build.machine.air
    pressure = place.atmospheric_pressure
    path = air_path(build.machine, b)
    scale = scale_for(build, system)
    warmth, wet = scale.axis("temperature"), scale.humidity_ratio_axis()
    dew = dew_point(air.humidity, pressure)
    condenses = b.coil_temperature < dew
    surface_w = humidity_at_surface(b, air.humidity, pressure)
    paper = Paper(
        scale.machine(build),
        f"Air path through the machine, from a room at {scale.room(build)}",
        4.7,
        [
            Note(
                "Small marks: air mixed after each row of tubes. Dotted: warmed by the fan. "
                f"Drawn for air at {scale.words(pressure, 'absolute pressure')} "
                f"(altitude {scale.words(place.altitude, 'altitude')}); below "
                f"{scale.words(ZERO_CELSIUS, 'temperature', 2)} saturation is over ice."
            )
        ],
    )
    ax = paper.axes(0.2, 0.55, paper.width - 1.05, paper.height - 0.6)
    states = np.vstack((path.evaporator, path.condenser, [b.air_out]))
    cold = min(b.coil_temperature, dew, float(states[:, 0].min())) - 3.0
    hot = max(float(states[:, 0].max()), air.temperature) + 9.0
    driest = min(float(states[:, 1].min()), surface_w)
    humidities = draw_humidities(
        ax,
        scale,
        pressure,
        temperatures=(cold, hot),
        ratios=(0.55 * driest, 1.3 * air.humidity),
    )
    coils = []
    for name, points, color, dashes, marker in (
        ("evaporator", path.evaporator, COLD, "-", "o"),
        ("condenser", path.condenser, WARM, DASHED, "s"),
        *(("", line, INK, DOTTED, "") for line in path.fan),
    ):
        x, y = warmth(points[:, 0]), wet(points[:, 1])
        ax.plot(x, y, color=color, lw=2.0, ls=dashes, zorder=4)
        ax.plot(x[1:-1], y[1:-1], ls="None", marker=marker, ms=4, color=color, zorder=5)
        if name:
            coils.append(Label(name, x, y, color, weight="bold"))
    room_y = wet.one(air.humidity)
    ax.plot(warmth([dew, air.temperature]), [room_y] * 2, color=GREY, lw=0.9, ls=DOTTED)
    named = []
    for name, (t, w) in (
        ("1  room", (air.temperature, air.humidity)),
        ("2  after evaporator", tuple(path.evaporator[-1])),
        ("3  leaving the machine", b.air_out),
    ):
        text = f"{name}\n{scale.air(t, relative_humidity(t, w, pressure))}"
        named.append(Label(text, warmth.one(t), wet.one(w)))
        mark(ax, warmth.one(t), wet.one(w))
    frost = ", frost" if condenses and b.coil_temperature < ZERO_CELSIUS else ""
    text = f"coldest surface\n{scale.words(b.coil_temperature, 'temperature')}{frost}"
    named.append(Label(text, warmth.one(b.coil_temperature), wet.one(surface_w), COLD))
    mark(ax, warmth.one(b.coil_temperature), wet.one(surface_w), "D", color=COLD, filled=False)
    text = f"dew point {scale.words(dew, 'temperature')}"
    named.append(Label(text, warmth.one(dew), room_y, size=SMALL))
    mark(ax, warmth.one(dew), room_y, "|", size=9.0)
    if b.water > 0.0:
        named.insert(0, _draw_water(ax, b, (air.temperature, air.humidity), warmth, wet, scale))
    set_labels(ax, [*named, *coils, *humidities])
    return paper


def draw_humidities(
    ax: Axes,
    scale: FigureScale,
    pressure: float,
    *,
    temperatures: tuple[float, float],
    ratios: tuple[float, float],
) -> list[Label]:
    """Saturation and lines of equal relative humidity in their frame; returns their names.

    Parameters
    ----------
    temperatures, ratios : (2,) floats
        Ends of the frame. [K], [kg/kg]
    """
    warmth, wet = scale.axis("temperature"), scale.humidity_ratio_axis()
    ax.spines["left"].set_visible(False)
    ax.spines["right"].set_visible(True)
    ax.yaxis.tick_right()
    ax.yaxis.set_label_position("right")
    ax.set_xlabel(f"temperature, {warmth.unit}")
    ax.set_ylabel(f"water in the air, {wet.unit} of dry air")
    ax.set_xlim(*warmth(temperatures))
    ax.set_ylim(*wet(ratios))
    t = np.linspace(*temperatures, 160)
    labels = []
    for share in (1.0, *_HUMIDITIES):
        w = wet([humidity_ratio(float(x), share, pressure) for x in t])
        text = f"{share * 100:.0f} %"
        if share == 1.0:
            ax.plot(warmth(t), w, color=INK, lw=1.2)
            text = f"saturated, {text}RH"
        else:
            ax.plot(warmth(t), w, color=FAINT, lw=0.7, gid=FAINT_LINE, zorder=1)
        color = INK if share == 1.0 else GREY
        labels.append(Label(text, warmth(t), w, color, SMALL, between=(0.5, 0.97)))
    return labels


def _draw_water(
    ax: Axes, b: SteadyState, room: tuple[float, float], warmth: Axis, wet: Axis, scale: FigureScale
) -> Label:
    """Arrow from the water of the room to that of the air leaving; returns its name."""
    right = max(b.air_out[0], room[0])
    x = warmth.one(right + 1.6)
    low, high = wet.one(b.air_out[1]), wet.one(room[1])
    for start, y in ((b.air_out[0], low), (room[0], high)):
        ax.plot(warmth([start, right + 2.0]), [y, y], color=GREY, lw=0.6)
    ax.plot([x, x], [low, high], color=INK, lw=0.9)
    mark(ax, x, low, CARETDOWN, size=5.0)
    mark(ax, x, high, CARETUP, size=5.0)
    text = f"water taken\n{scale.words(b.water, 'water removal')}"
    return Label(text, [x, x], [low, high], weight="bold", between=(0.2, 0.8))

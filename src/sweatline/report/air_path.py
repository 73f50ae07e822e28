"""The air's way through the machine on a psychrometric chart of the site's own pressure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
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
from sweatline.parts.tube_layout import TubeParameters
from sweatline.report.captions import in_words, machine_title, room_words
from sweatline.report.labels import FAINT_LINE, Label, beside, set_labels
from sweatline.report.paper import COLD, FAINT, GREY, INK, SMALL, WARM, Note, Paper
from sweatline.report.scales import Scale, humidity_ratio_scale, scale
from sweatline.units.showing import System

if TYPE_CHECKING:
    from matplotlib.axes import Axes


FloatArray = NDArray[np.float64]

_ROW: Final = PROFILE.index("row")
_OUT: Final = PROFILE.index("air_out_temperature_K")
_WET: Final = PROFILE.index("air_out_humidity_ratio")
_PLACE: Final = PROFILE.index("position")
_HUMIDITIES: Final = (0.2, 0.4, 0.6, 0.8)


class AirWay(NamedTuple):
    """States of the air, temperature [K] and humidity ratio [kg/kg], (n, 2), in its direction."""

    evaporator: FloatArray  # from the inlet, mixed after every row
    condenser: FloatArray  # from the inlet, mixed after every row
    fan: tuple[FloatArray, ...]  # what the fan warms, (2, 2)


def air_way(machine: MachineParameters, balance: SteadyState) -> AirWay:
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
    return AirWay(
        np.vstack((entering, cold, after_evaporator)),
        np.vstack((between, warm, after_condenser)),
        tuple(fan),
    )


def _rows(coil: CoilParameters | TubeParameters, profile: FloatArray | None) -> FloatArray:
    """State of the air after every row but the last, whose air is known mixed. (n, 2)"""
    if profile is None:
        return np.empty((0, 2))
    found = []
    for row in range(int(profile[:, _ROW].max())):
        cells = profile[profile[:, _ROW] == row]
        flow = coil.air_shares(cells[:, _PLACE]) if isinstance(coil, TubeParameters) else None
        w = float(np.average(cells[:, _WET], weights=flow))
        h = float(np.average([enthalpy(t, x) for t, x in cells[:, [_OUT, _WET]]], weights=flow))
        found.append((temperature(h, w), w))
    return np.array(found).reshape(-1, 2)


def draw_air_path(answer: BalanceAnswer, system: System) -> Paper:
    """Room, air after the evaporator, air after the condenser, and the coldest surface."""
    build, b = answer.build, answer.steady
    pressure = build.job.place.atmospheric_pressure
    way = air_way(build.machine, b)
    warmth, wet = scale("temperature", system), humidity_ratio_scale(system)
    room = (build.machine.air.temperature, build.machine.air.humidity)
    dew = dew_point(room[1], pressure)
    condenses = b.coil_temperature < dew
    surface_w = saturated_humidity_ratio(b.coil_temperature, pressure) if condenses else room[1]
    place = build.job.place
    paper = Paper(
        machine_title(build, system),
        f"The air's way through the machine, from a room of {room_words(build, system)}",
        4.7,
        [
            Note(
                "Small marks: air mixed behind each row of tubes; finely dotted: warmed by the "
                "fan. Drawn for air at "
                f"{in_words(pressure, 'absolute pressure', system)} "
                f"(altitude {in_words(place.altitude, 'altitude', system)}); below "
                f"{in_words(ZERO_CELSIUS, 'temperature', system, 2)} saturation is over ice."
            )
        ],
    )
    ax = paper.axes(0.2, 0.55, paper.width - 1.05, paper.height - 0.6)
    ax.spines["left"].set_visible(False)
    ax.spines["right"].set_visible(True)
    ax.yaxis.tick_right()
    ax.yaxis.set_label_position("right")
    ax.set_xlabel(f"temperature, {warmth.unit}")
    ax.set_ylabel(f"water in the air, {wet.unit} of dry air")

    states = np.vstack((way.evaporator, way.condenser, [b.air_out]))
    cold = min(b.coil_temperature, dew, float(states[:, 0].min())) - 3.0
    hot = max(float(states[:, 0].max()), room[0]) + 9.0
    least = min(float(states[:, 1].min()), surface_w)
    t = np.linspace(cold, hot, 160)
    ax.set_xlim(warmth.one(cold), warmth.one(hot))
    ax.set_ylim(wet.one(0.55 * least), wet.one(1.3 * room[1]))

    saturated = [saturated_humidity_ratio(float(x), pressure) for x in t]
    ax.plot(warmth(t), wet(saturated), color=INK, lw=1.2)
    labels = [
        Label(
            text="saturated, 100 %RH",
            anchors=_in_frame(warmth(t), wet(saturated), wet.one(1.28 * room[1])),
            size=SMALL,
            leader=False,
        )
    ]
    for share in _HUMIDITIES:
        w = wet([humidity_ratio(float(x), share, pressure) for x in t])
        ax.plot(warmth(t), w, color=FAINT, lw=0.7, gid=FAINT_LINE, zorder=1)
        labels.append(
            Label(
                text=f"{share * 100:.0f} %",
                anchors=_in_frame(warmth(t), w, wet.one(1.28 * room[1])),
                color=GREY,
                size=SMALL,
                leader=False,
            )
        )
    for points, color, style, marker in (
        (way.evaporator, COLD, "-", "o"),
        (way.condenser, WARM, (0, (6, 2)), "s"),
        *((line, INK, (0, (1.5, 1.5)), "") for line in way.fan),
    ):
        x, y = warmth(points[:, 0]), wet(points[:, 1])
        ax.plot(x, y, color=color, lw=2.0, ls=style, zorder=4)
        if marker:
            ax.plot(x[1:-1], y[1:-1], ls="None", marker=marker, ms=4, color=color, zorder=5)
    ax.plot(warmth([dew, room[0]]), [wet.one(room[1])] * 2, color=GREY, lw=0.9, ls=(0, (1.2, 2.2)))
    marks = [
        ("1  room", room, "o", INK),
        ("2  after evaporator", tuple(way.evaporator[-1]), "o", INK),
        ("3  leaving the machine", b.air_out, "o", INK),
    ]
    named = []
    for name, (x, y), marker, color in marks:
        ax.plot(
            [warmth.one(x)], [wet.one(y)], ls="None", marker=marker, ms=6, color=color, zorder=6
        )
        rh = in_words(relative_humidity(x, y, pressure), "relative humidity", system, 2)
        named.append(
            Label(
                text=f"{name}\n{in_words(x, 'temperature', system)}   {rh}",
                anchors=[(warmth.one(x), wet.one(y))],
                point=True,
            )
        )
    ax.plot(
        [warmth.one(b.coil_temperature)],
        [wet.one(surface_w)],
        ls="None",
        marker="D",
        ms=6,
        mfc="white",
        mec=COLD,
        mew=1.4,
        zorder=6,
    )
    frost = ", frost" if condenses and b.coil_temperature < ZERO_CELSIUS else ""
    named.append(
        Label(
            text=f"coldest surface\n{in_words(b.coil_temperature, 'temperature', system)}{frost}",
            anchors=[(warmth.one(b.coil_temperature), wet.one(surface_w))],
            color=COLD,
            point=True,
        )
    )
    ax.plot([warmth.one(dew)], [wet.one(room[1])], ls="None", marker="|", ms=9, color=INK, zorder=5)
    named.append(
        Label(
            text=f"dew point {in_words(dew, 'temperature', system)}",
            anchors=[(warmth.one(dew), wet.one(room[1]))],
            size=SMALL,
        )
    )
    if b.water > 0.0:
        named.append(_draw_water(ax, b, room, warmth, wet, system))
    ways = [
        Label(
            text=name,
            anchors=beside(warmth(p[:, 0]), wet(p[:, 1])),
            color=color,
            weight="bold",
            leader=False,
        )
        for name, p, color in (
            ("evaporator", way.evaporator, COLD),
            ("condenser", way.condenser, WARM),
        )
    ]
    set_labels(ax, [*named, *ways, *labels])
    return paper


def _draw_water(
    ax: Axes,
    b: SteadyState,
    room: tuple[float, float],
    warmth: Scale,
    wet: Scale,
    system: System,
) -> Label:
    """Arrow from the water of the room to that of the air leaving; returns its name."""
    right = max(b.air_out[0], room[0])
    x = warmth.one(right + 1.6)
    low, high = wet.one(b.air_out[1]), wet.one(room[1])
    for start, y in ((b.air_out[0], low), (room[0], high)):
        ax.plot(warmth([start, right + 2.0]), [y, y], color=GREY, lw=0.6)
    ax.plot([x, x], [low, high], color=INK, lw=0.9)
    ax.plot([x], [low], ls="None", marker=CARETDOWN, ms=5, color=INK)
    ax.plot([x], [high], ls="None", marker=CARETUP, ms=5, color=INK)
    return Label(
        text="water taken\n" + in_words(b.water, "water removal", system),
        anchors=beside([x, x], [low, high], between=(0.2, 0.8), count=7),
        weight="bold",
        leader=False,
    )


def _in_frame(x: FloatArray, y: FloatArray, top: float) -> FloatArray:
    """Anchors along the part of a line below the top of the frame."""
    inside = y < top
    return beside(x[inside], y[inside], between=(0.7, 0.99), count=16)

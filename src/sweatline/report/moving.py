"""State diagram and air path that follow a hand: a frame drawn once, and lines that move in it.

The frame is the paper's own, with axes wide enough for what may come. Each line and mark has an id;
of a new state only the attributes that change are worked out, with the transform of those axes.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import ArrayLike, NDArray

from sweatline.air.moist import dew_point, relative_humidity
from sweatline.assembly.build import Build
from sweatline.constants import ZERO_CELSIUS
from sweatline.machine.balance import SteadyState
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import state
from sweatline.report.air_path import air_path, draw_humidities, humidity_at_surface
from sweatline.report.axes import scale_for
from sweatline.report.labels import Label, set_labels
from sweatline.report.paper import COLD, GREY, INK, SIZE, SMALL, WARM, Paper, drawing_rules
from sweatline.report.state_diagram import (
    GAS_POINTS,
    LIQUID_POINTS,
    changes,
    corners,
    draw_dome,
    isotherm,
    without_losses,
)
from sweatline.units.showing import System

FloatArray = NDArray[np.float64]
Moves = Mapping[str, Mapping[str, str]]
"""Attributes by the id of the element; `text` is its content."""

_WIDTH: Final = 4.6  # in: two beside each other on a screen, one on a phone
_HEIGHT: Final = 3.7  # in
_RING: Final = 7.5  # pt
_COLDER: Final = 12.0  # K that the frame reaches beyond the coldest and the warmest state
_WARMER: Final = 16.0
_WETTER: Final = 1.9  # of the room's humidity ratio, at the top of the frame
_LOWER, _HIGHER = 2.8, 2.2  # of the pressures, at the foot and the top of the frame

_INKS: Final = {"evaporator": COLD, "condenser": WARM}
_PATHS: Final = (
    # id, ink, width, dashes
    ("room", GREY, 0.9, "1.2 2.2"),
    ("ideal", INK, 0.8, "0.8 1.6"),
    ("compression", INK, 2.0, "6 2"),
    ("capillary", INK, 2.0, "8 2 1 2"),
    ("exchanger", INK, 2.0, ""),
    ("evaporator", COLD, 2.2, ""),
    ("condenser", WARM, 2.2, ""),
    ("fan", INK, 2.0, "1.2 2.2"),
    ("dew", GREY, 0.9, "1.2 2.2"),
    ("water", INK, 1.0, ""),
    ("evaporator-cells", COLD, 4.4, "dots"),
    ("condenser-cells", WARM, 4.4, "dots"),
    ("surface", COLD, 7.0, "dots"),
)


@dataclass(frozen=True, slots=True)
class Placing:
    """Where numbers on a pair of axes lie in the drawing. [pt]"""

    across: tuple[float, float]  # place = first + second * number
    upward: tuple[float, float]
    logarithmic: bool
    box: tuple[float, float, float, float]  # left, top, width, height

    def __call__(self, x: ArrayLike, y: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Places of numbers. (n,), (n,)"""
        up = np.asarray(y, dtype=float)
        up = np.log(up) if self.logarithmic else up
        return (
            self.across[0] + self.across[1] * np.asarray(x, dtype=float),
            self.upward[0] + self.upward[1] * up,
        )

    def line(self, x: ArrayLike, y: ArrayLike) -> str:
        """Path data of a line."""
        a, b = self(x, y)
        return "M" + "L".join(f"{u:.1f} {v:.1f}" for u, v in zip(a, b, strict=True))

    def dots(self, x: ArrayLike, y: ArrayLike) -> str:
        """Path data of points, which round ends make visible."""
        a, b = self(x, y)
        return "".join(f"M{u:.1f} {v:.1f}h0" for u, v in zip(a, b, strict=True))

    def at(self, x: float, y: float, *, right: float = 0.0, down: float = 0.0) -> str:
        """Transform that brings an element to a place, moved by so much. [pt]"""
        u, v = self([x], [y])
        return f"translate({u[0] + right:.1f} {v[0] + down:.1f})"

    def holds(self, x: ArrayLike, y: ArrayLike) -> bool:
        """Whether all of it lies in the frame."""
        a, b = self(x, y)
        left, top, width, height = self.box
        return bool(
            (a >= left).all() and (a <= left + width).all()
            and (b >= top).all() and (b <= top + height).all()
        )  # fmt: skip


def _placing(paper: Paper, ax: Axes) -> Placing:
    scale = 72.0 / paper.figure.dpi
    full = 72.0 * paper.full
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    (left, low), (right, high) = ax.transData.transform([(x0, y0), (x1, y1)]) * scale
    bottom, top = full - low, full - high
    logarithmic = ax.get_yscale() == "log"
    if logarithmic:
        y0, y1 = float(np.log(y0)), float(np.log(y1))
    across = (right - left) / (x1 - x0)
    upward = (top - bottom) / (y1 - y0)
    return Placing(
        (left - across * x0, across),
        (bottom - upward * y0, upward),
        logarithmic,
        (left, top, right - left, bottom - top),
    )


@dataclass(frozen=True, slots=True)
class Drawing:
    """A frame as SVG, with the elements that move in it, and where they move."""

    name: str
    svg: str
    placing: Placing

    def moved(self, moves: Moves) -> str:
        """The SVG with everything where the moves have it."""
        svg = self.svg
        for key, move in moves.items():
            attributes = "".join(f' {k}="{v}"' for k, v in move.items() if k != "text")
            svg = svg.replace(f'id="{key}"', f'id="{key}"{attributes}', 1)
            svg = svg.replace(f"[{key}]", escape(move.get("text", "")), 1)
        return svg


def _drawing(
    name: str, paper: Paper, ax: Axes, lines: Sequence[str], rings: int, names: Mapping[str, str]
) -> Drawing:
    """The frame with an empty layer of paths, ringed numbers and names (with anchors) over it."""
    placing = _placing(paper, ax)
    left, top, width, height = placing.box
    layer = [
        f'<clipPath id="{name}-box"><rect x="{left:.1f}" y="{top:.1f}" width="{width:.1f}" '
        f'height="{height:.1f}"/></clipPath><g clip-path="url(#{name}-box)">'
    ]
    for key, ink, thick, dashes in _PATHS:
        if key not in lines:
            continue
        style = f"fill: none; stroke: {ink}; stroke-width: {thick}"
        if dashes == "dots":
            style += "; stroke-linecap: round"
        elif dashes:
            style += f"; stroke-dasharray: {dashes}"
        layer.append(f'<path id="{name}-{key}" style="{style}"/>')
    for key, anchor in names.items():
        style = f"fill: {_INKS.get(key, INK)}; font-size: {SIZE if key in _INKS else SMALL}; "
        style += "stroke: white; stroke-width: 3; stroke-linejoin: round; paint-order: stroke"
        layer.append(
            f'<text id="{name}-{key}-name" text-anchor="{anchor}" style="{style}">'
            f"[{name}-{key}-name]</text>"
        )
    layer.append("</g>")
    for k in range(1, rings + 1):
        layer.append(
            f'<g id="{name}-{k}"><circle r="{_RING}" style="fill: white; stroke: {INK}; '
            f'stroke-width: 1"/><text y="3.4" text-anchor="middle" style="fill: {INK}; '
            f'font-size: {SMALL}">{k}</text></g>'
        )
    head, _end, tail = paper.svg().rpartition("</svg>")
    return Drawing(name, f"{head}{''.join(layer)}</svg>{tail}", placing)


def _at_the_top(labels: Sequence[Label], count: int) -> list[Label]:
    """Labels of which the first, of the saturation lines, keep out of the way of what moves."""
    high = [replace(label, between=(0.93, 1.0)) for label in labels[:count]]
    return [*high, *labels[count:]]


class MovingStates:
    """Logarithm of pressure over enthalpy, for one refrigerant."""

    def __init__(self, build: Build, b: SteadyState, system: System) -> None:
        self.scale = scale_for(build, system)
        self.unit = self.scale.enthalpy_axis()
        table = build.refrigerant.table
        turns = corners(b)
        h = [c.enthalpy for c in turns.values()]
        pressures = (
            max(min(b.suction_pressure, b.evaporating_pressure) / _LOWER, 1.05 * table.p_min),
            min(_HIGHER * b.discharge_pressure, 1.05 * table.p_max),
        )
        with drawing_rules():
            paper = Paper(
                "Round the circuit", f"{build.refrigerant.name}; pressures are gauge", _HEIGHT,
                width=_WIDTH,
            )  # fmt: skip
            ax = paper.axes(0.62, 0.5, _WIDTH - 0.75, _HEIGHT - 0.55, ticks=(6, 6))
            span = max(h) - min(h)
            dome = draw_dome(
                ax, table, self.scale, enthalpies=(min(h), max(h) + 0.1 * span),
                pressures=pressures,
            )  # fmt: skip
            set_labels(ax, _at_the_top(dome, 2))
            self.drawing = _drawing(
                "states", paper, ax,
                ("room", "ideal", "compression", "capillary", "exchanger", "evaporator",
                 "condenser", "evaporator-cells", "condenser-cells"),
                4, {"evaporator": "middle", "condenser": "middle", "room": "middle"},
            )  # fmt: skip

    def moves(self, build: Build, b: SteadyState) -> tuple[Moves, bool]:
        """The lines of a state, and whether all of it lies in the frame."""
        table, place, unit = build.refrigerant.table, self.drawing.placing, self.unit
        turns = corners(b)
        found: dict[str, dict[str, str]] = {}
        exchanger = ""
        for change in changes(b, turns):
            x, p = unit(change.states[:, 0]), change.states[:, 1]
            if not change.name:
                exchanger += place.line(x[[0, -1]], p[[0, -1]])
                continue
            straight = change.marker == ""
            ends = [0, -1] if change.name == "capillary" else slice(None, None, 4)
            path = place.line(x[ends], p[ends]) if straight else place.line(x, p)
            found[f"states-{change.name}"] = {"d": path}
            if change.marker:
                found[f"states-{change.name}-cells"] = {"d": place.dots(x[1:-1], p[1:-1])}
                middle = len(x) // 2
                down = 16.0 if change.name == "evaporator" else -8.0
                found[f"states-{change.name}-name"] = {
                    "transform": place.at(float(x[middle]), float(p[middle]), down=down),
                    "text": change.name,
                }
        found["states-exchanger"] = {"d": exchanger}
        ideal = without_losses(table, turns["suction"], turns["discharge"])
        found["states-ideal"] = {"d": place.line(unit(ideal[::3, 0]), ideal[::3, 1])}
        low, high = self._pressures()
        room = build.machine.air.temperature
        line = np.array(_isotherm(build.refrigerant.name, round(room, 1), low, high))
        found["states-room"] = {"d": place.line(unit(line[:, 0]), line[:, 1])}
        h, p = 0.5 * (line[LIQUID_POINTS] + line[-GAS_POINTS - 1])  # in the middle of the dome
        found["states-room-name"] = {
            "transform": place.at(unit.one(float(h)), float(p), down=-4.0),
            "text": f"room {self.scale.words(room, 'temperature')}",
        }
        numbered = [turns[key] for key in _NUMBERED]
        for k, c in enumerate(numbered, start=1):
            found[f"states-{k}"] = {"transform": place.at(unit.one(c.enthalpy), c.pressure)}
            t = state(table, c.pressure, c.enthalpy)[0]
            pressure = self.scale.words(c.pressure, "gauge pressure")
            found[f"states-{k}-told"] = {
                "text": f"{c.name} {self.scale.words(t, 'temperature')}, {pressure}"
            }
        all_h = unit([c.enthalpy for c in turns.values()])
        return found, place.holds(all_h, [c.pressure for c in turns.values()])

    def _pressures(self) -> tuple[float, float]:
        place = self.drawing.placing
        _left, top, _width, height = place.box
        low, high = ((v - place.upward[0]) / place.upward[1] for v in (top + height, top))
        return float(np.exp(low)), float(np.exp(high))


_NUMBERED: Final = ("suction", "discharge", "liquid", "evaporator")


@functools.lru_cache(maxsize=256)
def _isotherm(
    refrigerant: str, temperature: float, low: float, high: float
) -> tuple[tuple[float, float], ...]:
    line = isotherm(load(refrigerant).table, temperature, low, high)
    return tuple((float(h), float(p)) for h, p in line)


class MovingAir:
    """Psychrometric chart for the site's own pressure."""

    def __init__(self, build: Build, b: SteadyState, system: System) -> None:
        self.scale = scale_for(build, system)
        self.pressure = build.job.place.atmospheric_pressure
        air = build.machine.air
        path = air_path(build.machine, b)
        states = np.vstack((path.evaporator, path.condenser, [b.air_out]))
        cold = min(b.coil_temperature, float(states[:, 0].min())) - _COLDER
        hot = max(float(states[:, 0].max()), air.temperature) + _WARMER
        with drawing_rules():
            paper = Paper(
                "Air path", "small marks: after each row of tubes; dotted: warmed by the fan",
                _HEIGHT, width=_WIDTH,
            )  # fmt: skip
            ax = paper.axes(0.15, 0.5, _WIDTH - 0.8, _HEIGHT - 0.55, ticks=(6, 6))
            names = draw_humidities(
                ax, self.scale, self.pressure, temperatures=(cold, hot),
                ratios=(0.0, _WETTER * air.humidity),
            )  # fmt: skip
            set_labels(ax, _at_the_top(names, 1))
            self.drawing = _drawing(
                "air", paper, ax,
                ("evaporator", "condenser", "fan", "dew", "water", "evaporator-cells",
                 "condenser-cells", "surface"),
                3,
                {"evaporator": "end", "condenser": "middle", "surface": "middle",
                 "water": "start"},
            )  # fmt: skip

    def moves(self, build: Build, b: SteadyState) -> tuple[Moves, bool]:
        """The lines of a state, and whether all of it lies in the frame."""
        place, scale = self.drawing.placing, self.scale
        warmth, wet = scale.axis("temperature"), scale.humidity_ratio_axis()
        air = build.machine.air
        path = air_path(build.machine, b)
        found: dict[str, dict[str, str]] = {}
        for name, points in (("evaporator", path.evaporator), ("condenser", path.condenser)):
            x, y = warmth(points[:, 0]), wet(points[:, 1])
            found[f"air-{name}"] = {"d": place.line(x, y)}
            found[f"air-{name}-cells"] = {"d": place.dots(x[1:-1], y[1:-1])}
            middle = len(x) // 2
            found[f"air-{name}-name"] = {
                "transform": place.at(
                    float(x[middle - 1 : middle + 1].mean()),
                    float(y[middle - 1 : middle + 1].mean()),
                    right=0.0 if name == "condenser" else -9.0,
                    down=16.0 if name == "condenser" else -9.0,
                ),
                "text": name,
            }
        found["air-fan"] = {
            "d": "".join(place.line(warmth(line[:, 0]), wet(line[:, 1])) for line in path.fan)
        }
        room = wet.one(air.humidity)
        dew = dew_point(air.humidity, self.pressure)
        found["air-dew"] = {"d": place.line(warmth([dew, air.temperature]), [room, room])}
        surface = (
            warmth.one(b.coil_temperature),
            wet.one(humidity_at_surface(b, air.humidity, self.pressure)),
        )
        frost = ", frost" if b.coil_temperature < min(dew, ZERO_CELSIUS) else ""
        found["air-surface"] = {"d": place.dots([surface[0]], [surface[1]])}
        found["air-surface-name"] = {
            "transform": place.at(*surface, down=18.0),
            "text": f"coldest surface {scale.words(b.coil_temperature, 'temperature')}{frost}",
        }
        right = warmth.one(max(b.air_out[0], air.temperature) + 3.0)
        low = wet.one(b.air_out[1])
        found["air-water"] = {"d": place.line([right, right], [low, room]) if b.water else ""}
        found["air-water-name"] = {
            "transform": place.at(right, 0.5 * (low + room), right=4.0, down=3.4),
            "text": scale.words(b.water, "water removal", 2) if b.water else "",
        }
        told = (
            ("room", (air.temperature, air.humidity)),
            (
                "after the evaporator",
                (float(path.evaporator[-1, 0]), float(path.evaporator[-1, 1])),
            ),
            ("leaving the machine", b.air_out),
        )
        for k, (name, (t, w)) in enumerate(told, start=1):
            found[f"air-{k}"] = {"transform": place.at(warmth.one(t), wet.one(w))}
            humidity = relative_humidity(t, w, self.pressure)
            found[f"air-{k}-told"] = {"text": f"{name} {scale.air(t, humidity)}"}
        states = np.vstack((path.evaporator, path.condenser, [b.air_out]))
        return found, place.holds(warmth(states[:, 0]), wet(states[:, 1]))

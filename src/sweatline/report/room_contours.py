"""One charged machine in many rooms: contour lines over temperature and humidity."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.contour import QuadContourSet
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from sweatline.air.moist import relative_humidity
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.room_map import RoomAnswer
from sweatline.errors import JobError
from sweatline.report.axes import FigureScale, quantity, scale_for
from sweatline.report.paper import COLD, GREY, HATCHED, INK, SMALL, Note, Paper, look, mark
from sweatline.units.showing import System

FloatArray = NDArray[np.float64]

_LEFT: Final = 0.68  # in
_ACROSS: Final = 0.55  # in between two panels side by side
_DOWN: Final = 0.65  # in between two panels one above the other
_PANEL: Final = 2.35  # in, height of a panel
_AXIS: Final = 0.6  # in, beneath the panels for the axis
_KEY: Final = 0.195  # in, a line of the key
_LINES: Final = 7  # contour lines in a panel, about
_SHOWN: Final = ("water", "total_power", "water_per_energy", "coil_temperature")
_FROM_ZERO: Final = ("water", "water_per_energy")
_NOTHING: Final = 2e-3  # of the largest value, below which it counts as none
_NO_STATE: Final = {**HATCHED, "edgecolor": GREY, "hatch": "xxxx", "zorder": 0.6}
_NOT_REACHED: Final = {**HATCHED, "edgecolor": GREY, "hatch": "...", "zorder": 0.6}


class _Room(NamedTuple):
    """A room worth marking: its place on the axes, and how it is drawn."""

    name: str
    x: float
    y: float
    marker: str


class _Rooms(NamedTuple):
    """The rooms of a map, in the numbers of its axes."""

    x: FloatArray  # temperatures
    y: FloatArray  # humidities
    coil: FloatArray  # K, coldest surface; not a number where there is no balance
    dry: bool  # no water is taken in more than a corner of the map
    marked: list[_Room]


def draw_room_contours(answer: RoomAnswer, system: System) -> Paper:
    """Water, watts, water per energy and coil temperature, each with the frost line.

    Raises
    ------
    JobError
        The map has fewer than two temperatures or two humidities.
    """
    found = answer.map
    if min(len(found.temperatures), len(found.humidities)) < 2:
        raise JobError(
            what="this map is too small to draw",
            allowed="give at least two temperatures and two humidities",
            field="room-map",
        )
    scale = scale_for(answer.build, system)
    warmth, damp = scale.axis("temperature"), scale.axis("relative humidity")
    x, y = warmth(found.temperatures), damp(found.humidities)
    known_rooms = _known_rooms(answer, scale)
    inside = [m for m in known_rooms if x[0] <= m.x <= x[-1] and y[0] <= m.y <= y[-1]]
    water = found.field(lambda b: b.water)
    rooms = _Rooms(x, y, found.field(lambda b: b.coil_temperature), _is_bare(water), inside)
    notes = [Note(f"Outside this map: {m.name}.") for m in known_rooms if m not in inside]
    reasons = sorted({r for row in found.reasons for r in row if r})
    notes += [Note(f"No steady state: {r}.") for r in reasons]
    key = _key(answer, rooms, scale)
    foot = _AXIS + _KEY * math.ceil(0.5 * len(key))
    paper = Paper(
        scale.machine(answer.build),
        f"The same charge, {scale.words(answer.charge, 'mass')}, in other rooms",
        0.3 + 2.0 * _PANEL + _DOWN + foot,
        notes,
    )
    width = 0.5 * (paper.width - _LEFT - _ACROSS - 0.2)
    for k, name in enumerate(_SHOWN):
        shown = quantity(name)
        unit = scale.axis(shown.kind)
        across, down = k % 2, k // 2
        ax = paper.axes(
            _LEFT + across * (width + _ACROSS),
            foot + (1 - down) * (_PANEL + _DOWN),
            width,
            _PANEL,
            title=f"{shown.label}, {unit.unit}",
            ticks=(6, 6),
        )
        ax.set_xlim(float(x[0]), float(x[-1]))
        ax.set_ylim(float(y[0]), float(y[-1]))
        if down == 1:
            ax.set_xlabel(f"temperature of the room, {warmth.unit}")
        if across == 0:
            ax.set_ylabel(f"humidity of the room, {damp.unit}")
        bare = rooms.dry and name in _FROM_ZERO
        _draw_contours(ax, rooms, unit(found.field(shown.of)), bare=bare)
        _draw_missing(ax, rooms, found.reasons)
    paper.figure.legend(
        handles=key,
        loc="lower left",
        bbox_to_anchor=(_LEFT / paper.width, (paper.bottom + 0.02) / paper.full),
        ncols=2,
        frameon=False,
        fontsize=SMALL,
        handlelength=2.2,
        handleheight=1.1,
        borderpad=0.0,
        borderaxespad=0.0,
        columnspacing=2.0,
    )
    return paper


def _known_rooms(answer: RoomAnswer, scale: FigureScale) -> list[_Room]:
    """The job's room, and that in which the plate was rated if it says so."""
    job, air = answer.build.job, answer.build.machine.air
    rh = relative_humidity(air.temperature, air.humidity, job.place.atmospheric_pressure)
    rooms = [("the job's room", air.temperature, rh, "o")]
    t, h = job.original.rating_temperature, job.original.rating_relative_humidity
    if t is not None and h is not None:
        rooms.append(("the plate's rating room", t.value, h.value, "s"))
    warmth, damp = scale.axis("temperature"), scale.axis("relative humidity")
    return [
        _Room(f"{name}, {scale.air(t, h)}", warmth.one(t), damp.one(h), marker)
        for name, t, h, marker in rooms
    ]


def _is_bare(z: FloatArray) -> bool:
    """Whether there is nothing in more than a corner of the map."""
    known = z[np.isfinite(z)]
    return len(known) > 0 and int(np.sum(known < _NOTHING * known.max())) > 1


def _draw_contours(ax: Axes, rooms: _Rooms, z: FloatArray, *, bare: bool) -> None:
    """Contour lines of one quantity, the frost line with its hatched side, and the rooms.

    Where nothing is found over a stretch of dry rooms, `bare`, the edge of that stretch is drawn.
    """
    for m in rooms.marked:
        mark(ax, m.x, m.y, m.marker, size=7.0, filled=m.marker == "o", clip=False)
    if not np.isfinite(z).any():
        return
    taken = [ax.transData.transform((m.x, m.y)) for m in rooms.marked]
    x, y, coil = rooms.x, rooms.y, rooms.coil.T
    coldest, warmest = float(np.nanmin(coil)), float(np.nanmax(coil))
    if coldest < ZERO_CELSIUS:
        frozen = [coldest - 1.0, ZERO_CELSIUS]
        side = ax.contourf(x, y, coil, levels=frozen, colors="none", hatches=[HATCHED["hatch"]])
        side.set_edgecolor(HATCHED["edgecolor"])
        side.set_linewidth(0.0)
        side.set_zorder(0.5)
    if coldest < ZERO_CELSIUS < warmest:
        frost = ax.contour(x, y, coil, levels=[ZERO_CELSIUS], colors=INK, linewidths=2.2)
        frost.set_zorder(4)
        taken += [p for s in frost.allsegs[0] for p in ax.transData.transform(s)]
    low, high = float(np.nanmin(z)), float(np.nanmax(z))
    if high - low < 1e-9 * max(abs(high), 1e-9):
        return
    least = _NOTHING * high if bare else low
    ticks = MaxNLocator(_LINES, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    levels = {float(v): f"{v:g}".replace("-", "\N{MINUS SIGN}") for v in ticks if least < v < high}
    if bare:
        levels = {least: "0", **levels}
    if levels:
        dashes = ["dashed" if bare and v == least else "solid" for v in levels]
        lines = ax.contour(
            x, y, z.T, levels=list(levels), colors=COLD, linewidths=1.1, linestyles=dashes
        )
        lines.set_zorder(3)
        _number_lines(ax, lines, taken, list(levels.values()))


def _number_lines(
    ax: Axes, lines: QuadContourSet, taken: list[FloatArray], words: list[str]
) -> None:
    """Numbers set upon the contour lines, where each is farthest from everything else."""
    x0, y0, x1, y1 = ax.bbox.extents
    for word, pieces in zip(words, lines.allsegs, strict=True):
        long = [ax.transData.transform(piece) for piece in pieces]
        long = [p for p in long if len(p) > 2 and np.hypot(*np.ptp(p, axis=0)) > 0.18 * (x1 - x0)]
        if not long:
            continue
        points = np.vstack([p[1:-1] for p in long])
        # A line may end inside the frame, where rooms without a balance begin.
        others = np.vstack([*taken, *(p[[0, -1]] for p in long)])
        x, y = points.T
        rim = np.min([0.8 * (x - x0), 0.8 * (x1 - x), 1.5 * (y - y0), 1.5 * (y1 - y)], axis=0)
        free = np.minimum(rim, cdist(points, others).min(axis=1))
        best = points[np.argmax(free)]
        if free.max() < 0.07 * (x1 - x0):
            continue
        taken.append(best)
        x, y = ax.transData.inverted().transform(best)
        white = {"boxstyle": "square,pad=0.1", "facecolor": "white", "edgecolor": "none"}
        ax.text(x, y, word, size=SMALL, ha="center", va="center", zorder=3.5, bbox=white)


def _draw_missing(ax: Axes, rooms: _Rooms, reasons: tuple[tuple[str, ...], ...]) -> None:
    """Fields of the grid with a corner that has no balance, or that was not reached."""
    x, y = rooms.x, rooms.y
    missing = ~np.isfinite(rooms.coil)
    waiting = missing & (np.array(reasons) == "")
    for i in range(len(x) - 1):
        for j in range(len(y) - 1):
            corners = slice(i, i + 2), slice(j, j + 2)
            if missing[corners].any():
                form = _NOT_REACHED if waiting[corners].any() else _NO_STATE
                size = x[i + 1] - x[i], y[j + 1] - y[j]
                ax.add_patch(Rectangle((x[i], y[j]), *size, **form))


def _key(answer: RoomAnswer, rooms: _Rooms, scale: FigureScale) -> list[Line2D | Patch]:
    """What the lines, areas and marks of this map mean."""
    handles: list[Line2D | Patch] = []
    finite = rooms.coil[np.isfinite(rooms.coil)]
    if len(finite) and finite.min() < ZERO_CELSIUS:
        freezing = scale.words(ZERO_CELSIUS, "temperature", 2)
        handles += [
            Line2D([], [], color=INK, lw=2.2, label=f"frost line: coldest surface at {freezing}"),
            Patch(**HATCHED, label="colder: water freezes on the coil"),
        ]
    if rooms.dry:
        handles.append(
            Line2D([], [], color=COLD, lw=1.1, ls="dashed", label="0: no water in drier rooms")
        )
    if any(reason for row in answer.map.reasons for reason in row):
        handles.append(Patch(**_NO_STATE, label="no steady state found"))
    if not answer.complete:
        handles.append(Patch(**_NOT_REACHED, label="not reached"))
    return handles + [
        Line2D([], [], label=m.name, **look(m.marker, 7.0, filled=m.marker == "o"))
        for m in rooms.marked
    ]

"""One charged machine in many rooms: contour lines over temperature and humidity."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from sweatline.air.moist import relative_humidity
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.room_map import RoomAnswer
from sweatline.errors import JobError
from sweatline.machine.balance import SteadyState
from sweatline.report.captions import in_words, machine_title
from sweatline.report.paper import COLD, FAINT, GREY, INK, SIZE, SMALL, Note, Paper
from sweatline.report.scales import scale
from sweatline.units.kinds import Kind
from sweatline.units.showing import System

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.contour import QuadContourSet


FloatArray = NDArray[np.float64]

_LEFT: Final = 0.68  # in
_ACROSS: Final = 0.55  # in between two panels side by side
_DOWN: Final = 0.65  # in between two panels one above the other
_PANEL: Final = 2.35  # in, height of a panel
_AXIS: Final = 0.6  # in, beneath the panels for the axis
_KEY: Final = 0.195  # in, a line of the key
_LINES: Final = 7  # contour lines in a panel, about


class _Field(NamedTuple):
    name: str
    kind: Kind
    of: Callable[[SteadyState], float]


_FIELDS: Final = (
    _Field("water taken", "water removal", lambda b: b.water),
    _Field("power of compressor and fan", "power", lambda b: b.total_power),
    _Field("water per energy", "water per energy", lambda b: b.water / b.total_power),
    _Field("coldest surface", "temperature", lambda b: b.coil_temperature),
)
_FROM_ZERO: Final = ("water removal", "water per energy")
_NOTHING: Final = 2e-3  # of the largest value, below which it counts as none


class _Mark(NamedTuple):
    """A room worth marking: its place on the axes, and how it is drawn."""

    name: str
    x: float
    y: float
    marker: str
    inside: bool


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
    build = answer.build
    warmth, damp = scale("temperature", system), scale("relative humidity", system)
    x, y = warmth(found.temperatures), damp(found.humidities)
    marks = _marks(answer, x, y, system)
    notes = [Note(f"Outside this map lies {m.name}.") for m in marks if not m.inside]
    reasons = sorted({r for row in found.reasons for r in row if r})
    notes += [Note(f"No steady state: {r}.") for r in reasons]
    coil = found.field(lambda b: b.coil_temperature)
    key = _key(answer, marks, coil, system)
    foot = _AXIS + _KEY * math.ceil(0.5 * len(key))
    paper = Paper(
        machine_title(build, system),
        f"The same charge, {in_words(answer.known.charge, 'mass', system)}, in other rooms",
        0.3 + 2.0 * _PANEL + _DOWN + foot,
        notes,
    )
    width = 0.5 * (paper.width - _LEFT - _ACROSS - 0.2)
    for k, field in enumerate(_FIELDS):
        across, down = k % 2, k // 2
        ax = paper.axes(
            _LEFT + across * (width + _ACROSS),
            foot + (1 - down) * (_PANEL + _DOWN),
            width,
            _PANEL,
        )
        unit = scale(field.kind, system)
        ax.set_title(f"{field.name}, {unit.unit}", loc="left", fontsize=SIZE, pad=5.0)
        ax.set_xlim(float(x[0]), float(x[-1]))
        ax.set_ylim(float(y[0]), float(y[-1]))
        if down == 1:
            ax.set_xlabel(f"temperature of the room, {warmth.unit}")
        if across == 0:
            ax.set_ylabel(f"humidity of the room, {damp.unit}")
        ax.xaxis.set_major_locator(MaxNLocator(6))
        ax.yaxis.set_major_locator(MaxNLocator(6))
        _draw_field(
            ax,
            x,
            y,
            unit(found.field(field.of)),
            coil,
            marks,
            floor_at_zero=field.kind in _FROM_ZERO,
        )
        _draw_missing(ax, x, y, coil, found.reasons)
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


def _marks(answer: RoomAnswer, x: FloatArray, y: FloatArray, system: System) -> list[_Mark]:
    job = answer.build.job
    air = answer.build.machine.air
    rh = relative_humidity(air.temperature, air.humidity, job.place.atmospheric_pressure)
    rooms = [("the job's room", air.temperature, rh, "o")]
    plate = job.original
    if plate.rating_temperature is not None and plate.rating_relative_humidity is not None:
        rooms.append(
            (
                "the plate's rating room",
                plate.rating_temperature.value,
                plate.rating_relative_humidity.value,
                "s",
            )
        )
    warmth, damp = scale("temperature", system), scale("relative humidity", system)
    marks = []
    for name, t, h, marker in rooms:
        a, b = warmth.one(t), damp.one(h)
        words = (
            f"{name}, {in_words(t, 'temperature', system)} "
            f"{in_words(h, 'relative humidity', system, 2)}"
        )
        inside = bool(x[0] <= a <= x[-1] and y[0] <= b <= y[-1])
        marks.append(_Mark(words, a, b, marker, inside))
    return marks


def _draw_field(
    ax: Axes,
    x: FloatArray,
    y: FloatArray,
    z: FloatArray,
    coil: FloatArray,
    marks: list[_Mark],
    *,
    floor_at_zero: bool,
) -> None:
    """Contour lines of one quantity, the frost line with its hatched side, and the rooms."""
    for m in marks:
        if m.inside:
            ax.plot(
                [m.x],
                [m.y],
                ls="None",
                marker=m.marker,
                ms=7,
                mfc=INK if m.marker == "o" else "white",
                mec=INK,
                mew=1.3,
                zorder=6,
                clip_on=False,
            )
    if not np.isfinite(z).any():
        return
    taken = [ax.transData.transform((m.x, m.y)) for m in marks if m.inside]
    low, high = float(np.nanmin(coil)), float(np.nanmax(coil))
    if low < ZERO_CELSIUS:
        side = ax.contourf(
            x, y, coil.T, levels=[low - 1.0, ZERO_CELSIUS], colors="none", hatches=["////"]
        )
        side.set_edgecolor(FAINT)
        side.set_linewidth(0.0)
        side.set_zorder(0.5)
    if low < ZERO_CELSIUS < high:
        frost = ax.contour(x, y, coil.T, levels=[ZERO_CELSIUS], colors=INK, linewidths=2.2)
        frost.set_zorder(4)
        taken += [p for s in frost.allsegs[0] for p in ax.transData.transform(s)]
    low, high = float(np.nanmin(z)), float(np.nanmax(z))
    if high - low < 1e-9 * max(abs(high), 1e-9):
        return
    ticks = MaxNLocator(_LINES, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    # Nothing is taken over a whole stretch of dry rooms: its edge, not its inside, is the line.
    edge = _NOTHING * high
    bare = floor_at_zero and _has_dry_rooms(z)
    levels = [float(v) for v in ticks if low < v < high and not (floor_at_zero and v <= edge)]
    if bare:
        levels.insert(0, edge)
    if not levels:
        return
    styles = ["dashed" if bare and v == edge else "solid" for v in levels]
    lines = ax.contour(x, y, z.T, levels=levels, colors=COLD, linewidths=1.1, linestyles=styles)
    lines.set_zorder(3)
    words = {v: "0" if bare and v == edge else _plain(v) for v in levels}
    _number_lines(ax, lines, taken, words)


def _has_dry_rooms(z: FloatArray) -> bool:
    """Whether nothing is taken in more than a corner of the map."""
    known = z[np.isfinite(z)]
    return len(known) > 0 and int(np.sum(known < _NOTHING * known.max())) > 1


def _plain(number: float) -> str:
    return f"{number:g}".replace("-", "\N{MINUS SIGN}")


def _number_lines(
    ax: Axes, lines: QuadContourSet, taken: list[FloatArray], words: dict[float, str]
) -> None:
    """Numbers set into the contour lines, where each is farthest from everything else."""
    edge = ax.bbox
    for level, pieces in zip(lines.levels, lines.allsegs, strict=True):
        best, room = None, 0.0
        for piece in pieces:
            at = ax.transData.transform(piece)
            if len(at) < 3 or np.hypot(*np.ptp(at, axis=0)) < 0.18 * edge.width:
                continue
            closed = bool(np.allclose(at[0], at[-1]))
            for point in at[1:-1]:
                # A line may end inside the frame, where rooms without a balance begin.
                ends = min(float(np.hypot(*(point - at[k]))) for k in (0, -1))
                rim = min(
                    ends if not closed else math.inf,
                    0.8 * (point[0] - edge.x0),
                    0.8 * (edge.x1 - point[0]),
                    1.5 * (point[1] - edge.y0),
                    1.5 * (edge.y1 - point[1]),
                )
                free = min([rim, *(float(np.hypot(*(point - q))) for q in taken)])
                if free > room:
                    best, room = point, free
        if best is None or room < 0.07 * edge.width:
            continue
        where = ax.transData.inverted().transform(best)
        lines.clabel(
            [level],
            fontsize=SMALL,
            fmt=words,
            inline=True,
            inline_spacing=3,
            colors=INK,
            manual=[tuple(where)],
        )
        taken.append(best)


def _draw_missing(
    ax: Axes, x: FloatArray, y: FloatArray, coil: FloatArray, reasons: tuple[tuple[str, ...], ...]
) -> None:
    """Fields of the grid with a corner that has no balance."""
    for i in range(len(x) - 1):
        for j in range(len(y) - 1):
            if np.isfinite(coil[i : i + 2, j : j + 2]).all():
                continue
            stopped = any(
                not reasons[a][b] and not np.isfinite(coil[a, b])
                for a in (i, i + 1)
                for b in (j, j + 1)
            )
            ax.add_patch(
                Rectangle(
                    (x[i], y[j]),
                    x[i + 1] - x[i],
                    y[j + 1] - y[j],
                    facecolor="none",
                    edgecolor=GREY,
                    hatch="..." if stopped else "xxxx",
                    linewidth=0.0,
                    zorder=0.6,
                )
            )


def _key(
    answer: RoomAnswer, marks: list[_Mark], coil: FloatArray, system: System
) -> list[Line2D | Patch]:
    """What the lines, areas and marks of this map mean."""
    handles: list[Line2D | Patch] = []
    freezing = in_words(ZERO_CELSIUS, "temperature", system, 2)
    finite = coil[np.isfinite(coil)]
    if len(finite) and finite.min() < ZERO_CELSIUS:
        handles += [
            Line2D([], [], color=INK, lw=2.2, label=f"frost line: coldest surface at {freezing}"),
            Patch(
                facecolor="none",
                edgecolor=FAINT,
                hatch="////",
                label="colder: water freezes on the coil",
            ),
        ]
    water = answer.map.field(lambda b: b.water)
    if _has_dry_rooms(water):
        handles.append(
            Line2D([], [], color=COLD, lw=1.1, ls="dashed", label="0: no water in drier rooms")
        )
    reasons = {r for row in answer.map.reasons for r in row}
    if reasons - {""}:
        handles.append(
            Patch(facecolor="none", edgecolor=GREY, hatch="xxxx", label="no steady state found")
        )
    if not answer.complete:
        handles.append(Patch(facecolor="none", edgecolor=GREY, hatch="...", label="not reached"))
    handles += [
        Line2D(
            [],
            [],
            ls="None",
            marker=m.marker,
            ms=7,
            mfc=INK if m.marker == "o" else "white",
            mec=INK,
            mew=1.3,
            label=m.name,
        )
        for m in marks
        if m.inside
    ]
    return handles

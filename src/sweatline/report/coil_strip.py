"""Temperatures of refrigerant, surface and air along the refrigerant's way through both coils."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from sweatline.air.moist import dew_point
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.balance import BalanceAnswer
from sweatline.errors import SolveError
from sweatline.parts.coil import PROFILE, CoilParameters
from sweatline.parts.tube_layout import TubeParameters
from sweatline.report.captions import in_words, machine_title, room_words
from sweatline.report.labels import FAINT_LINE, Label, beside, set_labels
from sweatline.report.paper import COLD, FAINT, GREY, INK, SIZE, SMALL, WARM, Note, Paper
from sweatline.report.scales import Scale, scale
from sweatline.units.showing import System

if TYPE_CHECKING:
    from matplotlib.axes import Axes


FloatArray = NDArray[np.float64]

_COLUMN: Final = {name: k for k, name in enumerate(PROFILE)}
_LEFT: Final = 0.6  # in
_PANEL: Final = 2.55  # in
_GAP: Final = 0.85  # in
_FOOT: Final = 0.5  # in
_HEAD: Final = 0.35  # in
_DASHED: Final = (0.0, (6.0, 2.0))
_DOTTED: Final = (0.0, (1.2, 2.2))


class _Strip(NamedTuple):
    """One coil as it is drawn."""

    name: str
    coil: CoilParameters | TubeParameters
    profile: FloatArray  # of one circuit
    color: str
    dew: float | None  # K, of the air that could condense

    def column(self, name: str) -> FloatArray:
        """A column of the profile, in the order of the refrigerant."""
        found: FloatArray = self.profile[:, _COLUMN[name]]
        return found

    @property
    def ends(self) -> FloatArray:
        """Ends of the cells along the tube of one circuit. [m]"""
        step: float = self.coil.row_length / self.coil.cells
        if isinstance(self.coil, TubeParameters):
            step = self.coil.cell_length
        ends: FloatArray = step * np.arange(len(self.profile) + 1.0)
        return ends


def _one_circuit(coil: CoilParameters | TubeParameters, profile: FloatArray) -> FloatArray:
    """The part of a profile that follows one circuit: the first where they are not alike."""
    return profile[: coil.first_circuit] if isinstance(coil, TubeParameters) else profile


def draw_coil_strip(answer: BalanceAnswer, system: System) -> Paper:
    """Evaporator above, condenser below, from where the refrigerant enters.

    Raises
    ------
    SolveError
        The balance was solved without its profiles.
    """
    build, b = answer.build, answer.steady
    if b.evaporator_profile is None or b.condenser_profile is None:
        raise SolveError(condition="this balance was solved without the profiles of its coils")
    pressure = build.job.place.atmospheric_pressure
    strips = (
        _Strip(
            "evaporator",
            build.machine.evaporator,
            _one_circuit(build.machine.evaporator, b.evaporator_profile),
            COLD,
            dew_point(build.machine.air.humidity, pressure),
        ),
        _Strip(
            "condenser",
            build.machine.condenser,
            _one_circuit(build.machine.condenser, b.condenser_profile),
            WARM,
            None,
        ),
    )
    paper = Paper(
        machine_title(build, system),
        f"Along the tube of both coils, in a room of {room_words(build, system)}",
        _HEAD + 2.0 * _PANEL + _GAP + _FOOT,
        [
            Note(
                "Upright lines: the refrigerant turns into the next row; rows are counted in the "
                "direction of the air. Hatched band: air, from the full line where it enters a row "
                "to the dotted one where it leaves it. Heavy stroke at the foot: wet surface."
            )
        ],
    )
    length, warmth = scale("length", system), scale("temperature", system)
    for k, strip in enumerate(strips):
        ax = paper.axes(_LEFT, _FOOT + (1 - k) * (_PANEL + _GAP), paper.width - _LEFT - 0.2, _PANEL)
        _draw_strip(ax, strip, length, warmth, system)
    return paper


def _draw_strip(ax: Axes, strip: _Strip, length: Scale, warmth: Scale, system: System) -> None:
    ends = length(strip.ends)
    middles = 0.5 * (ends[1:] + ends[:-1])
    refrigerant = warmth(strip.column("refrigerant_temperature_K"))
    surface = warmth(strip.column("surface_temperature_K"))
    enters = warmth(strip.column("air_in_temperature_K"))
    leaves = warmth(strip.column("air_out_temperature_K"))
    water = strip.column("water_kg_per_s")
    all_of_them = np.concatenate((refrigerant, surface, enters, leaves))
    low, high = float(all_of_them.min()), float(all_of_them.max())
    zero = warmth.one(ZERO_CELSIUS)
    span = high - low
    if strip.dew is not None and zero < low and low - zero < 0.35 * span:
        low = zero
    low, high = low - 0.12 * span, high + 0.14 * span
    ax.set_xlim(float(ends[0]), float(ends[-1]))
    ax.set_ylim(low, high)
    ax.set_xlabel(f"way of the refrigerant along the tube, {length.unit}")
    ax.set_ylabel(f"temperature, {warmth.unit}")
    ax.yaxis.set_label_coords(-0.062, 0.5)
    ax.xaxis.set_major_locator(MaxNLocator(8))
    ax.yaxis.set_major_locator(MaxNLocator(6))

    turns = _turns(strip)
    for a, z in pairwise(turns):
        part = slice(a, z)
        ax.fill_between(
            middles[part],
            enters[part],
            leaves[part],
            facecolor="none",
            edgecolor=FAINT,
            hatch="////",
            linewidth=0.0,
            zorder=0.5,
        )
        for y, style in ((enters, "-"), (leaves, _DOTTED)):
            ax.plot(middles[part], y[part], color=GREY, lw=1.2, ls=style, zorder=3)
        row = int(strip.column("row")[a]) + 1
        centre = 0.5 * (ends[a] + ends[z])
        ax.text(
            float(centre),
            1.015,
            f"row {row}",
            transform=ax.get_xaxis_transform(),
            ha="center",
            va="bottom",
            fontsize=SMALL,
            color=GREY,
        )
        if a > 0:
            ax.axvline(float(ends[a]), color=GREY, lw=0.7, zorder=1)
    ax.set_title(
        strip.name, loc="left", fontsize=SIZE, fontweight="bold", color=strip.color, pad=16.0
    )
    ax.plot(middles, surface, color=strip.color, lw=1.6, ls=_DASHED, zorder=4)
    ax.plot(middles, refrigerant, color=strip.color, lw=2.2, zorder=5)

    labels = [
        Label(
            text=text,
            anchors=beside(middles[part], y[part], between=(0.05, 0.95)),
            color=color,
            weight=weight,
            leader=False,
        )
        for text, y, part, color, weight in (
            ("refrigerant", refrigerant, slice(None), strip.color, "bold"),
            ("surface", surface, slice(None), strip.color, "normal"),
            ("air enters", enters, _widest(turns, np.abs(enters - leaves)), INK, "normal"),
            ("air leaves", leaves, _widest(turns, np.abs(enters - leaves)), INK, "normal"),
        )
    ]
    for x, word in _changes(strip):
        at = length.one(x)
        there = float(np.interp(at, middles, refrigerant))
        ax.plot(
            [at], [there], ls="None", marker="o", ms=5.5, mfc="white", mec=INK, mew=1.2, zorder=6
        )
        labels.insert(0, Label(text=word, anchors=[(at, there)], size=SMALL, point=True))
    across = (float(ends[0]), float(ends[-1]))
    levels = [(zero, f"freezing, {in_words(ZERO_CELSIUS, 'temperature', system, 2)}")]
    if strip.dew is not None:
        levels.append(
            (
                warmth.one(strip.dew),
                f"dew point of the room, {in_words(strip.dew, 'temperature', system)}",
            )
        )
    for level, word in levels:
        if low < level < high:
            ax.axhline(level, color=INK, lw=0.9, ls=(0.0, (8.0, 2.0, 1.0, 2.0)), zorder=2)
            labels.append(
                Label(
                    text=word,
                    anchors=beside(across, (level, level), between=(0.02, 0.98)),
                    size=SMALL,
                    style="italic",
                    leader=False,
                )
            )
    wet = np.concatenate(([False], water > 0.0, [False]))
    starts, stops = np.flatnonzero(wet[1:] & ~wet[:-1]), np.flatnonzero(~wet[1:] & wet[:-1])
    for start, stop in zip(starts, stops, strict=True):
        ax.plot(
            [ends[start], ends[stop]],
            [low, low],
            color=INK,
            lw=6.0,
            solid_capstyle="butt",
            zorder=7,
            gid=FAINT_LINE,
        )
    set_labels(ax, labels)


def _turns(strip: _Strip) -> list[int]:
    """Numbers of the cells with which each row begins, and the number of cells."""
    rows = strip.column("row")
    return [0, *(k for k in range(1, len(rows)) if rows[k] != rows[k - 1]), len(rows)]


def _widest(turns: list[int], gap: FloatArray) -> slice:
    """The row in which air changes most."""
    parts = [slice(a, z) for a, z in pairwise(turns)]
    return max(parts, key=lambda part: float(np.mean(gap[part])))


def _changes(strip: _Strip) -> list[tuple[float, str]]:
    """Where along the tube the refrigerant becomes all gas, gas no more, or all liquid. [m]"""
    ends = strip.ends
    x = strip.column("quality")
    middles = 0.5 * (ends[1:] + ends[:-1])

    def crossing(level: float, word: str) -> list[tuple[float, str]]:
        for k in range(len(x) - 1):
            if (x[k] - level) * (x[k + 1] - level) < 0.0:
                w = (level - x[k]) / (x[k + 1] - x[k])
                return [(float(middles[k] + w * (middles[k + 1] - middles[k])), word)]
        return []

    if strip.dew is not None:
        return crossing(1.0, "all gas from here")
    return crossing(1.0, "condensing begins") + crossing(0.0, "all liquid from here")

"""Temperatures of refrigerant, surface and air along the tube of both coils."""

from __future__ import annotations

from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from sweatline.air.moist import dew_point
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.balance import BalanceAnswer
from sweatline.errors import SolveError
from sweatline.parts.coil import PROFILE, CoilParameters
from sweatline.report.axes import FigureScale, scale_for
from sweatline.report.labels import FAINT_LINE, Label, set_labels
from sweatline.report.paper import (
    COLD,
    DASH_DOT,
    DASHED,
    DOTTED,
    GREY,
    HATCHED,
    INK,
    SIZE,
    SMALL,
    WARM,
    Note,
    Paper,
    mark,
)
from sweatline.units.showing import System

FloatArray = NDArray[np.float64]

_COLUMN: Final = {name: k for k, name in enumerate(PROFILE)}
_LEFT: Final = 0.6  # in
_PANEL: Final = 2.7  # in
_GAP: Final = 0.85  # in
_FOOT: Final = 0.5  # in
_HEAD: Final = 0.35  # in


class _Coil(NamedTuple):
    """One coil as it is drawn."""

    name: str
    parameters: CoilParameters
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
        ends: FloatArray = self.parameters.cell_length * np.arange(len(self.profile) + 1.0)
        return ends

    @property
    def middles(self) -> FloatArray:
        """Middles of the cells. [m]"""
        found: FloatArray = 0.5 * (self.ends[1:] + self.ends[:-1])
        return found

    @property
    def turns(self) -> list[int]:
        """Numbers of the cells with which each row begins, and the number of cells."""
        rows = self.column("row")
        return [0, *(np.flatnonzero(np.diff(rows)) + 1).tolist(), len(rows)]

    def crossing(self, quality: float) -> tuple[float, float] | None:
        """Where along the tube [m], and at which temperature [K], the refrigerant has a quality."""
        x, at = self.column("quality") - quality, self.middles
        t = self.column("refrigerant_temperature_K")
        for k in np.flatnonzero(x[:-1] * x[1:] < 0.0)[:1]:
            share = x[k] / (x[k] - x[k + 1])
            return at[k] + share * (at[k + 1] - at[k]), t[k] + share * (t[k + 1] - t[k])
        return None


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
    machine = build.machine
    dew = dew_point(machine.air.humidity, build.job.place.atmospheric_pressure)
    coils = [
        _coil("evaporator", machine.evaporator, b.evaporator_profile, COLD, dew),
        _coil("condenser", machine.condenser, b.condenser_profile, WARM, None),
    ]
    scale = scale_for(build, system)
    paper = Paper(
        scale.machine(build),
        f"Along the tube of both coils, in a room at {scale.room(build)}",
        _HEAD + 2.0 * _PANEL + _GAP + _FOOT,
        [
            Note(
                "Upright lines: the refrigerant enters the next row; rows are counted in the "
                "direction of the air. Hatched: the air, from the full line where it enters a row "
                "to the dotted line where it leaves. Heavy line at the foot: wet surface."
            )
        ],
    )
    for k, coil in enumerate(coils):
        low = _FOOT + (1 - k) * (_PANEL + _GAP)
        _draw_coil(paper.axes(_LEFT, low, paper.width - _LEFT - 0.2, _PANEL), coil, scale)
    return paper


def _coil(
    name: str,
    parameters: CoilParameters,
    profile: FloatArray,
    color: str,
    dew: float | None,
) -> _Coil:
    """A coil with the profile of one circuit: the first where they are not alike."""
    return _Coil(name, parameters, profile[: parameters.first_circuit], color, dew)


def _draw_coil(ax: Axes, coil: _Coil, scale: FigureScale) -> None:
    length, warmth = scale.axis("length"), scale.axis("temperature")
    ends, middles = length(coil.ends), length(coil.middles)
    refrigerant, surface, enters, leaves = (
        warmth(coil.column(f"{name}_temperature_K"))
        for name in ("refrigerant", "surface", "air_in", "air_out")
    )
    everything = np.concatenate((refrigerant, surface, enters, leaves))
    low, high = float(everything.min()), float(everything.max())
    zero = warmth.one(ZERO_CELSIUS)
    span = high - low
    if coil.dew is not None and zero < low and low - zero < 0.35 * span:
        low = zero
    low, high = low - 0.12 * span, high + 0.14 * span
    ax.set_xlim(float(ends[0]), float(ends[-1]))
    ax.set_ylim(low, high)
    ax.set_xlabel(f"distance along the tube, {length.unit}")
    ax.set_ylabel(f"temperature, {warmth.unit}")
    ax.yaxis.set_label_coords(-0.062, 0.5)
    ax.set_title(
        coil.name, loc="left", fontsize=SIZE, fontweight="bold", color=coil.color, pad=16.0
    )
    rows = [slice(a, z) for a, z in pairwise(coil.turns)]
    widest = max(rows, key=lambda row: float(np.mean(np.abs(enters - leaves)[row])))
    for row in rows:
        ax.fill_between(middles[row], enters[row], leaves[row], **HATCHED)
        ax.plot(middles[row], enters[row], color=GREY, lw=1.2, zorder=3)
        ax.plot(middles[row], leaves[row], color=GREY, lw=1.2, ls=DOTTED, zorder=3)
        ax.text(
            float(0.5 * (ends[row.start] + ends[row.stop])),
            1.015,
            f"row {int(coil.column('row')[row.start]) + 1}",
            transform=ax.get_xaxis_transform(),
            ha="center",
            va="bottom",
            fontsize=SMALL,
            color=GREY,
        )
        if row.start > 0:
            ax.axvline(float(ends[row.start]), color=GREY, lw=0.7, zorder=1)
    ax.plot(middles, surface, color=coil.color, lw=1.6, ls=DASHED, zorder=4)
    ax.plot(middles, refrigerant, color=coil.color, lw=2.2, zorder=5)

    labels = []
    for quality, word in (
        ((1.0, "all gas from here"),)
        if coil.dew is not None
        else ((1.0, "condensing begins"), (0.0, "all liquid from here"))
    ):
        found = coil.crossing(quality)
        if found is not None:
            x, y = length.one(found[0]), warmth.one(found[1])
            mark(ax, x, y, filled=False)
            labels.append(Label(word, x, y, size=SMALL))
    labels += [
        Label("refrigerant", middles, refrigerant, coil.color, weight="bold"),
        Label("surface", middles, surface, coil.color),
        Label("air enters", middles[widest], enters[widest], between=(0.4, 0.6)),
        Label("air leaves", middles[widest], leaves[widest], between=(0.4, 0.6)),
    ]
    levels = [(zero, "freezing", ZERO_CELSIUS, 2)]
    if coil.dew is not None:
        levels.append((warmth.one(coil.dew), "dew point of the room", coil.dew, 3))
    for level, name, t, digits in levels:
        if low < level < high:
            ax.axhline(level, color=INK, lw=0.9, ls=DASH_DOT, zorder=2)
            text = f"{name}, {scale.words(t, 'temperature', digits)}"
            across = ends[[0, -1]]
            labels.append(
                Label(text, across, level, size=SMALL, style="italic", between=(0.02, 0.98))
            )
    wet = np.diff(np.concatenate(([0], coil.column("water_kg_per_s") > 0.0, [0])))
    for start, stop in zip(np.flatnonzero(wet == 1), np.flatnonzero(wet == -1), strict=True):
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

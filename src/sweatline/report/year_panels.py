"""A year in one picture: humidity in the room with and without, water and energy, ice, by month."""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from sweatline.air.moist import relative_humidity
from sweatline.report.axes import FigureScale, scale_for
from sweatline.report.control_wiring import draw_control
from sweatline.report.paper import COLD, DASHED, FAINT, GREY, HATCHED, INK, SMALL, Note, Paper
from sweatline.report.sentences import sentence
from sweatline.report.year import control_words
from sweatline.season.weather import HOURS, MONTHS
from sweatline.season.year import YearAnswer
from sweatline.units.showing import System

FloatArray = NDArray[np.float64]

_LEFT: Final = 0.72  # in
_RIGHT: Final = 0.2
_PANEL: Final = 1.75  # in
_GAP: Final = 0.42
_FOOT: Final = 0.35
_DAYS: Final = HOURS // 24


def draw_year(answer: YearAnswer, system: System) -> Paper:
    """Humidity, temperature and what the machine takes, through the months."""
    scale = scale_for(answer.build, system)
    wished = scale.words(answer.wished, "relative humidity", 2)
    paper = Paper(
        f"A year: {scale.machine(answer.build)}",
        f"Weather: {answer.outdoors}",
        3.0 * _PANEL + 2.0 * _GAP + _FOOT,
        [
            Note(
                "Thick: the room, mean of each day. Dashed: without a machine. Thin: outdoors. "
                f"Level line: {wished}, above "
                "which an hour counts as too damp. Bars: water of each month; hatched, hours with "
                "ice on the coil."
            )
        ],
    )
    width = paper.width - _LEFT - _RIGHT
    rows = [
        paper.axes(_LEFT, _FOOT + n * (_PANEL + _GAP), width, _PANEL, ticks=(12, 5))
        for n in (2, 1, 0)
    ]
    _draw_air(rows[0], rows[1], answer, scale)
    _draw_taken(rows[2], answer, scale)
    edges = np.concatenate([[0], np.cumsum(np.bincount(answer.weather.months) / 24.0)])
    for ax in rows:
        ax.set_xlim(0.0, _DAYS)
        ax.set_xticks(list(edges))
        ax.set_xticklabels([])
        for edge in edges[1:-1]:
            ax.axvline(edge, color=FAINT, lw=0.4, zorder=0.2)
    for n, name in enumerate(MONTHS):
        rows[2].text(
            0.5 * (edges[n] + edges[n + 1]), -0.06, name[:3], ha="center", va="top",
            fontsize=SMALL, transform=rows[2].get_xaxis_transform(),
        )  # fmt: skip
    return paper


def draw_year_control(answer: YearAnswer, system: System) -> Paper:
    """Wiring of the control that serves best; once moved by hand, of the control as moved."""
    best = answer.settings
    control = answer.control if best is None else best.best.control
    scale = scale_for(answer.build, system)
    return draw_control(control, scale, sentence(control_words(control, scale)))


def _by_day(hourly: FloatArray) -> FloatArray:
    found: FloatArray = hourly.reshape(_DAYS, 24).mean(axis=1)
    return found


def _draw_air(damp: Axes, warm: Axes, answer: YearAnswer, scale: FigureScale) -> None:
    humidity, warmth = scale.axis("relative humidity"), scale.axis("temperature")
    day = np.arange(_DAYS) + 0.5
    t_out = answer.weather.temperature[:HOURS]
    w_out = answer.weather.humidity[:HOURS]
    pressure = answer.build.job.place.atmospheric_pressure
    out = np.array([relative_humidity(t, w, pressure) for t, w in zip(t_out, w_out, strict=True)])
    for ax, axis, inside, outside, label in (
        (damp, humidity, answer.hourly[:, 1], out, "humidity"),
        (warm, warmth, answer.hourly[:, 0], t_out, "temperature"),
    ):
        ax.plot(day, axis(_by_day(outside)), color=GREY, lw=0.8)
        ax.plot(day, axis(_by_day(inside)), color=INK, lw=1.8)
        ax.set_ylabel(f"{label}, {axis.unit}")
    damp.plot(day, humidity(_by_day(answer.alone[:, 1])), color=INK, lw=1.2, ls=DASHED)
    damp.axhline(humidity.one(answer.wished), color=INK, lw=0.7)


def _draw_taken(ax: Axes, answer: YearAnswer, scale: FigureScale) -> None:
    most = max(1e-3, *(m.water for m in answer.months))
    unit = scale.axis_of(most, "volume")
    counts = np.bincount(answer.weather.months) / 24.0
    edges = np.concatenate([[0.0], np.cumsum(counts)])
    water = [unit.one(m.water) for m in answer.months]
    ax.bar(edges[:-1] + 1.0, water, counts - 2.0, align="edge", color=COLD, alpha=0.75, lw=0.0)
    ax.set_ylabel(f"water, {unit.unit}")
    top = unit.one(most)
    ax.set_ylim(0.0, 1.45 * top)
    for n, month in enumerate(answer.months):
        share = month.frozen / (counts[n] * 86400.0)
        if share > 0.0:
            ax.bar(edges[n] + 1.0, 1.45 * top * share, counts[n] - 2.0, align="edge", **HATCHED)
        energy = scale.words(month.energy, "energy", 2)
        ax.text(
            0.5 * (edges[n] + edges[n + 1]), 1.42 * top, energy.replace("\N{NO-BREAK SPACE}", "\n"),
            ha="center", va="top", fontsize=SMALL - 1.5, color=GREY,
        )  # fmt: skip

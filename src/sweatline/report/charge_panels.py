"""What gauges and thermometers show while charge goes in: panels over one charge axis."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from sweatline.answers import Quantity
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.charge_curve import ChargeAnswer
from sweatline.report.axes import Axis, FigureScale, quantity, scale_for
from sweatline.report.labels import Label, set_labels
from sweatline.report.paper import (
    COLD,
    DASH_DOT,
    DASHED,
    DOTTED,
    GREY,
    HATCHED,
    INK,
    SMALL,
    WARM,
    Note,
    Paper,
    spread,
    text_width,
)
from sweatline.units.showing import System

FloatArray = NDArray[np.float64]

_LEFT: Final = 0.55  # in
_PANEL: Final = 0.98  # in, height of a panel
_GAP: Final = 0.34  # in between panels, for the name of the lower one
_HEAD: Final = 0.8  # in above the panels, for the numbers of the events
_FOOT: Final = 0.5  # in below them, for the axis

# From the top down: quantities of each panel and their colours, the second one dashed.
_PANELS: Final = (
    {"discharge_pressure": WARM},
    {"suction_pressure": COLD},
    {"superheat": COLD, "subcooling": WARM},
    {"coil_temperature": COLD},
    {"total_power": INK},
    {"water": COLD},
)
_FROM_ZERO: Final = ("temperature difference", "water removal")


class _Curve(NamedTuple):
    """One quantity over charge, in the numbers of its axis."""

    quantity: Quantity
    color: str
    y: FloatArray
    low: FloatArray  # ends of the likely range where it is known; empty without trial runs
    high: FloatArray


def draw_charge_panels(answer: ChargeAnswer, system: System) -> Paper:
    """Pressures, superheat and subcooling, coil temperature, watts and water over charge."""
    build = answer.build
    scale = scale_for(build, system)
    mass = scale.axis("mass")
    notes = [
        Note(
            f"{scale.words(e.charge, 'mass')}: {e.what}; "
            f"suction {scale.words(e.suction_pressure, 'pressure')}, "
            f"head {scale.words(e.discharge_pressure, 'pressure')}",
            str(i),
        )
        for i, e in enumerate(answer.events, start=1)
    ]
    notes += [Note(f"The curve ends early: {why}.") for why in answer.ended]
    if answer.interrupted:
        notes.append(Note("The curve was interrupted and is not complete."))
    if answer.draws:
        notes.append(
            Note(f"Shaded: likely range (9 in 10) of {answer.draws} trial runs at each charge.")
        )
    superheat = scale.words(answer.stop.superheat, "temperature difference", 2)
    notes.append(
        Note(
            f"Heavy line: stop charging here; superheat at the evaporator's outlet is {superheat}. "
            f"Pressures are gauge; {scale.gauge_zero(build)}."
        )
    )
    count = len(_PANELS)
    paper = Paper(
        scale.machine(build),
        f"What is seen while charging, in a room at {scale.room(build)}",
        _HEAD + count * _PANEL + (count - 1) * _GAP + _FOOT,
        notes,
    )
    charge = mass([b.charge for b in answer.curve])
    stop = mass.one(answer.stop.charge)
    panels: list[Axes] = []
    labels = []
    for k, colors in enumerate(_PANELS):
        curves = [_curve(answer, name, color, scale) for name, color in colors.items()]
        unit = scale.axis(curves[0].quantity.kind)
        ax = paper.axes(
            _LEFT,
            _FOOT + (count - 1 - k) * (_PANEL + _GAP),
            paper.width - _LEFT - 0.25,
            _PANEL,
            share=panels[0] if panels else None,
            title=f"{_title(curves)}, {unit.unit}",
            ticks=(10, 4),
        )
        ax.tick_params(labelbottom=k == count - 1)
        labels.append(_draw_panel(ax, answer, curves, charge, scale))
        panels.append(ax)
    pad = max(0.02 * np.ptp([*charge, stop]), 1e-3 * max(*charge, stop))
    panels[0].set_xlim(min(*charge, stop) - pad, max(*charge, stop) + pad)
    panels[-1].set_xlabel(f"charge, {mass.unit}")
    _draw_events(paper, panels, answer, mass, f"stop at {scale.words(answer.stop.charge, 'mass')}")
    for ax, names in zip(panels, labels, strict=True):
        set_labels(ax, names)
    return paper


def _curve(answer: ChargeAnswer, name: str, color: str, scale: FigureScale) -> _Curve:
    found = quantity(name)
    unit = scale.axis(found.kind)
    bands = [r.bands[found.key] for r in answer.ranges if r.bands]
    return _Curve(
        found,
        color,
        unit([found.of(b) for b in answer.curve]),
        unit([b.low for b in bands]),
        unit([b.high for b in bands]),
    )


def _title(curves: list[_Curve]) -> str:
    """Label of the only curve, else the names of all."""
    if len(curves) == 1:
        return curves[0].quantity.label
    return " and ".join(c.quantity.name for c in curves)


def _draw_panel(
    ax: Axes, answer: ChargeAnswer, curves: list[_Curve], charge: FloatArray, scale: FigureScale
) -> list[Label]:
    """One panel with what belongs to its quantity alone; returns the names."""
    kind = curves[0].quantity.kind
    unit = scale.axis(kind)
    values = np.concatenate([v for c in curves for v in (c.y, c.low, c.high)])
    low, high = float(values.min()), float(values.max())
    if kind in _FROM_ZERO:
        low = min(low, 0.0)
    room = max(high - low, 0.05 * max(abs(high), 1e-3))
    low, high = 0.0 if kind in _FROM_ZERO else low - 0.08 * room, high + 0.14 * room
    ax.set_ylim(low, high)
    at = scale.axis("mass")([r.charge for r in answer.ranges if r.bands])
    for c, dashes in zip(curves, ("-", DASHED), strict=False):
        if len(at):
            ax.fill_between(at, c.low, c.high, color=c.color, alpha=0.13, lw=0.0, zorder=0.8)
        ax.plot(charge, c.y, color=c.color, lw=1.8, ls=dashes, zorder=4)
    labels = []
    if len(curves) > 1:
        # A curve that lies on the axis is named elsewhere.
        labels += [
            Label(
                c.quantity.name,
                charge,
                np.where(c.y >= 0.12 * c.y.max(), c.y, np.nan),
                c.color,
                weight="bold",
            )
            for c in curves
        ]
    if kind == "temperature":
        zero = unit.one(ZERO_CELSIUS)
        below = (curves[0].y < zero).tolist()
        ax.fill_between(charge, curves[0].y, zero, where=below, interpolate=True, **HATCHED)
        text = f"freezing, {scale.words(ZERO_CELSIUS, 'temperature', 2)}"
        labels += _draw_level(ax, zero, charge, DOTTED, text)
    limit = answer.build.job.limits.high_side_pressure
    if curves[0].quantity.name == "discharge_pressure" and limit is not None:
        labels += _draw_level(ax, unit.one(limit.value), charge, DASH_DOT, "limit of the high side")
    if curves[0].quantity.name == "superheat":
        for start, end in _wet(answer, charge):
            ax.axvspan(start, end, **{**HATCHED, "hatch": ".."})
            middle = (0.6 * max(c.y.max() for c in curves),) * 2
            labels.append(Label("floodback", (start, end), middle, size=SMALL, style="italic"))
    return labels


def _draw_level(
    ax: Axes, level: float, charge: FloatArray, dashes: tuple[float, tuple[float, ...]], text: str
) -> list[Label]:
    """A level across a panel, and its name if it is within."""
    low, high = ax.get_ylim()
    if not low < level < high:
        return []
    ax.axhline(level, color=INK, lw=0.9, ls=dashes)
    return [Label(text, charge[[0, -1]], (level, level), size=SMALL, between=(0.05, 0.95))]


def _wet(answer: ChargeAnswer, charge: FloatArray) -> list[tuple[float, float]]:
    """Stretches of charge at which liquid leaves the evaporator."""
    over = np.array([b.suction_quality - 1.0 for b in answer.curve])
    ends = [float(charge[0])] if over[0] < 0.0 else []
    for k in np.flatnonzero((over[:-1] < 0.0) != (over[1:] < 0.0)):
        share = over[k] / (over[k] - over[k + 1])
        ends.append(float(charge[k] + share * (charge[k + 1] - charge[k])))
    if over[-1] < 0.0:
        ends.append(float(charge[-1]))
    return list(zip(ends[::2], ends[1::2], strict=True))


def _draw_events(
    paper: Paper, panels: list[Axes], answer: ChargeAnswer, mass: Axis, stop: str
) -> None:
    """The stop through all panels, and the numbers of the events above them."""
    at = [mass.one(e.charge) for e in answer.events]
    for ax in panels:
        for x in at:
            ax.axvline(x, color=GREY, lw=0.7, ls=(0.0, (2.0, 2.0)), zorder=1)
        ax.axvline(mass.one(answer.stop.charge), color=INK, lw=1.7, zorder=1.2)
    frame = panels[0].get_position()
    low, high = panels[0].get_xlim()

    def inch(x: float) -> float:
        """Place along the axis from the left edge of the figure."""
        return float((frame.x0 + (x - low) / (high - low) * frame.width) * paper.width)

    base = paper.top - _HEAD
    places = spread([inch(x) for x in at], 0.24, frame.x0 * paper.width, frame.x1 * paper.width)
    for i, (x, place) in enumerate(zip(at, places, strict=True), start=1):
        paper.line((inch(x), inch(x), place), (base, base + 0.2, base + 0.34))
        paper.write(place, base + 0.43, str(i), size=SMALL, ha="center", ringed=True)
    half = 0.5 * text_width(stop, weight="bold") + 0.12
    middle = min(max(inch(mass.one(answer.stop.charge)), half), paper.width - half)
    paper.write(middle, base + 0.58, stop, weight="bold", ha="center", va="bottom")

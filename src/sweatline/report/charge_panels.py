"""What gauges and thermometers show while charge goes in: panels over one charge axis."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from sweatline.constants import ZERO_CELSIUS
from sweatline.design.charge_curve import ChargeAnswer
from sweatline.machine.balance import SteadyState
from sweatline.report.captions import gauge_zero, in_words, machine_title, room_words
from sweatline.report.labels import Label, beside, set_labels
from sweatline.report.paper import (
    COLD,
    FAINT,
    GREY,
    INK,
    SIZE,
    SMALL,
    WARM,
    Note,
    Paper,
    spread,
    text_width,
)
from sweatline.report.scales import Scale, scale
from sweatline.units.kinds import Kind
from sweatline.units.showing import System

if TYPE_CHECKING:
    from matplotlib.axes import Axes


FloatArray = NDArray[np.float64]

_LEFT: Final = 0.55  # in
_PANEL: Final = 0.98  # in, height of a panel
_GAP: Final = 0.34  # in between panels, for the name of the lower one
_HEAD: Final = 0.8  # in above the panels, for the numbers of the events
_FOOT: Final = 0.5  # in below them, for the axis


class _Curve(NamedTuple):
    name: str
    key: str  # of the quantity among the ranges, which are shaded
    of: Callable[[SteadyState], float]
    color: str = INK
    style: str | tuple[float, tuple[float, ...]] = "-"


class _Panel(NamedTuple):
    kind: Kind
    name: str
    curves: tuple[_Curve, ...]


_DASHED: Final = (0.0, (6.0, 2.0))

_PANELS: Final = (
    _Panel(
        "gauge pressure",
        "head pressure",
        (_Curve("", "discharge_pressure_Pa", lambda b: b.discharge_pressure, WARM),),
    ),
    _Panel(
        "gauge pressure",
        "suction pressure",
        (_Curve("", "suction_pressure_Pa", lambda b: b.suction_pressure, COLD),),
    ),
    _Panel(
        "temperature difference",
        "superheat and subcooling",
        (
            _Curve("superheat", "superheat_K", lambda b: b.superheat, COLD),
            _Curve("subcooling", "subcooling_K", lambda b: b.subcooling, WARM, _DASHED),
        ),
    ),
    _Panel(
        "temperature",
        "coldest surface of the evaporator",
        (_Curve("", "coil_temperature_K", lambda b: b.coil_temperature, COLD),),
    ),
    _Panel(
        "power",
        "power of compressor and fan",
        (_Curve("", "total_power_W", lambda b: b.total_power),),
    ),
    _Panel(
        "water removal", "water taken", (_Curve("", "water_kg_per_s", lambda b: b.water, COLD),)
    ),
)


def draw_charge_panels(answer: ChargeAnswer, system: System) -> Paper:
    """Pressures, superheat and subcooling, coil temperature, watts and water over charge."""
    build = answer.build
    atmosphere = build.job.place.atmospheric_pressure
    mass = scale("mass", system)

    def gauge(pressure: float) -> str:
        return in_words(pressure, "gauge pressure", system, atmosphere=atmosphere)

    legend = [
        Note(
            f"{in_words(e.charge, 'mass', system)}: {e.what} "
            f"(suction {gauge(e.suction_pressure)}, head {gauge(e.discharge_pressure)})",
            str(i),
        )
        for i, e in enumerate(answer.events, start=1)
    ]
    ends = [Note(f"The curve ends early: {why}.") for why in answer.ended]
    if answer.interrupted:
        ends.append(Note("The sweep was interrupted: the curve is not complete."))
    if answer.draws:
        ends.append(
            Note(
                f"Shaded: likely range (9 in 10) of {answer.draws} trial runs, with just "
                "that charge weighed in."
            )
        )
    count = len(_PANELS)
    paper = Paper(
        machine_title(build, system),
        f"What is seen while it is charged, in a room of {room_words(build, system)}",
        _HEAD + count * _PANEL + (count - 1) * _GAP + _FOOT,
        [
            *legend,
            *ends,
            Note(
                "Heavy line: stop charging here, with the evaporator filled and a superheat of "
                f"{in_words(answer.stop.superheat, 'temperature difference', system, 2)} at its "
                f"outlet. Pressures are gauge, {gauge_zero(build, system)}."
            ),
        ],
    )
    charge = mass([b.charge for b in answer.curve])
    panels: list[Axes] = []
    for k, panel in enumerate(_PANELS):
        low = _FOOT + (count - 1 - k) * (_PANEL + _GAP)
        ax = paper.axes(
            _LEFT, low, paper.width - _LEFT - 0.25, _PANEL, share=panels[0] if panels else None
        )
        unit = scale(panel.kind, system, atmosphere=atmosphere)
        _draw_panel(ax, panel, answer, charge, unit, system)
        if k < count - 1:
            ax.tick_params(labelbottom=False)
        panels.append(ax)
    shown = [*charge, mass.one(answer.stop.charge)]
    pad = max(0.02 * (max(shown) - min(shown)), 1e-3 * max(shown))
    panels[0].set_xlim(min(shown) - pad, max(shown) + pad)
    panels[-1].set_xlabel(f"charge, {mass.unit}")
    _draw_marks(paper, panels, answer, mass, system)
    for ax, panel in zip(panels, _PANELS, strict=True):
        unit = scale(panel.kind, system, atmosphere=atmosphere)
        set_labels(ax, _names(panel, answer, charge, unit, system))
    return paper


def _draw_panel(
    ax: Axes,
    panel: _Panel,
    answer: ChargeAnswer,
    charge: FloatArray,
    unit: Scale,
    system: System,
) -> None:
    ys = [unit([c.of(b) for b in answer.curve]) for c in panel.curves]
    shades = [_shade(answer, c, unit) for c in panel.curves]
    low = min(float(np.min(y)) for y in (*ys, *(s[0] for s in shades)) if len(y))
    high = max(float(np.max(y)) for y in (*ys, *(s[1] for s in shades)) if len(y))
    if panel.kind in ("temperature difference", "water removal"):
        low = min(low, 0.0)
    room = max(high - low, 0.05 * max(abs(high), 1e-3))
    low, high = low - 0.08 * room, high + 0.14 * room
    if panel.kind in ("temperature difference", "water removal"):
        low = 0.0
    at = scale("mass", system)([r.charge for r in answer.ranges if r.bands])
    for c, y, (below, above) in zip(panel.curves, ys, shades, strict=True):
        if len(at):
            ax.fill_between(at, below, above, color=c.color, alpha=0.13, lw=0.0, zorder=0.8)
        ax.plot(charge, y, color=c.color, lw=1.8, ls=c.style, zorder=4)
    ax.set_ylim(low, high)
    ax.yaxis.set_major_locator(MaxNLocator(4, min_n_ticks=3, prune=None))
    ax.set_title(
        f"{panel.name}, {unit.unit}",
        loc="left",
        fontsize=SIZE,
        pad=3.0,
        bbox={"boxstyle": "square,pad=0.05", "facecolor": "white", "edgecolor": "none"},
    )
    if panel.kind == "temperature":
        zero = unit.one(ZERO_CELSIUS)
        if low < zero < high:
            ax.axhline(zero, color=INK, lw=0.9, ls=(0.0, (1.2, 2.2)))
        ax.fill_between(
            charge,
            ys[0],
            zero,
            where=list(ys[0] < zero),
            interpolate=True,
            facecolor="none",
            edgecolor=FAINT,
            hatch="////",
            linewidth=0.0,
            zorder=0.5,
        )
    if panel.kind == "temperature difference":
        for start, end in _wet(answer, charge):
            ax.axvspan(
                start, end, facecolor="none", edgecolor=FAINT, hatch="...", lw=0.0, zorder=0.5
            )
    limit = answer.build.job.limits.high_side_pressure
    if panel.name == "head pressure" and limit is not None and low < unit.one(limit.value) < high:
        ax.axhline(unit.one(limit.value), color=INK, lw=0.9, ls=(0, (8, 2, 1, 2, 1, 2)))


def _shade(answer: ChargeAnswer, curve: _Curve, unit: Scale) -> tuple[FloatArray, FloatArray]:
    """Both ends of the range of one curve where it is known; empty without trial runs."""
    bands = [r.bands[curve.key] for r in answer.ranges if r.bands]
    return unit([b.low for b in bands]), unit([b.high for b in bands])


def _names(
    panel: _Panel, answer: ChargeAnswer, charge: FloatArray, unit: Scale, system: System
) -> list[Label]:
    """Names of curves, of the freezing line, and of hatched stretches."""
    labels = [
        Label(
            text=c.name,
            anchors=_clear_of_zero(charge, unit([c.of(b) for b in answer.curve])),
            color=c.color,
            weight="bold",
            leader=False,
        )
        for c in panel.curves
        if c.name
    ]
    x = (float(charge[0]), float(charge[-1]))
    if panel.kind == "temperature":
        zero = unit.one(ZERO_CELSIUS)
        labels.append(
            Label(
                text=f"freezing, {in_words(ZERO_CELSIUS, 'temperature', system, 2)}",
                anchors=beside(x, (zero, zero), between=(0.05, 0.95)),
                size=SMALL,
                leader=False,
            )
        )
    limit = answer.build.job.limits.high_side_pressure
    if panel.name == "head pressure" and limit is not None:
        y = unit.one(limit.value)
        labels.append(
            Label(
                text="limit of the high side",
                anchors=beside(x, (y, y), between=(0.05, 0.95)),
                size=SMALL,
                leader=False,
            )
        )
    if panel.kind == "temperature difference":
        y = 0.6 * unit.one(max(c.of(b) for c in panel.curves for b in answer.curve))
        labels += [
            Label(
                text="liquid comes back",
                anchors=beside(stretch, (y, y)),
                size=SMALL,
                style="italic",
                leader=False,
            )
            for stretch in _wet(answer, charge)
        ]
    return labels


def _clear_of_zero(x: FloatArray, y: FloatArray) -> FloatArray:
    """Anchors along the part of a curve that does not lie on the axis."""
    high = y > 0.12 * float(np.max(y))
    return beside(x[high], y[high]) if high.sum() > 1 else beside(x, y)


def _wet(answer: ChargeAnswer, charge: FloatArray) -> list[tuple[float, float]]:
    """Stretches of charge at which liquid leaves the evaporator."""
    over = np.array([b.suction_quality - 1.0 for b in answer.curve])
    stretches: list[tuple[float, float]] = []
    start = float(charge[0]) if over[0] < 0.0 else None
    for k in range(len(charge) - 1):
        if (over[k] < 0.0) == (over[k + 1] < 0.0):
            continue
        x = charge[k] + (charge[k + 1] - charge[k]) * over[k] / (over[k] - over[k + 1])
        if start is None:
            start = float(x)
        else:
            stretches.append((start, float(x)))
            start = None
    if start is not None:
        stretches.append((start, float(charge[-1])))
    return stretches


def _draw_marks(
    paper: Paper, panels: Sequence[Axes], answer: ChargeAnswer, mass: Scale, system: System
) -> None:
    """The stop through all panels, and the numbers of the events above them."""
    top = panels[0]
    stop = mass.one(answer.stop.charge)
    at = [mass.one(e.charge) for e in answer.events]
    for ax in panels:
        for x in at:
            ax.axvline(x, color=GREY, lw=0.7, ls=(0.0, (2.0, 2.0)), zorder=1)
        ax.axvline(stop, color=INK, lw=1.7, zorder=1.2)
    # Places along the axis in inches from the left edge of the figure.
    frame = top.get_position()
    low, high = top.get_xlim()

    def inch(x: float) -> float:
        return float((frame.x0 + (x - low) / (high - low) * frame.width) * paper.width)

    base = paper.top - _HEAD
    places = spread([inch(x) for x in at], 0.24, frame.x0 * paper.width, frame.x1 * paper.width)
    for i, (x, place) in enumerate(zip(at, places, strict=True), start=1):
        paper.line((inch(x), inch(x), place), (base, base + 0.2, base + 0.34))
        paper.write(place, base + 0.43, str(i), size=SMALL, ha="center", ringed=True)
    word = f"stop at {in_words(answer.stop.charge, 'mass', system)}"
    half = 0.5 * text_width(word, weight="bold") + 0.12
    middle = min(max(inch(stop), half), paper.width - half)
    paper.write(middle, base + 0.58, word, weight="bold", ha="center", va="bottom")

"""Pressure over time on the bench: a pressure test, a pump-down and a rise, as small drawings."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from sweatline.report.axes import FigureScale
from sweatline.report.dry import SHORT
from sweatline.report.strokes import area, dot, line, path, svg, text
from sweatline.units.kinds import MICRON

if TYPE_CHECKING:
    from sweatline.bench.evacuation.evacuation import EvacuationAnswer
    from sweatline.bench.evacuation.pump_down import PumpDown
    from sweatline.bench.evacuation.rise_test import RiseResult
    from sweatline.bench.tightness.pressure_hold import Hold
    from sweatline.units import Scale

FloatArray = NDArray[np.float64]

_LEFT, _RIGHT = 62.0, 392.0
_TOP, _BOTTOM = 26.0, 200.0
_HEIGHT: Final = 226.0
_SHOWN: Final = 0.05  # chance from which the course of a cause is drawn
_FURTHER: Final = 1.6  # of the time so far that a rise is looked ahead
_DECADES: Final = (1, 2, 5)
_DASHES: Final = ("", "7 3", "3 3", "1 3", "9 3 1 3")  # of lines, the likeliest first
_LEAST_STEP: Final = 1.3  # ratio of the ends of an axis of vacua


def hold_course(hold: Hold, scale: Scale) -> str:
    """What the gauge showed in a pressure test, and the band of what a tight circuit would show.

    Returns
    -------
    str
        An SVG element.
    """
    looks = hold.looks
    values = [v for one in looks for v in (one.pressure, one.tight.low, one.tight.high)]
    spare = 0.08 * (max(values) - min(values)) or 1e3
    low, high = min(values) - spare, max(values) + spare
    axis = FigureScale(scale.system, scale.atmosphere).axis("pressure")
    x = _along(hold.duration)

    def y(pressure: float) -> float:
        return _BOTTOM - (pressure - low) / (high - low) * (_BOTTOM - _TOP)

    upper = [(x(one.time), y(one.tight.high)) for one in looks]
    lower = [(x(one.time), y(one.tight.low)) for one in looks]
    places = 3 if (high - low) / axis.factor < 1.0 else 1
    parts = [*_times(hold.duration, scale), text(2.0, 14.0, f"pressure, {axis.unit}", "ink")]
    for share in (0.0, 0.5, 1.0):
        value = low + share * (high - low)
        parts.append(line(_LEFT, y(value), _RIGHT, y(value), "faint", 0.5))
        parts.append(
            text(_LEFT - 4.0, y(value) + 4.0, f"{axis.one(value):.{places}f}", "grey", "end")
        )
    parts.append(area([*upper, *reversed(lower)]))
    parts.append(path([(x(one.time), y(one.tight.middle)) for one in looks], "grey", 1.0, "5 3"))
    parts.append(path([(x(one.time), y(one.pressure)) for one in looks], "ink", 1.8))
    if len(looks) <= 40:
        parts += [dot(x(one.time), y(one.pressure), "ink") for one in looks]
    last = looks[-1]
    parts.append(dot(x(last.time), y(last.pressure), "ink"))
    parts.append(text(_RIGHT, 14.0, "band: what a tight circuit shows", "grey", "end"))
    return svg(parts, _HEIGHT, "Pressure over time, and the band of what a tight circuit shows")


def rise_course(rise: RiseResult, scale: Scale) -> str:
    """What the gauge showed since the valve was shut, and how each cause goes on.

    Returns
    -------
    str
        An SVG element.
    """
    end = _FURTHER * max(float(rise.time[-1]), 1.0)
    if rise.decide_after is not None and rise.decide_after < 2.0 * end:
        end = max(end, rise.decide_after)
    keep = rise.later <= 1.02 * end
    shown = {c: rise.courses[c][keep] for c, p in rise.probability.items() if p >= _SHOWN}
    values = [*(float(p) for p in rise.pressure), *(float(v[-1]) for v in shown.values())]
    x, y, parts = _log_frame(min(values), max(values), end, scale)
    for n, cause in enumerate(sorted(shown, key=lambda c: -rise.probability[c])):
        ink, width, dash = ("grey" if n else "ink"), 1.6, _DASHES[n]
        parts.append(path(_through(rise.later[keep], shown[cause], x, y), ink, width, dash))
        at, place = _RIGHT - 150.0, _BOTTOM - 14.0 * (len(shown) - n) + 4.0
        parts.append(line(at, place - 4.0, at + 26.0, place - 4.0, ink, width, dash))
        told = f"{SHORT[cause]}, {100 * rise.probability[cause]:.0f} %"
        parts.append(text(at + 32.0, place, told, ink))
    parts += [
        dot(x(float(t)), y(float(p)), "ink") for t, p in zip(rise.time, rise.pressure, strict=True)
    ]
    return svg(parts, _HEIGHT, "Vacuum over time since the valve was shut, with likely causes")


def pump_course(a: EvacuationAnswer, scale: Scale) -> str:
    """A pump-down as read, as pump and hoses give it, or both; empty where there is neither.

    Returns
    -------
    str
        An SVG element.
    """
    run = next((c for c in a.connections if c.asked), None)
    ends = [look.time for look in a.pumped]
    if run is not None:
        ends.append(run.reached_after or float(run.time[-1]))
    if not ends:
        return ""
    end = 1.05 * max(*ends, 60.0)
    lowest = [a.target, *(look.read for look in a.pumped)]
    if run is not None:
        lowest.append(float(np.interp(end, run.time, run.at_pump)))
    low = 0.7 * min(lowest)
    x, y, parts = _log_frame(low, a.atmospheric_pressure, end, scale)
    parts.append(line(_LEFT, y(a.target), _RIGHT, y(a.target), "ink", 1.2, "6 3"))
    wanted = f"wanted: {scale.show(a.target, 'absolute pressure')}"
    parts.append(text(_RIGHT, y(a.target) + 13.0, wanted, "ink", "end"))
    if run is not None:
        parts += _sides(run, end, x, y)
    parts += [dot(x(look.time), y(look.read), "ink") for look in a.pumped]
    return svg(parts, _HEIGHT, "Vacuum over time while pumping")


def _sides(
    run: PumpDown, end: float, x: Callable[[float], float], y: Callable[[float], float]
) -> list[str]:
    """Both sides of the machine, and the gauge at the pump."""
    parts = []
    sides = (
        ("high side", "high", run.high),
        ("low side", "low", run.low),
        ("gauge at the pump", "grey", run.at_pump),
    )
    for n, (name, ink, course) in enumerate(sides):
        keep = run.time <= end
        logs = np.log(course[keep])
        at = np.linspace(0.0, end, 80)
        vacua = np.exp(np.interp(at, run.time[keep], logs))
        parts.append(path(_through(at, vacua, x, y), ink, 1.8))
        parts.append(text(_RIGHT, _TOP + 12.0 + 14.0 * n, name, ink, "end"))
    return parts


def _through(
    times: FloatArray, vacua: FloatArray, x: Callable[[float], float], y: Callable[[float], float]
) -> list[tuple[float, float]]:
    return [(x(float(t)), y(float(p))) for t, p in zip(times, vacua, strict=True)]


def _along(end: float) -> Callable[[float], float]:
    return lambda time: _LEFT + time / end * (_RIGHT - _LEFT)


def _times(end: float, scale: Scale) -> list[str]:
    """Words under the time axis."""
    x = _along(end)
    anchors = {0.0: "start", 1.0: "end"}
    return [
        text(x(share * end), _BOTTOM + 18.0,
             "start" if share == 0.0 else scale.show(share * end, "time", 2), "grey",
             anchors.get(share, "middle"))
        for share in (0.0, 0.5, 1.0)
    ]  # fmt: skip


def _log_frame(
    low: float, high: float, end: float, scale: Scale
) -> tuple[Callable[[float], float], Callable[[float], float], list[str]]:
    """Places of times and vacua, and the frame with its numbers."""
    low, high = low / _LEAST_STEP, high * _LEAST_STEP

    def y(pressure: float) -> float:
        share = math.log(max(pressure, low) / low) / math.log(high / low)
        return _BOTTOM - min(share, 1.0) * (_BOTTOM - _TOP)

    unit, factor = ("micron", MICRON) if scale.system == "US" else ("Pa", 1.0)
    parts = [*_times(end, scale), text(2.0, 14.0, f"vacuum, {unit}", "ink")]
    decades = range(math.floor(math.log10(low / factor)), math.ceil(math.log10(high / factor)) + 1)
    ticks = [n * 10.0**d * factor for d in decades for n in _DECADES]
    inside = [t for t in ticks if low <= t <= high]
    while len(inside) > 6:
        inside = inside[::2] if len(inside) < 12 else inside[::3]
    for value in inside:
        parts.append(line(_LEFT, y(value), _RIGHT, y(value), "faint", 0.5))
        shown = f"{value / factor:.3g}" if value < 1e3 * factor else f"{value / factor:.0f}"
        parts.append(text(_LEFT - 4.0, y(value) + 4.0, shown, "grey", "end"))
    return _along(end), y, parts

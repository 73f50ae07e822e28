"""What happened over time, as small drawings for a page that changes every few seconds.

They are SVG written here, a few kilobytes and a millisecond each. Their inks are classes of the
page's style sheet: `low` is the low side, `high` the high side, `ink`, `grey` and `faint` the
rest. Circled numbers are doses, a shaded band is where a reading is wanted or likely to settle.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from sweatline.answers import Range
from sweatline.charging.adviser import ChargeAdvice
from sweatline.log.entries import Entry
from sweatline.refrigerant.table import Table, saturation
from sweatline.report.axes import Axis, FigureScale
from sweatline.report.review import best_charge
from sweatline.report.strokes import WIDTH as _WIDTH
from sweatline.report.strokes import circled as _circled
from sweatline.report.strokes import dot as _dot
from sweatline.report.strokes import line as _line
from sweatline.report.strokes import rect as _rect
from sweatline.report.strokes import svg as _svg
from sweatline.report.strokes import text as _text
from sweatline.training.debrief import Debrief
from sweatline.units import Kind, Scale

WINDOW: Final = 1200.0  # s that the chart of a charging goes back
_LEFT, _RIGHT = 6.0, 340.0  # of the time axis
_OUTLOOK: Final = (350.0, 372.0)  # where a reading will settle
_HEAD: Final = 24.0  # for the circled numbers
_STRIP, _GAP = 58.0, 20.0
_FOOT: Final = 20.0
_AFTER: Final = 300.0  # s after the last dose that a debrief shows
_MOST_POINTS: Final = 120
_ANCHORS: Final = {4: "start", 0: "end"}  # of the words under the time axis
# Least height of a strip, so that noise does not look like a movement. [SI]
_LEAST: Final[dict[Kind, float]] = {"pressure": 5e4, "temperature difference": 4.0}


_PAPER_INKS: Final = {
    "ink": "#1a1a1a", "grey": "#5c5c5c", "faint": "#b9b9b9", "low": "#1d4f7c", "high": "#99400f",
    "paper": "#ffffff", "band": "#dfe5ea",
}  # fmt: skip


class _Point(NamedTuple):
    """A reading."""

    at: float  # s
    value: float  # SI


@dataclass(frozen=True, slots=True, kw_only=True)
class _Strip:
    """One quantity over time."""

    name: str
    kind: Kind
    ink: str
    points: Sequence[_Point]
    settles: Range | None
    wanted: tuple[float, float] | None = None


def charging_course(
    entries: Iterable[Entry],
    advice: ChargeAdvice | None,
    table: Table,
    scale: Scale,
    *,
    now: float,
    back: float = WINDOW,
) -> str:
    """The last minutes of a charging: head, suction, superheat, doses, where each settles.

    Parameters
    ----------
    entries : iterable of Entry
        What holds and is not in doubt, in the order in which it happened.
    advice : ChargeAdvice, optional
        As things stand.
    table : Table
        Of the refrigerant.
    now : float
        End of the time axis. [s since 1970]
    back : float
        How far it goes back. [s]

    Returns
    -------
    str
        An SVG element.
    """
    read: dict[str, list[_Point]] = {"suction gauge": [], "head gauge": [], "superheat": []}
    doses: list[tuple[int, float]] = []
    suction: float | None = None
    started = False
    for e in entries:
        if e.kind == "event" and e.channel == "started" and not started:
            started = True
            doses.clear()  # what was weighed in before the first start is no dose
        elif e.kind == "addition":
            doses.append((len(doses) + 1, e.happened_at))
        elif e.kind == "reading" and e.channel in read:
            read[e.channel].append(_Point(e.happened_at, e.number))
            suction = e.number if e.channel == "suction gauge" else suction
        elif e.kind == "reading" and e.channel == "suction gas" and suction is not None:
            dew = float(saturation(table, min(max(suction, table.p_min), table.p_max))[1])
            read["superheat"].append(_Point(e.happened_at, e.number - dew))
    settles = {} if advice is None else {o.what: o.settles_SI for o in advice.outlooks}
    limits = {} if advice is None else {r.key: r.limit_SI for r in advice.stop_rule}
    ends = [v for v in (limits.get("dry suction"), limits.get("filled")) if v is not None]
    strips = (
        _strip("head", "pressure", "high", read["head gauge"], settles.get("head gauge"), now,
               back),
        _strip("suction", "pressure", "low", read["suction gauge"], settles.get("suction gauge"),
               now, back),
        _strip("superheat", "temperature difference", "ink", read["superheat"],
               settles.get("superheat"), now, back,
               (min(ends), max(ends)) if len(ends) == 2 else None),
    )  # fmt: skip
    axes = FigureScale(scale.system, scale.atmosphere)

    def x(at: float) -> float:
        return _RIGHT - (now - at) / back * (_RIGHT - _LEFT)

    height = _HEAD + len(strips) * (_STRIP + _GAP) + _FOOT
    parts = []
    for quarter in range(5):
        place = x(now - back * quarter / 4.0)
        parts.append(_line(place, _HEAD, place, height - _FOOT, "faint", 0.5))
        if quarter % 2 == 0:
            ago = f"{back * quarter / 240.0:.0f}"
            word = {0: "now", 4: f"{ago} min ago"}.get(quarter, ago)
            parts.append(_text(place, height - 5.0, word, "grey", _ANCHORS.get(quarter, "middle")))
    parts.append(_text(_OUTLOOK[0] - 2.0, _HEAD - 8.0, "settles", "grey"))
    for number, at in doses:
        if at >= now - back:
            parts.append(_line(x(at), _HEAD - 4.0, x(at), height - _FOOT, "grey", 0.7))
            parts.append(_circled(x(at), _HEAD - 12.0, number))
    for n, strip in enumerate(strips):
        top = _HEAD + n * (_STRIP + _GAP) + _GAP
        parts += _drawn(strip, axes.axis(strip.kind), top, x)
    told = ", ".join(s.name for s in strips)
    return _svg(
        parts, height, f"Last {back / 60.0:.0f} minutes of {told}; {len(doses)} doses as numbers"
    )


def _strip(
    name: str,
    kind: Kind,
    ink: str,
    points: Sequence[_Point],
    settles: Range | None,
    now: float,
    back: float,
    wanted: tuple[float, float] | None = None,
) -> _Strip:
    shown = [p for p in points if now - back <= p.at <= now]
    thin = -(-len(shown) // _MOST_POINTS) or 1
    if thin > 1:
        shown = shown[(len(shown) - 1) % thin :: thin]
    return _Strip(name=name, kind=kind, ink=ink, points=shown, settles=settles, wanted=wanted)


def _drawn(strip: _Strip, axis: Axis, top: float, x: Callable[[float], float]) -> list[str]:
    """Name, ends, band, line and outlook of one strip."""
    values = [p.value for p in strip.points]
    values += [] if strip.settles is None else [strip.settles.low, strip.settles.high]
    values += [] if strip.wanted is None else list(strip.wanted)
    title = _text(_LEFT, top - 5.0, f"{strip.name}, {axis.unit}", strip.ink)
    if not values:
        return [title, _text(_LEFT, top + 0.6 * _STRIP, "not read yet", "grey")]
    low, high = min(values), max(values)
    spare = max(_LEAST[strip.kind] - (high - low), 0.1 * (high - low)) / 2.0
    low, high = low - spare, high + spare

    def y(value: float) -> float:
        return top + (high - value) / (high - low) * _STRIP

    parts = []
    if strip.wanted is not None:
        bottom, upper = y(strip.wanted[0]), y(strip.wanted[1])
        parts.append(_rect(_LEFT, upper, _RIGHT - _LEFT, bottom - upper, "band"))
        parts.append(_text(_RIGHT - 3.0, upper - 3.0, "target", "grey", "end"))
    if strip.settles is not None:
        upper, bottom = y(strip.settles.high), y(strip.settles.low)
        middle = y(strip.settles.middle)
        parts.append(_rect(_OUTLOOK[0], upper, _OUTLOOK[1] - _OUTLOOK[0], bottom - upper, "band"))
        parts.append(_line(_OUTLOOK[0], middle, _OUTLOOK[1], middle, strip.ink, 2.0))
    if strip.points:
        path = " ".join(f"{x(p.at):.1f},{y(p.value):.1f}" for p in strip.points)
        parts.append(
            f'<polyline points="{path}" class="stroke-{strip.ink} open" stroke-width="1.8"/>'
        )
        last = strip.points[-1]
        parts.append(_dot(x(last.at), y(last.value), strip.ink))
    for value in (low, high):
        parts.insert(0, _line(_LEFT, y(value), _OUTLOOK[1], y(value), "faint", 0.5))
        number = f"{axis.one(value):.{_decimals(axis, high - low)}f}"
        parts.append(_text(_WIDTH - 1.0, y(value) + (9.0 if value == high else 0.0), number,
                           "grey", "end", 10))  # fmt: skip
    return [title, *parts]


def _decimals(axis: Axis, span: float) -> int:
    reach = abs(span / axis.factor)
    return 2 if reach < 1.0 else 1 if reach < 10.0 else 0


def debrief_course(found: Debrief, scale: Scale) -> str:
    """A practice: what was let in, and what could have been known of the best charge each time.

    Returns
    -------
    str
        An SVG element.
    """
    best = best_charge(found)
    end = max(found.time, 60.0)
    if found.doses:  # what comes long after the last dose is not drawn
        end = min(end, 1.3 * found.doses[-1].time + _AFTER)
    bands = [(d.time, d.best_then) for d in found.doses]
    bands.append((end, found.best_by_readings))
    known = [(at, band) for at, band in bands if band is not None]
    weights = [found.begun]
    for dose in found.doses:
        weights.append(weights[-1] + dose.weighed)
    values = [best, *weights, *(v for _at, b in known for v in (b.low, b.high))]
    low, high = min(values), max(values)
    low, high = low - 0.08 * (high - low), high + 0.08 * (high - low)
    top, bottom, left, right = 30.0, 230.0, 44.0, 390.0
    axis = FigureScale(scale.system, scale.atmosphere).axis("mass")

    def x(at: float) -> float:
        return left + at / end * (right - left)

    def y(mass: float) -> float:
        return bottom - (mass - low) / (high - low) * (bottom - top)

    parts = [_text(2.0, 12.0, f"charged, {axis.unit}", "ink")]
    for at, band in known:
        parts.append(_rect(x(at) - 5.0, y(band.high), 10.0, y(band.low) - y(band.high), "band"))
        parts.append(_line(x(at) - 5.0, y(band.middle), x(at) + 5.0, y(band.middle), "grey", 1.5))
    parts.append(_line(left, y(best), right, y(best), "low", 1.2, "6 3"))
    parts.append(_text(left + 3.0, y(best) - 4.0, "best charge", "low"))
    steps = [(0.0, weights[0])]
    for dose, mass in zip(found.doses, weights[1:], strict=True):
        steps += [(dose.time, steps[-1][1]), (dose.time, mass)]
    steps.append((end, steps[-1][1]))
    path = " ".join(f"{x(at):.1f},{y(mass):.1f}" for at, mass in steps)
    parts.append(f'<polyline points="{path}" class="stroke-ink open" stroke-width="2"/>')
    for n, (dose, mass) in enumerate(zip(found.doses, weights[1:], strict=True), 1):
        parts.append(_circled(x(dose.time), y(mass) - 12.0, n))
    for mass in (min(weights), best):
        parts.append(_text(left - 4.0, y(mass) + 4.0, f"{axis.one(mass):.0f}", "grey", "end"))
    for share in (0.0, 0.5, 1.0):
        anchor = {0.0: "start", 1.0: "end"}.get(share, "middle")
        parts.append(_text(x(share * end), bottom + 18.0, f"{share * end / 60.0:.0f} min", "grey",
                           anchor))  # fmt: skip
    return _svg(parts, bottom + 24.0, "Charge over time, doses as numbers, best charge as a line")


def inked(svg: str) -> str:
    """A drawing of this module for paper: the classes of the page's style sheet become inks."""

    def attributes(match: re.Match[str]) -> str:
        told = []
        for name in match[1].split():
            what, _dash, ink = name.partition("-")
            if ink in _PAPER_INKS:
                told.append(f'{what}="{_PAPER_INKS[ink]}"')
            elif name == "open":
                told.append('fill="none"')
        return " ".join(told)

    head = '<svg xmlns="http://www.w3.org/2000/svg" font-family="Libertinus Serif"'
    return re.sub(r'class="([^"]*)"', attributes, svg).replace("<svg", head, 1)

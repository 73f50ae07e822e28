"""The refrigerant's circuit on pressure and enthalpy, with the coils' states cell by cell."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from matplotlib.ticker import FixedFormatter, FixedLocator, NullLocator
from numpy.typing import NDArray

from sweatline.design.balance import BalanceAnswer
from sweatline.machine.balance import SteadyState
from sweatline.parts.coil import PROFILE
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    dew_pressure,
    enthalpy_from_entropy,
    enthalpy_liquid,
    enthalpy_vapour,
    saturation,
    state,
)
from sweatline.report.captions import gauge_zero, in_words, machine_title, room_words
from sweatline.report.labels import FAINT_LINE, Label, beside, set_labels
from sweatline.report.paper import COLD, FAINT, GREY, INK, SMALL, WARM, Note, Paper
from sweatline.report.scales import Scale, enthalpy_scale, gauge_ticks
from sweatline.units.showing import System

if TYPE_CHECKING:
    from matplotlib.axes import Axes


FloatArray = NDArray[np.float64]

_PRESSURE: Final = PROFILE.index("pressure_Pa")
_ENTHALPY: Final = PROFILE.index("enthalpy_J_per_kg")
_GLIDE: Final = 0.3  # K between bubble and dew from which a glide is worth a word
_EXCHANGED: Final = 200.0  # J/kg, below which a suction exchanger is not drawn
_SHARES: Final = (0.2, 0.4, 0.6, 0.8)  # of vapour, as faint lines in the dome

_DOTTED: Final = (0.0, (1.2, 2.2))
_DASH_DOT: Final = (0.0, (5.0, 2.0, 1.0, 2.0))


class Corner(NamedTuple):
    """A state that a person can name."""

    name: str
    pressure: float  # Pa
    enthalpy: float  # J/kg


class _Way(NamedTuple):
    """A change of state: enthalpy [J/kg] and pressure [Pa], (n, 2), and how it is drawn."""

    name: str
    points: FloatArray
    color: str
    style: str | tuple[float, tuple[float, ...]]
    marker: str


def corners(balance: SteadyState) -> dict[str, Corner]:
    """Named states round the circuit, in the order of the flow from the compressor on.

    The suction exchanger has states of its own only where it changes something.
    """
    b = balance
    entering = b.unknowns[3]
    leaving = entering + b.cooling / b.flow
    liquid = entering
    if b.condenser_profile is not None:
        liquid = float(b.condenser_profile[-1, _ENTHALPY])
    # What the suction exchanger takes from the liquid it gives to the gas.
    exchanged = liquid - entering
    if abs(exchanged) < _EXCHANGED:
        exchanged, liquid = 0.0, entering
    hot = liquid + b.heating / b.flow
    found = {
        "suction": Corner("into compressor", b.suction_pressure, leaving + exchanged),
        "discharge": Corner("out of compressor", b.discharge_pressure, hot),
        "liquid": Corner("out of condenser", b.liquid_pressure, liquid),
    }
    if exchanged:
        found["capillary"] = Corner("into capillary", b.liquid_pressure, entering)
    if b.choked:
        found["end"] = Corner("capillary end, choked", b.capillary_end_pressure, entering)
    found["evaporator"] = Corner("into evaporator", b.evaporating_pressure, entering)
    if exchanged:
        found["gas"] = Corner("out of evaporator", b.suction_pressure, leaving)
    return found


def isotherm(table: Table, temperature: float, low: float, high: float) -> FloatArray:
    """States of one temperature from liquid at `high` to gas at `low` pressure.

    Returns
    -------
    (n, 2) array
        Enthalpy [J/kg] and pressure [Pa]. The part within the dome is that of `boiling_line`.
    """
    boiling = bubble_pressure(table, temperature)
    dew = dew_pressure(table, temperature)
    liquid = [
        (enthalpy_liquid(table, p, temperature), p)
        for p in np.geomspace(max(high, boiling * 1.0001), boiling * 1.000001, 20)
    ]
    gas = [
        (enthalpy_vapour(table, p, temperature), p)
        for p in np.geomspace(dew * 0.999999, min(low, dew * 0.999), 30)
    ]
    return np.vstack((liquid, boiling_line(table, temperature), gas))


def boiling_line(table: Table, temperature: float) -> FloatArray:
    """States of one temperature across the dome: level for a pure refrigerant. (n, 2)"""
    boiling = bubble_pressure(table, temperature)
    dew = dew_pressure(table, temperature)
    if abs(boiling / dew - 1.0) < 1e-4:
        _tb, _td, hl, hg, *_ = saturation(table, 0.5 * (boiling + dew))
        return np.array([(hl, boiling), (hg, dew)])
    points = []
    for p in np.geomspace(boiling, dew, 16):
        _tb, _td, hl, hg, *_ = saturation(table, float(p))
        h = np.linspace(hl, hg, 60)
        t = np.array([state(table, float(p), float(x))[0] for x in h])
        points.append((float(np.interp(temperature, t, h)), float(p)))
    return np.array(points)


def draw_state_diagram(answer: BalanceAnswer, system: System) -> Paper:
    """Logarithm of pressure over enthalpy: dome, circuit, and the temperature of the room."""
    build, b = answer.build, answer.steady
    table = build.refrigerant.table
    atmosphere = build.job.place.atmospheric_pressure
    unit = enthalpy_scale(system)
    turns = corners(b)
    room = build.machine.air.temperature
    glides = [_glide(table, p) for p in (b.suction_pressure, b.discharge_pressure)]
    blend = max(glides) > _GLIDE
    notes = [
        Note(
            "Dots stand from cell to cell of the coils. Compression is drawn straight, dotted "
            "beside it a compression without losses. Enthalpy is kept through the capillary, and "
            f"is counted from the zero of the refrigerant's table; {gauge_zero(build, system)}."
        )
    ]
    if blend:
        at = [in_words(g, "temperature difference", system, 2) for g in glides]
        notes.append(
            Note(
                f"This blend boils over a range of temperature: {at[0]} from bubble to dew point "
                f"at suction pressure, {at[1]} at head pressure. The lines of equal temperature "
                "fall across the dome by as much."
            )
        )
    paper = Paper(
        machine_title(build, system),
        f"Pressure and enthalpy round the circuit, in a room of {room_words(build, system)}",
        4.95,
        notes,
    )
    ax = paper.axes(0.78, 0.55, paper.width - 0.95, paper.height - 0.6)
    low, high = _pressures(b, table)
    labels = _draw_dome(ax, table, turns, unit, low, high)

    lines = [
        (f"room air {in_words(room, 'temperature', system)}", isotherm(table, room, low, high))
    ]
    if blend:
        lines += [
            (f"{word} {in_words(t, 'temperature', system)}", boiling_line(table, t))
            for t, word in (
                (b.evaporating_temperature, "dew"),
                (b.condensing_temperature, "bubble"),
            )
        ]
    named = []
    for number, (text, line) in enumerate(lines):
        x = unit(line[:, 0])
        style = _DOTTED if number == 0 else _DASH_DOT
        ax.plot(x, line[:, 1], color=GREY, lw=0.9, ls=style, zorder=2)
        anchors = _seen(ax, np.column_stack((x, line[:, 1])))
        named.append(
            Label(text=text, anchors=anchors, color=GREY, size=SMALL, style="italic", leader=False)
        )
    ways = _draw_circuit(ax, b, turns, unit, table)
    points = [
        Label(
            text=f"{i}  {c.name}\n"
            f"{in_words(state(table, c.pressure, c.enthalpy)[0], 'temperature', system)}   "
            f"{in_words(c.pressure, 'gauge pressure', system, atmosphere=atmosphere)}",
            anchors=[(unit.one(c.enthalpy), c.pressure)],
            point=True,
        )
        for i, c in enumerate(turns.values(), start=1)
    ]
    places, words = gauge_ticks(low, high, system, atmosphere=atmosphere)
    ax.yaxis.set_major_locator(FixedLocator(places))
    ax.yaxis.set_major_formatter(FixedFormatter(words))
    ax.yaxis.set_minor_locator(NullLocator())
    ax.set_xlabel(f"enthalpy, {unit.unit}")
    ax.set_ylabel("gauge pressure, psig" if system == "US" else "gauge pressure, bar(g)")
    set_labels(ax, [*points, *ways, *named, *labels])
    return paper


def _glide(table: Table, pressure: float) -> float:
    bubble, dew, *_ = saturation(table, pressure)
    return dew - bubble


def _pressures(b: SteadyState, table: Table) -> tuple[float, float]:
    """Lowest and highest pressure of the frame. [Pa]"""
    low = max(min(b.suction_pressure, b.evaporating_pressure) / 1.9, table.p_min)
    high = max(min(2.0 * b.discharge_pressure, 1.05 * table.p_max), 1.25 * b.discharge_pressure)
    return low, high


def _draw_dome(
    ax: Axes, table: Table, turns: dict[str, Corner], unit: Scale, low: float, high: float
) -> list[Label]:
    """Saturation lines and vapour shares; sets the frame. Returns the names."""
    p = np.geomspace(low, min(high, table.p_max), 120)
    dome = np.array([saturation(table, float(x))[2:4] for x in p])
    liquid, vapour = unit(dome[:, 0]), unit(dome[:, 1])
    h = [unit.one(c.enthalpy) for c in turns.values()]
    left, right = min(*h, float(liquid[0])), max(*h, float(vapour[0]))
    span = right - left
    ax.set_yscale("log")
    ax.set_xlim(left - 0.10 * span, right + 0.14 * span)
    ax.set_ylim(low, high)
    ax.plot(liquid, p, color=INK, lw=1.1)
    ax.plot(vapour, p, color=INK, lw=1.1)
    labels = [
        Label(text=text, anchors=beside(x, p, between=(0.7, 0.98)), size=SMALL, leader=False)
        for text, x in (("saturated liquid", liquid), ("saturated vapour", vapour))
    ]
    for share in _SHARES:
        x = liquid + share * (vapour - liquid)
        ax.plot(x, p, color=FAINT, lw=0.6, gid=FAINT_LINE, zorder=1)
        text = f"{share * 100:.0f} %" + (" vapour" if share == _SHARES[0] else "")
        labels.append(
            Label(
                text=text,
                anchors=beside(x, p, between=(0.03, 0.12), count=4),
                color=GREY,
                size=SMALL,
                leader=False,
            )
        )
    return labels


def _draw_circuit(
    ax: Axes, b: SteadyState, turns: dict[str, Corner], unit: Scale, table: Table
) -> list[Label]:
    """The circuit itself; returns the names of the changes of state."""
    suction, discharge, liquid = turns["suction"], turns["discharge"], turns["liquid"]
    inlet = turns["evaporator"]
    gas = turns.get("gas", suction)
    before = turns.get("capillary", liquid)
    ways = [
        _Way("evaporator", _cells(b.evaporator_profile, inlet, gas), COLD, "-", "o"),
        _Way("condenser", _cells(b.condenser_profile, discharge, liquid), WARM, "-", "s"),
        _Way("compression", _straight(suction, discharge), INK, (0.0, (5.0, 2.0)), ""),
        _Way("capillary", _straight(before, inlet), INK, (0.0, (7.0, 2.0, 1.5, 2.0)), ""),
    ]
    if gas is not suction:
        ways += [
            _Way("", _straight(gas, suction), INK, "-", ""),
            _Way("", _straight(liquid, before), INK, "-", ""),
        ]
    for way in ways:
        x = unit(way.points[:, 0])
        ax.plot(x, way.points[:, 1], color=way.color, lw=2.0, ls=way.style, zorder=4)
        if way.marker:
            inner = way.points[1:-1, 1]
            ax.plot(x[1:-1], inner, ls="None", marker=way.marker, ms=2.6, color=way.color, zorder=5)
    s = state(table, suction.pressure, suction.enthalpy)[2]
    p = np.geomspace(suction.pressure, discharge.pressure, 20)
    h = [enthalpy_from_entropy(table, float(x), s) for x in p]
    ax.plot(unit(h), p, color=INK, lw=0.8, ls=":", zorder=2)
    for key, c in turns.items():
        ax.plot(
            [unit.one(c.enthalpy)],
            [c.pressure],
            ls="None",
            marker="o",
            ms=5.5,
            mfc="white" if key == "end" else INK,
            mec=INK,
            mew=1.2,
            zorder=6,
        )
    return [
        Label(
            text=way.name,
            anchors=beside(unit(way.points[:, 0]), way.points[:, 1]),
            color=way.color,
            weight="bold",
            leader=False,
        )
        for way in ways
        if way.name
    ]


def _cells(profile: FloatArray | None, start: Corner, end: Corner) -> FloatArray:
    """Enthalpy and pressure along a coil: its cells if they were kept, else its ends."""
    inner = np.array([[end.enthalpy, end.pressure]])
    if profile is not None:
        inner = profile[:, [_ENTHALPY, _PRESSURE]]
    return np.vstack(([[start.enthalpy, start.pressure]], inner))


def _straight(start: Corner, end: Corner) -> FloatArray:
    return np.column_stack(
        (
            np.linspace(start.enthalpy, end.enthalpy, 40),
            np.geomspace(start.pressure, end.pressure, 40),
        )
    )


def _seen(ax: Axes, line: FloatArray) -> FloatArray:
    """Points of a line within the frame, spread evenly as seen. (n, 2)"""
    shown = ax.transAxes.inverted().transform(ax.transData.transform(line))
    way = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(shown, axis=0).T))))
    at = np.linspace(0.0, way[-1], 120)
    fine = np.column_stack((np.interp(at, way, shown[:, 0]), np.interp(at, way, shown[:, 1])))
    inside = fine[((fine > 0.02) & (fine < 0.98)).all(axis=1)]
    return ax.transData.inverted().transform(ax.transAxes.transform(inside))

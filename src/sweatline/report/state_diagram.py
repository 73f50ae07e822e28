"""The refrigerant's circuit on pressure and enthalpy, with the coils' states cell by cell."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

import numpy as np
from matplotlib.axes import Axes
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
from sweatline.report.axes import Axis, FigureScale, scale_for
from sweatline.report.labels import FAINT_LINE, Label, set_labels
from sweatline.report.paper import (
    COLD,
    DASH_DOT,
    DASHED,
    DOTTED,
    FAINT,
    GREY,
    INK,
    SMALL,
    WARM,
    Note,
    Paper,
    mark,
)
from sweatline.units.showing import System

FloatArray = NDArray[np.float64]

_PRESSURE: Final = PROFILE.index("pressure_Pa")
_ENTHALPY: Final = PROFILE.index("enthalpy_J_per_kg")
_GLIDE: Final = 0.3  # K between bubble and dew from which a glide is worth a word
_EXCHANGED: Final = 200.0  # J/kg, below which a suction exchanger is not drawn
LIQUID_POINTS: Final = 20  # of an isotherm, before the dome
GAS_POINTS: Final = 30  # and behind it
_SHARES: Final = (0.2, 0.4, 0.6, 0.8)  # of vapour, as faint lines in the dome


class Corner(NamedTuple):
    """A state that a person can name."""

    name: str
    pressure: float  # Pa
    enthalpy: float  # J/kg


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
        for p in np.geomspace(max(high, boiling * 1.0001), boiling * 1.000001, LIQUID_POINTS)
    ]
    gas = [
        (enthalpy_vapour(table, p, temperature), p)
        for p in np.geomspace(dew * 0.999999, min(low, dew * 0.999), GAS_POINTS)
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
    scale = scale_for(build, system)
    unit = scale.enthalpy_axis()
    turns = corners(b)
    glides = [_glide(table, p) for p in (b.suction_pressure, b.discharge_pressure)]
    blend = max(glides) > _GLIDE
    notes = [
        Note(
            "Small marks: the calculated cells of each coil. Compression is drawn as a straight "
            "line, dotted beside it compression without losses. The capillary keeps the enthalpy, "
            "which is counted from the zero of the refrigerant's table. Pressures are gauge; "
            f"{scale.gauge_zero(build)}."
        )
    ]
    if blend:
        at = [scale.words(g, "temperature difference", 2) for g in glides]
        notes.append(
            Note(
                f"This blend boils over a range of temperature: {at[0]} from bubble to dew point "
                f"at suction pressure, {at[1]} at head pressure. The lines of equal temperature "
                "fall across the dome by as much."
            )
        )
    paper = Paper(
        scale.machine(build),
        f"Pressure and enthalpy round the circuit, in a room at {scale.room(build)}",
        4.95,
        notes,
    )
    ax = paper.axes(0.78, 0.55, paper.width - 0.95, paper.height - 0.6)
    low = max(min(b.suction_pressure, b.evaporating_pressure) / 1.9, table.p_min)
    high = max(min(2.0 * b.discharge_pressure, 1.05 * table.p_max), 1.25 * b.discharge_pressure)
    h = [c.enthalpy for c in turns.values()]
    dome = draw_dome(ax, table, scale, enthalpies=(min(h), max(h)), pressures=(low, high))

    room = build.machine.air.temperature
    lines = [(DOTTED, "room air", room, isotherm(table, room, low, high))]
    if blend:
        lines += [
            (DASH_DOT, word, t, boiling_line(table, t))
            for t, word in (
                (b.evaporating_temperature, "dew"),
                (b.condensing_temperature, "bubble"),
            )
        ]
    equal = []
    for dashes, name, t, line in lines:
        x, p = unit(line[:, 0]), line[:, 1]
        ax.plot(x, p, color=GREY, lw=0.9, ls=dashes, zorder=2)
        text = f"{name} {scale.words(t, 'temperature')}"
        equal.append(Label(text, x, p, GREY, SMALL, style="italic", between=(0.0, 1.0)))
    circuit = _draw_circuit(ax, b, turns, unit, table)
    points = [
        Label(f"{i}  {_state_words(c, table, scale)}", unit.one(c.enthalpy), c.pressure)
        for i, c in enumerate(turns.values(), start=1)
    ]
    set_labels(ax, [*points, *circuit, *equal, *dome])
    return paper


def _state_words(c: Corner, table: Table, scale: FigureScale) -> str:
    """Name, temperature and gauge pressure of a state, on two lines."""
    t, *_ = state(table, c.pressure, c.enthalpy)
    return (
        f"{c.name}\n{scale.words(t, 'temperature')}   {scale.words(c.pressure, 'gauge pressure')}"
    )


def _glide(table: Table, pressure: float) -> float:
    bubble, dew, *_ = saturation(table, pressure)
    return dew - bubble


def draw_dome(
    ax: Axes,
    table: Table,
    scale: FigureScale,
    *,
    enthalpies: tuple[float, float],
    pressures: tuple[float, float],
) -> list[Label]:
    """Saturation lines and vapour shares; sets the frame round all of them. Returns the names.

    Parameters
    ----------
    enthalpies, pressures : (2,) floats
        Least and most that must be seen. [J/kg], [Pa]
    """
    unit = scale.enthalpy_axis()
    low, high = pressures
    p = np.geomspace(low, min(high, table.p_max), 120)
    dome = np.array([saturation(table, float(x))[2:4] for x in p])
    liquid, vapour = unit(dome[:, 0]), unit(dome[:, 1])
    left = min(unit.one(enthalpies[0]), float(liquid[0]))
    right = max(unit.one(enthalpies[1]), float(vapour[0]))
    span = right - left
    ax.set_yscale("log")
    ax.set_xlim(left - 0.10 * span, right + 0.14 * span)
    ax.set_ylim(low, high)
    places, words = scale.gauge_ticks(low, high)
    ax.yaxis.set_major_locator(FixedLocator(places))
    ax.yaxis.set_major_formatter(FixedFormatter(words))
    ax.yaxis.set_minor_locator(NullLocator())
    ax.set_xlabel(f"enthalpy, {unit.unit}")
    ax.set_ylabel(f"gauge pressure, {scale.axis('gauge pressure').unit}")
    labels = []
    for text, x in (("saturated liquid", liquid), ("saturated vapour", vapour)):
        ax.plot(x, p, color=INK, lw=1.1)
        labels.append(Label(text, x, p, size=SMALL, between=(0.7, 0.98)))
    for share in _SHARES:
        x = liquid + share * (vapour - liquid)
        ax.plot(x, p, color=FAINT, lw=0.6, gid=FAINT_LINE, zorder=1)
        text = f"{share * 100:.0f} %" + (" vapour" if share == _SHARES[0] else "")
        labels.append(Label(text, x, p, GREY, SMALL, between=(0.03, 0.12)))
    return labels


class Change(NamedTuple):
    """A change of state on the way round the circuit."""

    name: str  # empty for what the suction exchanger does
    states: FloatArray  # (n, 2), enthalpy [J/kg] and pressure [Pa]
    color: str
    dashes: Any
    marker: str  # of the cells of a coil


def changes(b: SteadyState, turns: Mapping[str, Corner]) -> list[Change]:
    """The circuit as lines: both coils, compression, capillary, suction exchanger if any."""
    suction, discharge, liquid = turns["suction"], turns["discharge"], turns["liquid"]
    inlet = turns["evaporator"]
    gas = turns.get("gas", suction)
    before = turns.get("capillary", liquid)
    found = [
        Change("evaporator", _cells(b.evaporator_profile, inlet, gas), COLD, "-", "o"),
        Change("condenser", _cells(b.condenser_profile, discharge, liquid), WARM, "-", "s"),
        Change("compression", _straight(suction, discharge), INK, DASHED, ""),
        Change("capillary", _straight(before, inlet), INK, DASH_DOT, ""),
    ]
    if gas is not suction:
        found += [
            Change("", _straight(gas, suction), INK, "-", ""),
            Change("", _straight(liquid, before), INK, "-", ""),
        ]
    return found


def without_losses(table: Table, suction: Corner, discharge: Corner) -> FloatArray:
    """Compression from the suction state without losses: enthalpy and pressure. (n, 2)"""
    s = state(table, suction.pressure, suction.enthalpy)[2]
    p = np.geomspace(suction.pressure, discharge.pressure, 20)
    return np.column_stack(([enthalpy_from_entropy(table, float(x), s) for x in p], p))


def _draw_circuit(
    ax: Axes, b: SteadyState, turns: dict[str, Corner], unit: Axis, table: Table
) -> list[Label]:
    """The circuit itself; returns the names of the changes of state."""
    labels = []
    for name, states, color, dashes, marker in changes(b, turns):
        x, p = unit(states[:, 0]), states[:, 1]
        ax.plot(x, p, color=color, lw=2.0, ls=dashes, zorder=4)
        ax.plot(x[1:-1], p[1:-1], ls="None", marker=marker, ms=2.6, color=color, zorder=5)
        if name:
            labels.append(Label(name, x, p, color, weight="bold"))
    ideal = without_losses(table, turns["suction"], turns["discharge"])
    ax.plot(unit(ideal[:, 0]), ideal[:, 1], color=INK, lw=0.8, ls=":", zorder=2)
    for key, c in turns.items():
        mark(ax, unit.one(c.enthalpy), c.pressure, filled=key != "end")
    return labels


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

"""Flow through a capillary against an earlier homogeneous-equilibrium calculation."""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from sweatline.parts.capillary_flow import flow_hermes, flow_rp762, flow_through
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    dew_pressure,
    enthalpy_liquid,
    saturation,
)

RP762 = "RP-762 (Wolf, Bittle and Pate 1995)"
HERMES = "Hermes, Melo and Knabben 2010"


def inlet(table: Table, condensing: float, subcooling: float) -> tuple[float, float, float]:
    """Pressure, enthalpy and temperature before the tube."""
    p = bubble_pressure(table, condensing)
    t = condensing - subcooling
    return p, enthalpy_liquid(table, p, t), t


def model_flow(
    table: Table,
    *,
    bore: float = 0.9e-3,
    length: float = 2.0,
    condensing: float = 318.15,
    subcooling: float = 5.0,
    quality: float | None = None,
    evaporating: float = 258.15,
    roughness: float = 0.75e-6,
    metastable: bool = False,
) -> float:
    p, h, _t = inlet(table, condensing, subcooling)
    if quality is not None:
        hl, hg = saturation(table, p)[2:4]
        h = hl + quality * (hg - hl)
    return flow_through(
        table,
        bore=bore,
        length=length,
        inlet_pressure=p,
        inlet_enthalpy=h,
        outlet_pressure=dew_pressure(table, evaporating),
        roughness=roughness,
        metastable=metastable,
    ).mass_flow


# Grids of small machines: bore, length, condensing and subcooling. RP-762 states 1 to 16 K.
SMALL = list(
    itertools.product(
        (0.65e-3, 0.9e-3, 1.2e-3), (1.0, 2.0, 3.5), (308.15, 318.15, 328.15), (2, 5, 10)
    )
)
AIR_CONDITIONING = list(
    itertools.product((1.1e-3, 1.4e-3, 1.8e-3), (0.75, 1.5), (313.15, 323.15), (3, 6, 10))
)
GRIDS = {"small machines": SMALL, "air conditioners": AIR_CONDITIONING}


def deviations(name: str, correlation: str, grid: str) -> Any:
    """Relative deviation of the correlation from the model over a grid."""
    table = load(name).table
    p_e = dew_pressure(table, 263.15)
    out = []
    for bore, length, condensing, subcooling in GRIDS[grid]:
        p, h, t = inlet(table, condensing, float(subcooling))
        tube = {"bore": bore, "length": length, "inlet_pressure": p}
        model = flow_through(table, inlet_enthalpy=h, outlet_pressure=p_e, **tube).mass_flow
        if correlation == RP762:
            theirs = flow_rp762(table, inlet_temperature=t, **tube)
        else:
            theirs = flow_hermes(table, inlet_temperature=t, outlet_pressure=p_e, **tube)
        out.append(theirs / model - 1.0)
    return np.array(out)


# Mean deviation in per cent of the correlation from an earlier homogeneous-equilibrium
# calculation. It ran on other grids of the same ranges. R-22 is left out: its viscosity there
# came from a library that has a quarter too little.
EARLIER = [
    ("R-134a", RP762, "small machines", 1.0),
    ("R-152a", RP762, "small machines", -2.7),
    ("R-290", RP762, "small machines", 3.9),
    ("R-600a", RP762, "small machines", 15.0),
    ("R-410A", RP762, "air conditioners", -6.4),
    ("R-134a", HERMES, "small machines", -3.8),
    ("R-152a", HERMES, "small machines", -2.5),
    ("R-600a", HERMES, "small machines", 3.5),
    ("R-290", HERMES, "small machines", -7.8),
    ("R-410A", HERMES, "small machines", -11.0),
    ("R-32", HERMES, "small machines", -13.0),
]


@pytest.mark.parametrize("row", EARLIER, ids=lambda r: f"{r[0]} {r[1].split()[0]}")
def test_mean_deviation_of_an_earlier_calculation(
    computed: Callable[..., None], row: tuple[str, str, str, float]
) -> None:
    name, correlation, grid, printed = row
    computed(
        source=f"earlier calculation with CoolProp 8, against {correlation}",
        quantity=f"{name}, mean deviation of the correlation from the model, {grid}",
        unit="%",
        expected=printed,
        ours=float(100.0 * np.mean(deviations(name, correlation, grid))),
        tolerance=4.0,
        kind="absolute",
        reason="the earlier grid is not known point by point; along this one the mean of a row "
        "moves by about this much",
    )


def exponent(f: Callable[[float], float], x: float) -> float:
    return math.log(f(1.01 * x) / f(x)) / math.log(1.01)


def change(f: Callable[[Any], float], old: Any, new: Any) -> float:
    return 100.0 * (f(new) / f(old) - 1.0)


# What it is, unit, low and high end of an earlier calculation, and how to get it from
# a flow as a function of the one argument that moves.
STRUCTURE: list[tuple[str, str, float, float, Callable[..., float]]] = [
    (
        "d ln m / d ln D",
        "",
        2.5,
        2.7,
        lambda f, c: exponent(lambda d: f(**c | {"bore": d}), c["bore"]),
    ),
    (
        "d ln m / d ln L",
        "",
        -0.51,
        -0.42,
        lambda f, c: exponent(lambda x: f(**c | {"length": x}), c["length"]),
    ),
    (
        "subcooling 5 to 10 K",
        "%",
        11,
        17,
        lambda f, c: change(lambda s: f(**c, subcooling=s), 5, 10),
    ),
    (
        "subcooling 5 to 0 K",
        "%",
        -21,
        -12,
        lambda f, c: change(lambda s: f(**c, subcooling=s), 5, 0),
    ),
    (
        "inlet quality 0.05 against 5 K of subcooling",
        "%",
        -36,
        -20,
        lambda f, c: change(lambda x: f(**c, quality=x), None, 0.05),
    ),
    (
        "condensing temperature 1 K higher",
        "%",
        1.3,
        1.6,
        lambda f, c: change(lambda dt: f(**c | {"condensing": c["condensing"] + dt}), 0, 1),
    ),
    (
        "smooth wall",
        "%",
        3,
        8,
        lambda f, c: change(lambda e: f(**c, roughness=e), 0.75e-6, 0.0),
    ),
    (
        "twice the roughness",
        "%",
        -5,
        -2,
        lambda f, c: change(lambda e: f(**c, roughness=e), 0.75e-6, 1.5e-6),
    ),
    (
        "bore 0.02 mm wider",
        "%",
        5,
        8,
        lambda f, c: change(lambda d: f(**c | {"bore": c["bore"] + d}), 0, 0.02e-3),
    ),
    (
        "metastable flashing",
        "%",
        0.4,
        8.6,
        lambda f, c: change(lambda on: f(**c, metastable=on), False, True),
    ),
]
TYPICAL = [
    {"bore": 0.8e-3, "length": 2.0, "condensing": 313.15},
    {"bore": 0.8e-3, "length": 2.5, "condensing": 323.15},
    {"bore": 1.0e-3, "length": 1.5, "condensing": 318.15},
]


@pytest.mark.parametrize("check", STRUCTURE, ids=lambda c: c[0])
def test_structure_of_the_flow(
    computed: Callable[..., None], check: tuple[str, str, float, float, Callable[..., float]]
) -> None:
    quantity, unit, low, high, of = check
    for name in ("R-134a", "R-152a", "R-290", "R-600a"):
        table = load(name).table
        found = [of(functools.partial(model_flow, table), case) for case in TYPICAL]
        computed(
            source="earlier homogeneous-equilibrium calculation",
            quantity=f"{name}: {quantity}, middle of the band against mean of three tubes",
            unit=unit,
            expected=0.5 * (low + high),
            ours=float(np.mean(found)),
            tolerance=0.5 * (high - low) * (1.3 if name == "R-600a" else 1.0),
            kind="absolute",
            reason="the band of the earlier calculation, from end to end; whether it held R-600a "
            "is not known, so that one has a third more",
        )


@pytest.mark.parametrize("name", ["R-134a", "R-152a", "R-290", "R-600a"])
def test_evaporating_temperature_does_not_matter_once_choked(
    computed: Callable[..., None], name: str
) -> None:
    table = load(name).table
    case = {"bore": 0.9e-3, "length": 1.5, "condensing": 318.15}
    computed(
        source="earlier homogeneous-equilibrium calculation",
        quantity=f"{name}: evaporating at -15 °C instead of -25 °C, choked",
        unit="%",
        expected=0.0,
        ours=change(lambda t: model_flow(table, **case, evaporating=t), 248.15, 258.15),
        tolerance=0.1,
        kind="absolute",
        reason="choked flow does not know what is behind it",
    )

"""Small compressors by class: what one rating point says of the rest of a map.

Of each mechanical design (listed with several motors, mains and refrigerants) all maps are kept
together. A third of the designs was set apart, every third in the order of their names, before
anything was chosen: those judge. On the others each design in turn was left out.
"""

from __future__ import annotations

import csv
import functools
import itertools
import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from sweatline.assembly.parameters import MODELS
from sweatline.constants import ZERO_CELSIUS
from sweatline.parts.compressor import (
    COMMERCIAL_LOW_TEMPERATURE,
    HIGH_PRESSURE,
    MEDIUM_PRESSURE,
    CompressorParameters,
    KindDefaults,
    RatingCondition,
    displacement_from_rating,
    map_value,
    operate,
)
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import (
    Table,
    dew_pressure,
    enthalpy_from_entropy,
    enthalpy_liquid,
    enthalpy_vapour,
    state,
)

SOURCE = "ten-term maps of small compressors, open building-simulation data set"
MODEL = "Compressor by class, from one rating point"
# Dew temperatures at which the data set rates them, the warm one moved into the stated range. [C]
RATED = {"HIGH": (7.2, 48.9), "MED": (-6.7, 48.9), "LOW": (-31.7, 40.6)}
LEAST_LIFT = 12.0  # K
BELIEVABLE = 0.75  # overall efficiency above which a polynomial has left physics
WORST = 0.25  # a deviation counts as this at most where a number is chosen


class Point(NamedTuple):
    condition: RatingCondition
    capacity: float  # W
    power: float  # W


class Machine(NamedTuple):
    design: str
    build: str
    application: str
    refrigerant: str
    frequency: float  # Hz
    size: float | None  # hp, by its designation
    kept_out: bool
    rating: Point
    points: tuple[Point, ...]

    @property
    def table(self) -> Table:
        return load(self.refrigerant).table

    @property
    def usual(self) -> KindDefaults:
        if self.application == "LOW":
            return COMMERCIAL_LOW_TEMPERATURE
        return HIGH_PRESSURE if self.refrigerant in ("R-22", "R-404A") else MEDIUM_PRESSURE


def _read() -> Iterator[Machine]:
    text = (Path(__file__).parent / "compressor_classes.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    for row in csv.DictReader(lines):
        capacity, power = ([float(row[f"{x}_C{i}"]) for i in range(1, 11)] for x in "QP")
        table = load(row["refrigerant"].replace("R", "R-", 1)).table

        def at(
            te: float,
            tc: float,
            row: dict[str, str] = row,
            capacity: list[float] = capacity,
            power: list[float] = power,
        ) -> Point:
            celsius = (te, tc, float(row["return_gas_C"]), tc - float(row["subcooling_K"]))
            condition = RatingCondition(*(t + ZERO_CELSIUS for t in celsius))
            te, tc = condition.evaporating, condition.condensing
            return Point(condition, map_value(capacity, te, tc), map_value(power, te, tc))

        points: list[Point] = []
        for te in np.linspace(float(row["te_min_C"]), float(row["te_max_C"]), 6):
            column = [
                at(float(te), float(tc))
                for tc in np.linspace(float(row["tc_min_C"]), float(row["tc_max_C"]), 7)
                if tc >= te + LEAST_LIFT and te < float(row["return_gas_C"])
            ]
            points += _believable(table, column)
        yield Machine(
            design=row["machine"],
            build=row["build"],
            application=row["application"],
            refrigerant=row["refrigerant"].replace("R", "R-", 1),
            frequency=float(row["Hz"]),
            size=float(row["hp"]) if row["hp"] else None,
            kept_out=row["kept_out"] == "yes",
            rating=at(*RATED[row["application"]]),
            points=tuple(points),
        )


def _believable(table: Table, column: list[Point]) -> Iterator[Point]:
    """Points at one evaporating temperature whose volume flow falls and efficiency is physical."""
    seen = []
    for point in column:
        te, tc, suction, liquid = point.condition
        ps, pd = dew_pressure(table, te), dew_pressure(table, tc)
        h1 = enthalpy_vapour(table, ps, suction)
        _t, v1, s1, _x = state(table, ps, h1)
        flow = point.capacity / (h1 - enthalpy_liquid(table, pd, liquid))
        ideal = flow * (enthalpy_from_entropy(table, pd, s1) - h1)
        seen.append((flow * v1, ideal / point.power if point.power > 0.0 else math.inf))
    for i, (point, (volume, efficiency)) in enumerate(zip(column, seen, strict=True)):
        before = seen[i - 1][0] if i else math.inf
        after = seen[i + 1][0] if i + 1 < len(seen) else 0.0
        if before >= volume >= after and 0.0 < efficiency < BELIEVABLE:
            yield point


MACHINES = tuple(_read())
CLASSES = {"air conditioning": "HIGH", "medium temperature": "MED", "low temperature": "LOW"}


def rated(m: Machine, usual: KindDefaults | None = None) -> CompressorParameters:
    return displacement_from_rating(
        m.table,
        "reciprocating",
        capacity=m.rating.capacity,
        power=m.rating.power,
        frequency=m.frequency,
        condition=m.rating.condition,
        usual=usual or m.usual,
    )


def off(m: Machine, numbers: CompressorParameters) -> Any:
    """Logarithmic deviations of capacity and power over the map. (n, 2)"""
    found = []
    for point in m.points:
        run = operate(m.table, numbers, **point.condition._asdict())
        found.append((run.capacity / point.capacity, run.power / point.power))
    return np.log(found)


@functools.cache
def deviations(m: Machine) -> Any:
    return off(m, rated(m))


def spreads(m: Machine) -> Any:
    """One stated standard deviation of capacity and power over the map. (n, 2)"""
    numbers = rated(m)
    moved = []
    for sign in (-1.0, 1.0):
        tighter = numbers._replace(clearance=numbers.clearance + sign * m.usual.clearance_sd)
        a, b = (
            operate(m.table, c, **m.rating.condition._asdict()).mass_flow
            for c in (numbers, tighter)
        )
        moved.append(off(m, tighter._replace(filling=tighter.filling * a / b)))
    by_clearance = 0.5 * (moved[1] - moved[0])
    flow, power = MODELS["volumetric"].sd, MODELS["compressor power"].sd
    others = np.array([flow, math.hypot(power, 0.8 * flow)])  # four fifths of power go with flow
    return np.hypot(by_clearance, others)


def of_class(application: str, *, kept_out: bool) -> list[Machine]:
    return [m for m in MACHINES if m.application == application and m.kept_out == kept_out]


@pytest.mark.parametrize("name", CLASSES)
@pytest.mark.parametrize("kept_out", [True, False], ids=["kept out", "chosen on"])
def test_within_ten_per_cent(published: Callable[..., Any], name: str, kept_out: bool) -> None:
    machines = of_class(CLASSES[name], kept_out=kept_out)
    found = np.concatenate([deviations(m) for m in machines])
    for column, quantity, aim in ((0, "capacity", 0.90), (1, "power", 0.85)):
        published(
            model=MODEL,
            source=SOURCE,
            status="PUBLISHED",
            basis="fitted",
            in_sample=not kept_out,
            quantity=f"{name}: share of {quantity} within 10 %, {len(found)} points of "
            f"{len(machines)} maps" + (", kept out of every choice" if kept_out else ""),
            unit="",
            printed=1.0,
            ours=np.mean(np.abs(np.expm1(found[:, column])) <= 0.10),
            tolerance=1.0 - aim,
            kind="absolute",
            reason="the aim of a model that knows one point; fitted to the machine itself 97 and "
            "93 % (Santos 2019)",
            aim_only=True,
        )


@pytest.mark.parametrize("name", CLASSES)
def test_likely_ranges(published: Callable[..., Any], name: str) -> None:
    """Neither too narrow nor too wide, on the machines kept out of every choice."""
    machines = of_class(CLASSES[name], kept_out=True)
    z = np.concatenate([deviations(m) / spreads(m) for m in machines])
    for column, quantity in enumerate(("capacity", "power")):
        # Twice too wide a range would hold values that lie within half of a standard deviation.
        assert np.sqrt(np.mean(z[:, column] ** 2)) > 0.5
        published(
            model=MODEL,
            source=SOURCE,
            status="PUBLISHED",
            basis="fitted",
            quantity=f"{name}: share of {quantity} inside the likely range, {len(z)} points of "
            f"{len(machines)} maps, kept out of every choice",
            unit="",
            printed=0.9,
            ours=np.mean(np.abs(z[:, column]) <= 1.645),
            tolerance=0.07,
            kind="absolute",
            reason="a range of 9 in 10; maps of a machine hang together",
            aim_only=True,
        )


def misfit(machines: list[Machine], usual: KindDefaults) -> dict[str, float]:
    """Mean square deviation of capacity and power of the maps of each design."""
    found: dict[str, float] = {}
    for m in machines:
        cut = np.minimum(np.abs(off(m, rated(m, usual))), WORST)
        found[m.design] = found.get(m.design, 0.0) + float(np.mean(cut**2))
    return found


@pytest.mark.parametrize(
    ("name", "clearances", "shares"),
    [
        ("medium pressure", (0.038, 0.048, 0.058, 0.068), (0.15, 0.25, 0.35)),
        ("high pressure", (0.055, 0.065, 0.075, 0.085), (0.15, 0.25, 0.35)),
        ("low temperature", (0.02, 0.03, 0.04, 0.05), (0.25, 0.35, 0.45)),
    ],
)
def test_numbers_of_a_class_whichever_design_is_left_out(
    published: Callable[..., Any],
    name: str,
    clearances: tuple[float, ...],
    shares: tuple[float, ...],
) -> None:
    stated = {
        "medium pressure": MEDIUM_PRESSURE,
        "high pressure": HIGH_PRESSURE,
        "low temperature": COMMERCIAL_LOW_TEMPERATURE,
    }[name]
    machines = [m for m in MACHINES if not m.kept_out and m.usual is stated]
    tried = {
        (c, f): misfit(machines, replace(stated, clearance=c, fixed_share=f))
        for c, f in itertools.product(clearances, shares)
    }
    best = set()
    left_out = []
    for design in {m.design for m in machines}:
        chosen = min(
            tried, key=lambda at: math.fsum(v for d, v in tried[at].items() if d != design)
        )
        best.add(chosen)
        usual = replace(stated, clearance=chosen[0], fixed_share=chosen[1])
        left_out += [off(m, rated(m, usual)) for m in machines if m.design == design]
    for clearance, share in best:
        assert abs(clearance - stated.clearance) <= 0.0101
        assert abs(share - stated.fixed_share) <= 0.101
    found = np.concatenate(left_out)
    for column, quantity, aim in ((0, "capacity", 0.90), (1, "power", 0.85)):
        published(
            model=MODEL,
            source=SOURCE,
            status="PUBLISHED",
            basis="fitted",
            quantity=f"{name}, each design left out where its clearance and fixed share were "
            f"chosen: share of {quantity} within 10 %, {len(found)} points",
            unit="",
            printed=1.0,
            ours=np.mean(np.abs(np.expm1(found[:, column])) <= 0.10),
            tolerance=1.0 - aim,
            kind="absolute",
            reason="the aim of a model that knows one point",
            aim_only=True,
        )


def test_motors_of_a_size_draw_more_than_their_size(published: Callable[..., Any]) -> None:
    """A horsepower on a plate is a size: what it draws at the rating point is far more."""
    draws = [
        m.rating.power / m.size
        for m in MACHINES
        if m.size is not None and m.build == "welded" and m.size <= 1.0
    ]
    published(
        model="Motor known by its size",
        source=SOURCE,
        status="PUBLISHED",
        basis="fitted",
        in_sample=True,
        quantity=f"fixed loss over the motor's size, a quarter of the rated input, {len(draws)} "
        "welded machines of 1/2 to 1 hp, median",
        unit="",
        printed=0.25 * float(np.median(draws)) / 745.7,
        ours=0.4,
        tolerance=0.3,
        reason="one standard deviation of the stated scatter; household machines draw less",
    )
    assert min(draws) > 1.4 * 745.7

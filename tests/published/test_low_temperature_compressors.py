"""Household low-temperature compressors against their data sheets.

The clearance of such machines was chosen on L1, P1, P2 and P5 (and on print). V1, with the only
whole map, and P3 were kept out of every choice: what is shown of them is blind.
"""

from __future__ import annotations

import csv
import functools
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
    DEFAULTS,
    HOUSEHOLD_LOW_TEMPERATURE,
    CompressorParameters,
    KindDefaults,
    Operation,
    RatingCondition,
    displacement_from_rating,
    generic,
    operate,
)
from sweatline.parts.compressor_table import RatedPoint, parameters_from_points
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import Table

SOURCE = "data sheets of household low-temperature compressors, as copied in public data files"
MODEL = "Low-temperature compressor from one rating point"
TRAINING = ("L1", "P1", "P2", "P5")
SPEEDS = (1000, 1400, 1800, 2000, 4000)  # rpm, of V1
USUAL = HOUSEHOLD_LOW_TEMPERATURE
FIXED_SPEED = 50.0 * (1.0 - USUAL.slip) * 60.0  # rpm


class Row(NamedTuple):
    machine: str
    table: Table
    displacement: float | None  # m3
    frequency: float  # Hz, of the mains of a motor with the usual slip
    point: RatedPoint

    @property
    def at(self) -> tuple[float, float]:
        """Dew temperatures. [C]"""
        c = self.point.condition
        return round(c.evaporating - ZERO_CELSIUS, 1), round(c.condensing - ZERO_CELSIUS, 1)


def _read() -> Iterator[Row]:
    path = Path(__file__).parent / "low_temperature_compressors.csv"
    lines = [one for one in path.read_text("utf-8").splitlines() if not one.startswith("#")]
    for row in csv.DictReader(lines):
        names = ("te_C", "tc_C", "return_gas_C", "liquid_C")
        name, speed = row["id"], row["speed_rpm"]
        yield Row(
            machine=f"{name} {speed}".strip(),
            table=load(row["refrigerant"].replace("R", "R-", 1)).table,
            displacement=float(row["displacement_cm3"] or 0.0) * 1e-6 or None,
            frequency=float(speed or FIXED_SPEED) / 60.0 / (1.0 - USUAL.slip),
            point=RatedPoint(
                condition=RatingCondition(*(float(row[n]) + ZERO_CELSIUS for n in names)),
                capacity=float(row["capacity_W"]),
                power=float(row["power_W"]) if row["power_W"] else None,
                mass_flow=float(row["mdot_kg_h"]) / 3600.0 if row["mdot_kg_h"] else None,
            ),
        )


ROWS = tuple(_read())


@functools.cache
def rows(machine: str) -> tuple[Row, ...]:
    return tuple(one for one in ROWS if one.machine == machine)


def run(row: Row, numbers: CompressorParameters) -> Operation:
    return operate(row.table, numbers, **row.point.condition._asdict())


def rated(row: Row, usual: KindDefaults = USUAL) -> CompressorParameters:
    return displacement_from_rating(
        row.table,
        "reciprocating",
        capacity=row.point.capacity,
        power=row.point.power,
        frequency=row.frequency,
        condition=row.point.condition,
        usual=usual,
    )


def deviations(
    machine: str, rating: tuple[float, float], usual: KindDefaults = USUAL
) -> tuple[Any, CompressorParameters]:
    """Logarithmic deviations of capacity and power at the points that are not the rating. (n, 2)"""
    (known,) = [one for one in rows(machine) if one.at == rating]
    numbers = rated(known, usual)
    found = []
    for row in rows(machine):
        if row is not known and row.point.power is not None:
            at = run(row, numbers)
            found.append((at.capacity / row.point.capacity, at.power / row.point.power))
    return np.log(found), numbers


def blind(rating: tuple[float, float], usual: KindDefaults = USUAL) -> Any:
    return np.concatenate([deviations(f"V1 {s}", rating, usual)[0] for s in SPEEDS])


def _misfit(clearance: float) -> float:
    """Sum of squares over the machines on which the clearance was chosen."""
    usual = replace(USUAL, clearance=clearance)
    points = deviations("L1", (-25.0, 35.0), usual)[0][:, 0]
    sizes = [
        math.log(rated(row, usual).displacement / row.displacement)
        for name in TRAINING[1:]
        for row in rows(name)
        if row.displacement
    ]
    return float(np.sum(points**2) + np.sum(np.square(sizes)))


def test_the_clearance_stands_between_what_the_chosen_machines_ask_for_and_print() -> None:
    tried = np.arange(0.004, 0.0301, 0.001)
    best = tried[int(np.argmin([_misfit(float(c)) for c in tried]))]
    assert best == pytest.approx(0.011, abs=0.0015)
    assert best < USUAL.clearance < 0.02  # print: 0.01 to 0.03


@pytest.mark.parametrize("rating", [(-25.0, 55.0), (-30.0, 55.0), (-35.0, 55.0)])
def test_whole_map_of_a_machine_that_chose_nothing(
    published: Callable[..., Any], rating: tuple[float, float]
) -> None:
    """At -35/55 °C one watt is 3 % of what is printed, and clearance decides most."""
    speeds = [s for s in SPEEDS if any(one.at == rating for one in rows(f"V1 {s}"))]
    found = np.concatenate([deviations(f"V1 {s}", rating)[0] for s in speeds])
    old = DEFAULTS["reciprocating"]
    before = np.concatenate([deviations(f"V1 {s}", rating, old)[0] for s in speeds])
    for column, quantity, aim in ((0, "capacity", 0.90), (1, "power", 0.85)):
        inside = np.mean(np.abs(np.expm1(found[:, column])) <= 0.10)
        was = np.mean(np.abs(np.expm1(before[:, column])) <= 0.10)
        assert inside > was + 0.3
        published(
            model=MODEL,
            source=f"{SOURCE}: V1, variable speed, R-600a",
            status="PUBLISHED",
            basis="table",
            quantity=f"rated at {rating[0]:g}/{rating[1]:g} °C: share of {quantity} within 10 %, "
            f"{len(found)} points at {len(speeds)} speeds",
            unit="",
            printed=1.0,
            ours=inside,
            tolerance=1.0 - aim,
            kind="absolute",
            reason="the aim of a model that knows one point; all of it one machine",
            aim_only=True,
        )


def test_likely_ranges_on_a_machine_that_chose_nothing(published: Callable[..., Any]) -> None:
    """The stated scatter: 5 % of flow, 5 % of power beside it, and the clearance."""
    inside: list[tuple[bool, bool]] = []
    flow, power = MODELS["volumetric"].sd, MODELS["compressor power"].sd
    for speed in SPEEDS:
        found, numbers = deviations(f"V1 {speed}", (-25.0, 55.0))
        (known,) = [one for one in rows(f"V1 {speed}") if one.at == (-25.0, 55.0)]
        looser = numbers._replace(clearance=numbers.clearance + USUAL.clearance_sd)
        held = run(known, numbers).mass_flow / run(known, looser).mass_flow
        looser = looser._replace(filling=looser.filling * held)
        others = [one for one in rows(f"V1 {speed}") if one is not known]
        for row, (capacity, watts) in zip(others, found, strict=True):
            a, b = run(row, numbers), run(row, looser)
            sd = math.hypot(flow, math.log(b.capacity / a.capacity))
            sd_power = math.hypot(power, 0.8 * flow, math.log(b.power / a.power))
            inside.append((abs(capacity) <= 1.645 * sd, abs(watts) <= 1.645 * sd_power))
    for column, quantity in enumerate(("capacity", "power")):
        published(
            model=MODEL,
            source=f"{SOURCE}: V1, variable speed, R-600a",
            status="PUBLISHED",
            basis="table",
            quantity=f"share of {quantity} inside the likely range, {len(inside)} points",
            unit="",
            printed=0.9,
            ours=np.mean(np.array(inside)[:, column]),
            tolerance=0.05,
            kind="absolute",
            reason="a range of 9 in 10; one machine cannot show that it is not too wide",
            aim_only=True,
        )


@pytest.mark.parametrize("machine", ["P1", "P2", "P3", "P5"])
def test_capacity_from_the_displacement(published: Callable[..., Any], machine: str) -> None:
    (row,) = rows(machine)
    assert row.displacement is not None
    numbers = generic(
        "reciprocating",
        displacement=row.displacement,
        frequency=row.frequency,
        fixed_loss=USUAL.fixed_share * row.point.capacity,
        usual=USUAL,
    )
    published(
        model="Compressor from its displacement",
        source=f"{SOURCE}: {machine}",
        status="PUBLISHED",
        basis="table",
        in_sample=machine in TRAINING,
        quantity=f"{machine}, low temperature: capacity from the displacement, -23.3 °C",
        unit="W",
        printed=row.point.capacity,
        ours=run(row, numbers).capacity,
        tolerance=0.12,
        reason="filling of cylinders known to 8 %, their clearance to half",
        aim_only=True,
    )


def test_a_table_of_four_corners_says_the_rest(published: Callable[..., Any]) -> None:
    """Rows 10 K of evaporating temperature apart are no more than a data sheet shows."""
    whole = rows("V1 2000")
    corners = [r for r in whole if r.at[0] in (-35.0, 0.0) and r.at[1] in (35.0, 55.0)]
    fit = parameters_from_points(
        whole[0].table,
        "reciprocating",
        [row.point for row in corners],
        usual=USUAL,
        frequency=whole[0].frequency,
        displacement=whole[0].displacement,
    )
    # COMPUTED from the same table with a simpler form: clearance 0.025 to 0.029.
    assert 0.015 < fit.parameters.clearance < 0.032
    others = [row for row in whole if row not in corners]
    at = [(run(row, fit.parameters), row.point) for row in others]
    off = {
        "capacity": [a.capacity / p.capacity - 1.0 for a, p in at],
        "power": [a.power / (p.power or math.nan) - 1.0 for a, p in at],
    }
    for quantity, tolerance in (("capacity", 0.03), ("power", 0.06)):
        published(
            model="Compressor fitted to a table",
            source=f"{SOURCE}: V1 at 2000 rpm",
            status="PUBLISHED",
            basis="table",
            quantity=f"four corners known: root mean square deviation of {quantity}, 20 points",
            unit="",
            printed=0.0,
            ours=float(np.sqrt(np.mean(np.square(off[quantity])))),
            tolerance=tolerance,
            kind="absolute",
            reason="forms of two and three numbers meet such a table to 0.5 % and 4 %; watts are "
            "printed to 3 % at the cold end",
        )


def test_flow_that_is_printed_is_met(published: Callable[..., Any]) -> None:
    whole = rows("L1")
    fit = parameters_from_points(
        whole[0].table, "reciprocating", [r.point for r in whole], usual=USUAL, frequency=50.0
    )
    assert fit.throughput_miss is not None
    assert fit.watts_miss is not None
    for quantity, miss in (("flow", fit.throughput_miss), ("power", fit.watts_miss)):
        published(
            model="Compressor fitted to a table",
            source=f"{SOURCE}: L1",
            status="PUBLISHED",
            basis="table",
            in_sample=True,
            quantity=f"three points known: root mean square deviation of {quantity}, own points",
            unit="",
            printed=0.0,
            ours=miss,
            tolerance=0.03,
            kind="absolute",
            reason="the scatter that the fit allows a point",
        )

"""What a motor takes, against amps that were measured and against what print says of motors.

The R-12 bench is that of ``test_r12_bench.py``: one compressor at nine loads, its amps and volts
read with the pressures; PUBLISHED: readings of a mechanical engineering laboratory course (157,
spring 2025). No wattmeter was there and the plate is not given, so one row, the capillary with both
fans high, stands for the plate: its amps, and the power factor of a capacitor-start motor (a run
capacitor would make of them an overall efficiency of 0.31, where small machines have 0.38 to 0.63).
The other rows follow from their pressures: first the watts, then the amps.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, NamedTuple

import pytest

from sweatline.constants import ZERO_CELSIUS
from sweatline.parts.compressor import (
    MEDIUM_PRESSURE,
    CompressorParameters,
    RatingCondition,
    displacement_from_rating,
    operate,
)
from sweatline.parts.motor import (
    LOCKED_ROTOR,
    USUAL,
    AnyMotor,
    MotorParameters,
    from_factors,
    running_current,
)
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import dew_pressure, enthalpy_liquid, enthalpy_vapour, saturation

PSI = 6894.757293168  # Pa
POUND_A_MINUTE = 0.45359237 / 60.0  # kg/s
VOLTS = 118.0
SOURCE = "R-12 bench of a mechanical engineering laboratory course (157, spring 2025)"


class Row(NamedTuple):
    """Pressures [psia], gas into the compressor [C], flow [lb/min], amps of the compressor."""

    words: str
    suction: float
    head: float
    gas: float
    flow: float
    amps: float


PLATE = Row("capillary", 46.7, 190.0, 17.8, 1.32, 7.95)
ROWS = (
    Row("automatic valve at 2 psig", 16.7, 101.0, 25.6, 0.25, 5.2),
    Row("automatic valve at 7 psig", 21.7, 119.0, 25.6, 0.45, 5.6),
    Row("automatic valve at 15 psig", 29.7, 141.0, 24.6, 0.72, 6.27),
    Row("automatic valve at 30 psig", 44.7, 185.0, 20.4, 1.30, 7.77),
    Row("thermostatic valve", 45.7, 190.0, 19.6, 1.30, 7.95),
    Row("thermostatic valve, condenser fan slow", 46.7, 208.0, 19.4, 1.30, 8.24),
    Row("capillary, condenser fan slow", 51.7, 228.0, 9.0, 1.40, 8.75),
    Row("capillary, evaporator fan slow", 44.7, 185.0, 14.8, 1.30, 7.75),
)


def at(row: Row) -> RatingCondition:
    table = load("R-12").table
    condensing = float(saturation(table, row.head * PSI)[1])
    return RatingCondition(
        evaporating=float(saturation(table, row.suction * PSI)[1]),
        condensing=condensing,
        suction=row.gas + ZERO_CELSIUS,
        liquid=condensing - 5.0,
    )


@functools.cache
def machine() -> tuple[CompressorParameters, MotorParameters]:
    table, condition, usual = load("R-12").table, at(PLATE), USUAL["csir"]
    power = usual.rated * VOLTS * PLATE.amps
    gas = enthalpy_vapour(table, dew_pressure(table, condition.evaporating), condition.suction)
    liquid = enthalpy_liquid(table, dew_pressure(table, condition.condensing), condition.liquid)
    compressor = displacement_from_rating(
        table,
        "reciprocating",
        capacity=PLATE.flow * POUND_A_MINUTE * (gas - liquid),
        power=power,
        frequency=60.0,
        condition=condition,
        usual=MEDIUM_PRESSURE,
    )
    motor = from_factors(
        power=power, rated=usual.rated, light=usual.light, plate_voltage=VOLTS, voltage=VOLTS
    )
    return compressor, motor


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r.words)
def test_amps_at_other_loads(published: Callable[..., Any], row: Row) -> None:
    compressor, motor = machine()
    run = operate(load("R-12").table, compressor, **at(row)._asdict())
    published(
        model="Amps of a motor",
        source=SOURCE,
        status="PUBLISHED",
        basis="similar",
        quantity=f"{row.words}: compressor amps from one row with {PLATE.amps:g} A",
        unit="A",
        printed=row.amps,
        ours=running_current(motor, run.power),
        tolerance=0.10,
        reason="watts from one rating point to 7 %, power factor of a kind to 6 %",
    )


def test_a_run_capacitor_cuts_the_current(published: Callable[..., Any]) -> None:
    with_none, with_one = (
        running_current(
            from_factors(
                power=300.0,
                rated=USUAL[kind].rated,
                light=USUAL[kind].light,
                plate_voltage=115.0,
                voltage=115.0,
            ),
            300.0,
        )
        for kind in ("csir", "csr")
    )
    assert with_none is not None
    assert with_one is not None
    published(
        model="Amps of a motor",
        source="electrical training text",
        status="PUBLISHED",
        basis="rule",
        quantity="share of the current that a run capacitor saves, up to 20 %",
        unit="",
        printed=0.2,
        ours=1.0 - with_one / with_none,
        tolerance=0.05,
        kind="absolute",
        reason="the text means a capacitor added to a motor; ours compares motors made with and "
        "without one",
        aim_only=True,
    )


@pytest.mark.parametrize(
    ("words", "locked", "rated"),
    [("7 kW split unit, rotary", 41.2, 8.4), ("8.8 kW packaged unit", 68.0, 15.7)],
)
def test_locked_rotor(
    published: Callable[..., Any], words: str, locked: float, rated: float
) -> None:
    published(
        model="Amps of a motor",
        source="nameplates (second-hand)",
        status="PUBLISHED",
        basis="table",
        quantity=f"{words}: rated load amps from locked-rotor amps",
        unit="A",
        printed=rated,
        ours=locked / (0.5 * sum(LOCKED_ROTOR)),
        tolerance=0.25,
        reason="the ratio goes from 4 to 6",
    )


def test_half_of_the_load(published: Callable[..., Any]) -> None:
    """Amps of a motor without a run capacitor say little of its load."""
    told: tuple[tuple[AnyMotor, float], ...] = (("rsir", 0.75), ("psc", 0.5))
    for kind, printed in told:
        usual = USUAL[kind]
        motor = from_factors(
            power=200.0, rated=usual.rated, light=usual.light, plate_voltage=115.0, voltage=115.0
        )
        half, full = (running_current(motor, p) or 0.0 for p in (100.0, 200.0))
        published(
            model="Amps of a motor",
            source="power factors of small sealed motors, rated and light",
            status="MEMORY 0.6",
            basis="rule",
            in_sample=True,
            quantity=f"{kind}: share of the rated amps at half of the rated watts",
            unit="",
            printed=printed,
            ours=half / full,
            tolerance=0.10,
            kind="absolute",
            reason="0.75 to 0.85 without a run capacitor; with one amps and watts go together "
            "within 10 %",
        )

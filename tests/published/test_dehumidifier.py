"""A whole dehumidifier against what the trade sees, and against a measured performance curve."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from tests.dehumidifiers import PRESSURE, Dehumidifier, fahrenheit, psig

from sweatline.answers import range_of
from sweatline.assembly.build import build_for
from sweatline.assembly.trial_runs import solved_of, trials
from sweatline.job.reading import read_job_text
from sweatline.machine.balance import SteadyState, design, filled, fixed_charge, solve
from sweatline.machine.charge_curve import sweep_charge
from sweatline.machine.room_map import in_room
from sweatline.parts.capillary_flow import length_for

# Common practice: a dehumidifier whose coils were made for R-410A is given a 10 cm3/rev half-horse
# compressor and, in a room of 62 F, first R-152a and then R-290. The facts seen are below.
#
# What nobody measured was chosen once for all facts together, inside usual ranges (tube 7 to
# 9.5 mm, 1 to 3 rows, fin pitch 1.4 to 2.5 mm, face velocity well below the 2.5 m/s of carry-over;
# all MEMORY): two rows of ten 5/16 in tubes in each coil, 1.8 mm fin pitch, 270 m3/h of air,
# 68 % relative humidity, 100 W fixed loss of the half-horse motor, 50 W fan, 0.7 m of 1.1 mm
# capillary, sealed lines of about half a metre each.
SCENE = {
    "displacement": 10e-6,
    "fixed_loss": 100.0,
    "temperature": 289.82,  # 62 F
    "relative_humidity": 0.68,
    "airflow": 0.075,
    "condenser_rows": 2,
    "capillary_length": 0.70,
}
CUP = 0.2366  # kg of water in a US cup
PRACTICE = {
    "model": "whole dehumidifier",
    "source": "common practice: rebuild with a 10 cm3 half-horse compressor, 62 F room",
    "status": "common practice",
    "in_sample": True,
}


@pytest.fixture(scope="module")
def with_r152a() -> SteadyState:
    table, line, machine = Dehumidifier(refrigerant="R-152a", **SCENE).build()
    return solve(table, line, machine, filled())


@pytest.fixture(scope="module")
def r290_curve() -> list[SteadyState]:
    table, line, machine = Dehumidifier(refrigerant="R-290", **SCENE).build()
    full = solve(table, line, machine, filled())
    curve = [full, *sweep_charge(table, line, machine, full, low=0.5, high=1.7, step=0.05)]
    return sorted(curve, key=lambda b: b.charge)


def test_r152a_gauges_and_watts(with_r152a: SteadyState, published: Callable[..., object]) -> None:
    why = "15 %: hand-read gauges, and the parts nobody measured"
    b = with_r152a
    # Suction was seen between 24 and 27 psig, the middle is taken; absolute, so that 15 % means
    # the same at any gauge reading.
    published(
        **PRACTICE,
        quantity="suction pressure with R-152a, absolute, 24 to 27 psig",
        unit="psi",
        printed=25.5 + 14.696,
        ours=psig(b.suction_pressure) + 14.696,
        tolerance=0.15,
        kind="relative",
        reason=why,
    )
    published(
        **PRACTICE,
        quantity="head pressure with R-152a, absolute, about 90 psig",
        unit="psi",
        printed=90.0 + 14.696,
        ours=psig(b.discharge_pressure) + 14.696,
        tolerance=0.15,
        kind="relative",
        reason=why,
    )
    published(
        **PRACTICE,
        quantity="watts with R-152a, fan included",
        unit="W",
        printed=390.0,
        ours=b.total_power,
        tolerance=0.15,
        kind="relative",
        reason=why,
    )


def test_r152a_coil_and_water(with_r152a: SteadyState, published: Callable[..., object]) -> None:
    b = with_r152a
    # A thermometer held to a bare tube reads between the refrigerant inside and the wet surface.
    clipped = 0.5 * (b.evaporating_temperature + b.coil_temperature)
    published(
        **PRACTICE,
        quantity="coil with R-152a by a thermometer on the tube, 37 to 40 F",
        unit="F",
        printed=38.5,
        ours=fahrenheit(clipped),
        tolerance=3.0,
        kind="absolute",
        reason="half the band seen and 1 K of model scatter in evaporating temperature",
    )
    assert fahrenheit(b.evaporating_temperature) < 38.5 < fahrenheit(b.coil_temperature)
    minutes = CUP / b.water / 60.0
    published(
        **PRACTICE,
        quantity="minutes for a cup of water with R-152a, 20 to 30",
        unit="min",
        printed=25.0,
        ours=minutes,
        tolerance=7.0,
        kind="absolute",
        reason="half the band seen and the spread of room humidity",
    )
    # Dry suction at the compressor, and a coil that does not freeze.
    assert b.suction_quality > 1.0
    assert b.frost_share == 0.0


# The same rebuild as a person describes it who has not measured the coils: sizes are guesses, and
# of the compressor only its cylinder and the size of its motor are known.
GUESSED = """
title = "Cellar machine with a drinks cooler's compressor"
kind = "dehumidifier"
units = "US"
refrigerants = ["R-152a"]
[place]
country = "AT"
flammable_conversion = "accepted"
[room]
temperature = "62 °F"
humidity = "65 %RH"
[supply]
voltage = "115 V"
frequency = "60 Hz"
[original]
refrigerant = "R-410A"
[[compressor]]
name = "drinks cooler"
kind = "reciprocating"
displacement = "10 cc"
motor_size = "1/2 hp"
[[capillary]]
name = "reel"
bore = "0.044 in"
length = "10 ft"
"""
GUESSED_COIL = """
[{name}]
tube_outer_diameter = "3/8 in"
rows = 2
tubes_per_row = 10
transverse_pitch = "1 in"
longitudinal_pitch = "7/8 in"
finned_length = "9 in"
fin_pitch = "12 fpi"
"""


def test_guessed_machine_holds_what_practice_reads(published: Callable[..., object]) -> None:
    text = GUESSED + "".join(GUESSED_COIL.format(name=n) for n in ("evaporator", "condenser"))
    build = build_for(read_job_text(text), compressor=0, refrigerant="R-152a", capillary=0)
    aim = filled(superheat=build.job.targets.superheat)
    found = solved_of(trials(build, build.solve(aim, near=build.designed), aim, count=128))
    suction = range_of([psig(b.suction_pressure) for b in found])
    watts = range_of([b.total_power for b in found])
    for quantity, unit, printed, ours in (
        ("suction pressure with R-152a", "psig", 27.0, suction),
        ("watts with R-152a, fan included", "W", 390.0, watts),
    ):
        published(
            **PRACTICE | {"model": "whole dehumidifier, guessed"},
            quantity=f"{quantity}, likely range {ours.low:.0f} to {ours.high:.0f} {unit}: "
            "distance from its middle in halves of it",
            unit="",
            printed=0.0,
            ours=2.0 * (printed - 0.5 * (ours.low + ours.high)) / (ours.high - ours.low),
            tolerance=1.0,
            kind="absolute",
            reason="a range of 9 in 10 over everything that is guessed",
        )
    # Wide, and not without end: a range from half to twice would say nothing.
    assert watts.high < 2.0 * watts.low


def test_r290_freezes_while_short_of_charge(r290_curve: list[SteadyState]) -> None:
    """Common practice: on R-290 the same machine freezes its coil or floods back."""
    starved = [b for b in r290_curve if b.suction_quality > 1.05]
    assert starved
    assert min(b.coil_temperature for b in starved) < 273.15 - 4.0
    assert any(b.frost_share > 0.1 for b in starved)


# As seen it condensed near 110 F. Ours stops rising at 106: what is added floods back, cools the
# oil and dissolves in it instead of standing in the condenser, so the liquid is warmer too.
@pytest.mark.xfail(strict=True, reason="105 F: the oil takes what the condenser should hold")
def test_r290_condenses_near_110_when_charged_up(r290_curve: list[SteadyState]) -> None:
    hot = r290_curve[-1]
    assert fahrenheit(hot.condensing_temperature) == pytest.approx(110.0, abs=3.0)


def test_r290_floods_back_when_charged_up(
    r290_curve: list[SteadyState], published: Callable[..., object]
) -> None:
    hot = r290_curve[-1]
    assert hot.suction_quality < 0.95  # floods back
    published(
        **PRACTICE,
        quantity="liquid line with R-290, charged up to condense near 110 F",
        unit="F",
        printed=70.0,
        ours=fahrenheit(hot.liquid_temperature),
        tolerance=10.0,
        kind="absolute",
        reason="'near 70 F' by hand, 2.5 K of model scatter in subcooling, twice; ours dissolves "
        "in the oil, which liquid cools, and does not stand in the condenser",
        aim_only=True,
    )
    published(
        **PRACTICE,
        quantity="watts with R-290, charged up",
        unit="W",
        printed=560.0,
        ours=hot.total_power,
        tolerance=0.15,
        kind="relative",
        reason="15 %: the parts nobody measured",
    )


def test_r290_against_r152a_in_the_same_machine(
    with_r152a: SteadyState, r290_curve: list[SteadyState]
) -> None:
    """Trends: more watts, higher pressures, less charge."""
    same = min(r290_curve, key=lambda b: abs(b.superheat - 5.0) + (b.suction_quality < 1.0))
    assert same.total_power > 1.3 * with_r152a.total_power
    assert same.discharge_pressure > 1.6 * with_r152a.discharge_pressure
    assert same.charge < 0.75 * with_r152a.charge
    assert same.water > with_r152a.water


# Set G, the curve of six tested units. PUBLISHED: Winkler, Christensen & Tomerlin 2011
# (NREL/TP-5500-52791); coefficients as printed in several open building models.
# f = a + b T + c T^2 + d R + e R^2 + f T R, T in C, R in per cent.
WATER = (-1.162525707, 0.02271469, -0.000113208, 0.021110538, -0.0000693034, 0.000378843)
ENERGY = (-1.902154518, 0.063466565, -0.000622839, 0.039540407, -0.000125637, -0.000176722)
RATED = (26.67, 60.0)


def curve(c: tuple[float, ...], t: float, r: float) -> float:
    a0, b, c2, d, e, f = c
    return a0 + b * t + c2 * t * t + d * r + e * r * r + f * t * r


def ratio(c: tuple[float, ...], t: float, r: float) -> float:
    return curve(c, t, r) / curve(c, *RATED)


def test_set_g_printed_arithmetic() -> None:
    """The coefficients give 0.986 and 0.985 at the rating point, as the sources say."""
    assert curve(WATER, *RATED) == pytest.approx(0.986, abs=1e-3)
    assert curve(ENERGY, *RATED) == pytest.approx(0.985, abs=1e-3)


ROOMS = [
    (18.33, 60.0),
    (18.33, 80.0),
    (21.11, 40.0),
    (21.11, 50.0),
    (21.11, 60.0),
    (21.11, 80.0),
    (22.78, 60.0),
    (26.67, 40.0),
    (26.67, 50.0),
    (26.67, 80.0),
    (32.22, 60.0),
    (32.22, 80.0),
]


@pytest.fixture(scope="module", params=["R-410A", "R-134a"])
def rated_machine(
    request: pytest.FixtureRequest,
) -> tuple[str, dict[tuple[float, float], SteadyState]]:
    """A machine of the size and airflow of the tested units, charged in its rating room.

    Its airflow follows the published 2.75 cfm per pint a day; nothing was fitted to the curve.
    """
    fluid: str = request.param
    displacement = {"R-410A": 5.0e-6, "R-134a": 12.0e-6}[fluid]
    table, line, machine = Dehumidifier(
        refrigerant=fluid,
        displacement=displacement,
        temperature=RATED[0] + 273.15,
        relative_humidity=RATED[1] / 100.0,
        airflow=0.052,
        evaporator_rows=3,
        condenser_rows=3,
    ).build()
    free = solve(table, line, machine, design())
    cut = length_for(
        table,
        bore=1.1e-3,
        mass_flow=free.flow,
        inlet_pressure=free.liquid_pressure,
        inlet_enthalpy=free.unknowns[3],
        outlet_pressure=free.evaporating_pressure,
    )
    machine = machine._replace(expansion=machine.expansion._replace(length=cut.length))
    known = solve(table, line, machine, fixed_charge(free.charge), near=free)
    found = {RATED: known}
    for t, r in ROOMS:
        moved = in_room(machine, t + 273.15, r / 100.0, PRESSURE)
        found[t, r] = solve(table, line, moved, fixed_charge(free.charge), near=known)
    return fluid, found


def test_airflow_is_that_of_the_tested_units(
    rated_machine: tuple[str, dict[tuple[float, float], SteadyState]],
    published: Callable[..., object],
) -> None:
    fluid, found = rated_machine
    pints = found[RATED].water * 86400.0 / 0.473176
    published(
        model="dehumidifier map",
        source="airflow attributed to the laboratory data of Winkler et al. 2011",
        status="PUBLISHED",
        basis="similar",
        quantity=f"airflow per water, {fluid} machine of this test",
        unit="cfm/(pint/day)",
        printed=2.75,
        ours=0.052 / 0.000471947 / pints,
        tolerance=0.15,
        kind="relative",
        reason="a machine like the tested ones: the test below is meaningless for another",
    )


def test_ratios_over_temperature_and_humidity(
    rated_machine: tuple[str, dict[tuple[float, float], SteadyState]],
    published: Callable[..., object],
) -> None:
    fluid, found = rated_machine
    rated = found[RATED]
    off_water, off_energy = [], []
    for t, r in ROOMS:
        b = found[t, r]
        water = b.water / rated.water
        energy = water / (b.total_power / rated.total_power)
        for name, c, ours, off in (
            ("water", WATER, water, off_water),
            ("energy factor", ENERGY, energy, off_energy),
        ):
            off.append(abs(ours - ratio(c, t, r)))
            published(
                model="dehumidifier map",
                source="Winkler, Christensen & Tomerlin 2011 (NREL/TP-5500-52791), six units",
                status="PUBLISHED",
                basis="similar",
                quantity=f"{name} ratio at {t:.1f} C {r:.0f} %, {fluid}",
                unit="-",
                printed=ratio(c, t, r),
                ours=ours,
                tolerance=0.08,
                kind="absolute",
                reason="0.08 of the ratio is the aim; the six units differ among themselves",
                aim_only=True,
            )
    assert math.fsum(off_water) / len(ROOMS) < 0.04
    assert math.fsum(off_energy) / len(ROOMS) < 0.05


def test_moving_the_test_from_80_to_65_fahrenheit(
    rated_machine: tuple[str, dict[tuple[float, float], SteadyState]],
    published: Callable[..., object],
) -> None:
    """30, 50 and 70 pint classes became 20, 30 to 35 and 50 pints."""
    fluid, found = rated_machine
    published(
        model="dehumidifier map",
        source="consumer-test explainers: classes renamed when the test moved to 65 F",
        status="PUBLISHED",
        basis="similar",
        quantity=f"capacity at 65 F 60 % over that at 80 F 60 %, {fluid}",
        unit="-",
        printed=0.67,
        ours=found[18.33, 60.0].water / found[RATED].water,
        tolerance=0.07,
        kind="absolute",
        reason="the three classes give 0.60 to 0.71",
    )

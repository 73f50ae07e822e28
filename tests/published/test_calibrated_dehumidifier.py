"""Calibrated in one room, held against the measured curve of six units in eleven others.

The curve gives ratios to 26.7 C and 60 %RH. The unit it is given here has the water that belongs to
its airflow (2.75 cfm for each pint a day, attributed to the same laboratory data) and 2.0 L/kWh,
the usual declared value of its class; both fix the size only. Its plate and one set of readings of
water and watts at 18.3 C and 60 %RH are all the model is given; the parts are those of
test_dehumidifier.py, with the uncertainties a job gives them.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from tests.published.test_dehumidifier import ENERGY, ROOMS, WATER, ratio

from sweatline.assembly.build import build_for
from sweatline.assembly.calibration import Calibration, calibrate
from sweatline.assembly.known_machine import known_machine
from sweatline.job.model import Job
from sweatline.job.reading import read_job_text
from sweatline.machine.balance import SteadyState
from sweatline.uncertainty.parameter import Measured

CALIBRATED_IN = (18.33, 60.0)
OTHERS = [room for room in ROOMS if room != CALIBRATED_IN]

FLOW = 0.052  # m3/s
WATER_RATED = FLOW / 0.000471947 / 2.75 * 0.473176 / 86400.0  # kg/s, of the airflow
WATTS_RATED = WATER_RATED * 3.6e6 / 2.0  # 2.0 L/kWh

COIL = """\
tube_outer_diameter = "7.94 mm"
tube_wall = "0.3 mm"
rows = 3
tubes_per_row = 10
transverse_pitch = "25.4 mm"
longitudinal_pitch = "22 mm"
finned_length = "280 mm"
fin_pitch = "1.8 mm"
"""
RAN = """\
CHARGE
[original.compressor]
name = "its own"
"""
JOB = f"""\
kind = "dehumidifier"
units = "SI"
refrigerants = ["REFRIGERANT"]
[room]
temperature = "26.67 °C"
humidity = "60 %RH"
[supply]
voltage = "115 V"
frequency = "60 Hz"
[original]
refrigerant = "REFRIGERANT"
rating_temperature = "26.67 ± 0.2 °C"
rating_humidity = "60 ± 1 %RH"
water_removal = "{WATER_RATED * 86400.0 / 0.9982:.4f} L/day"
power = "{WATTS_RATED:.1f} W"
{RAN}[evaporator]
{COIL}[condenser]
{COIL}[fan]
airflow = "{FLOW} m3/s"
power = "50 W"
[[compressor]]
name = "its own"
kind = "reciprocating"
displacement = "DISPLACEMENT cm3"
refrigerant = "REFRIGERANT"
[[capillary]]
name = "tube"
bore = "1.1 mm"
LENGTH
"""

DISPLACEMENT = {"R-410A": 5.0, "R-134a": 12.0}


@functools.cache
def job_of(fluid: str) -> Job:
    """The unit: its tube cut and its charge weighed in for 5 K and 5 K in the rating room."""
    text = JOB.replace("REFRIGERANT", fluid).replace("DISPLACEMENT", str(DISPLACEMENT[fluid]))
    bare = text.replace(RAN, "").replace("LENGTH", "")
    stock = read_job_text(bare)
    build = build_for(stock, compressor=0, refrigerant=fluid, capillary=0)
    assert build.designed is not None
    t, rh = CALIBRATED_IN
    text = text.replace("CHARGE", f'charge = "{1e3 * build.designed.charge:.2f} g"')
    text = text.replace("LENGTH", f'length = "{build.length:.5f} m"\nfitted = true')
    water = WATER_RATED * ratio(WATER, t, rh)
    watts = WATTS_RATED * ratio(WATER, t, rh) / ratio(ENERGY, t, rh)
    return read_job_text(
        text
        + f"""\
[[ran_well]]
name = "65 F"
room_temperature = "{t} ± 0.2 °C"
room_humidity = "{rh} ± 1 %RH"
water = "{water * 86400.0 / 0.9982:.4f} L/day"
power = "{watts:.2f} W"
"""
    )


@functools.cache
def found(
    fluid: str,
) -> tuple[Calibration, dict[tuple[float, float], tuple[SteadyState, SteadyState]]]:
    """The calibration, and in every room the machine before and after it."""
    job = job_of(fluid)
    calibration = calibrate(job)
    machine = known_machine(job)
    known = calibration.posterior
    z = np.zeros(len(machine.parameters))
    for parameter, mean in zip(known.parameters, known.mean, strict=True):
        z[machine.keys.index(parameter.key)] = mean
    balances = {}
    for t, rh in OTHERS:
        run = replace(
            machine.runs[0],
            temperature=Measured(value=t + 273.15),
            relative_humidity=Measured(value=rh / 100.0),
        )
        pair = []
        for at in (np.zeros(len(z)), z):
            balance = machine.balance(run, at)
            assert balance is not None
            pair.append(balance)
        balances[t, rh] = (pair[0], pair[1])
    return calibration, balances


def off(fluid: str, which: int) -> tuple[list[float], list[float]]:
    """Deviations of water and watts from the measured unit, relative, room by room."""
    water, watts = [], []
    for (t, rh), pair in found(fluid)[1].items():
        b = pair[which]
        measured = WATER_RATED * ratio(WATER, t, rh)
        water.append(b.water / measured - 1.0)
        drawn = WATTS_RATED * ratio(WATER, t, rh) / ratio(ENERGY, t, rh)
        watts.append(b.total_power / drawn - 1.0)
    return water, watts


@pytest.mark.parametrize("fluid", list(DISPLACEMENT))
def test_other_rooms_after_one(fluid: str, published: Callable[..., object]) -> None:
    for name, k in (("water", 0), ("watts", 1)):
        for words, which in (("before", 0), ("after", 1)):
            mean = math.fsum(abs(x) for x in off(fluid, which)[k]) / len(OTHERS)
            published(
                model="Calibrated dehumidifier",
                source="Winkler, Christensen & Tomerlin 2011 (NREL/TP-5500-52791), six units",
                status="PUBLISHED",
                basis="similar",
                quantity=f"mean deviation of the {name} in {len(OTHERS)} rooms {words} "
                f"calibrating at 65 F 60 %, {fluid}",
                unit="-",
                printed=0.0,
                ours=mean,
                tolerance=0.08,
                kind="absolute",
                reason="a unit of the six differs by some per cent from their mean curve",
                aim_only=True,
            )
        before, after = (math.fsum(abs(x) for x in off(fluid, which)[k]) for which in (0, 1))
        assert after < before, name


@pytest.mark.parametrize("fluid", list(DISPLACEMENT))
def test_room_by_room(fluid: str, published: Callable[..., object]) -> None:
    for (t, rh), (_before, b) in found(fluid)[1].items():
        for name, printed, ours in (
            ("water, L/day", WATER_RATED * ratio(WATER, t, rh) * 86400.0, b.water * 86400.0),
            (
                "watts",
                WATTS_RATED * ratio(WATER, t, rh) / ratio(ENERGY, t, rh),
                b.total_power,
            ),
        ):
            published(
                model="Calibrated dehumidifier",
                source="Winkler, Christensen & Tomerlin 2011 (NREL/TP-5500-52791), six units",
                status="PUBLISHED",
                basis="similar",
                quantity=f"{name} at {t:.1f} C {rh:.0f} %, calibrated at 18.3 C 60 %, {fluid}",
                unit="W" if name == "watts" else "L/day",
                printed=printed,
                ours=ours,
                tolerance=0.10,
                kind="relative",
                reason="10 %: readings of water 5 %, and the six units differ among themselves",
                aim_only=True,
            )

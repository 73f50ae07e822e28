"""Pressure holds, leaks and vacuum against values from print.

Most printed figures of this trade are round numbers and rules; arithmetic on textbook equations is
compared in tests/twoways/test_leak_vacuum_arithmetic.py.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from tests.second_opinions import breakdown_voltage

from sweatline.air.permanent_gas import AIR, NITROGEN
from sweatline.bench.leak_channel import LeakGas, throughput
from sweatline.bench.tightness.pressure_hold import expected_pressure
from sweatline.constants import GAS_CONSTANT, STANDARD_ATMOSPHERE
from sweatline.parts.capillary_gas import friction_to_sonic

PSI = 6894.757293168361
PSIA = STANDARD_ATMOSPHERE / PSI


def fahrenheit(t: float) -> float:
    return (t + 459.67) / 1.8


def test_nitrogen_in_a_shut_volume_follows_the_temperature(published: Callable[..., Any]) -> None:
    hot = expected_pressure(
        NITROGEN, pressure=(500.0 + PSIA) * PSI, temperature=fahrenheit(70.0),
        later=fahrenheit(71.0),
    )  # fmt: skip
    per_degree = hot / PSI - PSIA - 500.0
    published(
        model="pressure hold with nitrogen",
        source="ASHRAE Journal, January 2021, p. 40",
        status="PUBLISHED",
        basis="practice",
        quantity="rise of a hold at 500 psig for each degree Fahrenheit",
        unit="psi",
        printed=1.0,
        ours=per_degree,
        tolerance=0.1,
        reason="printed as about 1 psi",
    )


def _thin(molar_mass: float, viscosity: float) -> LeakGas:
    return LeakGas(name="", molar_mass=molar_mass, viscosity=viscosity, temperature=293.15)


@pytest.mark.parametrize(
    ("what", "bore_cm", "mean_mbar", "printed", "status"),
    [
        ("viscous", 1.0, 100.0, 135.0 * 100.0, "MEMORY 0.85"),
        ("viscous", 0.48, 10.0, 135.0 * 0.48**4 * 10.0, "MEMORY 0.85"),
        ("molecular", 1.0, 1e-5, 12.1, "PUBLISHED"),
        ("molecular", 0.48, 1e-5, 12.1 * 0.48**3, "PUBLISHED"),
        ("sum at 0.1 mbar cm", 1.0, 0.1, 135.0 * 0.1 + 12.1, "PUBLISHED"),
    ],
)
def test_conductance_of_a_tube_for_air(
    published: Callable[..., Any],
    what: str,
    bore_cm: float,
    mean_mbar: float,
    printed: float,
    status: str,
) -> None:
    air = _thin(AIR.molar_mass, AIR.viscosity(293.15))
    mean, drop, length = 100.0 * mean_mbar, 1e-4 * 100.0 * mean_mbar, 100.0
    q = throughput(
        np.array([0.01 * bore_cm]), np.array([length]), inside=mean + 0.5 * drop,
        outside=mean - 0.5 * drop, gas=air,
    )  # fmt: skip
    ours = float(q[0]) / drop * 1e3 * (100.0 * length)  # L/s times length in cm
    published(
        model="conductance of a tube",
        source="vacuum handbook formula for air at 20 °C",
        status=status,
        basis="equation",
        quantity=f"{what}, bore {bore_cm:g} cm, mean {mean_mbar:g} mbar, times length",
        unit="L/s cm",
        printed=printed,
        ours=ours,
        tolerance=0.02 if "sum" not in what else 0.15,
        reason="three printed digits of the constants"
        if "sum" not in what
        else "print says that the sum holds approximately; Knudsen's form is up to 13 % lower",
    )


def test_breakdown_of_thin_air(published: Callable[..., Any]) -> None:
    pressures = np.geomspace(1.0, 1e5, 2000)
    least = min(breakdown_voltage(float(p), 5e-3) for p in pressures)
    published(
        model="why no start under vacuum",
        source="textbook minimum of the Paschen curve of air",
        status="MEMORY 0.85",
        basis="equation",
        quantity="least breakdown voltage of air",
        unit="V",
        printed=327.0,
        ours=least,
        tolerance=0.1,
        reason="the two constants of the form are a fit over a range, not the minimum",
    )


def test_the_gas_constant_is_that_of_the_conversion() -> None:
    assert pytest.approx(8.314462618) == GAS_CONSTANT


def test_friction_to_sonic_speed(published: Callable[..., Any]) -> None:
    published(
        model="gas through a capillary tube",
        source="Fanno line tables for a ratio of heats of 1.4",
        status="PUBLISHED",
        basis="table",
        quantity="friction times length over bore from Mach 0.5 to sonic speed",
        unit="-",
        printed=1.0691,
        ours=friction_to_sonic(0.5),
        tolerance=1e-4,
        reason="printed to four decimals",
    )

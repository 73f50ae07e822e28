"""Moist air against print, a second program, and worked cooling coils.

Temperatures in °C, humidity ratios in g/kg and enthalpies in kJ/kg, as printed.
"""

from collections.abc import Callable
from typing import Any

import pytest
from tests.second_opinions import wet_bulb

from sweatline.air import moist

ATM = 101325.0
MODEL = "Moist air"


def kelvin(t: float) -> float:
    return t + 273.15


# ASHRAE Fundamentals (SI), table of water at saturation, and steam tables. MEMORY 0.97.
SATURATION = [
    (-40.0, 12.84),
    (-20.0, 103.24),
    (0.01, 611.66),
    (10.0, 1228.0),
    (20.0, 2338.8),
    (30.0, 4246.0),
    (40.0, 7383.5),
    (60.0, 19943.0),
    (80.0, 47412.0),
]


@pytest.mark.parametrize(("t", "printed"), SATURATION)
def test_saturation_pressure(published: Callable[..., Any], t: float, printed: float) -> None:
    published(
        model=MODEL,
        source="ASHRAE Fundamentals (SI), water at saturation",
        status="MEMORY 0.9",
        basis="table",
        quantity=f"saturation pressure at {t:g} °C",
        unit="Pa",
        printed=printed,
        ours=moist.saturation_pressure(kelvin(t)),
        tolerance=1e-3,
        reason="table and equation are of different years (ITS-90); recalled to four digits",
    )


# ASHRAE Fundamentals (SI), moist air at 101.325 kPa: t, Ws g/kg, v_s m3/kg, h_s kJ/kg. MEMORY 0.9.
SATURATED_AIR = [
    (-10.0, 1.606, 0.7469, -6.072),
    (0.0, 3.789, 0.7781, 9.473),
    (10.0, 7.661, 0.8116, 29.352),
    (20.0, 14.758, 0.8498, 57.555),
    (30.0, 27.329, 0.8962, 100.006),
]


@pytest.mark.parametrize(("t", "W", "v", "h"), SATURATED_AIR)
def test_saturated_air(
    published: Callable[..., Any], t: float, W: float, v: float, h: float
) -> None:
    source = "ASHRAE Fundamentals (SI), moist air at 101.325 kPa"
    ours = moist.saturated_humidity_ratio(kelvin(t), ATM)
    published(
        model=MODEL,
        source=source,
        status="MEMORY 0.9",
        basis="table",
        quantity=f"saturated humidity ratio at {t:g} °C",
        unit="g/kg",
        printed=W,
        ours=1e3 * ours,
        tolerance=7e-3,
        reason="the table is of a real gas mixture: enhancement factor up to 1.005",
    )
    published(
        model=MODEL,
        source=source,
        status="MEMORY 0.9",
        basis="table",
        quantity=f"saturated specific volume at {t:g} °C",
        unit="m3/kg",
        printed=v,
        ours=moist.specific_volume(kelvin(t), ours, ATM),
        tolerance=1e-3,
        reason="real gas against perfect gas",
    )
    published(
        model=MODEL,
        source=source,
        status="MEMORY 0.9",
        basis="table",
        quantity=f"saturated enthalpy at {t:g} °C",
        unit="kJ/kg",
        printed=h,
        ours=1e-3 * moist.enthalpy(kelvin(t), ours),
        tolerance=0.5,
        kind="absolute",
        reason="enhancement factor of 0.5 % on the water in saturated air at 30 °C",
    )


# Rating conditions of dehumidifiers: dry bulb °F, RH, wet bulb °F.
RATING = [
    ("ANSI/AHAM DH-1-2008", "PUBLISHED", 80.0, 0.60, 69.6),
    ("10 CFR 430 appendix X1, portable", "MEMORY 0.85", 65.0, 0.60, 56.6),
    ("10 CFR 430 appendix X1, whole-home", "MEMORY 0.85", 73.0, 0.60, 63.6),
]


@pytest.mark.parametrize(("source", "status", "t", "rh", "printed"), RATING)
def test_wet_bulb_of_rating_conditions(
    published: Callable[..., Any], source: str, status: str, t: float, rh: float, printed: float
) -> None:
    T = (t - 32.0) / 1.8 + 273.15
    W = moist.humidity_ratio(T, rh, ATM)
    published(
        model=MODEL,
        source=source,
        status=status,
        basis="rule",
        quantity=f"wet bulb at {t:g} °F and {rh:.0%}",
        unit="°F",
        printed=printed,
        ours=(wet_bulb(T, W, ATM) - 273.15) * 1.8 + 32.0,
        tolerance=0.1,
        kind="absolute",
        reason="printed to a tenth",
    )


# ASHRAE Fundamentals (SI), standard atmosphere. MEMORY 0.97.
@pytest.mark.parametrize(
    ("altitude", "printed"),
    [(500.0, 95.461), (1000.0, 89.875), (1500.0, 84.556), (2000.0, 79.495), (3000.0, 70.108)],
)
def test_standard_pressure(published: Callable[..., Any], altitude: float, printed: float) -> None:
    published(
        model=MODEL,
        source="ASHRAE Fundamentals (SI), standard atmosphere",
        status="MEMORY 0.95",
        basis="table",
        quantity=f"pressure at {altitude:g} m",
        unit="kPa",
        printed=printed,
        ours=1e-3 * moist.standard_pressure(altitude),
        tolerance=1e-4,
        reason="printed to a pascal; the equation is the handbook's own fit",
    )


# Incropera and others, Fundamentals of Heat and Mass Transfer, table A.4 (air). MEMORY 0.97.
@pytest.mark.parametrize(
    ("T", "mu", "k"), [(250.0, 159.6, 22.3), (300.0, 184.6, 26.3), (350.0, 208.2, 30.0)]
)
def test_transport(published: Callable[..., Any], T: float, mu: float, k: float) -> None:
    source = "Incropera and others, Fundamentals of Heat and Mass Transfer, table A.4"
    published(
        model=MODEL,
        source=source,
        status="MEMORY 0.97",
        basis="table",
        quantity=f"viscosity of air at {T:g} K",
        unit="1e-7 Pa*s",
        printed=mu,
        ours=1e7 * moist.viscosity(T),
        tolerance=0.005,
        reason="two sources of air data; 0.5 % moves a coil's UA by 0.3 %",
    )
    published(
        model=MODEL,
        source=source,
        status="MEMORY 0.97",
        basis="table",
        quantity=f"conductivity of air at {T:g} K",
        unit="mW/(m*K)",
        printed=k,
        ours=1e3 * moist.conductivity(T),
        tolerance=0.01,
        reason="printed to three digits; two sources of air data",
    )


def test_worked_coil_of_the_handbook(published: Callable[..., Any]) -> None:
    """5 m3/s at 30 °C and 50 % cooled to saturated air at 10 °C, condensate leaving at 10 °C."""
    T_in, T_out = kelvin(30.0), kelvin(10.0)
    W_in = moist.humidity_ratio(T_in, 0.5, ATM)
    W_out = moist.saturated_humidity_ratio(T_out, ATM)
    h_in, h_out = moist.enthalpy(T_in, W_in), moist.enthalpy(T_out, W_out)
    flow = 5.0 / moist.specific_volume(T_in, W_in, ATM)
    condensate = flow * (W_in - W_out)
    water = moist.WATER_HEAT_CAPACITY * 10.0
    duty = flow * (h_in - h_out) - condensate * water
    gas = "the handbook's table is of a real gas, chart readings to three digits"
    for quantity, unit, printed, ours, tolerance in (
        ("dry-air flow", "kg/s", 5.70, flow, 0.003),
        ("entering humidity ratio", "g/kg", 13.3, 1e3 * W_in, 0.004),
        ("leaving humidity ratio", "g/kg", 7.66, 1e3 * W_out, 0.006),
        ("entering enthalpy", "kJ/kg", 64.3, 1e-3 * h_in, 0.003),
        ("leaving enthalpy", "kJ/kg", 29.5, 1e-3 * h_out, 0.009),
        ("cooling duty", "kW", 197.0, 1e-3 * duty, 0.006),
    ):
        published(
            model="Worked cooling coils",
            source="ASHRAE Fundamentals (SI), cooling and dehumidifying example",
            status="MEMORY 0.9",
            basis="example",
            quantity=quantity,
            unit=unit,
            printed=printed,
            ours=ours,
            tolerance=tolerance,
            reason=gas,
        )


def test_worked_coil_of_a_textbook(published: Callable[..., Any]) -> None:
    """250 m3/min, given by enthalpy and humidity ratio; all else from our moist air."""
    model = "Worked cooling coils"
    source = "FOSSEE Scilab textbook companion 551, example 10.19"
    h_in, W_in, W_out = 82.5e3, 19.6e-3, 11.8e-3
    T_in, T_out, T_heated = moist.temperature(h_in, W_in), kelvin(17.6), kelvin(25.0)
    h_out = moist.enthalpy(T_out, W_out)
    volume = moist.specific_volume(T_in, W_in, ATM)
    flow = 250.0 / 60.0 / volume
    duty = flow * (h_in - h_out)
    chart = "enthalpies and volume are read from a chart to three digits"
    for quantity, unit, printed, ours, tolerance in (
        ("entering specific volume", "m3/kg", 0.892, volume, 0.002),
        ("leaving enthalpy", "kJ/kg", 47.5, 1e-3 * h_out, 0.004),
        ("capacity (1 TR = 14000 kJ/h)", "TR", 42.04, duty * 3.6 / 14000.0, 0.005),
        ("water removed", "kg/h", 131.2, 3600.0 * flow * (W_in - W_out), 0.003),
        ("bypass factor by enthalpy", "", 0.2375, (h_out - 36.6e3) / (h_in - 36.6e3), 0.012),
    ):
        published(
            model=model,
            source=source,
            status="PUBLISHED",
            basis="example",
            quantity=quantity,
            unit=unit,
            printed=printed,
            ours=ours,
            tolerance=tolerance,
            reason=chart,
        )
    published(
        model=model,
        source=source,
        status="PUBLISHED",
        basis="example",
        quantity="reheat from 17.6 to 25 °C",
        unit="kW",
        printed=38.30,
        ours=1e-3 * flow * (moist.enthalpy(T_heated, W_out) - h_out),
        tolerance=0.01,
        reason="the printed enthalpies, 47.5 and 55.7 kJ/kg, imply a heat capacity of 1.11 "
        "instead of 1.03 kJ/(kg*K): the chart was misread, the value cannot be met",
        aim_only=True,
    )

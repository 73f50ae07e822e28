"""Moist air against print, a second program, and worked cooling coils.

Temperatures in °C, humidity ratios in g/kg and enthalpies in kJ/kg, as printed.
"""

import importlib
import itertools
import sys
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any

import pytest

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
        ours=1e-3 * moist.saturated_enthalpy(kelvin(t), ATM),
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
        ours=(moist.wet_bulb(T, W, ATM) - 273.15) * 1.8 + 32.0,
        tolerance=0.1,
        kind="absolute",
        reason="printed to a tenth",
    )


# Another program at rating conditions: t °F, W g/kg, dew point °C, h kJ/kg, v m3/kg. COMPUTED.
RATING_STATES = [
    (80.0, 13.16, 18.26, 60.38, 0.8673),
    (73.0, 10.38, 14.62, 49.32, 0.8523),
    (65.0, 7.86, 10.44, 38.37, 0.8362),
]


@pytest.mark.parametrize(("t", "W", "dew", "h", "v"), RATING_STATES)
def test_states_at_rating_conditions(
    published: Callable[..., Any], t: float, W: float, dew: float, h: float, v: float
) -> None:
    T = (t - 32.0) / 1.8 + 273.15
    ours = moist.humidity_ratio(T, 0.60, ATM)
    values = [
        ("humidity ratio", "g/kg", W, 1e3 * ours, 0.005),
        ("dew point", "°C", dew, moist.dew_point(ours, ATM) - 273.15, 0.006),
        ("enthalpy", "kJ/kg", h, 1e-3 * moist.enthalpy(T, ours), 0.006),
        ("specific volume", "m3/kg", v, moist.specific_volume(T, ours, ATM), 0.00006),
    ]
    for quantity, unit, printed, value, tolerance in values:
        published(
            model=MODEL,
            source="psychrolib 2.5, rating conditions",
            status="COMPUTED",
            quantity=f"{quantity} at {t:g} °F and 60 %",
            unit=unit,
            printed=printed,
            ours=value,
            tolerance=tolerance,
            kind="absolute",
            reason="half a digit of the number kept, and psychrolib's 0.001 K",
        )


@pytest.fixture(scope="module")
def psychrolib() -> Iterator[ModuleType]:
    """The reference program in SI, not compiled (compiling it takes longer than the tests)."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delitem(sys.modules, "psychrolib", raising=False)
        patch.setitem(sys.modules, "numba", None)
        module = importlib.import_module("psychrolib")
    module.SetUnitSystem(module.SI)
    module.PSYCHROLIB_TOLERANCE = 1e-7
    yield module
    sys.modules.pop("psychrolib", None)


TEMPERATURES = [-30.0, -17.0, -4.0, 0.5, 7.0, 18.3, 26.7, 35.0, 50.0]
HUMIDITIES = [0.05, 0.3, 0.6, 0.85, 1.0]
PRESSURES = [60e3, 80e3, 101325.0, 106e3]

# quantity, unit, tolerance: largest absolute difference over all states
SECOND_PROGRAM = [
    ("saturation pressure", "Pa", 1e-5),
    ("humidity ratio", "g/kg", 1e-8),
    ("relative humidity", "%", 1e-9),
    ("enthalpy", "kJ/kg", 1e-9),
    ("dry bulb from enthalpy", "K", 1e-9),
    ("specific volume", "m3/kg", 1e-9),
    ("saturated enthalpy", "kJ/kg", 1e-6),
    ("dew point", "K", 1e-5),
    ("wet bulb", "K", 1e-5),
]


def _both(ps: ModuleType, quantity: str, t: float, rh: float, p: float) -> tuple[float, float]:
    T = kelvin(t)
    W = ps.GetHumRatioFromRelHum(t, rh, p)
    match quantity:
        case "saturation pressure":
            return moist.saturation_pressure(T), ps.GetSatVapPres(t)
        case "humidity ratio":
            return 1e3 * moist.humidity_ratio(T, rh, p), 1e3 * W
        case "relative humidity":
            return 1e2 * moist.relative_humidity(T, W, p), 1e2 * rh
        case "enthalpy":
            return 1e-3 * moist.enthalpy(T, W), 1e-3 * ps.GetMoistAirEnthalpy(t, W)
        case "dry bulb from enthalpy":
            h = ps.GetMoistAirEnthalpy(t, W)
            return moist.temperature(h, W) - 273.15, ps.GetTDryBulbFromEnthalpyAndHumRatio(h, W)
        case "specific volume":
            return moist.specific_volume(T, W, p), ps.GetMoistAirVolume(t, W, p)
        case "saturated enthalpy":
            return 1e-3 * moist.saturated_enthalpy(T, p), 1e-3 * ps.GetSatAirEnthalpy(t, p)
        case "dew point":
            return moist.dew_point(W, p) - 273.15, ps.GetTDewPointFromHumRatio(t, W, p)
        case "wet bulb":
            return moist.wet_bulb(T, W, p) - 273.15, ps.GetTWetBulbFromHumRatio(t, W, p)
    raise AssertionError(quantity)


@pytest.mark.parametrize(("quantity", "unit", "tolerance"), SECOND_PROGRAM)
def test_against_a_second_program(
    published: Callable[..., Any],
    psychrolib: ModuleType,
    quantity: str,
    unit: str,
    tolerance: float,
) -> None:
    worst = 0.0
    for t, rh, p in itertools.product(TEMPERATURES, HUMIDITIES, PRESSURES):
        ours, theirs = _both(psychrolib, quantity, t, rh, p)
        worst = max(worst, abs(ours - theirs))
    published(
        model=MODEL,
        source="psychrolib 2.5, -30 to 50 °C, 5 to 100 %, 60 to 106 kPa",
        status="COMPUTED",
        quantity=f"{quantity}: largest difference of 180 states",
        unit=unit,
        printed=0.0,
        ours=worst,
        tolerance=tolerance,
        kind="absolute",
        reason="the same equations by another hand: rounding and the other's iteration",
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
    for quantity, unit, printed, ours in (
        ("cooling duty", "kW", 197.7, 1e-3 * duty),
        ("condensate", "kg/h", 116.6, 3600.0 * condensate),
    ):
        published(
            model="Worked cooling coils",
            source="psychrolib 2.5 on the handbook's example",
            status="COMPUTED",
            quantity=quantity,
            unit=unit,
            printed=printed,
            ours=ours,
            tolerance=5e-4,
            reason="half a digit of the number kept",
        )


def _temperature_of_saturated(h: float) -> float:
    low, high = kelvin(0.1), kelvin(60.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        if moist.saturated_enthalpy(middle, ATM) < h:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


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
    for quantity, unit, printed, ours, tolerance in (
        ("entering dry bulb", "°C", 32.1, T_in - 273.15, 0.06),
        (
            "dew point of the apparatus",
            "°C",
            12.98,
            _temperature_of_saturated(36.6e3) - 273.15,
            0.01,
        ),
        ("leaving enthalpy", "kJ/kg", 47.60, 1e-3 * h_out, 0.006),
    ):
        published(
            model=model,
            source="psychrolib 2.5 on the textbook's example",
            status="COMPUTED",
            quantity=quantity,
            unit=unit,
            printed=printed,
            ours=ours,
            tolerance=tolerance,
            kind="absolute",
            reason="half a digit of the number kept",
        )

"""Moist air against a second program."""

import importlib
import itertools
import sys
from collections.abc import Callable, Iterator
from types import ModuleType

import pytest

from sweatline.air import moist

ATM = 101325.0


def kelvin(t: float) -> float:
    return t + 273.15


# Another program at rating conditions: t °F, W g/kg, dew point °C, h kJ/kg, v m3/kg.
RATING_STATES = [
    (80.0, 13.16, 18.26, 60.38, 0.8673),
    (73.0, 10.38, 14.62, 49.32, 0.8523),
    (65.0, 7.86, 10.44, 38.37, 0.8362),
]


@pytest.mark.parametrize(("t", "W", "dew", "h", "v"), RATING_STATES)
def test_states_at_rating_conditions(
    computed: Callable[..., None], t: float, W: float, dew: float, h: float, v: float
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
        computed(
            source="psychrolib 2.5, rating conditions",
            quantity=f"{quantity} at {t:g} °F and 60 %",
            unit=unit,
            expected=printed,
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
            return 1e-3 * moist.enthalpy(
                T, moist.saturated_humidity_ratio(T, p)
            ), 1e-3 * ps.GetSatAirEnthalpy(t, p)
        case "dew point":
            return moist.dew_point(W, p) - 273.15, ps.GetTDewPointFromHumRatio(t, W, p)
    raise AssertionError(quantity)


@pytest.mark.parametrize(("quantity", "unit", "tolerance"), SECOND_PROGRAM)
def test_against_a_second_program(
    computed: Callable[..., None],
    psychrolib: ModuleType,
    quantity: str,
    unit: str,
    tolerance: float,
) -> None:
    worst = 0.0
    for t, rh, p in itertools.product(TEMPERATURES, HUMIDITIES, PRESSURES):
        ours, theirs = _both(psychrolib, quantity, t, rh, p)
        worst = max(worst, abs(ours - theirs))
    computed(
        source="psychrolib 2.5, -30 to 50 °C, 5 to 100 %, 60 to 106 kPa",
        quantity=f"{quantity}: largest difference of 180 states",
        unit=unit,
        expected=0.0,
        ours=worst,
        tolerance=tolerance,
        kind="absolute",
        reason="the same equations by another hand: rounding and the other's iteration",
    )


def test_worked_coil_of_the_handbook(computed: Callable[..., None]) -> None:
    """5 m3/s at 30 °C and 50 % cooled to saturated air at 10 °C, condensate leaving at 10 °C."""
    T_in, T_out = kelvin(30.0), kelvin(10.0)
    W_in = moist.humidity_ratio(T_in, 0.5, ATM)
    W_out = moist.saturated_humidity_ratio(T_out, ATM)
    h_in, h_out = moist.enthalpy(T_in, W_in), moist.enthalpy(T_out, W_out)
    flow = 5.0 / moist.specific_volume(T_in, W_in, ATM)
    condensate = flow * (W_in - W_out)
    water = moist.WATER_HEAT_CAPACITY * 10.0
    duty = flow * (h_in - h_out) - condensate * water
    for quantity, unit, printed, ours in (
        ("cooling duty", "kW", 197.7, 1e-3 * duty),
        ("condensate", "kg/h", 116.6, 3600.0 * condensate),
    ):
        computed(
            source="psychrolib 2.5 on the handbook's example",
            quantity=quantity,
            unit=unit,
            expected=printed,
            ours=ours,
            tolerance=5e-4,
            reason="half a digit of the number kept",
        )


def _temperature_of_saturated(h: float) -> float:
    low, high = kelvin(0.1), kelvin(60.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        if moist.enthalpy(middle, moist.saturated_humidity_ratio(middle, ATM)) < h:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def test_worked_coil_of_a_textbook(computed: Callable[..., None]) -> None:
    """Given by enthalpy and humidity ratio; all else from our moist air."""
    h_in, W_in, W_out = 82.5e3, 19.6e-3, 11.8e-3
    T_in, T_out = moist.temperature(h_in, W_in), kelvin(17.6)
    h_out = moist.enthalpy(T_out, W_out)
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
        computed(
            source="psychrolib 2.5 on the textbook's example",
            quantity=quantity,
            unit=unit,
            expected=printed,
            ours=ours,
            tolerance=tolerance,
            kind="absolute",
            reason="half a digit of the number kept",
        )

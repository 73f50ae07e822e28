"""Tolerances of tools and what stands in for what nobody measured."""

import math

import pytest

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.job import defaults
from sweatline.job.explanation import glossary
from sweatline.job.keys import Assumed
from sweatline.job.values import Quantity
from sweatline.job.vocabulary import INSTRUMENTS, fahrenheit_to_celsius, reading
from sweatline.uncertainty.parameter import Measured
from sweatline.units import WATER_DENSITY, parse

PINT_PER_DAY = WATER_DENSITY * 4.73176473e-4 / 86400.0


def test_a_tape_reads_to_a_millimetre_or_half_a_percent() -> None:
    assert INSTRUMENTS["tape"].sd(0.1) == 1e-3
    assert math.isclose(INSTRUMENTS["tape"].sd(2.0), 0.01)


def test_a_stated_uncertainty_beats_the_tool() -> None:
    calliper, plate = INSTRUMENTS["calliper"], INSTRUMENTS["plate"]
    assert reading(parse("9.52 ± 0.1 mm", "length"), calliper, "SI").sd == pytest.approx(1e-4)
    assert reading(parse("9.52 mm", "length"), calliper, "SI").sd == 0.02e-3
    assert reading(parse("390 W", "power"), plate, "SI").origin == "nameplate"


def test_an_instrument_is_told_in_the_units_of_the_job() -> None:
    told = {name: (one.words("SI"), one.words("US")) for name, one in INSTRUMENTS.items()}
    assert told["calliper"] == ("calliper, 0.02 mm", "calliper, 0.0008 in")
    assert told["tape"] == ("tape, 1 mm or 0.5 %", "tape, 0.04 in or 0.5 %")
    assert told["thermometer"] == ("thermometer, 0.5 K", "thermometer, 0.9 °F")
    assert told["gauge"] == ("manifold gauge, 0.1 bar or 2 %", "manifold gauge, 1 psi or 2 %")
    assert told["scale"] == ("weighed in, 5 g or 2 %", "weighed in, 0.2 oz or 2 %")
    assert told["hygrometer"][1] == "hygrometer, 3 %RH"
    assert told["plate condition"] == ("condition as printed", "condition as printed")


def test_every_instrument_named_by_a_key_is_in_the_table() -> None:
    values = [entry.key.value for entry in glossary()]
    named = {value.tool for value in values if isinstance(value, Quantity) and value.tool}
    assert named == set(INSTRUMENTS)


def airflow(water: float, celsius: float, humidity: float, face: float) -> Assumed:
    room = Measured(value=celsius + 273.15), Measured(value=humidity)
    return defaults.airflow(Measured(value=water), *room, face)


def test_airflow_from_the_plate() -> None:
    # PUBLISHED: about 2.75 cfm for each pint a day at 80 °F and 60 %RH, which is 0.001298 m3/s
    # (attributed to Winkler, Christensen and Tomerlin 2011). 1e-3: four printed digits.
    flow = airflow(30 * PINT_PER_DAY, 26.67, 0.60, 0.06)
    assert math.isclose(flow.value, 30 * 0.001298, rel_tol=1e-3)
    assert flow.origin == "inferred"
    assert flow.sd / flow.value == pytest.approx(0.25)


def test_a_plate_of_a_wetter_room_promises_less_air() -> None:
    dry = airflow(1e-4, 26.67, 0.60, 0.06).value
    wet = airflow(1e-4, 30.0, 0.80, 0.06).value
    # COMPUTED from the same curve: capacity at 27 °C and 60 % is 0.636 of that at 30 °C and 80 %.
    assert math.isclose(wet / dry, 0.636, rel_tol=0.03)


@pytest.mark.parametrize(
    ("celsius", "humidity", "ratio"),
    # COMPUTED from the published curve, three digits, divided by 0.986 at 26.67 °C and 60 %
    [(18.33, 0.60, 0.650), (18.33, 0.80, 1.017), (21.11, 0.40, 0.320), (32.22, 0.80, 1.674)],
)
def test_the_water_curve(celsius: float, humidity: float, ratio: float) -> None:
    ours = defaults.water_curve(celsius + 273.15, humidity)
    assert math.isclose(ours, ratio / 0.986, abs_tol=1.5e-3)


def test_airflow_without_a_plate_comes_from_the_face() -> None:
    assert defaults.airflow(None, None, None, 0.066).value == pytest.approx(1.2 * 0.066)
    cold = airflow(1e-4, 2.0, 0.4, 0.066)  # the curve ends above zero there
    assert cold.value == pytest.approx(1.2 * 0.066)


def test_limits_come_from_the_original_refrigerant() -> None:
    # COMPUTED with CoolProp 8.0.0: R-22 at 63 and 26.7 °C, bar absolute.
    high, low = (defaults.side_pressure("R-22", high=high) for high in (True, False))
    assert high is not None
    assert low is not None
    assert (high.value, low.value) == pytest.approx((25.89e5, 10.93e5))
    assert defaults.side_pressure(None, high=True) is None
    assert defaults.side_pressure(None, high=False) is None


def test_the_atmosphere_thins_with_altitude() -> None:
    assert defaults.atmospheric_pressure(0.0) == STANDARD_ATMOSPHERE
    # ASHRAE Handbook Fundamentals 2009 SI ch. 1, table 1: kPa at altitude in m. MEMORY 0.9.
    # 0.01 kPa: the table prints three decimals of an older rounding.
    for altitude, kilopascal in [(500.0, 95.461), (1000.0, 89.875), (2000.0, 79.495)]:
        assert defaults.atmospheric_pressure(altitude) / 1e3 == pytest.approx(kilopascal, abs=0.01)


def test_a_cubic_map_changes_its_unit_of_temperature_exactly() -> None:
    coefficients = (3.0, -0.7, 0.4, 0.02, -0.03, 0.05, 1e-4, -2e-4, 3e-4, -1e-4)

    def value(c: tuple[float, ...], s: float, d: float) -> float:
        terms = (1.0, s, d, s * s, s * d, d * d, s**3, d * s * s, s * d * d, d**3)
        return sum(a * b for a, b in zip(c, terms, strict=True))

    celsius = fahrenheit_to_celsius(coefficients)
    for s, d in [(-20.0, 40.0), (7.2, 54.4), (0.0, 0.0), (13.0, 31.0)]:
        ours = value(celsius, s, d)
        assert math.isclose(ours, value(coefficients, 1.8 * s + 32.0, 1.8 * d + 32.0), rel_tol=1e-9)

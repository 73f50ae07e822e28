"""Numbers and judgements in words."""

import dataclasses
import math

import pytest

from sweatline.answers import Range
from sweatline.cli.quantity import Series
from sweatline.design.verdict import Verdict
from sweatline.errors import JobError, OutOfRange, UnitError
from sweatline.report.sentences import chance, judgement, outside, verdict_number
from sweatline.units import KINDS, Kind, Scale, quantity, written_system

SI = Scale("SI")
US = Scale("US")

VERDICT = Verdict(
    key="frosting",
    fault="frosting",
    state="holds",
    number=275.15,
    limit=273.15,
    kind="temperature",
    probability=0.25,
    source="physics",
    sentence="coldest surface",
    safety=False,
    final=False,
    doubt=None,
)


def test_a_column_has_one_unit_and_one_number_of_decimals() -> None:
    unit, cells = SI.column([0.0001, 0.00001, None, 0.0], "water removal")
    assert unit == "L/day"
    assert cells == ["8.66", "0.87", "-", "0.00"]
    assert SI.column([306.15, 264.85], "temperature") == ("°C", ["33.0", "-8.3"])


def test_noise_about_zero_is_shown_as_zero_without_a_sign() -> None:
    assert SI.column([1e-4, -1e-20, 3e-19], "water removal")[1][1:] == ["0.00", "0.00"]


def test_a_column_of_several_units_keeps_them_in_its_cells() -> None:
    unit, cells = US.column([150e3, 50e3], "pressure")
    assert unit == ""
    assert cells[0].endswith("psig")
    assert cells[1].endswith("inHg vacuum")


def test_an_empty_column_has_no_unit() -> None:
    assert SI.column([None, math.nan], "power") == ("", ["-", "-"])
    assert SI.column([], "power") == ("", [])


def test_gauges_are_read_from_the_local_atmosphere() -> None:
    assert Scale("SI", 80e3).show(280e3, "pressure") == "2.00 bar(g)"
    assert SI.show(301325.0, "pressure") == "2.00 bar(g)"


def test_a_band_is_one_range_with_one_unit() -> None:
    band = Range(low=0.0937, middle=0.1, high=0.107)
    assert SI.range(band, "mass") == "94 to 107 g"
    assert SI.range(None, "mass") == ""
    assert SI.range(Range(low=math.nan, middle=math.nan, high=1.0), "mass") == ""


@pytest.mark.parametrize(
    ("state", "number", "limit", "said"),
    [
        ("holds", 275.15, 273.15, "2.0 °C, at least 0.0 °C"),
        ("fails", 271.15, 273.15, "-2.0 °C, at least 0.0 °C"),
        ("holds", 350.15, 393.15, "77.0 °C, at most 120 °C"),
        ("fails", 400.15, 393.15, "127 °C, at most 120 °C"),
        ("note", 400.15, 393.15, "127 °C, at most 120 °C"),
        ("fails", 393.16, 393.15, "120 °C, on its limit"),
    ],
)
def test_the_side_of_a_limit_is_told(state: str, number: float, limit: float, said: str) -> None:
    verdict = dataclasses.replace(VERDICT, state=state, number=number, limit=limit)  # type: ignore[arg-type]
    assert judgement(verdict, SI, 0) == f"frosting: {said}"


def test_a_judgement_without_number_is_its_fault_alone() -> None:
    verdict = dataclasses.replace(VERDICT, number=None, limit=None, probability=None)
    assert judgement(verdict, SI, 32) == "frosting"


def test_every_kind_of_a_verdicts_number_can_be_said() -> None:
    for kind in KINDS:
        assert verdict_number(1.5e5, kind, SI)
        assert verdict_number(1.5e5, kind, US)
    assert verdict_number(0.0024, "concentration", SI) == "2.40 g/m³"
    # 1 lb in 1000 ft³ is 16.02 g in a cubic metre.
    assert verdict_number(0.01601846, "concentration", US) == "1.00 lb/1000 ft³"


@pytest.mark.parametrize(
    ("key", "quality", "said"),
    [
        ("starved", -0.04, "x: none"),
        ("starved", 0.031, "x: 3 % of the flow"),
        ("flooding_back", 1.02, "x: none"),
        ("flooding_back", 0.9, "x: 10 % of the flow"),
    ],
)
def test_a_vapour_quality_is_told_as_the_part_of_the_flow_at_fault(
    key: str, quality: float, said: str
) -> None:
    verdict = dataclasses.replace(
        VERDICT, key=key, fault="x", number=quality, limit=0.0, kind="ratio"
    )
    assert judgement(verdict, SI, 0) == said


def test_a_chance_says_no_more_than_its_draws_can() -> None:
    assert chance(0.5 / 33, 32) == "chance below 3 %"
    assert chance(32.5 / 33, 32) == "chance above 97 %"
    assert chance(8.5 / 33, 32) == "chance 26 %"
    assert chance(0.5 / 1025, 1024) == "chance below 1 %"
    assert chance(1024.5 / 1025, 1024) == "chance above 99 %"


def test_a_value_outside_a_table_is_told_as_a_gauge_reads_it() -> None:
    error = OutOfRange(
        "outside the table", name="pressure", value=9e6, low=2e5, high=4e6, unit="Pa"
    )
    assert outside(error, SI) == (
        "outside the table: pressure 89.0 bar(g), allowed 0.99 bar(g) to 39.0 bar(g)"
    )
    other = OutOfRange("outside", name="bore", value=1.0, low=0.0, high=0.5, unit="m")
    assert outside(other, SI) == str(other)


@pytest.mark.parametrize(
    ("written", "system"),
    [
        ("27 psig", "US"),
        ("27psig", "US"),
        ("10 inHg vacuum", "US"),
        ("32 °F", "US"),
        ("32F", "US"),
        ("0.042 in", "US"),
        ('0.042"', "US"),
        ("500 micron", "US"),
        ("2 bar(g)", "SI"),
        ("0 C", "SI"),
        ("0 °C", "SI"),
        ("0.9 mm", "SI"),
        ("290 kPa abs", "SI"),
        ("9.5 kg/h", "SI"),
    ],
)
def test_the_answer_is_in_the_units_of_the_question(written: str, system: str) -> None:
    assert written_system(None, written) == system
    assert written_system(written, wanted="us") == "US"
    assert written_system(written, wanted="si") == "SI"


def test_a_quantity_names_its_option_when_it_is_wrong() -> None:
    assert quantity("8 oz", "mass", "--charge") == pytest.approx(0.2268, rel=1e-4)
    with pytest.raises(UnitError, match="--charge: a mass without a unit"):
        quantity("8", "mass", "--charge")
    with pytest.raises(JobError, match=r"--charge: not believable here.*at least 1 g"):
        quantity("0 g", "mass", "--charge", low=1e-3)
    with pytest.raises(JobError, match="at most"):
        quantity("9 kg", "mass", "--charge", high=1.0)


def series(text: str, kind: Kind, low: float, high: float) -> list[float]:
    return Series(kind, low=low, high=high, example="8:32:2 C").convert(text, None, None)


def test_a_series_has_both_its_ends() -> None:
    got = series("8:32:4 C", "temperature", 240.0, 340.0)
    assert got == pytest.approx([281.15 + 4 * i for i in range(7)])
    tenths = series("0:1:0.1 K", "temperature difference", 0.0, 2.0)
    assert len(tenths) == 11
    fahrenheit = series("50:60:5 F", "temperature", 240.0, 340.0)
    assert fahrenheit == pytest.approx([283.15, 285.928, 288.706], abs=1e-3)
    assert series("12 C", "temperature", 240.0, 340.0) == [285.15]


def test_a_series_that_misses_its_last_value_stops_before_it() -> None:
    got = series("40:95:10 %", "relative humidity", 0.0, 1.0)
    assert got == pytest.approx([0.4, 0.5, 0.6, 0.7, 0.8, 0.9])

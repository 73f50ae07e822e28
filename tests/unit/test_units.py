"""Quantities as a technician writes them."""

import math

import pytest

from sweatline.errors import JobError, UnitError
from sweatline.units import (
    EXAMPLES,
    KINDS,
    Kind,
    Scale,
    example_of,
    parse,
    quantity,
    show,
    unbroken,
    written_system,
)

PATM = 101325.0
PSI = 6894.757293168361

READ: list[tuple[str, Kind, float]] = [
    ("27 psig", "pressure", PATM + 27 * PSI),
    ("27psig", "pressure", PATM + 27 * PSI),
    ("27 PSI G", "pressure", PATM + 27 * PSI),
    ("27 psi gauge", "pressure", PATM + 27 * PSI),
    ("27 psi(gage)", "pressure", PATM + 27 * PSI),
    ("42 psia", "pressure", 42 * PSI),
    ("42 psi abs.", "pressure", 42 * PSI),
    ("1.9 bar(g)", "pressure", PATM + 1.9e5),
    ("1.9 barg", "pressure", PATM + 1.9e5),
    ("1,9 bar(g)", "pressure", PATM + 1.9e5),
    ("1.9 bar [g]", "pressure", PATM + 1.9e5),
    ("1.9 bars(g)", "pressure", PATM + 1.9e5),
    ("1.9 bars gauge", "pressure", PATM + 1.9e5),
    ("2.9 bar(a)", "pressure", 2.9e5),
    ("290 kPa abs", "pressure", 2.9e5),
    ("0.19 MPa(g)", "pressure", PATM + 1.9e5),
    ("-0.3 bar(g)", "pressure", PATM - 0.3e5),
    ("−0.3 bar(g)", "pressure", PATM - 0.3e5),
    ("0 psig", "pressure", PATM),
    ("10 inHg vacuum", "pressure", PATM - 33863.88640341),
    ('10" Hg vac.', "pressure", PATM - 33863.88640341),
    ("10 in. Hg vacuum", "pressure", PATM - 33863.88640341),
    ("500 micron", "absolute pressure", 66.6611937075),
    ("500 microns", "absolute pressure", 66.6611937075),
    ("500 µmHg", "absolute pressure", 66.6611937075),
    ("0.5 Torr", "absolute pressure", 66.6611842105),
    ("62 °F", "temperature", 289.81666666666666),
    ("62F", "temperature", 289.81666666666666),
    ("62 deg F", "temperature", 289.81666666666666),
    ("62 degrees F", "temperature", 289.81666666666666),
    ("62℉", "temperature", 289.81666666666666),
    ("17 C", "temperature", 290.15),
    ("17 º C", "temperature", 290.15),
    ("-5°C", "temperature", 268.15),
    ("290 K", "temperature", 290.0),
    ("8 K", "temperature difference", 8.0),
    ("8 °C", "temperature difference", 8.0),
    ("9 °F", "temperature difference", 5.0),
    ("9 F°", "temperature difference", 5.0),
    ("55 %RH", "relative humidity", 0.55),
    ("55 % rh", "relative humidity", 0.55),
    ("55 %", "relative humidity", 0.55),
    ("4.9 cc", "volume", 4.9e-6),
    ("4.9 CCM", "volume", 4.9e-6),
    ("4.9 cm3/rev", "volume", 4.9e-6),
    ("4.9 cm³ / rev", "volume", 4.9e-6),
    ("4.9 cm^3 per rev", "volume", 4.9e-6),
    ("0.3 cu. in.", "volume", 0.3 * 0.0254**3),
    ("1/2 oz", "mass", 0.5 * 0.45359237 / 16),
    ("½ oz", "mass", 0.5 * 0.45359237 / 16),
    ("9 1/2 oz", "mass", 9.5 * 0.45359237 / 16),
    ("9½ oz", "mass", 9.5 * 0.45359237 / 16),
    ("9-1/2 oz", "mass", 9.5 * 0.45359237 / 16),
    ("1 lb 2 oz", "mass", 1.125 * 0.45359237),
    ("1 lb, 2 oz", "mass", 1.125 * 0.45359237),
    ("1 lb and 2 oz", "mass", 1.125 * 0.45359237),
    ("1 lb 2 1/2 oz", "mass", (1 + 2.5 / 16) * 0.45359237),
    ("0.042 in", "bore", 0.042 * 0.0254),
    ("0,042 in", "bore", 0.042 * 0.0254),
    (".042 in", "bore", 0.042 * 0.0254),
    ("42 thou", "bore", 0.042 * 0.0254),
    ("1/4 in", "length", 0.00635),
    ('1/4"', "length", 0.00635),
    ("¼″", "length", 0.00635),
    ("8 ft", "length", 2.4384),
    ("8'", "length", 2.4384),
    ("5' 2\"", "length", 62 * 0.0254),
    ("8 ft 6 1/2 in", "length", 102.5 * 0.0254),
    ("390 W", "power", 390.0),
    ("390w", "power", 390.0),
    ("0.39 kW", "power", 390.0),
    ("1/2 hp", "motor size", 0.5 * 745.6998715822702),
    ("4000 BTU/h", "cooling capacity", 4000 * 1055.05585262 / 3600),
    ("4000 Btu / hr", "cooling capacity", 4000 * 1055.05585262 / 3600),
    ("115 V", "voltage", 115.0),
    ("115 VAC", "voltage", 115.0),
    ("60 Hz", "frequency", 60.0),
    ("2.1 A", "current", 2.1),
    ("150 cfm", "volume flow", 150 * 0.3048**3 / 60),
    ("250 m3/h", "volume flow", 250 / 3600),
    ("250 m³/h", "volume flow", 250 / 3600),
    ("14 fpi", "fin pitch", 0.0254 / 14),
    ("14 fins per inch", "fin pitch", 0.0254 / 14),
    ("1.8 mm", "fin pitch", 1.8e-3),
    ("22 pints/day", "water removal", 22 * 998.2 * 231 * 0.0254**3 / 8 / 86400),
    ("22 pints per day", "water removal", 22 * 998.2 * 231 * 0.0254**3 / 8 / 86400),
    ("12 L/day", "water removal", 12 * 0.9982 / 86400),
    ("12 l/24 h", "water removal", 12 * 0.9982 / 86400),
    ("5 g/yr", "leak rate", 5e-3 / (365.25 * 86400)),
    ("1.8 L/kWh", "water per energy", 1.8 * 0.9982 / 3.6e6),
    ("0.5 kWh/L", "water per energy", 2 * 0.9982 / 3.6e6),
    ("15 µF", "capacitance", 15e-6),
    ("88 MFD", "capacitance", 88e-6),
    ("4.7 Ω", "resistance", 4.7),
    ("1 h 30 min", "time", 5400.0),
    ("2850 rpm", "rotation", 47.5),
    ("7.5×10⁻⁷ Pa m3/s", "gas throughput", 7.5e-7),
    ("1e-5 mbar L/s", "gas throughput", 1e-6),
    ("0.8", "ratio", 0.8),
    ("80 %", "ratio", 0.8),
    ("1 234 W", "power", 1234.0),
    ("1,234.5 W", "power", 1234.5),
    ("1.234,5 W", "power", 1234.5),
    ("1,234,000 W", "power", 1234000.0),
    ("  390   W  ", "power", 390.0),
    ("8 ft.", "length", 2.4384),
]


@pytest.mark.parametrize(("text", "kind", "value"), READ)
def test_read(text: str, kind: Kind, value: float) -> None:
    parsed = parse(text, kind)
    assert math.isclose(parsed.value, value, rel_tol=1e-12)
    assert parsed.sd is None
    assert parsed.text == " ".join(text.split())


@pytest.mark.parametrize("kind", KINDS)
def test_every_example_shown_to_a_person_can_be_read(kind: Kind) -> None:
    for example in EXAMPLES[kind].split(", "):
        parse(example, kind)


UNCERTAIN: list[tuple[str, Kind, float, float]] = [
    ("4.9 ± 0.1 cc", "volume", 4.9e-6, 0.1e-6),
    ("4.9 +/- 0.1 cc", "volume", 4.9e-6, 0.1e-6),
    ("4.9+-0.1 cc", "volume", 4.9e-6, 0.1e-6),
    ("(4.9 ± 0.1) cc", "volume", 4.9e-6, 0.1e-6),
    ("4.9 cc ± 0.1 cc", "volume", 4.9e-6, 0.1e-6),
    ("4.9 cc ± 2 %", "volume", 4.9e-6, 0.098e-6),
    ("62 ± 1 °F", "temperature", 289.81666666666666, 5 / 9),
    ("62 °F ± 1 °F", "temperature", 289.81666666666666, 5 / 9),
    ("17 °C ± 0.5 K", "temperature", 290.15, 0.5),
    ("55 ± 3 %RH", "relative humidity", 0.55, 0.03),
    ("55 %RH ± 3 %", "relative humidity", 0.55, 0.03),
    ("27 ± 1 psig", "pressure", PATM + 27 * PSI, PSI),
    ("27 psig ± 1 psi", "pressure", PATM + 27 * PSI, PSI),
    ("10 ± 1 inHg vacuum", "pressure", PATM - 33863.88640341, 3386.388640341),
    ("14 ± 0.5 fpi", "fin pitch", 0.0254 / 14, 0.0254 * 0.5 / 14**2),
    ("1 lb 2 oz ± 1/2 oz", "mass", 1.125 * 0.45359237, 0.5 * 0.45359237 / 16),
    ("0.9 ± 0", "ratio", 0.9, 0.0),
]


@pytest.mark.parametrize(("text", "kind", "value", "sd"), UNCERTAIN)
def test_read_uncertainty(text: str, kind: Kind, value: float, sd: float) -> None:
    parsed = parse(text, kind)
    assert math.isclose(parsed.value, value, rel_tol=1e-12)
    assert parsed.sd is not None
    assert math.isclose(parsed.sd, sd, rel_tol=1e-12)


REFUSED: list[tuple[str, Kind, str]] = [
    ("27 psi", "pressure", "write psig or psia"),
    ("1.9 bar", "pressure", "write bar(g) or bar(a)"),
    ("290 kPa", "pressure", "write kPa(g) or kPa abs"),
    ("10 inHg", "pressure", "write inHg vacuum, inHg(g) or inHg abs"),
    ("-10 inHg vacuum", "pressure", "write 10 inHg vacuum"),
    ("-20 psig", "pressure", "below a perfect vacuum"),
    ("30 inHg vacuum", "pressure", "29.92 inHg"),
    ("27 psia", "gauge pressure", "is a unit of pressure"),
    ("27 psig", "absolute pressure", "is a unit of pressure"),
    ("27 psgi", "pressure", "nearest: psig"),
    ("27 cfm", "pressure", "is a unit of volume flow"),
    ("8 mPa abs", "pressure", "unknown unit"),
    ("27", "pressure", "without a unit"),
    ("", "mass", "no number"),
    ("five oz", "mass", "no number"),
    ("4,000 BTU/h", "power", "write 4000 or 4.000"),
    ("1.2.3 W", "power", "not a number"),
    ("1,23,456 W", "power", "not a number"),
    ("1/0 in", "length", "zero below the bar"),
    ("9e999 W", "power", "too large"),
    ("1e400 W", "power", "too large"),
    ("-1 K", "temperature", "below absolute zero"),
    ("-500 °F", "temperature", "below absolute zero"),
    ("0 fpi", "fin pitch", "above zero"),
    ("2 oz 1 lb", "mass", "large unit to small"),
    ("1 lb -2 oz", "mass", "unknown unit"),
    ("1 lb 2", "mass", "without a unit"),
    ("4.9 ± cc", "volume", "after the plus-minus"),
    ("4.9 ± -1 cc", "volume", "after the plus-minus"),
    ("4.9 cc ± 0.1 in", "volume", "in another unit"),
    ("W" * 300, "power", "too long"),
]


@pytest.mark.parametrize(("text", "kind", "says"), REFUSED)
def test_refused(text: str, kind: Kind, says: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse(text, kind)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_an_error_has_fields_and_is_a_job_error() -> None:
    with pytest.raises(JobError) as caught:
        parse("27 psi", "pressure")
    assert caught.value.read == "27 psi"
    assert caught.value.allowed == "write psig or psia"


def test_gauge_zero_follows_the_altitude() -> None:
    low = parse("27 psig", "pressure", atmosphere=80000.0)
    assert math.isclose(low.value, 80000.0 + 27 * PSI, rel_tol=1e-12)
    assert parse("42 psia", "pressure", atmosphere=80000.0).value == 42 * PSI
    with pytest.raises(UnitError, match=r"deepest vacuum at this altitude is 23\.62 inHg"):
        parse("25 inHg vacuum", "pressure", atmosphere=80000.0)


SHOWN: list[tuple[float, Kind, str, str]] = [
    (PATM + 27 * PSI, "pressure", "27.0 psig", "1.86 bar(g)"),
    (PATM + 1.9e5, "pressure", "27.6 psig", "1.90 bar(g)"),
    (PATM - 33863.88640341, "pressure", "10.0 inHg vacuum", "-0.34 bar(g)"),
    (PATM, "pressure", "0.0 psig", "0.00 bar(g)"),
    (2.9e5, "absolute pressure", "42.1 psia", "2.90 bar(a)"),
    (66.6611937075, "absolute pressure", "500 micron", "66.7 Pa abs"),
    (24.9, "pressure difference", "0.100 inH2O", "24.9 Pa"),
    (289.816666666, "temperature", "62.0 °F", "16.7 °C"),
    (273.15, "temperature", "32.0 °F", "0.0 °C"),
    (8.0, "temperature difference", "14.4 °F", "8.0 K"),
    (0.26, "temperature difference", "0.5 °F", "0.3 K"),
    (0.00952, "length", "0.375 in", "9.52 mm"),
    (0.26035, "length", "10.25 in", "260 mm"),
    (1.1176, "length", "44.0 in", "1.12 m"),
    (2.4384, "length", "96.0 in", "2.44 m"),
    (6.096, "length", "20.0 ft", "6.10 m"),
    (0.11e-3, "length", "0.0043 in", "0.110 mm"),
    (0.35e-3, "length", "0.014 in", "0.350 mm"),
    (0.75e-6, "roughness", "29.5 µin", "0.750 µm"),
    (0.1e-3, "roughness", "3.94 mil", "100 µm"),
    (0.0010668, "bore", "0.042 in", "1.07 mm"),
    (0.0254 / 14, "fin pitch", "14.0 fpi", "1.81 mm"),
    (0.31, "mass", "10.9 oz", "310 g"),
    (0.2693, "mass", "9.5 oz", "269 g"),
    (0.0123, "mass", "0.43 oz", "12 g"),
    (0.0031, "mass", "0.11 oz", "3.1 g"),
    (2.5, "mass", "5.51 lb", "2.50 kg"),
    (390.0, "power", "390 W", "390 W"),
    (1172.284, "cooling capacity", "4000 BTU/h", "1172 W"),
    (12 * 0.9982 / 86400, "water removal", "25.4 pints/day", "12.0 L/day"),
    (0.075, "volume flow", "159 cfm", "270 m³/h"),
    (0.55, "relative humidity", "55.0 %RH", "55.0 %RH"),
    (14.0, "area", "151 ft²", "14.0 m²"),
    (4.9e-6, "volume", "0.299 in³", "4.90 cm³"),
    (250e-6, "volume", "8.45 fl oz", "250 cm³"),
    (0.012, "volume", "3.17 gal", "12.0 L"),
    (1.8 * 0.9982 / 3.6e6, "water per energy", "3.80 pints/kWh", "1.80 L/kWh"),
    (5400.0, "time", "90.0 min", "90.0 min"),
    (math.nan, "power", "not known", "not known"),
    (0.0, "mass", "0 oz", "0 g"),
]


@pytest.mark.parametrize(("value", "kind", "us", "si"), SHOWN)
def test_show(value: float, kind: Kind, us: str, si: str) -> None:
    assert show(value, kind, "US") == us
    assert show(value, kind, "SI") == si


def test_show_digits_and_atmosphere() -> None:
    assert show(PATM + 27 * PSI, "pressure", "US", 4) == "27.00 psig"
    assert show(1234.5678, "power", "SI", 2) == "1235 W"
    assert show(80000.0, "pressure", "US", atmosphere=80000.0) == "0.0 psig"


def test_show_spread_is_a_difference() -> None:
    assert Scale("US").spread(5 / 9, 290.0, "temperature") == "1.0 °F"
    assert Scale("SI").spread(0.5, 290.0, "temperature") == "0.50 K"
    assert Scale("US").spread(PSI, PATM + 27 * PSI, "pressure") == "1.0 psi"
    assert Scale("US").spread(0.0254 * 0.5 / 14**2, 0.0254 / 14, "fin pitch") == "0.50 fpi"
    assert Scale("SI").spread(0.0, 1.0, "mass") == ""


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_metric_is_shown_in_a_us_job(kind: Kind) -> None:
    metric = {"mm", "m", "cm", "µm", "cm²", "m²", "cm³", "m³", "L", "g", "kg", "°C", "K", "bar(g)"}
    metric |= {"kPa", "Pa", "Pa abs", "bar", "bar(a)", "m³/h", "kg/h", "L/day", "L/kWh", "m/s"}
    metric |= {"kg/(m2*s)", "kW/m2", "W/m2"}
    for value in (1e-7, 1e-5, 1e-3, 0.1, 1.0, 30.0, 300.0, 2e5):
        for text in (show(value, kind, "US"), Scale("US").spread(value, 2.0 * value, kind)):
            assert text.partition(" ")[2] not in metric, text


def test_allowed_ranges_in_words() -> None:
    assert Scale("US").limits(0.02, 5.0, "length") == "0.787 in to 16.4 ft"
    assert Scale("SI").limits(None, 0.5, "mass") == "at most 500 g"
    assert Scale("SI").limits(1e-3, None, "mass") == "at least 1 g"
    assert Scale("SI").limits(0.0, 3e7, "time") == "0 s to 347 days"


def test_a_quantity_behind_an_option_has_its_limits() -> None:
    assert math.isclose(quantity("10 oz", "mass", "--charge", low=0.1), 0.28349523125)
    with pytest.raises(JobError, match=r"--charge: not believable here.*at most 35\.3 oz") as error:
        quantity("900 oz", "mass", "--charge", high=1.0)
    assert error.value.field == "--charge"


def test_the_unit_system_of_what_a_person_wrote() -> None:
    for us in ("27 psig", "62 F", "3/8 in", '4"', "22 pints/day", "12 fl oz", "100 cfm", "1 gal"):
        assert written_system(us) == "US", us
    for si in ("1.9 bar(g)", "17 °C", "9.5 mm", "15 uF", "12 L/day", "4.9 cc", "60 Hz", "0.5 kPa"):
        assert written_system(si) == "SI", si
    assert written_system("9.5 mm", wanted="us") == "US"


@pytest.mark.parametrize("kind", KINDS)
def test_an_example_of_each_kind_can_be_read(kind: Kind) -> None:
    for system in ("US", "SI"):
        assert parse(example_of(kind, system), kind).text in EXAMPLES[kind]
    assert (example_of("volume", "US"), example_of("volume", "SI")) == ("0.3 in3", "4.9 cc")


@pytest.mark.parametrize(
    "text",
    ["about 4 ft", "About 4 ft", "~4 ft", "approx. 4 ft", "ca. 4 ft", "roughly 4 ft", "≈ 4 ft"],
)
def test_a_rough_value_is_read_as_one(text: str) -> None:
    found = parse(text, "length")
    assert found.about
    assert found.value == pytest.approx(1.2192)
    assert found.text == text


def test_a_value_without_such_a_word_is_no_rough_one() -> None:
    assert not parse("4 ft", "length").about
    with pytest.raises(UnitError):
        parse("about", "length")
    with pytest.raises(UnitError, match="without a unit"):
        parse("about 4", "length")


def test_a_column_has_one_unit_unless_a_value_would_lose_its_digits() -> None:
    water = [1.5e-5, 0.0, 1.4e-3, 36e-3]  # m3 of a month
    assert Scale("US").column(water, "volume") == ("gal", ["0.00", "0.00", "0.37", "9.51"])
    assert Scale("SI").column(water, "volume") == ("L", ["0.0", "0.0", "1.4", "36.0"])
    assert Scale("SI").column([1.23, 0.003], "length") == ("", ["1.23 m", "3.00 mm"])
    unit, cells = Scale("US").column([9e4, 2e5], "pressure")  # below and above the atmosphere
    assert (unit, cells[0]) == ("", "3.3 inHg vacuum")


def test_no_line_ends_between_a_number_and_its_unit() -> None:
    text = "24 g at 62.0 °F, 12 days, 0.5 L/day, 2 %RH; 3 A of them, 4 amps, 5 readings"
    apart = text.replace("2 %RH", "2~%RH").replace("24 g", "24~g").replace("3 A", "3~A")
    for unit in ("°F", "days", "L/day"):
        apart = apart.replace(f" {unit}", f"~{unit}")
    assert unbroken(text) == apart.replace("~", "\N{NO-BREAK SPACE}")
    assert quantity("24\N{NO-BREAK SPACE}g", "mass", "dose", low=0.0, high=1.0) == 0.024

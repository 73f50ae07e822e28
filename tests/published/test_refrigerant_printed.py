"""Refrigerant tables against printed tables and what technicians see on gauges."""

from collections.abc import Callable
from typing import Any

import pytest

from sweatline.refrigerant import table as kernels
from sweatline.refrigerant.refrigerant import load

MODEL = "Refrigerant tables"
PSI = 6894.757
ATMOSPHERE_PSI = 14.696


def kelvin(t: float) -> float:
    return t + 273.15


# A printed R-12 table of a university course: t [C], p [bar], v_g [m3/kg], h_f, h_g [kJ/kg],
# h and s at 15 K superheat, s_g. Every 20 K of it from -40 to 60 °C.
R12 = [
    (-40, 0.6417, 0.2419, 0.0, 169.6, 178.0, 0.7623, 0.7274),
    (-20, 1.509, 0.1088, 17.82, 178.73, 187.75, 0.7432, 0.7087),
    (0, 3.086, 0.0554, 36.05, 187.53, 197.25, 0.7311, 0.6966),
    (20, 5.673, 0.0308, 54.87, 195.78, 206.32, 0.7235, 0.6885),
    (40, 9.607, 0.0182, 74.59, 203.2, 214.76, 0.7185, 0.6825),
    (60, 15.26, 0.0111, 95.74, 209.26, 222.23, 0.7146, 0.6765),
]


@pytest.mark.parametrize(("t", "p", "vg", "hf", "hg", "h15", "s15", "sg"), R12)
def test_printed_table_of_r12(
    published: Callable[..., Any],
    t: float,
    p: float,
    vg: float,
    hf: float,
    hg: float,
    h15: float,
    s15: float,
    sg: float,
) -> None:
    r = load("R-12")
    ours = r.saturation_pressure_bubble(kelvin(t))
    dry = r.state(p=ours, quality=1.0)
    warm = r.state(p=ours, T=kelvin(t) + 15.0)
    superheat = (warm.enthalpy - dry.enthalpy) / 1e3
    disorder = (warm.entropy - dry.entropy) / 1e3
    rows = (
        ("pressure", "bar", p, ours / 1e5, 3.5e-3),
        ("specific volume of vapour", "m3/kg", vg, dry.volume, 0.015),
        ("latent heat", "kJ/kg", hg - hf, r.latent_heat(ours) / 1e3, 0.015),
        ("enthalpy of 15 K superheat", "kJ/kg", h15 - hg, superheat, 0.04),
        ("entropy of 15 K superheat", "kJ/(kg K)", s15 - sg, disorder, 0.04),
    )
    for quantity, unit, printed, value, tolerance in rows:
        published(
            model=MODEL,
            source="printed R-12 table of a mechanical engineering laboratory course",
            status="PUBLISHED",
            basis="table",
            quantity=f"R-12 {quantity} at {t} °C",
            unit=unit,
            printed=printed,
            ours=value,
            tolerance=tolerance,
            reason="an old equation: its vapour takes up to 4 % more heat than the modern one",
        )


# ASHRAE Fundamentals, saturation tables: fluid, t [C], p [MPa], liquid density [kg/m3],
# vapour volume [m3/kg], enthalpies [kJ/kg] above 200 at 0 C.
ASHRAE = [
    ("R-134a", 0.0, 0.29280, 1294.8, 0.06931, 200.00, 398.60),
    ("R-134a", 40.0, 1.0166, 1146.7, 0.01997, 256.41, 419.43),
    ("R-22", 0.0, 0.49799, 1281.5, 0.04714, 200.00, 405.05),
    ("R-22", 40.0, 1.5336, 1128.5, 0.01511, 249.65, 416.25),
]


@pytest.mark.parametrize(("name", "t", "p", "density", "vg", "hf", "hg"), ASHRAE)
def test_handbook_saturation_tables(
    published: Callable[..., Any],
    name: str,
    t: float,
    p: float,
    density: float,
    vg: float,
    hf: float,
    hg: float,
) -> None:
    r = load(name)
    ours = r.saturation_pressure_bubble(kelvin(t))
    _, _, hl, h, vl, v, _, _ = kernels.saturation(r.table, ours)
    rows = (
        ("pressure", "MPa", p, ours / 1e6),
        ("liquid density", "kg/m3", density, 1.0 / vl),
        ("vapour volume", "m3/kg", vg, v),
        ("liquid enthalpy", "kJ/kg", hf, hl / 1e3),
        ("vapour enthalpy", "kJ/kg", hg, h / 1e3),
    )
    for quantity, unit, printed, value in rows:
        published(
            model=MODEL,
            source="ASHRAE Fundamentals, refrigerant saturation tables",
            status="MEMORY 0.9",
            basis="table",
            quantity=f"{name} {quantity} at {t:g} °C",
            unit=unit,
            printed=printed,
            ours=value,
            tolerance=1.5e-3,
            reason="same equations of state; recalled to the last printed digit but one",
        )


# ASHRAE Handbook Fundamentals 2021, chapter 29, Table 2 (Standard 34): bubble and dew point at one
# atmosphere [C]. No number of ours was chosen with any of them. R-452A is left out: its row prints
# another blend's values.
NORMAL_POINTS = [
    ("R-404A", -46.6, -45.8),
    ("R-407C", -43.8, -36.7),
    ("R-410A", -51.6, -51.5),
    ("R-417A", -38.0, -32.9),
    ("R-422B", -40.5, -35.6),
    ("R-422D", -43.2, -38.4),
    ("R-427A", -43.0, -36.3),
    ("R-1270/R-290 30/70", -44.6, -44.2),
    ("R-1270/R-290 5/95", -42.7, -42.5),
    ("R-1270/R-290 25/75", -44.3, -43.9),
    ("R-436A", -34.3, -26.2),
    ("R-436B", -33.4, -25.0),
    ("R-1270/R-290/R-600a 55/40/5", -44.8, -41.2),
    ("R-448A", -45.9, -39.8),
    ("R-449A", -46.0, -39.9),
    ("R-450A", -23.4, -22.8),
    ("R-454B", -50.9, -50.0),
    ("R-500", -33.0, -33.0),
    ("R-507A", -46.7, -46.7),
    ("R-513A", -29.1, -29.1),
]


NOT_MET = {
    "R-417A": "the equation has other pairs of HFC and butane than the print",
    "R-422B": "the equation has other pairs of HFC and butane than the print",
    "R-1270/R-290/R-600a 55/40/5": "the print lies farther from Raoult's law than ours",
}


@pytest.mark.parametrize(("name", "bubble", "dew"), NORMAL_POINTS)
def test_normal_bubble_and_dew_points_of_blends(
    published: Callable[..., Any], name: str, bubble: float, dew: float
) -> None:
    ours = load(name).saturation_temperature(101325.0)
    for point, printed, value in (("bubble", bubble, ours.bubble), ("dew", dew, ours.dew)):
        published(
            model=MODEL,
            source="ASHRAE Handbook Fundamentals 2021, chapter 29, Table 2",
            status="PUBLISHED",
            basis="table",
            quantity=f"{name} {point} point at one atmosphere",
            unit="°C",
            printed=printed,
            ours=value - 273.15,
            tolerance=1.0 if name == "R-500" else 0.5,  # printed to whole degrees
            kind="absolute",
            reason=NOT_MET.get(name, "equations of other years; printed to 0.1 °C"),
            aim_only=name in NOT_MET,
        )


# ASHRAE Fundamentals: fluid, phase, t [C], viscosity [uPa s].
VISCOSITY = [
    ("R-134a", "liquid", 20.0, 207.4, 0.03, "MEMORY 0.85"),
    ("R-134a", "vapour", 20.0, 11.5, 0.03, "MEMORY 0.85"),
    ("R-22", "liquid", 0.0, 217.0, 0.06, "MEMORY 0.6"),
    ("R-22", "vapour", 0.0, 11.4, 0.06, "MEMORY 0.7"),
    ("R-32", "liquid", 20.0, 120.0, 0.05, "MEMORY 0.7"),
]


@pytest.mark.parametrize(("name", "phase", "t", "printed", "tolerance", "status"), VISCOSITY)
def test_handbook_viscosity(
    published: Callable[..., Any],
    name: str,
    phase: str,
    t: float,
    printed: float,
    tolerance: float,
    status: str,
) -> None:
    r = load(name)
    mul, mug, *_ = kernels.saturation_transport(r.table, r.saturation_pressure_bubble(kelvin(t)))
    published(
        model=MODEL,
        source="ASHRAE Fundamentals, refrigerant saturation tables",
        status=status,
        basis="table",
        quantity=f"{name} viscosity of saturated {phase} at {t:g} °C",
        unit="uPa s",
        printed=printed,
        ours=(mul if phase == "liquid" else mug) * 1e6,
        tolerance=tolerance,
        reason="models of different years; a wrong model would be off by 10 to 25 %",
    )


def test_gauge_reading_of_r152a_at_freezing(published: Callable[..., Any]) -> None:
    published(
        model=MODEL,
        source="gauge readings of R-152a charges",
        status="common practice",
        quantity="R-152a boiling at 0 °C",
        unit="psi gauge",
        printed=24.5,
        ours=load("R-152a").saturation_pressure_bubble(273.15) / PSI - ATMOSPHERE_PSI,
        tolerance=1.0,
        kind="absolute",
        reason="said as 24 to 25 psig, read off a dial with divisions of 1 psi",
    )


def test_gauge_reading_of_r152a_in_fahrenheit(published: Callable[..., Any]) -> None:
    p = (27.0 + ATMOSPHERE_PSI) * PSI
    bubble = load("R-152a").saturation_temperature(p).bubble
    published(
        model=MODEL,
        source="gauge readings of R-152a charges",
        status="common practice",
        quantity="R-152a boiling temperature at 27 psig",
        unit="°F",
        printed=36.5,
        ours=(bubble - 273.15) * 1.8 + 32.0,
        tolerance=1.0,
        kind="absolute",
        reason="said as 36 to 37 °F",
    )


@pytest.mark.parametrize("t", [0.0, 20.0, 40.0, 55.0])
def test_r152a_runs_at_the_pressures_of_r12(published: Callable[..., Any], t: float) -> None:
    published(
        model=MODEL,
        source="trade rule for replacing R-12",
        status="common practice",
        quantity=f"R-152a pressure as a share of that of R-12 at {t:g} °C",
        unit="",
        printed=1.0,
        ours=load("R-152a").saturation_pressure_bubble(kelvin(t))
        / load("R-12").saturation_pressure_bubble(kelvin(t)),
        tolerance=0.15,
        reason="'almost the same' on a gauge: 14 % low at freezing, 3 % at condensing temperatures",
    )

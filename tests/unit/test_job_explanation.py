"""A job told back."""

import math
from pathlib import Path

import pytest

from sweatline.job.explanation import Row, explain
from sweatline.job.reading import read_job
from sweatline.units import parse

EXAMPLES = Path(__file__).parents[2] / "examples"


def rows(name: str) -> list[Row]:
    return list(explain(read_job(EXAMPLES / name)))


def row(name: str, part: str, field: str) -> Row:
    return next(r for r in rows(name) if r.part.startswith(part) and r.field == field)


@pytest.mark.parametrize("name", ["seed-store.toml", "boat-shed.toml"])
def test_rows_are_complete(name: str) -> None:
    found = rows(name)
    parts = [r.part for r in found]
    assert parts == sorted(parts, key=parts.index), "rows of one part stand together"
    origins = {r.origin for r in found}
    assert origins <= {"measured", "nameplate", "inferred", "default", "stated", "derived"}
    for r in found:
        assert r.value, r.field
        if r.origin in {"default", "inferred"}:
            assert r.note, r.field


def test_units_follow_the_job() -> None:
    si, us = rows("seed-store.toml"), rows("boat-shed.toml")
    assert row("seed-store.toml", "room", "temperature").value == "15.0 °C"
    assert row("boat-shed.toml", "room", "temperature").value == "64.0 °F"
    assert not any(r.value.endswith(("°F", "psig", " in")) for r in si)
    assert not any(r.value.endswith(("°C", "bar(g)", " mm")) for r in us)


def test_a_measured_row() -> None:
    assert row("seed-store.toml", "evaporator", "tube outer diameter") == Row(
        part="evaporator",
        field="tube outer diameter",
        value="9.52 mm",
        uncertainty="0.020 mm",
        origin="measured",
        note="calliper, 0.02 mm",
        written="9.52 mm",
    )


def test_a_default_row_says_so() -> None:
    found = row("boat-shed.toml", "evaporator", "circuits")
    assert (found.value, found.origin, found.note) == ("1", "default", "one circuit")


def test_derived_facts_of_a_coil_by_hand() -> None:
    # 2 rows of 10 tubes, 260 mm finned, 25.4 x 22 mm pitch, 9.52 x 0.35 mm tube, fins at 1.8 mm
    part = "evaporator"
    assert row("seed-store.toml", part, "face area").value == "660 cm²"  # 0.260 * 0.254
    assert row("seed-store.toml", part, "tube length").value == "5.20 m"  # 20 * 0.260
    volume = math.pi / 4.0 * 8.82**2 * 5200.0 / 1000.0
    found = parse(row("seed-store.toml", part, "volume inside the tubes").value, "volume")
    assert math.isclose(found.value * 1e6, volume, rel_tol=2e-3)  # shown to three digits
    holes = 20 * math.pi / 4.0 * 0.00952**2
    area = 0.260 / 1.8e-3 * 2.0 * (0.254 * 0.044 - holes)
    area += math.pi * 0.00952 * 5.2 * (1.0 - 0.11 / 1.8)
    found = parse(row("seed-store.toml", part, "outside area").value, "area")
    assert math.isclose(found.value, area, rel_tol=2e-3)


def test_the_uncertainty_of_a_derived_fact() -> None:
    # Face area: tape 0.5 % and calliper 0.02 mm on 25.4 mm, in quadrature.
    share = math.hypot(0.005, 0.02 / 25.4)
    found = parse(row("seed-store.toml", "evaporator", "face area").uncertainty, "area")
    assert math.isclose(found.value, share * 0.06604, rel_tol=0.02)  # shown to two digits


def test_a_compressor_with_only_a_rating() -> None:
    found = [r for r in rows("seed-store.toml") if r.part == "compressor 3: drinks cooler"]
    words = {r.field: r for r in found}
    assert words["displacement"].value == "not stated"
    assert words["rating condition"].value == "ASHRAE HBP"
    assert words["rated evaporating"].value == "7.2 °C"
    assert words["rated capacity"].uncertainty == "42 W"

"""A job told back."""

import json
import math
import re
from pathlib import Path

import pytest

from sweatline.job.explanation import Item, check, explain
from sweatline.job.reading import read_job, read_job_text
from sweatline.units import SI_SCALE, Scale, parse

EXAMPLES = Path(__file__).parents[2] / "examples"


def rows(name: str) -> list[Item]:
    return list(explain(read_job(EXAMPLES / name)))


def row(name: str, part: str, label: str) -> Item:
    return next(r for r in rows(name) if r.part.startswith(part) and r.label == label)


def shown(name: str, part: str, label: str) -> str:
    job = read_job(EXAMPLES / name)
    return row(name, part, label).shown(Scale(job.unit_system, job.place.atmospheric_pressure))


@pytest.mark.parametrize("name", ["seed-store.toml", "boat-shed.toml"])
def test_rows_are_complete(name: str) -> None:
    found = rows(name)
    parts = [r.part for r in found]
    assert parts == sorted(parts, key=parts.index), "rows of one part stand together"
    origins = {r.origin for r in found}
    assert origins <= {"measured", "nameplate", "inferred", "default", "stated", "derived"}
    for r in found:
        assert r.shown(SI_SCALE), r.label
        if r.origin in {"default", "inferred"}:
            assert r.note, r.label


def test_units_follow_the_job() -> None:
    job = read_job(EXAMPLES / "boat-shed.toml")
    assert shown("seed-store.toml", "room", "temperature") == "15.0 °C"
    assert shown("boat-shed.toml", "room", "temperature") == "64.0 °F"
    si = [r.shown(SI_SCALE) for r in rows("seed-store.toml")]
    assert not any(text.endswith(("°F", "psig", " in")) for text in si)
    metric = (" °C", " K", "bar(g)", " mm", " m", " cm³", " g", " µm", " Pa")
    scale = Scale("US", job.place.atmospheric_pressure)
    for r in rows("boat-shed.toml"):
        told = (r.shown(scale), r.spread(scale))
        assert not any(text.endswith(metric) for text in told), told
        assert not re.search(r"\d (mm|cm3|um|°C|K|m/s|m3/s|g)\b", r.note), r.note


def test_no_metric_number_stands_in_the_reasons_of_a_us_job() -> None:
    text = (EXAMPLES / "seed-store.toml").read_text().replace('units = "SI"', 'units = "US"')
    text = text.replace('airflow = "270 m3/h"\n', "").replace('water_removal = "18 L/day"\n', "")
    for item in explain(read_job_text(text)):
        assert not re.search(r"\d (mm|cm3|um|°C|K|m/s|m3/s|g|bar)\b", item.note), item.note


def test_a_measured_row() -> None:
    found = row("seed-store.toml", "evaporator", "tube outer diameter")
    assert found.to_dict() == {
        "part": "evaporator",
        "label": "tube outer diameter",
        "key": "evaporator.tube_outer_diameter",
        "value": pytest.approx(9.52e-3),
        "sd": 0.02e-3,
        "unit": "m",
        "origin": "measured",
        "note": "calliper, 0.02 mm",
        "written": "9.52 mm",
    }
    assert found.shown(SI_SCALE) == "9.52 mm"
    assert found.spread(SI_SCALE) == "0.020 mm"


def test_a_default_row_says_so() -> None:
    found = row("boat-shed.toml", "evaporator", "circuits")
    assert (found.value, found.origin, found.note) == (1, "default", "one circuit")


def test_derived_facts_of_a_coil_by_hand() -> None:
    # 2 rows of 10 tubes, 260 mm finned, 25.4 x 22 mm pitch, 9.52 x 0.35 mm tube, fins at 1.8 mm
    part = "evaporator"
    assert shown("seed-store.toml", part, "face area") == "660 cm²"  # 0.260 * 0.254
    assert shown("seed-store.toml", part, "tube length") == "5.20 m"  # 20 * 0.260
    volume = math.pi / 4.0 * 8.82**2 * 5200.0 / 1000.0
    found = parse(shown("seed-store.toml", part, "volume inside the tubes"), "volume")
    assert math.isclose(found.value * 1e6, volume, rel_tol=2e-3)  # shown to three digits
    holes = 20 * math.pi / 4.0 * 0.00952**2
    area = 0.260 / 1.8e-3 * 2.0 * (0.254 * 0.044 - holes)
    area += math.pi * 0.00952 * 5.2 * (1.0 - 0.11 / 1.8)
    found = parse(shown("seed-store.toml", part, "outside area"), "area")
    assert math.isclose(found.value, area, rel_tol=2e-3)


def test_the_uncertainty_of_a_derived_fact() -> None:
    # Face area: tape 0.5 % and calliper 0.02 mm on 25.4 mm, in quadrature.
    share = math.hypot(0.005, 0.02 / 25.4)
    face = row("seed-store.toml", "evaporator", "face area")
    found = parse(face.spread(SI_SCALE), "area")
    assert math.isclose(found.value, share * 0.06604, rel_tol=0.02)  # shown to two digits


def test_a_compressor_with_only_a_rating() -> None:
    found = [r for r in rows("seed-store.toml") if r.part == "compressor 3: drinks cooler"]
    words = {r.label: r for r in found}
    assert words["displacement"].value == "not stated"
    assert words["rating condition"].value == "ASHRAE HBP"
    assert words["rated evaporating"].shown(SI_SCALE) == "7.2 °C"
    assert words["rated capacity"].spread(SI_SCALE) == "42 W"


def test_what_to_measure_first_is_what_is_uncertain_and_matters() -> None:
    found = check(read_job(EXAMPLES / "boat-shed.toml"))
    first = found.measure_first[0]
    # Airflow from the plate's water is known to a quarter; nothing else is so rough and matters.
    assert (first.key, first.moves) == ("fan.airflow", "length of capillary")
    assert first.percent == pytest.approx(15.0)
    percents = [one.percent for one in found.measure_first]
    assert percents == sorted(percents, reverse=True)
    assert len(percents) <= 5
    assert {one.key for one in found.measure_first} <= {item.key for item in found.items}
    assert "fan.position" in found.assumed
    assert "room.temperature" not in found.assumed


def test_readings_of_the_machine_as_it_ran_spare_the_measurements_that_they_stand_for() -> None:
    keys = {one.key for one in check(read_job(EXAMPLES / "timber-store.toml")).measure_first}
    assert "fan.airflow" not in keys
    assert not any(key.startswith("original.") for key in keys)


def test_the_check_goes_through_json() -> None:
    told = check(read_job(EXAMPLES / "seed-store.toml")).to_dict()
    assert json.loads(json.dumps(told, allow_nan=False)) == told
    assert told["job"]["unit_system"] == "SI"
    temperature = next(item for item in told["items"] if item["key"] == "room.temperature")
    assert (temperature["value"], temperature["unit"]) == (288.15, "K")

"""The questions of a job, and a file that is answered in place."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from sweatline.errors import JobError
from sweatline.job.document import JobDocument
from sweatline.job.explanation import glossary
from sweatline.job.interview import (
    Question,
    asked_as,
    matters,
    questions,
    stand_in,
    understood,
)
from sweatline.job.reading import read_job, read_job_text
from sweatline.units import SI_SCALE, Scale

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
SEED = Path(__file__).parents[2] / "examples" / "seed-store.toml"


def named(document: JobDocument, name: str) -> Question:
    return next(one for one in document.questions if one.name == name)


def test_every_key_is_asked_for_but_those_left_to_the_file() -> None:
    many = {"compressor": 1, "capillary": 1, "ran_well": 1, "ran_a_day": 1}
    asked = {
        (one.name.replace("[1]", "").rpartition(".")[0], one.key.name) for one in questions(many)
    }
    declared = {(one.table.strip("[]"), one.name) for one in glossary()}
    left = {table for table, _key in declared - asked}
    assert asked <= declared
    assert left == {"", "compressor.map", "original.compressor", "original.compressor.rating",
                    "original.compressor.map", "original.capillary"}  # fmt: skip
    assert {key for table, key in declared - asked if not table} == {"kind", "coils"}


def test_what_is_needed_is_never_a_detail() -> None:
    assert not [one.name for one in questions({}) if one.needed and one.words.detail]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_a_file_that_nobody_answers_stays_as_it_is(path: Path) -> None:
    document = JobDocument.of_file(path)
    assert document.text == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_every_answer_put_again_says_the_same(path: Path) -> None:
    document = JobDocument.of_file(path)
    before = document.read()
    for question in document.questions:
        document.put(question, document.answer(question))
    after = document.read()
    assert replace(after, digest=before.digest) == before


def test_comments_stay_whatever_is_added_and_taken_out() -> None:
    document = JobDocument.of_file(SEED)
    document.put(named(document, "room.volume"), "")
    document.put(named(document, "compressor[2].rating.capacity"), "600 W")
    document.remove("compressor", 1)
    assert document.add("capillary") == 4
    document.put(named(document, "capillary[4].name"), "spare")
    document.put(named(document, "capillary[4].fitted"), "no")
    comments = [
        line.partition("#")[2] for line in SEED.read_text("utf-8").splitlines() if "#" in line
    ]
    lost = [one for one in comments if one not in document.text]
    assert lost == [" what it was made for"]  # stood in the compressor that was taken out
    assert '[[capillary]]\nname = "spare"\nfitted = false\n' in document.text
    assert "\n\n\n" not in document.text
    assert JobDocument(document.text).counts["compressor"] == 2


def test_one_table_where_a_list_could_stand_is_answered_and_joined_by_another() -> None:
    text = 'kind = "dehumidifier"\n[compressor]\nname = "a"\n'
    document = JobDocument(text)
    document.put(named(document, "compressor[1].name"), "b")
    assert document.answer(named(document, "compressor[1].name")) == "b"
    assert document.add("compressor") == 2
    assert JobDocument(document.text).counts["compressor"] == 2


def test_not_known_stands_in_the_file_and_a_default_takes_its_place() -> None:
    document = JobDocument.of_file(SEED)
    wall, rows = (named(document, f"evaporator.{key}") for key in ("tube_wall", "rows"))
    document.put(wall, "don’t know")
    assert 'tube_wall = "not known"' in document.text
    assert not document.is_open(wall)
    assert document.read().evaporator.tube_wall.origin == "default"
    document.put(rows, "no idea")
    assert document.is_open(rows)  # nothing can stand in for it
    with pytest.raises(JobError, match=r"evaporator\.rows: missing"):
        document.read()


def test_a_rating_is_asked_for_when_nobody_knows_the_displacement() -> None:
    document = JobDocument.of_file(SEED)
    names = {one.name for one in document.asked}
    assert "compressor[3].rating.capacity" in names
    assert "compressor[1].rating.capacity" not in names


def test_where_nobody_knows_displacement_and_rating_the_plate_is_enough() -> None:
    document = JobDocument.of_file(SEED)
    first = "compressor[1]"
    for key in ("displacement", "rated_power", "rated_current", "rating.capacity"):
        document.put(named(document, f"{first}.{key}"), "don't know")
    capacity = named(document, f"{first}.rating.capacity")
    assert not document.is_open(capacity)
    assert f"{first}.rating.conditions" not in {one.name for one in document.asked}
    with pytest.raises(JobError, match=r"rated_power \(or .*motor_size\), application"):
        document.read()
    document.put(named(document, f"{first}.motor_size"), "1/4 hp")
    document.put(named(document, f"{first}.application"), "freezer")
    one = document.read().compressors[0]
    assert (one.application, one.displacement, one.ratings) == ("LBP", None, ())


def test_a_day_when_it_ran_well_can_be_told() -> None:
    document = JobDocument.of_file(SEED)
    document.add("ran_well")
    document.put(named(document, "original.compressor.name"), "8.4 rotary")
    for key, said in (
        ("room_temperature", "20 °C"),
        ("room_humidity", "60 %RH"),
        ("power", "400 W"),
    ):
        document.put(named(document, f"ran_well[1].{key}"), said)
    job = document.read()
    assert job.original.compressor == job.compressors[1]
    assert job.ran_well[0].power is not None


def test_a_parameter_leads_to_the_question_that_says_it() -> None:
    job = read_job(SEED)
    pump = "drinks cooler"
    assert asked_as(("room", "relative_humidity"), job, pump) == "room.humidity"
    assert asked_as(("fan", "volume_flow"), job, pump) == "fan.airflow"
    assert asked_as(("capillary", "1.4 on the reel", "bore"), job, pump) == "capillary[3].bore"
    assert (
        asked_as(("compressor", pump, "rated_capacity"), job, pump)
        == "compressor[3].rating.capacity"
    )
    assert asked_as(("shell", "oil_volume"), job, pump) == "compressor[3].oil_volume"
    assert asked_as(("model", "boiling"), job, pump) == ""


def test_what_stands_in_is_told_in_the_units_of_the_job() -> None:
    wall = named(JobDocument(""), "evaporator.fin_thickness")
    assert (
        stand_in(wall, None, SI_SCALE)
        == "0.110 mm (plain aluminium fins are 0.09 to 0.13 mm thick)"
    )
    us = stand_in(wall, None, Scale("US"))
    assert us == "0.0043 in (plain aluminum fins are 0.0035 to 0.005 in thick)"


def test_about_is_worth_less_than_the_instrument() -> None:
    text = SEED.read_text(encoding="utf-8")
    rough = text.replace('"260 mm"', '"about 260 mm"', 1).replace('"15 °C"', '"~15 °C"')
    job, plain = read_job_text(rough), read_job_text(text)
    assert job.evaporator.finned_length.sd == pytest.approx(0.05 * 0.26)
    assert job.evaporator.finned_length.value == plain.evaporator.finned_length.value
    assert job.room.temperature.sd == pytest.approx(2.0)
    assert job.room.temperature.note == "stated as about"


def test_every_point_of_a_table_is_asked_for_where_it_stands() -> None:
    text = SEED.read_text("utf-8")
    one = text[text.index("[compressor.rating]") : text.index("[[capillary]]")]
    many = one.replace("[compressor.rating]", "[[compressor.rating]]")
    document = JobDocument(text.replace(one, many + many))
    second = named(document, "compressor[3].rating[2].capacity")
    document.put(second, "700 W")
    assert [r.capacity.value for r in document.read().compressors[2].ratings] == [830.0, 700.0]


def test_horsepower_is_understood_as_the_size_of_the_motor() -> None:
    plate = named(JobDocument.of_file(SEED), "compressor[1].rated_power")
    assert understood(plate, "1/2 hp", Scale("US")).startswith("motor_size: 0.5")
    assert understood(plate, "290 W", Scale("US")).startswith("290 W")


def test_a_question_of_a_us_job_speaks_its_units_and_of_sizes_that_fit() -> None:
    us = Scale("US")
    for question in questions({}):
        left = stand_in(question, None, us)
        assert not re.search(r"\d (°C|K|mm|m/s|m³/h)\b", f"{left} {matters(question, us)}"), left
    by = {one.name: one.example(us) for one in questions({})}
    assert by["capillary[1].length"] == "8 ft"
    assert by["evaporator.finned_length"] == "14 in"
    assert by["evaporator.tube_outer_diameter"] == "3/8 in"


def test_an_answer_that_names_a_valve_is_told_that_none_is_known() -> None:
    by = {one.name: one for one in questions({})}
    for name, words in (("name", "TXV"), ("bore", "expansion valve"), ("length", "txv")):
        with pytest.raises(JobError, match="circuits with a capillary tube"):
            understood(by[f"capillary[1].{name}"], words, Scale("US"))
    assert understood(by["compressor[1].kind"], "piston", Scale("US")) == "reciprocating"

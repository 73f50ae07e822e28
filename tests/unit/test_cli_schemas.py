"""Answers as JSON: plain, finite, and read back by the same types."""

import dataclasses
import json
import math
from typing import Any

import pytest
from pydantic import ValidationError

import sweatline
from sweatline.answers import Answer
from sweatline.answers.fields import members_of
from sweatline.cli.schemas import COMMANDS, answer_of, read_back, schema
from sweatline.design.balance import BalanceAnswer
from sweatline.design.refrigerants import refrigerants, saturation
from sweatline.errors import JobError
from sweatline.job.keys import keys_of
from sweatline.job.model import Job


@pytest.mark.parametrize("name", COMMANDS)
def test_a_schema_describes_each_record_and_allows_nothing_else(name: str) -> None:
    published = schema(name)
    assert published["title"] == f"sweatline {name} --json"
    assert published["additionalProperties"] is False
    members = [member.key for member in members_of(answer_of(name))]
    fields = members if "command" in members else ["command", "version", *members]
    assert list(published["properties"]) == fields
    assert published["required"] == fields  # a key is always there; unknown values are null
    for table in published.get("$defs", {}).values():
        assert table["additionalProperties"] is False
    json.dumps(published, allow_nan=False)


def test_the_schema_carries_what_the_fields_say() -> None:
    steady = schema("balance")["$defs"]["SteadyState"]
    assert "Dew at the suction pressure." in json.dumps(steady)
    assert BalanceAnswer.__doc__ is not None
    assert schema("balance")["description"] == BalanceAnswer.__doc__


def printed(command: str, answer: Answer) -> dict[str, Any]:
    """As `--json` prints it."""
    return {"command": command, "version": sweatline.__version__, **answer.to_dict()}


def test_an_answer_goes_through_json_unchanged() -> None:
    for command, answer in (
        ("refrigerants", refrigerants()),
        ("saturation", saturation("R-407C", pressure=5e5, atmosphere=101325.0)),
    ):
        told = printed(command, answer)
        text = json.dumps(told, allow_nan=False)
        assert read_back(command, text).model_dump(mode="json") == told


def test_reading_back_refuses_what_was_not_published() -> None:
    point = printed("saturation", saturation("R-134a", pressure=5e5, atmosphere=101325.0))
    for spoilt in ({**point, "more": 1}, {**point, "glide_K": "none"}, {**point, "dew": None}):
        with pytest.raises(ValidationError):
            read_back("saturation", json.dumps(spoilt))


def test_answers_are_frozen() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        refrigerants().refrigerants = ()  # type: ignore[misc]


def test_a_point_asked_by_temperature_and_by_pressure_agrees() -> None:
    by_temperature = saturation("R-290", temperature=273.15, atmosphere=101325.0)
    pressure = by_temperature.dew.pressure
    by_pressure = saturation("R-290", pressure=pressure, atmosphere=101325.0)
    assert by_pressure.dew.temperature == pytest.approx(273.15, abs=1e-6)
    assert by_pressure.glide == 0.0
    latent = by_pressure.dew.enthalpy - by_pressure.bubble.enthalpy
    assert by_pressure.latent_heat == pytest.approx(latent)
    assert by_pressure.bubble.density > by_pressure.dew.density
    with pytest.raises(TypeError):
        saturation("R-290", atmosphere=101325.0)


def test_the_schema_of_a_job_has_the_keys_of_the_reader() -> None:
    published = schema("job")
    for name, (_, _, needed) in keys_of(Job).items():
        assert name in published["properties"], name
        assert (name in published["required"]) is needed, name
    for name in ("compressor", "capillary", "ran_well"):
        entry = published["properties"][name]
        assert entry["type"] == "array"
        assert ("name" in entry["items"]["required"]) is (name != "ran_well")
    compressor = published["properties"]["compressor"]["items"]
    # One rating point, or a table of them.
    one, table = compressor["properties"]["rating"]["anyOf"]
    assert one["properties"]["capacity"]["type"] == "string"
    assert table["type"] == "array"
    assert table["items"]["properties"].keys() >= one["properties"].keys()
    assert published["properties"]["evaporator"]["properties"]["rows"]["type"] == "integer"
    assert published["properties"]["capillary"]["items"]["properties"]["fitted"]["type"] == (
        "boolean"
    )
    assert math.isfinite(published["properties"]["evaporator"]["properties"]["rows"]["maximum"])


def test_an_unknown_schema_is_refused_with_what_there_is() -> None:
    with pytest.raises(JobError, match=r"no schema of that name.*room-map"):
        schema("weather")

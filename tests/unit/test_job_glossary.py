"""The list of keys feeds help and documentation: it must be the schema, no more and no less."""

import tomllib
from pathlib import Path

import pytest

from sweatline.job.explanation import glossary
from sweatline.job.reading import read_job_text

# Tables that may be missing; what they need they need when they stand.
OPTIONAL = ("[compressor.", "[original.", "[[ran_well]]", "[[ran_a_day]]")

EXAMPLES = Path(__file__).parents[2] / "examples"


def test_every_key_has_a_meaning_and_a_way_to_write_it() -> None:
    keys = glossary()
    assert len({(k.table, k.name) for k in keys}) == len(keys) > 90
    for key in keys:
        assert key.key.meaning, key.name
        assert key.key.written, key.name


@pytest.mark.parametrize("name", ["seed-store.toml", "boat-shed.toml"])
def test_the_examples_hold_only_listed_keys(name: str) -> None:
    listed = {(k.table.strip("[]"), k.name) for k in glossary()}
    tree = tomllib.loads((EXAMPLES / name).read_text())

    def walk(table: str, values: dict[str, object]) -> None:
        for key, value in values.items():
            inner = value if isinstance(value, list) else [value]
            if isinstance(inner[0], dict):
                for entry in inner:
                    walk(f"{table}.{key}".strip("."), entry)
            else:
                assert (table, key) in listed

    walk("", tree)


def test_what_is_needed_is_enough() -> None:
    """A file with nothing but the needed keys is a job."""
    written = {
        "kind": '"dehumidifier"',
        "units": '"SI"',
        "refrigerants": '["R-290"]',
        "temperature": '"15 °C"',
        "humidity": '"70 %RH"',
        "voltage": '"230 V"',
        "frequency": '"50 Hz"',
        "tube_outer_diameter": '"9.52 mm"',
        "rows": "2",
        "tubes_per_row": "10",
        "transverse_pitch": '"25.4 mm"',
        "longitudinal_pitch": '"22 mm"',
        "finned_length": '"260 mm"',
        "fin_pitch": '"1.8 mm"',
        "name": '"one"',
        "bore": '"1 mm"',
    }
    lines, table = [], ""
    for key in glossary():
        if not key.needed or key.table.startswith(OPTIONAL):
            continue
        if key.table != table:
            table = key.table
            lines.append(table)
        value = '"rotary"' if (key.name, table) == ("kind", "[[compressor]]") else written[key.name]
        lines.append(f"{key.name} = {value}")
        if (key.name, table) == ("kind", "[[compressor]]"):
            lines.append('displacement = "7 cm3"')
    job = read_job_text("\n".join(lines))
    assert job.fan.volume_flow.origin == "inferred"
    assert job.limits.high_side_pressure is None

"""How a job file says which way the refrigerant takes, and how uneven the air is."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweatline.assembly.assemble import in_tubes
from sweatline.assembly.build import build_for
from sweatline.errors import JobError
from sweatline.job.model import Job
from sweatline.job.reading import read_job_text
from sweatline.parts.circuiting import by_rows, zigzag

EXAMPLE = (Path(__file__).parents[2] / "examples" / "seed-store.toml").read_text(encoding="utf-8")
PATH = 'path = "counter"                  # refrigerant enters'


def job(way: str = 'path = "counter"', top: str = "", circuits: str = "circuits = 1") -> Job:
    text = top + EXAMPLE.replace(PATH, f"{way}  #", 1)
    text = text.replace("circuits = 1", circuits, 1)
    return read_job_text(text, path="job.toml")


def refusal(**changes: str) -> str:
    with pytest.raises(JobError) as caught:
        job(**changes)
    return str(caught.value)


def test_tubes_are_counted_from_the_inlet_row_and_from_the_top() -> None:
    listed = job('circuiting = ["B1-B5 A5-A1", "b6-b10, A10-A6"]', circuits="")
    coil = listed.evaporator
    assert coil.circuiting == by_rows(2, 10, 2, counter=True)
    assert (coil.circuits, coil.path, listed.coils) == (2, "as listed", "tube by tube")
    one = job('circuiting = "B1 A1 A2 B2 B3 A3 A4 B4 B5 A5 A6 B6 B7 A7 A8 B8 B9 A9 A10 B10"')
    assert one.evaporator.circuiting == zigzag(2, 10, 1)


def test_what_only_tubes_can_follow_asks_for_them() -> None:
    assert job().coils == "by rows"
    assert job('path = "zigzag"').coils == "tube by tube"
    assert job("air_profile = [1, 2]").coils == "tube by tube"
    assert job(top='coils = "tube by tube"\n').coils == "tube by tube"


def test_machine_takes_the_form_the_job_asks_for() -> None:
    made = [
        build_for(j, compressor=0, refrigerant="R-134a", capillary=0).machine
        for j in (job(), job("air_profile = [1, 2]"))
    ]
    assert len(made[0].evaporator.layout.row) == made[0].evaporator.rows
    assert len(made[1].evaporator.layout.row) == 10 * made[1].evaporator.rows
    assert len(made[1].condenser.layout.row) > made[1].condenser.rows
    # Two speeds, at a quarter and three quarters of the height, are drawn out over ten tubes.
    speed = made[1].evaporator.speed[:, 0]
    assert speed.mean() == pytest.approx(1.0)
    assert speed[9] / speed[0] == pytest.approx(2.0)
    assert speed[4] < speed[5]


def test_zigzag_and_parallel_reach_the_tubes() -> None:
    plain = build_for(job(), compressor=0, refrigerant="R-134a", capillary=0).machine.evaporator
    across = in_tubes(job('path = "zigzag"').evaporator, plain)
    assert across.layout.row[:4].tolist() == [1, 0, 0, 1]
    along = in_tubes(job('path = "parallel"', top='coils = "tube by tube"\n').evaporator, plain)
    assert along.layout.row[:11].tolist() == [0] * 10 + [1]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"way": 'circuiting = ["A1-A10"]'}, "tube B1 is in no circuit"),
        ({"way": 'circuiting = ["A1-A11 B10-B1"]'}, "tube A11 is not in the coil"),
        ({"way": 'circuiting = ["A1-B10"]'}, "neither a tube nor a run of tubes in one row"),
        ({"way": 'circuiting = ["A1-A10 B10-B1 A4"]'}, "tube A4 is used twice"),
        ({"way": 'path = "counter"\ncircuiting = ["A1-A10 B10-B1"]'}, "given twice"),
        ({"way": 'circuiting = ["A1-A10 B10-B1"]', "circuits": "circuits = 2"}, "circuits: 1"),
        ({"way": "circuiting = [1, 2]"}, "tubes of each circuit are wanted"),
        ({"way": 'circuiting = ["", "A1"]'}, "a circuit without a tube"),
        ({"way": "air_profile = [1.0]"}, "air speeds over the face"),
        ({"way": "air_profile = [1.0, 0.0]"}, "above zero"),
        ({"way": "air_profile = [1.0, 30.0]"}, "above zero and the fastest"),
        ({"way": 'path = "zigzag"', "top": 'coils = "by rows"\n'}, "cannot follow this"),
        ({"way": 'path = "zigzag"', "circuits": "circuits = 12"}, "more circuits than tubes"),
    ],
)
def test_mistakes_are_named(changes: dict[str, str], words: str) -> None:
    assert words in refusal(**changes)

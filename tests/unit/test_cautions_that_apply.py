"""A STOP stands only where it applies: to these parts, with this charge, in this room."""

from dataclasses import replace
from typing import Any

import pytest

from sweatline.answers import Answer
from sweatline.assembly.build import build_for
from sweatline.charging.adviser import Adviser
from sweatline.charging.preparation import prepare_build, well_charged
from sweatline.design.balance import balance
from sweatline.design.charge_curve import charge_curve
from sweatline.design.match import match
from sweatline.design.metering import metering
from sweatline.job.model import Job
from sweatline.report.reasons import not_to_be_built
from sweatline.training.practice_machine import practice_job

PARTS: Any = {"compressor": 0, "refrigerant": "R-290", "capillary": 0}


def job_for(refrigerant: str, *, area: float = 100.0, of: tuple[str, ...] = ("R-290",)) -> Job:
    """The practice machine, built for a refrigerant, in a room of such a floor area. [m2]"""
    job = practice_job()
    assert job.room.floor_area is not None
    return replace(
        job,
        refrigerants=of,
        room=replace(job.room, floor_area=replace(job.room.floor_area, value=area)),
        original=replace(job.original, refrigerant=refrigerant),
    )


def stops(answer: object) -> set[str]:
    assert isinstance(answer, Answer)
    return {c.key for c in answer.cautions if c.stop}  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("built_for", "area", "there"),
    [
        ("R-290", 100.0, set()),
        ("R-134a", 100.0, {"conversion"}),
        ("R-290", 1.0, {"over-limit"}),
        ("R-134a", 1.0, {"conversion", "over-limit"}),
    ],
)
def test_a_stop_stands_where_it_applies(built_for: str, area: float, there: set[str]) -> None:
    job = job_for(built_for, area=area)
    heavy = balance(job, **PARTS, charge=0.20, draws=0)
    assert heavy.steady.charge == pytest.approx(0.20)
    assert stops(heavy) == there
    failing = {v.key for v in heavy.verdicts if v.state == "fails"}
    assert ("flammable_charge" in failing) == ("over-limit" in there)


def test_the_small_charge_needs_no_room() -> None:
    job = job_for("R-290", area=1.0)
    assert stops(balance(job, **PARTS, charge=0.10, draws=0)) == set()


def test_every_answer_about_parts_says_the_same() -> None:
    for built_for, there in (("R-290", set()), ("R-134a", {"conversion"})):
        job = job_for(built_for)
        assert stops(metering(job, compressor=0, refrigerant="R-290", draws=0)) == there
        assert stops(charge_curve(job, **PARTS, draws=0)) == there
        build = build_for(job, **PARTS)
        prepared = prepare_build(build, well_charged(build), simulated=True, draws=24)
        assert stops(Adviser(prepared, {}).advise()) == there


def test_a_ranking_stops_for_the_combinations_it_shows() -> None:
    both = ("R-134a", "R-290")
    assert stops(match(job_for("R-134a", of=both), draws=0)) == {"conversion"}
    assert stops(match(job_for("R-290", of=both), draws=0)) == set()
    assert stops(match(job_for("R-22", of=("R-134a",)), draws=0)) == set()


def test_what_a_rule_bars_is_told_with_the_rule() -> None:
    job = job_for("R-134a", area=1.0)
    here, barred = (
        not_to_be_built(match(replace(job, place=replace(job.place, country=country)), draws=0))
        for country in ("NZ", "US")
    )
    assert not [one for one in here if "Nothing in a job opens this" in one]
    assert "Nothing in a job opens this: the rule is 40 CFR 82 Subpart G" in barred[0]

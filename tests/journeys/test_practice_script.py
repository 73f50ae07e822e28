"""A practice in a script: charged by hand, asked about on the way, and debriefed."""

from __future__ import annotations

from pathlib import Path

import pytest

import sweatline as sl
from sweatline.errors import JobError

SEED = str(Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml")


def test_a_practice_can_be_asked_about_while_it_runs() -> None:
    build = sl.read_job(SEED).combination(
        compressor="drinks cooler", refrigerant="R-513A", capillary="1.4"
    )
    hands = sl.practice(build, seed=3, fault="any", samples=32)
    before = hands.read().weighed
    with pytest.raises(JobError, match="nobody lets in so much"):
        hands.add("2 kg")
    assert hands.add("20 g").weighed == pytest.approx(before + 0.020, rel=0.2)
    assert hands.wait("3 min") is hands.rounds[-1]
    assert build.charging(hands.log).advice().charge == pytest.approx(
        hands.rounds[-1].weighed, abs=1e-3
    )
    assert hands.name_fault("nothing") == "no fault"
    found = hands.debrief()
    assert (found.seed, found.fault_hidden, len(found.doses)) == (3, True, 1)

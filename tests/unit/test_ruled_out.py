"""What a technician looked at and found in order is weighed no more as what is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweatline.assembly.build import Build, build_for
from sweatline.charging.readings import log_of_lines, round_of
from sweatline.diagnosis.causes import CAUSES
from sweatline.diagnosis.observed import SHOWS
from sweatline.errors import JobError
from sweatline.job.reading import read_job
from sweatline.log.channels import CHANNELS, RULED_OUT_BY
from sweatline.log.logbook import write_line

SEED = Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml"


@pytest.fixture(scope="module")
def build() -> Build:
    return build_for(read_job(SEED), compressor=0, refrigerant="R-134a", capillary=0)


def ruled_out(build: Build, *lines: str) -> set[str]:
    with log_of_lines(build, [f"2026-03-14 10:{n:02} {line}" for n, line in enumerate(lines)]) as b:
        return set(round_of(b, build).ruled_out)


def test_every_way_to_write_it(build: Build) -> None:
    assert ruled_out(build, "ruled-out leak") == {"leak"}
    assert ruled_out(build, "ruled out blocked tube") == {"blocked tube"}
    assert ruled_out(build, "ruled-out blocked-tube") == {"blocked tube"}
    assert ruled_out(build, "ruled-out suction-gauge; ruled-out air") == {"suction gauge", "air"}


def test_it_holds_until_something_makes_it_doubtful_again(build: Build) -> None:
    said = ("ruled-out leak", "ruled-out air", "ruled-out blocked-tube", "ruled-out head-gauge")
    assert ruled_out(build, *said, "started", "vented 2 g") == {
        "leak", "air", "blocked tube", "head gauge"
    }  # fmt: skip
    assert ruled_out(build, *said, "opened") == {"blocked tube", "head gauge"}
    renewed = "instrument-changed head-gauge by red dial"
    assert ruled_out(build, *said, renewed) == {"leak", "air", "blocked tube"}


@pytest.mark.parametrize("words", ["", "everything", "weak valves"])
def test_what_no_look_can_rule_out_is_refused_in_one_sentence(build: Build, words: str) -> None:
    with (
        log_of_lines(build, ()) as log,
        pytest.raises(JobError, match=r"looked at and is in order.*leak, blocked tube, air"),
    ):
        write_line(log, f"ruled-out {words}")


def test_every_cause_that_can_be_ruled_out_has_words_in_the_log() -> None:
    about = ("suction gauge",)
    named = {n for cause in CAUSES.values() for n in cause.ruled_out_as(about)}
    assert named == {*RULED_OUT_BY, *about}
    assert not set(RULED_OUT_BY) & set(CHANNELS)


def test_every_reading_that_a_look_may_ask_for_has_its_unit_in_both_systems() -> None:
    asked = set(SHOWS) - {"room humidity", "charge weighed"}  # not asked for while it is charged
    assert {c for c in asked if set(CHANNELS[c].readout) != {"SI", "US"}} == set()

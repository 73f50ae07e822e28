"""A log says that a reading is taken by another instrument from now on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from sweatline.assembly.build import Build, build_for
from sweatline.charging.readings import log_of_lines, round_of
from sweatline.charging.tracker import ChargeTracker
from sweatline.errors import JobError
from sweatline.job.reading import read_job
from sweatline.log.data_quality import DataQuality
from sweatline.log.entries import described, sd_of
from sweatline.log.logbook import write_line
from sweatline.log.store import Log

SEED = Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml"
DAY = "2026-03-14"
OLD, NEW = 12e3, 3e3  # Pa
LINES = (
    f"{DAY} 10:00 started",
    f"{DAY} 10:30 suction 1.9 bar(g); head 6.1 bar(g)",
    f"{DAY} 10:40 instrument-changed suction-gauge by red dial",
)
AFTER = f"{DAY} 10:45 suction 2.5 bar(g)"


@pytest.fixture(scope="module")
def build() -> Build:
    return build_for(read_job(SEED), compressor=0, refrigerant="R-134a", capillary=0)


@pytest.fixture
def log(build: Build) -> Iterator[Log]:
    with log_of_lines(build, ()) as book:
        book.add_instrument(described("suction-gauge", error="12 kPa"))
        for line in LINES:
            write_line(book, line)
        book.add_instrument(described("red dial", error="3 kPa"))
        yield book


def test_readings_have_the_error_of_the_instrument_that_took_them(log: Log) -> None:
    write_line(log, AFTER)
    quality = DataQuality(log.about())
    quality.catch_up(log)
    gauges = {i.name: i for i in log.instruments()}
    read = [e for e in quality.held() if e.channel == "suction gauge"]
    assert [e.instrument for e in read] == ["", "red dial"]
    assert [sd_of(e, gauges, 1e5)[0] for e in read] == pytest.approx([OLD, NEW])
    # A reading written down later that was taken before is by the one before.
    write_line(log, f"{DAY} 10:35 suction 1.92 bar(g)")
    quality.catch_up(log)
    read = [e for e in quality.held() if e.channel == "suction gauge"]
    assert [e.instrument for e in read] == ["", "", "red dial"]


def test_a_diagnosis_weighs_what_the_new_instrument_reads(log: Log, build: Build) -> None:
    before = {r.channel for r in round_of(log, build).readings}
    assert before == {"head gauge"}  # the gauge that was taken off no longer counts
    write_line(log, AFTER)
    now = {r.channel: r for r in round_of(log, build).readings}
    assert now["suction gauge"].sd == pytest.approx(NEW)
    assert now["suction gauge"].value > now["head gauge"].value - 4.5e5


def test_the_charging_follows_the_new_instrument_from_then_on(log: Log, build: Build) -> None:
    tracker = ChargeTracker(build, None)
    tracker.instruments = {i.name: i for i in log.instruments()}
    quality = DataQuality(log.about())
    quality.catch_up(log)
    for e in quality.held():
        tracker.step(e, epoch=0, in_doubt=False)
    assert set(tracker.state().last) == {"head gauge"}
    write_line(log, AFTER)
    quality.catch_up(log)
    tracker.step(quality.held()[-1], epoch=0, in_doubt=False)
    assert tracker.state().errors["suction gauge"][0] == pytest.approx(NEW)


@pytest.mark.parametrize("words", ["suction-gauge", "by red dial", "zzz by red dial"])
def test_which_reading_and_which_instrument_have_to_be_said(log: Log, words: str) -> None:
    with pytest.raises(JobError):
        write_line(log, f"instrument-changed {words}")

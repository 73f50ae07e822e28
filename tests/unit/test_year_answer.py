"""A year: ranges of the months, and one pass of draws that the question of money shares."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweatline.job.reading import read_job
from sweatline.report.year import settings_lines, worth_lines
from sweatline.season.worth import WorthAnswer, worth
from sweatline.season.year import YearRequest, moved
from sweatline.units import Scale

JOB = read_job(Path(__file__).parents[2] / "examples" / "timber-store.toml")
ASKED = YearRequest(compressor=0, refrigerant="R-134a", capillary=1, draws=8)


@pytest.fixture(scope="module")
def found() -> WorthAnswer:
    return worth(JOB, ASKED)


def test_months_have_ranges_and_nothing_in_them_is_negative(found: WorthAnswer) -> None:
    year = found.year
    for month in year.months:
        assert set(month.ranges) == set(year.ranges)
        assert all(0.0 <= r.low <= r.high for r in month.ranges.values())
    january, july = year.months[0], year.months[6]
    assert july.ranges["water_m3"].high > january.ranges["water_m3"].high


def test_both_machines_are_switched_as_serves_best(found: WorthAnswer) -> None:
    year = found.year
    assert year.settings is not None
    assert year.control == year.settings.best.control
    assert year.total.energy == pytest.approx(year.settings.best.energy)
    assert found.ways[0].energy == year.total.energy
    assert len(year.samples) == ASKED.draws


def test_a_setting_moved_by_hand_keeps_no_search(found: WorthAnswer) -> None:
    there = moved(found.year, switches=JOB.control)
    assert there.settings is None
    assert there.control == JOB.control


def test_words_are_in_the_units_of_the_person(found: WorthAnswer) -> None:
    assert found.year.settings is not None
    for line in settings_lines(found.year.settings, Scale("US", 101325.0)):
        assert "°C" not in line
    assert not any("nan" in text for _word, text in worth_lines(found, Scale("SI", 101325.0)))

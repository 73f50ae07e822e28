"""A year: ranges of the months, and one pass of draws that the question of money shares."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sweatline.job.reading import read_job
from sweatline.report.year import amounts, settings_lines, ways_table, worth_lines
from sweatline.season.place import room_of
from sweatline.season.settings import settings_for
from sweatline.season.totals import control_of, run, total_of
from sweatline.season.worth import WorthAnswer, new_machine_map, worth
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


def test_a_new_machine_is_switched_as_serves_it_best(found: WorthAnswer) -> None:
    year, new = found.year, found.ways[1]
    room = room_of(JOB, year.weather, year.knowledge.mean)
    label = JOB.cost.new_energy_factor
    assert label is not None
    assert JOB.cost.new_water is not None
    water = JOB.cost.new_water.value
    bought = new_machine_map(year.machine, water=water, energy_factor=label.value)
    as_ours = control_of(year.control)._replace(wished=year.wished)
    other = total_of(run(year.weather, room, bought, as_ours))
    assert found.new_control.defrost == year.control.defrost
    assert new.too_damp < 86400.0
    assert new.energy <= other.energy
    # From a humidistat that is set too low the search finds its way, and fits nothing.
    low = replace(year.control, humidity=JOB.control.humidity - 0.08)
    coldest = float(year.alone[:, 0].min())
    best = settings_for(JOB.control, year.weather, room, bought, coldest, fitted=low).best
    assert best.energy < 1.02 * new.energy
    assert (best.control.defrost, best.control.cut_out) == (low.defrost, low.cut_out)


def test_amounts_beside_each_other_have_the_same_digits(found: WorthAnswer) -> None:
    assert amounts([86.2, 13.92, 0.0], "CHF") == ["86 CHF", "14 CHF", "0 CHF"]
    assert amounts([1.5, 13.92], "CHF") == ["1.50 CHF", "13.92 CHF"]
    columns = ways_table(found)
    assert all(len(texts) == len(found.ways) for _head, texts in columns)


def test_a_setting_moved_by_hand_keeps_no_search(found: WorthAnswer) -> None:
    there = moved(found.year, switches=JOB.control)
    assert there.settings is None
    assert there.control == JOB.control


def test_words_are_in_the_units_of_the_person(found: WorthAnswer) -> None:
    assert found.year.settings is not None
    for line in settings_lines(found.year.settings, Scale("US", 101325.0)):
        assert "°C" not in line
    assert not any("nan" in text for _word, text in worth_lines(found, Scale("SI", 101325.0)))

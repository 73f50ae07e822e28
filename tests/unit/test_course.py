"""Small drawings over time: what stands in them, and their size."""

from __future__ import annotations

import re

from sweatline.log.entries import Entry, Kind
from sweatline.log.weighing import dose_on_scale
from sweatline.refrigerant.refrigerant import load
from sweatline.report.course import charging_course
from sweatline.report.sentences import dose_left, sentence
from sweatline.units import Scale

TABLE = load("R-134a").table
SI = Scale("SI")
NOW = 1_800_000_000.0


def entry(
    channel: str, value: float, ago: float, *, number: int = 0, kind: Kind = "reading"
) -> Entry:
    return Entry(
        kind=kind, channel=channel, value=value, happened_at=NOW - ago, text=str(value), id=number
    )


def test_a_course_counts_all_doses_and_draws_those_of_the_last_twenty_minutes() -> None:
    rows = [entry("", 0.1, ago, kind="addition") for ago in (3000.0, 900.0, 300.0)]
    drawn = charging_course(rows, None, TABLE, SI, now=NOW)
    assert "3 doses as numbers" in drawn
    assert re.findall(r">(\d)</text>", drawn) == ["2", "3"]
    started = entry("started", 0.0, 2900.0, kind="event")
    drawn = charging_course([rows[0], started, *rows[1:]], None, TABLE, SI, now=NOW)
    assert re.findall(r">(\d)</text>", drawn) == ["1", "2"]


def test_superheat_is_drawn_from_gauge_and_thermometer_and_nothing_outside_the_frame() -> None:
    rows = [
        entry(channel, value, ago)
        for ago in range(2000, 0, -1)
        for channel, value in (("suction gauge", 3e5), ("suction gas", 283.15))
    ]
    drawn = charging_course(rows, None, TABLE, SI, now=NOW)
    lines = re.findall(r'<polyline points="([^"]*)"', drawn)
    assert len(lines) == 2
    places = [tuple(map(float, p.split(","))) for line in lines for p in line.split()]
    assert all(0.0 <= x <= 400.0 and 0.0 <= y <= 300.0 for x, y in places)
    assert len(drawn) < 8000


def test_the_scale_counts_what_left_the_cylinder_since_the_last_addition() -> None:
    rows = [
        entry("scale", 1.204, 900.0, number=1),
        entry("", 0.02, 600.0, number=2, kind="addition"),
        entry("scale", 1.184, 500.0, number=3),
    ]
    assert dose_on_scale(rows[:1]) is None
    found = dose_on_scale(rows)
    assert found is not None
    assert found[0] == 1.204 - 1.184
    again = [rows[0], rows[2], rows[1], entry("scale", 1.180, 100.0, number=4),
             entry("scale", 1.175, 50.0, number=5)]  # fmt: skip
    found = dose_on_scale(again)
    assert found is not None
    assert round(found[0], 6) == 0.009
    assert found[1].id == 4
    changed = [
        *again,
        entry("cylinder changed", 0.0, 40.0, kind="event"),
        entry("scale", 0.9, 30.0),
    ]
    assert dose_on_scale(changed) is None


def test_what_is_left_of_a_dose_is_told_until_the_hose_is_to_be_shut() -> None:
    assert dose_left(0.008, 0.031, SI)[0] == "23 g MORE"
    assert dose_left(0.0306, 0.031, SI)[0] == "SHUT"
    assert dose_left(0.008, None, SI)[0] == "8.0 g GONE"


def test_a_question_stays_a_question() -> None:
    assert sentence("correct it to 5.5 bar(g)?") == "Correct it to 5.5 bar(g)?"
    assert sentence("wait.") == "Wait."

"""What holds in a log, followed row by row, is what holds in it when it is read as a whole."""

from __future__ import annotations

import random
import time

import pytest

from sweatline.log.data_quality import DataQuality
from sweatline.log.entries import Entry, active_entries

ATMOSPHERE = 101325.0
FACTS = {"refrigerant": "R-134a", "atmosphere_Pa": repr(ATMOSPHERE)}
T0 = 1.7e9


def reading(number: int, at: float, shown: float, **more: object) -> Entry:
    values: dict[str, object] = {
        "kind": "reading",
        "id": number,
        "happened_at": T0 + at,
        "written_at": T0 + number,
        "text": f"{shown}",
        "channel": "suction gauge",
        "quantity": "pressure",
        "value": ATMOSPHERE + shown,
        "unit": "bar(g)",
        "key": str(number),
    }
    return Entry(**(values | more))  # type: ignore[arg-type]


def some_row(number: int, chance: random.Random, rows: list[Entry]) -> Entry:
    at = chance.choice([number * 30.0, number * 30.0, chance.uniform(0.0, 3000.0)])
    value = chance.choice([1.3e5, 1.32e5, 1.35e5, 2.3e5, 9e5])
    what = chance.random()
    if what < 0.12 and rows:
        gone = chance.choice(rows)
        return reading(number, at, value, kind="withdrawal", corrects=gone.id)
    if what < 0.3 and rows:
        wrong = chance.choice(rows)
        again = wrong.value if chance.random() < 0.5 else ATMOSPHERE + value
        return reading(
            number,
            wrong.happened_at - T0,
            value,
            corrects=wrong.id,
            value=again,
            kind=wrong.kind if wrong.kind != "withdrawal" else "reading",
            channel=wrong.channel,
        )
    if what < 0.4:
        return reading(number, at, value, kind="addition", channel="", value=0.01, quantity="mass")
    if what < 0.5:
        return reading(number, at, value, kind="event", channel="started", value=None, quantity="")
    channel = chance.choice(["suction gauge", "head gauge", "watts"])
    return reading(number, at, value, channel=channel)


@pytest.mark.parametrize("seed", range(40))
def test_followed_row_by_row_it_is_the_log_as_a_whole(seed: int) -> None:
    chance = random.Random(seed)
    rows: list[Entry] = []
    followed = DataQuality(FACTS)
    for number in range(1, 60):
        rows.append(some_row(number, chance, rows))
        followed.take(rows[-1])
        held = active_entries(rows)
        assert [e.id for e in followed.held()] == [e.id for e in held]
        # Nothing that is gone is in doubt, and nothing is in doubt that was confirmed last.
        origins = {followed.first_of(e.id) for e in held}
        assert set(followed.doubted) <= origins
    again = DataQuality(FACTS)
    for row in rows:
        again.take(row)
    assert again.doubted.keys() == followed.doubted.keys()


def test_a_doubt_that_rested_on_a_wrong_row_goes_with_it() -> None:
    followed = DataQuality(FACTS)
    followed.take(reading(1, 0.0, 2.3e5))  # a slip nobody could see
    assert [d.slip for d in followed.take(reading(2, 60.0, 1.3e5))] == ["zero of the gauge"]
    followed.take(reading(3, 0.0, 1.3e5, corrects=1))
    assert followed.doubted == {}


def test_a_confirmation_is_a_row_that_says_the_same() -> None:
    followed = DataQuality(FACTS)
    followed.take(reading(1, 0.0, 1.3e5))
    followed.take(reading(2, 60.0, 2.3e5))
    assert set(followed.doubted) == {2}
    before = followed.revision
    followed.take(reading(3, 60.0, 2.3e5, corrects=2))
    assert followed.doubted == {}
    assert followed.revision > before
    # What comes after is held against it.
    assert followed.take(reading(4, 120.0, 2.31e5)) == ()


def test_times_of_before_a_confirmed_clock_come_first() -> None:
    followed = DataQuality(FACTS)
    followed.take(reading(1, 7200.0, 1.3e5, written_at=T0 + 7200.0))
    [doubt, _earlier] = followed.take(reading(2, 3600.0, 1.31e5, written_at=T0 + 3600.0))
    assert doubt.slip == "clock back"
    followed.take(reading(3, 3600.0, 1.31e5, corrects=2, written_at=T0 + 3601.0))
    followed.take(reading(4, 3660.0, 1.31e5, written_at=T0 + 3660.0))
    assert [e.id for e in followed.held()] == [1, 3, 4]
    assert [followed.epoch(e) for e in followed.held()] == [0, 1, 1]
    assert followed.doubted == {}


def test_what_is_dated_ahead_counts_when_confirmed_and_doubts_nothing_else() -> None:
    followed = DataQuality(FACTS)
    hour = {"written_at": T0, "happened_at": T0 + 3600.0}
    [doubt] = followed.take(reading(1, 0.0, 1.3e5, **hour))
    assert doubt.slip == "ahead of the clock"
    [doubt] = followed.take(reading(2, 0.0, 0.0, kind="event", channel="stopped", **hour))
    assert doubt.slip == "ahead of the clock"
    assert followed.take(reading(3, 30.0, 1.31e5, written_at=T0 + 30.0)) == ()
    # Moved to its moment it is in order, and so it is when it is said to be right.
    followed.take(reading(4, 0.0, 1.3e5, corrects=1, written_at=T0 + 40.0))
    followed.take(reading(5, 0.0, 0.0, kind="event", channel="stopped", corrects=2, **hour))
    assert followed.doubted == {}
    assert followed.take(reading(6, 60.0, 1.32e5, written_at=T0 + 60.0)) == ()


def test_the_last_of_many_rows_takes_no_longer_than_the_first() -> None:
    followed = DataQuality(FACTS)
    rows = [reading(n, n, 1.3e5 + 10.0 * (n % 7), written_at=T0 + n) for n in range(1, 24001)]
    spent = []
    for part in (rows[:1000], rows[1000:23000], rows[23000:]):
        begun = time.process_time()
        for row in part:
            followed.take(row)
        spent.append(time.process_time() - begun)
    assert followed.doubted == {}
    assert spent[2] < 2.0 * spent[0]


def test_to_read_a_caution_disturbs_nothing() -> None:
    followed = DataQuality(FACTS)
    followed.take(reading(1, 0.0, 0.0, kind="event", channel="started", value=None, quantity=""))
    followed.take(reading(2, 60.0, 1.3e5))
    read = reading(3, 90.0, 0.0, kind="event", channel="acknowledged", value=None, quantity="",
                   text="isolate by Ann")  # fmt: skip
    followed.take(read)
    assert not read.done
    # Held against the reading before it still, which it would not be after a change.
    [doubt] = followed.take(reading(4, 120.0, 1.3e5 + ATMOSPHERE))
    assert doubt.slip == "zero of the gauge"

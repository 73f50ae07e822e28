"""Entrys that deserve a question, and those that do not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sweatline.log.channels import kind_of
from sweatline.log.entries import Entry
from sweatline.log.plausibility import Circumstances, doubts
from sweatline.refrigerant.refrigerant import load

ATMOSPHERE = 101325.0
PSI = 6894.757
FLUID = load("R-134a")
RUNNING = Circumstances(
    atmosphere=ATMOSPHERE,
    dew=lambda p: FLUID.saturation_temperature(p).dew,
    bubble=lambda p: FLUID.saturation_temperature(p).bubble,
    running=True,
)


def one(channel: str, value: float, at: float) -> Entry:
    return Entry(
        kind="reading", happened_at=at, written_at=at, text="", channel=channel,
        quantity=kind_of(channel), value=value,
    )  # fmt: skip


def psig(value: float, at: float = 0.0, channel: str = "suction gauge") -> Entry:
    return one(channel, ATMOSPHERE + value * PSI, at)


def celsius(value: float, at: float = 0.0, channel: str = "suction gas") -> Entry:
    return one(channel, 273.15 + value, at)


def slips(new: Entry, *before: Entry, c: Circumstances = RUNNING) -> list[str]:
    return [d.slip for d in doubts(new, before, c)]


def test_honest_pull_down_raises_no_question() -> None:
    before: list[Entry] = []
    for minute in range(12):
        at = 60.0 * minute
        new = (
            psig(70.0 - 43.0 * (1.0 - 2.0 ** (-minute / 2.0)), at),
            psig(92.0 + 23.0 * (1.0 - 2.0**-minute), at + 5, "head gauge"),
            celsius(20.0 - 1.2 * minute, at + 10),
            celsius(28.0, at + 15, "liquid line"),
            one("scale", 0.500 - 0.010 * minute, at + 20),
        )
        for reading in new:
            assert slips(reading, *before) == []
            before.append(reading)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_gauge_that_jumped_by_an_atmosphere(sign: float) -> None:
    [found] = doubts(psig(27.0 + sign * 14.7, 60.0), [psig(27.0)], RUNNING)
    assert found.slip == "zero of the gauge"
    assert found.meant == pytest.approx(ATMOSPHERE + 27.0 * PSI, rel=2e-3)
    # Not after ten minutes, and not when something was done meanwhile.
    assert slips(psig(27.0 + sign * 14.7, 700.0), psig(27.0)) == []
    disturbed = replace(RUNNING, disturbed_at=30.0)
    assert slips(psig(27.0 + sign * 14.7, 60.0), psig(27.0), c=disturbed) == []


def test_other_unit() -> None:
    [found] = doubts(one("suction gauge", ATMOSPHERE + 27e3, 60.0), [psig(27.0)], RUNNING)
    assert found.slip == "other unit"
    assert found.meant == pytest.approx(ATMOSPHERE + 27.0 * PSI)
    [found] = doubts(celsius(62.0, 60.0, "air in"), [celsius(16.5, 0.0, "air in")], RUNNING)
    assert found.slip == "other unit"
    assert found.meant == pytest.approx(273.15 + 16.67, abs=0.01)
    [found] = doubts(celsius(-8.9, 60.0, "air in"), [celsius(16.5, 0.0, "air in")], RUNNING)
    assert found.meant == pytest.approx(273.15 + 16.0, abs=0.1)
    [found] = doubts(one("scale", 12.0 * 1e-3, 60.0), [one("scale", 0.340, 0.0)], RUNNING)
    assert found.meant == pytest.approx(0.340, rel=0.01)
    assert slips(celsius(22.0, 60.0, "air in"), celsius(16.5, 0.0, "air in")) == []


def test_impossible_pairs() -> None:
    # 27 psig of R-134a is saturated at about -0.4 °C.
    assert slips(celsius(-40.0, 60.0), psig(27.0)) == ["below saturation"]
    assert slips(psig(27.0, 60.0), celsius(-40.0)) == ["below saturation"]
    assert slips(celsius(-3.0, 60.0), psig(27.0)) == []
    assert slips(celsius(60.0, 60.0, "liquid line"), psig(100.0, 0.0, "head gauge")) == [
        "above saturation"
    ]
    assert slips(psig(120.0, 60.0), psig(100.0, 0.0, "head gauge")) == ["suction above head"]
    # Standing, or not said to run: the same with more room.
    stopped = replace(RUNNING, running=False)
    assert slips(celsius(-40.0, 60.0), psig(27.0), c=stopped) == ["below saturation"]
    assert slips(celsius(-12.0, 60.0), psig(27.0), c=stopped) == []
    assert slips(celsius(60.0, 60.0, "liquid line"), psig(100.0), c=stopped) == []
    assert slips(psig(102.0, 60.0), psig(100.0, 0.0, "head gauge"), c=stopped) == []
    assert slips(celsius(-40.0, 900.0), psig(27.0)) == []


def test_order_clock_and_scale() -> None:
    assert slips(psig(27.0, 50.0), psig(27.5, 60.0)) == ["clock back", "earlier"]
    typed_late = replace(psig(27.0, 50.0), written_at=70.0)
    assert slips(typed_late, psig(27.5, 60.0)) == ["earlier"]
    assert slips(psig(27.0, 60.0), psig(27.0, 60.0)) == ["twice"]
    assert slips(one("scale", 0.52, 60.0), one("scale", 0.5, 0.0)) == ["scale went up"]
    assert slips(one("scale", 0.501, 60.0), one("scale", 0.5, 0.0)) == []


def test_slip_behind_an_impossible_pair() -> None:
    # 59 °F written as °C has no earlier reading to be held against: the air cannot warm gas so far.
    warm = replace(RUNNING, air=293.15)
    [found] = doubts(celsius(59.0, 60.0), [psig(27.0)], warm)
    assert (found.slip, found.meant) == ("warmer than the air", pytest.approx(273.15 + 15.0))
    assert slips(celsius(24.0, 60.0), psig(27.0), c=warm) == []
    # 27 psi written as bar, beside a suction at 10 °C.
    typed = replace(psig(27.0 * 14.50377, 60.0), unit="bar(g)")
    [found] = doubts(typed, [celsius(10.0)], RUNNING)
    assert found.slip == "below saturation"
    assert found.meant == pytest.approx(ATMOSPHERE + 27.0 * PSI, rel=1e-5)
    # 10 °C written as °F is -12 °C: colder than its saturation by more than two instruments err.
    [found] = doubts(celsius(-12.2, 60.0), [psig(27.0)], RUNNING)
    assert found.meant == pytest.approx(273.15 + 10.0, abs=0.1)
    # No slip explains a thermometer in the freezer.
    [found] = doubts(celsius(-60.0, 60.0), [psig(27.0)], RUNNING)
    assert found.meant is None


def test_clock_is_held_against_the_row_written_last() -> None:
    settled = replace(RUNNING, last_written=40.0)
    assert slips(replace(psig(27.0, 70.0), written_at=50.0), psig(27.0, 60.0), c=settled) == []
    assert slips(replace(psig(27.0, 70.0), written_at=30.0), psig(27.0, 60.0), c=settled) == [
        "clock back"
    ]


def test_an_instrument_may_show_the_same_ten_times_a_second() -> None:
    assert slips(psig(27.0, 60.0), psig(27.0, 60.1)) == []

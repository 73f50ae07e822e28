"""Entrys that deserve a question, and those that do not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sweatline.log.channels import kind_of
from sweatline.log.entries import Entry
from sweatline.log.orders import BY_KEY, Circumstances
from sweatline.log.plausibility import doubts, mending, question
from sweatline.refrigerant.refrigerant import load

ATMOSPHERE = 101325.0
PSI = 6894.757
FLUID = load("R-134a")


def saturated(p: float) -> float:
    return FLUID.saturation_temperature(min(max(p, FLUID.table.p_min), FLUID.table.p_max)).dew


RUNNING = Circumstances(
    atmosphere=ATMOSPHERE,
    dew=saturated,
    bubble=saturated,
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


# A machine in order with R-134a, every channel read: 27 psig boils at -0.4 °C, 100 psig condenses
# at 30 °C.
IN_ORDER = {
    "suction gauge": ATMOSPHERE + 27.0 * PSI,
    "head gauge": ATMOSPHERE + 100.0 * PSI,
    **{
        name: 273.15 + t
        for name, t in (
            ("suction gas", 5.0), ("discharge gas", 62.0), ("liquid line", 26.0), ("shell", 48.0),
            ("coil", 1.0), ("evaporator bend", 0.5), ("condenser bend", 30.0), ("air in", 20.0),
            ("air between", 9.0), ("air out", 27.0),
        )
    },
    "room humidity": 0.65,
    "air out humidity": 0.25,
    "watts": 240.0,
    "volts": 230.0,
    "amps": 1.5,
}  # fmt: skip
AT = 1000.0
STEADY = replace(RUNNING, disturbed_at=0.0, air=293.15)


def beside(name: str, **changed: float) -> list[Entry]:
    values = {**IN_ORDER, **{k.replace("_", " "): v for k, v in changed.items()}}
    return [one(n, v, AT + i) for i, (n, v) in enumerate(values.items()) if n != name]


@pytest.mark.parametrize("name", IN_ORDER)
def test_a_machine_in_order_is_asked_about_nothing(name: str) -> None:
    for c in (STEADY, replace(STEADY, running=False)):
        assert slips(one(name, IN_ORDER[name], AT + 60.0), *beside(name), c=c) == []


BROKEN = {
    # the channel read last, its value, others beside it -> the order that it breaks
    "suction above head": ("suction gauge", ATMOSPHERE + 130.0 * PSI, {}),
    "below saturation": ("suction gas", 265.0, {}),
    "above saturation": ("liquid line", 310.0, {}),
    "suction warmer than discharge": ("discharge gas", 270.0, {}),
    "suction warmer than shell": ("shell", 270.0, {}),
    "liquid warmer than discharge": ("discharge gas", 292.0, {"condenser_bend": 290.0}),
    "liquid colder than coil": ("coil", 304.0, {"air_out": 310.0, "air_between": 302.0}),
    "condenser warmer than discharge": ("condenser bend", 345.0, {}),
    "condenser colder than evaporator": ("condenser bend", 265.0, {}),
    "evaporator below saturation": ("evaporator bend", 262.0, {}),
    "coil below saturation": ("coil", 262.0, {}),
    "evaporating above the air": (
        "suction gauge", ATMOSPHERE + 95.0 * PSI,
        {"suction_gas": 300.5, "coil": 302.0, "evaporator_bend": 302.0, "air_between": 292.0,
         "liquid_line": 300.0},
    ),
    "air out colder than coil": ("air out", 268.0, {"air_between": 260.0, "coil": 274.0}),
    "air between colder than coil": ("air between", 268.0, {}),
    "air between warmer than air in": ("air between", 297.0, {}),
    "air between warmer than air out": ("air out", 278.0, {"air_between": 282.5}),
    "liquid colder than air between": ("liquid line", 275.0, {}),
    "air gained water": ("air out humidity", 0.75, {}),
    "more watts than volts and amps": ("watts", 420.0, {}),
}  # fmt: skip


def test_every_order_has_a_case() -> None:
    assert BROKEN.keys() == BY_KEY.keys()


@pytest.mark.parametrize("key", BROKEN)
def test_readings_that_physics_forbids_together_are_asked_about(key: str) -> None:
    name, value, changed = BROKEN[key]
    new, rest = one(name, value, AT + 60.0), beside(name, **changed)
    row = BY_KEY[key]
    # The order is what is broken, and among those that the reading breaks the first is asked about.
    values = {r.channel: r.number for r in [*rest, new]}
    assert row.broken(values, STEADY)
    rest = [r for r in rest if r.channel in row.channels]
    [found] = doubts(new, rest, STEADY)
    assert found.slip == key
    asked = question(new, found, ATMOSPHERE, "SI")
    assert "cannot" in asked
    assert "{" not in asked
    # Standing, only what holds at rest is asked.
    if row.at_rest is None:
        assert slips(new, *rest, c=replace(STEADY, running=False)) == []
    # A pipe lags what was done to the machine.
    if row.after:
        assert slips(new, *rest, c=replace(STEADY, disturbed_at=AT)) == []


@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("suction gas", "discharge gas"), ("discharge gas", "suction gas"),
        ("liquid line", "discharge gas"), ("coil", "liquid line"), ("air out", "coil"),
        ("air between", "air in"), ("suction gauge", "head gauge"),
    ],
)  # fmt: skip
def test_two_that_changed_places_are_named_and_the_exchange_offered(name: str, other: str) -> None:
    swapped = {other.replace(" ", "_"): IN_ORDER[name]}
    new = replace(one(name, IN_ORDER[other], AT + 60.0), id=9)
    rest = [replace(r, id=n) for n, r in enumerate(beside(name, **swapped))]
    [found] = doubts(new, rest, replace(STEADY, air=None))
    assert found.swapped
    assert found.beside.channel == other
    assert "swapped" in question(new, found, ATMOSPHERE, "SI")
    mended = mending(new, [found], ATMOSPHERE, "SI")
    assert mended is not None
    assert mended.line == f"swap 9 {found.beside.id}"


def test_a_first_reading_in_another_unit_is_asked_about() -> None:
    def asked(channel: str, value: float, unit: str) -> tuple[str, str]:
        new = replace(one(channel, value, AT), unit=unit, text="as typed")
        [found] = doubts(new, [], STEADY)
        mended = mending(new, [found], ATMOSPHERE, "US")
        return found.slip, mended.value if mended is not None else ""

    beyond = "beyond what a machine shows"
    # 110 psig written as bar(g), 95 °F as °C, 0.35 kW as W, 55 % as a share.
    assert asked("head gauge", ATMOSPHERE + 110e5, "bar(g)") == (beyond, "7.584 bar(g)")
    assert asked("discharge gas", 273.15 + 212.0, "°C") == (beyond, "100 °C")
    assert asked("suction gas", 273.15 + 59.0, "°C") == ("warmer than the air", "15 °C")
    assert asked("watts", 0.35, "W") == (beyond, "350 W")
    assert asked("room humidity", 0.0055, "%RH") == (beyond, "55 %RH")
    assert asked("barometer", 29.92 * 6894.757, "psi abs") == (beyond, "14.70 psia")
    # No unit explains a tube at 3000 °F.
    assert asked("liquid line", 1922.0, "°F") == (beyond, "")


def test_what_is_dated_ahead_is_asked_about_and_the_next_reading_is_not() -> None:
    wrong = replace(psig(27.0, AT + 3600.0), written_at=AT, text="27 psig", id=4)
    [found] = doubts(wrong, [psig(26.0, AT - 60.0)], RUNNING)
    assert found.slip == "ahead of the clock"
    assert "still to come" in question(wrong, found, ATMOSPHERE, "US")
    mended = mending(wrong, [found], ATMOSPHERE, "US")
    assert mended is not None
    assert mended.line == f"{mended.at} correct 4 27 psig"
    assert slips(psig(27.0, AT + 30.0), wrong) == []
    # Whole minutes and two clocks are no slip; nor is the time of a simulated machine.
    assert slips(replace(psig(27.0, AT + 90.0), written_at=AT)) == []
    assert slips(wrong, c=replace(RUNNING, simulated=True)) == []
    # An hour of the evening typed after midnight was yesterday's.
    late = replace(psig(27.0, AT + 23.0 * 3600.0), written_at=AT)
    [found] = doubts(late, [], RUNNING)
    assert found.meant_at == AT - 3600.0


def test_an_offer_is_the_typed_number_in_the_other_unit_and_believable() -> None:
    """70 °F after 20 °F: nobody reads 21 °F and writes 70; 70 °C would be no coil."""
    coil = replace(celsius(21.11, 60.0, "coil"), unit="°F")
    assert slips(coil, celsius(-6.67, 0.0, "coil")) == []
    warm = replace(celsius(60.0, 60.0, "liquid line"), unit="°F")
    [found] = doubts(warm, [psig(120.0, 0.0, "head gauge")], RUNNING)
    assert (found.slip, found.meant) == ("above saturation", None)
    # 10 °C written as °F is -12 °C; beside a gauge at which 10 °C cannot be, it is not offered.
    cold = replace(celsius(-12.2, 60.0), unit="°F")
    [found] = doubts(cold, [celsius(9.5)], RUNNING)
    assert (found.slip, found.meant) == ("other unit", pytest.approx(273.15 + 10.0, abs=0.1))
    assert "other unit" not in slips(cold, celsius(9.5), psig(70.0))

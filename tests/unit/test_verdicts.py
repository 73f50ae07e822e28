"""Draws held against limits: what counts as a fault, and what is told about a doubtful one."""

from __future__ import annotations

import functools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sweatline.answers import ranges_of, rows_of
from sweatline.assembly.build import Build, build_for
from sweatline.assembly.trial_runs import COLDER, Trial, colder_balance, trials
from sweatline.design.verdict import better_instrument, measurement_priority, settled
from sweatline.design.verdicts import criteria, judge, judged, static_verdicts
from sweatline.job.reading import read_job
from sweatline.machine.balance import SteadyState, filled
from sweatline.report.reasons import doubt_lines
from sweatline.uncertainty.parameter import Measured
from sweatline.uncertainty.sensitivity import Share

EXAMPLES = Path(__file__).parents[2] / "examples"
BOILING = ("model", "boiling")
HUMIDITY = ("room", "relative_humidity")
BORE = ("capillary", "1.25 on the reel", "bore")
CAPACITY = ("compressor", "drinks cooler", "rated_capacity")


@functools.cache
def drawn() -> tuple[Build, SteadyState, SteadyState, tuple[Trial, ...]]:
    r = build_for(
        read_job(EXAMPLES / "seed-store.toml"), compressor=2, refrigerant="R-513A", capillary=1
    )
    aim = filled(superheat=5.0)
    known = r.solve(aim, near=r.designed)
    cold = colder_balance(r, known, COLDER)
    assert cold is not None
    return r, known, cold, tuple(trials(r, known, aim, count=4, look_colder=True, cold=cold))


def test_every_labelled_quantity_of_a_steady_state_gets_a_range_and_a_row() -> None:
    _, known, _, runs = drawn()
    ranges = ranges_of([t.balance for t in runs if t.balance is not None] * 2)
    rows = rows_of(known, ranges)
    assert len(rows) == len(ranges) == 21
    assert all(r.range is not None or r.wanted for r in rows)
    assert [r.label for r in rows if r.wanted] == ["superheat, evaporator outlet"]


def test_a_draw_without_balance_in_the_colder_room_is_a_fault() -> None:
    r, known, cold, runs = drawn()
    fine = judged(r, runs)
    assert fine.faultless.all()
    lost = (replace(runs[0], colder=None), *runs[1:])
    over = judged(r, lost)
    assert list(over.faultless) == [False, True, True, True]
    assert over.probability("flooding_back") == pytest.approx(1.5 / 5.0)
    verdict = next(v for v in judge(r, known, cold, lost, over) if v.key == "flooding_back")
    assert verdict.probability == pytest.approx(1.5 / 5.0)


def test_a_draw_without_any_balance_is_no_chance_of_a_single_fault() -> None:
    r, _, _, runs = drawn()
    lost = (replace(runs[0], balance=None, colder=None), *runs[1:])
    over = judged(r, lost)
    assert list(over.faultless) == [False, True, True, True]
    assert over.probability("flooding_back") == pytest.approx(0.5 / 4.0)


def test_the_machine_itself_without_a_balance_in_the_colder_room_fails() -> None:
    r, known, _, runs = drawn()
    verdicts = judge(r, known, None, runs, judged(r, runs))
    flooding = next(v for v in verdicts if v.key == "flooding_back")
    assert flooding.state == "fails"
    assert flooding.number is None
    assert "colder room" in flooding.sentence


def test_a_limit_is_drawn_like_anything_else() -> None:
    r, known, _, _ = drawn()
    hot = next(c for c in criteria(r) if c.key == "discharge_hot")
    lower, upper = (
        hot.margin(r.machine, known, r.limits({("limits", "discharge_temperature"): z}))
        for z in (-1.0, 1.0)
    )
    assert lower - upper == pytest.approx(2.0 * r.job.limits.discharge_temperature.sd)


def test_a_note_does_not_name_a_fault_that_nobody_found() -> None:
    r, known, _, _ = drawn()
    parts = replace(r.job.compressors[2], oil="unknown", starting_torque="unknown")
    notes = {
        v.key: v.fault
        for v in static_verdicts(replace(r, compressor=parts), known)
        if v.state == "note"
    }
    assert notes == {"oil": "oil to be confirmed", "start": "pressures apart after a stop"}


def test_watts_at_pull_down_are_those_of_the_drawn_compressor() -> None:
    r, known, _, _ = drawn()
    at_start = next(c for c in criteria(r) if c.key == "overloaded_pull_down")
    weak, strong = (
        at_start.of(r.moved({("model", "compressor power"): z})[0], known, r.limits())
        for z in (-1.0, 1.0)
    )
    assert strong / weak == pytest.approx(np.exp(2 * 0.05), rel=1e-6)


def test_a_plate_without_watts_is_held_against_by_amps() -> None:
    job = read_job(EXAMPLES / "boat-shed.toml")
    one = replace(job.compressors[0], rated_current=Measured(value=1.5, sd=0.05, note="plate"))
    parts = {"compressor": 0, "refrigerant": "R-134a", "capillary": 1}
    build = build_for(replace(job, compressors=(one,)), **parts)
    balance = build.solve(filled(superheat=5.0), near=build.designed)
    running = next(c for c in criteria(build) if c.key == "overloaded")
    assert running.kind == "current"
    assert running.of(build.machine, balance, build.limits()) == balance.compressor_current
    assert running.margin(build.machine, balance, build.limits()) > 0.0
    silent = replace(one, rated_current=None)
    bare = build_for(replace(job, compressors=(silent,)), **parts)
    assert not [c for c in criteria(bare) if c.key.startswith("overloaded")]


def test_what_can_be_measured_better_is_told_with_its_tool() -> None:
    r, _, _, _ = drawn()
    by_key = {p.key: p for p in r.parameters}
    for key, tool in ((HUMIDITY, "wet-bulb"), (BORE, "pin gauges")):
        how, left = better_instrument(by_key[key])
        assert tool in how
        assert 0.0 < left < 0.8
    for key in (BOILING, CAPACITY, ("evaporator", "transverse_pitch")):
        assert better_instrument(by_key[key]) == ("", 1.0)


def test_a_doubtful_verdict_says_what_to_measure_first() -> None:
    r, _, _, _ = drawn()
    by_key = {p.key: p for p in r.parameters}
    shares = [
        Share(key=key, label=by_key[key].label, share=share, origin=by_key[key].origin, note="")
        for key, share in ((BOILING, 0.40), (HUMIDITY, 0.36), (BORE, 0.09), (CAPACITY, 0.04))
    ]
    found = measurement_priority(0.25, shares, r.parameters)
    assert found is not None
    assert [c.label for c in found.measure_first] == ["room humidity", "1.25 on the reel bore"]
    assert [c.origin for c in found.unmeasured] == ["model", "nameplate"]
    assert found.measure_first[0].chance_low < 0.25 < found.measure_first[0].chance_high
    first, second = doubt_lines(found)
    assert first.startswith(
        "Measure first: room humidity (36 % of the doubt), 1.25 on the reel bore (9 %). "
        "With a wet-bulb reading at the inlet the chance would move to "
    )
    assert second == (
        "Of what nobody measured, most of the doubt: boiling 40 % (model), "
        "drinks cooler rated capacity 4 % (nameplate)."
    )


@pytest.mark.parametrize(("chance", "done"), [(0.01, True), (0.02, False), (0.5, False)])
def test_what_is_as_good_as_sure_asks_for_no_measurement(chance: float, done: bool) -> None:
    assert settled(chance) is done
    assert measurement_priority(chance, [], []) is None

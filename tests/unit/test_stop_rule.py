"""What speaks against another dose, and what does not."""

from dataclasses import replace

import pytest

from sweatline.answers import Range
from sweatline.assembly.build import Build, build_for
from sweatline.charging.stop_rule import (
    LIMITS,
    Limit,
    Settled,
    asks_for_gas,
    mended_by_taking_out,
    obstacles,
    stop_conditions,
)
from sweatline.training.practice_machine import practice_job


@pytest.fixture(scope="module")
def build() -> Build:
    job = practice_job()
    return build_for(job, compressor=0, refrigerant="R-134a", capillary=0, length=1.0)


def about(value: float, width: float) -> Range:
    return Range(low=value - width, middle=value, high=value + width)


def seen(build: Build, *, gas: float = -20.0, superheat: float, subcooling: float = 3.0) -> Settled:
    """Discharge gas so far above its limit and superheat so far above its target. [K]"""
    limits, targets = build.job.limits, build.job.targets
    return Settled(
        at={
            "discharge gas": about(limits.discharge_temperature.value + gas, 2.0),
            "superheat": about(targets.superheat + superheat, 0.5),
            "subcooling": about(subcooling, 0.5),
        },
        model={},
        most_subcooling=8.0,
    )


def test_hot_gas_of_a_starved_machine_is_no_reason_to_stop(build: Build) -> None:
    starved = seen(build, gas=9.0, superheat=12.0)
    assert obstacles(build, starved) == ()
    assert len(asks_for_gas(build, starved)) == 1


def test_hot_gas_of_a_filled_machine_is_a_reason_to_stop(build: Build) -> None:
    filled = seen(build, gas=9.0, superheat=-1.0)
    assert "discharge" in [o.key for o in obstacles(build, filled)]
    assert asks_for_gas(build, filled) == ()


def test_hot_gas_is_a_reason_to_stop_where_nobody_knows_the_superheat(build: Build) -> None:
    hot = seen(build, gas=9.0, superheat=12.0).at["discharge gas"]
    found = obstacles(build, Settled(at={"discharge gas": hot}, model={}))
    assert [o.key for o in found] == ["discharge"]


def test_a_head_above_its_limit_is_a_reason_to_stop_however_starved(build: Build) -> None:
    most = build.job.limits.high_side_pressure
    assert most is not None
    starved = seen(build, gas=9.0, superheat=12.0)
    high = replace(starved, at={**starved.at, "head gauge": about(1.1 * most.value, 1e4)})
    assert [o.key for o in obstacles(build, high)] == ["head"]


def far(build: Build, limit: Limit, *, superheat: float) -> Settled:
    """Everything as it should be but one reading, far beyond this limit."""
    fine = seen(build, superheat=superheat)
    rules = {rule.key: rule for rule in stop_conditions(build, fine)}
    channel = {"head": "head gauge", "subcooling": "subcooling", "discharge": "discharge gas"}[
        limit.key
    ]
    value = rules[limit.key].limit_SI
    assert value is not None
    return replace(fine, at={**fine.at, channel: about(1.5 * value, 0.01 * value)})


@pytest.mark.parametrize("starved", [True, False])
@pytest.mark.parametrize("limit", [m for m in LIMITS if m.obstacle], ids=lambda m: m.key)
def test_what_brings_a_reading_nearer_decides_whether_its_limit_stops(
    build: Build, limit: Limit, starved: bool
) -> None:
    """No limit has a branch of its own: the table says what each means."""
    found = obstacles(build, far(build, limit, superheat=12.0 if starved else -1.0))
    assert (limit.obstacle in found) == (not starved or limit.nearer_by == "refrigerant")


@pytest.mark.parametrize("limit", LIMITS, ids=lambda m: m.key)
def test_only_a_limit_that_starving_brings_nearer_may_ask_for_gas(limit: Limit) -> None:
    assert not limit.while_starved or limit.nearer_by == "starving"
    if limit.obstacle is not None and limit.nearer_by == "starving":
        assert limit.while_starved


def test_every_condition_says_what_brings_it_nearer(build: Build) -> None:
    for rule in stop_conditions(build, seen(build, superheat=2.0)):
        assert rule.to_dict()["nearer_by"] in ("refrigerant", "starving")


def test_liquid_backed_up_before_a_starved_evaporator_is_a_reason_to_look(build: Build) -> None:
    """A blocked tube: published sign is liquid before it and superheat behind it."""
    assert obstacles(build, seen(build, superheat=9.0, subcooling=7.9)) == ()
    blocked = seen(build, superheat=9.0, subcooling=9.0)
    assert [o.key for o in obstacles(build, blocked)] == ["subcooling"]
    assert not mended_by_taking_out(build, blocked, obstacles(build, blocked))


def test_too_much_refrigerant_is_taken_out_and_not_looked_for(build: Build) -> None:
    full = seen(build, superheat=-4.0, subcooling=12.0)
    assert mended_by_taking_out(build, full, obstacles(build, full))
    high = far(build, next(m for m in LIMITS if m.key == "head"), superheat=-4.0)
    assert not mended_by_taking_out(build, high, obstacles(build, high))

"""What speaks against another dose, and what does not."""

from dataclasses import replace

import pytest

from sweatline.answers import Range
from sweatline.assembly.build import Build, build_for
from sweatline.charging.stop_rule import Settled, hot_for_want_of_charge, obstacles
from sweatline.training.practice_machine import practice_job


@pytest.fixture(scope="module")
def build() -> Build:
    job = practice_job()
    return build_for(job, compressor=0, refrigerant="R-134a", capillary=0, length=1.0)


def about(value: float, width: float) -> Range:
    return Range(low=value - width, middle=value, high=value + width)


def seen(build: Build, *, gas: float, superheat: float) -> Settled:
    """Discharge gas so far above its limit and superheat so far above its target. [K]"""
    limits, targets = build.job.limits, build.job.targets
    return Settled(
        at={
            "discharge gas": about(limits.discharge_temperature.value + gas, 2.0),
            "superheat": about(targets.superheat + superheat, 0.5),
            "subcooling": about(1.0, 0.5),
        },
        model={},
    )


def test_hot_gas_of_a_starved_machine_is_no_reason_to_stop(build: Build) -> None:
    starved = seen(build, gas=9.0, superheat=12.0)
    assert obstacles(build, starved) == ()
    assert hot_for_want_of_charge(build, starved)


def test_hot_gas_of_a_filled_machine_is_a_reason_to_stop(build: Build) -> None:
    filled = seen(build, gas=9.0, superheat=-1.0)
    assert "discharge" in [o.key for o in obstacles(build, filled)]
    assert not hot_for_want_of_charge(build, filled)


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

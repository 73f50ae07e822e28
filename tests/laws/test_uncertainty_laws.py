"""Every uncertain number of a job reaches the machine, and samples keep the laws of chance."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.leaves import leaves

from sweatline.answers import quantities_of, range_of
from sweatline.assembly.build import Build, build_for
from sweatline.assembly.parameters import MODELS
from sweatline.job.model import Job
from sweatline.job.reading import read_job, read_job_text
from sweatline.machine.balance import SteadyState, filled, solve
from sweatline.uncertainty.parameter import Measured
from sweatline.uncertainty.sensitivity import normal_samples

EXAMPLES = Path(__file__).parents[2] / "examples"
# A rating and a displacement, cut and fitted tubes, reciprocating and rotary.
BUILDS = [
    ("seed-store.toml", 0, "R-134a", 0),
    ("seed-store.toml", 1, "R-290", 1),
    ("seed-store.toml", 2, "R-513A", 1),
    ("boat-shed.toml", 0, "R-134a", 0),
    ("everything", 0, "R-152a", 1),
]
# Uncertain numbers of a job that no sample moves, by their path in the job, and why.
NOT_SAMPLED = {
    "original.charge": "a reading of the machine as it ran, not of the rebuild",
    "original.power": "a reading of the machine as it ran, not of the rebuild",
    "original.current": "a reading of the machine as it ran, not of the rebuild",
    "original.water_removal": "a reading too; sets the airflow, then sampled, when nobody measured",
    "original.rating_temperature": "sets the airflow when nobody measured that",
    "original.rating_relative_humidity": "sets the airflow when nobody measured that",
    "fan.shut_off_pressure": "says how frost slows the air; its times are told without a range",
    "limits.low_side_pressure": "only decides whether a hot store is mentioned",
    **dict.fromkeys(
        (
            "building.air_changes",
            "building.ground_water",
            "climate.coldest_month",
            "climate.warmest_month",
            "climate.relative_humidity",
            "control.standby",
        ),
        "of a year in the room, which draws it itself",
    ),
    "capillaries.length": "length on the shelf: what is cut from it is sampled instead",
}
# What neither example has: a soldered capillary, an accumulator, a drier and a fan that were
# measured, a displacement and a rating of one compressor.
WRITTEN = {
    'suction_bore = "6.5 mm"\n': 'suction_bore = "6.5 mm"\naccumulator_volume = "80 cm3"\n'
    'exchanger_length = "0.5 m"\ndrier_volume = "25 cm3"\n',
    'starting_torque = "low"\n': 'starting_torque = "low"\n[compressor.rating]\n'
    'refrigerant = "R-134a"\ncapacity = "760 W"\nconditions = "ASHRAE HBP"\n',
    'position = "after"\n': 'position = "after"\nshut_off_pressure = "60 Pa"\n',
}


@functools.cache
def job(name: str) -> Job:
    if name != "everything":
        return read_job(EXAMPLES / name)
    text = (EXAMPLES / "seed-store.toml").read_text(encoding="utf-8")
    for old, new in WRITTEN.items():
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return read_job_text(text)


@functools.cache
def build(which: int) -> Build:
    name, compressor, refrigerant, capillary = BUILDS[which]
    return build_for(
        job(name),
        compressor=compressor,
        refrigerant=refrigerant,
        capillary=capillary,
    )


every_build = pytest.mark.parametrize("which", range(len(BUILDS)), ids=lambda i: f"{BUILDS[i][:2]}")


def knowns(thing: Any, path: str = "") -> Iterator[tuple[str, Measured]]:
    """Every Measured below a dataclass that is uncertain, with its path; lists count as one."""
    if isinstance(thing, Measured):
        if thing.sd > 0.0:
            yield path.strip("."), thing
    elif isinstance(thing, tuple):
        for item in thing:
            yield from knowns(item, path)
    elif dataclasses.is_dataclass(thing):
        for f in dataclasses.fields(thing):
            yield from knowns(getattr(thing, f.name), f"{path}.{f.name}")


def parts_of(r: Build) -> Job:
    """The job with no other compressor and capillary than those of the build."""
    return dataclasses.replace(
        r.job,
        compressors=(r.compressor,),
        capillaries=(r.capillary,),
        original=dataclasses.replace(r.job.original, compressor=None, capillary=None),
    )


@every_build
def test_every_number_of_the_job_is_sampled_or_its_reason_is_written(which: int) -> None:
    r = build(which)
    drawn = {(p.value, p.sd) for p in r.parameters}
    for path, known in knowns(parts_of(r)):
        if path == "capillaries.length" and r.capillary.fitted:
            assert (known.value, known.sd) in drawn
        elif path not in NOT_SAMPLED:
            assert (known.value, known.sd) in drawn, f"{path} is uncertain and no sample moves it"


def test_no_reason_is_left_for_a_number_that_does_not_exist() -> None:
    paths = {path for name, *_ in BUILDS for path, _ in knowns(job(name))}
    assert set(NOT_SAMPLED) <= paths | {"original.rating_temperature"}


@functools.cache
def nominal(which: int) -> SteadyState:
    return build(which).solve(filled(superheat=5.0), near=build(which).designed)


@every_build
def test_every_uncertain_number_moves_something_shown(which: int) -> None:
    """Each by itself, one standard deviation: a result, or a limit that verdicts go by."""
    r = build(which)
    known = nominal(which)
    table = r.refrigerant.table
    still = []
    for p in r.parameters:
        machine, line = r.moved({p.key: 1.0})
        if r.limits({p.key: 1.0}) != r.limits():
            continue
        moved = solve(table, line, machine, filled(superheat=5.0), near=known)
        change = max(
            abs(q.of(moved) / q.of(known) - 1.0) for q in quantities_of(SteadyState) if q.of(known)
        )
        if change < 1e-6:
            still.append(p.key)
    assert still == []


@every_build
def test_every_model_s_error_is_sampled(which: int) -> None:
    r = build(which)
    unused = {"discharge tube"} if r.compressor.kind == "rotary" else set()
    if r.refrigerant.name == "R-134a":  # the refrigerant these compressors are made for
        unused |= {"other refrigerant"}
    assert set(MODELS) - unused == {p.key[1] for p in r.parameters if p.key[0] == "model"}


def test_the_scatter_of_the_tube_is_that_of_its_own_answers() -> None:
    from sweatline.parts.capillary_flow import FLOW_SCATTER

    assert MODELS["capillary flow"].sd == FLOW_SCATTER


def test_an_empty_sample_is_the_machine_itself() -> None:
    for which in range(len(BUILDS)):
        assert leaves(build(which).moved({})[0]) == leaves(build(which).machine)


@pytest.mark.parametrize("count", [1, 2, 5, 8, 33, 500])
def test_samples_come_in_balanced_sets(count: int) -> None:
    """As many below as above the middle of every axis, and in every quarter, as Sobol promises."""
    z = normal_samples(50, count)
    n = len(z)
    assert n >= count
    assert n & (n - 1) == 0
    if n >= 4:
        edges = [-np.inf, -0.6744897501960817, 0.0, 0.6744897501960817, np.inf]
        for column in z.T:
            assert list(np.histogram(column, edges)[0]) == [n // 4] * 4


@pytest.mark.parametrize("count", [8, 16, 64, 128])
def test_a_range_of_samples_holds_nine_tenths(count: int) -> None:
    """Of a normal result that many numbers share: the truth, not the samples, is what it holds."""
    from scipy.special import ndtr

    weights = np.random.default_rng(1).normal(size=40)
    held = []
    for seed in range(60):
        y = normal_samples(40, count, seed) @ weights / np.linalg.norm(weights)
        found = range_of(list(y))
        held.append(float(ndtr(found.high) - ndtr(found.low)))
    assert np.mean(held) == pytest.approx(0.9, abs=0.025)


def test_a_range_of_few_amps_is_not_below_nothing() -> None:
    assert range_of([0.4, 0.5, 0.6, 9.0]).low == 0.0
    assert range_of([-0.4, 0.5, 0.6, 9.0]).low < 0.0

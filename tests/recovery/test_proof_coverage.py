"""A proof by the readings of machines that are as described: nine in ten ranges hold.

Machines are sampled from what a job leaves open, charged a few per cent off, read with instruments
of the stated errors in a room that is not the job's.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from sweatline.answers import Range
from sweatline.assembly.build import Build, build_for, choose
from sweatline.bench.proof.bucket import Bucket
from sweatline.bench.proof.observables import OBSERVABLES
from sweatline.bench.proof.proof import ProofAnswer, ProofRequest, prove
from sweatline.bench.proof.proved_machine import RATING_ROOMS
from sweatline.errors import SolveError
from sweatline.job.reading import read_job
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.machine.room_map import in_room

SEED = Path(__file__).parents[2] / "examples" / "seed-store.toml"
PARTS = {"compressor": "drinks", "refrigerant": "R-134a", "capillary": "1.4"}
ROOM = (291.15, 0.68)
MACHINES = 20
READ = ("suction", "head", "suction_gas", "return_gas", "discharge_gas", "liquid_line", "air_out",
        "airflow", "watts")  # fmt: skip


@dataclass(frozen=True)
class Case:
    """A machine as it is, and what came of its readings."""

    truth: SteadyState
    rooms: tuple[SteadyState, ...]
    answer: ProofAnswer


def machine(build: Build, rng: np.random.Generator) -> Case | None:
    """One sampled machine, read and proved; None where it has no balance."""
    table, pressure = build.refrigerant.table, build.job.place.atmospheric_pressure
    made, line = build.moved(build.by_key(rng.standard_normal(len(build.parameters))))
    try:
        full = solve(table, line, made, filled(superheat=build.job.targets.superheat))
        charge = fixed_charge(full.charge * math.exp(0.05 * rng.standard_normal()))
        moved = in_room(made, *ROOM, pressure)
        truth = solve(table, line, moved, charge, near=full)
        rooms = [
            solve(table, line, in_room(made, t, rh, pressure), charge, near=truth)
            for _name, t, rh in RATING_ROOMS
        ]
    except SolveError:
        return None
    read = {}
    for o in OBSERVABLES:
        value = o.shown(truth, moved, pressure)
        sd = o.sd * abs(value) if o.relative else o.sd
        read[o.field] = value + sd * rng.standard_normal()
    answer = prove(
        ProofRequest(
            atmosphere=pressure,
            job=build.job,
            bucket=Bucket(
                amount=max(read["water"], 1e-6) * 7200.0,
                time=7200.0,
                amount_sd=0.03 * read["water"] * 7200.0,
            ),
            room_temperature=ROOM[0] + 0.5 * rng.standard_normal(),
            room_humidity=ROOM[1] + 0.03 * rng.standard_normal(),
            stood_still=1800.0,
            draws=64,
            **PARTS,
            **{name: read[name] for name in READ},
        )
    )
    return Case(truth=truth, rooms=tuple(rooms), answer=answer)


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    job = read_job(str(SEED))
    i, name, j = choose(job, **PARTS)
    build = build_for(job, compressor=i, refrigerant=name, capillary=j)
    rng = np.random.default_rng(20261130)
    found = [machine(build, rng) for _ in range(MACHINES)]
    return [case for case in found if case is not None]


def holds(found: Range | None, truth: float) -> bool:
    assert found is not None
    return found.low <= truth <= found.high


def test_a_machine_as_described_is_inside_nine_times_in_ten(cases: list[Case]) -> None:
    verdicts = Counter(one.verdict for case in cases for one in case.answer.judged)
    assert 0.82 <= verdicts["inside"] / verdicts.total() <= 0.97


def test_a_machine_as_described_passes(cases: list[Case]) -> None:
    outcomes = Counter(case.answer.verdict for case in cases)
    assert outcomes["passes"] >= 0.8 * len(cases)
    assert outcomes["does not count"] == 0


def test_what_was_measured_holds_the_truth(cases: list[Case]) -> None:
    held = [
        held
        for case in cases
        for t, a in ((case.truth, case.answer),)
        for held in (
            holds(a.water, t.water),
            holds(a.power, t.total_power),
            holds(a.heat.cooling, t.cooling),
            holds(a.heat.flow, t.flow),
            all(gap.closes for gap in a.heat.gaps),
        )
    ]
    assert 0.82 <= sum(held) / len(held) <= 0.98


def test_what_is_carried_to_other_rooms_holds_the_truth(cases: list[Case]) -> None:
    held = [
        held
        for case in cases
        for room, b in zip(case.answer.rooms, case.rooms, strict=True)
        for held in (holds(room.water, b.water), holds(room.power, b.total_power))
    ]
    assert 0.80 <= sum(held) / len(held) <= 0.98

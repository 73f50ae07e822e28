"""A fault that was hidden in a machine is named again from its readings.

Machines are drawn from all that the job leaves open and solved with their fault; what is diagnosed
knows neither. The counts over many more machines are in the evidence.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from sweatline.assembly.build import Build, build_for
from sweatline.diagnosis.atlas import atlas_of
from sweatline.diagnosis.causes import CAUSES
from sweatline.diagnosis.diagnosis import Diagnosis, held
from sweatline.diagnosis.trials import Case, case
from sweatline.diagnosis.weighing import Weighing
from sweatline.job.reading import read_job
from sweatline.machine.balance import filled

SEED = Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml"
CASES = 4


@cache
def bench() -> tuple[Build, Weighing]:
    build = build_for(read_job(SEED), compressor=0, refrigerant="R-134a", capillary=0)
    return build, Weighing(atlas_of(build))


@cache
def cases(cause: str) -> tuple[Case, ...]:
    build, _weighing = bench()
    full = build.solve(filled(superheat=build.job.targets.superheat), near=build.designed)
    return tuple(
        case(build, full, np.random.default_rng([7001, n]), (cause,) if cause else ())
        for n in range(CASES)
    )


def found(one: Case) -> Diagnosis:
    build, weighing = bench()
    return held(build, weighing, one.readings)


def test_a_fault_is_among_what_is_told() -> None:
    causes = [k for k, c in CAUSES.items() if c.part in ("charge", "machine")]
    told = [
        (cause, [s.key for s in found(one).suspects]) for cause in causes for one in cases(cause)
    ]
    first = sum(keys[0] == cause for cause, keys in told)
    among = sum(cause in keys[:3] for cause, keys in told)
    assert first >= 0.7 * len(told)
    assert among >= 0.9 * len(told)


def test_a_machine_in_order_is_not_called_ill() -> None:
    named = [found(one) for one in cases("")]
    wrong = [d for d in named if d.certainty == "named" and d.suspects[0].key != "nothing"]
    assert not wrong


def test_readings_that_say_nothing_leave_the_chances_as_they_were() -> None:
    _build, weighing = bench()
    one = cases("")[0]
    assert weighing.weigh(one.readings).chance.sum() == pytest.approx(1.0)
    blind = [replace(r, sd=1e4 * r.sd) for r in one.readings if r.channel == "discharge gas"]
    weighed = weighing.weigh(blind)
    total = sum(g.hypothesis.usual for g in weighed.grids)
    for grid, chance in zip(weighed.grids, weighed.chance, strict=True):
        usual = grid.hypothesis.usual / total
        assert chance == pytest.approx(usual, abs=0.002), grid.hypothesis

"""A fault that was hidden in a machine is named again from its readings.

Machines are drawn from all that the job leaves open and solved with their fault; what is diagnosed
knows neither. The counts over many more machines are in the evidence.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import chain
from pathlib import Path

import numpy as np
import pytest

from sweatline.assembly.build import Build, build_for
from sweatline.diagnosis.atlas import atlas_of
from sweatline.diagnosis.causes import CAUSES
from sweatline.diagnosis.diagnosis import Diagnosis, held
from sweatline.diagnosis.trials import READ_WITH, Case, case, case_by_prior, ranks
from sweatline.diagnosis.weighing import Weighing
from sweatline.job.reading import read_job
from sweatline.machine.balance import filled

SEED = Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml"
CASES = 4
RANKED = 12


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


def test_both_of_two_faults_have_a_size_where_both_are_there() -> None:
    _build, weighing = bench()
    one = cases("dirty condenser")[0]
    weighed = weighing.weigh(one.readings)
    pair = next(
        g for g in weighed.grids if g.hypothesis.causes == ("restriction", "dirty condenser")
    )
    alone = replace(weighed, grids=(pair,), chance=np.ones(1))
    for key in pair.hypothesis.causes:
        sizes = alone.of_size(key)
        assert sizes is not None
        assert min(CAUSES[key].sizes) < sizes.range().low < sizes.range().high


def test_ranges_hold_the_truth_as_often_as_they_say() -> None:
    """Machines as the diagnosis takes them to be, read with few instruments and with many.

    Twelve each; `tools/survey_diagnosis.py` counts on many more.
    """
    build, weighing = bench()
    full = build.solve(filled(superheat=build.job.targets.superheat), near=build.designed)
    below: list[float] = []
    sure, right = 0.0, 0
    for channels in READ_WITH.values():
        for n in range(RANKED):
            one = case_by_prior(
                build, full, weighing, np.random.default_rng([7002, n, len(channels)]), channels
            )
            weighed = weighing.weigh(one.readings)
            below += chain.from_iterable(ranks(weighed, one).values())
            (key, about), chance = next(iter(weighed.present().items()))
            sure += chance
            right += key in (one.causes or ("nothing",)) and about in ((), one.channels)
    held = np.mean([0.05 <= v <= 0.95 for v in below])
    assert 0.86 <= held <= 0.93
    # The readings of one machine go together, so the histogram scatters more than its count says.
    fifths = np.histogram(below, np.linspace(0.0, 1.0, 6))[0] / len(below)
    assert np.all(np.abs(fifths - 0.2) < 0.06)
    machines = RANKED * len(READ_WITH)
    assert abs(sure - right) < 2.5 * 0.5 * machines**0.5


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

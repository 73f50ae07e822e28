"""Ranges and shares of variance by samples: against lines, Saltelli's estimator, and by hand."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm, sobol_indices

from sweatline.answers import quantities_of, range_of
from sweatline.assembly.build import Build, build_for
from sweatline.assembly.trial_runs import Trial, trials
from sweatline.design.verdict import measurement_priority
from sweatline.errors import SolveError
from sweatline.job.reading import read_job
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.uncertainty.sensitivity import first_order, largest, normal_samples

QUANTITIES = {q.key: q.of for q in quantities_of(SteadyState)}
EXAMPLES = Path(__file__).parents[2] / "examples"
JOBS = {
    "measured well": ("seed-store.toml", 2, "R-513A", 1),
    "full of defaults": ("boat-shed.toml", 0, "R-134a", 1),
}
every_job = pytest.mark.parametrize("name", JOBS)


@functools.cache
def build(name: str) -> Build:
    file, compressor, refrigerant, capillary = JOBS[name]
    return build_for(
        read_job(EXAMPLES / file),
        compressor=compressor,
        refrigerant=refrigerant,
        capillary=capillary,
    )


@functools.cache
def known(name: str) -> SteadyState:
    return build(name).solve(filled(superheat=5.0), near=build(name).designed)


@functools.cache
def runs(name: str, charged: bool) -> tuple[Trial, ...]:
    target = fixed_charge(known(name).charge) if charged else filled(superheat=5.0)
    return tuple(trials(build(name), known(name), target, count=256))


@functools.cache
def slopes(name: str, charged: bool) -> Mapping[str, Any]:
    """Half of what each quantity changes between one standard deviation down and up. (d,)"""
    r = build(name)
    target = fixed_charge(known(name).charge) if charged else filled(superheat=5.0)
    ends = []
    for p in r.parameters:
        for step in (-1.0, 1.0):
            machine, line = r.moved({p.key: step})
            ends.append(solve(r.refrigerant.table, line, machine, target, near=known(name)))
    return {
        key: np.array([0.5 * (of(b) - of(a)) for a, b in zip(ends[::2], ends[1::2], strict=True)])
        for key, of in QUANTITIES.items()
    }


def sampled(name: str, charged: bool, of: Callable[[SteadyState], float]) -> tuple[Any, Any]:
    good = [t for t in runs(name, charged) if t.balance is not None]
    return np.array([t.z for t in good]), np.array([of(t.balance) for t in good if t.balance])


def linearised(name: str, charged: bool, key: str) -> tuple[float, float, float]:
    """Both ends by a line, less those of the samples, and their ratio; in widths of the samples."""
    of = QUANTITIES[key]
    spread = range_of(list(sampled(name, charged, of)[1]))
    middle = of(known(name))
    far = 1.645 * math.sqrt(float(np.sum(slopes(name, charged)[key] ** 2)))
    width = spread.high - spread.low
    return (
        (middle - far - spread.low) / width,
        (middle + far - spread.high) / width,
        2.0 * far / width,
    )


# Quantities that a line describes, and how far its ends may lie off in widths of the range.
# Amperes of a motor of unknown kind are those of one kind or another, which no line describes.
FAIR = [
    k
    for k in QUANTITIES
    if k not in ("superheat_K", "suction_temperature_K", "compressor_current_A", "total_current_A")
]


@every_job
def test_a_line_is_fair_while_the_superheat_is_held(name: str) -> None:
    for key in FAIR:
        low, high, ratio = linearised(name, False, key)
        assert abs(low) < 0.25, key
        assert abs(high) < 0.25, key
        assert 0.8 < ratio < 1.25, key


@every_job
def test_a_line_fails_where_superheat_runs_to_zero(name: str) -> None:
    """With the charge weighed in instead, many samples flood: that is why ranges are sampled."""
    low, _high, _ratio = linearised(name, True, "superheat_K")
    assert low < -0.1  # a line goes below zero
    superheats = sampled(name, True, QUANTITIES["superheat_K"])[1]
    assert np.mean(superheats == 0.0) > 0.1
    # What hangs on the superheat less is still fair. The cooling is none of it: liquid that comes
    # back costs capacity.
    for key in ("total_power_W", "water_kg_per_s", "discharge_pressure_Pa"):
        low, high, _ratio = linearised(name, True, key)
        assert abs(low) < 0.35, key
        assert abs(high) < 0.35, key


@every_job
@pytest.mark.parametrize("key", ["water_kg_per_s", "total_power_W", "charge_kg", "subcooling_K"])
def test_shares_by_samples_are_those_of_a_line(name: str, key: str) -> None:
    found = first_order(*sampled(name, False, QUANTITIES[key]))
    squares = slopes(name, False)[key] ** 2
    alone = squares / squares.sum()
    assert np.abs(found - alone).max() < 0.08
    assert int(np.argmax(found)) == int(np.argmax(alone))
    for i in np.argsort(-found)[:2]:  # those that would be told first
        assert alone[i] > np.sort(alone)[-3] - 0.05


def test_shares_by_samples_are_those_of_saltelli() -> None:
    """Six numbers of one machine uncertain, the rest known: Saltelli's estimator needs eight times
    as many solves as points."""
    r, b = build("measured well"), known("measured well")
    of = QUANTITIES["water_kg_per_s"]
    keys = [
        *(("room", "relative_humidity"), ("room", "temperature"), ("model", "boiling")),
        *(("model", "volumetric"), ("fan", "volume_flow")),
        ("compressor", "drinks cooler", "rated_capacity"),
    ]
    assert set(keys) <= {p.key for p in r.parameters}
    target = filled(superheat=5.0)

    def water(z: Any) -> Any:
        out = []
        for column in z.T:
            machine, line = r.moved(dict(zip(keys, column.tolist(), strict=True)))
            try:
                out.append(of(solve(r.refrigerant.table, line, machine, target, near=b)))
            except SolveError:
                out.append(of(b))  # one or two of a thousand, and the estimator needs every one
        return np.array(out)

    saltelli = sobol_indices(func=water, n=128, dists=[norm()] * 6, rng=np.random.default_rng(3))
    z = normal_samples(6, 128)
    ours = first_order(z, water(z.T))
    assert np.abs(ours - saltelli.first_order).max() < 0.06
    assert ours.sum() == pytest.approx(1.0, abs=0.05)  # hardly any interaction


def test_shares_of_a_sum_known_by_hand() -> None:
    """Sixty numbers, of which four matter: linear, quadratic, and two only together."""
    z = normal_samples(60, 256)
    y = 3.0 * z[:, 0] + 2.0 * z[:, 1] + 1.0 * (z[:, 2] ** 2 - 1.0) + 1.5 * z[:, 3] * z[:, 4]
    total = 9.0 + 4.0 + 2.0 + 2.25
    found = first_order(z, y)
    expected = np.zeros(60)
    expected[:3] = np.array([9.0, 4.0, 2.0]) / total
    assert np.abs(found - expected).max() < 0.04
    assert found[5:].sum() < 0.03


@pytest.mark.parametrize("count", [32, 64, 128])
def test_noise_has_no_shares(count: int) -> None:
    """With more numbers than draws something always seems to fit; it must not be told."""
    rng = np.random.default_rng(5)
    told = [first_order(normal_samples(50, count), rng.normal(size=count)).sum() for _ in range(40)]
    assert np.mean(np.array(told) > 0.0) < 0.15


def test_measuring_a_number_moves_the_chance_as_the_shares_say() -> None:
    """Against a machine of numbers: the margin is normal, one number carries 0.64 of it."""
    r = build("measured well")
    z = normal_samples(len(r.parameters), 4096)
    keys = [p.key for p in r.parameters]
    humidity, boiling = ("room", "relative_humidity"), ("model", "boiling")
    i, j = keys.index(humidity), keys.index(boiling)
    margin = 0.8 * z[:, i] + 0.6 * z[:, j] - 0.5
    shares = largest(r.parameters, first_order(z, margin), 5)
    found = measurement_priority(float(np.mean(margin > 0.0)), shares, r.parameters)
    assert found is not None
    first = found.measure_first[0]
    assert first.key == humidity
    assert found.unmeasured[0].key == boiling
    # A wet-bulb reading leaves half of the hygrometer's deviation, so a quarter of its variance.
    known_part = 0.8 * math.sqrt(0.75)
    rest = math.sqrt(1.0 - known_part**2)
    for end, side in ((first.chance_low, -1.0), (first.chance_high, 1.0)):
        assert end == pytest.approx(norm.cdf((-0.5 + side * known_part) / rest), abs=0.02)

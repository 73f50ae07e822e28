"""How often a calibration's ranges hold the truth, on machines with hidden numbers.

Each seed draws every uncertain number of the example's machine from its prior, lets the model show
the readings with the noise of the instruments, calibrates to them as if to a real notebook, and
compares: do the 90 % ranges of the numbers, and of a rebuild in the same cabinet, hold what
was hidden? One model on both sides: this checks the inference, not the physics.

    python benchmarks/calibration_coverage.py --seeds 64
"""

import argparse
import math
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.known_machines import showing, with_hidden_numbers  # noqa: E402

from sweatline.answers import quantities_of, range_of  # noqa: E402
from sweatline.assembly.assemble import assemble  # noqa: E402
from sweatline.assembly.build import build_for  # noqa: E402
from sweatline.assembly.calibration import calibrate  # noqa: E402
from sweatline.assembly.known_machine import runs_of  # noqa: E402
from sweatline.assembly.parameters import OTHER_REFRIGERANT, Sample, parts_of  # noqa: E402
from sweatline.errors import SolveError  # noqa: E402
from sweatline.job.reading import read_job  # noqa: E402
from sweatline.machine.balance import (  # noqa: E402
    SteadyState,
    filled,
    solve,
)
from sweatline.uncertainty.posterior import correlation  # noqa: E402
from sweatline.uncertainty.sensitivity import normal_samples  # noqa: E402

REBUILD = {"compressor": 0, "refrigerant": "R-134a", "capillary": 1}
SHOWN = ("suction_pressure_Pa", "discharge_pressure_Pa", "coil_temperature_K", "charge_kg",
         "total_power_W", "water_kg_per_s")  # fmt: skip
Z90 = 1.6448536269514722


def main() -> int:
    """Run the seeds and print the shares."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seeds", type=int, default=64)
    parser.add_argument("--first", type=int, default=1000)
    parser.add_argument("--draws", type=int, default=32)
    parser.add_argument("--job", default=str(ROOT / "examples" / "timber-store.toml"))
    parser.add_argument(
        "--misread", type=float, help="instead, put one reading off by so many of its errors"
    )
    options = parser.parse_args()
    job = read_job(options.job)
    if options.misread is not None:
        return _misread(job, options.misread, range(options.first, options.first + options.seeds))
    held: dict[str, list[bool]] = {}
    rebuilt: dict[str, list[bool]] = {q: [] for q in SHOWN}
    narrower: dict[str, list[float]] = {q: [] for q in SHOWN}
    aside, readings, unsolved = 0, 0, 0
    start = time.perf_counter()
    plain = build_for(job, **REBUILD)
    for seed in range(options.first, options.first + options.seeds):
        there, truth = with_hidden_numbers(job, seed)
        try:
            found = calibrate(there)
        except SolveError:
            unsolved += 1
            continue
        aside += len(found.set_aside)
        readings += len(found.readings)
        for i, parameter in enumerate(found.posterior.parameters):
            sd = math.sqrt(found.posterior.covariance[i, i])
            if sd < 0.95:
                inside = abs(truth[parameter.key] - found.posterior.mean[i]) <= Z90 * sd
                held.setdefault(parameter.label, []).append(inside)
        _rebuild(job, found.posterior, truth, plain, seed, options.draws, rebuilt, narrower)
    took = time.perf_counter() - start
    print(f"{options.seeds} seeds in {took:.0f} s, {unsolved} not solved; "
          f"{aside} of {readings} readings set aside")  # fmt: skip
    every = [x for xs in held.values() for x in xs]
    print(f"numbers narrowed by 5 % or more: {100 * np.mean(every):.1f} % of {len(every)} inside")
    for name, xs in sorted(held.items(), key=lambda kv: -len(kv[1])):
        print(f"  {name:42s} {100 * np.mean(xs):5.0f} % of {len(xs)}")
    every = [x for xs in rebuilt.values() for x in xs]
    print(f"rebuild: {100 * np.mean(every):.1f} % of {len(every)} inside")
    for name, xs in rebuilt.items():
        print(f"  {name:42s} {100 * np.mean(xs):5.0f} % of {len(xs)}; "
              f"width {100 * np.median(narrower[name]):.0f} % of before")  # fmt: skip
    return 0


def _misread(job, errors, seeds) -> int:  # type: ignore[no-untyped-def]
    """One reading of each machine is put off; is it the one that is named?"""
    right, wrong, silent = [], 0, 0
    for seed in seeds:
        rng = np.random.default_rng(seed + 9_000_000)
        there, _truth = with_hidden_numbers(job, seed)
        readings = [(run.name, r) for run in runs_of(there) for r in run.readings]
        name, bad = readings[rng.integers(len(readings))]
        off = errors * bad.known.sd * rng.choice([-1.0, 1.0])
        values = {(name, bad.key): bad.known.value + off}
        try:
            named = {(r.run, r.key) for r in calibrate(showing(there, values)).set_aside}
        except SolveError:
            continue
        hit = (name, bad.key) in named
        right.append(hit)
        wrong += len(named) - hit
        silent += not named
        print(f"seed {seed}: {name} {bad.key}: {'named' if hit else sorted(named)}", flush=True)
    print(f"{sum(right)} of {len(right)} misreadings of {errors:g} errors named, "
          f"{silent} machines with nothing named, {wrong} good readings named")  # fmt: skip
    return 0


def _rebuild(job, known, truth, plain, seed, count, rebuilt, narrower) -> None:  # type: ignore[no-untyped-def]
    """The rebuild in the same cabinet: ranges without and with the calibration, and the truth."""
    rng = np.random.default_rng(seed + 7_000_000)
    own = {}
    parts = (plain.compressor, plain.refrigerant, plain.capillary)
    made_of = parts_of(plain.compressor, plain.refrigerant.name, plain.capillary)
    same = frozenset(thing for thing, _which in known.parts & made_of)
    for p in plain.parameters:
        share = 0.0
        if p.key in truth:
            share = correlation(p, same, {"refrigerant": OTHER_REFRIGERANT})
        own[p.key] = share * truth.get(p.key, 0.0) + math.sqrt(1 - share**2) * rng.normal()
    table, target = plain.refrigerant.table, filled(superheat=job.targets.superheat)
    near = plain.solve(target, near=plain.designed)

    def shown(one, z):  # type: ignore[no-untyped-def]
        machine, line = assemble(one, *parts, length=plain.length, sample=Sample(z=z))
        try:
            b = solve(table, line, machine, target, near=near, tolerance=1e-6)
        except SolveError:
            return None
        return np.array([q.of(b) for q in quantities_of(SteadyState) if q.key in SHOWN])

    at = shown(job, own)
    if at is None:
        return
    keys = [p.key for p in plain.parameters]
    ends = []
    for one in (job, replace(job, posterior=known)):
        drawn = [
            shown(one, dict(zip(keys, z, strict=True)))
            for z in normal_samples(len(keys), count, seed)
        ]
        kept = np.array([d for d in drawn if d is not None])
        bands = [range_of(column) for column in kept.T]
        ends.append(np.array([[b.low for b in bands], [b.high for b in bands]]))
    for k, q in enumerate(SHOWN):
        rebuilt[q].append(bool(ends[1][0, k] <= at[k] <= ends[1][1, k]))
        narrower[q].append(float((ends[1][1, k] - ends[1][0, k]) / (ends[0][1, k] - ends[0][0, k])))


if __name__ == "__main__":
    raise SystemExit(main())

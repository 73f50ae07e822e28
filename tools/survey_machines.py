"""Solve random machines by the thousand, for docs/robustness.md.

    python tools/survey_machines.py --count 10000
    python tools/survey_machines.py --brackets 200

The machines are those of `tests/random_machines.py`, one for each seed. Each is solved from nothing
with profiles, and its balance is added up anew by `tests/closure.py`. Every machine leaves a line
in the record; seeds that are in it already are skipped, so that a run that was stopped goes on.
"""

import argparse
import functools
import json
import multiprocessing
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

LIMIT = 1e-6  # of scale, for every residual of a balance
STARTS = 24  # random ones, against a named reason
UNNAMED = "no steady balance was found"


def survey(seed: int, valve: bool = False) -> dict[str, Any]:
    """What became of the machine of one seed, with its capillary or with a valve."""
    from tests.closure import closure
    from tests.random_machines import random_machine, with_valve

    from sweatline.errors import SolveError
    from sweatline.machine.balance import solve

    made = with_valve(random_machine(seed)) if valve else random_machine(seed)
    table, line, machine = made.table, made.line, made.machine
    row: dict[str, Any] = {"seed": seed, "refrigerant": made.refrigerant, "aim": made.aim}
    filling = None
    full = None
    if made.aim == "share of the filling":
        try:
            full = solve(table, line, machine, made.full())
            filling = full.charge
        except SolveError:
            row["aim"] = "share of the volume"
    target = made.target(filling)
    began = time.process_time()
    try:
        balance = solve(table, line, machine, target, profiles=True)
    except SolveError as error:
        named = error.condition != UNNAMED
        row |= {"outcome": "named" if named else "unnamed", "why": error.condition}
        row["seconds"] = time.process_time() - began
        row["refuted"] = refuted(made, target)
        return row
    row["seconds"] = time.process_time() - began
    found = closure(table, machine, target, balance)
    worst, name = found.worst()
    row |= {
        "outcome": "solved" if worst <= LIMIT else "residual",
        "worst": worst,
        "name": name,
        "energy": max(found.energy.values()),
        "mass": max(found.mass.values()),
        "charge": max(found.charge.values()),
        "calls": balance.calls,
        "wet": balance.suction_quality < 1.0,
        "gas": balance.liquid_quality > 0.0,
        "unsettled": any("did not fully settle" in note for note in balance.notes),
        "other": any("another steady state" in note for note in balance.notes),
    }
    if full is not None:
        try:
            warm = solve(table, line, machine, target, near=full)
            apart = max(
                abs(a - b) for a, b in zip(balance.unknowns[:3], warm.unknowns[:3], strict=True)
            )
            row["apart"] = apart
        except SolveError:
            row["apart"] = float("inf")
    return row


def refuted(made: Any, target: Any) -> bool:
    """Whether one of many random starts finds a balance where the solver named a reason."""
    from sweatline.machine.steady import SteadyMachine, attempt
    from sweatline.parts.compressor import compress
    from sweatline.refrigerant.table import saturation

    table, machine = made.table, made.machine
    system = SteadyMachine.of(table, made.line, machine, target)
    dice = np.random.default_rng(made.seed)
    for _ in range(STARTS):
        u_e, u_d = np.sort(np.log(table.p_min) + dice.random(2) * np.log(table.p_max / table.p_min))
        pe, pd = float(np.exp(u_e)), float(np.exp(max(u_d, u_e + 0.1)))
        hl, hg = saturation(table, pd)[2:4]
        hg_suction = saturation(table, pe)[3]
        flow = compress(table, machine.compressor, pe, hg_suction + 5e3, pd)[0]
        entering = hl + dice.uniform(-0.3, 0.8) * (hg - hl)
        guess = np.array([u_e, np.log(pd), np.log(flow) + dice.uniform(-0.5, 0.5), entering])
        found = attempt(system, guess, tolerance=1e-8, most=60)
        if found.good:
            return True
    return False


def against_brackets(seed: int) -> dict[str, Any]:
    """Newton's answer for one seed against nested brackets begun one per cent off it."""
    from tests.nested import solve_nested
    from tests.random_machines import random_machine

    from sweatline.errors import SolveError
    from sweatline.machine.balance import filled, solve

    made = random_machine(seed)
    table, line, machine = made.table, made.line, made.machine
    try:
        filling = None
        if made.aim == "share of the filling":
            filling = solve(table, line, machine, filled(superheat=made.superheat)).charge
        target = made.target(filling)
        newton = solve(table, line, machine, target)
    except SolveError:
        return {"seed": seed, "brackets": "no balance"}
    row: dict[str, Any] = {"seed": seed, "aim": made.aim, "wet": newton.suction_quality < 1.0}
    start = np.array(newton.unknowns) + np.array([0.01, 0.01, 0.01, 100.0])
    for width in (0.05, 0.15):
        try:
            nested = solve_nested(table, line, machine, target, start=start, width=width)
        except (SolveError, ValueError):
            continue
        pairs = zip(newton.unknowns[:3], nested.unknowns[:3], strict=True)
        return row | {"brackets": "closed", "apart": max(abs(a - b) for a, b in pairs)}
    return row | {"brackets": "not closed"}


def guarded(seed: int, valve: bool = False) -> dict[str, Any]:
    """The same; a mistake of the program becomes a row of its own instead of the end."""
    try:
        return survey(seed, valve)
    except Exception as error:  # the survey exists to find these
        return {"seed": seed, "outcome": "exception", "why": f"{type(error).__name__}: {error}"}


def read(record: Path) -> list[dict[str, Any]]:
    """Rows of a record, by seed."""
    if not record.exists():
        return []
    rows = [json.loads(text) for text in record.read_text(encoding="utf-8").splitlines() if text]
    return sorted({row["seed"]: row for row in rows}.values(), key=lambda row: int(row["seed"]))


def run(record: Path, first: int, count: int, workers: int, valve: bool) -> None:
    """Survey what is not in the record yet."""
    done = {row["seed"] for row in read(record)}
    seeds = [seed for seed in range(first, first + count) if seed not in done]
    one = functools.partial(guarded, valve=valve)
    with (
        record.open("a", encoding="utf-8") as file,
        multiprocessing.get_context("spawn").Pool(workers) as pool,
    ):
        for number, row in enumerate(pool.imap_unordered(one, seeds, chunksize=8)):
            file.write(json.dumps(row) + "\n")
            file.flush()
            if number % 500 == 499:
                print(f"{number + 1} of {len(seeds)}", file=sys.stderr)


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--record", type=Path, default=ROOT / "build" / "survey" / "machines.jsonl")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--valves", action="store_true", help="valves instead of capillaries")
    parser.add_argument("--brackets", type=int, default=0, help="seeds to check by brackets")
    options = parser.parse_args()
    options.record.parent.mkdir(parents=True, exist_ok=True)
    if options.count:
        run(options.record, options.first, options.count, options.workers, options.valves)
    if options.brackets:
        record = options.record.with_name("brackets.jsonl")
        done = {row["seed"] for row in read(record)}
        with record.open("a", encoding="utf-8") as file:
            for seed in range(options.first, options.first + options.brackets):
                if seed not in done:
                    file.write(json.dumps(against_brackets(seed)) + "\n")
                    file.flush()
    rows = read(options.record)
    outcomes = Counter(row["outcome"] for row in rows)
    print(dict(outcomes), file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())

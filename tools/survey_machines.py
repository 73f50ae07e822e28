"""Solve random machines by the thousand and write docs/robustness.md.

    python tools/survey_machines.py --count 10000 --record survey.jsonl
    python tools/survey_machines.py --record survey.jsonl --page

The machines are those of `tests/random_machines.py`, one for each seed. Each is solved from nothing
with profiles, and its balance is added up anew by `tests/closure.py`. Every machine leaves a line
in the record; seeds that are in it already are skipped, so that a run that was stopped goes on.
"""

import argparse
import functools
import json
import multiprocessing
import os
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "robustness.md"
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

LIMIT = 1e-6  # of scale, for every residual of a balance
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
    began = time.perf_counter()
    try:
        balance = solve(table, line, machine, target, profiles=True)
    except SolveError as error:
        named = error.condition != UNNAMED
        row |= {"outcome": "named" if named else "unnamed", "why": error.condition}
        row["seconds"] = time.perf_counter() - began
        return row
    row["seconds"] = time.perf_counter() - began
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
    os.nice(10)
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
    parser.add_argument("--record", type=Path, default=ROOT / "build" / "survey.jsonl")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--valves", action="store_true", help="valves instead of capillaries")
    parser.add_argument("--page", action="store_true", help="write docs/robustness.md")
    options = parser.parse_args()
    options.record.parent.mkdir(parents=True, exist_ok=True)
    if options.count:
        run(options.record, options.first, options.count, options.workers, options.valves)
    rows = read(options.record)
    outcomes = Counter(row["outcome"] for row in rows)
    print(dict(outcomes), file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())

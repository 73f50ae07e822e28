"""Charge simulated machines, by the adviser and by a fixed habit, and write the scores.

    python tools/survey_charging.py --builds 20 --machines 10 --write

Every build is a combination of an example job in a room of its own; every machine of it is drawn
from what the job leaves open. Its readings are written into a log in memory as a person would write
them, and the adviser is the one of `sweatline charge`, its limits of head and capillary included.
Seeds below 30000 were used while the advice was made; the page is made from seeds above. Results
are this model's own: they say whether the advice does what it is meant to do for machines like the
model, not that the model is right.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "charging.md"
JOBS = ("seed-store", "boat-shed")
WAYS = ("advice", "habit")


def build_of(seed: int) -> Any:
    """A combination of a job, in a room from a seed, and its balance by the best values."""
    from sweatline.assembly.build import build_for
    from sweatline.charging.preparation import well_charged
    from sweatline.job.model import in_other_room
    from sweatline.job.reading import read_job

    chance = np.random.default_rng(seed)
    job = read_job(ROOT / "examples" / f"{JOBS[seed % len(JOBS)]}.toml")
    job = in_other_room(
        job,
        temperature=273.15 + float(chance.uniform(10.0, 30.0)),
        relative_humidity=float(chance.uniform(0.45, 0.85)),
    )
    choice = {
        "compressor": int(chance.integers(len(job.compressors))),
        "refrigerant": str(chance.choice(job.refrigerants)),
        "capillary": int(chance.integers(len(job.capillaries))),
    }
    build = build_for(job, **choice)
    return build, well_charged(build)


def scores(arguments: tuple[int, int, tuple[str, ...]]) -> list[dict[str, Any]]:
    """Charge every machine of one build both ways."""
    from sweatline.charging.preparation import prepare_build
    from sweatline.errors import SweatlineError
    from sweatline.training.session import by_advice, by_habit
    from sweatline.training.simulated_machine import simulated_machine

    seed, machines, ways = arguments
    try:
        build, card = build_of(seed)
        prepared = prepare_build(build, card, simulated=True)
    except SweatlineError as error:
        return [{"build": seed, "lost": str(error)}]
    found = []
    for n in range(machines):
        one = 1000 * seed + n
        for way in ways:
            try:
                machine = simulated_machine(build, card, one)
            except SweatlineError as error:
                found.append({"build": seed, "machine": one, "lost": str(error)})
                break
            try:
                a = by_advice(machine, prepared) if way == "advice" else by_habit(machine)
            except SweatlineError as error:
                found.append({"build": seed, "machine": one, "way": way, "failed": str(error)})
                continue
            held = [low <= came_to <= high for low, high, came_to in a.foretold]
            found.append(
                {
                    "build": seed,
                    "machine": one,
                    "way": way,
                    "name": build.name,
                    "miss": a.miss,
                    "most": a.most / a.best - 1.0,
                    "additions": a.additions,
                    "minutes": a.time / 60.0,
                    "gave_up": a.gave_up,
                    "held": held,
                    "obstacle": a.obstacle,
                }
            )
    return found


def line(way: str, rows: list[dict[str, Any]], failed: int) -> str:
    """One row of the table; a run that failed is one that did not end near the best charge."""
    miss = np.array([r["miss"] for r in rows])
    most = np.array([r["most"] for r in rows])
    count = len(rows) + failed
    return (
        f"| {way} | {count} | {failed} | {np.sum(np.abs(miss) <= 0.05) / count:.1%} "
        f"| {np.mean(most > 0.08):.1%} | {np.median(miss):+.1%} "
        f"| {miss.min():+.1%} to {miss.max():+.1%} "
        f"| {np.mean([r['additions'] for r in rows]):.1f} "
        f"| {np.mean([r['minutes'] for r in rows]):.0f} |"
    )


def page(rows: list[dict[str, Any]]) -> str:
    """The page, from the scores."""
    done = [r for r in rows if "miss" in r]
    lost = [r for r in rows if "lost" in r]
    failed = Counter(r["way"] for r in rows if "failed" in r)
    advice = [r for r in done if r["way"] == "advice"]
    habit = [r for r in done if r["way"] == "habit"]
    held = [h for r in advice for h in r["held"]]
    gave_up = sum(bool(r["gave_up"]) for r in habit)
    stopped = [r["miss"] for r in advice if r["obstacle"]]
    free = [abs(r["miss"]) <= 0.05 for r in advice if not r["obstacle"]]
    story = (__doc__ or "").split("\n\n")[2].replace("\n", " ")
    lines = [
        "# Charging by the advice",
        "",
        "Made by `tools/survey_charging.py --write`; do not edit.",
        "",
        story,
        "",
        "The habit is half an ounce, five minutes of waiting, until the suction gauge shows what "
        "the best values of the job say for a filled evaporator. Both begin with 55 % of the best "
        "charge weighed in, with the same gauge and thermometer errors and a reading a minute.",
        "",
        "| way | machines | failed | of all: within 5 % of the best charge "
        "| of the rest: ever more than 8 % over | median miss | least to most | additions "
        "| minutes |",
        "|---|---|---|---|---|---|---|---|---|",
        line("advice", advice, failed["advice"]),
        line("habit", habit, failed["habit"]),
        "",
        f"{len(stopped)} machines the adviser stopped because their readings say that no charge "
        "suits this capillary, or a limit of the head or the discharge gas is passed; of the "
        f"others {np.mean(free):.0%} ended within 5 % of the best charge.",
        "",
        f"Of {len(held)} settled readings foretold while they moved (suction, head, watts), "
        f"{np.mean(held):.0%} came to lie inside their likely range (9 in 10). The habit gave up "
        f"on {gave_up} machines, with twice the best charge in. {len(lost)} builds or machines had "
        "no balance to aim at and are not counted. A run fails where the moving machine cannot be "
        "followed any further.",
        "",
    ]
    return "\n".join(lines)


def collected(
    builds: int, machines: int, first: int, ways: tuple[str, ...]
) -> Iterator[dict[str, Any]]:
    """Scores of all builds, in two processes."""
    with ProcessPoolExecutor(max_workers=2) as pool:
        for found in pool.map(scores, [(first + n, machines, ways) for n in range(builds)]):
            yield from found


def main() -> int:
    """Run and write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--builds", type=int, default=24)
    parser.add_argument("--machines", type=int, default=10)
    parser.add_argument("--first", type=int, default=30_000)
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    rows = list(collected(asked.builds, asked.machines, asked.first, WAYS))
    text = page(rows)
    if asked.write:
        PAGE.write_text(text, encoding="utf-8")
    else:
        print(text)
        for r in rows:
            if "miss" not in r or (r["way"] == "advice" and abs(r["miss"]) > 0.05):
                print(json.dumps(r)[:300])
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

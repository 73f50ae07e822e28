"""What the example job takes, in a process whose kernels are loaded.

Ranking of all combinations with trial runs of the uncertain numbers; a ranking of twenty with 512
trial runs each; one machine's curve over its charge; its map over twenty temperatures and twenty
humidities. Every trial run is solved in the room and in a colder one.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sweatline.constants import ZERO_CELSIUS
from sweatline.design.charge_curve import ChargeAnswer, charge_curve
from sweatline.design.match import Candidate, candidates, evaluate_all
from sweatline.design.room_map import RoomAnswer, room_map
from sweatline.job.model import Job
from sweatline.job.reading import read_job
from timing import ROOT, Row, duration, measure, show

TITLE = "The example job"
JOB = ROOT / "examples" / "seed-store.toml"
REPEATS = 3

TEMPERATURES = (ZERO_CELSIUS + np.linspace(8.0, 30.0, 20)).tolist()
HUMIDITIES = np.linspace(0.40, 0.90, 20).tolist()
MANY = 512  # draws, a power of two


def ranking(job: Job) -> list[Candidate]:
    """Every combination that has a balance."""
    return [one for one in evaluate_all(job) if isinstance(one, Candidate)]


def twenty(job: Job) -> Job:
    """A bench with twenty combinations: some of this one's parts, and one more refrigerant."""
    return replace(
        job,
        compressors=job.compressors[:2],
        refrigerants=(*job.refrigerants[:4], "R-1234yf"),
        capillaries=job.capillaries[:2],
    )


def filling(job: Job) -> ChargeAnswer:
    """Charge curve of one machine."""
    return charge_curve(job, compressor=0, refrigerant="R-134a", capillary=0)


def rooms(job: Job) -> RoomAnswer:
    """Room map of one machine."""
    return room_map(
        job,
        compressor=0,
        refrigerant="R-134a",
        capillary=0,
        temperatures=TEMPERATURES,
        humidities=HUMIDITIES,
    )


def rows() -> list[Row]:
    """All figures of this benchmark."""
    job = read_job(JOB)
    curve = filling(job)
    grid = rooms(job)
    ranked: list[Candidate] = []

    def rank() -> None:
        ranked[:] = ranking(job)

    # Curve and map have loaded the kernels by now.
    timing = measure(rank, REPEATS, warm_up=False)
    small = twenty(job)
    many: list[Candidate] = []

    def rank_many() -> None:
        many[:] = [one for one in evaluate_all(small, draws=MANY) if isinstance(one, Candidate)]

    timing_many = measure(rank_many, 1, warm_up=False)
    many_draws = sum(one.draws for one in many)
    draws = sum(one.draws for one in ranked)
    balances = sum(b is not None for row in grid.map.balances for b in row)
    return [
        duration(
            "ranking of all combinations",
            timing,
            "s",
            aim=10.0,
            note=(
                f"{len(candidates(job))} combinations, {len(ranked)} with a balance, {draws} trial "
                "runs solved in two rooms each; two threads"
            ),
        ),
        duration(
            f"ranking of twenty combinations with {MANY} trial runs each",
            timing_many,
            "s",
            aim=60.0,
            note=f"{len(many)} with a balance, {many_draws} trial runs solved in two rooms each",
        ),
        duration(
            "charge curve",
            measure(lambda: filling(job), REPEATS, warm_up=False),
            "s",
            note=f"{len(curve.curve)} balances, twenty-four cells a row",
        ),
        duration(
            "room map",
            measure(lambda: rooms(job), REPEATS, warm_up=False),
            "s",
            aim=2.0,
            note=f"{balances} balances in {len(TEMPERATURES) * len(HUMIDITIES)} rooms",
        ),
    ]


if __name__ == "__main__":
    show(TITLE, rows())

"""What the example job takes, in a process whose kernels are loaded.

Ranking of all combinations with the uncertain numbers drawn, one machine's curve over its charge,
and its map over twelve temperatures and eleven humidities of the room.
"""

from __future__ import annotations

import numpy as np

from sweatline.constants import ZERO_CELSIUS
from sweatline.job.model import Job
from sweatline.job.reading import read_job
from sweatline.study.match import Candidate, candidates, match
from sweatline.study.questions import ChargeAnswer, RoomAnswer, charge_curve, room_map
from timing import ROOT, Row, duration, measure, show

TITLE = "The example job"
JOB = ROOT / "examples" / "seed-store.toml"
REPEATS = 3

TEMPERATURES = (ZERO_CELSIUS + np.linspace(8.0, 30.0, 12)).tolist()
HUMIDITIES = np.linspace(0.40, 0.90, 11).tolist()


def ranking(job: Job) -> list[Candidate]:
    """Every combination that has a balance."""
    return [one for one in match(job) if isinstance(one, Candidate)]


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
    draws = sum(one.draws for one in ranked)
    balances = sum(b is not None for row in grid.map.balances for b in row)
    return [
        duration(
            "ranking of all combinations",
            timing,
            "s",
            aim=10.0,
            note=(
                f"{len(candidates(job))} combinations, {len(ranked)} with a balance, {draws} draws "
                "solved in two rooms each; two threads"
            ),
        ),
        duration(
            "charge curve",
            measure(lambda: filling(job), REPEATS, warm_up=False),
            "s",
            note=f"{len(curve.curve)} balances, twelve cells a row",
        ),
        duration(
            "room map",
            measure(lambda: rooms(job), REPEATS, warm_up=False),
            "s",
            note=f"{balances} balances in {len(TEMPERATURES) * len(HUMIDITIES)} rooms",
        ),
    ]


if __name__ == "__main__":
    show(TITLE, rows())

"""One diagnosis.

The whole answer from ten readings of the example's machine, with two causes at once weighed and the
next readings foretold; the causes alone; and, before the first reading, the machine solved with
every fault at every charge, which is kept for the next time. Least work is what a single weighing
of the same points cannot do without: one symmetric matrix as large as the readings are many,
factored and solved at each.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from sweatline.assembly.build import build_for
from sweatline.diagnosis.atlas import made_atlas
from sweatline.diagnosis.diagnosis import held
from sweatline.diagnosis.trials import ROUND, case
from sweatline.diagnosis.weighing import Weighing
from sweatline.job.reading import read_job
from sweatline.machine.balance import filled
from timing import ROOT, Row, duration, in_turn, ratio, show

TITLE = "A diagnosis"
JOB = ROOT / "examples" / "seed-store.toml"
AIM = 200.0  # ms
REPEATS = 20


def floor(points: int, readings: int) -> Callable[[], object]:
    """A task that weighs so many invented points."""
    chance = np.random.default_rng(5)
    rows = chance.standard_normal((points, readings, readings))
    away = chance.standard_normal((points, readings, 1))
    spread = rows @ rows.transpose(0, 2, 1) + np.eye(readings)

    def task() -> object:
        root = np.linalg.cholesky(spread)
        return (np.linalg.solve(root, away) ** 2).sum(axis=(1, 2))

    return task


def rows() -> list[Row]:
    """All figures of this benchmark."""
    build = build_for(read_job(JOB), compressor=0, refrigerant="R-134a", capillary=0)
    full = build.solve(filled(superheat=build.job.targets.superheat), near=build.designed)
    atlas = made_atlas(build)
    weighing = Weighing(atlas)
    readings = case(build, full, np.random.default_rng(3), ("restriction",)).of(ROUND)
    weighed = weighing.weigh(readings)
    points = sum(g.at.size for g in weighed.grids)
    tasks: Mapping[str, Callable[[], object]] = {
        "answer": lambda: held(build, weighing, readings),
        "single": lambda: weighing.weigh(readings, pairs=False),
        "floor": floor(points, len(weighed.readings)),
    }
    timings = in_turn(tasks, REPEATS)
    made = in_turn({"atlas": lambda: made_atlas(build)}, 1)
    size = f"{len(weighed.grids)} hypotheses, {points} points"
    return [
        duration("the whole answer", timings["answer"], "ms", aim=AIM, note=size),
        duration("causes one at a time", timings["single"], "ms"),
        duration("the floor", timings["floor"], "ms", note=f"{points} matrices"),
        ratio("answer against the floor", timings["answer"], timings["floor"]),
        duration("before the first reading", made["atlas"], "s", aim=15.0),
    ]


if __name__ == "__main__":
    show(TITLE, rows())

"""A year in a room, and many machines at once.

The year of one machine through its map of rooms, minute by minute; the same for 64 draws, and the
search for the settings that serve best, on all cores. A study of balances, each case beside the
bare function on a job read once for a draw, and the study on two processes of this machine beside
one.
"""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from itertools import groupby
from pathlib import Path

from sweatline.design.balance import balance
from sweatline.job.reading import read_job, read_job_text
from sweatline.season.place import known_of, room_of, weather_of
from sweatline.season.settings import settings_for
from sweatline.season.totals import control_of, run
from sweatline.season.year import YearRequest, samples_of, year
from sweatline.study.cases import changed, read_study
from sweatline.study.study import sweep
from timing import ROOT, Row, duration, in_turn, measure, ratio, show

TITLE = "A year, and many machines"
JOB = ROOT / "examples" / "timber-store.toml"
REPEATS = 5
STUDY = """\
job = "seed-store.toml"
[vary]
compressor = "all"
refrigerant = ["R-134a", "R-513A"]
capillary = "1.4 on the reel"
[draw]
samples = 32
"fan.airflow" = "220 m3/h to 300 m3/h"
"""


def rows() -> list[Row]:
    """All figures of this benchmark."""
    return [*_year_rows(), *_study_rows()]


def _year_rows() -> list[Row]:
    job = read_job(JOB)
    asked = YearRequest(compressor=0, refrigerant="R-134a", capillary=0, draws=0, settings=False)
    found = year(job, asked)
    weather = weather_of(job)
    room = room_of(job, weather, found.knowledge.mean)
    control = control_of(job.control)
    one = measure(lambda: run(weather, room, found.machine, control), REPEATS)
    many = measure(
        lambda: samples_of(job, control, known_of(job).draws(64), [found.machine] * 64), 3
    )
    coldest = float(found.alone[:, 0].min())
    best = measure(
        lambda: settings_for(job.control, weather, room, found.machine, coldest), 3, warm_up=False
    )
    return [
        duration("the settings that serve best", best, "s", aim=4.0),
        duration("a year of one machine", one, "s", aim=1.0),
        duration("a year with 64 draws", many, "s", aim=10.0),
    ]


def _study_rows() -> list[Row]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "seed-store.toml").write_bytes((JOB.parent / "seed-store.toml").read_bytes())
        path = folder / "study.toml"
        path.write_text(STUDY, encoding="utf-8")
        study = read_study(str(path))
        names = [c.name for c in read_job(study.job_path).compressors]
        cases = list(study.cases())
        turn = iter(range(1000))

        def bare() -> None:
            for changes, alike in groupby(cases, key=lambda c: c.changes):
                job = read_job_text(changed(study.job_text, changes), study.job_path)
                tubes = [c.name for c in job.capillaries]
                for case in alike:
                    balance(
                        job, compressor=names.index(case.parts[0]), refrigerant=case.parts[1],
                        capillary=tubes.index(case.parts[2]), draws=0,
                    )  # fmt: skip

        def swept() -> None:
            sweep(study, str(folder / f"rows-{next(turn)}"))

        pair = in_turn({"bare": bare, "swept": swept}, 3)
        big = replace(study, samples=1024)
        single = _clock(lambda: sweep(big, str(folder / "one"), processes=1))
        double = _clock(lambda: sweep(big, str(folder / "two"), processes=2))
    return [
        ratio("sweep over the bare function", pair["swept"], pair["bare"], note="aim: below 1.15"),
        Row(
            figure="one process over two, by the clock",
            unit="times",
            median=single / double,
            best=single / double,
            repeats=1,
            aim=1.8,
            note=f"{big.count} cases, {os.cpu_count()} cores; starting the worker is in it",
        ),
    ]


def _clock(task: Callable[[], object]) -> float:
    begun = time.perf_counter()
    task()
    return time.perf_counter() - begun


if __name__ == "__main__":
    show(TITLE, rows())

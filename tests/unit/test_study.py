"""A study: what is read, what is refused, and that nothing is lost or done twice."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from sweatline.answers import quantities_of
from sweatline.assembly.build import choose
from sweatline.design.balance import balance
from sweatline.errors import JobError
from sweatline.job.reading import read_job, read_job_text
from sweatline.machine.balance import SteadyState
from sweatline.study.cases import Study, changed, read_study
from sweatline.study.kept import Kept
from sweatline.study.study import sweep

EXAMPLES = Path(__file__).parents[2] / "examples"
SMALL = """\
job = "seed-store.toml"
[vary]
compressor = ["7.2 reciprocating", "drinks cooler"]
refrigerant = "R-134a"
capillary = "1.4 on the reel"
"room.temperature" = ["13 °C", "17 °C"]
[draw]
samples = 4
"fan.airflow" = "240 m3/h to 290 m3/h"
"room.humidity" = "72 %RH ± 3 %RH"
"""


@pytest.fixture
def written(tmp_path: Path) -> Callable[[str], str]:
    (tmp_path / "seed-store.toml").write_bytes((EXAMPLES / "seed-store.toml").read_bytes())

    def write(text: str) -> str:
        path = tmp_path / "study.toml"
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


@pytest.fixture
def study(written: Callable[[str], str]) -> Study:
    return read_study(written(SMALL))


def numbers(folder: Path) -> list[int]:
    found: list[int] = []
    for path in sorted(folder.glob("cases-*.parquet")):
        found += pq.read_table(path)["case"].to_pylist()
    return sorted(found)


def test_cases_are_every_combination_and_always_the_same(study: Study) -> None:
    cases = list(study.cases())
    assert len(cases) == study.count == 2 * 2 * 4
    assert cases == list(study.cases())
    assert [c.number for c in cases] == list(range(16))
    assert len({(c.parts, c.changes) for c in cases}) == 16
    # The same draws in both rooms.
    drawn = [{c.changes[1:] for c in cases if c.changes[0][1] == t} for t in ("13 °C", "17 °C")]
    assert drawn[0] == drawn[1]


def test_a_case_is_what_the_single_command_gives(study: Study, tmp_path: Path) -> None:
    answer = sweep(study, str(tmp_path / "rows"))
    assert answer.complete
    assert not answer.failed
    rows = answer.table.to_pylist()
    case = list(study.cases())[5]
    job = read_job_text(changed(study.job_text, case.changes), study.job_path)
    i, name, j = choose(
        job, compressor=case.parts[0], refrigerant=case.parts[1], capillary=case.parts[2]
    )
    alone = balance(job, compressor=i, refrigerant=name, capillary=j, draws=0).steady
    for q in quantities_of(SteadyState):
        assert rows[5][q.key] == pytest.approx(q.of(alone), rel=1e-9), q.key
    assert rows[5]["fan.airflow"] == dict(case.changes)["fan.airflow"]
    best = [float(row["water_kg_per_s"] or 0.0) for row in answer.best]
    assert best == sorted(best, reverse=True)


def test_what_is_done_is_not_done_again(study: Study, tmp_path: Path) -> None:
    folder = tmp_path / "rows"
    kept = Kept(str(folder), study)
    full = sweep(study, str(tmp_path / "all"))
    kept.add(full.table.slice(3, 4).to_pylist())
    before = {p: p.stat().st_mtime_ns for p in folder.glob("*.parquet")}
    answer = sweep(study, str(folder))
    assert answer.computed == study.count - 4
    assert numbers(folder) == list(range(study.count))
    assert {p: p.stat().st_mtime_ns for p in before} == before
    again = sweep(study, str(folder))
    assert again.computed == 0
    assert again.done == study.count


def test_another_study_is_not_mixed_in(
    study: Study, written: Callable[[str], str], tmp_path: Path
) -> None:
    Kept(str(tmp_path / "rows"), study)
    other = read_study(written(SMALL.replace("17 °C", "18 °C")))
    with pytest.raises(JobError, match="another study"):
        Kept(str(tmp_path / "rows"), other)


def _program(path: Path, folder: Path, workers: int) -> list[str]:
    return [
        *(sys.executable, "-m", "sweatline", "sweep", str(path), "--into", str(folder)),
        *("--workers", str(workers), "--json"),
    ]


def _children(pid: int) -> list[int]:
    found = subprocess.run(
        ["ps", "-o", "pid=,args=", "--ppid", str(pid)], capture_output=True, text=True, check=False
    )
    return [int(line.split()[0]) for line in found.stdout.splitlines() if "spawn_main" in line]


@pytest.mark.skipif(os.name != "posix", reason="kills processes by signal")
def test_killed_at_random_nothing_is_lost_or_twice(
    written: Callable[[str], str], tmp_path: Path
) -> None:
    """Workers are killed, then the client, at moments nobody chose; then it is run to its end."""
    path, folder = Path(written(SMALL.replace("samples = 4", "samples = 256"))), tmp_path / "rows"
    chance = random.Random(7)
    deaths = 0
    for _ in range(3):
        with subprocess.Popen(
            _program(path, folder, 2), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ) as client:
            end = time.monotonic() + chance.uniform(3.0, 6.0)
            while time.monotonic() < end and client.poll() is None:
                time.sleep(chance.uniform(0.3, 1.0))
                for worker in _children(client.pid)[:1]:
                    if chance.random() < 0.4:
                        os.kill(worker, signal.SIGKILL)
                        deaths += 1
            if client.poll() is None:
                client.kill()
                deaths += 1
    assert deaths
    done = subprocess.run(
        _program(path, folder, 2), stdout=subprocess.DEVNULL, check=True, timeout=600
    )
    assert done.returncode == 0
    assert numbers(folder) == list(range(1024))
    assert len([p for p in folder.iterdir() if p.suffix == ".parquet"]) > 1


def test_a_cluster_that_is_there_computes_the_same(study: Study, tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
    ) as cluster:
        there = sweep(study, str(tmp_path / "there"), scheduler=cluster.scheduler_address)
    here = sweep(study, str(tmp_path / "here"))
    keys = [q.key for q in quantities_of(SteadyState)]
    assert there.table.select(["case", *keys]).equals(here.table.select(["case", *keys]))


def test_no_cluster_is_one_sentence(study: Study, tmp_path: Path) -> None:
    with pytest.raises(OSError, match="no scheduler answers"):
        sweep(study, str(tmp_path / "rows"), scheduler="tcp://127.0.0.1:9")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('answer = "balance"\n', "job file is missing"),
        ('job = "seed-store.toml"\nanswer = "weather"\n', "no such answer"),
        ('job = "seed-store.toml"\nspeed = 3\n', "no such key"),
        ('job = "seed-store.toml"\n[vary]\ncompressor = "steam engine"\n', "steam engine"),
        ('job = "seed-store.toml"\n[vary]\n"room.temperature" = "12 C"\n', "a list of values"),
        ('job = "seed-store.toml"\n[vary]\n"room.temperature" = ["warm"]\n', "room.temperature"),
        ('job = "seed-store.toml"\n[vary]\n"room.colour" = ["red"]\n', "no such key"),
        ('job = "seed-store.toml"\n[vary]\n"compressor[9].name" = ["x"]\n', "no such part"),
        ('job = "seed-store.toml"\n[draw]\n"fan.airflow" = "fast"\n', "a range or a spread"),
        ('job = "seed-store.toml"\n[draw]\n"fan.airflow" = "3 m3/h to 2 m3/h"\n', "lower end"),
        ('job = "seed-store.toml"\n[draw]\nsamples = -1\n"fan.airflow" = "2 m3/h to 3 m3/h"\n',
         "a whole number"),
        ('job = "seed-store.toml"\ntrial_runs = true\n', "a whole number"),
        ("job = [", "not readable"),
    ],
)  # fmt: skip
def test_a_wrong_study_is_one_sentence(
    written: Callable[[str], str], text: str, words: str
) -> None:
    with pytest.raises(JobError, match=words) as caught:
        read_study(written(text))
    assert "\n" not in str(caught.value)


def test_a_column_that_is_not_there_cannot_rank(
    written: Callable[[str], str], tmp_path: Path
) -> None:
    study = read_study(written('rank_by = "beauty"\n' + SMALL))
    with pytest.raises(JobError, match="no column"):
        sweep(study, str(tmp_path / "rows"))


def test_the_job_of_a_study_is_left_as_it_is(study: Study) -> None:
    before = read_job(study.job_path)
    list(study.cases())
    assert read_job(study.job_path) == before

"""The job file made in a terminal: asked from nothing, stopped, gone on, and answered by match."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

from tests.interview import ANSWERS

from sweatline.job.document import JobDocument
from sweatline.job.reading import read_job


def run(folder: Path, *arguments: str, typed: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "sweatline", *arguments],
        cwd=folder, input=typed, capture_output=True, text=True, check=False,
    )  # fmt: skip


def lines(answers: Mapping[str, str]) -> str:
    """What is typed for these answers, in the order in which the command asks."""
    document = JobDocument.new(title="x", units="US")
    typed: list[str] = []
    table, seen = "", set[str]()
    while True:
        waiting = (q for q in document.asked if q.name not in seen and document.is_open(q))
        question = next(waiting, None)
        now = question.group.table if question else ""
        if table in ("compressor", "capillary") and (question is None or now != table):
            more = any(f"{table}[{document.counts[table] + 1}]" in name for name in answers)
            typed.append("yes" if more else "no")
            if more:
                document.add(table)
                continue
        if question is None:
            return "\n".join(typed) + "\n"
        table = now
        seen.add(question.name)
        said = answers.get(question.name, "don't know")
        typed.append(said)
        document.put(question, said)


def test_from_nothing_to_a_ranking(tmp_path: Path) -> None:
    done = run(tmp_path, "new", "cellar", typed="US\n" + lines(ANSWERS))
    assert done.returncode == 0, done.stderr
    assert "= 0.375 in ± 0.0008 in (calliper)" in done.stdout
    assert done.stdout.rstrip().endswith("Enough for an answer: sweatline match cellar.toml")
    job = read_job(tmp_path / "cellar.toml")
    assert [one.name for one in job.compressors] == ["freezer", "drinks cooler"]
    ranked = run(tmp_path, "match", "cellar.toml", "--draws", "0")
    assert ranked.returncode == 0, ranked.stderr
    assert "Best: " in ranked.stdout


def test_stopped_and_gone_on_asks_nothing_twice(tmp_path: Path) -> None:
    all_of_it = lines(ANSWERS).splitlines()
    first = run(tmp_path, "new", "cellar.toml", typed="\n".join(["US", *all_of_it[:20], "stop"]))
    assert first.returncode == 0, first.stderr
    assert "Go on with: sweatline new cellar.toml" in first.stdout
    assert "Still needed: " in first.stdout
    again = run(tmp_path, "new", "cellar.toml", typed="\n".join(all_of_it[20:]) + "\n")
    assert "Enough for an answer" in again.stdout
    asked = re.findall(r"^(.*\?)$", first.stdout + again.stdout, re.MULTILINE)
    assert asked.count("Which frequency?") == 1


def test_a_finished_file_takes_one_more_tube(tmp_path: Path) -> None:
    run(tmp_path, "new", "cellar", typed="US\n" + lines(ANSWERS))
    more = "no\nyes\nreel 42\nno\n0.042 in\ndon't know\nno\n"
    done = run(tmp_path, "new", "cellar", typed=more)
    assert "Enough for an answer" in done.stdout
    assert [one.name for one in read_job(tmp_path / "cellar.toml").capillaries] == [
        "reel 49", "reel 42",
    ]  # fmt: skip


def test_what_cannot_be_used_is_told_and_asked_again(tmp_path: Path) -> None:
    done = run(tmp_path, "new", "cellar", typed="metric\nR-999\nR-134a\nstop\n")
    assert "(read: R-999)" in done.stdout
    text = (tmp_path / "cellar.toml").read_text(encoding="utf-8")
    assert 'refrigerants = ["R-134a"]' in text
    assert 'units = "SI"' in text


def test_a_place_that_is_none_is_told_in_one_line(tmp_path: Path) -> None:
    done = run(tmp_path, "new", "nowhere/cellar")
    assert done.returncode == 2
    assert "no folder of this name (read: nowhere)" in done.stderr
    assert "Traceback" not in done.stderr

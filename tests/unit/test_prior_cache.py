"""What is kept of a machine is what would be worked out anew, or it is worked out anew."""

from __future__ import annotations

import errno
import os
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from sweatline.assembly import kept
from sweatline.assembly.build import Build, build_for
from sweatline.assembly.kept import cached
from sweatline.charging.preparation import cache_key, prepare
from sweatline.job.reading import read_job

SEED = str(Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml")
ARRAYS = {"shares": np.linspace(0.4, 1.4, 5), "readings": np.full((2, 5, 7), np.nan)}
NAME = "0" * 64


class Made:
    """Counts how often it is asked."""

    def __init__(self) -> None:
        self.times = 0

    def __call__(self) -> dict[str, NDArray[np.float64]]:
        self.times += 1
        return dict(ARRAYS)


def test_it_is_made_once_and_read_back_to_the_last_bit(tmp_path: Path) -> None:
    made = Made()
    for _ in range(3):
        found = cached(NAME, made, folder=tmp_path / "kept")
        for key, value in ARRAYS.items():
            assert found[key].tobytes() == value.tobytes()
    assert made.times == 1
    cached("1" * 64, made, folder=tmp_path / "kept")
    assert made.times == 2


def test_two_who_ask_at_once_wait_for_one_answer(tmp_path: Path) -> None:
    made = Made()

    def slowly() -> dict[str, NDArray[np.float64]]:
        time.sleep(0.2)
        return made()

    with ThreadPoolExecutor(4) as threads:
        asked = [threads.submit(cached, NAME, slowly, folder=tmp_path) for _ in range(4)]
    assert made.times == 1
    assert len({one.result()["shares"].tobytes() for one in asked}) == 1


@pytest.mark.parametrize("damage", ["cut", "flipped", "empty", "text", "other name", "folder"])
def test_a_damaged_file_is_made_anew(tmp_path: Path, damage: str) -> None:
    made = Made()
    cached(NAME, made, folder=tmp_path)
    [file] = tmp_path.glob("*.npz")
    content = file.read_bytes()
    if damage == "cut":
        file.write_bytes(content[: len(content) // 2])
    elif damage == "flipped":
        place = content.index(ARRAYS["shares"].tobytes())
        file.write_bytes(content[:place] + b"\x00\x01" + content[place + 2 :])
    elif damage == "empty":
        file.write_bytes(b"")
    elif damage == "text":
        file.write_text("not an archive")
    elif damage == "other name":
        cached("2" * 64, made, folder=tmp_path)
        (tmp_path / f"{'2' * 32}.npz").replace(file)
    else:
        file.unlink()
        file.mkdir()
    before = made.times
    found = cached(NAME, made, folder=tmp_path)
    assert found["shares"].tobytes() == ARRAYS["shares"].tobytes()
    assert made.times == before + 1


def test_a_folder_that_cannot_be_written_costs_only_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = Made()
    blocked = tmp_path / "a file"
    blocked.write_text("in the way")
    assert set(cached(NAME, made, folder=blocked / "kept")) == set(ARRAYS)

    def full(*_arguments: object, **_named: object) -> None:
        raise OSError(errno.ENOSPC, "no space left")

    monkeypatch.setattr(np, "savez", full)
    assert set(cached(NAME, made, folder=tmp_path / "full")) == set(ARRAYS)
    assert made.times == 2
    assert list((tmp_path / "full").iterdir()) == []


def test_those_not_used_for_longest_give_way(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kept, "_MOST_FILES", 3)
    made = Made()
    for n in range(6):
        cached(str(n) * 64, made, folder=tmp_path)
        for file in tmp_path.glob("*.npz"):  # a day goes by
            at = file.stat().st_mtime - 86400.0
            os.utime(file, (at, at))
        cached("0" * 64, made, folder=tmp_path)
    assert made.times == 6
    assert sorted(file.name[0] for file in tmp_path.glob("*.npz")) == ["0", "4", "5"]


@pytest.fixture(scope="module")
def build() -> Build:
    return build_for(read_job(SEED), compressor=0, refrigerant="R-134a", capillary=0)


def test_every_change_has_another_name(build: Build) -> None:
    job = build.job
    warmer = replace(job.room, temperature=replace(job.room.temperature, value=289.0))
    vaguer = replace(job.room, temperature=replace(job.room.temperature, sd=0.7))
    changed = [
        build,
        replace(build, job=replace(job, room=warmer)),
        replace(build, job=replace(job, room=vaguer)),
        replace(build, job=replace(job, targets=replace(job.targets, superheat=6.0))),
        replace(build, length=np.nextafter(build.length, 9.0)),
        replace(build, compressor=job.compressors[1]),
        replace(build, capillary=job.capillaries[1]),
    ]
    names = [cache_key(r, 128) for r in changed] + [cache_key(build, 64)]
    assert len(set(names)) == len(names)
    assert cache_key(build, 128) == names[0]


def test_the_same_job_in_another_file_has_the_same_name(build: Build, tmp_path: Path) -> None:
    copied = tmp_path / "copied.toml"
    copied.write_text("# mine\n" + Path(SEED).read_text(encoding="utf-8"), encoding="utf-8")
    there = build_for(read_job(copied), compressor=0, refrigerant="R-134a", capillary=0)
    assert cache_key(there, 128) == cache_key(build, 128)


def test_a_changed_program_has_another_name(build: Build, monkeypatch: pytest.MonkeyPatch) -> None:
    before = cache_key(build, 128)
    monkeypatch.setattr(kept, "_code", lambda: b"another program")
    assert cache_key(build, 128) != before


def test_kept_and_made_say_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sweatline.assembly.kept.cache_folder", lambda: tmp_path)
    job = read_job(SEED)
    first, second = (
        prepare(job, compressor=0, refrigerant="R-134a", capillary=0, draws=32) for _ in range(2)
    )
    assert len(list(tmp_path.rglob("*.npz"))) == 2  # its charge prior and its atlas
    assert first.prior is not None
    assert second.prior is not None
    for name in ("shares", "readings", "best"):
        a, b = getattr(first.prior, name), getattr(second.prior, name)
        assert a.tobytes() == b.tobytes()

"""Is it right now: the page of a proof, without a log and following one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from tests.pages import PARTS, kept, page_of, plain, settled

from sweatline.answers import questions_of
from sweatline.bench.proof.proof import ProofRequest

ADDRESS = "/job/seed-store/prove"


@pytest.fixture
def page(tmp_path: Path) -> Iterator[TestClient]:
    with page_of(tmp_path, "seed-store") as found:
        yield found


def watts(drift: float = 0.0) -> list[tuple[float, str]]:
    return [(ago, f"watts {284.0 - drift * ago:.1f} W") for ago in range(40, -1, -5)]


WATER = [(39.0, "water 0.20 L"), (3.0, "water 0.52 L")]


def test_every_question_has_a_box(page: TestClient) -> None:
    text = page.get(ADDRESS).text
    for q in questions_of(ProofRequest):
        for box in [f"{q.name}.{f.name}" for f in q.fields] if q.record else [q.name]:
            assert text.count(f'name="{box}"') == 1, box


def test_what_is_typed_is_answered(page: TestClient) -> None:
    text = settled(page, f"{ADDRESS}/answer", **PARTS, watts="284 W", **{
        "bucket.amount": "1.1 L", "bucket.time": "2 h", "stood_still": "30 min"})  # fmt: skip
    told = plain(text)
    assert 'class="headline">It does what this build should do: water 13 L/day' in text
    assert "In the rooms of the test procedures" in told
    assert "no certified rating" in told
    assert '<svg class="drawing' in text


def test_a_mistake_stands_beside_its_box(page: TestClient) -> None:
    text = page.get(ADDRESS, params={"watts": "284"}).text
    assert "without a unit" in plain(text)
    assert 'aria-invalid="true"' in text


def test_a_log_is_followed(page: TestClient, tmp_path: Path) -> None:
    kept(tmp_path, (90.0, "started"), *watts(), *WATER)
    text = settled(page, f"{ADDRESS}/first")
    told = plain(text)
    assert "It does what this build should do" in told
    assert "stands still" in told
    assert f'data-live="{ADDRESS}/first/stream"' in text
    assert "Switched off" in told


def test_a_log_that_drifts_does_not_count(page: TestClient, tmp_path: Path) -> None:
    kept(tmp_path, (90.0, "started"), *watts(drift=0.6), *WATER)
    told = plain(settled(page, f"{ADDRESS}/first"))
    assert "These readings do not count yet" in told
    assert "for " not in told.partition("do not count yet:")[2][:5]
    assert "still moving: watts" in told.casefold()
    assert "Let it run, read again" in told
    assert "In the rooms of the test procedures" not in told


def test_a_log_that_lacks_a_start_says_what_to_do(page: TestClient, tmp_path: Path) -> None:
    kept(tmp_path, *watts())
    told = plain(settled(page, f"{ADDRESS}/first"))
    assert "The log does not say that the machine was started" in told
    assert "Switched on" in told


def test_water_is_written_down_in_litres(page: TestClient, tmp_path: Path) -> None:
    kept(tmp_path, (90.0, "started"))
    text = page.get(f"{ADDRESS}/first").text
    assert "water, L</label>" in text


def test_the_stage_stands_behind_charging(page: TestClient) -> None:
    text = page.get(ADDRESS).text
    stages = re.findall(r'href="/job/seed-store/(\w+)', text)
    assert stages.index("prove") == stages.index("charge") + 1


@pytest.mark.parametrize("stage", ["prove", "diagnose"])
def test_a_log_that_is_begun_here_goes_on_here(page: TestClient, stage: str) -> None:
    begun = page.post("/job/seed-store/charge", data={**PARTS, "new": "today", "then": stage},
                      follow_redirects=False)  # fmt: skip
    assert begun.status_code == 303, begun.text
    assert begun.headers["location"] == f"/job/seed-store/{stage}/today"

"""The page of the ranking: a first answer in seconds, a better one in its place."""

from __future__ import annotations

import re
import shutil
import time
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    folder = tmp_path_factory.mktemp("bench")
    shutil.copy(EXAMPLES / "seed-store.toml", folder)
    app = make_app(Workshop(folder), Access())
    return TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 40000))


def _later(page: TestClient, address: str) -> str:
    """A part once it is calculated."""
    for _ in range(1200):
        found = page.get(address)
        if found.status_code != 202:
            assert found.status_code == 200, found.text
            return found.text
        time.sleep(0.1)
    raise AssertionError(f"{address} is not calculated in two minutes")


def test_the_first_answer_stands_at_once_and_links_every_combination(page: TestClient) -> None:
    frame = page.get("/job/seed-store/match")
    assert 'data-later="/job/seed-store/match/answer"' in frame.text
    text = _later(page, "/job/seed-store/match/answer")
    assert "Best: drinks cooler + R-513A" in text
    links = set(re.findall(r'href="(/job/seed-store/combination\?[^"]*)"', text))
    assert len(links) == 36
    assert "must not be built" in text
    assert "Why the others lose" in text


def test_the_better_answer_says_how_sure_it_is(page: TestClient) -> None:
    text = _later(page, "/job/seed-store/match/better")
    assert "runs clean" in text
    assert "from 64 trial runs" in text
    assert "What to measure next" in text
    assert "<svg" in text
    assert "style=" not in text  # the page's policy takes none


def test_links_to_other_stages_keep_the_combination(page: TestClient) -> None:
    frame = page.get("/job/seed-store/match?compressor=drinks+cooler&refrigerant=R-134a")
    asked = "compressor=drinks+cooler&amp;refrigerant=R-134a"
    assert f'href="/job/seed-store/tube?{asked}"' in frame.text

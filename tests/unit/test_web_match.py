"""The page of the ranking: a first answer in seconds, a better one in its place."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient
from tests.pages import later, page_of


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    return page_of(tmp_path_factory.mktemp("bench"), "seed-store")


def test_the_first_answer_stands_at_once_and_links_every_combination(page: TestClient) -> None:
    frame = page.get("/job/seed-store/match")
    assert 'data-later="/job/seed-store/match/answer"' in frame.text
    text = later(page, "/job/seed-store/match/answer")
    assert "Best: drinks cooler + R-513A" in text
    links = set(re.findall(r'href="(/job/seed-store/combination\?[^"]*)"', text))
    assert len(links) == 36
    assert "must not be built" in text
    assert "Why the others lose" in text


def test_the_better_answer_says_how_sure_it_is(page: TestClient) -> None:
    text = later(page, "/job/seed-store/match/better")
    assert "runs clean" in text
    assert "from 64 trial runs" in text
    assert "What to measure next" in text
    assert "<svg" in text
    assert "style=" not in text  # the page's policy takes none


def test_links_to_other_stages_keep_the_combination(page: TestClient) -> None:
    frame = page.get("/job/seed-store/match?compressor=drinks+cooler&refrigerant=R-134a")
    asked = "compressor=drinks+cooler&amp;refrigerant=R-134a"
    assert f'href="/job/seed-store/tube?{asked}"' in frame.text

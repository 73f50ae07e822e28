"""Other rooms and the course of a charge on the page."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient
from tests.pages import later, page_of

PARTS = "compressor=drinks+cooler&refrigerant=R-513A&capillary=1.25+on+the+reel"
HERE = "/job/seed-store/rooms"


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    return page_of(tmp_path_factory.mktemp("bench"), "seed-store")


def test_the_map_says_where_the_coil_freezes_and_shows_every_room(page: TestClient) -> None:
    text = later(page, f"{HERE}/answer?{PARTS}")
    assert "The coil freezes in rooms below" in text
    assert "<svg" in text
    assert text.count("<caption>") == 3
    assert "from 32 trial runs" in text


def test_frost_is_answered_for_the_room_that_was_typed(page: TestClient) -> None:
    frame = page.get(f"{HERE}?{PARTS}&temperature=3+C")
    assert f"/rooms/frost?{PARTS.replace('&', '&amp;')}&amp;temperature=3+C" in frame.text
    text = later(page, f"{HERE}/frost?{PARTS}&temperature=3+C&humidity=80+%25RH")
    assert "The airflow is halved after" in text
    assert "running in a room of 3.0 °C, 80 %RH" in text
    assert "What keeps the coil open" in text
    warm = later(page, f"{HERE}/frost?{PARTS}&temperature=25+C")
    assert "Nothing freezes in this room." in warm
    assert "How the frost grows" not in warm


@pytest.mark.parametrize("asked", ["temperature=3", "temperature=99+C", "humidity=120+%25RH"])
def test_a_room_that_cannot_be_is_refused_in_a_sentence(page: TestClient, asked: str) -> None:
    answer = page.get(f"{HERE}/frost?{PARTS}&{asked}", headers={"x-part": "1"})
    assert answer.status_code == 400
    assert 'class="problem"' in answer.text


def test_the_charge_curve_says_where_to_stop(page: TestClient) -> None:
    text = later(page, f"/job/seed-store/combination/curve?{PARTS}&charge_kg=0.3")
    assert 'class="headline">Stop at 233 g' in text
    assert "From nearly empty to overfull" in text
    assert "<b>stop</b>" in text
    assert "<svg" in text

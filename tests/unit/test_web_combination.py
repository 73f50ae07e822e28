"""The page of one combination: sliders, what follows them, and what is said when nothing does."""

from __future__ import annotations

import re
import time
from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient
from tests.pages import later, page_of

PARTS = {"compressor": "drinks cooler", "refrigerant": "R-513A", "capillary": "1.4 on the reel"}
HERE = "/job/seed-store/combination"


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    return page_of(tmp_path_factory.mktemp("bench"), "seed-store", "boat-shed")


def _sliders(view: str) -> dict[str, float]:
    found = re.findall(r'<input type="range" id="(\w+)".*?value="([^"]+)"', view)
    return {key: float(value) for key, value in found}


def test_the_view_has_a_sentence_gauges_pictures_and_five_sliders(page: TestClient) -> None:
    view = later(page, f"{HERE}/view?{urlencode(PARTS)}")
    assert "Should work. Water 13 L/day for 298 W" in view
    assert len(_sliders(view)) == 5
    assert 'id="states-evaporator" d="M' in view
    assert 'id="air-condenser" d="M' in view
    assert "into compressor" in view
    assert "style=" not in view  # the page's policy takes none


def test_what_moves_is_answered_with_lines_only(page: TestClient) -> None:
    frame = urlencode(PARTS)
    at = _sliders(later(page, f"{HERE}/view?{frame}"))
    still = page.get(f"{HERE}/live?{urlencode({**PARTS, **at, 'frame': frame})}")
    at["charge_kg"] *= 1.3
    moved = page.get(f"{HERE}/live?{urlencode({**PARTS, **at, 'frame': frame})}")
    assert len(moved.content) < 6000
    before, after = still.json(), moved.json()
    assert after["inside"] is True
    assert float(after["seen"]["discharge_pressure"]) > float(before["seen"]["discharge_pressure"])
    assert float(after["seen"]["subcooling"]) > float(before["seen"]["subcooling"])
    assert after["moves"]["states-condenser"]["d"] != before["moves"]["states-condenser"]["d"]
    assert after["moved"]["charge_kg"].endswith(" g")


def test_a_state_far_from_the_last_one_is_reached_in_steps(page: TestClient) -> None:
    frame = urlencode(PARTS)
    at = _sliders(later(page, f"{HERE}/view?{frame}"))
    at |= {"room_temperature_K": 303.15, "room_humidity": 0.5, "length_m": 2.2}
    far = page.get(f"{HERE}/live?{urlencode({**PARTS, **at, 'frame': frame})}").json()
    assert "problem" not in far
    assert "30.0 °C" in far["moved"]["room_temperature_K"]


def test_without_a_balance_one_sentence_is_given_and_no_lines(page: TestClient) -> None:
    frame = urlencode(PARTS)
    at = _sliders(later(page, f"{HERE}/view?{frame}"))
    at["charge_kg"] = 8.0
    none = page.get(f"{HERE}/live?{urlencode({**PARTS, **at, 'frame': frame})}").json()
    assert set(none) == {"problem", "moved"}
    assert none["problem"].startswith("No balance here")


def test_the_numbers_have_ranges_verdicts_and_places_of_the_charge(page: TestClient) -> None:
    text = later(page, f"{HERE}/numbers?{urlencode({**PARTS, 'room_temperature_K': 291.15})}")
    assert "from 64 trial runs" in text
    assert "Where the charge is" in text
    assert "What to measure next" in text
    assert "likely range (9 in 10)" in text


def test_the_full_search_says_in_one_sentence_why_there_is_no_balance(page: TestClient) -> None:
    asked = urlencode({**PARTS, "charge_kg": 8.0})
    for _ in range(600):
        answer = page.get(f"{HERE}/numbers?{asked}")
        if answer.status_code != 202:
            break
        time.sleep(0.1)
    assert answer.status_code == 400
    assert "<p>No balance: too much charge" in answer.text
    assert "left over" not in answer.text
    assert "tried" not in answer.text


def test_without_parts_named_the_best_of_the_ranking_is_shown(page: TestClient) -> None:
    view = later(page, f"{HERE}/view")
    assert 'value="drinks cooler"' in view


def test_a_job_in_us_units_moves_in_us_units(page: TestClient) -> None:
    here = "/job/boat-shed/combination"
    view = later(page, f"{here}/view?compressor=1&capillary=1")
    assert "psig" in view
    assert "°F" in view
    assert "bar(g)" not in view


@pytest.mark.parametrize(
    "asked", ["charge_kg=much", "charge_kg=900", "length_m=nan", "compressor=nobody"]
)
def test_what_cannot_be_used_is_told_in_a_sentence(page: TestClient, asked: str) -> None:
    answer = page.get(f"{HERE}/numbers?{asked}", headers={"x-part": "1"})
    assert answer.status_code == 400
    assert 'class="problem"' in answer.text

"""The page of a year: what it says, what the sliders move, and what is refused."""

from __future__ import annotations

import re
from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient
from tests.pages import later, page_of

HERE = "/job/timber-store/year"
PARTS = urlencode({"compressor": "1", "refrigerant": "R-134a", "capillary": "1"})


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    return page_of(tmp_path_factory.mktemp("bench"), "timber-store", "seed-store")


@pytest.fixture(scope="module")
def answer(page: TestClient) -> str:
    return later(page, f"{HERE}/answer?{PARTS}")


def _moved(**values: str) -> str:
    usual = {"humidity": "0.5", "cut_out": "273.15", "air_changes": "1.11e-4", "defrost": "none"}
    return f"{HERE}/moved?{PARTS}&{urlencode({**usual, **values})}"


def test_the_answer_comes_first_then_the_picture_and_the_numbers(answer: str) -> None:
    headline = re.search(r'class="headline">([^<]*)<', answer)
    assert headline is not None
    assert "54 %RH" in headline[1]
    assert answer.index("headline") < answer.index("<svg") < answer.index("energy")
    assert "CHF" in answer
    assert "style=" not in answer


def test_sliders_move_the_year(page: TestClient, answer: str) -> None:
    def energy(text: str) -> float:
        found = re.search(r"<dt>energy</dt><dd>([\d.]+) kWh", text)
        assert found is not None
        return float(found[1])

    dry, usual, damp = (
        later(page, _moved(humidity=humidity)) for humidity in ("0.45", "0.5", "0.6")
    )
    assert energy(dry) > energy(usual) > energy(damp)
    assert later(page, _moved(air_changes="3e-4")) != usual


@pytest.mark.parametrize(
    "wrong", [{"humidity": "wet"}, {"cut_out": "900"}, {"air_changes": "nan"}, {"defrost": "salt"}]
)
def test_what_no_slider_sends_is_refused(
    page: TestClient, answer: str, wrong: dict[str, str]
) -> None:
    found = page.get(_moved(**wrong))
    assert found.status_code == 400
    assert "Traceback" not in found.text


def test_money_where_prices_are_told(page: TestClient) -> None:
    text = later(page, f"{HERE}/worth?{PARTS}")
    assert "new machine" in text
    assert "CHF" in text
    assert "What it costs" in page.get("/job/seed-store/year").text

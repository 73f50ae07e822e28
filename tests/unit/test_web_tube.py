"""The page of the tubes: lengths for a machine, and one tube as it is typed."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient
from tests.pages import EXAMPLES, later, page_of, spaced

HERE = "/job/seed-store/tube"
TYPED = {
    "refrigerant": "R-134a",
    "bore": "0.9 mm",
    "length": "2 m",
    "inlet_pressure": "9 bar(g)",
    "subcooling": "5 K",
    "outlet_pressure": "2 bar(g)",
}


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    return page_of(tmp_path_factory.mktemp("bench"), "seed-store")


def test_lengths_of_every_tube_are_told_and_drawn(page: TestClient) -> None:
    text = later(page, f"{HERE}/answer?compressor=drinks+cooler&refrigerant=R-513A")
    assert "1.25 on the reel: cut to" in text
    assert "ends up between" in text
    assert "How to approach the length" in text
    assert "<svg" in text
    assert "style=" not in text


def test_the_chosen_tube_is_told_first(page: TestClient) -> None:
    asked = "compressor=drinks+cooler&refrigerant=R-513A&capillary=the+one+in+the+machine"
    text = later(page, f"{HERE}/answer?{asked}")
    assert 'class="headline">the one in the machine: fitted' in text


def test_one_tube_is_calculated_as_typed(page: TestClient) -> None:
    part = page.post(f"{HERE}/flow", data=TYPED, headers={"x-part": "1"})
    assert part.status_code == 200
    assert "2.00 m of 0.900 mm bore passes" in spaced(part.text)
    assert "2.00\N{NO-BREAK SPACE}m of 0.900\N{NO-BREAK SPACE}mm" in part.text
    assert "<html" not in part.text
    asked = {**TYPED, "length": "", "mass_flow": "5 kg/h"}
    assert "passes 5.00 kg/h" in spaced(page.post(f"{HERE}/flow", data=asked).text)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"bore": "0.9"}, "bore"),
        ({"bore": "9 mm"}, "not believable here"),
        ({"bore": ""}, "is missing"),
        ({"mass_flow": "5 kg/h"}, "give either length or flow"),
        ({"subcooling": ""}, "give either subcooling"),
        ({"inlet_pressure": "9 bar"}, "pressure before it"),
        ({"outlet_pressure": "10 bar(g)"}, "must be below the pressure before it"),
        ({"refrigerant": "nothing"}, "nothing"),
    ],
)
def test_what_cannot_be_used_is_told_in_a_sentence(
    page: TestClient, wrong: dict[str, str], said: str
) -> None:
    part = page.post(f"{HERE}/flow", data={**TYPED, **wrong}, headers={"x-part": "1"})
    assert part.status_code == 400
    assert said in part.text
    whole = page.post(f"{HERE}/flow", data={**TYPED, **wrong})
    assert 'value="R-134a"' in whole.text or wrong.get("refrigerant")
    assert 'role="alert"' in whole.text


def test_a_tube_too_short_for_a_capillary_is_not_told_first(tmp_path: Path) -> None:
    text = (EXAMPLES / "seed-store.toml").read_text("utf-8")
    text = text.replace('bore = "1.25 mm"', 'bore = "0.95 mm"').replace("fitted = true", "")
    (tmp_path / "narrow.toml").write_text(text, "utf-8")
    asked = "compressor=drinks+cooler&refrigerant=R-513A"
    told = later(page_of(tmp_path), f"/job/narrow/tube/answer?{asked}")
    assert "Too short for a capillary" in told
    headline = told.partition('class="headline">')[2].partition("<")[0]
    assert "cut to" in headline
    assert "too short" not in headline

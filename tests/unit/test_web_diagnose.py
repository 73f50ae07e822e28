"""What is wrong with it: the page of a diagnosis, typed and following a log."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from tests.pages import PARTS, kept, page_of, plain, settled

from sweatline.diagnosis.observed import SHOWS

ADDRESS = "/job/seed-store/diagnose"
STARVED = {"suction_gauge": "1.6 bar(g)", "head_gauge": "5.4 bar(g)", "suction_gas": "13 C"}


@pytest.fixture
def page(tmp_path: Path) -> Iterator[TestClient]:
    with page_of(tmp_path, "seed-store") as found:
        yield found


def test_every_reading_that_shows_something_has_a_box(page: TestClient) -> None:
    text = page.get(ADDRESS).text
    for channel in SHOWS:
        assert text.count(f'name="{channel.replace(" ", "_")}"') == 1, channel
    assert "Everything else" not in text


def test_the_answer_comes_first_then_bars_then_what_to_measure(page: TestClient) -> None:
    text = settled(page, f"{ADDRESS}/answer", **PARTS, **STARVED)
    assert re.search(r'class="headline">Too little refrigerant \(\d+ in 100\)', text)
    assert "What to do: Look for the leak first" in plain(text)
    assert 'aria-label="How likely each cause is"' in text
    assert 'aria-label="Each reading beside the band of what a machine in order shows"' in text
    order = [text.index(part) for part in (
        "headline", "How likely each cause is", "for it", "What to measure next", "The readings",
    )]  # fmt: skip
    assert order == sorted(order)
    assert "Cautions for this work" in text


def test_readings_that_cannot_be_are_told_above_all(page: TestClient) -> None:
    told = plain(settled(page, f"{ADDRESS}/answer", **PARTS, suction_gauge="6 bar(g)",
                         head_gauge="2.3 bar(g)"))  # fmt: skip
    assert "swapped?" in told.split("How likely")[0]


def test_a_mistake_stands_beside_its_box(page: TestClient) -> None:
    text = page.get(ADDRESS, params={"head_gauge": "5.4 bar"}).text
    assert "gauge or absolute" in plain(text)
    assert 'aria-invalid="true"' in text


def test_a_round_from_when_it_ran_well_makes_it_surer(page: TestClient) -> None:
    asked = {**PARTS, "suction_gauge": "2.0 bar(g)", "head_gauge": "5.9 bar(g)",
             "suction_gas": "11 C", "liquid_line": "20 C"}  # fmt: skip
    well = "suction 2.34 bar(g); head 6.35 bar(g); suction-gas 7.4 C; liquid-line 19.8 C"
    said = [
        int(re.findall(r"\((\d+) in 100\)", settled(page, f"{ADDRESS}/answer", **asked, **more))[0])
        for more in ({}, {"well": well})
    ]
    assert said[1] > said[0]
    wrong = settled(page, f"{ADDRESS}/answer", **asked, well="suction 2.34")
    assert 'href="#f-well"' in wrong


def test_a_log_is_followed_and_what_is_typed_beats_it(page: TestClient, tmp_path: Path) -> None:
    kept(tmp_path, (90.0, "started"), (3.0, "suction-gauge 1.6 bar(g)"),
         (2.0, "head-gauge 5.4 bar(g)"), (1.0, "suction-gas 13 C"))  # fmt: skip
    text = settled(page, f"{ADDRESS}/first")
    assert "Too little refrigerant" in plain(text)
    assert f'data-live="{ADDRESS}/first/stream"' in text
    typed = plain(settled(page, f"{ADDRESS}/first", suction_gas="5 C", suction_gauge="2.4 bar(g)",
                          head_gauge="6.5 bar(g)"))  # fmt: skip
    assert "Nothing is wrong that these readings could show" in typed


def test_a_log_without_readings_says_what_to_read(page: TestClient, tmp_path: Path) -> None:
    kept(tmp_path, (90.0, "started"))
    told = plain(settled(page, f"{ADDRESS}/first"))
    assert "nothing was read of the machine itself" in told.casefold()

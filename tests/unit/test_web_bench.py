"""Is it tight, is it dry, will it start: forms from declared questions, logs followed, cautions."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from tests.pages import spaced

from sweatline.answers import questions_of
from sweatline.bench.evacuation.evacuation import EvacuationRequest
from sweatline.bench.start_gear.start_gear import StartGearRequest
from sweatline.bench.tightness.tightness import TightnessRequest
from sweatline.log.logbook import open_log, write_line
from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop

EXAMPLE = Path(__file__).parents[2] / "examples" / "seed-store.toml"
ABOUT = {
    "job": "seed-store", "compressor": "7.2 reciprocating", "refrigerant": "R-134a",
    "capillary": "1.25 on the reel", "length_m": "1.2",
}  # fmt: skip
PARTS = {name: ABOUT[name] for name in ("compressor", "refrigerant")}
DAY = 86400.0


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    (tmp_path / "seed-store.toml").write_bytes(EXAMPLE.read_bytes())
    app = make_app(Workshop(tmp_path), Access())
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50000)) as found:
        yield found


def _log(folder: Path, *lines: tuple[float, str], name: str = "first") -> None:
    """A log of that job; each line with how long ago it happened. [s]"""
    path, now = str(folder / f"{name}.log"), time.time()
    with open_log(path, new=True, machine="Seed store", refrigerant="R-134a",
                  atmosphere=94e3, system="SI") as book:  # fmt: skip
        book.set_about(ABOUT)
        for ago, line in lines:
            write_line(book, line, at=now - ago)


def _settled(client: TestClient, address: str, **query: str) -> str:
    """A page once its answer is there."""
    for _ in range(600):
        text = client.get(address, params=query).text
        if 'class="progress">Calculating' not in text:
            return spaced(text)
        time.sleep(0.1)
    raise AssertionError("no answer in time")


def _plain(page: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", page).split())


@pytest.mark.parametrize(
    ("task", "request_"),
    [("tight", TightnessRequest), ("dry", EvacuationRequest), ("gear", StartGearRequest)],
)
def test_every_question_that_is_declared_has_a_box(
    client: TestClient, task: str, request_: type
) -> None:
    page = client.get(f"/job/seed-store/{task}").text
    for q in questions_of(request_):
        boxes = (
            [f"{q.name}.{f.name}" for f in q.fields] if q.record and not q.repeated else [q.name]
        )
        for box in boxes:
            assert page.count(f'name="{box}"') == 1, box
        for word in q.choices:
            assert f"<option>{word}</option>" in page


def test_a_test_is_planned_from_what_was_typed(client: TestClient) -> None:
    page = _settled(client, "/job/seed-store/tight", pressure="8 bar(g)", **PARTS)
    assert re.search(r"Test for [\d.]+ days at 8.00 bar\(g\) to see 5.0 g/yr of R-134a", page)
    assert 'value="8 bar(g)"' in page
    assert "divide the circuit" in page
    assert "dry nitrogen through a regulator" in _plain(page)


def test_mistakes_stand_beside_their_fields_and_nothing_is_lost(client: TestClient) -> None:
    page = client.get(
        "/job/seed-store/tight",
        params={"pressure": "8", "see": "5 apples", "readings": "0 h, 8 bar(g), 20 C\nnonsense"},
    ).text
    for name, said in (("pressure", "8"), ("see", "5 apples"), ("readings", "nonsense")):
        (beside,) = re.findall(rf'<p class="mistake" id="w-{name}" role="alert">([^<]*)</p>', page)
        assert beside
        assert said in page
        assert f'<a href="#f-{name}">' in page
        assert f'id="f-{name}"' in page
    assert page.count("aria-invalid") == 3
    assert "Line 2:" in page


def test_what_the_calculation_refuses_stands_beside_its_field(client: TestClient) -> None:
    page = _settled(client, "/job/seed-store/tight", pressure="30 bar(g)", **PARTS)
    assert re.search(r'id="w-pressure" role="alert">30.0 bar\(g\) is above what the weakest', page)
    page = _settled(client, "/job/seed-store/dry", pump="2 cfm")
    assert 'id="w-low_hose"' in page
    assert 'id="w-high_hose"' in page


def test_hoses_are_told_in_the_units_of_the_person(client: TestClient) -> None:
    page = _settled(client, "/job/seed-store/dry", pump="2 cfm", low_hose="3/16 in, 3 ft")
    assert "when pumped from the low side" in page
    assert "<polyline" in page
    assert "STOP" not in page
    assert "Never run a compressor under vacuum" in page


def test_pins_are_named_in_the_wiring(client: TestClient) -> None:
    query = {
        "windings.one_two": "11 ohm", "windings.two_three": "4.1 ohm",
        "windings.three_one": "15 ohm", "device": "ptc", "capacitor.capacitance": "15 uF",
        "capacitor.voltage": "370 V", "capillary": "1.25 on the reel", **PARTS,
    }  # fmt: skip
    page = _settled(client, "/job/seed-store/gear", **query)
    assert "Pin 2 is C, pin 3 is R, pin 1 is S." in page
    for label in ("C, pin 2", "S, pin 1", "R, pin 3", "PTC", "run capacitor, 15.0 µF"):
        assert f">{label}</text>" in page
    assert page.index("Pull the plug") < page.index("At the machine")
    assert "Draining it, before anything is touched" in page


def test_a_pressure_test_is_read_from_the_log(client: TestClient, tmp_path: Path) -> None:
    _log(tmp_path, (1.1 * DAY, "pressurised nitrogen"),
         (DAY, "suction gauge 8 bar(g); circuit 15 C"),
         (DAY / 2, "suction gauge 7.6 bar(g); circuit 15 C"),
         (60.0, "suction gauge 7.2 bar(g); circuit 15 C"))  # fmt: skip
    page = _settled(client, "/job/seed-store/tight/first")
    assert "It leaks:" in page
    assert '<polygon points="' in page
    assert "it showed" in page
    # Every number of the answer by itself, with the looks.
    assert re.search(r"<caption>looks \(3\)</caption>", page)


def test_before_the_second_look_the_page_says_how_long_it_takes(
    client: TestClient, tmp_path: Path
) -> None:
    _log(tmp_path, (600.0, "pressurised nitrogen"), (500.0, "suction gauge 8 bar(g)"))
    assert "Test for" in _settled(client, "/job/seed-store/tight/first")
    _log(tmp_path, name="second")
    assert "does not say that the circuit was pressurised" in _settled(
        client, "/job/seed-store/tight/second"
    )


def test_what_was_typed_beats_the_log(client: TestClient, tmp_path: Path) -> None:
    _log(tmp_path, (600.0, "pressurised nitrogen"), (500.0, "suction gauge 8 bar(g)"))
    page = _settled(client, "/job/seed-store/tight/first", see="50 g/yr")
    assert "to see 50 g/yr of R-134a" in page


def test_a_rise_is_read_from_the_log_and_no_start_is_allowed(
    client: TestClient, tmp_path: Path
) -> None:
    rise = [(2400.0 - 300.0 * n, f"vacuum gauge {300 + 40 * n} micron") for n in range(8)]
    _log(tmp_path, (6000.0, "evacuating"), (2500.0, "isolated"), *rise)
    page = _plain(_settled(client, "/job/seed-store/dry/first"))
    assert "STOP. Never start it now" in page
    assert "nothing comes in: tight and dry" in page
    answer = client.post("/job/seed-store/gear/first/line", data={"value": "started"},
                         headers={"x-part": "1"})  # fmt: skip
    assert answer.status_code == 400
    assert "vacuum" in answer.text
    client.post("/job/seed-store/dry/first/line", data={"value": "vacuum broken R-134a"})
    assert "Never start" not in _plain(_settled(client, "/job/seed-store/dry/first"))


def test_work_is_tapped_after_its_caution_was_read_by_name(
    client: TestClient, tmp_path: Path
) -> None:
    _log(tmp_path)
    page = _settled(client, "/job/seed-store/tight/first")
    assert "Nitrogen is in" not in page
    client.post("/job/seed-store/tight/first/acknowledge",
                data={"caution": "dry-nitrogen-only", "by": " Ann  Smith "})  # fmt: skip
    page = _settled(client, "/job/seed-store/tight/first")
    assert "Read by Ann Smith" in page
    assert 'value="pressurised dry nitrogen"' in page
    client.post("/job/seed-store/tight/first/line", data={"value": "pressurised dry nitrogen"})
    rows = json.loads(client.get("/log/first/export.json").text)["entries"]
    assert [(r["channel"], r["text"]) for r in rows] == [
        ("acknowledged", "dry-nitrogen-only by Ann Smith"), ("pressurised", "dry nitrogen"),
    ]  # fmt: skip


def test_all_cautions_of_a_task_are_read_at_once(client: TestClient, tmp_path: Path) -> None:
    _log(tmp_path)
    said = {"caution": ["isolate", "vacuum-no-power"], "by": "Ann", "key": "k"}
    for _again in range(2):
        client.post("/job/seed-store/gear/first/acknowledge", data=said)
    rows = json.loads(client.get("/log/first/export.json").text)["entries"]
    assert [r["text"] for r in rows] == ["isolate by Ann", "vacuum-no-power by Ann"]
    assert "Switched on" in _settled(client, "/job/seed-store/gear/first")


def test_only_what_can_come_next_is_tapped(client: TestClient, tmp_path: Path) -> None:
    _log(tmp_path, (900.0, "event acknowledged vacuum-no-power by Ann"), (600.0, "evacuating"),
         (300.0, "vacuum gauge 2000 micron"))  # fmt: skip
    page = _settled(client, "/job/seed-store/dry/first")
    assert "Valve shut" in page
    assert "Pump started" not in page
    assert "Pump on until the gauge at the pump shows 67 Pa" in page
    client.post("/job/seed-store/dry/first/line", data={"value": "vacuum gauge 300 micron"})
    assert "Low enough: shut the valve" in _settled(client, "/job/seed-store/dry/first")
    client.post("/job/seed-store/dry/first/line", data={"value": "isolated"})
    page = _settled(client, "/job/seed-store/dry/first")
    assert "Pump started" in page
    assert "Broken with R-134a" in page


def test_a_caution_that_there_is_not_is_refused(client: TestClient, tmp_path: Path) -> None:
    _log(tmp_path)
    for said in ({"caution": "nonsense", "by": "Ann"}, {"caution": "isolate", "by": " "}):
        answer = client.post("/job/seed-store/gear/first/acknowledge", data=said)
        assert answer.status_code == 400


def test_the_log_of_a_machine_that_stands_tells_how_long(
    client: TestClient, tmp_path: Path
) -> None:
    _log(tmp_path, (9000.0, "vacuum broken R-134a"), (8900.0, "added 200 g"), (8000.0, "started"),
         (500.0, "suction gauge 2.4 bar(g); head gauge 8 bar(g); watts 250 W"), (400.0, "stopped"),
         (60.0, "suction gauge 4.1 bar(g); head gauge 5.4 bar(g)"))  # fmt: skip
    page = _plain(_settled(client, "/job/seed-store/gear/first"))
    assert "head 5.40 bar(g), suction 4.10 bar(g)" in page
    assert "counts as equal" in page


def test_a_log_begun_for_a_task_leads_to_it(client: TestClient) -> None:
    facts = {**ABOUT, "length": "1.2 m", "new": "mine", "then": "dry"}
    facts.pop("job")
    answer = client.post("/job/seed-store/charge", data=facts)
    assert str(answer.url).endswith("/job/seed-store/dry/mine")
    assert "Go on with mine" in client.get("/job/seed-store/tight").text
    refused = client.post("/job/seed-store/charge", data={**facts, "new": "b", "then": "//x"})
    assert refused.status_code == 422

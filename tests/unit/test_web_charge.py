"""The charge page: parts and log chosen, readings written once, undo as a correction, export."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from tests.pages import spaced

from sweatline.log.entries import Entry
from sweatline.log.logbook import open_log
from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop

EXAMPLE = Path(__file__).parents[2] / "examples" / "seed-store.toml"
PARTS = {
    "compressor": "7.2 reciprocating", "refrigerant": "R-134a", "capillary": "1.25 on the reel",
    "length": "1.2 m", "new": "first",
}  # fmt: skip
BASE = "/job/seed-store/charge/first"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    (tmp_path / "seed-store.toml").write_bytes(EXAMPLE.read_bytes())
    app = make_app(Workshop(tmp_path), Access())
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50000)) as found:
        yield found


@pytest.fixture
def begun(client: TestClient) -> TestClient:
    answer = client.post("/job/seed-store/charge", data=PARTS)
    assert answer.status_code == 200
    assert str(answer.url).endswith(BASE)
    return client


def _rows(client: TestClient) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = json.loads(client.get("/log/first/export.json").text)["entries"]
    return rows


def _say(client: TestClient, **fields: object) -> str:
    answer = client.post(f"{BASE}/line", data=fields, headers={"x-part": "1"})
    return spaced(answer.text)


def test_a_log_remembers_the_parts_that_were_chosen(begun: TestClient) -> None:
    about = json.loads(begun.get("/log/first/export.json").text)["about"]
    assert about["job"] == "seed-store"
    assert about["compressor"] == "7.2 reciprocating"
    assert about["length_m"] == "1.2"
    assert BASE in begun.get("/job/seed-store/charge").text


def test_fields_take_a_bare_number_in_the_unit_beside_them(begun: TestClient) -> None:
    fields = {"what": ["suction gauge", "head gauge", "watts"], "value": ["1.2", "", "251 W"],
              "unit": ["bar(g)", "bar(g)", "W"]}  # fmt: skip
    assert "suction gauge 1.2 bar(g)" in _say(begun, **fields)
    assert [(r["channel"], r["text"]) for r in _rows(begun)] == [
        ("suction gauge", "1.2 bar(g)"), ("watts", "251 W"),
    ]  # fmt: skip
    assert "1.20" in begun.get(BASE).text


def test_the_same_key_again_writes_nothing_twice(begun: TestClient) -> None:
    for _ in range(3):
        assert "Kept as 1" in _say(begun, value="suction 1.2 bar(g); head 5.5 bar(g)", key="k1")
    assert len(_rows(begun)) == 2
    assert "Kept as 3" in _say(begun, value="withdraw 2 not meant", key="k2")
    assert "Kept as 3" in _say(begun, value="withdraw 2 not meant", key="k2")
    assert len(_rows(begun)) == 3


def test_what_arrives_late_happened_when_the_button_was_pressed(begun: TestClient) -> None:
    _say(begun, value="added 20 g", ago="60")
    (row,) = _rows(begun)
    assert float(str(row["written_at"])) - float(str(row["happened_at"])) == pytest.approx(60, 1)


def test_what_is_not_understood_is_told_and_nothing_is_written(begun: TestClient) -> None:
    answer = begun.post(
        f"{BASE}/line", data={"value": "suction gauge 1.2"}, headers={"x-part": "1"}
    )
    assert answer.status_code == 400
    assert "1.2" in answer.text
    assert _rows(begun) == []


def test_undo_is_a_withdrawal_that_the_log_shows(begun: TestClient) -> None:
    _say(begun, value="added 20 g")
    _say(begun, value="withdraw 1 undone on the page")
    page = begun.get("/log/first").text
    assert "no longer holds" in page
    assert "withdrawn: undone on the page" in page
    assert [r["corrects"] for r in _rows(begun)] == [None, 1]


def test_a_log_of_any_length_shows_some_rows_and_leads_to_the_others(
    client: TestClient, tmp_path: Path
) -> None:
    with open_log(str(tmp_path / "long.log"), new=True, refrigerant="R-134a") as log:
        log.append_all([Entry(kind="note", happened_at=9e8 + n, text=f"n{n}.") for n in range(950)])
    address, seen = "/log/long", []
    while address:
        page = client.get(address).text
        rows = [int(n) for n in re.findall(r'<tr id="e(\d+)"', page)]
        assert 0 < len(rows) <= 100
        assert ("data-live" in page) == (not seen)
        seen += rows
        older = re.search(r'href="(/log/long\?before=\d+)"', page)
        address = older[1] if older else ""
    assert seen == list(range(950, 0, -1))
    assert client.get("/log/long/export.csv").text.count("\n") == 951


def test_a_log_or_job_that_is_not_there_is_told(client: TestClient) -> None:
    for address in ("/log/none", "/job/seed-store/charge/none", "/job/none/charge"):
        answer = client.get(address)
        assert answer.status_code == 400
        assert "no job of this name" in answer.text or "no log of this name" in answer.text
    bad = PARTS | {"new": "../out"}
    assert client.post("/job/seed-store/charge", data=bad).status_code == 400
    assert client.post("/job/seed-store/charge", data=PARTS | {"length": "1.2"}).status_code == 400

"""Practise on the page: the invented machine runs at once, takes a dose, ends with a debrief."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop

PART = {"x-part": "1"}
PATIENCE = 180.0  # s; the kernels may have to be compiled first


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    app = make_app(Workshop(tmp_path), Access())
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50000)) as found:
        yield found


def _part(client: TestClient, address: str) -> str:
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        answer = client.get(address, headers=PART)
        if answer.status_code != 202:
            assert answer.status_code == 200, answer.text
            return answer.text
        time.sleep(0.2)
    raise AssertionError(f"{address} did not come")


def _rows(client: TestClient, base: str) -> list[dict[str, str]]:
    rows: list[dict[str, str]] = json.loads(client.get(f"{base}/export.json").text)["entries"]
    return rows


def _until(client: TestClient, base: str, what: str, wanted: str) -> str:
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        text = _part(client, f"{base}/bench")
        found = re.search(rf'id="{what}".*?</section>', text, re.DOTALL)
        if found and re.search(wanted, found[0]):
            return found[0]
        time.sleep(0.3)
    raise AssertionError(f"{wanted} never stood in {what}")


def test_a_visitor_charges_the_invented_machine_and_hears_how_it_went(client: TestClient) -> None:
    form = {"units": "US", "fault": "any", "pace": "30", "seed": "7"}
    base = client.post("/practise", data=form, follow_redirects=False).headers["location"]
    gauges = _until(client, base, "gauges", "psig")
    assert "bar" not in gauges
    step = _until(client, base, "step", "ADD|TAKE OUT|STOP")
    assert " g" not in re.sub(r"<[^>]*>", "", step)

    assert client.post(f"{base}/do", data={"what": "add", "amount": "5 lb"}).status_code == 400
    told = client.post(f"{base}/do", data={"what": "add", "amount": "0.5"}, headers=PART)
    assert "hose is open" in told.text
    client.post(f"{base}/do", data={"what": "fault", "amount": "leak"})
    client.post(f"{base}/do", data={"what": "stop"})
    _until(client, base, "state", "stands.*you say: leak")
    added = [r for r in _rows(client, base) if r["kind"] == "addition"]
    assert len(added) == 2
    assert added[1]["text"].endswith("oz")

    over = client.post(f"{base}/do", data={"what": "end", "amount": "none"})
    assert "How it went" in over.text
    debrief = _part(client, f"{base}/debrief")
    assert "You ended with" in debrief
    assert "half an ounce" in debrief
    assert "<svg" in debrief
    assert re.search(r"You named (it|another)|as you said|Nothing was wrong", debrief)
    assert 'name="seed" value="7"' in debrief
    assert "This practice is over" in _part(client, f"{base}/bench")
    assert client.post(f"{base}/do", data={"what": "start"}).status_code == 400


def test_a_practice_that_is_gone_or_a_fault_that_is_none_is_told(client: TestClient) -> None:
    assert "begin another" in client.get("/practise/none").text
    answer = client.post("/practise", data={"fault": "gremlins"}, follow_redirects=False)
    told = client.get(f"{answer.headers['location']}/bench", headers=PART)
    end = time.monotonic() + PATIENCE
    while told.status_code == 202 and time.monotonic() < end:
        time.sleep(0.2)
        told = client.get(f"{answer.headers['location']}/bench", headers=PART)
    assert told.status_code == 400
    assert "no fault of that name" in told.text
    assert client.post("/practise", data={"pace": "9000"}).status_code == 422

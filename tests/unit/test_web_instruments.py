"""Readings that instruments send: kept or refused one by one, never twice, watched."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from sweatline.errors import JobError
from sweatline.log.channels import SENSORS_FILE
from sweatline.log.feed import SensorWatch, Sent, from_table, read_sensors
from sweatline.log.logbook import open_log
from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop

LOG = "pump-house"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    open_log(str(tmp_path / f"{LOG}.log"), new=True, refrigerant="R-290", system="SI").close()
    return tmp_path


@pytest.fixture
def page(folder: Path) -> Iterator[TestClient]:
    app = make_app(Workshop(folder), Access())
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 5)) as client:
        yield client


def entries(folder: Path) -> list[tuple[str, str]]:
    with open_log(str(folder / f"{LOG}.log")) as log:
        return [(e.channel, e.text) for e in log.entries()]


def send(page: TestClient, *readings: dict[str, object], key: str = "") -> dict[str, object]:
    answer = page.post(f"/api/logs/{LOG}/readings", json={"readings": readings, "key": key})
    assert answer.status_code == 200, answer.text
    found: dict[str, object] = answer.json()
    return found


def test_a_sensor_called_like_a_channel_needs_no_line(page: TestClient, folder: Path) -> None:
    found = send(page, {"sensor": "suction gauge", "value": 1.42, "unit": "bar(g)"})
    assert found["kept"] == 1
    assert entries(folder) == [("suction gauge", "1.42 bar(g)")]


def test_one_bad_reading_does_not_hold_up_the_others(page: TestClient, folder: Path) -> None:
    found = send(
        page,
        {"sensor": "head gauge", "value": 7.1, "unit": "bar"},  # gauge or absolute?
        {"sensor": "watts", "value": 212.0, "unit": "W"},
        {"sensor": "t7", "value": 21.0, "unit": "°C"},
    )
    assert (found["kept"], found["refused"]) == (1, 2)
    problems = [r["problem"] for r in found["readings"]]  # type: ignore[attr-defined]
    assert "gauge" in problems[0]
    assert "nobody has said" in problems[2]
    assert entries(folder) == [("watts", "212 W")]


def test_the_same_message_again_writes_nothing_twice(page: TestClient, folder: Path) -> None:
    reading = {"sensor": "watts", "value": 212.0, "unit": "W"}
    first = send(page, reading, key="a1")
    again = send(page, reading, key="a1")
    assert first["readings"] == again["readings"]
    assert len(entries(folder)) == 1


def test_a_reading_with_its_time_is_written_once(page: TestClient, folder: Path) -> None:
    reading = {"sensor": "watts", "value": 212.0, "unit": "W", "at": "2026-03-14T14:05:00Z"}
    send(page, reading)
    send(page, reading)
    assert len(entries(folder)) == 1


def test_a_reading_dated_ahead_is_refused(page: TestClient, folder: Path) -> None:
    reading = {"sensor": "watts", "value": 2.0, "unit": "W", "at": "2999-01-01T00:00:00Z"}
    found = send(page, reading)
    assert "ahead" in found["readings"][0]["problem"]  # type: ignore[index]
    assert entries(folder) == []


@pytest.mark.parametrize(
    "body",
    ["", "{", '{"readings": []}', '{"readings": [{"sensor": "watts"}]}', "[" * 5000,
     '{"readings": [{"sensor": "watts", "value": NaN, "unit": "W"}]}',
     '{"readings": [{"sensor": "watts", "value": 1, "unit": "W", "colour": "red"}]}'],
)  # fmt: skip
def test_a_message_that_is_none_gets_one_sentence(page: TestClient, body: str) -> None:
    answer = page.post(
        f"/api/logs/{LOG}/readings", content=body, headers={"content-type": "application/json"}
    )
    assert answer.status_code in (400, 422)
    assert set(answer.json()) == {"problem"}


def test_a_sensor_is_named_once_and_keeps_comments(page: TestClient, folder: Path) -> None:
    (folder / SENSORS_FILE).write_text("# on the shelf\n", encoding="utf-8")
    told = {"name": "b/t1", "channel": "suction gas", "unit": "°C", "error": "0.5 K"}
    assert page.post("/instruments/sensor", data=told, follow_redirects=False).status_code == 303
    assert "# on the shelf" in (folder / SENSORS_FILE).read_text(encoding="utf-8")
    assert read_sensors(folder)["b/t1"].channel == "suction gas"
    assert send(page, {"sensor": "b/t1", "value": 4.25})["kept"] == 1
    with open_log(str(folder / f"{LOG}.log")) as log:
        assert log.instruments()[0].absolute == pytest.approx(0.5)
    wrong = page.post("/instruments/sensor", data=told | {"name": "b/t2", "unit": "psig"})
    assert wrong.status_code == 400
    assert "unit of b/t2" in wrong.text


def test_a_table_is_taken_in_once(page: TestClient, folder: Path) -> None:
    table = (
        "time,suction gauge [bar(g)],watts [W]\n"
        "2026-03-14 14:05:10,1.4,\n2026-03-14 14:06,1.5,210\n"
    )
    for expected in ("3 readings written", "0 readings written, 3 were there already"):
        answer = page.post("/instruments/table", data={"log": LOG}, files={"file": table})
        assert expected in answer.text
    assert len(entries(folder)) == 3


@pytest.mark.parametrize(
    ("table", "told"),
    [(b"", "not a table"), (b"\xff\xfe\x00", "UTF-8"), (b"a,b\n1,2\n", "called time"),
     (b"time,watts [W]\nnoon,3\n", "line 2"), (b"time,watts [W]\n14:00,x\n", "line 2"),
     (b"time,watts [W]\n14:00,1,2\n", "3 cells")],
)  # fmt: skip
def test_a_table_that_is_none_gets_one_sentence(
    page: TestClient, folder: Path, table: bytes, told: str
) -> None:
    answer = page.post("/instruments/table", data={"log": LOG}, files={"file": table})
    assert answer.status_code == 400
    assert told in answer.text
    assert entries(folder) == []


def test_the_published_interface_is_the_one_that_stands(page: TestClient) -> None:
    told = page.get("/api/openapi.json").json()
    assert set(told["paths"]) == {"/api/logs", "/api/logs/{name}/readings"}
    example = told["components"]["schemas"]["SentReading"]["properties"]["unit"]["examples"][0]
    assert example == "psig"
    assert json.dumps(told)


def watched(values: dict[str, list[float]], every: float = 1.0) -> dict[str, str]:
    watch = SensorWatch()
    length = max(len(v) for v in values.values())
    for i in range(length):
        for name, series in values.items():
            if i < len(series):
                watch.take(name, "suction gas", series[i], i * every)
    return {s.name: s.trouble for s in watch.states(length * every)}


def test_sensors_that_stop_repeat_jump_or_change_places() -> None:
    good = [280.0 + 0.05 * (i % 3) for i in range(60)]
    assert watched({"a": good}) == {"a": ""}
    assert watched({"a": good, "b": good[:20]})["b"] == "stopped"
    assert watched({"a": good, "b": [281.0] * 60})["b"] == "repeats"
    assert watched({"a": good, "b": [*good[:58], 300.0, 300.1]})["b"] == "jumps"
    far = [v + 25.0 for v in good]
    crossed = watched({"a": good[:58] + far[58:], "b": far[:58] + good[58:]})
    assert crossed == {"a": "swapped", "b": "swapped"}


def test_a_table_reads_units_from_its_head() -> None:
    sent = list(from_table("time,t 1 [°C],x\n2026-03-14 14:05,1,2\n"))
    assert [(s.sensor, s.unit, s.value) for s in sent] == [("t 1", "°C", 1.0), ("x", "", 2.0)]
    assert isinstance(sent[0], Sent)


_TABLE_LETTERS = 'time,wats [W]\n\r"0123456789.-:eE\t\x00\xe9'


@settings(deadline=None, max_examples=200)
@given(st.text(alphabet=st.sampled_from(_TABLE_LETTERS)) | st.text())
def test_a_table_of_any_content_is_read_or_refused_in_a_sentence(text: str) -> None:
    told, sent = "", []
    try:
        sent = list(from_table(text))
    except JobError as error:
        told = str(error)
    assert "\n" not in told
    assert all(isinstance(one, Sent) for one in sent)

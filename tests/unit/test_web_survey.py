"""The survey as a page: from an empty folder to a job, with the file as the truth."""

from __future__ import annotations

import re
import shutil
import time
import tomllib
from html import unescape
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from tests.interview import ANSWERS

from sweatline.job.reading import read_job
from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop

EXAMPLE = Path(__file__).parents[2] / "examples" / "seed-store.toml"
ONE = "/job/good/survey/one"
SAVE = "/job/good/survey/save"


@pytest.fixture
def page(tmp_path: Path) -> TestClient:
    shutil.copy(EXAMPLE, tmp_path / "good.toml")
    app = make_app(Workshop(tmp_path), Access())
    return TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50000))


def words(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())


def answers(**fields: str) -> dict[str, str]:
    """A form of one question: what it was drawn with and what is typed now."""
    (name,) = [key[2:].replace("__", ".") for key in fields if key.startswith("a_")]
    typed, drawn = (fields.get(f"{k}_{name.replace('.', '__')}", "") for k in "aw")
    return {"one": name, f"a:{name}": typed, f"w:{name}": drawn}


def test_from_an_empty_folder_to_a_ranking(tmp_path: Path) -> None:
    app = make_app(Workshop(tmp_path), Access())
    page = TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50000))
    at = page.post("/new", data={"title": "Cellar, north", "units": "US"})
    name, asked, added = "cellar-north", [], False
    for _ in range(150):
        found = re.search(r'name="one" value="([^"]+)"', at.text)
        if found is None:
            break
        asked.append(unescape(found[1]))
        if asked[-1] == "capillary[1].name" and not added:
            added = True  # a second compressor before going on
            at = page.post(f"/job/{name}/survey/add", data={"table": "compressor"})
            continue
        said = ANSWERS.get(asked[-1], "don't know")
        form = {"one": asked[-1], f"a:{asked[-1]}": said, f"w:{asked[-1]}": ""}
        at = page.post(f"/job/{name}/survey/save", data=form)
        assert at.status_code == 200, words(at.text)
    assert at.url.path == f"/job/{name}/survey"
    assert "That is enough for an answer." in words(at.text)
    assert set(ANSWERS) <= set(asked)
    job = read_job(tmp_path / "cellar-north.toml")
    assert [one.name for one in job.compressors] == ["freezer", "drinks cooler"]
    assert job.compressors[1].displacement is None
    assert job.evaporator.tube_wall.origin == "default"
    assert job.evaporator.longitudinal_pitch.note == "stated as about"
    for _ in range(600):
        found = page.get(f"/job/{name}/match/answer")
        if found.status_code == 200:
            break
        time.sleep(0.2)
    assert "Best: " in words(found.text)


def test_an_answer_keeps_the_comments_of_the_file(page: TestClient, tmp_path: Path) -> None:
    before = EXAMPLE.read_text(encoding="utf-8")
    form = answers(a_evaporator__rows="3", w_evaporator__rows="2")
    assert page.post(SAVE, data=form).status_code == 200
    after = (tmp_path / "good.toml").read_text(encoding="utf-8")
    assert after == before.replace("rows = 2  ", "rows = 3  ")


def test_what_cannot_be_read_is_not_written_and_told_beside_its_question(
    page: TestClient, tmp_path: Path
) -> None:
    form = answers(a_room__temperature="15", w_room__temperature="15 °C")
    told = page.post(SAVE, data=form, headers={"x-part": "1"})
    assert told.status_code == 422
    assert "a temperature without a unit (read: 15)" in words(told.text)
    assert 'value="15"' in told.text
    assert (tmp_path / "good.toml").read_text(encoding="utf-8") == EXAMPLE.read_text("utf-8")


def test_a_form_drawn_before_an_edit_outside_overwrites_nothing(
    page: TestClient, tmp_path: Path
) -> None:
    file = tmp_path / "good.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('"15 °C"', '"18 °C"').replace('"75 %RH"', '"70 %RH"'), "utf-8")
    form = {
        "part": "room",
        "a:room.temperature": "16 °C", "w:room.temperature": "15 °C",
        "a:room.humidity": "75 %RH", "w:room.humidity": "75 %RH",
        "a:room.volume": "60 m3", "w:room.volume": "55 m3",
        "a:room.floor_area": "22 m2", "w:room.floor_area": "22 m2",
    }  # fmt: skip
    told = page.post(SAVE, data=form, headers={"x-part": "1"})
    assert told.status_code == 422
    assert 'the file was changed meanwhile and says "18 °C" here' in words(told.text)
    assert 'value="16 °C"' in told.text  # what was typed stands in the field
    assert 'name="w:room.temperature" value="18 °C"' in told.text
    after = file.read_text(encoding="utf-8")
    assert '"18 °C"' in after
    assert '"70 %RH"' in after  # nobody touched the old one in the form
    assert '"60 m3"' in after


def test_an_edit_outside_is_seen_and_a_broken_file_is_told_by_its_line(
    page: TestClient, tmp_path: Path
) -> None:
    file = tmp_path / "good.toml"
    drawn = re.search(r'data-digest="(\w+)"', page.get("/job/good/survey").text)
    assert drawn is not None
    assert page.get("/job/good/survey/digest").text == drawn[1]
    file.write_text(file.read_text("utf-8").replace("rows = 2  ", "rows = two  "), "utf-8")
    assert page.get("/job/good/survey/digest").text != drawn[1]
    told = page.get("/job/good/survey")
    assert told.status_code == 400
    assert "good.toml:41: not readable as TOML: a value that needs quotation marks" in told.text


def test_parts_that_do_not_fit_are_told_beside_the_question(page: TestClient) -> None:
    form = answers(a_evaporator__tube_wall="5 mm", w_evaporator__tube_wall="0.35 mm")
    page.post(SAVE, data=form)
    told = page.get("/job/good/survey/part/evaporator").text
    field = told.split("How thick is the wall of a tube?")[1].split('class="question')[0]
    assert "half the tube's diameter or more" in words(field)
    assert "Some answers cannot be used" in words(page.get("/job/good/survey").text)


def test_a_key_that_does_not_exist_is_told_with_its_part(page: TestClient, tmp_path: Path) -> None:
    file = tmp_path / "good.toml"
    file.write_text(file.read_text("utf-8").replace("fin_pitch = ", "fin_pich = ", 1), "utf-8")
    told = words(page.get("/job/good/survey/part/evaporator").text)
    assert "evaporator.fin_pich: no such key; nearest: fin_pitch" in told
    assert "Targets" in words(page.get("/job/good/survey").text)


def test_what_stands_in_is_told_with_its_origin(page: TestClient) -> None:
    told = words(page.get(f"{ONE}/compressor[2].oil_volume").text)
    assert "Left open: 300 cm³ (small rotary compressors hold 200 to 400 cm3 of oil)." in told


@pytest.mark.parametrize(
    ("key", "typed", "meant"),
    [
        ("evaporator.tube_outer_diameter", "3/8 in", "= 9.52 mm ± 0.020 mm (calliper)"),
        ("evaporator.finned_length", "about 1 ft", "= 305 mm ± 15 mm (stated as about)"),
        ("limits.high_side_pressure", "300 psig", "= 20.7 bar(g)"),
        ("evaporator.tube_wall", "don't know", "= not known"),
        ("refrigerants", "134a, propane", "= R-134a, R-290"),
        ("evaporator.rows", "2", "= 2"),
        ("evaporator.rows", "", ""),
    ],
)
def test_an_answer_is_understood_at_once(
    page: TestClient, key: str, typed: str, meant: str
) -> None:
    asked = {"job": "good", "key": key, "text": typed}
    assert page.get("/understood", params=asked).text == meant


def test_a_quantity_of_any_kind_is_understood(page: TestClient) -> None:
    found = page.get("/understood", params={"kind": "pressure", "text": "27 psig", "job": "good"})
    assert found.text == "= 1.86 bar(g)"
    refused = page.get("/understood", params={"kind": "pressure", "text": "27"})
    assert refused.text.startswith("a pressure without a unit")
    other = page.get("/understood", params={"kind": "no such", "text": "1"})
    assert other.text == "no kind of quantity (read: no such)."


def test_parts_are_added_and_taken_out(page: TestClient, tmp_path: Path) -> None:
    asked = page.post("/job/good/survey/add", data={"table": "capillary"})
    assert asked.url.path == f"{ONE}/capillary[4].name"
    page.post("/job/good/survey/remove", data={"part": "capillary[4]"})
    page.post("/job/good/survey/remove", data={"part": "compressor[2]"})
    job = read_job(tmp_path / "good.toml")
    assert [one.name for one in job.compressors] == ["7.2 reciprocating", "drinks cooler"]
    assert len(job.capillaries) == 3
    for table in ("room", "nothing", ""):
        assert page.post("/job/good/survey/add", data={"table": table}).status_code >= 400


@pytest.mark.parametrize("title", ["", "  ", "../etc", "good", "x" * 300])
def test_a_name_that_is_none_or_taken_is_refused(
    page: TestClient, title: str, tmp_path: Path
) -> None:
    told = page.post("/new", data={"title": title, "units": "SI"})
    made = {path.name for path in tmp_path.iterdir()} - {"good.toml"}
    assert (told.status_code == 400) == (not made)
    assert made <= {"etc.toml", f"{'x' * 60}.toml"}


def test_a_button_pressed_twice_makes_one_file(page: TestClient, tmp_path: Path) -> None:
    for _ in range(2):
        asked = page.post("/new", data={"title": "Cellar", "units": "SI"})
        assert asked.url.path == "/job/cellar/survey/one/refrigerants"
    assert len(list(tmp_path.glob("*.toml"))) == 2


SHAPES = (
    "", "room = 3\n", '[[room]]\ntemperature = "1 °C"\n', 'room.temperature = "15 °C"\n',
    'compressor = "x"\n', "compressor = []\n", "compressor = [1, 2]\n",
    'compressor = [{name = "a"}]\n', "[[compressor]]\nrating = 3\n", 'capillary = {name = "x"}\n',
    "refrigerants = [[1]]\n", 'units = 4\nplace = "x"\n', 'original = {refrigerant = "R-22"}\n',
    'title = """a\n[room]\nb"""\n', "a = 1979-05-27\n[place]\naltitude = 07:32:00\n",
)  # fmt: skip
SAID = {
    "room.temperature": "16 °C",
    "compressor[1].name": "zz",
    "compressor[1].rating.capacity": "3 W",
    "original.compressor.name": 'a "b" \\ \u2028 \x07',
    "refrigerants": "R-134a",
    "place.altitude": "30 m",
    "title": "'''",
}


@pytest.mark.parametrize("text", SHAPES)
def test_a_file_of_any_shape_is_answered_or_refused_in_words(
    page: TestClient, tmp_path: Path, text: str
) -> None:
    file = tmp_path / "good.toml"
    for name, said in SAID.items():
        file.write_text(text, encoding="utf-8")
        assert page.get("/job/good/survey").status_code == 200
        drawn = page.get(f"{ONE}/{name}")
        assert drawn.status_code == 200
        was = re.search(r'name="w:[^"]*" value="([^"]*)"', drawn.text)
        form = {"one": name, f"a:{name}": said, f"w:{name}": unescape(was[1]) if was else ""}
        assert page.post(SAVE, data=form).status_code in (200, 400, 422)
        tomllib.loads(file.read_text(encoding="utf-8"))
    for form in ({"table": "compressor"}, {"table": "capillary"}):
        page.post("/job/good/survey/add", data=form)
        tomllib.loads(file.read_text(encoding="utf-8"))


def test_shares_of_the_spread_stand_beside_their_questions(page: TestClient) -> None:
    for _ in range(900):
        found = page.get("/job/good/survey/importance")
        if found.status_code == 200:
            break
        time.sleep(0.2)
    told = words(found.text)
    assert "What is worth measuring" in told
    assert 'data-for="matters:room.humidity"' in found.text
    assert re.search(r"\d+ % of the spread of the water hangs on this number", told)

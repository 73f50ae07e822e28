"""The first screen: it stands before the physics is loaded, and says what is in the folder."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from sweatline.web.app import make_app
from sweatline.web.kernels import Kernels
from sweatline.web.pages import progress
from sweatline.web.security import Access
from sweatline.web.workshop import Calculation, Workshop

EXAMPLE = Path(__file__).parents[2] / "examples" / "seed-store.toml"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copy(EXAMPLE, tmp_path / "good.toml")
    text = EXAMPLE.read_text(encoding="utf-8")
    (tmp_path / "bad.toml").write_text(text.replace('"15 °C"', '"15"'), encoding="utf-8")
    (tmp_path / "sensors.toml").write_text("[[sensor]]\n", encoding="utf-8")
    (tmp_path / "begun.toml").write_text('kind = "dehumidifier"\n', encoding="utf-8")
    return tmp_path


def client(folder: Path) -> TestClient:
    app = make_app(Workshop(folder), Access())
    return TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50000))


def test_an_empty_folder_has_two_doors(tmp_path: Path) -> None:
    answer = client(tmp_path).get("/")
    assert answer.status_code == 200
    assert 'href="/new"' in answer.text
    assert 'href="/practise"' in answer.text
    assert "In this folder" not in answer.text


def test_each_job_stands_with_how_far_it_is(folder: Path) -> None:
    text = client(folder).get("/").text
    assert 'href="/job/good/match"' in text
    assert "good.toml: ready to match" in text
    assert 'href="/job/bad/survey"' in text
    assert "a temperature without a unit" in text
    assert "sensors" not in text
    assert "begun.toml: 8 answers are missing" in text


def test_kernels_are_told_until_they_are_compiled(tmp_path: Path) -> None:
    answer = client(tmp_path).get("/kernels")  # nobody began: the server does when it starts
    assert answer.status_code == 202
    assert "The solver is being loaded." in answer.text


def test_an_answer_that_waits_for_the_solver_says_so() -> None:
    waiting = progress(Calculation(kernels=Kernels()))
    assert waiting.status_code == 202
    assert "The solver is being loaded." in bytes(waiting.body).decode()
    begun = progress(Calculation(kernels=Kernels(), share=0.25))
    assert "25\N{NO-BREAK SPACE}% calculated" in bytes(begun.body).decode()


FIRST_SCREEN = """
import sys
from pathlib import Path
from starlette.testclient import TestClient
from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop
app = make_app(Workshop(Path({folder!r})), Access())
browser = TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50000))
for address in ("/", "/kernels", "/static/page.css"):
    assert browser.get(address).status_code in (200, 202), address
early = {{"numba", "numpy", "scipy", "matplotlib"}} & set(sys.modules)
assert not early, early
assert browser.get("/job/good/match").status_code == 200
assert "numba" in sys.modules
"""


def test_the_first_screen_waits_for_no_physics(folder: Path) -> None:
    program = FIRST_SCREEN.format(folder=str(folder))
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-2000:]

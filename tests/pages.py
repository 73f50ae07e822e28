"""A page over a folder of the examples, asked without a browser."""

import shutil
import time
from pathlib import Path

from starlette.testclient import TestClient

from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop

EXAMPLES = Path(__file__).parents[1] / "examples"


def page_of(folder: Path, *examples: str) -> TestClient:
    """The page of a folder, as it is asked on the machine itself, with copies of examples in it."""
    for name in examples:
        shutil.copy(EXAMPLES / f"{name}.toml", folder)
    app = make_app(Workshop(folder), Access())
    return TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 40000))


def later(page: TestClient, address: str) -> str:
    """A part once it is calculated."""
    for _ in range(1200):
        found = page.get(address)
        if found.status_code != 202:
            assert found.status_code == 200, found.text
            return found.text
        time.sleep(0.1)
    raise AssertionError(f"{address} is not calculated in two minutes")

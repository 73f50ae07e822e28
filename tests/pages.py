"""A page over a folder of the examples, asked without a browser."""

import re
import shutil
import time
from pathlib import Path

from starlette.testclient import TestClient

from sweatline.log.logbook import open_log, write_line
from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop

EXAMPLES = Path(__file__).parents[1] / "examples"
PARTS = {"compressor": "drinks cooler", "refrigerant": "R-513A", "capillary": "1.4 on the reel"}


def page_of(folder: Path, *examples: str) -> TestClient:
    """The page of a folder, as it is asked on the machine itself, with copies of examples in it."""
    for name in examples:
        shutil.copy(EXAMPLES / f"{name}.toml", folder)
    app = make_app(Workshop(folder), Access())
    return TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 40000))


def spaced(text: str) -> str:
    """A text as it is read: of a no-break space nothing is seen."""
    return text.replace("\N{NO-BREAK SPACE}", " ")


def later(page: TestClient, address: str) -> str:
    """A part once it is calculated."""
    for _ in range(1200):
        found = page.get(address)
        if found.status_code != 202:
            assert found.status_code == 200, found.text
            return spaced(found.text)
        time.sleep(0.1)
    raise AssertionError(f"{address} is not calculated in two minutes")


def settled(page: TestClient, address: str, **query: str) -> str:
    """A page once its answer is there."""
    for _ in range(1800):
        found = page.get(address, params=query)
        if 'class="progress">Calculating' not in found.text and found.status_code == 200:
            return spaced(found.text)
        time.sleep(0.1)
    raise AssertionError("no answer in three minutes")


def plain(text: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", text).split())


def kept(folder: Path, *lines: tuple[float, str]) -> None:
    """A log of that machine; each line with how many minutes ago it happened."""
    now = time.time()
    with open_log(str(folder / "first.log"), new=True, machine="Seed store",
                  refrigerant="R-513A", atmosphere=94e3, system="SI") as book:  # fmt: skip
        book.set_about({"job": "seed-store", "length_m": "1.3", **PARTS})
        for ago, line in sorted(lines, reverse=True):
            write_line(book, line, at=now - 60.0 * ago)

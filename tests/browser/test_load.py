"""Ten instruments that send five readings a second each, while somebody looks: none is lost."""

from __future__ import annotations

from pathlib import Path

from tests.browser.conftest import Served
from tools.soak_page import CLIENTS, LOG, RATE, soak

from sweatline.log.logbook import open_log

SECONDS = 10.0


def test_no_reading_is_lost_under_load(folder: Path, served: Served) -> None:
    open_log(str(folder / f"{LOG}.log"), new=True, refrigerant="R-290", system="SI").close()
    found = soak(served.address, folder, SECONDS, ("/", f"/log/{LOG}"))
    assert found.sent == CLIENTS * RATE * SECONDS
    assert found.kept == found.sent
    assert all(found.answers.values())

"""The page in a real browser: Debian's Chromium, driven over its own protocol.

Where there is no browser the tests are left out with the line that says what to install; under CI
they fail instead.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    Page,
    Playwright,
    expect,
    sync_playwright,
)

from sweatline.log.logbook import open_log, write_line

_ABOUT = {
    "job": "seed-store", "compressor": "drinks cooler", "refrigerant": "R-513A",
    "capillary": "1.25 on the reel",
}  # fmt: skip
PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 800}
_QUIET = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",
)  # fmt: skip


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_for(found: Callable[[], Any], seconds: float = 60.0) -> Any:
    """The first true answer of `found`."""
    end = time.monotonic() + seconds
    while True:
        answer = found()
        if answer:
            return answer
        assert time.monotonic() < end, "it did not come in time"
        time.sleep(0.1)


# A server whose clock hurries: a machine that settles in ten minutes does so in seconds.
_HURRIED = """\
import time
really = time.time
time.time = lambda: {begun!r} + {hurry!r} * (really() - {begun!r})
from sweatline.cli.main import main
main()
"""


class Served:
    """A page being served, which can be killed and started again at the same address."""

    def __init__(self, folder: Path, *, hurry: float = 1.0) -> None:
        self.folder = folder
        self.hurry = hurry  # how many times as fast its clock goes
        self.begun = time.time()
        self.port = free_port()
        self.process: subprocess.Popen[bytes] | None = None
        self.start()

    @property
    def now(self) -> float:
        """The moment by its clock. [s since 1970]"""
        return self.begun + self.hurry * (time.time() - self.begun)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        program = ["-m", "sweatline"]
        if self.hurry != 1.0:
            program = ["-c", _HURRIED.format(begun=self.begun, hurry=self.hurry)]
        asked = ["page", str(self.folder), "--no-browser", "--port", str(self.port)]
        self.process = subprocess.Popen([sys.executable, *program, *asked])

        def answers() -> bool:
            with socket.socket() as probe:
                return probe.connect_ex(("127.0.0.1", self.port)) == 0

        wait_for(answers)

    def kill(self) -> None:
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def stop(self) -> None:
        assert self.process is not None
        self.process.terminate()
        try:
            self.process.wait(timeout=15)
        except subprocess.TimeoutExpired:
            self.kill()
            pytest.fail("the server did not end when it was asked to")


class Proxy:
    """A link between browser and server that can be cut: open connections die, new ones fail."""

    def __init__(self, target: int) -> None:
        self.target = target
        self.cut = False
        self.swallows = False  # what is asked arrives, its answer does not
        self._open: set[socket.socket] = set()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        threading.Thread(target=self._accept, daemon=True).start()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def break_link(self) -> None:
        self.cut = True
        for one in list(self._open):
            _shut(one)

    def mend_link(self) -> None:
        self.cut = False

    def close(self) -> None:
        self.break_link()
        _shut(self._listener)

    def _accept(self) -> None:
        while True:
            try:
                inner, _ = self._listener.accept()
            except OSError:
                return
            if self.cut:
                _shut(inner)
                continue
            try:
                outer = socket.create_connection(("127.0.0.1", self.target))
            except OSError:
                _shut(inner)
                continue
            self._open |= {inner, outer}
            for a, b, answers in ((inner, outer, False), (outer, inner, True)):
                threading.Thread(target=self._pass_on, args=(a, b, answers), daemon=True).start()

    def _pass_on(self, source: socket.socket, target: socket.socket, answers: bool) -> None:
        try:
            while data := source.recv(65536):
                if answers and self.swallows:
                    break
                target.sendall(data)
        except OSError:
            pass
        for one in (source, target):
            _shut(one)
            self._open.discard(one)


def _shut(one: socket.socket) -> None:
    with contextlib.suppress(OSError):
        one.shutdown(socket.SHUT_RDWR)
    one.close()


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    expect.set_options(timeout=60_000)
    with sync_playwright() as found:
        yield found


@pytest.fixture(scope="session")
def browser(playwright: Playwright) -> Iterator[Browser]:
    names = ("chromium", "chromium-browser", "google-chrome")
    program = next((p for n in names if (p := shutil.which(n))), None)
    if program is None:
        told = "no browser: apt-get install chromium"
        pytest.fail(told) if os.environ.get("CI") else pytest.skip(told)
    found = playwright.chromium.launch(executable_path=program, args=list(_QUIET))
    yield found
    found.close()


def _examples(place: Path) -> Path:
    for job in Path("examples").glob("*.toml"):
        shutil.copy(job, place)
    return place


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the three examples."""
    return _examples(tmp_path)


@pytest.fixture
def log(folder: Path) -> Path:
    """A log of the seed store's machine, with one entry."""
    path = folder / "bench.log"
    with open_log(str(path), new=True, refrigerant="R-513A", system="SI") as book:
        book.set_about(_ABOUT)
        write_line(book, "added 130 g")
    return path


@pytest.fixture
def served(folder: Path) -> Iterator[Served]:
    found = Served(folder)
    yield found
    found.stop()


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One server for the tests of a module that write nothing."""
    found = Served(_examples(tmp_path_factory.mktemp("standing")))
    yield found
    found.stop()


def all_there(page: Page) -> None:
    """Wait until no part of the page is still to come."""
    wait_for(lambda: not page.evaluate(_TO_COME), 300.0)


_TO_COME = """(() => {
  const waits = [...document.querySelectorAll("[data-later], main .progress")];
  return waits.some((one) => !one.closest("details:not([open])"));
})()"""


Look = tuple[dict[str, int], Literal["light", "dark"]]
BY_DAY: Look = (PHONE, "light")
BY_NIGHT: Look = (DESK, "dark")


def seen(page: Page, look: Look) -> None:
    """From now on the page is looked at so; nothing of it runs off to the side."""
    size, scheme = look
    page.set_viewport_size(size)  # type: ignore[arg-type]
    page.emulate_media(color_scheme=scheme)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), page.url


@pytest.fixture
def picture() -> Callable[[Page, str], None]:
    """Keeps a picture of a page for the documentation, in the folder that `make pictures` names."""
    place = os.environ.get("SWEATLINE_PICTURES")

    def keep(page: Page, name: str) -> None:
        if not place:
            return
        size = page.viewport_size
        dark = page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches")
        page.emulate_media(color_scheme="light")
        for kind, wanted in (("phone", PHONE), ("desk", DESK)):
            page.set_viewport_size(wanted)  # type: ignore[arg-type]
            page.evaluate("document.activeElement?.blur(); scrollTo(0, 0)")
            page.wait_for_timeout(300)
            page.screenshot(path=f"{place}/page-{name}-{kind}.png")
        page.emulate_media(color_scheme="dark" if dark else "light")
        if size is not None:
            page.set_viewport_size(size)

    return keep


@pytest.fixture
def visit(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Opens a page; what it logs as an error, and any request to outside, fails the test."""
    contexts: list[BrowserContext] = []
    wrong: list[str] = []

    def opened(size: dict[str, int] = PHONE, *, forgive: bool = False, **more: Any) -> Page:
        context = browser.new_context(viewport=size, **more)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(60_000)

        def asked(request: Any) -> None:
            if not request.url.startswith(("http://127.0.0.1:", "data:")):
                wrong.append(f"asked outside: {request.url}")

        page.on("request", asked)
        page.on("pageerror", lambda error: wrong.append(f"script: {error}"))
        if not forgive:
            page.on(
                "console",
                lambda told: wrong.append(told.text) if told.type == "error" else None,
            )
        return page

    yield opened
    for context in contexts:
        context.close()
    assert not wrong, wrong

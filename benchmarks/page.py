"""What the page takes: a long log against an empty one, the first paint, and a slider's answer.

The first rows are the server's alone. The others are measured in Debian's Chromium, which is left
out where there is none: at a phone's size and at a desk's, with its processor slowed four times as
a phone's is. The server runs on the same computer and is not slowed, so that what is slowed is the
page's own share; both take turns on the same processors.
"""

from __future__ import annotations

import contextlib
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright
from starlette.testclient import TestClient

from sweatline.log.entries import Entry
from sweatline.log.logbook import open_log
from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop
from timing import ROOT, Row, Timing, duration, in_turn, measure, ratio, show

TITLE = "The page"
JOB = ROOT / "examples" / "seed-store.toml"
ABOUT = {
    "job": "seed-store", "compressor": "drinks cooler", "refrigerant": "R-513A",
    "capillary": "1.25 on the reel",
}  # fmt: skip
ROWS, BEGUN = 30_000, 3_000
EVERY = 0.2  # s between readings
LOOKED_AT = 2.1  # s after which a charge page is drawn anew
REPEATS = 9
SLOWER = 4
SIZES = {"phone": (390, 844), "desk": (1280, 800)}
PAINT, LOG, SLIDER = 1e3, 200.0, 100.0  # ms
# What an instrument sends: channel, quantity, unit, a value in SI.
SENT = (
    ("suction gauge", "pressure", "bar(g)", 3.4e5), ("head gauge", "pressure", "bar(g)", 7.6e5),
    ("suction gas", "temperature", "°C", 281.0), ("liquid line", "temperature", "°C", 296.0),
    ("watts", "power", "W", 240.0),
)  # fmt: skip


def fill(path: Path, count: int) -> None:
    """A log of one addition, a start and so many readings up to now."""
    end = time.time()
    begun = end - count * EVERY

    def entry(at: float, **more: Any) -> Entry:
        return Entry(happened_at=at, written_at=at, **more)

    rows = [
        entry(begun - 60.0, kind="addition", text="130 g", quantity="mass", value=0.13,
              refrigerant="R-513A"),
        entry(begun - 50.0, kind="event", channel="started", text=""),
    ]  # fmt: skip
    for n in range(count):
        channel, quantity, unit, value = SENT[n % len(SENT)]
        rows.append(
            entry(begun + n * EVERY, kind="reading", text="sent", channel=channel, unit=unit,
                  quantity=quantity, value=value * (1.0 + 1e-4 * (n % 7)))
        )  # fmt: skip
    with open_log(str(path), new=True, refrigerant="R-513A", system="SI") as log:
        log.set_about(ABOUT)
        log.append_all(rows)


def asked(client: TestClient, address: str) -> str:
    """A page, which must be there."""
    answer = client.get(address)
    if answer.status_code >= 300:
        raise RuntimeError(f"{address} answered {answer.status_code}")
    return answer.text


def server_rows(folder: Path) -> list[Row]:
    """Pages of a long log and of an empty one, in this process."""
    fill(folder / "long.log", ROWS)
    fill(folder / "begun.log", BEGUN)
    fill(folder / "empty.log", 0)
    app = make_app(Workshop(folder), Access(rate=1e6, burst=1e6))
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 1)) as client:
        asked(client, "/log/empty")
        first = measure(lambda: asked(client, "/log/long"), 1, warm_up=False)
        charge = "/job/seed-store/charge"
        for log in ("begun", "long"):  # until advice is given
            while "Preparing the advice" in asked(client, f"{charge}/{log}"):
                time.sleep(0.5)
        found = in_turn(
            {log: lambda log=log: asked(client, f"/log/{log}") for log in ("long", "empty")},
            REPEATS,
        )
        drawn: dict[str, list[Timing]] = {"long": [], "begun": []}
        for _ in range(REPEATS):
            time.sleep(LOOKED_AT)
            for log, kept in drawn.items():
                kept.append(
                    measure(lambda log=log: asked(client, f"{charge}/{log}"), 1, warm_up=False)
                )
    long, begun = (joined(drawn[log]) for log in ("long", "begun"))
    size = f"{ROWS} entries"
    return [
        duration("page of a long log, looked at first", first, "ms", note=f"{size} read once"),
        duration("page of a long log", found["long"], "ms", aim=LOG, note=size),
        ratio("page of a long log against an empty one", found["long"], found["empty"]),
        duration("charging by a long log", long, "ms", aim=LOG, note=f"{size}; advice anew"),
        ratio("charging by a long log against one of ten minutes", long, begun),
    ]


def joined(timings: list[Timing]) -> Timing:
    """Several measurements of one task as one."""
    return Timing(
        wall=tuple(t for one in timings for t in one.wall),
        cpu=tuple(t for one in timings for t in one.cpu),
    )


@contextlib.contextmanager
def served(folder: Path) -> Iterator[str]:
    """The page of a folder in a process of its own; its address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    told = [sys.executable, "-m", "sweatline", "page", str(folder), "--no-browser"]
    process = subprocess.Popen([*told, "--port", str(port)], cwd=ROOT)
    try:
        for _ in range(600):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait(timeout=30)


def slowed(browser: Browser, size: str) -> Page:
    """A page in a browser that has kept nothing, with its processor slowed."""
    width, height = SIZES[size]
    page = browser.new_context(viewport={"width": width, "height": height}).new_page()
    page.context.new_cdp_session(page).send(
        "Emulation.setCPUThrottlingRate", {"rate": SLOWER}
    )  # fmt: skip
    return page


_PAINTED = """new Promise((done) => {
  const seen = () => performance.getEntriesByName("first-contentful-paint")[0];
  const look = () => seen() ? done(seen().startTime) : setTimeout(look, 20);
  look();
})"""
# Moves a slider to and fro, each time after the last answer is painted. ms of each.
_MOVED = """async ([id, count]) => {
  const slider = document.getElementById(id), told = document.getElementById(`moved-${id}`);
  const taken = [];
  const rested = () => new Promise((done) => setTimeout(done, 50));
  for (let n = 0; n < count; n++) {
    const begun = performance.now();
    slider.value = Number(slider.value) + (n % 2 ? -1 : 1) * 4 * Number(slider.step);
    slider.dispatchEvent(new Event("input", { bubbles: true }));
    await new Promise((done) => {
      const seen = new MutationObserver(() => { seen.disconnect(); done(); });
      seen.observe(told, { childList: true, characterData: true, subtree: true });
    });
    await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
    taken.push(performance.now() - begun);
    await rested();
  }
  return taken;
}"""


def browser_rows(browser: Browser, address: str) -> list[Row]:
    """First paint of pages that matter, and sliders of the combination."""
    combination = "/job/seed-store/combination"
    found = []
    for size in SIZES:
        for name, path in (("first screen", "/"), ("combination", combination)):
            taken = []
            for _ in range(REPEATS):
                page = slowed(browser, size)
                page.goto(address + path)
                taken.append(page.evaluate(_PAINTED))
                page.context.close()
            found.append(row(f"first paint, {name}, {size}", taken, PAINT))
        page = slowed(browser, size)
        page.goto(address + combination)
        page.wait_for_selector("#movers", timeout=300_000)
        page.wait_for_selector("#numbers .numbers", timeout=300_000)  # the trial runs are done
        for slider, word in (("room_temperature_K", "room"), ("charge_kg", "charge")):
            taken = page.evaluate(_MOVED, [slider, 3 + 2 * REPEATS])[3:]
            found.append(row(f"slider of the {word}, {size}", taken, SLIDER))
        page.context.close()
    return found


def row(figure: str, taken: list[float], aim: float) -> Row:
    """Times of a browser, by its own clock. [ms]"""
    return Row(
        figure=figure, unit="ms", median=statistics.median(taken), best=min(taken),
        repeats=len(taken), aim=aim, note=f"processor {SLOWER} times slower",
    )  # fmt: skip


def rows() -> list[Row]:
    """All figures of this benchmark."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copy(JOB, folder)
        found = server_rows(folder)
    names = ("chromium", "chromium-browser", "google-chrome")
    program = next((p for n in names if (p := shutil.which(n))), None)
    if program is None:
        print("No browser: apt-get install chromium for what it paints")
        return found
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        shutil.copy(JOB, name)
        arguments = ["--no-sandbox", "--disable-gpu"]
        browser = playwright.chromium.launch(executable_path=program, args=arguments)
        with served(Path(name)) as address:
            found += browser_rows(browser, address)
        browser.close()
    return found


if __name__ == "__main__":
    show(TITLE, rows())

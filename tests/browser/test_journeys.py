"""The whole work in the browser: from an empty folder to the sheet, and a practice session.

Both go back and forth between a phone in the light and a screen in the dark, as a person does; what
the one does on the phone the other does at the screen.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

import pytest
from playwright.sync_api import Locator, Page, expect
from tests.browser.conftest import BY_DAY, BY_NIGHT, Served, all_there, seen, wait_for
from tests.interview import ANSWERS

from sweatline.job.reading import read_job
from sweatline.training.session import TrainingSession, session_on, weight
from sweatline.training.simulated_machine import simulate
from sweatline.units import quantity

Picture = Callable[[Page, str], None]

HURRY: Final = 60.0  # times as fast goes the clock of the bench
LONGEST: Final = 600.0  # s that any calculation or charging is waited for
PLATES: Final = 8  # questions that are put one at a time; the rest is answered on forms
# One compressor, one refrigerant, one tube: what is in the interview of two.
TOLD: Final = {
    key.replace("compressor[2]", "compressor[1]"): said
    for key, said in ANSWERS.items()
    if not key.startswith("compressor[1]")
} | {"refrigerants": "R-134a"}


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Served]:
    """An empty folder, and a clock that hurries."""
    found = Served(tmp_path, hurry=HURRY)
    yield found
    found.stop()


def test_from_an_empty_folder_to_the_sheet(
    bench: Served, visit: Callable[..., Page], picture: Picture
) -> None:
    page = visit()
    page.goto(bench.address)
    _follow(page, page.get_by_text("Describe my machine"))
    page.get_by_label("What do you call this job?").fill("Cellar dehumidifier")
    page.get_by_label("US: inches").check()
    page.get_by_role("button", name="Begin").click()
    asked = _one_at_a_time(page, picture)
    assert asked.index("original.refrigerant") < asked.index("compressor[1].name")
    seen(page, BY_NIGHT)
    _as_forms(page)

    _follow(page, page.get_by_role("link", name="Will these parts work together?"))
    _all_there(page)
    expect(page.locator(".headline").first).to_contain_text("Best: drinks cooler + R-134a")
    picture(page, "match")
    _follow(page, page.get_by_role("link", name="Look at the best closely"))
    _all_there(page)
    expect(page.locator(".headline").first).to_contain_text("Should work")
    picture(page, "combination")

    seen(page, BY_DAY)
    _stage(page, "paper")
    card = page.get_by_role("link", name="The card for the wall")
    _pdf(page, card.get_attribute("href"))

    _stage(page, "charge")
    _all_there(page)
    page.get_by_label("Name of the new log").fill("cellar")
    _follow(page, page.get_by_role("button", name="Charge it"))
    _follow(page, page.get_by_role("link", name="log", exact=True).last)
    _test_and_dry(page, datetime.fromtimestamp(bench.now))
    page.goto(f"{bench.address}/job/cellar-dehumidifier/charge/cellar")
    _charge(page, bench, picture)

    seen(page, BY_NIGHT)
    _stage(page, "paper")
    _all_there(page)
    expect(page.locator(".headline")).to_have_text("Not ready")
    while (reader := page.get_by_label("Read by")).count():
        held = reader.count()
        reader.first.fill("the bench")
        _follow(page, page.get_by_role("button", name="I have read it").first)
        _all_there(page)
        assert page.get_by_label("Read by").count() < held
    expect(page.locator(".headline")).to_have_text("Ready")
    picture(page, "paper")
    _pdf(page, page.get_by_role("link", name="The sheet").get_attribute("href"))
    page.goto(bench.address)
    _all_there(page)
    picture(page, "front")


def _stage(page: Page, word: str) -> None:
    _follow(page, page.get_by_role("navigation").first.get_by_role("link", name=word, exact=True))


def _follow(page: Page, place: Locator) -> None:
    """Click what leads to another page, and wait for its scripts: the old one looks ready too."""
    with page.expect_navigation(wait_until="load"):
        place.click()


def _all_there(page: Page) -> None:
    page.wait_for_load_state("load")
    all_there(page)


def _pdf(page: Page, address: str | None) -> None:
    """A paper comes as PDF of more than a few lines."""
    assert address is not None
    answer = page.request.get(page.url.split("/job/")[0] + address, timeout=LONGEST * 1e3)
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.body().startswith(b"%PDF")
    assert len(answer.body()) > 10_000


def _one_at_a_time(page: Page, picture: Picture) -> list[str]:
    """Answer the first questions; their names."""
    hidden = page.locator("input[name=one]")
    names: list[str] = []
    while len(names) < PLATES or not names[-1].startswith("compressor"):
        name = wait_for(lambda: hidden.get_attribute("value"))
        wait_for(lambda name=name: not names or name != names[-1] or None)
        names.append(name)
        if name in TOLD:
            _answer(page, name)
            if name == "original.water_removal":
                expect(page.locator(".understood")).to_contain_text("=")
                picture(page, "survey")
            page.get_by_role("button", name="Next").click()
        else:
            page.get_by_role("button", name="Don't know").click()
        expect(hidden).not_to_have_value(name)
    return names


def _answer(page: Page, name: str) -> None:
    field = page.locator(f"[id='a:{name}']")
    if field.evaluate("e => e.tagName") == "SELECT":
        field.select_option(TOLD[name])
    else:
        field.fill(TOLD[name])


def _as_forms(page: Page) -> None:
    """Answer the rest part by part."""
    _follow(page, page.get_by_role("link", name="Everything so far"))
    parts = page.locator("ul.plain a")
    addresses = [a.get_attribute("href") for a in parts.all()]
    base = page.url.split("/job/")[0]
    for address in addresses:
        page.goto(f"{base}{address}")
        names = [f.get_attribute("id") for f in page.locator("[id^='a:']").all()]
        mine = [n[2:] for n in names if n and n[2:] in TOLD]
        if not mine:
            continue
        for name in mine:
            closed = page.locator(f"details:not([open]):has([id='a:{name}']) > summary")
            if closed.count():
                closed.click()
            _answer(page, name)
        page.get_by_role("button", name="Save").click()
        expect(page.get_by_text("Saved.")).to_be_visible()
    _follow(page, page.get_by_role("link", name="To the other parts"))
    expect(page.locator(".headline").first).to_have_text("That is enough for an answer.")


def _line(page: Page, line: str) -> None:
    page.get_by_label("Write a line").fill(line)
    page.get_by_role("button", name="Write down").click()
    expect(page.locator("#said")).to_contain_text("Kept as")
    expect(page.get_by_label("Write a line")).to_have_value("")


def _test_and_dry(page: Page, now: datetime) -> None:
    """Write down the pressure test and the rise test of the day before."""

    def at(hours: float, line: str) -> None:
        _line(page, f"{now - timedelta(hours=hours):%Y-%m-%d %H:%M} {line}")

    at(40.0, "pressurised nitrogen")
    for hours in (39.5, 39.0, 27.0, 16.0, 15.5):
        at(hours, "suction 130.0 psig; circuit 62.0 °F")
    at(14.0, "evacuating")
    at(5.0, "vacuum gauge 180 micron")
    at(4.9, "isolated")
    for n in range(7):
        at(4.85 - 0.25 * n, f"vacuum gauge {210 + 2 * n} micron")


def _charge(page: Page, bench: Served, picture: Picture) -> None:
    """Charge a simulated machine as the page says, to its stop."""
    job = read_job(bench.folder / "cellar-dehumidifier.toml")
    machine = simulate(job, compressor=0, refrigerant="R-134a", capillary=0, seed=3)
    begun = bench.now
    session = session_on(machine, 3)
    session.open()
    _write(page, "+ added", {"Let in, oz": weight(machine.weighed, "US").split()[0]})
    _write(page, "note", {"A line: note, started": "started"})
    end = time.monotonic() + LONGEST
    doses = 0
    while not page.locator("#step .halt").count():
        assert time.monotonic() < end, page.locator("#step").inner_text()
        session.wait(max(bench.now - begun - session.time, 1.0))
        advised = page.locator("#step input[value^='added ']")
        if advised.count():
            dose = (advised.get_attribute("value") or "").removeprefix("added ")
            if not doses:
                picture(page, "charge")
            done = session.add(quantity(dose, "mass", "dose", low=0.0, high=1.0), "vapour")
            _write(page, "+ added", {"Let in, oz": weight(done.weighed, "US").split()[0]})
            doses += 1
        else:
            _write_readings(page, session)
    assert doses >= 2
    assert abs(machine.run.charge / machine.best - 1.0) < 0.15


_FIELDS: Final = {
    "suction gauge": "suction, psig", "head gauge": "head, psig", "suction gas": "suction gas, °F",
    "liquid line": "liquid line, °F", "discharge gas": "discharge gas, °F", "watts": "watts, W",
}  # fmt: skip


def _write_readings(page: Page, session: TrainingSession) -> None:
    read = {r.channel: r.text.split()[0] for r in session.read().written}
    _write(page, "reading", {_FIELDS[c]: text for c, text in read.items() if c in _FIELDS})


def _write(page: Page, tab: str, typed: dict[str, str]) -> None:
    """Type into a form at the thumb, send it, and wait until the page stands as the log does."""
    button = page.get_by_role("button", name=tab, exact=True)
    if button.get_attribute("aria-expanded") != "true":
        button.click()
    for label, text in typed.items():
        page.locator(".thumb form:not([hidden])").get_by_label(label).fill(text)
    page.locator("#said").evaluate("e => e.replaceChildren()")
    page.locator(".thumb form:not([hidden]) button").click()
    kept = page.locator("#said p", has_text="Kept as").last
    expect(kept).to_be_visible()
    expect(button).to_have_attribute("aria-expanded", "false")
    number = re.findall(r"Kept as (?:\d+ to )?(\d+)", kept.inner_text())[-1]
    latest = page.locator("#latest td:first-child")
    wait_for(lambda: number in latest.all_text_contents())


def test_a_practice_session(served: Served, visit: Callable[..., Page], picture: Picture) -> None:
    page = visit()
    seen(page, BY_NIGHT)
    page.goto(served.address)
    all_there(page)  # the kernels are compiled
    page.get_by_text("Practise on a simulated one").click()
    page.get_by_label("30 times as fast").check()
    begun = time.monotonic()
    page.get_by_role("button", name="Switch it on").click()
    expect(page.locator("#gauges .arm").first).to_contain_text(re.compile(r"\d"))
    assert time.monotonic() - begun < 10.0
    end = time.monotonic() + LONGEST
    doses = 0
    while not page.locator("#step .halt").count():
        assert time.monotonic() < end, page.locator("#step").inner_text()
        let_in = page.locator("#step form:has([name=what][value=add]) button")
        if let_in.count():
            if not doses:
                picture(page, "practise")
            let_in.click()
            expect(let_in).to_have_count(0)
            doses += 1
        page.wait_for_timeout(500)
    assert doses
    page.get_by_role("button", name="end", exact=True).click()
    _follow(page, page.get_by_role("button", name="End, and hear how it went"))
    all_there(page)
    seen(page, BY_DAY)
    expect(page.get_by_role("heading", name="How it went")).to_be_visible()
    expect(page.locator(".headline")).to_contain_text("You ended with")
    expect(page.locator("figure svg").first).to_be_visible()
    picture(page, "debrief")

"""A link that is cut, a server that dies, two phones: nothing is lost, nothing is logged twice."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import Proxy, Served, wait_for

from sweatline.log.entries import Entry
from sweatline.log.logbook import open_log, write_line

CUT = 20.0  # s without a link
BASE = "/job/seed-store/charge/bench"
SUCTION = "suction, bar(g)"


@pytest.fixture
def proxy(log: Path, served: Served) -> Iterator[Proxy]:
    """A link to the page of that log."""
    found = Proxy(served.port)
    yield found
    found.close()


def _rows(log: Path, channel: str = "") -> Sequence[Entry]:
    with open_log(str(log)) as book:
        return [e for e in book.entries() if not channel or e.channel == channel]


def _another_writes(log: Path, line: str) -> None:
    with open_log(str(log)) as book:
        write_line(book, line)


def _open(page: Page, address: str) -> None:
    page.goto(address)
    page.get_by_role("button", name="reading", exact=True).click()


def test_a_cut_link_loses_nothing_and_logs_nothing_twice(
    log: Path, proxy: Proxy, visit: Callable[..., Page]
) -> None:
    page = visit(forgive=True)
    _open(page, proxy.address + BASE)
    _another_writes(log, "head 6.1 bar(g)")
    expect(page.locator("#gauges")).to_contain_text("6.1")

    # the reading arrives, the word that it did is lost, then the link is
    page.get_by_label(SUCTION).fill("1.42")
    proxy.swallows = True
    page.get_by_role("button", name="Write readings down").click()
    wait_for(lambda: _rows(log, "suction gauge"))
    proxy.break_link()
    begun = time.monotonic()
    page.get_by_role("button", name="+ added").click()
    page.get_by_label("Let in, g").press_sequentially("1")
    _another_writes(log, "head 6.4 bar(g)")
    _another_writes(log, "watts 281 W")

    bench = page.locator("[data-bench]")
    expect(bench).to_have_class("bench old")
    expect(page.locator("#link")).to_contain_text("these values are old")
    wait_for(lambda: "No link for 1" in page.locator("#link").inner_text())
    assert "6.1" in page.locator("#gauges").inner_text()
    page.get_by_label("Let in, g").press_sequentially("2")
    time.sleep(max(CUT - (time.monotonic() - begun), 0.0))

    proxy.swallows = False
    proxy.mend_link()
    expect(page.locator("#said")).to_contain_text("suction gauge 1.42")
    expect(bench).to_have_class("bench")
    expect(page.locator("#link")).to_have_text("")
    expect(page.locator("#gauges")).to_contain_text("6.4")
    for missed in ("head gauge 6.4 bar(g)", "watts 281 W", "suction gauge 1.42 bar(g)"):
        expect(page.locator("#latest")).to_contain_text(missed)
    assert page.get_by_label("Let in, g").input_value() == "12"
    page.get_by_role("button", name="Added", exact=True).click()
    expect(page.locator("#latest")).to_contain_text("added 12 g")
    assert [e.text for e in _rows(log, "suction gauge")] == ["1.42 bar(g)"]
    assert [e.text for e in _rows(log) if e.kind == "addition"] == ["130 g", "12 g"]


def test_a_server_that_dies_takes_nothing_typed_with_it(
    log: Path, served: Served, visit: Callable[..., Page]
) -> None:
    page = visit(forgive=True)
    _open(page, served.address + BASE)
    field = page.get_by_label(SUCTION)
    field.press_sequentially("1.")
    served.kill()
    field.press_sequentially("57")
    page.get_by_role("button", name="Write readings down").click()
    expect(page.locator("#said")).to_contain_text("what you typed is kept")
    served.start()
    expect(page.locator("#said")).to_contain_text("suction gauge 1.57")
    page.get_by_role("button", name="reading", exact=True).click()
    page.get_by_label("head, bar(g)").press_sequentially("6.0")
    page.reload()
    page.get_by_role("button", name="reading", exact=True).click()
    assert page.get_by_label(SUCTION).input_value() == ""
    assert page.get_by_label("head, bar(g)").input_value() == "6.0"
    assert [e.text for e in _rows(log, "suction gauge")] == ["1.57 bar(g)"]
    assert not _rows(log, "head gauge")


def test_two_phones_on_one_log_agree(log: Path, served: Served, visit: Callable[..., Page]) -> None:
    one, other = visit(), visit()
    for page in (one, other):
        _open(page, served.address + BASE)
    one.get_by_label(SUCTION).fill("1.42")
    one.get_by_label("watts, W").fill("281")
    one.get_by_role("button", name="Write readings down").click()
    for page in (one, other):
        expect(page.locator("#gauges")).to_contain_text("1.42")
        expect(page.locator("#latest")).to_contain_text("watts 281 W")
    other.get_by_text("Written last").click()
    other.get_by_role("row", name="watts 281 W").get_by_role("button", name="Undo").click()
    for page in (one, other):
        expect(page.locator("#latest")).not_to_contain_text("watts 281 W")
        expect(page.locator("#gauges")).to_contain_text("1.42")
    assert len(_rows(log, "suction gauge")) == 1

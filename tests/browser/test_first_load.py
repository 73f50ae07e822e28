"""The first screen: light, readable by everybody, and silent towards the network."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from tests.browser.conftest import DESK, PHONE, Served, all_there, wait_for

ADDRESSES = [
    "/", "/instruments", "/new", "/practise",
    *(f"/job/seed-store/{stage}" for stage in (
        "survey", "match", "combination", "tube", "tight", "dry", "gear", "charge", "prove",
        "diagnose", "rooms", "log", "paper")),
]  # fmt: skip


def test_the_first_load_is_light(served: Served, visit: Callable[..., Page]) -> None:
    page = visit()
    client = page.context.new_cdp_session(page)
    client.send("Network.enable")
    taken: list[float] = []
    client.on("Network.loadingFinished", lambda e: taken.append(e["encodedDataLength"]))
    page.goto(served.address)
    page.wait_for_load_state("load")
    assert sum(taken) < 80_000


@pytest.mark.parametrize("address", ADDRESSES)
def test_every_page_can_be_used_by_everybody(
    standing: Served, visit: Callable[..., Page], address: str
) -> None:
    page = visit({"width": 360, "height": 740})
    answer = page.goto(standing.address + address)
    assert answer is not None
    assert answer.ok
    all_there(page)
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        _can_be_used(page)
    # Colours do not change with the width: one scheme is enough here.
    page.set_viewport_size(DESK)  # type: ignore[arg-type]
    _can_be_used(page)


def _can_be_used(page: Page) -> None:
    """Nothing runs off to the side, and axe finds nothing."""
    wide: dict[str, Any] = page.evaluate(
        "({inner: innerWidth, wide: document.documentElement.scrollWidth})"
    )
    assert wide["wide"] <= wide["inner"]
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_the_keyboard_alone_reaches_the_answer(served: Served, visit: Callable[..., Page]) -> None:
    page = visit(DESK)
    page.goto(f"{served.address}/job/seed-store/match")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the answer"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('main, footer, body').tagName") != "HEADER"


def test_without_scripts_the_answer_can_be_read(served: Served, visit: Callable[..., Page]) -> None:
    page = visit(PHONE, java_script_enabled=False)
    page.goto(f"{served.address}/job/seed-store/match")
    page.locator("noscript a").click()
    wait_for(lambda: page.reload() and page.locator(".headline").count(), 300.0)
    assert "Best: " in page.locator(".headline").first.inner_text()


def test_the_keyboard_alone_writes_down_a_charge(
    log: Path, served: Served, visit: Callable[..., Page]
) -> None:
    page = visit(DESK)
    page.goto(f"{served.address}/job/seed-store/charge/bench")
    expect(page.get_by_role("button", name="+ added")).to_be_visible()

    _tab_to(page, "+ added")
    page.keyboard.press("Enter")
    page.keyboard.type("12")
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("addition 12 g")
    expect(page.locator("#latest")).to_contain_text("added 12 g")


def test_the_keyboard_alone_practises(served: Served, visit: Callable[..., Page]) -> None:
    page = visit(DESK)
    page.goto(f"{served.address}/practise")
    _tab_to(page, "Switch it on")
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="let in", exact=True)).to_be_visible()
    _tab_to(page, "let in")
    page.keyboard.press("Enter")
    page.keyboard.type("10")
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("The hose is open.")


def test_the_keyboard_alone_moves_the_machine(standing: Served, visit: Callable[..., Page]) -> None:
    page = visit(DESK)
    page.goto(f"{standing.address}/job/seed-store/combination")
    expect(page.locator("#movers")).to_be_visible()
    told = page.locator("#moved-charge_kg")
    before = told.inner_text()
    _tab_to(page, "charge_kg")
    page.keyboard.press("ArrowRight")
    expect(told).not_to_have_text(before)


def _tab_to(page: Page, name: str) -> None:
    """By Tab to what has these words or this id; where the person is can be seen."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if name in page.evaluate(
            "[document.activeElement.textContent.trim(), document.activeElement.id]"
        ):
            ring = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
            assert ring != "none"
            return
    raise AssertionError(f"Tab never comes to {name}")


def test_what_is_printed_can_be_read(standing: Served, visit: Callable[..., Page]) -> None:
    page = visit(DESK)
    page.goto(f"{standing.address}/job/seed-store/match")
    all_there(page)
    page.emulate_media(media="print")
    assert not page.get_by_role("navigation").first.is_visible()
    assert page.locator(".headline").first.is_visible()
    ink, paper = page.evaluate(
        "[getComputedStyle(document.body).color, getComputedStyle(document.body).backgroundColor]"
    )
    assert ink != paper
    assert page.pdf(format="A4").startswith(b"%PDF")

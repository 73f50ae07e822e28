"""Instruments at a page that runs: by request, through a real broker, by a table that grows.

The broker is Debian's mosquitto; under CI the tests fail without it, elsewhere they are left out.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from sweatline.log.feed import Sent
from sweatline.log.logbook import open_log
from sweatline.web.publish import IntoTable, publisher

LOG = "pump-house"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_for(found: Callable[[], bool], seconds: float = 30.0) -> None:
    end = time.monotonic() + seconds
    while not found():
        assert time.monotonic() < end, "it did not come in time"
        time.sleep(0.1)


def answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    open_log(str(tmp_path / f"{LOG}.log"), new=True, refrigerant="R-290", system="SI").close()
    return tmp_path


def rows(folder: Path) -> list[str]:
    with open_log(str(folder / f"{LOG}.log")) as log:
        return [e.text for e in log.entries()]


@pytest.fixture
def broker() -> Iterator[int]:
    program = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin")
    if program is None:
        if os.environ.get("CI"):
            pytest.fail("the broker is missing: apt-get install mosquitto")
        pytest.skip("the broker is missing: apt-get install mosquitto")
    port = free_port()
    with subprocess.Popen([program, "-p", str(port)], stderr=subprocess.DEVNULL) as process:
        wait_for(lambda: answers(port))
        yield port
        process.terminate()


def page(folder: Path, port: int, *more: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "sweatline", "page", str(folder), "--no-browser"]
    process = subprocess.Popen([*command, "--port", str(port), *more])
    wait_for(lambda: answers(port))
    return process


def stop(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    assert process.wait(timeout=15) is not None


def watts(value: float, at: float | None = None) -> list[Sent]:
    return [Sent(sensor="watts", value=value, unit="W", at=at)]


def test_by_request(folder: Path) -> None:
    port = free_port()
    process = page(folder, port)
    try:
        publisher(f"http://127.0.0.1:{port}/", LOG).send(watts(201))
    finally:
        stop(process)
    assert rows(folder) == ["201 W"]


def test_through_a_broker_that_keeps_what_is_sent_while_the_page_is_away(
    folder: Path, broker: int
) -> None:
    address = f"mqtt://127.0.0.1:{broker}"
    sender = publisher(address, LOG)
    port = free_port()
    process = page(folder, port, "--broker", address)
    try:

        def heard() -> bool:
            sender.send(watts(202))
            return rows(folder) != []

        wait_for(heard)
    finally:
        stop(process)
    before = len(rows(folder))
    sender.send(watts(203))
    process = page(folder, port, "--broker", address)
    try:
        wait_for(lambda: "203 W" in rows(folder))
    finally:
        stop(process)
    assert rows(folder)[before:].count("203 W") == 1


def test_by_a_table_that_grows(folder: Path) -> None:
    port = free_port()
    process = page(folder, port)
    begun = time.time() - 60.0
    try:
        with IntoTable(folder / f"{LOG}.readings.csv") as table:
            table.send(watts(204, begun))
            wait_for(lambda: rows(folder) == ["204 W"])
            table.send(watts(205, begun + 10.0))
            wait_for(lambda: rows(folder) == ["204 W", "205 W"])
    finally:
        stop(process)
    process = page(folder, port)  # the whole table is read again, and nothing written twice
    time.sleep(3.0)
    stop(process)
    assert rows(folder) == ["204 W", "205 W"]

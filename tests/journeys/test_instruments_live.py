"""Instruments at a page that runs: by request, through a real broker, by a table that grows.

The broker is Debian's mosquitto; under CI the tests fail without it, elsewhere they are left out.
"""

from __future__ import annotations

import os
import runpy
import shutil
import socket
import subprocess
import sys
import time
import types
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from paho.mqtt import publish

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


def told(port: int) -> str:
    """What the page says of its instruments."""
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/instruments", timeout=60) as answer:
        text: str = answer.read().decode()
    return text


def stop(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    assert process.wait(timeout=15) is not None


def watts(value: float, at: float | None = None) -> list[Sent]:
    return [Sent(sensor="watts", value=value, unit="W", at=at)]


def test_by_request(folder: Path) -> None:
    port = free_port()
    process = page(folder, port)
    try:
        publisher(f"http://127.0.0.1:{port}/{LOG}").send(watts(201))
    finally:
        stop(process)
    assert rows(folder) == ["201 W"]


def test_through_a_broker_that_keeps_what_is_sent_while_the_page_is_away(
    folder: Path, broker: int
) -> None:
    address = f"mqtt://127.0.0.1:{broker}"
    sender = publisher(f"{address}/{LOG}")
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


@pytest.mark.parametrize("way", ["request", "broker", "table"])
def test_a_simulated_machine_feeds_a_page(folder: Path, broker: int, way: str) -> None:
    port = free_port()
    address = f"mqtt://127.0.0.1:{broker}"
    process = page(folder, port, "--broker", address)
    where = {
        "request": f"http://127.0.0.1:{port}/{LOG}",
        "broker": f"{address}/{LOG}",
        "table": str(folder / f"{LOG}.readings.csv"),
    }[way]
    try:
        if way == "broker":  # what is published before the page has a session there is lost
            wait_for(lambda: "connected" in told(port), 120.0)
        command = [sys.executable, "-m", "sweatline", "practice", "examples/seed-store.toml"]
        command += ["--refrigerant", "R-290", "--compressor", "1", "--capillary", "1"]
        practice = subprocess.run(
            [*command, "--publish", where], input="wait 2 min\ndone\n", text=True,
            capture_output=True, timeout=300,
        )  # fmt: skip
        assert practice.returncode == 0, practice.stderr
        wait_for(lambda: len(rows(folder)) >= 18)  # three rounds of six
    finally:
        stop(process)
    with open_log(str(folder / f"{LOG}.log")) as log:
        channels = {e.channel for e in log.entries()}
    assert {"suction gauge", "head gauge", "watts", "scale"} <= channels


def test_the_message_of_the_board_in_the_docs(
    folder: Path, broker: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its program runs here with pins that show known voltages; the message goes the whole way."""

    class Pin:
        def __init__(self, volts: float) -> None:
            self.volts = volts

        def read_u16(self) -> int:
            return round(self.volts / 3.3 * 65535)

    monkeypatch.setitem(sys.modules, "machine", types.SimpleNamespace(ADC=None, Pin=None))
    board = runpy.run_path("docs/board/main.py", run_name="board")
    # A thermistor of 10 kohm halves the supply at 25 °C; a transducer at half of its range gives
    # 2.5 V, two thirds of which reach the pin.
    pins = {pin: Pin(1.65) for pin in (32, 33, 34)} | {pin: Pin(2.5 * 2 / 3) for pin in (35, 36)}
    port = free_port()
    process = page(folder, port, "--broker", f"mqtt://127.0.0.1:{broker}")
    try:

        def heard() -> bool:
            publish.single(f"sweatline/{LOG}/readings", board["message"](pins), qos=1, port=broker)
            return len(rows(folder)) >= 5

        wait_for(heard)
    finally:
        stop(process)
    with open_log(str(folder / f"{LOG}.log")) as log:
        found = {e.channel: e.text for e in log.entries()}
    value, unit = found["suction gas"].split()
    assert float(value) == pytest.approx(25.0, abs=0.01)
    assert unit == "degC"
    assert float(found["suction gauge"].split()[0]) == pytest.approx(75.0, abs=0.05)
    assert float(found["head gauge"].split()[0]) == pytest.approx(250.0, abs=0.2)

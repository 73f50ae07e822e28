"""Many instruments at one page: is any reading lost, and does the page still answer?

Ten clients send five readings a second each into one log while the log's page, its charge page and
the first screen are asked for, and prints what was kept and how long the answers took. A bench has
four or five instruments that send every second or two.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path

from sweatline.log.logbook import open_log

LOG = "soak"
CLIENTS, RATE = 10, 5.0  # instruments, readings a second of each
CHANNELS = ("suction gauge", "head gauge", "suction gas", "liquid line", "watts")
UNITS = ("bar(g)", "bar(g)", "degC", "degC", "W")
USUAL = (1.4, 6.0, 8.0, 21.0, 240.0)


@dataclass
class Soak:
    """What came of it."""

    sent: int = 0
    kept: int = 0
    answers: dict[str, list[float]] = field(default_factory=dict)  # s, by address
    posts: list[float] = field(default_factory=list)  # s

    def told(self) -> str:
        """A line for each figure."""
        lines = [f"sent {self.sent}, in the log {self.kept}, lost {self.sent - self.kept}"]
        times = {"a post": self.posts, **self.answers}
        for name, seconds in times.items():
            ordered = sorted(seconds)
            worst = ordered[-1] if ordered else float("nan")
            ninety = ordered[int(0.99 * (len(ordered) - 1))] if ordered else float("nan")
            middle = statistics.median(ordered) if ordered else float("nan")
            lines.append(
                f"{name}: {1e3 * middle:.0f} ms, 99 in 100 below {1e3 * ninety:.0f} ms, "
                f"worst {1e3 * worst:.0f} ms, of {len(ordered)}"
            )
        return "\n".join(lines)


def soak(address: str, folder: Path, seconds: float, pages: tuple[str, ...]) -> Soak:
    """Send and ask for so long; the log must be there.

    Parameters
    ----------
    address : str
        Of a page that serves the folder.
    pages : tuple of str
        Addresses that a person looks at meanwhile.
    """
    found = Soak(answers={page: [] for page in pages})
    lock = threading.Lock()
    end = time.monotonic() + seconds

    def send(client: int) -> None:
        for number in range(int(seconds * RATE)):
            time.sleep(max(end - seconds + number / RATE - time.monotonic(), 0.0))
            which = number % len(CHANNELS)
            value = USUAL[which] + 0.001 * (client + 10 * (number % 7))
            reading = {"sensor": CHANNELS[which], "value": value, "unit": UNITS[which]}
            body = json.dumps({"readings": [reading], "key": f"{client}-{number}"}).encode()
            begun = time.monotonic()
            request = urllib.request.Request(
                f"{address}/api/logs/{LOG}/readings", body, {"Content-Type": "application/json"}
            )
            with urllib.request.urlopen(request, timeout=60) as answer:
                kept = json.load(answer)["kept"]
            with lock:
                found.sent += 1
                found.posts.append(time.monotonic() - begun)
                assert kept == 1

    def look(page: str) -> None:
        while time.monotonic() < end:
            begun = time.monotonic()
            with urllib.request.urlopen(address + page, timeout=60) as answer:
                answer.read()
            found.answers[page].append(time.monotonic() - begun)
            time.sleep(0.5)

    work = [threading.Thread(target=send, args=(i,)) for i in range(CLIENTS)]
    work += [threading.Thread(target=look, args=(page,)) for page in pages]
    for one in work:
        one.start()
    for one in work:
        one.join()
    with open_log(str(folder / f"{LOG}.log")) as log:
        found.kept = len(log.entries())
    return found


def main() -> int:
    """Serve a folder of its own and soak it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--port", type=int, default=8599)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        open_log(str(folder / f"{LOG}.log"), new=True, refrigerant="R-290", system="SI").close()
        command = [sys.executable, "-m", "sweatline", "page", name, "--no-browser"]
        with subprocess.Popen([*command, "--port", str(asked.port)]) as server:
            time.sleep(20.0)
            address = f"http://127.0.0.1:{asked.port}"
            found = soak(address, folder, 60.0 * asked.minutes, ("/", f"/log/{LOG}"))
            server.terminate()
    print(found.told())
    return found.sent != found.kept


if __name__ == "__main__":
    raise SystemExit(main())

"""Kill live sessions at random moments and see what is left. Run by test_live_charging.py."""

from __future__ import annotations

import json
import os
import random
import select
import signal
import sys
import time
from pathlib import Path
from typing import IO

from sweatline.charging.adviser import Adviser
from sweatline.charging.preparation import Prepared, prepare
from sweatline.charging.session import ChargeSession
from sweatline.cli.charging import hold_session
from sweatline.job.reading import read_job
from sweatline.log.logbook import open_log
from sweatline.log.store import Log
from sweatline.units import Scale

JOB = Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml"


def line(n: int) -> str:
    """The n-th thing that is typed; no two say the same."""
    if n % 7 == 0:
        return f"added {1 + n % 3} g\n"
    if n % 11 == 0:
        return f"mistyped {n}\n"
    return f"suction {1.3 + n * 1e-4:.4f} bar(g); head 5.{n % 10}{n:05d} bar(g); suction gas 15 C\n"


def child(prepared: Prepared, path: Path, reader: int, writer: int) -> None:
    """One session between two pipes; never returns."""
    os.dup2(writer, 1)
    source: IO[str] = os.fdopen(reader, "r")
    with Log(path) as log:
        hold_session(
            ChargeSession(Adviser(prepared, log.about()), log), source, Scale("SI"), as_json=True
        )


def acknowledged(text: bytes) -> dict[int, str]:
    """Numbers of entries that whole lines of the answer name, with what was typed."""
    found = {}
    for row in text.decode().rpartition("\n")[0].splitlines():
        answer = json.loads(row)
        if answer["command"] == "charge-line":
            found.update(dict.fromkeys(answer["kept"], answer["text"]))
    return found


def main() -> int:
    """Path, number of kills and seed; prints what was lost, or how much was acknowledged."""
    path, kills, seed = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    chance = random.Random(seed)
    prepared = prepare(
        read_job(str(JOB)), compressor=0, refrigerant="R-134a", capillary=0, draws=32
    )
    open_log(str(path), new=True, refrigerant="R-134a").close()
    known: dict[int, str] = {}
    sent = 0
    for _ in range(kills):
        to_child, from_parent = os.pipe()
        to_parent, from_child = os.pipe()
        process = os.fork()
        if process == 0:
            os.close(from_parent)
            os.close(to_parent)
            child(prepared, path, to_child, from_child)
            os._exit(0)
        os.close(to_child)
        os.close(from_child)
        # Longer than a pipe's reader needs, so that it is always killed at work.
        for _line in range(40):
            sent += 1
            os.write(from_parent, line(sent).encode())
        text = os.read(to_parent, 1 << 16)  # the session has begun
        moment = time.monotonic() + chance.expovariate(1.0 / 0.15)
        while (left := moment - time.monotonic()) > 0:
            if select.select([to_parent], [], [], left)[0]:
                text += os.read(to_parent, 1 << 16)
        os.kill(process, signal.SIGKILL)
        os.waitpid(process, 0)
        while piece := os.read(to_parent, 1 << 16):
            text += piece
        os.close(to_parent)
        os.close(from_parent)
        known.update(acknowledged(text))
        with Log(path) as log:
            rows = {e.id: e.text for e in log.entries()}
            damage = log.damage()
        lost = [
            n
            for n, typed in known.items()
            if n not in rows or rows[n].removeprefix("not understood: ") not in typed
        ]
        if damage or lost:
            print(f"lost {lost}, damage {damage!r}")
            return 1
    print(len(known))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

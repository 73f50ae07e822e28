"""Kill writers of a log at random moments and see what is left. Run by test_log_kills.py."""

from __future__ import annotations

import os
import random
import select
import signal
import sys
import time
from pathlib import Path

from sweatline.log.entries import Entry
from sweatline.log.store import Log


def write_until_killed(path: Path, out: int, name: int) -> None:
    """Append entries and acknowledge each one with its key."""
    with Log(path) as log:
        for n in range(10_000):
            entry = Entry(
                kind="reading",
                happened_at=float(n),
                text=f"{n} psig",
                key=f"{name}-{n}",
                channel="suction pressure",
                value=float(n),
            )
            if n % 3 == 0:
                entries = log.append_all([entry, Entry(kind="note", happened_at=0.0, text="x" * n)])
                entry = entries[0]
            else:
                entry = log.append(entry)
            os.write(out, f"{entry.key}\n".encode())


def main() -> int:
    """Path, number of kills and seed; prints what was lost or damaged, and how much was written."""
    path, kills, seed = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    chance = random.Random(seed)
    acknowledged: set[str] = set()
    for name in range(kills):
        reader, writer = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(reader)
            write_until_killed(path, writer, name)
            os._exit(0)
        os.close(writer)
        # Every third dies while it opens the file, the others while they write.
        text = b""
        if name % 3:
            text = os.read(reader, 65536)
        moment = time.monotonic() + chance.expovariate(1.0 / 0.006)
        while (left := moment - time.monotonic()) > 0:
            if select.select([reader], [], [], left)[0]:
                text += os.read(reader, 65536)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        while piece := os.read(reader, 65536):
            text += piece
        os.close(reader)
        acknowledged.update(text.decode().rpartition("\n")[0].split())
        if name % 20 == 19 or name == kills - 1:
            with Log(path) as log:
                there = {e.key for e in log.entries()}
                if log.damage() or not acknowledged <= there:
                    print(f"lost {len(acknowledged - there)}, damage {log.damage()!r}")
                    return 1
    print(len(acknowledged))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

"""Commands in a fresh process, from start to exit.

The first run of a solver compiles its kernels into an empty folder; every later start finds them
there. A look-up in the saturation table needs no compiler at all.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from timing import Row, duration, show, time_command

TITLE = "Commands"
REPEATS = 5
FIRST_RUNS = 1  # one takes most of a minute
COMMAND = Path(sys.executable).with_name("sweatline")
JOB = "examples/seed-store.toml"
LOOKUP = ("saturation", "R-152a", "--pressure", "27 psig")
BALANCE = (
    *("balance", JOB, "--compressor", "1", "--refrigerant", "R-134a", "--capillary", "1"),
    *("--draws", "0"),
)


def rows() -> list[Row]:
    """All figures of this benchmark."""
    with tempfile.TemporaryDirectory() as folder:
        kept = {"SWEATLINE_CACHE": folder}

        def started(words: tuple[str, ...], aim: float | None = None) -> Row:
            arguments = [str(COMMAND), *words]
            time_command(arguments, 1, environment=kept)
            timing = time_command(arguments, REPEATS, environment=kept)
            return duration(f"sweatline {' '.join(words)}", timing, "s", aim=aim)

        first = duration(
            "the same balance, kernels compiled first",
            time_command([str(COMMAND), *BALANCE], FIRST_RUNS, environment=kept),
            "s",
            aim=40.0,
            note="once in the life of an installation",
        )
        return [
            started(LOOKUP, aim=1.5),
            started(("--help",)),
            started(("check", JOB)),
            started(BALANCE),
            first,
        ]


if __name__ == "__main__":
    show(TITLE, rows())

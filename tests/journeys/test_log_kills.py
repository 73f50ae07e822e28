"""A log survives being killed: nothing acknowledged is lost, nothing is damaged."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path


def test_three_hundred_random_kills_lose_nothing(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(Path(__file__).parent / "killed_writers.py"), "log.db", "300", "7"],
        cwd=tmp_path,
        env=os.environ,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert int(done.stdout) > 300

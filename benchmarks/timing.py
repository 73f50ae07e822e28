"""How the benchmarks measure, and what a measured figure is."""

from __future__ import annotations

import os
import platform
import statistics
import subprocess
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Literal

__all__ = [
    "HEADS",
    "ROOT",
    "Row",
    "Timing",
    "duration",
    "in_turn",
    "machine",
    "measure",
    "ratio",
    "show",
    "time_command",
]

ROOT = Path(__file__).resolve().parent.parent

Task = Callable[[], object]
Unit = Literal["times", "s", "ms", "µs"]

_PER_SECOND: dict[Unit, float] = {"times": 1.0, "s": 1.0, "ms": 1e3, "µs": 1e6}


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """Seconds that each repeat of a task took, by the clock and of the processor."""

    wall: tuple[float, ...]
    cpu: tuple[float, ...]

    def shared_by(self, count: int) -> Timing:
        """Per item, when the task went through `count` of them."""
        return Timing(
            wall=tuple(t / count for t in self.wall), cpu=tuple(t / count for t in self.cpu)
        )


def measure(task: Task, repeats: int, *, warm_up: bool = True) -> Timing:
    """Time a task several times in this process."""
    return in_turn({"": task}, repeats, warm_up=warm_up)[""]


def in_turn(tasks: Mapping[str, Task], repeats: int, *, warm_up: bool = True) -> dict[str, Timing]:
    """Time several tasks one after the other, round by round.

    What else the machine does in the meantime then falls on all of them alike.
    """
    if warm_up:
        for task in tasks.values():
            task()
    wall: dict[str, list[float]] = {name: [] for name in tasks}
    cpu: dict[str, list[float]] = {name: [] for name in tasks}
    for _ in range(repeats):
        for name, task in tasks.items():
            wall_begun, cpu_begun = time.perf_counter(), time.process_time()
            task()
            cpu[name].append(time.process_time() - cpu_begun)
            wall[name].append(time.perf_counter() - wall_begun)
    return {name: Timing(wall=tuple(wall[name]), cpu=tuple(cpu[name])) for name in tasks}


def time_command(
    arguments: Sequence[str], repeats: int, *, environment: Mapping[str, str] | None = None
) -> Timing:
    """Time a command in a fresh process of its own, started from the checkout.

    Raises
    ------
    RuntimeError
        The command failed, and its time means nothing.
    """
    wall, cpu = [], []
    for _ in range(repeats):
        begun = time.perf_counter()
        child = subprocess.Popen(
            arguments,
            cwd=ROOT,
            env=os.environ | dict(environment or {}),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        _pid, status, usage = os.wait4(child.pid, 0)
        wall.append(time.perf_counter() - begun)
        cpu.append(usage.ru_utime + usage.ru_stime)
        child.returncode = os.waitstatus_to_exitcode(status)
        if child.returncode != 0:
            raise RuntimeError(f"{' '.join(arguments)} ended with {child.returncode}")
    return Timing(wall=tuple(wall), cpu=tuple(cpu))


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure: what was measured, how, and whether it meets its aim.

    A ratio has to reach its aim, a duration must not exceed it.
    """

    figure: str
    unit: Unit
    median: float
    best: float
    repeats: int
    cpu: float | None = None  # median, of durations only
    aim: float | None = None
    note: str = ""

    @property
    def verdict(self) -> str:
        """Met, not met, or nothing when there is no aim."""
        if self.aim is None:
            return ""
        met = self.median >= self.aim if self.unit == "times" else self.median <= self.aim
        return "met" if met else "not met"

    def cells(self) -> tuple[str, ...]:
        """Figure, aim, median, best, processor time, repeats, verdict and note, as text."""
        aim = ""
        if self.aim is not None:
            word = "at least" if self.unit == "times" else "at most"
            aim = f"{word} {self._text(self.aim)}"
        return (
            self.figure,
            aim,
            self._text(self.median),
            self._text(self.best),
            "" if self.cpu is None else self._text(self.cpu),
            str(self.repeats),
            self.verdict,
            self.note,
        )

    def _text(self, value: float) -> str:
        digits = 0 if value >= 100.0 else 1 if value >= 10.0 else 2
        return f"{value:.{digits}f} {self.unit}"


def duration(
    figure: str, timing: Timing, unit: Unit, *, aim: float | None = None, note: str = ""
) -> Row:
    """Row of a duration by the clock, which is what a person waits for."""
    scale = _PER_SECOND[unit]
    return Row(
        figure=figure,
        unit=unit,
        median=scale * statistics.median(timing.wall),
        best=scale * min(timing.wall),
        cpu=scale * statistics.median(timing.cpu),
        repeats=len(timing.wall),
        aim=aim,
        note=note,
    )


def ratio(
    figure: str, slow: Timing, fast: Timing, *, aim: float | None = None, note: str = ""
) -> Row:
    """Row of a ratio of processor times: median of the rounds, and fastest against fastest."""
    ratios = [s / f for s, f in zip(slow.cpu, fast.cpu, strict=True)]
    return Row(
        figure=figure,
        unit="times",
        median=statistics.median(ratios),
        best=min(slow.cpu) / min(fast.cpu),
        repeats=len(ratios),
        aim=aim,
        note=note,
    )


def machine() -> str:
    """What the figures were measured on, without saying whose it is."""
    packages = ("numpy", "scipy", "numba", "CoolProp")
    load = ", ".join(f"{x:.1f}" for x in os.getloadavg())
    return (
        f"{os.cpu_count()} cores ({platform.machine()}, {platform.system()}), "
        f"Python {platform.python_version()}, "
        + ", ".join(f"{name} {version(name)}" for name in packages)
        + f"; load average over 1, 5 and 15 minutes {load}"
    )


HEADS = ("figure", "aim", "median", "best", "processor", "repeats", "verdict", "note")


def show(title: str, rows: Sequence[Row]) -> None:
    """Print the rows of one benchmark."""
    print(f"\n{title}\n{machine()}")
    table = [HEADS, *(row.cells() for row in rows)]
    widths = [max(len(line[i]) for line in table) for i in range(len(HEADS))]
    for line in table:
        print("  ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)).rstrip())

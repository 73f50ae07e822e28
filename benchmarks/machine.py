"""Balance of a whole machine.

Four unknowns solved to eight digits, both coils marched cell by cell (eight cells a row, as in the
ranking), for machines made of the parts of the example. The warm balance is of the same machine
with two per cent more or less charge, started from the one next to it, as along a charge curve. The
design balance starts from nothing, with superheat and subcooling wanted and capillary and charge as
answers; the last one, with the capillary given, starts from nothing too.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable
from typing import NamedTuple

from sweatline.assembly.build import Build, build_for
from sweatline.job.reading import read_job
from sweatline.machine.balance import SteadyState, design, filled, fixed_charge
from timing import ROOT, Row, Timing, duration, in_turn, show

TITLE = "Machine balance"
REPEATS = 15
CHANGE = 0.02  # of the charge

# Positions in the example's bench, and the refrigerant.
MACHINES = ((0, "R-134a", 0), (0, "R-152a", 1), (1, "R-290", 1), (2, "R-513A", 2))


class Case(NamedTuple):
    """One way of solving one machine."""

    way: str
    machine: str
    solve: Callable[[], SteadyState]


def cases_of(build: Build) -> list[Case]:
    """Every way of solving one machine."""
    targets = build.job.targets
    full = filled(superheat=targets.superheat)
    free = design(superheat=targets.superheat, subcooling=targets.subcooling)
    charged = build.solve(full)
    # Reached by such a step itself, so that it leaves a matrix to the next one.
    before = build.solve(fixed_charge((1.0 - CHANGE) * charged.charge), near=charged)
    near = build.solve(fixed_charge(charged.charge), near=before)
    more = fixed_charge((1.0 + CHANGE) * charged.charge)
    less = fixed_charge((1.0 - CHANGE) * charged.charge)
    name = build.name
    return [
        Case("warm", name, lambda: build.solve(more, near=near)),
        Case("warm", name, lambda: build.solve(less, near=near)),
        Case("design", name, lambda: build.solve(free)),
        Case("filled", name, lambda: build.solve(full)),
    ]


def _pooled(timings: list[Timing]) -> Timing:
    """Repeat by repeat the mean over the cases, so that every machine has the same weight."""
    return Timing(
        wall=tuple(statistics.fmean(t) for t in zip(*(t.wall for t in timings), strict=True)),
        cpu=tuple(statistics.fmean(t) for t in zip(*(t.cpu for t in timings), strict=True)),
    )


def rows() -> list[Row]:
    """All figures of this benchmark."""
    job = read_job(ROOT / "examples" / "seed-store.toml")
    cases = [
        case
        for i, refrigerant, j in MACHINES
        for case in cases_of(build_for(job, compressor=i, refrigerant=refrigerant, capillary=j))
    ]
    timings = in_turn({str(n): case.solve for n, case in enumerate(cases)}, REPEATS)
    figures = {
        "warm": ("charge changed by 2 %, from the balance next to it", 4.0),
        "design": ("design balance from nothing", 20.0),
        "filled": ("given capillary, filled from nothing", None),
    }
    found = []
    for way, (figure, aim) in figures.items():
        mine = [(case, timings[str(n)]) for n, case in enumerate(cases) if case.way == way]
        calls = [case.solve().calls for case, _ in mine]
        slowest, slow = max(mine, key=lambda m: statistics.median(m[1].wall))
        found.append(
            duration(
                figure,
                _pooled([timing for _, timing in mine]),
                "ms",
                aim=aim,
                note=(
                    f"mean of {len(mine)}; {min(calls)} to {max(calls)} residual calls; slowest "
                    f"{1e3 * statistics.median(slow.wall):.1f} ms ({slowest.machine})"
                ),
            )
        )
    return found


if __name__ == "__main__":
    show(TITLE, rows())

"""One advice while charging.

What happens between a reading that has just come and the advice to print, when what is known
beforehand is there already: the readings of all channels are taken in, each channel's outlook is
made, the outlooks of this charge and all before it weigh the machines that this one may be, and the
next dose is told. The machine is one of the example's with the usual samples, moved by four
doses; once a person has typed a reading of each channel a minute, once a wire has brought one a
second for ten minutes since the last dose. The floor is the linear algebra that an exact weighing
of so many readings cannot do without: for each best charge looked at, one symmetric matrix as large
as the readings are many, made from its directions, factored and solved once.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.build import build_for
from sweatline.charging.dosing import INSTRUMENTS, READINGS, ChargePrior, DoseAdvice, Dosing
from sweatline.charging.preparation import charge_prior
from sweatline.charging.settling import Settling
from sweatline.charging.tracker import settled_readings
from sweatline.job.reading import read_job
from sweatline.log.channels import CHARACTERS
from sweatline.machine.balance import filled
from sweatline.refrigerant.table import Table, saturation
from timing import ROOT, Row, duration, in_turn, ratio, show

FloatArray = NDArray[np.float64]

TITLE = "Advice while charging"
JOB = ROOT / "examples" / "seed-store.toml"
AIM = 50.0  # ms
REPEATS = 200
DOSES = 4
BETWEEN = 600.0  # s from dose to dose
CHARGES = 121  # best charges that the dosing looks at
DIRECTIONS = 16  # in which machines differ, at most


class Begun(NamedTuple):
    """A charging under way, before the reading that is timed."""

    table: Table
    dosing: Dosing
    settling: dict[str, Settling]
    charge: float  # kg
    largest: float  # kg
    now: float  # s
    came: dict[str, list[float]]  # readings still to come


def shown(table: Table, known: ChargePrior, share: float) -> dict[str, float]:
    """What a middling one of the sampled machines shows at a share of its charge. [Pa, K, W]"""
    middle = np.nanmedian(known.readings, axis=0)
    there = middle[int(np.argmin(np.abs(known.shares - share)))]
    read = dict(zip(READINGS, (float(v) for v in there), strict=True))
    suction, head = float(np.exp(read["suction gauge"])), float(np.exp(read["head gauge"]))
    return {
        "suction gauge": suction,
        "head gauge": head,
        "suction gas": float(saturation(table, suction)[1]) + max(read["superheat"], 0.0),
        "liquid line": float(saturation(table, head)[0]) - max(read["subcooling"], 0.0),
        "discharge gas": read["discharge gas"],
        "watts": float(np.exp(read["watts"])),
        "amps": float(np.exp(read["amps"])),
    }


def begun(table: Table, known: ChargePrior, every: float) -> Begun:
    """Four doses with readings `every` so many seconds, and ten minutes after the last."""
    chance = np.random.default_rng(4)
    settling = {name: Settling(CHARACTERS[name]) for name in INSTRUMENTS}
    dosing = Dosing(known)
    full = float(np.median(known.best))
    now = share = 0.0
    before = shown(table, known, 0.5)
    for n in range(DOSES):
        share = 0.6 + 0.1 * n
        after = shown(table, known, share)
        for since in np.arange(every, BETWEEN, every):
            for name, one in settling.items():
                moving = after[name] + (before[name] - after[name]) * np.exp(-since / 90.0)
                noise = CHARACTERS[name].noise * chance.standard_normal()
                one.update(now + since, float(moving + noise))
        now += BETWEEN
        if n < DOSES - 1:
            outlooks = {name: one.outlook(now) for name, one in settling.items()}
            dosing.told(share * full, *settled_readings(table, outlooks))
            for one in settling.values():
                one.disturb(now)
        before = after
    came = {
        name: (before[name] + CHARACTERS[name].noise * chance.standard_normal(REPEATS + 2)).tolist()
        for name in INSTRUMENTS
    }
    return Begun(table, dosing, settling, share * full, 0.12 * full, now, came)


def adviser(b: Begun, every: float) -> Callable[[], DoseAdvice]:
    """A task that takes in one more reading of each channel and gives the advice."""
    turn = 0

    def task() -> DoseAdvice:
        nonlocal turn
        at = b.now + every * turn
        for name, one in b.settling.items():
            one.update(at, b.came[name][turn])
        turn += 1
        outlooks = {name: one.outlook(at) for name, one in b.settling.items()}
        # A copy, so that every turn stands before the same advice.
        dosing = copy.deepcopy(b.dosing)
        dosing.told(b.charge, *settled_readings(b.table, outlooks))
        return dosing.advice(b.charge, smallest=2e-3, largest=b.largest)

    return task


def weighing(read: int) -> Callable[[], FloatArray]:
    """The floor: a task that weighs all best charges by so many invented readings."""
    chance = np.random.default_rng(5)
    rows = chance.standard_normal((CHARGES, read, DIRECTIONS))
    away = chance.standard_normal((CHARGES, read, 1))

    def task() -> FloatArray:
        k = rows @ rows.transpose(0, 2, 1) + np.eye(read)
        factor = np.linalg.cholesky(k)
        square: FloatArray = (away * np.linalg.solve(k, away)).sum(axis=(1, 2))
        log_size = np.log(np.diagonal(factor, axis1=1, axis2=2)).sum(axis=1)
        return np.asarray(-0.5 * square - log_size, dtype=np.float64)

    return task


def rows() -> list[Row]:
    """All figures of this benchmark."""
    job = read_job(JOB)
    build = build_for(job, compressor=0, refrigerant="R-513A", capillary=0)
    full = build.solve(filled(superheat=job.targets.superheat), near=build.designed)
    table = build.refrigerant.table
    known = charge_prior(build, full)
    typed, wired = begun(table, known, 60.0), begun(table, known, 1.0)
    read = DOSES * len(INSTRUMENTS)
    tasks: Mapping[str, Callable[[], object]] = {
        "typed": adviser(typed, 60.0),
        "wired": adviser(wired, 1.0),
        "floor": weighing(read),
    }
    timings = in_turn(tasks, REPEATS)
    size = f"{known.best.size} sampled machines, {read} settled readings"
    return [
        duration("with a reading a minute", timings["typed"], "ms", aim=AIM, note=size),
        duration(
            "with a reading a second", timings["wired"], "ms", aim=AIM, note="after ten minutes"
        ),
        duration("the floor", timings["floor"], "ms", note=f"{CHARGES} matrices, {read} rows each"),
        ratio("advice against the floor", timings["typed"], timings["floor"]),
    ]


if __name__ == "__main__":
    show(TITLE, rows())

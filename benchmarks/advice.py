"""One advice while charging.

What happens between a reading that has just come and the advice to print, when what is known
beforehand is there already: the readings of all five channels are taken in, each channel's outlook
is made, the outlooks weigh the drawn machines, and the next dose is told. The machine is one of the
example's with its usual number of draws, moved by four doses; once a person has typed a reading of
each channel a minute, once a wire has brought one a second for ten minutes since the last dose. The
floor is what the weighing cannot do without: every drawn machine at every scale of its charge
looked up at the charge, compared with five readings and turned into a weight, in plain array
arithmetic without anything remembered, sorted or foretold.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.bench.dosing import CHANNELS, Advice, Dosing, Foreknowledge
from sweatline.bench.settling import Settling
from sweatline.job.reading import read_job
from sweatline.machine.balance import filled
from sweatline.refrigerant.table import Table, saturation
from sweatline.study.foreknowledge import CHARACTERS, foreknow, settled_readings
from sweatline.study.rig import rig_for
from timing import ROOT, Row, duration, in_turn, ratio, show

FloatArray = NDArray[np.float64]

TITLE = "Advice while charging"
JOB = ROOT / "examples" / "seed-store.toml"
AIM = 50.0  # ms
REPEATS = 200
DOSES = 4
BETWEEN = 600.0  # s from dose to dose
SCALES = 31  # of a machine's charge, as the dosing has them


class Begun(NamedTuple):
    """A charging under way, before the reading that is timed."""

    table: Table
    dosing: Dosing
    settling: dict[str, Settling]
    charge: float  # kg
    largest: float  # kg
    now: float  # s
    came: dict[str, list[float]]  # readings still to come


def shown(table: Table, known: Foreknowledge, share: float) -> dict[str, float]:
    """What the middle one of the drawn machines shows at a place along its charges. [Pa, K, W]"""
    place = share * (known.charges.size - 1)
    middle = np.nanmedian(known.readings, axis=0)
    read = dict(zip(CHANNELS, middle[round(place)], strict=True))
    suction, head = float(np.exp(read["suction gauge"])), float(np.exp(read["head gauge"]))
    return {
        "suction gauge": suction,
        "head gauge": head,
        "suction gas": float(saturation(table, suction)[1] + read["superheat"]),
        "liquid line": float(saturation(table, head)[0] - read["subcooling"]),
        "watts": float(np.exp(read["watts"])),
    }


def begun(table: Table, known: Foreknowledge, every: float) -> Begun:
    """Four doses with readings `every` so many seconds, and ten minutes after the last."""
    chance = np.random.default_rng(4)
    settling = {name: Settling(c) for name, c in CHARACTERS.items()}
    dosing = Dosing(known)
    before = shown(table, known, 0.1)
    now = 0.0
    charge = 0.0
    for n in range(DOSES):
        after = shown(table, known, 0.1 + 0.1 * (n + 1))
        charge = float(known.charges[0] + 0.1 * (n + 1) * np.ptp(known.charges))
        for since in np.arange(every, BETWEEN, every):
            for name, one in settling.items():
                moving = after[name] + (before[name] - after[name]) * np.exp(-since / 90.0)
                noise = CHARACTERS[name].noise * chance.standard_normal()
                one.update(now + since, float(moving + noise))
        now += BETWEEN
        if n < DOSES - 1:
            outlooks = {name: one.outlook(now) for name, one in settling.items()}
            dosing.told(charge, *settled_readings(table, outlooks))
            for one in settling.values():
                one.disturb(now)
        before = after
    came = {
        name: (before[name] + c.noise * chance.standard_normal(REPEATS + 2)).tolist()
        for name, c in CHARACTERS.items()
    }
    return Begun(table, dosing, settling, charge, 0.3 * charge, now, came)


def adviser(b: Begun, every: float) -> Callable[[], Advice]:
    """A task that takes in one more reading of each channel and gives the advice."""
    turn = 0

    def task() -> Advice:
        nonlocal turn
        at = b.now + every * turn
        for name, one in b.settling.items():
            one.update(at, b.came[name][turn])
        turn += 1
        outlooks = {name: one.outlook(at) for name, one in b.settling.items()}
        b.dosing.told(b.charge, *settled_readings(b.table, outlooks))
        return b.dosing.advice(b.charge, smallest=2e-3, largest=b.largest)

    return task


def weighing(known: Foreknowledge, charge: float, values: FloatArray) -> FloatArray:
    """The floor: weights of all machines and scales from one set of readings. (k, scales)"""
    place = np.interp(
        charge / np.exp(np.linspace(-0.3, 0.3, SCALES)),
        known.charges,
        np.arange(known.charges.size),
    )
    left = np.minimum(place.astype(int), known.charges.size - 2)
    share = (place - left)[None, :, None]
    found = (1.0 - share) * known.readings[:, left] + share * known.readings[:, left + 1]
    square = (((found - values) / 0.02) ** 2).sum(axis=2)
    weights: FloatArray = np.exp(-0.5 * (square - np.nanmin(square)))
    return weights


def rows() -> list[Row]:
    """All figures of this benchmark."""
    job = read_job(JOB)
    rig = rig_for(job, compressor=0, refrigerant="R-513A", capillary=0)
    full = rig.solve(filled(superheat=job.targets.superheat), near=rig.designed)
    table = rig.refrigerant.table
    known = foreknow(rig, full)
    typed, wired = begun(table, known, 60.0), begun(table, known, 1.0)
    _values = settled_readings(table, {n: s.outlook() for n, s in typed.settling.items()})[0]
    floor: Mapping[str, Callable[[], object]] = {
        "floor": lambda: weighing(known, typed.charge, _values)
    }
    timings = in_turn(
        {"typed": adviser(typed, 60.0), "wired": adviser(wired, 1.0), **floor}, REPEATS
    )
    size = f"{known.best.size} drawn machines, {SCALES} scales of their charge"
    return [
        duration("with a reading a minute", timings["typed"], "ms", aim=AIM, note=size),
        duration(
            "with a reading a second", timings["wired"], "ms", aim=AIM, note="after ten minutes"
        ),
        duration("the floor", timings["floor"], "ms", note="weighing alone"),
        ratio("advice against the floor", timings["typed"], timings["floor"]),
    ]


if __name__ == "__main__":
    show(TITLE, rows())

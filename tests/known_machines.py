"""Machines with hidden numbers that show what their instruments would: for recovery tests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.known_machine import PLATE, KnownMachine, known_machine
from sweatline.job.model import Job
from sweatline.uncertainty.parameter import Key

PLATE_KEYS = {"power": "power", "current": "current", "water": "water_removal"}


def showing(job: Job, values: Mapping[tuple[str, str], float]) -> Job:
    """The same job, its instruments showing other values, by run and key. [SI]"""
    original = job.original
    for key, attribute in PLATE_KEYS.items():
        known = getattr(original, attribute)
        if known is not None and (PLATE, key) in values:
            moved = replace(known, value=values[PLATE, key])
            original = replace(original, **{attribute: moved})
    runs = []
    for run in job.ran_well:
        moved = {
            key: replace(getattr(run, key), value=value)
            for (name, key), value in values.items()
            if name == run.name
        }
        runs.append(replace(run, **moved))
    return replace(job, original=original, ran_well=tuple(runs))


def hidden(machine: KnownMachine, seed: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Numbers drawn from the prior, and the readings they give, noise of the instruments on top.

    A draw whose machine has no balance is no machine that ran well; the next one is taken.
    """
    rng = np.random.default_rng(seed)
    while True:
        z = rng.normal(size=len(machine.parameters))
        shown = machine.predict(z)
        if shown is not None:
            break
    sd = np.array([r.known.sd for r in machine.readings])
    return z, shown + sd * rng.normal(size=len(sd))


def with_hidden_numbers(job: Job, seed: int) -> tuple[Job, dict[Key, float]]:
    """The job as it would read if its machine had hidden numbers, and those numbers."""
    machine = known_machine(job)
    z, shown = hidden(machine, seed)
    names = {run.number: run.name for run in machine.runs}
    values = {(names[r.run], r.key): float(v) for r, v in zip(machine.readings, shown, strict=True)}
    return showing(job, values), dict(zip(machine.keys, z.tolist(), strict=True))

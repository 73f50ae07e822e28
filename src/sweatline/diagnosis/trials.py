"""Machines with a known fault, to try the diagnosis on: drawn from what a job leaves open.

Whoever diagnoses them knows the job and the readings, not the draw nor the fault.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from sweatline.assembly.build import Build
from sweatline.diagnosis.atlas import full_of, seen_with
from sweatline.diagnosis.causes import CAUSES
from sweatline.diagnosis.observed import traits_of, without_error
from sweatline.diagnosis.weighing import Reading
from sweatline.log.channels import CHANNELS
from sweatline.machine.balance import SteadyState
from sweatline.uncertainty.parameter import Key

# A whole round at a machine: what the practice reads, and the room.
ROUND: Final = (
    "suction gauge", "head gauge", "suction gas", "liquid line", "discharge gas", "watts",
    "air in", "air between", "air out", "room humidity",
)  # fmt: skip
# Sizes that are drawn, between two ends: those of the practice; of the charge, shares.
_DRAWN: Final[Mapping[str, tuple[float, float]]] = {
    "short": (0.45, 0.85), "over": (1.15, 1.6), "restriction": (0.45, 0.85),
    "dirty condenser": (0.25, 0.55), "dirty evaporator": (0.25, 0.55), "little air": (0.4, 0.8),
    "weak valves": (0.5, 0.85), "foreign gas": (0.12, 0.45),
    "compressor too small": (0.55, 0.8), "compressor too large": (1.25, 1.6),
}  # fmt: skip
_RIGHT_SD: Final = 0.04


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A machine, what is wrong with it, and what was read."""

    causes: tuple[str, ...]
    channels: tuple[str, ...]
    """Instruments that are wrong."""
    sizes: tuple[float, ...]
    share: float
    """Of the right charge."""
    readings: tuple[Reading, ...]
    z: Mapping[Key, float]


def instrument_error(channel: str, value: float) -> float:
    """Standard deviation of what reads a channel, where nobody described it. [SI]"""
    one = CHANNELS[channel]
    sd = one.sd or 0.03  # a hygrometer within three per cent (common practice)
    return sd * value if one.relative else sd


def case(
    build: Build,
    full: SteadyState,
    chance: np.random.Generator,
    causes: Sequence[str],
    *,
    channels: Sequence[str] = ROUND,
    charge_known: bool = False,
) -> Case:
    """One machine with these causes.

    Raises
    ------
    SolveError
        The machine that was drawn has no balance.
    """
    z: dict[Key, float] = {p.key: float(chance.standard_normal()) for p in build.parameters}
    mine = full_of(build, z, full)
    share = float(np.exp(_RIGHT_SD * chance.standard_normal()))
    machine_causes, sizes, wrong = [], [], []
    for key in causes:
        size = float(chance.uniform(*_DRAWN[key])) if key in _DRAWN else np.nan
        sizes.append(size)
        part = CAUSES[key].part
        if part == "charge":
            share = size
        elif part == "machine":
            machine_causes.append((CAUSES[key], size))
    at = seen_with(build, machine_causes, z)
    seen = at(share * mine.charge, mine)
    true = without_error(channels, traits_of(seen))
    readings = []
    for channel, value in zip(channels, true, strict=True):
        sd = instrument_error(channel, value)
        readings.append(
            Reading(channel=channel, value=value + sd * float(chance.standard_normal()), sd=sd)
        )
    if "wrong instrument" in causes:
        options = [c for c in channels if c in _MISREAD]
        j = channels.index(options[int(chance.integers(len(options)))])
        wrong.append(channels[j])
        readings[j] = _misread(readings[j], chance, build.machine.air.ambient)
    if "swapped" in causes:
        pairs = [(a, b) for a, b in _SWAPPED if a in channels and b in channels]
        a, b = pairs[int(chance.integers(len(pairs)))]
        wrong += [a, b]
        i, j = channels.index(a), channels.index(b)
        vi, vj = readings[i].value, readings[j].value
        readings[i] = Reading(channel=a, value=vj, sd=readings[i].sd)
        readings[j] = Reading(channel=b, value=vi, sd=readings[j].sd)
    return Case(
        causes=tuple(causes), channels=tuple(wrong), sizes=tuple(sizes), share=share,
        readings=tuple(readings), z=z,
    )  # fmt: skip


_MISREAD: Final = ("suction gauge", "head gauge", "suction gas", "liquid line", "discharge gas")
_SWAPPED: Final = (
    ("suction gas", "liquid line"), ("liquid line", "discharge gas"),
    ("suction gas", "discharge gas"), ("suction gauge", "head gauge"),
)  # fmt: skip


def _misread(r: Reading, chance: np.random.Generator, ambient: float) -> Reading:
    if r.channel.endswith("gauge"):
        size = float(chance.uniform(0.3e5, 0.8e5)) * (3.0 if r.channel == "head gauge" else 1.0)
        value = r.value + size * (1.0 if chance.integers(2) else -1.0)
        if value < 0.2e5:
            value = r.value + size
    else:
        value = r.value + float(chance.uniform(0.3, 0.6)) * (ambient - r.value)
    return Reading(channel=r.channel, value=value, sd=r.sd)

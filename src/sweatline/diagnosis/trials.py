"""Machines with a known fault, to try the diagnosis on: drawn from what a job leaves open.

Whoever diagnoses them knows the job and the readings, not the draw nor the fault.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.build import Build
from sweatline.diagnosis.atlas import full_of, seen_with
from sweatline.diagnosis.causes import CAUSES
from sweatline.diagnosis.observed import SHOWS, traits_of, without_error
from sweatline.diagnosis.weighing import Reading
from sweatline.log.channels import CHANNELS
from sweatline.machine.balance import SteadyState
from sweatline.uncertainty.parameter import Key

FloatArray = NDArray[np.float64]

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
# What each is off by beside its own standard deviation: air sides 15 %, boiling 25 %, tube 10 %.
_OFF_MODEL: Final[Mapping[Key, float]] = {
    ("model", "evaporator air side"): 1.0, ("model", "condenser air side"): 1.0,
    ("model", "boiling"): 1.0, ("model", "capillary flow"): 10.0 / 6.0,
}  # fmt: skip


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
    traits: FloatArray
    """Of its state."""
    well: FloatArray
    """The same when it ran well."""

    def of(self, channels: Sequence[str]) -> list[Reading]:
        """Readings of some channels."""
        return [r for r in self.readings if r.channel in channels]


def instrument_error(channel: str, value: float) -> float:
    """Standard deviation of what reads a channel, where nobody described it. [SI]"""
    one = CHANNELS[channel]
    sd = one.sd or 0.03  # a hygrometer within three per cent (common practice)
    return sd * value if one.relative else sd


def read(channels: Sequence[str], traits: FloatArray, chance: np.random.Generator) -> list[Reading]:
    """Readings of a state, each with the error of its instrument."""
    found = []
    for channel, value in zip(channels, without_error(channels, traits), strict=True):
        sd = instrument_error(channel, value)
        shown = value + sd * float(chance.standard_normal())
        found.append(Reading(channel=channel, value=shown, sd=sd))
    return found


def case(
    build: Build,
    full: SteadyState,
    chance: np.random.Generator,
    causes: Sequence[str],
    *,
    channels: Sequence[str] = tuple(SHOWS),
    off_model: bool = False,
) -> Case:
    """One machine with these causes.

    Parameters
    ----------
    channels : sequence of str
        What is read.
    off_model : bool
        Beyond what the job leaves open the machine differs from the model.

    Raises
    ------
    SolveError
        The machine that was drawn has no balance.
    """
    z: dict[Key, float] = {p.key: float(chance.standard_normal()) for p in build.parameters}
    if off_model:
        for model, more in _OFF_MODEL.items():
            z[model] += more * float(chance.standard_normal())
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
    traits = traits_of(seen)
    readings = read(channels, traits, chance)
    if "wrong instrument" in causes:
        options = [c for c in _MISREAD if c in channels]
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
        readings=tuple(readings), traits=traits,
        well=traits_of(seen_with(build, (), z)(mine.charge, mine)),
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

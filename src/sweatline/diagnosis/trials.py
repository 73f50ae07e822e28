"""Machines with a known fault, to try the diagnosis on: drawn from what a job leaves open.

Whoever diagnoses them knows the job and the readings, not the draw nor the fault.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.build import Build
from sweatline.diagnosis.atlas import full_of, seen_with
from sweatline.diagnosis.causes import CAUSES
from sweatline.diagnosis.observed import MODEL_SD, SHOWS, place_of, traits_of, without_error
from sweatline.diagnosis.weighed import Reading, Weighed
from sweatline.diagnosis.weighing import BENCH, CLAMPED, LOOSE, UNKNOWN, Weighing
from sweatline.log.channels import CHANNELS
from sweatline.machine.balance import SteadyState
from sweatline.uncertainty.parameter import Key

FloatArray = NDArray[np.float64]

# A whole round at a machine: what the practice reads, and the room.
ROUND: Final = (
    "suction gauge", "head gauge", "suction gas", "liquid line", "discharge gas", "watts",
    "air in", "air between", "air out", "room humidity",
)  # fmt: skip
# What a machine may be read with.
READ_WITH: Final[Mapping[str, tuple[str, ...]]] = {
    "two gauges and watts": ("suction gauge", "head gauge", "watts"),
    "gauges, watts, two tubes, the room": (
        "suction gauge", "head gauge", "suction gas", "liquid line", "watts", "air in",
        "room humidity",
    ),
    "thermometers alone": (
        "suction gas", "discharge gas", "liquid line", "evaporator bend", "condenser bend",
        "air in", "air out",
    ),
    "a whole round of ten": ROUND,
    "the round, both bends, amps, water": (
        *ROUND, "condenser bend", "evaporator bend", "amps", "water rate",
    ),
}  # fmt: skip
# Sizes that are drawn, between two ends: those of the practice; of the charge, shares.
_DRAWN: Final[Mapping[str, tuple[float, float]]] = {
    "short": (0.45, 0.85), "over": (1.15, 1.6), "restriction": (0.45, 0.85),
    "dirty condenser": (0.25, 0.55), "dirty evaporator": (0.25, 0.55), "little air": (0.4, 0.8),
    "weak valves": (0.5, 0.85), "foreign gas": (0.12, 0.45),
    "compressor too small": (0.55, 0.8), "compressor too large": (1.25, 1.6),
}  # fmt: skip
_SEVERE: Final = 0.3
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

    @property
    def severe(self) -> bool:
        """A fault of the machine or its charge that takes or adds three tenths or more."""
        return any(
            size >= _SEVERE if key == "foreign gas" else abs(size - 1.0) >= _SEVERE
            for key, size in zip(self.causes, self.sizes, strict=True)
        )

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
    z = _draw(build, chance)
    if off_model:
        for model, more in _OFF_MODEL.items():
            z[model] += more * float(chance.standard_normal())
    share = float(np.exp(_RIGHT_SD * chance.standard_normal()))
    sizes = [float(chance.uniform(*_DRAWN[key])) if key in _DRAWN else np.nan for key in causes]
    for key, size in zip(causes, sizes, strict=True):
        if CAUSES[key].part == "charge":
            share = size
    traits, well = _solved(build, full, z, share, dict(zip(causes, sizes, strict=True)))
    readings, wrong = read(channels, traits, chance), []
    if "wrong instrument" in causes:
        options = [c for c in _MISREAD if c in channels]
        j = channels.index(options[int(chance.integers(len(options)))])
        wrong.append(channels[j])
        readings[j] = _misread(readings[j], chance, build.machine.air.ambient)
    if "swapped" in causes:
        pairs = [(a, b) for a, b in _SWAPPED if a in channels and b in channels]
        wrong += pairs[int(chance.integers(len(pairs)))]
        _swap(readings, wrong)
    return Case(
        causes=tuple(causes), channels=tuple(wrong), sizes=tuple(sizes), share=share,
        readings=tuple(readings), traits=traits, well=well,
    )  # fmt: skip


def case_by_prior(
    build: Build,
    full: SteadyState,
    weighing: Weighing,
    chance: np.random.Generator,
    channels: Sequence[str],
) -> Case:
    """One machine as the diagnosis takes machines to be before any reading.

    Causes are as frequent, as large and in as many pairs as it holds them to be, and its model is
    off by as much as it allows for; only the machine is solved in full.

    Raises
    ------
    SolveError
        The machine that was drawn has no balance.
    """
    told = [c for c in channels if c not in BENCH]
    hypotheses = list(weighing.hypotheses(told))
    odds = np.exp([h.log_odds(told) for h in hypotheses])
    one = hypotheses[int(chance.choice(odds.size, p=odds / odds.sum()))]
    sizes, state = {}, "right"
    for key in one.causes:
        cause = CAUSES[key]
        sizes[key] = np.nan
        if cause.part == "charge":
            state = key
        elif cause.part == "machine":
            place = float(chance.uniform(0.0, len(cause.sizes) - 1.0))
            sizes[key] = float(np.interp(place, np.arange(len(cause.sizes)), cause.sizes))
    share = float(chance.choice(weighing.fine, p=weighing.shares[state]))
    if state in sizes:
        sizes[state] = share
    traits, well = _solved(build, full, _draw(build, chance), share, sizes)
    traits = traits + MODEL_SD * chance.standard_normal(traits.size)
    if "unknown" in one.causes:
        far = float(chance.choice(UNKNOWN)) * np.sqrt(weighing.far)
        traits = traits + far * chance.standard_normal(traits.size)
    readings = read(channels, traits, chance)
    if "wrong instrument" in one.causes:
        j = list(channels).index(one.channels[0])
        r = readings[j]
        if r.channel in CLAMPED and chance.integers(2):
            value = r.value + float(chance.choice(LOOSE)) * (weighing.atlas.ambient - r.value)
        else:
            y = r.y + r.wrong * float(chance.standard_normal())
            value = math.exp(y) if SHOWS[r.channel].logarithm else y
        readings[j] = replace(r, value=value)
    if "swapped" in one.causes:
        _swap(readings, one.channels)
    return Case(
        causes=one.causes, channels=one.channels, sizes=tuple(sizes.values()), share=share,
        readings=tuple(readings), traits=traits, well=well,
    )  # fmt: skip


def _draw(build: Build, chance: np.random.Generator) -> dict[Key, float]:
    return {p.key: float(chance.standard_normal()) for p in build.parameters}


def _solved(
    build: Build, full: SteadyState, z: dict[Key, float], share: float, sizes: Mapping[str, float]
) -> tuple[FloatArray, FloatArray]:
    """Traits of a machine with causes of these sizes, and of the same when it ran well."""
    mine = full_of(build, z, full)
    causes = [(CAUSES[k], size) for k, size in sizes.items() if CAUSES[k].part == "machine"]
    seen = seen_with(build, causes, z)(share * mine.charge, mine)
    return traits_of(seen), traits_of(seen_with(build, (), z)(mine.charge, mine))


def _swap(readings: list[Reading], channels: Sequence[str]) -> None:
    i, j = (next(k for k, r in enumerate(readings) if r.channel == c) for c in channels)
    a, b = readings[i], readings[j]
    readings[i], readings[j] = replace(a, value=b.value), replace(b, value=a.value)


def ranks(weighed: Weighed, case: Case) -> dict[str, list[float]]:
    """Shares of what the diagnosis holds possible that lie below the truth, by what they are of.

    Evenly spread over many machines where its ranges are honest.
    """
    state = case.traits
    found = {name: [weighed.of_trait(name).below(float(state[place_of(name)]))] for name in _RANKED}
    right = float(state[place_of("charge")]) - math.log(case.share)
    found["right charge"] = [weighed.of_trait("charge", minus_share=True).below(right)]
    exact = without_error([r.channel for r in weighed.readings], state)
    errors = found["errors of the instruments"] = []
    for j, (r, value) in enumerate(zip(weighed.readings, exact, strict=True)):
        y = math.log(value) if SHOWS[r.channel].logarithm else value
        errors.append(weighed.behind(j).below(y))
    sizes = found["size of what is wrong"] = []
    for key, size in zip(case.causes, case.sizes, strict=True):
        of_size = weighed.of_size(key)
        if of_size is not None:
            sizes.append(of_size.below(size))
    return found


# Traits that follow from the machine whatever is read of it.
_RANKED: Final = (
    "charge", "airflow", "evaporator surface", "condenser surface", "pumping", "tube",
    "superheat", "subcooling", "dew", "condensing", "water",
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

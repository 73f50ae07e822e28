"""Every uncertain number of a job by its name, and the draws that move them.

Each is asked for through a :class:`Draw`. A recording draw finds out which names there are and how
wide they are; a sampling draw moves them. No list of parameters is kept anywhere else.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from sweatline.uncertainty.measured import Measured, Origin

if TYPE_CHECKING:
    from sweatline.assembly.prior_transfer import Carried
    from sweatline.job.model import CapillaryStock, Compressor, Job
    from sweatline.refrigerant.refrigerant import Refrigerant

__all__ = ["MODEL_SCATTER", "NOT_DRAWN", "Draw", "Uncertain", "informed", "told_of"]

_AIR_SIDE = "the authors' own data within 10 %, but two other authors' fits lie a fifth lower"


# One standard deviation of each model, relative, from the scatter its authors or later
# comparisons state; see the docstring of the model. How many values from print the ranges then
# hold is counted in tests/published/test_band_coverage.py; docs/why/probability.md says which were
# changed for it.
MODEL_SCATTER: dict[str, tuple[float, str]] = {
    "capillary flow": (0.06, "nine tenths of published flows lie within 10 %"),
    "evaporator air side": (0.15, _AIR_SIDE),
    "condenser air side": (0.15, _AIR_SIDE),
    "boiling": (0.25, "flow boiling at the low mass flux of small machines"),
    "condensation": (0.20, "mean deviation 15 % of the authors' data, low mass flux"),
    "volumetric": (0.05, "eight published maps, each from one rating point: nine tenths in 11 %"),
    "compressor power": (
        0.05,
        "beside that of the flow: eight published maps, nine tenths in 11 %",
    ),
    "other refrigerant": (0.05, "power with another refrigerant than the compressor is known by"),
    "inventory": (0.20, "the three void fractions nearest to measured charges, among themselves"),
    "tube friction": (0.35, "two-phase pressure drop, and two forms for bends a factor of 3 apart"),
    "shell to air": (0.30, "conductance of a shell nobody measured"),
}


# Uncertain numbers of a job that no draw moves, by their path in the job, and why.
NOT_DRAWN: dict[str, str] = {
    "supply.voltage": "only compared with the motor's plate: a wrong supply is no matter of chance",
    "original.charge": "a reading of the machine as it ran, not of the rebuild",
    "original.power": "a reading of the machine as it ran, not of the rebuild",
    "original.current": "a reading of the machine as it ran, not of the rebuild",
    "original.water_removal": "a reading too; sets the airflow, then drawn, if nobody measured it",
    "original.rating_temperature": "sets the airflow when nobody measured that",
    "original.rating_relative_humidity": "sets the airflow when nobody measured that",
    "compressors.rated_current": "told back; the motor is judged by its watts",
    "fan.shut_off_pressure": "says how frost slows the air; its times are told without a range",
    "limits.low_side_pressure": "only decides whether a hot store is mentioned",
    "capillaries.length": "length on the shelf: what is cut from it is drawn instead",
}


# A number of whose spread readings have left less than this is told as narrowed by them.
NARROWED = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertain:
    """One uncertain number: what it is called, how wide, where it comes from."""

    name: str
    value: float
    sd: float
    origin: Origin | str
    note: str


@dataclass(slots=True)
class Draw:
    """Hands out numbers, moved by the standard deviations in `z` and remembered in `seen`."""

    z: Mapping[str, float] = field(default_factory=dict)
    seen: dict[str, Uncertain] = field(default_factory=dict)

    def number(self, name: str, known: Measured, low: float = 0.0) -> float:
        """A measured or assumed number; never below a tenth of itself or `low`."""
        if known.sd > 0.0 and name not in self.seen:
            self.seen[name] = Uncertain(
                name=name,
                value=known.value,
                sd=known.sd,
                origin=known.origin,
                note=known.note,
            )
        moved = known.at(self.z.get(name, 0.0))
        if known.value > 0.0:
            moved = max(moved, 0.1 * known.value)
        return max(moved, low)

    def moved(self, carried: Carried | None) -> Draw:
        """The same draw about what was learned from a machine; shares what has been `seen`."""
        if carried is None:
            return self
        return Draw(z=carried.moved(self.z), seen=self.seen)

    def scatter(self, name: str) -> float:
        """A model's multiplier, log-normal about one."""
        sd, why = MODEL_SCATTER[name]
        if name not in self.seen:
            self.seen[name] = Uncertain(name=name, value=1.0, sd=sd, origin="model", note=why)
        return math.exp(sd * self.z.get(name, 0.0))

    def offset(self, name: str, value: float, sd: float, note: str) -> float:
        """A model's number that may change sign."""
        if name not in self.seen:
            self.seen[name] = Uncertain(name=name, value=value, sd=sd, origin="model", note=note)
        return value + sd * self.z.get(name, 0.0)


def informed(
    job: Job, compressor: Compressor, refrigerant: Refrigerant, stock: CapillaryStock, draw: Draw
) -> Draw:
    """The draw about what readings of a known machine taught, when the job has any."""
    if job.learned is None:
        return draw
    from sweatline.assembly.prior_transfer import carried

    return draw.moved(carried(job.learned, compressor, refrigerant.name, stock))


def told_of(
    job: Job,
    compressor: Compressor,
    refrigerant: Refrigerant,
    stock: CapillaryStock,
    numbers: Iterable[Uncertain],
) -> tuple[Uncertain, ...]:
    """The uncertain numbers, those noted that readings of a known machine have narrowed."""
    if job.learned is None:
        return tuple(numbers)
    from sweatline.assembly.prior_transfer import carried

    learned = carried(job.learned, compressor, refrigerant.name, stock)
    found = []
    for one in numbers:
        left = 1.0 if learned is None else learned.left(one.name)
        if left < NARROWED:
            note = f"{one.note}; readings of the machine as it ran leave {100 * left:.0f} % of that"
            one = replace(one, note=note)
        found.append(one)
    return tuple(found)

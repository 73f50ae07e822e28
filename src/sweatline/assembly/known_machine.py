"""The machine as it ran: its parts, what it showed in which room, and what the model says it shows.

Readings come from the job: sets of them taken when it ran well, and the plate of the machine as
sold, which is one more set, in the room of its rating.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.assemble import assemble
from sweatline.assembly.parameters import Sample
from sweatline.errors import JobError, SolveError
from sweatline.job.defaults import RATING_HUMIDITY, RATING_TEMPERATURE
from sweatline.job.keys import fields_of
from sweatline.job.model import CapillaryStock, Compressor, Job, RanWell
from sweatline.job.values import Quantity
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.refrigerant.refrigerant import Refrigerant, load
from sweatline.uncertainty.parameter import Key, Measured, Parameter
from sweatline.units import Kind

FloatArray = NDArray[np.float64]

PLATE: Final = "the plate"

# An unknown charge is first taken as the one that fills the evaporator.
_UNKNOWN_CHARGE: Final = 0.2

# Far below the effect of a tenth of a standard deviation of anything.
_TOLERANCE: Final = 1e-6

# Parameters of the room, of which every run has its own.
_ROOM: Final[tuple[Key, ...]] = (("room", "temperature"), ("room", "relative_humidity"))


# What an instrument shows: the quantity of a steady state.
_SHOWN: Final[Mapping[str, str]] = {
    "suction_pressure": "suction_pressure",
    "head_pressure": "discharge_pressure",
    "suction_temperature": "suction_temperature",
    "discharge_temperature": "discharge_temperature",
    "liquid_temperature": "liquid_temperature",
    "air_out_temperature": "air_out_temperature",
    "power": "total_power",
    "current": "total_current",
    "water": "water",
}


class Shown(NamedTuple):
    """What an instrument shows of a machine, as the job calls it."""

    label: str
    kind: Kind
    state: str
    """Quantity of a steady state."""


READINGS: Final[Mapping[str, Shown]] = {
    one.name: Shown(key.label, key.value.kind, _SHOWN[one.name])
    for one in fields_of(RanWell)
    for key in one.keys
    if one.name in _SHOWN and isinstance(key.value, Quantity)
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One number that an instrument or the plate showed."""

    run: int
    """Number of its run."""
    key: str
    """As in READINGS."""
    known: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One time at which the machine ran: the room, the charge if it was weighed, the readings."""

    number: int
    name: str
    temperature: Measured  # K
    relative_humidity: Measured  # 0..1
    charge: Measured | None  # kg
    readings: tuple[Reading, ...]


def _readings(run: int, source: object, keys: Mapping[str, str]) -> tuple[Reading, ...]:
    found = ((key, getattr(source, attribute)) for key, attribute in keys.items())
    return tuple(Reading(run=run, key=key, known=k) for key, k in found if k is not None)


def runs_of(job: Job) -> tuple[Run, ...]:
    """Everything the job says the machine showed; empty when its compressor is not known."""
    original = job.original
    if original.compressor is None:
        return ()
    found = []
    plate = _readings(
        0, original, {"power": "power", "current": "current", "water": "water_removal"}
    )
    if plate:
        system = job.unit_system
        t = original.rating_temperature or RATING_TEMPERATURE[system].measured(system)
        rh = original.rating_relative_humidity or RATING_HUMIDITY[system].measured(system)
        found.append(
            Run(
                number=0,
                name=PLATE,
                temperature=t,
                relative_humidity=rh,
                charge=None,
                readings=plate,
            )
        )
    for number, one in enumerate(job.ran_well, 1):
        found.append(
            Run(
                number=number,
                name=one.name,
                temperature=one.temperature,
                relative_humidity=one.relative_humidity,
                charge=one.charge,
                readings=_readings(number, one, {key: key for key in READINGS}),
            )
        )
    return tuple(found)


@dataclass(slots=True, kw_only=True)
class KnownMachine:
    """The machine as it ran, as a function from its parameters to its readings.

    Parameters
    ----------
    parameters : tuple of Parameter
        In the order of every `z`.
    readings : tuple of Reading
        Those in use.
    near : dict
        A balance of each run to start from, by the number of the run.
    """

    job: Job
    compressor: Compressor
    capillary: CapillaryStock
    refrigerant: Refrigerant
    runs: tuple[Run, ...]
    parameters: tuple[Parameter, ...] = ()
    readings: tuple[Reading, ...] = ()
    near: dict[int, SteadyState] = field(default_factory=dict, repr=False)
    _kept: dict[int, tuple[Run, bytes, SteadyState]] = field(default_factory=dict, repr=False)
    _mine: dict[int, NDArray[np.int64]] = field(default_factory=dict, repr=False)
    _unweighed: Measured | None = None  # first guess of a charge that nobody knows

    @property
    def keys(self) -> tuple[Key, ...]:
        """Keys of the parameters."""
        return tuple(p.key for p in self.parameters)

    def settle(self) -> None:
        """Solve every run at the best values, and list the parameters.

        Raises
        ------
        SolveError
            The machine as described has no balance in one of its rooms.
        """
        seen: dict[Key, Parameter] = {}
        for run in self.runs:
            try:
                self.near[run.number] = self._solve(run, {}, seen)
            except SolveError as error:
                raise replace(
                    error,
                    condition=f"the machine as it ran ({run.name}) has no balance: "
                    f"{error.condition}",
                ) from None
        self.parameters = tuple(seen.values())
        for run in self.runs:
            own = ("run", run.number)
            mine = [i for i, key in enumerate(self.keys) if key[0] != "run" or key[:2] == own]
            self._mine[run.number] = np.array(mine, dtype=np.int64)
        if not self.readings:
            self.readings = tuple(r for run in self.runs for r in run.readings)

    def balance(self, run: Run, z: FloatArray) -> SteadyState | None:
        """Steady state in the room of one run; None where there is none."""
        key = z[self._mine[run.number]].tobytes()
        kept = self._kept.get(run.number)
        if kept is not None and kept[0] is run and kept[1] == key:
            return kept[2]
        try:
            found = self._solve(run, dict(zip(self.keys, z.tolist(), strict=True)), {})
        except SolveError:
            return None
        self._kept[run.number] = (run, key, found)
        return found

    def predict(self, z: FloatArray) -> FloatArray | None:
        """The readings in use with parameters at `z`, in SI; None where a run has no balance."""
        found: dict[int, SteadyState] = {}
        for run in self.runs:
            if any(r.run == run.number for r in self.readings):
                balance = self.balance(run, z)
                if balance is None:
                    return None
                found[run.number] = balance
        return np.array([self.shown(r, found[r.run]) for r in self.readings])

    def shown(self, reading: Reading, balance: SteadyState) -> float:
        """What the instrument of a reading would show. [SI]"""
        return float(getattr(balance, READINGS[reading.key].state))

    def _solve(self, run: Run, z: Mapping[Key, float], seen: dict[Key, Parameter]) -> SteadyState:
        own = {key: z.get(_in_run(run, key), 0.0) for key in _ROOM}
        sample = Sample(z={**z, **own})
        room = replace(
            self.job.room, temperature=run.temperature, relative_humidity=run.relative_humidity
        )
        machine, line = assemble(
            replace(self.job, room=room, posterior=None),
            self.compressor,
            self.refrigerant,
            self.capillary,
            sample=sample,
        )
        table = self.refrigerant.table
        # Weighed then, else the plate's, else unknown.
        key = ("original", "charge") if run.charge is None else _in_run(run, ("charge",))
        charge = run.charge or self.job.original.charge or self._unweighed
        if charge is None:  # only the first time that a machine of unknown charge is solved
            target = filled(superheat=self.job.targets.superheat)
            full = solve(table, line, machine, target, near=self.near.get(run.number))
            charge = Measured(
                value=full.charge,
                sd=_UNKNOWN_CHARGE * full.charge,
                origin="inferred",
                note="not weighed: what fills the evaporator in the first room",
            )
            self._unweighed = charge
        mass = sample.number(key, charge, called=run.name)
        for one in sample.seen.values():
            if one.key in _ROOM:
                one = replace(one, key=_in_run(run, one.key), label=f"{run.name}: {one.label}")
            seen.setdefault(one.key, one)
        near = self.near.get(run.number)
        return solve(table, line, machine, fixed_charge(mass), near=near, tolerance=_TOLERANCE)


def _in_run(run: Run, key: Key) -> Key:
    """Key that a parameter of the room has in one run."""
    return ("run", run.number, key[-1])


def known_machine(job: Job) -> KnownMachine:
    """The machine of the job's plate, solved at its best guesses in every room it ran in.

    Raises
    ------
    JobError
        The job does not say what ran, or has no readings of it.
    SolveError
        The machine as described has no balance in one of its rooms.
    """
    original = job.original
    if original.compressor is None or original.refrigerant is None:
        raise JobError(
            what="the job does not say which compressor ran in the original",
            allowed="write [original.compressor] with its displacement or rating, or only with the "
            "name of one on the bench, and readings under [[ran_well]]",
            path=job.path,
            field="original",
        )
    runs = runs_of(job)
    if not runs:
        raise JobError(
            what="there is nothing to calibrate to",
            allowed="write what the plate says (power, water_removal) under [original], or "
            "readings of the machine when it ran well under [[ran_well]]",
            path=job.path,
            field="ran_well",
        )
    if original.capillary is None:
        raise JobError(
            what="the job does not say which capillary the original ran with",
            allowed="write [original.capillary] with bore and length",
            path=job.path,
            field="original.capillary",
        )
    machine = KnownMachine(
        job=job,
        compressor=original.compressor,
        capillary=original.capillary,
        refrigerant=load(original.refrigerant),
        runs=runs,
    )
    machine.settle()
    return machine

"""The machine as it ran: its parts, what it showed in which room, and what the model says it shows.

Readings come from the job: sets of them taken when it ran well, and the plate of the machine as
sold, which is one more set in the room of its rating.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.assemble import assemble
from sweatline.assembly.parameters import Draw, Uncertain
from sweatline.errors import JobError, SolveError
from sweatline.uncertainty.measured import Measured

if TYPE_CHECKING:
    from sweatline.job.model import CapillaryStock, Compressor, Job
    from sweatline.machine.balance import SteadyState
    from sweatline.refrigerant.refrigerant import Refrigerant

__all__ = ["PLATE", "READINGS", "KnownMachine", "Reading", "Run", "known_machine", "runs_of"]

FloatArray = NDArray[np.float64]

PLATE: Final = "the plate"

# Amperes are watts over volts and this. A run capacitor brings it near one, a motor without one
# runs at 0.6 to 0.7 (common practice).
POWER_FACTOR: Final = Measured(
    value=0.8, sd=0.12, origin="default", note="0.6 to 0.7 without a run capacitor, above 0.9 with"
)

# An unknown charge is first taken as the one that fills the evaporator.
_UNKNOWN_CHARGE: Final = 0.2

# Far below the effect of a tenth of a standard deviation of anything.
_TOLERANCE: Final = 1e-6

_ROOM: Final = ("room temperature", "room humidity")

# What an instrument shows, from a balance, the volts of the mains and the power factor.
READINGS: Final[Mapping[str, Callable[[SteadyState, float, float], float]]] = {
    "suction_pressure": lambda b, _v, _f: b.suction_pressure,
    "head_pressure": lambda b, _v, _f: b.discharge_pressure,
    "suction_temperature": lambda b, _v, _f: b.suction_temperature,
    "discharge_temperature": lambda b, _v, _f: b.discharge_temperature,
    "liquid_temperature": lambda b, _v, _f: b.liquid_temperature,
    "air_out_temperature": lambda b, _v, _f: b.air_out[0],
    "power": lambda b, _v, _f: b.total_power,
    "current": lambda b, v, f: b.total_power / (v * f),
    "water": lambda b, _v, _f: b.water,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One number that an instrument or the plate showed."""

    run: str
    key: str  # as in READINGS
    known: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One time at which the machine ran: the room, the charge if it was weighed, the readings."""

    name: str
    temperature: Measured  # K
    relative_humidity: Measured  # 0..1
    charge: Measured | None  # kg
    readings: tuple[Reading, ...]


def _readings(run: str, source: object, keys: Mapping[str, str]) -> tuple[Reading, ...]:
    found = ((key, getattr(source, attribute)) for key, attribute in keys.items())
    return tuple(Reading(run=run, key=key, known=k) for key, k in found if k is not None)


def runs_of(job: Job) -> tuple[Run, ...]:
    """Everything the job says the machine showed; empty when its compressor is not known."""
    original = job.original
    if original.compressor is None:
        return ()
    found = []
    plate = _readings(
        PLATE, original, {"power": "power", "current": "current", "water": "water_removal"}
    )
    t, rh = original.rating_temperature, original.rating_relative_humidity
    if plate and (t is None or rh is None):
        from sweatline.job.defaults import rating_condition

        usual_t, usual_rh = rating_condition(job.unit_system)
        t, rh = t or usual_t, rh or usual_rh
    if plate and t is not None and rh is not None:
        found.append(
            Run(name=PLATE, temperature=t, relative_humidity=rh, charge=None, readings=plate)
        )
    for one in job.ran_well:
        found.append(
            Run(
                name=one.name,
                temperature=one.temperature,
                relative_humidity=one.relative_humidity,
                charge=one.charge,
                readings=_readings(one.name, one, {key: key for key in READINGS}),
            )
        )
    return tuple(found)


@dataclass(slots=True, kw_only=True)
class KnownMachine:
    """The machine as it ran, as a function from its uncertain numbers to its readings."""

    job: Job
    compressor: Compressor
    capillary: CapillaryStock
    refrigerant: Refrigerant
    runs: tuple[Run, ...]
    numbers: tuple[Uncertain, ...] = ()  # in the order of every z
    readings: tuple[Reading, ...] = ()  # those in use
    near: dict[str, SteadyState] = field(default_factory=dict, repr=False)  # by run
    _kept: dict[str, tuple[bytes, SteadyState]] = field(default_factory=dict, repr=False)
    _mine: dict[str, NDArray[np.int64]] = field(default_factory=dict, repr=False)
    _unweighed: Measured | None = None  # first guess of a charge that nobody knows

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the uncertain numbers."""
        return tuple(u.name for u in self.numbers)

    def settle(self) -> None:
        """Solve every run at its best guesses, and list what is uncertain.

        Raises
        ------
        SolveError
            The machine as described has no balance in one of its rooms.
        """
        seen: dict[str, Uncertain] = {}
        for run in self.runs:
            try:
                self.near[run.name] = self._solve(run, {}, seen)
            except SolveError as error:
                raise replace(
                    error,
                    condition=f"the machine as it ran ({run.name}) has no balance: "
                    f"{error.condition}",
                ) from None
        if any(r.key == "current" for run in self.runs for r in run.readings):
            Draw(seen=seen).number("power factor", POWER_FACTOR)
        self.numbers = tuple(seen.values())
        for run in self.runs:
            others = tuple(f"{r.name}: " for r in self.runs if r is not run)
            self._mine[run.name] = np.array(
                [i for i, u in enumerate(self.numbers) if not u.name.startswith(others)]
                if others
                else range(len(self.numbers)),
                dtype=np.int64,
            )
        if not self.readings:
            self.readings = tuple(r for run in self.runs for r in run.readings)

    def balance(self, run: Run, z: FloatArray) -> SteadyState | None:
        """Steady state in the room of one run; None where there is none."""
        key = z[self._mine[run.name]].tobytes()
        kept = self._kept.get(run.name)
        if kept is not None and kept[0] == key:
            return kept[1]
        try:
            found = self._solve(run, dict(zip(self.names, z.tolist(), strict=True)), {})
        except SolveError:
            return None
        self._kept[run.name] = (key, found)
        return found

    def predict(self, z: FloatArray) -> FloatArray | None:
        """The readings in use at numbers `z`, in SI; None where a run has no balance."""
        found: dict[str, SteadyState] = {}
        for run in self.runs:
            if any(r.run == run.name for r in self.readings):
                balance = self.balance(run, z)
                if balance is None:
                    return None
                found[run.name] = balance
        return np.array([self.shown(r, found[r.run], z) for r in self.readings])

    def shown(self, reading: Reading, balance: SteadyState, z: FloatArray) -> float:
        """What the instrument of a reading would show. [SI]"""
        factor = POWER_FACTOR.value
        if "power factor" in self.names:
            factor = max(POWER_FACTOR.at(float(z[self.names.index("power factor")])), 0.3)
        return READINGS[reading.key](balance, self.job.supply.voltage.value, min(factor, 1.0))

    def _solve(self, run: Run, z: Mapping[str, float], seen: dict[str, Uncertain]) -> SteadyState:
        from sweatline.machine.balance import filled, fixed_charge, solve

        own = {name: z.get(f"{run.name}: {name}", 0.0) for name in _ROOM}
        draw = Draw(z={**z, **own})
        room = replace(
            self.job.room, temperature=run.temperature, relative_humidity=run.relative_humidity
        )
        machine, line = assemble(
            replace(self.job, room=room, learned=None),
            self.compressor,
            self.refrigerant,
            self.capillary,
            draw=draw,
        )
        table = self.refrigerant.table
        name, charge = self._charge(run)
        if charge is None:  # only the first time that a machine of unknown charge is solved
            target = filled(superheat=self.job.targets.superheat)
            full = solve(table, line, machine, target, near=self.near.get(run.name))
            charge = Measured(
                value=full.charge,
                sd=_UNKNOWN_CHARGE * full.charge,
                origin="inferred",
                note="not weighed: what fills the evaporator in the first room",
            )
            self._unweighed = charge
        mass = draw.number(name, charge)
        for key, one in draw.seen.items():
            own_name = f"{run.name}: {key}" if key in _ROOM else key
            seen.setdefault(own_name, replace(one, name=own_name))
        near = self.near.get(run.name)
        return solve(table, line, machine, fixed_charge(mass), near=near, tolerance=_TOLERANCE)

    def _charge(self, run: Run) -> tuple[str, Measured | None]:
        """Name and value of the charge in a run: weighed then, else the plate's, else unknown."""
        if run.charge is not None:
            return f"{run.name}: charge", run.charge
        return "charge", self.job.original.charge or self._unweighed


def known_machine(job: Job) -> KnownMachine:
    """The machine of the job's plate, solved at its best guesses in every room it ran in.

    Raises
    ------
    JobError
        The job does not say what ran, or has no readings of it.
    SolveError
        The machine as described has no balance in one of its rooms.
    """
    from sweatline.refrigerant.refrigerant import load

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

"""The machine that is proved: trial runs in its room, and itself carried to other rooms."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, Final

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Answer, Q, Range, range_of
from sweatline.assembly.build import Build
from sweatline.assembly.trial_runs import TRIAL_TOLERANCE
from sweatline.bench.proof.observables import OBSERVABLES, Observable
from sweatline.errors import SolveError
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.machine.circuit import MachineParameters
from sweatline.machine.room_map import in_room
from sweatline.uncertainty.posterior import most_probable
from sweatline.uncertainty.sensitivity import normal_samples

FloatArray = NDArray[np.float64]

_CHARGED_SD: Final = 0.05  # how near to the wanted charge it is charged: 19 in 20 within a tenth
_FITS: Final = 2  # times that a sampled machine is fitted anew where it then is
_OWN: Final = 3  # charge, temperature and humidity of the room, behind the build's parameters
# Rooms of test procedures. 65 and 80 °F, 60 %RH: federal appendices X1 and X (PUBLISHED);
# 30 °C, 80 %RH: European trade rating (PUBLISHED); 27 °C, 60 %RH: East Asian (MEMORY 0.75).
RATING_ROOMS: Final = (
    ("US test, portable", 291.483, 0.60),
    ("US test before 2019", 299.817, 0.60),
    ("European trade rating", 303.15, 0.80),
    ("East Asian rating", 300.15, 0.60),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedRoom(Answer):
    """The machine as it is now, in a room of a test procedure."""

    name: str
    temperature: Annotated[float, Q("temperature", "room")]
    relative_humidity: Annotated[float, Q("relative humidity", "", digits=2)]
    water: Annotated[Range, Q("water removal", "water", digits=2)]
    power: Annotated[Range, Q("power", "watts with the fan")]
    water_per_energy: Annotated[Range, Q("water per energy", "water per energy", digits=2)]
    freezes: bool
    """The coil is below freezing there: frost will take water from this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One trial run in the room in which it was read."""

    machine: MachineParameters
    balance: SteadyState | None
    shown: FloatArray  # what the instruments would show, in the order of the readings
    noise: Mapping[str, float]  # of each instrument, in standard deviations


@dataclass(slots=True, kw_only=True)
class ProvedMachine:
    """The build in the room in which it was read, as a function of what is uncertain.

    Parameters
    ----------
    room, room_sd : tuple of float
        Temperature and humidity as read, and their standard errors. [K], [0..1]
    read, sds : mapping
        What was read, and its standard errors, by the field. [SI]
    """

    build: Build
    room: tuple[float, float]
    room_sd: tuple[float, float]
    read: Mapping[str, float]
    sds: Mapping[str, float]
    observed: tuple[Observable, ...] = ()
    nominal: SteadyState = field(init=False)
    there: SteadyState = field(init=False)

    def __post_init__(self) -> None:
        self.observed = tuple(o for o in OBSERVABLES if o.field in self.read)
        target = filled(superheat=self.build.job.targets.superheat)
        self.nominal = self.build.solve(target, near=self.build.designed)
        moved = in_room(self.build.machine, *self.room, self.pressure)
        self.there = solve(
            self.build.refrigerant.table, self.build.line, moved,
            fixed_charge(self.nominal.charge), near=self.nominal,
        )  # fmt: skip

    @property
    def pressure(self) -> float:
        """Atmospheric. [Pa]"""
        return self.build.job.place.atmospheric_pressure

    @property
    def dimensions(self) -> int:
        """Of everything uncertain but the instruments."""
        return len(self.build.parameters) + _OWN

    def charged(self, z: FloatArray) -> tuple[MachineParameters, Any, float] | None:
        """Machine, line of the air and charge at `z`; None where it cannot be charged."""
        n = len(self.build.parameters)
        machine, line = self.build.moved(self.build.by_key(z[:n]))
        target = filled(superheat=self.build.job.targets.superheat)
        try:
            full = solve(
                self.build.refrigerant.table, line, machine, target, near=self.nominal,
                tolerance=TRIAL_TOLERANCE,
            )  # fmt: skip
        except SolveError:
            return None
        return machine, line, full.charge * math.exp(_CHARGED_SD * z[n])

    def state(self, z: FloatArray) -> tuple[MachineParameters, SteadyState] | None:
        """Machine and steady state in the room at `z`; None where there is none."""
        found = self.charged(z)
        if found is None:
            return None
        machine, line, charge = found
        t, rh = (
            value + sd * float(off)
            for value, sd, off in zip(self.room, self.room_sd, z[-2:], strict=True)
        )
        moved = in_room(machine, t, min(max(rh, 0.02), 1.0), self.pressure)
        try:
            balance = solve(
                self.build.refrigerant.table, line, moved, fixed_charge(charge),
                near=self.there, tolerance=TRIAL_TOLERANCE,
            )  # fmt: skip
        except SolveError:
            return None
        return moved, balance

    def predict(self, z: FloatArray) -> FloatArray | None:
        """What exact instruments would show at `z`. [SI]"""
        found = self.state(z)
        return None if found is None else self.shown(*found)

    def shown(self, machine: MachineParameters, balance: SteadyState) -> FloatArray:
        """What exact instruments show of a steady state. [SI]"""
        return np.array([o.shown(balance, machine, self.pressure) for o in self.observed])

    def trials(self, count: int) -> list[Run]:
        """Trial runs, each read with instruments of its own."""
        n = self.dimensions
        extra = [o.field for o in self.observed] + ["room_temperature", "room_humidity"]
        runs = []
        for row in normal_samples(n + len(extra), count):
            noise = dict(zip(extra, row[n:].tolist(), strict=True))
            found = self.state(row[:n])
            if found is None:
                runs.append(Run(machine=self.build.machine, balance=None,
                                 shown=np.zeros(0), noise=noise))  # fmt: skip
                continue
            errors = [self.sds[o.field] * noise[o.field] for o in self.observed]
            runs.append(Run(machine=found[0], balance=found[1],
                             shown=self.shown(*found) + np.array(errors), noise=noise))  # fmt: skip
        return runs

    def together(self, shown: FloatArray) -> float | None:
        """Chance of readings at least as far from the trial runs, all of them together.

        Hotelling's test of one new observation: with the covariance of n samples of p readings,
        (n - p) n / (p (n^2 - 1)) D^2 has an F distribution (textbook).
        """
        n, p = shown.shape
        if p < 2:
            return None
        from scipy.stats import f

        off = np.array([self.read[o.field] for o in self.observed]) - shown.mean(axis=0)
        covariance = np.cov(shown, rowvar=False)
        distance = float(off @ np.linalg.solve(covariance, off))
        return float(f.sf(distance * (n - p) * n / (p * (n * n - 1.0)), p, n - p))

    def fitted(self, count: int) -> list[FloatArray]:
        """Samples of everything uncertain, given the readings.

        Each is drawn from what was known before and fitted to the readings with errors of their
        own; exact where the readings are linear (randomised maximum likelihood: Oliver, He and
        Reynolds, "Conditioning permeability fields to pressure data", 1996). The slopes are those
        of the most probable machine.
        """
        spread = np.array([self.sds[o.field] for o in self.observed])
        measured = np.array([self.read[o.field] for o in self.observed])
        found = most_probable(
            self.predict, measured=measured, spread=spread, parameters=self.dimensions
        )
        g, m = found.response, len(measured)
        gain = g.T @ np.linalg.inv(g @ g.T + np.eye(m))
        fitted = []
        for row in normal_samples(self.dimensions + m, count, seed=21):
            drawn, wanted = row[:-m], measured / spread + row[-m:]
            z, shown = found.mean, found.predicted
            for _ in range(_FITS):
                z = drawn + gain @ (wanted - shown / spread - g @ (drawn - z))
                there = self.predict(z)
                if there is None:
                    break
                shown = there
            else:
                fitted.append(drawn + gain @ (wanted - shown / spread - g @ (drawn - z)))
        return fitted

    def rated(self, count: int) -> tuple[RatedRoom, ...]:
        """The machine as these readings have it, in the rooms of the test procedures."""
        table = self.build.refrigerant.table
        seen: list[list[SteadyState]] = [[] for _ in RATING_ROOMS]
        for z in self.fitted(count):
            made = self.charged(z)
            if made is None:
                continue
            machine, line, charge = made
            near = self.there
            for k, (_name, t, rh) in enumerate(RATING_ROOMS):
                moved = in_room(machine, t, rh, self.pressure)
                try:
                    near = solve(
                        table, line, moved, fixed_charge(charge), near=near,
                        tolerance=TRIAL_TOLERANCE,
                    )  # fmt: skip
                except SolveError:
                    continue
                seen[k].append(near)
        return tuple(
            RatedRoom(
                name=name,
                temperature=t,
                relative_humidity=rh,
                water=range_of([b.water for b in balances]),
                power=range_of([b.total_power for b in balances]),
                water_per_energy=range_of([b.water_per_energy or 0.0 for b in balances]),
                freezes=sum(b.frost_share > 0.0 for b in balances) > len(balances) / 2,
            )
            for (name, t, rh), balances in zip(RATING_ROOMS, seen, strict=True)
            if len(balances) > count // 2
        )

"""A simulated machine, drawn from what a job leaves open, and what can be read off it.

Whoever charges it knows the job and the readings, not the draw nor the fault. Its instruments lag
and err.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final, Literal

import numpy as np

from sweatline.assembly.build import Build, build_for
from sweatline.charging.adviser import BEGUN
from sweatline.charging.preparation import well_charged
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.frost import metal_heat
from sweatline.diagnosis.causes import CAUSES
from sweatline.diagnosis.faults import Fault, at_rest, fault_of, faulted, misread
from sweatline.diagnosis.observed import Seen, traits_of, without_error
from sweatline.job.model import Job
from sweatline.log.channels import CHANNELS
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.machine.transient import Snapshot, Transient
from sweatline.machine.transient_step import HeatCapacities
from sweatline.parts.motor import running_current
from sweatline.refrigerant.safety_data import safety_data
from sweatline.safety.start_gear import start_rule, start_verdict

_LAG: Final = 25.0  # s, thermometer clamped to a tube
_SCALE_STEP: Final = 1e-3  # kg, of the scale under the cylinder
_VAPOUR_RATE: Final = 2e-3  # kg/s through a hose with its valve a little open
_LIQUID_RATE: Final = 10e-3  # kg/s
_MORE_STREAM: Final = 0xA1  # of the instruments beside those of a short round
_PLAIN: Final = 0.35  # of its flow that a tube lacks when nobody misses it (judged)
_BESIDE_STREAM: Final = 0xB5  # of those that are fetched for a look
# Scatter of one reading of each instrument of a short round, in SI; of watts as a share.
_SCATTER: Final = {
    "suction gauge": 1e3, "head gauge": 3e3, "suction gas": 0.1, "liquid line": 0.1, "watts": 2e-3,
}  # fmt: skip
_MORE: Final = ("discharge gas", "air between", "air out")
_MORE_SCATTER: Final = 0.1  # K


@dataclass(slots=True)
class Extremes:
    """What a machine went through while it ran."""

    head: float = 0.0  # Pa, highest
    discharge: float = 0.0  # K, hottest gas
    coil: float = 1e3  # K, coldest surface
    suction: float = 1e9  # Pa, lowest
    most: float = 0.0  # kg in it
    frozen_for: float = 0.0  # s with a surface of the evaporator below 0 °C
    wet_for: float = 0.0  # s with liquid leaving the evaporator
    liquid_for: float = 0.0  # s with liquid reaching the compressor

    def pass_through(self, snapshot: Snapshot, duration: float) -> None:
        """Take in a moment that lasted so long. [s]"""
        self.head = max(self.head, snapshot.discharge_pressure)
        self.discharge = max(self.discharge, snapshot.discharge_temperature)
        self.coil = min(self.coil, snapshot.coil_temperature)
        self.suction = min(self.suction, snapshot.suction_pressure)
        self.most = max(self.most, snapshot.charge)
        if snapshot.coil_temperature < ZERO_CELSIUS:
            self.frozen_for += duration
        if snapshot.superheat <= 0.0:
            self.wet_for += duration
            if snapshot.suction_temperature <= snapshot.evaporating_temperature + 0.05:
                self.liquid_for += duration


@dataclass(slots=True)
class SimulatedMachine:
    """A machine with hidden numbers, and what a person can read off it."""

    build: Build
    run: Transient
    card: SteadyState  # charged right by the job's best values: all that is known of it
    full: SteadyState  # itself, mended, evaporator filled: for the score only
    chance: np.random.Generator
    weighed: float  # kg, what the scale says has gone in
    offsets: dict[str, float]  # of the instruments, for this day
    start: SteadyState  # as it ran at the beginning, its fault included
    fault: Fault | None = None
    lost: float = 0.0  # kg, through a leak
    extremes: Extremes = field(default_factory=Extremes)
    clamps: dict[str, float] = field(default_factory=dict)  # K, what clamped thermometers came to
    beside: np.random.Generator = field(default_factory=np.random.default_rng)
    _rate: float = _VAPOUR_RATE

    def __post_init__(self) -> None:
        self.clamps = _tubes(self.run.snapshot)
        self.extremes.pass_through(self.run.snapshot, 0.0)

    def wait(self, seconds: float) -> None:
        """Let the machine run, or stand.

        Raises
        ------
        SolveError
            It cannot be followed any further: one of its sides has run empty, or full.
        """
        left = seconds
        while left > 0.0:
            now = min(left, 10.0)
            if self.fault is not None and self.fault.kind.key == "leak":
                out = self.fault.size * now / 60.0
                self.run.add(-out, rate=self._rate)
                self.lost += out
            snapshot = self.run.run(now)
            if self.run.running:
                self.extremes.pass_through(snapshot, now)
            share = 1.0 - math.exp(-now / _LAG)
            for name, value in _tubes(snapshot).items():
                self.clamps[name] += share * (value - self.clamps[name])
            left -= now

    def add(self, mass: float, phase: Literal["liquid", "vapour"] = "vapour") -> float:
        """Let in about so much; returns what the scale says went in. [kg]"""
        real = max(mass * (1.0 + 0.05 * self.chance.standard_normal()), 0.0)
        self._rate = _VAPOUR_RATE if phase == "vapour" else _LIQUID_RATE
        self.run.add(real, rate=self._rate)
        told = round((real + 0.3e-3 * self.chance.standard_normal()) / _SCALE_STEP) * _SCALE_STEP
        self.weighed += told
        return float(told)

    def switch(self, *, on: bool) -> str:
        """Switch compressor and fan on or off; why it will not start, if it will not.

        Raises
        ------
        SolveError
            It cannot be followed any further.
        """
        if not on:
            self.run.stop()
            return ""
        now = self.run.snapshot
        rule = start_rule(pressure=now.suction_pressure, let_in_since=True)
        if not rule.allowed:
            return rule.reason
        found = start_verdict(
            starting_torque=self.build.compressor.starting_torque,
            difference=now.discharge_pressure - now.suction_pressure,
        )
        if found.verdict == "wrong":
            return found.sentence
        self.run.start()
        return ""

    @property
    def best(self) -> float:
        """The charge that fills its evaporator once its fault is mended. [kg]"""
        return self.full.charge

    @property
    def usual_phase(self) -> Literal["liquid", "vapour"]:
        """How its refrigerant is taken from the cylinder: a blend as liquid, a sip at a time."""
        as_liquid = safety_data(self.build.refrigerant.name).charge_as == "liquid"
        return "liquid" if as_liquid else "vapour"

    def settled(
        self, charge: float | None = None, *, scatter: np.random.Generator | None = None
    ) -> dict[str, float]:
        """What a whole round would come to with a charge, by default what is in. [Pa, K, W, A]

        Parameters
        ----------
        charge : float, optional
            [kg]
        scatter : Generator, optional
            Of single readings; by default they have none.
        """
        run = self.run
        near = self.full if self.fault is None else self.start
        target = fixed_charge(charge or run.charge)
        found = solve(run.table, run.line, run.machine, target, near=near)
        shown = {
            "suction gas": found.evaporating_temperature + found.superheat,
            "air between": found.air_between_temperature,
            "air out": found.air_out_temperature,
        }
        shown |= {name: getattr(found, CHANNELS[name].state) for name in _SETTLED}
        noise = {
            name: 0.0 if scatter is None else one_reading(name) * float(scatter.standard_normal())
            for name in shown
        }
        return self._misread(
            {
                name: self._off(name, value, noise[name])
                for name, value in shown.items()
                if value is not None
            }
        )

    def read_beside(self, channel: str) -> float:
        """Any reading that a diagnosis knows, once it has settled; of one at rest, at rest. [SI]"""
        run, room = self.run, self.build.job.room
        near = self.full if self.fault is None else self.start
        found = solve(
            run.table, run.line, run.machine, fixed_charge(run.charge), near=near, profiles=True
        )
        here = (room.temperature.value, room.relative_humidity.value)
        true = without_error([channel], traits_of(Seen(self.build, run.machine, found, here)))[0]
        by = _READ_BY.get(channel, channel)
        if by not in self.offsets:
            error = self.beside.standard_normal() * (CHANNELS[by].sd or 0.03)
            self.offsets[by] = float(error)
        return self._misread({by: self._off(by, true)})[by]

    def looked_at(self, cause: str, about: Sequence[str]) -> bool:
        """Whether a look for a cause of a diagnosis, at these instruments, finds it.

        A tube is tried with dry nitrogen: the less it lets through, the surer that is seen.
        """
        wrong = self.fault
        if wrong is None:
            return False
        if CAUSES[cause].part == "instrument":
            return wrong.place in about
        if (CAUSES[cause].fault or cause) != wrong.kind.key:
            return False
        if cause == "restriction":
            return bool(self.beside.uniform() < (1.0 - wrong.size) / _PLAIN)
        return True

    def _off(self, name: str, value: float, noise: float = 0.0) -> float:
        """A value as its instrument shows it, with the instrument's own error of the day."""
        error = self.offsets[name] + noise
        return value * (1.0 + error) if CHANNELS[name].relative else value + error

    def filled(self) -> SteadyState:
        """As it stands, with its fault, charged until the evaporator is filled.

        Raises
        ------
        SolveError
            No charge fills it.
        """
        if self.fault is None:
            return self.full
        run = self.run
        target = filled(superheat=self.build.job.targets.superheat)
        return solve(run.table, run.line, run.machine, target, near=self.start)

    def read(self) -> dict[str, float]:
        """A short round: both gauges, suction gas, liquid line, watts. [Pa, K, W]"""
        now = self.run.snapshot
        air = self.run.machine.air
        fans = air.fan_power + air.condenser_fan_power if self.run.running else 0.0
        true = {
            "suction gauge": now.suction_pressure,
            "head gauge": now.discharge_pressure,
            "suction gas": self.clamps["suction gas"],
            "liquid line": self.clamps["liquid line"],
            "watts": now.power + fans,
        }
        noise = self.chance.standard_normal(len(true))
        return self._misread(
            {
                name: self._off(name, value, _SCATTER[name] * float(e))
                for (name, value), e in zip(true.items(), noise, strict=True)
            }
        )

    def read_all(self) -> dict[str, float]:
        """The same with discharge gas, both airs and amps: a whole round. [Pa, K, W, A]"""
        now = self.run.snapshot
        found = self.read()
        true = (self.clamps["discharge gas"], now.air_between[0], now.air_out[0])
        noise = self.chance.standard_normal(len(true))
        for name, value, e in zip(_MORE, true, noise, strict=True):
            found[name] = self._off(name, value, _MORE_SCATTER * float(e))
        machine = self.run.machine
        fans = machine.air.fan_power + machine.air.condenser_fan_power
        current = running_current(machine.motor, now.power, fans)
        if self.run.running and current is not None:
            found["amps"] = self._off("amps", current)
        return found

    def _misread(self, readings: dict[str, float]) -> dict[str, float]:
        foreign = self.fault is not None and self.fault.kind.key == "non-condensable"
        if foreign and not self.run.running:
            # At rest it spreads through the circuit and adds its share of the air's pressure.
            excess = at_rest(self.build, self.run.machine.non_condensable_pressure)
            for gauge in ("suction gauge", "head gauge"):
                readings[gauge] += excess
        return misread(self.fault, readings, self.run.machine.air.ambient)


_READ_BY: Final = {"standing pressure": "suction gauge"}  # another channel's instrument
_SETTLED: Final = ("suction gauge", "head gauge", "liquid line", "discharge gas", "watts", "amps")


def one_reading(channel: str) -> float:
    """Standard deviation of single readings of an instrument. [Pa, K; W, A: shares]"""
    return _SCATTER.get(channel, _MORE_SCATTER if channel in _MORE else 0.0)


def _tubes(now: Snapshot) -> dict[str, float]:
    """Temperatures of the tubes that carry clamped thermometers. [K]"""
    return {
        "suction gas": now.evaporating_temperature + now.superheat,
        "liquid line": now.liquid_temperature,
        "discharge gas": now.discharge_temperature,
    }


def simulate(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    seed: int = 1,
    fault: str | None = None,
) -> SimulatedMachine:
    """A simulated machine made of parts of a job, with a fault of this kind if one is named.

    It is drawn from what the job says, without what readings of the machine as it ran teach.

    Raises
    ------
    JobError
        No such fault.
    SolveError
        The parts, or the drawn machine, have no balance.
    """
    if fault is not None:
        fault_of(fault, seed, 1.0)  # a wrong name is told before the long work
    build = build_for(
        replace(job, posterior=None),
        compressor=compressor,
        refrigerant=refrigerant,
        capillary=capillary,
        length=length,
    )
    card = well_charged(build)
    wrong = None if fault is None else fault_of(fault, seed, card.charge)
    return simulated_machine(build, card, seed, fault=wrong)


def simulated_machine(
    build: Build,
    card: SteadyState,
    seed: int,
    *,
    fault: Fault | None = None,
    off: Sequence[Fault] = (),
) -> SimulatedMachine:
    """A machine drawn from what the job leaves open, running with a part of its charge.

    Parameters
    ----------
    build, card : Build, SteadyState
        The parts, and their balance with the evaporator filled by the job's best values.
    seed : int
        Of the draw, from 0. The same seed is the same machine, with a fault or without.
    fault : Fault, optional
        What is wrong with it.
    off : sequence of Fault
        Changes by which it is another machine than the job allows for, with nothing wrong.

    Raises
    ------
    SolveError
        The drawn machine has no balance.
    """
    chance = np.random.default_rng(seed)
    z = {p.key: float(chance.standard_normal()) for p in build.parameters}
    machine, line = build.moved(z)
    for change in off:
        machine = faulted(machine, change, build)
    table = build.refrigerant.table
    target = filled(superheat=build.job.targets.superheat)
    best = solve(table, line, machine, target, near=card)
    as_it_is = faulted(machine, fault, build)
    start = solve(table, line, as_it_is, fixed_charge(BEGUN * best.charge), near=best)
    evaporator = metal_heat(machine)
    capacities = HeatCapacities(
        shell=float(chance.uniform(2500.0, 6000.0)),
        evaporator=evaporator,
        condenser=1.3 * evaporator,
        liquid_lag=float(chance.uniform(5.0, 20.0)),
    )
    more = np.random.default_rng([seed, _MORE_STREAM])
    offsets = {name: CHANNELS[name].sd * float(chance.standard_normal()) for name in _SCATTER}
    others = (*_MORE, "amps")
    offsets |= {name: CHANNELS[name].sd * float(more.standard_normal()) for name in others}
    return SimulatedMachine(
        build=build,
        run=Transient(table, line, as_it_is, start, capacities),
        card=card,
        full=best,
        chance=chance,
        weighed=start.charge,
        offsets=offsets,
        start=start,
        fault=fault,
        beside=np.random.default_rng([seed, _BESIDE_STREAM]),
    )

"""A machine that exists only here, drawn from what a job leaves open, and what can be read off it.

Whoever charges it knows the job and the readings, not the draw nor the fault. Its sensors lag and
err.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from sweatline.constants import ZERO_CELSIUS
from sweatline.log.channels import CHANNELS
from sweatline.training.faults import faulted, misread

if TYPE_CHECKING:
    from sweatline.assembly.build import Build
    from sweatline.machine.balance import SteadyState
    from sweatline.machine.transient import Snapshot, Transient
    from sweatline.training.faults import Fault

__all__ = ["Extremes", "Unseen", "unseen"]

_LAG: Final = 25.0  # s, thermometer clamped to a tube
_SCALE_STEP: Final = 1e-3  # kg, of the scale under the cylinder
_VAPOUR_RATE: Final = 2e-3  # kg/s through a hose with its valve a little open
_LIQUID_RATE: Final = 10e-3  # kg/s
_MORE_STREAM: Final = 0xA1  # of the instruments that the advice does not look at


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
class Unseen:
    """A machine with hidden numbers, and what a person can read off it."""

    build: Build
    run: Transient
    full: SteadyState  # mended, evaporator filled: for the score only
    chance: np.random.Generator
    weighed: float  # kg, what the scale says has gone in
    offsets: dict[str, float]  # of the gauges and thermometers, for this day
    start: SteadyState  # as it ran at the beginning, its fault included
    fault: Fault | None = None
    lost: float = 0.0  # kg, through a leak
    extremes: Extremes = field(default_factory=Extremes)
    _rate: float = _VAPOUR_RATE
    _pipe: float = 0.0  # K, what the clamp on the suction pipe has come to
    _liquid: float = 0.0
    _discharge: float = 0.0

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
            share = 1.0 - np.exp(-now / _LAG)
            self._pipe += share * (_outlet(snapshot) - self._pipe)
            self._liquid += share * (snapshot.liquid_temperature - self._liquid)
            self._discharge += share * (snapshot.discharge_temperature - self._discharge)
            left -= now

    def add(self, mass: float, phase: Literal["liquid", "vapour"] = "vapour") -> float:
        """Let in about so much; returns what the scale says went in. [kg]"""
        real = max(mass * (1.0 + 0.05 * self.chance.standard_normal()), 0.0)
        self._rate = _VAPOUR_RATE if phase == "vapour" else _LIQUID_RATE
        self.run.add(real, rate=self._rate)
        told = round((real + 0.3e-3 * self.chance.standard_normal()) / _SCALE_STEP) * _SCALE_STEP
        self.weighed += told
        return float(told)

    def switch_off(self) -> None:
        """Switch compressor and fan off.

        Raises
        ------
        SolveError
            It cannot be followed any further.
        """
        self.run.stop()

    def switch_on(self) -> str:
        """Switch it on again; why it will not start, if it will not."""
        from sweatline.safety.start_gear import start_verdict
        from sweatline.safety.vacuum_start import start_rule

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

    def settled(self) -> dict[str, float]:
        """What its gauges and watt-meter would come to with the charge that is in. [Pa, W]"""
        from sweatline.machine.balance import fixed_charge, solve

        run = self.run
        near = self.full if self.fault is None else self.start
        found = solve(run.table, run.line, run.machine, fixed_charge(run.charge), near=near)
        return self._misread(
            {
                "suction gauge": found.suction_pressure + self.offsets["suction"],
                "head gauge": found.discharge_pressure + self.offsets["head"],
                "watts": found.total_power * (1.0 + self.offsets["watts"]),
            }
        )

    def filled(self) -> SteadyState:
        """As it stands, with its fault, charged until the evaporator is filled.

        Raises
        ------
        SolveError
            No charge fills it.
        """
        from sweatline.machine.balance import filled, solve

        if self.fault is None:
            return self.full
        run = self.run
        target = filled(superheat=self.build.job.targets.superheat)
        return solve(run.table, run.line, run.machine, target, near=self.start)

    def read(self) -> dict[str, float]:
        """One round of the readings that the advice goes by, as they stand now. [Pa, K, W]"""
        m: Snapshot = self.run.snapshot
        air = self.run.machine.air
        fans = air.fan_power + air.condenser_fan_power if self.run.running else 0.0
        noise = self.chance.standard_normal(5)
        return self._misread(
            {
                "suction gauge": m.suction_pressure + self.offsets["suction"] + 1e3 * noise[0],
                "head gauge": m.discharge_pressure + self.offsets["head"] + 3e3 * noise[1],
                "suction gas": self._pipe + self.offsets["pipe"] + 0.1 * noise[2],
                "liquid line": self._liquid + self.offsets["liquid"] + 0.1 * noise[3],
                "watts": (m.power + fans) * (1.0 + self.offsets["watts"] + 0.002 * noise[4]),
            }
        )

    def read_all(self) -> dict[str, float]:
        """The same with discharge gas and both airs: a whole round at the machine. [Pa, K, W]"""
        m: Snapshot = self.run.snapshot
        found = self.read()
        noise = 0.1 * self.chance.standard_normal(3)
        found["discharge gas"] = self._discharge + self.offsets["discharge"] + noise[0]
        found["air between"] = m.air_between[0] + self.offsets["between"] + noise[1]
        found["air out"] = m.air_out[0] + self.offsets["out"] + noise[2]
        return found

    def _misread(self, readings: dict[str, float]) -> dict[str, float]:
        foreign = self.fault is not None and self.fault.kind.key == "non-condensable"
        if foreign and not self.run.running:
            # At rest it spreads through the circuit and adds its share of the air's pressure.
            assert self.fault is not None
            excess = self.fault.size * self.build.job.place.atmospheric_pressure
            for gauge in ("suction gauge", "head gauge"):
                readings[gauge] += excess
        return misread(self.fault, readings, self.run.machine.air.ambient)


def _outlet(snapshot: Snapshot) -> float:
    return snapshot.evaporating_temperature + snapshot.superheat


def unseen(
    build: Build, full: SteadyState, seed: int, *, begun: float = 0.55, fault: Fault | None = None
) -> Unseen:
    """A machine drawn from what the job leaves open, running with a part of its charge.

    Parameters
    ----------
    build, full : Build, SteadyState
        The parts, and their balance with the evaporator filled by the job's best values.
    seed : int
        Of the draw, from 0. The same seed is the same machine, with a fault or without.
    begun : float
        Share of its best charge that is in at the beginning. [-]
    fault : Fault, optional
        What is wrong with it.

    Raises
    ------
    SolveError
        The drawn machine has no balance.
    """
    from sweatline.design.frost import metal_heat
    from sweatline.machine.balance import filled, fixed_charge, solve
    from sweatline.machine.transient import HeatCapacities, Transient

    chance = np.random.default_rng(seed)
    z = {p.key: float(chance.standard_normal()) for p in build.parameters}
    machine, line = build.moved(z)
    table = build.refrigerant.table
    target = filled(superheat=build.job.targets.superheat)
    best = solve(table, line, machine, target, near=full)
    as_it_is = faulted(machine, fault, build)
    start = solve(table, line, as_it_is, fixed_charge(begun * best.charge), near=best)
    evaporator = metal_heat(machine)
    capacities = HeatCapacities(
        shell=float(chance.uniform(2500.0, 6000.0)),
        evaporator=evaporator,
        condenser=1.3 * evaporator,
        liquid_lag=float(chance.uniform(5.0, 20.0)),
    )
    offsets = {
        "suction": CHANNELS["suction gauge"].sd * float(chance.standard_normal()),
        "head": CHANNELS["head gauge"].sd * float(chance.standard_normal()),
        "pipe": CHANNELS["suction gas"].sd * float(chance.standard_normal()),
        "liquid": CHANNELS["suction gas"].sd * float(chance.standard_normal()),
        "watts": CHANNELS["watts"].sd * float(chance.standard_normal()),
    }
    more = np.random.default_rng([seed, _MORE_STREAM])
    for name in ("discharge", "between", "out"):
        offsets[name] = CHANNELS["suction gas"].sd * float(more.standard_normal())
    run = Transient(table, line, as_it_is, start, capacities)
    made = Unseen(
        build=build,
        run=run,
        full=best,
        chance=chance,
        weighed=start.charge,
        offsets=offsets,
        start=start,
        fault=fault,
    )
    made._pipe = _outlet(run.snapshot)
    made._liquid = run.snapshot.liquid_temperature
    made._discharge = run.snapshot.discharge_temperature
    made.extremes.pass_through(run.snapshot, 0.0)
    return made

"""Charging a machine that exists only here: to practise on, and to try a way of charging.

The machine is drawn from what the job leaves open: whoever charges it knows the job and the
readings, not the draw. Its sensors lag and err, and the person types a reading now and then.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from sweatline.bench.dosing import Dosing
from sweatline.bench.settling import Settling
from sweatline.errors import SolveError
from sweatline.study.foreknowledge import (
    CHARACTERS,
    GAUGE_SD,
    THERMOMETER_SD,
    WATTS_SD,
    settled_readings,
)

if TYPE_CHECKING:
    from sweatline.bench.dosing import Foreknowledge
    from sweatline.machine.balance import Balance
    from sweatline.machine.transient import Moment, Transient
    from sweatline.study.rig import Rig

__all__ = [
    "Attempt",
    "Unseen",
    "by_advice",
    "by_habit",
    "unseen",
]

_LAG: Final = 25.0  # s, thermometer clamped to a tube
_TYPED_EVERY: Final = 60.0  # s
_SCALE_STEP: Final = 1e-3  # kg, of the scale under the cylinder
_HABIT_DOSE: Final = 14.2e-3  # kg, half an ounce
_HABIT_WAIT: Final = 300.0  # s
_LONGEST: Final = 6.0 * 3600.0  # s


@dataclass(slots=True)
class Unseen:
    """A machine with hidden numbers, and what a person can read off it."""

    rig: Rig
    run: Transient
    full: Balance  # evaporator filled: for the score only
    chance: np.random.Generator
    weighed: float  # kg, what the scale says has gone in
    offsets: dict[str, float]  # of the gauges and thermometers, for this day
    _pipe: float = 0.0  # K, what the clamp on the suction pipe has come to
    _liquid: float = 0.0

    def wait(self, seconds: float) -> None:
        """Let the machine run."""
        left = seconds
        while left > 0.0:
            now = min(left, 10.0)
            moment = self.run.run(now)
            share = 1.0 - np.exp(-now / _LAG)
            outlet = moment.evaporating_temperature + moment.superheat
            self._pipe += share * (outlet - self._pipe)
            self._liquid += share * (moment.liquid_temperature - self._liquid)
            left -= now

    def add(self, mass: float) -> float:
        """Let in about so much; returns what the scale says went in. [kg]"""
        real = max(mass * (1.0 + 0.05 * self.chance.standard_normal()), 0.0)
        self.run.add(real)
        told = round((real + 0.3e-3 * self.chance.standard_normal()) / _SCALE_STEP) * _SCALE_STEP
        self.weighed += told
        return float(told)

    @property
    def best(self) -> float:
        """The charge that fills its evaporator. [kg]"""
        return self.full.charge

    def settled(self) -> dict[str, float]:
        """What its gauges and watt-meter would come to with the charge that is in. [Pa, W]"""
        from sweatline.machine.balance import fixed_charge, solve

        run = self.run
        found = solve(run.table, run.line, run.machine, fixed_charge(run.charge), near=self.full)
        return {
            "suction gauge": found.suction_pressure + self.offsets["suction"],
            "head gauge": found.discharge_pressure + self.offsets["head"],
            "watts": found.total_power * (1.0 + self.offsets["watts"]),
        }

    def read(self) -> dict[str, float]:
        """One round of readings, as they stand now. [Pa, K, W]"""
        m: Moment = self.run.moment
        air = self.run.machine.air
        fans = air.fan_power + air.condenser_fan_power
        noise = self.chance.standard_normal(5)
        return {
            "suction gauge": m.suction_pressure + self.offsets["suction"] + 1e3 * noise[0],
            "head gauge": m.discharge_pressure + self.offsets["head"] + 3e3 * noise[1],
            "suction gas": self._pipe + self.offsets["pipe"] + 0.1 * noise[2],
            "liquid line": self._liquid + self.offsets["liquid"] + 0.1 * noise[3],
            "watts": (m.power + fans) * (1.0 + self.offsets["watts"] + 0.002 * noise[4]),
        }


def unseen(rig: Rig, full: Balance, seed: int, *, begun: float = 0.55) -> Unseen:
    """A machine drawn from what the job leaves open, running with a part of its charge.

    Raises
    ------
    SolveError
        The drawn machine has no balance.
    """
    from sweatline.machine.balance import filled, fixed_charge, solve
    from sweatline.machine.transient import Stores, Transient
    from sweatline.study.frosting import metal_heat

    chance = np.random.default_rng(seed)
    z = {u.name: float(chance.standard_normal()) for u in rig.uncertain}
    machine, line = rig.drawn(z)
    table = rig.refrigerant.table
    target = filled(superheat=rig.job.targets.superheat)
    best = solve(table, line, machine, target, near=full)
    start = solve(table, line, machine, fixed_charge(begun * best.charge), near=best)
    evaporator = metal_heat(machine)
    stores = Stores(
        shell=float(chance.uniform(2500.0, 6000.0)),
        evaporator=evaporator,
        condenser=1.3 * evaporator,
        liquid_lag=float(chance.uniform(5.0, 20.0)),
    )
    offsets = {
        "suction": GAUGE_SD["suction"] * float(chance.standard_normal()),
        "head": GAUGE_SD["head"] * float(chance.standard_normal()),
        "pipe": THERMOMETER_SD * float(chance.standard_normal()),
        "liquid": THERMOMETER_SD * float(chance.standard_normal()),
        "watts": WATTS_SD * float(chance.standard_normal()),
    }
    run = Transient(table, line, machine, start, stores)
    made = Unseen(
        rig=rig,
        run=run,
        full=best,
        chance=chance,
        weighed=start.charge,
        offsets=offsets,
    )
    made._pipe = run.moment.evaporating_temperature + run.moment.superheat
    made._liquid = run.moment.liquid_temperature
    return made


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """How a charging ended."""

    way: Literal["advice", "habit"]
    charge: float  # kg, in the machine
    best: float  # kg
    additions: int
    time: float  # s
    most: float  # kg, the largest charge on the way
    # Settled readings foretold while they moved: low and high end, and what they would come to.
    foretold: tuple[tuple[float, float, float], ...] = ()
    gave_up: str = ""

    @property
    def miss(self) -> float:
        """Share by which it ended above the best charge."""
        return self.charge / self.best - 1.0


def by_advice(machine: Unseen, known: Foreknowledge) -> Attempt:
    """Charge by the advice: wait until the outlook is good enough, add the dose, stop in time."""
    dosing = Dosing(known)
    table = machine.rig.refrigerant.table
    additions = 0
    time = 0.0
    most = machine.run.charge
    settling = {name: Settling(c) for name, c in CHARACTERS.items()}
    foretold = []
    while time < _LONGEST:
        waited = 0.0
        while True:
            machine.wait(_TYPED_EVERY)
            waited += _TYPED_EVERY
            time += _TYPED_EVERY
            for name, value in machine.read().items():
                settling[name].update(time, value)
            outlooks = {name: s.outlook() for name, s in settling.items() if s.readings_seen}
            wide = any(
                o.high - o.low > 12.0 * CHARACTERS[name].tolerance for name, o in outlooks.items()
            )
            if waited >= 2.0 * _TYPED_EVERY and (not wide or waited >= 600.0):
                break
        values, fresh, standing = settled_readings(table, outlooks)
        for name, came_to in machine.settled().items():
            foretold.append((outlooks[name].low, outlooks[name].high, came_to))
        dosing.told(machine.weighed, values, fresh, standing)
        advice = dosing.advice(
            machine.weighed, smallest=2e-3, largest=0.12 * float(np.median(known.best))
        )
        if advice.action != "add":
            break
        machine.add(advice.dose)
        additions += 1
        for s in settling.values():
            s.disturb(time)
    machine.wait(30.0)
    most = max(most, machine.run.charge)
    return Attempt(
        way="advice",
        charge=machine.run.charge,
        best=machine.best,
        additions=additions,
        time=time,
        most=most,
        foretold=tuple(foretold),
    )


def by_habit(machine: Unseen, card: float) -> Attempt:
    """Half an ounce, wait five minutes, until the suction gauge shows the card's value. [Pa]"""
    additions = 0
    time = 0.0
    most = machine.run.charge
    gave_up = ""
    while time < _LONGEST:
        machine.wait(_HABIT_WAIT)
        time += _HABIT_WAIT
        if machine.read()["suction gauge"] >= card:
            break
        if machine.run.charge > 2.0 * machine.best:
            gave_up = "twice the best charge is in and the card's value has not come"
            break
        try:
            machine.add(_HABIT_DOSE)
            machine.wait(10.0)
        except SolveError as error:
            gave_up = error.condition
            break
        time += 10.0
        additions += 1
        most = max(most, machine.run.charge)
    return Attempt(
        way="habit",
        charge=machine.run.charge,
        best=machine.best,
        additions=additions,
        time=time,
        most=most,
        gave_up=gave_up,
    )

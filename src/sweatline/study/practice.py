"""Charging a machine that exists only here: to practise on, and to try a way of charging.

The machine is drawn from what the job leaves open: whoever charges it knows the job and the
readings, not the draw. Its sensors lag and err, and the person types a reading now and then.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.bench.dosing import Dosing, Foreknowledge
from sweatline.bench.settling import Character, Settling
from sweatline.errors import SolveError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sweatline.bench.settling import Outlook
    from sweatline.machine.balance import Balance
    from sweatline.machine.transient import Moment, Transient
    from sweatline.refrigerant.table import Table
    from sweatline.study.rig import Rig

__all__ = [
    "CHARACTERS",
    "Attempt",
    "Unseen",
    "by_advice",
    "by_habit",
    "foreknow",
    "settled_readings",
    "unseen",
]

FloatArray = NDArray[np.float64]

# Standard deviations of what a careful person reads: gauges of class 1.6 on their usual scales,
# clamp thermometers, a plug-in watt-meter (common practice).
_GAUGE_SD: Final = {"suction": 4e3, "head": 10e3}  # Pa
_THERMOMETER_SD: Final = 0.5  # K
_WATTS_SD: Final = 0.01  # relative
_LAG: Final = 25.0  # s, thermometer clamped to a tube
_TYPED_EVERY: Final = 60.0  # s
_SCALE_STEP: Final = 1e-3  # kg, of the scale under the cylinder
_HABIT_DOSE: Final = 14.2e-3  # kg, half an ounce
_HABIT_WAIT: Final = 300.0  # s
_LONGEST: Final = 6.0 * 3600.0  # s
_POINTS: Final = 15


def foreknow(
    rig: Rig, full: Balance, *, draws: int = 128, progress: Callable[[], None] | None = None
) -> Foreknowledge:
    """What drawn machines show from four tenths to one and a half of the best charge."""
    from sweatline.machine.balance import filled, fixed_charge
    from sweatline.study.spread import Waypoint, walks

    target = filled(superheat=rig.job.targets.superheat)
    shares = np.linspace(0.4, 1.5, _POINTS)
    way: dict[int, Waypoint] = {}
    order = sorted(range(_POINTS), key=lambda i: abs(shares[i] - 1.0))
    for i in order:
        near = full
        if way:
            near = way[min(way, key=lambda j: abs(j - i))].balance
        charge = float(shares[i] * full.charge)
        try:
            found = rig.solve(fixed_charge(charge), near=near)
        except SolveError:
            continue
        way[i] = Waypoint(balance=found, charge=charge, room=None)
    # From the full machine outwards, so that each state is next to one already known.
    stops = [way[i] for i in sorted(way)]
    found_walks = walks(rig, full, target, stops, count=draws, progress=progress)
    readings = np.array([[_channels(b) for b in row] for row in found_walks.balances])
    return Foreknowledge(
        charges=np.array([s.charge for s in stops]),
        readings=readings,
        best=np.array([b.charge for b in found_walks.first]),
    )


def _channels(b: Balance | None) -> list[float]:
    if b is None:
        return [np.nan] * 5
    logs = np.log([b.suction_pressure, b.discharge_pressure, b.total_power])
    return [float(logs[0]), float(logs[1]), b.superheat, b.subcooling, float(logs[2])]


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
        "suction": _GAUGE_SD["suction"] * float(chance.standard_normal()),
        "head": _GAUGE_SD["head"] * float(chance.standard_normal()),
        "pipe": _THERMOMETER_SD * float(chance.standard_normal()),
        "liquid": _THERMOMETER_SD * float(chance.standard_normal()),
        "watts": _WATTS_SD * float(chance.standard_normal()),
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


CHARACTERS: Final = {
    "suction gauge": Character(noise=1.5e3, span=4e4, tolerance=3e3),
    "head gauge": Character(noise=4e3, span=1e5, tolerance=8e3),
    "suction gas": Character(noise=0.15, span=5.0, tolerance=0.5),
    "liquid line": Character(noise=0.15, span=4.0, tolerance=0.5),
    "watts": Character(noise=1.0, span=20.0, tolerance=2.0),
}


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
            outlooks = {name: s.outlook() for name, s in settling.items()}
            wide = any(
                o.high - o.low > 12.0 * CHARACTERS[name].tolerance for name, o in outlooks.items()
            )
            if waited >= 2.0 * _TYPED_EVERY and (not wide or waited >= 600.0):
                break
        values, errors = settled_readings(table, outlooks)
        for name, came_to in machine.settled().items():
            foretold.append((outlooks[name].low, outlooks[name].high, came_to))
        dosing.told(machine.weighed, values, errors)
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


def settled_readings(
    table: Table, outlooks: Mapping[str, Outlook]
) -> tuple[FloatArray, FloatArray]:
    """Foretold settled readings in the order and form of the dosing, and their errors."""
    from sweatline.refrigerant.table import saturation

    o = {k: (v.settled, (v.high - v.low) / 3.29) for k, v in outlooks.items()}
    nothing = (float("nan"), 0.0)
    ps, ps_sd = o["suction gauge"]
    pd, pd_sd = o["head gauge"]
    suction, suction_sd = o["suction gas"]
    liquid, liquid_sd = o.get("liquid line", nothing)
    watts, watts_sd = o.get("watts", nothing)
    ps_sd = float(np.hypot(ps_sd, _GAUGE_SD["suction"]))
    pd_sd = float(np.hypot(pd_sd, _GAUGE_SD["head"]))
    dew = saturation(table, ps)[1]
    bubble = saturation(table, pd)[0]
    by_ps = saturation(table, ps + ps_sd)[1] - dew
    by_pd = saturation(table, pd + pd_sd)[0] - bubble
    values = np.array(
        [
            np.log(ps),
            np.log(pd),
            max(suction - dew, 0.0),
            np.maximum(bubble - liquid, 0.0),
            np.log(watts),
        ]
    )
    errors = np.array(
        [
            ps_sd / ps,
            pd_sd / pd,
            np.sqrt(suction_sd**2 + _THERMOMETER_SD**2 + by_ps**2),
            np.sqrt(liquid_sd**2 + _THERMOMETER_SD**2 + by_pd**2),
            np.hypot(watts_sd / watts, _WATTS_SD),
        ]
    )
    return values, errors


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

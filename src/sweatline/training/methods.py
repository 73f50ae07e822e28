"""Ways of charging a machine that exists only here: by the advice, and by a fixed habit.

A reading is typed a minute. What a person does by hand is in :mod:`sweatline.training.session`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from sweatline.charging.charge_prior import CHARACTERS, settled_readings
from sweatline.charging.dose_timing import largest_dose, smallest_dose, still_moving
from sweatline.charging.dosing import Dosing
from sweatline.charging.settling import Settling
from sweatline.errors import SolveError
from sweatline.training.simulated_machine import Unseen, unseen

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from sweatline.assembly.build import Build
    from sweatline.charging.dosing import ChargePrior
    from sweatline.machine.balance import SteadyState

    FloatArray = NDArray[np.float64]

__all__ = [
    "Attempt",
    "Unseen",
    "by_advice",
    "by_habit",
    "known_of",
    "unseen",
]

_TYPED_EVERY: Final = 60.0  # s
_HABIT_DOSE: Final = 14.2e-3  # kg, half an ounce
_HABIT_WAIT: Final = 300.0  # s
_LONGEST: Final = 6.0 * 3600.0  # s


def known_of(build: Build, full: SteadyState, *, draws: int = 128) -> ChargePrior:
    """What is known of a machine before charging, from disk if it was worked out before.

    Raises
    ------
    SolveError
        Hardly any of the drawn machines fills its evaporator.
    """
    from sweatline.charging.charge_prior import charge_prior
    from sweatline.charging.dosing import ChargePrior
    from sweatline.charging.prior_cache import cache_key, cached

    def made() -> Mapping[str, FloatArray]:
        drawn = charge_prior(build, full, draws=draws)
        return {"shares": drawn.shares, "readings": drawn.readings, "best": drawn.best}

    return ChargePrior(**cached(cache_key(build, draws), made))


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


def by_advice(machine: Unseen, known: ChargePrior) -> Attempt:
    """Charge by the advice: wait until the outlook is good enough, add the dose, stop in time."""
    dosing = Dosing(known)
    table = machine.build.refrigerant.table
    additions = 0
    time = 0.0
    most = machine.run.charge
    settling = {name: Settling(c) for name, c in CHARACTERS.items()}
    foretold = []
    guess = float(np.median(known.best))
    smallest, largest = smallest_dose(guess), largest_dose(guess)
    while time < _LONGEST:
        waited = 0.0
        while True:
            machine.wait(_TYPED_EVERY)
            waited += _TYPED_EVERY
            time += _TYPED_EVERY
            for name, value in machine.read().items():
                settling[name].update(time, value)
            outlooks = {name: s.outlook() for name, s in settling.items() if s.readings_seen}
            dosing.told(machine.weighed, *settled_readings(table, outlooks))
            advice = dosing.advice(machine.weighed, smallest=smallest, largest=largest)
            if not still_moving(advice, machine.weighed, outlooks, CHARACTERS, waited):
                break
            dosing.taken_back()
        for name, came_to in machine.settled().items():
            foretold.append((outlooks[name].low, outlooks[name].high, came_to))
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

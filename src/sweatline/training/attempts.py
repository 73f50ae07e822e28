"""Ways of charging a simulated machine: as the adviser says, and by a fixed habit.

A reading is written down a minute. What a person does by hand is a training session.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Hidden, Q
from sweatline.charging.adviser import Adviser
from sweatline.charging.preparation import Prepared
from sweatline.errors import SolveError
from sweatline.training.session import session_on
from sweatline.training.simulated_machine import SimulatedMachine

_TYPED_EVERY: Final = 60.0  # s
_HABIT_DOSE: Final = 14.2e-3  # kg, half an ounce
_HABIT_WAIT: Final = 300.0  # s
_LONGEST: Final = 6.0 * 3600.0  # s


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt(Answer):
    """How one way of charging ended on a machine."""

    way: Literal["hand", "advice", "habit"]
    charge: Annotated[float, Q("mass", "charged")]
    most: Annotated[float, Q("mass", "most ever in", "Ever in the machine.")]
    additions: int | None
    """Null where the machine could not be followed to the end."""
    time: Annotated[float, Q("time", "time")]
    gave_up: str = ""
    """Why it was broken off; empty when it was not."""
    best: Annotated[float, Hidden()] = 0.0  # kg
    # Settled readings foretold while they moved: low and high end, and what they would come to.
    foretold: Annotated[tuple[tuple[float, float, float], ...], Hidden()] = ()
    obstacle: Annotated[str, Hidden()] = ""  # that the adviser named at the end, by its key

    @property
    def miss(self) -> float:
        """Share by which it ended above the best charge."""
        return self.charge / self.best - 1.0


def by_advice(machine: SimulatedMachine, prepared: Prepared, *, seed: int = 0) -> Attempt:
    """Do what the adviser says of the log: wait, add the dose, stop."""
    foretold = []
    obstacle = ""
    session = session_on(machine, seed)
    with session.log as log:
        adviser = Adviser(prepared, log.about())
        session.open()
        while session.time < _LONGEST:
            session.wait(_TYPED_EVERY)
            advice = adviser.advise_on(log)
            if advice.action in ("wait", "read"):
                continue
            settles = {o.what: o.settles_SI for o in advice.outlooks}
            for name, came_to in machine.settled().items():
                if name in settles:
                    foretold.append((settles[name].low, settles[name].high, came_to))
            if advice.action != "add" or advice.dose is None:
                obstacle = advice.obstacles[0].key if advice.obstacles else ""
                break
            session.add(advice.dose, "vapour")
        additions, time = len(session.charged), session.time
    machine.wait(30.0)
    return Attempt(
        way="advice",
        charge=machine.run.charge,
        most=max(machine.extremes.most, machine.run.charge),
        additions=additions,
        time=time,
        best=machine.best,
        foretold=tuple(foretold),
        obstacle=obstacle,
    )


def by_habit(machine: SimulatedMachine) -> Attempt:
    """Half an ounce, wait five minutes, until the suction gauge shows the card's value."""
    additions = 0
    time = 0.0
    gave_up = ""
    while time < _LONGEST:
        machine.wait(_HABIT_WAIT)
        time += _HABIT_WAIT
        if machine.read()["suction gauge"] >= machine.card.suction_pressure:
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
    return Attempt(
        way="habit",
        charge=machine.run.charge,
        most=max(machine.extremes.most, machine.run.charge),
        additions=additions,
        time=time,
        best=machine.best,
        gave_up=gave_up,
    )

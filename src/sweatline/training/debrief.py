"""How well a machine that exists only here was charged, held against what could be known then.

Every addition is replayed: the readings written down up to it are followed as the settling does,
and the dosing is asked what it would have advised. The same machine is charged by the advice and
by the habit as well.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from sweatline.answers import Range
from sweatline.charging.charge_prior import CHARACTERS, settled_readings
from sweatline.charging.dose_timing import largest_dose, smallest_dose, still_moving, unsure
from sweatline.charging.dosing import DoseAdvice, Dosing
from sweatline.charging.settling import Outlook, Settling
from sweatline.charging.tracker import NEEDED
from sweatline.constants import ZERO_CELSIUS
from sweatline.errors import SolveError
from sweatline.training.methods import by_advice, by_habit
from sweatline.training.records import (
    AttemptRecord,
    DoseRecord,
    FaultRecord,
    PassedLimitRecord,
    PracticeRecord,
    SlipRecord,
)
from sweatline.training.session import Charged, Round, Switched

if TYPE_CHECKING:
    from sweatline.assembly.build import Build
    from sweatline.charging.dosing import ChargePrior
    from sweatline.machine.balance import SteadyState
    from sweatline.training.faults import Fault
    from sweatline.training.methods import Attempt
    from sweatline.training.session import Exercise
    from sweatline.training.simulated_machine import Unseen

__all__ = ["attempt_judged", "exercise_judged"]

# What gauges and thermometers alone can hardly tell apart.
_CLOSE: Final = (
    frozenset({"little-air", "fouled-condenser"}),
    frozenset({"little-air", "fouled-evaporator"}),
)

Ended = Literal["done", "interrupted", "broken off"]
Action = Literal["wait", "add", "stop", "take out"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """What could be known at a moment."""

    action: Action
    advice: DoseAdvice | None
    readings: Literal["settled", "foretold", "unsure"]
    unsure: tuple[str, ...]


class _Replay:
    """Follows what was written down, in the order in which it was."""

    def __init__(self, build: Build, known: ChargePrior) -> None:
        self.table = build.refrigerant.table
        self.dosing = Dosing(known)
        guess = float(np.median(known.best))
        self.smallest, self.largest = smallest_dose(guess), largest_dose(guess)
        self.settling = {name: Settling(c) for name, c in CHARACTERS.items()}
        self.fresh = False

    def read(self, found: Round) -> None:
        if not found.running:  # at rest nothing is on its way to a settled value
            return
        for one in found.jotted:
            if one.channel in self.settling:
                self.settling[one.channel].update(found.at, one.value)
        self.fresh = True

    def seen(self, weighed: float, waited: float) -> _Seen:
        """What the readings so far say, when so much is in [kg] and so long was waited. [s]"""
        outlooks: dict[str, Outlook] = {
            n: s.outlook() for n, s in self.settling.items() if s.readings_seen
        }
        wide = unsure(outlooks, CHARACTERS)
        readings: Literal["settled", "foretold", "unsure"] = "foretold"
        if wide:
            readings = "unsure"
        elif all(o.state == "settled" for o in outlooks.values()):
            readings = "settled"
        if not self.fresh or not self._usable(outlooks):
            return _Seen(action="wait", advice=None, readings="unsure", unsure=wide)
        with np.errstate(invalid="ignore"):  # what cannot be is left out by the dosing
            values, fresh, standing = settled_readings(self.table, outlooks)
        self.dosing.told(weighed, values, fresh, standing)
        self.fresh = False
        advice = self.dosing.advice(weighed, smallest=self.smallest, largest=self.largest)
        action: Action = advice.action
        if still_moving(advice, weighed, outlooks, CHARACTERS, waited):
            action = "wait"
        return _Seen(action=action, advice=advice, readings=readings, unsure=wide)

    def _usable(self, outlooks: Mapping[str, Outlook]) -> bool:
        """Whether the needed readings are there, and gauges are where a gauge can be."""
        low, high = self.table.p_min, self.table.p_max
        return all(n in outlooks for n in NEEDED) and all(
            low < outlooks[n].settled < high for n in ("suction gauge", "head gauge")
        )

    def stopped(self) -> None:
        """What was on its way is over."""
        self.settling = {name: Settling(c) for name, c in CHARACTERS.items()}
        self.fresh = False

    def disturb(self, at: float) -> None:
        for one in self.settling.values():
            one.disturb(at)


def exercise_judged(
    exercise: Exercise,
    known: ChargePrior,
    card: SteadyState,
    seed: int,
    *,
    hidden: bool = False,
    ended: Ended = "done",
    broken_off: str = "",
    progress: Callable[[], None] | None = None,
) -> PracticeRecord:
    """How a charging by hand went.

    Parameters
    ----------
    exercise : Exercise
        What was done and written down.
    known : ChargePrior
        Of this machine before charging; see :func:`sweatline.study.foreknowledge.charge_prior`.
    card : SteadyState
        Filled, by the job's best values: where the habit stops.
    seed : int
        Of the machine.
    hidden : bool
        Nobody was told the fault.
    ended, broken_off : str
        How it ended, and why it could not go on.
    """
    machine = exercise.machine
    replay = _Replay(machine.build, known)
    doses: list[DoseRecord] = []
    last = 0.0
    # In the order in which they happened; a round of the same moment was read before it.
    happened: list[Round | Charged | Switched] = [
        *exercise.rounds, *exercise.charged, *exercise.switched,
    ]  # fmt: skip
    for one in sorted(happened, key=_when):
        if isinstance(one, Round):
            replay.read(one)
            continue
        if isinstance(one, Switched):
            if not one.on:
                replay.stopped()
            last = one.at
            continue
        seen = replay.seen(one.before, one.at - last)
        doses.append(
            DoseRecord(
                time_s=one.at,
                weighed_kg=one.weighed,
                phase=one.phase,
                running=one.running,
                waited_s=one.at - last,
                readings=seen.readings,
                unsure=seen.unsure,
                advised=seen.action,
                advised_kg=_advised(seen),
                best_then_kg=_band(seen),
                odd=seen.advice is not None and seen.advice.odd,
            )
        )
        replay.disturb(one.at)
        last = one.at
    at_end = replay.seen(machine.weighed, exercise.time - last)
    slips = tuple(
        SlipRecord(time_s=r.at, what=j.channel, written=j.text, meant=j.meant)
        for r in exercise.rounds
        for j in r.jotted
        if j.meant
    )
    ways: tuple[Literal["advice", "habit"], ...] = ("advice", "habit")
    others = []
    for way in ways:
        others.append(_by(way, machine, known, card, seed))
        if progress is not None:
            progress()
    liquid = max(
        (d.weighed for d in exercise.charged if d.phase == "liquid" and d.running), default=0.0
    )
    return _record(
        machine,
        seed,
        way="hand",
        ended=ended,
        broken_off=broken_off,
        additions=len(exercise.charged),
        time=exercise.time,
        doses=tuple(doses),
        slips=slips,
        liquid=liquid,
        hidden=hidden,
        named=exercise.named,
        at_end=at_end,
        odd_from=_odd_from(doses, at_end, exercise.time),
        others=tuple(others),
    )


def _when(one: Round | Charged | Switched) -> tuple[float, bool]:
    return one.at, not isinstance(one, Round)


def attempt_judged(
    machine: Unseen, done: Attempt, seed: int, *, hidden: bool = False
) -> PracticeRecord:
    """How a charging by one of the ways went, without a replay.

    Parameters
    ----------
    machine : Unseen
        As it was left.
    done : Attempt
        What was done to it.
    seed : int
        Of the machine.
    hidden : bool
        The fault was to be found.
    """
    return _record(
        machine,
        seed,
        way=done.way,
        ended="broken off" if done.gave_up else "done",
        broken_off=done.gave_up,
        additions=done.additions,
        time=done.time,
        doses=(),
        slips=(),
        liquid=0.0,
        hidden=hidden,
        named="",
        at_end=_Seen(action="stop", advice=None, readings="unsure", unsure=()),
        odd_from=None,
        others=(),
    )


def _record(
    machine: Unseen,
    seed: int,
    *,
    way: Literal["hand", "advice", "habit"],
    ended: Ended,
    broken_off: str,
    additions: int,
    time: float,
    doses: tuple[DoseRecord, ...],
    slips: tuple[SlipRecord, ...],
    liquid: float,
    hidden: bool,
    named: str,
    at_end: _Seen,
    odd_from: float | None,
    others: tuple[AttemptRecord, ...],
) -> PracticeRecord:
    import sweatline
    from sweatline.job.summary import summary_of
    from sweatline.refrigerant.safety_data import safety_data

    build = machine.build
    try:
        best: float | None = machine.filled().charge
    except SolveError:
        best = None
    mend = machine.fault is not None
    return PracticeRecord(
        command="practice",
        version=sweatline.__version__,
        job=summary_of(build.job),
        cautions=(),
        notes=(*_barred(build, machine.full), _NOT_REAL),
        atmospheric_pressure_Pa=build.job.place.atmospheric_pressure,
        machine=build.name,
        seed=seed,
        way=way,
        ended=ended,
        broken_off=broken_off,
        begun_kg=machine.start.charge,
        charge_kg=machine.run.charge,
        weighed_kg=machine.weighed,
        lost_kg=machine.lost,
        best_charge_kg=best,
        mended_charge_kg=machine.best,
        most_kg=max(machine.extremes.most, machine.run.charge),
        additions=additions,
        time_s=time,
        doses=doses,
        limits=_passed(machine),
        charge_as=safety_data(build.refrigerant.name).charge_as,
        largest_liquid_kg=liquid,
        slips=slips,
        fault=_fault_record(machine.fault),
        fault_hidden=hidden,
        named=named,
        naming=_naming(machine.fault, named),
        next="mend" if mend else at_end.action,
        next_kg=None if mend else _advised(at_end),
        best_by_readings_kg=_band(at_end),
        odd_from_s=odd_from,
        others=others,
    )


_NOT_REAL: Final = "This machine exists only here; no figure of it belongs to a real one."


def _barred(build: Build, full: SteadyState) -> Iterator[str]:
    """What would stop the charging of a real machine of these parts."""
    from sweatline.design.static_limits import standing_verdicts

    for verdict in standing_verdicts(build, full):
        if verdict.final and verdict.state == "fails":
            yield f"A real one is not to be charged at all: {verdict.fault}."


def _advised(seen: _Seen) -> float | None:
    if seen.advice is None or seen.action not in ("add", "take out"):
        return None
    return seen.advice.dose


def _odd_from(doses: list[DoseRecord], at_end: _Seen, time: float) -> float | None:
    """When the readings first were odd, as far as it was asked. [s]"""
    for dose in doses:
        if dose.odd:
            return dose.time_s
    return time if at_end.advice is not None and at_end.advice.odd else None


def _band(seen: _Seen) -> Range | None:
    if seen.advice is None:
        return None
    low, median, high = seen.advice.best
    return Range(low=low, middle=median, high=high)


def _by(
    way: Literal["advice", "habit"],
    machine: Unseen,
    known: ChargePrior,
    card: SteadyState,
    seed: int,
) -> AttemptRecord:
    """The same machine from its beginning, charged another way."""
    from sweatline.training.simulated_machine import unseen

    again = unseen(machine.build, card, seed, fault=machine.fault)
    began = again.run.time
    try:
        if way == "advice":
            done = by_advice(again, known)
        else:
            done = by_habit(again, card.suction_pressure)
    except SolveError as error:
        return AttemptRecord(
            way=way,
            charge_kg=again.run.charge,
            most_kg=again.extremes.most,
            additions=None,
            time_s=again.run.time - began,
            gave_up=error.condition,
        )
    return AttemptRecord(
        way=done.way,
        charge_kg=done.charge,
        most_kg=max(done.most, again.extremes.most),
        additions=done.additions,
        time_s=done.time,
        gave_up=done.gave_up,
    )


def _passed(machine: Unseen) -> tuple[PassedLimitRecord, ...]:
    """Limits that were passed on the way."""
    limits = machine.build.limits()
    worst, now, start = machine.extremes, machine.run.snapshot, machine.start
    atmosphere = machine.build.job.place.atmospheric_pressure
    found = []
    if limits.high_side_pressure is not None and worst.head > limits.high_side_pressure:
        found.append(
            PassedLimitRecord(
                what="head pressure",
                reached_SI=worst.head,
                limit_SI=limits.high_side_pressure,
                time_s=None,
                at_start=start.discharge_pressure > limits.high_side_pressure,
                at_end=now.discharge_pressure > limits.high_side_pressure,
            )
        )
    if worst.discharge > limits.discharge_temperature:
        found.append(
            PassedLimitRecord(
                what="discharge gas",
                reached_SI=worst.discharge,
                limit_SI=limits.discharge_temperature,
                time_s=None,
                at_start=start.discharge_temperature > limits.discharge_temperature,
                at_end=now.discharge_temperature > limits.discharge_temperature,
            )
        )
    if worst.frozen_for > 0.0:
        found.append(
            PassedLimitRecord(
                what="frozen coil",
                reached_SI=worst.coil,
                limit_SI=ZERO_CELSIUS,
                time_s=worst.frozen_for,
                at_start=start.coil_temperature < ZERO_CELSIUS,
                at_end=now.coil_temperature < ZERO_CELSIUS,
            )
        )
    if worst.wet_for > 0.0:
        found.append(
            PassedLimitRecord(
                what="flooding back",
                reached_SI=worst.liquid_for,
                limit_SI=0.0,
                time_s=worst.wet_for,
                at_start=start.superheat <= 0.0,
                at_end=now.superheat <= 0.0,
            )
        )
    if worst.suction < atmosphere:
        found.append(
            PassedLimitRecord(
                what="vacuum",
                reached_SI=worst.suction,
                limit_SI=atmosphere,
                time_s=None,
                at_start=start.suction_pressure < atmosphere,
                at_end=now.suction_pressure < atmosphere,
            )
        )
    return tuple(found)


def _fault_record(fault: Fault | None) -> FaultRecord | None:
    if fault is None:
        return None
    kind = fault.kind
    return FaultRecord(
        key=kind.key,
        name=kind.name,
        place=fault.place,
        size_SI=fault.size,
        size_of=kind.quantity,
        means=kind.size,
        source=kind.source,
        shows=kind.shows,
        mend=kind.mend,
        of_machine=fault.of_machine,
    )


def _naming(fault: Fault | None, named: str) -> Literal["right", "close", "wrong", "not named"]:
    if not named:
        return "not named"
    true = "none" if fault is None else fault.kind.key
    if named == true:
        return "right"
    return "close" if frozenset({named, true}) in _CLOSE else "wrong"

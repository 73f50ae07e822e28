"""The debrief: how well a simulated machine was charged, held against what could be known then.

Every addition is replayed: the adviser is given the log as it stood when the addition was decided,
and asked what it would have said. The same machine is charged by the adviser and by the habit as
well.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from itertools import accumulate
from typing import Annotated, Final, Literal

import numpy as np

from sweatline.answers import Answer, Q, Range
from sweatline.charging.adviser import Action, Adviser, ChargeAdvice
from sweatline.charging.dosing import INSTRUMENTS
from sweatline.charging.preparation import Prepared
from sweatline.charging.suspicion import SLOW, look_first, weighed_rounds
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.verdicts import static_verdicts
from sweatline.diagnosis.faults import Fault
from sweatline.diagnosis.weighed import Earlier, Reading
from sweatline.errors import SolveError
from sweatline.job.explanation import JobSummary, summary_of
from sweatline.log.channels import CHANNELS
from sweatline.machine.balance import SteadyState
from sweatline.machine.transient import Snapshot
from sweatline.refrigerant.safety_data import safety_data
from sweatline.safety.cautions import Caution
from sweatline.training.session import (
    Attempt,
    Charged,
    Moment,
    TrainingSession,
    Way,
    by_advice,
    by_habit,
    ended_with,
)
from sweatline.training.simulated_machine import (
    SimulatedMachine,
    one_reading,
    simulated_machine,
)

# What gauges and thermometers alone can hardly tell apart.
_CLOSE: Final = (
    frozenset({"little-air", "fouled-condenser"}),
    frozenset({"little-air", "fouled-evaporator"}),
)

_SCATTERED: Final = 3  # rounds of settled readings at each moment
_ROUNDS_STREAM: Final = 0xF0

Ended = Literal["done", "interrupted", "broken off"]
Limit = Literal["head pressure", "discharge gas", "frozen coil", "flooding back", "vacuum"]
Naming = Literal["right", "close", "wrong", "not named"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseReview(Charged):
    """One addition, held against what could be known when it was made."""

    waited: Annotated[
        float, Q("time", doc="Since the addition before it, a stop or a start, or the beginning.")
    ]
    readings: Literal["settled", "foretold", "unsure"]
    """All had settled; their ends could be told well enough to act on; or neither."""
    unsure: tuple[str, ...]
    """Readings whose end could not be told well enough."""
    advised: Action
    """What the adviser would have said then."""
    advised_dose: Annotated[
        float | None, Q("mass", doc="Null unless it is to add or to take out; negative then.")
    ]
    best_then: Annotated[
        Range | None,
        Q("mass", doc="What the readings then say of the best charge; null without readings."),
    ]
    odd: bool
    """Less than one chance in a thousand that such a machine in order shows these readings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PassedLimit(Answer):
    """A limit that was passed while charging."""

    what: Limit
    reached_SI: float
    """The worst of it: pressure absolute, temperature, or seconds of liquid at the compressor."""
    limit_SI: float
    time: Annotated[
        float | None, Q("time", doc="For how long; null where only the worst moment was kept.")
    ] = None
    at_start: bool
    """So from the beginning, before anything was done."""
    at_end: bool
    """Still so when the session ended."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlipOfPen(Answer):
    """A reading that was written down wrongly."""

    time: Annotated[float, Q("time")]
    what: str
    written: str
    meant: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Debrief(Answer):
    """How a simulated machine was charged."""

    job: JobSummary
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]
    atmospheric_pressure: Annotated[float, Q("absolute pressure")]
    machine: str
    seed: int
    way: Way
    ended: Ended
    broken_off: str
    """Why the machine could not be followed any further; empty when it was not broken off."""
    begun: Annotated[float, Q("mass")]
    charge: Annotated[float, Q("mass", doc="Really in at the end.")]
    weighed: Annotated[float, Q("mass", doc="In by the scale.")]
    lost: Annotated[float, Q("mass", doc="Through a leak.")]
    best_charge: Annotated[
        float | None,
        Q("mass", doc="That fills its evaporator as it stands, with its fault; null when none."),
    ]
    mended_charge: Annotated[float, Q("mass", doc="The same once its fault is mended.")]
    most: Annotated[float, Q("mass", doc="Ever in.")]
    additions: int
    time: Annotated[float, Q("time")]
    doses: tuple[DoseReview, ...] = ()
    """Of a charging by hand."""
    limits: tuple[PassedLimit, ...]
    charge_as: Literal["liquid", "either"]
    """How this refrigerant is to be taken from its cylinder."""
    largest_liquid: Annotated[
        float, Q("mass", doc="Largest dose let into the running low side as liquid; 0: none.")
    ] = 0.0
    slips: tuple[SlipOfPen, ...] = ()
    fault: Fault | None
    """Null: nothing was wrong."""
    fault_hidden: bool
    """Nobody was told what it is."""
    named: str = ""
    """Fault that the person named: a key, `none`, or empty."""
    naming: Naming = "not named"
    next: Literal["wait", "add", "stop", "take out", "read", "mend"]
    """What would have been the best next thing."""
    next_dose: Annotated[float | None, Q("mass")] = None
    best_by_readings: Annotated[
        Range | None, Q("mass", doc="What the readings alone say of the best charge.")
    ] = None
    odd_from: Annotated[
        float | None,
        Q("time", doc="When the readings first could hardly be those of a machine in order."),
    ] = None
    look_from: int | None = None
    """Addition before which settled readings would first have said to look, from 1; null: none.

    Each scatters as its instrument does: said are moments at which most rounds would have said so.
    """
    others: tuple[Attempt, ...] = ()
    """The same machine charged in other ways."""


def debrief_of_session(
    session: TrainingSession,
    prepared: Prepared,
    seed: int,
    *,
    hidden: bool = False,
    ended: Ended = "done",
    broken_off: str = "",
) -> Debrief:
    """How a charging by hand went.

    Parameters
    ----------
    session : TrainingSession
        What was done and written down; its log still open.
    prepared : Prepared
        What is known of this machine before charging.
    seed : int
        Of the machine.
    hidden : bool
        Nobody was told the fault.
    ended, broken_off : str
        How it ended, and why it could not go on.
    """
    rows = session.log.entries()
    adviser = Adviser(prepared, session.log.about())
    instruments = session.log.instruments()
    taken = 0
    doses: list[DoseReview] = []
    for one in session.charged:
        known = rows[taken : one.log_rows]
        taken = one.log_rows
        advice = adviser.advise(known, session.begun_at + one.time, instruments=instruments)
        last = max([0.0, *(d.time for d in doses), *(t for t in session.switched if t <= one.time)])
        doses.append(_review(one, advice, one.time - last))
    at_end = adviser.advise(rows[taken:], session.now, instruments=instruments)
    machine = session.machine
    done = ended_with("hand", machine, len(session.charged), session.time, gave_up=broken_off)
    odd_from = next((d.time for d in doses if d.odd), session.time if at_end.odd else None)
    doses_in = (d.weighed for d in session.charged)
    insides = (*(d.inside for d in session.charged), machine.run.charge)
    times = (*(d.time for d in session.charged), session.time)
    found = replace(
        debrief_of_attempt(machine, done, seed, hidden=hidden),
        ended=ended,
        doses=tuple(doses),
        slips=tuple(
            SlipOfPen(time=r.at, what=w.channel, written=w.text, meant=w.meant)
            for r in session.rounds
            for w in r.written
            if w.meant
        ),
        largest_liquid=max(
            (d.weighed for d in session.charged if d.phase == "liquid" and d.running), default=0.0
        ),
        named=session.named,
        naming=_naming(machine.fault, session.named),
        best_by_readings=at_end.best_charge,
        odd_from=odd_from,
        look_from=look_from(
            machine,
            prepared,
            [
                Moment(*m)
                for m in zip(
                    accumulate(doses_in, initial=machine.start.charge), insides, times, strict=True
                )
            ],
        ),
        others=(
            _again("advice", machine, prepared, seed),
            _again("habit", machine, prepared, seed),
        ),
    )
    if machine.fault is not None:
        return found
    return replace(found, next=at_end.action, next_dose=at_end.dose)


def debrief_of_attempt(
    machine: SimulatedMachine, done: Attempt, seed: int, *, hidden: bool = False
) -> Debrief:
    """How a charging by one of the ways went, without a replay.

    Parameters
    ----------
    machine : SimulatedMachine
        As it was left.
    done : Attempt
        What was done to it.
    seed : int
        Of the machine.
    hidden : bool
        The fault was to be found.
    """
    build = machine.build
    try:
        best: float | None = machine.filled().charge
    except SolveError:
        best = None
    return Debrief(
        job=summary_of(build.job),
        cautions=(),
        notes=(*_barred(machine), _NOT_REAL),
        atmospheric_pressure=build.job.place.atmospheric_pressure,
        machine=build.name,
        seed=seed,
        way=done.way,
        ended="broken off" if done.gave_up else "done",
        broken_off=done.gave_up,
        begun=machine.start.charge,
        charge=done.charge,
        weighed=machine.weighed,
        lost=machine.lost,
        best_charge=best,
        mended_charge=machine.best,
        most=done.most,
        additions=done.additions or 0,
        time=done.time,
        limits=tuple(_passed(machine)),
        charge_as=safety_data(build.refrigerant.name).charge_as,
        fault=machine.fault,
        fault_hidden=hidden,
        next="stop" if machine.fault is None else "mend",
    )


def look_from(
    machine: SimulatedMachine, prepared: Prepared, moments: Sequence[Moment]
) -> int | None:
    """Before which addition a look should have come, from 1, had all readings been settled.

    Settled readings still scatter as their instruments do, and are known no better than the advice
    knows them. What a lucky round tells could not have been known: most of several must say it.

    Parameters
    ----------
    moments : sequence of Moment
        What was in before each addition, and at the end.
    """
    if prepared.weighing is None:
        return None
    # Other readings for another machine, the same whenever it is asked.
    chance = np.random.default_rng([_ROUNDS_STREAM, int(1e9 * machine.best)])
    rounds: list[list[tuple[Moment, tuple[Reading, ...]]]] = [[] for _ in range(_SCATTERED)]
    for n, now in enumerate(moments):
        after = moments[n + 1].weighed if n + 1 < len(moments) else now.weighed
        said = 0
        for before in rounds:
            try:
                shown = machine.settled(now.really, scatter=chance)
            except SolveError:
                return None
            readings = tuple(_as_known(c, v) for c, v in shown.items())
            earlier = [
                Earlier(part=m.weighed / now.weighed, readings=r, ago=now.time - m.time)
                for m, r in weighed_rounds(before)
            ]
            before.append((now, readings))
            scale = Reading(channel="charge weighed", value=now.weighed, sd=0.01 * now.weighed)
            weighed = prepared.weighing.weigh([*readings, scale], pairs=False, earlier=earlier)
            said += look_first(weighed, after / now.weighed - 1.0)
        if 2 * said > _SCATTERED:
            return n + 1
    return None


def _as_known(channel: str, value: float) -> Reading:
    """A settled reading with its errors as the advice takes them."""
    of = CHANNELS[channel]
    unit = value if of.relative else 1.0
    fresh = math.hypot(unit * one_reading(channel), SLOW.get(channel, 0.0))
    sd = math.hypot(unit * of.sd, fresh)
    return Reading(channel=channel, value=value, sd=sd, fresh=fresh)


def _review(one: Charged, advice: ChargeAdvice, waited: float) -> DoseReview:
    states = {o.state for o in advice.outlooks if o.what in INSTRUMENTS}
    readings: Literal["settled", "foretold", "unsure"] = "foretold"
    if advice.unsure or advice.best_charge is None:
        readings = "unsure"
    elif states == {"settled"}:
        readings = "settled"
    return DoseReview(
        **{f.name: getattr(one, f.name) for f in fields(one)},
        waited=waited,
        readings=readings,
        unsure=advice.unsure,
        advised=advice.action,
        advised_dose=advice.dose,
        best_then=advice.best_charge,
        odd=advice.odd,
    )


_NOT_REAL: Final = "This is a simulated machine; no figure of it belongs to a real one."


def _barred(machine: SimulatedMachine) -> Iterator[str]:
    """What would stop the charging of a real machine of these parts."""
    for verdict in static_verdicts(machine.build, machine.full):
        if verdict.final and verdict.state == "fails":
            yield f"A real one is not to be charged at all: {verdict.fault}."


def _again(
    way: Literal["advice", "habit"], machine: SimulatedMachine, prepared: Prepared, seed: int
) -> Attempt:
    """The same machine from its beginning, charged another way."""
    again = simulated_machine(machine.build, machine.card, seed, fault=machine.fault)
    began = again.run.time
    try:
        return by_advice(again, prepared) if way == "advice" else by_habit(again)
    except SolveError as error:
        return ended_with(way, again, None, again.run.time - began, gave_up=error.condition)


def _passed(machine: SimulatedMachine) -> Iterator[PassedLimit]:
    """Limits that were passed on the way."""
    limits = machine.build.limits()
    high = limits.high_side_pressure if limits.high_side_pressure is not None else math.inf
    hottest = limits.discharge_temperature
    air = machine.build.job.place.atmospheric_pressure

    def beyond(s: SteadyState | Snapshot) -> dict[str, bool]:
        return {
            "head pressure": s.discharge_pressure > high,
            "discharge gas": s.discharge_temperature > hottest,
            "frozen coil": s.coil_temperature < ZERO_CELSIUS,
            "flooding back": s.superheat <= 0.0,
            "vacuum": s.suction_pressure < air,
        }

    worst, now, start = machine.extremes, beyond(machine.run.snapshot), beyond(machine.start)
    rows: tuple[tuple[Limit, bool, float, float, float | None], ...] = (
        ("head pressure", worst.head > high, worst.head, high, None),
        ("discharge gas", worst.discharge > hottest, worst.discharge, hottest, None),
        ("frozen coil", worst.frozen_for > 0.0, worst.coil, ZERO_CELSIUS, worst.frozen_for),
        ("flooding back", worst.wet_for > 0.0, worst.liquid_for, 0.0, worst.wet_for),
        ("vacuum", worst.suction < air, worst.suction, air, None),
    )
    for what, passed, reached, limit, lasted in rows:
        if passed:
            yield PassedLimit(
                what=what,
                reached_SI=reached,
                limit_SI=limit,
                time=lasted,
                at_start=start[what],
                at_end=now[what],
            )


def _naming(fault: Fault | None, named: str) -> Naming:
    if not named:
        return "not named"
    true = "none" if fault is None else fault.kind.key
    if named == true:
        return "right"
    return "close" if frozenset({named, true}) in _CLOSE else "wrong"

"""The debrief: how well a simulated machine was charged, held against what could be known then.

Every addition is replayed: the adviser is given the log as it stood when the addition was decided,
and asked what it would have said. The same machine is charged by the adviser and by the habit as
well.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Q, Range
from sweatline.charging.adviser import Action, Adviser, ChargeAdvice
from sweatline.charging.charge_prior import INSTRUMENTS
from sweatline.charging.preparation import Prepared
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.verdicts import static_verdicts
from sweatline.errors import SolveError
from sweatline.job.explanation import JobSummary, summary_of
from sweatline.refrigerant.safety_data import safety_data
from sweatline.safety.cautions import Caution
from sweatline.training.attempts import Attempt, by_advice, by_habit
from sweatline.training.faults import Fault
from sweatline.training.session import Charged, Phase, TrainingSession
from sweatline.training.simulated_machine import SimulatedMachine, simulated_machine

# What gauges and thermometers alone can hardly tell apart.
_CLOSE: Final = (
    frozenset({"little-air", "fouled-condenser"}),
    frozenset({"little-air", "fouled-evaporator"}),
)

Ended = Literal["done", "interrupted", "broken off"]
Naming = Literal["right", "close", "wrong", "not named"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseReview(Answer):
    """One addition, held against what could be known when it was made."""

    time: Annotated[float, Q("time")]
    weighed: Annotated[float, Q("mass")]
    phase: Phase
    running: bool
    """Whether the compressor ran."""
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

    what: Literal["head pressure", "discharge gas", "frozen coil", "flooding back", "vacuum"]
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
    way: Literal["hand", "advice", "habit"]
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
    doses: tuple[DoseReview, ...]
    """Of a charging by hand."""
    limits: tuple[PassedLimit, ...]
    charge_as: Literal["liquid", "either"]
    """How this refrigerant is to be taken from its cylinder."""
    largest_liquid: Annotated[
        float, Q("mass", doc="Largest dose let into the running low side as liquid; 0: none.")
    ]
    slips: tuple[SlipOfPen, ...]
    fault: Fault | None
    """Null: nothing was wrong."""
    fault_hidden: bool
    """Nobody was told what it is."""
    named: str
    """Fault that the person named: a key, `none`, or empty."""
    naming: Naming
    next: Literal["wait", "add", "stop", "take out", "read", "mend"]
    """What would have been the best next thing."""
    next_dose: Annotated[float | None, Q("mass")]
    best_by_readings: Annotated[
        Range | None, Q("mass", doc="What the readings alone say of the best charge.")
    ]
    odd_from: Annotated[
        float | None,
        Q("time", doc="When the readings first could hardly be those of a machine in order."),
    ]
    others: tuple[Attempt, ...]
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
        advice = adviser.advise(known, session.begun_at + one.at, instruments=instruments)
        last = max([0.0, *(d.time for d in doses), *(t for t in session.switched if t <= one.at)])
        doses.append(_review(one, advice, one.at - last))
    at_end = adviser.advise(rows[taken:], session.now, instruments=instruments)
    return _debrief(
        session.machine,
        seed,
        way="hand",
        ended=ended,
        broken_off=broken_off,
        additions=len(session.charged),
        time=session.time,
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
        hidden=hidden,
        named=session.named,
        at_end=at_end,
        others=(
            _again("advice", session.machine, prepared, seed),
            _again("habit", session.machine, prepared, seed),
        ),
    )


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
    return _debrief(
        machine,
        seed,
        way=done.way,
        ended="broken off" if done.gave_up else "done",
        broken_off=done.gave_up,
        additions=done.additions or 0,
        time=done.time,
        hidden=hidden,
    )


def _review(one: Charged, advice: ChargeAdvice, waited: float) -> DoseReview:
    states = {o.state for o in advice.outlooks if o.what in INSTRUMENTS}
    readings: Literal["settled", "foretold", "unsure"] = "foretold"
    if advice.unsure or advice.best_charge is None:
        readings = "unsure"
    elif states == {"settled"}:
        readings = "settled"
    return DoseReview(
        time=one.at,
        weighed=one.weighed,
        phase=one.phase,
        running=one.running,
        waited=waited,
        readings=readings,
        unsure=advice.unsure,
        advised=advice.action,
        advised_dose=advice.dose,
        best_then=advice.best_charge,
        odd=advice.odd,
    )


def _debrief(
    machine: SimulatedMachine,
    seed: int,
    *,
    way: Literal["hand", "advice", "habit"],
    ended: Ended,
    broken_off: str,
    additions: int,
    time: float,
    hidden: bool,
    doses: tuple[DoseReview, ...] = (),
    slips: tuple[SlipOfPen, ...] = (),
    largest_liquid: float = 0.0,
    named: str = "",
    at_end: ChargeAdvice | None = None,
    others: tuple[Attempt, ...] = (),
) -> Debrief:
    build = machine.build
    try:
        best: float | None = machine.filled().charge
    except SolveError:
        best = None
    mend = machine.fault is not None
    odd_from = next((d.time for d in doses if d.odd), None)
    if odd_from is None and at_end is not None and at_end.odd:
        odd_from = time
    return Debrief(
        job=summary_of(build.job),
        cautions=(),
        notes=(*_barred(machine), _NOT_REAL),
        atmospheric_pressure=build.job.place.atmospheric_pressure,
        machine=build.name,
        seed=seed,
        way=way,
        ended=ended,
        broken_off=broken_off,
        begun=machine.start.charge,
        charge=machine.run.charge,
        weighed=machine.weighed,
        lost=machine.lost,
        best_charge=best,
        mended_charge=machine.best,
        most=max(machine.extremes.most, machine.run.charge),
        additions=additions,
        time=time,
        doses=doses,
        limits=tuple(_passed(machine)),
        charge_as=safety_data(build.refrigerant.name).charge_as,
        largest_liquid=largest_liquid,
        slips=slips,
        fault=machine.fault,
        fault_hidden=hidden,
        named=named,
        naming=_naming(machine.fault, named),
        next="mend" if mend else at_end.action if at_end is not None else "stop",
        next_dose=at_end.dose if at_end is not None and not mend else None,
        best_by_readings=at_end.best_charge if at_end is not None else None,
        odd_from=odd_from,
        others=others,
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
        return Attempt(
            way=way,
            charge=again.run.charge,
            most=again.extremes.most,
            additions=None,
            time=again.run.time - began,
            gave_up=error.condition,
        )


def _passed(machine: SimulatedMachine) -> Iterator[PassedLimit]:
    """Limits that were passed on the way."""
    limits = machine.build.limits()
    worst, now, start = machine.extremes, machine.run.snapshot, machine.start
    most = limits.high_side_pressure
    if most is not None and worst.head > most:
        yield PassedLimit(
            what="head pressure",
            reached_SI=worst.head,
            limit_SI=most,
            at_start=start.discharge_pressure > most,
            at_end=now.discharge_pressure > most,
        )
    hottest = limits.discharge_temperature
    if worst.discharge > hottest:
        yield PassedLimit(
            what="discharge gas",
            reached_SI=worst.discharge,
            limit_SI=hottest,
            at_start=start.discharge_temperature > hottest,
            at_end=now.discharge_temperature > hottest,
        )
    if worst.frozen_for > 0.0:
        yield PassedLimit(
            what="frozen coil",
            reached_SI=worst.coil,
            limit_SI=ZERO_CELSIUS,
            time=worst.frozen_for,
            at_start=start.coil_temperature < ZERO_CELSIUS,
            at_end=now.coil_temperature < ZERO_CELSIUS,
        )
    if worst.wet_for > 0.0:
        yield PassedLimit(
            what="flooding back",
            reached_SI=worst.liquid_for,
            limit_SI=0.0,
            time=worst.wet_for,
            at_start=start.superheat <= 0.0,
            at_end=now.superheat <= 0.0,
        )
    atmosphere = machine.build.job.place.atmospheric_pressure
    if worst.suction < atmosphere:
        yield PassedLimit(
            what="vacuum",
            reached_SI=worst.suction,
            limit_SI=atmosphere,
            at_start=start.suction_pressure < atmosphere,
            at_end=now.suction_pressure < atmosphere,
        )


def _naming(fault: Fault | None, named: str) -> Naming:
    if not named:
        return "not named"
    true = "none" if fault is None else fault.kind.key
    if named == true:
        return "right"
    return "close" if frozenset({named, true}) in _CLOSE else "wrong"

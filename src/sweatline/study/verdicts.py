"""Verdicts on a machine: the trade's word, the number, the limit, its source, the probability.

A criterion looks at one number of a balance and one limit. What concerns safety is marked, comes
first wherever verdicts are listed, and has no switch that hides it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from sweatline.constants import ZERO_CELSIUS

if TYPE_CHECKING:
    from sweatline.machine.balance import Balance
    from sweatline.study.rig import Rig
    from sweatline.study.sampling import Trial

__all__ = ["Criterion", "Verdict", "criteria", "judge", "standing"]

State = Literal["holds", "fails", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """One judgement on one machine."""

    key: str  # short, stable word for machines
    fault: str  # the trade's word for what goes wrong
    state: State  # whether the machine passes; "note" neither passes nor fails
    number: float | None  # SI
    limit: float | None  # SI
    kind: str  # kind of quantity of number and limit, for showing them
    probability: float | None  # of the fault
    source: str  # where the limit comes from
    sentence: str
    safety: bool
    final: bool = False  # a rebuild must not go ahead while this fails


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """A number of a balance against a limit; the fault is being beyond it."""

    key: str
    fault: str
    of: Callable[[Balance], float]
    limit: float
    above: bool  # the fault lies above the limit
    kind: str
    source: str
    sentence: str
    safety: bool = False
    final: bool = False
    on_colder: bool = False  # looked at in the cold end of the room's range

    def beyond(self, balance: Balance) -> bool:
        """Whether this balance shows the fault."""
        value = self.of(balance)
        return value > self.limit if self.above else value < self.limit


_PULL_DOWN = 1.35
_RUNNING = 1.10
_BACKED_UP = 15.0


def pull_down_power(rig: Rig, balance: Balance) -> float:
    """Compressor power just after a warm start, when suction pressure is high. [W]

    The evaporator still boils near the room's temperature and the condenser is already hot: the
    worst the motor sees. Taken at a dew temperature 5 K below the room and the head pressure of
    the balance raised by the same heat, about 8 K.
    """
    from sweatline.parts.compressor import operate
    from sweatline.refrigerant.table import dew_pressure

    table = rig.refrigerant.table
    room = rig.machine.air.temperature
    te = room - 5.0
    tc = min(balance.condensing_temperature + 8.0, 0.97 * table.t_crit)
    if dew_pressure(table, tc) <= 1.05 * dew_pressure(table, te):
        tc = te + 15.0
    run = operate(
        table,
        rig.machine.compressor,
        evaporating=te,
        condensing=tc,
        suction=te + 10.0,
        liquid=tc - 3.0,
    )
    return run.power


def criteria(rig: Rig) -> list[Criterion]:
    """What is looked at for a machine, safety first."""
    from sweatline.study.assembly import plate_power

    limits = rig.job.limits
    found = []
    if limits.high_side_pressure is not None:
        found.append(
            Criterion(
                key="over_pressure",
                fault="over pressure",
                of=lambda b: b.discharge_pressure,
                limit=limits.high_side_pressure.value,
                above=True,
                kind="gauge_pressure",
                source=limits.high_side_pressure.note or "limits in the job",
                sentence="head pressure against the rating of the weakest part of the high side",
                safety=True,
                final=True,
            )
        )
    found.append(
        Criterion(
            key="discharge_hot",
            fault="high discharge temperature",
            of=lambda b: b.discharge_temperature,
            limit=limits.discharge_temperature.value,
            above=True,
            kind="temperature",
            source=limits.discharge_temperature.note or "limits in the job",
            sentence="gas leaving the compressor: oil and valves suffer above the limit",
        )
    )
    plate = plate_power(rig.compressor)
    if plate is not None:
        found.append(
            Criterion(
                key="overloaded",
                fault="overloaded",
                of=lambda b: b.power,
                limit=_RUNNING * plate.value,
                above=True,
                kind="power",
                source="a tenth above the watts of the motor's plate (common practice)",
                sentence="running watts of the compressor against its plate",
            )
        )
        found.append(
            Criterion(
                key="overloaded_pull_down",
                fault="overloaded at pull-down",
                of=lambda b: pull_down_power(rig, b),
                limit=_PULL_DOWN * plate.value,
                above=True,
                kind="power",
                source="a third above the watts of the plate: near that a hermetic motor's "
                "protector opens (common practice)",
                sentence="watts just after a warm start, with high suction pressure",
            )
        )
    found += [
        Criterion(
            key="frosting",
            fault="frosting",
            of=lambda b: b.coil_temperature,
            limit=ZERO_CELSIUS,
            above=False,
            kind="temperature",
            source="water freezes on a wet surface below 0 °C",
            sentence="coldest surface of the evaporator",
        ),
        Criterion(
            key="flooding_back",
            fault="flooding back",
            of=lambda b: b.suction_quality,
            limit=1.0,
            above=False,
            kind="fraction",
            source="liquid must not reach the compressor",
            sentence="dryness at the evaporator outlet with the same charge in a colder room",
            safety=False,
            on_colder=True,
        ),
        Criterion(
            key="starved",
            fault="starved",
            of=lambda b: b.liquid_quality,
            limit=0.0,
            above=True,
            kind="fraction",
            source="only liquid should enter a capillary",
            sentence="gas share of what enters the capillary when the evaporator is just filled",
        ),
        Criterion(
            key="backed_up",
            fault="liquid backed up in the condenser",
            of=lambda b: b.subcooling,
            limit=_BACKED_UP,
            above=True,
            kind="temperature_difference",
            source="subcooling beyond 15 K says that the capillary is too tight (common practice)",
            sentence="subcooling at which the evaporator is just filled",
        ),
        Criterion(
            key="dry_coil",
            fault="takes no water",
            of=lambda b: b.water,
            limit=1e-6,
            above=False,
            kind="mass_flow",
            source="a dehumidifier's coil must be below the dew point of the room",
            sentence="water taken from the room",
        ),
    ]
    return found


def judge(
    rig: Rig, balance: Balance, colder: Balance | None, runs: Sequence[Trial]
) -> list[Verdict]:
    """Verdicts of every criterion, with the probability of each fault over the trials."""
    found = []
    for c in criteria(rig):
        subject = colder if c.on_colder else balance
        if subject is None:
            continue
        count = 0
        bad = 0
        for t in runs:
            b = t.colder if c.on_colder else t.balance
            if b is not None:
                count += 1
                bad += c.beyond(b)
        # Half a count each way: thirty draws cannot say never or always.
        probability = (bad + 0.5) / (count + 1.0) if count else None
        fails = c.beyond(subject)
        found.append(
            Verdict(
                key=c.key,
                fault=c.fault,
                state="fails" if fails else "holds",
                number=c.of(subject),
                limit=c.limit,
                kind=c.kind,
                probability=probability,
                source=c.source,
                sentence=c.sentence,
                safety=c.safety,
                final=c.final,
            )
        )
    return found


def standing(rig: Rig, balance: Balance, runs: Sequence[Trial]) -> list[Verdict]:
    """Verdicts that need no solving: charge limits, oil, tube, pressure at rest, start.

    A limit of the charge is held against the charge of every draw.
    """
    from sweatline.study.standing import standing_verdicts

    charges = [t.balance.charge for t in runs if t.balance is not None]
    found = []
    for v in standing_verdicts(rig, balance):
        if v.key == "flammable_charge" and charges and v.limit is not None:
            over = sum(charge > v.limit for charge in charges)
            v = replace(v, probability=(over + 0.5) / (len(charges) + 1.0))
        found.append(v)
    return found

"""Verdicts on a machine: every trial run held against every limit, and what follows.

A criterion looks at one number of a balance and one limit. What concerns safety is marked, comes
first wherever verdicts are listed, and has no switch that hides it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.assemble import WorkingLimits, plate_power
from sweatline.assembly.build import Build
from sweatline.assembly.trial_runs import Trial
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.measurement_priority import measurement_priority, settled
from sweatline.design.static_limits import static_limits, static_verdicts
from sweatline.design.verdict import Verdict
from sweatline.machine.balance import SteadyState
from sweatline.machine.circuit import MachineParameters
from sweatline.parts.compressor import operate
from sweatline.refrigerant.table import Table, dew_pressure
from sweatline.uncertainty.sensitivity import first_order, largest
from sweatline.units.kinds import Kind

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """A number of a balance against a limit; the fault is being beyond it."""

    key: str
    fault: str
    of: Callable[[MachineParameters, SteadyState], float]
    limit: Callable[[WorkingLimits], float]
    above: bool  # the fault lies above the limit
    kind: Kind
    source: str
    sentence: str
    safety: bool = False
    final: bool = False
    on_colder: bool = False  # looked at in the cold end of the room's range

    def margin(
        self, machine: MachineParameters, balance: SteadyState, limits: WorkingLimits
    ) -> float:
        """How far beyond its limit this balance is; positive is the fault. [unit of the kind]"""
        beyond = self.of(machine, balance) - self.limit(limits)
        return beyond if self.above else -beyond


_PULL_DOWN = 1.35
_RUNNING = 1.10
_BACKED_UP = 15.0


def pull_down_power(table: Table, machine: MachineParameters, balance: SteadyState) -> float:
    """Compressor power just after a warm start, when suction pressure is high. [W]

    The evaporator still boils near the room's temperature and the condenser is already hot: the
    worst the motor sees. Taken at a dew temperature 5 K below the room and the head pressure of
    the balance raised by the same heat, about 8 K.
    """

    te = machine.air.temperature - 5.0
    tc = min(balance.condensing_temperature + 8.0, 0.97 * table.t_crit)
    if dew_pressure(table, tc) <= 1.05 * dew_pressure(table, te):
        tc = te + 15.0
    run = operate(
        table,
        machine.compressor,
        evaporating=te,
        condensing=tc,
        suction=te + 10.0,
        liquid=tc - 3.0,
    )
    return run.power


def criteria(build: Build) -> tuple[Criterion, ...]:
    """What is looked at for a machine, safety first."""

    limits = build.job.limits
    table = build.refrigerant.table
    found = []
    if limits.high_side_pressure is not None:
        found.append(
            Criterion(
                key="over_pressure",
                fault="head pressure too high",
                of=lambda _m, b: b.discharge_pressure,
                limit=lambda limits: _given(limits.high_side_pressure),
                above=True,
                kind="pressure",
                source=limits.high_side_pressure.note or "limits in the job",
                sentence="head pressure against the rating of the weakest part of the high side",
                safety=True,
                final=True,
            )
        )
    found.append(
        Criterion(
            key="discharge_hot",
            fault="discharge gas too hot",
            of=lambda _m, b: b.discharge_temperature,
            limit=lambda limits: limits.discharge_temperature,
            above=True,
            kind="temperature",
            source=limits.discharge_temperature.note or "limits in the job",
            sentence="gas leaving the compressor: oil and valves suffer above the limit",
        )
    )
    if plate_power(build.compressor) is not None:
        found.append(
            Criterion(
                key="overloaded",
                fault="compressor overloaded",
                of=lambda _m, b: b.compressor_power,
                limit=lambda limits: _RUNNING * _given(limits.plate_power),
                above=True,
                kind="power",
                source="a tenth above the watts of the motor's plate (common practice)",
                sentence="running watts of the compressor against its plate",
            )
        )
        found.append(
            Criterion(
                key="overloaded_pull_down",
                fault="compressor overloaded at pull-down",
                of=lambda m, b: pull_down_power(table, m, b),
                limit=lambda limits: _PULL_DOWN * _given(limits.plate_power),
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
            fault="coil freezes",
            of=lambda _m, b: b.coil_temperature,
            limit=lambda _limits: ZERO_CELSIUS,
            above=False,
            kind="temperature",
            source="water freezes on a surface below its freezing point",
            sentence="coldest surface of the evaporator",
        ),
        Criterion(
            key="flooding_back",
            fault="liquid floods back to the compressor",
            of=lambda _m, b: b.suction_quality,
            limit=lambda _limits: 1.0,
            above=False,
            kind="ratio",
            source="liquid must not reach the compressor",
            sentence="dryness at the evaporator outlet, same charge, in a colder room",
            on_colder=True,
        ),
        Criterion(
            key="starved",
            fault="flash gas at the tube's inlet",
            of=lambda _m, b: b.liquid_quality,
            limit=lambda _limits: 0.0,
            above=True,
            kind="ratio",
            source="only liquid should enter a capillary",
            sentence="gas share of what enters the tube at the wanted superheat",
        ),
        Criterion(
            key="backed_up",
            fault="condenser overfilled: tube too tight or too much charge",
            of=lambda _m, b: b.subcooling,
            limit=lambda _limits: _BACKED_UP,
            above=True,
            kind="temperature difference",
            source="more subcooling than this says that the tube is too tight (common practice)",
            sentence="subcooling at the wanted superheat",
        ),
        Criterion(
            key="dry_coil",
            fault="takes no water",
            of=lambda _m, b: b.water,
            limit=lambda _limits: 1e-6,
            above=False,
            kind="water removal",
            source="a dehumidifier's coil must be below the dew point of the room",
            sentence="water taken from the room",
        ),
    ]
    return tuple(found)


def _given(value: float | None) -> float:
    assert value is not None, "a criterion without its limit"
    return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """Every trial run held against every limit; limits vary from run to run like all else."""

    keys: tuple[str, ...]
    margins: FloatArray  # (runs, keys) beyond the limit, positive is the fault; NaN: not known
    bad: BoolArray  # (runs, keys) the fault shows
    solved: BoolArray  # (runs,) there is a balance

    @property
    def faultless(self) -> BoolArray:
        """Trial runs that have a balance and show no fault. (runs,)"""
        found: BoolArray = self.solved & ~self.bad.any(axis=1)
        return found

    def probability(self, key: str) -> float | None:
        """Chance of a fault over the trial runs with a balance; None when there are none."""
        count = int(self.solved.sum())
        if key not in self.keys or not count:
            return None
        bad = int(self.bad[self.solved, self.keys.index(key)].sum())
        # Half a count each way: thirty runs can say neither never nor always.
        return (bad + 0.5) / (count + 1.0)


def judged(build: Build, runs: Sequence[Trial]) -> Judged:
    """Hold every trial run against the limits of its machine, running and at rest.

    One that has a balance in its room and none in the colder one is a fault there.
    """
    found = criteria(build)
    still = static_limits(build)
    margins = np.full((len(runs), len(found) + len(still)), np.nan)
    bad = np.zeros(margins.shape, dtype=bool)
    solved = np.array([t.balance is not None for t in runs], dtype=bool)
    for i, t in enumerate(runs):
        if t.balance is None:
            continue
        limits = build.limits(build.by_key(t.z))
        for j, c in enumerate(found):
            b = t.colder if c.on_colder else t.balance
            if b is not None:
                margins[i, j] = c.margin(t.machine, b, limits)
            elif t.looked_colder:
                bad[i, j] = True
        for j, limit in enumerate(still, len(found)):
            margins[i, j] = limit.margin(t.balance, limits)
    bad |= margins > 0.0
    keys = (*(c.key for c in found), *(s.key for s in still))
    return Judged(keys=keys, margins=margins, bad=bad, solved=solved)


def judge(
    build: Build,
    balance: SteadyState,
    colder: SteadyState | None,
    runs: Sequence[Trial],
    over: Judged,
) -> list[Verdict]:
    """All verdicts on a machine with the chance of each fault, safety and faults first.

    Parameters
    ----------
    colder : SteadyState, optional
        The machine in the cold end of the room's range, when it has a balance there.
    runs, over
        The trial runs, and the same held against the limits (:func:`judged`).
    """
    limits = build.limits()
    found = []
    for c in criteria(build):
        subject = colder if c.on_colder else balance
        if subject is None and not any(t.looked_colder for t in runs):
            continue
        fails = subject is None or c.margin(build.machine, subject, limits) > 0.0
        found.append(
            Verdict(
                key=c.key,
                fault=c.fault,
                state="fails" if fails else "holds",
                number=c.of(build.machine, subject) if subject is not None else None,
                limit=c.limit(limits),
                kind=c.kind,
                source=c.source,
                sentence=c.sentence
                if subject is not None
                else "no balance was found with the same charge in a colder room",
                safety=c.safety,
                final=c.final,
            )
        )
    found += static_verdicts(build, balance)
    found = [_with_chance(build, v, runs, over) for v in found]
    found.sort(key=lambda v: (not v.safety, v.state != "fails", -(v.probability or 0.0)))
    return found


def _with_chance(build: Build, verdict: Verdict, runs: Sequence[Trial], over: Judged) -> Verdict:

    probability = over.probability(verdict.key)
    if probability is None or settled(probability):
        return replace(verdict, probability=probability)
    z = np.array([t.z for t in runs])
    margin = over.margins[:, over.keys.index(verdict.key)]
    shares = largest(build.parameters, first_order(z, margin), len(build.parameters))
    return replace(
        verdict,
        probability=probability,
        doubt=measurement_priority(probability, shares, build.parameters),
    )

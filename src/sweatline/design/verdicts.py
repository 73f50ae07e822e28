"""Verdicts on a machine: every trial run held against every limit, and what follows.

A criterion looks at one number of a balance and one limit; other verdicts follow from oil, supply
and pressures at rest, without another balance. What concerns safety is marked, comes first wherever
verdicts are listed, and has no switch that hides it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.assemble import WorkingLimits
from sweatline.assembly.build import Build
from sweatline.assembly.plate import plate_power
from sweatline.assembly.trial_runs import Trial
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.verdict import Fact, State, Verdict, measurement_priority, settled
from sweatline.machine.balance import SteadyState
from sweatline.machine.capillary_cut import FEWEST_BORES
from sweatline.machine.circuit import MachineParameters
from sweatline.parts.compressor import operate
from sweatline.parts.motor import running_current
from sweatline.refrigerant.safety_data import sourced
from sweatline.refrigerant.table import Table, bubble_pressure, dew_pressure
from sweatline.safety.charge_limits import (
    ChargeLimit,
    Concentration,
    charge_limit,
    room_concentration,
)
from sweatline.safety.oils import oil_verdict
from sweatline.safety.regulations import conversion_gate
from sweatline.safety.start_gear import start_verdict, voltage_verdict
from sweatline.uncertainty.sensitivity import first_order, largest
from sweatline.units.kinds import Kind

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# Warmest place in which a machine is carried or stored; the low side sees saturation there.
HOTTEST_STORE = 316.15  # K (43 C, the warmest design ambient of EN 378-2, MEMORY high)

# Temperature at which a missing low-side limit is inferred from the original refrigerant.
DESIGN_STORE = 299.85  # K (26.7 C, least low-side design temperature of ASHRAE 15, MEMORY medium)


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """A number of a balance against a limit; the fault is being beyond it."""

    key: str
    fault: str
    of: Callable[[MachineParameters, SteadyState, WorkingLimits], float]
    limit: Callable[[WorkingLimits], float]
    above: bool  # the fault lies above the limit
    kind: Kind
    source: str
    sentence: str
    facts: tuple[Fact, ...] = ()
    safety: bool = False
    final: bool = False
    on_colder: bool = False  # looked at in the cold end of the room's range

    def margin(
        self, machine: MachineParameters, balance: SteadyState, limits: WorkingLimits
    ) -> float:
        """How far beyond its limit this balance is; positive is the fault. [unit of the kind]"""
        beyond = self.of(machine, balance, limits) - self.limit(limits)
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


def criteria(build: Build) -> Iterator[Criterion]:
    """What is looked at for a running machine, safety first."""
    limits = build.job.limits
    if limits.high_side_pressure is not None:
        yield Criterion(
            key="over_pressure",
            fault="head pressure too high",
            of=lambda _m, b, _limits: b.discharge_pressure,
            limit=lambda limits: _given(limits.high_side_pressure),
            above=True,
            kind="pressure",
            source=limits.high_side_pressure.note or "limits in the job",
            sentence="head pressure against the rating of the weakest part of the high side",
            safety=True,
            final=True,
        )
    yield Criterion(
        key="discharge_hot",
        fault="discharge gas too hot",
        of=lambda _m, b, _limits: b.discharge_temperature,
        limit=lambda limits: limits.discharge_temperature,
        above=True,
        kind="temperature",
        source=limits.discharge_temperature.note or "limits in the job",
        sentence="gas leaving the compressor: oil and valves suffer above the limit",
    )
    yield from _motor_criteria(build)
    yield Criterion(
        key="frosting",
        fault="coil freezes",
        of=lambda _m, b, _limits: b.coil_temperature,
        limit=lambda _limits: ZERO_CELSIUS,
        above=False,
        kind="temperature",
        source="water freezes on a surface below its freezing point",
        sentence="coldest surface of the evaporator",
    )
    holds = ""
    if build.compressor.kind == "rotary" and build.machine.lines.accumulator_volume == 0.0:
        holds = "; a rotary's accumulator holds some liquid, but none is stated under [lines]"
    yield Criterion(
        key="flooding_back",
        fault="liquid floods back to the compressor",
        of=lambda _m, b, _limits: b.suction_quality,
        limit=lambda _limits: 1.0,
        above=False,
        kind="ratio",
        source="liquid must not reach the compressor",
        sentence="dryness at the evaporator outlet, same charge, in a colder room" + holds,
        on_colder=True,
    )
    yield Criterion(
        key="starved",
        fault="flash gas at the tube's inlet",
        of=lambda _m, b, _limits: b.liquid_quality,
        limit=lambda _limits: 0.0,
        above=True,
        kind="ratio",
        source="only liquid should enter a capillary",
        sentence="gas share of what enters the tube at the wanted superheat",
    )
    yield Criterion(
        key="backed_up",
        fault="condenser overfilled: tube too tight or too much charge",
        of=lambda _m, b, _limits: b.subcooling,
        limit=lambda _limits: _BACKED_UP,
        above=True,
        kind="temperature difference",
        source="more subcooling than this says that the tube is too tight (common practice)",
        sentence="subcooling at the wanted superheat",
    )
    yield Criterion(
        key="dry_coil",
        fault="takes no water",
        of=lambda _m, b, _limits: b.water,
        limit=lambda _limits: 1e-6,
        above=False,
        kind="water removal",
        source="a dehumidifier's coil must be below the dew point of the room",
        sentence="water taken from the room",
    )


def _motor_criteria(build: Build) -> Iterator[Criterion]:
    """The motor against its plate: by watts, or by amps where the plate says no watts."""
    table = build.refrigerant.table
    if plate_power(build.compressor) is not None:
        kind: Kind = "power"
        unit = "watts"
    elif build.compressor.rated_current is not None:
        kind, unit = "current", "amps"
    else:
        return

    def taken(machine: MachineParameters, power: float) -> float:
        return power if kind == "power" else _given(running_current(machine.motor, power))

    def plate(limits: WorkingLimits) -> float:
        return _given(limits.plate_power if kind == "power" else limits.plate_current)

    yield Criterion(
        key="overloaded",
        fault="compressor overloaded",
        of=lambda m, b, _limits: taken(m, b.compressor_power),
        limit=lambda limits: _RUNNING * plate(limits),
        above=True,
        kind=kind,
        source=f"a tenth above the {unit} of the motor's plate (common practice)",
        sentence=f"running {unit} of the compressor against its plate",
    )
    yield Criterion(
        key="overloaded_pull_down",
        fault="compressor overloaded at pull-down",
        of=lambda m, b, _limits: taken(m, pull_down_power(table, m, b)),
        limit=lambda limits: _PULL_DOWN * plate(limits),
        above=True,
        kind=kind,
        source=f"a third above the {unit} of the plate: near that a hermetic motor's protector "
        "opens (common practice)",
        sentence=f"{unit} just after a warm start, with high suction pressure",
    )


def _given(value: float | None) -> float:
    assert value is not None, "a criterion without its limit"
    return value


def room_criteria(build: Build) -> Iterator[Criterion]:
    """What the room allows of the charge of a refrigerant."""
    name, room = build.refrigerant.name, build.job.room

    def allowed(limits: WorkingLimits) -> ChargeLimit:
        installation = build.job.place.installation
        return charge_limit(name, installation=installation, floor_area=limits.floor_area)

    def leaked(charge: float, limits: WorkingLimits) -> Concentration:
        assert limits.room_volume is not None
        return room_concentration(name, charge=charge, room_volume=limits.room_volume)

    at_best = build.limits()
    limit = allowed(at_best)
    if limit.lfl is not None:
        area = room.floor_area
        yield Criterion(
            key="flammable_charge",
            fault="flammable charge above the room's limit",
            of=lambda _m, b, _limits: b.charge,
            limit=lambda limits: allowed(limits).allowed,
            above=True,
            kind="mass",
            source=sourced(limit.source, limit.status),
            facts=()
            if area is None
            else (Fact(label="floor area", value=area.value, kind="area"),),
            sentence=f"charge of class {limit.safety_class} {name} in "
            + ("this room. " if area is not None else "a room of unknown area. ")
            + " ".join(limit.statements),
            safety=True,
            final=True,
        )
    if room.volume is not None:
        known = leaked(1.0, at_best)  # its limit is that of any charge
        if known.limit is not None:
            yield Criterion(
                key="concentration",
                fault="a leak would exceed the concentration limit",
                of=lambda _m, b, limits: leaked(b.charge, limits).concentration,
                limit=lambda _limits: _given(known.limit),
                above=True,
                kind="concentration",
                source=sourced(known.limit_source, known.limit_status),
                facts=(Fact(label="room volume", value=room.volume.value, kind="room volume"),),
                sentence="whole charge leaked into the room, against the refrigerant's limit",
                safety=True,
                final=True,
            )


def cautions_clear(build: Build, charge: float) -> frozenset[str]:
    """Keys of the cautions that stop a work and do not apply to these parts so charged. [kg]"""
    name, installation = build.refrigerant.name, build.job.place.installation
    limit = charge_limit(name, installation=installation, floor_area=build.limits().floor_area)
    applies = {"conversion": any(_conversion(build)), "over-limit": charge > limit.allowed}
    return frozenset(key for key, there in applies.items() if not there)


def static_verdicts(build: Build, balance: SteadyState) -> list[Verdict]:
    """Charge limit, concentration, conversion, oil, pressure at rest, start, supply."""
    return [
        *(_verdict(c, build, balance) for c in room_criteria(build)),
        *_conversion(build),
        *_at_rest(build),
        _oil(build),
        *_tube(build),
        *_start(build, balance),
        *_supply(build),
    ]


def _verdict(c: Criterion, build: Build, subject: SteadyState | None) -> Verdict:
    """A criterion held against one balance; without one the machine fails."""
    limits = build.limits()
    fails = subject is None or c.margin(build.machine, subject, limits) > 0.0
    return Verdict(
        key=c.key,
        fault=c.fault,
        state="fails" if fails else "holds",
        number=c.of(build.machine, subject, limits) if subject is not None else None,
        limit=c.limit(limits),
        kind=c.kind,
        facts=c.facts,
        source=c.source,
        sentence=c.sentence
        if subject is not None
        else "no balance was found with the same charge in a colder room",
        safety=c.safety,
        final=c.final,
    )


def _conversion(build: Build) -> Iterator[Verdict]:
    gate = conversion_gate(
        build.refrigerant.name,
        built_for=build.job.original.refrigerant,
        country=build.job.place.country,
        accepted=build.job.place.flammable_conversion == "accepted",
    )
    if not gate.reason:
        return
    sentence = gate.reason
    if gate.stop and not gate.barred:
        sentence += (
            " To go on, read the rules of the country and the cautions, and write "
            'flammable_conversion = "accepted" under [place] in the job.'
        )
    yield Verdict(
        key="conversion",
        fault="flammable refrigerant in a machine not built for it",
        state="fails" if gate.stop else "note",
        source=sourced(gate.rule.source, gate.rule.status) if gate.rule else "local code",
        sentence=sentence,
        safety=True,
        final=gate.stop,
        barred=gate.barred,
    )


def _at_rest(build: Build) -> Iterator[Verdict]:
    limit = build.job.limits.low_side_pressure
    table = build.refrigerant.table
    if limit is None:
        return
    # A limit from the plate must hold in the hottest store. One inferred from the original
    # refrigerant is a saturation pressure itself, and like is compared with like.
    from_plate = limit.origin != "default"
    warmest = HOTTEST_STORE if from_plate else DESIGN_STORE
    rest = float(bubble_pressure(table, min(warmest, 0.98 * table.t_crit)))
    yield Verdict(
        key="pressure_at_rest",
        fault="standing pressure too high",
        state="note" if rest > limit.value else "holds",
        number=rest,
        limit=limit.value,
        kind="pressure",
        source=limit.note or "limits in the job",
        sentence="low side of the machine at rest in a hot store, if liquid remains (a small "
        "charge evaporates below that pressure)"
        if from_plate
        else "saturation of the new refrigerant against that of the old at the same design "
        "temperature",
        safety=True,
    )


# A note names what to see to; only a verdict that fails, or rules it out, names the fault.
_OF_OIL: Final[Mapping[str, tuple[State, str]]] = {
    "wrong": ("fails", "wrong oil"),
    "marginal": ("note", "oil to be confirmed"),
    "ok": ("holds", "wrong oil"),
}


def _oil(build: Build) -> Verdict:
    found = oil_verdict(build.compressor.oil, build.refrigerant.name)
    state, fault = _OF_OIL[found.verdict]
    return Verdict(
        key="oil",
        fault=fault,
        state=state,
        source=sourced(found.source, found.status),
        sentence=found.sentence,
    )


def _tube(build: Build) -> Iterator[Verdict]:
    bore = build.capillary.bore.value
    stock = build.capillary.length
    if build.length < FEWEST_BORES * bore:
        yield Verdict(
            key="short_tube",
            fault="too short for a capillary",
            state="fails",
            number=build.length,
            limit=FEWEST_BORES * bore,
            kind="length",
            source="common practice: a capillary is at least three hundred bores long",
            sentence="so short a tube cannot be cut closely enough; take a wider bore",
        )
    if build.cut and stock is not None and build.length > stock.value:
        yield Verdict(
            key="stock",
            fault="not enough tube on the shelf",
            state="fails",
            number=build.length,
            limit=stock.value,
            kind="length",
            source="the job",
            sentence="length wanted against the length on the shelf; take a narrower bore",
        )


def _start(build: Build, balance: SteadyState) -> Iterator[Verdict]:
    found = start_verdict(
        starting_torque=build.compressor.starting_torque,
        difference=balance.discharge_pressure - balance.suction_pressure,
    )
    if found.verdict == "ok":
        return
    yield Verdict(
        key="start",
        fault="pressures apart after a stop",
        state="note",
        number=balance.discharge_pressure - balance.suction_pressure,
        kind="pressure difference",
        source=sourced(found.source, found.status),
        sentence=found.sentence,
    )


def _supply(build: Build) -> Iterator[Verdict]:
    plate = build.compressor.rated_voltage
    if plate is not None:
        v = voltage_verdict(supply=build.job.supply.voltage.value, plate=plate)
        if not v.holds:
            yield Verdict(
                key="voltage",
                fault="wrong voltage",
                state="fails",
                number=build.job.supply.voltage.value,
                limit=plate,
                kind="voltage",
                source=sourced("the motor's plate and its usual tolerance", v.status),
                sentence=v.sentence,
                safety=True,
                final=True,
            )
    mains = build.job.supply.frequency.value
    if abs(mains - build.compressor.rated_frequency) > 1.0:
        yield Verdict(
            key="frequency",
            fault="other line frequency",
            state="note",
            number=mains,
            limit=build.compressor.rated_frequency,
            kind="frequency",
            source="common practice",
            sentence="the motor runs at the speed of this mains, not of its plate; its "
            "voltage must change in the same proportion",
        )


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
    found = (*criteria(build), *room_criteria(build))
    margins = np.full((len(runs), len(found)), np.nan)
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
    bad |= margins > 0.0
    keys = tuple(c.key for c in found)
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
    found = []
    for c in criteria(build):
        subject = colder if c.on_colder else balance
        if subject is not None or any(t.looked_colder for t in runs):
            found.append(_verdict(c, build, subject))
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

"""When a machine is charged right, and when it cannot be.

Right is: the evaporator wet to its end, the suction dry and a little warm at the compressor, the
coil above freezing in this room, head pressure, subcooling, discharge gas and watts within their
limits. Each is held against where its reading settles, with the errors of the instruments; what
nobody read is taken from the sampled machines that agree with the readings, and said so.

A table says of each limit what brings a reading nearer to it, refrigerant or the want of it. That
decides what being beyond it means: too little charge raises superheat and discharge temperature
together (sign table of Rossi and Braun, HVAC&R Research 3, 1997), so refrigerant cools such gas and
stopping does not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from sweatline.answers import Answer, Range
from sweatline.assembly.build import Build
from sweatline.assembly.plate import plate_power
from sweatline.constants import ZERO_CELSIUS
from sweatline.log.channels import BLOCKED_TUBE, in_order

_WARM: Final = 3.0  # K of superheat from which a suction counts as dry and a little warm
_BACKED_UP: Final = 15.0  # K of subcooling: liquid stands in the condenser (common practice)
_ALLOWED: Final = 1.0  # K above the wanted superheat that still count as filled
_FAR: Final = 3.0  # K above the wanted superheat: the evaporator is clearly not filled
_NO_LIQUID: Final = 2.0  # K of subcooling below which gas may enter the capillary
_RUNNING: Final = 1.10  # x the plate's watts (common practice, as in the verdicts)

Verdict = Literal["yes", "no", "in doubt", "not read"]
Condition = Literal["filled", "dry suction", "coil", "head", "subcooling", "discharge", "watts"]
Nearer = Literal["refrigerant", "starving"]
ConditionKind = Literal["temperature", "temperature difference", "pressure", "power"]
Side = Literal["at least", "at most"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StopCondition(Answer):
    """One condition of the stop rule, held against where the readings settle."""

    key: Condition
    what: str
    state: Verdict
    settles_SI: Range | None
    limit_SI: float | None
    side: Side
    """Where the limit lies."""
    nearer_by: Nearer
    """What brings its reading nearer to the limit: more refrigerant, or the want of it."""
    kind: ConditionKind
    by: Literal["reading", "model"]
    """Whether an instrument shows it, or the sampled machines that agree with the readings."""
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle(Answer):
    """Why no charge makes this machine right, as far as its readings tell."""

    key: Literal[
        "head", "head after a dose", "subcooling", "discharge", "capillary too tight",
        "capillary too wide", "look first",
    ]  # fmt: skip
    sentence: str
    switch_off: bool = False
    """It must not run on."""
    cause: str = ""
    """Of a look: key of the likeliest cause with which no dose approaches its target."""
    read: str = ""
    """Of a look: the channel that tells the causes apart; empty where none does."""
    ruled_out: tuple[str, ...] = ()
    """What to write as ruled out once it was looked at and is in order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """What a reading is held against while charging, and what being beyond it means."""

    key: Condition
    what: str
    side: Side
    kind: ConditionKind
    nearer_by: Nearer
    obstacle: Obstacle | None = None
    """Why the charging ends beyond it; None where it only tells how far things are."""
    while_starved: str = ""
    """What is said beyond it while the evaporator is starved, where starving brings it nearer."""


def goes_on(ruled_out: Sequence[str]) -> str:
    """What is to be written once something was looked at and is in order."""
    seen = " and ".join(in_order(one) for one in ruled_out)
    lines = " and ".join(f"`ruled-out {one.replace(' ', '-')}`" for one in ruled_out)
    return f"Where {seen}, write {lines}, and it goes on"


_THROUGH: Final = goes_on((BLOCKED_TUBE,))

LIMITS: Final = (
    Limit(
        key="filled", what="evaporator wet to its end", side="at most",
        kind="temperature difference", nearer_by="starving",
    ),
    Limit(
        key="dry suction", what="suction dry and a little warm", side="at least",
        kind="temperature difference", nearer_by="refrigerant",
    ),
    Limit(
        key="coil", what="coil above freezing in this room", side="at least", kind="temperature",
        nearer_by="starving",
    ),
    Limit(
        key="head", what="head pressure within its limit", side="at most", kind="pressure",
        nearer_by="refrigerant",
        obstacle=Obstacle(
            key="head",
            switch_off=True,
            sentence="switch off: the head pressure settles above the limit of the high side; look "
            "for a fan that stands, a blocked condenser or air in the circuit",
        ),
    ),
    Limit(
        key="subcooling", what="liquid not backed up in the condenser", side="at most",
        kind="temperature difference", nearer_by="refrigerant",
        obstacle=Obstacle(
            key="subcooling",
            sentence="the liquid is subcooled more than a sound machine of these parts shows at "
            "this superheat: another dose only backs up in the condenser. A blocked drier or "
            "capillary, air in the circuit, or a head gauge that reads high looks like this. Is "
            "the drier colder behind than before? Stopped, and all of it as warm as the room, does "
            f"the head gauge show the saturation pressure of the room? {_THROUGH}",
            cause="restriction",
            ruled_out=(BLOCKED_TUBE,),
        ),
    ),
    Limit(
        key="discharge", what="discharge gas within its limit", side="at most", kind="temperature",
        nearer_by="starving",
        obstacle=Obstacle(
            key="discharge",
            sentence="the discharge gas settles above its limit: oil and valves suffer",
        ),
        while_starved="the discharge gas is above its limit because the evaporator is starved, and "
        "cools as it fills",
    ),
    Limit(
        key="watts", what="watts within the plate", side="at most", kind="power",
        nearer_by="refrigerant",  # no obstacle: in a hot room sound machines are above it
    ),
)  # fmt: skip
_LIMIT_OF: Final[Mapping[Condition, Limit]] = {limit.key: limit for limit in LIMITS}

# By superheat and subcooling together.
_TOO_TIGHT: Final = Obstacle(
    key="capillary too tight",
    sentence="no charge suits this capillary: the evaporator is not filled, and liquid already "
    "fills the condenser, so more refrigerant only raises the head pressure. The capillary is too "
    f"tight or too long, or capillary or drier is blocked. {_THROUGH}",
    cause="restriction",
    ruled_out=(BLOCKED_TUBE,),
)
_TOO_WIDE: Final = Obstacle(
    key="capillary too wide",
    sentence="no charge suits this capillary: the evaporator is full while gas still enters the "
    "capillary, so it passes more than the compressor moves. It is too wide or too short, or the "
    "compressor pumps less than it should",
)
HEAD_AFTER_A_DOSE: Final = Obstacle(
    key="head after a dose",
    sentence="the head pressure could pass the limit of the high side after another dose",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Where things settle, errors of the instruments included."""

    at: Mapping[str, Range]
    """Of readings by their channel, and of superheat and subcooling. [SI]"""
    model: Mapping[str, Range]
    """What the machines that agree with the readings show at this charge. [SI]"""
    most_subcooling: float | None = None
    """That hardly any of the machines that this one may be shows at this superheat. [K]"""
    blocked_tube: bool = True
    """Whether the tube may be blocked; else it is one that lets through less than it should."""

    @property
    def coil(self) -> Range | None:
        """Of the coldest surface, as read, else by the model. [K]"""
        return self.at.get("coil") or self.model.get("coldest surface")

    @property
    def discharge(self) -> Range | None:
        """Of the discharge gas, as read, else by the model. [K]"""
        return self.at.get("discharge gas") or self.model.get("discharge gas")


def _state(value: Range | None, limit: float | None, *, above: bool) -> Verdict:
    """Whether a value is on the right side of its limit."""
    if value is None or limit is None:
        return "not read"
    worst, best = (value.low, value.high) if above else (-value.high, -value.low)
    bar = limit if above else -limit
    if worst >= bar:
        return "yes"
    return "no" if best < bar else "in doubt"


def stop_conditions(build: Build, s: Settled) -> tuple[StopCondition, ...]:
    """The conditions under which charging is finished, one by one."""
    limits = build.job.limits
    wanted = build.job.targets.superheat
    at_compressor = s.at.get("return gas superheat")
    where = "superheat at the compressor"
    if at_compressor is None:
        where = (
            "superheat at the evaporator's outlet; read return-gas, on the tube at the compressor"
        )
    found = [
        _condition(
            "filled", s.at.get("superheat"), wanted,
            "superheat at its outlet down to what is wanted", allowed=_ALLOWED,
        ),
        _condition("dry suction", at_compressor or s.at.get("superheat"), _WARM, where),
        _condition("coil", s.coil, ZERO_CELSIUS, "coldest surface", read="coil" in s.at),
    ]  # fmt: skip
    if at_compressor is None and found[1].state == "no":
        found[1] = replace(found[1], state="in doubt")
    head, gas = limits.high_side_pressure, limits.discharge_temperature
    if head is not None:
        note = head.note or "limit in the job"
        found.append(_condition("head", s.at.get("head gauge"), head.value, note))
    if s.most_subcooling is not None and s.blocked_tube:
        note = "98 of 100 sound machines of these parts stay below it at this superheat"
        found.append(_condition("subcooling", s.at.get("subcooling"), s.most_subcooling, note))
    note, read = gas.note or "limit in the job", "discharge gas" in s.at
    found.append(_condition("discharge", s.discharge, gas.value, note, read=read))
    plate = plate_power(build.compressor)
    if plate is not None:
        air = build.machine.air
        most = _RUNNING * plate.value + air.fan_power + air.condenser_fan_power
        note = "a tenth above the plate of the motor, with the fans"
        found.append(_condition("watts", s.at.get("watts"), most, note))
    return tuple(found)


def _condition(
    key: Condition,
    value: Range | None,
    limit: float,
    sentence: str,
    *,
    allowed: float = 0.0,
    read: bool = True,
) -> StopCondition:
    """A value against its limit, beyond which so much is allowed."""
    of = _LIMIT_OF[key]
    return StopCondition(
        key=key,
        what=of.what,
        state=_state(value, limit + allowed, above=of.side == "at least"),
        settles_SI=value,
        limit_SI=limit,
        side=of.side,
        nearer_by=of.nearer_by,
        kind=of.kind,
        by="reading" if read else "model",
        sentence=sentence,
    )


def beyond(rules: Iterable[StopCondition]) -> tuple[Limit, ...]:
    """Limits that a reading, not the model, settles beyond for sure."""
    return tuple(
        _LIMIT_OF[rule.key] for rule in rules if rule.state == "no" and rule.by == "reading"
    )


def obstacles(build: Build, s: Settled) -> tuple[Obstacle, ...]:
    """Why no charge makes this machine right, by its readings; the most urgent first.

    A limit that starving brings nearer speaks against a dose once the evaporator is not starved.
    """
    rules = stop_conditions(build, s)
    found = [
        limit.obstacle
        for limit in beyond(rules)
        if limit.obstacle is not None
        and (limit.nearer_by == "refrigerant" or _filled(rules) != "no")
    ]
    urgent = [o for o in found if o.switch_off]
    return (*urgent, *_by_both(build, s), *(o for o in found if o not in urgent))


def _by_both(build: Build, s: Settled) -> Iterator[Obstacle]:
    """What superheat and subcooling say together of the capillary."""
    wanted = build.job.targets.superheat
    superheat, subcooling = s.at.get("superheat"), s.at.get("subcooling")
    if superheat is None or subcooling is None:
        return
    tight = superheat.low > wanted + _FAR and subcooling.low > _BACKED_UP
    if tight and s.blocked_tube:
        yield _TOO_TIGHT
    if superheat.high < wanted + _ALLOWED and subcooling.high < _NO_LIQUID:
        yield _TOO_WIDE


def asks_for_gas(build: Build, s: Settled) -> tuple[str, ...]:
    """What is said of limits that are passed for want of refrigerant."""
    rules = stop_conditions(build, s)
    if _filled(rules) != "no":
        return ()
    return tuple(limit.while_starved for limit in beyond(rules) if limit.while_starved)


def mended_by_taking_out(build: Build, s: Settled, hindered: Iterable[Obstacle]) -> bool:
    """Whether too much refrigerant alone explains what is in the way."""
    of_gas = {limit.key for limit in LIMITS if limit.nearer_by == "refrigerant"}
    return _filled(stop_conditions(build, s)) == "yes" and all(
        o.key in of_gas and not o.switch_off for o in hindered
    )


def _filled(rules: Iterable[StopCondition]) -> Verdict:
    return next(rule.state for rule in rules if rule.key == "filled")

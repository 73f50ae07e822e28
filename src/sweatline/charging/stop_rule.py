"""When a machine is charged right, and when it cannot be.

Right is: the evaporator wet to its end, the suction dry and a little warm at the compressor, the
coil above freezing in this room, head pressure and discharge gas within their limits. Each is held
against where its reading settles, with the errors of the instruments; what nobody read is taken
from the sampled machines that agree with the readings, and said so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

from sweatline.answers import Answer, Range
from sweatline.assembly.build import Build
from sweatline.assembly.pumping import plate_power
from sweatline.constants import ZERO_CELSIUS

_WARM: Final = 3.0  # K of superheat from which a suction counts as dry and a little warm
_BACKED_UP: Final = 15.0  # K of subcooling: liquid stands in the condenser (common practice)
_ALLOWED: Final = 1.0  # K above the wanted superheat that still count as filled
_FAR: Final = 3.0  # K above the wanted superheat: the evaporator is clearly not filled
_NO_LIQUID: Final = 2.0  # K of subcooling below which gas may enter the capillary
_RUNNING: Final = 1.10  # x the plate's watts (common practice, as in the verdicts)

Verdict = Literal["yes", "no", "in doubt", "not read"]
Condition = Literal["filled", "dry suction", "coil", "head", "discharge", "watts"]
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
    kind: ConditionKind
    by: Literal["reading", "model"]
    """Whether an instrument shows it, or the sampled machines that agree with the readings."""
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle(Answer):
    """Why no charge makes this machine right, as far as its readings tell."""

    key: Literal[
        "head", "head after a dose", "discharge", "capillary too tight", "capillary too wide"
    ]
    sentence: str
    switch_off: bool = False
    """It must not run on."""


_OBSTACLES: Final = (
    Obstacle(
        key="head",
        switch_off=True,
        sentence="switch off: the head pressure settles above the limit of the high side; look for "
        "a fan that stands, a blocked condenser or air in the circuit",
    ),
    Obstacle(
        key="discharge",
        sentence="the discharge gas settles above its limit: oil and valves suffer",
    ),
    Obstacle(
        key="capillary too tight",
        sentence="no charge suits this capillary: the evaporator is not filled, and liquid already "
        "fills the condenser, so more refrigerant only raises the head pressure. The capillary is "
        "too tight or too long, or capillary or drier is blocked",
    ),
    Obstacle(
        key="capillary too wide",
        sentence="no charge suits this capillary: the evaporator is full while gas still enters "
        "the capillary, so it passes more than the compressor moves. It is too wide or too short, "
        "or the compressor pumps less than it should",
    ),
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
    note, read = gas.note or "limit in the job", "discharge gas" in s.at
    found.append(_condition("discharge", s.discharge, gas.value, note, read=read))
    plate = plate_power(build.compressor)
    if plate is not None:
        air = build.machine.air
        most = _RUNNING * plate.value + air.fan_power + air.condenser_fan_power
        note = "a tenth above the plate of the motor, with the fans"
        found.append(_condition("watts", s.at.get("watts"), most, note))
    return tuple(found)


_CONDITIONS: Final[Mapping[Condition, tuple[str, Side, ConditionKind]]] = {
    "filled": ("evaporator wet to its end", "at most", "temperature difference"),
    "dry suction": ("suction dry and a little warm", "at least", "temperature difference"),
    "coil": ("coil above freezing in this room", "at least", "temperature"),
    "head": ("head pressure within its limit", "at most", "pressure"),
    "discharge": ("discharge gas within its limit", "at most", "temperature"),
    "watts": ("watts within the plate", "at most", "power"),
}


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
    what, side, kind = _CONDITIONS[key]
    return StopCondition(
        key=key,
        what=what,
        state=_state(value, limit + allowed, above=side == "at least"),
        settles_SI=value,
        limit_SI=limit,
        side=side,
        kind=kind,
        by="reading" if read else "model",
        sentence=sentence,
    )


def hot_for_want_of_charge(build: Build, s: Settled) -> bool:
    """Whether the discharge gas settles above its limit while the evaporator is starved.

    Too little charge raises superheat and discharge temperature together (sign table of Rossi and
    Braun, HVAC&R Research 3, 1997): refrigerant cools such gas, stopping does not.
    """
    hottest = build.job.limits.discharge_temperature.value
    gas, superheat = s.at.get("discharge gas"), s.at.get("superheat")
    wanted = build.job.targets.superheat + _ALLOWED
    return _state(gas, hottest, above=False) == _state(superheat, wanted, above=False) == "no"


def obstacles(build: Build, s: Settled) -> tuple[Obstacle, ...]:
    """Why no charge makes this machine right, by its readings; the most urgent first.

    A limit that refrigerant brings nearer speaks against any dose, one that starving brings nearer
    only once the evaporator is filled.
    """
    limits = build.job.limits
    wanted = build.job.targets.superheat
    head, most = s.at.get("head gauge"), limits.high_side_pressure
    gas = None if hot_for_want_of_charge(build, s) else s.at.get("discharge gas")
    superheat, subcooling = s.at.get("superheat"), s.at.get("subcooling")
    tight = wide = False
    if superheat is not None and subcooling is not None:
        tight = superheat.low > wanted + _FAR and subcooling.low > _BACKED_UP
        wide = superheat.high < wanted + _ALLOWED and subcooling.high < _NO_LIQUID
    there = (
        _state(head, None if most is None else most.value, above=False) == "no",
        _state(gas, limits.discharge_temperature.value, above=False) == "no",
        tight,
        wide,
    )
    return tuple(o for o, one in zip(_OBSTACLES, there, strict=True) if one)

"""When a machine is charged right, and when it cannot be.

Right is: the evaporator wet to its end, the suction dry and a little warm at the compressor, the
coil above freezing in this room, head pressure and discharge gas within their limits. Each is held
against where its reading settles, with the errors of the instruments; what nobody read is taken
from the sampled machines that agree with the readings, and said so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from sweatline.answers import Answer, Range
from sweatline.assembly.build import Build
from sweatline.assembly.compressor import plate_power
from sweatline.constants import ZERO_CELSIUS

__all__ = [
    "HEAD_AFTER_A_DOSE",
    "Obstacle",
    "Settled",
    "StopCondition",
    "obstacles",
    "stop_conditions",
]

_WARM: Final = 3.0  # K of superheat from which a suction counts as dry and a little warm
_BACKED_UP: Final = 15.0  # K of subcooling: liquid stands in the condenser (common practice)
_FAR: Final = 3.0  # K above the wanted superheat: the evaporator is clearly not filled
_NO_LIQUID: Final = 2.0  # K of subcooling below which gas may enter the capillary
_RUNNING: Final = 1.10  # x the plate's watts (common practice, as in the verdicts)

Verdict = Literal["yes", "no", "in doubt", "not read"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StopCondition(Answer):
    """One condition of the stop rule, held against where the readings settle."""

    key: Literal["filled", "dry suction", "coil", "head", "discharge", "watts"]
    what: str
    state: Verdict
    settles_SI: Range | None
    limit_SI: float | None
    side: Literal["at least", "at most"]
    """Where the limit lies."""
    kind: Literal["temperature", "temperature difference", "pressure", "power"]
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


HEAD_AFTER_A_DOSE: Final = Obstacle(
    key="head after a dose",
    sentence="the head pressure could pass the limit of the high side after another dose",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Where things settle, errors of the instruments included. [SI] None where not known."""

    superheat: Range | None = None  # at the evaporator's outlet
    subcooling: Range | None = None
    at_compressor: Range | None = None  # superheat there
    coil: Range | None = None
    head: Range | None = None  # absolute
    discharge: Range | None = None
    watts: Range | None = None
    coil_read: bool = False
    discharge_read: bool = False


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
    suction = s.at_compressor or s.superheat
    where = "superheat at the compressor"
    if s.at_compressor is None:
        where = (
            "superheat at the evaporator's outlet; read return-gas, on the tube at the compressor"
        )
    dry = _state(suction, _WARM, above=True)
    if s.at_compressor is None and dry == "no":
        dry = "in doubt"
    found = [
        StopCondition(
            key="filled", what="evaporator wet to its end",
            state=_state(s.superheat, wanted + 1.0, above=False),
            settles_SI=s.superheat, limit_SI=wanted, side="at most",
            kind="temperature difference", by="reading",
            sentence="superheat at its outlet down to what is wanted",
        ),
        StopCondition(
            key="dry suction", what="suction dry and a little warm", state=dry,
            settles_SI=suction, limit_SI=_WARM, side="at least",
            kind="temperature difference", by="reading", sentence=where,
        ),
        StopCondition(
            key="coil", what="coil above freezing in this room",
            state=_state(s.coil, ZERO_CELSIUS, above=True),
            settles_SI=s.coil, limit_SI=ZERO_CELSIUS, side="at least",
            kind="temperature", by="reading" if s.coil_read else "model",
            sentence="coldest surface",
        ),
    ]  # fmt: skip
    head, gas = limits.high_side_pressure, limits.discharge_temperature
    if head is not None:
        found.append(
            StopCondition(
                key="head", what="head pressure within its limit",
                state=_state(s.head, head.value, above=False),
                settles_SI=s.head, limit_SI=head.value, side="at most",
                kind="pressure", by="reading", sentence=head.note or "limit in the job",
            )
        )  # fmt: skip
    found.append(
        StopCondition(
            key="discharge", what="discharge gas within its limit",
            state=_state(s.discharge, gas.value, above=False),
            settles_SI=s.discharge, limit_SI=gas.value, side="at most",
            kind="temperature", by="reading" if s.discharge_read else "model",
            sentence=gas.note or "limit in the job",
        )
    )  # fmt: skip
    plate = plate_power(build.compressor)
    if plate is not None:
        air = build.machine.air
        most = _RUNNING * plate.value + air.fan_power + air.condenser_fan_power
        found.append(
            StopCondition(
                key="watts", what="watts within the plate",
                state=_state(s.watts, most, above=False),
                settles_SI=s.watts, limit_SI=most, side="at most", kind="power", by="reading",
                sentence="a tenth above the plate of the motor, with the fans",
            )
        )  # fmt: skip
    return tuple(found)


def obstacles(build: Build, s: Settled) -> tuple[Obstacle, ...]:
    """Why no charge makes this machine right, by its readings; the most urgent first."""
    limits = build.job.limits
    wanted = build.job.targets.superheat
    found = []
    high_side = limits.high_side_pressure
    if high_side is not None and _state(s.head, high_side.value, above=False) == "no":
        found.append(
            Obstacle(
                key="head",
                switch_off=True,
                sentence="switch off: the head pressure settles above the limit of the high side; "
                "look for a fan that stands, a blocked condenser or air in the circuit",
            )
        )
    hot = _state(s.discharge, limits.discharge_temperature.value, above=False) == "no"
    if s.discharge_read and hot:
        found.append(
            Obstacle(
                key="discharge",
                sentence="the discharge gas settles above its limit: oil and valves suffer",
            )
        )
    if s.superheat is None or s.subcooling is None:
        return tuple(found)
    if s.superheat.low > wanted + _FAR and s.subcooling.low > _BACKED_UP:
        found.append(
            Obstacle(
                key="capillary too tight",
                sentence="no charge suits this capillary: the evaporator is not filled, and liquid "
                "already fills the condenser, so more refrigerant only raises the head pressure. "
                "The capillary is too tight or too long, or capillary or drier is blocked",
            )
        )
    if s.superheat.high < wanted + 1.0 and s.subcooling.high < _NO_LIQUID:
        found.append(
            Obstacle(
                key="capillary too wide",
                sentence="no charge suits this capillary: the evaporator is full while gas still "
                "enters the capillary, so it passes more than the compressor moves. It is too wide "
                "or too short, or the compressor pumps less than it should",
            )
        )
    return tuple(found)

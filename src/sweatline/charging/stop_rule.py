"""When a machine is charged right, and when it cannot be.

Right is: the evaporator wet to its end, the suction dry and a little warm at the compressor, the
coil above freezing in this room, head pressure and discharge gas within their limits. Each is held
against where its reading settles, with the errors of the instruments; what nobody read is taken
from the drawn machines that agree with the readings, and said so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from sweatline.answers import Range
from sweatline.charging.records import RuleRecord
from sweatline.constants import ZERO_CELSIUS

if TYPE_CHECKING:
    from sweatline.assembly.build import Build

__all__ = ["Settled", "Told", "band_of", "obstacles", "rules"]

Told = tuple[float, float, float]  # 5 %, median, 95 %

_WARM: Final = 3.0  # K of superheat from which a suction counts as dry and a little warm
_BACKED_UP: Final = 15.0  # K of subcooling: liquid stands in the condenser (common practice)
_FAR: Final = 3.0  # K above the wanted superheat: the evaporator is clearly not filled
_NO_LIQUID: Final = 2.0  # K of subcooling below which gas may enter the capillary
_RUNNING: Final = 1.10  # x the plate's watts (common practice, as in the verdicts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Where things settle: 5 %, median and 95 %, errors of the instruments included. [SI]"""

    superheat: Told | None = None  # at the evaporator's outlet
    subcooling: Told | None = None  # None: the liquid line was not read
    at_compressor: Told | None = None  # superheat there
    coil: Told | None = None
    head: Told | None = None  # absolute
    discharge: Told | None = None
    watts: Told | None = None
    coil_read: bool = False
    discharge_read: bool = False


def band_of(told: Told | None) -> Range | None:
    """As a record; none when a number is missing."""
    if told is None or not all(math.isfinite(v) for v in told):
        return None
    return Range(low=told[0], middle=told[1], high=told[2])


def _state(
    told: Told | None, limit: float | None, *, above: bool
) -> Literal["yes", "no", "in doubt", "not read"]:
    """Whether a value is on the right side of its limit."""
    if told is None or limit is None:
        return "not read"
    low, _middle, high = told if above else (-told[2], -told[1], -told[0])
    bar = limit if above else -limit
    if low >= bar:
        return "yes"
    return "no" if high < bar else "in doubt"


def rules(build: Build, s: Settled) -> tuple[RuleRecord, ...]:
    """The conditions under which charging is finished, one by one."""
    limits = build.job.limits
    wanted = build.job.targets.superheat
    suction = s.at_compressor or s.superheat
    state = _state(suction, _WARM, above=True)
    dry = "superheat at the compressor"
    if s.at_compressor is None:
        dry = "superheat at the evaporator's outlet; read return-gas, on the tube at the compressor"
        if state == "no":
            state = "in doubt"
    found = [
        RuleRecord(
            what="evaporator wet to its end",
            state=_state(s.superheat, wanted + 1.0, above=False),
            settles_SI=band_of(s.superheat),
            limit_SI=wanted,
            kind="temperature difference",
            by="reading",
            sentence="superheat at its outlet down to what is wanted",
        ),
        RuleRecord(
            what="suction dry and a little warm",
            state=state,
            settles_SI=band_of(suction),
            limit_SI=_WARM,
            kind="temperature difference",
            by="reading",
            sentence=dry,
        ),
        RuleRecord(
            what="coil above freezing in this room",
            state=_state(s.coil, ZERO_CELSIUS, above=True),
            settles_SI=band_of(s.coil),
            limit_SI=ZERO_CELSIUS,
            kind="temperature",
            by="reading" if s.coil_read else "model",
            sentence="coldest surface",
        ),
    ]
    if limits.high_side_pressure is not None:
        found.append(
            RuleRecord(
                what="head pressure within its limit",
                state=_state(s.head, limits.high_side_pressure.value, above=False),
                settles_SI=band_of(s.head),
                limit_SI=limits.high_side_pressure.value,
                kind="pressure",
                by="reading",
                sentence=limits.high_side_pressure.note or "limit in the job",
            )
        )
    found.append(
        RuleRecord(
            what="discharge gas within its limit",
            state=_state(s.discharge, limits.discharge_temperature.value, above=False),
            settles_SI=band_of(s.discharge),
            limit_SI=limits.discharge_temperature.value,
            kind="temperature",
            by="reading" if s.discharge_read else "model",
            sentence=limits.discharge_temperature.note or "limit in the job",
        )
    )
    plate = _plate(build)
    if plate is not None:
        found.append(
            RuleRecord(
                what="watts within the plate",
                state=_state(s.watts, _RUNNING * plate, above=False),
                settles_SI=band_of(s.watts),
                limit_SI=_RUNNING * plate,
                kind="power",
                by="reading",
                sentence="a tenth above the plate of the motor, with the fans",
            )
        )
    return tuple(found)


def _plate(build: Build) -> float | None:
    """Watts of the compressor's plate and of the fans. [W]"""
    from sweatline.assembly.compressor import plate_power

    plate = plate_power(build.compressor)
    if plate is None:
        return None
    air = build.machine.air
    return plate.value + (air.fan_power + air.condenser_fan_power) / _RUNNING


def obstacles(build: Build, s: Settled) -> tuple[str, ...]:
    """Why no charge makes this machine right, by its readings; the most urgent first."""
    limits = build.job.limits
    wanted = build.job.targets.superheat
    found = []
    high_side = limits.high_side_pressure
    if high_side is not None and _state(s.head, high_side.value, above=False) == "no":
        found.append(
            "switch off: the head pressure settles above the limit of the high side; look for a "
            "fan that stands, a blocked condenser or air in the circuit"
        )
    if (
        s.discharge_read
        and _state(s.discharge, limits.discharge_temperature.value, above=False) == "no"
    ):
        found.append("the discharge gas settles above its limit: oil and valves suffer")
    if s.superheat is None or s.subcooling is None:
        return tuple(found)
    if s.superheat[0] > wanted + _FAR and s.subcooling[0] > _BACKED_UP:
        found.append(
            "it cannot be balanced with this capillary: the evaporator is not filled and liquid "
            "already backs up in the condenser, so more refrigerant only raises the head "
            "pressure; the capillary is too tight or too long, or capillary or drier is blocked"
        )
    if s.superheat[2] < wanted + 1.0 and s.subcooling[2] < _NO_LIQUID:
        found.append(
            "it cannot be balanced with this capillary: the evaporator is full while gas still "
            "enters the capillary, so it passes more than the compressor moves; it is too wide or "
            "too short, or the compressor pumps less than it should"
        )
    return tuple(found)

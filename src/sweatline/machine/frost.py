"""A machine whose coil freezes: frost, airflow and balance carried through time.

Frost grows in minutes and hours, the circuit settles in minutes: each step takes the balance of
the machine under the frost it has, lets that freeze on for a while, and solves again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated, Literal

from sweatline.air.saturation_line import SaturationLine
from sweatline.answers import Answer, Hidden, Q
from sweatline.errors import SolveError
from sweatline.machine.balance import SteadyState, fixed_charge, solve
from sweatline.machine.circuit import MachineParameters
from sweatline.parts.frost import (
    AirPath,
    Frost,
    air_through,
    bare,
    freezing,
    frosted,
    grown,
    half_gap,
)
from sweatline.refrigerant.table import Table

BLOCKED = 0.5  # of the clean airflow: then the coil counts as blocked
_LARGEST = 0.02  # growth of the thickest layer in one step, over half the gap between fins
_LONGEST = 900.0  # s, in one step
_SLOW = 1e-9  # kg/s of ice that is not worth following
_STALLED = 0.02  # of the first freezing rate: the frost has found its end


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostStep(Answer):
    """The machine at one moment."""

    time: Annotated[float, Q("time", "after", "Since the coil was bare.", digits=2)]
    seconds: Annotated[float, Hidden()]  # s until the next moment; 0 at the end
    airflow: Annotated[float, Hidden()]  # over that of the clean machine
    coil_drop: Annotated[float, Hidden()]  # Pa, air side of the evaporator
    freezing: Annotated[float, Q("water removal", "freezing", "Water that freezes on.")]
    ice: Annotated[float, Q("mass", "ice", "On the coil.")]
    thickest: Annotated[float, Q("length", "thickest")]
    density: Annotated[float, Hidden()]  # kg/m3, mean over the ice
    balance: Annotated[SteadyState, Hidden()]

    @property
    def air_share(self) -> Annotated[float, Q("ratio", "airflow")]:
        """Airflow over that of the clean machine."""
        return self.airflow

    @property
    def evaporating_temperature(self) -> Annotated[float, Q("temperature", "evaporating")]:
        """Dew at the suction pressure. [K]"""
        return self.balance.evaporating_temperature

    @property
    def coil_temperature(self) -> Annotated[float, Q("temperature", "coldest coil surface")]:
        """Coldest surface of the evaporator. [K]"""
        return self.balance.coil_temperature

    @property
    def total_power(self) -> Annotated[float, Q("power", "watts with the fan")]:
        """Compressor and all fans. [W]"""
        return self.balance.total_power

    @property
    def water(self) -> Annotated[float, Q("water removal", "water")]:
        """Out of the air, frozen or not. [kg/s]"""
        return self.balance.water


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostRun:
    """A run until the coil is blocked, or until nothing more happens."""

    steps: tuple[FrostStep, ...]
    ended: Literal["blocked", "bare", "settled", "time", "no balance"]
    reason: str  # why there is no balance any more
    frost: Frost

    @property
    def ice(self) -> float:
        """On the coil at the end. [kg]"""
        return self.steps[-1].ice

    def when(self, airflow: float) -> float | None:
        """Time at which the airflow has fallen to a share of the clean one; None if never. [s]"""
        for a, b in pairwise(self.steps):
            if a.airflow >= airflow > b.airflow:
                return a.time + (b.time - a.time) * (a.airflow - airflow) / (a.airflow - b.airflow)
        return None


def run_frost(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    start: SteadyState,
    path: AirPath,
    pressure: float,
    *,
    density_factor: float = 1.0,
    hours: float = 24.0,
    finer: float = 1.0,
    progress: Callable[[float], None] | None = None,
) -> FrostRun:
    """Run a machine of fixed charge until its coil is blocked by frost.

    Parameters
    ----------
    machine : MachineParameters
        Clean, in its room; the evaporator better tube by tube: frost closes places.
    start : SteadyState
        A solved state of this machine; its charge is kept.
    path : AirPath
        Fan and resistances of the clean machine.
    pressure : float
        Atmospheric. [Pa]
    density_factor : float
        On the density of the frost. [-]
    hours : float
        At most. [h]
    finer : float
        Divides the largest step. [-]

    Returns
    -------
    FrostRun
        Ended ``bare`` where nothing freezes, ``settled`` where the frost no longer grows, ``no
        balance`` with the reason where the machine cannot run under its frost.
    """
    clean = machine.evaporator
    area = clean.layout.height_times[None, :, None] * clean.cell_length * clean.outside_per_length
    frost = bare(clean)
    weather = {
        "air_humidity": machine.air.humidity,
        "pressure": pressure,
        "density_factor": density_factor,
    }
    target = fixed_charge(start.charge)
    near = start
    steps: list[FrostStep] = []
    time = 0.0
    ended: Literal["blocked", "bare", "settled", "time", "no balance"] = "time"
    reason = ""
    while True:
        airflow, speed, drop = air_through(clean, frost, path)
        now = path._replace(flux=path.flux * airflow)
        coil = frosted(clean, frost, now, speed)
        under = machine._replace(
            evaporator=coil,
            air=machine.air._replace(flow=machine.air.flow * airflow),
        )
        try:
            near = solve(table, line, under, target, near=near, profiles=True)
        except SolveError as error:
            ended, reason = "no balance", error.condition
            break
        assert near.evaporator_profile is not None
        rate = freezing(coil, near.evaporator_profile)
        total = float((rate * area).sum())
        seconds = min(_LONGEST / finer, max(3600.0 * hours - time, 0.0))
        after = frost
        if total > _SLOW:
            one = grown(coil, frost, near.evaporator_profile, seconds=1.0, **weather)
            growth = float((one.thickness - frost.thickness).max())
            if growth > 0.0:
                seconds = min(seconds, _LARGEST / finer * half_gap(clean.fins) / growth)
            after = grown(coil, frost, near.evaporator_profile, seconds=seconds, **weather)
        ice = float((frost.mass * area).sum())
        if airflow <= BLOCKED:
            ended = "blocked"
        elif total <= _SLOW and ice <= 0.0:
            ended = "bare"
        elif total <= max(_SLOW, _STALLED * (steps[0].freezing if steps else 0.0)):
            ended = "settled"
        last = ended != "time" or seconds <= 0.0
        steps.append(
            FrostStep(
                time=time,
                seconds=0.0 if last else seconds,
                airflow=airflow,
                coil_drop=drop,
                freezing=total,
                ice=ice,
                thickest=float(frost.thickness.max()),
                density=ice / max(float((frost.thickness * area).sum()), 1e-12),
                balance=near,
            )
        )
        if progress is not None:
            progress(min(max(time / (3600.0 * hours), (1.0 - airflow) / (1.0 - BLOCKED)), 1.0))
        if last:
            break
        time += seconds
        frost = after
    if not steps:
        raise SolveError(condition=reason, residuals={}, best={}, tried=())
    return FrostRun(steps=tuple(steps), ended=ended, reason=reason, frost=frost)

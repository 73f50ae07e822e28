"""Load of the motor in a job's machine, settled and at the peak of the pull-down, by trial runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.build import Build, build_for
from sweatline.assembly.trial_runs import trials
from sweatline.bench.start_gear.equalising import GasTube, Sides, sides_at_stop
from sweatline.errors import OutOfRange, SolveError
from sweatline.job.model import Job
from sweatline.machine.balance import SteadyState, filled
from sweatline.machine.circuit import MachineParameters
from sweatline.parts.compressor import operate
from sweatline.refrigerant.refrigerant import Refrigerant

FloatArray = NDArray[np.float64]

_STEPS = 9  # evaporating temperatures looked at
_BELOW_CRITICAL = 0.85  # of the highest pressure in the table, as far as a condenser may follow


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What the motor of one combination carries, and its machine at the stop."""

    settled: FloatArray  # W, (n,)
    hardest: FloatArray  # W, (n,)
    evaporating: float  # K, at the peak, median
    plate: FloatArray | None  # W, (n,)
    per_amp: float | None  # W for each ampere, voltage times the plate's power factor
    tube: GasTube
    sides: Sides


def hardest_power(
    fluid: Refrigerant,
    machine: MachineParameters,
    settled: SteadyState,
    *,
    follows: float,
    reaches: float,
) -> tuple[float, float]:
    """Most power while the evaporating temperature falls to where it settles.

    Parameters
    ----------
    follows : float
        0: the condenser stays as warm as when settled; 1: its distance from the air grows with
        the heat it has to give off, at once. [-]
    reaches : float
        How far up from where it settles the evaporating temperature stands once the compressor
        works against a warm condenser: 0 not at all, 1 as warm as the room. [-]

    Returns
    -------
    power : float
        [W]
    evaporating : float
        Dew temperature at which that is. [K]
    """

    air = settled.air_between[0]
    low_end, high_end = fluid.pressure_range
    cap = fluid.saturation_temperature(max(_BELOW_CRITICAL * high_end, low_end)).dew
    usual = fluid.saturation_temperature(settled.discharge_pressure).dew
    lift = max(usual - air, 1.0)
    load = max(settled.heating, 1.0)
    rise = max(machine.air.ambient - settled.evaporating_temperature, 1.0)
    top = settled.evaporating_temperature + reaches * rise
    return_gas = max(settled.suction_temperature, machine.air.ambient)
    best, where = settled.compressor_power, settled.evaporating_temperature
    for evaporating in np.linspace(settled.evaporating_temperature, top, _STEPS):
        condensing = max(usual, float(evaporating) + 2.0)
        power = 0.0
        for _ in range(12 if follows > 0.0 else 1):
            run = operate(
                fluid.table,
                machine.compressor,
                evaporating=float(evaporating),
                condensing=condensing,
                suction=max(return_gas, float(evaporating) + 1.0),
                liquid=condensing - 1.0,
            )
            power = run.power
            wanted = air + lift * max(1.0 + follows * ((run.capacity + power) / load - 1.0), 1.0)
            wanted = min(max(wanted, float(evaporating) + 2.0), cap)
            condensing += 0.6 * (wanted - condensing)
        if power > best:
            best, where = power, float(evaporating)
    return best, where


def job_load(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    draws: int = 32,
) -> tuple[Build, Load]:
    """Load of one combination in the job's room, filled as far as its evaporator asks.

    Parameters
    ----------
    length : float, optional
        Of the capillary. [m]
    draws : int
        Trial runs over everything uncertain, taken up to the next power of two.

    Raises
    ------
    SolveError
        The machine does not settle, or fewer than half of the trial runs do.
    """

    build = build_for(
        job, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    target = filled(superheat=job.targets.superheat)
    found = build.solve(target, near=build.designed)
    settled, hardest, where, plates = [], [], [], []
    runs = trials(build, found, target, count=draws)
    for i, t in enumerate(runs):
        if t.balance is None:
            continue
        # Where both stand between their bounds is sampled evenly, apart from the rest (additive
        # sequence of the plastic number).
        follows = (0.5 + i * 0.7548776662466927) % 1.0
        reaches = (0.5 + i * 0.5698402909980532) % 1.0
        try:
            power, evaporating = hardest_power(
                build.refrigerant, t.machine, t.balance, follows=follows, reaches=reaches
            )
        except OutOfRange:
            continue
        settled.append(t.balance.compressor_power)
        hardest.append(power)
        where.append(evaporating)
        plates.append(build.limits(build.by_key(t.z)).plate_power)
    if len(settled) < len(runs) // 2:
        raise SolveError(condition="fewer than half of the trial runs of this machine settle")
    plate = np.array([p for p in plates if p is not None], dtype=float)
    tube, sides = sides_at_stop(build, found)
    return build, Load(
        settled=np.array(settled),
        hardest=np.array(hardest),
        evaporating=float(np.median(where)),
        plate=plate if plate.size == len(settled) else None,
        per_amp=_per_amp(build),
        tube=tube,
        sides=sides,
    )


def _per_amp(build: Build) -> float | None:
    """Watts for each ampere: the job's voltage times the plate's power factor."""
    c = build.compressor
    if c.rated_power is None or c.rated_current is None or c.rated_voltage is None:
        return None
    factor = c.rated_power.value / (c.rated_voltage * c.rated_current.value)
    return build.job.supply.voltage.value * min(factor, 1.0)

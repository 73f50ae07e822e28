"""Load of the motor in a job's machine, settled and in the hardest minute, with draws."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sweatline.bench.start_gear.equalising import GasTube, Sides
from sweatline.errors import OutOfRange, SolveError

if TYPE_CHECKING:
    from sweatline.assembly.build import Build
    from sweatline.job.model import Job
    from sweatline.machine.balance import SteadyState
    from sweatline.machine.circuit import MachineParameters
    from sweatline.refrigerant.refrigerant import Refrigerant

__all__ = ["Load", "gas_tube", "hardest_power", "job_load", "sides_at_stop"]

FloatArray = NDArray[np.float64]

_STEPS = 9  # evaporating temperatures looked at
_BELOW_CRITICAL = 0.85  # of the highest pressure in the table, as far as a condenser may follow
_LIQUID_SD = 0.3  # of the liquid before the tube, relative


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What the motor of one combination carries, and its machine at the stop."""

    settled: FloatArray  # W, (n,)
    hardest: FloatArray  # W, (n,)
    evaporating: float  # K, of the hardest minute, median
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
    from sweatline.parts.compressor import operate

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


def sides_at_stop(build: Build, balance: SteadyState) -> tuple[GasTube, Sides]:
    """Tube and both sides at the moment a settled machine stops."""
    from sweatline.assembly.inside_volume import circuit_pieces, side_volume

    pieces = circuit_pieces(build.job, build.compressor)
    high, high_sd = side_volume(pieces, "high")
    low, low_sd = side_volume(pieces, "low")
    fluid = build.refrigerant
    places = balance.charge_by_place
    high_mass = places.condenser + places.liquid_line + places.drier + places.discharge_line
    low_mass = places.evaporator + places.suction_line
    if build.compressor.kind == "rotary":
        high_mass += places.shell_gas
    else:
        low_mass += places.shell_gas
    liquid, high_gas = _split(fluid, balance.liquid_pressure, high, high_mass)
    _wet, low_gas = _split(fluid, balance.suction_pressure, low, low_mass)
    room = build.job.room.temperature.value
    rest = fluid.saturation_pressure_dew(room)
    return gas_tube(
        fluid,
        room=room,
        between=(rest, balance.suction_pressure),
        bore=build.capillary.bore.value,
        bore_sd=build.capillary.bore.sd,
        length=build.length,
        roughness=build.capillary.roughness.value,
    ), Sides(
        high_pressure=balance.liquid_pressure,
        rest_pressure=rest,
        low_pressure=balance.suction_pressure,
        high_volume=high_gas,
        low_volume=low_gas,
        volume_sd=max(high_sd / high, low_sd / low),
        liquid=liquid,
        liquid_sd=_LIQUID_SD * liquid,
        liquid_flow=balance.flow,
    )


def gas_tube(
    fluid: Refrigerant,
    *,
    room: float,
    between: tuple[float, float],
    bore: float,
    bore_sd: float,
    length: float,
    roughness: float = 0.75e-6,
) -> GasTube:
    """A capillary with the vapour of a refrigerant at the room's temperature.

    Parameters
    ----------
    room : float
        [K]
    between : (float, float)
        Pressures of both sides; the gas is taken at their geometric mean. [Pa]
    bore, bore_sd, length, roughness : float
        [m]
    """
    dew = fluid.saturation_pressure_dew(room)
    p = min(math.sqrt(between[0] * between[1]), 0.95 * dew)
    gas = fluid.state(p=p, T=room)
    return GasTube(
        bore=bore,
        bore_sd=bore_sd,
        length=length,
        roughness=roughness,
        elasticity=p * gas.volume,
        viscosity=gas.viscosity,
    )


def _split(fluid: Refrigerant, p: float, volume: float, mass: float) -> tuple[float, float]:
    """Liquid [kg] and gas space [m3] of a mass in a volume at saturation."""
    wet = fluid.state(p=p, quality=0.0).volume
    dry = fluid.state(p=p, quality=1.0).volume
    liquid = min(max((mass - volume / dry) / (1.0 - wet / dry), 0.0), 0.9 * volume / wet)
    return liquid, volume - liquid * wet


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
        Of everything uncertain, taken up to the next power of two.

    Raises
    ------
    SolveError
        The machine has no balance, or fewer than half of the draws have one.
    """
    from sweatline.assembly.build import build_for
    from sweatline.assembly.trial_runs import trials
    from sweatline.machine.balance import filled

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
        # Where both stand between their bounds is drawn evenly, apart from the rest (the additive
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
        raise SolveError(condition="fewer than half of the draws of this machine have a balance")
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

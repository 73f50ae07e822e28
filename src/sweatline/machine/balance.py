"""The steady state of a machine: solving for it, and what it then shows.

The choices of a :class:`~sweatline.machine.steady.Target` give the modes: *design* (superheat and
subcooling wanted; capillary and charge are answers), *filled* (capillary given, charged until the
evaporator shows the wanted superheat) and *fixed charge*.

A solve starts from a near-by solution if there is one; else from the design state of the machine,
from where curves of steady states lead to it or to the reason why there is none; see
:mod:`sweatline.machine.search`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import moist_heat_capacity, temperature
from sweatline.air.saturation_line import SaturationLine
from sweatline.answers import Answer, Hidden, Q
from sweatline.errors import SolveError
from sweatline.machine.circuit import (
    AFTER,
    BETWEEN,
    SERIES,
    AirParameters,
    Inventory,
    MachineParameters,
    Pass,
    inventory,
    warmed_up,
    workspace,
)
from sweatline.machine.provenance import notes_on
from sweatline.machine.search import Search
from sweatline.machine.steady import (
    BY_CHARGE,
    BY_SUPERHEAT,
    Attempt,
    SteadyMachine,
    Target,
    Warm,
    design,
    filled,
    fixed_charge,
    subcooled,
)
from sweatline.parts.expansion import holds_superheat
from sweatline.parts.motor import running_current
from sweatline.refrigerant.table import (
    Table,
    saturation,
    state,
)

__all__ = [
    "BY_CHARGE",
    "TOLERANCE",
    "SteadyState",
    "Target",
    "design",
    "filled",
    "fixed_charge",
    "read_off",
    "solve",
    "subcooled",
]

FloatArray = NDArray[np.float64]

TOLERANCE = 1e-8


@dataclass(frozen=True, slots=True, kw_only=True)
class SteadyState(Answer):
    """A steady state of a machine, its labelled quantities in the order of work round it."""

    suction_pressure: Annotated[float, Q("pressure", "suction gauge", "Evaporator outlet.")]
    discharge_pressure: Annotated[float, Q("pressure", "head gauge", "Condenser inlet.")]
    evaporating_temperature: Annotated[
        float, Q("temperature", "evaporating", "Dew at the suction pressure.")
    ]
    condensing_temperature: Annotated[
        float, Q("temperature", "condensing", "Bubble at the condenser's outlet.")
    ]
    superheat: Annotated[
        float,
        Q(
            "temperature difference",
            "superheat, evaporator outlet",
            "Above dew at the evaporator's outlet; 0 when it is wet.",
            digits=2,
        ),
    ]
    subcooling: Annotated[
        float,
        Q(
            "temperature difference",
            "subcooling, condenser outlet",
            "Below bubble at the condenser's outlet; 0 when gas leaves it.",
            digits=2,
        ),
    ]
    coil_temperature: Annotated[
        float,
        Q("temperature", "coldest coil surface", "Mean of the coldest tenth of the evaporator."),
    ]
    suction_temperature: Annotated[
        float, Q("temperature", "suction gas at the compressor", "Entering the compressor.")
    ]
    discharge_temperature: Annotated[
        float, Q("temperature", "discharge gas", "Leaving the compressor.")
    ]
    liquid_temperature: Annotated[float, Q("temperature", "liquid line", "Condenser outlet.")]
    air_between_temperature: Annotated[
        float,
        Q("temperature", "air between the coils", "Leaving the evaporator's side, fan included."),
    ]
    air_out_temperature: Annotated[
        float,
        Q("temperature", "air leaving the machine", "Leaving the condenser's side, fan included."),
    ]
    charge: Annotated[float, Q("mass", "charge")]
    flow: Annotated[float, Q("mass flow", "refrigerant flow")]
    compressor_power: Annotated[float, Q("power", "compressor watts")]
    total_power: Annotated[float, Q("power", "watts with the fan", "Compressor and all fans.")]
    compressor_current: Annotated[
        float | None,
        Q("current", "compressor amps", "At the mains voltage; null where it is not known."),
    ]
    total_current: Annotated[
        float | None, Q("current", "amps with the fan", "Compressor and all fans, at the plug.")
    ]
    cooling: Annotated[float, Q("cooling capacity", "heat taken up", "By the evaporator.")]
    water: Annotated[float, Q("water removal", "water", "Taken from the room's air.", digits=2)]

    evaporating_pressure: Annotated[float, Q("pressure", "", "Evaporator inlet.")]
    liquid_pressure: Annotated[float, Q("pressure", "", "Condenser outlet.")]
    suction_quality: float
    """Evaporator outlet; above 1 when superheated."""
    liquid_quality: float
    """Condenser outlet; below 0 when subcooled."""
    fan_power: Annotated[float, Q("power", "", "All fans.")]
    heating: Annotated[float, Q("power", "", "Given off by the condenser.")]
    shell_heat: Annotated[float, Q("power", "", "Given off by the compressor's shell.")]
    wet_share: float
    """Of the evaporator's surface."""
    frost_share: float
    """Of the evaporator's surface."""
    air_between_humidity: Annotated[float, Q("ratio", "", unit="kg_per_kg")]
    air_out_humidity: Annotated[float, Q("ratio", "", unit="kg_per_kg")]
    charge_by_place: Annotated[Inventory, Q("mass", "", "Where the charge is.")]
    capillary_end_pressure: Annotated[
        float, Q("pressure", "", "End of a choked capillary, else the evaporating pressure.")
    ]
    choked: bool
    """The flow reaches its own speed of sound at the capillary's end."""
    oil_temperature: Annotated[float, Q("temperature", "")]
    path: str
    """Which way it was solved."""
    calls: int
    """Passes round the circuit that solving took."""
    residual: float
    """Norm of the four scaled residuals."""
    notes: tuple[str, ...] = ()

    metered_flow: Annotated[float, Hidden()]  # kg/s, what the metering part passes
    metering_enthalpy: Annotated[float, Hidden()]  # J/kg, before it, as far as it feels cooling
    opening: Annotated[float, Hidden()]  # of an expansion valve, 1 fully open; capillary always 1
    inside_temperature: Annotated[float, Hidden()]  # K, inside the compressor's shell
    unknowns: Annotated[tuple[float, float, float, float], Hidden()]
    warm: Annotated[Warm | None, Hidden()] = field(default=None, repr=False, compare=False)
    evaporator_profile: Annotated[FloatArray | None, Hidden()] = field(
        default=None, repr=False, compare=False
    )
    condenser_profile: Annotated[FloatArray | None, Hidden()] = field(
        default=None, repr=False, compare=False
    )

    @property
    def water_per_energy(
        self,
    ) -> Annotated[float | None, Q("water per energy", "water per energy", digits=2)]:
        """Water for each joule; None where nothing is used. [kg/J]"""
        return self.water / self.total_power if self.total_power > 0.0 else None

    @property
    def air_between(self) -> tuple[float, float]:
        """Temperature and humidity ratio of the air behind the evaporator. [K], [kg/kg]"""
        return self.air_between_temperature, self.air_between_humidity

    @property
    def air_out(self) -> tuple[float, float]:
        """Temperature and humidity ratio of the air behind the condenser. [K], [kg/kg]"""
        return self.air_out_temperature, self.air_out_humidity


def _air_leaving(
    air: AirParameters, run: Pass
) -> tuple[tuple[float, float], tuple[float, float], float]:
    """Air behind the evaporator's and the condenser's side [K, kg/kg], and all fan power [W]."""
    out_w = run.condenser.air_humidity
    out_t = temperature(run.condenser.air_enthalpy, out_w)
    if air.arrangement == SERIES:
        if air.fan_position == AFTER:
            out_t += air.fan_power / (air.flow * moist_heat_capacity(out_w))
        if air.compressor_position == AFTER:
            out_t += run.shell_heat / (air.flow * moist_heat_capacity(out_w))
        return (run.condenser_air_t, run.condenser_air_w), (out_t, out_w), air.fan_power
    cold_w = run.evaporator.air_humidity
    cold_t = temperature(run.evaporator.air_enthalpy, cold_w)
    if air.fan_position in (BETWEEN, AFTER):
        cold_t += air.fan_power / (air.flow * moist_heat_capacity(cold_w))
    if air.condenser_fan_position == AFTER:
        out_t += air.condenser_fan_power / (air.condenser_flow * moist_heat_capacity(out_w))
    if air.compressor_position == AFTER:
        out_t += run.shell_heat / (air.condenser_flow * moist_heat_capacity(out_w))
    return (cold_t, cold_w), (out_t, out_w), air.fan_power + air.condenser_fan_power


def read_off(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    found: Attempt,
    calls: int,
    path: str,
    profiles: bool,
) -> SteadyState:
    """Read everything off a solved machine."""
    space = workspace(machine, profiles=profiles)
    warmed_up(space, found.warm.space)  # already settled
    y = found.y
    pe, pd, flow = (float(v) for v in np.exp(y[:3]))
    run = SteadyMachine(table, line, machine, filled(), space).passed(y)
    places: Inventory = inventory(table, machine.vessels, run, pd, flow)
    tb = saturation(table, run.liquid_pressure)[0]
    t_liquid, _v, _s, x_liquid = state(table, run.liquid_pressure, run.liquid_enthalpy)
    _tb, td, *_ = saturation(table, run.suction_pressure)
    t_out, _v, _s, x_out = state(table, run.suction_pressure, run.evaporator_outlet)
    between, out, fan_power = _air_leaving(machine.air, run)
    return SteadyState(
        evaporating_pressure=pe,
        suction_pressure=run.suction_pressure,
        discharge_pressure=pd,
        liquid_pressure=run.liquid_pressure,
        evaporating_temperature=td,
        condensing_temperature=tb,
        suction_temperature=state(table, run.suction_pressure, run.suction_enthalpy)[0],
        discharge_temperature=state(table, pd, run.discharge_enthalpy)[0],
        liquid_temperature=t_liquid,
        superheat=max(t_out - td, 0.0) if x_out >= 1.0 else 0.0,
        suction_quality=x_out,
        subcooling=max(tb - t_liquid, 0.0) if x_liquid <= 0.0 else 0.0,
        liquid_quality=x_liquid,
        flow=flow,
        compressor_power=run.power,
        fan_power=fan_power,
        total_power=run.power + fan_power,
        compressor_current=running_current(machine.motor, run.power),
        total_current=running_current(machine.motor, run.power, fan_power),
        cooling=run.evaporator.heat,
        heating=-run.condenser.heat,
        shell_heat=run.shell_heat,
        water=run.evaporator.water,
        coil_temperature=run.evaporator.coldest,
        wet_share=run.evaporator.wet_share,
        frost_share=run.evaporator.frost_share,
        air_between_temperature=between[0],
        air_between_humidity=between[1],
        air_out_temperature=out[0],
        air_out_humidity=out[1],
        charge=places.total,
        charge_by_place=places,
        metered_flow=run.expansion.flow,
        metering_enthalpy=float(y[3]) + (1.0 - machine.lines.exchanger_ahead) * run.exchanged,
        capillary_end_pressure=run.expansion.end_pressure,
        choked=bool(run.expansion.end_pressure > pe * (1.0 + 1e-6)),
        opening=run.expansion.opening,
        oil_temperature=run.oil_temperature,
        inside_temperature=run.inside_temperature,
        residual=found.merit,
        calls=calls,
        path=path,
        unknowns=(float(y[0]), float(y[1]), float(y[2]), float(y[3])),
        notes=notes_on(table, machine, run, discharge_pressure=pd, flow=flow),
        warm=found.warm,
        evaporator_profile=space.evaporator.profile if profiles else None,
        condenser_profile=space.condenser.profile if profiles else None,
    )


def solve(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    target: Target,
    *,
    near: SteadyState | None = None,
    guess: FloatArray | None = None,
    profiles: bool = False,
    farther: bool = True,
    tolerance: float = TOLERANCE,
) -> SteadyState:
    """Steady state of a machine.

    Parameters
    ----------
    target : Target
        What closes the circuit; see :func:`design`, :func:`filled`, :func:`subcooled`,
        :func:`fixed_charge`.
    near : SteadyState, optional
        A solution of a similar machine to start from.
    guess : (4,) array, optional
        Unknowns to start from instead of those of `near`, for example extrapolated ones.
        [ln Pa, ln Pa, ln kg/s, J/kg]
    profiles : bool
        Keep the state of every cell of both coils.
    farther : bool
        Search on where `near` or `guess` do not lead to a state. Without it a refusal takes
        milliseconds, and does not say whether there is a state elsewhere.
    tolerance : float
        Norm of the four scaled residuals at which the search ends. [-]

    Returns
    -------
    SteadyState

    Raises
    ------
    SolveError
        With the physical condition that failed, the best iterate and what was tried.
    """
    by_superheat = target.with_expansion and target.charged == BY_SUPERHEAT
    if by_superheat and holds_superheat(machine.expansion):
        raise SolveError(
            condition="a thermostatic valve sees to the superheat itself: charge such a machine "
            "to a subcooling, or give its charge"
        )
    search = Search(SteadyMachine.of(table, line, machine, target), tolerance)
    beside: Attempt | None = None
    if near is not None or guess is not None:
        y = guess if guess is not None else np.array(near.unknowns if near is not None else ())
        a = search.attempt(y, most=80, warm=near.warm if near is not None else None, keep=True)
        search.tried.append("from the state next to it")
        if a.good and not _wrong_way(a, target):
            return read_off(table, line, machine, a, search.calls, "continued", profiles)
        if a.good:
            beside = a
    found = search.cold_start() if farther else None
    path = "from design"
    if found is None and beside is not None:
        found, path = beside, "continued"
    if found is None and not farther:
        raise SolveError(condition="no balance near the last one", tried=tuple(search.tried))
    if found is None:
        raise search.failure()
    balance = read_off(table, line, machine, found, search.calls, path, profiles)
    if _wrong_way(found, target):
        balance = replace(balance, notes=(*balance.notes, _SEVERAL))
    return balance


_SEVERAL = (
    "at this charge the machine has another steady state, and more charge moves this one the wrong "
    "way: it will hardly keep itself"
)


def _wrong_way(found: Attempt, target: Target) -> bool:
    """Whether a state of given charge lies on a stretch of its curve that runs back in charge.

    Where a curve of steady states turns round in charge, the determinant of the residuals' matrix
    changes sign; it is positive where more charge fills the condenser further.
    """
    if target.charged != BY_CHARGE or found.warm.jacobian is None:
        return False
    return bool(np.linalg.det(found.warm.jacobian) < 0.0)

r"""One step in time of a running machine whose charge shifts between its sides.

Vapour goes with the compressor and liquid with the expansion device, and a coil gives or takes heat
as it makes or swallows vapour. So both coils are marched at the flow of the compressor, and the
expansion device decides only how much liquid comes over:

.. math::
    \frac{dM_{low}}{dt} = \dot m_{metering} - \dot m_{compressor}, \qquad
    M_{low}(p_e, \ldots) = M_{low}, \qquad M_{high}(p_d, \ldots) = M - M_{low}.

What gathers in the evaporator is saturated liquid. Its energy balance,

.. math::
    Q = \dot m_c h_{out} - \dot m_m h_{in} + (\dot m_m - \dot m_c)\,h_l ,

is that of a coil in steady flow :math:`\dot m_c` which the refrigerant enters with

.. math:: h = h_l + (\dot m_m / \dot m_c)\,(h_{in} - h_l) ,

less flash gas when little comes over and more when much does. What gathers in the condenser leaves
its enthalpy there as the rest does. At rest both flows are one, and the equations those of the
balance.

After a standstill a shell or an accumulator holds back the liquid that a flooded evaporator gives
away, for some minutes. Until then the gas may be no wetter than a bound that opens with time, and
what the evaporator holds beyond that is a pool that takes no part.

Unknowns are the logarithms of the pressures at the evaporator's inlet and the compressor's outlet
and of the compressor's flow; masses and temperatures of metal are taken at the end of the step.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import moist_heat_capacity
from sweatline.air.saturation_line import SaturationLine
from sweatline.compiled import inner_kernel, inserted, kernel
from sweatline.machine.circuit import (
    MachineParameters,
    Pass,
    Vessels,
    Workspace,
    behind_shell,
    condenser_air,
    evaporator_air,
    exchanged_heat,
    inventory,
    refrigerant_pressure,
    round_shell,
)
from sweatline.machine.newton import Scales, newton_for
from sweatline.parts.coil import AirInlet, RefrigerantInlet
from sweatline.parts.coil_march import COOLED, HEATED, march
from sweatline.parts.compressor import compress, leaving
from sweatline.parts.compressor_shell import OIL_BELOW_GAS
from sweatline.parts.expansion import Ends, expansion_flow
from sweatline.refrigerant.table import Table, full_state, saturation

FloatArray = NDArray[np.float64]

_GAS_TO_SHELL = 15.0  # W/K, hot gas to a high-side shell and its oil (MEMORY 0.3)
# s that the metal of a coil is behind the refrigerant: its heat for a kelvin over what its inside
# passes on for one, 900 J/K over 2 kW/(m2*K) on 0.2 m2 (textbook). Without it short steps are the
# hardest: the less the time, the more watts come of a small fraction of a kelvin.
_FOLLOWING = 2.0
_BULB_LAG = 20.0  # s, bulb of a valve strapped to the tube (common practice)
_LEAST_FLOW = 1e-6  # kg/s, so that a march has a direction
_OPENING = 1200.0  # s in which the bound on liquid in the suction opens (judged)
UNBOUNDED = 2.0  # share of liquid that no outlet of an evaporator has
_WETNESS_WEIGHT = 0.1  # what a residual of quality counts beside those of the masses
_STRONGEST = 80.0  # K by which metal may at most warm or cool the air that the coil feels
CLOSE = 3e-8  # norm of the residuals: of either side's mass over the charge, and of the flow
_FLOW_WEIGHT = 0.1  # what the flow's residual counts beside those of the masses
_MOST = 60  # residual calls from one start


class HeatCapacities(NamedTuple):
    """What holds heat in a machine."""

    shell: float  # J/K, steel and oil
    evaporator: float  # J/K, metal of the coil
    condenser: float  # J/K
    liquid_lag: float  # s, that the liquid line and drier hold back a change of enthalpy


class TransientState(NamedTuple):
    """What a moving machine remembers from one moment to the next."""

    low: float  # kg on the low side
    shell: float  # K, inside of the compressor's shell
    evaporator: float  # K, metal of the coil
    condenser: float  # K
    entering: float  # J/kg, arriving at the expansion device, cooled by the suction line
    exchanged: float  # J/kg that the suction line took from it
    drop: float  # Pa, along the condenser
    evaporator_drop: float  # Pa
    bulb: float  # J/kg at the evaporator's outlet, as the bulb of a valve feels it
    wettest: float  # share of liquid that the gas from the evaporator may have


class TransientStep(NamedTuple):
    """One step of a running machine: a system for Newton's method."""

    table: Table
    line: SaturationLine
    machine: MachineParameters
    space: Workspace
    capacities: HeatCapacities
    old: TransientState  # at the beginning of the step
    charge: float  # kg in the whole machine
    step: float  # s


class StepEnd(NamedTuple):
    """What a running machine shows at the end of a step."""

    run: Pass
    state: TransientState
    passed: float  # kg/s, flow of the expansion device


@inserted
def _residuals(system: TransientStep, u: FloatArray, residuals: FloatArray) -> StepEnd:
    """Residuals at the end of a step, and what the machine then shows.

    Parameters
    ----------
    u : (3,) array
        Logarithms of the pressures and the flow. [ln Pa, ln Pa, ln kg/s]
    residuals : (3,) array
        Filled: mass of the low and the high side, over the charge, and logarithm of the flow, of
        which a tenth counts. [-]
    """
    table, line, machine, space, capacities, old, charge, step = system
    pe = math.exp(u[0])
    pd = math.exp(u[1])
    flow = math.exp(u[2])
    lines = machine.lines
    _tb, te, hl, hg, _vl, _vg, _sl, _sg = saturation(table, pe)
    ends = Ends(
        max(pd - old.drop, 0.7 * pd),
        old.entering + (1.0 - lines.exchanger_ahead) * old.exchanged,
        pe,
        max(pe - old.evaporator_drop, 0.7 * pe),
        old.bulb,
    )
    through = expansion_flow(table, machine.expansion, ends, flow)
    passed = through.flow
    h_in = hl + passed / flow * (old.entering - hl)
    h_in = min(max(h_in, min(old.entering, hl)), max(old.entering, hg))
    air = evaporator_air(machine.air)
    capacity = air.flow * moist_heat_capacity(air.humidity)
    # What the metal of a coil gives up as it follows the refrigerant warms the air before it.
    warmed = _bounded(
        capacities.evaporator * (old.evaporator - te) / ((step + _FOLLOWING) * capacity)
    )
    evaporator = march(
        table,
        line,
        machine.evaporator,
        RefrigerantInlet(flow, pe, h_in),
        AirInlet(air.temperature + warmed, air.humidity, air.flow),
        HEATED,
        space.evaporator,
    )
    evaporator_metal = old.evaporator - warmed * step * capacity / capacities.evaporator
    exchanged = exchanged_heat(
        table,
        lines.exchanger_conductance,
        flow,
        evaporator.pressure,
        evaporator.enthalpy,
        pd,
        old.entering,
    )
    suction_h = evaporator.enthalpy + exchanged
    compressor = machine.compressor
    pressed = compress(table, compressor, evaporator.pressure, suction_h, pd)
    pumped, power, _h2, _h2s = pressed
    behind = condenser_air(machine.air, evaporator)
    conductance, surroundings = round_shell(
        machine.air,
        behind,
        compressor.shell_conductance,
        power + flow * (suction_h - old.entering - exchanged),
    )
    high_side = compressor.oil_at_discharge > 0.5
    stored = 0.0 if high_side else capacities.shell / step
    # What a low-side shell stores is as given to surroundings at its temperature of before.
    to_both = conductance + stored
    out = leaving(
        table,
        compressor,
        pressed,
        evaporator.pressure,
        suction_h,
        pd,
        to_both,
        (conductance * surroundings + stored * old.shell) / max(to_both, 1e-9),
    )
    h2 = out.discharge_enthalpy
    shell = out.inside_temperature
    oil = out.oil_temperature
    heat = out.heat
    if high_side:
        # Gas that comes colder than the shell left it takes heat along; it has no more to give
        # than what cools it to the shell's temperature.
        gas_t, _v, _s, cp, _mu, _k, _x = full_state(table, pd, h2)
        stream = flow * cp
        conductance = stream * (1.0 - math.exp(-_GAS_TO_SHELL / stream))
        share = step * conductance / capacities.shell
        shell = (old.shell + share * (gas_t - OIL_BELOW_GAS)) / (1.0 + share)
        h2 -= capacities.shell * (shell - old.shell) / (step * flow)
        oil = shell
    else:
        heat = conductance * (shell - surroundings)
    behind = behind_shell(machine.air, behind, heat)
    capacity = behind.flow * moist_heat_capacity(behind.humidity)
    condensing = refrigerant_pressure(pd, machine.non_condensable_pressure)
    tc = saturation(table, condensing)[0]
    warmed = _bounded(
        capacities.condenser * (old.condenser - tc) / ((step + _FOLLOWING) * capacity)
    )
    condenser = march(
        table,
        line,
        machine.condenser,
        RefrigerantInlet(flow, condensing, h2),
        AirInlet(behind.temperature + warmed, behind.humidity, behind.flow),
        COOLED,
        space.condenser,
    )
    liquid_pressure = condenser.pressure + (pd - condensing)
    condenser_metal = old.condenser - warmed * step * capacity / capacities.condenser
    run = Pass(
        pumped,
        through,
        evaporator.pressure,
        suction_h,
        evaporator.enthalpy,
        liquid_pressure,
        condenser.enthalpy,
        old.entering + exchanged,
        h2,
        power,
        oil,
        shell,
        heat,
        evaporator,
        condenser,
        behind.temperature,
        behind.humidity,
        exchanged,
    )
    vessels = Vessels(
        machine.lines,
        machine.shell,
        machine.compressor.oil_at_discharge,
        machine.non_condensable_pressure,
    )
    places = inventory(table, vessels, run, pd, flow)
    high = places.condenser + places.liquid_line + places.drier + places.discharge_line
    low = places.evaporator + places.suction_line
    if compressor.oil_at_discharge > 0.5:
        high += places.shell_gas + places.oil
    else:
        low += places.shell_gas + places.oil
    mass = old.low + step * (passed - pumped)
    # Liquid that no flow this wet would carry lies in the coil and waits.
    _tb, _td, hl, hg, _vl, _vg, _sl, _sg = saturation(table, evaporator.pressure)
    spare = (evaporator.enthalpy - hl) / (hg - hl) - 1.0 + old.wettest
    residuals[0] = -min((mass - low) / charge, _WETNESS_WEIGHT * spare)
    residuals[1] = (high - charge + mass) / charge
    residuals[2] = _FLOW_WEIGHT * math.log(max(pumped, _LEAST_FLOW) / flow)
    lag = step / (capacities.liquid_lag + step)
    new = TransientState(
        mass,
        shell,
        evaporator_metal,
        condenser_metal,
        old.entering + lag * (condenser.enthalpy - exchanged - old.entering),
        exchanged,
        pd - liquid_pressure,
        pe - evaporator.pressure,
        old.bulb + step / (_BULB_LAG + step) * (evaporator.enthalpy - old.bulb),
        old.wettest + step / (_OPENING + step) * (UNBOUNDED - old.wettest),
    )
    return StepEnd(run, new, passed)


@inner_kernel
def _bounded(shift: float) -> float:
    """A shift of the air temperature, bent so that it stays within bounds. [K]"""
    return _STRONGEST * math.tanh(shift / _STRONGEST)


@kernel
def limits(table: Table) -> tuple[float, float]:
    """Logarithms of the least and the largest pressure that a search may try. [ln Pa]"""
    return math.log(table.p_min * 1.02), math.log(table.p_max * 0.985)


@inner_kernel
def _keep_inside(system: TransientStep, u: FloatArray) -> None:
    low, high = limits(system.table)
    u[0] = min(max(u[0], low), high)
    u[1] = min(max(u[1], low), high)
    u[2] = min(max(u[2], -16.0), 1.0)


_newton = newton_for(_residuals, _keep_inside)
_SCALES = Scales(np.array([0.15, 0.15, 0.3]), np.full(3, 1e-6))


def shown_at(system: TransientStep, u: FloatArray) -> StepEnd:
    """The end of a step at given logarithms (3,), whether it closes or not."""
    end: StepEnd
    *_, end = _newton(system, _SCALES, u.copy(), np.empty(3), CLOSE, 0, np.empty((3, 3)), False)
    return end


def advance(
    system: TransientStep, u: FloatArray, matrix: FloatArray, known: bool
) -> tuple[StepEnd, float, bool, int]:
    """Pressures and flow at the end of a step, by Newton with a matrix kept from step to step.

    Parameters
    ----------
    u : (3,) array
        Logarithms to start from; the best found on exit. [ln Pa, ln Pa, ln kg/s]
    matrix : (3, 3) array
        Slopes of the residuals if `known`; those at the end on exit. [-]

    Returns
    -------
    tuple
        The end of the step, the norm of the residuals, whether `matrix` is now known, and the
        number of residual calls.
    """
    merit, calls, known, end = _newton(system, _SCALES, u, np.empty(3), CLOSE, _MOST, matrix, known)
    return end, merit, known, calls

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
from sweatline.compiled import inner_kernel, kernel
from sweatline.machine.circuit import (
    MachineParameters,
    Pass,
    Workspace,
    condenser_air,
    exchanged_heat,
    inventory,
    refrigerant_pressure,
)
from sweatline.parts.compressor import compress
from sweatline.parts.expansion import Ends, expansion_flow
from sweatline.parts.tubes import march_either
from sweatline.refrigerant.table import Table, full_state, saturation

__all__ = [
    "UNBOUNDED",
    "HeatCapacities",
    "TransientState",
    "advance",
    "limits",
    "transient_residuals",
]

FloatArray = NDArray[np.float64]

_SHELL_DROP = 5.0  # K, oil below the discharge gas in a high-side shell (common practice)
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
_CLOSE = 1e-7  # residual of either side's mass, of the charge, and of the flow
_FLOW_WEIGHT = 0.1  # what the flow's residual counts beside those of the masses
_MOST = 60  # residual calls from one start
_DARING = 3  # full steps that may climb


class HeatCapacities(NamedTuple):
    """What holds heat in a machine."""

    shell: float  # J/K, steel and oil
    evaporator: float  # J/K, metal of the coil
    condenser: float  # J/K
    liquid_lag: float  # s, that the liquid line and drier hold back a change of enthalpy


class TransientState(NamedTuple):
    """What a moving machine remembers from one moment to the next."""

    low: float  # kg on the low side
    shell: float  # K, its oil
    evaporator: float  # K, metal of the coil
    condenser: float  # K
    entering: float  # J/kg, arriving at the expansion device, cooled by the suction line
    exchanged: float  # J/kg that the suction line took from it
    drop: float  # Pa, along the condenser
    evaporator_drop: float  # Pa
    bulb: float  # J/kg at the evaporator's outlet, as the bulb of a valve feels it
    wettest: float  # share of liquid that the gas from the evaporator may have


@kernel
def transient_residuals(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    space: Workspace,
    capacities: HeatCapacities,
    old: TransientState,
    charge: float,
    step: float,
    u: FloatArray,
    residuals: FloatArray,
) -> tuple[Pass, TransientState, float]:
    """Residuals at the end of a step, and what the machine then shows.

    Parameters
    ----------
    old : TransientState
        At the beginning of the step.
    charge : float
        In the whole machine. [kg]
    step : float
        Length of the step. [s]
    u : (3,) array
        Logarithms of the pressures and the flow. [ln Pa, ln Pa, ln kg/s]
    residuals : (3,) array
        Filled: mass of the low and the high side, over the charge, and logarithm of the flow. [-]

    Returns
    -------
    tuple
        The pass, the state at the end of the step, and the flow of the expansion device [kg/s].
    """
    pe = math.exp(u[0])
    pd = math.exp(u[1])
    flow = math.exp(u[2])
    air = machine.air
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
    capacity = air.flow * moist_heat_capacity(air.humidity)
    air_t = air.temperature
    if air.fan_position == 0:
        air_t += air.fan_power / capacity
    # What the metal of a coil gives up as it follows the refrigerant warms the air before it.
    warmed = _bounded(
        capacities.evaporator * (old.evaporator - te) / ((step + _FOLLOWING) * capacity)
    )
    evaporator = march_either(
        table,
        line,
        machine.evaporator,
        flow,
        pe,
        h_in,
        air_t + warmed,
        air.humidity,
        air.flow,
        1,
        space.evaporator_entry,
        space.evaporator_inverse,
        space.evaporator_profile,
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
    pumped, power, h2, h2s = compress(table, machine.compressor, evaporator.pressure, suction_h, pd)
    shell, h2 = _shell(table, machine, capacities, old.shell, step, pd, h2, power, flow)
    cond_t, cond_w, cond_flow = condenser_air(air, evaporator)
    capacity = cond_flow * moist_heat_capacity(cond_w)
    condensing = refrigerant_pressure(machine, pd)
    tc = saturation(table, condensing)[0]
    warmed = _bounded(
        capacities.condenser * (old.condenser - tc) / ((step + _FOLLOWING) * capacity)
    )
    condenser = march_either(
        table,
        line,
        machine.condenser,
        flow,
        condensing,
        h2,
        cond_t + warmed,
        cond_w,
        cond_flow,
        0,
        space.condenser_entry,
        space.condenser_inverse,
        space.condenser_profile,
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
        h2s,
        power,
        shell,
        evaporator,
        condenser,
        cond_t,
        cond_w,
        exchanged,
    )
    places = inventory(table, machine, run, pd, flow)
    high = places[1] + places[2] + places[3] + places[5]
    low = places[0] + places[4]
    if machine.compressor.oil_at_discharge > 0.5:
        high += places[6] + places[7]
    else:
        low += places[6] + places[7]
    mass = old.low + step * (passed - pumped)
    # Liquid that no flow this wet would carry lies in the coil and waits.
    _tb, _td, hl, hg, _vl, _vg, _sl, _sg = saturation(table, evaporator.pressure)
    spare = (evaporator.enthalpy - hl) / (hg - hl) - 1.0 + old.wettest
    residuals[0] = -min((mass - low) / charge, _WETNESS_WEIGHT * spare)
    residuals[1] = (high - charge + mass) / charge
    residuals[2] = math.log(max(pumped, _LEAST_FLOW) / flow)
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
    return run, new, passed


@inner_kernel
def _bounded(shift: float) -> float:
    """A shift of the air temperature, bent so that it stays within bounds. [K]"""
    return _STRONGEST * math.tanh(shift / _STRONGEST)


@inner_kernel
def _shell(
    table: Table,
    machine: MachineParameters,
    capacities: HeatCapacities,
    old: float,
    step: float,
    pd: float,
    h2: float,
    power: float,
    flow: float,
) -> tuple[float, float]:
    """Temperature of shell and oil after a step [K], and the gas behind the shell [J/kg]."""
    compressor = machine.compressor
    if compressor.oil_at_discharge > 0.5:
        # Gas that comes colder than the shell left it takes heat along; it has no more to give
        # than what cools it to the shell's temperature.
        gas_t, _v, _s, cp, _mu, _k, _x = full_state(table, pd, h2)
        stream = flow * cp
        conductance = stream * (1.0 - math.exp(-_GAS_TO_SHELL / stream))
        share = step * conductance / capacities.shell
        shell = (old + share * (gas_t - _SHELL_DROP)) / (1.0 + share)
        return shell, h2 - capacities.shell * (shell - old) / (step * flow)
    # The share of the input that leaves through the shell has been taken from the gas already.
    resting = machine.air.ambient + compressor.shell_loss * power / compressor.shell_conductance
    share = step * compressor.shell_conductance / capacities.shell
    return (old + share * resting) / (1.0 + share), h2


@kernel
def limits(table: Table) -> tuple[float, float]:
    """Logarithms of the least and the largest pressure that a search may try. [ln Pa]"""
    return math.log(table.p_min * 1.02), math.log(table.p_max * 0.985)


@inner_kernel
def _merit(r: FloatArray) -> float:
    total = r[0] * r[0] + r[1] * r[1] + (_FLOW_WEIGHT * r[2]) ** 2
    if not total < 1e12:
        return 1e6
    return math.sqrt(total)


@inner_kernel
def _moved(
    u: FloatArray, move: FloatArray, share: float, low: float, high: float, new: FloatArray
) -> None:
    """Write `u + share*move`, held inside the limits, into `new`."""
    for j in range(3):
        new[j] = u[j] + share * move[j]
    new[0] = min(max(new[0], low), high)
    new[1] = min(max(new[1], low), high)
    new[2] = min(max(new[2], -16.0), 1.0)


@inner_kernel
def _towards(matrix: FloatArray, r: FloatArray, move: FloatArray) -> bool:
    """Newton's move for `matrix @ move = -r` by Cramer's rule, cut to a length that holds."""
    m = matrix
    c00 = m[1, 1] * m[2, 2] - m[1, 2] * m[2, 1]
    c01 = m[1, 2] * m[2, 0] - m[1, 0] * m[2, 2]
    c02 = m[1, 0] * m[2, 1] - m[1, 1] * m[2, 0]
    det = m[0, 0] * c00 + m[0, 1] * c01 + m[0, 2] * c02
    if not abs(det) > 1e-14:
        return False
    c10 = m[0, 2] * m[2, 1] - m[0, 1] * m[2, 2]
    c11 = m[0, 0] * m[2, 2] - m[0, 2] * m[2, 0]
    c12 = m[0, 1] * m[2, 0] - m[0, 0] * m[2, 1]
    c20 = m[0, 1] * m[1, 2] - m[0, 2] * m[1, 1]
    c21 = m[0, 2] * m[1, 0] - m[0, 0] * m[1, 2]
    c22 = m[0, 0] * m[1, 1] - m[0, 1] * m[1, 0]
    move[0] = -(c00 * r[0] + c10 * r[1] + c20 * r[2]) / det
    move[1] = -(c01 * r[0] + c11 * r[1] + c21 * r[2]) / det
    move[2] = -(c02 * r[0] + c12 * r[1] + c22 * r[2]) / det
    longest = max(abs(move[0]) / 0.15, abs(move[1]) / 0.15, abs(move[2]) / 0.3)
    if not longest < 1e12:
        return False
    if longest > 1.0:
        for j in range(3):
            move[j] /= longest
    return True


@kernel
def advance(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    space: Workspace,
    capacities: HeatCapacities,
    old: TransientState,
    charge: float,
    step: float,
    u: FloatArray,
    matrix: FloatArray,
    known: bool,
) -> tuple[Pass, TransientState, float, float, bool, int]:
    """Pressures and flow at the end of a step, by Newton with a matrix kept from step to step.

    Parameters
    ----------
    old : TransientState
        At the beginning of the step.
    charge : float
        In the whole machine. [kg]
    step : float
        Length of the step. [s]
    u : (3,) array
        Logarithms to start from; the best found on exit. [ln Pa, ln Pa, ln kg/s]
    matrix : (3, 3) array
        Slopes of the residuals if `known`; those at the end on exit. [-]

    Returns
    -------
    tuple
        The pass, the state and the flow of the expansion device [kg/s] as
        :func:`transient_residuals` gives them, the largest residual, whether `matrix` is now known,
        and the number of residual calls.
    """
    low, high = limits(table)
    r = np.empty(3)
    r_new = np.empty(3)
    move = np.zeros(3)
    new = np.empty(3)
    _moved(u, move, 0.0, low, high, new)
    u[:] = new
    run, after, passed = transient_residuals(
        table, line, machine, space, capacities, old, charge, step, u, r
    )
    best_run, best_after, best_passed = run, after, passed
    best = u.copy()
    best_r = r.copy()
    calls = 1
    fresh = False
    daring = 0
    while calls < _MOST and max(abs(best_r[0]), abs(best_r[1]), abs(best_r[2])) > _CLOSE:
        if not known:
            for j in range(3):
                new[:] = u
                new[j] += 1e-6
                transient_residuals(
                    table, line, machine, space, capacities, old, charge, step, new, r_new
                )
                for i in range(3):
                    matrix[i, j] = (r_new[i] - r[i]) / 1e-6
            calls += 3
            known = True
            fresh = True
        if not _towards(matrix, r, move):
            known = False
            if fresh:
                break
            continue
        merit = _merit(r)
        descends = False
        share = 1.0
        for _ in range(4 if fresh else 2):
            _moved(u, move, share, low, high, new)
            run, after, passed = transient_residuals(
                table, line, machine, space, capacities, old, charge, step, new, r_new
            )
            calls += 1
            descends = _merit(r_new) < merit * (1.0 - 0.05 * share)
            if descends:
                break
            share *= 0.3
        if not descends:
            if not fresh:
                known = False
                continue
            if daring >= _DARING:
                break
            # Beyond a kink the residual may climb and the far side still be the right one.
            daring += 1
            _moved(u, move, 1.0, low, high, new)
            run, after, passed = transient_residuals(
                table, line, machine, space, capacities, old, charge, step, new, r_new
            )
            calls += 1
            known = False
        else:
            square = 0.0
            for j in range(3):
                square += (new[j] - u[j]) ** 2
            if square > 0.0:
                for i in range(3):
                    left = r_new[i] - r[i]
                    for j in range(3):
                        left -= matrix[i, j] * (new[j] - u[j])
                    for j in range(3):
                        matrix[i, j] += left * (new[j] - u[j]) / square
            if _merit(r_new) > 0.5 * merit:
                known = False
        fresh = False
        u[:] = new
        r[:] = r_new
        if _merit(r) < _merit(best_r):
            best[:] = u
            best_r[:] = r
            best_run, best_after, best_passed = run, after, passed
    u[:] = best
    worst = max(abs(best_r[0]), abs(best_r[1]), abs(best_r[2]))
    return best_run, best_after, best_passed, worst, known, calls

r"""A machine that stands: two volumes joined by the expansion device, on their way to the room.

With the compressor off each side is one volume at one pressure: a coil with its lines, whose
refrigerant and metal are at one temperature, and, on the side where it belongs, the shell at its
own. With the enthalpy of what is in the coil,

.. math::
    \frac{dM}{dt} = \pm\dot m, \qquad
    \frac{d}{dt}\left(M_{coil} h - p V + C T\right)
        = Q_{air} \pm \dot m h_{\to} - \dot M_{shell} h_g ,

so a warm condenser boils its liquid dry and holds its pressure, and a cold evaporator condenses
what comes over and holds its pressure down. The expansion device is fed with liquid as long as
there is some in the condenser, then with gas; where the low side comes to the higher pressure, gas
goes back. Valves of the compressor hold.

Air or nitrogen in the circuit stays in the condenser at the pressure it had there.

Left out: liquid that runs into the shell, water or ice on the evaporator, heat along the tubes, and
what oil takes up while it stands: by diffusion through some centimetres of it that is grams in an
hour. Over a day in a cold shell it is most of the charge.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import moist_heat_capacity
from sweatline.compiled import inner_kernel, inserted, kernel
from sweatline.errors import SolveError
from sweatline.flow.finned_surface import air_side_coefficient
from sweatline.machine.circuit import SERIES, MachineParameters, evaporator_air
from sweatline.machine.newton import Scales, newton_for
from sweatline.machine.transient_step import HeatCapacities
from sweatline.parts.cell import surface_efficiency_of
from sweatline.parts.coil import CoilParameters
from sweatline.parts.expansion import Ends, ExpansionParameters, expansion_flow
from sweatline.parts.shell import ShellParameters
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    dew_pressure,
    enthalpy_vapour,
    saturation,
    state,
)

FloatArray = NDArray[np.float64]

_STILL_AIR = 10.0  # W/(m2*K) on both faces of a block: free convection and radiation (textbook)
_PUDDLE = 1e-3  # kg of liquid before the expansion device below which gas comes along (judged)
_LINEAR = 500.0  # Pa below which the flow goes with the difference (laminar at the end)
_CLOSE = 1e-9  # norm of the residuals: of masses over the charge, and of energies
_ENERGY_WEIGHT = 0.01  # 1/K, on residuals of energy over the heat capacity of the metal
_FULL = "one side of the standing machine holds more than fits into it as liquid"


class Sides(NamedTuple):
    """Volumes of both sides and how the air reaches their metal."""

    low_volume: float  # m3, evaporator, suction line, accumulator
    high_volume: float  # m3, condenser, discharge and liquid line, drier
    evaporator_conductance: float  # W/K between its metal and the air that arrives
    condenser_conductance: float  # W/K
    evaporator_air: float  # K, arriving
    condenser_air: float  # K, arriving; not used in series
    in_series: bool  # the condenser breathes what the evaporator leaves
    stream: float  # W/K, capacity of the air in series
    ambient: float  # K, round the shell
    shell_conductance: float  # W/K
    shell_high: bool  # the shell belongs to the high side
    non_condensable_pressure: float  # Pa, of air or nitrogen in the condenser


class StandstillState(NamedTuple):
    """What a standing machine remembers from one moment to the next."""

    low: float  # kg on the low side
    oil: float  # kg dissolved, as at the stop
    shell: float  # K
    low_pressure: float  # Pa
    low_enthalpy: float  # J/kg, in the coil
    high_pressure: float  # Pa, the refrigerant's own
    high_enthalpy: float  # J/kg
    flow: float  # kg/s through the expansion device; negative: backwards


def sides_of(machine: MachineParameters, *, fan: bool) -> Sides:
    """Volumes and conductances of a machine whose compressor stands, with the fan on or off."""
    lines, air = machine.lines, machine.air
    e, c = machine.evaporator, machine.condenser
    low = _inside(e) + _tube(lines.suction_bore, lines.suction_length) + lines.accumulator_volume
    high = (
        _inside(c)
        + _tube(lines.discharge_bore, lines.discharge_length)
        + _tube(lines.liquid_bore, lines.liquid_length)
        + lines.drier_volume
    )
    series = air.arrangement == SERIES
    warm_t, warm_w, warm_flow = air.temperature, air.humidity, air.flow
    if not series:
        warm_t, warm_w, warm_flow = (
            air.condenser_temperature,
            air.condenser_humidity,
            air.condenser_flow,
        )
    cold = 2.0 * _STILL_AIR * e.face_area
    warm = 2.0 * _STILL_AIR * c.face_area
    cold_t = air.temperature
    stream = air.flow * moist_heat_capacity(air.humidity)
    if fan:
        cold = _swept(e, air.flow, air.temperature, air.humidity)
        warm = _swept(c, warm_flow, warm_t, warm_w)
        cold_t = evaporator_air(air).temperature
    return Sides(
        low_volume=low,
        high_volume=high,
        evaporator_conductance=cold,
        condenser_conductance=warm,
        evaporator_air=cold_t,
        condenser_air=warm_t,
        in_series=series and fan,
        stream=stream,
        ambient=air.ambient,
        shell_conductance=machine.compressor.shell_conductance,
        shell_high=machine.compressor.oil_at_discharge > 0.5,
        non_condensable_pressure=machine.non_condensable_pressure,
    )


def _tube(bore: float, length: float) -> float:
    return 0.25 * math.pi * bore * bore * length


def _inside(coil: CoilParameters) -> float:
    return _tube(coil.bore, coil.row_length * coil.rows * float(coil.circuits))


def _swept(coil: CoilParameters, flow: float, t: float, w: float) -> float:
    """What the air that arrives gives a coil for each kelvin that it is warmer. [W/K]"""
    outside = coil.air_multiplier * air_side_coefficient(flow / coil.face_area, t, w, coil.fins)
    efficiency = surface_efficiency_of(outside, coil.fin_constant, coil.fins.fin_fraction)
    area = coil.outside_per_length * coil.row_length * coil.rows * coil.circuits
    stream = flow * moist_heat_capacity(w)
    return float(stream * -math.expm1(-outside * efficiency * area / stream))


@kernel
def shell_gas(table: Table, shell: ShellParameters, pressure: float, temperature: float) -> float:
    """Gas in a standing shell at a temperature. [kg]"""
    dew = saturation(table, pressure)[1]
    h = enthalpy_vapour(table, pressure, max(temperature, dew + 0.01))
    return shell.gas_volume / state(table, pressure, h)[1]


@kernel
def outlet_enthalpy(table: Table, pressure: float, enthalpy: float, mass: float) -> float:
    """Enthalpy of what a coil feeds to the expansion device, the liquid first. [J/kg]"""
    _tb, _td, hl, hg, _vl, _vg, _sl, _sg = saturation(table, pressure)
    x = (enthalpy - hl) / (hg - hl)
    if x <= 0.0 or x >= 1.0:
        return enthalpy
    dry = _PUDDLE * x
    return hl + (hg - hl) * dry / (dry + mass * (1.0 - x))


class StandstillStep(NamedTuple):
    """One step of a standing machine: a system for Newton's method."""

    table: Table
    expansion: ExpansionParameters
    shell: ShellParameters
    sides: Sides
    capacities: HeatCapacities
    old: StandstillState  # at the beginning; what was let in is in its mass already
    charge: float  # kg in the whole machine
    step: float  # s
    brought: float  # J, enthalpy of what was let in


@inserted
def _residuals(system: StandstillStep, y: FloatArray, r: FloatArray) -> StandstillState:
    """Residuals (4,) at the end of a step for `y`: ln pressure and enthalpy of both coils."""
    table, expansion, shell, sides, capacities, old, charge, step, brought = system
    pl, hl, ph, hh = math.exp(y[0]), y[1], math.exp(y[2]), y[3]
    tl, vl, _s, _x = state(table, pl, hl)
    th, vh, _s, _x = state(table, ph, hh)
    tl0, vl0, _s, _x = state(table, old.low_pressure, old.low_enthalpy)
    th0, vh0, _s, _x = state(table, old.high_pressure, old.high_enthalpy)
    gas_l = saturation(table, pl)[3]
    gas_h = saturation(table, ph)[3]
    share = step * sides.shell_conductance / capacities.shell
    warm = (old.shell + share * sides.ambient) / (1.0 + share)
    # Through the expansion device, towards the lower pressure.
    head = ph + sides.non_condensable_pressure
    if head >= pl:
        out = outlet_enthalpy(table, ph, hh, sides.high_volume / vh)
        more, less = head, pl
    else:
        out = max(gas_l, hl)
        more, less = pl, head
    gap = max(more - less, _LINEAR)
    ends = Ends(more, out, more - gap, pl, max(gas_l, hl))
    flow = expansion_flow(table, expansion, ends, 1e-3).flow * min((more - less) / _LINEAR, 1.0)
    if head < pl:
        flow = -flow
    # The shell takes gas from the coil of its side, or gives it back.
    pressure = ph if sides.shell_high else pl
    before = old.high_pressure if sides.shell_high else old.low_pressure
    gas = shell_gas(table, shell, pressure, warm)
    taken = gas - shell_gas(table, shell, before, old.shell)
    low = old.low + step * flow
    air = sides.evaporator_air
    to_low = sides.evaporator_conductance * (air - tl)
    if sides.in_series:
        air -= to_low / sides.stream
    else:
        air = sides.condenser_air
    to_high = sides.condenser_conductance * (air - th)
    mass_l = sides.low_volume / vl
    mass_h = sides.high_volume / vh
    r[0] = mass_l - low
    r[2] = mass_h - (charge - low)
    r[1] = to_low + flow * out
    r[3] = to_high - flow * out
    if sides.shell_high:
        r[2] += gas + old.oil
        r[3] -= taken / step * gas_h
    else:
        r[0] += gas + old.oil
        r[1] -= taken / step * gas_l
    r[1] = (
        mass_l * hl
        - pl * sides.low_volume
        + capacities.evaporator * tl
        - sides.low_volume / vl0 * old.low_enthalpy
        + old.low_pressure * sides.low_volume
        - capacities.evaporator * tl0
        - brought
        - step * r[1]
    ) * (_ENERGY_WEIGHT / capacities.evaporator)
    r[3] = (
        mass_h * hh
        - ph * sides.high_volume
        + capacities.condenser * th
        - sides.high_volume / vh0 * old.high_enthalpy
        + old.high_pressure * sides.high_volume
        - capacities.condenser * th0
        - step * r[3]
    ) * (_ENERGY_WEIGHT / capacities.condenser)
    r[0] /= charge
    r[2] /= charge
    return StandstillState(low, old.oil, warm, pl, hl, ph, hh, flow)


@inner_kernel
def _keep_inside(system: StandstillStep, y: FloatArray) -> None:
    low, high = math.log(system.table.p_min), math.log(system.table.p_max)
    y[0] = min(max(y[0], low), high)
    y[2] = min(max(y[2], low), high)


_newton = newton_for(_residuals, _keep_inside)
# ln pressure and enthalpy [J/kg] of either side
_SCALES = Scales(np.array([0.2, 2e4, 0.2, 2e4]), np.array([1e-6, 0.1, 1e-6, 0.1]))


def advance_standstill(system: StandstillStep) -> StandstillState:
    """A standing machine one step on.

    Raises
    ------
    SolveError
        No pressures and enthalpies close masses and energies.
    """
    old = system.old
    y = np.array(
        [
            math.log(old.low_pressure),
            old.low_enthalpy,
            math.log(old.high_pressure),
            old.high_enthalpy,
        ]
    )
    merit, _calls, _known, end = _newton(
        system, _SCALES, y, np.empty(4), _CLOSE, 400, np.empty((4, 4)), False
    )
    if merit < _CLOSE:
        state_at_end: StandstillState = end
        return state_at_end
    condition = "masses and energies of the standing machine close at no pressures"
    if max(y[0], y[2]) > math.log(system.table.p_max) - 1e-3:
        condition = _FULL
    raise SolveError(
        condition=condition,
        residuals={"norm": merit},
        best={"low_pressure_Pa": math.exp(y[0]), "high_pressure_Pa": math.exp(y[2])},
        tried=(f"from the moment before, {system.step:g} s on",),
    )


def coil_state(
    table: Table, volume: float, temperature: float, mass: float, rest: Callable[[float], float]
) -> tuple[float, float]:
    """Pressure and enthalpy of a coil at a temperature, with so much on its side. [Pa], [J/kg]

    Parameters
    ----------
    volume : float
        Of the coil and its lines. [m3]
    temperature : float
        Of its metal. [K]
    mass : float
        On the whole side. [kg]
    rest : callable
        What the side holds outside the coil at a pressure. [kg]

    Raises
    ------
    SolveError
        It holds more than fits in as liquid.
    """
    from scipy.optimize import brentq

    def over(pressure: float, enthalpy: float) -> float:
        return volume / float(state(table, pressure, enthalpy)[1]) + rest(pressure) - mass

    dew = float(dew_pressure(table, temperature))
    if over(dew, float(saturation(table, dew)[3])) > 0.0:

        def gas(u: float) -> float:
            p = math.exp(u)
            return over(p, float(enthalpy_vapour(table, p, temperature)))

        pressure = math.exp(brentq(gas, math.log(table.p_min), math.log(dew), xtol=1e-13))
        return pressure, float(enthalpy_vapour(table, pressure, temperature))
    bubble = float(bubble_pressure(table, temperature))

    def wet(x: float) -> tuple[float, float]:
        p = dew + (bubble - dew) * (1.0 - x)
        if bubble > dew * (1.0 + 1e-9):

            def warmer(p: float) -> float:
                tb, td = saturation(table, p)[:2]
                return float(tb + x * (td - tb)) - temperature

            p = brentq(warmer, 0.999 * dew, 1.001 * bubble, xtol=1e-4)
        hl, hg = saturation(table, p)[2:4]
        return p, float(hl + x * (hg - hl))

    if over(*wet(0.0)) < 0.0:
        raise SolveError(condition=_FULL)
    return wet(brentq(lambda x: over(*wet(x)), 0.0, 1.0, xtol=1e-14))

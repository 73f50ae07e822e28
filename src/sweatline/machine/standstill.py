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
from sweatline.compiled import kernel
from sweatline.errors import SolveError
from sweatline.flow.finned_surface import air_side_coefficient, surface_efficiency
from sweatline.machine.circuit import BEFORE, SERIES, MachineParameters
from sweatline.machine.transient_step import HeatCapacities
from sweatline.parts.coil import CoilParameters
from sweatline.parts.expansion import Ends, ExpansionParameters, expansion_flow
from sweatline.parts.shell import ShellParameters
from sweatline.parts.tube_layout import TubeParameters
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    dew_pressure,
    enthalpy_vapour,
    saturation,
    state,
)

__all__ = [
    "Sides",
    "StandstillState",
    "advance_standstill",
    "coil_state",
    "outlet_enthalpy",
    "shell_gas",
    "sides_of",
]

FloatArray = NDArray[np.float64]

_STILL_AIR = 10.0  # W/(m2*K) on both faces of a block: free convection and radiation (textbook)
_PUDDLE = 1e-3  # kg of liquid before the expansion device below which gas comes along (judged)
_LINEAR = 500.0  # Pa below which the flow goes with the difference (laminar at the end)
# Residuals that count as none: of masses over the charge, of energies over the metal's heat [K].
_CLOSE = np.array([1e-9, 1e-7, 1e-9, 1e-7])
_FULL = "one side of the standing machine holds more than fits into it as liquid"
_PER_ENTHALPY = 1e5  # J/kg, what enthalpies are counted in beside logarithms of pressures


class Sides(NamedTuple):
    """Volumes of both sides and how the air reaches their metal."""

    low_volume: float  # m3, evaporator, suction line, accumulator
    high_volume: float  # m3, condenser, discharge and liquid line, drier
    evaporator_conductance: float  # W/K between its metal and the air that arrives
    condenser_conductance: float  # W/K
    evaporator_air: float  # K, arriving
    condenser_air: float  # K, arriving; not used in series
    in_series: int  # 1: the condenser breathes what the evaporator leaves
    stream: float  # W/K, capacity of the air in series
    ambient: float  # K, round the shell
    shell_conductance: float  # W/K
    shell_high: int  # 1: the shell belongs to the high side
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
    cold = warm = 2.0 * _STILL_AIR
    cold *= e.face_area
    warm *= c.face_area
    cold_t = air.temperature
    stream = air.flow * moist_heat_capacity(air.humidity)
    if fan:
        cold = _swept(e, air.flow, air.temperature, air.humidity)
        warm = _swept(c, warm_flow, warm_t, warm_w)
        if air.fan_position == BEFORE:
            cold_t += air.fan_power / stream
    return Sides(
        low_volume=low,
        high_volume=high,
        evaporator_conductance=cold,
        condenser_conductance=warm,
        evaporator_air=cold_t,
        condenser_air=warm_t,
        in_series=int(series and fan),
        stream=stream,
        ambient=air.ambient,
        shell_conductance=machine.compressor.shell_conductance,
        shell_high=int(machine.compressor.oil_at_discharge > 0.5),
        non_condensable_pressure=machine.non_condensable_pressure,
    )


def _tube(bore: float, length: float) -> float:
    return 0.25 * math.pi * bore * bore * length


def _inside(coil: CoilParameters | TubeParameters) -> float:
    return _tube(coil.bore, coil.row_length * coil.rows * float(coil.circuits))


def _swept(coil: CoilParameters | TubeParameters, flow: float, t: float, w: float) -> float:
    """What the air that arrives gives a coil for each kelvin that it is warmer. [W/K]"""
    plain = coil.coil if isinstance(coil, TubeParameters) else coil
    outside = plain.air_multiplier * air_side_coefficient(flow / plain.face_area, t, w, plain.fins)
    u = plain.fin_constant * math.sqrt(outside)
    efficiency = surface_efficiency(math.tanh(u) / u, plain.fins.fin_fraction)
    area = plain.outside_per_length * plain.row_length * plain.rows * plain.circuits
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


@kernel
def _residuals(
    table: Table,
    expansion: ExpansionParameters,
    shell: ShellParameters,
    sides: Sides,
    capacities: HeatCapacities,
    old: StandstillState,
    charge: float,
    step: float,
    brought: float,
    y: FloatArray,
    r: FloatArray,
) -> StandstillState:
    """Residuals (4,) at the end of a step for `y`: ln pressure and enthalpy of both coils."""
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
    pressure = ph if sides.shell_high == 1 else pl
    before = old.high_pressure if sides.shell_high == 1 else old.low_pressure
    gas = shell_gas(table, shell, pressure, warm)
    taken = gas - shell_gas(table, shell, before, old.shell)
    low = old.low + step * flow
    air = sides.evaporator_air
    to_low = sides.evaporator_conductance * (air - tl)
    if sides.in_series == 1:
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
    if sides.shell_high == 1:
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
    ) / capacities.evaporator
    r[3] = (
        mass_h * hh
        - ph * sides.high_volume
        + capacities.condenser * th
        - sides.high_volume / vh0 * old.high_enthalpy
        + old.high_pressure * sides.high_volume
        - capacities.condenser * th0
        - step * r[3]
    ) / capacities.condenser
    r[0] /= charge
    r[2] /= charge
    return StandstillState(low, old.oil, warm, pl, hl, ph, hh, flow)


@kernel
def _linearised(
    table: Table,
    expansion: ExpansionParameters,
    shell: ShellParameters,
    sides: Sides,
    capacities: HeatCapacities,
    old: StandstillState,
    charge: float,
    step: float,
    brought: float,
    y: FloatArray,
    r: FloatArray,
    matrix: FloatArray,
) -> StandstillState:
    """Residuals at `y`, and their slopes (4, 4) in units of `_UNITS`."""
    found = _residuals(table, expansion, shell, sides, capacities, old, charge, step, brought, y, r)
    shifted = np.empty(4)
    there = np.empty(4)
    for j in range(4):
        shifted[:] = y
        unit = 1.0 if j % 2 == 0 else _PER_ENTHALPY
        shifted[j] += 1e-6 * unit
        _residuals(
            table, expansion, shell, sides, capacities, old, charge, step, brought, shifted, there
        )
        for i in range(4):
            matrix[i, j] = (there[i] - r[i]) / 1e-6
    return found


def advance_standstill(
    table: Table,
    machine: MachineParameters,
    sides: Sides,
    capacities: HeatCapacities,
    old: StandstillState,
    charge: float,
    step: float,
    *,
    brought: float = 0.0,
) -> StandstillState:
    """A standing machine one step on.

    Parameters
    ----------
    old : StandstillState
        At the beginning of the step; what was let in is in its mass already.
    charge : float
        In the whole machine. [kg]
    step : float
        [s]
    brought : float
        Enthalpy of what was let in. [J]

    Raises
    ------
    SolveError
        No pressures and enthalpies close masses and energies.
    """
    fixed = (
        table,
        machine.expansion,
        machine.shell,
        sides,
        capacities,
        old,
        charge,
        step,
        brought,
    )
    low, high = math.log(table.p_min), math.log(table.p_max)
    y = np.array(
        [math.log(old.low_pressure), old.low_enthalpy, math.log(old.high_pressure),
         old.high_enthalpy]
    )  # fmt: skip
    units = np.array([1.0, _PER_ENTHALPY, 1.0, _PER_ENTHALPY])
    r, there = np.empty(4), np.empty(4)
    matrix = np.empty((4, 4))
    for _ in range(40):
        found = _linearised(*fixed, y, r, matrix)
        size = float(np.abs(r / _CLOSE).max())
        if size < 1.0:
            return found
        move = np.linalg.lstsq(matrix, -r, rcond=None)[0]
        move *= min(1.0, 0.2 / max(float(np.abs(move).max()), 1e-30))
        share = 1.0
        while share > 1e-3:
            new = y + share * move * units
            new[::2] = np.clip(new[::2], low, high)
            _residuals(*fixed, new, there)
            if float(np.abs(there / _CLOSE).max()) < size:
                break
            share *= 0.4
        y = new
    condition = "masses and energies of the standing machine close at no pressures"
    if max(y[0], y[2]) > high - 1e-3:
        condition = _FULL
    raise SolveError(
        condition=condition,
        residuals=dict(
            zip(("low mass", "low energy", "high mass", "high energy"), r.tolist(), strict=True)
        ),
        best={"low_pressure_Pa": math.exp(y[0]), "high_pressure_Pa": math.exp(y[2])},
        tried=(f"from the moment before, {step:g} s on",),
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

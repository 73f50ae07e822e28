"""Whether a solved machine really balances, worked out anew from what it shows.

Takes a balance with the profiles of both coils and adds energy, mass and charge up in plain Python,
from the properties of refrigerant and air: the compressor's equations once more, the capillary the
other way round (length from flow), a valve's forces and its port, every cell of both coils from the
refrigerant's side and from the air's side, lines, shell and oil. It shares property tables and
correlations with the solver, so it says that a balance balances, not that nature agrees.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from sweatline.air.moist import enthalpy, moist_heat_capacity
from sweatline.flow.void_fraction import void_fraction_premoli
from sweatline.machine.balance import BY_CHARGE, SteadyState, Target
from sweatline.machine.circuit import AFTER, BEFORE, BETWEEN, OUTSIDE, SERIES, MachineParameters
from sweatline.parts.capillary import CapillaryParameters
from sweatline.parts.capillary_flow import length_for
from sweatline.parts.coil import PROFILE, CoilParameters
from sweatline.parts.expansion import ExpansionParameters
from sweatline.parts.valves import ThermostaticParameters
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    enthalpy_from_entropy,
    enthalpy_vapour,
    full_state,
    saturation,
    saturation_transport,
    state,
)

__all__ = ["Closure", "closure"]

FloatArray = NDArray[np.float64]

WATER_HEAT = 4186.0  # J/(kg*K), liquid water
_COLUMN = {name: i for i, name in enumerate(PROFILE)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """Residuals of one balance, each relative to the scale that belongs to it."""

    energy: dict[str, float]  # of the heat of the condenser
    mass: dict[str, float]  # of the refrigerant's flow, water of the air's humidity
    charge: dict[str, float]  # of the charge

    def worst(self) -> tuple[float, str]:
        """The largest of them and its name."""
        together = {**self.energy, **self.mass, **self.charge}
        name = max(together, key=lambda key: together[key])
        return together[name], name


def closure(
    table: Table, machine: MachineParameters, target: Target, balance: SteadyState
) -> Closure:
    """Residuals of a balance that was solved with ``profiles=True``."""
    b = balance
    assert b.evaporator_profile is not None
    assert b.condenser_profile is not None
    air = machine.air
    pd = math.exp(b.unknowns[1])
    flow = math.exp(b.unknowns[2])
    entering = b.unknowns[3]
    evaporated = float(b.evaporator_profile[-1, _COLUMN["enthalpy_J_per_kg"]])
    liquid = float(b.condenser_profile[-1, _COLUMN["enthalpy_J_per_kg"]])
    exchanged = liquid - entering
    pumped, power, work = _compressor(
        table, machine, b.suction_pressure, evaporated + exchanged, pd
    )
    oil, discharged = _shell(
        table,
        machine,
        b,
        (pumped, power, work),
        (b.suction_pressure, evaporated + exchanged, pd),
    )

    fan = air.fan_power / air.flow
    first = air.temperature
    if air.fan_position == BEFORE:
        first += fan / moist_heat_capacity(air.humidity)
    cold = _coil(
        machine.evaporator,
        b.evaporator_profile,
        flow,
        entering,
        (first, air.humidity, air.flow),
    )
    if air.arrangement == SERIES:
        between = cold.air_enthalpy
        if air.fan_position == BETWEEN:
            between += fan
        if air.compressor_position == BETWEEN:
            between += b.shell_heat / air.flow
        second = (b.air_between[0], b.air_between[1], air.flow)
        passed_on = abs(enthalpy(*b.air_between) - between) * air.flow
    else:
        warmed = air.condenser_temperature
        if air.condenser_fan_position == BEFORE:
            warmed += air.condenser_fan_power / (
                air.condenser_flow * moist_heat_capacity(air.condenser_humidity)
            )
        if air.compressor_position == BETWEEN:
            warmed += b.shell_heat / (
                air.condenser_flow * moist_heat_capacity(air.condenser_humidity)
            )
        second = (warmed, air.condenser_humidity, air.condenser_flow)
        passed_on = 0.0
    hot = _coil(machine.condenser, b.condenser_profile, flow, discharged, second)

    scale = b.heating
    energy = {
        "machine": abs(b.cooling + b.compressor_power - b.shell_heat - b.heating) / scale,
        "shell": machine.compressor.shell_conductance * abs(oil - b.oil_temperature) / scale,
        "compressor power": abs(power - b.compressor_power) / scale,
        "evaporator, refrigerant": abs(flow * (evaporated - entering) - b.cooling) / scale,
        "condenser, refrigerant": abs(flow * (discharged - liquid) - b.heating) / scale,
        "evaporator, cells": max(cold.refrigerant, abs(cold.heat - b.cooling)) / scale,
        "condenser, cells": max(hot.refrigerant, abs(hot.heat + b.heating)) / scale,
        "evaporator, air": cold.air / scale,
        "condenser, air": hot.air / scale,
        "air between the coils": passed_on / scale,
        "suction exchanger": flow
        * abs(
            exchanged - _exchanged(table, machine, b.suction_pressure, evaporated, pd, liquid, flow)
        )
        / scale,
    }
    if air.arrangement == SERIES:
        lost = b.shell_heat if air.compressor_position == OUTSIDE else 0.0
        gained = air.flow * (enthalpy(*b.air_out) - enthalpy(air.temperature, air.humidity))
        energy["whole machine, air"] = abs(gained + cold.drained - b.total_power + lost) / scale
    mass = {
        "compressor": abs(pumped / flow - 1.0),
        "water": abs(cold.water_of_air - b.water) / (air.flow * air.humidity),
        "moisture passed on": abs(b.air_out[1] - second[1]) / second[1],
    }
    if target.with_expansion:
        before = entering + (1.0 - machine.lines.exchanger_ahead) * exchanged
        mass["expansion device"] = _metered(table, machine.expansion, b, flow, before, evaporated)
    places = _places(table, machine, b, evaporated + exchanged, discharged, liquid, pd, flow)
    charge = {"places": abs(math.fsum(places) - b.charge) / b.charge}
    if target.charged == BY_CHARGE:
        charge["given"] = abs(b.charge - target.charge) / target.charge
    return Closure(energy=energy, mass=mass, charge=charge)


def _metered(
    table: Table,
    part: ExpansionParameters,
    b: SteadyState,
    flow: float,
    entering: float,
    evaporated: float,
) -> float:
    """How far the flow is from what the expansion device passes, relative."""
    if isinstance(part, CapillaryParameters):
        found = length_for(
            table,
            bore=part.bore,
            mass_flow=flow,
            inlet_pressure=b.liquid_pressure,
            inlet_enthalpy=entering,
            outlet_pressure=b.evaporating_pressure,
            roughness=part.roughness,
            flow_multiplier=part.flow_multiplier,
            metastable=part.metastable > 0.0,
        )
        # Flow goes with about the square root of 1/length.
        return 0.5 * abs(math.log(found.length / part.length)) if found.length > 0.0 else 1.0
    if isinstance(part, ThermostaticParameters):
        temperature = state(table, b.suction_pressure, evaporated)[0]
        dry = part.dry_temperature
        bulb = part.bulb
        charged = min(temperature, dry)
        opens = brentq(  # from the pressure's side
            lambda p: saturation(bulb, p)[1] - charged, bulb.p_min, bulb.p_max, rtol=1e-14
        )
        opens *= max(temperature / dry, 1.0)
        shuts = b.suction_pressure if part.external > 0.5 else b.evaporating_pressure
        share = (opens - shuts - part.spring) / part.span
    else:
        share = (part.setting - b.evaporating_pressure) / part.span
    v = state(table, b.liquid_pressure, entering)[1]
    behind = state(table, b.evaporating_pressure, entering)[1]
    speed = math.sqrt(2.0 * (b.liquid_pressure - b.evaporating_pressure) * v)
    coefficient = 0.02005 / math.sqrt(v) + 0.634 * behind
    area = min(max(share, 0.0), 1.0) * part.port.area * part.port.flow_multiplier
    return abs(coefficient * area * speed / v / flow - 1.0)


def _compressor(
    table: Table, machine: MachineParameters, suction: float, h1: float, discharge: float
) -> tuple[float, float, float]:
    """Flow, power and work on the gas from the equations at the head of `compressor`."""
    c = machine.compressor
    hg = saturation(table, suction)[3]
    if h1 < hg:  # liquid boils off before the cylinder
        h1 = hg - 600.0 * (1.0 - math.exp((h1 - hg) / 600.0))
    t1, v1, s1, cp, *_ = full_state(table, suction, h1)
    h2s = enthalpy_from_entropy(table, discharge, s1)
    v2s = state(table, discharge, h2s)[1]
    work = max(h2s - h1, 10.0)
    room = 1.0 + c.clearance * (1.0 - max(v1 / v2s, 1.0))
    room = 0.5 * (room + math.hypot(room, 1e-2))
    swept = c.displacement * c.speed / v1
    ideal = c.filling * room * swept
    valves = swept * c.valve_loss * c.speed**2
    heating = c.heating * (c.fixed_loss + (ideal * work + valves) / c.proportional)
    flow = c.flow_multiplier * ideal / (1.0 + heating / (ideal * max(cp, 300.0)) / t1)
    work += c.flow_multiplier * valves / flow
    power = c.power_multiplier * (c.fixed_loss + flow * work / c.proportional)
    return flow, power, work


def _shell(
    table: Table,
    machine: MachineParameters,
    b: SteadyState,
    run: tuple[float, float, float],
    ends: tuple[float, float, float],
) -> tuple[float, float]:
    """Oil temperature and discharge enthalpy from the equations of `compressor_shell`."""
    c, air = machine.compressor, machine.air
    flow, power, work = run
    suction, h1, discharge = ends

    def given(t: float) -> float:
        """What a shell this warm gives the air. [W]"""
        if air.compressor_position == OUTSIDE:
            return c.shell_conductance * (t - air.ambient)
        series = air.arrangement == SERIES
        stream = air.flow if series else air.condenser_flow
        stream *= moist_heat_capacity(b.air_between[1] if series else air.condenser_humidity)
        entering = b.air_between[0] if series else air.condenser_temperature
        if air.compressor_position == AFTER:
            entering += b.heating / stream
        else:
            entering -= b.shell_heat / stream
        return -math.expm1(-c.shell_conductance / stream) * stream * (t - entering)

    if c.oil_at_discharge > 0.5:

        def left(h2: float) -> float:
            return power - flow * (h2 - h1) - given(state(table, discharge, h2)[0])

        h2 = brentq(left, h1 - 5e5, h1 + power / flow + 5e5, xtol=1e-6)
        return state(table, discharge, h2)[0] - 5.0, h2
    _tb, dew, _hl, hg, *_ = saturation(table, suction)
    work = min(work, 0.9 * power / flow)

    def remains(t: float) -> float:
        inside = enthalpy_vapour(table, suction, t) if t > dew else hg
        missed = 0.5 * (inside - max(h1, hg))
        inside -= missed * work / (max(missed, 0.0) + work)
        hot, _v, _s, cp, *_ = full_state(table, discharge, inside + work)
        returned = flow * cp * -math.expm1(-c.discharge_tube / (flow * cp)) * (hot - t)
        return power - flow * (inside + work - h1) + returned - given(t)

    inside = dew if remains(dew) < 0.0 else brentq(remains, dew, dew + 400.0, xtol=1e-10)
    heat = given(inside)
    if inside == dew:  # refrigerant would gather: no more than leaves saturated gas
        heat = min(heat, power + flow * max(h1 - hg, 0.0))
    h2 = h1 + (power - heat) / flow
    share = 0.6 * (inside - dew) / (inside - dew + 2.0)
    return inside + share * (state(table, discharge, h2)[0] - inside), h2


def _accumulator(table: Table, volume: float, p: float, h: float, flow: float) -> float:
    """Gas over liquid that stands as high as drives it through the bleed hole. [kg]"""
    _t, v, _s, x = state(table, p, h)
    vl, vg = saturation(table, p)[4:6]
    through = max(1.0 - x, 0.0) * flow * vl / 1.2e-6  # Torricelli: goes with the root of the level
    level = through**2 / (1.0 + through**8) ** 0.25
    return volume * (level / vl + (1.0 - level) / (vg if level > 0.0 else v))


def _exchanged(
    table: Table,
    machine: MachineParameters,
    suction: float,
    evaporated: float,
    discharge: float,
    liquid: float,
    flow: float,
) -> float:
    """Heat per mass that a suction exchanger takes from this liquid. [J/kg]"""
    conductance = machine.lines.exchanger_conductance
    if conductance <= 0.0:
        return 0.0
    t, _v, _s, cp, *_ = full_state(table, suction, evaporated)
    ntu = conductance / (flow * cp)
    return ntu / (1.0 + ntu) * cp * max(state(table, discharge, liquid)[0] - t, 0.0)


@dataclass(slots=True, kw_only=True)
class _CoilSum:
    heat: float = 0.0  # W to the refrigerant
    refrigerant: float = 0.0  # W, largest mistake of a cell or between two rows
    air: float = 0.0  # W, sum of the mistakes of the cells' air
    drained: float = 0.0  # W, enthalpy of the condensate
    water_of_air: float = 0.0  # kg/s
    air_enthalpy: float = 0.0  # J/kg, mixed outlet


def _coil(
    coil: CoilParameters,
    profile: FloatArray,
    flow: float,
    entering: float,
    air: tuple[float, float, float],
) -> _CoilSum:
    """Add up a coil from its profile, cell by cell, from both sides."""
    found = _CoilSum()
    air_t, air_w, air_flow = air
    share = air_flow / coil.cells
    leaving = {
        (int(cell[0]), int(cell[1])): (
            float(cell[_COLUMN["air_out_temperature_K"]]),
            float(cell[_COLUMN["air_out_humidity_ratio"]]),
        )
        for cell in profile
    }
    h = entering
    for cell in profile:
        row, place = int(cell[0]), int(cell[1])
        t, w = leaving[row - 1, place] if row > 0 else (air_t, air_w)
        t_out, w_out = leaving[row, place]
        heat = float(cell[_COLUMN["heat_W"]])
        end = float(cell[_COLUMN["enthalpy_J_per_kg"]])
        found.heat += heat
        found.refrigerant = max(found.refrigerant, abs(flow * (end - h) - heat))
        h = end
        condensed = share * (w - w_out)
        found.water_of_air += condensed
        given = share * (enthalpy(t, w) - enthalpy(t_out, w_out))
        drained = given - heat
        surface = float(cell[_COLUMN["surface_temperature_K"]])
        exact = condensed * WATER_HEAT * (surface - 273.15)
        if abs(drained - exact) > 1e-6 * abs(heat):
            # A cell cut at a phase line drains from two surfaces, of which the profile has the
            # mean: the water must then leave between the refrigerant and the air.
            coldest = float(cell[_COLUMN["refrigerant_temperature_K"]])
            low = condensed * WATER_HEAT * (coldest - 273.15)
            high = condensed * WATER_HEAT * (t - 273.15)
            exact = min(max(drained, low), high)
        found.air += abs(drained - exact)
        found.drained += drained
    outlet = [leaving[coil.rows - 1, k] for k in range(coil.cells)]
    found.air_enthalpy = math.fsum(enthalpy(*o) for o in outlet) / coil.cells
    return found


def _density(table: Table, p: float, h: float, flow: float, bore: float) -> float:
    """Of what stands in a plain tube, with slip. [kg/m3]"""
    _t, v, _s, x = state(table, p, h)
    if not 0.0 < x < 1.0:
        return 1.0 / v
    _tb, _td, _hl, _hg, vl, vg, _sl, _sg = saturation(table, p)
    mul, _mug, _kl, _kg, _cl, _cg, sigma = saturation_transport(table, p)
    void = void_fraction_premoli(x, flow / (0.25 * math.pi * bore**2), bore, vl, vg, mul, sigma)
    return (1.0 - void) / vl + void / vg


def _places(
    table: Table,
    machine: MachineParameters,
    b: SteadyState,
    h1: float,
    h2: float,
    liquid: float,
    pd: float,
    flow: float,
) -> list[float]:
    """Refrigerant of each place of the inventory. [kg]"""
    assert b.evaporator_profile is not None
    assert b.condenser_profile is not None
    lines, shell, c = machine.lines, machine.shell, machine.compressor

    def tube(bore: float, length: float, p: float, h: float) -> float:
        return _density(table, p, h, flow, bore) * 0.25 * math.pi * bore**2 * length

    if c.oil_at_discharge > 0.5:
        p_shell, h_shell, t_oil = pd, h2, state(table, pd, h2)[0] - 5.0
    else:
        p_shell, h_shell = b.suction_pressure, 0.5 * (h1 + h2)
        t_oil = b.oil_temperature
    _t, v, _s, x = state(table, p_shell, h_shell)
    if x < 1.0:
        v = saturation(table, p_shell)[5]
    p_oil = min(bubble_pressure(table, min(t_oil, 0.985 * table.t_crit)), table.p_max)
    activity = p_shell / p_oil
    drawn = math.log(max(0.98 * activity / (1.0 + activity**12) ** (1.0 / 12.0), 1e-12))

    def solubility(phi: float) -> float:
        rest = 1.0 - phi
        return (
            math.log(phi)
            + (1.0 - 1.0 / shell.size_ratio) * rest
            + shell.interaction * rest * rest
            - drawn
        )

    phi = brentq(solubility, 1e-14, 1.0 - 1e-14, xtol=1e-16, rtol=1e-14)
    column = _COLUMN["charge_kg"]
    return [
        float(b.evaporator_profile[:, column].sum()),
        float(b.condenser_profile[:, column].sum()),
        tube(lines.liquid_bore, lines.liquid_length, b.liquid_pressure, liquid),
        _density(table, b.liquid_pressure, liquid, flow, lines.liquid_bore) * lines.drier_volume,
        tube(lines.suction_bore, lines.suction_length, b.suction_pressure, h1)
        + _accumulator(table, lines.accumulator_volume, b.suction_pressure, h1, flow),
        tube(lines.discharge_bore, lines.discharge_length, pd, h2),
        shell.gas_volume / v,
        shell.oil_volume * phi / (1.0 - phi) / saturation(table, p_oil)[4],
    ]

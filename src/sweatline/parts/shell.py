"""Refrigerant outside the coils: lines, drier, the compressor's shell, and what the oil holds.

What the oil holds follows from its temperature and the pressure over it (`parts.solubility`); the
amount is the least certain part of an inventory.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from sweatline.compiled import kernel
from sweatline.flow.void_fraction import void_fraction_premoli
from sweatline.parts.solubility import dissolved, interaction_at
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    saturation,
    saturation_transport,
    state,
)


class LineParameters(NamedTuple):
    """Tubing between the parts as the kernels see it."""

    suction_bore: float  # m
    suction_length: float  # m
    discharge_bore: float  # m
    discharge_length: float  # m
    liquid_bore: float  # m
    liquid_length: float  # m
    drier_volume: float  # m3
    accumulator_volume: float  # m3
    exchanger_conductance: float  # W/K of the capillary soldered to the suction line
    exchanger_ahead: float = 1.0  # share of its cooling that a capillary feels before it flashes


class ShellParameters(NamedTuple):
    """Compressor shell and its oil as the kernels see them."""

    gas_volume: float  # m3
    oil_volume: float  # m3
    size_ratio: float  # r, molar volume of oil over that of liquid refrigerant
    interaction: float  # chi at 45 C
    interaction_slope: float = 0.0  # how chi goes with 318.15 K / T - 1


@kernel
def tube_charge(
    table: Table, pressure: float, enthalpy: float, flow: float, bore: float, length: float
) -> float:
    """Refrigerant in a plain tube, with slip when it carries both phases. [kg]"""
    area = 0.25 * math.pi * bore * bore
    _t, v, _s, x = state(table, pressure, enthalpy)
    density = 1.0 / v
    if 0.0 < x < 1.0:
        _tb, _td, _hl, _hg, vl, vg, _sl, _sg = saturation(table, pressure)
        mul, _mug, _kl, _kg, _cl, _cg, sigma = saturation_transport(table, pressure)
        alpha = void_fraction_premoli(x, flow / area, bore, vl, vg, mul, sigma)
        density = (1.0 - alpha) / vl + alpha / vg
    return density * area * length


@kernel
def shell_charge(
    table: Table,
    shell: ShellParameters,
    pressure: float,
    gas_enthalpy: float,
    oil_temperature: float,
) -> tuple[float, float]:
    """Refrigerant in the shell's gas space and dissolved in its oil. [kg], [kg]"""
    _t, v, _s, x = state(table, pressure, gas_enthalpy)
    if x < 1.0:  # liquid that enters the warm shell boils off there
        v = saturation(table, pressure)[5]
    gas = shell.gas_volume / v
    hottest = min(oil_temperature, 0.985 * table.t_crit)
    p_oil = bubble_pressure(table, hottest)
    if p_oil > table.p_max:
        p_oil = table.p_max
    chi = interaction_at(shell.interaction, shell.interaction_slope, hottest)
    phi = dissolved(pressure / p_oil, shell.size_ratio, chi)
    v_liquid = saturation(table, p_oil)[4]
    oil = shell.oil_volume * phi / (1.0 - phi) / v_liquid
    return gas, oil

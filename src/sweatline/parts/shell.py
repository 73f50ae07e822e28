r"""Refrigerant outside the coils: lines, drier, the compressor's shell, and what the oil holds.

Oil takes up refrigerant by its activity at the oil's temperature. With the Flory-Huggins form

.. math::
    \ln\frac{p}{p_{sat}(T_{oil})} = \ln\phi + (1 - 1/r)(1-\phi) + \chi(1-\phi)^2

the volume share :math:`\phi` rises smoothly from nothing to one; it neither clamps nor jumps.
The interaction number is not known for most pairs, so the amount is the least certain part of an
inventory (flagged on every result that leans on it).
"""

from __future__ import annotations

import math
from typing import NamedTuple

from sweatline.compiled import kernel
from sweatline.flow.void_fraction import void_fraction_premoli
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    saturation,
    saturation_transport,
    state,
)

__all__ = ["LineNumbers", "ShellNumbers", "dissolved", "shell_charge", "tube_charge"]


class LineNumbers(NamedTuple):
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


class ShellNumbers(NamedTuple):
    """Compressor shell and its oil as the kernels see them."""

    gas_volume: float  # m3
    oil_volume: float  # m3
    size_ratio: float  # r, molar volume of oil over that of liquid refrigerant
    interaction: float  # chi


# Oil molecules are four to five times the size of a refrigerant molecule; chi near 0.3 describes
# a fully miscible pair of moderate solubility (MEMORY 0.5, no table at hand confirms it).
SIZE_RATIO = 4.5
INTERACTION = 0.3
INTERACTION_SD = 0.4


@kernel
def dissolved(activity: float, size_ratio: float, interaction: float) -> float:
    """Volume share of refrigerant in oil at an activity p/psat. [-]

    Activity above one is drawn smoothly to just below it: oil that has fallen to the saturation
    temperature would take up liquid without end.
    """
    a: float = 0.98 * activity / (1.0 + activity**12) ** (1.0 / 12.0)
    goal = math.log(max(a, 1e-12))
    phi: float = min(0.3 * a + 1e-9, 0.9)
    for _ in range(60):
        rest = 1.0 - phi
        f = math.log(phi) + (1.0 - 1.0 / size_ratio) * rest + interaction * rest * rest - goal
        slope = 1.0 / phi - (1.0 - 1.0 / size_ratio) - 2.0 * interaction * rest
        if slope < 0.05:
            slope = 0.05
        new = phi - f / slope
        if new <= 0.0:
            new = 0.5 * phi
        elif new >= 1.0:
            new = 0.5 * (phi + 1.0)
        if abs(new - phi) < 1e-14:
            phi = new
            break
        phi = new
    return phi


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
    shell: ShellNumbers,
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
    phi = dissolved(pressure / p_oil, shell.size_ratio, shell.interaction)
    v_liquid = saturation(table, p_oil)[4]
    oil = shell.oil_volume * phi / (1.0 - phi) / v_liquid
    return gas, oil

r"""The shell of a hermetic compressor as a body: its heat to the gas, and to the air round it.

What the mains put in leaves with the gas or through the shell:

.. math:: P = \dot m\,(h_2 - h_1) + UA\,(T - T_{air}) .

High-side shell (rotary): it is full of discharge gas, and :math:`T` is that of the gas.

Low-side shell (reciprocating): it is full of suction gas, which takes up the losses of the motor
and of the compression. One temperature stands for the inside. The gas takes up a part of what
would warm it to that, is given the work :math:`w` in the cylinder, and on its way out hands heat
back through the tube and the muffler in the shell:

.. math::
    P = \dot m\,(h_{1c} + w - h_1)
        - \dot m c_p\,(1 - e^{-G/(\dot m c_p)})\,(T_{2i} - T) + UA\,(T - T_{air}), \\
    h_{1c} = h_1 + X - \frac{u X w}{u X + w}, \quad X = h(p_1, T) - h_1, \quad
    T_{2i} = T(p_2,\, h_{1c} + w) .

A share :math:`u` of the warming is missed, and never as much as the work, so that the discharge
gas is the hottest. Bearings, cylinder and discharge tube warm the oil, which lies six tenths of the
way from the inside to the discharge gas, and nearer to the inside as that comes to saturation.
Liquid in the suction is first boiled off by the same heat, then :math:`h_1` is saturated gas; the
inside is no colder than saturation, and a shell at saturation gives off no more than leaves
saturated gas.

Either is one unknown and monotone. The arrangement is that of lumped models with measured
conductances (Todescat, Fagotti, Prata & Ferreira 1992, Purdue compressor conference, paper 936),
with one temperature where they have three; high side after Molinaroli, Joppolo & De Antonellis
2017, whose wall temperature is left out.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from sweatline.compiled import inner_kernel, kernel
from sweatline.refrigerant.table import Table, full_state, saturation, state

# Conductance of a can of 8 cm3, W/K: 0.148 m2, the area of the cans of such machines (data sheets);
# free convection and radiation 45 K above the room, or a stream of 2 m/s (textbook; uneven walls
# and tubes +-30 %). Areas go with the displacement to the power 0.4: cans of 7 to 15 cm3, and one
# of 30 cm3.
STANDING: Final = 1.85
IN_THE_STREAM: Final = 2.8
NOT_STATED: Final = 2.3  # geometric mean of the two
# Discharge tube and muffler inside such a can, W/K: a household machine at -23/54 °C has 75 to 95
# °C at the stub, where the chamber has 110 to 135 °C or more (MEMORY 0.5).
_DISCHARGE_TUBE: Final = 1.2
# Share by which suction gas misses the inside's temperature: 0 to 0.3 where it is drawn from the
# can, 0.5 to 0.8 where a muffler brings most of it past (MEMORY 0.5).
_MISSED: Final = 0.5
_SIZE: Final = 8e-6  # m3
_POWER: Final = 0.4

# Where the oil of a low-side shell lies between the gas inside and the discharge gas. Household
# machines have 60 to 75 °C (MEMORY 0.5), which asks for less; a measured R-12 machine moves as if
# its oil held little, and asks for this or more (tests/published).
_OIL_ABOVE: Final = 0.6
_WET: Final = 2.0  # K above saturation at which half of that is left (judged)
OIL_BELOW_GAS: Final = 5.0  # K, oil below the discharge gas in a high-side shell (common practice)
_MOST_WORK: Final = 0.9  # of the input can be work done on the gas
_CLOSE: Final = 1e-11  # of the input
_STEPS: Final = 20


class CompressorShell(NamedTuple):
    """A shell and what is round it."""

    conductance: float  # W/K, inside to the air round it
    surroundings: float  # K
    discharge_tube: float  # W/K, discharge tube to the inside of a low-side shell
    high_side: bool  # it is full of discharge gas


class Compressed(NamedTuple):
    """What a compressor does to the gas, whatever becomes of its losses."""

    flow: float  # kg/s
    power: float  # W
    work: float  # J/kg, isentropic and in valves
    suction_pressure: float  # Pa
    suction_enthalpy: float  # J/kg
    discharge_pressure: float  # Pa


class ShellBalance(NamedTuple):
    """Where the input has gone."""

    discharge_enthalpy: float  # J/kg
    inside_temperature: float  # K, of a low-side shell's gas; of a high-side one as its oil
    oil_temperature: float  # K
    heat: float  # W, to what is round the shell


def usual_conductances(displacement: float, conductance: float = NOT_STATED) -> tuple[float, float]:
    """Of shell and discharge tube of a usual machine. [W/K], [W/K]

    Parameters
    ----------
    displacement : float
        Per revolution. [m3]
    conductance : float
        Of the shell of a machine of 8 cm3: STANDING, IN_THE_STREAM or NOT_STATED. [W/K]
    """
    size = (displacement / _SIZE) ** _POWER
    return conductance * size, _DISCHARGE_TUBE * size


@inner_kernel
def _low_side(
    table: Table, shell: CompressorShell, run: Compressed, h: float
) -> tuple[float, float, float]:
    """What is left of the input when the gas inside has an enthalpy; its slope; temperature.

    [W], [kg/s], [K]
    """
    t, _v, _s, cp, _mu, _k, _x = full_state(table, run.suction_pressure, h)
    work = min(run.work, _MOST_WORK * run.power / run.flow)
    drawn = max(run.suction_enthalpy, saturation(table, run.suction_pressure)[3])
    missed = _MISSED * (h - drawn)
    held = work / (work + max(missed, 0.0))
    drawn = h - missed * held
    hot, _v, _s, cp_hot, _mu, _k, _x = full_state(table, run.discharge_pressure, drawn + work)
    returned = -run.flow * math.expm1(-shell.discharge_tube / (run.flow * cp_hot))
    left = run.power - run.flow * (drawn + work - run.suction_enthalpy)
    left += returned * cp_hot * (hot - t) - shell.conductance * (t - shell.surroundings)
    slope = (1.0 - _MISSED * held * held) * (run.flow - returned)
    slope += (shell.conductance + returned * cp_hot) / cp
    return left, slope, t


@kernel
def shell_balance(table: Table, shell: CompressorShell, run: Compressed) -> ShellBalance:
    """Discharge gas, oil and heat to the surroundings that make the input come out right."""
    flow, power = run.flow, run.power
    adiabatic = run.suction_enthalpy + power / flow
    if shell.high_side:
        pressure = run.discharge_pressure
        bubble, dew, hl, hg, _vl, _vg, _sl, _sg = saturation(table, pressure)
        surplus = flow * (adiabatic - hg) - shell.conductance * (dew - shell.surroundings)
        h = hg
        if surplus > 0.0:
            t, _v, _s, cp, _mu, _k, _x = full_state(table, pressure, h)
            for _ in range(_STEPS):
                excess = flow * (h - hg) + shell.conductance * (t - dew) - surplus
                if abs(excess) < _CLOSE * power:
                    break
                h = max(h - excess / (flow + shell.conductance / cp), hg)
                t, _v, _s, cp, _mu, _k, _x = full_state(table, pressure, h)
        elif surplus > flow * (hl - hg) + shell.conductance * (bubble - dew):  # gas and liquid
            slope = flow + shell.conductance * (dew - bubble) / (hg - hl)
            for _ in range(_STEPS):
                t = state(table, pressure, h)[0]
                excess = flow * (h - hg) + shell.conductance * (t - dew) - surplus
                if abs(excess) < _CLOSE * power:
                    break
                h = min(max(h - excess / slope, hl), hg)
        else:  # a cold shell, or much liquid in the suction: only liquid leaves
            h = hl
            for _ in range(_STEPS):
                t, _v, _s, cp, _mu, _k, _x = full_state(table, pressure, h)
                excess = flow * (h - hg) + shell.conductance * (t - dew) - surplus
                if abs(excess) < _CLOSE * power:
                    break
                h = min(h - excess / (flow + shell.conductance / cp), hl)
        t = state(table, pressure, h)[0]
        t -= OIL_BELOW_GAS
        return ShellBalance(h, t, t, flow * (adiabatic - h))
    _tb, dew, _hl, h, _vl, _vg, _sl, _sg = saturation(table, run.suction_pressure)
    driest = h
    left, slope, inside = _low_side(table, shell, run, h)
    # A shell at saturation in a colder room takes no more than leaves saturated gas: refrigerant
    # would gather there, which no steady state shows.
    most = power + flow * max(run.suction_enthalpy - driest, 0.0)
    if left > 0.0:  # else liquid is left, and the inside stays at saturation
        most = math.inf
        for _ in range(_STEPS):
            h = max(h + left / slope, driest)
            left, slope, inside = _low_side(table, shell, run, h)
            if abs(left) < _CLOSE * power:
                break
    heat = min(shell.conductance * (inside - shell.surroundings), most)
    h = adiabatic - heat / flow
    above = max(inside - dew, 0.0)
    share = _OIL_ABOVE * above / (above + _WET)  # liquid that is left lies in the oil
    oil = inside + share * (state(table, run.discharge_pressure, h)[0] - inside)
    return ShellBalance(h, inside, oil, heat)

r"""One cell of a finned coil: a length of tube, its share of the fins, and the air they see.

Within a cell the air is unmixed and the refrigerant mixed across the air's direction, for which

.. math::
    Q = \dot m_a c_p\,\frac{1 - e^{-r\,(1-e^{-NTU})}}{r}\,(T_a - T_r), \qquad
    r = \dot m_a c_p / (\dot m_r\,dh/dT)

is exact, from an evaporating pure fluid (r = 0) to single phase. A cell in which the refrigerant
meets its bubble or dew line is cut there into pieces of one phase. A piece knows nothing of the
pieces before it, so that one which shrinks to nothing leaves no trace and every output is
continuous.

Wet surface. The driving force is the enthalpy difference between the air and air saturated at
the surface (Lewis number one); the slope of saturated enthalpy between refrigerant and surface is
iterated. A piece takes the larger of its dry and its wet heat flow; its outlet humidity comes from
the wet solution, limited to the inlet's, and its outlet temperature from the energy balance. Heat
and moisture are then continuous across the change from dry to wet.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import enthalpy as air_enthalpy
from sweatline.air.moist import moist_heat_capacity
from sweatline.air.moist import temperature as air_temperature
from sweatline.air.saturation_line import SaturationLine, saturated_air
from sweatline.compiled import inner_kernel, kernel
from sweatline.constants import ZERO_CELSIUS
from sweatline.flow.boiling import boiling_with_dryout
from sweatline.flow.condensation import condensation_shah_2009_with_ends
from sweatline.flow.inside_tube import (
    Phases,
    coefficient_with_glide,
    gradient_bend_padilla,
    gradient_mueller_steinhagen_heck,
    heat_transfer_single_phase,
)
from sweatline.flow.void_fraction import void_fraction_premoli
from sweatline.refrigerant.table import Table, full_state, saturation, saturation_transport

FloatArray = NDArray[np.float64]

_ABOVE = 4.0  # K, about what a wet surface is warmer than boiling refrigerant
_WATER_HEAT = 4186.0  # J/(kg*K), liquid water near 10 C (textbook)

# Water freezes where the surface is below zero. A cell stands for surfaces of some spread, hence a
# ramp down to this far below, along which heat and water stay continuous.
FREEZING_SPAN = 0.5  # K


@inner_kernel
def _ratio_effect(ratio: float, effect: float) -> float:
    """(1 - exp(-ratio*effect))/ratio, regular at ratio = 0."""
    z = ratio * effect
    if z < 1e-6:
        return effect * (1.0 - 0.5 * z)
    return (1.0 - math.exp(-z)) / ratio


@kernel
def surface_efficiency_of(coefficient: float, fin_constant: float, fin_fraction: float) -> float:
    """Efficiency of the outside surface [-]: Schmidt's fin with its geometry already worked out."""
    u = fin_constant * math.sqrt(coefficient)
    e = math.exp(-2.0 * u)
    return 1.0 - fin_fraction * (1.0 - (1.0 - e) / (1.0 + e) / u)


@inner_kernel
def _condensate_enthalpy(surface: float, fusion: float) -> float:
    """Enthalpy that a kilogram of condensate takes away, of ice where `fusion` is given. [J/kg]"""
    frozen = min(max((ZERO_CELSIUS - surface) / FREEZING_SPAN, 0.0), 1.0)
    return _WATER_HEAT * (surface - ZERO_CELSIUS) - fusion * frozen


class CellParameters(NamedTuple):
    """What stays the same for every cell of a march."""

    fin_constant: float
    fin_fraction: float
    outside: float  # W/(m2*K), dry air side
    dry_efficiency: float
    cell_area: float  # m2 outside
    cell_air: float  # kg/s of dry air
    inner_area: float  # m2 inside, of a cell
    bore: float  # m
    bore_area: float  # m2
    cell_length: float  # m
    flow: float  # kg/s in one circuit
    flux: float  # kg/(m2*s)
    inner_multiplier: float
    bend_share: float
    bend_radius: float
    friction_multiplier: float
    heated: bool
    layer: float  # m2*K/W on the outside surface: frost; 0 when there is none
    fusion: float  # J/kg given up by water that freezes; 0 counts all of it as liquid


@inner_kernel
def _exchange(
    line: SaturationLine,
    side: CellParameters,
    air_t: float,
    air_w: float,
    air_flow: float,
    area: float,
    refrigerant_t: float,
    inverse_capacity: float,
    inner: float,
) -> tuple[float, float, float, float, float]:
    """Heat [W], air out [K, kg/kg], mean surface temperature [K] and the dry exponent.

    The exponent says how heat falls off along the piece; the dry one serves wet pieces too, so that
    it does not jump where a piece turns wet.

    `area` is the outside surface in m2, `inner` the thermal resistance of wall and refrigerant in
    K/W, `inverse_capacity` dT/dh/m_r in K/W.
    """
    cp = moist_heat_capacity(air_w)
    capacity = air_flow * cp
    outer = 1.0 / (side.outside * side.dry_efficiency * area)
    effect = 1.0 - math.exp(-1.0 / ((outer + inner) * capacity))
    ratio = capacity * inverse_capacity
    heat = capacity * _ratio_effect(ratio, effect) * (air_t - refrigerant_t)
    exponent = ratio * effect
    t_out = air_t - heat / capacity
    surface = refrigerant_t + heat * (inner + 0.5 * inverse_capacity)
    exit_surface = refrigerant_t + (t_out - refrigerant_t) * inner / (inner + outer)
    if not side.heated:
        return heat, t_out, air_w, surface, exponent
    _h, _dh, w_exit, _dw = saturated_air(line, exit_surface)
    if w_exit >= air_w:
        return heat, t_out, air_w, surface, exponent
    h_air = air_enthalpy(air_t, air_w)
    h_ref, slope, _w, _dw = saturated_air(line, refrigerant_t)
    driving = h_air - h_ref
    half = inner + 0.5 * inverse_capacity
    # The surface begins at the dry one; saturation counts by its secant from the refrigerant to it.
    t_surface = min(surface, air_t)
    h_s, slope_s, _w, _dw = saturated_air(line, t_surface)
    # Wet fin: the slope of saturated enthalpy multiplies the coefficient along the fin; a secant,
    # because the slope itself jumps where ice takes the place of water.
    gap = t_surface - refrigerant_t
    secant = (h_s - h_ref) / gap if abs(gap) > 1e-4 else slope
    ntu_outer = (
        side.outside
        * surface_efficiency_of(side.outside * secant / cp, side.fin_constant, side.fin_fraction)
        / cp
        * area
        / air_flow
    )
    resistance = 1.0 / (ntu_outer * air_flow)
    wet_heat = 0.0
    before = t_surface
    first = t_surface
    for trial in range(3):
        gap = t_surface - refrigerant_t
        secant = (h_s - h_ref) / gap if abs(gap) > 1e-4 else slope
        effect = 1.0 - math.exp(-1.0 / ((resistance + secant * inner) * air_flow))
        ratio = air_flow * secant * inverse_capacity
        wet_heat = air_flow * _ratio_effect(ratio, effect) * driving
        t_surface = refrigerant_t + wet_heat * half
        if trial == 0:
            first = t_surface
        elif trial == 1:
            # Guess and answer lie on both sides of the truth and swing wide where the refrigerant
            # resists most: it is where the line through two such pairs meets itself.
            bend = before - 2.0 * first + t_surface
            if abs(bend) > 1e-9:
                t_surface = before - (first - before) ** 2 / bend
        h_s, slope_s, _w, _dw = saturated_air(line, t_surface)
    # The state toward which the air moves on the psychrometric chart.
    approach = 1.0 - math.exp(-ntu_outer)
    h_end = h_air - wet_heat / air_flow / approach
    t_end = t_surface
    w_s = air_w
    for _ in range(2):
        t_end += (h_end - h_s) / slope_s
        h_s, slope_s, w_s, _dw = saturated_air(line, t_end)
    w_out = air_w
    if w_s < air_w:
        w_out = air_w - (air_w - w_s) * approach
    if wet_heat > heat:
        heat = wet_heat
        surface = t_surface
    drained = (air_w - w_out) * _condensate_enthalpy(surface, side.fusion)
    t_out = air_temperature(h_air - heat / air_flow - drained, w_out)
    return heat, t_out, w_out, surface, exponent


_PHASES = Phases(*(1.0,) * len(Phases._fields))
FILMS: Final = (
    (boiling_with_dryout, 1.0, 1.0, 1.0, 1.0, _PHASES),
    (condensation_shah_2009_with_ends, 1.0, 1.0, 1.0, _PHASES),
    (coefficient_with_glide, *(1.0,) * 9),
    (heat_transfer_single_phase, *(1.0,) * 5),
    (gradient_mueller_steinhagen_heck, *(1.0,) * 7),
    (void_fraction_premoli, *(1.0,) * 7),
)
"""Kernels of a cell that look up no property, with arguments of the types they are called with."""


class _Piece(NamedTuple):
    """What happened along one piece of a cell, in one phase."""

    h_next: float
    share: float  # of the cell
    heat: float
    t_out: float
    w_out: float
    surface: float
    t_ref: float
    x_mid: float
    gradient: float  # Pa/m of tube, its share of bends included
    density: float  # kg/m3


@inner_kernel
def _estimated_heat(
    side: CellParameters,
    ta: float,
    wa: float,
    air: float,
    area: float,
    t_ref: float,
    inverse: float,
    inner: float,
    h_ref: float,
    slope: float,
) -> float:
    """Heat of a piece without iterating its surface, for the coefficients that depend on it. [W]

    `h_ref` and `slope` are of air saturated at the refrigerant's temperature and a little above.
    """
    cp = moist_heat_capacity(wa)
    conductance = side.outside * side.dry_efficiency * area
    effect = 1.0 - math.exp(-1.0 / ((1.0 / conductance + inner) * air * cp))
    heat = air * cp * _ratio_effect(air * cp * inverse, effect) * (ta - t_ref)
    if side.heated:
        effect = 1.0 - math.exp(-1.0 / ((cp / conductance + slope * inner) * air))
        ratio = air * slope * inverse
        wet = air * _ratio_effect(ratio, effect) * (air_enthalpy(ta, wa) - h_ref)
        heat = max(heat, wet)
    return heat


@inner_kernel
def _piece(
    table: Table,
    line: SaturationLine,
    side: CellParameters,
    p: float,
    h: float,
    rest: float,
    ta: float,
    wa: float,
) -> _Piece:
    """March to the end of a cell or to the next phase line, whichever comes first.

    `rest` is the share of the cell that is left. Pressure stands still inside a cell.
    """
    tb, td, hl, hg, vl, vg, _sl, _sg = saturation(table, p)
    latent = hg - hl
    x = (h - hl) / latent
    two_phase = 0.0 <= x < 1.0 or (x == 1.0 and not side.heated)
    air = rest * side.cell_air
    area = rest * side.cell_area
    wall = side.inner_area * rest
    # A layer of frost keeps heat from the fins, which pass on what comes through it.
    layer = side.layer / (side.dry_efficiency * area)
    x_mid = x
    t_ref = tb
    v = vl
    mu = 1e-5
    if two_phase:
        mul, mug, kl, kg, cpl, cpg, sigma = saturation_transport(table, p)
        phases = Phases(
            p, table.p_crit, table.molar_mass, vl, vg, latent, mul, mug, kl, kg, cpl, cpg, sigma
        )
        t_ref = tb + x * (td - tb)
        inverse = (td - tb) / (latent * side.flow)
        # The coefficient depends on the heat it passes, which is estimated twice: first with three
        # tenths of the outer resistance inside, then with what that gives.
        coefficient = 0.0
        h_ref = 0.0
        slope = 0.0
        if side.heated:
            # A secant, because the slope itself jumps where ice takes the place of water.
            h_ref, _dh, _w, _dw = saturated_air(line, t_ref)
            h_above, _dh, _w, _dw = saturated_air(line, t_ref + _ABOVE)
            slope = (h_above - h_ref) / _ABOVE
        inside = 0.3 / (side.outside * side.dry_efficiency * area) + layer
        for _ in range(2):
            heat = _estimated_heat(side, ta, wa, air, area, t_ref, inverse, inside, h_ref, slope)
            x_end = x + heat / (side.flow * latent)
            x_mid = 0.5 * (x + min(max(x_end, 0.0), 1.0))
            if side.heated:
                flux = max(abs(heat / wall), 50.0)
                film = boiling_with_dryout(side.flux, x_mid, side.bore, flux, phases)
            else:
                film = condensation_shah_2009_with_ends(side.flux, x_mid, side.bore, phases)
            coefficient = coefficient_with_glide(
                film, x_mid, side.flux, side.bore, td - tb, latent, mug, kg, cpg
            )
            inside = 1.0 / (coefficient * side.inner_multiplier * wall) + layer
    else:
        t_ref, v, _s, cp, mu, k_ref, _x = full_state(table, p, h)
        inverse = 1.0 / (cp * side.flow)
        coefficient = heat_transfer_single_phase(side.flux, side.bore, mu, k_ref, cp)
    inner = 1.0 / (coefficient * side.inner_multiplier * wall) + layer
    heat = 0.0
    t_out = ta
    w_out = wa
    surface = t_ref
    exponent = 0.0
    share = 1.0
    h_next = h
    # A second round serves the piece that ends at a phase line.
    for trial in range(2):
        heat, t_out, w_out, surface, exponent = _exchange(
            line, side, ta, wa, air * share, area * share, t_ref, inverse, inner / share
        )
        if trial == 1:
            # Its heat is known, the air follows from the balance.
            heat = (h_next - h) * side.flow
            drained = 0.0
            if side.heated:
                drained = (wa - w_out) * _condensate_enthalpy(surface, side.fusion)
            t_out = air_temperature(air_enthalpy(ta, wa) - heat / (air * share) - drained, w_out)
            break
        full = h + heat / side.flow
        h_next = full
        if two_phase:
            h_next = min(max(full, hl), hg)
        elif x < 0.0:
            h_next = min(full, hl)
        else:
            h_next = max(full, hg)
        if h_next == full:
            break
        share = (h_next - h) / (full - h)
        if exponent > 1e-6:
            share = -math.log1p(-(1.0 - math.exp(-exponent)) * share) / exponent
        if share <= 0.0:
            heat = 0.0
            share = 0.0
            break
    if two_phase:
        x_end = x + heat / (side.flow * latent)
        x_mid = 0.5 * (x + min(max(x_end, 0.0), 1.0))
        gradient = gradient_mueller_steinhagen_heck(side.flux, x_mid, side.bore, vl, vg, mul, mug)
        turn = gradient_bend_padilla(side.flux, x_mid, side.bend_radius, vl, vg)
        void = void_fraction_premoli(x_mid, side.flux, side.bore, vl, vg, mul, sigma)
        density = (1.0 - void) / vl + void / vg
    else:
        alone = 0.0 if x < 0.0 else 1.0
        gradient = gradient_mueller_steinhagen_heck(side.flux, alone, side.bore, v, v, mu, mu)
        turn = gradient_bend_padilla(side.flux, alone, side.bend_radius, v, v)
        density = 1.0 / v
    if share < 1.0:
        # Begin the rest a hair past the line, so that it belongs to the next phase.
        h_next += 1e-9 if heat > 0.0 or (heat == 0.0 and side.heated) else -1e-9
    return _Piece(
        h_next,
        rest * share,
        heat,
        t_out,
        w_out,
        surface,
        t_ref,
        x_mid,
        gradient + side.bend_share * (gradient + turn),
        density,
    )


@inner_kernel
def march_cell(
    table: Table,
    line: SaturationLine,
    side: CellParameters,
    p: float,
    h: float,
    ta: float,
    wa: float,
    out: FloatArray,
) -> tuple[float, float]:
    """March through one cell: enthalpy [J/kg] and pressure [Pa] at its end.

    `out` receives air temperature and humidity leaving, heat, water, mean surface and refrigerant
    temperature, mean quality, charge, wet and frosted share, coldest surface.
    """
    rest = 1.0
    drop = 0.0
    h_air = 0.0
    w_air = 0.0
    out[:] = 0.0
    out[10] = 1e9
    for _ in range(4):
        piece = _piece(table, line, side, p, h, rest, ta, wa)
        size = piece.share
        h = piece.h_next
        if size > 0.0:
            weight = size * side.cell_air
            h_air += weight * air_enthalpy(piece.t_out, piece.w_out)
            w_air += weight * piece.w_out
            out[2] += piece.heat
            out[3] += weight * (wa - piece.w_out)
            out[4] += piece.surface * size
            out[5] += piece.t_ref * size
            out[6] += piece.x_mid * size
            out[7] += piece.density * side.bore_area * side.cell_length * size
            out[10] = min(out[10], piece.surface)
            if piece.w_out < wa:
                out[8] += size
                if piece.surface < ZERO_CELSIUS:
                    out[9] += size
            drop += piece.gradient * side.friction_multiplier * side.cell_length * size
        rest -= size
        if rest <= 1e-12:
            break
    out[1] = w_air / side.cell_air
    out[0] = air_temperature(h_air / side.cell_air, out[1])
    # Pressure steps between cells: inside one, the phase lines stand still.
    return h, p * math.exp(-drop / p)

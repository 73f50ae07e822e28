r"""A finned-tube coil, marched cell by cell along the refrigerant's path.

The air crosses the coil row by row; the refrigerant runs through a whole row, turns, and runs
back through the next (first the row at the air outlet for counter flow, or at the air inlet).
All circuits are alike and see the same air, so one is marched: its tube in a row is cut into
equal cells, and a cell of one row breathes what the cell in front of it has left. Real headers
that interleave rows are thereby simplified to this serpentine; that is the stated simplification.

Within a cell the air is unmixed and the refrigerant mixed across the air's direction, for which

.. math::
    Q = \dot m_a c_p\,\frac{1 - e^{-r\,(1-e^{-NTU})}}{r}\,(T_a - T_r), \qquad
    r = \dot m_a c_p / (\dot m_r\,dh/dT)

is exact, from an evaporating pure fluid (r = 0) to single phase. A cell in which the refrigerant
meets its bubble or dew line is split there, so that every output is continuous.

Wet surface. The driving force is the enthalpy difference between the air and air saturated at
the surface (Lewis number one); the slope of saturated enthalpy between refrigerant and surface is
iterated. A cell takes the larger of its dry and its wet heat flow; its outlet humidity comes from
the wet solution, limited to the inlet's, and its outlet temperature from the energy balance. Heat
and moisture are then continuous across the change from dry to wet, and the sweeps settle.
"""

from __future__ import annotations

import math
from typing import NamedTuple

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
from sweatline.flow.finned_surface import (
    FinGeometry,
    air_side_coefficient,
    fin_geometry,
    fin_parameter_schmidt,
)
from sweatline.flow.friction import gradient_mueller_steinhagen_heck
from sweatline.flow.single_phase import heat_transfer_single_phase
from sweatline.flow.void_fraction import void_fraction_premoli
from sweatline.refrigerant.table import Table, full_state, saturation, saturation_transport

__all__ = ["PROFILE", "CoilNumbers", "CoilResult", "coil_numbers", "march"]

FloatArray = NDArray[np.float64]

_WATER_HEAT = 4186.0  # J/(kg*K), liquid water near 10 C (textbook)
_FIN_CONDUCTIVITY = 200.0  # W/(m*K), aluminium fin stock (textbook)
_BEND_LENGTH = 50.0  # equivalent length of a close return bend in bores (common practice)

# Columns of the profile that `march` fills, one row a cell in the order of the refrigerant.
PROFILE = (
    "row",
    "position",
    "pressure_Pa",
    "enthalpy_J_per_kg",
    "quality",
    "refrigerant_temperature_K",
    "surface_temperature_K",
    "heat_W",
    "water_kg_per_s",
    "air_in_temperature_K",
    "air_out_temperature_K",
    "air_out_humidity_ratio",
    "charge_kg",
)


class CoilNumbers(NamedTuple):
    """A coil as the kernels see it."""

    rows: int
    cells: int  # per row of one circuit
    circuits: float
    row_length: float  # m of tube in one row of one circuit
    bore: float  # m, inside of the tube
    bend_factor: float  # tube and bends together, in lengths of tube
    face_area: float  # m2
    counter: int  # 1: refrigerant enters at the air outlet
    outside_per_length: float  # m2 of outside surface per metre of tube
    fins: FinGeometry
    fin_constant: float  # m r phi over the square root of the coefficient, (m2*K/W)^0.5
    air_multiplier: float  # uncertainty and fouling of the air side
    inner_multiplier: float  # uncertainty of boiling or condensation
    charge_multiplier: float  # uncertainty of the inventory


class CoilResult(NamedTuple):
    """What a march through a coil yields."""

    pressure: float  # Pa at the outlet
    enthalpy: float  # J/kg at the outlet
    heat: float  # W, to the refrigerant
    water: float  # kg/s condensed on the surface
    air_enthalpy: float  # J/kg dry air, mixed outlet
    air_humidity: float  # kg/kg, mixed outlet
    charge: float  # kg inside the finned tubes
    coldest: float  # K, coldest surface
    wet_share: float  # of the outside surface
    frost_share: float  # of the outside surface: wet and below freezing
    sweeps: int  # passes through the rows; negative when they did not settle


@inner_kernel
def _ratio_effect(ratio: float, effect: float) -> float:
    """(1 - exp(-ratio*effect))/ratio, regular at ratio = 0."""
    z = ratio * effect
    if z < 1e-6:
        return effect * (1.0 - 0.5 * z)
    return (1.0 - math.exp(-z)) / ratio


@inner_kernel
def _surface_efficiency(coefficient: float, fin_constant: float, fin_fraction: float) -> float:
    """Efficiency of the outside surface: Schmidt's fin with its geometry already worked out."""
    u = fin_constant * math.sqrt(coefficient)
    e = math.exp(-2.0 * u)
    return 1.0 - fin_fraction * (1.0 - (1.0 - e) / (1.0 + e) / u)


@inner_kernel
def _exchange(
    line: SaturationLine,
    fin_constant: float,
    fin_fraction: float,
    air_t: float,
    air_w: float,
    air_flow: float,
    area: float,
    outside: float,
    dry_efficiency: float,
    refrigerant_t: float,
    inverse_capacity: float,
    inner: float,
    may_condense: int,
) -> tuple[float, float, float, float, float]:
    """Heat [W], air out [K, kg/kg], mean surface temperature [K] and NTU-like exponent.

    `area` is the outside surface in m2, `outside` its dry coefficient, `inner` the thermal
    resistance of wall and refrigerant in K/W, `inverse_capacity` dT/dh/m_r in K/W.
    """
    cp = moist_heat_capacity(air_w)
    capacity = air_flow * cp
    outer = 1.0 / (outside * dry_efficiency * area)
    effect = 1.0 - math.exp(-1.0 / ((outer + inner) * capacity))
    ratio = capacity * inverse_capacity
    heat = capacity * _ratio_effect(ratio, effect) * (air_t - refrigerant_t)
    exponent = ratio * effect
    t_out = air_t - heat / capacity
    surface = refrigerant_t + heat * (inner + 0.5 * inverse_capacity)
    exit_surface = refrigerant_t + (t_out - refrigerant_t) * inner / (inner + outer)
    if may_condense == 0:
        return heat, t_out, air_w, surface, exponent
    _h, _dh, w_exit, _dw = saturated_air(line, exit_surface)
    if w_exit >= air_w:
        return heat, t_out, air_w, surface, exponent
    h_air = air_enthalpy(air_t, air_w)
    h_ref, slope, _w, _dw = saturated_air(line, refrigerant_t)
    driving = h_air - h_ref
    half = inner + 0.5 * inverse_capacity
    # First estimate of the surface from the dry one, then three secant slopes of saturation.
    t_surface = min(surface, air_t)
    h_s, slope_s, _w, _dw = saturated_air(line, t_surface)
    # Wet fin: the slope of saturated enthalpy multiplies the coefficient along the fin.
    ntu_outer = (
        outside
        * _surface_efficiency(outside * 0.5 * (slope + slope_s) / cp, fin_constant, fin_fraction)
        / cp
        * area
        / air_flow
    )
    resistance = 1.0 / (ntu_outer * air_flow)
    wet_heat = 0.0
    wet_exponent = 0.0
    for _ in range(3):
        gap = t_surface - refrigerant_t
        secant = (h_s - h_ref) / gap if abs(gap) > 1e-4 else slope
        effect = 1.0 - math.exp(-1.0 / ((resistance + secant * inner) * air_flow))
        ratio = air_flow * secant * inverse_capacity
        wet_heat = air_flow * _ratio_effect(ratio, effect) * driving
        wet_exponent = ratio * effect
        t_surface = refrigerant_t + wet_heat * half
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
        exponent = wet_exponent
    drained = (air_w - w_out) * _WATER_HEAT * (surface - ZERO_CELSIUS)
    t_out = air_temperature(h_air - heat / air_flow - drained, w_out)
    return heat, t_out, w_out, surface, exponent


class _Side(NamedTuple):
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
    bend_factor: float
    heated: int


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
    heat_flux: float
    gradient: float  # Pa/m, friction in the plain tube
    density: float  # kg/m3


@inner_kernel
def _two_phase_coefficient(
    table: Table,
    side: _Side,
    p: float,
    x: float,
    heat_flux: float,
    vl: float,
    vg: float,
    latent: float,
) -> float:
    mul, mug, kl, kg, cpl, cpg, sigma = saturation_transport(table, p)
    if side.heated == 1:
        return boiling_with_dryout(
            side.flux,
            x,
            side.bore,
            max(abs(heat_flux), 50.0),
            p,
            table.p_crit,
            table.molar_mass,
            vl,
            vg,
            mul,
            mug,
            kl,
            kg,
            cpl,
            cpg,
            sigma,
            latent,
        )
    return condensation_shah_2009_with_ends(
        side.flux, x, side.bore, p, table.p_crit, vl, vg, mul, mug, kl, kg, cpl, cpg
    )


@inner_kernel
def _piece(
    table: Table,
    line: SaturationLine,
    side: _Side,
    p: float,
    h: float,
    rest: float,
    ta: float,
    wa: float,
    heat_flux: float,
) -> _Piece:
    """March to the end of a cell or to the next phase line, whichever comes first.

    `rest` is the share of the cell that is left. Pressure stands still inside a cell.
    """
    tb, td, hl, hg, vl, vg, _sl, _sg = saturation(table, p)
    latent = hg - hl
    x = (h - hl) / latent
    two_phase = 0.0 <= x < 1.0 or (x == 1.0 and side.heated == 0)
    air = rest * side.cell_air
    area = rest * side.cell_area
    wall = side.inner_area * rest
    x_mid = x
    t_ref = tb
    v = vl
    mu = 1e-5
    if two_phase:
        t_ref = tb + x * (td - tb)
        inverse = (td - tb) / (latent * side.flow)
        trials = 1 if heat_flux != 0.0 else 2
        coefficient = 0.0
    else:
        t_ref, v, _s, cp, mu, k_ref, _x = full_state(table, p, h)
        inverse = 1.0 / (cp * side.flow)
        trials = 1
        coefficient = heat_transfer_single_phase(side.flux, side.bore, mu, k_ref, cp)
    heat = 0.0
    t_out = ta
    w_out = wa
    surface = t_ref
    exponent = 0.0
    inner = 0.0
    # Heat flux and change of quality are foretold by the cell before; the first of a row foretells
    # its own. A second round serves the piece that ends at a phase line.
    share = 1.0
    h_next = h
    for trial in range(3):
        if trial < trials:
            if two_phase:
                x_end = x + rest * heat_flux * side.inner_area / (side.flow * latent)
                x_mid = 0.5 * (x + min(max(x_end, 0.0), 1.0))
                coefficient = _two_phase_coefficient(
                    table, side, p, x_mid, heat_flux, vl, vg, latent
                )
            inner = 1.0 / (coefficient * side.inner_multiplier * wall)
        heat, t_out, w_out, surface, exponent = _exchange(
            line,
            side.fin_constant,
            side.fin_fraction,
            ta,
            wa,
            air * share,
            area * share,
            side.outside,
            side.dry_efficiency,
            t_ref,
            inverse,
            inner / share,
            side.heated,
        )
        if trial >= trials:
            # Piece up to a phase line: its heat is known, the air follows from the balance.
            heat = (h_next - h) * side.flow
            drained = 0.0
            if side.heated == 1:
                drained = (wa - w_out) * _WATER_HEAT * (surface - ZERO_CELSIUS)
            t_out = air_temperature(air_enthalpy(ta, wa) - heat / (air * share) - drained, w_out)
            break
        if two_phase:
            heat_flux = heat / wall
        if trial < trials - 1:
            continue
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
        mul, mug, _kl, _kg, _cl, _cg, sigma = saturation_transport(table, p)
        gradient = gradient_mueller_steinhagen_heck(side.flux, x_mid, side.bore, vl, vg, mul, mug)
        void = void_fraction_premoli(x_mid, side.flux, side.bore, vl, vg, mul, sigma)
        density = (1.0 - void) / vl + void / vg
    else:
        gradient = gradient_mueller_steinhagen_heck(
            side.flux, 0.0 if x < 0.0 else 1.0, side.bore, v, v, mu, mu
        )
        density = 1.0 / v
    if share < 1.0:
        # Begin the rest a hair past the line, so that it belongs to the next phase.
        h_next += 1e-9 if heat > 0.0 or (heat == 0.0 and side.heated == 1) else -1e-9
    return _Piece(
        h_next,
        rest * share,
        heat,
        t_out,
        w_out,
        surface,
        t_ref,
        x_mid,
        heat_flux,
        gradient,
        density,
    )


@inner_kernel
def _cell(
    table: Table,
    line: SaturationLine,
    side: _Side,
    p: float,
    h: float,
    ta: float,
    wa: float,
    heat_flux: float,
    out: FloatArray,
) -> tuple[float, float, float]:
    """March through one cell: enthalpy and pressure at its end, heat flux for the next.

    `out` receives air temperature and humidity leaving, heat, water, mean surface and refrigerant
    temperature, mean quality, charge, coldest surface, wet and frosted share.
    """
    rest = 1.0
    drop = 0.0
    h_air = 0.0
    w_air = 0.0
    out[:] = 0.0
    out[8] = 1e9
    for _ in range(4):
        piece = _piece(table, line, side, p, h, rest, ta, wa, heat_flux)
        size = piece.share
        h = piece.h_next
        heat_flux = piece.heat_flux
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
            out[8] = min(out[8], piece.surface)
            if piece.w_out < wa:
                out[9] += size
                if piece.surface < ZERO_CELSIUS:
                    out[10] += size
            drop += piece.gradient * side.bend_factor * side.cell_length * size
        rest -= size
        if rest <= 1e-12:
            break
    out[1] = w_air / side.cell_air
    out[0] = air_temperature(h_air / side.cell_air, out[1])
    # Pressure steps between cells: inside one, the phase lines stand still.
    return h, p * math.exp(-drop / p), heat_flux


@inner_kernel
def _side_of(
    coil: CoilNumbers, flow: float, air_t: float, air_w: float, air_flow: float, heated: int
) -> _Side:
    flow_c = flow / coil.circuits
    bore_area = 0.25 * math.pi * coil.bore * coil.bore
    cell_length = coil.row_length / coil.cells
    outside = coil.air_multiplier * air_side_coefficient(
        air_flow / coil.face_area, air_t, air_w, coil.fins
    )
    return _Side(
        coil.fin_constant,
        coil.fins.fin_fraction,
        outside,
        _surface_efficiency(outside, coil.fin_constant, coil.fins.fin_fraction),
        cell_length * coil.outside_per_length,
        air_flow / (coil.circuits * coil.cells),
        math.pi * coil.bore * cell_length,
        coil.bore,
        bore_area,
        cell_length,
        flow_c,
        flow_c / bore_area,
        coil.inner_multiplier,
        coil.bend_factor,
        heated,
    )


@inner_kernel
def _improve(
    entry: FloatArray,
    leaving: FloatArray,
    inverse: FloatArray,
    f: FloatArray,
    f_old: FloatArray,
    move: FloatArray,
    sweep: int,
) -> bool:
    """One Broyden step on the states between the rows; True when they stand still."""
    rows = entry.shape[0]
    n = 2 * (rows - 1)
    worst = 0.0
    for row in range(rows - 1):
        f[row] = leaving[row + 1, 0] - entry[row, 0]
        f[rows - 1 + row] = leaving[row + 1, 1] - entry[row, 1]
        worst = max(worst, abs(f[row]) + 1e-3 * abs(f[rows - 1 + row]))
    if (sweep == 1 and inverse[0, 0] == 0.0) or sweep % 12 == 0:
        inverse[:, :] = 0.0
        for i in range(n):
            inverse[i, i] = -1.0
    elif sweep > 1:
        # Good Broyden update of the inverse with the last move.
        denominator = 0.0
        for i in range(n):
            bdf = 0.0
            for j in range(n):
                bdf += inverse[i, j] * (f[j] - f_old[j])
            f_old[i + n] = bdf
            denominator += move[i] * bdf
        if abs(denominator) > 1e-30:
            for j in range(n):
                left = 0.0
                for i in range(n):
                    left += move[i] * inverse[i, j]
                move[n + j] = left
            for i in range(n):
                for j in range(n):
                    inverse[i, j] += (move[i] - f_old[n + i]) * move[n + j] / denominator
    if worst < 2e-5:
        return True
    for i in range(n):
        step = 0.0
        for j in range(n):
            step -= inverse[i, j] * f[j]
        move[i] = step
    for row in range(rows - 1):
        entry[row, 0] += min(max(move[row], -1.5e5), 1.5e5)
        low = 0.5 * entry[row, 1]
        entry[row, 1] = max(entry[row, 1] + move[rows - 1 + row], low)
    for i in range(n):
        f_old[i] = f[i]
    return False


_MOST_SWEEPS = 60


@inner_kernel
def _record(
    columns: FloatArray,
    row: int,
    position: int,
    pressure: float,
    enthalpy: float,
    air_in: float,
    out: FloatArray,
    circuits: float,
    charge_multiplier: float,
) -> None:
    """Write one cell into a row of the profile, in the order of :data:`PROFILE`."""
    columns[0] = row
    columns[1] = position
    columns[2] = pressure
    columns[3] = enthalpy
    columns[4] = out[6]
    columns[5] = out[5]
    columns[6] = out[4]
    columns[7] = out[2] * circuits
    columns[8] = out[3] * circuits
    columns[9] = air_in
    columns[10] = out[0]
    columns[11] = out[1]
    columns[12] = out[7] * circuits * charge_multiplier


@kernel
def march(
    table: Table,
    line: SaturationLine,
    coil: CoilNumbers,
    flow: float,
    pressure: float,
    enthalpy: float,
    air_t: float,
    air_w: float,
    air_flow: float,
    heated: int,
    entry: FloatArray,
    inverse: FloatArray,
    profile: FloatArray,
) -> CoilResult:
    """March refrigerant and air through a coil.

    Parameters
    ----------
    flow : float
        Refrigerant, all circuits. [kg/s]
    pressure, enthalpy : float
        Refrigerant at the inlet. [Pa], [J/kg]
    air_t, air_w, air_flow : float
        Air entering [K], [kg/kg], dry-air flow [kg/s].
    heated : int
        1 an evaporator, whose surface may be wet; 0 a condenser.
    entry : (rows, 2) array
        Enthalpy [J/kg] and pressure [Pa] with which the refrigerant enters each row: a first
        guess, or zeros, on entry; the solution on exit.
    inverse : (2*rows - 2, 2*rows - 2) array
        Broyden's inverse for the states between the rows, kept from call to call; zeros at first.
        [J/kg and Pa, per J/kg and Pa]
    profile : (rows*cells, 13) or (0, 13) array
        Filled with the columns of :data:`PROFILE` when it has rows. [as the columns say]
    """
    cells = coil.cells
    rows = coil.rows
    side = _side_of(coil, flow, air_t, air_w, air_flow, heated)
    t_air = np.empty((rows + 1, cells))
    w_air = np.empty((rows + 1, cells))
    t_air[0, :] = air_t
    w_air[0, :] = air_w
    leaving = np.empty((rows, 2))
    out = np.empty(11)
    first = rows - 1 if coil.counter == 1 else 0
    last = rows - 1 - first
    if coil.counter == 1 and entry[first, 0] == 0.0:
        _tb, _td, hl, hg, _vl, _vg, _sl, _sg = saturation(table, pressure)
        far = hg if heated == 1 else hl
        for row in range(rows):
            entry[row, 0] = enthalpy + (rows - 1.0 - row) / rows * (far - enthalpy)
            entry[row, 1] = pressure
    entry[first, 0] = enthalpy
    entry[first, 1] = pressure
    n = 2 * (rows - 1)
    f = np.zeros(n)
    f_old = np.zeros(2 * n)
    move = np.zeros(2 * n)
    charge = 0.0
    coldest = 1e9
    wet = 0.0
    frost = 0.0
    sweeps = 0
    settled = False
    while not settled and sweeps < _MOST_SWEEPS:
        sweeps += 1
        charge = 0.0
        coldest = 1e9
        wet = 0.0
        frost = 0.0
        for row in range(rows):
            visit = rows - 1 - row if coil.counter == 1 else row
            if coil.counter == 0 and row > 0:
                entry[row, 0] = leaving[row - 1, 0]
                entry[row, 1] = leaving[row - 1, 1]
            h = entry[row, 0]
            p = entry[row, 1]
            heat_flux = 0.0
            for step in range(cells):
                k = step if visit % 2 == 0 else cells - 1 - step
                ta = t_air[row, k]
                h, p, heat_flux = _cell(table, line, side, p, h, ta, w_air[row, k], heat_flux, out)
                t_air[row + 1, k] = out[0]
                w_air[row + 1, k] = out[1]
                charge += out[7]
                coldest = min(coldest, out[8])
                wet += out[9]
                frost += out[10]
                if profile.shape[0] > 0:
                    _record(
                        profile[visit * cells + step],
                        row,
                        k,
                        p,
                        h,
                        ta,
                        out,
                        coil.circuits,
                        coil.charge_multiplier,
                    )
            leaving[row, 0] = h
            leaving[row, 1] = p
        # Parallel order needs one pass; counter order until the states between rows stand still.
        settled = coil.counter == 0 or rows == 1
        if not settled:
            settled = _improve(entry, leaving, inverse, f, f_old, move, sweeps)

    h_mean = 0.0
    w_mean = 0.0
    for k in range(cells):
        h_mean += air_enthalpy(t_air[rows, k], w_air[rows, k])
        w_mean += w_air[rows, k]
    h_mean /= cells
    w_mean /= cells
    total = float(rows * cells)
    return CoilResult(
        leaving[last, 1],
        leaving[last, 0],
        flow * (leaving[last, 0] - enthalpy),
        air_flow * (air_w - w_mean),
        h_mean,
        w_mean,
        charge * coil.circuits * coil.charge_multiplier,
        coldest,
        wet / total,
        frost / total,
        sweeps if settled else -sweeps,
    )


def coil_numbers(
    *,
    tube_outer_diameter: float,
    tube_wall: float,
    rows: int,
    tubes_per_row: int,
    transverse_pitch: float,
    longitudinal_pitch: float,
    finned_length: float,
    fin_pitch: float,
    fin_thickness: float,
    circuits: int,
    counter: bool,
    cells: int = 12,
    air_multiplier: float = 1.0,
    inner_multiplier: float = 1.0,
    charge_multiplier: float = 1.0,
) -> CoilNumbers:
    """Numbers of a coil from what calliper and tape give, all in metres."""
    fins = fin_geometry(
        tube_outer_diameter,
        fin_thickness,
        fin_pitch,
        transverse_pitch,
        longitudinal_pitch,
        float(rows),
        True,
    )
    face = tubes_per_row * transverse_pitch * finned_length
    bore = tube_outer_diameter - 2.0 * tube_wall
    return CoilNumbers(
        rows=rows,
        cells=cells,
        circuits=float(circuits),
        row_length=finned_length * tubes_per_row / circuits,
        bore=bore,
        bend_factor=1.0 + _BEND_LENGTH * bore / finned_length,
        face_area=face,
        counter=1 if counter else 0,
        outside_per_length=fins.area_ratio * transverse_pitch / rows,
        fins=fins,
        fin_constant=fin_parameter_schmidt(
            1.0,
            _FIN_CONDUCTIVITY,
            fin_thickness,
            0.5 * fins.Dc,
            transverse_pitch,
            longitudinal_pitch,
            True,
        ),
        air_multiplier=air_multiplier,
        inner_multiplier=inner_multiplier,
        charge_multiplier=charge_multiplier,
    )

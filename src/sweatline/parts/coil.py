r"""A finned-tube coil, marched cell by cell along the refrigerant's path.

The air crosses the coil row by row; the refrigerant runs through a whole row, turns, and runs
back through the next (first the row at the air outlet for counter flow, or at the air inlet).
All circuits are alike and see the same air, so one is marched: its tube in a row is cut into
equal cells, and a cell of one row breathes what the cell in front of it has left. Real headers
that interleave rows are thereby simplified to this serpentine; that is the stated simplification.

What happens inside a cell is in :mod:`sweatline.parts.cell`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import enthalpy as air_enthalpy
from sweatline.air.saturation_line import SaturationLine
from sweatline.compiled import inner_kernel, kernel
from sweatline.flow.finned_surface import (
    FinGeometry,
    air_side_coefficient,
    fin_geometry,
    fin_parameter_schmidt,
)
from sweatline.parts.cell import CellParameters, march_cell, surface_efficiency_of
from sweatline.refrigerant.table import Table, saturation

__all__ = ["PROFILE", "CoilParameters", "CoilResult", "coil_parameters", "march"]

FloatArray = NDArray[np.float64]

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


class CoilParameters(NamedTuple):
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
def _side_of(
    coil: CoilParameters, flow: float, air_t: float, air_w: float, air_flow: float, heated: int
) -> CellParameters:
    flow_c = flow / coil.circuits
    bore_area = 0.25 * math.pi * coil.bore * coil.bore
    cell_length = coil.row_length / coil.cells
    outside = coil.air_multiplier * air_side_coefficient(
        air_flow / coil.face_area, air_t, air_w, coil.fins
    )
    return CellParameters(
        coil.fin_constant,
        coil.fins.fin_fraction,
        outside,
        surface_efficiency_of(outside, coil.fin_constant, coil.fins.fin_fraction),
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
        0.0,
        0.0,
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
    coil: CoilParameters,
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
            for step in range(cells):
                k = step if visit % 2 == 0 else cells - 1 - step
                ta = t_air[row, k]
                h, p = march_cell(table, line, side, p, h, ta, w_air[row, k], out)
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


def coil_parameters(
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
) -> CoilParameters:
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
    return CoilParameters(
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

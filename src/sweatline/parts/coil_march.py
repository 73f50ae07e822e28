r"""The march through a coil, tube by tube along the real path of every circuit.

A tube is cut into equal cells; a cell breathes what the tube in front of it, at the same height and
the same place along its length, has left. Air does not mix between heights inside the block. What
happens inside a cell is in :mod:`sweatline.parts.cell`.

Unknowns are the refrigerant's enthalpy and pressure where the order of marching has to begin a
stretch before it is known what feeds it, and how the flow divides between circuits, such that all
of them lose the same pressure. The feed is taken to be the same mixture of liquid and gas for all
circuits (a good distributor), and headers lose no pressure. Broyden's method closes all of it.
"""

from __future__ import annotations

import math
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import enthalpy as air_enthalpy
from sweatline.air.saturation_line import SaturationLine
from sweatline.compiled import inner_kernel, kernel
from sweatline.flow.finned_surface import air_side_coefficient
from sweatline.parts.cell import CellParameters, march_cell, surface_efficiency_of
from sweatline.parts.coil import (
    AirInlet,
    CoilMemory,
    CoilParameters,
    CoilResult,
    RefrigerantInlet,
)
from sweatline.refrigerant.table import Table, saturation

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Scales that make a guessed enthalpy, a guessed pressure and a share of the flow alike.
_H_SCALE = 1e4  # J/kg
_P_SCALE = 1e4  # Pa
_SETTLED = 2e-9  # of these scales
_MOST_SWEEPS = 400
_LARGEST = 4.0  # of these scales, in one step
_LARGEST_SHARE = 0.1  # in the logarithm of a circuit's share, in one step
# Whether a coil takes up heat; not literals, because each would be compiled by itself.
HEATED: Final = cast(bool, np.bool_(True))
COOLED: Final = cast(bool, np.bool_(False))
_FRICTION_EXPONENT = 2.5  # about how pressure drop goes with flow, on the high side


@inner_kernel
def _close(
    u: FloatArray,
    inverse: FloatArray,
    f: FloatArray,
    f_old: FloatArray,
    move: FloatArray,
    sweep: int,
    states: int,
) -> bool:
    """One step of Broyden's (first) method on `f(u) = 0`; True when nothing is left to close.

    Behind the guessed states stand the shares of the flow, of which only ratios count.
    """
    n = u.shape[0]
    worst = 0.0
    for i in range(n):
        worst = max(worst, abs(f[i]))
    if (sweep == 1 and inverse[0, 0] == 0.0) or sweep % 40 == 0:
        inverse[:, :] = 0.0
        for i in range(n):
            inverse[i, i] = -1.0
    elif sweep > 1:
        gained = np.zeros(n)
        denominator = 0.0
        for i in range(n):
            for j in range(n):
                gained[i] += inverse[i, j] * (f[j] - f_old[j])
            denominator += move[i] * gained[i]
        if abs(denominator) > 1e-30:
            for j in range(n):
                left = 0.0
                for i in range(n):
                    left += move[i] * inverse[i, j]
                f_old[j] = left / denominator  # no longer wanted: holds the row of the update
            for i in range(n):
                for j in range(n):
                    inverse[i, j] += (move[i] - gained[i]) * f_old[j]
    if worst < _SETTLED:
        return True
    for i in range(n):
        step = 0.0
        for j in range(n):
            step -= inverse[i, j] * f[j]
        largest = _LARGEST if i < 2 * states else _LARGEST_SHARE
        move[i] = min(max(step, -largest), largest)
        f_old[i] = f[i]
    shift = 0.0
    for i in range(2 * states, n):
        shift += move[i] / (n - 2 * states)
    for i in range(n):
        if i >= 2 * states:
            move[i] -= shift
        u[i] += move[i]
    return False


@inner_kernel
def _divide(u: FloatArray, states: int, times: FloatArray, flow: float, flows: FloatArray) -> None:
    """Flow of each circuit [kg/s] from the logarithms of the shares behind the guessed states."""
    circuits = times.shape[0]
    if circuits == 1:
        flows[0] = flow / times[0]
        return
    total = 0.0
    for c in range(circuits):
        flows[c] = math.exp(min(max(u[2 * states + c], -3.0), 3.0))
        total += times[c] * flows[c]
    for c in range(circuits):
        flows[c] *= flow / total


@inner_kernel
def _air_side(
    coil: CoilParameters, air: AirInlet, outside: FloatArray, efficiency: FloatArray
) -> None:
    """Coefficient [W/(m2*K)] and efficiency [-] of the outside surface of every cell, dry.

    They do not change while a march settles. Both arrays (rows, heights, cells) are filled.
    """
    rows, heights, cells = outside.shape
    speed = here = layer = -1.0
    plain = value = 0.0
    for t in range(heights):
        for k in range(cells):
            if coil.speed[t, k] != speed:
                speed = coil.speed[t, k]
                plain = coil.air_multiplier * air_side_coefficient(
                    air.flow / coil.face_area * speed, air.temperature, air.humidity, coil.fins
                )
            for row in range(rows):
                local = plain * coil.coefficient[row, t, k]
                if local != here or coil.layer[row, t, k] != layer:
                    here = local
                    layer = coil.layer[row, t, k]
                    # Under a layer the fin sees both resistances.
                    value = surface_efficiency_of(
                        here / (1.0 + here * layer), coil.fin_constant, coil.fins.fin_fraction
                    )
                outside[row, t, k] = here
                efficiency[row, t, k] = value


@inner_kernel
def _first_guess(
    table: Table, coil: CoilParameters, inlet: RefrigerantInlet, heated: bool, entry: FloatArray
) -> None:
    """States to begin with: on a line from the inlet to saturation, at the inlet's pressure."""
    _cells, _states, tubes, circuit_end, _circuits, _heights = coil.layout
    _tb, _td, hl, hg, _vl, _vg, _sl, _sg = saturation(table, inlet.pressure)
    far = hg if heated else hl
    for j in range(tubes.shape[1]):
        g = tubes[5, j]
        if g >= 0:
            c = tubes[2, j]
            begin = 0 if c == 0 else circuit_end[c - 1] + 1
            way = (j - begin) / (circuit_end[c] + 1.0 - begin)
            entry[g, 0] = inlet.enthalpy + way * (far - inlet.enthalpy)
            entry[g, 1] = inlet.pressure


@kernel
def _coldest_tenth(
    surfaces: FloatArray, tube_circuit: IntArray, circuit_times: FloatArray, part: float
) -> float:
    """Mean temperature of the coldest cells, `part` of them. [K]

    The coldest cell alone would change by steps as dry-out passes from cell to cell. The surfaces
    are used up.
    """
    left = part
    total = 0.0
    while left > 0.0:
        tube = 0
        place = 0
        for j in range(surfaces.shape[0]):
            for k in range(surfaces.shape[1]):
                if surfaces[j, k] < surfaces[tube, place]:
                    tube = j
                    place = k
        share = min(circuit_times[tube_circuit[tube]], left)
        total += share * surfaces[tube, place]
        surfaces[tube, place] = 1e9
        left -= share
    return total / part


@kernel
def march(
    table: Table,
    line: SaturationLine,
    coil: CoilParameters,
    inlet: RefrigerantInlet,
    air: AirInlet,
    heated: bool,
    memory: CoilMemory,
) -> CoilResult:
    """March refrigerant and air through a coil.

    Parameters
    ----------
    heated : bool
        True for an evaporator, whose surface may be wet; False for a condenser.
    memory : CoilMemory
        Of this coil. Its states and matrix are where the march begins and then what it found; its
        profile is filled when it has rows.

    Returns
    -------
    CoilResult
        The pressure is the mean of the circuits' outlets, which agree when settled.
    """
    flow, pressure, enthalpy = inlet
    entry, inverse, profile = memory
    cells, states, tubes, circuit_end, circuit_times, height_times = coil.layout
    tube_row, tube_height, tube_circuit = tubes[0], tubes[1], tubes[2]
    forth, order, guess = tubes[3], tubes[4], tubes[5]
    speed, layer = coil.speed, coil.layer
    rows = coil.rows
    count = tubes.shape[1]
    heights = height_times.shape[0]
    circuits = circuit_end.shape[0]
    split = circuits if circuits > 1 else 0
    n = 2 * states + split

    bore_area = 0.25 * math.pi * coil.bore * coil.bore
    cell_length = coil.row_length * coil.circuits / height_times.sum() / cells
    cell_area = cell_length * coil.outside_per_length
    inner_area = math.pi * coil.bore * cell_length
    mean_air = air.flow / (height_times.sum() * cells)

    surface = np.empty((2, rows, heights, cells))
    outside, efficiency = surface[0], surface[1]
    _air_side(coil, air, outside, efficiency)

    # Few arrays: making them takes as long as a cell.
    vectors = np.zeros((4, n))
    u, f, f_old, move = vectors[0], vectors[1], vectors[2], vectors[3]
    # Far below any liquid: a guess on its way may be anywhere, the solution must be free of it.
    floor = 0.5 * min(enthalpy, saturation(table, pressure)[2])
    if states > 0 and entry[0, 0] == 0.0:
        _first_guess(table, coil, inlet, heated, entry)
    for g in range(states):
        u[2 * g] = entry[g, 0] / _H_SCALE
        u[2 * g + 1] = entry[g, 1] / _P_SCALE
    for c in range(split):
        u[2 * states + c] = entry[states + c, 0]

    flows = np.empty(circuits)
    airs = np.empty((2, rows + 1, heights, cells))
    t_air, w_air = airs[0], airs[1]
    t_air[0] = air.temperature
    w_air[0] = air.humidity
    leaving = np.empty((count, 2))
    out = np.empty(11)
    surfaces = np.empty((count, cells))
    charge = 0.0
    spot = 1e9
    wet = 0.0
    frost = 0.0
    sweeps = 0
    settled = False
    while not settled and sweeps < _MOST_SWEEPS:
        sweeps += 1
        charge = 0.0
        spot = 1e9
        wet = 0.0
        frost = 0.0
        _divide(u, states, circuit_times, flow, flows)
        for i in range(count):
            j = order[i]
            row = tube_row[j]
            t = tube_height[j]
            c = tube_circuit[j]
            times = circuit_times[c]
            g = guess[j]
            if g >= 0:
                h = max(u[2 * g] * _H_SCALE, floor)
                p = min(max(u[2 * g + 1] * _P_SCALE, 0.3 * pressure), 1.5 * pressure)
            elif j == 0 or tube_circuit[j - 1] != c:
                h = enthalpy
                p = pressure
            else:
                h = leaving[j - 1, 0]
                p = leaving[j - 1, 1]
            begin = 0 if forth[j] == 1 else cells - 1
            turn = 1 if forth[j] == 1 else -1
            for step in range(cells):
                k = begin + turn * step
                ta = t_air[row, t, k]
                side = CellParameters(
                    coil.fin_constant,
                    coil.fins.fin_fraction,
                    outside[row, t, k],
                    efficiency[row, t, k],
                    cell_area,
                    mean_air * speed[t, k],
                    inner_area,
                    coil.bore,
                    bore_area,
                    cell_length,
                    flows[c],
                    flows[c] / bore_area,
                    coil.inner_multiplier,
                    coil.bend_share,
                    coil.bend_radius,
                    coil.friction_multiplier,
                    heated,
                    layer[row, t, k],
                    coil.fusion,
                )
                h, p = march_cell(table, line, side, p, h, ta, w_air[row, t, k], out)
                t_air[row + 1, t, k] = out[0]
                w_air[row + 1, t, k] = out[1]
                charge += out[7] * times
                surfaces[j, step] = out[4]
                spot = min(spot, out[10])
                wet += out[8] * times
                frost += out[9] * times
                if profile.shape[0] > 0:
                    columns = profile[j * cells + step]
                    columns[0] = row
                    columns[1] = t * cells + k
                    columns[2] = p
                    columns[3] = h
                    columns[4] = out[6]
                    columns[5] = out[5]
                    columns[6] = out[4]
                    columns[7] = out[2] * times
                    columns[8] = out[3] * times
                    columns[9] = ta
                    columns[10] = out[0]
                    columns[11] = out[1]
                    columns[12] = out[7] * times * coil.charge_multiplier
            leaving[j, 0] = h
            leaving[j, 1] = p
        if n == 0:
            settled = True
            break
        for j in range(count):
            g = guess[j]
            if g >= 0:
                f[2 * g] = leaving[j - 1, 0] / _H_SCALE - u[2 * g]
                f[2 * g + 1] = leaving[j - 1, 1] / _P_SCALE - u[2 * g + 1]
        if split > 0:
            lost = 0.0
            for c in range(circuits):
                lost += pressure - leaving[circuit_end[c], 1]
            lost /= circuits
            for c in range(circuits):
                drop = pressure - leaving[circuit_end[c], 1]
                if lost > 0.0:
                    f[2 * states + c] = (lost - drop) / (_FRICTION_EXPONENT * lost)
        settled = _close(u, inverse, f, f_old, move, sweeps, states)
    for g in range(states):
        entry[g, 0] = u[2 * g] * _H_SCALE
        entry[g, 1] = u[2 * g + 1] * _P_SCALE
    for c in range(split):
        entry[states + c, 0] = u[2 * states + c]
        entry[states + c, 1] = 1.0

    h_out = 0.0
    p_out = 0.0
    for c in range(circuits):
        end = circuit_end[c]
        h_out += circuit_times[c] * flows[c] * leaving[end, 0]
        p_out += circuit_times[c] * flows[c] * leaving[end, 1]
    h_out /= flow
    p_out /= flow
    h_mean = 0.0
    w_mean = 0.0
    for t in range(heights):
        for k in range(cells):
            weight = height_times[t] * speed[t, k]
            h_mean += weight * air_enthalpy(t_air[rows, t, k], w_air[rows, t, k])
            w_mean += weight * w_air[rows, t, k]
    h_mean *= mean_air / air.flow
    w_mean *= mean_air / air.flow
    total = rows * cells * height_times.sum()
    return CoilResult(
        p_out,
        h_out,
        flow * (h_out - enthalpy),
        air.flow * (air.humidity - w_mean),
        h_mean,
        w_mean,
        charge * coil.charge_multiplier,
        _coldest_tenth(surfaces, tube_circuit, circuit_times, 0.1 * total) if heated else 0.0,
        spot,
        wet / total,
        frost / total,
        sweeps if settled else -sweeps,
    )

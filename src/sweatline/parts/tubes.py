r"""A finned-tube coil, marched tube by tube along the real path of every circuit.

The simple form of :mod:`sweatline.parts.coil` takes all circuits as alike and lets the refrigerant
run through whole rows. Here every circuit has its own path (:mod:`sweatline.parts.circuiting`), the
air may be faster at some heights than at others, and a place may carry frost. A tube is cut into
equal cells; a cell breathes what the tube in front of it, at the same height and the same
place along its length, has left. Air does not mix between heights inside the block.

Unknowns are the refrigerant's enthalpy and pressure where the order of marching has to begin a
stretch before it is known what feeds it, and how the flow divides between circuits, such that all
of them lose the same pressure. The feed is taken to be the same mixture of liquid and gas for all
circuits (a good distributor), and headers lose no pressure. Broyden's method closes all of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import enthalpy as air_enthalpy
from sweatline.air.saturation_line import SaturationLine
from sweatline.compiled import choose_by_types, inner_kernel, kernel
from sweatline.flow.finned_surface import air_side_coefficient
from sweatline.parts.cell import CellParameters, march_cell, surface_efficiency_of
from sweatline.parts.coil import CoilParameters, CoilResult, march
from sweatline.parts.tube_layout import TubeParameters
from sweatline.refrigerant.table import Table, saturation

__all__ = ["march_either", "march_tubes"]

FloatArray = NDArray[np.float64]


# Scales that make a guessed enthalpy, a guessed pressure and a share of the flow alike.
_H_SCALE = 1e4  # J/kg
_P_SCALE = 1e4  # Pa
_SETTLED = 2e-9  # of these scales
_MOST_SWEEPS = 400
_LARGEST = 4.0  # of these scales, in one step
_LARGEST_SHARE = 0.1  # in the logarithm of a circuit's share, in one step
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


@kernel
def march_tubes(
    table: Table,
    line: SaturationLine,
    tubes: TubeParameters,
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
    """March refrigerant and air through a coil, tube by tube.

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
    entry : (n, 2) array
        Guessed states [J/kg, Pa] and, when there are several circuits, the logarithms of their
        shares of the flow with a one beside them; zeros to begin with, the solution on exit. Its
        shape is that of :func:`sweatline.parts.tube_layout.entry_shape`.
    inverse : (m, m) array
        Broyden's inverse, kept from call to call; zeros at first. [scaled units]
    profile : (tubes*cells, 13) or (0, 13) array
        Filled with the columns of :data:`sweatline.parts.coil.PROFILE` when it has rows, along the
        circuits; `position` is height times cells a tube plus the cell. [as the columns say]

    Returns
    -------
    CoilResult
        The pressure is the mean of the circuits' outlets, which agree when settled.
    """
    coil = tubes.coil
    cells = tubes.tube_cells
    rows = coil.rows
    count = tubes.order.shape[0]
    heights = tubes.height_times.shape[0]
    circuits = tubes.circuit_end.shape[0]
    split = circuits if circuits > 1 else 0
    states = entry.shape[0] - split
    n = 2 * states + split

    bore_area = 0.25 * math.pi * coil.bore * coil.bore
    cell_length = coil.row_length * coil.circuits / tubes.height_times.sum() / cells
    cell_area = cell_length * coil.outside_per_length
    inner_area = math.pi * coil.bore * cell_length
    mean_air = air_flow / (tubes.height_times.sum() * cells)

    # The air side does not change while the march settles.
    outside = np.empty((rows, heights, cells))
    efficiency = np.empty((rows, heights, cells))
    for t in range(heights):
        for k in range(cells):
            plain = coil.air_multiplier * air_side_coefficient(
                air_flow / coil.face_area * tubes.speed[t, k], air_t, air_w, coil.fins
            )
            for row in range(rows):
                here = plain * tubes.coefficient[row, t, k]
                outside[row, t, k] = here
                # Under a layer the fin sees both resistances.
                efficiency[row, t, k] = surface_efficiency_of(
                    here / (1.0 + here * tubes.layer[row, t, k]),
                    coil.fin_constant,
                    coil.fins.fin_fraction,
                )

    u = np.zeros(n)
    _tb, _td, hl, hg, _vl, _vg, _sl, _sg = saturation(table, pressure)
    # Far below any liquid: a guess on its way may be anywhere, the solution must be free of it.
    floor = 0.5 * min(enthalpy, hl)
    if states > 0 and entry[0, 0] == 0.0:
        far = hg if heated == 1 else hl
        for j in range(count):
            g = tubes.guess[j]
            if g >= 0:
                c = tubes.tube_circuit[j]
                begin = 0 if c == 0 else tubes.circuit_end[c - 1] + 1
                way = (j - begin) / (tubes.circuit_end[c] + 1.0 - begin)
                entry[g, 0] = enthalpy + way * (far - enthalpy)
                entry[g, 1] = pressure
    for g in range(states):
        u[2 * g] = entry[g, 0] / _H_SCALE
        u[2 * g + 1] = entry[g, 1] / _P_SCALE
    for c in range(split):
        u[2 * states + c] = entry[states + c, 0]

    f = np.zeros(n)
    f_old = np.zeros(n)
    move = np.zeros(n)
    flows = np.empty(circuits)
    t_air = np.empty((rows + 1, heights, cells))
    w_air = np.empty((rows + 1, heights, cells))
    t_air[0] = air_t
    w_air[0] = air_w
    leaving = np.empty((count, 2))
    out = np.empty(11)
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
        _divide(u, states, tubes.circuit_times, flow, flows)
        for i in range(count):
            j = tubes.order[i]
            row = tubes.tube_row[j]
            t = tubes.tube_height[j]
            c = tubes.tube_circuit[j]
            times = tubes.circuit_times[c]
            g = tubes.guess[j]
            if g >= 0:
                h = max(u[2 * g] * _H_SCALE, floor)
                p = min(max(u[2 * g + 1] * _P_SCALE, 0.3 * pressure), pressure)
            elif j == 0 or tubes.tube_circuit[j - 1] != c:
                h = enthalpy
                p = pressure
            else:
                h = leaving[j - 1, 0]
                p = leaving[j - 1, 1]
            for step in range(cells):
                k = step if tubes.tube_forth[j] == 1 else cells - 1 - step
                ta = t_air[row, t, k]
                side = CellParameters(
                    coil.fin_constant,
                    coil.fins.fin_fraction,
                    outside[row, t, k],
                    efficiency[row, t, k],
                    cell_area,
                    mean_air * tubes.speed[t, k],
                    inner_area,
                    coil.bore,
                    bore_area,
                    cell_length,
                    flows[c],
                    flows[c] / bore_area,
                    coil.inner_multiplier,
                    coil.bend_factor,
                    heated,
                    tubes.layer[row, t, k],
                    tubes.fusion,
                )
                h, p = march_cell(table, line, side, p, h, ta, w_air[row, t, k], out)
                t_air[row + 1, t, k] = out[0]
                w_air[row + 1, t, k] = out[1]
                charge += out[7] * times
                coldest = min(coldest, out[8])
                wet += out[9] * times
                frost += out[10] * times
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
            g = tubes.guess[j]
            if g >= 0:
                f[2 * g] = leaving[j - 1, 0] / _H_SCALE - u[2 * g]
                f[2 * g + 1] = leaving[j - 1, 1] / _P_SCALE - u[2 * g + 1]
        if split > 0:
            lost = 0.0
            for c in range(circuits):
                lost += pressure - leaving[tubes.circuit_end[c], 1]
            lost /= circuits
            for c in range(circuits):
                drop = pressure - leaving[tubes.circuit_end[c], 1]
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
        end = tubes.circuit_end[c]
        h_out += tubes.circuit_times[c] * flows[c] * leaving[end, 0]
        p_out += tubes.circuit_times[c] * flows[c] * leaving[end, 1]
    h_out /= flow
    p_out /= flow
    h_mean = 0.0
    w_mean = 0.0
    for t in range(heights):
        for k in range(cells):
            weight = tubes.height_times[t] * tubes.speed[t, k]
            h_mean += weight * air_enthalpy(t_air[rows, t, k], w_air[rows, t, k])
            w_mean += weight * w_air[rows, t, k]
    h_mean *= mean_air / air_flow
    w_mean *= mean_air / air_flow
    total = rows * cells * tubes.height_times.sum()
    return CoilResult(
        p_out,
        h_out,
        flow * (h_out - enthalpy),
        air_flow * (air_w - w_mean),
        h_mean,
        w_mean,
        charge * coil.charge_multiplier,
        coldest,
        wet / total,
        frost / total,
        sweeps if settled else -sweeps,
    )


def march_either(
    table: Table,
    line: SaturationLine,
    coil: CoilParameters | TubeParameters,
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
    """March through a coil of either form, which the type of its numbers chooses.

    Arguments are those of :func:`march_tubes` and of
    :func:`sweatline.parts.coil.march`, the arrays in the shapes that `entry_shape` and its
    neighbours give.
    """
    # From Python; a kernel holds the way itself.
    way = _way_of(type(coil))
    return way(
        *(table, line, coil, flow, pressure, enthalpy, air_t, air_w, air_flow, heated),
        *(entry, inverse, profile),
    )


def _way_of(kind: type) -> Callable[..., CoilResult]:
    way = march if kind is CoilParameters else march_tubes
    return lambda table, line, coil, flow, p, h, ta, wa, air, heated, entry, inverse, profile: way(
        table, line, coil, flow, p, h, ta, wa, air, heated, entry, inverse, profile
    )


choose_by_types(
    march_either,
    lambda table, line, coil, flow, p, h, ta, wa, air, heated, entry, inverse, profile: _way_of(
        coil.instance_class
    ),
)

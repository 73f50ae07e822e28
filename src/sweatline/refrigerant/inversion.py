"""Kernels that ask a refrigerant table the other way round: pressure or enthalpy sought.

Each is a Newton search on the splines of :mod:`sweatline.refrigerant.spline`, kept inside a
bracket; past the edge of the table the straight continuation is solved instead.
"""

from __future__ import annotations

from math import exp, log, sqrt

from sweatline.compiled import kernel
from sweatline.refrigerant.spline import (
    BUBBLE,
    DEW,
    DS,
    DT,
    H_LIQUID,
    H_VAPOUR,
    LIQUID,
    ONLY,
    PER_SPAN_LIQUID,
    PER_SPAN_VAPOUR,
    S_LIQUID,
    S_VAPOUR,
    VAPOUR,
    Table,
    beyond,
    cell,
    clamped,
    depth,
    glide,
    line_value,
    region_cell,
    slopes,
    surface_value,
    weights,
)

_NEWTON_STEPS = 40


@kernel
def _saturation_pressure(t: Table, temperature: float, column: int) -> float:
    """Pressure at which a saturation temperature is met, by Newton on ln p against 1/T."""
    c = t.line
    first = line_value(c, ONLY, weights(0.0), column)
    last = line_value(c, t.line_cells - 1, weights(1.0), column)
    if not temperature > first:
        return t.p_min
    if temperature >= last:
        return t.p_max
    low = log(t.p_min)
    high = log(t.p_max)
    inverse = 1.0 / temperature
    # ln p is all but straight in 1/T, so the chord is already a good start.
    ln_p = low + (high - low) * (inverse - 1.0 / first) / (1.0 / last - 1.0 / first)
    for _ in range(_NEWTON_STEPS):
        p = clamped(exp(ln_p), t.p_min, t.p_max)
        i, f = cell(depth(t, p) * t.line_scale, t.line_cells)
        value = line_value(c, i, weights(f), column)
        slope = line_value(c, i, slopes(f), column) * t.line_scale * t.p_scale / (t.p_scale - p)
        step = (1.0 / value - inverse) * value * value / slope
        ln_p = clamped(ln_p + step, low, high)
        if abs(step) < 1e-13:
            break
    return exp(ln_p)


@kernel
def bubble_pressure(t: Table, temperature: float) -> float:
    """Pressure of boiling liquid at a temperature, clamped to the table. [Pa]"""
    return _saturation_pressure(t, temperature, BUBBLE)


@kernel
def dew_pressure(t: Table, temperature: float) -> float:
    """Pressure of condensing vapour at a temperature, clamped to the table. [Pa]"""
    return _saturation_pressure(t, temperature, DEW)


@kernel
def _region_enthalpy(t: Table, x: float, side: int, column: int, target: float) -> float:
    """Distance in enthalpy from saturation, as y, at which T - Tsat or s - ssat has a value."""
    m, f = cell(x * t.region_scale, t.region_cells)
    w = weights(f)
    c = t.regions
    a = t.stretch_vapour if side == VAPOUR else t.stretch_liquid
    end = surface_value(c, side, m, w, t.u_cells - 1, weights(1.0), column)
    share = target / end
    if not share < 1.0:
        return _continued(t, x, side, column, target, end)
    low, high = 0.0, 1.0
    u = share
    for _ in range(_NEWTON_STEPS):
        n, g = cell(u * t.u_cells, t.u_cells)
        error = surface_value(c, side, m, w, n, weights(g), column) / end - share
        slope = surface_value(c, side, m, w, n, slopes(g), column) / end * t.u_cells
        if error > 0.0:
            high = u
        else:
            low = u
        step = -error / slope
        if abs(step) < 1e-13:
            break
        # A Newton step that leaves the bracket is replaced by halving it.
        if not (low <= u + step <= high):
            step = 0.5 * (low + high) - u
        u += step
    return _unstretched(u, a)


@kernel
def _unstretched(u: float, a: float) -> float:
    """y of u = y (1 + a - a y), written so that it stays exact near zero."""
    b = 1.0 + a
    return 2.0 * u / (b + sqrt(b * b - 4.0 * a * u))


@kernel
def _continued(t: Table, x: float, side: int, column: int, target: float, end: float) -> float:
    """y past the edge of a region: the straight continuation of `beyond`, solved for it."""
    i, f = cell(x * t.line_scale, t.line_cells)
    w = weights(f)
    m, wx, n, z = region_cell(t, x, 0.0, 1.0)
    dt = surface_value(t.regions, side, m, wx, n, z, DT)
    sign = 1.0 if side == VAPOUR else -1.0
    t_edge = dt + line_value(t.line, i, w, DEW if side == VAPOUR else BUBBLE)
    _, _, _, per_cp = beyond(t, x, side, 0.0, 1.0, t_edge, 0.0, 0.0)
    per_span = line_value(t.line, i, w, PER_SPAN_VAPOUR if side == VAPOUR else PER_SPAN_LIQUID)
    excess = (target - end) / per_cp if column == DT else (target - end) * t_edge
    return 1.0 + sign * excess * per_span


@kernel
def enthalpy_vapour(t: Table, p: float, temperature: float) -> float:
    """Enthalpy of vapour at a pressure and temperature; of saturated vapour below dew. [J/kg]"""
    x = depth(t, clamped(p, t.p_min, t.p_max))
    i, f = cell(x * t.line_scale, t.line_cells)
    w = weights(f)
    hg = line_value(t.line, i, w, H_VAPOUR)
    target = temperature - line_value(t.line, i, w, DEW)
    if not target > 0.0:
        return hg
    y = _region_enthalpy(t, x, VAPOUR, DT, target)
    return hg + y / line_value(t.line, i, w, PER_SPAN_VAPOUR)


@kernel
def enthalpy_liquid(t: Table, p: float, temperature: float) -> float:
    """Enthalpy of liquid at a pressure and temperature; of saturated liquid above bubble. [J/kg]"""
    x = depth(t, clamped(p, t.p_min, t.p_max))
    i, f = cell(x * t.line_scale, t.line_cells)
    w = weights(f)
    hl = line_value(t.line, i, w, H_LIQUID)
    target = temperature - line_value(t.line, i, w, BUBBLE)
    if not target < 0.0:
        return hl
    y = _region_enthalpy(t, x, LIQUID, DT, target)
    return hl - y / line_value(t.line, i, w, PER_SPAN_LIQUID)


@kernel
def enthalpy_from_entropy(t: Table, p: float, s: float) -> float:
    """Enthalpy at a pressure and an entropy, in any phase. [J/kg]"""
    x = depth(t, clamped(p, t.p_min, t.p_max))
    i, f = cell(x * t.line_scale, t.line_cells)
    w = weights(f)
    hl, hg = line_value(t.line, i, w, H_LIQUID), line_value(t.line, i, w, H_VAPOUR)
    sl, sg = line_value(t.line, i, w, S_LIQUID), line_value(t.line, i, w, S_VAPOUR)
    if s > sg:
        y = _region_enthalpy(t, x, VAPOUR, DS, s - sg)
        return hg + y / line_value(t.line, i, w, PER_SPAN_VAPOUR)
    if s < sl:
        y = _region_enthalpy(t, x, LIQUID, DS, s - sl)
        return hl - y / line_value(t.line, i, w, PER_SPAN_LIQUID)
    straight = (s - sl) / (sg - sl)
    quality = straight
    if t.glide_cells != 0:
        # The departure is below a percent and smooth: fixed-point steps gain two digits each.
        for _ in range(12):
            _, _, ds = glide(t, x, quality)
            quality = straight - ds
    return hl + quality * (hg - hl)

"""Property kernels of one refrigerant, and the same the other way round.

Every kernel takes a :class:`Table` first and plain floats after it, in SI units. A kernel never
raises and never turns a finite argument into NaN: pressure is clamped to [`p_min`, `p_max`], and
beyond the enthalpies of `enthalpy_limits` temperature and entropy go on straight with their
slopes 1/cp and 1/T, so that a solver may pass through a poor iterate.
:mod:`sweatline.refrigerant.refrigerant` raises instead.

Where pressure or enthalpy is sought, the kernel is a Newton search on the splines of
:mod:`sweatline.refrigerant.spline`, kept inside a bracket; past the edge of the table the straight
continuation is solved instead.
"""

from __future__ import annotations

from math import exp, log, sqrt

import numpy as np

from sweatline.compiled import inlined, kernel
from sweatline.refrigerant.spline import (
    BUBBLE,
    DCP,
    DEW,
    DK,
    DMU,
    DS,
    DT,
    DV,
    FLUIDITY_LIQUID,
    H_LIQUID,
    H_VAPOUR,
    K_LIQUID,
    K_VAPOUR,
    LIQUID,
    MU_VAPOUR,
    ONLY,
    PER_CP_LIQUID,
    PER_CP_VAPOUR,
    PER_SPAN_LIQUID,
    PER_SPAN_VAPOUR,
    PV_VAPOUR,
    S_LIQUID,
    S_VAPOUR,
    SIGMA,
    V_LIQUID,
    VAPOUR,
    FloatArray,
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
from sweatline.refrigerant.spline import (
    Table as Table,
)


@kernel
def saturation(t: Table, p: float) -> tuple[float, float, float, float, float, float, float, float]:
    """Saturated states at a pressure.

    Parameters
    ----------
    t : Table
        Refrigerant.
    p : float
        Absolute pressure, clamped to the table. [Pa]

    Returns
    -------
    tuple of float
        Bubble and dew temperature [K], enthalpy of saturated liquid and vapour [J/kg], specific
        volume of both [m3/kg], entropy of both [J/(kg*K)].
    """
    p = clamped(p, t.p_min, t.p_max)
    i, f = cell(depth(t, p) * t.line_scale, t.line_cells)
    w = weights(f)
    c = t.line
    return (
        line_value(c, i, w, BUBBLE),
        line_value(c, i, w, DEW),
        line_value(c, i, w, H_LIQUID),
        line_value(c, i, w, H_VAPOUR),
        line_value(c, i, w, V_LIQUID),
        line_value(c, i, w, PV_VAPOUR) / p,
        line_value(c, i, w, S_LIQUID),
        line_value(c, i, w, S_VAPOUR),
    )


@kernel
def saturation_transport(
    t: Table, p: float
) -> tuple[float, float, float, float, float, float, float]:
    """Transport properties of the saturated phases at a pressure.

    Returns
    -------
    tuple of float
        Viscosity of liquid and vapour [Pa*s], thermal conductivity of both [W/(m*K)], isobaric
        heat capacity of both [J/(kg*K)], surface tension [N/m].
    """
    p = clamped(p, t.p_min, t.p_max)
    i, f = cell(depth(t, p) * t.line_scale, t.line_cells)
    w = weights(f)
    c = t.line
    return (
        1.0 / line_value(c, i, w, FLUIDITY_LIQUID),
        line_value(c, i, w, MU_VAPOUR),
        line_value(c, i, w, K_LIQUID),
        line_value(c, i, w, K_VAPOUR),
        1.0 / line_value(c, i, w, PER_CP_LIQUID),
        1.0 / line_value(c, i, w, PER_CP_VAPOUR),
        line_value(c, i, w, SIGMA),
    )


@kernel
def saturation_slopes(t: Table, p: float) -> tuple[float, float, float, float, float, float]:
    """Derivatives of the saturated states with respect to pressure, exact for the splines.

    Returns
    -------
    tuple of float
        Of bubble and dew temperature [K/Pa], of enthalpy of saturated liquid and vapour
        [J/(kg*Pa)], of specific volume of both [m3/(kg*Pa)].
    """
    p = clamped(p, t.p_min, t.p_max)
    i, f = cell(depth(t, p) * t.line_scale, t.line_cells)
    w = weights(f)
    d = slopes(f)
    c = t.line
    dx = t.line_scale * t.p_scale / (p * (t.p_scale - p))
    vg = line_value(c, i, w, PV_VAPOUR) / p
    return (
        dx * line_value(c, i, d, BUBBLE),
        dx * line_value(c, i, d, DEW),
        dx * line_value(c, i, d, H_LIQUID),
        dx * line_value(c, i, d, H_VAPOUR),
        dx * line_value(c, i, d, V_LIQUID),
        (dx * line_value(c, i, d, PV_VAPOUR) - vg) / p,
    )


@kernel
def saturation_capillary(
    t: Table, p: float
) -> tuple[float, float, float, float, float, float, float, float, float, float]:
    """What a homogeneous flashing flow needs at a pressure, from one look at the table.

    Returns
    -------
    tuple of float
        Enthalpy of saturated liquid and vapour [J/kg], specific volume of both [m3/kg], viscosity
        of both [Pa*s], then the slopes with pressure of the enthalpies [J/(kg*Pa)] and of the
        specific volumes [m3/(kg*Pa)].
    """
    p = clamped(p, t.p_min, t.p_max)
    i, f = cell(depth(t, p) * t.line_scale, t.line_cells)
    w = weights(f)
    d = slopes(f)
    c = t.line
    dx = t.line_scale * t.p_scale / (p * (t.p_scale - p))
    vg = line_value(c, i, w, PV_VAPOUR) / p
    return (
        line_value(c, i, w, H_LIQUID),
        line_value(c, i, w, H_VAPOUR),
        line_value(c, i, w, V_LIQUID),
        vg,
        1.0 / line_value(c, i, w, FLUIDITY_LIQUID),
        line_value(c, i, w, MU_VAPOUR),
        dx * line_value(c, i, d, H_LIQUID),
        dx * line_value(c, i, d, H_VAPOUR),
        dx * line_value(c, i, d, V_LIQUID),
        (dx * line_value(c, i, d, PV_VAPOUR) - vg) / p,
    )


@kernel
def state(t: Table, p: float, h: float) -> tuple[float, float, float, float]:
    """State at a pressure and an enthalpy, in any phase.

    Parameters
    ----------
    t : Table
        Refrigerant.
    p : float
        Absolute pressure, clamped to the table. [Pa]
    h : float
        Specific enthalpy. [J/kg]

    Returns
    -------
    tuple of float
        Temperature [K], specific volume [m3/kg], entropy [J/(kg*K)], and (h - hl)/(hg - hl) [-]:
        the quality between 0 and 1, below 0 in subcooled liquid, above 1 in superheated vapour.
    """
    p = clamped(p, t.p_min, t.p_max)
    x = depth(t, p)
    i, f = cell(x * t.line_scale, t.line_cells)
    w = weights(f)
    line = t.line
    bubble, dew = line_value(line, i, w, BUBBLE), line_value(line, i, w, DEW)
    hl, hg = line_value(line, i, w, H_LIQUID), line_value(line, i, w, H_VAPOUR)
    vl, vg = line_value(line, i, w, V_LIQUID), line_value(line, i, w, PV_VAPOUR) / p
    sl, sg = line_value(line, i, w, S_LIQUID), line_value(line, i, w, S_VAPOUR)
    quality = (h - hl) / (hg - hl)
    if h >= hl and h <= hg:
        dt, dv, ds = 0.0, 0.0, 0.0
        if t.glide_cells != 0:
            dt, dv, ds = glide(t, x, quality)
        return (
            bubble + (quality + dt) * (dew - bubble),
            vl + (quality + dv) * (vg - vl),
            sl + (quality + ds) * (sg - sl),
            quality,
        )
    if h < hl:
        side, a, y = LIQUID, t.stretch_liquid, (hl - h) * line_value(line, i, w, PER_SPAN_LIQUID)
        t_sat, v_sat, s_sat = bubble, vl, sl
    else:
        side, a, y = VAPOUR, t.stretch_vapour, (h - hg) * line_value(line, i, w, PER_SPAN_VAPOUR)
        t_sat, v_sat, s_sat = dew, vg, sg
    m, w, n, z = region_cell(t, x, a, y)
    c = t.regions
    temperature = t_sat + surface_value(c, side, m, w, n, z, DT)
    v = v_sat * (1.0 + surface_value(c, side, m, w, n, z, DV))
    s = s_sat + surface_value(c, side, m, w, n, z, DS)
    if not y < 1.0:
        temperature, v, s, _ = beyond(t, x, side, p, y, temperature, v, s)
    return temperature, v, s, quality


@kernel
def full_state(
    t: Table, p: float, h: float
) -> tuple[float, float, float, float, float, float, float]:
    """State and transport properties at a pressure and an enthalpy, in any phase.

    Inside the two-phase region heat capacity, viscosity and conductivity are quality-weighted
    means of the saturated phases: a continuous filling for solvers, not a property of a mixture
    of liquid and vapour.

    Returns
    -------
    tuple of float
        Temperature [K], specific volume [m3/kg], entropy [J/(kg*K)], isobaric heat capacity
        [J/(kg*K)], viscosity [Pa*s], thermal conductivity [W/(m*K)], and (h - hl)/(hg - hl) [-].
    """
    p = clamped(p, t.p_min, t.p_max)
    x = depth(t, p)
    i, f = cell(x * t.line_scale, t.line_cells)
    w = weights(f)
    line = t.line
    bubble, dew = line_value(line, i, w, BUBBLE), line_value(line, i, w, DEW)
    hl, hg = line_value(line, i, w, H_LIQUID), line_value(line, i, w, H_VAPOUR)
    vl, vg = line_value(line, i, w, V_LIQUID), line_value(line, i, w, PV_VAPOUR) / p
    sl, sg = line_value(line, i, w, S_LIQUID), line_value(line, i, w, S_VAPOUR)
    cpl, cpg = (
        1.0 / line_value(line, i, w, PER_CP_LIQUID),
        1.0 / line_value(line, i, w, PER_CP_VAPOUR),
    )
    mul, mug = 1.0 / line_value(line, i, w, FLUIDITY_LIQUID), line_value(line, i, w, MU_VAPOUR)
    kl, kg = line_value(line, i, w, K_LIQUID), line_value(line, i, w, K_VAPOUR)
    quality = (h - hl) / (hg - hl)
    if h >= hl and h <= hg:
        dt, dv, ds = 0.0, 0.0, 0.0
        if t.glide_cells != 0:
            dt, dv, ds = glide(t, x, quality)
        wet = 1.0 - quality
        return (
            bubble + (quality + dt) * (dew - bubble),
            vl + (quality + dv) * (vg - vl),
            sl + (quality + ds) * (sg - sl),
            wet * cpl + quality * cpg,
            wet * mul + quality * mug,
            wet * kl + quality * kg,
            quality,
        )
    if h < hl:
        side, a, y = LIQUID, t.stretch_liquid, (hl - h) * line_value(line, i, w, PER_SPAN_LIQUID)
        t_sat, v_sat, s_sat, cp_sat, mu_sat, k_sat = bubble, vl, sl, cpl, mul, kl
    else:
        side, a, y = VAPOUR, t.stretch_vapour, (h - hg) * line_value(line, i, w, PER_SPAN_VAPOUR)
        t_sat, v_sat, s_sat, cp_sat, mu_sat, k_sat = dew, vg, sg, cpg, mug, kg
    m, w, n, z = region_cell(t, x, a, y)
    c = t.regions
    temperature = t_sat + surface_value(c, side, m, w, n, z, DT)
    v = v_sat * (1.0 + surface_value(c, side, m, w, n, z, DV))
    s = s_sat + surface_value(c, side, m, w, n, z, DS)
    cp = cp_sat / (1.0 + surface_value(c, side, m, w, n, z, DCP))
    mu = mu_sat / (1.0 + surface_value(c, side, m, w, n, z, DMU))
    k = k_sat * (1.0 + surface_value(c, side, m, w, n, z, DK))
    if not y < 1.0:
        temperature, v, s, _ = beyond(t, x, side, p, y, temperature, v, s)
    return temperature, v, s, cp, mu, k, quality


@kernel
def enthalpy_limits(t: Table, p: float) -> tuple[float, float]:
    """Lowest and highest enthalpy of the table at a pressure. [J/kg]"""
    i, f = cell(depth(t, clamped(p, t.p_min, t.p_max)) * t.line_scale, t.line_cells)
    w = weights(f)
    return (
        line_value(t.line, i, w, H_LIQUID) - 1.0 / line_value(t.line, i, w, PER_SPAN_LIQUID),
        line_value(t.line, i, w, H_VAPOUR) + 1.0 / line_value(t.line, i, w, PER_SPAN_VAPOUR),
    )


_full_state = inlined(full_state)


@kernel
def full_state_array(t: Table, p: FloatArray, h: FloatArray) -> FloatArray:
    """Rows of `full_state` for vectors of pressure and enthalpy of equal length; (n, 7)."""
    out = np.empty((p.size, 7))
    for n in range(p.size):
        temperature, v, s, cp, mu, k, quality = _full_state(t, p[n], h[n])
        out[n, 0] = temperature
        out[n, 1] = v
        out[n, 2] = s
        out[n, 3] = cp
        out[n, 4] = mu
        out[n, 5] = k
        out[n, 6] = quality
    return out


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

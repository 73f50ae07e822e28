"""Property kernels of one refrigerant.

Every kernel takes a :class:`Table` first and plain floats after it, in SI units. A kernel never
raises and never turns a finite argument into NaN: pressure is clamped to [`p_min`, `p_max`], and
beyond the enthalpies of `enthalpy_limits` temperature and entropy go on straight with their
slopes 1/cp and 1/T, so that a solver may pass through a poor iterate. Ask `in_range` whether a
state is inside the table. :mod:`sweatline.refrigerant.refrigerant` raises instead.
"""

from __future__ import annotations

import numpy as np

from sweatline.compiled import inlined, kernel
from sweatline.refrigerant.inversion import (
    bubble_pressure,
    dew_pressure,
    enthalpy_from_entropy,
    enthalpy_liquid,
    enthalpy_vapour,
)
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

__all__ = [
    "Table",
    "bubble_pressure",
    "dew_pressure",
    "enthalpy_from_entropy",
    "enthalpy_limits",
    "enthalpy_liquid",
    "enthalpy_vapour",
    "full_state",
    "full_state_array",
    "in_range",
    "saturation",
    "saturation_array",
    "saturation_capillary",
    "saturation_slopes",
    "saturation_transport",
    "state",
]


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


@kernel
def in_range(t: Table, p: float, h: float) -> bool:
    """Whether a state lies inside the table, where its stated errors hold."""
    if not (t.p_min <= p <= t.p_max):
        return False
    low, high = enthalpy_limits(t, p)
    return bool(low <= h <= high)


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


@kernel
def saturation_array(t: Table, p: FloatArray) -> FloatArray:
    """Rows of `saturation` for a vector of pressure; (n, 8)."""
    out = np.empty((p.size, 8))
    for n in range(p.size):
        row = saturation(t, p[n])
        for m in range(8):
            out[n, m] = row[m]
    return out

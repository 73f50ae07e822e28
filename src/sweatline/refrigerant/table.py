r"""Property kernels of one refrigerant: cubic B-splines aligned to its saturation line.

Pressure enters as :math:`x = \ln\frac{p}{1.04\,p_c - p}`, which spaces isobars evenly at low
pressure and crowds them towards the critical point, where properties bend most. Along x run the
saturation lines. In each single-phase region enthalpy enters as its distance from saturation,

.. math:: y = \frac{h - h_g(x)}{h_{max}(x) - h_g(x)} \quad\text{(vapour)}, \qquad
          y = \frac{h_l(x) - h}{h_l(x) - h_{min}(x)} \quad\text{(liquid)}, \qquad
          u = y\,(1 + a - a y),

and the tensor-product spline over (x, u) holds the *difference* from saturation. Its edge u = 0
is zero by construction, so that every property is continuous across the saturation line to the
last bit. All splines are uniform and twice continuously differentiable.

A kernel never raises and never turns a finite argument into NaN: pressure is clamped to
[`p_min`, `p_max`], and beyond `h_min` or `h_max` temperature and entropy go on straight with
their slopes 1/cp and 1/T, so that a solver may pass through a poor iterate. Ask `in_range`
whether a state is inside the table. The readable layer raises instead.
"""

from __future__ import annotations

from math import exp, log, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.compiled import kernel

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

FloatArray = NDArray[np.float64]

# Columns of `Table.line`. Quantities that would span decades are held in a smooth disguise.
BUBBLE, DEW, H_LIQUID, H_VAPOUR, V_LIQUID, PV_VAPOUR, S_LIQUID, S_VAPOUR = 0, 1, 2, 3, 4, 5, 6, 7
PER_SPAN_LIQUID, PER_SPAN_VAPOUR = 8, 9  # 1/(hl - h_min), 1/(h_max - hg)
FLUIDITY_LIQUID, MU_VAPOUR, K_LIQUID, K_VAPOUR = 10, 11, 12, 13
PER_CP_LIQUID, PER_CP_VAPOUR, SIGMA = 14, 15, 16
LINE_COLUMNS = 17
# First index of `Table.regions`, and its columns, relative to saturation at the same pressure:
# T - Tsat, v/vsat - 1, s - ssat, cpsat/cp - 1, musat/mu - 1, k/ksat - 1
LIQUID, VAPOUR = 0, 1
DT, DV, DS, DCP, DMU, DK = 0, 1, 2, 3, 4, 5
REGION_COLUMNS = 6
# Columns of `Table.glide`: departure from a straight line in quality, as fraction of the width.
GLIDE_COLUMNS = 3

_SIXTH = 1.0 / 6.0
_TWO_THIRDS = 2.0 / 3.0
_COLDEST = 20.0  # K, floor of the straight continuation below h_min
_NEWTON_STEPS = 40


class Table(NamedTuple):
    """Splines of one refrigerant, as passed into kernels. Lengths count B-spline coefficients."""

    line: FloatArray  # (n, 17) saturation lines over x
    regions: FloatArray  # (2, m, k, 6) liquid and vapour over (x, u)
    glide: FloatArray  # (1, m, g, 3) over (x, quality)
    p_min: float  # Pa
    p_max: float  # Pa
    p_crit: float  # Pa
    t_crit: float  # K
    molar_mass: float  # kg/mol
    p_scale: float  # Pa, 1.04 p_crit
    x_min: float  # x at p_min
    line_cells: int  # number of cells over x
    line_scale: float  # cells per unit of x
    region_cells: int
    region_scale: float
    u_cells: int
    glide_cells: int  # 0 when properties are straight in quality
    stretch_liquid: float  # a in u(y)
    stretch_vapour: float


@kernel
def _clamped(value: float, low: float, high: float) -> float:
    """Value limited to [low, high]; NaN becomes low, so that it never turns into an index."""
    if not value > low:
        return low
    if value > high:
        return high
    return value


@kernel
def _cell(position: float, cells: int) -> tuple[int, float]:
    """Cell number and place inside the cell, [0, 1], of a position counted in cells."""
    i = min(int(position), cells - 1)
    return i, position - i


@kernel
def _weights(f: float) -> tuple[float, float, float, float]:
    """Values of the four cubic B-splines that live on a cell."""
    g = 1.0 - f
    ff = f * f
    gg = g * g
    w1 = (0.5 * f - 1.0) * ff + _TWO_THIRDS
    w2 = (0.5 * g - 1.0) * gg + _TWO_THIRDS
    return _SIXTH * gg * g, w1, w2, _SIXTH * ff * f


@kernel
def _slopes(f: float) -> tuple[float, float, float, float]:
    """Derivatives of the four cubic B-splines with respect to the place inside the cell."""
    g = 1.0 - f
    return -0.5 * g * g, (1.5 * f - 2.0) * f, (1.0 - 1.5 * f) * f + 0.5, 0.5 * f * f


@kernel
def _line(c: FloatArray, i: int, w: tuple[float, float, float, float], column: int) -> float:
    return (
        w[0] * c[i, column]
        + w[1] * c[i + 1, column]
        + w[2] * c[i + 2, column]
        + w[3] * c[i + 3, column]
    )


@kernel
def _surface(
    c: FloatArray,
    e: int,
    i: int,
    w: tuple[float, float, float, float],
    j: int,
    z: tuple[float, float, float, float],
    column: int,
) -> float:
    z0, z1, z2, z3 = z
    k, m, n = j + 1, j + 2, j + 3
    a, b, d = i + 1, i + 2, i + 3
    q = column
    return (
        w[0] * (z0 * c[e, i, j, q] + z1 * c[e, i, k, q] + z2 * c[e, i, m, q] + z3 * c[e, i, n, q])
        + w[1] * (z0 * c[e, a, j, q] + z1 * c[e, a, k, q] + z2 * c[e, a, m, q] + z3 * c[e, a, n, q])
        + w[2] * (z0 * c[e, b, j, q] + z1 * c[e, b, k, q] + z2 * c[e, b, m, q] + z3 * c[e, b, n, q])
        + w[3] * (z0 * c[e, d, j, q] + z1 * c[e, d, k, q] + z2 * c[e, d, m, q] + z3 * c[e, d, n, q])
    )


@kernel
def _x(t: Table, p: float) -> float:
    """x of a pressure inside the table, counted from `x_min`, never negative."""
    return max(log(p / (t.p_scale - p)) - t.x_min, 0.0)


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
    p = _clamped(p, t.p_min, t.p_max)
    i, f = _cell(_x(t, p) * t.line_scale, t.line_cells)
    w = _weights(f)
    c = t.line
    return (
        _line(c, i, w, BUBBLE),
        _line(c, i, w, DEW),
        _line(c, i, w, H_LIQUID),
        _line(c, i, w, H_VAPOUR),
        _line(c, i, w, V_LIQUID),
        _line(c, i, w, PV_VAPOUR) / p,
        _line(c, i, w, S_LIQUID),
        _line(c, i, w, S_VAPOUR),
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
    p = _clamped(p, t.p_min, t.p_max)
    i, f = _cell(_x(t, p) * t.line_scale, t.line_cells)
    w = _weights(f)
    c = t.line
    return (
        1.0 / _line(c, i, w, FLUIDITY_LIQUID),
        _line(c, i, w, MU_VAPOUR),
        _line(c, i, w, K_LIQUID),
        _line(c, i, w, K_VAPOUR),
        1.0 / _line(c, i, w, PER_CP_LIQUID),
        1.0 / _line(c, i, w, PER_CP_VAPOUR),
        _line(c, i, w, SIGMA),
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
    p = _clamped(p, t.p_min, t.p_max)
    i, f = _cell(_x(t, p) * t.line_scale, t.line_cells)
    w = _weights(f)
    d = _slopes(f)
    c = t.line
    dx = t.line_scale * t.p_scale / (p * (t.p_scale - p))
    vg = _line(c, i, w, PV_VAPOUR) / p
    return (
        dx * _line(c, i, d, BUBBLE),
        dx * _line(c, i, d, DEW),
        dx * _line(c, i, d, H_LIQUID),
        dx * _line(c, i, d, H_VAPOUR),
        dx * _line(c, i, d, V_LIQUID),
        (dx * _line(c, i, d, PV_VAPOUR) - vg) / p,
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
    p = _clamped(p, t.p_min, t.p_max)
    i, f = _cell(_x(t, p) * t.line_scale, t.line_cells)
    w = _weights(f)
    d = _slopes(f)
    c = t.line
    dx = t.line_scale * t.p_scale / (p * (t.p_scale - p))
    vg = _line(c, i, w, PV_VAPOUR) / p
    return (
        _line(c, i, w, H_LIQUID),
        _line(c, i, w, H_VAPOUR),
        _line(c, i, w, V_LIQUID),
        vg,
        1.0 / _line(c, i, w, FLUIDITY_LIQUID),
        _line(c, i, w, MU_VAPOUR),
        dx * _line(c, i, d, H_LIQUID),
        dx * _line(c, i, d, H_VAPOUR),
        dx * _line(c, i, d, V_LIQUID),
        (dx * _line(c, i, d, PV_VAPOUR) - vg) / p,
    )


@kernel
def _glide(t: Table, x: float, quality: float) -> tuple[float, float, float]:
    """Departures of temperature, volume and entropy from a straight line in quality."""
    if t.glide_cells == 0:
        return 0.0, 0.0, 0.0
    i, f = _cell(x * t.region_scale, t.region_cells)
    w = _weights(f)
    j, g = _cell(_clamped(quality, 0.0, 1.0) * t.glide_cells, t.glide_cells)
    z = _weights(g)
    return (
        _surface(t.glide, 0, i, w, j, z, 0),
        _surface(t.glide, 0, i, w, j, z, 1),
        _surface(t.glide, 0, i, w, j, z, 2),
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
    p = _clamped(p, t.p_min, t.p_max)
    x = _x(t, p)
    i, f = _cell(x * t.line_scale, t.line_cells)
    w = _weights(f)
    line = t.line
    bubble, dew = _line(line, i, w, BUBBLE), _line(line, i, w, DEW)
    hl, hg = _line(line, i, w, H_LIQUID), _line(line, i, w, H_VAPOUR)
    vl, vg = _line(line, i, w, V_LIQUID), _line(line, i, w, PV_VAPOUR) / p
    sl, sg = _line(line, i, w, S_LIQUID), _line(line, i, w, S_VAPOUR)
    quality = (h - hl) / (hg - hl)
    if h >= hl and h <= hg:
        dt, dv, ds = _glide(t, x, quality)
        return (
            bubble + (quality + dt) * (dew - bubble),
            vl + (quality + dv) * (vg - vl),
            sl + (quality + ds) * (sg - sl),
            quality,
        )
    if h < hl:
        side, a, y = LIQUID, t.stretch_liquid, (hl - h) * _line(line, i, w, PER_SPAN_LIQUID)
        t_sat, v_sat, s_sat = bubble, vl, sl
    else:
        side, a, y = VAPOUR, t.stretch_vapour, (h - hg) * _line(line, i, w, PER_SPAN_VAPOUR)
        t_sat, v_sat, s_sat = dew, vg, sg
    m, w, n, z = _region_cell(t, x, a, y)
    c = t.regions
    temperature = t_sat + _surface(c, side, m, w, n, z, DT)
    v = v_sat * (1.0 + _surface(c, side, m, w, n, z, DV))
    s = s_sat + _surface(c, side, m, w, n, z, DS)
    if not y < 1.0:
        temperature, v, s, _ = _beyond(t, x, side, p, y, temperature, v, s)
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
    p = _clamped(p, t.p_min, t.p_max)
    x = _x(t, p)
    i, f = _cell(x * t.line_scale, t.line_cells)
    w = _weights(f)
    line = t.line
    bubble, dew = _line(line, i, w, BUBBLE), _line(line, i, w, DEW)
    hl, hg = _line(line, i, w, H_LIQUID), _line(line, i, w, H_VAPOUR)
    vl, vg = _line(line, i, w, V_LIQUID), _line(line, i, w, PV_VAPOUR) / p
    sl, sg = _line(line, i, w, S_LIQUID), _line(line, i, w, S_VAPOUR)
    cpl, cpg = 1.0 / _line(line, i, w, PER_CP_LIQUID), 1.0 / _line(line, i, w, PER_CP_VAPOUR)
    mul, mug = 1.0 / _line(line, i, w, FLUIDITY_LIQUID), _line(line, i, w, MU_VAPOUR)
    kl, kg = _line(line, i, w, K_LIQUID), _line(line, i, w, K_VAPOUR)
    quality = (h - hl) / (hg - hl)
    if h >= hl and h <= hg:
        dt, dv, ds = _glide(t, x, quality)
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
        side, a, y = LIQUID, t.stretch_liquid, (hl - h) * _line(line, i, w, PER_SPAN_LIQUID)
        t_sat, v_sat, s_sat, cp_sat, mu_sat, k_sat = bubble, vl, sl, cpl, mul, kl
    else:
        side, a, y = VAPOUR, t.stretch_vapour, (h - hg) * _line(line, i, w, PER_SPAN_VAPOUR)
        t_sat, v_sat, s_sat, cp_sat, mu_sat, k_sat = dew, vg, sg, cpg, mug, kg
    m, w, n, z = _region_cell(t, x, a, y)
    c = t.regions
    temperature = t_sat + _surface(c, side, m, w, n, z, DT)
    v = v_sat * (1.0 + _surface(c, side, m, w, n, z, DV))
    s = s_sat + _surface(c, side, m, w, n, z, DS)
    cp = cp_sat / (1.0 + _surface(c, side, m, w, n, z, DCP))
    mu = mu_sat / (1.0 + _surface(c, side, m, w, n, z, DMU))
    k = k_sat * (1.0 + _surface(c, side, m, w, n, z, DK))
    if not y < 1.0:
        temperature, v, s, _ = _beyond(t, x, side, p, y, temperature, v, s)
    return temperature, v, s, cp, mu, k, quality


@kernel
def _region_cell(
    t: Table, x: float, a: float, y: float
) -> tuple[int, tuple[float, float, float, float], int, tuple[float, float, float, float]]:
    """Cells and spline weights of a point of a single-phase region; y past 1 is held at 1."""
    if not y < 1.0:
        y = 1.0
    m, f = _cell(x * t.region_scale, t.region_cells)
    n, g = _cell(y * (1.0 + a - a * y) * t.u_cells, t.u_cells)
    return m, _weights(f), n, _weights(g)


@kernel
def _beyond(
    t: Table,
    x: float,
    side: int,
    p: float,
    y: float,
    t_edge: float,
    v_edge: float,
    s_edge: float,
) -> tuple[float, float, float, float]:
    """T, v, s continued straight past the edge y = 1 of a region, and 1/cp at that edge.

    Vapour expands in proportion to temperature there; liquid keeps its volume.
    """
    i, f = _cell(x * t.line_scale, t.line_cells)
    w = _weights(f)
    m, wx, n, z = _region_cell(t, x, 0.0, 1.0)
    flatness = 1.0 + _surface(t.regions, side, m, wx, n, z, DCP)
    if side == LIQUID:
        excess = (1.0 - y) / _line(t.line, i, w, PER_SPAN_LIQUID)
        per_cp = flatness * _line(t.line, i, w, PER_CP_LIQUID)
        temperature = max(t_edge + excess * per_cp, _COLDEST)
        return temperature, v_edge, s_edge + excess / t_edge, per_cp
    excess = (y - 1.0) / _line(t.line, i, w, PER_SPAN_VAPOUR)
    per_cp = flatness * _line(t.line, i, w, PER_CP_VAPOUR)
    temperature = t_edge + excess * per_cp
    return temperature, v_edge * temperature / t_edge, s_edge + excess / t_edge, per_cp


@kernel
def enthalpy_limits(t: Table, p: float) -> tuple[float, float]:
    """Lowest and highest enthalpy of the table at a pressure. [J/kg]"""
    i, f = _cell(_x(t, _clamped(p, t.p_min, t.p_max)) * t.line_scale, t.line_cells)
    w = _weights(f)
    return (
        _line(t.line, i, w, H_LIQUID) - 1.0 / _line(t.line, i, w, PER_SPAN_LIQUID),
        _line(t.line, i, w, H_VAPOUR) + 1.0 / _line(t.line, i, w, PER_SPAN_VAPOUR),
    )


@kernel
def in_range(t: Table, p: float, h: float) -> bool:
    """Whether a state lies inside the table, where its stated errors hold."""
    if not (t.p_min <= p <= t.p_max):
        return False
    low, high = enthalpy_limits(t, p)
    return bool(low <= h <= high)


@kernel
def _saturation_pressure(t: Table, temperature: float, column: int) -> float:
    """Pressure at which a saturation temperature is met, by Newton on ln p against 1/T."""
    c = t.line
    first = _line(c, 0, _weights(0.0), column)
    last = _line(c, t.line_cells - 1, _weights(1.0), column)
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
        p = _clamped(exp(ln_p), t.p_min, t.p_max)
        i, f = _cell(_x(t, p) * t.line_scale, t.line_cells)
        value = _line(c, i, _weights(f), column)
        slope = _line(c, i, _slopes(f), column) * t.line_scale * t.p_scale / (t.p_scale - p)
        step = (1.0 / value - inverse) * value * value / slope
        ln_p = _clamped(ln_p + step, low, high)
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
    m, f = _cell(x * t.region_scale, t.region_cells)
    w = _weights(f)
    c = t.regions
    a = t.stretch_vapour if side == VAPOUR else t.stretch_liquid
    end = _surface(c, side, m, w, t.u_cells - 1, _weights(1.0), column)
    share = target / end
    if not share < 1.0:
        return _continued(t, x, side, column, target, end)
    low, high = 0.0, 1.0
    u = share
    for _ in range(_NEWTON_STEPS):
        n, g = _cell(u * t.u_cells, t.u_cells)
        error = _surface(c, side, m, w, n, _weights(g), column) / end - share
        slope = _surface(c, side, m, w, n, _slopes(g), column) / end * t.u_cells
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
    """y past the edge of a region: the straight continuation of `_beyond`, solved for it."""
    i, f = _cell(x * t.line_scale, t.line_cells)
    w = _weights(f)
    m, wx, n, z = _region_cell(t, x, 0.0, 1.0)
    dt = _surface(t.regions, side, m, wx, n, z, DT)
    sign = 1.0 if side == VAPOUR else -1.0
    t_edge = dt + _line(t.line, i, w, DEW if side == VAPOUR else BUBBLE)
    _, _, _, per_cp = _beyond(t, x, side, 0.0, 1.0, t_edge, 0.0, 0.0)
    per_span = _line(t.line, i, w, PER_SPAN_VAPOUR if side == VAPOUR else PER_SPAN_LIQUID)
    excess = (target - end) / per_cp if column == DT else (target - end) * t_edge
    return 1.0 + sign * excess * per_span


@kernel
def enthalpy_vapour(t: Table, p: float, temperature: float) -> float:
    """Enthalpy of vapour at a pressure and temperature; of saturated vapour below dew. [J/kg]"""
    x = _x(t, _clamped(p, t.p_min, t.p_max))
    i, f = _cell(x * t.line_scale, t.line_cells)
    w = _weights(f)
    hg = _line(t.line, i, w, H_VAPOUR)
    target = temperature - _line(t.line, i, w, DEW)
    if not target > 0.0:
        return hg
    y = _region_enthalpy(t, x, VAPOUR, DT, target)
    return hg + y / _line(t.line, i, w, PER_SPAN_VAPOUR)


@kernel
def enthalpy_liquid(t: Table, p: float, temperature: float) -> float:
    """Enthalpy of liquid at a pressure and temperature; of saturated liquid above bubble. [J/kg]"""
    x = _x(t, _clamped(p, t.p_min, t.p_max))
    i, f = _cell(x * t.line_scale, t.line_cells)
    w = _weights(f)
    hl = _line(t.line, i, w, H_LIQUID)
    target = temperature - _line(t.line, i, w, BUBBLE)
    if not target < 0.0:
        return hl
    y = _region_enthalpy(t, x, LIQUID, DT, target)
    return hl - y / _line(t.line, i, w, PER_SPAN_LIQUID)


@kernel
def enthalpy_from_entropy(t: Table, p: float, s: float) -> float:
    """Enthalpy at a pressure and an entropy, in any phase. [J/kg]"""
    x = _x(t, _clamped(p, t.p_min, t.p_max))
    i, f = _cell(x * t.line_scale, t.line_cells)
    w = _weights(f)
    hl, hg = _line(t.line, i, w, H_LIQUID), _line(t.line, i, w, H_VAPOUR)
    sl, sg = _line(t.line, i, w, S_LIQUID), _line(t.line, i, w, S_VAPOUR)
    if s > sg:
        y = _region_enthalpy(t, x, VAPOUR, DS, s - sg)
        return hg + y / _line(t.line, i, w, PER_SPAN_VAPOUR)
    if s < sl:
        y = _region_enthalpy(t, x, LIQUID, DS, s - sl)
        return hl - y / _line(t.line, i, w, PER_SPAN_LIQUID)
    straight = (s - sl) / (sg - sl)
    quality = straight
    if t.glide_cells != 0:
        # The departure is below a percent and smooth: fixed-point steps gain two digits each.
        for _ in range(12):
            _, _, ds = _glide(t, x, quality)
            quality = straight - ds
    return hl + quality * (hg - hl)


@kernel
def full_state_array(t: Table, p: FloatArray, h: FloatArray) -> FloatArray:
    """Rows of `full_state` for vectors of pressure and enthalpy of equal length; (n, 7)."""
    out = np.empty((p.size, 7))
    for n in range(p.size):
        row = full_state(t, p[n], h[n])
        for m in range(7):
            out[n, m] = row[m]
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

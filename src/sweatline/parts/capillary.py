r"""Flow through a capillary tube by the homogeneous-equilibrium model.

The refrigerant enters as subcooled liquid or with flash gas, loses pressure to friction, starts
to boil where its enthalpy meets the bubble line, and accelerates until it either meets the
pressure of the evaporator or chokes. The steady one-dimensional balances of a straight tube,

.. math::
    h + \tfrac12 G^2 v^2 = h_0, \qquad
    -dp = G^2\,dv + f\,\frac{G^2 v}{2D}\,dz,

are solved for length by quadrature in pressure instead of marching along the tube,

.. math::
    L(G) = \int_{p_{end}}^{p_1} \frac{2D\,(1 + G^2\,dv/dp)}{f\,G^2\,v}\,dp ,

where the end is the evaporator pressure or the pressure at which :math:`1 + G^2 dv/dp = 0` along
the Fanno line, whichever is higher. Length is a smooth falling function of mass flux, so the flow
of a given tube follows from a few secant steps in the logarithms.

Friction is Churchill's (1977), two-phase viscosity McAdams's; the sudden contraction at the
entrance loses half a velocity head. Chen's underpressure of vaporisation (metastable liquid) is
an option.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.compiled import inner_kernel, kernel
from sweatline.flow.inside_tube import darcy_friction_churchill
from sweatline.refrigerant.table import (
    Table,
    saturation,
    saturation_capillary,
    saturation_transport,
)

ENTRANCE_LOSS = 0.5  # velocity heads, sharp-edged sudden contraction (textbook)
_BOLTZMANN = 1.380649e-23  # J/K, exact
_HALF_KELVIN = 750.0  # J/kg of subcooling, about; Chen's form is held there too


def _gauss(points: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Gauss-Legendre points and weights on (0, 1)."""
    x, w = np.polynomial.legendre.leggauss(points)
    return 0.5 * (x + 1.0), 0.5 * w


# Ten points in ln p leave at most 1e-6 of the length in a turbulent tube; where the flow passes
# from laminar to turbulent inside the tube, twenty do.
_FEW, _FEW_WEIGHTS = _gauss(10)
_MANY, _MANY_WEIGHTS = _gauss(20)
_TURBULENT = 5000.0  # Reynolds number of the liquid, the lowest of a tube


class CapillaryParameters(NamedTuple):
    """A capillary tube as the kernels see it.

    `flow_multiplier` carries model and coiling uncertainty; 1 is the model as it stands.
    """

    bore: float  # m
    length: float  # m
    roughness: float  # m, height of the wall's grain
    flow_multiplier: float  # -
    metastable: float  # 0 equilibrium flashing, 1 Chen's underpressure


@inner_kernel
def _fanno(
    table: Table, pressure: float, total_enthalpy: float, g2: float
) -> tuple[float, float, float]:
    """Specific volume, its slope dv/dp along the Fanno line, and two-phase viscosity at p."""
    hl, hg, vl, vg, mul, mug, dhl, dhg, dvl, dvg = saturation_capillary(table, pressure)
    hlg = hg - hl
    vlg = vg - vl
    a = 0.5 * g2 * vlg * vlg
    b = hlg + g2 * vl * vlg
    c = hl + 0.5 * g2 * vl * vl - total_enthalpy
    root = b * b - 4.0 * a * c
    x = -2.0 * c / (b + math.sqrt(root)) if root > 0.0 else -c / b
    if x < 0.0:
        x = 0.0
    v = vl + x * vlg
    # dx/dp from the energy equation, dv/dp = v_p + vlg dx/dp.
    v_p = dvl + x * (dvg - dvl)
    h_p = dhl + x * (dhg - dhl)
    slope = (v_p - vlg / hlg * h_p) / (1.0 + g2 * v * vlg / hlg)
    share = min(x, 1.0)
    mu = 1.0 / (share / mug + (1.0 - share) / mul)
    return v, slope, mu


@inner_kernel
def _flash_pressure(table: Table, guess: float, total_enthalpy: float, g2: float) -> float:
    """Pressure at which liquid of this total enthalpy meets the bubble line. [Pa]"""
    p = guess
    for _ in range(30):
        hl, _hg, vl, _vg, _mul, _mug, dhl, _dhg, _dvl, _dvg = saturation_capillary(table, p)
        step = (hl + 0.5 * g2 * vl * vl - total_enthalpy) / (dhl * p)
        step = min(max(step, -0.7), 0.7)
        p *= math.exp(-step)
        if p <= table.p_min:
            return table.p_min
        if p >= table.p_max:
            return table.p_max
        if abs(step) < 1e-8:  # what is left is its square
            break
    return p


@inner_kernel
def _choke_near(
    table: Table, start: float, end: float, total_enthalpy: float, g2: float, guess: float
) -> float:
    """Pressure in (end, start) where 1 + G2 dv/dp = 0, from a guess; zero when that fails."""
    target = -math.log(g2)
    low = math.log(end)
    high = math.log(start)
    u = math.log(guess)
    u_old = 0.0
    f_old = 0.0
    for trial in range(6):
        if u <= low or u >= high:
            return 0.0
        _v, slope, _mu = _fanno(table, math.exp(u), total_enthalpy, g2)
        f = math.log(max(-slope, 1e-300)) - target
        # Gas that expands freely has dv/dp as p^-2; a little more for the gas that is made.
        step = f / 2.2
        if trial > 0 and f != f_old:
            step = -f * (u - u_old) / (f - f_old)
        u_old = u
        f_old = f
        u += step
        if abs(f) < 1e-5 and trial > 0:  # the length feels only the square of what is left
            if u <= low or u >= high:
                return 0.0
            return math.exp(u)
    return 0.0


@inner_kernel
def _choke_pressure(
    table: Table, start: float, end: float, total_enthalpy: float, g2: float
) -> float:
    """Pressure in [end, start] where 1 + G2 dv/dp = 0; `end` when the flow does not choke there.

    ln(-dv/dp) falls nearly linearly with ln p, which the secant steps use.
    """
    _v, slope_end, _mu = _fanno(table, end, total_enthalpy, g2)
    if 1.0 + g2 * slope_end > 0.0:
        return end
    _v, slope_start, _mu = _fanno(table, start, total_enthalpy, g2)
    if 1.0 + g2 * slope_start <= 0.0:
        return start
    target = -math.log(g2)
    low = math.log(end)
    high = math.log(start)
    f_low = math.log(-slope_end) - target  # > 0: choked
    f_high = math.log(max(-slope_start, 1e-300)) - target  # < 0
    side = 0
    u = high
    for _ in range(60):
        if f_high < -20.0:
            u = 0.5 * (low + high)
        else:
            u = (low * f_high - high * f_low) / (f_high - f_low)
        _v, slope, _mu = _fanno(table, math.exp(u), total_enthalpy, g2)
        f = math.log(max(-slope, 1e-300)) - target
        if abs(f) < 1e-7 or high - low < 1e-13:
            break
        if f > 0.0:
            low = u
            f_low = f
            if side == 1:
                f_high *= 0.5
            side = 1
        else:
            high = u
            f_high = f
            if side == -1:
                f_low *= 0.5
            side = -1
    return math.exp(u)


@inner_kernel
def _underpressure_chen(
    table: Table, flash: float, reynolds: float, bore: float, subcooling: float
) -> float:
    """Chen et al. 1990: how far below saturation the liquid stays liquid. [Pa]

    (ps - pv) sqrt(kB Ts) / sigma^1.5 = 0.679 [vg/(vg-vl)] Re^0.914 (dTsc/Tc)^-0.208 (D/D')^-3.18
    """
    tb, _td, _hl, _hg, vl, vg, _sl, _sg = saturation(table, flash)
    _mul, _mug, _kl, _kg, _cpl, _cpg, sigma = saturation_transport(table, flash)
    root = math.sqrt(_BOLTZMANN * tb)
    reference = 1e4 * root / math.sqrt(sigma)  # D' = 1e4 sqrt(kB Ts / sigma)
    cooled = max(subcooling, 0.5) / table.t_crit
    group = 0.679 * vg / (vg - vl) * reynolds**0.914 * cooled**-0.208
    group *= (bore / reference) ** -3.18
    delay: float = min(group * sigma**1.5 / root, 0.3 * flash)
    return delay


@inner_kernel
def _flashing_length(
    table: Table,
    start: float,
    end: float,
    total_enthalpy: float,
    flux: float,
    bore: float,
    relative_roughness: float,
    points: NDArray[np.float64],
    weights: NDArray[np.float64],
) -> float:
    """Length in which the pressure falls from `start` to `end` along the Fanno line. [m]"""
    g2 = flux * flux
    span = math.log(start / end)
    total = 0.0
    for i in range(points.shape[0]):
        # Points crowd towards the flash point, where the volume grows fastest.
        s = points[i]
        p = start * math.exp(-span * s * s)
        v, slope, mu = _fanno(table, p, total_enthalpy, g2)
        friction = darcy_friction_churchill(flux * bore / mu, relative_roughness)
        total += weights[i] * s * p * (1.0 + g2 * slope) / (friction * v)
    return max(total * 4.0 * span * bore / g2, 0.0)


class _Along(NamedTuple):
    """What a flux makes of a tube."""

    length: float  # m
    end: float  # Pa
    liquid: float  # m
    flash: float  # Pa, where boiling would begin; a guess for the next flux
    choke: float  # Pa, the same; zero when the flow does not choke


@inner_kernel
def _along(
    table: Table,
    tube: CapillaryParameters,
    inlet_pressure: float,
    inlet_enthalpy: float,
    outlet_pressure: float,
    flux: float,
    flash_guess: float,
    choke_guess: float,
) -> _Along:
    """Length that passes a flux, from guesses of where it flashes and chokes (zero: none)."""
    g2 = flux * flux
    bore = tube.bore
    relative_roughness = tube.roughness / bore
    hl, hg, vl, vg, mul, _mug, _a, _b, _c, _d = saturation_capillary(table, inlet_pressure)
    quality = (inlet_enthalpy - hl) / (hg - hl)
    v_in = vl if quality <= 0.0 else vl + quality * (vg - vl)
    first = inlet_pressure - 0.5 * (1.0 + ENTRANCE_LOSS) * g2 * v_in
    if first <= outlet_pressure:
        return _Along(0.0, inlet_pressure, 0.0, flash_guess, choke_guess)
    liquid = 0.0
    start = first
    flash = flash_guess
    if quality <= 0.0:
        flash = _flash_pressure(
            table, flash_guess if flash_guess > 0.0 else inlet_pressure, inlet_enthalpy, g2
        )
        _h, _g, vl, _v, mul, _m, _a, _b, _c, _d = saturation_capillary(table, flash)
        reynolds = flux * bore / mul
        friction = darcy_friction_churchill(reynolds, relative_roughness)
        boiling = flash
        if tube.metastable > 0.0:
            tb_in = saturation(table, inlet_pressure)[0]
            tb_flash = saturation(table, flash)[0]
            delay = _underpressure_chen(table, flash, reynolds, bore, tb_in - tb_flash)
            # Gas at the entrance leaves no delay: it fades over the last half kelvin.
            boiling -= tube.metastable * delay * min((hl - inlet_enthalpy) / _HALF_KELVIN, 1.0)
        stop = max(boiling, outlet_pressure)
        if stop < first:
            liquid = (first - stop) * 2.0 * bore / (friction * g2 * vl)
            start = stop
        if start <= outlet_pressure:
            return _Along(liquid, outlet_pressure, liquid, flash, 0.0)
    choke = 0.0
    if choke_guess > 0.0:
        choke = _choke_near(table, start, outlet_pressure, inlet_enthalpy, g2, choke_guess)
    end = choke
    if choke == 0.0:
        end = _choke_pressure(table, start, outlet_pressure, inlet_enthalpy, g2)
        if outlet_pressure < end < start:
            choke = end
    length = liquid
    if end < start:
        points, weights = _MANY, _MANY_WEIGHTS
        if flux * bore / mul > _TURBULENT:
            points, weights = _FEW, _FEW_WEIGHTS
        length += _flashing_length(
            table, start, end, inlet_enthalpy, flux, bore, relative_roughness, points, weights
        )
    return _Along(length, end, liquid, flash, choke)


@kernel
def capillary_length(
    table: Table,
    inlet_pressure: float,
    inlet_enthalpy: float,
    outlet_pressure: float,
    mass_flux: float,
    bore: float,
    roughness: float,
    metastable: float,
) -> tuple[float, float, float]:
    """Length that passes `mass_flux`, the pressure at its end and the length still liquid.

    Parameters
    ----------
    inlet_pressure, outlet_pressure : float
        Before the entrance and in the evaporator. [Pa]
    inlet_enthalpy : float
        Before the entrance, subcooled or two-phase. [J/kg]
    mass_flux : float
        Mass flow per bore area. [kg/(m2*s)]
    bore, roughness : float
        [m]
    metastable : float
        0 flashing at saturation, 1 Chen's underpressure. [-]

    Returns
    -------
    tuple of float
        Length [m], end pressure [Pa], length of the liquid part [m]. The length is zero when the
        flux cannot pass even the entrance.
    """
    tube = CapillaryParameters(bore, 1.0, roughness, 1.0, metastable)
    found = _along(
        table, tube, inlet_pressure, inlet_enthalpy, outlet_pressure, mass_flux, 0.0, 0.0
    )
    return found.length, found.end, found.liquid


@inner_kernel
def _first_flux(
    table: Table, inlet_pressure: float, inlet_enthalpy: float, bore: float, length: float
) -> float:
    """Starting guess: Hermes, Melo & Knabben's closed form, inertia neglected. [kg/(m2*s)]"""
    flash = min(_flash_pressure(table, inlet_pressure, inlet_enthalpy, 0.0), inlet_pressure)
    hl, hg, vl, vg, _mul, _mug, _a, _b, _c, _d = saturation_capillary(table, flash)
    x = max((inlet_enthalpy - hl) / (hg - hl), 0.0)
    v = vl + x * (vg - vl)
    k = min(1.63e5 * flash**-0.72, 20.0)
    head = (inlet_pressure - flash) / v + flash / v * 0.7 / (1.0 + 0.4 * k)
    return 6.0 * 4.0 / math.pi * math.sqrt(bore / length * max(head, 1.0))


@kernel
def capillary_mass_flow(
    table: Table,
    capillary: CapillaryParameters,
    inlet_pressure: float,
    inlet_enthalpy: float,
    outlet_pressure: float,
    guess: float = 0.0,
) -> tuple[float, float, float]:
    """Mass flow of a tube [kg/s], pressure at its end [Pa] and its liquid length [m].

    Above `outlet_pressure` at the end means that the flow is choked. Zero when the outlet pressure
    is not below the inlet pressure. `guess` is of the flow [kg/s], zero without one.
    """
    bore = capillary.bore
    area = 0.25 * math.pi * bore * bore
    if inlet_pressure <= outlet_pressure * (1.0 + 1e-9):
        return 0.0, outlet_pressure, 0.0
    target = math.log(capillary.length)
    flux = guess / capillary.flow_multiplier / area
    if not flux > 0.0:
        flux = _first_flux(table, inlet_pressure, inlet_enthalpy, bore, capillary.length)
    u = math.log(flux)
    low = -50.0
    high = 50.0
    u_old = u
    f_old = 0.0
    flash = 0.0
    choke = 0.0
    end = outlet_pressure
    liquid = 0.0
    for _ in range(80):
        here = _along(
            table,
            capillary,
            inlet_pressure,
            inlet_enthalpy,
            outlet_pressure,
            math.exp(u),
            flash,
            choke,
        )
        flash = here.flash
        choke = here.choke
        end = here.end
        liquid = here.liquid
        if here.length <= 0.0:
            high = u
            u = u - 0.25 if low < -49.0 else 0.5 * (low + high)
            f_old = 0.0
            continue
        f = math.log(here.length) - target
        if f > 0.0:  # tube that passes this flux is longer: more can pass
            low = u
        else:
            high = u
        if abs(f) < 1e-11 or high - low < 1e-13:
            break
        step = f / 2.1
        by_secant = False
        if f_old != 0.0 and f != f_old:
            secant = -f * (u - u_old) / (f - f_old)
            if 0.1 < secant / step < 4.0:
                step = secant
                by_secant = True
        # The error of a secant step is about the product of the last two.
        last = by_secant and abs(f * f_old) < 1e-11
        step = min(max(step, -0.6), 0.6)
        u_old = u
        f_old = f
        u = u + step
        if u <= low or u >= high:
            u = 0.5 * (low + high)
            if low < -49.0 or high > 49.0:
                u = u_old + 0.5 * step
        elif last:
            break
    return capillary.flow_multiplier * math.exp(u) * area, end, liquid

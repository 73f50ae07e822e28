"""Capillary flow by quadrature in pressure against a plain march along the tube.

The march shares nothing with the package: its properties come from the reference library, its
slopes from differences of neighbouring states, its choking point from the place where the tube
stops growing longer. Same physics, other mathematics.
"""

from __future__ import annotations

import functools
from typing import NamedTuple

import CoolProp.CoolProp as CP
import numpy as np
import pytest
from numpy.typing import NDArray

from sweatline.parts.capillary_flow import flow_through, length_for
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import enthalpy_liquid, saturation

FloatArray = NDArray[np.float64]
STEPS = 40_000  # a step is a twentieth of a per mille of the pressure
ENTRANCE = 1.5  # velocity heads: acceleration from rest and half a head lost


def friction_churchill(reynolds: FloatArray, roughness: float) -> FloatArray:
    """Darcy friction factor, Churchill 1977."""
    a = (2.457 * np.log(1.0 / ((7.0 / reynolds) ** 0.9 + 0.27 * roughness))) ** 16
    b = (37530.0 / reynolds) ** 16
    return 8.0 * ((8.0 / reynolds) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)


class Saturated(NamedTuple):
    """Saturated states over falling pressure."""

    p: FloatArray
    hl: FloatArray
    hg: FloatArray
    vl: FloatArray
    vg: FloatArray
    mul: FloatArray
    mug: FloatArray


@functools.cache
def saturated(fluid: str, p_high: float, p_low: float) -> Saturated:
    """States from the reference library at 400 pressures, made finer by a cubic through them."""
    from scipy.interpolate import CubicSpline

    coarse = np.linspace(np.log(p_low), np.log(p_high), 400)

    def at(what: str, quality: int) -> FloatArray:
        values = [CP.PropsSI(what, "P", p, "Q", quality, fluid) for p in np.exp(coarse)]
        return np.array(values)

    fine = np.linspace(np.log(p_high), np.log(p_low), STEPS)
    hl, hg, dl, dg, mul, mug = (
        CubicSpline(coarse, at(what, q))(fine)
        for what, q in (("H", 0), ("H", 1), ("D", 0), ("D", 1), ("V", 0), ("V", 1))
    )
    return Saturated(np.exp(fine), hl, hg, 1.0 / dl, 1.0 / dg, mul, mug)


def march(
    s: Saturated,
    *,
    flux: float,
    bore: float,
    roughness: float,
    p_in: float,
    h_in: float,
    x_in: float,
    liquid: tuple[float, float],
    p_out: float,
) -> float:
    """Length at which the march along the tube ends: at the outlet pressure or choked. [m]

    `liquid` holds volume and viscosity of the liquid that enters; `x_in` the quality, 0 if none.
    """
    g2 = flux * flux
    # Energy: h + G2 v2 / 2 = h_in is a quadratic in the quality at every pressure.
    vlg, hlg = s.vg - s.vl, s.hg - s.hl
    a = 0.5 * g2 * vlg**2
    b = hlg + g2 * s.vl * vlg
    c = s.hl + 0.5 * g2 * s.vl**2 - h_in
    x = (np.sqrt(b * b - 4.0 * a * c) - b) / (2.0 * a)
    v_liquid, mu_liquid = liquid
    if x_in > 0.0:
        hl = float(np.interp(p_in, s.p[::-1], s.hl[::-1]))
        hg = float(np.interp(p_in, s.p[::-1], s.hg[::-1]))
        vl = float(np.interp(p_in, s.p[::-1], s.vl[::-1]))
        vg = float(np.interp(p_in, s.p[::-1], s.vg[::-1]))
        v_entry = vl + (h_in - hl) / (hg - hl) * (vg - vl)
    else:
        v_entry = v_liquid
    p_first = p_in - 0.5 * ENTRANCE * g2 * v_entry
    if p_first <= p_out:
        return 0.0
    wet = x > 0.0
    v = np.where(wet, s.vl + x * vlg, v_liquid)
    mu = np.where(wet, 1.0 / (x / s.mug + (1.0 - x) / s.mul), mu_liquid)
    inside = (s.p <= p_first) & (s.p >= p_out)
    p = np.concatenate(([p_first], s.p[inside], [p_out]))
    first, last = np.argmax(inside), len(inside) - 1 - np.argmax(inside[::-1])
    v = np.concatenate(([v[first]], v[inside], [v[last]]))
    mu = np.concatenate(([mu[first]], mu[inside], [mu[last]]))
    f = friction_churchill(flux * bore / mu, roughness / bore)
    # Momentum: -dp = G2 dv + f G2 v dz / (2 D), step by step with means over the step.
    v_mid, f_mid = 0.5 * (v[1:] + v[:-1]), 0.5 * (f[1:] + f[:-1])
    dz = (-np.diff(p) - g2 * np.diff(v)) * 2.0 * bore / (f_mid * g2 * v_mid)
    z = np.cumsum(dz)
    return float(max(np.max(z), 0.0))


def marched_flow(s: Saturated, length: float, **tube: object) -> float:
    """Mass flux at which the march is as long as the tube, by bisection. [kg/(m2*s)]"""
    low, high = 200.0, 20_000.0
    while high / low > 1.0 + 1e-6:
        flux = (low * high) ** 0.5
        if march(s, flux=flux, **tube) > length:  # type: ignore[arg-type]
            low = flux
        else:
            high = flux
    return (low * high) ** 0.5


class Case(NamedTuple):
    name: str
    fluid: str
    bore: float
    length: float
    condensing: float  # K
    subcooling: float  # K; negative: minus the quality of flash gas
    evaporating: float  # K
    tolerance: float


# The model takes liquid as saturated and of one volume, real liquid is a trifle denser under
# pressure: two per mille. Flash gas at the entrance leaves nothing to differ in. Where friction
# turns laminar on the way, the fourteen points of the quadrature straddle a kink.
LIQUID, FLASHING, TURNING = 2e-3, 5e-5, 5e-3

CASES = [
    Case("R-134a", "R134a", 1.1e-3, 3.0, 325.55, 15.0, 263.15, LIQUID),
    Case("R-134a", "R134a", 0.8e-3, 1.2, 313.15, 2.0, 288.15, LIQUID),
    Case("R-290", "Propane", 1.0e-3, 1.0, 318.15, 6.0, 268.15, LIQUID),
    Case("R-600a", "IsoButane", 0.65e-3, 3.0, 313.15, -0.05, 248.15, FLASHING),
    Case("R-600a", "IsoButane", 0.5e-3, 5.0, 298.15, 1.0, 240.15, TURNING),
    Case("R-152a", "R152A", 1.4e-3, 0.7, 308.15, 4.0, 275.15, LIQUID),
    Case("R-12", "R12", 0.9e-3, 2.0, 323.15, -0.12, 258.15, FLASHING),
]


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.name} {c.bore * 1e3:g} mm")
def test_quadrature_against_march(case: Case) -> None:
    table = load(case.name).table

    def at(what: str, quality: int, t: float) -> float:
        return float(CP.PropsSI(what, "T", t, "Q", quality, case.fluid))

    p_in = at("P", 0, case.condensing)
    p_out = at("P", 1, case.evaporating)
    tb, _td, hl, hg, *_ = saturation(table, p_in)
    # Both start from the same subcooling or quality, each in its own enthalpies.
    if case.subcooling >= 0.0:
        x_in = 0.0
        t_in = case.condensing - case.subcooling
        h_theirs = float(CP.PropsSI("H", "T", t_in, "P", p_in * 1.000001, case.fluid))
        ours_h = enthalpy_liquid(table, p_in, tb - case.subcooling)
        liquid = (
            1.0 / CP.PropsSI("D", "T", t_in, "P", p_in * 1.000001, case.fluid),
            CP.PropsSI("V", "T", t_in, "P", p_in * 1.000001, case.fluid),
        )
    else:
        x_in = -case.subcooling
        h_theirs = at("H", 0, case.condensing) * (1 - x_in) + at("H", 1, case.condensing) * x_in
        ours_h = hl + x_in * (hg - hl)
        liquid = (1.0 / at("D", 0, case.condensing), at("V", 0, case.condensing))
    s = saturated(case.fluid, p_in, p_out)
    flux = marched_flow(
        s,
        case.length,
        bore=case.bore,
        roughness=0.75e-6,
        p_in=p_in,
        h_in=h_theirs,
        x_in=x_in,
        liquid=liquid,
        p_out=p_out,
    )
    theirs = flux * 0.25 * np.pi * case.bore**2
    ours = flow_through(
        table,
        bore=case.bore,
        length=case.length,
        inlet_pressure=p_in,
        inlet_enthalpy=ours_h,
        outlet_pressure=p_out,
        roughness=0.75e-6,
    )
    assert ours.mass_flow == pytest.approx(theirs, rel=case.tolerance)
    # and back: the length that passes the marched flow
    length = length_for(
        table,
        bore=case.bore,
        mass_flow=theirs,
        inlet_pressure=p_in,
        inlet_enthalpy=ours_h,
        outlet_pressure=p_out,
        roughness=0.75e-6,
    ).length
    assert length == pytest.approx(case.length, rel=2.3 * case.tolerance)

"""A capillary soldered to the suction line: cooling before the tube against a march along it.

The model takes the exchanger's heat from the liquid before the tube, or a share of it where the
solder comes late. The march lets the heat pass where the solder is, between the refrigerant on
its way down and the gas that comes the other way, and finds the flow that chokes or meets the
evaporator at the tube's end.
"""

from __future__ import annotations

import functools
import math
from typing import Any, NamedTuple

import numba as nb
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq

from sweatline.constants import ZERO_CELSIUS
from sweatline.parts.capillary import CapillaryParameters, capillary_mass_flow
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    dew_pressure,
    enthalpy_liquid,
    enthalpy_vapour,
    full_state,
    saturation,
    saturation_transport,
)

FloatArray = NDArray[np.float64]

ROUGHNESS = 0.75e-6  # m
CONDUCTANCE = 2.0  # W/K per metre of solder
STEPS = 2500
SLICES = 600  # of the suction line


class Case(NamedTuple):
    name: str
    bore: float  # m
    length: float  # m
    soldered: float  # m
    condensing: float  # C
    evaporating: float  # C
    subcooling: float  # K


CASES = (
    Case("R-134a", 0.8e-3, 2.5, 1.0, 40.0, -5.0, 3.0),
    Case("R-134a", 0.8e-3, 2.5, 1.0, 40.0, -5.0, 8.0),
    Case("R-134a", 1.1e-3, 1.5, 0.8, 45.0, 5.0, 5.0),
    Case("R-290", 1.0e-3, 2.0, 1.0, 40.0, 2.0, 3.0),
    Case("R-152a", 0.9e-3, 2.0, 1.0, 42.0, 2.0, 3.0),
    Case("R-22", 1.3e-3, 1.2, 0.6, 45.0, 3.0, 5.0),
)
SUPERHEAT = 5.0  # K, of the gas that enters the exchanger


@functools.cache
def saturated(name: str) -> tuple[FloatArray, FloatArray]:
    """Over ln p: temperature, hl, hg, vl, vg, viscosities, heat capacity of the liquid."""
    table = load(name).table
    x = np.linspace(math.log(1.02 * table.p_min), math.log(0.85 * table.p_crit), 1500)
    rows = []
    for p in np.exp(x):
        tb, _td, hl, hg, vl, vg, _sl, _sg = saturation(table, float(p))
        mul, mug, _kl, _kg, cpl, _cpg, _sigma = saturation_transport(table, float(p))
        rows.append((tb, hl, hg, vl, vg, mul, mug, cpl))
    return x, np.array(rows)


@nb.njit
def _friction(reynolds: float, grain: float) -> float:
    a = (2.457 * math.log(1.0 / ((7.0 / reynolds) ** 0.9 + 0.27 * grain))) ** 16
    b = (37530.0 / reynolds) ** 16
    return 8.0 * ((8.0 / reynolds) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)


@nb.njit
def _at(x: FloatArray, rows: FloatArray, p: float, total: float, flux: float) -> Any:
    """Volume, temperature and viscosity at a pressure and an enthalpy with its motion."""
    place = (math.log(p) - x[0]) / (x[1] - x[0])
    k = min(max(int(place), 0), x.shape[0] - 2)
    tb, hl, hg, vl, vg, mul, mug, cpl = rows[k] + (place - k) * (rows[k + 1] - rows[k])
    g2 = flux * flux
    c = hl + 0.5 * g2 * vl * vl - total
    if c >= 0.0:
        return vl, tb - c / cpl, mul
    a = 0.5 * g2 * (vg - vl) ** 2
    b = hg - hl + g2 * vl * (vg - vl)
    quality = min(-2.0 * c / (b + math.sqrt(b * b - 4.0 * a * c)), 1.0)
    return vl + quality * (vg - vl), tb, 1.0 / (quality / mug + (1.0 - quality) / mul)


@nb.njit
def _march(
    x: FloatArray,
    rows: FloatArray,
    p_in: float,
    h_in: float,
    p_out: float,
    flux: float,
    bore: float,
    first: float,
    last: float,
    per_metre: float,
    gas: FloatArray,
) -> Any:
    """Length to the outlet pressure or to choking, and the heat to each slice of the gas."""
    area = 0.25 * math.pi * bore * bore
    grain = ROUGHNESS / bore
    total = h_in
    v, t, mu = _at(x, rows, p_in, total, 0.0)
    p = p_in - 0.75 * flux * flux * v
    v, t, mu = _at(x, rows, p, total, flux)
    ratio = (p_out / p) ** (1.0 / STEPS)
    heat = np.zeros(SLICES)
    slice_ = (last - first) / SLICES
    z = 0.0
    for _ in range(STEPS):
        lower = p * ratio
        dz = (p - lower) * 2.0 * bore / (_friction(flux * bore / mu, grain) * flux * flux * v)
        passed = 0.0
        k = 0
        v2, t2, mu2, total2 = v, t, mu, total
        for _again in range(6):
            middle = z + 0.5 * dz
            passed = 0.0
            if first < middle < last:
                k = min(int((middle - first) / slice_), SLICES - 1)
                passed = per_metre * (0.5 * (t + t2) - gas[k]) * dz
            total2 = total - passed / (flux * area)
            v2, t2, mu2 = _at(x, rows, lower, total2, flux)
            friction = _friction(flux * bore / (0.5 * (mu + mu2)), grain)
            found = p - lower - flux * flux * (v2 - v)
            found *= 2.0 * bore / (friction * flux * flux * 0.5 * (v + v2))
            dz = 0.5 * (dz + found) if found > 0.0 else found
            if dz <= 0.0:
                return z, heat
        heat[k] += passed
        z += dz
        p, v, t, mu, total = lower, v2, t2, mu2, total2
    return z, heat


class Flow(NamedTuple):
    mass_flow: float  # kg/s
    exchanged: float  # J/kg


class Ends(NamedTuple):
    table: Table
    p_in: float
    h_in: float
    p_out: float
    gas: float  # K
    gas_cp: float


def ends(case: Case) -> Ends:
    table = load(case.name).table
    p_in = bubble_pressure(table, case.condensing + ZERO_CELSIUS)
    p_out = dew_pressure(table, case.evaporating + ZERO_CELSIUS)
    h_in = enthalpy_liquid(table, p_in, case.condensing - case.subcooling + ZERO_CELSIUS)
    gas = case.evaporating + SUPERHEAT + ZERO_CELSIUS
    cp = full_state(table, p_out, enthalpy_vapour(table, p_out, gas))[3]
    return Ends(table, p_in, h_in, p_out, gas, cp)


def marched(case: Case, first: float, per_metre: float) -> Flow:
    e = ends(case)
    x, rows = saturated(case.name)
    area = 0.25 * math.pi * case.bore**2
    low, high = 300.0, 20_000.0
    heat = np.zeros(SLICES)
    flux = 0.0
    while high / low > 1.0 + 2e-5:
        flux = math.sqrt(low * high)
        gas = np.full(SLICES, e.gas)
        for _ in range(60 if per_metre > 0.0 else 1):
            length, heat = _march(
                x,
                rows,
                e.p_in,
                e.h_in,
                e.p_out,
                flux,
                case.bore,
                first,
                first + case.soldered,
                per_metre,
                gas,
            )
            # The gas enters at the far end of the solder and warms towards the inlet.
            warmed = e.gas + np.cumsum(heat[::-1])[::-1] / (flux * area * e.gas_cp)
            if np.abs(warmed - gas).max() < 0.01:
                break
            gas = 0.5 * (gas + warmed)
        if length > case.length:
            low = flux
        else:
            high = flux
    return Flow(flux * area, float(heat.sum()) / (flux * area))


def modelled(case: Case, cooled: float) -> float:
    e = ends(case)
    tube = CapillaryParameters(case.bore, case.length, ROUGHNESS, 1.0, 0.0)
    return float(capillary_mass_flow(e.table, tube, e.p_in, e.h_in - cooled, e.p_out)[0])


def share_ahead(case: Case, first: float) -> float:
    """Share of the heat that has to be taken before the tube to give the flow of the march."""
    m = marched(case, first, CONDUCTANCE)
    return float(
        brentq(lambda s: modelled(case, s * m.exchanged) / m.mass_flow - 1.0, -0.3, 1.3, xtol=1e-4)
    )


every_case = pytest.mark.parametrize(
    "case", CASES, ids=lambda c: f"{c.name} {1e3 * c.bore:g} mm {c.subcooling:g} K"
)


@every_case
def test_without_solder_the_march_is_the_model(case: Case) -> None:
    assert marched(case, 0.0, 0.0).mass_flow == pytest.approx(modelled(case, 0.0), rel=3e-3)


@every_case
def test_soldered_from_the_inlet_on_all_cooling_counts(case: Case) -> None:
    """The heat passes before the refrigerant boils, as the model has it."""
    assert share_ahead(case, 0.1 * case.length) == pytest.approx(1.0, abs=0.04)


def test_soldered_later_a_share_counts() -> None:
    """The default of a job, 0.75 with 0.25 either way, covers tubes of which nobody knows where."""
    shares = []
    for case in CASES:
        middle = share_ahead(case, 0.5 * (case.length - case.soldered))
        late = share_ahead(case, 0.9 * case.length - case.soldered)
        assert 0.15 < late < middle < 1.03
        shares += [1.0, middle, late]
    assert np.mean(shares) == pytest.approx(0.75, abs=0.06)
    assert np.std(shares) == pytest.approx(0.25, abs=0.04)

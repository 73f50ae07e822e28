"""What must hold for the flow of any capillary tube, whatever its friction."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweatline.parts.capillary import CapillaryParameters, capillary_length, capillary_mass_flow
from sweatline.parts.capillary_flow import flow_through, length_for
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    dew_pressure,
    enthalpy_liquid,
    saturation,
    saturation_transport,
)

FLUIDS = ("R-134a", "R-152a", "R-290", "R-600a", "R-410A", "R-454C")
fluids = st.sampled_from(FLUIDS)
bores = st.floats(0.5e-3, 2.0e-3)
lengths = st.floats(0.3, 5.0)
condensing = st.floats(298.0, 328.0)
evaporating = st.floats(240.0, 288.0)
subcoolings = st.floats(0.0, 15.0)
qualities = st.floats(0.0, 0.3)
walls = st.floats(0.0, 3e-6)
few = settings(max_examples=40)


def reynolds(table: Table, p: float, mass_flow: float, bore: float) -> float:
    """Of the liquid before the tube."""
    return 4.0 * mass_flow / (math.pi * bore * saturation_transport(table, p)[0])


def quadrature_slack(table: Table, p: float, mass_flow: float, bore: float) -> float:
    """What the quadrature may be off by: next to nothing unless friction turns laminar inside."""
    return 1e-9 if reynolds(table, p, mass_flow, bore) > 5000.0 else 3e-4


def before(table: Table, t: float, subcooling: float, quality: float) -> tuple[float, float]:
    """Pressure and enthalpy before the tube: subcooled, or with flash gas when there is some."""
    p = bubble_pressure(table, t)
    hl, hg = saturation(table, p)[2:4]
    if quality > 0.0:
        return p, hl + quality * (hg - hl)
    return p, enthalpy_liquid(table, p, t - subcooling)


def flow(
    table: Table,
    p: float,
    h: float,
    p_out: float,
    bore: float,
    length: float,
    *,
    roughness: float = 0.75e-6,
    multiplier: float = 1.0,
    metastable: float = 0.0,
) -> float:
    tube = CapillaryParameters(bore, length, roughness, multiplier, metastable)
    return capillary_mass_flow(table, tube, p, h, p_out)[0]


@few
@given(fluids, bores, lengths, condensing, evaporating)
def test_continuous_where_subcooling_ends(
    name: str, bore: float, length: float, tc: float, te: float
) -> None:
    table = load(name).table
    p = bubble_pressure(table, tc)
    p_out = dew_pressure(table, te)
    hl, hg = saturation(table, p)[2:4]
    hair = 1e-8 * (hg - hl)
    subcooled = flow(table, p, hl - hair, p_out, bore, length)
    flashing = flow(table, p, hl + hair, p_out, bore, length)
    assert flashing == pytest.approx(subcooled, rel=1e-6)


@pytest.mark.parametrize("name", FLUIDS)
def test_no_step_anywhere_between_liquid_and_flash_gas(name: str) -> None:
    """From 3 K of subcooling to a tenth of gas in small steps."""
    table = load(name).table
    p = bubble_pressure(table, 313.15)
    hl, hg = saturation(table, p)[2:4]
    hs = np.linspace(enthalpy_liquid(table, p, 310.15), hl + 0.1 * (hg - hl), 1200)
    p_out = dew_pressure(table, 263.15)
    ln_m = np.log([flow(table, p, float(h), p_out, 0.9e-3, 1.5) for h in hs])
    steps = np.diff(ln_m)
    assert (steps < 0.0).all()
    # The slope itself is steepest just past the bubble line; it may bend there but not break.
    assert np.abs(steps).max() < 8.0 * np.median(np.abs(steps))
    assert np.abs(steps).max() < 2e-3


@few
@given(fluids, bores, lengths, condensing, evaporating, st.floats(0.01, 15.0), st.floats(1e-4, 0.3))
def test_flashing_inlet_never_passes_more_than_a_subcooled_one(
    name: str, bore: float, length: float, tc: float, te: float, subcooling: float, quality: float
) -> None:
    table = load(name).table
    p_out = dew_pressure(table, te)
    p, liquid = before(table, tc, subcooling, 0.0)
    _p, flashing = before(table, tc, 0.0, quality)
    more = flow(table, p, liquid, p_out, bore, length)
    less = flow(table, p, flashing, p_out, bore, length)
    assert less < more


@few
@given(
    fluids,
    bores,
    lengths,
    condensing,
    evaporating,
    subcoolings,
    st.one_of(st.just(0.0), qualities),
    walls,
    st.floats(1.001, 1.3),
)
def test_monotone_in_every_argument(
    name: str,
    bore: float,
    length: float,
    tc: float,
    te: float,
    subcooling: float,
    quality: float,
    wall: float,
    factor: float,
) -> None:
    table = load(name).table
    p, h = before(table, tc, subcooling, quality)
    p_out = dew_pressure(table, te)
    here = flow(table, p, h, p_out, bore, length, roughness=wall)
    hg = saturation(table, p)[3]
    assert here > 0.0
    assert flow(table, p, h, p_out, bore * factor, length, roughness=wall) > here
    assert flow(table, p, h, p_out, bore, length * factor, roughness=wall) < here
    assert (
        flow(table, p, h + 0.01 * (factor - 1.0) * (hg - h), p_out, bore, length, roughness=wall)
        < here
    )
    higher = p * (1.0 + 0.3 * (factor - 1.0))
    assert flow(table, higher, h, p_out, bore, length, roughness=wall) > here
    slack = here * (1.0 + 1e-9)
    assert flow(table, p, h, p_out, bore, length, roughness=wall * factor) <= slack
    behind = min(p_out * factor, 0.999 * p)
    slower = flow(table, p, h, behind, bore, length, roughness=wall)
    assert slower <= here * (1.0 + quadrature_slack(table, p, here, bore))


@few
@given(
    fluids,
    st.floats(0.5e-3, 0.75e-3),
    st.floats(1.5, 5.0),
    condensing,
    evaporating,
    st.one_of(st.just(0.0), qualities),
    walls,
    st.floats(1.001, 1.3),
)
def test_slow_flow_falls_with_the_pressure_behind_the_tube(
    name: str,
    bore: float,
    length: float,
    tc: float,
    te: float,
    quality: float,
    wall: float,
    factor: float,
) -> None:
    """Narrow long tubes, where friction turns from laminar to turbulent on the way."""
    table = load(name).table
    p, h = before(table, tc, 3.0, quality)
    p_out = dew_pressure(table, te)
    here = flow(table, p, h, p_out, bore, length, roughness=wall)
    behind = min(p_out * factor, 0.999 * p)
    slower = flow(table, p, h, behind, bore, length, roughness=wall)
    assert slower <= here * (1.0 + quadrature_slack(table, p, here, bore))
    far = flow(table, p, h, 0.5 * (p + p_out), bore, length, roughness=wall)
    assert far < here


@few
@given(fluids, bores, lengths, condensing, evaporating, subcoolings, qualities)
def test_length_and_flow_are_inverse(
    name: str,
    bore: float,
    length: float,
    tc: float,
    te: float,
    subcooling: float,
    quality: float,
) -> None:
    table = load(name).table
    p, h = before(table, tc, subcooling, quality)
    case = {
        "bore": bore,
        "inlet_pressure": p,
        "inlet_enthalpy": h,
        "outlet_pressure": dew_pressure(table, te),
    }
    there = flow_through(table, length=length, **case)
    back = length_for(table, mass_flow=there.mass_flow, **case)
    assert back.length == pytest.approx(length, rel=1e-7)
    assert back.end_pressure == pytest.approx(there.end_pressure, rel=1e-7)
    assert back.liquid_length == pytest.approx(there.liquid_length, rel=1e-6, abs=1e-9)
    assert 0.0 <= there.liquid_length <= length * (1.0 + 1e-9)
    assert case["outlet_pressure"] * (1.0 - 1e-9) <= there.end_pressure < p


def test_length_falls_without_a_step_when_flashing_is_delayed() -> None:
    table = load("R-134a").table
    p, h = before(table, 298.0, 0.5, 0.0)
    p_out = dew_pressure(table, 240.0)
    lengths_of = [
        capillary_length(table, p, h, p_out, g, 0.5e-3, 0.75e-6, 1.0)[0]
        for g in np.linspace(3900.0, 4100.0, 41)
    ]
    assert all(0.0 < a - b < 0.01 for a, b in pairwise(lengths_of))


@few
@given(fluids, bores, lengths, condensing, subcoolings, qualities, st.floats(0.05, 0.95))
def test_choked_flow_does_not_know_the_outlet_pressure(
    name: str,
    bore: float,
    length: float,
    tc: float,
    subcooling: float,
    quality: float,
    share: float,
) -> None:
    table = load(name).table
    p, h = before(table, tc, subcooling, quality)
    lowest = table.p_min * 1.05
    tube = CapillaryParameters(bore, length, 0.75e-6, 1.0, 0.0)
    choked, end, _liquid = capillary_mass_flow(table, tube, p, h, lowest)
    if end <= lowest * (1.0 + 1e-6):
        return  # a tube long and narrow enough does not choke even into deep vacuum
    behind = math.exp(share * math.log(end) + (1.0 - share) * math.log(lowest))
    again, end_again, _liquid = capillary_mass_flow(table, tube, p, h, behind)
    assert again == pytest.approx(choked, rel=1e-9)
    assert end_again == pytest.approx(end, rel=1e-8)
    # Above the choking pressure the flow falls, and starts to fall without a step.
    above = end * (1.0 + 1e-8)
    assert flow(table, p, h, above, bore, length) == pytest.approx(choked, rel=1e-6)
    assert flow(table, p, h, end + 0.5 * (p - end), bore, length) < choked


@few
@given(fluids, bores, lengths, condensing, evaporating, subcoolings)
def test_metastable_liquid_passes_more(
    name: str, bore: float, length: float, tc: float, te: float, subcooling: float
) -> None:
    table = load(name).table
    p, h = before(table, tc, subcooling, 0.0)
    p_out = dew_pressure(table, te)
    equilibrium = flow(table, p, h, p_out, bore, length)
    delayed = flow(table, p, h, p_out, bore, length, metastable=1.0)
    half = flow(table, p, h, p_out, bore, length, metastable=0.5)
    assert equilibrium * (1.0 - 1e-9) <= half <= delayed * (1.0 + 1e-9)


@pytest.mark.parametrize("name", FLUIDS)
def test_no_flow_without_a_fall_of_pressure(name: str) -> None:
    table = load(name).table
    p, h = before(table, 308.15, 3.0, 0.0)
    assert flow(table, p, h, p, 0.9e-3, 1.5) == 0.0
    assert flow(table, p, h, 1.2 * p, 0.9e-3, 1.5) == 0.0
    trickle = [flow(table, p, h, p * (1.0 - s), 0.9e-3, 1.5) for s in (1e-2, 1e-3, 1e-4, 1e-5)]
    assert all(b < 0.6 * a for a, b in pairwise(trickle))
    assert trickle[-1] > 0.0


def test_multiplier_scales_the_flow_and_nothing_else() -> None:
    table = load("R-152a").table
    p, h = before(table, 308.15, 3.0, 0.0)
    one = capillary_mass_flow(table, CapillaryParameters(9e-4, 1.5, 1e-6, 1.0, 0.0), p, h, 2e5)
    other = capillary_mass_flow(table, CapillaryParameters(9e-4, 1.5, 1e-6, 1.07, 0.0), p, h, 2e5)
    assert other[0] == pytest.approx(1.07 * one[0], rel=1e-12)
    assert other[1:] == one[1:]


@pytest.mark.parametrize(
    ("bore", "length", "word"),
    [(0.3e-3, 1.0, "outside"), (3.0e-3, 3.0, "outside"), (1.0e-3, 0.1, "orifice")],
)
def test_out_of_range_is_said(bore: float, length: float, word: str) -> None:
    table = load("R-134a").table
    p, h = before(table, 313.15, 5.0, 0.0)
    found = flow_through(
        table, bore=bore, length=length, inlet_pressure=p, inlet_enthalpy=h, outlet_pressure=2e5
    )
    assert any(word in note for note in found.notes)
    usual = flow_through(
        table, bore=1e-3, length=1.5, inlet_pressure=p, inlet_enthalpy=h, outlet_pressure=2e5
    )
    assert usual.notes == ()

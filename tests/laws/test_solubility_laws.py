"""What must hold for refrigerant in oil, whatever the pair."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweatline.parts.shell import (
    FAMILIES,
    MEASURED,
    OIL_MOLAR_VOLUME,
    dissolved,
    interaction_at,
    solubility,
)
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.safety_data import known_names
from sweatline.refrigerant.table import bubble_pressure


@settings(max_examples=60)
@given(st.floats(1e-6, 5.0), st.floats(2.0, 30.0), st.floats(-1.0, 2.5))
def test_dissolved_share_is_a_share_and_solves_its_equation(
    activity: float, size_ratio: float, interaction: float
) -> None:
    phi = dissolved(activity, size_ratio, interaction)
    assert 0.0 < phi < 1.0
    drawn = 0.98 * activity / (1.0 + activity**12) ** (1.0 / 12.0)
    rest = 1.0 - phi
    found = phi * math.exp((1.0 - 1.0 / size_ratio) * rest + interaction * rest * rest)
    assert found == pytest.approx(drawn, rel=1e-6)


@settings(max_examples=60)
@given(st.floats(1e-4, 3.0), st.floats(1.001, 1.2), st.floats(2.0, 30.0), st.floats(-1.0, 2.5))
def test_dissolved_share_is_monotone(
    activity: float, factor: float, size_ratio: float, interaction: float
) -> None:
    here = dissolved(activity, size_ratio, interaction)
    slack = here * (1.0 - 1e-9)
    assert dissolved(activity * factor, size_ratio, interaction) >= slack
    assert dissolved(activity, size_ratio, interaction + 0.1) <= here  # disliking oil takes less
    assert dissolved(activity, 1.1 * size_ratio, interaction) <= here  # large molecules take less


@pytest.mark.parametrize("oil", [*OIL_MOLAR_VOLUME, "unknown"])
@pytest.mark.parametrize("name", known_names())
def test_every_refrigerant_has_numbers_for_every_oil(name: str, oil: str) -> None:
    """And warm oil always takes less, from cold start to a hot shell."""
    table = load(name).table
    pair = solubility(table, name, oil)
    assert 2.0 < pair.size_ratio < 45.0
    assert pair.interaction_sd >= (0.6 if oil == "unknown" else 0.2)
    assert pair.measured == ((name, oil) in MEASURED)
    assert pair.note
    p = 0.6 * bubble_pressure(table, 280.0)
    hottest = min(380.0, 0.97 * table.t_crit)
    shares = []
    for t in np.linspace(285.0, hottest, 40):
        chi = interaction_at(pair.interaction, pair.interaction_slope, float(t))
        shares.append(dissolved(p / bubble_pressure(table, float(t)), pair.size_ratio, chi))
    assert all(0.0 < b < a < 1.0 for a, b in pairwise(shares))


def test_measured_pairs_and_families_cover_each_other() -> None:
    assert {oil for _name, oil in MEASURED} <= OIL_MOLAR_VOLUME.keys()
    assert len(FAMILIES) == 3 * len(OIL_MOLAR_VOLUME)
    assert {name for name, _oil in MEASURED} <= set(known_names())


def test_interaction_stands_still_outside_its_data() -> None:
    inside = [interaction_at(0.7, 2.5, t) for t in (243.15, 280.0, 318.15, 360.0, 403.15)]
    assert all(b < a for a, b in pairwise(inside))
    assert inside[2] == 0.7
    assert interaction_at(0.7, 2.5, 200.0) == inside[0]
    assert interaction_at(0.7, 2.5, 500.0) == inside[-1]


def test_little_gas_dissolves_by_henry() -> None:
    """At small activity the share is in proportion to it, with the slope of infinite dilution."""
    for chi in (0.0, 0.3, 0.5):
        slope = math.exp(-(1.0 - 1.0 / 4.5) - chi)
        for activity in (1e-4, 1e-3):
            expected = 0.98 * activity * slope
            assert dissolved(activity, 4.5, chi) == pytest.approx(expected, rel=5e-3)

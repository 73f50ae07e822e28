"""What must hold for the heat transfer of a blend that changes phase."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweatline.flow.inside_tube import coefficient_with_glide, heat_transfer_single_phase

# Vapour of R-407C near 45 °C.
GAS = {"mug": 1.4e-5, "kg": 0.017, "cpg": 1250.0}
films = st.floats(300.0, 8000.0)
qualities = st.floats(0.0, 1.0)
fluxes = st.floats(20.0, 500.0)
bores = st.floats(3e-3, 12e-3)
glides = st.floats(0.0, 15.0)
latents = st.floats(1.2e5, 4e5)
few = settings(max_examples=100)


def of(film: float, x: float, flux: float, bore: float, glide: float, latent: float) -> float:
    return float(coefficient_with_glide(film, x, flux, bore, glide, latent, **GAS))


@few
@given(films, qualities, fluxes, bores, glides, latents)
def test_never_above_the_film_and_never_nothing(
    film: float, x: float, flux: float, bore: float, glide: float, latent: float
) -> None:
    here = of(film, x, flux, bore, glide, latent)
    assert 0.0 < here <= film
    assert of(film, x, flux, bore, 0.0, latent) == film
    assert of(film, x, flux, bore, glide + 1.0, latent) <= here
    assert of(film, x, flux, bore, glide, 1.2 * latent) >= here
    assert of(1.1 * film, x, flux, bore, glide, latent) >= here


@few
@given(films, st.floats(0.05, 0.95), fluxes, bores, st.floats(0.5, 15.0), latents)
def test_resistances_add(
    film: float, x: float, flux: float, bore: float, glide: float, latent: float
) -> None:
    """Bell and Ghaly's sum, from the heat the gas gives up as a kilogram condenses a little."""
    gas = heat_transfer_single_phase(flux * x, bore, GAS["mug"], GAS["kg"], GAS["cpg"])
    step = 1e-3  # of quality
    sensible = x * GAS["cpg"] * glide * step  # J/kg
    share = sensible / (latent * step)
    expected = 1.0 / film + share / gas
    assert 1.0 / of(film, x, flux, bore, glide, latent) == pytest.approx(expected, rel=1e-9)


@few
@given(films, fluxes, bores, glides, latents)
def test_continuous_in_quality_and_gone_at_both_ends(
    film: float, flux: float, bore: float, glide: float, latent: float
) -> None:
    assert of(film, 0.0, flux, bore, glide, latent) == film
    assert of(film, 1.0, flux, bore, glide, latent) == film
    assert of(film, 1e-9, flux, bore, glide, latent) == pytest.approx(film, rel=1e-6)
    assert of(film, 1.0 - 1e-9, flux, bore, glide, latent) == pytest.approx(film, rel=1e-6)
    # Without a jump the largest step shrinks with the spacing.
    steps = []
    for n in (2001, 16001):
        found = [of(film, float(x), flux, bore, glide, latent) for x in np.linspace(0.0, 1.0, n)]
        steps.append(max(abs(b - a) for a, b in pairwise(found)))
    assert steps[1] <= 0.5 * steps[0] + 1e-9 * film

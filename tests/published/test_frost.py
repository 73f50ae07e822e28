"""Frost against printed growth rates and another author's density."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.second_opinions import frost_density_hayashi

from sweatline.constants import ZERO_CELSIUS
from sweatline.design.frost import frost
from sweatline.flow.finned_surface import frost_density_silva
from sweatline.job.reading import read_job

EXAMPLE = Path(__file__).parents[2] / "examples" / "seed-store.toml"
MODEL = "Frost (Da Silva, Hermes and Melo; Lee)"


@pytest.mark.parametrize(("celsius", "humidity"), [(2.0, 0.85), (4.0, 0.8), (6.0, 0.9)])
def test_growth_lies_in_the_band_of_the_experiments(
    published: Callable[..., Any], celsius: float, humidity: float
) -> None:
    """A review of experiments on flat plates finds growth of 0.1 to 3 mm an hour."""
    answer = frost(
        read_job(EXAMPLE),
        compressor=0,
        refrigerant="R-134a",
        capillary=0,
        room_temperature=ZERO_CELSIUS + celsius,
        room_humidity=humidity,
        hours=1.0,
    )
    last = answer.likely.steps[-1]
    published(
        model=MODEL,
        source="Leoni, Mondot, Durier, Revellin and Haberschill 2016, review (second-hand)",
        status="MEMORY 0.6",
        basis="similar",
        quantity=f"growth of the thickest frost, room {celsius:.0f} C {100 * humidity:.0f} %",
        unit="mm/h",
        printed=1.55,
        ours=3.6e6 * last.thickest / last.time,
        tolerance=1.45,
        kind="absolute",
        reason="band of the plate experiments, whatever their air and plate temperature",
    )


@pytest.mark.parametrize("surface", [-10.0, -7.0, -5.0, -3.0])
def test_density_against_another_author(published: Callable[..., Any], surface: float) -> None:
    """Authors disagree by far more than a third where the surface is cold."""
    published(
        model=MODEL,
        source="Hayashi, Aoki, Adachi and Hori 1977, 650 exp(0.277 t) (second-hand)",
        status="PUBLISHED",
        basis="equation",
        quantity=f"density of frost, surface {surface:.0f} C, dew point 3 C",
        unit="kg/m3",
        printed=frost_density_hayashi(ZERO_CELSIUS + surface),
        ours=frost_density_silva(ZERO_CELSIUS + surface, ZERO_CELSIUS + 3.0),
        tolerance=0.4,
        reason="spread taken for the density: 0.7 to 1.4 times",
        aim_only=True,
    )


def test_equations_as_printed() -> None:
    """650 exp(0.277 t) at -5 and -10 degrees; 494 exp(0.11 t - 0.06 dew) at -5 and 3 degrees."""
    assert frost_density_hayashi(268.15) == pytest.approx(162.7, abs=0.1)
    assert frost_density_hayashi(263.15) == pytest.approx(40.7, abs=0.1)
    assert frost_density_silva(268.15, 276.15) == pytest.approx(238.1, abs=0.1)

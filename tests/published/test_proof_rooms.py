"""A proof by water and watts in one test room, carried to the rooms of the other tests.

The unit is that of test_calibrated_dehumidifier.py, whose water and watts follow the mean curve of
six measured units. Here all that the model gets is what a person with a bucket and a plug-in meter
reads at 65 F, 60 %RH; no plate, no weighed charge.
"""

from __future__ import annotations

import functools
from collections.abc import Callable

import pytest
from tests.published.test_calibrated_dehumidifier import (
    CALIBRATED_IN,
    DISPLACEMENT,
    WATER_RATED,
    WATTS_RATED,
    job_of,
)
from tests.published.test_dehumidifier import ENERGY, WATER, ratio

from sweatline.bench.proof.bucket import Bucket
from sweatline.bench.proof.proof import ProofAnswer, ProofRequest, prove
from sweatline.units import WATER_DENSITY
from sweatline.units.kinds import US_PINT


def shown(temperature: float, humidity: float) -> tuple[float, float]:
    """Water [kg/s] and watts of the unit in a room. [K], [0..1]"""
    t, rh = temperature - 273.15, 100.0 * humidity
    water = WATER_RATED * ratio(WATER, t, rh)
    return water, WATTS_RATED * ratio(WATER, t, rh) / ratio(ENERGY, t, rh)


@functools.cache
def proved(fluid: str) -> ProofAnswer:
    t, rh = CALIBRATED_IN
    water, watts = shown(t + 273.15, rh / 100.0)
    return prove(
        ProofRequest(
            job=job_of(fluid), stood_still=3600.0, watts=watts,
            bucket=Bucket(amount=7200.0 * water, time=7200.0, amount_sd=72.0 * water),
            room_temperature=t + 273.15, room_temperature_sd=0.2,
            room_humidity=rh / 100.0, room_humidity_sd=0.01,
        )
    )  # fmt: skip


@pytest.mark.parametrize("fluid", list(DISPLACEMENT))
def test_carried_to_the_other_rooms(fluid: str, published: Callable[..., object]) -> None:
    for room in proved(fluid).rooms[1:]:
        water, watts = shown(room.temperature, room.relative_humidity)
        for name, unit, printed, ours in (
            ("water", "L/day", water * 86400.0, room.water.middle * 86400.0),
            ("watts", "W", watts, room.power.middle),
        ):
            published(
                model="Proof carried to other rooms",
                source="Winkler, Christensen & Tomerlin 2011 (NREL/TP-5500-52791), six units",
                status="PUBLISHED",
                basis="similar",
                quantity=f"{name} at {room.temperature - 273.15:.1f} C "
                f"{100 * room.relative_humidity:.0f} %, proved at 18.3 C 60 %, {fluid}",
                unit=unit,
                printed=printed,
                ours=ours,
                tolerance=0.10,
                reason="10 %: readings of water 5 %, and the six units differ among themselves",
            )


def test_a_pint_of_condensate(published: Callable[..., object]) -> None:
    published(
        model="Proof carried to other rooms",
        source="federal test procedure for dehumidifiers: 1.04 lb a pint, 0.454 kg a lb",
        status="MEMORY 0.85",
        basis="rule",
        quantity="mass of a US pint of condensate",
        unit="kg",
        printed=1.04 * 0.454,
        ours=US_PINT * WATER_DENSITY,
        tolerance=0.005,
        reason="three printed digits",
    )

"""Compressors known by their plate alone, against their maps.

The spread of efficiency is that of the welded maps on which the form was chosen, the input a
horsepower that of machines of the same two thirds: the third that was kept out judges.
"""

from __future__ import annotations

import csv
import functools
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.published.test_compressor_classes import MACHINES, SOURCE, Machine

from sweatline.assembly.parameters import Sample
from sweatline.assembly.pumping import compressor_parameters
from sweatline.job.model import Compressor
from sweatline.job.reading import read_job
from sweatline.parts.compressor import RATING_CONDITIONS, operate
from sweatline.refrigerant.refrigerant import load
from sweatline.uncertainty.parameter import Measured

MODEL = "Compressor known by its plate alone"
APPLICATIONS = {"HIGH": "HBP", "MED": "MBP", "LOW": "LBP"}
_EXAMPLE = Path(__file__).parents[2] / "examples" / "boat-shed.toml"
_TABLES = Path(__file__).parent


@functools.cache
def _blank() -> Compressor:
    one = read_job(_EXAMPLE).compressors[0]
    return replace(one, displacement=None, rated_current=None)


def by_watts(m: Machine) -> Compressor:
    watts = m.rating.power
    return replace(
        _blank(),
        refrigerant=m.refrigerant,
        application=APPLICATIONS[m.application],
        rated_frequency=m.frequency,
        rated_power=Measured(value=watts, sd=0.05 * watts, note="plate"),
    )


def by_size(m: Machine) -> Compressor:
    assert m.size is not None
    size = 745.7 * m.size
    known = Measured(value=size, sd=0.05 * size, note="plate")
    return replace(by_watts(m), rated_power=None, motor_size=known)


def capacity(m: Machine, compressor: Compressor, sample: Sample) -> float:
    """Where the machine is rated. [W]"""
    numbers = compressor_parameters(compressor, m.frequency, sample, m.refrigerant)
    return operate(m.table, numbers, **m.rating.condition._asdict()).capacity


def held(m: Machine, compressor: Compressor) -> tuple[float, float]:
    """Logarithm of ours over the map's, and one standard deviation of ours."""
    usual = Sample()
    ours = capacity(m, compressor, usual)
    square = 0.0
    for key in usual.seen:
        high, low = (capacity(m, compressor, Sample(z={key: z})) for z in (1.0, -1.0))
        square += (0.5 * math.log(high / low)) ** 2
    return math.log(ours / m.rating.capacity), math.sqrt(square)


WAYS = {"watts": by_watts, "the size of its motor": by_size}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("kept_out", [True, False], ids=["kept out", "looked at"])
def test_capacity(published: Callable[..., Any], way: str, kept_out: bool) -> None:
    machines = [m for m in MACHINES if m.kept_out == kept_out and (m.size or way == "watts")]
    off, sd = np.transpose([held(m, WAYS[way](m)) for m in machines])
    said = f"of {len(machines)} maps" + (", kept out of every choice" if kept_out else "")
    published(
        model=MODEL,
        source=SOURCE,
        status="PUBLISHED",
        basis="fitted",
        in_sample=not kept_out,
        quantity=f"by {way}: capacity at the rating point inside the likely range, share {said}",
        unit="",
        printed=0.9,
        ours=np.mean(np.abs(off) <= 1.645 * sd),
        tolerance=0.08,
        kind="absolute",
        reason="a range of 9 in 10; maps of a design hang together",
        aim_only=True,
    )
    assert np.sqrt(np.mean((off / sd) ** 2)) > 0.5  # and not twice too wide


def test_displacement_that_is_printed(published: Callable[..., Any]) -> None:
    """A household R-600a machine at the mains' speed and a rotary of 20.7 cm3; neither was used."""
    text = (_TABLES / "low_temperature_compressors.csv").read_text("utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    (household,) = [
        float(row["power_W"])
        for row in rows
        if (row["id"], row["speed_rpm"], row["te_C"], row["tc_C"]) == ("V1", "2000", "-25", "55")
    ]
    piston = replace(_blank(), refrigerant="R-600a", application="LBP")
    rotary = replace(_blank(), kind="rotary", refrigerant="R-22", application="HBP")
    for one, hertz, watts, printed, what, source in (
        (
            piston,
            2000.0 / 60.0 / 0.97,
            household,
            7.48e-6,
            "R-600a",
            "household R-600a table, as copied in a public data file",
        ),
        (rotary, 60.0, 1421.0, 20.7e-6, "rotary, R-22", "map of a measured rotary at 60 Hz"),
    ):
        known = Measured(value=watts, sd=0.05 * watts, note="plate")
        told = replace(one, rated_frequency=hertz, rated_power=known)
        sample = Sample()
        found = compressor_parameters(told, hertz, sample, told.refrigerant or "")
        published(
            model=MODEL,
            source=source,
            status="PUBLISHED",
            basis="table",
            quantity=f"by watts: displacement, {what}",
            unit="cm3",
            printed=1e6 * printed,
            ours=1e6 * found.displacement,
            tolerance=0.30,
            kind="relative",
            reason="efficiency of its kind and what a plate means, 9 in 10",
        )


def test_the_watts_of_the_plate_are_met() -> None:
    one = by_watts(next(m for m in MACHINES if m.application == "HIGH"))
    at = RATING_CONDITIONS["ARI air-conditioning"]._asdict()
    for key in ("efficiency", "clearance", "filling"):
        sample = Sample(z={("compressor", one.name, key): 1.5})
        numbers = compressor_parameters(one, one.rated_frequency, sample, one.refrigerant or "")
        assert one.rated_power is not None
        assert operate(load(one.refrigerant or "").table, numbers, **at).power == pytest.approx(
            one.rated_power.value, rel=1e-6
        )

"""Charge limits of rooms and warming potentials against what standards and statutes print.

Charges in kg, areas in m2, heights in m, flammable limits in kg/m3, as printed.
"""

from collections.abc import Callable
from typing import Any

import pytest

from sweatline.refrigerant.safety_data import safety_data
from sweatline.safety import charge_limits

MODEL = "Charge limits"
GG = "IEC 60335-2-40, Table GG.1"
TWO_PLACES = "printed to two places"

AREAS = (4.0, 7.0, 10.0, 15.0, 20.0, 30.0, 50.0)
# PUBLISHED. The older table reckons R-32 with 0.306. Two entries elsewhere in it are misprints.
TABLE_GG1 = [
    ("R-290", 0.038, 0.6, (0.05, 0.07, 0.08, 0.10, 0.11, 0.14, 0.18)),
    ("R-32", 0.306, 1.0, (1.14, 1.51, 1.80, 2.20, 2.54, 3.12, 4.02)),
]


@pytest.mark.parametrize(
    ("name", "lfl", "height", "printed", "area"),
    [
        (name, lfl, height, value, area)
        for name, lfl, height, row in TABLE_GG1
        for area, value in zip(AREAS, row, strict=True)
    ],
)
def test_table_gg1(
    published: Callable[..., Any],
    name: str,
    lfl: float,
    height: float,
    printed: float,
    area: float,
) -> None:
    published(
        model=MODEL,
        source=GG,
        status="PUBLISHED",
        basis="rule",
        quantity=f"{name}, release at {height:g} m, {area:g} m2",
        unit="kg",
        printed=printed,
        ours=charge_limits.room_charge(lfl=lfl, height=height, area=area),
        tolerance=0.0051,
        kind="absolute",
        reason=TWO_PLACES,
    )


def test_largest_propane_charge(published: Callable[..., Any]) -> None:
    limit = safety_data("R-290").lfl
    assert limit is not None
    published(
        model=MODEL,
        source="association of compressor makers, on R-290",
        status="PUBLISHED",
        basis="rule",
        quantity="R-290, largest charge of the area rule, m2",
        unit="kg",
        printed=0.988,
        ours=charge_limits.thresholds(limit).m2,
        tolerance=0.00051,
        kind="absolute",
        reason="printed in whole grams",
    )


# PUBLISHED in installation manuals.
@pytest.mark.parametrize(
    ("installation", "printed"), [("floor", 0.6), ("window", 1.0), ("wall", 1.8), ("ceiling", 2.2)]
)
def test_release_heights(
    published: Callable[..., Any], installation: charge_limits.Installation, printed: float
) -> None:
    published(
        model=MODEL,
        source="IEC 60335-2-40, Annex GG, installation manuals",
        status="PUBLISHED",
        basis="rule",
        quantity=f"release height, {installation}",
        unit="m",
        printed=printed,
        ours=charge_limits.RELEASE_HEIGHT[installation],
        tolerance=1e-9,
        kind="absolute",
        reason="a definition",
    )


# PUBLISHED: 42 USC 7675(c), exchange values; they are the AR4 potentials.
EXCHANGE = {"R-32": 675.0, "R-125": 3500.0, "R-134a": 1430.0, "R-143a": 4470.0, "R-152a": 124.0}
# Mass fractions of the blends, by their designation (ASHRAE 34).
BLENDS = {
    "R-404A": {"R-125": 0.44, "R-143a": 0.52, "R-134a": 0.04},
    "R-407C": {"R-32": 0.23, "R-125": 0.25, "R-134a": 0.52},
    "R-410A": {"R-32": 0.50, "R-125": 0.50},
}


@pytest.mark.parametrize("name", ["R-32", "R-134a", "R-152a", *BLENDS])
def test_warming_potential(published: Callable[..., Any], name: str) -> None:
    parts = BLENDS.get(name, {name: 1.0})
    ours = safety_data(name).gwp_ar4
    assert ours is not None
    published(
        model="Safety data",
        source="42 USC 7675(c), exchange values",
        status="PUBLISHED",
        basis="rule",
        quantity=f"{name}, warming potential"
        + (", mass-weighted sum of the components" if name in BLENDS else ""),
        unit="",
        printed=sum(share * EXCHANGE[part] for part, share in parts.items()),
        ours=ours,
        tolerance=0.051,
        kind="absolute",
        reason="whole numbers in print; sums are kept to one place",
    )

"""Names of refrigerants and of rating conditions, however they are written."""

import math

import pytest

from sweatline.errors import JobError
from sweatline.job.vocabulary import (
    CONVENTIONS,
    REFRIGERANTS,
    convention,
    design_pressures,
)
from sweatline.refrigerant.names import find


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("R-134a", "R-134a"),
        ("r134A", "R-134a"),
        ("R 134 a", "R-134a"),
        ("HFC-134a", "R-134a"),
        ("134a", "R-134a"),
        ("HCFC22", "R-22"),
        ("CFC-12", "R-12"),
        ("propane", "R-290"),
        ("HC 600a", "R-600a"),
        ("HFO-1234yf", "R-1234yf"),
        ("R1234ze(E)", "R-1234ze(E)"),
        ("R-1234zeE", "R-1234ze(E)"),
        ("r410a", "R-410A"),
        ("R-32", "R-32"),
    ],
)
def test_refrigerant_names(written: str, name: str) -> None:
    assert find(written) == name


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_every_refrigerant_is_called_by_its_name(name: str) -> None:
    assert find(name) == find(name.lower()) == find(name.replace("-", "")) == name
    low, high = design_pressures(name)
    assert 1e5 < low < high < 5e6


@pytest.mark.parametrize("written", ["R-134b", "R-13", "water", "", "R", "R-410", "134"])
def test_names_that_mean_nothing_or_too_much(written: str) -> None:
    with pytest.raises(JobError, match="no such refrigerant"):
        find(written)


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("ashrae lbp", "ASHRAE LBP"),
        ("EN12900 Household", "EN 12900 household"),
        ("ARI-AC", "ARI AC"),
    ],
)
def test_condition_names(written: str, name: str) -> None:
    assert convention(written).name == name


def test_an_unknown_condition_is_refused() -> None:
    with pytest.raises(JobError, match="nearest: CECOMAF"):
        convention("CECOMAV")


# Printed to one digit: evaporating, condensing, return gas, liquid. [degrees Celsius]
PRINTED = [
    # MEMORY 0.95; the 32.2/32.2 convention agrees with a published three-point R-600a set
    ("ASHRAE LBP", (-23.3, 54.4, 32.2, 32.2)),
    ("ASHRAE HBP", (7.2, 54.4, 35.0, 46.1)),  # MEMORY 0.9
    ("CECOMAF", (-25.0, 55.0, 32.0, 55.0)),  # MEMORY 0.85
    ("EN 12900 household", (-35.0, 40.0, 20.0, 40.0)),  # MEMORY 0.75
    # PUBLISHED: note of the International Institute of Refrigeration on compressor capacity
    ("EN 12900 AC", (5.0, 50.0, 15.0, 50.0)),
    ("ARI AC", (7.2, 54.4, 18.3, 46.1)),
    # PUBLISHED: ten-term maps of an open building-simulation data set
    ("commercial HBP", (7.2, 54.4, 18.3, 54.4)),
    ("commercial MBP", (-6.7, 48.9, 18.3, 48.9)),
    ("commercial LBP", (-31.7, 40.6, 18.3, 40.6)),
]


@pytest.mark.parametrize(("name", "printed"), PRINTED)
def test_conditions_as_printed(name: str, printed: tuple[float, ...]) -> None:
    found = CONVENTIONS[name]
    ours = (found.evaporating, found.condensing, found.suction, found.liquid)
    for value, celsius in zip(ours, printed, strict=True):
        # 0.06 K: the source prints one digit, and 0.05 K is its rounding.
        assert math.isclose(value - 273.15, celsius, abs_tol=0.06)


def test_every_condition_is_listed_once() -> None:
    assert [name for name, _ in PRINTED] == list(CONVENTIONS)

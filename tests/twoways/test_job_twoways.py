"""Numbers of the job reader a second way: equations of state and psychrometrics of others."""

import math

import CoolProp
import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI

from sweatline.job.defaults import atmospheric_pressure
from sweatline.job.names import REFRIGERANTS, design_pressures

MIXTURES = {"R-448A", "R-454B", "R-454C", "R-455A", "R-513A"}


def reference_name(name: str) -> str:
    plain = {"R-152a": "R152A"}.get(name, name.replace("-", ""))
    return f"{plain}.mix" if name in MIXTURES else plain


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_design_pressures_agree_with_the_equation_of_state(name: str) -> None:
    ours = design_pressures(name)
    for pressure, celsius in zip(ours, (26.7, 63.0), strict=True):
        theirs = PropsSI("P", "T", celsius + 273.15, "Q", 0, reference_name(name))
        # The table keeps 0.01 bar; the equation of state is the same, so nothing but rounding.
        assert math.isclose(pressure, theirs, abs_tol=0.006e5), CoolProp.__version__


@pytest.mark.parametrize("altitude", [-400.0, 0.0, 640.0, 1500.0, 5000.0])
def test_the_atmosphere_agrees_with_psychrolib(altitude: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    theirs = psychrolib.GetStandardAtmPressure(altitude)
    assert math.isclose(atmospheric_pressure(altitude), theirs, rel_tol=1e-9)

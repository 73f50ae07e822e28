"""Safety data: complete, each value with its status, and in agreement with itself.

The comparisons between fields are no evidence for the numbers; they catch slips of copying, such
as a limit in the wrong unit.
"""

import math
import re
from dataclasses import fields

import pytest

from sweatline.errors import JobError
from sweatline.job.vocabulary import REFRIGERANTS
from sweatline.refrigerant.names import hydrocarbon_shares
from sweatline.refrigerant.safety_data import Provenance, known_names, safety_data

MOLAR_VOLUME = 24.45e-3  # m3/mol at 25 °C and 1 atm, as concentration limits are reckoned
STATUS = re.compile(r"PUBLISHED|COMPUTED|CONFLICT|unknown|not applicable|MEMORY 0\.\d+")

# Molar masses, textbook. [kg/mol]
MOLAR_MASS = {
    "R-12": 0.12091,
    "R-22": 0.08647,
    "R-32": 0.05202,
    "R-134a": 0.10203,
    "R-152a": 0.06605,
    "R-290": 0.04410,
    "R-600a": 0.05812,
    "R-1270": 0.04208,
    "R-1234yf": 0.11404,
    "R-1234ze(E)": 0.11404,
    "R-404A": 0.0976,
    "R-407C": 0.0862,
    "R-410A": 0.0726,
    "R-448A": 0.0863,
    "R-454B": 0.0626,
    "R-454C": 0.0908,
    "R-455A": 0.0875,
    "R-513A": 0.1084,
    "R-417A": 0.1067,
    "R-422B": 0.1085,
    "R-422D": 0.1099,
    "R-427A": 0.0904,
    "R-436A": 0.0493,
    "R-436B": 0.0499,
    "R-449A": 0.0872,
    "R-450A": 0.1087,
    "R-452A": 0.1035,
    "R-500": 0.0993,
    "R-507A": 0.0989,
}

everyone = pytest.mark.parametrize("name", known_names())


def test_every_refrigerant_of_a_job_has_safety_data() -> None:
    assert set(known_names()) == set(REFRIGERANTS) == set(MOLAR_MASS)


@everyone
def test_every_field_says_how_sure_it_is(name: str) -> None:
    data = safety_data(name)
    for field in fields(data):
        if field.name in ("name", "family", "provenance", "oils_limited"):
            continue
        known = data.provenance[field.name]
        assert STATUS.fullmatch(known.status), (name, field.name, known)
        absent = known.status in ("unknown", "not applicable")
        assert absent == (getattr(data, field.name) is None), (name, field.name)
        if known.status in ("PUBLISHED", "COMPUTED"):
            assert known.source, (name, field.name)
        if known.status == "CONFLICT" and field.name == "lfl":
            assert known.note


@everyone
def test_flammable_and_only_flammable_have_a_flammable_limit(name: str) -> None:
    data = safety_data(name)
    assert data.flammable == (data.safety_class in ("A2L", "A2", "A3"))
    assert (data.lfl is not None) == data.flammable
    assert (data.lfl_volume is not None) == data.flammable


@everyone
def test_limits_by_volume_and_by_mass_agree(name: str) -> None:
    data = safety_data(name)
    density = MOLAR_MASS[name] / MOLAR_VOLUME
    assert data.rcl is not None
    assert data.rcl_volume is not None
    # two significant digits in each, so up to 5 % between them
    assert math.isclose(data.rcl, data.rcl_volume * density, rel_tol=0.05)
    if data.lfl is not None and data.lfl_volume is not None:
        assert math.isclose(data.lfl, data.lfl_volume * density, rel_tol=0.03)


@everyone
def test_concentration_limit_is_no_higher_than_what_bounds_it(name: str) -> None:
    data = safety_data(name)
    assert data.rcl is not None
    # a quarter of the flammable limit, and the toxicity limit; 5 % for two digits in each
    if data.lfl is not None:
        assert data.rcl <= 0.25 * data.lfl * 1.05
    if data.atel_odl is not None:
        assert data.rcl <= data.atel_odl * 1.05


def test_units_are_converted() -> None:
    data = safety_data("R-290")
    assert data.boiling_point is not None
    assert math.isclose(data.boiling_point, 231.04, abs_tol=0.01)
    assert data.autoignition == 723.15
    assert data.burning_velocity == 0.46
    assert data.rcl_volume == 5300e-6
    assert data.rcl == 9.5e-3


@pytest.mark.parametrize("name", ["R-290/R-600a 60/40", "R-1270/R-290/R-600a 20/30/50"])
def test_a_mixture_of_hydrocarbons_is_no_better_than_its_parts(name: str) -> None:
    mixture = safety_data(name)
    parts = [safety_data(part) for part in hydrocarbon_shares(name)]
    assert mixture.safety_class == "A3"
    assert mixture.lfl is not None
    assert mixture.rcl is not None
    assert mixture.lfl < min(part.lfl for part in parts if part.lfl is not None)
    assert mixture.rcl <= 0.25 * mixture.lfl * (1.0 + 1e-12)
    assert mixture.rcl < max(part.rcl for part in parts if part.rcl is not None)
    assert mixture.autoignition == min(part.autoignition or math.inf for part in parts)
    assert all(oil in part.oils for part in parts for oil in mixture.oils)
    assert mixture.charge_as == "liquid"
    assert mixture.provenance["lfl"].status == "COMPUTED"
    if name == "R-290/R-600a 60/40":
        # By hand: 66.41 and 33.59 % by mole, of 1.7 and 1.3 % in air.
        assert mixture.lfl_volume == pytest.approx(0.015407, rel=1e-4)


def test_a_mixture_near_a_named_one_has_its_data() -> None:
    named, free = safety_data("R-436A"), safety_data("R-290/R-600a 56/44")
    assert free.lfl == pytest.approx(named.lfl, rel=0.01)
    assert free.rcl == pytest.approx(named.rcl, rel=0.01)
    assert set(free.oils) == set(named.oils)


def test_bounds_and_remarks_survive() -> None:
    assert safety_data("R-454C").provenance["burning_velocity"].upper_bound
    assert not safety_data("R-32").provenance["burning_velocity"].upper_bound
    disputed = safety_data("R-454B").provenance["lfl"]
    assert disputed.status == "CONFLICT"
    assert all(value in disputed.note for value in ("0.296", "0.303", "0.353"))
    assert safety_data("R-1234ze(E)").provenance["burning_velocity"].status == "unknown"
    assert safety_data("R-134a").provenance["lfl"].status == "not applicable"


@pytest.mark.parametrize(
    ("status", "to_confirm"),
    [
        ("PUBLISHED", False),
        ("COMPUTED", False),
        ("not applicable", False),
        ("MEMORY 0.85", True),
        ("CONFLICT", True),
        ("unknown", True),
    ],
)
def test_what_must_be_confirmed(status: str, to_confirm: bool) -> None:
    assert Provenance(status=status).to_confirm == to_confirm


def test_blends_are_charged_as_liquid() -> None:
    for name in known_names():
        blend = name.startswith(("R-4", "R-5"))
        assert (safety_data(name).charge_as == "liquid") == blend


def test_unknown_name_is_refused_with_the_known_ones() -> None:
    with pytest.raises(JobError, match=r"R-999.*known: R-12, R-22"):
        safety_data("R-999")

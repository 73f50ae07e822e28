"""What must hold for any charge limit: exponents, inverses, order, and no gain from a leak."""

import math

from hypothesis import given
from hypothesis import strategies as st

from sweatline.refrigerant.safety_data import known_names, safety_data
from sweatline.safety import charge_limits

LFL = st.floats(0.03, 0.5)
HEIGHT = st.floats(0.6, 2.2)
AREA = st.floats(1.0, 500.0)
CHARGE = st.floats(0.01, 5.0)
FACTOR = st.floats(1.1, 4.0)
NAMES = st.sampled_from(known_names())
FLAMMABLE = st.sampled_from([n for n in known_names() if safety_data(n).flammable])


@given(lfl=LFL, height=HEIGHT, area=AREA, factor=FACTOR)
def test_exponents_of_every_argument(lfl: float, height: float, area: float, factor: float) -> None:
    one = charge_limits.room_charge(lfl=lfl, height=height, area=area)
    by_lfl = charge_limits.room_charge(lfl=factor * lfl, height=height, area=area)
    by_height = charge_limits.room_charge(lfl=lfl, height=factor * height, area=area)
    by_area = charge_limits.room_charge(lfl=lfl, height=height, area=factor * area)
    assert math.isclose(by_lfl / one, factor**1.25, rel_tol=1e-12)
    assert math.isclose(by_height / one, factor, rel_tol=1e-12)
    assert math.isclose(by_area / one, factor**0.5, rel_tol=1e-12)


@given(charge=CHARGE, lfl=LFL, height=HEIGHT)
def test_area_and_charge_are_inverse(charge: float, lfl: float, height: float) -> None:
    area = charge_limits.minimum_area(charge=charge, lfl=lfl, height=height)
    assert math.isclose(
        charge_limits.room_charge(lfl=lfl, height=height, area=area), charge, rel_tol=1e-12
    )
    mild = charge_limits.minimum_area_a2l(charge=charge, lfl=lfl, height=height)
    assert math.isclose(
        charge_limits.room_charge_a2l(lfl=lfl, height=height, area=mild), charge, rel_tol=1e-12
    )


@given(lfl=LFL, height=HEIGHT, area=AREA)
def test_the_later_edition_is_never_laxer_on_the_room(
    lfl: float, height: float, area: float
) -> None:
    arguments = {"lfl": lfl, "height": height, "area": area}
    assert charge_limits.room_charge_a2l(**arguments) <= charge_limits.room_charge(**arguments)


@given(name=FLAMMABLE, small=AREA, factor=FACTOR)
def test_a_larger_room_never_allows_less(name: str, small: float, factor: float) -> None:
    for edition in ("area rule", "A2L 2018"):
        less = charge_limits.charge_limit(name, floor_area=small, edition=edition)
        more = charge_limits.charge_limit(name, floor_area=factor * small, edition=edition)
        assert less.allowed <= more.allowed
        assert less.thresholds is not None
        assert less.thresholds.m1 <= less.allowed <= less.thresholds.m2


@given(name=NAMES, charge=CHARGE, volume=st.floats(5.0, 500.0))
def test_the_allowed_charge_reaches_the_concentration_limit(
    name: str, charge: float, volume: float
) -> None:
    room = charge_limits.room_concentration(name, charge=charge, room_volume=volume)
    assert math.isclose(room.concentration * volume, charge, rel_tol=1e-12)
    assert room.allowed is not None
    assert room.share is not None
    assert math.isclose(room.share, charge / room.allowed, rel_tol=1e-12)
    assert room.within == (charge <= room.allowed) or math.isclose(charge, room.allowed)

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


@given(name=FLAMMABLE, small=AREA, factor=FACTOR)
def test_a_larger_room_never_allows_less(name: str, small: float, factor: float) -> None:
    less = charge_limits.charge_limit(name, floor_area=small)
    more = charge_limits.charge_limit(name, floor_area=factor * small)
    assert less.allowed <= more.allowed
    assert less.lfl is not None
    steps = charge_limits.thresholds(less.lfl)
    assert steps.m1 <= less.allowed <= steps.m2


@given(name=NAMES, charge=CHARGE, volume=st.floats(5.0, 500.0))
def test_a_leak_is_spread_over_the_room(name: str, charge: float, volume: float) -> None:
    room = charge_limits.room_concentration(name, charge=charge, room_volume=volume)
    assert math.isclose(room.concentration * volume, charge, rel_tol=1e-12)
    assert room.limit is not None

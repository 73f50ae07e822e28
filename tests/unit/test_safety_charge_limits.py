"""Which branch of the room rule was taken, what is said with it, and what is refused."""

import math

import pytest

from sweatline.errors import OutOfRange
from sweatline.safety.charge_limits import (
    FIELD_CONVERSION,
    LOCAL_CODE,
    RELEASE_HEIGHT,
    charge_limit,
    room_charge,
    room_concentration,
)


def test_no_flammable_limit_sets_no_charge() -> None:
    limit = charge_limit("R-134a", floor_area=5.0)
    assert limit.allowed == math.inf
    assert limit.allowed >= 10.0
    assert limit.statements == (LOCAL_CODE,)


def test_without_a_floor_area_only_the_charge_that_needs_none() -> None:
    limit = charge_limit("R-290")
    assert math.isclose(limit.allowed, 0.152)
    assert 0.152 <= limit.allowed < 0.153


def test_small_room_falls_back_on_the_charge_without_a_rule() -> None:
    limit = charge_limit("R-290", floor_area=10.0)
    assert room_charge(lfl=0.038, height=0.6, area=10.0) < limit.allowed
    assert math.isclose(limit.allowed, 0.152)


def test_middling_room_is_ruled_by_its_area() -> None:
    limit = charge_limit("R-290", floor_area=98.7)
    assert math.isclose(limit.allowed, 0.25, rel_tol=1e-3)


def test_large_room_is_capped() -> None:
    limit = charge_limit("R-290", installation="ceiling", floor_area=5000.0)
    assert math.isclose(limit.allowed, 0.988)


def test_higher_machine_may_hold_more() -> None:
    heights = [RELEASE_HEIGHT[i] for i in ("floor", "window", "wall", "ceiling")]
    allowed = [
        charge_limit("R-290", installation=i, floor_area=60.0).allowed
        for i in ("floor", "window", "wall", "ceiling")
    ]
    assert heights == sorted(heights)
    assert allowed == sorted(allowed)
    assert allowed[0] < allowed[-1]


def test_a_conversion_hears_that_factory_clauses_are_not_for_it() -> None:
    limit = charge_limit("R-152a", floor_area=20.0)
    assert FIELD_CONVERSION in limit.statements
    assert LOCAL_CODE in limit.statements
    assert any("not checked in print" in s for s in limit.statements)


def test_disputed_limit_is_told() -> None:
    limit = charge_limit("R-454B", floor_area=20.0)
    assert any("0.296" in s for s in limit.statements)


@pytest.mark.parametrize("area", [0.0, -3.0, math.nan, math.inf])
def test_impossible_floor_area(area: float) -> None:
    with pytest.raises(OutOfRange, match="floor area"):
        charge_limit("R-290", floor_area=area)


def test_concentration_of_the_most_toxic_one() -> None:
    room = room_concentration("R-1270", charge=0.1, room_volume=50.0)
    assert math.isclose(room.concentration, 0.002)
    assert room.limit is not None
    assert math.isclose(room.limit, 0.0017)
    assert room.limit_status == "MEMORY 0.85"


@pytest.mark.parametrize(("charge", "volume"), [(0.1, 0.0), (math.nan, 20.0), (-0.1, 20.0)])
def test_impossible_leak(charge: float, volume: float) -> None:
    with pytest.raises(OutOfRange):
        room_concentration("R-290", charge=charge, room_volume=volume)

"""Which branch of the room rule was taken, what is said with it, and what is refused."""

import math

import pytest

from sweatline.errors import OutOfRange
from sweatline.safety.charge_limits import (
    FIELD_CONVERSION,
    LOCAL_CODE,
    charge_limit,
    release_height,
    room_charge,
    room_concentration,
    thresholds,
)


def test_no_flammable_limit_sets_no_charge() -> None:
    limit = charge_limit("R-134a", floor_area=5.0)
    assert limit.branch == "no flammable limit"
    assert limit.allowed == math.inf
    assert limit.allows(10.0)
    assert limit.thresholds is None
    assert limit.statements == (LOCAL_CODE,)


def test_without_a_floor_area_only_the_charge_that_needs_none() -> None:
    limit = charge_limit("R-290")
    assert limit.branch == "floor area unknown"
    assert math.isclose(limit.allowed, 0.152)
    assert limit.allows(0.152)
    assert not limit.allows(0.153)


def test_small_room_falls_back_on_the_charge_without_a_rule() -> None:
    limit = charge_limit("R-290", floor_area=10.0)
    assert limit.branch == "no room rule"
    assert room_charge(lfl=0.038, height=0.6, area=10.0) < limit.allowed
    assert math.isclose(limit.allowed, 0.152)


def test_middling_room_is_ruled_by_its_area() -> None:
    limit = charge_limit("R-290", floor_area=98.7)
    assert limit.branch == "floor area, root"
    assert math.isclose(limit.allowed, 0.25, rel_tol=1e-3)


def test_large_room_is_capped() -> None:
    limit = charge_limit("R-290", installation="ceiling", floor_area=5000.0)
    assert limit.branch == "largest charge of the rule"
    assert math.isclose(limit.allowed, 0.988)


def test_higher_machine_may_hold_more() -> None:
    heights = [release_height(i) for i in ("floor", "window", "wall", "ceiling")]
    allowed = [
        charge_limit("R-290", installation=i, floor_area=60.0).allowed
        for i in ("floor", "window", "wall", "ceiling")
    ]
    assert heights == sorted(heights)
    assert allowed == sorted(allowed)
    assert allowed[0] < allowed[-1]


def test_opening_above_the_underside_counts() -> None:
    assert release_height("floor", opening=0.3) == 0.6
    assert release_height("floor", opening=0.9) == 0.9
    assert math.isclose(release_height("window", opening=0.2), 1.2)
    raised = charge_limit("R-290", floor_area=80.0, opening=0.9)
    assert raised.release_height == 0.9
    assert raised.allowed > charge_limit("R-290", floor_area=80.0).allowed


def test_edition_of_2018_concerns_class_a2l_only() -> None:
    classic = charge_limit("R-32", floor_area=20.0)
    later = charge_limit("R-32", floor_area=20.0, edition="A2L 2018")
    assert classic.thresholds is not None
    assert later.thresholds is not None
    assert math.isclose(later.thresholds.m1, 1.5 * classic.thresholds.m1)
    assert "2018" in later.source
    propane = thresholds(lfl=0.038, safety_class="A3", edition="A2L 2018")
    assert propane == thresholds(lfl=0.038, safety_class="A3")
    high = charge_limit("R-32", installation="ceiling", floor_area=9.0, edition="A2L 2018")
    assert high.branch in ("floor area, linear", "floor area, root", "no room rule")


def test_linear_branch_is_named() -> None:
    # both forms cross where 0.75 LFL h0 A = 2.5 LFL^1.25 h0 sqrt(A): A = (2.5/0.75)^2 sqrt(LFL)
    crossing = (2.5 / 0.75) ** 2 * math.sqrt(0.307)
    below = charge_limit(
        "R-32", installation="ceiling", floor_area=0.99 * crossing, edition="A2L 2018"
    )
    above = charge_limit(
        "R-32", installation="ceiling", floor_area=1.01 * crossing, edition="A2L 2018"
    )
    assert below.branch == "floor area, linear"
    assert above.branch == "floor area, root"
    assert below.allowed < above.allowed


def test_a_conversion_hears_that_factory_clauses_are_not_for_it() -> None:
    limit = charge_limit("R-152a", floor_area=20.0)
    assert FIELD_CONVERSION in limit.statements
    assert LOCAL_CODE in limit.statements
    assert any("not checked in print" in s for s in limit.statements)


def test_disputed_limit_is_told() -> None:
    limit = charge_limit("R-454B", floor_area=20.0)
    assert limit.lfl_status == "CONFLICT"
    assert any("0.296" in s for s in limit.statements)


@pytest.mark.parametrize("area", [0.0, -3.0, math.nan, math.inf])
def test_impossible_floor_area(area: float) -> None:
    with pytest.raises(OutOfRange, match="floor area"):
        charge_limit("R-290", floor_area=area)


def test_concentration_of_the_most_toxic_one() -> None:
    room = room_concentration("R-1270", charge=0.1, room_volume=50.0)
    assert room.within is False
    assert room.share is not None
    assert math.isclose(room.share, 0.002 / 0.0017)
    assert room.allowed is not None
    assert math.isclose(room.allowed, 0.085)
    assert room.flammable_share is not None
    assert math.isclose(room.flammable_share, 0.002 / 0.046)
    assert room.limit_status == "MEMORY 0.85"


def test_concentration_without_a_flammable_limit() -> None:
    room = room_concentration("R-134a", charge=0.3, room_volume=30.0)
    assert room.within is True
    assert room.flammable_share is None


@pytest.mark.parametrize(("charge", "volume"), [(0.1, 0.0), (math.nan, 20.0), (-0.1, 20.0)])
def test_impossible_leak(charge: float, volume: float) -> None:
    with pytest.raises(OutOfRange):
        room_concentration("R-290", charge=charge, room_volume=volume)

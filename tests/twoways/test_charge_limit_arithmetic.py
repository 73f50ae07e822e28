"""Charge limits against the formulas of the annex worked by hand."""

from collections.abc import Callable

import pytest

from sweatline.safety import charge_limits


# By hand from the volumes of the annex: a guard on the flammable limits in use.
@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("R-290", 0.152),
        ("R-600a", 0.172),
        ("R-1270", 0.168),
        ("R-32", 1.228),
        ("R-152a", 0.520),
        ("R-454B", 1.160),
        ("R-1234yf", 1.156),
    ],
)
def test_charge_without_a_room_rule(
    computed: Callable[..., None], name: str, printed: float
) -> None:
    limit = charge_limits.charge_limit(name)
    assert limit.lfl is not None
    computed(
        source="4 m3 times the flammable limit",
        quantity=f"{name}, charge without a rule on the room, m1",
        unit="kg",
        expected=printed,
        ours=charge_limits.thresholds(limit.lfl).m1,
        tolerance=0.00051,
        kind="absolute",
        reason="given to three places",
    )


@pytest.mark.parametrize(("area", "printed"), [(10.0, 0.0796), (20.0, 0.1125)])
def test_unrounded_propane_rows(computed: Callable[..., None], area: float, printed: float) -> None:
    computed(
        source="formula of the annex by hand",
        quantity=f"R-290, release at 0.6 m, {area:g} m2",
        unit="kg",
        expected=printed,
        ours=charge_limits.room_charge(lfl=0.038, height=0.6, area=area),
        tolerance=0.000051,
        kind="absolute",
        reason="given to four places",
    )

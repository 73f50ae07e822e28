"""When a foretold reading is acted on: what must hold for any advice and any outlooks."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sweatline.answers import Range
from sweatline.charging.dosing import LAST, LONGEST, SHORTEST, DoseAdvice, still_moving
from sweatline.charging.settling import Outlook
from sweatline.log.channels import CHARACTERS

CHARGE = 0.2
NAMES = ("suction gauge", "suction gas")


def outlooks(width: float, state: str = "drifting") -> dict[str, Outlook]:
    """Of two channels, as wide as so many tolerances."""
    half = 0.5 * width
    return {
        n: Outlook(
            state=state,  # type: ignore[arg-type]
            settled=3e5,
            low=3e5 - half * CHARACTERS[n].tolerance,
            high=3e5 + half * CHARACTERS[n].tolerance,
            look_again=60.0,
        )
        for n in NAMES
    }


def advice(action: str, dose: float, short: float = 0.0) -> DoseAdvice:
    return DoseAdvice(
        action=action,  # type: ignore[arg-type]
        dose=dose,
        best=Range(low=0.19, middle=0.21, high=0.23),
        chance_over=0.01,
        chance_short=short,
        expected={},
        odd=False,
    )


def moving(a: DoseAdvice, width: float, waited: float, state: str = "drifting") -> tuple[str, ...]:
    return still_moving(a, CHARGE, outlooks(width, state), waited)


@given(st.floats(0.0, 40.0), st.floats(0.0, 3000.0), st.floats(0.0, 3000.0))
def test_who_need_not_wait_now_need_not_wait_later(width: float, one: float, other: float) -> None:
    early, late = min(one, other), max(one, other)
    for a in (advice("add", 0.02), advice("add", 0.002), advice("stop", 0.0, 0.3)):
        if not moving(a, width, early):
            assert not moving(a, width, late)


@given(st.floats(0.0, 40.0), st.floats(0.0, 3000.0))
def test_nobody_waits_for_ever(width: float, waited: float) -> None:
    for a in (advice("add", 0.002), advice("stop", 0.0, 0.5), advice("take out", -0.01)):
        if waited >= LAST:
            assert not moving(a, width, waited)


def test_a_bold_dose_that_is_safe_now_needs_no_narrow_outlook() -> None:
    assert not moving(advice("add", 0.1 * CHARGE), 30.0, SHORTEST)
    assert moving(advice("add", 0.02 * CHARGE), 30.0, SHORTEST)
    assert not moving(advice("add", 0.02 * CHARGE), 3.0, SHORTEST)
    # What has just been disturbed is known to nobody, whatever the dose.
    assert moving(advice("add", 0.1 * CHARGE), 30.0, SHORTEST, "disturbed")


def test_a_bold_dose_that_a_limit_speaks_against_waits_like_a_small_one() -> None:
    bold = advice("add", 0.1 * CHARGE)
    wide = outlooks(30.0)
    assert still_moving(bold, CHARGE, wide, SHORTEST, bold=False)
    assert not still_moving(bold, CHARGE, wide, LONGEST, bold=False)
    assert not still_moving(bold, CHARGE, outlooks(3.0), SHORTEST, bold=False)


def test_stop_is_said_after_ten_quiet_minutes_and_later_where_it_may_be_short() -> None:
    assert moving(advice("stop", 0.0), 1.0, LONGEST - 1.0)
    assert not moving(advice("stop", 0.0), 1.0, LONGEST)
    assert moving(advice("stop", 0.0, short=0.2), 1.0, LONGEST)
    assert not moving(advice("stop", 0.0, short=0.2), 1.0, LAST)

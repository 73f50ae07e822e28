"""What holds for every quantity: reading inverts showing, and nothing but UnitError is raised."""

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sweatline.errors import UnitError
from sweatline.units import KINDS, Kind, Parsed, System, parse, show
from sweatline.units.kinds import spellings, squeeze, units_of

ATMOSPHERES = st.floats(5e4, 1.1e5)
SYSTEMS: list[System] = ["US", "SI"]

# Values of each kind that a small machine can have. [SI]
ORDINARY: dict[Kind, tuple[float, float]] = {
    "pressure": (0.0, 5e6),
    "gauge pressure": (0.0, 5e6),
    "absolute pressure": (1e-2, 5e6),
    "pressure difference": (1e-3, 1e6),
    "temperature": (150.0, 500.0),
    "temperature difference": (0.01, 100.0),
    "fin pitch": (1e-4, 1e-2),
    "relative humidity": (0.0, 1.0),
    "bore": (3e-4, 5e-3),
    "water per energy": (1e-8, 1e-5),
}


def ordinary(kind: Kind) -> tuple[float, float]:
    return ORDINARY.get(kind, (1e-6, 1e4))


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("kind", KINDS)
@given(share=st.floats(0.0, 1.0), atmosphere=ATMOSPHERES)
def test_what_is_shown_can_be_read_back(
    kind: Kind, system: System, share: float, atmosphere: float
) -> None:
    low, high = ordinary(kind)
    value = low + share * (high - low)
    text = show(value, kind, system, 9, atmosphere=atmosphere)
    back = parse(text, kind, atmosphere=atmosphere).value
    # Nine digits were asked for; a bore in inches keeps nine decimals.
    assert math.isclose(back, value, rel_tol=2e-7, abs_tol=1e-9 * (high - low))


@pytest.mark.parametrize("kind", KINDS)
@given(number=st.floats(1e-3, 1e5), atmosphere=ATMOSPHERES)
def test_every_unit_inverts(kind: Kind, number: float, atmosphere: float) -> None:
    for unit in units_of(kind):
        value = unit.si(number, atmosphere)
        scale = max(
            abs(number), abs(unit.offset), atmosphere / unit.factor if unit.reference else 0
        )
        assert math.isclose(
            unit.number(value, atmosphere), number, rel_tol=1e-9, abs_tol=1e-14 * scale
        )


@pytest.mark.parametrize("kind", KINDS)
def test_every_spelling_leads_to_one_unit(kind: Kind) -> None:
    for spelled, unit in spellings(kind).items():
        assert squeeze(spelled) == spelled
        if not spelled or unit.reference == "vacuum":
            continue
        parsed = parse(f"1 {spelled}", kind)
        assert math.isclose(parsed.value, unit.si(1.0, 101325.0), rel_tol=1e-12)


@given(
    first=st.floats(1.0, 1e4),
    second=st.floats(1.0, 1e4),
    atmosphere=ATMOSPHERES,
)
def test_gauge_differences_do_not_depend_on_the_atmosphere(
    first: float, second: float, atmosphere: float
) -> None:
    here = [parse(f"{n} psig", "pressure", atmosphere=atmosphere).value for n in (first, second)]
    sea = [parse(f"{n} psig", "pressure").value for n in (first, second)]
    assert math.isclose(here[0] - here[1], sea[0] - sea[1], rel_tol=1e-9, abs_tol=1e-6)


@given(number=st.floats(-100.0, 300.0))
def test_a_temperature_and_its_difference_are_different_kinds(number: float) -> None:
    one = parse(f"{number!r} °F", "temperature").value
    other = parse(f"{number + 9.0!r} °F", "temperature").value
    assert math.isclose(other - one, parse("9 °F", "temperature difference").value, rel_tol=1e-9)


@given(number=st.floats(0.01, 900.0), share=st.floats(0.001, 0.5))
def test_a_stated_uncertainty_scales_with_the_unit(number: float, share: float) -> None:
    sd = number * share
    for unit in ("cc", "L", "in3"):
        parsed = parse(f"{number!r} ± {sd!r} {unit}", "volume")
        assert parsed.sd is not None
        assert math.isclose(parsed.sd / parsed.value, share, rel_tol=1e-9)


@pytest.mark.parametrize(
    "text", ["1 Ah", "1,5", "٣ W", "² W", "1⁄2 in", "0x10 W", "nan W", "inf W"]
)
@pytest.mark.parametrize("kind", KINDS)
def test_odd_text_is_read_or_refused(text: str, kind: Kind) -> None:
    read_or_refused(text, kind)


def read_or_refused(text: str, kind: Kind) -> Parsed | None:
    try:
        parsed = parse(text, kind)
    except UnitError:
        return None
    assert math.isfinite(parsed.value)
    assert parsed.sd is None or (math.isfinite(parsed.sd) and parsed.sd >= 0.0)
    return parsed


@given(text=st.text(), kind=st.sampled_from(KINDS))
@example(text="1" * 150 + " W", kind="power")
@example(text="1/" + "9" * 150 + " in", kind="length")
@example(text="9" * 150 + "/7 in", kind="length")
@example(text="1e99999999999 W", kind="power")
@example(text="1 W ± 1e99999 W", kind="power")
@example(text="1e-320 fpi", kind="fin pitch")
def test_any_text_is_read_or_refused(text: str, kind: Kind) -> None:
    read_or_refused(text, kind)


PIECES = st.sampled_from(
    [
        *("0", "1", "4.9", "1/2", "9-1/2", "½", ",", ".", "±", "+/-", "%", "(", ")", "'", '"', "/"),
        *("e5", "x10^3", "×10⁻³", "-", "+", "psig", "psi", "bar(g)", "inHg", "vacuum", "°F", "K"),
        *("lb", "oz", "in", "ft", "cc", "/rev", "fpi", "kWh/L", "L/day", "²", "³", "µ", "and"),
    ]
)


@given(
    pieces=st.lists(PIECES, max_size=9),
    glue=st.sampled_from(["", " ", "  "]),
    kind=st.sampled_from(KINDS),
)
def test_any_mixture_of_pieces_is_read_or_refused(pieces: list[str], glue: str, kind: Kind) -> None:
    read_or_refused(glue.join(pieces), kind)

"""Laws of hoses, scales, cylinders and of a blend that is taken as vapour."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sweatline.bench.hoses.cylinder import (
    FULLEST,
    fractionation,
    fuel_guess,
    largest_fill,
    liquid_full_temperature,
    mole_shares,
    rayleigh_liquid,
    saturation_check,
    volatility,
)
from sweatline.errors import OutOfRange
from sweatline.parts.hose import (
    Can,
    Container,
    Hose,
    HoseState,
    can_used,
    hose_content,
    in_machine,
)
from sweatline.refrigerant.names import NAMES
from sweatline.refrigerant.refrigerant import load

PROPANE = load("R-290")
T = 293.15
BLENDS = tuple(name for name in NAMES if load(name).kind != "pure")


def hose(state: HoseState, pressure: float | None = None, length: float = 0.9) -> Hose:
    return Hose(bore=4.8e-3, length=length, state=state, pressure=pressure)


def test_what_a_hose_gives_back_and_keeps_is_what_it_held() -> None:
    full = hose_content(PROPANE, hose("liquid"), T)
    pulled = hose_content(PROPANE, hose("pulled back", 2.5e5), T)
    assert pulled.mass + pulled.returned == pytest.approx(full.mass, rel=1e-12)
    assert pulled.mass == hose_content(PROPANE, hose("gas", 2.5e5), T).mass
    assert full.returned == 0.0


def test_a_hose_holds_more_the_longer_and_wetter_it_is() -> None:
    masses = [
        hose_content(PROPANE, h, T).mass
        for h in (hose("gas", 2e5), hose("gas"), hose("mixed"), hose("liquid"))
    ]
    assert masses == sorted(masses)
    assert hose_content(PROPANE, hose("liquid", length=1.8), T).mass == pytest.approx(
        2 * masses[-1]
    )
    mixed = hose_content(PROPANE, hose("mixed"), T)
    assert mixed.mass - 1.74 * mixed.sd < masses[1]
    assert mixed.mass + 1.74 * mixed.sd > masses[-1]


def test_the_balance_of_masses_closes() -> None:
    contents = [
        hose_content(PROPANE, hose("liquid"), T),
        hose_content(PROPANE, hose("gas", 3e5), T),
    ]
    found = in_machine(
        PROPANE,
        containers=[Container(before=1.25, after=1.19), Container(before=0.8, after=0.75)],
        cans=[Can(net=0.1, volume=2e-4, pressure=3e5)],
        hoses=contents,
        lost=[(2e-3, 1e-3)],
        temperature=T,
        scale_step=1e-3,
        scale_share=0.002,
    )
    assert found.mass + found.in_hoses + found.vented == pytest.approx(found.weighed, rel=1e-12)
    can, _ = can_used(PROPANE, Can(net=0.1, volume=2e-4, pressure=3e5), T)
    assert found.weighed == pytest.approx(0.11 + can, rel=1e-12)
    assert found.sd >= max(found.weighed_sd, found.in_hoses_sd, found.vented_sd)


def test_nine_tenths_of_simulated_charges_lie_in_the_range() -> None:
    """Scale in whole grams with a calibration error, bores off by some tenths, by simulation."""
    rng = np.random.default_rng(8)
    inside = 0
    for _ in range(600):
        true = rng.uniform(0.05, 0.4)
        bore = 4.8e-3 + 0.2e-3 * rng.normal()
        length = 0.9 * (1.0 + 0.02 * rng.normal())
        held = hose_content(PROPANE, Hose(bore=bore, length=length, state="liquid"), T).mass
        start = rng.uniform(1.0, 2.0)
        gain = 1.0 + 0.002 * rng.normal()
        before = round(start * gain, 3)
        after = round((start - true - held) * gain, 3)
        found = in_machine(
            PROPANE,
            containers=[Container(before=before, after=after)],
            cans=[],
            hoses=[hose_content(PROPANE, hose("liquid"), T)],
            lost=[],
            temperature=T,
            scale_step=1e-3,
            scale_share=0.002,
        )
        inside += abs(found.mass - true) < 1.645 * found.sd
    assert inside / 600 == pytest.approx(0.90, abs=0.049)  # four standard deviations


def test_a_scale_errs_by_its_steps_at_every_weighing() -> None:
    def sd(count: int) -> float:
        return in_machine(
            PROPANE, containers=[Container(before=1.0, after=0.9)] * count, cans=[], hoses=[],
            lost=[], temperature=T, scale_step=1e-3, scale_share=0.0,
        ).sd  # fmt: skip

    assert sd(1) == pytest.approx(1e-3 / math.sqrt(6.0))
    assert sd(4) == pytest.approx(2.0 * sd(1))


def test_masses_that_cannot_be_are_refused() -> None:
    with pytest.raises(OutOfRange, match="more than before"):
        in_machine(
            PROPANE, containers=[Container(before=1.0, after=1.1)], cans=[], hoses=[], lost=[],
            temperature=T, scale_step=1e-3, scale_share=0.0,
        )  # fmt: skip
    with pytest.raises(OutOfRange, match="more gas stays"):
        can_used(PROPANE, Can(net=0.01, volume=2e-3, pressure=6e5), T)
    with pytest.raises(OutOfRange, match="no liquid"):
        hose_content(PROPANE, hose("liquid", 2e5), T)


def test_air_in_a_cylinder_comes_out_as_its_share() -> None:
    saturation = PROPANE.saturation_pressure_bubble(T)
    common = {"pressure_sd": 5e3, "temperature": T, "temperature_sd": 0.3}
    pure = saturation_check(PROPANE, pressure=saturation, **common)
    assert pure.excess == 0.0
    assert pure.chance_below == pytest.approx(0.5)
    shares = []
    for share in (0.0, 0.01, 0.03, 0.10):
        found = saturation_check(PROPANE, pressure=saturation / (1.0 - share), **common)
        assert found.share == pytest.approx(share, abs=1e-12)
        shares.append(found.chance_over)
    assert shares == sorted(shares)
    assert shares[-1] > 0.99
    vague = saturation_check(
        PROPANE, pressure=saturation / 0.97, **(common | {"temperature_sd": 2.0})
    )
    assert abs(vague.chance_over - 0.5) < abs(shares[2] - 0.5)


def test_mixtures_of_fuel_gas_are_found_again_from_their_pressure() -> None:
    fluids = {"propane": PROPANE, "isobutane": load("R-600a"), "propylene": load("R-1270")}
    light = PROPANE.saturation_pressure_bubble(T)
    heavy = fluids["isobutane"].saturation_pressure_bubble(T)
    for x in (0.1, 0.5, 0.9):
        found = fuel_guess(pressure=x * light + (1 - x) * heavy, temperature=T, **fluids)
        assert found.propane_with_isobutane == pytest.approx(x)
        assert found.propane_with_butane is not None
        assert found.propane_with_butane > x  # n-butane is heavier, so more propane is needed
        assert found.propylene_with_propane is None
        assert found.glide is not None
        assert found.glide > 1.0
    above = fuel_guess(pressure=1.05 * light, temperature=T, **fluids)
    assert above.propane_with_isobutane is None
    assert above.propylene_with_propane is not None
    nothing = fuel_guess(pressure=5.0 * light, temperature=T, **fluids)
    assert nothing.propylene_with_propane is None


def test_a_cylinder_filled_to_four_fifths_is_not_full_where_it_is_stored() -> None:
    for name in ("R-290", "R-134a", "R-600a", "R-410A"):
        fluid = load(name)
        most = largest_fill(fluid, volume=1e-3, temperature=313.15)
        full = liquid_full_temperature(fluid, mass=most, volume=1e-3)
        assert full is None or full > 313.15 + 10.0
        liquid = fluid.state(p=fluid.saturation_pressure_bubble(313.15), quality=0.0).density
        assert most > FULLEST * liquid * 1e-3
        assert liquid_full_temperature(fluid, mass=liquid * 1e-3, volume=1e-3) == pytest.approx(
            313.15, abs=0.01
        )
        assert largest_fill(fluid, volume=1e-3, temperature=323.15) < most
    with pytest.raises(OutOfRange, match="does not go"):
        liquid_full_temperature(PROPANE, mass=1.0, volume=1e-3)


@pytest.mark.parametrize("name", BLENDS)
def test_bubble_and_dew_come_back_from_the_lumps(name: str) -> None:
    fluid = load(name)
    shares = list(mole_shares(fluid).values())
    assert sum(shares) == pytest.approx(1.0)
    bubble, dew = fluid.saturation_pressure_bubble(T), fluid.saturation_pressure_dew(T)
    for k in range(1, len(shares)):
        z = sum(shares[:k])
        light, heavy = volatility(light_share=z, bubble=bubble, dew=dew)
        assert light >= heavy
        assert z * light + (1.0 - z) * heavy == pytest.approx(bubble, rel=1e-9)
        # azeotropes whose dew lies above their bubble by a rounding have no glide
        assert 1.0 / (z / light + (1.0 - z) / heavy) == pytest.approx(min(dew, bubble), rel=1e-6)


@pytest.mark.parametrize("name", BLENDS)
def test_vapour_takes_the_light_and_nothing_is_lost(name: str) -> None:
    fluid = load(name)
    before = 0.0
    for share in (0.05, 0.3, 0.6, 0.95):
        found = fractionation(fluid, temperature=T, taken_share=share)
        assert found is not None
        assert share * found.taken + (1.0 - share) * found.left == pytest.approx(
            found.nominal, rel=1e-6
        )
        assert found.taken >= found.nominal >= found.left
        shift = found.taken - found.nominal
        assert before == 0.0 or shift < before  # the first vapour is the lightest
        before = shift
        assert found.bubble_ratio >= 1.0 - 1e-9
        assert found.bound is (len(mole_shares(fluid)) > 2)
    assert fractionation(PROPANE, temperature=T, taken_share=0.3) is None
    with pytest.raises(OutOfRange):
        fractionation(fluid, temperature=T, taken_share=1.0)


def test_rayleigh_against_small_steps() -> None:
    a, x, n = 2.7, 0.375, 1.0
    step = 2e-5
    while n > 0.6:
        y = a * x / (1.0 + (a - 1.0) * x)
        x, n = (x * n - y * step) / (n - step), n - step
    assert rayleigh_liquid(start=0.375, left=n, volatility=a) == pytest.approx(x, abs=2e-5)
    assert rayleigh_liquid(start=0.3, left=0.5, volatility=1.0) == 0.3
    assert math.isclose(rayleigh_liquid(start=0.3, left=1.0, volatility=2.0), 0.3)

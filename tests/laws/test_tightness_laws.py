"""Laws of the pressure hold, of a leak with two gases, of a leak's past and of the search."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sweatline.air.permanent_gas import HELIUM, NITROGEN, PermanentGas, gas_named
from sweatline.bench.leak_channel import (
    LeakGas,
    channels_for,
    liquid_flow,
    permanent,
    sampled_shapes,
    throughput,
    vapour,
)
from sweatline.bench.tightness.leak import ImpliedLeak, Way, implied_leak, mass_at_rest
from sweatline.bench.tightness.leak_search import METHODS, Piece, chance_to_find, plan_search
from sweatline.bench.tightness.pressure_hold import (
    HoldInstruments,
    HoldReading,
    expected_pressure,
    hold_time,
    leak_rate,
    smallest_rate,
)
from sweatline.constants import GAS_CONSTANT
from sweatline.errors import OutOfRange
from sweatline.refrigerant.refrigerant import load

FloatArray = NDArray[np.float64]
ATM = 101325.0
FINE = HoldInstruments(gauge_repeats=200.0, thermometer=0.05, unseen=0.0, barometer=0.0)
both_gases = pytest.mark.parametrize("gas", [NITROGEN, HELIUM], ids=lambda g: g.name)


def held(
    gas: PermanentGas, rate: float, times: list[float], temperatures: list[float], volume: float
) -> list[HoldReading]:
    """Readings of a hold from 10 bar that loses a constant throughput, without any error."""
    rho = gas.amount_density(1.1e6, temperatures[0])
    found = []
    for time, temperature in zip(times, temperatures, strict=True):
        left = rho - rate * time / (GAS_CONSTANT * float(np.mean(temperatures)) * volume)
        found.append(
            HoldReading(
                time=time, pressure=gas.pressure(left, temperature), temperature=temperature
            )
        )
    return found


@both_gases
def test_a_tight_volume_shows_no_leak_whatever_the_weather(gas: PermanentGas) -> None:
    readings = held(gas, 0.0, [0.0, 3600.0, 86400.0], [295.0, 303.0, 288.0], 2e-3)
    found = leak_rate(gas, readings, volume=2e-3, instruments=FINE, atmosphere=ATM)
    assert abs(found.rate) < 1e-4 * found.blank_sd
    assert not found.found
    assert not found.rose
    assert found.expected_last_pressure == pytest.approx(readings[-1].pressure, rel=1e-9)


@both_gases
@pytest.mark.parametrize("rate", [1e-4, 1e-5])
def test_a_leak_put_in_comes_out(gas: PermanentGas, rate: float) -> None:
    times = [0.0, 20000.0, 50000.0, 86400.0]
    readings = held(gas, rate, times, [295.0, 297.0, 291.0, 293.0], 2e-3)
    found = leak_rate(gas, readings, volume=2e-3, instruments=FINE, atmosphere=ATM)
    assert found.rate == pytest.approx(rate, rel=1e-6)
    assert found.lost_share == pytest.approx(
        rate * 86400.0 / (2e-3 * 1.1e6 / gas.compressibility(1.1e6, 295.0)) * 295.0 / 294.0,
        rel=1e-3,
    )


def test_nine_tenths_hold_nine_tenths_and_false_alarms_are_one_in_twenty() -> None:
    """Simulated holds with the errors the instruments are said to have."""
    rng = np.random.default_rng(20)
    instruments = HoldInstruments(gauge_repeats=1500.0, thermometer=0.2, barometer=700.0)
    times = np.array([0.0, 4.0, 20.0, 24.0]) * 3600.0
    apart = np.abs(times[:, None] - times[None, :])
    weather = np.linalg.cholesky(700.0**2 * np.exp(-apart / 86400.0) + 1e-6 * np.eye(4))
    alarms = covered = 0
    count = 1500
    true = 2e-4
    for k in range(count):
        rate = 0.0 if k % 2 else true
        readings = held(NITROGEN, rate, list(times), [294.0] * 4, 3e-3)
        noise = weather @ rng.normal(size=4) + 1500.0 * rng.normal(size=4)
        gain = 1.0 + 0.01 * rng.normal()
        seen = [
            HoldReading(
                time=r.time,
                pressure=ATM + gain * (r.pressure - ATM) + float(n),
                temperature=r.temperature + 0.2 * float(rng.normal()),
            )
            for r, n in zip(readings, noise, strict=True)
        ]
        found = leak_rate(NITROGEN, seen, volume=3e-3, instruments=instruments, atmosphere=ATM)
        if rate:
            covered += abs(found.rate - rate) < 1.645 * found.rate_sd
        else:
            alarms += found.found
    # Binomial: four standard deviations of 750 tries are 0.044 and 0.032.
    assert covered / (count / 2) == pytest.approx(0.90, abs=0.044)
    assert alarms / (count / 2) == pytest.approx(0.05, abs=0.032)


def test_the_smallest_leak_is_seen_by_95_of_100() -> None:
    rng = np.random.default_rng(5)
    instruments = HoldInstruments(gauge_repeats=1500.0, barometer=0.0)
    least = smallest_rate(
        NITROGEN, pressure=1.1e6, temperature=294.0, volume=3e-3, duration=86400.0,
        instruments=instruments,
    )  # fmt: skip
    seen = 0
    for _ in range(800):
        readings = [
            HoldReading(
                time=r.time,
                pressure=r.pressure + 1500.0 * float(rng.normal()),
                temperature=r.temperature + 0.2 * float(rng.normal()),
            )
            for r in held(NITROGEN, least, [0.0, 86400.0], [294.0, 294.0], 3e-3)
        ]
        seen += leak_rate(
            NITROGEN, readings, volume=3e-3, instruments=instruments, atmosphere=ATM
        ).found
    assert seen / 800 == pytest.approx(0.95, abs=0.031)


@pytest.mark.parametrize("days", [0.25, 1.0, 4.0])
def test_weather_alone_limits_a_hold_by_how_far_it_wanders(days: float) -> None:
    """Difference of two readings of a barometer that forgets in a day: 2 s2 (1 - exp(-t))."""
    still = HoldInstruments(
        gauge_repeats=1e-2, gauge_scale=0.0, thermometer=1e-6, unseen=0.0, barometer=700.0
    )
    time = days * 86400.0
    least = smallest_rate(
        NITROGEN, pressure=1.1e6, temperature=294.0, volume=3e-3, duration=time, instruments=still
    )
    wander = 700.0 * math.sqrt(2.0 * (1.0 - math.exp(-days)))
    assert least == pytest.approx(3.29 * wander * 3e-3 / time, rel=0.01)


def test_longer_smaller_and_finer_see_less() -> None:
    common = {"pressure": 1.1e6, "temperature": 294.0}
    base = smallest_rate(
        NITROGEN, volume=3e-3, duration=86400.0, instruments=HoldInstruments(gauge_repeats=2e3),
        **common,
    )  # fmt: skip
    for volume, duration, repeats in ((3e-3, 2e5, 2e3), (1e-3, 86400.0, 2e3), (3e-3, 86400.0, 5e2)):
        better = smallest_rate(
            NITROGEN,
            volume=volume,
            duration=duration,
            instruments=HoldInstruments(gauge_repeats=repeats),
            **common,
        )
        assert better < base


def test_the_time_to_hold_is_the_inverse_of_the_smallest_leak() -> None:
    common = {
        "pressure": 1.1e6,
        "temperature": 294.0,
        "volume": 3e-3,
        "instruments": HoldInstruments(gauge_repeats=2e3),
    }
    time = hold_time(NITROGEN, 1e-4, **common)
    assert time is not None
    assert smallest_rate(NITROGEN, duration=time, **common) == pytest.approx(1e-4, rel=1e-6)
    assert hold_time(NITROGEN, 1e-12, **common) is None
    assert hold_time(NITROGEN, 1e3, **common) == 60.0


def test_a_look_in_another_unit_gives_no_verdict() -> None:
    # 58 °F typed as °C: the gauge fell with the room, and the thermometer is said to have risen.
    times, room = [0.0, 50e3, 86e3], [297.0, 287.6, 297.0]
    sound = held(NITROGEN, 0.0, times, room, 3e-3)
    wrong = [sound[0], replace(sound[1], temperature=331.2), sound[2]]
    one, other = (
        leak_rate(NITROGEN, looks, volume=3e-3, instruments=HoldInstruments(), atmosphere=ATM)
        for looks in (sound, wrong)
    )
    assert not one.rose
    assert other.rose


def test_gas_that_settles_is_told_from_a_leak() -> None:
    times = [0.0, 900.0, 1800.0, 3600.0, 7200.0, 10800.0]
    settling = [
        HoldReading(
            time=r.time,
            pressure=expected_pressure(
                NITROGEN,
                pressure=r.pressure,
                temperature=294.0,
                later=294.0 + 6.0 * math.exp(-r.time / 1500.0),
            ),
            temperature=294.0,
        )
        for r in held(NITROGEN, 0.0, times, [294.0] * 6, 3e-3)
    ]
    found = leak_rate(NITROGEN, settling, volume=3e-3, instruments=FINE, atmosphere=ATM)
    assert found.settling
    steady = held(NITROGEN, 1e-3, times, [294.0] * 6, 3e-3)
    assert not leak_rate(NITROGEN, steady, volume=3e-3, instruments=FINE, atmosphere=ATM).settling


def test_what_is_no_hold_is_refused() -> None:
    one = HoldReading(time=0.0, pressure=1e6, temperature=294.0)
    for readings in ([one], [one, one]):
        with pytest.raises(OutOfRange):
            leak_rate(NITROGEN, readings, volume=1e-3, instruments=FINE, atmosphere=ATM)
    later = HoldReading(time=9.0, pressure=1e6, temperature=294.0)
    with pytest.raises(OutOfRange):
        leak_rate(NITROGEN, [one, later], volume=0.0, instruments=FINE, atmosphere=ATM)
    with pytest.raises(OutOfRange):
        NITROGEN.amount_density(9e6, 294.0)
    with pytest.raises(ValueError, match="oxygen"):
        gas_named("oxygen")


BORES = np.geomspace(1e-8, 1e-4, 25)
R134A = load("R-134a")
REST = R134A.saturation_pressure_dew(293.15)
GASES = {
    "nitrogen": permanent(NITROGEN, pressure=1.1e6, temperature=293.15),
    "helium": permanent(HELIUM, pressure=1.1e6, temperature=293.15),
    "R-134a": vapour(R134A, pressure=REST, temperature=293.15),
}


@pytest.mark.parametrize("name", GASES)
def test_more_flows_through_a_wider_shorter_leak_under_more_pressure(name: str) -> None:
    gas = GASES[name]
    q = throughput(BORES, np.full(25, 2e-3), inside=5e5, outside=ATM, gas=gas)
    assert np.all(np.diff(q) > 0.0)
    assert np.all(throughput(BORES, np.full(25, 1e-3), inside=5e5, outside=ATM, gas=gas) > q)
    assert np.all(throughput(BORES, np.full(25, 2e-3), inside=6e5, outside=ATM, gas=gas) > q)
    assert np.all(throughput(BORES, np.full(25, 2e-3), inside=ATM, outside=ATM, gas=gas) == 0.0)


@pytest.mark.parametrize("name", GASES)
def test_no_leak_passes_more_than_sound_allows(name: str) -> None:
    gas = GASES[name]
    length = np.full(25, 1e-5)
    q = throughput(BORES, length, inside=1e6, outside=ATM, gas=gas) * gas.compressibility
    most = 1e6 * 0.25 * math.pi * BORES**2 * math.sqrt(gas.per_amount / gas.molar_mass)
    assert np.all(q <= most)
    wide = throughput(BORES[-1:], length[:1], inside=1e6, outside=0.0, gas=gas)
    same = throughput(BORES[-1:], length[:1], inside=1e6, outside=ATM, gas=gas)
    assert wide == pytest.approx(same, rel=1e-6)  # choked: what is behind changes nothing


def test_a_short_opening_passes_what_a_sharp_edged_hole_does() -> None:
    """Choked nitrogen through a hole: an ideal nozzle passes 0.685 of p A sqrt(M/RT), a
    sharp-edged hole 0.84 of that (textbook)."""
    gas = LeakGas(name="n", molar_mass=28.0134e-3, viscosity=1.76e-5, temperature=293.15)
    bore = np.array([0.2e-3, 1e-3])
    q = throughput(bore, 1e-3 * bore, inside=1e6, outside=ATM, gas=gas)
    nozzle = 0.685 * 1e6 * 0.25 * math.pi * bore**2 * math.sqrt(gas.per_amount / gas.molar_mass)
    assert np.all(q < nozzle)
    assert q == pytest.approx(0.84 * nozzle, rel=0.12)


def test_liquid_through_a_short_hole_and_through_a_long_tube() -> None:
    common = {"drop": 5e5, "density": 500.0, "viscosity": 1e-4}
    hole = liquid_flow(np.array([1e-3]), np.array([1e-6]), **common)
    speed = math.sqrt(2.0 * 5e5 / (1.5 * 500.0))
    assert hole[0] == pytest.approx(500.0 * speed * 0.25 * math.pi * 1e-6, rel=1e-3)
    tube = liquid_flow(np.array([1e-6]), np.array([0.01]), **common)
    laminar = 500.0 * math.pi * 1e-24 * 5e5 / (128.0 * 1e-4 * 0.01)
    assert tube[0] == pytest.approx(laminar, rel=1e-3)


def test_a_leak_measured_with_a_gas_loses_that_gas_again() -> None:
    length, number = sampled_shapes(64)
    gas = GASES["nitrogen"]
    for rate in (1e-14, 1e-11, 1e-8):
        found = channels_for(rate, length=length, number=number, inside=1.1e6, outside=ATM, gas=gas)
        again = found.flow(inside=1.1e6, outside=ATM, gas=gas)
        assert again == pytest.approx(np.full(64, rate), rel=1e-9)
    with pytest.raises(OutOfRange):
        channels_for(1e-9, length=length, number=number, inside=ATM, outside=ATM, gas=gas)
    with pytest.raises(OutOfRange):
        channels_for(1e3, length=length, number=number, inside=1.1e6, outside=ATM, gas=gas)


def test_the_doubt_about_the_regime_lies_between_its_limits() -> None:
    """Refrigerant per nitrogen: never outside purely molecular, viscous and sonic flow."""
    n2 = GASES["nitrogen"]
    r = LeakGas(name="r", molar_mass=R134A.molar_mass, viscosity=1.16e-5, temperature=293.15)
    same = LeakGas(name="n", molar_mass=n2.molar_mass, viscosity=n2.viscosity, temperature=293.15)
    q = throughput(BORES, np.full(25, 2e-3), inside=5e5, outside=ATM, gas=r)
    ratio = q / throughput(BORES, np.full(25, 2e-3), inside=5e5, outside=ATM, gas=same)
    molecular = math.sqrt(same.molar_mass / r.molar_mass)
    viscous = same.viscosity / r.viscosity
    assert np.all(ratio > molecular * (1.0 - 1e-6))
    assert np.all(ratio < viscous * (1.0 + 1e-6))
    assert ratio[0] == pytest.approx(molecular, rel=0.15)


def test_liquid_loses_more_than_gas_through_the_same_leak() -> None:
    length, number = sampled_shapes(32)
    gas = GASES["R-134a"]
    shapes = channels_for(1e-9, length=length, number=number, inside=REST, outside=ATM, gas=gas)
    liquid = R134A.state(p=REST, quality=0.0)
    wet = number * liquid_flow(
        shapes.bore, shapes.length, drop=REST - ATM, density=liquid.density,
        viscosity=liquid.viscosity,
    )  # fmt: skip
    assert np.all(wet > 1e-9)


def pressures_forward(
    leak: ImpliedLeak, held_mass: float, volume: float, times: FloatArray
) -> FloatArray:
    """Pressure at rest over the time since the machine was full: dm/dt = -m'0 f(p)."""
    p = np.geomspace(ATM + 5e3, REST, 400)
    m = np.array([mass_at_rest(R134A, pressure=v, temperature=293.15, volume=volume) for v in p])

    def short(pressure: FloatArray) -> FloatArray:  # opening: choked above twice the outside
        ratio = ATM / pressure
        return pressure * np.where(
            ratio < 0.5, 1.0, np.sqrt(np.maximum(1.0 - (2.0 * ratio - 1.0) ** 2, 0.0))
        )

    top = np.array([REST])
    share = {
        "molecular": p / REST,
        "viscous": (p**2 - ATM**2) / (REST**2 - ATM**2),
        "choked": short(p) / short(top),
        # Gas instead of liquid through the same opening: the root of the densities.
        "liquid": short(p)
        / short(top)
        * math.sqrt(m[-1] / volume * R134A.state(p=REST, quality=0.0).volume),
    }[leak.way]
    inverse = 1.0 / (leak.rate * share)
    # Time from the last liquid down to each pressure.
    steps = 0.5 * (inverse[1:] + inverse[:-1]) * np.diff(m)
    down = np.concatenate([np.cumsum(steps[::-1])[::-1], [0.0]])
    liquid = max(held_mass - m[-1], 0.0) / leak.rate
    begun = float(np.interp(min(held_mass, m[-1]), m, down))
    return np.asarray(np.interp(times - liquid + begun, down[::-1], p[::-1]))


@pytest.mark.parametrize("way", ["choked", "viscous", "molecular", "liquid"])
@pytest.mark.parametrize("left", [None, 0.6])
@pytest.mark.parametrize("held_mass", [0.3, 0.02])
def test_the_past_run_forward_ends_where_it_was_told(
    way: Way, left: float | None, held_mass: float
) -> None:
    year = 365.25 * 86400.0
    leak = implied_leak(
        R134A, way, held=held_mass, left_share=left, after=year, temperature=293.15,
        volume=2e-3, outside=ATM,
    )  # fmt: skip
    p = pressures_forward(
        leak, held_mass, 2e-3, times=np.array([0.0, leak.liquid_gone_after, year])
    )
    assert np.all(np.diff(p) <= 1e-6)
    if leak.liquid_gone_after < year:
        end = mass_at_rest(R134A, pressure=float(p[-1]), temperature=293.15, volume=2e-3)
        assert end == pytest.approx(leak.mass_left, rel=5e-3)
    else:
        assert leak.rate * year == pytest.approx(held_mass - leak.mass_left, rel=1e-9)


def test_times_to_empty_are_near_those_of_an_ideal_gas() -> None:
    """In closed form for p in proportion to m; the vapour of R-134a is within a seventh of it."""
    year = 365.25 * 86400.0
    vapour_mass = mass_at_rest(R134A, pressure=REST, temperature=293.15, volume=2e-3)
    held_mass, left = 0.06, 0.4
    x, r = left * held_mass / vapour_mass, ATM / REST

    def mass(way: Way) -> float:
        leak = implied_leak(
            R134A, way, held=held_mass, left_share=left, after=year, temperature=293.15,
            volume=2e-3, outside=ATM,
        )  # fmt: skip
        return (leak.rate * year - (held_mass - vapour_mass)) / vapour_mass

    def to(y: float) -> float:
        return math.log((y - r) / (y + r)) / (2.0 * r)

    assert mass("molecular") == pytest.approx(math.log(1.0 / x), rel=0.14)
    assert mass("choked") == pytest.approx(math.log(1.0 / x), rel=0.14)
    assert mass("viscous") == pytest.approx((1.0 - r * r) * (to(1.0) - to(x)), rel=0.14)


def test_a_past_that_cannot_be_is_refused() -> None:
    common = {"after": 3e7, "temperature": 293.15, "volume": 2e-3, "outside": ATM}
    with pytest.raises(OutOfRange, match="mass left"):
        implied_leak(R134A, "viscous", held=0.3, left_share=0.001, **common)
    cold = {**common, "temperature": 258.15}
    with pytest.raises(OutOfRange, match="draws air in"):
        implied_leak(load("R-600a"), "viscous", held=0.06, left_share=0.5, **cold)


def test_the_chance_to_find_rises_from_none_to_certain() -> None:
    method = METHODS[0]
    ends = {"least": method.least, "sure": method.sure}
    assert chance_to_find(np.array([method.least / 2]), **ends) == 0.0
    assert chance_to_find(np.array([method.sure * 2]), **ends) == 1.0
    rates = np.geomspace(method.least, method.sure, 11)
    chances = [chance_to_find(np.array([r]), **ends) for r in rates]
    assert np.all(np.diff(chances) > 0.0)


def test_a_search_by_halves_ends_and_beats_one_by_one() -> None:
    rng = np.random.default_rng(3)
    for n in (2, 3, 5, 8):
        w = rng.uniform(0.5, 3.0, n)
        plan = plan_search(
            [Piece(name=str(i), weight=float(v), volume=1e-3) for i, v in enumerate(w)]
        )
        share = w / w.sum()
        bits = float(-(share * np.log2(share)).sum())
        assert bits - 1e-9 <= plan.expected_holds <= bits + 2.0
        assert plan.worst_holds <= n - 1
        assert len(plan.steps) == n - 1
        for step in plan.steps:
            assert sorted(step.first + step.rest) == sorted(step.pieces)
    even = [Piece(name=str(i), weight=1.0, volume=1e-3) for i in range(8)]
    plan = plan_search(even)
    assert (plan.expected_holds, plan.worst_holds) == (pytest.approx(3.0), 3)
    assert plan.one_by_one == pytest.approx((1 + 2 + 3 + 4 + 5 + 6 + 7 + 7) / 8)
    assert plan.expected_cuts == pytest.approx(4.0)
    assert plan.one_by_one_cuts == pytest.approx((2 + 3 + 4 + 5 + 6 + 7 + 8 + 8) / 8)
    with pytest.raises(ValueError, match="weight"):
        plan_search([])

"""A year in a room: water and heat close, a steady room obeys its balance, steps do not count."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sweatline.air.moist import (
    humidity_ratio,
    moist_heat_capacity,
    saturated_humidity_ratio,
    specific_volume,
)
from sweatline.job.year import Control as Switches
from sweatline.season.room_step import SUMS, Control, MachineMap, RoomParameters, run_year
from sweatline.season.settings import SEARCH_STEPS, Setting, neighbours, settings_for
from sweatline.season.totals import control_of, no_machine, run, total_of
from sweatline.season.weather import HOURS, Weather, months_weather, place_weather
from sweatline.uncertainty.parameter import Measured

PRESSURE = 101325.0
NEVER = Control(2.0, -1.0, *(0.0,) * 12, 1.0)


def room(**changed: float) -> RoomParameters:
    """A cellar of 130 m3."""
    usual = RoomParameters(
        volume=130.0,
        air_changes=0.25 / 3600.0,
        outer_conductance=25.0,
        ground_conductance=35.0,
        house_conductance=45.0,
        house=293.15,
        surface_conductance=900.0,
        air_heat=7.0,
        heat_store=3.6e7,
        water_store=15.0,
        water_rate=1.0 / 14400.0,
        ground_vapour=6e-3,
        source=1e-5,
        gains=20.0,
        heated_to=0.0,
        ground_mean=283.0,
        ground_swing=4.0,
        ground_coldest=5e6,
        airing=0.0,
        airing_power=0.0,
        pressure=PRESSURE,
    )
    return usual._replace(**changed)


def machine(coldest_coil: float = 272.0) -> MachineMap:
    """A dehumidifier of about 10 L a day, whose coil freezes in cool rooms."""
    t = np.linspace(274.0, 304.0, 7)
    rh = np.linspace(0.35, 0.95, 5)
    water = 1.2e-4 * (0.2 + 0.8 * (t[:, None] - 274.0) / 30.0) * (rh[None, :] / 0.6)
    return MachineMap(
        temperatures=t,
        humidities=rh,
        water=water,
        power=np.full_like(water, 240.0),
        coil=coldest_coil + 0.5 * (t[:, None] - 274.0) + 0.0 * water,
        fan_power=25.0,
        fan_flow=0.08,
        pull_down=150.0,
        held=0.15,
        coil_units=2.0,
        freezing_span=3.0,
        ice_end=math.inf,
        ice_blocks=0.4,
        ice_takes=0.8,
        ice_spares=0.1,
        ice_cools=8.0,
        standby=1.5,
    )


def control(**changed: float) -> Control:
    """55 %RH with a differential of four points and a drain."""
    usual = Control(
        start_at=0.57,
        stop_at=0.53,
        shortest_rest=300.0,
        cut_out=0.0,
        cut_in=0.0,
        coil_stop=0.0,
        coil_delay=1800.0,
        run_stop=0.0,
        longest_defrost=1200.0,
        hot_gas=0.0,
        fan_rests=0.0,
        fan_melts=1.0,
        bucket=0.0,
        emptied_every=86400.0,
        wished=0.59,
    )
    return usual._replace(**changed)


@pytest.fixture(scope="module")
def weather() -> Weather:
    return place_weather(
        latitude=47.0, coldest=271.0, warmest=291.0, relative_humidity=0.78, daily_swing=8.0
    )


def of(found: np.ndarray, name: str) -> float:
    return float(found.sum(axis=0)[SUMS.index(name)])


CONTROLS = {
    "humidistat": control(),
    "fan always": control(fan_rests=1.0),
    "coil thermostat": control(coil_stop=272.0),
    "hot gas": control(coil_stop=272.0, hot_gas=1.0, fan_melts=0.0),
    "clock": control(run_stop=2700.0),
    "bucket": control(bucket=5.0),
    "cut-out": control(cut_out=281.15, cut_in=282.65),
}


@pytest.mark.parametrize("name", CONTROLS)
@pytest.mark.parametrize("heated", [0.0, 289.0])
def test_water_and_heat_close_over_the_year(weather: Weather, name: str, heated: float) -> None:
    found = run(weather, room(heated_to=heated), machine(268.0), CONTROLS[name])
    water_0, heat_0, water_1, heat_1, water_in, water_out, heat_in, _ = found.books
    gross = abs(water_in) + water_out
    assert water_1 - water_0 - water_in + water_out == pytest.approx(0.0, abs=1e-6 * gross)
    assert heat_1 - heat_0 - heat_in == pytest.approx(0.0, abs=1e-6 * of(found.sums, "energy"))
    assert water_out == pytest.approx(of(found.sums, "water"), rel=1e-9)
    assert of(found.sums, "hours") == pytest.approx(HOURS * 3600.0)


def test_a_steady_room_obeys_the_algebraic_balance() -> None:
    """Constant weather and no machine: humidity and temperature come from one line of algebra."""
    t_out, w_out = 285.0, 0.006
    still = Weather(
        name="", temperature=np.full(HOURS + 1, t_out), humidity=np.full(HOURS + 1, w_out)
    )
    here = room(ground_swing=0.0, gains=0.0, heat_store=1e6)
    state = np.array([285.0, 0.007, 285.0, 0.7, 0.0, 0.0, 0.0])
    run_year(
        still.temperature, still.humidity, still.months, here, no_machine(PRESSURE), NEVER, 0.0,
        state, 60, np.empty((0, 4)),
    )  # fmt: skip
    t, w, ts, u, *_ = state
    wg = saturated_humidity_ratio(here.ground_mean, PRESSURE)
    # The air in the room is counted by what filled it when the run began.
    air = here.volume / specific_volume(285.0, 0.007, PRESSURE)
    flow = air * here.air_changes
    balance = flow * (w_out - w) + here.ground_vapour * (wg - w) + here.source
    assert balance == pytest.approx(0.0, abs=1e-6 * here.source)
    assert u == pytest.approx(w / saturated_humidity_ratio(ts, PRESSURE), rel=1e-6)
    gained = (here.outer_conductance + flow * moist_heat_capacity(w)) * (t_out - t)
    gained += here.house_conductance * (here.house - t) + here.surface_conductance * (ts - t)
    assert gained == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("name", ["humidistat", "coil thermostat", "fan always"])
def test_half_the_step_changes_nothing_that_matters(weather: Weather, name: str) -> None:
    here, there = machine(268.0), CONTROLS[name]
    a = run(weather, room(), here, there).sums
    b = run(weather, room(), here, there, steps=120).sums
    for figure in ("water", "energy", "humidity", "temperature"):
        assert of(b, figure) == pytest.approx(of(a, figure), rel=5e-3), figure


def test_more_water_is_taken_from_a_wetter_room(weather: Weather) -> None:
    taken = [
        of(run(weather, room(source=s), machine(280.0), control()).sums, "water")
        for s in (0.0, 2e-5, 4e-5)
    ]
    assert taken == sorted(taken)


def test_a_drier_wish_takes_more_water(weather: Weather) -> None:
    taken = [
        of(run(weather, room(), machine(280.0), control(start_at=s + 0.02, stop_at=s - 0.02)).sums,
           "water")
        for s in (0.65, 0.55, 0.45)
    ]  # fmt: skip
    assert taken == sorted(taken)


def test_a_fan_that_always_runs_gives_water_back(weather: Weather) -> None:
    """What hangs on the wet coil goes back into the room after every stop."""
    small = room(water_store=0.5, volume=40.0)
    auto = run(weather, small, machine(280.0), control()).sums
    always = run(weather, small, machine(280.0), control(fan_rests=1.0)).sums
    assert of(always, "energy") > of(auto, "energy")
    assert of(always, "water") / of(always, "energy") < of(auto, "water") / of(auto, "energy")


def test_a_cut_out_holds_it_off(weather: Weather) -> None:
    found = run(weather, room(house_conductance=0.0), machine(), CONTROLS["cut-out"]).sums
    free = run(weather, room(house_conductance=0.0), machine(), control()).sums
    assert of(found, "too_cold") > 0.0
    assert of(found, "running") < of(free, "running")


def test_a_full_bucket_stops_it(weather: Weather) -> None:
    found = run(weather, room(source=5e-5), machine(285.0), control(bucket=2.0)).sums
    assert of(found, "bucket_full") > 0.0
    days = HOURS / 24.0
    # What hangs in the coil when it stops is added to the bucket's two litres.
    assert of(found, "water") <= days * 2.2


def test_a_defrost_keeps_the_coil_open(weather: Weather) -> None:
    cold = room(house_conductance=0.0, source=6e-5)
    plain = run(weather, cold, machine(266.0), control()).sums
    kept = run(weather, cold, machine(266.0), CONTROLS["hot gas"]).sums
    assert of(plain, "iced_up") > of(kept, "iced_up")


def test_humidities_fall_when_the_room_is_heated(weather: Weather) -> None:
    damp = [
        of(run(weather, room(heated_to=t), no_machine(PRESSURE), NEVER._replace(wished=0.7)).sums,
           "too_damp")
        for t in (0.0, 291.0, 296.0)
    ]  # fmt: skip
    assert damp == sorted(damp, reverse=True)


def test_months_keep_their_means() -> None:
    temperatures = [
        272.0,
        273.0,
        277.0,
        281.0,
        286.0,
        289.0,
        291.0,
        291.0,
        287.0,
        282.0,
        277.0,
        273.0,
    ]
    found = months_weather(temperatures, [0.8] * 12, daily_swing=8.0)
    sums = np.bincount(found.months, weights=found.temperature[:-1])
    assert sums / np.bincount(found.months) == pytest.approx(temperatures, abs=1e-6)


def test_the_south_has_its_winter_in_july() -> None:
    south = place_weather(
        latitude=-35.0, coldest=280.0, warmest=295.0, relative_humidity=0.7, daily_swing=8.0
    )
    means = np.bincount(south.months, weights=south.temperature[:-1])
    assert int(np.argmin(means / np.bincount(south.months))) in (5, 6, 7)


def test_outdoor_air_never_holds_more_than_saturation(weather: Weather) -> None:
    most = [saturated_humidity_ratio(t, PRESSURE) for t in weather.temperature]
    assert np.all(weather.humidity <= np.array(most) + 1e-12)


def test_the_ground_is_damped_and_late(weather: Weather) -> None:
    surface, deep = weather.ground(0.0), weather.ground(2.0)
    assert deep[0] == pytest.approx(surface[0])
    assert deep[1] < surface[1]
    assert deep[2] > surface[2]


def test_humid_air_at_a_cold_wall() -> None:
    """Air of 18.3 °C and 60 %RH has 84 % at a wall of 13 °C (arithmetic on saturation)."""
    w = humidity_ratio(291.45, 0.6, PRESSURE)
    wall = saturated_humidity_ratio(286.15, PRESSURE)
    assert w / wall == pytest.approx(0.84, abs=0.01)


SWITCHES = Switches(
    humidity=0.55,
    differential=0.04,
    error=0.03,
    shortest_rest=300.0,
    defrost="none",
    coil_stop=271.15,
    coil_delay=1800.0,
    run_stop=2700.0,
    rest=1200.0,
    defrost_by="fan",
    fan="with the compressor",
    emptied_every=86400.0,
    standby=Measured(value=1.5),
)
COLD = room(house_conductance=0.0, source=6e-5)


def _tried(control: Switches, weather: Weather, here: RoomParameters, m: MachineMap) -> Setting:
    wished = control_of(SWITCHES).wished
    total = total_of(
        run(weather, here, m, control_of(control)._replace(wished=wished), steps=SEARCH_STEPS)
    )
    return Setting(
        control=control, too_damp=total.too_damp, iced_up=total.iced_up, energy=total.energy
    )


@pytest.mark.parametrize("coldest_coil", [268.0, 274.0])
def test_no_neighbour_beats_the_settings_that_were_found(
    weather: Weather, coldest_coil: float
) -> None:
    there = machine(coldest_coil)
    found = settings_for(SWITCHES, weather, COLD, there, 275.15)
    best = _tried(found.best.control, weather, COLD, there)
    freezes = coldest_coil < 273.15
    near = list(neighbours(found.best.control, SWITCHES.humidity, 275.15, freezes=freezes))
    assert len(near) >= 3
    beaten = [c for c in near if _tried(c, weather, COLD, there).rank < best.rank]
    assert not beaten
    assert best.rank <= _tried(SWITCHES, weather, COLD, there).rank
    assert (found.best.control.defrost == "none") or freezes


def test_each_reason_changes_one_thing_back(weather: Weather) -> None:
    found = settings_for(SWITCHES, weather, COLD, machine(268.0), 275.15)
    assert found.why
    for key, one in found.why.items():
        assert getattr(one.control, key) == getattr(SWITCHES, key)
        assert one.control != found.best.control
    assert found.drier.energy > found.damper.energy

"""What must hold for a coil marched tube by tube, whatever the circuits and the air."""

from __future__ import annotations

import math
import random
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweatline.air.moist import enthalpy as air_enthalpy
from sweatline.air.moist import humidity_ratio, specific_volume
from sweatline.air.saturation_line import saturation_line
from sweatline.constants import STANDARD_ATMOSPHERE as P
from sweatline.constants import ZERO_CELSIUS
from sweatline.parts.circuiting import (
    Circuiting,
    by_rows,
    circuiting_error,
    independent_groups,
    marching_order,
    zigzag,
)
from sweatline.parts.coil import (
    PROFILE,
    AirInlet,
    CoilParameters,
    CoilResult,
    RefrigerantInlet,
    coil_memory,
    coil_parameters,
    tube_by_tube,
)
from sweatline.parts.coil_march import march
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import dew_pressure, saturation

LINE = saturation_line(P)
WATER_HEAT = 4186.0  # J/(kg*K)
few = settings(max_examples=40, deadline=None)


def coil(
    circuiting: Circuiting, rows: int, tubes: int, profile: Any = (), cells: int = 1, **changes: Any
) -> CoilParameters:
    plain = coil_parameters(
        tube_outer_diameter=7.94e-3,
        tube_wall=0.3e-3,
        rows=rows,
        tubes_per_row=tubes,
        transverse_pitch=25.4e-3,
        longitudinal_pitch=22e-3,
        finned_length=0.28,
        fin_pitch=1.8e-3,
        fin_thickness=0.11e-3,
        circuits=len(circuiting),
        counter=True,
    )
    return tube_by_tube(
        plain._replace(**changes),
        tubes_per_row=tubes,
        circuiting=circuiting,
        profile=profile,
        cells=cells,
    )


class Case(NamedTuple):
    name: str = "R-134a"
    flow: float = 5e-3  # kg/s
    saturated: float = 279.15  # K
    quality: float = 0.2
    air_t: float = 298.15  # K
    rh: float = 0.55
    airflow: float = 0.09  # m3/s
    heated: bool = True


class Run(NamedTuple):
    result: CoilResult
    profile: np.ndarray
    entry: np.ndarray
    air: tuple[float, float, float]
    pressure: float
    enthalpy: float

    def column(self, name: str) -> np.ndarray:
        return self.profile[:, PROFILE.index(name)]


def marched(tubes: CoilParameters, case: Case, entry: np.ndarray | None = None) -> Run:
    table = load(case.name).table
    p = float(dew_pressure(table, case.saturated))
    hl, hg = saturation(table, p)[2:4]
    h = float(hl + case.quality * (hg - hl))
    w = float(humidity_ratio(case.air_t, case.rh, P))
    air = case.airflow / specific_volume(case.air_t, w, P)
    memory = coil_memory(tubes, profile=True)
    if entry is not None:
        memory = memory._replace(entry=entry)
    result = march(
        table,
        LINE,
        tubes,
        RefrigerantInlet(case.flow, p, h),
        AirInlet(case.air_t, w, air),
        case.heated,
        memory,
    )
    return Run(result, memory.profile, memory.entry, (case.air_t, w, air), p, h)


@st.composite
def circuitings(draw: st.DrawFn) -> tuple[Circuiting, int, int]:
    """Tubes joined by bends at random, as a careless or a cunning brazer might."""
    rows, tubes = draw(st.integers(1, 3)), draw(st.integers(2, 8))
    count = draw(st.integers(1, min(3, tubes)))
    places = [(r, t) for r in range(rows) for t in range(tubes)]
    random.Random(draw(st.integers(0, 10**6))).shuffle(places)
    cuts = [round(len(places) * k / count) for k in range(count + 1)]
    return tuple(tuple(places[a:b]) for a, b in pairwise(cuts)), rows, tubes


cases = st.builds(
    Case,
    name=st.sampled_from(("R-134a", "R-290", "R-454C")),
    flow=st.floats(2.5e-3, 7e-3),
    rh=st.floats(0.2, 0.85),
    airflow=st.floats(0.05, 0.15),
    quality=st.floats(0.05, 0.4),
    saturated=st.floats(272.0, 286.0),
    air_t=st.floats(291.0, 303.0),
    heated=st.just(True),
)


def test_a_bend_back_into_the_air_of_cold_liquid_closes() -> None:
    """A condenser whose last bends carry liquid of less than half the enthalpy that came in."""
    bends = "13 25 23 20 00 24 14 02 03 12 05 10 04 26 06 21 22 11 01 16 15"
    way = tuple((int(b[0]), int(b[1])) for b in bends.split())
    case = Case(
        name="R-290",
        flow=3.9e-3,
        saturated=318.15,
        quality=1.15,
        air_t=296.15,
        rh=0.5,
        airflow=0.125,
        heated=False,
    )
    run = marched(coil((way,), 3, 7, cells=2), case)
    assert run.result.enthalpy < 0.5 * run.enthalpy
    assert run.column("heat_W").sum() == pytest.approx(run.result.heat, rel=1e-8)


@few
@given(circuitings(), cases, st.booleans(), st.booleans())
def test_streams_close_however_the_bends_are_set(
    made: tuple[Circuiting, int, int], case: Case, warm: bool, uneven: bool
) -> None:
    """Energy and water of both streams; every circuit loses the same pressure; all settle."""
    circuiting, rows, tubes = made
    assert circuiting_error(circuiting, rows, tubes) == ""
    if warm:
        case = case._replace(saturated=318.15, quality=1.15, air_t=296.15, heated=False)
    numbers = coil(circuiting, rows, tubes, np.linspace(1.0, 2.0, tubes) if uneven else (), cells=2)
    run = marched(numbers, case)
    r = run.result
    assert r.sweeps > 0
    t, w, air = run.air
    water, surface = run.column("water_kg_per_s"), run.column("surface_temperature_K")
    assert run.column("heat_W").sum() == pytest.approx(r.heat, rel=1e-8)
    assert water.sum() == pytest.approx(r.water, rel=1e-9, abs=1e-14)
    assert run.column("charge_kg").sum() == pytest.approx(r.charge, rel=1e-9)
    lost = air * (air_enthalpy(t, w) - r.air_enthalpy)
    drained = float((water * WATER_HEAT * (surface - ZERO_CELSIUS)).sum())
    # A cell that holds a phase line drains from pieces of different temperature.
    span = float(np.ptp(surface)) if case.heated else 0.0
    assert lost == pytest.approx(
        r.heat + drained, rel=1e-8, abs=WATER_HEAT * float(water.sum()) * span + 1e-9
    )
    ends = numbers.layout.circuit_end * numbers.layout.cells + numbers.layout.cells - 1
    drops = run.pressure - run.column("pressure_Pa")[ends]
    assert drops == pytest.approx(np.full(len(drops), drops.mean()), rel=1e-7)


def test_like_circuits_are_marched_once_and_count_as_many() -> None:
    """Four circuits in neighbouring tubes, held once, against the same circuits all held."""
    way = by_rows(2, 12, 4, counter=True)
    once = coil(way, 2, 12)
    assert len(once.layout.circuit_end) == 1
    uneven = coil(way, 2, 12, 1.0 + 1e-9 * np.arange(12))
    assert len(uneven.layout.circuit_end) == 4
    case = Case(flow=16e-3)
    a, b = marched(once, case).result, marched(uneven, case).result
    assert b[:-1] == pytest.approx(a[:-1], rel=1e-7)


def test_coil_upside_down_is_the_same_coil() -> None:
    way = (((1, 0), (1, 1), (1, 2), (0, 2), (0, 3), (0, 0), (0, 1)), ((1, 3),))
    over = tuple(tuple((r, 3 - t) for r, t in p) for p in way)
    speed = np.array([1.0, 1.2, 1.5, 2.0])
    a = marched(coil(way, 2, 4, speed), Case(flow=4e-3)).result
    b = marched(coil(over, 2, 4, speed[::-1]), Case(flow=4e-3)).result
    assert b[:-1] == pytest.approx(a[:-1], rel=1e-8)
    assert a[:4] != pytest.approx(marched(coil(way, 2, 4), Case(flow=4e-3)).result[:4], rel=1e-4)


@few
@given(circuitings(), cases)
def test_start_does_not_matter(made: tuple[Circuiting, int, int], case: Case) -> None:
    circuiting, rows, tubes = made
    numbers = coil(circuiting, rows, tubes)
    plain = marched(numbers, case)
    if numbers.layout.guesses == 0:
        return
    entry = coil_memory(numbers).entry
    states = numbers.layout.guesses
    entry[:states] = plain.enthalpy * 1.1, plain.pressure * 0.99
    other = marched(numbers, case, entry)
    assert other.result.sweeps > 0
    assert other.result.heat == pytest.approx(plain.result.heat, rel=1e-7)
    again = marched(numbers, case, other.entry.copy())
    assert again.result.sweeps <= 2


def test_short_circuit_gets_more_and_leaves_wetter() -> None:
    """Four tubes beside eight: the same pressure drop, hence more flow through the short one."""
    way = (((1, 0), (1, 1), (0, 1), (0, 0)), tuple(
        (r, t) for r, ts in ((1, range(2, 6)), (0, range(5, 1, -1))) for t in ts
    ))  # fmt: skip
    numbers = coil(way, 2, 6)
    run = marched(numbers, Case(flow=5e-3))
    short, long = np.exp(run.entry[-2:, 0])
    assert short > 1.15 * long
    h = run.column("enthalpy_J_per_kg")[numbers.layout.circuit_end]
    assert h[0] < h[1]


def test_faster_air_at_one_end_of_even_circuits_costs_heat() -> None:
    """Starved and flooded circuits side by side do less than two alike."""
    way = by_rows(2, 10, 2, counter=True)
    case = Case(flow=8e-3, rh=0.3)
    heats = [
        marched(coil(way, 2, 10, [1.0] * 5 + [ratio] * 5), case).result.heat
        for ratio in (1.0, 1.5, 2.0, 3.0)
    ]
    assert all(b < a for a, b in pairwise(heats))
    assert heats[2] > 0.8 * heats[0]


@few
@given(circuitings())
def test_order_takes_every_tube_when_its_air_is_known(
    made: tuple[Circuiting, int, int],
) -> None:
    circuiting, rows, tubes = made
    order, torn = marching_order(circuiting)
    places = [p for path in circuiting for p in path]
    assert sorted(order) == list(range(rows * tubes))
    when = {places[i]: n for n, i in enumerate(order)}
    assert all(when[r - 1, t] < when[r, t] for r, t in places if r > 0)
    first = {len([p for q in circuiting[:c] for p in q]) for c in range(len(circuiting))}
    for n, i in enumerate(order):
        fed = i in first or when[places[i - 1]] < n
        assert fed or torn[i]
    assert sum(torn) <= rows * tubes - len(circuiting)


def test_named_ways_use_every_tube_and_need_few_guesses() -> None:
    assert sum(marching_order(by_rows(4, 9, 2, counter=False))[1]) == 0
    assert sum(marching_order(by_rows(3, 10, 2, counter=True))[1]) == 4
    for way, rows in ((by_rows(3, 10, 3, counter=True), 3), (zigzag(2, 11, 2), 2)):
        assert circuiting_error(way, rows, len({t for p in way for _r, t in p})) == ""
    assert [s.times for s in independent_groups(zigzag(2, 10, 3), [1.0] * 10)] == [1, 2]
    assert circuiting_error((((0, 0),), ((0, 0),)), 1, 2) == "tube A1 is used twice"
    assert circuiting_error((((0, 0),),), 1, 2) == "tube A2 is in no circuit"
    assert circuiting_error((((1, 0),),), 1, 1) == "tube B1 is not in the coil"
    assert circuiting_error(((),), 1, 1) == "a circuit has no tube"


def test_dry_isothermal_coil_with_uneven_air_is_a_sum_of_exponentials() -> None:
    """Without resistance inside, each height is an exchanger of its own: the sum is exact."""
    from tests.second_opinions import fin_efficiency, surface_efficiency

    from sweatline.air.moist import moist_heat_capacity
    from sweatline.flow.finned_surface import air_side_coefficient

    case = Case(flow=80e-3, rh=0.02)
    speed = np.array([1.0, 1.0, 2.0, 3.0])
    numbers = coil(zigzag(2, 4, 1), 2, 4, speed, inner_multiplier=1e9, friction_multiplier=0.0)
    run = marched(numbers, case)
    t, w, air = run.air
    cp = moist_heat_capacity(w)
    c = numbers
    expected = 0.0
    for share in speed / speed.mean():
        h = air_side_coefficient(air * share / c.face_area, t, w, c.fins)
        fin = fin_efficiency(h, 200.0, 0.11e-3, 0.5 * c.fins.Dc, 25.4e-3, 22e-3, True)
        area = c.outside_per_length * 0.28 * 2
        flow = air * share / 4.0
        ntu = h * surface_efficiency(fin, c.fins.fin_fraction) * area / (flow * cp)
        expected += flow * cp * (1.0 - math.exp(-ntu)) * (t - case.saturated)
    assert run.result.heat == pytest.approx(expected, rel=1e-6)


def test_layer_is_a_resistance_between_air_and_fin() -> None:
    """A dry coil under frost conducts as its two resistances in series."""
    case = Case(flow=80e-3, rh=0.02)
    bare = coil(zigzag(1, 4, 1), 1, 4, inner_multiplier=1e9, friction_multiplier=0.0)
    layer = np.full(bare.layer.shape, 0.01)  # m2*K/W, about a millimetre of light frost
    run, under = marched(bare, case), marched(bare._replace(layer=layer), case)
    from sweatline.air.moist import moist_heat_capacity

    t, w, air = run.air
    capacity = air * moist_heat_capacity(w)

    def conductance(heat: float) -> float:
        return -capacity * math.log(1.0 - heat / capacity / (t - case.saturated))

    a, b = conductance(run.result.heat), conductance(under.result.heat)
    area = bare.outside_per_length * 0.28 * 4
    # The efficiency of the surface, 0.85 to 1, rises a little under the layer.
    assert 0.01 / area < 1.0 / b - 1.0 / a < 0.01 / (0.85 * area)

"""What must hold for any finned-tube coil: balances, limits, continuity, convergence."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import brentq
from tests.second_opinions import fin_efficiency, surface_efficiency

from sweatline.air.moist import (
    dew_point,
    enthalpy,
    humidity_ratio,
    moist_heat_capacity,
    saturated_humidity_ratio,
    specific_volume,
    temperature,
)
from sweatline.air.saturation_line import saturation_line
from sweatline.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from sweatline.flow.finned_surface import (
    air_side_coefficient,
)
from sweatline.flow.void_fraction import void_fraction_premoli
from sweatline.parts.coil import (
    PROFILE,
    AirInlet,
    CoilParameters,
    CoilResult,
    RefrigerantInlet,
    coil_memory,
    coil_parameters,
)
from sweatline.parts.coil_march import march
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import (
    Table,
    dew_pressure,
    enthalpy_liquid,
    enthalpy_vapour,
    saturation,
    saturation_transport,
    state,
)

FloatArray = NDArray[np.float64]
P = STANDARD_ATMOSPHERE
LINE = saturation_line(P)
FLUIDS = ("R-134a", "R-290", "R-454C")
WATER_HEAT = 4186.0  # J/(kg*K), liquid water
FIN_THICKNESS = 0.11e-3
TUBE = 7.94e-3

fluids = st.sampled_from(FLUIDS)
few = settings(max_examples=30)


def coil(
    *,
    rows: int = 2,
    cells: int = 8,
    counter: bool = True,
    circuits: int = 1,
    tubes: int = 10,
    **changes: Any,
) -> CoilParameters:
    made = coil_parameters(
        tube_outer_diameter=TUBE,
        tube_wall=0.3e-3,
        rows=rows,
        tubes_per_row=tubes,
        transverse_pitch=25.4e-3,
        longitudinal_pitch=22e-3,
        finned_length=0.28,
        fin_pitch=1.8e-3,
        fin_thickness=FIN_THICKNESS,
        circuits=circuits,
        counter=counter,
        cells=cells,
    )
    return made._replace(**changes)


class Case(NamedTuple):
    """One operating point of a coil."""

    name: str = "R-134a"
    flow: float = 7e-3  # kg/s
    saturated: float = 279.15  # K, dew at the inlet pressure
    quality: float = 0.2  # as (h - hl)/(hg - hl): below 0 subcooled, above 1 superheated
    air_t: float = 298.15
    rh: float = 0.55
    airflow: float = 0.09  # m3/s
    heated: bool = True

    @property
    def table(self) -> Table:
        return load(self.name).table

    @property
    def pressure(self) -> float:
        return float(dew_pressure(self.table, self.saturated))

    @property
    def enthalpy(self) -> float:
        hl, hg = saturation(self.table, self.pressure)[2:4]
        return float(hl + self.quality * (hg - hl))

    @property
    def air_w(self) -> float:
        return float(humidity_ratio(self.air_t, self.rh, P))

    @property
    def air_flow(self) -> float:
        return float(self.airflow / specific_volume(self.air_t, self.air_w, P))


def flooded(name: str = "R-134a", **changes: Any) -> Case:
    """More refrigerant than can boil; for coils of four circuits."""
    return Case(name=name, flow=22e-3 if name != "R-290" else 12e-3)._replace(**changes)


class Marched(NamedTuple):
    result: CoilResult
    profile: FloatArray

    def column(self, name: str) -> FloatArray:
        return self.profile[:, PROFILE.index(name)]


def marched(
    c: CoilParameters, case: Case, *, w: float | None = None, entry: FloatArray | None = None
) -> Marched:
    memory = coil_memory(c, profile=True)
    if entry is not None:
        memory = memory._replace(entry=entry)
    result = march(
        case.table,
        LINE,
        c,
        RefrigerantInlet(case.flow, case.pressure, case.enthalpy),
        AirInlet(case.air_t, case.air_w if w is None else w, case.air_flow),
        case.heated,
        memory,
    )
    return Marched(result, memory.profile)


def entering_humidity(run: Marched, case: Case) -> list[float]:
    """Humidity of the air that enters each cell of a profile."""
    rows, places = run.column("row").astype(int), run.column("position").astype(int)
    left = dict(
        zip(zip(rows, places, strict=True), run.column("air_out_humidity_ratio"), strict=True)
    )
    return [
        case.air_w if row == 0 else float(left[row - 1, place])
        for row, place in zip(rows, places, strict=True)
    ]


def throttled_below(case: Case, pressure: float) -> float:
    """Coldest that friction and glide alone can make a gas that condenses. [K]"""
    return float(saturation(case.table, pressure)[0])


def saturated_at(h: float) -> float:
    """Temperature at which saturated air has an enthalpy."""
    return float(brentq(lambda t: enthalpy(t, saturated_humidity_ratio(t, P)) - h, 230.0, 330.0))


evaporators = st.builds(
    Case,
    name=fluids,
    flow=st.floats(0.5e-3, 15e-3),
    saturated=st.floats(258.0, 288.0),
    quality=st.floats(-0.1, 0.95),
    air_t=st.floats(289.0, 315.0),
    rh=st.floats(0.03, 0.98),
    airflow=st.floats(0.025, 0.25),
    heated=st.just(True),
)
condensers = st.builds(
    Case,
    name=fluids,
    flow=st.floats(0.5e-3, 12e-3),
    saturated=st.floats(305.0, 335.0),
    quality=st.floats(0.5, 1.5),
    air_t=st.floats(270.0, 302.0),
    rh=st.floats(0.03, 0.98),
    airflow=st.floats(0.025, 0.25),
    heated=st.just(False),
)
shapes = st.builds(
    coil,
    rows=st.integers(1, 4),
    cells=st.sampled_from((4, 6, 9, 12, 24)),
    counter=st.booleans(),
    circuits=st.sampled_from((1, 2, 4)),
)


@few
@given(shapes, evaporators)
def test_energy_of_an_evaporator_closes(c: CoilParameters, case: Case) -> None:
    """Air gives what the refrigerant takes and what the condensate carries off.

    Condensate leaves no colder than the coldest surface and hardly warmer than the dew point: the
    surface is counted as a mean of its cell, where only the end may be wet. Half a kelvin is the
    most that was found in thousands of coils of four to twenty-four cells a row.
    """
    run = marched(c, case)
    r = run.result
    lost = case.air_flow * (enthalpy(case.air_t, case.air_w) - r.air_enthalpy)
    drained = lost - r.heat
    water = max(r.water, 0.0)
    coldest, warmest = r.coldest_spot, dew_point(case.air_w, P)
    slack = 1e-7 * abs(lost) + 1e-9
    assert drained >= water * WATER_HEAT * (coldest - ZERO_CELSIUS) - slack
    assert drained <= water * WATER_HEAT * (max(warmest, coldest) + 0.5 - ZERO_CELSIUS) + slack
    assert r.heat == pytest.approx(case.flow * (r.enthalpy - case.enthalpy), rel=1e-12)
    assert run.column("heat_W").sum() == pytest.approx(r.heat, rel=1e-6)
    assert run.column("water_kg_per_s").sum() == pytest.approx(r.water, rel=1e-9, abs=1e-15)
    assert run.column("charge_kg").sum() == pytest.approx(r.charge, rel=1e-9)


@pytest.mark.parametrize("name", FLUIDS)
@pytest.mark.parametrize("rh", [0.05, 0.9])
def test_energy_closes_to_the_last_digit(name: str, rh: float) -> None:
    """Where no cell is split between phases, the condensate of each is known cell by cell."""
    case = flooded(name, rh=rh)
    run = marched(coil(tubes=12, circuits=4), case)
    assert run.result.enthalpy < saturation(case.table, run.result.pressure)[3]
    lost = case.air_flow * (enthalpy(case.air_t, case.air_w) - run.result.air_enthalpy)
    water, surface = run.column("water_kg_per_s"), run.column("surface_temperature_K")
    drained = float((water * WATER_HEAT * (surface - ZERO_CELSIUS)).sum())
    assert run.result.wet_share == (0.0 if rh < 0.5 else 1.0)
    assert lost == pytest.approx(run.result.heat + drained, rel=1e-8)


@few
@given(shapes, condensers)
def test_energy_of_a_condenser_closes(c: CoilParameters, case: Case) -> None:
    run = marched(c, case)
    r = run.result
    gained = case.air_flow * (r.air_enthalpy - enthalpy(case.air_t, case.air_w))
    assert gained == pytest.approx(-r.heat, rel=1e-6)
    # Wet gas of a blend, or gas throttled by its own friction, can be colder than the air.
    if run.column("refrigerant_temperature_K").min() > case.air_t:
        assert r.heat < 0.0
    assert r.water == pytest.approx(0.0, abs=1e-15)
    assert r.air_humidity == pytest.approx(case.air_w, rel=1e-12)
    assert r.wet_share == 0.0


@few
@given(shapes, evaporators)
def test_water_falls_only_where_the_surface_is_below_the_dew_point(
    c: CoilParameters, case: Case
) -> None:
    run = marched(c, case)
    assert (run.column("water_kg_per_s") >= -1e-18).all()
    assert run.result.air_humidity <= case.air_w * (1.0 + 1e-12)
    dew = dew_point(case.air_w, P)
    # Wet and dry surfaces conduct a little differently: what dries off counts as dry at once.
    if run.result.coldest_spot < dew - 0.3:
        assert run.result.water > 0.0
    if run.column("refrigerant_temperature_K").min() > dew:
        assert run.result.water == pytest.approx(0.0, abs=1e-15)
        assert run.result.wet_share == 0.0
    if run.result.coldest_spot > ZERO_CELSIUS:
        assert run.result.frost_share == 0.0
    assert run.result.frost_share <= run.result.wet_share <= 1.0 + 1e-12


@few
@given(shapes, evaporators)
def test_air_leaves_between_refrigerant_and_inlet(c: CoilParameters, case: Case) -> None:
    run = marched(c, case)
    coldest = min(run.column("refrigerant_temperature_K").min(), case.saturated)
    out = run.column("air_out_temperature_K")
    assert (out >= coldest - 1e-6).all()
    assert (out <= case.air_t + 1e-6).all()
    lowest = min(
        enthalpy(coldest, saturated_humidity_ratio(coldest, P)), enthalpy(coldest, case.air_w)
    )
    assert run.result.air_enthalpy >= lowest
    # Gas warmed by one row may meet colder air behind it and warm it: then the order is reversed.
    # Fogged air warms a wet surface up to where saturation holds as much enthalpy as it does.
    surface, air_in = run.column("surface_temperature_K"), run.column("air_in_temperature_K")
    refrigerant = run.column("refrigerant_temperature_K")
    full = [
        saturated_at(enthalpy(t, w))
        for t, w in zip(air_in, entering_humidity(run, case), strict=True)
    ]
    assert (surface <= np.maximum(np.maximum(air_in, refrigerant), full) + 1e-3).all()
    assert (surface >= np.minimum(air_in, refrigerant) - 1e-3).all()


@few
@given(shapes, condensers)
def test_refrigerant_never_passes_the_air(c: CoilParameters, case: Case) -> None:
    run = marched(c, case)
    hottest = state(case.table, case.pressure, case.enthalpy)[0]
    assert (run.column("air_out_temperature_K") <= hottest + 1e-6).all()
    if throttled_below(case, run.result.pressure) > case.air_t:
        assert (run.column("refrigerant_temperature_K") >= case.air_t - 1e-6).all()
    assert run.result.pressure < case.pressure


def isothermal(c: CoilParameters) -> CoilParameters:
    """The same coil without resistance inside and without friction."""
    return c._replace(inner_multiplier=1e9, friction_multiplier=0.0)


@pytest.mark.parametrize("rows", [1, 2, 4])
def test_dry_isothermal_coil_is_one_exponential(rows: int) -> None:
    """Q = m cp (1 - exp(-NTU)) (Ta - Tr), whatever the path and the number of cells."""
    case = Case(flow=60e-3, rh=0.02)
    w = case.air_w
    cp = moist_heat_capacity(w)
    for cells, counter in ((3, True), (8, True), (8, False)):
        c = isothermal(coil(rows=rows, cells=cells, counter=counter))
        h = air_side_coefficient(case.air_flow / c.face_area, case.air_t, w, c.fins)
        fin = fin_efficiency(h, 200.0, FIN_THICKNESS, 0.5 * c.fins.Dc, 25.4e-3, 22e-3, True)
        area = c.outside_per_length * c.row_length * rows * c.circuits
        ntu = h * surface_efficiency(fin, c.fins.fin_fraction) * area / (case.air_flow * cp)
        expected = case.air_flow * cp * (1.0 - math.exp(-ntu)) * (case.air_t - case.saturated)
        assert marched(c, case).result.heat == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("rh", [0.02, 0.5, 0.95])
def test_counter_flow_is_parallel_flow_when_isothermal(rh: float) -> None:
    case = Case(flow=60e-3, rh=rh)
    counter = marched(isothermal(coil(rows=3, counter=True)), case).result
    parallel = marched(isothermal(coil(rows=3, counter=False)), case).result
    assert counter.heat == pytest.approx(parallel.heat, rel=1e-8)
    assert counter.water == pytest.approx(parallel.water, rel=1e-8, abs=1e-15)
    assert counter.air_enthalpy == pytest.approx(parallel.air_enthalpy, rel=1e-8)


@pytest.mark.parametrize("name", FLUIDS)
def test_counter_flow_does_more_in_a_single_phase(name: str) -> None:
    """Liquid cooled by air: the arrangement lies between the two textbook exchangers."""
    case = Case(name=name, flow=6e-3, saturated=330.0, quality=-0.02, air_t=290.0, heated=False)
    counter = marched(coil(rows=4, counter=True), case).result
    parallel = marched(coil(rows=4, counter=False), case).result
    assert -counter.heat > -parallel.heat > 0.0
    # Effectiveness of the weaker stream can exceed neither one nor that of pure counter flow.
    t_in = state(case.table, case.pressure, case.enthalpy)[0]
    coldest = case.flow * (case.enthalpy - enthalpy_liquid(case.table, case.pressure, case.air_t))
    assert -counter.heat < coldest
    assert t_in > case.air_t


@pytest.mark.parametrize("name", FLUIDS)
def test_counter_flow_superheats_more(name: str) -> None:
    case = Case(name=name, flow=4e-3, saturated=278.0, air_t=300.0)
    counter = marched(coil(rows=3, counter=True), case).result
    parallel = marched(coil(rows=3, counter=False), case).result
    assert counter.enthalpy > parallel.enthalpy


@few
@given(evaporators, st.booleans(), st.floats(0.3, 3.0))
def test_start_between_the_rows_does_not_matter(
    case: Case, superheated: bool, share: float
) -> None:
    """The states between the rows are an answer, not an assumption."""
    c = coil(rows=3)
    plain = marched(c, case).result
    assume(plain.pressure > 0.3 * case.pressure)  # else the tube cannot pass so much
    hl, hg = saturation(case.table, case.pressure)[2:4]
    entry = coil_memory(c).entry
    entry[:, 0] = hg + 2e4 if superheated else hl + share * 0.3 * (hg - hl)
    entry[:, 1] = case.pressure * 0.98
    other = marched(c, case, entry=entry).result
    assert plain.sweeps > 0
    assert other.sweeps > 0
    assert other.heat == pytest.approx(plain.heat, rel=1e-6)
    assert other.pressure == pytest.approx(plain.pressure, rel=1e-6)
    # again from its own answer: one sweep finds nothing to do
    again = marched(c, case, entry=entry).result
    assert again.sweeps <= 2
    assert again.heat == pytest.approx(plain.heat, rel=1e-6)


@few
@given(evaporators)
def test_twice_the_coil_side_by_side_is_twice_the_coil(case: Case) -> None:
    one = marched(coil(circuits=1, tubes=8), case).result
    doubled = case._replace(flow=2.0 * case.flow, airflow=2.0 * case.airflow)
    two = marched(coil(circuits=2, tubes=16), doubled).result
    assert two.heat == pytest.approx(2.0 * one.heat, rel=1e-9)
    assert two.water == pytest.approx(2.0 * one.water, rel=1e-9, abs=1e-15)
    assert two.charge == pytest.approx(2.0 * one.charge, rel=1e-9)
    assert two.enthalpy == pytest.approx(one.enthalpy, rel=1e-9)
    assert two.pressure == pytest.approx(one.pressure, rel=1e-12)


@few
@given(evaporators, st.floats(1.05, 1.5))
def test_more_surface_more_air_and_better_coefficients_give_more_heat(
    case: Case, factor: float
) -> None:
    # A flooded coil: then nothing but the exchange limits the heat.
    case = flooded()._replace(air_t=case.air_t, rh=case.rh, airflow=case.airflow)
    c = coil(tubes=12, circuits=4)
    here = marched(c, case).result.heat
    assert marched(c._replace(air_multiplier=factor), case).result.heat > here
    assert marched(c._replace(inner_multiplier=factor), case).result.heat > here
    assert marched(c, case._replace(airflow=factor * case.airflow)).result.heat > here
    assert marched(coil(rows=3, tubes=12, circuits=4), case).result.heat > here
    warmer = case._replace(air_t=case.air_t + 1.0)
    assert marched(c, warmer, w=case.air_w).result.heat > here
    assert marched(c, case, w=case.air_w * 1.03).result.heat >= here


def test_multiplier_of_the_inventory_is_one() -> None:
    case = Case()
    plain = marched(coil(), case).result
    more = marched(coil(charge_multiplier=1.15), case).result
    assert more.charge == pytest.approx(1.15 * plain.charge, rel=1e-12)
    assert more._replace(charge=plain.charge) == plain


@pytest.mark.parametrize("name", FLUIDS)
def test_charge_rises_with_the_liquid_that_enters_an_evaporator(name: str) -> None:
    charges = [
        marched(coil(), Case(name=name, quality=float(x))).result.charge
        for x in np.linspace(-0.05, 1.1, 40)
    ]
    assert all(b < a for a, b in pairwise(charges))


@pytest.mark.parametrize("name", FLUIDS)
def test_charge_rises_with_the_liquid_a_condenser_holds(name: str) -> None:
    """Colder air pushes the end of condensation forward and fills the rest with liquid."""
    runs = [
        marched(
            coil(rows=3),
            Case(name=name, saturated=316.0, quality=1.2, air_t=float(t), heated=False),
        ).result
        for t in np.linspace(313.0, 285.0, 40)
    ]
    assert all(b.charge > a.charge for a, b in pairwise(runs))
    assert all(b.enthalpy < a.enthalpy for a, b in pairwise(runs))


@pytest.mark.parametrize("name", FLUIDS)
def test_inventory_of_a_boiling_cell_is_that_of_its_quality(name: str) -> None:
    """Premoli's slip at the quality of the cell; homogeneous flow would hold far less."""
    case, c = flooded(name), coil(tubes=12, circuits=4)
    run = marched(c, case)
    area, length = 0.25 * math.pi * c.bore**2, c.row_length / c.cells
    flux = case.flow / c.circuits / area
    # The state of a cell is that at its entrance: the pressure column of the cell before.
    pressures = np.concatenate(([case.pressure], run.column("pressure_Pa")[:-1]))
    for p, x, charge in zip(pressures, run.column("quality"), run.column("charge_kg"), strict=True):
        vl, vg = saturation(case.table, float(p))[4:6]
        mul, _mug, _kl, _kg, _cl, _cg, sigma = saturation_transport(case.table, float(p))
        void = void_fraction_premoli(float(x), flux, c.bore, vl, vg, mul, sigma)
        mass = ((1.0 - void) / vl + void / vg) * area * length * c.circuits
        assert charge == pytest.approx(mass, rel=1e-6)
        assert charge > area * length * c.circuits / (vl + x * (vg - vl))


@pytest.mark.parametrize("name", FLUIDS)
@pytest.mark.parametrize("liquid", [False, True])
def test_humidity_scan_across_the_onset_of_condensation(name: str, liquid: bool) -> None:
    """Steps of 1e-5 kg/kg from dry to wet: outputs continuous, heat never falls."""
    case, c = Case(name=name, flow=5e-3, saturated=281.15), coil()
    if liquid:
        case, c = flooded(name, saturated=281.15), coil(tubes=12, circuits=4)
    ws = np.arange(0.0030, 0.0130, 1e-5)
    runs = [marched(c, case, w=float(w)).result for w in ws]
    assert runs[0].wet_share == 0.0
    assert runs[-1].wet_share > 0.3
    heat = np.array([r.heat for r in runs])
    w_out = np.array([r.air_humidity for r in runs])
    t_out = np.array([temperature(r.air_enthalpy, r.air_humidity) for r in runs])
    assert (np.diff(heat) > -1e-4).all()
    # A jump would show as a step of another order than its neighbours.
    assert np.abs(np.diff(heat)).max() < 2e-3 * heat[0]
    assert np.abs(np.diff(w_out)).max() < 1.2e-5
    assert np.abs(np.diff(t_out)).max() < 0.03


def assert_continuous(run: Callable[[float], CoilResult], low: float, high: float) -> None:
    """No output jumps anywhere between `low` and `high`.

    The largest steps and sharpest bends of a scan are halved again and again. Fourteen halvings
    leave nothing of a slope; a jump stays what it was.
    """
    xs = np.linspace(low, high, 301)
    runs = [run(float(x)) for x in xs]
    sums = ("heat", "enthalpy", "pressure", "charge", "water", "air_enthalpy", "air_humidity")
    for of in (*sums, "coldest"):
        values = np.array([getattr(r, of) for r in runs])
        step = np.abs(np.diff(values))
        scale = max(float(np.ptp(values)), 1e-9 * float(np.abs(values).max()), 1e-12)
        bend = np.abs(np.diff(values, 2))
        for i in {*np.argsort(-step)[:4], *np.argsort(-bend)[:4], *(np.argsort(-bend)[:4] + 1)}:
            (a, va), (b, vb) = (xs[i], values[i]), (xs[i + 1], values[i + 1])
            for _ in range(14):
                middle = 0.5 * (a + b)
                vm = getattr(run(float(middle)), of)
                if abs(vm - va) > abs(vb - vm):
                    b, vb = middle, vm
                else:
                    a, va = middle, vm
            assert abs(vb - va) < 1e-3 * step[i] + 1e-6 * scale, f"{of} jumps at {a:.6g}"


@pytest.mark.parametrize("name", FLUIDS)
def test_inlet_of_an_evaporator_from_boiling_to_superheated(name: str) -> None:
    assert_continuous(
        lambda x: marched(coil(), Case(name=name, flow=5e-3, quality=x)).result, 0.0, 1.15
    )


@pytest.mark.parametrize("name", FLUIDS)
def test_refrigerant_that_passes_the_melting_point_of_ice(name: str) -> None:
    """The line of saturated air has a kink there: its slope jumps, and nothing of a coil may."""
    assert_continuous(
        lambda t: marched(coil(), Case(name=name, flow=5e-3, saturated=t)).result, 270.0, 277.0
    )


def test_subcooled_inlet_of_an_evaporator() -> None:
    assert_continuous(lambda x: marched(coil(), Case(flow=5e-3, quality=x)).result, -0.1, 0.0)


def test_condenser_in_warmer_and_warmer_air() -> None:
    case = Case(flow=5e-3, saturated=316.0, quality=1.2, heated=False)
    assert_continuous(
        lambda t: marched(coil(rows=3), case._replace(air_t=t), w=0.008).result, 285.0, 314.0
    )


@pytest.mark.parametrize("name", FLUIDS)
def test_inlet_of_a_condenser_from_hot_to_wet_gas(name: str) -> None:
    """The outlet passes from quality to subcooled liquid on the way."""
    case = Case(name=name, flow=7e-3, saturated=315.0, air_t=295.0, heated=False)
    assert_continuous(lambda x: marched(coil(rows=3), case._replace(quality=x)).result, 0.4, 1.4)


@pytest.mark.parametrize("name", FLUIDS)
def test_evaporator_from_starved_to_flooded(name: str) -> None:
    """The dry-out moves through all cells and every row."""
    assert_continuous(lambda m: marched(coil(), Case(name=name, flow=m)).result, 2e-3, 9e-3)


@pytest.mark.parametrize("name", FLUIDS)
def test_evaporator_in_more_and_more_humid_air(name: str) -> None:
    assert_continuous(
        lambda w: marched(coil(), Case(name=name, flow=5e-3), w=w).result, 0.005, 0.016
    )


CELLS = (8, 12, 24, 48, 96)


@pytest.mark.parametrize("name", FLUIDS)
def test_more_cells_change_less_and_less(name: str) -> None:
    """A flooded wet coil: the error is of first order, halved by twice the cells."""
    case = flooded(name)
    runs = {n: marched(coil(cells=n, tubes=12, circuits=4), case).result for n in CELLS}
    for of in ("heat", "water", "pressure"):
        value = {n: getattr(r, of) for n, r in runs.items()}
        coarse, middle, fine = (abs(value[2 * n] - value[n]) / abs(value[96]) for n in (12, 24, 48))
        assert fine < 0.7 * middle < 0.7 * 0.7 * coarse or coarse < 2e-4, of
    limit = {of: 2.0 * getattr(runs[96], of) - getattr(runs[48], of) for of in ("heat", "water")}
    assert runs[8].heat == pytest.approx(limit["heat"], rel=0.02)
    assert runs[8].water == pytest.approx(limit["water"], rel=0.03)


def test_no_temperature_difference_no_heat() -> None:
    case = Case(flow=30e-3, saturated=290.0, air_t=290.0, rh=0.3)
    r = marched(isothermal(coil()), case).result
    assert abs(r.heat) < 1e-6
    assert r.water == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize("rows", [1, 2, 3])
@pytest.mark.parametrize("counter", [True, False])
def test_profile_follows_the_refrigerant(rows: int, counter: bool) -> None:
    """Rows in the order the refrigerant meets them; pressure falls all the way."""
    c = coil(rows=rows, counter=counter)
    run = marched(c, Case(flow=4e-3))
    order = run.column("row").reshape(rows, c.cells)[:, 0]
    assert order.tolist() == (list(range(rows))[::-1] if counter else list(range(rows)))
    h, p = run.column("enthalpy_J_per_kg"), run.column("pressure_Pa")
    if counter:  # with parallel flow warmed gas may meet colder air
        assert (np.diff(h) > 0.0).all()
    assert (np.diff(p) < 0.0).all()
    assert h[-1] == pytest.approx(run.result.enthalpy, rel=1e-12)
    assert p[-1] == pytest.approx(run.result.pressure, rel=1e-12)
    positions = run.column("position").reshape(rows, c.cells)
    assert positions[0].tolist() == list(range(c.cells))
    if rows > 1:
        assert positions[1].tolist() == list(range(c.cells))[::-1]


@few
@given(evaporators)
def test_air_is_fogged_no_further_than_mixing_can(case: Case) -> None:
    """Air moves on straight lines towards saturated states of the surface.

    On the chart it then stays below the chord between saturation at the coldest refrigerant and at
    the dew point; the curve sags below that chord, and what lies between is fog.
    """
    run = marched(coil(rows=3), case)
    dew = dew_point(case.air_w, P)
    coldest = float(run.column("refrigerant_temperature_K").min())
    mixed = temperature(run.result.air_enthalpy, run.result.air_humidity)
    states = [
        *zip(
            run.column("air_out_temperature_K"), run.column("air_out_humidity_ratio"), strict=True
        ),
        (mixed, run.result.air_humidity),
    ]
    for t, w in states:
        assert w <= case.air_w * (1.0 + 1e-12)
        if coldest < t < dew:
            w_cold = saturated_humidity_ratio(coldest, P)
            chord = w_cold + (case.air_w - w_cold) * (t - coldest) / (dew - coldest)
            assert w <= chord * 1.01  # lines of mixing are straight in enthalpy, not quite in t


def test_vapour_only_coil_superheats_towards_the_air() -> None:
    case = Case(flow=1e-3, saturated=270.0, quality=1.05, rh=0.2)
    r = marched(coil(rows=4), case).result
    ceiling = enthalpy_vapour(case.table, r.pressure, case.air_t)
    assert case.enthalpy < r.enthalpy < ceiling
    assert r.enthalpy == pytest.approx(ceiling, rel=0.01)

"""What must hold for any hermetic compressor of the model."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from sweatline.parts.compressor import (
    DEFAULTS,
    RATING_CONDITIONS,
    CompressorParameters,
    Kind,
    MapConvention,
    compress,
    displacement_from_rating,
    generic,
    leaving,
    map_value,
    operate,
    parameters_from_map,
)
from sweatline.parts.compressor_shell import ShellBalance
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import (
    Table,
    dew_pressure,
    enthalpy_from_entropy,
    enthalpy_vapour,
    saturation,
    state,
)

FLUIDS = ("R-134a", "R-152a", "R-290", "R-600a", "R-410A", "R-454C")
fluids = st.sampled_from(FLUIDS)
kinds: st.SearchStrategy[Kind] = st.sampled_from(("reciprocating", "rotary"))
evaporating = st.floats(240.0, 288.0)
lifts = st.floats(8.0, 50.0)
superheats = st.floats(0.0, 40.0)
few = settings(max_examples=40)


def suction(table: Table, te: float, superheat: float) -> tuple[float, float]:
    p = dew_pressure(table, te)
    return p, enthalpy_vapour(table, p, te + superheat)


def discharge(table: Table, te: float, lift: float) -> float:
    return dew_pressure(table, min(te + lift, 0.95 * table.t_crit))


def compressor(kind: Kind = "reciprocating", **changes: float) -> CompressorParameters:
    return generic(kind, displacement=8e-6, frequency=60.0, fixed_loss=60.0)._replace(**changes)


def shell_of(
    table: Table,
    c: CompressorParameters,
    p1: float,
    h1: float,
    p2: float,
    room: float = 300.0,
) -> ShellBalance:
    run = compress(table, c, p1, h1, p2)
    return leaving(table, c, run, p1, h1, p2, c.shell_conductance, room)


@few
@given(fluids, kinds, evaporating, lifts, superheats)
def test_energy_closes(name: str, kind: Kind, te: float, lift: float, superheat: float) -> None:
    """Electrical input leaves as enthalpy of the gas and as heat of the shell."""
    table = load(name).table
    p1, h1 = suction(table, te, superheat)
    p2 = discharge(table, te, lift)
    c = compressor(kind)
    flow, power, h2, h2s = compress(table, c, p1, h1, p2)
    assert flow * (h2 - h1) == pytest.approx(power, rel=1e-12)
    out = shell_of(table, c, p1, h1, p2)
    assert flow * (out.discharge_enthalpy - h1) + out.heat == pytest.approx(power, rel=1e-10)
    assert flow * (h2s - h1) < power
    assert state(table, p2, h2s)[2] == pytest.approx(state(table, p1, h1)[2], rel=1e-7)
    assert 0.0 < flow < c.displacement * c.speed / state(table, p1, h1)[1]


@few
@given(fluids, kinds, evaporating, lifts, superheats)
def test_displacement_and_speed_pump_in_proportion(
    name: str, kind: Kind, te: float, lift: float, superheat: float
) -> None:
    """With no fixed loss to warm the gas, twice the sweep is twice the flow and twice the power.

    Twice the speed is so too but for the valves, whose loss per mass goes with its square.
    """
    table = load(name).table
    p1, h1 = suction(table, te, superheat)
    p2 = discharge(table, te, lift)
    one = compressor(kind, fixed_loss=0.0)
    faster = one._replace(speed=2.0 * one.speed, valve_loss=0.25 * one.valve_loss)
    for two in (one._replace(displacement=16e-6), faster):
        a, b = compress(table, one, p1, h1, p2), compress(table, two, p1, h1, p2)
        assert b[0] == pytest.approx(2.0 * a[0], rel=1e-12)
        assert b[1] == pytest.approx(2.0 * a[1], rel=1e-12)
        assert b[2] == pytest.approx(a[2], rel=1e-12)


@few
@given(fluids, kinds, evaporating, lifts, superheats, st.floats(1.01, 1.3))
def test_monotone(
    name: str, kind: Kind, te: float, lift: float, superheat: float, factor: float
) -> None:
    table = load(name).table
    p1, h1 = suction(table, te, superheat)
    p2 = discharge(table, te, lift)
    c = compressor(kind)
    flow, power, h2, _h2s = compress(table, c, p1, h1, p2)

    def other(p_in: float = p1, p_out: float = p2, **changes: float) -> tuple[float, ...]:
        return compress(table, c._replace(**changes), p_in, h1, p_out)

    higher_head = other(p_out=min(p2 * factor, 0.95 * table.p_crit))
    assume(p2 * factor < 0.95 * table.p_crit)
    assert higher_head[0] < flow
    assert higher_head[2] > h2
    assert other(clearance=c.clearance * factor)[0] < flow
    assert other(filling=c.filling / factor)[0] < flow
    assert other(heating=c.heating * factor)[0] < flow
    lossy = other(fixed_loss=c.fixed_loss * factor)
    assert lossy[0] < flow
    assert lossy[1] / lossy[0] > power / flow
    assert other(proportional=c.proportional / factor)[2] > h2
    tighter = other(valve_loss=c.valve_loss * factor)
    assert tighter[0] < flow
    assert tighter[1] / tighter[0] > power / flow
    # Denser suction at the same superheat pumps more.
    p3, h3 = suction(table, te + 2.0, superheat)
    assert compress(table, c, p3, h3, max(p2, p3 * 1.05))[0] > 0.0
    if p3 * 1.3 < p2:
        assert compress(table, c, p3, h3, p2)[0] > flow


@few
@given(fluids, kinds, evaporating, lifts, superheats, st.floats(0.1, 0.9), st.floats(283.0, 323.0))
def test_a_shell_that_passes_more_is_cooler(
    name: str, kind: Kind, te: float, lift: float, superheat: float, share: float, room: float
) -> None:
    """Oil never above the gas; both fall with the conductance, from adiabatic to the room."""
    table = load(name).table
    p1, h1 = suction(table, te, superheat)
    p2 = discharge(table, te, lift)
    dew = saturation(table, p1)[1]
    usual = compressor(kind)
    adiabatic = compress(table, usual, p1, h1, p2)[2]
    factors = (1e-9, 0.1, 0.5, 0.5 / share, 10.0, 1e3, 1e7)
    found = []
    for factor in factors:
        c = usual._replace(shell_conductance=usual.shell_conductance * factor)
        out = shell_of(table, c, p1, h1, p2, room)
        gas = state(table, p2, out.discharge_enthalpy)[0]
        if factor < 100.0:  # beyond any shell, a cold room condenses in it
            assert out.oil_temperature <= gas + 1e-9
        found.append((out.discharge_enthalpy, out.inside_temperature))
    assert found[0][0] == pytest.approx(adiabatic, abs=1.0)
    gains = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(found)]
    inside = state(table, p2, adiabatic)[0] if kind == "rotary" else found[0][1]
    sign = 1.0 if room > inside else -1.0  # a warm room warms a cool shell
    assert all(sign * h >= -1e-6 and sign * t >= -1e-6 for h, t in gains)
    if kind == "rotary":
        gas = state(table, p2, found[-1][0])[0]
        assert gas == pytest.approx(room, abs=1e-2)
        assert found[-1][1] == pytest.approx(gas - 5.0, abs=1e-9)
    else:
        assert found[-1][1] == pytest.approx(max(room, dew), abs=1e-2)


@pytest.mark.parametrize("name", ["R-134a", "R-407C", "R-410A", "R-454C"])
@pytest.mark.parametrize("wetness", [0.25, 0.4, 0.6])
def test_a_high_side_shell_full_of_wet_gas_closes(name: str, wetness: float) -> None:
    """Along the glide too, where the gas is the colder the wetter it is."""
    table = load(name).table
    p1, p2 = dew_pressure(table, 275.15), dew_pressure(table, 308.15)
    hl, hg = saturation(table, p1)[2:4]
    h1 = hg - wetness * (hg - hl)
    c = compressor("rotary")
    flow, power, *_ = compress(table, c, p1, h1, p2)
    out = shell_of(table, c, p1, h1, p2, 290.0)
    gas, _v, _s, quality = state(table, p2, out.discharge_enthalpy)
    assert 0.0 < quality < 1.0
    lost = c.shell_conductance * (gas - 290.0)
    assert power == pytest.approx(flow * (out.discharge_enthalpy - h1) + lost, rel=1e-9)
    assert out.heat == pytest.approx(lost, rel=1e-9)


@pytest.mark.parametrize("name", ["R-134a", "R-407C", "R-600a"])
@pytest.mark.parametrize("kind", ["rotary", "reciprocating"])
def test_heat_through_a_shell_obeys_its_law_without_steps(name: str, kind: Kind) -> None:
    """From a hot room to one far below saturation, past dew, bubble and the cold room's limit."""
    table = load(name).table
    p1, p2 = dew_pressure(table, 275.15), dew_pressure(table, 303.15)
    h1 = saturation(table, p1)[3] + 8e3
    c = compressor(kind)
    c = c._replace(shell_conductance=50.0 * c.shell_conductance)
    flow, power, *_ = compress(table, c, p1, h1, p2)
    most = power + flow * 8e3
    found, limited = [], False
    for room in np.arange(330.0, 240.0, -0.1):
        out = shell_of(table, c, p1, h1, p2, room)
        inside = out.inside_temperature + (5.0 if kind == "rotary" else 0.0)
        law = c.shell_conductance * (inside - room)
        assert power == pytest.approx(flow * (out.discharge_enthalpy - h1) + out.heat, rel=1e-9)
        if kind == "reciprocating" and law > most:
            assert inside == pytest.approx(saturation(table, p1)[1], abs=1e-9)
            limited, law = True, most
        assert out.heat == pytest.approx(law, rel=1e-6, abs=1e-6 * power)
        found.append(out.discharge_enthalpy)
    steepest = 0.1 * c.shell_conductance / flow  # J/kg from one room to the next
    assert all(0.0 <= a - b <= 1.001 * steepest for a, b in pairwise(found))
    assert limited == (kind == "reciprocating")


@few
@given(fluids, evaporating, lifts, superheats, st.floats(1.5, 4.0))
def test_a_discharge_tube_gives_its_heat_to_the_inside(
    name: str, te: float, lift: float, superheat: float, factor: float
) -> None:
    """The more it passes, the cooler leaves the gas and the warmer is the inside."""
    table = load(name).table
    p1, h1 = suction(table, te, superheat)
    p2 = discharge(table, te, lift)
    c = compressor()
    one = shell_of(table, c, p1, h1, p2)
    two = shell_of(table, c._replace(discharge_tube=factor * c.discharge_tube), p1, h1, p2)
    assert two.discharge_enthalpy <= one.discharge_enthalpy + 1e-6
    assert two.inside_temperature >= one.inside_temperature - 1e-9
    # All of it: what leaves is hardly warmer than the inside, or at saturation.
    all_of_it = shell_of(table, c._replace(discharge_tube=1e6), p1, h1, p2)
    gas = state(table, p2, all_of_it.discharge_enthalpy)[0]
    above = gas - max(all_of_it.inside_temperature, saturation(table, p2)[0])
    assert -2.0 < above < 8.0  # the heat capacity is that of the hot gas


@few
@given(fluids, kinds, evaporating, lifts, superheats, st.floats(0.8, 1.2))
def test_multipliers_scale(
    name: str, kind: Kind, te: float, lift: float, superheat: float, factor: float
) -> None:
    table = load(name).table
    p1, h1 = suction(table, te, superheat)
    p2 = discharge(table, te, lift)
    plain = compress(table, compressor(kind), p1, h1, p2)
    more_power = compress(table, compressor(kind, power_multiplier=factor), p1, h1, p2)
    assert more_power[1] == pytest.approx(factor * plain[1], rel=1e-12)
    assert more_power[0] == plain[0]
    more_flow = compress(table, compressor(kind, flow_multiplier=factor), p1, h1, p2)
    assert more_flow[0] == pytest.approx(factor * plain[0], rel=1e-12)


@pytest.mark.parametrize("name", FLUIDS)
def test_wet_suction_is_continuous(name: str) -> None:
    """From four parts in ten liquid to well superheated in small steps: nothing jumps."""
    table = load(name).table
    p1, p2 = dew_pressure(table, 275.15), dew_pressure(table, 308.15)
    hl, hg = saturation(table, p1)[2:4]
    hs = np.linspace(hg - 0.4 * (hg - hl), hg + 0.15 * (hg - hl), 2001)
    found = np.array([compress(table, compressor(), p1, float(h), p2) for h in hs])
    wet = hs[1:] < hg - 0.02 * (hg - hl)
    for column in range(4):
        steps = np.abs(np.diff(found[:, column]))
        assert steps.max() < 12.0 * np.median(steps[hs[:-1] > hg])
    # Liquid boils off before the cylinder: as much saturated gas is drawn however much comes along,
    # and the energy of what comes in and out is its own.
    assert (np.diff(found[:, 0]) < 1e-9 * found[0, 0]).all()
    assert found[0, 0] == pytest.approx(compress(table, compressor(), p1, hg, p2)[0], rel=6e-3)
    assert np.ptp(found[:-1][wet][:, :2], axis=0) == pytest.approx([0.0, 0.0], abs=1e-3)
    assert found[:, 2] == pytest.approx(hs + found[:, 1] / found[:, 0], rel=1e-12)


@pytest.mark.parametrize("name", FLUIDS)
def test_ideal_machine(name: str) -> None:
    """Without clearance, heating and loss: swept volume of suction gas at isentropic work."""
    table = load(name).table
    p1, h1 = suction(table, 275.15, 8.0)
    p2 = dew_pressure(table, 313.15)
    ideal = compressor(
        clearance=0.0,
        filling=1.0,
        heating=0.0,
        fixed_loss=0.0,
        valve_loss=0.0,
        proportional=1.0,
    )
    flow, power, h2, h2s = compress(table, ideal, p1, h1, p2)
    _t, v1, s1, _x = state(table, p1, h1)
    # The smooth floor of the filling adds 2.5e-5 of the sweep.
    assert flow == pytest.approx(ideal.displacement * ideal.speed / v1, rel=3e-5)
    assert power == pytest.approx(flow * (enthalpy_from_entropy(table, p2, s1) - h1), rel=1e-9)
    assert h2 == pytest.approx(h2s, rel=1e-12)


def test_clearance_by_the_textbook() -> None:
    """1 + C - C v1/v2 is 1 + C - C (p2/p1)^(1/k) where the gas is nearly ideal."""
    table = load("R-600a").table
    p1, p2 = 4e4, 1.6e5
    h1 = enthalpy_vapour(table, p1, 320.0)
    ideal = compressor(filling=1.0, heating=0.0, fixed_loss=0.0, proportional=1.0, clearance=0.05)
    flow, _power, _h2, h2s = compress(table, ideal, p1, h1, p2)
    v1, v2 = state(table, p1, h1)[1], state(table, p2, h2s)[1]
    k = math.log(p2 / p1) / math.log(v1 / v2)
    assert 1.05 < k < 1.15  # isobutane near 320 K
    textbook = 1.05 - 0.05 * (p2 / p1) ** (1.0 / k)
    assert flow * v1 / (ideal.displacement * ideal.speed) == pytest.approx(textbook, rel=1e-4)


def test_past_its_pressure_ratio_nothing_is_pumped_but_nothing_breaks() -> None:
    table = load("R-134a").table
    p1, h1 = suction(table, 233.15, 10.0)
    flows = [
        compress(table, compressor(clearance=0.15), p1, h1, dew_pressure(table, tc))[0]
        for tc in np.linspace(273.0, 360.0, 60)
    ]
    assert all(b < a for a, b in pairwise(flows))
    assert 0.0 < flows[-1] < 0.02 * flows[0]


@few
@given(
    fluids,
    kinds,
    st.floats(200.0, 3000.0),
    st.one_of(st.none(), st.floats(0.35, 0.7)),
    st.sampled_from(sorted(RATING_CONDITIONS)),
    st.sampled_from((50.0, 60.0)),
)
def test_rating_point_round_trip(
    name: str,
    kind: Kind,
    capacity: float,
    efficiency: float | None,
    condition_name: str,
    frequency: float,
) -> None:
    """What is found from a rating point shows that rating point, and its efficiency is its own."""
    table = load(name).table
    condition = RATING_CONDITIONS[condition_name]
    assume(condition.condensing < 0.97 * table.t_crit)
    point = {
        "evaporating": condition.evaporating,
        "condensing": condition.condensing,
        "suction": condition.suction,
        "liquid": condition.liquid,
    }
    ideal = displacement_from_rating(
        table, kind, capacity=capacity, frequency=frequency, condition=condition
    )
    by_kind = operate(table, ideal, **point)
    power = None
    if efficiency is not None:
        power = by_kind.power * by_kind.isentropic_efficiency / efficiency
    numbers = displacement_from_rating(
        table, kind, capacity=capacity, frequency=frequency, condition=condition, power=power
    )
    at = operate(table, numbers, **point)
    assert at.capacity == pytest.approx(capacity, rel=1e-8)
    if power is not None:
        assert at.power == pytest.approx(power, rel=1e-8)
    assert 0.0 <= numbers.fixed_loss < at.power
    assert 0.0 <= numbers.valve_loss <= DEFAULTS[kind].valve_loss * (1.0 + 1e-9)
    assert 0.2 < numbers.proportional <= 0.95


@few
@given(fluids, kinds, evaporating, lifts, superheats)
def test_losses_add_up(name: str, kind: Kind, te: float, lift: float, superheat: float) -> None:
    """Input is fixed loss, isentropic work, and a work per mass swept that no gas changes."""
    table = load(name).table
    p1, h1 = suction(table, te, superheat)
    c = compressor(kind)
    flow, power, _h2, h2s = compress(table, c, p1, h1, discharge(table, te, lift))
    swept = c.displacement * c.speed / state(table, p1, h1)[1]
    per_mass = (c.proportional * (power - c.fixed_loss) - flow * (h2s - h1)) / swept
    assert per_mass == pytest.approx(c.valve_loss * c.speed**2, rel=1e-6)


@pytest.mark.parametrize("name", FLUIDS)
def test_no_lift_costs_only_losses(name: str) -> None:
    """As the lift vanishes the isentropic work does, and the efficiency with it."""
    table = load(name).table
    p1, h1 = suction(table, 275.15, 8.0)
    c = compressor()
    small = [compress(table, c, p1, h1, p1 * (1.0 + x)) for x in (0.2, 0.1, 0.05, 0.025)]
    shares = [flow * (h2s - h1) / power for flow, power, _h2, h2s in small]
    assert all(b < 0.7 * a for a, b in pairwise(shares))
    flow, power, _h2, _h2s = small[-1]
    assert power > c.fixed_loss + flow * c.valve_loss * c.speed**2 / c.proportional


def test_a_very_good_machine_keeps_its_rating() -> None:
    """No room for the usual losses: the fixed loss goes first, then part of the valve loss."""
    table = load("R-134a").table
    condition = RATING_CONDITIONS["EN 12900 air-conditioning"]
    point = {
        "evaporating": condition.evaporating,
        "condensing": condition.condensing,
        "suction": condition.suction,
        "liquid": condition.liquid,
    }
    left = []
    for efficiency in (0.5, 0.75, 0.85, 0.93):
        trial = displacement_from_rating(
            table, "reciprocating", capacity=900.0, frequency=60.0, condition=condition
        )
        at = operate(table, trial, **point)
        numbers = displacement_from_rating(
            table,
            "reciprocating",
            capacity=900.0,
            frequency=60.0,
            condition=condition,
            power=at.power * at.isentropic_efficiency / efficiency,
        )
        again = operate(table, numbers, **point)
        assert again.isentropic_efficiency == pytest.approx(efficiency, rel=1e-8)
        left.append((numbers.fixed_loss / again.power, numbers.valve_loss))
    usual = DEFAULTS["reciprocating"]
    assert left[0] == pytest.approx((usual.fixed_share, usual.valve_loss))
    assert all(b[0] <= a[0] + 1e-12 and b[1] <= a[1] + 1e-12 for a, b in pairwise(left))
    assert left[-1][0] == pytest.approx(0.0, abs=1e-9)
    assert 0.0 < left[-1][1] < usual.valve_loss


def test_map_of_the_model_gives_the_model_back() -> None:
    """A map made with the model itself, fitted, must return the numbers that made it."""
    table = load("R-134a").table
    truth = compressor(clearance=0.045, fixed_loss=70.0, valve_loss=1.4, proportional=0.62)
    ranges = (258.15, 283.15), (303.15, 328.15)
    grid = [(te, tc) for te in np.linspace(*ranges[0], 9) for tc in np.linspace(*ranges[1], 9)]
    runs = [
        operate(table, truth, evaporating=te, condensing=tc, suction=291.45, liquid=tc)
        for te, tc in grid
    ]
    # The ten terms, by least squares, in the order of map_value.
    unit = np.eye(10)
    basis = np.array([[map_value(unit[i].tolist(), te, tc) for i in range(10)] for te, tc in grid])
    capacity, power = (
        np.linalg.lstsq(basis, np.array([getattr(r, of) for r in runs]), rcond=None)[0].tolist()
        for of in ("capacity", "power")
    )
    fitted, quality = parameters_from_map(
        table,
        "reciprocating",
        capacity_terms=capacity,
        power_terms=power,
        convention=MapConvention(
            suction=291.45,
            superheat=None,
            subcooling=0.0,
            evaporating_range=ranges[0],
            condensing_range=ranges[1],
        ),
        frequency=50.0,
        map_frequency=60.0,
    )
    assert max(quality.values()) < 2e-3
    assert fitted.displacement == pytest.approx(truth.displacement, rel=0.01)
    assert fitted.clearance == pytest.approx(truth.clearance, abs=0.002)
    assert fitted.fixed_loss == pytest.approx(truth.fixed_loss, rel=0.05)
    assert fitted.valve_loss == pytest.approx(truth.valve_loss, rel=0.1)
    assert fitted.proportional == pytest.approx(truth.proportional, rel=0.03)
    assert fitted.speed == pytest.approx(truth.speed * 50.0 / 60.0, rel=1e-12)


def test_convention_by_superheat_or_by_return_gas() -> None:
    """At one evaporating temperature, 10 K of superheat is a return gas 10 K above it."""
    table = load("R-152a").table
    at = {"evaporating": 278.15, "condensing": 323.15, "liquid": 315.15}
    same = operate(table, compressor(), suction=288.15, **at)
    colder = operate(table, compressor(), suction=283.15, **at)
    assert colder.mass_flow > same.mass_flow
    assert colder.discharge_temperature < same.discharge_temperature
    warm_liquid = operate(table, compressor(), suction=288.15, **at | {"liquid": 323.15})
    assert warm_liquid.capacity < same.capacity
    assert warm_liquid.mass_flow == same.mass_flow

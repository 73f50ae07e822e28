"""Expansion valves a second way: the port as a control valve is rated, the machine by brackets."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.dehumidifiers import Dehumidifier
from tests.nested import solve_nested

from sweatline.flow.orifice import Port, discharge_coefficient_wile, mass_flow_orifice
from sweatline.machine.balance import solve, subcooled
from sweatline.parts.expansion import Ends, expansion_flow
from sweatline.parts.valves import AutomaticParameters, thermostatic_valve
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import dew_pressure, enthalpy_liquid, saturation, state

POUND, FOOT = 0.45359237, 0.3048  # exact


@settings(deadline=None)
@given(
    area=st.floats(1e-7, 1e-4),
    coefficient=st.floats(0.3, 1.0),
    density=st.floats(300.0, 1400.0),
    drop=st.floats(1e4, 3e6),
)
def test_port_as_a_control_valve_is_rated(
    area: float, coefficient: float, density: float, drop: float
) -> None:
    """IEC 60534-2-1: W = N6 Kv sqrt(dp rho), N6 = 31.6 (MEMORY 0.95), in kg/h, bar and kg/m3.

    Kv is the cubic metres of water (1000 kg/m3) in an hour at 1 bar. The tolerance is the rounding
    of N6.
    """
    kv = coefficient * area * math.sqrt(2.0 * 1e5 / 1000.0) * 3600.0
    rated = 31.6 * kv * math.sqrt(drop / 1e5 * density) / 3600.0
    ours = mass_flow_orifice(area, coefficient, density, drop)
    assert ours == pytest.approx(rated, rel=1.5e-3)


@settings(deadline=None)
@given(density=st.floats(300.0, 1400.0), volume=st.floats(0.002, 0.1))
def test_coefficient_in_the_units_it_was_made_in(density: float, volume: float) -> None:
    """MEMORY 0.8: Cd = 0.0802 sqrt(rho) + 0.0396 v in lb/ft3 and ft3/lb; three digits."""
    cubic = POUND / FOOT**3
    printed = 0.0802 * math.sqrt(density / cubic) + 0.0396 * volume * cubic
    assert discharge_coefficient_wile(density, volume) == pytest.approx(printed, rel=2e-3)


@pytest.mark.parametrize("name", ["R-12", "R-134a", "R-407C"])
def test_flow_of_a_valve_written_out(name: str) -> None:
    """States from the tables, Bernoulli by hand, opening by hand."""
    table = load(name).table
    for condensing, subcooling, evaporating in ((318.15, 4.0, 275.15), (308.15, 9.0, 255.15)):
        head = dew_pressure(table, condensing)
        h = enthalpy_liquid(table, head, saturation(table, head)[0] - subcooling)
        back = dew_pressure(table, evaporating)
        valve = AutomaticParameters(Port(1.3e-6, 1.07), back + 12e3, 40e3)
        found = expansion_flow(table, valve, Ends(head, h, back, back, 0.0), 0.01)
        speed = math.sqrt(2.0 * (head - back) * state(table, head, h)[1])
        coefficient = 0.02005 / math.sqrt(state(table, head, h)[1])
        coefficient += 0.634 * state(table, back, h)[1]
        volume_flow = 1.07 * 0.3 * 1.3e-6 * coefficient * speed
        assert found.opening == pytest.approx(0.3)
        assert found.flow == pytest.approx(volume_flow / state(table, head, h)[1], rel=1e-9)
        assert 0.55 < coefficient < 0.8


def test_a_machine_with_a_valve_by_newton_and_by_brackets() -> None:
    """The thermostatic valve by nested roots: the same four unknowns."""
    table, line, machine = Dehumidifier(
        refrigerant="R-134a",
        displacement=9e-6,
        temperature=299.15,
        relative_humidity=0.60,
        airflow=0.09,
        cells=6,
    ).build()
    part = thermostatic_valve(table, area=1e-6, static_superheat=4.0, opening_superheat=4.0)
    machine = machine._replace(expansion=part)
    target = subcooled(subcooling=5.0)
    newton = solve(table, line, machine, target)
    start = np.array(newton.unknowns) + np.array([0.02, -0.01, 0.0, 0.0])
    brackets = solve_nested(table, line, machine, target, start=start, width=0.12)
    assert brackets.unknowns == pytest.approx(newton.unknowns, rel=1e-6)
    assert brackets.opening == pytest.approx(newton.opening, rel=1e-4)

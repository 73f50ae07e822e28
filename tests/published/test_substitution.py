"""One refrigerant put in place of another: ideal cycles, and machines that were measured."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, NamedTuple

import pytest

from sweatline.air.moist import humidity_ratio, specific_volume
from sweatline.air.saturation_line import SaturationLine, saturation_line
from sweatline.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from sweatline.machine.balance import SteadyState, design, filled, solve
from sweatline.machine.circuit import AFTER, SEPARATE, AirParameters, MachineParameters
from sweatline.parts.capillary import CapillaryParameters
from sweatline.parts.capillary_flow import length_for
from sweatline.parts.coil import CoilParameters, coil_parameters
from sweatline.parts.compressor import Operation, generic, operate
from sweatline.parts.shell import LineParameters, ShellParameters, solubility
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import (
    Table,
)

MEASURED: dict[str, Any] = {
    "unit": "",
    "kind": "absolute",
    "aim_only": True,
}
BORE, ROUGHNESS = 1.5e-3, 0.75e-6  # m
WHY = "five points, and the published band: another machine than theirs, made of usual parts"


def test_refrigeration_plant_from_r134a_to_r152a(published: Callable[..., Any]) -> None:
    """Same hermetic compressor, same evaporating and condensing temperature, suction exchanger.

    The exchanger warms the gas half the way to the liquid. What it gives to the gas it takes from
    the liquid, so capacity counts from liquid before the exchanger to gas after it.
    """
    compressor = generic("reciprocating", displacement=20e-6, frequency=50.0, fixed_loss=100.0)

    def run(name: str, te: float, tc: float) -> Operation:
        te, tc = te + ZERO_CELSIUS, tc + ZERO_CELSIUS
        gas, liquid = te + 10.0, tc - 2.0
        return operate(
            load(name).table,
            compressor,
            evaporating=te,
            condensing=tc,
            suction=0.5 * (gas + liquid),
            liquid=liquid,
        )

    capacity, cop = [], []
    for te in (-15.0, -10.0, -5.0, 0.0):
        for tc in (30.0, 40.0, 50.0):
            old, new = run("R-134a", te, tc), run("R-152a", te, tc)
            capacity.append(new.capacity / old.capacity)
            cop.append(new.capacity / new.power / (old.capacity / old.power))
    common = MEASURED | {
        "model": "Substitution, compressor and exchanger",
        "source": "Cabello et al. 2015, abstract",
        "status": "PUBLISHED",
        "basis": "similar",
        "tolerance": 0.05,
        "reason": "five points; the abstract gives one end of the range only",
    }
    published(
        quantity="capacity, R-134a to R-152a, mean of twelve conditions",
        printed=0.90,
        ours=sum(capacity) / len(capacity),
        **common,
    )
    published(
        quantity="COP, R-134a to R-152a, best of twelve conditions",
        printed=1.13,
        ours=max(cop),
        **common,
    )


def _coil(rows: int, face: float) -> CoilParameters:
    """Tubes of 7 mm, two circuits."""
    return coil_parameters(
        tube_outer_diameter=7.0e-3,
        tube_wall=0.3e-3,
        rows=rows,
        tubes_per_row=16,
        transverse_pitch=21e-3,
        longitudinal_pitch=13e-3,
        finned_length=face / (16 * 21e-3),
        fin_pitch=1.6e-3,
        fin_thickness=0.1e-3,
        circuits=4,
        counter=True,
        cells=8,
    )


@functools.cache
def _line() -> SaturationLine:
    return saturation_line(STANDARD_ATMOSPHERE)


def _machine(name: str, displacement: float, tube: float) -> MachineParameters:
    """A window unit of about 3 kW at 27 °C, 47 % inside and 35 °C outside."""
    p = STANDARD_ATMOSPHERE
    inside, outside = 300.15, 308.15
    w_in, w_out = humidity_ratio(inside, 0.47, p), humidity_ratio(outside, 0.4, p)
    table: Table = load(name).table
    oil = solubility(table, name, "MO" if name in ("R-22", "R-290", "R-1270") else "POE")
    return MachineParameters(
        compressor=generic("rotary", displacement=displacement, frequency=50.0, fixed_loss=150.0),
        evaporator=_coil(3, 0.10),
        condenser=_coil(3, 0.16),
        expansion=CapillaryParameters(BORE, tube, ROUGHNESS, 1.0, 0.0),
        lines=LineParameters(10e-3, 0.6, 8e-3, 0.6, 6e-3, 0.5, 20e-6, 0.0, 0.0),
        shell=ShellParameters(
            2e-3, 0.35e-3, oil.size_ratio, oil.interaction, oil.interaction_slope
        ),
        air=AirParameters(
            SEPARATE,
            inside,
            w_in,
            0.15 / specific_volume(inside, w_in, p),
            outside,
            w_out,
            0.35 / specific_volume(outside, w_out, p),
            120.0,
            AFTER,
            outside,
        ),
    )


@functools.cache
def air_conditioner(name: str, displacement: float) -> SteadyState:
    """The unit with a tube cut to suit."""
    machine = _machine(name, displacement, 1.0)
    return solve(load(name).table, _line(), machine, design(superheat=6.0, subcooling=6.0))


def tube_for(made_for: str, displacement: float) -> float:
    """Length of the tube the unit was made with. [m]"""
    made = air_conditioner(made_for, displacement)
    return length_for(
        load(made_for).table,
        bore=BORE,
        mass_flow=made.flow,
        inlet_pressure=made.liquid_pressure,
        inlet_enthalpy=made.unknowns[3],
        outlet_pressure=made.evaporating_pressure,
        roughness=ROUGHNESS,
        flow_multiplier=1.0,
    ).length


@functools.cache
def recharged(name: str, displacement: float, made_for: str) -> SteadyState:
    """The unit with the tube it was made with, filled to the same superheat."""
    machine = _machine(name, displacement, tube_for(made_for, displacement))
    return solve(load(name).table, _line(), machine, filled(superheat=6.0))


class Band(NamedTuple):
    """Substitute over baseline as published, from low to high."""

    quantity: str
    low: float
    high: float
    of: Callable[[SteadyState], float]


def _cop(b: SteadyState) -> float:
    return b.cooling / b.total_power


# Last but one: whether the tube stayed as it was.
ROOM_UNITS = [
    (
        "R-22",
        "R-407C",
        20e-6,
        "Devotta, Padalkar and Sane 2005, window unit",
        "PUBLISHED",
        True,
        (
            Band("capacity", 0.921, 0.979, lambda b: b.cooling),
            Band("COP", 0.865, 0.921, _cop),
            Band("power", 1.06, 1.07, lambda b: b.total_power),
            Band("discharge pressure", 1.11, 1.13, lambda b: b.discharge_pressure),
        ),
    ),
    (
        "R-22",
        "R-290",
        20e-6,
        "Teng et al. 2012, window unit",
        "PUBLISHED",
        True,
        (
            Band("COP, best charge", 1.2, 1.2, _cop),
            Band("charge", 0.50, 0.55, lambda b: b.charge),
        ),
    ),
    (
        "R-22",
        "R-290",
        20e-6,
        "national laboratory report on a 1.5 ton split, figures recalled",
        "MEMORY 0.6",
        False,
        (
            Band("capacity", 0.92, 0.92, lambda b: b.cooling),
            Band("COP", 1.07, 1.07, _cop),
        ),
    ),
    (
        "R-22",
        "R-1270",
        20e-6,
        "Chen et al. 2012, air-cooled unit",
        "PUBLISHED",
        True,
        (Band("capacity", 0.96, 0.96, lambda b: b.cooling),),
    ),
    (
        "R-410A",
        "R-32",
        13e-6,
        "residential heat pump, charge optimised",
        "PUBLISHED",
        False,
        (
            Band("capacity", 1.03, 1.10, lambda b: b.cooling),
            Band("COP", 1.02, 1.09, _cop),
            Band("power", 1.01, 1.05, lambda b: b.total_power),
            Band("charge", 0.714, 0.714, lambda b: b.charge),
        ),
    ),
]


@pytest.mark.parametrize("row", ROOM_UNITS, ids=lambda r: f"{r[0]} to {r[1]}, {r[3].split()[0]}")
def test_room_units_that_were_measured(published: Callable[..., Any], row: Any) -> None:
    """Both temperatures float here, as they do in a machine.

    Three of the papers recharged the unit and left its tube; a valve, or a tube that was adapted,
    gives both refrigerants the superheat and subcooling they like.
    """
    old, new, displacement, source, status, tube_stays, bands = row
    a = air_conditioner(old, displacement)
    b = recharged(new, displacement, old) if tube_stays else air_conditioner(new, displacement)
    for band in bands:
        published(
            model="Substitution, whole machine",
            source=source,
            status=status,
            basis="similar",
            quantity=f"{band.quantity}, {old} to {new}, middle of the band",
            printed=0.5 * (band.low + band.high),
            ours=band.of(b) / band.of(a),
            tolerance=0.05 + 0.5 * (band.high - band.low),
            reason=WHY,
            **MEASURED,
        )


def test_direction_of_what_everybody_finds() -> None:
    """Signs only, which the measurements agree on; the sizes are aims."""
    r22, r290, r407c = (recharged(name, 20e-6, "R-22") for name in ("R-22", "R-290", "R-407C"))
    assert r290.cooling < r22.cooling
    assert r290.cooling / r290.compressor_power > r22.cooling / r22.compressor_power
    assert r290.discharge_temperature < r22.discharge_temperature
    assert r290.charge < 0.65 * r22.charge
    assert r407c.discharge_pressure > 1.05 * r22.discharge_pressure
    assert r407c.cooling / r407c.compressor_power < r22.cooling / r22.compressor_power
    r410a, r32 = (air_conditioner(name, 13e-6) for name in ("R-410A", "R-32"))
    assert r32.cooling > r410a.cooling
    assert r32.discharge_temperature > r410a.discharge_temperature + 5.0
    assert r32.charge < 0.8 * r410a.charge

"""One measured R-12 machine with three metering parts: what moves when a fan is slowed.

Source, PUBLISHED: readings of an R-12 air-to-air bench in a mechanical engineering laboratory
course (number 157, spring 2025): the same compressor and coils with an automatic valve, a
thermostatic valve and a capillary. No licence is stated, so only the readings that are compared
stand here. Pressures, temperatures and flow are trusted, currents times volts are not.

Nothing is said about the parts. Eight numbers of a machine are therefore fitted to eight readings
of one row, the capillary with both fans high; the valve's setting is fitted to the superheat of
its own row with both fans high. All else is the model's.

Assumed: fins, tubes and rows of usual size; the room's humidity (50 %, not read; 40 to 60 % moves
the superheat of the slowed rows by 0.6 K); the condenser breathes the air that the evaporator does
(read at the evaporator only); fan heat outside of what the air's thermometers see; 120 W of fixed
loss; 8 W/K from compressor and discharge line to the air; short liquid lines. The suction line is
warmed by 3 K on the bench and not in the model, so superheat is compared at the evaporator's
outlet.

How far a fan slowed is not given as airflow. Its current falls to 0.67 (condenser) and 0.65
(evaporator) of the high setting, and the airflow is taken to go with it. The heat that the air
takes up speaks for 0.60 (capillary row) and 0.71 (valve row) at the condenser and for 0.81 at the
evaporator, if it were dry: so the bands are 0.60 to 0.75 and 0.60 to 0.80.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import pytest
from scipy.optimize import brentq, root
from tests.evidence import Section, Series

from sweatline.air.moist import humidity_ratio
from sweatline.air.saturation_line import SaturationLine, saturation_line
from sweatline.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from sweatline.machine.balance import SteadyState, Target, design, fixed_charge, solve, subcooled
from sweatline.machine.circuit import OUTSIDE, SEPARATE, AirParameters, MachineParameters
from sweatline.machine.room_map import in_room
from sweatline.parts.capillary import CapillaryParameters
from sweatline.parts.capillary_flow import length_for
from sweatline.parts.coil import CoilParameters, coil_parameters
from sweatline.parts.compressor import generic
from sweatline.parts.shell import LineParameters, ShellParameters
from sweatline.parts.valves import automatic_valve, thermostatic_valve
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import (
    Table,
    enthalpy_liquid,
    enthalpy_vapour,
    saturation,
    state,
)

PSI = 6894.757293168  # Pa
POUND_A_MINUTE = 0.45359237 / 60.0  # kg/s
P = STANDARD_ATMOSPHERE
HUMIDITY = 0.5
SOURCE = "R-12 bench of a mechanical engineering laboratory course (157, spring 2025)"
COMMON = {"source": SOURCE, "status": "PUBLISHED", "basis": "similar", "aim_only": True}


class Reading(NamedTuple):
    """One row of the source, in its units; pressures in psia, temperatures in Celsius."""

    liquid: float  # condenser outlet
    outlet: float  # evaporator outlet
    suction: float  # compressor inlet
    entering: float  # gas into the condenser
    room: float  # air into the evaporator
    liquid_pressure: float
    head: float
    evaporator_in: float
    evaporator_out: float
    flow: float  # lb/min

    @property
    def superheat(self) -> float:
        """At the evaporator outlet. [K]"""
        return self.outlet - boiling(self.evaporator_out)

    @property
    def subcooling(self) -> float:
        """At the condenser outlet. [K]"""
        return boiling(self.liquid_pressure) - self.liquid

    def heat(self, coil: str) -> float:
        """Given or taken by the refrigerant in a coil. [W]"""
        p = self.liquid_pressure * PSI
        h = enthalpy_liquid(table(), p, self.liquid + ZERO_CELSIUS)
        p, t = self.head * PSI, self.entering
        if coil == "evaporator":
            p, t = self.evaporator_out * PSI, self.outlet
        gas = enthalpy_vapour(table(), p, t + ZERO_CELSIUS)
        return float(self.flow * POUND_A_MINUTE * (gas - h))

    @property
    def volume_flow(self) -> float:
        """Of the gas at the compressor inlet. [cm3/s]"""
        p = self.evaporator_out * PSI
        v = state(table(), p, enthalpy_vapour(table(), p, self.suction + ZERO_CELSIUS))[1]
        return self.flow * POUND_A_MINUTE * v * 1e6


CAPILLARY = Reading(46.8, 14.4, 17.8, 93.0, 26.0, 185.0, 190.0, 56.7, 46.7, 1.32)
CAPILLARY_CONDENSER_FAN = Reading(54.2, 6.8, 9.0, 93.6, 26.8, 220.0, 228.0, 61.7, 51.7, 1.40)
CAPILLARY_EVAPORATOR_FAN = Reading(45.6, 11.4, 14.8, 90.2, 26.2, 180.0, 185.0, 53.7, 44.7, 1.30)
VALVE = Reading(47.0, 15.6, 19.6, 95.2, 25.8, 180.0, 190.0, 56.7, 45.7, 1.30)
VALVE_CONDENSER_FAN = Reading(51.2, 15.6, 19.4, 94.2, 27.0, 205.0, 208.0, 56.7, 46.7, 1.30)
# Automatic valve, set to 30, 15, 7 and 2 psig.
AUTOMATIC = (
    Reading(45.4, 15.2, 20.4, 96.2, 25.6, 175.0, 185.0, 54.7, 44.7, 1.30),
    Reading(35.6, 20.2, 24.6, 83.0, 23.8, 137.0, 141.0, 34.7, 29.7, 0.72),
    Reading(29.0, 21.2, 25.6, 64.4, 22.6, 115.0, 119.0, 23.7, 21.7, 0.45),
    Reading(25.2, 21.8, 25.6, 48.0, 21.8, 100.5, 101.0, 15.7, 16.7, 0.25),
)
SETTINGS = (30, 15, 7, 2)  # psig
AIR_OUT = (13.2, 38.0)  # evaporator and condenser, capillary with both fans high

CONDENSER_FAN = (0.75, 0.67, 0.60)
EVAPORATOR_FAN = (0.80, 0.65, 0.60)
MIDDLE = 1  # the fan's current


@functools.cache
def table() -> Table:
    return load("R-12").table


@functools.cache
def line() -> SaturationLine:
    return saturation_line(P)


def boiling(psia: float) -> float:
    """Saturation temperature. [°C]"""
    return float(saturation(table(), psia * PSI)[1]) - ZERO_CELSIUS


# The machine, fitted to one row


def coil(length: float, bore: float) -> CoilParameters:
    """Three rows of ten 3/8 in tubes, 12.5 fins an inch, one circuit."""
    diameter = 9.52e-3
    return coil_parameters(
        tube_outer_diameter=diameter,
        tube_wall=0.5 * (diameter - bore),
        rows=3,
        tubes_per_row=10,
        transverse_pitch=25.4e-3,
        longitudinal_pitch=22e-3,
        finned_length=length,
        fin_pitch=2.0e-3,
        fin_thickness=0.15e-3,
        circuits=1,
        counter=True,
        cells=8,
    )


class Fitted(NamedTuple):
    """What the readings of one row decide."""

    displacement: float  # m3 a revolution, by the flow
    proportional: float  # of the compressor, by the gas into the condenser
    evaporator_length: float  # m of fins, by the suction pressure
    evaporator_bore: float  # m, by the pressure drop: 10 psi, and 5 psi in the condenser
    evaporator_air: float  # kg/s, by the air that leaves
    condenser_length: float  # m of fins, by the head
    condenser_bore: float  # m
    condenser_air: float  # kg/s


def assembled(parts: Fitted, metering: Any = None) -> MachineParameters:
    t = CAPILLARY.room + ZERO_CELSIUS
    w = humidity_ratio(t, HUMIDITY, P)
    return MachineParameters(
        compressor=generic(
            "reciprocating",
            displacement=parts.displacement,
            frequency=60.0,
            fixed_loss=120.0,
            proportional=parts.proportional,
        )._replace(shell_conductance=8.0),
        evaporator=coil(parts.evaporator_length, parts.evaporator_bore),
        condenser=coil(parts.condenser_length, parts.condenser_bore),
        expansion=metering or CapillaryParameters(1.6e-3, 1.0, 0.75e-6, 1.0, 0.0),
        lines=LineParameters(11e-3, 1.5, 8e-3, 1.0, 6e-3, 2.0, 50e-6, 0.0, 0.0),
        shell=ShellParameters(2e-3, 0.4e-3, 4.5, 0.3),
        air=AirParameters(
            arrangement=SEPARATE,
            temperature=t,
            humidity=w,
            flow=parts.evaporator_air,
            condenser_temperature=t,
            condenser_humidity=w,
            condenser_flow=parts.condenser_air,
            fan_power=0.0,
            fan_position=OUTSIDE,
            ambient=t,
        ),
    )


@functools.cache
def fitted() -> Fitted:
    """Eight numbers from eight readings of the reference row; superheat and subcooling as read."""
    seen = CAPILLARY
    aim = design(superheat=seen.superheat, subcooling=seen.subcooling)
    latest: SteadyState | None = None

    def misses(logs: np.ndarray) -> list[float]:
        nonlocal latest
        b = latest = solve(table(), line(), assembled(Fitted(*np.exp(logs))), aim, near=latest)
        return [
            np.log(b.flow / (seen.flow * POUND_A_MINUTE)),
            (b.discharge_temperature - ZERO_CELSIUS - seen.entering) / 50.0,
            np.log(b.suction_pressure / (seen.evaporator_out * PSI)),
            np.log((b.evaporating_pressure - b.suction_pressure) / PSI)
            - np.log(seen.evaporator_in - seen.evaporator_out),
            (b.air_between[0] - ZERO_CELSIUS - AIR_OUT[0]) / 10.0,
            np.log(b.discharge_pressure / (seen.head * PSI)),
            np.log((b.discharge_pressure - b.liquid_pressure) / PSI)
            - np.log(seen.head - seen.liquid_pressure),
            (b.air_out[0] - ZERO_CELSIUS - AIR_OUT[1]) / 10.0,
        ]

    first = Fitted(12e-6, 0.65, 0.30, 7.5e-3, 0.07, 0.35, 7.5e-3, 0.13)
    found = root(misses, np.log(first), options={"eps": 1e-4})
    assert found.success
    return Fitted(*(float(v) for v in np.exp(found.x)))


@functools.cache
def capillary() -> tuple[MachineParameters, SteadyState]:
    """The machine with a tube cut for the reference row, and its balance there."""
    seen = CAPILLARY
    aim = design(superheat=seen.superheat, subcooling=seen.subcooling)
    free = solve(table(), line(), assembled(fitted()), aim)
    bore = 1.6e-3  # not given; 1.3 to 2 mm move the slowed rows by 0.2 K
    cut = length_for(
        table(),
        bore=bore,
        mass_flow=free.flow,
        inlet_pressure=free.liquid_pressure,
        inlet_enthalpy=free.unknowns[3],
        outlet_pressure=free.evaporating_pressure,
    )
    machine = assembled(fitted(), CapillaryParameters(bore, cut.length, 0.75e-6, 1.0, 0.0))
    return machine, solve(table(), line(), machine, fixed_charge(free.charge), near=free)


PORT = 0.9e-6  # m2, with both fans high half open


@functools.cache
def valve(opening_superheat: float = 6.0) -> tuple[MachineParameters, SteadyState]:
    """The machine with a valve set to the superheat of its own row with both fans high."""
    seen = VALVE
    target = subcooled(subcooling=seen.subcooling)
    here = moved(capillary()[0], seen.room)

    def run(static: float) -> tuple[MachineParameters, SteadyState]:
        part = thermostatic_valve(
            table(), area=PORT, static_superheat=static, opening_superheat=opening_superheat
        )
        machine = here._replace(expansion=part)
        return machine, solve(table(), line(), machine, target)

    static = brentq(lambda s: run(s)[1].superheat - seen.superheat, 2.0, seen.superheat, xtol=1e-6)
    return run(static)


def moved(machine: MachineParameters, room: float) -> MachineParameters:
    """Both coils and the compressor in the air of another row. [°C]"""
    t = room + ZERO_CELSIUS
    return in_room(machine, t, HUMIDITY, P, outdoors=(t, HUMIDITY))


def slowed(
    start: tuple[MachineParameters, SteadyState],
    room: float,
    *,
    condenser: float = 1.0,
    evaporator: float = 1.0,
    target: Target | None = None,
) -> SteadyState:
    """The same charge with less air, in the room of that row."""
    machine, before = start
    machine = moved(machine, room)
    air = machine.air
    machine = machine._replace(
        air=air._replace(flow=evaporator * air.flow, condenser_flow=condenser * air.condenser_flow)
    )
    target = target or fixed_charge(before.charge)
    return solve(table(), line(), machine, target, near=before)


@functools.cache
def held(te: int) -> SteadyState:
    """The automatic valve set so that the evaporator's outlet has the pressure of a row.

    Subcooling stays at what the first of these rows shows. With the charge kept the model would
    store in its condenser what the evaporator gives up (see the test); the bench does not.
    """
    seen = AUTOMATIC[te]
    target = subcooled(subcooling=AUTOMATIC[0].subcooling)
    return _at_outlet_pressure(seen, target, None if te == 0 else held(te - 1))


def _at_outlet_pressure(seen: Reading, target: Target, near: SteadyState | None) -> SteadyState:
    here = moved(capillary()[0], seen.room)
    wanted = seen.evaporator_out * PSI

    def run(setting: float) -> SteadyState:
        part = automatic_valve(area=PORT, setting=setting)
        return solve(table(), line(), here._replace(expansion=part), target, near=near)

    found = brentq(
        lambda s: run(s).suction_pressure - wanted, wanted - 5e3, wanted + 130e3, xtol=1.0
    )
    return run(found)


def volume_flow(b: SteadyState) -> float:
    """Of the gas at the compressor inlet. [cm3/s]"""
    h = enthalpy_vapour(table(), b.suction_pressure, b.suction_temperature)
    return float(b.flow * state(table(), b.suction_pressure, h)[1] * 1e6)


# What is compared, and how well it can be known

GAUGE = "gauges are read to 1 psi, the head to 5"
FAN = "the airflow of the slow fan is known to a tenth"


class Quantity(NamedTuple):
    """One thing that the bench and the model both show."""

    words: str
    unit: str
    printed: Callable[[Reading], float]
    ours: Callable[[SteadyState], float]
    tolerance: float
    kind: str
    reason: str


COMPARED = (
    Quantity(
        "superheat at the evaporator outlet",
        "K",
        lambda r: r.superheat,
        lambda b: b.superheat,
        2.5,
        "absolute",
        f"2.2 K: {FAN}; 0.7 K: {GAUGE}; 0.6 K: humidity not read",
    ),
    Quantity(
        "subcooling",
        "K",
        lambda r: r.subcooling,
        lambda b: b.subcooling,
        1.1,
        "absolute",
        GAUGE,
    ),
    Quantity(
        "pressure at the evaporator outlet",
        "psia",
        lambda r: r.evaporator_out,
        lambda b: b.suction_pressure / PSI,
        0.025,
        "relative",
        f"2 %: {GAUGE}; 1.3 %: {FAN}",
    ),
    Quantity(
        "head pressure",
        "psia",
        lambda r: r.head,
        lambda b: b.discharge_pressure / PSI,
        0.04,
        "relative",
        f"2 %: {GAUGE}; 3.4 %: {FAN}",
    ),
    Quantity(
        "flow",
        "lb/min",
        lambda r: r.flow,
        lambda b: b.flow / POUND_A_MINUTE,
        0.025,
        "relative",
        f"1.5 %: read to 0.02 lb/min; 1.5 %: {FAN}",
    ),
    Quantity(
        "gas into the condenser",
        "C",
        lambda r: r.entering,
        lambda b: b.discharge_temperature - ZERO_CELSIUS,
        2.0,
        "absolute",
        f"1.2 K: {FAN}; the discharge line loses 7 K in every one of these rows",
    ),
)


class Slowing(NamedTuple):
    """One fan slowed on one metering part."""

    words: str
    part: str
    before: Reading
    after: Reading
    fan: str
    shares: tuple[float, ...]
    air_out: tuple[float, float]  # of that coil, before and after. [C]

    def start(self) -> tuple[MachineParameters, SteadyState]:
        return capillary() if self.part == "capillary" else valve()

    def share_by_heat(self) -> float:
        """Airflow left, by the heat of the refrigerant over the change of the air. [-]"""
        heat = self.after.heat(self.fan) / self.before.heat(self.fan)
        change = (self.air_out[1] - self.after.room) / (self.air_out[0] - self.before.room)
        return heat / change

    def run(self, share: float, target: Target | None = None) -> SteadyState:
        return slowed(self.start(), self.after.room, target=target, **{self.fan: share})


SLOWINGS = (
    Slowing(
        "condenser fan slowed on the capillary",
        "capillary",
        CAPILLARY,
        CAPILLARY_CONDENSER_FAN,
        "condenser",
        CONDENSER_FAN,
        (38.0, 46.6),
    ),
    Slowing(
        "condenser fan slowed on the thermostatic valve",
        "thermostatic valve",
        VALVE,
        VALVE_CONDENSER_FAN,
        "condenser",
        CONDENSER_FAN,
        (38.2, 43.8),
    ),
    Slowing(
        "evaporator fan slowed on the capillary",
        "capillary",
        CAPILLARY,
        CAPILLARY_EVAPORATOR_FAN,
        "evaporator",
        EVAPORATOR_FAN,
        (13.2, 10.6),
    ),
)
CONDENSER_ON_CAPILLARY, CONDENSER_ON_VALVE, EVAPORATOR_ON_CAPILLARY = SLOWINGS


def test_the_fit_is_a_machine() -> None:
    """The reference row is met, by parts that somebody could have bought."""
    found, b = fitted(), capillary()[1]
    for quantity in COMPARED:
        assert quantity.ours(b) == pytest.approx(quantity.printed(CAPILLARY), rel=1e-5)
    assert b.evaporating_pressure == pytest.approx(CAPILLARY.evaporator_in * PSI, rel=1e-5)
    assert b.liquid_pressure == pytest.approx(CAPILLARY.liquid_pressure * PSI, rel=1e-5)
    for ours, printed in zip((b.air_between[0], b.air_out[0]), AIR_OUT, strict=True):
        assert ours - ZERO_CELSIUS == pytest.approx(printed, abs=1e-4)
    assert 8e-6 < found.displacement < 20e-6
    assert 0.5 < found.proportional < 0.9
    for bore in (found.evaporator_bore, found.condenser_bore):
        assert 5e-3 < bore < 9e-3
    for length in (found.evaporator_length, found.condenser_length):
        assert 0.1 < length < 0.5
    assert 0.02 < found.evaporator_air < 0.15
    assert 0.05 < found.condenser_air < 0.3
    assert b.charge_by_place.total < 1.0
    assert not [note for note in valve()[1].notes if "valve" in note]


def test_the_air_that_the_bands_are_made_of() -> None:
    """What the air's own warming or cooling says of the slowed fan's airflow."""
    said = [case.share_by_heat() for case in SLOWINGS]
    assert said == pytest.approx([0.60, 0.71, 0.81], abs=0.01)
    for case, share in zip(SLOWINGS, said, strict=True):
        assert min(case.shares) - 0.01 < share < max(case.shares) + 0.01


@pytest.mark.parametrize("case", SLOWINGS, ids=lambda c: c.words)
def test_a_fan_is_slowed(published: Callable[..., Any], case: Slowing) -> None:
    b = case.run(case.shares[MIDDLE])
    for quantity in COMPARED:
        published(
            model=f"Whole machine with a {case.part}",
            quantity=f"{quantity.words}, {case.words}",
            unit=quantity.unit,
            printed=quantity.printed(case.after),
            ours=quantity.ours(b),
            tolerance=quantity.tolerance,
            kind=quantity.kind,
            reason=quantity.reason,
            **COMMON,
        )


# The ends of the airflow's band are not met since the oil's temperature follows the gas: oil then
# takes up part of what leaves the coils: 3.1 K less superheat, and discharge gas 3.2 K hotter.
_LITTLE = pytest.param(0.75, marks=pytest.mark.xfail(strict=True, reason="3.1 K less"))
_MOST = pytest.param(0.60, marks=pytest.mark.xfail(strict=True, reason="3.2 K hotter"))


@pytest.mark.parametrize("share", [_LITTLE, 0.67, _MOST])
def test_direction_condenser_fan_on_the_capillary(share: float) -> None:
    """Head, suction and flow rise and the superheat falls, whatever the airflow in its band."""
    before, after = capillary()[1], CONDENSER_ON_CAPILLARY.run(share)
    assert after.superheat < before.superheat - 4.0
    assert after.discharge_pressure > 1.08 * before.discharge_pressure
    assert after.suction_pressure > 1.02 * before.suction_pressure
    assert after.flow > 1.03 * before.flow
    assert after.discharge_temperature == pytest.approx(before.discharge_temperature, abs=3.0)


@pytest.mark.parametrize("share", CONDENSER_FAN)
@pytest.mark.parametrize("opening", [3.0, 6.0, 10.0])
def test_direction_condenser_fan_on_the_valve(share: float, opening: float) -> None:
    """The head rises and little happens on the low side, however soft the valve's spring.

    In one room, that the fan may be seen alone: on the bench the room was 1.2 K warmer afterwards.
    """
    start = valve(opening)
    before, after = start[1], slowed(start, VALVE.room, condenser=share)
    assert abs(after.superheat - before.superheat) < 1.0
    assert after.flow == pytest.approx(before.flow, rel=0.02)
    assert after.suction_pressure == pytest.approx(before.suction_pressure, rel=0.05)
    assert after.discharge_pressure > 1.05 * before.discharge_pressure
    assert after.opening < before.opening
    # Against the capillary, at the same airflow.
    tube = slowed(capillary(), CAPILLARY.room, condenser=share)
    assert after.superheat - before.superheat > tube.superheat - capillary()[1].superheat + 3.0


@pytest.mark.parametrize("share", EVAPORATOR_FAN)
def test_direction_evaporator_fan_on_the_capillary(share: float) -> None:
    """Superheat, suction, head and flow all fall."""
    before, after = capillary()[1], EVAPORATOR_ON_CAPILLARY.run(share)
    assert after.superheat < before.superheat - 1.0
    for of in ("suction_pressure", "discharge_pressure", "flow", "discharge_temperature"):
        assert getattr(after, of) < getattr(before, of), of


@pytest.mark.parametrize("row", range(4), ids=[f"{s} psig" for s in SETTINGS])
def test_automatic_valve(published: Callable[..., Any], row: int) -> None:
    seen, b = AUTOMATIC[row], held(row)
    common = COMMON | {"model": "Whole machine with an automatic valve"}
    setting = f"automatic valve set to {SETTINGS[row]} psig"
    assert b.suction_pressure == pytest.approx(seen.evaporator_out * PSI, rel=1e-4)
    published(
        quantity=f"superheat at the evaporator outlet, {setting}",
        unit="K",
        printed=seen.superheat,
        ours=b.superheat,
        tolerance=3.0,
        kind="absolute",
        reason="1 psi is 0.7 K at 45 and 1.5 K at 17 psia; the unread humidity 2 K",
        **common,
    )
    published(
        quantity=f"flow, {setting}",
        unit="lb/min",
        printed=seen.flow,
        ours=b.flow / POUND_A_MINUTE,
        tolerance=0.05 + 0.02 / seen.flow,
        reason="read to 0.02 lb/min; 5 % scatter of the volumetric model from one point",
        **common,
    )
    published(
        quantity=f"suction volume flow at pressure ratio {seen.head / seen.evaporator_out:.1f}, "
        f"{setting}",
        unit="cm3/s",
        printed=seen.volume_flow,
        ours=volume_flow(b),
        tolerance=0.05 + 0.02 / seen.flow,
        reason="flow read to 0.02 lb/min; 5 % scatter of the volumetric model from one point",
        **common,
    )
    published(
        quantity=f"head pressure, {setting}",
        unit="psia",
        printed=seen.head,
        ours=b.discharge_pressure / PSI,
        tolerance=0.05,
        reason="2 K of condensing temperature: air into the condenser is not read",
        **common,
    )


def test_direction_of_the_automatic_valve() -> None:
    """A lower setting: more superheat, less flow, lower head, higher pressure ratio."""
    found = [held(row) for row in range(4)]
    for printed in pairwise(AUTOMATIC):
        assert printed[1].superheat > printed[0].superheat + 5.0
    for high, low in pairwise(found):
        assert low.superheat > high.superheat + 4.0
        assert low.flow < high.flow
        assert low.discharge_pressure < high.discharge_pressure
        assert volume_flow(low) < volume_flow(high)
        ratios = [b.discharge_pressure / b.suction_pressure for b in (high, low)]
        assert ratios[1] > ratios[0]


def test_the_bench_keeps_liquid_that_the_model_puts_into_its_condenser(
    published: Callable[..., Any],
) -> None:
    """The charge of the first row kept, at 15 psig: the bench must have room for it elsewhere."""
    full = _at_outlet_pressure(AUTOMATIC[0], subcooled(subcooling=AUTOMATIC[0].subcooling), None)
    b = _at_outlet_pressure(AUTOMATIC[1], fixed_charge(full.charge), full)
    published(
        model="Whole machine with an automatic valve",
        quantity="subcooling with the charge kept, automatic valve set from 30 to 15 psig",
        unit="K",
        printed=AUTOMATIC[1].subcooling,
        ours=b.subcooling,
        tolerance=1.1,
        kind="absolute",
        reason=GAUGE,
        **COMMON,
    )
    assert b.subcooling > 5.0


def slowed_on(part: str) -> list[tuple[Reading, SteadyState]]:
    """Rows of the source on one metering part, a fan slowed, and ours."""
    return [(c.after, c.run(c.shares[MIDDLE])) for c in SLOWINGS if c.part == part]


def _superheats(name: str, pairs: list[tuple[Reading, SteadyState]]) -> Series:
    return Series(name=name, x=[r.superheat for r, _ in pairs], y=[b.superheat for _, b in pairs])


def test_what_moves_over_the_band_of_the_fan(evidence_section: Callable[[Section], None]) -> None:
    """The table of the evidence page: changes, over the whole band of what is not known."""
    rows = []
    for case in SLOWINGS:
        start = case.start()[1]
        after = [case.run(share) for share in case.shares]
        own = case.run(case.share_by_heat())
        kept = case.run(case.shares[MIDDLE], subcooled(subcooling=start.subcooling))
        for q in COMPARED[:5]:
            changes = [f"{q.ours(b) - q.ours(start):+.3g}" for b in (*after, own, kept)]
            seen = q.printed(case.after) - q.printed(case.before)
            rows.append((case.words, q.words, q.unit, f"{seen:+.3g}", *changes))
            assert all(np.isfinite([float(c) for c in changes]))
    evidence_section(
        Section(
            title="An R-12 bench with three metering parts: what moves when a fan is slowed",
            text=(
                "Changes against the row with both fans high. Source: " + SOURCE + ". The machine "
                "is fitted to one row, the capillary with both fans high; the setting of the valve "
                "to its own row with both fans high. The airflow of a slow fan was not read: most "
                "of it, what the fan's current says, least of it are "
                f"{CONDENSER_FAN[0]:g}, {CONDENSER_FAN[1]:g}, {CONDENSER_FAN[2]:g} of the high "
                f"setting at the condenser and {EVAPORATOR_FAN[0]:g}, {EVAPORATOR_FAN[1]:g}, "
                f"{EVAPORATOR_FAN[2]:g} at the evaporator.",
                "When the condenser's fan slows, the superheat falls far on the capillary and "
                "stays on the valve, on the bench as in the model; the model's fall on the "
                "capillary is the smaller. The heat of the refrigerant over the change of the air "
                "(as if it were dry) speaks for "
                + ", ".join(f"{case.share_by_heat():.2f}" for case in SLOWINGS)
                + " of the high airflow in these three rows, though each fan had one switch, and "
                "with that the model comes nearer. The last column keeps the subcooling instead of "
                "the charge, as a machine with a receiver would. The plot has the superheat at the "
                "evaporator's outlet in all rows that nothing was fitted to; the airflow goes with "
                "the current.",
            ),
            x="superheat on the bench, K",
            y="ours, K",
            diagonal=True,
            series=(
                _superheats("capillary", slowed_on("capillary")),
                _superheats("thermostatic valve", slowed_on("thermostatic valve")),
                _superheats("automatic valve", [(AUTOMATIC[i], held(i)) for i in range(4)]),
            ),
            columns=(
                "what was done",
                "quantity",
                "unit",
                "bench",
                "most air",
                "by current",
                "least air",
                "by the air's heat",
                "by current, subcooling kept",
            ),
            rows=tuple(rows),
        )
    )

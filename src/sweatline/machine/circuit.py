"""One pass round the refrigerant circuit of a machine: parts in, residual material out.

The circuit knows how the parts hang together and nothing about how they work. The air side is an
arrangement: in ``SERIES`` the condenser breathes what the evaporator leaves (a dehumidifier), in
``SEPARATE`` each coil has its own stream and its own fan (a window unit, a cabinet in its room).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import moist_heat_capacity
from sweatline.air.moist import temperature as air_temperature
from sweatline.air.saturation_line import SaturationLine
from sweatline.compiled import inserted, kernel
from sweatline.parts.coil import (
    AirInlet,
    CoilMemory,
    CoilParameters,
    CoilResult,
    RefrigerantInlet,
    coil_memory,
)
from sweatline.parts.coil_march import COOLED, HEATED, march
from sweatline.parts.compressor import CompressorParameters, compress, leaving
from sweatline.parts.expansion import Ends, Expansion, ExpansionParameters, expansion_flow
from sweatline.parts.motor import UNMETERED, MotorParameters
from sweatline.parts.shell import (
    LineParameters,
    ShellParameters,
    accumulator_charge,
    shell_charge,
    tube_charge,
)
from sweatline.refrigerant.table import Table, full_state, state

FloatArray = NDArray[np.float64]

CELLS = 8  # in a row of one circuit of a coil; leaves 0.04 K in evaporating temperature
SERIES = 0
SEPARATE = 1
BEFORE = 0
BETWEEN = 1
AFTER = 2
OUTSIDE = 3


class AirParameters(NamedTuple):
    """Air streams through the machine as the kernels see them."""

    arrangement: int  # SERIES or SEPARATE
    temperature: float  # K, of the room that feeds the evaporator (SERIES: both coils)
    humidity: float  # kg/kg
    flow: float  # kg/s of dry air
    condenser_temperature: float  # K, of the place that feeds the condenser; only SEPARATE
    condenser_humidity: float  # kg/kg; only SEPARATE
    condenser_flow: float  # kg/s of dry air; only SEPARATE
    fan_power: float  # W, all of it warms the air; SEPARATE: of the evaporator's fan
    fan_position: int  # BEFORE, BETWEEN, AFTER the coils; SEPARATE: its coil; OUTSIDE warms nothing
    ambient: float  # K, round the compressor
    condenser_fan_power: float = 0.0  # W; only SEPARATE
    condenser_fan_position: int = AFTER  # BEFORE or AFTER the condenser, or OUTSIDE
    # Where the compressor stands: BETWEEN (ahead of the condenser) or AFTER it in its air, which it
    # then warms; OUTSIDE it stands in `ambient` and warms no air of the machine.
    compressor_position: int = OUTSIDE


class Vessels(NamedTuple):
    """What holds refrigerant beside the coils; kept small, a kernel hands it over by value."""

    lines: LineParameters
    shell: ShellParameters
    oil_at_discharge: float
    non_condensable_pressure: float  # Pa


class MachineParameters(NamedTuple):
    """A whole machine as the kernels see it."""

    compressor: CompressorParameters
    evaporator: CoilParameters
    condenser: CoilParameters
    expansion: ExpansionParameters
    lines: LineParameters
    shell: ShellParameters
    air: AirParameters
    # Pa, partial pressure in the condenser of air or nitrogen left in the circuit. The refrigerant
    # condenses at what is left of the head; gas swept into the capillary is left out.
    non_condensable_pressure: float = 0.0
    motor: MotorParameters = UNMETERED

    @property
    def vessels(self) -> Vessels:
        """What holds refrigerant beside the coils; kernels put it together themselves."""
        return Vessels(
            self.lines,
            self.shell,
            self.compressor.oil_at_discharge,
            self.non_condensable_pressure,
        )


class Workspace(NamedTuple):
    """What both coils keep for the next march; never shared by threads."""

    evaporator: CoilMemory
    condenser: CoilMemory


def workspace(machine: MachineParameters, *, profiles: bool = False) -> Workspace:
    """Fresh workspace for a machine; with room for the profiles of both coils if asked."""
    return Workspace(
        coil_memory(machine.evaporator, profile=profiles),
        coil_memory(machine.condenser, profile=profiles),
    )


def warmed_up(space: Workspace, before: Workspace) -> None:
    """Take over from another workspace what fits: the same coil, or one of the same shape."""
    for mine, theirs in zip(space, before, strict=True):
        for kept, found in zip(mine[:2], theirs[:2], strict=True):
            if kept.shape == found.shape:
                kept[:] = found


class Inventory(NamedTuple):
    """Where the charge is. [kg]"""

    evaporator: float
    condenser: float
    liquid_line: float
    drier: float
    suction_line: float
    discharge_line: float
    shell_gas: float
    oil: float

    # The kernels add the places up themselves; this is for people.
    @property
    def total(self) -> float:
        """All of it. [kg]"""
        return math.fsum(self)


class Pass(NamedTuple):
    """Everything one trip round the circuit yields, for given guesses."""

    compressor_flow: float  # kg/s
    expansion: Expansion
    suction_pressure: float  # Pa
    suction_enthalpy: float  # J/kg, entering the compressor
    evaporator_outlet: float  # J/kg
    liquid_pressure: float  # Pa, condenser outlet
    liquid_enthalpy: float  # J/kg, condenser outlet
    assumed_liquid: float  # J/kg, what the condenser outlet must be for the pass to close
    discharge_enthalpy: float  # J/kg
    power: float  # W, compressor
    oil_temperature: float  # K
    inside_temperature: float  # K, inside the compressor's shell
    shell_heat: float  # W, from the compressor's shell to the air round it
    evaporator: CoilResult
    condenser: CoilResult
    condenser_air_t: float  # K
    condenser_air_w: float  # kg/kg
    exchanged: float  # J/kg, suction exchanger


@kernel
def refrigerant_pressure(discharge_pressure: float, non_condensable_pressure: float) -> float:
    """What of the head is the refrigerant's own. [Pa]"""
    return max(discharge_pressure - non_condensable_pressure, 0.5 * discharge_pressure)


@kernel
def exchanged_heat(
    table: Table,
    conductance: float,
    flow: float,
    suction_pressure: float,
    evaporator_outlet: float,
    discharge_pressure: float,
    entering_enthalpy: float,
) -> float:
    """Heat that a capillary soldered to the suction line hands over. [J/kg]

    Gas is the weaker stream, both sides carry the same flow; `conductance` in W/K.
    """
    exchanged = 0.0
    if conductance > 0.0:
        t_out, _v, _s, cp, _mu, _k, _x = full_state(table, suction_pressure, evaporator_outlet)
        ntu = conductance / (flow * cp)
        share = ntu / (1.0 + ntu) * cp
        liquid_t = state(table, discharge_pressure, entering_enthalpy)[0]
        exchanged = share * max(liquid_t - t_out, 0.0)
        # The more is exchanged the warmer the liquid was: a secant on the surplus, kept positive.
        before = 0.0
        surplus_before = exchanged
        for _ in range(40):
            liquid_t = state(table, discharge_pressure, entering_enthalpy + exchanged)[0]
            surplus = share * max(liquid_t - t_out, 0.0) - exchanged
            if abs(surplus) < 1e-7 or surplus == surplus_before:
                break
            step = -surplus * (exchanged - before) / (surplus - surplus_before)
            if not 0.0 < step / surplus < 1000.0:
                step = surplus
            before = exchanged
            surplus_before = surplus
            exchanged = max(exchanged + step, 0.0)
    return exchanged


@kernel
def evaporator_air(air: AirParameters) -> AirInlet:
    """Air entering the evaporator."""
    temperature = air.temperature
    if air.fan_position == BEFORE:
        temperature += air.fan_power / (air.flow * moist_heat_capacity(air.humidity))
    return AirInlet(temperature, air.humidity, air.flow)


@kernel
def condenser_air(air: AirParameters, evaporator: CoilResult) -> AirInlet:
    """Air entering the condenser."""
    if air.arrangement == SERIES:
        humidity = evaporator.air_humidity
        temperature = air_temperature(evaporator.air_enthalpy, humidity)
        flow = air.flow
        if air.fan_position == BETWEEN:
            temperature += air.fan_power / (flow * moist_heat_capacity(humidity))
    else:
        temperature = air.condenser_temperature
        humidity = air.condenser_humidity
        flow = air.condenser_flow
        if air.condenser_fan_position == BEFORE:
            temperature += air.condenser_fan_power / (flow * moist_heat_capacity(humidity))
    return AirInlet(temperature, humidity, flow)


@kernel
def round_shell(
    air: AirParameters, behind: AirInlet, conductance: float, given: float
) -> tuple[float, float]:
    """Conductance of the compressor's shell to what is round it, and the temperature of that.

    Parameters
    ----------
    behind : AirInlet
        Entering the condenser.
    conductance : float
        Of the shell. [W/K]
    given : float
        What the condenser would give the air if the shell gave nothing. [W]

    Returns
    -------
    tuple of float
        [W/K], [K]. What passes warms the air, so the conductance is that of an exchanger; behind
        the condenser that air is cooler by what the shell has already given, of which `given`
        does not know.
    """
    if air.compressor_position == OUTSIDE:
        return conductance, air.ambient
    stream = behind.flow * moist_heat_capacity(behind.humidity)
    ntu = min(conductance / stream, 2.0)
    if air.compressor_position == AFTER:
        return stream * math.expm1(ntu), behind.temperature + given / stream
    return -stream * math.expm1(-ntu), behind.temperature


@kernel
def behind_shell(air: AirParameters, behind: AirInlet, heat: float) -> AirInlet:
    """Air entering the condenser when the compressor ahead of it has given off so much. [W]"""
    if air.compressor_position != BETWEEN:
        return behind
    stream = behind.flow * moist_heat_capacity(behind.humidity)
    return AirInlet(behind.temperature + heat / stream, behind.humidity, behind.flow)


@inserted
def round_circuit(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    space: Workspace,
    evaporating_pressure: float,
    discharge_pressure: float,
    flow: float,
    entering_enthalpy: float,
    with_expansion: bool,
) -> Pass:
    """Go round the circuit once.

    Parameters
    ----------
    evaporating_pressure : float
        At the evaporator inlet. [Pa]
    discharge_pressure : float
        At the compressor outlet. [Pa]
    flow : float
        Through the coils. [kg/s]
    entering_enthalpy : float
        Of the refrigerant that enters the evaporator. [J/kg]
    with_expansion : bool
        False leaves the expansion device out (its flow is then `flow`).
    """
    lines = machine.lines
    evaporator = march(
        table,
        line,
        machine.evaporator,
        RefrigerantInlet(flow, evaporating_pressure, entering_enthalpy),
        evaporator_air(machine.air),
        HEATED,
        space.evaporator,
    )
    suction_pressure = evaporator.pressure
    exchanged = exchanged_heat(
        table,
        lines.exchanger_conductance,
        flow,
        suction_pressure,
        evaporator.enthalpy,
        discharge_pressure,
        entering_enthalpy,
    )
    liquid_enthalpy = entering_enthalpy + exchanged
    suction_enthalpy = evaporator.enthalpy + exchanged
    compressor = machine.compressor
    pumped = compress(table, compressor, suction_pressure, suction_enthalpy, discharge_pressure)
    flow_comp, power, _h2, _h2s = pumped
    air = condenser_air(machine.air, evaporator)
    conductance, surroundings = round_shell(
        machine.air,
        air,
        compressor.shell_conductance,
        power + flow * (suction_enthalpy - liquid_enthalpy),
    )
    shell = leaving(
        table,
        compressor,
        pumped,
        suction_pressure,
        suction_enthalpy,
        discharge_pressure,
        conductance,
        surroundings,
    )
    h2 = shell.discharge_enthalpy
    air = behind_shell(machine.air, air, shell.heat)
    condensing = refrigerant_pressure(discharge_pressure, machine.non_condensable_pressure)
    condenser = march(
        table,
        line,
        machine.condenser,
        RefrigerantInlet(flow, condensing, h2),
        air,
        COOLED,
        space.condenser,
    )
    liquid_pressure = condenser.pressure + (discharge_pressure - condensing)
    passed = Expansion(flow, 0.0, evaporating_pressure, 0.0, 1.0)
    if with_expansion:
        ends = Ends(
            liquid_pressure,
            entering_enthalpy + (1.0 - lines.exchanger_ahead) * exchanged,
            evaporating_pressure,
            evaporator.pressure,
            evaporator.enthalpy,
        )
        passed = expansion_flow(table, machine.expansion, ends, flow)
    return Pass(
        flow_comp,
        passed,
        suction_pressure,
        suction_enthalpy,
        evaporator.enthalpy,
        liquid_pressure,
        condenser.enthalpy,
        liquid_enthalpy,
        h2,
        power,
        shell.oil_temperature,
        shell.inside_temperature,
        shell.heat,
        evaporator,
        condenser,
        air.temperature,
        air.humidity,
        exchanged,
    )


@kernel
def inventory(
    table: Table, vessels: Vessels, run: Pass, discharge_pressure: float, flow: float
) -> Inventory:
    """Refrigerant by place. [kg]"""
    lines = vessels.lines
    own = refrigerant_pressure(discharge_pressure, vessels.non_condensable_pressure)
    liquid_line = tube_charge(
        table,
        run.liquid_pressure,
        run.liquid_enthalpy,
        flow,
        lines.liquid_bore,
        lines.liquid_length,
    )
    # The drier is wide and slow: its two phases part, and its content is that of the line.
    area = 0.25 * math.pi * lines.liquid_bore**2
    density = liquid_line / max(area * lines.liquid_length, 1e-12)
    if lines.liquid_length <= 0.0:
        density = 1.0 / state(table, run.liquid_pressure, run.liquid_enthalpy)[1]
    drier = density * lines.drier_volume
    suction = tube_charge(
        table,
        run.suction_pressure,
        run.suction_enthalpy,
        flow,
        lines.suction_bore,
        lines.suction_length,
    )
    accumulator = accumulator_charge(
        table, run.suction_pressure, run.suction_enthalpy, flow, lines.accumulator_volume
    )
    discharge = tube_charge(
        table,
        own,
        run.discharge_enthalpy,
        flow,
        lines.discharge_bore,
        lines.discharge_length,
    )
    if vessels.oil_at_discharge > 0.5:
        gas, oil = shell_charge(
            table, vessels.shell, own, run.discharge_enthalpy, run.oil_temperature
        )
    else:
        gas, oil = shell_charge(
            table,
            vessels.shell,
            run.suction_pressure,
            0.5 * (run.suction_enthalpy + run.discharge_enthalpy),
            run.oil_temperature,
        )
    return Inventory(
        run.evaporator.charge,
        run.condenser.charge,
        liquid_line,
        drier,
        suction + accumulator,
        discharge,
        gas,
        oil,
    )

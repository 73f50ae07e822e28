r"""The heat balance of a running machine: what the air says against what the refrigerant says.

By the refrigerant, from gauges and clamp thermometers, with the flow of the compressor at these
states:

.. math:: \dot Q_0 = \dot m\,(h_{return} - h_{liquid})

which holds with a capillary soldered to the suction line too: what the liquid gives there the gas
takes. By the air, from its temperature before and behind and the airflow, what it lost to the
evaporator or gained in the whole machine; the water that ran off carries its own heat. The watts
must come out again as warm air, but for what the shell gives to the room beside the airflow.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from sweatline.air.moist import WATER_HEAT_CAPACITY, enthalpy, humidity_ratio, specific_volume
from sweatline.answers import Answer, Q, Range
from sweatline.constants import ZERO_CELSIUS
from sweatline.machine.circuit import (
    AFTER,
    BEFORE,
    BETWEEN,
    OUTSIDE,
    SERIES,
    MachineParameters,
)
from sweatline.parts.compressor import compress, leaving
from sweatline.refrigerant.table import (
    Table,
    dew_pressure,
    enthalpy_liquid,
    enthalpy_vapour,
    saturation,
)

_LATENT = 2.46e6  # J/kg, of water that leaves air between 10 and 25 °C
_COLDER, _WARMER = 12.0, 18.0  # K, saturation to the room, where nobody read a gauge (judged)
Balance = Literal["cooling", "heat to the air", "water", "airflow"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap(Answer):
    """Two ways to one heat: how far apart, and whether the errors explain it."""

    what: Balance
    gap: Annotated[
        Range,
        Q(
            "ratio", "gap",
            "Refrigerant, watts, bucket or the job's airflow, less what the air says; over the "
            "first.", digits=2,
        ),
    ]  # fmt: skip
    closes: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatBalance(Answer):
    """What follows from states and flows; each with its likely range, null where it takes more."""

    flow: Annotated[Range | None, Q("mass flow", "refrigerant flow")]
    cooling: Annotated[Range | None, Q("cooling capacity", "heat taken up, by the refrigerant")]
    cooling_by_air: Annotated[Range | None, Q("cooling capacity", "heat taken up, by the air")]
    released: Annotated[
        Range | None,
        Q("power", "heat to the air, by the watts", "Watts less what the shell gives beside it."),
    ]
    released_by_air: Annotated[Range | None, Q("power", "heat to the air, by the air")]
    airflow_by_watts: Annotated[
        Range | None, Q("volume flow", "airflow that closes the balance", digits=2)
    ]
    water_by_air: Annotated[Range | None, Q("water removal", "water, by the air", digits=2)]
    latent_share: Annotated[
        Range | None,
        Q("ratio", "share of the cooling that makes water", "Between 0 and 1.", digits=2),
    ]
    gaps: tuple[Gap, ...]


def heat_flows(
    read: Mapping[str, float], machine: MachineParameters, table: Table, pressure: float
) -> dict[str, float]:
    """All that follows from one set of readings; what takes more readings is left out.

    Parameters
    ----------
    read : mapping
        Readings by the fields of the request, in SI, `room_temperature` and `room_humidity` among
        them.
    pressure : float
        Atmospheric. [Pa]
    """
    found: dict[str, float] = {}
    if {"suction", "head", "liquid_line"} <= read.keys() and (
        {"return_gas", "suction_gas"} & read.keys()
    ):
        found |= _by_refrigerant(read, machine, table)
    fan = machine.air.fan_power if machine.air.fan_position != OUTSIDE else 0.0
    if "watts" in read and machine.air.arrangement == SERIES:
        beside = _shell_heat(read, machine, table)
        outside = machine.air.fan_power - fan
        found["released"] = read["watts"] - beside - outside
    found |= _by_air(read, machine, pressure, found.get("released"))
    if "water" in read and "cooling" in found:
        found["latent_share"] = read["water"] * _LATENT / found["cooling"]
    return found


def _shell_heat(read: Mapping[str, float], machine: MachineParameters, table: Table) -> float:
    """What the compressor's shell gives beside the machine's air. [W]"""
    watts = read["watts"] - machine.air.fan_power
    if machine.air.compressor_position != OUTSIDE or watts <= 0.0:
        return 0.0
    room = read["room_temperature"]
    suction = read.get("suction", dew_pressure(table, room - _COLDER))
    head = max(read.get("head", dew_pressure(table, room + _WARMER)), 1.05 * suction)
    dew = saturation(table, suction)[1]
    gas = max(read.get("suction_gas", read.get("return_gas", dew + 5.0)), dew + 0.01)
    h1 = enthalpy_vapour(table, suction, gas)
    compressor = machine.compressor
    flow, _power, h2, h2s = compress(table, compressor, suction, h1, head)
    run = (flow, watts, h2, h2s)
    conductance = compressor.shell_conductance
    return float(leaving(table, compressor, run, suction, h1, head, conductance, room).heat)


def _by_refrigerant(
    read: Mapping[str, float], machine: MachineParameters, table: Table
) -> dict[str, float]:
    suction, head = read["suction"], read["head"]
    _tb, dew, *_ = saturation(table, suction)
    bubble, _td, *_ = saturation(table, head)
    gas = max(read.get("return_gas", read.get("suction_gas", dew)), dew + 0.01)
    liquid = min(read["liquid_line"], bubble - 0.01)
    h1, h3 = enthalpy_vapour(table, suction, gas), enthalpy_liquid(table, head, liquid)
    flow = compress(table, machine.compressor, suction, h1, head)[0]
    return {"flow": float(flow), "cooling": float(flow * (h1 - h3))}


def _by_air(
    read: Mapping[str, float],
    machine: MachineParameters,
    pressure: float,
    released: float | None,
) -> dict[str, float]:
    found: dict[str, float] = {}
    t, water = read["room_temperature"], read.get("water", math.nan)
    w = humidity_ratio(t, read["room_humidity"], pressure)
    inlet = enthalpy(t, w)
    drained = read.get("coil", t - 10.0) - ZERO_CELSIUS  # how warm the water runs off
    carried = water * WATER_HEAT_CAPACITY * drained
    series = machine.air.arrangement == SERIES

    def behind(place: str, flow: float) -> float:
        """Enthalpy of air that has lost its water. [J/kg]"""
        return float(enthalpy(read[place], w - water / flow))

    if "airflow" in read:
        flow = read["airflow"] / specific_volume(t, w, pressure)
        if "air_between" in read and math.isfinite(water):
            position = machine.air.fan_position
            passed = position in (BEFORE, BETWEEN) or (not series and position == AFTER)
            fan = machine.air.fan_power if passed else 0.0
            found["cooling_by_air"] = flow * (inlet - behind("air_between", flow)) - carried + fan
        if series and "air_out" in read and math.isfinite(water):
            found["released_by_air"] = flow * (behind("air_out", flow) - inlet) + carried
        if series and {"air_out", "air_out_humidity"} <= read.keys():
            out = humidity_ratio(read["air_out"], read["air_out_humidity"], pressure)
            found["water_by_air"] = flow * (w - out)
    elif released is not None and "air_out" in read and math.isfinite(water):
        # With flow G: G (h(t_out, w - water/G) - h_in) + carried = released, linear in G.
        dry = enthalpy(read["air_out"], w) - inlet
        vapour = enthalpy(read["air_out"], w) - enthalpy(read["air_out"], w - 1e-3)
        flow = (released - carried + water * vapour * 1e3) / dry if dry > 500.0 else math.nan
        found["airflow_by_watts"] = flow * specific_volume(t, w, pressure)
        found["airflow"] = machine.air.flow * specific_volume(t, w, pressure)
    return found

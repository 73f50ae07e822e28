"""The expansion device of a machine: whatever lets the liquid down to the evaporator.

A machine carries the parameters of its expansion device, and their type says which kind it is.
Kernels ask :func:`expansion_flow` for its flow and nothing else. Which law answers is decided by
that type when the caller is compiled; a machine with a capillary runs no line about valves.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from sweatline.compiled import choose_by_types, inner_kernel, kernel
from sweatline.flow.orifice import Port, port_flow
from sweatline.parts.capillary import CapillaryParameters, capillary_mass_flow
from sweatline.parts.valves import (
    AutomaticParameters,
    ThermostaticParameters,
    automatic_opening,
    thermostatic_opening,
)
from sweatline.refrigerant.table import Table, state

ExpansionParameters = CapillaryParameters | ThermostaticParameters | AutomaticParameters


class Ends(NamedTuple):
    """The refrigerant before and behind an expansion device, and where a valve's bulb feels it."""

    inlet_pressure: float  # Pa
    inlet_enthalpy: float  # J/kg
    outlet_pressure: float  # Pa, evaporator inlet
    suction_pressure: float  # Pa, evaporator outlet
    suction_enthalpy: float  # J/kg, evaporator outlet


class Expansion(NamedTuple):
    """What an expansion device passes."""

    flow: float  # kg/s
    excess: float  # -, zero when it passes the flow asked about, positive when more; smooth
    end_pressure: float  # Pa, at the end of the part; above the evaporator's when it chokes
    liquid_length: float  # m, of a capillary up to the flash point
    opening: float  # -, of a valve: 0 shut, 1 full; a capillary is always open


@kernel
def _capillary(table: Table, part: CapillaryParameters, ends: Ends, flow: float) -> Expansion:
    passed, end, liquid = capillary_mass_flow(
        table, part, ends.inlet_pressure, ends.inlet_enthalpy, ends.outlet_pressure, flow
    )
    excess = math.log(passed / flow) if passed > 0.0 else -2.0
    return Expansion(passed, excess, end, liquid, 1.0)


@inner_kernel
def _valve(table: Table, port: Port, ends: Ends, flow: float, opening: float) -> Expansion:
    """A port that stands open by a share which may lie beyond its stops."""
    full = port_flow(table, port, ends.inlet_pressure, ends.inlet_enthalpy, ends.outlet_pressure)
    share = min(opening, 1.0)
    # Not the logarithm of the flow, which has no end where the valve shuts. Linear in the opening
    # and bounded in the port, this one leads back from either stop.
    excess = (share * full - flow) / (full + flow)
    share = max(share, 0.0)
    return Expansion(share * full, excess, ends.outlet_pressure, 0.0, share)


@kernel
def _thermostatic(table: Table, part: ThermostaticParameters, ends: Ends, flow: float) -> Expansion:
    opening = thermostatic_opening(
        table, part, ends.outlet_pressure, ends.suction_pressure, ends.suction_enthalpy
    )
    return _valve(table, part.port, ends, flow, opening)


@kernel
def _automatic(table: Table, part: AutomaticParameters, ends: Ends, flow: float) -> Expansion:
    return _valve(table, part.port, ends, flow, automatic_opening(part, ends.outlet_pressure))


_GAS_IN_CAPILLARY = 0.3  # quality at the inlet; the published flows have less

_LAWS: dict[type, Callable[..., Expansion]] = {
    CapillaryParameters: _capillary,
    ThermostaticParameters: _thermostatic,
    AutomaticParameters: _automatic,
}


def expansion_flow(table: Table, part: ExpansionParameters, ends: Ends, flow: float) -> Expansion:
    """What an expansion device passes between two states, and how that compares with a flow.

    Parameters
    ----------
    table : Table
        Refrigerant.
    part : ExpansionParameters
        Its type chooses the law.
    ends : Ends
        States before and behind it.
    flow : float
        Flow to compare with. [kg/s]
    """
    found: Expansion = _LAWS[type(part)](table, part, ends, flow)
    return found  # from Python; a kernel holds the law itself


def law_of(kind: type) -> Callable[..., Expansion]:
    """Kernel of a kind of expansion device."""
    return _LAWS[kind]


def _chosen(kind: type) -> Callable[..., Expansion]:
    law = law_of(kind)
    return lambda table, part, ends, flow: law(table, part, ends, flow)


choose_by_types(expansion_flow, lambda table, part, ends, flow: _chosen(part.instance_class))


def word_for(part: ExpansionParameters) -> str:
    """What the trade calls an expansion device."""
    return "capillary" if isinstance(part, CapillaryParameters) else "expansion valve"


def holds_superheat(part: ExpansionParameters) -> bool:
    """Whether the part itself sees to the superheat, whatever the charge."""
    return isinstance(part, ThermostaticParameters)


def notes_for(
    table: Table, part: ExpansionParameters, ends: Ends, passed: Expansion
) -> tuple[str, ...]:
    """One sentence for everything that lies outside what the part's model is made for.

    Parameters
    ----------
    table : Table
        Refrigerant.
    part : ExpansionParameters
        The part.
    ends : Ends
        States before and behind it.
    passed : Expansion
        What it passes there.
    """
    quality = float(state(table, ends.inlet_pressure, ends.inlet_enthalpy)[3])
    notes = []
    if isinstance(part, CapillaryParameters):
        if quality > _GAS_IN_CAPILLARY:
            notes.append("so much gas reaches the capillary that its flow is an estimate")
        return tuple(notes)
    if quality > 0.0:
        notes.append("gas reaches the expansion valve; the form of its flow is for liquid")
    if passed.opening >= 1.0:
        held = "superheat" if holds_superheat(part) else "pressure of the evaporator"
        notes.append(f"the expansion valve is fully open and no longer holds the {held}")
    if isinstance(part, ThermostaticParameters):
        bulb = float(state(table, ends.suction_pressure, ends.suction_enthalpy)[0])
        if bulb > part.dry_temperature:
            notes.append(
                "the charge of the valve's bulb has all evaporated: its limit holds the pressure "
                "of the evaporator, not the superheat"
            )
    return tuple(notes)

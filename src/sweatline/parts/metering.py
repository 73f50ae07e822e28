"""The metering part of a machine: whatever lets the liquid down to the evaporator.

A machine carries the numbers of its metering part, and their type says which kind it is. Kernels
ask :func:`metered` for its flow and nothing else. Which part's law answers is decided by that type
when the caller is compiled; a machine with a capillary runs no line that is not about capillaries.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

from sweatline.compiled import choose_by_types, inner_kernel
from sweatline.parts.capillary import CapillaryNumbers, capillary_length, capillary_mass_flow_near
from sweatline.refrigerant.table import Table

__all__ = ["Ends", "Metered", "MeteringNumbers", "between", "fitted_to", "metered", "word_for"]

MeteringNumbers = CapillaryNumbers


class Ends(NamedTuple):
    """The refrigerant before and behind a metering part, and where a valve's bulb feels it."""

    inlet_pressure: float  # Pa
    inlet_enthalpy: float  # J/kg
    outlet_pressure: float  # Pa, evaporator inlet
    suction_pressure: float  # Pa, evaporator outlet
    suction_enthalpy: float  # J/kg, evaporator outlet


class Metered(NamedTuple):
    """What a metering part passes."""

    flow: float  # kg/s
    excess: float  # -, zero when it passes the flow asked about, positive when more; smooth
    end_pressure: float  # Pa, at the end of the part; above the evaporator's when it chokes
    liquid_length: float  # m, of a capillary up to the flash point
    opening: float  # -, of a valve: 0 shut, 1 full; a capillary is always open


@inner_kernel
def _capillary(table: Table, part: CapillaryNumbers, ends: Ends, flow: float) -> Metered:
    passed, end, liquid = capillary_mass_flow_near(
        table, part, ends.inlet_pressure, ends.inlet_enthalpy, ends.outlet_pressure, flow
    )
    excess = math.log(passed / flow) if passed > 0.0 else -2.0
    return Metered(passed, excess, end, liquid, 1.0)


def _cut(table: Table, part: CapillaryNumbers, ends: Ends, flow: float) -> CapillaryNumbers:
    flux = flow / part.flow_multiplier / (0.25 * math.pi * part.bore**2)
    length, _end, _liquid = capillary_length(
        table,
        ends.inlet_pressure,
        ends.inlet_enthalpy,
        ends.outlet_pressure,
        flux,
        part.bore,
        part.roughness,
        part.metastable,
    )
    return part._replace(length=min(max(length, 0.05), 50.0))


def _longer(one: CapillaryNumbers, other: CapillaryNumbers, share: float) -> CapillaryNumbers:
    return other._replace(length=one.length * (other.length / one.length) ** share)


class _Kind(NamedTuple):
    """All that differs between the kinds of metering part."""

    word: str
    law: Callable[..., Metered]
    fitted: Callable[..., Any]
    between: Callable[..., Any]


_KINDS: dict[type, _Kind] = {
    CapillaryNumbers: _Kind("capillary", _capillary, _cut, _longer),
}


def metered(table: Table, part: MeteringNumbers, ends: Ends, flow: float) -> Metered:
    """What a metering part passes between two states, and how that compares with a flow.

    Only kernels can call it.

    Parameters
    ----------
    table : Table
        Refrigerant.
    part : MeteringNumbers
        Its type chooses the law.
    ends : Ends
        States before and behind it.
    flow : float
        Flow to compare with. [kg/s]
    """
    raise NotImplementedError("metered is compiled into the kernels that ask it")


def _law_of(kind: type) -> Callable[..., Metered]:
    law = _KINDS[kind].law
    return lambda table, part, ends, flow: law(table, part, ends, flow)


choose_by_types(metered, lambda table, part, ends, flow: _law_of(part.instance_class))


def word_for(part: MeteringNumbers) -> str:
    """What the trade calls a metering part."""
    return _KINDS[type(part)].word


def fitted_to(table: Table, part: MeteringNumbers, ends: Ends, flow: float) -> MeteringNumbers:
    """The part cut or set so that it passes a flow between two states, as near as it can.

    Parameters
    ----------
    table : Table
        Refrigerant.
    part : MeteringNumbers
        Its bore or port is kept where that can pass the flow.
    ends : Ends
        States before and behind it.
    flow : float
        [kg/s]
    """
    fitted: MeteringNumbers = _KINDS[type(part)].fitted(table, part, ends, flow)
    return fitted


def between(one: MeteringNumbers, other: MeteringNumbers, share: float) -> MeteringNumbers:
    """A part on the way from one to another of its kind.

    Parameters
    ----------
    one, other : MeteringNumbers
        Parts of the same kind.
    share : float
        0 is `one`, 1 is `other`. [-]
    """
    found: MeteringNumbers = _KINDS[type(other)].between(one, other, share)
    return found

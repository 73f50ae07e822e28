"""One capillary tube by itself: flow or length, how sure that is, and notes on its range."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sweatline.answers import Amount, Note
from sweatline.parts.capillary import CapillaryParameters, capillary_length, capillary_mass_flow
from sweatline.refrigerant.table import Table

# Share of literature data inside 10 % is about 90 % (Hermes, Melo & Knabben 2010,
# abstract; Choi 2003, abstract), so one standard deviation is about 6 %.
FLOW_SCATTER = 0.06


@dataclass(frozen=True, slots=True, kw_only=True)
class CapillaryFlow:
    """What a capillary does between two pressures."""

    mass_flow: float  # kg/s
    mass_flow_sd: float  # kg/s, model scatter and bore tolerance together
    end_pressure: float  # Pa
    choked: bool
    length: float  # m
    liquid_length: float  # m
    bore: float  # m
    notes: tuple[str, ...] = ()


def _spread(bore: float, bore_sd: float) -> float:
    """Relative standard deviation of the flow: model scatter and bore. [-]

    The flow goes with about the 2.6th power of the bore (structural exponent of the model).
    """
    return math.hypot(FLOW_SCATTER, 2.6 * bore_sd / bore)


def flow_through(
    table: Table,
    *,
    bore: float,
    length: float,
    inlet_pressure: float,
    inlet_enthalpy: float,
    outlet_pressure: float,
    roughness: float = 0.75e-6,
    bore_sd: float = 0.02e-3,
    metastable: bool = False,
) -> CapillaryFlow:
    """Mass flow of a tube of known length.

    Parameters
    ----------
    bore, length, roughness : float
        [m]
    inlet_pressure, outlet_pressure : float
        Absolute. [Pa]
    inlet_enthalpy : float
        [J/kg]
    bore_sd : float
        Standard uncertainty of the bore. [m]
    metastable : bool
        Let the liquid stay liquid below saturation (Chen et al. 1990).

    Returns
    -------
    CapillaryFlow
    """
    numbers = CapillaryParameters(bore, length, roughness, 1.0, 1.0 if metastable else 0.0)
    flow, end, liquid = capillary_mass_flow(
        table, numbers, inlet_pressure, inlet_enthalpy, outlet_pressure
    )
    return CapillaryFlow(
        mass_flow=flow,
        mass_flow_sd=flow * _spread(bore, bore_sd),
        end_pressure=end,
        choked=end > outlet_pressure * (1.0 + 1e-6),
        length=length,
        liquid_length=liquid,
        bore=bore,
        notes=_range_notes(table, bore, length, inlet_pressure),
    )


def length_for(
    table: Table,
    *,
    bore: float,
    mass_flow: float,
    inlet_pressure: float,
    inlet_enthalpy: float,
    outlet_pressure: float,
    roughness: float = 0.75e-6,
    bore_sd: float = 0.02e-3,
    flow_multiplier: float = 1.0,
    metastable: bool = False,
) -> CapillaryFlow:
    """Length of a given bore that passes a given flow; arguments as in :func:`flow_through`."""
    flux = mass_flow / flow_multiplier / (0.25 * math.pi * bore**2)
    length, end, liquid = capillary_length(
        table,
        inlet_pressure,
        inlet_enthalpy,
        outlet_pressure,
        flux,
        bore,
        roughness,
        1.0 if metastable else 0.0,
    )
    return CapillaryFlow(
        mass_flow=mass_flow,
        mass_flow_sd=mass_flow * _spread(bore, bore_sd),
        end_pressure=end,
        choked=end > outlet_pressure * (1.0 + 1e-6),
        length=length,
        liquid_length=liquid,
        bore=bore,
        notes=_range_notes(table, bore, max(length, 1e-9), inlet_pressure),
    )


def _range_notes(table: Table, bore: float, length: float, pressure: float) -> tuple[str, ...]:
    notes: list[str] = []
    if not 0.4e-3 <= bore <= 2.5e-3:
        notes.append(
            Note(
                "bore {} lies outside the {} of the published data",
                Amount("bore", (bore,)),
                Amount("bore", (0.5e-3, 2.4e-3)),
            )
        )
    if length > 0 and length / bore < 300:
        notes.append(
            f"length is only {length / bore:.0f} bores: a short-tube orifice rather than a "
            "capillary, and metastable flow may add tens of per cent"
        )
    if pressure > 0.9 * table.p_crit:
        notes.append("inlet pressure is above 90 % of the critical pressure")
    return tuple(notes)

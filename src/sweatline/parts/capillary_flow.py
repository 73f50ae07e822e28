"""One capillary tube by itself: flow or length, notes on its range, and closed forms from print.

The closed forms are second opinions, which no solver uses.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sweatline.answers import Amount, Note
from sweatline.errors import OutOfRange
from sweatline.parts.capillary import CapillaryParameters, capillary_length, capillary_mass_flow
from sweatline.refrigerant.table import Table, bubble_pressure, saturation, saturation_transport

# Share of literature data inside 10 % is about 90 % (Hermes, Melo & Knabben 2010,
# abstract; Choi 2003, abstract), so one standard deviation is about 6 %.
FLOW_SCATTER = 0.06

# Shortest tube that is offered. [m] So short it is an orifice, and a millimetre decides what passes
# (common practice).
SHORTEST = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class CapillaryFlow:
    """What a capillary does between two pressures."""

    mass_flow: float  # kg/s
    end_pressure: float  # Pa
    choked: bool
    length: float  # m
    liquid_length: float  # m
    bore: float  # m
    notes: tuple[str, ...] = ()


def flow_through(
    table: Table,
    *,
    bore: float,
    length: float,
    inlet_pressure: float,
    inlet_enthalpy: float,
    outlet_pressure: float,
    roughness: float = 0.75e-6,
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


def flow_rp762(
    table: Table, *, bore: float, length: float, inlet_pressure: float, inlet_temperature: float
) -> float:
    """Adiabatic choked flow with a subcooled inlet by dimensional correlation. [kg/s]

    pi8 = 1.8925 pi1^-0.484 pi2^-0.824 pi4^1.369 pi5^0.0187 pi6^0.773 pi7^0.265,
    mdot = pi8 D muf, with the saturation properties at the inlet *temperature*.

    Notes
    -----
    Fitted to R-134a, R-22 and R-410A, subcooling 1 to 16 K; second opinion only.

    References
    ----------
    Wolf, Bittle & Pate, ASHRAE research project RP-762, 1995; ASHRAE Handbook Refrigeration,
    chapter on capillary tubes.
    """
    psat = bubble_pressure(table, inlet_temperature)
    _tb, _td, hl, hg, vl, vg, _sl, _sg = saturation(table, psat)
    mul, mug, _kl, _kg, cpl, _cpg, _sigma = saturation_transport(table, psat)
    subcooling = saturation(table, inlet_pressure)[0] - inlet_temperature
    scale = bore**2 / (vl * mul) ** 2
    pi1 = length / bore
    pi2 = scale * (hg - hl)
    pi4 = bore**2 * inlet_pressure / (vl * mul**2)
    pi5 = scale * cpl * subcooling
    pi6 = vg / vl
    pi7 = (mul - mug) / mug
    pi8 = 1.8925 * pi1**-0.484 * pi2**-0.824 * pi4**1.369 * pi5**0.0187 * pi6**0.773 * pi7**0.265
    return float(pi8 * bore * mul)


def flow_hermes(
    table: Table,
    *,
    bore: float,
    length: float,
    inlet_pressure: float,
    inlet_temperature: float,
    outlet_pressure: float,
) -> float:
    """Adiabatic flow by the closed form of Hermes, Melo & Knabben. [kg/s]

    mdot = Phi sqrt(D^5/L) sqrt[(p_in - p_fl)/vl + (p_fl - p_e)/a
    + (b/a^2) ln((a p_e + b)/(a p_fl + b))], a = vl (1 - k), b = vl p_fl k,
    k = 1.63e5 p_fl^-0.72, Phi = 6.

    Notes
    -----
    Stated by its authors: more than 90 % of R-134a and R-600a data within 10 %. Inertia and
    choking are neglected; low for bores above 1.2 mm. Second opinion only.

    References
    ----------
    Hermes, Melo & Knabben, Applied Thermal Engineering 30, 449-457, 2010 (part I).
    """
    p_fl = min(bubble_pressure(table, inlet_temperature), inlet_pressure)
    vl = saturation(table, p_fl)[4]
    k = 1.63e5 * p_fl**-0.72
    a = vl * (1.0 - k)
    b = vl * p_fl * k
    p_e = outlet_pressure
    if p_e >= p_fl:
        raise OutOfRange(
            "this closed form needs a tube in which the liquid flashes",
            "outlet pressure", p_e, 0.0, p_fl, "Pa",
        )  # fmt: skip
    head = (inlet_pressure - p_fl) / vl + (p_fl - p_e) / a
    head += b / a**2 * math.log((a * p_e + b) / (a * p_fl + b))
    return 6.0 * math.sqrt(bore**5 / length * head)

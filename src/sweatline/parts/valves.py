r"""Expansion valves: a thermostatic one holds the superheat, an automatic one the pressure.

**Thermostatic.** A bulb on the evaporator's outlet tube holds a charge whose pressure opens the
valve; the pressure of the evaporator and a spring close it. With the outlet at temperature
:math:`T` and the evaporator pressure :math:`p_e`, the share of the full opening is

.. math::
    u = \frac{p_b(T) - p_e - p_{spring}}{p_{span}}, \qquad 0 \le u \le 1 .

Spring and span are set at one evaporating temperature by two superheats: the *static* one, at
which the valve just opens, and the *opening* one, which it takes beyond that to open fully. At
other evaporating temperatures the same forces are other superheats, as in a real valve. The liquid
passes the port by the form of :mod:`sweatline.flow.orifice`.

The balance of forces, static and opening superheat, equalisation and pressure limit are textbook
(ASHRAE Handbook Refrigeration, chapter on refrigerant-control devices). An opening that grows
linearly from the static superheat is one of the structures of Li, Braun and Shen, "Modeling
adjustable throat-area expansion valves", International Refrigeration and Air Conditioning
Conference, Purdue, 2004, paper 705 (PUBLISHED, abstract).

**Automatic.** A spring opens it, the pressure behind it closes it. Below the pressure
:math:`p_{set}` at which it shuts, the share of the full opening is

.. math:: u = \frac{p_{set} - p_e}{p_{span}}, \qquad 0 \le u \le 1 .

It knows nothing of the superheat: with more load the evaporator runs dry early, with less it
floods (textbook; ASHRAE Handbook Refrigeration, chapter on refrigerant-control devices).
"""

from __future__ import annotations

import math
from typing import NamedTuple

from sweatline.compiled import inner_kernel
from sweatline.errors import OutOfRange, check_positive
from sweatline.flow.orifice import Port
from sweatline.refrigerant.table import Table, dew_pressure, full_state, saturation, state


class ThermostaticParameters(NamedTuple):
    """A thermostatic expansion valve as the kernels see it."""

    port: Port
    spring: float  # Pa, by which the bulb must exceed the evaporator before the valve opens
    span: float  # Pa, more for the full opening
    external: float  # 1 feels the pressure of the evaporator's outlet, 0 of its inlet
    bulb: Table  # of the charge in the bulb
    dry_temperature: float  # K, above which the bulb holds no liquid; infinite without a limit


@inner_kernel
def _bulb_pressure(valve: ThermostaticParameters, temperature: float) -> float:
    """Pressure in the bulb: of saturated vapour, and of a gas once its liquid is gone. [Pa]"""
    limit = valve.dry_temperature
    if temperature <= limit:
        return dew_pressure(valve.bulb, temperature)
    return dew_pressure(valve.bulb, limit) * temperature / limit


@inner_kernel
def thermostatic_opening(
    table: Table,
    valve: ThermostaticParameters,
    evaporator_inlet: float,
    evaporator_outlet: float,
    outlet_enthalpy: float,
) -> float:
    """Share of the full opening that the forces ask for; below zero and above one at the stops.

    Where the outlet is wet the bulb feels no superheat and the valve is shut. The share then goes
    on falling with the enthalpy, as it did just above, so that a solver sees its way back.
    """
    closing = evaporator_inlet + valve.external * (evaporator_outlet - evaporator_inlet)
    closing += valve.spring
    t_dew = saturation(table, evaporator_outlet)[1]
    h_dew = saturation(table, evaporator_outlet)[3]
    if outlet_enthalpy >= h_dew:
        temperature = state(table, evaporator_outlet, outlet_enthalpy)[0]
        return (_bulb_pressure(valve, temperature) - closing) / valve.span
    cp = full_state(table, evaporator_outlet, h_dew)[3]
    _tb, _td, hl, hg, vl, vg, _sl, _sg = saturation(table, evaporator_outlet)
    per_kelvin = (hg - hl) / (t_dew * (vg - vl))  # Clausius-Clapeyron
    shut = (_bulb_pressure(valve, t_dew) - closing) / valve.span
    return shut - per_kelvin * (h_dew - outlet_enthalpy) / cp / valve.span


def thermostatic_valve(
    table: Table,
    *,
    area: float,
    static_superheat: float,
    opening_superheat: float,
    evaporating: float = 273.15,
    bulb: Table | None = None,
    maximum_pressure: float = math.inf,
    external: bool = True,
    flow_multiplier: float = 1.0,
) -> ThermostaticParameters:
    """A valve from its port and its setting.

    Parameters
    ----------
    table : Table
        Refrigerant of the circuit.
    area : float
        Of the port, fully open. [m2]
    static_superheat : float
        At which the valve just opens, more than 0. [K]
    opening_superheat : float
        Beyond it for the full opening, more than 0. [K]
    evaporating : float
        Dew temperature in the evaporator at which it was set. [K]
    bulb : Table, optional
        Charge of the bulb; by default the refrigerant of the circuit.
    maximum_pressure : float
        Evaporator pressure above which the valve stays shut (the charge's limit). [Pa]
    external : bool
        Whether a tube brings the pressure of the evaporator's outlet to the valve.
    flow_multiplier : float
        Measured over modelled flow, 1 when nobody measured. [-]

    Returns
    -------
    ThermostaticParameters

    Raises
    ------
    OutOfRange
        A superheat or the area is not positive, or the limit lies below the setting.
    """
    limits = ((area, "area", "m2"), (static_superheat, "static superheat", "K"))
    for value, name, unit in (*limits, (opening_superheat, "opening superheat", "K")):
        check_positive("an expansion valve needs a positive number here", name, value, unit)
    charge = bulb if bulb is not None else table
    pressure = float(dew_pressure(table, evaporating))
    opens = float(dew_pressure(charge, evaporating + static_superheat))
    full = float(dew_pressure(charge, evaporating + static_superheat + opening_superheat))
    spring = opens - pressure
    dry = math.inf
    if maximum_pressure < math.inf:
        if maximum_pressure <= pressure:
            raise OutOfRange(
                "the pressure limit of an expansion valve lies above where it was set",
                "maximum pressure", maximum_pressure, pressure, math.inf, "Pa",
            )  # fmt: skip
        dry = float(saturation(charge, maximum_pressure + spring)[1])
    return ThermostaticParameters(
        port=Port(area, flow_multiplier),
        spring=spring,
        span=full - opens,
        external=1.0 if external else 0.0,
        bulb=charge,
        dry_temperature=dry,
    )


class AutomaticParameters(NamedTuple):
    """An automatic expansion valve as the kernels see it."""

    port: Port
    setting: float  # Pa, pressure behind the valve at which it shuts
    span: float  # Pa, below it at which it is fully open


@inner_kernel
def automatic_opening(valve: AutomaticParameters, outlet_pressure: float) -> float:
    """Share of the full opening that the forces ask for; below zero and above one at the stops."""
    return (valve.setting - outlet_pressure) / valve.span


def automatic_valve(
    *, area: float, setting: float, span: float = 30e3, flow_multiplier: float = 1.0
) -> AutomaticParameters:
    """A valve from its port and its setting.

    Parameters
    ----------
    area : float
        Of the port, fully open. [m2]
    setting : float
        Absolute pressure behind the valve at which it shuts. [Pa]
    span : float
        Below that at which it is fully open; the default is an assumption. [Pa]
    flow_multiplier : float
        Measured over modelled flow, 1 when nobody measured. [-]

    Returns
    -------
    AutomaticParameters

    Raises
    ------
    OutOfRange
        Area, setting or span is not positive.
    """
    limits = ((area, "area", "m2"), (setting, "setting", "Pa"), (span, "span", "Pa"))
    for value, name, unit in limits:
        check_positive("an expansion valve needs a positive number here", name, value, unit)
    return AutomaticParameters(Port(area, flow_multiplier), setting, span)

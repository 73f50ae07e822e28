r"""Flow of liquid that flashes behind a sharp orifice: the port of an expansion valve.

The liquid passes the port faster than bubbles can form: it is still liquid there, pushed by the
whole pressure difference, and flashes in the jet behind,

.. math:: \dot m = C_d A \sqrt{2 \rho_1 (p_1 - p_2)} .

So the flow does not choke as a capillary's does. What flashing there is goes into the
coefficient.
"""

import math
from typing import NamedTuple

from sweatline.compiled import inner_kernel, kernel
from sweatline.refrigerant.table import Table, state


class Port(NamedTuple):
    """The opening of an expansion valve as the kernels see it."""

    area: float  # m2, fully open
    flow_multiplier: float  # - carries the model's uncertainty; 1 is the model as it stands


@kernel
def discharge_coefficient_wile(inlet_density: float, outlet_volume: float) -> float:
    r"""Discharge coefficient of the port of an expansion valve.

    .. math:: C_d = 0.02005 \sqrt{\rho_1} + 0.634\, v_2

    Parameters
    ----------
    inlet_density : float
        Of the liquid before the port. [kg/m3]
    outlet_volume : float
        Specific volume of the mixture behind the valve. [m3/kg]

    Returns
    -------
    float
        Discharge coefficient, about 0.7 for the liquids of small machines. [-]

    Notes
    -----
    MEMORY 0.85: the form and both numbers are recalled as later papers on expansion valves quote
    them; the original was not seen.

    References
    ----------
    Wile, "The measurement of expansion valve capacity", Refrigerating Engineering 8, 1935.
    """
    return 0.02005 * math.sqrt(inlet_density) + 0.634 * outlet_volume


@kernel
def mass_flow_orifice(
    area: float, discharge_coefficient: float, inlet_density: float, pressure_difference: float
) -> float:
    """Mass flow through a port. [kg/s]

    Parameters
    ----------
    area : float
        Of the opening. [m2]
    discharge_coefficient : float
        [-]
    inlet_density : float
        Of liquid, or of the mixture when gas comes with it. [kg/m3]
    pressure_difference : float
        Nothing flows when it is not positive. [Pa]
    """
    head = 2.0 * inlet_density * max(pressure_difference, 0.0)
    return area * discharge_coefficient * math.sqrt(head)


@inner_kernel
def port_flow(
    table: Table,
    port: Port,
    inlet_pressure: float,
    inlet_enthalpy: float,
    outlet_pressure: float,
) -> float:
    """Mass flow through the fully open port. [kg/s]

    Liquid, or a mixture of liquid and flash gas at its homogeneous density: the flow falls
    steeply, and without a step, when gas comes with the liquid.
    """
    v_inlet = state(table, inlet_pressure, inlet_enthalpy)[1]
    v_outlet = state(table, outlet_pressure, inlet_enthalpy)[1]
    density = 1.0 / v_inlet
    coefficient = discharge_coefficient_wile(density, v_outlet)
    drop = inlet_pressure - outlet_pressure
    return port.flow_multiplier * mass_flow_orifice(port.area, coefficient, density, drop)

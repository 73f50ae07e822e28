r"""Automatic expansion valve: an expansion device that holds the evaporator's pressure.

A spring opens it, the pressure behind it closes it. Below the pressure :math:`p_{set}` at which it
shuts, the share of the full opening is

.. math:: u = \frac{p_{set} - p_e}{p_{span}}, \qquad 0 \le u \le 1 .

It knows nothing of the superheat: with more load the evaporator runs dry early, with less it
floods (textbook; ASHRAE Handbook Refrigeration, chapter on refrigerant-control devices).
"""

from __future__ import annotations

from typing import NamedTuple

from sweatline.compiled import inner_kernel
from sweatline.errors import check_positive
from sweatline.flow.orifice import Port


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

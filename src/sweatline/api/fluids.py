"""Refrigerants and single capillaries in a script."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sweatline.air.moist import standard_pressure
from sweatline.api.quantity import Written, maybe_si, si
from sweatline.errors import JobError

if TYPE_CHECKING:
    from sweatline.design.capillary import CapillaryAnswer
    from sweatline.design.refrigerants import SaturationAnswer

__all__ = ["capillary", "saturation"]


def saturation(
    refrigerant: str,
    *,
    pressure: Written | None = None,
    temperature: Written | None = None,
    altitude: Written = 0.0,
) -> SaturationAnswer:
    """Bubble and dew of a refrigerant at a pressure or a temperature.

    Parameters
    ----------
    refrigerant : str
        Name such as ``R-152a``.
    pressure, temperature : float or str
        One of them; SI absolute, or a string with its unit (``"27 psig"``). [Pa], [K]
    altitude : float or str
        Sets the zero of gauges. [m]

    Raises
    ------
    JobError
        No such refrigerant, or not exactly one of pressure and temperature.
    OutOfRange
        Outside the refrigerant's table.

    Examples
    --------
    >>> point = saturation("R-152a", pressure="27 psig")
    >>> round(point.dew.temperature - 273.15, 1)
    3.3
    """
    from sweatline.design.refrigerants import saturation as saturation_point

    if (pressure is None) == (temperature is None):
        raise JobError(
            what="give either a pressure or a temperature",
            read="both" if pressure is not None else "neither",
            allowed='for example pressure="27 psig"',
            field="saturation",
        )
    atmosphere = standard_pressure(si(altitude, "altitude", "altitude"))
    return saturation_point(
        refrigerant,
        pressure=maybe_si(pressure, "pressure", "pressure", atmosphere=atmosphere),
        temperature=maybe_si(temperature, "temperature", "temperature"),
        atmosphere=atmosphere,
    )


def capillary(
    refrigerant: str,
    *,
    bore: Written,
    inlet_pressure: Written,
    outlet_pressure: Written,
    length: Written | None = None,
    flow: Written | None = None,
    subcooling: Written = 0.0,
    altitude: Written = 0.0,
) -> CapillaryAnswer:
    """Flow of a tube of known length, or the length that passes a flow.

    Parameters
    ----------
    bore, length : float or str
        [m]
    flow : float or str
        Instead of a length. [kg/s]
    inlet_pressure, outlet_pressure : float or str
        SI absolute, or a string with its unit. [Pa]
    subcooling : float or str
        Of the liquid before the tube. [K]

    Raises
    ------
    JobError
        No such refrigerant, or a tube that cannot pass the flow.
    """
    from sweatline.design.capillary import capillary as tube

    if (length is None) == (flow is None):
        raise JobError(
            what="give either a length or a flow",
            read="both" if length is not None else "neither",
            allowed='for example length="2 m"',
            field="capillary",
        )
    atmosphere = standard_pressure(si(altitude, "altitude", "altitude"))
    return tube(
        refrigerant,
        bore=si(bore, "bore", "bore"),
        length=maybe_si(length, "length", "length"),
        mass_flow=maybe_si(flow, "mass flow", "flow"),
        inlet_pressure=si(inlet_pressure, "pressure", "inlet_pressure", atmosphere=atmosphere),
        outlet_pressure=si(outlet_pressure, "pressure", "outlet_pressure", atmosphere=atmosphere),
        subcooling=si(subcooling, "temperature difference", "subcooling"),
        atmosphere=atmosphere,
    )

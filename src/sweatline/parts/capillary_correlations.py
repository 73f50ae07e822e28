"""Closed forms for the flow of a capillary tube: second opinions, which no solver uses."""

from __future__ import annotations

import math

from sweatline.errors import OutOfRange
from sweatline.refrigerant.table import Table, bubble_pressure, saturation, saturation_transport


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

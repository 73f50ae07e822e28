"""The bore of a tube from what it passed of a gas, and from that and a bore gauge together.

A gauge feels the end of a tube, the gas all of it.
"""

from __future__ import annotations

import math
from typing import Final, Literal

from sweatline.constants import GAS_CONSTANT
from sweatline.uncertainty.parameter import Measured

_WARM: Final = Measured(value=293.15, sd=5.0)  # K, where tubes are tested
_MODEL: Final = 0.03  # of the flow: friction in a drawn tube, heat through its wall (judged)


def bore_by_gas(
    flow: float, pressure: float, length: float, roughness: float,
    gas: Literal["nitrogen", "air"], *, atmosphere: float, temperature: float = _WARM.value,
) -> float:  # fmt: skip
    """Bore of a tube that passed so much gas into the open. [m]

    Parameters
    ----------
    flow : float
        Volume at the pressure and the temperature of the place. [m3/s]
    pressure, atmosphere : float
        Before the tube and behind it, absolute. [Pa]
    length, roughness : float
        [m]
    temperature : float
        [K]
    """
    from sweatline.air.permanent_gas import AIR, NITROGEN  # compiled only where it is asked for
    from sweatline.parts.capillary_gas import bore_of_gas_flow

    which = NITROGEN if gas == "nitrogen" else AIR
    density = atmosphere * which.molar_mass / (GAS_CONSTANT * temperature)
    return bore_of_gas_flow(
        which, flow=flow * density, length=length, roughness=roughness, inlet_pressure=pressure,
        outlet_pressure=atmosphere, temperature=temperature,
    )  # fmt: skip


def narrowed_bore(
    bore: Measured, flow: Measured, pressure: Measured, length: Measured, roughness: Measured,
    gas: Literal["nitrogen", "air"], *, atmosphere: float,
) -> Measured:  # fmt: skip
    """Bore by gauge and by gas, each weighed by its variance. [m]"""
    flow = Measured(value=flow.value, sd=math.hypot(flow.sd, _MODEL * flow.value))
    numbers = (flow, pressure, length, roughness, _WARM)

    def found(*z: float) -> float:
        q, p, long, rough, warm = (max(one.at(by), 0.0) for one, by in zip(numbers, z, strict=True))
        return bore_by_gas(q, p, long, rough, gas, atmosphere=atmosphere, temperature=warm)

    by_gas = found(0.0, 0.0, 0.0, 0.0, 0.0)
    ones = ([float(i == j) for j in range(len(numbers))] for i in range(len(numbers)))
    sd = math.hypot(*(found(*one) - by_gas for one in ones))
    share = bore.sd**2 / (bore.sd**2 + sd**2)
    return Measured(
        value=bore.value + share * (by_gas - bore.value), sd=math.sqrt(share) * sd,
        note="by gauge and by the flow of gas",
    )  # fmt: skip

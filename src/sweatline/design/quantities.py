"""What an answer shows of a balance: every quantity that has a range, under its record's key."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sweatline.machine.balance import Balance

__all__ = ["DESIGN_QUANTITIES", "QUANTITIES", "places_of"]

# Everything an answer shows that has a range; keys as in its record.
QUANTITIES: dict[str, Callable[[Balance], float]] = {
    "suction_pressure_Pa": lambda b: b.suction_pressure,
    "discharge_pressure_Pa": lambda b: b.discharge_pressure,
    "evaporating_temperature_K": lambda b: b.evaporating_temperature,
    "condensing_temperature_K": lambda b: b.condensing_temperature,
    "superheat_K": lambda b: b.superheat,
    "subcooling_K": lambda b: b.subcooling,
    "coil_temperature_K": lambda b: b.coil_temperature,
    "suction_temperature_K": lambda b: b.suction_temperature,
    "discharge_temperature_K": lambda b: b.discharge_temperature,
    "liquid_temperature_K": lambda b: b.liquid_temperature,
    "air_between_temperature_K": lambda b: b.air_between[0],
    "air_out_temperature_K": lambda b: b.air_out[0],
    "charge_kg": lambda b: b.charge,
    "flow_kg_per_s": lambda b: b.flow,
    "compressor_power_W": lambda b: b.power,
    "power_W": lambda b: b.total_power,
    "cooling_W": lambda b: b.cooling,
    "water_kg_per_s": lambda b: b.water,
    "water_per_energy_kg_per_J": lambda b: b.water / b.total_power,
}

# What a capillary is cut for, beside those.
DESIGN_QUANTITIES: dict[str, Callable[[Balance], float]] = {
    "evaporating_pressure_Pa": lambda b: b.evaporating_pressure,
    "liquid_pressure_Pa": lambda b: b.liquid_pressure,
}


def places_of(balance: Balance) -> dict[str, Callable[[Balance], float]]:
    """The charge of each place as a quantity of a balance. [kg]"""

    def of(place: str) -> Callable[[Balance], float]:
        return lambda b: float(getattr(b.places, place))

    return {place: of(place) for place in balance.places._fields}

"""Dehumidifiers, and an air conditioner, for tests: a few numbers in, a machine out."""

from __future__ import annotations

from dataclasses import dataclass

from sweatline.air.moist import humidity_ratio, specific_volume
from sweatline.air.saturation_line import SaturationLine, saturation_line
from sweatline.machine.circuit import (
    AFTER,
    BEFORE,
    SEPARATE,
    SERIES,
    AirParameters,
    MachineParameters,
)
from sweatline.parts.capillary import CapillaryParameters
from sweatline.parts.coil import CoilParameters, coil_parameters
from sweatline.parts.compressor import Kind, generic
from sweatline.parts.shell import LineParameters, ShellParameters
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import Table

PRESSURE = 101325.0  # Pa, all these machines stand at sea level


@dataclass(frozen=True, kw_only=True)
class Dehumidifier:
    """One machine, invented; what is not named here is the same in all of them."""

    refrigerant: str
    displacement: float  # m3 per revolution
    kind: Kind = "reciprocating"
    fixed_loss: float = 60.0  # W
    temperature: float  # K
    relative_humidity: float
    airflow: float  # m3/s
    fan_power: float = 50.0  # W
    evaporator_rows: int = 2
    condenser_rows: int = 3
    tubes_per_row: int = 10
    capillary_length: float = 1.0  # m
    capillary_bore: float = 1.1e-3  # m
    cells: int = 10

    def coil(self, rows: int) -> CoilParameters:
        """5/16 in tube, 1 in by 22 mm pitch, 14 fins an inch, 280 mm long."""
        return coil_parameters(
            tube_outer_diameter=7.94e-3,
            tube_wall=0.3e-3,
            rows=rows,
            tubes_per_row=self.tubes_per_row,
            transverse_pitch=25.4e-3,
            longitudinal_pitch=22e-3,
            finned_length=0.28,
            fin_pitch=1.8e-3,
            fin_thickness=0.11e-3,
            circuits=1,
            counter=True,
            cells=self.cells,
        )

    def build(self) -> tuple[Table, SaturationLine, MachineParameters]:
        """Refrigerant table, saturated air, machine."""
        t = self.temperature
        w = humidity_ratio(t, self.relative_humidity, PRESSURE)
        flow = self.airflow / specific_volume(t, w, PRESSURE)
        machine = MachineParameters(
            compressor=generic(
                self.kind,
                displacement=self.displacement,
                frequency=60.0,
                fixed_loss=self.fixed_loss,
            ),
            evaporator=self.coil(self.evaporator_rows),
            condenser=self.coil(self.condenser_rows),
            expansion=CapillaryParameters(
                self.capillary_bore, self.capillary_length, 0.75e-6, 1.0, 0.0
            ),
            lines=LineParameters(8e-3, 0.5, 6e-3, 0.5, 6e-3, 0.4, 20e-6, 0.0, 0.0),
            shell=ShellParameters(1.5e-3, 0.3e-3, 4.5, 0.3),
            air=AirParameters(SERIES, t, w, flow, t, w, flow, self.fan_power, AFTER, t),
        )
        return load(self.refrigerant).table, saturation_line(PRESSURE), machine


def air_conditioner(kind: Kind) -> tuple[Table, SaturationLine, MachineParameters]:
    """A small R-22 unit, 26.7 °C and 50 % inside, 35 °C outside; its tube is not cut to suit."""
    room, outdoors = (299.85, 0.50), (308.15, 0.40)
    w_in, w_out = humidity_ratio(*room, PRESSURE), humidity_ratio(*outdoors, PRESSURE)
    air = AirParameters(
        arrangement=SEPARATE,
        temperature=room[0],
        humidity=w_in,
        flow=0.13 / specific_volume(room[0], w_in, PRESSURE),
        condenser_temperature=outdoors[0],
        condenser_humidity=w_out,
        condenser_flow=0.28 / specific_volume(outdoors[0], w_out, PRESSURE),
        fan_power=50.0,
        fan_position=AFTER,
        ambient=outdoors[0],
        condenser_fan_power=60.0,
        condenser_fan_position=BEFORE,
    )
    table, line, machine = Dehumidifier(
        refrigerant="R-22",
        displacement=10e-6,
        kind=kind,
        temperature=room[0],
        relative_humidity=room[1],
        airflow=0.13,
        tubes_per_row=14,
    ).build()
    return table, line, machine._replace(air=air)


# Followed through time: a low-side shell, a high-side one, and a blend with glide.
MOVED = (
    Dehumidifier(
        refrigerant="R-134a",
        displacement=10e-6,
        temperature=293.15,
        relative_humidity=0.6,
        airflow=0.08,
        capillary_length=0.7,
    ),
    Dehumidifier(
        refrigerant="R-290",
        displacement=7e-6,
        kind="rotary",
        temperature=299.15,
        relative_humidity=0.6,
        airflow=0.07,
        capillary_length=0.7,
    ),
    Dehumidifier(
        refrigerant="R-407C",
        displacement=7e-6,
        temperature=290.15,
        relative_humidity=0.7,
        airflow=0.08,
        capillary_length=0.9,
    ),
)


def fahrenheit(temperature: float) -> float:
    """K to degrees Fahrenheit."""
    return (temperature - 273.15) * 1.8 + 32.0


def psig(pressure: float) -> float:
    """Pa absolute to psi above the atmosphere of these machines."""
    return (pressure - PRESSURE) / 6894.757293168

"""Bounds beyond which a value in a job file is a slip, not a part of a small machine."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from sweatline.job.locator import Path
from sweatline.units import Kind, Parsed, System, show

__all__ = ["ALTITUDE", "Refusal", "humidity_bounds", "section_bounds"]

ALTITUDE: Final = (-430.0, 5000.0)  # m, from the lowest shore to the highest town


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """One thing that cannot be; `path` is the key in the file."""

    path: Path
    what: str
    read: str = ""
    allowed: str = ""


# Bounds beyond which a value is a slip of unit or decimal point, not a part of a small machine.
_BOUNDS: Final[dict[tuple[str, str], tuple[Kind, float, float]]] = {
    ("room", "temperature"): ("temperature", 243.15, 333.15),
    ("room", "floor_area"): ("area", 0.5, 5000.0),
    ("room", "volume"): ("room volume", 1.0, 50000.0),
    ("place", "altitude"): ("altitude", *ALTITUDE),
    ("place", "pressure"): ("absolute pressure", 5.0e4, 1.1e5),
    ("supply", "voltage"): ("voltage", 10.0, 700.0),
    ("supply", "frequency"): ("frequency", 20.0, 120.0),
    ("original", "charge"): ("mass", 5e-3, 20.0),
    ("original", "power"): ("power", 10.0, 2e4),
    ("original", "current"): ("current", 0.05, 100.0),
    ("original", "water_removal"): ("water removal", 1e-6, 1e-2),
    ("original", "rating_temperature"): ("temperature", 273.15, 318.15),
    ("coil", "tube_outer_diameter"): ("length", 2e-3, 40e-3),
    ("coil", "tube_wall"): ("length", 0.1e-3, 5e-3),
    ("coil", "tube_bore"): ("length", 1e-3, 39e-3),
    ("coil", "transverse_pitch"): ("length", 4e-3, 150e-3),
    ("coil", "longitudinal_pitch"): ("length", 4e-3, 150e-3),
    ("coil", "finned_length"): ("length", 0.02, 5.0),
    ("coil", "fin_pitch"): ("fin pitch", 0.5e-3, 25e-3),
    ("coil", "fin_thickness"): ("length", 0.03e-3, 1e-3),
    ("coil", "fouling"): ("ratio", 0.05, 1.5),
    ("fan", "airflow"): ("volume flow", 2e-3, 5.0),
    ("fan", "power"): ("power", 0.0, 5e3),
    ("fan", "shut_off_pressure"): ("pressure difference", 2.0, 2e3),
    ("compressor", "displacement"): ("volume", 0.5e-6, 300e-6),
    ("compressor", "rated_frequency"): ("frequency", 20.0, 120.0),
    ("compressor", "rated_voltage"): ("voltage", 10.0, 700.0),
    ("compressor", "rated_power"): ("power", 10.0, 2e4),
    ("compressor", "rated_current"): ("current", 0.05, 100.0),
    ("compressor", "oil_volume"): ("volume", 0.0, 5e-3),
    ("compressor", "shell_volume"): ("volume", 0.0, 30e-3),
    ("rating", "capacity"): ("cooling capacity", 10.0, 5e4),
    ("rating", "power"): ("power", 5.0, 2e4),
    ("rating", "evaporating"): ("temperature", 203.15, 303.15),
    ("rating", "condensing"): ("temperature", 273.15, 353.15),
    ("rating", "return_gas"): ("temperature", 223.15, 353.15),
    ("rating", "liquid"): ("temperature", 243.15, 353.15),
    ("rating", "superheat"): ("temperature difference", 0.0, 100.0),
    ("rating", "subcooling"): ("temperature difference", 0.0, 60.0),
    ("map", "return_gas"): ("temperature", 223.15, 353.15),
    ("map", "superheat"): ("temperature difference", 0.0, 100.0),
    ("map", "subcooling"): ("temperature difference", 0.0, 60.0),
    ("map", "frequency"): ("frequency", 20.0, 120.0),
    ("capillary", "bore"): ("bore", 0.3e-3, 4e-3),
    ("capillary", "length"): ("length", 0.05, 60.0),
    ("capillary", "roughness"): ("roughness", 0.0, 20e-6),
    ("lines", "suction_bore"): ("length", 1e-3, 40e-3),
    ("lines", "suction_length"): ("length", 0.0, 30.0),
    ("lines", "discharge_bore"): ("length", 1e-3, 40e-3),
    ("lines", "discharge_length"): ("length", 0.0, 30.0),
    ("lines", "liquid_bore"): ("length", 1e-3, 40e-3),
    ("lines", "liquid_length"): ("length", 0.0, 30.0),
    ("lines", "drier_volume"): ("volume", 0.0, 2e-3),
    ("lines", "accumulator_volume"): ("volume", 0.0, 10e-3),
    ("lines", "exchanger_length"): ("length", 0.0, 30.0),
    ("limits", "high_side_pressure"): ("pressure", 2e5, 2e7),
    ("limits", "low_side_pressure"): ("pressure", 1.1e5, 1e7),
    ("limits", "discharge_temperature"): ("temperature", 323.15, 473.15),
    ("ran_well", "room_temperature"): ("temperature", 273.15, 318.15),
    ("ran_well", "charge"): ("mass", 5e-3, 20.0),
    ("ran_well", "suction_pressure"): ("pressure", 2e4, 3e6),
    ("ran_well", "head_pressure"): ("pressure", 1.2e5, 6e6),
    ("ran_well", "suction_temperature"): ("temperature", 233.15, 343.15),
    ("ran_well", "discharge_temperature"): ("temperature", 283.15, 433.15),
    ("ran_well", "liquid_temperature"): ("temperature", 263.15, 353.15),
    ("ran_well", "air_out_temperature"): ("temperature", 273.15, 343.15),
    ("ran_well", "power"): ("power", 10.0, 2e4),
    ("ran_well", "current"): ("current", 0.05, 100.0),
    ("ran_well", "water"): ("water removal", 1e-6, 1e-2),
    ("targets", "superheat"): ("temperature difference", 0.0, 40.0),
    ("targets", "subcooling"): ("temperature difference", 0.0, 40.0),
}


# Uncertainty beyond which a reading says nothing: share of the value, or kelvin for temperatures.
_WIDEST: Final = 0.6


_WIDEST_KELVIN: Final = 20.0


def section_bounds(
    section: object, name: str, path: Path, system: System, atmosphere: float
) -> Iterator[Refusal]:
    """Values of one section outside what can be, and uncertainties that say nothing."""
    for key, value in section:  # type: ignore[attr-defined]
        if not isinstance(value, Parsed):
            continue
        where = (*path, key)
        row = _BOUNDS.get((name, key))
        if row is not None and not row[1] <= value.value <= row[2]:
            kind, low, high = row
            shown = [show(v, kind, system, atmosphere=atmosphere) for v in (low, high)]
            yield Refusal(
                path=where,
                what="outside what a small sealed machine can have",
                read=value.text,
                allowed=f"{shown[0]} to {shown[1]}",
            )
        if value.sd is not None and row is not None:
            offset = row[0] == "temperature"
            widest = _WIDEST_KELVIN if offset else _WIDEST * abs(value.value)
            if value.sd > widest > 0.0:
                yield Refusal(
                    path=where,
                    what="so wide an uncertainty says nothing",
                    read=value.text,
                    allowed="leave the line out when it was not measured",
                )


def humidity_bounds(value: Parsed | None, path: Path) -> Iterator[Refusal]:
    """A relative humidity outside 0 to 100 %."""
    if value is not None and not 0.0 <= value.value <= 1.0:
        yield Refusal(
            path=path,
            what="relative humidity lies between 0 and 100 %",
            read=value.text,
            allowed="write for example 55 %RH",
        )

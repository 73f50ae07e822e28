"""Every key a job file may hold: what it means, how it is written, what stands in for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from sweatline.job.conventions import CONVENTIONS
from sweatline.job.mistakes import section_of
from sweatline.job.names import REFRIGERANTS
from sweatline.job.rules import (
    Choice,
    Coefficients,
    Count,
    Fitted,
    Name,
    Quantity,
    Range,
    RefrigerantName,
    Speeds,
    Tubes,
)
from sweatline.job.schema import LISTS, JobFile
from sweatline.job.tolerances import TOOLS
from sweatline.units import EXAMPLES

__all__ = ["Key", "glossary"]

_COIL: Final = {
    "tube_outer_diameter": "outer diameter of the tubes",
    "tube_wall": "thickness of the tube's wall",
    "tube_bore": "inner diameter of the tubes, instead of the wall",
    "rows": "tubes one behind the other in the air's direction",
    "tubes_per_row": "tubes across the air",
    "transverse_pitch": "from tube to tube within a row, centre to centre",
    "longitudinal_pitch": "from row to row, centre to centre",
    "finned_length": "length of a tube that carries fins",
    "fin_pitch": "from fin to fin, or fins counted along a length",
    "fin_thickness": "thickness of one fin",
    "circuits": "paths the refrigerant divides into",
    "path": "refrigerant runs through whole rows, first the one where the air leaves (counter) or "
    "where it enters (parallel), or crosses all rows at each height (zigzag)",
    "circuiting": "instead of circuits and path, the tubes of each circuit in the order of the "
    "refrigerant: row letter, A where the air enters, and number from the top",
    "air_profile": "speed of the air over the face from the top down, in any unit; even if left "
    "out",
    "fouling": "share of the clean air-side heat transfer that is left",
}

_COMPRESSOR: Final = {
    "name": "what results call it",
    "kind": "how it compresses",
    "displacement": "swept volume of one revolution",
    "refrigerant": "refrigerant it was made for",
    "rated_frequency": "frequency on its plate",
    "rated_voltage": "voltage on its plate",
    "rated_power": "running power on its plate",
    "rated_current": "running current on its plate",
    "oil": "oil inside",
    "oil_volume": "how much oil",
    "shell_volume": "free gas volume inside the shell",
    "starting_torque": "whether it starts against pressure",
}

_RATING: Final = {
    "refrigerant": "refrigerant of the rating",
    "capacity": "rated cooling capacity",
    "power": "rated power",
    "conditions": "name of the rating condition, instead of the temperatures",
    "evaporating": "evaporating temperature, dew",
    "condensing": "condensing temperature, dew",
    "return_gas": "temperature of the gas entering the compressor",
    "superheat": "superheat of that gas, instead of its temperature",
    "liquid": "temperature of the liquid entering the expansion device",
    "subcooling": "subcooling of that liquid, instead of its temperature",
}

_MAP: Final = {
    "refrigerant": "refrigerant of the map",
    "coefficients": "units of the coefficients; power is in W in both",
    "capacity": "ten coefficients of cooling capacity",
    "power": "ten coefficients of power",
    "return_gas": "temperature of the gas entering the compressor",
    "superheat": "superheat of that gas, instead of its temperature",
    "subcooling": "subcooling of the liquid",
    "evaporating_range": "lowest and highest evaporating temperature",
    "condensing_range": "lowest and highest condensing temperature",
    "frequency": "frequency at which the map was made",
}

_MEANING: Final[dict[str, dict[str, str]]] = {
    "": {
        "title": "name of the job",
        "kind": "kind of machine",
        "units": "unit system of the results",
        "coils": "how closely coils are followed: by rows, with all circuits alike, or tube by "
        "tube, which a circuiting, a zigzag or an air profile asks for by itself",
        "refrigerants": "refrigerants that can be had",
    },
    "room": {
        "temperature": "temperature of the room's air",
        "humidity": "relative humidity of the room's air",
        "floor_area": "floor of the room, for the charge limit of flammable refrigerants",
        "volume": "volume of the room, for the concentration limit",
    },
    "place": {
        "altitude": "height above the sea, sets the zero of every gauge",
        "pressure": "barometer reading at the place, better than the altitude",
        "installation": "how the machine stands or hangs",
        "country": "country, decides which rules are pointed at",
        "flammable_conversion": "'accepted' when you have read the rules of your country and take "
        "on putting a flammable refrigerant into a machine not built for it",
    },
    "supply": {"voltage": "mains voltage", "frequency": "mains frequency"},
    "original": {
        "refrigerant": "refrigerant on the plate",
        "charge": "charge on the plate",
        "power": "power on the plate",
        "current": "current on the plate",
        "water_removal": "water removal on the plate",
        "rating_temperature": "room in which the water was rated",
        "rating_humidity": "humidity at which the water was rated",
    },
    "evaporator": _COIL,
    "condenser": _COIL,
    "fan": {
        "airflow": "air through both coils, at the inlet",
        "power": "power of the fan's motor",
        "position": "before, between or after the coils",
        "shut_off_pressure": "static pressure of the fan with no air moving",
    },
    "original.compressor": {
        **_COMPRESSOR,
        "name": "what results call it; alone, the name of a [[compressor]] that it still is",
    },
    "original.compressor.rating": _RATING,
    "original.compressor.map": _MAP,
    "original.capillary": {
        "name": "what results call it; alone, the name of a [[capillary]] that it still is",
        "bore": "inner diameter",
        "length": "length in the machine",
        "roughness": "roughness of the inner wall",
    },
    "compressor": _COMPRESSOR,
    "compressor.rating": _RATING,
    "compressor.map": _MAP,
    "capillary": {
        "name": "what results call it",
        "bore": "inner diameter",
        "length": "length in the machine, or on the reel",
        "fitted": "true: it stays as it is; false: it can be cut",
        "roughness": "roughness of the inner wall",
    },
    "lines": {
        "suction_bore": "bore of the suction line",
        "suction_length": "length of the suction line",
        "discharge_bore": "bore of the discharge line",
        "discharge_length": "length of the discharge line",
        "liquid_bore": "bore of the liquid line",
        "liquid_length": "length of the liquid line",
        "drier_volume": "free volume of the drier",
        "accumulator_volume": "volume of the suction accumulator",
        "exchanger_length": "length of capillary soldered to the suction line",
    },
    "limits": {
        "high_side_pressure": "what the weakest part of the high side stands",
        "low_side_pressure": "what the weakest part of the low side stands",
        "discharge_temperature": "hottest discharge gas allowed",
    },
    "targets": {
        "superheat": "superheat wanted at the evaporator's outlet",
        "subcooling": "subcooling wanted at the condenser's outlet",
    },
    "ran_well": {
        "name": "what results call this set of readings, such as a date",
        "room_temperature": "air that the machine breathed then",
        "room_humidity": "humidity of that air",
        "charge": "refrigerant that was in it, weighed",
        "suction_pressure": "gauge on the suction side",
        "head_pressure": "gauge on the discharge side",
        "suction_temperature": "suction tube at the compressor",
        "discharge_temperature": "discharge tube at the compressor",
        "liquid_temperature": "tube behind the condenser",
        "air_out_temperature": "air leaving the machine",
        "power": "watts of the whole machine",
        "current": "amperes of the whole machine",
        "water": "water collected in a time, once it ran steadily",
    },
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key of a job file.

    Parameters
    ----------
    table : str
        Header under which it stands, empty at the top of the file.
    name : str
        The key.
    meaning : str
        What it means.
    written : str
        How it is written: examples or the words allowed.
    needed : bool
        Nothing can stand in for it.
    uncertainty : str
        What a reading without a stated uncertainty is taken to be worth.
    """

    table: str
    name: str
    meaning: str
    written: str
    needed: bool
    uncertainty: str


def _quoted(words: str) -> str:
    return ", ".join(f'"{word}"' for word in words.split(", "))


def _written(name: str, field: FieldInfo) -> tuple[str, str]:
    """How a key is written, and what a reading of it is worth."""
    for rule in field.metadata:
        if isinstance(rule, Quantity):
            tool = TOOLS[rule.tool].words if rule.tool else ""
            examples = EXAMPLES[rule.kind]
            return (examples if rule.kind == "ratio" else _quoted(examples)), tool
        if isinstance(rule, Choice):
            return " or ".join(f'"{word}"' for word in rule.words), ""
        if isinstance(rule, Count):
            return f"whole number, {rule.low} to {rule.high}", ""
        if isinstance(rule, RefrigerantName):
            return _quoted(", ".join(REFRIGERANTS[:4])) + " ...", ""
        if isinstance(rule, Coefficients):
            return "[C1, ... C10] in the order of AHRI 540", ""
        if isinstance(rule, Range):
            return '["-10 °C", "12 °C"]', ""
        if isinstance(rule, Tubes):
            return '["B1-B5 A5-A1", "B6-B10 A10-A6"]', ""
        if isinstance(rule, Speeds):
            return "[1.0, 1.3, 1.1]", ""
        if isinstance(rule, Fitted):
            return "true or false", ""
        if isinstance(rule, Name):
            return (_quoted(", ".join(CONVENTIONS)) if name == "conditions" else "text"), ""
    return '["R-134a", "R-290"]', ""


def _keys(section: type[BaseModel], table: str) -> Iterator[Key]:
    tables: list[tuple[str, type[BaseModel]]] = []
    for name, field in section.model_fields.items():
        inner = section_of(field.annotation)
        if inner is not None:
            tables.append((f"{table}.{name}" if table else name, inner))
            continue
        written, uncertainty = _written(name, field)
        header = f"[[{table}]]" if table in LISTS else f"[{table}]"
        yield Key(
            table=header if table else "",
            name=name,
            meaning=_MEANING[table][name],
            written=written,
            needed=field.is_required(),
            uncertainty=uncertainty,
        )
    for path, inner in tables:
        yield from _keys(inner, path)


def glossary() -> tuple[Key, ...]:
    """Every key of a job file, table by table, in the order of the schema."""
    return tuple(_keys(JobFile, ""))

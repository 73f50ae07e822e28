"""A job told back to the person: every number, where it came from and how well it is known."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from sweatline.job.conventions import CONVENTIONS
from sweatline.job.model import Coil, Compressor, Job
from sweatline.uncertainty.measured import Measured
from sweatline.units import Kind, System, show, show_spread

__all__ = ["Row", "explain"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the explanation.

    Parameters
    ----------
    part : str
        Part of the machine, the heading under which the line stands.
    field : str
        What it is, in words.
    value : str
        Value with unit, in the job's unit system.
    uncertainty : str
        Standard uncertainty in the same unit, empty for counts and words.
    origin : str
        ``measured``, ``nameplate``, ``inferred``, ``default``, ``stated`` for words and counts,
        ``derived`` for what follows from other lines.
    note : str
        Why this value, or with which tool.
    written : str
        What stands in the job file, empty when nothing does.
    """

    part: str
    field: str
    value: str
    uncertainty: str = ""
    origin: str = "stated"
    note: str = ""
    written: str = ""


# Attribute of the job, key in the file, words, kind of quantity (None for counts and words).
_Field = tuple[str, str, str, Kind | None]

_COIL: Final[tuple[_Field, ...]] = (
    ("tube_outer_diameter", "tube_outer_diameter", "tube outer diameter", "bore"),
    ("tube_wall", "tube_wall", "tube wall", "length"),
    ("rows", "rows", "rows", None),
    ("tubes_per_row", "tubes_per_row", "tubes in a row", None),
    ("transverse_pitch", "transverse_pitch", "pitch within a row", "length"),
    ("longitudinal_pitch", "longitudinal_pitch", "pitch between rows", "length"),
    ("finned_length", "finned_length", "finned length", "length"),
    ("fin_pitch", "fin_pitch", "fin pitch", "fin pitch"),
    ("fin_thickness", "fin_thickness", "fin thickness", "length"),
    ("circuits", "circuits", "circuits", None),
    ("path", "path", "refrigerant against air", None),
    ("fouling", "fouling", "air-side cleanness", "ratio"),
)

_SECTIONS: Final[Mapping[str, tuple[_Field, ...]]] = {
    "room": (
        ("temperature", "temperature", "temperature", "temperature"),
        ("relative_humidity", "humidity", "relative humidity", "relative humidity"),
        ("floor_area", "floor_area", "floor area", "area"),
        ("volume", "volume", "volume", "room volume"),
    ),
    "place": (
        ("altitude", "altitude", "altitude", "altitude"),
        ("atmospheric_pressure", "pressure", "atmospheric pressure", "absolute pressure"),
        ("installation", "installation", "installation", None),
        ("country", "country", "country", None),
        (
            "flammable_conversion",
            "flammable_conversion",
            "conversion to a flammable refrigerant",
            None,
        ),
    ),
    "supply": (
        ("voltage", "voltage", "voltage", "voltage"),
        ("frequency", "frequency", "frequency", "frequency"),
    ),
    "original": (
        ("refrigerant", "refrigerant", "refrigerant", None),
        ("charge", "charge", "charge", "mass"),
        ("power", "power", "power", "power"),
        ("current", "current", "current", "current"),
        ("water_removal", "water_removal", "water removal", "water removal"),
        ("rating_temperature", "rating_temperature", "rated at", "temperature"),
        ("rating_relative_humidity", "rating_humidity", "rated at", "relative humidity"),
    ),
    "evaporator": _COIL,
    "condenser": _COIL,
    "fan": (
        ("volume_flow", "airflow", "airflow", "volume flow"),
        ("power", "power", "power", "power"),
        ("position", "position", "position to the coils", None),
    ),
    "lines": (
        ("suction_bore", "suction_bore", "suction bore", "bore"),
        ("suction_length", "suction_length", "suction length", "length"),
        ("discharge_bore", "discharge_bore", "discharge bore", "bore"),
        ("discharge_length", "discharge_length", "discharge length", "length"),
        ("liquid_bore", "liquid_bore", "liquid bore", "bore"),
        ("liquid_length", "liquid_length", "liquid length", "length"),
        ("drier_volume", "drier_volume", "drier volume", "volume"),
        ("accumulator_volume", "accumulator_volume", "accumulator volume", "volume"),
        ("exchanger_length", "exchanger_length", "capillary on the suction line", "length"),
    ),
    "limits": (
        ("high_side_pressure", "high_side_pressure", "high side", "pressure"),
        ("low_side_pressure", "low_side_pressure", "low side", "pressure"),
        (
            "discharge_temperature",
            "discharge_temperature",
            "discharge gas temperature",
            "temperature",
        ),
    ),
    "targets": (
        ("superheat", "superheat", "superheat", "temperature difference"),
        ("subcooling", "subcooling", "subcooling", "temperature difference"),
    ),
}

_COMPRESSOR: Final[tuple[_Field, ...]] = (
    ("kind", "kind", "kind", None),
    ("refrigerant", "refrigerant", "made for", None),
    ("displacement", "displacement", "displacement", "volume"),
    ("rated_frequency", "rated_frequency", "plate frequency", "frequency"),
    ("rated_voltage", "rated_voltage", "plate voltage", "voltage"),
    ("rated_power", "rated_power", "plate power", "power"),
    ("rated_current", "rated_current", "plate current", "current"),
    ("oil", "oil", "oil", None),
    ("oil_volume", "oil_volume", "oil charge", "volume"),
    ("shell_volume", "shell_volume", "free volume of the shell", "volume"),
    ("starting_torque", "starting_torque", "starting torque", None),
)

_RATING: Final[tuple[_Field, ...]] = (
    ("refrigerant", "refrigerant", "rated with", None),
    ("convention", "conditions", "rating condition", None),
    ("capacity", "capacity", "rated capacity", "cooling capacity"),
    ("power", "power", "rated power", "power"),
    ("evaporating_temperature", "evaporating", "rated evaporating", "temperature"),
    ("condensing_temperature", "condensing", "rated condensing", "temperature"),
    ("suction_temperature", "return_gas", "rated return gas", "temperature"),
    ("liquid_temperature", "liquid", "rated liquid", "temperature"),
)

_MAP: Final[tuple[_Field, ...]] = (
    ("refrigerant", "refrigerant", "map with", None),
    ("suction_temperature", "return_gas", "map return gas", "temperature"),
    ("superheat", "superheat", "map superheat", "temperature difference"),
    ("subcooling", "subcooling", "map subcooling", "temperature difference"),
    ("frequency", "frequency", "map frequency", "frequency"),
)

_CAPILLARY: Final[tuple[_Field, ...]] = (
    ("bore", "bore", "bore", "bore"),
    ("length", "length", "length", "length"),
    ("fitted", "fitted", "fitted", None),
    ("roughness", "roughness", "roughness", "roughness"),
)


_RAN_WELL: Final[tuple[_Field, ...]] = (
    ("temperature", "room_temperature", "room temperature", "temperature"),
    ("relative_humidity", "room_humidity", "room humidity", "relative humidity"),
    ("charge", "charge", "charge", "mass"),
    ("suction_pressure", "suction_pressure", "suction gauge", "pressure"),
    ("head_pressure", "head_pressure", "head gauge", "pressure"),
    ("suction_temperature", "suction_temperature", "suction tube", "temperature"),
    ("discharge_temperature", "discharge_temperature", "discharge tube", "temperature"),
    ("liquid_temperature", "liquid_temperature", "liquid tube", "temperature"),
    ("air_out_temperature", "air_out_temperature", "air leaving the machine", "temperature"),
    ("power", "power", "watts with the fan", "power"),
    ("current", "current", "current", "current"),
    ("water", "water", "water", "water removal"),
)


class _Teller:
    """Turns fields of one job into rows."""

    def __init__(self, job: Job) -> None:
        self.system: System = job.unit_system
        self.atmosphere = job.place.atmospheric_pressure
        self.written = dict(job.written)
        self.assumed = dict(job.assumed)

    def show(self, value: float, kind: Kind) -> str:
        return show(value, kind, self.system, atmosphere=self.atmosphere)

    def rows(self, part: str, thing: Any, fields: tuple[_Field, ...], path: str) -> Iterator[Row]:
        for attribute, key, words, kind in fields:
            value = getattr(thing, attribute)
            if value is None:
                continue
            where = f"{path}.{key}"
            written = self.written.get(where, "")
            if isinstance(value, Measured):
                assert kind is not None, where
                yield self.known(part, words, value, kind, written)
                continue
            origin, note = "stated", ""
            if where in self.assumed:
                origin, note = "default", self.assumed[where]
            if isinstance(value, bool):
                text = "yes" if value else "no"
            elif kind is not None:
                text = self.show(value, kind)
            else:
                text = str(value) or "not stated"
            yield Row(part=part, field=words, value=text, origin=origin, note=note, written=written)

    def known(self, part: str, words: str, known: Measured, kind: Kind, written: str = "") -> Row:
        return Row(
            part=part,
            field=words,
            value=self.show(known.value, kind),
            uncertainty=show_spread(
                known.sd, known.value, kind, self.system, atmosphere=self.atmosphere
            ),
            origin=known.origin,
            note=known.note,
            written=written,
        )

    def derived(
        self, part: str, words: str, value: float, share: float, kind: Kind, note: str
    ) -> Row:
        """Row for a quantity that follows from others, known to a share of itself."""
        return Row(
            part=part,
            field=words,
            value=self.show(value, kind),
            uncertainty=show_spread(
                share * abs(value), value, kind, self.system, atmosphere=self.atmosphere
            ),
            origin="derived",
            note=note,
        )


def _share(*knowns: Measured) -> float:
    """Relative standard uncertainty of a product of independent quantities."""
    return math.sqrt(sum((k.sd / k.value) ** 2 for k in knowns if k.value))


def _coil(tell: _Teller, part: str, coil: Coil) -> Iterator[Row]:
    tubes = coil.rows * coil.tubes_per_row
    length = tubes * coil.finned_length.value
    height = coil.tubes_per_row * coil.transverse_pitch.value
    depth = coil.rows * coil.longitudinal_pitch.value
    outer, wall = coil.tube_outer_diameter.value, coil.tube_wall.value
    bore = outer - 2.0 * wall
    fins = coil.finned_length.value / coil.fin_pitch.value
    face = height * coil.finned_length.value
    holes = tubes * math.pi / 4.0 * outer**2
    area = fins * 2.0 * (height * depth - holes)
    area += math.pi * outer * length * (1.0 - coil.fin_thickness.value / coil.fin_pitch.value)
    bore_sd = math.hypot(coil.tube_outer_diameter.sd, 2.0 * coil.tube_wall.sd) / bore
    yield tell.derived(
        part,
        "face area",
        face,
        _share(coil.transverse_pitch, coil.finned_length),
        "area",
        "finned length by height",
    )
    yield tell.derived(
        part,
        "tube length",
        length,
        _share(coil.finned_length),
        "length",
        f"{tubes} tubes, without the bends",
    )
    yield tell.derived(
        part,
        "volume inside the tubes",
        math.pi / 4.0 * bore**2 * length,
        math.hypot(2.0 * bore_sd, _share(coil.finned_length)),
        "volume",
        "without the bends",
    )
    yield tell.derived(
        part,
        "outside area",
        area,
        _share(coil.fin_pitch, coil.transverse_pitch, coil.longitudinal_pitch),
        "area",
        f"{round(fins)} fins, both sides, and the bare tube between",
    )


def _compressor(tell: _Teller, part: str, path: str, compressor: Compressor) -> Iterator[Row]:
    yield from tell.rows(part, compressor, _COMPRESSOR, path)
    if compressor.displacement is None:
        yield Row(
            part=part,
            field="displacement",
            value="not stated",
            origin="inferred",
            note="to be worked out from the rating or the map",
        )
    if compressor.rating is not None:
        named = CONVENTIONS.get(compressor.rating.convention)
        for row in tell.rows(part, compressor.rating, _RATING, f"{path}.rating"):
            if row.field == "rating condition" and named is not None:
                row = replace(row, note=named.source)
            yield row
    if compressor.map is not None:
        yield from tell.rows(part, compressor.map, _MAP, f"{path}.map")
        for words, (low, high) in (
            ("map evaporating", compressor.map.evaporating_range),
            ("map condensing", compressor.map.condensing_range),
        ):
            text = f"{tell.show(low, 'temperature')} to {tell.show(high, 'temperature')}"
            yield Row(part=part, field=words, value=text)


def explain(job: Job) -> tuple[Row, ...]:
    """Rows that tell a job back, grouped by part, in the job's unit system.

    Parameters
    ----------
    job : Job
        Job as read.

    Returns
    -------
    tuple of Row
        Every number and word of the job, then what follows from them at once: coil areas and
        volumes, the air's speed at the evaporator's face.
    """
    tell = _Teller(job)
    out: list[Row] = []
    for name, fields in _SECTIONS.items():
        thing = getattr(job, name)
        out.extend(tell.rows(name, thing, fields, name))
        if name in {"evaporator", "condenser"}:
            out.extend(_coil(tell, name, thing))
        if name == "fan":
            coil = job.evaporator
            face = coil.finned_length.value * coil.tubes_per_row * coil.transverse_pitch.value
            out.append(
                tell.derived(
                    "fan",
                    "speed at the evaporator's face",
                    job.fan.volume_flow.value / face,
                    _share(job.fan.volume_flow, coil.finned_length, coil.transverse_pitch),
                    "speed",
                    "airflow by face area",
                )
            )
            out.append(Row(part="refrigerants", field="at hand", value=", ".join(job.refrigerants)))
            for n, compressor in enumerate(job.compressors, 1):
                out.extend(
                    _compressor(
                        tell, f"compressor {n}: {compressor.name}", f"compressor[{n}]", compressor
                    )
                )
            for n, capillary in enumerate(job.capillaries, 1):
                part = f"capillary {n}: {capillary.name}"
                out.extend(tell.rows(part, capillary, _CAPILLARY, f"capillary[{n}]"))
    out.extend(_known_machine(tell, job))
    return tuple(out)


def _known_machine(tell: _Teller, job: Job) -> Iterator[Row]:
    """The parts of the machine as it ran, where they are not on the bench, and what it showed."""
    compressor, capillary = job.original.compressor, job.original.capillary
    if compressor is not None and compressor not in job.compressors:
        yield from _compressor(
            tell, "compressor of the original", "original.compressor", compressor
        )
    if capillary is not None and capillary not in job.capillaries:
        part = "capillary of the original"
        yield from tell.rows(part, capillary, _CAPILLARY, "original.capillary")
    for n, one in enumerate(job.ran_well, 1):
        yield from tell.rows(f"ran well: {one.name}", one, _RAN_WELL, f"ran_well[{n}]")

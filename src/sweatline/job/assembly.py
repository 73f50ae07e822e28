"""From the sections of a job file to the typed job: readings, defaults and what was assumed."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Literal, cast

from pydantic import BaseModel

from sweatline.job import defaults
from sweatline.job.conventions import convention
from sweatline.job.mapping import in_celsius
from sweatline.job.model import (
    CapillaryStock,
    Coil,
    Compressor,
    CompressorMap,
    Fan,
    Job,
    Limits,
    Lines,
    Original,
    Place,
    RanWell,
    Rating,
    Room,
    Supply,
    Targets,
)
from sweatline.job.rules import Quantity
from sweatline.job.schema import (
    CapillarySection,
    CoilSection,
    JobFile,
    MapSection,
    OriginalCompressorSection,
    OriginalSection,
    RanWellSection,
    RatingSection,
    needs_tubes,
)
from sweatline.job.tolerances import TOOLS, reading
from sweatline.uncertainty.measured import Measured, inferred
from sweatline.units import Parsed

__all__ = ["assemble"]


class _Notes:
    """What was written and what was assumed, by the key's path in the file."""

    def __init__(self) -> None:
        self.written: list[tuple[str, str]] = []
        self.assumed: list[tuple[str, str]] = []

    def assume(self, path: str, note: str) -> None:
        self.assumed.append((path, note))


class _Part:
    """One section while it is read: gives Known values and keeps the notes."""

    def __init__(self, section: BaseModel, path: str, notes: _Notes) -> None:
        self.section, self.path, self.notes = section, path, notes
        for key, value in section:
            if isinstance(value, Parsed):
                notes.written.append((f"{path}.{key}", value.text))

    def maybe(self, key: str) -> Measured | None:
        parsed = getattr(self.section, key)
        if parsed is None:
            return None
        for rule in type(self.section).model_fields[key].metadata:
            if isinstance(rule, Quantity):
                return reading(parsed, TOOLS[rule.tool])
        raise AssertionError(f"{self.path}.{key} has no rule")

    def known(self, key: str, otherwise: Measured | None = None) -> Measured:
        found = self.maybe(key)
        if found is not None:
            return found
        assert otherwise is not None, key
        return otherwise

    def plain(self, key: str) -> float | None:
        parsed = getattr(self.section, key)
        return None if parsed is None else float(parsed.value)

    def word(self, key: str, otherwise: str, note: str) -> str:
        found = getattr(self.section, key)
        if found is None:
            self.notes.assume(f"{self.path}.{key}", note)
            return otherwise
        return str(found)


def _wall(diameter: Measured, bore: Measured | None) -> Measured:
    """Wall of a tube whose wall was not measured: from its bore, or else by default. [m]"""
    if bore is None:
        return defaults.tube_wall(diameter.value)
    return inferred(
        0.5 * (diameter.value - bore.value),
        0.5 * math.hypot(diameter.sd, bore.sd),
        "half of what the tube's diameter exceeds its bore",
    )


def _coil(section: CoilSection, path: str, notes: _Notes) -> Coil:
    part = _Part(section, path, notes)
    diameter = part.known("tube_outer_diameter")
    circuits = section.circuits
    if section.circuiting is not None:
        circuits = len(section.circuiting)
    if circuits is None:
        circuits = 1
        notes.assume(f"{path}.circuits", "one circuit")
    order = "as listed"
    if section.circuiting is None:
        order = part.word("path", "counter", "refrigerant enters on the side where the air leaves")
    return Coil(
        tube_outer_diameter=diameter,
        tube_wall=part.known("tube_wall", _wall(diameter, part.maybe("tube_bore"))),
        rows=section.rows,
        tubes_per_row=section.tubes_per_row,
        transverse_pitch=part.known("transverse_pitch"),
        longitudinal_pitch=part.known("longitudinal_pitch"),
        finned_length=part.known("finned_length"),
        fin_pitch=part.known("fin_pitch"),
        fin_thickness=part.known("fin_thickness", defaults.fin_thickness()),
        circuits=circuits,
        path=cast(Literal["counter", "parallel", "zigzag", "as listed"], order),
        fouling=part.known("fouling", defaults.fouling()),
        circuiting=section.circuiting,
        air_profile=section.air_profile or (),
    )


def _rating(section: RatingSection, path: str, notes: _Notes) -> Rating:
    part = _Part(section, path, notes)
    if section.conditions is not None:
        named = convention(section.conditions)
        evaporating, condensing = named.evaporating, named.condensing
        suction, liquid, name = named.suction, named.liquid, named.name
    else:
        evaporating = cast(float, part.plain("evaporating"))
        condensing = cast(float, part.plain("condensing"))
        superheat, subcooling = part.plain("superheat"), part.plain("subcooling")
        suction = cast(float, part.plain("return_gas"))
        if superheat is not None:
            suction = evaporating + superheat
        liquid = cast(float, part.plain("liquid"))
        if subcooling is not None:
            liquid = condensing - subcooling
        name = "as written"
    return Rating(
        refrigerant=section.refrigerant,
        capacity=part.known("capacity"),
        evaporating_temperature=evaporating,
        condensing_temperature=condensing,
        suction_temperature=suction,
        liquid_temperature=liquid,
        convention=name,
        power=part.maybe("power"),
    )


def _map(section: MapSection, path: str, notes: _Notes) -> CompressorMap:
    part = _Part(section, path, notes)
    capacity, power = in_celsius(section)
    return CompressorMap(
        refrigerant=section.refrigerant,
        capacity=capacity,
        power=power,
        suction_temperature=part.plain("return_gas"),
        superheat=part.plain("superheat"),
        subcooling=cast(float, part.plain("subcooling")),
        evaporating_range=(
            section.evaporating_range[0].value,
            section.evaporating_range[1].value,
        ),
        condensing_range=(section.condensing_range[0].value, section.condensing_range[1].value),
        frequency=cast(float, part.plain("frequency")),
    )


def _compressor(
    section: OriginalCompressorSection, path: str, notes: _Notes, supply: Supply
) -> Compressor:
    part = _Part(section, path, notes)
    frequency = part.plain("rated_frequency")
    if frequency is None:
        frequency = section.map.frequency.value if section.map else supply.frequency.value
        notes.assume(f"{path}.rated_frequency", "that of the map, or else of the supply")
    oil = part.word("oil", "unknown", "not stated")
    torque = part.word("starting_torque", "unknown", "not stated")
    kind = cast(Literal["reciprocating", "rotary"], section.kind)
    return Compressor(
        name=section.name or "original compressor",
        kind=kind,
        displacement=part.maybe("displacement"),
        rating=_rating(section.rating, f"{path}.rating", notes) if section.rating else None,
        map=_map(section.map, f"{path}.map", notes) if section.map else None,
        rated_frequency=frequency,
        rated_power=part.maybe("rated_power"),
        rated_current=part.maybe("rated_current"),
        rated_voltage=part.plain("rated_voltage"),
        oil=oil,
        oil_volume=part.known("oil_volume", defaults.oil_volume(kind)),
        shell_volume=part.known("shell_volume", defaults.shell_volume(kind)),
        starting_torque=cast(Literal["low", "high", "unknown"], torque),
        refrigerant=section.refrigerant,
    )


def _capillary(section: CapillarySection, path: str, notes: _Notes) -> CapillaryStock:
    part = _Part(section, path, notes)
    return CapillaryStock(
        name=section.name,
        bore=part.known("bore"),
        length=part.maybe("length"),
        fitted=section.fitted,
        roughness=part.known("roughness", defaults.roughness()),
    )


def _original_compressor(
    section: OriginalSection, bench: tuple[Compressor, ...], notes: _Notes, supply: Supply
) -> Compressor | None:
    """The compressor that ran: one described, or one of the bench that is only named."""
    own = section.compressor
    if own is None:
        return None
    for one in bench:
        if own.kind is None and own.name and own.name.casefold() == one.name.casefold():
            return one
    return _compressor(own, "original.compressor", notes, supply)


def _original_capillary(
    section: OriginalSection, bench: tuple[CapillaryStock, ...], notes: _Notes
) -> CapillaryStock | None:
    """The capillary it ran with: one described, one of the bench named, or the fitted one."""
    own = section.capillary
    if own is None:
        return next((one for one in bench if one.fitted), None)
    if own.bore is None:
        name = (own.name or "").casefold()
        return next((one for one in bench if one.name.casefold() == name), None)
    part = _Part(own, "original.capillary", notes)
    return CapillaryStock(
        name=own.name or "original capillary",
        bore=part.known("bore"),
        length=part.maybe("length"),
        fitted=True,
        roughness=part.known("roughness", defaults.roughness()),
    )


def _ran_well(section: RanWellSection, number: int, notes: _Notes) -> RanWell:
    part = _Part(section, f"ran_well[{number}]", notes)
    return RanWell(
        name=section.name or f"reading {number}",
        temperature=part.known("room_temperature"),
        relative_humidity=part.known("room_humidity"),
        **{
            key: part.maybe(key)
            for key in RanWellSection.model_fields
            if key not in ("name", "room_temperature", "room_humidity")
        },
    )


def _place(file: JobFile, atmosphere: float, notes: _Notes) -> Place:
    part = _Part(file.place, "place", notes)
    altitude = part.plain("altitude")
    if altitude is None:
        altitude = 0.0
        notes.assume("place.altitude", "sea level")
    if file.place.pressure is None:
        notes.assume("place.pressure", "standard atmosphere at this altitude")
    accepted = part.word(
        "flammable_conversion", "refused", "putting in a flammable refrigerant is not decided"
    )
    installation = part.word("installation", "floor", "portable machine on the floor")
    return Place(
        altitude=altitude,
        atmospheric_pressure=atmosphere,
        installation=cast(Literal["floor", "window", "wall", "ceiling"], installation),
        country=part.word("country", "", "not stated"),
        flammable_conversion=cast(Literal["refused", "accepted"], accepted),
    )


def _original(file: JobFile, notes: _Notes) -> Original:
    part = _Part(file.original, "original", notes)
    temperature, humidity = part.maybe("rating_temperature"), part.maybe("rating_humidity")
    water = part.maybe("water_removal")
    if water is not None:
        usual_temperature, usual_humidity = defaults.rating_condition(file.units)
        temperature = temperature or usual_temperature
        humidity = humidity or usual_humidity
    return Original(
        refrigerant=file.original.refrigerant,
        charge=part.maybe("charge"),
        power=part.maybe("power"),
        current=part.maybe("current"),
        water_removal=water,
        rating_temperature=temperature,
        rating_relative_humidity=humidity,
    )


def _lines(file: JobFile, notes: _Notes) -> Lines:
    part = _Part(file.lines, "lines", notes)
    fields: dict[str, Any] = {}
    for line in ("suction", "discharge", "liquid"):
        fields[f"{line}_bore"] = part.known(f"{line}_bore", defaults.line_bore(line))
        fields[f"{line}_length"] = part.known(f"{line}_length", defaults.line_length(line))
    return Lines(
        drier_volume=part.known("drier_volume", defaults.drier_volume()),
        accumulator_volume=part.known("accumulator_volume", defaults.accumulator_volume()),
        exchanger_length=part.known("exchanger_length", defaults.exchanger_length()),
        **fields,
    )


def _limits(file: JobFile, notes: _Notes) -> Limits:
    part = _Part(file.limits, "limits", notes)
    refrigerant = file.original.refrigerant
    return Limits(
        high_side_pressure=part.maybe("high_side_pressure")
        or defaults.high_side_pressure(refrigerant),
        low_side_pressure=part.maybe("low_side_pressure")
        or defaults.low_side_pressure(refrigerant),
        discharge_temperature=part.known("discharge_temperature", defaults.discharge_temperature()),
    )


def _targets(file: JobFile, notes: _Notes) -> Targets:
    part = _Part(file.targets, "targets", notes)
    values = []
    for key in ("superheat", "subcooling"):
        value = part.plain(key)
        if value is None:
            value = 5.0
            notes.assume(f"targets.{key}", "usual for a small capillary machine")
        values.append(value)
    return Targets(superheat=values[0], subcooling=values[1])


def _fan(file: JobFile, original: Original, evaporator: Coil, notes: _Notes) -> Fan:
    part = _Part(file.fan, "fan", notes)
    face = (
        evaporator.finned_length.value
        * evaporator.tubes_per_row
        * evaporator.transverse_pitch.value
    )
    flow = part.known("airflow", defaults.airflow(original, face))
    position = part.word("position", "after", "fan behind the condenser")
    return Fan(
        volume_flow=flow,
        power=part.known("power", defaults.fan_power(flow.value)),
        position=cast(Literal["before", "between", "after"], position),
        shut_off_pressure=part.maybe("shut_off_pressure"),
    )


def _closeness(file: JobFile) -> Literal["by rows", "tube by tube"]:
    """How closely coils are marched: tube by tube where the job says what only that can follow."""
    if file.coils is not None:
        return cast(Literal["by rows", "tube by tube"], file.coils)
    detailed = any(needs_tubes(c) for c in (file.evaporator, file.condenser))
    return "tube by tube" if detailed else "by rows"


def assemble(file: JobFile, *, path: str, digest: str, atmosphere: float) -> Job:
    """Job of a file whose sections have been read and found possible."""
    notes = _Notes()
    room = _Part(file.room, "room", notes)
    supply_part = _Part(file.supply, "supply", notes)
    supply = Supply(voltage=supply_part.known("voltage"), frequency=supply_part.known("frequency"))
    original = _original(file, notes)
    evaporator = _coil(file.evaporator, "evaporator", notes)
    compressors = tuple(
        _compressor(c, f"compressor[{n}]", notes, supply) for n, c in enumerate(file.compressor, 1)
    )
    capillaries = tuple(
        _capillary(c, f"capillary[{n}]", notes) for n, c in enumerate(file.capillary, 1)
    )
    original = replace(
        original,
        compressor=_original_compressor(file.original, compressors, notes, supply),
        capillary=_original_capillary(file.original, capillaries, notes),
    )
    return Job(
        title=file.title or "Untitled job",
        kind="dehumidifier",
        unit_system=cast(Literal["US", "SI"], file.units),
        path=path,
        digest=digest,
        room=Room(
            temperature=room.known("temperature"),
            relative_humidity=room.known("humidity"),
            floor_area=room.maybe("floor_area"),
            volume=room.maybe("volume"),
        ),
        place=_place(file, atmosphere, notes),
        supply=supply,
        original=original,
        evaporator=evaporator,
        condenser=_coil(file.condenser, "condenser", notes),
        fan=_fan(file, original, evaporator, notes),
        compressors=compressors,
        refrigerants=tuple(file.refrigerants),
        capillaries=capillaries,
        lines=_lines(file, notes),
        limits=_limits(file, notes),
        targets=_targets(file, notes),
        coils=_closeness(file),
        ran_well=tuple(_ran_well(r, n, notes) for n, r in enumerate(file.ran_well, 1)),
        written=tuple(notes.written),
        assumed=tuple(notes.assumed),
    )

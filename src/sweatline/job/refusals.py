"""What cannot be, however well it is written: parts that do not fit into each other.

Each refusal names the key to look at, what is wrong there, what was read and what would do.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from sweatline.errors import JobError
from sweatline.job.bounds import ALTITUDE, Refusal, humidity_bounds, section_bounds
from sweatline.job.conventions import convention
from sweatline.job.defaults import atmospheric_pressure
from sweatline.job.locator import Path
from sweatline.job.schema import (
    LISTS,
    CapillarySection,
    CoilSection,
    JobFile,
    LimitsSection,
    MapSection,
    OriginalCompressorSection,
    PlaceSection,
    RatingSection,
    needs_tubes,
)
from sweatline.parts.circuiting import circuiting_error
from sweatline.units import Parsed, System

__all__ = ["entries", "pumping", "refusals"]


def _coil(coil: CoilSection, path: Path) -> Iterator[Refusal]:
    diameter, wall = coil.tube_outer_diameter.value, coil.tube_wall
    if wall is not None and wall.value >= 0.5 * diameter:
        yield Refusal(
            path=(*path, "tube_wall"),
            what="the wall is half the tube's diameter or more: no bore is left",
            read=wall.text,
            allowed=f"less than {500.0 * diameter:.3g} mm",
        )
    bore = coil.tube_bore
    if bore is not None and bore.value >= diameter:
        yield Refusal(
            path=(*path, "tube_bore"),
            what="the bore is not smaller than its tube",
            read=bore.text,
            allowed=f"less than {1e3 * diameter:.3g} mm",
        )
    if bore is not None and wall is not None:
        difference = 0.5 * (diameter - bore.value) - wall.value
        if abs(difference) > 0.1e-3:
            yield Refusal(
                path=(*path, "tube_wall"),
                what="wall, bore and outer diameter do not belong to one tube",
                read=wall.text,
                allowed="write the wall or the bore, not both",
            )
    for key in ("transverse_pitch", "longitudinal_pitch"):
        pitch: Parsed = getattr(coil, key)
        single = key == "longitudinal_pitch" and coil.rows == 1
        if pitch.value <= diameter and not single:
            yield Refusal(
                path=(*path, key),
                what="the tubes would overlap: this pitch is not above the tube's diameter",
                read=pitch.text,
                allowed=f"more than {1e3 * diameter:.3g} mm",
            )
    fin = coil.fin_thickness
    if fin is not None and fin.value >= coil.fin_pitch.value:
        yield Refusal(
            path=(*path, "fin_thickness"),
            what="the fins are as thick as their pitch: no air gets through",
            read=fin.text,
            allowed=f"less than {1e3 * coil.fin_pitch.value:.3g} mm",
        )
    if coil.fin_pitch.value >= coil.finned_length.value:
        yield Refusal(
            path=(*path, "fin_pitch"),
            what="the finned length holds no two fins",
            read=coil.fin_pitch.text,
        )
    tubes = coil.rows * coil.tubes_per_row
    if coil.circuits is not None and coil.circuits > tubes:
        yield Refusal(
            path=(*path, "circuits"),
            what=f"more circuits than the {tubes} tubes of this coil",
            read=str(coil.circuits),
            allowed=f"1 to {tubes}",
        )


def _circuiting(coil: CoilSection, path: Path, coils: str | None) -> Iterator[Refusal]:
    listed = coil.circuiting
    if listed is not None:
        wrong = circuiting_error(listed, coil.rows, coil.tubes_per_row)
        if wrong:
            yield Refusal(
                path=(*path, "circuiting"),
                what=wrong,
                allowed=f"every tube once: rows A to {'ABCDEFGHIJKL'[coil.rows - 1]}, A where the "
                f"air enters, tubes 1 to {coil.tubes_per_row} from the top",
            )
        if coil.path is not None:
            yield Refusal(
                path=(*path, "path"),
                what="the way of the refrigerant is given twice: by path and by circuiting",
                read=coil.path,
                allowed="write path or circuiting, not both",
            )
        if coil.circuits is not None and coil.circuits != len(listed):
            yield Refusal(
                path=(*path, "circuits"),
                what=f"circuiting lists another number of circuits: {len(listed)}",
                read=str(coil.circuits),
                allowed="leave circuits out",
            )
    key = needs_tubes(coil)
    if key and coils == "by rows":
        yield Refusal(
            path=(*path, key),
            what="coils marched by rows cannot follow this",
            allowed='write coils = "tube by tube", or leave coils out',
        )
    if (key or coils == "tube by tube") and listed is None:
        circuits = coil.circuits or 1
        if circuits > coil.tubes_per_row:
            yield Refusal(
                path=(*path, "circuits"),
                what="more circuits than tubes in a row: their way cannot be guessed",
                read=str(circuits),
                allowed="list the tubes of each under circuiting",
            )


def _one_of(
    given: dict[str, Parsed | None], path: Path, what: str, *, needed: bool
) -> Iterator[Refusal]:
    present = [k for k, v in given.items() if v is not None]
    names = " or ".join(given)
    if len(present) > 1:
        yield Refusal(
            path=(*path, present[1]),
            what=f"{what} is given twice: by {' and by '.join(present)}",
            allowed=f"write {names}, not both",
        )
    elif not present and needed:
        yield Refusal(path=path, what=f"{what} is missing", allowed=f"write {names}")


def _rating(rating: RatingSection, path: Path) -> Iterator[Refusal]:
    temperatures: dict[str, Parsed | None] = {
        key: getattr(rating, key)
        for key in ("evaporating", "condensing", "return_gas", "superheat", "liquid", "subcooling")
    }
    if rating.conditions is not None:
        try:
            convention(rating.conditions)
        except JobError as error:
            yield Refusal(
                path=(*path, "conditions"),
                what=error.what,
                read=error.read,
                allowed=error.allowed,
            )
        for key, value in temperatures.items():
            if value is not None:
                yield Refusal(
                    path=(*path, key),
                    what="a named rating condition already says this temperature",
                    read=value.text,
                    allowed="write the name or the temperatures, not both",
                )
        return
    missing = [k for k in ("evaporating", "condensing") if temperatures[k] is None]
    if missing:
        yield Refusal(
            path=path,
            what="a rating without its conditions means nothing: "
            + ", ".join(missing)
            + " missing",
            allowed='write conditions = "ASHRAE HBP" or another name, or all the temperatures',
        )
        return
    yield from _one_of(
        {"return_gas": rating.return_gas, "superheat": rating.superheat},
        path,
        "the return gas of the rating",
        needed=True,
    )
    yield from _one_of(
        {"liquid": rating.liquid, "subcooling": rating.subcooling},
        path,
        "the liquid of the rating",
        needed=True,
    )
    evaporating, condensing = rating.evaporating, rating.condensing
    if evaporating and condensing and evaporating.value >= condensing.value:
        yield Refusal(
            path=(*path, "condensing"),
            what="condensing temperature is not above the evaporating temperature",
            read=condensing.text,
            allowed=f"more than {evaporating.text}",
        )
    if evaporating and rating.return_gas and rating.return_gas.value < evaporating.value:
        yield Refusal(
            path=(*path, "return_gas"),
            what="return gas is colder than the evaporating temperature",
            read=rating.return_gas.text,
            allowed=f"at least {evaporating.text}",
        )
    if condensing and rating.liquid and rating.liquid.value > condensing.value:
        yield Refusal(
            path=(*path, "liquid"),
            what="liquid is hotter than the condensing temperature",
            read=rating.liquid.text,
            allowed=f"at most {condensing.text}",
        )


def _map(section: MapSection, path: Path) -> Iterator[Refusal]:
    yield from _one_of(
        {"return_gas": section.return_gas, "superheat": section.superheat},
        path,
        "the return gas of the map",
        needed=True,
    )
    for key in ("capacity", "power"):
        if not any(getattr(section, key)):
            yield Refusal(path=(*path, key), what="all ten coefficients are zero")
    if section.evaporating_range[0].value >= section.condensing_range[1].value:
        yield Refusal(
            path=(*path, "evaporating_range"),
            what="the map evaporates above where it condenses",
            read=section.evaporating_range[0].text,
        )


def pumping(compressor: OriginalCompressorSection, path: Path) -> Iterator[Refusal]:
    """What keeps a compressor from being reckoned with."""
    if compressor.displacement is None and compressor.rating is None and compressor.map is None:
        yield Refusal(
            path=path,
            what=f"{compressor.name or 'original'}: nothing says how much this compressor pumps",
            allowed="write its displacement, or a [compressor.rating], or a [compressor.map]",
        )
    if compressor.rating is not None:
        yield from _rating(compressor.rating, (*path, "rating"))
    if compressor.map is not None:
        yield from _map(compressor.map, (*path, "map"))


def _capillary(capillary: CapillarySection, path: Path, exchanger: float) -> Iterator[Refusal]:
    if capillary.fitted and capillary.length is None:
        yield Refusal(
            path=path,
            what=f"{capillary.name}: a fitted capillary needs its length",
            allowed='write length = "2.4 m", or fitted = false for tube that can be cut',
        )
    rough = capillary.roughness
    if rough is not None and rough.value > 0.05 * capillary.bore.value:
        yield Refusal(
            path=(*path, "roughness"),
            what="rougher than a twentieth of the bore",
            read=rough.text,
            allowed="drawn copper is about 0.75 um",
        )
    if capillary.fitted and capillary.length and exchanger > capillary.length.value:
        yield Refusal(
            path=(*path, "length"),
            what="shorter than the part of it said to be soldered to the suction line",
            read=capillary.length.text,
            allowed=f"at least {exchanger:.3g} m, or a shorter lines.exchanger_length",
        )


def _twins(file: JobFile) -> Iterator[Refusal]:
    seen: set[str] = set()
    for n, name in enumerate(getattr(file, "refrigerants", ())):
        if name in seen:
            yield Refusal(path=("refrigerants", n), what=f"{name} is listed twice", read=name)
        seen.add(name)
    for key in LISTS:
        names: set[str] = set()
        for n, part in entries(file, key):
            if part.name is None:
                continue
            if part.name.casefold() in names:
                yield Refusal(
                    path=(key, n, "name"),
                    what=f"two {'readings' if key == 'ran_well' else 'parts'} of one name "
                    "cannot be told apart in the results",
                    read=part.name,
                )
            names.add(part.name.casefold())
    fitted = [n for n, c in entries(file, "capillary") if c.fitted]
    for n in fitted[1:]:
        yield Refusal(path=("capillary", n, "fitted"), what="a second capillary is called fitted")


def entries(file: JobFile, key: str) -> list[tuple[int, Any]]:
    """Readable entries of a list section, each with its place in the list."""
    return [(n, part) for n, part in enumerate(getattr(file, key, ())) if part is not None]


def _limits(limits: LimitsSection) -> Iterator[Refusal]:
    high, low = limits.high_side_pressure, limits.low_side_pressure
    if high is not None and low is not None and low.value > high.value:
        yield Refusal(
            path=("limits", "low_side_pressure"),
            what="the low side's limit is above the high side's",
            read=low.text,
            allowed=f"at most {high.text}",
        )


def _place(place: PlaceSection) -> Iterator[Refusal]:
    altitude, pressure = place.altitude, place.pressure
    if altitude is None or pressure is None:
        return
    expected = atmospheric_pressure(min(max(altitude.value, ALTITUDE[0]), ALTITUDE[1]))
    if not math.isclose(pressure.value, expected, rel_tol=0.06):
        yield Refusal(
            path=("place", "pressure"),
            what="this barometer does not belong to this altitude",
            read=pressure.text,
            allowed=f"about {expected / 1e3:.3g} kPa abs at {altitude.text}; a station "
            "pressure is wanted, not one reduced to sea level",
        )


def refusals(file: JobFile, atmosphere: float) -> Iterator[Refusal]:
    """Everything in a job file that cannot be, in the order of the sections.

    Sections that could not be read may be missing from `file`; the others are still judged.
    """
    system: System = "US" if file.units == "US" else "SI"

    def bounds(section: object, name: str, *path: str | int) -> Iterator[Refusal]:
        return section_bounds(section, name, path, system, atmosphere)

    for name in ("room", "place", "supply", "original", "fan", "lines", "limits", "targets"):
        section = getattr(file, name, None)
        if section is not None:
            yield from bounds(section, name, name)
    for name, key in (("room", "humidity"), ("original", "rating_humidity")):
        section = getattr(file, name, None)
        if section is not None:
            yield from humidity_bounds(getattr(section, key), (name, key))
    for name in ("evaporator", "condenser"):
        coil = getattr(file, name, None)
        if coil is not None:
            yield from bounds(coil, "coil", name)
            yield from _coil(coil, (name,))
            yield from _circuiting(coil, (name,), getattr(file, "coils", None))
    for n, compressor in entries(file, "compressor"):
        path: Path = ("compressor", n)
        yield from bounds(compressor, "compressor", *path)
        if compressor.rating is not None:
            yield from bounds(compressor.rating, "rating", *path, "rating")
        if compressor.map is not None:
            yield from bounds(compressor.map, "map", *path, "map")
        yield from pumping(compressor, path)
    for n, run in entries(file, "ran_well"):
        yield from bounds(run, "ran_well", "ran_well", n)
        yield from humidity_bounds(run.room_humidity, ("ran_well", n, "room_humidity"))
    original = getattr(file, "original", None)
    for name in ("compressor", "capillary"):
        part = getattr(original, name, None)
        if part is not None:
            yield from bounds(part, name, "original", name)
            for inner in ("rating", "map"):
                deeper = getattr(part, inner, None)
                if deeper is not None:
                    yield from bounds(deeper, inner, "original", name, inner)
    exchanger = file.lines.exchanger_length
    soldered = exchanger.value if exchanger is not None else 0.0
    for n, capillary in entries(file, "capillary"):
        yield from bounds(capillary, "capillary", "capillary", n)
        yield from _capillary(capillary, ("capillary", n), soldered)
    yield from _limits(file.limits)
    yield from _place(file.place)
    yield from _twins(file)

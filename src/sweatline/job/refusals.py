"""What cannot be, however well it is written: parts that do not fit into each other.

Each refusal names the key to look at, what is wrong there, what was read and what would do.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Mapping
from typing import Any, Final

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.job import defaults
from sweatline.job.defaults import atmospheric_pressure
from sweatline.job.gas_test import bore_by_gas
from sweatline.job.keys import keys_of
from sweatline.job.mistakes import Path, Refusal
from sweatline.job.model import RanWell
from sweatline.parts.circuiting import circuiting_error
from sweatline.units import Parsed, Scale

_APART: Final = 0.15  # by which two bores of one tube may differ
_ROWS: Final = "ABCDEFGHIJKL"
_ORDER: Final = {
    "less than": operator.lt,
    "at most": operator.le,
    "at least": operator.ge,
    "more than": operator.gt,
}
_LOWEST, _HIGHEST = -430.0, 5000.0  # m, altitudes at which people live


class Section:
    """One table as read: a value, None for what is missing or cannot be read.

    Parameters
    ----------
    values : mapping
        Value of each key; a section for a table, a list of sections for several.
    sound : bool
        Nothing in it was refused, so that it can be compared with the rest of the job.
    """

    __slots__ = ("sound", "values")

    def __init__(self, values: Mapping[str, Any], *, sound: bool = True) -> None:
        self.values, self.sound = values, sound

    def __getitem__(self, key: str) -> Any:
        return self.values.get(key)

    def table(self, key: str) -> Section | None:
        """Table of a name, when it can be compared with the rest."""
        found = self.values.get(key)
        return found if found is not None and found.sound else None

    def entries(self, key: str) -> list[tuple[int, Section]]:
        """Sound entries of a list of tables, each with its place in the list."""
        return [(n, one) for n, one in enumerate(self.values.get(key) or ()) if one.sound]


def refusals(file: Section, scale: Scale) -> list[Refusal]:
    """Everything in a job file that cannot be, in the order of its tables.

    Tables that could not be read are passed over; the others are still compared.
    """
    judge = _Judge(file, scale)
    judge.file_as_a_whole()
    return judge.found


class _Judge:
    """Compares the values of one file with each other."""

    def __init__(self, file: Section, scale: Scale) -> None:
        self.file, self.scale = file, scale
        self.found: list[Refusal] = []

    def refuse(self, path: Path, what: str, read: object = "", allowed: str = "") -> None:
        text = read.text if isinstance(read, Parsed) else str(read)
        self.found.append((path, JobError(what=what, read=text, allowed=allowed)))

    def order(
        self, path: Path, value: Parsed | None, bound: str, limit: Parsed | float | None, what: str
    ) -> None:
        """Refuse a value that does not stand to another, or to a length, as `bound` says."""
        if isinstance(limit, float):
            text = self.scale.show(limit, "length")
            limit = Parsed(value=limit, sd=None, text=text, unit="")
        if value is not None and limit is not None and not _ORDER[bound](value.value, limit.value):
            self.refuse(path, what, value, f"{bound} {limit.text}")

    def a_length(self) -> str:
        """A capillary's length as a person writes it."""
        return "37 in" if self.scale.system == "US" else "0.95 m"

    def file_as_a_whole(self) -> None:
        file = self.file
        for name in ("evaporator", "condenser"):
            coil = file.table(name)
            if coil is not None:
                self.coil(coil, (name,))
                self.circuiting(coil, (name,))
        for n, compressor in file.entries("compressor"):
            self.pumping(compressor, ("compressor", n))
        for n, capillary in file.entries("capillary"):
            self.capillary(capillary, ("capillary", n))
            self.gas_test(capillary, ("capillary", n))
        limits, place = file.table("limits"), file.table("place")
        if limits is not None:
            self.limits(limits)
        if place is not None:
            self.place(place)
        self.twins()
        for n, run in file.entries("ran_well"):
            self.ran_well(run, ("ran_well", n))
        original = file.table("original")
        if original is not None:
            self.original(original)
            self.original_compressor(original)
            self.original_capillary(original)

    def coil(self, coil: Section, path: Path) -> None:
        diameter, wall, bore = coil["tube_outer_diameter"], coil["tube_wall"], coil["tube_bore"]
        what = "the wall is half the tube's diameter or more: no bore is left"
        self.order((*path, "tube_wall"), wall, "less than", 0.5 * diameter.value, what)
        what = "the bore is not smaller than its tube"
        self.order((*path, "tube_bore"), bore, "less than", diameter, what)
        if bore is not None and wall is not None:
            difference = 0.5 * (diameter.value - bore.value) - wall.value
            if abs(difference) > 0.1e-3:
                self.refuse(
                    (*path, "tube_wall"),
                    "wall, bore and outer diameter do not belong to one tube",
                    wall,
                    "write the wall or the bore, not both",
                )
        what = "the tubes would overlap: this pitch is not above the tube's diameter"
        for key in ("transverse_pitch", "longitudinal_pitch"):
            if key == "transverse_pitch" or coil["rows"] > 1:
                self.order((*path, key), coil[key], "more than", diameter, what)
        fin, pitch = coil["fin_thickness"], coil["fin_pitch"]
        what = "the fins are as thick as their pitch: no air gets through"
        self.order((*path, "fin_thickness"), fin, "less than", pitch.value, what)
        if pitch.value >= coil["finned_length"].value:
            self.refuse((*path, "fin_pitch"), "the finned length holds no two fins", pitch)
        tubes, circuits = coil["rows"] * coil["tubes_per_row"], coil["circuits"]
        if circuits is not None and circuits > tubes:
            self.refuse(
                (*path, "circuits"),
                f"more circuits than the {tubes} tubes of this coil",
                circuits,
                f"1 to {tubes}",
            )

    def circuiting(self, coil: Section, path: Path) -> None:
        listed, circuits, across = coil["circuiting"], coil["circuits"], coil["tubes_per_row"]
        if listed is not None:
            wrong = circuiting_error(listed, coil["rows"], across)
            if wrong:
                self.refuse(
                    (*path, "circuiting"),
                    wrong,
                    "",
                    f"every tube once: rows A to {_ROWS[coil['rows'] - 1]}, A where the air "
                    f"enters, tubes 1 to {across} from the top",
                )
            if coil["path"] is not None:
                self.refuse(
                    (*path, "path"),
                    "the way of the refrigerant is given twice: by path and by circuiting",
                    coil["path"],
                    "write path or circuiting, not both",
                )
            if circuits is not None and circuits != len(listed):
                self.refuse(
                    (*path, "circuits"),
                    f"circuiting lists another number of circuits: {len(listed)}",
                    circuits,
                    "leave circuits out",
                )
        zigzag = "path" if coil["path"] == "zigzag" else ""
        uneven = "air_profile" if coil["air_profile"] is not None else ""
        detail = "circuiting" if listed is not None else zigzag or uneven
        coils = self.file["coils"]
        if detail and coils == "by rows":
            self.refuse(
                (*path, detail),
                "coils marched by rows cannot follow this",
                "",
                'write coils = "tube by tube", or leave coils out',
            )
        if (detail or coils == "tube by tube") and listed is None and (circuits or 1) > across:
            self.refuse(
                (*path, "circuits"),
                "more circuits than tubes in a row: their way cannot be guessed",
                circuits,
                "list the tubes of each under circuiting",
            )

    def one_of(self, section: Section, path: Path, keys: tuple[str, str], what: str) -> None:
        """Exactly one of two keys that say the same."""
        present = [key for key in keys if section[key] is not None]
        if len(present) > 1:
            self.refuse(
                (*path, present[1]),
                f"{what} is given twice: by {' and by '.join(present)}",
                "",
                f"write {' or '.join(keys)}, not both",
            )
        elif not present:
            self.refuse(path, f"{what} is missing", "", f"write {' or '.join(keys)}")

    def rating(self, rating: Section, path: Path) -> None:
        evaporating, condensing = rating["evaporating"], rating["condensing"]
        keys = ("evaporating", "condensing", "return_gas", "superheat", "liquid", "subcooling")
        if rating["conditions"] is not None:
            # A table of points names its evaporating and condensing temperatures, both.
            for key in keys[2:] if evaporating and condensing else keys:
                if rating[key] is not None:
                    self.refuse(
                        (*path, key),
                        "a named rating condition already says this temperature",
                        rating[key],
                        "write the name or the temperatures, not both; for a point of a table "
                        "the name with evaporating and condensing",
                    )
            what = "condensing temperature is not above the evaporating temperature"
            self.order((*path, "condensing"), condensing, "more than", evaporating, what)
            return
        missing = [key for key in keys[:2] if rating[key] is None]
        if missing:
            self.refuse(
                path,
                f"a rating without its conditions means nothing: {', '.join(missing)} missing",
                "",
                'write conditions = "ASHRAE HBP" or another name, or all the temperatures',
            )
            return
        self.one_of(rating, path, ("return_gas", "superheat"), "the return gas of the rating")
        self.one_of(rating, path, ("liquid", "subcooling"), "the liquid of the rating")
        what = "condensing temperature is not above the evaporating temperature"
        self.order((*path, "condensing"), condensing, "more than", evaporating, what)
        what = "return gas is colder than the evaporating temperature"
        self.order((*path, "return_gas"), rating["return_gas"], "at least", evaporating, what)
        what = "liquid is hotter than the condensing temperature"
        self.order((*path, "liquid"), rating["liquid"], "at most", condensing, what)

    def map(self, section: Section, path: Path) -> None:
        self.one_of(section, path, ("return_gas", "superheat"), "the return gas of the map")
        for key in ("capacity", "power"):
            if not any(section[key]):
                self.refuse((*path, key), "all ten coefficients are zero")
        coldest = section["evaporating_range"][0]
        if coldest.value >= section["condensing_range"][1].value:
            self.refuse(
                (*path, "evaporating_range"),
                "the map evaporates above where it condenses",
                coldest,
            )

    def pumping(self, compressor: Section, path: Path) -> None:
        """What keeps the flow of a compressor from being calculated."""
        rating, map_ = compressor["rating"], compressor["map"]
        if compressor["displacement"] is None and not rating and map_ is None:
            self.plate(compressor, path)
        for n, one in enumerate(rating or ()):
            here = (*path, "rating") if len(rating) == 1 else (*path, "rating", n)
            self.rating(one, here)
            if one["refrigerant"] != rating[0]["refrigerant"]:
                self.refuse(
                    (*here, "refrigerant"),
                    "one compressor's rating points are for one refrigerant",
                    one["refrigerant"],
                    f"{rating[0]['refrigerant']}; leave the others out",
                )
        if map_ is not None:
            self.map(map_, (*path, "map"))

    def plate(self, compressor: Section, path: Path) -> None:
        """What keeps the size of a compressor from being worked out from its plate."""
        amps = compressor["rated_current"] or compressor["locked_rotor_current"]
        watts = compressor["rated_power"] or compressor["motor_size"]
        wanted = {
            "rated_power (or rated_current with rated_voltage, or motor_size)": watts
            or (amps and compressor["rated_voltage"]),
            "refrigerant": compressor["refrigerant"],
            "application (LBP, MBP or HBP)": compressor["application"] not in (None, "unknown"),
        }
        missing = [key for key, known in wanted.items() if not known]
        if missing:
            self.refuse(
                path,
                f"{compressor['name'] or 'original'}: nothing says how much this compressor pumps",
                "",
                "write its displacement, or a [compressor.rating], or a [compressor.map]; or, "
                f"less well known, what its plate says: {', '.join(missing)}",
            )

    def capillary(self, capillary: Section, path: Path) -> None:
        lines = self.file.table("lines")
        soldered = lines["exchanger_length"] if lines is not None else None
        length, rough = capillary["length"], capillary["roughness"]
        if capillary["fitted"] and length is None:
            self.refuse(
                path,
                f"{capillary['name']}: a fitted capillary needs its length",
                "",
                f'write length = "{self.a_length()}", or fitted = false for tube that can be cut',
            )
        if rough is not None and rough.value > 0.05 * capillary["bore"].value:
            self.refuse(
                (*path, "roughness"),
                "rougher than a twentieth of the bore",
                rough,
                f"drawn copper is about {self.scale.show(0.75e-6, 'roughness')}",
            )
        if capillary["fitted"] and length and soldered and soldered.value > length.value:
            self.refuse(
                (*path, "length"),
                "shorter than the part of it said to be soldered to the suction line",
                length,
                f"at least {self.scale.show(soldered.value, 'length')}, or a shorter "
                "lines.exchanger_length",
            )

    def gas_test(self, capillary: Section, path: Path) -> None:
        flow, pressure = capillary["gas_flow"], capillary["gas_pressure"]
        length, rough = capillary["length"], capillary["roughness"]
        if flow is None and pressure is None:
            return
        for key in ("gas_flow", "gas_pressure", "length"):
            if capillary[key] is None:
                self.refuse(path, f"a test with gas needs {key} too")
                return
        bore = capillary["bore"].value
        found = bore_by_gas(
            flow.value, pressure.value, length.value,
            defaults.ROUGHNESS.value if rough is None else rough.value,
            capillary["test_gas"] or "nitrogen", atmosphere=STANDARD_ATMOSPHERE,
        )  # fmt: skip
        if abs(math.log(found / bore)) > _APART:
            self.refuse(
                (*path, "gas_flow"),
                f"so much gas passes a bore of {self.scale.show(found, 'bore')}",
                flow,
                f"{self.scale.show(bore, 'bore')} is written: one of bore, length, gas_pressure "
                "and gas_flow is wrong",
            )

    def limits(self, limits: Section) -> None:
        high, low = limits["high_side_pressure"], limits["low_side_pressure"]
        what = "the low side's limit is above the high side's"
        self.order(("limits", "low_side_pressure"), low, "at most", high, what)

    def place(self, place: Section) -> None:
        altitude, pressure = place["altitude"], place["pressure"]
        if altitude is None or pressure is None:
            return
        expected = atmospheric_pressure(min(max(altitude.value, _LOWEST), _HIGHEST))
        if not math.isclose(pressure.value, expected, rel_tol=0.06):
            about = self.scale.show(expected, "absolute pressure")
            self.refuse(
                ("place", "pressure"),
                "this barometer does not belong to this altitude",
                pressure,
                f"about {about} at {altitude.text}; a station pressure is wanted, not one "
                "reduced to sea level",
            )

    def twins(self) -> None:
        """Names that stand twice, and a second tube that is called fitted."""
        seen: set[str] = set()
        for n, name in enumerate(self.file["refrigerants"] or ()):
            if name is not None and name in seen:
                self.refuse(("refrigerants", n), f"{name} is listed twice", name)
            seen.add(name)
        for key in ("compressor", "capillary", "ran_well"):
            names: set[str] = set()
            for n, part in self.file.entries(key):
                if part["name"] is None:
                    continue
                if part["name"].casefold() in names:
                    self.refuse(
                        (key, n, "name"),
                        f"two {'readings' if key == 'ran_well' else 'parts'} of one name "
                        "cannot be told apart in the results",
                        part["name"],
                    )
                names.add(part["name"].casefold())
        fitted = [n for n, one in self.file.entries("capillary") if one["fitted"]]
        for n in fitted[1:]:
            self.refuse(("capillary", n, "fitted"), "a second capillary is called fitted")

    def ran_well(self, section: Section, path: Path) -> None:
        room = ("name", "room_temperature", "room_humidity", "charge")
        if all(section[key] is None for key in keys_of(RanWell) if key not in room):
            self.refuse(
                path,
                "a room without a reading of the machine",
                "",
                "write at least one of suction_pressure, head_pressure, power, water ...",
            )
        what = "the head gauge is not above the suction gauge"
        suction, head = section["suction_pressure"], section["head_pressure"]
        self.order((*path, "head_pressure"), head, "more than", suction, what)
        what = "the discharge tube is not hotter than the liquid tube"
        liquid, discharge = section["liquid_temperature"], section["discharge_temperature"]
        self.order((*path, "discharge_temperature"), discharge, "more than", liquid, what)

    def original(self, original: Section) -> None:
        """The machine as it ran: what its readings mean nothing without."""
        path: Path = ("original",)
        runs, own = self.file.entries("ran_well"), original["compressor"]
        if original["refrigerant"] is None and (runs or own is not None):
            self.refuse(
                path,
                "what ran in the original is not said",
                "",
                'write refrigerant = "R-22" or whatever its plate says',
            )
        if runs and own is None:
            self.refuse(
                path,
                "readings of a machine mean nothing without the compressor that ran",
                "",
                "write [original.compressor] with its displacement or rating, or only with the "
                "name of one on the bench",
            )
        fitted = any(one["fitted"] for _, one in self.file.entries("capillary"))
        if original["capillary"] is None and not fitted and (runs or own is not None):
            self.refuse(
                path,
                "the capillary that it ran with is not said",
                "",
                "write [original.capillary] with bore and length, or fitted = true in the "
                "[[capillary]] that is still in the machine",
            )

    def original_compressor(self, original: Section) -> None:
        own, path = original["compressor"], ("original", "compressor")
        if own is None:
            return
        bench = {one["name"].casefold() for _, one in self.file.entries("compressor")}
        known = own["name"] is not None and own["name"].casefold() in bench
        described = own["displacement"] or own["rating"] or own["map"] or own["application"]
        if known and (own["kind"] is not None or described):
            self.on_the_bench("compressor", (*path, "name"), own["name"])
        elif not known and own["kind"] is None:
            self.refuse(
                path,
                "the original's compressor is neither described nor on the bench",
                own["name"] or "",
                "write its kind and its displacement, or the name of a [[compressor]]",
            )
        elif not known:
            self.pumping(own, path)

    def original_capillary(self, original: Section) -> None:
        own, path = original["capillary"], ("original", "capillary")
        if own is None:
            return
        stock = {one["name"].casefold(): one for _, one in self.file.entries("capillary")}
        twin = stock.get((own["name"] or "").casefold())
        if own["bore"] is None and twin is None:
            self.refuse(
                path,
                "the original's capillary is neither described nor on the bench",
                own["name"] or "",
                "write its bore and length, or the name of a [[capillary]]",
            )
        elif own["bore"] is not None and twin is not None:
            self.on_the_bench("capillary", (*path, "name"), own["name"])
        elif (own["length"] if own["bore"] is not None else twin and twin["length"]) is None:
            allowed = f'write for example length = "{self.a_length()}"'
            self.refuse(path, "its length is missing", "", allowed)
        elif own["bore"] is not None:
            self.gas_test(own, path)

    def on_the_bench(self, part: str, path: Path, name: str) -> None:
        self.refuse(
            path,
            f"a {part} of this name is on the bench already",
            name,
            "write the name alone when it is the same one, or another name",
        )

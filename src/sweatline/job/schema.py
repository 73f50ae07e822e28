"""Sections and keys of a job file: the only place where pydantic is used.

The library checks the shape: which keys may stand where, which must. What a value means is
checked by the small rules below, so that every refusal is one sentence in the trade's words.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    ValidationInfo,
    field_validator,
)
from pydantic_core import CoreSchema, core_schema

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError, UnitError
from sweatline.job.names import canonical
from sweatline.parts.circuiting import Circuiting, Path
from sweatline.units import EXAMPLES, Kind, Parsed, one_line, parse

__all__ = [
    "LISTS",
    "CapillarySection",
    "Choice",
    "CoilSection",
    "CompressorSection",
    "Count",
    "FanSection",
    "JobFile",
    "LimitsSection",
    "LinesSection",
    "MapSection",
    "Name",
    "OriginalCapillarySection",
    "OriginalCompressorSection",
    "OriginalSection",
    "PlaceSection",
    "Quantity",
    "RanWellSection",
    "RatingSection",
    "RoomSection",
    "SupplySection",
    "TargetsSection",
    "described",
    "needs_tubes",
]

_UNKNOWN_WORDS: Final = frozenset({"", "?", "-", "unknown", "n/a", "na", "none", "tbd"})


def described(value: object) -> str:
    """What was read, on one line and short enough for a sentence."""
    if isinstance(value, str):
        text = one_line(value[:200])
        return text if len(text) <= 40 else text[:37] + "..."
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, int) and abs(value) > 10**18:
        return "a very large number"
    return str(value)[:40]


class _Rule:
    """How one value is read; stands in the annotation of its key."""

    def read(self, value: object, atmosphere: float) -> object:
        raise NotImplementedError

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        def validate(value: object, info: ValidationInfo[Any]) -> object:
            context = info.context or {}
            return self.read(value, float(context.get("atmosphere", STANDARD_ATMOSPHERE)))

        return core_schema.with_info_plain_validator_function(validate)


@dataclass(frozen=True)
class Quantity(_Rule):
    """A physical quantity written with its unit, and the tool it was taken with."""

    kind: Kind
    tool: str = ""

    def read(self, value: object, atmosphere: float) -> Parsed:
        """Quantity of this kind."""
        if isinstance(value, str):
            if value.strip().casefold() in _UNKNOWN_WORDS:
                raise UnitError(
                    what=f"nothing that can be read as a {self.kind}",
                    read=value,
                    allowed="leave the line out when it was not measured",
                )
            return parse(value, self.kind, atmosphere=atmosphere)
        if isinstance(value, int | float) and not isinstance(value, bool):
            if self.kind == "ratio" and math.isfinite(value) and abs(value) < 1e18:
                return Parsed(value=float(value), sd=None, text=str(value), unit="")
            raise UnitError(
                what="a bare number has no unit",
                read=described(value),
                allowed=f"write it in quotation marks with its unit, for example "
                f'"{EXAMPLES[self.kind].split(",")[0]}"',
            )
        raise JobError(
            what=f"a {self.kind} is wanted",
            read=described(value),
            allowed=f'write for example "{EXAMPLES[self.kind].split(",")[0]}"',
        )


@dataclass(frozen=True)
class Count(_Rule):
    """A whole number between two bounds."""

    low: int
    high: int

    def read(self, value: object, atmosphere: float) -> int:
        """Whole number within the bounds."""
        if isinstance(value, str) and value.strip().isascii() and value.strip().isdigit():
            value = int(value.strip()[:10])
        if isinstance(value, bool) or not isinstance(value, int):
            raise JobError(
                what="a whole number is wanted",
                read=described(value),
                allowed=f"{self.low} to {self.high}, without unit",
            )
        if not self.low <= value <= self.high:
            raise JobError(
                what="outside what such a part can have",
                read=described(value),
                allowed=f"{self.low} to {self.high}",
            )
        return value


@dataclass(frozen=True)
class Choice(_Rule):
    """One word out of a few; `also` maps other spellings to them."""

    words: tuple[str, ...]
    also: tuple[tuple[str, str], ...] = ()

    def read(self, value: object, atmosphere: float) -> str:
        """Word as the project spells it."""
        if isinstance(value, str):
            key = value.strip().casefold()
            known = {w.casefold(): w for w in self.words} | dict(self.also)
            if key in known:
                return known[key]
            import difflib  # only a mistake pays for it

            near = difflib.get_close_matches(key, list(known), n=1)
            hint = f"nearest: {known[near[0]]}; " if near else ""
        else:
            hint = ""
        raise JobError(
            what="not one of the words that can stand here",
            read=described(value),
            allowed=f"{hint}allowed: {', '.join(self.words)}",
        )


@dataclass(frozen=True)
class Name(_Rule):
    """Free text: a title or the name of a part."""

    longest: int = 80

    def read(self, value: object, atmosphere: float) -> str:
        """Text on one line."""
        if isinstance(value, str):
            text = one_line(value)
            if 0 < len(text) <= self.longest:
                return text
        raise JobError(
            what="a short text is wanted",
            read=described(value),
            allowed=f"1 to {self.longest} characters in quotation marks",
        )


@dataclass(frozen=True)
class RefrigerantName(_Rule):
    """A refrigerant by any of its usual names."""

    def read(self, value: object, atmosphere: float) -> str:
        """Name as the project spells it."""
        if isinstance(value, str):
            return canonical(value)
        raise JobError(
            what="the name of a refrigerant is wanted",
            read=described(value),
            allowed='write for example "R-134a"',
        )


@dataclass(frozen=True)
class Coefficients(_Rule):
    """Ten coefficients of a compressor map."""

    def read(self, value: object, atmosphere: float) -> tuple[float, ...]:
        """Ten finite numbers."""
        if not isinstance(value, list) or len(value) != 10:
            read = f"{len(value)} numbers" if isinstance(value, list) else described(value)
            raise JobError(
                what="a map has ten coefficients in the order of AHRI 540", read=read,
                allowed="write [C1, C2, ... C10]",
            )  # fmt: skip
        out = []
        for item in value:
            number = isinstance(item, int | float) and not isinstance(item, bool)
            if not number or not abs(item) < 1e30:
                raise JobError(what="a coefficient is a plain number", read=described(item))
            out.append(float(item))
        return tuple(out)


@dataclass(frozen=True)
class Range(_Rule):
    """Lowest and highest temperature of a map."""

    def read(self, value: object, atmosphere: float) -> tuple[Parsed, Parsed]:
        """Two temperatures, the lower first."""
        if not isinstance(value, list) or len(value) != 2:
            raise JobError(
                what="a range has a lowest and a highest temperature",
                read=described(value),
                allowed='write for example ["-30 °C", "-5 °C"]',
            )
        quantity = Quantity("temperature")
        low, high = (quantity.read(v, atmosphere) for v in value)
        if low.value >= high.value:
            raise JobError(
                what="the lowest temperature comes first", read=f"{low.text}, {high.text}"
            )
        return low, high


@dataclass(frozen=True)
class Tubes(_Rule):
    """Circuits as lists of tubes in the order of the refrigerant, as "B1-B10 A10-A1"."""

    def read(self, value: object, atmosphere: float) -> Circuiting:
        """Paths of (row, tube), counted from zero."""
        if isinstance(value, str):
            value = [value]
        if not isinstance(value, list) or not value or not all(isinstance(v, str) for v in value):
            raise JobError(
                what="the tubes of each circuit are wanted, in the order of the refrigerant",
                read=described(value),
                allowed='write for example ["B1-B5 A5-A1", "B6-B10 A10-A6"]',
            )
        return tuple(self._path(text) for text in value)

    def _path(self, text: str) -> Path:
        found: list[tuple[int, int]] = []
        for word in text.replace(",", " ").split():
            ends = re.fullmatch(r"([A-L])([1-9]\d?)(?:-([A-L])([1-9]\d?))?", word.upper())
            if ends is None or ends[3] not in (None, ends[1]):
                raise JobError(
                    what="neither a tube nor a run of tubes in one row",
                    read=described(word),
                    allowed="row letter, A where the air enters, and number from the top: "
                    '"A3", or "A3-A7" for a run',
                )
            row, first = "ABCDEFGHIJKL".index(ends[1]), int(ends[2]) - 1
            last = int(ends[4]) - 1 if ends[4] else first
            step = 1 if last >= first else -1
            found += [(row, tube) for tube in range(first, last + step, step)]
        if not found:
            raise JobError(what="a circuit without a tube", read=described(text))
        return tuple(found)


@dataclass(frozen=True)
class Speeds(_Rule):
    """Relative air speed over the face of a coil, from the top down."""

    def read(self, value: object, atmosphere: float) -> tuple[float, ...]:
        """Two or more positive numbers."""
        numbers = isinstance(value, list) and all(
            isinstance(v, int | float) and not isinstance(v, bool) for v in value
        )
        if not numbers or not isinstance(value, list) or not 2 <= len(value) <= 80:
            raise JobError(
                what="air speeds over the face are wanted, from the top down",
                read=described(value),
                allowed="2 to 80 plain numbers in any unit, as [1.0, 1.3, 1.1]",
            )
        if not (min(value) > 0.0 and max(value) <= 20.0 * min(value)):
            raise JobError(
                what="every speed must be above zero and the fastest at most twenty times the "
                "slowest",
                read=", ".join(f"{v:g}" for v in value[:8]),
            )
        return tuple(float(v) for v in value)


@dataclass(frozen=True)
class Fitted(_Rule):
    """True or false."""

    def read(self, value: object, atmosphere: float) -> bool:
        """Truth value."""
        if isinstance(value, bool):
            return value
        words = {"true": True, "yes": True, "false": False, "no": False}
        if isinstance(value, str) and value.strip().casefold() in words:
            return words[value.strip().casefold()]
        raise JobError(what="true or false is wanted", read=described(value))


_Calliper = Annotated[Parsed, Quantity("length", "calliper")]
_OptCalliper = Annotated[Parsed | None, Quantity("length", "calliper")]
_OptMicrometer = Annotated[Parsed | None, Quantity("length", "micrometer")]
_Tape = Annotated[Parsed, Quantity("length", "tape")]
_OptTape = Annotated[Parsed | None, Quantity("length", "tape")]
_Text = Annotated[str | None, Name()]
_Refrigerant = Annotated[str, RefrigerantName()]
_OptRefrigerant = Annotated[str | None, RefrigerantName()]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class RoomSection(_Section):
    """[room]"""

    temperature: Annotated[Parsed, Quantity("temperature", "thermometer")]
    humidity: Annotated[Parsed, Quantity("relative humidity", "hygrometer")]
    floor_area: Annotated[Parsed | None, Quantity("area", "room tape")] = None
    volume: Annotated[Parsed | None, Quantity("room volume", "room tape")] = None


class PlaceSection(_Section):
    """[place]"""

    altitude: Annotated[Parsed | None, Quantity("altitude")] = None
    pressure: Annotated[Parsed | None, Quantity("absolute pressure")] = None
    installation: Annotated[
        str | None,
        Choice(("floor", "window", "wall", "ceiling"), (("portable", "floor"), ("free", "floor"))),
    ] = None
    country: _Text = None
    flammable_conversion: Annotated[str | None, Choice(("refused", "accepted"), ())] = None


class SupplySection(_Section):
    """[supply]"""

    voltage: Annotated[Parsed, Quantity("voltage", "mains")]
    frequency: Annotated[Parsed, Quantity("frequency", "mains frequency")]


class _OriginalPlate(_Section):
    """Keys of [original] that are values."""

    refrigerant: _OptRefrigerant = None
    charge: Annotated[Parsed | None, Quantity("mass", "plate charge")] = None
    power: Annotated[Parsed | None, Quantity("power", "machine plate")] = None
    current: Annotated[Parsed | None, Quantity("current", "machine plate")] = None
    water_removal: Annotated[Parsed | None, Quantity("water removal", "machine plate")] = None
    rating_temperature: Annotated[Parsed | None, Quantity("temperature", "plate condition")] = None
    rating_humidity: Annotated[Parsed | None, Quantity("relative humidity", "plate condition")] = (
        None
    )


class CoilSection(_Section):
    """[evaporator] and [condenser]"""

    tube_outer_diameter: _Calliper
    tube_wall: _OptMicrometer = None
    tube_bore: _OptCalliper = None  # the other way to measure the wall
    rows: Annotated[int, Count(1, 12)]
    tubes_per_row: Annotated[int, Count(1, 80)]
    transverse_pitch: _Calliper
    longitudinal_pitch: _Calliper
    finned_length: _Tape
    fin_pitch: Annotated[Parsed, Quantity("fin pitch", "fin count")]
    fin_thickness: _OptMicrometer = None
    circuits: Annotated[int | None, Count(1, 40)] = None
    path: Annotated[str | None, Choice(("counter", "parallel", "zigzag"))] = None
    circuiting: Annotated[Circuiting | None, Tubes()] = None
    air_profile: Annotated[tuple[float, ...] | None, Speeds()] = None
    fouling: Annotated[Parsed | None, Quantity("ratio", "judgement")] = None


def needs_tubes(coil: CoilSection) -> str:
    """Key of a coil that only a march tube by tube can follow; empty when there is none."""
    if coil.circuiting is not None:
        return "circuiting"
    if coil.path == "zigzag":
        return "path"
    return "air_profile" if coil.air_profile is not None else ""


class FanSection(_Section):
    """[fan]"""

    airflow: Annotated[Parsed | None, Quantity("volume flow", "anemometer")] = None
    power: Annotated[Parsed | None, Quantity("power", "wattmeter")] = None
    position: Annotated[str | None, Choice(("before", "between", "after"))] = None
    shut_off_pressure: Annotated[Parsed | None, Quantity("pressure difference", "plate")] = None


class RatingSection(_Section):
    """[compressor.rating]"""

    refrigerant: _Refrigerant
    capacity: Annotated[Parsed, Quantity("cooling capacity", "rating")]
    power: Annotated[Parsed | None, Quantity("power", "rating")] = None
    conditions: _Text = None
    evaporating: Annotated[Parsed | None, Quantity("temperature")] = None
    condensing: Annotated[Parsed | None, Quantity("temperature")] = None
    return_gas: Annotated[Parsed | None, Quantity("temperature")] = None
    superheat: Annotated[Parsed | None, Quantity("temperature difference")] = None
    liquid: Annotated[Parsed | None, Quantity("temperature")] = None
    subcooling: Annotated[Parsed | None, Quantity("temperature difference")] = None


class MapSection(_Section):
    """[compressor.map]"""

    refrigerant: _Refrigerant
    coefficients: Annotated[str, Choice(("W, °C", "BTU/h, °F"), (("w, c", "W, °C"),))]
    capacity: Annotated[tuple[float, ...], Coefficients()]
    power: Annotated[tuple[float, ...], Coefficients()]
    return_gas: Annotated[Parsed | None, Quantity("temperature")] = None
    superheat: Annotated[Parsed | None, Quantity("temperature difference")] = None
    subcooling: Annotated[Parsed, Quantity("temperature difference")]
    evaporating_range: Annotated[tuple[Parsed, Parsed], Range()]
    condensing_range: Annotated[tuple[Parsed, Parsed], Range()]
    frequency: Annotated[Parsed, Quantity("frequency")]


_COMPRESSOR_KIND: Final = Choice(
    ("reciprocating", "rotary"),
    (("piston", "reciprocating"), ("recip", "reciprocating"), ("rolling piston", "rotary")),
)


class OriginalCompressorSection(_Section):
    """[original.compressor]: described like one on the bench, or named as one of them"""

    name: _Text = None
    kind: Annotated[str | None, _COMPRESSOR_KIND] = None
    displacement: Annotated[Parsed | None, Quantity("volume", "displacement")] = None
    refrigerant: _OptRefrigerant = None
    rated_frequency: Annotated[Parsed | None, Quantity("frequency")] = None
    rated_voltage: Annotated[Parsed | None, Quantity("voltage")] = None
    rated_power: Annotated[Parsed | None, Quantity("power", "plate")] = None
    rated_current: Annotated[Parsed | None, Quantity("current", "plate")] = None
    oil: Annotated[
        str | None,
        Choice(
            ("MO", "AB", "POE", "PAG", "PVE", "unknown"),
            (("mineral", "MO"), ("mineral oil", "MO"), ("alkylbenzene", "AB"), ("ester", "POE")),
        ),
    ] = None
    oil_volume: Annotated[Parsed | None, Quantity("volume", "measuring cup")] = None
    shell_volume: Annotated[Parsed | None, Quantity("volume", "estimate")] = None
    starting_torque: Annotated[
        str | None,
        Choice(("low", "high", "unknown"), (("lst", "low"), ("hst", "high"))),
    ] = None
    rating: RatingSection | None = None
    map: MapSection | None = None


class CompressorSection(OriginalCompressorSection):
    """[[compressor]]"""

    name: Annotated[str, Name()]
    kind: Annotated[str, _COMPRESSOR_KIND]


class OriginalCapillarySection(_Section):
    """[original.capillary]: described like one on the bench, or named as one of them"""

    name: _Text = None
    bore: Annotated[Parsed | None, Quantity("bore", "bore gauge")] = None
    length: _OptTape = None
    roughness: Annotated[Parsed | None, Quantity("roughness", "estimate")] = None


class OriginalSection(_OriginalPlate):
    """[original]"""

    compressor: OriginalCompressorSection | None = None
    capillary: OriginalCapillarySection | None = None


class RanWellSection(_Section):
    """[[ran_well]]: what the machine of [original] showed when it ran well"""

    name: _Text = None
    room_temperature: Annotated[Parsed, Quantity("temperature", "thermometer")]
    room_humidity: Annotated[Parsed, Quantity("relative humidity", "hygrometer")]
    charge: Annotated[Parsed | None, Quantity("mass", "scale")] = None
    suction_pressure: Annotated[Parsed | None, Quantity("pressure", "gauge")] = None
    head_pressure: Annotated[Parsed | None, Quantity("pressure", "gauge")] = None
    suction_temperature: Annotated[Parsed | None, Quantity("temperature", "clamp")] = None
    discharge_temperature: Annotated[Parsed | None, Quantity("temperature", "clamp, hot")] = None
    liquid_temperature: Annotated[Parsed | None, Quantity("temperature", "clamp")] = None
    air_out_temperature: Annotated[Parsed | None, Quantity("temperature", "air out")] = None
    power: Annotated[Parsed | None, Quantity("power", "plug meter")] = None
    current: Annotated[Parsed | None, Quantity("current", "clamp meter")] = None
    water: Annotated[Parsed | None, Quantity("water removal", "bucket")] = None


class CapillarySection(_Section):
    """[[capillary]]"""

    name: Annotated[str, Name()]
    bore: Annotated[Parsed, Quantity("bore", "bore gauge")]
    length: _OptTape = None
    fitted: Annotated[bool, Fitted()] = False
    roughness: Annotated[Parsed | None, Quantity("roughness", "estimate")] = None


class LinesSection(_Section):
    """[lines]"""

    suction_bore: _OptCalliper = None
    suction_length: _OptTape = None
    discharge_bore: _OptCalliper = None
    discharge_length: _OptTape = None
    liquid_bore: _OptCalliper = None
    liquid_length: _OptTape = None
    drier_volume: Annotated[Parsed | None, Quantity("volume", "estimate")] = None
    accumulator_volume: Annotated[Parsed | None, Quantity("volume", "estimate")] = None
    exchanger_length: _OptTape = None


class LimitsSection(_Section):
    """[limits]"""

    high_side_pressure: Annotated[Parsed | None, Quantity("pressure", "plate limit")] = None
    low_side_pressure: Annotated[Parsed | None, Quantity("pressure", "plate limit")] = None
    discharge_temperature: Annotated[Parsed | None, Quantity("temperature", "plate limit")] = None


class TargetsSection(_Section):
    """[targets]"""

    superheat: Annotated[Parsed | None, Quantity("temperature difference")] = None
    subcooling: Annotated[Parsed | None, Quantity("temperature difference")] = None


LISTS: Final = ("compressor", "capillary", "ran_well")  # sections that can stand several times


class JobFile(_Section):
    """A whole job file."""

    title: _Text = None
    kind: Annotated[str, Choice(("dehumidifier",))]
    units: Annotated[str, Choice(("US", "SI"), (("metric", "SI"), ("imperial", "US")))]
    coils: Annotated[str | None, Choice(("by rows", "tube by tube"))] = None
    refrigerants: list[_Refrigerant] = Field(min_length=1, max_length=40)
    room: RoomSection
    place: PlaceSection = Field(default_factory=PlaceSection)
    supply: SupplySection
    original: OriginalSection = Field(default_factory=OriginalSection)
    evaporator: CoilSection
    condenser: CoilSection
    fan: FanSection = Field(default_factory=FanSection)
    compressor: list[CompressorSection] = Field(min_length=1, max_length=200)
    capillary: list[CapillarySection] = Field(min_length=1, max_length=200)
    lines: LinesSection = Field(default_factory=LinesSection)
    limits: LimitsSection = Field(default_factory=LimitsSection)
    targets: TargetsSection = Field(default_factory=TargetsSection)
    ran_well: list[RanWellSection] = Field(default_factory=list, max_length=60)

    @field_validator(*LISTS, mode="before")
    @classmethod
    def _one_is_a_list(cls, value: object) -> object:
        """Let [compressor] stand where [[compressor]] is meant and there is only one."""
        return [value] if isinstance(value, dict) else value

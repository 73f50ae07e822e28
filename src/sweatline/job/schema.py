"""Sections and keys of a job file, as pydantic checks them.

The library checks the shape: which keys may stand where, which must. What a value means is
checked by the small rules of :mod:`sweatline.job.rules`, so that every refusal is one sentence in
the trade's words.
"""

from typing import Annotated, Final

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    field_validator,
)

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
from sweatline.parts.circuiting import Circuiting
from sweatline.units import Parsed

__all__ = [
    "LISTS",
    "CapillarySection",
    "CoilSection",
    "CompressorSection",
    "FanSection",
    "JobFile",
    "LimitsSection",
    "LinesSection",
    "MapSection",
    "OriginalCapillarySection",
    "OriginalCompressorSection",
    "OriginalSection",
    "PlaceSection",
    "RanWellSection",
    "RatingSection",
    "RoomSection",
    "SupplySection",
    "TargetsSection",
    "needs_tubes",
]

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

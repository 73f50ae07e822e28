"""What a person has on the bench, typed and in SI: the result of reading a job file.

Every physical number is a :class:`~sweatline.uncertainty.measured.Measured`: its value, its
standard uncertainty and whether it was measured, read off a plate, inferred, or assumed by
default.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from sweatline.parts.circuiting import Circuiting
from sweatline.uncertainty.measured import Learned, Measured

__all__ = [
    "CapillaryStock",
    "Coil",
    "Compressor",
    "CompressorMap",
    "Fan",
    "Job",
    "Limits",
    "Lines",
    "Original",
    "Place",
    "RanWell",
    "Rating",
    "Room",
    "Supply",
    "Targets",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Air that the machine breathes, and the room around it."""

    temperature: Measured  # K
    relative_humidity: Measured  # 0..1
    floor_area: Measured | None = None  # m2, for the flammable charge limit
    volume: Measured | None = None  # m3, for the concentration limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the machine stands."""

    altitude: float  # m
    atmospheric_pressure: float  # Pa
    installation: Literal["floor", "window", "wall", "ceiling"]
    country: str  # as written; decides only which rules are pointed at
    # Whether the person takes on a conversion to a flammable refrigerant and its duties.
    flammable_conversion: Literal["refused", "accepted"] = "refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """Mains supply at the machine."""

    voltage: Measured  # V
    frequency: Measured  # Hz


@dataclass(frozen=True, slots=True, kw_only=True)
class RanWell:
    """What the machine of the plate showed at one time when it ran well."""

    name: str
    temperature: Measured  # K, of the room
    relative_humidity: Measured  # 0..1, of the room
    charge: Measured | None = None  # kg, weighed in then
    suction_pressure: Measured | None = None  # Pa
    head_pressure: Measured | None = None  # Pa
    suction_temperature: Measured | None = None  # K, on the tube at the compressor
    discharge_temperature: Measured | None = None  # K, on the tube at the compressor
    liquid_temperature: Measured | None = None  # K, on the tube behind the condenser
    air_out_temperature: Measured | None = None  # K
    power: Measured | None = None  # W, fan included
    current: Measured | None = None  # A, fan included
    water: Measured | None = None  # kg/s


@dataclass(frozen=True, slots=True, kw_only=True)
class Original:
    """What the plate of the machine said before it died. Anything may be missing."""

    refrigerant: str | None = None
    charge: Measured | None = None  # kg
    power: Measured | None = None  # W
    current: Measured | None = None  # A
    water_removal: Measured | None = None  # kg/s of condensate at the rating condition
    rating_temperature: Measured | None = None  # K
    rating_relative_humidity: Measured | None = None  # 0..1
    compressor: Compressor | None = None  # the one that ran, perhaps still on the bench
    capillary: CapillaryStock | None = None  # the one it ran with


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """A finned-tube coil as measured with calliper and tape."""

    tube_outer_diameter: Measured  # m
    tube_wall: Measured  # m
    rows: int  # tubes deep in the direction of the air
    tubes_per_row: int
    transverse_pitch: Measured  # m, between tubes of one row
    longitudinal_pitch: Measured  # m, between rows
    finned_length: Measured  # m
    fin_pitch: Measured  # m
    fin_thickness: Measured  # m
    circuits: int
    # First row met by the refrigerant: air outlet or inlet; across the rows; or as in `circuiting`.
    path: Literal["counter", "parallel", "zigzag", "as listed"]
    fouling: Measured  # multiplier on the air-side coefficient, 1 when clean
    circuiting: Circuiting | None = None  # tubes of each circuit, when somebody has listed them
    air_profile: tuple[float, ...] = ()  # relative speeds from the top down; empty: even


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """The fan that draws room air through both coils."""

    volume_flow: Measured  # m3/s at the inlet
    power: Measured  # W
    position: Literal["before", "between", "after"]  # of the coils, in the direction of the air
    shut_off_pressure: Measured | None = None  # Pa, static, with no air moving


@dataclass(frozen=True, slots=True, kw_only=True)
class Rating:
    """One published rating point of a compressor, with its convention."""

    refrigerant: str
    capacity: Measured  # W
    evaporating_temperature: float  # K, dew
    condensing_temperature: float  # K, dew
    suction_temperature: float  # K, return gas
    liquid_temperature: float  # K, entering the expansion device
    convention: str  # name of the rating condition, or "as written"
    power: Measured | None = None  # W


@dataclass(frozen=True, slots=True, kw_only=True)
class CompressorMap:
    """Ten-term maps of capacity and power in the order of AHRI 540, and their convention."""

    refrigerant: str
    capacity: tuple[float, ...]  # W from dew temperatures in degrees Celsius
    power: tuple[float, ...]  # W from dew temperatures in degrees Celsius
    suction_temperature: float | None  # K, return gas; None when superheat is given instead
    superheat: float | None  # K
    subcooling: float  # K
    evaporating_range: tuple[float, float]  # K
    condensing_range: tuple[float, float]  # K
    frequency: float  # Hz at which the map was made


@dataclass(frozen=True, slots=True, kw_only=True)
class Compressor:
    """A compressor on the bench. It has a displacement, a rating or a map, or several of them."""

    name: str
    kind: Literal["reciprocating", "rotary"]
    displacement: Measured | None  # m3 per revolution
    rating: Rating | None
    map: CompressorMap | None
    rated_frequency: float  # Hz, of the motor's plate
    rated_power: Measured | None  # W, plate, running
    rated_current: Measured | None  # A, plate, running
    rated_voltage: float | None  # V
    oil: str  # MO, AB, POE, PAG, PVE or unknown
    oil_volume: Measured  # m3
    shell_volume: Measured  # m3, free gas volume inside the shell
    starting_torque: Literal["low", "high", "unknown"]
    refrigerant: str | None  # the one it was made for


@dataclass(frozen=True, slots=True, kw_only=True)
class CapillaryStock:
    """A capillary tube: one already in place, or stock that can be cut."""

    name: str
    bore: Measured  # m
    length: Measured | None  # m; of a fitted tube its length, of stock what is on the shelf
    fitted: bool  # True: keep it as it is; False: may be cut to length
    roughness: Measured  # m


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Tubing between the parts, and what hangs in it."""

    suction_bore: Measured  # m
    suction_length: Measured  # m
    discharge_bore: Measured  # m
    discharge_length: Measured  # m
    liquid_bore: Measured  # m
    liquid_length: Measured  # m
    drier_volume: Measured  # m3, free volume of the drier
    accumulator_volume: Measured  # m3, 0 when there is none
    exchanger_length: Measured  # m of capillary soldered to the suction line, 0 when there is none


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What must not be exceeded."""

    high_side_pressure: Measured | None  # Pa absolute, of the weakest part on the high side
    low_side_pressure: Measured | None  # Pa absolute, of the weakest part on the low side
    discharge_temperature: Measured  # K at the compressor outlet


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """What a balanced machine is wanted to show."""

    superheat: float  # K at the evaporator outlet
    subcooling: float  # K at the condenser outlet


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Everything known about one rebuild."""

    title: str
    kind: Literal["dehumidifier"]
    unit_system: Literal["US", "SI"]
    path: str  # file it was read from
    digest: str  # sha256 of the file's bytes, hexadecimal
    room: Room
    place: Place
    supply: Supply
    original: Original
    evaporator: Coil
    condenser: Coil
    fan: Fan
    compressors: tuple[Compressor, ...]
    refrigerants: tuple[str, ...]
    capillaries: tuple[CapillaryStock, ...]
    lines: Lines
    limits: Limits
    targets: Targets
    coils: Literal["by rows", "tube by tube"] = "by rows"  # how closely coils are marched
    ran_well: tuple[RanWell, ...] = ()
    # Path of a key in the file with what was written there, and with why it was assumed.
    written: tuple[tuple[str, str], ...] = field(default=(), compare=False, repr=False)
    assumed: tuple[tuple[str, str], ...] = field(default=(), compare=False, repr=False)
    # What readings of the machine when it ran well said; None until they have been worked out.
    learned: Learned | None = field(default=None, compare=False, repr=False)

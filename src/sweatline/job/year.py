"""Keys of a job file that only the year and its cost ask for: building, climate, control, money.

Declared as in :mod:`sweatline.job.model`, which holds them. Figures of building and control are
common practice unless a source is named; the uncertainties are meant to cover what is met.

Annotations are evaluated by the reader, so this module has no postponed ones.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from sweatline.constants import ZERO_CELSIUS
from sweatline.job.keys import Assumed, Key, Known, OneOf
from sweatline.job.values import Choice, Count, Money, Price, Quantity, Text
from sweatline.uncertainty.parameter import Measured
from sweatline.units import WATER_DENSITY
from sweatline.units.kinds import DAY, HOUR

_LITRE_PER_DAY: Final = WATER_DENSITY * 1e-3 / DAY  # kg/s

BuildingKind = Literal["cellar", "crawl space", "shed", "flat", "shop"]
_KINDS: Final = ("cellar", "crawl space", "shed", "flat", "shop")


def _kind(known: Known) -> str:
    return str(known["kind"])


# Air changes: basements 0.1 to 0.5 an hour, dwellings 0.3 to 0.7; sheds and shops are leakier.
_AIR_CHANGES: Final[Mapping[str, Assumed]] = {
    "cellar": Assumed(0.25 / HOUR, 0.12 / HOUR, "cellars have 0.1 to 0.5 air changes an hour"),
    "crawl space": Assumed(0.5 / HOUR, 0.25 / HOUR, "vents shut; open ones give ten times that"),
    "shed": Assumed(0.8 / HOUR, 0.4 / HOUR, "boards and a door that does not seal"),
    "flat": Assumed(0.5 / HOUR, 0.2 / HOUR, "dwellings have 0.3 to 0.7 air changes an hour"),
    "shop": Assumed(0.6 / HOUR, 0.3 / HOUR, "a door that is opened now and then"),
}
# For each square metre of floor. Bare slabs give 1 to 5 kg a day on 100 m2, uncovered earth 40 to
# 50 kg a day under a house (householder guide, as quoted), foil a tenth of it.
_GROUND_WATER: Final[Mapping[str, Assumed]] = {
    "cellar": Assumed(0.03, 0.02, "bare slab and walls: 1 to 5 kg a day on 100 m2"),
    "crawl space": Assumed(0.15, 0.1, "earth under foil; uncovered earth gives three times that"),
    "shed": Assumed(0.02, 0.015, "slab on the ground"),
    "flat": Assumed(0.001, 0.001, "no ground under it"),
    "shop": Assumed(0.02, 0.015, "slab on the ground"),
}
FLOOR: Final[Mapping[str, float]] = {
    "cellar": 60.0, "crawl space": 90.0, "shed": 15.0, "flat": 70.0, "shop": 80.0,
}  # fmt: skip
"""Floor area where neither floor nor volume is told. [m2]"""
HEIGHT: Final[Mapping[str, float]] = {
    "cellar": 2.2, "crawl space": 0.9, "shed": 2.3, "flat": 2.5, "shop": 3.0,
}  # fmt: skip
"""From floor to ceiling. [m]"""
_HEATED: Final[Mapping[str, Assumed | None]] = {
    "cellar": None, "crawl space": None, "shed": None,
    "flat": Assumed(20.0 + ZERO_CELSIUS, 1.0, "heated as dwellings are"),
    "shop": Assumed(16.0 + ZERO_CELSIUS, 2.0, "heated as work rooms are"),
}  # fmt: skip


def _floor(known: Known) -> float:
    room = known.job["room"]
    if room.floor_area is not None:
        return float(room.floor_area.value)
    if room.volume is not None:
        return float(room.volume.value / HEIGHT[_kind(known)])
    return FLOOR[_kind(known)]


def _ground_water(known: Known) -> Assumed:
    share = _GROUND_WATER[_kind(known)]
    floor = _floor(known) / 86400.0
    return Assumed(share.value * floor, share.sd * floor, share.note)


# The declarations below are a table, one to four lines for a key.
# fmt: off
@dataclass(frozen=True, slots=True, kw_only=True)
class Building:
    """What stands round the room, and what brings water into it."""

    kind: Annotated[BuildingKind, Key(
        "what the room is; everything below is assumed by it",
        Choice(_KINDS, (("basement", "cellar"), ("crawlspace", "crawl space"))), "kind of room",
        default=Assumed("cellar", note="not stated"))]
    air_changes: Annotated[Measured, Key(
        "how often its air is renewed from outside, with windows shut",
        Quantity("air change", "estimate", 0.0, 20.0 / HOUR), "air changes",
        default=OneOf(_kind, _AIR_CHANGES), otherwise="by the kind of room")]
    ground_water: Annotated[Measured, Key(
        "water that floor and walls give off in a day, at 60 %RH",
        Quantity("water removal", "estimate", 0.0, 100.0 * _LITRE_PER_DAY), "water from the ground",
        default=_ground_water, otherwise="by the kind of room and its floor")]
    store: Annotated[Literal["little", "usual", "much"], Key(
        "how much in it takes up water: bare concrete and metal are little, plaster and shelves "
        "usual, timber, paper and cloth much", Choice(("little", "usual", "much")),
        "what takes up water", default=Assumed("usual", note="not stated"))]
    heated_to: Annotated[Measured | None, Key(
        "temperature to which it is heated", Quantity("temperature", "thermometer", 268.15, 303.15),
        "heated to", default=OneOf(_kind, _HEATED), otherwise="by the kind of room")] = None
    people: Annotated[int, Key(
        "people who live or work in it", Count(0, 50), "people",
        default=lambda known: Assumed(2 if _kind(known) in ("flat", "shop") else 0,
        note="by the kind of room"), otherwise="2 in a flat or a shop, else 0")]
    laundry: Annotated[int, Key(
        "loads of laundry dried in it in a week", Count(0, 40), "laundry",
        default=Assumed(0, note="none"))]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayRun:
    """What a day or more with a machine running showed of the room."""

    name: Annotated[str, Key(
        "what results call it, such as a date", Text(),
        default=lambda known: Assumed(f"day {known.number}"), otherwise="day 1, day 2 ...")]
    time: Annotated[float, Key(
        "how long the bucket was filling", Quantity("time", "", 6.0 * HOUR, 30.0 * DAY),
        "time")]
    water: Annotated[Measured, Key(
        "water in the bucket; a kilogram is a litre", Quantity("volume", "measuring cup", 0.0, 0.5),
        "water")]
    temperature: Annotated[Measured, Key(
        "mean temperature of the room", Quantity("temperature", "thermometer", 268.15, 313.15),
        "room temperature", name="room_temperature")]
    humidity_before: Annotated[Measured, Key(
        "humidity of the room at the beginning", Quantity("relative humidity", "hygrometer"),
        "humidity before")]
    humidity_after: Annotated[Measured, Key(
        "humidity of the room at the end", Quantity("relative humidity", "hygrometer"),
        "humidity after")]
    outdoor_temperature: Annotated[Measured, Key(
        "mean temperature outdoors", Quantity("temperature", "thermometer", 233.15, 323.15),
        "temperature outdoors")]
    outdoor_humidity: Annotated[Measured, Key(
        "mean humidity outdoors", Quantity("relative humidity", "hygrometer"),
        "humidity outdoors")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """Outdoor air through the year: a file, twelve months, or a place."""

    weather: Annotated[str | None, Key(
        "file of hourly weather, EPW or CSV, beside the job file", Text(), "weather file")] = None
    temperatures: Annotated[tuple[float, ...], Key(
        "mean outdoor temperature of the twelve months, January first",
        Quantity("temperature", "", 223.15, 318.15), "monthly temperatures", many=12)] = ()
    humidities: Annotated[tuple[float, ...], Key(
        "mean outdoor humidity of the twelve months", Quantity("relative humidity"),
        "monthly humidities", many=12)] = ()
    latitude: Annotated[float, Key(
        "how far north or south", Quantity("latitude", "", -75.0, 75.0), "latitude",
        default=Assumed(45.0, note="not stated: taken as half way north"))]
    coldest_month: Annotated[Measured, Key(
        "mean outdoor temperature of the coldest month",
        Quantity("temperature", "climate", 223.15, 308.15), "coldest month",
        default=Assumed(274.15, 4.0, "not stated: a temperate climate"))]
    warmest_month: Annotated[Measured, Key(
        "mean outdoor temperature of the warmest month",
        Quantity("temperature", "climate", 268.15, 318.15), "warmest month",
        default=Assumed(292.15, 3.0, "not stated: a temperate climate"))]
    relative_humidity: Annotated[Measured, Key(
        "mean outdoor humidity over the year", Quantity("relative humidity", "hygrometer"),
        "outdoor humidity", name="humidity",
        default=Assumed(0.75, 0.05, "temperate climates have 70 to 80 % outdoors"))]
    daily_swing: Annotated[float, Key(
        "from the coolest to the warmest hour of a usual day",
        Quantity("temperature difference", "", 0.0, 30.0), "daily swing",
        default=Assumed(8.0, note="6 to 10 K inland", us="11 to 18 °F inland"))]


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """How the machine is switched."""

    humidity: Annotated[float, Key(
        "humidity that the room is to be kept at", Quantity("relative humidity"), "humidistat",
        default=Assumed(0.55, note="usual for a cellar"))]
    differential: Annotated[float, Key(
        "from where the humidistat starts the machine to where it stops it",
        Quantity("relative humidity"), "differential",
        default=Assumed(0.04, note="electronic ones 2 to 5 points, mechanical ones 5 to 8"))]
    error: Annotated[float, Key(
        "how wrong the humidistat may be", Quantity("relative humidity"), "humidistat's error",
        default=Assumed(0.03, note="usual for an electronic one"))]
    shortest_rest: Annotated[float, Key(
        "rest before it starts again, for the pressures to equalise",
        Quantity("time", "", 0.0, HOUR), "shortest rest",
        default=Assumed(300.0, note="3 to 5 minutes"))]
    cut_out: Annotated[float | None, Key(
        "room temperature below which it is held off",
        Quantity("temperature", "", 258.15, 298.15), "low-temperature cut-out")] = None
    defrost: Annotated[Literal["none", "coil", "clock"], Key(
        "what begins a defrost: a thermostat on the coil's tube, or running time",
        Choice(("none", "coil", "clock")), "defrost",
        default=Assumed("none", note="not stated"))]
    coil_stop: Annotated[float, Key(
        "temperature of the coil's tube that begins a defrost when it lasts",
        Quantity("temperature", "", 253.15, 278.15), "coil thermostat",
        default=Assumed(271.15, note="-1 to -3 °C is usual", us="27 to 30 °F is usual"))]
    coil_delay: Annotated[float, Key(
        "for how long", Quantity("time", "", 0.0, 6.0 * HOUR), "coil thermostat's delay",
        default=Assumed(1800.0, note="10 to 30 minutes is usual"))]
    run_stop: Annotated[float, Key(
        "running time after which a clock begins a defrost",
        Quantity("time", "", 600.0, 86400.0), "running time",
        default=Assumed(2700.0, note="30 to 60 minutes is usual"))]
    rest: Annotated[float, Key(
        "how long a clock defrosts; with a coil thermostat, at most",
        Quantity("time", "", 60.0, 6.0 * HOUR), "defrost time",
        default=Assumed(1200.0, note="10 to 20 minutes is usual"))]
    defrost_by: Annotated[Literal["fan", "standing", "hot gas"], Key(
        "what melts the ice: room air with the fan on, standing air, or hot gas through a valve",
        Choice(("fan", "standing", "hot gas")), "melts by",
        default=Assumed("fan", note="not stated"))]
    fan: Annotated[Literal["with the compressor", "always"], Key(
        "when the fan runs", Choice(("with the compressor", "always")), "fan runs",
        default=Assumed("with the compressor", note="not stated"))]
    bucket: Annotated[Measured | None, Key(
        "what the bucket holds before it stops the machine; left out with a drain or a pump",
        Quantity("volume", "measuring cup", 0.5e-3, 0.2), "bucket")] = None
    emptied_every: Annotated[float, Key(
        "how often the bucket is emptied", Quantity("time", "", HOUR, 30.0 * DAY),
        "bucket emptied", default=Assumed(86400.0, note="once a day"))]
    standby: Annotated[Measured, Key(
        "power it takes all the time, for the humidistat and lamps",
        Quantity("power", "wattmeter", 0.0, 100.0), "standby",
        default=Assumed(1.5, 1.0, "0.5 to 3 W for an electronic control"))]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What things cost you, for the question whether the rebuild is worth it."""

    electricity: Annotated[Price | None, Key(
        "price of a kilowatt-hour", Money("/kWh", 1e-4, 100.0), "electricity")] = None
    parts: Annotated[Price | None, Key(
        "parts and refrigerant for the rebuild", Money("", 0.0, 1e6), "parts")] = None
    work: Annotated[float, Key(
        "hours of work in it", Quantity("time", "", 0.0, 400.0 * HOUR), "work",
        default=Assumed(8.0 * HOUR, note="a day of work"))]
    hour: Annotated[Price | None, Key(
        "what an hour of yours is worth to you; left out, your own time is not counted",
        Money("/h", 0.0, 1e4), "worth of an hour")] = None
    new_machine: Annotated[Price | None, Key(
        "price of a new machine", Money("", 0.0, 1e6), "new machine")] = None
    new_energy_factor: Annotated[Measured | None, Key(
        "water per energy that its label states", Quantity("water per energy", "rating",
        1e-7, 3e-6), "new machine's energy factor")] = None
    new_water: Annotated[Measured | None, Key(
        "water that its label states", Quantity("water removal", "rating", 1e-6, 2e-3),
        "new machine's water")] = None
    years: Annotated[float, Key(
        "how long the rebuilt machine will be used", Quantity("time", "", 86400.0 * 30,
        86400.0 * 365.25 * 40), "years of use",
        default=Assumed(86400.0 * 365.25 * 8, note="small sealed machines last 8 to 15 years"))]
    interest: Annotated[float, Key(
        "what money kept would earn in a year", Quantity("ratio", "", 0.0, 0.5), "interest",
        default=Assumed(0.03, note="a savings account"))]

"""A job: what a person has on the bench, typed and in SI, and every key of the file that says it.

A field says once what it is: its type, and in its annotation the :class:`~sweatline.job.keys.Key`
of the job file that fills it, with its meaning, its kind of quantity, the instrument it is read
with, its bounds and what is assumed when nobody wrote it. A second key on a field is another way
to say it. Every uncertain number is a :class:`~sweatline.uncertainty.parameter.Measured`: value,
standard uncertainty and origin; a plain float is taken as exact.

Annotations are evaluated by the reader, so this module has no postponed ones.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Annotated, Final, Literal, get_args

from sweatline.answers import Note
from sweatline.job import defaults
from sweatline.job.keys import Assumed, Key, Known, Loose, Matters, OneOf, Table
from sweatline.job.values import (
    Choice,
    Coefficients,
    Count,
    Quantity,
    Range,
    RatingCondition,
    RefrigerantName,
    Speeds,
    Text,
    Tubes,
    YesNo,
)
from sweatline.job.vocabulary import convention
from sweatline.job.year import Building, Climate, Control, Cost, DayRun
from sweatline.parts.circuiting import Circuiting
from sweatline.parts.motor import AnyMotor, MotorKind
from sweatline.uncertainty.parameter import MachinePosterior, Measured

# The fields below are a table, one to four lines for a key.
# fmt: off
# What is chosen from a job for one machine.
PARTS: Final = ("compressor", "refrigerant", "capillary")
_WATER: Final = "water"
_CUT: Final = "length of capillary"
_CHARGE: Final = "charge"


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Air that the machine breathes, and the room around it."""

    temperature: Annotated[Measured, Key(
        "temperature of the room's air", Quantity("temperature", "thermometer", 243.15, 333.15),
        "temperature",
        matters=Matters(_WATER, 6.0, "a thermometer in the air that the machine draws in"))]
    relative_humidity: Annotated[Measured, Key(
        "relative humidity of the room's air", Quantity("relative humidity", "hygrometer"),
        "relative humidity", name="humidity",
        matters=Matters(_WATER, 2.0, "a checked hygrometer, or wet and dry bulb"))]
    floor_area: Annotated[Measured | None, Key(
        "floor of the room, for the charge limit of flammable refrigerants",
        Quantity("area", "room tape", 0.5, 5000.0), "floor area")] = None
    volume: Annotated[Measured | None, Key(
        "volume of the room, for the concentration limit",
        Quantity("room volume", "room tape", 1.0, 50000.0), "volume")] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the machine stands."""

    # lowest shore, highest town
    altitude: Annotated[float, Key(
        "height above the sea, sets the zero of every gauge",
        Quantity("altitude", "", -430.0, 5000.0), "altitude",
        default=Assumed(0.0, note="sea level"))]
    atmospheric_pressure: Annotated[float, Key(
        "barometer reading at the place, better than the altitude",
        Quantity("absolute pressure", "", 5.0e4, 1.1e5), "atmospheric pressure", name="pressure",
        default=lambda known: Assumed(known.scale.atmosphere, note="standard atmosphere at this "
        "altitude"), otherwise="standard atmosphere at this altitude")]
    installation: Annotated[Literal["floor", "window", "wall", "ceiling"], Key(
        "how the machine stands or hangs",
        Choice(("floor", "window", "wall", "ceiling"), (("portable", "floor"), ("free", "floor"))),
        "installation", default=Assumed("floor", note="portable machine on the floor"))]
    country: Annotated[str, Key(
        "country, decides which rules are pointed at", Text(), "country",
        default=Assumed("", note="not stated"))]
    flammable_conversion: Annotated[Literal["refused", "accepted"], Key(
        "'accepted' when you have read the rules of your country and take on putting a flammable "
        "refrigerant into a machine not built for it", Choice(("refused", "accepted")),
        "conversion to a flammable refrigerant",
        default=Assumed("refused", note="putting in a flammable refrigerant is not "
        "decided"))] = "refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """Mains supply at the machine."""

    voltage: Annotated[Measured, Key(
        "mains voltage", Quantity("voltage", "mains", 10.0, 700.0), "voltage")]
    frequency: Annotated[Measured, Key(
        "mains frequency", Quantity("frequency", "mains frequency", 20.0, 120.0), "frequency")]


@dataclass(frozen=True, slots=True, kw_only=True)
class RanWell:
    """What the machine of the plate showed at one time when it ran well."""

    name: Annotated[str, Key(
        "what results call this set of readings, such as a date", Text(),
        default=lambda known: Assumed(f"reading {known.number}"),
        otherwise="reading 1, reading 2 ...")]
    temperature: Annotated[Measured, Key(
        "air that the machine breathed then",
        Quantity("temperature", "thermometer", 273.15, 318.15), "room temperature",
        name="room_temperature")]
    relative_humidity: Annotated[Measured, Key(
        "humidity of that air", Quantity("relative humidity", "hygrometer"), "room humidity",
        name="room_humidity")]
    charge: Annotated[Measured | None, Key(
        "refrigerant that was in it, weighed", Quantity("mass", "scale", 5e-3, 20.0), "charge",
        otherwise="the charge on the plate, or else unknown and worked out")] = None
    suction_pressure: Annotated[Measured | None, Key(
        "gauge on the suction side", Quantity("pressure", "gauge", 2e4, 3e6),
        "suction gauge")] = None
    head_pressure: Annotated[Measured | None, Key(
        "gauge on the discharge side", Quantity("pressure", "gauge", 1.2e5, 6e6),
        "head gauge")] = None
    suction_temperature: Annotated[Measured | None, Key(
        "suction tube at the compressor", Quantity("temperature", "clamp", 233.15, 343.15),
        "suction tube")] = None
    discharge_temperature: Annotated[Measured | None, Key(
        "discharge tube at the compressor", Quantity("temperature", "clamp, hot", 283.15, 433.15),
        "discharge tube")] = None
    liquid_temperature: Annotated[Measured | None, Key(
        "tube behind the condenser", Quantity("temperature", "clamp", 263.15, 353.15),
        "liquid tube")] = None
    air_out_temperature: Annotated[Measured | None, Key(
        "air leaving the machine", Quantity("temperature", "air out", 273.15, 343.15),
        "air leaving the machine")] = None
    power: Annotated[Measured | None, Key(
        "watts of the whole machine", Quantity("power", "plug meter", 10.0, 2e4),
        "watts with the fan")] = None
    current: Annotated[Measured | None, Key(
        "amperes of the whole machine", Quantity("current", "clamp meter", 0.05, 100.0),
        "current")] = None
    water: Annotated[Measured | None, Key(
        "water collected in a time, once it ran steadily",
        Quantity("water removal", "bucket", 1e-6, 1e-2), "water")] = None


def _rated(temperature: str) -> Callable[[Known], Assumed]:
    """A dew temperature of the named rating condition."""
    return lambda known: Assumed(getattr(convention(known["convention"]), temperature))


def _rated_suction(known: Known) -> Assumed:
    return Assumed(convention(known["convention"]).suction_at(known["evaporating_temperature"]))


def _rated_liquid(known: Known) -> Assumed:
    return Assumed(convention(known["convention"]).liquid_at(known["condensing_temperature"]))


_RATED_ELSE: Final = "as the rating condition says"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rating:
    """One published point of a compressor, with its convention: of a rating or of a table."""

    refrigerant: Annotated[str, Key("refrigerant of the rating", RefrigerantName(), "rated with")]
    convention: Annotated[str, Key(
        "name of the rating condition, instead of the temperatures; of a point in a table beside "
        "its evaporating and condensing temperature", RatingCondition(),
        "rating condition", name="conditions", default=Assumed("as written"),
        otherwise="as the temperatures below; one or the other is needed")]
    capacity: Annotated[Measured, Key(
        "rated cooling capacity", Quantity("cooling capacity", "rating", 10.0, 5e4),
        "rated capacity", matters=Matters(_CUT, 1.5, "the compressor's data sheet"))]
    power: Annotated[Measured | None, Key(
        "rated power", Quantity("power", "rating", 5.0, 2e4), "rated power")] = None
    mass_flow: Annotated[Measured | None, Key(
        "mass flow, where it is printed", Quantity("mass flow", "rating", 5e-5, 0.5),
        "rated flow")] = None
    current: Annotated[Measured | None, Key(
        "current, where it is printed", Quantity("current", "rating", 0.05, 100.0),
        "rated current")] = None
    evaporating_temperature: Annotated[float, Key(
        "evaporating temperature, dew", Quantity("temperature", "", 203.15, 303.15),
        "rated evaporating", name="evaporating", default=_rated("evaporating"),
        otherwise=_RATED_ELSE)]
    condensing_temperature: Annotated[float, Key(
        "condensing temperature, dew", Quantity("temperature", "", 273.15, 353.15),
        "rated condensing", name="condensing", default=_rated("condensing"), otherwise=_RATED_ELSE)]
    suction_temperature: Annotated[float, Key(
        "temperature of the gas entering the compressor",
        Quantity("temperature", "", 223.15, 353.15), "rated return gas", name="return_gas",
        default=_rated_suction, otherwise=_RATED_ELSE), Key(
        "superheat of that gas, instead of its temperature",
        Quantity("temperature difference", "", 0.0, 100.0), name="superheat",
        turn=lambda superheat, known: known["evaporating_temperature"] + superheat)]
    liquid_temperature: Annotated[float, Key(
        "temperature of the liquid entering the expansion device",
        Quantity("temperature", "", 243.15, 353.15), "rated liquid", name="liquid",
        default=_rated_liquid, otherwise=_RATED_ELSE), Key(
        "subcooling of that liquid, instead of its temperature",
        Quantity("temperature difference", "", 0.0, 60.0), name="subcooling",
        turn=lambda subcooling, known: known["condensing_temperature"] - subcooling)]


@dataclass(frozen=True, slots=True, kw_only=True)
class CompressorMap:
    """Ten-term maps of capacity and power in the order of AHRI 540, and their convention."""

    refrigerant: Annotated[str, Key("refrigerant of the map", RefrigerantName(), "map with")]
    # W from dew temperatures in degrees Celsius
    capacity: Annotated[tuple[float, ...], Key(
        "units of the coefficients; power is in W in both",
        Choice(("W, °C", "BTU/h, °F"), (("w, c", "W, °C"),)), name="coefficients", beside=True),
        Key("ten coefficients of cooling capacity", Coefficients())]
    # W from dew temperatures in degrees Celsius
    power: Annotated[tuple[float, ...], Key("ten coefficients of power", Coefficients())]
    suction_temperature: Annotated[float | None, Key(
        "temperature of the gas entering the compressor",
        Quantity("temperature", "", 223.15, 353.15), "map return gas", name="return_gas")] = None
    superheat: Annotated[float | None, Key(
        "superheat of that gas, instead of its temperature",
        Quantity("temperature difference", "", 0.0, 100.0), "map superheat")] = None
    subcooling: Annotated[float, Key(
        "subcooling of the liquid", Quantity("temperature difference", "", 0.0, 60.0),
        "map subcooling")]
    evaporating_range: Annotated[tuple[float, float], Key(
        "lowest and highest evaporating temperature", Range(), "map evaporating")]
    condensing_range: Annotated[tuple[float, float], Key(
        "lowest and highest condensing temperature", Range(), "map condensing")]
    frequency: Annotated[float, Key(
        "frequency at which the map was made", Quantity("frequency", "", 20.0, 120.0),
        "map frequency")]


def _rated_frequency(known: Known) -> Assumed:
    found = known["map"]
    hertz = found.frequency if found is not None else known.job["supply"].frequency.value
    return Assumed(hertz, note="that of the map, or else of the supply")


def _kind(known: Known) -> str:
    return str(known["kind"])


_MOTOR_SIZE: Final = Quantity("motor size", "plate", 5.0, 5e3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Compressor:
    """A compressor on the bench. It has a displacement, a rating or a map, or several of them."""

    name: Annotated[str, Key("what results call it", Text())]
    kind: Annotated[Literal["reciprocating", "rotary"], Key(
        "how it compresses",
        Choice(("reciprocating", "rotary"), (("piston", "reciprocating"), ("recip",
        "reciprocating"), ("rolling piston", "rotary"))), "kind")]
    displacement: Annotated[Measured | None, Key(
        "swept volume of one revolution", Quantity("volume", "displacement", 0.5e-6, 300e-6),
        "displacement",
        otherwise="worked out from the rating or the map; without all three from the plate",
        matters=Matters(_CUT, 1.5, "the compressor's data sheet"))] = None
    refrigerant: Annotated[str | None, Key(
        "refrigerant it was made for", RefrigerantName(), "made for")] = None
    application: Annotated[Literal["LBP", "MBP", "HBP", "unknown"], Key(
        "back pressure it was made for: LBP in a refrigerator or freezer, MBP in a drinks cooler, "
        "HBP in a dehumidifier or window unit; says where it is rated when no rating does",
        Choice(("LBP", "MBP", "HBP", "unknown"), (("low", "LBP"), ("medium", "MBP"),
        ("high", "HBP"), ("low temperature", "LBP"), ("medium temperature", "MBP"),
        ("high temperature", "HBP"), ("refrigerator", "LBP"), ("freezer", "LBP"),
        ("drinks cooler", "MBP"), ("dehumidifier", "HBP"), ("window unit", "HBP"),
        ("air conditioner", "HBP"))), "application", default=defaults.NOT_STATED)]
    ratings: Annotated[tuple[Rating, ...], Table(name="rating", many=200, alone=True)] = ()
    map: Annotated[CompressorMap | None, Table()] = None
    rated_frequency: Annotated[float, Key(
        "frequency on its plate", Quantity("frequency", "", 20.0, 120.0), "plate frequency",
        default=_rated_frequency, otherwise="that of the map, or else of the supply")]
    rated_voltage: Annotated[float | None, Key(
        "voltage on its plate", Quantity("voltage", "", 10.0, 700.0), "plate voltage")] = None
    rated_power: Annotated[Measured | None, Key(
        "running power on its plate, in watts; in horsepower it is taken as motor_size",
        Quantity("power", "plate", 10.0, 2e4), "plate power",
        instead=("motor_size", _MOTOR_SIZE))] = None
    # W, at the shaft
    motor_size: Annotated[Measured | None, Key(
        "size of its motor at the shaft, as a plate or catalogue names it in horsepower; says how "
        "much it loses where no watts are known and which start capacitor is usual",
        _MOTOR_SIZE, "motor size")] = None
    rated_current: Annotated[Measured | None, Key(
        "running current on its plate", Quantity("current", "plate", 0.05, 100.0),
        "plate current")] = None
    locked_rotor_current: Annotated[Measured | None, Key(
        "current that its plate names for a rotor that stands still (LRA)",
        Quantity("current", "plate", 0.2, 500.0), "locked-rotor current")] = None
    motor: Annotated[AnyMotor, Key(
        "type of its motor, by its start gear; says what amps go with its watts",
        Choice((*get_args(MotorKind), "inverter", "unknown"), (
            ("split phase", "rsir"), ("capacitor start", "csir"), ("capacitor run", "psc"),
            ("variable speed", "inverter"))), "motor", default=defaults.NOT_STATED)]
    oil: Annotated[str, Key(
        "oil inside",
        Choice(("MO", "AB", "POE", "PAG", "PVE", "unknown"), (("mineral", "MO"), ("mineral "
        "oil", "MO"), ("alkylbenzene", "AB"), ("ester", "POE"))), "oil",
        default=defaults.NOT_STATED)]
    oil_volume: Annotated[Measured, Key(
        "how much oil", Quantity("volume", "measuring cup", 0.0, 5e-3), "oil charge",
        default=OneOf(_kind, defaults.OIL_VOLUME),
        matters=Matters(_CHARGE, 0.11, "drain the oil and measure it"))]
    shell_volume: Annotated[Measured, Key(
        "free gas volume inside the shell", Quantity("volume", "estimate", 0.0, 30e-3),
        "free volume of the shell", default=OneOf(_kind, defaults.SHELL_VOLUME))]
    starting_torque: Annotated[Literal["low", "high", "unknown"], Key(
        "whether it starts against pressure",
        Choice(("low", "high", "unknown"), (("lst", "low"), ("hst", "high"))), "starting torque",
        default=defaults.NOT_STATED)]

    @property
    def rating(self) -> Rating | None:
        """The first of its rating points."""
        return self.ratings[0] if self.ratings else None


@dataclass(frozen=True, slots=True, kw_only=True)
class CapillaryStock:
    """A capillary tube: one already in place, or stock that can be cut."""

    name: Annotated[str, Key("what results call it", Text())]
    bore: Annotated[Measured, Key(
        "inner diameter", Quantity("bore", "bore gauge", 0.3e-3, 4e-3), "bore",
        matters=Matters(_CUT, 5.5, "drill shanks as gauges, both ends"))]
    # of a fitted tube its length, of stock what is on the shelf
    length: Annotated[Measured | None, Key(
        "length in the machine, or on the reel", Quantity("length", "tape", 0.05, 60.0),
        "length")] = None
    fitted: Annotated[bool, Key(
        "true: it stays as it is; false: it can be cut", YesNo(), "fitted",
        otherwise="false")] = False
    roughness: Annotated[Measured, Key(
        "roughness of the inner wall", Quantity("roughness", "estimate", 0.0, 20e-6), "roughness",
        default=defaults.ROUGHNESS)]
    # absolute
    gas_pressure: Annotated[Measured | None, Key(
        "pressure before it when it was tested with gas",
        Quantity("pressure", "gauge", 1.5e5, 4e6), "gas pressure")] = None
    gas_flow: Annotated[Measured | None, Key(
        "gas that it then passed into the open, as volume there; it narrows the bore",
        Quantity("volume flow", "flow meter", 1e-6, 0.02), "gas flow")] = None
    test_gas: Annotated[Literal["nitrogen", "air"], Key(
        "gas of that test", Choice(("nitrogen", "air")),
        default=Assumed("nitrogen"), otherwise="nitrogen")] = "nitrogen"


def _plate_of(known: Known) -> str | None:
    """Unit system in which the plate's water was rated; None without any."""
    return None if known["water_removal"] is None else known.scale.system


@dataclass(frozen=True, slots=True, kw_only=True)
class Original:
    """What the plate of the machine said before it died. Anything may be missing."""

    refrigerant: Annotated[str | None, Key(
        "refrigerant on the plate", RefrigerantName(), "refrigerant")] = None
    charge: Annotated[Measured | None, Key(
        "charge on the plate", Quantity("mass", "plate charge", 5e-3, 20.0), "charge")] = None
    power: Annotated[Measured | None, Key(
        "power on the plate", Quantity("power", "machine plate", 10.0, 2e4), "power")] = None
    current: Annotated[Measured | None, Key(
        "current on the plate", Quantity("current", "machine plate", 0.05, 100.0),
        "current")] = None
    water_removal: Annotated[Measured | None, Key(
        "water removal on the plate", Quantity("water removal", "machine plate", 1e-6, 1e-2),
        "water removal")] = None
    rating_temperature: Annotated[Measured | None, Key(
        "room in which the water was rated",
        Quantity("temperature", "plate condition", 273.15, 318.15), "rated at",
        default=OneOf(_plate_of, defaults.RATING_TEMPERATURE))] = None
    rating_relative_humidity: Annotated[Measured | None, Key(
        "humidity at which the water was rated", Quantity("relative humidity", "plate condition"),
        "rated at", name="rating_humidity",
        default=OneOf(_plate_of, defaults.RATING_HUMIDITY))] = None
    # The parts it ran with, perhaps still on the bench: described, or named as one there.
    compressor: Annotated[Compressor | None, Table(
        loose=(Loose("name", "original compressor", "what results call it; alone, the name of a "
        "[[compressor]] that it still is"), Loose("kind", "needed unless the name is that of a "
        "compressor on the bench")))] = None
    capillary: Annotated[CapillaryStock | None, Table(
        loose=(Loose("name", "original capillary", "what results call it; alone, the name of a "
        "[[capillary]] that it still is"), Loose("bore", "that of the capillary named; without "
        "this table the fitted one")), without=("fitted",))] = None


def _wall_from_bore(bore: Measured, known: Known) -> Measured:
    diameter = known["tube_outer_diameter"]
    return Measured(
        value=0.5 * (diameter.value - bore.value),
        sd=0.5 * (diameter.sd**2 + bore.sd**2) ** 0.5,
        origin="inferred",
        note="half of what the tube's diameter exceeds its bore",
    )


def _circuits(known: Known) -> Assumed:
    listed = known["circuiting"]
    return Assumed(len(listed)) if listed is not None else Assumed(1, note="one circuit")


def _path(known: Known) -> Assumed:
    if known["circuiting"] is not None:
        return Assumed("as listed")
    return Assumed("counter", note="refrigerant enters on the side where the air leaves")


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """A finned-tube coil as measured with calliper and tape."""

    tube_outer_diameter: Annotated[Measured, Key(
        "outer diameter of the tubes", Quantity("length", "calliper", 2e-3, 40e-3),
        "tube outer diameter")]
    tube_wall: Annotated[Measured, Key(
        "thickness of the tube's wall", Quantity("length", "micrometer", 0.1e-3, 5e-3), "tube wall",
        default=lambda known: defaults.tube_wall(known["tube_outer_diameter"].value),
        otherwise=defaults.TUBE_WALL,
        matters=Matters(_CHARGE, 0.15, "a micrometer on a cut end")), Key(
        "inner diameter of the tubes, instead of the wall",
        Quantity("length", "calliper", 1e-3, 39e-3), name="tube_bore", turn=_wall_from_bore)]
    rows: Annotated[int, Key(
        "tubes one behind the other in the air's direction", Count(1, 12), "rows")]
    tubes_per_row: Annotated[int, Key("tubes across the air", Count(1, 80), "tubes in a row")]
    transverse_pitch: Annotated[Measured, Key(
        "from tube to tube within a row, centre to centre",
        Quantity("length", "calliper", 4e-3, 150e-3), "pitch within a row")]
    longitudinal_pitch: Annotated[Measured, Key(
        "from row to row, centre to centre", Quantity("length", "calliper", 4e-3, 150e-3),
        "pitch between rows")]
    finned_length: Annotated[Measured, Key(
        "length of a tube that carries fins", Quantity("length", "tape", 0.02, 5.0),
        "finned length")]
    fin_pitch: Annotated[Measured, Key(
        "from fin to fin, or fins counted along a length",
        Quantity("fin pitch", "fin count", 0.5e-3, 25e-3), "fin pitch")]
    fin_thickness: Annotated[Measured, Key(
        "thickness of one fin", Quantity("length", "micrometer", 0.03e-3, 1e-3), "fin thickness",
        default=defaults.FIN_THICKNESS)]
    # tubes of each circuit, when somebody has listed them
    circuiting: Annotated[Circuiting | None, Key(
        "instead of circuits and path, the tubes of each circuit in the order of the refrigerant: "
        "row letter, A where the air enters, and number from the top", Tubes())] = None
    circuits: Annotated[int, Key(
        "paths the refrigerant divides into", Count(1, 40), "circuits", default=_circuits,
        otherwise="1 (one circuit)")]
    path: Annotated[Literal["counter", "parallel", "zigzag", "as listed"], Key(
        "refrigerant runs through whole rows, first the one where the air leaves (counter) or "
        "where it enters (parallel), or crosses all rows at each height (zigzag)",
        Choice(("counter", "parallel", "zigzag")), "refrigerant against air", default=_path,
        otherwise="counter (refrigerant enters on the side where the air leaves)")]
    # relative speeds from the top down; empty: even
    air_profile: Annotated[tuple[float, ...], Key(
        "speed of the air over the face from the top down, in any unit; even if left out",
        Speeds())] = ()
    # multiplier on the air-side coefficient, 1 when clean
    fouling: Annotated[Measured, Key(
        "share of the clean air-side heat transfer that is left",
        Quantity("ratio", "judgement", 0.05, 1.5), "air-side cleanness", default=defaults.FOULING)]

    @property
    def face_area(self) -> float:
        """Finned length by height of the tubes. [m2]"""
        return self.finned_length.value * self.tubes_per_row * self.transverse_pitch.value

    @property
    def needs_tubes(self) -> bool:
        """Whether only a march tube by tube can follow it."""
        return self.path in ("zigzag", "as listed") or bool(self.air_profile)


def _airflow(known: Known) -> Assumed:
    plate, coil = known.job["original"], known.job["evaporator"]
    return defaults.airflow(
        plate.water_removal,
        plate.rating_temperature,
        plate.rating_relative_humidity,
        coil.face_area,
    )


Standing = Literal["between", "after", "outside", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """The fan that draws room air through both coils."""

    # at the inlet
    volume_flow: Annotated[Measured, Key(
        "air through both coils, at the inlet", Quantity("volume flow", "anemometer", 2e-3, 5.0),
        "airflow", name="airflow", default=_airflow,
        otherwise=Note(
            f"{defaults.AIRFLOW_OF_PLATE}; without plate data {defaults.AIRFLOW_OF_FACE.words}",
            *defaults.AIRFLOW_OF_FACE.amounts),
        matters=Matters(_CUT, 0.6, "an anemometer over the whole grille", taught=True))]
    power: Annotated[Measured, Key(
        "power of the fan's motor", Quantity("power", "wattmeter", 0.0, 5e3), "power",
        default=lambda known: defaults.fan_power(known["volume_flow"].value),
        otherwise=defaults.FAN_POWER)]
    # in the direction of the air
    position: Annotated[Literal["before", "between", "after"], Key(
        "before, between or after the coils", Choice(("before", "between", "after")),
        "position to the coils", default=Assumed("after", note="fan behind the condenser"))]
    # in the direction of the air
    compressor_position: Annotated[Standing, Key(
        "where the compressor stands in that air: between the coils or after them, or outside it, "
        "where it warms no air of the machine",
        Choice(("between", "after", "outside", "unknown"), (("before the condenser", "between"),
        ("behind the condenser", "after"), ("beside", "outside"))), "compressor in the air",
        default=defaults.NOT_STATED)]
    shut_off_pressure: Annotated[Measured | None, Key(
        "static pressure of the fan with no air moving",
        Quantity("pressure difference", "plate", 2.0, 2e3), "pressure with no air moving")] = None


def _bore(line: str, default: Assumed) -> Key:
    return Key(
        f"bore of the {line} line",
        Quantity("length", "calliper", 1e-3, 40e-3),
        f"{line} bore",
        default=default,
    )


def _length(line: str, length: float) -> Key:
    return Key(
        f"length of the {line} line",
        Quantity("length", "tape", 0.0, 30.0),
        f"{line} length",
        default=defaults.line_length(length),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Tubing between the parts, and what hangs in it."""

    suction_bore: Annotated[Measured, _bore("suction", defaults.SUCTION_BORE)]
    suction_length: Annotated[Measured, _length("suction", 0.8)]
    discharge_bore: Annotated[Measured, _bore("discharge", defaults.LINE_BORE)]
    discharge_length: Annotated[Measured, _length("discharge", 0.8)]
    liquid_bore: Annotated[Measured, _bore("liquid", defaults.LINE_BORE)]
    liquid_length: Annotated[Measured, _length("liquid", 0.4)]
    drier_volume: Annotated[Measured, Key(
        "free volume of the drier", Quantity("volume", "estimate", 0.0, 2e-3), "drier volume",
        default=defaults.DRIER_VOLUME,
        matters=Matters(_CHARGE, 0.09, "the drier's data sheet, or water poured into an old one"))]
    accumulator_volume: Annotated[Measured, Key(
        "volume of the suction accumulator", Quantity("volume", "estimate", 0.0, 10e-3),
        "accumulator volume", default=defaults.NONE_STATED)]
    exchanger_length: Annotated[Measured, Key(
        "length of capillary soldered to the suction line", Quantity("length", "tape", 0.0, 30.0),
        "capillary on the suction line", default=defaults.NONE_STATED)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What must not be exceeded."""

    # absolute
    high_side_pressure: Annotated[Measured | None, Key(
        "what the weakest part of the high side stands",
        Quantity("pressure", "plate limit", 2e5, 2e7), "high side",
        default=lambda known: defaults.side_pressure(
            known.job["original"].refrigerant, high=True),
        otherwise=defaults.side_note(high=True))]
    # absolute
    low_side_pressure: Annotated[Measured | None, Key(
        "what the weakest part of the low side stands",
        Quantity("pressure", "plate limit", 1.1e5, 1e7), "low side",
        default=lambda known: defaults.side_pressure(
            known.job["original"].refrigerant, high=False),
        otherwise=defaults.side_note(high=False))]
    # at the compressor's outlet
    discharge_temperature: Annotated[Measured, Key(
        "hottest discharge gas allowed", Quantity("temperature", "plate limit", 323.15, 473.15),
        "discharge gas temperature", default=defaults.DISCHARGE_TEMPERATURE)]


_USUAL: Final = Assumed(5.0, note="usual for a small capillary machine")


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """What a balanced machine is wanted to show."""

    superheat: Annotated[float, Key(
        "superheat wanted at the evaporator's outlet",
        Quantity("temperature difference", "", 0.0, 40.0), "superheat", default=_USUAL)]
    subcooling: Annotated[float, Key(
        "subcooling wanted at the condenser's outlet",
        Quantity("temperature difference", "", 0.0, 40.0), "subcooling", default=_USUAL)]


def _closeness(known: Known) -> Assumed:
    detailed = known.job["evaporator"].needs_tubes or known.job["condenser"].needs_tubes
    return Assumed("tube by tube" if detailed else "by rows")


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Everything known about one rebuild."""

    title: Annotated[str, Key(
        "name of the job", Text(), default=Assumed("Untitled job"), otherwise='"Untitled job"')]
    kind: Annotated[Literal["dehumidifier"], Key(
        "kind of machine", Choice(
            ("dehumidifier",), why=": both coils in one stream of room air; no other is computed"))]
    unit_system: Annotated[Literal["US", "SI"], Key(
        "unit system of the results", Choice(("US", "SI"), (("metric", "SI"), ("imperial", "US"))),
        name="units")]
    refrigerants: Annotated[tuple[str, ...], Key(
        "refrigerants that can be had", RefrigerantName(), "at hand", many=40)]
    path: str  # file it was read from
    digest: str  # sha256 of the file's bytes, hexadecimal
    room: Annotated[Room, Table(needed=True)]
    place: Annotated[Place, Table()]
    supply: Annotated[Supply, Table(needed=True)]
    original: Annotated[Original, Table()]
    evaporator: Annotated[Coil, Table(needed=True)]
    condenser: Annotated[Coil, Table(needed=True)]
    # how closely coils are marched
    coils: Annotated[Literal["by rows", "tube by tube"], Key(
        "how closely coils are followed: by rows, with all circuits alike, or tube by tube, which "
        "a circuiting, a zigzag or an air profile asks for by itself",
        Choice(("by rows", "tube by tube")), default=_closeness, otherwise="-")] = "by rows"
    fan: Annotated[Fan, Table()]
    compressors: Annotated[tuple[Compressor, ...], Table(name="compressor", many=200, needed=True)]
    capillaries: Annotated[tuple[CapillaryStock, ...], Table(
        name="capillary", many=200, needed=True)]
    lines: Annotated[Lines, Table()]
    limits: Annotated[Limits, Table()]
    targets: Annotated[Targets, Table()]
    ran_well: Annotated[tuple[RanWell, ...], Table(many=60)] = ()
    building: Annotated[Building, Table(aside=True)]
    climate: Annotated[Climate, Table(aside=True)]
    control: Annotated[Control, Table(aside=True)]
    cost: Annotated[Cost, Table(aside=True)]
    days: Annotated[tuple[DayRun, ...], Table(name="ran_a_day", many=60)] = ()
    # Path of a key in the file with what was written there, and with why it was assumed.
    written: tuple[tuple[str, str], ...] = field(default=(), compare=False, repr=False)
    assumed: tuple[tuple[str, str], ...] = field(default=(), compare=False, repr=False)
    # What readings of the machine as it ran say of its parameters; None until it is calibrated.
    posterior: MachinePosterior | None = field(default=None, compare=False, repr=False)


def in_other_room(
    job: Job, *, temperature: float | None = None, relative_humidity: float | None = None
) -> Job:
    """The same bench in another room. [K], [0..1]"""
    room = job.room
    if temperature is not None:
        room = replace(room, temperature=replace(room.temperature, value=temperature))
    if relative_humidity is not None:
        room = replace(
            room, relative_humidity=replace(room.relative_humidity, value=relative_humidity)
        )
    return replace(job, room=room)


def with_bore(job: Job, capillary: int, bore: float) -> Job:
    """The same bench with another bore of the capillary at a position. [m]"""
    stock = list(job.capillaries)
    stock[capillary] = replace(
        stock[capillary], bore=replace(stock[capillary].bore, value=bore)
    )
    return replace(job, capillaries=tuple(stock))

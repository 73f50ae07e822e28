"""The job asked for as a colleague would: which question, in which order, with which drawing.

What a question is about stands in the declarations of :mod:`sweatline.job.model`; here is only how
it is put to a person. A key that has no words here is asked for by its meaning.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from sweatline.answers import told
from sweatline.errors import JobError
from sweatline.job.explanation import Check
from sweatline.job.keys import Assumed, Key, Table, keys_of
from sweatline.job.mistakes import Path, field_name, no_valve
from sweatline.job.model import (
    CapillaryStock,
    Coil,
    Compressor,
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
from sweatline.job.values import (
    Choice,
    Quantity,
    Range,
    RatingCondition,
    Text,
    YesNo,
    is_not_known,
)
from sweatline.job.vocabulary import CONVENTIONS
from sweatline.job.year import Building, Climate, Control, Cost, DayRun
from sweatline.uncertainty.parameter import Key as ParameterKey
from sweatline.uncertainty.parameter import Measured
from sweatline.units import Parsed, Scale, example_of

NOTHING: Final = "nothing"


@dataclass(frozen=True, slots=True)
class Words:
    """How a key is asked for.

    Parameters
    ----------
    question : str
        Empty: by its meaning.
    drawing : str
        What shows where to measure; empty for that of the group, NOTHING for none.
    detail : bool
        Left to who wants to tell everything: an answer hardly changes without it.
    """

    question: str = ""
    drawing: str = ""
    detail: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """Questions that are answered at one place: a table of the file, or the keys above them.

    Parameters
    ----------
    table : str
        In the file; empty for the top.
    part : type
        What it fills.
    title : str
        Of one of them.
    where : str
        Where the answers can be read.
    drawing : str
        Of questions without their own.
    another : str
        One more of them, for a table that stands several times.
    """

    table: str
    part: type
    title: str
    where: str
    drawing: str
    another: str = ""


GROUPS: Final = (
    Group("", Job, "The job", "Name it, and say what you can get.", NOTHING),
    Group("original", Original, "The plate of the machine",
          "Read the plate on the cabinet. What it does not say, leave open.", "plate"),
    Group("supply", Supply, "Mains", "Read the plate, or measure at the outlet.", "plate"),
    Group("compressor", Compressor, "Compressor",
          "Read its plate and look up its data sheet.", "compressor", "another compressor"),
    Group("limits", Limits, "Limits", "Read the plates; the weakest part decides.", "circuit"),
    Group("capillary", CapillaryStock, "Capillary",
          "The tube in the machine, or a reel that can be cut. No expansion valve is known yet.",
          "capillary", "another capillary"),
    Group("evaporator", Coil, "Evaporator",
          "The cold coil, where the water drips off. Calliper and tape.", "face"),
    Group("condenser", Coil, "Condenser", "The warm coil. Calliper and tape.", "face"),
    Group("fan", Fan, "Fan", "Plate, data sheet or anemometer.", "air"),
    Group("room", Room, "Room", "Where the machine will work, on a usual day.", "room"),
    Group("place", Place, "Place", "The height above the sea sets the zero of every gauge.",
          "room"),
    Group("lines", Lines, "Tubes between the parts", "Calliper and tape.", "circuit"),
    Group("targets", Targets, "Targets", "What the machine is to show when it is right.",
          NOTHING),
    Group("ran_well", RanWell, "When it ran well",
          "Readings of the machine before it died, if you have any.", "circuit",
          "readings from when it ran well"),
    Group("building", Building, "The building", "For a year in it: what the room is.", "room"),
    Group("climate", Climate, "The climate", "A weather file, twelve months, or two.", NOTHING),
    Group("control", Control, "How it is switched", "Humidistat, cut-out, defrost, bucket.",
          NOTHING),
    Group("cost", Cost, "What it costs", "For the question whether it is worth it.", NOTHING),
    Group("ran_a_day", DayRun, "A day in the room",
          "A bucket, a watch and a hygrometer tell more of the room than any table.", "room",
          "a day in the room"),
)  # fmt: skip

# What a person does not have to be asked: one value, another way to say a key, or a list of numbers
# that is copied into the file.
_NOT_ASKED: Final = frozenset({(Job, "kind"), (Job, "coils")})
_IN_THE_FILE: Final = frozenset({(Compressor, "map")})

# Of a part that the machine ran with only what tells which one it was.
_RAN_WITH: Final[Mapping[tuple[type, str], Mapping[str, str]]] = {
    (Original, "compressor"): {
        "name": "Which compressor did it run with? The name of one on the bench, or another",
        "kind": "If it is not on the bench: did a piston or a roller compress?",
        "displacement": "If it is not on the bench: what was its displacement?",
    },
    (Original, "capillary"): {
        "name": "Which capillary did it run with? The name of one on the bench, or another",
        "bore": "If it is not on the bench: what was its bore?",
        "length": "If it is not on the bench: how long was it?",
    },
}


def _detail(question: str = "", drawing: str = "") -> Words:
    return Words(question, drawing, detail=True)


_WORDS: Final[Mapping[tuple[type, str], Words]] = {
    (Job, "title"): Words("What do you call this job?"),
    (Job, "units"): Words("Which units do you read in?"),
    (Job, "refrigerants"): Words("Which refrigerants can you get?"),
    (Original, "refrigerant"): Words("Which refrigerant does the plate name?"),
    (Original, "charge"): Words("Which charge does the plate name?"),
    (Original, "power"): Words("How many watts?"),
    (Original, "current"): Words("How many amps?"),
    (Original, "water_removal"): Words("How much water does it claim to take out?"),
    (Original, "rating_temperature"): _detail("In which room was that, how warm?", "room"),
    (Original, "rating_humidity"): _detail("And how humid?", "room"),
    (Supply, "voltage"): Words("Which voltage does the outlet give?"),
    (Supply, "frequency"): Words("Which frequency?"),
    (Compressor, "name"): Words("What shall results call it?", NOTHING),
    (Compressor, "kind"): Words("Does a piston or a roller compress?", "pump"),
    (Compressor, "displacement"): Words("What is its displacement, by its data sheet?"),
    (Compressor, "refrigerant"): Words("Which refrigerant was it made for?"),
    (Compressor, "application"): Words(
        "Was it made for a refrigerator or freezer (LBP), a drinks cooler (MBP), or a dehumidifier "
        "or window unit (HBP)?", NOTHING),
    (Compressor, "rated_frequency"): Words("Which frequency does its plate name?"),
    (Compressor, "rated_voltage"): Words("Which voltage does its plate name?"),
    (Compressor, "rated_power"): Words("How many watts does its plate name?"),
    (Compressor, "motor_size"): Words("Which motor size, in horsepower, does it name?"),
    (Compressor, "motor"): Words("Which type is its motor?", NOTHING),
    (Compressor, "locked_rotor_current"): Words("How many locked-rotor amps (LRA) does it name?"),
    (Compressor, "rated_current"): Words("How many amps does its plate name?"),
    (Compressor, "oil"): Words("Which oil is in it?"),
    (Compressor, "oil_volume"): Words("How much oil does it hold?"),
    (Compressor, "shell_volume"): _detail("How much free gas volume is in its shell?"),
    (Compressor, "starting_torque"): Words("Does it start against pressure?", NOTHING),
    (Rating, "capacity"): Words("Which cooling capacity does its data sheet name?", NOTHING),
    (Rating, "refrigerant"): Words("With which refrigerant was that rated?", NOTHING),
    (Rating, "conditions"): Words("At which rating condition?", NOTHING),
    (Rating, "power"): Words("How many watts did it take at that point?", NOTHING),
    (Rating, "mass_flow"): _detail("Which mass flow does it print for that point?", NOTHING),
    (Rating, "current"): _detail("How many amps does it print for that point?", NOTHING),
    (Rating, "evaporating"): _detail("", NOTHING),
    (Rating, "condensing"): _detail("", NOTHING),
    (Rating, "return_gas"): _detail("", NOTHING),
    (Rating, "superheat"): _detail("", NOTHING),
    (Rating, "liquid"): _detail("", NOTHING),
    (Rating, "subcooling"): _detail("", NOTHING),
    (CapillaryStock, "name"): Words("What shall results call it?", NOTHING),
    (CapillaryStock, "fitted"): Words("Does it stay in the machine as it is?"),
    (CapillaryStock, "bore"): Words("What is its bore? The largest drill shank that enters"),
    (CapillaryStock, "length"): Words("How long is it, in the machine or on the reel?"),
    (CapillaryStock, "roughness"): _detail("How rough is it inside?"),
    (CapillaryStock, "gas_pressure"): _detail(
        "If you tested it with dry nitrogen or air: which pressure stood before it?", NOTHING),
    (CapillaryStock, "gas_flow"): _detail(
        "And how much gas did it pass into the open, as volume there?", NOTHING),
    (CapillaryStock, "test_gas"): _detail("Which gas was it?", NOTHING),
    (Coil, "rows"): Words("How many rows of tubes, counted in the direction of the air?", "end"),
    (Coil, "tubes_per_row"): Words("How many tubes do you see on the face?"),
    (Coil, "tube_outer_diameter"): Words("How thick are its tubes, outside?", "tube"),
    (Coil, "tube_wall"): Words("How thick is the wall of a tube?", "tube"),
    (Coil, "transverse_pitch"): Words(
        "From the middle of one tube to the next in the same row?", "end"),
    (Coil, "longitudinal_pitch"): Words("From the middle of one row to the next?", "end"),
    (Coil, "finned_length"): Words("How long is the part of a tube that carries fins?"),
    (Coil, "fin_pitch"): Words("How far apart are the fins, or how many on an inch?", "fins"),
    (Coil, "fin_thickness"): _detail("How thick is one fin?", "fins"),
    (Coil, "circuits"): Words("Into how many paths does the refrigerant divide?", "end"),
    (Coil, "path"): _detail("How does the refrigerant run against the air?", "end"),
    (Coil, "circuiting"): _detail("", "end"),
    (Coil, "air_profile"): _detail(),
    (Coil, "fouling"): _detail("How clean is it? 1 is clean"),
    (Coil, "tube_bore"): _detail("", "tube"),
    (Fan, "airflow"): Words("How much air goes through both coils?"),
    (Fan, "power"): Words("How many watts does the fan take?"),
    (Fan, "position"): Words("Where is the fan, seen by the air?"),
    (Fan, "shut_off_pressure"): _detail("Which pressure does it make with no air moving?"),
    (Room, "temperature"): Words("How warm is the room?"),
    (Room, "humidity"): Words("How humid is it?"),
    (Room, "floor_area"): Words("How large is its floor?"),
    (Room, "volume"): Words("How large is its volume?"),
    (Place, "altitude"): Words("How high above the sea?"),
    (Place, "pressure"): _detail("What does a barometer show there?"),
    (Place, "installation"): Words("How does the machine stand or hang?"),
    (Place, "country"): Words(
        "In which country? It decides which rules are pointed at", NOTHING),
    (Place, "flammable_conversion"): _detail(
        "Have you read your country's rules, and take on a flammable refrigerant?", NOTHING),
    (Limits, "high_side_pressure"): Words("What does the weakest part of the high side stand?"),
    (Limits, "low_side_pressure"): Words("What does the weakest part of the low side stand?"),
    (Limits, "discharge_temperature"): _detail("How hot may the discharge gas be?"),
    **{(Lines, f"{line}_{what}"): _detail(f"How {how} is the {line} line{end}?")
       for line in ("suction", "discharge", "liquid")
       for what, how, end in (("bore", "wide", " inside"), ("length", "long", ""))},
    (Lines, "drier_volume"): _detail("How much free volume has the drier?"),
    (Lines, "accumulator_volume"): _detail("How large is the suction accumulator?"),
    (Lines, "exchanger_length"): Words(
        "How much of the capillary is soldered to the suction line?"),
    (Targets, "superheat"): _detail("Which superheat do you want at the evaporator's outlet?"),
    (Targets, "subcooling"): _detail("Which subcooling do you want at the condenser's outlet?"),
}  # fmt: skip


_IN_A_LIST: Final = 3  # steps to a key: table, number, key


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One key of one part, as it is asked."""

    path: Path
    """In the file; parts of a list counted from 0."""
    key: Key
    words: Words
    group: Group
    needed: bool
    """Nothing can stand in for it."""
    name: str
    """Path as mistakes name it: compressor[2].displacement."""
    part: str
    """Part that it belongs to, as mistakes name it; empty for the top of the file."""

    @property
    def names_the_part(self) -> bool:
        """Whether its answer is what results call the part."""
        return self.path[-1] == "name" and len(self.path) == _IN_A_LIST

    @property
    def rating(self) -> bool:
        """Whether it belongs to the rating of a compressor, which stands in for its size."""
        return self.group.part is Compressor and "rating" in self.path

    @property
    def text(self) -> str:
        """The question."""
        found = self.words.question or f"{self.key.meaning[:1].upper()}{self.key.meaning[1:]}"
        return found if found.endswith("?") else f"{found}:"

    @property
    def drawing(self) -> str:
        """Name of the drawing that shows what to measure; empty for none."""
        found = self.words.drawing or self.group.drawing
        return "" if found == NOTHING else found

    @property
    def options(self) -> tuple[str, ...]:
        """The words to choose from; empty where something is typed."""
        if isinstance(self.key.value, Choice):
            return self.key.value.words
        if isinstance(self.key.value, YesNo):
            return ("yes", "no")
        return tuple(CONVENTIONS) if isinstance(self.key.value, RatingCondition) else ()

    def example(self, scale: Scale) -> str:
        """How an answer may look."""
        value = self.key.value
        if isinstance(value, Quantity):
            return example_of(value.kind, scale.system, low=value.low, high=value.high)
        return "your own words" if isinstance(value, Text) else value.written.replace('"', "")


def table_of(group: Group) -> Table:
    """Declaration of a group's table; that of the top has no name."""
    if not group.table:
        return Table(needed=True)
    found = keys_of(Job)[group.table][0].table
    assert found is not None
    return found


def questions(counts: Mapping[str, int]) -> tuple[Question, ...]:
    """Every question of a job, in the order in which they are asked.

    Parameters
    ----------
    counts : mapping
        How many parts of each list there are; of a needed one at least the first is asked for.
        Lists inside a part by their full name, as `compressor[1].rating`.
    """
    found: list[Question] = []
    for group in GROUPS:
        table = table_of(group)
        if not table.many:
            base = (group.table,) if group.table else ()
            found += _of_part(group, group.part, base, field_name(base), counts)
            continue
        for n in range(max(counts.get(group.table, 0), int(table.needed))):
            one = (group.table, n)
            found += _of_part(group, group.part, one, field_name(one), counts)
    return tuple(found)


def _of_part(
    group: Group, part: type, path: Path, called: str, counts: Mapping[str, int]
) -> Iterator[Question]:
    """Questions of one part: its plate first, as the words stand, then what has no words."""
    order = [name for one, name in _WORDS if one is part]
    keys = keys_of(part)
    for name in sorted(keys, key=lambda n: order.index(n) if n in order else len(order)):
        field, key, wanted = keys[name]
        if key is None:
            if not path or field.part is None or (part, name) in _IN_THE_FILE:
                continue
            below = (*path, name)
            listed = counts.get(field_name(below))  # None: one table, or none yet
            for here in [below] if listed is None else [(*below, n) for n in range(listed)]:
                inner = _of_part(group, field.part, here, called, counts)
                yield from _ran_with(inner, _RAN_WITH.get((part, name)))
        elif (part, name) not in _NOT_ASKED and not key.beside:
            yield Question(
                path=(*path, name),
                key=key,
                words=_WORDS.get((part, name), Words(detail=not wanted and part is not RanWell)),
                group=group,
                needed=wanted,
                name=field_name((*path, name)),
                part=called,
            )


def _ran_with(inner: Iterator[Question], asked: Mapping[str, str] | None) -> Iterator[Question]:
    """Questions of a part within another; of one that the machine ran with only some."""
    for question in inner:
        if asked is None:
            yield question
        elif (words := asked.get(str(question.path[-1]))) and len(question.path) == _IN_A_LIST:
            yield replace(question, words=_detail(words, NOTHING), needed=False)


def understood(question: Question, text: str, scale: Scale) -> str:
    """How a typed answer is understood, in the job's units.

    Raises
    ------
    JobError
        It cannot be used; the sentence says what is allowed.
    """
    if not text.strip():
        return ""
    if is_not_known(text):
        return "not known"
    key = question.key
    valve = no_valve(text) if question.group.table == "capillary" else None
    if valve is not None:
        raise valve
    typed = key.typed(text)
    if key.many:
        return ", ".join(_one(key, one, scale) for one in typed)
    return _one(key, typed, scale)


def _one(key: Key, typed: Any, scale: Scale) -> str:
    if key.instead is not None and key.is_instead(typed, scale):
        name, value = key.instead
        return f"{name}: {_one(replace(key, value=value, instead=None), typed, scale)}"
    read = key.value.read(typed, scale)
    doubt = key.value.doubt(read, scale)
    if doubt is not None:
        raise doubt
    if isinstance(read, Parsed) and isinstance(key.value, Quantity):
        return _quantity(key.value, read, scale)
    if isinstance(key.value, Range):
        return " to ".join(scale.show(one.value, "temperature") for one in read)
    return key.as_typed(list(read) if isinstance(read, tuple) else read)


def _quantity(value: Quantity, read: Parsed, scale: Scale) -> str:
    shown = scale.show(read.value, value.kind)
    made = value.made(read, scale)
    if not isinstance(made, Measured) or not made.sd:
        return shown
    spread = scale.spread(made.sd, made.value, value.kind)
    return f"{shown} ± {spread} ({made.note.partition(',')[0]})"


def matters(question: Question, scale: Scale) -> str:
    """What an error of the answer does in a usual machine, and how to measure it well."""
    found, value = question.key.matters, question.key.value
    if found is None or not isinstance(value, Quantity):
        return ""
    unit, percent = "%", found.percent
    if value.kind == "temperature":
        unit, percent = ("°F", percent / 1.8) if scale.system == "US" else ("K", percent)
    moved = f"1\u00a0{unit} of it moves the {found.answer} by {percent:.2g}\u00a0%"
    return f"{moved}; to know it better: {found.how}"


def stand_in(question: Question, check: Check | None, scale: Scale) -> str:
    """What stands in for an open answer, and why; empty where nothing can.

    Parameters
    ----------
    check : Check, optional
        What was read from the job, once it can be read.
    """
    if question.needed:
        return "nothing; the displacement or the plate says it" if question.rating else ""
    for item in check.items if check is not None else ():
        if item.key == question.name and not item.written and item.origin != "stated":
            why = f" ({item.note})" if item.note else ""
            return f"{item.shown(scale)}{why}"
    default = question.key.default
    if isinstance(default, Assumed) and default.note:
        kind = question.key.value.kind if isinstance(question.key.value, Quantity) else None
        value = scale.show(default.value, kind) if kind else str(default.value)
        return f"{value} ({default.note_in(scale.system)})"
    if isinstance(question.key.value, YesNo) and question.key.otherwise == "false":
        return "no"
    return told(question.key.otherwise, scale) or "nothing; the answer does without it"


# Parameters of a machine that are not called after the key that says them.
_SAID_BY: Final = {
    ("shell", "volume"): "shell_volume",
    ("shell", "oil_volume"): "oil_volume",
    ("compressor", "rated_capacity"): "rating.capacity",
    ("compressor", "rating_power"): "rating.power",
}


def asked_as(parameter: ParameterKey, job: Job, compressor: str) -> str:
    """Name of the question that says a parameter of a machine; empty if none does.

    Parameters
    ----------
    compressor : str
        Name of the machine's compressor, whose shell it is.
    """
    thing, field = str(parameter[0]), str(parameter[-1])
    table = "compressor" if thing == "shell" else thing
    group = next((one for one in GROUPS if one.table == table), None)
    if group is None:
        return ""
    said = {one.name: key.name for one, key, _ in keys_of(group.part).values() if key}
    key = _SAID_BY.get((thing, field), said.get(field, ""))
    if not key or not table_of(group).many:
        return f"{table}.{key}" if key else ""
    name = compressor if thing == "shell" else str(parameter[1])
    pumps, tubes = [p.name for p in job.compressors], [t.name for t in job.capillaries]
    names = pumps if group.part is Compressor else tubes
    number = names.index(name) + 1 if name in names else 0
    return f"{table}[{number}].{key}" if number else ""


def beside(fault: JobError, known: Mapping[str, object]) -> str:
    """Name of the question or part beside which a mistake is told; empty for none of them."""
    name = fault.field
    while name and name not in known:
        first = f"{name}[1]"  # a list of which nothing stands there yet
        name = first if first in known else name[: max(name.rfind("."), name.rfind("["), 0)]
    return name

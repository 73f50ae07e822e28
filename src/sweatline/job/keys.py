"""What a key of a job file is: its meaning, how it is read, what is allowed, what is assumed.

Every key is declared once, on the field of :mod:`sweatline.job.model` that it fills. Reading,
bounds, defaults, the JSON schema, `sweatline check` and the page of the documentation go through
those declarations.
"""

from __future__ import annotations

import contextlib
import dataclasses
import re
import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final

from sweatline.answers import told
from sweatline.errors import JobError
from sweatline.job.values import NOT_KNOWN, Quantity, Value, is_not_known
from sweatline.job.vocabulary import INSTRUMENTS
from sweatline.uncertainty.parameter import Measured, Origin
from sweatline.units import Scale, System


@dataclass(frozen=True, slots=True)
class Assumed:
    """What stands in for a key that nobody wrote.

    Parameters
    ----------
    value : object
        In SI, or a word or count.
    sd : float
        One standard deviation, meant to cover what is met in the trade. [unit of the value]
    note : str
        Why this value. Empty when it is no assumption of the program.
    us : str
        The same in US units, where the two differ.
    origin : str
        ``default``, or ``inferred`` from other numbers of the job.
    """

    value: Any
    sd: float = 0.0
    note: str = ""
    us: str = ""
    origin: Origin = "default"

    def note_in(self, system: System) -> str:
        """Why this value, in a unit system."""
        return self.us if system == "US" and self.us else told(self.note, Scale(system))

    def measured(self, system: System) -> Measured:
        """The number with its uncertainty, and why in a unit system."""
        note = self.note_in(system)
        return Measured(value=self.value, sd=self.sd, origin=self.origin, note=note)


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a job at the moment a default or another way to say a field is needed."""

    made: Mapping[str, Any]  # fields of the part made so far
    job: Mapping[str, Any]  # parts made so far
    scale: Scale
    number: int = 0  # of the part in its list, counted from one

    def __getitem__(self, name: str) -> Any:
        return self.made[name]


@dataclass(frozen=True, slots=True)
class OneOf:
    """A default that depends on one word: of the part, or the job's unit system.

    Parameters
    ----------
    word : function
        The word, from what is known; None when nothing is assumed.
    options : mapping
        What is assumed for each word.
    """

    word: Callable[[Known], str | None]
    options: Mapping[str, Assumed]

    def __call__(self, known: Known) -> Assumed | None:
        word = self.word(known)
        return None if word is None else self.options[word]


@dataclass(frozen=True, slots=True)
class Matters:
    """What an error of a number does to the answers of a usual machine.

    COMPUTED with `sweatline balance` on two of the examples, one number changed at a time; rounded,
    for the two differ by a third.

    Parameters
    ----------
    answer : str
        What moves most.
    percent : float
        By how much it moves for each per cent of the number; for a temperature, for each kelvin.
    how : str
        How to measure it better.
    taught : bool
        Readings of the machine as it ran say more of it than another measurement.
    """

    answer: str
    percent: float
    how: str
    taught: bool = False


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a job file.

    Parameters
    ----------
    meaning : str
        What it means, for the documentation.
    value : Value
        How it is read and what is allowed.
    label : str
        What it is called in tables; without one it is not shown there.
    name : str
        In the file; by default the name of the field.
    default : Assumed or function
        What stands in for it, or how that follows from what is known. None: the field's own
        default, or else the key is needed.
    otherwise : str
        The default in words, where it depends on the job.
    turn : function
        Field from the value, for a key that says the field in another way.
    many : int
        How many values it can list; 0 for a single one.
    beside : bool
        The key stands beside the field's own and tells how to read it.
    matters : Matters
        What an error of it does to the answers.
    instead : (str, Value)
        Another key of the same table that is meant when what is written can only be read so.
    """

    meaning: str
    value: Value
    label: str = ""
    name: str = ""
    default: Assumed | Callable[[Known], Assumed | None] | None = None
    otherwise: str = ""
    turn: Callable[[Any, Known], Any] | None = None
    many: int = 0
    beside: bool = False
    matters: Matters | None = None
    instead: tuple[str, Value] | None = None

    @property
    def written(self) -> str:
        """How it is written, for the documentation."""
        return f"[{self.value.written}]" if self.many else self.value.written

    def advice(self, scale: Scale) -> str:
        """What to write when it is missing."""
        if self.many:
            return f"write {self.name} = {self.written}"
        return self.value.advice(self.name, scale)

    def is_instead(self, written: object, scale: Scale) -> bool:
        """Whether what is written can only be read as the key that this one is mixed up with."""
        if self.instead is None:
            return False
        for value, found in ((self.value, False), (self.instead[1], True)):
            with contextlib.suppress(JobError):
                value.read(written, scale)
                return found
        return False

    def typed(self, text: str) -> Any:
        """What stands in the file for what a person types on one line."""
        if is_not_known(text):
            return NOT_KNOWN
        if not self.many:
            return self.value.typed(text)
        return [self.value.typed(one) for one in re.split(r"[,;]", text) if one.strip()]

    def as_typed(self, written: object) -> str:
        """What a person would type for what stands in the file."""
        if isinstance(written, list):
            return self.value.joint.join(str(one) for one in written)
        if isinstance(written, bool):
            return "yes" if written else "no"
        return str(written)

    @property
    def uncertainty(self) -> str:
        """What a reading without a stated uncertainty is taken to be worth."""
        tool = self.value.tool if isinstance(self.value, Quantity) else ""
        return INSTRUMENTS[tool].words("SI") if tool else ""

    @property
    def schema(self) -> Mapping[str, Any]:
        """Its place in the JSON schema of a job file."""
        described = f"{self.meaning}; written as {self.written}"
        if self.uncertainty:
            described += f"; without a stated uncertainty taken as {self.uncertainty}"
        one = self.value.schema
        kind = {"type": "array", "items": dict(one)} if self.many else one
        return {**kind, "description": described}


@dataclass(frozen=True, slots=True)
class Loose:
    """A key that is not needed in one table: what is assumed then, and what it means there."""

    name: str
    otherwise: str
    meaning: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table of a job file that a field holds, or several of them.

    Parameters
    ----------
    name : str
        In the file; by default the name of the field.
    many : int
        How often it can stand; 0 for a single table.
    needed : bool
        Without it no job can be read.
    loose : tuple of Loose
        Keys that are not needed in this place though they are elsewhere.
    without : tuple of str
        Keys that cannot stand in this place.
    alone : bool
        Of a list: a single table is as good, and one entry has no number.
    aside : bool
        Told back and asked for only where something of it is written: other answers do without.
    """

    name: str = ""
    many: int = 0
    alone: bool = False
    needed: bool = False
    aside: bool = False
    loose: tuple[Loose, ...] = ()
    without: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a part as the file fills it: by keys, or by a table with a part of its own.

    Parameters
    ----------
    name : str
        Of the field.
    keys : tuple of Key
        Its own key and other ways to say it, with their names; empty for a table.
    table : Table or None
        With its name.
    part : type or None
        Class of the part in the table.
    default : object
        The field's own default; `dataclasses.MISSING` when there is none.
    """

    name: str
    keys: tuple[Key, ...]
    table: Table | None
    part: type | None
    default: Any

    def needs(self, key: Key) -> bool:
        """Whether nothing can stand in for a key of this field."""
        if key.beside:
            return True
        if key.turn is not None or key.default is not None:
            return False
        return self.default is dataclasses.MISSING


def _part_in(annotation: Any) -> type | None:
    """Class of the part that a field holds, alone, perhaps, or in a tuple."""
    for one in (annotation, *typing.get_args(annotation)):
        if isinstance(one, type) and dataclasses.is_dataclass(one):
            return one
    return None


_FIELDS: Final[dict[type, tuple[Field, ...]]] = {}


def fields_of(part: type) -> tuple[Field, ...]:
    """Fields of a part that a job file fills, in their order."""
    if part not in _FIELDS:
        hints = typing.get_type_hints(part, include_extras=True)
        found = []
        for one in dataclasses.fields(part):
            hint = hints[one.name]
            if typing.get_origin(hint) is not Annotated:
                continue
            plain, *marks = typing.get_args(hint)
            keys = tuple(
                dataclasses.replace(mark, name=mark.name or one.name)
                for mark in marks
                if isinstance(mark, Key)
            )
            table = next((mark for mark in marks if isinstance(mark, Table)), None)
            if table is not None:
                table = dataclasses.replace(table, name=table.name or one.name)
            inner = _part_in(plain) if table is not None else None
            found.append(
                Field(name=one.name, keys=keys, table=table, part=inner, default=one.default)
            )
        _FIELDS[part] = tuple(found)
    return _FIELDS[part]


def keys_of(part: type, table: Table | None = None) -> Mapping[str, tuple[Field, Key | None, bool]]:
    """What may stand in the table of a part: field, key (None for a table) and whether needed."""
    loose = {one.name: one for one in table.loose} if table is not None else {}
    without = table.without if table is not None else ()
    found: dict[str, tuple[Field, Key | None, bool]] = {}
    for field in fields_of(part):
        if field.table is not None:
            found[field.table.name] = (field, None, field.table.needed)
        for key in field.keys:
            here = loose.get(key.name)
            if here is not None:
                meaning = here.meaning or key.meaning
                changed = dataclasses.replace(key, otherwise=here.otherwise, meaning=meaning)
                found[key.name] = (field, changed, False)
            elif key.name not in without:
                found[key.name] = (field, key, field.needs(key))
    return types.MappingProxyType(found)

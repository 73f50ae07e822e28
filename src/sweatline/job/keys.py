"""What a key of a job file is: its meaning, how it is read, what is allowed, what is assumed.

Every key is declared once, on the field of :mod:`sweatline.job.model` that it fills. Reading,
bounds, defaults, the JSON schema, `sweatline check` and the page of the documentation go through
those declarations.
"""

from __future__ import annotations

import dataclasses
import math
import re
import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError, UnitError
from sweatline.job.conventions import CONVENTIONS, convention
from sweatline.job.instruments import INSTRUMENTS, reading
from sweatline.job.names import REFRIGERANTS, canonical
from sweatline.parts.circuiting import Circuiting, Path
from sweatline.uncertainty.measured import Origin
from sweatline.units import (
    EXAMPLES,
    Kind,
    Parsed,
    System,
    example_of,
    one_line,
    parse,
    show_limits,
    with_article,
)

__all__ = [
    "Assumed",
    "Choice",
    "Coefficients",
    "Count",
    "Field",
    "Key",
    "Known",
    "Loose",
    "Matters",
    "OneOf",
    "Quantity",
    "Range",
    "RatingCondition",
    "RefrigerantName",
    "Refrigerants",
    "Scope",
    "Speeds",
    "Table",
    "Text",
    "Tubes",
    "Value",
    "YesNo",
    "described",
    "fields_of",
    "keys_of",
]

_UNKNOWN_WORDS: Final = frozenset({"", "?", "-", "unknown", "n/a", "na", "none", "tbd"})
# Uncertainty beyond which a reading says nothing: share of the value, or kelvin of a temperature.
_WIDEST: Final = 0.6
_WIDEST_KELVIN: Final = 20.0


@dataclass(frozen=True, slots=True)
class Scope:
    """In which units a job is told back, and where its gauges have their zero."""

    system: System = "SI"
    atmosphere: float = STANDARD_ATMOSPHERE  # Pa


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


def _quoted(words: str) -> str:
    return ", ".join(f'"{word}"' for word in words.split(", "))


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """How the value of one key is read.

    Parameters
    ----------
    written : str
        How it is written, with examples, for the documentation.
    schema : mapping
        Its type in the JSON schema of a job file.
    """

    written: str = ""
    schema: Mapping[str, Any] = dataclasses.field(default_factory=lambda: {"type": "string"})

    def read(self, value: object, scope: Scope) -> Any:
        """Value as it goes into checks between keys.

        Raises
        ------
        JobError
            It cannot be read; the sentence says what is allowed.
        """
        raise NotImplementedError

    def each(self, value: object, scope: Scope) -> list[tuple[int, JobError]]:
        """What is wrong with single items of a list, by their places."""
        return []

    def doubt(self, read: Any, scope: Scope) -> JobError | None:
        """Why a value that can be read cannot be right; None when it can."""
        return None

    def made(self, read: Any, scope: Scope) -> Any:
        """Value as the job holds it."""
        return read

    def advice(self, key: str, scope: Scope) -> str:
        """What to write when the key is missing."""
        return "this key is needed"


@dataclass(frozen=True, slots=True)
class Quantity(Value):
    """A physical quantity written with its unit.

    Parameters
    ----------
    kind : str
        Kind of quantity.
    tool : str
        Instrument that says how well it is known; empty for a number taken as exact.
    low, high : float
        Beyond these it is a slip of unit or decimal point, not a part of a small machine. [SI]
    """

    kind: Kind
    tool: str = ""
    low: float = -math.inf
    high: float = math.inf

    def __post_init__(self) -> None:
        examples = EXAMPLES[self.kind]
        bare = self.kind == "ratio"
        object.__setattr__(self, "written", examples if bare else _quoted(examples))
        if bare:
            object.__setattr__(self, "schema", {"type": ["string", "number"]})

    def read(self, value: object, scope: Scope) -> Parsed:
        """Quantity of this kind."""
        example = example_of(self.kind, scope.system)
        if isinstance(value, str):
            if value.strip().casefold() in _UNKNOWN_WORDS:
                raise UnitError(
                    what=f"nothing that can be read as {with_article(self.kind)}",
                    read=value,
                    allowed="leave the line out when it was not measured",
                )
            return parse(value, self.kind, atmosphere=scope.atmosphere)
        if isinstance(value, int | float) and not isinstance(value, bool):
            if self.kind == "ratio" and math.isfinite(value) and abs(value) < 1e18:
                return Parsed(value=float(value), sd=None, text=str(value), unit="")
            raise UnitError(
                what="a bare number has no unit",
                read=described(value),
                allowed=f'write it in quotation marks with its unit, for example "{example}"',
            )
        raise JobError(
            what=f"{with_article(self.kind)} is wanted",
            read=described(value),
            allowed=f'write for example "{example}"',
        )

    def doubt(self, read: Parsed, scope: Scope) -> JobError | None:
        """A value outside its bounds, or an uncertainty that says nothing."""
        if self.kind == "relative humidity":
            if 0.0 <= read.value <= 1.0:
                return None
            return JobError(
                what="relative humidity lies between 0 and 100 %",
                read=read.text,
                allowed="write for example 55 %RH",
            )
        if math.isinf(self.low):
            return None
        found = None
        if not self.low <= read.value <= self.high:
            found = JobError(
                what="outside what a small sealed machine can have",
                read=read.text,
                allowed=show_limits(
                    self.low, self.high, self.kind, scope.system, atmosphere=scope.atmosphere
                ),
            )
        widest = _WIDEST_KELVIN if self.kind == "temperature" else _WIDEST * abs(read.value)
        if read.sd is not None and read.sd > widest > 0.0:
            found = JobError(
                what="so wide an uncertainty says nothing",
                read=read.text,
                allowed="leave the line out when it was not measured",
            )
        return found

    def made(self, read: Parsed, scope: Scope) -> Any:
        """The number with its uncertainty, or the bare number of a key without a tool."""
        if not self.tool:
            return float(read.value)
        return reading(read, INSTRUMENTS[self.tool], scope.system)

    def advice(self, key: str, scope: Scope) -> str:
        """What to write when the key is missing."""
        return f'this key is needed: write {key} = "{example_of(self.kind, scope.system)}"'


@dataclass(frozen=True, slots=True)
class Count(Value):
    """A whole number between two bounds."""

    low: int
    high: int

    def __post_init__(self) -> None:
        object.__setattr__(self, "written", f"whole number, {self.low} to {self.high}")
        schema = {"type": "integer", "minimum": self.low, "maximum": self.high}
        object.__setattr__(self, "schema", schema)

    def read(self, value: object, scope: Scope) -> int:
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


@dataclass(frozen=True, slots=True)
class Choice(Value):
    """One word out of a few; `also` maps other spellings to them."""

    words: tuple[str, ...]
    also: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "written", " or ".join(f'"{word}"' for word in self.words))

    def read(self, value: object, scope: Scope) -> str:
        """Word as the project spells it."""
        hint = ""
        if isinstance(value, str):
            key = value.strip().casefold()
            known = {w.casefold(): w for w in self.words} | dict(self.also)
            if key in known:
                return known[key]
            import difflib  # only a mistake pays for it

            near = difflib.get_close_matches(key, list(known), n=1)
            hint = f"nearest: {known[near[0]]}; " if near else ""
        raise JobError(
            what="not one of the words that can stand here",
            read=described(value),
            allowed=f"{hint}allowed: {', '.join(self.words)}",
        )

    def advice(self, key: str, scope: Scope) -> str:
        """What to write when the key is missing."""
        return f"write {key} = {self.written}"


@dataclass(frozen=True, slots=True)
class Text(Value):
    """Free text: a title or the name of a part."""

    longest: int = 80
    written: str = "text"

    def read(self, value: object, scope: Scope) -> str:
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


@dataclass(frozen=True, slots=True)
class RatingCondition(Value):
    """A named condition at which compressors are rated."""

    written: str = _quoted(", ".join(CONVENTIONS))

    def read(self, value: object, scope: Scope) -> str:
        """Name as the project spells it."""
        return convention(Text().read(value, scope)).name


@dataclass(frozen=True, slots=True)
class RefrigerantName(Value):
    """A refrigerant by any of its usual names."""

    written: str = _quoted(", ".join(REFRIGERANTS[:4])) + " ..."

    def read(self, value: object, scope: Scope) -> str:
        """Name as the project spells it."""
        if isinstance(value, str):
            return canonical(value)
        raise JobError(
            what="the name of a refrigerant is wanted",
            read=described(value),
            allowed='write for example "R-134a"',
        )


@dataclass(frozen=True, slots=True)
class Refrigerants(Value):
    """A list of refrigerants."""

    most: int = 40
    written: str = '["R-134a", "R-290"]'
    schema: Mapping[str, Any] = dataclasses.field(
        default_factory=lambda: {"type": "array", "items": {"type": "string"}}
    )

    def read(self, value: object, scope: Scope) -> tuple[str, ...]:
        """Names as the project spells them."""
        if not isinstance(value, list):
            raise JobError(
                what="a list is wanted",
                read=described(value),
                allowed=f"write for example {self.written}",
            )
        if not value:
            raise JobError(what="the list is empty", allowed="at least one is needed")
        if len(value) > self.most:
            raise JobError(what="the list is too long", allowed=f"at most {self.most}")
        return tuple(RefrigerantName().read(name, scope) for name in value)

    def each(self, value: object, scope: Scope) -> list[tuple[int, JobError]]:
        """Names that are no refrigerant's, by their places."""
        found = []
        for n, name in enumerate(value[: self.most] if isinstance(value, list) else ()):
            try:
                RefrigerantName().read(name, scope)
            except JobError as error:
                found.append((n, error))
        return found


@dataclass(frozen=True, slots=True)
class Coefficients(Value):
    """Ten coefficients of a compressor map."""

    written: str = "[C1, ... C10] in the order of AHRI 540"
    schema: Mapping[str, Any] = dataclasses.field(
        default_factory=lambda: {"type": "array", "items": {"type": "number"}}
    )

    def read(self, value: object, scope: Scope) -> tuple[float, ...]:
        """Ten finite numbers."""
        if not isinstance(value, list) or len(value) != 10:
            raise JobError(
                what="a map has ten coefficients in the order of AHRI 540",
                read=f"{len(value)} numbers" if isinstance(value, list) else described(value),
                allowed="write [C1, C2, ... C10]",
            )
        out = []
        for item in value:
            number = isinstance(item, int | float) and not isinstance(item, bool)
            if not number or not abs(item) < 1e30:
                raise JobError(what="a coefficient is a plain number", read=described(item))
            out.append(float(item))
        return tuple(out)


@dataclass(frozen=True, slots=True)
class Range(Value):
    """Lowest and highest temperature of a map."""

    written: str = '["-10 °C", "12 °C"]'
    schema: Mapping[str, Any] = dataclasses.field(
        default_factory=lambda: {"type": "array", "items": {"type": "string"}}
    )

    def read(self, value: object, scope: Scope) -> tuple[Parsed, Parsed]:
        """Two temperatures, the lower first."""
        if not isinstance(value, list) or len(value) != 2:
            raise JobError(
                what="a range has a lowest and a highest temperature",
                read=described(value),
                allowed=f"write for example {self.written}",
            )
        low, high = (Quantity("temperature").read(v, scope) for v in value)
        if low.value >= high.value:
            raise JobError(
                what="the lowest temperature comes first", read=f"{low.text}, {high.text}"
            )
        return low, high

    def made(self, read: tuple[Parsed, Parsed], scope: Scope) -> tuple[float, float]:
        """Both in kelvin."""
        return read[0].value, read[1].value


@dataclass(frozen=True, slots=True)
class Tubes(Value):
    """Circuits as lists of tubes in the order of the refrigerant, as "B1-B10 A10-A1"."""

    written: str = '["B1-B5 A5-A1", "B6-B10 A10-A6"]'
    schema: Mapping[str, Any] = dataclasses.field(
        default_factory=lambda: {"type": "array", "items": {"type": "string"}}
    )

    def read(self, value: object, scope: Scope) -> Circuiting:
        """Paths of (row, tube), counted from zero."""
        if isinstance(value, str):
            value = [value]
        if not isinstance(value, list) or not value or not all(isinstance(v, str) for v in value):
            raise JobError(
                what="the tubes of each circuit are wanted, in the order of the refrigerant",
                read=described(value),
                allowed=f"write for example {self.written}",
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


@dataclass(frozen=True, slots=True)
class Speeds(Value):
    """Relative air speed over the face of a coil, from the top down."""

    written: str = "[1.0, 1.3, 1.1]"
    schema: Mapping[str, Any] = dataclasses.field(
        default_factory=lambda: {"type": "array", "items": {"type": "number"}}
    )

    def read(self, value: object, scope: Scope) -> tuple[float, ...]:
        """Two or more positive numbers."""
        numbers = isinstance(value, list) and all(
            isinstance(v, int | float) and not isinstance(v, bool) for v in value
        )
        if not numbers or not isinstance(value, list) or not 2 <= len(value) <= 80:
            raise JobError(
                what="air speeds over the face are wanted, from the top down",
                read=described(value),
                allowed=f"2 to 80 plain numbers in any unit, as {self.written}",
            )
        if not (min(value) > 0.0 and max(value) <= 20.0 * min(value)):
            raise JobError(
                what="every speed must be above zero and the fastest at most twenty times the "
                "slowest",
                read=", ".join(f"{v:g}" for v in value[:8]),
            )
        return tuple(float(v) for v in value)


@dataclass(frozen=True, slots=True)
class YesNo(Value):
    """True or false."""

    written: str = "true or false"
    schema: Mapping[str, Any] = dataclasses.field(default_factory=lambda: {"type": "boolean"})

    def read(self, value: object, scope: Scope) -> bool:
        """Truth value."""
        if isinstance(value, bool):
            return value
        words = {"true": True, "yes": True, "false": False, "no": False}
        if isinstance(value, str) and value.strip().casefold() in words:
            return words[value.strip().casefold()]
        raise JobError(what="true or false is wanted", read=described(value))


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
        return self.us if system == "US" and self.us else self.note


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a job at the moment a default or another way to say a field is needed."""

    made: Mapping[str, Any]  # fields of the part made so far
    job: Mapping[str, Any]  # parts made so far
    scope: Scope
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
    beside : bool
        The key stands beside the field's own and tells how to read it.
    matters : Matters
        What an error of it does to the answers.
    """

    meaning: str
    value: Value
    label: str = ""
    name: str = ""
    default: Assumed | Callable[[Known], Assumed | None] | None = None
    otherwise: str = ""
    turn: Callable[[Any, Known], Any] | None = None
    beside: bool = False
    matters: Matters | None = None


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
    """

    name: str = ""
    many: int = 0
    needed: bool = False
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
    if isinstance(annotation, type) and dataclasses.is_dataclass(annotation):
        return annotation
    for argument in typing.get_args(annotation):
        if isinstance(argument, type) and dataclasses.is_dataclass(argument):
            return argument
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

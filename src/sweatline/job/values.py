"""How the value of one key of a job file is read, and what is allowed there."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from sweatline.errors import JobError, UnitError
from sweatline.job.vocabulary import CONVENTIONS, INSTRUMENTS, convention, reading
from sweatline.parts.circuiting import Circuiting, Path
from sweatline.refrigerant.names import find
from sweatline.units import (
    EXAMPLES,
    Kind,
    Parsed,
    Scale,
    example_of,
    one_line,
    parse,
    with_article,
)

_UNKNOWN_WORDS: Final = frozenset({"", "?", "-", "unknown", "n/a", "na", "none", "tbd"})
NOT_KNOWN: Final = "not known"
"""Stands in a job file where somebody was asked and could not say: as if the line were left out."""
_NOT_KNOWN_WORDS: Final = frozenset(
    {NOT_KNOWN, "don't know", "dont know", "do not know", "i don't know", "no idea", "dunno", "?"}
)
# Uncertainty beyond which a reading says nothing: share of the value, or kelvin of a temperature.
_WIDEST: Final = 0.6
_WIDEST_KELVIN: Final = 20.0


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


def is_not_known(text: str) -> bool:
    """Whether a person says that he does not know."""
    return " ".join(text.replace("’", "'").casefold().rstrip(".").split()) in _NOT_KNOWN_WORDS


def _refused(what: str, value: object, allowed: str = "") -> JobError:
    return JobError(what=what, read=described(value), allowed=allowed)


def _quoted(words: str) -> str:
    return ", ".join(f'"{word}"' for word in words.split(", "))


class Value:
    """How the value of one key is read."""

    written: str = ""
    """How it is written, with examples, for the documentation."""
    schema: Mapping[str, Any] = MappingProxyType({"type": "string"})
    """Its type in the JSON schema of a job file."""

    joint: str = ", "
    """Between the values of a list when a person types them on one line."""

    def typed(self, text: str) -> Any:
        """What stands in the file for what a person types on one line."""
        return text.strip()

    def read(self, value: object, scale: Scale) -> Any:
        """Value as it goes into checks between keys.

        Raises
        ------
        JobError
            It cannot be read; the sentence says what is allowed.
        """
        raise NotImplementedError

    def doubt(self, read: Any, scale: Scale) -> JobError | None:
        """Why a value that can be read cannot be right; None when it can."""
        return None

    def made(self, read: Any, scale: Scale) -> Any:
        """Value as the job holds it."""
        return read

    def advice(self, key: str, scale: Scale) -> str:
        """What to write when the key is missing."""
        return "this key is needed"


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

    def __init__(
        self, kind: Kind, tool: str = "", low: float = -math.inf, high: float = math.inf
    ) -> None:
        self.kind, self.tool, self.low, self.high = kind, tool, low, high
        self.written = EXAMPLES[kind]
        if kind == "ratio":
            self.schema = {"type": ["string", "number"]}
        else:
            self.written = _quoted(self.written)

    def read(self, value: object, scale: Scale) -> Parsed:
        """Quantity of this kind."""
        example = example_of(self.kind, scale.system, low=self.low, high=self.high)
        if isinstance(value, str):
            if value.strip().casefold() in _UNKNOWN_WORDS:
                raise UnitError(
                    what=f"nothing that can be read as {with_article(self.kind)}",
                    read=value,
                    allowed="leave the line out when it was not measured",
                )
            return parse(value, self.kind, atmosphere=scale.atmosphere)
        if isinstance(value, int | float) and not isinstance(value, bool):
            if self.kind == "ratio" and math.isfinite(value) and abs(value) < 1e18:
                return Parsed(value=float(value), sd=None, text=str(value), unit="")
            raise UnitError(
                what="a bare number has no unit",
                read=described(value),
                allowed=f'write it in quotation marks with its unit, for example "{example}"',
            )
        raise _refused(
            f"{with_article(self.kind)} is wanted", value, f'write for example "{example}"'
        )

    def doubt(self, read: Parsed, scale: Scale) -> JobError | None:
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
                allowed=scale.limits(self.low, self.high, self.kind),
            )
        widest = _WIDEST_KELVIN if self.kind == "temperature" else _WIDEST * abs(read.value)
        if read.sd is not None and read.sd > widest > 0.0:
            found = JobError(
                what="so wide an uncertainty says nothing",
                read=read.text,
                allowed="leave the line out when it was not measured",
            )
        return found

    def made(self, read: Parsed, scale: Scale) -> Any:
        """The number with its uncertainty, or the bare number of a key without a tool."""
        if not self.tool:
            return float(read.value)
        return reading(read, INSTRUMENTS[self.tool], scale.system)

    def advice(self, key: str, scale: Scale) -> str:
        """What to write when the key is missing."""
        return f'this key is needed: write {key} = "{example_of(self.kind, scale.system)}"'


class Count(Value):
    """A whole number between two bounds."""

    def __init__(self, low: int, high: int) -> None:
        self.low, self.high = low, high
        self.written = f"whole number, {low} to {high}"
        self.schema = {"type": "integer", "minimum": low, "maximum": high}

    def typed(self, text: str) -> Any:
        """The number, or the text when it is none."""
        text = text.strip()
        return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else text

    def read(self, value: object, scale: Scale) -> int:
        """Whole number within the bounds."""
        if isinstance(value, str) and value.strip().isascii() and value.strip().isdigit():
            value = int(value.strip()[:10])
        if isinstance(value, bool) or not isinstance(value, int):
            raise _refused(
                "a whole number is wanted", value, f"{self.low} to {self.high}, without unit"
            )
        if not self.low <= value <= self.high:
            raise _refused("outside what such a part can have", value, f"{self.low} to {self.high}")
        return value


class Choice(Value):
    """One word out of a few; `also` maps other spellings to them, `why` says what they mean."""

    def __init__(
        self, words: tuple[str, ...], also: tuple[tuple[str, str], ...] = (), why: str = ""
    ) -> None:
        self.words, self.also, self.why = words, also, why
        self.written = " or ".join(f'"{word}"' for word in words)

    def read(self, value: object, scale: Scale) -> str:
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
        raise _refused(
            "not one of the words that can stand here",
            value,
            f"{hint}allowed: {', '.join(self.words)}{self.why}",
        )

    def advice(self, key: str, scale: Scale) -> str:
        """What to write when the key is missing."""
        return f"write {key} = {self.written}"


class Text(Value):
    """Free text: a title or the name of a part."""

    longest = 80
    written = "text"

    def read(self, value: object, scale: Scale) -> str:
        """Text on one line."""
        if isinstance(value, str):
            text = one_line(value)
            if 0 < len(text) <= self.longest:
                return text
        raise _refused(
            "a short text is wanted", value, f"1 to {self.longest} characters in quotation marks"
        )


class RatingCondition(Value):
    """A named condition at which compressors are rated."""

    written = _quoted(", ".join(CONVENTIONS))

    def read(self, value: object, scale: Scale) -> str:
        """Name as the project spells it."""
        return convention(Text().read(value, scale)).name


class RefrigerantName(Value):
    """A refrigerant by any of its usual names, or a hydrocarbon mixture by mass."""

    written = '"R-134a", "R-290/R-600a 60/40"'

    def read(self, value: object, scale: Scale) -> str:
        """Name as the project spells it."""
        if isinstance(value, str):
            return find(one_line(value[:60]))
        raise _refused("the name of a refrigerant is wanted", value, 'write for example "R-134a"')


class Coefficients(Value):
    """Ten coefficients of a compressor map."""

    written = "[C1, ... C10] in the order of AHRI 540"
    schema = MappingProxyType({"type": "array", "items": {"type": "number"}})

    def read(self, value: object, scale: Scale) -> tuple[float, ...]:
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
                raise _refused("a coefficient is a plain number", item)
            out.append(float(item))
        return tuple(out)


class Range(Value):
    """Lowest and highest temperature of a map."""

    written = '["-10 °C", "12 °C"]'
    schema = MappingProxyType({"type": "array", "items": {"type": "string"}})

    def read(self, value: object, scale: Scale) -> tuple[Parsed, Parsed]:
        """Two temperatures, the lower first."""
        if not isinstance(value, list) or len(value) != 2:
            raise _refused(
                "a range has a lowest and a highest temperature",
                value,
                f"write for example {self.written}",
            )
        low, high = (Quantity("temperature").read(v, scale) for v in value)
        if low.value >= high.value:
            raise JobError(
                what="the lowest temperature comes first", read=f"{low.text}, {high.text}"
            )
        return low, high

    def made(self, read: tuple[Parsed, Parsed], scale: Scale) -> tuple[float, float]:
        """Both in kelvin."""
        return read[0].value, read[1].value


class Tubes(Value):
    """Circuits as lists of tubes in the order of the refrigerant, as "B1-B10 A10-A1"."""

    written = '["B1-B5 A5-A1", "B6-B10 A10-A6"]'
    schema = MappingProxyType({"type": "array", "items": {"type": "string"}})

    joint = "; "

    def typed(self, text: str) -> Any:
        """A list with the tubes of each circuit."""
        return [one.strip() for one in text.split(";") if one.strip()]

    def read(self, value: object, scale: Scale) -> Circuiting:
        """Paths of (row, tube), counted from zero."""
        if isinstance(value, str):
            value = [value]
        if not isinstance(value, list) or not value or not all(isinstance(v, str) for v in value):
            raise _refused(
                "the tubes of each circuit are wanted, in the order of the refrigerant",
                value,
                f"write for example {self.written}",
            )
        return tuple(self._path(text) for text in value)

    def _path(self, text: str) -> Path:
        found: list[tuple[int, int]] = []
        for word in text.replace(",", " ").split():
            ends = re.fullmatch(r"([A-L])([1-9]\d?)(?:-([A-L])([1-9]\d?))?", word.upper())
            if ends is None or ends[3] not in (None, ends[1]):
                raise _refused(
                    "neither a tube nor a run of tubes in one row",
                    word,
                    "row letter, A where the air enters, and number from the top: "
                    '"A3", or "A3-A7" for a run',
                )
            row, first = "ABCDEFGHIJKL".index(ends[1]), int(ends[2]) - 1
            last = int(ends[4]) - 1 if ends[4] else first
            step = 1 if last >= first else -1
            found += [(row, tube) for tube in range(first, last + step, step)]
        if not found:
            raise _refused("a circuit without a tube", text)
        return tuple(found)


class Speeds(Value):
    """Relative air speed over the face of a coil, from the top down."""

    written = "[1.0, 1.3, 1.1]"
    schema = MappingProxyType({"type": "array", "items": {"type": "number"}})

    def typed(self, text: str) -> Any:
        """The numbers, or the text when there are others."""
        words = text.replace(";", " ").replace(", ", " ").split()
        try:
            return [float(word) for word in words]
        except ValueError:
            return text.strip()

    def read(self, value: object, scale: Scale) -> tuple[float, ...]:
        """Two or more positive numbers."""
        numbers = isinstance(value, list) and all(
            isinstance(v, int | float) and not isinstance(v, bool) for v in value
        )
        if not numbers or not isinstance(value, list) or not 2 <= len(value) <= 80:
            raise _refused(
                "air speeds over the face are wanted, from the top down",
                value,
                f"2 to 80 plain numbers in any unit, as {self.written}",
            )
        if not (min(value) > 0.0 and max(value) <= 20.0 * min(value)):
            raise JobError(
                what="every speed must be above zero and the fastest at most twenty times the "
                "slowest",
                read=", ".join(f"{v:g}" for v in value[:8]),
            )
        return tuple(float(v) for v in value)


class Price(NamedTuple):
    """An amount of money, for a unit of something or by itself."""

    amount: float  # of the currency, for an SI unit
    currency: str


class Money(Value):
    """An amount of money with its currency, as "0.32 EUR/kWh".

    Parameters
    ----------
    per : str
        What it is for: ``/kWh``, ``/h``, or nothing.
    low, high : float
        Bounds of the number as written.
    """

    _WRITTEN: Final = re.compile(
        r"(?P<before>[^\d\s.,+-]{1,4})?\s*(?P<number>\d+(?:[.,]\d+)?)\s*(?P<after>[^\d\s/]{1,4})?"
        r"\s*(?P<per>/\s*\w+)?"
    )
    _SI: Final = MappingProxyType({"": 1.0, "/kWh": 3.6e6, "/h": 3600.0})

    def __init__(self, per: str, low: float, high: float) -> None:
        self.per, self.low, self.high = per, low, high
        self.written = f'"0.32 EUR{per}"' if per == "/kWh" else f'"25 EUR{per}"'

    def read(self, value: object, scale: Scale) -> Price:
        """Amount for an SI unit, and its currency."""
        found = self._WRITTEN.fullmatch(value.strip()) if isinstance(value, str) else None
        currency = (found["before"] or found["after"] or "") if found else ""
        per = (found["per"] or "").replace(" ", "") if found else ""
        if found is None or not currency or per.casefold() != self.per.casefold():
            raise _refused("an amount with its currency is wanted", value, f"write {self.written}")
        amount = float(found["number"].replace(",", "."))
        if not self.low <= amount <= self.high:
            raise _refused(
                "outside what can be meant", value, f"{self.low:g} to {self.high:g} {currency}"
            )
        return Price(amount / self._SI[self.per], currency)


class YesNo(Value):
    """True or false."""

    written = "true or false"
    schema = MappingProxyType({"type": "boolean"})

    words: Final = MappingProxyType({"true": True, "yes": True, "false": False, "no": False})

    def typed(self, text: str) -> Any:
        """The truth value, or the text when it is none."""
        return self.words.get(text.strip().casefold(), text.strip())

    def read(self, value: object, scale: Scale) -> bool:
        """Truth value."""
        if isinstance(value, bool):
            return value
        if isinstance(value, str) and value.strip().casefold() in self.words:
            return self.words[value.strip().casefold()]
        raise _refused("true or false is wanted", value)

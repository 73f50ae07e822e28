"""How one value of a job file is read: each rule stands in the annotation of its key.

Every refusal is one sentence in the trade's words; the library that checks the shape of the file is
used in :mod:`sweatline.job.schema` and here only.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from pydantic import (
    GetCoreSchemaHandler,
    ValidationInfo,
)
from pydantic_core import CoreSchema, core_schema

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError, UnitError
from sweatline.job.names import canonical
from sweatline.parts.circuiting import Circuiting, Path
from sweatline.units import EXAMPLES, Kind, Parsed, one_line, parse

__all__ = [
    "Choice",
    "Coefficients",
    "Count",
    "Fitted",
    "Name",
    "Quantity",
    "Range",
    "RefrigerantName",
    "Speeds",
    "Tubes",
    "described",
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

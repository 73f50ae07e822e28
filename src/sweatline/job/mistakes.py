"""Mistakes in a job file, told as sentences: on which line, what was read, what is allowed.

The parser of the standard library keeps no positions. The locator reads only as much as finding
them needs, and relies on the text having been accepted by that parser first.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Final

from sweatline.errors import JobError
from sweatline.job.values import described

Path = tuple[str | int, ...]

_BARE: Final = re.compile(r"[A-Za-z0-9_-]+")
_SPACE: Final = re.compile(r"[ \t]*")
_BLANK: Final = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_STRING: Final = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}'
    r"|'''.*?'{3,5}"
    r'|"(?:\\.|[^"\\])*"'
    r"|'[^']*'",
    re.DOTALL,
)
_SCALAR: Final = re.compile(r"[^,\]}#\n]+")
_ESCAPE: Final = re.compile(r'\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|([btnfr"\\]))')
_ESCAPED: Final = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}


class _Lost(Exception):
    """The text is not what the locator understands: it gives up without harm."""


class _Reader:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[Path, int] = {}
        self.tables: dict[Path, int] = {}  # arrays of tables: how many entries so far
        self.ends = [n for n, c in enumerate(text) if c == "\n"]

    def line(self) -> int:
        return bisect_left(self.ends, self.at) + 1

    def skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        if match:
            self.at = match.end()

    def take(self, literal: str) -> bool:
        if self.text.startswith(literal, self.at):
            self.at += len(literal)
            return True
        return False

    def key(self) -> list[str]:
        out = []
        while True:
            self.skip(_SPACE)
            match = _BARE.match(self.text, self.at)
            if match is None:
                match = _STRING.match(self.text, self.at)
                if match is None:
                    raise _Lost
                out.append(_unquote(match[0]))
            else:
                out.append(match[0])
            self.at = match.end()
            self.skip(_SPACE)
            if not self.take("."):
                return out

    def value(self, path: Path) -> None:
        self.skip(_SPACE)
        string = _STRING.match(self.text, self.at)
        if string:
            self.at = string.end()
        elif self.take("["):
            self.items(path)
        elif self.take("{"):
            self.inline(path)
        else:
            scalar = _SCALAR.match(self.text, self.at)
            if scalar is None:
                raise _Lost
            self.at = scalar.end()

    def items(self, path: Path) -> None:
        index = 0
        while True:
            self.skip(_BLANK)
            if self.take("]"):
                return
            self.note((*path, index))
            self.value((*path, index))
            index += 1
            self.skip(_BLANK)
            if not self.take(",") and not self.text.startswith("]", self.at):
                raise _Lost

    def inline(self, path: Path) -> None:
        while True:
            self.skip(_BLANK)
            if self.take("}"):
                return
            self.pair(path)
            self.skip(_BLANK)
            if not self.take(",") and not self.text.startswith("}", self.at):
                raise _Lost

    def note(self, path: Path) -> None:
        line = self.line()
        self.found.setdefault(path, line)

    def pair(self, base: Path) -> None:
        start = self.at
        parts = self.key()
        end, self.at = self.at, start
        for n in range(1, len(parts) + 1):
            self.note((*base, *parts[:n]))
        self.at = end
        if not self.take("="):
            raise _Lost
        self.value((*base, *parts))

    def resolved(self, parts: list[str], *, last_is_array: bool) -> Path:
        """Header's path with the running index put after every array of tables in it."""
        path: Path = ()
        for n, part in enumerate(parts):
            path = (*path, part)
            last = n == len(parts) - 1
            if last and last_is_array:
                index = self.tables.get(path, 0)
                self.tables[path] = index + 1
                self.found.setdefault(path, self.line())
                path = (*path, index)
            elif path in self.tables:
                path = (*path, self.tables[path] - 1)
            self.found.setdefault(path, self.line())
        return path

    def read(self) -> None:
        base: Path = ()
        while True:
            self.skip(_BLANK)
            if self.at >= len(self.text):
                return
            if self.take("[["):
                parts = self.key()
                base = self.resolved(parts, last_is_array=True)
                if not self.take("]]"):
                    raise _Lost
            elif self.take("["):
                parts = self.key()
                base = self.resolved(parts, last_is_array=False)
                if not self.take("]"):
                    raise _Lost
            else:
                self.pair(base)


def _unquote(quoted: str) -> str:
    body = quoted[1:-1]
    if quoted.startswith("'"):
        return body

    def plain(match: re.Match[str]) -> str:
        code = match[1] or match[2]
        return chr(int(code, 16)) if code else _ESCAPED[match[3]]

    return _ESCAPE.sub(plain, body)


def locate(text: str) -> Mapping[Path, int]:
    """Line of every key and array item of a TOML text, by its path; counted from one.

    Stops without complaint where the text is not understood: the lines found so far are right.
    """
    reader = _Reader(text)
    with suppress(_Lost, RecursionError):
        reader.read()
    return reader.found


def line_of(path: Path, lines: Mapping[Path, int]) -> int | None:
    """Line of a path, or of the nearest table above it that stands in the text."""
    while path:
        if path in lines:
            return lines[path]
        # A single table standing where a list of tables could stand has no index of its own.
        whole = tuple(p for n, p in enumerate(path) if not (p == 0 and n == 1))
        if whole in lines:
            return lines[whole]
        path = path[:-1]
    return None


MOST: Final = 40  # mistakes told at once

# What people call things, where that is not near enough to the key in spelling.
_ALSO: Final[Mapping[str, str]] = {
    "rh": "humidity",
    "relative_humidity": "humidity",
    "temp": "temperature",
    "t": "temperature",
    "od": "tube_outer_diameter",
    "diameter": "tube_outer_diameter",
    "wall": "tube_wall",
    "id": "bore",
    "inner_diameter": "bore",
    "tube_inner_diameter": "tube_bore",
    "flow": "airflow",
    "air_flow": "airflow",
    "cfm": "airflow",
    "volts": "voltage",
    "hz": "frequency",
    "watts": "power",
    "amps": "current",
    "elevation": "altitude",
    "height": "altitude",
    "barometer": "pressure",
    "fpi": "fin_pitch",
    "fins_per_inch": "fin_pitch",
    "fin_spacing": "fin_pitch",
    "tube_pitch": "transverse_pitch",
    "row_pitch": "longitudinal_pitch",
    "width": "finned_length",
    "convention": "conditions",
    "unit_system": "units",
    "gas": "refrigerant",
    "compressors": "compressor",
    "capillaries": "capillary",
    "capillary_tube": "capillary",
    "mains": "supply",
    "evap": "evaporator",
    "cond": "condenser",
    "readings": "ran_well",
    "known_good": "ran_well",
    "discharge_pressure": "head_pressure",
    "low_side": "suction_pressure",
    "high_side": "head_pressure",
    "water_removal": "water",
    "nameplate": "original",
    "plate": "original",
}


Refusal = tuple[Path, JobError]
"""One thing that cannot be, and the path of its key in the file."""


@dataclass(eq=False)
class JobFaults(JobError):
    """Several mistakes in one job file: what the first one says, and all in the order of lines."""

    faults: tuple[JobError, ...] = ()
    untold: int = 0  # mistakes beyond those listed

    def __str__(self) -> str:
        lines = [str(fault) for fault in self.faults]
        if self.untold:
            lines.append(f"{self.path}: and {self.untold} more")
        return "\n".join(lines)


def field_name(path: Path) -> str:
    """Path as a person counts: compressor[2].displacement is that of the second compressor."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{described(part)}" if text else described(part)
    return text


def all_faults(
    refusals: Iterable[Refusal], unread: int, lines: Mapping[Path, int], shown: str
) -> JobError | None:
    """One error that tells every refusal in the order of the lines; None when there is none.

    Parameters
    ----------
    refusals : iterable of Refusal
        Of two about one key the later is told: it names the part in the way.
    unread : int
        Mistakes beyond those that were looked at.
    lines : mapping
        Line of each path in the file.
    shown : str
        Name of the file.
    """
    faults = []
    for path, error in dict(refusals).items():
        error.field, error.path, error.line = field_name(path), shown, line_of(path, lines)
        faults.append(error)
    faults.sort(key=lambda f: (f.line is None, f.line or 0))
    told, more = faults[:MOST], len(faults[MOST:]) + unread
    if len(told) < 2:
        return told[0] if told else None
    return JobFaults(**vars(told[0]), faults=tuple(told), untold=more)


def nearest(key: str, keys: Sequence[str]) -> list[str]:
    """Keys that an unknown one may stand for, the likeliest first."""
    import difflib  # only a mistake pays for it

    folded = key[:40].casefold().replace("-", "_").replace(" ", "_")
    near = [_ALSO[folded]] if _ALSO.get(folded) in keys else []
    return near + [
        n for n in difflib.get_close_matches(folded, keys, n=3, cutoff=0.55) if n not in near
    ]


# What the parser says, in words that tell what to do; the rest is passed on as it is.
_TOLD: Final = (
    (r"Cannot declare \('(.+?)',?\) twice", "the table [{}] stands twice"),
    (r"Cannot overwrite a value", "a key that stands twice, or is a value and a table"),
    (r"Invalid value", "a value that needs quotation marks"),
    (r"Invalid statement", "a line that is neither a [table] nor a key = value"),
    (r"Expected '=' after a key.*", "a key without = and a value"),
    (r"Expected newline or end of document after a statement", "more than one value on a line"),
    (r"Illegal character '\\n'", "a quotation mark that is not closed"),
    (r"Exceeds the limit .*", "a number far too long"),
    (r"Unterminated string", "a quotation mark that is not closed"),
)


def told(message: str) -> str:
    """What the parser of TOML complains of, in a person's words."""
    for pattern, words in _TOLD:
        match = re.fullmatch(pattern, message)
        if match:
            return words.format(*(g.replace("', '", ".") for g in match.groups()))
    return message[:1].lower() + message[1:120]

"""Mistakes in a job file, told as sentences: on which line, what was read, what is allowed.

The parser of the standard library keeps no positions. The locator reads only as much as finding
them needs, and relies on the text having been accepted by that parser first.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Final

from sweatline.errors import JobError
from sweatline.job.values import described

Path = tuple[str | int, ...]

# Marks of TOML, what may stand as a key, whole strings; white space and comments have no group.
_TOKEN: Final = re.compile(
    r"[ \t\r]+|#[^\n]*"
    r"|(?P<key>[A-Za-z0-9_-]+"
    r'|"""(?:\\.|[^\\])*?"{3,5}'
    r"|'''.*?'{3,5}"
    r'|"(?:\\.|[^"\\])*"'
    r"|'[^']*')"
    r"|(?P<mark>.)",
    re.DOTALL,
)
_ESCAPE: Final = re.compile(r'\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|([btnfr"\\]))')
_ESCAPED: Final = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}


class _Lost(Exception):
    """The text is not what the locator understands: it gives up without harm."""


class _Locator:
    """Goes through the tokens of a text; past the last one it stops with an IndexError."""

    def __init__(self, text: str) -> None:
        self.tokens: list[tuple[str, bool, int]] = []  # text, whether it may be a key, line
        self.at = 0
        self.found: dict[Path, int] = {}
        self.tables: dict[Path, int] = {}  # arrays of tables: how many entries so far
        line = 1
        for match in _TOKEN.finditer(text):
            if match.lastgroup:
                self.tokens.append((match[0], match.lastgroup == "key", line))
            line += match[0].count("\n")

    def take(self, mark: str) -> bool:
        taken = self.tokens[self.at][0] == mark
        self.at += taken
        return taken

    def key(self) -> list[str]:
        out = []
        while True:
            text, fits, _line = self.tokens[self.at]
            if not fits:
                raise _Lost
            out.append(_unquote(text) if text[0] in "\"'" else text)
            self.at += 1
            if not self.take("."):
                return out

    def value(self, path: Path) -> None:
        if self.take("["):
            self.inside(path, "]")
        elif self.take("{"):
            self.inside(path, "}")
        else:
            while self.tokens[self.at][0] not in "\n,]}":
                self.at += 1

    def inside(self, path: Path, end: str) -> None:
        """What stands in an array or in an inline table."""
        index = 0
        while True:
            self.blank()
            if self.take(end):
                return
            if end == "]":
                self.note((*path, index))
                self.value((*path, index))
                index += 1
            else:
                self.pair(path)
            self.blank()
            if not self.take(",") and self.tokens[self.at][0] != end:
                raise _Lost

    def blank(self) -> None:
        while self.take("\n"):
            pass

    def note(self, path: Path) -> None:
        self.found.setdefault(path, self.tokens[self.at][2])

    def pair(self, base: Path) -> None:
        start = self.at
        parts = self.key()
        for n in range(1, len(parts) + 1):
            self.found.setdefault((*base, *parts[:n]), self.tokens[start][2])
        if not self.take("="):
            raise _Lost
        self.value((*base, *parts))

    def header(self, *, many: bool) -> Path:
        """Path of a header, with the running index put after every array of tables in it."""
        path: Path = ()
        parts = self.key()
        for n, part in enumerate(parts, 1):
            path = (*path, part)
            self.note(path)
            if many and n == len(parts):
                self.tables[path] = self.tables.get(path, 0) + 1
            if path in self.tables:
                path = (*path, self.tables[path] - 1)
                self.note(path)
        if not self.take("]") or (many and not self.take("]")):
            raise _Lost
        return path

    def read(self) -> None:
        base: Path = ()
        while True:
            self.blank()
            if self.take("["):
                base = self.header(many=self.take("["))
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
    locator = _Locator(text)
    with suppress(_Lost, IndexError, RecursionError):
        locator.read()
    return locator.found


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
    "motor_kind": "motor",
    "motor_type": "motor",
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

# Words that speak of an expansion device which no job can have.
_VALVES: Final = frozenset({
    "valve", "expansion", "expansion_valve", "expansion_device", "metering", "metering_device",
    "throttle", "txv", "tev", "eev", "eexv", "exv", "axv", "aev", "orifice", "piston",
})  # fmt: skip


def no_valve(word: str) -> JobError | None:
    """What is said where a key or an answer names a valve; None where it does not."""
    if word.strip().casefold().replace("-", "_").replace(" ", "_") not in _VALVES:
        return None
    return JobError(
        what="an expansion valve is not known yet",
        allowed="sweatline computes circuits with a capillary tube",
    )


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
    refusals: Iterable[Refusal], lines: Mapping[Path, int], shown: str
) -> JobError | None:
    """One error that tells every refusal in the order of the lines; None when there is none.

    Parameters
    ----------
    refusals : iterable of Refusal
        Of two about one key the later is told: it names the part in the way.
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
    if len(faults) < 2:
        return faults[0] if faults else None
    listed = tuple(faults[:MOST])
    return JobFaults(**vars(listed[0]), faults=listed, untold=len(faults) - len(listed))


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

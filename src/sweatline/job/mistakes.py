"""Mistakes in a job file, told as sentences: where, what was read, what is allowed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from sweatline.errors import JobError
from sweatline.job.locator import Path, line_of
from sweatline.job.values import described

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """One thing that cannot be; `path` is the key in the file."""

    path: Path
    what: str
    read: str = ""
    allowed: str = ""
    error: type[JobError] = JobError

    @classmethod
    def of(cls, path: Path, error: JobError) -> Refusal:
        """The refusal that an error about one value is."""
        return cls(
            path=path, what=error.what, read=error.read, allowed=error.allowed, error=type(error)
        )


@dataclass(eq=False)
class JobFaults(JobError):
    """Several mistakes in one job file: the first, and the others in the order of their lines."""

    others: tuple[JobError, ...] = ()
    untold: int = 0  # mistakes beyond those listed

    @property
    def faults(self) -> tuple[JobError, ...]:
        """Every mistake, the first one included."""
        first = JobError(
            what=self.what,
            allowed=self.allowed,
            read=self.read,
            field=self.field,
            path=self.path,
            line=self.line,
        )
        return (first, *self.others)

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
    faults = [
        one.error(
            what=one.what,
            allowed=one.allowed,
            read=one.read,
            field=field_name(one.path),
            path=shown,
            line=line_of(one.path, lines),
        )
        for one in {r.path: r for r in refusals}.values()
    ]
    if not faults:
        return None
    faults.sort(key=lambda f: (f.line is None, f.line or 0))
    untold, faults = len(faults[MOST:]) + unread, faults[:MOST]
    first, *others = faults
    if not others:
        return first
    return JobFaults(
        what=first.what,
        allowed=first.allowed,
        read=first.read,
        field=first.field,
        path=first.path,
        line=first.line,
        others=tuple(others),
        untold=untold,
    )


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

"""Mistakes in a job file, told as sentences: what was read, what is allowed, where."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from pydantic import BaseModel, ValidationError

from sweatline.errors import JobError
from sweatline.job.locator import Path, line_of
from sweatline.job.rules import Choice, Quantity, described
from sweatline.job.schema import LISTS, JobFile
from sweatline.units import EXAMPLES

__all__ = ["MOST", "JobFaults", "field_name", "section_of", "sentences", "told"]

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


def sentences(error: ValidationError, lines: Mapping[Path, int], shown: str) -> Iterator[JobError]:
    """Mistakes of shape and spelling in a job file, one sentence each."""
    errors = error.errors(include_url=False)
    unknown = [tuple(e["loc"]) for e in errors if e["type"] == "extra_forbidden"][: 5 * MOST]
    misspelt = {(*path[:-1], near) for path in unknown for near in _nearest(path)[:1]}
    for fault in errors:
        path: Path = tuple(fault["loc"])
        if fault["type"] == "missing" and path in misspelt:
            continue
        what, allowed, read = fault["msg"], "", ""
        cls: type[JobError] = JobError
        if fault["type"] == "value_error":
            cause = fault.get("ctx", {}).get("error")
            if isinstance(cause, JobError):
                what, allowed, read, cls = cause.what, cause.allowed, cause.read, type(cause)
        elif fault["type"] == "extra_forbidden":
            what, allowed = _unknown(path)
        elif fault["type"] == "missing":
            what, allowed = _missing(path)
        elif fault["type"] in {"model_type", "model_attributes_type", "dict_type"}:
            what, read = "a table of keys is wanted", described(fault["input"])
            allowed = f"write [{field_name(path)}] and its keys below"
        elif fault["type"] == "list_type":
            what, read = "a list is wanted", described(fault["input"])
            allowed = 'write for example ["R-134a", "R-290"]'
            if path[0] != "refrigerants":
                allowed = f"write [[{field_name(path)}]] and its keys below, once for each"
        elif fault["type"] == "too_short":
            what, allowed = "the list is empty", "at least one is needed"
        elif fault["type"] == "too_long":
            what, allowed = "the list is too long", "split the job"
        yield cls(
            what=what,
            allowed=allowed,
            read=read,
            field=field_name(path),
            path=shown,
            line=line_of(path, lines),
        )


def _section_at(path: Path) -> type[BaseModel] | None:
    """Section that a path of keys leads to."""
    section: type[BaseModel] = JobFile
    for part in path:
        if isinstance(part, int):
            continue
        field = section.model_fields.get(part)
        if field is None:
            return None
        inner = section_of(field.annotation)
        if inner is None:
            return None
        section = inner
    return section


def section_of(annotation: Any) -> type[BaseModel] | None:
    """Section that a key holds, alone or in a list; None when it holds a value."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for argument in getattr(annotation, "__args__", ()):
        found = section_of(argument)
        if found is not None:
            return found
    return None


def _keys(path: Path) -> list[str]:
    """Keys that may stand beside the one a path ends in."""
    section = _section_at(path[:-1])
    return list(section.model_fields) if section is not None else []


def _nearest(path: Path) -> list[str]:
    """Keys that an unknown one may stand for, the likeliest first."""
    import difflib

    keys = _keys(path)
    folded = str(path[-1])[:40].casefold().replace("-", "_").replace(" ", "_")
    near = [_ALSO[folded]] if _ALSO.get(folded) in keys else []
    return near + [
        n for n in difflib.get_close_matches(folded, keys, n=3, cutoff=0.55) if n not in near
    ]


def _unknown(path: Path) -> tuple[str, str]:
    key, keys = str(path[-1]), _keys(path)
    if len(path) > 1 and key in {"title", "kind", "units", "refrigerants"} and key not in keys:
        return "this key belongs at the top of the file", "move it above the first [table]"
    near = _nearest(path)
    if near:
        return "no such key", "nearest: " + ", ".join(near)
    if len(path) > 1 and key in JobFile.model_fields:
        return "no such key here", f"[{key}] is a table of its own"
    return "no such key", "allowed here: " + ", ".join(keys)


def _missing(path: Path) -> tuple[str, str]:
    key = str(path[-1])
    section = _section_at(path[:-1])
    field = section.model_fields[key] if section is not None else None
    for rule in field.metadata if field is not None else ():
        if isinstance(rule, Quantity):
            example = EXAMPLES[rule.kind].split(",")[0]
            return "missing", f'nothing can stand in for it: write {key} = "{example}"'
        if isinstance(rule, Choice):
            words = " or ".join(f'"{word}"' for word in rule.words)
            return "missing", f"write {key} = {words}"
    if len(path) > 1:
        return "missing", "nothing can stand in for it"
    if key == "refrigerants":
        return "no refrigerants", 'write refrigerants = ["R-134a"] above the first [table]'
    if key in LISTS:
        return f"no {key}", f"write [[{key}]] and its keys below, once for each"
    return f"the table [{key}] is missing", f"write [{key}] and its keys below"


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

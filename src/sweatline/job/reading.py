"""Reading a job file: every mistake in it at once, each with its line and what would be right."""

from __future__ import annotations

import hashlib
import os
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from pathlib import Path as FilePath
from typing import Any, Final

from pydantic import BaseModel, ValidationError

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.job.assembly import assemble
from sweatline.job.defaults import atmospheric_pressure
from sweatline.job.locator import Path, line_of, locate
from sweatline.job.model import Job
from sweatline.job.refusals import ALTITUDE, refusals
from sweatline.job.schema import LISTS, Choice, JobFile, Quantity, described
from sweatline.units import EXAMPLES, Parsed, parse

__all__ = ["JobFaults", "read_job", "read_job_text"]

LARGEST: Final = 1_000_000  # bytes
_LONGEST: Final = 20_000  # lines, and characters in one; a job has some hundred of each
_MOST: Final = 40  # mistakes told at once
_DEEPEST: Final = 12  # brackets or dots nested in one another; a job needs four
_LINE: Final = re.compile(r"\(at (?:line (\d+), column \d+|end of document)\)")

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


def read_job(path: str | os.PathLike[str]) -> Job:
    """Job of a file.

    Parameters
    ----------
    path : path
        TOML file, at most 1 MB, UTF-8.

    Returns
    -------
    Job
        Everything in SI, each number with its uncertainty and origin.

    Raises
    ------
    JobError
        The file cannot be read, or something in it cannot be used. With several mistakes it is
        a :class:`JobFaults`, which prints one line for each.
    """
    shown = os.fspath(path)
    folder = False
    try:
        file = FilePath(path)
        folder = file.is_dir()
        with file.open("rb") as stream:
            content = stream.read(LARGEST + 1)
    except FileNotFoundError:
        raise JobError(
            what="no file of this name", path=shown, allowed=_neighbours(FilePath(path))
        ) from None
    except (OSError, ValueError) as error:
        if folder:
            raise JobError(what="this is a folder, a job file is wanted", path=shown) from None
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise JobError(what=f"cannot be read: {reason}", path=shown) from None
    if len(content) > LARGEST:
        raise JobError(what="far too large for a job file", path=shown, allowed="1 MB at most")
    return _read(content, shown)


def read_job_text(text: str, path: str = "") -> Job:
    """Job of a text that may never have been a file; `path` is what errors call it."""
    try:
        content = text.encode()
    except UnicodeEncodeError:
        raise JobError(what="not a text in UTF-8", path=path) from None
    if len(content) > LARGEST:
        raise JobError(what="far too large for a job file", path=path, allowed="1 MB at most")
    return _read(content, path)


def _neighbours(path: FilePath) -> str:
    try:
        names = [p.name for p in path.parent.iterdir() if p.suffix == ".toml"][:200]
    except (OSError, ValueError):
        return ""
    import difflib

    near = difflib.get_close_matches(path.name, names, n=3, cutoff=0.5)
    return f"nearest: {', '.join(near)}" if near else ""


def _read(content: bytes, shown: str) -> Job:
    text = _text(content, shown)
    tree = _tree(text, shown)
    lines = locate(text)
    atmosphere = _atmosphere(tree)
    context = {"atmosphere": atmosphere}
    faults: list[JobError] = []
    unread = 0
    try:
        file = JobFile.model_validate(tree, context=context)
    except ValidationError as error:
        faults.extend(islice(_faults(error, lines, shown), 5 * _MOST))
        unread = error.error_count() - len(faults)
        file = _usable(tree, context)
    # Of two refusals of one key the later is the more telling: it names the part in the way.
    for refusal in {r.path: r for r in refusals(file, atmosphere)}.values():
        faults.append(
            JobError(
                what=refusal.what,
                allowed=refusal.allowed,
                read=refusal.read,
                field=_field(refusal.path),
                path=shown,
                line=line_of(refusal.path, lines),
            )
        )
    if not faults:
        digest = hashlib.sha256(content).hexdigest()
        return assemble(file, path=shown, digest=digest, atmosphere=atmosphere)
    faults.sort(key=lambda f: (f.line is None, f.line or 0))
    untold, faults = len(faults[_MOST:]) + unread, faults[:_MOST]
    first, *others = faults
    if not others:
        raise first
    raise JobFaults(
        what=first.what,
        allowed=first.allowed,
        read=first.read,
        field=first.field,
        path=first.path,
        line=first.line,
        others=tuple(others),
        untold=untold,
    )


def _text(content: bytes, shown: str) -> str:
    if b"\x00" in content:
        raise JobError(
            what="not a text file", path=shown, allowed="a job file is plain text in UTF-8"
        )
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise JobError(
            what="not a text in UTF-8",
            path=shown,
            line=line,
            allowed="save the file as UTF-8",
        ) from None
    return text.replace("\r\n", "\n")


def _tree(text: str, shown: str) -> dict[str, Any]:
    _shallow(text, shown)
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        message = str(error)
        match = _LINE.search(message)
        line = int(match[1]) if match and match[1] else None
        if match and match[1] is None:
            line = text.count("\n") + 1
        reason = _LINE.sub("", message).strip().rstrip(".")
        written = text.split("\n")[line - 1].strip() if line else ""
        told = _told(reason)
        raise JobError(
            what=f"not readable as TOML: {told}",
            read=described(written),
            path=shown,
            line=line,
            allowed='write key = "value"' if "value" in told else "",
        ) from None


def _shallow(text: str, shown: str) -> None:
    """Refuse nesting that the parser would answer with a crash or with hours of work."""
    depth = 0
    lines = text.split("\n")
    if len(lines) > _LONGEST:
        raise JobError(what="far too many lines for a job file", path=shown)
    for number, line in enumerate(lines, 1):
        if line.count(".") > 200 or len(line) > _LONGEST:
            raise JobError(what="a line far too long for a job file", path=shown, line=number)
        depth = max(
            0, depth + line.count("[") + line.count("{") - line.count("]") - line.count("}")
        )
        if depth > _DEEPEST or line.count("[") + line.count("{") > 200:
            raise JobError(what="brackets nested too deep for a job file", path=shown, line=number)


def _atmosphere(tree: Mapping[str, Any]) -> float:
    """Atmospheric pressure of the place, needed before any gauge pressure can be read. [Pa]"""
    place = tree.get("place")
    if not isinstance(place, Mapping):
        return STANDARD_ATMOSPHERE
    pressure = _quietly(place.get("pressure"), "absolute pressure")
    if pressure is not None and 5e4 <= pressure.value <= 1.1e5:
        return pressure.value
    altitude = _quietly(place.get("altitude"), "length")
    if altitude is not None and ALTITUDE[0] <= altitude.value <= ALTITUDE[1]:
        return atmospheric_pressure(altitude.value)
    return STANDARD_ATMOSPHERE


def _quietly(value: object, kind: Any) -> Parsed | None:
    if not isinstance(value, str):
        return None
    try:
        return parse(value, kind)
    except JobError:
        return None


def _usable(tree: Mapping[str, Any], context: Mapping[str, Any]) -> JobFile:
    """Sections that can be read although others cannot, so that their refusals show as well.

    A section that cannot be read is left out; an entry of a list becomes None.
    """
    sections: dict[str, Any] = {}
    for name, field in JobFile.model_fields.items():
        section = _inner(field.annotation)
        value = tree.get(name)
        if section is None or value is None:
            continue
        if name in LISTS:
            entries = value if isinstance(value, list) else [value]
            sections[name] = [_read_section(section, entry, context) for entry in entries]
        else:
            found = _read_section(section, value, context)
            if found is not None:
                sections[name] = found
    system = tree.get("units")
    sections["units"] = system if system in ("US", "SI") else "SI"
    return JobFile.model_construct(**sections)


def _read_section(section: type[BaseModel], value: object, context: Any) -> BaseModel | None:
    try:
        return section.model_validate(value, context=context)
    except ValidationError:
        return None


def _field(path: Path) -> str:
    """Path as a person counts: compressor[2].displacement is that of the second compressor."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{described(part)}" if text else described(part)
    return text


def _faults(error: ValidationError, lines: Mapping[Path, int], shown: str) -> Iterator[JobError]:
    for fault in error.errors(include_url=False):
        path: Path = tuple(fault["loc"])
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
            allowed = f"write [{_field(path)}] and its keys below"
        elif fault["type"] == "list_type":
            what, read = "a list is wanted", described(fault["input"])
            allowed = 'write for example ["R-134a", "R-290"]'
            if path[0] != "refrigerants":
                allowed = f"write [[{_field(path)}]] and its keys below, once for each"
        elif fault["type"] == "too_short":
            what, allowed = "the list is empty", "at least one is needed"
        elif fault["type"] == "too_long":
            what, allowed = "the list is too long", "split the job"
        yield cls(
            what=what,
            allowed=allowed,
            read=read,
            field=_field(path),
            path=shown,
            line=line_of(path, lines),
        )


def _section(path: Path) -> type[BaseModel] | None:
    """Section that a path of keys leads to."""
    section: type[BaseModel] = JobFile
    for part in path:
        if isinstance(part, int):
            continue
        field = section.model_fields.get(part)
        if field is None:
            return None
        inner = _inner(field.annotation)
        if inner is None:
            return None
        section = inner
    return section


def _inner(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for argument in getattr(annotation, "__args__", ()):
        found = _inner(argument)
        if found is not None:
            return found
    return None


def _unknown(path: Path) -> tuple[str, str]:
    key = str(path[-1])
    section = _section(path[:-1])
    keys = list(section.model_fields) if section is not None else []
    top = list(JobFile.model_fields)
    if len(path) > 1 and key in {"title", "kind", "units", "refrigerants"} and key not in keys:
        return "this key belongs at the top of the file", "move it above the first [table]"
    folded = key.casefold().replace("-", "_").replace(" ", "_")
    near = [_ALSO[folded]] if _ALSO.get(folded) in keys else []
    import difflib

    near += [n for n in difflib.get_close_matches(folded, keys, n=3, cutoff=0.55) if n not in near]
    if near:
        return "no such key", "nearest: " + ", ".join(near)
    if len(path) > 1 and key in top:
        return "no such key here", f"[{key}] is a table of its own"
    return "no such key", "allowed here: " + ", ".join(keys)


def _missing(path: Path) -> tuple[str, str]:
    key = str(path[-1])
    section = _section(path[:-1])
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


def _told(message: str) -> str:
    for pattern, words in _TOLD:
        match = re.fullmatch(pattern, message)
        if match:
            return words.format(*(g.replace("', '", ".") for g in match.groups()))
    return message[:1].lower() + message[1:120]

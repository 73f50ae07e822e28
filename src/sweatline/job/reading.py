"""Reading a job file: every mistake in it at once, each with its line and what would be right."""

from __future__ import annotations

import hashlib
import os
import re
import tomllib
from collections.abc import Mapping
from itertools import islice
from pathlib import Path as FilePath
from typing import Any, Final

from pydantic import BaseModel, ValidationError

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.job.assembly import assemble
from sweatline.job.bounds import ALTITUDE
from sweatline.job.defaults import atmospheric_pressure
from sweatline.job.locator import line_of, locate
from sweatline.job.mistakes import MOST, JobFaults, field_name, section_of, sentences, told
from sweatline.job.model import Job
from sweatline.job.original_refusals import refusals_of_the_original
from sweatline.job.refusals import refusals
from sweatline.job.rules import described
from sweatline.job.schema import LISTS, JobFile
from sweatline.units import Parsed, parse

__all__ = ["JobFaults", "read_job", "read_job_text"]

LARGEST: Final = 1_000_000  # bytes
_LONGEST: Final = 20_000  # lines, and characters in one; a job has some hundred of each
_DEEPEST: Final = 12  # brackets or dots nested in one another; a job needs four
_LINE: Final = re.compile(r"\(at (?:line (\d+), column \d+|end of document)\)")


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
        faults.extend(islice(sentences(error, lines, shown), 5 * MOST))
        unread = max(0, error.error_count() - 5 * MOST)
        file = _usable(tree, context)
    # Of two refusals of one key the later is the more telling: it names the part in the way.
    judged = (*refusals(file, atmosphere), *refusals_of_the_original(file))
    for refusal in {r.path: r for r in judged}.values():
        faults.append(
            JobError(
                what=refusal.what,
                allowed=refusal.allowed,
                read=refusal.read,
                field=field_name(refusal.path),
                path=shown,
                line=line_of(refusal.path, lines),
            )
        )
    if not faults:
        digest = hashlib.sha256(content).hexdigest()
        return assemble(file, path=shown, digest=digest, atmosphere=atmosphere)
    faults.sort(key=lambda f: (f.line is None, f.line or 0))
    untold, faults = len(faults[MOST:]) + unread, faults[:MOST]
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
        complaint = told(reason)
        raise JobError(
            what=f"not readable as TOML: {complaint}",
            read=described(written),
            path=shown,
            line=line,
            allowed='write key = "value"' if "value" in complaint else "",
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
    altitude = _quietly(place.get("altitude"), "altitude")
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
        section = section_of(field.annotation)
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

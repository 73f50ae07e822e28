"""Reading a job file: every mistake in it at once, each with its line and what would be right."""

from __future__ import annotations

import hashlib
import os
import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any, Final

from sweatline.errors import JobError
from sweatline.job.defaults import atmospheric_pressure
from sweatline.job.keys import keys_of
from sweatline.job.mistakes import JobFaults, all_faults, locate, told
from sweatline.job.model import Job, Place
from sweatline.job.refusals import refusals
from sweatline.job.tables import Reader, build_job
from sweatline.job.values import described
from sweatline.units import SI_SCALE, Parsed, Scale, System

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
    scale = _scope(tree)
    reader = Reader(scale)
    file = reader.read(tree)
    found = (*reader.refusals, *reader.doubts, *refusals(file, scale))
    error = all_faults(found, reader.unread, locate(text), shown)
    if error is not None:
        raise error
    return build_job(file, scale, path=shown, digest=hashlib.sha256(content).hexdigest())


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


def _scope(tree: Mapping[str, Any]) -> Scale:
    """Unit system and zero of the gauges, needed before any gauge pressure can be read."""
    system: System = "US" if _quietly(Job, "units", tree) == "US" else "SI"
    place = tree.get("place")
    altitude, pressure = (_quietly(Place, key, place) for key in ("altitude", "pressure"))
    if pressure is not None:
        return Scale(system, pressure.value)
    if altitude is not None:
        return Scale(system, atmospheric_pressure(altitude.value))
    return Scale(system)


def _quietly(part: type, name: str, table: object) -> Any:
    """Value of a key; None when it is missing or will be refused."""
    key = keys_of(part)[name][1]
    if key is None or not isinstance(table, Mapping) or name not in table:
        return None
    try:
        read = key.value.read(table[name], SI_SCALE)
    except JobError:
        return None
    believable = replace(read, sd=None) if isinstance(read, Parsed) else read
    return read if key.value.doubt(believable, SI_SCALE) is None else None

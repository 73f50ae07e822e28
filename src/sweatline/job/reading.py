"""Reading a job file: every mistake in it at once, each with its line and what would be right.

A reading gets its uncertainty, and what nobody wrote is assumed.
"""

from __future__ import annotations

import dataclasses
import hashlib
import os
import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any, Final, cast

from sweatline.errors import JobError
from sweatline.job.defaults import atmospheric_pressure
from sweatline.job.gas_test import narrowed_bore
from sweatline.job.keys import Assumed, Field, Key, Known, Table, fields_of, keys_of
from sweatline.job.mistakes import (
    MOST,
    JobFaults,
    Path,
    Refusal,
    all_faults,
    field_name,
    locate,
    nearest,
    no_valve,
    told,
)
from sweatline.job.model import CapillaryStock, Compressor, CompressorMap, Job, Original, Place
from sweatline.job.refusals import Section, refusals
from sweatline.job.values import NOT_KNOWN, Quantity, described
from sweatline.job.vocabulary import fahrenheit_to_celsius
from sweatline.units import SI_SCALE, Parsed, Scale, System
from sweatline.units.kinds import BTU, HOUR

__all__ = ["JobFaults", "read_job", "read_job_text"]

LARGEST: Final = 1_000_000  # bytes
_LONGEST: Final = 20_000  # lines, and characters in one; a job has some hundred of each
_DEEPEST: Final = 12  # brackets or dots nested in one another; a job needs four
_LINE: Final = re.compile(r"\(at (?:line (\d+), column \d+|end of document)\)")


_TOP: Final = keys_of(Job)
_TOP_KEYS: Final = tuple(name for name, (_, key, _) in _TOP.items() if key is not None)


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
    return _read(_content(path), os.fspath(path))


def read_job_text(text: str, path: str = "") -> Job:
    """Job of a text that may never have been a file; `path` is what errors call it."""
    try:
        content = text.encode()
    except UnicodeEncodeError:
        raise JobError(what="not a text in UTF-8", path=path) from None
    return _read(content, path)


def read_text(path: str | os.PathLike[str]) -> str:
    """Text of a file that may be a job file, or become one.

    Raises
    ------
    JobError
        It cannot be read, or is no text.
    """
    return _text(_content(path), os.fspath(path))


def _content(path: str | os.PathLike[str]) -> bytes:
    shown = os.fspath(path)
    folder = False
    try:
        file = FilePath(path)
        folder = file.is_dir()
        if file.exists() and not (folder or file.is_file()):
            raise OSError("a pipe or a device, which might wait for ever")
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
    return content


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
    tree = tree_of(text, shown)
    scale = scale_of(tree)
    reader = _Reader(scale)
    file = reader.read(tree)
    found = (*reader.refusals, *reader.doubts, *refusals(file, scale))
    error = all_faults(found, locate(text), shown)
    if error is not None:
        raise error
    return _Builder(scale).job(file, path=shown, digest=hashlib.sha256(content).hexdigest())


def _text(content: bytes, shown: str) -> str:
    if len(content) > LARGEST:
        raise JobError(what="far too large for a job file", path=shown, allowed="1 MB at most")
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


def tree_of(text: str, shown: str = "") -> dict[str, Any]:
    """Tables and keys of a text; one sentence, with its line, when it is no TOML."""
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


def scale_of(tree: Mapping[str, Any]) -> Scale:
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


def _not_known(written: object, *, table: bool) -> bool:
    """Whether a key says that nobody knows it, or a table within a part that of all its keys."""
    if table and isinstance(written, Mapping):
        return bool(written) and all(value == NOT_KNOWN for value in written.values())
    return written == NOT_KNOWN


class _Reader:
    """Reads the tables of one file and keeps what it has to refuse.

    A value out of bounds is doubted, not refused: it can still be compared with others.
    """

    def __init__(self, scale: Scale) -> None:
        self.scale = scale
        self.refusals: list[Refusal] = []
        self.doubts: list[Refusal] = []  # values that can be read and cannot be right

    def read(self, tree: Mapping[str, Any]) -> Section:
        """The whole file."""
        return self._section(Job, tree, ())

    def _refuse(self, path: Path, what: str, allowed: str = "", read: str = "") -> None:
        self.refusals.append((path, JobError(what=what, allowed=allowed, read=read)))

    def _section(self, part: type, tree: object, path: Path, table: Table | None = None) -> Section:
        if not isinstance(tree, Mapping):
            allowed = f"write [{field_name(path)}] and its keys below"
            self._refuse(path, "a table of keys is wanted", allowed, described(tree))
            return Section({}, sound=False)
        before = len(self.refusals)
        keys = keys_of(part, table)
        meant = self._unknown(tree, tuple(keys), path)
        values: dict[str, Any] = {}
        for name, (field, key, needed) in keys.items():
            here = (*path, name)
            if name not in tree or _not_known(tree[name], table=key is None and bool(path)):
                if needed and name not in meant:
                    self._missing(here, key.advice(self.scale) if key else "")
                elif field.table is not None and not path:
                    values[name] = [] if field.table.many else Section({}, sound=not needed)
            elif field.table is not None and field.part is not None:
                values[name] = self._table(field.part, field.table, tree[name], here)
            elif key is not None and key.many:
                allowed = f"write for example {key.written}"
                names = self._list(tree[name], here, key.many, allowed)
                values[name] = [self._value(key, one, (*here, n)) for n, one in enumerate(names)]
            elif key is not None and key.is_instead(tree[name], self.scale):
                other = keys[key.instead[0]][1]  # type: ignore[index]
                assert other is not None
                if other.name in tree:
                    self._refuse(here, f"says the same as {other.name}", "write one of them")
                values[other.name] = self._value(other, tree[name], here)
            elif key is not None:
                values[name] = self._value(key, tree[name], here)
        return Section(values, sound=len(self.refusals) == before)

    def _value(self, key: Key, written: object, path: Path) -> Any:
        """Value of a key; None when it cannot be read."""
        try:
            read = key.value.read(written, self.scale)
        except JobError as error:
            self.refusals.append((path, error))
            return None
        doubt = key.value.doubt(read, self.scale)
        if doubt is not None:
            self.doubts.append((path, doubt))
        return read

    def _table(self, part: type, table: Table, tree: object, path: Path) -> Any:
        if not table.many:
            return self._section(part, tree, path, table)
        # [compressor] may stand where [[compressor]] is meant and there is only one.
        one_or_more = [tree] if isinstance(tree, Mapping) else tree
        allowed = f"write [[{field_name(path)}]] and its keys below, once for each"
        entries = self._list(one_or_more, path, table.many, allowed, empty=not table.needed)
        if table.alone and isinstance(tree, Mapping):
            return [self._section(part, tree, path, table)]
        return [self._section(part, one, (*path, n), table) for n, one in enumerate(entries)]

    def _list(
        self, tree: object, path: Path, most: int, allowed: str, *, empty: bool = False
    ) -> list[Any]:
        """Entries of a list; none when it is no list or has too few or too many."""
        if not isinstance(tree, list):
            self._refuse(path, "a list is wanted", allowed, described(tree))
        elif not tree and not empty:
            self._refuse(path, "the list is empty", "at least one is needed")
        elif len(tree) > most:
            self._refuse(path, "the list is too long", f"at most {most}")
        else:
            return tree
        return []

    def _unknown(self, tree: Mapping[str, Any], keys: tuple[str, ...], path: Path) -> set[str]:
        """Refuse the keys that cannot stand here; keys that were probably meant by them."""
        meant = set()
        for name in tree:
            if name in keys:
                continue
            near = nearest(name, keys) if len(self.refusals) < 5 * MOST else []
            meant.update(near[:1])
            what, allowed = "no such key", "allowed here: " + ", ".join(keys)
            valve = no_valve(name)
            if valve is not None:
                what, allowed = valve.what, f"{valve.allowed}: write [[capillary]]"
                meant.add("capillary")
            elif path and name in _TOP_KEYS:
                what = "this key belongs at the top of the file"
                allowed = "move it above the first [table]"
            elif near:
                allowed = "nearest: " + ", ".join(near)
            elif path and name in _TOP:
                what, allowed = "no such key here", f"[{name}] is a table of its own"
            self._refuse((*path, name), what, allowed)
        return meant

    def _missing(self, path: Path, advice: str) -> None:
        key = str(path[-1])
        if len(path) > 1:
            self._refuse(path, "missing", advice)
        elif key in _TOP_KEYS:
            self._refuse(path, "missing", f"{advice} above the first [table]")
        elif _TOP[key][0].table.many:  # type: ignore[union-attr]
            self._refuse(path, f"no {key}", f"write [[{key}]] and its keys below, once for each")
        else:
            self._refuse(path, f"the table [{key}] is missing", f"write [{key}] and its keys below")


class _Builder:
    """Makes parts of one job, and notes what was written and what was assumed."""

    def __init__(self, scale: Scale) -> None:
        self.scale = scale
        self.written: list[tuple[str, str]] = []
        self.assumed: list[tuple[str, str]] = []
        self.parts: dict[str, Any] = {}  # parts of the job made so far

    def job(self, file: Section, *, path: str, digest: str) -> Job:
        """The whole job."""
        made = self._fields(Job, file, "", {"path": path, "digest": digest}, of_job=True)
        made["original"] = self._ran_with(file["original"], made)
        return Job(**made, written=tuple(self.written), assumed=tuple(self.assumed))

    def _fields(
        self,
        part: type,
        section: Section,
        path: str,
        preset: Mapping[str, Any],
        *,
        number: int = 0,
        of_job: bool = False,
    ) -> dict[str, Any]:
        """Every field of a part, from the keys of its table or by default."""
        made: dict[str, Any] = self.parts if of_job else {}
        made.update(preset)
        known = Known(made, self.parts, self.scale, number)
        dot = f"{path}." if path else ""
        for key, value in section.values.items():
            if isinstance(value, Parsed):
                self.written.append((dot + key, value.text))
        for field in fields_of(part):
            if field.name in made:
                continue
            if field.table is not None:
                made[field.name] = self._table(field, section[field.table.name], dot)
            else:
                made[field.name] = self._value(field, section, dot, known)
        return made

    def _part(self, part: type, section: Section, path: str, number: int = 0) -> Any:
        preset = {"compressor": None, "capillary": None} if part is Original else {}
        made = self._fields(part, section, path, preset, number=number)
        if part is CompressorMap and section["coefficients"] == "BTU/h, °F":
            capacity = fahrenheit_to_celsius(made["capacity"])
            made["capacity"] = tuple(BTU / HOUR * c for c in capacity)
            made["power"] = fahrenheit_to_celsius(made["power"])
        return self._tube(made) if part is CapillaryStock else part(**made)

    def _tube(self, made: dict[str, Any]) -> CapillaryStock:
        """A capillary, its bore narrowed where it was tested with gas."""
        if made["gas_flow"] is not None:
            made["bore"] = narrowed_bore(
                made["bore"], made["gas_flow"], made["gas_pressure"], made["length"],
                made["roughness"], made["test_gas"],
                atmosphere=self.parts["place"].atmospheric_pressure,
            )  # fmt: skip
        return CapillaryStock(**made)

    def _table(self, field: Field, found: Any, dot: str) -> Any:
        assert field.table is not None
        assert field.part is not None
        if field.table.many:
            name = dot + field.table.name
            plain = field.table.alone and len(found or ()) == 1
            return tuple(
                self._part(field.part, one, name if plain else f"{name}[{n}]", n)
                for n, one in enumerate(found or (), 1)
            )
        if found is None:
            return field.default
        return self._part(field.part, found, dot + field.table.name)

    def _value(self, field: Field, section: Section, dot: str, known: Known) -> Any:
        """A field from the first of its keys that stands in the file, or by default."""
        ways = [key for key in field.keys if not key.beside]
        for key in ways:
            read = section[key.name]
            if read is not None:
                if key.many:
                    return tuple(key.value.made(one, self.scale) for one in read)
                value = key.value.made(read, self.scale)
                return value if key.turn is None else key.turn(value, known)
        return self._default(field, ways[0], dot, known)

    def _default(self, field: Field, key: Key, dot: str, known: Known) -> Any:
        assumed = key.default(known) if callable(key.default) else key.default
        if not isinstance(assumed, Assumed):
            own = assumed is None and field.default is not dataclasses.MISSING
            return field.default if own else assumed
        if isinstance(key.value, Quantity) and key.value.tool:
            return assumed.measured(self.scale.system)
        note = assumed.note_in(self.scale.system)
        if note:
            self.assumed.append((dot + key.name, note))
        return assumed.value

    def _ran_with(self, section: Section, made: Mapping[str, Any]) -> Original:
        """The plate with the parts the machine ran with: described, or one of the bench named."""
        original = cast(Original, made["original"])
        compressor, capillary = section["compressor"], section["capillary"]
        stock: tuple[CapillaryStock, ...] = made["capillaries"]
        if capillary is None:
            ran = next((one for one in stock if one.fitted), None)
        elif capillary["bore"] is None:
            ran = _named(stock, capillary["name"])
        else:
            preset = {"name": capillary["name"] or "original capillary", "fitted": True}
            path = "original.capillary"
            ran = self._tube(self._fields(CapillaryStock, capillary, path, preset))
        pump = None
        if compressor is not None:
            pump = _named(made["compressors"], compressor["name"])
            if pump is None or compressor["kind"] is not None:
                preset = {"name": compressor["name"] or "original compressor"}
                path = "original.compressor"
                pump = Compressor(**self._fields(Compressor, compressor, path, preset))
        return replace(original, compressor=pump, capillary=ran)


def _named(bench: Any, name: str | None) -> Any:
    """Part of the bench of a name, however it is capitalised."""
    wanted = (name or "").casefold()
    return next((one for one in bench if one.name.casefold() == wanted), None)

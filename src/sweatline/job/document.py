"""A job file as a text that a person keeps too: answers change it in place, comments stay.

A file that is half made can be asked, answered and written here; :mod:`sweatline.job.reading` says
whether it is a job yet.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterator, Mapping, MutableMapping
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path as FilePath
from typing import Any, Final, cast

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array

from sweatline.errors import JobError, StoreError
from sweatline.job.interview import GROUPS, Question, questions, table_of
from sweatline.job.mistakes import JobFaults, field_name, locate
from sweatline.job.model import Job
from sweatline.job.reading import read_job_text, read_text, scale_of, tree_of
from sweatline.job.values import NOT_KNOWN
from sweatline.units import Scale

_HEAD: Final = """\
# Every quantity stands in quotation marks with its unit, as it was read. A line that is left out,
# or says "not known", gets a default with a wide uncertainty.

kind = "dehumidifier"
"""


def write_whole(path: FilePath, text: str) -> None:
    """Put a text in the place of a file; whoever reads sees the old one or the new one.

    Raises
    ------
    StoreError
        It cannot be written; the old file is as it was.
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            if path.exists():
                os.chmod(name, path.stat().st_mode & 0o777)
            os.replace(name, path)
        except OSError:
            os.unlink(name)
            raise
    except OSError as error:
        raise StoreError(what=f"cannot be written: {error.strerror}", path=str(path)) from error


def digest_of(path: FilePath) -> str:
    """Digest of a file as it stands, whatever stands in it; empty when there is none."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


@contextmanager
def _within_reach(part: str) -> Iterator[None]:
    """Tell a person what cannot be changed here: a word or a list where a table belongs."""
    try:
        yield
    except (TypeError, AttributeError, LookupError, ValueError, TOMLKitError) as error:
        if isinstance(error, JobError):
            raise
        raise JobError(
            what="the file says this part in a way that only an editor can change",
            field=part,
            allowed="write it as a table, [room] or [[compressor]], with its keys below",
        ) from error


class JobDocument:
    """The text of a job file, ready or not, with the answers that stand in it.

    Parameters
    ----------
    text : str
        TOML.
    path : str
        What mistakes call it.

    Raises
    ------
    JobError
        No TOML: the line where it ends to be.
    """

    def __init__(self, text: str, path: str = "") -> None:
        self._tree = tree_of(text, path)  # refuses in a person's words, and what would take hours
        self._text: str | None = text  # as read; None once an answer was put
        self.path = path
        self.digest = ""  # of the file's bytes

    @classmethod
    def new(cls, *, title: str, units: str) -> JobDocument:
        """A file in which nothing stands yet but its name and units."""
        start = tomlkit.parse(_HEAD)
        start["title"] = title
        start["units"] = units
        return cls(tomlkit.dumps(start))

    @classmethod
    def of_file(cls, path: FilePath) -> JobDocument:
        """The text of a file as it stands now.

        Raises
        ------
        JobError
            It cannot be read, or is no TOML.
        """
        found = cls(read_text(path), path.name)
        found.digest = digest_of(path)
        return found

    @cached_property
    def _document(self) -> tomlkit.TOMLDocument:
        """With its comments; only an answer needs them, and they are slow to parse."""
        return tomlkit.parse(self.text)

    def _changed(self) -> None:
        self._tree = self._document.unwrap()
        self._text = None

    @property
    def text(self) -> str:
        """The file to be written, with an empty line before every table that was added."""
        if self._text is not None:
            return self._text
        text = tomlkit.dumps(self._document)
        headers = set(locate(text).values())
        lines: list[str] = []
        for number, line in enumerate(text.split("\n"), 1):
            header = number in headers and line.startswith("[")
            if header and lines and lines[-1].strip() and not lines[-1].startswith("#"):
                lines.append("")
            lines.append(line)
        whole = "\n".join(lines).rstrip("\n") + "\n"
        tree_of(whole, self.path)  # nothing is written that cannot be read again
        return whole

    @property
    def scale(self) -> Scale:
        """Units, and the zero of the gauges, as far as they are known."""
        return scale_of(self._tree)

    @property
    def counts(self) -> Mapping[str, int]:
        """How many parts stand in each list."""
        counts = {
            group.table: len(self._parts(group.table)) for group in GROUPS if table_of(group).many
        }
        for n, part in enumerate(self._parts("compressor")):
            points = part.get("rating") if isinstance(part, Mapping) else None
            if isinstance(points, list):
                counts[field_name(("compressor", n, "rating"))] = len(points)
        return counts

    @property
    def questions(self) -> tuple[Question, ...]:
        """Every question about the parts that stand in it."""
        return questions(self.counts)

    def _parts(self, table: str) -> list[Any]:
        found = self._tree.get(table, [])
        return found if isinstance(found, list) else [found]

    def answer(self, question: Question) -> str:
        """What stands there, as a person would type it; empty for nothing."""
        found: Any = self._tree
        for step in question.path:
            if isinstance(step, int):
                parts = found if isinstance(found, list) else [found]
                found = parts[step] if step < len(parts) else {}
            else:
                found = found.get(step) if isinstance(found, Mapping) else None
            if found is None:
                return ""
        return question.key.as_typed(found)

    def is_open(self, question: Question) -> bool:
        """Whether it waits for an answer: nobody was asked, or it is needed and not known.

        For a rating that nobody knows the plate stands in.
        """
        said = self.answer(question)
        return not said or (question.needed and not question.rating and said == NOT_KNOWN)

    @property
    def asked(self) -> tuple[Question, ...]:
        """The questions that are put one after the other; details are left to a form.

        The rating of a compressor is asked for when nobody knows its displacement, and no further
        when nobody knows its capacity.
        """
        said = {one.name: self.answer(one) for one in self.questions}
        rated = {one.part for one in self.questions if one.rating and said[one.name]}

        def needless(question: Question) -> bool:
            size = said.get(f"{question.part}.displacement", "")
            unsaid = size == NOT_KNOWN or (not size and question.part in rated)
            capacity = said.get(f"{question.part}.rating.capacity", "")
            further = capacity == NOT_KNOWN and question.path[-1] != "capacity"
            return question.rating and (further or not unsaid)

        return tuple(one for one in self.questions if not one.words.detail and not needless(one))

    def next_open(self, after: str = "") -> Question | None:
        """The next question that nobody was asked, from one on and then from the first."""
        asked = self.asked
        names = [question.name for question in asked]
        start = names.index(after) + 1 if after in names else 0
        waiting = (one for one in (*asked[start:], *asked[:start]) if not self.answer(one))
        return next(waiting, None)

    def put(self, question: Question, typed: str) -> None:
        """Write an answer as typed; an empty one takes the key out.

        Raises
        ------
        JobError
            The file says this part in a way that only an editor can change.
        """
        with _within_reach(question.part):
            if not typed.strip():
                if self.answer(question):
                    del self._table(question)[str(question.path[-1])]
            else:
                self._table(question)[str(question.path[-1])] = question.key.typed(typed)
            self._changed()

    def _table(self, question: Question) -> MutableMapping[str, Any]:
        """Table in which a key stands, made if need be."""
        found: Any = self._document
        *steps, _key = question.path
        for n, step in enumerate(steps, 1):
            if isinstance(step, str) and step not in found:
                listed = n < len(steps) and isinstance(steps[n], int)
                found[step] = tomlkit.aot() if listed else tomlkit.table()
            if isinstance(step, int):
                if not isinstance(found, AoT | Array):
                    continue  # one table where a list could stand
                while len(found) <= step:
                    found.append(_empty(found))
            found = found[step]
        return cast("MutableMapping[str, Any]", found)

    def add(self, table: str) -> int:
        """Add a part to a list; its number, counted from 1.

        Raises
        ------
        JobError
            As :meth:`put`.
        """
        with _within_reach(table):
            found = self._document.get(table)
            if found is None:
                self._document[table] = tomlkit.aot()
            elif not isinstance(found, AoT | Array):
                many = tomlkit.aot()
                many.append(found)
                self._document[table] = many
            found = self._document[table]
            found.append(_empty(found))
            self._changed()
        return len(self._parts(table))

    def remove(self, table: str, number: int) -> None:
        """Take a part out of a list, with the comments that stand above it.

        Raises
        ------
        JobError
            There is no part of this number.
        """
        if not 1 <= number <= len(self._parts(table)):
            raise JobError(what=f"there is no {table} {number}")
        found = self._document[table]
        if not isinstance(found, AoT):
            if isinstance(found, Array):
                del found[number - 1]
            else:
                del self._document[table]
            self._changed()
            return
        # By lines: a comment above the next table would go with the part above it.
        text = tomlkit.dumps(self._document)
        lines, places = text.split("\n"), locate(text)
        starts = sorted({line for line in places.values() if lines[line - 1].startswith("[")})
        own = {line for path, line in places.items() if path[:2] == (table, number - 1)}
        first = min(own & set(starts))
        after = next((line for line in starts if line > first and line not in own), len(lines) + 1)
        begin, end = (_above(lines, line) for line in (first, after))
        self._document = tomlkit.parse("\n".join(lines[: begin - 1] + lines[end - 1 :]))
        self._changed()

    def read(self) -> Job:
        """The job.

        Raises
        ------
        JobError
            It is none yet: a line for each mistake.
        """
        return read_job_text(self.text, self.path)

    def judged(self) -> tuple[Job | None, tuple[JobError, ...]]:
        """The job, or every mistake in what stands there and everything that is still needed."""
        try:
            return self.read(), ()
        except JobFaults as error:
            return None, error.faults
        except JobError as error:
            return None, (error,)


def _empty(found: AoT | Array) -> Any:
    return tomlkit.table() if isinstance(found, AoT) else tomlkit.inline_table()


def _above(lines: list[str], line: int) -> int:
    """First line of the comments that stand directly above a line, counted from 1."""
    while line > 1 and lines[line - 2].startswith("#"):
        line -= 1
    return line

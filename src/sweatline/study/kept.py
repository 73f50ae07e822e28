"""What is kept of a study: a folder of Parquet files, each whole or not there.

A finished chunk is one file, written beside its place and moved there in one step. Which cases are
done is read off the files alone, so that a study that was cut off at any moment goes on with the
cases that have no row, and no case has two.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sweatline.errors import JobError, MissingExtra, StoreError
from sweatline.job.model import PARTS
from sweatline.study.cases import Study
from sweatline.study.compute import Row, columns

if TYPE_CHECKING:
    import pyarrow

_HEAD: Final = "study.json"
_PART: Final = "cases-{first:07d}-{last:07d}.parquet"


def _arrow() -> Any:
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        raise MissingExtra(package="pyarrow", extra="sweep") from None
    return pyarrow


def schema_of(study: Study) -> pyarrow.Schema:
    """Columns of the files: the case, its parts and keys, and the answer's quantities in SI."""
    arrow = _arrow()
    types = {"number": arrow.float64(), "text": arrow.string(), "truth": arrow.bool_()}
    named = [("case", arrow.int64())]
    named += [(name, arrow.string()) for name in PARTS]
    named += [(key, arrow.string()) for key in study.keys]
    named += [(name, types[kind]) for name, kind in columns(study.answer, study.trial_runs)]
    return arrow.schema(named)


class Kept:
    """The folder of a study.

    Raises
    ------
    JobError
        The folder holds another study.
    StoreError
        It cannot be written.
    """

    def __init__(self, folder: str, study: Study) -> None:
        self.folder = Path(folder)
        self.study = study
        self.schema = schema_of(study)
        head = self.folder / _HEAD
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            if head.exists():
                told = json.loads(head.read_text(encoding="utf-8"))
                if told.get("digest") != study.digest:
                    raise JobError(
                        what="this folder holds another study, or the study or its job changed",
                        path=folder,
                        allowed="name another folder with --into",
                    )
                return
            said = {"title": study.title, "digest": study.digest, "cases": study.count}
            self._write(head, (json.dumps(said, ensure_ascii=False, indent=1) + "\n").encode())
        except (OSError, ValueError) as error:
            if isinstance(error, JobError):
                raise
            raise StoreError(what=f"cannot be kept: {error}", path=folder) from None

    def _write(self, path: Path, content: bytes) -> None:
        with tempfile.NamedTemporaryFile(dir=self.folder, prefix=".", delete=False) as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(file.name).replace(path)

    def add(self, rows: Sequence[Row]) -> None:
        """Keep the rows of one chunk."""
        arrow = _arrow()
        table = arrow.Table.from_pylist(list(rows), schema=self.schema)
        sink = arrow.BufferOutputStream()
        arrow.parquet.write_table(table, sink)
        name = _PART.format(first=rows[0]["case"], last=rows[-1]["case"])
        self._write(self.folder / name, sink.getvalue().to_pybytes())

    def done(self) -> set[int]:
        """Numbers of the cases that have a row."""
        arrow = _arrow()
        found: set[int] = set()
        for path in self._parts():
            found.update(arrow.parquet.read_table(path, columns=["case"])["case"].to_pylist())
        return found

    def _parts(self) -> list[Path]:
        return sorted(self.folder.glob("cases-*.parquet"))

    def table(self) -> pyarrow.Table:
        """All rows, in the order of the cases."""
        arrow = _arrow()
        parts = [arrow.parquet.read_table(path, schema=self.schema) for path in self._parts()]
        if not parts:
            return self.schema.empty_table()
        return arrow.concat_tables(parts).sort_by("case")

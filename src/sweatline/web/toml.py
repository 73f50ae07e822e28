"""TOML files that a person keeps too: changed in place, with their comments, and never half."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from sweatline.errors import JobError, StoreError


def write_whole(path: Path, text: str) -> None:
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


def add_row(path: Path, table: str, row: Mapping[str, str]) -> None:
    """Add a row to an array of tables of a file, made if it is not there.

    Raises
    ------
    JobError
        The file is no TOML.
    StoreError
        It cannot be read or written.
    """
    try:
        document = (
            tomlkit.parse(path.read_text(encoding="utf-8"))
            if path.exists()
            else (tomlkit.document())
        )
    except TOMLKitError as error:
        raise JobError(what=f"not readable as TOML: {error}", path=str(path)) from error
    except OSError as error:
        raise StoreError(what=f"cannot be read: {error.strerror}", path=str(path)) from error
    if table not in document:
        document.append(table, tomlkit.aot())
    item = tomlkit.table()
    for key, value in row.items():
        item.add(key, value)
    document[table].append(item)
    write_whole(path, tomlkit.dumps(document))

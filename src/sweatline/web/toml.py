"""Rows added to TOML files that a person keeps too."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from sweatline.errors import JobError, StoreError
from sweatline.job.document import write_whole


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

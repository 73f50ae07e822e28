"""Refrigerant tables on disk: one compressed archive a fluid, with its description inside."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

import numpy as np

from sweatline.errors import StoreError
from sweatline.refrigerant.table import Table

TABLE_FOLDER: Final = Path(__file__).parent / "tables"

_FORMAT: Final = 1
_SPLINES: Final = ("line", "regions", "glide")
_COUNTS: Final = ("line_cells", "region_cells", "u_cells", "glide_cells")
_NUMBERS: Final = tuple(name for name in Table._fields if name not in _SPLINES)


def write_table(path: Path, table: Table, metadata: dict[str, Any]) -> None:
    """Write a table and its description.

    The saturation lines are kept in double precision, because capillary flow uses their slopes;
    the surfaces hold small differences from them and are kept in single precision.
    """
    arrays = {name: getattr(table, name).astype(np.float32) for name in _SPLINES[1:]}
    np.savez_compressed(
        path,
        line=table.line,
        numbers=np.array([getattr(table, name) for name in _NUMBERS]),
        description=np.array(json.dumps({"format": _FORMAT, **metadata}, sort_keys=True)),
        **arrays,
    )


def read_table(path: Path) -> tuple[Table, dict[str, Any]]:
    """Read a table and its description.

    Raises
    ------
    StoreError
        The file is missing or was written in another format.
    """
    try:
        with np.load(path, allow_pickle=False) as archive:
            arrays: dict[str, Any] = {
                name: np.ascontiguousarray(archive[name], dtype=float) for name in _SPLINES
            }
            numbers: list[float] = archive["numbers"].tolist()
            metadata: dict[str, Any] = json.loads(str(archive["description"]))
    except (OSError, KeyError, ValueError) as reason:
        raise StoreError(
            what=f"no refrigerant table could be read ({reason})", path=str(path)
        ) from reason
    if metadata.get("format") != _FORMAT or len(numbers) != len(_NUMBERS):
        raise StoreError(what="the refrigerant table has another format", path=str(path))
    named: dict[str, Any] = dict(zip(_NUMBERS, numbers, strict=True))
    named |= {name: int(named[name]) for name in _COUNTS}
    return Table(**arrays, **named), metadata

"""Tables that are readable in eighty columns and without colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sweatline.answers import Row
    from sweatline.units import Kind, Scale


@dataclass(frozen=True, slots=True)
class Column:
    """Title and cells of one column; numbers stand on the right."""

    title: str
    cells: Sequence[str]
    right: bool = True
    wrap: bool = False


def measured(
    title: str, values: Sequence[float | None], kind: Kind, scale: Scale, digits: int = 3
) -> Column:
    """Column of one kind of quantity, its unit under the title when all cells share it."""
    unit, cells = scale.column(values, kind, digits)
    return Column(f"{title}\n{unit}" if unit else title, cells)


def print_table(columns: Sequence[Column], *, indent: int = 2, rules: bool = False) -> None:
    """Print columns side by side.

    `rules` draws a line between the rows, for rows of several lines.
    """
    from rich import box
    from rich.cells import cell_len
    from rich.table import Table

    from sweatline.cli.terminal import put

    table = Table(
        box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0), show_lines=rules
    )
    for column in columns:
        text = "\n".join((column.title, *column.cells))
        # Nothing is cut: a table too wide for the terminal runs over.
        pieces = text.split() if column.wrap else text.split("\n")
        table.add_column(
            column.title,
            justify="right" if column.right else "left",
            no_wrap=not column.wrap,
            min_width=max(map(cell_len, pieces), default=1),
            vertical="top",
        )
    for row in zip(*(column.cells for column in columns), strict=True):
        table.add_row(*row)
    put(table, indent=indent)


def print_rows(rows: Sequence[Row], scale: Scale) -> None:
    """Print an answer's quantities: label, value and, where there are any, ranges."""
    columns = [
        Column("", [r.label for r in rows], right=False),
        Column("value", [scale.show(r.value, r.kind, r.digits) for r in rows]),
    ]
    if any(r.wanted or r.range is not None for r in rows):
        ranges = ["as wanted" if r.wanted else scale.range(r.range, r.kind, r.digits) for r in rows]
        columns.append(Column("likely range (9 in 10)", ranges, right=False))
    print_table(columns)

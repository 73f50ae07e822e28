"""What is written where: answers on standard output, everything else on standard error."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import click

import sweatline
from sweatline.answers import to_json

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.text import Text

    from sweatline.report.told import Told


_PIPED_WIDTH = 80
_NARROWEST = 48
_WIDEST = 100  # columns; longer lines are hard to follow with the eye


def output(*, error: bool = False) -> Console:
    """Console on standard output, or on standard error: plain text when it is not a terminal."""
    from rich.console import Console

    stream = sys.stderr if error else sys.stdout
    plain = Console(stderr=error, markup=False, highlight=False, emoji=False)
    width = plain.width
    if not stream.isatty():
        columns = os.environ.get("COLUMNS", "")
        width = int(columns) if columns.isdigit() and int(columns) > 0 else _PIPED_WIDTH
    plain.width = min(max(width, _NARROWEST), _WIDEST)
    return plain


def put(renderable: RenderableType, *, indent: int = 0) -> None:
    """Print anything rich can lay out, without spaces at the ends of its lines."""
    from rich.padding import Padding

    console = output()
    padded = Padding(renderable, (0, 0, 0, indent))
    # Rather a line that runs over than a number cut off.
    unbounded = console.options.update(width=1000)
    console.width = max(console.width, console.measure(padded, options=unbounded).minimum)
    with console.capture() as captured:
        console.print(padded)
    click.echo("\n".join(line.rstrip() for line in captured.get().splitlines()), color=True)


def heading(text: str) -> None:
    """A heading, set off by an empty line and by bold letters where there are any."""
    from rich.text import Text

    gap()
    put(Text(text, style="bold"))


def paragraph(text: str, *, indent: int = 0) -> None:
    """Text wrapped to the width of the terminal; nothing for none."""
    from rich.text import Text

    if text:
        put(Text(text), indent=indent)


def gap() -> None:
    """An empty line."""
    click.echo()


def listing(rows: Iterable[Sequence[str | Text]], *, indent: int = 2) -> None:
    """Rows of a short first cell and a wrapped second one; nothing for none."""
    from rich.table import Table

    grid = Table.grid(padding=(0, 2, 0, 0))
    grid.add_column(no_wrap=True)
    grid.add_column()
    for row in rows:
        grid.add_row(*row)
    if grid.rows:
        put(grid, indent=indent)


def told_parts(parts: Iterable[Told]) -> None:
    """Parts of an answer, one below the other."""
    for n, part in enumerate(parts):
        if part.title:
            heading(part.title)
        elif n:
            gap()
        for i, text in enumerate(part.sentences):
            paragraph(text, indent=2 if i else 0)
        if part.rows:
            listing(part.rows)
        paragraph(part.after, indent=2)


def print_json(answer: object, command: str | None = None, *, indent: int | None = 2) -> None:
    """Answer as JSON on standard output, headed by the command that gave it and the version.

    Without `indent` it stands in one line.
    """
    head = {} if command is None else {"command": command, "version": sweatline.__version__}
    told = {**head, **to_json(answer)}
    click.echo(json.dumps(told, indent=indent, ensure_ascii=False, allow_nan=False))


def aside(text: str) -> None:
    """One line on standard error."""
    click.echo(text, err=True)

"""What a person sees while waiting, on standard error: the first compile and the progress."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click

# A kernel that is kept once all those are that a question needs.
PROPERTY_KERNEL = "saturation"
TUBE_KERNEL = "capillary_length"
SOLVER_KERNEL = "_residuals"


def _kept(pattern: str) -> int:
    from sweatline.compiled import cache_folder

    return sum(1 for _ in cache_folder().rglob(pattern))


@contextmanager
def waiting(
    what: str, *, kernel: str = SOLVER_KERNEL, determinate: bool = False
) -> Iterator[Callable[[float], None]]:
    """Show that work goes on; yields a function that takes the share done.

    On a terminal there is a moving line with the seconds; elsewhere nothing is written, except
    one line when the kernels have to be compiled first.

    Parameters
    ----------
    kernel : str
        Kernel that the work needs compiled.
    determinate : bool
        The share done will be told, so a bar makes sense.
    """
    interpreted = os.environ.get("NUMBA_DISABLE_JIT", "0") not in ("", "0")
    first = not interpreted and _kept(f"*.{kernel}-*.nbi") == 0
    if first:
        from sweatline.compiled import cache_folder

        click.echo(
            f"Compiling the numerical kernels once, kept in {cache_folder()}; "
            "later runs start at once.",
            err=True,
        )
    if not sys.stderr.isatty():
        yield lambda _share: None
        return
    from rich.progress import (
        BarColumn,
        Progress,
        ProgressColumn,
        SpinnerColumn,
        Task,
        TextColumn,
        TimeElapsedColumn,
    )
    from rich.text import Text

    from sweatline.cli.terminal import output

    class Compiled(ProgressColumn):
        """Share of the solver's kernels that are compiled so far, or how many of others."""

        max_refresh = 1.0

        def render(self, task: Task) -> Text:
            if kernel == SOLVER_KERNEL:
                from sweatline.design.first_compile import compiled_share

                return Text(f"{100 * compiled_share():.0f} % compiled")
            return Text(f"{_kept('*.nbi')} kernels compiled")

    columns: list[ProgressColumn] = [SpinnerColumn("line"), TextColumn("{task.description}")]
    if determinate:
        columns.append(BarColumn(bar_width=30))
    columns.append(TimeElapsedColumn())
    if first:
        columns.append(Compiled())
    with Progress(*columns, console=output(error=True), transient=True) as progress:
        task = progress.add_task(what, total=1.0 if determinate else None)
        yield lambda share: progress.update(task, completed=share)

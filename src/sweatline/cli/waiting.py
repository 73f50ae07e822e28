"""What a person sees while waiting, on standard error: the first compile and the progress."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click

# A kernel that is kept once all those are that a question needs.
PROPERTY_KERNEL = "saturation"
TUBE_KERNEL = "capillary_length"
SOLVER_KERNEL = ""


def _kept(kernel: str) -> bool:
    from sweatline.compiled import cache_folder

    return any(cache_folder().rglob(f"*.{kernel}-*.nbi"))


def _compile_solver() -> None:
    """Compile the solver, if it is not kept, with a bar."""
    from sweatline.design.first_compile import compile_solver, compiled_share

    if compiled_share() == 1.0:
        return
    _tell_of_compiling()
    done = threading.Event()
    with _progress("compiling the solver", determinate=True) as step:

        def follow() -> None:
            while not done.wait(0.3):
                step(compiled_share())

        follower = threading.Thread(target=follow, daemon=True)
        follower.start()
        try:
            compile_solver()
        finally:
            done.set()
            follower.join()


def _tell_of_compiling() -> None:
    from sweatline.compiled import cache_folder

    click.echo(
        f"Compiling the numerical kernels once, kept in {cache_folder()}; "
        "later runs start at once.",
        err=True,
    )


@contextmanager
def waiting(
    what: str, *, kernel: str | None = SOLVER_KERNEL, determinate: bool = False
) -> Iterator[Callable[[float], None]]:
    """Show that work goes on; yields a function that takes the share done.

    On a terminal there is a moving line with the seconds; elsewhere nothing is written, except
    one line when the kernels have to be compiled first.

    Parameters
    ----------
    kernel : str, optional
        Kernel that the work needs compiled, or None; by default all of the solver.
    determinate : bool
        The share done will be told, so a bar makes sense.
    """
    if os.environ.get("NUMBA_DISABLE_JIT", "0") in ("", "0"):
        if kernel == SOLVER_KERNEL:
            _compile_solver()
        elif kernel is not None and not _kept(kernel):
            _tell_of_compiling()
    with _progress(what, determinate=determinate) as step:
        yield step


@contextmanager
def _progress(what: str, *, determinate: bool) -> Iterator[Callable[[float], None]]:
    if not sys.stderr.isatty():
        yield lambda _share: None
        return
    from rich.progress import (
        BarColumn,
        Progress,
        ProgressColumn,
        SpinnerColumn,
        TextColumn,
        TimeElapsedColumn,
    )

    from sweatline.cli.terminal import output

    columns: list[ProgressColumn] = [SpinnerColumn("line"), TextColumn("{task.description}")]
    if determinate:
        columns.append(BarColumn(bar_width=30))
    columns.append(TimeElapsedColumn())
    with Progress(*columns, console=output(error=True), transient=True) as progress:
        task = progress.add_task(what, total=1.0 if determinate else None)
        yield lambda share: progress.update(task, completed=share)

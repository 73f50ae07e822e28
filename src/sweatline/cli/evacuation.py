"""Command `evacuation`: pump-down through real hoses, water, and the rise test."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

import click

from sweatline.bench.evacuation.evacuation import EvacuationAnswer, EvacuationRequest
from sweatline.bench.evacuation.evacuation import evacuation as answer
from sweatline.bench.evacuation.rise_test import vacuum_in
from sweatline.cli.sources import Shelf, Sources, bench_options
from sweatline.cli.terminal import told_parts
from sweatline.log.logbook import start_refused
from sweatline.report.dry import dry_told

if TYPE_CHECKING:
    from sweatline.units import Scale


@click.command()
@bench_options(EvacuationRequest)
def evacuation(shelf: Shelf) -> None:
    """Work out a pump-down, or read what a vacuum does once it is shut off.

    With --pump and hoses: how long until both sides are empty, from one side and from both, and
    how long water takes. With --rise: leak, moisture, gas from oil and walls, or tight, each with
    its chance, and what to do.

    From --log: the vacuum-gauge since the event `evacuating`, and its rise since the event
    `isolated`.
    """
    alone = not shelf.typed.keys() & {"pump", "rise"}
    if alone and shelf.log_file is None:
        raise click.UsageError(
            "give --log, or --pump with its hoses, or --rise three times or more"
        )
    sources = Sources(shelf, EvacuationRequest)
    read = functools.partial(vacuum_in, alone=alone)
    logged = sources.logged(read, alone=alone, without="nothing from the log")
    refused = start_refused(sources.book.held) if sources.book is not None else None
    request = sources.request(logged, start_refused=refused)
    sources.tell(answer, request, _print, "working out the vacuum")


def _print(a: EvacuationAnswer, scale: Scale, details: bool) -> None:
    told_parts(dry_told(a, scale, details))

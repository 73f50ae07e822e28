"""Command `tightness`: a pressure test read or planned, the past of a leak, where to look."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sweatline.bench.tightness.pressure_hold import hold_in
from sweatline.bench.tightness.tightness import TightnessAnswer, TightnessRequest
from sweatline.bench.tightness.tightness import tightness as answer
from sweatline.cli.sources import NOTHING, Shelf, Sources, bench_options
from sweatline.cli.terminal import told_parts
from sweatline.report.tight import tight_told

if TYPE_CHECKING:
    from sweatline.units import Scale


@click.command()
@bench_options(TightnessRequest)
def tightness(shelf: Shelf) -> None:
    """Read a pressure test with dry nitrogen or helium, or plan one.

    Says the leak in g/yr of the refrigerant to come with its range, and the smallest leak the test
    could have shown. With --held and --after: what the past implies, and which ways of looking
    could find such a leak. With a job file: how to divide the circuit so that the search ends.

    From --log: the readings of suction-gauge or head-gauge with those of circuit (its temperature)
    since the event `pressurised`, barometer if it was read, the gas, and the instruments' errors.
    """
    typed = shelf.typed
    asked = typed.keys() & {"readings", "pressure", "held", "after", "measured"}
    if not (asked or shelf.log_file):
        raise click.UsageError(
            "give --log, or --reading twice, or --pressure, or --held with --after"
        )
    sources = Sources(shelf, TightnessRequest)
    hold = NOTHING
    if "readings" not in typed and "measured" not in typed:
        hold = sources.logged(hold_in, alone=not asked, without="no pressure test from the log")
    request = sources.request(hold, unit_system=sources.scale.system)
    sources.tell(answer, request, _print, "working out the leak")


def _print(a: TightnessAnswer, scale: Scale, details: bool) -> None:
    told_parts(tight_told(a, scale, details))

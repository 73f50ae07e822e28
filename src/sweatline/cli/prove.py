"""Command `prove`: what the machine now does, and whether that is what it should do."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

import click

from sweatline.bench.proof.from_log import proof_in
from sweatline.bench.proof.proof import ProofRequest
from sweatline.bench.proof.proof import prove as answer
from sweatline.cli.options import calibration_option, taught_bench
from sweatline.cli.sources import NOTHING, Shelf, Sources, bench_options
from sweatline.cli.terminal import told_parts
from sweatline.cli.waiting import SOLVER_KERNEL
from sweatline.log.lines import moment
from sweatline.report.proof import proof_told

if TYPE_CHECKING:
    from sweatline.bench.proof.proof import ProofAnswer
    from sweatline.units import Scale


@click.command()
@bench_options(ProofRequest, running=True)
@calibration_option
@click.option("--from", "begin", metavar="TIME", help="With LOG: count from then on.")
@click.option("--until", "end", metavar="TIME", help="With LOG: and up to then.")
def prove(shelf: Shelf, *, uncalibrated: bool, begin: str | None, end: str | None) -> None:
    """Prove the running machine: readings and water against what this build should do.

    Superheat, subcooling, water in an hour, water for each kWh and the heat balance between air
    and refrigerant, each with its range; whether the readings are steady enough to count; pass or
    fail; and what this machine would do in the rooms of the test procedures.

    From LOG: the last stretch in which the machine ran and its charge was not changed, from half
    an hour after the start. Write down `water` twice: how much stands in the bucket. Without LOG
    give the readings as options.
    """
    sources = Sources(
        shelf, ProofRequest, functools.partial(taught_bench, uncalibrated=uncalibrated)
    )
    read = functools.partial(
        proof_in,
        begin=None if begin is None else moment(begin),
        end=None if end is None else moment(end),
    )
    logged = NOTHING if sources.book is None else sources.logged(read, alone=True)
    request = sources.request(logged)
    sources.tell(answer, request, _print, "holding it against the model", SOLVER_KERNEL)


def _print(a: ProofAnswer, scale: Scale, details: bool) -> None:
    told_parts(proof_told(a, scale, details))

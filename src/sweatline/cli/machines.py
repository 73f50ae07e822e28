"""Commands on whole machines: match and balance."""

from __future__ import annotations

import os
from contextlib import suppress
from typing import TYPE_CHECKING

import click

from sweatline.cli.options import (
    INTERRUPTED,
    Session,
    calibration_option,
    chosen_parts,
    figures_option,
    job_argument,
    json_option,
    moved_room,
    part_options,
    quantity,
    room_options,
    taught_bench,
)

if TYPE_CHECKING:
    from sweatline.design.records import BalanceRecord
    from sweatline.units import Scale

__all__ = ["balance", "match"]

_MOST_WORKERS = 8


@click.command(short_help="One combination: what it settles at, how sure that is.")
@job_argument
@part_options
@click.option("--charge", metavar="MASS", help='As "240 g"; else charged to the wanted superheat.')
@room_options
@click.option(
    "--draws",
    type=click.IntRange(0, 4096),
    default=128,
    show_default=True,
    help="Draws of the uncertain numbers, up to the next power of two; 0 leaves the ranges out.",
)
@calibration_option
@figures_option
@json_option
@click.pass_obj
def balance(
    session: Session,
    job: str,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: str | None,
    charge: str | None,
    room_temperature: str | None,
    room_humidity: str | None,
    draws: int,
    figures: str | None,
    uncalibrated: bool,
    as_json: bool,
) -> None:
    """What one combination of parts settles at, how sure that is, and what it means."""
    from sweatline.cli.figures import draw_figures
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import waiting
    from sweatline.design import questions
    from sweatline.design.recording import balance_record

    bench = moved_room(taught_bench(session, job, uncalibrated), room_temperature, room_humidity)
    parts = chosen_parts(
        bench, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    mass = quantity(charge, "mass", "--charge", low=1e-3, high=20.0) if charge is not None else None
    with waiting("solving the machine and its draws"):
        answer = questions.balance(bench, **parts, charge=mass, draws=draws)
    record = balance_record(answer, charge_given=mass is not None)
    if as_json:
        print_json(record)
    else:
        _print_balance(record, _scale(session))
    draw_figures(answer, figures, bench)


def _scale(session: Session) -> Scale:
    assert session.scale is not None
    return session.scale


def _print_balance(record: BalanceRecord, scale: Scale) -> None:
    from sweatline.answers import rows_of
    from sweatline.cli.judgements import print_cautions, print_notes, print_shares, print_verdicts
    from sweatline.cli.speech import parts_line, room_line
    from sweatline.cli.tables import print_rows
    from sweatline.cli.terminal import heading, paragraph

    heading(parts_line(record.parts, scale))
    paragraph(room_line(record.job, scale), indent=2)
    wanted = scale.show(record.job.target_superheat, "temperature difference")
    if record.charged_to == "superheat":
        paragraph(f"Charged until the evaporator outlet shows {wanted} of superheat.", indent=2)
    else:
        paragraph(f"With a charge of {scale.show(record.steady.charge, 'mass')}.", indent=2)
    if record.draws:
        share = f", of which {record.unsolved} found no balance" if record.unsolved else ""
        paragraph(
            f"Nine tenths: the range that holds nine of ten of {record.draws} draws of "
            f"everything uncertain{share}.",
            indent=2,
        )
    heading("What it settles at")
    print_rows(rows_of(record.steady, record.bands), scale)
    print_notes(record.steady.notes)
    _print_places(record, scale)
    print_verdicts(record.verdicts, scale, record.draws)
    print_shares(record.matters)
    print_cautions(record.cautions)


def _print_places(record: BalanceRecord, scale: Scale) -> None:
    from sweatline.cli.tables import Column, measured, print_table
    from sweatline.cli.terminal import heading

    steady = record.steady
    places = sorted(steady.charge_by_place._asdict().items(), key=lambda kv: -kv[1])
    heading("Where the charge is")
    masses = [mass for _, mass in places]
    columns = [
        Column("", [name.replace("_", " ") for name, _ in places], right=False),
        measured("mass", masses, "mass", scale),
        Column("share", [f"{100 * m / steady.charge:.0f} %" for m in masses]),
    ]
    if record.place_bands_kg:
        ranges = [scale.range(record.place_bands_kg[name], "mass", 2) for name, _ in places]
        columns.append(Column("nine tenths", ranges, right=False))
    print_table(columns)


@click.command(short_help="Will these parts work together? All combinations, ranked.")
@job_argument
@click.option(
    "--draws",
    type=click.IntRange(0, 4096),
    default=16,
    show_default=True,
    help="Draws of the uncertain numbers for each combination, up to the next power of two; the "
    "best gets four times as many.",
)
@click.option(
    "--top",
    type=click.IntRange(1),
    default=10,
    show_default=True,
    help="Rows of the ranking; verdicts of safety are told whatever it is.",
)
@calibration_option
@figures_option
@json_option
@click.pass_obj
def match(
    session: Session,
    job: str,
    draws: int,
    top: int,
    figures: str | None,
    uncalibrated: bool,
    as_json: bool,
) -> int:
    """Which of the parts on the bench work together: every combination, ranked."""
    from sweatline.cli.figures import draw_ranking
    from sweatline.cli.ranking import print_match
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import waiting
    from sweatline.design import match as matching
    from sweatline.design.recording import match_record

    bench = taught_bench(session, job, uncalibrated)
    total = len(matching.candidates(bench))
    found: list[matching.Candidate | matching.Lost] = []
    complete = True
    workers = max(1, min(os.cpu_count() or 1, total, _MOST_WORKERS))
    try:
        with waiting(f"solving {total} combinations", determinate=True) as step:
            for one in matching.match(bench, draws=draws, workers=workers):
                found.append(one)
                step(len(found) / total)
    except KeyboardInterrupt:
        complete = False
    if complete and draws and matching.ranked(found):
        # The one that will be built is worth more draws than those that will not.
        with waiting("looking closer at the best"), suppress(KeyboardInterrupt):
            matching.refine_best(bench, found, draws=4 * draws)
    record = match_record(bench, found, complete=complete)
    if as_json:
        print_json(record)
    else:
        print_match(record, _scale(session), top)
    if not complete:
        return INTERRUPTED
    draw_ranking(matching.ranked(found), figures, bench)
    return 0

"""The command frost: whether a coil freezes up, how soon, and what keeps it open."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sweatline.cli.judgements import print_cautions, print_notes, print_verdicts
from sweatline.cli.options import (
    Asked,
    charge_option,
    draw_figures,
    figures_option,
    machine_options,
    room_options,
)
from sweatline.cli.quantity import Quantity, Written, value
from sweatline.cli.tables import Column, measured, print_table
from sweatline.cli.terminal import heading, listing, paragraph, print_json
from sweatline.report.rooms import (
    frost_room_line,
    headline_of_frost,
    keeping_open,
    melting,
    thinned_steps,
)
from sweatline.report.sentences import parts_line

if TYPE_CHECKING:
    from sweatline.design.frost import FrostAnswer
    from sweatline.units import Kind, Scale


@click.command()
@machine_options
@charge_option
@room_options
@figures_option
@click.option(
    "--hours",
    type=Quantity("time", low=600.0, high=30.0 * 86400.0),
    metavar="TIME",
    default="24 h",
    show_default=True,
    help="Longest run.",
)
def frost(
    asked: Asked,
    charge: Written | None,
    room_temperature: Written | None,
    room_humidity: Written | None,
    figures: str | None,
    hours: Written,
) -> None:
    """Run a machine, charged in the job's room, in a cold one until frost blocks its coil."""
    from sweatline.cli.waiting import waiting
    from sweatline.design import frost as design

    bench = asked.bench()
    with waiting("letting frost grow", determinate=True) as step:
        answer = design.frost(
            bench,
            **asked.parts(bench),
            charge=value(charge),
            room_temperature=value(room_temperature),
            room_humidity=value(room_humidity),
            hours=hours.si() / 3600.0,
            progress=step,
        )
    if asked.as_json:
        print_json(answer, "frost")
    else:
        _print(answer, asked.session.shown, details=asked.details)
    if answer.ended != "bare":
        draw_figures(answer, figures, bench)


def _print(answer: FrostAnswer, scale: Scale, *, details: bool) -> None:
    heading(headline_of_frost(answer, scale))
    paragraph(parts_line(answer.parts, scale), indent=2)
    paragraph(frost_room_line(answer, scale), indent=2)
    print_verdicts([answer.verdict], scale, 0)
    if answer.ended == "bare":
        print_notes(answer.notes, scale)
        print_cautions(answer.cautions, details=details)
        return
    heading("How the frost grows")
    rows = thinned_steps(answer.steps)

    def column(title: str, key: str, kind: Kind) -> Column:
        return measured(title, [getattr(s, key) for s in rows], kind, scale)

    print_table(
        [
            column("after", "time", "time"),
            Column("air-\nflow", [f"{100.0 * s.airflow:.0f} %" for s in rows]),
            column("ice", "ice", "mass"),
            column("thickest", "thickest", "length"),
            column("evapo-\nrating", "evaporating_temperature", "temperature"),
            column("watts", "total_power", "power"),
            column("freezing", "freezing", "water removal"),
        ]
    )
    melts, open_ = melting(answer, scale), keeping_open(answer, scale)
    if melts:
        heading("What melts it")
        listing(melts)
    if open_:
        heading("What keeps the coil open")
        for line in open_:
            paragraph(line, indent=2)
    print_notes(answer.notes, scale)
    print_cautions(answer.cautions, details=details)

"""The commands year and worth: a year with the machine in its room, and whether it pays."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sweatline.cli.judgements import print_cautions, print_notes
from sweatline.cli.options import (
    Asked,
    charge_option,
    draw_figures,
    draws_option,
    figures_option,
    machine_options,
)
from sweatline.cli.quantity import Written, value
from sweatline.cli.tables import Column, measured, print_table
from sweatline.cli.terminal import heading, listing, paragraph, print_json
from sweatline.report.sentences import parts_line
from sweatline.report.year import (
    control_name,
    days,
    days_between,
    headline_of_worth,
    headline_of_year,
    settings_lines,
    switched_line,
    takes,
    way_name,
    ways_table,
    worth_lines,
)

if TYPE_CHECKING:
    from sweatline.season.settings import Settings
    from sweatline.season.worth import WorthAnswer
    from sweatline.season.year import YearAnswer
    from sweatline.units import Kind, Scale


@click.command()
@machine_options
@charge_option
@draws_option(64)
@figures_option
def year(asked: Asked, charge: Written | None, draws: int, figures: str | None) -> None:
    """A year in its room: too damp, iced up, starts, litres, kilowatt-hours, which control."""
    from sweatline.cli.waiting import waiting
    from sweatline.season import year as season

    bench = asked.bench()
    with waiting("going through the year", determinate=True) as step:
        wanted = season.YearRequest(**asked.parts(bench), charge=value(charge), draws=draws)
        answer = season.year(bench, wanted, progress=step)
    if asked.as_json:
        print_json(answer, "year")
    else:
        _print_year(answer, asked.session.shown, details=asked.details)
    draw_figures(answer, figures, bench)


def _print_year(answer: YearAnswer, scale: Scale, *, details: bool) -> None:
    heading(headline_of_year(answer, scale))
    paragraph(parts_line(answer.parts, scale), indent=2)
    paragraph(f"Weather: {answer.outdoors}.", indent=2)
    if answer.days:
        paragraph(f"Measured days that narrowed the room: {answer.days}.", indent=2)
    listing(takes(answer, scale))
    heading("Month by month")
    rows = answer.months

    def column(title: str, key: str, kind: Kind) -> Column:
        return measured(title, [getattr(m, key) for m in rows], kind, scale)

    print_table(
        [
            Column("", [m.name for m in rows], False),
            column("room", "temperature", "temperature"),
            column("humidity", "humidity", "relative humidity"),
            Column("too damp", [days(m.too_damp) for m in rows]),
            Column("running", [days(m.running) for m in rows]),
            Column("ice", [days(m.frozen) for m in rows]),
            column("water", "water", "volume"),
            column("energy", "energy", "energy"),
        ]
    )
    if details and answer.draws:
        print_table(
            [
                Column("likely range", [m.name for m in rows], False),
                Column("too damp", [days_between(m.ranges["too_damp_s"]) for m in rows]),
                Column("water", [scale.range(m.ranges["water_m3"], "volume", 2) for m in rows]),
                Column("energy", [scale.range(m.ranges["energy_J"], "energy", 2) for m in rows]),
            ]
        )
    if answer.settings is not None:
        _print_settings(answer.settings, scale, details=details)
    print_notes(answer.notes, scale)
    print_cautions(answer.cautions, details=details)


def _print_settings(found: Settings, scale: Scale, *, details: bool) -> None:
    heading("How to switch it")
    for line in settings_lines(found, scale):
        paragraph(line, indent=2)
    if details:
        every = (found.best, *found.others)
        print_table(
            [
                Column("the best of each kind", [control_name(s.control) for s in every], False),
                Column("too damp", [days(s.too_damp) for s in every]),
                Column("iced up", [days(s.iced_up) for s in every]),
                measured("energy", [s.energy for s in every], "energy", scale),
            ]
        )


@click.command()
@machine_options
@charge_option
@draws_option(64)
def worth(asked: Asked, charge: Written | None, draws: int) -> None:
    """The rebuild against a new machine, airing and nothing: money over the years of use."""
    from sweatline.cli.waiting import waiting
    from sweatline.season import worth as season
    from sweatline.season.year import YearRequest

    bench = asked.bench()
    with waiting("going through the year", determinate=True) as step:
        wanted = YearRequest(**asked.parts(bench), charge=value(charge), draws=draws)
        answer = season.worth(bench, wanted, progress=step)
    if asked.as_json:
        print_json(answer, "worth")
    else:
        _print_worth(answer, asked.session.shown, details=asked.details)


def _print_worth(answer: WorthAnswer, scale: Scale, *, details: bool) -> None:
    heading(headline_of_worth(answer, scale))
    for reason in answer.reasons[1:]:
        paragraph(f"And {reason}.", indent=2)
    paragraph(parts_line(answer.year.parts, scale), indent=2)
    listing(worth_lines(answer, scale))
    paragraph(f"{switched_line(answer, scale)}.", indent=2)
    heading("The ways side by side")
    print_table(
        [
            Column("", [way_name(w) for w in answer.ways], False),
            *(Column(head, texts) for head, texts in ways_table(answer)),
            measured("energy", [w.energy for w in answer.ways], "energy", scale),
        ]
    )
    print_notes((*answer.notes, *answer.year.notes), scale)
    print_cautions(answer.year.cautions, details=details)

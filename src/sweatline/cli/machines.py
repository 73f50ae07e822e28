"""The command balance, and what every answer about one machine prints."""

from __future__ import annotations

from typing import Final

import click

from sweatline.answers import rows_of
from sweatline.cli.judgements import print_cautions, print_notes, print_shares, print_verdicts
from sweatline.cli.options import (
    Asked,
    charge_option,
    draw_figures,
    draws_option,
    figures_option,
    machine_options,
    moved_room,
    room_options,
)
from sweatline.cli.quantity import Written, value
from sweatline.cli.tables import Column, measured, print_rows, print_table
from sweatline.cli.terminal import heading, paragraph, print_json
from sweatline.cli.waiting import waiting
from sweatline.design import balance as design
from sweatline.design.balance import Assessment, BalanceAnswer
from sweatline.report.sentences import outcome, parts_line, room_line, trial_runs
from sweatline.units import Scale

# Shown with the details only.
_DETAILS: Final = (
    "suction_temperature",
    "liquid_temperature",
    "air_between_temperature",
    "flow",
    "compressor_power",
    "cooling",
)


@click.command()
@machine_options
@charge_option
@room_options
@draws_option(128)
@figures_option
def balance(
    asked: Asked,
    charge: Written | None,
    room_temperature: Written | None,
    room_humidity: Written | None,
    draws: int,
    figures: str | None,
) -> None:
    """What one combination of parts settles at, how sure that is, and what it means."""

    bench = moved_room(asked.bench(), room_temperature, room_humidity)
    with waiting("solving the machine and its trial runs"):
        answer = design.balance(bench, **asked.parts(bench), charge=value(charge), draws=draws)
    if asked.as_json:
        print_json(answer, "balance")
    else:
        _print_balance(answer, asked.session.shown, details=asked.details)
    draw_figures(answer, figures, bench)


def print_values(found: Assessment, scale: Scale, *, details: bool) -> None:
    """What a machine settles at, with ranges."""
    rows = rows_of(found.steady, found.bands)
    print_rows([r for r in rows if details or r.name not in _DETAILS], scale)
    print_notes(found.steady.notes, scale, details=details)


def _print_balance(answer: BalanceAnswer, scale: Scale, *, details: bool) -> None:
    heading(outcome(answer, scale))
    paragraph(parts_line(answer.parts, scale), indent=2)
    wanted = scale.show(answer.job.target_superheat, "temperature difference", 2)
    filled = f"Charged to {wanted} of superheat." if answer.charged_to == "superheat" else ""
    paragraph(" ".join((room_line(answer.job, scale), filled)).rstrip(), indent=2)
    paragraph(trial_runs(answer.draws, answer.unsolved), indent=2)
    print_verdicts(answer.verdicts, scale, answer.draws, details=details)
    heading("What it settles at")
    print_values(answer, scale, details=details)
    if details:
        _print_places(answer, scale)
    print_shares(answer.shares.get("water_kg_per_s", ()), details=details)
    print_cautions(answer.cautions, details=details)


def _print_places(answer: BalanceAnswer, scale: Scale) -> None:
    steady = answer.steady
    places = sorted(steady.charge_by_place._asdict().items(), key=lambda kv: -kv[1])
    heading("Where the charge is")
    masses = [mass for _, mass in places]
    columns = [
        Column("", [name.replace("_", " ") for name, _ in places], right=False),
        measured("mass", masses, "mass", scale),
        Column("share", [f"{100 * m / steady.charge:.0f} %" for m in masses]),
    ]
    if answer.place_bands:
        ranges = [scale.range(answer.place_bands[name], "mass", 2) for name, _ in places]
        columns.append(Column("likely range (9 in 10)", ranges, right=False))
    print_table(columns)

"""The command diagnose: what is wrong, by a few readings, and what to measure next."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

import click

from sweatline.assembly.build import Build, build_for
from sweatline.charging.readings import Round, log_of_lines, round_of
from sweatline.cli.judgements import print_cautions, print_notes
from sweatline.cli.options import Asked, draw_figures, figures_option, machine_options
from sweatline.cli.tables import Column, print_table
from sweatline.cli.terminal import heading, listing, paragraph, print_json
from sweatline.cli.waiting import waiting
from sweatline.diagnosis.diagnosis import Diagnosis
from sweatline.diagnosis.diagnosis import diagnose as diagnosed
from sweatline.log.logbook import open_log
from sweatline.report.diagnosis import (
    charge_line,
    in_a_hundred,
    next_row,
    reading_cells,
    suspect_rows,
    together_line,
)
from sweatline.report.sentences import sentence
from sweatline.units import Scale

_SHOWN: Final = 2  # causes told at length without --details
_BINARY: Final = b"SQLite format 3"


@click.command()
@machine_options
@click.argument("source", metavar="LOG|READINGS")
@click.option(
    "--well",
    metavar="LOG|READINGS",
    help="Of the same machine when it ran well: makes the answer much surer.",
)
@figures_option
def diagnose(asked: Asked, source: str, well: str | None, figures: str | None) -> int:
    """What is wrong with a machine by its readings, how sure that is, and what to measure next.

    LOG is a log of `sweatline log`. READINGS is a text file of lines, `-` for standard input, or
    the readings themselves: "suction 1.42 bar(g); head 5.1 bar(g); liquid-line 22 C; watts 285 W".
    Any few will do, of a machine that runs steadily: the gauges, suction-gas (at the evaporator's
    outlet), return-gas (at the compressor), discharge-gas, liquid-line, condenser-bend and
    evaporator-bend (half way through a coil), coil, watts, air-in, air-between, air-out,
    room-humidity, water-rate, standing-pressure (at rest), charge-weighed.
    """
    bench = asked.bench()
    parts, scale = asked.parts(bench), asked.session.shown
    build = build_for(bench, **parts)
    found = _round(source, build)
    before = _round(well, build) if well is not None else None
    with waiting("solving the machine with every fault"):
        answer = diagnosed(
            build,
            found.readings,
            well=before.readings if before is not None else (),
            notes=(*found.notes, *(before.notes if before is not None else ())),
            ruled_out=found.ruled_out,
        )
    if asked.as_json:
        print_json(answer, "diagnose")
    else:
        _print(answer, scale, details=asked.details)
    draw_figures(answer, figures, bench)
    return 0


def _round(source: str, build: Build) -> Round:
    """Readings of a log, a text file, standard input, or the words themselves."""
    place, fed = Path(source), False
    if source != "-" and place.suffix and place.is_file():
        with place.open("rb") as file:
            log = file.read(len(_BINARY)) == _BINARY
        if log:
            with open_log(source) as book:
                return round_of(book, build)
        lines = place.read_text(encoding="utf-8", errors="replace").splitlines()
        fed = True
    elif source == "-":
        lines = sys.stdin.read().splitlines()
    else:
        lines = [source]
    with log_of_lines(build, lines, fed=fed) as book:
        return round_of(book, build)


def _print(found: Diagnosis, scale: Scale, *, details: bool) -> None:
    heading(sentence(found.answer))
    for one in found.contradictions:
        paragraph(sentence(one.sentence), indent=2)
    for n, suspect in enumerate(found.suspects):
        if n >= _SHOWN and not details:
            break
        heading(
            f"{suspect.name[:1].upper()}{suspect.name[1:]}: {in_a_hundred(suspect.probability)}"
        )
        listing(suspect_rows(suspect))
    rest = found.suspects[_SHOWN:]
    if rest and not details:
        told = "; ".join(f"{s.name} {in_a_hundred(s.probability)}" for s in rest)
        paragraph(f"Less likely: {told}.", indent=2)
    if together := together_line(found):
        paragraph(together, indent=2)
    if found.next_readings:
        heading("What to measure next")
        listing(next_row(one, scale) for one in found.next_readings)
    heading("The readings")
    cells = [reading_cells(r, scale) for r in found.readings]
    titles = ("", "read", "in order", "off", "as explained")
    print_table(
        [
            Column(title, [row[k] for row in cells], right=k in (1, 3))
            for k, title in enumerate(titles)
            if k < 4 or details
        ]
    )
    paragraph(
        "In order: 9 in 10 machines of this job with nothing wrong. Off: from its middle, in "
        "standard deviations.",
        indent=2,
    )
    paragraph(charge_line(found, scale), indent=2)
    if details:
        heading("The machine by these readings, of its best value")
        listing(
            (c.name, f"{c.after.middle:.2f} ({c.after.low:.2f} to {c.after.high:.2f})")
            for c in found.conditions
        )
    print_notes(found.notes, scale)
    print_cautions(found.cautions, details=details)

"""The command frost: whether a coil freezes up, how soon, and what keeps it open."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from sweatline.cli.judgements import print_cautions, print_notes, print_verdicts
from sweatline.cli.options import (
    Asked,
    charge_option,
    machine_options,
    room_options,
)
from sweatline.cli.quantity import Quantity, Written, value
from sweatline.cli.tables import Column, measured, print_table
from sweatline.cli.terminal import heading, listing, paragraph, print_json
from sweatline.report.sentences import parts_line

if TYPE_CHECKING:
    from sweatline.design.frost import FrostAnswer
    from sweatline.machine.frost import FrostStep
    from sweatline.units import Kind, Scale


_MOST_ROWS = 12


@click.command()
@machine_options
@charge_option
@room_options
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


def _thinned(steps: Sequence[FrostStep]) -> list[FrostStep]:
    every = max(1, -(-len(steps) // _MOST_ROWS))
    return [s for i, s in enumerate(steps) if i % every == 0 or i == len(steps) - 1]


def _print(answer: FrostAnswer, scale: Scale, *, details: bool) -> None:
    heading(_when(answer, scale))
    paragraph(parts_line(answer.parts, scale), indent=2)
    paragraph(
        f"Charge {scale.show(answer.charge, 'mass')}; running in a room of "
        f"{scale.show(answer.room_temperature, 'temperature')}, "
        f"{scale.show(answer.room_relative_humidity, 'relative humidity', 2)}.",
        indent=2,
    )
    print_verdicts([answer.verdict], scale, 0)
    if answer.ended == "bare":
        print_notes(answer.notes, scale)
        print_cautions(answer.cautions, details=details)
        return
    heading("How the frost grows")
    rows = _thinned(answer.steps)

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
    _print_defrost(answer, scale)
    print_notes(answer.notes, scale)
    print_cautions(answer.cautions, details=details)


def _when(answer: FrostAnswer, scale: Scale) -> str:
    light, likely, dense = (None if t is None else scale.show(t, "time", 2) for t in answer.blocked)
    if answer.ended == "bare":
        return "Nothing freezes in this room."
    if likely is None:
        longest = scale.show(answer.steps[-1].time, "time")
        how = "the frost no longer grows" if answer.ended == "settled" else "it still runs"
        return f"The airflow is not halved: after {longest} {how}."
    return (
        f"The airflow is halved after {likely}; after {light or 'a longer time'} if the frost is "
        f"light, {dense or 'a longer time'} if it is dense."
    )


def _print_defrost(answer: FrostAnswer, scale: Scale) -> None:
    need, cycle = answer.defrost, answer.cycle
    if need is None:
        return
    heading("What melts it")
    rest = (
        f"{scale.show(need.rest, 'time')} with the compressor off and the fan on"
        if need.rest is not None
        else "not in a room as cold as this: it needs heat"
    )
    listing(
        [
            (
                scale.show(need.energy, "energy"),
                f"to melt {scale.show(need.ice, 'mass')} of ice, "
                f"{scale.show(need.metal, 'energy')} of it for the metal of the coil",
            ),
            ("rest", rest),
            (
                "hot gas",
                f"{scale.show(need.hot_gas, 'time')} at least, with all of the compressor's heat "
                "in the coil",
            ),
        ]
    )
    if cycle is None:
        return
    heading("What keeps the coil open")
    run = scale.show(cycle.run, "time")
    if cycle.rest is None or cycle.running_share is None:
        paragraph(
            f"Run {run} at most, until the airflow is down to four fifths, then melt the ice with "
            "hot gas or a heater.",
            indent=2,
        )
    else:
        paragraph(
            f"Timer: run {run}, until the airflow is down to four fifths, then rest "
            f"{scale.show(cycle.rest, 'time')} with the fan on; it runs "
            f"{100.0 * cycle.running_share:.0f} % of the time.",
            indent=2,
        )
    start = scale.show(cycle.start_at, "temperature")
    if cycle.stop_at is not None:
        paragraph(
            f"Thermostat on a tube in the middle of the coil: stop at "
            f"{scale.show(cycle.stop_at, 'temperature')}, start again at {start}.",
            indent=2,
        )
    else:
        paragraph(
            "A thermostat on the coil hardly notices this frost, because evaporating falls too "
            f"little; let it end the rest, at {start}, and a timer begin it.",
            indent=2,
        )

"""Commands that carry one machine through many states: charge-curve and room-map."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import click

from sweatline.answers import Quantity, Range
from sweatline.cli.judgements import print_cautions, print_notes
from sweatline.cli.options import (
    INTERRUPTED,
    Asked,
    charge_option,
    draw_figures,
    draws_option,
    figures_option,
    machine_options,
    moved_room,
    room_options,
)
from sweatline.cli.quantity import Series, Written, value
from sweatline.cli.tables import Column, measured, print_table
from sweatline.cli.terminal import heading, listing, paragraph, print_json
from sweatline.cli.waiting import waiting
from sweatline.design import charge_curve as design
from sweatline.design.charge_curve import ChargeAnswer
from sweatline.design.room_map import Grid, RoomAnswer
from sweatline.report.charge_curve import (
    CURVE,
    STATES,
    event_lines,
    headline_of_curve,
    stop_line,
    thinned,
)
from sweatline.report.rooms import freezes, frost_lines, headline_of_rooms, without_balance
from sweatline.report.sentences import parts_line, room_line, trial_runs
from sweatline.units import Kind, Scale

# Rows of a charge curve as a table; the JSON has all.
_ROWS: Final = 16
_ROWS_IN_DETAIL: Final = 30

_CURVE_RANGES: Final = tuple(c for c in CURVE if c[0] not in ("charge", "subcooling"))
_ROOM_RANGES: Final = (
    ("water", "water"),
    ("total_power", "watts"),
    ("water_per_energy", "water per energy"),
    ("coil_temperature", "coil"),
)


@click.command(name="charge-curve")
@machine_options
@room_options
@draws_option(32)
@figures_option
def charge_curve(
    asked: Asked,
    room_temperature: Written | None,
    room_humidity: Written | None,
    draws: int,
    figures: str | None,
) -> int:
    """What gauges and thermometers show from nearly empty to overfull, and where to stop."""

    bench = moved_room(asked.bench(), room_temperature, room_humidity)
    with waiting("filling", determinate=True) as step:
        answer = design.charge_curve(bench, **asked.parts(bench), draws=draws, progress=step)
    if asked.as_json:
        print_json(answer, "charge-curve")
    else:
        _print_curve(answer, asked.session.shown, details=asked.details)
    if answer.interrupted:  # what was interrupted is not drawn
        return INTERRUPTED
    draw_figures(answer, figures, bench)
    return 0


def _print_curve(answer: ChargeAnswer, scale: Scale, *, details: bool) -> None:
    stop = answer.stop
    heading(headline_of_curve(answer, scale))
    paragraph(stop_line(answer, scale), indent=2)
    paragraph(parts_line(answer.parts, scale), indent=2)
    paragraph(room_line(answer.job, scale), indent=2)
    paragraph(trial_runs(answer.draws), indent=2)
    if answer.interrupted:
        paragraph("Interrupted: what follows is what had been found by then.", indent=2)
    heading("From nearly empty to overfull")
    rows = thinned(answer.curve, stop, _ROWS_IN_DETAIL if details else _ROWS)
    columns = []
    for name, title in CURVE:
        q = STATES[name]
        columns.append(measured(title, [q.of(b) for b in rows], q.kind, scale, q.digits))
    marks = ["<- stop" if b.charge == stop.charge else "" for b in rows]
    print_table([*columns, Column("", marks, False)])
    if answer.events:
        heading("What happens as the charge goes in")
        listing(event_lines(answer, scale))
    print_notes(answer.ended, scale)
    if details:
        _print_curve_ranges(answer, scale)
    print_cautions(answer.cautions, details=details)


def _ranged(title: str, found: Sequence[Range | None], q: Quantity, scale: Scale) -> Column:
    """Column of ranges, low to high, under one unit."""
    ends = [end for r in found for end in ((r.low, r.high) if r is not None else (None, None))]
    unit, cells = scale.column(ends, q.kind, 2 if q.name == "total_power" else q.digits)
    pairs = [
        "-" if low == high == "-" else f"{low}..{high}"
        for low, high in zip(cells[::2], cells[1::2], strict=True)
    ]
    return Column(f"{title}\n{unit}" if unit else title, pairs)


def _print_curve_ranges(answer: ChargeAnswer, scale: Scale) -> None:
    rows = [r for r in answer.ranges if r.bands]
    if not rows:
        return
    heading("Gauge readings at each charge")
    paragraph("From .. to: likely range (9 in 10) with just that charge weighed in.", indent=2)
    print_table(
        [
            measured("charge", [r.charge for r in rows], "mass", scale),
            *(
                _ranged(title, [r.bands.get(STATES[n].key) for r in rows], STATES[n], scale)
                for n, title in _CURVE_RANGES
            ),
        ]
    )


@click.command(name="room-map")
@machine_options
@charge_option
@click.option(
    "--temperatures",
    type=Series("temperature", low=243.15, high=333.15, example="8:32:2 C"),
    metavar="A:B:STEP",
    default="8:32:4 C",
    show_default=True,
    help="Of the rooms.",
)
@click.option(
    "--humidities",
    type=Series("relative humidity", low=0.01, high=1.0, example="40:90:10 %"),
    metavar="A:B:STEP",
    default="40:90:10 %",
    show_default=True,
    help="Of the rooms.",
)
@draws_option(32)
@figures_option
def room_map(
    asked: Asked,
    charge: Written | None,
    temperatures: list[float],
    humidities: list[float],
    draws: int,
    figures: str | None,
) -> int:
    """Water, watts and coil temperature of one charged machine over many rooms."""
    from sweatline.design import room_map as design

    bench = asked.bench()
    with waiting("solving room after room", determinate=True) as step:
        answer = design.room_map(
            bench,
            **asked.parts(bench),
            temperatures=temperatures,
            humidities=humidities,
            charge=value(charge),
            draws=draws,
            progress=step,
        )
    if asked.as_json:
        print_json(answer, "room-map")
    else:
        _print_map(answer, asked.session.shown, details=asked.details)
    if not answer.complete:
        return INTERRUPTED
    draw_figures(answer, figures, bench)
    return 0


def _print_map(answer: RoomAnswer, scale: Scale, *, details: bool) -> None:
    heading(headline_of_rooms(answer, scale))
    paragraph(parts_line(answer.parts, scale), indent=2)
    paragraph(f"Charge {scale.show(answer.charge, 'mass')}, the same in every room.", indent=2)
    if not answer.complete:
        paragraph("Interrupted: rooms marked - were not reached or have no balance.", indent=2)
    _print_grid("Water", answer.water, "water removal", answer, scale)
    _print_grid("Watts with the fan", answer.total_power, "power", answer, scale)
    if details:
        _print_grid("Water per energy", answer.water_per_energy, "water per energy", answer, scale)
    coil = answer.coil_temperature
    _print_grid("Coldest coil surface (* freezes)", coil, "temperature", answer, scale)
    _print_frost_line(answer, scale)
    if details:
        _print_room_ranges(answer, scale)
    _print_reasons(answer, scale)
    print_cautions(answer.cautions, details=details)


def _print_frost_line(answer: RoomAnswer, scale: Scale) -> None:
    if answer.frost_line:
        heading("Frost line")
        listing(frost_lines(answer, scale))


def _print_room_ranges(answer: RoomAnswer, scale: Scale) -> None:
    rows = [r for r in answer.ranges if r.bands]
    if not rows:
        return
    heading("How far off it may be")
    paragraph(f"{trial_runs(answer.draws)} Rooms between these lie between.", indent=2)
    print_table(
        [
            Column("room", [scale.show(r.temperature, "temperature") for r in rows]),
            Column("", [scale.show(r.relative_humidity, "relative humidity", 2) for r in rows]),
            *(
                _ranged(title, [r.bands.get(STATES[n].key) for r in rows], STATES[n], scale)
                for n, title in _ROOM_RANGES
            ),
        ]
    )


def _print_grid(title: str, grid: Grid, kind: Kind, answer: RoomAnswer, scale: Scale) -> None:
    columns = len(answer.relative_humidities)
    flat = [v for row in grid for v in row]
    unit, cells = scale.column(
        flat, kind, 2 if kind in ("water removal", "water per energy") else 3
    )
    if kind == "temperature":
        cells = [
            cell + ("*" if v is not None and freezes(v) else " ")
            for cell, v in zip(cells, flat, strict=True)
        ]
    heading(f"{title}, {unit}" if unit else title)
    print_table(
        [
            Column("room", [scale.show(t, "temperature") for t in answer.temperatures]),
            *(
                Column(scale.show(rh, "relative humidity", 2).replace("RH", ""), cells[j::columns])
                for j, rh in enumerate(answer.relative_humidities)
            ),
        ]
    )


def _print_reasons(answer: RoomAnswer, scale: Scale) -> None:
    rooms = without_balance(answer, scale)
    if rooms:
        heading("No balance")
        listing(rooms)

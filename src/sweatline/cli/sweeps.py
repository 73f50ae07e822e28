"""Commands that carry one machine through many states: charge-curve and room-map."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import click

from sweatline.answers import Quantity, Range, quantities_of
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
from sweatline.constants import ZERO_CELSIUS
from sweatline.design import charge_curve as design
from sweatline.design.charge_curve import ChargeAnswer
from sweatline.design.room_map import Grid, RoomAnswer
from sweatline.machine.balance import SteadyState
from sweatline.report.sentences import between, parts_line, room_line, trial_runs
from sweatline.units import Kind, Scale

# Rows of a charge curve as a table; the JSON has all.
_ROWS: Final = 16
_ROWS_IN_DETAIL: Final = 30

# Columns of the tables: quantity of a steady state, title.
_CURVE: Final = (
    ("charge", "charge"),
    ("suction_pressure", "suction"),
    ("discharge_pressure", "head"),
    ("superheat", "super-\nheat"),
    ("subcooling", "sub-\ncooling"),
    ("coil_temperature", "coil"),
    ("total_power", "watts"),
    ("water", "water"),
)
_CURVE_RANGES: Final = tuple(c for c in _CURVE if c[0] not in ("charge", "subcooling"))
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


def _quantities(state: SteadyState) -> Mapping[str, Quantity]:
    return {q.name: q for q in quantities_of(type(state))}


def _thinned(curve: Sequence[SteadyState], stop: SteadyState, most: int) -> list[SteadyState]:
    """Rows of the table: about as many as fit a screen, always with the one to stop at."""
    every = max(1, -(-len(curve) // most))
    last = len(curve) - 1
    return [
        b for i, b in enumerate(curve) if i % every == 0 or i == last or b.charge == stop.charge
    ]


def _print_curve(answer: ChargeAnswer, scale: Scale, *, details: bool) -> None:
    stop = answer.stop
    by_name = _quantities(stop)

    def seen(name: str) -> str:
        q = by_name[name]
        found = answer.stop_bands.get(q.key)
        value = scale.show(q.of(stop), q.kind, q.digits)
        return value + between(found, q.kind, scale, q.digits)

    superheat = scale.show(stop.superheat, "temperature difference", 2)
    heading(f"Stop at {seen('charge')}, with {superheat} of superheat.")
    paragraph(
        f"There: suction {seen('suction_pressure')}, head {seen('discharge_pressure')}, subcooling "
        f"{seen('subcooling')}, {seen('total_power')} with the fan. Go by superheat, not by the "
        "scale alone: the mass depends on volumes nobody measured.",
        indent=2,
    )
    paragraph(parts_line(answer.parts, scale), indent=2)
    paragraph(room_line(answer.job, scale), indent=2)
    paragraph(trial_runs(answer.draws), indent=2)
    if answer.interrupted:
        paragraph("Interrupted: what follows is what had been found by then.", indent=2)
    heading("From nearly empty to overfull")
    rows = _thinned(answer.curve, stop, _ROWS_IN_DETAIL if details else _ROWS)
    columns = []
    for name, title in _CURVE:
        q = by_name[name]
        columns.append(measured(title, [q.of(b) for b in rows], q.kind, scale, q.digits))
    marks = ["<- stop" if b.charge == stop.charge else "" for b in rows]
    print_table([*columns, Column("", marks, False)])
    if answer.events:
        heading("What happens as the charge goes in")
        listing(
            (
                scale.show(e.charge, "mass"),
                f"{e.what}{between(e.band, 'mass', scale)} "
                f"(suction {scale.show(e.suction_pressure, 'pressure')}, "
                f"head {scale.show(e.discharge_pressure, 'pressure')})",
            )
            for e in answer.events
        )
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
    by_name = _quantities(answer.stop)
    heading("Gauge readings at each charge")
    paragraph("From .. to: likely range (9 in 10) with just that charge weighed in.", indent=2)
    print_table(
        [
            measured("charge", [r.charge for r in rows], "mass", scale),
            *(
                _ranged(title, [r.bands.get(by_name[n].key) for r in rows], by_name[n], scale)
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
    heading(_frost_in_short(answer, scale))
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


def _frozen(answer: RoomAnswer) -> bool:
    return any(t is not None and t < ZERO_CELSIUS for row in answer.coil_temperature for t in row)


def _frost_in_short(answer: RoomAnswer, scale: Scale) -> str:
    if answer.frost_line:
        line = sorted(f.room_temperature for f in answer.frost_line)
        unit, (a, b) = scale.column([line[0], line[-1]], "temperature")
        return (
            f"The coil freezes in rooms below {a} {unit}."
            if a == b
            else f"The coil freezes in rooms below {a} to {b} {unit}, by humidity."
        )
    if _frozen(answer):
        return "The coil freezes in the rooms marked *; the frost line does not cross the map."
    return "The coil stays above freezing in all of these rooms."


def _print_frost_line(answer: RoomAnswer, scale: Scale) -> None:
    if not answer.frost_line:
        return
    heading("Frost line")
    listing(
        (
            f"at {scale.show(f.relative_humidity, 'relative humidity', 2)}",
            f"the coil freezes below {scale.show(f.room_temperature, 'temperature')}"
            + between(f.band, "temperature", scale),
        )
        for f in answer.frost_line
    )


def _print_room_ranges(answer: RoomAnswer, scale: Scale) -> None:
    rows = [r for r in answer.ranges if r.bands]
    if not rows:
        return
    by_name = _quantities(answer.known)
    heading("How far off it may be")
    paragraph(f"{trial_runs(answer.draws)} Rooms between these lie between.", indent=2)
    print_table(
        [
            Column("room", [scale.show(r.temperature, "temperature") for r in rows]),
            Column("", [scale.show(r.relative_humidity, "relative humidity", 2) for r in rows]),
            *(
                _ranged(title, [r.bands.get(by_name[n].key) for r in rows], by_name[n], scale)
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
            cell + ("*" if v is not None and v < ZERO_CELSIUS else " ")
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
    rooms: dict[str, list[str]] = {}
    for t, row in zip(answer.temperatures, answer.reasons, strict=True):
        for rh, reason in zip(answer.relative_humidities, row, strict=True):
            if reason:
                room = f"{scale.show(t, 'temperature')} {scale.show(rh, 'relative humidity', 2)}"
                rooms.setdefault(reason, []).append(room)
    if rooms:
        heading("No balance")
        listing(
            (
                f"{len(where)}",
                f"{reason}: {', '.join(where[:6])}{', ...' if len(where) > 6 else ''}",
            )
            for reason, where in rooms.items()
        )

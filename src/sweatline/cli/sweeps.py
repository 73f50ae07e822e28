"""Commands that carry one machine through many states: charge-curve and room-map."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

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
    series,
    taught_bench,
)
from sweatline.constants import ZERO_CELSIUS

if TYPE_CHECKING:
    from sweatline.answers import Range
    from sweatline.cli.tables import Column
    from sweatline.design.machine_records import Grid
    from sweatline.design.questions import ChargeAnswer, RoomAnswer
    from sweatline.design.records import ChargeRecord, RoomRecord
    from sweatline.job.model import Job
    from sweatline.machine.balance import SteadyState
    from sweatline.units import Kind, Scale

__all__ = ["charge_curve", "room_map"]

_MOST_ROWS = 30  # of a charge curve as a table; the record has all


@click.command(name="charge-curve", short_help="Gauges and thermometers from empty to overfull.")
@job_argument
@part_options
@room_options
@click.option(
    "--draws",
    type=click.IntRange(0, 4096),
    default=32,
    show_default=True,
    help="Draws of the uncertain numbers, up to the next power of two; 0 leaves the ranges out.",
)
@calibration_option
@figures_option
@json_option
@click.pass_obj
def charge_curve(
    session: Session,
    job: str,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: str | None,
    room_temperature: str | None,
    room_humidity: str | None,
    draws: int,
    figures: str | None,
    uncalibrated: bool,
    as_json: bool,
) -> int:
    """What gauges and thermometers show from nearly empty to overfull, and where to stop."""
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import waiting
    from sweatline.design import questions
    from sweatline.design.sweep_recording import charge_record

    bench = moved_room(taught_bench(session, job, uncalibrated), room_temperature, room_humidity)
    parts = chosen_parts(
        bench, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    with waiting("filling", determinate=True) as step:
        answer = questions.charge_curve(bench, **parts, draws=draws, progress=step)
    record = charge_record(answer)
    if as_json:
        print_json(record)
    else:
        assert session.scale is not None
        _print_curve(record, session.scale)
    return _finish(record, answer, figures, bench)


def _finish(
    record: ChargeRecord | RoomRecord,
    answer: ChargeAnswer | RoomAnswer,
    figures: str | None,
    job: Job,
) -> int:
    """Draw what was asked for; what was interrupted is not drawn."""
    from sweatline.cli.figures import draw_figures

    # A sweep that ended early for a physical reason is an answer.
    if not record.complete and not getattr(record, "ended", ()):
        return INTERRUPTED
    draw_figures(answer, figures, job)
    return 0


def _thinned(curve: Sequence[SteadyState], stop: SteadyState) -> list[SteadyState]:
    """Rows of the table: about as many as fit a screen, always with the one to stop at."""
    every = max(1, -(-len(curve) // _MOST_ROWS))
    last = len(curve) - 1
    return [
        b for i, b in enumerate(curve) if i % every == 0 or i == last or b.charge == stop.charge
    ]


def _print_curve(record: ChargeRecord, scale: Scale) -> None:
    from sweatline.answers import quantities_of
    from sweatline.cli.judgements import print_cautions, print_notes
    from sweatline.cli.speech import between, parts_line, room_line
    from sweatline.cli.tables import Column, measured, print_table
    from sweatline.cli.terminal import gap, heading, listing, paragraph

    stop = record.stop
    heading(parts_line(record.parts, scale))
    paragraph(room_line(record.job, scale), indent=2)
    if not record.complete and not record.ended:
        paragraph("Interrupted: what follows is what had been found by then.", indent=2)
    gap()
    rows = _thinned(record.curve, stop)

    by_key = {q.key: q for q in quantities_of(type(stop))}

    def column(title: str, key: str, kind: Kind) -> Column:
        return measured(title, [by_key[key].of(b) for b in rows], kind, scale)

    print_table(
        [
            column("charge", "charge_kg", "mass"),
            column("suction", "suction_pressure_Pa", "pressure"),
            column("head", "discharge_pressure_Pa", "pressure"),
            column("super-\nheat", "superheat_K", "temperature difference"),
            column("sub-\ncooling", "subcooling_K", "temperature difference"),
            column("coil", "coil_temperature_K", "temperature"),
            column("watts", "total_power_W", "power"),
            column("water", "water_kg_per_s", "water removal"),
            Column("", ["<- stop" if b.charge == stop.charge else "" for b in rows], False),
        ]
    )
    if record.events:
        heading("What happens as the charge goes in")
        listing(
            (
                scale.show(e.charge_kg, "mass"),
                f"{e.what}{between(e.band_kg, 'mass', scale)} "
                f"(suction {scale.show(e.suction_pressure_Pa, 'pressure')}, "
                f"head {scale.show(e.discharge_pressure_Pa, 'pressure')})",
            )
            for e in record.events
        )
    print_notes(record.ended)
    _print_ranges(record, scale)
    heading("Where to stop")

    def seen(key: str, kind: Kind) -> str:
        return f"{scale.show(by_key[key].of(stop), kind)}" + between(
            record.stop_bands.get(key), kind, scale
        )

    paragraph(
        f"At {seen('charge_kg', 'mass')}: suction {seen('suction_pressure_Pa', 'pressure')}, head "
        f"{seen('discharge_pressure_Pa', 'pressure')}, superheat "
        f"{scale.show(stop.superheat, 'temperature difference')}, subcooling "
        f"{seen('subcooling_K', 'temperature difference')}, "
        f"{seen('total_power_W', 'power')} with the fan. Go by superheat, not by the scale "
        "alone: the mass depends on volumes nobody measured.",
        indent=2,
    )
    print_cautions(record.cautions)


_RANGE_COLUMNS: Final[tuple[tuple[str, str, Kind], ...]] = (
    ("suction", "suction_pressure_Pa", "pressure"),
    ("head", "discharge_pressure_Pa", "pressure"),
    ("super-\nheat", "superheat_K", "temperature difference"),
    ("coil", "coil_temperature_K", "temperature"),
    ("watts", "total_power_W", "power"),
    ("water", "water_kg_per_s", "water removal"),
)


_ROOM_COLUMNS: Final[tuple[tuple[str, str, Kind], ...]] = (
    ("water", "water_kg_per_s", "water removal"),
    ("watts", "total_power_W", "power"),
    ("water per energy", "water_per_energy_kg_per_J", "water per energy"),
    ("coil", "coil_temperature_K", "temperature"),
)


def _ranged(title: str, bands: Sequence[Range | None], kind: Kind, scale: Scale) -> Column:
    """Column of ranges, low to high, under one unit."""
    from sweatline.cli.tables import Column

    ends = [end for b in bands for end in ((b.low, b.high) if b is not None else (None, None))]
    unit, cells = scale.column(ends, kind, 2 if kind in ("power", "water removal") else 3)
    pairs = [
        "-" if low == high == "-" else f"{low}..{high}"
        for low, high in zip(cells[::2], cells[1::2], strict=True)
    ]
    return Column(f"{title}\n{unit}" if unit else title, pairs)


def _print_ranges(record: ChargeRecord, scale: Scale) -> None:
    from sweatline.cli.tables import measured, print_table
    from sweatline.cli.terminal import gap, heading, paragraph

    if not any(r.bands for r in record.ranges):
        return
    heading("What may be read instead")
    paragraph(
        f"From .. to holds nine of ten of {record.draws} draws of everything uncertain, with "
        "just that charge weighed in; in brackets the same of a single value.",
        indent=2,
    )
    gap()
    rows = [r for r in record.ranges if r.bands]
    print_table(
        [
            measured("charge", [r.charge_kg for r in rows], "mass", scale),
            *(
                _ranged(title, [r.bands.get(key) for r in rows], kind, scale)
                for title, key, kind in _RANGE_COLUMNS
            ),
        ]
    )


@click.command(name="room-map", short_help="Water, watts and frost over many rooms.")
@job_argument
@part_options
@click.option("--charge", metavar="MASS", help='As "240 g"; else charged in the job\'s room.')
@click.option(
    "--temperatures",
    metavar="A:B:STEP",
    default="8:32:4 C",
    show_default=True,
    help="Of the rooms.",
)
@click.option(
    "--humidities",
    metavar="A:B:STEP",
    default="40:90:10 %",
    show_default=True,
    help="Of the rooms.",
)
@click.option(
    "--draws",
    type=click.IntRange(0, 4096),
    default=32,
    show_default=True,
    help="Draws of the uncertain numbers, up to the next power of two; 0 leaves the ranges out.",
)
@calibration_option
@figures_option
@json_option
@click.pass_obj
def room_map(
    session: Session,
    job: str,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: str | None,
    charge: str | None,
    temperatures: str,
    humidities: str,
    draws: int,
    figures: str | None,
    uncalibrated: bool,
    as_json: bool,
) -> int:
    """Water, watts and coil temperature of one charged machine over many rooms."""
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import waiting
    from sweatline.design import questions
    from sweatline.design.sweep_recording import room_record

    warmth = series(temperatures, "temperature", "--temperatures", low=243.15, high=333.15)
    damp = series(humidities, "relative humidity", "--humidities", low=0.01, high=1.0)
    mass = quantity(charge, "mass", "--charge", low=1e-3, high=20.0) if charge is not None else None
    bench = taught_bench(session, job, uncalibrated)
    parts = chosen_parts(
        bench, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    with waiting("solving room after room", determinate=True) as step:
        answer = questions.room_map(
            bench,
            **parts,
            temperatures=warmth,
            humidities=damp,
            charge=mass,
            draws=draws,
            progress=step,
        )
    record = room_record(answer)
    if as_json:
        print_json(record)
    else:
        assert session.scale is not None
        _print_map(record, session.scale)
    return _finish(record, answer, figures, bench)


def _print_map(record: RoomRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_cautions
    from sweatline.cli.speech import between, parts_line
    from sweatline.cli.terminal import heading, listing, paragraph

    heading(parts_line(record.parts, scale))
    paragraph(f"Charge {scale.show(record.charge_kg, 'mass')}, the same in every room.", indent=2)
    if not record.complete:
        paragraph("Interrupted: rooms marked - were not reached or have no balance.", indent=2)
    _print_grid("Water", record.water_kg_per_s, "water removal", record, scale)
    _print_grid("Watts with the fan", record.power_W, "power", record, scale)
    _print_grid(
        "Water per energy", record.water_per_energy_kg_per_J, "water per energy", record, scale
    )
    _print_grid(
        "Coldest coil surface (* freezes)", record.coil_temperature_K, "temperature", record, scale
    )
    heading("Frost line")
    if record.frost_line:
        listing(
            (
                f"at {scale.show(f.relative_humidity, 'relative humidity', 2)}",
                f"the coil freezes below {scale.show(f.room_temperature_K, 'temperature')}"
                + between(f.band_K, "temperature", scale),
            )
            for f in record.frost_line
        )
    else:
        frozen = any(
            t is not None and t < ZERO_CELSIUS for row in record.coil_temperature_K for t in row
        )
        paragraph(
            "The coil freezes in the rooms marked *; the line does not cross the map."
            if frozen
            else "The coil stays above freezing in all of these rooms.",
            indent=2,
        )
    _print_room_ranges(record, scale)
    _print_reasons(record, scale)
    print_cautions(record.cautions)


def _print_room_ranges(record: RoomRecord, scale: Scale) -> None:
    from sweatline.cli.tables import Column, print_table
    from sweatline.cli.terminal import gap, heading, paragraph

    rows = [r for r in record.ranges if r.bands]
    if not rows:
        return
    heading("How far off it may be")
    paragraph(
        f"From .. to holds nine of ten of {record.draws} draws of everything uncertain; rooms "
        "between these lie between. In brackets the same of a single value.",
        indent=2,
    )
    gap()
    print_table(
        [
            Column("room", [scale.show(r.temperature_K, "temperature") for r in rows]),
            Column("", [scale.show(r.relative_humidity, "relative humidity", 2) for r in rows]),
            *(
                _ranged(title, [r.bands.get(key) for r in rows], kind, scale)
                for title, key, kind in _ROOM_COLUMNS
            ),
        ]
    )


def _print_grid(title: str, grid: Grid, kind: Kind, record: RoomRecord, scale: Scale) -> None:
    from sweatline.cli.tables import Column, print_table
    from sweatline.cli.terminal import heading

    columns = len(record.relative_humidities)
    unit, cells = scale.column([v for row in grid for v in row], kind)
    if kind == "temperature":
        flat = [v for row in grid for v in row]
        cells = [
            cell + ("*" if v is not None and v < ZERO_CELSIUS else " ")
            for cell, v in zip(cells, flat, strict=True)
        ]
    heading(f"{title}, {unit}" if unit else title)
    print_table(
        [
            Column("room", [scale.show(t, "temperature") for t in record.temperatures_K]),
            *(
                Column(scale.show(rh, "relative humidity", 2).replace("RH", ""), cells[j::columns])
                for j, rh in enumerate(record.relative_humidities)
            ),
        ]
    )


def _print_reasons(record: RoomRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    rooms: dict[str, list[str]] = {}
    for t, row in zip(record.temperatures_K, record.reasons, strict=True):
        for rh, reason in zip(record.relative_humidities, row, strict=True):
            if reason and reason != "interrupted":
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

"""The command frost: whether a coil freezes up, how soon, and what keeps it open."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from sweatline.cli.options import (
    Session,
    calibration_option,
    chosen_parts,
    job_argument,
    json_option,
    part_options,
    quantity,
    room_options,
    taught_bench,
)

if TYPE_CHECKING:
    from sweatline.design.records import FrostingRecord, FrostStepRecord
    from sweatline.units import Kind, Scale

__all__ = ["frost"]

_MOST_ROWS = 12


@click.command(short_help="Does the coil freeze up, how soon, and what keeps it open?")
@job_argument
@part_options
@click.option("--charge", metavar="MASS", help='As "240 g"; else charged in the job\'s room.')
@room_options
@click.option("--hours", metavar="TIME", default="24 h", show_default=True, help="Longest run.")
@calibration_option
@json_option
@click.pass_obj
def frost(
    session: Session,
    job: str,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: str | None,
    charge: str | None,
    room_temperature: str | None,
    room_humidity: str | None,
    hours: str,
    uncalibrated: bool,
    as_json: bool,
) -> None:
    """Run a machine, charged in the job's room, in a cold one until frost blocks its coil."""
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import waiting
    from sweatline.design.frost import frost as run_until_frozen
    from sweatline.design.sweep_recording import frost_record

    mass = quantity(charge, "mass", "--charge", low=1e-3, high=20.0) if charge is not None else None
    warmth = damp = None
    if room_temperature is not None:
        warmth = quantity(
            room_temperature, "temperature", "--room-temperature", low=243.15, high=333.15
        )
    if room_humidity is not None:
        damp = quantity(room_humidity, "relative humidity", "--room-humidity", low=0.01, high=1.0)
    longest = quantity(hours, "time", "--hours", low=600.0, high=30.0 * 86400.0)
    bench = taught_bench(session, job, uncalibrated)
    parts = chosen_parts(
        bench, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    with waiting("letting frost grow", determinate=True) as step:
        answer = run_until_frozen(
            bench,
            **parts,
            charge=mass,
            room_temperature=warmth,
            room_humidity=damp,
            hours=longest / 3600.0,
            progress=step,
        )
    record = frost_record(answer)
    if as_json:
        print_json(record)
    else:
        assert session.scale is not None
        _print(record, session.scale)


def _thinned(steps: Sequence[FrostStepRecord]) -> list[FrostStepRecord]:
    every = max(1, -(-len(steps) // _MOST_ROWS))
    return [s for i, s in enumerate(steps) if i % every == 0 or i == len(steps) - 1]


def _print(record: FrostingRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_cautions, print_notes, print_verdicts
    from sweatline.cli.speech import parts_line
    from sweatline.cli.tables import Column, measured, print_table
    from sweatline.cli.terminal import gap, heading, paragraph

    heading(parts_line(record.parts, scale))
    paragraph(
        f"Charge {scale.show(record.charge_kg, 'mass')}; running in a room of "
        f"{scale.show(record.room_temperature_K, 'temperature')}, "
        f"{scale.show(record.room_relative_humidity, 'relative humidity', 2)}.",
        indent=2,
    )
    print_verdicts([record.verdict], scale, 0)
    if record.ended == "bare":
        print_notes(record.notes)
        print_cautions(record.cautions)
        return
    heading("How the frost grows")
    rows = _thinned(record.steps)

    def column(title: str, key: str, kind: Kind) -> Column:
        return measured(title, [getattr(s, key) for s in rows], kind, scale)

    print_table(
        [
            column("after", "time_s", "time"),
            Column("air-\nflow", [f"{100.0 * s.air_share:.0f} %" for s in rows]),
            column("ice", "ice_kg", "mass"),
            column("thickest", "thickest_m", "length"),
            column("evapo-\nrating", "evaporating_temperature_K", "temperature"),
            column("watts", "power_W", "power"),
            column("freezing", "freezing_kg_per_s", "water removal"),
        ]
    )
    gap()
    paragraph(_when(record, scale), indent=2)
    _print_defrost(record, scale)
    print_notes(record.notes)
    print_cautions(record.cautions)


def _when(record: FrostingRecord, scale: Scale) -> str:
    light, likely, dense = (None if t is None else scale.show(t, "time") for t in record.blocked_s)
    if likely is None:
        longest = scale.show(record.steps[-1].time_s, "time")
        how = "the frost no longer grows" if record.ended == "settled" else "it still runs"
        return f"The airflow is not halved: after {longest} {how}."
    return (
        f"The airflow is halved after {likely}; after {light or 'a longer time'} if the frost is "
        f"light, {dense or 'a longer time'} if it is dense."
    )


def _print_defrost(record: FrostingRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing, paragraph

    need, cycle = record.defrost, record.cycle
    if need is None:
        return
    heading("What melts it")
    rest = (
        f"{scale.show(need.rest_s, 'time')} with the compressor off and the fan on"
        if need.rest_s is not None
        else "not in a room as cold as this: it needs heat"
    )
    listing(
        [
            (
                scale.show(need.energy_J, "energy"),
                f"to melt {scale.show(need.ice_kg, 'mass')} of ice, "
                f"{scale.show(need.metal_J, 'energy')} of it for the metal of the coil",
            ),
            ("rest", rest),
            (
                "hot gas",
                f"{scale.show(need.hot_gas_s, 'time')} at least, with all of the compressor's heat "
                "in the coil",
            ),
        ]
    )
    if cycle is None:
        return
    heading("What keeps the coil open")
    run = scale.show(cycle.run_s, "time")
    if cycle.rest_s is None or cycle.running_share is None:
        paragraph(
            f"Run {run} at most, until the airflow is down to four fifths, then melt the ice with "
            "hot gas or a heater.",
            indent=2,
        )
    else:
        paragraph(
            f"Timer: run {run}, until the airflow is down to four fifths, then rest "
            f"{scale.show(cycle.rest_s, 'time')} with the fan on; it runs "
            f"{100.0 * cycle.running_share:.0f} % of the time.",
            indent=2,
        )
    start = scale.show(cycle.start_at_K, "temperature")
    if cycle.stop_at_K is not None:
        paragraph(
            f"Thermostat on a tube in the middle of the coil: stop at "
            f"{scale.show(cycle.stop_at_K, 'temperature')}, start again at {start}.",
            indent=2,
        )
    else:
        paragraph(
            "A thermostat on the coil hardly notices this frost, because evaporating falls by less "
            f"than 2 K; let it end the rest, at {start}, and a timer begin it.",
            indent=2,
        )

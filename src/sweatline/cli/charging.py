"""The command charge: the next dose, from a log."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from sweatline.cli.options import (
    Session,
    calibration_option,
    chosen_parts,
    job_argument,
    json_option,
    part_options,
    taught_bench,
)

if TYPE_CHECKING:
    from sweatline.cli.speech import Scale
    from sweatline.study.bench_records import ChargingRecord, OutlookRecord
    from sweatline.units import Kind

__all__ = ["KINDS", "charge"]

KINDS: Final[dict[str, Kind]] = {
    "suction gauge": "pressure",
    "head gauge": "pressure",
    "suction gas": "temperature",
    "liquid line": "temperature",
    "watts": "power",
}


@click.command(short_help="While charging: wait, add so much, or stop.")
@job_argument
@click.argument("log_file", metavar="LOG")
@part_options
@calibration_option
@json_option
@click.pass_obj
def charge(
    session: Session,
    job: str,
    log_file: str,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: str | None,
    uncalibrated: bool,
    as_json: bool,
) -> None:
    """What to do next while a machine is charged, from what its LOG says.

    Keep the log with `sweatline log`: what was let in (`added`) and readings of suction-gauge,
    head-gauge and suction-gas (on the tube at the evaporator's outlet), better also of liquid-line
    and watts. Ask again after every few readings.
    """
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import waiting
    from sweatline.study.charging import charging
    from sweatline.study.logbook import open_log

    bench = taught_bench(session, job, uncalibrated)
    parts = chosen_parts(
        bench, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    with open_log(log_file) as book, waiting("charging drawn machines"):
        record = charging(bench, book, **parts)
    if as_json:
        print_json(record)
    else:
        assert session.scale is not None
        _print(record, session.scale)


def _print(record: ChargingRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_cautions
    from sweatline.cli.terminal import gap, heading, paragraph

    words = {
        "wait": "Wait",
        "read": "More readings",
        "stop": "Stop: add no more",
        "add": f"Add {scale.show(record.dose_kg, 'mass')}",
        "take out": f"Take out {scale.show(-(record.dose_kg or 0.0), 'mass')}",
    }
    heading(words[record.action])
    paragraph(record.reason[:1].upper() + record.reason[1:] + ".")
    gap()
    paragraph(f"In the machine by the scale: {scale.show(record.charge_kg, 'mass')}.")
    if record.best_charge_kg is not None:
        best = record.best_charge_kg
        paragraph(
            f"Best charge by these readings: {scale.show(best.median, 'mass')}, nine tenths "
            f"{scale.show(best.low, 'mass')} to {scale.show(best.high, 'mass')}."
        )
    if record.outlooks:
        gap()
        _print_outlooks(record.outlooks, scale)
    print_cautions(record.cautions)


def _print_outlooks(outlooks: tuple[OutlookRecord, ...], scale: Scale) -> None:
    from sweatline.cli.tables import Column, print_table

    def told(value: float | None, name: str) -> str:
        return scale.show(value, KINDS[name])

    rows = [o for o in outlooks if o.what in KINDS]
    bands = [(o.what, o.settles_SI) for o in rows]
    columns = [
        Column("", [o.what for o in rows], right=False),
        Column("read", [told(o.last_SI, o.what) for o in rows]),
        Column("settles at", [told(o.settles_SI.median, o.what) for o in rows]),
        Column(
            "nine tenths",
            [f"{told(b.low, n)} to {told(b.high, n)}" for n, b in bands],
            right=False,
            wrap=True,
        ),
        Column(
            "look again",
            ["settled" if o.state == "settled" else f"{o.look_again_s:.0f} s" for o in rows],
        ),
    ]
    if any(o.expected_after_SI is not None for o in rows):
        columns.append(
            Column(
                "after the dose",
                [
                    "-" if o.expected_after_SI is None else told(o.expected_after_SI.median, o.what)
                    for o in rows
                ],
            )
        )
    print_table(columns)

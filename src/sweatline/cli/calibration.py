"""The command calibrate: what readings of the machine as it ran teach about the rebuild."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Final

import click

from sweatline.cli.options import (
    Session,
    chosen_parts,
    job_argument,
    json_option,
    part_options,
    read_bench,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sweatline.assembly.calibration_records import (
        CalibrationRecord,
        NumberFitRecord,
        ReadingFitRecord,
        RebuildRecord,
    )
    from sweatline.job.model import Job
    from sweatline.units import Kind, Scale

__all__ = ["calibrate"]

# Key of a reading: words and kind.
_READINGS: Final[Mapping[str, tuple[str, Kind]]] = {
    "suction_pressure": ("suction gauge", "pressure"),
    "head_pressure": ("head gauge", "pressure"),
    "suction_temperature": ("suction tube", "temperature"),
    "discharge_temperature": ("discharge tube", "temperature"),
    "liquid_temperature": ("liquid tube", "temperature"),
    "air_out_temperature": ("air leaving", "temperature"),
    "power": ("watts with the fan", "power"),
    "current": ("amperes", "current"),
    "water": ("water", "water removal"),
}

# What of a rebuild is compared: key of its band, words, kind.
_REBUILD: Final[tuple[tuple[str, str, Kind], ...]] = (
    ("suction_pressure_Pa", "suction gauge", "pressure"),
    ("discharge_pressure_Pa", "head gauge", "pressure"),
    ("subcooling_K", "subcooling", "temperature difference"),
    ("coil_temperature_K", "coldest coil surface", "temperature"),
    ("discharge_temperature_K", "discharge gas", "temperature"),
    ("charge_kg", "charge", "mass"),
    ("total_power_W", "watts with the fan", "power"),
    ("water_kg_per_s", "water", "water removal"),
)


@click.command(short_help="What readings of the machine as it ran teach.")
@job_argument
@part_options
@click.option(
    "--draws",
    type=click.IntRange(8, 4096),
    default=64,
    show_default=True,
    help="Draws for the ranges of the rebuild.",
)
@json_option
@click.pass_obj
def calibrate(
    session: Session,
    job: str,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: str | None,
    draws: int,
    as_json: bool,
) -> None:
    """Calibrate to the machine as it ran: to its plate and to readings taken when it ran well.

    The job names what ran under [original] and holds readings under [[ran_well]]. What they teach
    of coils, fan, lines and charge stays in the machine, and every other answer to this job starts
    from it. Name the parts of a rebuild to see how much narrower its ranges become.
    """
    from dataclasses import replace

    from sweatline.assembly import calibration
    from sweatline.assembly.calibration_recording import calibration_record
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import waiting

    bench = read_bench(session, job)
    assert session.scale is not None
    parts = None
    if _a_rebuild_is_meant(bench, compressor, refrigerant, capillary):
        parts = chosen_parts(
            bench,
            compressor=compressor,
            refrigerant=refrigerant,
            capillary=capillary,
            length=length,
        )
    with waiting("calibrating to the machine as it ran"):
        found = calibration.calibrate(bench)
    taught = replace(bench, learned=found.learned)
    rebuild = None
    if parts is not None:
        with waiting("solving the rebuild without and with it"):
            rebuild = (*calibration.narrowed(taught, **parts, draws=draws), draws)
    record = calibration_record(taught, found, rebuild=rebuild)
    if as_json:
        print_json(record)
    else:
        _print(record, session.scale)


def _a_rebuild_is_meant(
    job: Job, compressor: str | None, refrigerant: str | None, capillary: str | None
) -> bool:
    """Whether parts were named, or there is only one choice of each."""
    if compressor or refrigerant or capillary:
        return True
    return len(job.compressors) == len(job.refrigerants) == len(job.capillaries) == 1


def _print(record: CalibrationRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_cautions
    from sweatline.cli.terminal import heading, listing, paragraph

    heading(record.job.title)
    paragraph(
        f"The machine as it ran: {record.compressor} + {record.refrigerant} + {record.capillary}.",
        indent=2,
    )
    used = record.job.calibration_readings
    paragraph(
        f"{used} readings used; they tell about as much as {record.independent:.0f} independent "
        "numbers would. Off: distance of a reading from what the others lead one to expect, in "
        "standard deviations; beyond 3 it does not fit and stands in brackets.",
        indent=2,
    )
    _print_readings(record.readings, scale)
    aside = [r for r in record.readings if r.set_aside]
    if aside:
        heading("Does not fit, so not used")
        listing(("-", _aside(r, scale)) for r in aside)
    stays = [n for n in record.numbers if n.stays]
    goes = [n for n in record.numbers if not n.stays]
    heading("Learned of what stays in the machine")
    if stays:
        _print_numbers(stays)
    else:
        paragraph("No number by itself is much better known than before.", indent=2)
    _print_charge(record)
    if goes:
        heading("Learned of its compressor, capillary and oil: used where they stay")
        _print_numbers(goes)
    if record.ties:
        heading("Could not be told apart")
        listing(("-", f"{', '.join(group[:-1])} and {group[-1]}") for group in record.ties)
    for note in record.notes:
        paragraph(f"Note: {note}.", indent=2)
    if record.rebuild is not None:
        _print_rebuild(record.rebuild, scale)
    else:
        heading("The rebuild")
        paragraph(
            "Name its parts (--compressor, --refrigerant, --capillary) to see its ranges without "
            "and with this. match, balance, metering, charge-curve and room-map start from it.",
            indent=2,
        )
    print_cautions(record.cautions)


def _print_readings(readings: tuple[ReadingFitRecord, ...], scale: Scale) -> None:
    from sweatline.cli.tables import Column, print_table
    from sweatline.cli.terminal import heading
    from sweatline.units import show_spread

    for run, group in groupby(readings, key=lambda r: r.run):
        rows = list(group)
        kinds = [_READINGS[r.key][1] for r in rows]

        def shown(values: list[float | None], kinds: list[Kind] = kinds) -> list[str]:
            return [scale.show(v, k) for v, k in zip(values, kinds, strict=True)]

        heading(run[:1].upper() + run[1:])
        print_table(
            [
                Column("", [_words(r) for r in rows], right=False),
                Column("read", shown([r.measured for r in rows])),
                Column(
                    "±",
                    [
                        show_spread(r.sd, r.measured, k, scale.system, atmosphere=scale.atmosphere)
                        for r, k in zip(rows, kinds, strict=True)
                    ],
                ),
                Column("before", shown([r.before for r in rows])),
                Column("after", shown([r.after for r in rows])),
                Column("off", ["-" if r.off is None else f"{r.off:+.1f}" for r in rows]),
            ]
        )


def _words(r: ReadingFitRecord) -> str:
    words = _READINGS[r.key][0]
    return f"({words})" if r.set_aside else words


def _aside(r: ReadingFitRecord, scale: Scale) -> str:
    words, kind = _READINGS[r.key]
    text = f"{r.run}: {words} {scale.show(r.measured, kind)}"
    if r.expected is not None:
        text += f", where the rest leads one to expect {scale.show(r.expected, kind)}"
    return (
        text + ". Probably misread or written in another unit, or the machine had a fault then; "
        "look at it, and correct the line or take it out."
    )


def _print_numbers(numbers: list[NumberFitRecord]) -> None:
    from sweatline.cli.tables import Column, print_table

    rows = [_told(n) for n in numbers]
    print_table(
        [
            Column("", [n.name for n in numbers], right=False, wrap=True),
            Column("now", [r[0] for r in rows]),
            Column("known to", [r[1] for r in rows]),
            Column("before", [r[2] for r in rows]),
        ]
    )


def _told(n: NumberFitRecord) -> tuple[str, str, str]:
    """Change, spread now and spread before, as shares where the number has a size of its own."""
    if n.name == "oil solubility" or abs(n.before) < 1e-9:
        unit, scale = ("cm³", 1e6) if n.name == "liquid left out" else ("", 1.0)
        if n.name.endswith("motor and valves"):
            unit, scale = "%", 100.0
        shown = [f"{scale * v:.2g}" for v in (n.after_sd, n.before_sd)]
        return (
            f"{scale * (n.after - n.before):+.2g} {unit}".strip(),
            f"{shown[0]} {unit}".strip(),
            f"{shown[1]} {unit}".strip(),
        )
    return (
        f"{100.0 * (n.after / n.before - 1.0):+.1f} %",
        f"{100.0 * n.after_sd / abs(n.after):.1f} %",
        f"{100.0 * n.before_sd / abs(n.before):.1f} %",
    )


def _print_charge(record: CalibrationRecord) -> None:
    from sweatline.cli.terminal import paragraph

    left_out = round(1e6 * record.liquid_left_out_m3)
    paragraph(
        "Two terms correct the charge: what the coils hold times "
        f"{record.coil_contents_multiplier:.2f} ± {record.coil_contents_multiplier_sd:.2f}, and "
        f"{left_out} ± {1e6 * record.liquid_left_out_sd_m3:.0f} cm³ of "
        "liquid nobody measured.",
        indent=2,
    )


def _print_rebuild(rebuild: RebuildRecord, scale: Scale) -> None:
    from sweatline.cli.speech import parts_line
    from sweatline.cli.tables import Column, print_table
    from sweatline.cli.terminal import heading, paragraph

    heading("The rebuild: " + parts_line(rebuild.parts, scale))
    paragraph(f"Ranges that hold nine of ten of {rebuild.draws} draws.", indent=2)
    rows = [r for r in _REBUILD if r[0] in rebuild.before and r[0] in rebuild.after]
    print_table(
        [
            Column("", [words for _, words, _ in rows], right=False),
            Column("without", [scale.range(rebuild.before[k], kind) for k, _, kind in rows]),
            Column("calibrated", [scale.range(rebuild.after[k], kind) for k, _, kind in rows]),
            Column("width", [_width(rebuild, key) for key, _, _ in rows]),
        ]
    )


def _width(rebuild: RebuildRecord, key: str) -> str:
    a, b = rebuild.before[key], rebuild.after[key]
    if a.low is None or a.high is None or b.low is None or b.high is None or a.high <= a.low:
        return "-"
    return f"{100.0 * (b.high - b.low) / (a.high - a.low):.0f} %"

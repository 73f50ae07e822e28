"""The command calibrate: what readings of the machine as it ran say of its rebuild."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Final

import click

from sweatline.answers import Range, quantities_of
from sweatline.assembly import calibration
from sweatline.assembly.calibration import Calibration, ParameterFit, ReadingFit, Rebuild
from sweatline.assembly.known_machine import READINGS
from sweatline.cli.judgements import print_cautions, print_notes
from sweatline.cli.options import (
    Session,
    chosen_parts,
    details_option,
    job_argument,
    json_option,
    part_options,
    read_bench,
)
from sweatline.cli.quantity import Written
from sweatline.cli.tables import Column, print_table
from sweatline.cli.terminal import heading, listing, paragraph, print_json
from sweatline.cli.waiting import waiting
from sweatline.job.model import Job
from sweatline.machine.balance import SteadyState
from sweatline.report.sentences import parts_line, trial_runs
from sweatline.units import Scale

# Quantities of a rebuild whose ranges are compared, by JSON key.
_REBUILD: Final = (
    "suction_pressure_Pa",
    "discharge_pressure_Pa",
    "subcooling_K",
    "coil_temperature_K",
    "discharge_temperature_K",
    "charge_kg",
    "total_power_W",
    "water_kg_per_s",
)

# So many of the parameters that stay in the machine are shown without --details.
_SHOWN: Final = 6


@click.command()
@job_argument
@part_options
@click.option(
    "--draws",
    type=click.IntRange(8, 4096),
    default=64,
    show_default=True,
    help="Trial runs for the ranges of the rebuild.",
)
@details_option
@json_option
@click.pass_obj
def calibrate(
    session: Session,
    job: str,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: Written | None,
    draws: int,
    details: bool,
    as_json: bool,
) -> None:
    """Calibrate to the machine as it ran: to its plate and to readings taken when it ran well.

    The job names what ran under [original] and holds readings under [[ran_well]]. What they say of
    coils, fan, lines and charge holds for the rebuild too, and every other command starts from it.
    Name the parts of a rebuild to see how much narrower its ranges become.
    """

    bench = read_bench(session, job)
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
    if parts is not None:
        with waiting("solving the rebuild without and with it"):
            found = calibration.with_rebuild(found, bench, **parts, draws=draws)
    if as_json:
        print_json(found, "calibrate")
    else:
        _print(found, session.shown, details=details)


def _a_rebuild_is_meant(
    job: Job, compressor: str | None, refrigerant: str | None, capillary: str | None
) -> bool:
    """Whether parts were named, or there is only one choice of each."""
    if compressor or refrigerant or capillary:
        return True
    return len(job.compressors) == len(job.refrigerants) == len(job.capillaries) == 1


def _print(found: Calibration, scale: Scale, *, details: bool) -> None:
    stay = [n for n in found.parameters if n.stays]
    go = [n for n in found.parameters if not n.stays]
    heading(_outcome(found, stay, scale))
    paragraph(
        f"{found.job.title}, as it ran: {found.compressor} + {found.refrigerant} + "
        f"{found.capillary}.",
        indent=2,
    )
    if found.set_aside:
        heading("Does not fit, so not used")
        listing(("-", _aside(r, scale)) for r in found.set_aside)
    if stay:
        heading("What stays in the machine, against what the job says")
        _print_parameters(stay if details else stay[:_SHOWN], scale)
    if details:
        _print_details(found, go, scale)
    print_notes(found.notes, scale)
    if found.rebuild is not None:
        _print_rebuild(found.rebuild, scale)
    else:
        heading("The rebuild")
        paragraph(
            "Name its parts (--compressor, --refrigerant, --capillary) to see its ranges without "
            "and with the calibration.",
            indent=2,
        )
    print_cautions(found.cautions, details=details)


def _outcome(found: Calibration, stay: Sequence[ParameterFit], scale: Scale) -> str:
    """The answer in one line: how many readings, and what they say of the airflow."""
    used = found.job.calibration_readings
    text = f"Calibrated: {used} readings used; " if used != 1 else "Calibrated: one reading used; "
    told = next((n for n in stay if n.key == ("fan", "volume_flow")), stay[0] if stay else None)
    if told is None:
        return text + "no parameter that stays in the machine is much better known than before."
    change, now, before = _change(told, scale)
    return text + f"{told.label} {change} against the job, known to {now} (before {before})."


def _print_details(found: Calibration, go: Sequence[ParameterFit], scale: Scale) -> None:
    left_out, its_sd = (
        scale.show(v, "volume", 2) for v in (found.liquid_left_out, found.liquid_left_out_sd)
    )
    paragraph(
        "Two terms correct the charge: what the coils hold times "
        f"{found.coil_contents_multiplier:.2f} ± {found.coil_contents_multiplier_sd:.2f}, and "
        f"{left_out} ± {its_sd} of liquid nobody measured.",
        indent=2,
    )
    if go:
        heading("Its compressor, capillary and oil: used where they stay")
        _print_parameters(go, scale)
    if found.ties:
        heading("Could not be told apart")
        listing(("-", f"{', '.join(group[:-1])} and {group[-1]}") for group in found.ties)
    _print_readings(found.readings, scale)
    paragraph(
        f"The readings say about as much as {found.independent:.0f} independent numbers would. "
        "Off: distance of a reading from what the others lead one to expect, in standard "
        "deviations; beyond 3 it does not fit and stands in brackets.",
        indent=2,
    )


def _print_readings(readings: Sequence[ReadingFit], scale: Scale) -> None:
    for run, group in groupby(readings, key=lambda r: r.run):
        rows = list(group)
        cells = [_reading_cells(r, scale) for r in rows]
        heading(run[:1].upper() + run[1:])
        print_table(
            [
                Column("", [_words(r) for r in rows], right=False),
                *(
                    Column(title, [row[k] for row in cells])
                    for k, title in enumerate(("read", "±", "before", "after"))
                ),
                Column("off", ["-" if r.off is None else f"{r.off:+.1f}" for r in rows]),
            ]
        )


def _reading_cells(r: ReadingFit, scale: Scale) -> tuple[str, str, str, str]:
    """Reading, its error, and the model before and after; the unit stands once."""

    kind = READINGS[r.key].kind
    unit, (read, before, after) = scale.column([r.measured, r.before, r.after], kind)
    spread = scale.spread(r.sd, r.measured, kind).partition(" ")[0]
    return f"{read} {unit}".rstrip(), spread, before, after


def _words(r: ReadingFit) -> str:

    label = READINGS[r.key].label
    return f"({label})" if r.set_aside else label


def _aside(r: ReadingFit, scale: Scale) -> str:

    shown = READINGS[r.key]
    text = f"{r.run}: {shown.label} {scale.show(r.measured, shown.kind)}"
    if r.expected is not None:
        text += f"; the other readings point to {scale.show(r.expected, shown.kind)}"
    return (
        text + ". Probably misread or written in another unit, or the machine had a fault then. "
        "Check it, and correct the line or take it out."
    )


def _print_parameters(parameters: Sequence[ParameterFit], scale: Scale) -> None:
    rows = [_change(n, scale) for n in parameters]
    print_table(
        [
            Column("", [n.label for n in parameters], right=False, wrap=True),
            Column("change", [r[0] for r in rows]),
            Column("known to", [r[1] for r in rows]),
            Column("before", [r[2] for r in rows]),
        ]
    )


def _change(n: ParameterFit, scale: Scale) -> tuple[str, str, str]:
    """Change, spread now and spread before; as shares where the number has a size of its own."""
    moved, spreads = n.after - n.before, (n.after_sd, n.before_sd)
    if n.key == ("lines", "left_out"):
        now, before = (scale.show(v, "volume", 2) for v in spreads)
        return f"{'+' if moved > 0.0 else ''}{scale.show(moved, 'volume', 2)}", now, before
    if n.key == ("shell", "oil_solubility"):
        now, before = (f"{v:.2g}" for v in spreads)
        return f"{moved:+.2g}", now, before
    # An efficiency is told by its deviation, everything else by itself.
    size = (1.0, 1.0) if n.key[-1] == "efficiency" else (abs(n.after), abs(n.before))
    return (
        f"{100.0 * moved / size[1]:+.1f} %",
        f"{100.0 * n.after_sd / size[0]:.1f} %",
        f"{100.0 * n.before_sd / size[1]:.1f} %",
    )


def _print_rebuild(rebuild: Rebuild, scale: Scale) -> None:

    heading("The rebuild: " + parts_line(rebuild.parts, scale))
    paragraph(trial_runs(rebuild.draws), indent=2)
    rows = []
    for q in quantities_of(SteadyState):
        before, after = rebuild.before.get(q.key), rebuild.after.get(q.key)
        if q.key in _REBUILD and before is not None and after is not None:
            ends = [before.low, before.high, after.low, after.high]
            unit, cells = scale.column(ends, q.kind)
            ranges = (f"{cells[0]} to {cells[1]}", f"{cells[2]} to {cells[3]}")
            rows.append((q.label, *ranges, unit, _width(before, after)))
    titles = ("", "without", "calibrated", "", "width")
    print_table(
        [
            Column(title, [row[k] for row in rows], right=k not in (0, 3))
            for k, title in enumerate(titles)
        ]
    )


def _width(before: Range, after: Range) -> str:
    if not before.high > before.low:
        return "-"
    return f"{100.0 * (after.high - after.low) / (before.high - before.low):.0f} %"

"""Commands on capillary tubes: one tube by itself, and every bore on the shelf for a machine."""

from __future__ import annotations

from typing import Final

import click

from sweatline.answers import told
from sweatline.cli.judgements import print_cautions, print_notes
from sweatline.cli.options import (
    Session,
    calibration_option,
    chosen_parts,
    details_option,
    draw_figures,
    draws_option,
    figures_option,
    job_argument,
    json_option,
    site_atmosphere,
    taught_bench,
    unit_options,
)
from sweatline.cli.quantity import Quantity, Written, value
from sweatline.cli.tables import Column, print_table
from sweatline.cli.terminal import heading, listing, paragraph, print_json
from sweatline.cli.waiting import TUBE_KERNEL, waiting
from sweatline.design import metering as design
from sweatline.design.capillary import ASKED, CapillaryAnswer
from sweatline.design.capillary import capillary as one_tube
from sweatline.design.metering import MeteringAnswer
from sweatline.report.sentences import room_line, trial_runs
from sweatline.report.tubes import (
    RANGE_OF_LENGTHS,
    approach,
    conditions_of_capillary,
    cut_ends,
    cut_line,
    headline_of_capillary,
    headline_of_metering,
    opinions,
    wanted_line,
    way_through,
)
from sweatline.units import Scale, written_system


def _asked(name: str) -> Quantity:
    """Type of an option of one tube."""
    asked = ASKED[name]
    return Quantity(asked.kind, low=asked.low, high=asked.high)


@click.command()
@click.option("--refrigerant", required=True, metavar="NAME")
@click.option(
    "--bore",
    type=_asked("bore"),
    required=True,
    metavar="BORE",
    help='As "0.9 mm" or "0.042 in".',
)
@click.option(
    "--length",
    type=_asked("length"),
    metavar="LENGTH",
    help="Asks for the flow of a tube of this length.",
)
@click.option(
    "--flow",
    "mass_flow",
    type=_asked("mass_flow"),
    metavar="FLOW",
    help='Asks for the length that passes, as "9.5 kg/h".',
)
@click.option(
    "--inlet-pressure",
    type=_asked("inlet_pressure"),
    required=True,
    metavar="P",
    help="Before the tube.",
)
@click.option(
    "--subcooling",
    type=_asked("subcooling"),
    metavar="DT",
    help='Of the liquid before it, as "8 K".',
)
@click.option(
    "--quality",
    type=_asked("quality"),
    metavar="X",
    help="Gas share of what enters, instead, as 0.05.",
)
@click.option(
    "--outlet-pressure",
    type=_asked("outlet_pressure"),
    required=True,
    metavar="P",
    help="In the evaporator.",
)
@click.option(
    "--roughness",
    type=_asked("roughness"),
    metavar="R",
    default="0.75 um",
    show_default=True,
)
@click.option(
    "--bore-tolerance",
    type=_asked("bore_sd"),
    metavar="BORE",
    default="0.02 mm",
    show_default=True,
    help="One standard deviation.",
)
@click.option("--metastable", is_flag=True, help="Let liquid stay liquid below saturation.")
@unit_options
@json_option
@click.pass_obj
def capillary(
    session: Session,
    refrigerant: str,
    bore: Written,
    length: Written | None,
    mass_flow: Written | None,
    inlet_pressure: Written,
    subcooling: Written | None,
    quality: Written | None,
    outlet_pressure: Written,
    roughness: Written,
    bore_tolerance: Written,
    metastable: bool,
    altitude: Written | None,
    units: str | None,
    as_json: bool,
) -> None:
    """Flow of one tube between two pressures, or the length that passes a flow."""

    if (length is None) == (mass_flow is None):
        raise click.UsageError("give either --length or --flow")
    if (subcooling is None) == (quality is None):
        raise click.UsageError("give either --subcooling or --quality")
    atmosphere = site_atmosphere(altitude)
    written = (bore, length, inlet_pressure, outlet_pressure)
    texts = [w.text for w in written if w is not None]
    session.scale = Scale(written_system(*texts, wanted=units), atmosphere)
    with waiting("calculating the flow", kernel=TUBE_KERNEL):
        answer = one_tube(
            refrigerant,
            bore=bore.si(),
            length=value(length),
            mass_flow=value(mass_flow),
            inlet_pressure=inlet_pressure.si(atmosphere),
            outlet_pressure=outlet_pressure.si(atmosphere),
            subcooling=subcooling.si() if subcooling is not None else 0.0,
            quality=value(quality),
            roughness=roughness.si(),
            bore_sd=bore_tolerance.si(),
            metastable=metastable,
            atmosphere=atmosphere,
        )
    if as_json:
        print_json(answer, "capillary")
    else:
        _print_capillary(answer, session.scale)


def _print_capillary(answer: CapillaryAnswer, scale: Scale) -> None:
    heading(headline_of_capillary(answer, scale))
    paragraph(conditions_of_capillary(answer, scale), indent=2)
    listing(way_through(answer, scale))
    heading("Second opinions on the flow of this tube")
    listing(opinions(answer, scale))
    print_notes(answer.notes, scale)


@click.command()
@job_argument
@click.option("--compressor", metavar="NAME", help="Compressor, by name or number.")
@click.option("--refrigerant", metavar="NAME", help="Refrigerant; any in the tables.")
@draws_option(64, "0 leaves the ranges of the machine out.")
@calibration_option
@figures_option
@details_option
@json_option
@click.pass_obj
def metering(
    session: Session,
    job: str,
    compressor: str | None,
    refrigerant: str | None,
    draws: int,
    figures: str | None,
    uncalibrated: bool,
    details: bool,
    as_json: bool,
) -> None:
    """Capillary length for every bore on the shelf, and how to approach it."""

    bench = taught_bench(session, job, uncalibrated)
    parts = chosen_parts(bench, compressor=compressor, refrigerant=refrigerant, capillary="1")
    with waiting("solving the design balance"):
        answer = design.metering(
            bench, compressor=parts["compressor"], refrigerant=parts["refrigerant"], draws=draws
        )
    if as_json:
        print_json(answer, "metering")
    else:
        _print_metering(answer, session.shown, details=details)
    if any(c.cut.start_length is not None for c in answer.cuts):
        draw_figures(answer, figures, bench)


# Steps for which a US reader is told the gain of flow, over the steps of the answer: half an inch
# over 10 mm, and a thousandth of an inch over 0.02 mm.
_US_STEPS: Final = 1.27


def _percent(value: float | None, scale: Scale) -> str:
    if value is None:
        return "-"
    return f"{100 * value * (_US_STEPS if scale.system == 'US' else 1.0):+.1f} %"


def _print_metering(answer: MeteringAnswer, scale: Scale, *, details: bool) -> None:
    heading(headline_of_metering(answer))
    listing((c.stock, cut_line(c, scale)) for c in answer.cuts)
    paragraph(room_line(answer.job, scale), indent=2)
    paragraph(wanted_line(answer, scale), indent=2)
    paragraph(trial_runs(answer.draws), indent=2)
    heading("Lengths")
    cuts = [c.cut for c in answer.cuts]
    american = scale.system == "US"
    columns = [
        Column(
            "stock",
            [f"{c.stock}\n{scale.show(c.cut.bore, 'bore')}" for c in answer.cuts],
            right=False,
            wrap=True,
        ),
        Column("right\nlength", [scale.show(c.length, "length") for c in cuts]),
        Column("cut\nfirst", [scale.show(c.start_length, "length") for c in cuts]),
        Column("ends up\nbetween", [cut_ends(c, scale) for c in answer.cuts], wrap=True),
        Column("trim for\n+2 % flow", [scale.show(c.trim_step, "length") for c in cuts]),
    ]
    if details:
        columns += [
            Column(
                "flow per\n1/2 in off" if american else "flow per\n10 mm off",
                [_percent(c.flow_change_per_10_mm, scale) for c in cuts],
            ),
            Column(
                "flow per\n+0.001 in\nbore" if american else "flow per\n+0.02 mm\nbore",
                [_percent(c.flow_change_per_20_um_bore, scale) for c in cuts],
            ),
        ]
    print_table(columns, rules=True)
    for one in answer.cuts:
        print_notes([f"{one.stock}: {told(note, scale)}" for note in one.cut.notes], scale)
    heading("How to approach the length")
    paragraph(approach(answer, scale), indent=2)
    if details:
        paragraph(RANGE_OF_LENGTHS, indent=2)
    print_cautions(answer.cautions, details=details)

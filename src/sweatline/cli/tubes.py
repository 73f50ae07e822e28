"""Commands on capillary tubes: one tube by itself, and every bore on the shelf for a machine."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from sweatline.cli.options import (
    Session,
    calibration_option,
    chosen_parts,
    job_argument,
    json_option,
    quantity,
    site_atmosphere,
    taught_bench,
    unit_options,
    written_system,
)

if TYPE_CHECKING:
    from sweatline.design.records import CapillaryRecord, CutRecord, MeteringRecord
    from sweatline.units import Kind, Scale

__all__ = ["capillary", "metering"]


@click.command(short_help="Flow of one capillary tube, or its length for a flow.")
@click.option("--refrigerant", required=True, metavar="NAME")
@click.option("--bore", required=True, metavar="BORE", help='As "0.9 mm" or "0.042 in".')
@click.option("--length", metavar="LENGTH", help="Asks for the flow of a tube of this length.")
@click.option("--flow", metavar="FLOW", help='Asks for the length that passes, as "9.5 kg/h".')
@click.option("--inlet-pressure", required=True, metavar="P", help="Before the tube.")
@click.option("--subcooling", metavar="DT", help='Of the liquid before it, as "8 K".')
@click.option("--quality", metavar="X", help="Gas share of what enters, instead, as 0.05.")
@click.option("--outlet-pressure", required=True, metavar="P", help="In the evaporator.")
@click.option("--roughness", metavar="R", default="0.75 um", show_default=True)
@click.option(
    "--bore-tolerance",
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
    bore: str,
    length: str | None,
    flow: str | None,
    inlet_pressure: str,
    subcooling: str | None,
    quality: str | None,
    outlet_pressure: str,
    roughness: str,
    bore_tolerance: str,
    metastable: bool,
    altitude: str | None,
    units: str | None,
    as_json: bool,
) -> None:
    """Flow of one tube between two pressures, or the length that passes a flow."""
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import TUBE_KERNEL, waiting
    from sweatline.design.properties import tube
    from sweatline.units import Scale

    if (length is None) == (flow is None):
        raise click.UsageError("give either --length or --flow")
    if (subcooling is None) == (quality is None):
        raise click.UsageError("give either --subcooling or --quality")
    atmosphere = site_atmosphere(altitude)
    system = written_system(bore, length, inlet_pressure, outlet_pressure, wanted=units)
    session.scale = Scale(system, atmosphere)
    asked = {
        "bore": quantity(bore, "bore", "--bore", low=0.1e-3, high=6e-3),
        "roughness": quantity(roughness, "roughness", "--roughness", low=0.0, high=50e-6),
        "bore_sd": quantity(bore_tolerance, "bore", "--bore-tolerance", low=0.0, high=1e-3),
        "inlet_pressure": quantity(
            inlet_pressure, "pressure", "--inlet-pressure", atmosphere=atmosphere
        ),
        "outlet_pressure": quantity(
            outlet_pressure, "pressure", "--outlet-pressure", atmosphere=atmosphere
        ),
    }
    if length is not None:
        asked["length"] = quantity(length, "length", "--length", low=0.01, high=100.0)
    if flow is not None:
        asked["mass_flow"] = quantity(flow, "mass flow", "--flow", low=1e-7, high=1.0)
    if subcooling is not None:
        asked["subcooling"] = quantity(
            subcooling, "temperature difference", "--subcooling", low=0.0, high=100.0
        )
    if quality is not None:
        asked["quality"] = quantity(quality, "ratio", "--quality", low=0.0, high=1.0)
    with waiting("working out the flow", kernel=TUBE_KERNEL):
        record = tube(refrigerant, **asked, metastable=metastable, atmosphere=atmosphere)
    if as_json:
        print_json(record)
    else:
        _print_capillary(record, session.scale)


def _print_capillary(record: CapillaryRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_notes
    from sweatline.cli.speech import between
    from sweatline.cli.terminal import heading, listing, paragraph

    heading(
        f"{record.refrigerant} through a bore of {scale.show(record.bore_m, 'bore')}, "
        f"{scale.show(record.length_m, 'length')} long"
    )
    paragraph(
        f"From {scale.show(record.inlet_pressure_Pa, 'pressure')} and "
        f"{scale.show(record.inlet_temperature_K, 'temperature')} "
        f"({_entering(record)}) to {scale.show(record.outlet_pressure_Pa, 'pressure')}.",
        indent=2,
    )
    unit, (low, mean, high) = scale.column(
        [
            record.mass_flow_low_kg_per_s,
            record.mass_flow_kg_per_s,
            record.mass_flow_high_kg_per_s,
        ],
        "mass flow",
    )
    rows: list[tuple[str, str]] = []
    if record.asked == "length":
        length = scale.column(
            [record.length_low_m, record.length_m, record.length_high_m], "length"
        )
        rows.append(
            ("length", f"{length[1][1]} {length[0]}, nine tenths {length[1][0]} to {length[1][2]}")
        )
    rows.append(("flow", f"{mean} {unit}, nine tenths {low} to {high}"))
    if record.choked:
        rows.append(
            (
                "choked",
                "yes: the pressure at the end of the tube is "
                f"{scale.show(record.end_pressure_Pa, 'pressure')}"
                f"{between(record.end_pressure_band_Pa, 'pressure', scale)}, and a lower pressure "
                "behind it changes nothing",
            )
        )
    else:
        rows.append(("choked", "no: the flow still answers to the pressure behind the tube"))
    liquid = scale.show(record.liquid_length_m, "length")
    rows.append(
        (
            "liquid",
            f"over the first {liquid}{between(record.liquid_length_band_m, 'length', scale)}",
        )
    )
    listing(rows)
    paragraph(
        "Ranges hold nine tenths: of the model, the bore and the roughness. The pressures and the "
        "subcooling are taken as given, and the second opinions have none of their own.",
        indent=2,
    )
    heading("Second opinions on the flow of this tube")
    listing(
        (
            scale.show(o.mass_flow_kg_per_s, "mass flow"),
            f"{o.name}; {o.note}" + ("" if o.within_range else "; outside of that here"),
        )
        for o in record.opinions
    )
    print_notes(record.notes)


def _entering(record: CapillaryRecord) -> str:
    if record.inlet_quality > 0.0:
        return f"{100 * record.inlet_quality:.1f} % gas by mass"
    return "liquid"


@click.command(short_help="Capillary length for every bore on the shelf.")
@job_argument
@click.option("--compressor", metavar="NAME", help="Compressor, by name or number.")
@click.option("--refrigerant", metavar="NAME", help="Refrigerant; any in the tables.")
@calibration_option
@json_option
@click.pass_obj
def metering(
    session: Session,
    job: str,
    compressor: str | None,
    refrigerant: str | None,
    uncalibrated: bool,
    as_json: bool,
) -> None:
    """Capillary length for every bore on the shelf, and how to approach it."""
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import waiting
    from sweatline.design import questions
    from sweatline.design.recording import metering_record

    bench = taught_bench(session, job, uncalibrated)
    parts = chosen_parts(bench, compressor=compressor, refrigerant=refrigerant, capillary="1")
    with waiting("solving the design balance"):
        answer = questions.metering(
            bench, compressor=parts["compressor"], refrigerant=parts["refrigerant"]
        )
    record = metering_record(answer)
    if as_json:
        print_json(record)
    else:
        assert session.scale is not None
        _print_metering(record, session.scale)


# Steps for which a US reader is told the gain of flow, over the steps of the record: half an inch
# over 10 mm, and a thousandth of an inch over 0.02 mm.
_US_STEPS: Final = 1.27


def _percent(value: float | None, scale: Scale) -> str:
    if value is None:
        return "-"
    return f"{100 * value * (_US_STEPS if scale.system == 'US' else 1.0):+.1f} %"


def _print_metering(record: MeteringRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_cautions, print_notes
    from sweatline.cli.speech import between, room_line
    from sweatline.cli.tables import Column, print_table
    from sweatline.cli.terminal import gap, heading, listing, paragraph

    s = record.steady
    heading(f"Capillary for {record.compressor} with {record.refrigerant}")
    paragraph(room_line(record.job, scale), indent=2)

    def wanted(name: str, key: str, kind: Kind) -> str:
        return scale.show(getattr(s, name), kind) + between(record.bands.get(key), kind, scale)

    paragraph(
        f"Wanted flow {wanted('flow', 'flow_kg_per_s', 'mass flow')} from "
        f"{wanted('liquid_pressure', 'liquid_pressure_Pa', 'pressure')} with "
        f"{scale.show(s.subcooling, 'temperature difference')} of subcooling to "
        f"{wanted('evaporating_pressure', 'evaporating_pressure_Pa', 'pressure')}"
        + (f"; in brackets nine of ten of {record.draws} draws." if record.draws else "."),
        indent=2,
    )
    gap()
    cuts = record.cuts
    american = scale.system == "US"
    ends = [
        "-"
        if c.shortest_m is None
        else "{1} to {2} {0}".format(
            *_flat(scale.column([c.shortest_m, c.start_length_m], "length"))
        )
        for c in cuts
    ]
    print_table(
        [
            Column(
                "stock",
                [f"{c.stock}\n{scale.show(c.bore_m, 'bore')}" for c in cuts],
                right=False,
                wrap=True,
            ),
            Column("right\nlength", [scale.show(c.length_m, "length") for c in cuts]),
            Column("cut\nfirst", [scale.show(c.start_length_m, "length") for c in cuts]),
            Column("ends up\nbetween", ends, wrap=True),
            Column("trim for\n+2 % flow", [scale.show(c.trim_step_m, "length") for c in cuts]),
            Column(
                "flow per\n1/2 in off" if american else "flow per\n10 mm off",
                [_percent(c.flow_change_per_10_mm, scale) for c in cuts],
            ),
            Column(
                "flow per\n+0.001 in\nbore" if american else "flow per\n+0.02 mm\nbore",
                [_percent(c.flow_change_per_20_um_bore, scale) for c in cuts],
            ),
        ],
        rules=True,
    )
    heading("Is there enough of it?")
    listing((c.stock, _enough(c, scale)) for c in cuts)
    for c in cuts:
        print_notes([f"{c.stock}: {note}" for note in c.notes])
    heading("How to approach the length")
    paragraph(
        'A capillary can be shortened, not lengthened. Cut to "cut first": nineteen times in '
        "twenty it is not too short. Charge until the superheat stands at "
        f"{scale.show(record.job.target_superheat, 'temperature difference')} and read the "
        "subcooling. Too much of it: the tube is too tight, recover, shorten by one trim step or "
        "two, and try again. Gas before the tube or hardly any subcooling: the tube passes too "
        "much and must be replaced by a longer one. The range is that of the tube (its model, its "
        "bore, its roughness) and of the flow and pressures the machine will want; of these a bore "
        "measured by the liquid it holds narrows it most.",
        indent=2,
    )
    print_cautions(record.cautions)


def _flat(column: tuple[str, list[str]]) -> tuple[str, ...]:
    return (column[0], *column[1])


def _enough(c: CutRecord, scale: Scale) -> str:
    shelf = scale.show(c.on_the_shelf_m, "length")
    if c.length_m is None or c.start_length_m is None:
        return "this bore cannot pass the flow at any length"
    if c.on_the_shelf_m is None:
        return "the length on the shelf was not written in the job"
    if c.fitted:
        relation = "shorter" if c.on_the_shelf_m < c.length_m else "longer"
        share = abs(c.on_the_shelf_m / c.length_m - 1.0)
        between = (c.shortest_m or 0.0) <= c.on_the_shelf_m <= c.start_length_m
        fits = "it lies within the range" if between else "it lies outside the range"
        return f"fitted with {shelf}, {100 * share:.0f} % {relation} than right: {fits}"
    if c.enough:
        return f"yes, {shelf} on the shelf"
    if c.on_the_shelf_m >= c.length_m:
        return f"just: {shelf} on the shelf, with little to trim away"
    return f"no: {shelf} on the shelf"

"""Command `hose`: hoses, scale and cylinders."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from sweatline.cli.options import (
    Session,
    json_option,
    quantity,
    read_bench,
    site_atmosphere,
    split_fields,
    unit_options,
    written_system,
)

if TYPE_CHECKING:
    from sweatline.bench.hose_content import Container
    from sweatline.cli.speech import Scale
    from sweatline.job.model import Job
    from sweatline.study.bench_records import CylinderRecord, HoseRecord
    from sweatline.study.hoses import CylinderAsked, FillAsked

__all__ = ["hose"]


@click.command(short_help="What is in the hoses, the machine and the cylinder.")
@click.argument("job", metavar="[JOB]", required=False)
@click.option("--refrigerant", metavar="NAME", help="Needed where the job lists several.")
@click.option(
    "--hose",
    "hoses",
    multiple=True,
    metavar="BORE, LENGTH, STATE",
    help="As it is left at the end: liquid, gas, mixed, or pulled back (drawn into the low side); "
    'then its pressure, if known, as "4.8 mm, 0.9 m, pulled back, 2 bar(g)". Again for each.',
)
@click.option(
    "--container",
    "containers",
    multiple=True,
    metavar="BEFORE, AFTER",
    help='On the scale, as "1250 g, 1088 g"; again for each further one.',
)
@click.option(
    "--can",
    "cans",
    multiple=True,
    metavar="NET, VOLUME, P",
    help="Small can not weighed: label, volume and pressure at the end.",
)
@click.option("--swap", metavar="BORE, LENGTH, STATE", help="Lost at each change of container.")
@click.option("--vented", metavar="M", help='As "2 ± 1 g".')
@click.option("--want", metavar="M", help="Charge wanted: what must the scale show?")
@click.option("--scale-step", metavar="M", default="1 g", show_default=True)
@click.option("--scale-error", metavar="X", default="0.2 %", show_default=True)
@click.option("--temperature", metavar="T", help="Of hoses and cylinder; else the room's.")
@click.option("--cylinder-pressure", metavar="P", help="At rest, hours after it was used.")
@click.option("--gauge-error", metavar="DP", default="10 kPa", show_default=True)
@click.option("--thermometer-error", metavar="DT", default="0.5 K", show_default=True)
@click.option("--fuel", is_flag=True, help="Hydrocarbon sold as fuel, not as refrigerant.")
@click.option(
    "--taken-as-vapour", metavar="SHARE", help="Of the cylinder: how far does a blend shift?"
)
@click.option("--cylinder-volume", metavar="V", help="How much may it hold?")
@click.option("--fill", metavar="M", help="That is to go into it.")
@click.option("--warmest", metavar="T", default="50 C", show_default=True, help="Of its store.")
@unit_options
@json_option
@click.pass_obj
def hose(session: Session, /, **o: Any) -> None:
    """Mass in the machine: weighed out, less what is in the hoses, less what was vented.

    Or, with --want, what the scale must show. With --cylinder-pressure: whether the cylinder holds
    what its label says, as far as a gauge can see. With --cylinder-volume: how full it may be.
    """
    from sweatline.cli.speech import Scale
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import PROPERTY_KERNEL, waiting
    from sweatline.refrigerant.refrigerant import find
    from sweatline.study.hoses import HoseAsked
    from sweatline.study.hoses import hose as answer
    from sweatline.study.written_hoses import written_can, written_hose

    job: Job | None = read_bench(session, o["job"]) if o["job"] is not None else None
    if job is not None and o["altitude"] is not None:
        raise click.UsageError("--altitude stands in the job file already")
    keys = ("hoses", "containers", "cans", "want", "cylinder_pressure", "taken_as_vapour")
    if not any(o[k] for k in (*keys, "cylinder_volume")):
        raise click.UsageError("give --hose, --container, --want, --cylinder-pressure or another")
    if o["refrigerant"] is not None:
        name = find(o["refrigerant"])
    elif job is not None and len(job.refrigerants) == 1:
        name = job.refrigerants[0]
    else:
        raise click.UsageError("which refrigerant? give --refrigerant")
    atmosphere = job.place.atmospheric_pressure if job else site_atmosphere(o["altitude"])
    if job is None or o["units"] is not None:
        written = (*o["hoses"], *o["containers"], o["want"], o["cylinder_pressure"])
        session.scale = Scale(written_system(*written, wanted=o["units"]), atmosphere)
    assert session.scale is not None
    temperature = job.room.temperature.value if job else 293.15
    if o["temperature"] is not None:
        temperature = quantity(
            o["temperature"], "temperature", "--temperature", low=223.15, high=343.15
        )
    vented, vented_sd = _vented(o["vented"])
    asked = HoseAsked(
        refrigerant=name,
        temperature=temperature,
        atmosphere=atmosphere,
        hoses=[
            written_hose(t, f"--hose {i}", temperature, atmosphere)
            for i, t in _numbered(o["hoses"])
        ],
        containers=[_container(t, f"--container {i}") for i, t in _numbered(o["containers"])],
        cans=[written_can(t, f"--can {i}", atmosphere) for i, t in _numbered(o["cans"])],
        swap=written_hose(o["swap"], "--swap", temperature, atmosphere) if o["swap"] else None,
        vented=vented,
        vented_sd=vented_sd,
        scale_step=quantity(o["scale_step"], "mass", "--scale-step", low=1e-6, high=1.0),
        scale_share=quantity(o["scale_error"], "ratio", "--scale-error", low=0.0, high=0.1),
        want=quantity(o["want"], "mass", "--want", low=1e-3, high=50.0) if o["want"] else None,
        cylinder=_cylinder(o, temperature, atmosphere),
        taken_as_vapour=quantity(
            o["taken_as_vapour"], "ratio", "--taken-as-vapour", low=0.001, high=0.99
        )
        if o["taken_as_vapour"] is not None
        else None,
        fill=_fill(o),
        job=job,
    )
    with waiting("weighing", kernel=PROPERTY_KERNEL):
        record = answer(asked)
    if o["as_json"]:
        print_json(record)
    else:
        _print(record, session.scale)


def _numbered(texts: tuple[str, ...]) -> enumerate[str]:
    return enumerate(texts, 1)


def _container(text: str, where: str) -> Container:
    from sweatline.bench.hose_content import Container
    from sweatline.errors import JobError

    fields = split_fields(text, where, ("before", "after"))
    before = quantity(fields["before"], "mass", where, low=0.0, high=200.0)
    after = quantity(fields["after"], "mass", where, low=0.0, high=200.0)
    if after > before:
        raise JobError(
            what="a container that was charged from weighs more than before",
            read=text,
            allowed="the mass before comes first",
            field=where,
        )
    return Container(before=before, after=after)


def _vented(text: str | None) -> tuple[float, float]:
    if text is None:
        return 0.0, 0.0
    from sweatline.units import parse

    mass = quantity(text, "mass", "--vented", low=0.0, high=20.0)
    sd = parse(text, "mass").sd
    return mass, sd if sd is not None else 0.3 * mass


def _cylinder(o: dict[str, Any], temperature: float, atmosphere: float) -> CylinderAsked | None:
    from sweatline.study.hoses import CylinderAsked

    if o["cylinder_pressure"] is None:
        if o["fuel"]:
            raise click.UsageError("--fuel is about a cylinder: give --cylinder-pressure")
        return None
    return CylinderAsked(
        pressure=quantity(
            o["cylinder_pressure"], "pressure", "--cylinder-pressure", atmosphere=atmosphere
        ),
        pressure_sd=quantity(
            o["gauge_error"], "pressure difference", "--gauge-error", low=1.0, high=1e6
        ),
        temperature=temperature,
        temperature_sd=quantity(
            o["thermometer_error"], "temperature difference", "--thermometer-error", low=0.001,
            high=20.0,
        ),
        fuel=o["fuel"],
    )  # fmt: skip


def _fill(o: dict[str, Any]) -> FillAsked | None:
    from sweatline.study.hoses import FillAsked

    if o["cylinder_volume"] is None:
        if o["fill"] is not None:
            raise click.UsageError("--fill needs --cylinder-volume")
        return None
    return FillAsked(
        volume=quantity(o["cylinder_volume"], "volume", "--cylinder-volume", low=1e-5, high=1.0),
        temperature=quantity(o["warmest"], "temperature", "--warmest", low=273.15, high=338.15),
        mass=quantity(o["fill"], "mass", "--fill", low=1e-3, high=500.0) if o["fill"] else None,
    )


def _print(record: HoseRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_cautions, print_notes
    from sweatline.cli.terminal import heading, listing

    if record.hoses:
        heading(f"{record.refrigerant} in the hoses")
        listing(
            (
                f"{scale.show(h.bore_m, 'bore')}, {scale.show(h.length_m, 'length')}, {h.state}",
                f"{scale.show(h.holds_kg, 'mass', 2)} ± {scale.show(h.sd_kg, 'mass', 2)} at "
                f"{scale.show(h.pressure_Pa, 'pressure')}"
                + (
                    f"; {scale.show(h.returned_kg, 'mass', 2)} went into the low side"
                    if h.returned_kg > 0.0
                    else ""
                ),
            )
            for h in record.hoses
        )
    if record.machine is not None:
        m = record.machine
        heading("In the machine")
        listing(
            [
                (
                    "weighed out",
                    f"{scale.show(m.weighed_kg, 'mass')} ± "
                    f"{scale.show(m.weighed_sd_kg, 'mass', 2)}",
                ),
                (
                    "left in hoses",
                    f"{scale.show(m.in_hoses_kg, 'mass', 2)} ± "
                    f"{scale.show(m.in_hoses_sd_kg, 'mass', 2)}",
                ),
                (
                    "vented or lost",
                    f"{scale.show(m.vented_kg, 'mass', 2)} ± "
                    f"{scale.show(m.vented_sd_kg, 'mass', 2)}",
                ),
                (
                    "in the machine",
                    f"{scale.show(m.mass_kg.median, 'mass')}, nine tenths "
                    f"{scale.band(m.mass_kg, 'mass')}",
                ),
            ]
        )
    if record.weigh_out is not None:
        w = record.weigh_out
        heading(f"For {scale.show(w.want_kg, 'mass')} in the machine")
        listing(
            [
                (
                    "weigh out",
                    f"{scale.show(w.weigh_out_kg, 'mass')}; the charge is then right to ± "
                    f"{scale.show(w.sd_kg, 'mass', 2)}",
                )
            ]
        )
    if record.charge_limit is not None:
        c = record.charge_limit
        heading("Limit of the room")
        listing(
            [
                (
                    "STOP" if c.over else "within",
                    f"{scale.show(c.mass_kg, 'mass')}, at most {scale.show(c.limit_kg, 'mass')} "
                    f"({c.source}; {c.status})",
                )
            ]
        )
    if record.fractionation is not None:
        f = record.fractionation
        heading(f"{100 * f.taken_share:.0f} % of the cylinder taken as vapour")
        listing(
            [
                (
                    "light part",
                    f"{' and '.join(f.light)}: {100 * f.nominal_mass_share:.1f} % by mass in the "
                    f"blend, {100 * f.taken_mass_share:.1f} % in the machine, "
                    f"{100 * f.left_mass_share:.1f} % left in the liquid"
                    + (", at most" if f.bound else ""),
                ),
                (
                    "pressures",
                    f"up by {100 * f.bubble_rise_share:.0f} % at one temperature: charts and "
                    "cards no longer hold, for the machine and for what is left",
                ),
            ]
        )
    if record.cylinder is not None:
        _print_cylinder(record.cylinder, record, scale)
    if record.fill is not None:
        fill = record.fill
        heading(f"A cylinder of {scale.show(fill.volume_m3, 'volume')}")
        rows = [
            (
                "holds at most",
                f"{scale.show(fill.most_kg, 'mass')}: four fifths as liquid at "
                f"{scale.show(fill.temperature_K, 'temperature')} (MEMORY 0.85)",
            )
        ]
        if fill.asked_kg is not None:
            full = (
                f"full of liquid at {scale.show(fill.liquid_full_K, 'temperature')}, and then it "
                "bursts"
                if fill.liquid_full_K is not None
                else "never full of liquid below the critical point"
            )
            rows.append(
                (
                    "STOP" if fill.too_much else "asked",
                    f"{scale.show(fill.asked_kg, 'mass')}: {full}",
                )
            )
        listing(rows)
    print_notes(record.notes)
    print_cautions(record.cautions)


def _print_cylinder(c: CylinderRecord, record: HoseRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    heading(f"Cylinder at {scale.show(c.temperature_K, 'temperature')}: {c.verdict}")
    said = {
        "as it should be": "as far as gauge and thermometer can tell",
        "above saturation": "gas that does not condense, or a lighter fluid; let it stand in even "
        "temperature and read again before believing it",
        "below saturation": "no liquid left, a heavier fluid, or a liquid colder than the "
        "thermometer says",
    }
    rows = [
        (
            "read",
            f"{scale.show(c.pressure_Pa, 'pressure')}; {record.refrigerant} stands at "
            f"{scale.show(c.saturation_Pa, 'pressure')}: {said[c.verdict]}",
        ),
        (
            "if it is air",
            f"{100 * c.non_condensable_share:.1f} ± {100 * c.non_condensable_sd:.1f} % of the "
            f"vapour; above {100 * c.limit:.1f} % with a chance of "
            f"{100 * c.chance_over_limit:.0f} % ({c.limit_source})",
        ),
    ]
    if c.propane_with_isobutane is not None:
        other = (
            f" or {100 * c.propane_with_butane:.0f} % with n-butane"
            if c.propane_with_butane is not None
            else ""
        )
        rows.append(
            (
                "if a mixture",
                f"{100 * c.propane_with_isobutane:.0f} % propane with isobutane{other} would show "
                f"this; it boils over {scale.show(c.glide_K, 'temperature difference')}, and "
                "vapour is richer in propane than liquid",
            )
        )
    if c.propylene_with_propane is not None:
        rows.append(
            (
                "if a mixture",
                f"{100 * c.propylene_with_propane:.0f} % propylene with propane would show this",
            )
        )
    rows += [("sees", text) for text in c.sees]
    rows += [("cannot see", text) for text in c.blind_to]
    listing(rows)

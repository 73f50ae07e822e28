"""Commands on refrigerants alone: saturation and refrigerants."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sweatline.cli.options import (
    Session,
    json_option,
    quantity,
    site_atmosphere,
    unit_options,
    written_system,
)

if TYPE_CHECKING:
    from sweatline.design.records import RefrigerantsRecord, SaturationRecord
    from sweatline.units import Scale

__all__ = ["refrigerants", "saturation"]


@click.command(short_help="Bubble and dew at a pressure or a temperature.")
@click.argument("refrigerant")
@click.option("--pressure", metavar="P", help='Gauge or absolute, as "27 psig" or "290 kPa abs".')
@click.option("--temperature", metavar="T", help='As "0 C" or "32 F".')
@unit_options
@json_option
@click.pass_obj
def saturation(
    session: Session,
    refrigerant: str,
    pressure: str | None,
    temperature: str | None,
    altitude: str | None,
    units: str | None,
    as_json: bool,
) -> None:
    """Bubble and dew of a refrigerant at a pressure or at a temperature."""
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import PROPERTY_KERNEL, waiting
    from sweatline.design.properties import saturation_point
    from sweatline.units import Scale

    if (pressure is None) == (temperature is None):
        raise click.UsageError("give either --pressure or --temperature")
    atmosphere = site_atmosphere(altitude)
    session.scale = Scale(written_system(pressure, temperature, altitude, wanted=units), atmosphere)
    p = t = None
    if pressure is not None:
        p = quantity(pressure, "pressure", "--pressure", atmosphere=atmosphere)
    if temperature is not None:
        t = quantity(temperature, "temperature", "--temperature")
    with waiting("looking up", kernel=PROPERTY_KERNEL):
        record = saturation_point(refrigerant, pressure=p, temperature=t, atmosphere=atmosphere)
    if as_json:
        print_json(record)
    else:
        _print_saturation(record, session.scale)


def _density(value: float, scale: Scale) -> str:
    if scale.system == "US":
        return f"{value / 16.01846337:.3g} lb/ft³"
    return f"{value:.4g} kg/m³"


def _latent(value: float, scale: Scale) -> str:
    if scale.system == "US":
        return f"{value / 2326.0:.1f} BTU/lb"
    return f"{value / 1e3:.1f} kJ/kg"


def _print_saturation(record: SaturationRecord, scale: Scale) -> None:
    from sweatline.cli.tables import Column, print_table
    from sweatline.cli.terminal import gap, heading, paragraph

    heading(f"{record.refrigerant}, safety class {record.safety_class}")
    gap()
    blend = record.glide_K > 0.01
    points = [("bubble", record.bubble), ("dew", record.dew)]
    if not blend:
        names = [""]
        shown = [record.bubble]
    else:
        names = [name for name, _ in points]
        shown = [point for _, point in points]
    columns = [Column("", names, right=False)] if blend else []
    columns += [
        Column("temperature", [scale.show(s.temperature_K, "temperature") for s in shown]),
        Column("gauge", [scale.show(s.pressure_Pa, "pressure") for s in shown]),
        Column("absolute", [scale.show(s.pressure_Pa, "absolute pressure") for s in shown]),
    ]
    print_table(columns)
    gap()
    if blend:
        where = "at this pressure" if record.given == "pressure" else "at the bubble pressure"
        glide = scale.show(record.glide_K, "temperature difference")
        paragraph(f"Glide {where}: {glide}.", indent=2)
        paragraph("Superheat is counted from dew, subcooling from bubble.", indent=2)
    paragraph(
        f"Liquid {_density(record.bubble.density_kg_per_m3, scale)}, "
        f"vapour {_density(record.dew.density_kg_per_m3, scale)}, "
        f"latent heat {_latent(record.latent_heat_J_per_kg, scale)}.",
        indent=2,
    )
    paragraph(
        "Gauge zero at an atmosphere of "
        f"{scale.show(record.atmospheric_pressure_Pa, 'absolute pressure', 4)}.",
        indent=2,
    )
    if not record.safety_class.endswith("1"):
        paragraph(
            f"Class {record.safety_class} burns: charge limits and the rules of your country "
            "come before any pressure.",
            indent=2,
        )


@click.command(short_help="List them: class, boiling point, oils.")
@click.option(
    "--units",
    type=click.Choice(["US", "SI"], case_sensitive=False),
    metavar="US|SI",
    default="SI",
    show_default=True,
    help="Unit system of the answer.",
)
@json_option
def refrigerants(units: str, as_json: bool) -> None:
    """Refrigerants in the tables: class, boiling point, warming potential, oils."""
    from sweatline.cli.terminal import print_json
    from sweatline.design.recording import refrigerants_record
    from sweatline.units import Scale

    record = refrigerants_record()
    if as_json:
        print_json(record)
    else:
        _print_refrigerants(record, Scale("US" if units.upper() == "US" else "SI"))


def _print_refrigerants(record: RefrigerantsRecord, scale: Scale) -> None:
    from sweatline.cli.tables import Column, measured, print_table
    from sweatline.cli.terminal import gap, paragraph

    rows = record.refrigerants

    def doubtful(key: str, i: int) -> str:
        status = rows[i].status.get(key, "")
        return "?" if status.startswith("MEMORY") or status == "CONFLICT" else ""

    def number(key: str, i: int, value: float | None, factor: float = 1.0) -> str:
        if value is None:
            return "-"
        text = f"{value * factor:.3g}" if value * factor < 1000 else f"{value * factor:.0f}"
        return text + doubtful(key, i)

    span = range(len(rows))
    print_table(
        [
            Column("refrigerant", [r.name for r in rows], right=False),
            Column("class", [r.safety_class for r in rows], right=False),
            measured("boils", [r.boiling_point_K for r in rows], "temperature", scale),
            Column("GWP\nAR4", [number("gwp_ar4", i, rows[i].gwp_ar4) for i in span]),
            Column("GWP\nAR6", [number("gwp_ar6", i, rows[i].gwp_ar6) for i in span]),
            Column(
                "LFL\ng/m³",
                [number("lfl", i, rows[i].lower_flammable_limit_kg_per_m3, 1e3) for i in span],
            ),
            Column(
                "oils (some machines only)",
                [
                    ", ".join(r.oils)
                    + (f" ({', '.join(r.oils_limited)})" if r.oils_limited else "")
                    for r in rows
                ],
                right=False,
                wrap=True,
            ),
        ]
    )
    gap()
    paragraph(
        "Boiling point at 101.325 kPa, for a blend of its bubble. GWP over 100 years by the "
        "fourth and sixth assessment reports. LFL: lower flammable limit in air. A question mark "
        "says that the value was not seen in print: confirm it before use.",
    )
    missing = [r.name for r in rows if not r.tabulated]
    if missing:
        paragraph("Without a property table in this installation: " + ", ".join(missing) + ".")

"""Commands on refrigerants alone: saturation and refrigerants."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import click

from sweatline.cli.options import (
    Session,
    json_option,
    site_atmosphere,
    unit_options,
)
from sweatline.cli.quantity import Quantity, Written
from sweatline.cli.tables import Column, measured, print_table
from sweatline.cli.terminal import gap, heading, paragraph, print_json
from sweatline.units import Scale, System, written_system

if TYPE_CHECKING:
    from sweatline.design.refrigerants import RefrigerantsAnswer, SaturationAnswer


@click.command()
@click.argument("refrigerant")
@click.option(
    "--pressure",
    type=Quantity("pressure"),
    metavar="P",
    help='Gauge or absolute, as "27 psig" or "290 kPa abs".',
)
@click.option(
    "--temperature", type=Quantity("temperature"), metavar="T", help='As "0 C" or "32 F".'
)
@unit_options
@json_option
@click.pass_obj
def saturation(
    session: Session,
    refrigerant: str,
    pressure: Written | None,
    temperature: Written | None,
    altitude: Written | None,
    units: str | None,
    as_json: bool,
) -> None:
    """Bubble and dew of a refrigerant at a pressure or at a temperature."""
    from sweatline.cli.waiting import PROPERTY_KERNEL, waiting
    from sweatline.design.refrigerants import saturation as saturation_point

    if (pressure is None) == (temperature is None):
        raise click.UsageError("give either --pressure or --temperature")
    atmosphere = site_atmosphere(altitude)
    texts = [w.text for w in (pressure, temperature, altitude) if w is not None]
    session.scale = Scale(written_system(*texts, wanted=units), atmosphere)
    with waiting("looking up", kernel=PROPERTY_KERNEL):
        answer = saturation_point(
            refrigerant,
            pressure=pressure.si(atmosphere) if pressure is not None else None,
            temperature=temperature.si() if temperature is not None else None,
            atmosphere=atmosphere,
        )
    if as_json:
        print_json(answer, "saturation")
    else:
        _print_saturation(answer, session.scale)


def _latent(value: float, scale: Scale) -> str:
    if scale.system == "US":
        return f"{value / 2326.0:.1f} BTU/lb"
    return f"{value / 1e3:.1f} kJ/kg"


def _print_saturation(answer: SaturationAnswer, scale: Scale) -> None:
    heading(f"{answer.refrigerant}, safety class {answer.safety_class}")
    gap()
    blend = answer.glide > 0.01
    points = [("bubble", answer.bubble), ("dew", answer.dew)]
    if not blend:
        names = [""]
        shown = [answer.bubble]
    else:
        names = [name for name, _ in points]
        shown = [point for _, point in points]
    columns = [Column("", names, right=False)] if blend else []
    columns += [
        Column("temperature", [scale.show(s.temperature, "temperature") for s in shown]),
        Column("gauge", [scale.show(s.pressure, "pressure") for s in shown]),
        Column("absolute", [scale.show(s.pressure, "absolute pressure") for s in shown]),
    ]
    print_table(columns)
    gap()
    if blend:
        where = "at this pressure" if answer.given == "pressure" else "at the bubble pressure"
        glide = scale.show(answer.glide, "temperature difference")
        paragraph(f"Glide {where}: {glide}.", indent=2)
        paragraph("Superheat is counted from dew, subcooling from bubble.", indent=2)
    paragraph(
        f"Liquid {scale.show(answer.bubble.density, 'concentration', 4)}, "
        f"vapour {scale.show(answer.dew.density, 'concentration', 4)}, "
        f"latent heat {_latent(answer.latent_heat, scale)}.",
        indent=2,
    )
    paragraph(
        "Gauge zero at an atmosphere of "
        f"{scale.show(answer.atmospheric_pressure, 'absolute pressure', 4)}.",
        indent=2,
    )
    if not answer.safety_class.endswith("1"):
        paragraph(
            f"Class {answer.safety_class} burns: charge limits and the rules of your country "
            "come before any pressure.",
            indent=2,
        )


@click.command()
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
    from sweatline.design.refrigerants import refrigerants as all_refrigerants

    answer = all_refrigerants()
    if as_json:
        print_json(answer, "refrigerants")
    else:
        _print_refrigerants(answer, Scale(cast("System", units.upper())))


def _print_refrigerants(answer: RefrigerantsAnswer, scale: Scale) -> None:

    rows = answer.refrigerants

    def doubtful(key: str, i: int) -> str:
        return "?" if rows[i].in_doubt(key) else ""

    def number(key: str, i: int, value: float | None) -> str:
        if value is None:
            return "-"
        text = f"{value:.3g}" if value < 1000 else f"{value:.0f}"
        return text + doubtful(key, i)

    unit, limits = scale.column([r.lower_flammable_limit for r in rows], "concentration", 2)

    span = range(len(rows))
    print_table(
        [
            Column("refrigerant", [r.name for r in rows], right=False),
            Column("class", [r.safety_class for r in rows], right=False),
            measured("boils", [r.boiling_point for r in rows], "temperature", scale),
            Column("GWP\nAR4", [number("gwp_ar4", i, rows[i].gwp_ar4) for i in span]),
            Column("GWP\nAR6", [number("gwp_ar6", i, rows[i].gwp_ar6) for i in span]),
            Column(
                f"LFL\n{unit}",
                [t if t == "-" else t + doubtful("lfl", i) for i, t in enumerate(limits)],
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
        "Boiling point at one atmosphere, for a blend of its bubble. GWP over 100 years by the "
        "fourth and sixth assessment reports. LFL: lower flammable limit in air. A question mark "
        "says: not checked in print, confirm it before use.",
    )
    missing = [r.name for r in rows if not r.tabulated]
    if missing:
        paragraph("Without a property table in this installation: " + ", ".join(missing) + ".")

"""Command `hose`: hoses, scale and cylinders."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Final

import click

from sweatline.bench.hoses.hoses import HoseAnswer, HoseRequest
from sweatline.bench.hoses.hoses import hose as answer
from sweatline.cli.sources import Shelf, Sources, bench_options
from sweatline.cli.terminal import heading, listing, paragraph
from sweatline.log.weighing import weighing_in
from sweatline.report.told import quantity_rows

if TYPE_CHECKING:
    from sweatline.bench.hoses.cylinder import FuelGuess, SaturationCheck
    from sweatline.bench.hoses.hoses import CylinderFill
    from sweatline.units import Scale

_CYLINDER_SAYS: Final = {
    "as it should be": "as far as gauge and thermometer can tell",
    "above saturation": "gas that does not condense, or a lighter fluid; let it stand in even "
    "temperature and read again before believing it",
    "below saturation": "no liquid left, a heavier fluid, or a liquid colder than the "
    "thermometer says",
}


@click.command()
@bench_options(HoseRequest)
def hose(shelf: Shelf) -> None:
    """Mass in the machine: weighed out, less what is in the hoses, less what was vented.

    Or, with --want, what the scale must show. With --cylinder-pressure: whether the cylinder holds
    what its label says, as far as a gauge can see. With --cylinder-volume: how full it may be.

    From --log, since the circuit was last empty: readings of scale before and after each cylinder
    (event `cylinder-changed` between them), else what was `added`; the events `hose-left`,
    `can-emptied` and `vented`; readings of cylinder-gauge and cylinder, its temperature.
    """
    alone = not shelf.typed.keys() & {
        "hoses", "containers", "cans", "want", "fill", "cylinder_pressure", "taken_as_vapour",
        "cylinder_volume",
    }  # fmt: skip
    if alone and shelf.log_file is None:
        raise click.UsageError(
            "give --log, --hose, --container, --want, --cylinder-pressure or another"
        )
    sources = Sources(shelf, HoseRequest)
    read = functools.partial(weighing_in, typed=shelf.typed, alone=alone)
    request = sources.request(sources.logged(read, alone=alone))
    sources.tell(answer, request, _print, "weighing")


def _print(a: HoseAnswer, scale: Scale, details: bool) -> None:
    """The mass that was asked about in one line, then what it is made of."""
    if a.charge_limit is not None and a.charge_limit.over:
        c = a.charge_limit
        paragraph(
            f"STOP: {scale.show(c.mass, 'mass')} is more than the room allows, at most "
            f"{scale.show(c.limit, 'mass')} ({c.source}; {c.status})."
        )
    if a.machine is not None:
        likely = scale.range(a.machine.likely, "mass")
        paragraph(
            f"In the machine: {scale.show(a.machine.mass, 'mass')} of {a.refrigerant} "
            f"(likely range, 9 in 10: {likely})."
        )
        lost = [name for name in ("in_hoses", "vented") if getattr(a.machine, name)]
        listing(quantity_rows(a.machine, scale, "weighed", *lost))
    if a.weigh_out is not None:
        w = a.weigh_out
        paragraph(
            f"For {scale.show(w.want, 'mass')} in the machine weigh out "
            f"{scale.show(w.weigh_out, 'mass')}; the charge is then right to "
            f"± {scale.show(w.sd, 'mass', 2)}."
        )
    if a.charge_limit is not None and not a.charge_limit.over:
        paragraph(
            f"The room allows up to {scale.show(a.charge_limit.limit, 'mass')} "
            f"({a.charge_limit.source}; {a.charge_limit.status})."
        )
    if a.cylinder is not None:
        _print_cylinder(a.cylinder, a.fuel, a.refrigerant, scale, details)
    if a.fill is not None:
        _print_fill(a.fill, scale)
    if a.fractionation is not None:
        f = a.fractionation
        most = " at most" if f.bound else ""
        paragraph(
            f"With {100 * f.taken_share:.0f} % of the cylinder taken as vapour the machine holds "
            f"{100 * f.taken:.1f} % {' and '.join(f.light)}{most} instead of "
            f"{100 * f.nominal:.1f} % by mass."
        )
        listing(
            (
                ("left in the liquid", f"{100 * f.left:.1f} %"),
                (
                    "pressures",
                    f"up by {100 * (f.bubble_ratio - 1.0):.0f} % at one temperature: charts and "
                    "cards no longer hold, for the machine and for what is left",
                ),
            )
        )
    if a.hoses and (details or a.machine is None):
        _print_hoses(a, scale)


def _print_hoses(a: HoseAnswer, scale: Scale) -> None:
    heading(f"{a.refrigerant} in the hoses")
    rows = []
    for h in a.hoses:
        said = (
            f"{scale.show(h.mass, 'mass', 2)} ± {scale.show(h.sd, 'mass', 2)} at "
            f"{scale.show(h.pressure, 'pressure')}"
        )
        if h.returned > 0.0:
            said += f"; {scale.show(h.returned, 'mass', 2)} went into the low side"
        size = f"{scale.show(h.bore, 'bore')}, {scale.show(h.length, 'length')}"
        rows.append((f"{size}, {h.state}", said))
    listing(rows)


def _print_cylinder(
    c: SaturationCheck, fuel: FuelGuess | None, name: str, scale: Scale, details: bool
) -> None:
    paragraph(f"The cylinder stands {_stands(c)}: {_CYLINDER_SAYS[c.verdict]}.")
    rows = [
        (
            "read",
            f"{scale.show(c.pressure, 'pressure')} at "
            f"{scale.show(c.temperature, 'temperature')}; {name} stands at "
            f"{scale.show(c.saturation, 'pressure')}",
        ),
        (
            "if it is air",
            f"{100 * c.share:.1f} ± {100 * c.share_sd:.1f} % of the vapour; above "
            f"{100 * c.limit:.1f} % with a chance of {100 * c.chance_over:.0f} % "
            f"({c.limit_source})",
        ),
    ]
    if fuel is not None and fuel.propane_with_isobutane is not None:
        other = ""
        if fuel.propane_with_butane is not None:
            other = f" or {100 * fuel.propane_with_butane:.0f} % with n-butane"
        rows.append(
            (
                "if a mixture",
                f"{100 * fuel.propane_with_isobutane:.0f} % propane with isobutane{other} would "
                f"show this; it boils over {scale.show(fuel.glide, 'temperature difference')}, "
                "and vapour is richer in propane than liquid",
            )
        )
    if fuel is not None and fuel.propylene_with_propane is not None:
        rows.append(
            (
                "if a mixture",
                f"{100 * fuel.propylene_with_propane:.0f} % propylene with propane would show this",
            )
        )
    if details:
        rows += [("sees", text) for text in c.sees]
    if details or fuel is not None:
        rows += [("cannot see", text) for text in c.blind_to]
    listing(rows)


def _stands(c: SaturationCheck) -> str:
    return "at saturation" if c.verdict == "as it should be" else c.verdict


def _print_fill(fill: CylinderFill, scale: Scale) -> None:
    if fill.asked is not None:
        full = (
            f"full of liquid at {scale.show(fill.liquid_full, 'temperature')}, and then it bursts"
            if fill.liquid_full is not None
            else "never full of liquid below the critical point"
        )
        mark = "STOP, too much" if fill.too_much else "It may hold"
        paragraph(f"{mark}: {scale.show(fill.asked, 'mass')}, {full}.")
    paragraph(
        f"A cylinder of {scale.show(fill.volume, 'volume')} holds at most "
        f"{scale.show(fill.most, 'mass')}: four fifths as liquid at "
        f"{scale.show(fill.temperature, 'temperature')} (MEMORY 0.85)."
    )

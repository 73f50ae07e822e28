"""Command `hose`: hoses, scale and cylinders."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from sweatline.cli.options import read_bench
from sweatline.cli.quantity import Quantity, Written
from sweatline.cli.sources import (
    Shelf,
    Sources,
    bench_options,
    fields,
    job_from_shelf,
    measure,
    quantity_rows,
    si,
    with_error,
)
from sweatline.cli.terminal import heading, listing, paragraph

if TYPE_CHECKING:
    from sweatline.bench.hoses.cylinder import FuelGuess, SaturationCheck
    from sweatline.bench.hoses.hoses import CylinderFill, CylinderReading, FillRequest, HoseAnswer
    from sweatline.log.weighing import LoggedWeighing
    from sweatline.parts.hose import Container
    from sweatline.units import Scale

_MASS: Final = Quantity("mass", low=1e-3, high=50.0)
_CONTAINER: Final = {
    "before": Quantity("mass", low=0.0, high=200.0),
    "after": Quantity("mass", low=0.0, high=200.0),
}
_CYLINDER_SAYS: Final = {
    "as it should be": "as far as gauge and thermometer can tell",
    "above saturation": "gas that does not condense, or a lighter fluid; let it stand in even "
    "temperature and read again before believing it",
    "below saturation": "no liquid left, a heavier fluid, or a liquid colder than the "
    "thermometer says",
}


@click.command()
@job_from_shelf
@click.option("--refrigerant", metavar="NAME", help="Needed where the job lists several.")
@click.option("--hose", "hoses", multiple=True, metavar="BORE, LENGTH, STATE",
              help="As it is left at the end: liquid, gas, mixed, or pulled back (drawn into "
              'the low side); then its pressure, if known, as "4.8 mm, 0.9 m, pulled back,'
              ' 2 bar(g)". Again for each.')  # fmt: skip
@click.option("--container", "containers", multiple=True, metavar="BEFORE, AFTER",
              help='On the scale, as "1250 g, 1088 g"; again for each further one.')  # fmt: skip
@click.option("--can", "cans", multiple=True, metavar="NET, VOLUME, P",
              help="Small can not weighed: label, volume and pressure at the end.")  # fmt: skip
@click.option("--swap", metavar="BORE, LENGTH, STATE", help="Lost at each change of container.")
@measure("--vented", "mass", "M", 'As "2 ± 1 g".', low=0.0, high=20.0)
@measure("--want", _MASS, "M", "Charge wanted: what must the scale show?")
@measure("--scale-step", "mass", "M", "Smallest step it shows.", low=1e-6, high=1.0, default="1 g")
@measure("--scale-error", "ratio", "X",
         "Its calibration error.", low=0.0, high=0.1, default="0.2 %")  # fmt: skip
@measure("--temperature", "temperature", "T",
         "Of hoses and cylinder; else the room's.", low=223.15, high=343.15)  # fmt: skip
@measure("--cylinder-pressure", "pressure", "P", "At rest, hours after it was used.")
@measure("--gauge-error", "pressure difference", "DP",
         "One standard deviation.", low=1.0, high=1e6, default="10 kPa")  # fmt: skip
@measure("--thermometer-error", "temperature difference", "DT",
         "Likewise.", low=1e-3, high=20.0, default="0.5 K")  # fmt: skip
@click.option("--fuel", is_flag=True, help="Hydrocarbon sold as fuel, not as refrigerant.")
@measure("--taken-as-vapour", "ratio", "SHARE",
         "Of the cylinder: how far does a blend shift?", low=1e-3, high=0.99)  # fmt: skip
@measure("--cylinder-volume", "volume", "V", "How much may it hold?", low=1e-5, high=1.0)
@measure("--fill", "mass", "M", "That is to go into it.", low=1e-3, high=500.0)
@measure("--warmest", "temperature", "T", "Of its store.", low=273.15, high=338.15, default="50 C")
@bench_options
def hose(
    shelf: Shelf,
    *,
    refrigerant: str | None,
    hoses: tuple[str, ...],
    containers: tuple[str, ...],
    cans: tuple[str, ...],
    swap: str | None,
    vented: Written | None,
    want: Written | None,
    scale_step: Written,
    scale_error: Written,
    temperature: Written | None,
    cylinder_pressure: Written | None,
    gauge_error: Written,
    thermometer_error: Written,
    fuel: bool,
    taken_as_vapour: Written | None,
    cylinder_volume: Written | None,
    fill: Written | None,
    warmest: Written,
) -> None:
    """Mass in the machine: weighed out, less what is in the hoses, less what was vented.

    Or, with --want, what the scale must show. With --cylinder-pressure: whether the cylinder holds
    what its label says, as far as a gauge can see. With --cylinder-volume: how full it may be.

    From --log, since the circuit was last empty: readings of scale before and after each cylinder
    (event `cylinder-changed` between them), else what was `added`; the events `hose-left`,
    `can-emptied` and `vented`; readings of cylinder-gauge and cylinder, its temperature.
    """
    from sweatline.bench.answer import room_temperature
    from sweatline.bench.hoses.hoses import HoseRequest
    from sweatline.bench.hoses.hoses import hose as answer
    from sweatline.cli.waiting import PROPERTY_KERNEL, waiting
    from sweatline.log.hoses import written_can, written_hose
    from sweatline.log.weighing import LoggedWeighing, weighing_in

    work = read_bench(shelf.session, shelf.job) if shelf.job is not None else None
    typed = any(
        (hoses, containers, cans, want, cylinder_pressure, taken_as_vapour, cylinder_volume)
    )
    if not (typed or shelf.log_file):
        raise click.UsageError(
            "give --log, --hose, --container, --want, --cylinder-pressure or another"
        )
    if fill is not None and cylinder_volume is None:
        raise click.UsageError("--fill needs --cylinder-volume")
    sources = Sources(shelf, work, written=(*hoses, *containers, want, cylinder_pressure))
    zero = sources.atmosphere
    told = si(temperature)
    room = room_temperature(work, told)
    logged = LoggedWeighing()
    if sources.book is not None:
        logged = weighing_in(sources.book, typed=told, otherwise=room)
        _any_weight(sources, logged, typed)

    def cylinder(warm: float) -> CylinderReading | None:
        return _cylinder(
            sources, logged, cylinder_pressure, gauge_error, thermometer_error,
            temperature=told, otherwise=warm, fuel=fuel,
        )  # fmt: skip

    name = sources.refrigerant(refrigerant, logged.refrigerant)
    if name is None and cylinder_pressure is not None:
        _unnamed(cylinder(room))
    if name is None:
        raise click.UsageError("which refrigerant? give --refrigerant")
    warm = sources.quantity("temperature", temperature, logged.temperature)
    warm = room if warm is None else warm
    out = sources.pick(
        "vented",
        vented.text if vented is not None else None,
        lambda: with_error(vented, share=0.3) if vented is not None else (0.0, 0.0),
        logged.vented,
        (0.0, 0.0),
    )
    request = HoseRequest(
        refrigerant=name,
        temperature=warm,
        atmosphere=zero,
        job=work,
        hoses=sources.each(
            "hoses", hoses, "--hose", lambda t, o: written_hose(t, o, warm, zero), logged.hoses
        ),
        containers=sources.each(
            "weighed out", containers, "--container", _container, logged.containers
        ),
        cans=sources.each("cans", cans, "--can", lambda t, o: written_can(t, o, zero), logged.cans),
        swap=written_hose(swap, "--swap", warm, zero) if swap else None,
        vented=out,
        scale_step=sources.error("scale step", scale_step, logged.scale_step),
        scale_share=sources.error("scale error", scale_error, logged.scale_share),
        want=si(want),
        cylinder=cylinder(warm),
        taken_as_vapour=si(taken_as_vapour),
        fill=_fill(cylinder_volume, fill, warmest),
    )
    with waiting("weighing", kernel=PROPERTY_KERNEL):
        found = answer(request)
    sources.show(found, _print)


def _container(text: str, where: str) -> Container:
    from sweatline.errors import JobError
    from sweatline.parts.hose import Container

    told = fields(text, where, _CONTAINER)
    before, after = told["before"].si(), told["after"].si()
    if after > before:
        raise JobError(
            what="a container that was charged from weighs more than before",
            read=text,
            allowed="the mass before comes first",
            field=where,
        )
    return Container(before=before, after=after)


def _any_weight(sources: Sources, logged: LoggedWeighing, other: bool) -> None:
    """Stop when the log has nothing to say; notes of what it has go on."""
    from sweatline.errors import JobError

    sources.notes.extend(logged.notes)
    if other or logged.containers or logged.cans or logged.cylinder:
        return
    raise JobError(
        what=f"the log has no weights {logged.since}",
        allowed='read scale before and after, as `sweatline log read LOG scale "1250 g"`, or write '
        "down what was `added`",
        path=sources.book.path if sources.book is not None else "",
    )


def _unnamed(look: CylinderReading | None) -> None:
    """Nobody said what is in the cylinder: what its pressure would fit, and what that is worth."""
    from sweatline.bench.hoses.hoses import stands_near
    from sweatline.errors import JobError

    near = stands_near(look) if look is not None else ()
    fit = f"{', '.join(near)} would stand there" if near else "none of those known stands there"
    raise JobError(
        what=f"a gauge does not tell what is in a cylinder: {fit}, and so would many a mixture",
        allowed="say what its label names and the pressure is held against that; without a label "
        "it is not charged",
        field="--refrigerant",
    )


def _cylinder(
    sources: Sources,
    logged: LoggedWeighing,
    pressure: Written | None,
    gauge: Written,
    thermometer: Written,
    *,
    temperature: float | None,
    otherwise: float,
    fuel: bool,
) -> CylinderReading | None:
    """A cylinder's pressure and temperature, as typed or by the log."""
    from sweatline.bench.hoses.hoses import CylinderReading
    from sweatline.errors import JobError
    from sweatline.log.weighing import LoggedWeighing

    from_log = pressure is None
    read = logged if from_log else LoggedWeighing()
    found = read.cylinder
    if from_log and found is None:
        if fuel:
            raise click.UsageError("--fuel is about a cylinder: give --cylinder-pressure")
        return None
    warm = read.cylinder_temperature
    if from_log and warm is None and temperature is None:
        raise JobError(
            what="the pressure of a cylinder says nothing without its temperature",
            allowed='read it beside the gauge, as `sweatline log read LOG cylinder "18 C"`, or '
            "give --temperature",
            path=sources.book.path if sources.book is not None else "",
        )
    stands = sources.quantity("cylinder's gauge", pressure, found)
    assert stands is not None
    return CylinderReading(
        pressure=stands,
        pressure_sd=sources.error("gauge error", gauge, read.cylinder_error),
        temperature=temperature
        if temperature is not None
        else sources.pick("cylinder", None, lambda: otherwise, warm, otherwise),
        temperature_sd=thermometer.si(),
        fuel=fuel,
    )


def _fill(volume: Written | None, mass: Written | None, warmest: Written) -> FillRequest | None:
    from sweatline.bench.hoses.hoses import FillRequest

    if volume is None:
        return None
    return FillRequest(volume=volume.si(), temperature=warmest.si(), mass=si(mass))


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

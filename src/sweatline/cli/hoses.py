"""Command `hose`: hoses, scale and cylinders."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from sweatline.cli.options import (
    Session,
    json_option,
    quantity,
    read_bench,
    split_fields,
    unit_options,
)
from sweatline.cli.sources import Sources, log_option, typed

if TYPE_CHECKING:
    from sweatline.bench.hoses.hoses import CylinderAsked, FillAsked
    from sweatline.job.model import Job
    from sweatline.log.extract import Found
    from sweatline.log.weighing import LoggedWeighing
    from sweatline.parts.hose import Container
    from sweatline.units import Kind

__all__ = ["hose"]


@click.command(short_help="What is in the hoses, the machine and the cylinder.")
@click.argument("job", metavar="[JOB]", required=False)
@log_option
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

    From --log, since the circuit was last empty: readings of scale before and after each cylinder
    (event `cylinder-changed` between them), else what was `added`; the events `hose-left`,
    `can-emptied` and `vented`; readings of cylinder-gauge and cylinder, its temperature.
    """
    from sweatline.bench.hoses.hoses import HoseAsked
    from sweatline.bench.hoses.hoses import hose as answer
    from sweatline.cli.hoses_words import print_hose
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import PROPERTY_KERNEL, waiting
    from sweatline.log.hoses import written_can, written_hose
    from sweatline.log.weighing import weighing_in
    from sweatline.units import Scale

    job: Job | None = read_bench(session, o["job"]) if o["job"] is not None else None
    if job is not None and o["altitude"] is not None:
        raise click.UsageError("--altitude stands in the job file already")
    keys = ("hoses", "containers", "cans", "want", "cylinder_pressure", "taken_as_vapour")
    if not any(o[k] for k in (*keys, "cylinder_volume", "log_file")):
        raise click.UsageError(
            "give --log, --hose, --container, --want, --cylinder-pressure or another"
        )
    sources = Sources(o["log_file"])
    atmosphere = sources.atmosphere(job, o["altitude"])
    if job is None or o["units"] is not None:
        written = (*o["hoses"], *o["containers"], o["want"], o["cylinder_pressure"])
        session.scale = Scale(sources.system(o["units"], *written), atmosphere)
    assert session.scale is not None
    room = job.room.temperature.value if job else 293.15
    typed_in = None
    if o["temperature"] is not None:
        typed_in = quantity(
            o["temperature"], "temperature", "--temperature", low=223.15, high=343.15
        )
    logged = None
    if sources.book is not None:
        logged = weighing_in(sources.book, typed=typed_in, otherwise=room)
        _any_weight(sources, logged, any(o[k] for k in (*keys, "cylinder_volume")))
    name = sources.refrigerant(o["refrigerant"], logged.refrigerant if logged else None, job)
    if name is None and o["cylinder_pressure"] is not None:
        _unnamed(_cylinder(sources, logged, o, typed_in or room, atmosphere))
    if name is None:
        raise click.UsageError("which refrigerant? give --refrigerant")
    temperature = sources.pick(
        "temperature", o["temperature"], lambda: typed_in or room,
        logged.temperature if logged else None, room,
    )  # fmt: skip
    vented, vented_sd = sources.pick(
        "vented", o["vented"], lambda: _vented(o["vented"]),
        logged.vented if logged else None, (0.0, 0.0),
    )  # fmt: skip
    asked = HoseAsked(
        refrigerant=name,
        temperature=temperature,
        atmosphere=atmosphere,
        hoses=sources.pick(
            "hoses",
            o["hoses"],
            lambda: tuple(
                written_hose(t, f"--hose {i}", temperature, atmosphere)
                for i, t in _numbered(o["hoses"])
            ),
            logged.hoses if logged else None,
            (),
        ),
        containers=sources.pick(
            "weighed out",
            o["containers"],
            lambda: tuple(_container(t, f"--container {i}") for i, t in _numbered(o["containers"])),
            logged.containers if logged else None,
            (),
        ),
        cans=sources.pick(
            "cans",
            o["cans"],
            lambda: tuple(
                written_can(t, f"--can {i}", atmosphere) for i, t in _numbered(o["cans"])
            ),
            logged.cans if logged else None,
            (),
        ),
        swap=written_hose(o["swap"], "--swap", temperature, atmosphere) if o["swap"] else None,
        vented=vented,
        vented_sd=vented_sd,
        scale_step=_error(
            sources, o, "scale_step", "mass", logged.scale_step if logged else None, 1e-6, 1.0
        ),
        scale_share=_error(
            sources, o, "scale_error", "ratio", logged.scale_share if logged else None, 0.0, 0.1
        ),
        want=quantity(o["want"], "mass", "--want", low=1e-3, high=50.0) if o["want"] else None,
        cylinder=_cylinder(sources, logged, o, temperature, atmosphere),
        taken_as_vapour=quantity(
            o["taken_as_vapour"], "ratio", "--taken-as-vapour", low=0.001, high=0.99
        )
        if o["taken_as_vapour"] is not None
        else None,
        fill=_fill(o),
        account=sources.account,
        job=job,
    )
    with waiting("weighing", kernel=PROPERTY_KERNEL):
        record = answer(asked)
    if o["as_json"]:
        print_json(record)
    else:
        print_hose(record, session.scale)


def _numbered(texts: tuple[str, ...]) -> enumerate[str]:
    return enumerate(texts, 1)


def _container(text: str, where: str) -> Container:
    from sweatline.errors import JobError
    from sweatline.parts.hose import Container

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
        path=sources.account.path or "",
    )


def _unnamed(cylinder: CylinderAsked | None) -> None:
    """Nobody said what is in the cylinder: what its pressure would fit, and what that is worth."""
    from sweatline.bench.hoses.hoses import stands_near
    from sweatline.errors import JobError

    near = stands_near(cylinder) if cylinder is not None else ()
    fit = f"{', '.join(near)} would stand there" if near else "none of those known stands there"
    raise JobError(
        what=f"a gauge does not tell what is in a cylinder: {fit}, and so would many a mixture",
        allowed="say what its label names and the pressure is held against that; without a label "
        "it is not charged",
        field="--refrigerant",
    )


def _error(
    sources: Sources,
    o: dict[str, Any],
    name: str,
    kind: Kind,
    found: Found[float] | None,
    low: float,
    high: float,
) -> float:
    """How well an instrument reads: as typed, of the log, or as usual."""
    option = "--" + name.replace("_", "-")
    usual = quantity(o[name], kind, option, low=low, high=high)
    return sources.pick(
        option.lstrip("-").replace("-", " "),
        o[name] if typed(name) else None,
        lambda: usual,
        found,
        usual,
        why=o[name],
    )


def _cylinder(
    sources: Sources,
    logged: LoggedWeighing | None,
    o: dict[str, Any],
    temperature: float,
    atmosphere: float,
) -> CylinderAsked | None:
    from sweatline.bench.hoses.hoses import CylinderAsked
    from sweatline.errors import JobError

    found = logged.cylinder if logged is not None else None
    if o["cylinder_pressure"] is None and found is None:
        if o["fuel"]:
            raise click.UsageError("--fuel is about a cylinder: give --cylinder-pressure")
        return None
    read = logged is not None and o["cylinder_pressure"] is None
    warm = logged.cylinder_temperature if read and logged is not None else None
    if read and warm is None and o["temperature"] is None:
        raise JobError(
            what="the pressure of a cylinder says nothing without its temperature",
            allowed='read it beside the gauge, as `sweatline log read LOG cylinder "18 C"`, or '
            "give --temperature",
            path=sources.account.path or "",
        )
    return CylinderAsked(
        pressure=sources.pick(
            "cylinder's gauge",
            o["cylinder_pressure"],
            lambda: quantity(
                o["cylinder_pressure"], "pressure", "--cylinder-pressure", atmosphere=atmosphere
            ),
            found,
            0.0,
        ),
        pressure_sd=_error(
            sources, o, "gauge_error", "pressure difference",
            logged.cylinder_error if read and logged is not None else None, 1.0, 1e6,
        ),
        temperature=temperature
        if o["temperature"] is not None
        else sources.pick("cylinder", None, lambda: temperature, warm, temperature),
        temperature_sd=quantity(
            o["thermometer_error"], "temperature difference", "--thermometer-error", low=0.001,
            high=20.0,
        ),
        fuel=o["fuel"],
    )  # fmt: skip


def _fill(o: dict[str, Any]) -> FillAsked | None:
    from sweatline.bench.hoses.hoses import FillAsked

    if o["cylinder_volume"] is None:
        if o["fill"] is not None:
            raise click.UsageError("--fill needs --cylinder-volume")
        return None
    return FillAsked(
        volume=quantity(o["cylinder_volume"], "volume", "--cylinder-volume", low=1e-5, high=1.0),
        temperature=quantity(o["warmest"], "temperature", "--warmest", low=273.15, high=338.15),
        mass=quantity(o["fill"], "mass", "--fill", low=1e-3, high=500.0) if o["fill"] else None,
    )

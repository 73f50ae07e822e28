"""Command `tightness`: a pressure hold read or planned, the past of a leak, where to look."""

from __future__ import annotations

from itertools import pairwise
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
from sweatline.constants import STANDARD_ATMOSPHERE

if TYPE_CHECKING:
    from sweatline.assembly.inside_volume import CircuitPiece
    from sweatline.bench.tightness.logged import LoggedHold
    from sweatline.bench.tightness.pressure_hold import HoldInstruments, HoldReading
    from sweatline.bench.tightness.request import History, PressureLimit, TestGas
    from sweatline.job.model import Job
    from sweatline.log.extract import Found
    from sweatline.units import Kind

__all__ = ["tightness"]


@click.command(short_help="Pressure hold: how tight, how long to hold, where to look.")
@click.argument("job", metavar="[JOB]", required=False)
@log_option
@click.option(
    "--reading",
    "readings",
    multiple=True,
    metavar="R",
    help='One look at the gauge, as "0 h, 10 bar(g), 21 C" or with the barometer as a fourth, '
    '"24 h, 9.9 bar(g), 20 C, 1009 hPa abs". Give two or more.',
)
@click.option("--pressure", metavar="P", help="Of a hold to come: how long must it last?")
@click.option(
    "--measured",
    metavar="Q",
    help="A leak rate of --gas under --pressure, read by an instrument: what will it lose?",
)
@click.option(
    "--see",
    metavar="RATE",
    default="5 g/yr",
    show_default=True,
    help="Leak that a hold to come should show.",
)
@click.option("--refrigerant", metavar="NAME", help="What the machine will hold.")
@click.option(
    "--gas",
    type=click.Choice(["nitrogen", "helium"], case_sensitive=False),
    default="nitrogen",
    show_default=True,
    help="In the circuit. Never oxygen or compressed air.",
)
@click.option("--volume", metavar="V", help='Inside volume, as "2.8 ± 0.3 L"; else from the job.')
@click.option("--compressor", metavar="NAME", help="Of the job, by name or number.")
@click.option(
    "--limit",
    "limits",
    multiple=True,
    metavar="PART=P",
    help='What a part stands, as "evaporator=12 bar(g)"; may be given again.',
)
@click.option("--held", metavar="M", help="The past: mass that the machine held when full.")
@click.option("--held-refrigerant", metavar="NAME", help="Which it was; else the job's original.")
@click.option("--after", metavar="TIME", help='And when it was weak or empty, as "18 months".')
@click.option("--left", metavar="SHARE", help='Left then, as "70 %" of a weak one; else empty.')
@click.option("--rest-temperature", metavar="T", help="Of the machine at rest; else the room's.")
@click.option(
    "--gauge-error",
    metavar="DP",
    default="2 kPa",
    show_default=True,
    help="How well the gauge repeats, reading included; one standard deviation.",
)
@click.option(
    "--gauge-scale", metavar="X", default="1 %", show_default=True, help="Its calibration error."
)
@click.option(
    "--thermometer-error", metavar="DT", default="0.2 K", show_default=True, help="Likewise."
)
@click.option("--sealed-gauge", is_flag=True, help="Gauge that does not feel the weather.")
@unit_options
@json_option
@click.pass_obj
def tightness(session: Session, /, **o: Any) -> None:
    """Read a pressure hold with dry nitrogen or helium, or plan one.

    Says the leak in g/yr of the refrigerant to come with its range, and the smallest leak the hold
    could have seen. With --held and --after: what the past implies, and which ways of looking
    could find such a leak. With a job file: how to divide the circuit so that the search ends.

    From --log: the readings of suction-gauge or head-gauge with those of circuit (its temperature)
    since the event `pressurised`, barometer if it was read, the gas, and the instruments' errors.
    """
    from sweatline.assembly.build import choose_compressor
    from sweatline.assembly.inside_volume import circuit_pieces, total_volume
    from sweatline.bench.tightness.request import Asked, job_limits
    from sweatline.bench.tightness.tightness import tightness as answer
    from sweatline.cli.terminal import print_json
    from sweatline.cli.tightness_words import print_tightness
    from sweatline.cli.waiting import PROPERTY_KERNEL, waiting
    from sweatline.units import Scale

    asked_for = ("readings", "pressure", "held", "measured")
    if not any(o[name] for name in (*asked_for, "log_file")):
        raise click.UsageError(
            "give --log, or --reading twice, or --pressure, or --held with --after"
        )
    if len(o["readings"]) == 1:
        raise click.UsageError("one reading is no hold: give --reading twice or more")
    if (o["held"] is None) != (o["after"] is None):
        raise click.UsageError("--held and --after belong together")
    job: Job | None = read_bench(session, o["job"]) if o["job"] is not None else None
    if job is not None and o["altitude"] is not None:
        raise click.UsageError("--altitude stands in the job file already")
    sources = Sources(o["log_file"])
    atmosphere = sources.atmosphere(job, o["altitude"])
    written = (*o["readings"], o["pressure"], o["volume"], o["held"], *o["limits"])
    if job is None or o["units"] is not None:
        session.scale = Scale(sources.system(o["units"], *written), atmosphere)
    assert session.scale is not None
    hold = _logged(sources, any(o[name] for name in asked_for), o)
    typed_in, barometer = _readings(o["readings"], atmosphere)
    readings = sources.pick(
        "hold", o["readings"], lambda: tuple(typed_in), hold.readings if hold else None, ()
    )
    if hold is not None and not o["readings"]:
        barometer = hold.barometer
        sources.notes.extend(hold.notes)
    pieces: tuple[CircuitPiece, ...] = ()
    if job is not None:
        pieces = circuit_pieces(job, choose_compressor(job, o["compressor"]))
    volume, volume_sd = total_volume(pieces) if pieces else (None, 0.0)
    if o["volume"] is not None:
        volume, volume_sd = _volume(o["volume"])
    rest = job.room.temperature.value if job else 293.15
    if o["rest_temperature"] is not None:
        rest = quantity(
            o["rest_temperature"], "temperature", "--rest-temperature", low=243.15, high=333.15
        )
    instruments = _instruments(sources, hold, o, barometer)
    gas: TestGas = "helium" if o["gas"].lower() == "helium" else "nitrogen"
    asked = Asked(
        gas=sources.pick(
            "gas",
            o["gas"] if typed("gas") else None,
            lambda: gas,
            hold.gas if hold else None,
            gas,
            why="nitrogen: no gas was named",
        ),
        refrigerant=_refrigerant(sources, o["refrigerant"], job),
        rest_temperature=rest,
        atmosphere=atmosphere,
        volume=volume,
        volume_sd=volume_sd,
        readings=readings,
        instruments=instruments,
        pressure=quantity(o["pressure"], "pressure", "--pressure", atmosphere=atmosphere)
        if o["pressure"] is not None
        else None,
        measured=quantity(o["measured"], "gas throughput", "--measured", low=1e-14, high=10.0)
        if o["measured"] is not None
        else None,
        see=quantity(o["see"], "leak rate", "--see", low=3e-15, high=1e-3),
        limits=[*(job_limits(job) if job else ()), *_limits(o["limits"], atmosphere)],
        history=_history(o, job),
        unit_system=session.scale.system,
        pieces=pieces,
        job=job,
        account=sources.account,
    )
    with waiting("working out the leak", kernel=PROPERTY_KERNEL):
        record = answer(asked)
    if o["as_json"]:
        print_json(record)
    else:
        print_tightness(record, session.scale)


def _logged(sources: Sources, other: bool, o: dict[str, Any]) -> LoggedHold | None:
    """The hold of the log, when no readings were typed and no measured rate is asked about."""
    from sweatline.bench.tightness.logged import hold_in
    from sweatline.errors import JobError

    if sources.book is None or o["readings"] or o["measured"]:
        return None
    try:
        return hold_in(sources.book)
    except JobError as error:
        if not other:
            raise
        sources.notes.append(f"no hold from the log: {error.what}")
        return None


def _instruments(
    sources: Sources, hold: LoggedHold | None, o: dict[str, Any], barometer: bool
) -> HoldInstruments:
    from sweatline.bench.tightness.pressure_hold import HoldInstruments

    def error(
        what: str, name: str, kind: Kind, found: Found[float] | None, low: float, high: float
    ) -> float:
        option = "--" + name.replace("_", "-")
        usual = quantity(o[name], kind, option, low=low, high=high)
        return sources.pick(
            what, o[name] if typed(name) else None, lambda: usual, found, usual, why=o[name]
        )

    return HoldInstruments(
        gauge_repeats=error(
            "gauge's error", "gauge_error", "pressure difference",
            hold.gauge_error if hold else None, 1.0, 1e6,
        ),
        gauge_scale=error(
            "gauge's scale", "gauge_scale", "ratio",
            hold.gauge_scale if hold else None, 0.0, 0.2,
        ),
        thermometer=error(
            "thermometer's error", "thermometer_error", "temperature difference",
            hold.thermometer_error if hold else None, 0.001, 20.0,
        ),
        **({"barometer": 0.0} if barometer or o["sealed_gauge"] else {}),
    )  # fmt: skip


def _readings(texts: tuple[str, ...], atmosphere: float) -> tuple[list[HoldReading], bool]:
    """Readings in order, and whether all have a barometer."""
    from sweatline.bench.tightness.pressure_hold import HoldReading
    from sweatline.errors import JobError

    found = []
    with_barometer = 0
    for i, text in enumerate(texts, 1):
        where = f"--reading {i}"
        fields = split_fields(text, where, ("time", "pressure", "temperature"), ("barometer",))
        zero = atmosphere
        if "barometer" in fields:
            zero = quantity(fields["barometer"], "absolute pressure", where, low=4e4, high=1.1e5)
            with_barometer += 1
        found.append(
            HoldReading(
                time=quantity(fields["time"], "time", where, low=0.0, high=3.2e7),
                pressure=quantity(fields["pressure"], "pressure", where, atmosphere=zero),
                temperature=quantity(
                    fields["temperature"], "temperature", where, low=243.15, high=333.15
                ),
            )
        )
    if with_barometer not in (0, len(texts)):
        raise JobError(
            what="a barometer helps only when it stands in every reading",
            read=f"{with_barometer} of {len(texts)}",
            field="--reading",
        )
    for i, (before, later) in enumerate(pairwise(found), 2):
        if later.time <= before.time:
            raise JobError(
                what="not later than the reading before it", read=texts[i - 1],
                allowed="give readings in the order of time", field=f"--reading {i}",
            )  # fmt: skip
        jump = abs(later.pressure - before.pressure)
        if abs(jump - STANDARD_ATMOSPHERE) < 0.04 * STANDARD_ATMOSPHERE and jump > (
            0.05 * before.pressure
        ):
            raise JobError(
                what="one atmosphere away from the reading before it: was one gauge and the other "
                "absolute?",
                read=texts[i - 1],
                field=f"--reading {i}",
            )
    return found, with_barometer > 0


def _volume(text: str) -> tuple[float, float]:
    from sweatline.units import parse

    value = quantity(text, "volume", "--volume", low=1e-6, high=10.0)
    sd = parse(text, "volume").sd
    return value, sd if sd is not None else 0.1 * value


def _refrigerant(sources: Sources, name: str | None, job: Job | None) -> str | None:
    found = sources.refrigerant(name, None, job)
    if found is None and job is not None:
        raise click.UsageError(
            "the job lists several refrigerants: choose with --refrigerant "
            + ", ".join(job.refrigerants)
        )
    return found


def _limits(texts: tuple[str, ...], atmosphere: float) -> list[PressureLimit]:
    from sweatline.bench.tightness.request import PressureLimit
    from sweatline.errors import JobError

    found = []
    for text in texts:
        part, equals, value = text.partition("=")
        if not equals or not part.strip():
            raise JobError(
                what="a limit needs a part and a pressure", read=text[:60],
                allowed='write for example "evaporator=12 bar(g)"', field="--limit",
            )  # fmt: skip
        pressure = quantity(value.strip(), "pressure", "--limit", atmosphere=atmosphere)
        found.append(PressureLimit(part=part.strip(), pressure=pressure))
    return found


def _history(o: dict[str, Any], job: Job | None) -> History | None:
    if o["held"] is None:
        return None
    from sweatline.bench.tightness.request import History
    from sweatline.errors import JobError
    from sweatline.refrigerant.refrigerant import find
    from sweatline.units import parse

    name = o["held_refrigerant"] or (job.original.refrigerant if job else None)
    if name is None:
        raise JobError(
            what="which refrigerant was held?", allowed="name it", field="--held-refrigerant"
        )
    held = quantity(o["held"], "mass", "--held", low=1e-3, high=50.0)
    after = quantity(o["after"], "time", "--after", low=3600.0, high=2e9)
    left = None
    if o["left"] is not None:
        left = quantity(o["left"], "ratio", "--left", low=0.01, high=0.99)
    held_sd, after_sd = parse(o["held"], "mass").sd, parse(o["after"], "time").sd
    return History(
        refrigerant=find(name),
        held=held,
        held_sd=held_sd if held_sd is not None else 0.05 * held,
        after=after,
        after_sd=after_sd if after_sd is not None else 0.2 * after,
        left_share=left,
    )

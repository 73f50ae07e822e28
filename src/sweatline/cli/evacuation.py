"""Command `evacuation`: pump-down through real hoses, water, and the rise test."""

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
    from sweatline.bench.evacuation.evacuation import PumpAsked
    from sweatline.bench.evacuation.logged import LoggedVacuum
    from sweatline.bench.evacuation.pump_down import Segment
    from sweatline.bench.evacuation.rise_test import RiseReading
    from sweatline.job.model import Job

__all__ = ["evacuation"]


@click.command(short_help="Vacuum: how long, through which hoses, and what a rise means.")
@click.argument("job", metavar="[JOB]", required=False)
@log_option
@click.option("--pump", metavar="S", help='Speed of the pump, as "2 cfm".')
@click.option(
    "--ultimate",
    metavar="P",
    default="20 micron",
    show_default=True,
    help="What the pump reaches by itself.",
)
@click.option(
    "--low-hose",
    multiple=True,
    metavar="BORE, LENGTH",
    help='Tube between pump and low side, as "4.8 mm, 1.5 m"; again for each further one in the '
    "way, valve cores and fittings too.",
)
@click.option("--high-hose", multiple=True, metavar="BORE, LENGTH", help="Same, high side.")
@click.option("--low-volume", metavar="V", help="Inside volume of the low side; else the job's.")
@click.option("--high-volume", metavar="V", help="Of the high side.")
@click.option("--capillary", metavar="BORE, LENGTH", help="Between the sides; else the job's.")
@click.option("--compressor", metavar="NAME", help="Of the job, by name or number.")
@click.option("--target", metavar="P", default="500 micron", show_default=True)
@click.option("--gas-load", metavar="Q", help='What leaks and gasses, as "1e-4 mbar L/s".')
@click.option("--water", metavar="M", help='Water inside, as "2 g": how long to boil it off?')
@click.option("--room", metavar="T", help="Temperature of the machine; else the job's, or 20 °C.")
@click.option(
    "--rise",
    multiple=True,
    metavar="TIME, P",
    help='One look after the valve was shut, as "5 min, 420 micron". Give three or more.',
)
@click.option(
    "--pumped",
    multiple=True,
    metavar="TIME, P",
    help='One look at the gauge at the pump since it was started, as "40 min, 400 micron".',
)
@click.option("--volume", metavar="V", help="What was shut off; else both sides.")
@click.option("--refrigerant", metavar="NAME", help="To come, for the loss by a leak.")
@click.option(
    "--gauge-error", metavar="X", default="5 %", show_default=True, help="How well it repeats."
)
@click.option("--gauge-noise", metavar="P", default="10 micron", show_default=True)
@unit_options
@json_option
@click.pass_obj
def evacuation(session: Session, /, **o: Any) -> None:
    """Work out a pump-down, or read what a vacuum does once it is shut off.

    With --pump and hoses: how long until both sides are empty, from one side and from both, and
    how long water takes. With --rise: leak, moisture, gas from oil and walls, or tight, each with
    its chance, and what to do.

    From --log: the vacuum-gauge since the event `evacuating`, and its rise since the event
    `isolated`.
    """
    from sweatline.bench.evacuation.evacuation import EvacuationAsked
    from sweatline.bench.evacuation.evacuation import evacuation as answer
    from sweatline.cli.evacuation_words import print_evacuation
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import PROPERTY_KERNEL, waiting
    from sweatline.errors import JobError
    from sweatline.log.vacuum_start import start_refused
    from sweatline.units import Scale

    if o["pump"] is None and not o["rise"] and o["log_file"] is None:
        raise click.UsageError(
            "give --log, or --pump with its hoses, or --rise three times or more"
        )
    if 0 < len(o["rise"]) < 3:
        raise click.UsageError("a rise test needs --rise three times or more")
    job: Job | None = read_bench(session, o["job"]) if o["job"] is not None else None
    if job is not None and o["altitude"] is not None:
        raise click.UsageError("--altitude stands in the job file already")
    sources = Sources(o["log_file"])
    atmosphere = sources.atmosphere(job, o["altitude"])
    if job is None or o["units"] is not None:
        written = (o["pump"], *o["low_hose"], *o["rise"], o["target"], o["low_volume"])
        session.scale = Scale(sources.system(o["units"], *written), atmosphere)
    assert session.scale is not None
    low, high = _volumes(o, job)
    volume = low + high if low is not None and high is not None else None
    if o["volume"] is not None:
        volume = quantity(o["volume"], "volume", "--volume", low=1e-6, high=10.0)
    room = job.room.temperature.value if job else 293.15
    if o["room"] is not None:
        room = quantity(o["room"], "temperature", "--room", low=243.15, high=333.15)
    logged = _logged(sources, o)
    pumped = sources.pick(
        "pump-down",
        o["pumped"],
        lambda: tuple(_looks(o["pumped"], "--pumped")),
        logged.pumped if logged else None,
        (),
    )
    rise = sources.pick(
        "rise",
        o["rise"],
        lambda: tuple(_looks(o["rise"], "--rise")),
        logged.rise if logged else None,
        (),
    )
    if 0 < len(rise) < _FEWEST:
        rise = _too_few(sources, len(rise), alone=o["pump"] is None)
    elif not rise and o["pump"] is None:
        raise JobError(
            what="the log does not say that the pump was shut off since it was started, so there "
            "is no rise to read",
            allowed="shut the valve, record `sweatline log event LOG isolated`, and read the "
            "vacuum-gauge; or give --pump with its hoses",
            path=o["log_file"] or "",
        )
    asked = EvacuationAsked(
        atmosphere=atmosphere,
        room=room,
        target=quantity(o["target"], "absolute pressure", "--target", low=0.1, high=5e4),
        refrigerant=sources.refrigerant(o["refrigerant"], None, job),
        pump=_pump(o, job, low, high),
        water=quantity(o["water"], "mass", "--water", low=1e-6, high=1.0) if o["water"] else None,
        pumped=pumped,
        rise=rise,
        volume=volume,
        gauge_share=_error(sources, o, "gauge_error", logged),
        gauge_floor=_error(sources, o, "gauge_noise", logged),
        never_start=start_refused(sources.book.held) if sources.book is not None else None,
        account=sources.account,
        job=job,
    )
    with waiting("working out the vacuum", kernel=PROPERTY_KERNEL):
        record = answer(asked)
    if o["as_json"]:
        print_json(record)
    else:
        print_evacuation(record, session.scale)


def _volumes(o: dict[str, Any], job: Job | None) -> tuple[float | None, float | None]:
    found: list[float | None] = [None, None]
    if job is not None:
        from sweatline.assembly.build import choose_compressor
        from sweatline.assembly.inside_volume import circuit_pieces, side_volume

        pieces = circuit_pieces(job, choose_compressor(job, o["compressor"]))
        found = [side_volume(pieces, "low")[0], side_volume(pieces, "high")[0]]
    for i, name in enumerate(("low_volume", "high_volume")):
        if o[name] is not None:
            option = "--" + name.replace("_", "-")
            found[i] = quantity(o[name], "volume", option, low=1e-6, high=10.0)
    return found[0], found[1]


def _segments(texts: tuple[str, ...], option: str) -> list[Segment]:
    from sweatline.bench.evacuation.pump_down import Segment

    found = []
    for text in texts:
        fields = split_fields(text, option, ("bore", "length"))
        found.append(
            Segment(
                bore=quantity(fields["bore"], "bore", option, low=0.1e-3, high=0.1),
                length=quantity(fields["length"], "length", option, low=0.5e-3, high=100.0),
            )
        )
    return found


def _pump(
    o: dict[str, Any], job: Job | None, low: float | None, high: float | None
) -> PumpAsked | None:
    from sweatline.bench.evacuation.evacuation import PumpAsked
    from sweatline.errors import JobError

    if o["pump"] is None:
        return None
    low_hose = _segments(o["low_hose"], "--low-hose")
    high_hose = _segments(o["high_hose"], "--high-hose")
    if not low_hose and not high_hose:
        raise click.UsageError("a pump without a hose: give --low-hose, --high-hose or both")
    for volume, option in ((low, "--low-volume"), (high, "--high-volume")):
        if volume is None:
            raise JobError(
                what="how long a pump takes depends on the inside volume",
                allowed="give it, or a job file from which it follows",
                field=option,
            )
    assert low is not None
    assert high is not None
    if o["capillary"] is not None:
        capillary = _segments((o["capillary"],), "--capillary")[0]
    elif job is not None:
        capillary = _fitted(job)
    else:
        raise JobError(
            what="the capillary joins the sides, and must be known",
            allowed='write its bore and length, as "0.8 mm, 3 m"',
            field="--capillary",
        )
    return PumpAsked(
        speed=quantity(o["pump"], "volume flow", "--pump", low=1e-6, high=1.0),
        ultimate=quantity(o["ultimate"], "absolute pressure", "--ultimate", low=1e-3, high=5e3),
        low_hose=low_hose,
        high_hose=high_hose,
        capillary=capillary,
        low_volume=low,
        high_volume=high,
        gas_load=quantity(o["gas_load"], "gas throughput", "--gas-load", low=0.0, high=10.0)
        if o["gas_load"] is not None
        else 0.0,
    )


def _fitted(job: Job) -> Segment:
    """Capillary in the machine, or the first on the shelf."""
    from sweatline.bench.evacuation.pump_down import Segment

    stock = next((c for c in job.capillaries if c.fitted), job.capillaries[0])
    length = stock.length.value if stock.length is not None else 2.0
    return Segment(bore=stock.bore.value, length=length)


_FEWEST = 3  # readings of a rise


def _logged(sources: Sources, o: dict[str, Any]) -> LoggedVacuum | None:
    """The evacuation of the log; without it only what was typed counts, if that is enough."""
    from sweatline.bench.evacuation.logged import vacuum_in
    from sweatline.errors import JobError

    if sources.book is None:
        return None
    try:
        return vacuum_in(sources.book)
    except JobError as error:
        if o["pump"] is None and not o["rise"]:
            raise
        sources.notes.append(f"nothing from the log: {error.what}")
        return None


def _too_few(sources: Sources, count: int, *, alone: bool) -> tuple[RiseReading, ...]:
    """A rise that has only begun: nothing is said of it yet."""
    from sweatline.errors import JobError

    what = (
        f"a rise test needs three looks at the vacuum gauge or more, and since it was shut off the "
        f"log has {count}"
    )
    if alone:
        raise JobError(what=what, allowed="read on", path=sources.account.path or "")
    sources.notes.append(f"{what}: read on")
    return ()


def _error(sources: Sources, o: dict[str, Any], name: str, logged: LoggedVacuum | None) -> float:
    """How well the vacuum gauge repeats: its share, or its floor in pascal."""
    share = name == "gauge_error"
    found = None
    if logged is not None:
        found = logged.gauge_share if share else logged.gauge_floor
    if share:
        usual = quantity(o[name], "ratio", "--gauge-error", low=0.001, high=0.5)
    else:
        usual = quantity(o[name], "absolute pressure", "--gauge-noise", low=0.01, high=1e4)
    return sources.pick(
        "gauge's error" if share else "gauge's noise",
        o[name] if typed(name) else None,
        lambda: usual,
        found,
        usual,
        why=o[name],
    )


def _looks(texts: tuple[str, ...], option: str) -> list[RiseReading]:
    from sweatline.bench.evacuation.rise_test import RiseReading
    from sweatline.errors import JobError

    found: list[RiseReading] = []
    for i, text in enumerate(texts, 1):
        where = f"{option} {i}"
        fields = split_fields(text, where, ("time", "pressure"))
        time = quantity(fields["time"], "time", where, low=0.0, high=3e6)
        if found and time <= found[-1].time:
            raise JobError(
                what="not later than the reading before it", read=text,
                allowed="give readings in the order of time", field=where,
            )  # fmt: skip
        found.append(
            RiseReading(
                time=time,
                pressure=quantity(
                    fields["pressure"], "absolute pressure", where, low=0.01, high=1.2e5
                ),
            )
        )
    return found

"""Command `evacuation`: pump-down through real hoses, water, and the rise test."""

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
    from sweatline.bench.pump_down import Segment
    from sweatline.bench.rise_test import RiseReading
    from sweatline.cli.speech import Scale
    from sweatline.job.model import Job
    from sweatline.study.bench_records import EvacuationRecord, RiseRecord
    from sweatline.study.evacuation import PumpAsked

__all__ = ["evacuation"]


@click.command(short_help="Vacuum: how long, through which hoses, and what a rise means.")
@click.argument("job", metavar="[JOB]", required=False)
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
    """
    from sweatline.cli.speech import Scale
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import PROPERTY_KERNEL, waiting
    from sweatline.refrigerant.refrigerant import find
    from sweatline.study.evacuation import EvacuationAsked
    from sweatline.study.evacuation import evacuation as answer

    if o["pump"] is None and not o["rise"]:
        raise click.UsageError("give --pump with its hoses, or --rise three times or more")
    if 0 < len(o["rise"]) < 3:
        raise click.UsageError("a rise test needs --rise three times or more")
    job: Job | None = read_bench(session, o["job"]) if o["job"] is not None else None
    if job is not None and o["altitude"] is not None:
        raise click.UsageError("--altitude stands in the job file already")
    atmosphere = job.place.atmospheric_pressure if job else site_atmosphere(o["altitude"])
    if job is None or o["units"] is not None:
        written = (o["pump"], *o["low_hose"], *o["rise"], o["target"], o["low_volume"])
        session.scale = Scale(written_system(*written, wanted=o["units"]), atmosphere)
    assert session.scale is not None
    low, high = _volumes(o, job)
    volume = low + high if low is not None and high is not None else None
    if o["volume"] is not None:
        volume = quantity(o["volume"], "volume", "--volume", low=1e-6, high=10.0)
    room = job.room.temperature.value if job else 293.15
    if o["room"] is not None:
        room = quantity(o["room"], "temperature", "--room", low=243.15, high=333.15)
    asked = EvacuationAsked(
        atmosphere=atmosphere,
        room=room,
        target=quantity(o["target"], "absolute pressure", "--target", low=0.1, high=5e4),
        refrigerant=find(o["refrigerant"]) if o["refrigerant"] is not None else None,
        pump=_pump(o, job, low, high),
        water=quantity(o["water"], "mass", "--water", low=1e-6, high=1.0) if o["water"] else None,
        rise=_rise(o["rise"]),
        volume=volume,
        gauge_share=quantity(o["gauge_error"], "ratio", "--gauge-error", low=0.001, high=0.5),
        gauge_floor=quantity(
            o["gauge_noise"], "absolute pressure", "--gauge-noise", low=0.01, high=1e4
        ),
        job=job,
    )
    with waiting("working out the vacuum", kernel=PROPERTY_KERNEL):
        record = answer(asked)
    if o["as_json"]:
        print_json(record)
    else:
        _print(record, session.scale)


def _volumes(o: dict[str, Any], job: Job | None) -> tuple[float | None, float | None]:
    found: list[float | None] = [None, None]
    if job is not None:
        from sweatline.study.inside_volume import circuit_pieces, side_volume
        from sweatline.study.questions import choose_compressor

        pieces = circuit_pieces(job, choose_compressor(job, o["compressor"]))
        found = [side_volume(pieces, "low")[0], side_volume(pieces, "high")[0]]
    for i, name in enumerate(("low_volume", "high_volume")):
        if o[name] is not None:
            option = "--" + name.replace("_", "-")
            found[i] = quantity(o[name], "volume", option, low=1e-6, high=10.0)
    return found[0], found[1]


def _segments(texts: tuple[str, ...], option: str) -> list[Segment]:
    from sweatline.bench.pump_down import Segment

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
    from sweatline.errors import JobError
    from sweatline.study.evacuation import PumpAsked

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
    from sweatline.bench.pump_down import Segment

    stock = next((c for c in job.capillaries if c.fitted), job.capillaries[0])
    length = stock.length.value if stock.length is not None else 2.0
    return Segment(bore=stock.bore.value, length=length)


def _rise(texts: tuple[str, ...]) -> list[RiseReading]:
    from sweatline.bench.rise_test import RiseReading
    from sweatline.errors import JobError

    found: list[RiseReading] = []
    for i, text in enumerate(texts, 1):
        where = f"--rise {i}"
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


def _print(record: EvacuationRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_cautions, print_notes
    from sweatline.cli.terminal import heading, listing, paragraph

    target = scale.show(record.target_Pa, "absolute pressure")
    if record.connections:
        heading(f"From the atmosphere to {target} on both sides")
        names = {"both": "both sides", "low": "low side only", "high": "high side only"}
        rows = []
        for c in record.connections:
            if c.reached_after_s is None:
                said = (
                    "never: the worse side ends at "
                    f"{scale.show(c.ultimate_Pa, 'absolute pressure')} after thirty days"
                )
            else:
                said = (
                    f"{scale.show(c.reached_after_s, 'time')}; the gauge at the pump then shows "
                    f"{scale.show(c.gauge_when_reached_Pa, 'absolute pressure', 2)}; ends at "
                    f"{scale.show(c.ultimate_Pa, 'absolute pressure', 2)}"
                )
            rows.append((names[c.connected] + (" (asked)" if c.asked else ""), said))
        listing(rows)
        if record.sweeps is not None:
            paragraph(
                "From one side the other is drawn through the capillary. Half an hour each, "
                f"broken with dry nitrogen, {record.sweeps} times leaves as little air.",
                indent=2,
            )
    if record.water:
        heading(f"{scale.show(record.water[0].water_kg, 'mass')} of water")
        listing(
            (
                f"in a {w.place}",
                (scale.show(w.time_s, "time", 2) if w.time_s is not None else "never ends")
                + f"; the water is at {scale.show(w.temperature_K, 'temperature')}"
                + (", frozen: let it thaw under nitrogen, and warm the place" if w.freezes else "")
                + f"; the gauge at the pump shows {scale.show(w.at_pump_Pa, 'absolute pressure')}"
                + ("; heat from the room limits it" if w.limited_by_heat else ""),
            )
            for w in record.water
        )
    if record.rise is not None:
        _print_rise(record.rise, record, scale)
    print_notes(record.notes)
    heading("The compressor")
    paragraph(f"Never start it now: {record.never_start}.", indent=2)
    print_cautions(record.cautions)


def _print_rise(rise: RiseRecord, record: EvacuationRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing, paragraph

    heading(
        f"Shut off at {scale.show(rise.first_Pa, 'absolute pressure')}, "
        f"{scale.show(rise.last_Pa, 'absolute pressure')} after "
        f"{scale.show(rise.duration_s, 'time', 2)}"
    )
    listing(
        (f"{100 * chance:3.0f} %", name)
        for name, chance in (
            ("nothing comes in: tight and dry", rise.chance_none),
            ("a leak: climbs steadily", rise.chance_leak),
            ("moisture: levels off towards the vapour pressure of water", rise.chance_moisture),
            ("gas out of oil and walls: climbs ever more slowly", rise.chance_outgassing),
        )
    )
    paragraph(rise.what_to_do[:1].upper() + rise.what_to_do[1:] + ".", indent=2)
    rows = []
    if rise.decide_after_s is not None and rise.likeliest == "undecided":
        rows.append(
            ("decides", f"a reading {scale.show(rise.decide_after_s, 'time', 2)} after shutting")
        )
    if rise.chance_moisture > 0.1 and rise.plateau_Pa is not None:
        rows.append(
            ("if moisture", f"it stops near {scale.show(rise.plateau_Pa, 'absolute pressure', 2)}")
        )
    if rise.chance_leak > 0.1 and rise.air_Pa_m3_per_s is not None:
        said = f"draws in {scale.band(rise.air_Pa_m3_per_s, 'gas throughput', 2)} of air"
        if rise.loss_kg_per_s is not None:
            said += (
                f", and would lose {scale.band(rise.loss_kg_per_s, 'leak rate', 2)} of "
                f"{record.refrigerant} at rest"
            )
        rows.append(("if a leak", said + ", nine tenths"))
    words = {True: "met", False: "NOT met", None: "not read so long"}
    rows += [(words[c.met], f"at most {c.name} ({c.source}; {c.status})") for c in rise.criteria]
    listing(rows)

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
    site_atmosphere,
    split_fields,
    unit_options,
    written_system,
)
from sweatline.constants import STANDARD_ATMOSPHERE

if TYPE_CHECKING:
    from sweatline.bench.pressure_hold import HoldReading
    from sweatline.cli.speech import Scale
    from sweatline.job.model import Job
    from sweatline.study.bench_records import (
        HistoryRecord,
        HoldPlanRecord,
        HoldRecord,
        MeasuredLeakRecord,
        SearchRecord,
        TightnessRecord,
    )
    from sweatline.study.inside_volume import CircuitPiece
    from sweatline.study.tightness_asked import History, PressureLimit

__all__ = ["tightness"]


@click.command(short_help="Pressure hold: how tight, how long to hold, where to look.")
@click.argument("job", metavar="[JOB]", required=False)
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
    """
    from sweatline.bench.pressure_hold import HoldInstruments
    from sweatline.cli.speech import Scale
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import PROPERTY_KERNEL, waiting
    from sweatline.study.inside_volume import circuit_pieces, total_volume
    from sweatline.study.questions import choose_compressor
    from sweatline.study.tightness import tightness as answer
    from sweatline.study.tightness_asked import Asked, job_limits

    if not (o["readings"] or o["pressure"] or o["held"] or o["measured"]):
        raise click.UsageError("give --reading twice, or --pressure, or --held with --after")
    if len(o["readings"]) == 1:
        raise click.UsageError("one reading is no hold: give --reading twice or more")
    if (o["held"] is None) != (o["after"] is None):
        raise click.UsageError("--held and --after belong together")
    job: Job | None = read_bench(session, o["job"]) if o["job"] is not None else None
    if job is not None and o["altitude"] is not None:
        raise click.UsageError("--altitude stands in the job file already")
    atmosphere = job.place.atmospheric_pressure if job else site_atmosphere(o["altitude"])
    written = (*o["readings"], o["pressure"], o["volume"], o["held"], *o["limits"])
    if job is None or o["units"] is not None:
        session.scale = Scale(written_system(*written, wanted=o["units"]), atmosphere)
    assert session.scale is not None
    readings, barometer = _readings(o["readings"], atmosphere)
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
    asked = Asked(
        gas=o["gas"].lower(),
        refrigerant=_refrigerant(o["refrigerant"], job),
        rest_temperature=rest,
        atmosphere=atmosphere,
        volume=volume,
        volume_sd=volume_sd,
        readings=readings,
        instruments=HoldInstruments(
            gauge_repeats=quantity(
                o["gauge_error"], "pressure difference", "--gauge-error", low=1.0, high=1e6
            ),
            gauge_scale=quantity(o["gauge_scale"], "ratio", "--gauge-scale", low=0.0, high=0.2),
            thermometer=quantity(
                o["thermometer_error"], "temperature difference", "--thermometer-error",
                low=0.001, high=20.0,
            ),
            **({"barometer": 0.0} if barometer or o["sealed_gauge"] else {}),
        ),
        pressure=quantity(o["pressure"], "pressure", "--pressure", atmosphere=atmosphere)
        if o["pressure"] is not None
        else None,
        measured=quantity(
            o["measured"], "gas throughput", "--measured", low=1e-14, high=10.0
        )
        if o["measured"] is not None
        else None,
        see=quantity(o["see"], "leak rate", "--see", low=3e-15, high=1e-3),
        limits=[*(job_limits(job) if job else ()), *_limits(o["limits"], atmosphere)],
        history=_history(o, job),
        unit_system=session.scale.system,
        pieces=pieces,
        job=job,
    )  # fmt: skip
    with waiting("working out the leak", kernel=PROPERTY_KERNEL):
        record = answer(asked)
    if o["as_json"]:
        print_json(record)
    else:
        _print(record, session.scale)


def _readings(texts: tuple[str, ...], atmosphere: float) -> tuple[list[HoldReading], bool]:
    """Readings in order, and whether all have a barometer."""
    from sweatline.bench.pressure_hold import HoldReading
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


def _refrigerant(name: str | None, job: Job | None) -> str | None:
    from sweatline.refrigerant.refrigerant import find

    if name is not None:
        return find(name)
    if job is not None and len(job.refrigerants) == 1:
        return job.refrigerants[0]
    if job is not None:
        raise click.UsageError(
            "the job lists several refrigerants: choose with --refrigerant "
            + ", ".join(job.refrigerants)
        )
    return None


def _limits(texts: tuple[str, ...], atmosphere: float) -> list[PressureLimit]:
    from sweatline.errors import JobError
    from sweatline.study.tightness_asked import PressureLimit

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
    from sweatline.errors import JobError
    from sweatline.refrigerant.refrigerant import find
    from sweatline.study.tightness_asked import History
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


def _print(record: TightnessRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_cautions, print_notes
    from sweatline.cli.terminal import paragraph

    if record.volume_m3 is not None:
        paragraph(
            f"Inside volume {scale.show(record.volume_m3, 'volume')} ± "
            f"{scale.show(record.volume_sd_m3, 'volume', 2)}; weakest part: "
            + (
                f"{record.limit_part}, {scale.show(record.limit_pressure_Pa, 'pressure')}."
                if record.limit_pressure_Pa is not None
                else "nobody has said."
            )
        )
    if record.hold is not None:
        _print_hold(record.hold, record, scale)
    if record.measured is not None:
        _print_measured(record.measured, record, scale)
    if record.plan is not None:
        _print_plan(record.plan, record, scale)
    if record.history is not None:
        _print_history(record.history, scale)
    if record.methods:
        _print_methods(record)
    if record.search is not None:
        _print_search(record.search, scale)
    print_notes(record.notes)
    print_cautions(record.cautions)


def _print_hold(hold: HoldRecord, record: TightnessRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing, paragraph

    heading(f"{hold.gas.capitalize()} held for {scale.show(hold.duration_s, 'time')}")
    if hold.rose:
        verdict = (
            "The gas seems to have grown, by more than the errors allow: the gas warmed where the "
            "thermometer did not see it, the gauge moved, or the weather did. No verdict; read on."
        )
    elif hold.settling:
        verdict = (
            "The loss slows down by more than the errors allow: gas and walls are still settling. "
            "Leave out the first readings and read on before believing a leak."
        )
    elif hold.found:
        verdict = "It leaks: five tight machines in a hundred would show as much."
    else:
        verdict = "No leak seen. That is not the same as none: see what this hold could have seen."
    paragraph(verdict, indent=2)
    rows = [
        (
            "a tight machine",
            f"would show {scale.show(hold.expected_last_pressure_Pa, 'pressure', 4)} at the last "
            f"temperature; read {scale.show(hold.last_pressure_Pa, 'pressure', 4)}",
        ),
        (
            "leak of the gas",
            f"{scale.show(hold.rate_Pa_m3_per_s, 'gas throughput', 2)} ± "
            f"{scale.show(hold.rate_sd_Pa_m3_per_s, 'gas throughput', 2)} at "
            f"{scale.show(hold.pressure_Pa, 'pressure')}",
        ),
    ]
    rest = scale.show(record.rest_temperature_K, "temperature")
    if hold.loss_kg_per_s is not None:
        band = scale.band(hold.loss_kg_per_s, "leak rate", 2)
        if hold.found:
            rows.append((f"{record.refrigerant}", f"{band} at rest at {rest}, nine tenths"))
            rows.append(
                (
                    "how it gets out",
                    f"{hold.regime}; one round hole would be "
                    f"{scale.show(hold.bore_m, 'roughness', 2)} wide; below a liquid level it "
                    f"loses up to {hold.liquid_factor:.0f} times as much",
                )
            )
        else:
            most = scale.show(hold.loss_kg_per_s.high, "leak rate", 2)
            rows.append((f"{record.refrigerant}", f"at most {most} at rest at {rest} (95 %)"))
    elif record.refrigerant is None:
        rows.append(("refrigerant", "not named, so no loss in mass"))
    smallest = scale.show(hold.smallest_seen_Pa_m3_per_s, "gas throughput", 2)
    if hold.smallest_seen_kg_per_s is not None:
        smallest += f", {scale.show(hold.smallest_seen_kg_per_s, 'leak rate', 2)} of refrigerant"
    rows.append(("smallest leak seen", f"{smallest} (by 95 of 100 such holds)"))
    listing(rows)


def _print_measured(measured: MeasuredLeakRecord, record: TightnessRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    heading(
        f"{scale.show(measured.rate_Pa_m3_per_s, 'gas throughput', 2)} of {measured.gas} under "
        f"{scale.show(measured.pressure_Pa, 'pressure')}"
    )
    listing(
        [
            (
                f"{record.refrigerant}",
                f"{scale.band(measured.loss_kg_per_s, 'leak rate', 2)} at rest at "
                f"{scale.show(record.rest_temperature_K, 'temperature')}, nine tenths of the "
                f"shapes a leak may have; {measured.regime}",
            )
        ]
    )


def _print_plan(plan: HoldPlanRecord, record: TightnessRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    heading(
        f"To see {scale.show(plan.see_kg_per_s, 'leak rate')} of {record.refrigerant} "
        f"with {scale.show(plan.pressure_Pa, 'pressure')}"
    )
    far = "more than sixty days: smaller volume, finer gauge, or another way of looking"
    rows = [
        ("leak of the gas", scale.show(plan.rate_Pa_m3_per_s, "gas throughput", 2)),
        ("hold", scale.show(plan.hold_s, "time", 2) if plan.hold_s is not None else far),
    ]
    if plan.hold_s != plan.hold_barometer_read_s:
        quick = plan.hold_barometer_read_s
        rows.append(
            ("with a barometer", scale.show(quick, "time", 2) if quick is not None else far)
        )
    listing(rows)


def _print_history(history: HistoryRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    end = "empty" if history.left_share is None else f"down to {100 * history.left_share:.0f} %"
    heading(
        f"{scale.show(history.held_kg, 'mass')} of {history.refrigerant}, {end} after "
        f"{scale.show(history.after_s, 'time', 2)}"
    )
    rows = [
        (
            w.way if w.way == "liquid" else f"gas, {w.way}",
            f"{scale.show(w.rate_kg_per_s, 'leak rate', 2)} at first; last liquid gone after "
            f"{scale.show(w.liquid_gone_after_s, 'time', 2)}",
        )
        for w in history.ways
    ]
    rows.append(
        ("gas, all told", f"{scale.band(history.rate_kg_per_s, 'leak rate', 2)}, nine tenths")
    )
    listing(rows)


def _print_methods(record: TightnessRecord) -> None:
    from sweatline.cli.terminal import heading, listing

    heading("Which way of looking could find this leak")
    listing(
        (f"{100 * m.chance:3.0f} %", f"{m.name} ({m.note}; {m.status})") for m in record.methods
    )


def _print_search(search: SearchRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing, paragraph

    heading("If it leaks: dividing the circuit")
    paragraph(
        f"On average {search.expected_holds:.1f} holds and {search.expected_cuts:.1f} cuts find "
        f"the piece, at worst {search.worst_holds} holds; the pieces in turn, the one with most "
        f"joints first, take {search.one_by_one:.1f} and {search.one_by_one_cuts:.1f}. Close off "
        "at the dividing line, hold the part named first, and go on with the half that "
        "leaks. When neither half leaks, it was the joint that was opened; when both do, there "
        "are two. End with bubble solution at the joints of the last piece.",
        indent=2,
    )
    rows = []
    for step in search.steps:
        time = f", {scale.show(step.hold_s, 'time', 2)}" if step.hold_s is not None else ""
        rows.append(
            (
                "  " * step.depth + "hold",
                f"{', '.join(step.hold)} ({100 * step.chance:.0f} %{time}); else "
                f"{', '.join(step.against)}",
            )
        )
    listing(rows)

"""Command `tightness`: a pressure test read or planned, the past of a leak, where to look."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Final

import click

from sweatline.cli.options import Session, read_bench
from sweatline.cli.quantity import Quantity, Written
from sweatline.cli.sources import (
    Sources,
    bench_options,
    fields,
    job_from_shelf,
    naming_options,
    quantity_rows,
    with_error,
)
from sweatline.cli.terminal import heading, listing, paragraph
from sweatline.constants import STANDARD_ATMOSPHERE

if TYPE_CHECKING:
    from sweatline.bench.tightness.leak_history import History, Past
    from sweatline.bench.tightness.leak_search import Method, SearchPlan
    from sweatline.bench.tightness.logged import LoggedHold
    from sweatline.bench.tightness.pressure_hold import HoldReading
    from sweatline.bench.tightness.tightness import (
        PressureLimit,
        TestGas,
        TightnessAnswer,
    )
    from sweatline.job.model import Job
    from sweatline.units import Scale

__all__ = ["tightness"]

_LIKELY: Final = "likely range, 9 in 10"
_LOOK: Final = {
    "time": Quantity("time", low=0.0, high=3.2e7),
    "pressure": Quantity("pressure"),
    "temperature": Quantity("temperature", low=243.15, high=333.15),
}
_BAROMETER: Final = {"barometer": Quantity("absolute pressure", low=4e4, high=1.1e5)}
_USUALLY_FINDS: Final = 0.5  # chance from which a way of looking is named first


@click.command(short_help="Pressure test: is it tight, how long to test, where to look.")
@job_from_shelf
@click.option(
    "--reading",
    "readings",
    multiple=True,
    metavar="R",
    help='One look at the gauge, as "0 h, 10 bar(g), 21 C" or with the barometer as a fourth, '
    '"24 h, 9.9 bar(g), 20 C, 1009 hPa abs". Give two or more.',
)
@click.option(
    "--pressure",
    type=Quantity("pressure"),
    metavar="P",
    help="Of a test to come: how long must it last?",
)
@click.option(
    "--measured",
    type=Quantity("gas throughput", low=1e-14, high=10.0),
    metavar="Q",
    help="A leak rate of --gas under --pressure, read by an instrument: what will it lose?",
)
@click.option(
    "--see",
    type=Quantity("leak rate", low=3e-15, high=1e-3),
    metavar="RATE",
    default="5 g/yr",
    show_default=True,
    help="Leak that a test to come should show.",
)
@click.option("--refrigerant", metavar="NAME", help="What the machine will hold.")
@click.option(
    "--gas",
    type=click.Choice(["nitrogen", "helium"], case_sensitive=False),
    help="In the circuit; nitrogen where nobody says it. Never oxygen or compressed air.",
)
@click.option(
    "--volume",
    type=Quantity("volume", low=1e-6, high=10.0),
    metavar="V",
    help='Inside volume, as "2.8 ± 0.3 L"; else from the job.',
)
@click.option("--compressor", metavar="NAME", help="Of the job, by name or number.")
@click.option(
    "--limit",
    "limits",
    multiple=True,
    metavar="PART=P",
    help='What a part stands, as "evaporator=12 bar(g)"; may be given again.',
)
@click.option(
    "--held",
    type=Quantity("mass", low=1e-3, high=50.0),
    metavar="M",
    help="The past: mass that the machine held when full.",
)
@click.option("--held-refrigerant", metavar="NAME", help="Which it was; else the job's original.")
@click.option(
    "--after",
    type=Quantity("time", low=3600.0, high=2e9),
    metavar="TIME",
    help='And when it was weak or empty, as "18 months".',
)
@click.option(
    "--left",
    type=Quantity("ratio", low=0.01, high=0.99),
    metavar="SHARE",
    help='Left then, as "70 %" of a weak one; else empty.',
)
@click.option(
    "--rest-temperature",
    type=Quantity("temperature", low=243.15, high=333.15),
    metavar="T",
    help="Of the machine at rest; else the room's.",
)
@click.option(
    "--gauge-error",
    type=Quantity("pressure difference", low=1.0, high=1e6),
    metavar="DP",
    default="2 kPa",
    show_default=True,
    help="How well the gauge repeats, reading included; one standard deviation.",
)
@click.option(
    "--gauge-scale",
    type=Quantity("ratio", low=0.0, high=0.2),
    metavar="X",
    default="1 %",
    show_default=True,
    help="Its calibration error.",
)
@click.option(
    "--thermometer-error",
    type=Quantity("temperature difference", low=0.001, high=20.0),
    metavar="DT",
    default="0.2 K",
    show_default=True,
    help="Likewise.",
)
@click.option("--sealed-gauge", is_flag=True, help="Gauge that does not feel the weather.")
@bench_options
@click.pass_obj
def tightness(
    session: Session,
    *,
    job: str | None,
    log_file: str | None,
    readings: tuple[str, ...],
    pressure: Written | None,
    measured: Written | None,
    see: Written,
    refrigerant: str | None,
    gas: str | None,
    volume: Written | None,
    compressor: str | None,
    limits: tuple[str, ...],
    held: Written | None,
    held_refrigerant: str | None,
    after: Written | None,
    left: Written | None,
    rest_temperature: Written | None,
    gauge_error: Written,
    gauge_scale: Written,
    thermometer_error: Written,
    sealed_gauge: bool,
    altitude: str | None,
    units: str | None,
    details: bool,
    as_json: bool,
) -> None:
    """Read a pressure test with dry nitrogen or helium, or plan one.

    Says the leak in g/yr of the refrigerant to come with its range, and the smallest leak the test
    could have shown. With --held and --after: what the past implies, and which ways of looking
    could find such a leak. With a job file: how to divide the circuit so that the search ends.

    From --log: the readings of suction-gauge or head-gauge with those of circuit (its temperature)
    since the event `pressurised`, barometer if it was read, the gas, and the instruments' errors.
    """
    from sweatline.bench.tightness.logged import LoggedHold
    from sweatline.bench.tightness.pressure_hold import HoldInstruments
    from sweatline.bench.tightness.tightness import TightnessRequest
    from sweatline.bench.tightness.tightness import tightness as answer
    from sweatline.cli.waiting import PROPERTY_KERNEL, waiting

    typed = any((readings, pressure, held, measured))
    if not (typed or log_file):
        raise click.UsageError(
            "give --log, or --reading twice, or --pressure, or --held with --after"
        )
    if len(readings) == 1:
        raise click.UsageError("one reading is no test: give --reading twice or more")
    if (held is None) != (after is None):
        raise click.UsageError("--held and --after belong together")
    work = read_bench(session, job) if job is not None else None
    sources = Sources(
        session, work, log_file=log_file, altitude=altitude, units=units,
        written=(*readings, pressure, volume, held, *limits),
    )  # fmt: skip
    zero = sources.atmosphere
    hold = LoggedHold() if readings or measured else _logged(sources, typed)
    told, barometer = _readings(readings, zero)
    looks = sources.pick("hold", readings, lambda: told, hold.readings, ())
    where = "--reading" if readings else "look at the gauge, number"
    barometer = barometer or hold.barometer
    sources.notes.extend(hold.notes)
    known = with_error(volume, share=0.1) if volume is not None else (None, None)
    instruments = HoldInstruments(
        gauge_repeats=sources.error("gauge's error", gauge_error, hold.gauge_error),
        gauge_scale=sources.error("gauge's scale", gauge_scale, hold.gauge_scale),
        thermometer=sources.error("thermometer's error", thermometer_error, hold.thermometer_error),
        **({"barometer": 0.0} if barometer or sealed_gauge else {}),
    )
    named: TestGas = "helium" if gas is not None and gas.lower() == "helium" else "nitrogen"
    request = TightnessRequest(
        gas=sources.pick(
            "gas", gas, lambda: named, hold.gas, named,
            why="nitrogen: no gas was named",
        ),
        refrigerant=_refrigerant(sources, refrigerant),
        job=work,
        compressor=compressor,
        rest_temperature=rest_temperature.si() if rest_temperature is not None else None,
        atmosphere=zero,
        volume=known[0],
        volume_sd=known[1],
        readings=looks,
        instruments=instruments,
        pressure=pressure.si(zero) if pressure is not None else None,
        measured=measured.si() if measured is not None else None,
        see=see.si(),
        limits=[_limit(text, zero) for text in limits],
        past=_past(work, held, after, left, held_refrigerant),
        unit_system=sources.scale.system,
    )  # fmt: skip
    options = {"volume": "--volume", "refrigerant": "--refrigerant", "pressure": "--pressure",
               "measured": "--measured"}  # fmt: skip
    options |= {f"reading {i}": f"{where} {i}" for i in range(1, len(looks) + 1)}
    with waiting("working out the leak", kernel=PROPERTY_KERNEL), naming_options(options):
        found = answer(request)
    sources.show(found, command="tightness", as_json=as_json, details=details, body=_print)


def _logged(sources: Sources, typed: bool) -> LoggedHold:
    """The pressure test of the log; what was typed counts by itself where it has none."""
    from sweatline.bench.tightness.logged import LoggedHold, hold_in
    from sweatline.errors import JobError

    if sources.book is None:
        return LoggedHold()
    try:
        return hold_in(sources.book)
    except JobError as error:
        if not typed:
            raise
        sources.notes.append(f"no pressure test from the log: {error.what}")
        return LoggedHold()


def _readings(texts: tuple[str, ...], zero: float) -> tuple[tuple[HoldReading, ...], bool]:
    """Readings in order, and whether all have a barometer."""
    from sweatline.bench.tightness.pressure_hold import HoldReading
    from sweatline.errors import JobError

    told = [fields(text, f"--reading {i}", _LOOK, _BAROMETER) for i, text in enumerate(texts, 1)]
    with_barometer = sum("barometer" in look for look in told)
    found = tuple(
        HoldReading(
            time=look["time"].si(),
            pressure=look["pressure"].si(look["barometer"].si() if "barometer" in look else zero),
            temperature=look["temperature"].si(),
        )
        for look in told
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


def _refrigerant(sources: Sources, name: str | None) -> str | None:
    found = sources.refrigerant(name)
    if found is None and sources.job is not None:
        raise click.UsageError(
            "the job lists several refrigerants: choose with --refrigerant "
            + ", ".join(sources.job.refrigerants)
        )
    return found


def _limit(text: str, zero: float) -> PressureLimit:
    from sweatline.bench.tightness.tightness import PressureLimit
    from sweatline.errors import JobError

    part, equals, value = text.partition("=")
    if not equals or not part.strip():
        raise JobError(
            what="a limit needs a part and a pressure", read=text[:60],
            allowed='write for example "evaporator=12 bar(g)"', field="--limit",
        )  # fmt: skip
    limit = Written(text=value.strip(), kind="pressure", option="--limit")
    return PressureLimit(part=part.strip(), pressure=limit.si(zero))


def _past(
    job: Job | None,
    held: Written | None,
    after: Written | None,
    left: Written | None,
    refrigerant: str | None,
) -> Past | None:
    if held is None or after is None:
        return None
    from sweatline.bench.tightness.leak_history import Past
    from sweatline.errors import JobError
    from sweatline.refrigerant.refrigerant import find

    name = refrigerant or (job.original.refrigerant if job else None)
    if name is None:
        raise JobError(
            what="which refrigerant was held?", allowed="name it", field="--held-refrigerant"
        )
    mass, mass_sd = with_error(held, share=0.05)
    time, time_sd = with_error(after, share=0.2)
    return Past(
        refrigerant=find(name),
        held=mass,
        held_sd=mass_sd,
        after=time,
        after_sd=time_sd,
        left_share=left.si() if left is not None else None,
    )


def _print(a: TightnessAnswer, scale: Scale, details: bool) -> None:
    """The verdict in one line, why, its numbers, what else could be done."""
    paragraph(_verdict(a, scale))
    why = _reason(a, scale)
    if why:
        paragraph(why, indent=2)
    listing(_numbers(a, scale))
    if a.history is not None:
        _print_history(a.history, scale, details)
    if a.methods:
        _print_methods(a, scale, details)
    if a.search is not None:
        _print_search(a.search, scale, details)
    if details and a.volume is not None:
        heading("Taken as given")
        rows = [("inside volume", f"{scale.show(a.volume, 'volume')} ± "
                 f"{scale.show(a.volume_sd, 'volume', 2)}")]  # fmt: skip
        if a.limit_pressure is not None:
            rows.append(
                ("weakest part", f"{a.limit_part}, {scale.show(a.limit_pressure, 'pressure')}")
            )
        listing(rows)


def _verdict(a: TightnessAnswer, scale: Scale) -> str:
    rest = f"at rest at {scale.show(a.rest_temperature, 'temperature')}"
    loss = "" if a.leak is None else scale.range(a.leak.loss, "leak rate", 2)
    if a.hold is not None:
        if a.hold.rose:
            return "No verdict: the gas seems to have grown, by more than the errors allow."
        if a.hold.settling:
            return "No verdict yet: the loss slows down by more than the errors allow."
        if a.hold.found and a.leak is not None:
            return f"It leaks: {loss} of {a.refrigerant} {rest} ({_LIKELY})."
        if a.hold.found:
            return f"It leaks: {quantity_rows(a.hold, scale, 'rate')[0][1]} of {a.hold.gas}."
        if a.leak is not None:
            most = scale.show(a.leak.loss.high, "leak rate", 2)
            return f"No leak seen: it loses at most {most} of {a.refrigerant} {rest} (95 in 100)."
        return "No leak seen."
    if a.measured is not None:
        return f"Such a leak loses {loss} of {a.refrigerant} {rest} ({_LIKELY})."
    if a.history is not None:
        implied = scale.range(a.history.rate, "leak rate", 2)
        return f"The past implies a leak of {implied} of {a.history.refrigerant} ({_LIKELY})."
    if a.plan is None:
        return "No pressure test is read or planned here."
    see = f"{scale.show(a.plan.see, 'leak rate')} of {a.refrigerant}"
    at = scale.show(a.plan.pressure, "pressure")
    if a.plan.hold is None:
        return (
            f"No test of sixty days at {at} shows {see}: test a smaller volume, with a finer "
            "gauge, or look another way."
        )
    return f"Test for {scale.show(a.plan.hold, 'time', 2)} at {at} to see {see}."


def _reason(a: TightnessAnswer, scale: Scale) -> str:
    if a.hold is None:
        return ""
    if a.hold.rose:
        return (
            "The gas warmed where the thermometer did not see it, the gauge moved, or the weather "
            "did. Read on."
        )
    if a.hold.settling:
        return (
            "Gas and walls are still settling. Leave out the first readings and read on before "
            "believing a leak."
        )
    if a.hold.found:
        return "Of a hundred tight machines five would show as much."
    return "That is not the same as tight: below is the smallest leak this test could show."


def _numbers(a: TightnessAnswer, scale: Scale) -> list[tuple[str, str]]:
    rows = []
    if a.hold is not None:
        gas = f"{a.hold.gas} at {scale.show(a.hold.pressure, 'pressure')}"
        rows.append(("tested", f"{scale.show(a.hold.duration, 'time')} with {gas}"))
        rows += quantity_rows(
            a.hold, scale, "expected_last_pressure", "last_pressure", "rate", "smallest_seen"
        )
    if a.measured is not None:
        rows.append(
            ("measured", f"{scale.show(a.measured.rate, 'gas throughput', 2)} of {a.measured.gas} "
             f"under {scale.show(a.measured.pressure, 'pressure')}")
        )  # fmt: skip
    if a.leak is not None:
        rows += quantity_rows(a.leak, scale, "smallest_seen", "bore")
        if a.leak.regime is not None:
            rows.append(
                ("how it gets out",
                 f"{a.leak.regime} flow; below a liquid level it loses up to "
                 f"{a.leak.liquid_factor:.0f} times as much")
            )  # fmt: skip
    elif a.hold is not None and a.refrigerant is None:
        rows.append(("refrigerant", "not named, so no loss in mass"))
    if a.plan is not None:
        if a.hold is not None:
            rows.append(("to see", f"{scale.show(a.plan.see, 'leak rate')} of {a.refrigerant}"))
        plan = quantity_rows(a.plan, scale, "hold", "hold_barometer_read", "rate")
        if a.plan.hold is None and a.hold is not None:
            plan.insert(0, ("test for", "more than sixty days: look another way"))
        rows += [row for i, row in enumerate(plan) if i == 0 or row[1] != plan[i - 1][1]]
    return rows


def _print_history(h: History, scale: Scale, details: bool) -> None:
    end = "empty" if h.left_share is None else f"down to {100 * h.left_share:.0f} %"
    heading(
        f"The past: {scale.show(h.held, 'mass')} of {h.refrigerant}, {end} after "
        f"{scale.show(h.after, 'time', 2)}"
    )
    rows = [("leak", f"{scale.range(h.rate, 'leak rate', 2)} ({_LIKELY})")]
    if details:
        rows += [
            (
                w.way if w.way == "liquid" else f"gas, {w.way}",
                f"{scale.show(w.rate, 'leak rate', 2)} at first; last liquid gone after "
                f"{scale.show(w.liquid_gone_after, 'time', 2)}",
            )
            for w in h.ways
        ]
    listing(rows)


def _print_methods(a: TightnessAnswer, scale: Scale, details: bool) -> None:
    """Ways of looking: those that usually find it, or all of them."""
    known = a.history is not None or a.measured is not None or (a.hold and a.hold.found)
    heading("Which way of looking could find " + ("this leak" if known else "a leak of that size"))
    shown = sorted(a.methods, key=lambda m: -m.chance)
    if not details:
        good = [m for m in shown if m.chance >= _USUALLY_FINDS]
        shown = good or shown[:1]
    listing((f"{100 * m.chance:3.0f} %", _method(m, scale, details)) for m in shown)


def _method(m: Method, scale: Scale, details: bool) -> str:
    if not details:
        return f"{m.name}; {m.note}"
    kind: Final = "leak rate" if m.of == "refrigerant" else "gas throughput"
    sees = f"sees {scale.show(m.least, kind, 2)} at best, {scale.show(m.sure, kind, 2)} surely"
    return f"{m.name}; {m.note}; {sees} ({m.status})"


def _print_search(search: SearchPlan, scale: Scale, details: bool) -> None:
    heading("If it leaks: divide the circuit")
    first = search.steps[0]
    time = f", {scale.show(first.hold, 'time', 2)}" if first.hold is not None else ""
    paragraph(
        f"First test {', '.join(first.first)} ({100 * first.chance_first:.0f} % of the joints"
        f"{time}). On average {search.expected_holds:.1f} tests and {search.expected_cuts:.1f} "
        "cuts find the piece.",
        indent=2,
    )
    if not details:
        return
    paragraph(
        f"At worst it takes {search.worst_holds} tests; the pieces in turn, the one with most "
        f"joints first, take {search.one_by_one:.1f} tests and {search.one_by_one_cuts:.1f} cuts. "
        "Close off at the dividing line, test the part named first, and go on with the half that "
        "leaks. When neither half leaks, it was the joint that was opened; when both do, there "
        "are two. No test is shorter than a quarter of an hour, for gas just let in is still "
        "cooling. End with bubble solution at the joints of the last piece.",
        indent=2,
    )
    rows = []
    for step in search.steps:
        time = f", {scale.show(step.hold, 'time', 2)}" if step.hold is not None else ""
        rows.append(
            (
                "  " * step.depth + "test",
                f"{', '.join(step.first)} ({100 * step.chance_first:.0f} %{time}); else "
                f"{', '.join(step.rest)}",
            )
        )
    listing(rows)

"""Command `tightness`: a pressure test read or planned, the past of a leak, where to look."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Final

import click

from sweatline.cli.options import read_bench
from sweatline.cli.quantity import Quantity, Written
from sweatline.cli.sources import (
    LIKELY,
    Shelf,
    Sources,
    bench_options,
    fields,
    in_order,
    job_from_shelf,
    measure,
    naming_options,
    quantity_rows,
    si,
    with_error,
)
from sweatline.cli.terminal import gap, heading, listing, paragraph
from sweatline.constants import STANDARD_ATMOSPHERE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sweatline.bench.tightness.leak import History, Past
    from sweatline.bench.tightness.leak_search import Method, SearchPlan
    from sweatline.bench.tightness.pressure_hold import HoldReading, TestGas
    from sweatline.bench.tightness.tightness import PressureLimit, TightnessAnswer
    from sweatline.job.model import Job
    from sweatline.units import Kind, Scale

_LOOK: Final = {
    "time": Quantity("time", low=0.0, high=3.2e7),
    "pressure": Quantity("pressure"),
    "temperature": Quantity("temperature", low=243.15, high=333.15),
}
_BAROMETER: Final = {"barometer": Quantity("absolute pressure", low=4e4, high=1.1e5)}
_USUALLY_FINDS: Final = 0.5  # chance from which a way of looking is named first


@click.command()
@job_from_shelf
@click.option("--reading", "readings", multiple=True, metavar="R",
              help='One look at the gauge, as "0 h, 10 bar(g), 21 C" or with the barometer as a'
              ' fourth, "24 h, 9.9 bar(g), 20 C, 1009 hPa abs". Give two or more.')  # fmt: skip
@measure("--pressure", "pressure", "P", "Of a test to come: how long must it last?")
@measure("--measured", "gas throughput", "Q",
         "A leak rate of --gas under --pressure, read by an instrument: what will it lose?",
         low=1e-14, high=10.0)  # fmt: skip
@measure("--see", "leak rate", "RATE",
         "Leak that a test to come should show.",
         low=3e-15, high=1e-3, default="5 g/yr")  # fmt: skip
@click.option("--refrigerant", metavar="NAME", help="What the machine will hold.")
@click.option("--gas", type=click.Choice(["nitrogen", "helium"], case_sensitive=False),
              help="In the circuit; nitrogen where nobody says it. Never oxygen or compressed "
              "air.")  # fmt: skip
@measure("--volume", "volume", "V",
         'Inside volume, as "2.8 ± 0.3 L"; else from the job.', low=1e-6, high=10.0)  # fmt: skip
@click.option("--compressor", metavar="NAME", help="Of the job, by name or number.")
@click.option("--limit", "limits", multiple=True, metavar="PART=P",
              help='Limit of a part, as "evaporator=12 bar(g)"; again for each.')  # fmt: skip
@measure("--held", "mass", "M",
         "The past: mass that the machine held when full.", low=1e-3, high=50.0)  # fmt: skip
@click.option("--held-refrigerant", metavar="NAME", help="Which it was; else the job's original.")
@measure("--after", "time", "TIME",
         'And when it was weak or empty, as "18 months".',
         low=3600.0, high=2e9)  # fmt: skip
@measure("--left", "ratio", "SHARE",
         'Left then, as "70 %" of a weak one; else empty.', low=0.01, high=0.99)  # fmt: skip
@measure("--rest-temperature", "temperature", "T",
         "Of the machine at rest; else the room's.", low=243.15, high=333.15)  # fmt: skip
@measure("--gauge-error", "pressure difference", "DP",
         "How well the gauge repeats, reading included; one standard deviation.",
         low=1.0, high=1e6, default="2 kPa")  # fmt: skip
@measure("--gauge-scale", "ratio", "X", "Its calibration error.", low=0.0, high=0.2, default="1 %")
@measure("--thermometer-error", "temperature difference", "DT",
         "Likewise.", low=1e-3, high=20.0, default="0.2 K")  # fmt: skip
@click.option("--sealed-gauge", is_flag=True, help="Gauge that does not feel the weather.")
@bench_options
def tightness(
    shelf: Shelf,
    *,
    readings: tuple[str, ...],
    pressure: Written | None,
    measured: Written | None,
    see: Written,
    refrigerant: str | None,
    gas: TestGas | None,
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
) -> None:
    """Read a pressure test with dry nitrogen or helium, or plan one.

    Says the leak in g/yr of the refrigerant to come with its range, and the smallest leak the test
    could have shown. With --held and --after: what the past implies, and which ways of looking
    could find such a leak. With a job file: how to divide the circuit so that the search ends.

    From --log: the readings of suction-gauge or head-gauge with those of circuit (its temperature)
    since the event `pressurised`, barometer if it was read, the gas, and the instruments' errors.
    """
    from sweatline.bench.tightness.pressure_hold import HoldInstruments, LoggedHold, hold_in
    from sweatline.bench.tightness.tightness import TightnessRequest
    from sweatline.bench.tightness.tightness import tightness as answer
    from sweatline.cli.waiting import PROPERTY_KERNEL, waiting

    typed = any((readings, pressure, held, measured))
    if not (typed or shelf.log_file):
        raise click.UsageError(
            "give --log, or --reading twice, or --pressure, or --held with --after"
        )
    if len(readings) == 1:
        raise click.UsageError("one reading is no test: give --reading twice or more")
    if (held is None) != (after is None):
        raise click.UsageError("--held and --after belong together")
    work = read_bench(shelf.session, shelf.job) if shelf.job is not None else None
    sources = Sources(shelf, work, written=(*readings, pressure, volume, held, *limits))
    zero = sources.atmosphere
    hold = LoggedHold()
    if not (readings or measured):
        hold = sources.logged(hold_in, typed=typed, without="no pressure test from the log") or hold
    told, barometer = _readings(readings, zero)
    looks = sources.pick("pressure test", readings, lambda: told, hold.readings, ())
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
    named: TestGas = gas or "nitrogen"
    request = TightnessRequest(
        gas=sources.pick(
            "gas", gas, lambda: named, hold.gas, named,
            why="nitrogen: no gas was named",
        ),
        refrigerant=_refrigerant(sources, refrigerant),
        job=work,
        compressor=compressor,
        rest_temperature=si(rest_temperature),
        atmosphere=zero,
        volume=known[0],
        volume_sd=known[1],
        readings=looks,
        instruments=instruments,
        pressure=si(pressure, zero),
        measured=si(measured),
        see=see.si(),
        limits=[_limit(text, zero) for text in limits],
        past=_past(work, held, after, left, held_refrigerant),
        unit_system=sources.scale.system,
    )  # fmt: skip
    names = {f"reading {i}": f"{where} {i}" for i in range(1, len(looks) + 1)}
    with waiting("working out the leak", kernel=PROPERTY_KERNEL), naming_options(names):
        found = answer(request)
    sources.show(found, _print)


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
    in_order([look.time for look in found], texts, "--reading")
    for i, (before, later) in enumerate(pairwise(found), 2):
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
    from sweatline.bench.tightness.leak import Past
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
        left_share=si(left),
    )


def _print(a: TightnessAnswer, scale: Scale, details: bool) -> None:
    """The verdict in one line, why, its numbers, what else could be done."""
    paragraph(_verdict(a, scale))
    why = _reason(a)
    if why:
        paragraph(why, indent=2)
    listing(_numbers(a, scale, details))
    if a.history is not None and (details or a.hold is not None):
        _print_history(a.history, scale, details)
    settled = a.hold is None or not (a.hold.rose or a.hold.settling)
    if a.methods and (details or settled):
        _print_methods(a.methods, scale, details)
    if a.search is not None:
        _print_search(a.search, scale, details)


def _verdict(a: TightnessAnswer, scale: Scale) -> str:
    rest = f"at rest at {scale.show(a.rest_temperature, 'temperature')}"
    loss = "" if a.leak is None else scale.range(a.leak.loss, "leak rate", 2)
    if a.hold is not None:
        if a.hold.rose:
            return "No verdict: the gas seems to have grown, by more than the errors allow."
        if a.hold.settling:
            return "No verdict yet: the loss slows down by more than the errors allow."
        if a.hold.found and a.leak is not None:
            return f"It leaks: {loss} of {a.refrigerant} {rest} ({LIKELY})."
        if a.hold.found:
            return f"It leaks: {quantity_rows(a.hold, scale, 'rate')[0][1]} of {a.hold.gas}."
        if a.leak is not None:
            most = scale.show(a.leak.loss.high, "leak rate", 2)
            return f"No leak seen: it loses at most {most} of {a.refrigerant} {rest} (95 in 100)."
        return "No leak seen."
    if a.measured is not None:
        return f"Such a leak loses {loss} of {a.refrigerant} {rest} ({LIKELY})."
    if a.history is not None:
        implied = scale.range(a.history.rate, "leak rate", 2)
        return f"The past implies a leak of {implied} of {a.history.refrigerant} ({LIKELY})."
    if a.plan is None:
        return "No pressure test is read or planned here."
    see = f"{scale.show(a.plan.see, 'leak rate', 2)} of {a.refrigerant}"
    at = scale.show(a.plan.pressure, "pressure")
    if a.plan.hold is None:
        return (
            f"No test of sixty days at {at} shows {see}: test a smaller volume, with a finer "
            "gauge, or look another way."
        )
    return f"Test for {scale.show(a.plan.hold, 'time', 2)} at {at} to see {see}."


def _reason(a: TightnessAnswer) -> str:
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
        return "Fewer than five tight machines in a hundred would show as much."
    return "That is not the same as tight: below is the smallest leak this test could show."


def _numbers(a: TightnessAnswer, scale: Scale, details: bool) -> list[tuple[str, str]]:
    rows = []
    if a.hold is not None:
        gas = f"{a.hold.gas} at {scale.show(a.hold.pressure, 'pressure')}"
        rows.append(("tested", f"{scale.show(a.hold.duration, 'time', 2)} with {gas}"))
        rows += quantity_rows(a.hold, scale, "expected_last_pressure", "last_pressure")
        if details or a.leak is None:
            rows += quantity_rows(a.hold, scale, "rate", "smallest_seen")
    if a.measured is not None:
        rate = f"{scale.show(a.measured.rate, 'gas throughput', 2)} of {a.measured.gas}"
        at = scale.show(a.measured.pressure, "pressure")
        rows.append(("measured", f"{rate} under {at}"))
    if a.leak is not None:
        rows += quantity_rows(a.leak, scale, "smallest_seen")
        if details and a.leak.regime is not None:
            rows += quantity_rows(a.leak, scale, "bore")
            below = f"below a liquid level it loses up to {a.leak.liquid_factor:.0f} times as much"
            rows.append(("how it gets out", f"{a.leak.regime} flow; {below}"))
    elif a.hold is not None and a.refrigerant is None:
        rows.append(("refrigerant", "not named, so no loss in mass"))
    found = a.hold is not None and a.hold.found
    if a.plan is not None and (details or not found):
        see = f"to see {scale.show(a.plan.see, 'leak rate', 2)}"
        times = quantity_rows(a.plan, scale, "hold", "hold_barometer_read")
        rows.append((see, "; ".join(f"{label} {time}" for label, time in times) or "hopeless"))
    if details and a.plan is not None:
        rows += quantity_rows(a.plan, scale, "rate")
    if details and a.volume is not None:
        rows += quantity_rows(a, scale, "volume")
    if details and a.limit_pressure is not None:
        weakest = scale.show(a.limit_pressure, "pressure")
        rows.append(("weakest part", f"{a.limit_part}, {weakest}"))
    return rows


def _print_history(h: History, scale: Scale, details: bool) -> None:
    end = "empty" if h.left_share is None else f"down to {100 * h.left_share:.0f} %"
    heading(
        f"The past: {scale.show(h.held, 'mass')} of {h.refrigerant}, {end} after "
        f"{scale.show(h.after, 'time', 2)}"
    )
    rows = [("leak", f"{scale.range(h.rate, 'leak rate', 2)} ({LIKELY})")]
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


def _print_methods(methods: Sequence[Method], scale: Scale, details: bool) -> None:
    """Ways of looking that usually find it in one sentence; or all of them."""
    good = sorted(methods, key=lambda m: -m.chance)
    if not details:
        names = [m.name for m in good if m.chance >= _USUALLY_FINDS]
        gap()
        paragraph(f"Ways of looking that find it: {'; '.join(names) or 'none'}.")
        return
    heading("Ways of looking, with the chance to find it")
    rows = []
    for m in good:
        kind: Kind = "leak rate" if m.of == "refrigerant" else "gas throughput"
        sees = f"{scale.show(m.least, kind, 2)} at best, {scale.show(m.sure, kind, 2)} surely"
        rows.append((f"{100 * m.chance:3.0f} %", f"{m.name}; {m.note}; sees {sees} ({m.status})"))
    listing(rows)


def _print_search(search: SearchPlan, scale: Scale, details: bool) -> None:
    gap()
    first = search.steps[0]
    joints = f"{100 * first.chance_first:.0f} % of the joints"
    time = f", {scale.show(first.hold, 'time', 2)}" if first.hold is not None else ""
    paragraph(
        f"If it leaks, divide the circuit. First test {', '.join(first.first)} ({joints}{time}). "
        f"On average {search.expected_holds:.1f} tests and {search.expected_cuts:.1f} "
        "cuts find the piece."
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

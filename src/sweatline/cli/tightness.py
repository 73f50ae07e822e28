"""Command `tightness`: a pressure test read or planned, the past of a leak, where to look."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from sweatline.bench.tightness.pressure_hold import hold_in
from sweatline.bench.tightness.tightness import TightnessAnswer, TightnessRequest
from sweatline.bench.tightness.tightness import tightness as answer
from sweatline.cli.sources import LIKELY, NOTHING, Shelf, Sources, bench_options, quantity_rows
from sweatline.cli.terminal import gap, heading, listing, paragraph

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sweatline.bench.tightness.leak import History
    from sweatline.bench.tightness.leak_search import Method, SearchPlan
    from sweatline.units import Kind, Scale

_USUALLY_FINDS: Final = 0.5  # chance from which a way of looking is named first


@click.command()
@bench_options(TightnessRequest)
def tightness(shelf: Shelf) -> None:
    """Read a pressure test with dry nitrogen or helium, or plan one.

    Says the leak in g/yr of the refrigerant to come with its range, and the smallest leak the test
    could have shown. With --held and --after: what the past implies, and which ways of looking
    could find such a leak. With a job file: how to divide the circuit so that the search ends.

    From --log: the readings of suction-gauge or head-gauge with those of circuit (its temperature)
    since the event `pressurised`, barometer if it was read, the gas, and the instruments' errors.
    """
    typed = shelf.typed
    asked = typed.keys() & {"readings", "pressure", "held", "after", "measured"}
    if not (asked or shelf.log_file):
        raise click.UsageError(
            "give --log, or --reading twice, or --pressure, or --held with --after"
        )
    sources = Sources(shelf, TightnessRequest)
    hold = NOTHING
    if "readings" not in typed and "measured" not in typed:
        hold = sources.logged(hold_in, alone=not asked, without="no pressure test from the log")
    request = sources.request(hold, unit_system=sources.scale.system)
    sources.tell(answer, request, _print, "working out the leak")


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

"""A pressure test, a plan for one, and the search for a leak, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from sweatline.report.told import LIKELY, Told, how_known, quantity_rows

if TYPE_CHECKING:
    from sweatline.bench.tightness.leak import History
    from sweatline.bench.tightness.leak_search import Method, SearchPlan
    from sweatline.bench.tightness.tightness import TightnessAnswer
    from sweatline.units import Kind, Scale

_USUALLY_FINDS: Final = 0.5  # chance from which a way of looking is named first


def tight_told(a: TightnessAnswer, scale: Scale, details: bool) -> Iterator[Told]:
    """The verdict with its reason and numbers, then what else could be done.

    Parameters
    ----------
    details : bool
        Everything, or what decides.
    """
    reason = _reason(a)
    yield Told(
        sentences=(tight_verdict(a, scale), *((reason,) if reason else ())),
        rows=tuple(_numbers(a, scale, details)),
    )
    if a.history is not None and (details or a.hold is not None):
        yield _history(a.history, scale, details)
    settled = a.hold is None or not (a.hold.rose or a.hold.settling)
    if a.methods and (details or settled):
        yield _methods(a.methods, scale, details)
    if a.search is not None:
        yield _search(a.search, scale, details)


def tight_verdict(a: TightnessAnswer, scale: Scale) -> str:
    """The answer in one sentence."""
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
            return f"It leaks: {next(quantity_rows(a.hold, scale, 'rate'))[1]} of {a.hold.gas}."
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


def when_it_shows(a: TightnessAnswer, scale: Scale) -> str:
    """How long a test that goes on has to wait for the leak that is to be seen."""
    if a.hold is None or a.hold.found or a.plan is None or a.plan.hold is None:
        return ""
    see, whole = scale.show(a.plan.see, "leak rate", 2), scale.show(a.plan.hold, "time", 2)
    left = a.plan.hold - a.hold.duration
    if left <= 0.0:
        return f"It has lasted long enough to show {see}."
    return f"It shows {see} after {whole}: read again in {scale.show(left, 'time', 2)}."


def _reason(a: TightnessAnswer) -> str:
    if a.hold is None:
        return ""
    if a.hold.rose:
        return (
            "The gas warmed where the thermometer did not see it, the gauge moved, the weather "
            "did, or a look is written wrong: check unit and time of each. Read on."
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


def _history(h: History, scale: Scale, details: bool) -> Told:
    end = "empty" if h.left_share is None else f"down to {100 * h.left_share:.0f} %"
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
    return Told(
        title=f"The past: {scale.show(h.held, 'mass')} of {h.refrigerant}, {end} after "
        f"{scale.show(h.after, 'time', 2)}",
        rows=tuple(rows),
    )


def _methods(methods: Sequence[Method], scale: Scale, details: bool) -> Told:
    """Ways of looking that usually find it in one sentence; or all of them."""
    good = sorted(methods, key=lambda m: -m.chance)
    if not details:
        names = [m.name for m in good if m.chance >= _USUALLY_FINDS]
        return Told(sentences=(f"Ways of looking that find it: {'; '.join(names) or 'none'}.",))
    rows = []
    for m in good:
        kind: Kind = "leak rate" if m.of == "refrigerant" else "gas throughput"
        sees = f"{scale.show(m.least, kind, 2)} at best, {scale.show(m.sure, kind, 2)} surely"
        rows.append(
            (f"{100 * m.chance:3.0f} %", f"{m.name}; {m.note}; sees {sees} ({how_known(m.status)})")
        )
    return Told(title="Ways of looking, with the chance to find it", rows=tuple(rows))


def _search(search: SearchPlan, scale: Scale, details: bool) -> Told:
    first = search.steps[0]
    joints = f"{100 * first.chance_first:.0f} % of the joints"
    time = f", {scale.show(first.hold, 'time', 2)}" if first.hold is not None else ""
    do = (
        f"If it leaks, divide the circuit. First test {', '.join(first.first)} ({joints}{time}). "
        f"On average {search.expected_holds:.1f} tests and {search.expected_cuts:.1f} "
        "cuts find the piece."
    )
    if not details:
        return Told(sentences=(do,))
    how = (
        f"At worst it takes {search.worst_holds} tests; the pieces in turn, the one with most "
        f"joints first, take {search.one_by_one:.1f} tests and {search.one_by_one_cuts:.1f} cuts. "
        "Close off at the dividing line, test the part named first, and go on with the half that "
        "leaks. When neither half leaks, it was the joint that was opened; when both do, there "
        "are two. No test is shorter than a quarter of an hour, for gas just let in is still "
        "cooling. End with bubble solution at the joints of the last piece."
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
    return Told(sentences=(do, how), rows=tuple(rows))

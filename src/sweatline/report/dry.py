"""A pump-down, the water in a circuit, and a rise test, in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from sweatline.answers import told
from sweatline.report.told import Told, how_known, quantity_rows

if TYPE_CHECKING:
    from sweatline.bench.evacuation.evacuation import Criterion, EvacuationAnswer
    from sweatline.bench.evacuation.pump_down import PumpDown
    from sweatline.bench.evacuation.rise_test import Cause, RiseResult, Verdict
    from sweatline.units import Scale

_SIDES: Final = {"both": "both sides", "low": "low side only", "high": "high side only"}
CAUSES: Final[dict[Cause, str]] = {
    "none": "nothing comes in: tight and dry",
    "leak": "a leak: climbs steadily",
    "leak and moisture": "a leak and moisture: bends, and goes on climbing",
    "moisture": "moisture: levels off towards the vapour pressure of water",
    "outgassing": "gas out of oil, walls or the other side: climbs ever more slowly",
}
SHORT: Final[dict[Cause, str]] = {
    "none": "tight and dry",
    "leak": "leak",
    "leak and moisture": "leak and moisture",
    "moisture": "moisture",
    "outgassing": "gas from oil",
}
_VERDICT: Final[dict[Verdict, str]] = {
    "none": "It holds: tight and dry",
    "leak": "It leaks",
    "leak and moisture": "It leaks, and there is water inside",
    "moisture": "There is water inside",
    "outgassing": "Gas comes out of oil and walls",
    "undecided": "Undecided: the readings fit several causes",
    "fell": "The gauge fell, and that proves nothing",
}
_MET: Final = {True: "met", False: "NOT met", None: "not read so long"}


def dry_told(a: EvacuationAnswer, scale: Scale, details: bool) -> Iterator[Told]:
    """What the rise says, else how long the pump takes; whether it may be started; the numbers.

    Parameters
    ----------
    details : bool
        Everything, or what decides.
    """
    if a.rise is not None:
        yield Told(sentences=(dry_verdict(a, scale), a.rise.what_to_do))
        yield _rise(a, a.rise, scale, details)
    elif a.connections or a.pumped:
        yield Told(sentences=(dry_verdict(a, scale),))
    yield Told(sentences=(start_line(a.never_start, scale),))
    if a.connections:
        yield _connections(a, scale)
    if a.pumped:
        yield _pumped(a, scale)
    if a.water:
        yield _water(a, scale)


def dry_verdict(a: EvacuationAnswer, scale: Scale) -> str:
    """The answer in one sentence; empty while nothing says it."""
    if a.rise is None and _held_up(a):
        return f"{_pumped_so_far(a, scale)} Gas keeps coming: shut the valve and read the rise."
    if a.rise is None and a.connections:
        return _pump_down_line(a, scale)
    if a.rise is None:
        return _pumped_so_far(a, scale) if a.pumped else ""
    sure = ""
    if a.rise.chance is not None:
        sure = f" (chance {100 * a.rise.chance:.0f} %)"
    return f"{_VERDICT[a.rise.likeliest]}{sure}."


def _wanted(a: EvacuationAnswer) -> float:
    """What the gauge at the pump shows once both sides are empty enough. [Pa]"""
    run = next((c for c in a.connections if c.asked), None)
    reached = None if run is None else run.gauge_when_reached
    return a.target if reached is None else reached


def _held_up(a: EvacuationAnswer) -> bool:
    """Whether gas that keeps coming holds the gauge above what is wanted."""
    last = a.pumped[-1] if a.pumped else None
    return last is not None and last.gas_load is not None and last.read > _wanted(a)


def _pumped_so_far(a: EvacuationAnswer, scale: Scale) -> str:
    last = a.pumped[-1]
    return (
        f"After {scale.show(last.time, 'time', 2)} of pumping the gauge shows "
        f"{scale.show(last.read, 'absolute pressure')}."
    )


def pump_or_shut(a: EvacuationAnswer, scale: Scale) -> str:
    """What to do while it is pumped, or which look will decide; empty where nothing is known."""
    if a.rise is not None and a.rise.likeliest == "undecided":
        return f"What decides: {_deciding(a, a.rise, scale)}."
    if a.rise is not None or not a.pumped or _held_up(a):
        return ""
    wanted = _wanted(a)
    if a.pumped[-1].read <= wanted:
        return "Low enough: shut the valve, and read the gauge three times or more as it rises."
    shown = scale.show(wanted, "absolute pressure", 2)
    return f"Pump on until the gauge at the pump shows {shown}; then shut the valve."


def start_line(never_start: str, scale: Scale) -> str:
    """Whether the compressor may be started, as far as a vacuum forbids it."""
    if never_start:
        return f"STOP. Never start it now: {told(never_start, scale)}."
    return "By the log the circuit no longer stands under vacuum."


def _pump_down_line(a: EvacuationAnswer, scale: Scale) -> str:
    target = scale.show(a.target, "absolute pressure")
    asked = next(c for c in a.connections if c.asked)
    side = {"both": "from both sides", "low": "from the low side", "high": "from the high side"}
    if asked.reached_after is None:
        return f"It never comes down to {target} on both sides when pumped {side[asked.connected]}."
    return (
        f"Both sides are at {target} after {scale.show(asked.reached_after, 'time')} when pumped "
        f"{side[asked.connected]}."
    )


def _rise(a: EvacuationAnswer, rise: RiseResult, scale: Scale, details: bool) -> Told:
    rows = []
    if rise.likeliest != "fell":
        rows = [(f"{100 * rise.probability[c]:3.0f} %", text) for c, text in CAUSES.items()]
    step = _deciding(a, rise, scale)
    if step:
        rows.append(("what decides", step))
    wet = rise.probability["moisture"] + rise.probability["leak and moisture"]
    if wet > 0.1 and rise.plateau is not None and rise.likeliest != "fell":
        rows.append(
            ("if moisture", f"that stops near {scale.show(rise.plateau, 'absolute pressure', 2)}")
        )
    if rise.leak > 0.1 and a.leak is not None and rise.likeliest != "fell":
        rows += quantity_rows(a.leak, scale, "air", "loss")
    if rise.likeliest == "none" and a.leak_unseen is not None:
        least = scale.show(a.leak_unseen, "gas throughput", 1)
        rows.append(("not seen", f"a leak that draws in less than {least}"))
    shown = a.criteria if details else [c for c in a.criteria if c.met is False][:1]
    rows += [
        (_met(c, rise), f"at most {c.name} ({c.source}; {how_known(c.status)})") for c in shown
    ]
    return Told(
        title=f"Shut off at {scale.show(rise.first, 'absolute pressure')}, "
        f"{scale.show(rise.last, 'absolute pressure')} after "
        f"{scale.show(rise.duration, 'time', 2)}",
        rows=tuple(rows),
    )


def _deciding(a: EvacuationAnswer, rise: RiseResult, scale: Scale) -> str:
    """The one step more that settles a rise left undecided; empty where it is not."""
    if rise.likeliest != "undecided":
        return ""
    test = a.pressure_test
    if test is not None:
        return (
            f"dry nitrogen at {scale.show(test.pressure, 'pressure', 2)} for "
            f"{scale.show(test.hold, 'time', 2)}, read before and after; shows 9 in 10 of the "
            "leaks that may be behind this rise"
        )
    if rise.decide_after is None or rise.decide_chance is None:
        return (
            "nothing within a day: a leak left open is small; seek it under nitrogen with a "
            "detector, or say which leak does not matter"
        )
    last = scale.show(rise.decide_after, "time", 2)
    return (
        f"three more looks, evenly spread, the last {last} after the valve was shut; enough in "
        f"{10 * rise.decide_chance:.0f} of 10 such cases"
    )


def _met(criterion: Criterion, rise: RiseResult) -> str:
    if criterion.met is None and rise.likeliest == "fell":
        return "no proof"
    return _MET[criterion.met]


def _connections(a: EvacuationAnswer, scale: Scale) -> Told:
    sweeps = ""
    if a.sweeps is not None:
        sweeps = (
            "From one side the other is drawn through the capillary. Half an hour each, "
            f"broken with dry nitrogen, {a.sweeps} times leaves as little air."
        )
    return Told(
        title=f"From the atmosphere to {scale.show(a.target, 'absolute pressure')} on both sides",
        rows=tuple(
            (_SIDES[c.connected] + (" (asked)" if c.asked else ""), _course(c, scale))
            for c in a.connections
        ),
        after=sweeps,
    )


def _course(c: PumpDown, scale: Scale) -> str:
    end = scale.show(c.ultimate, "absolute pressure", 2)
    if c.reached_after is None:
        return f"never: the worse side ends at {end} after thirty days"
    shows = scale.show(c.gauge_when_reached, "absolute pressure", 2)
    return (
        f"{scale.show(c.reached_after, 'time')}; the gauge at the pump then shows {shows}; ends "
        f"at {end}"
    )


def _pumped(a: EvacuationAnswer, scale: Scale) -> Told:
    rows = []
    for look in a.pumped:
        said = scale.show(look.read, "absolute pressure")
        if look.empty is not None:
            said += f"; pump and hoses alone {scale.show(look.empty, 'absolute pressure', 2)}"
        if look.gas_load is not None:
            said += f", so {scale.show(look.gas_load, 'gas throughput', 2)} keeps coming"
        rows.append((f"after {scale.show(look.time, 'time', 2)}", said))
    return Told(title="What the gauge showed while pumping", rows=tuple(rows))


def _water(a: EvacuationAnswer, scale: Scale) -> Told:
    rows = []
    for w in a.water:
        time = scale.show(w.time, "time", 2)
        said = f"{'never ends' if time == '-' else time}; the water is at "
        said += scale.show(w.temperature, "temperature")
        if w.freezes:
            said += ", frozen: let it thaw under nitrogen, and warm the place"
        said += f"; the gauge at the pump shows {scale.show(w.at_pump, 'absolute pressure')}"
        if w.limited_by_heat:
            said += "; heat from the room limits it"
        rows.append((f"in a {w.place}", said))
    return Told(title=f"{scale.show(a.water[0].water, 'mass')} of water", rows=tuple(rows))

"""Command `evacuation`: pump-down through real hoses, water, and the rise test."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Final

import click

from sweatline.bench.evacuation.evacuation import EvacuationAnswer, EvacuationRequest
from sweatline.bench.evacuation.evacuation import evacuation as answer
from sweatline.bench.evacuation.rise_test import vacuum_in
from sweatline.cli.sources import Shelf, Sources, bench_options, quantity_rows
from sweatline.cli.terminal import heading, listing, paragraph
from sweatline.log.logbook import start_refused

if TYPE_CHECKING:
    from sweatline.bench.evacuation.pump_down import PumpDown
    from sweatline.bench.evacuation.rise_test import Cause, RiseResult
    from sweatline.units import Scale

_SIDES: Final = {"both": "both sides", "low": "low side only", "high": "high side only"}
_CAUSES: Final[dict[Cause, str]] = {
    "none": "nothing comes in: tight and dry",
    "leak": "a leak: climbs steadily",
    "moisture": "moisture: levels off towards the vapour pressure of water",
    "outgassing": "gas out of oil and walls: climbs ever more slowly",
}
_VERDICT: Final = {
    "none": "It holds: tight and dry",
    "leak": "It leaks",
    "moisture": "There is water inside",
    "outgassing": "Gas comes out of oil and walls",
    "undecided": "Undecided: the readings fit several causes",
}
_MET: Final = {True: "met", False: "NOT met", None: "not read so long"}


@click.command()
@bench_options(EvacuationRequest)
def evacuation(shelf: Shelf) -> None:
    """Work out a pump-down, or read what a vacuum does once it is shut off.

    With --pump and hoses: how long until both sides are empty, from one side and from both, and
    how long water takes. With --rise: leak, moisture, gas from oil and walls, or tight, each with
    its chance, and what to do.

    From --log: the vacuum-gauge since the event `evacuating`, and its rise since the event
    `isolated`.
    """
    alone = not shelf.typed.keys() & {"pump", "rise"}
    if alone and shelf.log_file is None:
        raise click.UsageError(
            "give --log, or --pump with its hoses, or --rise three times or more"
        )
    sources = Sources(shelf, EvacuationRequest)
    read = functools.partial(vacuum_in, alone=alone)
    logged = sources.logged(read, alone=alone, without="nothing from the log")
    refused = start_refused(sources.book.held) if sources.book is not None else None
    request = sources.request(logged, start_refused=refused)
    sources.tell(answer, request, _print, "working out the vacuum")


def _print(a: EvacuationAnswer, scale: Scale, details: bool) -> None:
    """What the rise says, else how long the pump takes; then their numbers."""
    if a.rise is not None:
        sure = ""
        if a.rise.likeliest != "undecided":
            sure = f" (chance {100 * a.rise.probability[a.rise.likeliest]:.0f} %)"
        paragraph(f"{_VERDICT[a.rise.likeliest]}{sure}.")
        paragraph(a.rise.what_to_do, indent=2)
        _print_rise(a, a.rise, scale, details)
    elif a.connections:
        paragraph(_pump_down_line(a, scale))
    if a.never_start:
        paragraph(f"STOP. Never start it now: {a.never_start}.")
    else:
        paragraph("By the log the circuit no longer stands under vacuum.")
    if a.connections:
        _print_connections(a, scale)
    if a.pumped:
        _print_pumped(a, scale)
    if a.water:
        _print_water(a, scale)


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


def _print_rise(a: EvacuationAnswer, rise: RiseResult, scale: Scale, details: bool) -> None:
    heading(
        f"Shut off at {scale.show(rise.first, 'absolute pressure')}, "
        f"{scale.show(rise.last, 'absolute pressure')} after {scale.show(rise.duration, 'time', 2)}"
    )
    rows = [(f"{100 * rise.probability[cause]:3.0f} %", text) for cause, text in _CAUSES.items()]
    if rise.decide_after is not None and rise.likeliest == "undecided":
        rows.append(
            ("decides", f"a reading {scale.show(rise.decide_after, 'time', 2)} after shutting")
        )
    if rise.probability["moisture"] > 0.1 and rise.plateau is not None:
        rows.append(
            ("if moisture", f"it stops near {scale.show(rise.plateau, 'absolute pressure', 2)}")
        )
    if rise.probability["leak"] > 0.1 and a.leak is not None:
        rows += quantity_rows(a.leak, scale, "air", "loss")
    shown = a.criteria if details else [c for c in a.criteria if c.met is False][:1]
    rows += [(_MET[c.met], f"at most {c.name} ({c.source}; {c.status})") for c in shown]
    listing(rows)


def _print_connections(a: EvacuationAnswer, scale: Scale) -> None:
    heading(f"From the atmosphere to {scale.show(a.target, 'absolute pressure')} on both sides")
    listing(
        (_SIDES[c.connected] + (" (asked)" if c.asked else ""), _course(c, scale))
        for c in a.connections
    )
    if a.sweeps is not None:
        paragraph(
            "From one side the other is drawn through the capillary. Half an hour each, "
            f"broken with dry nitrogen, {a.sweeps} times leaves as little air.",
            indent=2,
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


def _print_pumped(a: EvacuationAnswer, scale: Scale) -> None:
    heading("What the gauge showed while pumping")
    rows = []
    for look in a.pumped:
        said = scale.show(look.read, "absolute pressure")
        if look.empty is not None:
            said += f"; pump and hoses alone {scale.show(look.empty, 'absolute pressure', 2)}"
        if look.gas_load is not None:
            said += f", so {scale.show(look.gas_load, 'gas throughput', 2)} keeps coming"
        rows.append((f"after {scale.show(look.time, 'time', 2)}", said))
    listing(rows)


def _print_water(a: EvacuationAnswer, scale: Scale) -> None:
    heading(f"{scale.show(a.water[0].water, 'mass')} of water")
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
    listing(rows)

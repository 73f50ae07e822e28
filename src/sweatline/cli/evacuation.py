"""Command `evacuation`: pump-down through real hoses, water, and the rise test."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from sweatline.cli.options import read_bench
from sweatline.cli.quantity import Quantity, Written
from sweatline.cli.sources import (
    Shelf,
    Sources,
    bench_options,
    fields,
    in_order,
    job_from_shelf,
    measure,
    quantity_rows,
    si,
)
from sweatline.cli.terminal import heading, listing, paragraph

if TYPE_CHECKING:
    from sweatline.bench.evacuation.evacuation import EvacuationAnswer, PumpRequest
    from sweatline.bench.evacuation.pump_down import PumpDown, Segment
    from sweatline.bench.evacuation.rise_test import Cause, RiseReading, RiseResult
    from sweatline.units import Scale

_FEWEST: Final = 3  # readings of a rise
_LOOK: Final = {
    "time": Quantity("time", low=0.0, high=3e6),
    "pressure": Quantity("absolute pressure", low=0.01, high=1.2e5),
}
_TUBE: Final = {
    "bore": Quantity("bore", low=0.1e-3, high=0.1),
    "length": Quantity("length", low=0.5e-3, high=100.0),
}
_VOLUME: Final = Quantity("volume", low=1e-6, high=10.0)
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
@job_from_shelf
@measure("--pump", "volume flow", "S", 'Speed of the pump, as "2 cfm".', low=1e-6, high=1.0)
@measure("--ultimate", "absolute pressure", "P",
         "What it reaches by itself.", low=1e-3, high=5e3, default="20 micron")  # fmt: skip
@click.option("--low-hose", multiple=True, metavar="BORE, LENGTH",
              help='Tube between pump and low side, as "4.8 mm, 1.5 m"; again for each further '
              "one in the way, valve cores and fittings too.")  # fmt: skip
@click.option("--high-hose", multiple=True, metavar="BORE, LENGTH", help="Same, high side.")
@measure("--low-volume", _VOLUME, "V", "Inside volume of the low side; else the job's.")
@measure("--high-volume", _VOLUME, "V", "Of the high side.")
@click.option("--capillary", metavar="BORE, LENGTH", help="Between the sides; else the job's.")
@click.option("--compressor", metavar="NAME", help="Of the job, by name or number.")
@measure("--target", "absolute pressure", "P",
         "To be reached by both sides.", low=0.1, high=5e4, default="500 micron")  # fmt: skip
@measure("--gas-load", "gas throughput", "Q",
         'What leaks and gasses, as "1e-4 mbar L/s".', low=0.0, high=10.0)  # fmt: skip
@measure("--water", "mass", "M",
         'Water inside, as "2 g": how long to boil it off?', low=1e-6, high=1.0)  # fmt: skip
@measure("--room", "temperature", "T",
         "Temperature of the machine; else the job's, or 20 °C.",
         low=243.15, high=333.15)  # fmt: skip
@click.option("--rise", multiple=True, metavar="TIME, P",
              help='One look after the valve was shut, as "5 min, 420 micron". Give three or '
              "more.")  # fmt: skip
@click.option("--pumped", multiple=True, metavar="TIME, P",
              help='One look at the gauge at the pump since it was started, as "40 min, 400 '
              'micron".')  # fmt: skip
@measure("--volume", _VOLUME, "V", "What was shut off; else both sides.")
@click.option("--refrigerant", metavar="NAME", help="To come, for the loss by a leak.")
@measure("--gauge-error", "ratio", "X", "How well it repeats.", low=1e-3, high=0.5, default="5 %")
@measure("--gauge-noise", "absolute pressure", "P",
         "How much it wanders near the lowest pressure.",
         low=0.01, high=1e4, default="10 micron")  # fmt: skip
@bench_options
def evacuation(
    shelf: Shelf,
    *,
    pump: Written | None,
    ultimate: Written,
    low_hose: tuple[str, ...],
    high_hose: tuple[str, ...],
    low_volume: Written | None,
    high_volume: Written | None,
    capillary: str | None,
    compressor: str | None,
    target: Written,
    gas_load: Written | None,
    water: Written | None,
    room: Written | None,
    rise: tuple[str, ...],
    pumped: tuple[str, ...],
    volume: Written | None,
    refrigerant: str | None,
    gauge_error: Written,
    gauge_noise: Written,
) -> None:
    """Work out a pump-down, or read what a vacuum does once it is shut off.

    With --pump and hoses: how long until both sides are empty, from one side and from both, and
    how long water takes. With --rise: leak, moisture, gas from oil and walls, or tight, each with
    its chance, and what to do.

    From --log: the vacuum-gauge since the event `evacuating`, and its rise since the event
    `isolated`.
    """
    from sweatline.bench.evacuation.evacuation import EvacuationRequest, PumpRequest
    from sweatline.bench.evacuation.evacuation import evacuation as answer
    from sweatline.bench.evacuation.rise_test import LoggedVacuum, vacuum_in
    from sweatline.cli.waiting import PROPERTY_KERNEL, waiting
    from sweatline.log.vacuum_start import start_refused

    if pump is None and not rise and shelf.log_file is None:
        raise click.UsageError(
            "give --log, or --pump with its hoses, or --rise three times or more"
        )
    if 0 < len(rise) < _FEWEST:
        raise click.UsageError("a rise test needs --rise three times or more")
    if pump is not None and not (low_hose or high_hose):
        raise click.UsageError("a pump without a hose: give --low-hose, --high-hose or both")
    work = read_bench(shelf.session, shelf.job) if shelf.job is not None else None
    sources = Sources(shelf, work, written=(pump, *low_hose, *rise, target, low_volume))
    typed = pump is not None or bool(rise)
    logged = sources.logged(vacuum_in, typed=typed, without="nothing from the log")
    logged = logged or LoggedVacuum()
    looks = sources.pick("pump-down", pumped, lambda: _looks(pumped, "--pumped"), logged.pumped, ())
    watched = sources.pick("rise", rise, lambda: _looks(rise, "--rise"), logged.rise, ())
    watched = _enough(sources, watched, alone=pump is None)
    asked_pump: PumpRequest | None = None
    if pump is not None:
        asked_pump = PumpRequest(
            speed=pump.si(),
            ultimate=ultimate.si(),
            low_hose=_tubes(low_hose, "--low-hose"),
            high_hose=_tubes(high_hose, "--high-hose"),
            capillary=_tubes((capillary,), "--capillary")[0] if capillary is not None else None,
            gas_load=gas_load.si() if gas_load is not None else 0.0,
        )
    request = EvacuationRequest(
        atmosphere=sources.atmosphere,
        job=work,
        compressor=compressor,
        low_volume=si(low_volume),
        high_volume=si(high_volume),
        room=si(room),
        target=target.si(),
        refrigerant=sources.refrigerant(refrigerant),
        pump=asked_pump,
        water=si(water),
        pumped=looks,
        rise=watched,
        volume=si(volume),
        gauge_share=sources.error("gauge's error", gauge_error, logged.gauge_share),
        gauge_floor=sources.error("gauge's noise", gauge_noise, logged.gauge_floor),
        start_refused=start_refused(sources.book.held) if sources.book is not None else None,
    )
    with waiting("working out the vacuum", kernel=PROPERTY_KERNEL):
        found = answer(request)
    sources.show(found, _print)


def _tubes(texts: tuple[str, ...], option: str) -> list[Segment]:
    from sweatline.bench.evacuation.pump_down import Segment

    told = [fields(text, option, _TUBE) for text in texts]
    return [Segment(bore=t["bore"].si(), length=t["length"].si()) for t in told]


def _looks(texts: tuple[str, ...], option: str) -> tuple[RiseReading, ...]:
    from sweatline.bench.evacuation.rise_test import RiseReading

    told = [fields(text, f"{option} {i}", _LOOK) for i, text in enumerate(texts, 1)]
    found = [RiseReading(time=t["time"].si(), pressure=t["pressure"].si()) for t in told]
    in_order([look.time for look in found], texts, option)
    return tuple(found)


def _enough(
    sources: Sources, rise: tuple[RiseReading, ...], *, alone: bool
) -> tuple[RiseReading, ...]:
    """The rise when there is enough of it; nothing is said of one that has only begun."""
    from sweatline.errors import JobError

    path = sources.book.path if sources.book is not None else ""
    if 0 < len(rise) < _FEWEST:
        what = (
            "a rise test needs three looks at the vacuum gauge or more, and since it was shut off "
            f"the log has {len(rise)}"
        )
        if alone:
            raise JobError(what=what, allowed="read on", path=path)
        sources.notes.append(f"{what}: read on")
        return ()
    if not rise and alone:
        raise JobError(
            what="the log does not say that the pump was shut off since it was started, so there "
            "is no rise to read",
            allowed="shut the valve, record `sweatline log event LOG isolated`, and read the "
            "vacuum-gauge; or give --pump with its hoses",
            path=path,
        )
    return rise


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

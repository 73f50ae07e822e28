"""Command `start-gear`: capacitor, relay, start against pressure, load of the motor, the cord."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Final

import click

from sweatline.bench.start_gear.equalising import rest_in
from sweatline.bench.start_gear.start_gear import StartGearAnswer, StartGearRequest
from sweatline.bench.start_gear.start_gear import start_gear as answer
from sweatline.cli.options import calibration_option, taught_bench
from sweatline.cli.sources import LIKELY, Shelf, Sources, bench_options, quantity_rows
from sweatline.cli.terminal import gap, heading, listing, paragraph
from sweatline.cli.waiting import PROPERTY_KERNEL, SOLVER_KERNEL
from sweatline.log.lines import moment

if TYPE_CHECKING:
    from sweatline.bench.start_gear.motor import Cord, Judged, Motor, PullDown
    from sweatline.bench.start_gear.start_gear import Capacitor, Equalising, Standing
    from sweatline.units import Scale

_TIMES: Final = 256  # trial runs behind a chance that the sides are equal
_MARKS: Final = {"ok": "", "marginal": "In doubt: ", "wrong": "FAULT: "}


@click.command()
@bench_options(StartGearRequest)
@calibration_option
@click.option("--at", metavar="TIME", help="With --log: when it is to start; else now.")
def start_gear(shelf: Shelf, *, uncalibrated: bool, at: str | None) -> None:
    """Judge what starts a motor and what it carries; the plate comes first.

    With a job: load settled and at pull-down with its chance to exceed the plate, and how long
    the sides take to come equal after a stop. With readings: amperes, watts and power factor
    against the plate. With --cord, --capacitor or --device: those. Says how to drain a capacitor.

    From --log: how long it has stood since the event `stopped`, the gauges read since, what
    head-gauge, suction-gauge, volts, amps and watts showed while it ran, and whether the circuit
    stands under vacuum, when it must not be started at all.
    """
    typed = shelf.typed
    asked = typed.keys() & {
        "volts", "amps", "watts", "cord", "motor_power", "capacitor", "use", "reads", "instead",
        "tube", "device", "torque", "off_time", "standing_head", "standing_suction",
    }  # fmt: skip
    if not (shelf.job or shelf.log_file or asked):
        raise click.UsageError(
            "give --log, a job, readings (--volts, --amps, --watts), --cord, --capacitor, --device "
            "or --tube"
        )
    if at is not None and shelf.log_file is None:
        raise click.UsageError("--at is about a log: give --log")
    job = functools.partial(taught_bench, uncalibrated=uncalibrated)
    sources = Sources(shelf, StartGearRequest, job)
    read = functools.partial(rest_in, now=moment(at), typed=typed)
    request = sources.request(sources.logged(read, alone=True))
    kernel = PROPERTY_KERNEL if shelf.job is None else SOLVER_KERNEL
    sources.tell(answer, request, _print, "working out the start", kernel)


def _print(a: StartGearAnswer, scale: Scale, details: bool) -> None:
    """One part after the other, what decides first: its verdict, then its numbers."""
    from sweatline.report.sentences import parts_line, room_line

    if a.barred:
        paragraph(f"STOP: not to be started now. {_sentence(a.barred)}")
        gap()
    if a.standing is not None:
        _print_standing(a.standing, scale)
    if a.equalising is not None and (details or a.standing is None):
        _print_equalising(a.equalising, scale)
    if a.motor is not None:
        _print_motor(a.motor, scale)
    if a.pull_down is not None:
        _print_pull_down(a.pull_down, scale)
    if a.cord is not None:
        _print_cord(a.cord, scale)
    if a.usual_start_size is not None:
        u = a.usual_start_size
        low, high = scale.show(u.low, "capacitance"), scale.show(u.high, "capacitance")
        paragraph(f"Usual start capacitor: {low} to {high}, {u.voltage_class} class ({u.status}).")
        paragraph(_sentence(u.sentence), indent=2)
    if a.capacitor is not None:
        _print_capacitor(a.capacitor, scale)
    alone = a.standing is None and a.equalising is None
    if a.relay is not None and (details or alone or a.relay.device != "unknown"):
        said = f"torque {a.relay.starting_torque}. {_sentence(a.relay.behaviour)}"
        paragraph(f"Start device {a.relay.device}, {said} {a.relay.status}.")
    if a.parts is not None and a.job is not None:
        paragraph(f"Calculated for {parts_line(a.parts, scale)}.")
        if details:
            paragraph(room_line(a.job, scale))
    paragraph(a.like_for_like)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".") + "."


def _verdict(verdict: Judged | None, sentence: str) -> None:
    paragraph(f"{_MARKS[verdict] if verdict is not None else ''}{_sentence(sentence)}")


def _print_equalising(e: Equalising, scale: Scale) -> None:
    from sweatline.report.sentences import chance

    time = f"{scale.show(e.time.middle, 'time', 2)} ({LIKELY}: {scale.range(e.time, 'time', 2)})"
    high, low = (scale.show(p, "pressure") for p in (e.sides.high_pressure, e.sides.low_pressure))
    rows = [("stopped at", f"{high} over {low}")]
    if e.sides.liquid > 0.0:
        liquid = scale.show(e.sides.liquid, "mass", 2)
        rows.append(("before the tube", f"{liquid} of liquid, which runs through first"))
    if e.off_time is None or e.chance_equal is None:
        paragraph(f"The sides are equal {time} after a stop.")
        rows.append(("started at once", _sentence(e.sentence)))
    else:
        _verdict(e.verdict, e.sentence)
        said = f"equal: {chance(e.chance_equal, _TIMES)}"
        if e.chance_start is not None:
            starts = chance(e.chance_start, _TIMES)
            said += f"; a sound motor {f'starts: {starts}' if e.chance_start else 'does not start'}"
        rows.append((f"after {scale.show(e.off_time, 'time', 2)}", said))
        rows.append(("equal after", time))
    listing(rows)


def _print_standing(s: Standing, scale: Scale) -> None:
    _verdict(s.verdict, s.sentence)
    after = f", {scale.show(s.off_time, 'time', 2)} after the stop" if s.off_time else ""
    head, suction = scale.show(s.head, "pressure"), scale.show(s.suction, "pressure")
    apart = scale.show(abs(s.head - s.suction), "pressure difference", 2)
    most = scale.show(s.equal_enough, "pressure difference", 2)
    listing(
        (
            ("gauges", f"head {head}, suction {suction}{after}"),
            ("apart", f"{apart}; up to {most} counts as equal"),
        )
    )


def _print_motor(m: Motor, scale: Scale) -> None:
    if m.sentence:
        _verdict(m.verdict, m.sentence)
    rows = [("held against", m.plate)]
    if m.current is not None:
        held = _held(m.amps_ratio, m.chance_amps_over, scale.show(m.plate_current, "current"))
        rows.append(("current", scale.show(m.current, "current") + held))
    if m.power is not None:
        held = _held(m.watts_ratio, m.chance_watts_over, scale.show(m.plate_power, "power"))
        rows.append(("power", scale.show(m.power, "power") + held))
    if m.power_factor is not None:
        said = f"; by the plate {m.plate_power_factor:.2f}" if m.plate_power_factor else ""
        rows.append(("power factor", f"{m.power_factor:.2f}{said}"))
    if m.supply is not None:
        mark = _MARKS["ok" if m.supply.holds else "wrong"]
        rows.append(("voltage", f"{mark}{_sentence(m.supply.sentence)}"))
    listing(rows)


def _held(ratio: float | None, over: float | None, rated: str) -> str:
    if ratio is None or over is None:
        return ""
    return f", {100 * ratio:.0f} % of {rated}; above it with {100 * over:.0f} %"


def _print_pull_down(p: PullDown, scale: Scale) -> None:
    from sweatline.report.sentences import chance

    _verdict(p.verdict, p.sentence)
    rows = []
    for name, power, amps, over in (
        ("settled", p.settled_power, p.settled_current, p.chance_settled_over),
        ("pull-down peak load", p.hardest_power, p.hardest_current, p.chance_hardest_over),
    ):
        said = f"{scale.show(power.middle, 'power')} ({LIKELY}: {scale.range(power, 'power')})"
        if amps is not None:
            most = scale.range(amps, "current", 2)
            said += f", {scale.show(amps.middle, 'current', 2)} ({most})"
        if over is not None:
            plate = scale.show(p.plate_power, "power")
            said += f"; above the plate's {plate}: {chance(over, p.draws)}"
        rows.append((name, said))
    peak = scale.show(p.hardest_evaporating, "temperature")
    rows.append(("peak near", f"{peak} evaporating; the fan is left out"))
    listing(rows)


def _print_cord(c: Cord, scale: Scale) -> None:
    _verdict("ok" if c.running.holds else "wrong", c.running.sentence)
    drop = c.drop
    amps = " to ".join(scale.show(v, "current") for v in drop.starting_current)
    volts = " to ".join(scale.show(v, "voltage") for v in drop.starting_voltage)
    torque = " to ".join(f"{100 * share:.0f} %" for share in drop.starting_torque)
    lost = f"{scale.show(drop.running_drop, 'voltage', 2)}, {100 * drop.running_share:.1f} %"
    area = scale.show(c.area, "area")
    size = area if c.gauge is None else f"{c.gauge:.0f} AWG"
    listing(
        (
            ("cord", f"{scale.show(c.length, 'length')} of copper, {size}"),
            (
                "running",
                f"{scale.show(c.current, 'current')} lose {lost} of "
                f"{scale.show(c.supply, 'voltage')}",
            ),
            ("starting", f"{amps}: the motor gets {volts}, its torque falls to {torque}"),
            ("", f"Four to six times the rated current; {drop.status}."),
        )
    )


def _print_capacitor(c: Capacitor, scale: Scale) -> None:
    for verdict in (c.reading, c.replacement):
        if verdict is not None:
            _verdict(verdict.verdict, verdict.sentence)
    marked, allowed = (
        " to ".join(dict.fromkeys(scale.show(v, "capacitance") for v in ends))
        for ends in ((c.marked_low, c.marked_high), (c.allowed_low, c.allowed_high))
    )
    rows = [
        (f"{c.use} capacitor", f"{marked}, {scale.show(c.voltage, 'voltage')}"),
        ("allowed", f"{allowed} ({c.allowed_status})"),
        *quantity_rows(c, scale, "read", "offered", "current", "reactance"),
    ]
    listing(rows)
    d = c.discharge
    heading("Draining it, before anything is touched")
    listing((f"{i}.", step) for i, step in enumerate(d.steps, 1))
    safe = scale.show(d.safe, "voltage")
    listing(
        (
            ("holds", f"up to {d.energy:.2g} J at {scale.show(d.start, 'voltage')} direct"),
            (
                "drains",
                f"through {scale.show(d.resistance, 'resistance')} to {safe} in {d.time:.2g} s: "
                f"hold it there {scale.show(d.hold, 'time', 2)}",
            ),
            ("resistor", f"sees {d.first_power:.2g} W at first; 5 W wire-wound is usual"),
        )
    )

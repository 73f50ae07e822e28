"""Command `start-gear`: capacitor, relay, start against pressure, load of the motor, the cord."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final, Literal

import click

from sweatline.cli.options import calibration_option, taught_bench
from sweatline.cli.quantity import Quantity, Written
from sweatline.cli.sources import (
    LIKELY,
    Shelf,
    Sources,
    bench_options,
    fields,
    job_from_shelf,
    measure,
    quantity_rows,
    si,
)
from sweatline.cli.terminal import gap, heading, listing, paragraph

if TYPE_CHECKING:
    from sweatline.bench.start_gear.equalising import LoggedRest, Rest
    from sweatline.bench.start_gear.motor import Cord, CordRequest, Judged, Meter, Motor, PullDown
    from sweatline.bench.start_gear.start_gear import (
        Capacitor,
        CapacitorRequest,
        Device,
        Equalising,
        Standing,
        StartGearAnswer,
        Torque,
    )
    from sweatline.log.extract import Found
    from sweatline.units import Scale

_TIMES: Final = 256  # trial runs behind a chance that the sides are equal
_MARKS: Final = {"ok": "", "marginal": "In doubt: ", "wrong": "FAULT: "}
_VOLTS: Final = Quantity("voltage", low=10.0, high=700.0)
_FARAD: Final = Quantity("capacitance", low=1e-8, high=5e-3)
_MARKED: Final = {"capacitance": _FARAD, "voltage": Quantity("voltage", low=10.0, high=2000.0)}
_TUBE: Final = {
    "bore": Quantity("bore", low=0.2e-3, high=5e-3),
    "length": Quantity("length", low=0.05, high=50.0),
}
_CORD: Final = {
    "length": Quantity("length", low=0.1, high=500.0),
    "wire": Quantity("area", low=0.05e-6, high=100e-6),
}
_SIDE: Final = Quantity("volume", low=1e-6, high=1.0)
_WIRE: Final = re.compile(r"(?i)^(?:awg\s*#?\s*(\d+)|#?\s*(\d+)\s*(?:awg|ga|gauge))$")
_RANGE: Final = re.compile(r"^\s*(\d+(?:\.\d+)?)\s*(?:-|–|to)\s*(\d+(?:\.\d+)?)\s*(\D.*)$")


@click.command()
@job_from_shelf
@click.option("--compressor", metavar="NAME", help="Of the job, by name or number.")
@click.option("--refrigerant", metavar="NAME", help="In the machine.")
@click.option("--capillary", metavar="NAME", help="Of the job, by name or number.")
@measure("--length", "length", "LENGTH",
         "Of that capillary; else cut to suit.", low=0.05, high=50.0)  # fmt: skip
@click.option("--draws", type=click.IntRange(8, 512), default=32, show_default=True,
              help="Trial runs of everything uncertain in a job.")  # fmt: skip
@calibration_option
@measure("--volts", _VOLTS, "V", "Read at the socket while it runs.")
@measure("--amps", "current", "A", "Read with a clamp while it runs.", low=0.05, high=200.0)
@measure("--watts", "power", "W", "Read while it runs.", low=1.0, high=5e4)
@measure("--plate-volts", _VOLTS, "V", "On the plate; else the job's.")
@measure("--plate-amps", "current", "A", "Likewise.", low=0.05, high=100.0)
@measure("--plate-watts", "power", "W", "Likewise.", low=5.0, high=2e4)
@click.option("--at-plug", is_flag=True,
              help="Readings include the fan: held against the machine's plate.")  # fmt: skip
@measure("--frequency", "frequency", "F", "Of the mains; else the job's.", low=40.0, high=70.0)
@measure("--meter-error", "ratio", "X",
         "One standard deviation.", low=1e-3, high=0.3, default="2 %")  # fmt: skip
@click.option("--cord", metavar="LENGTH, WIRE", help='As "15 m, 14 AWG" or "15 m, 1.5 mm2".')
@measure("--motor", "power", "POWER",
         'Size of the motor, as "1/4 hp", for usual sizes.', low=5.0, high=5e3)  # fmt: skip
@click.option("--capacitor", metavar="C, V",
              help='As marked, "15 uF, 370 V" or "88-108 uF, 125 V".')  # fmt: skip
@click.option("--use", type=click.Choice(["start", "run"], case_sensitive=False),
              help="Of the capacitor; else told by its size.")  # fmt: skip
@measure("--reads", "capacitance", "C",
         "What a meter reads of it, drained and taken out.", low=1e-10, high=0.01)  # fmt: skip
@click.option("--instead", metavar="C, V", help="Another that is offered in its place.")
@measure("--resistor", "resistance", "R",
         "To drain it through.", low=100.0, high=1e7, default="20 kohm")  # fmt: skip
@click.option("--device", type=click.Choice(["ptc", "current", "potential"], case_sensitive=False),
              help="What starts the motor.")  # fmt: skip
@click.option("--torque", type=click.Choice(["low", "high"], case_sensitive=False),
              help="Starting torque: low (RSIR, PSC, PTC) or high (start capacitor).")  # fmt: skip
@measure("--off-time", "time", "TIME", "Since it stopped: will it start?", low=0.0, high=3e7)
@click.option("--at", metavar="TIME", help="With --log: when it is to start; else now.")
@measure("--standing-head", "pressure", "P", "Read now, while it stands.")
@measure("--standing-suction", "pressure", "P", "Likewise: two gauges that agree decide.")
@click.option("--tube", metavar="BORE, LENGTH", help="Capillary, where no job tells it.")
@measure("--head", "pressure", "P", "Before it stopped; else calculated from the job.")
@measure("--suction", "pressure", "P", "Likewise.")
@measure("--high-volume", _SIDE, "V", "Inside volume of the high side, likewise.")
@measure("--low-volume", _SIDE, "V", "Of the low side, shell with it if it is there.")
@measure("--liquid", "mass", "M",
         "Before the capillary at the stop; else none.", low=0.0, high=20.0)  # fmt: skip
@measure("--room", "temperature", "T", "Likewise; else 20 °C.", low=243.15, high=333.15)
@bench_options
def start_gear(
    shelf: Shelf,
    *,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: Written | None,
    draws: int,
    uncalibrated: bool,
    volts: Written | None,
    amps: Written | None,
    watts: Written | None,
    plate_volts: Written | None,
    plate_amps: Written | None,
    plate_watts: Written | None,
    at_plug: bool,
    frequency: Written | None,
    meter_error: Written,
    cord: str | None,
    motor: Written | None,
    capacitor: str | None,
    use: Literal["start", "run"] | None,
    reads: Written | None,
    instead: str | None,
    resistor: Written,
    device: Device | None,
    torque: Torque | None,
    off_time: Written | None,
    at: str | None,
    standing_head: Written | None,
    standing_suction: Written | None,
    tube: str | None,
    head: Written | None,
    suction: Written | None,
    high_volume: Written | None,
    low_volume: Written | None,
    liquid: Written | None,
    room: Written | None,
) -> None:
    """Judge what starts a motor and what it carries; the plate comes first.

    With a job: load settled and at pull-down with its chance to exceed the plate, and how long
    the sides take to come equal after a stop. With readings: amperes, watts and power factor
    against the plate. With --cord, --capacitor or --device: those. Says how to drain a capacitor.

    From --log: how long it has stood since the event `stopped`, the gauges read since, what
    head-gauge, suction-gauge, volts, amps and watts showed while it ran, and whether the circuit
    stands under vacuum, when it must not be started at all.
    """
    from sweatline.bench.start_gear.equalising import LoggedRest, rest_in
    from sweatline.bench.start_gear.motor import Plate
    from sweatline.bench.start_gear.start_gear import StartGearRequest
    from sweatline.bench.start_gear.start_gear import start_gear as answer
    from sweatline.cli.waiting import PROPERTY_KERNEL, SOLVER_KERNEL, waiting
    from sweatline.log.vocabulary import moment

    for name, value in (("use", use), ("reads", reads), ("instead", instead)):
        if value is not None and capacitor is None:
            raise click.UsageError(f"--{name} needs --capacitor, as it is marked")
    if not any(
        (shelf.job, shelf.log_file, volts, amps, watts, cord, motor, capacitor, tube, device,
         torque, off_time, standing_head, standing_suction)
    ):  # fmt: skip
        raise click.UsageError(
            "give --log, a job, readings (--volts, --amps, --watts), --cord, --capacitor, --device "
            "or --tube"
        )
    if at is not None and shelf.log_file is None:
        raise click.UsageError("--at is about a log: give --log")
    work = taught_bench(shelf.session, shelf.job, uncalibrated) if shelf.job is not None else None
    by_hand = {"tube": tube, "high-volume": high_volume, "low-volume": low_volume,
               "liquid": liquid, "room": room}  # fmt: skip
    of_job = {"compressor": compressor, "capillary": capillary, "length": length}
    for name, given in (by_hand if work is not None else of_job).items():
        if given is not None and work is not None:
            raise click.UsageError(f"--{name} is for a machine that no job describes")
        if given is not None:
            raise click.UsageError(f"--{name} chooses from a job, and there is none")
    sources = Sources(shelf, work, written=(cord, tube, head, suction, room))
    logged = LoggedRest(running=False, barred="")
    if sources.book is not None:
        logged = rest_in(sources.book, now=moment(at))
    stop = _stop(sources, head, suction, logged, alone=tube is None)
    gas = sources.refrigerant(refrigerant)
    stood = sources.quantity("off time", off_time, logged.off_time)
    standing = _both(sources, standing_head, standing_suction, logged)
    if work is None and tube is None and off_time is not None and standing is None:
        raise click.UsageError(
            "--off-time needs a job, or --standing-head and --standing-suction, or --tube with "
            "pressures and volumes"
        )
    rest = None
    if tube is not None:
        rest = _rest(tube, high_volume, low_volume, liquid, room)
    request = StartGearRequest(
        atmosphere=sources.atmosphere,
        job=work,
        compressor=compressor,
        capillary=capillary,
        length=si(length),
        draws=draws,
        refrigerant=gas,
        frequency=si(frequency),
        motor_power=si(motor),
        capacitor=_capacitor(capacitor, use, reads, instead, resistor),
        meter=_meter(sources, volts, amps, watts, meter_error, logged, at_plug=at_plug),
        plate=Plate(voltage=si(plate_volts), current=si(plate_amps), power=si(plate_watts)),
        cord=_cord(cord),
        device=device,
        torque=torque,
        off_time=stood,
        stop=stop,
        standing=standing,
        rest=rest,
        running=logged.running if sources.book is not None else None,
        starts=logged.starts.value if logged.starts is not None else None,
        barred=logged.barred,
    )
    kernel = PROPERTY_KERNEL if work is None else SOLVER_KERNEL
    with waiting("working out the start", kernel=kernel):
        found = answer(request)
    sources.show(found, _print)


def _stop(
    sources: Sources,
    head: Written | None,
    suction: Written | None,
    logged: LoggedRest,
    *,
    alone: bool,
) -> tuple[float, float] | None:
    """Head and suction pressure at the stop, when both are known."""
    from sweatline.errors import JobError

    high = sources.quantity("head", head, logged.head)
    low = sources.quantity("suction", suction, logged.suction)
    if high is None or low is None:
        one = head or suction
        if one is not None and alone:  # else the tube asks for what is missing
            raise JobError(
                what="one pressure does not tell how the machine stopped", read=one.text,
                allowed="give --head and --suction", field=one.option,
            )  # fmt: skip
        return None
    if high <= low:
        raise JobError(
            what="the head pressure is not above the suction pressure",
            read=head.text if head is not None else "",
            allowed="write both as they were while it ran", field="--head",
        )  # fmt: skip
    return high, low


def _both(
    sources: Sources, head: Written | None, suction: Written | None, logged: LoggedRest
) -> tuple[float, float] | None:
    """Both gauges of the machine as it stands."""
    from sweatline.errors import JobError

    high = sources.quantity("standing head", head, logged.standing_head)
    low = sources.quantity("standing suction", suction, logged.standing_suction)
    if high is not None and low is not None:
        return high, low
    one = head or suction
    if one is not None:
        raise JobError(
            what="one gauge does not say whether the sides are equal", read=one.text,
            allowed="give both", field=one.option,
        )  # fmt: skip
    return None


def _meter(
    sources: Sources,
    volts: Written | None,
    amps: Written | None,
    watts: Written | None,
    error: Written,
    logged: LoggedRest,
    *,
    at_plug: bool,
) -> Meter:
    """Readings of the running motor, as typed or by the log."""
    from sweatline.bench.start_gear.motor import Meter

    power = sources.quantity("watts", watts, logged.watts)
    voltage = sources.quantity("volts", volts, logged.volts)
    current = sources.quantity("amps", amps, logged.amps)
    found: Found[float] | None = logged.meter_error if power or current else None
    return Meter(
        voltage=voltage,
        current=current,
        power=power,
        at_plug=at_plug,
        error=sources.error("meter's error", error, found) if power or current else error.si(),
    )


def _cord(text: str | None) -> CordRequest | None:
    if text is None:
        return None
    from sweatline.bench.start_gear.motor import CordRequest

    told = fields(text, "--cord", _CORD)
    wire = _WIRE.match(told["wire"].text.strip())
    if wire is not None:
        return CordRequest(length=told["length"].si(), gauge=float(wire[1] or wire[2]))
    return CordRequest(length=told["length"].si(), area=told["wire"].si())


def _capacitor(
    marked: str | None,
    use: Literal["start", "run"] | None,
    reads: Written | None,
    instead: str | None,
    resistor: Written,
) -> CapacitorRequest | None:
    if marked is None:
        return None
    from sweatline.bench.start_gear.start_gear import CapacitorRequest
    from sweatline.errors import JobError

    told = fields(marked, "--capacitor", _MARKED)
    text = told["capacitance"].text
    span = _RANGE.match(text)
    ends = [f"{span[1]} {span[3]}", f"{span[2]} {span[3]}"] if span else [text]
    values = [
        Written(text=end, kind="capacitance", option="--capacitor", low=_FARAD.low,
                high=_FARAD.high).si()
        for end in ends
    ]  # fmt: skip
    if values[-1] < values[0]:
        raise JobError(
            what="the marking runs backwards", read=text,
            allowed='write for example "88-108 uF"', field="--capacitor",
        )  # fmt: skip
    offered = None
    if instead is not None:
        other = fields(instead, "--instead", _MARKED)
        offered = (other["capacitance"].si(), other["voltage"].si())
    return CapacitorRequest(
        use=use,
        low=values[0],
        high=values[-1],
        voltage=told["voltage"].si(),
        read=si(reads),
        offered=offered,
        resistor=resistor.si(),
    )


def _rest(
    tube: str,
    high_volume: Written | None,
    low_volume: Written | None,
    liquid: Written | None,
    room: Written | None,
) -> Rest:
    """A machine at rest from options alone."""
    from sweatline.bench.start_gear.equalising import Rest

    told = fields(tube, "--tube", _TUBE)
    return Rest(
        bore=told["bore"].si(),
        length=told["length"].si(),
        high_volume=si(high_volume),
        low_volume=si(low_volume),
        liquid=si(liquid) or 0.0,
        room=si(room) or 293.15,
    )


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

"""Command `start-gear`: capacitor, relay, start against pressure, load of the motor, the cord."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final, Literal

import click

from sweatline.cli.options import Session, calibration_option, taught_bench
from sweatline.cli.quantity import Quantity, Written
from sweatline.cli.sources import (
    Sources,
    bench_options,
    fields,
    job_from_shelf,
    naming_options,
)
from sweatline.cli.terminal import gap, heading, listing, paragraph

if TYPE_CHECKING:
    from sweatline.answers import Range
    from sweatline.bench.start_gear.equalising import Rest
    from sweatline.bench.start_gear.logged import LoggedRest
    from sweatline.bench.start_gear.motor import Cord, CordRequest, Meter, Motor, PullDown
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

__all__ = ["start_gear"]

_TIMES: Final = 256  # trial runs behind a chance that the sides are equal
_MARKS: Final = {"ok": "clear", "marginal": "in doubt", "wrong": "FAULT"}
_LIKELY: Final = "likely range, 9 in 10"
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


@click.command(short_help="Will it start, is the motor overloaded: capacitor, relay, cord.")
@job_from_shelf
@click.option("--compressor", metavar="NAME", help="Of the job, by name or number.")
@click.option("--refrigerant", metavar="NAME", help="In the machine.")
@click.option("--capillary", metavar="NAME", help="Of the job, by name or number.")
@click.option(
    "--length",
    type=Quantity("length", low=0.05, high=50.0),
    metavar="LENGTH",
    help="Of that capillary; else cut to suit.",
)
@click.option(
    "--draws",
    type=click.IntRange(8, 512),
    default=32,
    show_default=True,
    help="Trial runs of everything uncertain in a job.",
)
@calibration_option
@click.option("--volts", type=_VOLTS, metavar="V", help="Read at the socket while it runs.")
@click.option(
    "--amps",
    type=Quantity("current", low=0.05, high=200.0),
    metavar="A",
    help="Read with a clamp while it runs.",
)
@click.option(
    "--watts", type=Quantity("power", low=1.0, high=5e4), metavar="W", help="Read while it runs."
)
@click.option("--plate-volts", type=_VOLTS, metavar="V", help="On the plate; else the job's.")
@click.option(
    "--plate-amps", type=Quantity("current", low=0.05, high=100.0), metavar="A", help="Likewise."
)
@click.option(
    "--plate-watts", type=Quantity("power", low=5.0, high=2e4), metavar="W", help="Likewise."
)
@click.option(
    "--at-plug", is_flag=True, help="Readings include the fan: held against the machine's plate."
)
@click.option(
    "--frequency",
    type=Quantity("frequency", low=40.0, high=70.0),
    metavar="F",
    help="Of the mains; else the job's.",
)
@click.option(
    "--meter-error",
    type=Quantity("ratio", low=1e-3, high=0.3),
    metavar="X",
    default="2 %",
    show_default=True,
    help="One standard deviation.",
)
@click.option("--cord", metavar="LENGTH, WIRE", help='As "15 m, 14 AWG" or "15 m, 1.5 mm2".')
@click.option(
    "--motor",
    type=Quantity("power", low=5.0, high=5e3),
    metavar="POWER",
    help='Size of the motor, as "1/4 hp", for usual sizes.',
)
@click.option(
    "--capacitor", metavar="C, V", help='As marked, "15 uF, 370 V" or "88-108 uF, 125 V".'
)
@click.option(
    "--use",
    type=click.Choice(["start", "run"], case_sensitive=False),
    help="Of the capacitor; else told by its size.",
)
@click.option(
    "--reads",
    type=Quantity("capacitance", low=1e-10, high=1e-2),
    metavar="C",
    help="What a meter reads of it, drained and taken out.",
)
@click.option("--instead", metavar="C, V", help="Another that is offered in its place.")
@click.option(
    "--resistor",
    type=Quantity("resistance", low=100.0, high=1e7),
    metavar="R",
    default="20 kohm",
    show_default=True,
    help="To drain it through.",
)
@click.option(
    "--device",
    type=click.Choice(["ptc", "current", "potential"], case_sensitive=False),
    help="What starts the motor.",
)
@click.option(
    "--torque",
    type=click.Choice(["low", "high"], case_sensitive=False),
    help="Starting torque: low (RSIR, PSC, PTC) or high (start capacitor).",
)
@click.option(
    "--off-time",
    type=Quantity("time", low=0.0, high=3e7),
    metavar="TIME",
    help="Since it stopped: will it start?",
)
@click.option("--at", metavar="TIME", help="With --log: when it is to start; else now.")
@click.option(
    "--standing-head", type=Quantity("pressure"), metavar="P", help="Read now, while it stands."
)
@click.option(
    "--standing-suction",
    type=Quantity("pressure"),
    metavar="P",
    help="Likewise: two gauges that agree decide.",
)
@click.option("--tube", metavar="BORE, LENGTH", help="Capillary, where no job tells it.")
@click.option(
    "--head",
    type=Quantity("pressure"),
    metavar="P",
    help="Before it stopped; else calculated from the job.",
)
@click.option("--suction", type=Quantity("pressure"), metavar="P", help="Likewise.")
@click.option(
    "--high-volume", type=_SIDE, metavar="V", help="Inside volume of the high side, likewise."
)
@click.option(
    "--low-volume", type=_SIDE, metavar="V", help="Of the low side, shell with it if it is there."
)
@click.option(
    "--liquid",
    type=Quantity("mass", low=0.0, high=20.0),
    metavar="M",
    help="Before the capillary at the stop; else none.",
)
@click.option(
    "--room",
    type=Quantity("temperature", low=243.15, high=333.15),
    metavar="T",
    help="Likewise; else 20 °C.",
)
@bench_options
@click.pass_obj
def start_gear(
    session: Session,
    *,
    job: str | None,
    log_file: str | None,
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
    use: str | None,
    reads: Written | None,
    instead: str | None,
    resistor: Written,
    device: str | None,
    torque: str | None,
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
    altitude: str | None,
    units: str | None,
    details: bool,
    as_json: bool,
) -> None:
    """Judge what starts a motor and what it carries; the plate comes first.

    With a job: load settled and at pull-down with its chance to exceed the plate, and how long
    the sides take to come equal after a stop. With readings: amperes, watts and power factor
    against the plate. With --cord, --capacitor or --device: those. Says how to drain a capacitor.

    From --log: how long it has stood since the event `stopped`, the gauges read since, what
    head-gauge, suction-gauge, volts, amps and watts showed while it ran, and whether the circuit
    stands under vacuum, when it must not be started at all.
    """
    from sweatline.bench.start_gear.logged import LoggedRest, rest_in
    from sweatline.bench.start_gear.motor import Plate
    from sweatline.bench.start_gear.start_gear import StartGearRequest
    from sweatline.bench.start_gear.start_gear import start_gear as answer
    from sweatline.cli.waiting import PROPERTY_KERNEL, SOLVER_KERNEL, waiting
    from sweatline.log.vocabulary import moment

    for name, value in (("use", use), ("reads", reads), ("instead", instead)):
        if value is not None and capacitor is None:
            raise click.UsageError(f"--{name} needs --capacitor, as it is marked")
    if not any(
        (job, log_file, volts, amps, watts, cord, motor, capacitor, tube, device, torque, off_time,
         standing_head, standing_suction)
    ):  # fmt: skip
        raise click.UsageError(
            "give --log, a job, readings (--volts, --amps, --watts), --cord, --capacitor, --device "
            "or --tube"
        )
    if at is not None and log_file is None:
        raise click.UsageError("--at is about a log: give --log")
    work = taught_bench(session, job, uncalibrated) if job is not None else None
    by_hand = {"tube": tube, "high-volume": high_volume, "low-volume": low_volume,
               "liquid": liquid, "room": room}  # fmt: skip
    of_job = {"compressor": compressor, "capillary": capillary, "length": length}
    for name, given in (by_hand if work is not None else of_job).items():
        if given is not None and work is not None:
            raise click.UsageError(f"--{name} is for a machine that no job describes")
        if given is not None:
            raise click.UsageError(f"--{name} chooses from a job, and there is none")
    sources = Sources(
        session, work, log_file=log_file, altitude=altitude, units=units,
        written=(cord, tube, head, suction, room),
    )  # fmt: skip
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
        length=_si(length),
        draws=draws,
        refrigerant=gas,
        frequency=_si(frequency),
        motor_power=_si(motor),
        capacitor=_capacitor(capacitor, use, reads, instead, resistor),
        meter=_meter(sources, volts, amps, watts, meter_error, logged, at_plug=at_plug),
        plate=Plate(voltage=_si(plate_volts), current=_si(plate_amps), power=_si(plate_watts)),
        cord=_cord(cord),
        device=_device(device),
        torque=_torque(torque),
        off_time=stood,
        stop=stop,
        standing=standing,
        rest=rest,
        running=logged.running if sources.book is not None else None,
        starts=logged.starts.value if logged.starts is not None else None,
        barred=logged.barred,
    )
    options = {
        "refrigerant": "--refrigerant", "head": "--head", "suction": "--suction",
        "high volume": "--high-volume", "low volume": "--low-volume", "liquid": "--liquid",
        "voltage": "--volts", "plate current": "--plate-amps", "plate voltage": "--plate-volts",
        "torque": "--torque",
    }  # fmt: skip
    kernel = PROPERTY_KERNEL if work is None else SOLVER_KERNEL
    with waiting("working out the start", kernel=kernel), naming_options(options):
        found = answer(request)
    sources.show(found, command="start-gear", as_json=as_json, details=details, body=_print)


def _si(written: Written | None) -> float | None:
    return written.si() if written is not None else None


def _device(text: str | None) -> Device | None:
    devices: tuple[Device, ...] = ("ptc", "current", "potential")
    return next((d for d in devices if text is not None and d == text.lower()), None)


def _torque(text: str | None) -> Torque | None:
    torques: tuple[Torque, ...] = ("low", "high")
    return next((t for t in torques if text is not None and t == text.lower()), None)


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
    use: str | None,
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
    uses: tuple[Literal["start", "run"], ...] = ("start", "run")
    return CapacitorRequest(
        use=next((u for u in uses if use is not None and u == use.lower()), None),
        low=values[0],
        high=values[-1],
        voltage=told["voltage"].si(),
        read=_si(reads),
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
        high_volume=_si(high_volume),
        low_volume=_si(low_volume),
        liquid=_si(liquid) or 0.0,
        room=_si(room) or 293.15,
    )


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".") + "."


def _print(a: StartGearAnswer, scale: Scale, details: bool) -> None:
    """The verdict that was asked for first, the plate next, then each part."""
    from sweatline.cli.speech import parts_line, room_line

    if a.barred:
        paragraph("STOP: not to be started now. " + _sentence(a.barred))
        gap()
    judged = a.standing or a.equalising or a.motor or a.pull_down
    if judged is not None and judged.sentence and not a.barred:
        paragraph(_sentence(judged.sentence))
    if a.parts is not None and a.job is not None:
        paragraph(parts_line(a.parts, scale))
        if details:
            paragraph(room_line(a.job, scale))
    paragraph(a.like_for_like)
    if a.relay is not None:
        heading(f"Start device: {a.relay.device}, torque {a.relay.starting_torque}")
        paragraph(_sentence(a.relay.behaviour) + f" {a.relay.status}.", indent=2)
    if a.equalising is not None:
        _print_equalising(a.equalising, scale)
    if a.standing is not None:
        _print_standing(a.standing, scale)
    if a.motor is not None:
        _print_motor(a.motor, scale)
    if a.pull_down is not None:
        _print_pull_down(a.pull_down, scale)
    if a.cord is not None:
        _print_cord(a.cord, scale)
    if a.usual_start_size is not None:
        u = a.usual_start_size
        heading("Usual start capacitor")
        low, high = scale.show(u.low, "capacitance"), scale.show(u.high, "capacitance")
        paragraph(f"{low} to {high}, {u.voltage_class} class ({u.status}); {u.sentence}.", indent=2)
    if a.capacitor is not None:
        _print_capacitor(a.capacitor, scale)


def _print_equalising(e: Equalising, scale: Scale) -> None:
    from sweatline.cli.speech import chance

    heading(
        f"After a stop at {scale.show(e.sides.high_pressure, 'pressure')} over "
        f"{scale.show(e.sides.low_pressure, 'pressure')}"
    )
    said = f"{scale.show(e.time.middle, 'time', 2)} ({_LIKELY}: {scale.range(e.time, 'time', 2)})"
    if e.sides.liquid > 0.0:
        said += f"; {scale.show(e.sides.liquid, 'mass', 2)} of liquid first"
    rows = [("equal after", said)]
    if e.off_time is not None and e.chance_equal is not None:
        said = f"equal: {chance(e.chance_equal, _TIMES)}"
        if e.chance_start == 0.0:
            said += "; a sound motor does not start"
        elif e.chance_start is not None:
            said += f"; a sound motor starts: {chance(e.chance_start, _TIMES)}"
        rows.append((f"after {scale.show(e.off_time, 'time', 2)}", said))
    else:
        rows.append(("at once", "just after the stop:"))
    rows.append((_MARKS[e.verdict], _sentence(e.sentence)))
    listing(rows)


def _print_standing(s: Standing, scale: Scale) -> None:
    heading("As it stands")
    after = f", {scale.show(s.off_time, 'time', 2)} after the stop" if s.off_time else ""
    apart = scale.show(abs(s.head - s.suction), "pressure difference", 2)
    listing(
        (
            (
                "gauges",
                f"head {scale.show(s.head, 'pressure')}, suction "
                f"{scale.show(s.suction, 'pressure')}{after}: {apart} apart, up to "
                f"{scale.show(s.equal_enough, 'pressure difference', 2)} counts as equal",
            ),
            (_MARKS[s.verdict], _sentence(s.sentence)),
        )
    )


def _print_motor(m: Motor, scale: Scale) -> None:
    heading(f"Running, against {m.plate}")
    rows = []
    if m.current is not None:
        rated = scale.show(m.plate_current, "current")
        said = _held(m.amps_ratio, m.chance_amps_over, rated)
        rows.append(("current", scale.show(m.current, "current") + said))
    if m.power is not None:
        rated = scale.show(m.plate_power, "power")
        said = _held(m.watts_ratio, m.chance_watts_over, rated)
        rows.append(("power", scale.show(m.power, "power") + said))
    if m.power_factor is not None:
        said = f"; by the plate {m.plate_power_factor:.2f}" if m.plate_power_factor else ""
        rows.append(("power factor", f"{m.power_factor:.2f}{said}"))
    if m.supply is not None:
        rows.append((_MARKS["ok" if m.supply.holds else "wrong"], _sentence(m.supply.sentence)))
    if m.sentence:
        rows.append((_MARKS[m.verdict] if m.verdict is not None else "note", _sentence(m.sentence)))
    listing(rows)


def _held(ratio: float | None, over: float | None, rated: str) -> str:
    if ratio is None or over is None:
        return ""
    return f", {100 * ratio:.0f} % of {rated}; above it with {100 * over:.0f} %"


def _print_pull_down(p: PullDown, scale: Scale) -> None:
    heading("Load of the compressor's motor by the model, fan aside")
    peak = f"Peak near {scale.show(p.hardest_evaporating, 'temperature')} evaporating."
    listing(
        (
            (
                "settled",
                _load(p, p.settled_power, p.settled_current, p.chance_settled_over, scale),
            ),
            (
                "pull-down peak load",
                _load(p, p.hardest_power, p.hardest_current, p.chance_hardest_over, scale),
            ),
            ("", peak),
            (_MARKS[p.verdict] if p.verdict is not None else "note", _sentence(p.sentence)),
        )
    )


def _load(p: PullDown, power: Range, amps: Range | None, over: float | None, scale: Scale) -> str:
    """One load: power and current with their likely ranges, and the chance to pass the plate."""
    from sweatline.cli.speech import chance

    said = f"{scale.show(power.middle, 'power')} ({_LIKELY}: {scale.range(power, 'power')})"
    if amps is not None:
        said += f", {scale.show(amps.middle, 'current', 2)} ({scale.range(amps, 'current', 2)})"
    if over is not None:
        said += f"; above the plate's {scale.show(p.plate_power, 'power')}: {chance(over, p.draws)}"
    return said


def _print_cord(c: Cord, scale: Scale) -> None:
    heading(f"Cord of {scale.show(c.length, 'length')}, {scale.show(c.area, 'area')} of copper")
    drop = c.drop
    amps = " to ".join(scale.show(v, "current") for v in drop.starting_current)
    volts = " to ".join(scale.show(v, "voltage") for v in drop.starting_voltage)
    listing(
        (
            (
                "running",
                f"{scale.show(c.current, 'current')} lose "
                f"{scale.show(drop.running_drop, 'voltage', 2)}, {100 * drop.running_share:.1f} % "
                f"of {scale.show(c.supply, 'voltage')}",
            ),
            (_MARKS["ok" if c.running.holds else "wrong"], _sentence(c.running.sentence)),
            (
                "starting",
                f"{amps}: the motor gets {volts}, its torque falls to "
                f"{100 * drop.starting_torque[0]:.0f} to {100 * drop.starting_torque[1]:.0f} %",
            ),
            ("", f"Four to six times the rated current; {drop.status}."),
        )
    )


def _print_capacitor(c: Capacitor, scale: Scale) -> None:
    marked = scale.show(c.marked_low, "capacitance")
    if c.marked_high > c.marked_low:
        marked += f" to {scale.show(c.marked_high, 'capacitance')}"
    heading(f"{c.use.capitalize()} capacitor, {marked}, {scale.show(c.voltage, 'voltage')}")
    low, high = (scale.show(v, "capacitance") for v in (c.allowed_low, c.allowed_high))
    rows = [("allowed", f"{low} to {high} ({c.allowed_status})")]
    if c.current is not None:
        rows.append(
            (
                "at its voltage",
                f"{scale.show(c.current, 'current')}, {c.reactive:.0f} var, "
                f"{scale.show(c.reactance, 'resistance')}",
            )
        )
    if c.reading is not None:
        reads = scale.show(c.read, "capacitance")
        rows.append((_MARKS[c.reading.verdict], f"Reads {reads}. {_sentence(c.reading.sentence)}"))
    if c.replacement is not None:
        size = f"{scale.show(c.offered, 'capacitance')}, {scale.show(c.offered_voltage, 'voltage')}"
        said = f"Instead {size}. {_sentence(c.replacement.sentence)}"
        rows.append((_MARKS[c.replacement.verdict], said))
    listing(rows)
    d = c.discharge
    heading("Draining it, before anything is touched")
    listing((f"{i}.", step) for i, step in enumerate(d.steps, 1))
    listing(
        (
            ("holds", f"up to {d.energy:.2g} J at {scale.show(d.start, 'voltage')} direct"),
            (
                "drains",
                f"through {d.resistance / 1e3:.3g} kohm to {scale.show(d.safe, 'voltage')} "
                f"in {d.time:.2g} s: hold it there {scale.show(d.hold, 'time', 2)}",
            ),
            ("resistor", f"sees {d.first_power:.2g} W at first; 5 W wire-wound is usual"),
        )
    )

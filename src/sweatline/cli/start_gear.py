"""Command `start-gear`: capacitor, relay, start against pressure, load of the motor, the cord."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal

import click

from sweatline.cli.options import (
    Session,
    calibration_option,
    chosen_parts,
    json_option,
    quantity,
    split_fields,
    taught_bench,
    unit_options,
)
from sweatline.cli.sources import Sources, log_option, typed

if TYPE_CHECKING:
    from sweatline.bench.start_gear.logged import LoggedRest
    from sweatline.bench.start_gear.request import (
        CapacitorAsked,
        CordAsked,
        MeterAsked,
        RestAsked,
        StandingAsked,
    )
    from sweatline.job.model import Compressor, Job
    from sweatline.log.extract import Found
    from sweatline.units import Kind

__all__ = ["start_gear"]

_DEVICES = ["ptc", "current", "potential"]
_RUN_AT_MOST = 65e-6  # F; above it a motor capacitor is taken for a start capacitor


@click.command(short_help="Will it start, is the motor overloaded: capacitor, relay, cord.")
@click.argument("job", metavar="[JOB]", required=False)
@log_option
@click.option("--compressor", metavar="NAME", help="Of the job, by name or number.")
@click.option("--refrigerant", metavar="NAME", help="In the machine.")
@click.option("--capillary", metavar="NAME", help="Of the job, by name or number.")
@click.option("--length", metavar="LENGTH", help="Of that capillary; else cut to suit.")
@click.option("--draws", type=click.IntRange(8, 512), default=32, show_default=True,
              help="Of everything uncertain in a job.")  # fmt: skip
@calibration_option
@click.option("--volts", metavar="V", help="Read at the socket while it runs.")
@click.option("--amps", metavar="A", help="Read with a clamp while it runs.")
@click.option("--watts", metavar="W", help="Read while it runs.")
@click.option("--plate-volts", metavar="V", help="On the plate; else the job's compressor.")
@click.option("--plate-amps", metavar="A", help="Likewise.")
@click.option("--plate-watts", metavar="W", help="Likewise.")
@click.option(
    "--at-plug", is_flag=True, help="Readings include the fan: held against the machine's plate."
)
@click.option("--frequency", metavar="F", help="Of the mains; else the job's.")
@click.option(
    "--meter-error", metavar="X", default="2 %", show_default=True, help="One standard deviation."
)
@click.option("--cord", metavar="LENGTH, WIRE", help='As "15 m, 14 AWG" or "15 m, 1.5 mm2".')
@click.option("--motor", metavar="POWER", help='Size of the motor, as "1/4 hp", for usual sizes.')
@click.option(
    "--capacitor", metavar="C, V", help='As marked, "15 uF, 370 V" or "88-108 uF, 125 V".'
)
@click.option(
    "--use",
    type=click.Choice(["start", "run"], case_sensitive=False),
    help="Of the capacitor; else told by its size.",
)
@click.option("--reads", metavar="C", help="What a meter reads of it, drained and taken out.")
@click.option("--instead", metavar="C, V", help="Another that is offered in its place.")
@click.option(
    "--resistor", metavar="R", default="20 kohm", show_default=True, help="To drain it through."
)
@click.option(
    "--device", type=click.Choice(_DEVICES, case_sensitive=False), help="What starts the motor."
)
@click.option(
    "--torque",
    type=click.Choice(["low", "high"], case_sensitive=False),
    help="Starting torque: low (RSIR, PSC, PTC) or high (start capacitor).",
)
@click.option("--off-time", metavar="TIME", help="Since it stopped: will it start?")
@click.option("--at", metavar="TIME", help="With --log: when it is to start; else now.")
@click.option("--standing-head", metavar="P", help="Read now, while it stands.")
@click.option("--standing-suction", metavar="P", help="Likewise: two gauges that agree decide.")
@click.option("--tube", metavar="BORE, LENGTH", help="Capillary, where no job tells it.")
@click.option("--head", metavar="P", help="Before it stopped; else reckoned from the job.")
@click.option("--suction", metavar="P", help="Likewise.")
@click.option("--high-volume", metavar="V", help="Inside volume of the high side, likewise.")
@click.option("--low-volume", metavar="V", help="Of the low side, shell with it if it is there.")
@click.option("--liquid", metavar="M", help="Before the capillary at the stop; else none.")
@click.option("--room", metavar="T", help="Likewise; else 20 °C.")
@unit_options
@json_option
@click.pass_obj
def start_gear(session: Session, /, **o: Any) -> None:
    """Judge what starts a motor and what it carries; the plate comes first.

    With a job: load settled and at pull-down with its chance to exceed the plate, and how long
    the sides take to come equal after a stop. With readings: amperes, watts and power factor
    against the plate. With --cord, --capacitor or --device: those. Says how to drain a capacitor.

    From --log: how long it has stood since the event `stopped`, the gauges read since, what
    head-gauge, suction-gauge, volts, amps and watts showed while it ran, and whether the circuit
    stands under vacuum, when it must not be started at all.
    """
    from sweatline.bench.start_gear.logged import rest_in
    from sweatline.bench.start_gear.request import StartGearAsked
    from sweatline.bench.start_gear.start_gear import start_gear as answer
    from sweatline.cli.start_gear_words import print_start_gear
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import PROPERTY_KERNEL, SOLVER_KERNEL, waiting
    from sweatline.log.vocabulary import moment
    from sweatline.units import Scale

    for name in ("use", "reads", "instead"):
        if o[name] is not None and o["capacitor"] is None:
            raise click.UsageError(f"--{name} needs --capacitor, as it is marked")
    asked_for = ("job", "log_file", "volts", "amps", "watts", "cord", "motor", "capacitor", "tube",
                 "device", "torque", "off_time", "standing_head", "standing_suction")  # fmt: skip
    if all(o[name] is None for name in asked_for):
        raise click.UsageError(
            "give --log, a job, readings (--volts, --amps, --watts), --cord, --capacitor, --device "
            "or --tube"
        )
    if o["at"] is not None and o["log_file"] is None:
        raise click.UsageError("--at is about a log: give --log")
    job: Job | None = None
    if o["job"] is not None:
        job = taught_bench(session, o["job"], o["uncalibrated"])
    _refuse_mixtures(o, job)
    sources = Sources(o["log_file"])
    atmosphere = sources.atmosphere(job, o["altitude"])
    if job is None or o["units"] is not None:
        written = (o["cord"], o["tube"], o["head"], o["suction"], o["room"])
        session.scale = Scale(sources.system(o["units"], *written), atmosphere)
    assert session.scale is not None
    logged = rest_in(sources.book, now=moment(o["at"])) if sources.book is not None else None
    stop = _stop(sources, logged, o, atmosphere)
    fields: dict[str, Any] = {
        "atmosphere": atmosphere,
        "refrigerant": sources.refrigerant(o["refrigerant"], None, None),
        "frequency": _maybe(o["frequency"], "frequency", "--frequency", 40.0, 70.0),
        "motor_power": _maybe(o["motor"], "power", "--motor", 5.0, 5e3),
        "capacitor": _capacitor(o),
        "cord": _cord(o["cord"]),
        "device": o["device"].lower() if o["device"] is not None else None,
        "torque": o["torque"].lower() if o["torque"] is not None else None,
        "off_time": sources.pick(
            "off time",
            o["off_time"],
            lambda: _maybe(o["off_time"], "time", "--off-time", 0.0, 3e7),
            logged.off_time if logged else None,
            None,
        ),
        "standing": _standing(sources, logged, o, atmosphere),
        "rest": None,
        "load": None,
    }
    compressor = None
    if job is not None:
        from sweatline.bench.start_gear.motor_load import job_load

        chosen = chosen_parts(
            job, compressor=o["compressor"],
            refrigerant=fields["refrigerant"] or o["refrigerant"],
            capillary=o["capillary"], length=o["length"],
        )  # fmt: skip
        compressor = job.compressors[chosen["compressor"]]
        meter = _meter(sources, logged, o, job, compressor)
        with waiting("solving the machine", kernel=SOLVER_KERNEL):
            build, load = job_load(job, draws=o["draws"], **chosen)
        if stop is not None:
            sides = replace(load.sides, high_pressure=stop[0], low_pressure=stop[1])
            load = replace(load, sides=sides)
        fields |= {"job": job, "load": load, "parts": build.parts}
        fields["refrigerant"] = build.refrigerant.name
        fields["frequency"] = fields["frequency"] or job.supply.frequency.value
        if fields["torque"] is None and compressor.starting_torque != "unknown":
            fields["torque"] = compressor.starting_torque
    else:
        meter = _meter(sources, logged, o, None, None)
        if o["tube"] is not None:
            with waiting("looking the gas up", kernel=PROPERTY_KERNEL):
                fields["rest"] = _rest(o, fields["refrigerant"], stop)
        elif o["off_time"] is not None and fields["standing"] is None:
            raise click.UsageError(
                "--off-time needs a job, or --standing-head and --standing-suction, or --tube with "
                "pressures and volumes"
            )
    if logged is not None:
        fields |= {
            "running": logged.running,
            "starts": logged.starts.value if logged.starts is not None else None,
            "barred": logged.barred,
        }
    with waiting("working out the start", kernel=PROPERTY_KERNEL):
        record = answer(StartGearAsked(meter=meter, account=sources.account, **fields))
    if o["as_json"]:
        print_json(record)
    else:
        print_start_gear(record, session.scale)


def _refuse_mixtures(o: dict[str, Any], job: Job | None) -> None:
    """Options that tell twice what a job tells, or choose from a job that is not there."""
    from_hand = ("tube", "high_volume", "low_volume", "liquid", "room")
    if job is not None:
        if o["altitude"] is not None:
            raise click.UsageError("--altitude stands in the job file already")
        for name in from_hand:
            if o[name] is not None:
                option = "--" + name.replace("_", "-")
                raise click.UsageError(f"{option} is for a machine that no job describes")
    else:
        for name in ("compressor", "capillary", "length"):
            if o[name] is not None:
                raise click.UsageError(f"--{name} chooses from a job, and there is none")


def _maybe(text: str | None, kind: Kind, option: str, low: float, high: float) -> float | None:
    return quantity(text, kind, option, low=low, high=high) if text is not None else None


def _pressure(
    sources: Sources, what: str, text: str | None, found: Found[float] | None, atmosphere: float
) -> float | None:
    option = "--" + what.replace(" ", "-")
    return sources.pick(
        what,
        text,
        lambda: quantity(text or "", "pressure", option, atmosphere=atmosphere),
        found,
        None,
    )


def _stop(
    sources: Sources, logged: LoggedRest | None, o: dict[str, Any], atmosphere: float
) -> tuple[float, float] | None:
    """Head and suction pressure at the stop, when both are known."""
    from sweatline.errors import JobError

    pair = [
        _pressure(sources, name, o[name], getattr(logged, name) if logged else None, atmosphere)
        for name in ("head", "suction")
    ]
    head, suction = pair
    if head is None or suction is None:
        if o["tube"] is None:  # else the tube asks for what is missing
            for name in ("head", "suction"):
                if o[name] is not None:
                    raise JobError(
                        what="one pressure does not tell how the machine stopped", read=o[name],
                        allowed="give --head and --suction", field=f"--{name}",
                    )  # fmt: skip
        return None
    if head <= suction:
        raise JobError(
            what="the head pressure is not above the suction pressure", read=o["head"] or "",
            allowed="write both as they were while it ran", field="--head",
        )  # fmt: skip
    return head, suction


def _standing(
    sources: Sources, logged: LoggedRest | None, o: dict[str, Any], atmosphere: float
) -> StandingAsked | None:
    from sweatline.bench.start_gear.request import StandingAsked
    from sweatline.errors import JobError

    head, suction = (
        _pressure(
            sources, name.replace("_", " "), o[name], getattr(logged, name) if logged else None,
            atmosphere,
        )
        for name in ("standing_head", "standing_suction")
    )  # fmt: skip
    if head is not None and suction is not None:
        return StandingAsked(head=head, suction=suction)
    for name in ("standing_head", "standing_suction"):
        if o[name] is not None:
            raise JobError(
                what="one gauge does not say whether the sides are equal", read=o[name],
                allowed="give both", field="--" + name.replace("_", "-"),
            )  # fmt: skip
    return None


def _meter(
    sources: Sources,
    logged: LoggedRest | None,
    o: dict[str, Any],
    job: Job | None,
    compressor: Compressor | None,
) -> MeterAsked:
    """Readings and the plate they are held against: as typed, of the machine, of the compressor."""
    from sweatline.bench.start_gear.request import MeterAsked

    amps = _maybe(o["plate_amps"], "current", "--plate-amps", 0.05, 100.0)
    watts = _maybe(o["plate_watts"], "power", "--plate-watts", 5.0, 2e4)
    volts = _maybe(o["plate_volts"], "voltage", "--plate-volts", 10.0, 700.0)
    plate = "the plate"
    if amps is None and watts is None and compressor is not None:
        plate = f"the plate of {compressor.name}"
        if compressor.rated_current is not None:
            amps = compressor.rated_current.value
        if compressor.rated_power is not None:
            watts = compressor.rated_power.value
    if volts is None and compressor is not None:
        volts = compressor.rated_voltage
    bounds: dict[str, tuple[Kind, float, float]] = {
        "watts": ("power", 1.0, 5e4),
        "volts": ("voltage", 10.0, 700.0),
        "amps": ("current", 0.05, 200.0),
    }

    def shown(name: str) -> float | None:
        kind, low, high = bounds[name]
        found: Found[float] | None = getattr(logged, name) if logged is not None else None
        return sources.pick(
            name, o[name], lambda: _maybe(o[name], kind, f"--{name}", low, high), found, None
        )

    power, read, current = shown("watts"), shown("volts"), shown("amps")
    if o["at_plug"] and job is not None and plate != "the plate":
        original = job.original
        if original.power is not None or original.current is not None:
            plate = "the plate of the machine, fan included"
            watts = original.power.value if original.power is not None else None
            amps = original.current.value if original.current is not None else None
        elif power is not None:
            plate += f", the fan's {job.fan.power.value:.0f} W taken off"
            power = max(power - job.fan.power.value, 1.0)
            amps = None
    if read is None and job is not None and (o["cord"] or current or power):
        read = job.supply.voltage.value
    usual = quantity(o["meter_error"], "ratio", "--meter-error", low=1e-3, high=0.3)
    return MeterAsked(
        voltage=read,
        current=current,
        power=power,
        plate=plate,
        plate_voltage=volts,
        plate_current=amps,
        plate_power=watts,
        error=sources.pick(
            "meter's error",
            o["meter_error"] if typed("meter_error") else None,
            lambda: usual,
            logged.meter_error if logged is not None and (power or current) else None,
            usual,
            why=o["meter_error"] if power or current else "",
        ),
    )


_WIRE = re.compile(r"(?i)^(?:awg\s*#?\s*(\d+)|#?\s*(\d+)\s*(?:awg|ga|gauge))$")


def _cord(text: str | None) -> CordAsked | None:
    if text is None:
        return None
    from sweatline.bench.start_gear.cord import STRANDED, gauge_area
    from sweatline.bench.start_gear.request import CordAsked

    fields = split_fields(text, "--cord", ("length", "wire"))
    length = quantity(fields["length"], "length", "--cord", low=0.1, high=500.0)
    wire = _WIRE.match(fields["wire"].strip())
    if wire is not None:
        return CordAsked(
            length=length,
            area=gauge_area(float(wire[1] or wire[2])),
            stranded=STRANDED["gauge"],
        )
    area = quantity(fields["wire"], "area", "--cord", low=0.05e-6, high=100e-6)
    return CordAsked(length=length, area=area, stranded=STRANDED["metric"])


_RANGE = re.compile(r"^\s*(\d+(?:\.\d+)?)\s*(?:-|–|to)\s*(\d+(?:\.\d+)?)\s*(\D.*)$")


def _capacitor(o: dict[str, Any]) -> CapacitorAsked | None:
    if o["capacitor"] is None:
        return None
    from sweatline.bench.start_gear.request import CapacitorAsked
    from sweatline.errors import JobError

    ends = {"low": 1e-8, "high": 5e-3}
    fields = split_fields(o["capacitor"], "--capacitor", ("capacitance", "voltage"))
    span = _RANGE.match(fields["capacitance"])
    marked = [f"{span[1]} {span[3]}", f"{span[2]} {span[3]}"] if span else [fields["capacitance"]]
    values = [quantity(text, "capacitance", "--capacitor", **ends) for text in marked]
    if values[-1] < values[0]:
        raise JobError(
            what="the marking runs backwards", read=fields["capacitance"],
            allowed='write for example "88-108 uF"', field="--capacitor",
        )  # fmt: skip
    offered = None
    if o["instead"] is not None:
        other = split_fields(o["instead"], "--instead", ("capacitance", "voltage"))
        offered = (
            quantity(other["capacitance"], "capacitance", "--instead", **ends),
            quantity(other["voltage"], "voltage", "--instead", low=10.0, high=2000.0),
        )
    use: Literal["start", "run"]
    use = o["use"].lower() if o["use"] else ("run" if values[0] <= _RUN_AT_MOST else "start")
    return CapacitorAsked(
        use=use,
        low=values[0],
        high=values[-1],
        voltage=quantity(fields["voltage"], "voltage", "--capacitor", low=10.0, high=2000.0),
        read=_maybe(o["reads"], "capacitance", "--reads", 1e-10, 1e-2),
        offered=offered,
        resistor=quantity(o["resistor"], "resistance", "--resistor", low=100.0, high=1e7),
    )


def _rest(
    o: dict[str, Any], refrigerant: str | None, stop: tuple[float, float] | None
) -> RestAsked:
    """A machine at rest from options alone."""
    from sweatline.bench.start_gear.equalising import Sides
    from sweatline.bench.start_gear.motor_load import gas_tube
    from sweatline.bench.start_gear.request import RestAsked
    from sweatline.errors import JobError
    from sweatline.parts.capillary_flow import flow_through
    from sweatline.refrigerant.refrigerant import load

    if refrigerant is None:
        raise JobError(
            what="which gas has to come equal?", allowed="name it", field="--refrigerant"
        )
    needed = ("high_volume", "low_volume") if stop else ("head", "suction")
    for name in ("head", "suction", "high_volume", "low_volume"):
        if o[name] is None and (name in needed or stop is None):
            raise JobError(
                what="how long the sides take depends on it",
                allowed="give pressures and volumes of both sides, or a job file",
                field="--" + name.replace("_", "-"),
            )
    fields = split_fields(o["tube"], "--tube", ("bore", "length"))
    bore = quantity(fields["bore"], "bore", "--tube", low=0.2e-3, high=5e-3)
    length = quantity(fields["length"], "length", "--tube", low=0.05, high=50.0)
    assert stop is not None
    head, suction = stop
    fluid = load(refrigerant)
    room = _maybe(o["room"], "temperature", "--room", 243.15, 333.15) or 293.15
    liquid = _maybe(o["liquid"], "mass", "--liquid", 0.0, 20.0) or 0.0
    flow = 0.0
    if liquid > 0.0:
        flow = flow_through(
            fluid.table,
            bore=bore,
            length=length,
            inlet_pressure=head,
            inlet_enthalpy=fluid.state(p=head, quality=0.0).enthalpy,
            outlet_pressure=suction,
        ).mass_flow
    wet = fluid.state(p=head, quality=0.0).volume * liquid
    high = quantity(o["high_volume"], "volume", "--high-volume", low=1e-6, high=1.0)
    if wet >= 0.95 * high:
        raise JobError(
            what="so much liquid does not go into the high side", read=o["liquid"],
            field="--liquid",
        )  # fmt: skip
    return RestAsked(
        tube=gas_tube(
            fluid, room=room, between=(head, suction), bore=bore, bore_sd=0.02e-3, length=length
        ),
        sides=Sides(
            high_pressure=head,
            rest_pressure=fluid.saturation_pressure_dew(room),
            low_pressure=suction,
            high_volume=high - wet,
            low_volume=quantity(o["low_volume"], "volume", "--low-volume", low=1e-6, high=1.0),
            volume_sd=0.1,
            liquid=liquid,
            liquid_sd=0.3 * liquid,
            liquid_flow=flow,
        ),
    )

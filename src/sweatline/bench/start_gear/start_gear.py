"""Will it start, and is the motor overloaded? Capacitor, relay, rest, load and cord together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

from sweatline.answers import ask
from sweatline.assembly.build import Build, Parts, choose
from sweatline.bench.answer import BenchAnswer, room_temperature
from sweatline.bench.start_gear.capacitor import (
    Capacitor,
    Marking,
    judged_capacitor,
    usual_size,
)
from sweatline.bench.start_gear.equalising import CapillarySize, GasTube, Sides, rest_by_hand
from sweatline.bench.start_gear.gear import (
    MOTOR_TYPES,
    RELAYS,
    Device,
    KnownMotor,
    Metering,
    Relay,
    ToFit,
    gear_to_fit,
    motor_types,
    torque_of,
)
from sweatline.bench.start_gear.motor import (
    Cord,
    CordRequest,
    Load,
    Meter,
    Motor,
    Plate,
    PullDown,
    against_plate,
    behind_cord,
    job_load,
    plate_and_meter,
    pull_down,
)
from sweatline.bench.start_gear.rest import (
    Equalising,
    Rest,
    Standing,
    equalising,
    gauges_disagree,
    rest_before_start,
    standing,
)
from sweatline.bench.start_gear.terminals import Terminals, Windings, terminals
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.job.explanation import summary_of
from sweatline.job.model import Job
from sweatline.parts.motor import MotorKind
from sweatline.refrigerant.refrigerant import find, load
from sweatline.safety.capacitors import UsualSize
from sweatline.safety.cautions import cautions_of
from sweatline.safety.start_gear import NAMEPLATE_FIRST

_MANY_STARTS: Final = 4  # within an hour, common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class StartGearRequest:
    """What may be asked about start gear; what is None is not asked, or taken from the job."""

    atmosphere: float = STANDARD_ATMOSPHERE  # Pa
    job: Job | None = None
    running: bool | None = None  # by the log
    starts: int | None = None  # within the last hour, by the log
    barred: str = ""  # why the log says that it must not be started
    compressor: str | None = ask("Of the job, by name or number.", metavar="NAME")
    refrigerant: str | None = ask("In the machine.", metavar="NAME", taken="refrigerant")
    capillary: str | None = ask("Of the job, by name or number.", metavar="NAME")
    length: float | None = ask(
        "Of that capillary; else cut to suit.", "length", 0.05, 50.0, metavar="LENGTH"
    )  # m
    draws: int = ask(
        "Trial runs of everything uncertain in a job.",
        low=8,
        high=512,
        default=32,
        label="trial runs",
    )
    volts: float | None = ask(
        "Read at the socket while it runs.", "voltage", 10.0, 700.0, metavar="V", taken="volts"
    )  # V
    amps: float | None = ask(
        "Read with a clamp while it runs.", "current", 0.05, 200.0, metavar="A", taken="amps"
    )  # A
    watts: float | None = ask(
        "Read while it runs.", "power", 1.0, 5e4, metavar="W", taken="watts"
    )  # W
    plate_volts: float | None = ask(
        "On the plate; else the job's.",
        "voltage",
        10.0,
        700.0,
        metavar="V",
        label="volts on the plate",
    )  # V
    plate_amps: float | None = ask(
        "Likewise.", "current", 0.05, 100.0, metavar="A", label="amps on the plate"
    )  # A
    plate_watts: float | None = ask(
        "Likewise.", "power", 5.0, 2e4, metavar="W", label="watts on the plate"
    )  # W
    at_plug: bool = ask(
        "Readings include the fan: held against the machine's plate.",
        default=False,
        label="read at the plug",
    )
    frequency: float | None = ask(
        "Of the mains; else the job's.", "frequency", 40.0, 70.0, metavar="F"
    )  # Hz
    meter_error: float = ask(
        "One standard deviation.", "ratio", 1e-3, 0.3, usual="2 %", metavar="X",
        taken="meter's error",
    )  # fmt: skip
    windings: Windings | None = ask(
        'What a meter reads between the pins 1-2, 2-3 and 3-1, as "4.1 ohm, 11 ohm, 15 ohm", with '
        "nothing connected: which pin is which?", metavar="R12, R23, R31",
        label="resistances between the pins",
    )  # fmt: skip
    cord: CordRequest | None = ask('As "15 m, 14 AWG" or "15 m, 1.5 mm2".', metavar="LENGTH, WIRE")
    motor_power: float | None = ask(
        'Size of the motor, as "1/4 hp", for usual sizes; else the job\'s.', "motor size", 5.0, 5e3,
        metavar="POWER", option="motor", label="size of the motor",
    )  # fmt: skip
    # W, at the shaft
    capacitor: Marking | None = ask(
        'As marked, "15 uF, 370 V" or "88-108 uF, 125 V".', metavar="C, V"
    )
    use: Literal["start", "run"] | None = ask(
        "Of the capacitor; else told by its size.", label="start or run capacitor"
    )
    reads: float | None = ask(
        "What a meter reads of it, drained and taken out.",
        "capacitance",
        1e-10,
        0.01,
        metavar="C",
        label="meter reads of it",
    )  # F
    instead: Marking | None = ask(
        "Another that is offered in its place.", metavar="C, V", label="offered in its place"
    )
    resistor: float = ask(
        "To drain it through.", "resistance", 100.0, 1e7, usual="20 kohm", metavar="R"
    )  # ohm
    motor_kind: MotorKind | None = ask(
        "Type of the motor, as its plate or data sheet names it; without it, what the motor may "
        "be by all that is known.",
        label="type of the motor",
    )
    device: Literal["ptc", "current", "potential", "none"] | None = ask(
        "What starts the motor; none: a run capacitor alone.", label="start device"
    )
    torque: Literal["low", "high"] | None = ask(
        "Starting torque: low (RSIR, PSC, PTC) or high (start capacitor).", label="starting torque"
    )
    off_time: float | None = ask(
        "Since it stopped: will it start?",
        "time",
        0.0,
        3e7,
        metavar="TIME",
        taken="off time",
        label="time since it stopped",
    )  # s
    metering: Metering | None = ask(
        "What feeds the evaporator: a capillary lets both sides come equal, an expansion valve "
        "that shuts does not.",
        label="capillary or valve",
    )
    standing_head: float | None = ask(
        "Read now, while it stands.", "pressure", metavar="P", taken="standing head"
    )  # Pa
    standing_suction: float | None = ask(
        "Likewise: two gauges that agree decide.", "pressure", metavar="P",
        taken="standing suction",
    )  # fmt: skip
    tube: CapillarySize | None = ask(
        "Capillary, where no job tells it.", metavar="BORE, LENGTH", label="capillary without a job"
    )
    head: float | None = ask(
        "Before it stopped; else calculated from the job.", "pressure", metavar="P", taken="head"
    )  # Pa
    suction: float | None = ask("Likewise.", "pressure", metavar="P", taken="suction")  # Pa
    high_volume: float | None = ask(
        "Inside volume of the high side, likewise.", "volume", 1e-6, 1.0, metavar="V"
    )  # m3
    low_volume: float | None = ask(
        "Of the low side, shell with it if it is there.", "volume", 1e-6, 1.0, metavar="V"
    )  # m3
    liquid: float | None = ask(
        "Before the capillary at the stop; else none.", "mass", 0.0, 20.0, metavar="M"
    )  # kg
    room: float | None = ask(
        "Likewise; else 20 °C.", "temperature", 243.15, 333.15, metavar="T"
    )  # K


@dataclass(frozen=True, slots=True, kw_only=True)
class StartGearAnswer(BenchAnswer):
    """Capacitor, relay, start against pressure, load, cord."""

    parts: Parts | None
    """Null when no combination of the job was looked at."""
    refrigerant: str | None
    usual_start_size: UsualSize | None
    capacitor: Capacitor | None
    relay: Relay | None
    to_fit: ToFit | None
    """Null when nothing was said of motor or machine."""
    terminals: Terminals | None
    rest: Rest | None
    """Null for a motor of high torque, and when no start was asked about."""
    equalising: Equalising | None
    standing: Standing | None
    running: bool | None
    """By the log; null without one."""
    starts_last_hour: int | None
    barred: str
    """Why the log says that it must not be started now; empty when it may."""
    motor: Motor | None
    pull_down: PullDown | None
    cord: Cord | None
    like_for_like: str
    """What comes first, and the duty with a flammable refrigerant."""


def start_gear(request: StartGearRequest) -> StartGearAnswer:
    """Answer everything that was asked about start gear.

    Raises
    ------
    JobError
        A number is missing; its field names the quantity.
    OutOfRange
        Readings that contradict each other, or a size that cannot be.
    SolveError
        A job's machine that does not settle.
    """
    _refuse(request)
    asked, build, motor_load, plate, meter = _of_job(request)
    notes: list[str] = []
    known = _known_motor(asked, build, plate, meter)
    of_job = build.compressor.starting_torque if build is not None else "unknown"
    if "unknown" not in (of_job, torque_of(known)) and torque_of(known) != of_job:
        notes.append(
            f"the job calls the starting torque {of_job}: motors of many R-134a and R-290 "
            "compressors start either way, by the gear that is fitted, others do not; the maker's "
            "sheet decides"
        )
    relay = _relay(known)
    _tell_the_log(asked, notes)
    stop: tuple[GasTube, Sides] | None = None
    if motor_load is not None:
        sides = motor_load.sides
        if asked.head is not None and asked.suction is not None:
            sides = replace(sides, high_pressure=asked.head, low_pressure=asked.suction)
        stop = motor_load.tube, sides
    elif asked.tube is not None:
        stop = _by_hand(asked, asked.tube)
    calculated = stands = None
    about_start = asked.off_time is not None or known != KnownMotor()
    rest = rest_before_start(relay, None) if about_start and known.metering != "valve" else None
    if stop is not None:
        calculated, rest = equalising(*stop, relay, asked.off_time, notes)
    if asked.standing_head is not None and asked.standing_suction is not None:
        stands = standing(asked.standing_head, asked.standing_suction, relay, asked.off_time)
    if gauges_disagree(stands, calculated):
        notes.append(
            "the gauges still differ where the sides should be equal by now: a valve at a hose "
            "that is shut, a gauge that is wrong, or a capillary or drier nearly blocked"
        )
    told = asked.capacitor
    return StartGearAnswer(
        job=summary_of(asked.job) if asked.job is not None else None,
        cautions=cautions_of([asked.refrigerant], work={"electrical"}),
        atmospheric_pressure=asked.atmosphere,
        parts=build.parts if build is not None else None,
        refrigerant=asked.refrigerant,
        usual_start_size=None
        if asked.motor_power is None
        else usual_size(asked.motor_power, known.voltage or _supply(asked, notes), notes),
        capacitor=None
        if told is None
        else judged_capacitor(
            told,
            notes,
            use=asked.use,
            reads=asked.reads,
            offered=asked.instead,
            frequency=asked.frequency,
            meter_error=asked.meter_error,
            resistor=asked.resistor,
        ),
        relay=relay if about_start else None,
        to_fit=gear_to_fit(known) if known != KnownMotor() else None,
        terminals=terminals(asked.windings) if asked.windings is not None else None,
        rest=rest,
        equalising=calculated,
        standing=stands,
        running=asked.running,
        starts_last_hour=asked.starts,
        barred=asked.barred,
        motor=against_plate(plate, meter, notes),
        pull_down=pull_down(motor_load, notes) if motor_load is not None else None,
        cord=behind_cord(asked.cord, plate, meter) if asked.cord is not None else None,
        like_for_like=NAMEPLATE_FIRST,
        notes=tuple(notes),
    )


def _supply(asked: StartGearRequest, notes: list[str]) -> float | None:
    """Voltage of a job's supply, where nobody says the motor's. [V]"""
    if asked.job is None:
        return None
    notes.append("the plate's voltage is not known: the start capacitor is for that of the supply")
    return asked.job.supply.voltage.value


def _refuse(asked: StartGearRequest) -> None:
    """Stop at answers that mean nothing without another, or contradict each other."""
    for name in ("use", "reads", "instead"):
        if getattr(asked, name) is not None and asked.capacitor is None:
            raise JobError(what="needs the capacitor as it is marked", field=f"{name}, capacitor")
    of_job = ("compressor", "capillary", "length")
    by_hand = ("tube", "high_volume", "low_volume", "liquid", "room", "metering")
    for name in of_job if asked.job is None else by_hand:
        if getattr(asked, name) is not None:
            raise JobError(
                what="chooses from a job, and there is none"
                if asked.job is None
                else "is for a machine that no job describes: leave the job out",
                field=name,
            )
    for pair in (("head", "suction"), ("standing_head", "standing_suction")):
        missing = sum(getattr(asked, name) is None for name in pair)
        if missing == 1 and (asked.tube is None or pair[0] != "head"):
            raise JobError(
                what="one gauge does not say it", allowed="give both", field=", ".join(pair)
            )
    if asked.head is not None and asked.suction is not None and asked.head <= asked.suction:
        raise JobError(
            what="the head pressure is not above the suction pressure",
            allowed="write both as they were while it ran",
            field="head",
        )
    known = asked.job or asked.tube or asked.standing_head is not None
    if asked.off_time is not None and asked.running is None and not known:
        raise JobError(
            what="whether it starts then depends on the machine",
            allowed="give a job, or both gauges as it stands, or the tube with pressures and "
            "volumes",
            field="off_time, tube",
        )


def _of_job(
    request: StartGearRequest,
) -> tuple[StartGearRequest, Build | None, Load | None, Plate, Meter]:
    """The request with what the job says, the parts as built, the load of its motor, its plate and
    what was read of it."""
    job = request.job
    plate = Plate(
        voltage=request.plate_volts, current=request.plate_amps, power=request.plate_watts
    )
    meter = Meter(
        voltage=request.volts, current=request.amps, power=request.watts,
        at_plug=request.at_plug, error=request.meter_error,
    )  # fmt: skip
    if job is None:
        plate, meter = plate_and_meter(plate, meter, None, None)
        name = find(request.refrigerant) if request.refrigerant is not None else None
        return replace(request, refrigerant=name), None, None, plate, meter

    i, name, j = choose(
        job,
        compressor=request.compressor,
        refrigerant=request.refrigerant,
        capillary=request.capillary,
    )
    compressor = job.compressors[i]
    build, motor_load = job_load(
        job, compressor=i, refrigerant=name, capillary=j, length=request.length, draws=request.draws
    )
    plate, meter = plate_and_meter(plate, meter, job, compressor)
    if meter.voltage is None and (request.cord or meter.current or meter.power):
        meter = replace(meter, voltage=job.supply.voltage.value)
    size = compressor.motor_size
    asked = replace(
        request,
        motor_power=request.motor_power or (size.value if size is not None else None),
        refrigerant=build.refrigerant.name,
        frequency=request.frequency or job.supply.frequency.value,
    )
    return asked, build, motor_load, plate, meter


def _by_hand(asked: StartGearRequest, size: CapillarySize) -> tuple[GasTube, Sides]:
    if asked.refrigerant is None:
        raise JobError(what="which gas has to come equal?", allowed="name it", field="refrigerant")
    return rest_by_hand(
        load(asked.refrigerant),
        size,
        head=asked.head,
        suction=asked.suction,
        high_volume=asked.high_volume,
        low_volume=asked.low_volume,
        liquid=asked.liquid or 0.0,
        room=room_temperature(None, asked.room),
    )


def _known_motor(
    asked: StartGearRequest, build: Build | None, plate: Plate, meter: Meter
) -> KnownMotor:
    """What is known of the motor, and what lets its machine come equal.

    Raises
    ------
    JobError
        A PTC and high torque.
    """
    if asked.torque == "high" and asked.device == "ptc":
        raise JobError(
            what="a PTC alone gives low starting torque",
            read="ptc, high",
            allowed="high torque needs a start capacitor with a current or potential relay",
            field="torque",
        )
    told = asked.capacitor
    found = KnownMotor(
        kind=asked.motor_kind,
        torque=asked.torque or "unknown",
        device=asked.device or "unknown",
        found=None if told is None else asked.use or told.use,
        size=asked.motor_power,
        metering=asked.metering or ("capillary" if asked.tube is not None else None),
    )
    if build is not None:
        compressor = build.compressor
        kind = asked.motor_kind or next(
            (t.kind for t in MOTOR_TYPES if t.kind == compressor.motor), None
        )
        found = replace(
            found,
            kind=kind,
            # What is named now, or of the motor itself, stands before what is said of the torque.
            torque=asked.torque or ("unknown" if kind is not None else compressor.starting_torque),
            rotary=compressor.kind == "rotary",
            made_for=compressor.refrigerant,
            metering="capillary",
        )
    if found == KnownMotor():
        return found
    return replace(found, voltage=plate.voltage or meter.voltage, current=plate.current)


def _relay(known: KnownMotor) -> Relay:
    """Start device and torque, as told or as all types that the motor may be have them."""
    device: Device = known.device
    devices = {d for t in motor_types(known) for d in t.devices}
    if device == "unknown" and len(devices) == 1:
        (device,) = devices
    return replace(RELAYS[device], starting_torque=torque_of(known))


def _tell_the_log(asked: StartGearRequest, notes: list[str]) -> None:
    """What is known of starts and stops, beside the answer."""
    if asked.running:
        notes.append(
            "by the log it is running: how long it must stand is asked again after the stop"
        )
    elif asked.off_time is not None and not (asked.standing_head or asked.tube or asked.job):
        notes.append(
            "whether the sides are equal is not known: read both gauges now, or give a job, or "
            "the tube with pressures and volumes"
        )
    if asked.starts is not None and asked.starts >= _MANY_STARTS:
        notes.append(
            f"{asked.starts} starts within the last hour: the winding and a PTC need minutes to "
            "cool between two tries"
        )

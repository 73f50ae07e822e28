"""Will it start, and is the motor overloaded? Capacitor, relay, rest, load and cord together."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Q, Range, ask, need, range_of
from sweatline.assembly.build import Parts, choose
from sweatline.bench.answer import BenchAnswer, room_temperature
from sweatline.bench.start_gear.equalising import (
    CapillarySize,
    GasTube,
    Sides,
    equalising_times,
    rest_by_hand,
)
from sweatline.bench.start_gear.motor import (
    Cord,
    CordRequest,
    Judged,
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
from sweatline.bench.start_gear.terminals import Terminals, Windings, terminals
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.job.explanation import summary_of
from sweatline.job.model import Job
from sweatline.refrigerant.refrigerant import find, load
from sweatline.safety.capacitors import (
    CapacitorVerdict,
    Discharge,
    UsualSize,
    discharge,
    judge_reading,
    judge_replacement,
    usual_start_size,
)
from sweatline.safety.cautions import cautions_of
from sweatline.safety.start_gear import (
    EQUAL_ENOUGH,
    NAMEPLATE_FIRST,
    capacitor_current,
    capacitor_reactive_power,
    start_verdict,
)
from sweatline.units import quantity

Device = Literal["ptc", "current", "potential", "unknown"]
Torque = Literal["low", "high", "unknown"]

_MANY_STARTS: Final = 4  # within an hour, common practice
_LONG: Final = 0.95  # chance that the sides are equal, beyond which gauges should agree
_LEAST, _MOST = 1e-8, 5e-3  # F
_RANGE: Final = re.compile(r"^\s*(\d+(?:\.\d+)?)\s*(?:-|–|to)\s*(\d+(?:\.\d+)?)\s*(\D.*)$")
_RUN_AT_MOST: Final = 65e-6  # F; above it a motor capacitor is taken for a start capacitor


def _span(text: str) -> dict[str, float]:
    """A capacitance marked from one value to another, as "88-108 uF"."""
    span = _RANGE.match(text)
    if span is None:
        return {}
    low, high = (
        quantity(f"{end} {span[3]}", "capacitance", "", low=_LEAST, high=_MOST)
        for end in (span[1], span[2])
    )
    return {"capacitance": low, "up_to": high}


@dataclass(frozen=True, slots=True, kw_only=True)
class Marking:
    """What is marked on a capacitor."""

    capacitance: float = need("As marked.", "capacitance", _LEAST, _MOST, special=_span)  # F
    voltage: float = need("As marked.", "voltage", 10.0, 2000.0)  # V
    up_to: float | None = None  # F, where a span is marked

    def check(self, _before: Marking | None) -> None:
        """Refuse a span that runs backwards."""
        if self.highest < self.capacitance:
            raise JobError(
                what="the marking runs backwards", allowed='write for example "88-108 uF"'
            )

    @property
    def highest(self) -> float:
        """Upper end of the marking. [F]"""
        return self.capacitance if self.up_to is None else self.up_to


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
    device: Literal["ptc", "current", "potential"] | None = ask(
        "What starts the motor.", label="start device"
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
class Capacitor(Answer):
    """The capacitor as marked, as read, and what is offered instead."""

    use: Literal["start", "run"]
    marked_low: Annotated[float, Q("capacitance")]
    marked_high: Annotated[float, Q("capacitance")]
    voltage: Annotated[float, Q("voltage")]
    reactance: Annotated[float | None, Q("resistance", "reactance", "Null without a frequency.")]
    current: Annotated[float | None, Q("current", "at its voltage", "At its rated voltage.")]
    reactive: Annotated[float | None, Q("power", unit="var")]
    allowed_low: Annotated[float, Q("capacitance")]
    allowed_high: Annotated[float, Q("capacitance")]
    allowed_status: str
    read: Annotated[float | None, Q("capacitance", "reads")]
    reading: CapacitorVerdict | None
    """On what the meter reads."""
    offered: Annotated[float | None, Q("capacitance", "offered instead")]
    offered_voltage: Annotated[float | None, Q("voltage")]
    replacement: CapacitorVerdict | None
    """On what is offered."""
    discharge: Discharge


@dataclass(frozen=True, slots=True, kw_only=True)
class Relay(Answer):
    """What starts the motor."""

    device: Device
    starting_torque: Torque = "unknown"
    wait: Annotated[float, Q("time", doc="Of the device alone, before it can start again.")]
    behaviour: str
    status: str


# What each device does. MEMORY 0.85, the potential relay PUBLISHED.
_RELAYS: Final = {
    relay.device: relay
    for relay in (
        Relay(
            device="ptc",
            wait=300.0,
            behaviour="a PTC heats in a second to thousands of ohms and stays hot while it runs; "
            "it must cool five minutes or more before it starts anything again, equal pressures "
            "or not",
            status="MEMORY 0.85",
        ),
        Relay(
            device="current",
            wait=0.0,
            behaviour="a current relay closes on the inrush of the run winding, so its size "
            "belongs to this motor, and its contact falls by weight: mount it upright as marked",
            status="MEMORY 0.85",
        ),
        Relay(
            device="potential",
            wait=0.0,
            behaviour="a potential relay is closed at rest and opens as the voltage of the start "
            "winding rises; it goes with a start capacitor and is mounted upright as marked",
            status="PUBLISHED",
        ),
        Relay(
            device="unknown",
            wait=300.0,
            behaviour="the start device is not known: give it the five minutes that a PTC needs "
            "to cool",
            status="MEMORY 0.85",
        ),
    )
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Equalising(Answer):
    """How long after a stop the sides are equal."""

    sides: Sides
    tube: GasTube
    equal_enough: Annotated[float, Q("pressure difference")]
    time: Annotated[Range, Q("time", "equal after", digits=2)]
    off_time: Annotated[float | None, Q("time")]
    chance_equal: float | None
    """After that off time."""
    chance_start: float | None
    """That a sound motor of low torque starts then; null for others, and while a device
    that nobody named might be hot."""
    verdict: Judged
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing(Answer):
    """Both gauges of the machine as it stands."""

    head: Annotated[float, Q("pressure")]
    suction: Annotated[float, Q("pressure")]
    equal_enough: Annotated[float, Q("pressure difference")]
    off_time: Annotated[float | None, Q("time")]
    verdict: Judged
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StartGearAnswer(BenchAnswer):
    """Capacitor, relay, start against pressure, load, cord."""

    parts: Parts | None
    """Null when no combination of the job was looked at."""
    refrigerant: str | None
    usual_start_size: UsualSize | None
    capacitor: Capacitor | None
    relay: Relay | None
    terminals: Terminals | None
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
    asked, parts, motor_load, plate, meter = _of_job(request)
    notes: list[str] = []
    relay = _relay(asked)
    _tell_the_log(asked, notes)
    stop: tuple[GasTube, Sides] | None = None
    if motor_load is not None:
        sides = motor_load.sides
        if asked.head is not None and asked.suction is not None:
            sides = replace(sides, high_pressure=asked.head, low_pressure=asked.suction)
        stop = motor_load.tube, sides
    elif asked.tube is not None:
        stop = _by_hand(asked, asked.tube)
    equalising = _equalising(asked, *stop, relay, notes) if stop is not None else None
    standing = _standing(asked, relay)
    if standing is not None and equalising is not None:
        apart = abs(standing.head - standing.suction) > standing.equal_enough
        if apart and equalising.chance_equal is not None and equalising.chance_equal > _LONG:
            notes.append(
                "the gauges still differ where the sides should be equal by now: a valve at a "
                "hose that is shut, a gauge that is wrong, or a capillary or drier nearly blocked"
            )
    return StartGearAnswer(
        job=summary_of(asked.job) if asked.job is not None else None,
        cautions=cautions_of([asked.refrigerant], work={"electrical"}),
        atmospheric_pressure=asked.atmosphere,
        parts=parts,
        refrigerant=asked.refrigerant,
        usual_start_size=_usual(asked, plate.voltage or meter.voltage, notes),
        capacitor=_capacitor(asked, asked.capacitor, notes) if asked.capacitor else None,
        relay=relay,
        terminals=terminals(asked.windings) if asked.windings is not None else None,
        equalising=equalising,
        standing=standing,
        running=asked.running,
        starts_last_hour=asked.starts,
        barred=asked.barred,
        motor=against_plate(plate, meter, notes),
        pull_down=pull_down(motor_load, notes) if motor_load is not None else None,
        cord=behind_cord(asked.cord, plate, meter) if asked.cord is not None else None,
        like_for_like=NAMEPLATE_FIRST,
        notes=tuple(notes),
    )


def _refuse(asked: StartGearRequest) -> None:
    """Stop at answers that mean nothing without another, or contradict each other."""
    for name in ("use", "reads", "instead"):
        if getattr(asked, name) is not None and asked.capacitor is None:
            raise JobError(what="needs the capacitor as it is marked", field=f"{name}, capacitor")
    of_job = ("compressor", "capillary", "length")
    by_hand = ("tube", "high_volume", "low_volume", "liquid", "room")
    for name in of_job if asked.job is None else by_hand:
        if getattr(asked, name) is not None:
            raise JobError(
                what="chooses from a job, and there is none"
                if asked.job is None
                else "is for a machine that no job describes",
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
) -> tuple[StartGearRequest, Parts | None, Load | None, Plate, Meter]:
    """The request with what the job says, the parts chosen, the load of its motor, its plate and
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
    torque, size = request.torque, compressor.motor_size
    if torque is None and compressor.starting_torque != "unknown":
        torque = compressor.starting_torque
    asked = replace(
        request,
        torque=torque,
        motor_power=request.motor_power or (size.value if size is not None else None),
        refrigerant=build.refrigerant.name,
        frequency=request.frequency or job.supply.frequency.value,
    )
    return asked, build.parts, motor_load, plate, meter


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


def _usual(asked: StartGearRequest, voltage: float | None, notes: list[str]) -> UsualSize | None:
    if asked.motor_power is None:
        return None
    if voltage is None:
        raise JobError(
            what="the usual capacitor depends on the motor's voltage",
            allowed="give it",
            field="plate_volts",
        )
    found = usual_start_size(asked.motor_power, voltage)
    if found is None:
        notes.append("usual start capacitors are listed for motors of 1/8 to 1 hp only")
    return found


def _capacitor(asked: StartGearRequest, told: Marking, notes: list[str]) -> Capacitor:
    low, high = told.capacitance, told.highest
    use = asked.use or ("run" if low <= _RUN_AT_MOST else "start")
    read = judge_reading(
        use=use,
        marked_low=low,
        marked_high=high,
        read=asked.reads if asked.reads is not None else low,
        meter_sd=asked.meter_error,
    )
    middle = 0.5 * (low + high)
    current = reactive = None
    if asked.frequency is not None:
        current = capacitor_current(
            capacitance=middle, voltage=told.voltage, frequency=asked.frequency
        )
        reactive = capacitor_reactive_power(
            capacitance=middle, voltage=told.voltage, frequency=asked.frequency
        )
    if use == "start":
        notes.append(
            "a start capacitor is made for seconds: one that stays in circuit bursts; a bleeder of "
            "15 kohm 2 W across it spares the relay's contacts"
        )
    if use == "run" and not 1e-6 <= middle <= 100e-6:
        notes.append("run capacitors have 1.5 to 100 µF: this one looks like a start capacitor")
    offered = asked.instead
    replacement = None
    if offered is not None:
        replacement = judge_replacement(
            use=use,
            marked_low=low,
            marked_high=high,
            voltage=told.voltage,
            offered=offered.capacitance,
            offered_voltage=offered.voltage,
        )
    return Capacitor(
        use=use,
        marked_low=low,
        marked_high=high,
        voltage=told.voltage,
        reactance=told.voltage / current if current is not None else None,
        current=current,
        reactive=reactive,
        allowed_low=read.low,
        allowed_high=read.high,
        allowed_status=read.status,
        read=asked.reads,
        reading=read if asked.reads is not None else None,
        offered=offered.capacitance if offered is not None else None,
        offered_voltage=offered.voltage if offered is not None else None,
        replacement=replacement,
        discharge=discharge(capacitance=read.high, voltage=told.voltage, resistance=asked.resistor),
    )


def _relay(asked: StartGearRequest) -> Relay | None:
    """Start device and torque as told; a potential relay means a start capacitor."""
    if asked.device is None and asked.torque is None and asked.off_time is None:
        return None
    device: Device = asked.device or "unknown"
    torque: Torque = asked.torque or "unknown"
    if torque == "unknown" and device in ("ptc", "potential"):
        torque = "low" if device == "ptc" else "high"
    if torque == "high" and device == "ptc":
        raise JobError(
            what="a PTC alone gives low starting torque",
            read="ptc, high",
            allowed="high torque needs a start capacitor with a current or potential relay",
            field="torque",
        )
    relay = _RELAYS[device]
    return replace(relay, starting_torque=torque, wait=relay.wait if torque != "high" else 0.0)


def _equalising(
    asked: StartGearRequest, tube: GasTube, sides: Sides, relay: Relay | None, notes: list[str]
) -> Equalising:
    times = equalising_times(tube, sides, left=EQUAL_ENOUGH)
    notes.append(
        "the time to equalise is an estimate with wide bounds: nobody knows what a cold coil "
        "swallows and how fast the condenser cools; two gauges that agree decide"
    )
    torque: Torque = relay.starting_torque if relay is not None else "unknown"
    equal = start = None
    verdict: Judged
    if asked.off_time is None:
        # Judged as at the moment of the stop.
        judged = start_verdict(
            starting_torque=torque, difference=sides.high_pressure - sides.low_pressure
        )
        verdict, sentence = judged.verdict, judged.sentence
    else:
        equal = float((times <= asked.off_time).mean())
        cooled, known = _cooled(asked, relay)
        if torque == "low" and (known or cooled):
            start = equal if cooled else 0.0
        verdict, sentence = _after(torque, equal, cooled, known)
    return Equalising(
        sides=sides,
        tube=tube,
        equal_enough=EQUAL_ENOUGH,
        time=range_of(times),
        off_time=asked.off_time,
        chance_equal=equal,
        chance_start=start,
        verdict=verdict,
        sentence=sentence,
    )


def _standing(asked: StartGearRequest, relay: Relay | None) -> Standing | None:
    """What two gauges say decides, whatever was calculated."""
    head, suction = asked.standing_head, asked.standing_suction
    if head is None or suction is None:
        return None
    torque: Torque = relay.starting_torque if relay is not None else "unknown"
    equal = abs(head - suction) <= EQUAL_ENOUGH
    verdict, sentence = _after(torque, 1.0 if equal else 0.0, *_cooled(asked, relay))
    if equal and verdict == "ok" and torque != "high":
        sentence = "the gauges agree: the sides are equal, so it may start"
    return Standing(
        head=head,
        suction=suction,
        equal_enough=EQUAL_ENOUGH,
        off_time=asked.off_time,
        verdict=verdict,
        sentence=sentence,
    )


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


def _cooled(asked: StartGearRequest, relay: Relay | None) -> tuple[bool, bool]:
    """Whether the start device is cold again, and whether it is known which one it is."""
    cooled = asked.off_time is None or relay is None or asked.off_time >= relay.wait
    return cooled, relay is not None and relay.device != "unknown"


def _after(torque: Torque, equal: float, cooled: bool, known: bool) -> tuple[Judged, str]:
    """Verdict on a start, by the chance that the sides are equal."""
    if torque == "high":
        return (
            "ok",
            "a high-torque motor may start against what is left, given its start capacitor",
        )
    if not cooled and not known:
        return "marginal", "if a PTC starts it, that is still hot: give it five minutes"
    if not cooled:
        return "wrong", "the start device is still hot: it passes nothing to the start winding"
    if equal >= _LONG:
        return "ok", "the sides are equal by then"
    low = "a low-torque motor" if torque == "low" else "a motor of unknown torque"
    if equal <= 1.0 - _LONG:
        return "wrong", f"the sides are not equal yet: {low} hums until the protector opens"
    return "marginal", f"the sides may not be equal yet: {low} may hum until the protector opens"

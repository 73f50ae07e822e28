"""Will it start, and is the motor overloaded? Capacitor, relay, rest, load and cord together."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Q, Range, range_of
from sweatline.assembly.build import Parts, choose
from sweatline.bench.answer import BenchAnswer
from sweatline.bench.start_gear.equalising import (
    GasTube,
    Rest,
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
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.job.explanation import summary_of
from sweatline.job.model import Job
from sweatline.refrigerant.refrigerant import load
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

Device = Literal["ptc", "current", "potential", "unknown"]
Torque = Literal["low", "high", "unknown"]

_MANY_STARTS: Final = 4  # within an hour, common practice
_LONG: Final = 0.95  # chance that the sides are equal, beyond which gauges should agree
_RUN_AT_MOST: Final = 65e-6  # F; above it a motor capacitor is taken for a start capacitor


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacitorRequest:
    """A capacitor on the bench."""

    low: float  # F, of the marking
    high: float  # F
    voltage: float  # V
    use: Literal["start", "run"] | None = None  # None: by its size
    read: float | None = None  # F
    offered: tuple[float, float] | None = None  # F, V
    resistor: float = 20e3  # ohm


@dataclass(frozen=True, slots=True, kw_only=True)
class StartGearRequest:
    """What may be asked about start gear; what is None is not asked, or taken from the job."""

    atmosphere: float = STANDARD_ATMOSPHERE  # Pa
    job: Job | None = None
    compressor: str | None = None  # of the job, by name or number
    capillary: str | None = None
    length: float | None = None  # m, of that capillary
    draws: int = 32  # trial runs of a job's machine
    refrigerant: str | None = None
    frequency: float | None = None  # Hz
    motor_power: float | None = None  # W, shaft, for the usual capacitor
    capacitor: CapacitorRequest | None = None
    meter: Meter = field(default_factory=Meter)
    plate: Plate = field(default_factory=Plate)
    cord: CordRequest | None = None
    device: Device | None = None
    torque: Torque | None = None
    off_time: float | None = None  # s
    stop: tuple[float, float] | None = None  # Pa, head and suction before it stopped
    standing: tuple[float, float] | None = None  # Pa, head and suction as it stands
    rest: Rest | None = None  # a machine that no job describes
    running: bool | None = None  # by the log
    starts: int | None = None  # within the last hour, by the log
    barred: str = ""  # why the log says that it must not be started


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
    asked, parts, motor_load = _of_job(request)
    plate, meter = asked.plate, asked.meter
    notes: list[str] = []
    relay = _relay(asked)
    _tell_the_log(asked, notes)
    stop: tuple[GasTube, Sides] | None = None
    if motor_load is not None:
        sides = motor_load.sides
        if asked.stop is not None:
            sides = replace(sides, high_pressure=asked.stop[0], low_pressure=asked.stop[1])
        stop = motor_load.tube, sides
    elif asked.rest is not None:
        stop = _by_hand(asked, asked.rest)
    equalising = _equalising(asked, *stop, relay, notes) if stop is not None else None
    standing = _standing(asked, *asked.standing, relay) if asked.standing is not None else None
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
        usual_start_size=_usual(asked, notes),
        capacitor=_capacitor(asked, asked.capacitor, notes) if asked.capacitor else None,
        relay=relay,
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


def _of_job(request: StartGearRequest) -> tuple[StartGearRequest, Parts | None, Load | None]:
    """The request with what the job says, the parts chosen, and the load of its motor."""
    job = request.job
    if job is None:
        plate, meter = plate_and_meter(request.plate, request.meter, None, None)
        return replace(request, plate=plate, meter=meter), None, None

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
    plate, meter = plate_and_meter(request.plate, request.meter, job, compressor)
    if meter.voltage is None and (request.cord or meter.current or meter.power):
        meter = replace(meter, voltage=job.supply.voltage.value)
    torque = request.torque
    if torque is None and compressor.starting_torque != "unknown":
        torque = compressor.starting_torque
    asked = replace(
        request,
        plate=plate,
        meter=meter,
        torque=torque,
        refrigerant=build.refrigerant.name,
        frequency=request.frequency or job.supply.frequency.value,
    )
    return asked, build.parts, motor_load


def _by_hand(asked: StartGearRequest, rest: Rest) -> tuple[GasTube, Sides]:
    if asked.refrigerant is None:
        raise JobError(what="which gas has to come equal?", allowed="name it", field="refrigerant")
    if asked.stop is not None:
        rest = replace(rest, head=asked.stop[0], suction=asked.stop[1])
    return rest_by_hand(load(asked.refrigerant), rest)


def _usual(asked: StartGearRequest, notes: list[str]) -> UsualSize | None:
    if asked.motor_power is None:
        return None
    voltage = asked.plate.voltage or asked.meter.voltage
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


def _capacitor(asked: StartGearRequest, told: CapacitorRequest, notes: list[str]) -> Capacitor:
    use = told.use or ("run" if told.low <= _RUN_AT_MOST else "start")
    read = judge_reading(
        use=use,
        marked_low=told.low,
        marked_high=told.high,
        read=told.read if told.read is not None else told.low,
        meter_sd=asked.meter.error,
    )
    middle = 0.5 * (told.low + told.high)
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
    offered, offered_voltage = told.offered if told.offered is not None else (None, None)
    replacement = None
    if offered is not None and offered_voltage is not None:
        replacement = judge_replacement(
            use=use,
            marked_low=told.low,
            marked_high=told.high,
            voltage=told.voltage,
            offered=offered,
            offered_voltage=offered_voltage,
        )
    return Capacitor(
        use=use,
        marked_low=told.low,
        marked_high=told.high,
        voltage=told.voltage,
        reactance=told.voltage / current if current is not None else None,
        current=current,
        reactive=reactive,
        allowed_low=read.low,
        allowed_high=read.high,
        allowed_status=read.status,
        read=told.read,
        reading=read if told.read is not None else None,
        offered=offered,
        offered_voltage=offered_voltage,
        replacement=replacement,
        discharge=discharge(capacitance=read.high, voltage=told.voltage, resistance=told.resistor),
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


def _standing(
    asked: StartGearRequest, head: float, suction: float, relay: Relay | None
) -> Standing:
    """What two gauges say decides, whatever was calculated."""
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
    elif asked.off_time is not None and not (asked.standing or asked.rest or asked.job):
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

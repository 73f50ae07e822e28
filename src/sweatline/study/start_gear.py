"""Will it start, and is the motor overloaded? Capacitor, relay, rest, load and cord together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import sweatline
from sweatline.errors import JobError
from sweatline.study.record_parts import BandRecord, PartsRecord
from sweatline.study.start_gear_records import (
    CapacitorRecord,
    CordRecord,
    DischargeRecord,
    EqualisingRecord,
    MotorRecord,
    PullDownRecord,
    RelayRecord,
    StartGearRecord,
    UsualSizeRecord,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sweatline.bench.equalising import GasTube, Sides
    from sweatline.job.model import Job
    from sweatline.study.motor_load import Load

__all__ = ["CapacitorAsked", "CordAsked", "MeterAsked", "RestAsked", "StartGearAsked", "start_gear"]

Device = Literal["ptc", "current", "potential", "unknown"]
Torque = Literal["low", "high", "unknown"]
Judged = Literal["ok", "marginal", "wrong"]

# What each device does; wait in seconds. MEMORY 0.85, the potential relay PUBLISHED.
_DEVICES: Final[dict[Device, tuple[float, str, str]]] = {
    "ptc": (
        300.0,
        "a PTC heats in a second to thousands of ohms and stays hot while it runs; it must cool "
        "five minutes or more before it starts anything again, equal pressures or not",
        "MEMORY 0.85",
    ),
    "current": (
        0.0,
        "a current relay closes on the inrush of the run winding, so its size belongs to this "
        "motor, and its contact falls by weight: mount it upright as marked",
        "MEMORY 0.85",
    ),
    "potential": (
        0.0,
        "a potential relay is closed at rest and opens as the voltage of the start winding rises; "
        "it goes with a start capacitor and is mounted upright as marked",
        "PUBLISHED",
    ),
    "unknown": (
        300.0,
        "the start device is not known: give it the five minutes that a PTC needs to cool",
        "MEMORY 0.85",
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacitorAsked:
    """A capacitor on the bench."""

    use: Literal["start", "run"]
    low: float  # F, of the marking
    high: float  # F
    voltage: float  # V
    read: float | None = None  # F
    offered: tuple[float, float] | None = None  # F, V
    resistor: float = 20e3  # ohm


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterAsked:
    """Readings of the running motor and its plate. Anything may be missing."""

    voltage: float | None = None  # V
    current: float | None = None  # A
    power: float | None = None  # W
    plate: str = "the plate"
    plate_voltage: float | None = None  # V
    plate_current: float | None = None  # A
    plate_power: float | None = None  # W
    error: float = 0.02  # of current and power, relative, one standard deviation


@dataclass(frozen=True, slots=True, kw_only=True)
class CordAsked:
    """The cord to the motor."""

    length: float  # m
    area: float  # m2
    stranded: float  # resistance over that of solid copper of this section


@dataclass(frozen=True, slots=True, kw_only=True)
class RestAsked:
    """A machine at rest that no job describes."""

    tube: GasTube
    sides: Sides


@dataclass(frozen=True, slots=True, kw_only=True)
class StartGearAsked:
    """Everything one question about start gear may hold."""

    atmosphere: float  # Pa
    refrigerant: str | None
    frequency: float | None  # Hz
    motor_power: float | None  # W, shaft, for the usual capacitor
    capacitor: CapacitorAsked | None
    meter: MeterAsked
    cord: CordAsked | None
    device: Device | None
    torque: Torque | None
    off_time: float | None  # s
    rest: RestAsked | None
    load: Load | None  # of the job's machine
    job: Job | None = None
    parts: PartsRecord | None = None


def start_gear(asked: StartGearAsked) -> StartGearRecord:
    """Answer everything that was asked about start gear.

    Raises
    ------
    JobError
        A number is missing.
    OutOfRange
        Readings that contradict each other, or a size that cannot be.
    """
    from sweatline.safety.start_gear import NAMEPLATE_FIRST
    from sweatline.study.recording import cautions, job_record

    notes: list[str] = []
    relay = _relay(asked)
    rest = asked.rest
    if rest is None and asked.load is not None:
        rest = RestAsked(tube=asked.load.tube, sides=asked.load.sides)
    return StartGearRecord(
        command="start-gear",
        version=sweatline.__version__,
        job=job_record(asked.job) if asked.job is not None else None,
        cautions=cautions([asked.refrigerant], {"electrical"}),
        atmospheric_pressure_Pa=asked.atmosphere,
        parts=asked.parts,
        refrigerant=asked.refrigerant,
        usual_start_size=_usual(asked, notes),
        capacitor=_capacitor(asked, asked.capacitor, notes) if asked.capacitor else None,
        relay=relay,
        equalising=_equalising(asked, rest, relay, notes) if rest is not None else None,
        motor=_motor(asked.meter, notes),
        pull_down=_pull_down(asked, asked.load, notes) if asked.load is not None else None,
        cord=_cord(asked, asked.cord) if asked.cord is not None else None,
        like_for_like=NAMEPLATE_FIRST,
        notes=tuple(notes),
    )


def _usual(asked: StartGearAsked, notes: list[str]) -> UsualSizeRecord | None:
    from sweatline.safety.capacitors import usual_start_size

    if asked.motor_power is None:
        return None
    voltage = asked.meter.plate_voltage or asked.meter.voltage
    if voltage is None:
        raise JobError(
            what="the usual capacitor depends on the motor's voltage",
            allowed="give it",
            field="--plate-volts",
        )
    found = usual_start_size(asked.motor_power, voltage)
    if found is None:
        notes.append("usual start capacitors are listed for motors of 1/8 to 1 hp only")
        return None
    return UsualSizeRecord(
        low_F=found.low,
        high_F=found.high,
        voltage_class=found.voltage,
        sentence=found.sentence,
        status=found.status,
    )


def _capacitor(asked: StartGearAsked, told: CapacitorAsked, notes: list[str]) -> CapacitorRecord:
    from sweatline.safety.capacitors import (
        DISCHARGE_STEPS,
        SAFE_VOLTAGE,
        discharge,
        judge_reading,
        judge_replacement,
    )
    from sweatline.safety.start_gear import capacitor_current, capacitor_reactive_power

    read = judge_reading(
        use=told.use,
        marked_low=told.low,
        marked_high=told.high,
        read=told.read if told.read is not None else told.low,
        meter_sd=asked.meter.error,
    )
    middle = 0.5 * (told.low + told.high)
    current = reactive = reactance = None
    if asked.frequency is not None:
        current = capacitor_current(
            capacitance=middle, voltage=told.voltage, frequency=asked.frequency
        )
        reactive = capacitor_reactive_power(
            capacitance=middle, voltage=told.voltage, frequency=asked.frequency
        )
        reactance = told.voltage / current
    if told.use == "start":
        notes.append(
            "a start capacitor is made for seconds: one that stays in circuit bursts; a bleeder of "
            "15 kohm 2 W across it spares the relay's contacts"
        )
    if told.use == "run" and not 1e-6 <= middle <= 100e-6:
        notes.append("run capacitors have 1.5 to 100 µF: is this one a start capacitor?")
    offered = None
    if told.offered is not None:
        offered = judge_replacement(
            use=told.use,
            marked_low=told.low,
            marked_high=told.high,
            voltage=told.voltage,
            offered=told.offered[0],
            offered_voltage=told.offered[1],
        )
    empty = discharge(capacitance=read.high, voltage=told.voltage, resistance=told.resistor)
    return CapacitorRecord(
        use=told.use,
        marked_low_F=told.low,
        marked_high_F=told.high,
        voltage_V=told.voltage,
        reactance_ohm=reactance,
        current_A=current,
        reactive_var=reactive,
        read_F=told.read,
        read_verdict=read.verdict if told.read is not None else None,
        read_sentence=read.sentence if told.read is not None else "",
        allowed_low_F=read.low,
        allowed_high_F=read.high,
        allowed_status=read.status,
        offered_F=told.offered[0] if told.offered is not None else None,
        offered_voltage_V=told.offered[1] if told.offered is not None else None,
        offered_verdict=offered.verdict if offered is not None else None,
        offered_sentence=offered.sentence if offered is not None else "",
        discharge=DischargeRecord(
            resistance_ohm=told.resistor,
            start_V=empty.start,
            safe_V=SAFE_VOLTAGE,
            energy_J=empty.energy,
            time_s=empty.time,
            hold_s=empty.hold,
            first_power_W=empty.first_power,
            first_current_A=empty.first_current,
            steps=DISCHARGE_STEPS,
        ),
    )


def _relay(asked: StartGearAsked) -> RelayRecord | None:
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
            field="--torque",
        )
    wait, behaviour, status = _DEVICES[device]
    return RelayRecord(
        device=device,
        starting_torque=torque,
        wait_s=wait if torque != "high" else 0.0,
        behaviour=behaviour,
        status=status,
    )


def _band(values: Sequence[float]) -> BandRecord:
    import numpy as np

    low, median, high = (float(v) for v in np.percentile(np.asarray(values), [5.0, 50.0, 95.0]))
    return BandRecord(low=low, median=median, high=high)


def _equalising(
    asked: StartGearAsked, rest: RestAsked, relay: RelayRecord | None, notes: list[str]
) -> EqualisingRecord:
    from sweatline.bench.equalising import equalising_times
    from sweatline.safety.start_gear import EQUAL_ENOUGH, start_verdict

    times = equalising_times(rest.tube, rest.sides, left=EQUAL_ENOUGH)
    notes.append(
        "the time to equalise is an estimate with wide bounds: what a cold coil swallows and how "
        "fast the condenser cools is drawn, not reckoned; two gauges that agree decide"
    )
    torque: Torque = relay.starting_torque if relay is not None else "unknown"
    equal = start = None
    verdict: Judged
    if asked.off_time is None:
        # Judged as at the moment of the stop.
        judged = start_verdict(
            starting_torque=torque, difference=rest.sides.high_pressure - rest.sides.low_pressure
        )
        verdict, sentence = judged.verdict, judged.sentence
    else:
        equal = float((times <= asked.off_time).mean())
        cooled = relay is None or asked.off_time >= relay.wait_s
        known = relay is not None and relay.device != "unknown"
        if torque == "low" and (known or cooled):
            start = equal if cooled else 0.0
        verdict, sentence = _after(torque, equal, cooled, known)
    return EqualisingRecord(
        high_pressure_Pa=rest.sides.high_pressure,
        low_pressure_Pa=rest.sides.low_pressure,
        high_gas_volume_m3=rest.sides.high_volume,
        low_gas_volume_m3=rest.sides.low_volume,
        liquid_kg=rest.sides.liquid,
        bore_m=rest.tube.bore,
        length_m=rest.tube.length,
        equal_enough_Pa=EQUAL_ENOUGH,
        time_s=_band(times.tolist()),
        off_time_s=asked.off_time,
        chance_equal=equal,
        chance_start=start,
        verdict=verdict,
        sentence=sentence,
    )


def _after(torque: Torque, equal: float, cooled: bool, known: bool) -> tuple[Judged, str]:
    if torque == "high":
        return (
            "ok",
            "a high-torque motor may start against what is left, given its start capacitor",
        )
    if not cooled and not known:
        return "marginal", "if a PTC starts it, that is still hot: give it five minutes"
    if not cooled:
        return "wrong", "the start device is still hot: it passes nothing to the start winding"
    if equal >= 0.95:
        return "ok", "the sides are equal by then"
    low = "a low-torque motor" if torque == "low" else "a motor of unknown torque"
    if equal <= 0.05:
        return "wrong", f"the sides are not equal yet: {low} hums until the protector opens"
    return "marginal", f"the sides may not be equal yet: {low} may hum until the protector opens"


def _motor(told: MeterAsked, notes: list[str]) -> MotorRecord | None:
    from scipy.special import ndtr

    from sweatline.safety.start_gear import apparent_power, power_factor, voltage_verdict

    loaded = told.current is not None or told.power is not None
    if not loaded and (told.voltage is None or told.plate_voltage is None):
        return None
    factor = plate_factor = apparent = None
    if told.voltage is not None and told.current is not None:
        apparent = apparent_power(voltage=told.voltage, current=told.current)
        if told.power is not None:
            factor = power_factor(power=told.power, voltage=told.voltage, current=told.current)
    if told.plate_voltage and told.plate_current and told.plate_power:
        plate_factor = min(told.plate_power / (told.plate_voltage * told.plate_current), 1.0)
    volts = None
    if told.voltage is not None and told.plate_voltage is not None:
        volts = voltage_verdict(supply=told.voltage, plate=told.plate_voltage)

    def over(read: float | None, plate: float | None) -> tuple[float | None, float | None]:
        if read is None or plate is None:
            return None, None
        return read / plate, float(ndtr((1.0 - plate / read) / told.error))

    amps_ratio, current_over = over(told.current, told.plate_current)
    watts_ratio, power_over = over(told.power, told.plate_power)
    known = [c for c in (current_over, power_over) if c is not None]
    verdict: Judged | None = None
    sentence = "no plate to hold it against" if loaded else ""
    if known:
        worst = max(known)
        if worst > 0.95:
            verdict, sentence = "wrong", "it takes more than the plate allows"
        elif worst > 0.05:
            verdict, sentence = "marginal", "it takes what the plate allows, as near as the meter"
        else:
            verdict, sentence = "ok", "it takes no more than the plate"
        if verdict != "ok":
            sentence += (
                "; in the first minutes after a warm start that is usual, once settled it is not: "
                "look for high head pressure, low voltage, an overcharge or a tight compressor"
            )
    if amps_ratio is not None and watts_ratio is not None and amps_ratio > 1.1 * watts_ratio:
        notes.append(
            "the current is further above the plate than the power: a dead run capacitor, low "
            "voltage, or a start winding that stayed in circuit looks like this"
        )
    if factor is not None and plate_factor is not None and factor < plate_factor - 0.15:
        notes.append("the power factor is well below the plate's: look at the run capacitor")
    return MotorRecord(
        voltage_V=told.voltage,
        current_A=told.current,
        power_W=told.power,
        power_factor=factor,
        apparent_VA=apparent,
        plate=told.plate,
        plate_voltage_V=told.plate_voltage,
        plate_current_A=told.plate_current,
        plate_power_W=told.plate_power,
        plate_power_factor=plate_factor,
        amps_ratio=amps_ratio,
        watts_ratio=watts_ratio,
        chance_amps_over=current_over,
        chance_watts_over=power_over,
        voltage_sentence=volts.sentence if volts is not None else "",
        voltage_holds=volts.holds if volts is not None else None,
        verdict=verdict,
        sentence=sentence,
    )


def _pull_down(asked: StartGearAsked, load: Load, notes: list[str]) -> PullDownRecord:
    settled, hardest = load.settled, load.hardest
    notes.append(
        "the hardest minute is drawn between bounds: the evaporator as cold as when settled or as "
        "warm as the room, the condenser as warm as when settled or following the load at once; a "
        "cold shell and oil full of refrigerant are left out"
    )
    over = hard_over = None
    verdict: Judged | None = None
    sentence = "the plate of this compressor says no watts: nothing to hold it against"
    if load.plate is not None:
        over = float((settled > load.plate).mean())
        hard_over = float((hardest > load.plate).mean())
        plate = float(load.plate.mean())
        if over > 0.5:
            verdict, sentence = "wrong", "it will settle above its plate: the motor is too small"
        elif over > 0.05:
            verdict, sentence = "marginal", "it may settle above its plate"
        elif hard_over > 0.5:
            verdict = "marginal"
            sentence = (
                "it settles within its plate, but not while it pulls down: for minutes that is "
                "usual; from warm let it run in steps if the protector opens"
            )
        else:
            verdict, sentence = "ok", "it stays within its plate, pull-down too"
    amps = load.per_amp
    return PullDownRecord(
        settled_power_W=_band(settled.tolist()),
        hardest_power_W=_band(hardest.tolist()),
        settled_current_A=_band((settled / amps).tolist()) if amps else None,
        hardest_current_A=_band((hardest / amps).tolist()) if amps else None,
        hardest_evaporating_K=load.evaporating,
        plate_power_W=plate if load.plate is not None else None,
        chance_settled_over=over,
        chance_hardest_over=hard_over,
        draws=int(settled.size),
        verdict=verdict,
        sentence=sentence,
    )


def _cord(asked: StartGearAsked, told: CordAsked) -> CordRecord:
    from sweatline.bench.cord import cord_drop, wire_resistance
    from sweatline.safety.start_gear import voltage_verdict

    meter = asked.meter
    supply = meter.voltage or meter.plate_voltage
    current = meter.plate_current or meter.current
    for value, option in ((supply, "--volts"), (current, "--plate-amps")):
        if value is None:
            raise JobError(
                what="the drop of a cord depends on voltage and current",
                allowed="give both, or a job file whose compressor has them on its plate",
                field=option,
            )
    assert supply is not None
    assert current is not None
    resistance = wire_resistance(length=told.length, area=told.area, stranded=told.stranded)
    found = cord_drop(supply=supply, current=current, resistance=resistance)
    judged = voltage_verdict(
        supply=supply, plate=meter.plate_voltage or supply, drop=found.running_drop
    )
    return CordRecord(
        length_m=told.length,
        area_m2=told.area,
        resistance_one_way_ohm=resistance,
        supply_V=supply,
        current_A=current,
        running_drop_V=found.running_drop,
        running_share=found.running_share,
        running_holds=judged.holds,
        running_sentence=judged.sentence,
        starting_current_A=found.starting_current,
        starting_voltage_V=found.starting_voltage,
        starting_torque_share=found.starting_torque,
        status="starting current MEMORY 0.65; limits and stranding MEMORY 0.85",
    )

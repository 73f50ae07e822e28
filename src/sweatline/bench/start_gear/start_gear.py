"""Will it start, and is the motor overloaded? Capacitor, relay, rest, load and cord together."""

from __future__ import annotations

from typing import Final

import sweatline
from sweatline.answers import range_of
from sweatline.bench.start_gear.motor_judgement import cord, motor, pull_down
from sweatline.bench.start_gear.records import (
    CapacitorRecord,
    DischargeRecord,
    EqualisingRecord,
    RelayRecord,
    StandingRecord,
    StartGearRecord,
    UsualSizeRecord,
)
from sweatline.bench.start_gear.request import (
    CapacitorAsked,
    Device,
    Judged,
    RestAsked,
    StartGearAsked,
    Torque,
)
from sweatline.errors import JobError

__all__ = ["start_gear"]

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


_MANY_STARTS: Final = 4  # within an hour, common practice
_LONG: Final = 0.95  # chance that the sides are equal, beyond which gauges should agree


def start_gear(asked: StartGearAsked) -> StartGearRecord:
    """Answer everything that was asked about start gear.

    Raises
    ------
    JobError
        A number is missing.
    OutOfRange
        Readings that contradict each other, or a size that cannot be.
    """
    from sweatline.job.summary import summary_of
    from sweatline.safety.cautions import cautions_of
    from sweatline.safety.start_gear import NAMEPLATE_FIRST

    notes: list[str] = list(asked.account.notes)
    relay = _relay(asked)
    _tell_the_log(asked, notes)
    rest = asked.rest
    if rest is None and asked.load is not None:
        rest = RestAsked(tube=asked.load.tube, sides=asked.load.sides)
    equalising = _equalising(asked, rest, relay, notes) if rest is not None else None
    standing = _standing(asked, relay) if asked.standing is not None else None
    if standing is not None and equalising is not None:
        apart = abs(standing.head_Pa - standing.suction_Pa) > standing.equal_enough_Pa
        if apart and equalising.chance_equal is not None and equalising.chance_equal > _LONG:
            notes.append(
                "the gauges still differ where the sides should be equal by now: a valve at a "
                "hose that is shut, a gauge that is wrong, or a capillary or drier nearly blocked"
            )
    return StartGearRecord(
        command="start-gear",
        version=sweatline.__version__,
        job=summary_of(asked.job) if asked.job is not None else None,
        cautions=cautions_of([asked.refrigerant], work={"electrical"}),
        atmospheric_pressure_Pa=asked.atmosphere,
        log_path=asked.account.path,
        taken=asked.account.taken,
        parts=asked.parts,
        refrigerant=asked.refrigerant,
        usual_start_size=_usual(asked, notes),
        capacitor=_capacitor(asked, asked.capacitor, notes) if asked.capacitor else None,
        relay=relay,
        equalising=equalising,
        standing=standing,
        running=asked.running,
        starts_last_hour=asked.starts,
        barred=asked.barred,
        motor=motor(asked.meter, notes),
        pull_down=pull_down(asked.load, notes) if asked.load is not None else None,
        cord=cord(asked, asked.cord) if asked.cord is not None else None,
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


def _equalising(
    asked: StartGearAsked, rest: RestAsked, relay: RelayRecord | None, notes: list[str]
) -> EqualisingRecord:
    from sweatline.bench.start_gear.equalising import equalising_times
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
        time_s=range_of(times.tolist()),
        off_time_s=asked.off_time,
        chance_equal=equal,
        chance_start=start,
        verdict=verdict,
        sentence=sentence,
    )


def _standing(asked: StartGearAsked, relay: RelayRecord | None) -> StandingRecord:
    """What two gauges say decides, whatever was reckoned."""
    from sweatline.safety.start_gear import EQUAL_ENOUGH

    told = asked.standing
    assert told is not None
    torque: Torque = relay.starting_torque if relay is not None else "unknown"
    equal = abs(told.head - told.suction) <= EQUAL_ENOUGH
    cooled = asked.off_time is None or relay is None or asked.off_time >= relay.wait_s
    known = relay is not None and relay.device != "unknown"
    verdict, sentence = _after(torque, 1.0 if equal else 0.0, cooled, known)
    if equal and verdict == "ok" and torque != "high":
        sentence = "the gauges agree: the sides are equal, so it may start"
    return StandingRecord(
        head_Pa=told.head,
        suction_Pa=told.suction,
        equal_enough_Pa=EQUAL_ENOUGH,
        off_time_s=asked.off_time,
        verdict=verdict,
        sentence=sentence,
    )


def _tell_the_log(asked: StartGearAsked, notes: list[str]) -> None:
    """What the log says of starts and stops, beside the answer."""
    if asked.running:
        notes.append(
            "by the log it is running: how long it must stand is asked again after the stop"
        )
    elif asked.off_time is not None and not (asked.standing or asked.rest or asked.load):
        notes.append(
            "whether the sides are equal is not known: read both gauges now, or give a job, or "
            "--tube with pressures and volumes"
        )
    if asked.starts is not None and asked.starts >= _MANY_STARTS:
        notes.append(
            f"{asked.starts} starts within the last hour: the winding and a PTC need minutes to "
            "cool between two tries"
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

"""What a motor takes, against its plate: as read, as foretold for a job, and through a cord."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sweatline.answers import range_of
from sweatline.bench.start_gear.records import CordRecord, MotorRecord, PullDownRecord
from sweatline.errors import JobError

if TYPE_CHECKING:
    from sweatline.bench.start_gear.motor_load import Load
    from sweatline.bench.start_gear.request import CordAsked, Judged, MeterAsked, StartGearAsked

__all__ = ["cord", "motor", "pull_down"]


def motor(told: MeterAsked, notes: list[str]) -> MotorRecord | None:
    """Readings of the running motor against its plate; None without any."""
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


def pull_down(load: Load, notes: list[str]) -> PullDownRecord:
    """What a job's motor will take, settled and in the hardest minute."""
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
        settled_power_W=range_of(settled.tolist()),
        hardest_power_W=range_of(hardest.tolist()),
        settled_current_A=range_of((settled / amps).tolist()) if amps else None,
        hardest_current_A=range_of((hardest / amps).tolist()) if amps else None,
        hardest_evaporating_K=load.evaporating,
        plate_power_W=plate if load.plate is not None else None,
        chance_settled_over=over,
        chance_hardest_over=hard_over,
        draws=int(settled.size),
        verdict=verdict,
        sentence=sentence,
    )


def cord(asked: StartGearAsked, told: CordAsked) -> CordRecord:
    """What a cord leaves of the voltage.

    Raises
    ------
    JobError
        Voltage or current is not known.
    """
    from sweatline.bench.start_gear.cord import cord_drop, wire_resistance
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

"""What a motor takes, against its plate: as read, as calculated for a job, and behind a cord."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Literal

from scipy.special import ndtr

from sweatline.answers import Answer, Q, Range, range_of
from sweatline.bench.start_gear.cord import (
    STRANDED,
    CordDrop,
    cord_drop,
    gauge_area,
    wire_resistance,
)
from sweatline.bench.start_gear.motor_load import Load
from sweatline.errors import JobError
from sweatline.job.model import Compressor, Job
from sweatline.safety.start_gear import (
    VoltageVerdict,
    apparent_power,
    power_factor,
    voltage_verdict,
)

Judged = Literal["ok", "marginal", "wrong"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """Readings of the running motor; anything may be missing."""

    voltage: float | None = None  # V
    current: float | None = None  # A
    power: float | None = None  # W
    at_plug: bool = False  # the fan is in the readings
    error: float = 0.02  # of current and power, relative, one standard deviation


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """The plate that readings are held against; anything may be missing."""

    whose: Literal["typed", "compressor", "machine", "compressor without fan"] = "typed"
    name: str = "the plate"
    voltage: float | None = None  # V
    current: float | None = None  # A
    power: float | None = None  # W


@dataclass(frozen=True, slots=True, kw_only=True)
class CordRequest:
    """The cord to the motor."""

    length: float  # m
    area: float | None = None  # m2, of a metric cord
    gauge: float | None = None  # American wire gauge, where no area is marked


@dataclass(frozen=True, slots=True, kw_only=True)
class Motor(Answer):
    """What a meter shows against the plate."""

    voltage: Annotated[float | None, Q("voltage")]
    current: Annotated[float | None, Q("current")]
    power: Annotated[float | None, Q("power")]
    power_factor: float | None
    apparent: Annotated[float | None, Q("power", unit="VA")]
    plate: str
    """Whose plate it is held against, in words."""
    plate_of: Literal["typed", "compressor", "machine", "compressor without fan"]
    plate_voltage: Annotated[float | None, Q("voltage")]
    plate_current: Annotated[float | None, Q("current")]
    plate_power: Annotated[float | None, Q("power")]
    plate_power_factor: float | None
    amps_ratio: float | None
    watts_ratio: float | None
    chance_amps_over: float | None
    """That the true current is above the plate, by the meter's error."""
    chance_watts_over: float | None
    supply: VoltageVerdict | None
    """The voltage read, against the plate's."""
    verdict: Judged | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PullDown(Answer):
    """Load of the motor by the model of the job's machine: settled, and at pull-down peak."""

    settled_power: Annotated[Range, Q("power", "settled", "Of the compressor, without the fan.")]
    hardest_power: Annotated[Range, Q("power", "pull-down peak load")]
    settled_current: Annotated[
        Range | None,
        Q("current", doc="At the plate's power factor and the job's voltage; null when the plate "
          "does not give it.", digits=2),
    ]  # fmt: skip
    hardest_current: Annotated[Range | None, Q("current", digits=2)]
    hardest_evaporating: Annotated[float, Q("temperature", doc="Median.")]
    plate_power: Annotated[float | None, Q("power")]
    chance_settled_over: float | None
    chance_hardest_over: float | None
    draws: int
    """Trial runs behind ranges and chances."""
    verdict: Judged | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cord(Answer):
    """Voltage behind a cord."""

    length: Annotated[float, Q("length")]
    area: Annotated[float, Q("area")]
    gauge: float | None
    """American wire gauge; null for a cord marked with its section."""
    supply: Annotated[float, Q("voltage")]
    current: Annotated[float, Q("current")]
    drop: CordDrop
    running: VoltageVerdict


def plate_and_meter(
    plate: Plate, meter: Meter, job: Job | None, compressor: Compressor | None
) -> tuple[Plate, Meter]:
    """Plate and readings, with what a job says where nobody typed it.

    At the plug the fan is in the readings: they are held against the machine's plate, or the fan's
    watts are taken off.
    """
    whose, name = plate.whose, plate.name
    volts, amps, watts = plate.voltage, plate.current, plate.power
    if compressor is not None and amps is None and watts is None:
        whose, name = "compressor", f"the plate of {compressor.name}"
        amps = compressor.rated_current.value if compressor.rated_current is not None else None
        watts = compressor.rated_power.value if compressor.rated_power is not None else None
    if compressor is not None and volts is None:
        volts = compressor.rated_voltage
    power, read = meter.power, meter.voltage
    if job is not None and meter.at_plug and whose == "compressor":
        whole = job.original
        if whole.power is not None or whole.current is not None:
            whose, name = "machine", "the plate of the machine, fan included"
            watts = whole.power.value if whole.power is not None else None
            amps = whole.current.value if whole.current is not None else None
        elif power is not None:
            whose = "compressor without fan"
            name += f", the fan's {job.fan.power.value:.0f} W taken off"
            power = max(power - job.fan.power.value, 1.0)
            amps = None
    return (
        Plate(whose=whose, name=name, voltage=volts, current=amps, power=watts),
        Meter(voltage=read, current=meter.current, power=power, error=meter.error),
    )


def against_plate(plate: Plate, meter: Meter, notes: list[str]) -> Motor | None:
    """Readings of the running motor against its plate; None without any."""
    loaded = meter.current is not None or meter.power is not None
    if not loaded and (meter.voltage is None or plate.voltage is None):
        return None
    factor = plate_factor = apparent = None
    if meter.voltage is not None and meter.current is not None:
        apparent = apparent_power(voltage=meter.voltage, current=meter.current)
        if meter.power is not None:
            factor = power_factor(power=meter.power, voltage=meter.voltage, current=meter.current)
    if plate.voltage and plate.current and plate.power:
        plate_factor = min(plate.power / (plate.voltage * plate.current), 1.0)

    def over(read: float | None, rated: float | None) -> tuple[float | None, float | None]:
        if read is None or rated is None:
            return None, None
        return read / rated, float(ndtr((1.0 - rated / read) / meter.error))

    amps_ratio, current_over = over(meter.current, plate.current)
    watts_ratio, power_over = over(meter.power, plate.power)
    known = [c for c in (current_over, power_over) if c is not None]
    verdict: Judged | None = None
    sentence = "no plate is known to compare it with" if loaded else ""
    if known:
        verdict, sentence = _judged(max(known))
    if amps_ratio is not None and watts_ratio is not None and amps_ratio > 1.1 * watts_ratio:
        notes.append(
            "the current is further above the plate than the power: a dead run capacitor, low "
            "voltage, or a start winding that stayed in circuit looks like this"
        )
    if factor is not None and plate_factor is not None and factor < plate_factor - 0.15:
        notes.append("the power factor is well below the plate's: look at the run capacitor")
    return Motor(
        voltage=meter.voltage,
        current=meter.current,
        power=meter.power,
        power_factor=factor,
        apparent=apparent,
        plate=plate.name,
        plate_of=plate.whose,
        plate_voltage=plate.voltage,
        plate_current=plate.current,
        plate_power=plate.power,
        plate_power_factor=plate_factor,
        amps_ratio=amps_ratio,
        watts_ratio=watts_ratio,
        chance_amps_over=current_over,
        chance_watts_over=power_over,
        supply=None
        if meter.voltage is None or plate.voltage is None
        else voltage_verdict(supply=meter.voltage, plate=plate.voltage),
        verdict=verdict,
        sentence=sentence,
    )


def _judged(over: float) -> tuple[Judged, str]:
    """Verdict on a chance that the true reading is above the plate."""
    if over <= 0.05:
        return "ok", "it takes no more than the plate"
    usual = (
        "; in the first minutes after a warm start that is usual, once settled it is not: look "
        "for high head pressure, low voltage, an overcharge or a tight compressor"
    )
    if over > 0.95:
        return "wrong", "it takes more than the plate allows" + usual
    return "marginal", "it takes what the plate allows, as near as the meter tells" + usual


def pull_down(load: Load, notes: list[str]) -> PullDown:
    """What a job's motor will take, settled and at the peak of the pull-down."""
    settled, hardest = load.settled, load.hardest
    notes.append(
        "the pull-down peak lies between bounds: the evaporator as cold as when settled or as warm "
        "as the room, the condenser as warm as when settled or following the load at once; a cold "
        "shell and oil full of refrigerant are left out"
    )
    plate = over = hard_over = None
    verdict: Judged | None = None
    sentence = "the plate of this compressor says no watts: nothing to compare with"
    if load.plate is not None:
        over = float((settled > load.plate).mean())
        hard_over = float((hardest > load.plate).mean())
        plate = float(load.plate.mean())
        verdict, sentence = _load_judged(over, hard_over)
    amps = load.per_amp
    return PullDown(
        settled_power=range_of(settled),
        hardest_power=range_of(hardest),
        settled_current=range_of(settled / amps) if amps else None,
        hardest_current=range_of(hardest / amps) if amps else None,
        hardest_evaporating=load.evaporating,
        plate_power=plate,
        chance_settled_over=over,
        chance_hardest_over=hard_over,
        draws=int(settled.size),
        verdict=verdict,
        sentence=sentence,
    )


def _load_judged(over: float, hard_over: float) -> tuple[Judged, str]:
    if over > 0.5:
        return "wrong", "it will settle above its plate: the motor is too small"
    if over > 0.05:
        return "marginal", "it may settle above its plate"
    if hard_over > 0.5:
        return "marginal", (
            "it settles within its plate, but not while it pulls down: for minutes that is usual; "
            "from warm let it run in steps if the protector opens"
        )
    return "ok", "it stays within its plate, pull-down too"


def behind_cord(told: CordRequest, plate: Plate, meter: Meter) -> Cord:
    """What a cord leaves of the voltage.

    Raises
    ------
    JobError
        Voltage or current is not known.
    """
    supply = meter.voltage or plate.voltage
    current = plate.current or meter.current
    if supply is None or current is None:
        raise JobError(
            what="the drop of a cord depends on voltage and current",
            allowed="give both, or a job file whose compressor has them on its plate",
            field="volts" if supply is None else "plate_amps",
        )
    area, stranded = told.area, STRANDED["metric"]
    if area is None:
        area, stranded = (
            gauge_area(told.gauge if told.gauge is not None else math.nan),
            STRANDED["gauge"],
        )
    drop = cord_drop(
        supply=supply,
        current=current,
        resistance=wire_resistance(length=told.length, area=area, stranded=stranded),
    )
    return Cord(
        length=told.length,
        area=area,
        gauge=told.gauge,
        supply=supply,
        current=current,
        drop=drop,
        running=voltage_verdict(
            supply=supply, plate=plate.voltage or supply, drop=drop.running_drop
        ),
    )

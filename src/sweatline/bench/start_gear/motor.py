"""What a motor takes, against its plate: as read, as calculated for a job, and behind a cord.

The load in a job's machine, settled and at the peak of the pull-down, comes out of trial runs.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from sweatline.answers import Answer, Q, Range, need, range_of
from sweatline.assembly.assemble import WorkingLimits
from sweatline.assembly.build import Build, build_for
from sweatline.assembly.trial_runs import trials
from sweatline.bench.start_gear.equalising import GasTube, Sides, sides_at_stop
from sweatline.errors import JobError, OutOfRange, SolveError, check_between, check_positive
from sweatline.job.model import Compressor, Job
from sweatline.machine.balance import SteadyState, filled
from sweatline.machine.circuit import MachineParameters
from sweatline.parts.compressor import operate
from sweatline.parts.motor import LOCKED_ROTOR, running_current
from sweatline.refrigerant.refrigerant import Refrigerant
from sweatline.safety.start_gear import (
    VoltageVerdict,
    apparent_power,
    power_factor,
    voltage_verdict,
)

_RESISTIVITY: Final = 1.7241e-8  # ohm*m, annealed copper at 20 °C, IEC 60028
_PER_KELVIN: Final = 0.00393  # 1/K, likewise
_REFERENCE: Final = 293.15  # K

# Flexible conductors are allowed more than their nominal section says: of 0.75 to 2.5 mm2 by 13 to
# 16 % (IEC 60228 class 5), of American gauges by some 3 % for the lay of the strands. MEMORY 0.85.
STRANDED: Final = {"metric": 1.15, "gauge": 1.03}

_AWG: Final = re.compile(r"(?i)^(?:awg\s*#?\s*(\d+)|#?\s*(\d+)\s*(?:awg|ga|gauge))$")


@dataclass(frozen=True, slots=True, kw_only=True)
class CordDrop(Answer):
    """What a motor gets behind a cord. Pairs: with the lower and the higher starting current."""

    resistance: Annotated[float, Q("resistance", doc="Of one wire.")]
    running_drop: Annotated[float, Q("voltage")]
    running_share: float
    """Of the supply."""
    starting_current: Annotated[tuple[float, ...], Q("current")]
    starting_voltage: Annotated[tuple[float, ...], Q("voltage", doc="At the motor.")]
    starting_torque: tuple[float, ...]
    """Share of the torque at the supply's full voltage."""
    status: str = "starting current MEMORY 0.65; limits and stranding MEMORY 0.85"


def gauge_area(gauge: float) -> float:
    """Cross-section of an American wire gauge: d = 0.127 mm 92^((36 - n)/39), ASTM B258. [m2]

    Parameters
    ----------
    gauge : float
        AWG number, 0 to 30. [-]
    """
    check_between("no wire of a cord", "gauge", gauge, 0.0, 30.0)
    d = 0.127e-3 * math.pow(92.0, (36.0 - gauge) / 39.0)
    return 0.25 * math.pi * d * d


def wire_resistance(
    *, length: float, area: float, temperature: float = 313.15, stranded: float = 1.0
) -> float:
    """Resistance of one copper wire. [ohm]

    Parameters
    ----------
    length : float
        One way. [m]
    area : float
        Cross-section of the copper, 0.05 to 100 mm2. [m2]
    temperature : float
        Of the copper, 230 to 400 K; by default a cord in use. [K]
    stranded : float
        Resistance over that of solid copper of this section, see `STRANDED`. [-]
    """
    check_between("no such cord", "length", length, 0.0, 1000.0, "m")
    check_between("no such cord", "cross-section", area, 0.05e-6, 100e-6, "m2")
    check_between("no such cord", "temperature", temperature, 230.0, 400.0, "K")
    resistivity = _RESISTIVITY * (1.0 + _PER_KELVIN * (temperature - _REFERENCE))
    return stranded * resistivity * length / area


def cord_drop(*, supply: float, current: float, resistance: float) -> CordDrop:
    """Voltage behind a cord, the drop counted in phase: 2 I R, the worst power factor.

    While it stands still the motor is an impedance: what it draws falls with its voltage, so the
    cord and it divide the supply. Torque goes with the square of the voltage.

    Parameters
    ----------
    supply : float
        At the socket. [V]
    current : float
        Running, rated. [A]
    resistance : float
        Of one wire. [ohm]
    """
    check_positive("no such cord", "supply voltage", supply, "V")
    check_positive("no such cord", "current", current, "A")
    both = 2.0 * resistance
    drop = current * both
    shares = []
    for times in LOCKED_ROTOR:
        impedance = supply / (times * current)
        shares.append(impedance / (impedance + both))
    a, b = shares
    return CordDrop(
        resistance=resistance,
        running_drop=drop,
        running_share=drop / supply,
        starting_current=(LOCKED_ROTOR[0] * current * a, LOCKED_ROTOR[1] * current * b),
        starting_voltage=(supply * a, supply * b),
        starting_torque=(a * a, b * b),
    )


FloatArray = NDArray[np.float64]

_STEPS = 9  # evaporating temperatures looked at
_BELOW_CRITICAL = 0.85  # of the highest pressure in the table, as far as a condenser may follow


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What the motor of one combination carries, and its machine at the stop."""

    settled: FloatArray  # W, (n,)
    hardest: FloatArray  # W, (n,)
    evaporating: float  # K, at the peak, median
    plate: FloatArray | None  # W, (n,)
    plate_current: FloatArray | None  # A, (n,)
    settled_current: FloatArray  # A, (n,)
    hardest_current: FloatArray  # A, (n,)
    tube: GasTube
    sides: Sides


def hardest_power(
    fluid: Refrigerant,
    machine: MachineParameters,
    settled: SteadyState,
    *,
    follows: float,
    reaches: float,
) -> tuple[float, float]:
    """Most power while the evaporating temperature falls to where it settles.

    Parameters
    ----------
    follows : float
        0: the condenser stays as warm as when settled; 1: its distance from the air grows with
        the heat it has to give off, at once. [-]
    reaches : float
        How far up from where it settles the evaporating temperature stands once the compressor
        works against a warm condenser: 0 not at all, 1 as warm as the room. [-]

    Returns
    -------
    power : float
        [W]
    evaporating : float
        Dew temperature at which that is. [K]
    """

    air = settled.air_between[0]
    low_end, high_end = fluid.pressure_range
    cap = fluid.saturation_temperature(max(_BELOW_CRITICAL * high_end, low_end)).dew
    usual = fluid.saturation_temperature(settled.discharge_pressure).dew
    lift = max(usual - air, 1.0)
    load = max(settled.heating, 1.0)
    rise = max(machine.air.ambient - settled.evaporating_temperature, 1.0)
    top = settled.evaporating_temperature + reaches * rise
    return_gas = max(settled.suction_temperature, machine.air.ambient)
    best, where = settled.compressor_power, settled.evaporating_temperature
    for evaporating in np.linspace(settled.evaporating_temperature, top, _STEPS):
        condensing = max(usual, float(evaporating) + 2.0)
        power = 0.0
        for _ in range(12 if follows > 0.0 else 1):
            run = operate(
                fluid.table,
                machine.compressor,
                evaporating=float(evaporating),
                condensing=condensing,
                suction=max(return_gas, float(evaporating) + 1.0),
                liquid=condensing - 1.0,
            )
            power = run.power
            wanted = air + lift * max(1.0 + follows * ((run.capacity + power) / load - 1.0), 1.0)
            wanted = min(max(wanted, float(evaporating) + 2.0), cap)
            condensing += 0.6 * (wanted - condensing)
        if power > best:
            best, where = power, float(evaporating)
    return best, where


def job_load(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    draws: int = 32,
) -> tuple[Build, Load]:
    """Load of one combination in the job's room, filled as far as its evaporator asks.

    Parameters
    ----------
    length : float, optional
        Of the capillary. [m]
    draws : int
        Trial runs over everything uncertain, taken up to the next power of two.

    Raises
    ------
    SolveError
        The machine does not settle, or fewer than half of the trial runs do.
    """

    build = build_for(
        job, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    target = filled(superheat=job.targets.superheat)
    found = build.solve(target, near=build.designed)
    settled, hardest, where = [], [], []
    limits: list[WorkingLimits] = []
    amperes: list[tuple[float, float]] = []
    runs = trials(build, found, target, count=draws)
    for i, t in enumerate(runs):
        if t.balance is None:
            continue
        # Where both stand between their bounds is sampled evenly, apart from the rest (additive
        # sequence of the plastic number).
        follows = (0.5 + i * 0.7548776662466927) % 1.0
        reaches = (0.5 + i * 0.5698402909980532) % 1.0
        try:
            power, evaporating = hardest_power(
                build.refrigerant, t.machine, t.balance, follows=follows, reaches=reaches
            )
        except OutOfRange:
            continue
        settled.append(t.balance.compressor_power)
        hardest.append(power)
        motor = t.machine.motor
        now = running_current(motor, t.balance.compressor_power)
        most = running_current(motor, power)
        assert now is not None  # a job has a supply
        assert most is not None
        amperes.append((now, most))
        where.append(evaporating)
        limits.append(build.limits(build.by_key(t.z)))
    if len(settled) < len(runs) // 2:
        raise SolveError(condition="fewer than half of the trial runs of this machine settle")
    watts = [one.plate_power for one in limits if one.plate_power is not None]
    amps = [one.plate_current for one in limits if one.plate_current is not None]
    tube, sides = sides_at_stop(build, found)
    return build, Load(
        settled=np.array(settled),
        hardest=np.array(hardest),
        evaporating=float(np.median(where)),
        plate=np.array(watts) if watts else None,
        plate_current=np.array(amps) if amps else None,
        settled_current=np.array(amperes)[:, 0],
        hardest_current=np.array(amperes)[:, 1],
        tube=tube,
        sides=sides,
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


def _awg(text: str) -> dict[str, float]:
    """A wire by its American gauge, as "14 AWG"."""
    wire = _AWG.match(text.strip())
    if wire is None:
        return {}
    gauge = float(wire[1] or wire[2])
    return {"wire": gauge_area(gauge), "gauge": gauge}


@dataclass(frozen=True, slots=True, kw_only=True)
class CordRequest:
    """The cord to the motor."""

    length: float = need("One way.", "length", 0.1, 500.0)  # m
    wire: float = need(
        "Cross-section of the copper, or its American gauge.", "area", 0.05e-6, 100e-6,
        special=_awg,
    )  # fmt: skip
    # m2
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
        Range, Q("current", doc="By the plate or the kind of the motor.", digits=2)
    ]
    hardest_current: Annotated[Range, Q("current", digits=2)]
    hardest_evaporating: Annotated[float, Q("temperature", doc="Median.")]
    plate_power: Annotated[float | None, Q("power")]
    plate_current: Annotated[float | None, Q("current", digits=2)]
    chance_settled_over: float | None
    """That it settles above the plate's watts, or above its amps where it says no watts."""
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
    over = hard_over = None
    verdict: Judged | None = None
    sentence = "the plate of this compressor says no watts and no amps: nothing to compare with"
    if load.plate is not None:
        over = float((settled > load.plate).mean())
        hard_over = float((hardest > load.plate).mean())
    elif load.plate_current is not None:
        over = float((load.settled_current > load.plate_current).mean())
        hard_over = float((load.hardest_current > load.plate_current).mean())
    if over is not None and hard_over is not None:
        verdict, sentence = _load_judged(over, hard_over)
    return PullDown(
        settled_power=range_of(settled),
        hardest_power=_no_less(hardest, settled),
        settled_current=range_of(load.settled_current),
        hardest_current=_no_less(load.hardest_current, load.settled_current),
        hardest_evaporating=load.evaporating,
        plate_power=None if load.plate is None else float(load.plate.mean()),
        plate_current=None if load.plate_current is None else float(load.plate_current.mean()),
        chance_settled_over=over,
        chance_hardest_over=hard_over,
        draws=int(settled.size),
        verdict=verdict,
        sentence=sentence,
    )


def _no_less(hardest: FloatArray, settled: FloatArray) -> Range:
    """Range of the peak, no end of it below that of the settled load, as in every trial run."""
    peak, least = range_of(hardest), range_of(settled)
    return Range(
        low=max(peak.low, least.low),
        middle=max(peak.middle, least.middle),
        high=max(peak.high, least.high),
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
    stranded = STRANDED["metric" if told.gauge is None else "gauge"]
    drop = cord_drop(
        supply=supply,
        current=current,
        resistance=wire_resistance(length=told.length, area=told.wire, stranded=stranded),
    )
    return Cord(
        length=told.length,
        area=told.wire,
        gauge=told.gauge,
        supply=supply,
        current=current,
        drop=drop,
        running=voltage_verdict(
            supply=supply, plate=plate.voltage or supply, drop=drop.running_drop
        ),
    )

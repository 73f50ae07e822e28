"""What to fit: which start gear belongs to which motor, in which machine.

Tables first, each row with its source; below, the choice among them. A single-phase sealed motor is
of one of five types. Plate and old parts come first, always: the tables say what is usual, so that
a lost part can be looked for and a wrong one recognised.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Q
from sweatline.bench.start_gear.motor import Judged
from sweatline.constants import HORSEPOWER
from sweatline.errors import JobError
from sweatline.parts.motor import LOCKED_ROTOR, MotorKind
from sweatline.safety.capacitors import Use, usual_start_size

Device = Literal["ptc", "current", "potential", "none", "unknown"]
Torque = Literal["low", "high", "unknown"]
Metering = Literal["capillary", "valve"]
Part = Literal["start device", "start capacitor", "run capacitor", "overload"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Relay(Answer):
    """What starts the motor."""

    device: Device
    name: str
    starting_torque: Torque = "unknown"
    wait: Annotated[float, Q("time", doc="Of the device alone, before it can start again.")]
    behaviour: str
    check: str
    """How it is told to be good."""
    status: str
    source: str


RELAYS: Final = {
    relay.device: relay
    for relay in (
        Relay(
            device="ptc",
            name="PTC",
            wait=300.0,
            behaviour="a PTC heats in a second to thousands of ohms and stays hot while it runs; "
            "it must cool five minutes or more before it starts anything again, equal pressures "
            "or not",
            check="cold it reads 3 to 20 ohm",
            status="PUBLISHED",
            source="resistance: appliance service manual; five minutes before a new test: fault "
            "guide of a compressor maker, three at the least: engineering policy of another",
        ),
        Relay(
            device="current",
            name="current relay",
            wait=0.0,
            behaviour="a current relay closes on the inrush of the run winding, so its size "
            "belongs to this motor, and its contact falls by weight: mount it upright as marked",
            check="at rest its contact is open, its coil passes",
            status="MEMORY 0.85",
            source="common practice of compressor makers",
        ),
        Relay(
            device="potential",
            name="potential relay",
            wait=0.0,
            behaviour="a potential relay is closed at rest and opens as the voltage of the start "
            "winding rises, near three quarters of full speed; it goes with a start capacitor, is "
            "matched to the motor and mounted upright as marked",
            check="at rest its contact is closed",
            status="PUBLISHED",
            source="service text on hermetic motor types",
        ),
        Relay(
            device="none",
            name="none",
            wait=0.0,
            behaviour="nothing switches: the run capacitor stays in circuit, and the motor starts "
            "against equal sides only",
            check="",
            status="PUBLISHED",
            source="service text on hermetic motor types",
        ),
        Relay(
            device="unknown",
            name="not known",
            wait=300.0,
            behaviour="the start device is not known: give it the five minutes that a PTC needs "
            "to cool",
            check="",
            status="PUBLISHED",
            source="fault guide of a compressor maker",
        ),
    )
}


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorType:
    """One type of single-phase sealed motor."""

    kind: MotorKind
    meaning: str
    torque: Literal["low", "high"]
    devices: tuple[Device, ...]  # the first is taken where nobody says
    capacitors: tuple[Use, ...]
    largest: float  # W, size at the shaft up to which it is made
    rotary: bool  # whether rotary compressors have it
    status: str
    source: str


_HANDBOOK: Final = "service handbook of a compressor maker"

# In the order in which they are tried; devices in that of what a salvaged motor is easiest given.
MOTOR_TYPES: Final = (
    MotorType(
        kind="rsir", meaning="resistance start", torque="low", devices=("ptc", "current"),
        capacitors=(), largest=HORSEPOWER / 3.0, rotary=False, status="PUBLISHED",
        source=_HANDBOOK,
    ),
    MotorType(
        kind="rscr", meaning="resistance start, capacitor run", torque="low", devices=("ptc",),
        capacitors=("run",), largest=HORSEPOWER / 2.0, rotary=False, status="MEMORY 0.5",
        source="appliance service manuals for the wiring, no print for the size",
    ),
    MotorType(
        kind="psc", meaning="permanent split capacitor", torque="low", devices=("none",),
        capacitors=("run",), largest=5.0 * HORSEPOWER, rotary=True, status="PUBLISHED",
        source="service text on hermetic motor types",
    ),
    MotorType(
        kind="csir", meaning="capacitor start", torque="high", devices=("current", "potential"),
        capacitors=("start",), largest=0.75 * HORSEPOWER, rotary=False, status="PUBLISHED",
        source=_HANDBOOK,
    ),
    MotorType(
        kind="csr", meaning="capacitor start, capacitor run", torque="high",
        devices=("potential",), capacitors=("start", "run"), largest=5.0 * HORSEPOWER,
        rotary=True, status="PUBLISHED", source="service text on hermetic motor types",
    ),
)  # fmt: skip

# Reciprocating household compressors by the refrigerant they were made for, where all of a range
# start in one way. PUBLISHED, service manual of a compressor maker.
MADE_FOR_TORQUE: Final[dict[str, Literal["low", "high"]]] = {
    "R-600a": "low",
    "R-404A": "high",
    "R-507A": "high",
    "R-407C": "high",
}

# Run capacitors by the size of the motor: up to so many watts at the shaft, from, to, status.
_RUN: Final = (
    (HORSEPOWER / 3.0, 4e-6, 15e-6, "MEMORY 0.4"),
    (5.0 * HORSEPOWER, 1.5e-6, 60e-6, "PUBLISHED"),
)
START_DUTY: Final = 0.017  # share of time a start capacitor bears, as marked on it; PUBLISHED
_DUTY: Final = f"marked {100 * START_DUTY:.1f} %, it bears {3600 * START_DUTY:.0f} s in an hour"
_DUTY_SOURCE: Final = "service manual of a compressor maker"
_TRIP: Final = 1.40  # times the plate's current, at most; US electrical code, MEMORY 0.85


@dataclass(frozen=True, slots=True, kw_only=True)
class GearPart(Answer):
    """One part to fit."""

    part: Part
    what: str
    low: Annotated[float | None, Q("capacitance", doc="Usual, from; null where nothing tells.")]
    high: Annotated[float | None, Q("capacitance", doc="To.")]
    low_current: Annotated[float | None, Q("current", doc="A relay lies above this.")]
    high_current: Annotated[float | None, Q("current", doc="A relay or overload lies below this.")]
    status: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire(Answer):
    """One wire of the motor: from the mains or a pin, through parts, to a pin."""

    begin: Literal["L", "N", "S"]
    through: tuple[str, ...]
    end: Literal["C", "R", "S"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorGear(Answer):
    """One type that the motor may be, with all that belongs to it."""

    kind: MotorKind
    meaning: str
    torque: Torque
    device: Device
    instead: tuple[Device, ...]
    """Other devices that start this type."""
    capacitors: tuple[Use, ...]
    largest: Annotated[float, Q("motor size", doc="At the shaft, up to which it is made.")]
    parts: tuple[GearPart, ...]
    wires: tuple[Wire, ...]
    status: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ToFit(Answer):
    """Start gear for the motor in this machine."""

    equalises: Literal["yes", "no", "unknown"]
    """Whether both sides come equal while it stands."""
    motors: tuple[MotorGear, ...]
    """What the motor may be by all that is known; one when it is clear."""
    verdict: Judged
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownMotor:
    """What is known of a motor; None is not known."""

    kind: MotorKind | None = None
    torque: Torque = "unknown"
    device: Device = "unknown"
    found: Use | None = None  # a capacitor of this use was with it
    size: float | None = None  # W, at the shaft
    rotary: bool | None = None
    made_for: str | None = None
    metering: Metering | None = None
    voltage: float | None = None  # V, on the plate
    current: float | None = None  # A, likewise


def motor_types(known: KnownMotor) -> tuple[MotorType, ...]:
    """Types that a motor may be, by what is known of it; empty when nothing agrees.

    Raises
    ------
    JobError
        A start device or a torque that its type never has.
    """
    if known.kind is not None:
        (only,) = (t for t in MOTOR_TYPES if t.kind == known.kind)
        name = only.kind.upper()
        if known.torque not in ("unknown", only.torque):
            raise JobError(
                what=f"an {name} motor starts with {only.torque} torque",
                read=known.torque,
                allowed=only.torque,
                field="torque",
            )
        if known.device not in ("unknown", *only.devices):
            raise JobError(
                what=f"that does not start an {name} motor",
                read=known.device,
                allowed=", ".join(only.devices),
                field="device",
            )
        return (only,)
    torque = torque_of(known)
    return tuple(
        t
        for t in MOTOR_TYPES
        if torque in ("unknown", t.torque)
        and known.device in ("unknown", *t.devices)
        and (known.found is None or known.found in t.capacitors)
        and (known.size is None or known.size <= 1.02 * t.largest)
        and (not known.rotary or t.rotary)
    )


def torque_of(known: KnownMotor) -> Torque:
    """Starting torque: as told, by its type or device, by the refrigerant it was made for."""
    if known.kind is not None:
        return next(t.torque for t in MOTOR_TYPES if t.kind == known.kind)
    if known.torque != "unknown":
        return known.torque
    if known.device != "unknown":
        found = {t.torque for t in MOTOR_TYPES if known.device in t.devices}
        if len(found) == 1:
            return found.pop()
    if known.found == "start":
        return "high"
    if known.rotary is False and known.made_for in MADE_FOR_TORQUE:
        return MADE_FOR_TORQUE[known.made_for]
    return "unknown"


def gear_to_fit(known: KnownMotor) -> ToFit:
    """What to fit, by what is known of the motor and of the machine.

    Raises
    ------
    JobError
        A start device or a torque that its type never has.
    """
    equalises: Literal["yes", "no", "unknown"] = "unknown"
    if known.metering is not None:
        equalises = "yes" if known.metering == "capillary" else "no"
    possible = motor_types(known)
    verdict: Judged = "ok"
    if not possible:
        sentence = (
            "no usual motor agrees with all of this: torque, start device, capacitor or size is "
            "another's"
        )
        return ToFit(equalises=equalises, motors=(), verdict="wrong", sentence=sentence)
    sentence = _named(possible)
    if equalises == "no":
        strong = tuple(t for t in possible if t.torque == "high")
        if strong:
            possible = strong
            sentence = f"{_named(possible)}; behind a valve that shuts nothing else starts"
        else:
            verdict = "wrong"
            sentence = (
                "behind a valve that shuts the sides do not come equal, and this motor starts "
                "against equal sides only: fit a capillary, a valve that bleeds, or a compressor "
                "with a start capacitor"
            )
    elif len(possible) == 1 and known.size is not None:
        (only,) = possible
        if known.size > 1.02 * only.largest:
            verdict = "marginal"
            sentence += "; it is larger than motors of this type are made: look at its plate again"
    motors = tuple(_gear(t, known) for t in possible)
    return ToFit(equalises=equalises, motors=motors, verdict=verdict, sentence=sentence)


def _named(types: tuple[MotorType, ...]) -> str:
    names = [f"{t.kind.upper()}, {t.meaning}" for t in types]
    if len(types) == 1:
        return f"the motor is {names[0]}"
    return f"the motor may be {'; or '.join(names)}: plate, cover or the old parts tell which"


def _gear(motor: MotorType, known: KnownMotor) -> MotorGear:
    device = known.device if known.device in motor.devices else motor.devices[0]
    return MotorGear(
        kind=motor.kind,
        meaning=motor.meaning,
        torque=motor.torque,
        device=device,
        instead=tuple(d for d in motor.devices if d != device),
        capacitors=motor.capacitors,
        largest=motor.largest,
        parts=tuple(_parts(motor, device, known)),
        wires=tuple(_wires(motor, device)),
        status=motor.status,
        source=motor.source,
    )


def _parts(motor: MotorType, device: Device, known: KnownMotor) -> Iterator[GearPart]:
    relay = RELAYS[device]
    nothing = GearPart(
        part="start device", what="none", low=None, high=None, low_current=None,
        high_current=None, status=relay.status, source=relay.source,
    )  # fmt: skip
    if device == "none":
        yield nothing
    elif device == "current" and known.current is not None:
        yield replace(
            nothing, what="current relay that lets go above the plate's current and closes below "
            "that of the standing rotor", low_current=known.current,
            high_current=LOCKED_ROTOR[0] * known.current, status="MEMORY 0.65",
            source="locked-rotor over rated current of single-phase sealed motors",
        )  # fmt: skip
    else:
        matched = ", matched to this motor" if device != "ptc" else ""
        yield replace(nothing, what=f"{relay.name}{matched}; {relay.check}")
    if "start" in motor.capacitors:
        usual = None
        if known.size is not None and known.voltage is not None:
            usual = usual_start_size(known.size, known.voltage)
        found = replace(
            nothing, part="start capacitor", what="by the plate; its voltage and the size of the "
            f"motor tell the usual one; {_DUTY}", status="PUBLISHED", source=_DUTY_SOURCE,
        )  # fmt: skip
        if usual is not None:
            found = replace(
                found, what=f"{usual.voltage_class} class; {_DUTY}", low=usual.low,
                high=usual.high, status=usual.status,
                source=f"usual sizes from print remembered; duty: {_DUTY_SOURCE}",
            )  # fmt: skip
        yield found
    if "run" in motor.capacitors:
        low, high, status = _RUN[-1][1:]
        if known.size is not None:
            low, high, status = next(
                (r[1:] for r in _RUN if known.size <= 1.02 * r[0]), _RUN[-1][1:]
            )
        where = "across the PTC" if device == "ptc" else "between R and S"
        yield replace(
            nothing, part="run capacitor", what=f"{where}; its voltage no lower than the "
            "original's, for the start winding sees more than the mains", low=low, high=high,
            status=status, source="training text on motor capacitors",
        )  # fmt: skip
    most = _TRIP * known.current if known.current is not None else None
    yield replace(
        nothing, part="overload", what="this compressor's own, on its shell in the wire to C; none "
        "where the plate says that the protector is inside", high_current=most,
        status="MEMORY 0.85", source="US electrical code, separate overload of a sealed compressor",
    )  # fmt: skip


def _wires(motor: MotorType, device: Device) -> Iterator[Wire]:
    yield Wire(begin="L", through=("overload",), end="C")
    coil = ("coil of the relay",) if device == "current" else ()
    yield Wire(begin="N", through=coil, end="R")
    if device != "none":
        capacitor = ("start capacitor",) if "start" in motor.capacitors else ()
        switch = "PTC" if device == "ptc" else f"contact of the {RELAYS[device].name}"
        yield Wire(begin="N", through=(*capacitor, switch), end="S")
    if device == "potential":
        yield Wire(begin="S", through=("coil of the potential relay",), end="C")
    if "run" in motor.capacitors:
        yield Wire(begin="N", through=("run capacitor",), end="S")

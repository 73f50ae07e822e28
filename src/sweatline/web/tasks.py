"""Is it tight, is it dry, will it start, is it right? What each page asks, reads and shows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sweatline.bench.evacuation.evacuation import EvacuationAnswer, EvacuationRequest, evacuation
from sweatline.bench.evacuation.rise_test import vacuum_in
from sweatline.bench.proof.from_log import proof_in
from sweatline.bench.proof.proof import ProofRequest, prove
from sweatline.bench.start_gear.equalising import rest_in
from sweatline.bench.start_gear.start_gear import StartGearRequest, start_gear
from sweatline.bench.tightness.pressure_hold import hold_begun, hold_in
from sweatline.bench.tightness.tightness import TightnessAnswer, TightnessRequest, tightness
from sweatline.errors import JobError
from sweatline.log.extract import Book, Found, Logged
from sweatline.log.logbook import start_refused
from sweatline.report.bench_course import hold_course, pump_course, rise_course
from sweatline.report.dry import dry_told, pump_or_shut, start_line
from sweatline.report.held_against import proof_picture
from sweatline.report.proof import proof_next, proof_told
from sweatline.report.start import start_told, start_when
from sweatline.report.tight import tight_told, when_it_shows
from sweatline.report.told import Told
from sweatline.report.wiring import wiring
from sweatline.units import Scale
from sweatline.web.asking import Group, Typed
from sweatline.web.task import Tap, Task, routes_of


def _hold(book: Book, typed: Typed, _now: float) -> Logged:
    """The pressure test of a log; of one that has only begun the pressure."""
    if "readings" in typed or "measured" in typed:
        return Logged()
    try:
        return hold_in(book)
    except JobError:
        begun = hold_begun(book)
        if begun is None:
            raise
        return begun


def _vacuum(book: Book, _typed: Typed, _now: float) -> Logged:
    """The evacuation of a log, and whether the compressor may be started."""
    refused = start_refused(book.held)
    found = vacuum_in(book, alone=False)
    rule = Found(value=refused, text="", entries=())
    return Logged({**found.found, "start_refused": rule}, found.notes)


def _rest(book: Book, typed: Typed, now: float) -> Logged:
    return rest_in(book, now=now, typed=typed)


def _hold_picture(a: TightnessAnswer, scale: Scale) -> str:
    return hold_course(a.hold, scale) if a.hold is not None else ""


def _vacuum_picture(a: EvacuationAnswer, scale: Scale) -> str:
    return rise_course(a.rise, scale) if a.rise is not None else pump_course(a, scale)


def _vacuum_told(a: EvacuationAnswer, scale: Scale, details: bool) -> Iterator[Told]:
    """Without the line on starting, which the page has as a stop."""
    line = start_line(a.never_start, scale)
    return (part for part in dry_told(a, scale, details) if part.sentences != (line,))


TIGHT: Final = Task(
    key="tight",
    title="Is it tight?",
    lead="Let dry nitrogen in, read gauge and temperature, and again later: what the gas loses "
    "beyond the errors of the instruments is a leak.",
    request=TightnessRequest,
    answer=tightness,
    asks=frozenset({"readings", "pressure", "held", "after", "measured"}),
    read=_hold,
    told=tight_told,
    picture=_hold_picture,
    stop=lambda _a: "",
    next=when_it_shows,
    groups=(
        Group(title="", names=("compressor", "refrigerant", "pressure", "see")),
        Group(title="What it lost before", names=("held", "held_refrigerant", "after", "left")),
        Group(title="A test read without a log", names=("readings", "gas", "volume")),
    ),
    cautions=("dry-nitrogen-only",),
    taps=lambda _refrigerant: (
        Tap(
            line="pressurised dry nitrogen",
            word="Nitrogen is in",
            guarded=True,
            not_after=("pressurised",),
        ),
        Tap(
            line="pressurised helium", word="Helium is in", guarded=True, not_after=("pressurised",)
        ),
        Tap(line="opened gas let out", word="Gas let out", after=("pressurised",)),
    ),
    channels=("suction gauge", "circuit", "barometer"),
)

DRY: Final = Task(
    key="dry",
    title="Is it dry?",
    lead="Pump, shut the valve, and read the vacuum gauge three times or more: how it rises tells "
    "a leak from water and from gas out of the oil.",
    request=EvacuationRequest,
    answer=evacuation,
    asks=frozenset({"pump", "rise"}),
    read=_vacuum,
    told=_vacuum_told,
    picture=_vacuum_picture,
    # A pump-down that is only planned says nothing of the machine as it stands.
    stop=lambda a: a.never_start if a.rise is not None or a.pumped else "",
    next=pump_or_shut,
    groups=(
        Group(title="", names=("compressor", "pump", "low_hose", "high_hose")),
        Group(title="Water inside", names=("water", "room")),
        Group(title="A rise read without a log", names=("rise", "volume", "refrigerant")),
    ),
    cautions=("vacuum-no-power",),
    taps=lambda refrigerant: (
        Tap(line="evacuating", word="Pump started", guarded=True, not_after=("evacuating",)),
        Tap(line="isolated", word="Valve shut", after=("evacuating",)),
        Tap(line="vacuum broken dry nitrogen", word="Broken with nitrogen", after=("isolated",)),
        Tap(
            line=f"vacuum broken {refrigerant}",
            word=f"Broken with {refrigerant}",
            after=("isolated",),
        ),
    ),
    channels=("vacuum gauge",),
)

GEAR: Final = Task(
    key="gear",
    title="Will it start?",
    lead="What to fit, which pin is which, how it is wired, whether capacitor and motor are sound, "
    "and how long it must stand before it starts again.",
    request=StartGearRequest,
    answer=start_gear,
    asks=frozenset(
        {"device", "off_time", "windings", "capacitor", "use", "reads", "instead", "volts", "amps",
         "watts", "cord", "motor_power", "motor_kind", "metering", "torque", "standing_head",
         "standing_suction", "tube", "compressor"}
    ),
    read=_rest,
    told=start_told,
    picture=wiring,
    stop=lambda a: a.barred,
    next=start_when,
    groups=(
        Group(title="", names=("compressor", "refrigerant", "capillary", "device", "off_time")),
        Group(title="The motor", names=("motor_kind", "torque", "motor_power")),
        Group(title="Which pin is which", names=("windings",)),
        Group(title="The capacitor", names=("capacitor", "use", "reads", "instead", "resistor")),
        Group(title="Gauges as it stands", names=("standing_head", "standing_suction")),
        Group(title="Load of the motor", names=("volts", "amps", "watts", "at_plug")),
        Group(title="The plate", names=("plate_volts", "plate_amps", "plate_watts", "frequency")),
        Group(title="The cord", names=("cord",)),
    ),
    cautions=("isolate", "vacuum-no-power"),
    taps=lambda _refrigerant: (
        Tap(line="started", word="Switched on", guarded=True, not_after=("started",)),
        Tap(line="stopped", word="Switched off", after=("started",)),
    ),
    channels=("suction gauge", "head gauge", "volts", "amps", "watts"),
    ages=True,
)  # fmt: skip

PROVE: Final = Task(
    key="prove",
    title="Is it right now?",
    lead="Let it run half an hour, put a bucket under it, read what you can, and look at the "
    "bucket twice: it is held against what this build should do.",
    request=ProofRequest,
    answer=prove,
    asks=frozenset({"bucket", "watts", "energy", "suction", "head", "suction_gas", "return_gas",
                    "discharge_gas", "liquid_line", "coil", "air_out", "airflow"}),
    read=lambda book, _typed, _now: proof_in(book),
    told=proof_told,
    picture=proof_picture,
    stop=lambda _a: "",
    next=proof_next,
    groups=(
        Group(title="", names=("compressor", "refrigerant", "capillary", "bucket", "watts",
                               "room_temperature", "room_humidity", "stood_still")),
        Group(title="Gauges and clamp thermometers",
              names=("suction", "head", "suction_gas", "return_gas", "discharge_gas",
                     "liquid_line", "coil")),
        Group(title="Air", names=("air_between", "air_out", "air_out_humidity", "airflow")),
    ),
    cautions=(),
    taps=lambda _refrigerant: (
        Tap(line="started", word="Switched on", not_after=("started",)),
        Tap(line="stopped", word="Switched off", after=("started",)),
    ),
    channels=("water", "watts", "air in", "room humidity", "suction gauge", "head gauge",
              "suction gas", "return gas", "discharge gas", "liquid line", "air out"),
)  # fmt: skip

ROUTES: Final = tuple(routes_of(task) for task in (TIGHT, DRY, GEAR, PROVE))

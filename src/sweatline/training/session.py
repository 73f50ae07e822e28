"""A training session: a simulated machine charged by hand, what was done to it and written down.

Time is the machine's. While it passes a person reads the instruments now and then and writes the
readings into a log, a file or one in memory, as `sweatline log` keeps those of a real machine. When
the log asks about a reading, the person looks again and confirms what the instrument does show; a
slip of the pen stays in doubt: it changes what is written and nothing else, and what should have
been written is kept beside it.

The same machine can be charged as the adviser says, and by a fixed habit.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Annotated, Final, Literal, NamedTuple

import numpy as np

from sweatline.answers import Answer, Hidden, Q
from sweatline.charging.adviser import Adviser
from sweatline.charging.preparation import Prepared
from sweatline.charging.stop_rule import Obstacle
from sweatline.charging.tracker import AT_REST
from sweatline.diagnosis.faults import fault_named
from sweatline.errors import JobError, SolveError
from sweatline.log.channels import CHANNELS, RULED_OUT, Readout
from sweatline.log.data_quality import DataQuality
from sweatline.log.entries import Phase as LogPhase
from sweatline.log.logbook import confirm, keep, open_log
from sweatline.log.store import Log
from sweatline.training.simulated_machine import SimulatedMachine
from sweatline.units import System, parse
from sweatline.units.kinds import units_of

Phase = Literal["liquid", "vapour"]
Way = Literal["hand", "advice", "habit"]
Do = Literal["wait", "add", "read", "stop", "start", "fault", "help", "done", "nothing"]

SLIP_CHANCE: Final = 1.0 / 40.0  # of a reading (MEMORY 0.3); two or three in an hour of charging
_OFTEN: Final = 60.0  # s between rounds of readings, at first
_SELDOM: Final = 300.0  # s between them later
_OFTEN_UNTIL: Final = 300.0  # s
_LOOK: Final = 20.0  # s until the hose is shut and the scale read
_LONGEST: Final = 6.0 * 3600.0  # s that are waited at once, or charged at all
_TYPED_EVERY: Final = 60.0  # s between readings where the adviser is followed
_HABIT_DOSE: Final = 14.2e-3  # kg, half an ounce
_HABIT_WAIT: Final = 300.0  # s
_FETCHED: Final = 300.0  # s to clamp a thermometer, and until it shows what it touches
_EQUAL: Final = 1800.0  # s at rest until the pressures agree
_LOOKED: Final = 1200.0  # s to look for something
_MOST_LOOKS: Final = 8
_MOST: Final = 0.5  # of the charge by the job's best values, and a little more, let in at once


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenReading(Answer):
    """A reading as it was written down."""

    channel: str
    text: str
    meant: Annotated[str, Hidden()] = ""  # what should have been written; empty when that was


@dataclass(frozen=True, slots=True)
class GaugeReadout:
    """Writes readings in the units of a job.

    `slips` is None, or decides when the pen slips.
    """

    system: System
    atmosphere: float  # Pa, zero of the gauges
    slips: np.random.Generator | None = None

    def write(self, channel: str, value: float) -> WrittenReading:
        """A reading [SI] as it is written down."""
        scale = CHANNELS[channel].readout[self.system]
        number = round(self._number(value, channel, scale.unit) / scale.step) * scale.step
        right = _text(number, scale.decimals, scale.unit)
        text = right
        if self.slips is not None and self.slips.random() < SLIP_CHANCE:
            text = self._slip(self.slips, value, channel, scale, right)
        return WrittenReading(channel=channel, text=text, meant=right if text != right else "")

    def _number(self, value: float, channel: str, unit: str) -> float:
        found = next(u for u in units_of(CHANNELS[channel].kind) if u.name == unit)
        return found.number(value, self.atmosphere)

    def _slip(
        self, pen: np.random.Generator, value: float, channel: str, scale: Readout, right: str
    ) -> str:
        """The number of the other scale with this one's unit, or two digits the wrong way round."""
        if scale.other and pen.random() < 0.5:
            number = self._number(value, channel, scale.other)
            return _text(number, scale.decimals, scale.unit)
        digits = [i for i, c in enumerate(right) if c.isdigit()]
        pairs = [(i, j) for i, j in pairwise(digits) if right[i] != right[j]]
        if not pairs:
            return right
        i, j = pairs[int(pen.integers(len(pairs)))]
        swapped = list(right)
        swapped[i], swapped[j] = swapped[j], swapped[i]
        return "".join(swapped)


def weight(mass: float, system: System) -> str:
    """A mass [kg] as the scale under the cylinder shows it."""
    if system == "US":
        return f"{mass / 28.349523125e-3:.2f} oz"
    return f"{mass * 1e3:.0f} g"


def _text(number: float, decimals: int, unit: str) -> str:
    text = f"{number:.{decimals}f}"
    if float(text) == 0.0:
        text = text.removeprefix("-")
    return f"{text} {unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Round(Answer):
    """One round of readings."""

    at: Annotated[float, Q("time", "after")]
    weighed: Annotated[float, Hidden()]  # kg, in by the scale
    scale: str
    """The same as the scale shows it."""
    written: tuple[WrittenReading, ...]
    running: bool
    questions: tuple[str, ...] = ()
    """That the log asks about them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Charged(Answer):
    """One addition."""

    time: Annotated[float, Q("time")]
    weighed: Annotated[float, Q("mass")]
    phase: Phase
    running: bool
    """Whether the compressor ran."""
    log_rows: Annotated[int, Hidden()]  # that the log held when it was decided
    inside: Annotated[float, Hidden()]  # kg, really, before it


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What a person types."""

    do: Do
    amount: float = 0.0  # s or kg
    phase: Phase | None = None
    words: str = ""


_VERBS: Final[Mapping[str, Do]] = {
    "done": "done", "quit": "done", "exit": "done", "q": "done", "help": "help", "?": "help",
    "h": "help", "read": "read", "r": "read", "stop": "stop", "start": "start",
}  # fmt: skip


def step_from(text: str, *, most: float) -> Step:
    """What a line means; `most` may be let in at once. [kg]

    Raises
    ------
    JobError
        It means nothing, or too much.
    """
    typed = " ".join(text.split())
    verb, _space, rest = typed.partition(" ")
    verb = verb.casefold().rstrip(":")
    rest = rest.strip()
    if not typed:
        return Step(do="nothing")
    if verb in _VERBS:
        return Step(do=_VERBS[verb])
    if verb == "fault":
        if not rest:
            raise JobError(what="which fault", allowed="say for example: fault: blocked filter")
        return Step(do="fault", words=rest)
    if verb in ("wait", "w"):
        seconds = parse(rest or "1 min", "time").value
        if not 1.0 <= seconds <= _LONGEST:
            raise JobError(what="a wait out of all proportion", read=rest, allowed="1 s to 6 h")
        return Step(do="wait", amount=seconds)
    if verb in ("add", "a"):
        words = rest.casefold().split()
        phase: Phase | None = None
        if words and words[-1] in ("liquid", "vapour", "vapor", "gas"):
            phase = "liquid" if words[-1] == "liquid" else "vapour"
            words = words[:-2] if words[-2:-1] == ["as"] else words[:-1]
        if not words:
            raise JobError(what="add how much", allowed="say for example: add 10 g, or add 1/2 oz")
        mass = parse(" ".join(words), "mass").value
        if not 0.0 < mass <= most:
            ends = f"up to {weight(most, 'SI')} ({weight(most, 'US')})"
            raise JobError(what="nobody lets in so much at once", read=rest, allowed=ends)
        return Step(do="add", amount=mass, phase=phase)
    raise JobError(
        what="not understood",
        read=typed[:60],
        allowed="type wait, add, read, stop, start, fault, help or done",
    )


def session_on(
    machine: SimulatedMachine,
    seed: int,
    *,
    path: str | None = None,
    slips: bool = False,
    pace: float | None = None,
) -> TrainingSession:
    """A session at a machine, with a new log: a file that counts real time, or one in memory.

    Parameters
    ----------
    slips : bool
        Now and then a reading is written down wrongly.
    """
    job = machine.build.job
    pen = np.random.default_rng(int(machine.chance.integers(2**31))) if slips else None
    return TrainingSession(
        machine=machine,
        readout=GaugeReadout(job.unit_system, job.place.atmospheric_pressure, pen),
        log=open_log(
            path,
            new=True,
            machine=f"practice, {machine.build.name}, machine {seed}",
            refrigerant=machine.build.refrigerant.name,
            atmosphere=job.place.atmospheric_pressure,
            system=job.unit_system,
            simulated=True,
        ),
        pace=pace,
        begun_at=0.0 if path is None else time.time(),
    )


def most_at_once(machine: SimulatedMachine) -> float:
    """The most that anybody lets in at once. [kg]"""
    return _MOST * machine.card.charge + 0.05


@dataclass(slots=True)
class TrainingSession:
    """One simulated machine being charged by hand.

    `pace` is how many times as fast as a clock on the wall it runs; without one time takes no time
    and stands still while the person thinks. `log` takes what is written down; `begun_at` is the
    moment [s since 1970] that its times count from.
    """

    machine: SimulatedMachine
    readout: GaugeReadout
    log: Log
    pace: float | None = None
    begun_at: float = 0.0
    rounds: list[Round] = field(default_factory=list)
    charged: list[Charged] = field(default_factory=list)
    switched: list[float] = field(default_factory=list)  # s, stops and starts
    publish: Callable[[Round], None] | None = None  # told every round as it is read
    named: str = ""  # key of the fault the person named, "none", or nothing said
    _start: float = 0.0
    _quality: DataQuality = field(init=False)

    def __post_init__(self) -> None:
        self._start = self.machine.run.time
        air = self.machine.build.job.room.temperature.value
        self._quality = DataQuality(self.log.about(), air=air)

    @property
    def time(self) -> float:
        """Since the session began. [s]"""
        return self.machine.run.time - self._start

    @property
    def most(self) -> float:
        """The most that is let in at once. [kg]"""
        return most_at_once(self.machine)

    @property
    def now(self) -> float:
        """The same as the log counts it. [s since 1970]"""
        return self.begun_at + self.time

    def open(self) -> Round:
        """Begin: what is in is in the log, and a first round is read."""
        self._keep("addition", weight(self.machine.weighed, self.readout.system))
        self._keep("event", "practice on a simulated machine", "started")
        self._pass(_OFTEN)
        return self.read()

    def wait(self, seconds: float, tell: Callable[[Round], None] | None = None) -> None:
        """Let time pass and write readings down on the way, each round told as it comes."""
        left, passed = seconds, 0.0
        while left > 1e-6:
            gap = _OFTEN if passed < _OFTEN_UNTIL else _SELDOM
            now = min(gap, left)
            self._pass(now)
            left -= now
            passed += now
            found = self.read()
            if tell is not None:
                tell(found)

    def ran_on(self, seconds: float, tell: Callable[[Round], None]) -> None:
        """So many seconds of a clock on the wall went by without a word. [s]"""
        passed = min(seconds * (self.pace or 0.0), _LONGEST)
        if passed < 1.0:
            return
        self.machine.wait(passed)
        if passed >= _OFTEN:
            tell(self.read())

    def add(self, mass: float, phase: Phase) -> Charged:
        """Let refrigerant into the low side. [kg]"""
        at, inside = self.time, self.machine.run.charge
        weighed = self.machine.add(mass, phase)
        done = Charged(
            time=at,
            weighed=weighed,
            phase=phase,
            running=self.machine.run.running,
            log_rows=len(self._quality.rows),
            inside=inside,
        )
        self.charged.append(done)
        if weighed > 0.0:
            self._keep("addition", weight(weighed, self.readout.system), at=at, phase=phase)
        self._pass(_LOOK)
        return done

    def switch(self, *, on: bool) -> str:
        """Start it or stop it; why it will not start, if it will not."""
        at = self.time
        if on == self.machine.run.running:
            return "it runs already" if on else "it stands already"
        refused = self.machine.switch(on=on)
        if refused:
            return refused
        self.switched.append(at)
        self._keep("event", "", "started" if on else "stopped", at=at)
        self._pass(_LOOK)
        return ""

    def name_fault(self, words: str) -> str:
        """Take down which fault the person means; its name.

        Raises
        ------
        JobError
            The words name none.
        """
        kind = fault_named(words)
        self.named = "none" if kind is None else kind.key
        return "no fault" if kind is None else kind.name

    def read(self) -> Round:
        """A round of readings, written down."""
        at = self.time
        written = tuple(self.readout.write(n, v) for n, v in self.machine.read_all().items())
        questions: list[str] = []
        for one in written:
            questions += self._note(one, at=at)
        found = Round(
            at=at,
            weighed=self.machine.weighed,
            scale=weight(self.machine.weighed, self.readout.system),
            written=written,
            running=self.machine.run.running,
            questions=tuple(questions),
        )
        self.rounds.append(found)
        if self.publish is not None:
            self.publish(found)
        return found

    def look(self, asked: Obstacle) -> bool:
        """Look at what the adviser asks to look at, and write down what was seen.

        False where it was found, or where there is nothing that one could look at.
        """
        if asked.read:
            at_rest = asked.read == AT_REST
            if at_rest:
                self.switch(on=False)
            self._pass(_EQUAL if at_rest else _FETCHED)
            value = self.machine.read_beside(asked.read)
            self._note(self.readout.write(asked.read, value), at=self.time)
            return not (at_rest and self.switch(on=True))
        self._pass(_LOOKED)
        if self.machine.looked_at(asked.cause, asked.ruled_out):
            return False
        for what in asked.ruled_out:
            self._keep("event", what, RULED_OUT, at=self.time)
        return bool(asked.ruled_out)

    def _pass(self, seconds: float) -> None:
        left = seconds
        while left > 1e-6:
            now = min(left, 10.0)
            if self.pace is not None:
                time.sleep(now / self.pace)
            self.machine.wait(now)
            left -= now

    def _note(self, one: WrittenReading, *, at: float) -> list[str]:
        return self._keep("reading", one.text, one.channel, at=at, as_shown=not one.meant)

    def _keep(
        self,
        kind: Literal["reading", "addition", "event"],
        text: str,
        channel: str = "",
        *,
        at: float = 0.0,
        phase: LogPhase = "",
        as_shown: bool = False,
    ) -> list[str]:
        """Write into the log; what it asks. A reading `as_shown` is confirmed when asked about."""
        kept = keep(
            self.log,
            kind=kind,
            text=text,
            channel=channel,
            at=self.begun_at + at,
            phase=phase,
            quality=self._quality,
        )
        number = kept.entry.id
        doubts = self._quality.in_doubt(kept.entry)
        if as_shown and any(d.slip != "twice" for d in doubts):
            confirm(self.log, number, quality=self._quality)
            return [f"entry {number}: {q} (looked again, confirmed)" for q in kept.questions]
        return [f"entry {number}: {q}" for q in kept.questions]


class Moment(NamedTuple):
    """What was in when something was decided."""

    weighed: float  # kg, by the scale
    really: float  # kg
    time: float  # s


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt(Answer):
    """How one way of charging ended on a machine."""

    way: Way
    charge: Annotated[float, Q("mass", "charged")]
    most: Annotated[float, Q("mass", "most ever in", "Ever in the machine.")]
    additions: int | None
    """Null where the machine could not be followed to the end."""
    time: Annotated[float, Q("time", "time")]
    gave_up: str = ""
    """Why it was broken off; empty when it was not."""
    best: Annotated[float, Hidden()] = 0.0  # kg
    # Settled readings foretold while they moved: low and high end, and what they would come to.
    foretold: Annotated[tuple[tuple[float, float, float], ...], Hidden()] = ()
    obstacle: Annotated[str, Hidden()] = ""  # that the adviser named at the end, by its key
    looks: int = 0
    """That the adviser asked for."""
    stopped_at: Annotated[int | None, Hidden()] = None  # additions before the first stop or look
    found: Annotated[bool, Hidden()] = False  # what is wrong, by a look
    moments: Annotated[tuple[Moment, ...], Hidden()] = ()  # whenever it decided

    @property
    def miss(self) -> float:
        """Share by which it ended above the best charge."""
        return self.charge / self.best - 1.0


def by_advice(machine: SimulatedMachine, prepared: Prepared, *, seed: int = 0) -> Attempt:
    """Do what the adviser says of the log: wait, add the dose, look, stop."""
    foretold, moments = [], []
    end: Obstacle | None = None
    looks, stopped_at, found = 0, None, False
    session = session_on(machine, seed)
    with session.log as log:
        adviser = Adviser(prepared, log.about())
        session.open()
        while session.time < _LONGEST:
            session.wait(_TYPED_EVERY)
            advice = adviser.advise_on(log)
            if advice.action in ("wait", "read"):
                continue
            moments.append(Moment(machine.weighed, machine.run.charge, session.time))
            settles = {o.what: o.settles_SI for o in advice.outlooks}
            for name, came_to in machine.settled().items():
                if name in settles:
                    foretold.append((settles[name].low, settles[name].high, came_to))
            end = advice.obstacles[0] if advice.obstacles else None
            if end is not None and stopped_at is None:
                stopped_at = len(session.charged)
            if end is not None and (end.read or end.ruled_out) and looks < _MOST_LOOKS:
                looks += 1
                if session.look(end):
                    continue
                found = bool(end.ruled_out) and not end.read
            if advice.action != "add" or advice.dose is None:
                break
            session.add(advice.dose, "vapour")
        additions, time = len(session.charged), session.time
    machine.wait(30.0)
    done = ended_with("advice", machine, additions, time)
    return replace(
        done,
        foretold=tuple(foretold),
        obstacle="" if end is None else end.key,
        moments=tuple(moments),
        looks=looks,
        stopped_at=stopped_at,
        found=found,
    )


def by_habit(machine: SimulatedMachine) -> Attempt:
    """Half an ounce, wait five minutes, until the suction gauge shows the card's value."""
    additions = 0
    time = 0.0
    gave_up = ""
    while time < _LONGEST:
        machine.wait(_HABIT_WAIT)
        time += _HABIT_WAIT
        if machine.read()["suction gauge"] >= machine.card.suction_pressure:
            break
        if machine.run.charge > 2.0 * machine.best:
            gave_up = "twice the best charge is in and the card's value has not come"
            break
        try:
            machine.add(_HABIT_DOSE)
            machine.wait(10.0)
        except SolveError as error:
            gave_up = error.condition
            break
        time += 10.0
        additions += 1
    return ended_with("habit", machine, additions, time, gave_up=gave_up)


def ended_with(
    way: Way, machine: SimulatedMachine, additions: int | None, time: float, *, gave_up: str = ""
) -> Attempt:
    """A way of charging, by the machine as it was left after so long. [s]"""
    return Attempt(
        way=way,
        charge=machine.run.charge,
        most=max(machine.extremes.most, machine.run.charge),
        additions=additions,
        time=time,
        gave_up=gave_up,
        best=machine.best,
    )

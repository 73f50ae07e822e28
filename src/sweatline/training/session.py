"""Charging a machine that exists only here by hand: what was done to it, and what was written down.

Time is the machine's. While it passes a person reads the instruments now and then and writes the
readings down; a log takes them in the form in which `sweatline log` keeps those of a real machine.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, Literal

from sweatline.errors import JobError

if TYPE_CHECKING:
    from sweatline.log.store import Log
    from sweatline.training.gauge_readout import Jotted, Pad
    from sweatline.training.simulated_machine import Unseen

__all__ = ["Charged", "Exercise", "Round", "Step", "Switched", "step_from"]

Phase = Literal["liquid", "vapour"]

_OFTEN: Final = 60.0  # s between rounds of readings, at first
_SELDOM: Final = 300.0  # s between them later
_OFTEN_UNTIL: Final = 300.0  # s
_LOOK: Final = 20.0  # s until the hose is shut and the scale read
_LONGEST: Final = 6.0 * 3600.0  # s that are waited at once


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One round of readings."""

    at: float  # s
    weighed: float  # kg, in by the scale
    jotted: tuple[Jotted, ...]
    running: bool
    questions: tuple[str, ...] = ()  # that the log asks about them


@dataclass(frozen=True, slots=True, kw_only=True)
class Charged:
    """One addition."""

    at: float  # s
    asked: float  # kg
    weighed: float  # kg
    before: float  # kg in by the scale
    phase: Phase
    running: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Switched:
    """The compressor stopped, or started again."""

    at: float  # s
    on: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What a person types."""

    do: Literal["wait", "add", "read", "stop", "start", "fault", "help", "done", "nothing"]
    amount: float = 0.0  # s or kg
    phase: Phase | None = None
    words: str = ""


def step_from(text: str, *, most: float) -> Step:
    """What a line means; `most` may be let in at once. [kg]

    Raises
    ------
    JobError
        It means nothing, or too much.
    """
    from sweatline.units import parse

    typed = " ".join(text.split())
    verb, _space, rest = typed.partition(" ")
    verb = verb.casefold().rstrip(":")
    rest = rest.strip()
    if not typed:
        return Step(do="nothing")
    if verb in ("done", "quit", "exit", "q"):
        return Step(do="done")
    if verb in ("help", "?", "h"):
        return Step(do="help")
    if verb in ("read", "r"):
        return Step(do="read")
    if verb == "stop":
        return Step(do="stop")
    if verb == "start":
        return Step(do="start")
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
            from sweatline.training.gauge_readout import weight

            ends = f"up to {weight(most, 'SI')} ({weight(most, 'US')})"
            raise JobError(what="nobody lets in so much at once", read=rest, allowed=ends)
        return Step(do="add", amount=mass, phase=phase)
    raise JobError(
        what="not understood",
        read=typed[:60],
        allowed="type wait, add, read, stop, start, fault, help or done",
    )


@dataclass(slots=True)
class Exercise:
    """One machine being charged by hand.

    `pace` is how many times as fast as a clock on the wall it runs; without one time takes no time
    and stands still while the person thinks. `book` is a log that takes what is written down;
    `begun_at` the moment [s since 1970] that its times count from.
    """

    machine: Unseen
    pad: Pad
    refrigerant: str
    pace: float | None = None
    book: Log | None = None
    begun_at: float = 0.0
    rounds: list[Round] = field(default_factory=list)
    charged: list[Charged] = field(default_factory=list)
    switched: list[Switched] = field(default_factory=list)
    named: str = ""  # key of the fault the person named, "none", or nothing said
    _start: float = 0.0

    def __post_init__(self) -> None:
        self._start = self.machine.run.time

    @property
    def time(self) -> float:
        """Since the exercise began. [s]"""
        return self.machine.run.time - self._start

    def open(self) -> Round:
        """Begin: what is in is in the log, and a first round is read."""
        from sweatline.training.gauge_readout import weight

        if self.book is not None:
            text = weight(self.machine.weighed, self.pad.system)
            self._log("addition", text, at=0.0)
            self._log("event", "an exercise: this machine exists only here", "started", at=0.0)
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
        from sweatline.training.gauge_readout import weight

        at, before = self.time, self.machine.weighed
        weighed = self.machine.add(mass, phase)
        done = Charged(
            at=at,
            asked=mass,
            weighed=weighed,
            before=before,
            phase=phase,
            running=self.machine.run.running,
        )
        self.charged.append(done)
        if weighed > 0.0:
            self._log("addition", weight(weighed, self.pad.system), at=at, phase=phase)
        self._pass(_LOOK)
        return done

    def switch(self, *, on: bool) -> str:
        """Start it or stop it; why it will not start, if it will not."""
        at = self.time
        if on == self.machine.run.running:
            return "it runs already" if on else "it stands already"
        if on:
            refused = self.machine.switch_on()
            if refused:
                return refused
        else:
            self.machine.switch_off()
        self.switched.append(Switched(at=at, on=on))
        self._log("event", "", "started" if on else "stopped", at=at)
        self._pass(_LOOK)
        return ""

    def read(self) -> Round:
        """A round of readings, written down."""
        at = self.time
        jotted = tuple(self.pad.write(n, v) for n, v in self.machine.read_all().items())
        questions: list[str] = []
        for one in jotted:
            questions += self._log("reading", one.text, one.channel, at=at)
        found = Round(
            at=at,
            weighed=self.machine.weighed,
            jotted=jotted,
            running=self.machine.run.running,
            questions=tuple(questions),
        )
        self.rounds.append(found)
        return found

    def _pass(self, seconds: float) -> None:
        left = seconds
        while left > 1e-6:
            now = min(left, 10.0)
            if self.pace is not None:
                time.sleep(now / self.pace)
            self.machine.wait(now)
            left -= now

    def _log(
        self,
        kind: Literal["reading", "addition", "event"],
        text: str,
        channel: str = "",
        *,
        at: float,
        phase: Phase | Literal[""] = "",
    ) -> Sequence[str]:
        if self.book is None:
            return ()
        from sweatline.log.logbook import keep

        kept = keep(
            self.book,
            kind=kind,
            text=text,
            channel=channel,
            at=self.begun_at + at,
            refrigerant=self.refrigerant if kind == "addition" else "",
            phase=phase,
        )
        return [f"entry {kept.entry.id}: {q}" for q in kept.questions]

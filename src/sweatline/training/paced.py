"""A training session that runs by the clock on the wall, or several times as fast.

It has a thread of its own, in which the machine runs, its instruments are read into the log, and
what the person asks for is done. Whoever follows it reads the log, as at a real machine.
"""

from __future__ import annotations

import contextlib
import queue
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

from sweatline.errors import JobError, SolveError
from sweatline.training.debrief import Ended
from sweatline.training.session import Step, TrainingSession, most_at_once, session_on
from sweatline.training.simulated_machine import SimulatedMachine

PACES: Final = (1.0, 5.0, 30.0)  # times as fast as the clock
_TICK: Final = 0.25  # s between looks at what is asked for
_OFTEN: Final = 2.0  # s of the clock between rounds of readings
_LEAST: Final = 10.0  # s of the machine between them
_LONGEST: Final = 6.0 * 3600.0  # s of the machine, then it ends by itself

Review = Callable[[TrainingSession, Ended, str], None]
"""Takes the session when it has ended, how it ended, and why it could not go on."""


class PacedSession:
    """A simulated machine that goes on while somebody thinks.

    Parameters
    ----------
    machine : SimulatedMachine
    seed : int
        Of the machine.
    path : Path
        A new log.
    pace : float
        How many times as fast as the clock; 0 stands still.
    slips : bool
        Now and then a reading is written down wrongly.
    """

    def __init__(
        self, machine: SimulatedMachine, seed: int, path: Path, *, pace: float, slips: bool = False
    ) -> None:
        self.machine = machine
        self.seed = seed
        self.path = path
        self.pace = pace
        self.slips = slips
        self.begun = threading.Event()
        self.refused = ""  # why the last thing asked for was not done
        self.named = ""  # fault that the person named
        self.begun_at = self._now = time.time()
        self._steps: queue.Queue[Step] = queue.Queue(maxsize=20)
        self._ended = threading.Event()
        self._last_word = ""

    @property
    def most(self) -> float:
        """The most that is let in at once. [kg]"""
        return most_at_once(self.machine)

    @property
    def now(self) -> float:
        """The moment at the machine, as its log counts. [s since 1970]"""
        return self._now

    @property
    def running(self) -> bool:
        """Whether the compressor runs."""
        return self.machine.run.running

    @property
    def ended(self) -> bool:
        """Whether it is over."""
        return self._ended.is_set()

    def start(self, review: Review) -> None:
        """Begin, and give the session to `review` when it has ended, all in a thread of its own."""
        threading.Thread(target=self._run, args=(review,), name="practice", daemon=True).start()

    def ask(self, step: Step) -> None:
        """Have something done at the machine.

        Raises
        ------
        JobError
            It is over, or so much is asked for already that it cannot follow.
        """
        if self.ended:
            raise JobError(what="this practice is over")
        try:
            self._steps.put_nowait(step)
        except queue.Full as error:
            raise JobError(what="more is asked for than the machine can follow") from error

    def end(self, fault: str = "") -> None:
        """Stop, and say what was wrong with it if that was not said; what follows is the review."""
        self._last_word = fault
        self._ended.set()

    def _run(self, review: Review) -> None:
        session = session_on(self.machine, self.seed, path=str(self.path), slips=self.slips)
        ended: Ended = "done"
        why = ""
        with session.log:
            try:
                self.begun_at = session.begun_at
                session.open()
                self._now = session.now
                self.begun.set()
                self._follow(session)
            except SolveError as error:
                ended, why = "broken off", error.condition
            self._ended.set()
            self.begun.set()
            if self._last_word:
                self._do(session, Step(do="fault", words=self._last_word))
            review(session, ended, why)

    def _follow(self, session: TrainingSession) -> None:
        last = time.monotonic()
        read_at = session.time
        while not self.ended and session.time < _LONGEST:
            step = None
            with contextlib.suppress(queue.Empty):
                step = self._steps.get(timeout=_TICK)
            clock = time.monotonic()
            passed, last = self.pace * (clock - last), clock
            if passed > 0.0:
                self.machine.wait(passed)
            if step is not None:
                self._do(session, step)
            elif session.time - read_at < max(_LEAST, _OFTEN * self.pace):
                self._now = session.now
                continue
            session.read()
            read_at = session.time
            self._now = session.now

    def _do(self, session: TrainingSession, step: Step) -> None:
        self.refused = ""
        if step.do == "add":
            session.add(step.amount, step.phase or session.machine.usual_phase)
        elif step.do in ("stop", "start"):
            self.refused = session.switch(on=step.do == "start")
        elif step.do == "fault":
            try:
                self.named = session.name_fault(step.words)
            except JobError as error:
                self.refused = str(error)

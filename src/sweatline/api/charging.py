"""A log, a charging that it leads, and a simulated machine to practise on, in a script.

A line is what `sweatline log` and `sweatline charge` are told: ``suction 24 psig``, ``added 12 g``,
``started``, ``correct 12 27 psig``; a time may stand before it, as ``14:05``.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, Self

from sweatline.api.quantity import Written, maybe_si, si
from sweatline.errors import JobError

if TYPE_CHECKING:
    from sweatline.charging.adviser import ChargeAdvice
    from sweatline.charging.session import ChargeLine, ChargeSession
    from sweatline.log.logbook import LogContents, LogRow
    from sweatline.log.store import Log
    from sweatline.training.debrief import Debrief
    from sweatline.training.session import Round, TrainingSession

__all__ = ["Charging", "LogBook", "Practice", "open_log"]


def open_log(
    path: str | os.PathLike[str] | None = None,
    *,
    new: bool = False,
    machine: str = "",
    refrigerant: str = "",
    altitude: Written | None = None,
    units: Literal["", "US", "SI"] = "",
) -> LogBook:
    """A log, for use in a `with` block; without a path it is one in memory.

    Parameters
    ----------
    new : bool
        Begin it; what follows says what it is about.
    altitude : float or str
        Sets the zero of gauges; else they are read at sea level. [m]

    Raises
    ------
    StoreError
        There is no such log, or one already where a new one is wanted.
    """
    from sweatline.air.moist import standard_pressure
    from sweatline.log.logbook import open_log as opened

    height = maybe_si(altitude, "altitude", "altitude")
    return LogBook(
        opened(
            None if path is None else os.fspath(path),
            new=new or path is None,
            machine=machine,
            refrigerant=refrigerant,
            atmosphere=None if height is None else standard_pressure(height),
            system=units,
        )
    )


@dataclass(frozen=True, slots=True)
class LogBook:
    """A log: readings, additions and events of one machine; nothing in it is ever changed."""

    log: Log

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def __str__(self) -> str:
        return str(self.contents())

    def close(self) -> None:
        """Close the file."""
        self.log.close()

    def add(self, *words: str) -> LogContents:
        """Write a line, as ``add("suction", "24 psig")``; what was written, and asked about it.

        Raises
        ------
        JobError
            Not understood; nothing of the line is written.
        PhysicsError
            A start under vacuum; it is refused, and a note of it kept.
        """
        from sweatline.log.logbook import contents_of, write_line

        kept = write_line(self.log, " ".join(words))
        asked = [question for one in kept for question in one.questions]
        return contents_of(self.log, only=[one.entry for one in kept], questions=asked)

    def contents(self) -> LogContents:
        """All that stands in it, corrected entries too."""
        from sweatline.log.logbook import contents_of

        return contents_of(self.log)

    def readings(self) -> tuple[LogRow, ...]:
        """Readings that hold, in the order they were read."""
        held = [e for e in self.contents().entries if e.kind == "reading" and e.holds]
        return tuple(sorted(held, key=lambda e: (e.happened_at, e.id)))


@dataclass(frozen=True, slots=True)
class Charging:
    """The charging of one machine, led by its log."""

    session: ChargeSession

    def advice(self) -> ChargeAdvice:
        """What to do next by what the log holds, as `sweatline charge --json` prints it."""
        return self.session.advice()

    def record(self, *words: str) -> ChargeLine | None:
        """Write a line into the log and say what to do next; None for an empty line.

        What is not understood is kept as a note and told in the answer's `problem`.
        """
        return self.session.take(" ".join(words))


@dataclass(slots=True)
class Practice:
    """A simulated machine, charged by hand; every step returns a round of readings."""

    session: TrainingSession
    seed: int
    hidden: bool
    samples: int

    def __post_init__(self) -> None:
        self.session.open()

    @property
    def rounds(self) -> tuple[Round, ...]:
        """Every round of readings since it was switched on."""
        return tuple(self.session.rounds)

    @property
    def log(self) -> LogBook:
        """Its log, which :meth:`Job.charging` can be asked about."""
        return LogBook(self.session.log)

    def read(self) -> Round:
        """All instruments read once more."""
        return self.session.read()

    def wait(self, duration: Written = "1 min") -> Round:
        """Let time pass; readings are written into the log on the way. [s]"""
        self.session.wait(si(duration, "time", "duration"))
        return self.session.rounds[-1]

    def add(self, mass: Written, *, phase: Literal["liquid", "vapour"] | None = None) -> Round:
        """Let refrigerant into the low side. [kg]

        Raises
        ------
        JobError
            Nothing, or more than anybody lets in at once.
        SolveError
            The machine cannot be followed any further.
        """
        from sweatline.training.session import weight

        weighed = si(mass, "mass", "mass")
        if not 0.0 < weighed <= self.session.most:
            most = f"up to {weight(self.session.most, self.session.readout.system)}"
            raise JobError(what="nobody lets in so much at once", read=str(mass), allowed=most)
        self.session.add(weighed, phase or self.session.machine.usual_phase)
        return self.session.read()

    def switch(self, *, on: bool) -> str:
        """Stop it or start it again; why not, if it does not."""
        return self.session.switch(on=on)

    def name_fault(self, words: str) -> str:
        """Say what you think is wrong with it, or none; the name of that fault."""
        return self.session.name_fault(words)

    def debrief(self) -> Debrief:
        """How it went: every addition held against what the readings then allowed."""
        from sweatline.charging.preparation import prepare_build
        from sweatline.training.debrief import debrief_of_session

        machine = self.session.machine
        prepared = prepare_build(machine.build, machine.card, simulated=True, draws=self.samples)
        return debrief_of_session(self.session, prepared, self.seed, hidden=self.hidden)

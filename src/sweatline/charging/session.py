"""A live session: every line goes into the log before it is answered.

A line with its own time has a key made from what it says, so a file that is fed again, or a pipe
that starts over after it was cut, writes nothing twice.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Annotated, Final, Literal

from sweatline.answers import Hidden
from sweatline.charging.adviser import Adviser, ChargeAdvice, NextStep
from sweatline.errors import JobError, NoDateError, PhysicsError
from sweatline.log.lines import FedTimes, Instruction, instructions, moment
from sweatline.log.logbook import carry_out, keep
from sweatline.log.store import Log

_LONGEST: Final = 2000  # characters of a line that are looked at and kept


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeLine(NextStep):
    """The answer to one line of a live session; a `charge` answer stands before and after all."""

    line: int
    """Counted from 1."""
    text: str
    """As it came."""
    kept: tuple[int, ...]
    """Numbers of the log's entries that hold it."""
    known: tuple[int, ...]
    """Numbers of entries that held it before: nothing was written twice."""
    problem: str
    """Why it could not be understood; a note of it is kept. Empty else."""
    questions: tuple[str, ...]
    advice: Annotated[ChargeAdvice, Hidden()]  # as things stand after it
    wanted: Annotated[Literal["", "show", "help", "done"], Hidden()]  # said to the session


class ChargeSession:
    """Takes line after line.

    Parameters
    ----------
    adviser : Adviser
        Of this machine.
    log : Log
        Open for as long as this is used.
    fed : bool
        The lines were written before: a clock without a date is of the day of the line before it,
        or of the last day in the log, and never today's.
    """

    def __init__(self, adviser: Adviser, log: Log, *, fed: bool = False) -> None:
        self.adviser = adviser
        self.log = log
        self._time_of: Callable[[str], float] = moment
        if fed:
            done = (
                e.happened_at for e in log.entries() if e.kind in ("reading", "addition", "event")
            )
            last = max(done, default=None)
            day = None if last is None else datetime.fromtimestamp(last).date()
            self._time_of = FedTimes(day).moment
        self.lines = 0
        self.written = 0
        self._said: Counter[str] = Counter()

    def advice(self) -> ChargeAdvice:
        """What to do as things stand in the log."""
        return self.adviser.advise_on(self.log)

    def take(self, line: str) -> ChargeLine | None:
        """Write a line into the log, then answer it; None for an empty one or a comment.

        Raises
        ------
        StoreError
            The log cannot be written; nothing of the line that was not told as kept is in it.
        NoDateError
            A clock without a date, where no line before it and nothing in the log says the day.
        """
        self.lines += 1
        text = line.strip()[:_LONGEST]
        if not text or text.startswith("#"):
            return None
        kept: list[int] = []
        known: list[int] = []
        problems: list[str] = []
        questions: list[str] = []
        wanted: Literal["", "show", "help", "done"] = ""
        for said in instructions(text, self._time_of):
            if isinstance(said, NoDateError):
                said.line = self.lines
                raise said
            if isinstance(said, JobError):
                problems.append(self._not_understood(said, text, kept))
                continue
            if said.kind in ("show", "help", "done"):
                wanted = said.kind
                continue
            try:
                done = carry_out(self.log, said, key=self._key(said), quality=self.adviser.quality)
            except JobError as error:
                problems.append(self._not_understood(error, text, kept))
                continue
            except PhysicsError as error:
                # The log keeps a note of what was refused.
                kept.append(self.log.entries(after=self.adviser.quality.last_id)[-1].id)
                problems.append(str(error))
                continue
            (known if done.repeated else kept).append(done.entry.id)
            questions += done.questions
        self.written += len(kept)
        advice = self.advice()
        return ChargeLine(
            **{f.name: getattr(advice, f.name) for f in fields(NextStep)},
            line=self.lines,
            text=text,
            kept=tuple(kept),
            known=tuple(known),
            problem="; ".join(problems),
            questions=tuple(questions),
            advice=advice,
            wanted=wanted,
        )

    def _not_understood(self, error: JobError, text: str, kept: list[int]) -> str:
        """Keep a note of what was typed, so that nothing is lost, and say what is wrong with it."""
        with contextlib.suppress(JobError):
            note = keep(
                self.log,
                kind="note",
                text=f"not understood: {text}",
                quality=self.adviser.quality,
            )
            kept.append(note.entry.id)
        return str(error)

    def _key(self, said: Instruction) -> str:
        if said.at is None:
            return ""
        words = "|".join(
            (repr(said.at), said.kind, said.channel, said.text, said.phase, said.instrument)
        )
        self._said[words] += 1
        return "line-" + hashlib.sha256(f"{words}|{self._said[words]}".encode()).hexdigest()[:40]

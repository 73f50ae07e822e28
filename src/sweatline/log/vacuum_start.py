"""A compressor is never started under vacuum: what a log says of it.

No log holds a start under vacuum. It is kept so wherever an entry comes from: a start typed, an
earlier entry corrected or withdrawn, another one put in before the start, a log read in. The rule
itself is :func:`sweatline.safety.start_gear.start_rule`; here is only what the log says.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from sweatline.log.entries import Entry, active_entries
from sweatline.safety.start_gear import DEEPEST_SUCTION, start_rule

_LET_IN: Final = ("pressurised", "vacuum broken", "opened")
_SHOWN_AT_REST: Final = ("suction gauge", "head gauge")


@dataclass(slots=True)
class _Circuit:
    """What is known of the circuit at one moment of a log."""

    vacuum: float | None = None  # Pa, of the vacuum gauge since the circuit last changed
    let_in: bool = True
    running: bool = False
    standing: float | None = None  # Pa, of a gauge since it was last changed or stopped

    @property
    def reason(self) -> str:
        """Why a compressor must not be started now; empty when it may be."""
        pressure = self.vacuum
        if pressure is None and self.standing is not None and self.standing < DEEPEST_SUCTION:
            pressure = self.standing
        return start_rule(pressure=pressure, let_in_since=self.let_in).reason

    def follow(self, e: Entry) -> None:
        """Take in one entry."""
        if e.kind == "addition" or (e.kind == "event" and e.channel in _LET_IN):
            self.vacuum, self.standing, self.let_in = None, None, True
        elif e.kind == "event" and e.channel == "evacuating":
            self.vacuum, self.standing, self.let_in = None, None, False
        elif e.kind == "event" and e.channel in ("started", "stopped"):
            self.running, self.standing = e.channel == "started", None
        elif e.kind == "reading" and e.channel == "vacuum gauge":
            self.vacuum = e.value
        elif e.kind == "reading" and e.channel in _SHOWN_AT_REST and not self.running:
            self.standing = e.value


def _at_the_end(held: Iterable[Entry]) -> _Circuit:
    circuit = _Circuit()
    for e in held:
        circuit.follow(e)
    return circuit


def start_refused(held: Sequence[Entry]) -> str:
    """Why a compressor must not be started as things stand in the log; empty when it may be."""
    return _at_the_end(held).reason


def _starts(rows: Iterable[Entry]) -> dict[str, tuple[Entry, str]]:
    """Starts under vacuum that hold, by the key of their row, each with its reason."""
    circuit = _Circuit()
    found: dict[str, tuple[Entry, str]] = {}
    for e in active_entries(rows):
        if e.kind == "event" and e.channel == "started" and circuit.reason:
            found[e.key or f"number {e.id}"] = (e, circuit.reason)
        circuit.follow(e)
    return found


def new_start_in_vacuum(before: Sequence[Entry], after: Sequence[Entry]) -> str:
    """What a change of a log would make it say of a start, in words; empty when nothing bad.

    Parameters
    ----------
    before, after : sequence of Entry
        All rows of the log, without and with the change.
    """
    known = _starts(before)
    for key, (e, reason) in _starts(after).items():
        if key not in known:
            clock = datetime.fromtimestamp(e.happened_at).strftime("%Y-%m-%d %H:%M")
            return f"the compressor would have been started at {clock} under vacuum: {reason}"
    return ""


def pump_while_running(held: Sequence[Entry]) -> bool:
    """Whether, as things stand, the compressor runs on a circuit that is being evacuated."""
    circuit = _at_the_end(held)
    return circuit.running and bool(circuit.reason)

"""Data quality of a log: what holds and which of it is in doubt, kept up to date row by row.

A reading that looks like a slip is kept as typed; until the person confirms or corrects it, it
stays in doubt, and nothing is concluded from it. Confirming is a row that restates the value it
corrects, so that nothing but the log itself says what has been settled: a session that was killed
finds the same doubts again.
"""

from __future__ import annotations

import functools
from bisect import bisect_right, insort
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.log.channels import EMPTIED
from sweatline.log.entries import Entry
from sweatline.log.orders import Circumstances
from sweatline.log.plausibility import LASTING, SAME_MOMENT, Doubt, dated_ahead, doubts
from sweatline.log.store import Log
from sweatline.refrigerant.refrigerant import Refrigerant, SaturationTemperatures, load


class DataQuality:
    """Follows a log as it grows.

    Parameters
    ----------
    facts : mapping of str to str
        What the log is about: refrigerant and the zero of the gauges.
    air : float, optional
        The warmest air at the machine, if known. [K]
    """

    def __init__(self, facts: Mapping[str, str], *, air: float | None = None) -> None:
        self.atmosphere = float(facts.get("atmosphere_Pa", STANDARD_ATMOSPHERE))
        self.refrigerant = facts.get("refrigerant", "")
        self.air = air
        self.simulated = facts.get("clock", "") == "simulated"
        self.rows: list[Entry] = []  # all of them, as written
        # Grows whenever something already told has changed: a correction, another order.
        self.revision = 0
        self.doubted: dict[int, tuple[Doubt, ...]] = {}  # by the number of the first row
        self._saturated: Callable[[float], SaturationTemperatures] | None = None
        self._first: dict[int, int] = {}  # of a row, the row that it goes back to
        self._latest: dict[int, Entry] = {}
        self._epochs: list[int] = []  # rows from which a clock set back counts anew
        self._accepted: set[tuple[str, str]] = set()  # channel and slip
        self._held: list[Entry] = []
        self._by: dict[str, str] = {}  # instrument that reads a channel since it was changed
        self._stale = False
        self._readings: dict[str, list[_Timed]] = {}
        self._done: list[_Timed] = []  # events and additions

    def catch_up(self, log: Log) -> None:
        """Take in what has been written since, by whomever."""
        for row in log.entries(after=self.last_id):
            self.take(row)

    def take(self, row: Entry) -> tuple[Doubt, ...]:
        """Take in the next row, in the order written; what is doubtful about it."""
        origin = row.id if row.corrects is None else self.first_of(row.corrects)
        earlier = self._latest.get(origin)
        found: tuple[Doubt, ...] = ()
        self.rows.append(row)
        self._first[row.id] = origin
        self._latest[origin] = row
        if row.corrects is None:
            found = self.asked(row)
            self._enter(row, origin, found)
            if row.kind == "event" and row.done:
                self._accepted.clear()
            if self._held and self._place(row) < self._place(self._held[-1]):
                self.revision += 1
                self._stale = True
            self._held.append(self._named(row))
        else:
            was = self.doubted.pop(origin, ())
            restated = earlier is not None and _restates(row, earlier)
            if restated:
                self._accepted |= {(row.channel, d.slip) for d in was if d.slip in LASTING}
                if any(d.slip == "clock back" for d in was):
                    self._epochs.append(origin)
            self._rebuild(without=origin)
            if row.kind != "withdrawal":
                found = () if restated else self.asked(row)
                self._enter(row, origin, found)
            self._ask_again()
            self.revision += 1
            self._stale = True
        return found

    @property
    def last_id(self) -> int:
        """Number of the last row taken in."""
        return self.rows[-1].id if self.rows else 0

    def first_of(self, number: int) -> int:
        """The number of the row that a row goes back to."""
        return self._first.get(number, number)

    def latest_of(self, number: int) -> Entry | None:
        """The row that now stands in the place of another."""
        return self._latest.get(self.first_of(number))

    def held(self) -> list[Entry]:
        """What holds, doubtful or not, in the order in which it happened.

        Times of before a confirmed setting back of the clock come before those after it.
        """
        if self._stale:
            rows = [e for e in self._latest.values() if e.kind != "withdrawal"]
            self._by.clear()
            self._held = [self._named(e) for e in sorted(rows, key=self._place)]
            self._stale = False
        return self._held

    def _named(self, entry: Entry) -> Entry:
        """A reading with the instrument that reads its channel since it was changed."""
        if entry.renewed:
            self._by[entry.renewed] = entry.instrument
        elif entry.kind == "reading" and not entry.instrument and entry.channel in self._by:
            return replace(entry, instrument=self._by[entry.channel])
        return entry

    def holds(self, entry: Entry) -> bool:
        """Whether a row has been neither corrected nor withdrawn."""
        latest = self.latest_of(entry.id)
        return latest is not None and latest.id == entry.id and entry.kind != "withdrawal"

    def in_doubt(self, entry: Entry) -> tuple[Doubt, ...]:
        """What is doubtful about an entry that holds."""
        return self.doubted.get(self.first_of(entry.id), ())

    def epoch(self, entry: Entry) -> int:
        """How often the clock had been set back before an entry."""
        return bisect_right(self._epochs, self.first_of(entry.id))

    def _place(self, entry: Entry) -> tuple[int, float, int]:
        origin = self.first_of(entry.id)
        return (bisect_right(self._epochs, origin), entry.happened_at, origin)

    def _enter(self, row: Entry, origin: int, found: tuple[Doubt, ...]) -> None:
        """Put a row among those that others are held against, unless it is doubted."""
        if found:
            self.doubted[origin] = found
        elif row.done:
            _put(self._done, (row.happened_at, origin, row))
        elif row.kind == "reading" and (not self._epochs or origin >= self._epochs[-1]):
            _put(self._readings.setdefault(row.channel, []), (row.happened_at, origin, row))

    def _rebuild(self, *, without: int) -> None:
        self._readings.clear()
        self._done.clear()
        for origin in sorted(self._latest):
            row = self._latest[origin]
            if origin != without and origin not in self.doubted and row.kind != "withdrawal":
                self._enter(row, origin, ())

    def _ask_again(self) -> None:
        """What was doubted beside a row that has been put right may be in order now."""
        for origin in sorted(self.doubted):
            if any(d.slip == "clock back" for d in self.doubted[origin]):
                continue
            row = self._latest[origin]
            found = self.asked(row, below=origin)
            if found:
                self.doubted[origin] = found
            else:
                del self.doubted[origin]
                self._enter(row, origin, ())

    def asked(self, entry: Entry, *, below: int | None = None) -> tuple[Doubt, ...]:
        """Slips that would explain an entry, held against the rows that are not in doubt.

        Parameters
        ----------
        below : int, optional
            Only against rows with a smaller number.
        """
        if entry.kind in ("addition", "event"):
            beside = self._circumstances(entry, None)
            if dated_ahead(entry, beside):
                return doubts(entry, (), beside)
        if entry.kind == "addition":
            return self._added_twice(entry, below)
        if entry.kind != "reading":
            return ()
        latest: list[Entry] = []
        near: list[Entry] = []
        for channel, known in self._readings.items():
            rows = known if below is None else [r for r in known if r[1] < below]
            if not rows:
                continue
            latest.append(rows[-1][2])
            at = _until(rows, entry.happened_at)
            if at:
                near.append(rows[at - 1][2])
            if channel == entry.channel:
                end = _until(rows, entry.happened_at + SAME_MOMENT)
                near += [
                    r[2]
                    for r in rows[max(end - 8, 0) : end]
                    if abs(r[0] - entry.happened_at) < SAME_MOMENT
                ]
        # A row that is asked about again is not of this moment: its clock was looked at before.
        clock: float | None = entry.written_at
        if below is None:
            clock = self.rows[-2].written_at if len(self.rows) > 1 else None
        doubted = [
            self._latest[origin]
            for origin in sorted(self.doubted)
            if self._latest[origin].kind == "reading" and (below is None or origin < below)
        ]
        found = doubts(entry, [*latest, *near], self._circumstances(entry, clock), doubted=doubted)
        return tuple(d for d in found if (entry.channel, d.slip) not in self._accepted)

    def _added_twice(self, entry: Entry, below: int | None) -> tuple[Doubt, ...]:
        for at, origin, row in reversed(self._done):
            if below is not None and origin >= below:
                continue
            if abs(at - entry.happened_at) < SAME_MOMENT and (row.kind, row.value) == (
                "addition",
                entry.value,
            ):
                return (Doubt(slip="twice", beside=row),)
        return ()

    def _circumstances(self, entry: Entry, clock: float | None) -> Circumstances:
        running = False
        disturbed = None
        inside = self.refrigerant
        for at, _origin, e in self._done:
            if at > entry.happened_at:
                break
            disturbed = at
            if e.kind == "addition":
                inside = self.refrigerant
                continue
            running = {"started": True, "stopped": False}.get(e.channel, running)
            if e.channel in EMPTIED:
                inside = ""
            elif e.channel == "vacuum broken" and "nitrogen" not in e.text.casefold():
                inside = self.refrigerant
        known = Circumstances(
            atmosphere=self.atmosphere,
            running=running,
            disturbed_at=disturbed,
            last_written=clock,
            simulated=self.simulated,
        )
        if not inside:
            return known
        if self._saturated is None:
            self._saturated = _saturation_of(load(inside))
        saturated = self._saturated
        return replace(
            known,
            dew=lambda p: saturated(p).dew,
            bubble=lambda p: saturated(p).bubble,
            air=self.air,
        )


_Timed = tuple[float, int, Entry]  # when it happened [s], number, row


def _until(rows: Sequence[_Timed], time: float) -> int:
    """How many of the rows, in order, had happened by a time; most often all of them."""
    return len(rows) if rows[-1][0] <= time else bisect_right(rows, time, key=lambda r: r[0])


def _put(rows: list[_Timed], row: _Timed) -> None:
    """Put a row in its place; most often at the end."""
    if not rows or rows[-1][:2] < row[:2]:
        rows.append(row)
    else:
        insort(rows, row, key=lambda r: r[:2])


def _saturation_of(fluid: Refrigerant) -> Callable[[float], SaturationTemperatures]:
    """Saturation at a pressure, at the ends of the table beyond it; asked often of few readings."""
    table = fluid.table

    @functools.lru_cache(maxsize=64)
    def saturated(p: float) -> SaturationTemperatures:
        return fluid.saturation_temperature(min(max(p, table.p_min), table.p_max))

    return saturated


def _restates(row: Entry, earlier: Entry) -> bool:
    """Whether a correction says again what it corrects: it was right."""
    return all(
        getattr(row, name) == getattr(earlier, name)
        for name in ("kind", "channel", "value", "happened_at")
    )

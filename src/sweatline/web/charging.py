"""A charging that pages follow: its log, and the adviser once it is prepared.

The log is the memory. What is drawn follows from it alone, so two phones agree and a program that
was killed goes on where the log ends.
"""

from __future__ import annotations

import statistics
import threading
import time
from bisect import bisect_left
from collections import defaultdict, deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final

from sweatline.assembly.build import choose
from sweatline.charging.adviser import Adviser, ChargeAdvice
from sweatline.charging.preparation import Prepared, prepare
from sweatline.job.model import Job
from sweatline.log.channels import CHANNELS
from sweatline.log.data_quality import DataQuality
from sweatline.log.entries import Entry
from sweatline.log.logbook import Kept, open_log, write_line
from sweatline.log.weighing import dose_on_scale
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import Table
from sweatline.report.course import WINDOW
from sweatline.web.followed import follow_log

TRIAL_RUNS: Final = 128  # behind the advice
_AGAIN: Final = 2.0  # s after which things are looked at again without a new row
_SOON: Final = 0.5  # s after which they are, with one
_FRESH: Final = 3.0  # s that any reading is fresh
_FRESH_GAPS: Final = 3.0  # usual gaps between readings after which one is old
_OLDEST: Final = 300.0  # s after which any is old
_GAPS: Final = 5  # last gaps that count as usual
LATEST: Final = 6  # entries that can be undone on the page
_CHART: Final = frozenset({"suction gauge", "head gauge", "suction gas", "superheat"})
_CHART_STEP: Final = 2.0  # s between readings of a channel on the chart, at least
_POINTS: Final = int(1.1 * WINDOW / _CHART_STEP)


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """A choice of parts, by position in the job and by name."""

    compressor: int
    refrigerant: str
    capillary: int
    length: float | None  # m


def parts_of(job: Job, about: dict[str, str]) -> Parts:
    """The parts that a log names.

    Raises
    ------
    JobError
        The job has no such part, or several and none is named.
    """
    i, refrigerant, j = choose(
        job,
        compressor=about.get("compressor"),
        refrigerant=about.get("refrigerant"),
        capillary=about.get("capillary"),
    )
    length = about.get("length_m")
    return Parts(
        compressor=i,
        refrigerant=refrigerant,
        capillary=j,
        length=float(length) if length else None,
    )


def counted(tell: Callable[[float], None]) -> Callable[[], None]:
    """What is called at each trial run, so that `tell` hears which share is done."""
    done = 0

    def one_more() -> None:
        nonlocal done
        done += 1
        tell(done / (TRIAL_RUNS + 1.0))

    return one_more


def prepared_for(job: Job, parts: Parts, tell: Callable[[float], None]) -> Prepared:
    """What is known of a machine before anything is read; `tell` takes the share done."""
    return prepare(
        job,
        compressor=parts.compressor,
        refrigerant=parts.refrigerant,
        capillary=parts.capillary,
        length=parts.length,
        draws=TRIAL_RUNS,
        progress=counted(tell),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """A dose on its way, by the scale under the cylinder."""

    gone: float  # kg, beyond what was told to be let in
    dose: float | None  # kg, that was to be let in; None where no dose was advised


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a charging stands at one moment."""

    row: int  # last of the log
    now: float  # s since 1970
    advice: ChargeAdvice | None  # None until the adviser is prepared
    told: Sequence[Entry]  # all that holds and is no reading, in doubt or not
    doubtful: Sequence[Entry]  # readings in doubt among the last few entries
    course: Sequence[Entry]  # what the chart shows of what is not in doubt
    readings: Mapping[str, Sequence[Entry]]  # the last few of each channel
    quiet_since: float | None  # s, when something was last done to the machine
    wait_until: float | None  # s, when it is worth looking again; None where nothing is waited for
    weighing: Weighing | None

    @property
    def waited(self) -> float:
        """Share of a wait that is over."""
        begun = self.quiet_since
        if self.wait_until is None or begun is None or self.wait_until <= begun:
            return 1.0
        return min(max((self.now - begun) / (self.wait_until - begun), 0.0), 1.0)

    def stale(self, channel: str) -> float | None:
        """Age of a reading that is old for its channel; None for a fresh one. [s]"""
        times = [e.happened_at for e in self.readings[channel]]
        age = self.now - times[-1]
        gaps = [b - a for a, b in pairwise(times)]
        usual = statistics.median(gaps) if gaps else _OLDEST
        return age if age > min(max(_FRESH_GAPS * usual, _FRESH), _OLDEST) else None


class _Sure:
    """What holds in a log as pages show it; every row of a log that grows is looked at once."""

    def __init__(self) -> None:
        self._of: tuple[DataQuality, int] | None = None  # and its revision
        self._seen = 0

    def follow(self, quality: DataQuality) -> None:
        """Take in what has been written since, all of it where something told has changed."""
        of = (quality, quality.revision)
        if of != self._of:
            self._of, self._seen = of, 0
            self.told: list[Entry] = []
            self.done: list[Entry] = []  # additions and events, none in doubt
            self.weighed: list[Entry] = []  # additions, events and readings of the scale
            self.readings: dict[str, deque[Entry]] = defaultdict(lambda: deque(maxlen=_GAPS + 1))
            self._shown: dict[str, deque[Entry]] = defaultdict(lambda: deque(maxlen=_POINTS))
        held = quality.held()
        for e in held[self._seen :]:
            self._take(e, bool(quality.in_doubt(e)))
        self._seen = len(held)
        self.doubtful = [e for e in held[-LATEST:] if e.kind == "reading" and quality.in_doubt(e)]

    def _take(self, e: Entry, in_doubt: bool) -> None:
        if e.kind != "reading":
            self.told.append(e)
        if e.done or (e.kind == "reading" and e.channel == "scale"):
            self.weighed.append(e)
        if in_doubt:
            return
        if e.done:
            self.done.append(e)
        elif e.kind == "reading":
            self.readings[e.channel].append(e)
            if e.channel in _CHART:
                shown = self._shown[e.channel]
                if shown and e.happened_at // _CHART_STEP == shown[-1].happened_at // _CHART_STEP:
                    shown[-1] = e
                else:
                    shown.append(e)

    @property
    def course(self) -> list[Entry]:
        """What was done, and readings as close as a chart can show them."""
        found = [*self.done, *(e for rows in self._shown.values() for e in rows)]
        return sorted(found, key=lambda e: e.happened_at)


class Charging:
    """One log of one machine, followed by any number of pages.

    Parameters
    ----------
    job : Job
        The machine.
    refrigerant : str
        In the circuit.
    path : Path
        The log.
    clock : callable
        The moment at the machine. [s since 1970]
    """

    def __init__(
        self, job: Job, refrigerant: str, path: Path, *, clock: Callable[[], float] = time.time
    ) -> None:
        self.job = job
        self.refrigerant = refrigerant
        self.path = path
        self.clock = clock
        self._lock = threading.Lock()
        self._prepared: Prepared | None = None
        self._adviser: Adviser | None = None
        self._sure = _Sure()
        self._then: Adviser | None = None  # as things stood before the weighing that goes on
        self._doses: tuple[int, float | None] = (-1, None)  # row of the scale, dose advised before
        self._looked: tuple[float, Look] | None = None
        self._waits: tuple[int, float | None] = (-1, None)  # row of the log, end of the wait

    @property
    def table(self) -> Table:
        """Of the refrigerant."""
        return load(self.refrigerant).table

    def advise_with(self, prepared: Prepared) -> None:
        """From now on there is advice; a log of many rows is gone through first.

        Raises
        ------
        JobError
            The log is about another refrigerant.
        """
        if self._prepared is prepared:
            return
        with open_log(str(self.path)) as log:
            adviser = Adviser(prepared, log.about())
            adviser.advise_on(log, self.clock())
        with self._lock:
            self._prepared, self._adviser, self._looked = prepared, adviser, None
            self._then, self._doses = None, (-1, None)
            self._waits = (-1, None)

    @property
    def advises(self) -> bool:
        """Whether there is advice."""
        return self._prepared is not None

    def last_row(self) -> int:
        """Number of the last row of the log."""
        with open_log(str(self.path)) as log:
            return log.last_id

    def write(self, line: str, *, ago: float = 0.0, key: str = "") -> list[Kept]:
        """Write a line into the log, as something that happened so long ago. [s]"""
        at = self.clock() - ago if ago > _FRESH or self.clock is not time.time else None
        with follow_log(self.path).open() as (log, quality):
            kept = write_line(log, line, at=at, key=key, quality=quality)
        self._looked = None
        return kept

    def look(self) -> Look:
        """How things stand; the same answer to everybody who asks within two seconds."""
        with self._lock, follow_log(self.path).open() as (log, quality):
            row, clock = quality.last_id, time.monotonic()
            if self._looked is not None:
                at, known = self._looked
                if clock - at < (_AGAIN if known.row == row else _SOON):
                    return known
            now, advice, sure = self.clock(), None, self._sure
            if self._adviser is not None:
                advice = self._adviser.advise_on(log, now)
                quality = self._adviser.quality
            sure.follow(quality)
            if self._waits[0] != row:
                wait = advice.look_again if advice is not None else None
                self._waits = (row, None if wait is None else now + wait)
            found = Look(
                row=row,
                now=now,
                advice=advice,
                told=tuple(sure.told),
                doubtful=tuple(sure.doubtful),
                course=tuple(sure.course),
                readings={channel: tuple(rows) for channel, rows in sure.readings.items()},
                quiet_since=sure.done[-1].happened_at if sure.done else None,
                wait_until=self._waits[1],
                weighing=self._weighing(quality, log.about()),
            )
            self._looked = (clock, found)
            return found

    def _weighing(self, quality: DataQuality, about: dict[str, str]) -> Weighing | None:
        """What the scale lost since the last addition, against the dose advised before that."""
        found = dose_on_scale(self._sure.weighed)
        if found is None or self._prepared is None:
            return None
        gone, first = found
        if self._doses[0] != first.id:
            # Another adviser stands where this one stood then; it goes on from the last weighing.
            then = self._then
            if then is None or then.quality.last_id >= first.id:
                then = self._then = Adviser(self._prepared, about)
            rows = quality.rows
            begun, end = (
                bisect_left(rows, n, key=lambda e: e.id)
                for n in (then.quality.last_id + 1, first.id)
            )
            told = then.advise(rows[begun:end], first.happened_at)
            self._doses = (first.id, told.dose if told.action == "add" else None)
        return Weighing(gone=gone, dose=self._doses[1])


def side_of(what: str) -> str:
    """Whether a reading belongs to the low side, the high side, or neither (empty)."""
    thermometers = {"superheat": "suction gas", "subcooling": "liquid line"}
    channel = CHANNELS.get(thermometers.get(what, what))
    if channel is None:
        return "low" if what == "coldest surface" else ""
    if channel.saturation:
        return "low" if channel.saturation == "dew" else "high"
    return {"coil": "low", "discharge gas": "high"}.get(channel.name, "")

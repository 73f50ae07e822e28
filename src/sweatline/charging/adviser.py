"""What to do next while a machine is being charged, from its log.

The log says what was let in and what was read since. The adviser follows it as it grows; what has
been corrected, or put in before its time, is gone through anew, so that a stopped program, a second
person or a corrected reading changes nothing but what is true. The command, the practice on a
simulated machine, its debrief and the survey of the advice all ask this adviser.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Q, Range
from sweatline.charging.dosing import (
    INSTRUMENTS,
    LARGEST,
    LEAST_SHARE,
    LONGEST,
    SMALLEST,
    DoseAdvice,
    still_moving,
    unsure,
)
from sweatline.charging.preparation import Prepared
from sweatline.charging.settling import Outlook
from sweatline.charging.stop_rule import (
    HEAD_AFTER_A_DOSE,
    Obstacle,
    Settled,
    StopCondition,
    asks_for_gas,
    mended_by_taking_out,
    obstacles,
    stop_conditions,
)
from sweatline.charging.suspicion import suspicion
from sweatline.charging.tracker import (
    DIFFERENCES,
    NEEDED,
    ChargeState,
    ChargeTracker,
)
from sweatline.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from sweatline.design.verdict import Verdict
from sweatline.design.verdicts import cautions_clear
from sweatline.errors import JobError
from sweatline.job.explanation import JobSummary, summary_of
from sweatline.log.channels import BLOCKED_TUBE, CHANNELS, CHARACTERS, EMPTIED
from sweatline.log.data_quality import DataQuality
from sweatline.log.entries import Entry, Instrument, scale_step
from sweatline.log.plausibility import SCALE_CREEP, Mending, Slip, mending, question
from sweatline.log.store import Log
from sweatline.safety.cautions import Caution, cautions_of
from sweatline.units import Kind, show

Action = Literal["wait", "add", "stop", "take out", "read"]

NAMED_DOUBTS: Final = 3  # entries in doubt that are told one by one
BEGUN: Final = 0.55  # of the best charge is let in at first, and where this advice is tried
_LEAST_OF_ALL: Final = 0.8  # and no more of what the machine takes that takes least
_OLD: Final = 900.0  # s after which a reading is read again before anything follows from it
_ON_THE_WAY: Final = 0.25  # of what is left of a transient, until the next look
_COPIED: Final = 1000  # entries, after which the tracker is copied for a correction to come
_SAME_ZERO: Final = 200.0  # Pa between the atmospheres of log and job
_LOOK_AGAIN: Final = 60.0  # s, where nothing says better
_AT_REST: Final = (
    "by the log the machine stands, and readings at rest say nothing of its charge: start it and "
    "write `started`"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingOutlook(Answer):
    """A reading that may still move, and where it will settle; or what follows from readings."""

    what: str
    """As in the log; besides: superheat and subcooling, and the coldest surface by the model."""
    kind: Kind
    state: Literal["settled", "drifting", "disturbed"]
    last_SI: float | None
    """As last read, pressures absolute."""
    saturation: Annotated[
        float | None, Q("temperature", doc="Of a gauge as last read: dew of the suction, bubble of "
                        "the head; null for the others.")
    ]  # fmt: skip
    settles_SI: Range
    look_again: Annotated[float, Q("time", doc="Until the rest of its way no longer matters.")]
    expected_after_SI: Range | None
    """What it should come to after the dose; null where there is none, or it is not foretold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryInDoubt(Answer):
    """An entry that looks like a slip; nothing follows it until it is confirmed or corrected."""

    number: int
    what: str
    text: str
    """As typed."""
    slips: tuple[Slip, ...]
    """Which slips would explain it."""
    questions: tuple[str, ...]
    offered: str
    """What was probably meant; empty where no slip tells."""
    mending: Mending | None
    """What would put it right; null where no slip tells."""
    holds_up: bool
    """No dose is told before this is settled; false where a later reading has taken its place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingError(Answer):
    """How well one instrument is taken to read."""

    what: str
    sd_SI: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep(Answer):
    """What to do next while charging, and what it rests on."""

    action: Action
    reason: str
    dose: Annotated[float | None, Q("mass", doc="Negative: to be taken out.")]
    charge: Annotated[float, Q("mass", doc="In the machine: weighed in, less what was vented and "
                               "what stands in the hoses.")]  # fmt: skip
    best_charge: Annotated[
        Range | None, Q("mass", doc="That fills the evaporator, by the readings so far.")
    ]
    chance_over: float | None
    """That the dose ends more than 5 % above it."""
    look_again: Annotated[
        float | None,
        Q(
            "time",
            doc="Until the next look is worth it; null where there is nothing to wait for.",
        ),
    ]
    outlooks: tuple[ReadingOutlook, ...]
    stop_rule: tuple[StopCondition, ...]
    obstacles: tuple[Obstacle, ...]
    """Why this machine cannot be charged right, as far as its readings tell."""
    doubtful: tuple[EntryInDoubt, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeAdvice(NextStep):
    """What to do next while charging, with the job, its cautions and the instruments."""

    job: JobSummary
    cautions: tuple[Caution, ...]
    """Local codes and licensed practice decide."""
    notes: tuple[str, ...]
    atmospheric_pressure: Annotated[float, Q("absolute pressure")]
    charge_sd: Annotated[float, Q("mass")]
    foreseen: tuple[Verdict, ...]
    """What will be wrong with it when it is charged right, by the job's best values."""
    reading_errors: tuple[ReadingError, ...]
    odd: bool
    """Less than one chance in a thousand that such a machine in order shows these readings."""
    unsure: tuple[str, ...]
    """Readings that still move too much to say where they go."""


def check_refrigerant(about: Mapping[str, str], refrigerant: str) -> None:
    """Refuse a log that is about another refrigerant.

    Raises
    ------
    JobError
        It is.
    """
    told = about.get("refrigerant", "")
    if told and told != refrigerant:
        raise JobError(
            what=f"this log is about {told}",
            read=refrigerant,
            allowed="charge with what the log names, or begin another log",
        )


class Adviser:
    """Follows the charging of one machine.

    Parameters
    ----------
    prepared : Prepared
        The machine.
    about : mapping of str to str
        What its log is about: refrigerant and the zero of the gauges.

    Raises
    ------
    JobError
        The log is about another refrigerant.
    """

    def __init__(self, prepared: Prepared, about: Mapping[str, str]) -> None:
        refrigerant = prepared.build.refrigerant.name
        check_refrigerant(about, refrigerant)
        self.prepared = prepared
        self.quality = DataQuality(
            {"refrigerant": refrigerant, **about}, air=prepared.build.job.room.temperature.value
        )
        self._tracker = ChargeTracker(prepared.build, prepared.prior)
        self._revision = 0
        self._instruments: dict[str, Instrument] = {}
        self._followed: list[tuple[Entry, int, bool]] = []  # as told to the tracker
        self._copies: list[ChargeTracker] = []  # of the tracker on its way, the oldest first

    def advise_on(self, log: Log, now: float | None = None) -> ChargeAdvice:
        """The next step, as things stand in a log that was read up to here before."""
        return self.advise(
            log.entries(after=self.quality.last_id), now, instruments=log.instruments()
        )

    def advise(
        self,
        entries: Iterable[Entry] = (),
        now: float | None = None,
        *,
        instruments: Iterable[Instrument] | None = None,
    ) -> ChargeAdvice:
        """The next step, as things stand after further rows of the log.

        Parameters
        ----------
        entries : iterable of Entry
            Rows written since, in the order written.
        now : float, optional
            The moment of the question, by default that of the last entry. [s since 1970]
        instruments : iterable of Instrument, optional
            All that the log describes; by default those given before.
        """
        for row in entries:
            self.quality.take(row)
        self._follow({i.name: i for i in instruments} if instruments is not None else None)
        return self._answer(self._tracker.state(now))

    def _follow(self, instruments: dict[str, Instrument] | None) -> None:
        """Take in what holds and was not seen; again from where something told has changed."""
        quality, held = self.quality, self.quality.held()
        if instruments is not None and instruments != self._instruments:
            self._instruments = instruments
            self._back_to(0)
        elif quality.revision != self._revision:
            pairs = zip(self._followed, held, strict=False)
            as_before = (self._as_told(e) == before for before, e in pairs)
            self._back_to(next((i for i, same in enumerate(as_before) if not same), len(held)))
        self._revision = quality.revision
        self._tracker.instruments = self._instruments
        for entry in held[self._tracker.seen :]:
            _entry, epoch, in_doubt = told = self._as_told(entry)
            self._tracker.step(entry, epoch=epoch, in_doubt=in_doubt)
            self._followed.append(told)
            if self._tracker.seen % _COPIED == 0:
                self._keep_copy()

    def _as_told(self, entry: Entry) -> tuple[Entry, int, bool]:
        """An entry, and what of it the log as a whole decides."""
        return entry, self.quality.epoch(entry), bool(self.quality.in_doubt(entry))

    def _back_to(self, place: int) -> None:
        """Forget what was followed from this place on, and a little before it."""
        if self._tracker.seen <= place:
            return
        while self._copies and self._copies[-1].seen > place:
            self._copies.pop()
        build, prior = self.prepared.build, self.prepared.prior
        self._tracker = self._copies[-1].copied() if self._copies else ChargeTracker(build, prior)
        del self._followed[self._tracker.seen :]

    def _keep_copy(self) -> None:
        """Copies stand the wider apart the older they are: few, and what is lately told is near."""
        kept = self._copies
        kept.append(self._tracker.copied())
        for i in range(len(kept) - 2, 0, -1):
            if 2 * (kept[i + 1].seen - kept[i - 1].seen) <= kept[-1].seen - kept[i + 1].seen:
                del kept[i]

    def _answer(self, now: ChargeState) -> ChargeAdvice:
        prepared, build = self.prepared, self.prepared.build
        doubtful = self._doubtful()
        action, reason, wait = self._before_a_dose(now, doubtful)
        advice: DoseAdvice | None = None
        settled = Settled(at={}, model={})
        if prepared.prior is not None and not now.missing and now.charge > 0.0:
            advice = now.dosing.advice(
                now.charge, smallest=self._smallest(), largest=LARGEST * prepared.full.charge
            )
            advice = self._within_the_limit(now, advice)
            settled = self._settled(now)
        hindered = obstacles(build, settled)
        moving: tuple[str, ...] = ()
        if advice is not None:
            # What would end the charging is said of settled readings only.
            waited = now.at - now.quiet_since
            bold = not hindered and self._head_allows(advice)
            moving = still_moving(advice, now.charge, _weighed(now), waited, bold=bold)
            in_spite = ""
            if action == "add":
                if not moving and not bold:
                    hindered = hindered or (HEAD_AFTER_A_DOSE,)
                elif not moving and prepared.weighing is not None:
                    smallest = self._smallest()
                    found = suspicion(build, prepared.weighing, now, advice.dose, smallest=smallest)
                    moving = unsure(_weighed(now)) if found.settle and waited < LONGEST else ()
                    hindered = (found.look,) if found.look is not None and not moving else ()
                    in_spite = found.in_spite
                    if found.dose < advice.dose:
                        advice = now.dosing.advice(
                            now.charge, smallest=smallest, largest=found.dose
                        )
                if moving:
                    action, reason, wait = self._wait(now, advice, moving)
                else:
                    action, reason = self._judged(advice, settled, hindered)
                    if in_spite and action == "stop" and not hindered:
                        reason = f"{reason}; {in_spite}"
        if hindered and hindered[0].switch_off and action in ("wait", "read"):
            action, reason = "stop", hindered[0].sentence
        dosed = advice is not None and action in ("add", "take out")
        return ChargeAdvice(
            job=summary_of(build.job),
            cautions=cautions_of(
                [build.refrigerant.name],
                work={"charging"},
                clear=cautions_clear(build, max(now.charge, prepared.full.charge)),
            ),
            notes=(*self._zero_note(), *prepared.full.notes),
            atmospheric_pressure=build.job.place.atmospheric_pressure,
            action=action,
            reason=reason,
            dose=advice.dose if advice is not None and dosed else None,
            charge=now.charge,
            charge_sd=now.charge_sd,
            best_charge=advice.best if advice is not None else None,
            chance_over=advice.chance_over if advice is not None else None,
            look_again=wait if action == "wait" else None,
            outlooks=_outlooks(now, settled, advice if dosed else None),
            stop_rule=stop_conditions(build, settled) if advice is not None else (),
            obstacles=hindered,
            foreseen=tuple(prepared.foreseen),
            doubtful=doubtful,
            reading_errors=tuple(
                ReadingError(what=name, sd_SI=sd, source=source)
                for name, (sd, source) in now.errors.items()
            ),
            odd=advice is not None and advice.odd,
            unsure=unsure(_weighed(now)),
        )

    def _zero_note(self) -> tuple[str, ...]:
        """What is said when the gauges of the log have another zero than those of the job."""
        here = self.prepared.build.job.place.atmospheric_pressure
        if abs(self.quality.atmosphere - here) < _SAME_ZERO:
            return ()
        if self.quality.atmosphere == STANDARD_ATMOSPHERE:
            return (
                "the log was begun without an altitude: its gauges are taken to stand where the "
                "job says",
            )
        return (
            "the log was begun for another altitude than the job's: what its gauges show is "
            "counted from the log's",
        )

    def _smallest(self) -> float:
        step = math.sqrt(12.0) * scale_step(self._instruments)
        return max(SMALLEST, LEAST_SHARE * self.prepared.full.charge, 2.0 * step)

    def _doubtful(self) -> tuple[EntryInDoubt, ...]:
        if not self.quality.doubted:
            return ()
        system = self.prepared.build.job.unit_system
        atmosphere = self.quality.atmosphere
        held = self.quality.held()
        read_at = {  # place of the last reading of each channel that is not in doubt
            e.channel: n
            for n, e in enumerate(held)
            if e.kind == "reading" and not self.quality.in_doubt(e)
        }
        found = []
        for place, entry in enumerate(held):
            doubts = self.quality.in_doubt(entry)
            if not doubts:
                continue
            replaced = entry.kind == "reading" and read_at.get(entry.channel, -1) > place
            slips = tuple(d.slip for d in doubts)
            mended = mending(entry, doubts, atmosphere, system)
            harmless = entry.kind == "reading" and set(slips) == {"twice"}
            counts = entry.kind == "addition" or entry.channel in (*CHARACTERS, "scale")
            found.append(
                EntryInDoubt(
                    number=entry.id,
                    what=entry.channel or entry.kind,
                    text=entry.text,
                    slips=slips,
                    questions=tuple(question(entry, d, atmosphere, system) for d in doubts),
                    offered=mended.value if mended is not None else "",
                    mending=mended,
                    holds_up=counts and not replaced and not harmless,
                )
            )
        return tuple(found)

    def _before_a_dose(
        self, now: ChargeState, doubtful: tuple[EntryInDoubt, ...]
    ) -> tuple[Action, str, float]:
        """What comes before any dose: action, reason, and how long to wait; else `add`."""
        if self.prepared.barred:
            return "stop", self.prepared.barred, 0.0
        held_up = [d for d in doubtful if d.holds_up]
        if held_up:
            told = ", ".join(
                f"entry {d.number} ({d.what} {d.text})" for d in held_up[-NAMED_DOUBTS:]
            )
            if len(held_up) > NAMED_DOUBTS:
                told = f"{len(held_up)} entries, last {told},"
            them = "them" if len(held_up) > 1 else "it"
            said = f"{told} in doubt: confirm or correct {them}; no dose is told before"
            return "read", said, 0.0
        if abs(now.untold) >= SCALE_CREEP:
            return "read", self._scale_disagrees(now), 0.0
        if now.charge <= 0.0:
            return "read", self._nothing_in(now), 0.0
        least, most = now.dosing.believable
        if not least <= now.charge <= most:
            return "read", self._hardly(now.charge, least, most), 0.0
        if not now.running and now.missing:
            return "read", _AT_REST, 0.0
        if now.missing:
            return "read", f"read {_listed(now.missing)} first", 0.0
        old = [
            name
            for name in NEEDED
            if now.last[name].happened_at < now.quiet_since
            or now.at - now.last[name].happened_at > _OLD
        ]
        if old and now.at - now.quiet_since < _LOOK_AGAIN:
            return "wait", f"then read {_listed(NEEDED)} again", _LOOK_AGAIN
        if old:
            return "read", f"read {_listed(old)} again: what is known of it is too old", 0.0
        return "add", "", 0.0

    def _head_allows(self, advice: DoseAdvice) -> bool:
        """Whether the head stays within the limit of the high side after the dose."""
        limit = self.prepared.build.job.limits.high_side_pressure
        head = advice.expected.get("head gauge")
        return advice.action != "add" or limit is None or head is None or head.high <= limit.value

    def _within_the_limit(self, now: ChargeState, advice: DoseAdvice) -> DoseAdvice:
        """The advice, with a smaller dose where a larger one could lift the head too far."""
        smallest = self._smallest()
        dose = 0.5 * advice.dose
        while not self._head_allows(advice) and dose >= smallest:
            advice = now.dosing.advice(now.charge, smallest=smallest, largest=dose)
            dose *= 0.5
        return advice

    def _wait(
        self, now: ChargeState, advice: DoseAdvice, moving: tuple[str, ...]
    ) -> tuple[Action, str, float]:
        """Why and how long to wait."""
        weighed = _weighed(now)
        # A reading on the way narrows the outlook: looking once at the end of the transient
        # takes longer and ends no nearer, as simulated machines show.
        rest = _ON_THE_WAY * max(weighed[name].look_again for name in moving)
        left = LONGEST - (now.at - now.quiet_since)
        wait = min(max(rest, _LOOK_AGAIN), max(left, _LOOK_AGAIN))
        moves, goes = ("move", "they go") if len(moving) > 1 else ("moves", "it goes")
        why = f"{_listed(moving)} still {moves} too much to say where {goes}"
        if advice.action == "stop" and len(moving) == len(weighed):
            why = "it may be full, but what settles further can still allow a dose"
        return "wait", why, wait

    def _scale_disagrees(self, now: ChargeState) -> str:
        """What to do when the scale under the cylinder and what was told do not agree."""
        mass = show(abs(now.untold), "mass", self.prepared.build.job.unit_system)
        if now.untold > 0.0:
            return (
                f"by the scale {mass} have gone that nobody told: write `added {mass}`, or "
                "`cylinder changed`, or correct the reading"
            )
        return (
            f"by the scale {mass} less have gone in than was told: correct what was let in, or "
            "read the scale again"
        )

    def _nothing_in(self, now: ChargeState) -> str:
        """What to do while by the log nothing was let in: the first dose, or what is in."""
        system = self.prepared.build.job.unit_system
        if len(now.missing) < len(NEEDED):
            example = "8 oz" if system == "US" else "220 g"
            return (
                f"say what is in the machine, as `added {example}`: by the log nothing was let in"
            )
        taken = now.dosing.prior.best
        dose = min(BEGUN * self.prepared.full.charge, _LEAST_OF_ALL * float(taken.min()))
        first = show(dose, "mass", system)
        return (
            f"by the log nothing was let in. If it is empty, let in {first} while it stands, "
            f"write `added {first}`, start it and read {_listed(NEEDED)}. If it is charged, write "
            "as `added` what it holds"
        )

    def _hardly(self, charge: float, least: float, most: float) -> str:
        """What to do when so much in such a machine is no charge. [kg]"""
        system = self.prepared.build.job.unit_system
        told, full, low, high = (
            show(mass, "mass", system) for mass in (charge, self.prepared.full.charge, least, most)
        )
        said = f"by the log {told} is in, and a machine of these parts takes about {full}: "
        entry = self._largest_addition()
        if charge > most:
            return (
                f"{said}more than {high} is not believed. Correct what was let in{entry}, or "
                "recover it"
            )
        return (
            f"{said}with less than {low} it pumps on next to nothing and no reading tells "
            f"anything. Correct what was let in{entry}, or let in more while it stands"
        )

    def _largest_addition(self) -> str:
        """Which entry of the log let in the most since the circuit was last empty."""
        added: list[Entry] = []
        for e in self.quality.held():
            if e.event in EMPTIED:
                added.clear()
            elif e.kind == "addition":
                added.append(e)
        if not added:
            return ""
        most = max(added, key=lambda e: e.number)
        which = "most by entry" if len(added) > 1 else "entry"
        when = datetime.fromtimestamp(most.happened_at).strftime("%Y-%m-%d %H:%M")
        return f" ({which} {most.id} of {when}, added {most.text})"

    def _settled(self, now: ChargeState) -> Settled:
        """Where things settle, with the errors of the instruments."""
        # What the machines that agree with the readings show at the charge that is in now.
        model = now.dosing.advice(now.charge, smallest=math.inf, largest=0.0).expected
        superheat = now.superheat("suction gas")
        read = {
            **{name: now.settles(name) for name in now.outlooks},
            "superheat": superheat,
            "subcooling": now.subcooling(),
            "return gas superheat": now.superheat("return gas"),
        }
        return Settled(
            at={name: r for name, r in read.items() if r is not None},
            model=model,
            most_subcooling=None
            if superheat is None
            else now.dosing.most_subcooling(superheat.middle),
            blocked_tube=BLOCKED_TUBE not in now.ruled_out,
        )

    def _judged(
        self, advice: DoseAdvice, settled: Settled, hindered: tuple[Obstacle, ...]
    ) -> tuple[Action, str]:
        """The advice in words, unless a limit or the stop rule speaks against it."""
        build = self.prepared.build
        full = advice.action == "take out" and mended_by_taking_out(build, settled, hindered)
        if hindered and not full:
            return "stop", hindered[0].sentence
        wanted = build.job.targets.superheat
        superheat = settled.at.get("superheat")
        if advice.action == "add" and superheat is not None and superheat.high < wanted:
            return "stop", "the superheat settles below its target: the evaporator is full"
        words = {
            "add": "overcharge unlikely after this dose",
            "stop": "the evaporator is as full as the readings can tell",
            "take out": "more is in than the evaporator can use",
        }
        reason = words[advice.action]
        if advice.action == "add":
            reason = "; ".join((reason, *asks_for_gas(build, settled)))
        frozen = settled.coil is not None and settled.coil.high < ZERO_CELSIUS
        if advice.action == "stop" and frozen:
            reason += "; and yet the coil freezes in this room: it needs a warmer one, or a defrost"
        if advice.odd:
            reason += (
                "; but hardly any machine like this one shows such readings together: check "
                "gauges and thermometers first"
            )
        return advice.action, reason


def _weighed(now: ChargeState) -> Mapping[str, Outlook]:
    """Outlooks that the dosing goes by; a spare one that is disturbed is not waited for."""
    return {
        name: o
        for name, o in now.outlooks.items()
        if name in INSTRUMENTS and (name in NEEDED or o.state != "disturbed")
    }


def _listed(names: Iterable[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def _outlooks(
    now: ChargeState, settled: Settled, advice: DoseAdvice | None
) -> tuple[ReadingOutlook, ...]:
    """Readings, and what follows from them, with what they come to after the dose."""
    after: Mapping[str, Range] = advice.expected if advice is not None else {}
    found = [
        ReadingOutlook(
            what=name,
            kind=CHANNELS[name].kind,
            state=o.state,
            last_SI=now.last_value(name),
            saturation=now.saturation(name),
            settles_SI=Range(low=o.low, middle=o.settled, high=o.high),
            look_again=o.look_again,
            expected_after_SI=after.get(name),
        )
        for name, o in now.outlooks.items()
    ]
    coil = None if "coil" in settled.at else settled.coil
    derived: tuple[tuple[str, Kind, Range | None], ...] = (
        ("superheat", "temperature difference", settled.at.get("superheat")),
        ("subcooling", "temperature difference", settled.at.get("subcooling")),
        ("coldest surface", "temperature", coil),
    )
    for name, kind, settles in derived:
        if settles is None:
            continue
        of: tuple[str, ...] = ("suction gauge",)
        if name in DIFFERENCES:
            of = (CHANNELS[DIFFERENCES[name]].gauge, DIFFERENCES[name])
        parts = [now.outlooks[p] for p in of if p in now.outlooks]
        found.append(
            ReadingOutlook(
                what=name,
                kind=kind,
                state="settled" if all(p.state == "settled" for p in parts) else "drifting",
                last_SI=now.difference(name),
                saturation=None,
                settles_SI=settles,
                look_again=max((p.look_again for p in parts), default=0.0),
                expected_after_SI=after.get(name),
            )
        )
    return tuple(found)

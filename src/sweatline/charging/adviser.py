"""What to do next while a machine is being charged, from its log.

The log says what was let in and what was read since. A charging follows it as it grows; what has
been corrected, or put in before its time, is gone through anew, so that a stopped program, a second
person or a corrected reading changes nothing but what is true.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from sweatline.charging.dose_timing import LONGEST, largest_dose, smallest_dose, still_moving
from sweatline.charging.dosing import CHANNELS, Advice
from sweatline.charging.preparation import Prepared, prepare
from sweatline.charging.records import (
    Action,
    ChargingRecord,
    DoubtfulRecord,
    OutlookRecord,
    ReadingErrorRecord,
)
from sweatline.charging.stop_rule import Settled, band_of, obstacles, rules
from sweatline.charging.tracker import NEEDED, SCALE_CREEP, Following, Present
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.log.data_quality import DataQuality

if TYPE_CHECKING:
    from sweatline.charging.stop_rule import Told
    from sweatline.job.model import Job
    from sweatline.log.store import Log

__all__ = ["Charging", "Prepared", "charging", "check_refrigerant", "prepare"]

_OLD: Final = 900.0  # s after which a reading is read again before anything follows from it
_ON_THE_WAY: Final = 0.25  # of what is left of a transient, until the next look
_SAME_ZERO: Final = 200.0  # Pa between the atmospheres of log and job
_LOOK_AGAIN: Final = 60.0  # s, where nothing says better


def charging(
    job: Job,
    log: Log,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    draws: int = 128,
    progress: Callable[[], None] | None = None,
) -> ChargingRecord:
    """The next step of charging one machine.

    Parameters
    ----------
    log : Log
        Of this machine: what was weighed in, and readings of suction gauge, head gauge and suction
        gas (on the tube at the evaporator's outlet), better also of liquid line and watts.

    Raises
    ------
    JobError
        The log is about another refrigerant.
    SolveError
        These parts have no balance.
    """
    check_refrigerant(log, refrigerant)
    prepared = prepare(
        job,
        compressor=compressor,
        refrigerant=refrigerant,
        capillary=capillary,
        length=length,
        draws=draws,
        progress=progress,
    )
    return Charging(prepared, log).record()


def check_refrigerant(log: Log, refrigerant: str) -> None:
    """Refuse a log that is about another refrigerant.

    Raises
    ------
    JobError
        It is.
    """
    about = log.about().get("refrigerant", "")
    if about and about != refrigerant:
        raise JobError(
            what=f"this log is about {about}",
            read=refrigerant,
            allowed="charge with what the log names, or begin another log",
        )


class Charging:
    """Follows the charging of one machine in its log.

    Parameters
    ----------
    prepared : Prepared
        The machine.
    log : Log
        Open for as long as this is used.
    """

    def __init__(self, prepared: Prepared, log: Log) -> None:
        check_refrigerant(log, prepared.build.refrigerant.name)
        self.prepared = prepared
        self.log = log
        facts = {"refrigerant": prepared.build.refrigerant.name} | log.about()
        self.quality = DataQuality(facts, air=prepared.build.job.room.temperature.value)
        self._following = Following(prepared.build, prepared.known)
        self._revision = 0
        self._instruments = {i.name: i for i in log.instruments()}

    def catch_up(self) -> None:
        """Take in what has been written to the log since."""
        self.quality.catch_up(self.log)
        instruments = {i.name: i for i in self.log.instruments()}
        changed = instruments != self._instruments
        if changed or self.quality.revision != self._revision:
            self._instruments = instruments
            self._revision = self.quality.revision
            self._following = Following(self.prepared.build, self.prepared.known)
        self._following.instruments = self._instruments
        held = self.quality.held()
        for entry in held[self._following.seen :]:
            in_doubt = bool(self.quality.in_doubt(entry))
            self._following.step(entry, epoch=self.quality.epoch(entry), in_doubt=in_doubt)

    def record(self) -> ChargingRecord:
        """The next step, as things stand in the log."""
        import sweatline
        from sweatline.design.recording import finite, verdict_record
        from sweatline.job.summary import summary_of
        from sweatline.safety.cautions import cautions_of

        self.catch_up()
        prepared, build = self.prepared, self.prepared.build
        now = self._following.present()
        doubtful = self._doubtful()
        action, reason, wait = self._next(now, doubtful)
        advice: Advice | None = None
        settled = Settled()
        if prepared.known is not None and not now.missing and now.charge > 0.0:
            advice = now.dosing.advice(
                now.charge, smallest=self._smallest(), largest=largest_dose(prepared.full.charge)
            )
            advice = self._within_the_limit(now, advice)
            settled = self._settled(now, advice)
        hindered = obstacles(build, settled)
        if advice is not None and action == "add":
            # What would end the charging is said of settled readings only.
            free = not hindered and self._head_allows(advice)
            patience = self._waits(now, advice, bold=free)
            if patience is not None:
                action, (reason, wait) = "wait", patience
            else:
                action, reason = self._judged(advice, settled, hindered)
        if hindered and action in ("wait", "read") and hindered[0].startswith("switch off"):
            action, reason = "stop", hindered[0]
        dosed = advice is not None and action in ("add", "take out")
        return ChargingRecord(
            command="charge",
            version=sweatline.__version__,
            job=summary_of(build.job),
            cautions=cautions_of([build.refrigerant.name], work={"charging"}),
            notes=(*self._zero_note(), *prepared.full.notes),
            atmospheric_pressure_Pa=build.job.place.atmospheric_pressure,
            action=action,
            reason=reason,
            dose_kg=advice.dose if advice is not None and dosed else None,
            charge_kg=now.charge,
            charge_sd_kg=now.charge_sd,
            best_charge_kg=band_of(advice.best) if advice is not None else None,
            chance_over=finite(advice.chance_over) if advice is not None else None,
            look_again_s=wait if action == "wait" else None,
            outlooks=_outlooks(now, settled, advice if dosed else None),
            stop_rule=rules(build, settled) if advice is not None else (),
            obstacles=hindered,
            foreseen=tuple(verdict_record(v) for v in prepared.foreseen),
            doubtful=doubtful,
            reading_errors=tuple(
                ReadingErrorRecord(what=name, sd_SI=sd, source=source)
                for name, (sd, source) in now.errors.items()
            ),
        )

    def _zero_note(self) -> tuple[str, ...]:
        """What is said when the gauges of the log have another zero than those of the job."""
        here = self.prepared.build.job.place.atmospheric_pressure
        away = self.quality.atmosphere - here
        if abs(away) < _SAME_ZERO:
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
        from sweatline.log.instruments import scale_step

        step = math.sqrt(12.0) * scale_step(self._instruments)
        return max(smallest_dose(self.prepared.full.charge), 2.0 * step)

    def _doubtful(self) -> tuple[DoubtfulRecord, ...]:
        from sweatline.log.slip_prompts import offered, question

        if not self.quality.doubted:
            return ()
        system = self.prepared.build.job.unit_system
        atmosphere = self.quality.atmosphere
        held = self.quality.held()
        found = []
        for place, entry in enumerate(held):
            doubts = self.quality.in_doubt(entry)
            if not doubts:
                continue
            replaced = entry.kind == "reading" and any(
                e.channel == entry.channel and e.kind == "reading" and not self.quality.in_doubt(e)
                for e in held[place + 1 :]
            )
            harmless = entry.kind == "reading" and all(d.slip == "twice" for d in doubts)
            counts = entry.kind == "addition" or (
                entry.channel in self._following.characters or entry.channel == "scale"
            )
            found.append(
                DoubtfulRecord(
                    number=entry.id,
                    what=entry.channel or entry.kind,
                    text=entry.text,
                    questions=tuple(question(entry, d, atmosphere, system) for d in doubts),
                    offered=offered(entry, doubts, atmosphere, system),
                    holds_up=counts and not replaced and not harmless,
                )
            )
        return tuple(found)

    def _next(
        self, now: Present, doubtful: tuple[DoubtfulRecord, ...]
    ) -> tuple[Action, str, float]:
        """What comes before any dose: action, reason, and how long to wait; else `add`."""
        if self.prepared.barred:
            return "stop", self.prepared.barred, 0.0
        held_up = [d for d in doubtful if d.holds_up]
        if held_up:
            told = ", ".join(f"entry {d.number} ({d.what} {d.text})" for d in held_up)
            return "read", f"{told} in doubt: confirm or correct it; no dose is told before", 0.0
        if abs(now.untold) >= SCALE_CREEP:
            return "read", self._scale_disagrees(now), 0.0
        if now.charge <= 0.0:
            said = "say what is in the machine, as `added 220 g`: by the log nothing was let in"
            return "read", said, 0.0
        if now.missing:
            return "read", f"read {_listed(list(now.missing))} first", 0.0
        waited = now.at - now.quiet_since
        old = [
            name
            for name in NEEDED
            if now.last[name].happened_at < now.quiet_since
            or now.at - now.last[name].happened_at > _OLD
        ]
        if old and waited < _LOOK_AGAIN:
            return "wait", f"then read {_listed(list(NEEDED))} again", _LOOK_AGAIN
        if old:
            return "read", f"read {_listed(old)} again: what is known of it is too old", 0.0
        return "add", "", 0.0

    def _head_allows(self, advice: Advice) -> bool:
        """Whether the head stays within the limit of the high side after the dose."""
        limit = self.prepared.build.job.limits.high_side_pressure
        head = float(advice.expected[CHANNELS.index("head gauge"), 2])
        return advice.action != "add" or limit is None or not head > limit.value

    def _within_the_limit(self, now: Present, advice: Advice) -> Advice:
        """The advice, with a smaller dose where a larger one could lift the head too far."""
        smallest = self._smallest()
        dose = 0.5 * advice.dose
        while not self._head_allows(advice) and dose >= smallest:
            advice = now.dosing.advice(now.charge, smallest=smallest, largest=dose)
            dose *= 0.5
        return advice

    def _waits(self, now: Present, advice: Advice, *, bold: bool) -> tuple[str, float] | None:
        """Why and how long to wait before an advice is followed; None where it can be now."""
        from sweatline.charging.charge_prior import CHARACTERS

        weighed = {
            name: o
            for name, o in now.outlooks.items()
            if name in CHARACTERS and (name in NEEDED or o.state != "disturbed")
        }
        waited = now.at - now.quiet_since
        moving = still_moving(advice, now.charge, weighed, CHARACTERS, waited, bold=bold)
        if not moving:
            return None
        # A reading on the way narrows the outlook: looking once at the end of the transient
        # takes longer and ends no nearer, as hidden machines show.
        rest = _ON_THE_WAY * max(weighed[name].look_again for name in moving)
        wait = min(max(rest, _LOOK_AGAIN), max(LONGEST - waited, _LOOK_AGAIN))
        moves, goes = ("move", "they go") if len(moving) > 1 else ("moves", "it goes")
        why = f"{_listed(list(moving))} still {moves} too much to say where {goes}"
        if advice.action == "stop" and len(moving) == len(weighed):
            why = "it may be full, but what settles further can still allow a dose"
        return why, wait

    def _scale_disagrees(self, now: Present) -> str:
        """What to do when the scale under the cylinder and what was told do not agree."""
        from sweatline.units import show

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

    def _settled(self, now: Present, advice: Advice) -> Settled:
        """Where things settle, with the errors of the instruments."""
        model: dict[str, Told] = {}
        if advice.action != "take out":
            # What the machines that agree with the readings show at the charge that is in now.
            here = now.dosing.advice(now.charge, smallest=math.inf, largest=0.0)
            for name, row in zip(CHANNELS, here.expected, strict=True):
                low, middle, high = (float(v) for v in row)
                model[name] = (low, middle, high)
        read = {name: now.told(name) for name in now.outlooks}
        coil, gas = read.get("coil"), read.get("discharge gas")
        return Settled(
            superheat=now.superheat("suction gas"),
            subcooling=now.subcooling(),
            at_compressor=now.superheat("return gas"),
            coil=coil or model.get("coldest surface"),
            head=read.get("head gauge"),
            discharge=gas or model.get("discharge gas"),
            watts=read.get("watts"),
            coil_read=coil is not None,
            discharge_read=gas is not None,
        )

    def _judged(
        self, advice: Advice, settled: Settled, hindered: tuple[str, ...]
    ) -> tuple[Action, str]:
        """The advice in words, unless a limit or the stop rule speaks against it."""
        build = self.prepared.build
        if hindered:
            return "stop", hindered[0]
        if advice.action == "add":
            if not self._head_allows(advice):
                return "stop", (
                    "the head pressure could pass the limit of the high side after another dose"
                )
            if settled.superheat is not None and settled.superheat[2] < build.job.targets.superheat:
                return "stop", "the superheat settles below what is wanted: the evaporator is full"
        odd = ""
        if advice.odd:
            odd = (
                "; no machine like this one shows such readings together: check gauges, "
                "thermometers and what the job says before believing it"
            )
        words = {
            "add": "hardly any chance of ending too full after this dose",
            "stop": "the evaporator is as full as the readings can tell",
            "take out": "more is in than the evaporator can use",
        }
        if advice.action == "stop" and settled.coil is not None and settled.coil[2] < 273.15:
            odd = (
                "; and yet the coil freezes in this room: it needs a warmer one, or a defrost" + odd
            )
        return advice.action, words[advice.action] + odd


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _outlooks(now: Present, settled: Settled, advice: Advice | None) -> tuple[OutlookRecord, ...]:
    """Readings, and what follows from them, with what they come to after the dose."""

    def after(name: str) -> Told | None:
        if advice is None or name not in CHANNELS:
            return None
        low, middle, high = (float(v) for v in advice.expected[CHANNELS.index(name)])
        return low, middle, high

    found = []
    for name, o in now.outlooks.items():
        band = band_of((o.low, o.settled, o.high))
        assert band is not None
        found.append(
            OutlookRecord(
                what=name,
                state=o.state,
                last_SI=now.last_value(name),
                settles_SI=band,
                look_again_s=o.look_again,
                expected_after_SI=band_of(after(name)),
            )
        )
    derived = (
        ("superheat", settled.superheat, ("suction gauge", "suction gas")),
        ("subcooling", settled.subcooling, ("head gauge", "liquid line")),
        ("coldest surface", settled.coil, ("suction gauge",)),
    )
    for name, told, of in derived:
        band = band_of(told)
        if band is None or (name == "coldest surface" and settled.coil_read):
            continue
        parts = [now.outlooks[p] for p in of if p in now.outlooks]
        found.append(
            OutlookRecord(
                what=name,
                state="settled" if all(p.state == "settled" for p in parts) else "drifting",
                last_SI=now.difference(name),
                settles_SI=band,
                look_again_s=max((p.look_again for p in parts), default=0.0),
                expected_after_SI=band_of(after(name)),
            )
        )
    return tuple(found)

"""What to do next while a machine is being charged, from its log.

The log says what was let in and what was read since; from that everything is worked out anew each
time it is asked, so that a stopped program, a second person or a corrected reading changes nothing
but what is true.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from sweatline.bench.dosing import CHANNELS, Advice, Dosing
from sweatline.bench.settling import Outlook, Settling
from sweatline.errors import JobError

if TYPE_CHECKING:
    from sweatline.job.model import Job
    from sweatline.store.entries import Entry
    from sweatline.store.log import Log
    from sweatline.study.bench_records import ChargingRecord, OutlookRecord
    from sweatline.study.record_parts import BandRecord
    from sweatline.study.rig import Rig

__all__ = ["charging"]

_NEEDED: Final = ("suction gauge", "head gauge", "suction gas")
_EMPTIED: Final = ("opened", "evacuating", "pressurised")
_SMALLEST: Final = 2e-3  # kg, what a kitchen scale still weighs out
_LARGEST: Final = 0.12  # of the charge that the best values ask for, at once
_WIDE: Final = 12.0  # tolerances: an outlook wider than this is not worth acting on
_LONGEST_WAIT: Final = 900.0  # s after which a wide outlook is taken as it is

Action = Literal["wait", "add", "stop", "take out", "read"]


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
    import sweatline
    from sweatline.machine.balance import filled
    from sweatline.store.entries import standing
    from sweatline.study.bench_records import ChargingRecord
    from sweatline.study.foreknowledge import CHARACTERS, foreknow
    from sweatline.study.recording import cautions, job_record
    from sweatline.study.rig import rig_for
    from sweatline.study.standing import standing_verdicts

    about = log.about().get("refrigerant", "")
    if about and about != refrigerant:
        raise JobError(
            what=f"this log is about {about}",
            read=refrigerant,
            allowed="charge with what the log names, or begin another log",
        )
    rig = rig_for(
        job, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    full = rig.solve(filled(superheat=job.targets.superheat), near=rig.designed)
    held = standing(log.entries())
    charge = _charge(held)
    barred = [v for v in standing_verdicts(rig, full) if v.final and v.state == "fails"]
    settling: dict[str, Settling] = {}
    last: dict[str, float] = {}
    dosing: Dosing | None = None
    advice: Advice | None = None
    outlooks: dict[str, Outlook] = {}
    action: Action = "read"
    reason = ""
    if barred:
        action, reason = "stop", barred[0].sentence
    else:
        dosing = Dosing(foreknow(rig, full, draws=draws, progress=progress))
        quiet_since = _follow(rig, held, dosing, settling, last)
        now = max((e.happened_at for e in held), default=0.0)
        outlooks = {n: s.outlook(now) for n, s in settling.items() if s.readings_seen}
        missing = [n for n in _NEEDED if n not in outlooks]
        if missing:
            reason = f"read {', '.join(missing)} first"
        else:
            wide = [
                n
                for n, o in outlooks.items()
                if o.high - o.low > _WIDE * CHARACTERS[n].tolerance or o.state == "disturbed"
            ]
            if wide and now - quiet_since < _LONGEST_WAIT:
                action = "wait"
                reason = f"{', '.join(wide)} still moves too much to say where it goes"
            else:
                _tell(rig, dosing, charge, outlooks)
                advice = dosing.advice(charge, smallest=_SMALLEST, largest=_LARGEST * full.charge)
                action, reason = _judged(rig, advice)
    expected = advice.expected if advice is not None and action == "add" else None
    return ChargingRecord(
        command="charge",
        version=sweatline.__version__,
        job=job_record(job),
        cautions=cautions([rig.refrigerant.name], {"charging"}),
        notes=full.notes,
        atmospheric_pressure_Pa=job.place.atmospheric_pressure,
        action=action,
        reason=reason,
        dose_kg=advice.dose if advice is not None and action in ("add", "take out") else None,
        charge_kg=charge,
        best_charge_kg=_band(advice.best) if advice is not None else None,
        chance_over=advice.chance_over if advice is not None else None,
        outlooks=_records(outlooks, last, expected),
        questions=(),
    )


def _charge(held: Sequence[Entry]) -> float:
    """What is in the machine by what was weighed in since it was last emptied. [kg]"""
    total = 0.0
    for e in held:
        if e.kind == "event" and e.channel in _EMPTIED:
            total = 0.0
        elif e.kind == "addition":
            total += float(e.value or 0.0)
    return total


def _follow(
    rig: Rig,
    held: Sequence[Entry],
    dosing: Dosing,
    settling: dict[str, Settling],
    last: dict[str, float],
) -> float:
    """Go through the log; what was known before each addition is told to the dosing.

    Returns the moment of the last thing that was done. [s]
    """
    from sweatline.study.foreknowledge import CHARACTERS

    charge = 0.0
    quiet_since = 0.0
    fresh = False
    for e in held:
        if e.kind == "reading" and e.channel in CHARACTERS:
            one = settling.setdefault(e.channel, Settling(CHARACTERS[e.channel]))
            one.update(e.happened_at, float(e.value or 0.0), e.sd)
            last[e.channel] = float(e.value or 0.0)
            fresh = True
            continue
        if e.kind not in ("addition", "event"):
            continue
        seen = {n: s.outlook(e.happened_at) for n, s in settling.items() if s.readings_seen}
        if fresh and all(n in seen for n in _NEEDED):
            _tell(rig, dosing, charge, seen)
        fresh = False
        quiet_since = e.happened_at
        if e.kind == "event" and e.channel in (*_EMPTIED, "stopped"):
            settling.clear()
            last.clear()
        for one in settling.values():
            one.disturb(e.happened_at)
        if e.kind == "event" and e.channel in _EMPTIED:
            charge = 0.0
        elif e.kind == "addition":
            charge += float(e.value or 0.0)
    return quiet_since


def _tell(rig: Rig, dosing: Dosing, charge: float, outlooks: dict[str, Outlook]) -> None:
    from sweatline.study.foreknowledge import settled_readings

    values, fresh, standing = settled_readings(rig.refrigerant.table, outlooks)
    dosing.told(charge, values, fresh, standing)


def _judged(rig: Rig, advice: Advice) -> tuple[Action, str]:
    """The advice in words, unless a limit speaks against it."""
    limit = rig.job.limits.high_side_pressure
    head = advice.expected[CHANNELS.index("head gauge"), 2]
    if advice.action == "add" and limit is not None and head > limit.value:
        return "stop", "the head pressure could pass the limit of the high side after another dose"
    if advice.odd:
        odd = (
            "; no machine like this one shows such readings together: check gauges, thermometers "
            "and what the job says before believing it"
        )
    else:
        odd = ""
    words = {
        "add": "less than one chance in twenty of ending too full after this dose",
        "stop": "the evaporator is as full as the readings can tell",
        "take out": "more is in than the evaporator can use",
    }
    return advice.action, words[advice.action] + odd


def _band(three: tuple[float, float, float]) -> BandRecord:
    from sweatline.study.record_parts import BandRecord

    return BandRecord(low=three[0], median=three[1], high=three[2])


def _records(
    outlooks: dict[str, Outlook], last: dict[str, float], expected: np.ndarray | None
) -> tuple[OutlookRecord, ...]:
    from sweatline.study.bench_records import OutlookRecord

    out = []
    for name, o in outlooks.items():
        after = None
        if expected is not None and name in CHANNELS:
            low, median, high = (float(v) for v in expected[CHANNELS.index(name)])
            after = _band((low, median, high)) if np.isfinite(median) else None
        out.append(
            OutlookRecord(
                what=name,
                state=o.state,
                last_SI=last[name],
                settles_SI=_band((o.low, o.settled, o.high)),
                look_again_s=o.look_again,
                expected_after_SI=after,
            )
        )
    return tuple(out)

"""What a charging needs before anything is read: the rig, its best values, its drawn machines."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sweatline.bench.dosing import Foreknowledge

if TYPE_CHECKING:
    from sweatline.job.model import Job
    from sweatline.machine.balance import Balance
    from sweatline.study.rig import Rig
    from sweatline.study.verdicts import Verdict

__all__ = ["Prepared", "prepare"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A machine about to be charged, and what is known of it before anything is read."""

    rig: Rig
    full: Balance  # charged right, by the job's best values
    barred: str  # why it must not be charged at all; empty when it may be
    foreseen: tuple[Verdict, ...]  # what will be wrong with it when it is charged right
    known: Foreknowledge | None  # None where it is barred


def prepare(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    draws: int = 128,
    progress: Callable[[], None] | None = None,
) -> Prepared:
    """Everything that is worked out once, before the first reading.

    Raises
    ------
    SolveError
        These parts have no balance.
    """
    from sweatline.machine.balance import filled
    from sweatline.study.foreknowledge import foreknow
    from sweatline.study.kept_foreknowledge import kept, name_of
    from sweatline.study.rig import rig_for
    from sweatline.study.standing import standing_verdicts

    rig = rig_for(
        job, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    full = rig.solve(filled(superheat=job.targets.superheat), near=rig.designed)
    found = [*_working_verdicts(rig, full), *standing_verdicts(rig, full)]
    failing = tuple(v for v in found if v.state == "fails")
    barred = [v for v in failing if v.final]
    known = None
    if not barred:

        def made() -> Mapping[str, np.ndarray]:
            drawn = foreknow(rig, full, draws=draws, progress=progress)
            return {"shares": drawn.shares, "readings": drawn.readings, "best": drawn.best}

        known = Foreknowledge(**kept(name_of(rig, draws), made))
    return Prepared(
        rig=rig,
        full=full,
        barred=f"{barred[0].fault}: {barred[0].sentence}" if barred else "",
        foreseen=failing,
        known=known,
    )


def _working_verdicts(rig: Rig, full: Balance) -> list[Verdict]:
    """The machine charged right, held against its limits."""
    from sweatline.study.verdicts import Verdict, criteria

    bars = rig.bars()
    return [
        Verdict(
            key=c.key,
            fault=c.fault,
            state="fails" if c.margin(rig.machine, full, bars) > 0.0 else "holds",
            number=c.of(rig.machine, full),
            limit=c.limit(bars),
            kind=c.kind,
            probability=None,
            source=c.source,
            sentence=c.sentence,
            safety=c.safety,
            final=c.final,
        )
        for c in criteria(rig)
        if not c.on_colder
    ]

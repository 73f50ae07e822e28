"""What a charging needs before anything is read: the build, its best values, its drawn machines."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sweatline.charging.dosing import ChargePrior

if TYPE_CHECKING:
    from sweatline.assembly.build import Build
    from sweatline.design.verdicts import Verdict
    from sweatline.job.model import Job
    from sweatline.machine.balance import SteadyState

__all__ = ["Prepared", "prepare"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A machine about to be charged, and what is known of it before anything is read."""

    build: Build
    full: SteadyState  # charged right, by the job's best values
    barred: str  # why it must not be charged at all; empty when it may be
    foreseen: tuple[Verdict, ...]  # what will be wrong with it when it is charged right
    known: ChargePrior | None  # None where it is barred


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
    from sweatline.assembly.build import build_for
    from sweatline.charging.charge_prior import charge_prior
    from sweatline.charging.prior_cache import kept, name_of
    from sweatline.design.static_limits import standing_verdicts
    from sweatline.machine.balance import filled

    build = build_for(
        job, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    full = build.solve(filled(superheat=job.targets.superheat), near=build.designed)
    found = [*_working_verdicts(build, full), *standing_verdicts(build, full)]
    failing = tuple(v for v in found if v.state == "fails")
    barred = [v for v in failing if v.final]
    known = None
    if not barred:

        def made() -> Mapping[str, np.ndarray]:
            drawn = charge_prior(build, full, draws=draws, progress=progress)
            return {"shares": drawn.shares, "readings": drawn.readings, "best": drawn.best}

        known = ChargePrior(**kept(name_of(build, draws), made))
    return Prepared(
        build=build,
        full=full,
        barred=f"{barred[0].fault}: {barred[0].sentence}" if barred else "",
        foreseen=failing,
        known=known,
    )


def _working_verdicts(build: Build, full: SteadyState) -> list[Verdict]:
    """The machine charged right, held against its limits."""
    from sweatline.design.verdicts import Verdict, criteria

    limits = build.limits()
    return [
        Verdict(
            key=c.key,
            fault=c.fault,
            state="fails" if c.margin(build.machine, full, limits) > 0.0 else "holds",
            number=c.of(build.machine, full),
            limit=c.limit(limits),
            kind=c.kind,
            probability=None,
            source=c.source,
            sentence=c.sentence,
            safety=c.safety,
            final=c.final,
        )
        for c in criteria(build)
        if not c.on_colder
    ]

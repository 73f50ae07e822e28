"""What a charging needs before anything is read: the build, its best values, its charge prior."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from sweatline.assembly.build import Build, build_for
from sweatline.charging.charge_prior import charge_prior
from sweatline.charging.dosing import ChargePrior
from sweatline.charging.prior_cache import cache_key, cached
from sweatline.design.verdict import Verdict
from sweatline.design.verdicts import judge, judged
from sweatline.job.model import Job
from sweatline.machine.balance import SteadyState, filled


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A machine about to be charged, and what is known of it before anything is read."""

    build: Build
    full: SteadyState  # charged right, by the job's best values
    barred: str  # why it must not be charged at all; empty when it may be
    foreseen: tuple[Verdict, ...]  # what will be wrong with it when it is charged right
    prior: ChargePrior | None  # None where it is barred


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
    build = build_for(
        job, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    return prepare_build(build, well_charged(build), draws=draws, progress=progress)


def well_charged(build: Build) -> SteadyState:
    """The machine charged right, by the job's best values.

    Raises
    ------
    SolveError
        These parts have no balance.
    """
    return build.solve(filled(superheat=build.job.targets.superheat), near=build.designed)


def prepare_build(
    build: Build,
    full: SteadyState,
    *,
    simulated: bool = False,
    draws: int = 128,
    progress: Callable[[], None] | None = None,
) -> Prepared:
    """The same of parts already put together.

    Parameters
    ----------
    full : SteadyState
        Of `well_charged`.
    simulated : bool
        The machine is a simulated one, which may be charged whatever it would do to a real one.

    Raises
    ------
    SolveError
        Hardly any of the machines that this one may be has a balance.
    """
    found = judge(build, full, None, (), judged(build, ()))
    failing = tuple(v for v in found if v.state == "fails")
    barred = "" if simulated else next((_why(v) for v in failing if v.final), "")
    prior = None
    if not barred:

        def made() -> Mapping[str, np.ndarray]:
            sampled = charge_prior(build, full, draws=draws, progress=progress)
            return {"shares": sampled.shares, "readings": sampled.readings, "best": sampled.best}

        prior = ChargePrior(**cached(cache_key(build, draws), made))
    return Prepared(build=build, full=full, barred=barred, foreseen=failing, prior=prior)


def _why(verdict: Verdict) -> str:
    return f"{verdict.fault}: {verdict.sentence}"

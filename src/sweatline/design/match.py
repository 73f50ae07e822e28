"""Will these parts work together? Every combination solved in the job's room, and ranked."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Annotated

from sweatline.answers import Answer, Hidden, Shown, quantities_of
from sweatline.assembly.build import build_for
from sweatline.assembly.trial_runs import shares_of
from sweatline.design.balance import Assessment, assess
from sweatline.design.verdicts import cautions_clear
from sweatline.errors import JobError, SolveError
from sweatline.job.explanation import JobSummary, summary_of
from sweatline.job.model import Job
from sweatline.machine.balance import SteadyState, filled
from sweatline.safety.cautions import Caution, cautions_of
from sweatline.uncertainty.sensitivity import Share

Choice = tuple[int, str, int]
"""Position of the compressor, refrigerant, position of the capillary."""

_MOST_WORKERS = 8
_MOST_REFINED = 4
_FINER = 4  # times as many trial runs for the best
_WATER = [q for q in quantities_of(SteadyState) if q.name == "water"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate(Assessment):
    """One combination, solved and judged."""

    choice: Annotated[Choice, Hidden()]
    matters: tuple[Share, ...]
    """What the spread of the water comes from, largest first; empty with few trial runs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost(Answer):
    """A combination without a balance, and why."""

    compressor: str
    refrigerant: str
    capillary: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchAnswer(Answer):
    """`sweatline match --json`: every combination of the parts, ranked."""

    bench: Annotated[Job, Hidden()] = field(repr=False)
    combinations: int
    complete: bool
    """False when it was interrupted."""
    ranked: tuple[Candidate, ...]
    """Best first."""
    lost: tuple[Lost, ...]

    @property
    def job(self) -> Annotated[JobSummary, Shown()]:
        """The job the answer is about."""
        return summary_of(self.bench)

    @property
    def cautions(self) -> Annotated[tuple[Caution, ...], Shown()]:
        """Local codes and licensed practice decide."""
        found = [cautions_clear(c.build, c.steady.charge) for c in self.ranked]
        clear = frozenset.intersection(*found) if found else ()
        return cautions_of(self.bench.refrigerants, work={"planning"}, clear=clear)

    @property
    def finished(self) -> Annotated[int, Shown()]:
        """Combinations that were looked at."""
        return len(self.ranked) + len(self.lost)


def evaluate(
    job: Job, *, compressor: int, refrigerant: str, capillary: int, draws: int = 32
) -> Candidate:
    """Solve and judge one combination.

    The machine is charged until superheat at the evaporator's outlet stands at the job's target,
    whatever charge and subcooling that takes. Stock capillary is cut to the length of the design
    balance; a fitted one stays as it is.
    """
    build = build_for(job, compressor=compressor, refrigerant=refrigerant, capillary=capillary)
    target = filled(superheat=job.targets.superheat)
    found = build.solve(target, near=build.designed)
    fields, runs = assess(build, found, target, draws=draws, look_colder=True)
    return Candidate(
        **fields,
        choice=(compressor, refrigerant, capillary),
        matters=shares_of(build, runs, _WATER).get("water_kg_per_s", ()),
    )


def candidates(job: Job) -> list[Choice]:
    """Every compressor x refrigerant x capillary of a job."""
    return [
        (i, name, j)
        for i in range(len(job.compressors))
        for name in job.refrigerants
        for j in range(len(job.capillaries))
    ]


def match(
    job: Job,
    *,
    draws: int = 16,
    workers: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> MatchAnswer:
    """Solve and rank every combination of a job's parts. An interrupt keeps what has been found.

    Parameters
    ----------
    draws : int
        Trial runs of each combination; the best gets four times as many.
    workers : int, optional
        Threads; by default as many as there are processors.
    progress : callable, optional
        Takes the share that is done.
    """
    count = len(candidates(job))
    found: list[Candidate | Lost] = []
    complete = True
    try:
        for one in evaluate_all(job, draws=draws, workers=workers):
            found.append(one)
            if progress is not None:
                progress(len(found) / (count + 1.0))
    except KeyboardInterrupt:
        complete = False
    if complete and draws:
        with suppress(KeyboardInterrupt):
            _refine_best(job, found, draws=_FINER * draws)
    return MatchAnswer(
        bench=job,
        combinations=count,
        complete=complete,
        ranked=tuple(_ranked(found)),
        lost=tuple(c for c in found if isinstance(c, Lost)),
    )


def evaluate_all(
    job: Job, *, draws: int = 16, workers: int | None = None
) -> Iterator[Candidate | Lost]:
    """Solve and judge every combination; each as soon as it is done, in no fixed order."""
    choices = candidates(job)
    if workers is None:
        workers = max(1, min(os.cpu_count() or 1, len(choices), _MOST_WORKERS))

    def one(choice: Choice) -> Candidate | Lost:
        i, name, j = choice
        try:
            return evaluate(job, compressor=i, refrigerant=name, capillary=j, draws=draws)
        except (SolveError, JobError) as error:
            reason = error.condition if isinstance(error, SolveError) else str(error)
            return Lost(
                compressor=job.compressors[i].name,
                refrigerant=name,
                capillary=job.capillaries[j].name,
                reason=reason,
            )

    # Compiled kernels and the schema leave a million objects that never die; without this the
    # collector walks them again and again while machines are solved.
    gc.freeze()
    pool = ThreadPoolExecutor(max_workers=workers)
    try:
        for done in as_completed([pool.submit(one, c) for c in choices]):
            yield done.result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _refine_best(job: Job, found: list[Candidate | Lost], *, draws: int) -> None:
    """Solve the best with more trial runs, in place, until the one that stays best has them."""
    for _ in range(_MOST_REFINED):
        best = next(iter(_ranked(found)), None)
        if best is None or best.draws >= draws:
            return
        i, name, j = best.choice
        at = next(k for k, c in enumerate(found) if c is best)
        found[at] = evaluate(job, compressor=i, refrigerant=name, capillary=j, draws=draws)


def _ranked(found: list[Candidate | Lost]) -> list[Candidate]:
    """Solved combinations, best first: what forbids last, then the water one can count on.

    Equals stand in the order of the job, whichever thread was done first.
    """
    solved = [c for c in found if isinstance(c, Candidate)]
    return sorted(
        solved,
        key=lambda c: (c.stopped, -c.dependable_water, -c.chance_clean, -c.steady.water, c.choice),
    )

"""Will these parts work together? Every combination solved in the job's room, and ranked."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sweatline.answers import Range, quantities_of, ranges_of
from sweatline.assembly.build import Build, build_for
from sweatline.assembly.trial_runs import COLDER, colder_balance, shares_of, solved_of, trials
from sweatline.design.verdicts import Verdict, judge, judged
from sweatline.errors import JobError, SolveError
from sweatline.machine.balance import SteadyState
from sweatline.uncertainty.sensitivity import Share

if TYPE_CHECKING:
    from sweatline.job.model import Job

__all__ = [
    "COLDER",
    "Candidate",
    "Lost",
    "candidates",
    "evaluate",
    "match",
    "ranked",
    "refine_best",
]


_WATER = [q for q in quantities_of(SteadyState) if q.name == "water"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One combination, solved and judged."""

    choice: tuple[int, str, int]  # compressor, refrigerant, capillary, as `evaluate` takes them
    compressor: str
    refrigerant: str
    capillary: str
    build: Build
    balance: SteadyState
    verdicts: tuple[Verdict, ...]
    chance: float  # that no fault shows, over the trials
    sure_water: float  # kg/s: mean water with every faulty draw counted as none
    bands: dict[str, Range]
    draws: int
    unsolved: int  # draws without a balance
    matters: tuple[Share, ...]  # for the water, largest first

    @property
    def stopped(self) -> bool:
        """Whether a safety or compatibility verdict forbids this rebuild."""
        return any(v.final and v.state == "fails" for v in self.verdicts)

    @property
    def worst(self) -> Verdict | None:
        """The verdict that costs this combination most: a final one, else the likeliest fault."""
        bad = [v for v in self.verdicts if v.state == "fails"]
        if not bad:
            bad = [v for v in self.verdicts if (v.probability or 0.0) > 0.2]
        return max(bad, key=lambda v: (v.final, v.safety, v.probability or 1.0), default=None)

    @property
    def word(self) -> str:
        """One word for the machine: balanced, or the fault that keeps it from being so."""
        worst = self.worst
        return worst.fault if worst is not None and worst.state == "fails" else "balanced"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """A combination that has no balance, and why."""

    compressor: str
    refrigerant: str
    capillary: str
    reason: str


def evaluate(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    draws: int = 32,
) -> Candidate:
    """Solve and judge one combination.

    The machine is charged until its evaporator is filled: superheat at the outlet stands at the
    job's target, whatever charge and subcooling that takes. Stock capillary is cut to the length
    of the design balance; a fitted one stays as it is.
    """
    from sweatline.machine.balance import filled

    build = build_for(job, compressor=compressor, refrigerant=refrigerant, capillary=capillary)
    target = filled(superheat=job.targets.superheat)
    balance = build.solve(target, near=build.designed)
    cold = colder_balance(build, balance, COLDER)
    runs = trials(build, balance, target, count=draws, look_colder=True, cold=cold) if draws else []
    over = judged(build, runs)
    verdicts = judge(build, balance, cold, runs, over)
    faultless = over.faultless
    # A fault that no draw decides (oil, voltage) or that forbids is there in every one of them.
    barred = any((v.final or v.probability is None) and v.state == "fails" for v in verdicts)
    water = sum(
        t.balance.water
        for t, fine in zip(runs, faultless, strict=True)
        if fine and t.balance is not None
    )
    return Candidate(
        choice=(compressor, refrigerant, capillary),
        compressor=build.compressor.name,
        refrigerant=build.refrigerant.name,
        capillary=build.capillary.name,
        build=build,
        balance=balance,
        verdicts=tuple(verdicts),
        chance=0.0 if barred else (int(faultless.sum()) + 0.5) / (len(runs) + 1.0),
        sure_water=0.0 if barred else water / max(len(runs), 1),
        bands=ranges_of(solved_of(runs)),
        draws=len(runs),
        unsolved=len(runs) - int(over.solved.sum()),
        matters=shares_of(build, runs, _WATER).get("water_kg_per_s", ()),
    )


_MOST_REFINED = 4


def refine_best(job: Job, found: list[Candidate | Lost], *, draws: int) -> None:
    """Solve the best again with more draws, in place, until the one that stays best has them."""
    for _ in range(_MOST_REFINED):
        best = ranked(found)[0]
        if best.draws >= draws:
            return
        i, name, j = best.choice
        at = next(k for k, c in enumerate(found) if c is best)
        found[at] = evaluate(job, compressor=i, refrigerant=name, capillary=j, draws=draws)


def candidates(job: Job) -> list[tuple[int, str, int]]:
    """Every compressor x refrigerant x capillary of a job."""
    return [
        (i, name, j)
        for i in range(len(job.compressors))
        for name in job.refrigerants
        for j in range(len(job.capillaries))
    ]


def match(job: Job, *, draws: int = 16, workers: int = 2) -> Iterator[Candidate | Lost]:
    """Solve every combination; each is yielded as soon as it is done, in no fixed order."""

    def one(choice: tuple[int, str, int]) -> Candidate | Lost:
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
        for done in as_completed([pool.submit(one, c) for c in candidates(job)]):
            yield done.result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def ranked(found: list[Candidate | Lost]) -> list[Candidate]:
    """Solved combinations, best first: what forbids last, then the water one can count on."""
    solved = [c for c in found if isinstance(c, Candidate)]
    return sorted(solved, key=lambda c: (c.stopped, -c.sure_water, -c.chance, -c.balance.water))

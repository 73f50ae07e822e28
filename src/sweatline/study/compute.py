"""What one case is: the same functions as a single command, and the row that is kept of it."""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from sweatline.answers import quantities_of
from sweatline.answers.fields import Quantity
from sweatline.errors import SweatlineError
from sweatline.job.model import PARTS, Job
from sweatline.study.cases import Case, Changes, Kind, Study, changed

_KEPT_JOBS: Final = 4
_SECONDS: Final = {"balance": (0.01, 0.002), "year": (3.0, 0.1)}  # of a case, a trial run; rough
_CHUNK_SECONDS: Final = 2.0  # of work in one, about

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Chunk:
    """Cases that are computed together, with all that a worker needs."""

    job_text: str
    job_path: str
    answer: Kind
    trial_runs: int
    cases: tuple[Case, ...]


def columns(answer: Kind, trial_runs: int) -> tuple[tuple[str, str], ...]:
    """Names and types of what is kept of a case, in order; quantities as `--json` has them."""
    found = [(q.key, "number") for q in quantities_kept(answer)]
    if answer == "balance":
        found += [("word", "text"), ("stopped", "truth")]
        if trial_runs:
            found += [(f"{q.key}_{end}", "number") for q in quantities_kept(answer)
                      for end in ("low", "high")]  # fmt: skip
            found += [("chance_clean", "number"), ("dependable_water_kg_per_s", "number")]
    return (*found, ("failed", "text"), ("seconds", "number"))


def quantities_kept(answer: Kind) -> tuple[Quantity, ...]:
    if answer == "year":
        from sweatline.season.totals import Totals

        return quantities_of(Totals)
    from sweatline.machine.balance import SteadyState

    return quantities_of(SteadyState)


@lru_cache(maxsize=_KEPT_JOBS)
def _job(text: str, path: str, changes: Changes) -> Job:
    from sweatline.job.reading import read_job_text

    job = read_job_text(changed(text, changes) if changes else text, path)
    if job.original.compressor is not None and job.ran_well:
        from sweatline.assembly.calibration import calibrated

        return calibrated(job)
    return job


def compute(chunk: Chunk) -> list[Row]:
    """Rows of a chunk of cases; a case without an answer has the reason in its row."""
    return [_row(chunk, case) for case in chunk.cases]


def _row(chunk: Chunk, case: Case) -> Row:
    begun = time.perf_counter()
    row: Row = {"case": case.number}
    row |= dict(zip(PARTS, case.parts, strict=True))
    row |= dict(case.changes)
    try:
        row |= _answer(chunk, case)
    except SweatlineError as error:
        row["failed"] = str(error)[:200]
    row["seconds"] = time.perf_counter() - begun
    return row


def _answer(chunk: Chunk, case: Case) -> Mapping[str, Any]:
    from sweatline.assembly.build import choose

    job = _job(chunk.job_text, chunk.job_path, case.changes)
    compressor, refrigerant, capillary = case.parts
    i, name, j = choose(job, compressor=compressor, refrigerant=refrigerant, capillary=capillary)
    parts = {"compressor": i, "refrigerant": name, "capillary": j}
    runs = chunk.trial_runs
    if chunk.answer == "year":
        from sweatline.season.year import YearRequest, year

        asked = YearRequest(compressor=i, refrigerant=name, capillary=j, draws=runs, settings=False)
        total = year(job, asked).total
        return {q.key: q.of(total) for q in quantities_of(type(total))}
    from sweatline.design.balance import balance

    found = balance(job, **parts, draws=runs)  # type: ignore[arg-type]
    row: Row = {q.key: q.of(found.steady) for q in quantities_of(type(found.steady))}
    row |= {"word": found.word, "stopped": found.stopped}
    if runs:
        for key, band in found.bands.items():
            row |= {f"{key}_low": band.low, f"{key}_high": band.high}
        row["chance_clean"] = found.chance_clean
        row["dependable_water_kg_per_s"] = found.dependable_water
    return row


def chunks(study: Study, cases: Sequence[Case], hands: int) -> list[Chunk]:
    """Cases in chunks, neighbours together: ever smaller ones, so that all hands end together.

    A chunk is about two seconds of work at most, and holds whole sets of parts where it can: they
    share a job, and reading one takes as long as solving two of them.
    """
    case, run = _SECONDS[study.answer]
    most = _CHUNK_SECONDS / (case + run * study.trial_runs)
    found, at, together = [], 0, math.prod(len(names) for names in study.parts)
    while at < len(cases):
        share = min((len(cases) - at) / (4.0 * hands), most)
        size = max(int(share) // together * together, min(together, int(most)), 1)
        found.append(
            Chunk(
                job_text=study.job_text,
                job_path=study.job_path,
                answer=study.answer,
                trial_runs=study.trial_runs,
                cases=tuple(cases[at : at + size]),
            )
        )
        at += size
    return found

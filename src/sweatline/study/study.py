"""Run a study: what is left of it, with progress, and what came of all its cases."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final

from sweatline.answers import Answer, Hidden
from sweatline.errors import JobError
from sweatline.study import workers
from sweatline.study.cases import Study
from sweatline.study.compute import chunks
from sweatline.study.kept import Kept

# What a study is ranked by, if it does not say so: the first that it has, most first.
_RANKS: Final = ("dependable_water_kg_per_s", "water_kg_per_s", "too_damp_s")
_FEWER_IS_BETTER: Final = frozenset({"too_damp_s", "energy_J", "total_power_W"})
_CLUSTER: Final = 64  # workers that a cluster is taken to have when work is divided


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepAnswer(Answer):
    """`sweatline sweep --json`: how far a study is, and the best of its cases."""

    study: Annotated[Study, Hidden()]
    table: Annotated[Any, Hidden()]  # all rows, as an Arrow table
    title: str
    folder: str
    """In which the rows lie, as Parquet files."""
    cases: int
    done: int
    computed: int
    """Of them, now; the others had been kept."""
    failed: int
    """Cases without an answer; the reason stands in their rows."""
    reasons: Mapping[str, int]
    """Why, and how often."""
    rank_by: str
    """Column by which the best are chosen."""
    best: tuple[Mapping[str, str | float | bool | None], ...]
    """Rows, the best first."""
    seconds: float
    """Of this run."""

    @property
    def complete(self) -> bool:
        """Whether every case has a row."""
        return self.done == self.cases


def sweep(
    study: Study,
    folder: str,
    *,
    processes: int = 1,
    scheduler: str = "",
    top: int = 10,
    progress: Callable[[float], None] | None = None,
) -> SweepAnswer:
    """Compute the cases of a study that have no row yet, and keep each as it is done.

    An interrupt keeps what is done.

    Parameters
    ----------
    folder : str
        Where the rows are kept.
    processes : int
        Of this machine, this one among them.
    scheduler : str
        Address of a Dask scheduler, instead.

    Raises
    ------
    JobError
        The folder holds another study.
    StoreError
        Nothing can be kept, or no worker lives.
    """
    begun = time.perf_counter()
    kept = Kept(folder, study)
    done = kept.done()
    left = [case for case in study.cases() if case.number not in done]
    before, total = len(done), study.count
    computed = 0

    def keep(rows: list[dict[str, Any]]) -> None:
        nonlocal computed
        kept.add(rows)
        computed += len(rows)
        if progress is not None:
            progress((before + computed) / total)

    try:
        if scheduler:
            finished = workers.cluster(chunks(study, left, _CLUSTER), scheduler)
        elif processes > 1:
            finished = workers.local(chunks(study, left, processes), processes)
        else:
            finished = workers.here(chunks(study, left, 1))
        for _chunk, rows in finished:
            keep(rows)
    except KeyboardInterrupt:
        pass
    return summary(study, kept, top=top, computed=computed, seconds=time.perf_counter() - begun)


def summary(
    study: Study, kept: Kept, *, top: int = 10, computed: int = 0, seconds: float = 0.0
) -> SweepAnswer:
    """What came of the cases that have a row.

    Raises
    ------
    JobError
        There is no column to rank by of that name.
    """
    table = kept.table()
    rank_by = study.rank_by or next(name for name in _RANKS if name in table.column_names)
    if rank_by not in table.column_names:
        raise JobError(
            what="no column of this name to rank by",
            read=rank_by,
            field="rank_by",
            path=study.path,
            allowed=f"one of {', '.join(table.column_names)}",
        )
    order = "ascending" if rank_by in _FEWER_IS_BETTER else "descending"
    rows = table.sort_by([(rank_by, order)]).to_pylist()
    sound = [r for r in rows if r["failed"] is None and not r.get("stopped")]
    reasons: dict[str, int] = {}
    for row in rows:
        if row["failed"] is not None:
            reasons[row["failed"]] = reasons.get(row["failed"], 0) + 1
    return SweepAnswer(
        study=study,
        table=table,
        title=study.title,
        folder=str(kept.folder),
        cases=study.count,
        done=table.num_rows,
        computed=computed,
        failed=sum(reasons.values()),
        reasons=reasons,
        rank_by=rank_by,
        best=tuple(sound[:top]),
        seconds=seconds,
    )

"""Figures beside an answer, drawn only when a person asks for them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sweatline.cli.terminal import aside

if TYPE_CHECKING:
    from sweatline.design.match import Candidate
    from sweatline.design.questions import BalanceAnswer, ChargeAnswer, RoomAnswer
    from sweatline.job.model import Job

__all__ = ["draw_figures", "draw_ranking"]


def draw_figures(
    answer: BalanceAnswer | ChargeAnswer | RoomAnswer, folder: str | None, job: Job
) -> None:
    """Draw the figures of an answer into a folder, named after the job file, and say where."""
    if folder is not None:
        from sweatline.report.figures import write_figures

        _tell(write_figures(answer, Path(folder), Path(job.path).stem, job.unit_system))


def draw_ranking(found: list[Candidate], folder: str | None, job: Job) -> None:
    """Draw a ranking in the same way; without a solved combination there is none."""
    if folder is not None and found:
        from sweatline.report.figures import write_ranking

        _tell(write_ranking(found, Path(folder), Path(job.path).stem, job.unit_system))


def _tell(written: list[Path]) -> None:
    for path in written:
        aside(f"Figure: {path}")

"""What answers about the parts on a bench begin with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Annotated, ClassVar

from sweatline.answers import Answer, Hidden, Shown
from sweatline.assembly.build import Build, Parts
from sweatline.job.explanation import JobSummary, summary_of
from sweatline.safety.cautions import Caution, Work, cautions_of


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildAnswer(Answer):
    """An answer about one choice of parts."""

    build: Annotated[Build, Hidden()] = field(repr=False)

    @property
    def parts(self) -> Annotated[Parts, Shown()]:
        """The parts, with the length of the capillary."""
        return self.build.parts


class JobHead:
    """Job and cautions of an answer that has a build."""

    __slots__ = ()
    WORK: ClassVar[Work] = "planning"
    build: Build

    @property
    def job(self) -> Annotated[JobSummary, Shown()]:
        """The job the answer is about."""
        return summary_of(self.build.job)

    @property
    def cautions(self) -> Annotated[tuple[Caution, ...], Shown()]:
        """Local codes and licensed practice decide."""
        return cautions_of([self.build.refrigerant.name], work={self.WORK})


def part_of_progress(
    progress: Callable[[float], None] | None, start: float, end: float
) -> Callable[[float], None] | None:
    """Progress of a part of the work as progress of the whole."""
    if progress is None:
        return None
    tell = progress
    return lambda done: tell(start + done * (end - start))

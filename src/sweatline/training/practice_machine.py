"""The machine that comes with the program, to practise on without any of one's own."""

from __future__ import annotations

from dataclasses import replace
from importlib import resources
from typing import Final

from sweatline.job.model import Job
from sweatline.job.reading import read_job_text
from sweatline.units import System

_FILE: Final = "practice.toml"


def practice_job(system: System = "SI") -> Job:
    """The job of the invented machine, shown in one unit system: one of each part."""
    text = resources.files("sweatline.training").joinpath(_FILE).read_text("utf-8")
    return replace(read_job_text(text, "practice machine"), unit_system=system)

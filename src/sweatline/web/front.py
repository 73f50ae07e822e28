"""The first screen: what is in the folder, and how far the kernels are compiled."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse

from sweatline.errors import JobError
from sweatline.job.mistakes import JobFaults
from sweatline.web.pages import problem, render, workshop_of
from sweatline.web.workshop import Workshop

routes = APIRouter()


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A job of the folder and how far it is."""

    name: str
    title: str
    state: str
    stage: str  # where its link leads


@routes.get("/")
def front(request: Request) -> HTMLResponse:
    """Two doors, and the jobs and logs that are here."""
    workshop = workshop_of(request)
    jobs = [_standing(workshop, name) for name in workshop.jobs]
    return render("front.html", jobs=jobs, logs=workshop.logs)


def _standing(workshop: Workshop, name: str) -> Standing:
    try:
        title = workshop.job(name).title
    except JobError as error:
        count = len(error.faults) + error.untold if isinstance(error, JobFaults) else 1
        state = f"{count} answers are missing or cannot be used" if count > 1 else str(error)
        return Standing(name=name, title=name, state=state, stage="survey")
    return Standing(name=name, title=title, state="ready to match", stage="match")


@routes.get("/kernels")
def kernels(request: Request) -> HTMLResponse:
    """How far the kernels are compiled (status 202), until they are."""
    found = workshop_of(request).kernels
    if found.problem:
        return problem(found.problem)
    return render("kernels.html", status=200 if found.done else 202, kernels=found)


@routes.get("/favicon.ico")
def icon(_request: Request) -> RedirectResponse:
    """Where a browser looks for the drop that is shown a part without its frame."""
    return RedirectResponse("/static/drop.svg", 308)

"""Will these parts work together? The ranking, why the others lose, what to measure first."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from sweatline.design.match import MatchAnswer, match
from sweatline.report.sentences import headline_of_match, outcome
from sweatline.web.pages import part, render, workshop_of
from sweatline.web.pictures import pictures

routes = APIRouter(prefix="/job/{name}")
_SAMPLES = 16


@routes.get("/match")
def page(request: Request, name: str) -> HTMLResponse:
    """The frame of the page; the answer follows as a part."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    return render("match.html", scale=workshop.scale(name), name=name, here="match", job=job)


@routes.get("/match/answer")
def answer(request: Request, name: str) -> HTMLResponse:
    """The ranking, when it is done."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    calculation = workshop.calculations.ask(
        ("match", job.digest), lambda tell: match(job, draws=_SAMPLES, progress=tell)
    )

    def draw(found: MatchAnswer) -> HTMLResponse:
        drawings = pictures(found) if found.ranked else []
        reason = outcome(found.ranked[0], scale) if found.ranked else ""
        return render(
            "match-answer.html", scale=scale, name=name, answer=found, pictures=drawings,
            headline=headline_of_match(found, scale), reason=reason,
        )  # fmt: skip

    return part(calculation, draw)

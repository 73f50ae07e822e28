"""How much each answer of the survey matters: its share of the spread of the best one's water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from sweatline.design.match import Candidate, MatchAnswer, evaluate
from sweatline.errors import JobError
from sweatline.job.document import JobDocument
from sweatline.job.interview import asked_as
from sweatline.report.sentences import named
from sweatline.web.choice import ranking
from sweatline.web.pages import part, progress, render, workshop_of

routes = APIRouter(prefix="/job/{name}")

_SAMPLES: Final = 64  # of the best combination; fewer tell no small share from none


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """One number's share of the spread."""

    label: str
    percent: float
    question: str
    """Empty for what no answer tells, as the error of a model."""


@routes.get("/survey/importance")
def importance(request: Request, name: str) -> HTMLResponse:
    """The shares, largest first, and each for its question; as a part."""
    workshop = workshop_of(request)
    try:
        job = workshop.job(name)
    except JobError:
        return render("importance.html", name=name, weights=[], best="")  # no job yet
    found = ranking(workshop, job)
    if not found.done:  # done a moment later, it goes on below
        return progress(found)
    if found.problem or not found.answer.ranked:
        return part(found, lambda _: render("importance.html", name=name, weights=[], best=""))
    ranked: MatchAnswer = found.answer
    i, refrigerant, j = ranked.ranked[0].choice
    best = workshop.calculations.ask(
        ("importance", job.digest),
        lambda _tell: evaluate(
            workshop.taught(job), compressor=i, refrigerant=refrigerant, capillary=j,
            draws=_SAMPLES,
        ),
    )  # fmt: skip

    def draw(candidate: Candidate) -> HTMLResponse:
        document = JobDocument.of_file(workshop.job_path(name))
        known = {question.name for question in document.questions}
        weights = []
        for share in candidate.matters:
            question = asked_as(share.key, job, candidate.parts.compressor)
            weights.append(Weight(
                label=share.label, percent=100.0 * share.share,
                question=question if question in known else "",
            ))  # fmt: skip
        called = named(candidate.parts, document.scale)
        return render("importance.html", name=name, weights=weights, best=called)

    return part(best, draw)

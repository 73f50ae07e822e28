"""Will these parts work together? The ranking, why the others lose, what to measure first."""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter, Request
from markupsafe import Markup
from starlette.responses import HTMLResponse

from sweatline.design.match import Candidate, Lost, MatchAnswer
from sweatline.job.model import Job
from sweatline.report.reasons import (
    MEASURE_NEXT,
    loser_line,
    losers,
    not_to_be_built,
    title_of_ranking,
    told_shares,
    told_verdicts,
)
from sweatline.report.sentences import (
    gauges_line,
    headline_of_match,
    named,
    outcome,
    room_line,
    trial_runs,
)
from sweatline.units import Scale
from sweatline.web.choice import Chosen, chosen_of, ranking
from sweatline.web.pages import part, render, workshop_of
from sweatline.web.pictures import drawing
from sweatline.web.workshop import Workshop

routes = APIRouter(prefix="/job/{name}")
_SAMPLES: Final = 16
_FIRST: Final = 8  # rows that stand open


@routes.get("/match")
def page(request: Request, name: str) -> HTMLResponse:
    """The frame of the page; the answer follows as a part."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    return render(
        "match.html", scale=workshop.scale(name), name=name, here="match", job=job,
        chosen=chosen_of(request).query,
    )  # fmt: skip


@routes.get("/match/answer")
def answer(request: Request, name: str) -> HTMLResponse:
    """The ranking without trial runs, which takes seconds; the better one takes its place."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    better = ranking(workshop, job, draws=_SAMPLES)
    if better.done:
        return _better(workshop, job, name)
    return part(ranking(workshop, job), lambda found: _drawn(name, found, scale, None))


@routes.get("/match/better")
def better(request: Request, name: str) -> HTMLResponse:
    """The ranking with trial runs, when it is done and drawn."""
    workshop = workshop_of(request)
    return _better(workshop, workshop.job(name), name)


def _better(workshop: Workshop, job: Job, name: str) -> HTMLResponse:
    scale = workshop.scale(name)

    def draw(found: MatchAnswer) -> HTMLResponse:
        if not found.ranked:
            return _drawn(name, found, scale, [])
        drawn = drawing(workshop, ("match", job.digest, _SAMPLES), found)
        return part(drawn, lambda drawings: _drawn(name, found, scale, drawings))

    return part(ranking(workshop, job, draws=_SAMPLES), draw)


def _drawn(
    name: str, found: MatchAnswer, scale: Scale, drawings: list[tuple[str, Markup]] | None
) -> HTMLResponse:
    """The answer; without drawings the first one, in whose place the better one comes."""
    best = found.ranked[0] if found.ranked else None
    bench = found.bench
    reasons = [
        (f"{reason[:1].upper()}{reason[1:]}",
         [(_link(name, bench, one.combination), loser_line(one, scale)) for one in group])
        for reason, group in losers(found, scale).items()
    ] if best is not None else []  # fmt: skip
    return render(
        "match-answer.html",
        scale=scale,
        name=name,
        answer=found,
        best=best,
        headline=headline_of_match(found, scale),
        reason=f"{outcome(best, scale)} {gauges_line(best, scale)}." if best else "",
        link=_link(name, bench, best) if best else "",
        room=room_line(found.job, scale),
        runs=trial_runs(best.draws, best.unsolved) if best else "",
        stops=not_to_be_built(found),
        pictures=drawings,
        title=title_of_ranking(found),
        table=_table(name, found, scale),
        first=_FIRST,
        short=list(told_verdicts(best.verdicts, scale, best.draws, details=False)) if best else [],
        verdicts=list(told_verdicts(best.verdicts, scale, best.draws)) if best else [],
        shares=told_shares(best.matters) if best else [],
        measure_next=MEASURE_NEXT,
        reasons=reasons,
    )


def _link(name: str, job: Job, c: Candidate | Lost) -> str:
    """Address of a combination's own page."""
    if isinstance(c, Lost):
        chosen = Chosen(compressor=c.compressor, refrigerant=c.refrigerant, capillary=c.capillary)
    else:
        i, refrigerant, j = c.choice
        chosen = Chosen(
            compressor=job.compressors[i].name,
            refrigerant=refrigerant,
            capillary=job.capillaries[j].name,
        )
    return f"/job/{name}/combination?{chosen.query}"


def _table(name: str, found: MatchAnswer, scale: Scale) -> tuple[list[str], list[list[str]]]:
    """Heads, and of each combination: address, name, verdict, then a cell under each head."""
    ranked = found.ranked
    water, waters = scale.column([c.steady.water for c in ranked], "water removal", 2)
    watt, watts = scale.column([c.steady.total_power for c in ranked], "power")
    heads, columns = [f"water, {water}", f"power, {watt}"], [waters, watts]
    if any(c.draws for c in ranked):
        dependable = scale.column([c.dependable_water for c in ranked], "water removal", 2)
        heads[1:1] = [f"dependable, {dependable[0]}", "runs clean"]
        columns[1:1] = [dependable[1], [f"{100 * c.chance_clean:.0f} %" for c in ranked]]
    rows = [
        [
            _link(name, found.bench, c),
            named(c.parts, scale),
            "STOP" if c.stopped else c.word,
            *cells,
        ]
        for c, *cells in zip(ranked, *columns, strict=True)
    ]
    return heads, rows

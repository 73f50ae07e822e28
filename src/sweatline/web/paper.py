"""Paper: the sheet, the card and the label as PDF, and the gates that hold the machine up."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from fastapi import APIRouter, Form, Query, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

import sweatline
from sweatline.design.charge_curve import ChargeAnswer, charge_curve
from sweatline.log.channels import ACKNOWLEDGED
from sweatline.log.entries import Entry
from sweatline.log.logbook import keep
from sweatline.report.sheet.document import Document, typeset
from sweatline.report.sheet.sheet import (
    SheetAnswer,
    card_document,
    label_document,
    paper_size,
    read_since,
    sheet,
    sheet_document,
)
from sweatline.web.charging import parts_of
from sweatline.web.choice import chosen_of, ranking, resolved
from sweatline.web.followed import follow_log
from sweatline.web.logs import logs_of
from sweatline.web.pages import part, problem, render, workshop_of
from sweatline.web.workshop import Calculation, Workshop

routes = APIRouter(prefix="/job/{name}")

Paper = Literal["sheet", "card", "label"]
_WAIT: Final = 120.0  # s, longest that a PDF is waited for


@routes.get("/paper")
def page(request: Request, name: str, log: Annotated[str, Query(max_length=80)] = "") -> Response:
    """What papers there are, and what holds the machine up."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    logs = [one.name for one in logs_of(request, name)]
    return render(
        "paper.html", scale=workshop.scale(name), name=name, here="paper", job=job, logs=logs,
        log=log if log in logs else (logs[0] if logs else ""), chosen=chosen_of(request).query,
    )  # fmt: skip


@routes.get("/paper/{log}/gates")
def gates(request: Request, name: str, log: str) -> HTMLResponse:
    """The gates, clear or not, with those that are acknowledged by name."""
    workshop = workshop_of(request)
    scale = workshop.scale(name)

    calculation, held = _sheet(workshop, name, log)

    def draw(found: SheetAnswer) -> HTMLResponse:
        return render(
            "paper-gates.html", scale=scale, name=name, log=log, answer=read_since(found, held)
        )

    return part(calculation, draw)


@routes.post("/paper/{log}/acknowledge")
def acknowledge(
    request: Request,
    name: str,
    log: str,
    key: Annotated[str, Form(max_length=40)],
    by: Annotated[str, Form(max_length=80)],
) -> Response:
    """Write into the log who has read a caution."""
    workshop = workshop_of(request)
    with follow_log(workshop.log_path(log)).open() as (book, quality):
        text = f"{key} by {by.strip()}"
        keep(book, kind="event", channel=ACKNOWLEDGED, text=text, quality=quality)
    return RedirectResponse(f"/job/{name}/paper?log={log}", 303)


@routes.get("/paper/card.pdf")
def card(request: Request, name: str) -> Response:
    """The card to pin on the wall before the work."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    chosen = chosen_of(request)
    ranked = ranking(workshop, job)
    ranked.finished.wait(_WAIT)
    (i, refrigerant, j), _ = resolved(job, chosen, ranked.answer)
    length = chosen.length_m

    def work(tell: object) -> ChargeAnswer:
        return charge_curve(
            workshop.taught(job), compressor=i, refrigerant=refrigerant, capillary=j, length=length
        )

    key = ("card", job.digest, i, refrigerant, j, length)
    found = workshop.calculations.ask(key, work, wait=_WAIT)
    if not found.done or found.problem:
        return problem(found.problem or "still calculating: ask again in a minute", status=503)
    return _pdf(
        card_document(found.answer, scale, version=sweatline.__version__, size=paper_size(job)),
        "paper",
        f"{name}-card",
    )


@routes.get("/paper/{log}/{paper}.pdf")
def from_log(request: Request, name: str, log: str, paper: Paper) -> Response:
    """The sheet or the label of a log."""
    workshop = workshop_of(request)
    found, held = _sheet(workshop, name, log, wait=_WAIT)
    if not found.done or found.problem:
        return problem(found.problem or "still calculating: ask again in a minute", status=503)
    scale = workshop.scale(name)
    if paper == "label":
        return _pdf(label_document(found.answer, scale), "label", f"{name}-label")
    size = paper_size(workshop.job(name))
    return _pdf(
        sheet_document(
            read_since(found.answer, held), scale, version=sweatline.__version__, size=size
        ),
        "paper",
        f"{name}-sheet",
    )


def _sheet(
    workshop: Workshop, name: str, log: str, *, wait: float = 0.0
) -> tuple[Calculation, tuple[Entry, ...]]:
    """The sheet of a log, and what holds in the log now.

    To acknowledge a caution changes no number: the sheet stays that of the row before.
    """
    job = workshop.job(name)
    path = workshop.log_path(log)
    with follow_log(path).open() as (book, quality):
        parts = parts_of(job, book.about())
        held = tuple(quality.held())
        read = {e.id for e in quality.rows if e.event == ACKNOWLEDGED}
        others = (e.id for e in reversed(quality.rows) if quality.first_of(e.id) not in read)
        row = next(others, 0)

    def work(tell: object) -> SheetAnswer:
        return sheet(
            workshop.taught(job), str(path), compressor=parts.compressor, capillary=parts.capillary,
            refrigerant=parts.refrigerant, length=parts.length,
        )  # fmt: skip

    return workshop.calculations.ask(("sheet", job.digest, path, row), work, wait=wait), held


def _pdf(document: Document, form: Literal["paper", "label"], name: str) -> Response:
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"'}
    return Response(typeset(document, form), media_type="application/pdf", headers=headers)

"""The first screen: what is in the folder, and how far the kernels are compiled."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from sweatline.web.pages import render, workshop_of

routes = APIRouter()


@routes.get("/")
def front(request: Request) -> HTMLResponse:
    """Two doors, and the jobs and logs that are here."""
    workshop = workshop_of(request)
    return render("front.html", jobs=workshop.jobs, logs=workshop.logs)

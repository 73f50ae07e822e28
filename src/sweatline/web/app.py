"""The application: every route of the page and of its interface for instruments."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import JSONResponse
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

import sweatline
from sweatline.errors import SweatlineError
from sweatline.web import front, match
from sweatline.web.pages import STATIC, problem, render
from sweatline.web.security import Access, Guard
from sweatline.web.workshop import Workshop

_PAGES = (front.routes, match.routes)


def make_app(workshop: Workshop, access: Access) -> ASGIApp:
    """The page of a folder, behind its guard.

    Parameters
    ----------
    workshop : Workshop
        The folder.
    access : Access
        Who is let in.
    """

    @asynccontextmanager
    async def life(_app: FastAPI) -> AsyncIterator[None]:
        yield
        workshop.calculations.close()

    app = FastAPI(
        title="sweatline",
        version=sweatline.__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        lifespan=life,
    )
    app.state.workshop = workshop
    app.state.access = access
    for routes in _PAGES:
        app.include_router(routes, include_in_schema=False)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.add_exception_handler(SweatlineError, _told)
    app.add_exception_handler(RequestValidationError, _not_valid)
    app.add_exception_handler(404, _not_found)
    return Guard(GZipMiddleware(app, minimum_size=700), access)


def _told(request: Request, error: Exception) -> Response:
    """A mistake of the person, in one sentence."""
    if request.url.path.startswith("/api/"):
        return JSONResponse({"problem": str(error)}, 400)
    assert isinstance(error, SweatlineError)
    if request.headers.get("x-part"):
        return problem(error)
    return render(
        "fault.html", status=400, title="That cannot be used", lines=str(error).splitlines()
    )


def _not_valid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    where = ".".join(str(place) for place in first["loc"][1:])
    sentence = f"{where}: {first['msg']}" if where else str(first["msg"])
    if request.url.path.startswith("/api/"):
        return JSONResponse({"problem": sentence}, 422)
    return render("fault.html", status=422, title="That cannot be used", lines=[sentence])


def _not_found(request: Request, _error: Exception) -> Response:
    if request.url.path.startswith("/api/"):
        return JSONResponse({"problem": "there is nothing at this address"}, 404)
    return render(
        "fault.html", status=404, title="Nothing here", lines=["There is no page at this address."]
    )

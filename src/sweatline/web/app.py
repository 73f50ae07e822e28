"""The application: every route of the page and of its interface for instruments."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING, Final

from anyio import to_thread
from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException as StarletteHTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import JSONResponse
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

import sweatline
from sweatline.errors import SweatlineError
from sweatline.web import front, survey
from sweatline.web.late import LatePages
from sweatline.web.pages import STATIC, problem, render
from sweatline.web.security import Access, Guard
from sweatline.web.workshop import Workshop

if TYPE_CHECKING:  # a broker is read with what needs the physics, behind the first screen
    from sweatline.web.sources import Broker

# What needs no physics; `sweatline.web.later` has the rest.
_FIRST: Final = (front.routes, survey.routes)
_FIRST_SCREEN: Final = 0.5  # s that the browser gets before imports take the processor


def make_app(workshop: Workshop, access: Access, *, broker: Broker | None = None) -> ASGIApp:
    """The page of a folder, behind its guard.

    Parameters
    ----------
    workshop : Workshop
        The folder.
    access : Access
        Who is let in.
    broker : Broker, optional
        That instruments publish to.
    """

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        rest = asyncio.create_task(begin_rest(app))
        yield
        rest.cancel()
        await asyncio.gather(rest, return_exceptions=True)
        workshop.kernels.close()
        workshop.calculations.close()

    async def begin_rest(app: FastAPI) -> None:
        await asyncio.sleep(_FIRST_SCREEN)
        later = await to_thread.run_sync(late.load)
        workshop.kernels.begin()
        later.read_logs(workshop)
        await later.read_sources(app, broker)

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
    for routes in _FIRST:
        app.include_router(routes, include_in_schema=False)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.add_exception_handler(SweatlineError, _told)
    app.add_exception_handler(RequestValidationError, _not_valid)
    app.add_exception_handler(StarletteHTTPException, _refused)
    late = LatePages(app, GZipMiddleware(app, minimum_size=700), "sweatline.web.later")
    return Guard(late, access)


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


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, StarletteHTTPException)
    missing = "there is nothing at this address"
    sentence = missing if error.status_code == 404 and error.detail == "Not Found" else error.detail
    if request.url.path.startswith("/api/"):
        return JSONResponse({"problem": sentence}, error.status_code, error.headers)
    title = "Nothing here" if error.status_code == 404 else "That cannot be done"
    return render("fault.html", status=error.status_code, title=title, lines=[sentence])

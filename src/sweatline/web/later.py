"""The pages that need the physics, and what runs beside them.

Its imports take seconds, so the first screen is served before this module is imported.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Final

from fastapi import FastAPI

from sweatline.web import (
    charge,
    combination,
    diagnose,
    importance,
    instruments,
    logs,
    match,
    paper,
    practise,
    rooms,
    tasks,
    tube,
    year,
)
from sweatline.web.followed import follow_log
from sweatline.web.sources import Broker, follow_tables, listen
from sweatline.web.workshop import Workshop

_PAGES: Final = (
    match.routes,
    importance.routes,
    combination.routes,
    tube.routes,
    rooms.routes,
    year.routes,
    charge.routes,
    logs.routes,
    practise.routes,
    instruments.routes,
    paper.routes,
    *tasks.ROUTES,
    diagnose.routes,
)


def add_pages(app: FastAPI) -> None:
    """Add the routes, and what they keep, to an application that serves already."""
    app.state.feed = instruments.Feed(app.state.workshop)
    for routes in _PAGES:
        app.include_router(routes, include_in_schema=False)
    app.include_router(instruments.api)


def read_logs(workshop: Workshop) -> None:
    """Begin to read the logs of a folder, so that a long one is read when it is first asked for."""

    def read(path: Path) -> None:
        workshop.calculations.ask(("log", path), lambda _tell: follow_log(path).read())

    for name in workshop.logs:
        read(workshop.log_path(name))


async def read_sources(app: FastAPI, broker: Broker | None) -> None:
    """Read tables that grow, and a broker if there is one, until cancelled."""
    async with asyncio.TaskGroup() as group:
        group.create_task(follow_tables(app.state.feed))
        if broker is not None:
            group.create_task(listen(app.state.feed, broker))

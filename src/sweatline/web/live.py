"""Server-sent events: parts of a page that follow a log, whoever writes into it.

Every event has the number of the log's last row as its id. A browser that lost its link sends the
last one it had and is given the present state at once; nothing is missed, for the log is the
memory.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable, Mapping
from typing import Final

from anyio import to_thread
from fastapi import Request
from starlette.responses import StreamingResponse

_LOOK: Final = 0.4  # s between looks into the log
_ALIVE: Final = 2.0  # s between signs of life

Parts = Mapping[str, str]
"""HTML by the id of the element that it fills."""


def stream(
    request: Request, last_row: Callable[[], int], draw: Callable[[], Parts]
) -> StreamingResponse:
    """Events as long as somebody listens.

    Parameters
    ----------
    last_row : callable
        Number of the last row of the log.
    draw : callable
        The parts as they stand now; only those that changed are sent.
    """

    async def events() -> AsyncIterator[str]:
        row = -1
        sent: dict[str, str] = {}
        clock = asyncio.get_running_loop().time
        spoken = drawn = clock()

        def look() -> tuple[int, Parts]:
            # Values settle and grow old without a new row: they are drawn again now and then.
            now = last_row()
            return now, draw() if now != row or clock() - drawn >= _ALIVE else {}

        while not await request.is_disconnected():
            looking = asyncio.ensure_future(to_thread.run_sync(look))
            while not (await asyncio.wait({looking}, timeout=_ALIVE))[0]:
                spoken = clock()
                yield f"id: {row}\nevent: alive\ndata: {row}\n\n"
            row, parts = looking.result()
            if parts:
                drawn = clock()
            for target, html in parts.items():
                if sent.get(target) != html:
                    sent[target] = html
                    data = json.dumps({"target": target, "html": html})
                    spoken = clock()
                    yield f"id: {row}\nevent: part\ndata: {data}\n\n"
            if clock() - spoken >= _ALIVE:
                spoken = clock()
                yield f"id: {row}\nevent: alive\ndata: {row}\n\n"
            await asyncio.sleep(_LOOK)

    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    return StreamingResponse(events(), media_type="text/event-stream", headers=headers)

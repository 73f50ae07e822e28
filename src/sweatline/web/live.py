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
        silent = 0.0
        drawn = 0.0
        clock = asyncio.get_running_loop().time
        while not await request.is_disconnected():
            now = await to_thread.run_sync(last_row)
            # Values settle and grow old without a new row: they are drawn again now and then.
            if now != row or clock() - drawn >= _ALIVE:
                row, drawn = now, clock()
                parts = await to_thread.run_sync(draw)
                for target, html in parts.items():
                    if sent.get(target) != html:
                        sent[target] = html
                        data = json.dumps({"target": target, "html": html})
                        yield f"id: {row}\nevent: part\ndata: {data}\n\n"
                        silent = 0.0
            if silent >= _ALIVE:
                silent = 0.0
                yield f"id: {row}\nevent: alive\ndata: {row}\n\n"
            await asyncio.sleep(_LOOK)
            silent += _LOOK

    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    return StreamingResponse(events(), media_type="text/event-stream", headers=headers)

"""Serving the page: address, browser, the code for a phone, and an end that does not hang."""

from __future__ import annotations

import io
import socket
import threading
import webbrowser
from collections.abc import Callable
from typing import Final

import uvicorn

from sweatline.errors import StoreError
from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop

_CONNECTIONS: Final = 200  # at once
_LAST_WORDS: Final = 2  # s that open streams get at the end


def own_address() -> str:
    """Address of this machine in its network; loopback where there is none. Nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # a documentation address, RFC 5737
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def serve(
    workshop: Workshop,
    *,
    port: int,
    share: bool,
    browser: bool,
    tell: Callable[[str], None],
    broker: str | None = None,
) -> None:
    """Serve a folder until it is interrupted.

    Parameters
    ----------
    port : int
        0 for any that is free.
    share : bool
        On the local network, behind the token; else on this machine only.
    browser : bool
        Open it.
    tell : callable
        Takes each line for the terminal.
    broker : str, optional
        Address of a broker that instruments publish to.

    Raises
    ------
    JobError
        Not the address of a broker.
    StoreError
        The port is taken.
    """
    listened = None
    if broker is not None:
        from sweatline.web.sources import Broker  # else the first screen would wait for it

        listened = Broker.written(broker)
    address = own_address() if share else "127.0.0.1"
    access = Access(hosts=(address, socket.gethostname()) if share else ())
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("0.0.0.0" if share else "127.0.0.1", port))
    except OSError as error:
        listener.close()
        raise StoreError(
            what=f"port {port} cannot be used ({error.strerror}); --port chooses another", path=""
        ) from error
    number = listener.getsockname()[1]
    here = f"http://127.0.0.1:{number}/"
    tell(f"The page: {here}   (Ctrl-C ends it)")
    if share:
        import segno  # only a shared page draws a code; the first screen does not wait for it

        shared = f"http://{address}:{number}/?token={access.token}"
        code = io.StringIO()
        segno.make(shared, error="l").terminal(code, compact=True)
        tell(f"On a phone in this network, scan this code or type {shared}")
        tell(code.getvalue())
    config = uvicorn.Config(
        make_app(workshop, access, broker=listened),
        log_level="warning",
        access_log=False,  # an address may carry the token
        server_header=False,
        proxy_headers=False,
        limit_concurrency=_CONNECTIONS,
        timeout_graceful_shutdown=_LAST_WORDS,
        h11_max_incomplete_event_size=32768,
    )
    if browser:
        threading.Timer(0.3, webbrowser.open, (here,)).start()
    uvicorn.Server(config).run(sockets=[listener])

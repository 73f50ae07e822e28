"""An application that serves its first screen before the rest of its pages is imported."""

from __future__ import annotations

import importlib
import threading
from types import ModuleType

from anyio import to_thread
from fastapi import FastAPI
from starlette.routing import Match
from starlette.types import ASGIApp, Receive, Scope, Send


class LatePages:
    """Serves the pages that stand; who asks for another waits for the import.

    Parameters
    ----------
    app : FastAPI
        With the routes that need no physics.
    inner : ASGI application
        The same within its middleware.
    module : str
        Whose `add_pages` adds the others.
    """

    def __init__(self, app: FastAPI, inner: ASGIApp, module: str) -> None:
        self._app, self._inner, self._name = app, inner, module
        self._lock = threading.Lock()
        self._module: ModuleType | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] == "http" and self._module is None and not self._stands(scope):
            await to_thread.run_sync(self.load)
        await self._inner(scope, receive, send)

    def _stands(self, scope: Scope) -> bool:
        if scope["path"].startswith("/api/"):
            return False  # what can be asked is described once all of it is known
        return any(route.matches(scope)[0] is Match.FULL for route in self._app.routes)

    def load(self) -> ModuleType:
        """The module of the other pages, imported and added once."""
        with self._lock:
            if self._module is None:
                module = importlib.import_module(self._name)
                module.add_pages(self._app)
                self._module = module
            return self._module

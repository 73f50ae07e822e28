"""The interface for instruments, as its own description promises it: whatever is sent."""

from __future__ import annotations

from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from starlette.types import ASGIApp, Receive, Scope, Send

from sweatline.log.logbook import open_log
from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop

LOG = "bench"


@pytest.fixture(scope="module")
def promised(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """What the interface promises, of a folder with one log."""
    place = tmp_path_factory.mktemp("interface")
    open_log(str(place / f"{LOG}.log"), new=True, refrigerant="R-290", system="SI").close()
    app = make_app(Workshop(place), Access(rate=1e6, burst=1e6))
    return schemathesis.openapi.from_asgi("/api/openapi.json", _on_this_machine(app))


def _on_this_machine(app: ASGIApp) -> ASGIApp:
    """The same, asked from the machine itself."""

    async def asked(scope: Scope, receive: Receive, send: Send) -> None:
        headers = [pair for pair in scope.get("headers", ()) if pair[0] != b"host"]
        here = {"client": ("127.0.0.1", 50000), "headers": [*headers, (b"host", b"127.0.0.1")]}
        await app(scope | here if scope["type"] == "http" else scope, receive, send)

    return asked


def test_every_answer_is_as_described(promised: Any) -> None:
    operations = [found.ok() for found in promised.get_all_operations()]
    assert len(operations) >= 2
    for operation in operations:

        @given(case=operation.as_strategy())
        @settings(max_examples=25, suppress_health_check=list(HealthCheck), deadline=None)
        def answers(case: schemathesis.Case) -> None:
            if len(case.path_parameters.get("name", "")) % 2:
                case.path_parameters["name"] = LOG  # else it would never meet one that is there
            case.call_and_validate()

        answers()

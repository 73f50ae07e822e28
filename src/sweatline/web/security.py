"""Who may ask: the token of the network, hosts and origins, sizes and rates, and what pages may do.

On the machine itself no token is needed, for whoever is there can read the files; other sites in
its browser are kept out by host and origin. From the network nothing is given without the token.
"""

from __future__ import annotations

import hmac
import ipaddress
import secrets
import time
from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import parse_qsl, urlencode

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE: Final = "sweatline-token"
LARGEST: Final = 8_000_000  # bytes of a request's body
_ADDRESSES: Final = 1024  # whose rate is remembered
_SAFE: Final = frozenset({"GET", "HEAD"})

_HEADERS: Final = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        "font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


@dataclass(slots=True)
class Access:
    """What is let in.

    Parameters
    ----------
    hosts : iterable of str
        Names and addresses under which the page is reached, without port.
    rate, burst : float
        Requests of one address: a second, and at once.
    token : str
        That the network needs.
    """

    hosts: Iterable[str] = ()
    rate: float = 200.0
    burst: float = 600.0
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    names: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        self.names = frozenset({"localhost", "127.0.0.1", "[::1]", *self.hosts})

    def knows(self, token: str | None) -> bool:
        """Whether this is the token, in a time that does not tell how much of it is right."""
        return token is not None and hmac.compare_digest(token.encode(), self.token.encode())

    def serves(self, host: str) -> bool:
        """Whether a request's Host is one of ours, whatever its port."""
        name, _colon, port = host.rpartition(":")
        if not name or not port.isdigit():
            name = host
        return name.casefold() in self.names


class TooLarge(HTTPException):
    """A request whose body goes on beyond what is taken."""

    def __init__(self) -> None:
        super().__init__(413, "That is too large: 8 MB at most.")


class Guard:
    """Stands before the application and refuses what may not come in."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self.app = app
        self.access = access
        self._rates: OrderedDict[str, tuple[float, float]] = OrderedDict()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        headers = Headers(scope=scope)
        refused = self._refused(scope, headers)
        if refused is not None:
            status, sentence = refused
            answer = PlainTextResponse(f"{sentence}\n", status)
            await answer(scope, receive, send_guarded)
            return
        if self._hands_over(scope):
            await self._welcome(scope)(scope, receive, send_guarded)
            return
        taken = 0

        async def receive_bounded() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > LARGEST:
                raise TooLarge
            return message

        try:
            await self.app(scope, receive_bounded, send_guarded)
        except TooLarge:
            answer = PlainTextResponse("That is too large: 8 MB at most.\n", 413)
            await answer(scope, receive, send_guarded)

    def _refused(self, scope: Scope, headers: Headers) -> tuple[int, str] | None:
        """Why a request is not served, with its status."""
        host = headers.get("host", "")
        if not self.access.serves(host):
            return 421, "This page is not served under that name."
        address = (scope.get("client") or ("",))[0]
        if not self._in_time(address):
            return 429, "Too many requests; slow down."
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > LARGEST:
            return 413, "That is too large: 8 MB at most."
        bearer = headers.get("authorization", "")
        named = bearer.removeprefix("Bearer ") if bearer.startswith("Bearer ") else None
        if named is not None and not self.access.knows(named):
            return 401, "The token is wrong."
        origin = headers.get("origin")
        site = headers.get("sec-fetch-site", "none")
        own = f"{scope['scheme']}://{host}"
        if scope["method"] not in _SAFE and named is None:
            if (origin is not None and origin != own) or site not in ("none", "same-origin"):
                return 403, "Another site may not write here."
        elif origin is not None and origin != own and named is None:
            return 403, "Another site may not read here."
        if _is_loopback(address) or named is not None:
            return None
        if self.access.knows(_cookie(headers)) or self._hands_over(scope):
            return None
        return 401, "This machine asks for its token: scan the code in its terminal again."

    def _hands_over(self, scope: Scope) -> bool:
        """The first visit, with the token in the address."""
        if scope["method"] != "GET" or b"token=" not in scope["query_string"]:
            return False
        asked = dict(parse_qsl(scope["query_string"].decode("latin-1")))
        return self.access.knows(asked.get("token"))

    def _welcome(self, scope: Scope) -> RedirectResponse:
        """Keep the token in a cookie and take it out of the address."""
        asked = parse_qsl(scope["query_string"].decode("latin-1"))
        rest = urlencode([(k, v) for k, v in asked if k != "token"])
        target = "/" + scope["path"].lstrip("/") + (f"?{rest}" if rest else "")
        answer = RedirectResponse(target, 303)
        answer.set_cookie(
            COOKIE, self.access.token, max_age=30 * 86400, httponly=True, samesite="strict"
        )
        return answer

    def _in_time(self, address: str) -> bool:
        """Whether an address keeps to the rate."""
        now = time.monotonic()
        rate, burst = self.access.rate, self.access.burst
        left, last = self._rates.get(address, (burst, now))
        left = min(burst, left + rate * (now - last)) - 1.0
        self._rates[address] = (max(left, 0.0), now)
        self._rates.move_to_end(address)
        if len(self._rates) > _ADDRESSES:
            self._rates.popitem(last=False)
        return left >= 0.0


def _is_loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def _cookie(headers: Headers) -> str | None:
    try:
        found = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return None
    return found[COOKIE].value if COOKIE in found else None

"""Who is let in: the token of the network, hosts, origins, sizes, rates, and no other file."""

from __future__ import annotations

import socket
from pathlib import Path
from types import SimpleNamespace

import pytest
import uvicorn
from starlette.testclient import TestClient

from sweatline.web.app import make_app
from sweatline.web.security import COOKIE, LARGEST, Access
from sweatline.web.serve import serve
from sweatline.web.workshop import Workshop

LAN = "192.0.2.7"
PHONE = ("192.0.2.20", 40000)
HERE = ("127.0.0.1", 40000)


def visit(folder: Path, access: Access, who: tuple[str, int], host: str) -> TestClient:
    app = make_app(Workshop(folder), access)
    return TestClient(app, base_url=f"http://{host}:8517", client=who, follow_redirects=False)


@pytest.fixture
def access() -> Access:
    return Access(hosts=(LAN,))


EVERYTHING = [
    ("GET", "/"), ("GET", "/instruments"), ("GET", "/static/page.css"), ("GET", "/api/logs"),
    ("GET", "/api/openapi.json"), ("POST", "/api/logs/x/readings"), ("GET", "/nothing"),
    ("POST", "/instruments/sensor"), ("GET", "/job/x/match"),
]  # fmt: skip


@pytest.mark.parametrize(("method", "path"), EVERYTHING)
def test_without_the_token_the_network_gets_nothing(
    tmp_path: Path, access: Access, method: str, path: str
) -> None:
    answer = visit(tmp_path, access, PHONE, LAN).request(method, path)
    assert answer.status_code == 401
    assert "token" in answer.text
    assert access.token not in answer.text


def test_the_token_in_the_address_becomes_a_cookie(tmp_path: Path, access: Access) -> None:
    phone = visit(tmp_path, access, PHONE, LAN)
    first = phone.get(f"/?token={access.token}&x=1")
    assert first.status_code == 303
    assert first.headers["location"] == "/?x=1"
    cookie = first.headers["set-cookie"]
    assert COOKIE in cookie
    assert "HttpOnly" in cookie
    assert "samesite=strict" in cookie.casefold()
    assert phone.get("/").status_code == 200
    assert phone.get("/?token=wrong").status_code == 200  # the cookie stands


@pytest.mark.parametrize("token", ["", "wrong", "\u00fc"])
def test_a_wrong_token_is_refused(tmp_path: Path, access: Access, token: str) -> None:
    phone = visit(tmp_path, access, PHONE, LAN)
    assert phone.get("/", params={"token": token}).status_code == 401
    bearer = {"authorization": f"Bearer {token}".encode("latin-1")}
    assert phone.get("/api/logs", headers=bearer).status_code == 401
    cookie = {"cookie": f"{COOKIE}={token}".encode("latin-1")}
    assert phone.get("/", headers=cookie).status_code == 401


def test_an_instrument_shows_its_token(tmp_path: Path, access: Access) -> None:
    phone = visit(tmp_path, access, PHONE, LAN)
    assert phone.get("/api/logs", headers={"authorization": f"Bearer {access.token}"}).json() == []


@pytest.mark.parametrize("host", ["example.org", "127.0.0.1.example.org", "", "[::1", "x:80:80"])
def test_another_name_for_this_machine_is_refused(
    tmp_path: Path, access: Access, host: str
) -> None:
    here = visit(tmp_path, access, HERE, "127.0.0.1")
    assert here.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "headers",
    [{"origin": "http://example.org"}, {"origin": "null"}, {"sec-fetch-site": "cross-site"},
     {"sec-fetch-site": "same-site"}, {"origin": "http://127.0.0.1:9"}],
)  # fmt: skip
def test_other_sites_cannot_write(tmp_path: Path, access: Access, headers: dict[str, str]) -> None:
    here = visit(tmp_path, access, HERE, "127.0.0.1")
    told = {"name": "t", "channel": "watts", "unit": "W"}
    assert here.post("/instruments/sensor", data=told, headers=headers).status_code == 403
    assert not list(tmp_path.iterdir())


def test_what_a_page_may_do_is_said(tmp_path: Path, access: Access) -> None:
    policy = visit(tmp_path, access, HERE, "127.0.0.1").get("/").headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy


def test_too_large_is_refused(tmp_path: Path, access: Access) -> None:
    here = visit(tmp_path, access, HERE, "127.0.0.1")

    def endless() -> object:
        for _ in range(LARGEST // 1_000_000 + 2):
            yield b"x" * 1_000_000

    for content in (b"x" * (LARGEST + 1), endless()):
        answer = here.post("/api/logs/x/readings", content=content)  # type: ignore[arg-type]
        assert answer.status_code == 413


def test_too_many_requests_are_refused(tmp_path: Path) -> None:
    here = visit(tmp_path, Access(rate=1.0, burst=20.0), HERE, "127.0.0.1")
    codes = [here.get("/static/drop.svg").status_code for _ in range(40)]
    assert codes[:20] == [200] * 20
    assert 429 in codes


@pytest.mark.parametrize(
    "name",
    ["../secret", "..%2fsecret", "%2e%2e/secret", "secret.toml", "/etc/passwd", "a\\..\\secret",
     "secret%00", "."],
)  # fmt: skip
def test_no_request_reaches_another_file(tmp_path: Path, access: Access, name: str) -> None:
    (tmp_path / "secret.toml").write_text("title = 'private'", encoding="utf-8")
    folder = tmp_path / "served"
    folder.mkdir()
    here = visit(folder, access, HERE, "127.0.0.1")
    for path in (f"/job/{name}/match", f"/static/{name}", f"/static/../../{name}"):
        answer = here.get(path)
        if name != ".":  # the folder itself is the page
            assert answer.status_code in (400, 404), path
        assert "private" not in answer.text
        assert "root:" not in answer.text


def test_however_a_token_comes_it_is_compared_in_constant_time(
    tmp_path: Path, access: Access, monkeypatch: pytest.MonkeyPatch
) -> None:
    compared: list[bytes] = []

    def compare(told: bytes, own: bytes) -> bool:
        compared.append(told)
        return bool(told == own)

    monkeypatch.setattr("hmac.compare_digest", compare)
    phone = visit(tmp_path, access, PHONE, LAN)
    for headers in ({"authorization": "Bearer one"}, {"cookie": f"{COOKIE}=two"}):
        assert phone.get("/", headers=headers).status_code == 401
    assert phone.get("/?token=three").status_code == 401
    assert {b"one", b"two", b"three"} <= set(compared)


@pytest.mark.parametrize("share", [False, True])
def test_the_server_bounds_connections_and_never_logs_a_token(
    tmp_path: Path, share: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[uvicorn.Config] = []
    told: list[str] = []
    monkeypatch.setattr(
        uvicorn, "Server", lambda config: made.append(config) or SimpleNamespace(run=_close)
    )
    serve(Workshop(tmp_path), port=0, share=share, browser=False, tell=told.append)
    (config,) = made
    assert config.access_log is False
    assert config.limit_concurrency is not None
    assert config.limit_concurrency <= 500
    assert config.h11_max_incomplete_event_size is not None
    assert config.proxy_headers is False
    # The terminal alone shows the token, and only where the network is let in.
    assert ("token=" in " ".join(told)) == share


def _close(sockets: list[socket.socket]) -> None:
    for one in sockets:
        one.close()

"""Who may see and do what, and what a browser is told. Numbers in brackets: OWASP ASVS 4.0.3, from memory."""

from __future__ import annotations

import re

import httpx
import pytest
from starlette.routing import Route

from firstrocker.errors import SettingsError
from firstrocker.web.app import _routes
from firstrocker.web.options import Options
from web.served import Server, Visitor
from web.small_session import WORN, logs, parts

OPEN = {"/signin", "/welcome/{token}", "/api/v1/sessions", "/api/v1/openapi.json"}


def addresses() -> list[tuple[str, str]]:
    routes = [route for route in _routes() if isinstance(route, Route)]
    return [(method, route.path) for route in routes for method in sorted((route.methods or set()) - {"HEAD"})]


def filled(path: str, *, person: str, session: str, log: str) -> str:
    key = person if path.startswith("/people") else session
    path = (
        path.replace("{key}", key)
        .replace("{log}", log)
        .replace("{name}", "report.html")
        .replace("{label}", "1")
        .replace("{code}", "P")
    )
    return path.replace("{number:int}", "1").replace("{token}", "x")


@pytest.fixture(scope="module")
def owner(server: Server) -> tuple[Visitor, dict[str, str]]:
    """A clinician with one person, one session, one log; the keys of these."""
    visitor = server.account("owner", clinic="Owner clinic")
    session = visitor.new_session("OWN1").removeprefix("/sessions/")
    visitor.post(f"/sessions/{session}/details", **WORN, go="on")
    visitor.upload(f"/sessions/{session}/logs", parts({"a_foot.csv": logs()["a_foot.csv"]}))
    log = re.search(r"/logs/(\w+)/remove", visitor.page)
    person = re.search(r"/people/(\w+)", visitor.page)
    assert log is not None
    assert person is not None
    return visitor, {"session": session, "log": log.group(1), "person": person.group(1)}


@pytest.mark.parametrize(("method", "path"), [one for one in addresses() if one[1] not in OPEN])
def test_without_a_sign_in_there_is_nothing_to_see(server: Server, method: str, path: str) -> None:
    """[4.1.1, 4.1.3, 4.1.5]."""
    with httpx.Client(base_url=server.address) as client:
        answer = client.request(method, filled(path, person="0" * 20, session="0" * 20, log="0" * 20))
    assert answer.status_code == 303
    assert answer.headers["location"] == "/signin"
    assert not answer.content


@pytest.mark.parametrize(("method", "path"), [one for one in addresses() if "{key}" in one[1]])
def test_another_clinic_s_people_are_not_there(
    server: Server, owner: tuple[Visitor, dict[str, str]], method: str, path: str
) -> None:
    """[4.1.2, 4.2.1]: an administrator of another clinic who knows every key."""
    stranger = STRANGERS.get(server.address) or STRANGERS.setdefault(
        server.address, server.account("stranger", clinic="Other clinic", role="admin")
    )
    stranger.get("/")
    address = filled(path, **owner[1])
    if method == "GET":
        answer = stranger.get(address)
    elif path == "/sessions/{key}/logs":
        answer = stranger.upload(address, parts({"b_foot.csv": b"t\n1\n"}))
    else:
        answer = stranger.post(address, sure="OWN1", label="20260302", code="X")
    assert answer.status_code == 404
    assert "OWN1" not in answer.text


STRANGERS: dict[str, Visitor] = {}


def test_and_nothing_of_theirs_was_touched(owner: tuple[Visitor, dict[str, str]]) -> None:
    visitor, keys = owner
    assert "a_foot.csv" in visitor.get(f"/sessions/{keys['session']}/logs").text
    assert "OWN1" in visitor.get("/").text


@pytest.mark.parametrize(("method", "path"), [one for one in addresses() if one[1].startswith("/admin")])
def test_a_clinician_is_no_administrator(owner: tuple[Visitor, dict[str, str]], method: str, path: str) -> None:
    """[4.1.3, 4.3.1]."""
    visitor, keys = owner
    visitor.get("/")
    address = filled(path, **keys)
    answer = visitor.get(address) if method == "GET" else visitor.post(address, name="x", label="x")
    assert answer.status_code == 403


@pytest.mark.parametrize(("method", "path"), [one for one in addresses() if one[0] == "POST" and one[1] not in OPEN])
def test_no_form_is_taken_without_its_token(owner: tuple[Visitor, dict[str, str]], method: str, path: str) -> None:
    """[4.2.2, 13.2.3]."""
    visitor, keys = owner
    address = filled(path, **keys)
    if path == "/sessions/{key}/logs":
        answer = visitor.upload(address, parts({"b_foot.csv": b"t\n1\n"}), form_token="guessed")  # noqa: S106
    else:
        answer = visitor.post(address, form_token="guessed", sure="OWN1")  # noqa: S106
    assert answer.status_code == 403


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://elsewhere.example"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"host": "clinic.elsewhere.example"},
        {"host": "127.0.0.1:1"},
    ],
)
def test_forms_of_other_pages_and_foreign_names_are_refused(server: Server, headers: dict[str, str]) -> None:
    """[4.2.2, 13.2.3; names that were made to point here: common practice, no source]."""
    with httpx.Client(base_url=server.address) as client:
        answer = client.post("/signin", data={"name": "a", "password": "b"}, headers=headers)
    assert answer.status_code == 403


def test_every_answer_tells_the_browser_to_trust_nothing_else(
    server: Server, owner: tuple[Visitor, dict[str, str]]
) -> None:
    """[14.4.1 to 14.4.7, 8.2.1, 5.3.3]."""
    visitor, keys = owner
    pages = [
        "/",
        f"/people/{keys['person']}",
        f"/sessions/{keys['session']}/logs",
        "/nowhere",
        "/admin",
        "/static/clinic.css",
    ]
    for path in pages:
        answer = visitor.get(path)
        policy = answer.headers["content-security-policy"]
        assert policy.startswith("default-src 'none'"), path
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "same-origin"
        assert answer.headers["cache-control"] == ("no-cache" if path.startswith("/static") else "no-store")
        assert "server" not in answer.headers
        if "html" in answer.headers["content-type"]:
            assert "charset=utf-8" in answer.headers["content-type"]
            assert not re.search(r"\s(style|on\w+)=", answer.text), path
            assert "<style" not in answer.text


def test_what_people_write_is_shown_as_text(owner: tuple[Visitor, dict[str, str]]) -> None:
    """[5.3.1, 5.3.3]."""
    visitor, keys = owner
    session = f"/sessions/{keys['session']}"
    visitor.post(f"{session}/details", **WORN | {"label2": "<script>alert(1)</script>"}, go="on")
    answer = visitor.upload(f"{session}/logs", parts({"<img src=x onerror=alert(1)>.csv": logs()["b_foot.csv"]}))
    assert "<script>alert" not in answer.text
    assert "<img" not in answer.text
    assert "&lt;img src=x onerror=alert(1)&gt;.csv" in answer.text
    visitor.get(f"{session}/logs")


@pytest.mark.parametrize(
    "path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static//etc/passwd"]
)
def test_only_what_is_for_browsers_is_served(server: Server, path: str) -> None:
    """[12.3.1, 12.3.2]."""
    answer = httpx.get(f"{server.address}{path}")
    assert answer.status_code == 404
    assert "import" not in answer.text


def test_who_saw_and_changed_what_is_written_down(server: Server, owner: tuple[Visitor, dict[str, str]]) -> None:
    """[7.1.3, 7.1.4, 7.2.1, 7.2.2, 8.3.5]."""
    keeper = server.account("keeper", clinic="Owner clinic", role="admin")
    owner[0].get(f"/people/{owner[1]['person']}")
    page = keeper.get("/admin/audit").text
    for did in ("signed in", "saw person", "person added", "session added", "session changed", "log handed in"):
        assert did in page
    assert "OWN1" in page
    assert "stranger" not in page


def test_health_data_do_not_travel_in_the_clear() -> None:
    """[9.1.1]."""
    with pytest.raises(SettingsError, match="without encryption"):
        Options(host="0.0.0.0")  # noqa: S104
    with pytest.raises(SettingsError, match="an origin is https"):
        Options(origin="http://clinic.example")
    assert Options(host="0.0.0.0", origin="https://clinic.example").secure  # noqa: S104

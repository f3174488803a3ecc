"""A device hands sessions in with its token, twice where its line broke, and can do and see nothing else."""

from __future__ import annotations

import json
import re
from typing import Any
from uuid import uuid4

import httpx
import pytest

from web.served import Server, Visitor
from web.small_session import logs

SESSION: dict[str, Any] = {
    "subject": "DEV1",
    "session": "20260302",
    "affected_side": "left",
    "foot_sensor": {"to_toe_mm": 145, "above_ground_mm": 75.5},
    "walks": [
        {"walk": "a", "condition": "unbraced"},
        {"walk": "b", "condition": "braced", "setting": {"label": "soft", "resistance": 50, "unit": "Shore A"}},
    ],
}


@pytest.fixture(scope="module")
def keeper(server: Server) -> Visitor:
    """An administrator."""
    return server.account("devices", clinic="Device clinic", role="admin")


@pytest.fixture(scope="module")
def token(keeper: Visitor) -> str:
    """A device's token."""
    keeper.get("/admin")
    keeper.post("/admin/devices", label="bench logger")
    found = re.search(r'class="code">([\w-]+)<', keeper.page)
    assert found is not None
    return found.group(1)


def hand_in(server: Server, token: str, session: Any, files: dict[str, bytes] | None = None) -> httpx.Response:
    given = files if files is not None else logs()
    text = session if isinstance(session, str) else json.dumps(session)
    parts: list[tuple[str, Any]] = [("session", (None, text.encode(), "application/json"))]
    for name, content in given.items():
        walk, segment = name.removesuffix(".csv").split("_")
        parts.append((f"slot:{walk}:left:{segment}", (f"{uuid4()}.csv", content)))
    headers = {"authorization": f"Bearer {token}"}
    return httpx.post(f"{server.address}/api/v1/sessions", files=parts, headers=headers, timeout=60)


def test_a_session_is_handed_in_once_however_often_it_is_sent(server: Server, keeper: Visitor, token: str) -> None:
    session = SESSION | {"id": str(uuid4())}
    first = hand_in(server, token, session, {"a_foot.csv": logs()["a_foot.csv"]})
    assert first.status_code == 201, first.text
    again = hand_in(server, token, session)
    assert again.status_code == 200
    assert [log["again"] for log in again.json()["logs"]] == [True, False, False, False]
    keeper.get("/")
    person = re.search(r'href="(/people/\w+)">DEV1<', keeper.page)
    assert person is not None
    page = keeper.get(person.group(1)).text
    assert page.count("/sessions/") == 1
    assert "from bench logger" in page
    address = re.search(r'href="(/sessions/\w+)"', page)
    assert address is not None
    keeper.get(address.group(1))
    assert keeper.path.endswith("/logs")
    assert keeper.page.count("<h3>") == 4
    assert "Before it can run" not in keeper.page
    assert "soft (50 Shore A)" in keeper.page


def test_another_session_of_the_same_label_is_not_mixed_in(server: Server, token: str) -> None:
    hand_in(server, token, SESSION | {"id": str(uuid4()), "subject": "DEV2"}, {})
    second = hand_in(server, token, SESSION | {"id": str(uuid4()), "subject": "DEV2"}, {})
    assert second.status_code == 409
    assert "has a session 20260302 already" in second.json()["what"]


@pytest.mark.parametrize(
    ("session", "said"),
    [
        ("not json", "JSON"),
        (SESSION, "id"),
        (SESSION | {"id": "x"}, "id"),
        (SESSION | {"id": str(uuid4()), "subject": "../x"}, "label"),
        (SESSION | {"id": str(uuid4()), "walks": []}, "walks"),
        (SESSION | {"id": str(uuid4()), "walks": SESSION["walks"][:1] * 2}, "Two walks have one label"),
        (SESSION | {"id": str(uuid4()), "affected": "left"}, "Did you mean 'affected_side'?"),
    ],
)
def test_a_wrong_description_is_told_in_words(server: Server, token: str, session: Any, said: str) -> None:
    answer = hand_in(server, token, session)
    assert answer.status_code == 422
    assert said in answer.json()["what"]


def test_the_token_opens_nothing_else(server: Server, keeper: Visitor, token: str) -> None:
    """OWASP ASVS 4.0.3, 4.1.3 and 13.1.4 (from memory)."""
    with httpx.Client(base_url=server.address, headers={"authorization": f"Bearer {token}"}) as client:
        client.cookies.set("firstrocker", token, domain="127.0.0.1")
        for path in ("/", "/admin", "/admin/audit"):
            assert client.get(path).headers["location"] == "/signin"
        refused = client.get("/api/v1/sessions")
        assert refused.status_code == 405
        assert refused.headers["allow"] == "POST"


def test_a_revoked_or_foreign_token_is_worth_nothing(server: Server, keeper: Visitor) -> None:
    keeper.get("/admin")
    keeper.post("/admin/devices", label="lost logger")
    found = re.search(r'class="code">([\w-]+)<', keeper.page)
    number = re.findall(r"/admin/devices/(\d+)/revoke", keeper.page)[-1]
    assert found is not None
    keeper.post(f"/admin/devices/{number}/revoke")
    for token in (found.group(1), "", "x" * 43, keeper.client.cookies["firstrocker"]):
        answer = hand_in(server, token or "-", SESSION | {"id": str(uuid4())}, {})
        assert answer.status_code == 401
        assert answer.headers["www-authenticate"] == "Bearer"


def test_the_description_of_the_interface_is_whole(server: Server) -> None:
    described = httpx.get(f"{server.address}/api/v1/openapi.json").json()
    assert described["openapi"] == "3.1.0"
    text = json.dumps(described)
    for name in re.findall(r'"#/components/schemas/(\w+)"', text):
        assert name in described["components"]["schemas"]

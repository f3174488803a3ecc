"""Two clinicians at once: on sessions of their own, and on one and the same."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from web.served import Server, Visitor
from web.small_session import WORN, logs, parts


def whole_way(visitor: Visitor, code: str, setting: str, seed: int) -> str:
    session = visitor.new_session(code)
    visitor.post(f"{session}/details", **WORN | {"label2": setting}, go="on")
    visitor.upload(f"{session}/logs", parts(logs(seed)))
    visitor.post(f"{session}/run")
    visitor.wait_for_report(session, seconds=240)
    return visitor.get(f"{session}/files/report.html").text


def test_two_clinics_side_by_side(server: Server) -> None:
    one, two = server.account("east", clinic="East"), server.account("west", clinic="West")
    with ThreadPoolExecutor(2) as both:
        reports = list(both.map(whole_way, (one, two), ("P1", "P1"), ("soft strut", "firm strut"), (1, 2)))
    assert "soft strut" in reports[0]
    assert "firm strut" not in reports[0]
    assert "firm strut" in reports[1]
    assert "soft strut" not in reports[1]


def test_two_on_one_session(server: Server) -> None:
    """Both hand the same logs in and both press run, at the same time: one session, four logs, no broken run."""
    one = server.account("north", clinic="North")
    two = server.account("northern", clinic="North")
    session = one.new_session("P2")
    one.post(f"{session}/details", **WORN, go="on")

    def at_work(visitor: Visitor) -> None:
        visitor.get(f"{session}/logs")
        visitor.upload(f"{session}/logs", parts(logs()))
        visitor.post(f"{session}/run")
        visitor.wait_for_report(session, seconds=240)

    with ThreadPoolExecutor(2) as both:
        list(both.map(at_work, (one, two)))
    with server.store.reading() as connection:
        key = session.rpartition("/")[2]
        rows = connection.execute(
            "select l.slot from log l join session s on s.id = l.session where s.key = ?", (key,)
        ).fetchall()
        states = connection.execute(
            "select r.state from run r join session s on s.id = r.session where s.key = ?", (key,)
        ).fetchall()
    assert sorted(slot for (slot,) in rows) == ["a:left:foot", "a:left:shank", "b:left:foot", "b:left:shank"]
    assert {state for (state,) in states} == {"done"}
    assert len(states) <= 2

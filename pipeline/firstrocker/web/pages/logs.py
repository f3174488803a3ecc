"""Handing logs in, what was understood of each, and what has to be asked before they are run."""

from __future__ import annotations

import json
import time
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from firstrocker.signals.profiles import profile_names
from firstrocker.web import audit, jobs, people
from firstrocker.web.filing import check_session
from firstrocker.web.handin import Taken
from firstrocker.web.incoming import receive
from firstrocker.web.kit import RefusedError, Visit, enter, go, permitted
from firstrocker.web.people import LogFile, Session
from firstrocker.web.place import Place
from firstrocker.web.trace import drawn


def logs_page(visit: Visit) -> Response:
    """Every log of the session and the form to hand more in."""
    return _page(visit)


async def take_logs(request: Request) -> Response:
    """Logs on their way in; the form's token comes before the first file and is checked before a byte is kept."""
    visit = await run_in_threadpool(enter, request)
    clinic = visit.account.clinic

    def session_of() -> Session:
        with visit.store.reading() as connection:
            return people.find_session(connection, clinic, visit.key())

    session = await run_in_threadpool(session_of)
    upload = await receive(
        request.headers.get("content-type", ""),
        request.stream(),
        incoming=visit.services.place.incoming,
        permit=lambda fields: permitted(visit, fields),
    )
    try:
        desk = visit.services.desk
        taken = await desk.take_in_turn(clinic, session, upload, who=visit.account.name, address=visit.address)
    finally:
        await run_in_threadpool(upload.close)
    if taken and not any(one.refused for one in taken):
        return go(f"/sessions/{session.key}/logs")
    return await run_in_threadpool(_page, visit, taken or [Taken("", refused="No file was chosen.")])


def _page(visit: Visit, taken: Sequence[Taken] = ()) -> Response:
    with visit.store.reading() as connection:
        session = people.find_session(connection, visit.account.clinic, visit.key())
        logs = people.logs_of(connection, session)
    filled = {log.slot for log in logs}
    return visit.page(
        "logs.html.j2",
        status=400 if taken else 200,
        session=session,
        details=session.details,
        cards=[_card(log) for log in logs],
        questions=_questions(logs),
        open_slots=[(slot, words) for slot, words in session.details.slots if slot not in filled],
        slots=session.details.slots,
        profiles=profile_names(visit.services.place.loggers),
        refused=[one for one in taken if one.refused],
        missing=missing(visit.services.place, session, logs),
        unused=[log.name for log in logs if not log.slot],
    )


def _card(log: LogFile) -> dict[str, Any]:
    seen = log.understood
    doubts = [point.words for point in seen.questions if not point.choices]
    several = len(seen.fits) > 1
    return {"log": log, "seen": seen, "trace": drawn(seen.trace), "doubts": doubts, "several": several}


def _questions(logs: Sequence[LogFile]) -> list[dict[str, Any]]:
    """What is asked once for all logs that read alike."""
    asked: dict[str, dict[str, Any]] = {}
    for log in logs:
        points = [(n, p) for n, p in enumerate(log.understood.points) if not p.sure and p.choices]
        if log.understood.own is not None and points and not log.understood.answered:
            group = asked.setdefault(log.logger, {"name": log.logger, "points": points, "files": []})
            group["files"].append(log.name)
    return list(asked.values())


def missing(place: Place, session: Session, logs: Sequence[LogFile]) -> list[str]:
    """What has to be done before the session can run, in words."""
    found = list(session.details.demands)
    used = [log for log in logs if log.slot]
    for log in used:
        if log.understood.problem:
            found.append(f"{log.name} cannot be read: take it away, or hand in another.")
        elif not log.logger:
            found.append(f"{log.name}: say which logger wrote it.")
        elif log.understood.questions:
            found.append(f"{log.name}: answer what is asked about it.")
    if not used:
        found.append(
            "Hand in at least one foot log." if not logs else "Say to which walk and segment each log belongs."
        )
    if found:
        return found
    for walk in session.details.walks:
        if not any(log.slot.split(":")[0] == walk.walk for log in used):
            found.append(f"Walk {walk.walk} has no log: hand it in, or take the walk away.")
    return found or check_session(place.person(session.person.key), session, logs)


def save_places(visit: Visit) -> Response:
    """Write down where each log belongs, which logger wrote it, and the answers to what was asked."""
    form = visit.form
    with visit.store.reading() as connection:
        session = people.find_session(connection, visit.account.clinic, visit.key())
        logs = people.logs_of(connection, session)
    known = profile_names(visit.services.place.loggers)
    changed = [_answered(visit, session, log, known) for log in logs]
    with visit.store.writing() as connection:
        session = people.find_session(connection, visit.account.clinic, visit.key())
        slots = {slot for slot, _ in session.details.slots}
        taken: set[str] = set()
        for log in changed:
            wanted = form.get(f"slot:{log.key}", log.slot)
            slot = wanted if wanted in slots and wanted not in taken else ""
            taken.add(slot)
            connection.execute(
                "update log set slot = ?, logger = ?, understood = ? where id = ? and session = ?",
                (slot, log.logger, json.dumps(log.understood.to_json()), log.id, session.id),
            )
        connection.execute("update session set changed = ? where id = ?", (time.time(), session.id))
        audit.record(
            connection,
            "logs placed",
            clinic=visit.account.clinic,
            who=visit.account.name,
            about=session.key,
            address=visit.address,
        )
    unchanged = all(log.slot == form.get(f"slot:{log.key}", log.slot) for log in logs) and changed == logs
    if "run" in form and unchanged:
        return start_run(visit)
    return go(f"/sessions/{session.key}/logs#run")


def start_run(visit: Visit) -> Response:
    """Put a session into the queue, once.

    Raises:
        RefusedError: something lacks still.
    """
    with visit.store.reading() as connection:
        session = people.find_session(connection, visit.account.clinic, visit.key())
        logs = people.logs_of(connection, session)
    lacking = missing(visit.services.place, session, logs)
    if lacking:
        raise RefusedError("The session cannot run yet.", remedy=" ".join(lacking))
    with visit.store.writing() as connection:
        session = people.find_session(connection, visit.account.clinic, visit.key())
        jobs.enqueue(connection, session.person, session.id)
        audit.record(
            connection,
            "run asked for",
            clinic=visit.account.clinic,
            who=visit.account.name,
            about=session.key,
            address=visit.address,
        )
    visit.services.worker.wake()
    return go(f"/sessions/{session.key}")


def _answered(visit: Visit, session: Session, log: LogFile, known: Sequence[str]) -> LogFile:
    form, seen = visit.form, log.understood
    path = visit.services.place.person(session.person.key).uploads(session.key) / log.key
    if seen.own is not None and not seen.answered:
        names = {n: point.key for n, point in enumerate(seen.points) if not point.sure and point.choices}
        given = {key: form.get(f"ask:{log.logger}:{n}", "") for n, key in names.items()}
        if names and all(value.isdigit() for value in given.values()):
            seen = visit.services.looker.answer(path, seen, {key: int(value) for key, value in given.items()})
            return replace(log, understood=seen, logger=seen.logger)
    chosen = form.get(f"logger:{log.key}", "")
    if seen.own is None and chosen in (seen.fits or known):
        seen = replace(seen, fits=(chosen, *(name for name in seen.fits if name != chosen)))
        log = replace(log, logger=chosen)
        if not any(not point.sure for point in seen.points):
            seen = replace(seen, answered=True)
    if form.get(f"checked:{log.key}") == "yes":
        seen = replace(seen, answered=True)
    return replace(log, understood=seen)


def remove_log(visit: Visit) -> Response:
    """Take a log away."""
    with visit.store.writing() as connection:
        session = people.find_session(connection, visit.account.clinic, visit.key())
        key = visit.key("log")
        connection.execute("delete from log where key = ? and session = ?", (key, session.id))
        connection.execute("update session set changed = ? where id = ?", (time.time(), session.id))
        audit.record(
            connection,
            "log removed",
            clinic=visit.account.clinic,
            who=visit.account.name,
            about=session.key,
            detail=key,
            address=visit.address,
        )
    (visit.services.place.person(session.person.key).uploads(session.key) / key).unlink(missing_ok=True)
    return go(f"/sessions/{session.key}/logs")

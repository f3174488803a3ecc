"""For devices: a session handed in by a programme, with a token that allows this and nothing else."""

from __future__ import annotations

from typing import Any

from pydantic import ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from firstrocker.signals.strict import problems_of
from firstrocker.web import audit, people
from firstrocker.web.api_form import HandIn, openapi
from firstrocker.web.handin import Taken
from firstrocker.web.incoming import UploadError, receive
from firstrocker.web.invitations import Device, device_of
from firstrocker.web.kit import Services, services_of
from firstrocker.web.people import RecordError, Session, find_session


def routes() -> list[BaseRoute]:
    """The addresses of the interface for devices."""
    return [
        Route("/api/v1/sessions", hand_in, methods=["POST"]),
        Route("/api/v1/openapi.json", description, methods=["GET"]),
    ]


async def description(request: Request) -> Response:
    """The interface in OpenAPI."""
    return JSONResponse(openapi(services_of(request).options.address))


async def hand_in(request: Request) -> Response:
    """A session with its logs. Sent again with the same id it is the same session, and no log is taken twice."""
    services = services_of(request)
    scheme, _, token = request.headers.get("authorization", "").partition(" ")

    def whose() -> Device | None:
        with services.store.reading() as connection:
            return device_of(connection, token.strip())

    device = await run_in_threadpool(whose) if scheme.lower() == "bearer" else None
    if device is None:
        return JSONResponse({"what": "No device has this token."}, 401, {"www-authenticate": "Bearer"})
    try:
        upload = await receive(
            request.headers.get("content-type", ""),
            request.stream(),
            incoming=services.place.incoming,
            permit=lambda fields: bool(_form(fields)),
        )
    except UploadError as refused:
        return _refusal(refused.status, refused.what, refused.remedy)
    try:
        form = _form(upload.fields)
        session, new = await run_in_threadpool(_session, services, device, form)
        who = f"device {device.label}"
        address = request.client.host if request.client else ""
        taken = await services.desk.take_in_turn(device.clinic, session, upload, who=who, address=address)
    except RecordError as refused:
        return _refusal(409, refused.what, refused.remedy)
    finally:
        await run_in_threadpool(upload.close)
    return JSONResponse(_receipt(form, taken), 201 if new else 200)


def _form(fields: dict[str, str]) -> HandIn:
    """The session's description, which comes before the logs.

    Raises:
        UploadError: it is missing or wrong; every mistake is named.
    """
    if "session" not in fields:
        raise UploadError("The field 'session' has to come before the logs.", remedy="See openapi.json.", status=422)
    try:
        return HandIn.model_validate_json(fields["session"])
    except ValidationError as error:
        problems = "; ".join(str(problem) for problem in problems_of(error, HandIn)[:20])
        raise UploadError(problems, remedy="See openapi.json.", status=422) from None


def _session(services: Services, device: Device, form: HandIn) -> tuple[Session, bool]:
    """The session that a hand-in is for, made where there is none; and whether it was made."""
    once = f"device:{device.id}:{form.id}"
    with services.store.writing() as connection:
        person = people.person_with_code(connection, device.clinic, form.subject)
        row = connection.execute("select key, person from session where once = ?", (once,)).fetchone()
        if row is not None and row["person"] != person.id:
            raise RecordError("This id was used for another person.", remedy="Draw a new id for each session.")
        key = people.add_session(
            connection, person, label=form.session, once=once, origin=device.label, details=form.details()
        )
        if row is None:
            audit.record(connection, "session handed in", clinic=device.clinic, who=f"device {device.label}", about=key)
        return find_session(connection, device.clinic, key), row is None


def _receipt(form: HandIn, taken: list[Taken]) -> dict[str, Any]:
    """What became of each log; nothing that was measured and nothing of anybody else."""
    logs = [{"name": one.name, "taken": not one.refused, "again": one.again, "refused": one.refused} for one in taken]
    return {"id": str(form.id), "logs": logs}


def _refusal(status: int, what: str, remedy: str) -> Response:
    return JSONResponse({"what": what, "remedy": remedy}, status)

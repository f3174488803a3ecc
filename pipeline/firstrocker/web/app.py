"""The application: every address and what answers there."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from firstrocker.errors import FirstrockerError
from firstrocker.web import api
from firstrocker.web.apart import Looker
from firstrocker.web.guard import Guard
from firstrocker.web.handin import Desk
from firstrocker.web.kit import Services, SignInFirst, Visit, answer_error, handler
from firstrocker.web.options import Options
from firstrocker.web.pages import admin, details, entry, files, logs, people, session
from firstrocker.web.people import NotThere
from firstrocker.web.place import Place
from firstrocker.web.store import Store
from firstrocker.web.worker import Worker

STATIC = Path(__file__).resolve().parent / "static"
Page = Callable[[Visit], Response]


def make_services(place: Place, options: Options, *, cores: int = 2, at_once: int = 1) -> Services:
    """What the pages stand on, ready to start.

    Raises:
        PlaceError: the folder cannot be used.
    """
    place.prepare()
    store = Store(place.database)
    store.prepare()
    looker = Looker(place.loggers)
    worker = Worker(store, place, cores=cores, at_once=at_once)
    desk = Desk(store, place, looker)
    return Services(options, place, store, looker, worker, desk)


def make_app(services: Services) -> Starlette:
    """The application over its services."""

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        await run_in_threadpool(services.desk.sweep)
        await run_in_threadpool(services.worker.start)
        try:
            yield
        finally:
            await run_in_threadpool(services.worker.close)
            await run_in_threadpool(services.looker.close)

    app = Starlette(
        routes=_routes(),
        lifespan=lifespan,
        middleware=[Middleware(Guard, options=services.options)],
        exception_handlers={
            FirstrockerError: answer_error,
            NotThere: answer_error,
            SignInFirst: answer_error,
            ClientDisconnect: _nobody_is_there,
            HTTPException: _answer_http,
            Exception: answer_error,
        },
    )
    app.state.services = services
    return app


async def _answer_http(request: Request, error: Exception) -> Response:
    status = getattr(error, "status_code", 500)
    if status == 404:
        return await answer_error(request, NotThere())
    said = str(getattr(error, "detail", ""))
    return PlainTextResponse(said, status_code=status, headers=getattr(error, "headers", None))


async def _nobody_is_there(request: Request, error: Exception) -> Response:
    """The other end hung up in the middle of an upload: nothing was kept, and nobody reads this."""
    return Response(status_code=400)


def _routes() -> list[Any]:
    def get(path: str, page: Page, **who: bool) -> Route:
        return Route(path, handler(page, **who), methods=["GET"])

    def post(path: str, page: Page, **who: bool) -> Route:
        return Route(path, handler(page, **who), methods=["POST"])

    return [
        get("/signin", entry.sign_in_page, open_to_all=True),
        post("/signin", entry.sign_in, open_to_all=True),
        post("/signout", entry.sign_out),
        get("/welcome/{token}", entry.welcome_page, open_to_all=True),
        post("/welcome/{token}", entry.welcome, open_to_all=True),
        get("/password", entry.password_page),
        post("/password", entry.change_password),
        get("/", people.people_page),
        post("/people", people.add_person),
        get("/people/{key}", people.person_page),
        post("/people/{key}/sessions", people.add_session),
        get("/people/{key}/delete", people.delete_person_page),
        post("/people/{key}/delete", people.delete_person),
        get("/people/{key}/course", files.course_page),
        get("/people/{key}/course/{name}", files.course_file),
        get("/people/{key}/course/ses-{label}/report.html", files.report_of_label),
        get("/people/{key}/sub-{code}/ses-{label}/report.html", files.report_of_label),
        get("/sessions/{key}", session.session_page),
        get("/sessions/{key}/course.html", files.course_of_session),
        get("/sessions/{key}/details", details.details_page),
        post("/sessions/{key}/details", details.save_details),
        get("/sessions/{key}/logs", logs.logs_page),
        Route("/sessions/{key}/logs", logs.take_logs, methods=["POST"]),
        post("/sessions/{key}/places", logs.save_places),
        post("/sessions/{key}/logs/{log}/remove", logs.remove_log),
        post("/sessions/{key}/run", logs.start_run),
        get("/sessions/{key}/progress", session.progress_part),
        get("/sessions/{key}/report", files.report_page),
        get("/sessions/{key}/files/{name}", files.session_file),
        get("/sessions/{key}/all.zip", files.session_zip),
        get("/sessions/{key}/delete", people.delete_session_page),
        post("/sessions/{key}/delete", people.delete_session),
        get("/admin", admin.admin_page, admin=True),
        post("/admin/accounts", admin.invite, admin=True),
        post("/admin/accounts/{number:int}/close", admin.close_account, admin=True),
        post("/admin/devices", admin.add_device, admin=True),
        post("/admin/devices/{number:int}/revoke", admin.revoke_device, admin=True),
        get("/admin/audit", admin.audit_page, admin=True),
        *api.routes(),
        Mount("/static", StaticFiles(directory=STATIC)),
    ]

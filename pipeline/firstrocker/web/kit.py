"""What pages are made with: the services behind them, the visit of one account, and how a page function is called."""

from __future__ import annotations

import hmac
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qsl

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from firstrocker import __version__
from firstrocker.errors import FirstrockerError
from firstrocker.web import accounts, audit
from firstrocker.web.accounts import Account
from firstrocker.web.apart import Looker
from firstrocker.web.handin import Desk
from firstrocker.web.options import Options
from firstrocker.web.people import NotThere
from firstrocker.web.place import Place
from firstrocker.web.store import Store
from firstrocker.web.words import day, size, words_of_time
from firstrocker.web.worker import Worker

MOST_FORM = 1 << 20


@dataclass(frozen=True)
class Services:
    """Everything behind the pages."""

    options: Options
    place: Place
    store: Store
    looker: Looker
    worker: Worker
    desk: Desk


class RefusedError(FirstrockerError):
    """A request that is answered with a sentence and a status."""

    def __init__(self, what: str, *, status: int = 400, remedy: str = "") -> None:
        super().__init__(what, remedy=remedy)
        self.status = status


class SignInFirst(Exception):  # noqa: N818  (an answer, not a fault)
    """Nobody is signed in."""


_TEMPLATES = Environment(
    loader=PackageLoader("firstrocker.web", "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_TEMPLATES.filters.update(moment=words_of_time, day=day, size=size)


@dataclass
class Visit:
    """One request of somebody: the services, the account where one is signed in, the form where one was sent."""

    request: Request
    services: Services
    signed_in: Account | None = None
    form: dict[str, str] = field(default_factory=dict)

    @property
    def account(self) -> Account:
        """Who is signed in.

        Raises:
            SignInFirst: nobody is.
        """
        if self.signed_in is None:
            raise SignInFirst
        return self.signed_in

    @property
    def store(self) -> Store:
        """The database."""
        return self.services.store

    @property
    def address(self) -> str:
        """Where the request came from."""
        return self.request.client.host if self.request.client else ""

    def key(self, name: str = "key") -> str:
        """A part of the request's path."""
        return str(self.request.path_params[name])

    def page(self, template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
        """A page made from a template."""
        text = _TEMPLATES.get_template(template).render(
            account=self.signed_in, form_token=self.signed_in.form_token if self.signed_in else "", **values
        )
        return HTMLResponse(text, status_code=status)

    def record(self, did: str, *, about: str = "", detail: str = "") -> None:
        """Add a line to the audit log."""
        who = self.account
        with self.store.writing() as connection:
            audit.record(
                connection, did, clinic=who.clinic, who=who.name, about=about, detail=detail, address=self.address
            )


def go(path: str) -> Response:
    """See there."""
    return RedirectResponse(path, status_code=303)


def services_of(request: Request) -> Services:
    """The services behind a request."""
    found: Services = request.app.state.services
    return found


def enter(request: Request) -> Visit:
    """The visit of a request: who is signed in by its cookie."""
    services = services_of(request)
    token = request.cookies.get(services.options.cookie, "")
    if not token:
        return Visit(request, services)
    with services.store.reading() as connection:
        found = accounts.signed_in(connection, token)
    if found is None:
        return Visit(request, services)
    account, due = found
    if due:
        with services.store.writing() as connection:
            accounts.seen(connection, token)
    return Visit(request, services, account)


def permitted(visit: Visit, fields: dict[str, str]) -> bool:
    """Whether a form carries the token of this sign-in."""
    return hmac.compare_digest(fields.get("form_token", "").encode(), visit.account.form_token.encode())


def handler(call: Callable[[Visit], Response], *, open_to_all: bool = False, admin: bool = False) -> Any:
    """An endpoint for a page function: who may call it, and its form, are settled before.

    Args:
        call: the page function; runs in a thread.
        open_to_all: nobody need be signed in; such a form carries no token, for there is no sign-in to protect.
        admin: for administrators alone.
    """

    async def endpoint(request: Request) -> Response:
        visit = await run_in_threadpool(enter, request)
        if not open_to_all and visit.account.role != "admin" and admin:
            raise RefusedError("This page is for administrators.", status=403)
        if request.method == "POST":
            visit.form = await read_form(request)
            if not open_to_all and not permitted(visit, visit.form):
                raise RefusedError("This form is not valid any more.", remedy="Load the page again.", status=403)
        return await run_in_threadpool(call, visit)

    return endpoint


async def read_form(request: Request) -> dict[str, str]:
    """A form without files, bounded while it comes.

    Raises:
        RefusedError: not such a form, or too large.
    """
    if not request.headers.get("content-type", "").startswith("application/x-www-form-urlencoded"):
        raise RefusedError("This is not a form.", status=415)
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > MOST_FORM:
            raise RefusedError("The form is too large.", status=413)
    try:
        return dict(parse_qsl(body.decode("utf-8"), keep_blank_values=True, max_num_fields=2000))
    except ValueError:
        raise RefusedError("The form cannot be read.") from None


async def answer_error(request: Request, error: Exception) -> Response:
    """The page for what went wrong."""
    if isinstance(error, SignInFirst):
        return go("/signin")
    visit = await run_in_threadpool(enter, request)
    if isinstance(error, NotThere):
        return visit.page("told.html.j2", status=404, title="Not here", what="There is no such page.", remedy="")
    status = getattr(error, "status", 400)
    if isinstance(error, FirstrockerError):
        what = f"{error.where}: {error.what}" if error.where else error.what
        return visit.page("told.html.j2", status=status, title="That did not work", what=what, remedy=error.remedy)
    return visit.page(
        "told.html.j2",
        status=500,
        title="The programme failed",
        what="This is a bug, not a mistake of yours. Nothing that was handed in is lost.",
        remedy="Whoever keeps the server finds the details in its log.",
    )


VERSION = __version__

"""Signing in and out, the one-time link, one's own password."""

from __future__ import annotations

from starlette.responses import Response

from firstrocker.errors import FirstrockerError
from firstrocker.web import accounts, audit, invitations
from firstrocker.web.accounts import AccountError, TooManyTriesError
from firstrocker.web.kit import RefusedError, Visit, go
from firstrocker.web.secretwords import PasswordError


def sign_in_page(visit: Visit) -> Response:
    """The form to sign in with."""
    return go("/") if visit.signed_in else visit.page("signin.html.j2", name="", wrong="")


def sign_in(visit: Visit) -> Response:
    """Check name and password; a new token in any case, whatever cookie came along."""
    name, password = visit.form.get("name", "").strip()[:60], visit.form.get("password", "")
    before = visit.request.cookies.get(visit.services.options.cookie, "")
    try:
        with visit.store.writing() as connection:
            token = accounts.sign_in(connection, name, password, address=visit.address)
            if token is not None and before:
                accounts.sign_out(connection, before)
    except TooManyTriesError as error:
        return visit.page("signin.html.j2", status=429, name=name, wrong=f"{error.what} {error.remedy}")
    if token is None:
        return visit.page("signin.html.j2", status=401, name=name, wrong="Name and password do not fit.")
    return _with_token(visit, go("/"), token)


def sign_out(visit: Visit) -> Response:
    """Make the sign-in worthless here and on the server."""
    token = visit.request.cookies.get(visit.services.options.cookie, "")
    with visit.store.writing() as connection:
        accounts.sign_out(connection, token)
        audit.record(
            connection, "signed out", clinic=visit.account.clinic, who=visit.account.name, address=visit.address
        )
    answer = go("/signin")
    options = visit.services.options
    answer.delete_cookie(options.cookie, path="/", secure=options.secure, httponly=True, samesite="strict")
    answer.headers["clear-site-data"] = '"cache", "storage"'
    return answer


def welcome_page(visit: Visit) -> Response:
    """The form behind a one-time link."""
    with visit.store.reading() as connection:
        found = invitations.invitation(connection, visit.key("token"))
    if found is None:
        raise RefusedError("This link was used or ran out.", remedy="Ask for a new one.", status=404)
    return visit.page("welcome.html.j2", invitation=found, name="", clinic="", wrong="", token=visit.key("token"))


def welcome(visit: Visit) -> Response:
    """Make the account of a one-time link and sign it in."""
    token, form = visit.key("token"), visit.form
    with visit.store.reading() as connection:
        found = invitations.invitation(connection, token)
    if found is None:
        raise RefusedError("This link was used or ran out.", remedy="Ask for a new one.", status=404)
    wrong = "" if form.get("password") == form.get("again") else "The two passwords are not the same."
    if not wrong:
        try:
            with visit.store.writing() as connection:
                name = invitations.accept(
                    connection,
                    token,
                    clinic=form.get("clinic", ""),
                    name=form.get("name", ""),
                    password=form.get("password", ""),
                )
                row = connection.execute("select id from account where name = ?", (name,)).fetchone()
                signin = accounts.start_signin(connection, row["id"])
            return _with_token(visit, go("/"), signin)
        except FirstrockerError as error:
            wrong = f"{error.what} {error.remedy}".strip()
    values = {"name": form.get("name", ""), "clinic": form.get("clinic", "")}
    return visit.page("welcome.html.j2", status=400, invitation=found, wrong=wrong, token=token, **values)


def password_page(visit: Visit) -> Response:
    """The form to change one's password with."""
    return visit.page("password.html.j2", wrong="", name=visit.account.name)


def change_password(visit: Visit) -> Response:
    """Change one's password; every sign-in of the account ends, this one gets a new token."""
    form = visit.form
    wrong = "" if form.get("password") == form.get("again") else "The two new passwords are not the same."
    if not wrong:
        try:
            with visit.store.writing() as connection:
                accounts.change_password(connection, visit.account, form.get("old", ""), form.get("password", ""))
                token = accounts.start_signin(connection, visit.account.id)
            return _with_token(visit, go("/"), token)
        except (AccountError, PasswordError) as error:
            wrong = f"{error.what} {error.remedy}".strip()
    return visit.page("password.html.j2", status=400, wrong=wrong, name=visit.account.name)


def _with_token(visit: Visit, answer: Response, token: str) -> Response:
    options = visit.services.options
    answer.set_cookie(options.cookie, token, path="/", secure=options.secure, httponly=True, samesite="strict")
    return answer

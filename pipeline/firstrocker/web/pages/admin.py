"""For administrators: accounts, devices, and who saw and changed what."""

from __future__ import annotations

from typing import Any

from starlette.responses import Response

from firstrocker.errors import FirstrockerError
from firstrocker.web import accounts, audit, invitations
from firstrocker.web.accounts import Role
from firstrocker.web.kit import Visit, go


def admin_page(visit: Visit) -> Response:
    """Accounts and devices of the clinic."""
    return _page(visit)


def _page(visit: Visit, *, link: str = "", token: str = "", made_for: str = "", wrong: str = "") -> Response:
    with visit.store.reading() as connection:
        values: dict[str, Any] = {
            "accounts": accounts.accounts_of(connection, visit.account.clinic),
            "devices": invitations.devices_of(connection, visit.account.clinic),
        }
    return visit.page(
        "admin.html.j2",
        status=400 if wrong else 200,
        link=link,
        device_token=token,
        made_for=made_for,
        wrong=wrong,
        **values,
    )


def invite(visit: Visit) -> Response:
    """A one-time link for a new account: its owner chooses the password, nobody else knows it."""
    role: Role = "admin" if visit.form.get("role") == "admin" else "clinician"
    name = visit.form.get("name", "").strip()
    try:
        with visit.store.writing() as connection:
            token = invitations.invite(
                connection, clinic=visit.account.clinic, name=name, role=role, who=visit.account.name
            )
    except FirstrockerError as error:
        return _page(visit, wrong=f"{error.what} {error.remedy}".strip())
    return _page(visit, link=f"{visit.services.options.address}/welcome/{token}", made_for=name)


def close_account(visit: Visit) -> Response:
    """Close an account of the clinic."""
    try:
        with visit.store.writing() as connection:
            number = int(visit.key("number"))
            accounts.switch_off(connection, visit.account.clinic, number, who=visit.account.name)
    except FirstrockerError as error:
        return _page(visit, wrong=f"{error.what} {error.remedy}".strip())
    return go("/admin")


def add_device(visit: Visit) -> Response:
    """A token for a device that may hand sessions in."""
    label = visit.form.get("label", "")
    try:
        with visit.store.writing() as connection:
            token = invitations.add_device(connection, visit.account.clinic, label, who=visit.account.name)
    except FirstrockerError as error:
        return _page(visit, wrong=f"{error.what} {error.remedy}".strip())
    return _page(visit, token=token, made_for=label.strip())


def revoke_device(visit: Visit) -> Response:
    """Make a device's token worthless."""
    with visit.store.writing() as connection:
        invitations.revoke(connection, visit.account.clinic, int(visit.key("number")), who=visit.account.name)
    return go("/admin")


def audit_page(visit: Visit) -> Response:
    """Who saw and changed what."""
    with visit.store.reading() as connection:
        entries = audit.entries(connection, visit.account.clinic)
        names = dict(
            connection.execute("select key, code from person where clinic = ?", (visit.account.clinic,)).fetchall()
        )
        rows = connection.execute(
            "select s.key, p.code || ', session ' || s.label from session s join person p on p.id = s.person"
            " where p.clinic = ?",
            (visit.account.clinic,),
        )
        names |= dict(rows.fetchall())
    return visit.page("audit.html.j2", entries=entries, names=names)

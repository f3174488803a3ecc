"""One-time links by which an account is made, and the tokens of devices that may hand sessions in."""

from __future__ import annotations

import sqlite3
import time
from dataclasses import dataclass

from firstrocker.web import audit
from firstrocker.web.accounts import INVITED_S, NAME, AccountError, Role, add_account
from firstrocker.web.secretwords import kept_of, new_token


@dataclass(frozen=True)
class Invitation:
    """What a one-time link allows: the clinic's name and the account's are empty where they may be chosen."""

    clinic: str
    name: str
    role: Role


@dataclass(frozen=True)
class Device:
    """A device that may hand sessions in, and nothing else."""

    id: int
    clinic: int
    label: str


def invite(connection: sqlite3.Connection, *, clinic: int | None, name: str, role: Role, who: str) -> str:
    """The token of a new one-time link.

    Raises:
        AccountError: the name is taken or has signs that are not allowed.
    """
    if clinic is not None and not NAME.fullmatch(name):
        raise AccountError("An account's name has letters, digits and . _ @ - only.", where=name[:60])
    if connection.execute("select 1 from account where name = ?", (name,)).fetchone():
        raise AccountError("There is an account of that name.", remedy="Choose another.")
    token = new_token()
    connection.execute("delete from invitation where until < ? or (name = ? and name <> '')", (time.time(), name))
    connection.execute(
        "insert into invitation (token, clinic, name, role, until) values (?, ?, ?, ?, ?)",
        (kept_of(token), clinic, name, role, time.time() + INVITED_S),
    )
    audit.record(connection, "invited", clinic=clinic, who=who, detail=f"{name} as {role}")
    return token


def first_invitation(connection: sqlite3.Connection) -> str | None:
    """The token of a link to the first account; None where there is an account. An earlier link stops working."""
    if connection.execute("select 1 from account").fetchone():
        return None
    connection.execute("delete from invitation")
    return invite(connection, clinic=None, name="", role="admin", who="first start")


def invitation(connection: sqlite3.Connection, token: str) -> Invitation | None:
    """What a link allows, None where it ran out, was used or never was."""
    row = connection.execute(
        "select coalesce(c.name, '') as clinic, i.name, i.role from invitation i left join clinic c on c.id = i.clinic"
        " where i.token = ? and i.until > ?",
        (kept_of(token), time.time()),
    ).fetchone()
    return None if row is None else Invitation(row["clinic"], row["name"], row["role"])


def accept(connection: sqlite3.Connection, token: str, *, clinic: str, name: str, password: str) -> str:
    """Make the account of a link and use the link up; returns the account's name.

    Raises:
        AccountError: no such link, or a name that cannot be.
        PasswordError: the password is soon guessed.
    """
    found = invitation(connection, token)
    if found is None:
        raise AccountError("This link was used or ran out.", remedy="Ask for a new one.")
    name = found.name or name.strip()
    add_account(connection, clinic=found.clinic or clinic, name=name, role=found.role, password=password)
    connection.execute("delete from invitation where token = ?", (kept_of(token),))
    return name


def add_device(connection: sqlite3.Connection, clinic: int, label: str, *, who: str) -> str:
    """The token of a new device; it is shown once and not kept.

    Raises:
        AccountError: no label, or a long one.
    """
    label = label.strip()
    if not 0 < len(label) <= 60 or not label.isprintable():
        raise AccountError("A device needs a name of at most 60 signs.")
    token = new_token()
    connection.execute(
        "insert into device (clinic, label, token, made) values (?, ?, ?, ?)",
        (clinic, label, kept_of(token), time.time()),
    )
    audit.record(connection, "device added", clinic=clinic, who=who, detail=label)
    return token


def device_of(connection: sqlite3.Connection, token: str) -> Device | None:
    """Whose token this is."""
    row = connection.execute(
        "select id, clinic, label from device where token = ? and revoked is null", (kept_of(token),)
    ).fetchone()
    return None if row is None else Device(**dict(row))


def devices_of(connection: sqlite3.Connection, clinic: int) -> list[sqlite3.Row]:
    """Every device of a clinic."""
    return connection.execute(
        "select id, label, made, revoked from device where clinic = ? order by label", (clinic,)
    ).fetchall()


def revoke(connection: sqlite3.Connection, clinic: int, number: int, *, who: str) -> None:
    """Make a device's token worthless."""
    connection.execute(
        "update device set revoked = ? where id = ? and clinic = ? and revoked is null", (time.time(), number, clinic)
    )
    audit.record(connection, "device revoked", clinic=clinic, who=who, detail=str(number))

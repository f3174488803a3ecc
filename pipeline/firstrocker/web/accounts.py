"""Accounts, sign-in, invitations and devices' tokens."""

from __future__ import annotations

import re
import sqlite3
import time
from dataclasses import dataclass
from typing import Literal

from firstrocker.errors import FirstrockerError
from firstrocker.web import audit
from firstrocker.web.secretwords import NOBODY, check_password, hashed, kept_of, matches, new_token

Role = Literal["clinician", "admin"]
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._@-]{0,59}")
IDLE_S = 30 * 60.0
LASTS_S = 12 * 3600.0
"""A sign-in ends after half an hour without a page and after twelve hours in any case. OWASP ASVS 4.0.3, 3.3.2, level 2
(from memory)."""
INVITED_S = 48 * 3600.0
TRIES, TRIES_ADDRESS, WITHIN_S = 5, 30, 15 * 60.0
"""Failed sign-ins of one name, and from one address, before both have to wait. ASVS 2.2.1 asks for a limit (from
memory); these numbers are common practice, no source."""


class AccountError(FirstrockerError):
    """Something about an account that cannot be done."""

    code = "account"


class TooManyTriesError(AccountError):
    """Too many failed sign-ins."""


@dataclass(frozen=True)
class Account:
    """Who is signed in, and the token that their forms carry."""

    id: int
    clinic: int
    clinic_name: str
    name: str
    role: Role
    form_token: str = ""


def add_account(connection: sqlite3.Connection, *, clinic: str, name: str, role: Role, password: str) -> None:
    """Make an account; the clinic is made with its first one.

    Raises:
        AccountError: the name is taken or has signs that are not allowed.
        PasswordError: the password is soon guessed.
    """
    if not NAME.fullmatch(name):
        raise AccountError("An account's name has letters, digits and . _ @ - only.", where=name[:60])
    if not 0 < len(clinic.strip()) <= 80 or not clinic.isprintable():
        raise AccountError("The clinic needs a name of at most 80 signs.")
    check_password(password, name=name)
    connection.execute("insert into clinic (name) values (?) on conflict do nothing", (clinic.strip(),))
    (number,) = connection.execute("select id from clinic where name = ?", (clinic.strip(),)).fetchone()
    try:
        connection.execute(
            "insert into account (clinic, name, role, password, made) values (?, ?, ?, ?, ?)",
            (number, name, role, hashed(password), time.time()),
        )
    except sqlite3.IntegrityError:
        raise AccountError("There is an account of that name.", remedy="Choose another.") from None
    audit.record(connection, "account made", clinic=number, who=name, detail=role)


def sign_in(connection: sqlite3.Connection, name: str, password: str, *, address: str) -> str | None:
    """The token of a new sign-in; None where name and password do not fit.

    Raises:
        TooManyTriesError: too many failed for this name or from this address.
    """
    now = time.time()
    connection.execute("delete from failure where at < ?", (now - WITHIN_S,))
    for what, most in ((f"name:{name.lower()}", TRIES), (f"address:{address}", TRIES_ADDRESS)):
        (failed,) = connection.execute("select count(*) from failure where what = ?", (what,)).fetchone()
        if failed >= most:
            raise TooManyTriesError("Too many sign-ins failed.", remedy="Wait a quarter of an hour.")
    row = connection.execute(
        "select id, clinic, name, password from account where name = ? and active", (name,)
    ).fetchone()
    fits = matches(row["password"] if row else NOBODY, password)
    if row is None or not fits:
        rows = [(f"name:{name.lower()}", now), (f"address:{address}", now)]
        connection.executemany("insert into failure (what, at) values (?, ?)", rows)
        clinic = row["clinic"] if row else None
        audit.record(connection, "sign-in failed", clinic=clinic, who=name, address=address)
        return None
    connection.execute("delete from failure where what = ?", (f"name:{name.lower()}",))
    audit.record(connection, "signed in", clinic=row["clinic"], who=row["name"], address=address)
    return start_signin(connection, row["id"])


def start_signin(connection: sqlite3.Connection, account: int) -> str:
    """A new token for an account; tokens that ran out are forgotten."""
    now, token = time.time(), new_token()
    connection.execute("delete from signin where seen < ? or began < ?", (now - IDLE_S, now - LASTS_S))
    connection.execute(
        "insert into signin (token, account, form_token, began, seen) values (?, ?, ?, ?, ?)",
        (kept_of(token), account, new_token(), now, now),
    )
    return token


def signed_in(connection: sqlite3.Connection, token: str) -> tuple[Account, bool] | None:
    """Whose token this is, and whether :func:`seen` is due; None where it is nobody's or ran out."""
    row = connection.execute(
        "select a.id, a.clinic, c.name as clinic_name, a.name, a.role, s.form_token, s.began, s.seen"
        " from signin s join account a on a.id = s.account join clinic c on c.id = a.clinic"
        " where s.token = ? and a.active",
        (kept_of(token),),
    ).fetchone()
    now = time.time()
    if row is None or now - row["seen"] > IDLE_S or now - row["began"] > LASTS_S:
        return None
    values = dict(row)
    values.pop("began")
    return Account(**{k: v for k, v in values.items() if k != "seen"}), now - row["seen"] > 60.0


def seen(connection: sqlite3.Connection, token: str) -> None:
    """Note that a page was asked for."""
    connection.execute("update signin set seen = ? where token = ?", (time.time(), kept_of(token)))


def sign_out(connection: sqlite3.Connection, token: str) -> None:
    """Make a token worthless."""
    connection.execute("delete from signin where token = ?", (kept_of(token),))


def change_password(connection: sqlite3.Connection, account: Account, old: str, new: str) -> None:
    """Set a new password and end every sign-in of the account.

    Raises:
        AccountError: the old password does not fit.
        PasswordError: the new one is soon guessed.
    """
    (kept,) = connection.execute("select password from account where id = ?", (account.id,)).fetchone()
    if not matches(kept, old):
        raise AccountError("The present password does not fit.")
    check_password(new, name=account.name)
    connection.execute("update account set password = ? where id = ?", (hashed(new), account.id))
    connection.execute("delete from signin where account = ?", (account.id,))
    audit.record(connection, "password changed", clinic=account.clinic, who=account.name)


def switch_off(connection: sqlite3.Connection, clinic: int, number: int, *, who: str) -> None:
    """Close an account of the clinic and end its sign-ins.

    Raises:
        AccountError: it is one's own.
    """
    row = connection.execute("select name from account where id = ? and clinic = ?", (number, clinic)).fetchone()
    if row is None:
        raise AccountError("There is no such account.")
    if row["name"] == who:
        raise AccountError("Nobody can close their own account.", remedy="Ask another administrator.")
    connection.execute("update account set active = 0 where id = ?", (number,))
    connection.execute("delete from signin where account = ?", (number,))
    audit.record(connection, "account closed", clinic=clinic, who=who, detail=row["name"])


def accounts_of(connection: sqlite3.Connection, clinic: int) -> list[sqlite3.Row]:
    """Every account of a clinic."""
    rows = connection.execute(
        "select id, name, role, active, made from account where clinic = ? order by name", (clinic,)
    )
    return rows.fetchall()

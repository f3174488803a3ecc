"""People, their sessions and their logs, as one clinic's account may see them."""

from __future__ import annotations

import json
import re
import sqlite3
import time
from dataclasses import dataclass

from firstrocker.errors import FirstrockerError
from firstrocker.layout import LABEL
from firstrocker.web.details import Details
from firstrocker.web.place import new_key
from firstrocker.web.recognise import Understood

MOST_PEOPLE, MOST_SESSIONS, MOST_LOGS = 20_000, 500, 120
"""Per clinic, per person and per session: far above any clinic's need, so that a mistake cannot fill the disk."""
MOST_LABEL = 40


class RecordError(FirstrockerError):
    """Something about a person or session that cannot be done."""

    code = "record"


class NotThere(Exception):  # noqa: N818  (an answer, not a fault)
    """No such thing, or another clinic's: the two are not told apart."""


@dataclass(frozen=True)
class Person:
    """One person of a clinic."""

    id: int
    key: str
    code: str


@dataclass(frozen=True)
class Session:
    """One session of a person."""

    id: int
    key: str
    person: Person
    label: str
    origin: str
    details: Details
    changed: float


@dataclass(frozen=True)
class LogFile:
    """One log of a session: what it was called, where it belongs, by which profile it reads, what was understood."""

    id: int
    key: str
    name: str
    bytes: int
    sha256: str
    form: str
    slot: str
    logger: str
    understood: Understood

    @property
    def file(self) -> str:
        """Its name in the session's folder, made of its place."""
        return f"{self.slot.replace(':', '_')}.{self.form}"


def add_person(connection: sqlite3.Connection, clinic: int, code: str) -> Person:
    """A new person of a clinic.

    Raises:
        RecordError: the code is taken, or has other signs than letters and digits.
    """
    code = code.strip()
    if not re.fullmatch(LABEL, code) or len(code) > MOST_LABEL:
        raise RecordError(
            "A code has letters and digits only, at most 40.",
            remedy="Not a name and not a date of birth: keep the list of who is who elsewhere.",
        )
    (number,) = connection.execute("select count(*) from person where clinic = ?", (clinic,)).fetchone()
    if number >= MOST_PEOPLE:
        raise RecordError("This clinic has too many people.")
    key = new_key()
    try:
        cursor = connection.execute(
            "insert into person (key, clinic, code, made) values (?, ?, ?, ?)", (key, clinic, code, time.time())
        )
    except sqlite3.IntegrityError:
        raise RecordError(
            f"There is a person with the code {code}.", remedy="Open that one, or choose another."
        ) from None
    return Person(cursor.lastrowid or 0, key, code)


def people_of(connection: sqlite3.Connection, clinic: int) -> list[sqlite3.Row]:
    """Every person of a clinic with the number of sessions and the last one's label."""
    return connection.execute(
        "select p.key, p.code, count(s.id) as sessions, max(s.changed) as changed,"
        " (select label from session where person = p.id order by label desc limit 1) as last"
        " from person p left join session s on s.person = p.id where p.clinic = ? group by p.id order by p.code",
        (clinic,),
    ).fetchall()


def find_person(connection: sqlite3.Connection, clinic: int, key: str) -> Person:
    """A person by key.

    Raises:
        NotThere: none in this clinic.
    """
    row = connection.execute("select id, key, code from person where key = ? and clinic = ?", (key, clinic)).fetchone()
    if row is None:
        raise NotThere
    return Person(**dict(row))


def person_with_code(connection: sqlite3.Connection, clinic: int, code: str) -> Person:
    """The person of that code, made where there is none.

    Raises:
        RecordError: the code cannot be one.
    """
    row = connection.execute(
        "select id, key, code from person where code = ? and clinic = ?", (code, clinic)
    ).fetchone()
    return Person(**dict(row)) if row is not None else add_person(connection, clinic, code)


def add_session(
    connection: sqlite3.Connection,
    person: Person,
    *,
    label: str,
    once: str | None = None,
    origin: str = "",
    details: Details | None = None,
) -> str:
    """The key of a new session; that of the first where the same form or hand-in comes twice.

    Raises:
        RecordError: the label is taken, or has other signs than letters and digits.
    """
    if once is not None:
        row = connection.execute("select key, person from session where once = ?", (once,)).fetchone()
        if row is not None and row["person"] == person.id:
            return str(row["key"])
    check_label(label)
    (number,) = connection.execute("select count(*) from session where person = ?", (person.id,)).fetchone()
    if number >= MOST_SESSIONS:
        raise RecordError("This person has too many sessions.")
    key, now = new_key(), time.time()
    document = json.dumps((details or Details()).to_json())
    try:
        connection.execute(
            "insert into session (key, person, label, once, origin, details, made, changed)"
            " values (?, ?, ?, ?, ?, ?, ?, ?)",
            (key, person.id, label, once, origin, document, now, now),
        )
    except sqlite3.IntegrityError:
        raise _taken(label) from None
    return key


def check_label(label: str) -> None:
    """Refuse what cannot be a session's label.

    Raises:
        RecordError: other signs than letters and digits.
    """
    if not re.fullmatch(LABEL, label) or len(label) > MOST_LABEL:
        raise RecordError(
            "A session's label has letters and digits only, at most 40.", remedy="The day, say: 20260302."
        )


def free_label(connection: sqlite3.Connection, person: Person, wish: str) -> str:
    """The wished label, with a letter after it where it is taken."""
    taken = {
        row["label"].lower() for row in connection.execute("select label from session where person = ?", (person.id,))
    }
    return next(
        name for name in [wish, *(f"{wish}{c}" for c in "bcdefghijklmnopqrstuvwxyz")] if name.lower() not in taken
    )


def sessions_of(connection: sqlite3.Connection, person: Person) -> list[Session]:
    """Every session of a person, the latest label first."""
    rows = connection.execute("select * from session where person = ? order by label desc", (person.id,))
    return [_session(row, person) for row in rows]


def find_session(connection: sqlite3.Connection, clinic: int, key: str) -> Session:
    """A session by key.

    Raises:
        NotThere: none in this clinic.
    """
    row = connection.execute(
        "select s.*, p.key as person_key, p.code from session s join person p on p.id = s.person"
        " where s.key = ? and p.clinic = ?",
        (key, clinic),
    ).fetchone()
    if row is None:
        raise NotThere
    return _session(row, Person(row["person"], row["person_key"], row["code"]))


def change_session(connection: sqlite3.Connection, session: Session, *, label: str, details: Details) -> None:
    """Write down what was filled in; logs whose place is gone lose it.

    Raises:
        RecordError: the label is taken or impossible.
    """
    check_label(label)
    try:
        connection.execute(
            "update session set label = ?, details = ?, changed = ? where id = ?",
            (label, json.dumps(details.to_json()), time.time(), session.id),
        )
    except sqlite3.IntegrityError:
        raise _taken(label) from None
    slots = {slot for slot, _ in details.slots}
    for log in logs_of(connection, session):
        if log.slot and log.slot not in slots:
            connection.execute("update log set slot = '' where id = ?", (log.id,))


def logs_of(connection: sqlite3.Connection, session: Session) -> list[LogFile]:
    """Every log of a session, in order of place and name."""
    rows = connection.execute(
        "select id, key, name, bytes, sha256, form, slot, logger, understood from log where session = ?"
        " order by slot = '', slot, name",
        (session.id,),
    )
    return [LogFile(**{**dict(row), "understood": Understood.from_json(json.loads(row["understood"]))}) for row in rows]


def _session(row: sqlite3.Row, person: Person) -> Session:
    details = Details.from_json(json.loads(row["details"]))
    return Session(row["id"], row["key"], person, row["label"], row["origin"], details, row["changed"])


def _taken(label: str) -> RecordError:
    return RecordError(f"This person has a session {label} already.", remedy="Open that one, or choose another label.")

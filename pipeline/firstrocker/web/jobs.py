"""The queue of runs, kept in the database so that it survives whatever happens to the server."""

from __future__ import annotations

import sqlite3
import time
from dataclasses import dataclass

from firstrocker.web.people import Person
from firstrocker.web.place import new_key

MOST_TRIES = 3
"""A run that took the server down with it three times is given up."""


@dataclass(frozen=True)
class Run:
    """One run of the workflow: for a session, or where ``session`` is None for all of a person's sessions together."""

    id: int
    key: str
    person: int
    session: int | None
    state: str
    stage: str
    done: int
    steps: int
    words: str
    queued: float
    began: float | None
    ended: float | None
    tries: int

    @property
    def waits_or_goes(self) -> bool:
        """Whether its end is still to come."""
        return self.state in ("queued", "running")


def enqueue(connection: sqlite3.Connection, person: Person, session: int | None) -> str:
    """The key of a waiting run; that of the one that waits already where there is one."""
    waiting = connection.execute(
        "select key from run where person = ? and coalesce(session, 0) = ? and state = 'queued'",
        (person.id, session or 0),
    ).fetchone()
    if waiting is not None:
        return str(waiting["key"])
    key = new_key()
    connection.execute(
        "insert into run (key, person, session, queued) values (?, ?, ?, ?)", (key, person.id, session, time.time())
    )
    return key


def claim(connection: sqlite3.Connection) -> Run | None:
    """The next run, now going: the oldest that waits, sessions first, one at a time for each person."""
    row = connection.execute(
        "select * from run where state = 'queued'"
        " and person not in (select person from run where state = 'running')"
        " order by session is null, queued limit 1"
    ).fetchone()
    if row is None:
        return None
    connection.execute(
        "update run set state = 'running', began = ?, stage = 'start', done = 0, tries = tries + 1 where id = ?",
        (time.time(), row["id"]),
    )
    return Run(**{**dict(row), "state": "running"})


def follow(connection: sqlite3.Connection, person: Person) -> Run | None:
    """A run over all of a person's sessions that goes already: the end of a session's own; None for nobody."""
    if connection.execute("select 1 from person where id = ?", (person.id,)).fetchone() is None:
        return None
    now = time.time()
    cursor = connection.execute(
        "insert into run (key, person, queued, began, state, tries) values (?, ?, ?, ?, 'running', 1)",
        (new_key(), person.id, now, now),
    )
    row = connection.execute("select * from run where id = ?", (cursor.lastrowid,)).fetchone()
    return Run(**dict(row))


def progress(connection: sqlite3.Connection, run: Run, *, stage: str, done: int, steps: int) -> None:
    """Note how far a run is."""
    connection.execute("update run set stage = ?, done = ?, steps = ? where id = ?", (stage, done, steps, run.id))


def finish(connection: sqlite3.Connection, run: Run, *, failed: str = "") -> None:
    """Note that a run ended, and in which words where it failed."""
    connection.execute(
        "update run set state = ?, words = ?, ended = ? where id = ?",
        ("failed" if failed else "done", failed, time.time(), run.id),
    )


def give_back(connection: sqlite3.Connection, run: Run) -> None:
    """Put a run that was cut short back into the queue; one that was cut short too often is given up."""
    same = "person = ? and coalesce(session, 0) = ? and state = 'queued'"
    if run.tries >= MOST_TRIES:
        finish(connection, run, failed="The run was cut short three times and is given up.")
    elif connection.execute(f"select 1 from run where {same}", (run.person, run.session or 0)).fetchone():  # noqa: S608
        # Somebody asked for it again meanwhile: that one does.
        connection.execute("delete from run where id = ?", (run.id,))
    else:
        connection.execute("update run set state = 'queued', stage = '', began = null where id = ?", (run.id,))


def going(connection: sqlite3.Connection) -> list[Run]:
    """Every run that goes."""
    return [Run(**dict(row)) for row in connection.execute("select * from run where state = 'running'")]


def last_run(connection: sqlite3.Connection, person: int, session: int | None) -> Run | None:
    """The last run of a session, or of all sessions of a person."""
    row = connection.execute(
        "select * from run where person = ? and coalesce(session, 0) = ? order by id desc limit 1",
        (person, session or 0),
    ).fetchone()
    return None if row is None else Run(**dict(row))


def waiting_before(connection: sqlite3.Connection, run: Run) -> int:
    """How many session runs come first."""
    (number,) = connection.execute(
        "select count(*) from run where state in ('queued', 'running') and session is not null and id < ?", (run.id,)
    ).fetchone()
    return int(number)

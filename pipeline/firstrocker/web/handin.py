"""Logs taken into a session: from an upload's folder to the session's, each looked at and placed."""

from __future__ import annotations

import json
import os
import sqlite3
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from anyio import CapacityLimiter, to_thread

from firstrocker.files import sync
from firstrocker.web import audit
from firstrocker.web.apart import Looker
from firstrocker.web.incoming import Arrived, Upload, UploadError
from firstrocker.web.people import MOST_LOGS, NotThere, Session, find_session, logs_of
from firstrocker.web.place import Place, new_key
from firstrocker.web.placing import slot_of
from firstrocker.web.store import Store
from firstrocker.web.unpack import form_of, logs_in


@dataclass(frozen=True)
class Taken:
    """What became of an uploaded file: taken, there already, or refused with the reason."""

    name: str
    refused: str = ""
    again: bool = False


@dataclass(frozen=True)
class Desk:
    """Takes logs in."""

    store: Store
    place: Place
    looker: Looker
    turns: CapacityLimiter = field(default_factory=lambda: CapacityLimiter(4))

    def take(self, clinic: int, session: Session, upload: Upload, *, who: str, address: str = "") -> list[Taken]:
        """Every log of an upload into the session; a log that the session has already is not taken twice.

        A file lies whole in the session's folder before the database knows of it, so that none is lost by a crash; one
        that the database does not know of is swept up at the next start.
        """
        return list(self._taken(clinic, session, upload, who, address))

    async def take_in_turn(
        self, clinic: int, session: Session, upload: Upload, *, who: str, address: str = ""
    ) -> list[Taken]:
        """:meth:`take` in a thread, few at a time: uploads that wait hold up no page."""
        call = partial(self.take, clinic, session, upload, who=who, address=address)
        return await to_thread.run_sync(call, limiter=self.turns)

    def _taken(self, clinic: int, session: Session, upload: Upload, who: str, address: str) -> Iterator[Taken]:
        for arrived in upload.files:
            for one in logs_in(arrived):
                if isinstance(one, UploadError):
                    yield Taken(one.where or arrived.name, refused=f"{one.what} {one.remedy}".strip())
                    continue
                yield self._take_one(clinic, session, one, who, address)

    def _take_one(self, clinic: int, session: Session, arrived: Arrived, who: str, address: str) -> Taken:
        folder = self.place.person(session.person.key).uploads(session.key)
        with self.store.reading() as connection:
            if _known(connection, session, arrived):
                return Taken(arrived.name, again=True)
        understood = self.looker.recognise(arrived.path)
        key, form = new_key(), form_of(arrived)
        folder.mkdir(parents=True, exist_ok=True)
        target = folder / key
        _keep(arrived.path, target)
        try:
            with self.store.writing() as connection:
                # The session may have been deleted, or the same log handed in, while this one was looked at.
                session = find_session(connection, clinic, session.key)
                if _known(connection, session, arrived):
                    target.unlink()
                    return Taken(arrived.name, again=True)
                logs = logs_of(connection, session)
                if len(logs) >= MOST_LOGS:
                    target.unlink()
                    return Taken(arrived.name, refused=f"The session has {MOST_LOGS} logs: no more are taken.")
                taken = {log.slot for log in logs}
                slot = _asked(arrived.field, session, taken) or slot_of(arrived.name, session.details, taken=taken)
                connection.execute(
                    "insert into log (key, session, name, bytes, sha256, form, slot, logger, understood, made)"
                    " values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    (
                        key,
                        session.id,
                        arrived.name,
                        arrived.bytes,
                        arrived.sha256,
                        form,
                        slot,
                        understood.logger,
                        json.dumps(understood.to_json()),
                        time.time(),
                    ),
                )
                connection.execute("update session set changed = ? where id = ?", (time.time(), session.id))
                audit.record(
                    connection, "log handed in", clinic=clinic, who=who, about=session.key, detail=key, address=address
                )
        except NotThere:
            target.unlink(missing_ok=True)
            return Taken(arrived.name, refused="The session was deleted meanwhile.")
        return Taken(arrived.name)

    def sweep(self) -> None:
        """Take away logs that the database does not know of: what a crash left between disk and database."""
        with self.store.reading() as connection:
            known = {row["key"] for row in connection.execute("select key from log")}
        for path in (self.place.root / "people").glob("*/uploads/*/*"):
            if path.name not in known:
                path.unlink(missing_ok=True)


def _known(connection: sqlite3.Connection, session: Session, arrived: Arrived) -> bool:
    found = connection.execute("select 1 from log where session = ? and sha256 = ?", (session.id, arrived.sha256))
    return found.fetchone() is not None


def _asked(field: str, session: Session, taken: set[str]) -> str:
    """The slot whose own field the file came in."""
    slot = field.removeprefix("slot:")
    return slot if slot in {one for one, _ in session.details.slots} and slot not in taken else ""


def _keep(source: Path, target: Path) -> None:
    """Move a file, its bytes on the disk first and its new name after."""
    sync(source)
    os.replace(source, target)
    sync(target.parent)

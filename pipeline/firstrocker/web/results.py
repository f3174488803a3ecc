"""What the workflow made of a session, and whether it is of what stands there now."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from firstrocker.files import json_or_empty
from firstrocker.layout import SessionName
from firstrocker.web import jobs
from firstrocker.web.jobs import Run
from firstrocker.web.people import Session
from firstrocker.web.place import Place


@dataclass(frozen=True)
class State:
    """Where a session stands.

    run: its last run, None before the first. quality: the content of quality.json, empty where there is none. changed:
    what was handed in has changed since the run.
    """

    run: Run | None
    quality: dict[str, Any]
    changed: bool

    @property
    def status(self) -> str:
        """ok, flagged or rejected; empty before there are results."""
        return str(self.quality.get("status", ""))

    @property
    def words(self) -> str:
        """In a word or two."""
        if self.run is None:
            return "being filled in"
        if self.run.waits_or_goes:
            return "waiting" if self.run.state == "queued" else "running"
        if self.run.state == "failed":
            return "run failed"
        return f"{self.status or 'done'}{', changed since' if self.changed else ''}"


def folder_of(place: Place, session: Session) -> Path:
    """The session's results."""
    return place.person(session.person.key).results / SessionName(session.person.code, session.label).folder


def state_of(connection: sqlite3.Connection, place: Place, session: Session) -> State:
    """Where a session stands."""
    run = jobs.last_run(connection, session.person.id, session.id)
    quality: dict[str, Any] = {}
    if run is not None:
        quality = json_or_empty(folder_of(place, session) / "quality.json")
    changed = run is not None and not run.waits_or_goes and session.changed > (run.began or run.queued)
    return State(run, quality, changed)


def files_of(folder: Path) -> dict[str, Path]:
    """The files of a results folder by name: what a visitor may ask for, and nothing else."""
    if not folder.is_dir():
        return {}
    return {path.name: path for path in sorted(folder.iterdir()) if path.is_file() and not path.name.startswith(".")}

"""One look at an inbox from beginning to end: what is whole is taken, of all else it is said why not."""

from __future__ import annotations

import os
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from firstrocker.guard import hold
from firstrocker.inbox.ledger import Ledger
from firstrocker.inbox.look import look, shown
from firstrocker.inbox.shelf import Shelf
from firstrocker.inbox.sort import sort
from firstrocker.inbox.sorting import Sorting, Verdict, read_contents
from firstrocker.inbox.take import PLACE, ChangedError, copy_whole, recover, take_session
from firstrocker.layout import SESSION_FILE, SessionName
from firstrocker.mark import mark_of

LEDGER = f"{PLACE}/ledger.json"
"""What the intake remembers, in the study."""


@dataclass(frozen=True)
class Night:
    """What one look came to: a row for every file of the inbox, and the sessions that are new or changed."""

    rows: tuple[Mapping[str, Any], ...]
    taken: tuple[SessionName, ...]


def take_in(inbox: Path, study: Path, *, settle_min: float, patience_h: float, now: float | None = None) -> Night:
    """Look at an inbox once and take what is whole into the study.

    It may be stopped at any moment, however that happens: the study holds whole sessions only, and the next look goes
    on.

    Args:
        inbox: the folder that loggers fill; nothing in it is changed.
        study: the study folder; made if it is not there.
        settle_min: minutes that a file must not have changed.
        patience_h: hours that it waits before someone is told.
        now: seconds since 1970; the clock's own where it is not given.

    Raises:
        BusyError: another look is at work on the same study.
    """
    now = time.time() if now is None else now
    lock = hold(study / PLACE / "lock", study, "Wait for the end of the other run.")
    try:
        return _look(inbox, study, settle_s=settle_min * 60, patience_s=patience_h * 3600, now=now)
    finally:
        os.close(lock)


def _look(inbox: Path, study: Path, *, settle_s: float, patience_s: float, now: float) -> Night:
    recover(study)
    ledger = Ledger.load(study / LEDGER)
    seen, before = look(inbox), len(ledger.inbox)
    ledger.see(seen, now)
    read_contents(inbox, seen, ledger, now=now, settle_s=settle_s)
    shelf = Shelf(study, ledger)
    ledger.save(study / LEDGER)
    by_path = {one.path: one for one in seen}
    sorting = Sorting(inbox, study, by_path, ledger, shelf, now, settle_s, patience_s)
    taken = _take_all(sorting, sort(sorting))
    recover(study)
    rows = tuple(_row(sorting, path, taken) for path in by_path)
    if before and not seen:
        rows = (_emptied(before, now),)
    ledger.save(study / LEDGER)
    return Night(rows, tuple(sorted(taken)))


def _take_all(sorting: Sorting, sidecars: list[str]) -> set[SessionName]:
    """Take what was sorted out; what cannot be taken after all is said, and the rest is taken all the same."""
    ledger = sorting.ledger
    contents = {path: fact.sha256 for path, fact in ledger.inbox.items()}
    for path in sidecars:
        try:
            copy_whole(sorting.inbox / path, sorting.study / path, sha256=contents[path])
        except (ChangedError, OSError) as error:
            sorting.say([path], _not_taken(error), kind="sidecar")
    taken = set()
    for take in sorting.takes:
        try:
            take_session(take, inbox=sorting.inbox, study=sorting.study, contents=contents)
        except (ChangedError, OSError) as error:
            for number, path in enumerate(take.files.values()):
                verdict = _not_taken(error)
                own = replace(sorting.verdicts[path], state=verdict.state, reason=verdict.reason, remedy=verdict.remedy)
                sorting.verdicts[path] = replace(own, needs_person=verdict.needs_person and number == 0)
            continue
        taken.add(take.name)
        for file in [*take.files, *([SESSION_FILE] if take.text is not None else [])]:
            place = f"{take.name.folder}/{file}"
            sha256 = sorting.shelf.files(take.name)[file]
            ledger.study[place] = (mark_of(sorting.study / place), sha256)
    return taken


def _not_taken(error: Exception) -> Verdict:
    if isinstance(error, ChangedError):
        return Verdict("arrived", "It was changed while it was being taken.")
    why = f"It could not be copied into the study ({getattr(error, 'strerror', None) or error})."
    return Verdict(
        "waiting", why, "Make room, or mend the study folder's permissions; it is tried again each night.", True
    )


def _emptied(before: int, now: float) -> dict[str, Any]:
    """The one row of an inbox in which nothing lies any more: perhaps a disk is not there."""
    empty = dict.fromkeys(("subject", "session", "waiting_h", "content_sha256", "copy_of"))
    told = {
        "reason": f"Nothing lies in the inbox, where {before} files lay before.",
        "remedy": "If nobody has cleared it, see whether its disk or network folder is there.",
    }
    row = {"path": ".", "kind": "other", "state": "waiting", "needs_person": True, "new": True, "size_bytes": 0}
    return row | empty | told | {"waiting_h": 0.0, "first_seen": _said(now)}


def _said(seconds: float) -> str:
    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _row(sorting: Sorting, path: str, taken: set[SessionName]) -> dict[str, Any]:
    verdict, fact = sorting.verdicts[path], sorting.fact(path)
    new = fact.state != verdict.state or (verdict.state == "taken" and verdict.session in taken)
    if fact.state != verdict.state:
        fact.state, fact.state_since = verdict.state, sorting.now
    if verdict.state == "taken" and fact.half and not verdict.reason:
        verdict = replace(verdict, reason=f"{fact.half} It was taken as it is, for the rest did not come.")
    subject = path.split("/", 1)[0].removeprefix("sub-") if path.startswith("sub-") and "/" in path else None
    return {
        "path": shown(path),
        "kind": verdict.kind,
        "subject": shown(subject) if subject else None,
        "session": verdict.session.session if verdict.session else None,
        "state": verdict.state,
        "reason": verdict.reason,
        "remedy": verdict.remedy,
        "needs_person": verdict.needs_person,
        "new": new,
        "first_seen": _said(fact.first_seen),
        "waiting_h": None if verdict.state == "taken" else (sorting.now - fact.state_since) / 3600,
        "size_bytes": fact.mark.size,
        "content_sha256": fact.sha256 or None,
        "copy_of": verdict.copy_of or None,
    }

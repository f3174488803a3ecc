"""A session as handed in, laid out as an ordinary session of a study folder: whole or not at all."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from firstrocker.files import write_text
from firstrocker.layout import SESSION_FILE, SessionName
from firstrocker.unfinished import sweep, unfinished
from firstrocker.web.details import session_document
from firstrocker.web.people import LogFile, Session
from firstrocker.web.place import PersonPlace

ABOUT = "# Written by the clinic's page from what was handed in; the page writes it anew whenever that is corrected.\n"


def session_text(session: Session, logs: Sequence[LogFile]) -> str:
    """The content of session.yaml."""
    import yaml

    used = [log for log in logs if log.slot and log.logger]
    own: dict[str, Mapping[str, Any]] = {
        log.logger: log.understood.own for log in used if log.understood.own is not None
    }
    document = session_document(
        session.details, subject=session.person.code, session=session.label, logs=used, loggers=own
    )
    return ABOUT + yaml.safe_dump(document, sort_keys=False, allow_unicode=True, default_flow_style=None, width=120)


def check_session(place: PersonPlace, session: Session, logs: Sequence[LogFile]) -> list[str]:
    """Every reason for which the workflow would refuse the session's file, in words; asked of the workflow's reader."""
    from firstrocker.signals.session import SessionFileError

    try:
        with _laid_out(place, session, logs):
            return []
    except SessionFileError as error:
        return [_in_the_page_s_words(str(problem), session) for problem in error.problems]


def file_session(place: PersonPlace, session: Session, logs: Sequence[LogFile]) -> None:
    """Put the session into the person's study; one that stands there just so is left untouched.

    Raises:
        SessionError: the session's file cannot be right; every mistake is named and the study is as it was.
    """
    name = SessionName(session.person.code, session.label)
    there = place.study / name.folder
    with _laid_out(place, session, logs) as made:
        if _same(made, there):
            return
        there.parent.mkdir(parents=True, exist_ok=True)
        if there.exists():
            os.replace(there, made.parent / "before")
        os.replace(made, there)


def clear_away(place: PersonPlace, labels: Collection[str]) -> None:
    """Take sessions out of study and results that the person no longer has, logs and the workflow's notes included."""
    for root in (place.study, place.results):
        for path in list(root.rglob("ses-*")):
            if path.name.removeprefix("ses-").split(".")[0] in labels:
                continue
            if path.is_dir():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink(missing_ok=True)


@contextmanager
def _laid_out(place: PersonPlace, session: Session, logs: Sequence[LogFile]) -> Iterator[Path]:
    """The session's folder under a temporary root, checked by the workflow's own reader."""
    from firstrocker.signals.session import load_session

    root = unfinished(place.root / "session")
    folder = root / SessionName(session.person.code, session.label).folder
    uploads = place.uploads(session.key)
    try:
        folder.mkdir(parents=True)
        sweep(place.root, root.stat().st_ctime)
        for log in logs:
            if log.slot and log.logger:
                # A hard link: the same bytes with the same time, so that a corrected label reads nothing anew.
                os.link(uploads / log.key, folder / log.file)
        write_text(folder / SESSION_FILE, session_text(session, logs))
        load_session(folder)
        yield folder
    finally:
        shutil.rmtree(root, ignore_errors=True)


def _same(made: Path, there: Path) -> bool:
    """Whether both hold the same files with the same content: logs by their place on the disk."""
    if not there.is_dir():
        return False
    names = sorted(path.name for path in made.iterdir())
    if names != sorted(path.name for path in there.iterdir()):
        return False
    logs = (name for name in names if name != SESSION_FILE)
    return all((made / name).samefile(there / name) for name in logs) and (
        (made / SESSION_FILE).read_bytes() == (there / SESSION_FILE).read_bytes()
    )


def _in_the_page_s_words(problem: str, session: Session) -> str:
    """A problem of the session file with its key put as the page calls it."""
    walk = re.match(r"walks\[(\d+)\](?:\.[\w\[\]]+)*[.\w\[\]]*: ", problem)
    if walk is not None and int(walk.group(1)) <= len(session.details.walks):
        entry = session.details.walks[int(walk.group(1)) - 1]
        field = walk.group(0).split("].", 1)[-1].rstrip(": ").replace("setting.", "")
        return f"Walk {entry.walk}, {field}: {problem[walk.end() :]}"
    return problem

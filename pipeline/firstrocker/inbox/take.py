"""Sessions laid into the study whole or not at all: at no moment does a session's folder hold half of a change.

Files are copied (sharing their blocks where the file system can), never linked: a logger that writes on into its file
would else change what was analysed. The copy must have the bytes that were looked at, and is on the disk before the
session's folder gets its name.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from firstrocker.errors import FirstrockerError
from firstrocker.files import compact_json, replacing, sha256_of, sync, write_text
from firstrocker.inbox.shelf import PUT, read_put
from firstrocker.inbox.sorting import Take
from firstrocker.layout import SESSION_FILE

PLACE = ".intake"
"""Folder of the study that is the intake's own."""
_PIECE = 1 << 26


class ChangedError(FirstrockerError):
    """A file of the inbox changed between being looked at and being taken."""

    code = "changed"


def recover(study: Path) -> None:
    """Put right what an intake that was killed left behind: a session is as it was before, or as it was to be."""
    own = study / PLACE
    for before in sorted(own.glob("old/sub-*/ses-*")):
        there = study / before.parent.name / before.name
        if not there.exists():
            there.parent.mkdir(parents=True, exist_ok=True)
            os.replace(before, there)
            sync(there.parent)
    for left in ("old", "new", "check"):
        shutil.rmtree(own / left, ignore_errors=True)


def take_session(take: Take, *, inbox: Path, study: Path, contents: Mapping[str, str]) -> None:
    """Lay one session into the study, beside what it holds already.

    Args:
        take: the session.
        inbox: where its files come from.
        study: where they go.
        contents: path in the inbox -> SHA-256 that was looked at.

    Raises:
        ChangedError: a file is no longer what was looked at; the study is as it was.
    """
    there, made = study / take.name.folder, study / PLACE / "new" / take.name.folder
    shutil.rmtree(made, ignore_errors=True)
    made.mkdir(parents=True)
    if there.is_dir():
        _keep(there, made)
    for file, path in take.files.items():
        copy_whole(inbox / path, made / file, sha256=contents[path])
    if take.text is not None:
        write_text(made / SESSION_FILE, take.text)
    told = {file: contents[path] for file, path in take.files.items()}
    if take.text is not None:
        told[SESSION_FILE] = hashlib.sha256(take.text.encode()).hexdigest()
    write_text(made / PUT, compact_json(read_put(made) | told))
    for folder in (made, *(path for path in made.rglob("*") if path.is_dir())):
        sync(folder)
    there.parent.mkdir(parents=True, exist_ok=True)
    before = study / PLACE / "old" / take.name.folder
    if there.exists():
        shutil.rmtree(before, ignore_errors=True)
        before.parent.mkdir(parents=True, exist_ok=True)
        os.replace(there, before)
    os.replace(made, there)
    sync(there.parent)
    sync(study)
    shutil.rmtree(before, ignore_errors=True)


def copy_whole(source: Path, target: Path, *, sha256: str) -> None:
    """Copy a file so that it stands under its name only once its bytes are on the disk and are those looked at.

    Raises:
        ChangedError: they are others, or the file is gone.
    """
    try:
        with replacing(target) as temporary:
            _copy(source, temporary)
            if sha256_of(temporary) != sha256:
                raise ChangedError("it changed meanwhile.", where=source.name, remedy="It is taken next time.")
    except FileNotFoundError:
        raise ChangedError("it is gone.", where=source.name) from None


def _copy(source: Path, target: Path) -> None:
    with source.open("rb") as given, target.open("wb") as made:
        with suppress(OSError):  # between some file systems the system cannot do it, on others it says nothing
            while os.copy_file_range(given.fileno(), made.fileno(), _PIECE):
                pass
            if os.fstat(made.fileno()).st_size >= os.fstat(given.fileno()).st_size:
                return
        given.seek(0)
        made.seek(0)
        made.truncate()
        shutil.copyfileobj(given, made, _PIECE)


def _keep(there: Path, made: Path) -> None:
    """What the session holds already, once more under the new folder: never written to, so that links will do."""
    for path in sorted(there.rglob("*")):
        copy = made / path.relative_to(there)
        if path.is_dir():
            copy.mkdir(parents=True, exist_ok=True)
            continue
        copy.parent.mkdir(parents=True, exist_ok=True)
        try:
            os.link(path, copy)
        except OSError:
            shutil.copy2(path, copy)
            sync(copy)

"""Everything of the clinic's page in one file, and back: while the page is served or not."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zipfile
from collections.abc import Iterator
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory

from firstrocker.errors import FirstrockerError
from firstrocker.files import replacing
from firstrocker.web.place import Place
from firstrocker.web.store import Store

DATABASE = "clinic.sqlite"
CONTENTS = "contents.json"
KEPT = ("uploads", "study", "results")
"""Of a person's folders; the workflow's own notes are made again."""


class BackupError(FirstrockerError):
    """A backup that cannot be made or read."""

    code = "backup"


def back_up(data: Path, file: Path) -> int:
    """Write a backup, whole or not at all; returns the number of files in it.

    The database is copied first, as of one moment, then the files: a log that it knows of is on the disk already. What
    is deleted meanwhile is missing from the backup.

    Raises:
        BackupError: there is nothing to back up.
    """
    place = Place(data.absolute())
    if not place.database.is_file():
        raise BackupError("there is no clinic's page here.", where=str(data), remedy="Name its folder: --data.")
    contents: dict[str, str] = {}
    with TemporaryDirectory() as made, replacing(file.absolute()) as temporary:
        copy = Path(made) / DATABASE
        _copy_database(place.database, copy)
        with zipfile.ZipFile(temporary, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            for name, path in [(DATABASE, copy), *_files(place.root)]:
                try:
                    content = path.read_bytes()
                except FileNotFoundError:
                    continue  # replaced or deleted meanwhile
                contents[name] = hashlib.sha256(content).hexdigest()
                archive.writestr(name, content)
            archive.writestr(CONTENTS, json.dumps(contents, indent=1, sort_keys=True))
        temporary.chmod(0o600)
    return len(contents)


def restore(file: Path, data: Path) -> int:
    """Unpack a backup into a new folder and check every file of it; returns their number.

    Raises:
        BackupError: the folder holds something, or the file is no backup or damaged.
    """
    place = Place(data.absolute())
    if place.root.is_dir() and any(place.root.iterdir()):
        raise BackupError("the folder is not empty.", where=str(data), remedy="Name a new folder: --data.")
    try:
        with zipfile.ZipFile(file) as archive:
            contents: dict[str, str] = json.loads(archive.read(CONTENTS))
            place.prepare_root()
            for name, wanted in contents.items():
                parts = PurePosixPath(name).parts
                if name.startswith("/") or ".." in parts or "\\" in name:
                    raise BackupError("it names a place outside the folder.", where=str(file))
                content = archive.read(name)
                if hashlib.sha256(content).hexdigest() != wanted:
                    raise BackupError(f"{name} in it is damaged.", where=str(file), remedy="Use another backup.")
                target = place.root.joinpath(*parts)
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(content)
    except (OSError, KeyError, ValueError, zipfile.BadZipFile) as error:
        what = f"it cannot be read as a backup ({type(error).__name__})."
        raise BackupError(what, where=str(file), remedy="Use another backup.") from None
    Store(place.database).prepare()
    return len(contents)


def _copy_database(source: Path, target: Path) -> None:
    before, after = sqlite3.connect(source), sqlite3.connect(target)
    try:
        before.backup(after)
        # Sign-ins and one-time links are of the moment and do not come back.
        after.execute("delete from signin")
        after.execute("delete from invitation")
        after.commit()
        after.execute("pragma journal_mode = delete")
    finally:
        before.close()
        after.close()


def _files(root: Path) -> Iterator[tuple[str, Path]]:
    for person in sorted((root / "people").glob("*")):
        for kept in KEPT:
            for path in sorted((person / kept).rglob("*")):
                if path.is_file() and not path.name.startswith("."):
                    yield path.relative_to(root).as_posix(), path

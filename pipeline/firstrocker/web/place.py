"""Where the clinic's page keeps everything: one folder, readable by its owner alone.

::

    <root>/
      clinic.sqlite          accounts, people, sessions, queue, audit log
      incoming/              uploads on their way in; emptied at every start
      people/<key>/
        uploads/<session>/   logs as they were handed in
        study/               an ordinary study folder with this person's sessions
        results/             what the workflow made of it
        run/                 where the workflow runs (``--directory``)

Names given by people never become paths: a key is drawn at random, and labels hold letters and digits only.
"""

from __future__ import annotations

import os
import re
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from firstrocker.errors import FirstrockerError

KEY = re.compile(r"[0-9a-f]{20}")
HOME = Path(__file__).resolve().parents[3]
"""The clone that holds the Snakefile."""


class PlaceError(FirstrockerError):
    """The folder of the clinic's page cannot be used."""

    code = "place"


def new_key() -> str:
    """A name for a folder or an address that tells nothing and cannot be guessed: 80 random bits."""
    return secrets.token_hex(10)


@dataclass(frozen=True)
class PersonPlace:
    """One person's folders."""

    root: Path

    @property
    def study(self) -> Path:
        """An ordinary study folder."""
        return self.root / "study"

    @property
    def results(self) -> Path:
        """The results folder that belongs to it."""
        return self.root / "results"

    @property
    def run(self) -> Path:
        """The working directory of the workflow's runs."""
        return self.root / "run"

    def uploads(self, session_key: str) -> Path:
        """Where a session's logs lie as they were handed in."""
        return self.root / "uploads" / _checked(session_key)


@dataclass(frozen=True)
class Place:
    """The folder of the clinic's page, and the clone whose workflow it runs."""

    root: Path
    home: Path = HOME

    @property
    def database(self) -> Path:
        """The SQLite file."""
        return self.root / "clinic.sqlite"

    @property
    def incoming(self) -> Path:
        """Uploads on their way in; on the same file system as what they become."""
        return self.root / "incoming"

    @property
    def loggers(self) -> Path:
        """Logger profiles that come with the programme and the ones added to its configuration."""
        return self.home / "config" / "loggers"

    def person(self, key: str) -> PersonPlace:
        """One person's folders."""
        return PersonPlace(self.root / "people" / _checked(key))

    def prepare(self) -> None:
        """Make what is missing, closed to other users of the machine; throw away what was on its way in.

        Raises:
            PlaceError: the clone has no workflow, or the folder cannot be written.
        """
        if not (self.home / "Snakefile").is_file():
            raise PlaceError(
                "there is no Snakefile here.",
                where=str(self.home),
                remedy="Install firstrocker from a clone, as the README says.",
            )
        self.prepare_root()
        shutil.rmtree(self.incoming, ignore_errors=True)
        self.incoming.mkdir(mode=0o700)

    @contextmanager
    def sole(self) -> Iterator[None]:
        """Hold the folder for one server: a second would take the first one's runs for left over and end them.

        Raises:
            PlaceError: a server holds it.
        """
        self.prepare_root()
        with (self.root / ".served").open("w") as lock:
            if os.name == "posix":
                import fcntl

                try:
                    fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                except BlockingIOError:
                    raise PlaceError(
                        "this folder is being served already.",
                        where=str(self.root),
                        remedy="Open that page, or stop it.",
                    ) from None
            yield

    def prepare_root(self) -> None:
        """Make the folder alone, closed to other users of the machine.

        Raises:
            PlaceError: it cannot be written.
        """
        os.umask(0o077)
        try:
            for folder in (self.root, self.root / "people"):
                folder.mkdir(parents=True, exist_ok=True)
                folder.chmod(0o700)
        except OSError as error:
            raise PlaceError(
                f"the folder cannot be used: {error.strerror}.", where=str(self.root), remedy="Name another: --data."
            ) from None


def _checked(key: str) -> str:
    if not KEY.fullmatch(key):
        raise ValueError("not a key")
    return key

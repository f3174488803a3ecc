"""The files that a session is made from, as they were before they were read: one that changes meanwhile is told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from os.path import relpath
from pathlib import Path

from firstrocker.files import sha256_if_there
from firstrocker.layout import profiles_named, session_files
from firstrocker.mark import marks_of
from firstrocker.model import Finding

MOST_NAMED = 3
"""Files named where some changed; of more, it is enough to say so."""


@dataclass(frozen=True)
class Inputs:
    """files: by a label that does not depend on where the study lies. before: size and time of each that was there."""

    files: Mapping[str, Path]
    before: Mapping[Path, tuple[int, int]]

    @classmethod
    def of(cls, session: Path, loggers: Path) -> Inputs:
        """The files of a session's folder and the logger profiles that it may name, as they are now."""
        own = {Path(relpath(path, session)).as_posix(): path for path in session_files(session)}
        files = own | {f"loggers/{path.name}": path for path in profiles_named(session, loggers)}
        return cls(files, marks_of(files.values()))

    def fingerprints(self) -> dict[str, str | None]:
        """Label -> SHA-256 of the content; None where it cannot be read."""
        return {label: sha256_if_there(path) for label, path in self.files.items()}

    def changed(self) -> list[Finding]:
        """A finding that rejects the session if files of it changed since; nothing if none did.

        Asked after the last reading: a log that grows meanwhile is not whole, whatever could be measured from it.
        """
        after = marks_of(self.files.values())
        labels = sorted(label for label, path in self.files.items() if self.before.get(path) != after.get(path))
        if not labels:
            return []
        some = ", ".join(labels[:MOST_NAMED]) + (" and others" if len(labels) > MOST_NAMED else "")
        what = f"{some} changed while the session was being read, as a file does that is still being copied."
        remedy = "Nothing was measured. Run it again once the copy has ended; the session is then made anew."
        return [Finding("file-changed", "error", what, remedy)]

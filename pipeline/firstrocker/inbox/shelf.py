"""What the study holds already: its sessions' files by their content."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from firstrocker.files import sha256_of
from firstrocker.inbox.ledger import Ledger
from firstrocker.layout import SESSION_FILE, SessionName, find_sessions, visible_files
from firstrocker.mark import mark_of

PUT = ".intake.json"
"""In each session's folder that was taken: what was put there. The analysis passes over hidden files."""


@dataclass(frozen=True)
class Held:
    """A file of the study: whose, in which session, under which name there."""

    name: SessionName
    file: str

    def __str__(self) -> str:
        return f"{self.name.folder}/{self.file}"


class Shelf:
    """The files of a study by session and by content; what this look is about to put there counts already."""

    def __init__(self, study: Path, ledger: Ledger) -> None:
        self._study, self._ledger = study, ledger
        self._files: dict[SessionName, dict[str, str]] = {}
        self._held: dict[str, list[Held]] = {}
        known, ledger.study = ledger.study, {}
        for name in find_sessions(study)[0] if study.is_dir() else []:
            for path in visible_files(study / name.folder):
                file = path.relative_to(study / name.folder).as_posix()
                place = f"{name.folder}/{file}"
                before = known.get(place)
                try:
                    mark = mark_of(path)
                    sha256 = before[1] if before is not None and before[0] == mark else sha256_of(path)
                except FileNotFoundError:
                    continue  # taken back this very moment
                ledger.study[place] = (mark, sha256)
                self.put(name, file, sha256)

    def files(self, name: SessionName) -> dict[str, str]:
        """File -> SHA-256 of a session; empty where there is none."""
        return self._files.get(name, {})

    def names(self, subject: str) -> list[SessionName]:
        """The sessions of a person."""
        return sorted(name for name in self._files if name.subject == subject)

    def path(self, name: SessionName, file: str) -> Path:
        """Where a file of the study lies."""
        return self._study / name.folder / file

    def has(self, name: SessionName, file: str, sha256: str) -> bool:
        """Whether this content was put there already, even if somebody has mended it there since."""
        there = self.files(name).get(file)
        return there is not None and (there == sha256 or read_put(self._study / name.folder).get(file) == sha256)

    def put(self, name: SessionName, file: str, sha256: str) -> None:
        """Count a file in."""
        self._files.setdefault(name, {})[file] = sha256
        self._held.setdefault(sha256, []).append(Held(name, file))

    def holders(self, sha256: str) -> list[Held]:
        """Every file of that content."""
        return [held for held in self._held.get(sha256, []) if self.files(held.name).get(held.file) == sha256]

    def text(self, name: SessionName) -> str:
        """A session's session.yaml; empty where there is none."""
        try:
            return self.path(name, SESSION_FILE).read_text(encoding="utf-8", errors="replace")
        except OSError:
            return ""


def read_put(folder: Path) -> dict[str, str]:
    """File -> SHA-256 of what was put into a session's folder; it lies in the folder, so that both change as one."""
    try:
        put = json.loads((folder / PUT).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return put if isinstance(put, dict) else {}

"""What tells that a file has changed without reading it: the one definition for stamps, intake, night and trends."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Mark:
    """What changes when a file does: size, times of the last change of content and of the entry, place on the disk."""

    size: int
    modified_ns: int
    changed_ns: int
    inode: int

    @classmethod
    def of(cls, told: os.stat_result) -> Mark:
        """The mark in what the system tells of a file."""
        return cls(told.st_size, told.st_mtime_ns, told.st_ctime_ns, told.st_ino)

    @property
    def size_and_time(self) -> tuple[int, int]:
        """What a copy that keeps times carries along, a link or a backup: bytes, and ns since 1970."""
        return self.size, self.modified_ns


def mark_of(path: Path) -> Mark:
    """A file's mark as it is now; of a link that of what it points to.

    Raises:
        OSError: it is gone, or cannot be looked at.
    """
    return Mark.of(path.stat())


def mark_if_there(path: Path) -> Mark | None:
    """A file's mark as it is now; None where there is none to be had."""
    try:
        return mark_of(path)
    except OSError:
        return None


def marks_of(paths: Iterable[Path]) -> dict[Path, tuple[int, int]]:
    """Size and time of each file that is there, in the order given."""
    marks = ((path, mark_if_there(path)) for path in paths)
    return {path: mark.size_and_time for path, mark in marks if mark is not None}

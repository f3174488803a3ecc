"""Files and folders that are still being written: named so that no two writers meet, swept once their writer is dead.

Beside the target, hidden, with ``.part`` at the end: whoever lists results or an inbox passes over them.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import shutil
from contextlib import suppress
from functools import cache
from pathlib import Path

VERY_OLD_S = 7 * 86400.0
"""Untouched for so long, what a writer elsewhere was at is given up: nobody can ask another machine about it."""
_MOST_OF_NAME = 60
"""Bytes of the target's name that are kept: it may be as long as names get."""
_NAME = re.compile(r"\..*\.(?P<host>[0-9a-f]{8})-(?P<process>[0-9]+)-[0-9a-f]{12}\.part", re.S)


def unfinished(path: Path) -> Path:
    """A new path beside ``path`` for what is to take its place: of this host, this process, and nobody else's.

    >>> unfinished(Path("a.txt")).name.startswith(".a.txt.")
    True
    """
    kept = path.name.encode("utf-8", "replace")[:_MOST_OF_NAME].decode("utf-8", "ignore")
    return path.with_name(f".{kept}.{_host()}-{os.getpid()}-{secrets.token_hex(6)}.part")


def sweep(folder: Path, now: float) -> None:
    """Remove what dead writers left unfinished in a folder; what a living one is at, here or elsewhere, stays.

    A writer of this host is dead when its process is gone; one of another host when nothing has come for
    ``VERY_OLD_S``.

    Args:
        folder: nothing below it is looked at.
        now: seconds since 1970 by the clock of the folder's disk, as a file that was just written tells it.
    """
    try:
        entries = [entry for entry in os.scandir(folder) if entry.name.endswith(".part")]
    except OSError:
        return
    for entry in entries:
        found = _NAME.fullmatch(entry.name)
        if found is None:
            continue
        try:
            # The time of the entry: that of the content may be a copied file's own.
            old = now - entry.stat(follow_symlinks=False).st_ctime > VERY_OLD_S
            ours = found["host"] == _host()
            if (ours and not _lives(int(found["process"]))) or (old and not ours):
                _remove(entry)
        except OSError:
            continue  # swept by somebody else, or not ours to sweep


def _remove(entry: os.DirEntry[str]) -> None:
    if entry.is_dir(follow_symlinks=False):
        shutil.rmtree(entry.path, ignore_errors=True)
    else:
        os.unlink(entry.path)


def _lives(process: int) -> bool:
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True  # another user's
    return True


@cache
def _host() -> str:
    """What tells where a process's number means this process: machine, its start, and who counts (a container)."""
    told = [os.uname().nodename]
    with suppress(OSError):
        told.append(Path("/proc/sys/kernel/random/boot_id").read_text(encoding="utf-8"))
    with suppress(OSError):
        told.append(os.readlink("/proc/self/ns/pid"))
    return hashlib.sha256("\n".join(told).encode()).hexdigest()[:8]

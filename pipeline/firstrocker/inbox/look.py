"""What lies in an inbox, told by names, sizes and times alone."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from firstrocker.mark import Mark, mark_if_there

UNREADABLE = "The folder cannot be read"
READABLE = "Allow the nightly run's user to read it."
Sort = Literal["file", "temporary", "strange"]

_TEMPORARY = re.compile(r"^\.|^~|~$|\.(?:part|partial|filepart|tmp|temp|download|crdownload|incomplete|upload)$", re.I)
"""Names that file transfers give to what is not yet whole; all that begin with a dot count."""
_LEFTOVERS = re.compile(
    r"^(?:\._.*|\.DS_Store|\.directory|\.nomedia|\.keep|\.gitkeep|\.stfolder|\.stignore|Thumbs\.db|desktop\.ini)$", re.I
)
"""What systems leave in folders by themselves: passed over."""
_HALVES = re.compile(r"part|tmp|temp", re.I)
"""Hidden folders so named hold files that are being copied; other hidden folders are passed over."""


@dataclass(frozen=True)
class Seen:
    """One entry of the inbox.

    path: below the inbox, with slashes. sort: a plain file; one that a transfer has not finished; or what is no file
    that could be taken (a link, a device, a name that cannot be written down). why: in words, where the name does
    not say it.
    """

    path: str
    mark: Mark
    sort: Sort = "file"
    why: str = ""


def look(inbox: Path) -> list[Seen]:
    """Every file of an inbox, sorted by path; an empty session folder counts as an entry too.

    Files that vanish meanwhile are not there; folders that cannot be read are told as strange.
    """
    return sorted(_below(inbox, "", hidden=False), key=lambda seen: seen.path)


def shown(path: str) -> str:
    """A path as a table can carry it: what is no text becomes a question mark."""
    return "".join(sign if sign.isprintable() else "?" for sign in path.encode("utf-8", "replace").decode())


def _below(folder: Path, path: str, *, hidden: bool) -> Iterator[Seen]:
    try:
        entries = list(os.scandir(folder))
    except FileNotFoundError:
        return
    except OSError as error:
        yield Seen(path, Mark(0, 0, 0, 0), "strange", f"{UNREADABLE} ({error.strerror}).")
        return
    if not entries and re.fullmatch("sub-[^/]+/ses-[^/]+", path):
        mark = mark_if_there(folder)
        if mark is not None:
            yield Seen(path, mark, "temporary", "The session's folder is empty.")
    for entry in entries:
        here = f"{path}/{entry.name}" if path else entry.name
        try:
            told = entry.stat(follow_symlinks=False)
        except OSError:
            continue
        if stat.S_ISDIR(told.st_mode):
            if not entry.name.startswith(".") or _HALVES.search(entry.name):
                yield from _below(Path(entry.path), here, hidden=hidden or entry.name.startswith("."))
            continue
        if _LEFTOVERS.match(entry.name):
            continue
        mark = Mark.of(told)
        if shown(here) != here:
            yield Seen(here, mark, "strange", "Its name holds signs that cannot be written down.")
        elif not stat.S_ISREG(told.st_mode):
            what = "a link" if stat.S_ISLNK(told.st_mode) else "no file"
            yield Seen(here, mark, "strange", f"It is {what}.")
        else:
            yield Seen(here, mark, "temporary" if hidden or _TEMPORARY.search(entry.name) else "file")

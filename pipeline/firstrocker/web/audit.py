"""Who saw and changed what, and when."""

from __future__ import annotations

import sqlite3
import time
from dataclasses import dataclass


@dataclass(frozen=True)
class Entry:
    """One line of the audit log; ``about`` is a person's or session's key, never a code."""

    at: float
    who: str
    did: str
    about: str
    detail: str
    address: str


def record(
    connection: sqlite3.Connection,
    did: str,
    *,
    clinic: int | None,
    who: str,
    about: str = "",
    detail: str = "",
    address: str = "",
) -> None:
    """Add a line; it stands or falls with the change it tells of."""
    connection.execute(
        "insert into audit (at, clinic, who, did, about, detail, address) values (?, ?, ?, ?, ?, ?, ?)",
        (time.time(), clinic, who[:80], did, about, _plain(detail), address[:60]),
    )


def entries(connection: sqlite3.Connection, clinic: int, *, most: int = 500, before: float = 0.0) -> list[Entry]:
    """The last lines of a clinic, the newest first."""
    rows = connection.execute(
        "select at, who, did, about, detail, address from audit where clinic = ? and (? = 0 or at < ?)"
        " order by at desc, id desc limit ?",
        (clinic, before, before, most),
    )
    return [Entry(**dict(row)) for row in rows]


def _plain(text: str) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in text[:300])

"""Columns of numbers from a file: bounded in size, refused in plain words where it is broken."""

from __future__ import annotations

from pathlib import Path

from firstrocker.errors import LogError
from firstrocker.signals.table import Layout, Table

MAX_BYTES = 1 << 30
"""A day of one sensor at 200 Hz is some 1 GB of text; more is not a walk."""


def read_columns(path: Path, *, numbers: list[str], stamps: list[str], layout: Layout, where: str) -> Table:
    """The named columns of a file, in the file's own units.

    Args:
        path: delimited text in UTF-8, UTF-16 or Latin-1, or Parquet, told apart by the first bytes.
        numbers: columns that hold numbers.
        stamps: columns that hold dates and times in ISO 8601.
        layout: of delimited text.
        where: how to name the file in an error.

    Raises:
        LogError: missing, no permission, too large, packed, not a table, or without the columns.
    """
    try:
        if not path.is_file():
            raise LogError(
                "The file is missing." if not path.exists() else "This is no file.",
                where=where,
                remedy="Put the log there, or write its right name into session.yaml.",
            )
        if path.stat().st_size > MAX_BYTES:
            raise LogError(
                f"The file is larger than {MAX_BYTES >> 30} GB.", where=where, remedy="Cut it to the walk alone."
            )
        with path.open("rb") as stream:
            head = stream.read(4)
            if head == b"PAR1":
                from firstrocker.signals.parquet import read_parquet

                return read_parquet(path, numbers=numbers, stamps=stamps, where=where)
            content = head + stream.read()
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise LogError(f"The file cannot be read: {reason}.", where=where, remedy="Allow reading it.") from None
    from firstrocker.signals.text import read_text

    return read_text(content, numbers=numbers, stamps=stamps, layout=layout, where=where)

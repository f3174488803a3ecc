"""Columns of numbers from a file: bounded in size, refused in plain words where it is broken."""

from __future__ import annotations

from pathlib import Path

from firstrocker.errors import LogError
from firstrocker.signals.packed import MAX_BYTES, packing_of, unpack
from firstrocker.signals.table import Layout, Table, Wanted


def read_columns(path: Path, *, wanted: Wanted, layout: Layout, where: str) -> Table:
    """The named columns of a file, in the file's own units.

    Args:
        path: delimited text in UTF-8, UTF-16 or Latin-1, or Parquet, told apart by the first bytes; or one of these in
            a gzip or zip file: ``logs.zip`` if there is one file in it, else ``logs.zip/left.csv``.
        wanted: the columns, and which rows.
        layout: of delimited text.
        where: how to name the file in an error.

    Raises:
        LogError: missing, no permission, too large, damaged, not a table, or without the columns.
    """
    content = [read_content(path, where=where)]
    if content[0].startswith(b"PAR1"):
        from firstrocker.signals.parquet import read_parquet

        return read_parquet(content.pop(), wanted=wanted, where=where)
    from firstrocker.signals.text import read_text

    # Handed over and not kept, so that the text is gone as soon as it has been parsed.
    return read_text(content.pop(), wanted=wanted, layout=layout, where=where)


def read_content(path: Path, *, where: str) -> bytes:
    """The bytes of a log, unpacked where it is packed; arguments and errors as of :func:`read_columns`."""
    try:
        path, member = archive_of(path)
        if not path.is_file():
            raise LogError(
                "The file is missing." if not path.exists() else "This is no file.",
                where=where,
                remedy="Put the log there, or write its right name into session.yaml.",
            )
        size = path.stat().st_size
        if size > MAX_BYTES:
            raise LogError(
                f"The file is larger than {MAX_BYTES >> 20} MB.", where=where, remedy="Cut it to the walk alone."
            )
        with path.open("rb") as stream:
            head = stream.read(8)
            stream.seek(0)
            packing = packing_of(head)
            if packing:
                return unpack(stream, packing=packing, member=member, size=size, where=where)
            if member:
                raise LogError("The file is no zip.", where=where, remedy="Write the log's right name.")
            # No more than it held when it was looked at: room is made for as much as is asked for.
            content = stream.read(size)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or "the name cannot be one").lower()
        raise LogError(f"The file cannot be read: {reason}.", where=where, remedy="Allow reading it.") from None
    return content


def archive_of(path: Path) -> tuple[Path, str]:
    """A file's path, or that of the zip on the way to it and what is meant in the zip."""
    if path.exists():
        return path, ""
    for above in path.parents:
        if above.is_file():
            return above, path.relative_to(above).as_posix()
        if above.is_dir():
            break
    return path, ""

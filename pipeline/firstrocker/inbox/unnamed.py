"""Whether a file that nothing names may be a sensor's log: another person's, left in a folder, is a hazard."""

from __future__ import annotations

import gzip
import zipfile
import zlib
from pathlib import Path

from firstrocker.errors import FirstrockerError
from firstrocker.signals.guess_table import HEAD_BYTES, seen_in
from firstrocker.signals.packed import packing_of

LEAST_COLUMNS = 6
"""Of numbers: three of acceleration, three of angular velocity."""
_LOG_NAMES = (".csv", ".tsv", ".txt", ".dat", ".log", ".parquet", ".gz")


def may_be_log(path: Path) -> bool:
    """Whether a file holds a table of six columns of numbers or more, or is packed so that nobody can tell.

    A zip counts by the names in it, so that a text document, which is one too, does not.
    """
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
        packing = packing_of(head[:8])
        if packing == "zip":
            with zipfile.ZipFile(path) as packed:
                return any(name.lower().endswith(_LOG_NAMES) for name in packed.namelist())
        if packing == "gzip":
            with gzip.open(path) as unpacked:
                head = unpacked.read(HEAD_BYTES)
        elif packing:
            return True
        return _numbers_in_parquet(path) if head.startswith(b"PAR1") else _is_table(head, path.name)
    except (OSError, EOFError, ValueError, zlib.error, zipfile.BadZipFile):
        return True


def _is_table(head: bytes, name: str) -> bool:
    try:
        seen_in(head, where=name)
    except FirstrockerError:
        return False
    return True


def _numbers_in_parquet(path: Path) -> bool:
    import pyarrow as pa
    import pyarrow.parquet as pq

    types = pq.read_schema(path).types
    numbers = [one for one in types if pa.types.is_floating(one) or pa.types.is_integer(one)]
    return len(numbers) >= LEAST_COLUMNS

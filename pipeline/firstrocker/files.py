"""Files written whole or not at all, with bytes that depend on their content alone, and fingerprints of files read."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from firstrocker.unfinished import sweep, unfinished

if TYPE_CHECKING:
    import pyarrow as pa


@contextmanager
def replacing(path: Path, *, lasting: bool = True) -> Iterator[Path]:
    """A temporary path in the same folder that takes the place of ``path`` when the block ends without an error.

    The file is on the disk before it gets its name, so that no crash leaves half a file under the final name; on an
    error the old file stays as it was. Several may write the same file at once: the last one's stands, whole. What dead
    writers left behind in the folder is removed.

    Args:
        path: of the file.
        lasting: whether it must outlive a power cut; without that nothing is forced to the disk.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = unfinished(path)
    try:
        yield temporary
        if lasting:
            sync(temporary)
        sweep(path.parent, temporary.stat().st_ctime)
        os.replace(temporary, path)
        if lasting:
            sync(path.parent)
    finally:
        temporary.unlink(missing_ok=True)


@contextmanager
def new_folder(path: Path) -> Iterator[Path]:
    """A temporary folder that takes the place of ``path``, which is not there or empty, when the block ends well."""
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = unfinished(path)
    try:
        temporary.mkdir()
        sweep(path.parent, temporary.stat().st_ctime)
        yield temporary
        if path.is_dir():
            path.rmdir()
        os.replace(temporary, path)
    finally:
        shutil.rmtree(temporary, ignore_errors=True)


def write_text(path: Path, text: str) -> None:
    """Write ``text`` as UTF-8, whole or not at all."""
    with replacing(path) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="\n")


def write_json(path: Path, data: Any) -> None:
    """Write ``data`` as JSON with sorted keys, whole or not at all; NaN and infinity are refused."""
    write_text(path, json.dumps(data, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n")


def read_json(path: Path) -> dict[str, Any]:
    """The object that :func:`write_json` wrote."""
    data: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return data


def json_or_empty(path: Path) -> dict[str, Any]:
    """The object in a file; empty where there is no such file, or something else in it."""
    try:
        data = read_json(path)
    except (OSError, ValueError):
        return {}
    return data if isinstance(data, dict) else {}


def write_table(path: Path, table: pa.Table) -> None:
    """Write a table as Parquet, whole or not at all; the same table gives the same bytes."""
    import pyarrow.parquet as pq

    with replacing(path) as temporary:
        pq.write_table(table, temporary, compression="zstd")


@contextmanager
def growing_table(path: Path, schema: pa.Schema, *, rows: int) -> Iterator[Callable[[pa.Table], None]]:
    """A function that adds rows to a Parquet table, which is written whole or not at all when the block ends.

    Args:
        path: of the file.
        schema: of every part.
        rows: at most so many are held before they are written as a group; the bytes do not hang on the parts.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    with replacing(path) as temporary, pq.ParquetWriter(temporary, schema, compression="zstd") as writer:
        held = schema.empty_table()

        def add(part: pa.Table) -> None:
            nonlocal held
            held = pa.concat_tables([held, part.cast(schema)])
            while held.num_rows >= rows:
                writer.write_table(held.slice(0, rows), row_group_size=rows)
                held = held.slice(rows).combine_chunks()

        yield add
        if held.num_rows or not writer.is_open:
            writer.write_table(held, row_group_size=rows)


def read_table(path: Path) -> pa.Table:
    """Read a Parquet table with its schema's metadata."""
    import pyarrow.parquet as pq

    return pq.read_table(path, memory_map=False, partitioning=None)


def table_parts(path: Path, columns: Sequence[str] | None = None) -> Iterator[pa.Table]:
    """A Parquet table a row group at a time, so that one of any length is not held whole; ``columns``: those alone."""
    import pyarrow.parquet as pq

    with pq.ParquetFile(path, memory_map=False) as file:
        for place in range(file.num_row_groups):
            yield file.read_row_group(place, columns=columns)


def sha256_of(path: Path) -> str:
    """The SHA-256 of a file's bytes, in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def sha256_if_there(path: Path) -> str | None:
    """The same; None where the file is gone or cannot be read."""
    try:
        return sha256_of(path)
    except OSError:
        return None


def sha256_of_json(data: Any) -> str:
    """The SHA-256 of ``data`` as compact JSON with sorted keys, in hexadecimal."""
    return hashlib.sha256(compact_json(data).encode()).hexdigest()


def compact_json(data: Any) -> str:
    """``data`` as JSON on one line, keys sorted."""
    return json.dumps(data, sort_keys=True, separators=(",", ":"), allow_nan=False)


def sync(path: Path) -> None:
    """Ask the system to bring a file's or folder's content to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

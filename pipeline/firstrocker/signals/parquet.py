"""Columns of numbers from a Parquet file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pyarrow as pa
from pyarrow import parquet as pq

from firstrocker.errors import LogError
from firstrocker.model import FloatArray
from firstrocker.signals.cells import as_floats, as_seconds, chosen
from firstrocker.signals.strict import quoted
from firstrocker.signals.table import MAX_ROWS, Table, Wanted, missing_column

_BROKEN = (pa.ArrowException, OSError, OverflowError, ValueError)


def read_parquet(content: bytes, *, wanted: Wanted, where: str) -> Table:
    """The named columns of a Parquet file.

    Args:
        content: the file's bytes.
        wanted: the columns (stamps may be text in ISO 8601), and which rows.
        where: how to name the file in an error.

    Raises:
        LogError: damaged, too large, without the columns, or columns of another kind.
    """
    try:
        with pq.ParquetFile(pa.BufferReader(content)) as file:
            _check_columns(file, wanted, where)
            if file.metadata.num_rows > MAX_ROWS:
                raise LogError("The file holds too many rows.", where=where, remedy="Cut it to the walk alone.")
        with pq.ParquetFile(pa.BufferReader(content), read_dictionary=_texts(wanted)) as file:
            table = chosen(file.read(columns=list(dict.fromkeys(wanted.names))), wanted.rows, where=where)
    except _BROKEN:
        raise _damaged(where) from None
    if not table.num_rows:
        raise LogError("The file has not one row.", where=where, remedy="Check that the recording was saved.")
    return _columns(table, wanted, where)


def parquet_parts(path: Path, *, wanted: Wanted, rows: int, where: str) -> Iterator[Table]:
    """The named columns of a Parquet file in parts of at most ``rows`` rows; errors as of :func:`read_parquet`."""
    try:
        with pq.ParquetFile(path) as file:
            _check_columns(file, wanted, where)
        # Pages are read as they are wanted: whoever writes the file may have put all of it into one group of rows.
        options = {"read_dictionary": _texts(wanted), "pre_buffer": False, "buffer_size": 1 << 16}
        with pq.ParquetFile(path, memory_map=False, **options) as file:
            columns = list(dict.fromkeys(wanted.names))
            for batch in file.iter_batches(batch_size=rows, columns=columns, use_threads=False):
                table = chosen(pa.Table.from_batches([batch]), wanted.rows, where=where, part=True)
                yield _columns(table, wanted, where)
    except _BROKEN:
        raise _damaged(where) from None


def parquet_rows(path: Path, *, where: str) -> int:
    """How many rows a Parquet file says it has.

    Raises:
        LogError: damaged, or cut off.
    """
    try:
        return int(pq.read_metadata(path).num_rows)
    except _BROKEN:
        raise _damaged(where) from None


def _damaged(where: str) -> LogError:
    return LogError("The Parquet file is damaged or was cut off.", where=where, remedy="Copy or export the log again.")


def _texts(wanted: Wanted) -> list[str]:
    """Text may be a short dictionary that stands for very much; it is read as one."""
    return [*wanted.stamps, *([wanted.rows.column] if wanted.rows else [])]


def _check_columns(file: pq.ParquetFile, wanted: Wanted, where: str) -> None:
    present = list(file.schema_arrow.names)
    for name in wanted.names:
        if name not in present:
            missing_column(name, present, where=where)
        if present.count(name) > 1 or pa.types.is_nested(file.schema_arrow.field(name).type):
            raise LogError(
                f"The column {quoted(name)} is not one plain column.",
                where=where,
                remedy="Export the log as a plain table.",
            )


def _columns(table: pa.Table, wanted: Wanted, where: str) -> Table:
    floats: dict[str, FloatArray] = {}
    for name in wanted.numbers:
        kind = table[name].type
        if pa.types.is_timestamp(kind):
            raise LogError(
                f"The column {quoted(name)} holds dates and times.",
                where=where,
                remedy="Set the unit of time in the logger profile to iso8601.",
            )
        if not (pa.types.is_floating(kind) or pa.types.is_integer(kind) or pa.types.is_decimal(kind)):
            raise LogError(
                f"The column {quoted(name)} does not hold numbers.",
                where=where,
                remedy="Check in the logger profile that this is the right column.",
            )
        floats[name] = as_floats(table[name])
    return Table(floats, {name: as_seconds(table[name], where=where, name=name) for name in wanted.stamps})


def parquet_head(
    content: bytes, *, rows: int, most: int, where: str
) -> tuple[dict[str, FloatArray], dict[str, FloatArray], dict[str, list[str]]]:
    """The first rows of a Parquet file: columns of numbers, of stamps, and those of few different things.

    Args:
        content: the file's bytes.
        rows: at most so many.
        most: at most so many columns.
        where: how to name the file in an error.

    Raises:
        LogError: damaged, or cut off.
    """
    numbers: dict[str, FloatArray] = {}
    stamps: dict[str, FloatArray] = {}
    choices: dict[str, list[str]] = {}
    try:
        plain = _plain_names(content)[:most]
        with pq.ParquetFile(pa.BufferReader(content), read_dictionary=plain) as file:
            table = pa.Table.from_batches([next(file.iter_batches(batch_size=rows, columns=plain))])
        for name in plain:
            column = table[name]
            kind = column.type
            if pa.types.is_floating(kind) or pa.types.is_integer(kind) or pa.types.is_decimal(kind):
                numbers[name] = as_floats(column)
            elif pa.types.is_timestamp(kind):
                stamps[name] = as_seconds(column, where=where, name=name)
            if pa.types.is_integer(kind) or pa.types.is_dictionary(kind) or pa.types.is_string(kind):
                values = [str(value) for value in column.unique().to_pylist()[:17] if value is not None]
                if 2 <= len(values) <= 16:
                    choices[name] = values
    except (*_BROKEN, StopIteration):
        raise _damaged(where) from None
    return numbers, stamps, choices


def _plain_names(content: bytes) -> list[str]:
    """Names of the columns that are neither nested nor share their name."""
    schema = pq.read_schema(pa.BufferReader(content))
    return [one.name for one in schema if schema.names.count(one.name) == 1 and not pa.types.is_nested(one.type)]
